#!/usr/bin/env python3
"""Holds a kit that was made from an earlier one (`make --keep`) to what it may change, with shapely (GEOS) and numpy.

    keep.py BEFORE AFTER                   measure one pair of kits; exit 1 on any violation
    keep.py BEFORE AFTER --self-test       (or with --frusta, on the first change that drops something) damage copies of AFTER in known ways; exit 1 unless each is found
    keep.py --frusta PROGRAM --job FOLDER --seed S --count N [--chain]
                                           N random changes of the job's motifs, each made from the kit before it, or, with
                                           --chain, from the kit that the change before made
    keep.py --frusta PROGRAM --job FOLDER --motifs
                                           each motif once 10 percent larger: share kept and evenness, one line a motif

What is held: a piece of the same number is the same piece (film, outline in its own frame) and stands where it stood,
unless the job pins it elsewhere; the spots dropped are exactly those whose distance to something changed is below what
was asked (outlines of the cut files, places of the manifest, over the seam too; NEAR is the doubt of chords and
decimals); numbers that are new were never used; sheets that are there again are the same bytes; each piece of the cup
lies on exactly one sheet, and none that is gone is on the map. In the place that was repaired: mean gap, coverage,
largest empty circle, before and after.
"""
import argparse
import copy
import json
import math
import random
import re
import shutil
import subprocess
import sys
import tempfile
from collections import Counter
from pathlib import Path

import numpy as np
import shapely
from shapely.geometry import Point
from shapely.ops import unary_union
from shapely.strtree import STRtree

import orders
import panels
from panels import Wall

# Chords of 24 a curve, three decimals, and the program's own guard of 0.006 mm.
NEAR = 0.015
# The bounds of the issue: change of the mean gap, of coverage, of the largest empty circle.
GAP, COVERAGE, CIRCLE = 0.10, 0.05, 0.2
ROUND = 4.0
# The demonstration's smallest spot is 4 mm long: where a disc of that size has room, a spot should be.
SMALLEST = 4.0


class Kit:
    def __init__(self, folder):
        self.folder = folder
        self.m, self.pieces, *_ = panels.read(folder)
        self.wall = Wall(self.m["cup"])
        self.sheets = {s["file"]: s for s in self.m["sheets"]}
        known = set(self.pieces)
        one = copy.deepcopy(self.m)
        for s in one["sheets"]:
            s["pieces"] = [p for p in s["pieces"] if p["number"] in known]
        self.own, *_ = panels.cuts(folder, one)
        self.on = panels.on_wall(self.pieces, self.own, self.wall)
        self.kind = {n: p["kind"]["is"] for n, p in self.pieces.items()}
        self.spots = {n for n in self.on if self.kind[n] == "spot"}

    def at(self, n, turns=0):
        """The outline on the plane, turned round the cup so many times."""
        p = self.pieces[n]
        return self.wall.placed(self.own[n], p["azimuth_deg"] + 360 * turns, p["up_mm"], p["turn_deg"])

    def solid(self, n, turns=0):
        """What others keep clear of: openings filled."""
        g = self.at(n, turns)
        return unary_union([shapely.Polygon(p.exterior) for p in getattr(g, "geoms", [g])])

    def place(self, n):
        p = self.pieces[n]
        return (p["azimuth_deg"], p["up_mm"], p["turn_deg"])


def same_outline(a, b):
    return a.symmetric_difference(b).area / max(a.length, 1) < 0.005


def compare(before, after, report):
    """Which pieces stay, moved, are new, are gone."""
    stays, moved = set(), set()
    for n in set(before.pieces) & set(after.pieces):
        p, q = before.pieces[n], after.pieces[n]
        ok = p["film"] == q["film"] and same_outline(before.own[n], after.own[n])
        report.hold(ok, f"number {n} is another piece now")
        here = max(abs(a - b) for a, b in zip(before.place(n), after.place(n))) < 1e-3
        (stays if here else moved).add(n)
    new = set(after.pieces) - set(before.pieces)
    gone = set(before.pieces) - set(after.pieces)
    report.counts.update({"stay": len(stays), "moved": len(moved), "new": len(new), "gone": len(gone)})
    used = max(max(before.pieces), max((p["number"] for s in before.m["sheets"] for p in s["pieces"]), default=0))
    for n in new:
        report.hold(n > used, f"number {n} was used before")
    for n in moved:
        report.hold(before.kind[n] not in ("spot", "tint"), f"spot {n} moved")
    return stays, moved, new, gone


