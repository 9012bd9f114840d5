#!/usr/bin/env python3
"""Holds the pictures of the cup to projection.

    view_marks.py FRUSTA --modules NODE_MODULES | --no-browser     FRUSTA: the program
    view_marks.py FRUSTA --self-test                               damaged pictures must be found

A job with round marks at known azimuths and heights is made; in each of the five views (PNG) and on the turning page in
Chromium (WebGL 2, the same five ways round) every mark's blob must lie within one pixel of where central projection puts
the mark. The camera's numbers come from the manifest, the formula (any textbook of computer graphics) is written here
anew; the blob's middle is the centroid of the projected outline. Then: rim and base are the ellipses of their circles, a
mark on the seam shows no line, and without WebGL the page shows its pictures.

The page's triangles are unpacked here anew (zlib; a stack machine of two moves, as its script says) and held to shapely:
each piece covers its own disc, once; four times closer every mark is as sharp as a mask of its projected outline.
"""
import argparse
import base64
import io
import json
import math
import re
import subprocess
import sys
import tempfile
import zlib
from pathlib import Path

import numpy as np
from PIL import Image, ImageDraw
from scipy import ndimage
from shapely import Polygon, union_all

faults, counts = [], {}
R1, R0, SLANT = 270.0 / math.tau, 207.0 / math.tau, 165.0
HEIGHT = math.sqrt(SLANT**2 - (R1 - R0) ** 2)
MARK = 2.5
AT = [(a, u) for i, u in enumerate((22, 50, 78, 106, 134)) for a in range(-180 + 9 * i, 180, 45)]
JOB = f"""title = "Marks"
[cup]
rings = [{{ up = 0, girth = 207 }}, {{ up = 165, girth = 270 }}]
wall = 165
[[film]]
name = "red"
colour = "#e00000"
sheen = "matt"
sheet = [300, 200]
[[motif]]
art = "dot.svg"
width = {2 * MARK}
clearance = 1
poses = [{", ".join(f"{{ azimuth = {a}, up = {u} }}" for a, u in AT)}]
[print]
papers = ["a4"]
"""
DOT = '<svg xmlns="http://www.w3.org/2000/svg" width="10mm" height="10mm" viewBox="0 0 10 10"><circle cx="5" cy="5" r="5"/></svg>'


def hold(ok, says):
    if not ok:
        faults.append(says)
    return ok


def count(what, n=1):
    counts[what] = counts.get(what, 0) + n


def pixel(cam, azimuth_deg, up):
    """Central projection of a wall point."""
    a = math.radians(azimuth_deg - cam["azimuth_deg"])
    e, d, s = math.radians(cam["elevation_deg"]), cam["distance_mm"], cam["scale_px_per_mm"]
    r, y = R0 + (R1 - R0) * up / SLANT, up * HEIGHT / SLANT - HEIGHT / 2
    w = y * math.sin(e) + r * math.cos(a) * math.cos(e)
    v = y * math.cos(e) - r * math.cos(a) * math.sin(e)
    return cam["centre_x_px"] + s * d * r * math.sin(a) / (d - w), cam["centre_y_px"] - s * d * v / (d - w)


def outline(cam, azimuth, up):
    """The projected outline of a mark: laid flat on the wall, then seen."""
    pts = []
    for i in range(180):
        t = math.tau * i / 180
        v = up + MARK * math.sin(t)
        pts.append(pixel(cam, azimuth + math.degrees(MARK * math.cos(t) / (R0 + (R1 - R0) * v / SLANT)), v))
    return np.array(pts)


def centroid(cam, azimuth, up):
    p = outline(cam, azimuth, up)
    q = np.roll(p, -1, 0)
    cross = p[:, 0] * q[:, 1] - q[:, 0] * p[:, 1]
    area = cross.sum() / 2
    return ((p + q) * cross[:, None]).sum(0) / 6 / area


def redness(rgba):
    p = rgba.astype(float)
    return np.clip((p[..., 0] - p[..., 1]) / np.maximum(p[..., 0], 40), 0, 1) * p[..., 3] / 255


