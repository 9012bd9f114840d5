"""Walls read from photographs: pictures that a ray tracer makes, read by the built program, held to the wall.

A cup of a stated meridian (cone, barrel, tulip, flare, footed cup, cup with a handle, oval cup) stands before plain
paper; POV-Ray (Debian's package, a general ray tracer of 1991 onwards) photographs it with a pinhole camera that may
stand too high or too low, be turned, rolled, and told a wrong distance. The picture is blurred, given noise and packed
as JPEG, as a camera would. `frusta measure --photo --json` reads it; heights and girths are held to arc lengths and
girths of the meridian (numpy).

  photo.py PROGRAM [--count N] [--seed S] [--megapixels M] [--keep FOLDER] [--self-test]
  photo.py --draw JOB PICTURE     the parabola through a job's rings, photographed from 600 mm (numpy's least squares):
                                  how demo-data/barrel-cup/side.jpg was made
"""

import argparse
import json
import math
import pathlib
import subprocess
import sys
import tempfile
import tomllib

import numpy as np
from PIL import Image, ImageFilter

TAU = 2 * math.pi


class Wall:
    """A meridian: radius over height, both mm, from the base edge to the rim."""

    def __init__(self, kind, rng):
        self.kind = kind
        self.high = high = rng.uniform(90, 170)
        base, lean = rng.uniform(28, 42), rng.uniform(0.0, 0.12)
        z = np.linspace(0, high, 4001)
        t = z / high
        sag = {"cone": 0.0, "barrel": rng.uniform(0.5, 3.5), "tulip": rng.uniform(0.5, 2.5), "flare": rng.uniform(1, 6),
               "foot": 0.0, "handle": 0.0, "oval": rng.uniform(0.5, 3)}[kind]
        r = base + lean * z
        if kind in ("barrel", "oval"):
            r = r + 4 * sag * t * (1 - t)
        elif kind == "tulip":
            r = r + sag * np.sin(TAU * t) * 0.8
        elif kind == "flare":
            r = r + sag * t ** 3
        elif kind == "foot":
            self.edge_z = rng.uniform(0.14, 0.3) * high
            drop = rng.uniform(0.12, 0.3)
            r = r - np.clip(self.edge_z - z, 0, None) * drop
        self.z, self.r = z, r
        self.s = np.concatenate([[0], np.cumsum(np.hypot(np.diff(z), np.diff(r)))])
        # Half the difference of the diameters of an oval cup.
        self.oval = rng.uniform(0.2, 0.5) if kind == "oval" else 0.0

    @property
    def length(self):
        return float(self.s[-1])

    def girth(self, s):
        return TAU * float(np.interp(s, self.s, self.r))


def pov(wall, shot, w, h):
    """A scene: y up in POV-Ray; the camera looks along -x from distance D."""
    # A lathe over a fine polygon of the meridian, closed by its axis.
    take = np.unique(np.linspace(0, len(wall.z) - 1, 1201).astype(int))
    points = [(0.0, wall.z[0])] + [(wall.r[i], wall.z[i]) for i in take] + [(0.0, wall.z[-1])]
    spline = ", ".join(f"<{x:.6f}, {y:.6f}>" for x, y in points)
    scale = f"scale <{1 + wall.oval / 40 * math.cos(shot['turn']):.6f}, 1, {1 - wall.oval / 40 * math.cos(shot['turn']):.6f}>"
    handle = ""
    if wall.kind == "handle":
        mid, reach = wall.high * 0.55, wall.high * 0.2
        side = 1 if shot["flip"] else -1
        at = float(np.interp(mid, wall.z, wall.r))
        handle = f"torus {{ {reach:.3f}, 5 rotate <90, 0, 0> translate <0, {mid:.3f}, {side * at:.3f}> rotate <0, 0, 0> }}"
        # The torus stands in the plane that is seen from the side.
        handle = handle.replace("rotate <90, 0, 0>", "rotate <0, 0, 90>")
    bright = shot["cup"]
    # POV-Ray is left-handed: right is +z for a camera at +x that looks along -x with y up.
    angle = 2 * math.degrees(math.atan(w / 2 / shot["focal"]))
    return f"""#version 3.7;
global_settings {{ assumed_gamma 1.0 max_trace_level 4 }}
camera {{ perspective right <{-w / h:.9f}, 0, 0> up <0, 1, 0> direction <0, 0, 1> angle {angle:.9f}
  look_at <0, 0, 1>
  rotate <0, 0, {shot['roll']:.6f}> rotate <{shot['pitch']:.6f}, {shot['yaw']:.6f}, 0> rotate <0, -90, 0>
  translate <{shot['distance']:.6f}, {shot['lens']:.6f}, 0> }}
background {{ rgb <0.82, 0.83, 0.84> }}
light_source {{ <700, 500, -900> rgb 0.55 shadowless }}
light_source {{ <700, 400, 900> rgb 0.45 shadowless }}
union {{ lathe {{ linear_spline {len(points)} {spline} {scale} }} {handle}
  pigment {{ rgb <{bright[0]}, {bright[1]}, {bright[2]}> }} finish {{ ambient 0.35 diffuse 0.55 specular 0.15 roughness 0.03 }} }}
"""


