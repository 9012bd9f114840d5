#!/usr/bin/env python3
"""Outlines of printed sheets against the exact ones that their scans were drawn from.

    sheet_outlines.py FRUSTA [--seeds 3 7 12] [--cases clean office poor pale dark] [--dpi 300] [--self-test]

Scans come from sheet_scans.py; `frusta sheet` finds what is on them; shapely measures. A motif is found if one outline and
no other lies on it, split if several do, merged if its outline lies on another motif too; an outline on none is false.
Distances are taken both ways between the boundaries. `closed` is the Hausdorff distance after both are closed and opened
by 0.4 mm: neither scissors nor blade follow narrower cracks and needles. Bias is the difference of areas by the
length of the outline. `--self-test` shifts, scales and drops outlines, and must notice.

Held to (300 dpi; the study's figures for outlines as measured, and 0.012 mm for the curves laid through them, which follow
within 0.05 mm): see LIMITS. Exit 1 if a limit is passed.
"""
import argparse
import json
import re
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np
import shapely
from shapely import affinity
from shapely.geometry import Polygon
from shapely.ops import unary_union

import sheet_scans
from found import Found

# mean of all motifs, worst motif's mean, bias, median and p95 of the closed Hausdorff distance; mm.
LIMITS = {
    "clean": (0.024, 0.15, 0.004, 0.060, 0.11),
    "office": (0.024, 0.15, 0.004, 0.060, 0.11),
    "poor": (0.032, 0.18, 0.008, 0.080, 0.30),
    "pale": (0.030, 0.15, 0.009, 0.075, 0.30),
    "dark": (0.032, 0.16, 0.009, 0.080, 0.30),
}
NODES = 45
CRACK = 0.4
JOB = """[cup]
rings = [{{ up = 0, girth = 188 }}, {{ up = 110, girth = 235 }}]
wall = 110
[[sheet]]
name = "sheet"
picture = "{picture}"
"""


def flattened(data, steps=24):
    """Rings of a path of absolute M, L, C and Z."""
    rings, ring, at = [], [], None
    t = np.linspace(0, 1, steps + 1)[1:, None]
    for op, rest in re.findall(r"([MLCZ])([^MLCZ]*)", data):
        v = np.array([float(x) for x in rest.split()]).reshape(-1, 2)
        if op == "M":
            ring, at = [v[0]], v[0]
        elif op == "L":
            ring.append(v[0])
            at = v[0]
        elif op == "C":
            a, b, c = v
            ring += list((1 - t) ** 3 * at + 3 * (1 - t) ** 2 * t * a + 3 * (1 - t) * t * t * b + t ** 3 * c)
            at = c
        else:
            rings.append(np.array(ring))
    return rings


def region(rings):
    """Even-odd of rings."""
    out = Polygon()
    for r in sorted((Polygon(r).buffer(0) for r in rings if len(r) > 2), key=lambda p: -p.area):
        out = out.symmetric_difference(r)
    return out


def found(frusta, picture, folder):
    """Regions in mm, y downward from the sheet's upper left corner, and nodes a motif; seconds that it took."""
    (folder / "job.toml").write_text(JOB.format(picture=picture.name))
    start = time.time()
    got = subprocess.run([frusta, "sheet", folder, "--json", "--force"], capture_output=True, text=True)
    seconds = time.time() - start
    said = json.loads(got.stdout)
    if not said["done"]:
        return [], [], seconds, [d["code"] if isinstance(d["code"], str) else d["code"]["id"] for d in said["found"]]
    sheet = said["sheets"][0]
    svg = (folder / "sheets" / sheet["file"]).read_text()
    # The sheet lies 8 mm from the left edge of the page, its upper edge 8 + 14 mm below the page's.
    paths = re.findall(r'<path d="([^"]*)"[^>]*id="print-(\d+)"|<path id="print-(\d+)"[^>]* d="([^"]*)"', svg)
    paths += [(d, n, "", "") for n, d in re.findall(r'<path [^>]*id="print-(\d+)"[^>]*?d="([^"]*)"', svg)] if not paths else []
    data = {int(a[1] or a[2]): a[0] or a[3] for a in paths}
    out = [affinity.translate(region(flattened(data[n])), -8, -22) for n in sorted(data)]
    return out, [m["nodes"] for m in sheet["motifs"]], seconds, []


def truth(placed):
    return [m["g"] for m in placed]


def smooth(g):
    return g.buffer(CRACK).buffer(-2 * CRACK).buffer(CRACK)


def points(g, step=0.1):
    lines = [r for p in (g.geoms if hasattr(g, "geoms") else [g]) for r in [p.exterior, *p.interiors]]
    return np.concatenate([shapely.line_interpolate_point(r, np.arange(0, r.length, step)) for r in lines])


