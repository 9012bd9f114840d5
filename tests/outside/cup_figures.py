"""What the program says of tape readings, held to cups whose true shape is known: through `measure --json`.

    cup_figures.py PROGRAM [--count N] [--seed S]
    cup_figures.py PROGRAM --walls N [--seed S]     smooth walls and told edges as they are laid out

Simulates N cups a family (true cones, barrels, tulips, flares, kinks) of 3 to 9 rings read with a tape of sd 0.5 mm at
heights marked with sd 0.3 mm. The tape is 0 to 0.3 mm thick: half of the makers say so, the others do not. Each is read
by the program, and held to what is true:

- false alarm, a true cone called none: 1.5 percent at most (plus three sd of the count);
- coverage of the gaps told at rim and base, over cones and walls: 92 to 99.9 percent (with the same allowance);
- no told gap below the largest residual, recomputed here by a least squares of its own (numpy);
- a ring read 3 mm wrong, of 5: flagged, and the right one named;
- walls 2 mm off the best cone missed; walls 10 mm off refused.

With --walls (five rings, marks exact, tape sd 0.5): how far the wall that is laid out is off the true one anywhere, of
95 in 100 cups (cone 1.0, barrel 1.3, told edge 1.2, tulip 1.5, flare 1.7 mm of girth); the told gaps cover 92 percent or
more; of seven rings the one read 6 mm wrong on a barrel or flare is named, and hardly any of a true wall (3 in 100).

The figures are the project's own, computed beforehand by simulation; the truth is the simulated cup. Random numbers and
least squares: numpy (PyPI). Exit 1 and a list if a promise is broken.
"""

import argparse
import json
import math
import pathlib
import subprocess
import sys
import tempfile
from concurrent.futures import ThreadPoolExecutor

import numpy as np

TAPE, MARKS = 0.5, 0.3


def bowed(family, wall, rng):
    """A departure from the straight line along the wall, before it is scaled to its size."""
    at = rng.uniform(0.3, 0.7)
    return {
        "barrel": lambda s: 4 * s / wall * (1 - s / wall),
        "tulip": lambda s: np.sin(2 * math.pi * s / wall),
        "flare": lambda s: np.exp(3 * (s / wall - 1)),
        "kink": lambda s: np.where(s < at * wall, s / (at * wall), (wall - s) / (wall * (1 - at))),
    }[family]


def best_cone(true, wall):
    """Largest girth off the best single cone, sampled: least squares on 101 heights."""
    s = np.linspace(0, wall, 101)
    return np.abs(true(s) - np.polyval(np.polyfit(s, true(s), 1), s)).max()


def cup(rng, family, size, rings, slip=0.0, marks=MARKS):
    wall = rng.uniform(80, 200)
    base = rng.uniform(170, 260)
    k = rng.uniform(-0.02, 0.15)
    straight = lambda s: base + 2 * math.pi * k * s
    true = straight
    if family != "cone":
        shape = bowed(family, wall, rng)
        scale = size / best_cone(shape, wall) * rng.choice([-1, 1])
        true = lambda s: straight(s) + scale * shape(s)
    up = np.linspace(0, wall, rings)
    marked = np.clip(up + rng.normal(0, marks, rings), 0, wall)
    thickness = rng.uniform(0, 0.3)
    read = true(marked) + rng.normal(0, TAPE, rings) + math.pi * thickness
    wrong = int(rng.integers(rings))
    read[wrong] += slip * rng.choice([-1, 1])
    said = rng.random() < 0.5
    lines = [f"{{ up = {u:.4f}, girth = {g:.4f} }}" for u, g in zip(up, read)]
    job = (
        f"[cup]\nrings = [{', '.join(lines)}]\nwall = {wall:.4f}\ntape = {TAPE}\nmarks = {marks}\n"
        + (f"tape-thickness = {thickness:.4f}\n" if said else "")
        + "keep-clear = { rim = 20, base = 6 }\n"
    )
    return job, (float(true(0.0)), float(true(wall))), wrong


