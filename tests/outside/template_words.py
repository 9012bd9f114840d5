#!/usr/bin/env python3
"""Words of wrap templates measured from outside: none on another, none off the page, none crossed by a line, none too
small, and the front, the seam and an arrow always within the outline.

    template_words.py PROGRAM [--seed S] [--count N] [--hard] [--keep DIR]     random cups, made and read back
    template_words.py PROGRAM --self-test                                      damages that have to be found

Cups: base 30 to 120 mm across, wall 35 to 170 mm, half angle of taper -40 to 40 degrees, bands kept clear 0 to 15 mm,
lap 0 to 10 mm, seam anywhere, handles, 0 to 3 guide rings (--hard: small and steep ones). Text is read from the SVG's
glyph outlines by boxes.py (this project's own checker of text boxes, shapely and fontTools from PyPI); lines are all
stroked paths of the template.

Held to (the project's notes on labels, section B): overlaps 0, off the page 0, crossed 0, capitals of 1.8 mm at least,
words beside the outline at most 1 percent (2.5 with --hard).
"""
import argparse
import math
import subprocess
import sys
import tempfile
from collections import Counter
from pathlib import Path
from xml.etree import ElementTree

import numpy as np
from shapely import STRtree
from shapely.geometry import LineString, Point, Polygon

import boxes
from random_jobs import Stream

HERE = Path(__file__).resolve().parent
FACES = [str(HERE.parents[1] / "src/write/ink/face" / f) for f in ("regular.ttf", "bold.ttf")]
LEAST = 1.8
SVG = "{http://www.w3.org/2000/svg}"


