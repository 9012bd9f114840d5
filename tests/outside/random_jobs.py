#!/usr/bin/env python3
"""Whole jobs that a maker may rightly ask, by seed: folders with job.toml and art that `frusta check` and `make` take.

    random_jobs.py --out DIR --from SEED --count N      write DIR/0001/job.toml ... (nothing else is run)
    random_jobs.py --frusta PROGRAM --from SEED --count N [--make] [--keep DIR]
                                                        run each through `check` (or `make`), count what is said,
                                                        exit 1 on a panic, a timeout or a broken promise

Cups of every lean from inverted to 45 degrees, by rings or diameters, in mm and inches; handles, seam, lap; films as
sheets and rolls; motifs pinned and spread, with drawings of its own and of the demonstration; decals; accents of every
family; finish; print. What is asked is laid out roughly here (circles on the developed cone), so that nearly all of it
can be done: what is refused for want of room is counted, and is no fault of the program.
"""
import argparse
import json
import math
import os
import re
import shutil
import subprocess
import sys
import tempfile
import time
from collections import Counter
from pathlib import Path

HERE = Path(__file__).resolve().parent
DEMO = [HERE.parents[1] / "demo-data" / d / "art" for d in ("harvest-fair", "first-cup")]
FONTS = ["Kaushan Script", "Source Sans Pro Bold", "Fredoka One"]
FAMILIES = ["pebble", "blob", "bean", "seed", "drop", "crescent", "ring", "star-flower", "petal", "dot"]
# Widths of the demonstration's drawings as parts of their heights, ink only (read off the manifest of a kit).
ASPECTS = {
    "apple-blossom": 1.042, "bee": 1.27, "beetroot": 0.793, "carrot": 0.497, "fern": 0.563, "garden-fork": 0.367,
    "ladybird": 0.93, "onion": 0.683, "pea-pod": 2.726, "robin": 1.155, "snail": 1.287, "strawberry": 0.756,
    "sunflower": 0.617, "toadstool": 0.868, "watering-can": 1.352, "wheat-ear": 0.323,
}
# Invented words; letters with marks as the three fonts have them.
WORDS = [
    "Anna", "Beste Ernte", "Best in show", "Crème brûlée", "Señora Peña", "Købmand", "Zoë & Finn", "Märchen",
    "Façade", "Bähnli", "Tomato", "QUEEN", "First prize", "No. 7", "fi ffl", "Júlia", "Garden", "Åse", "Ole!",
    "Apfel", "Hélène", "Runner up", "2024", "Wild at heart", "mm", "Öl", "Ilse's", "Quiche", "Bee", "A",
]


class Stream:
    """SplitMix64: the same numbers from the same seed on every machine and in every Python."""

    def __init__(self, seed):
        # The seed is mixed first: neighbouring seeds would else give one stream, shifted.
        self.s = (seed * 0xD1342543DE82EF95 + 0x1234567) & (2**64 - 1)
        self.s = self.u64()

    def u64(self):
        self.s = (self.s + 0x9E3779B97F4A7C15) & (2**64 - 1)
        z = self.s
        z = ((z ^ (z >> 30)) * 0xBF58476D1CE4E5B9) & (2**64 - 1)
        z = ((z ^ (z >> 27)) * 0x94D049BB133111EB) & (2**64 - 1)
        return z ^ (z >> 31)

    def unit(self):
        return (self.u64() >> 11) / 2.0**53

    def between(self, a, b):
        return a + (b - a) * self.unit()

    def whole(self, a, b):
        return a + self.u64() % (b - a + 1)

    def chance(self, p):
        return self.unit() < p

    def pick(self, of):
        return of[self.u64() % len(of)]

    def some(self, of, n):
        of, out = list(of), []
        for _ in range(min(n, len(of))):
            out.append(of.pop(self.u64() % len(of)))
        return out


# ---- the wall, roughly ---------------------------------------------------------------------------------------------


class Cone:
    """Enough of the wall to lay things out on it: radii along the wall and distances in the developed plane."""

    def __init__(self, base_girth, rim_girth, wall):
        self.r0, self.r1, self.wall = base_girth / math.tau, rim_girth / math.tau, wall
        self.k = (self.r1 - self.r0) / wall

    def girth(self, up):
        return math.tau * (self.r0 + self.k * up)

    def distance(self, a, b):
        (az, up), (bz, vp) = a, b
        turn = math.radians((az - bz + 180.0) % 360.0 - 180.0)
        ra, rb = self.r0 + self.k * up, self.r0 + self.k * vp
        if abs(self.k) < 1e-6:
            return math.hypot(up - vp, ra * turn)
        p, q = ra / abs(self.k), rb / abs(self.k)
        return math.sqrt(max(0.0, p * p + q * q - 2 * p * q * math.cos(self.k * turn)))


class Room:
    """What is taken: circles on the wall."""

    def __init__(self, cone, low, high):
        self.cone, self.low, self.high, self.taken = cone, low, high, []

    def area(self):
        return (self.cone.girth(self.low) + self.cone.girth(self.high)) / 2 * (self.high - self.low)

    def used(self):
        return sum(math.pi * r * r for *_, r in self.taken)

    def circles(self, azimuth, up, width, height):
        """A box covered by circles along its longer side."""
        small, big = min(width, height), max(width, height)
        n = max(1, math.ceil(big / max(small, 1e-6)))
        r = math.hypot(small, big / n) / 2
        for i in range(n):
            off = (i + 0.5) / n * big - big / 2
            if width >= height:
                yield azimuth + math.degrees(off / (self.cone.girth(up) / math.tau)), up, r
            else:
                yield azimuth, up + off, r

    def free(self, azimuth, up, width, height, clear):
        half = height / 2 + 1.0 + width * width * abs(self.cone.k) / (8 * (self.cone.girth(up) / math.tau))
        if up - half < self.low or up + half > self.high or width > 0.8 * self.cone.girth(up):
            return False
        return all(
            self.cone.distance((a, u), (b, v)) >= r + s + clear
            for a, u, r in self.circles(azimuth, up, width, height)
            for b, v, s in self.taken
        )

    def take(self, azimuth, up, width, height):
        self.taken.extend(self.circles(azimuth, up, width, height))