def blobs(rgba):
    """Middles of red blobs, weighted by how red they are."""
    red = redness(rgba)
    labels, n = ndimage.label(red > 0.25)
    grown = ndimage.grey_dilation(labels, size=3)
    mids = ndimage.center_of_mass(red, grown, range(1, n + 1))
    return [(x + 0.5, y + 0.5) for y, x in mids]


def check(name, rgba, cam):
    found = blobs(rgba)
    worst, seen = 0.0, 0
    for a, up in AT:
        around = (a - cam["azimuth_deg"] + 180) % 360 - 180
        if abs(around) > 62:
            continue
        want = centroid(cam, a, up)
        off = min((math.dist(want, f) for f in found), default=1e9)
        worst = max(worst, off)
        seen += 1
        hold(off <= 1.0, f"{name}: the mark at {a} degrees, {up} up is {off:.2f} px from its place")
    hold(seen >= 12, f"{name}: only {seen} marks looked for")
    count("marks found in place", seen)
    counts[f"{name}: farthest mark, px"] = round(worst, 3)


CLOSER = 4


def closely(views):
    """Cameras of the page that look at a mark each, four times closer; and how the page is asked for them."""
    out = []
    for i, (a, up) in enumerate(AT[::3]):
        v = views[-1] if i % 2 else views[0]
        cam = {**v, "azimuth_deg": a + 7 * (i % 5 - 2)}
        w, h = cam["width_px"], cam["height_px"]
        along = 0.5 - pixel(cam, a, up)[1] / h
        out.append(([cam["azimuth_deg"], cam["elevation_deg"], CLOSER, along], {
            **cam, "scale_px_per_mm": cam["scale_px_per_mm"] * CLOSER, "centre_x_px": w / 2 + (cam["centre_x_px"] - w / 2) * CLOSER,
            "centre_y_px": h / 2 + (cam["centre_y_px"] - h / 2 + along * h) * CLOSER}))
    return out


# Nine dots a pixel tell its film to a ninth, and colours mix nearly evenly; a picture blown up is past 1.
SHARP = 0.2


def sharp(name, rgba, cam):
    """Each mark that is whole in the picture against a mask of its projected outline, sixteen dots a pixel each way."""
    red, fine, seen, worst = redness(rgba), 16, 0, 0.0
    for a, up in AT:
        if abs((a - cam["azimuth_deg"] + 180) % 360 - 180) > 50:
            continue
        p = outline(cam, a, up)
        (x0, y0), (x1, y1) = np.floor(p.min(0)).astype(int) - 3, np.ceil(p.max(0)).astype(int) + 3
        if x0 < 0 or y0 < 0 or x1 > red.shape[1] or y1 > red.shape[0]:
            continue
        mask = Image.new("L", ((x1 - x0) * fine, (y1 - y0) * fine))
        ImageDraw.Draw(mask).polygon([tuple((q - (x0, y0)) * fine - 0.5) for q in p], fill=255)
        want = np.array(mask).reshape(y1 - y0, fine, x1 - x0, fine).mean((1, 3)) / 255
        got = red[y0:y1, x0:x1]
        length = np.linalg.norm(p - np.roll(p, -1, 0), axis=1).sum()
        # Film and bare wall in a pixel, summed along the edge: how wide the edge is smeared or moved, pixels.
        off = np.abs(np.clip((got - got.min()) / (got.max() - got.min()), 0, 1) - want).sum() / length
        worst, seen = max(worst, off), seen + 1
    hold(seen >= 1, f"{name}: no mark looked at closely")
    hold(worst <= SHARP, f"{name}: a mark's edge is {worst:.2f} px off or smeared")
    count("marks sharp four times closer", seen)
    widest = "turn.html: widest edge four times closer, px"
    counts[widest] = max(counts.get(widest, 0), round(worst, 3))


def numbers(data):
    out, v, by = [], 0, 0
    for b in data:
        v |= (b & 127) << by
        by += 7
        if b < 128:
            out.append(v)
            v, by = 0, 0
    return out


