#!/usr/bin/env python3
"""Holds the HTML pages of a kit to the rules of others.

    view_rules.py KIT NODE_MODULES [--shots FOLDER]   NODE_MODULES: html-validate, axe-core, puppeteer-core (npm)
    view_rules.py KIT NODE_MODULES --self-test        damages copies of pages: every damage must be found

- html-validate, its recommended rules;
- axe-core, all its rules, in Chromium at 1280 and at 320 px: no violation;
- no page asks the network or makes an error;
- at 320 px nothing but tables in their own sideways regions is wider than the screen, and the numbers of the map's zones
  are at least 9 px high (em); printed from Chromium every page makes a PDF, of less than 8 MB in less than 20 s;
- numbers agree piece by piece: map page, map picture (SVG), sheets (cut files) and manifest say the same; the job sheet
  names each sheet and the seed and carries the job file.
"""
import argparse
import html
import json
import re
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path
from xml.etree import ElementTree

from found import Found

HERE = Path(__file__).parent
WIDTHS = (1280, 320)


def browser(modules, tasks):
    run = subprocess.run(["node", HERE / "browser.cjs", modules], input=json.dumps(tasks), capture_output=True, text=True, timeout=400)
    if run.returncode:
        sys.exit(f"the browser gave no answer: {run.stderr[:2000]}")
    return json.loads(run.stdout)


def validate(found, modules, pages):
    """All pages in one run; pictures do not matter to the validator, and slow it down."""
    with tempfile.TemporaryDirectory() as folder:
        slim = []
        for i, (name, page) in enumerate(pages):
            slim.append(Path(folder) / f"{i}.html")
            slim[-1].write_text(re.sub(r"base64,[A-Za-z0-9+/=]{200,}", "base64,AAAA", page.read_text()))
        (Path(folder) / ".htmlvalidate.json").write_text('{"root": true, "extends": ["html-validate:recommended"], "rules": {"long-title": "off"}}')
        # Into a file: through a pipe its answer is cut off where it is long.
        answer = Path(folder) / "answer.json"
        with answer.open("w") as out:
            run = subprocess.run([Path(modules) / ".bin" / "html-validate", "--formatter", "json", *map(str, slim)], stdout=out, stderr=subprocess.PIPE, text=True)
        try:
            said = {Path(r["filePath"]).name: r["messages"] for r in json.loads(answer.read_text() or "[]")}
        except (json.JSONDecodeError, KeyError):
            return found.hold(False, f"html-validate: {answer.read_text()[:500]}{run.stderr[:500]}")
        found.hold(run.returncode in (0, 1), f"html-validate did not run: {run.stderr[:500]}")
        for (name, _), s in zip(pages, slim):
            messages = said.get(s.name, [])
            short = [f"{m['ruleId']} line {m['line']}: {m['message']}" for m in messages[:6]]
            found.hold(not messages, f"{name}: html-validate: {short}")
            found.count("pages held to html-validate")
        found.hold((run.returncode == 0) == (not any(said.values())), "html-validate's exit and words differ")