def lays(kit, n):
    """The outlines that stand for a piece towards others, one for each turn."""
    return [kit.solid(n, t) for t in (-1, 0, 1)]


def dropped(before, after, sets, report):
    """The spots dropped are exactly those too near to something changed."""
    stays, moved, new, gone = sets
    changed = [n for n in new | moved if after.kind[n] in ("motif", "layer")]
    # An unmoved piece that asks for more is a change, too.
    changed += [n for n in stays if after.pieces[n]["clearance_mm"] > before.pieces[n]["clearance_mm"] + 1e-9 and after.kind[n] in ("motif", "layer")]
    shapes = [(g, after.pieces[n]["clearance_mm"]) for n in changed for g in lays(after, n)]
    films = {f["name"] for f in after.m["films"]}
    must, may = set(), set()
    for n in before.spots:
        spot, own = before.solid(n), before.pieces[n]["clearance_mm"]
        lack = max((max(own, c) - g.distance(spot) for g, c in shapes), default=-math.inf)
        if lack > NEAR or before.pieces[n]["film"] not in films:
            must.add(n)
        elif lack > -NEAR:
            may.add(n)
    went = {n for n in gone if before.kind[n] == "spot"}
    report.counts.update({"spots before": len(before.spots), "too near": len(must), "on the edge": len(may & went), "dropped": len(went)})
    report.hold(must <= went, f"too near and not dropped: {sorted(must - went)}")
    report.hold(went <= must | may, f"dropped and not too near: {sorted(went - must - may)}")
    return went, changed


def films(before, after, report):
    """Sheets that were there are the same bytes; each piece on exactly one sheet."""
    for file in set(before.sheets) & set(after.sheets):
        same = (before.folder / file).read_bytes() == (after.folder / file).read_bytes()
        report.hold(same, f"{file} was changed")
        report.counts["sheets as they were"] += same
    lies = Counter()
    for s in after.m["sheets"]:
        times = s.get("cut_times") or 1
        for p in s["pieces"]:
            if not p["spare"] and p.get("cup", 0) <= 1:
                lies[p["number"]] += 1 if p.get("cup", 0) <= 1 or times else 0
    for n in after.pieces:
        report.hold(lies[n] == 1, f"piece {n} lies on {lies[n]} sheets")
    gone = set(lies) - set(after.pieces)
    drawn = set(map(int, re.findall(r'id="o(\d+)"', (after.folder / "map/map.svg").read_text())))
    report.hold(not gone & drawn, f"gone and on the map: {sorted(gone & drawn)}")
    report.hold(drawn == set(after.on), f"the map shows other pieces than the manifest: {sorted(drawn ^ set(after.on))[:9]}")
    report.counts["gone, on their sheet"] = len(gone)


