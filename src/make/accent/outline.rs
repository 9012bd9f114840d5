//! Closed curves of few nodes in plain numbers, for the inner loops of the fill.
//!
//! Imports: base, outline.

use crate::base::tolerance::ACCENT_FLATTEN;
pub(super) use crate::outline::plane::{V, add, cross, dot, len, mul, sub, unit};
use crate::outline::plane::{nearest_on_segment, points_box, ring_area, ring_contains};
use crate::outline::{BezPath, PathEl};
use std::f64::consts::TAU;

/// Share of a ball's squared radius within which a point counts as lying on it, not in it: balls err to the
/// larger.
const ON_BALL: f64 = 1e-9;

/// Cosine of the turn at a node from which on it is a corner: 25 degrees, above what a fiftieth of a segment of a
/// smooth curve turns.
const CORNER: f64 = 0.906_307_787_036_65;

/// A node of a closed curve and its two handles, all as points.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Node {
    pub into: V,
    pub at: V,
    pub out: V,
}

/// A closed curve of cubics, counter-clockwise but for the holes of a drawing.
#[derive(Clone, Debug, Default, PartialEq)]
pub(super) struct CubicLoop {
    pub nodes: Vec<Node>,
}

impl CubicLoop {
    /// From a closed path of lines and cubics; lines become cubics. Clockwise paths are turned round.
    pub fn from_path(path: &BezPath) -> CubicLoop {
        CubicLoop::as_drawn(path).counter_clockwise()
    }
    /// Turned round if it runs clockwise.
    pub fn counter_clockwise(mut self) -> CubicLoop {
        if ring_area(&self.ring(8)) < 0.0 {
            self.nodes.reverse();
            self.nodes.iter_mut().for_each(|n| std::mem::swap(&mut n.into, &mut n.out));
        }
        self
    }
    /// Does it turn at a node by more than [`CORNER`]?
    pub fn has_corners(&self) -> bool {
        (0..self.nodes.len()).any(|i| {
            let before =
                sub(self.nodes[i].at, self.point((i + self.nodes.len() - 1) % self.nodes.len(), 0.98));
            let after = sub(self.point(i, 0.02), self.nodes[i].at);
            dot(unit(before), unit(after)) < CORNER
        })
    }
    /// The same without being turned round: holes run clockwise.
    pub fn as_drawn(path: &BezPath) -> CubicLoop {
        let mut nodes: Vec<Node> = Vec::new();
        let line = |nodes: &mut Vec<Node>, to: V| {
            let Some(last) = nodes.last_mut() else { return };
            let from = last.at;
            last.out = add(from, mul(sub(to, from), 1.0 / 3.0));
            nodes.push(Node { into: add(from, mul(sub(to, from), 2.0 / 3.0)), at: to, out: to });
        };
        for el in path.elements() {
            match *el {
                PathEl::MoveTo(p) => nodes.push(Node { into: [p.x, p.y], at: [p.x, p.y], out: [p.x, p.y] }),
                PathEl::LineTo(p) => line(&mut nodes, [p.x, p.y]),
                PathEl::QuadTo(c, p) => {
                    let (from, c, to) = (nodes[nodes.len() - 1].at, [c.x, c.y], [p.x, p.y]);
                    let at = nodes.len() - 1;
                    nodes[at].out = add(from, mul(sub(c, from), 2.0 / 3.0));
                    nodes.push(Node { into: add(to, mul(sub(c, to), 2.0 / 3.0)), at: to, out: to });
                }
                PathEl::CurveTo(a, b, p) => {
                    let at = nodes.len() - 1;
                    nodes[at].out = [a.x, a.y];
                    nodes.push(Node { into: [b.x, b.y], at: [p.x, p.y], out: [p.x, p.y] });
                }
                PathEl::ClosePath => {
                    if let Some(first) = nodes.first().map(|n| n.at)
                        && nodes[nodes.len() - 1].at != first
                    {
                        line(&mut nodes, first);
                    }
                }
            }
        }
        if nodes.len() > 1 && nodes[0].at == nodes[nodes.len() - 1].at {
            let last = nodes.pop().map_or([0.0; 2], |n| n.into);
            nodes[0].into = last;
        }
        CubicLoop { nodes }
    }
    /// As a closed path.
    pub fn path(&self) -> BezPath {
        let mut path = BezPath::new();
        let at = |p: V| (p[0], p[1]);
        let Some(first) = self.nodes.first() else { return path };
        path.move_to(at(first.at));
        for i in 0..self.nodes.len() {
            let (a, b) = (&self.nodes[i], &self.nodes[(i + 1) % self.nodes.len()]);
            path.curve_to(at(a.out), at(b.into), at(b.at));
        }
        path.close_path();
        path
    }
    /// Every node and handle sent through a map.
    pub fn map(&self, f: impl Fn(V) -> V) -> CubicLoop {
        let nodes = self.nodes.iter().map(|n| Node { into: f(n.into), at: f(n.at), out: f(n.out) }).collect();
        CubicLoop { nodes }
    }
    /// The point of segment `i` at `t`.
    pub fn point(&self, i: usize, t: f64) -> V {
        let (a, b) = (&self.nodes[i], &self.nodes[(i + 1) % self.nodes.len()]);
        let w = bernstein(t);
        let mut p = [0.0; 2];
        for (w, q) in w.into_iter().zip([a.at, a.out, b.into, b.at]) {
            p = add(p, mul(q, w));
        }
        p
    }
    /// So many points a segment, nodes among them.
    pub fn ring(&self, steps: usize) -> Vec<V> {
        let mut out = Vec::with_capacity(self.nodes.len() * steps);
        for i in 0..self.nodes.len() {
            out.extend((0..steps).map(|k| self.point(i, k as f64 / steps as f64)));
        }
        out
    }
    /// Largest distance between the curve and the chords of `ring(steps)`, from points in the middle of each.
    pub fn sag(&self, steps: usize) -> f64 {
        let mut worst = 0.0f64;
        for i in 0..self.nodes.len() {
            for k in 0..steps {
                let at = |f: f64| self.point(i, (k as f64 + f) / steps as f64);
                let (a, m, b) = (at(0.0), at(0.5), at(1.0));
                let l = len(sub(b, a));
                let d = if l > 0.0 { cross(sub(b, a), sub(m, a)).abs() / l } else { len(sub(m, a)) };
                worst = worst.max(d);
            }
        }
        worst
    }
    /// Steps a segment whose chords stay within the tolerance of the fill at a size: the sag falls with their
    /// square.
    pub fn steps(&self, size: f64) -> usize {
        let sag = 1.1 * self.sag(4) * 16.0 * size;
        (libm::ceil((sag / ACCENT_FLATTEN.get()).sqrt()) as usize).clamp(2, 64)
    }
    /// A smooth curve of `count` nodes through a dense closed polyline; nodes crowd where it turns.
    pub fn through(dense: &[V], count: usize) -> CubicLoop {
        let n = dense.len();
        let turn = |i: usize| {
            let (a, b) =
                (unit(sub(dense[i], dense[(i + n - 1) % n])), unit(sub(dense[(i + 1) % n], dense[i])));
            libm::atan2(cross(a, b), dot(a, b)).abs()
        };
        let step = |i: usize| len(sub(dense[(i + 1) % n], dense[i]));
        let total: f64 = (0..n).map(step).sum();
        let turned: f64 = (0..n).map(turn).sum();
        // Half of the nodes are spread over the length, half over the turning, smoothed by the mix.
        let mut along = vec![0.0];
        for i in 0..n {
            let bend = (turn(i) + turn((i + 1) % n)) / 2.0;
            along.push(along[i] + step(i) / total + 0.9 * bend / turned);
        }
        let whole = along[n];
        let mut at = Vec::with_capacity(count + 1);
        let mut i = 0;
        for k in 0..count {
            let want = whole * k as f64 / count as f64;
            while along[i + 1] <= want {
                i += 1;
            }
            at.push(i as f64 + (want - along[i]) / (along[i + 1] - along[i]));
        }
        CubicLoop::through_at(dense, at)
    }
    /// The same with a node at each of these places of the polyline (corner number and part of the edge after
    /// it).
    pub fn through_at(dense: &[V], mut at: Vec<f64>) -> CubicLoop {
        let (n, count) = (dense.len(), at.len());
        let step = |i: usize| len(sub(dense[(i + 1) % n], dense[i]));
        let mut length = vec![0.0];
        for i in 0..n {
            length.push(length[i] + step(i));
        }
        let total = length[n];
        at.push(at[0] + n as f64);
        let here = |u: f64| {
            let (i, f) = (libm::floor(u) as usize, u - libm::floor(u));
            add(mul(dense[i % n], 1.0 - f), mul(dense[(i + 1) % n], f))
        };
        let arc = |u: f64| {
            let (i, f) = (libm::floor(u) as usize, u - libm::floor(u));
            if i >= n { total } else { length[i] + f * step(i) }
        };
        let tangent = |u: f64| {
            let i = libm::floor(u) as usize % n;
            let f = u - libm::floor(u);
            let t = |i: usize| unit(sub(dense[(i + 1) % n], dense[(i + n - 1) % n]));
            unit(add(mul(t(i), 1.0 - f), mul(t((i + 1) % n), f)))
        };
        let middle = |a: f64, b: f64| {
            let want = (arc(a) + arc(b)) / 2.0;
            let i = length.partition_point(|&l| l <= want).clamp(1, n) - 1;
            here(i as f64 + (want - length[i]) / step(i).max(f64::MIN_POSITIVE))
        };
        let mut nodes: Vec<Node> =
            at[..count].iter().map(|&u| Node { into: here(u), at: here(u), out: here(u) }).collect();
        for k in 0..count {
            let (u, v) = (at[k], at[k + 1]);
            let (p, q) = (nodes[k].at, nodes[(k + 1) % count].at);
            let (s, t) = (tangent(u), tangent(v));
            let arm = (arc(v) - arc(u)) / 3.0;
            let (a, b) = arms(p, q, s, t, arm, middle(u, v));
            nodes[k].out = add(p, mul(s, a));
            nodes[(k + 1) % count].into = sub(q, mul(t, b));
        }
        CubicLoop { nodes }
    }
}

