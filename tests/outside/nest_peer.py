"""The published separation search (spyrrow, the binary of Gardeyn and Wauters' own program, from PyPI) and ours, on the
reference strip, in one run: length against wall time.

Usage: python tests/outside/nest_peer.py [SECONDS ...]      (needs spyrrow; builds the bench in release)
"""

import json
import pathlib
import subprocess
import sys
import time

import spyrrow

HERE = pathlib.Path(__file__).resolve().parents[2]


def instance():
    data = json.loads((HERE / "fixtures/nest/strip-mix.json").read_text())
    items = []
    for piece in data["pieces"]:
        # It takes no holes: they count as film, as they would for a maker who does not use them.
        ring = [tuple(p) for p in piece["outer"]]
        items.append(spyrrow.Item(piece["id"], ring + ring[:1], 1, None))
    # Spacing to the edge is 2 mm as between pieces: the strip inside it, and 2 mm at both ends of the length.
    return spyrrow.StripPackingInstance("strip-mix", data["strip_width"] - 2 * data["spacing"], items), data["spacing"]


def main():
    for seconds in [int(a) for a in sys.argv[1:]] or [5, 30]:
        strip, spacing = instance()
        start = time.time()
        config = spyrrow.StripPackingConfig(
            early_termination=False, total_computation_time=seconds, min_items_separation=spacing, seed=1
        )
        theirs = strip.solve(config)
        wall = time.time() - start
        print(f"published search, asked for {seconds} s: {theirs.width + 2 * spacing:.2f} mm in {wall:.1f} s", flush=True)
        ours = subprocess.run(
            ["cargo", "bench", "-q", "--bench", "nest", "--", "anytime", str(seconds)],
            cwd=HERE, capture_output=True, text=True, check=True,
        )
        print(ours.stdout, flush=True)


if __name__ == "__main__":
    main()
