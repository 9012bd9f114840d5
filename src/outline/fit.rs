//! Few lines and cubics through a densely sampled smooth curve: tangents kept, distance bounded, work
//! bounded.
//!
//! Between two corners a curve is known by [`FitSample`]s (point, tangent, arc length). The longest stretch
//! that one cubic with the curve's own end tangents can follow is found by doubling and halving; its two arm
//! lengths come from Gauss-Newton steps on the residuals along the curve's normals. Own code because kurbo's
//! `fit_to_bezpath` accepts hairpins and can run for ever (see DEVELOPERS.md).
//!
//! Imports: base, outline::curve.

use super::curve::Seg;
use crate::base::tolerance::NO_LENGTH;
use kurbo::{CubicBez, ParamCurve, ParamCurveDeriv, Point, Vec2};

/// How near a sample's parameter may come to an end of its cubic: samples between the ends never stand for
/// the ends.
const OFF_ENDS: f64 = 1e-6;
/// Added to the diagonal of the normal equations, so that they can be solved even if all is nought.
const LEAST_DAMP: f64 = 1e-9;
/// Share of the trace added to the diagonal of the normal equations: steps fall short by about that share.
const DAMP: f64 = 1e-6;

/// A place of the curve to be followed.
#[derive(Clone, Copy, Debug)]
pub(super) struct FitSample {
    pub(super) p: Point,
    /// Unit tangent in the sense of travel.
    pub(super) t: Vec2,
    /// Arc length so far.
    pub(super) s: f64,
    /// How many corners of the loop's polyline come before it.
    pub(super) at: usize,
}

/// A segment that stands for the samples from one number to another.
pub(super) type Fitted = (Seg, usize, usize);

/// Steps of Gauss-Newton before giving up.
const STEPS: usize = 8;
/// At most this many samples steer a fit; all of them judge it.
const STEERING: usize = 14;
/// Lines instead of cubics where the ends turn by less than this (radians, 0.2 degrees).
const STRAIGHT: f64 = 0.0035;
/// A single cubic turns by at most this much (radians).
const TURN: f64 = 2.2;

/// Lines and cubics that follow `run` within `tolerance` from its first sample to its last.
pub(super) fn follow(run: &[FitSample], tolerance: f64) -> Vec<Fitted> {
    let mut out = Vec::new();
    let mut i = 0;
    let mut guess = run.len();
    while i + 1 < run.len() {
        let (j, arms) = longest(run, i, guess, tolerance);
        let seg = match arms {
            Arms::Line => Seg::Line(run[i].p, run[j].p),
            Arms::Cubic(a, b) => Seg::Cubic(cubic(&run[i], &run[j], a, b)),
        };
        out.push((seg, i, j));
        guess = j - i;
        i = j;
    }
    out
}

#[derive(Clone, Copy, Debug)]
enum Arms {
    Line,
    Cubic(f64, f64),
}

fn cubic(from: &FitSample, to: &FitSample, a: f64, b: f64) -> CubicBez {
    CubicBez::new(from.p, from.p + from.t * a, to.p - to.t * b, to.p)
}

/// The last sample that one segment from sample `i` reaches.
fn longest(run: &[FitSample], i: usize, guess: usize, tolerance: f64) -> (usize, Arms) {
    let last = run.len() - 1;
    let limit = turn_limit(run, i);
    let mut good = (i + 1, try_one(run, i, i + 1, tolerance).unwrap_or(Arms::Line));
    let mut bad = limit + 1;
    let mut step = guess.max(2);
    // Doubling from the length that served last.
    let mut next = (i + step).min(limit);
    while next > good.0 {
        match try_one(run, i, next, tolerance) {
            Some(a) => {
                good = (next, a);
                if next == limit {
                    return good;
                }
                step *= 2;
                next = (i + step).min(limit);
            }
            None => {
                bad = next;
                break;
            }
        }
    }
    while bad > good.0 + 1 {
        let mid = good.0 + (bad - good.0).div_ceil(2);
        let mid = if mid >= bad { good.0 + 1 } else { mid };
        match try_one(run, i, mid, tolerance) {
            Some(a) => good = (mid, a),
            None => bad = mid,
        }
        // Close enough: the search need not be exact, only its outcome checked.
        if bad - good.0 <= (good.0 - i) / 24 {
            break;
        }
    }
    // What is left behind should not be a crumb: share the rest with the next segment.
    let left = last - good.0;
    if left > 0 && left < (good.0 - i) / 4 {
        let half = i + (last - i).div_ceil(2);
        if let Some(a) = try_one(run, i, half, tolerance)
            && try_one(run, half, last, tolerance).is_some()
        {
            return (half, a);
        }
    }
    good
}