/// Handle lengths that take the cubic through the middle of its arc, held near a third of the arc.
fn arms(p: V, q: V, s: V, t: V, arm: f64, middle: V) -> (f64, f64) {
    // C(1/2) = (p + q)/2 + 3/8 (a s - b t) = middle, least squares with a pull of 0.05 to the third.
    let want = sub(middle, mul(add(p, q), 0.5));
    let want = sub(want, mul(sub(s, t), 0.375 * arm));
    let (u, v) = (mul(s, 0.375), mul(t, -0.375));
    let pull = 0.02;
    let (a11, a12, a22) = (dot(u, u) + pull, dot(u, v), dot(v, v) + pull);
    let (b1, b2) = (dot(u, want), dot(v, want));
    let det = a11 * a22 - a12 * a12;
    let clamp = |d: f64| d.clamp(-0.6 * arm, 0.8 * arm);
    (arm + clamp((b1 * a22 - b2 * a12) / det), arm + clamp((b2 * a11 - b1 * a12) / det))
}

/// Cubic Bernstein weights.
#[inline]
pub(super) fn bernstein(t: f64) -> [f64; 4] {
    let s = 1.0 - t;
    [s * s * s, 3.0 * s * s * t, 3.0 * s * t * t, t * t * t]
}

/// Length of a closed polyline.
pub(super) fn perimeter(ring: &[V]) -> f64 {
    (0..ring.len()).map(|i| len(sub(ring[(i + 1) % ring.len()], ring[i]))).sum()
}

