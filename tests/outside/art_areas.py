#!/usr/bin/env python3
"""Areas of imported art against librsvg, an SVG renderer that shares no code with the one used here.

Sources: Debian package openclipart-svg (8,121 drawings, public domain) and librsvg2-tests (a subset of the W3C SVG 1.1
test suite and librsvg's own cases). Both are installed, never committed.

A drawing that frusta cuts exactly as drawn (nothing listed as not cut) is rendered at 4,000 pixels by rsvg-convert;
the covered part of the page must agree. Drawings with something listed, and those refused, are counted by kind.

    tests/outside/art_areas.py [how-many-of-each]
"""

import collections, io, json, pathlib, random, statistics, subprocess, sys

from PIL import Image

Image.MAX_IMAGE_PIXELS = None
ROOT = pathlib.Path(__file__).resolve().parents[2]
COLLECTIONS = {
    "openclipart": pathlib.Path("/usr/share/openclipart/svg"),
    "librsvg2-tests": pathlib.Path("/usr/libexec/installed-tests/RSVG/fixtures"),
}
PIXELS = 4000
# Coverage of thin art is read in steps of 1/255 along every edge; an area this small is compared in absolute terms.
SMALL = 1e-3


def covered(path: pathlib.Path) -> float | None:
    """Part of the page that librsvg paints, or None where it cannot."""
    run = subprocess.run(
        ["rsvg-convert", "--width", str(PIXELS), "--keep-aspect-ratio", str(path)], capture_output=True, timeout=120
    )
    if run.returncode or not run.stdout:
        return None
    alpha = Image.open(io.BytesIO(run.stdout)).convert("RGBA").getchannel("A")
    return sum(i * n for i, n in enumerate(alpha.histogram())) / 255 / (alpha.width * alpha.height)


def main() -> int:
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 80
    failed = False
    for name, folder in COLLECTIONS.items():
        files = sorted(p for p in folder.rglob("*.svg") if p.is_file())
        if not files:
            print(f"{name}: not installed")
            failed = True
            continue
        sample = random.Random(7).sample(files, min(count, len(files)))
        run = subprocess.run(
            ["cargo", "run", "-q", "--release", "--example", "art_areas"],
            input="\n".join(map(str, sample)), capture_output=True, text=True, cwd=ROOT, timeout=900, check=True,
        )
        rows = [json.loads(line) for line in run.stdout.splitlines()]
        assert len(rows) == len(sample), "every file gets an answer"
        kinds, errors = collections.Counter(), []
        for row in rows:
            kinds.update({row["fault"]} if "fault" in row else set(row["not_cut"]) or {"exactly as drawn"})
            if "fault" in row or row["not_cut"] or row["part"] is None:
                continue
            theirs = covered(pathlib.Path(row["path"]))
            if theirs:
                errors.append((abs(row["part"] - theirs) / max(theirs, SMALL), row["path"]))
        errors.sort()
        median = statistics.median(e for e, _ in errors)
        print(f"{name}: {len(rows)} drawings, {len(errors)} compared, median area error {median:.4%}, "
              f"90th percentile {errors[int(len(errors) * 0.9)][0]:.3%}; slowest {max(r['seconds'] for r in rows):.2f} s")
        for what, n in kinds.most_common():
            print(f"  {n:4} {what}")
        for error, path in errors[-5:]:
            print(f"  worst {error:.3%} {path}")
        failed |= median > 0.001
    return int(failed)


if __name__ == "__main__":
    sys.exit(main())
