#!/usr/bin/env python3
"""Re-measures a kit that `frusta make` wrote, with libraries that have nothing to do with it.

    demo_kit.py KIT               measure; print counts; exit 1 on any violation
    demo_kit.py KIT --self-test   damage copies of KIT in known ways and exit 1 unless each damage is found
    --no-browser                  leave Chromium out (it is then said so, and counted as not measured)

Who measures what:
- two SVG readers, svgpathtools and svgelements (PyPI), read every outline; they must agree with each other;
- shapely (PyPI; GEOS) measures areas and distances: pieces on a sheet, outlines on the map, over the seam too;
- Chromium measures the template's physical size in CSS millimetres (CSS 2.1, 4.3.2: 1in = 2.54cm = 96px);
- xmllint holds every SVG to the SVG 1.1 DTD (W3C REC-SVG11-20110816, Debian package w3c-sgml-lib).

Every number to compare with comes from the kit's manifest.json. Formulas: lateral area of a cone frustum
(C1 + C2) s / 2 (closed form); the developed plane of design notes: x = r a sinc(ka), y = s cos(ka) - r0 a (1 - cos ka)/ka.
"""
import argparse
import json
import math
import re
import shutil
import subprocess
import sys
import tempfile
import xml.etree.ElementTree as ET
from pathlib import Path

import numpy as np
import shapely
import svgelements
import svgpathtools
from shapely import affinity
from shapely.geometry import Polygon
from shapely.ops import nearest_points
from shapely.strtree import STRtree

SVG = "{http://www.w3.org/2000/svg}"
# Coordinates are written to 0.001 mm and curves are flattened here to SAGITTA: distances may be off by this.
SLACK = 0.003
SAGITTA = 0.0004
NOT_TO_CUT = "do-not-cut"


class Report:
    """Counts what was measured and lists what is violated."""

    def __init__(self):
        self.counts = {}
        self.faults = []

    def count(self, what, n=1):
        self.counts[what] = self.counts.get(what, 0) + n

    def fault(self, kind, says):
        self.faults.append((kind, says))

    def hold(self, kind, ok, says):
        if not ok:
            self.fault(kind, says)
        return ok

    def kinds(self):
        return {k for k, _ in self.faults}

    def told(self):
        """Prints counts and violations; the exit code."""
        for what, n in self.counts.items():
            print(f"{n:>12}  {what}")
        for kind, says in self.faults[:60]:
            print(f"VIOLATED {kind}: {says}")
        print(f"{len(self.faults)} violations")
        return 1 if self.faults else 0


# ---- reading -----------------------------------------------------------------------------------------------------


def millimetres(text):
    m = re.fullmatch(r"([0-9.]+)mm", text or "")
    return float(m[1]) if m else None


def page(root, name, report):
    """Width and height in mm; the viewBox must say the same numbers from 0 0."""
    w, h = millimetres(root.get("width")), millimetres(root.get("height"))
    box = [float(v) for v in (root.get("viewBox") or "").split()]
    report.hold("page", w and h and box == [0.0, 0.0, w, h], f"{name}: width, height and viewBox differ: {root.attrib}")
    return w or 1.0, h or 1.0


def rings_of(d):
    """Closed rings of path data as point arrays, by svgpathtools."""
    path = svgpathtools.parse_path(d)
    rings = []
    for sub in path.continuous_subpaths():
        pts = []
        for seg in sub:
            b = np.array(seg.bpoints())
            if len(b) == 2:
                pts.append(b[:1])
                continue
            # Wang's bound on the chords of a cubic.
            bend = max(abs(b[0] - 2 * b[1] + b[2]), abs(b[1] - 2 * b[2] + b[3]))
            n = max(1, math.ceil(math.sqrt(6 * bend / (8 * SAGITTA))))
            t = np.arange(n) / n
            u = 1 - t
            pts.append(u**3 * b[0] + 3 * u * u * t * b[1] + 3 * u * t * t * b[2] + t**3 * b[3])
        ring = np.concatenate(pts)
        rings.append((np.column_stack([ring.real, ring.imag]), abs(sub[-1].end - sub[0].start) < 1e-9))
    return rings