def pages_held(found, modules, pages, shots=None):
    validate(found, modules, pages)
    with tempfile.TemporaryDirectory() as folder:
        tasks = []
        for i, (name, page) in enumerate(pages):
            shot = str(shots / name.replace("/", "-").removesuffix(".html")) if shots else None
            tasks += [{"do": "rules", "page": str(page), "widths": WIDTHS, "shot": shot}, {"do": "print", "page": str(page), "to": f"{folder}/{i}.pdf"}]
        answers = browser(modules, tasks)
        for i, (name, page) in enumerate(pages):
            rules, printed = answers[2 * i], answers[2 * i + 1]
            if found.hold("error" not in printed, f"{name}: Chromium prints no PDF: {printed}"):
                pdf = Path(f"{folder}/{i}.pdf")
                n = int(re.search(r"Pages:\s+(\d+)", subprocess.run(["pdfinfo", str(pdf)], capture_output=True, text=True).stdout)[1])
                found.counts[f"{name}: pages when printed from the browser ({pdf.stat().st_size / 1e6:.1f} MB, {printed['ms'] / 1e3:.1f} s)"] = n
                found.hold(pdf.stat().st_size < 8e6, f"{name}: printed it takes {pdf.stat().st_size / 1e6:.0f} MB")
                found.hold(printed["ms"] < 20000, f"{name}: printing takes {printed['ms']} ms")
            if not found.hold(isinstance(rules, list), f"{name}: axe-core gave no answer: {rules}"):
                continue
            for width, r in zip(WIDTHS, rules):
                found.hold(r["width"] == width, f"{name}: measured at {r['width']} px, not {width}")
                found.hold(not r["v"], f"{name} at {width} px: axe-core: {r['v']}")
                found.hold(r["passes"] >= 8, f"{name} at {width} px: axe-core passed only {r['passes']} rules")
                found.hold(not r["wide"] and r["scroll"] <= width + 1, f"{name} at {width} px: wider than the screen: {r['wide']} {r['scroll']}")
                found.hold(not r["asked"], f"{name}: asks the network: {r['asked'][:3]}")
                found.hold(not r["said"], f"{name}: errors: {r['said'][:3]}")
                found.count("runs of axe-core without violation", not r["v"])
                if r["small"] is not None and width == 320:
                    found.counts[f"{name}: smallest number at 320 px, px"] = round(r["small"], 1)
                    found.hold(r["small"] >= 9.0, f"{name}: a number is {r['small']:.1f} px at 320 px")




