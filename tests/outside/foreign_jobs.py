#!/usr/bin/env python3
"""Drawings that were not made for this program: whole jobs of them, and what is cut of them against a browser.

    foreign_jobs.py jobs FRUSTA --seed S --count N [--keep DIR]      make and re-measure jobs of foreign drawings
    foreign_jobs.py art FRUSTA FOLDER... [--count N] [--verdicts FILE] [--write] [--seed S]
                                                                     hold each drawing's cut outline to Chromium's picture

Sources, installed and never committed: Debian packages openclipart-svg (8,121 drawings, public domain) and
bootstrap-icons; the SVG test suite that the crates.io package resvg 0.9.2 carries in svg-tests/svg (1,332 files), which
`foreign_jobs.py suite` fetches with cargo; fixtures/silent-losses (drawings of which something was once lost unsaid).

Art: Chromium paints each drawing on a clear ground; what it paints is what is to be cut. Both shapes are laid over each
other by their boxes and held to the same proportions and to the same area, pixel by pixel. A verdict is
  right     cut as painted (a loss listed all the same is counted)
  told      not as painted, or not known to be, and a loss is listed
  refused   nothing is cut and a fault says why
  blank     nothing is painted, nothing is cut
  WRONG     not as painted and not a word of it: a violation
Expected verdicts by file name stand in fixtures/art-verdicts.txt; one that gets worse is a violation too.
"""
import argparse
import json
import re
import shutil
import subprocess
import sys
import tempfile
import xml.etree.ElementTree as ET
from collections import Counter
from pathlib import Path

import numpy as np

import random_jobs
from random_jobs import Cone, Room, Stream

ROOT = Path(__file__).resolve().parents[2]
CLIPART = Path("/usr/share/openclipart/svg")
# No people, no marks of firms: what an allotment society would cut.
FOLDERS = ["animals", "food", "plants", "shapes", "tools", "decorations"]
ICONS = Path("/usr/share/bootstrap-icons/svg")
PLAIN = re.compile(r"^(flower|tree|cup|egg|bug|heart|star|sun|moon|snow|music|balloon|basket|gift|house|umbrella|tornado|droplet|cloud|lightning|flag|gem|key|bell|cake|award|brush|scissors|puzzle|trophy)[0-9]*(-[a-z-]+)?$")
VERDICTS = ROOT / "fixtures" / "art-verdicts.txt"
LOSSES = {"art/not-cut", "art/specks", "art/cut-plain"}
RANK = {"right": 3, "blank": 3, "told": 2, "refused": 1, "WRONG": 0}
CELL = 400
# Share of the union of both shapes that may differ, beyond a seam of one pixel along every edge.
DIFFER = 0.01


# ---- Chromium's pictures --------------------------------------------------------------------------------------------


def painted(files, columns=8, rows=5):
    """{file: mask of what Chromium paints in a cell}: many drawings on a page."""
    from PIL import Image

    masks = {}
    with tempfile.TemporaryDirectory() as tmp:
        for at in range(0, len(files), columns * rows):
            some = files[at : at + columns * rows]
            cells = "".join(
                f'<div style="position:absolute;overflow:hidden;left:{i % columns * CELL}px;top:{i // columns * CELL}px;width:{CELL}px;height:{CELL}px">'
                f'<img src="{f.resolve().as_uri()}" style="width:{CELL}px;height:{CELL}px;object-fit:contain"></div>'
                for i, f in enumerate(some)
            )
            page, shot = Path(tmp) / "page.html", Path(tmp) / "shot.png"
            page.write_text(f'<!doctype html><meta charset=utf-8><body style="margin:0;background:transparent">{cells}')
            shot.unlink(missing_ok=True)
            subprocess.run(
                ["chromium", "--headless", "--no-sandbox", "--disable-gpu", f"--user-data-dir={tmp}/profile", "--hide-scrollbars",
                 "--default-background-color=00000000", f"--window-size={columns * CELL},{rows * CELL}", f"--screenshot={shot}", page.as_uri()],
                capture_output=True, timeout=180,
            )
            if not shot.exists():
                print(f"Chromium gave no picture of {len(some)} drawings from {some[0].name}")
                continue
            alpha = np.asarray(Image.open(shot).convert("RGBA"))[:, :, 3]
            for i, f in enumerate(some):
                x, y = i % columns * CELL, i // columns * CELL
                masks[f] = alpha[y : y + CELL, x : x + CELL]
    return masks


def box(mask):
    """Columns and rows of what is painted: left, top, right, bottom."""
    ys, xs = np.nonzero(mask > 24)
    return (xs.min(), ys.min(), xs.max() + 1, ys.max() + 1) if len(xs) else None


