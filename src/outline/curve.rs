//! One segment of a contour, a line or a cubic, and what is asked of it: points, tangents, parts, nearest
//! places.
//!
//! Imports: base.

use crate::base::tolerance::{LEAST_DIVISOR, NO_LENGTH, SAME_PARAMETER};
use kurbo::{BezPath, CubicBez, ParamCurve, ParamCurveArclen, ParamCurveDeriv, PathSeg, Point, Vec2};

/// Share of a cubic's reach below which its derivative gives no direction: chords from there give it instead.
const NO_SPEED: f64 = 1e-7;
/// Share of a cubic's size below which its least speed is nought and the place is a cusp.
const CUSP: f64 = 1e-6;

/// Largest error of the length of a cubic, mm, either way.
pub(super) const LENGTH: f64 = 1e-4;

/// A line or a cubic; its parameter runs from 0 to 1.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Seg {
    Line(Point, Point),
    Cubic(CubicBez),
}

impl Seg {
    /// The segments of closed paths, those of no length left out, a missing closing line put in.
    pub(super) fn of(path: &BezPath) -> Vec<Seg> {
        let mut out = Vec::with_capacity(path.elements().len());
        for s in path.segments() {
            let seg = match s {
                PathSeg::Line(l) => Seg::Line(l.p0, l.p1),
                PathSeg::Quad(q) => Seg::cubic_or_line(q.raise()),
                PathSeg::Cubic(c) => Seg::cubic_or_line(c),
            };
            if seg.reach() > NO_LENGTH {
                out.push(seg);
            }
        }
        if let (Some(first), Some(last)) = (out.first().copied(), out.last().copied())
            && (first.start() - last.end()).hypot() > NO_LENGTH
        {
            out.push(Seg::Line(last.end(), first.start()));
        }
        out
    }

    /// A cubic whose handles lie on its chord, in order, is that chord: a line has fewer numbers and is
    /// exact.
    fn cubic_or_line(c: CubicBez) -> Seg {
        let chord = c.p3 - c.p0;
        let len = chord.hypot();
        if len > NO_LENGTH {
            let dir = chord / len;
            let (a, b) = (c.p1 - c.p0, c.p2 - c.p0);
            let on = |v: Vec2| v.cross(dir).abs() < NO_LENGTH;
            let (sa, sb) = (a.dot(dir), b.dot(dir));
            if on(a) && on(b) && sa >= 0.0 && sb >= sa && sb <= len {
                return Seg::Line(c.p0, c.p3);
            }
        }
        Seg::Cubic(c)
    }

