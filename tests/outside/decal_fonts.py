#!/usr/bin/env python3
"""Holds the program's lettering and offsets against libraries that have nothing to do with it.

    decal_fonts.py                  letter texts in fonts, measure; print counts; exit 1 on any violation

Who measures what, over the three fonts of the program and at least five from Debian's packages
(fonts-lobster, fonts-lobstertwo, fonts-leckerli-one, fonts-cantarell, fonts-comfortaa, fonts-dejavu-core,
fonts-hosny-amiri for a right-to-left script, fonts-lohit-deva for one that reorders letters):
- HarfBuzz itself (uharfbuzz, PyPI): which glyphs, in which order, where, and how far the pen goes;
- fontTools (PyPI): units of the em, advances of single letters (hmtx), line distance (OS/2 or hhea), the drawn height
  of the capital H, and the box of every glyph (glyf, CFF);
- FriBidi (Debian's libfribidi-bin): in which order letters of two directions stand, in random lines of Hebrew, Latin,
  numbers and signs (`--lines N`, 60 if not said; `--seed S`);
- shapely (PyPI; GEOS): outlines grown and shrunk, by symmetric difference.
Run from the project's folder; builds the example `lettering`.
"""
import json
import random
import subprocess
import sys
from pathlib import Path

import uharfbuzz
from fontTools.pens.boundsPen import BoundsPen
from fontTools.ttLib import TTFont
from shapely import make_valid
from shapely.geometry import Polygon
from shapely.ops import unary_union

FONTS = Path("src/read/letter/fonts")
EMBEDDED = {
    "Source Sans Pro Bold": FONTS / "SourceSansPro-Bold.otf",
    "Kaushan Script": FONTS / "KaushanScript-Regular.otf",
    "Fredoka One": FONTS / "FredokaOne-Regular.ttf",
}
PACKAGES = ["fonts-lobster", "fonts-lobstertwo", "fonts-leckerli-one", "fonts-cantarell", "fonts-comfortaa",
            "fonts-dejavu-core", "fonts-hosny-amiri", "fonts-lohit-deva"]
# Glyphs that are pictures (CBDT or COLR), as Debian carries them.
COLOUR = "fonts-noto-color-emoji"
LATIN = ["Best in show", "AVATAR To. Wave", "Toffee & office fjord", "Marrows, 3rd prize"]
OTHER = {"fonts-hosny-amiri": ["\u062d\u0641\u0644\u0629 \u0627\u0644\u062d\u0635\u0627\u062f"], "fonts-lohit-deva": ["\u0915\u094d\u0937\u093f \u092e\u0947\u0932\u093e"]}
UNITS = 1e-3  # font units: f32 in the program's font reader
# A grown outline may be off by FIT (0.01 mm) everywhere, and is flattened here and there within 0.0004 mm.
OFFSET = 0.0105


PROFILE = sys.argv[sys.argv.index("--profile") + 1] if "--profile" in sys.argv else "release"
LETTERING = f"target/{PROFILE}/examples/lettering"


def fonts_of(package):
    out = subprocess.run(["dpkg", "-L", package], capture_output=True, text=True, check=False).stdout.split("\n")
    files = sorted(f for f in out if f.lower().endswith((".ttf", ".otf")))
    # One upright face and one other of each family is enough.
    return files[:2]


class Report:
    def __init__(self):
        self.counts, self.faults, self.worst = {}, [], {}

    def hold(self, what, got, want, slack, where):
        self.counts[what] = self.counts.get(what, 0) + 1
        off = abs(got - want)
        self.worst[what] = max(self.worst.get(what, 0.0), off)
        if not off <= slack:
            self.faults.append(f"{where}: {what} {got:.6g}, should be {want:.6g}")


def line_distance(font):
    """OS/2 typographic heights where the font says so (USE_TYPO_METRICS), else hhea: OpenType 1.9, OS/2 fsSelection bit 7."""
    os2, hhea = font.get("OS/2"), font["hhea"]
    if os2 is not None and os2.version >= 4 and os2.fsSelection & 128:
        return os2.sTypoAscender - os2.sTypoDescender + os2.sTypoLineGap
    return hhea.ascent - hhea.descent + hhea.lineGap


def area(rings):
    """Outer rings run counter-clockwise, holes clockwise; neither crosses: the area is outer less holes."""
    def signed(r):
        return sum(r[i][0] * r[(i + 1) % len(r)][1] - r[(i + 1) % len(r)][0] * r[i][1] for i in range(len(r))) / 2
    outer = [make_valid(Polygon(r)) for r in rings if len(r) > 2 and signed(r) > 0]
    holes = [make_valid(Polygon(r)) for r in rings if len(r) > 2 and signed(r) < 0]
    return unary_union(outer).difference(unary_union(holes)) if holes else unary_union(outer)


