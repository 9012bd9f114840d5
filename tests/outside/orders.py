#!/usr/bin/env python3
"""Measures the kit of an order from outside: every cut of every sheet, with shapely (GEOS), and its texts with Python's csv.

    orders.py KIT [--job FOLDER]           measure one kit; with its job also the list of names; exit 1 on any violation
    orders.py KIT --job FOLDER --self-test damage copies of KIT in known ways; exit 1 unless each is found
    orders.py KIT --recut PROGRAM          cut ten random pieces anew and compare them with the first cut
    orders.py --frusta PROGRAM --seed S --count N
                                           random orders: each measured, and never more film than so many single cups

What is measured: spacing, margins, page sizes on every sheet; each piece of each cup exactly once over all cuts; all
copies of a piece congruent and none turned over (area of the symmetric difference after the pose of the manifest is
undone); sums of sheets against what is to be bought and what the account charges; for a list of names: text in cut files
and on the page of cups equals the table byte for byte (Python's csv reader, NFC by unicodedata), names within their
window, one baseline (the lowest ink of names without a descender).
"""
import argparse
import csv
import html
import io
import json
import math
import random
import re
import shutil
import subprocess
import sys
import tempfile
import tomllib
import unicodedata
import xml.etree.ElementTree as xml
from collections import Counter, defaultdict
from pathlib import Path

from shapely.affinity import affine_transform, rotate, scale, translate
from shapely.geometry import MultiPolygon, Polygon
from shapely.strtree import STRtree

SVG = "{http://www.w3.org/2000/svg}"
# Chords of curves (24 a curve) and three decimals together stay below this, mm.
STEPS, NEAR = 24, 0.02
# Points as written are rounded to .001 mm twice; recut promises .001 mm, chords see a little of their own steps.
RECUT = 0.004
# Letters of a sans-serif whose feet stand flat on the baseline, and accents above.
FLAT = set("AEFHIKLMNRXhikmnrx\u0301\u0308\u0302")
HERE = Path(__file__).resolve().parents[2]


class Report:
    def __init__(self):
        self.faults, self.counts, self.worst = [], Counter(), {}

    def hold(self, ok, says):
        if not ok:
            self.faults.append(says)
        return ok

    def most(self, what, v):
        self.worst[what] = max(self.worst.get(what, 0.0), v)

    def told(self):
        for fault in self.faults[:20]:
            print("  FAULT", fault)
        print("  counts", dict(self.counts), "worst", {k: round(v, 4) for k, v in self.worst.items()})
        return not self.faults


def rings(d):
    """Points of each subpath of path data in absolute M, L, C and Z, curves in chords."""
    out, at, i, command = [], None, 0, None
    tokens = re.findall(r"[MLCZ]|-?\d*\.?\d+", d)
    while i < len(tokens):
        if tokens[i] in "MLCZ":
            command = tokens[i]
            i += 1
            if command == "Z":
                continue
        n = {"M": 2, "L": 2, "C": 6}[command]
        v = [float(t) for t in tokens[i : i + n]]
        i += n
        if command == "M":
            out.append([])
        if command == "C":
            (x0, y0), (x1, y1, x2, y2, x3, y3) = at, v
            for k in range(1, STEPS):
                t, u = k / STEPS, 1 - k / STEPS
                a, b, c, e = u * u * u, 3 * u * u * t, 3 * u * t * t, t * t * t
                out[-1].append((a * x0 + b * x1 + c * x2 + e * x3, a * y0 + b * y1 + c * y2 + e * y3))
        at = (v[-2], v[-1])
        out[-1].append(at)
        command = "L" if command == "M" else command
    return out


def region(d):
    """The area that a path encloses by the even-odd rule."""
    area = Polygon()
    for points in rings(d):
        if len(points) > 2:
            area = area.symmetric_difference(Polygon(points).buffer(0))
    return area


def groups(path):
    """Groups of a cut file by id: title and area, y up; and the page's size."""
    root = xml.parse(path).getroot()
    w, h = map(float, root.get("viewBox").split()[2:])
    out = {}
    for g in root.iter(SVG + "g"):
        if g.get("id") in ("do-not-cut", "weeding-lines", "parting-lines", "weeding-frame"):
            continue
        area = region(" ".join(p.get("d") for p in g.iter(SVG + "path")))
        out[g.get("id")] = (g.find(SVG + "title").text, translate(scale(area, 1, -1, origin=(0, 0)), 0, h))
    return out, (w, h)