    pub(super) fn start(&self) -> Point {
        match self {
            Seg::Line(a, _) => *a,
            Seg::Cubic(c) => c.p0,
        }
    }
    pub(super) fn end(&self) -> Point {
        match self {
            Seg::Line(_, b) => *b,
            Seg::Cubic(c) => c.p3,
        }
    }
    /// An upper bound of how far it gets from its start.
    fn reach(&self) -> f64 {
        match self {
            Seg::Line(a, b) => (*b - *a).hypot(),
            Seg::Cubic(c) => (c.p1 - c.p0).hypot().max((c.p2 - c.p0).hypot()).max((c.p3 - c.p0).hypot()),
        }
    }
    #[inline]
    pub(super) fn at(&self, t: f64) -> Point {
        match self {
            Seg::Line(a, b) => a.lerp(*b, t),
            Seg::Cubic(c) => c.eval(t),
        }
    }
    #[inline]
    pub(super) fn speed(&self, t: f64) -> Vec2 {
        match self {
            Seg::Line(a, b) => *b - *a,
            Seg::Cubic(c) => c.deriv().eval(t).to_vec2(),
        }
    }
    #[inline]
    pub(super) fn bend(&self, t: f64) -> Vec2 {
        match self {
            Seg::Line(..) => Vec2::ZERO,
            Seg::Cubic(c) => {
                6.0 * ((1.0 - t) * (c.p2 - c.p1 - (c.p1 - c.p0)) + t * (c.p3 - c.p2 - (c.p2 - c.p1)))
            }
        }
    }
    /// Unit tangent; where the speed vanishes, the direction in which the curve goes on.
    pub(super) fn tangent(&self, t: f64) -> Vec2 {
        let v = self.speed(t);
        let len = v.hypot();
        let small = match self {
            Seg::Line(..) => 0.0,
            Seg::Cubic(_) => NO_SPEED * self.reach(),
        };
        if len > small {
            return v / len;
        }
        let Seg::Cubic(c) = self else { return Vec2::new(1.0, 0.0) };
        let pick = |list: [Vec2; 3]| {
            list.into_iter().find(|v| v.hypot() > small).map_or(Vec2::new(1.0, 0.0), |v| v / v.hypot())
        };
        if t < 0.5 {
            let step = (t + 1e-3).min(1.0);
            pick([c.eval(step) - c.eval(t), c.p2 - c.p0, c.p3 - c.p0])
        } else {
            let step = (t - 1e-3).max(0.0);
            pick([c.eval(t) - c.eval(step), c.p3 - c.p1, c.p3 - c.p0])
        }
    }
    /// Where within a cubic its speed vanishes, to a millionth of its size.
    pub(super) fn cusp(&self) -> Option<f64> {
        let Seg::Cubic(c) = self else { return None };
        let size = [c.p1 - c.p0, c.p2 - c.p1, c.p3 - c.p2].iter().fold(0.0f64, |m, v| m.max(v.hypot()));
        let slow = |t: f64| self.speed(t).hypot2();
        let (mut best, mut low) = (0.5, f64::INFINITY);
        for k in 1..32 {
            let t = f64::from(k) / 32.0;
            if slow(t) < low {
                (best, low) = (t, slow(t));
            }
        }
        // Newton's steps to where the speed is least: its derivative 2 v.a = 0.
        let mut t: f64 = best;
        for _ in 0..24 {
            let (v, a) = (self.speed(t), self.bend(t));
            let step = v.dot(a) / a.hypot2().max(LEAST_DIVISOR);
            t = (t - step).clamp(0.0, 1.0);
        }
        (t > 1e-3 && t < 1.0 - 1e-3 && slow(t).sqrt() < CUSP * size).then_some(t)
    }
    /// Its length, to a ten-thousandth of a millimetre.
    pub(super) fn length(&self) -> f64 {
        match self {
            Seg::Line(a, b) => (*b - *a).hypot(),
            Seg::Cubic(c) => c.arclen(LENGTH),
        }
    }
    /// The part from `t0` to `t1`; backwards if `t1` is less.
    pub(super) fn part(&self, t0: f64, t1: f64) -> Seg {
        match self {
            Seg::Line(..) => Seg::Line(self.at(t0), self.at(t1)),
            Seg::Cubic(c) => {
                let (lo, hi) = (t0.min(t1), t0.max(t1));
                let p = if lo <= 0.0 && hi >= 1.0 { *c } else { c.subsegment(lo..hi) };
                Seg::Cubic(if t0 <= t1 { p } else { CubicBez::new(p.p3, p.p2, p.p1, p.p0) })
            }
        }
    }
    /// Number of equal steps of the parameter whose chords stay within `tolerance`: Wang's bound,
    /// `n = sqrt(n0 (n0 - 1) / 8 * max |second difference| / tolerance)` with degree `n0 = 3`
    /// (Wang 1984; Goldman, Pyramid Algorithms, 2003, section 5.6).
    pub(super) fn steps(&self, tolerance: f64) -> usize {
        match self {
            Seg::Line(..) => 1,
            Seg::Cubic(c) => {
                let m = ((c.p2 - c.p1) - (c.p1 - c.p0)).hypot().max(((c.p3 - c.p2) - (c.p2 - c.p1)).hypot());
                // Bounded: a cubic of a hundred metres at 2 um needs 6,000 steps.
                ((0.75 * m / tolerance).sqrt().ceil()).clamp(1.0, 20_000.0) as usize
            }
        }
    }
}