def triangles(page):
    """What the page wears: per piece its film's number and its triangles, in steps round and up."""
    cup = json.loads(re.search(r"const cup = (\{.*\});", page).group(1))
    data, at = zlib.decompress(base64.b64decode(cup["pieces"])), 0
    parts = []
    for n in cup["parts"]:
        parts.append(data[at:at + n])
        at += n
    heads, (us, vs) = numbers(parts[0]), ([(n >> 1) ^ -(n & 1) for n in numbers(p)] for p in parts[2:])
    corners = np.cumsum(np.stack([us, vs], 1), 0)
    moves = iter(np.unpackbits(np.frombuffer(parts[1], np.uint8), bitorder="little"))
    out, k = [], 0
    for film, n in zip(heads[::2], heads[1::2]):
        stack, own, end = [], [], k + n
        while k < end or len(stack) > 2:
            if next(moves):
                c, b = stack.pop(), stack.pop()
                own.append((stack[-1], b, c))
                stack.append(c)
            else:
                stack.append(k)
                k += 1
        out.append((film, corners[np.array(own)]))
    return cup, out


def worn(page):
    """Triangles against the discs themselves, rolled out: shapely's areas and union."""
    cup, pieces = triangles(page)
    hold(len(pieces) == len(AT), f"turn.html wears {len(pieces)} pieces, {len(AT)} wanted")
    worst = 0.0
    left = set(AT)
    for _, t in pieces:
        u, v = t.mean((0, 1))
        here, there = math.tau * u / cup["columns"], SLANT * v / cup["rows"]
        away = lambda m: math.hypot(40 * math.remainder(here - math.radians(m[0]), math.tau), there - m[1])
        a, up = min(left, key=away)
        left.remove((a, up))
        # Near a mark the wall is as good as flat: azimuth times its radius, and up.
        v = t[..., 1] / cup["rows"] * SLANT
        x = (t[..., 0] / cup["columns"] * math.tau - here + math.remainder(here - math.radians(a), math.tau)) * (R0 + (R1 - R0) * v / SLANT)
        flat = [Polygon(list(zip(px, pv))) for px, pv in zip(x, v - up)]
        total, union = sum(p.area for p in flat), union_all(flat).area
        hold(abs(total - union) < 1e-3 * union, f"turn.html: triangles of the mark at {a}, {up} lie on each other: {total:.4f} and {union:.4f} mm2")
        hold(abs(total - math.pi * MARK**2) < math.tau * MARK * 0.03, f"turn.html: the mark at {a}, {up} covers {total:.4f} mm2")
        rim = np.hypot(x, v - up)
        worst = max(worst, float(rim.max()) - MARK)
        count("pieces unpacked and held to their disc")
    hold(worst < 0.02, f"turn.html: a corner lies {worst:.3f} mm outside of its disc")


def ellipses(name, rgba, cam):
    """The silhouette's edge against the circles of rim and base, seen."""
    alpha = rgba[..., 3].astype(float) / 255
    for r_up, what in ((SLANT, "rim"), (0.0, "base")):
        worst = 0.0
        for a in range(-50, 51, 5):
            x, y = pixel(cam, cam["azimuth_deg"] + (a if what == "base" or cam["elevation_deg"] < 10 else a + 180), r_up)
            col = alpha[:, int(x)]
            # Sub-pixel edge: the column's covered length from the free side.
            if what == "rim":
                first = np.flatnonzero(col > 0.02)[0]
                edge = first + 1 - col[first] if col[first] < 0.98 else first
            else:
                last = np.flatnonzero(col > 0.02)[-1]
                edge = last + col[last] if col[last] < 0.98 else last + 1
            x_mid, _ = int(x) + 0.5, 0
            _, y = min(((abs(pixel(cam, cam["azimuth_deg"] + b, r_up)[0] - x_mid), pixel(cam, cam["azimuth_deg"] + b, r_up)[1])
                        for b in np.linspace(a - 6, a + 6, 121) + (0 if what == "base" or cam["elevation_deg"] < 10 else 180)), key=lambda t: t[0])
            worst = max(worst, abs(edge - y))
        hold(worst <= 1.0, f"{name}: the {what} is {worst:.2f} px from the ellipse of its circle")
        count("edges held to their ellipse")


def seam(name, rgba, cam):
    """Along the back line there is no step in colour beyond what the shade has beside it."""
    x, _ = pixel(cam, 180, 90)
    strip = rgba[80:480, int(x) - 12:int(x) + 12, :3].astype(float)
    steps = np.abs(np.diff(strip, axis=1)).max(2)
    bare = np.median(steps, 0)
    hold(bare.max() < 6, f"{name}: a line stands at the seam: {bare.round(1)}")
    count("seams without a line")