def measured(program, folder, i, job):
    at = pathlib.Path(folder) / f"{i}.toml"
    at.write_text(job)
    run = subprocess.run([program, "measure", str(at), "--json"], capture_output=True, text=True)
    at.unlink()
    return json.loads(run.stdout)


def codes(told):
    return {d["code"]: d for d in told.get("found", told.get("diagnostics", []))}


# Family: least and greatest size (mm of radius), and what may be off at most in 95 of 100, mm of girth.
WALLS = {"cone": (0, 0, 1.0), "barrel": (0.1, 3, 1.3), "edge": (0.1, 3, 1.2), "tulip": (0.1, 2, 1.5), "flare": (0.3, 5, 1.7)}


def shaped(rng, family, rings, slip=0.0):
    """A wall of the design's families (radius along the wall), its job, its true girths, and which ring is wrong."""
    wall, base, k = 150.0, rng.uniform(30, 40), rng.uniform(-0.02, 0.1)
    low, high, _ = WALLS[family]
    size, at = rng.uniform(low, high), rng.uniform(0.3, 0.7)
    t = lambda s: np.asarray(s) / wall
    more = {
        "cone": lambda s: 0 * t(s),
        "barrel": lambda s: 4 * t(s) * (1 - t(s)),
        "tulip": lambda s: np.sin(2 * math.pi * t(s)),
        "flare": lambda s: t(s) ** 3,
        "edge": lambda s: np.minimum(t(s) / at, (1 - t(s)) / (1 - at)),
    }[family]
    true = lambda s: 2 * math.pi * (base + k * np.asarray(s) + size * more(s))
    up = np.linspace(0, wall, rings)
    if family == "edge":
        # The maker reads a ring on the edge instead of the one nearest to it.
        up[1 + int(np.argmin(np.abs(up[1:-1] - at * wall)))] = at * wall
    read = true(up) + rng.normal(0, TAPE, rings)
    wrong = int(rng.integers(rings))
    read[wrong] += slip * rng.choice([-1, 1])
    said = [f", edge = true" if family == "edge" and abs(u - at * wall) < 1e-9 else "" for u in up]
    lines = [f"{{ up = {u:.4f}, girth = {g:.4f}{e} }}" for u, g, e in zip(up, read, said)]
    curved = "curved = true\n" if family in ("barrel", "tulip", "flare") else ""
    return f"[cup]\nrings = [{', '.join(lines)}]\nwall = {wall}\ntape = {TAPE}\nmarks = 0.0\n{curved}", true, wrong


def laid_out(told, s):
    """Girths of the wall that is laid out: the curve where there is one, else its cones."""
    curve = told["readings"].get("curve")
    if curve:
        return np.interp(s, *np.array(curve["profile_mm"]).T)
    zones = told.get("zones") or [{"from_mm": 0.0, "to_mm": 150.0, "cup": told["cup"]}]
    ends = [(z["from_mm"], z["cup"]["base_girth_mm"]) for z in zones] + [(zones[-1]["to_mm"], zones[-1]["cup"]["rim_girth_mm"])]
    return np.interp(s, *np.array(ends).T)


