#!/usr/bin/env python3
"""Could the artworks that a bend leaves with more nodes than they had have done with fewer? Asked of another program.

Usage: bend_bound.py [BENCH-BINARY]     (else `cargo bench --bench width` is called)
Needs numpy and scipy.

`cargo bench --bench width -- bend FILE` writes every artwork whose image along an arc has more segments than the artwork. For each
stretch between corners (or each smooth contour) this program looks for the chain of n cubics, smooth where they join, that comes
nearest to the exact image: scipy's trust-region least squares on rising powers of the residuals (2, 6, 18, 54), joints and handles
free, from several starts. The fewest n that stays within 0.01 mm is the bound; a corner may move by 0.01 mm besides, so a stretch
counts as settled only if one cubic, for which the search has four unknowns, is off by more than 0.02 mm with corners held; other
answers are marked `search`.
What stays within it at 90 samples a segment is searched again at 300: between coarse samples a chain can stray by some microns.
A search is no proof: it found nothing better. Ends with an error if our result has more segments than the bound.
"""
import math
import os
import re
import subprocess
import sys
import tempfile

import numpy as np
from scipy.optimize import least_squares

TOLERANCE = 0.01
STARTS = 4
COARSE, FINE = 90, 300
POWERS = [2, 6, 18, 54]


def segments(path):
    """Cubics of one closed contour of M, L, C, Z."""
    words, at, out, here, first, kind = re.findall(r"[MLCZ]|[-+0-9.e]+", path), 0, [], None, None, None

    def point():
        nonlocal at
        at += 2
        return np.array([float(words[at - 2]), float(words[at - 1])])

    def line(a, b):
        return np.array([a, a + (b - a) / 3, a + (b - a) * 2 / 3, b])

    while at < len(words):
        if words[at] in "MLCZ":
            kind = words[at]
            at += 1
        if kind == "M":
            here = first = point()
        elif kind == "L":
            p = point()
            out.append(line(here, p))
            here = p
        elif kind == "C":
            a, b, p = point(), point(), point()
            out.append(np.array([here, a, b, p]))
            here = p
        elif np.hypot(*(first - here)) > 1e-9:
            out.append(line(here, first))
            here = first
    return out


def basis(u):
    v = 1 - u
    return np.stack([v**3, 3 * u * v * v, 3 * u * u * v, u**3], 1)


def slope(u):
    v = 1 - u
    return np.stack([-3 * v * v, 3 * v * v - 6 * u * v, 6 * u * v - 3 * u * u, 3 * u * u], 1)


def along_arc(p, d, k):
    """The baseline laid along an arc of curvature k, distances from it kept: places, and directions."""
    x, y = p.T
    t = x * k
    s, c = np.sin(t), np.cos(t)
    sinc = lambda v: np.sinc(v / math.pi)
    stretch = 1 - y * k
    image = np.stack([x * sinc(t) - y * s, x * 0.5 * t * sinc(t / 2) ** 2 + y * c], 1)
    way = np.stack([stretch * c * d[:, 0] - s * d[:, 1], stretch * s * d[:, 0] + c * d[:, 1]], 1)
    return image, way / np.hypot(*way.T)[:, None]


def end_direction(seg, end):
    for d in [seg[1] - seg[0], seg[2] - seg[0], seg[3] - seg[0]] if end == 0 else [seg[3] - seg[2], seg[3] - seg[1], seg[3] - seg[0]]:
        if np.hypot(*d) > 1e-9:
            return d / np.hypot(*d)
    return np.array([1.0, 0.0])


def stretches(segs):
    """Between corners: lists of segments, and whether one closes smoothly on itself."""
    n = len(segs)
    sharp = []
    for k in range(n):
        u, v = end_direction(segs[k - 1], 1), end_direction(segs[k], 0)
        sharp.append(u @ v <= 0 or abs(u[0] * v[1] - u[1] * v[0]) >= 0.0087)
    if not any(sharp):
        return [(segs, True)]
    first = sharp.index(True)
    out = []
    for j in range(n):
        k = (first + j) % n
        if sharp[k]:
            out.append(([], False))
        out[-1][0].append(segs[k])
    return out


def image(segs, k, count):
    share = (1 - np.cos(np.linspace(0, math.pi, count + 1))) / 2
    places, ways = [], []
    for j, seg in enumerate(segs):
        d = slope(share) @ seg
        d[0], d[-1] = end_direction(seg, 0), end_direction(seg, 1)
        p, w = along_arc(basis(share) @ seg, d, k)
        places.append(p[min(j, 1):])
        ways.append(w[min(j, 1):])
    return np.concatenate(places), np.concatenate(ways)