def browser(kit, views, modules, shots):
    """The turning page in Chromium: driven by hand and by keys, seen from the five ways round, and without WebGL or script."""
    page = str(kit / "view" / "turn.html")
    name = lambda n: str(shots / n) if shots else None
    tasks = [
        {"do": "turn", "page": page, "ways": [[v["azimuth_deg"], v["elevation_deg"]] for v in views] + [way for way, _ in closely(views)], "shot": name("turn")},
        {"do": "bare", "page": page, "shot": name("no-webgl.png")},
        {"do": "bare", "page": page, "noscript": True, "shot": name("no-script.png")},
    ]
    run = subprocess.run(["node", Path(__file__).parent / "browser.cjs", modules], input=json.dumps(tasks), capture_output=True, text=True, timeout=240)
    if not hold(run.returncode == 0, f"the browser gave no answer: {run.stderr[:1000]}"):
        return
    turned, without, unscripted = json.loads(run.stdout)
    if not hold(turned.get("ready") == "webgl", f"turn.html: the cup did not come up in Chromium: {turned}"):
        return
    hold(not turned["asked"], f"turn.html asks the network: {turned['asked'][:3]}")
    hold(not turned["said"], f"turn.html: errors: {turned['said'][:3]}")
    hold(turned["size"] == [views[0]["width_px"], views[0]["height_px"]], f"turn.html: the canvas is {turned['size']}")
    s = turned["steps"]
    # A drag of 100 px to the left brings what lies to the right of the front: azimuths grow to the right.
    hold(20 <= s["dragged"] <= 120, f"turn.html: dragged 100 px to the left it stands at {s['dragged']} degrees")
    hold(s["home"] == 0 and s["right"] == 15 and s["left"] == 10 and s["pageUp"] == 55, f"turn.html: by keys it stands at {s}")
    hold(s["tipped"] == 20, f"turn.html: four arrows up tip it by {s['tipped']} degrees")
    hold(abs(s["back"]) == 180 and s["kept"] != 0, f"turn.html: by its buttons it stands at {s}")
    hold(s["zoom"] == [2, 4, 8, 8] and s["moved"] > 0 and s["farther"] == 6.4 and s["whole"] == [1, 0], f"turn.html: closer and farther it stands at {s}")
    count("ways of turning by hand and keys tried", 12)
    for (_, cam), shot in zip(closely(views), turned["shots"][len(views):], strict=True):
        rgba = np.array(Image.open(io.BytesIO(base64.b64decode(shot.split(",")[1]))).convert("RGBA"))
        sharp(f"turn.html closer, from {cam['azimuth_deg']}", rgba, cam)
    for v, shot in zip(views, turned["shots"]):
        rgba = np.array(Image.open(io.BytesIO(base64.b64decode(shot.split(",")[1]))).convert("RGBA"))
        check(f"turn.html {Path(v['file']).stem}", rgba, v)
        still = np.array(Image.open(kit / v["file"]).convert("RGBA")).astype(int)
        both = (still[..., 3] > 250) & (rgba[..., 3] > 250)
        off = np.abs(still[..., :3] - rgba.astype(int)[..., :3]).max(2)[both]
        hold(off.mean() < 3, f"turn.html {Path(v['file']).stem}: differs from the still by {off.mean():.2f} of 255 in the mean")
    # Without WebGL the animated turn that lies beside the page stands before the five stills.
    for what, r, images in (("without WebGL", without, 6), ("without script", unscripted, 5)):
        hold(r.get("stills") and not r.get("live") and r.get("images") == images, f"turn.html {what}: {r}")
        count("falls back to pictures")


