#!/usr/bin/env python3
"""Cups with edges (a foot, a shoulder): random jobs by seed, and their kits measured again with numpy and shapely.

    edges.py PROGRAM [--seed N] [--count N] [--keep DIR]    make and measure; exit 1 on any violation
    edges.py KIT --self-test                                 damage copies of KIT and exit 1 unless each damage is found
    edges.py KIT                                             measure one kit

Held, each by a way that has nothing to do with the program's own:
- girths at base, edges and rim: linear splines through the readings, by numpy's least squares, in the weights that the
  program states (a reading strays by tape / sqrt repeats and by marks times the slope of its line);
- neighbours share their girth at an edge; developed ring pieces have the area (C1 + C2) s / 2 and the round
  C1 + C2 + 2 s of a frustum (closed forms), the lap besides; marks over an edge are the same letters' way apart on both
  sides: chords of an eighth of the arc, 2 R sin(phi / 16);
- every point of every piece, wrapped back onto its own cone: within the bands, half its clearance off every edge;
- pieces of one zone: distances on that zone's plane, over the seam too (shapely);
- pieces on two sides of an edge: shortest ways over the edge, |p - e| + |e - q| with e on the edge (numpy, the least
  over a fine round of e): not below the clearance of either, and never below the straight line in space.

Cups: 1 to 3 edges; parts that widen and that narrow upwards, upright ones, up to 40 degrees steep; rings read once or
several times, more of them than needed or not; one handle or two, seam, lap, build-up; a decal now and then.
"""
import argparse
import json
import math
import re
import sys
import xml.etree.ElementTree as ET
from pathlib import Path

import numpy as np
import shapely
from shapely import affinity

sys.path.insert(0, str(Path(__file__).resolve().parent))
import campaign
import demo_kit
import random_jobs
import remeasure

TAPE, MARKS = 0.5, 0.3
SLACK = 0.004


# ---- jobs ------------------------------------------------------------------------------------------------------------


def sine(s, kind):
    """Sine of a part's lean, positive where it widens upwards."""
    return math.sin(math.radians({
        "upright": s.between(-0.5, 0.5), "wide": s.between(1, 12), "narrow": s.between(-12, -1),
        "foot": s.between(-35, -12), "shoulder": s.between(-40, -15), "steep": s.between(14, 40),
    }[kind]))


