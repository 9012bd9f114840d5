#!/usr/bin/env python3
"""Holds the shelf's ledger to its promise: nothing lost, nothing doubled, the next line always works.

    shelf.py PROGRAM --count N [--seed S]  N rounds of two writers on one shelf: killed (-9) at random, the file's last line
                                           cut at a random byte or followed by zeros between rounds, then a disk that is
                                           full after each number of bytes of a line, then two who want one leftover
    shelf.py PROGRAM --self-test           damaged ledgers: every loss, doubling, swap and edit must be found

The ledger is read by a reader of its own: numbers, zlib's CRC-32 (ISO 3309), Python's arithmetic. What a writer was told
is done (exit 0) must stand there exactly once; what was killed may, once. A full disk is a limit on the size of files
(RLIMIT_FSIZE), so that a write stops at any byte.
"""
import argparse
import random
import resource
import signal
import subprocess
import sys
import tempfile
import time
import zlib
from collections import Counter
from pathlib import Path
from urllib.parse import unquote


def lines(data):
    """(number, verb, fields) of each whole line, and what is wrong with it."""
    out, wrong = [], []
    for i, raw in enumerate(data.split(b"\n")[:-1] if data.endswith(b"\n") else data.split(b"\n")):
        try:
            text = raw.decode()
        except UnicodeDecodeError:
            wrong.append(f"line {i + 1} is no text")
            continue
        before, _, sum_ = text.rpartition(" ")
        if f"{zlib.crc32(before.encode()):08x}" != sum_:
            wrong.append(f"line {i + 1}: the sum does not match")
            continue
        number, _, verb, *fields = before.split(" ")
        out.append((int(number), verb, {k: unquote(v) for k, v in (f.split("=", 1) for f in fields)}))
    if not data.endswith(b"\n") and data:
        wrong.append("the file does not end with a line")
    numbers = [n for n, *_ in out]
    if numbers != list(range(1, len(numbers) + 1)):
        wrong.append(f"numbers do not rise by one: {numbers[:20]}")
    return out, wrong


def held(data, told, tried):
    """What is wrong with a ledger whose writers were told that these keys are done, and tried those."""
    found, wrong = lines(data)
    seen = Counter(f.get("key") for _, _, f in found if "key" in f)
    wrong += [f"told done and missing: {k}" for k in told if seen[k] == 0]
    wrong += [f"{n} times: {k}" for k, n in seen.items() if n > 1]
    wrong += [f"nobody wrote {k}" for k in seen if k not in tried]
    return wrong


def bring(program, shelf, key, um=1.0, **more):
    words = [str(program), "shelf", str(shelf), "bring", "--film", "straw", "--roll", str(um), "--key", key]
    return subprocess.Popen(words, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, **more)


def tear(path, rng):
    """What a loss of power leaves: the last line cut at a byte, or zeros where it was to be."""
    data = path.read_bytes()
    last = data[:-1].rfind(b"\n") + 1
    kind = rng.choice(["cut", "zeros", "new", "none"])
    if kind == "cut" and len(data) > last:
        # The line was told done, so its writer asks again: what it is told afterwards counts.
        key = lines(data)[0][-1][2].get("key")
        path.write_bytes(data[: rng.randrange(last, len(data))])
        return key
    if kind == "zeros":
        path.write_bytes(data + b"\0" * rng.randrange(1, 200))
    if kind == "new":
        whole = data[last:].rstrip(b"\n")
        path.write_bytes(data + whole[: rng.randrange(0, max(1, len(whole) - 1))])
    return None


def campaign(a):
    rng = random.Random(a.seed)
    told, tried, kills, tears, written = set(), set(), 0, 0, 0
    bad = []
    with tempfile.TemporaryDirectory() as tmp:
        shelf = Path(tmp) / "shelf"
        for i in range(a.count):
            keys = [f"r{i}w{w}" for w in range(2)]
            tried.update(keys)
            running = [bring(a.program, shelf, k) for k in keys]
            kill = rng.random() < 0.5
            if kill:
                time.sleep(rng.random() * a.kill_within)
                rng.choice(running).send_signal(signal.SIGKILL)
                kills += 1
            for k, p in zip(keys, running):
                err = p.communicate(timeout=60)[1]
                if p.returncode == 0:
                    told.add(k)
                elif p.returncode != -signal.SIGKILL:
                    bad.append(f"{k}: exit {p.returncode} {err.decode()[:200]}")
            ledger = shelf / "shelf.txt"
            if ledger.is_file():
                wrong = held(ledger.read_bytes(), told, tried)
                # A writer that was killed may leave its line torn; the next one mends it.
                bad += [w for w in wrong if not kill]
                if rng.random() < 0.5:
                    lost = tear(ledger, rng)
                    tears += 1
                    if lost:
                        told.discard(lost)
            # Whatever stands there, the next line works, and asking again is harmless.
            again = rng.choice(keys)
            p = bring(a.program, shelf, again)
            err = p.communicate(timeout=60)[1]
            if p.returncode:
                bad.append(f"after a tear: exit {p.returncode} {err.decode()[:200]}")
            told.add(again)
        data = (shelf / "shelf.txt").read_bytes()
        bad += held(data, told, tried)
        written = len(lines(data)[0])
        bad += full(a, shelf, rng)
    with tempfile.TemporaryDirectory() as tmp:
        bad += race(a, Path(tmp))
    print(f"{a.count} rounds, {kills} kills, {tears} tears, {written} lines, {len(told)} told done: {len(bad)} wrong")
    for b in bad[:20]:
        print("  FAULT", b)
    return not bad


