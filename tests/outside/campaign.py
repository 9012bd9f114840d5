"""Many random jobs, made and measured; and kits damaged on purpose: what the scripts that measure kits share."""
import re
import shutil
import tempfile
from collections import Counter
from pathlib import Path

import shapely

import demo_kit
import random_jobs


def damaged(kit, damages, measure):
    """Measures copies of a kit, each with one damage (what, file, change of its text, kinds); all kinds found?"""
    missed, before = 0, Counter(k for k, _ in measure(kit).faults)
    for what, name, change, kinds in damages:
        with tempfile.TemporaryDirectory() as folder:
            copy = Path(folder) / "kit"
            shutil.copytree(kit, copy)
            demo_kit.edit(copy / name, change)
            now = Counter(k for k, _ in measure(copy).faults)
        # What is wrong with the kit already does not count.
        found = {k for k in now if now[k] > before[k]}
        missed += not kinds <= found
        print(f"{'found ' if kinds <= found else 'MISSED'}  {what}: asked for {sorted(kinds)}, found {sorted(found)}")
    print(f"{len(damages) - missed} of {len(damages)} damages found")
    return missed == 0


def measured(measure, kit, job, written):
    """The report of a kit; what cannot be measured is a violation, and does not end the campaign."""
    try:
        return measure(kit, job, written)
    except shapely.errors.GEOSException as e:
        report = demo_kit.Report()
        report.fault("measuring", str(e))
        return report


def kits(a, write, measure, ends=lambda totals: []):
    """Jobs of seeds `a.seed` on, written by `write(seed, folder)`, made by `a.what`, measured by `measure(kit, job,
    written)`; counts are summed (those that end in mm: the least), `ends` looks at the sums. All well?"""
    totals, kinds, outcomes, told, bad, least = Counter(), Counter(), Counter(), Counter(), [], {}
    for s in range(a.seed, a.seed + a.count):
        with tempfile.TemporaryDirectory() as tmp:
            job, kit = Path(tmp) / "job", Path(tmp) / "kit"
            written = write(s, job)
            code, said, _ = random_jobs.run([str(a.what.resolve()), "make", "-q", str(job), "--out", str(kit)], a.seconds)
            outcomes[f"make: exit {code}"] += 1
            told.update(set(re.findall(r"(?:fault|warning)\[([a-z/-]+)\]", said)))
            wrong = []
            if code not in (0, 1) or "promise-broken" in said:
                wrong = [("program", said.strip()[:400])]
            elif code == 0:
                report = measured(measure, kit, job, written)
                for what, n in report.counts.items():
                    if "mm" not in what.split(", ")[-1]:
                        totals[what] += n if not isinstance(n, float) else 0
                    elif what.startswith("least"):
                        least[what] = min(least.get(what, 99.0), n)
                wrong = report.faults
            if wrong:
                bad.append(s)
                kinds.update({k for k, _ in wrong})
                shown = Counter()
                for kind, says in wrong:
                    shown[kind] += 1
                    if shown[kind] <= 2:
                        print(f"VIOLATED seed {s} {kind}: {says}", flush=True)
                if a.keep:
                    shutil.copytree(job, a.keep / f"{s:04}", dirs_exist_ok=True)
    for what, n in (*sorted(outcomes.items()), *totals.items(), *least.items()):
        print(f"{n:>12}  {what}")
    for kind, n in told.most_common():
        print(f"{n:>12}  jobs told {kind}")
    for kind, n in kinds.most_common():
        print(f"{n:>12}  kits that violate {kind}")
    for says in ends(totals):
        print(f"VIOLATED {says}")
        bad.append(says)
    print(f"{len(bad)} of {a.count} jobs with violations: {bad[:40]}")
    return not bad


def many(args):
    """The options of a campaign."""
    args.add_argument("--job", type=Path)
    args.add_argument("--self-test", action="store_true")
    args.add_argument("--seed", type=int, default=1)
    args.add_argument("--count", type=int, default=6)
    args.add_argument("--seconds", type=float, default=120)
    args.add_argument("--keep", type=Path)
