#!/usr/bin/env python3
"""Measures kits whose films are laid in panels or woven, from outside: shapely (GEOS), numpy.

    panels.py KIT [--job FOLDER] [--draws N]   measure one kit; exit 1 on any violation
    panels.py KIT --job FOLDER --self-test     damage copies of KIT in known ways; exit 1 unless each is found
    panels.py --frusta PROGRAM --seed S --count N [--draws N]
                                               random jobs: both tapers, over the seam, one to four films

What is measured: every piece of the wall in exactly one laying; pieces of a panel moved from the wall to the sheet by one
rigid motion (distances of their anchors and their turns, from the manifest's decimals, and the outlines of the cut files
on each other); borders between panels of a film; sizes; marks clear of all film, cut with their panel; layings told. What
becomes of gaps: the marks of all panels read at random within `read` (half of the readings as far off as may be), every
panel laid by its first two, outlines moved and measured: none below what is told. Woven sheets: hops counted again.
The development is demo_kit.py's closed form: x = r a sinc(ka), y = s cos(ka) - r0 a (1 - cos ka) / ka.
"""
import argparse
import json
import math
import random
import re
import subprocess
import sys
import tempfile
import tomllib
from collections import Counter
from pathlib import Path

import numpy as np
import shapely
from shapely.affinity import affine_transform
from shapely.geometry import Polygon

import campaign
from orders import NEAR, groups, rings, undone

# Anchors on the sheet are told to .001 mm, on the wall to .001 mm: two of each.
DECIMALS = 0.004
# Turns are told to 4 decimals of a degree.
TURN = 0.002
# Room of a mark to all film: common practice, no source; and its corner beside its middle (legs of 2 mm).
ROOM, LEG = 0.4, 2.0


class Report:
    """Faults by kind, as campaign.py counts them."""

    def __init__(self):
        self.faults, self.counts, self.worst = [], Counter(), {}

    def hold(self, kind, ok, says):
        if not ok:
            self.faults.append((kind, says))
        return ok

    def least(self, what, v):
        self.worst[what] = min(self.worst.get(what, math.inf), v)

    def told(self):
        for kind, says in self.faults[:20]:
            print(f"  FAULT {kind}: {says}")
        print("  counts", dict(self.counts), "worst", {k: round(v, 4) for k, v in self.worst.items()})
        return not self.faults


class Wall:
    """The development of a wall of one cone."""

    def __init__(self, cup):
        s = cup["surface"]
        self.k = (s["rim_girth_mm"] - s["base_girth_mm"]) / s["slant_mm"] / math.tau
        self.r0 = s["base_girth_mm"] / math.tau

    def develop(self, degrees, up):
        a = math.radians(degrees)
        z = self.k * a
        r = self.r0 + self.k * up
        sinc = math.sin(z) / z if abs(z) > 1e-9 else 1 - z * z / 6
        vers = (1 - math.cos(z)) / z if abs(z) > 1e-9 else z / 2
        return np.array([r * a * sinc, up * math.cos(z) - self.r0 * a * vers])

    def placed(self, area, degrees, up, turn):
        """An outline in its own frame, put on the plane: y up the wall, then turned."""
        x, y = self.develop(degrees, up)
        t = math.radians(turn) - self.k * math.radians(degrees)
        c, s = math.cos(t), math.sin(t)
        return affine_transform(area, [c, -s, s, c, x, y])

    def radius(self, up):
        return self.r0 + self.k * up


def read(kit, job=None):
    m = json.loads((kit / "manifest.json").read_text())
    pieces = {p["number"]: p for p in m["pieces"]}
    laying = m.get("laying") or {"panels": [], "layings": None}
    text = tomllib.loads((job / "job.toml").read_text()) if job else {}
    together = {"border": 1.0, "on-carrier": 0.2, **text.get("gathered", {})}
    asked = {
        f["name"]: together if f.get("lay") == "gathered" else f.get("panel", {}) for f in text.get("film", [])
    }
    return m, pieces, laying, asked