def walls(program, count, seed):
    rng = np.random.default_rng(seed)
    cases = [(f, 5, 0.0) for f in WALLS for _ in range(count)]
    cases += [(f, 7, slip) for f in ("barrel", "flare") for slip in (0.0, 6.0) for _ in range(count)]
    made = [(f, n, slip, *shaped(rng, f, n, slip)) for f, n, slip in cases]
    with tempfile.TemporaryDirectory() as folder, ThreadPoolExecutor(2) as pool:
        told = list(pool.map(lambda x: measured(program, folder, x[0], x[1][3]), enumerate(made)))
    broken, off, covered, named = [], {}, {}, {}
    s = np.linspace(0, 150, 301)
    for (family, rings, slip, _, true, wrong), t in zip(made, told):
        if "readings" not in t:
            broken.append(f"{family}: not read: {list(codes(t))}")
            continue
        if rings == 7:
            doubt = codes(t).get("cup/ring-doubted")
            row = named.setdefault((family, slip), [0, 0, 0])
            at = doubt and int(doubt["at"].split("[")[1].split("]")[0])
            row[0] += 1
            row[1] += doubt is not None
            row[2] += doubt is not None and at == wrong
            continue
        e = laid_out(t, s) - true(s)
        off.setdefault(family, []).append(np.abs(e).max())
        r = t["readings"]
        covered.setdefault(family, []).extend([abs(e[-1]) <= r["worst_gap_at_rim_mm"], abs(e[0]) <= r["worst_gap_at_base_mm"]])
    for family, (_, _, most) in WALLS.items():
        worst, share = np.quantile(off[family], 0.95), np.mean(covered[family])
        print(f"{family:8} {len(off[family]):6} walls  95 of 100 within {worst:.2f} mm (allowed {most})  told gaps cover {share:.3f}")
        # A quantile of few cups strays itself.
        if worst > most * (1 + 1.5 / math.sqrt(count)):
            broken.append(f"{family}: off by {worst:.2f}, {most} allowed")
        if share < 0.92 - 3 * math.sqrt(0.92 * 0.08 / len(covered[family])):
            broken.append(f"{family}: told gaps cover {share:.3f}")
    for (family, slip), (n, said, right) in named.items():
        print(f"{family:8} {n:6} walls of seven rings, one {slip:.0f} mm wrong: {said} doubted, {right} of them rightly")
        if slip == 0 and said / n > 0.03 + 3 * math.sqrt(0.03 * 0.97 / n):
            broken.append(f"{family}: {said} of {n} true walls doubted")
        if slip and (said < 0.7 * n or right < 0.85 * said - 3 * math.sqrt(said)):
            broken.append(f"{family}: {said} of {n} slips found, {right} rightly")
    print("\n".join(broken) if broken else "all held")
    sys.exit(bool(broken))


