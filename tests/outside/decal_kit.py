#!/usr/bin/env python3
"""Re-measures the decals of a kit from its cut files, with libraries that have nothing to do with it.

    decal_kit.py KIT               measure; print counts; exit 1 on any violation
    decal_kit.py KIT --self-test   damage copies of KIT in known ways and exit 1 unless each damage is found

Outlines are read by svgpathtools (PyPI) and carried back from their sheets by the manifest's poses; shapely (PyPI;
GEOS) grows each layer by the offset of the one below: that must lie inside the one below, and nothing of the one below
may lie farther out than its offset and the gaps that it closes. Keys must coincide over all layers.
"""
import argparse
import json
import re
import shutil
import sys
import tempfile
import xml.etree.ElementTree as ET
from pathlib import Path

import shapely
from shapely import affinity
from shapely.geometry import Polygon

import demo_kit as kit_of

# Points are written to 0.001 mm and flattened here within 0.0004 mm, on either of two outlines.
SLACK = 0.003
# What the program adds to be on the safe side (two fits of 0.01 mm and 0.006 mm), and once more the fits themselves.
BEYOND = 0.026 + 0.02
# Keys of two layers, each written to 0.001 mm in x and y: half a unit each in both directions.
KEY = 0.0015


def own_frames(kit, manifest, report):
    """{number: all that is cut for it, in its own frame}."""
    own = {}
    for s in manifest["sheets"]:
        root = ET.parse(kit / s["file"]).getroot()
        _, h = kit_of.page(root, s["file"], report)
        data = kit_of.paths_with_id(root, lambda k: k != kit_of.NOT_TO_CUT)
        for p in s["pieces"]:
            if p["spare"] or p["id"] not in data:
                continue
            g = kit_of.region(data[p["id"]], p["id"], report)
            g = affinity.affine_transform(g, [1, 0, 0, -1, -p["x_mm"], h - p["y_mm"]])
            g = affinity.rotate(g, -p["turn_deg"], origin=(0, 0))
            own[p["number"]] = affinity.scale(g, -1, 1, origin=(0, 0)) if s["mirrored"] else g
    return own


def filled(g):
    """Holes filled."""
    return shapely.unary_union([Polygon(p.exterior) for p in getattr(g, "geoms", [g])])


def decals(manifest, own, report):
    weed = {f["name"]: f["smallest_weedable_mm"] for f in manifest["films"]}
    told = [re.match(r"decal\[(\d+)\]", str(f["at"])) for f in manifest["found"] if f["code"] == "decal/mended"]
    mended = {int(m[1]) + 1 for m in told if m}
    for number, d in enumerate(manifest["decals"], 1):
        wanted = [Polygon(k) for k in d["keys_mm"]]
        layers = []
        for i, layer in enumerate(d["layers"]):
            parts = []
            for n in layer["pieces"]:
                if not report.hold("pieces", n in own, f"piece {n} of decal {number} is on no sheet"):
                    return
                g = own[n]
                for k, key in enumerate(wanted):
                    off = min(p.hausdorff_distance(key) for p in getattr(g, "geoms", [g]))
                    report.counts["farthest of a key from its place, mm"] = max(report.counts.get("farthest of a key from its place, mm", 0), round(off, 5))
                    report.hold("keys", off <= KEY, f"key {k + 1} of piece {n} is {off:.4f} mm off")
                    report.count("keys measured")
                bare = kit_of.without_keys(g, wanted)
                for key in wanted:
                    room = key.distance(bare)
                    report.hold("keys", room >= 2.0 - SLACK, f"a key is {room:.3f} mm from layer {i + 1}")
                parts.append(bare)
            layers.append(shapely.unary_union(parts))
            for a in range(len(parts)):
                for b in range(a + 1, len(parts)):
                    both = parts[a].intersection(parts[b]).area
                    report.hold("apart", both < 0.02, f"films of layer {i + 1} lie on each other over {both:.3f} mm2")
        above = layers[-1]
        for i in range(len(layers) - 2, -1, -1):
            spec, cut = d["layers"][i], layers[i]
            below = cut if spec["overlap_mm"] is None else cut.union(above)
            lacks = above.buffer(spec["offset_mm"] - SLACK, quad_segs=90).difference(below).area
            report.hold("offset", lacks < 1e-6, f"layer {i + 1} of decal {number} lacks {lacks:.5f} mm2 of its offset {spec['offset_mm']}")
            if spec["corners"] == "round":
                # Where a layer is mended, gaps too narrow for its film are filled too (half of them from either side),
                # and then the notches beside such a filling, by the fillet of a disc as wide.
                gap = max(spec["closes_mm"], 2 * max(weed[f] for f in spec["films"]) if number in mended else 0.0)
                most = spec["offset_mm"] + gap / 2 + BEYOND
                beyond = below.difference(above.buffer(most, quad_segs=90)).area
                report.hold("offset", beyond < 1e-6, f"layer {i + 1} of decal {number} reaches out too far over {beyond:.5f} mm2")
            if spec["overlap_mm"] is not None:
                under = above.buffer(-spec["overlap_mm"] + SLACK, quad_segs=90)
                rim = above.difference(under).difference(cut).area
                report.hold("overlap", rim < 1e-6, f"layer {i + 1} of decal {number} overlaps too little over {rim:.5f} mm2")
            report.count("layers held to their offset")
            above = below
        report.count("decals")