def cuts(kit, m):
    """Each piece's outline on its sheet, without the marks cut with it, in its own frame; its place there; marks."""
    first = {p["pieces"][0]: p for p in (m.get("laying") or {"panels": []})["panels"]}
    own, place, marks = {}, {}, {}
    layers = {p["number"] for p in m["pieces"] if p["kind"]["is"] == "layer"}
    for sheet in m["sheets"]:
        found, _ = groups(kit / sheet["file"])
        for p in sheet["pieces"]:
            if p["spare"] or p["id"] not in found or p.get("cup", 0) > 1:
                continue
            area = found[p["id"]][1]
            if p["number"] in first and first[p["number"]]["marks"]:
                parts = sorted(getattr(area, "geoms", [area]), key=lambda g: g.area)
                n = len(first[p["number"]]["marks"])
                marks[p["number"]] = parts[:n]
                area = shapely.unary_union(parts[n:])
            if p["number"] in layers:
                # Keys of a decal, a square and a triangle, are lifted off again.
                kept = [g for g in getattr(area, "geoms", [area]) if len(g.simplify(1e-3).exterior.coords) > 5]
                area = shapely.unary_union(kept or [area])
            own[p["number"]] = undone(area, p, sheet["mirrored"])
            place[p["number"]] = (p, sheet)
    return own, place, marks


def on_wall(pieces, own, wall):
    """Outlines on the plane, by number: those that go on the wall."""
    out = {}
    for n, p in pieces.items():
        if p["kind"]["is"] != "base" and n in own:
            out[n] = wall.placed(own[n], p["azimuth_deg"], p["up_mm"], p["turn_deg"])
    return out


def lifted(p, own, wall, turns):
    return wall.placed(own, p["azimuth_deg"] + 360 * turns, p["up_mm"], p["turn_deg"])


def rigid(panel, pieces, place, wall, report):
    name = f"{panel['film']} panel {panel['number']}"
    if len({place[n][1]["name"] for n in panel["pieces"] if n in place}) != 1:
        report.hold("rigid", False, f"{name}: on several sheets")
        return
    sheet = place[panel["pieces"][0]][1]
    at = [np.array([place[n][0]["x_mm"], place[n][0]["y_mm"]]) for n in panel["pieces"]]
    there = [
        wall.develop(pieces[n]["azimuth_deg"] + 360 * k, pieces[n]["up_mm"])
        for n, k in zip(panel["pieces"], panel["turns"])
    ]
    turns = []
    for n, k in zip(panel["pieces"], panel["turns"]):
        p = pieces[n]
        plane = p["turn_deg"] - wall.k * (p["azimuth_deg"] + 360 * k)
        turns.append(place[n][0]["turn_deg"] + plane if sheet["mirrored"] else place[n][0]["turn_deg"] - plane)
    for i in range(len(at)):
        for j in range(i):
            off = abs(np.linalg.norm(at[i] - at[j]) - np.linalg.norm(there[i] - there[j]))
            report.counts["distances within panels"] += 1
            report.hold("rigid", off <= DECIMALS, f"{name}: pieces {panel['pieces'][i]} and {panel['pieces'][j]}: {off:.4f} mm")
        wrong = (turns[i] - turns[0] + 180) % 360 - 180
        # The plane turns by k times an azimuth told to 4 decimals.
        report.hold("rigid", abs(wrong) <= TURN, f"{name}: piece {panel['pieces'][i]} is turned by {wrong:.4f} degrees")


def laid_with(panel):
    """What a panel is laid with: parts of a gathered one are laid together."""
    return ("gathered", panel["number"]) if "taken_up" in panel else (panel["film"], panel["number"])


def layings_of(laying):
    """Panels by what is laid at once, parts in the order in which a carrier takes them up."""
    out = {}
    for p in sorted(laying["panels"], key=lambda p: p.get("taken_up", 1)):
        out.setdefault(laid_with(p), []).append(p)
    return out


def moved(area, to):
    (c, s), (x, y) = to
    return affine_transform(area, [c, -s, s, c, x, y])


def motion(wanted, got):
    """The rigid motion that takes the line between two marks to that between their readings, middle to middle."""
    (p, q), (a, b) = wanted, got
    t = math.atan2(*(b - a)[::-1]) - math.atan2(*(q - p)[::-1])
    c, s = math.cos(t), math.sin(t)
    middle, to = (p + q) / 2, (a + b) / 2
    return (c, s), (to[0] - c * middle[0] + s * middle[1], to[1] - s * middle[0] - c * middle[1])