def evenness(kit, place):
    """Mean gap, coverage and largest empty circle of a place of the plane."""
    cup = kit.m["cup"]
    shapes, owners = [], []
    for n in kit.on:
        for t in (-1, 0, 1):
            g = kit.solid(n, t)
            if g.distance(place) < 15:
                shapes.append(g)
                owners.append(n)
    tree = STRtree(shapes)
    low, high = cup["film_from_mm"], cup["film_to_mm"]
    k, r0 = kit.wall.k, kit.wall.r0

    def up(x, y):
        if abs(k) < 1e-9:
            return y
        return (np.hypot(x, y + r0 / k) * math.copysign(1, k) - r0 / k) * math.copysign(1, 1)

    gaps, area = [], 0.0
    for i, g in enumerate(shapes):
        if kit.kind[owners[i]] != "spot" or not g.intersects(place):
            continue
        area += g.intersection(place).area
        line = g.exterior if hasattr(g, "exterior") else g.boundary
        for d in np.arange(0, line.length, 0.5):
            p = line.interpolate(d)
            if not place.contains(p):
                continue
            near = [shapes[j].distance(p) for j in tree.query(p.buffer(8)) if owners[j] != owners[i]]
            gaps.append(min(near + [abs(up(p.x, p.y) - low), abs(high - up(p.x, p.y))]))
    x0, y0, x1, y1 = place.bounds
    xs, ys = np.meshgrid(np.arange(x0, x1, 0.4), np.arange(y0, y1, 0.4))
    points = shapely.points(xs.ravel(), ys.ravel())
    points = points[shapely.contains(place, points)]
    heights = up(shapely.get_x(points), shapely.get_y(points))
    points, heights = points[(heights > low) & (heights < high)], heights[(heights > low) & (heights < high)]
    _, d = tree.query_nearest(points, return_distance=True, all_matches=False)
    room = np.minimum(d, np.minimum(heights - low, high - heights))
    # What a spot has at the middle of the largest void, each thing's own distance taken off.
    middle = points[int(room.argmax())] if len(room) else Point(0, 0)
    gap = min(p["clearance_mm"] for p in kit.pieces.values() if p["kind"]["is"] == "spot")
    asked = [max(gap, kit.pieces[owners[j]]["clearance_mm"]) for j in range(len(shapes))]
    spot = min([shapes[j].distance(middle) - asked[j] for j in range(len(shapes))], default=0.0)
    still = unary_union([shapes[i].buffer(kit.pieces[owners[i]]["clearance_mm"]) for i in range(len(shapes)) if kit.kind[owners[i]] in ("motif", "layer")] or [Point(0, -1e6)])
    free = place.difference(still).area
    return {"gap": float(np.mean(gaps)) if gaps else 0.0, "coverage": area / free if free > 1 else 0.0, "circle": float(room.max()) if len(room) else 0.0, "spot": spot, "spots": len(gaps), "free": free}


def repaired(before, after, went, changed, sets, report, bound=True):
    stays, moved, new, gone = sets
    old = [n for n in gone | moved if before.kind[n] in ("motif", "layer")]
    parts = [before.solid(n) for n in went] + [before.solid(n) for n in old] + [after.solid(n) for n in changed]
    if not parts:
        return None
    place = unary_union(parts).buffer(ROUND)
    a, b = evenness(before, place), evenness(after, place)
    change = {"gap": b["gap"] - a["gap"], "coverage": b["coverage"] / a["coverage"] - 1 if a["coverage"] else 0.0, "circle": b["circle"] - a["circle"]}
    for what, v in change.items():
        report.worst[f"change of {what}"] = v
    if bound and a["free"] > 200:
        report.hold(abs(change["gap"]) <= GAP, f"the mean gap changed by {change['gap']:.3f} mm ({a['gap']:.3f} before)")
        report.hold(abs(change["coverage"]) <= COVERAGE, f"coverage changed by {100 * change['coverage']:.1f} percent ({a['coverage']:.3f} before)")
        # Nothing may be moved for it: a void that holds no spot of the job's smallest size stays.
        if change["circle"] > CIRCLE and 2 * b["spot"] < SMALLEST:
            report.counts["larger circles that no spot fits"] += 1
            report.worst["a circle that no spot fits grew by"] = change["circle"]
        else:
            report.hold(change["circle"] <= CIRCLE, f"the largest empty circle grew by {change['circle']:.3f} mm ({a['circle']:.3f} before)")
    return a, b


def measure(before, after, even=True):
    report = orders.Report()
    b, a = (k if isinstance(k, Kit) else Kit(k) for k in (before, after))
    sets = compare(b, a, report)
    went, changed = dropped(b, a, sets, report)
    films(b, a, report)
    report.pair = repaired(b, a, went, changed, sets, report, even)
    report.kept = len(sets[0] & b.spots) / max(len(b.spots), 1)
    return report