# ---- drawings --------------------------------------------------------------------------------------------------------


def smooth(points):
    """A closed curve of cubics through points (Catmull-Rom)."""
    n, d = len(points), []
    for i in range(n):
        p0, p1, p2, p3 = (points[(i + k) % n] for k in (-1, 0, 1, 2))
        if i == 0:
            d.append(f"M{p1[0]:.3f} {p1[1]:.3f}")
        c1 = (p1[0] + (p2[0] - p0[0]) / 6, p1[1] + (p2[1] - p0[1]) / 6)
        c2 = (p2[0] - (p3[0] - p1[0]) / 6, p2[1] - (p3[1] - p1[1]) / 6)
        d.append(f"C{c1[0]:.3f} {c1[1]:.3f} {c2[0]:.3f} {c2[1]:.3f} {p2[0]:.3f} {p2[1]:.3f}")
    return "".join(d) + "Z"


def around(n, radius, cx, cy, start=0.0):
    return [
        (cx + radius(i) * math.cos(start + math.tau * i / n), cy + radius(i) * math.sin(start + math.tau * i / n))
        for i in range(n)
    ]


def straight(points):
    return "M" + "L".join(f"{x:.3f} {y:.3f}" for x, y in points) + "Z"


def turned(points, degrees, cx, cy):
    c, d = math.cos(math.radians(degrees)), math.sin(math.radians(degrees))
    return [(cx + (x - cx) * c - (y - cy) * d, cy + (x - cx) * d + (y - cy) * c) for x, y in points]


def bezier(p, q, r, w, n=12):
    return [tuple((1 - t) ** 3 * a + 3 * t * (1 - t) ** 2 * b + 3 * t * t * (1 - t) * c + t**3 * d for a, b, c, d in zip(p, q, r, w)) for t in (i / n for i in range(n + 1))]


def blob_points(s, r, cx, cy):
    a, b, p, q = s.between(0, 0.18), s.between(0, 0.12), s.between(0, 6), s.between(0, 6)
    n = s.whole(8, 16)
    return around(n, lambda i: r * (0.75 + a * math.sin(2 * math.tau * i / n + p) + b * math.sin(3 * math.tau * i / n + q)), cx, cy)


def blob(s, r, cx, cy):
    return smooth(blob_points(s, r, cx, cy))