# ---- the program's outline ------------------------------------------------------------------------------------------


def cut(frusta, file, wide, tmp):
    """(rings of the outline in mm, y down; codes of what was said) or (None, codes of faults)."""
    job = Path(tmp) / "job"
    shutil.rmtree(job, ignore_errors=True)
    (job / "art").mkdir(parents=True)
    shutil.copy(file, job / "art" / "a.svg")
    (job / "job.toml").write_text(
        'title = "art"\n[cup]\nrings = [{ up = 0, girth = 1400 }, { up = 480, girth = 1400 }]\nwall = 480\nkeep-clear = { rim = 0, base = 0 }\n'
        '[[film]]\nname = "a"\nsheet = [700, 700]\nweed = 0.05\n[[motif]]\nart = "art/a.svg"\n'
        f'{"width" if wide else "height"} = 200\nclearance = 0\nposes = [{{ azimuth = 0, up = 240 }}]\n[print]\npapers = ["a3"]\n'
    )
    kit = Path(tmp) / "kit"
    shutil.rmtree(kit, ignore_errors=True)
    code, said, _ = random_jobs.run([str(frusta), "make", "--json", str(job), "--out", str(kit)], 60)
    try:
        found = json.loads(said[said.index("{") :])["found"]
    except (ValueError, KeyError):
        return None, [f"exit {code}"]
    codes = [f["code"] for f in found if f["severity"] == "fault" or f["code"] in LOSSES]
    if code != 0:
        return None, codes or [f"exit {code}"]
    manifest = json.loads((kit / "manifest.json").read_text())
    import remeasure

    sheet = manifest["sheets"][0]
    root = ET.parse(kit / sheet["file"]).getroot()
    turn = np.radians(sheet["pieces"][0]["turn_deg"])
    back = np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]])
    path = root.find(f".//{{http://www.w3.org/2000/svg}}g[@id='p1']/{{http://www.w3.org/2000/svg}}path")
    # Rows are points; on a page y points down, so that a turn to the left on the sheet is undone by one to the right.
    rings = [np.concatenate([remeasure.flat(s) for s in segs]) @ back.T for segs, _ in remeasure.contours(path.get("d"))]
    return rings, codes


def filled(rings, size):
    """Even-odd mask of rings, their box laid on a picture of that size, four times as fine and brought down."""
    from PIL import Image, ImageChops, ImageDraw

    pts = np.concatenate(rings)
    low, high = pts.min(0), pts.max(0)
    w, h = size
    fine = 4
    out = Image.new("1", (w * fine, h * fine))
    scale = np.array([w, h]) * fine / np.maximum(high - low, 1e-9)
    for ring in rings:
        one = Image.new("1", out.size)
        if len(ring) > 2:
            ImageDraw.Draw(one).polygon([tuple(p) for p in (ring - low) * scale - 0.5], fill=1)
        out = ImageChops.logical_xor(out, one)
    mask = np.asarray(out, dtype=float).reshape(h, fine, w, fine).mean((1, 3))
    return mask, (high - low)[0] / max((high - low)[1], 1e-9)


def differs(alpha, rings):
    """What is amiss between Chromium's picture and the outline; None if nothing is."""
    l, t, r, b = box(alpha)
    w, h = int(r - l), int(b - t)
    theirs = alpha[t:b, l:r] > 24
    mine, aspect = filled(rings, (w, h))
    # Boxes are whole pixels: each side may be off by one and a half.
    if not (w - 1.5) / (h + 1.5) <= aspect <= (w + 1.5) / max(h - 1.5, 0.3):
        return f"proportions {aspect:.3f}, painted {w} by {h} pixels"
    # A pixel differs if all its neighbours say so too: edges may be off by one.
    def grown(m):
        p = np.pad(m, 1)
        return np.any([p[i : i + m.shape[0], j : j + m.shape[1]] for i in range(3) for j in range(3)], axis=0)

    here = mine > 0.5
    lacks = theirs & ~grown(grown(mine > 0.05))
    beyond = here & ~grown(grown(theirs))
    part = (lacks.sum() + beyond.sum()) / max(1, (here | theirs).sum())
    if part > DIFFER or lacks.sum() + beyond.sum() > 60 and part > DIFFER / 4:
        return f"{lacks.sum()} pixels lack and {beyond.sum()} are too many, {part:.1%}"
    return None


def verdict(frusta, file, alpha, tmp):
    b = box(alpha)
    wide = b is None or b[2] - b[0] >= b[3] - b[1]
    rings, codes = cut(frusta, file, wide, tmp)
    if rings is None:
        return ("blank" if b is None else "refused"), " ".join(sorted(set(codes)))
    told = sorted({c for c in codes if c in LOSSES})
    if b is None:
        return ("told" if told else "WRONG"), "cut, but nothing is painted"
    amiss = differs(alpha, rings)
    if amiss is None:
        return "right", " ".join(told)
    return ("told" if told else "WRONG"), amiss


