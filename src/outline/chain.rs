//! The best chain of a given number of cubics along a smooth way: all joints free.
//!
//! [`follow`](super::fit::follow) pins every joint to the way and its tangent, and takes as many cubics as
//! that needs. Here the number is given, and what is looked for is the chain that comes nearest: joints may
//! leave the way by the tolerance, turn, and slide along it, but stay smooth. Levenberg-Marquardt steps on
//! the residuals along the way's normals; the largest deviation is brought down through rising powers of the
//! residuals (2 to 256), whose least sums tend to the Chebyshev fit (Descloux, SIAM J. Numer. Anal. 11,
//! 1963).
//!
//! Imports: base, outline::{curve, fit}.

use super::curve::Seg;
use super::fit::{FitSample, Fitted, follow};
use crate::base::tolerance::LEAST_DIVISOR;
use kurbo::{CubicBez, ParamCurve, ParamCurveDeriv, Point, Vec2};
use std::f64::consts::SQRT_2;

/// Damping that a search begins with, as a share of each unknown's own weight (Levenberg and Marquardt).
const FIRST_DAMP: f64 = 1e-4;
/// Damping that successful steps never go below: almost Gauss and Newton's steps.
const LEAST_DAMP: f64 = 1e-9;
/// Damping that a failed step at least begins to raise from, so that a few failures suffice to leave the
/// smallest.
const RAISED_DAMP: f64 = 1e-6;
/// Share of its sum, for each power, that a step must gain for the search to go on: what is given up is less
/// than that.
const LEAST_GAIN: f64 = 1e-6;
/// Step of a cubic's parameter below which a sample's foot is found: its distance is off by the square of
/// that.
const FOOT_FOUND: f64 = 1e-7;
/// Share of the largest weight added to every unknown's, so that what nothing pulls at stays where it is.
const FLOOR_DAMP: f64 = 1e-6;
/// Turn of a whole stretch, radians, that shares of it are at least taken of: a straight one is shared out by
/// length.
const LEAST_TURN: f64 = 1e-9;

/// More cubics than this are no longer looked at together.
pub(super) const MOST: usize = 24;
/// Steps at one power at most.
const STEPS: usize = 40;
/// The powers.
const POWERS: [i32; 6] = [2, 6, 18, 54, 128, 256];
/// Unknowns of a joint: place, direction, arm ahead, arm back; at a corner place and both handles.
const JOINT: usize = 6;

/// A smooth way between two corners, or a whole contour.
#[derive(Clone, Copy, Debug)]
pub(super) struct SmoothStretch<'a> {
    /// At a corner within there are two samples, one for each direction.
    pub(super) samples: &'a [FitSample],
    /// Ends where it begins.
    pub(super) closed: bool,
    /// Of an open way. Corners at its ends: handles there may point anywhere. Else they keep the way's
    /// tangent.
    pub(super) free: [bool; 2],
    /// What kind of joint lies before each cubic, if not all are smooth.
    pub(super) kinds: &'a [Kind],
}

/// A kind of joint.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Kind {
    /// One direction.
    Smooth,
    /// Two.
    Corner,
    /// Two, and it stays where it is.
    Fixed,
}

/// A joint between two cubics: its handles lie on one line if it is smooth.
#[derive(Clone, Copy, Debug)]
struct Joint {
    p: Point,
    kind: Kind,
    /// Of a smooth joint.
    angle: f64,
    arms: [f64; 2],
    /// Of the others: ahead and back.
    handles: [Vec2; 2],
}

impl Joint {
    fn ahead(&self) -> Point {
        if self.kind == Kind::Smooth {
            self.p + unit(self.angle) * self.arms[0]
        } else {
            self.p + self.handles[0]
        }
    }
    fn back(&self) -> Point {
        if self.kind == Kind::Smooth {
            self.p - unit(self.angle) * self.arms[1]
        } else {
            self.p + self.handles[1]
        }
    }
}