def full(a, shelf, rng):
    """A disk that is full after each number of bytes of a line: what stood there stands, and the next line works."""
    bad, ledger = [], shelf / "shelf.txt"
    steps = range(0, 90, 1 if a.count >= 100 else 13)
    for n in steps:
        before = ledger.read_bytes()
        size = len(before) + n

        def limited():
            signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
            resource.setrlimit(resource.RLIMIT_FSIZE, (size, size))

        p = bring(a.program, shelf, f"full{n}", preexec_fn=limited)
        err = p.communicate(timeout=60)[1]
        found, wrong = lines(ledger.read_bytes())
        if p.returncode == 0:
            bad += wrong
        elif p.returncode == 3:
            # Nothing of it may count; a torn tail may stand until the next line.
            bad += [f"full after {n}: {w}" for w in held(ledger.read_bytes(), set(), {None}) if "nobody wrote full" in w]
            if ledger.read_bytes()[: len(before)] != before:
                bad.append(f"full after {n} bytes: what stood there changed")
        else:
            bad.append(f"full after {n} bytes: exit {p.returncode} {err.decode()[:120]}")
        p = bring(a.program, shelf, f"after{n}")
        err = p.communicate(timeout=60)[1]
        found, wrong = lines(ledger.read_bytes())
        bad += [f"after a disk full after {n} bytes: {w}" for w in wrong]
        if p.returncode or not any(f.get("key") == f"after{n}" for _, _, f in found):
            bad.append(f"after a disk full after {n} bytes the next line does not work: {err.decode()[:120]}")
    print(f"a full disk at {len(list(steps))} places: {len(bad)} wrong")
    return bad


def race(a, tmp):
    """Two drop the same leftover at once: one wins."""
    bad = []
    art = tmp / "rest.svg"
    art.write_text('<svg xmlns="http://www.w3.org/2000/svg" width="50mm" height="40mm" viewBox="0 0 50 40"><path d="M0 0H50V40H0Z"/></svg>')
    for i in range(min(20, a.count)):
        shelf = tmp / f"s{i}"
        words = [str(a.program), "shelf", str(shelf)]
        subprocess.run([*words, "bring", "--film", "damson", "--left", str(art)], check=True, capture_output=True)
        drop = [*words, "drop", "--film", "damson", "--left", "rest.svg"]
        two = [subprocess.Popen(drop, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL) for _ in range(2)]
        codes = sorted(p.wait() for p in two)
        if codes != [0, 1]:
            bad.append(f"two who want one leftover: exits {codes}")
        bad += lines((shelf / "shelf.txt").read_bytes())[1]
    return bad


def self_test(a):
    with tempfile.TemporaryDirectory() as tmp:
        shelf = Path(tmp) / "shelf"
        keys = [f"k{i}" for i in range(6)]
        for k in keys:
            bring(a.program, shelf, k).communicate()
        data = (shelf / "shelf.txt").read_bytes()
        rows = data.splitlines(keepends=True)
        # Against a checker that sees nothing, and against the program itself, which must refuse or mend.
        damages = [
            ("a line lost", b"".join(rows[:2] + rows[3:])),
            ("a line doubled", b"".join(rows[:3] + rows[2:])),
            ("two lines swapped", b"".join([rows[1], rows[0], *rows[2:]])),
            ("a length edited", data.replace(b":1000 ", b":9000 ", 1)),
            ("a sum edited", data[:-2] + (b"0" if data[-2:-1] != b"0" else b"1") + b"\n"),
            ("a line that nobody wrote", data + rows[0].replace(b"1 ", b"7 ", 1)),
        ]
        missed = 0
        for what, text in damages:
            found = held(text, set(keys), set(keys))
            (shelf / "shelf.txt").write_bytes(text)
            code = subprocess.run([str(a.program), "shelf", str(shelf), "check"], capture_output=True).returncode
            ok = bool(found) and code == 1
            missed += not ok
            print("found " if ok else "MISSED", what, "-", (found or [""])[0], f"; the program's check: exit {code}")
        (shelf / "shelf.txt").write_bytes(data)
        clean = held(data, set(keys), set(keys))
        code = subprocess.run([str(a.program), "shelf", str(shelf), "check"], capture_output=True).returncode
        print("sound" if not clean and code == 0 else f"FALSE ALARM {clean} {code}")
        return missed == 0 and not clean and code == 0


def main():
    args = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    args.add_argument("program", type=Path)
    args.add_argument("--count", type=int, default=30)
    args.add_argument("--seed", type=int, default=1)
    args.add_argument("--kill-within", type=float, default=0.05, help="seconds")
    args.add_argument("--self-test", action="store_true")
    a = args.parse_args()
    a.program = a.program.resolve()
    sys.exit(0 if (self_test(a) if a.self_test else campaign(a)) else 1)


if __name__ == "__main__":
    main()
