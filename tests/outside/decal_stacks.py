#!/usr/bin/env python3
"""Random stacks of decal layers run through the program, and what they are refused with.

    decal_stacks.py FRUSTA --seed S --count N [--per 1] [--keep DIR]     exit 1 on any refusal that is no want of room

Fonts of the program, words with accents, drawings of the generator's own and of the demonstration; rigid, upright,
bent; corners round and mitred; gaps closed; layers hollowed under the one above. Each decal stands alone on a large
cup, so that nothing is refused for want of room: every promise about its layers has to be kept. A stack that breaks
one is made smaller (layers, letters, keys taken away while the same code comes) and kept with its numbers.
"""
import argparse
import json
import math
import shutil
import sys
import tempfile
from collections import Counter
from pathlib import Path

import random_jobs
from random_jobs import FONTS, WORDS, Stream, drawing, sheet_of

# A refusal that is the maker's to mend, not the program's: a word that does not fit, a letter that the font lacks.
HERS = {
    "decal/over-band", "decal/over-seam", "decal/window-too-small", "letter/no-glyph",
    "film/piece-too-large",
}
ACCENTED = ["É", "ü", "ñ", "Çà", "fi ffl", "Ågås", "ÄÖÜ", "œuvre", "ž", "Łódź", "İ", "ß", "&", "?!", "1/2", "@", "W", "i", "oo", "88", "—", "„Ja“"]


class Stack:
    """One decal as a dict of its keys, so that it can be made smaller."""

    def __init__(self, seed):
        s = self.s = Stream(seed ^ 0x57AC)
        self.files = {}
        lean = s.pick([0, s.between(1, 10), s.between(1, 10), s.between(-10, 0), s.between(10, 28)])
        self.wall, base = s.between(120, 245), s.between(70, 130)
        if lean < 0:
            base += 2 * self.wall * math.sin(math.radians(-lean))
        rim = base + 2 * self.wall * math.sin(math.radians(lean))
        self.girths = math.pi * base, math.pi * rim
        self.volume = math.pi * self.wall * math.cos(math.radians(lean)) * (base * base + base * rim + rim * rim) / 12000
        self.weed = s.pick([0.8, 0.8, s.between(0.1, 1.2)])
        self.layers = []
        n = s.pick([1, 2, 2, 3, 3, 4, 5])
        for i in range(n - 1):
            layer = {"film": s.pick("ab"), "offset": round(s.pick([s.between(0.1, 3), s.between(0.3, 1.6), s.between(0, 6), 0.0 if s.chance(0.1) else 1.0]), 2)}
            if s.chance(0.35):
                layer["close"] = round(s.pick([0.0, s.between(0, 4)]), 2)
            if s.chance(0.25):
                layer["join"] = "mitred"
                if s.chance(0.4):
                    layer["mitre-limit"] = round(s.between(1, 6), 1)
            if s.chance(0.25):
                layer["overlap"] = round(s.between(0.3, 3), 2)
            self.layers.append(layer)
        top = {"film": s.pick("ab")}
        if s.chance(0.15):
            top["offset"] = round(s.between(0.1, 2), 2)
            if s.chance(0.3):
                top["join"] = "mitred"
        self.keys = {}
        if s.chance(0.7):
            text = s.pick([s.pick(WORDS), s.pick(WORDS), s.pick(ACCENTED)])
            self.keys["text"] = [text] if s.chance(0.8) else [text, s.pick(WORDS)]
            self.keys["font"] = s.pick(FONTS)
            self.keys["lies"] = s.pick(["rigid", "upright", "bent"])
            if s.chance(0.15):
                self.keys["letter-spacing"] = round(s.between(-0.1, 0.3), 2)
            if s.chance(0.1):
                top["films"], top["split"] = ["a", "b"], s.pick(["line", "word", "letter"])
                del top["film"]
            most = 0.4 * min(self.girths)
            self.keys["fits"] = [round(s.between(12, most), 1), round(s.between(8, self.wall - 60), 1)]
        else:
            self.keys["lies"] = s.pick(["rigid", "bent"])
            if s.chance(0.6):
                w, h = s.between(10, 60), s.between(10, 60)
                self.files["art/own.svg"] = sheet_of(drawing(s, w, h)[0], w, h, s)
                self.keys["art"] = "art/own.svg"
            else:
                f = s.pick(sorted(f for d in random_jobs.DEMO for f in d.glob("*.svg")))
                self.files[f"art/{f.name}"] = f.read_text()
                self.keys["art"] = f"art/{f.name}"
            self.keys["fits"] = [round(s.between(12, 0.4 * min(self.girths)), 1), round(s.between(12, self.wall - 60), 1)]
        self.layers.append(top)
        if s.chance(0.8):
            self.keys["mend"] = True
        if s.chance(0.2):
            self.keys["keys"] = s.pick([False, round(s.between(2, 8), 1)])
        if s.chance(0.15):
            self.keys["method"] = "stacked-flat"
        self.keys["up"] = "centred"
        if s.chance(0.3):
            self.keys["azimuth"] = s.whole(-60, 60)

    def text(self):
        lines = [
            'title = "stack"', "[cup]",
            f"rings = [{{ up = 0, girth = {self.girths[0]:.2f} }}, {{ up = {self.wall:.2f}, girth = {self.girths[1]:.2f} }}]",
            f"wall = {self.wall:.2f}",
        ]
        if 60 < self.volume < 7000:
            lines.append(f'capacity = "{self.volume / 1.3:.0f} ml"')
        for film in "ab":
            lines += ["[[film]]", f'name = "{film}"', "sheet = [900, 600]", f"weed = {self.weed:.3f}"]
        lines.append("[[decal]]")
        for key, value in self.keys.items():
            lines.append(f"{key} = {json.dumps(value, ensure_ascii=False)}")
        word = lambda v: json.dumps(v, ensure_ascii=False)
        lines.append("layers = [" + ", ".join("{ " + ", ".join(f"{k} = {word(v)}" for k, v in layer.items()) + " }" for layer in self.layers) + "]")
        return "\n".join(lines) + "\n"

    def write(self, folder):
        for name, text in {"job.toml": self.text(), **self.files}.items():
            file = folder / name
            file.parent.mkdir(parents=True, exist_ok=True)
            file.write_text(text)