def write(seed, folder):
    s = random_jobs.Stream(seed)
    while True:
        count = s.pick([2, 2, 2, 3, 3, 4])
        kinds = [s.pick(["upright", "wide", "wide", "narrow", "foot", "steep"])]
        kinds += [s.pick(["upright", "wide", "wide", "narrow", "shoulder", "steep"]) for _ in range(count - 1)]
        heights = [s.between(8, 40) if k in ("foot", "shoulder", "steep") else s.between(25, 110) for k in kinds]
        knots, girths = [0.0], [s.between(140, 290)]
        for k, h in zip(kinds, heights):
            knots.append(round(knots[-1] + h, 1))
            girths.append(girths[-1] + math.tau * sine(s, k) * (knots[-1] - knots[-2]))
        if 70 < knots[-1] < 260 and 110 < min(girths) and max(girths) < 420:
            break
    wall = knots[-1]
    rings = []
    for i, (up, girth) in enumerate(zip(knots, girths)):
        rings.append((up, girth, 0 < i < len(knots) - 1))
        if i + 1 < len(knots) and s.chance(0.4):
            part = s.between(0.3, 0.7)
            rings.append((round(up + part * (knots[i + 1] - up), 1), girth + part * (girths[i + 1] - girth), False))
    said = []
    for up, girth, edge in rings:
        reads = [f"{girth + s.between(-0.25, 0.25):.2f}" for _ in range(s.pick([1, 1, 2, 3]))]
        value = reads[0] if len(reads) == 1 else "[" + ", ".join(reads) + "]"
        said.append(f"  {{ up = {up}, girth = {value}{', edge = true' if edge else ''} }},")
    base, rim = s.pick([3, 6, 0]), s.pick([20, 15, 8])
    text = [f'title = "Edges {seed}"', f"seed = {seed}", "[cup]", "rings = [", *said, "]", f"wall = {wall}"]
    text.append(f"keep-clear = {{ rim = {rim}, base = {base} }}")
    if s.chance(0.4):
        text.append(f"seam = {s.whole(-180, 180)}")
    if s.chance(0.3):
        text.append(f"lap = {s.between(1, 8):.1f}")
    if s.chance(0.3):
        text.append(f"build-up = {s.between(0.1, 1.2):.2f}")
    if s.chance(0.4):
        low = s.between(0, 0.4) * wall
        text.append(f"handle = {{ at = {s.whole(-180, 180)}, width = {s.between(12, 30):.1f}, from = {low:.1f}, to = {low + s.between(0.2, 0.5) * wall:.1f} }}")
        if s.chance(0.4):
            at = s.whole(-180, 180)
            text[-1] = text[-1].replace("handle = ", "handle = [") + f", {{ at = {at}, width = 9, from = {0.6 * wall:.1f}, to = {0.75 * wall:.1f} }}]"
    for name in ("moss", "copper"):
        text += ["[[film]]", f'name = "{name}"', "sheet = [300, 200]"]
    folder.mkdir(parents=True, exist_ok=True)
    clear = s.between(1.2, 3.0)
    for i in range(s.pick([1, 2])):
        r = s.between(4, 7)
        (folder / f"blob-{i}.svg").write_text(random_jobs.sheet_of(f'<path fill="#000" d="{random_jobs.blob(s, r, r, r)}"/>', 2 * r, 2 * r, s))
        text += ["[[motif]]", f'art = "blob-{i}.svg"', f"width = {1.6 * r:.2f}", f'film = "{s.pick(["moss", "copper"])}"']
        text += [f"copies = {s.whole(2, 9)}", 'turning = "free"', f"clearance = {clear:.2f}"]
    if s.chance(0.3):
        width = s.between(0.12, 0.3) * min(girths)
        text += ["[[decal]]", f'text = "{s.pick(random_jobs.WORDS)}"', f'font = "{s.pick(random_jobs.FONTS)}"', f"fits = [{width:.1f}, 20]"]
        text += ['up = "centred"', f"azimuth = {s.whole(-180, 180)}", f'lies = "{s.pick(["upright", "rigid", "bent"])}"', f"clearance = {clear:.2f}"]
        text += ['layers = [{ film = "moss", offset = 1.5 }, { film = "copper" }]']
    if s.chance(0.8):
        gap = s.between(1.0, 3.5)
        text += ["[[accent]]", f'families = ["{s.pick(["pebble", "blob", "seed", "petal"])}"]', f"smallest = {s.between(4.5, 6):.2f}"]
        text += [f"largest = {s.between(7, 10):.2f}", f"gap = {gap:.2f}", "films = { moss = 1, copper = 1 }"]
    (folder / "job.toml").write_text("\n".join(text) + "\n")


# ---- measuring -------------------------------------------------------------------------------------------------------


class Cone(demo_kit.Wall):
    """A zone's developed plane: heights are counted from the zone's lower edge."""

    def __init__(self, zone):
        f = zone["surface"]
        self.slant, self.r0 = f["slant_mm"], f["base_girth_mm"] / math.tau
        self.k = (f["rim_girth_mm"] - f["base_girth_mm"]) / (math.tau * self.slant)
        self.straight = abs(self.k) < 1e-7
        self.foot, self.rise = 0.0, f["height_mm"]

    def space(self, azimuth_deg, up):
        """In space: round azimuth, radius, height over the foot of the cup."""
        r, y = self.r0 + self.k * up, self.foot + up / self.slant * self.rise
        a = np.radians(azimuth_deg)
        return np.stack([r * np.sin(a), y + 0 * a, r * np.cos(a)], axis=-1)