/// Largest distance between two corners.
pub(super) fn extent(ring: &[V]) -> f64 {
    let mut best = 0.0f64;
    for (i, a) in ring.iter().enumerate() {
        for b in &ring[i + 1..] {
            let d = sub(*a, *b);
            best = best.max(dot(d, d));
        }
    }
    best.sqrt()
}

/// Middle and radius of the largest circle inside a ring: a pattern search, good to a thousandth of the size.
pub(super) fn incircle(ring: &[V]) -> (V, f64) {
    let n = ring.len();
    let depth = |p: V| {
        let d =
            (0..n).map(|i| nearest_on_segment(p, ring[i], ring[(i + 1) % n]).0).fold(f64::INFINITY, f64::min);
        if ring_contains(ring, p) { d.sqrt() } else { -d.sqrt() }
    };
    let [x0, y0, x1, y1] = points_box(ring);
    let (lo, hi) = ([x0, y0], [x1, y1]);
    let mut best = (mul(add(lo, hi), 0.5), f64::NEG_INFINITY);
    for i in 0..25 {
        let f = [f64::from(i % 5 + 1) / 6.0, f64::from(i / 5 + 1) / 6.0];
        let p = [lo[0] + f[0] * (hi[0] - lo[0]), lo[1] + f[1] * (hi[1] - lo[1])];
        let d = depth(p);
        if d > best.1 {
            best = (p, d);
        }
    }
    let mut step = (hi[0] - lo[0]).max(hi[1] - lo[1]) / 10.0;
    for _ in 0..18 {
        let mut moved = false;
        for k in 0..8 {
            let a = TAU * f64::from(k) / 8.0;
            let p = add(best.0, [step * libm::cos(a), step * libm::sin(a)]);
            let d = depth(p);
            if d > best.1 {
                best = (p, d);
                moved = true;
            }
        }
        if !moved {
            step *= 0.6;
        }
    }
    best
}