def self_test(before, after):
    b, a = Kit(before), Kit(after)
    went = sorted(n for n in set(b.pieces) - set(a.pieces) if b.kind[n] == "spot")
    stay = sorted(n for n in set(b.pieces) & set(a.pieces) if b.kind[n] == "spot")
    sheet = sorted(set(b.sheets) & set(a.sheets))[0]
    new = sorted(n for n in set(a.pieces) - set(b.pieces))

    def manifest(change):
        def edit(folder):
            m = json.loads((folder / "manifest.json").read_text())
            change(m)
            (folder / "manifest.json").write_text(json.dumps(m))
        return edit

    def shifted(m):
        next(p for p in m["pieces"] if p["number"] == stay[0])["azimuth_deg"] += 0.5

    def dropped_too(m):
        m["pieces"] = [p for p in m["pieces"] if p["number"] != stay[0]]

    def back(m):
        m["pieces"].append(next(p for p in b.m["pieces"] if p["number"] == went[0]))

    def again(m):
        n = next(iter(went))
        for p in m["pieces"]:
            if p["number"] == new[-1]:
                p["number"] = n
        for s in m["sheets"]:
            for p in s["pieces"]:
                if p["number"] == new[-1]:
                    p["number"] = n

    def twice(m):
        s = m["sheets"][0]
        s["pieces"].append(dict(s["pieces"][0]))

    damages = [
        ("a spot that stays shifted by half a degree", manifest(shifted)),
        ("a spot dropped that is clear", manifest(dropped_too)),
        ("a spot kept that is too near", manifest(back)),
        ("a number given again", manifest(again)),
        ("a piece on two places of a sheet", manifest(twice)),
        ("a frozen sheet written anew", lambda f: (f / sheet).write_text((f / sheet).read_text() + "\n")),
        ("a gone piece on the map", lambda f: (f / "map/map.svg").write_text((f / "map/map.svg").read_text().replace(f'id="o{stay[0]}"', f'id="o{went[0]}"'))),
    ]
    missed = 0
    for what, change in damages:
        with tempfile.TemporaryDirectory() as tmp:
            folder = Path(tmp) / "kit"
            shutil.copytree(after, folder)
            change(folder)
            found = measure(b, folder, even=False).faults
            missed += not found
            print("found " if found else "MISSED", what, "-", found[0][:90] if found else "")
    return missed == 0


MOTIF = re.compile(r"\[\[motif\]\](?:\n(?!\[|\n\n).*)*")


def change(text, rng):
    """One random change that a maker may rightly ask: a motif larger, smaller, moved, turned, gone, or one more."""
    blocks = list(MOTIF.finditer(text))
    block = rng.choice(blocks)
    old = block[0]
    size = re.search(r"^(width|height) = ([\d.]+)", old, re.M)
    kind = rng.choice(["larger", "smaller", "moved", "gone", "copies", "turned"])
    new = old
    if kind in ("larger", "smaller") and size:
        by = rng.uniform(1.03, 1.1) if kind == "larger" else rng.uniform(0.85, 0.97)
        new = old.replace(size[0], f"{size[1]} = {float(size[2]) * by:.2f}")
    elif kind == "moved" and "azimuth = " in old:
        new = re.sub(r"azimuth = (-?[\d.]+)", lambda m: f"azimuth = {float(m[1]) + rng.uniform(-4, 4):.2f}", old)
    elif kind == "turned" and "up = " in old:
        new = re.sub(r"up = (-?[\d.]+)", lambda m: f"up = {float(m[1]) + rng.uniform(-2, 2):.2f}", old)
    elif kind == "copies" and "copies = " in old:
        new = re.sub(r"copies = (\d+)", lambda m: f"copies = {max(1, int(m[1]) + rng.choice([-1, 1]))}", old)
    elif kind == "gone" and len(blocks) > 2:
        new = ""
    return text[: block.start()] + new + text[block.end() :], f"{kind}: {old.splitlines()[1]}"


def make(frusta, job, out, keep=None):
    words = [str(frusta), "make", "-q", str(job), "--out", str(out)] + (["--keep", str(keep)] if keep else [])
    run = subprocess.run(words, capture_output=True, text=True)
    return run.returncode, run.stderr


