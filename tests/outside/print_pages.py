#!/usr/bin/env python3
"""Measures the printed papers of a kit from outside.

    print_pages.py KIT [--short 100 --long 100]   papers of KIT; the lengths are those under `bars` of its job

- pdftoppm (poppler) draws every page of every template and map at 300 dots an inch: the bars of 100 mm must measure
  1181 pixels within one (100 mm x 300 / 25.4 = 1181.10), in both directions, after the printer that the bars speak of;
- pages of a template put together at their crosses must give the outline back: the manifest's frustum, developed here
  anew, lies within 0.1 mm of the drawn line all round;
- qpdf --check finds no fault; pdfinfo says the paper's size (ISO 216; US Letter, Legal, Tabloid); no UserUnit;
- pdftotext finds the words that must be on every page.
"""
import argparse
import json
import math
import re
import subprocess
import sys
import tempfile
from pathlib import Path

import numpy as np
from PIL import Image

Image.MAX_IMAGE_PIXELS = None
DPI = 300
MM = DPI / 25.4
SIZES = {"a4": (210, 297), "a3": (297, 420), "letter": (215.9, 279.4), "legal": (215.9, 355.6), "tabloid": (279.4, 431.8)}
faults, counts = [], {}


def count(what, n=1):
    counts[what] = counts.get(what, 0) + n


def hold(ok, says):
    if not ok:
        faults.append(says)
    return ok


def run(*args):
    return subprocess.run(args, capture_output=True, text=True)


def pages(pdf, folder):
    subprocess.run(["pdftoppm", "-r", str(DPI), "-gray", str(pdf), f"{folder}/p"], check=True)
    return [np.array(Image.open(f)) for f in sorted(Path(folder).glob("p-*.pgm"))]


def runs(line):
    """Starts and ends of dark runs."""
    dark = np.concatenate([[0], line, [0]]).astype(int)
    d = np.diff(dark)
    return list(zip(np.flatnonzero(d == 1), np.flatnonzero(d == -1)))


def bar(image, upright):
    """Length in pixels between the middles of the bar's two ticks, and its line: the longest dark run near the edge."""
    g = image.T if upright else image[::-1]
    best = (0, 0, 0)
    for row in range(int(2 * MM), int(16 * MM)):
        for a, b in runs(g[row] < 160):
            if b - a > best[0]:
                best = (b - a, row, a)
    length, row, start = best
    # Ticks are as wide as the bar's own line: their middles lie half a line inside the run's ends.
    columns = g[row - int(1.2 * MM):row + int(1.2 * MM), start - 6:start + length + 6].astype(float)
    ink = (255 - columns).sum(0)
    half = len(ink) // 2
    def tick(lo, hi):
        part = ink[lo:hi] - np.median(ink)
        part = np.clip(part, 0, None)
        return lo + (part * np.arange(hi - lo)).sum() / part.sum()
    return tick(half and 0, 16), tick(len(ink) - 16, len(ink)), start, row


def measure_bars(name, image, part):
    for upright in (False, True):
        a, b, _, _ = bar(image, upright)
        got = (b - a) * part[1 if upright else 0]
        hold(abs(got - 100 * MM) <= 1.0, f"{name}: the {'upright' if upright else 'level'} bar measures {got:.2f} px, not {100 * MM:.2f}")
        count("bars of 100 mm measured")


class Wall:
    def __init__(self, manifest):
        f = manifest["cup"]["surface"]
        self.slant, self.r0 = f["slant_mm"], f["base_girth_mm"] / math.tau
        self.k = (f["rim_girth_mm"] - f["base_girth_mm"]) / math.tau / self.slant
        self.seam, self.lap = manifest["cup"]["seam_azimuth_deg"], manifest["cup"]["lap_mm"]

    def at(self, from_middle_deg, up):
        """Developed with the line opposite the seam upright at x = 0."""
        a = math.radians(from_middle_deg)
        p = self.k * a
        if abs(p) < 1e-9:
            return ((self.r0 + self.k * up) * a, up)
        return ((self.r0 + self.k * up) * a * math.sin(p) / p, up * math.cos(p) - self.r0 * a * (1 - math.cos(p)) / p)

    def outline(self, step=0.25):
        t = np.arange(-180, 180 + step / 2, step)
        low = [self.at(a, 0) for a in t]
        high = [self.at(a, self.slant) for a in t[::-1]]
        left = [self.at(-180, s) for s in np.linspace(self.slant, 0, 120)[1:-1]]
        right = [self.at(180, s) for s in np.linspace(0, self.slant, 120)[1:-1]] if not self.lap else []
        return np.array(low + right + high + left)