def photograph(wall, shot, size, folder, name, rng):
    w, h = size
    scene = folder / f"{name}.pov"
    scene.write_text(pov(wall, shot, w, h))
    png = folder / f"{name}-raw.png"
    run = subprocess.run(["povray", f"+I{scene}", f"+O{png}", f"+W{w}", f"+H{h}", "+A0.02", "+AM2", "+R3", "-D", "-GA",
                          "File_Gamma=sRGB", "Bits_Per_Color=8", "+WT1"], capture_output=True, text=True)
    if run.returncode != 0:
        sys.exit(f"povray failed:\n{run.stderr[-800:]}")
    image = Image.open(png).convert("RGB").filter(ImageFilter.GaussianBlur(0.9))
    a = np.asarray(image, dtype=float) + rng.normal(0, 3, (h, w, 1)) + rng.normal(0, 1, (h, w, 3))
    # The light of a room falls off to one side.
    fall = 1 - 0.06 * np.linspace(0, 1, w)[None, :, None]
    out = folder / f"{name}.jpg"
    Image.fromarray(np.clip(a * fall, 0, 255).astype(np.uint8)).save(out, quality=92)
    png.unlink()
    scene.unlink()
    return out


def shot_of(kind, wall, rng, faults):
    """How the picture is taken, and what is told of it."""
    distance = rng.uniform(450, 1000)
    middle = wall.high / 2
    off = rng.normal(0, 12) if faults else 0.0
    shot = {
        "distance": distance, "lens": middle + off, "roll": rng.normal(0, 1.5) if faults else 0.0,
        # Aimed at the middle of the wall, more or less.
        "pitch": (math.degrees(math.atan(off / distance)) + rng.normal(0, 0.7)) if faults else 0.0,
        "yaw": float(np.clip(rng.normal(0, 1.0), -1.0, 1.0)) if faults else 0.0,
        "turn": 0.0, "flip": bool(rng.integers(2)),
        "cup": [(0.02, 0.05, 0.2), (0.25, 0.02, 0.03), (0.05, 0.2, 0.1), (0.01, 0.01, 0.01)][rng.integers(4)],
    }
    told = distance * (1 + (rng.normal(0, 0.01) if faults else 0.0))
    return shot, told


def job_of(wall, rings):
    text = ", ".join(f"{{ up = {s:.4f}, girth = {g:.4f} }}" for s, g in rings)
    return f"[cup]\nrings = [{text}]\nwall = {wall.length:.4f}\n[[film]]\nname = \"blue\"\nsheet = [300, 200]\n"


def measure(program, folder, job, pictures, told):
    path = folder / "job.toml"
    path.write_text(job)
    run = subprocess.run([program, "measure", str(path), "--photo", str(pictures), "--distance", f"{told:.2f}", "--json"],
                         capture_output=True, text=True)
    if run.returncode not in (0, 1):
        sys.exit(f"{run.args} ended with {run.returncode}: {run.stderr}")
    return json.loads(run.stdout)


