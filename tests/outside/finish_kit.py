"""Outside check of the finishing plan of a kit: calendar, amounts and account redone by other people's libraries.

    finish_kit.py KIT JOB.toml [--self-test]

Sources beside each check. Libraries: icalendar (RFC 5545), pint (units), shapely (overlaps of film), decimal (money), from PyPI and Python itself.
Exit 1 and a list if anything differs; `--self-test` spoils a copy in several ways and demands that each is found.
"""

import argparse
import copy
import datetime as dt
import html.parser
import json
import math
import pathlib
import re
import sys
import xml.etree.ElementTree as ET
from decimal import ROUND_CEILING, ROUND_HALF_UP, Decimal, getcontext

import demo_kit
import icalendar
import pint

getcontext().prec = 40
U = pint.UnitRegistry()


class Report:
    def __init__(self):
        self.counts, self.faults = {}, []

    def hold(self, kind, ok, says):
        self.counts[kind] = self.counts.get(kind, 0) + 1
        if not ok:
            self.faults.append((kind, says))
        return ok

    def near(self, kind, got, want, slack, what):
        return self.hold(kind, abs(got - want) <= slack, f"{what}: {got}, expected {want}")


# ---- published figures ----------------------------------------------------------------------------------------------


def published(report):
    """Figures that the program's own constants stand on, by pint: no number of this program is asked."""
    # Coating arithmetic: 1 ml over 100 cm2 is 0.1 mm.
    report.near("published", (1 * U.ml / (100 * U.cm**2)).to("mm").magnitude, 0.1, 1e-12, "1 ml over 100 cm2")
    # Coating arithmetic: a US gallon covers 1604 square feet at one mil (231 / 144 * 1000).
    feet = (1 * U.US_liquid_gallon / (1 * U.thou)).to("ft**2").magnitude
    report.near("published", feet, 231 / 144 * 1000, 1e-9, "square feet per US gallon per mil")
    report.hold("published", round(feet) == 1604, f"{feet} rounds to 1604")
    # The units that a job may be written in (see the reader's own table).
    for name, unit, want in [
        ("US fluid ounce", "US_fluid_ounce", 29.5735295625),
        ("imperial fluid ounce", "imperial_fluid_ounce", 28.4130625),
    ]:
        report.near("published", (1 * U(unit)).to("ml").magnitude, want, 1e-9, name)
    report.near("published", (1 * U.pound).to("g").magnitude, 453.59237, 1e-9, "pound")
    report.near("published", (1 * U.ounce).to("g").magnitude, 28.349523125, 1e-9, "ounce")


# ---- surfaces and coats ---------------------------------------------------------------------------------------------


def surfaces(m, report):
    """Areas by the closed form pi (R + r) s with pint carrying the units; growth 2 pi b cos(lean)."""
    s, cup = m["finish"]["surfaces"], m["cup"]
    f, wall = cup["measured"], cup["measured"]["slant_mm"] * U.mm
    R, r = (f[k] * U.mm / (2 * math.pi) for k in ("rim_girth_mm", "base_girth_mm"))
    lateral = math.pi * (R + r) * wall
    report.near("surfaces", s["wall_mm2"], lateral.to("mm**2").magnitude, 0.5, "wall")
    lean = math.asin(((R - r) / wall).to("").magnitude)
    top = wall - cup["keep_clear_rim_mm"] * U.mm
    upper = r + math.sin(lean) * top
    report.near("surfaces", s["coated_wall_mm2"], (math.pi * (upper + r) * top).to("mm**2").magnitude, 0.5, "coated wall")
    growth = 2 * math.pi * s["build_up_of_layout_mm"] * math.cos(lean)
    report.near("surfaces", s["girth_growth_mm"], growth, 2e-3, "growth by the build-up")
    for k in ("rim_girth_mm", "base_girth_mm"):
        report.near("surfaces", cup["surface"][k] - f[k], growth, 3e-3, f"{k} of the surface that the layout is made for")
    report.near("surfaces", cup["build_up_mm"], s["build_up_under_film_mm"], 1e-3, "layout's build-up and the coats under the film")
    return lean


