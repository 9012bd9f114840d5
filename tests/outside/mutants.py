#!/usr/bin/env python3
"""Hostile jobs and drawings run through the program: it must neither panic nor hang, and always say what is wrong.

    mutants.py FRUSTA --seed S --count N [--keep DIR]     exit 1 on any violation

A random job (random_jobs.py) or the small demonstration job is damaged: numbers made extreme or of another kind, lines
torn out, doubled or mixed, characters of every kind put in (controls, bidirectional overrides, half a character of
UTF-8), names that lead out of the folder, drawings that are broken, hostile (entities, nesting, uses of uses, combs,
scribbles, coordinates without end) or empty. Held:
- exit codes 0, 1, 2, 3 only, no signal, no panic;
- a refusal says at least one fault with a code and a mend, and the code can be explained;
- no control or bidirectional override of the job reaches the terminal;
- a refusal takes at most 5 s of wall or 10 s of processor time, anything else 20 s of processor time, and 500 MB;
- `check --json` is JSON, its exit agrees, and `check` says 0 only if a dry run does too (every 8th mutant).
"""
import argparse
import json
import os
import re
import resource
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from collections import Counter
from pathlib import Path

import random_jobs
from random_jobs import Stream

NUMBERS = [
    "0", "-1", "1e9", "-1e9", "1e-9", "nan", "inf", "-inf", "1e308", "9223372036854775807", "9223372036854775808", "0x10", "1_000",
    "true", '""', '"1,5"', '"3 1/0 in"', '"\\u0000"', "[]", "{}", '"1e400 mm"', '"999999999999 m"', "500", "501", "0.0000001", "1979-05-27",
    '"mm"', "'\\'", '"½"', '"-0"', "-0.0", '"١٢"', "20000", "3.0000000000000000000000000001",
]
TEXTS = [
    '""', '"\\n"', '"\\u202e gold"', '"\\u0085"', '"\\u009b31m"', '"\\ufffe"', '"\\u200d\\u200d"', '"a\\u0301\\u0301\\u0301\\u0301"', '"שלום 2024"', '"' + "x" * 5000 + '"',
    '"../../etc/x.svg"', '"./art/x.svg"', '"/x.svg"', '"C:\\\\x.svg"', '"art"', '"art/"', '"."', '"con.svg"', '"job.toml"', '"\\u0000.svg"',
    '"\\U0001F353"', '"<script>"', '"</title><x"', '"&amp;\\"\'"', '"\\t"', '"%n%s"', '"\\u001b[31m"', '"' + "é" * 130 + '"', "12", "false", "[1]", '"q\\u2066w"',
]
RAW = [b"\x00", b"\xff", b"\xc3", b"\xef\xbb\xbf", b"\r", b"\x1b[2J", b"\xc2\x9b", b"\xe2\x80\xae", b"\xef\xbf\xbe", b"[[", b"]]", b"=", b'"', b"'''", b"{", b"}", b"#", b"\n", b",", b".", b"\xed\xa0\x80", b"[cup]\n", b"[[film]]\n"]


def svg(body, more='viewBox="0 0 100 100"'):
    return f'<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink" {more}>{body}</svg>'.encode()