def reading(at, r, rng):
    a = rng.uniform(0, math.tau)
    d = r if rng.random() < 0.5 else r * math.sqrt(rng.random())
    return at + d * np.array([math.cos(a), math.sin(a)])


def gaps(laying, pieces, own, wall, asked, draws, report):
    """Panels laid by readings of their marks at random: the least gap that comes of it against what is told."""
    narrowest = laying.get("narrowest")
    if narrowest is None:
        return
    rng = random.Random(7)
    panel_of = {n: (i, k) for i, p in enumerate(laying["panels"]) for n, k in zip(p["pieces"], p["turns"])}
    layer = {n for n, p in pieces.items() if p["kind"]["is"] == "layer"}
    drawn = on_wall(pieces, own, wall)
    numbers = list(drawn)
    copies = [(n, k, lifted(pieces[n], own[n], wall, k)) for n in numbers for k in (-1, 0, 1)]
    tree = shapely.STRtree([c[2] for c in copies])
    pairs = []
    for n in numbers:
        for j in tree.query(drawn[n].buffer(narrowest["left_mm"] + 2.5)):
            o, k, area = copies[j]
            same = n in panel_of and o in panel_of and panel_of[n][0] == panel_of[o][0]
            if o <= n or same or (n in layer and o in layer) or not (n in panel_of or o in panel_of):
                continue
            if abs(math.radians(pieces[n]["azimuth_deg"] - pieces[o]["azimuth_deg"] - 360 * k) * wall.k) >= math.pi:
                continue
            d = drawn[n].distance(area)
            if d > 0:
                pairs.append((d, n, o, k))
    pairs.sort()
    # Those that are nearest, and the ones that the program names.
    chosen = pairs[:60] + [p for p in pairs if {p[1], p[2]} == set(narrowest["pieces"])]
    key_of = {n: laid_with(laying["panels"][i]) for n, (i, _) in panel_of.items()}
    carried = laying.get("narrowest_on_carrier")
    on_one = [p for p in pairs if p[1] in key_of and key_of[p[1]] == key_of.get(p[2])]
    report.hold("promise", bool(carried) == bool(on_one), "films on one carrier, and nothing told of them")
    if carried:
        named = [p for p in on_one if {p[1], p[2]} == set(carried["pieces"])]
        report.hold("promise", bool(named), "the narrowest gap on a carrier is no gap")
        chosen += on_one[:30] + named
    report.hold("promise", any({p[1], p[2]} == set(narrowest["pieces"]) for p in chosen), "the narrowest gap is no gap")
    least, least_carried = math.inf, math.inf
    for _ in range(draws):
        motions, on_wall_of = {}, {}
        for i, p in enumerate(laying["panels"]):
            if len(p["marks"]) >= 2:
                at = [mark_on_plane(p, m, wall) for m in p["marks"][:2]]
                spec = asked.get(p["film"], {})
                # A carrier's marks are read once on the wall; those of a later film once on the carrier.
                whole = laid_with(p)
                if whole not in on_wall_of:
                    on_wall_of[whole] = motion(at, [reading(q, spec.get("read", 0.3), rng) for q in at])
                steps = [on_wall_of[whole]]
                if p.get("taken_up", 1) > 1:
                    steps.insert(0, motion(at, [reading(q, spec["on-carrier"], rng) for q in at]))
                motions[i] = steps
        for _, n, o, k in chosen:
            a, b = drawn[n], lifted(pieces[o], own[o], wall, k)
            # Each is moved where its panel lies: the one's lift is undone.
            a = shifted(a, n, 0, panel_of, motions, wall)
            b = shifted(b, o, k, panel_of, motions, wall)
            least = min(least, a.distance(b))
            if n in key_of and key_of[n] == key_of.get(o):
                least_carried = min(least_carried, a.distance(b))
            report.counts["gaps drawn"] += 1
    report.least("gap drawn, mm", least)
    report.least("gap told, mm", narrowest["left_mm"])
    if carried:
        report.least("gap drawn on a carrier, mm", least_carried)
        report.least("gap told on a carrier, mm", carried["left_mm"])
        report.hold("promise", least_carried >= carried["left_mm"] - NEAR, f"a gap of {least_carried:.3f} on a carrier, told {carried['left_mm']}")
    report.hold("promise", least >= narrowest["left_mm"] - NEAR, f"a gap of {least:.3f}, told {narrowest['left_mm']}")