def undone(area, placed, mirrored):
    """Back from the sheet to the piece's own frame."""
    a = math.radians(placed["turn_deg"])
    c, s = math.cos(a), math.sin(a)
    x, y = placed["x_mm"], placed["y_mm"]
    # Inverse of p -> R p + t.
    out = affine_transform(area, [c, s, -s, c, -(c * x + s * y), s * x - c * y])
    return scale(out, -1, 1, origin=(0, 0)) if mirrored else out


def off(a, b):
    """How far two areas are apart: area that is in one only, by the length of the outline."""
    return a.symmetric_difference(b).area / max(a.length, 1.0)


def measure(kit, job=None):
    report = Report()
    m = json.loads((kit / "manifest.json").read_text())
    films = {f["name"]: f for f in m["films"]}
    cups = (m.get("order") or {}).get("cups", 1)
    seen, own, titles = Counter(), {}, defaultdict(set)
    sums = defaultdict(lambda: [0, 0.0])
    on = defaultdict(set)
    for sheet in m["sheets"]:
        film, times = films[sheet["film"]], sheet.get("cut_times") or 1
        step = sheet.get("cups_each_cut") or 0
        found, (w, h) = groups(kit / sheet["file"])
        report.counts["sheets cut"] += times
        if sheet["taken_from"] == "bought":
            sums[film["name"]][0] += times
            sums[film["name"]][1] += times * h if film["form"] == "roll" else 0.0
        report.hold(abs(w - sheet["width_mm"]) < 1e-6 and abs(h - sheet["height_mm"]) < 1e-6, f"{sheet['name']}: size")
        report.hold(set(found) == {p["id"] for p in sheet["pieces"]}, f"{sheet['name']}: other groups than pieces")
        areas = []
        for p in sheet["pieces"]:
            if p["id"] not in found:
                continue
            title, area = found[p["id"]]
            areas.append((p["id"], area))
            report.counts["pieces on files"] += 1
            box, margin = area.bounds, film["margin_mm"] - NEAR
            inside = box[0] >= margin and box[1] >= margin and box[2] <= w - margin and box[3] <= h - margin
            report.hold(inside, f"{sheet['name']}: {p['id']} reaches into the margin")
            cup = p.get("cup", 0)
            if not p["spare"]:
                for k in range(times):
                    seen[(cup + k * step, p["number"])] += 1
                    on[(cup + k * step, film["name"])].add(sheet["name"])
            home = undone(area, p, sheet["mirrored"])
            titles[(cup, p["number"])].add(re.sub(r"^\S+ ", "", title).removesuffix(", spare"))
            report.hold(title.startswith(f"{cup}/{p['number']} " if cup else f"{p['number']} "), f"{p['id']}: title {title}")
            first = own.setdefault((p["number"], title_key(title)), home)
            d = off(first, home)
            report.most("copies apart, mm", d)
            report.hold(d < NEAR, f"{sheet['name']}: {p['id']} is not its piece: {d:.3f} mm apart")
            turned_over = scale(first, -1, 1, origin=(0, 0))
            if off(turned_over, first) > 5 * NEAR:
                report.hold(off(turned_over, home) > off(first, home), f"{p['id']} is turned over")
        tree = STRtree([a for _, a in areas])
        for i, (name, area) in enumerate(areas):
            for j in tree.query(area.buffer(film["spacing_mm"])):
                if j > i:
                    d = area.distance(areas[j][1])
                    report.hold(d >= film["spacing_mm"] - NEAR, f"{sheet['name']}: {name} and {areas[j][0]}: {d:.3f} mm")
    numbers = [p["number"] for p in m["pieces"] if p["sheet"]]
    for cup in range(1, cups + 1) if cups > 1 else [0]:
        for n in numbers:
            report.hold(seen.pop((cup, n), 0) == 1, f"piece {n} of cup {cup} is not cut exactly once")
    report.hold(not seen, f"cut for nobody: {list(seen)[:5]}")
    for lain in on.values():
        report.most("sheets of a film a cup", len(lain))
    for name, film in films.items():
        bought, length = sums[name]
        if film["form"] == "sheet":
            report.hold(film["buy_sheets"] == bought, f"{name}: buys {film['buy_sheets']}, cuts {bought}")
        else:
            report.hold(abs(film["buy_length_mm"] - length) < 0.1, f"{name}: buys {film['buy_length_mm']}, cuts {length}")
    costing = (m.get("finish") or {}).get("costing")
    if costing and m.get("order"):
        for line in costing["order"]["lines"]:
            name = line["item"].removeprefix("film ")
            if line["item"].startswith("film ") and line["unit"] == "sheet":
                total = sum((s.get("cut_times") or 1) for s in m["sheets"] if s["film"] == name)
                report.hold(float(line["amount"]) == total, f"account: {line['amount']} sheets of {name}, cut {total}")
                report.counts["lines of the account"] += 1
    if job and "names" in tomllib.loads((job / "job.toml").read_text()).get("order", {}):
        names(kit, m, job, titles, own, report)
    return report