def region(d, name, report):
    """The area that path data bounds, by even-odd; every ring must be closed and simple."""
    out = None
    subpaths, closes = len(re.findall(r"[Mm]", d)), len(re.findall(r"[Zz]", d))
    report.hold("closed", subpaths == closes, f"{name}: {subpaths} subpaths, {closes} of them closed")
    for ring, closed in rings_of(d):
        report.hold("closed", closed, f"{name}: a ring is open")
        p = Polygon(ring)
        if not p.is_valid:
            whole = p.buffer(0)
            report.hold(
                "simple", abs(whole.area - abs(p.area)) < 1e-3, f"{name}: a ring crosses itself: {shapely.is_valid_reason(p)}"
            )
            p = whole
        out = p if out is None else out.symmetric_difference(p)
        report.count("rings")
    return out


def paths_with_id(root, wanted):
    """{id: path data} of paths whose own id, or whose group's id, matches `wanted`."""
    found = {}
    for g in root.iter(SVG + "g"):
        for p in g.findall(SVG + "path"):
            for key in (p.get("id"), g.get("id")):
                if key and wanted(key):
                    found[key] = (found[key] + " " if key in found else "") + p.get("d")
                    break
    return found


def second_reader(file):
    """{id of path or group: (left, top, right, bottom) mm} by svgelements, at 25.4 px an inch: one px is one mm."""
    svg = svgelements.SVG.parse(str(file), ppi=25.4)
    found = {}

    def walk(node, key):
        if isinstance(node, svgelements.Group):
            for child in node:
                walk(child, node.id or key)
        elif isinstance(node, svgelements.Path):
            box = node.bbox()
            # A path without any segment has no box.
            for k in {node.id, key} - {None} if box else ():
                b = found.get(k)
                found[k] = box if b is None else (min(b[0], box[0]), min(b[1], box[1]), max(b[2], box[2]), max(b[3], box[3]))

    walk(svg, None)
    return (float(svg.width), float(svg.height)), found


def agree(file, size, regions, report):
    """Both readers see the same page and the same boxes."""
    (w, h), boxes = second_reader(file)
    report.hold("readers", abs(w - size[0]) < 1e-3 and abs(h - size[1]) < 1e-3, f"{file.name}: readers see pages {size} and {(w, h)}")
    for key, g in regions.items():
        if not report.hold("readers", key in boxes, f"{file.name}: the second reader does not see {key}"):
            continue
        off = max(abs(a - b) for a, b in zip(g.bounds, boxes[key]))
        report.hold("readers", off < 0.01, f"{file.name}: readers differ by {off:.4f} mm on {key}")
        report.count("outlines read by two readers")


# ---- the checks ---------------------------------------------------------------------------------------------------


def dtd(files, report):
    for f in files:
        run = subprocess.run(
            ["xmllint", "--noout", "--nonet", "--dtdvalidfpi", "-//W3C//DTD SVG 1.1//EN", str(f)], capture_output=True, text=True
        )
        report.hold("dtd", run.returncode == 0, f"{f.name}: {run.stderr.strip()[:300]}")
        report.count("files held to the SVG 1.1 DTD")


def sheets(kit, manifest, report):
    """Pieces on each sheet: spacing, margin, area. Gives {number: region in the piece's own frame}."""
    films = {f["name"]: f for f in manifest["films"]}
    areas = {p["number"]: p["area_mm2"] for p in manifest["pieces"]}
    keys = {n: sum(k.area for k in of) for n, of in keys_of(manifest).items()}
    own, least = {}, math.inf
    for s in manifest["sheets"]:
        file, film = kit / s["file"], films[s["film"]]
        root = ET.parse(file).getroot()
        w, h = page(root, s["file"], report)
        report.hold("page", abs(w - s["width_mm"]) < 2e-3 and abs(h - s["height_mm"]) < 2e-3, f"{s['file']}: not as wide and high as its manifest says")
        data = paths_with_id(root, lambda k: k != NOT_TO_CUT)
        report.hold("pieces", set(data) == {p["id"] for p in s["pieces"]}, f"{s['file']}: other pieces than the manifest says")
        regions = {k: region(d, f"{s['file']} {k}", report) for k, d in data.items()}
        agree(file, (w, h), regions, report)
        for p in s["pieces"]:
            g = regions.get(p["id"])
            if g is None:
                continue
            off = abs(g.area - keys.get(p["number"], 0.0) - areas[p["number"]])
            report.hold("area", off < 0.02 + 2e-4 * g.area, f"{s['file']} {p['id']}: {g.area:.3f} mm2, the manifest says {areas[p['number']]}")
            l, t, r, b = g.bounds
            inset = min(l, t, w - r, h - b)
            report.hold("margin", inset >= film["margin_mm"] - SLACK, f"{s['file']} {p['id']}: {inset:.3f} mm from the edge, margin {film['margin_mm']}")
            report.count("pieces on sheets")
            # Sheet to the piece's own frame: y up, out of its place, its turn taken back, mirror taken back.
            g = affinity.affine_transform(g, [1, 0, 0, -1, -p["x_mm"], h - p["y_mm"]])
            g = affinity.rotate(g, -p["turn_deg"], origin=(0, 0))
            g = affinity.scale(g, -1, 1, origin=(0, 0)) if s["mirrored"] else g
            if not p["spare"]:
                own[p["number"]] = without_keys(g, keys_of(manifest).get(p["number"], []))
        least = min(least, spaced(list(regions.items()), film["spacing_mm"], s["file"], report))
    report.counts["least distance on a sheet, mm"] = round(least, 3)
    return own


