//! Where a closed contour may be started: on a smooth stretch, away from corners.
//!
//! Imports: base.

use crate::base::tolerance::SHORTEST_MADE;
use kurbo::{BezPath, ParamCurve, ParamCurveArclen, ParamCurveDeriv, PathSeg, Vec2};

/// Largest error of a length along a segment, mm, where a cut runs on over its start.
const ARC_LENGTH: f64 = 1e-4;

/// A place to start a contour at.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct StartPlace {
    /// Which segment.
    pub segment: usize,
    /// Where on it, 0 to 1.
    pub t: f64,
    /// The point.
    pub at: [f64; 2],
    /// How far the contour turns within the reach on both sides, radians.
    pub bend: f64,
}

/// Of each segment.
const SAMPLES: usize = 8;
/// Which of them are offered as starts.
const OFFERED: [usize; 3] = [2, 4, 6];

/// At most `most` places spread along a contour, those with the least bend within `reach` (mm) on either
/// side; none where splitting a segment would leave parts shorter than [`SHORTEST_MADE`].
pub fn start_places(path: &BezPath, reach: f64, most: usize) -> Vec<StartPlace> {
    let segments: Vec<PathSeg> = path.segments().collect();
    // Direction at samples along the contour: (arc length, direction).
    let mut along: Vec<(f64, Vec2)> = Vec::new();
    let mut places: Vec<(f64, StartPlace)> = Vec::new();
    let mut arc = 0.0;
    for (k, seg) in segments.iter().enumerate() {
        let length = seg.arclen(1e-3);
        if length <= 0.0 {
            continue;
        }
        // How far along each sample lies: by chords, stretched to the segment's length.
        let points: Vec<kurbo::Point> = (0..=SAMPLES).map(|i| seg.eval(i as f64 / SAMPLES as f64)).collect();
        let chords: f64 = points.windows(2).map(|w| (w[1] - w[0]).hypot()).sum();
        let mut gone = 0.0;
        for (i, p) in points.iter().enumerate() {
            let t = i as f64 / SAMPLES as f64;
            gone += if i == 0 { 0.0 } else { (*p - points[i - 1]).hypot() };
            let at = arc + gone / chords * length;
            along.push((at, direction(seg, t)));
            // The segment is split there: neither part may become too short for a blade.
            if OFFERED.contains(&i) && length * t.min(1.0 - t) > SHORTEST_MADE.get() {
                places.push((at, StartPlace { segment: k, t, at: [p.x, p.y], bend: 0.0 }));
            }
        }
        arc += length;
    }
    if places.is_empty() {
        // All segments are as short as that: the contour starts where it does.
        let start = segments.first().map(|s| StartPlace {
            segment: 0,
            t: 0.0,
            at: [s.start().x, s.start().y],
            bend: 0.0,
        });
        return start.into_iter().collect();
    }
    let turning = Turning::new(&along, arc);
    for (s, place) in &mut places {
        place.bend = turning.within(*s, reach);
    }
    // One place, the smoothest, of each of `most` equal stretches.
    let mut best: Vec<Option<StartPlace>> = vec![None; most.max(1)];
    for (s, place) in places {
        let slot = ((s / arc * best.len() as f64) as usize).min(best.len() - 1);
        if best[slot].is_none_or(|b| place.bend < b.bend) {
            best[slot] = Some(place);
        }
    }
    best.into_iter().flatten().collect()
}

fn direction(seg: &PathSeg, t: f64) -> Vec2 {
    let d = match seg {
        PathSeg::Line(l) => l.p1 - l.p0,
        PathSeg::Quad(q) => q.deriv().eval(t).to_vec2(),
        PathSeg::Cubic(c) => c.deriv().eval(t).to_vec2(),
    };
    if d.hypot2() > 0.0 { d } else { seg.end() - seg.start() }
}

/// Turning at the samples of a contour: from each to the next, and their arc positions in order.
struct Turning {
    arc: Vec<f64>,
    turn: Vec<f64>,
    total: f64,
}

impl Turning {
    fn new(along: &[(f64, Vec2)], total: f64) -> Self {
        let next = along.iter().cycle().skip(1);
        let turn = along.iter().zip(next).map(|(a, b)| libm::atan2(a.1.cross(b.1), a.1.dot(b.1)).abs());
        Self { arc: along.iter().map(|a| a.0).collect(), turn: turn.collect(), total }
    }
    /// Total turning of the samples within `reach` of arc position `s`.
    fn within(&self, s: f64, reach: f64) -> f64 {
        let n = self.arc.len();
        if 2.0 * reach >= self.total {
            return self.turn.iter().sum();
        }
        // The samples within reach are first, first + 1, ..., round the end if need be; before them one that
        // turns towards the first.
        let (lo, hi) = (s - reach, s + reach);
        let low = if lo < 0.0 { lo + self.total } else { lo };
        let first = self.arc.partition_point(|a| *a < low);
        let last = if hi > self.total { hi - self.total } else { hi };
        let end = self.arc.partition_point(|a| *a <= last);
        let many = if low <= last { end - first } else { n - first + end };
        let (from, many) = if many == 0 { (first, 0) } else { (first + n - 1, (many + 1).min(n)) };
        (0..many).map(|k| self.turn[(from + k) % n]).sum()
    }
}

/// The same closed contour started at `t` of a segment; that segment is split there, nothing else changes. At the
/// start of the first segment the contour starts already.
pub fn started_at(path: &BezPath, segment: usize, t: f64) -> BezPath {
    let segments: Vec<PathSeg> = path.segments().collect();
    let n = segments.len();
    let mut out = BezPath::new();
    if t <= 0.0 && segment == 0 {
        return path.clone();
    }
    let first = segments[segment].subsegment(t..1.0);
    out.move_to(first.start());
    out.push(first.as_path_el());
    for k in 1..n {
        out.push(segments[(segment + k) % n].as_path_el());
    }
    out.push(segments[segment].subsegment(0.0..t).as_path_el());
    out.close_path();
    out
}