def drawing(s, w, h):
    """Body of a drawing in a box of w by h mm, no part of it much narrower than 1.5 mm, and points of its extent."""
    cx, cy, r = w / 2, h / 2, min(w, h) / 2 * 0.96
    kind = s.pick(["blob", "star", "heart", "flower", "ring", "leaf", "line", "boxes", "parts", "gear", "use", "letter"])
    fill = s.pick(["#000", "#123456", "black", "rgb(20,90,60)", "currentColor"])
    spot = lambda d, more="": f'<path fill="{fill}"{more} d="{d}"/>'
    f3 = lambda *v: " ".join(f"{x:.3f}" for x in v)
    square = [(cx - r, cy - r), (cx + r, cy + r)]
    if kind == "blob":
        pts = blob_points(s, r, cx, cy)
        return spot(smooth(pts)), pts
    if kind == "star":
        n, inner = s.whole(4, 9), s.between(0.5, 0.85)
        pts = around(2 * n, lambda i: r * (1 if i % 2 == 0 else inner), cx, cy, s.between(0, 1))
        return spot(straight(pts)), pts
    if kind == "heart":
        a, b = (cx, cy + r), (cx, cy - 0.45 * r)
        left = [a, (cx - 2.2 * r, cy - 0.3 * r), (cx - 0.9 * r, cy - 1.5 * r), b]
        right = [b, (cx + 0.9 * r, cy - 1.5 * r), (cx + 2.2 * r, cy - 0.3 * r), a]
        d = f"M{f3(*a)}" + "".join("C" + f3(*c[1], *c[2], *c[3]) for c in (left, right)) + "Z"
        return f'<path style="fill:{fill}" d="{d}"/>', bezier(*left) + bezier(*right)
    if kind == "flower":
        n = s.whole(4, 8)
        pts = around(4 * n, lambda i: r * (0.98 if i % 4 == 0 else 0.72 if i % 4 == 2 else 0.88), cx, cy, s.between(0, 1))
        hole = smooth(around(12, lambda _: r * 0.3, cx, cy)) if r > 4 else ""
        return spot(smooth(pts) + hole, ' fill-rule="evenodd"'), pts
    if kind == "ring":
        t = max(1.8, r * s.between(0.2, 0.5))
        body = f'<circle cx="{cx:.3f}" cy="{cy:.3f}" r="{r - t / 2:.3f}" fill="none" stroke="{fill}" stroke-width="{t:.3f}"/>'
        return body, square
    if kind == "leaf":
        a, b, lean = (cx, cy - r), (cx, cy + r), s.whole(-40, 40)
        d = f"M{f3(*a)}Q{f3(cx + 1.3 * r, cy, *b)}Q{f3(cx - 1.3 * r, cy, *a)}Z"
        side = lambda q: bezier(a, (cx + q * 1.3 * r * 2 / 3, cy - r / 3), (cx + q * 1.3 * r * 2 / 3, cy + r / 3), b)
        return spot(d, f' transform="rotate({lean} {f3(cx, cy)})"'), turned(side(1) + side(-1), lean, cx, cy)
    if kind == "line":
        t = max(2.0, r * s.between(0.15, 0.3))
        pts = [(t + (w - 2 * t) * i / 4, t + (h - 2 * t) * s.unit()) for i in range(5)]
        d = "M" + "L".join(f3(*p) for p in pts)
        body = f'<path fill="none" stroke="{fill}" stroke-width="{t:.3f}" stroke-linecap="{s.pick(["round", "butt", "square"])}" stroke-linejoin="{s.pick(["round", "bevel"])}" d="{d}"/>'
        return body, [(x + q * t / 2, y + q * t / 2) for x, y in pts for q in (-1, 1)]
    if kind == "boxes":
        round_, lean = s.pick([0, 0.1, 0.25]) * r, s.whole(-20, 20)
        body = (
            f'<g fill="{fill}" transform="rotate({lean} {f3(cx, cy)})"><rect x="{cx - r * 0.7:.3f}" y="{cy - r * 0.6:.3f}" '
            f'width="{r * 1.4:.3f}" height="{r * 1.1:.3f}" rx="{round_:.3f}"/><ellipse cx="{cx:.3f}" cy="{cy - r * 0.3:.3f}" rx="{r * 0.4:.3f}" ry="{r * 0.55:.3f}"/></g>'
        )
        pts = [(cx + q * r * 0.7, cy + v * r) for q in (-1, 1) for v in (-0.6, 0.5)] + [(cx, cy - 0.85 * r)]
        return body, turned(pts, lean, cx, cy)
    if kind == "parts":
        q = r * 0.42
        all_ = [blob_points(s, q, cx + dx * r * 0.52, cy + dy * r * 0.52) for dx, dy in ((-1, -1), (1, -1), (0, 1))]
        return f'<g fill="{fill}">' + "".join(f'<path d="{smooth(p)}"/>' for p in all_) + "</g>", [p for ps in all_ for p in ps]
    if kind == "gear":
        n = s.whole(5, 10)
        pts = around(4 * n, lambda i: r * (0.97 if i % 4 < 2 else 0.76), cx, cy)
        hole = around(s.whole(3, 8), lambda _: r * 0.35, cx, cy)
        hole = straight(hole[::-1] if s.chance(0.5) else hole) if r > 5 else ""
        return spot(straight(pts) + hole, ' fill-rule="evenodd"'), pts
    if kind == "use":
        half = [(0, 0), (r * 0.5, -r * 0.2), (r * 0.5, -r * 0.8), (0, -r)]
        d = f"M0 0C{f3(*half[1], *half[2], *half[3])}C{f3(-r * 0.5, -r * 0.8, -r * 0.5, -r * 0.2, 0, 0)}Z"
        n = s.whole(3, 6)
        body = f'<defs><path id="p" d="{d}"/></defs><g fill="{fill}" transform="translate({f3(cx, cy)})"><circle r="{max(1.5, r * 0.3):.3f}"/>' + "".join(
            f'<use href="#p" transform="rotate({360 * i / n:.2f})"/>' for i in range(n)
        ) + "</g>"
        petal = [(cx + q * x, cy + y) for x, y in bezier(*half) for q in (-1, 1)]
        return body, [p for i in range(n) for p in turned(petal, 360 * i / n, cx, cy)]
    # Straight strokes like those of a capital, joined: an E or an H.
    t = max(2.0, r * 0.28)
    a, b, top, low = cx - r * 0.6, cx + r * 0.6, cy - r * 0.8, cy + r * 0.8
    d = s.pick([
        f"M{f3(a, top)}V{low:.3f}H{b:.3f}M{f3(a, top)}H{b:.3f}M{f3(a, cy)}H{cx + r * 0.4:.3f}",
        f"M{f3(a, top)}V{low:.3f}M{f3(b, top)}V{low:.3f}M{f3(a, cy)}H{b:.3f}",
    ])
    return f'<path fill="none" stroke="{fill}" stroke-width="{t:.3f}" d="{d}"/>', [(a - t / 2, top - t / 2), (b + t / 2, low + t / 2)]


def aspect(points):
    xs, ys = [x for x, _ in points], [y for _, y in points]
    return (max(xs) - min(xs)) / (max(ys) - min(ys))


def sheet_of(body, w, h, s):
    size = s.pick([f'width="{w:.3f}mm" height="{h:.3f}mm" ', "", f'width="{w / 10:.4f}cm" height="{h / 10:.4f}cm" '])
    return f'<svg xmlns="http://www.w3.org/2000/svg" {size}viewBox="0 0 {w:.3f} {h:.3f}">{body}</svg>\n'


# ---- the job ---------------------------------------------------------------------------------------------------------