def title_key(title):
    """Pieces of one number are alike if they are called alike: names differ from cup to cup."""
    return re.sub(r"^\S+ ", "", title).removesuffix(", spare")


def listed(job):
    """The texts of the list cup by cup, by Python's own reader."""
    spec = tomllib.loads((job / "job.toml").read_text())["order"]["names"]
    text = (job / spec["list"]).read_bytes().decode("utf-8-sig")
    rows = csv.DictReader(io.StringIO(text), delimiter=";" if ";" in text.split("\n")[0] else ",")
    out = []
    for row in rows:
        name = unicodedata.normalize("NFC", row[spec.get("column", "name")]).strip()
        if spec.get("apostrophes") == "mend":
            name = re.sub(r"(?<=\w)'(?=\w)", "\u2019", name)
        out += [name] * int(row[spec["copies"]] if "copies" in spec else 1)
    return out


def names(kit, m, job, titles, own, report):
    want = listed(job)
    report.hold(m["order"]["cups"] == len(want), f"{m['order']['cups']} cups, {len(want)} in the list")
    layers = [p for p in m["pieces"] if p["kind"]["is"] == "layer"]
    spec = tomllib.loads((job / "job.toml").read_text())
    decals = [i for i, d in enumerate(spec["decal"]) if d.get("row")]
    for cup, text in enumerate(want, 1):
        for p in layers:
            if p["kind"]["decal"] in decals:
                for title in titles[(cup, p["number"])]:
                    report.hold(title.split(", ")[0].encode() == text.encode(), f"cup {cup}: cut file says {title!r}")
                    report.counts["texts in cut files"] += 1
    page = (kit / "cups/cups.html").read_text(encoding="utf-8")
    says = [html.unescape(t) for t in re.findall(r'<td class="word"[^>]*>([^<]*)</td>', page)]
    report.hold([s.encode() for s in says] == [t.encode() for t in want], f"the page of cups says {says}")
    papers(kit, want, decals, layers, own, report)
    for paper in sorted((kit / "cards").glob("*.pdf")):
        told = subprocess.run(["pdftotext", "-layout", paper, "-"], capture_output=True).stdout.decode()
        told = unicodedata.normalize("NFC", told)
        for text, n in Counter(want).items():
            report.hold(told.count(text) >= n, f"{paper.name} does not say {text!r} {n} times")
    window_and_baseline(m, spec, decals, layers, want, own, report)


def without_keys(area):
    """The parts of a layer but its registration keys: a triangle and a square of 4 mm, README's default."""

    def key(q):
        x0, y0, x1, y1 = q.bounds
        square = abs(x1 - x0 - 4) < NEAR and abs(y1 - y0 - 4) < NEAR
        return square and min(abs(q.area - 8), abs(q.area - 16)) < 0.1

    return [q for q in getattr(area, "geoms", [area]) if not key(q)]