def keys_of(manifest):
    """{number: registration keys in the piece's own frame}: cut with a layer of a decal, and lifted off again."""
    decals = manifest.get("decals", [])
    return {
        n: [Polygon(k) for k in d["keys_mm"]] for d in decals for layer in d["layers"] for n in layer["pieces"]
    }


def without_keys(g, keys):
    """What stays on the wall: parts that are a key, corner by corner, are left out."""
    parts = list(getattr(g, "geoms", [g]))
    stays = [p for p in parts if not any(p.hausdorff_distance(k) < 0.01 for k in keys)]
    return shapely.unary_union(stays) if len(stays) < len(parts) else g


def spaced(items, spacing, name, report):
    keys, shapes = [k for k, _ in items], [g for _, g in items]
    tree, least = STRtree(shapes), math.inf
    for i, g in enumerate(shapes):
        for j in tree.query(g, predicate="dwithin", distance=spacing + 5.0):
            if j <= i:
                continue
            d = g.distance(shapes[j])
            least = min(least, d)
            report.count("pairs measured on sheets")
            report.hold("spacing", d >= spacing - SLACK, f"{name}: {keys[i]} and {keys[j]} are {d:.4f} mm apart, spacing {spacing}")
    return least


class Wall:
    """The developed plane, from the manifest's surface: front of the base edge at the origin, y up."""

    def __init__(self, manifest):
        f = manifest["cup"]["surface"]
        self.low, self.high = manifest["cup"]["film_from_mm"], manifest["cup"]["film_to_mm"]
        self.slant = f["slant_mm"]
        self.r0 = f["base_girth_mm"] / (2 * math.pi)
        self.k = (f["rim_girth_mm"] - f["base_girth_mm"]) / (2 * math.pi * self.slant)
        self.lateral = (f["rim_girth_mm"] + f["base_girth_mm"]) * self.slant / 2
        self.straight = abs(self.k) < 1e-7

    def at(self, azimuth_deg, up):
        a = math.radians(azimuth_deg)
        p = self.k * a
        if abs(p) < 1e-8:
            return (self.r0 + self.k * up) * a, up
        return (self.r0 + self.k * up) * a * math.sin(p) / p, up * math.cos(p) - self.r0 * a * (1 - math.cos(p)) / p

    def turned(self, g, n):
        """The same piece n times round the cup."""
        if self.straight:
            return affinity.translate(g, 2 * math.pi * self.r0 * n, 0)
        return affinity.rotate(g, -math.degrees(2 * math.pi * self.k) * n, origin=(0, -self.r0 / self.k))

    def ups(self, g):
        pts = shapely.get_coordinates(g)
        if self.straight:
            return pts[:, 1]
        d = np.hypot(pts[:, 0], pts[:, 1] + self.r0 / self.k)
        return math.copysign(1, self.k) * d - self.r0 / self.k


    def polar(self, pts):
        """Azimuth in degrees (not wrapped) and height of points of the plane near the front."""
        if self.straight:
            return np.degrees(pts[:, 0] / self.r0), pts[:, 1]
        apex = pts[:, 1] + self.r0 / self.k
        side = math.copysign(1.0, self.k)
        return np.degrees(np.arctan2(pts[:, 0], side * apex) / abs(self.k)), side * np.hypot(pts[:, 0], apex) - self.r0 / self.k

    def reach(self, g, azimuth):
        """How far an outline reaches round to either side of its middle, in degrees."""
        at = self.turned(g, -azimuth / 360)
        return float(np.abs(self.polar(shapely.get_coordinates(at))[0]).max())

    def apart(self, g, h, azimuth, reach):
        """Distance of two outlines on the wall; `h` is turned so that its middle lies `azimuth` from that of `g`.

        The plane is the wall only where two places are less than half a turn apart, and where it is wound round the
        apex by more than half of its own full angle, its distances are too small: then points are measured one by one.
        """
        d = g.distance(h)
        if self.straight or (abs(azimuth) + reach) * abs(self.k) <= 180:
            return d
        a, b = (shapely.get_coordinates(shapely.segmentize(x, 0.1)) for x in (g, h))
        (az, up), (bz, vp) = self.polar(a), self.polar(b)
        # polar() is wrapped by the plane's own full turn: undone by the known middle, then wrapped by the wall's.
        whole = 360 / abs(self.k)
        turn = (az[:, None] - bz[None, :] + azimuth + whole / 2) % whole - whole / 2 - azimuth
        turn = np.radians((turn + 180) % 360 - 180)
        ra, rb = self.r0 / abs(self.k) + math.copysign(1, self.k) * up, self.r0 / abs(self.k) + math.copysign(1, self.k) * vp
        s = ra[:, None] ** 2 + rb[None, :] ** 2 - 2 * ra[:, None] * rb[None, :] * np.cos(self.k * turn)
        return float(np.sqrt(max(0.0, s.min())))


