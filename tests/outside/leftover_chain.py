"""What one job leaves over serves the next, through the files alone: a kit is made, the next job names its
`leftovers/*.svg`, and what that job cuts is measured against the leftover and against all that the first job cut.
By shapely and svgelements, which had no part in the making.

Usage: python tests/outside/leftover_chain.py FRUSTA       (the program; needs shapely and svgelements)
"""

import json
import pathlib
import re
import shutil
import subprocess
import sys
import tempfile
import xml.etree.ElementTree as xml

from shapely.affinity import translate
from shapely.geometry import Polygon
from svgelements import Close, Line, Move, Path

HERE = pathlib.Path(__file__).resolve().parents[2]
SVG = "{http://www.w3.org/2000/svg}"
# Curves are measured by chords this fine; chords and three decimals together are within this, mm.
STEPS, NEAR = 24, 0.02


def region(d):
    """The area that a path encloses by the even-odd rule."""
    area = Polygon()
    for sub in Path(d).as_subpaths():
        points = []
        for part in Path(sub):
            if isinstance(part, Move):
                points.append((part.end.x, part.end.y))
            elif isinstance(part, (Line, Close)):
                points.append((part.end.x, part.end.y))
            else:
                points += [(p.x, p.y) for p in (part.point(i / STEPS) for i in range(1, STEPS + 1))]
        area = area.symmetric_difference(Polygon(points).buffer(0))
    return area


def page(path):
    root = xml.parse(path).getroot()
    return root, float(root.get("viewBox").split()[3])


def pieces(path):
    """What a cut file cuts, by number, y up."""
    root, height = page(path)
    out = {}
    for group in root.iter(SVG + "g"):
        if re.fullmatch(r"p\d+.*", group.get("id") or ""):
            flat = region(" ".join(p.get("d") for p in group.iter(SVG + "path")))
            out[group.get("id")] = flip(flat, height)
    return out


def flip(area, height):
    from shapely.affinity import scale

    return translate(scale(area, 1, -1, origin=(0, 0)), 0, height)


def outline(path):
    root, height = page(path)
    data = next(p.get("d") for p in root.iter(SVG + "path") if p.get("id") == "leftover")
    return flip(region(data), height)


def make(program, job, kit):
    told = subprocess.run([program, "make", job, "--out", kit], capture_output=True, text=True)
    if told.returncode:
        sys.exit(f"{job}: {told.stderr}")
    return json.loads((kit / "manifest.json").read_text())


def main():
    program = str(pathlib.Path(sys.argv[1]).resolve())
    with tempfile.TemporaryDirectory() as folder:
        folder = pathlib.Path(folder)
        one, two = folder / "one", folder / "two"
        shutil.copytree(HERE / "demo-data/first-cup", one)
        text = (one / "job.toml").read_text()
        # A larger sheet, so that a good part of it is left over.
        assert "sheet = [200, 150]" in text
        (one / "job.toml").write_text(text.replace("sheet = [200, 150]", "sheet = [300, 260]"))
        first = make(program, one, folder / "kit-1")
        left = [l for s in first["sheets"] for l in s["leftovers"]]
        files = sorted((folder / "kit-1/leftovers").glob("*.svg"))
        assert files, "the first job leaves something over"
        shutil.copytree(one, two)
        shutil.copytree(folder / "kit-1/leftovers", two / "leftovers")
        names = ", ".join(f'"leftovers/{f.name}"' for f in files)
        (two / "job.toml").write_text(
            text.replace("sheet = [200, 150]", f"sheet = [300, 260]\nleftovers = [{names}]")
        )
        second = make(program, two, folder / "kit-2")
        taken = [s for s in second["sheets"] if s["taken_from"] != "bought"]
        assert taken, [s["taken_from"] for s in second["sheets"]]
        margin = 5.0
        cut = 0
        for sheet in taken:
            name = next(f for f in files if f.name in json.dumps(sheet["taken_from"]))
            shape = outline(name)
            # Where the leftover lay on its sheet: its file says it for people, the manifest for programs.
            says = page(name)[0].find(SVG + "desc").text
            x, y = map(float, re.search(r"from ([\d.]+) mm right and ([\d.]+) mm up", says).groups())
            before = pieces(folder / "kit-1" / first["sheets"][0]["file"])
            for number, piece in pieces(folder / "kit-2" / sheet["file"]).items():
                cut += 1
                assert shape.contains(piece), f"{number} is not on the leftover"
                far = shape.boundary.distance(piece)
                assert far >= margin - NEAR, f"{number} is {far:.3f} mm from the leftover's edge"
                home = translate(piece, x, y)
                near = min(home.distance(p) for p in before.values())
                assert near >= margin - 0.1, f"{number} is {near:.3f} mm from a cut of the first job"
        whole = len(second["pieces"])
        bought = sum(len(s["pieces"]) for s in second["sheets"] if s["taken_from"] == "bought")
        assert cut + bought == whole, f"{cut} + {bought} of {whole}"
        # What is no leftover is told by name, and nothing is written.
        (two / "leftovers" / files[0].name).write_text('<svg xmlns="http://www.w3.org/2000/svg" width="9mm" height="9mm"/>')
        bad = subprocess.run([program, "make", two, "--out", folder / "kit-3"], capture_output=True, text=True)
        assert bad.returncode == 1 and files[0].name in bad.stderr, bad.stderr
        assert not (folder / "kit-3").exists()
        print(f"{len(left)} leftovers, {cut} of {whole} pieces of the next job cut from them, {bought} from bought film: all inside, all clear")


if __name__ == "__main__":
    main()