def papers(kit, want, decals, layers, own, report):
    """Each name's paper shows the outlines that are cut, read from the front."""
    for file in sorted((kit / "cups").glob("cup-*.svg")):
        cup = int(re.match(r"cup-(\d+)", file.name).group(1))
        root = xml.parse(file).getroot()
        drawn = {p.get("id"): p.get("d") for p in root.iter(SVG + "path") if re.fullmatch(r"l\d+", p.get("id") or "")}
        for p in layers:
            shown = drawn.get(f"l{p['number']}")
            cut = [a for k, a in own.items() if k[0] == p["number"] and k[1].split(", ")[0] == want[cup - 1]]
            if p["kind"]["decal"] not in decals or not shown or not cut:
                continue
            area = scale(region(shown), 1, -1, origin=(0, 0))
            # Registration keys are cut with it; on the paper they stand beside it.
            body = without_keys(cut[0])
            d = off(centred(MultiPolygon(body)), centred(area))
            report.most("paper and cut file apart, mm", d)
            report.hold(d < NEAR, f"{file.name}: piece {p['number']} is cut otherwise: {d:.3f} mm")
            report.counts["papers of names"] += 1


def window_and_baseline(m, spec, decals, layers, want, own, report):
    """Each name within its window on the wall, by the closed form of the developed cone; the lowest ink of names whose
    letters have no descender is one height. Names lie level about the front line of their decal."""
    s = m["cup"]["surface"]
    r0, slope = s["base_girth_mm"] / math.tau, (s["rim_girth_mm"] - s["base_girth_mm"]) / math.tau / s["slant_mm"]
    bases = {}
    for p in layers:
        if p["kind"]["decal"] not in decals or spec["decal"][p["kind"]["decal"]].get("lies", "rigid") == "rigid":
            continue
        up = p["up_mm"]
        wide, high = spec["decal"][p["kind"]["decal"]]["fits"]
        apex = r0 / slope if slope else None
        for text in set(want):
            key = [k for k in own if k[0] == p["number"] and k[1].split(", ")[0] == text]
            if not report.hold(key, f"{text}: no outline of piece {p['number']}"):
                continue
            area = own[key[0]]
            parts = without_keys(area)
            low, high_, side = [], [], []
            for x, y in (c for q in parts for c in q.exterior.coords):
                # The decal's frame: origin at its place, y along the generator there.
                rho = math.hypot(x, apex + up + y)
                slant, angle = rho - apex, math.atan2(x, apex + up + y)
                low.append(slant), high_.append(slant)
                side.append(abs(angle) / slope * (r0 + slope * up))
            report.most("out of the window, mm", max(max(high_) - up - high / 2, up - high / 2 - min(low), max(side) - wide / 2, 0))
            report.hold(max(high_) <= up + high / 2 + NEAR and min(low) >= up - high / 2 - NEAR, f"{text}: over its window")
            report.hold(max(side) <= wide / 2 + NEAR, f"{text}: wider than its window")
            top = p["kind"]["layer"] == max(q["kind"]["layer"] for q in layers if q["kind"]["decal"] == p["kind"]["decal"])
            if top and p["kind"]["layer"] > 0 and set(unicodedata.normalize("NFD", text)) <= FLAT:
                bases[(p["number"], text)] = min(low)
    for number in {n for n, _ in bases}:
        lows = {t: v for (n, t), v in bases.items() if n == number}
        report.counts["baselines"] += len(lows)
        apart = max(lows.values()) - min(lows.values())
        report.most("lowest ink of names apart, mm", apart)
        # Feet of a sans-serif are flat; those of a script are not.
        flat = all(spec["decal"][d].get("font") == "Source Sans Pro Bold" for d in decals)
        report.hold(apart < 0.05 or not flat, f"baselines are {apart:.3f} mm apart: {lows}")