def mark_on_plane(panel, mark, wall):
    """A mark beside its panel, lifted as the panel's frame says."""
    a = math.radians(panel["plane_turn_deg"])
    c, s = math.cos(a), math.sin(a)
    x, y = mark["panel_x_mm"], mark["panel_y_mm"]
    return np.array([panel["plane_x_mm"] + c * x - s * y, panel["plane_y_mm"] + s * x + c * y])


def rotation(wall, turns):
    """A turn of the cup, as a motion of the plane."""
    at = wall.develop(360.0 * turns, 0.0)
    t = -wall.k * math.tau * turns
    return (math.cos(t), math.sin(t)), tuple(at)


def shifted(area, n, lift, panel_of, motions, wall):
    """An outline of piece n, lifted by `lift` turns, as it lies when its panel is laid by a motion."""
    if n not in panel_of or panel_of[n][0] not in motions:
        return area
    i, own = panel_of[n]
    area = moved(area, rotation(wall, own - lift))
    for step in motions[i]:
        area = moved(area, step)
    return moved(area, rotation(wall, lift - own))


def measure(kit, job=None, draws=60):
    report = Report()
    m, pieces, laying, asked = read(kit, job)
    wall = Wall(m["cup"])
    own, place, cut_marks = cuts(kit, m)
    on = {n for n, p in pieces.items() if p["kind"]["is"] != "base"}
    times = Counter(n for p in laying["panels"] for n in p["pieces"])
    report.hold("laying", all(v == 1 for v in times.values()) and set(times) <= on, "a piece is in two panels, or in none's film")
    for p in laying["panels"]:
        report.counts["panels"] += 1
        report.hold("laying", {pieces[n]["film"] for n in p["pieces"]} == {p["film"]}, f"{p['film']} {p['number']}: other films")
        report.hold("laying", all(pieces[n]["kind"]["is"] != "layer" for n in p["pieces"]), "a layer in a panel")
    report.counts["singles"] += len(on) - len(times)
    if laying["layings"] is not None:
        told = laying["layings"]
        laid = layings_of(laying)
        report.hold("laying", told == len(laid) + len(on) - len(times), f"{told} layings told")
        taken = sum(len(parts) for parts in laid.values() if len(parts) > 1)
        report.hold("laying", laying.get("gatherings", 0) == taken, f"{laying.get('gatherings')} gatherings told, {taken} found")
        report.counts["gatherings"] += taken
        for key, parts in laid.items():
            films = [p["film"] for p in parts]
            order = [p.get("taken_up", 1) for p in parts]
            frame = {tuple(p[k] for k in ("plane_x_mm", "plane_y_mm", "plane_turn_deg")) for p in parts}
            same = len(set(films)) == len(films) and order == list(range(1, len(parts) + 1)) and len(frame) == 1
            same = same and all(p["marks"] == parts[0]["marks"] for p in parts)
            report.hold("carrier", same, f"{key}: parts do not lie on one carrier")
    drawn = on_wall(pieces, own, wall)
    areas, spans = [], []
    for p in laying["panels"]:
        rigid(p, pieces, place, wall, report)
        members = [lifted(pieces[n], own[n], wall, k) for n, k in zip(p["pieces"], p["turns"])]
        areas.append(shapely.unary_union(members))
        marked(p, drawn, pieces, own, wall, cut_marks, place, report)
        if "web" in p:
            web(p, pieces, own, wall, asked, place, report)
    for parts in layings_of(laying).values():
        members = [lifted(pieces[n], own[n], wall, k) for p in parts for n, k in zip(p["pieces"], p["turns"])]
        sized(parts[0], members, wall, asked, report)
    for i, p in enumerate(laying["panels"]):
        for j, q in enumerate(laying["panels"][:i]):
            both = "taken_up" in p and "taken_up" in q and p["number"] != q["number"]
            if p["film"] == q["film"] or both:
                least = min(areas[i].distance(moved(areas[j], rotation(wall, k))) for k in (-2, -1, 0, 1, 2)
                            if abs(math.radians(p["azimuth_deg"] - q["azimuth_deg"] - 360 * k) * wall.k) < math.pi)
                report.least("border, mm", least)
                want = asked.get(p["film"], {}).get("border", 2.0)
                report.hold("border", least >= want - NEAR, f"{p['film']} {p['number']} and {q['number']}: {least:.3f} mm")
    gaps(laying, pieces, own, wall, asked, draws, report)
    woven(m, pieces, report)
    return report