def judged(wall, got, stretch=1.0):
    """Worst error of the radius, mm, and worst error of what is straight taken off."""
    up = np.array([p["up_mm"] for p in got["points"]])
    girth = np.array([p["girth_mm"] for p in got["points"]])
    off = (girth - np.array([wall.girth(s * stretch) for s in up])) / TAU
    return float(np.abs(off).max())


def draw(job, picture):
    """A picture of the curve through a job's readings."""
    cup = tomllib.loads(pathlib.Path(job).read_text())["cup"]
    up = np.array([r["up"] for r in cup["rings"]], dtype=float)
    girth = np.array([np.mean(r["girth"]) for r in cup["rings"]])
    wall = Wall.__new__(Wall)
    wall.kind, wall.oval = "barrel", 0.0
    wall.s = np.linspace(0, cup["wall"], 4001)
    wall.r = np.polyval(np.polyfit(up, girth, 2), wall.s) / TAU
    wall.z = np.concatenate([[0], np.cumsum(np.sqrt(np.diff(wall.s) ** 2 - np.diff(wall.r) ** 2))])
    wall.high = float(wall.z[-1])
    size = (900, 1200)
    shot = {"distance": 600, "lens": wall.high / 2, "roll": 0.8, "pitch": 0.0, "yaw": 0.0, "turn": 0.0, "flip": False,
            "cup": (0.05, 0.12, 0.1), "focal": size[1] * 0.55 / wall.high * 600}
    with tempfile.TemporaryDirectory() as temp:
        made = photograph(wall, shot, size, pathlib.Path(temp), "side", np.random.default_rng(7))
        pathlib.Path(picture).write_bytes(made.read_bytes())


def taped(program, folder, wall, outline, draws, rng):
    """Worst girth error anywhere on the wall with the outline and two rings of a tape that strays by .5 mm; and how
    often the told gap at rim and base holds what is."""
    worst, held = [], 0
    points = ", ".join(f"{{ up = {p['up_mm']}, girth = {p['girth_mm']} }}" for p in outline["points"])
    for _ in range(draws):
        rings = [(s, wall.girth(s) + rng.normal(0, 0.5)) for s in (wall.length * 0.05, wall.length * 0.95)]
        job = job_of(wall, rings).replace("[[film]]", f"curved = true\ntape-thickness = 0\n[[cup.outline]]\n"
                                          f"strays = {outline['strays_mm']}\npoints = [{points}]\n[[film]]", 1)
        path = folder / "taped.toml"
        path.write_text(job)
        run = subprocess.run([program, "measure", str(path), "--json"], capture_output=True, text=True)
        got = json.loads(run.stdout)
        readings = got["readings"]
        if "curve" in readings:
            s, g = np.array(readings["curve"]["profile_mm"]).T
        else:
            s = np.array([0, wall.length])
            g = np.array([got["cup"]["base_girth_mm"], got["cup"]["rim_girth_mm"]])
        at = np.linspace(0, wall.length, 61)
        off = np.abs(np.interp(at, s, g) - [wall.girth(x) for x in at])
        worst.append(float(off.max()))
        held += int(off[-1] <= readings["worst_gap_at_rim_mm"]) + int(off[0] <= readings["worst_gap_at_base_mm"])
    return worst, held