def recut(kit, program, report, seed):
    """Ten pieces cut anew: same outline after the turn is undone, nothing of the kit touched, numbers kept."""
    m = json.loads((kit / "manifest.json").read_text())
    rng = random.Random(seed)
    printed = {f for f in (s["film"] for s in m["sheets"]) if (kit / f"sheet/{f}.svg").exists()}
    choice = [p["number"] for p in m["pieces"] if p["sheet"] and p["film"] not in printed]
    numbers = sorted(rng.sample(choice, min(10, len(choice))))
    before = {f: f.read_bytes() for f in kit.rglob("*") if f.is_file()}
    with tempfile.TemporaryDirectory() as folder:
        out = Path(folder) / "again"
        asked = [str(n) if (m.get("order") or {}).get("cups", 1) == 1 else f"1/{n}" for n in numbers]
        told = subprocess.run([program, "recut", kit, *asked, "--out", out], capture_output=True, text=True)
        if not report.hold(told.returncode == 0, told.stderr):
            return
        report.hold(before == {f: f.read_bytes() for f in kit.rglob("*") if f.is_file()}, "the kit was touched")
        first, again = {}, {}
        for sheet in m["sheets"]:
            found, _ = groups(kit / sheet["file"])
            for p in sheet["pieces"]:
                if p["number"] in numbers and not p["spare"] and p.get("cup", 0) in (0, 1):
                    first[p["number"]] = found[p["id"]][1]
        for file in sorted((out / "cut").glob("*.svg")):
            for key, (_, area) in groups(file)[0].items():
                again[int(re.search(r"p(\d+)$", key).group(1))] = area
        report.hold(sorted(again) == numbers, f"asked for {numbers}, got {sorted(again)}")
        for n in sorted(set(first) & set(again)):
            report.counts["cut anew"] += 1
            a = centred(first[n])
            best = min(hausdorff(a, centred(rotate(again[n], t, origin=(0, 0)))) for t in range(0, 360, 90))
            report.most("first cut and recut apart, mm", best)
            report.hold(best <= RECUT, f"piece {n}: {best:.4f} mm from its first cut")


def centred(a):
    x0, y0, x1, y1 = a.bounds
    return translate(a, -(x0 + x1) / 2, -(y0 + y1) / 2)


def hausdorff(a, b):
    """Largest distance of a corner of one outline from the other outline."""
    from shapely.geometry import Point

    def one(p, q):
        corners = [c for g in getattr(p, "geoms", [p]) for r in [g.exterior, *g.interiors] for c in r.coords]
        return max(Point(c).distance(q.boundary) for c in corners)

    return max(one(a, b), one(b, a))


def damage(kit, change):
    """A copy of the kit with one cut file changed."""
    copy = Path(tempfile.mkdtemp()) / "kit"
    shutil.copytree(kit, copy)
    change(copy)
    return copy


def self_test(kit, job):
    def edit(pick, how):
        def change(copy):
            for file in sorted((copy / "cut").glob("*.svg")):
                text = file.read_text()
                found = re.search(pick, text, re.S)
                if found:
                    file.write_text(text[: found.start()] + how(found) + text[found.end() :])
                    return
            sys.exit(f"nothing to damage: {pick}")

        return change

    def shifted(found):
        numbers = [False]

        def one(n):
            numbers[0] = not numbers[0]
            return f"{float(n.group(0)) + (1.6 if numbers[0] else 0):.3f}"

        return found.group(1) + re.sub(r"-?\d+\.\d+", one, found.group(2)) + found.group(3)

    def mirrored(found):
        xs = [float(n) for n in re.findall(r"-?\d+\.\d+", found.group(2))][::2]
        middle, turn = (min(xs) + max(xs)) / 2, [False]

        def one(n):
            turn[0] = not turn[0]
            return f"{2 * middle - float(n.group(0)):.3f}" if turn[0] else n.group(0)

        return found.group(1) + re.sub(r"-?\d+\.\d+", one, found.group(2)) + found.group(3)

    def times(copy):
        m = json.loads((copy / "manifest.json").read_text())
        sheet = next((s for s in m["sheets"] if (s.get("cut_times") or 1) > 1), m["sheets"][0])
        sheet["cut_times"] = (sheet.get("cut_times") or 1) + 1
        (copy / "manifest.json").write_text(json.dumps(m))

    path = r'(<g id="c\d+-p\d+">\s*<title>[^<]*</title>\s*<path d=")([^"]*)(")'
    name = r'(<g id="c\d+-p1">\s*<title>[^<]*</title>\s*<path d=")([^"]*)(")'
    damages = {
        "a piece is gone": edit(r'<g id="c\d+-p\d+">.*?</g>', lambda f: ""),
        "a piece is moved by 1.6 mm": edit(path, shifted),
        "a name is turned over": edit(name if job else path, mirrored),
        "a sheet is cut once more": times,
    }
    if job:
        damages["a letter of a name"] = edit(r"<title>(\d+/1) (\w)", lambda f: f"<title>{f.group(1)} x")
        damages["a name on the page of cups"] = lambda c: (c / "cups/cups.html").write_text(
            re.sub(r'(<td class="word"[^>]*>)(\w)', r"\1x", (c / "cups/cups.html").read_text(), count=1)
        )
    missed = [what for what, change in damages.items() if not measure(damage(kit, change), job).faults]
    print(f"self-test: {len(damages) - len(missed)} of {len(damages)} damages found", missed or "")
    return not missed