def spline(manifest, job, report):
    """Girths at the knots, by numpy."""
    rings = {}
    for r in job["cup"]["rings"]:
        g = r["girth"] if isinstance(r["girth"], list) else [r["girth"]]
        rings[r["up"]] = (g, r.get("edge", False))
    ups = sorted(rings)
    knots = [0.0] + [u for u in ups if rings[u][1]] + [job["cup"]["wall"]]
    reads = np.array([len(rings[u][0]) for u in ups])
    y = np.array([np.mean(rings[u][0]) for u in ups])
    rows = np.zeros((len(ups), len(knots)))
    below = [min(max(j for j, k in enumerate(knots) if k <= u), len(knots) - 2) for u in ups]
    for i, (u, j) in enumerate(zip(ups, below)):
        t = (u - knots[j]) / (knots[j + 1] - knots[j])
        rows[i, j], rows[i, j + 1] = 1 - t, t
    solve = lambda sd: np.linalg.lstsq(rows / sd[:, None], y / sd, rcond=None)[0]
    plain = TAPE / np.sqrt(reads)
    first = solve(plain)
    slopes = np.abs(np.diff(first) / np.diff(knots))
    slope = [max(slopes[j], slopes[j - 1]) if rings[u][1] else slopes[j] for u, j in zip(ups, below)]
    # Repeats that stray by more than the tape are said to be used instead: their sd is the manifest's.
    strays = manifest["cup"]["worth"].get("repeats_stray_mm")
    plain = (strays or TAPE) / np.sqrt(reads)
    girths = solve(np.sqrt(plain**2 + (MARKS * np.array(slope)) ** 2))
    zones = manifest["cup"]["zones"]
    got = [zones[0]["measured"]["base_girth_mm"]] + [z["measured"]["rim_girth_mm"] for z in zones]
    off = float(np.abs(np.array(got) - girths).max()) if len(got) == len(girths) else 99.0
    report.hold("girths", off < 0.01, f"girths at the knots {got}, by least squares {girths.round(3).tolist()}")
    for a, b in zip(zones, zones[1:]):
        step = abs(a["measured"]["rim_girth_mm"] - b["measured"]["base_girth_mm"])
        report.hold("joined", step < 2e-3, f"part {a['part']} and the next differ by {step:.3f} mm of girth at their edge")
    report.count("girths at knots held to least squares", len(got))


def template(kit, manifest, report):
    root = ET.parse(kit / "template/wrap.svg").getroot()
    lap = manifest["cup"]["lap_mm"]
    ticks = {}
    for zone in manifest["cup"]["zones"]:
        name, f = zone["part"].lower(), zone["surface"]
        data = demo_kit.paths_with_id(root, lambda k: k == f"outline-{name}")
        if not report.hold("template", len(data) == 1, f"no outline of part {name}"):
            continue
        g = demo_kit.region(next(iter(data.values())), name, report)
        lower, upper, s = f["base_girth_mm"], f["rim_girth_mm"], f["slant_mm"]
        area, around = (lower + upper) / 2 * s + lap * s, lower + upper + 2 * s + 2 * lap
        report.hold("template", abs(g.area - area) < 0.02 + 1e-5 * area, f"part {name}: area {g.area:.3f}, closed form {area:.3f}")
        report.hold("template", abs(g.length - around) < 0.05, f"part {name}: {g.length:.3f} round, closed form {around:.3f}")
        group = next(e for e in root.iter() if e.get("id") == f"joins-{name}")
        marks = [re.findall(r"-?\d+(?:\.\d+)?", e.get("d", "")) for e in group.iter() if e.tag.endswith("path") and e.get("stroke")]
        ticks[zone["part"]] = [tuple(map(float, m[:2])) for m in marks if len(m) == 4]
        report.count("ring pieces held to closed forms")
        sweep = (upper - lower) / s
        sides = [side for side, there in ((lower, zone["from_mm"] > 0), (upper, zone["to_mm"] < manifest["cup"]["surface"]["slant_mm"] - 1e-6)) if there]
        eighths = len(ticks[zone["part"]]) // max(len(sides), 1)
        for i, girth in enumerate(sides):
            own = ticks[zone["part"]][i * eighths:(i + 1) * eighths]
            report.hold("marks", eighths in (7, 8), f"part {name}: {eighths} marks at an edge")
            want = girth / 8 if abs(sweep) < 1e-6 else 2 * abs(girth / sweep) * math.sin(abs(sweep) / 16)
            for a, b in zip(own, own[1:] + own[:1]):
                d = math.dist(a, b)
                # Over the seam, and where one is left out on it, they lie at both ends of the piece.
                ok = abs(d - want) < 0.01
                report.count("marks an eighth of a round apart", int(ok))
            good = sum(abs(math.dist(a, b) - want) < 0.01 for a, b in zip(own, own[1:]))
            report.hold("marks", good >= len(own) - 2, f"part {name}: only {good} of {len(own) - 1} marks an eighth apart")