def sized(p, members, wall, asked, report):
    points = np.concatenate([shapely.get_coordinates(a) for a in members])
    x, y = points[:, 0], points[:, 1]
    q = wall.r0 + wall.k * y
    r = np.hypot(q, wall.k * x)
    up = (2 * wall.r0 * y + wall.k * (x * x + y * y)) / (r + wall.r0)
    azimuth = np.arctan2(wall.k * x, q) / wall.k if abs(wall.k) > 1e-9 else x / wall.r0
    wide = (azimuth.max() - azimuth.min()) * max(wall.radius(up.min()), wall.radius(up.max()))
    most = asked.get(p["film"], {}).get("largest", [60, 80])
    size = [wide, up.max() - up.min()]
    for a, b, told in zip(size, most, p["size_mm"]):
        report.hold("size", a <= b + NEAR and abs(a - told) <= 2 * NEAR, f"{p['film']} {p['number']}: {a:.2f}, told {told}, at most {b}")


def marked(p, drawn, pieces, own, wall, cut_marks, place, report):
    """Marks clear of all film on the wall; those cut with the panel are where the marks are."""
    h = LEG / 2
    shape = Polygon([(-h, -h), (h, -h), (-h, h)])
    for mark in p["marks"]:
        for k in (-1, 0, 1):
            there = wall.placed(shape, mark["azimuth_deg"] + 360 * k, mark["up_mm"], 0)
            for n, area in drawn.items():
                if abs(math.radians(mark["azimuth_deg"] + 360 * k - pieces[n]["azimuth_deg"]) * wall.k) < math.pi:
                    if there.distance(area) < ROOM - NEAR:
                        report.hold("mark", False, f"{p['film']} {p['number']}: {there.distance(area):.3f} mm to {n}")
        report.counts["marks"] += 1
    first = p["pieces"][0]
    found = cut_marks.get(first, [])
    report.hold("mark", len(found) == len(p["marks"]), f"{p['film']} {p['number']}: {len(found)} marks cut")
    if not found or first not in place:
        return
    at, sheet = place[first]
    home = [undone(g, at, sheet["mirrored"]) for g in found]
    here = [lifted(pieces[first], g, wall, p["turns"][0]).centroid for g in home]
    for mark in p["marks"]:
        middle = mark_on_plane(p, mark, wall)
        near = min(math.dist((g.x, g.y), middle) for g in here)
        # The centroid of a right triangle lies a third of a leg from each leg's middle: sqrt(2) / 3 of a leg of 1.
        report.hold("mark", near < math.sqrt(2) / 3 + NEAR, f"{p['film']} {p['number']}: a mark is cut {near:.3f} mm off")