/// What is varied: joints, and the handles at the ends of an open way.
#[derive(Clone, Debug)]
struct Chain {
    joints: Vec<Joint>,
    handles: [Vec2; 2],
}

/// Where a sample lies on the chain.
#[derive(Clone, Copy, Debug)]
struct ChainFoot {
    cubic: usize,
    u: f64,
}

/// As many cubics as `start` has, smooth where they join, and their largest distance from a sample; `start`
/// says which samples each follows at first. The search ends as soon as that is within `tolerance`. None if
/// there is nothing to search, or what is found runs back.
pub(super) fn chain(way: SmoothStretch, start: &[Fitted], tolerance: f64) -> Option<(Vec<CubicBez>, f64)> {
    let k = start.len();
    if k == 0 || k > MOST || way.samples.len() < 4 * k {
        return None;
    }
    let search = ChainSearch::new(way, start);
    let mut step = search.look(search.now.clone(), &search.feet);
    for power in POWERS {
        let mut damp = FIRST_DAMP;
        for _ in 0..STEPS {
            if step.worst <= tolerance {
                return step.told(way.samples);
            }
            let scale = step.worst;
            let before = sum(&step.off, scale, power);
            let mut gain = 0.0;
            for _ in 0..9 {
                let next = search.stepped(&step, power, damp).map(|c| search.look(c, &step.feet));
                let after = next.as_ref().map_or(f64::INFINITY, |n| sum(&n.off, scale, power));
                if let Some(next) = next.filter(|_| after < before) {
                    (gain, step) = (1.0 - after / before, next);
                    damp = (damp * 0.2).max(LEAST_DAMP);
                    break;
                }
                damp = 6.0 * damp.max(RAISED_DAMP);
            }
            if gain < LEAST_GAIN * f64::from(power) {
                break;
            }
        }
    }
    step.told(way.samples)
}

/// The sum of the residuals' powers.
fn sum(off: &[f64], scale: f64, power: i32) -> f64 {
    off.iter().map(|r| (r.abs() / scale).powi(power)).sum()
}

/// A chain looked at: its cubics, every sample's foot, how far off along the normal, and the largest
/// distance.
struct Look {
    chain: Chain,
    cubics: Vec<CubicBez>,
    feet: Vec<ChainFoot>,
    off: Vec<f64>,
    worst: f64,
}

impl Look {
    /// The cubics and how far they stray, if they go forward throughout: feet in order, and between them the
    /// way of the samples.
    fn told(self, samples: &[FitSample]) -> Option<(Vec<CubicBez>, f64)> {
        let ahead = self.feet.windows(2).zip(samples.windows(2)).all(|(f, s)| {
            let (a, b) = (f[0], f[1]);
            let c = self.cubics[a.cubic].deriv();
            let way = s[0].t + s[1].t;
            a.cubic != b.cubic
                || (b.u >= a.u
                    && (0..=4).all(|k| {
                        let u = a.u + (b.u - a.u) * f64::from(k) / 4.0;
                        c.eval(u).to_vec2().dot(way) > 0.0
                    }))
        });
        ahead.then_some((self.cubics, self.worst))
    }
}

struct ChainSearch<'a> {
    way: SmoothStretch<'a>,
    count: usize,
    now: Chain,
    feet: Vec<ChainFoot>,
    /// Joints that are corners, and where they belong.
    corners: Vec<(usize, Point)>,
}