/// The parameter of the place of a segment nearest to a point: downhill from `t` by Newton's steps, each
/// halved until it helps.
pub(super) fn nearest_on(seg: &Seg, t: f64, to: Point) -> f64 {
    if let Seg::Line(a, b) = seg {
        return ((to - *a).dot(*b - *a) / (*b - *a).hypot2()).clamp(0.0, 1.0);
    }
    let far = |t: f64| (seg.at(t) - to).hypot2();
    let (mut t, mut best) = (t.clamp(0.0, 1.0), far(t.clamp(0.0, 1.0)));
    for _ in 0..12 {
        let (v, r) = (seg.speed(t), seg.at(t) - to);
        let slope = r.dot(v);
        let bend = v.hypot2() + r.dot(seg.bend(t));
        let whole =
            if bend > 1e-3 * v.hypot2() { slope / bend } else { slope / v.hypot2().max(LEAST_DIVISOR) };
        let mut step = -whole.clamp(-0.25, 0.25);
        let mut moved = false;
        for _ in 0..6 {
            let u = (t + step).clamp(0.0, 1.0);
            let d = far(u);
            if d < best {
                moved = (u - t).abs() > SAME_PARAMETER;
                (t, best) = (u, d);
                break;
            }
            step *= 0.5;
        }
        if !moved {
            break;
        }
    }
    t
}

/// From a point to a segment, looked for downhill from a parameter; if it is not near there, from others too.
pub(super) fn off(seg: &Seg, from: f64, p: Point, near: f64) -> f64 {
    let downhill = |from: f64| (seg.at(nearest_on(seg, from, p)) - p).hypot();
    let first = downhill(from);
    if first <= near {
        return first;
    }
    (0..=8).map(|i| downhill(f64::from(i) / 8.0)).fold(first, f64::min)
}

/// A closed path of segments; the closing line is left to `ClosePath`.
pub(super) fn closed_path(segs: &[Seg]) -> BezPath {
    let mut path = BezPath::new();
    let Some(first) = segs.first() else { return path };
    path.move_to(first.start());
    for (k, s) in segs.iter().enumerate() {
        match s {
            Seg::Line(_, b) if k + 1 < segs.len() => path.line_to(*b),
            Seg::Line(..) => {}
            Seg::Cubic(c) => path.curve_to(c.p1, c.p2, c.p3),
        }
    }
    path.close_path();
    path
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        /// Wang's bound is a theorem; the count must not fall below it.
        #[test]
        fn chords_stay_within_the_tolerance(v in prop::array::uniform8(-60.0..60.0f64), tol in 0.001..0.1f64) {
            let c = Seg::Cubic(CubicBez::new((v[0], v[1]), (v[2], v[3]), (v[4], v[5]), (v[6], v[7])));
            let n = c.steps(tol);
            for i in 0..n {
                let (a, b) = (c.at(i as f64 / n as f64), c.at((i + 1) as f64 / n as f64));
                for k in 1..16 {
                    let p = c.at((i as f64 + f64::from(k) / 16.0) / n as f64);
                    let ab = b - a;
                    let s = ((p - a).dot(ab) / ab.hypot2().max(1e-300)).clamp(0.0, 1.0);
                    prop_assert!((a + ab * s - p).hypot() <= tol * 1.000_001);
                }
            }
        }

        #[test]
        fn parts_lie_on_the_whole(v in prop::array::uniform8(-60.0..60.0f64), a in 0.0..1.0f64, b in 0.0..1.0f64, t in 0.0..1.0f64) {
            let c = Seg::Cubic(CubicBez::new((v[0], v[1]), (v[2], v[3]), (v[4], v[5]), (v[6], v[7])));
            prop_assert!((c.part(a, b).at(t) - c.at(a + (b - a) * t)).hypot() < 1e-9);
        }
    }

    #[test]
    fn a_straight_cubic_is_a_line() {
        let mut p = BezPath::new();
        p.move_to((0.0, 0.0));
        p.curve_to((1.0, 0.0), (2.0, 0.0), (3.0, 0.0));
        p.line_to((3.0, 2.0));
        let segs = Seg::of(&p);
        assert_eq!(segs.len(), 3);
        assert!(matches!(segs[0], Seg::Line(..)));
    }
}