def web(p, pieces, own, wall, asked, place, report):
    """What is weeded off a panel: parts of its carrier's ground through places of 1.5 mm, and the lines between."""
    a = math.radians(p["plane_turn_deg"])
    c, s = math.cos(a), math.sin(a)
    x, y = p["plane_x_mm"], p["plane_y_mm"]
    home = [c, s, -s, c, -(c * x + s * y), s * x - c * y]
    h = LEG / 2
    filled = lambda g: shapely.union_all([Polygon(q.exterior) for q in getattr(g, "geoms", [g])])
    area = [affine_transform(filled(lifted(pieces[n], own[n], wall, k)), home) for n, k in zip(p["pieces"], p["turns"])]
    area += [Polygon([(q["panel_x_mm"] + u, q["panel_y_mm"] + v) for u, v in ((-h, -h), (h, -h), (-h, h))]) for q in p["marks"]]
    area = shapely.union_all(area)
    carrier = asked.get(p["film"], {}).get("carrier", 3.0)
    ground = area.convex_hull.buffer(carrier).difference(area)

    def parts(wide, least):
        eroded = ground.difference(area.buffer(wide / 2))
        return sum(g.area >= least for g in getattr(eroded, "geoms", [eroded]))

    # The lattice has steps of .2 mm: a little wider and narrower, larger and smaller.
    counts = [parts(w, m) for w in (1.3, 1.4, 1.5, 1.6, 1.7) for m in (3.0, 4.0, 5.0)]
    told = p["web"]["parts"]
    report.counts["webs"] += 1
    report.counts["webs in parts"] += told > 1
    report.hold("web", min(counts) <= told <= max(counts), f"{p['film']} {p['number']}: {told} parts told, {sorted(set(counts))} found")
    for line in p["web"].get("lines_mm", []):
        report.counts["parting lines"] += 1
        far = shapely.LineString(line).distance(area)
        # Marks are wall-borne triangles drawn upright; on the panel they may be turned a little.
        report.hold("web", far >= 0.3 - NEAR, f"{p['film']} {p['number']}: a line {far:.3f} mm from a piece")
        report.least("line to outline, mm", far)


def woven(m, pieces, report):
    for sheet in m["sheets"]:
        told = sheet.get("spots_in_order")
        if not told:
            continue
        spots = [p for p in sheet["pieces"] if not p["spare"] and pieces[p["number"]]["kind"]["is"] in ("spot", "tint")]
        spots.sort(key=lambda p: (p.get("cup", 0), p["number"]))
        at = [(p["x_mm"], p["y_mm"]) for p in spots]
        hops = [math.dist(a, b) for a, b in zip(at, at[1:])]
        mean = sum(hops) / max(len(hops), 1)
        report.counts["woven sheets"] += 1
        report.hold("hop", abs(mean - told["mean_hop_mm"]) < 0.01, f"{sheet['name']}: hop {mean:.3f}, told {told['mean_hop_mm']}")
        report.hold("hop", sum(h > 40 for h in hops) == told["hops_over_40_mm"], f"{sheet['name']}: far hops")


# ---- random jobs ------------------------------------------------------------------------------------------------------


def job_of(seed):
    """A random job's text and its drawings: what a maker may rightly ask."""
    rng = random.Random(seed)
    rim, base = rng.uniform(60, 105), rng.uniform(60, 105)
    wall = rng.uniform(90, 170)
    if abs(rim - base) > 0.8 * wall:
        rim = base + math.copysign(0.5 * wall, rim - base)
    films = ["damson", "straw", "leaf-green", "white"][: rng.randint(1, 4)]
    lines = [f"seed = {rng.randrange(1000)}", "[cup]", f"diameters = {{ rim = {rim:.1f}, base = {base:.1f}, height = {wall:.1f} }}",
             f"keep-clear = {{ rim = 20, base = {rng.uniform(0, 8):.1f} }}", f"seam = {rng.uniform(-180, 180):.0f}"]
    gap = rng.uniform(1.3, 2.4)
    lays = [rng.choice(["panels", "panels", "woven", "singly"]) for _ in films]
    lays[rng.randrange(len(lays))] = "panels"
    if len(films) > 1 and rng.random() < 0.5:
        for i in rng.sample(range(len(films)), rng.randint(2, len(films))):
            lays[i] = "gathered"
    for film, lay in zip(films, lays):
        lines += ["[[film]]", f'name = "{film}"', rng.choice(["sheet = [300, 200]", "sheet = [400, 300]", "roll = 305\nlongest = 600"])]
        lines += [f'lay = "{lay}"', f'grain = "{rng.choice(["free", "half", "fixed"])}"']
        if rng.random() < 0.3:
            lines.append("mirrored = true")
        if rng.random() < 0.3:
            lines.append("spares = 10")
        if lay == "panels":
            size = rng.choice([(40, 60), (60, 80), (80, 60), (80, 100)])
            read = rng.uniform(0.1, 0.3)
            lines.append(f"panel = {{ largest = [{size[0]}, {size[1]}], border = {rng.choice([1.5, 2.0, 3.0])}, read = {read:.2f} }}")
    if "gathered" in lays:
        size = rng.choice([(40, 60), (60, 80), (80, 60), (80, 100)])
        lines += ["[gathered]", f"largest = [{size[0]}, {size[1]}]", f"border = {rng.choice([0.8, 1.0, 1.5])}",
                  f"read = {rng.uniform(0.1, 0.2):.2f}", f"on-carrier = {rng.uniform(0.05, 0.15):.2f}"]
    for i in range(rng.randint(0, 3)):
        lines += ["[[motif]]", 'art = "leaf.svg"', f"width = {rng.uniform(14, 34):.1f}", f'film = "{rng.choice(films)}"',
                  f"copies = {rng.randint(1, 3)}", 'turning = "free"', f"clearance = {max(gap, 2):.1f}"]
    share = ", ".join(f"{f} = {rng.randint(1, 3)}" for f in films)
    lines += ["[[accent]]", 'families = ["pebble", "blob", "petal"]', "smallest = 4", f"largest = {rng.uniform(6, 9):.1f}",
              f"gap = {gap:.2f}", f"films = {{ {share} }}" if len(films) > 1 else f'film = "{films[0]}"']
    lines += ["[finish]", "[finish.times]", f'place = "{rng.randint(15, 40)} s"', f'panel = "{rng.randint(60, 120)} s"', f'gather = "{rng.randint(20, 60)} s"']
    if rng.random() < 0.15:
        lines += ["[order]", f"cups = {rng.randint(2, 3)}"]
    return "\n".join(lines) + "\n"