def zone_of(piece):
    return ord(piece["zone"].split("part ")[1][0]) - ord("A")


def placed(manifest, own):
    """{number: (zone, outline near the front of the zone's plane, azimuth)}."""
    cones = [Cone(z) for z in manifest["cup"]["zones"]]
    for a, b in zip(cones, cones[1:]):
        b.foot = a.foot + a.rise
    out = {}
    for p in manifest["pieces"]:
        if p["number"] not in own or p["kind"]["is"] == "base":
            continue
        zone = zone_of(p)
        low = manifest["cup"]["zones"][zone]["from_mm"]
        x, y = cones[zone].at(0.0, p["up_mm"] - low)
        g = affinity.translate(affinity.rotate(own[p["number"]], p["turn_deg"], origin=(0, 0)), x, y)
        out[p["number"]] = (zone, g, p["azimuth_deg"])
    return cones, out


def wall(manifest, own, report):
    zones = manifest["cup"]["zones"]
    cones, on = placed(manifest, own)
    pieces = {p["number"]: p for p in manifest["pieces"]}
    edges = [z["from_mm"] for z in zones[1:]]
    points = {}
    for n, (zone, g, azimuth) in on.items():
        pts = shapely.get_coordinates(shapely.segmentize(g, 0.25))
        az, up = cones[zone].polar(pts)
        az, up = az + azimuth, up + zones[zone]["from_mm"]
        points[n] = (zone, az, up)
        z, half = zones[zone], pieces[n]["clearance_mm"] / 2
        report.hold("bands", up.min() > z["film_from_mm"] - SLACK and up.max() < z["film_to_mm"] + SLACK, f"piece {n}: {up.min():.3f} to {up.max():.3f} up, film from {z['film_from_mm']} to {z['film_to_mm']}")
        for e in edges:
            off = max(e - up.max(), up.min() - e)
            report.hold("edge", off > half - SLACK, f"piece {n}: {off:.3f} mm off the edge at {e}, half its clearance is {half:.3f}")
            report.counts["least off an edge beyond half the clearance, mm"] = round(min(report.counts.get("least off an edge beyond half the clearance, mm", 99.0), off - half), 3)
        report.count("pieces held off edges and bands")
    for zone, cone in enumerate(cones):
        spread(cone, {n: v for n, v in on.items() if v[0] == zone}, pieces, report)
    for edge in range(len(edges)):
        across(cones, zones, points, edge, pieces, report)


def spread(cone, on, pieces, report):
    """Distances on a zone's plane: of each pair, brought to the front together."""
    numbers = sorted(on)
    for i, a in enumerate(numbers):
        _, g, az = on[a]
        for b in numbers[i + 1:]:
            _, h, bz = on[b]
            kinds = {pieces[a]["kind"]["is"], pieces[b]["kind"]["is"]}
            if "tint" in kinds or kinds == {"layer"}:
                continue
            gap = (bz - az + 180) % 360 - 180
            asked = max(pieces[a]["clearance_mm"], pieces[b]["clearance_mm"])
            r = cone.r0 + max(0.0, cone.k * cone.slant)
            if abs(math.radians(gap)) * min(cone.r0, r) * 0.6 > 80:
                continue
            d = g.distance(cone.turned(h, gap / 360))
            if d < asked + 1:
                report.count("near pairs within zones")
            report.hold("clearance", d > asked - SLACK, f"pieces {a} and {b}: {d:.3f} mm on their zone, {asked:.3f} asked")