def random_job(rng, cups, folder):
    """A job of a few motifs and spots on one sheet film and one roll."""
    shutil.copytree(HERE / "demo-data/first-cup/art", folder / "art")
    art = sorted(f.name for f in (folder / "art").glob("*.svg"))
    lines = [
        f"seed = {rng.randrange(1, 10**6)}",
        "[cup]",
        f"rings = [{{ up = 0, girth = {rng.uniform(170, 200):.1f} }}, {{ up = 110, girth = {rng.uniform(205, 250):.1f} }}]",
        "wall = 110",
        '[[film]]\nname = "a"',
        f"sheet = [{rng.choice([150, 200, 300])}, {rng.choice([120, 150, 200])}]",
        f"spacing = {rng.choice([1, 2, 3])}",
        f"spares = {rng.choice([0, 0, 10])}",
        f"mirrored = {rng.choice(['true', 'false'])}",
        '[[film]]\nname = "b"',
        f"roll = {rng.choice([200, 305])}\nlongest = {rng.choice([300, 600])}",
        f'grain = "{rng.choice(["free", "half", "fixed"])}"',
    ]
    for _ in range(rng.randrange(1, 4)):
        lines += [
            f'[[motif]]\nart = "art/{rng.choice(art)}"\nwidth = {rng.uniform(14, 30):.1f}',
            f'film = "{rng.choice("ab")}"\ncopies = {rng.randrange(1, 4)}\nturning = "free"',
        ]
    if rng.random() < 0.5:
        lines += ['[[accent]]\nfamilies = ["pebble"]\nsmallest = 7\nlargest = 10\ngap = 4\nfilms = { a = 1, b = 1 }']
    single = "\n".join(lines) + "\n"
    order = f'[order]\ncups = {cups}\nfilm = "{rng.choice(["in-order", "mixed"])}"\nsame-sheets = {rng.choice(["true", "false"])}\n'
    return single, order


def random_names(rng, folder):
    """A list of names of flat feet and others, on a plain cup."""
    flat = ["Emil", "Mina", "Hanni", "Nik", "Max", "Án", "Lex", "Rix", "Kim", "Hill", "Ním", "Ïlk", "Elín", "Mimmi"]
    other = ["O'Neil", "Jörg", "Éva", "Łucja", "Anne-Marie", "Bo", "Zoë", "Øystein", "Tuğba", "McKay", "d'Arcy"]
    rows = rng.sample(flat, rng.randrange(3, 8)) + rng.sample(other, rng.randrange(1, 6))
    rng.shuffle(rows)
    mark, copies = rng.choice(",;"), rng.random() < 0.5
    lines = [mark.join(["no", "name"] + (["cups"] if copies else []))]
    lines += [mark.join([str(i), r] + ([str(rng.randrange(1, 3))] if copies else [])) for i, r in enumerate(rows, 1)]
    text = rng.choice(["\n", "\r\n"]).join(lines)
    (folder / "list.csv").write_bytes(rng.choice([b"", b"\xef\xbb\xbf"]) + text.encode())
    job = random_job(rng, 1, folder)[0]
    wide, high, side = rng.uniform(50, 80), rng.uniform(16, 24), rng.choice(["upright", "bent"])
    offset, mend = rng.uniform(0.8, 2), rng.choice(["true", "false"])
    return job + f"""[[decal]]
row = true
font = "Source Sans Pro Bold"
fits = [{wide:.1f}, {high:.1f}]
up = {rng.uniform(45, 60):.1f}
lies = "{side}"
mend = {mend}
layers = [{{ film = "b", offset = {offset:.2f} }}, {{ film = "a" }}]
[order]
film = "{rng.choice(["in-order", "mixed"])}"
[order.names]
list = "list.csv"
apostrophes = "mend"
""" + ('copies = "cups"\n' if copies else "")