LEAF = ('<svg xmlns="http://www.w3.org/2000/svg" width="30mm" height="20mm" viewBox="0 0 30 20">'
        '<path d="M0 10C8 -3 22 -3 30 10C22 23 8 23 0 10ZM9 10A3 3 0 0 0 15 10A3 3 0 0 0 9 10Z" fill-rule="evenodd"/></svg>')


def many(a):
    totals, worst, outcomes, bad = Counter(), {}, Counter(), []
    for seed in range(a.seed, a.seed + a.count):
        with tempfile.TemporaryDirectory() as tmp:
            job, kit = Path(tmp) / "job", Path(tmp) / "kit"
            job.mkdir()
            (job / "job.toml").write_text(job_of(seed))
            (job / "leaf.svg").write_text(LEAF)
            done = subprocess.run([str(a.frusta.resolve()), "make", "-q", str(job), "--out", str(kit)], capture_output=True, text=True)
            codes = set(re.findall(r"fault\[([a-z/-]+)\]", done.stderr))
            outcomes[f"exit {done.returncode} {' '.join(sorted(codes))}".strip()] += 1
            if done.returncode not in (0, 1) or "verify/promise-broken" in codes:
                bad.append(seed)
                print(f"seed {seed}: {done.stderr.strip()[:600]}")
                continue
            if done.returncode == 1:
                continue
            report = measure(kit, job, a.draws)
            totals.update(report.counts)
            for what, v in report.worst.items():
                worst[what] = min(worst.get(what, math.inf), v)
            if report.faults:
                bad.append(seed)
                print(f"seed {seed}")
                report.told()
    print(f"{a.count} jobs: {dict(outcomes)}; counts {dict(totals)}; least {({k: round(v, 3) for k, v in worst.items()})}; violations in seeds {bad}")
    return not bad and any(k.startswith("exit 0") for k in outcomes)