def coats(m, lean, report):
    """Every coat over the wall: the shell between two cones a thickness apart, in millilitres, by pint."""
    cup, under = m["cup"], 0.0
    f = cup["measured"]
    top = f["slant_mm"] - cup["keep_clear_rim_mm"]
    base, rise = f["base_girth_mm"], (f["rim_girth_mm"] - f["base_girth_mm"]) / f["slant_mm"]
    for s in m["finish"]["steps"]:
        t, whole_wall = s["thickness_mm"], "," not in s["name"]
        if s["done"] or s["needs_ml"] == 0:
            continue
        if "glitters" in s:
            under += sprinkled(m, s, cup, report)
            continue
        if "thinned" in s:
            t2 = s["thinned"]
            parts = t2["water_to_one_of_glue"]
            report.near("coats", t2["glue_ml"], s["needs_ml"] / (1 + parts), 1e-3, f"step {s['number']}: glue")
            report.near("coats", t2["water_ml"], s["needs_ml"] * parts / (1 + parts), 1e-3, f"step {s['number']}: water")
        report.near("coats", s["build_up_before_mm"], under, 2e-4, f"step {s['number']}: layers before it")
        if whole_wall and "g_per_100cm2" not in s:
            middle = base + 2 * math.pi * (under + t / 2) * math.cos(lean)
            area = ((2 * middle + rise * top) / 2 * top) * U.mm**2
            volume = (area * t * U.mm).to("ml").magnitude
            report.near("coats", s["stays_ml"], volume, 2e-3, f"step {s['number']}: volume that stays")
        if "g_per_100cm2" in s:
            grams = (s["g_per_100cm2"] * U.g / (100 * U.cm**2) * s["area_mm2"] * U.mm**2).to("g").magnitude
            report.near("coats", s["needs_g"] * (1 - s["loss"]), grams, 0.01, f"step {s['number']}: weight that stays")
        report.near("coats", s["needs_ml"] * (1 - s["loss"]), s["stays_ml"], 2e-4, f"step {s['number']}: loss")
        for b in s.get("batches", []):
            mixed(s, b, report)
        if whole_wall:
            under += t


def sprinkled(m, s, cup, report):
    """Several glitters on one adhesive: grams from areas and rates, fades from the job's bands by their cover; 0 on the base."""
    bands = {b["name"]: b for b in m["finish"]["bands"]}
    for g in s["glitters"]:
        grams = g["g_per_100cm2"] * g["area_mm2"] / 1e4 / (1 - s["loss"])
        report.near("coats", g["needs_g"], grams, 2e-3, f"step {s['number']}, {g['product']}: grams")
        if g["place"] in bands:
            # The band on the bare cup; coats under it make it larger by what its girth grows.
            want = bands[g["place"]]["covered_mm2"] * g["cover"]
            report.hold("coats", want * 0.999 <= g["area_mm2"] <= want * 1.03, f"step {s['number']}, {g['product']}: {g['area_mm2']} of {want}")
    total = sum(g["needs_ml"] for g in s["glitters"])
    report.near("coats", s["needs_ml"], total, 2e-3, f"step {s['number']}: all glitters")
    base = {"base", "base ring", "base centre"}
    return 0.0 if {g["place"] for g in s["glitters"]} <= base else s["thickness_mm"]


def mixed(step, b, report):
    n = f"step {step['number']}, {b['cups']} cups"
    report.hold("mixing", b["batch_ml"] >= b["cups"] * step["needs_ml"] - 1e-3, f"{n}: the batch is too small")
    report.near("mixing", b["a_ml"] + b["b_ml"], b["batch_ml"], 1e-6, f"{n}: parts of the batch")
    report.near("mixing", b["left_ml"], b["batch_ml"] - b["needed_ml"], 1e-3, f"{n}: left over")
    by_weight = b["b_g"] / b["a_g"] * 100
    report.hold("mixing", abs(by_weight / b["b_per_100_a_by_weight"] - 1) <= 0.02 + 1e-4, f"{n}: 100:{by_weight:.2f} by weight on the scale")