impl<'a> ChainSearch<'a> {
    fn new(way: SmoothStretch<'a>, start: &[Fitted]) -> Self {
        let count = start.len();
        let cubics: Vec<CubicBez> = start.iter().map(|(seg, ..)| cubic(seg)).collect();
        let joint = |i: usize| {
            let (a, b) = (&cubics[(i + count - 1) % count], &cubics[i]);
            let (u, v) = (a.p3 - a.p2, b.p1 - b.p0);
            let mean = u / u.hypot().max(LEAST_DIVISOR) + v / v.hypot().max(LEAST_DIVISOR);
            let kind = way.kinds.get(i).copied().unwrap_or(Kind::Smooth);
            let (angle, arms) = (libm::atan2(mean.y, mean.x), [v.hypot(), u.hypot()]);
            Joint { p: b.p0, kind, angle, arms, handles: [v, -u] }
        };
        let first = usize::from(!way.closed);
        let joints = (first..count).map(joint).collect();
        let (a, z) = (cubics[0], cubics[count - 1]);
        let mut feet = Vec::with_capacity(way.samples.len());
        let mut i = 0;
        for (n, s) in way.samples.iter().enumerate() {
            while i + 1 < count && n > start[i].2 {
                i += 1;
            }
            let (from, to) = (way.samples[start[i].1].s, way.samples[start[i].2].s);
            feet.push(ChainFoot {
                cubic: i,
                u: ((s.s - from) / (to - from).max(LEAST_DIVISOR)).clamp(0.0, 1.0),
            });
        }
        let corner = |i: &usize| way.kinds.get(*i) == Some(&Kind::Corner);
        let corners = (first..count).filter(corner).map(|i| (i - first, way.samples[start[i].1].p)).collect();
        ChainSearch { way, count, now: Chain { joints, handles: [a.p1 - a.p0, z.p2 - z.p3] }, feet, corners }
    }
    /// Which joint lies at the start of a cubic; none at the start of an open way. The joint at its end
    /// likewise.
    fn joints_of(&self, cubic: usize) -> [Option<usize>; 2] {
        if self.way.closed {
            [Some(cubic), Some((cubic + 1) % self.count)]
        } else {
            [cubic.checked_sub(1), (cubic + 1 < self.count).then_some(cubic)]
        }
    }
    fn cubics(&self, chain: &Chain) -> Vec<CubicBez> {
        let last = self.way.samples.len() - 1;
        let ends = [self.way.samples[0].p, self.way.samples[last].p];
        let one = |i: usize| {
            let [a, b] = self.joints_of(i).map(|j| j.map(|j| chain.joints[j]));
            let (p0, p1) = match a {
                Some(j) => (j.p, j.ahead()),
                None => (ends[0], ends[0] + chain.handles[0]),
            };
            let (p3, p2) = match b {
                Some(j) => (j.p, j.back()),
                None => (ends[1], ends[1] + chain.handles[1]),
            };
            CubicBez::new(p0, p1, p2, p3)
        };
        (0..self.count).map(one).collect()
    }
    /// Feet of all samples, looked for from where they were.
    fn look(&self, chain: Chain, from: &[ChainFoot]) -> Look {
        let cubics = self.cubics(&chain);
        let speeds: Vec<_> = cubics.iter().map(ParamCurveDeriv::deriv).collect();
        let mut feet = Vec::with_capacity(from.len());
        let mut off = Vec::with_capacity(from.len());
        let mut worst = 0f64;
        for (s, f) in self.way.samples.iter().zip(from) {
            let mut f = *f;
            for _ in 0..5 {
                let v = speeds[f.cubic].eval(f.u).to_vec2();
                let step = (s.p - cubics[f.cubic].eval(f.u)).dot(v) / v.hypot2().max(LEAST_DIVISOR);
                f = self.onward(f, step.clamp(-0.2, 0.2));
                if step.abs() < FOOT_FOUND {
                    break;
                }
            }
            let gap = s.p - cubics[f.cubic].eval(f.u);
            worst = worst.max(gap.hypot());
            off.push(gap.dot(normal(s)));
            feet.push(f);
        }
        // Corners may move by as much as the rest strays: within a square in that circle.
        for &(j, p) in &self.corners {
            let gap = p - chain.joints[j].p;
            worst = worst.max(gap.hypot());
            off.extend([gap.x * SQRT_2, gap.y * SQRT_2]);
        }
        Look { chain, cubics, feet, off, worst }
    }
    /// A foot moved along the chain, over a joint if need be.
    fn onward(&self, f: ChainFoot, step: f64) -> ChainFoot {
        let u = f.u + step;
        let n = self.count;
        let may = |joint: Option<usize>| joint.is_some_and(|j| self.now.joints[j].kind == Kind::Smooth);
        let [before, after] = self.joints_of(f.cubic);
        if u > 1.0 && may(after) {
            return ChainFoot { cubic: (f.cubic + 1) % n, u: (u - 1.0).min(0.2) };
        }
        if u < 0.0 && may(before) {
            return ChainFoot { cubic: (f.cubic + n - 1) % n, u: (u + 1.0).max(0.8) };
        }
        ChainFoot { cubic: f.cubic, u: u.clamp(0.0, 1.0) }
    }
    /// The unknowns of a joint, or of an end's handle, begin here.
    fn place(&self, joint: usize) -> usize {
        JOINT * joint + if self.way.closed { 0 } else { 4 }
    }
    fn unknowns(&self) -> usize {
        JOINT * (self.count - usize::from(!self.way.closed)) + if self.way.closed { 0 } else { 4 }
    }
    /// How a residual changes with the unknowns: (number, share).
    fn row(&self, chain: &Chain, f: &ChainFoot, n: Vec2, row: &mut Vec<(usize, f64)>) {
        row.clear();
        let (u, v) = (f.u, 1.0 - f.u);
        let b = [v * v * v, 3.0 * u * v * v, 3.0 * u * u * v, u * u * u];
        let last = self.way.samples.len() - 1;
        for (side, joint) in self.joints_of(f.cubic).into_iter().enumerate() {
            let (at, arm) = if side == 0 { (b[0] + b[1], b[1]) } else { (b[3] + b[2], b[2]) };
            let Some(j) = joint else {
                let i = 2 * side;
                let t = self.way.samples[if side == 0 { 0 } else { last }].t;
                if self.way.free[side] {
                    row.extend([(i, arm * n.x), (i + 1, arm * n.y)]);
                } else {
                    row.push((i, arm * t.dot(n)));
                }
                continue;
            };
            let (joint, i) = (chain.joints[j], self.place(j));
            if joint.kind != Kind::Fixed {
                row.extend([(i, at * n.x), (i + 1, at * n.y)]);
            }
            if joint.kind != Kind::Smooth {
                row.extend([(i + 2 + 2 * side, arm * n.x), (i + 3 + 2 * side, arm * n.y)]);
                continue;
            }
            let t = unit(joint.angle);
            let across = Vec2::new(-t.y, t.x).dot(n);
            let sign = if side == 0 { 1.0 } else { -1.0 };
            row.extend([
                (i + 2, sign * joint.arms[side] * arm * across),
                (i + 3 + side, sign * arm * t.dot(n)),
            ]);
        }
    }
    /// One Levenberg-Marquardt step.
    fn stepped(&self, look: &Look, power: i32, damp: f64) -> Option<Chain> {
        let size = self.unknowns();
        let mut m = vec![0.0; size * size];
        let mut right = vec![0.0; size];
        let mut row = Vec::with_capacity(2 * JOINT);
        let mut weigh = |row: &[(usize, f64)], r: f64| {
            // Newton's step for a sum of powers p: the second derivative has p - 1 times the weight of the
            // first.
            let w = (r.abs() / look.worst).max(1e-3).powi(power - 2);
            let r = r / f64::from(power - 1);
            for &(i, x) in row {
                right[i] += w * x * r;
                for &(k, y) in row {
                    m[i * size + k] += w * x * y;
                }
            }
        };
        for ((s, f), r) in self.way.samples.iter().zip(&look.feet).zip(&look.off) {
            self.row(&look.chain, f, normal(s), &mut row);
            weigh(&row, *r);
        }
        for ((j, _), r) in self.corners.iter().zip(look.off[self.way.samples.len()..].chunks(2)) {
            let i = self.place(*j);
            weigh(&[(i, SQRT_2)], r[0]);
            weigh(&[(i + 1, SQRT_2)], r[1]);
        }
        let most = (0..size).fold(0.0f64, |a, i| a.max(m[i * size + i]));
        for i in 0..size {
            m[i * size + i] += damp * m[i * size + i] + FLOOR_DAMP * most;
        }
        let by = cholesky(m, right)?;
        let mut chain = look.chain.clone();
        if !self.way.closed {
            let last = self.way.samples.len() - 1;
            for (side, end) in [0, last].into_iter().enumerate() {
                let (x, y) = (by[2 * side], by[2 * side + 1]);
                let t = self.way.samples[end].t;
                chain.handles[side] += if self.way.free[side] { Vec2::new(x, y) } else { t * x };
            }
        }
        for (j, joint) in chain.joints.iter_mut().enumerate() {
            let v = &by[self.place(j)..][..JOINT];
            joint.p += Vec2::new(v[0], v[1]);
            if joint.kind != Kind::Smooth {
                joint.handles[0] += Vec2::new(v[2], v[3]);
                joint.handles[1] += Vec2::new(v[4], v[5]);
                continue;
            }
            joint.angle += v[2];
            joint.arms[0] += v[3];
            joint.arms[1] += v[4];
            if !joint.arms.iter().all(|a| *a > 0.0) {
                return None;
            }
        }
        Some(chain)
    }
}