def wall(kit, manifest, own, report):
    """Outlines on the map: as cut, where the manifest says, clear of each other and of the bands, over the seam too."""
    surface = Wall(manifest)
    file = kit / "map" / "map.svg"
    root = ET.parse(file).getroot()
    w, h = page(root, "map.svg", report)
    data = paths_with_id(root, lambda k: re.fullmatch(r"o\d+", k) is not None)
    everything = {p["number"] for p in manifest["pieces"]}
    report.hold("pieces", set(own) == everything, f"pieces on no sheet: {sorted(everything - set(own))}")
    # Pieces of the base are on no wall.
    pieces = {p["number"]: dict(p) for p in manifest["pieces"] if p["kind"]["is"] != "base"}
    # The map unrolls the wall from seam to seam.
    # By less than half a turn: on a steep wall a whole turn more comes down elsewhere on the plane.
    middle = manifest["cup"]["seam_azimuth_deg"] % 360 - 180
    for p in pieces.values():
        p["manifest_azimuth_deg"] = p["azimuth_deg"]
        p["azimuth_deg"] = middle + (p["azimuth_deg"] - middle + 180) % 360 - 180
    own = {n: g for n, g in own.items() if n in pieces}
    report.hold("pieces", set(data) == {f"o{n}" for n in pieces}, "map.svg: other pieces than the manifest says")
    drawn = {k: region(d, f"map.svg {k}", report) for k, d in data.items()}
    agree(file, (w, h), drawn, report)
    drawn = {int(k[1:]): affinity.affine_transform(g, [1, 0, 0, -1, 0, h]) for k, g in drawn.items()}

    # Where the manifest says, by the wall's numbers; and the plane's numbers beside them.
    there = {}
    for n, p in pieces.items():
        x, y = surface.at(p["manifest_azimuth_deg"], p["up_mm"])
        off = math.hypot(x - p["plane_x_mm"], y - p["plane_y_mm"])
        report.hold("plane", off < 0.01, f"piece {n}: wall and plane positions differ by {off:.4f} mm")
        x, y = surface.at(p["azimuth_deg"], p["up_mm"])
        if n in own:
            g = affinity.rotate(own[n], p["turn_deg"] - math.degrees(surface.k * math.radians(p["azimuth_deg"])), origin=(0, 0))
            there[n] = affinity.translate(g, x, y)
    both = sorted(set(there) & set(drawn))
    aligned(surface, middle, pieces, drawn, there, both)
    for n in both:
        off = drawn[n].hausdorff_distance(there[n])
        report.hold("map", off < 0.03, f"piece {n}: the map and the sheet's outline put where the manifest says differ by {off:.3f} mm")
        lack = abs(drawn[n].area - own[n].area)
        report.hold("area", lack < 0.02 + 2e-4 * own[n].area, f"piece {n}: {drawn[n].area:.3f} mm2 on the map, {own[n].area:.3f} on the sheet")
        report.count("pieces alike on map and sheet")

    clear(surface, drawn, pieces, report)
    for n, g in drawn.items():
        ups = surface.ups(g)
        out = max(surface.low - ups.min(), ups.max() - surface.high)
        report.hold("bands", out <= SLACK, f"piece {n}: {out:.3f} mm into a keep-clear band")
        report.count("pieces held clear of rim and base")
    return drawn