def deepest(m, thick, film_of):
    """Thickness of film over each part of the wall, from the outlines on the map: cells split by each layer of decals.

    All else keeps clear of everything, so it counts alone.
    """
    yield from (thick[film] for n, film in film_of.items() if n in ON_WALL["single"])
    cells = []
    for n in sorted(ON_WALL["layers"]):
        region, out = ON_WALL["layers"][n], []
        rest = region
        for cell, height in cells:
            both = cell.intersection(region)
            # Butted edges are no overlap: twice the area over the length of its edge is its width.
            if both.is_empty or 2 * both.area < 0.01 * both.length:
                out.append((cell, height))
                continue
            out += [(both, height + thick[film_of[n]]), (cell.difference(region), height)]
            rest = rest.difference(cell)
        out.append((rest, thick[film_of[n]]))
        cells = [(c, h) for c, h in out if c.area > 1e-3]
    yield from (h for _, h in cells)


ON_WALL = {"single": set(), "layers": {}}


def read_map(kit, m):
    """Outlines of decals' layers on the map, and the numbers of all other pieces of the wall."""
    kinds = {p["number"]: p["kind"]["is"] for p in m["pieces"]}
    root = ET.parse(kit / "map" / "map.svg").getroot()
    layers = {n for n, k in kinds.items() if k == "layer"}
    data = demo_kit.paths_with_id(root, lambda k: re.fullmatch(r"o\d+", k) is not None and int(k[1:]) in layers)
    ON_WALL["layers"] = {int(k[1:]): demo_kit.region(d, k, demo_kit.Report()).buffer(0) for k, d in data.items()}
    ON_WALL["single"] = {n for n, k in kinds.items() if k not in ("layer", "base")}


def burial(m, report):
    """The highest step: no film is thicker than the step, and one that is claimed is the sum of its pieces' films."""
    b = m["finish"]["burial"]
    thick = {f["name"]: f["thickness_mm"] for f in m["films"]}
    film_of = {p["number"]: p["film"] for p in m["pieces"]}
    claimed = sum(thick[film_of[n]] for n in b["step"]["pieces"])
    report.near("burial", b["step"]["height_mm"], claimed, 1e-4, "the step is the sum of its films")
    on_wall = [thick[p["film"]] for p in m["pieces"] if p["kind"]["is"] != "base"]
    report.hold("burial", b["step"]["height_mm"] >= max(on_wall, default=0) - 1e-6, "a single piece is higher than the highest step")
    report.near("burial", b["step"]["height_mm"], max(deepest(m, thick, film_of), default=0), 1e-4, "the highest step, by shapely from the map's outlines")
    kinds = [s["kind"] for s in m["finish"]["steps"]]
    last = max((i for i, k in enumerate(kinds) if k == "film"), default=-1)
    over = sum(s["thickness_mm"] for s in m["finish"]["steps"][last + 1 :] if s["kind"] in ("clear", "seal", "level") and "," not in s["name"])
    report.near("burial", b["clear_over_mm"], over, 1e-3, "clear coats over the film")
    report.hold("burial", (b["coats_to_add"] == 0) == (over >= b["needed_mm"] - 1e-6), "buried or not")


# ---- account ---------------------------------------------------------------------------------------------------------


def cents(d, step="0.01"):
    return d.quantize(Decimal(step), rounding=ROUND_HALF_UP)


def account(job_price, a, report):
    """The account as a spreadsheet would do it, in exact decimals, from amounts and unit prices."""
    D, p = Decimal, job_price
    share = lambda k, default="0": D(str(p.get(k, default))) / 100
    direct = D(0)
    for line in a["lines"]:
        each = D(p["hour"]) / 60 if line["item"] == "work" else D(line["each"])
        total = D(line["amount"]) * each
        report.hold("account", abs(total - D(line["total"])) < D("1e-18"), f"{line['item']}: {line['total']}, expected {total}")
        direct += total
    made = direct * (1 + share("overhead"))
    good = made / (1 - share("reject"))
    if "markup" in p:
        margin = share("markup") / (1 + share("markup"))
    else:
        margin = share("margin")
    wanted = (good + D(str(p.get("fee-fixed", 0)))) / (1 - share("fee") - margin) / a["cups"]
    step = D(str(p.get("round-to", "0.01")))
    each = (wanted / step).to_integral_value(rounding=ROUND_CEILING) * step
    price = each * a["cups"]
    tax = cents(price * share("tax"))
    fees = D(str(p.get("fee-fixed", 0))) + price * share("fee")
    want = {"direct": direct, "made": made, "good": good, "price_each": each, "price": price, "tax": tax, "pays": price + tax, "fees": fees, "earned": price - fees - good}
    for k, v in want.items():
        report.hold("account", abs(D(a[k]) - v) < D("1e-15"), f"{a['cups']} cups, {k}: {a[k]}, expected {v}")
    report.hold("account", D(a["earned"]) >= D(a["price"]) * margin - D("1e-15"), f"{a['cups']} cups: earned less than the margin")


