#!/usr/bin/env python3
"""Ordinary names, many of them, in every font of the program and in every way of lying: none may be refused.

    names_campaign.py PROGRAM [--count 200] [--seed 1] [--self-test]

Names are invented: syllables of several languages with their accents, double names, apostrophes, initials. A list of
them is one job for each font and way of lying; `check --json` says what is wrong. A letter that a font lacks is told as
that and no fault of the program's; any other fault is one. Prints counts; exit 1 on a fault.
"""
import argparse
import json
import random
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from fontTools.ttLib import TTFont

FONTS = {"Kaushan Script": "KaushanScript-Regular.otf", "Source Sans Pro Bold": "SourceSansPro-Bold.otf", "Fredoka One": "FredokaOne-Regular.ttf"}
FACES = Path(__file__).parents[2] / "src/read/letter/fonts"
LIES = ["rigid", "upright", "bent"]
# What is the maker's to decide: the font lacks a letter, or letters look like others.
TOLD = {"order/name-letters", "decal/missing-glyphs", "letter/no-glyph", "order/glyph"}
HEADS = "A Be Ca Do É Fre Ga He I Jo Kla Le Ma No Ø Pe Qui Ro Sa Té U Vi Wi Xa Ya Zo Ś Ö Å Chri Ste Bří Žo Ñu Dž Łu".split()
MIDDLES = "na lí ro be tti ssa lä ñe ço dri gu lle mme ra vé nó ště fia ni bj łę ğu ĝa ța".split()
ENDS = "na l s ra té n ño ö å ne ż ș lie us ia ck tt ff ß ř ő y ij in".split()


def name(r):
    one = lambda: r.choice(HEADS) + "".join(r.choice(MIDDLES) for _ in range(r.choice([0, 0, 1, 1, 2]))) + r.choice(ENDS)
    kind = r.random()
    if kind < 0.62:
        return one()
    if kind < 0.74:
        return f"{one()}-{one()}"
    if kind < 0.84:
        return f"{one()} {r.choice('ABCDEFGHJKLMNPRSTVWZ')}."
    if kind < 0.92:
        return f"{r.choice(['O', 'D', 'L'])}\u2019{one()}"
    return f"{one()} & {one()}"


def job(font, lies, clash=False):
    return f"""title = "Names"
seed = 3
[cup]
rings = [{{ up = 0, girth = 192 }}, {{ up = 118, girth = 241 }}]
wall = 118
[[film]]
name = "white"
sheet = [300, 200]
[[film]]
name = "navy"
sheet = [300, 200]
[order.names]
list = "names.csv"
column = "name"
[[decal]]
row = true
font = "{font}"
fits = [{4 if clash else 90}, {3 if clash else 34}]
up = 60
lies = "{lies}"
mend = true
layers = [{{ film = "white", offset = 1.6, close = 1.6 }}, {{ film = "navy" }}]
"""


def run(program, names, font, lies, clash=False):
    with tempfile.TemporaryDirectory() as d:
        d = Path(d)
        (d / "job.toml").write_text(job(font, lies, clash))
        (d / "names.csv").write_text("name\n" + "".join('"' + n.replace('"', '""') + '"\n' for n in names))
        p = subprocess.run([program, "check", "--json", "--effort", "quick", str(d)], capture_output=True, text=True, timeout=1800)
        if p.returncode not in (0, 1):
            return [("exit", f"{p.returncode}: {p.stderr[-300:]}")]
        out = json.loads(p.stdout)
        return [(x["code"], x["says"]) for x in out["found"] if x["severity"] == "fault"]


def main():
    a = argparse.ArgumentParser()
    a.add_argument("program")
    a.add_argument("--count", type=int, default=200)
    a.add_argument("--seed", type=int, default=1)
    a.add_argument("--self-test", action="store_true")
    a = a.parse_args()
    r = random.Random(a.seed)
    letters = {f: set(TTFont(FACES / file).getBestCmap()) for f, file in FONTS.items()}
    bad = told = rows = 0
    for font in FONTS:
        for lies in LIES:
            # A name with a letter that the font lacks stops the whole list: those are a list of their own.
            names = list(dict.fromkeys(name(r) for _ in range(a.count)))
            whole = [n for n in names if all(ord(c) in letters[font] for c in n)]
            lacking = [n for n in names if n not in whole][:20]
            if lacking:
                said = run(a.program, lacking, font, lies)
                told += len(said)
                if not said or any(f[0] not in TOLD for f in said):
                    bad += 1
                    print("   FAULT letters that the font lacks are not told as that", said[:3])
            names = whole
            start = time.time()
            faults = run(a.program, names, font, lies)
            rows += len(names)
            own = faults
            bad += len(own)
            print(f"{font:>22} {lies:<8} {len(names):4} names, {len(lacking):3} more with letters that the font lacks, {len(own):3} refused, {(time.time() - start) / len(names):.3f} s a name")
            for f in own[:5]:
                print("   FAULT", *f)
    if a.self_test:
        # Names in a window that no name fits.
        found = run(a.program, ["Marigold", "Hollyhock"], "Kaushan Script", "upright", clash=True)
        print(f"self-test: a window too small for any name is {'refused' if found else 'MISSED'}")
        bad += not found
    print(f"{rows} names: {bad} violations, {told} told of letters that a font lacks")
    return bad > 0


if __name__ == "__main__":
    sys.exit(main())
