#!/usr/bin/env python3
"""Writes fixtures/kernel-foreign.txt: boolean cases that another library ships with its expected results.

Source: tests/boolean/test_*.json of the crate i_overlay 9.1.0 (MIT OR Apache-2.0, Nail Sharipov), as published.
Usage: kernel_foreign.py FOLDER-OF-THE-CRATE > fixtures/kernel-foreign.txt

A line a case: name, fill rule (O even-odd, N nonzero), subject, clip, and the areas of union, intersection,
difference and exclusive-or, separated by tabs. Paths are separated by a stroke, coordinates by blanks, in the
units of the source. Left out: cases of other fill rules, those whose admissible results differ in area, and those
that the crate's own tests/overlay_tests.rs does not run (their recorded results are of other inputs).
"""
import glob
import json
import os
import re
import sys


def area(shapes):
    total = 0
    for shape in shapes:
        for path in shape:
            total += sum(a[0] * b[1] - a[1] * b[0] for a, b in zip(path, path[1:] + path[:1]))
    return abs(total) / 2


def paths(list_of_paths):
    return "|".join(" ".join(f"{x} {y}" for x, y in path) for path in list_of_paths)


def main():
    files = glob.glob(os.path.join(sys.argv[1], "tests", "boolean", "test_*.json"))
    own = open(os.path.join(sys.argv[1], "tests", "overlay_tests.rs")).read()
    run = set(re.findall(r"execute\((\d+)\)", own))
    left = 0
    for file in sorted(files, key=lambda f: int(f.rsplit("_", 1)[1][:-5])):
        case = json.load(open(file))
        wanted = []
        for op in ["union", "intersect", "difference", "xor"]:
            areas = {area(result) for result in case.get(op, [])}
            wanted.append(areas.pop() if len(areas) == 1 else None)
        number = file.rsplit("_", 1)[1][:-5]
        if number not in run or case.get("fillRule") not in (0, 1) or None in wanted:
            left += 1
            continue
        rule = "ON"[case["fillRule"]]
        name = os.path.basename(file)[:-5]
        row = [name, rule, paths(case["subjPaths"]), paths(case["clipPaths"]), *(f"{a:.1f}" for a in wanted)]
        print("\t".join(row))
    print(f"{left} of {len(files)} cases left out", file=sys.stderr)


main()