def main():
    ask = argparse.ArgumentParser()
    ask.add_argument("program")
    ask.add_argument("--count", type=int, default=100, help="cups a family; cones five times as many")
    ask.add_argument("--seed", type=int, default=20260)
    ask.add_argument("--walls", type=int, default=0, help="walls a family as they are laid out; nothing else is done")
    a = ask.parse_args()
    if a.walls:
        walls(a.program, a.walls, a.seed)
    rng = np.random.default_rng(a.seed)
    cases = [("cone", 0.0, 3 + i % 7, 0.0) for i in range(5 * a.count)]
    for family in ("barrel", "tulip", "flare", "kink"):
        low = 5 if family == "tulip" else 3
        cases += [(family, rng.uniform(0.1, 6), low + i % (10 - low), 0.0) for i in range(a.count)]
        # The size asked of the test itself; a kink is seen by 5 rings or more (a ring must stand near it).
        low = 3 if family == "barrel" else 5
        cases += [(family + " 2 mm", 2.0, low + 2 * (i % 2), 0.0) for i in range(a.count)]
    cases += [("slip", 0.0, 5, 3.0) for _ in range(a.count)]
    cases += [("far", rng.uniform(10, 20), 5, 0.0) for _ in range(a.count // 2)]
    made = []
    for kind, size, rings, slip in cases:
        family = {"slip": "cone", "far": "barrel"}.get(kind, kind.split()[0])
        # The figures for a slip and for walls 2 mm off were computed beforehand for heights marked exactly.
        marks = 0.0 if kind == "slip" or kind.endswith("2 mm") else MARKS
        made.append((kind, rings, *cup(rng, family, size, rings, slip, marks)))
    with tempfile.TemporaryDirectory() as folder, ThreadPoolExecutor(2) as pool:
        told = list(pool.map(lambda x: measured(a.program, folder, x[0], x[1][2]), enumerate(made)))

    broken, table = [], {}
    below = unread = 0
    for (kind, rings, job, (base, rim), wrong), t in zip(made, told):
        if "readings" not in t or "cup" not in t:
            unread += 1
            continue
        r, row = t["readings"], table.setdefault(kind, {"n": 0, "alarm": 0, "refused": 0, "covered": 0, "named": 0, "right": 0})
        row["n"] += 1
        found = codes(t)
        alarm = "cup/not-one-cone" in found or "cup/no-cone-fits" in found
        row["alarm"] += alarm
        row["refused"] += "cup/no-cone-fits" in found
        row["named"] += bool(alarm and r["bow"]["named"])
        row["right"] += bool(alarm and r["bow"]["named"] and r["bow"]["ring"] == wrong)
        gaps = (r["worst_gap_at_base_mm"], r["worst_gap_at_rim_mm"])
        off = (t["cup"]["base_girth_mm"] - base, t["cup"]["rim_girth_mm"] - rim)
        row["covered"] += sum(abs(o) <= g for o, g in zip(off, gaps)) / 2
        s, g = np.array([[x["up_mm"], x["read_mm"]] for x in r["rings"]]).T
        # All rings are read once each: weights are equal and the least squares is the ordinary one.
        worst = np.abs(g - np.polyval(np.polyfit(s, g, 1), s)).max()
        below += min(gaps) < worst - 2e-3

    allow = lambda p, n: p + 3 * math.sqrt(p * (1 - p) / n)
    for kind, row in table.items():
        n = row["n"]
        print(f"{kind:12} {n:6} cups  alarm {row['alarm'] / n:6.3f}  refused {row['refused'] / n:6.3f}  "
              f"covered {row['covered'] / n:6.3f}  named {row['named']:4}  rightly {row['right']:4}")
        if kind in ("cone", "barrel", "tulip", "flare", "kink"):
            share = row["covered"] / n
            if share < 0.92 - 3 * math.sqrt(0.92 * 0.08 / n):
                broken.append(f"{kind}: told gaps cover {share:.3f}, at least 0.92 is promised")
        if kind.endswith("2 mm") and kind != "flare 2 mm" and 1 - row["alarm"] / n > allow(0.04, n):
            broken.append(f"{kind}: missed {1 - row['alarm'] / n:.3f}, 0.04 at most")
    whole = [table[k] for k in ("cone", "barrel", "tulip", "flare") if k in table]
    n = sum(row["n"] for row in whole)
    share = sum(row["covered"] for row in whole) / n
    print(f"told gaps cover {share:.4f} of {n} cups; below the largest residual: {below}; not read: {unread}")
    cones = table["cone"]
    if cones["alarm"] / cones["n"] > allow(0.015, cones["n"]):
        broken.append(f"false alarms {cones['alarm']} of {cones['n']}, 1.5 percent at most")
    if share > 0.999:
        broken.append(f"told gaps cover {share:.4f}: too wide to say anything")
    if below:
        broken.append(f"{below} told gaps below the largest residual")
    if unread:
        broken.append(f"{unread} cups were not read")
    slip, far = table["slip"], table["far"]
    print(f"slip of 3 mm in 5 rings: flagged {slip['alarm']} of {slip['n']}, right ring named {slip['right']}")
    if slip["alarm"] / slip["n"] < 0.87 - 3 * math.sqrt(0.87 * 0.13 / slip["n"]):
        broken.append("a slip of 3 mm is flagged too seldom")
    if slip["right"] < slip["alarm"] * 0.8:
        broken.append("the wrong ring is named too often")
    if far["refused"] < far["n"]:
        broken.append(f"{far['n'] - far['refused']} walls 10 mm off every cone were not refused")
    print("\n".join(broken) if broken else "all held")
    sys.exit(bool(broken))


if __name__ == "__main__":
    main()