class Chain:
    """n cubics; unknown are place, direction and arms of every joint, and the handles at held ends."""

    def __init__(self, places, ways, closed, cuts):
        self.places, self.ways, self.closed, self.n = places, ways, closed, len(cuts) - 1
        self.normals = np.stack([-ways[:, 1], ways[:, 0]], 1)
        length = np.concatenate([[0], np.cumsum(np.hypot(*np.diff(places, axis=0).T))])
        index = [int(np.argmin(abs(length - c * length[-1]))) for c in cuts]
        arms = []
        for a, b in zip(index, index[1:]):
            angle = np.unwrap(np.arctan2(ways[a:b + 1, 1], ways[a:b + 1, 0]))
            turn = min(np.abs(np.diff(angle)).sum(), 2.8)
            arms.append((length[b] - length[a]) * (4 / 3 * math.tan(turn / 4) / turn if turn > 0.1 else 1 / 3))
        start = []
        for q in range(0 if closed else 1, self.n):
            w = ways[index[q]]
            start += [*places[index[q]], math.atan2(w[1], w[0]), arms[q], arms[q - 1]]
        if not closed:
            start += [*(ways[0] * arms[0]), *(-ways[-1] * arms[-1])]
        self.start = np.array(start)
        self.cubic = np.clip(np.searchsorted(index, np.arange(len(places)), side="right") - 1, 0, self.n - 1)
        ends = length[np.array(index)]
        self.u = np.clip((length - ends[self.cubic]) / (ends[self.cubic + 1] - ends[self.cubic]), 0, 1)

    def controls(self, v):
        n, c = self.n, np.zeros((self.n, 4, 2))
        for j, (x, y, angle, ahead, back) in enumerate(v[: 5 * (n if self.closed else n - 1)].reshape(-1, 5)):
            p, t = np.array([x, y]), np.array([math.cos(angle), math.sin(angle)])
            before, after = ((j - 1) % n, j) if self.closed else (j, j + 1)
            c[before, 3], c[before, 2], c[after, 0], c[after, 1] = p, p - back * t, p, p + ahead * t
        if not self.closed:
            c[0, 0], c[0, 1] = self.places[0], self.places[0] + v[-4:-2]
            c[-1, 3], c[-1, 2] = self.places[-1], self.places[-1] + v[-2:]
        return c

    def feet(self, c, rounds):
        cubic, u = self.cubic.copy(), self.u.copy()
        for _ in range(rounds):
            at, speed = np.einsum("ni,nid->nd", basis(u), c[cubic]), np.einsum("ni,nid->nd", slope(u), c[cubic])
            step = np.einsum("nd,nd->n", self.places - at, speed) / np.maximum((speed**2).sum(1), 1e-12)
            u = u + np.clip(step, -0.1, 0.1)
            over, under = u > 1, u < 0
            if not self.closed:
                over &= cubic < self.n - 1
                under &= cubic > 0
            u = np.where(over, u - 1, np.where(under, u + 1, u))
            cubic = (cubic + over - under) % self.n
            u = np.clip(u, 0, 1)
        return cubic, u

    def gaps(self, v, rounds=6):
        c = self.controls(v)
        cubic, u = self.feet(c, rounds)
        return self.places - np.einsum("ni,nid->nd", basis(u), c[cubic])

    def best(self):
        v, least = self.start, math.inf
        for power in POWERS:
            gap = self.gaps(v, 20)
            scale = np.hypot(*gap.T).max()

            def residual(v):
                r = np.einsum("nd,nd->n", self.gaps(v), self.normals) / scale
                return np.sign(r) * np.abs(r) ** (power / 2)

            v = least_squares(residual, v, x_scale="jac", max_nfev=120).x
            self.cubic, self.u = self.feet(self.controls(v), 20)
            least = min(least, np.hypot(*self.gaps(v, 20).T).max())
        return least


def least_error(segs, closed, k, n, dice):
    """The least error found; a fine search follows if a coarse one came within the tolerance."""
    coarse = search(segs, closed, k, n, dice, COARSE)
    return search(segs, closed, k, n, dice, FINE) if coarse <= TOLERANCE else coarse


def search(segs, closed, k, n, dice, count):
    places, ways = image(segs, k, count)
    best = math.inf
    for attempt in range(STARTS):
        p, w = places, ways
        if closed and attempt:
            turn = dice.integers(1, len(p) // n)
            p, w = np.concatenate([p[turn:], p[1:turn + 1]]), np.concatenate([w[turn:], w[1:turn + 1]])
        inner = (np.arange(1, n) + (attempt > 0) * dice.uniform(-0.3, 0.3, n - 1)) / n
        try:
            best = min(best, Chain(p, w, closed, [0, *inner, 1]).best())
        except (ValueError, np.linalg.LinAlgError):
            continue
        if best <= TOLERANCE:
            break
    return best


def main():
    with tempfile.TemporaryDirectory() as folder:
        file = os.path.join(folder, "more")
        tail = ["bend", file]
        run = [sys.argv[1], *tail] if len(sys.argv) > 1 else ["cargo", "bench", "-q", "--bench", "width", "--", *tail]
        subprocess.run(run, check=True)
        lines = open(file).read().splitlines()
    dice, failed = np.random.default_rng(7), False
    for line in lines:
        name, radius, had, got, paths = line.split("\t")
        bound, says = 0, []
        for path in paths.split("|"):
            for segs, closed in stretches(segments(path)):
                for n in range(1, len(segs) + 4):
                    error = least_error(segs, closed, 1 / float(radius), n, dice)
                    if error <= TOLERANCE:
                        break
                    if n >= len(segs):
                        sure = "" if error > 2 * TOLERANCE and n == 1 else ", search"
                        says.append(f"{n} cubic{'s' if n > 1 else ''} for {len(segs)} off by {error:.4f}{sure}")
                bound += n
        failed |= int(got) > bound
        print(f"{name} along {radius} mm: had {had}, got {got}, at least {bound} ({'; '.join(says)})", flush=True)
    print(f"{len(lines)} artworks with more segments than they had")
    sys.exit(failed)


main()