def job(seed, hard):
    s = Stream(seed ^ 0x7E3)
    while True:
        base = s.between(30, 60 if hard else 120)
        wall = s.between(25, 60) if hard else s.between(35, 170)
        lean = s.between(20, 40) if hard else s.between(-40, 40)
        if hard and s.unit() < 0.5:
            lean = -lean
        rim = base + 2 * wall * math.sin(math.radians(lean))
        if rim > 25:
            break
    clear = (1.5, 5) if hard else (0, 15)
    rim_clear, base_clear = s.between(*clear), s.between(*clear)
    if rim_clear + base_clear > wall * 0.6:
        rim_clear = base_clear = wall * 0.2
    seam = s.pick([180, s.between(-180, 180)])
    lines = [
        f'title = "Cup {seed} of the fair"', "[cup]",
        f"rings = [{{ up = 0, girth = {base * math.pi:.2f} }}, {{ up = {wall:.2f}, girth = {rim * math.pi:.2f} }}]",
        f"wall = {wall:.2f}", f"keep-clear = {{ rim = {rim_clear:.1f}, base = {base_clear:.1f} }}", f"seam = {seam:.1f}",
    ]
    if s.unit() < 0.5:
        lines.append(f"lap = {s.between(3, 10):.1f}")
    if s.unit() < 0.3:
        low, width = wall * 0.25, s.between(12, min(40, base * 0.8))
        lines.append(f"handle = {{ at = {s.between(-180, 180):.0f}, width = {width:.1f}, from = {low:.1f}, to = {wall * 0.8:.1f} }}")
    lines += ["[[film]]", 'name = "white"', "sheet = [300, 200]", '[[finish.product]]', 'name = "paint"', 'kind = "paint"', 'basis = "data sheet"', "density = 1.2",
              'recoat-from = "2 h"', 'hard = "6 h"']
    names = ["earth", "gold foot", "sky"]
    at = base_clear
    for k in range(int(s.unit() * 4) // 2 + (1 if s.unit() < 0.4 else 0)):
        top = at + s.between(wall * 0.08, wall * 0.3)
        if top > wall - 1:
            break
        lines += ["[[finish.band]]", f'name = "{names[k]}"', f"from = {at:.1f}", f"to = {top:.1f}", f"fade-high = {min(3, (top - at) / 2):.1f}"]
        at = top + s.between(0, wall * 0.1)
    lines += ["[[finish.step]]", 'do = "wash"', "[[finish.step]]", 'do = "paint"', "grams = 3"]
    return "\n".join(lines) + "\n"


def strokes(root):
    """Every stroked line of the template's groups, and its arrows: (group, line)."""
    out = []
    for g in root.iter(SVG + "g"):
        name = g.get("id") or ""
        if name.startswith("foot"):
            continue
        for p in g.iter(SVG + "path"):
            stroke, fill, d = p.get("stroke"), p.get("fill"), p.get("d") or ""
            arrow = name.startswith("lines") and not stroke and "Q" not in d and d.count("L") + d.count("H") + d.count("V") == 6
            if stroke or arrow:
                # Lines from words outside lead to where they belong, and touch what they lead to.
                if p.get("stroke-width") == "0.150":
                    continue
                whole = "Z" in d
                for l in boxes.line_of(d):
                    if len(l) > 1:
                        out.append((name, LineString(l + [l[0]] if whole else l), arrow))
    return out


def look(svg, glyphs, advances):
    """Counts and faults of a template."""
    root = ElementTree.fromstring(svg)
    (page, texts, _), = boxes.read_svg_root(root, glyphs, advances)[0]
    found = boxes.check([(page, texts, [])], least=LEAST, least_note=LEAST)
    lines = strokes(root)
    faults = [(k, str(v)) for k in ("overlap", "off-page", "small") for v in found[k]]
    tree = STRtree([l for _, l, _ in lines])
    for t in texts:
        hit = tree.query(t.poly.buffer(-0.01), predicate="intersects")
        if len(hit):
            faults.append(("crossed", f"{t.words!r} by {sorted({lines[i][0] for i in hit})}"))
    outlines = [l for n, l, _ in lines if n.startswith("template-outline")]
    wall = Polygon(outlines[0])
    # Words are read one by one where they bend along a parallel.
    inside = " ".join(t.words for t in texts if wall.contains(Point(*np.array(t.poly.centroid.coords)[0])))
    outside = [t.words for t in texts if t.poly.centroid.y < wall.bounds[3] and not wall.contains(t.poly.centroid)]
    for what, ok in (
        ("front", any(w.startswith("FRONT") or "start" in w or w == "F" for w in inside.split())),
        ("seam", "seam" in inside or "S" in inside.split()),
        ("arrow", any(a for _, _, a in lines)),
    ):
        if not ok:
            faults.append(("missing", what))
    return len(texts), outside, faults


def made(program, text, folder):
    at = Path(folder) / "job.toml"
    at.write_text(text)
    kit = Path(folder) / "kit"
    run = subprocess.run([str(program), "make", "-q", str(at), "--out", str(kit), "--force"], capture_output=True, text=True, timeout=120)
    return (kit / "template/wrap.svg").read_text() if run.returncode == 0 else None, run.stderr


def self_test(program, glyphs, advances):
    with tempfile.TemporaryDirectory() as folder:
        svg, said = made(program, job(1, False), folder)
    assert svg, said
    _, _, before = look(svg, glyphs, advances)
    ok = not before
    root = ElementTree.fromstring(svg)
    (_, texts, _), = boxes.read_svg_root(root, glyphs, advances)[0]
    on = max(texts[:40], key=lambda t: t.poly.area).poly.centroid
    damages = {
        "crossed": svg.replace('<g id="seam">', f'<g id="seam"><path d="M {on.x - 4:.3f} {on.y:.3f} L {on.x + 4:.3f} {on.y:.3f}" fill="none" stroke="#291915" stroke-width="0.300"/>', 1),
        "off-page": svg.replace("<svg ", '<svg ', 1).replace('viewBox="0 0 ', 'viewBox="60 0 ', 1),
        "small": svg.replace('<g id="heights">', '<g id="heights" transform="scale(0.9)">', 1),
        "missing": svg.replace('<g id="lines">', '<defs id="lines">', 1).replace("</g>", "</g>", 1),
    }
    # The group of lines gone altogether: front and arrow with it.
    start = svg.index('<g id="lines">')
    damages["missing"] = svg[:start] + svg[svg.index("</g>", start) + 4:]
    for kind, text in damages.items():
        kinds = {k for k, _ in look(text, glyphs, advances)[2]}
        print(f"{'found ' if kind in kinds else 'MISSED'}  {kind}: found {sorted(kinds)}")
        ok &= kind in kinds
    return ok


def main():
    args = argparse.ArgumentParser()
    args.add_argument("program", type=Path)
    args.add_argument("--seed", type=int, default=1)
    args.add_argument("--count", type=int, default=40)
    args.add_argument("--hard", action="store_true")
    args.add_argument("--keep", type=Path)
    args.add_argument("--self-test", action="store_true")
    a = args.parse_args()
    glyphs, advances = boxes.Glyphs(FACES), boxes.advances(FACES)
    if a.self_test and not self_test(a.program, glyphs, advances):
        return 1
    kinds, texts, out, refused, bad = Counter(), 0, 0, Counter(), []
    for seed in range(a.seed, a.seed + a.count):
        with tempfile.TemporaryDirectory() as folder:
            svg, said = made(a.program, job(seed, a.hard), folder)
        if svg is None:
            refused[said.strip().split("\n")[0][:100]] += 1
            continue
        n, beside, faults = look(svg, glyphs, advances)
        texts, out = texts + n, out + len(beside)
        if faults:
            bad.append(seed)
        for kind, what in faults:
            kinds[kind] += 1
            if kinds[kind] <= 6:
                print(f"VIOLATED seed {seed} {kind}: {what}", flush=True)
        if a.keep and (faults or beside):
            a.keep.mkdir(parents=True, exist_ok=True)
            (a.keep / f"{seed:04}.svg").write_text(svg)
    print(f"{a.count - sum(refused.values())} templates, {texts} words read, {out} beside the outline ({100 * out / max(texts, 1):.2f} percent)")
    for what, n in refused.items():
        print(f"{n:>6}  refused: {what}")
    for kind, n in kinds.items():
        print(f"{n:>6}  {kind}")
    # Small steep cups: 1.1 percent was reached by a prototype, 1.8 is measured here.
    many = out > max((0.025 if a.hard else 0.01) * texts, 3)
    print(f"{len(bad)} of {a.count} cups with violations: {bad[:30]}")
    return int(bool(bad) or many or sum(refused.values()) > a.count // 4)


if __name__ == "__main__":
    sys.exit(main())