def self_test(kit, job):
    m = json.loads((kit / "manifest.json").read_text())
    panel = m["laying"]["panels"][0]
    second = panel["pieces"][1]
    sheet = next(s for s in m["sheets"] if any(p["number"] == second and not p["spare"] for p in s["pieces"]))

    def change(what):
        def go(text):
            data = json.loads(text)
            what(data)
            return json.dumps(data)
        return go

    def shift_piece(data):
        for s in data["sheets"]:
            for p in s["pieces"]:
                if p["number"] == second and not p["spare"]:
                    p["x_mm"] += 0.05

    def turn_piece(data):
        for s in data["sheets"]:
            for p in s["pieces"]:
                if p["number"] == second and not p["spare"]:
                    p["turn_deg"] += 0.05

    def lose(data):
        data["laying"]["panels"][0]["pieces"].pop()
        data["laying"]["panels"][0]["turns"].pop()

    def twice(data):
        data["laying"]["panels"][1]["pieces"].append(second)
        data["laying"]["panels"][1]["turns"].append(0)

    def mark(data):
        data["laying"]["panels"][0]["marks"][0]["azimuth_deg"] = next(p["azimuth_deg"] for p in data["pieces"] if p["number"] == second)
        data["laying"]["panels"][0]["marks"][0]["up_mm"] = next(p["up_mm"] for p in data["pieces"] if p["number"] == second)

    def moved_mark(data):
        data["laying"]["panels"][0]["marks"][0]["panel_x_mm"] += 3.0

    def rosy(data):
        data["laying"]["narrowest"]["left_mm"] = data["laying"]["narrowest"]["gap_mm"]

    def swap(data):
        # A piece from the one panel to the next one of its film.
        a, b = [p for p in data["laying"]["panels"] if p["film"] == panel["film"]][:2]
        b["pieces"].append(a["pieces"].pop(1))
        b["turns"].append(a["turns"].pop(1))

    def out_of_order(data):
        for p in data["laying"]["panels"]:
            p["taken_up"] = 1

    def rosy_carrier(data):
        n = data["laying"]["narrowest_on_carrier"]
        n["left_mm"] = n["gap_mm"]

    def other_marks(data):
        part = next(p for p in data["laying"]["panels"] if p.get("taken_up", 1) > 1)
        part["marks"][0], part["marks"][1] = part["marks"][1], part["marks"][0]

    def web_in_parts(data):
        data["laying"]["panels"][0]["web"]["parts"] += 3

    def line_at_a_piece(data):
        p = data["laying"]["panels"][0]
        q = p["marks"][0]
        # .2 mm beside the mark's leg.
        x, y = q["panel_x_mm"], q["panel_y_mm"] - LEG / 2 - 0.2
        p["web"]["lines_mm"] = [[[x - 0.5, y], [x + 0.5, y]]]

    name = "manifest.json"
    gathered = [
        ("films taken up in no order", name, change(out_of_order), {"carrier"}),
        ("a rosy promise of a carrier", name, change(rosy_carrier), {"promise"}),
        ("a part with other marks than its carrier", name, change(other_marks), {"carrier"}),
    ]
    damages = [] if "narrowest_on_carrier" not in m["laying"] else gathered
    damages += [
        ("a piece of a panel moved on its sheet", name, change(shift_piece), {"rigid"}),
        ("a piece of a panel turned on its sheet", name, change(turn_piece), {"rigid"}),
        ("a piece lost from its panel", name, change(lose), {"laying"}),
        ("a piece in two panels", name, change(twice), {"laying"}),
        ("a mark under film", name, change(mark), {"mark"}),
        ("a mark cut elsewhere", name, change(moved_mark), {"mark"}),
        ("waste told in more parts", name, change(web_in_parts), {"web"}),
        ("a parting line at a mark", name, change(line_at_a_piece), {"web"}),
        ("a rosy promise", name, change(rosy), {"promise"}),
        ("a piece in the next panel", name, change(swap), {"rigid"}),
    ]
    return campaign.damaged(kit, damages, lambda k: measure(k, job))


def main():
    p = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    p.add_argument("kit", type=Path, nargs="?")
    p.add_argument("--job", type=Path)
    p.add_argument("--self-test", action="store_true")
    p.add_argument("--frusta", type=Path)
    p.add_argument("--seed", type=int, default=1)
    p.add_argument("--count", type=int, default=20)
    p.add_argument("--draws", type=int, default=60)
    a = p.parse_args()
    if a.frusta:
        sys.exit(0 if many(a) else 1)
    report = measure(a.kit, a.job, a.draws)
    ok = report.told()
    if a.self_test:
        ok = self_test(a.kit, a.job) and ok
    sys.exit(0 if ok else 1)


if __name__ == "__main__":
    main()