def named(program, rng, label, whole):
    """One random order by names, measured with its list."""
    with tempfile.TemporaryDirectory() as folder:
        folder = Path(folder)
        (folder / "job").mkdir()
        (folder / "job/job.toml").write_text(random_names(rng, folder / "job"))
        told = subprocess.run([program, "make", folder / "job", "--out", folder / "kit"], capture_output=True, text=True)
        if told.returncode:
            # Names over the wall or beside motifs: what the maker asked for cannot be, and that was said.
            whole.hold(told.returncode == 1 and "promise" not in told.stderr, f"{label}: {told.stderr[:600]}")
            whole.counts["lists refused"] += 1
            return
        report = measure(folder / "kit", folder / "job")
        whole.faults += [f"{label}: {f}" for f in report.faults]
        whole.counts.update(report.counts)
        whole.counts["orders by names"] += 1
        for what, v in report.worst.items():
            whole.most(what, v)


def campaign(program, seed, count):
    whole, saved = Report(), []
    for k in range(count):
        rng = random.Random(seed * 1000 + k)
        cups = rng.randrange(2, 10)
        with tempfile.TemporaryDirectory() as folder:
            folder = Path(folder)
            (folder / "job").mkdir()
            single, order = random_job(rng, cups, folder / "job")
            made = []
            for name, text in (("one", single), ("all", single + order)):
                (folder / "job/job.toml").write_text(text)
                told = subprocess.run([program, "make", folder / "job", "--out", folder / name], capture_output=True, text=True)
                made.append(told)
            if made[0].returncode or made[1].returncode:
                # What one cup cannot be, an order cannot be either, and the other way round.
                whole.hold(made[0].returncode == made[1].returncode, f"{seed}/{k}: {made[1].stderr[:400]}")
                whole.counts["refused"] += 1
                continue
            report = measure(folder / "all")
            whole.faults += [f"{seed}/{k}: {f}" for f in report.faults]
            whole.counts.update(report.counts)
            for what, v in report.worst.items():
                whole.most(what, v)
            films = [json.loads((folder / n / "manifest.json").read_text())["films"] for n in ("one", "all")]
            in_order = '"in-order"' in order
            for one, all_ in zip(*films):
                key = "buy_sheets" if one["form"] == "sheet" else "buy_length_mm"
                whole.hold(all_[key] <= cups * one[key] + 1e-6, f"{seed}/{k}: {one['name']}: {all_[key]} for {cups} x {one[key]}")
                if one[key]:
                    saved.append(all_[key] / (cups * one[key]))
            if in_order and all(f["sheets"] <= 1 for f in films[0]):
                worst = report.worst.get("sheets of a film a cup", 0)
                whole.hold(worst <= 2, f"{seed}/{k}: a cup lies on {worst} sheets of a film")
            whole.counts["orders"] += 1
        named(program, rng, f"{seed}/{k} by names", whole)
    if saved:
        print(f"  film taken, part of single cups: mean {sum(saved) / len(saved):.3f}, worst {max(saved):.3f}")
    return whole


def main():
    p = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    p.add_argument("kit", nargs="?", type=Path)
    p.add_argument("--job", type=Path)
    p.add_argument("--self-test", action="store_true")
    p.add_argument("--recut")
    p.add_argument("--frusta")
    p.add_argument("--seed", type=int, default=1)
    p.add_argument("--count", type=int, default=3)
    a = p.parse_args()
    ok = True
    if a.frusta:
        ok &= campaign(str(Path(a.frusta).resolve()), a.seed, a.count).told()
    if a.kit:
        report = measure(a.kit, a.job)
        if a.recut:
            recut(a.kit, str(Path(a.recut).resolve()), report, a.seed)
        ok &= report.told()
        if a.self_test:
            ok &= self_test(a.kit, a.job)
    sys.exit(0 if ok else 1)


if __name__ == "__main__":
    main()