def measured(want, got):
    """What was found of each, and distances of those that were."""
    share = lambda a, b: a.intersection(b).area > 0.1 * min(a.area, b.area)
    on = [[j for j, g in enumerate(got) if g.intersects(w) and share(g, w)] for w in want]
    holders = [sum(j in o for o in on) for j in range(len(got))]
    out = dict(found=0, split=0, merged=0, missed=0, false=sum(h == 0 for h in holders))
    means, p95, closed, bias, holes = [], [], [], [], [0, 0]
    for w, o in zip(want, on):
        if not o:
            out["missed"] += 1
        elif len(o) > 1:
            out["split"] += 1
        elif holders[o[0]] > 1:
            out["merged"] += 1
        else:
            out["found"] += 1
            g = got[o[0]]
            d = np.concatenate([shapely.distance(points(w), g.boundary), shapely.distance(points(g), w.boundary)])
            means.append(d.mean())
            p95.append(d)
            a, b = smooth(w), smooth(g)
            closed.append(a.boundary.hausdorff_distance(b.boundary) if not a.is_empty and not b.is_empty else 9.9)
            bias.append((g.area - w.area) / w.length)
            large = lambda q: sum(Polygon(i).area >= 2 and not Polygon(i).buffer(-0.4).is_empty
                                  for p in (q.geoms if hasattr(q, "geoms") else [q]) for i in p.interiors)
            holes[0] += min(large(w), large(g))
            holes[1] += max(large(w), large(g))
    out.update(mean=float(np.mean(means or [9])), worst=float(np.max(means or [9])), holes=holes,
               p95=float(np.percentile(np.concatenate(p95 or [[9]]), 95)), bias=float(np.mean(bias or [9])),
               median=float(np.median(closed or [9])), tail=float(np.percentile(closed or [9], 95)))
    return out


def hold(f, name, case, m, nodes, count):
    ok = m["found"] == count and not (m["split"] or m["merged"] or m["false"] or m["missed"])
    f.hold(ok, f"{name}: found {m['found']} of {count}, split {m['split']}, merged {m['merged']}, false {m['false']}")
    mean, worst, bias, median, tail = LIMITS[case]
    for what, v, most in [("mean", m["mean"], mean), ("worst", m["worst"], worst), ("bias", abs(m["bias"]), bias),
                          ("closed median", m["median"], median), ("closed p95", m["tail"], tail)]:
        f.hold(v <= most, f"{name}: {what} {v:.4f} mm, at most {most}")
    f.hold(m["holes"][0] == m["holes"][1], f"{name}: holes {m['holes'][0]} of {m['holes'][1]}")
    f.hold(np.mean(nodes or [99]) <= NODES, f"{name}: {np.mean(nodes or [99]):.1f} nodes a motif, at most {NODES}")


def self_test(want, got, nodes, case):
    """Damage that must be noticed."""
    damages = {
        "shifted by 0.1 mm": [affinity.translate(g, 0.1, 0) for g in got],
        "one scaled by 3 %": [affinity.scale(got[0], 1.03, 1.03)] + got[1:],
        "all grown by 0.02 mm": [g.buffer(0.02) for g in got],
        "one dropped": got[1:],
        "one cut in two": [got[0].intersection(h) for h in halves(got[0])] + got[1:],
        "two made one": [unary_union(got[:2]).convex_hull] + got[2:],
        "one too many": got + [affinity.translate(got[0], 1000, 0)],
    }
    blind = []
    for what, damaged in damages.items():
        f = Found()
        hold(f, what, case, measured(want, damaged), nodes, len(want))
        if not f.faults:
            blind.append(what)
    return blind


def halves(g):
    x0, y0, x1, y1 = g.bounds
    c = (x0 + x1) / 2
    return shapely.box(x0, y0, c - 0.01, y1), shapely.box(c + 0.01, y0, x1, y1)


def main():
    ap = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    ap.add_argument("frusta")
    ap.add_argument("--seeds", type=int, nargs="+", default=[3, 7, 12])
    ap.add_argument("--cases", nargs="+", default=list(LIMITS), choices=list(LIMITS))
    ap.add_argument("--dpi", type=int, default=300)
    ap.add_argument("--limit", type=int, default=24, help="motifs a sheet")
    ap.add_argument("--self-test", action="store_true")
    a = ap.parse_args()
    f = Found()
    print("case     dpi seed  found split merged false   mean  worst    p95    bias  closed: median   p95  holes nodes     s")
    for case in a.cases:
        for seed in a.seeds:
            with tempfile.TemporaryDirectory() as t:
                folder = Path(t)
                _, placed = sheet_scans.make(str(folder / "scan"), seed, dpi=a.dpi, case=case, limit=a.limit)
                picture = next(p for p in folder.iterdir() if p.suffix in (".png", ".jpg"))
                want = truth(placed)
                got, nodes, seconds, faults = found(a.frusta, picture, folder)
            name = f"{case} {a.dpi} dpi, seed {seed}"
            m = measured(want, got)
            print(f"{case:8} {a.dpi:3} {seed:4} {m['found']:3}/{len(want):2} {m['split']:5} {m['merged']:6} {m['false']:5} "
                  f"{m['mean']:7.4f} {m['worst']:6.3f} {m['p95']:6.3f} {m['bias']:+7.4f} {m['median']:15.3f} {m['tail']:6.3f} "
                  f"{m['holes'][0]:3}/{m['holes'][1]} {np.mean(nodes or [0]):5.1f} {seconds:5.1f}", flush=True)
            f.hold(not faults, f"{name}: refused with {faults}")
            hold(f, name, case, m, nodes, len(want))
            if a.self_test:
                f.faults += [f"{name}: {what} was not noticed" for what in self_test(want, got, nodes, case)]
    for fault in f.faults:
        print("FAULT", fault)
    sys.exit(bool(f.faults))


if __name__ == "__main__":
    main()