def costing(m, job, report):
    c = m["finish"].get("costing")
    if not c:
        return
    price = job["finish"]["price"]
    for a in [c["order"], *c["breaks"]]:
        account(price, a, report)
    each = [Decimal(a["price_each"]) for a in sorted(c["breaks"], key=lambda a: a["cups"])]
    report.hold("account", all(x >= y for x, y in zip(each, each[1:])), f"larger orders cost more a cup: {each}")


# ---- calendar --------------------------------------------------------------------------------------------------------


def moment(text):
    return dt.datetime.strptime(text, "%Y-%m-%dT%H:%M")


def calendar(kit, m, job, report):
    """The file through an independent parser, and every promise of the plan asked of the parsed events."""
    c = m["finish"].get("calendar")
    file = kit / "finish" / "calendar.ics"
    if not report.hold("calendar", file.exists() == bool(c), f"calendar.ics {'lacks' if c else 'is there without a start'}") or not c:
        return
    raw = file.read_bytes()
    lines = raw.split(b"\r\n")
    report.hold("calendar", raw.endswith(b"\r\n") and b"\n" not in raw.replace(b"\r\n", b""), "lines do not end with CR LF")
    report.hold("calendar", all(len(l) <= 75 for l in lines), "a line is longer than 75 octets")
    cal = icalendar.Calendar.from_ical(raw)
    report.hold("calendar", cal.errors == [], f"errors: {cal.errors}")
    report.hold("calendar", str(cal["VERSION"]) == "2.0" and cal.get("PRODID"), "no version or product")
    events = [e for e in cal.walk("VEVENT")]
    uids = [str(e["UID"]) for e in events]
    report.hold("calendar", len(set(uids)) == len(uids), "two events share an id")
    for e in events:
        report.hold("calendar", e.errors == [], f"{e.get('SUMMARY')}: {e.errors}")
        report.hold("calendar", e.decoded("DTSTART") < e.decoded("DTEND"), f"{e['SUMMARY']}: ends before it begins")
        report.hold("calendar", e.decoded("DTSTAMP").utcoffset() == dt.timedelta(0), "a time stamp that is not UTC")
    work = sorted((e.decoded("DTSTART"), e.decoded("DTEND")) for e in events if str(e["TRANSP"]) == "OPAQUE")
    planned = sorted((moment(s["from"]), moment(s["to"])) for e in c["entries"] for s in e["sessions"])
    report.hold("calendar", work == planned, "the events of work are not the planned sessions")
    report.hold("calendar", all(a[1] <= b[0] for a, b in zip(work, work[1:])), "two things at once for one pair of hands")
    hours(work, job, report)
    windows(c, report)
    seats(c, job, report)
    ready = [e.decoded("DTSTART") for e in events if not isinstance(e.decoded("DTSTART"), dt.datetime)]
    report.hold("calendar", ready and max(ready) == moment(c["finished"]).date(), "the day that all is ready")


WEEK = ["mon", "tue", "wed", "thu", "fri", "sat", "sun"]