class Job:
    def __init__(self, seed):
        self.seed, self.s = seed, Stream(seed)
        self.inch = self.s.chance(0.25)
        self.files, self.text, self.art_count = {}, [], 0

    def say(self, line=""):
        self.text.append(line)

    def mm(self, v):
        """A length in the job's unit; now and then as text in another one."""
        if self.s.chance(0.06):
            return f'"{v / 10:.3f} cm"' if self.s.chance(0.5) else f'"{v:.2f} mm"'
        if not self.inch:
            return f"{v:.2f}".rstrip("0").rstrip(".") if v % 1 else f"{v:.0f}"
        if self.s.chance(0.1):
            return f'"{v / 25.4:.4f} in"'
        return f"{v / 25.4:.4f}"

    def cup(self):
        s = self.s
        lean = s.pick([0, s.between(0, 4), s.between(2, 9), s.between(2, 9), s.between(6, 14), s.between(-12, 0), s.between(14, 30), s.between(-40, -12) if s.chance(0.3) else s.between(30, 45)])
        self.lean = lean
        steep = abs(lean) > 14
        while True:
            wall = s.between(35, 110) if steep else s.between(55, 240)
            base = s.between(45, 110) if lean >= 0 else s.between(70, 160)
            rim = base + 2 * wall * math.sin(math.radians(lean))
            # No cup is a plate or a chimney; capacities from 60 ml to 5 l.
            h = wall * math.cos(math.radians(lean))
            volume = math.pi * h * (base * base + base * rim + rim * rim) / 12000
            if min(base, rim) > 30 and max(base, rim) < 300 and 90 < volume < 5000 and wall < 3 * max(base, rim):
                break
        self.volume = volume
        self.wall, girths = wall, (math.pi * base, math.pi * rim)
        self.cone = Cone(*girths, wall)
        self.say("[cup]")
        if s.chance(0.3):
            way = f"slant = {self.mm(wall)}" if s.chance(0.5) else f"height = {self.mm(h)}"
            self.say(f"diameters = {{ rim = {self.mm(rim)}, base = {self.mm(base)}, {way} }}")
        else:
            ups = [0.0, wall]
            if s.chance(0.3):
                ups.insert(1, wall * s.between(0.3, 0.7))
            if s.chance(0.2):
                ups[0] = wall * 0.05
            said = ", ".join(f"{{ up = {self.mm(u)}, girth = {self.mm(self.cone.girth(u) + s.between(-0.3, 0.3) * (len(ups) > 2))} }}" for u in ups)
            self.say(f"rings = [{said}]")
            self.say(f"wall = {self.mm(wall)}")
        if steep or s.chance(0.4) or not 300 < volume < 900:
            self.say(f'capacity = "{volume / 1.3:.0f} ml"' if not self.inch else f'capacity = "{volume / 1.3 / 29.5735:.1f} fl oz"')
        if s.chance(0.3):
            self.say(f"tape = {self.mm(s.between(0.2, 1.5))}")
        rim_band, base_band = 20.0, 6.0
        if s.chance(0.5):
            rim_band, base_band = s.between(0 if s.chance(0.2) else 15, 24), s.between(0, 12)
            self.say(f"keep-clear = {{ rim = {self.mm(rim_band)}, base = {self.mm(base_band)} }}")
        self.room = Room(self.cone, base_band + 0.2, wall - rim_band - 0.2)
        self.seam = 180.0
        if s.chance(0.3):
            self.seam = float(s.whole(-180, 360))
            self.say(f"seam = {self.seam:.0f}")
        if s.chance(0.3):
            self.say(f"lap = {self.mm(s.between(1, 12))}")
        if s.chance(0.2):
            self.say(f"build-up = {self.mm(s.between(0.05, 1.5))}")
        if s.chance(0.3):
            at = s.pick([180.0, 90.0, float(s.whole(-180, 180))])
            width = min(s.between(15, 60), 0.3 * min(girths))
            lo, hi = sorted((s.between(0, 0.45) * wall, s.between(0.55, 1.0) * wall))
            self.say(f"handle = {{ at = {at:.0f}, width = {self.mm(width)}, from = {self.mm(lo)}, to = {self.mm(hi)} }}")
            self.room.take(at, (lo + hi) / 2, width + 2, hi - lo + 2)
        self.say()

    def films(self):
        s = self.s
        self.names, self.kinds = [], []
        for i in range(s.pick([1, 1, 2, 2, 3, 4])):
            name = s.pick(["ink", "straw", "leaf-green", "damson", "gold", "white-2", "b"]) + ("" if i == 0 else f"-{i}")
            self.names.append(name)
            self.say("[[film]]")
            self.say(f'name = "{name}"')
            if s.chance(0.6):
                self.say(f'colour = "#{s.whole(0, 0xFFFFFF):06x}"')
            margin = s.pick([5.0, 5.0, s.between(0, 15)])
            if s.chance(0.55):
                w, h = s.between(150, 400), s.between(150, 400)
                self.say(f"sheet = [{self.mm(w)}, {self.mm(h)}]")
                short = min(w, h)
            else:
                short = s.between(180, 620)
                longest = s.between(200, 1500)
                self.say(f"roll = {self.mm(short)}")
                if s.chance(0.6):
                    self.say(f"longest = {self.mm(longest)}")
                    short = min(short, longest)
                w = None
            self.say(f"margin = {self.mm(margin)}")
            if s.chance(0.6):
                self.say(f"spacing = {self.mm(s.between(0.5, 5))}")
            weed = s.pick([0.8, 0.8, s.between(0.3, 1.2)])
            if weed != 0.8:
                self.say(f"weed = {self.mm(weed)}")
            if s.chance(0.3):
                self.say(f"thickness = {self.mm(s.between(0.05, 0.3))}")
            if s.chance(0.2):
                self.say("mirrored = true")
            grain = s.pick(["free", "free", "free", "half", "fixed"])
            if grain != "free" or s.chance(0.2):
                self.say(f'grain = "{grain}"')
            if s.chance(0.2):
                self.say(f'sheen = "{s.pick(["gloss", "matt", "metallic", "pearl"])}"')
            if s.chance(0.25):
                self.say(f"spares = {s.whole(0, 30)}")
                if s.chance(0.5):
                    self.say(f"spares-up-to = {self.mm(s.between(6, 25))}")
            if s.chance(0.2):
                self.say(f"in-stock = [{{ sheet = [{self.mm(s.between(60, 200))}, {self.mm(s.between(60, 200))}], count = {s.whole(1, 3)} }}]")
            if s.chance(0.15):
                self.say(f'leftovers = ["{self.leftover(i)}"]')
            if s.chance(0.25):
                self.say(f"weeding = {{ frame = {self.mm(s.between(1, 6))}, lines = {self.mm(s.between(30, 120))}, clear = {self.mm(s.between(0.5, 2))} }}")
            if s.chance(0.2):
                self.say(f"cutter = {{ cut-speed = {s.whole(20, 400)}, travel-speed = {s.whole(50, 600)}, weed-piece-seconds = {s.whole(1, 20)}, overcut = {self.mm(s.between(0, 1))} }}")
            self.say()
            # Longest extent that surely fits the film, whichever way it is turned.
            self.kinds.append({"name": name, "most": (short - 2 * margin) * 0.95, "roll": w is None, "weed": weed})

    def leftover(self, i):
        """What an earlier kit left: see `leftovers/*.svg` of any kit."""
        w, h = self.s.between(80, 180), self.s.between(80, 180)
        name = f"left-{i}.svg"
        cut = self.s.between(0.3, 0.6)
        d = f"M0 0L{w:.3f} 0L{w:.3f} {h * cut:.3f}L{w * cut:.3f} {h * cut:.3f}L{w * cut:.3f} {h:.3f}L0 {h:.3f}Z"
        self.files[name] = f'<svg xmlns="http://www.w3.org/2000/svg" width="{w:.3f}mm" height="{h:.3f}mm" viewBox="0 0 {w:.3f} {h:.3f}"><path d="{d}" fill="#000"/></svg>\n'
        return name

    def art(self, width, height):
        """A drawing of the generator's own or of the demonstration: (path, aspect)."""
        s = self.s
        if s.chance(0.4):
            files = sorted(f for d in DEMO for f in d.glob("*.svg"))
            f = s.pick(files)
            self.files[f"art/{f.name}"] = f.read_text()
            return f"art/{f.name}", ASPECTS[f.stem]
        self.art_count += 1
        name = f"art/own-{self.art_count}.svg"
        body, extent = drawing(s, width, height)
        self.files[name] = sheet_of(body, width, height, s)
        return name, aspect(extent)

    def film(self, most):
        fitting = [k for k in self.kinds if k["most"] >= most]
        return self.s.pick(fitting) if fitting else None

    def decal(self):
        s, room = self.s, self.room
        inside = room.high - room.low
        words = s.chance(0.75)
        layers = s.pick([1, 2, 2, 3, 3, 4])
        offsets = [s.between(0.4, 2.5) for _ in range(layers - 1)]
        top = s.between(0.2, 1.0) if s.chance(0.1) else 0.0
        reach = sum(offsets) + top
        up = (room.low + room.high) / 2
        girth = room.cone.girth(up)
        azimuth = s.pick([0.0, 0.0, float(s.whole(-180, 180))])
        lines = []
        if words:
            lines = s.some(WORDS, s.pick([1, 1, 1, 2, 3]))
            font = s.pick(FONTS)
            longest = max(len(line) for line in lines)
            # Wide enough to be read and weeded: a letter of half an em of at least 7 mm.
            width = max(longest, 2) * s.between(3.5, 7)
            high = width / max(longest, 2) * 2.1 * len(lines)
        else:
            width = s.between(18, 50)
            high = width
        width = min(width, 0.45 * girth - 2 * reach)
        high = min(high, inside - 2 * reach - 4)
        if width < 10 or high < 8:
            return
        # Where the wall leans, a wide straight decal stands off level.
        sag = (width / 2) ** 2 * abs(room.cone.k) / (girth / math.tau) / 2
        full = (width + 2 * reach, high + 2 * reach + 2 * sag)
        kinds = [self.film(max(full) + 14) for _ in range(layers + 1)]
        if any(k is None for k in kinds):
            return
        # A decal stays clear of the seam, with its clearance.
        half = math.degrees((full[0] / 2 + 4) / min(room.cone.girth(room.low), room.cone.girth(room.high)) * math.tau)
        fits = lambda az, up: abs((az - self.seam + 180) % 360 - 180) > half and room.free(az, up, *full, 2.5)
        at = "centred"
        if not fits(azimuth, up):
            for _ in range(20):
                azimuth, up = float(s.whole(-180, 180)), s.between(room.low + full[1] / 2 + 1, max(room.low + full[1] / 2 + 1.1, room.high - full[1] / 2 - 1))
                if fits(azimuth, up):
                    at = None
                    break
            else:
                return
        room.take(azimuth, up, *full)
        self.say("[[decal]]")
        if words:
            said = ", ".join(json.dumps(line, ensure_ascii=False) for line in lines)
            self.say(f"text = [{said}]" if len(lines) > 1 or s.chance(0.2) else f"text = {said}")
            self.say(f'font = "{font}"')
            lies = s.pick(["rigid", "upright", "upright", "bent"])
            if s.chance(0.75):
                self.say(f"fits = [{self.mm(full[0])}, {self.mm(high + 2 * reach)}]")
            else:
                # A height follows from the width: leave it where it surely fits.
                self.say(f"fits = [{self.mm(full[0] * 0.9)}, {self.mm(high + 2 * reach)}]") if len(lines) > 1 else self.say(f"width = {self.mm(width * 0.8)}")
            if s.chance(0.2):
                self.say(f'align = "{s.pick(["left", "middle", "right"])}"')
            if s.chance(0.2):
                self.say(f"letter-spacing = {s.between(0.0, 0.15):.2f}")
            if s.chance(0.2):
                self.say(f"line-spacing = {s.between(0.9, 1.4):.2f}")
        else:
            lies = s.pick(["rigid", "bent"])
            name, aspect = self.art(width, high)
            self.say(f'art = "{name}"')
            self.say(f"fits = [{self.mm(full[0])}, {self.mm(high + 2 * reach)}]")
        self.say(f'lies = "{lies}"')
        self.say(f"azimuth = {azimuth:.0f}")
        self.say('up = "centred"' if at else f"up = {self.mm(up)}")
        if lies == "rigid" and s.chance(0.1):
            self.say(f"turn = {s.whole(-3, 3)}")
        self.say(f"mend = {'true' if s.chance(0.85) else 'false'}")
        if s.chance(0.15):
            self.say("keys = false" if s.chance(0.5) else f"keys = {self.mm(s.between(3, 6))}")
        if s.chance(0.15):
            self.say('method = "stacked-flat"')
        said = []
        for i, offset in enumerate(offsets):
            layer = f'film = "{kinds[i]["name"]}", offset = {self.mm(offset)}'
            if s.chance(0.12):
                layer += ', join = "mitred"'
            if s.chance(0.4):
                layer += f", close = {self.mm(s.between(0.5, 2.5))}"
            if s.chance(0.12):
                layer += f", overlap = {self.mm(s.between(0.6, 2))}"
            said.append(f"{{ {layer} }}")
        if words and len(self.names) > 1 and s.chance(0.25):
            several = ", ".join(f'"{k["name"]}"' for k in {k["name"]: k for k in kinds}.values())
            said.append(f'{{ films = [{several}], split = "{s.pick(["line", "word", "letter"])}" }}')
        else:
            said.append(f'{{ film = "{kinds[-1]["name"]}"' + (f", offset = {self.mm(top)}" if top else "") + " }")
        self.say("layers = [" + ", ".join(said) + "]")
        self.say()

    def pinned(self):
        s, room = self.s, self.room
        inside = room.high - room.low
        for _ in range(s.pick([1, 2, 3, 5])):
            width = min(s.between(10, 45), inside * 0.7)
            height = min(width * s.between(0.6, 1.5), inside * 0.8)
            border = s.between(0.5, 2.5) if s.chance(0.15) else 0.0
            clear = s.pick([2.0, s.between(0, 6)])
            name, aspect = self.art(width, height)
            # As tall as the box at most, whatever the proportions; 15 percent more, since art may fill its box badly.
            by_height = s.chance(0.5)
            if by_height:
                width = height * aspect
            else:
                height = width / aspect
            if height > 0.8 * inside:
                height, width, by_height = 0.8 * inside, 0.8 * inside * aspect, True
            reach = math.hypot(width, height) * 1.1 + 2 * border
            kind = self.film(reach)
            if kind is None or reach > 0.6 * room.cone.girth((room.low + room.high) / 2):
                continue
            poses = []
            for _ in range(s.pick([1, 1, 2, 3])):
                for _ in range(25):
                    turn = s.pick([0, 0, s.whole(-30, 30), s.whole(-180, 180)])
                    c, d = abs(math.cos(math.radians(turn))), abs(math.sin(math.radians(turn)))
                    w, h = (width * c + height * d) * 1.12 + 2 * border, (width * d + height * c) * 1.12 + 2 * border
                    azimuth, up = s.pick([self.seam, float(s.whole(-180, 180))]), s.between(room.low, room.high)
                    if room.free(azimuth, up, w, h, clear + 0.5):
                        room.take(azimuth, up, w + clear / 2, h + clear / 2)
                        poses.append(f"{{ azimuth = {azimuth:.0f}, up = {self.mm(up)}" + (f", turn = {turn}" if turn else "") + " }")
                        break
            if not poses:
                continue
            self.motif_head(name, width, height, by_height, kind, clear, border)
            self.say("poses = [" + ", ".join(poses) + "]")
            self.say()

    def motif_head(self, name, width, height, by_height, kind, clear, border):
        s = self.s
        self.say("[[motif]]")
        self.say(f'art = "{name}"')
        self.say(f"height = {self.mm(height)}" if by_height else f"width = {self.mm(width)}")
        if len(self.names) > 1 or s.chance(0.5):
            self.say(f'film = "{kind["name"]}"')
        if clear != 2.0:
            self.say(f"clearance = {self.mm(clear)}")
        if border:
            self.say(f"border = {self.mm(border)}")
        if s.chance(0.75):
            self.say("mend = true")

    def spread(self):
        s, room = self.s, self.room
        inside = room.high - room.low
        for _ in range(s.pick([1, 2, 3])):
            left = 0.4 * room.area() - room.used()
            width = min(s.between(8, 28), inside * 0.55)
            name, aspect = self.art(width, width * s.between(0.7, 1.4))
            height = width / aspect
            if height > inside * 0.6:
                height, width = inside * 0.6, inside * 0.6 * aspect
            clear = s.pick([2.0, s.between(0.5, 5)])
            border = s.between(0.5, 2) if s.chance(0.1) else 0.0
            reach = math.hypot(width, height)
            each = math.pi / 4 * (reach + clear + 2 * border) ** 2
            most = int(left / each)
            kind = self.film(reach * 1.1 + 2 * border)
            if most < 1 or kind is None:
                continue
            copies = s.whole(1, min(most, 12))
            room.taken.append((0.0, -1e4, math.sqrt(copies * each / math.pi)))
            self.motif_head(name, width, height, False, kind, clear, border)
            if copies > 1 or s.chance(0.5):
                self.say(f"copies = {copies}")
            turning = s.pick(["", '"free"', '"upright"', str(s.whole(0, 90))])
            if turning:
                self.say(f"turning = {turning}")
            self.say()

    def accent(self):
        s, room = self.s, self.room
        inside = room.high - room.low
        free = max(200.0, room.area() - room.used())
        # A few hundred spots at most, so that a thousand jobs are made in an hour.
        mean = max(s.between(4, 12), math.sqrt(free / s.between(40, 320)))
        mean = min(mean, inside * 0.35)
        spread = s.pick([0.0, s.between(0, 0.5)])
        weed = max(k["weed"] for k in self.kinds)
        # Rings and crescents are the thinnest family: nothing of them may be narrower than the film weeds.
        small, large = max(2.0, 2.5 * weed, mean * (1 - spread)), max(2.2, 12 * weed, mean * (1 + spread))
        small = min(small, large)
        kind = self.film(large * 1.5)
        if kind is None:
            return
        self.say("[[accent]]")
        if s.chance(0.12):
            names = []
            for i in range(s.whole(1, 3)):
                name = f"art/spot-{i}.svg"
                square = '<rect x="2" y="2" width="16" height="16"/>'
                holed = f'<path fill-rule="evenodd" d="{smooth(around(12, lambda _: 9.0, 10, 10))}{smooth(around(12, lambda _: 3.6, 10, 10))}"/>'
                self.files[name] = sheet_of(s.pick([f'<path d="{blob(s, 9, 10, 10)}"/>'] * 2 + [square, holed]), 20, 20, s)
                names.append(name)
            self.say("art = [" + ", ".join(f'"{n}"' for n in names) + "]" if len(names) > 1 or s.chance(0.3) else f'art = "{names[0]}"')
            if s.chance(0.4):
                self.say(f'family = "{s.pick(FAMILIES)}"')
        elif s.chance(0.4):
            self.say(f'family = "{s.pick(FAMILIES)}"')
        else:
            self.say("families = [" + ", ".join(f'"{f}"' for f in s.some(FAMILIES, s.whole(1, 4))) + "]")
        self.say(f"smallest = {self.mm(small)}")
        self.say(f"largest = {self.mm(large + 0.02)}")
        self.say(f"gap = {self.mm(s.between(0.6, min(5, mean)))}")
        if len(self.names) > 1 and s.chance(0.6):
            shares = s.some(self.kinds, s.whole(1, len(self.kinds)))
            self.say("films = { " + ", ".join(f'{k["name"]} = {s.whole(1, 4)}' for k in shares) + " }")
            if s.chance(0.3):
                self.say('share-by = "area"')
        elif len(self.names) > 1 or s.chance(0.3):
            self.say(f'film = "{kind["name"]}"')
        adapt = s.pick(["", "", f"{{ flex = {s.whole(3, 30)} }}", f"{{ flex = {s.whole(3, 30)} }}", '"mosaic"', '"as-drawn"'])
        if adapt:
            self.say(f"adapt = {adapt}")
        if s.chance(0.3):
            self.say(f'turn = "{s.pick(["free", "upright", "along"])}"')
        if s.chance(0.2):
            self.say("polish = true")
        self.say()

    def print(self):
        s = self.s
        self.say("[print]")
        self.say("papers = [" + ", ".join(f'"{p}"' for p in s.some(["a4", "letter", "a3", "legal", "tabloid"], s.whole(1, 2))) + "]")
        if s.chance(0.5):
            self.say(f'orientation = "{s.pick(["either", "portrait", "landscape"])}"')
        if s.chance(0.3):
            self.say(f"bars = {{ short-side = {self.mm(s.between(98.5, 101.5))}, long-side = {self.mm(s.between(98.5, 101.5))} }}")
        if s.chance(0.4):
            self.say(f'ground = "{s.pick(["transparent", "#fbfaf6", "#abc"])}"')
        if s.chance(0.4):
            self.say(f'cup-colour = "#{s.whole(0, 0xFFFFFF):06x}"')
        self.say()

    def finish(self):
        s = self.s
        self.say("[finish]")
        self.say(f"cups = {s.whole(1, 24)}")
        if s.chance(0.2):
            self.say(f"sanding-margin = {self.mm(s.between(0.05, 0.5))}")
        self.say()
        paint, priced = s.chance(0.4), s.chance(0.6)
        if paint:
            self.say("[[finish.product]]")
            self.say('name = "slip paint"\nkind = "paint"')
            if s.chance(0.5):
                self.say(f'density = {s.between(1.0, 1.5):.2f}\nrecoat-from = "{s.whole(1, 4)} h"\nhard = "{s.whole(5, 9)} h"')
            if priced or s.chance(0.5):
                self.say(f'price = {s.between(3, 20):.2f}\npack = "{s.whole(50, 500)} ml"')
            self.say()
        self.say("[[finish.product]]")
        self.say('name = "clear resin"\nkind = "two-part resin"')
        self.say(f"mix = [{s.pick([1, 2, 3, 100])}, {s.pick([1, 1, 2])}]")
        if s.chance(0.5):
            self.say(f"density = [{s.between(1.0, 1.2):.2f}, {s.between(0.95, 1.1):.2f}]")
        if s.chance(0.5):
            self.say(f'pot-life = "{s.whole(15, 60)} min"\nrecoat-from = "{s.whole(3, 6)} h"\nrecoat-until = "{s.whole(20, 40)} h"\nhard = "{s.whole(10, 24)} h"\ncured = "{s.whole(2, 7)} d"')
        if priced or s.chance(0.5):
            self.say(f'price = {s.between(10, 60):.2f}\npack = "{s.pick(["500 ml", "1 l", "900 g", "2 lb", "16 fl oz"])}"')
        self.say()
        if paint and s.chance(0.5):
            top = s.between(15, max(16, self.wall * 0.5))
            self.say(f'[[finish.band]]\nname = "foot"\nfrom = 0\nto = {self.mm(top)}\nfade-high = {self.mm(top * s.between(0, 0.5))}')
            self.say(f'colour = "#{s.whole(0, 0xFFFFFF):06x}"\n')
            over = True
        else:
            over = False
        disc = s.chance(0.3) and min(self.cone.r0, 1e9) > 22
        if paint or s.chance(0.3):
            steps = ["wash"] + ["paint"] * paint + (["over"] if over else []) + (["thin coat"] if s.chance(0.4) else [])
            steps += ["film"] + (["seal film"] if s.chance(0.6) else []) + ["clear coat"] * s.whole(1, 3)
            steps += ["thin coat"] if s.chance(0.3) else []
            steps += (["base disc"] if disc else []) + ["cure"]
            for step in steps:
                self.say("[[finish.step]]")
                self.say(f'do = "{"paint" if step == "over" else step}"')
                if step == "over":
                    self.say('over = "foot"')
                elif step == "clear coat" and s.chance(0.3):
                    self.say(s.pick([f"thickness = {self.mm(s.between(0.2, 1.2))}", f"grams = {s.between(2, 9):.1f}"]))
                self.say()
        if s.chance(0.6):
            self.say('[finish.times]\nstart = "2026-04-20 18:00"')
            self.say("hours = [" + s.pick(['"mon-fri 18:00-21:30", "sat 9:00-13:00"', '"mon-fri 8-12", "mon-fri 13-17"']) + "]")
            if s.chance(0.3):
                self.say(f"seats = {s.whole(1, 8)}")
            self.say()
        if disc:
            across = self.cone.r0 * 2 * s.between(0.6, 0.9)
            self.say(f"[finish.base]\nacross = {self.mm(across)}")
            ring = across * 0.12 if s.chance(0.5) else 0
            if ring:
                self.say(f"ring = {self.mm(ring)}")
            kind = self.film(across * 1.05)
            if len(self.names) > 1:
                self.say(f'film = "{(kind or self.kinds[0])["name"]}"')
            self.say()
        if priced:
            self.say(f'[finish.price]\ncurrency = "{s.pick(["EUR", "GBP", "USD"])}"\nhour = {s.whole(8, 40)}\nblank = {s.between(2, 15):.2f}')
            if s.chance(0.6):
                self.say(f"consumables = {s.between(0, 3):.2f}\npacking = {s.between(0, 3):.2f}\noverhead = {s.whole(0, 20)}\nreject = {s.whole(0, 10)}")
            if s.chance(0.5):
                self.say(f"margin = {s.whole(0, 40)}" if s.chance(0.5) else f"markup = {s.whole(0, 80)}")
            if s.chance(0.4):
                self.say(f"tax = {s.pick([7, 19, 20])}\nround-to = {s.pick(['0.01', '0.50', '1'])}")
            if s.chance(0.4):
                self.say("breaks = [1, 4, 12]")
            if s.chance(0.3):
                self.say('charge = "pieces"')
            prices = ", ".join(f'{k["name"]} = {{ {"per-metre" if k["roll"] else "per-sheet"} = {s.between(1, 6):.2f} }}' for k in self.kinds)
            self.say(f"films = {{ {prices} }}\n")

    def write(self, folder):
        s = self.s
        self.say(f"# Random job {self.seed} of tests/outside/random_jobs.py: invented.")
        self.say(f'title = "Random job {self.seed}"')
        if s.chance(0.7):
            self.say(f'date = "2026-{s.whole(1, 12):02}-{s.whole(1, 28):02}"')
        self.say(f'unit = "{"in" if self.inch else "mm"}"' if self.inch or s.chance(0.7) else "")
        self.say(f"seed = {s.whole(0, 2**40)}\n")
        self.cup()
        self.films()
        for _ in range(s.pick([0, 1, 1, 2])):
            self.decal()
        if s.chance(0.65):
            self.pinned()
        if s.chance(0.6):
            self.spread()
        if s.chance(0.65) or not any("[[" in line and "film" not in line for line in self.text):
            self.accent()
        if s.chance(0.5):
            self.print()
        if s.chance(0.5):
            self.finish()
        folder.mkdir(parents=True, exist_ok=True)
        (folder / "job.toml").write_text(in_passes("\n".join(self.text) + "\n", self.seed))
        for name, text in self.files.items():
            file = folder / name
            file.parent.mkdir(parents=True, exist_ok=True)
            file.write_text(text)
        return self


