"""Outside check of units and published figures through the program itself.

    finish_units.py PROGRAM

Writes small jobs whose amounts are given in many units, makes their kits, and compares what the manifest says with pint
(PyPI) and with published figures; each source stands beside its check. Exit 1 and a list if anything differs.
"""

import json
import math
import pathlib
import subprocess
import sys
import tempfile

import pint

U = pint.UnitRegistry()
SVG = '<svg xmlns="http://www.w3.org/2000/svg" width="10mm" height="10mm" viewBox="0 0 10 10"><path d="M0 0H10V10H0Z"/></svg>'
HEAD = """
[cup]
rings = [{{ up = 0, girth = {lower} }}, {{ up = {wall}, girth = {upper} }}]
wall = {wall}
keep-clear = {{ rim = {rim}, base = 5 }}
[[film]]
name = "leaf"
sheet = [200, 150]
[[motif]]
art = "a.svg"
width = 10
[finish]
loss = {loss}
"""

faults, checks = [], 0


def near(got, want, slack, what):
    global checks
    checks += 1
    if not abs(got - want) <= slack:
        faults.append(f"{what}: {got}, expected {want}")


def made(program, finish, lower=200, upper=200, wall=120, rim=20, loss=0):
    with tempfile.TemporaryDirectory() as folder:
        at = pathlib.Path(folder)
        (at / "a.svg").write_text(SVG)
        (at / "job.toml").write_text(HEAD.format(lower=lower, upper=upper, wall=wall, rim=rim, loss=loss) + finish)
        run = subprocess.run([program, "make", str(at), "--json"], capture_output=True, text=True)
        if run.returncode != 0:
            faults.append(f"the program refused a job: {run.stdout[-800:]} {run.stderr[-400:]}")
            return None
        return json.loads((at / "kit" / "manifest.json").read_text())["finish"]


def resin(extra="", mix="mix = [2, 1]"):
    return f'[[finish.product]]\nname = "r"\nkind = "two-part resin"\n{mix}\n{extra}\n'


def coat(line):
    return f'[[finish.step]]\ndo = "clear coat"\n{line}\n'


def units(program):
    """Each way to write an amount, against pint."""
    volumes = ["24 ml", "2.4 cl", "0.02 l", "0.75 fl oz", "3/4 fl oz", "0.8 imp fl oz"]
    by_pint = [24 * U.ml, 2.4 * U.cl, 0.02 * U.l, 0.75 * U.US_fluid_ounce, 0.75 * U.US_fluid_ounce, 0.8 * U.imperial_fluid_ounce]
    f = made(program, '[[finish.step]]\ndo = "film"\n' + resin() + "".join(coat(f'volume = "{v}"') for v in volumes))
    for step, v, want in zip(f["steps"][1:] if f else [], volumes, by_pint):
        near(step["needs_ml"], want.to("ml").magnitude, 1e-4, f'volume = "{v}"')
    lengths = ["0.4", '"0.04 cm"', '"16 mil"', '"400 um"', '"1/64 in"']
    by_pint = [0.4 * U.mm, 0.04 * U.cm, 16 * U.thou, 400 * U.um, U.inch / 64]
    f = made(program, '[[finish.step]]\ndo = "film"\n' + resin() + "".join(coat(f"thickness = {v}") for v in lengths))
    for step, v, want in zip(f["steps"][1:] if f else [], lengths, by_pint):
        near(step["thickness_mm"], want.to("mm").magnitude, 1e-4, f"thickness = {v}")
    weights = ["12", '"12 g"', '"0.02 lb"', '"0.4 oz"', '"12000 mg"']
    by_pint = [12 * U.g, 12 * U.g, 0.02 * U.lb, 0.4 * U.oz, 12000 * U.mg]
    glitter = "".join(
        '[[finish.step]]\ndo = "adhesive"\n[[finish.step]]\ndo = "glitter"\n' + f"grams = {v}\n" for v in weights
    )
    f = made(program, '[[finish.step]]\ndo = "film"\n' + glitter)
    steps = [s for s in f["steps"] if s["kind"] == "glitter"] if f else []
    for step, v, want in zip(steps, weights, by_pint):
        near(step["g_per_100cm2"], want.to("g").magnitude, 1e-4, f"grams = {v}")
    times = ["90 min", "1.5 h", "1 h 30 min", "5400 s", "0.0625 d"]
    f = made(program, "".join(f'[[finish.step]]\ndo = "wash"\nwait = "{v}"\n' for v in times) + '[[finish.step]]\ndo = "film"\n')
    for step, v in zip(f["steps"] if f else [], times):
        near(step["next_from_min"], (5400 * U.s).to("min").magnitude, 0, f'wait = "{v}"')