def main():
    if sys.argv[1:2] == ["--draw"]:
        draw(*sys.argv[2:4])
        return
    parser = argparse.ArgumentParser()
    parser.add_argument("program")
    parser.add_argument("--count", type=int, default=7)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--megapixels", type=float, default=12)
    parser.add_argument("--kinds", default="cone,barrel,tulip,flare,foot,handle,oval")
    parser.add_argument("--only", type=int, help="make this one alone, as it is among the others")
    parser.add_argument("--taped", type=int, default=0, help="draws of two taped rings for each picture")
    parser.add_argument("--keep")
    parser.add_argument("--self-test", action="store_true")
    args = parser.parse_args()
    rng = np.random.default_rng(args.seed)
    kinds = args.kinds.split(",")
    w = int(math.sqrt(args.megapixels * 1e6 * 3 / 4))
    size = (w, int(w * 4 / 3))
    failures, worst, all_taped, all_held = [], {}, [], 0
    with tempfile.TemporaryDirectory() as temp:
        folder = pathlib.Path(args.keep or temp)
        folder.mkdir(parents=True, exist_ok=True)
        for n in range(args.count):
            kind = kinds[n % len(kinds)]
            wall = Wall(kind, rng)
            faults = n >= len(kinds)
            shot, told = shot_of(kind, wall, rng, faults)
            # The cup fills about half of the picture's height.
            shot["focal"] = size[1] * (0.45 if kind == "handle" else 0.55) / wall.high * shot["distance"]
            if kind == "handle":
                # The handle must be in the picture.
                shot["yaw"] /= 3
            if args.only is not None and n != args.only:
                # The noise of a picture that is not made.
                rng.normal(0, 3, (size[1], size[0], 1)), rng.normal(0, 1, (size[1], size[0], 3))
                continue
            picture = photograph(wall, shot, size, folder, f"{n}-{kind}", rng)
            rings = [(s, wall.girth(s)) for s in (wall.length * 0.05, wall.length * 0.95)]
            if args.self_test:
                # A wall that is another one than was photographed must be found out.
                rings[1] = (rings[1][0] * 0.8, rings[1][1] * 1.02)
            got = measure(args.program, folder, job_of(wall, rings), picture, told)
            outline = got.get("outline")
            if outline is None:
                failures.append(f"{n} {kind}: refused: {[d['says'] for d in got['found']]}")
                print(n, kind, "refused", [d["says"] + " " + str(d.get("measured")) for d in got["found"]])
                continue
            off = judged(wall, outline)
            worst.setdefault(kind, []).append(off)
            if args.taped and kind != "foot":
                offs, held = taped(args.program, folder, wall, outline, args.taped,
                                   np.random.default_rng([args.seed, n]))
                all_taped += offs
                all_held += held
            limit = 0.10 if kind not in ("oval", "foot") else 0.35
            if off > limit:
                failures.append(f"{n} {kind}: radius off by {off:.3f} mm")
            note = ""
            if kind == "foot":
                edge = float(np.interp(wall.edge_z, wall.z, wall.s))
                near = [t for t in outline.get("turns", []) if abs(t["up_mm"] - edge) < 3]
                note = f"edge at {edge:.1f}, told {[t['up_mm'] for t in outline.get('turns', [])]}"
                if not near:
                    failures.append(f"{n} foot: the edge at {edge:.1f} was not told: {outline.get('turns')}")
            elif outline.get("turns"):
                failures.append(f"{n} {kind}: an edge was told that is none: {outline['turns']}")
            if kind == "handle":
                note = f"one side {outline.get('one_side_mm')}"
            print(f"{n:3} {kind:7} D {shot['distance']:4.0f} told {told:4.0f} pixels/mm {outline['pixels_a_mm']:.2f} "
                  f"wall {outline['wall_seen_mm'] / wall.length - 1:+.4f} added {outline['added_at_base_mm']:+.2f} "
                  f"{outline['added_at_rim_mm']:+.2f} strays {outline['strays_mm']:.2f} radius off {off:.3f} {note}", flush=True)
    for kind, offs in worst.items():
        print(f"{kind:7} {len(offs):3} pictures, worst {max(offs):.3f} mm, median {np.median(offs):.3f}")
    if all_taped:
        print(f"two rings of a tape (sd .5) and the picture: worst girth on the wall {np.percentile(all_taped, 95):.2f} mm at 95 "
              f"percent (1.3), {len(all_taped)} draws; told gaps at rim and base hold {all_held / 2 / len(all_taped):.3f}")
    if args.self_test:
        if len(failures) < args.count:
            sys.exit(f"self-test: {args.count - len(failures)} of {args.count} false walls were not found out")
        print(f"self-test: all {args.count} false walls were found out")
        return
    print(f"{args.count} pictures, {len(failures)} faults")
    if failures:
        sys.exit("\n".join(failures))


if __name__ == "__main__":
    main()