def art(a):
    files = sorted({f for folder in a.folders for f in Path(folder).rglob("*.svg")})
    if a.count and a.count < len(files):
        s = Stream(a.seed)
        files = sorted(s.some(files, a.count))
    known = dict(line.split() for line in VERDICTS.read_text().splitlines() if line and line[0] != "#") if VERDICTS.exists() else {}
    masks = painted(files)
    kinds, bad, got = Counter(), 0, {}
    with tempfile.TemporaryDirectory() as tmp:
        for f in files:
            if f not in masks:
                kinds["no picture"] += 1
                continue
            v, says = verdict(a.frusta.resolve(), f, masks[f], tmp)
            kinds[v] += 1
            got[f.name] = v
            if v == "right" and says:
                kinds["right, though a loss is listed"] += 1
            worse = f.name in known and RANK[v] < RANK[known[f.name]]
            if (v == "WRONG" and f.name not in DISPUTED) or worse:
                bad += 1
                print(f"VIOLATED {f.name}: {v}{f', was {known[f.name]}' if worse else ''}: {says}", flush=True)
                if a.keep:
                    a.keep.mkdir(parents=True, exist_ok=True)
                    shutil.copy(f, a.keep)
    if a.write:
        known.update({n: v for n, v in got.items() if v != "WRONG"})
        head = "# What becomes of each drawing (tests/outside/foreign_jobs.py): right, told, refused or blank.\n"
        VERDICTS.write_text(head + "".join(f"{n} {v}\n" for n, v in sorted(known.items())))
    for what, n in kinds.most_common():
        print(f"{n:>8}  {what}")
    print(f"{bad} of {len(files)} drawings violate something")
    return bad == 0


# Files of the suite on which Chromium is not the truth, each with its reason.
DISPUTED = {
    # The stroke's ends stand by handles of 0.0001: square to the handle by the formula, square to the line in Chromium.
    "a-stroke-018.svg", "a-stroke-019.svg",
}


def suite():
    """Fetches the suite with cargo; prints its folder."""
    home = ROOT / "target" / "outside" / "suite"
    found = list(home.glob("home/registry/src/*/resvg-0.9.2/svg-tests/svg"))
    if not found:
        home.mkdir(parents=True, exist_ok=True)
        (home / "lib.rs").write_text("")
        (home / "Cargo.toml").write_text(
            '[package]\nname = "suite"\nversion = "0.0.0"\nedition = "2021"\n[lib]\npath = "lib.rs"\n[workspace]\n'
            '[dependencies]\nresvg = { version = "=0.9.2", default-features = false }\n'
        )
        import os

        subprocess.run(["cargo", "fetch", "-q"], cwd=home, env={**os.environ, "CARGO_HOME": str(home / "home")}, check=True)
        found = list(home.glob("home/registry/src/*/resvg-0.9.2/svg-tests/svg"))
    return found[0]


# ---- jobs -----------------------------------------------------------------------------------------------------------