def outcome(frusta, stack, seconds):
    """What came of it: "made", the codes of its faults, or what went wrong."""
    with tempfile.TemporaryDirectory() as tmp:
        job = Path(tmp)
        stack.write(job)
        code, said, took = random_jobs.run([frusta, "check", "--json", str(job)], seconds)
    if code == 0:
        return "made", "", took
    if code != 1:
        return f"exit {code}", said[-300:], took
    faults = [f for f in json.loads(said[said.index("{"):])["found"] if f["severity"] == "fault"]
    first = faults[0]
    return " ".join(sorted({f["code"] for f in faults})), f"{first.get('says')} {first.get('measured')} {first.get('allowed')}", took


def smaller(frusta, stack, want, seconds):
    """Takes away what can go while the same comes of it."""
    import copy

    def variants(st):
        for i in range(len(st.layers) - 1):
            v = copy.deepcopy(st)
            del v.layers[i]
            yield v
        for i, layer in enumerate(st.layers):
            for key in layer:
                if key not in ("film", "films", "offset") and not (key == "split" or (key == "join" and "mitre-limit" in layer)):
                    v = copy.deepcopy(st)
                    del v.layers[i][key]
                    yield v
        for key in list(st.keys):
            if key not in ("text", "art", "fits", "up", "font"):
                v = copy.deepcopy(st)
                del v.keys[key]
                yield v
        text = st.keys.get("text", [])
        if len(text) > 1:
            for i in range(len(text)):
                v = copy.deepcopy(st)
                v.keys["text"] = [text[i]]
                yield v
        elif text and len(text[0]) > 1:
            half = len(text[0]) // 2
            for part in (text[0][:half].strip(), text[0][half:].strip(), text[0][1:].strip(), text[0][:-1].strip()):
                if part:
                    v = copy.deepcopy(st)
                    v.keys["text"] = [part]
                    yield v

    tries, again = 0, True
    while again and tries < 60:
        again = False
        for v in variants(stack):
            tries += 1
            if outcome(frusta, v, seconds)[0] == want:
                stack, again = v, True
                break
            if tries >= 60:
                break
    return stack


def main():
    args = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    args.add_argument("frusta", type=Path)
    args.add_argument("--seed", type=int, default=1)
    args.add_argument("--count", type=int, default=40)
    args.add_argument("--seconds", type=float, default=30)
    args.add_argument("--keep", type=Path)
    a = args.parse_args()
    frusta = str(a.frusta.resolve())
    outcomes, kept, bad, slow = Counter(), Counter(), 0, 0.0
    for seed in range(a.seed, a.seed + a.count):
        stack = Stack(seed)
        what, says, took = outcome(frusta, stack, a.seconds)
        outcomes[what] += 1
        slow = max(slow, took)
        if what == "made" or set(what.split()) <= HERS:
            continue
        bad += 1
        kept[what] += 1
        if kept[what] <= 3:
            print(f"REFUSED seed {seed} with {what}: {says}", flush=True)
            if a.keep:
                folder = a.keep / f"stack-{what.split()[0].replace('/', '-').replace(' ', '-')}-{kept[what]}"
                shutil.rmtree(folder, ignore_errors=True)
                smaller(frusta, stack, what, a.seconds).write(folder)
    for what, n in outcomes.most_common():
        print(f"{n:>8}  {what}")
    print(f"{slow:>8.1f}  s for the slowest")
    print(f"{bad} of {a.count} stacks are refused for no want of room")
    sys.exit(1 if bad else 0)


if __name__ == "__main__":
    main()
