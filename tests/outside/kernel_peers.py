#!/usr/bin/env python3
"""The outline kernel beside GEOS (shapely) and Clipper (pyclipper) on the same polylines, in one run.

Usage: cargo bench --bench kernel -- cases FILE && kernel_peers.py FILE
Needs shapely 2 and pyclipper. Prints nodes, time ratios and how far our offsets lie from GEOS's; ends with an error if a target is
missed. Times are of the processor, the least of three runs.
"""
import math
import sys
import time

import numpy
import pyclipper
import shapely

CHORDS = 0.005  # of the polylines both sides get, and of the peers' arcs


def rings(text):
    for ring in text.split("|") if text else []:
        v = numpy.array(ring.split(), dtype=float)
        yield v.reshape(-1, 2)


def region(text):
    parts = [shapely.Polygon(r) for r in rings(text)]
    outers = [p for p in parts if p.exterior.is_ccw]
    holes = [p for p in parts if not p.exterior.is_ccw]
    whole = shapely.union_all([shapely.make_valid(p) for p in outers])
    return shapely.difference(whole, shapely.union_all([shapely.make_valid(p) for p in holes]))


def timed(f, runs=3):
    best, out = math.inf, None
    for _ in range(runs):
        t = time.process_time()
        out = f()
        best = min(best, time.process_time() - t)
    return out, best


def clipper(text, d):
    scale = 1e4
    off = pyclipper.PyclipperOffset(2.0, CHORDS * scale)
    for r in rings(text):
        off.AddPath((r * scale).round().astype(int).tolist(), pyclipper.JT_ROUND, pyclipper.ET_CLOSEDPOLYGON)
    return sum(len(p) for p in off.Execute(d * scale))


def main():
    ours = {"nodes": 0, "time": 0.0}
    geos = {"nodes": 0, "time": 0.0}
    clip = {"nodes": 0, "time": 0.0}
    flat = {"nodes": 0, "time": 0.0}  # booleans
    theirs = {"nodes": 0, "time": 0.0}
    far, name, source, text, pair = [], "", None, "", None
    areas = []
    for line in open(sys.argv[1]):
        kind, *cols = line.rstrip("\n").split("\t")
        if kind == "art":
            name, text = cols
            source = region(text)
        elif kind == "offset":
            d = float(cols[0])
            ours["nodes"] += int(cols[1])
            ours["time"] += float(cols[2])
            quarter = math.ceil(math.pi / 4 / math.acos(max(0.5, 1 - CHORDS / abs(d))))
            got, took = timed(lambda: shapely.buffer(source, d, quad_segs=quarter))
            geos["nodes"] += shapely.get_num_coordinates(got)
            geos["time"] += took
            count, took = timed(lambda: clipper(text, d), 1)
            clip["nodes"] += count
            clip["time"] += took
            points = [p for r in rings(cols[3]) for p in r]
            if points and not got.is_empty:
                edge = got.boundary
                shapely.prepare(edge)
                far.append((shapely.distance(shapely.points(points), edge).max(), f"{name} {d}"))
            elif points or not got.is_empty:
                thin = "(thin)" if got.area < 1e-3 * max(got.length, 1) else ""
                far.append((0.0 if thin else math.inf, f"{name} {d} empty {thin}"))
        elif kind == "pair":
            pair = [region(c) for c in cols]
        elif kind == "boolean":
            f = {"Union": shapely.union, "Intersection": shapely.intersection,
                 "Difference": shapely.difference, "Xor": shapely.symmetric_difference}[cols[0]]
            got, took = timed(lambda: f(*pair))
            theirs["nodes"] += shapely.get_num_coordinates(got)
            theirs["time"] += took
            flat["nodes"] += int(cols[1])
            flat["time"] += float(cols[2])
            areas.append(abs(got.area - float(cols[3])) / max(got.length, 1e-9))
    far.sort(reverse=True)
    share = lambda a, b: 100 * a["nodes"] / b["nodes"]
    ratio = lambda a, b: a["time"] / b["time"]
    print(f"offsets: {len(far)} cases, nodes {ours['nodes']}: {share(ours, geos):.1f} % of GEOS's, {share(ours, clip):.1f} % of Clipper's")
    print(f"  time {ours['time']:.2f} s: {ratio(ours, geos):.2f} times GEOS, {ratio(ours, clip):.2f} times Clipper")
    print(f"  from GEOS's boundary: median {far[len(far) // 2][0]:.4f}, largest:")
    for d, where in far[:8]:
        print(f"    {d:.4f}  {where}")
    print(f"booleans: {len(areas)}, nodes {share(flat, theirs):.1f} % of GEOS's, time {ratio(flat, theirs):.2f} times GEOS")
    print(f"  area over length apart: {max(areas):.5f} mm at most")
    missed = [w for w, ok in [
        ("offset nodes at most 8 %", share(ours, geos) <= 8),
        ("offset time at most 10 times GEOS", ratio(ours, geos) <= 10),
        ("boolean nodes at most 15 %", share(flat, theirs) <= 15),
        ("boolean time at most 4 times GEOS", ratio(flat, theirs) <= 4),
        ("boolean areas within the chords' error", max(areas) <= 2 * CHORDS),
    ] if not ok]
    for w in missed:
        print(f"MISSED: {w}")
    sys.exit(bool(missed))


main()