def hours(work, job, report):
    """Within the job's working hours and on none of its days off; read from the job's text anew."""
    times = job["finish"].get("times", {})
    spans = {d: [] for d in range(7)}
    for text in times.get("hours", ["mon-fri 9:00-18:00"]):
        days, span = text.rsplit(" ", 1)
        lo, hi = ([int(x) for x in (t + ":00").split(":")[:2]] for t in span.split("-"))
        for run in days.split(","):
            a, _, b = run.partition("-")
            for d in range(WEEK.index(a), WEEK.index(b or a) + 1):
                spans[d].append((dt.time(*lo), dt.time(*hi)))
    off = set(times.get("off", []))
    for a, b in work:
        ok = any(x <= a.time() and b.time() <= y for x, y in spans[a.weekday()]) and a.date() not in off and a.date() == b.date()
        report.hold("hours", ok, f"work from {a} to {b} is outside the working hours")


def windows(c, report):
    """Within each load: a step begins between the earliest and the latest time that the one before allows."""
    by_load = {}
    for e in c["entries"]:
        by_load.setdefault(e["load"], []).append(e)
    for load, entries in by_load.items():
        for a, b in zip(entries, entries[1:]):
            start = moment(b["begins"])
            report.hold("windows", start >= moment(a["next_from"]), f"load {load}: {b['name']} begins before {a['next_from']}")
            if "next_until" in a and not b["abrade_first"]:
                report.hold("windows", start <= moment(a["next_until"]), f"load {load}: {b['name']} begins after {a['next_until']}")


def seats(c, job, report):
    """At no time more cups on the turner than it holds."""
    n = job["finish"].get("times", {}).get("seats", 1)
    turning = [(moment(e["begins"]), moment(e["turner_free"]), e["cups"]) for e in c["entries"] if "turner_free" in e]
    for t in {x for a, b, _ in turning for x in (a, b)}:
        now = sum(k for a, b, k in turning if a <= t < b)
        report.hold("seats", now <= n, f"{now} cups on the turner at {t}")


# ---- pages -----------------------------------------------------------------------------------------------------------


class Text(html.parser.HTMLParser):
    VOID = {"meta", "link", "img", "br", "hr", "input"}

    def __init__(self):
        super().__init__()
        self.text, self.open, self.wrong, self.outside = [], [], [], []

    def handle_starttag(self, tag, attrs):
        if tag not in self.VOID:
            self.open.append(tag)
        for k, v in attrs:
            if k in ("src", "href") and not (v or "").startswith(("data:", "#")):
                self.outside.append(v)
            if tag == "img" and k == "alt" and not v:
                self.wrong.append("an image without words")

    def handle_endtag(self, tag):
        if tag in self.VOID:
            return
        if not self.open or self.open.pop() != tag:
            self.wrong.append(f"</{tag}> closes something else")

    def handle_data(self, data):
        if self.open and self.open[-1] != "style":
            self.text.append(data)


def parsed(file, report):
    t = Text()
    t.feed(file.read_text("utf-8"))
    report.hold("pages", not t.open and not t.wrong, f"{file.name}: {t.open} {t.wrong[:3]}")
    report.hold("pages", not t.outside, f"{file.name} needs {t.outside}")
    return " ".join(t.text)


def cited(source):
    """A source as the sheet names it: how the program's makers know of it is no matter of the reader's."""
    for was, now in ((", from memory)", ")"), (": from memory)", ")"), (" (from memory)", ""), (" (the 20 mm)", "")):
        source = source.replace(was, now)
    return source


def pages(kit, m, job, report):
    c = m["finish"].get("costing")
    quote, sheet = kit / "finish" / "quote.html", kit / "finish" / "maker-sheet.html"
    own = parsed(sheet, report)
    for caution in m["finish"]["cautions"]:
        report.hold("pages", caution["title"] in own and all(cited(s) in own for s in caution["sources"]) and "from memory" not in own, f"the maker's sheet lacks {caution['id']}")
    if not report.hold("pages", quote.exists() == bool(c), "quote.html and prices do not go together") or not c:
        return
    text = parsed(quote, report)
    two = lambda k: str(cents(Decimal(c["order"][k])))
    for k in ("price_each", "pays"):
        report.hold("pages", two(k) in text, f"the quote lacks {k}")
    for k in ("direct", "made", "good", "good_each", "earned", "overhead"):
        report.hold("secrets", two(k) not in text, f"the quote tells {k}: {two(k)}")
    for word in ("margin", "overhead", "reject"):
        report.hold("secrets", word not in text.lower(), f"the quote speaks of {word}")
    for word in [*job["finish"].get("spelling", []), *m["finish"].get("spelling", [])]:
        report.hold("pages", word in text, f"the quote does not ask about the spelling of {word}")