/// Cosine of the angle by which the two touches of a ball must at least differ, seen from its middle, for the
/// ball to stand at a narrow place: 100 degrees.
const OPPOSED: f64 = -0.173_648_177_666_930_35;
/// The same where a place between two sampled points must not be missed: 75 degrees. At a tight tip
/// neighbouring points lie up to 15 degrees apart as seen from the ball, on either side.
const WARY: f64 = 0.258_819_045_102_520_74;

/// Smallest width: twice the least radius of a circle inside that touches the outline at two places whose
/// directions from its middle differ by more than 100 degrees (shrinking balls; Ma, Bae and Choi 2012,
/// doi 10.1007/s00371-011-0594-7). Infinite where no such circle touches.
pub(super) fn width(ring: &[V]) -> f64 {
    least_ball(ring, f64::INFINITY, OPPOSED)
}

/// Is the smallest width at least `limit`? Wary: places that would only count at a slightly larger angle
/// count here.
pub(super) fn as_wide_as(ring: &[V], limit: f64) -> bool {
    least_ball(ring, limit, WARY) >= limit
}

/// The least width below `limit`, or the limit; see [`width`]. Every ball starts at what is still asked for:
/// where no point of the outline lies in it, that place is wide enough, and one look settles it.
fn least_ball(ring: &[V], limit: f64, opposed: f64) -> f64 {
    let n = ring.len();
    let mut least = limit;
    let whole = 2.0 * extent(ring);
    let crowd = PointBlocks::new(ring);
    for i in 0..n {
        let (a, b) = (ring[i], ring[(i + 1) % n]);
        let m = mul(add(a, b), 0.5);
        let t = unit(sub(b, a));
        // Counter-clockwise: the inside is to the left.
        let inward = [-t[1], t[0]];
        let mut r = least.min(whole) / 2.0;
        let mut touch = None;
        for _ in 0..40 {
            // The ends of its own edge lie outside every ball that touches the edge's middle.
            let Some(q) = crowd.deepest(add(m, mul(inward, r)), r * r * (1.0 - ON_BALL)) else { break };
            let d = sub(q, m);
            let along = dot(inward, d);
            if along <= 0.0 {
                break;
            }
            r = dot(d, d) / (2.0 * along);
            touch = Some(q);
        }
        let c = add(m, mul(inward, r));
        if touch.is_some_and(|touch| dot(unit(sub(m, c)), unit(sub(touch, c))) < opposed) {
            least = least.min(2.0 * r);
        }
    }
    least
}

/// Points by eight, each eight with its box.
struct PointBlocks<'a> {
    points: &'a [V],
    boxes: Vec<(V, V)>,
}

impl PointBlocks<'_> {
    fn new(points: &[V]) -> PointBlocks<'_> {
        let around = |eight: &[V]| {
            let [x0, y0, x1, y1] = points_box(eight);
            ([x0, y0], [x1, y1])
        };
        PointBlocks { points, boxes: points.chunks(8).map(around).collect() }
    }
    /// The point nearest to a middle, if its squared distance is below a limit.
    fn deepest(&self, c: V, limit: f64) -> Option<V> {
        let mut best = (limit, None);
        for ((lo, hi), eight) in self.boxes.iter().zip(self.points.chunks(8)) {
            let off = [c[0] - c[0].clamp(lo[0], hi[0]), c[1] - c[1].clamp(lo[1], hi[1])];
            if dot(off, off) < best.0 {
                for p in eight {
                    let d = sub(*p, c);
                    if dot(d, d) < best.0 {
                        best = (dot(d, d), Some(*p));
                    }
                }
            }
        }
        best.1
    }
}
