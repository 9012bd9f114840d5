#!/usr/bin/env python3
"""Measures printed papers from outside.

    print_pages.py KIT                              the papers of a kit
    print_pages.py --frusta FRUSTA JOB [JOB ...]    makes JOBs (folders) on all five papers, portrait and landscape, and
                                                    once for a printer whose bars come out at 99.0 and 101.0 mm
    --self-test                                     damages pages of KIT: every damage must be found

- pdftoppm (poppler) draws pages at 300 dots an inch: the bars of 100 mm must measure 1181 pixels within one
  (100 mm x 300 / 25.4 = 1181.10), in both directions, as they come out of the printer that the job speaks of;
- pages of a template put together at their crosses must give the outline back: the manifest's frustum, developed here
  anew, lies within 0.1 mm of the middle of the drawn line, measured across the line all round;
- qpdf --check finds no fault; pdfinfo says the paper's size (ISO 216; US Letter, Legal, Tabloid); no UserUnit;
- pdftotext finds the words that must be on every page, and the plan of the pages says how they lie;
- made twice, the bytes are the same.
"""
import argparse
import json
import math
import re
import shutil
import subprocess
import sys
import tempfile
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import numpy as np
from PIL import Image
from scipy import ndimage, signal

from found import Found

Image.MAX_IMAGE_PIXELS = None
DPI = 300
MM = DPI / 25.4
SIZES = {"a4": (210, 297), "a3": (297, 420), "letter": (215.9, 279.4), "legal": (215.9, 355.6), "tabloid": (279.4, 431.8)}
ARM, RING, CROSS_LINE = 3.5, 2.0, 0.15
LINE = 0.3  # width of the template's outline, mm


def run(*args):
    return subprocess.run([str(a) for a in args], capture_output=True, text=True)


def drawn(pdf, crop=None):
    """Pages as grey pixels; `crop`: only so many mm of the lower left corner, by the page's height in points."""
    with tempfile.TemporaryDirectory() as folder:
        if crop is None:
            run("pdftoppm", "-r", DPI, "-gray", pdf, f"{folder}/p")
        else:
            side = int(crop[0] * MM)
            tall = math.ceil(crop[1] * DPI / 72)
            run("pdftoppm", "-r", DPI, "-gray", "-f", crop[2], "-l", crop[3], "-x", 0, "-y", max(0, tall - side), "-W", side, "-H", side, pdf, f"{folder}/p")
        return [np.array(Image.open(f)) for f in sorted(Path(folder).glob("p-*.pgm"), key=lambda f: int(f.stem[2:]))]


# ---- bars

def longest(dark):
    """Row, start and length of the longest dark run along rows."""
    best = (0, 0, 0)
    for row, line in enumerate(dark):
        d = np.diff(np.concatenate([[0], line.astype(np.int8), [0]]))
        starts, ends = np.flatnonzero(d == 1), np.flatnonzero(d == -1)
        if len(starts) and (i := int(np.argmax(ends - starts))) >= 0 and ends[i] - starts[i] > best[0]:
            best = (ends[i] - starts[i], row, starts[i])
    return best


def bar(image, upright):
    """Pixels between the middles of a bar's two ticks."""
    g = image.T if upright else image[::-1]
    g = g[int(2 * MM):int(17 * MM)]
    length, row, start = longest(g < 160)
    if length < 60 * MM:
        return 0.0
    reach = int(1.2 * MM)
    columns = 255.0 - g[max(0, row - reach):row + reach, max(0, start - 8):start + length + 8]
    ink = columns.sum(0)
    ink = np.clip(ink - np.median(ink), 0, None)
    middle = lambda part, off: off + (part * np.arange(len(part))).sum() / max(part.sum(), 1e-9)
    return middle(ink[-16:], len(ink) - 16) - middle(ink[:16], 0)