def aligned(surface, middle, pieces, drawn, there, both):
    """Carries the map's outlines to the plane of the manifest; a piece on the seam may be drawn at either end."""
    if not both:
        return
    # The wall opposite the seam stands upright on the map.
    upright = math.degrees(surface.k * math.radians(middle)) if not surface.straight else 0.0
    for n in both:
        drawn[n] = affinity.rotate(drawn[n], -upright, origin=(0, 0))
    centre = lambda g: np.array([g.centroid.x, g.centroid.y])
    inner = [n for n in both if abs(pieces[n]["azimuth_deg"] - middle) < 175] or both
    if inner is both:
        # All lie on the seam: drawn at one of its ends, turned as the plane is turned there.
        def off(t):
            g = surface.turned(there[both[0]], t)
            return affinity.translate(drawn[both[0]], *(centre(g) - centre(drawn[both[0]]))).hausdorff_distance(g)
        turn = min((0, -1, 1), key=off)
        for n in both if turn else ():
            there[n] = surface.turned(there[n], turn)
            pieces[n]["azimuth_deg"] += 360 * turn
    move = np.median([centre(there[n]) - centre(drawn[n]) for n in inner], axis=0)
    for n in drawn:
        drawn[n] = affinity.translate(drawn[n], *move)
    for n in both:
        turn = min((0, -1, 1), key=lambda t: drawn[n].hausdorff_distance(surface.turned(there[n], t)) + 1e-9 * abs(t))
        if turn:
            there[n] = surface.turned(there[n], turn)
            pieces[n]["azimuth_deg"] += 360 * turn


def layered(piece):
    """The decal that a piece is a layer of."""
    return piece["kind"].get("decal")


def clear(surface, drawn, pieces, report):
    numbers = sorted(drawn)
    reach = max((pieces[n]["clearance_mm"] for n in numbers), default=0.0) + 3.0
    entries = [(n, turn, surface.turned(drawn[n], turn)) for turn in (-1, 0, 1) for n in numbers]
    reaches = {n: surface.reach(drawn[n], pieces[n]["azimuth_deg"]) for n in numbers}
    tree, least, seam = STRtree([e[2] for e in entries]), math.inf, 0
    for n in numbers:
        for j in tree.query(drawn[n], predicate="dwithin", distance=reach):
            m, turn, g = entries[j]
            if m < n or (m == n and turn <= 0):
                continue
            # Layers of one decal lie on each other; decal_kit.py measures them.
            if layered(pieces[n]) is not None and layered(pieces[n]) == layered(pieces[m]):
                continue
            # Copies more than half a turn away lie where there is no wall.
            round_by = pieces[m]["azimuth_deg"] + 360 * turn - pieces[n]["azimuth_deg"]
            wide = reaches[n] + reaches[m]
            if abs(round_by) - wide > 180:
                report.count("pairs left out: more than half a turn apart")
                continue
            d = surface.apart(drawn[n], g, round_by, wide)
            least = min(least, d)
            if pieces[n].get("pass") != pieces[m].get("pass"):
                report.count("pairs of two passes left out: one lies over the other")
                continue
            asked = max(pieces[n]["clearance_mm"], pieces[m]["clearance_mm"])
            # A tint lies in the opening of its own spot: clear of it, but not by the gap between spots.
            if turn == 0 and pieces[m]["kind"].get("of") == n:
                asked = 2 * SLACK
            report.count("pairs measured on the wall")
            seam += turn != 0
            where = " over the seam" if turn else ""
            report.hold("clearance", d >= asked - SLACK, f"pieces {n} and {m}{where} are {d:.4f} mm apart, clearance {asked}")
    report.counts["pairs measured over the seam"] = seam
    report.counts["least distance on the wall, mm"] = round(least, 3)


