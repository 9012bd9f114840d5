#!/usr/bin/env python3
"""The printed sheet of the demonstration: 24 motifs of the demonstration's own drawings in two washes of colour each, on
clear film over white paper, as a scanner sees them.

    sheet_demo.py DEMO_DATA OUT.png [--dpi 200]

Drawings give coverage (rsvg-convert at twice the resolution); inks are mixed with the paper in linear light; then come
blur (0.03 mm), a slope of light (3 %) and noise. Same numbers, same picture. Needs numpy, opencv, pillow, rsvg-convert.
"""
import argparse
import math
import subprocess
import tempfile
from pathlib import Path

import cv2
import numpy as np
from PIL import Image

W, H = 148.0, 210.0
PAPER = np.array([0.91, 0.905, 0.88], np.float32)
INKS = {
    "berry": ("#b5304a", "#d9643a"), "corn": ("#e0a526", "#d9643a"), "leaf": ("#5b8f3a", "#8aa83a"),
    "pine": ("#2f6f5e", "#3b6aa8"), "sea": ("#3b6aa8", "#7a4fa0"), "plum": ("#7a4fa0", "#c25a92"),
    "rose": ("#c25a92", "#cf7f9f"), "bark": ("#7c4a2d", "#c48a3a"),
}
# Drawing, middle from the upper left corner (mm), longest side (mm), turn (degrees), ink.
MOTIFS = [
    ("sunflower", 24, 32, 44, 0, "corn"), ("bee", 57, 17, 20, 10, "bark"), ("watering-can", 87, 25, 36, 0, "sea"),
    ("ladybird", 118, 15, 18, 0, "berry"), ("apple-blossom", 138, 30, 16, 0, "rose"),
    ("strawberry", 58, 47, 26, 0, "berry"), ("snail", 88, 56, 26, 0, "bark"), ("fern", 115, 56, 38, 0, "leaf"),
    ("beetroot", 18, 82, 42, 0, "plum"), ("pea-pod", 58, 79, 38, 15, "leaf"), ("toadstool", 91, 86, 27, 0, "berry"),
    ("wheat-ear", 135, 84, 44, 0, "corn"), ("carrot", 44, 112, 42, 0, "corn"), ("onion", 72, 110, 27, 0, "plum"),
    ("apple-blossom", 109.5, 109, 15, 30, "plum"), ("robin", 121, 131, 30, 0, "bark"), ("bee", 15, 122, 18, -15, "sea"),
    ("fern", 18, 158, 46, 6, "pine"), ("ladybird", 72, 137, 15, 40, "plum"), ("garden-fork", 90, 155, 46, 0, "pine"),
    ("snail", 60, 161, 24, 0, "plum"), ("strawberry", 132, 164, 24, 0, "rose"),
    ("pea-pod", 50, 192, 36, -8, "pine"), ("apple-blossom", 112, 191, 22, 0, "rose"),
]


def linear(c):
    c = np.asarray(c, np.float32)
    return np.where(c <= 0.04045, c / 12.92, ((c + 0.055) / 1.055) ** 2.4)


def encoded(c):
    c = np.clip(c, 0, 1)
    return np.where(c <= 0.0031308, c * 12.92, 1.055 * c ** (1 / 2.4) - 0.055)


def hexed(text):
    return linear(np.array([int(text[i:i + 2], 16) for i in (1, 3, 5)]) / 255)


def coverage(svg, long, turn, per_mm):
    """The drawing's alpha, its longest side so long, turned."""
    with tempfile.TemporaryDirectory() as t:
        out = Path(t) / "a.png"
        subprocess.run(["rsvg-convert", "-w", "1600", "-a", str(svg), "-o", str(out)], check=True)
        a = np.array(Image.open(out))[:, :, 3]
    ys, xs = np.nonzero(a > 8)
    a = a[ys.min():ys.max() + 1, xs.min():xs.max() + 1]
    k = long * per_mm / max(a.shape)
    a = cv2.resize(a, None, fx=k, fy=k, interpolation=cv2.INTER_AREA)
    side = int(math.hypot(*a.shape)) + 4
    y, x = (side - a.shape[0]) // 2, (side - a.shape[1]) // 2
    box = np.zeros((side, side), np.uint8)
    box[y:y + a.shape[0], x:x + a.shape[1]] = a
    m = cv2.getRotationMatrix2D((side / 2, side / 2), turn, 1)
    return cv2.warpAffine(box, m, (side, side), flags=cv2.INTER_CUBIC).astype(np.float32) / 255


def sheet(demo, dpi):
    rng = np.random.default_rng(1912)
    per_mm = 2 * dpi / 25.4
    w, h = 2 * round(W * dpi / 25.4), 2 * round(H * dpi / 25.4)
    light = np.tile(PAPER, (h, w, 1))
    drawings = {p.stem: p for p in sorted(demo.glob("*/art/*.svg"))}
    for name, x, y, long, turn, ink in MOTIFS:
        a = coverage(drawings[name], long, turn, per_mm)
        n = a.shape[0]
        x0, y0 = round(x * per_mm - n / 2), round(y * per_mm - n / 2)
        yy, xx = np.mgrid[0:n, 0:n].astype(np.float32) / n - 0.5
        angle = rng.uniform(0, 2 * math.pi)
        wash = cv2.resize(rng.normal(0, 1, (7, 7)).astype(np.float32), (n, n), interpolation=cv2.INTER_CUBIC)
        t = np.clip(0.5 + 0.9 * (xx * math.cos(angle) + yy * math.sin(angle)) + 0.16 * wash, 0, 1)[:, :, None]
        c, d = map(hexed, INKS[ink])
        through = (c * (1 - t) + d * t) * (1 + 0.1 * wash[:, :, None])
        # What reaches over the sheet's edge is cut off.
        v0, u0, v1, u1 = max(y0, 0), max(x0, 0), min(y0 + n, h), min(x0 + n, w)
        part = a[v0 - y0:v1 - y0, u0 - x0:u1 - x0, None]
        light[v0:v1, u0:u1] *= 1 - part * (1 - through[v0 - y0:v1 - y0, u0 - x0:u1 - x0])
    light = cv2.GaussianBlur(light, (0, 0), 0.03 * per_mm)
    light = cv2.resize(light, (w // 2, h // 2), interpolation=cv2.INTER_AREA)
    yy, xx = np.mgrid[0:h // 2, 0:w // 2].astype(np.float32)
    light *= (1 - 0.03 * (xx / w + yy / h))[:, :, None]
    codes = encoded(light) * 255 + rng.normal(0, 0.4, light.shape[:2]).astype(np.float32)[:, :, None]
    return np.clip(np.rint(codes), 0, 255).astype(np.uint8)


def main():
    ap = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    ap.add_argument("demo", type=Path)
    ap.add_argument("out")
    ap.add_argument("--dpi", type=int, default=200)
    a = ap.parse_args()
    Image.fromarray(sheet(a.demo, a.dpi)).save(a.out, dpi=(a.dpi, a.dpi), optimize=True)
    print(Path(a.out).stat().st_size, "bytes")


if __name__ == "__main__":
    main()
