#!/usr/bin/env python3
"""What a list of many names takes: seconds of processor, peak memory and bytes on disk a name, measured from outside.

    long_list.py PROGRAM --count N [N ...] [--job FOLDER] [--wall] [--most-mb MB] [--most-kb KB] [--most-s S]

Makes the job (demo-data/fair-winners) for lists of N invented names and reports each run: the processor's time and the
peak of resident memory as the system counts them for the child (getrusage), the bytes of the kit. Without --wall the
motifs and the spots are left out: what is measured is names. Limits hold for the longest list; exit 1 if one is passed.
"""
import argparse
import os
import random
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

FIRST = ["An", "Bel", "Cor", "Da", "El", "Fio", "Ga", "Han", "Il", "Jo", "Ka", "Lu", "Ma", "Ni", "O", "Pe", "Ro", "Sa", "Ti", "Vé", "Zo", "Ár", "Jör", "Si", "Ing"]
MORE = ["na", "la", "ra", "mi", "do", "ri", "lin", "ne", "ve", "to", "sa", "kó", "ti", "ber", "man", "del"]
LAST = ["", "", "a", "n", "s", "le", "rid", "th", "ë", "ta", "us", "ka"]


def names(count, seed):
    rng, out = random.Random(seed), []
    while len(out) < count:
        middle = "".join(rng.choice(MORE) for _ in range(rng.choice([0, 1, 1, 1, 2, 2, 3])))
        name = rng.choice(FIRST) + middle + rng.choice(LAST)
        if 2 <= len(name) <= 12 and name not in out:
            out.append(name)
    return out


def run(program, job, out):
    """Seconds of processor, peak memory in MB, exit code: of this child alone."""
    child = os.fork()
    if child == 0:
        null = os.open(os.devnull, os.O_WRONLY)
        os.dup2(null, 1)
        os.execv(program, [str(program), "make", "-q", str(job), "--out", str(out)])
    _, status, usage = os.wait4(child, 0)
    return usage.ru_utime + usage.ru_stime, usage.ru_maxrss / 1024, os.waitstatus_to_exitcode(status)


def main():
    args = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    args.add_argument("program", type=Path)
    args.add_argument("--count", type=int, nargs="+", default=[100])
    args.add_argument("--job", type=Path, default=Path(__file__).parents[2] / "demo-data/fair-winners")
    args.add_argument("--wall", action="store_true")
    args.add_argument("--most-mb", type=float, default=float("inf"))
    args.add_argument("--most-kb", type=float, default=float("inf"))
    args.add_argument("--most-s", type=float, default=float("inf"))
    a = args.parse_args()
    bad = False
    for count in sorted(a.count):
        with tempfile.TemporaryDirectory() as tmp:
            job, out = Path(tmp) / "job", Path(tmp) / "kit"
            shutil.copytree(a.job, job, ignore=shutil.ignore_patterns("kit*"))
            rows = "".join(f"{name};x;1\n" for name in names(count, 1))
            (job / "winners.csv").write_text("name;class;cups\n" + rows)
            if not a.wall:
                text = (job / "job.toml").read_text()
                (job / "job.toml").write_text(text[: text.index("[[motif]]")])
            seconds, memory, code = run(a.program.resolve(), job, out)
            if code:
                sys.exit(f"{count} names: exit {code}")
            kb = sum(f.stat().st_size for f in out.rglob("*") if f.is_file()) / 1000
            written = len(list((out / "cups").glob("cup-*.svg")))
            ok = written == count
            print(f"{count} names: {seconds:.1f} s of processor ({seconds / count:.3f} a name), {memory:.0f} MB, {kb / 1000:.1f} MB on disk ({kb / count:.0f} kB a name), {written} papers of names")
        bad = not ok or memory > a.most_mb or kb / count > a.most_kb or seconds / count > a.most_s
    sys.exit(1 if bad else 0)


if __name__ == "__main__":
    main()
