#!/usr/bin/env python3
"""Clearances and widths of this program beside shapely (GEOS), asked of the same polylines in one run.

Usage: width_peer.py [BENCH-BINARY]     (else `cargo bench --bench width` is called)
Needs shapely 2 and numpy from PyPI.  Checks, and exits 1 if one fails:
- distance from a point to an outline, containment, distance between two outlines: the same within 1e-6 mm;
- at least 10 times faster a point and 40 times a pair than shapely's own distance in its vectorised form;
- each neck that is told: its two points lie on the outline, the line between lies inside (outside, for a gap), and a
  disc nearly as wide fits between them, by shapely's distances;
- completeness: wherever shrinking by half the limit, less a hundredth, parts an artwork, a neck is told, and wherever
  growing by as much joins two parts, a gap is told.
"""
import json
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np
import shapely
from shapely.geometry import LineString, MultiLineString, Point, Polygon


def region(rings):
    """Outer rings run counter-clockwise; the even-odd union of all is the area."""
    area = Polygon()
    for ring in rings:
        area = area.symmetric_difference(Polygon(ring).buffer(0))
    return area


def timed(f, rounds=3):
    best, answer = 1e9, None
    for _ in range(rounds):
        t = time.perf_counter()
        answer = f()
        best = min(best, time.perf_counter() - t)
    return best, answer


def main():
    faults = []
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "peer.json"
        tail = ["peer", str(file)]
        run = [sys.argv[1], *tail] if len(sys.argv) > 1 else ["cargo", "bench", "--bench", "width", "--", *tail]
        subprocess.run(run, check=True)
        data = json.loads(file.read_text())
    limit = data["limit"]
    point_s = tree_s = pair_s = prep_s = width_s = 0.0
    points = worst_point = worst_pair = 0
    wrong_inside = necks = gaps = parted = joined = 0
    for art in data["art"]:
        name = art["name"]
        lines = MultiLineString([ring + ring[:1] for ring in art["rings"]])
        asked = shapely.points(np.array(art["points"]))
        mine = np.array(art["distances"])
        seconds, theirs = timed(lambda: shapely.distance(asked, lines))
        point_s += seconds
        points += len(asked)
        worst_point = max(worst_point, np.abs(mine - theirs).max())
        # The fairest peer: a packed tree of all edges, asked in one call.
        edges = [LineString([r[i - 1], r[i]]) for r in art["rings"] for i in range(len(r))]
        tree = shapely.STRtree(edges)
        seconds, (_, near) = timed(lambda: tree.query_nearest(asked, return_distance=True, all_matches=False))
        tree_s += seconds
        worst_point = max(worst_point, np.abs(mine - near).max())
        area = region(art["rings"])
        inside = shapely.contains(area, asked)
        wrong_inside += int((inside != np.array(art["inside"]))[theirs > 1e-6].sum())
        other = region(art["other"])
        seconds, gap = timed(lambda: shapely.distance(area, other))
        pair_s += seconds
        shapely.prepare(area)
        seconds, gap2 = timed(lambda: shapely.distance(area, other))
        prep_s += seconds
        worst_pair = max(worst_pair, abs(gap - art["pair"]), abs(gap2 - art["pair"]))
        for kind, told in (("narrow", art["narrow"]), ("gaps", art["gaps"])):
            for x0, y0, x1, y1, width in told:
                a, b, mid = Point(x0, y0), Point(x1, y1), Point((x0 + x1) / 2, (y0 + y1) / 2)
                on = max(lines.distance(a), lines.distance(b))
                room = lines.distance(mid)
                # Polylines stand for the curves within 0.002 mm.
                good = on < 0.003 and abs(a.distance(b) - width) < 1e-6 and room > 0.5 * width - 0.005
                good = good and area.contains(mid) == (kind == "narrow")
                if not good:
                    faults.append(f"{name}: {kind} at {x0:.3f}, {y0:.3f}: on {on:.4f} room {room:.4f} width {width:.4f}")
        necks += len(art["narrow"])
        gaps += len(art["gaps"])
        count = lambda g: sum(p.area > 0.05 for p in shapely.get_parts(g))
        t = time.perf_counter()
        shrunk, grown = area.buffer(-0.495 * limit), area.buffer(0.495 * limit)
        width_s += time.perf_counter() - t
        if count(shrunk) > count(area):
            parted += 1
            if not art["narrow"]:
                faults.append(f"{name}: shrinking parts it, and no neck is told")
        holes = lambda g: sum(len(p.interiors) for p in shapely.get_parts(g))
        if count(grown) < count(area) or holes(grown) > holes(area):
            joined += 1
            if not art["gaps"]:
                faults.append(f"{name}: growing closes a gap, and none is told")
    point_ns, tree_ns = 1e9 * point_s / points, 1e9 * tree_s / points
    pair_us, prep_us = 1e6 * pair_s / len(data["art"]), 1e6 * prep_s / len(data["art"])
    own_point, own_pair = data["point_ns"], data["pair_ns"] / 1e3
    print(f"shapely {shapely.__version__}, GEOS {shapely.geos_version_string}, {points} points, {len(data['art'])} pairs")
    print(f"point to outline: {own_point:.0f} ns; shapely {point_ns:.0f} ns ({point_ns / own_point:.0f} x), its edge tree {tree_ns:.0f} ns ({tree_ns / own_point:.0f} x)")
    print(f"outline to outline: {own_pair:.1f} us; shapely {pair_us:.0f} us ({pair_us / own_pair:.0f} x), prepared {prep_us:.0f} us ({prep_us / own_pair:.0f} x)")
    print(f"largest difference: point {worst_point:.1e} mm, pair {worst_pair:.1e} mm; containment wrong {wrong_inside}")
    print(f"necks {necks} (shrinking parts {parted} artworks), gaps {gaps} (growing closes {joined})")
    print(f"all widths {data['width_ms']:.0f} ms; shapely's two buffers alone {1e3 * width_s:.0f} ms")
    if point_ns < 10 * own_point or pair_us < 40 * own_pair:
        faults.append("not as much faster as it should be")
    if max(worst_point, worst_pair) > 1e-6 or wrong_inside:
        faults.append("distances or containment differ")
    print("\n".join(faults) if faults else "all agree")
    sys.exit(1 if faults else 0)


main()