def crosses(image, window):
    """Middles of crosses: dark lines of 7 mm in both directions through one point."""
    dark = image < 150
    arm = int(3.2 * MM)
    need = int(5.6 * MM)
    # Box sums along rows and columns find long straight dark lines.
    c = np.cumsum(np.pad(dark.astype(np.int32), ((0, 0), (1, 0))), 1)
    r = np.cumsum(np.pad(dark.astype(np.int32), ((1, 0), (0, 0))), 0)
    found = []
    y0, y1, x0, x1 = window
    H = np.zeros(dark.shape, bool)
    V = np.zeros(dark.shape, bool)
    H[:, arm:-arm] = (c[:, 2 * arm:-1] - c[:, :-2 * arm - 1])[:, :dark.shape[1] - 2 * arm] >= need
    V[arm:-arm, :] = (r[2 * arm:-1, :] - r[:-2 * arm - 1, :])[:dark.shape[0] - 2 * arm, :] >= need
    both = np.argwhere(H & V)
    for y, x in both:
        if not (y0 + arm < y < y1 - arm and x0 + arm < x < x1 - arm):
            continue
        # The line goes no farther than the cross: grid lines and seams do.
        far = int(4.4 * MM)
        lone = all(not dark[y + dy, x + dx] for dy, dx in ((far, 0), (-far, 0), (0, far), (0, -far))
                   if 0 <= y + dy < dark.shape[0] and 0 <= x + dx < dark.shape[1])
        if lone and not any(abs(y - v) < 6 and abs(x - u) < 6 for v, u in found):
            found.append((y, x))
    out = []
    for y, x in found:
        # To a part of a pixel: the ink's middle across each arm.
        d = int(2.2 * MM)
        strip = 255.0 - image[y - 4:y + 5, [x - d, x + d]].astype(float)
        mid_y = y - 4 + (strip.sum(1) * np.arange(9)).sum() / max(strip.sum(), 1)
        strip = 255.0 - image[[y - d, y + d], x - 4:x + 5].astype(float)
        mid_x = x - 4 + (strip.sum(0) * np.arange(9)).sum() / max(strip.sum(), 1)
        out.append((mid_y + 0.5, mid_x + 0.5))
    return out


def put_together(name, images, grid, manifest, part):
    """Pages on one sheet, each shifted so that its crosses fall on those of its neighbours; then the outline is sought."""
    columns, rows = grid
    found = []
    for g in images:
        h, w = g.shape
        found.append(crosses(g, (0, h, 0, w)))
    at = {0: np.zeros(2)}
    todo = [0]
    scale = np.array([part[1], part[0]])
    while todo:
        i = todo.pop()
        ci, ri = i % columns, i // columns
        for j, side in ((i + 1, "x"), (i + columns, "y"), (i - 1, "-x"), (i - columns, "-y")):
            if not 0 <= j < len(images) or j in at:
                continue
            if side in ("x", "-x") and j // columns != ri:
                continue
            axis = 1 if "x" in side else 0
            size = images[i].shape[axis]
            mine = [p for p in found[i] if (p[axis] > size * 0.7) == (not side.startswith("-")) and (p[axis] > size * 0.7 or p[axis] < size * 0.3)]
            theirs = [p for p in found[j] if (p[axis] > size * 0.7) == side.startswith("-") and (p[axis] > size * 0.7 or p[axis] < size * 0.3)]
            pairs = sorted(mine)[:2], sorted(theirs)[:2]
            mine = sorted((p for p in mine), key=lambda p: p[1 - axis])
            theirs = sorted((p for p in theirs), key=lambda p: p[1 - axis])
            if not hold(len(mine) >= 2 and len(theirs) >= 2, f"{name}: pages {i} and {j} share {len(mine)} and {len(theirs)} crosses"):
                continue
            a = np.array([mine[0], mine[-1]]) * scale
            b = np.array([theirs[0], theirs[-1]]) * scale
            off = (a - b)
            hold(np.abs(off[0] - off[1]).max() < 1.2, f"{name}: crosses of pages {i} and {j} are not apart alike: {off}")
            at[j] = at[i] + off.mean(0)
            todo.append(j)
            count("joints at crosses")
    if not hold(len(at) == len(images), f"{name}: not all pages could be joined"):
        return
    outline = Wall(manifest).outline()
    # y down, in pixels; the place on the joined sheet is found from the outline itself by least squares (a shift only).
    want = np.column_stack([-outline[:, 1], outline[:, 0]]) * MM
    dark = []
    for i, g in enumerate(images):
        ys, xs = np.nonzero(g < 110)
        dark.append((np.column_stack([ys, xs]) + 0.5) * scale + at[i])
    ink = np.concatenate(dark)
    from scipy.spatial import cKDTree
    tree = cKDTree(ink)
    low = ink[:, 0]
    # First guess: the box of the outline's ink; then nearest ink pulls it in.
    shift = None
    best = 1e9
    corner = np.array([np.median(low), np.median(ink[:, 1])])
    span = want.max(0) - want.min(0)
    for dy in np.arange(-40, 41, 2.0) * MM:
        for dx in np.arange(-40, 41, 2.0) * MM:
            s = corner - (want.max(0) + want.min(0)) / 2 + np.array([dy, dx])
            d, _ = tree.query(want[::24] + s, distance_upper_bound=3 * MM)
            v = np.minimum(d, 3 * MM).mean()
            if v < best:
                best, shift = v, s
    for reach in (60.0, 40.0, 25.0, 16.0, 10.0, 8.0, 6.0, 6.0):
        pts = want + shift
        d, k = tree.query(pts, distance_upper_bound=reach)
        ok = np.isfinite(d)
        shift = shift + (ink[k[ok]] - pts[ok]).mean(0)
    for _ in range(4):
        # The middle of the line, not its nearest edge: the ink about each point, averaged.
        pts = want + shift
        near = tree.query_ball_point(pts, 4.0)
        off = [ink[n].mean(0) - p for n, p in zip(near, pts) if n]
        shift = shift + np.mean(off, 0)
    pts = want + shift
    d, _ = tree.query(pts)
    hit = d < 0.1 * MM + 1.77  # the line itself is 0.3 mm (3.5 px) wide
    hold(hit.mean() > 0.995, f"{name}: {100 * (1 - hit.mean()):.2f} percent of the outline is farther than 0.1 mm from the drawn line, worst {d.max() / MM:.3f} mm")
    counts[f"{name}: outline farthest from drawn line, mm"] = round(max(0.0, (np.sort(d)[int(len(d) * 0.995) - 1] - 1.77)) / MM, 3)
    count("templates put together")