def bars(book, name, image, level, printer):
    for upright in (False, True):
        side = "long" if level != upright else "short"
        got = bar(image, upright) * printer[side] / 100.0
        off = abs(got - 100 * MM)
        book.most("bar off 1181.1 px, px", off)
        book.hold(off <= 1.0, f"{name}: the {'upright' if upright else 'level'} bar comes out at {got:.2f} px, not {100 * MM:.2f}")
        book.count("bars of 100 mm measured")


# ---- crosses

def pattern():
    """A cross in a ring, as dark as ink."""
    half = int(ARM * MM) + 2
    y, x = np.mgrid[-half:half + 1, -half:half + 1] / MM
    w = CROSS_LINE / 2
    soft = lambda d: np.clip((w - d) * MM + 0.5, 0, 1)
    arms = np.maximum(soft(np.abs(x)) * (np.abs(y) <= ARM), soft(np.abs(y)) * (np.abs(x) <= ARM))
    return np.maximum(arms, soft(np.abs(np.hypot(x, y) - RING)))


PATTERN = pattern()


def crosses(image):
    """Middles of crosses in rings, (y, x) in pixels: where nearly all of the pattern is inked."""
    ink = (255 - image.astype(np.float32)) / 255
    out = []
    h, w = ink.shape
    edge = int(46 * MM)
    strips = [(0, edge, 0, w), (h - edge, h, 0, w), (0, h, 0, edge), (0, h, w - edge, w)]
    for y0, y1, x0, x1 in strips:
        part = ink[y0:y1, x0:x1]
        score = signal.fftconvolve(np.minimum(part * 1.2, 1), PATTERN[::-1, ::-1], mode="same") / PATTERN.sum()
        peak = (score == ndimage.maximum_filter(score, size=41)) & (score > 0.62)
        for y, x in np.argwhere(peak):
            if not (PATTERN.shape[0] // 2 <= y < part.shape[0] - PATTERN.shape[0] // 2 and PATTERN.shape[0] // 2 <= x < part.shape[1] - PATTERN.shape[0] // 2):
                continue
            # Paper between ring and arms: a blot is no cross.
            d = int(0.7 * MM)
            if max(part[y + a, x + b] for a in (-d, d) for b in (-d, d)) > 0.6 and score[y, x] < 0.75:
                continue
            y, x = y + y0, x + x0
            # To a part of a pixel: the ink's middle across the arms' ends, without what lies there besides.
            reach = [int(v * MM) for v in (2.5, 2.8, 3.1)]
            mid = lambda strip: (np.arange(-4, 5) * strip).sum() / max(strip.sum(), 1e-6)
            ys = [mid(ink[y - 4:y + 5, x + s * d]) for d in reach for s in (-1, 1)]
            xs = [mid(ink[y + s * d, x - 4:x + 5]) for d in reach for s in (-1, 1)]
            at = (y + np.median(ys) + 0.5, x + np.median(xs) + 0.5)
            if not any(math.dist(at, o) < 5 for o in out):
                out.append(at)
    return out


def grid(pdf):
    """How pages lie, from the plan of the pages at the foot of the first: columns, rows, and each page's column and row."""
    text = run("pdftotext", "-f", 1, "-l", 1, "-bbox", pdf, "-").stdout
    tall = float(re.search(r'page width="[\d.]+" height="([\d.]+)"', text)[1])
    words = re.findall(r'<word xMin="([\d.]+)" yMin="([\d.]+)" xMax="([\d.]+)" yMax="([\d.]+)">([A-Z])</word>', text)
    words = [(w[4], (float(w[0]) + float(w[2])) / 2, (float(w[1]) + float(w[3])) / 2) for w in words if float(w[1]) > tall - 26 * 72 / 25.4]
    said = re.search(r"page A of ([A-Z])", run("pdftotext", "-f", 1, "-l", 1, pdf, "-").stdout)
    last = ord(said[1]) - 64 if said else 0
    # The title's letters stand left of the plan.
    words = sorted(words, key=lambda w: w[1])[-last:] if last else []
    near = lambda values: sorted({round(v / 3) for v in values})
    columns, rows = near(w[1] for w in words), near(w[2] for w in words)
    return {ord(n) - 65: (columns.index(round(x / 3)), rows.index(round(y / 3))) for n, x, y in words}


# ---- the template's outline

class Wall:
    """The wall developed: closed formulas of a frustum, written anew."""

    def __init__(self, manifest):
        f = manifest["cup"]["surface"]
        self.slant, self.r0 = f["slant_mm"], f["base_girth_mm"] / math.tau
        self.k = (f["rim_girth_mm"] - f["base_girth_mm"]) / math.tau / self.slant
        self.lap = manifest["cup"]["lap_mm"]

    def at(self, round_deg, up):
        """The line opposite the seam upright at x = 0."""
        a = np.radians(np.asarray(round_deg, float))
        up = np.asarray(up, float)
        p = self.k * a
        small = np.abs(p) < 1e-9
        q = np.where(small, 1, p)
        sinc, cosm = np.where(small, 1, np.sin(q) / q), np.where(small, 0, (1 - np.cos(q)) / q)
        return np.stack([(self.r0 + self.k * up) * a * sinc, up * np.cos(p) - self.r0 * a * cosm], -1)

    def sides(self):
        """Points and normals of each side, y up, mm; ends of sides are left out: corners have no one normal."""
        t, s = np.linspace(-179.4, 179.4, 2400), np.linspace(0.8, self.slant - 0.8, 700)
        runs = {"base": self.at(t, 0), "rim": self.at(t, self.slant), "left end": self.at(-180, s)}
        if not self.lap:
            runs["right end"] = self.at(180, s)
        out = {}
        for name, p in runs.items():
            d = np.gradient(p, axis=0)
            n = np.stack([-d[:, 1], d[:, 0]], -1)
            out[name] = (p, n / np.linalg.norm(n, axis=1)[:, None])
        return out


def across(image, points, normals, reach=9.0, step=0.25):
    """Signed distance along the normal to the middle of the dark line nearest each point, and its width, pixels; not a
    number where there is none."""
    t = np.arange(-reach, reach + step / 2, step)
    at = points[:, None, :] + normals[:, None, :] * t[None, :, None]
    ink = 1 - ndimage.map_coordinates(image, [at[..., 0] - 0.5, at[..., 1] - 0.5], order=1, mode="constant", cval=255) / 255.0
    dark = ink > 0.45
    middle, width = np.full(len(points), np.nan), np.full(len(points), np.nan)
    for i in np.flatnonzero(dark.any(1)):
        d = np.diff(np.concatenate([[0], dark[i].astype(np.int8), [0]]))
        starts, ends = np.flatnonzero(d == 1), np.flatnonzero(d == -1)
        mids = (starts + ends - 1) / 2
        k = int(np.argmin(np.abs(mids - len(t) // 2)))
        part = slice(max(0, starts[k] - 6), ends[k] + 6)
        width[i] = (ends[k] - starts[k]) * step
        w = ink[i, part]
        middle[i] = (t[part] * w).sum() / w.sum()
    return middle, width


def rough(images, offsets, scale, want):
    """Where the outline lies on the joined pages, to half a millimetre: the shift under which most of it is inked."""
    per = 3.0  # pixels a millimetre
    corners = np.array([o for o in offsets.values()]) / MM
    low = corners.min(0)
    size = (max((o[0] / MM + images[i].shape[0] * scale[0] / MM) for i, o in offsets.items()) - low[0],
            max((o[1] / MM + images[i].shape[1] * scale[1] / MM) for i, o in offsets.items()) - low[1])
    canvas = np.zeros((int(size[0] * per) + 4, int(size[1] * per) + 4), np.float32)
    for i, o in offsets.items():
        ys, xs = np.nonzero(images[i] < 110)
        y = ((ys + 0.5) * scale[0] / MM + o[0] / MM - low[0]) * per
        x = ((xs + 0.5) * scale[1] / MM + o[1] / MM - low[1]) * per
        canvas[y.astype(int), x.astype(int)] = 1
    canvas = np.minimum(ndimage.uniform_filter(canvas, 3) * 9, 1)
    box = want.min(0)
    p = ((want - box) * per).astype(int)
    shape = np.zeros(p.max(0) + 1, np.float32)
    shape[p[:, 0], p[:, 1]] = 1
    score = signal.fftconvolve(canvas, shape[::-1, ::-1], mode="valid") if all(np.array(canvas.shape) >= shape.shape) else np.zeros((1, 1))
    y, x = np.unravel_index(np.argmax(score), score.shape)
    return (np.array([y, x]) / per + low - box) * MM, float(score.max() / shape.sum())


def put_together(book, name, images, places, wall, scale):
    """Pages laid on each other's crosses; then the outline is sought and measured across its line."""
    found = [crosses(g) for g in images]
    if len(images) > 1 and not book.hold(len(places) == len(images), f"{name}: the plan of the pages shows {len(places)} of {len(images)} pages"):
        return
    by = {v: k for k, v in places.items()}
    offsets, todo = {0: np.zeros(2)}, [0]
    while todo:
        i = todo.pop()
        column, row = places.get(i, (0, 0))
        for axis, sign in ((1, 1), (0, 1), (1, -1), (0, -1)):
            there = (column + sign * (axis == 1), row + sign * (axis == 0))
            j = by.get(there)
            if j is None or j in offsets:
                continue
            # Crosses of a joint stand within the shared strip: near facing edges.
            near = lambda k, end: sorted((p for p in found[k] if (p[axis] > images[k].shape[axis] - 46 * MM if end else p[axis] < 46 * MM)), key=lambda p: p[1 - axis])
            mine, theirs = near(i, sign > 0), near(j, sign < 0)
            best = None
            for a in mine:
                for b in theirs:
                    off = (np.array(a) - np.array(b)) * scale
                    pairs = [(p, q) for p in mine for q in theirs if np.abs((np.array(p) - np.array(q)) * scale - off).max() < 6]
                    if len(pairs) >= 2 and (best is None or len(pairs) > len(best)):
                        best = pairs
            if not book.hold(best is not None, f"{name}: pages {i + 1} and {j + 1} share no two crosses ({len(mine)} and {len(theirs)} seen)"):
                continue
            offs = np.array([(np.array(p) - np.array(q)) * scale for p, q in best])
            spread = np.abs(offs - offs.mean(0)).max()
            book.most("crosses of a joint apart, mm", 2 * spread / MM)
            book.hold(2 * spread / MM <= 0.1, f"{name}: crosses of pages {i + 1} and {j + 1} do not fall on each other: {2 * spread / MM:.3f} mm")
            offsets[j] = offsets[i] + offs.mean(0)
            todo.append(j)
            book.count("joints put together at crosses")
    if not book.hold(len(offsets) == len(images), f"{name}: not all pages could be joined"):
        return
    sides = {k: (np.stack([-p[:, 1], p[:, 0]], -1) * MM, np.stack([-n[:, 1], n[:, 0]], -1)) for k, (p, n) in wall.sides().items()}
    want = np.concatenate([p for p, _ in sides.values()])
    shift, score = rough(images, offsets, scale, want / MM)
    if not book.hold(score > 0.8, f"{name}: the outline is not on the pages (at best {100 * score:.0f} percent of it is inked)"):
        return

    def measure(p, n):
        """Over all pages that show a point: offset and width, mm; the page on which it is farthest in."""
        off, width, deep = np.full(len(p), np.nan), np.full(len(p), np.nan), np.full(len(p), -1e9)
        for i, o in offsets.items():
            q = (p + shift - o) / scale
            h, w = images[i].shape
            inside = np.minimum.reduce([q[:, 0] - 8 * MM, q[:, 1] - 15 * MM, h - 23 * MM - q[:, 0], w - 8 * MM - q[:, 1]])
            take = np.flatnonzero((inside > deep) & (inside > 0))
            m, v = across(images[i], q[take], n[take])
            off[take], width[take], deep[take] = m / MM, v / MM, inside[take]
        return off, width

    for _ in range(3):
        rows, rhs = [], []
        for p, n in sides.values():
            off, width = measure(p[::6], n[::6])
            ok = np.isfinite(off) & (width < LINE * 1.4)
            rows.append(n[::6][ok])
            rhs.append(off[ok] * MM)
        a, b = np.concatenate(rows), np.concatenate(rhs)
        shift = shift + np.linalg.lstsq(a, b, rcond=None)[0]
    for side, (p, n) in sides.items():
        off, width = measure(p, n)
        gone = ~np.isfinite(off)
        clean = ~gone & (width < LINE * 1.4) & (width > LINE * 0.5)
        book.hold(gone.mean() < 0.001, f"{name}: {100 * gone.mean():.2f} percent of the {side} has no line")
        if not book.hold(clean.mean() > 0.85, f"{name}: only {100 * clean.mean():.0f} percent of the {side} can be measured"):
            continue
        far = np.abs(off[clean]).max()
        book.most("outline off its place, mm", far)
        book.hold(far <= 0.1, f"{name}: the {side} lies {far:.3f} mm off")
        book.count("points of outlines measured", int(clean.sum()))
    book.count("templates put together")


# ---- a file

def words(book, name, pdf):
    text = run("pdftotext", pdf, "-").stdout.split("\f")[:-1]
    for i, t in enumerate(text):
        flat = " ".join(t.split())
        book.hold(flat.count("measure this bar: 100 mm") >= 1 and "fit to page" in flat, f"{name} page {i + 1}: lacks the words at its bars")
    return " ".join(text)


def paper_file(book, kit, pdf, printer, lie, damage=None, paper=None):
    name = pdf.relative_to(kit).as_posix()
    check = run("qpdf", "--check", pdf)
    book.hold(check.returncode == 0 and "WARNING" not in check.stdout + check.stderr, f"{name}: qpdf says {check.stdout} {check.stderr}")
    paper = paper or pdf.stem.rsplit("-", 1)[1]
    sizes = re.findall(r"Page\s+\d+ size:\s+([\d.]+) x ([\d.]+) pts", run("pdfinfo", "-f", 1, "-l", 999, pdf).stdout)
    sizes = [(float(w), float(h)) for w, h in sizes]
    for w, h in sizes:
        got = sorted(v * 25.4 / 72 for v in (w, h))
        book.hold(max(abs(x - y) for x, y in zip(got, sorted(SIZES[paper]))) < 0.05, f"{name}: a page of {got} mm")
        book.count("page sizes")
    book.hold(b"UserUnit" not in pdf.read_bytes(), f"{name}: has a UserUnit")
    book.count("PDF files checked by qpdf and pdfinfo")
    if not re.match(r"(template|map)/", name):
        return
    said = words(book, name, pdf)
    if not name.startswith("template/"):
        for first, (w, h) in enumerate(sizes, 1):
            if first > 1 and sizes[first - 2] == (w, h):
                continue
            last = next((k for k in range(first, len(sizes)) if sizes[k] != (w, h)), len(sizes))
            for i, g in enumerate(drawn(pdf, (128, h, first, last)), first):
                bars(book, f"{name} page {i}", g, w > h, printer)
        return
    for w, h in sizes:
        book.hold(lie is None or (w > h) == (lie == "landscape"), f"{name}: {w} x {h} points is not {lie}")
    images = damage or drawn(pdf)
    for i, g in enumerate(images):
        bars(book, f"{name} page {i + 1}", g, g.shape[1] > g.shape[0], printer)
    letters = re.findall(r"page ([A-Z]+) of ([A-Z]+)", said)
    book.hold(len(letters) == len(images) == len({s[0] for s in letters}), f"{name}: page letters {letters}")
    h, w = images[0].shape
    level = w > h
    scale = np.array([printer["short" if level else "long"], printer["long" if level else "short"]]) / 100
    manifest = json.loads((kit / "manifest.json").read_text())
    put_together(book, name, images, grid(pdf), Wall(manifest), scale)


TRUE = {"short": 100.0, "long": 100.0}


def kit_papers(book, kit, printer=TRUE, lie=None):
    pdfs = sorted(kit.rglob("*.pdf"))
    book.hold(len(pdfs) >= 3, f"{kit}: only {len(pdfs)} PDF files")
    with ThreadPoolExecutor(2) as pool:
        list(pool.map(lambda pdf: paper_file(book, kit, pdf, printer, lie), pdfs))


def make(frusta, job, out, print_section):
    """A copy of a job with a [print] section of its own, made."""
    shutil.copytree(job, out / "job", dirs_exist_ok=True)
    text = (job / "job.toml").read_text()
    own = re.search(r"^\[print\]\n((?:(?!\[).*\n)*)", text, re.M)
    keep = "".join(l + "\n" for l in (own[1].splitlines() if own else []) if re.match(r"(ground|cup-colour)", l))
    text = text.replace(own[0], "") if own else text
    (out / "job" / "job.toml").write_text(text + f"\n[print]\n{keep}{print_section}\n")
    made = run(frusta, "make", out / "job", "--out", out / "kit", "--force")
    if made.returncode:
        sys.exit(f"{job} was not made: {made.stderr}")
    return out / "kit"


def matrix(book, frusta, jobs):
    for job in jobs:
        with tempfile.TemporaryDirectory() as folder:
            folder = Path(folder)
            names = ", ".join(f'"{n}"' for n in SIZES)
            for lie in ("portrait", "landscape"):
                kit = make(frusta, job, folder / lie, f'papers = [{names}]\norientation = "{lie}"')
                kit_papers(book, kit, lie=lie)
                if lie == "portrait":
                    again = make(frusta, job, folder / "again", f'papers = [{names}]\norientation = "{lie}"')
                    for f in sorted(p for p in kit.rglob("*") if p.is_file()):
                        same = f.read_bytes() == (again / f.relative_to(kit)).read_bytes()
                        book.hold(same, f"{f.relative_to(kit)}: made twice, its bytes differ")
                        book.count("files whose bytes are the same when made again", same)
            printer = {"short": 99.0, "long": 101.0}
            kit = make(frusta, job, folder / "bars", 'papers = ["a4", "letter"]\nbars = { short-side = 99.0, long-side = 101.0 }')
            before = len(book.faults)
            kit_papers(book, kit, printer)
            book.count("papers for a printer of 99.0 and 101.0 mm come out true", len(book.faults) == before)


# ---- damages

def self_test(kit):
    """Each damage must be found, and the sound page must not be blamed."""
    once = {p: drawn(p) for p in sorted((kit / "template").glob("*.pdf"))}
    template = next(p for p, pages in once.items() if len(pages) > 1)

    def shrunk(i, g):
        small = Image.fromarray(g).resize((int(g.shape[1] * 0.985), int(g.shape[0] * 0.985)), Image.LANCZOS)
        out = np.full_like(g, 255)
        out[-small.height:, :small.width] = np.array(small)
        return out

    def without_crosses(i, g):
        g = g.copy()
        for y, x in crosses(g)[:1] if i == 0 else []:
            g[int(y) - 50:int(y) + 50, int(x) - 50:int(x) + 50] = 255
        return g

    def moved_cross(i, g):
        """One cross of the second page stands 0.3 mm off."""
        if i != 1:
            return g
        g = g.copy()
        y, x = (int(v) for v in crosses(g)[0])
        part = g[y - 50:y + 50, x - 50:x + 50].copy()
        g[y - 50:y + 50, x - 50:x + 50] = np.roll(part, 4, 0)
        return g

    def holed(i, g):
        g = g.copy()
        if i == 0:
            g[:-int(26 * MM), 900:960] = 255
        return g

    def bent(i, g):
        """The window's far half stands 0.2 mm higher."""
        g = g.copy()
        if i == 0:
            part = g[int(10 * MM):-int(26 * MM), int(60 * MM):int(110 * MM)]
            part[:] = np.roll(part, -3, 0)
        return g

    missed = []
    for what, damage in (("a page printed to fit", shrunk), ("a cross gone", without_crosses), ("a cross moved by 0.3 mm", moved_cross),
                         ("a hole of 5 mm in the outline", holed), ("a part of the outline moved by 0.25 mm", bent)):
        book = Found()
        paper_file(book, kit, template, TRUE, None, [damage(i, g) for i, g in enumerate(once[template])])
        print(f"{'found' if book.faults else 'MISSED':>12}  {what}: {book.faults[0] if book.faults else ''}")
        missed += [] if book.faults else [what]
    with tempfile.TemporaryDirectory() as folder:
        folder = Path(folder)
        (folder / "template").mkdir()
        shutil.copy(kit / "manifest.json", folder)
        broken = folder / "template" / template.name
        data = template.read_bytes()
        for what, bad in (("a file cut short", data[:len(data) * 2 // 3]), ("a UserUnit", data.replace(b"/Type /Page\n", b"/Type /Page\n/UserUnit 2\n", 1).replace(b"/Type /Page ", b"/Type /Page /UserUnit 2 ", 1))):
            broken.write_bytes(bad)
            book = Found()
            try:
                paper_file(book, folder, broken, TRUE, None)
            except Exception as e:  # a file that cannot be drawn at all is found as well
                book.faults.append(f"cannot be drawn: {e}")
            print(f"{'found' if book.faults else 'MISSED':>12}  {what}: {book.faults[0][:100] if book.faults else ''}")
            missed += [] if book.faults else [what]
        book = Found()
        other = next(n for n in SIZES if n != template.stem.rsplit("-", 1)[1])
        broken.write_bytes(data)
        paper_file(book, folder, broken, TRUE, None, paper=other)
        print(f"{'found' if book.faults else 'MISSED':>12}  another paper than said")
        missed += [] if book.faults else ["paper"]
        book = Found()
        paper_file(book, folder, broken, {"short": 99.0, "long": 100.0}, None)
        print(f"{'found' if book.faults else 'MISSED':>12}  a printer that the paper was not made for")
        missed += [] if book.faults else ["printer"]
        book = Found()
        paper_file(book, folder, broken, TRUE, None)
        if book.faults:
            missed.append(f"blames a sound paper: {book.faults}")
    print(f"{len(missed)} damages missed {missed}")
    sys.exit(1 if missed else 0)


def main():
    args = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    args.add_argument("what", type=Path, nargs="+", metavar="KIT or JOB")
    args.add_argument("--frusta", type=Path)
    args.add_argument("--self-test", action="store_true")
    a = args.parse_args()
    if a.self_test:
        self_test(a.what[0])
    book = Found()
    if a.frusta:
        matrix(book, a.frusta, a.what)
    else:
        for kit in a.what:
            kit_papers(book, kit)
    for what, n in book.counts.items():
        print(f"{n:>12}  {what}")
    for what, v in book.worst.items():
        print(f"{v:>12.4f}  worst: {what}")
    for f in book.faults[:40]:
        print("VIOLATED", f)
    print(f"{len(book.faults)} violations")
    sys.exit(1 if book.faults else 0)


if __name__ == "__main__":
    main()