def in_passes(text, seed):
    """Of every second job that says its film step, the same with its decals over the sealed pattern, some with a halo."""
    step = '[[finish.step]]\ndo = "film"\n'
    if seed % 2 == 0 or step not in text or "[[decal]]" not in text:
        return text
    named = lambda name: step + f'name = "{name}"\n\n'
    text = text.replace(step, named("pattern") + '[[finish.step]]\ndo = "seal film"\n\n' + named("lettering"), 1)
    halo = f"halo = {seed % 5}\n" if seed % 3 == 0 else ""
    return text.replace("[[decal]]\n", '[[decal]]\npass = "lettering"\n' + halo)


def write(seed, folder):
    return Job(seed).write(Path(folder))


# Faults that are the program's own, whatever the job.
BROKEN = {"verify/promise-broken", "write/read-back-differs", "film/layout-not-kept", "accent/outline-crosses"}


# ---- running -------------------------------------------------------------------------------------------------------


def run(command, seconds, folder=None):
    """(exit code or "timeout", what it said, seconds, memory in MB)."""
    start = time.monotonic()
    child = subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, cwd=folder, env={**os.environ, "NO_COLOR": "1"})
    try:
        said = child.communicate(timeout=seconds)[0].decode("utf-8", "replace")
        code = child.returncode
    except subprocess.TimeoutExpired:
        child.kill()
        said, code = child.communicate()[0].decode("utf-8", "replace"), "timeout"
    return code, said, time.monotonic() - start