def hostile_art(s):
    """A drawing that means harm: (name, bytes)."""
    n = s.pick([10, 100, 1000, 3000])
    coordinate = lambda: f"{s.between(0, 100):.3f}"
    kind = s.pick([
        "entities", "hidden-entity", "nested", "use-loop", "use-tree", "comb", "scribble", "far", "nan", "empty", "not-xml", "html", "image", "text", "doubled",
        "thin", "many", "clip", "mask", "pattern", "filter", "dash", "strokes", "marker", "style-bomb", "size-zero", "size-huge", "gz", "utf16", "switch", "foreign", "discs", "one-line",
    ])
    if kind == "entities":
        body = "<!DOCTYPE svg [" + '<!ENTITY a0 "' + "A" * 50 + '">' + "".join(f'<!ENTITY a{i} "{f"&a{i - 1};" * 10}">' for i in range(1, 9)) + "]>"
        return kind, body.encode() + svg("<text>&a8;</text>")
    if kind == "hidden-entity":
        return kind, ("<!DOCTYPE svg [<!-- <!ENTITY a ''> --><!ENTITY a '" + "A" * 3000 + "'>]>").encode() + svg("<text>" + "&a;" * 2000 + "</text>")
    if kind == "nested":
        return kind, svg("<g>" * (n * 3) + "<rect width='9' height='9'/>" + "</g>" * (n * 3))
    if kind == "use-loop":
        return kind, svg('<g id="a"><use xlink:href="#b"/></g><g id="b"><use xlink:href="#a"/><rect width="9" height="9"/></g>')
    if kind == "use-tree":
        return kind, svg("<defs><rect id='u0' width='1' height='1'/>" + "".join(f"<g id='u{i}'>" + f"<use href='#u{i - 1}' x='{i}'/>" * 8 + "</g>" for i in range(1, 8)) + "</defs><use href='#u7'/>")
    if kind == "comb":
        return kind, svg("<path d='M0 0" + "".join(f"L{i * 100 / n:.4f} {90 if i % 2 == 0 else 1}" for i in range(n)) + "L100 0Z'/>")
    if kind == "scribble":
        return kind, svg(f"<path fill-rule='{s.pick(['evenodd', 'nonzero'])}' d='M" + "L".join(f"{coordinate()} {coordinate()}" for _ in range(min(n, 1500))) + "Z'/>")
    if kind == "far":
        return kind, svg(f"<rect x='{s.pick(['1e7', '1e30', '-1e9'])}' width='9' height='9'/><rect width='9' height='9'/>")
    if kind == "nan":
        return kind, svg(f"<path d='M NaN 0 L 1e999 3 {s.pick(['Z', 'Q', 'A 1 1', 'L'])}'/><rect width='-4' height='5'/><circle r='NaN'/>")
    if kind == "empty":
        return kind, s.pick([b"", b"<svg/>", svg(""), svg("<g/>"), svg("<path d=''/>"), svg("<rect width='9' height='9' fill='none'/>")])
    if kind == "not-xml":
        return kind, bytes(s.u64() & 255 for _ in range(200))
    if kind == "html":
        return kind, b"<!doctype html><p>hello<br>"
    if kind == "image":
        return kind, svg("<image href='/etc/passwd' width='9' height='9'/><image href='data:image/png;base64,AAAA' width='9' height='9'/><rect width='3' height='3'/>")
    if kind == "text":
        return kind, svg("<text x='1' y='9'>Hello</text><rect width='9' height='9'/>")
    if kind == "doubled":
        return kind, svg("<path d='M0 0H50V50H0Z'/>" * n)
    if kind == "thin":
        return kind, svg("<path d='M0 0L100 0.0001L0 0.0002Z'/><path d='M0 0H1e-9V1e-9Z'/><rect width='100' height='1e-7'/><path d='M5 5L5 5L5 5Z'/>")
    if kind == "many":
        return kind, svg("".join(f"<circle cx='{coordinate()}' cy='{coordinate()}' r='1'/>" for _ in range(n)))
    if kind == "discs":
        return kind, svg("<path fill-rule='evenodd' d='" + "".join(f"M{coordinate()} {coordinate()}a20 20 0 1 0 .1 0Z" for _ in range(n // 10)) + "'/>")
    if kind == "clip":
        return kind, svg("<clipPath id='c'><rect width='50' height='50' clip-path='url(#c)'/></clipPath><rect clip-path='url(#c)' width='90' height='90'/>")
    if kind == "mask":
        return kind, svg("<mask id='m'><rect mask='url(#m)' width='50' height='50' fill='white'/></mask><rect mask='url(#m)' width='90' height='90'/>")
    if kind == "pattern":
        return kind, svg("<pattern id='p' width='1e-6' height='1e-6' patternUnits='userSpaceOnUse'><rect width='1' height='1' fill='url(#p)'/></pattern><rect fill='url(#p)' width='90' height='90'/>")
    if kind == "filter":
        return kind, svg("<filter id='f'><feGaussianBlur stdDeviation='1e6'/></filter><rect filter='url(#f)' width='90' height='90'/><rect filter='url(#gone)' width='20' height='20'/>")
    if kind == "dash":
        return kind, svg("<path d='M0 0L100 100' stroke='black' stroke-dasharray='0.001 0.001'/><path d='M0 50H100' stroke='black' stroke-dasharray='0 0'/>")
    if kind == "strokes":
        return kind, svg("<path fill='none' stroke='black' stroke-width='9' d='M" + "L".join(f"{coordinate()} {coordinate()}" for _ in range(n // 10)) + "'/>")
    if kind == "marker":
        return kind, svg("<marker id='k'><path d='M0 0H9V9Z' marker-end='url(#k)'/></marker><path d='M0 0" + "L9 9L0 9" * 300 + "' stroke='black' marker-mid='url(#k)'/>")
    if kind == "style-bomb":
        return kind, svg("<style>" + "*{fill:red}" * n + "@import url(x);@media print{*{fill:none}}g > * ~ rect:nth-child(2n+1)::before{}" + "</style><rect width='9' height='9'/>")
    if kind == "size-zero":
        return kind, svg("<rect width='9' height='9'/>", s.pick(["viewBox='0 0 0 0'", "width='0' height='0'", "width='-5' height='5' viewBox='0 0 1 1'", "viewBox='a b c d'", "width='1e-30' height='5' viewBox='0 0 1 1'"]))
    if kind == "size-huge":
        return kind, svg("<rect width='9' height='9'/>", s.pick(["width='1e30mm' height='1e30mm' viewBox='0 0 9 9'", "viewBox='0 0 1e-20 1e20'", "width='99999999in' height='1in' viewBox='0 0 9 9'"]))
    if kind == "gz":
        import gzip
        return kind, s.pick([gzip.compress(svg("<rect width='9' height='9'/>" + " " * 30_000_000)), b"\x1f\x8b\x08" + b"\x00" * 40, gzip.compress(svg("<rect width='9' height='9'/>"))[:-9]])
    if kind == "utf16":
        return kind, svg("<rect width='9' height='9'/>").decode().encode(s.pick(["utf-16", "utf-16-be", "utf-32", "latin-1"]))
    if kind == "switch":
        return kind, svg("<switch><g systemLanguage='xx'><rect width='9' height='9'/></g><circle r='5'/></switch><a href='x'><rect width='9' height='9'/></a><symbol id='s'><rect width='9' height='9'/></symbol>")
    if kind == "foreign":
        return kind, svg("<foreignObject><body xmlns='http://www.w3.org/1999/xhtml'>x</body></foreignObject><script>while(1);</script><animate attributeName='x'/><rect width='9' height='9'/>")
    return kind, svg("<path fill='none' stroke='#000' d='M0 0H90'/>")


def mutant(seed, folder):
    """Writes a damaged job; says what was done to it."""
    s = Stream(seed ^ 0x0BAD)
    if s.chance(0.3):
        shutil.copytree(random_jobs.HERE.parents[1] / "demo-data" / "first-cup", folder)
    else:
        random_jobs.write(s.whole(1, 4000), folder)
    done = []
    job = folder / "job.toml"
    data = job.read_bytes()
    for _ in range(s.pick([1, 1, 1, 2, 3])):
        lines = data.split(b"\n")
        # Most damage is found while the job is read; numbers that are only odd, and drawings, go deeper.
        kind = s.pick(["number", "text", "text", "raw", "drop", "double", "swap", "cut", "key", "nest", "many"] if s.chance(0.4) else ["odd", "odd", "odd", "art", "art", "art", "copies"])
        done.append(kind)
        if kind in ("number", "text"):
            pattern = rb"(?<![\w.#-])-?\d+(?:\.\d+)?(?![\w.-])" if kind == "number" else rb'"[^"\n]*"'
            found = list(re.finditer(pattern, data))
            if found:
                m, by = s.pick(found), s.pick(NUMBERS if kind == "number" else TEXTS)
                data = data[: m.start()] + by.encode() + data[m.end() :]
                done[-1] += f" {by[:30]}"
        elif kind == "odd":
            found = list(re.finditer(rb"(?<![\w.#-])\d+(?:\.\d+)?(?![\w.-])", data))
            if found:
                m, by = s.pick(found), s.pick([0.1, 0.3, 0.7, 1.5, 3, 10])
                data = data[: m.start()] + f"{float(m[0]) * by:.4g}".encode() + data[m.end() :]
                done[-1] += f" {m[0].decode()} times {by}"
        elif kind == "copies":
            data = re.sub(rb"^copies = \d+", f"copies = {s.pick([30, 120, 500])}".encode(), data, flags=re.M)
        elif kind == "raw":
            at = s.whole(0, len(data))
            data = data[:at] + s.pick(RAW) + data[at:]
        elif kind in ("drop", "double", "swap"):
            i, j = s.whole(0, len(lines) - 1), s.whole(0, len(lines) - 1)
            if kind == "drop":
                del lines[i]
            elif kind == "double":
                lines.insert(j, lines[i])
            else:
                lines[i], lines[j] = lines[j], lines[i]
            data = b"\n".join(lines)
        elif kind == "cut":
            at = s.whole(0, len(data))
            data = data[:at] if s.chance(0.5) else data[:at] + data[at + s.whole(1, 40) :]
        elif kind == "key":
            found = list(re.finditer(rb"^([a-z-]+) =", data, re.M))
            if found:
                m = s.pick(found)
                data = data[: m.start(1)] + s.pick([b"widht", b"film", b"a.b.c", b'"quoted key"', b"up", m[1] + b"s", m[1].replace(b"-", b"_"), m[1].upper()]) + data[m.end(1) :]
        elif kind == "nest":
            deep = s.pick([20, 200, 5000])
            data += b"\nx = " + s.pick([b"[" * deep + b"]" * deep, b"{a=" * deep + b"1" + b"}" * deep]) + b"\n"
        elif kind == "many":
            block = s.pick([
                b'\n[[motif]]\nart = "art/robin.svg"\nwidth = 20\n', b'\n[[accent]]\nfamily = "pebble"\nsmallest = 3\nlargest = 4\ngap = 1\n',
                b'\n[[film]]\nname = "more"\nsheet = [100, 100]\n', b'\n[[decal]]\ntext = "x"\nwidth = 20\nup = 50\nlayers = [{}]\n', b"\ncopies = 500\n",
            ])
            data += block * s.pick([1, 5, 60, 600])
        else:
            files = sorted((folder / "art").glob("*")) if (folder / "art").is_dir() else []
            if files:
                f = s.pick(files)
                old = f.read_bytes()
                way = s.pick(["hostile", "hostile", "hostile", "flip", "cut", "double"])
                if way == "hostile":
                    name, new = hostile_art(s)
                    way += " " + name
                elif way == "flip":
                    new = bytearray(old)
                    for _ in range(s.whole(1, 30)):
                        new[s.whole(0, len(new) - 1)] = s.u64() & 255
                elif way == "cut":
                    new = old[: s.whole(0, len(old))]
                else:
                    new = old.replace(b"</svg>", old[: len(old) // 2] + b"</svg>")
                f.write_bytes(bytes(new))
                done[-1] += f" {f.name} {way}"
    job.write_bytes(data)
    return "; ".join(done)


def measured(command, seconds, memory):
    """(exit code or "timeout" or "signal n", stdout, stderr, wall s, processor s, MB)."""

    def limits():
        resource.setrlimit(resource.RLIMIT_AS, (memory << 20, memory << 20))
        resource.setrlimit(resource.RLIMIT_CORE, (0, 0))

    start = time.monotonic()
    with tempfile.TemporaryFile() as out, tempfile.TemporaryFile() as err:
        child = subprocess.Popen(command, stdout=out, stderr=err, preexec_fn=limits, env={**os.environ, "NO_COLOR": "1"}, start_new_session=True)
        timed_out = False
        while True:
            pid, status, usage = os.wait4(child.pid, os.WNOHANG)
            if pid:
                break
            if time.monotonic() - start > seconds and not timed_out:
                timed_out = True
                os.kill(child.pid, signal.SIGKILL)
            time.sleep(0.005)
        child.returncode = 0
        took = time.monotonic() - start
        out.seek(0), err.seek(0)
        code = "timeout" if timed_out else f"signal {os.WTERMSIG(status)}" if os.WIFSIGNALED(status) else os.WEXITSTATUS(status)
        return code, out.read(), err.read(), took, usage.ru_utime + usage.ru_stime, usage.ru_maxrss / 1024


WILD = re.compile("[\x00-\x08\x0b-\x1f\x7f\x80-\x9f\u200e\u200f\u202a-\u202e\u2066-\u2069]")


def judge(frusta, folder, seconds, memory, explained, both):
    """What is wrong with how the program took this job: [(kind, says)], its exit, MB, processor seconds."""
    wrong = []
    code, out, err, took, cpu, mb = measured([frusta, "check", str(folder)], seconds, memory)
    said = (out + err).decode("utf-8", "replace")
    if code not in (0, 1, 2, 3):
        wrong.append((str(code), said[-200:]))
    if "panicked" in said or "defect of frusta" in said:
        wrong.append(("panic", said[:300]))
    if WILD.search(said):
        wrong.append(("control on the terminal", repr(WILD.search(said)[0])))
    if mb > 500:
        wrong.append(("memory", f"{mb:.0f} MB"))
    if code == 1 and (took > 5 and cpu > 10):
        wrong.append(("slow refusal", f"{took:.1f} s, {cpu:.1f} s of processor"))
    elif code == 0 and cpu > 20:
        wrong.append(("slow", f"{took:.1f} s, {cpu:.1f} s of processor"))
    if code in (1, 3):
        faults = re.findall(r"^fault\[([a-z-]+/[a-z-]+)\]:? *(.*)$", said, re.M)
        if not faults and code == 1:
            wrong.append(("no message", said[:200]))
        if "mend:" not in said and code == 1:
            wrong.append(("no mend", said[:300]))
        for f in {c for c, _ in faults} - explained:
            if subprocess.run([frusta, "explain", f], capture_output=True).returncode == 0:
                explained.add(f)
            else:
                wrong.append(("code not explained", f))
        if len(faults) > 60:
            wrong.append(("flood of messages", f"{len(faults)} faults"))
        if any(c in random_jobs.BROKEN for c, _ in faults):
            wrong.append(("promise broken", said[:300]))
    if both and isinstance(code, int):
        again, out, _, _, _, _ = measured([frusta, "check", "--json", str(folder)], seconds, memory)
        try:
            if json.loads(out)["exit"] != again or again != code:
                wrong.append(("json", f"exits {code} and {again}"))
        except (ValueError, KeyError) as e:
            wrong.append(("json", str(e)))
        with tempfile.TemporaryDirectory() as kit:
            made = measured([frusta, "make", "-q", str(folder), "--out", f"{kit}/kit"], seconds * 2, memory)
            if isinstance(made[0], int) and (made[0] == 0) != (code == 0):
                wrong.append(("check and make differ", f"check {code}, make {made[0]}: {made[2].decode('utf-8', 'replace')[:300]}"))
            elif made[0] not in (0, 1, 2, 3):
                wrong.append((f"make {made[0]}", made[2].decode("utf-8", "replace")[-200:]))
    return wrong, code, mb, cpu


def main():
    args = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    args.add_argument("frusta", type=Path)
    args.add_argument("--seed", type=int, default=1)
    args.add_argument("--count", type=int, default=60)
    args.add_argument("--seconds", type=float, default=30)
    args.add_argument("--memory", type=int, default=4096, help="limit of the address space, MB")
    args.add_argument("--keep", type=Path)
    a = args.parse_args()
    frusta, codes, kinds, explained, bad = str(a.frusta.resolve()), Counter(), Counter(), set(), 0
    most_mb = most_cpu = 0.0
    for seed in range(a.seed, a.seed + a.count):
        with tempfile.TemporaryDirectory() as tmp:
            folder = Path(tmp) / "job"
            done = mutant(seed, folder)
            wrong, code, mb, cpu = judge(frusta, folder, a.seconds, a.memory, explained, seed % 8 == 0)
            codes[f"exit {code}" if isinstance(code, int) else code] += 1
            most_mb, most_cpu = max(most_mb, mb), max(most_cpu, cpu)
            if wrong:
                bad += 1
                kinds.update({k for k, _ in wrong})
                print(f"VIOLATED mutant {seed} ({done}): " + " | ".join(f"{k}: {v.strip()[:160]}" for k, v in wrong), flush=True)
                if a.keep:
                    shutil.copytree(folder, a.keep / f"mutant-{seed}", dirs_exist_ok=True)
    for what, n in sorted(codes.items()):
        print(f"{n:>8}  {what}")
    for what, n in kinds.most_common():
        print(f"{n:>8}  violations: {what}")
    print(f"{most_mb:>8.0f}  MB at most; {most_cpu:.1f} s of processor at most")
    print(f"{bad} of {a.count} mutants violate something")
    sys.exit(1 if bad else 0)


if __name__ == "__main__":
    main()