def main():
    args = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    args.add_argument("kit", type=Path)
    args.add_argument("--short", type=float, default=100.0)
    args.add_argument("--long", type=float, default=100.0)
    a = args.parse_args()
    manifest = json.loads((a.kit / "manifest.json").read_text())
    for pdf in sorted(a.kit.rglob("*.pdf")):
        name = pdf.relative_to(a.kit).as_posix()
        check = run("qpdf", "--check", str(pdf))
        hold(check.returncode == 0, f"{name}: qpdf says {check.stdout} {check.stderr}")
        paper = pdf.stem.rsplit("-", 1)[1]
        info = run("pdfinfo", "-f", "1", "-l", "999", str(pdf)).stdout
        for w, h in re.findall(r"Page\s+\d+ size:\s+([\d.]+) x ([\d.]+) pts", info):
            got = sorted(float(v) * 25.4 / 72 for v in (w, h))
            hold(max(abs(x - y) for x, y in zip(got, sorted(SIZES[paper]))) < 0.05, f"{name}: a page of {got} mm")
            count("page sizes")
        hold(b"UserUnit" not in pdf.read_bytes(), f"{name}: has a UserUnit")
        count("PDF files checked by qpdf and pdfinfo")
        if not re.match(r"(template|map|cards)/", name):
            continue
        words = run("pdftotext", str(pdf), "-").stdout.split("\f")[:-1]
        for i, text in enumerate(words):
            flat = " ".join(text.split())
            hold(flat.count("measure this bar: 100 mm") >= 1 and "fit to page" in flat, f"{name} page {i + 1}: lacks the words at its bars")
        with tempfile.TemporaryDirectory() as folder:
            images = pages(pdf, folder)
            for i, g in enumerate(images):
                h, w = g.shape
                part = (a.short / 100, a.long / 100) if h > w else (a.long / 100, a.short / 100)
                measure_bars(f"{name} page {i + 1}", g, part)
            if name.startswith("template/"):
                seen = re.findall(r"page ([A-Z]+) of ([A-Z]+)", " ".join(words))
                hold(len(seen) == len(images) and len({s[0] for s in seen}) == len(images), f"{name}: page letters {seen}")
                # How the pages lie is on the plan of the pages; here it is tried which grid the crosses allow.
                n = len(images)
                columns = n
                h, w = images[0].shape
                if n > 1:
                    right = [p for p in crosses(images[0], (0, h, 0, w)) if p[1] > w * 0.7]
                    columns = n if len(right) >= 2 and len([p for p in crosses(images[0], (0, h, 0, w)) if p[0] > h * 0.7 and p[1] < w * 0.7]) < 1 else (n // 2 if len(right) >= 2 else 1)
                put_together(name, images, (columns, n // columns), manifest, part)
    for what, n in counts.items():
        print(f"{n:>12}  {what}")
    for f in faults[:40]:
        print("VIOLATED", f)
    print(f"{len(faults)} violations")
    sys.exit(1 if faults else 0)


if __name__ == "__main__":
    main()