def check(name, path, text, ours, report):
    where = f"{Path(path).name}: {text}"
    if "faults" in ours:
        report.faults.append(f"{where}: {ours['faults']}")
        return
    font = TTFont(path, lazy=True)
    glyph_set, order = font.getGlyphSet(), font.getGlyphOrder()
    report.hold("units of the em", ours["units_per_em"], font["head"].unitsPerEm, 0, where)
    report.hold("line distance", ours["line"], line_distance(font), 0.01, where)
    cmap = font.getBestCmap()
    if ord("H") in cmap:
        pen = BoundsPen(glyph_set)
        glyph_set[cmap[ord("H")]].draw(pen)
        report.hold("cap height", ours["cap_height"], pen.bounds[3], 0.01, where)
    face = uharfbuzz.Face(uharfbuzz.Blob.from_file_path(str(path)))
    buffer = uharfbuzz.Buffer()
    buffer.add_str(text)
    buffer.guess_segment_properties()
    uharfbuzz.shape(uharfbuzz.Font(face), buffer)
    report.hold("glyphs", len(ours["glyphs"]), len(buffer.glyph_infos), 0, where)
    pen_x = 0
    # The program counts a text's bytes, HarfBuzz's Python binding its characters.
    byte = [len(text[:i].encode()) for i in range(len(text) + 1)]
    for mine, info, pos in zip(ours["glyphs"], buffer.glyph_infos, buffer.glyph_positions):
        report.hold("cluster", mine["cluster"], byte[info.cluster], 0, where)
        report.hold("advance", mine["advance"], pos.x_advance, UNITS, where)
        first = buffer.glyph_positions[0].x_offset
        report.hold("pen", mine["x"], pen_x + pos.x_offset - first, 10 * UNITS, where)
        pen_x += pos.x_advance
        pen = BoundsPen(glyph_set)
        glyph_set[order[info.codepoint]].draw(pen)
        if mine["box"] and pen.bounds:
            # The outline is snapped to 1e-4 mm; an em is some 14 mm of 1000 units here.
            slack = 0.03 * ours["units_per_em"] / 1000
            for got, want, dy in zip(mine["box"], pen.bounds, (0, pos.y_offset, 0, pos.y_offset)):
                report.hold("glyph box", got, want + dy, slack, where)
    for letter in "nHo":
        if text == letter and ord(letter) in cmap:
            # The glyph that stands for the letter when it stands alone: scripts have forms of their own for that.
            alone = order[buffer.glyph_infos[0].codepoint]
            report.hold("hmtx advance", ours["glyphs"][0]["advance"], font["hmtx"][alone][0], UNITS, where)
    art = area(ours["rings"])
    for grown in ours["grown"]:
        want = art.buffer(grown["by"], quad_segs=90)
        got = area(grown["rings"])
        off = want.symmetric_difference(got).area / max(want.length, 1.0)
        report.hold("offset, mean distance (mm)", off, 0.0, OFFSET, f"{where} by {grown['by']}")


def two_directions(count, seed, report):
    """Random lines: a glyph of each letter stands where FriBidi has the letter. DejaVu Sans has no Hebrew ligatures."""
    dice = random.Random(seed)
    words = ["\u05e9\u05dc\u05d5\u05dd", "\u05d7\u05d2", "\u05e7\u05e6\u05d9\u05e8", "Fair", "No", "2024", "3", "12:30", "7.5", "(", ")", "-", "&", ",", "!"]
    font = next(f for f in fonts_of("fonts-dejavu-core") if "Sans" in f and "Mono" not in f)
    for _ in range(count):
        text = "".join(dice.choice(words) + dice.choice(["", " ", " "]) for _ in range(dice.randint(2, 7))).strip()
        if not any("\u05d0" <= c <= "\u05ea" for c in text):
            text = words[0] + " " + text
        maps = subprocess.run(["fribidi", "--nopad", "--nobreak", "--vtol", "--novisual"], input=text + "\n", capture_output=True, text=True, check=True)
        want = [len(text[:int(i)].encode()) for i in maps.stdout.split()]
        out = subprocess.run([LETTERING, text, font], capture_output=True, text=True, check=True)
        ours = json.loads(out.stdout)
        if "faults" in ours:
            report.faults.append(f"{text}: {ours['faults']}")
            continue
        got = [g["cluster"] for g in ours["glyphs"]]
        report.hold("order of two directions", float(got == want), 1.0, 0.0, f"{text}: {got}, FriBidi {want}")


def option(name, usual):
    return int(sys.argv[sys.argv.index(name) + 1]) if name in sys.argv else usual


def main():
    report = Report()
    jobs = [(n, p, LATIN + ["n", "H", "o"]) for n, p in EMBEDDED.items()]
    counted = set()
    for package in PACKAGES:
        files = fonts_of(package)
        if files:
            counted.add(package)
        jobs += [(f, f, OTHER.get(package, LATIN + ["n"])) for f in files]
    if len(counted) < 5:
        report.faults.append(f"fonts of {len(counted)} packages found, five are needed: apt-get install {' '.join(PACKAGES)}")
    subprocess.run(["cargo", "build", "--profile", PROFILE, "-q", "--example", "lettering"], check=True)
    for name, path, texts in jobs:
        for text in texts:
            out = subprocess.run([LETTERING, text, str(name)], capture_output=True, text=True, check=True)
            check(name, path, text, json.loads(out.stdout), report)
    two_directions(option("--lines", 60), option("--seed", 1), report)
    colour = fonts_of(COLOUR)
    if not colour:
        report.faults.append(f"no font of pictures found: apt-get install {COLOUR}")
    for file in colour:
        out = subprocess.run([LETTERING, "\U0001f955", file], capture_output=True, text=True, check=True)
        says = " ".join(json.loads(out.stdout).get("faults", []))
        report.hold("colour fonts refused", float("letter/bad-font" in says and "colours" in says), 1.0, 0.0, file)
    print(f"{len(jobs)} fonts, {len(counted)} packages")
    for what, n in report.counts.items():
        print(f"{what:28} {n:6} measured, worst off by {report.worst[what]:.6f}")
    for fault in report.faults[:40]:
        print("VIOLATION", fault)
    print(f"{len(report.faults)} violations")
    sys.exit(1 if report.faults else 0)


main()