def published(program):
    # Coating arithmetic: 1 ml over 100 cm2 is 0.1 mm. A straight cup, 200 mm round, 50 mm of it coated: 100 cm2. The
    # layer's middle is 0.05 mm out, which is 2 pi 0.05 more round: 1.00157 ml, so the thickness of 1 ml is 0.1 less that.
    f = made(program, '[[finish.step]]\ndo = "film"\n' + resin() + coat("thickness = 0.1") + coat('volume = "1 ml"\nover = "base"'), wall=70)
    if f:
        s = f["steps"][1]
        near(s["stays_ml"], (200 + 2 * math.pi * 0.05) * 50 * 0.1 / 1000, 1e-4, "0.1 mm over 100 cm2 of a straight cup")
        near(s["stays_ml"], 1.0, 0.002, "0.1 mm over 100 cm2, to the published digits")
        base = 200**2 / (4 * math.pi)
        near(f["steps"][2]["thickness_mm"], (1 * U.ml / (base * U.mm**2)).to("mm").magnitude, 1e-4, "1 ml over the flat of the base")
    # 1604 square feet per US gallon per mil (231 / 144 * 1000), scaled to this cup: one mil over its wall.
    f = made(program, '[[finish.step]]\ndo = "film"\n' + resin() + coat('thickness = "1 mil"'), wall=70)
    if f:
        gallons = (f["steps"][1]["stays_ml"] * U.ml).to("US_liquid_gallon").magnitude
        feet = (100 * U.cm**2).to("ft**2").magnitude / gallons
        near(feet, 1604, 1604 * 0.0015, "square feet per US gallon per mil (a coat on a curve takes 0.04 % more; 4 decimals)")
    # Two published resin systems of 2:1 by volume: 100:47 and 100:44 by weight.
    for by_weight in (47, 44):
        f = made(program, '[[finish.step]]\ndo = "film"\n' + resin(f"mix-by-weight = [100, {by_weight}]") + coat('volume = "30 ml"'))
        if f:
            m = f["steps"][1]["batches"][0]
            near(m["b_per_100_a_by_weight"], by_weight, 1e-4, "100 A to B by weight")
            near(m["a_ml"] / m["b_ml"], 2, 0.04, "2:1 by volume")
            near(m["b_g"] / m["a_g"] * 100, by_weight, by_weight * 0.02, "on the scale")
    # Common practice, no source: on a tapered cup of 22 US fl oz a full clear coat takes 20 to 25 ml, a coat to seal film
    # 15 to 20 ml, a thin levelling coat about 10 ml. A cup 88 mm across the rim, 69 mm across the base, outside volume
    # 1.25 times 650 ml: the height follows.
    R, r = 44.0, 34.5
    h = 1.25 * (22 * U.US_fluid_ounce).to("mm**3").magnitude * 3 / math.pi / (R * R + R * r + r * r)
    wall = math.hypot(h, R - r)
    f = made(program, "", 2 * math.pi * r, 2 * math.pi * R, wall, loss=35)
    if f:
        needs = {s["kind"]: s["needs_ml"] for s in f["steps"]}
        near(needs["clear"], 22.5, 2.5, "full coat on 22 fl oz, ml")
        near(needs["seal"], 17.5, 2.5, "seal on 22 fl oz, ml")
        near(needs["level"], 10, 1, "thin coat on 22 fl oz, ml")
        print("22 US fl oz cup:", {k: round(v, 1) for k, v in needs.items() if v}, "ml")


def main():
    program = sys.argv[1]
    units(program)
    published(program)
    print(f"{checks} checks, {len(faults)} differ")
    for says in faults:
        print(" ", says)
    sys.exit(1 if faults or not checks else 0)


if __name__ == "__main__":
    main()