def numbers_agree(found, kit):
    manifest = json.loads((kit / "manifest.json").read_text())
    pieces = {p["number"]: p for p in manifest["pieces"]}
    letters = {f["name"]: f["letter"] for f in manifest["films"]}
    text = (kit / "map" / "map.html").read_text()
    rows = re.findall(r'<tr><th scope="row" class="n">(\d+)</th><td>([A-Z]+)</td><td>([^<]*)</td><td>([^<]*)</td><td class="n">([\d.]+)</td><td class="n">[^<]*</td><td class="n">([RL]? ?[\d.]+)</td>', text)
    by = {int(r[0]): r for r in rows}
    on_wall = {n for n, p in pieces.items() if p["kind"]["is"] != "base"}
    found.hold(len(rows) == len(by) and set(by) == on_wall, f"map.html has {len(rows)} rows for {len(on_wall)} pieces")
    labels = sorted(int(n) for n in re.findall(r'font-weight="bold"[^>]*>(\d+)</text>', text))
    found.hold(labels == sorted(on_wall), f"the map page's pictures show {len(labels)} numbers for {len(on_wall)} pieces")
    for n in on_wall:
        p, r = pieces[n], by.get(n)
        if r is None:
            continue
        side = -1 if r[5].startswith("L") else 1
        ok = (r[1] == letters[p["film"]] and html.unescape(r[2]) == p["name"] and r[3] == p["sheet"] and abs(float(r[4]) - p["up_mm"]) < 0.051
              and abs(side * float(r[5].lstrip("RL ")) - p["round_mm"]) < 0.051)
        found.hold(ok, f"piece {n}: the map page says {r}, the manifest otherwise")
        found.count("rows of the map page that agree with the manifest", ok)
    svg = ElementTree.parse(kit / "map" / "map.svg").getroot()
    ids = {e.get("id") for e in svg.iter() if e.get("id")}
    drawn = {int(i[1:]) for i in ids if re.fullmatch(r"m\d+", i)}
    found.hold(drawn == on_wall, f"map.svg draws {len(drawn)} pieces, not {len(on_wall)}")
    table = [e.text for g in svg.iter() if g.get("id") == "table" for e in g.iter() if e.tag.endswith("text")]
    tabled = {}
    for k, t in enumerate(table):
        if re.fullmatch(r"\d+", t or "") and k + 3 < len(table) and table[k + 1] in letters.values() and re.fullmatch(r"[\w-]+-\d+|\u2013", table[k + 2] or ""):
            tabled[int(t)] = table[k + 1:k + 8]
    for n, p in pieces.items():
        t = tabled.get(n)
        ok = t is not None and t[0] == letters[p["film"]] and t[1] == (p["sheet"] or "\u2013")
        if ok and n in on_wall:
            side = -1 if t[4].startswith("L") else 1
            ok = abs(float(t[2]) - p["up_mm"]) < 0.051 and abs(side * float(t[4].lstrip("RL ")) - p["round_mm"]) < 0.051
        found.hold(ok, f"piece {n}: the table of map.svg says {t}")
        found.count("rows of the map's table that agree with the manifest", ok)
    cut_from = {}
    for s in manifest["sheets"]:
        root = ElementTree.parse(kit / s["file"]).getroot()
        for e in root.iter():
            m = re.fullmatch(r"p(\d+)(?:-.*)?", e.get("id") or "")
            if m:
                cut_from.setdefault(int(m[1]), set()).add(s["name"])
    for n, p in pieces.items():
        ok = cut_from.get(n) == {p["sheet"]}
        found.hold(ok, f"piece {n}: cut from {cut_from.get(n)}, the manifest says {p['sheet']}")
        found.count("pieces that are on the sheet that the manifest names", ok)
    sheet = html.unescape((kit / "job-sheet.html").read_text())
    for s in manifest["sheets"]:
        found.hold(s["file"] in sheet and s["name"] in sheet, f"the job sheet does not name {s['file']}")
    found.hold(f"Seed {manifest['seed']}" in sheet, "the job sheet does not name the seed")
    file = re.search(r"<pre><code>(.*?)</code></pre>", (kit / "job-sheet.html").read_text(), re.S)
    if found.hold(file is not None, "the job sheet does not carry the job file"):
        import tomllib
        job = tomllib.loads(html.unescape(file[1]))
        found.hold(job.get("title") == manifest["title"] and job.get("seed", manifest["seed"]) == manifest["seed"], "the job file on the job sheet is another")
        found.hold([f["name"] for f in job.get("film", [])] == [f["name"] for f in manifest["films"]], "the job file on the job sheet has other films")
        found.count("job files carried by the job sheet")
    checks = len(re.findall(r'<input type="checkbox"', sheet))
    found.hold(checks >= len(manifest["sheets"]) + 4, f"the job sheet has {checks} boxes to tick")