/// The last sample to which the tangent turns by less than [`TURN`], all turns counted.
fn turn_limit(run: &[FitSample], i: usize) -> usize {
    let mut turned = 0.0;
    for k in i + 1..run.len() {
        turned += (run[k].t - run[k - 1].t).hypot();
        if turned > TURN {
            return (k - 1).max(i + 1);
        }
    }
    run.len() - 1
}

fn try_one(run: &[FitSample], i: usize, j: usize, tolerance: f64) -> Option<Arms> {
    let (from, to) = (&run[i], &run[j]);
    let chord = to.p - from.p;
    let length = to.s - from.s;
    let flat = chord.hypot();
    if length <= NO_LENGTH || flat <= NO_LENGTH {
        return (length <= tolerance).then_some(Arms::Line);
    }
    let dir = chord / flat;
    if from.t.cross(dir).abs() < STRAIGHT
        && to.t.cross(dir).abs() < STRAIGHT
        && from.t.dot(dir) > 0.0
        && to.t.dot(dir) > 0.0
    {
        let off = |s: &FitSample| (s.p - from.p).cross(dir).abs();
        if run[i + 1..j].iter().all(|s| off(s) < 0.3 * tolerance) {
            return Some(Arms::Line);
        }
    }
    if j == i + 1 {
        let arm = length / 3.0;
        // Neighbours: nothing between to check against but the chord.
        let bulge = arm * (from.t.cross(dir).abs().max(to.t.cross(dir).abs()));
        let ahead = from.t.dot(dir) > 0.2 && to.t.dot(dir) > 0.2;
        return (ahead && bulge < 2.0 * tolerance).then_some(Arms::Cubic(arm, arm));
    }
    let (a, b) = arms(run, i, j, tolerance)?;
    let c = cubic(from, to, a, b);
    (leads_on(&c, from.t + to.t) && holds(&c, &run[i..=j], tolerance)).then_some(Arms::Cubic(a, b))
}

/// Does a cubic never run back? Its derivative is a mean of the control polygon's sides: if those go forward,
/// so does it. Without this a cubic may run past its end and come back over itself, near all samples all the
/// same.
fn leads_on(c: &CubicBez, way: Vec2) -> bool {
    [c.p1 - c.p0, c.p2 - c.p1, c.p3 - c.p2].iter().all(|side| side.dot(way) > 0.0)
}