def foreign(seed, folder, drawings):
    """A job of foreign drawings: pinned, spread, in a decal, among spots."""
    s = Stream(seed ^ 0xF0E1)
    lean, wall, base = s.between(0, 9), s.between(110, 200), s.between(60, 90)
    rim = base + 2 * wall * np.sin(np.radians(lean))
    cone = Cone(np.pi * base, np.pi * rim, wall)
    room = Room(cone, 6.2, wall - 20.2)
    (folder / "art").mkdir(parents=True)
    lines = [
        f'title = "Foreign drawings {seed}"', f"seed = {seed}", "[cup]",
        f"rings = [{{ up = 0, girth = {np.pi * base:.2f} }}, {{ up = {wall:.2f}, girth = {np.pi * rim:.2f} }}]", f"wall = {wall:.2f}",
        f'capacity = "{np.pi * wall * (base * base + base * rim + rim * rim) / 12000 / 1.3:.0f} ml"',
        '[[film]]\nname = "a"\nsheet = [300, 200]\n[[film]]\nname = "b"\nroll = 305\n',
    ]
    for i, f in enumerate(s.some(drawings, s.whole(2, 5))):
        name = f"art/{i}.svg"
        shutil.copy(f, folder / name)
        size = s.between(14, 42)
        # The longer side is not known here: a square of it is kept free, and a drawing by height may be wide.
        kind = s.pick(["pinned", "pinned", "spread", "decal"])
        film = s.pick("ab")
        if kind == "decal":
            if not room.free(0.0, wall / 2, size + 6, size + 6, 3):
                kind = "spread"
            else:
                room.take(0.0, wall / 2, size + 6, size + 6)
                lines.append(f'[[decal]]\nart = "{name}"\nfits = [{size:.1f}, {size:.1f}]\nup = {wall / 2:.1f}\nmend = true\nlayers = [{{ film = "a", offset = {s.between(0.5, 2):.2f} }}, {{ film = "{film}" }}]')
        if kind == "pinned":
            poses = []
            for _ in range(30):
                azimuth, up = s.whole(-180, 180), s.between(room.low, room.high)
                if room.free(azimuth, up, size * 1.5, size * 1.5, 3):
                    room.take(azimuth, up, size * 1.5, size * 1.5)
                    poses.append(f"{{ azimuth = {azimuth}, up = {up:.1f}, turn = {s.whole(-20, 20)} }}")
                    if len(poses) == 2:
                        break
            if poses:
                lines.append(f'[[motif]]\nart = "{name}"\nwidth = {size:.1f}\nfilm = "{film}"\nmend = true\nposes = [{", ".join(poses)}]')
        elif kind == "spread":
            lines.append(f'[[motif]]\nart = "{name}"\nwidth = {s.between(9, 16):.1f}\nfilm = "{film}"\nmend = true\ncopies = {s.whole(1, 4)}\nturning = "free"')
    if s.chance(0.6):
        lines.append('[[accent]]\nfamilies = ["pebble", "seed"]\nsmallest = 6\nlargest = 10\ngap = 2\nfilm = "a"')
    (folder / "job.toml").write_text("\n".join(lines) + "\n")


def jobs(a):
    import remeasure

    drawings = sorted(f for d in FOLDERS for f in (CLIPART / d).rglob("*.svg") if f.stat().st_size < 200_000)
    drawings += sorted(f for f in ICONS.glob("*.svg") if PLAIN.match(f.stem))
    if not drawings:
        sys.exit("neither openclipart-svg nor bootstrap-icons is installed")
    outcomes, kinds, bad = Counter(), Counter(), []
    for seed in range(a.seed, a.seed + a.count):
        with tempfile.TemporaryDirectory() as tmp:
            job, kit = Path(tmp) / "job", Path(tmp) / "kit"
            foreign(seed, job, drawings)
            code, said, took = random_jobs.run([str(a.frusta.resolve()), "make", "-q", str(job), "--out", str(kit)], a.seconds)
            faults = random_jobs.codes_in(said)
            outcomes[f"exit {code}"] += 1
            outcomes.update({f"refused with {f}" for f in faults})
            wrong = []
            if code not in (0, 1) or random_jobs.BROKEN & set(faults):
                wrong = [("program", said.strip()[:300])]
            elif code == 0:
                report = remeasure.measure(kit, job)
                for what, n in report.counts.items():
                    if isinstance(n, int):
                        outcomes[what] += n
                wrong = report.faults
            if took > 10:
                wrong.append(("slow", f"{took:.1f} s"))
            if wrong:
                bad.append(seed)
                kinds.update({k for k, _ in wrong})
                shown = Counter()
                for kind, says in wrong:
                    shown[kind] += 1
                    if shown[kind] <= 2:
                        print(f"VIOLATED job {seed} {kind}: {says}", flush=True)
                if a.keep:
                    shutil.copytree(job, a.keep / f"foreign-{seed}", dirs_exist_ok=True)
    for what, n in sorted(outcomes.items()):
        print(f"{n:>10}  {what}")
    for kind, n in kinds.most_common():
        print(f"{n:>10}  jobs that violate {kind}")
    print(f"{len(bad)} of {a.count} jobs with violations: {bad[:40]}")
    return not bad


def main():
    args = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    args.add_argument("what", choices=["jobs", "art", "suite"])
    args.add_argument("frusta", type=Path, nargs="?")
    args.add_argument("folders", nargs="*", help="art: folders of drawings; `suite` stands for the fetched one")
    args.add_argument("--seed", type=int, default=1)
    args.add_argument("--count", type=int, default=None)
    args.add_argument("--seconds", type=float, default=60)
    args.add_argument("--keep", type=Path)
    args.add_argument("--write", action="store_true", help="art: write the verdicts that are not WRONG as expected")
    a = args.parse_args()
    if a.what == "suite":
        print(suite())
        return
    if a.what == "jobs":
        a.count = 6 if a.count is None else a.count
        sys.exit(0 if jobs(a) else 1)
    a.count = a.count or 0
    a.folders = [suite() if f == "suite" else f for f in a.folders or ["suite", ROOT / "fixtures" / "silent-losses"]]
    sys.exit(0 if art(a) else 1)


if __name__ == "__main__":
    main()