DAMAGES = [
    ("a picture without words", "job-sheet.html", lambda t: re.sub(r' alt="[^"]*"', "", t, count=1)),
    ("an id given twice", "map/map.html", lambda t: t.replace("<main>", '<main><p id="x">a</p><p id="x">b</p>', 1)),
    ("grey words on white", "finish/maker-sheet.html", lambda t: t.replace("<main>", '<main><p style="color:#bbb;background:#fff">hard to read</p>', 1)),
    ("no language", "job-sheet.html", lambda t: t.replace('<html lang="en">', "<html>", 1)),
    ("a box without label", "job-sheet.html", lambda t: t.replace("<main>", '<main><input type="checkbox">', 1)),
    ("wider than the screen", "finish/quote.html", lambda t: t.replace("<main>", '<main><div style="width:700px">wide</div>', 1)),
    ("asks the network", "view/turn.html", lambda t: t.replace("<main>", '<main><img alt="" src="http://localhost:9/a.png">', 1)),
    ("numbers too small", "map/map.html", lambda t: re.sub(r'(<text [^>]*font-size=")[\d.]+(" font-weight="bold")', r"\g<1>0.7\2", t)),
    ("an error of script", "view/turn.html", lambda t: t.replace('"use strict";', '"use strict"; setTimeout(() => { throw new Error("x"); }, 1);', 1)),
]
NUMBERS = [
    ("a row with another height", "map/map.html", lambda t: re.sub(r'(<tr><th scope="row" class="n">3</th>(?:<td>[^<]*</td>){3}<td class="n">)([\d.]+)', lambda m: m[1] + str(float(m[2]) + 1), t)),
    ("a number gone from the map page's picture", "map/map.html", lambda t: re.sub(r'<text [^>]*font-weight="bold"[^>]*>2</text>', "", t)),
    ("a piece gone from the map's picture", "map/map.svg", lambda t: t.replace('id="m4"', 'id="mm4"')),
    ("a number gone from a sheet", None, lambda t: t.replace('id="p5"', 'id="q5"').replace('id="p5-', 'id="q5-')),
    ("another seed on the job sheet", "job-sheet.html", lambda t: re.sub(r"Seed \d+", "Seed 3", t)),
    ("no job file on the job sheet", "job-sheet.html", lambda t: t.replace("<pre><code>", "<pre>")),
    ("a row gone from the map's table", "map/map.svg", lambda t: re.sub(r"(<text[^>]*>\s*)7(\s*</text>)", r"\g<1>7007\2", t)),
]


def self_test(kit, modules):
    missed = []
    with tempfile.TemporaryDirectory() as folder:
        folder = Path(folder)
        pages = []
        for i, (what, file, damage) in enumerate(DAMAGES):
            text = (kit / file).read_text()
            bad = damage(text)
            if bad == text:
                missed.append(f"{what}: the damage does nothing")
            pages.append((what, folder / f"{i}.html"))
            pages[-1][1].write_text(bad)
        found = Found()
        pages_held(found, modules, pages)
        for what, _ in pages:
            own = [f for f in found.faults if f.startswith(what)]
            print(f"{'found' if own else 'MISSED':>12}  {what}: {own[0][len(what):140] if own else ''}")
            missed += [] if own else [what]
        for what, file, damage in NUMBERS:
            bad = folder / "kit"
            shutil.rmtree(bad, ignore_errors=True)
            shutil.copytree(kit, bad)
            changed = False
            for f in [bad / file] if file else sorted((bad / "cut").glob("*.svg")):
                text = f.read_text()
                changed |= damage(text) != text
                f.write_text(damage(text))
            if not changed:
                missed.append(f"{what}: the damage does nothing")
            found = Found()
            numbers_agree(found, bad)
            print(f"{'found' if found.faults else 'MISSED':>12}  {what}: {found.faults[0][:120] if found.faults else ''}")
            missed += [] if found.faults else [what]
        found = Found()
        numbers_agree(found, kit)
        missed += [f"blames a sound kit: {found.faults[:2]}"] if found.faults else []
    print(f"{len(missed)} damages missed {missed}")
    sys.exit(1 if missed else 0)


def main():
    args = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    args.add_argument("kit", type=Path)
    args.add_argument("modules", type=Path)
    args.add_argument("--shots", type=Path)
    args.add_argument("--self-test", action="store_true")
    a = args.parse_args()
    if a.self_test:
        self_test(a.kit, a.modules)
    found = Found()
    numbers_agree(found, a.kit)
    pages = [(p.relative_to(a.kit).as_posix(), p) for p in sorted(a.kit.rglob("*.html"))]
    found.hold(len(pages) >= 3, f"only {len(pages)} pages")
    if a.shots:
        a.shots.mkdir(parents=True, exist_ok=True)
    pages_held(found, a.modules, pages, a.shots)
    for what, n in found.counts.items():
        print(f"{n:>12}  {what}")
    for f in found.faults[:40]:
        print("VIOLATED", f)
    print(f"{len(found.faults)} violations")
    sys.exit(1 if found.faults else 0)


if __name__ == "__main__":
    main()