def measure(kit):
    report = kit_of.Report()
    manifest = json.loads((kit / "manifest.json").read_text())
    report.hold("pieces", bool(manifest["decals"]), "the kit has no decal")
    decals(manifest, own_frames(kit, manifest, report), report)
    return report


def self_test(kit):
    manifest = json.loads((kit / "manifest.json").read_text())
    d = manifest["decals"][0]
    base, middle = d["layers"][0]["pieces"][0], d["layers"][-2]["pieces"][0]
    where = {p["number"]: s["file"] for s in manifest["sheets"] for p in s["pieces"]}
    damages = [
        ("the base moved by 0.05 mm", where[base], kit_of.move(f"p{base}", 0.05, 0), {"keys"}),
        ("a middle layer moved by 0.005 mm", where[middle], kit_of.move(f"p{middle}", 0.005, 0), {"keys"}),
        ("an offset that was not kept", "manifest.json", lambda t: re.sub(r'"offset_mm": ([0-9.]+)', lambda m: f'"offset_mm": {float(m[1]) + 0.04}', t, count=1), {"offset"}),
        ("an offset that was passed", "manifest.json", lambda t: re.sub(r'"offset_mm": ([0-9.]+)', lambda m: f'"offset_mm": {float(m[1]) - 0.6}', t, count=1), {"offset"}),
        ("a layer left out", where[base], lambda t: re.sub(rf'<g id="p{base}">.*?</g>', "", t, count=1, flags=re.S), {"pieces"}),
    ]
    missed = 0
    for what, name, change, kinds in damages:
        with tempfile.TemporaryDirectory() as folder:
            copy = Path(folder) / "kit"
            shutil.copytree(kit, copy)
            kit_of.edit(copy / name, change)
            found = measure(copy).kinds()
        ok = kinds <= found
        missed += not ok
        print(f"{'found ' if ok else 'MISSED'}  {what}: asked for {sorted(kinds)}, found {sorted(found)}")
    print(f"{len(damages) - missed} of {len(damages)} damages found")
    return missed == 0


def main():
    args = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    args.add_argument("kit", type=Path)
    args.add_argument("--self-test", action="store_true")
    a = args.parse_args()
    if a.self_test:
        sys.exit(0 if self_test(a.kit) else 1)
    report = measure(a.kit)
    sys.exit(report.told())


if __name__ == "__main__":
    main()