def campaign(a):
    with tempfile.TemporaryDirectory() as tmp:
        tmp = Path(tmp)
        job = tmp / "job"
        shutil.copytree(a.job, job, ignore=shutil.ignore_patterns("kit*"))
        text = (job / "job.toml").read_text()
        code, said = make(a.frusta, job, tmp / "first")
        if code:
            sys.exit(said)
        kit, good, refused = tmp / "first", 0, 0
        before = Kit(kit)
        code, _ = make(a.frusta, job, tmp / "same", kit)
        same = subprocess.run(["diff", "-rq", str(kit), str(tmp / "same")], capture_output=True, text=True)
        ok = code == 0 and not same.stdout
        print("nothing changed: equal" if ok else f"nothing changed: {same.stdout}")
        bad = not ok
        for i in range(a.count):
            rng = random.Random(f"{a.seed} {i}")
            now, what = change(text, rng)
            (job / "job.toml").write_text(now)
            out = tmp / f"kit{i}"
            code, said = make(a.frusta, job, out, kit)
            if code != 0:
                # A change may rightly have no room; what the program promises must never break.
                wrong = code != 1 or "promise-broken" in said
                bad, refused = bad or wrong, refused + 1
                print("BROKEN" if wrong else "refused", what, said.strip().splitlines()[:2])
                continue
            report = measure(before, out)
            good += 1
            print(f"{what}: {100 * report.kept:.1f} % of the spots stay, {dict(report.counts)}, { {k: round(v, 3) for k, v in report.worst.items()} }")
            for fault in report.faults:
                print("  FAULT", fault)
            bad = bad or bool(report.faults)
            if a.self_test and report.counts["dropped"] and report.counts["new"]:
                bad, a.self_test = bad or not self_test(kit, out), False
            if a.chain:
                kit, text, before = out, now, Kit(out)
            else:
                shutil.rmtree(out)
        print(f"{good} made, {refused} refused for want of room")
        if a.self_test:
            print("no change that the self-test could damage")
        return not bad and not a.self_test


def motifs(a):
    """Each motif of the job once ten percent larger."""
    rows = []
    with tempfile.TemporaryDirectory() as tmp:
        tmp = Path(tmp)
        job = tmp / "job"
        shutil.copytree(a.job, job, ignore=shutil.ignore_patterns("kit*"))
        text = (job / "job.toml").read_text()
        code, said = make(a.frusta, job, tmp / "first")
        if code:
            sys.exit(said)
        before, bad = Kit(tmp / "first"), False
        for block in list(MOTIF.finditer(text))[a.seed - 1 : a.seed - 1 + a.count if a.count else None]:
            size = re.search(r"^(width|height) = ([\d.]+)", block[0], re.M)
            if not size:
                continue
            now = block[0].replace(size[0], f"{size[1]} = {float(size[2]) * 1.1:.2f}")
            (job / "job.toml").write_text(text[: block.start()] + now + text[block.end() :])
            out = tmp / "kit"
            code, said = make(a.frusta, job, out, tmp / "first")
            name = re.search(r'art/([\w-]+)', block[0])[1]
            if code:
                print(f"{name}: {said.strip().splitlines()[0]}")
                continue
            report = measure(before, out)
            p, q = report.pair
            rows.append((report.kept, report.worst))
            print(f"{name}: {100 * report.kept:.1f} % stay; gap {p['gap']:.2f} -> {q['gap']:.2f}, coverage {p['coverage']:.3f} -> {q['coverage']:.3f}, circle {p['circle']:.2f} -> {q['circle']:.2f}; {dict(report.counts)}")
            for fault in report.faults:
                print("  FAULT", fault)
            bad = bad or bool(report.faults)
            shutil.rmtree(out)
        print(f"mean of {len(rows)}: {100 * np.mean([r[0] for r in rows]):.1f} %, worst {100 * min(r[0] for r in rows):.1f} %")
        return not bad


def main():
    args = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    args.add_argument("before", type=Path, nargs="?")
    args.add_argument("after", type=Path, nargs="?")
    args.add_argument("--self-test", action="store_true")
    args.add_argument("--frusta", type=Path)
    args.add_argument("--job", type=Path)
    args.add_argument("--seed", type=int, default=1)
    args.add_argument("--count", type=int, default=0)
    args.add_argument("--chain", action="store_true")
    args.add_argument("--motifs", action="store_true")
    args.add_argument("--slack", type=float, default=1.0, help="bounds of evenness, times this; inf: printed and not held, as in CI, since misses are known")
    a = args.parse_args()
    global GAP, COVERAGE, CIRCLE
    GAP, COVERAGE, CIRCLE = a.slack * GAP, a.slack * COVERAGE, a.slack * CIRCLE
    if a.frusta:
        a.frusta = a.frusta.resolve()
        sys.exit(0 if (motifs(a) if a.motifs else campaign(a)) else 1)
    if a.self_test:
        sys.exit(0 if self_test(a.before, a.after) else 1)
    report = measure(a.before, a.after)
    sys.exit(0 if report.told() else 1)


if __name__ == "__main__":
    main()