/// Arm lengths by Gauss-Newton on the normal residuals r = (P - C(u)) . N, with
/// dr/da = -3 u (1 - u)^2 T0 . N and dr/db = 3 u^2 (1 - u) T1 . N; u follows by Newton's steps between.
fn arms(run: &[FitSample], i: usize, j: usize, tolerance: f64) -> Option<(f64, f64)> {
    let (from, to) = (&run[i], &run[j]);
    let length = to.s - from.s;
    let inner = j - i - 1;
    let count = inner.min(STEERING);
    let mut pick = [0usize; STEERING];
    let mut u = [0f64; STEERING];
    for k in 0..count {
        pick[k] = i + 1 + (k * inner + inner / 2) / count;
        u[k] = (run[pick[k]].s - from.s) / length;
    }
    let turn = libm::atan2(from.t.cross(to.t), from.t.dot(to.t)).abs();
    let start = if turn > 0.1 { 4.0 / 3.0 * libm::tan(turn / 4.0) / turn } else { 1.0 / 3.0 };
    let (mut a, mut b) = (length * start, length * start);
    let mut last = f64::INFINITY;
    for step in 0..STEPS {
        let c = cubic(from, to, a, b);
        let d = c.deriv();
        let (mut aa, mut ab, mut bb, mut ar, mut br, mut worst) = (0.0, 0.0, 0.0, 0.0, 0.0, 0f64);
        for k in 0..count {
            let s = &run[pick[k]];
            let v = d.eval(u[k]).to_vec2();
            // Newton for the parameter whose point lies on the sample's normal.
            let along = v.dot(s.t);
            if along > 1e-3 * length {
                u[k] = (u[k] + (s.p - c.eval(u[k])).dot(s.t) / along).clamp(OFF_ENDS, 1.0 - OFF_ENDS);
            }
            let n = Vec2::new(-s.t.y, s.t.x);
            let r = (s.p - c.eval(u[k])).dot(n);
            let w = 1.0 - u[k];
            let (ja, jb) = (3.0 * u[k] * w * w * from.t.dot(n), -3.0 * u[k] * u[k] * w * to.t.dot(n));
            aa += ja * ja;
            ab += ja * jb;
            bb += jb * jb;
            ar += ja * r;
            br += jb * r;
            worst = worst.max(r.abs());
        }
        if worst < 0.25 * tolerance || (step > 2 && worst < tolerance * 0.8 && worst > 0.9 * last) {
            break;
        }
        // Hopeless: far off after the first corrections and not getting better.
        if step > 1 && worst > 3.0 * tolerance && worst > 0.7 * last {
            return None;
        }
        last = worst;
        let damp = LEAST_DAMP + DAMP * (aa + bb);
        let det = (aa + damp) * (bb + damp) - ab * ab;
        if det <= 0.0 || !det.is_finite() {
            return None;
        }
        let da = (ar * (bb + damp) - br * ab) / det;
        let db = (br * (aa + damp) - ar * ab) / det;
        a = (a + da).clamp(0.02 * length, 1.2 * length);
        b = (b + db).clamp(0.02 * length, 1.2 * length);
    }
    Some((a, b))
}

/// Does the cubic pass every sample within the tolerance, going the same way?
fn holds(c: &CubicBez, run: &[FitSample], tolerance: f64) -> bool {
    let d = c.deriv();
    let (s0, length) = (run[0].s, run[run.len() - 1].s - run[0].s);
    let mut shift = 0.0;
    for s in &run[1..run.len() - 1] {
        let plain = (s.s - s0) / length;
        let mut u = (plain + shift).clamp(0.0, 1.0);
        for _ in 0..3 {
            let along = d.eval(u).to_vec2().dot(s.t);
            if along <= 0.05 * length {
                return false;
            }
            let off = (s.p - c.eval(u)).dot(s.t);
            u = (u + off / along).clamp(0.0, 1.0);
            if off.abs() < 0.1 * tolerance {
                break;
            }
        }
        shift = u - plain;
        if (s.p - c.eval(u)).hypot2() > tolerance * tolerance {
            return false;
        }
    }
    true
}

#[cfg(test)]
mod tests {
    use super::*;

    fn circle(r: f64, turn: f64, n: usize) -> Vec<FitSample> {
        (0..=n)
            .map(|i| {
                let a = turn * i as f64 / n as f64;
                FitSample {
                    p: Point::new(r * libm::cos(a), r * libm::sin(a)),
                    t: Vec2::new(-libm::sin(a), libm::cos(a)),
                    s: r * a,
                    at: 0,
                }
            })
            .collect()
    }

    /// The best G1 cubic of a quarter circle is off by 2.7e-4 of the radius (Goldapp, CAGD 8, 1991).
    #[test]
    fn a_circle_takes_four_cubics_at_most() {
        for (r, tol) in [(10.0, 0.01), (30.0, 0.01), (1.0, 0.001)] {
            let run = circle(r, std::f64::consts::TAU, 200);
            let got = follow(&run, tol);
            assert!(got.len() <= 4, "{} segments", got.len());
            for (seg, ..) in got {
                for k in 0..=50 {
                    let p = seg.at(f64::from(k) / 50.0);
                    assert!((p.to_vec2().hypot() - r).abs() <= tol * 1.01);
                }
            }
        }
    }

    #[test]
    fn a_straight_run_is_one_line() {
        let run: Vec<FitSample> = (0..50)
            .map(|i| FitSample {
                p: Point::new(f64::from(i), 0.0),
                t: Vec2::new(1.0, 0.0),
                s: f64::from(i),
                at: 0,
            })
            .collect();
        assert_eq!(follow(&run, 0.01).len(), 1);
    }
}