fn cubic(seg: &Seg) -> CubicBez {
    match seg {
        Seg::Line(a, b) => CubicBez::new(*a, a.lerp(*b, 1.0 / 3.0), a.lerp(*b, 2.0 / 3.0), *b),
        Seg::Cubic(c) => *c,
    }
}

fn unit(angle: f64) -> Vec2 {
    Vec2::new(libm::cos(angle), libm::sin(angle))
}

fn normal(s: &FitSample) -> Vec2 {
    Vec2::new(-s.t.y, s.t.x)
}

/// Solves a symmetric positive definite system; none if it is not.
pub(super) fn cholesky(mut m: Vec<f64>, mut right: Vec<f64>) -> Option<Vec<f64>> {
    let n = right.len();
    for i in 0..n {
        for k in 0..=i {
            let known: f64 = (0..k).map(|j| m[i * n + j] * m[k * n + j]).sum();
            let left = m[i * n + k] - known;
            if i == k {
                if !(left > 0.0 && left.is_finite()) {
                    return None;
                }
                m[i * n + i] = left.sqrt();
            } else {
                m[i * n + k] = left / m[k * n + k];
            }
        }
    }
    for i in 0..n {
        let known: f64 = (0..i).map(|k| m[i * n + k] * right[k]).sum();
        right[i] = (right[i] - known) / m[i * n + i];
    }
    for i in (0..n).rev() {
        let known: f64 = (i + 1..n).map(|k| m[k * n + i] * right[k]).sum();
        right[i] = (right[i] - known) / m[i * n + i];
    }
    right.iter().all(|v| v.is_finite()).then_some(right)
}