def codes_in(said):
    """Codes of faults."""
    return re.findall(r"^fault\[([a-z-]+/[a-z-]+)\]", said, re.M)


def main():
    args = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    args.add_argument("--out", type=Path)
    args.add_argument("--from", dest="first", type=int, default=1)
    args.add_argument("--seed", dest="first", type=int)
    args.add_argument("--count", type=int, default=30)
    args.add_argument("--frusta", type=Path)
    args.add_argument("--make", action="store_true")
    args.add_argument("--seconds", type=float, default=60)
    args.add_argument("--keep", type=Path, help="folders of jobs that broke something are kept here")
    a = args.parse_args()
    seeds = range(a.first, a.first + a.count)
    if a.out:
        for seed in seeds:
            write(seed, a.out / f"{seed:04}")
        print(f"{a.count} jobs written")
    if not a.frusta:
        return
    outcomes, codes, bad, slow = Counter(), Counter(), [], []
    with tempfile.TemporaryDirectory() as tmp:
        for seed in seeds:
            job, kit = Path(tmp) / f"{seed:04}", Path(tmp) / "kit"
            write(seed, job)
            command = [a.frusta.resolve(), "make", job, "--out", kit] if a.make else [a.frusta.resolve(), "check", job]
            code, said, took = run([str(c) for c in command], a.seconds)
            faults = codes_in(said)
            outcomes[f"exit {code}"] += 1
            codes.update(set(faults))
            broken = code not in (0, 1) or "panicked" in said or any(c in BROKEN for c in faults)
            if took > 10:
                slow.append((seed, round(took, 1)))
            if broken:
                bad.append(seed)
                print(f"BROKEN seed {seed}: {code}: {said.strip()[:400]}")
                if a.keep:
                    shutil.copytree(job, a.keep / job.name, dirs_exist_ok=True)
            shutil.rmtree(job)
            shutil.rmtree(kit, ignore_errors=True)
    for what, n in sorted(outcomes.items()):
        print(f"{n:>8}  {what}")
    for what, n in codes.most_common():
        print(f"{n:>8}  refused with {what}")
    print(f"{len(slow):>8}  took longer than 10 s: {slow[:10]}")
    print(f"{len(bad):>8}  broken: {bad[:20]}")
    sys.exit(1 if bad else 0)


if __name__ == "__main__":
    main()