def template(kit, manifest, browser, report):
    """Area of the developed band, and its size as three readers see it."""
    file = kit / "template" / "wrap.svg"
    root = ET.parse(file).getroot()
    size = page(root, "wrap.svg", report)
    data = paths_with_id(root, lambda k: k == "outline").get("outline")
    if not report.hold("template", data is not None, "wrap.svg: no outline"):
        return
    g = region(data, "wrap.svg outline", report)
    agree(file, size, {"outline": g}, report)
    surface, lap = Wall(manifest), manifest["cup"]["lap_mm"]
    asked = surface.lateral + lap * surface.slant
    report.hold("template", abs(g.area - asked) < 2e-4 * asked, f"wrap.svg: {g.area:.2f} mm2, the wall has {asked:.2f}")
    report.counts["template area, mm2"] = round(g.area, 1)
    report.counts["lateral area (C1 + C2) s / 2, mm2"] = round(asked, 1)
    if not browser:
        report.counts["sizes seen by Chromium"] = "not measured"
        return
    for f, key in [(file, "outline"), *[(kit / s["file"], None) for s in manifest["sheets"][:2]]]:
        seen = chromium(f, key)
        root = ET.parse(f).getroot()
        w, h = page(root, f.name, report)
        want = (w, h, *(np.subtract(g.bounds[2:], g.bounds[:2]) if key else (w, h)))
        off = max(abs(a - b) for a, b in zip(seen, want))
        report.hold("browser", off < 0.05, f"{f.name}: Chromium sees {seen} mm, the readers {tuple(round(float(v), 3) for v in want)}")
        report.count("sizes seen by Chromium")


def chromium(file, key):
    """Width and height in mm of the drawing on a page of Chromium's, and of the element with id `key`."""
    svg = re.sub(r"<\?xml.*?\?>", "", file.read_text(), count=1)
    pick = f"document.getElementById('{key}')" if key else "document.querySelector('svg')"
    html = (
        "<!doctype html><meta charset=utf-8><body style='margin:0'>" + svg + "<script>"
        "const r=document.querySelector('svg').getBoundingClientRect(), q=" + pick + ";"
        "const b=q.getBBox?.(), m=q.getScreenCTM?.();"
        f"const s={'[b.width*m.a,b.height*m.d]' if key else '[r.width,r.height]'};"
        "document.title=JSON.stringify([r.width,r.height,...s].map(v=>v*25.4/96));</script>"
    )
    with tempfile.TemporaryDirectory() as folder:
        at = Path(folder) / "page.html"
        at.write_text(html)
        run = subprocess.run(
            ["chromium", "--headless", "--no-sandbox", "--disable-gpu", f"--user-data-dir={folder}/profile", "--dump-dom", at.as_uri()],
            capture_output=True, text=True, timeout=120,
        )
    m = re.search(r"<title>(\[[^<]*\])</title>", run.stdout)
    return tuple(json.loads(m[1])) if m else (0.0, 0.0, 0.0, 0.0)


def measure(kit, browser=True):
    report = Report()
    manifest = json.loads((kit / "manifest.json").read_text())
    files = sorted(kit.rglob("*.svg"))
    report.hold("pieces", bool(files), "the kit holds no SVG")
    missing = [f for f in manifest["files"] if not (kit / f).is_file()]
    report.hold("files", not missing, f"files of the manifest that are not there: {missing}")
    dtd(files, report)
    own = sheets(kit, manifest, report)
    wall(kit, manifest, own, report)
    template(kit, manifest, browser, report)
    return report


# ---- the self-test: damage that must be found ---------------------------------------------------------------------


def edit(file, change):
    text = file.read_text()
    new = change(text)
    assert new != text, f"the self-test could not damage {file.name}"
    file.write_text(new)


def shifted(d, dx, dy):
    """Path data moved: numbers come in pairs, all commands are absolute."""
    numbers = iter(range(10**9))
    return re.sub(r"-?\d+\.?\d*", lambda m: f"{float(m[0]) + (dy if next(numbers) % 2 else dx):.3f}", d)


def move(group, dx, dy):
    return lambda text: re.sub(
        rf'(<g id="{group}">.*?<path[^>]*? d=")([^"]*)', lambda m: m[1] + shifted(m[2], dx, dy), text, count=1, flags=re.S
    )


def move_outline(key, dx, dy):
    """The same for one path by its id; attributes are in the order of the alphabet."""
    return lambda text: re.sub(
        rf'(<path d=")([^"]*)("[^>]* id="{key}")', lambda m: m[1] + shifted(m[2], dx, dy) + m[3], text, count=1
    )