/// So many segments as a start, alike in length, in turn, or in both: `turn` is the turn's share.
pub(super) fn even(samples: &[FitSample], n: usize, turn: f64) -> Option<Vec<Fitted>> {
    let turned = |w: &[FitSample]| libm::atan2(w[0].t.cross(w[1].t), w[0].t.dot(w[1].t)).abs();
    let whole: f64 = samples.windows(2).map(turned).sum();
    let length = samples[samples.len() - 1].s;
    let share = |w: &[FitSample]| {
        turn * turned(w) / whole.max(LEAST_TURN) + (1.0 - turn) * (w[1].s - w[0].s) / length
    };
    let (mut sum, mut cuts) = (0.0, vec![0]);
    for (k, w) in samples.windows(2).enumerate() {
        sum += share(w);
        if cuts.len() < n && sum * n as f64 >= cuts.len() as f64 {
            cuts.push(k + 1);
        }
    }
    cuts.push(samples.len() - 1);
    let arc = |w: &[usize]| {
        let (a, b) = (&samples[w[0]], &samples[w[1]]);
        let turn: f64 = samples[w[0]..=w[1]].windows(2).map(turned).sum::<f64>().min(2.8);
        // An arc of a circle of this turn.
        let arm = (b.s - a.s) * if turn > 0.1 { 4.0 / 3.0 * libm::tan(turn / 4.0) / turn } else { 1.0 / 3.0 };
        (Seg::Cubic(CubicBez::new(a.p, a.p + a.t * arm, b.p - b.t * arm, b.p)), w[0], w[1])
    };
    (cuts.len() == n + 1 && cuts.windows(2).all(|w| w[0] < w[1])).then(|| cuts.windows(2).map(arc).collect())
}

