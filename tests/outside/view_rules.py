#!/usr/bin/env python3
"""Holds the HTML pages of a kit to the rules of others.

    view_rules.py KIT NODE_MODULES     NODE_MODULES holds html-validate and axe-core (npm)

- html-validate, its recommended rules;
- axe-core, all its rules, in Chromium at 1280 and at 320 px: no violation;
- at 320 px nothing but tables in their own sideways regions is wider than the screen, and the numbers of the map's zones
  are at least 9 px high (em); printed from Chromium every page makes a PDF;
- numbers agree: each piece's row on the map page says what the manifest says, and the job sheet names each sheet.
"""
import json
import re
import subprocess
import sys
import tempfile
from pathlib import Path

faults, counts = [], {}


def hold(ok, says):
    if not ok:
        faults.append(says)
    return ok


def count(what, n=1):
    counts[what] = counts.get(what, 0) + n


AXE = """
(async () => {
  await new Promise(r => setTimeout(r, 600));
  const r = await axe.run(document, { resultTypes: ["violations"] });
  const wide = [...document.querySelectorAll("body *")].filter(e => !e.closest(".wide") && !e.closest("svg") && e.getBoundingClientRect().right > innerWidth + 1).map(e => e.tagName + "." + e.className);
  const small = [...document.querySelectorAll(".zone svg:not(.key) text[font-weight=bold]")].map(t => parseFloat(t.getAttribute("font-size")) * t.getScreenCTM().a);
  const pre = document.createElement("pre"); pre.id = "axe-out";
  pre.textContent = JSON.stringify({ passes: r.passes.length, v: r.violations.map(v => [v.id, v.help, v.nodes.slice(0, 3).map(n => n.html.slice(0, 160))]), wide: [...new Set(wide)].slice(0, 5), width: innerWidth, small: small.length ? Math.min(...small) : null });
  document.body.append(pre);
})();
"""


def axe(page, source, width):
    with tempfile.TemporaryDirectory() as folder:
        at, frame = Path(folder) / "page.html", Path(folder) / "frame.html"
        text = page.read_text()
        text = re.sub(r'<meta http-equiv="Content-Security-Policy"[^>]*>', "", text)
        at.write_text(text.replace("</body>", "<script>" + source + "</script><script>" + AXE + "</script></body>"))
        # A window of Chromium's cannot be narrower than 500 px: the page is put in a frame of the width wanted.
        frame.write_text(
            f"<!doctype html><title>frame</title><iframe id=f style='width:{width}px;height:2000px;border:0' src='page.html'></iframe>"
            "<script>const w=setInterval(()=>{const d=document.getElementById('f').contentDocument; const o=d&&d.getElementById('axe-out');"
            "if(o){clearInterval(w);const p=document.createElement('pre');p.id='out';p.textContent=o.textContent;document.body.append(p);}},100)</script>"
        )
        run = subprocess.run(
            ["chromium", "--headless", "--no-sandbox", "--allow-file-access-from-files", f"--user-data-dir={folder}/profile", "--window-size=1400,2200",
             "--virtual-time-budget=60000", "--use-angle=swiftshader", "--enable-unsafe-swiftshader", "--dump-dom", frame.as_uri()],
            capture_output=True, text=True, timeout=300,
        )
    m = re.search(r'<pre id="out">(.*?)</pre>', run.stdout, re.S)
    if not m:
        return None
    return json.loads(m[1].replace("&lt;", "<").replace("&gt;", ">").replace("&amp;", "&"))


def main():
    kit, modules = Path(sys.argv[1]), Path(sys.argv[2])
    source = (modules / "axe-core" / "axe.min.js").read_text()
    manifest = json.loads((kit / "manifest.json").read_text())
    pages = sorted(kit.rglob("*.html"))
    hold(len(pages) >= 3, f"only {len(pages)} pages")
    for page in pages:
        name = page.relative_to(kit).as_posix()
        with tempfile.TemporaryDirectory() as folder:
            # Pictures do not matter to the validator, and slow it down.
            slim = Path(folder) / page.name
            slim.write_text(re.sub(r"base64,[A-Za-z0-9+/=]{200,}", "base64,AAAA", page.read_text()))
            (Path(folder) / ".htmlvalidate.json").write_text('{"root": true, "extends": ["html-validate:recommended"], "rules": {"long-title": "off"}}')
            run = subprocess.run([modules / ".bin" / "html-validate", str(slim)], capture_output=True, text=True)
            hold(run.returncode == 0, f"{name}: html-validate: {run.stdout[:1500]}{run.stderr[:300]}")
            count("pages held to html-validate")
            made = Path(folder) / "print.pdf"
            subprocess.run(["chromium", "--headless", "--no-sandbox", f"--user-data-dir={folder}/profile", f"--print-to-pdf={made}", "--no-pdf-header-footer", page.as_uri()], capture_output=True, timeout=240)
            if hold(made.exists(), f"{name}: Chromium prints no PDF"):
                n = int(re.search(r"Pages:\s+(\d+)", subprocess.run(["pdfinfo", str(made)], capture_output=True, text=True).stdout)[1])
                counts[f"{name}: pages when printed from the browser"] = n
        for width in (1280, 320):
            r = axe(page, source, width)
            if not hold(r is not None, f"{name}: axe-core gave no answer at {width} px"):
                continue
            hold(r["width"] == width, f"{name}: measured at {r['width']} px, not {width}")
            hold(not r["v"], f"{name} at {width} px: axe-core: {r['v']}")
            hold(not r["wide"], f"{name} at {width} px: wider than the screen: {r['wide']}")
            count("runs of axe-core without violation", not r["v"])
            if r["small"] is not None and width == 320:
                counts[f"{name}: smallest number at 320 px, px"] = round(r["small"], 1)
                hold(r["small"] >= 9.0, f"{name}: a number is {r['small']:.1f} px at 320 px")
    text = (kit / "map" / "map.html").read_text()
    rows = re.findall(r'<tr><th scope="row" class="n">(\d+)</th><td>([A-Z]+)</td><td>([^<]*)</td><td>([^<]*)</td><td class="n">([\d.]+)</td><td class="n">[^<]*</td><td class="n">([RL]? ?[\d.]+)</td>', text)
    by = {int(r[0]): r for r in rows}
    letters = {f["name"]: f["letter"] for f in manifest["films"]}
    hold(len(rows) == len(by) == len(manifest["pieces"]), f"map.html has {len(rows)} rows for {len(manifest['pieces'])} pieces")
    for p in manifest["pieces"]:
        r = by.get(p["number"])
        if r is None:
            continue
        side = -1 if r[5].startswith("L") else 1
        ok = (r[1] == letters[p["film"]] and r[3] == p["sheet"] and abs(float(r[4]) - p["up_mm"]) < 0.051
              and abs(side * float(r[5].lstrip("RL ")) - p["round_mm"]) < 0.051)
        hold(ok, f"piece {p['number']}: the map page says {r}, the manifest otherwise")
        count("rows that agree with the manifest")
    sheet = (kit / "job-sheet.html").read_text()
    for s in manifest["sheets"]:
        hold(s["file"] in sheet and s["name"] in sheet, f"the job sheet does not name {s['file']}")
    hold(str(manifest["seed"]) in sheet, "the job sheet does not name the seed")
    for what, n in counts.items():
        print(f"{n:>12}  {what}")
    for f in faults[:40]:
        print("VIOLATED", f)
    print(f"{len(faults)} violations")
    sys.exit(1 if faults else 0)


if __name__ == "__main__":
    main()