def across(cones, zones, points, edge, pieces, report):
    """Pairs on two sides of an edge, each with points near it: the shortest way over the edge."""
    low, high, at = cones[edge], cones[edge + 1], zones[edge + 1]["from_mm"]
    reach = 6.0
    def near(zone):
        return {n: (az[np.abs(up - at) < reach], up[np.abs(up - at) < reach]) for n, (z, az, up) in points.items() if z == zone and (np.abs(up - at) < reach).any()}
    below, above = near(edge), near(edge + 1)
    for a, (az, up) in below.items():
        for b, (bz, vp) in above.items():
            asked = max(pieces[a]["clearance_mm"], pieces[b]["clearance_mm"])
            p, q = low.space(az, up - zones[edge]["from_mm"]), high.space(bz, vp - at)
            straight = np.linalg.norm(p[:, None] - q[None], axis=-1)
            if straight.min() > asked + 2:
                continue
            i, j = np.unravel_index(straight.argmin(), straight.shape)
            mid = (az[i] + ((bz[j] - az[i] + 180) % 360 - 180) / 2)
            theta = mid + np.linspace(-12, 12, 2401)
            leg = lambda cone, azimuth, height, top: np.linalg.norm(np.array([cone.at(t - azimuth, top) for t in theta]) - np.array(cone.at(0.0, height)), axis=-1)
            way = (leg(low, az[i], up[i] - zones[edge]["from_mm"], low.slant) + leg(high, bz[j], vp[j] - at, 0.0)).min()
            report.count("pairs measured across an edge")
            # Coats part neighbours at their edge: each cone grows along its own normal.
            parted = abs(low.r0 + low.k * low.slant - high.r0)
            report.hold("straight", way > straight[i, j] - 0.02 - parted, f"pieces {a} and {b}: {way:.3f} over the edge, {straight[i, j]:.3f} straight")
            report.hold("across", way > asked - SLACK, f"pieces {a} and {b}: {way:.3f} mm over the edge, {asked:.3f} asked")
            key = "least across an edge beyond the clearance, mm"
            report.counts[key] = round(min(report.counts.get(key, 99.0), way - asked), 3)


def measure(kit, folder=None):
    report = demo_kit.Report()
    manifest = json.loads((kit / "manifest.json").read_text())
    job = None
    if folder:
        import tomllib
        job = tomllib.loads((folder / "job.toml").read_text())
        spline(manifest, job, report)
    own = remeasure.sheets(kit, manifest, None, report)
    remeasure.congruent(manifest, own, report)
    wall(manifest, own, report)
    template(kit, manifest, report)
    return report


# ---- self-test -------------------------------------------------------------------------------------------------------


def self_test(kit):
    manifest = json.loads((kit / "manifest.json").read_text())
    zones = manifest["cup"]["zones"]
    edge = zones[1]["from_mm"]
    near = min((p for p in manifest["pieces"] if p["kind"]["is"] != "base"), key=lambda p: abs(p["up_mm"] - edge))["number"]
    number = lambda key, value: (lambda t: re.sub(rf'("number": {near},.*?"{key}": )-?[\d.]+', lambda m: f"{m[1]}{value}", t, count=1, flags=re.S))
    part = lambda t: re.sub(r'(<path[^>]*id="outline-a"[^>]*>)', lambda m: re.sub(r' d="([^"]*)"', lambda d: ' d="' + re.sub(r"-?\d+\.\d+|-?\d+", lambda v: f"{float(v[0]) * 1.003:.3f}", d[1]) + '"', m[1]), t, count=1)
    damages = [
        ("a piece laid on the edge", "manifest.json", number("up_mm", edge), {"edge"}),
        ("an edge that pieces were not kept off", "manifest.json", lambda t: re.sub(r'"clearance_mm": [\d.]+', '"clearance_mm": 9', t), {"edge", "clearance"}),
        ("a ring piece grown by 0.3 percent", "template/wrap.svg", part, {"template"}),
        ("parts that do not meet", "manifest.json", lambda t: re.sub(r'("part": "B".*?"surface": \{[^}]*?"base_girth_mm": )[\d.]+', lambda m: f"{m[1]}150", t, count=1, flags=re.S), {"template"}),
    ]
    return campaign.damaged(kit, damages, measure)


# ---- many ------------------------------------------------------------------------------------------------------------


def main():
    args = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    args.add_argument("what", type=Path)
    campaign.many(args)
    a = args.parse_args()
    if a.what.is_file():
        sys.exit(0 if campaign.kits(a, write, lambda kit, job, _: measure(kit, job)) else 1)
    if a.self_test:
        sys.exit(0 if self_test(a.what) else 1)
    report = measure(a.what, a.job)
    sys.exit(report.told())


if __name__ == "__main__":
    main()