def self_test(kit, views):
    """Damaged pictures must be found: a mark elsewhere, a cup of another size, a line at the seam, a smeared edge."""
    global faults
    missed = []
    v = views[0]
    sound = np.array(Image.open(kit / v["file"]).convert("RGBA"))
    back = next(w for w in views if w["azimuth_deg"] == 180)
    lined = np.array(Image.open(kit / back["file"]).convert("RGBA"))
    x = int(pixel(back, 180, 90)[0])
    lined[:, x - 1:x + 1, :3] = lined[:, x - 1:x + 1, :3] // 2
    moved = np.roll(sound, 2, 0)
    small = np.array(Image.fromarray(sound).resize((sound.shape[1], sound.shape[0] - 8)))
    small = np.concatenate([small, np.zeros((8, *small.shape[1:]), small.dtype)])
    one = sound.copy()
    a, up = min(AT, key=lambda m: abs(m[0]) + abs(m[1] - 78))
    cx, cy = (int(t) for t in pixel(v, a, up))
    one[cy - 14:cy + 14, cx - 14:cx + 14] = np.roll(one[cy - 14:cy + 14, cx - 14:cx + 14], 2, 1)
    near = closely(views)[0][1]
    blank = Image.fromarray(np.full((v["height_px"], v["width_px"], 4), 180, np.uint8))
    for m in AT:
        ImageDraw.Draw(blank).polygon([tuple(q) for q in outline(near, *m)], fill=(200, 0, 0, 255))
    coarse = blank.resize((v["width_px"] // 4, v["height_px"] // 4), Image.BOX).resize(blank.size, Image.BICUBIC)
    for what, run in (("a closer picture that is a small one blown up", lambda: sharp("x", np.array(coarse), near)), ("a picture two pixels low", lambda: check("x", moved, v)), ("a cup drawn lower", lambda: ellipses("x", small, v)),
                      ("one mark two pixels off", lambda: check("x", one, v)), ("a line at the seam", lambda: seam("x", lined, back))):
        faults = []
        run()
        print(f"{'found' if faults else 'MISSED':>12}  {what}: {faults[0] if faults else ''}")
        missed += [] if faults else [what]
    print(f"{len(missed)} damages missed {missed}")
    sys.exit(1 if missed else 0)


def main():
    args = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    args.add_argument("frusta", type=Path)
    args.add_argument("--modules", type=Path, help="a folder node_modules with puppeteer-core and axe-core: tries the turning page too")
    args.add_argument("--shots", type=Path, help="a folder for pictures of the turning page")
    args.add_argument("--no-browser", action="store_true")
    args.add_argument("--self-test", action="store_true")
    a = args.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        job, kit = Path(folder) / "job", Path(folder) / "kit"
        job.mkdir()
        (job / "job.toml").write_text(JOB)
        (job / "dot.svg").write_text(DOT)
        made = subprocess.run([a.frusta, "make", job, "--out", kit], capture_output=True, text=True)
        if made.returncode:
            sys.exit(f"the job of marks was not made: {made.stderr}")
        views = json.loads((kit / "manifest.json").read_text())["views"]
        hold(len(views) == 5, f"{len(views)} views")
        if a.self_test:
            self_test(kit, views)
        for v in views:
            rgba = np.array(Image.open(kit / v["file"]).convert("RGBA"))
            name = Path(v["file"]).name
            check(name, rgba, v)
            ellipses(name, rgba, v)
            if v["azimuth_deg"] == 180:
                seam(name, rgba, v)
        turn = Image.open(kit / "view" / "turn.png")
        hold(getattr(turn, "n_frames", 1) >= 24, f"turn.png has {getattr(turn, 'n_frames', 1)} frames")
        page = (kit / "view" / "turn.html").read_text()
        worn(page)
        code = re.sub(r"data:image/png;base64,[A-Za-z0-9+/=]+|\"(shades|pieces|wall)\":\"[^\"]*\"", "", page)
        counts["turn.html: bytes of code without its pictures"] = len(code)
        hold(len(code) < 60 * 1024, f"turn.html: {len(code)} bytes of code")
        hold(not re.search(r"https?://", code), "turn.html names an address on the network")
        if not a.no_browser and hold(a.modules is not None, "no --modules: say --no-browser to leave the turning page out"):
            if a.shots:
                a.shots.mkdir(parents=True, exist_ok=True)
            browser(kit, views, a.modules, a.shots)
    for what, n in counts.items():
        print(f"{n:>12}  {what}")
    for f in faults[:40]:
        print("VIOLATED", f)
    print(f"{len(faults)} violations")
    sys.exit(1 if faults else 0)


if __name__ == "__main__":
    main()