# ---- running ---------------------------------------------------------------------------------------------------------


def check(kit, m, job, report):
    published(report)
    lean = surfaces(m, report)
    coats(m, lean, report)
    burial(m, report)
    costing(m, job, report)
    calendar(kit, m, job, report)
    pages(kit, m, job, report)


def spoilt(kit, m, job):
    """Each slip must be found under its own kind."""

    def at(path, change):
        def slip(m):
            *way, last = path
            for k in way:
                m = m[k]
            m[last] = change(m[last])

        return slip

    money = lambda v: str(Decimal(v) + Decimal("0.01"))
    f = m["finish"]
    coat = next(i for i, s in enumerate(f["steps"]) if s.get("batches"))
    slips = [
        ("surfaces", at(["finish", "surfaces", "wall_mm2"], lambda v: v * 1.001)),
        ("surfaces", at(["finish", "surfaces", "girth_growth_mm"], lambda v: v + 0.05)),
        ("coats", at(["finish", "steps", coat, "stays_ml"], lambda v: v + 0.1)),
        ("coats", at(["finish", "steps", coat, "needs_ml"], lambda v: v + 0.1)),
        ("mixing", at(["finish", "steps", coat, "batches", 0, "b_g"], lambda v: v * 1.1)),
        ("burial", at(["finish", "burial", "step", "height_mm"], lambda v: v + 0.01)),
        ("burial", at(["finish", "burial", "coats_to_add"], lambda v: v + 1)),
        ("account", at(["finish", "costing", "order", "price_each"], money)),
        ("account", at(["finish", "costing", "order", "lines", 0, "total"], money)),
        ("account", at(["finish", "costing", "order", "earned"], money)),
        ("windows", at(["finish", "calendar", "entries", coat, "next_from"], lambda v: "2099-01-01T00:00")),
        ("calendar", at(["finish", "calendar", "entries", coat, "sessions", 0, "to"], lambda v: "2026-01-01T00:00")),
        ("seats", at(["finish", "calendar", "entries", coat, "cups"], lambda v: v + 9)),
    ]
    missed = []
    for kind, slip in slips:
        bad, report = copy.deepcopy(m), Report()
        slip(bad)
        check(kit, bad, job, report)
        if kind not in {k for k, _ in report.faults}:
            missed.append(kind)
    for kind, change in [("hours", {"hours": ["sun 3:00-3:05"]}), ("seats", {"seats": 0})]:
        other, report = copy.deepcopy(job), Report()
        other["finish"]["times"].update(change)
        check(kit, m, other, report)
        if kind not in {k for k, _ in report.faults}:
            missed.append(kind)
    return len(slips) + 2, missed


def main():
    import tomllib

    args = argparse.ArgumentParser()
    args.add_argument("kit", type=pathlib.Path)
    args.add_argument("job", type=pathlib.Path)
    args.add_argument("--self-test", action="store_true")
    a = args.parse_args()
    m = json.loads((a.kit / "manifest.json").read_text("utf-8"))
    # Prices as exact decimals, as the maker typed them.
    job = tomllib.loads(a.job.read_text("utf-8"), parse_float=Decimal)
    report = Report()
    read_map(a.kit, m)
    check(a.kit, m, job, report)
    print(f"{a.kit}: {sum(report.counts.values())} checks:", ", ".join(f"{n} {k}" for k, n in sorted(report.counts.items())))
    for kind, says in report.faults[:40]:
        print(f"  {kind}: {says}")
    if a.self_test:
        n, missed = spoilt(a.kit, m, job)
        print(f"self-test: {n - len(missed)} of {n} slips found", f"missed: {missed}" if missed else "")
        sys.exit(1 if missed or report.faults else 0)
    sys.exit(1 if report.faults else 0)


if __name__ == "__main__":
    main()