/// The same closed contour as an open path whose end runs on past the start by `by` along the contour (at
/// most once round).
pub fn run_on(path: &BezPath, by: f64) -> BezPath {
    let segments: Vec<PathSeg> = path.segments().collect();
    let mut out = BezPath::new();
    let Some(first) = segments.first() else { return out };
    out.move_to(first.start());
    segments.iter().for_each(|s| out.push(s.as_path_el()));
    let mut rest = by;
    for seg in &segments {
        let length = seg.arclen(ARC_LENGTH);
        if length >= rest {
            out.push(seg.subsegment(0.0..seg.inv_arclen(rest, ARC_LENGTH)).as_path_el());
            break;
        }
        out.push(seg.as_path_el());
        rest -= length;
    }
    out
}

#[cfg(test)]
mod tests {
    use super::super::{KurboShape, Region};
    use super::*;
    use crate::base::frame::Art;

    /// The twin of [`Turning::within`]: every sample asked.
    fn bend_about(along: &[(f64, Vec2)], total: f64, s: f64, reach: f64) -> f64 {
        let n = along.len();
        let apart = |a: f64| {
            let d = (a - s).abs();
            d.min(total - d)
        };
        let mut sum = 0.0;
        for i in 0..n {
            let (a, b) = (along[i], along[(i + 1) % n]);
            if apart(a.0) <= reach || apart(b.0) <= reach {
                sum += libm::atan2(a.1.cross(b.1), a.1.dot(b.1)).abs();
            }
        }
        sum
    }

    proptest::proptest! {
        #[test]
        fn turning_found_by_halving_is_that_of_all_samples(
            steps in proptest::collection::vec((0.0..2.0f64, -3.0..3.0f64), 2..40),
            part in 0.0..1.0f64, reach in 0.01..9.0f64
        ) {
            let mut arc = 0.0;
            let mut along = Vec::new();
            for (d, turn) in steps {
                along.push((arc, Vec2::from_angle(turn)));
                arc += d;
            }
            let total = arc + 0.1;
            let fast = Turning::new(&along, total).within(part * total, reach);
            approx::assert_abs_diff_eq!(fast, bend_about(&along, total, part * total, reach), epsilon = 1e-9);
        }
    }

    #[test]
    fn a_contour_started_elsewhere_encloses_the_same() {
        let square = super::super::path::polyline_path(&[[0.0, 0.0], [10.0, 0.0], [10.0, 10.0], [0.0, 10.0]]);
        let disc = kurbo::Circle::new((3.0, 4.0), 5.0).to_path(1e-6);
        for path in [square, disc] {
            for place in start_places(&path, 1.0, 12) {
                let moved = started_at(&path, place.segment, place.t);
                approx::assert_relative_eq!(moved.area(), path.area(), epsilon = 1e-9);
                approx::assert_relative_eq!(moved.perimeter(1e-6), path.perimeter(1e-6), epsilon = 1e-5);
                let start = moved.segments().next().unwrap().start();
                approx::assert_abs_diff_eq!(start.x, place.at[0], epsilon = 1e-9);
            }
        }
    }

    /// Case 1: a segment of .03 mm was split at its first quarter.
    #[test]
    fn case_1_no_start_leaves_a_segment_too_short_for_a_blade() {
        let mut corners: Vec<[f64; 2]> = Vec::new();
        for k in 0..40 {
            let (c, s) = (libm::cos(f64::from(k) * 0.157), libm::sin(f64::from(k) * 0.157));
            // A short side after each long one.
            corners.push([10.0 * c, 10.0 * s]);
            corners.push([10.0 * c - 0.03 * s, 10.0 * s + 0.03 * c]);
        }
        let path = super::super::path::polyline_path(&corners);
        let places = start_places(&path, 0.0, 64);
        assert!(!places.is_empty());
        for place in places {
            let region = Region::<Art>::trusted([started_at(&path, place.segment, place.t)]);
            assert_eq!(crate::outline::shortest_segment(&region).1, 0, "{place:?}");
        }
        // Of nothing but short sides the start stays.
        let tiny = super::super::path::polyline_path(&[[0.0, 0.0], [0.03, 0.0], [0.03, 0.03], [0.0, 0.03]]);
        let only = start_places(&tiny, 1.0, 12);
        assert_eq!((only.len(), started_at(&tiny, only[0].segment, only[0].t)), (1, tiny));
    }

    #[test]
    fn a_contour_run_on_is_longer_by_just_that() {
        let square = super::super::path::polyline_path(&[[0.0, 0.0], [10.0, 0.0], [10.0, 10.0], [0.0, 10.0]]);
        let over = run_on(&square, 12.0);
        approx::assert_relative_eq!(over.perimeter(1e-6), 52.0, epsilon = 1e-3);
        let end = over.segments().last().unwrap().end();
        approx::assert_abs_diff_eq!(end.x, 10.0, epsilon = 1e-3);
        approx::assert_abs_diff_eq!(end.y, 2.0, epsilon = 1e-3);
    }

    #[test]
    fn places_on_a_square_keep_off_its_corners() {
        let square = super::super::path::polyline_path(&[[0.0, 0.0], [10.0, 0.0], [10.0, 10.0], [0.0, 10.0]]);
        for place in start_places(&square, 1.0, 8) {
            assert!(place.bend < 1e-9, "{place:?}");
            let far = |v: f64| v.abs().min((v - 10.0).abs());
            assert!(far(place.at[0]).max(far(place.at[1])) >= 1.0, "{place:?}");
        }
    }
}