/// So many segments as a start, by following the way as loosely as it takes.
pub(super) fn loose(samples: &[FitSample], n: usize, tolerance: f64) -> Option<Vec<Fitted>> {
    let (mut close, mut far) = (tolerance, tolerance);
    let mut found = None;
    for _ in 0..12 {
        far *= 2.0;
        let got = follow(samples, far);
        if got.len() <= n {
            found = Some(got);
            break;
        }
        close = far;
    }
    for _ in 0..5 {
        let m = (close * far).sqrt();
        let got = follow(samples, m);
        if got.len() <= n {
            (far, found) = (m, Some(got));
        } else {
            close = m;
        }
    }
    found
}

#[cfg(test)]
mod tests {
    use super::*;

    fn arc(turn: f64, n: usize) -> Vec<FitSample> {
        let at = |i: usize| {
            let a = turn * i as f64 / n as f64;
            let (s, c) = (libm::sin(a), libm::cos(a));
            FitSample { p: Point::new(c, s), t: Vec2::new(-s, c), s: a, at: 0 }
        };
        (0..=n).map(at).collect()
    }

    /// With its ends and their tangents held, the best cubic of a quarter circle is off by 1.96e-4 of the
    /// radius either way (Dokken, Daehlen, Lyche and Morken, CAGD 7, 1990).
    #[test]
    fn one_cubic_comes_as_near_to_a_quarter_circle_as_any_can() {
        let samples = arc(std::f64::consts::FRAC_PI_2, 200);
        let way = SmoothStretch { samples: &samples, closed: false, free: [false; 2], kinds: &[] };
        let start = even(&samples, 1, 0.5).unwrap();
        let (_, off) = chain(way, &start, 0.0).unwrap();
        assert!((1.93e-4..2.0e-4).contains(&off), "{off}");
    }

    /// A circle in four cubics: joints may leave it, so they come nearer than four quarters with held ends.
    #[test]
    fn free_joints_beat_held_ones_and_stay_smooth() {
        let samples = arc(std::f64::consts::TAU, 400);
        let way = SmoothStretch { samples: &samples, closed: true, free: [false; 2], kinds: &[] };
        let start = even(&samples, 4, 0.0).unwrap();
        let (cubics, off) = chain(way, &start, 0.0).unwrap();
        assert!(off < 1.5e-4, "{off}");
        for k in 0..4 {
            let (a, b) = (&cubics[k], &cubics[(k + 1) % 4]);
            let (u, v) = (a.p3 - a.p2, b.p1 - b.p0);
            assert!(u.cross(v).abs() < 1e-9 * u.hypot() * v.hypot() && u.dot(v) > 0.0);
            assert!((a.p3 - b.p0).hypot() < 1e-12);
        }
    }
}
