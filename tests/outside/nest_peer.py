"""The published separation search (spyrrow, the binary of Gardeyn and Wauters' own program, from PyPI) and ours side by
side: both start at once on the same instance and have the same seconds on the wall and as many threads each (two, as ours
always has two workers; NEST_THREADS says otherwise), so that whatever else the machine does slows both. What counts is
printed with the processor seconds that each really had.

Usage: python tests/outside/nest_peer.py strip [SECONDS ...]           (the reference strip; default 1 5 30)
       python tests/outside/nest_peer.py classic [SECONDS] [NAME ...]  (albano marques shirts swim; default 60)
Exit 1 if ours is longer on the strip, or more than 3 points less dense on a classic.
Needs spyrrow; builds the bench unless NEST_BENCH names its binary.
"""

import json
import multiprocessing
import os
import pathlib
import re
import resource
import subprocess
import sys

HERE = pathlib.Path(__file__).resolve().parents[2]
# Points of density that ours may be below theirs on a classic.
SLACK = 3.0
THREADS = int(os.environ.get("NEST_THREADS", "2"))


def bench():
    if os.environ.get("NEST_BENCH"):
        return os.environ["NEST_BENCH"]
    told = subprocess.run(
        ["cargo", "bench", "-q", "--bench", "nest", "--no-run", "--message-format=json"],
        cwd=HERE, capture_output=True, text=True, check=True,
    )
    lines = [json.loads(line) for line in told.stdout.splitlines() if line.startswith("{")]
    # Build scripts and other targets print executables too: the bench is the one that is called so.
    found = [m.get("executable") for m in lines if m.get("target", {}).get("name") == "nest" and "bench" in m["target"]["kind"]]
    return [f for f in found if f][-1]


def theirs(items, height, spacing, seconds, send):
    """Length of their strip and the processor seconds it took; in a process of its own."""
    import spyrrow

    strip = spyrrow.StripPackingInstance(
        "peer", height, [spyrrow.Item(name, ring + ring[:1], count, turns) for name, ring, count, turns in items]
    )
    config = spyrrow.StripPackingConfig(
        early_termination=False, total_computation_time=seconds, min_items_separation=spacing, num_workers=THREADS, seed=1
    )
    width = strip.solve(config).width
    used = resource.getrusage(resource.RUSAGE_SELF)
    send.send((width, used.ru_utime + used.ru_stime))


def both(program, words, job, seconds):
    """Runs both at once: (their length, their processor seconds), what ours printed."""
    receive, send = multiprocessing.Pipe(False)
    peer = multiprocessing.Process(target=theirs, args=(*job, seconds, send))
    threads = {**os.environ, "RAYON_NUM_THREADS": str(THREADS)}
    ours = subprocess.Popen([program, *words], stdout=subprocess.PIPE, text=True, env=threads)
    peer.start()
    told = ours.communicate()[0]
    if ours.returncode:
        sys.exit("the bench failed")
    return receive.recv(), told


def strip(program, seconds):
    data = json.loads((HERE / "fixtures/nest/strip-mix.json").read_text())
    spacing = data["spacing"]
    # It takes no holes: they count as film, as they would for a maker who does not use them.
    items = [(p["id"], [tuple(q) for q in p["outer"]], 1, None) for p in data["pieces"]]
    # Spacing to the edge is 2 mm as between pieces: the strip inside it, and 2 mm at both ends of the length.
    (width, used), told = both(program, ["anytime", str(seconds)], (items, data["strip_width"] - 2 * spacing, spacing), seconds)
    length, own = map(float, re.search(r"end +([\d.]+) mm, ([\d.]+) s", told).groups())
    width += 2 * spacing
    print(f"{seconds:4} s: ours {length:7.2f} mm ({own:.1f} s of processor), theirs {width:7.2f} mm ({used:.1f} s)", flush=True)
    return length <= width


def classic(program, seconds, names):
    data = json.loads((HERE / "fixtures/nest/classic.json").read_text())
    right = True
    for case in data["strips"]:
        if names and case["name"] not in names:
            continue
        turns = [i * 360.0 / case["turns"] for i in range(case["turns"])]
        items = [(str(i), [tuple(p) for p in s["ring"]], s["count"], turns) for i, s in enumerate(case["shapes"])]
        area = sum(s["count"] * abs(shoelace(s["ring"])) for s in case["shapes"])
        words = ["classic", str(seconds), case["name"], "free" if case["turns"] == 4 else "half"]
        (width, used), told = both(program, words, (items, case["width"], None), seconds)
        ours, own = map(float, re.search(r"density +([\d.]+) percent, ([\d.]+) s", told).groups())
        peer = 100 * area / (case["width"] * width)
        print(f"{case['name']:8} {seconds} s: ours {ours:.2f} percent ({own:.1f} s of processor), theirs {peer:.2f} ({used:.1f} s)", flush=True)
        right &= ours >= peer - SLACK
    return right


def shoelace(ring):
    return sum(a[0] * b[1] - b[0] * a[1] for a, b in zip(ring, ring[1:] + ring[:1])) / 2


def main():
    kind, rest = (sys.argv[1] if len(sys.argv) > 1 else "strip"), sys.argv[2:]
    numbers = [int(a) for a in rest if a.isdigit()]
    program = bench()
    if kind == "classic":
        right = classic(program, (numbers or [60])[0], [a for a in rest if not a.isdigit()])
    else:
        right = all([strip(program, s) for s in numbers or [1, 5, 30]])
    sys.exit(0 if right else 1)


if __name__ == "__main__":
    main()
