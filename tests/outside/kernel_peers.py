#!/usr/bin/env python3
"""The outline kernel beside GEOS (shapely) and Clipper2 (pyclipr) on the same polylines, in one run.

Usage: kernel_peers.py [BENCH-BINARY]     (else `cargo bench --bench kernel` is called)
Needs shapely 2 and pyclipr. Prints nodes, time ratios and how far our offsets lie from GEOS's; ends with an error if a target is
missed. Times are of the processor, the least of three runs.
"""
import math
import os
import subprocess
import sys
import tempfile
import time

import numpy
import pyclipr
import shapely

CHORDS = 0.005  # of the polylines both sides get, and of the peers' arcs


def rings(text):
    for ring in text.split("|") if text else []:
        v = numpy.array(ring.split(), dtype=float)
        yield v.reshape(-1, 2)


def region(text):
    """Outer rings run one way, holes the other; parts may lie in holes: the area is what an odd number of rings holds."""
    area = shapely.Polygon()
    for ring in sorted((shapely.make_valid(shapely.Polygon(r)) for r in rings(text)), key=lambda p: -p.area):
        area = area.symmetric_difference(ring)
    return area


def timed(f, runs=3):
    best, out = math.inf, None
    for _ in range(runs):
        t = time.process_time()
        out = f()
        best = min(best, time.process_time() - t)
    return out, best


def clipper(text, d):
    off = pyclipr.ClipperOffset()
    off.scaleFactor = 10_000
    off.arcTolerance = CHORDS * off.scaleFactor
    # All rings in one group, the outer ones counter-clockwise.
    off.addPaths(list(rings(text)), pyclipr.JoinType.Round, pyclipr.EndType.Polygon)
    return sum(len(p) for p in off.execute(d))


def cases():
    """Lines that the benchmark writes."""
    with tempfile.TemporaryDirectory() as folder:
        file = os.path.join(folder, "cases")
        tail = ["cases", file]
        run = [sys.argv[1], *tail] if len(sys.argv) > 1 else ["cargo", "bench", "-q", "--bench", "kernel", "--", *tail]
        subprocess.run(run, check=True)
        yield from open(file)


def main():
    ours = {"nodes": 0, "time": 0.0}
    geos = {"nodes": 0, "time": 0.0}
    clip = {"nodes": 0, "time": 0.0}
    flat = {"nodes": 0, "time": 0.0}  # booleans
    theirs = {"nodes": 0, "time": 0.0}
    far, name, source, text, pair = [], "", None, "", None
    areas = []
    for line in cases():
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
                # What is left is thinner than the peer's chords.
                thin = "(thin)" if got.area < 1e-3 * max(got.length, 1) else ""
                far.append((0.0 if thin else math.inf, f"{name} {d} empty {thin}"))
            else:
                far.append((0.0, f"{name} {d} both empty"))
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
    print(f"offsets: {len(far)} cases, nodes {ours['nodes']}: {share(ours, geos):.1f} % of GEOS's, {share(ours, clip):.1f} % of Clipper2's")
    print(f"  time {ours['time']:.2f} s: {ratio(ours, geos):.2f} times GEOS, {ratio(ours, clip):.2f} times Clipper2")
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