def self_test(kit):
    manifest = json.loads((kit / "manifest.json").read_text())
    sheet = max(manifest["sheets"], key=lambda s: len(s["pieces"]))
    cut, first = sheet["file"], sheet["pieces"][0]["id"]
    number = manifest["pieces"][0]["number"]
    root = ET.parse(kit / cut).getroot()
    data = paths_with_id(root, lambda k: k != NOT_TO_CUT)
    shapes = {k: region(d, k, Report()) for k, d in data.items()}
    other = min((k for k in shapes if k != first), key=lambda k: shapes[first].distance(shapes[k]))
    a, b = nearest_points(shapes[first], shapes[other])
    spacing = next(f["spacing_mm"] for f in manifest["films"] if f["name"] == sheet["film"])
    apart = a.distance(b)
    part = (apart - spacing + 0.05) / apart
    near = ((b.x - a.x) * part, (b.y - a.y) * part)
    outline = lambda text, f: re.sub(r'(<path[^>]*id="outline"[^>]*>)', lambda m: f(m[1]), text, count=1)
    inflate = lambda d: re.sub(r"-?\d+\.\d+|-?\d+", lambda m: f"{float(m[0]) * 1.003:.3f}", d)
    grown = lambda text: outline(text, lambda tag: re.sub(r' d="([^"]*)"', lambda m: f' d="{inflate(m[1])}"', tag))
    seam = next((p["number"] for p in manifest["pieces"] if abs(abs(p["azimuth_deg"]) - 180) < 30), number)
    damages = [
        ("a piece moved 0.05 mm into its neighbour's spacing", cut, move(first, *near), {"spacing", "map"}),
        ("a piece moved off the sheet", cut, move(first, -400, 0), {"margin", "map"}),
        ("an open outline", cut, lambda t: re.sub(r' ?Z"', '"', t, count=1), {"closed"}),
        ("a piece left out", cut, lambda t: re.sub(rf'<g id="{first}">.*?</g>', "", t, count=1, flags=re.S), {"pieces"}),
        ("a width that is not the viewBox's", cut, lambda t: re.sub(r'width="([0-9.]+)mm"', lambda m: f'width="{float(m[1]) * 1.05:.3f}mm"', t, count=1), {"page"}),
        ("an element that SVG does not know", cut, lambda t: t.replace("</svg>", "<slot/></svg>"), {"dtd"}),
        ("an outline on the map moved by 0.05 mm", "map/map.svg", move_outline(f"o{number}", 0.05, 0), {"map"}),
        ("an outline near the seam moved by 12 mm", "map/map.svg", move_outline(f"o{seam}", 12, 0), {"map", "clearance"}),
        ("a template grown by 0.3 percent", "template/wrap.svg", grown, {"template"}),
        ("a clearance that was not kept", "manifest.json", lambda t: re.sub(r'"clearance_mm": [0-9.]+', '"clearance_mm": 9.5', t), {"clearance"}),
        ("a piece area that is not the outline's", "manifest.json", lambda t: re.sub(r'("number": 1,\s*"kind".*?"area_mm2": )([0-9.]+)', lambda m: f"{m[1]}{float(m[2]) + 1.5}", t, count=1, flags=re.S), {"area"}),
        ("a sweep that is not the wall's", "manifest.json", lambda t: re.sub(r'("surface": \{\s*"rim_girth_mm": )([0-9.]+)', lambda m: f"{m[1]}{float(m[2]) + 2}", t, count=1), {"plane", "template"}),
    ]
    missed = 0
    for what, name, change, kinds in damages:
        with tempfile.TemporaryDirectory() as folder:
            copy = Path(folder) / "kit"
            shutil.copytree(kit, copy)
            edit(copy / name, change)
            found = measure(copy, browser=False).kinds()
        ok = kinds <= found
        missed += not ok
        print(f"{'found ' if ok else 'MISSED'}  {what}: asked for {sorted(kinds)}, found {sorted(found)}")
    print(f"{len(damages) - missed} of {len(damages)} damages found")
    return missed == 0


def main():
    args = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    args.add_argument("kit", type=Path)
    args.add_argument("--self-test", action="store_true")
    args.add_argument("--no-browser", action="store_true")
    a = args.parse_args()
    if a.self_test:
        sys.exit(0 if self_test(a.kit) else 1)
    report = measure(a.kit, browser=not a.no_browser)
    sys.exit(report.told())


if __name__ == "__main__":
    main()
