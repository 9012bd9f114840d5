//! The area that a stroked path paints: width, dashes, caps, joins and dots as SVG defines them.
//!
//! kurbo does the work; two defects of its version 0.13.1 are mended here: subpaths and dashes of no length
//! vanish (with round or square caps they are dots), and some cubics give an outline that is not finite.
//!
//! Imports: base, outline::path.

use super::path::subpaths;
use crate::base::tolerance::NO_LENGTH;
use kurbo::{BezPath, ParamCurve, ParamCurveArclen, ParamCurveDeriv, PathEl, PathSeg, Point, Shape, Vec2};
pub use kurbo::{Cap as StrokeCap, Join as StrokeJoin};

/// How a stroke is drawn, in the path's own units.
#[derive(Clone, Debug, PartialEq)]
pub struct StrokeStyle {
    /// Full width.
    pub width: f64,
    /// Shape of both ends.
    pub cap: StrokeCap,
    /// Shape of its corners.
    pub join: StrokeJoin,
    /// Mitre length over width above which a mitre is cut to a bevel.
    pub mitre_limit: f64,
    /// Lengths of dash, gap, dash, ...; empty is a whole line. None negative; an odd list is run through
    /// twice.
    pub dashes: Vec<f64>,
    /// Where in the pattern the stroke starts.
    pub dash_offset: f64,
}

impl StrokeStyle {
    /// Number of dashes along a path of this length, not rounded; none for a whole line.
    pub fn dash_count(&self, length: f64) -> f64 {
        let sum: f64 = self.dashes.iter().sum();
        if self.dashes.is_empty() || sum <= 0.0 { 0.0 } else { length / sum * self.dashes.len() as f64 / 2.0 }
    }
}

/// Length of a path, to about a hundredth of its size: enough to count dashes.
pub fn rough_length(path: &BezPath) -> f64 {
    path.segments().map(|s| s.arclen(s.bounding_box().size().max_side().max(NO_LENGTH) * 0.01)).sum()
}

/// The closed paths whose non-zero fill is the stroke of `path`, within `tolerance` of it.
pub fn stroke_outline(path: &BezPath, style: &StrokeStyle, tolerance: f64) -> BezPath {
    let dashes = full_pattern(&style.dashes);
    let sum: f64 = dashes.iter().sum();
    let dashed = sum > 0.0 && dashes.iter().skip(1).step_by(2).any(|gap| *gap > 0.0);
    let offset = if dashed { style.dash_offset.rem_euclid(sum) } else { 0.0 };
    let pen = kurbo::Stroke::new(style.width)
        .with_caps(style.cap)
        .with_join(style.join)
        .with_miter_limit(style.mitre_limit);
    let pen = if dashed { pen.with_dashes(offset, dashes.iter()) } else { pen };
    let options = kurbo::StrokeOpts::default();
    let mut out = kurbo::stroke(path.elements().iter().copied(), &pen, &options, tolerance);
    if !out.is_finite() {
        let mut lines = BezPath::new();
        kurbo::flatten(path.elements().iter().copied(), tolerance / 2.0, |el| lines.push(el));
        out = kurbo::stroke(lines.elements().iter().copied(), &pen, &options, tolerance);
    }
    if style.cap != StrokeCap::Butt {
        let mut dot = |at: Point, along: Vec2| add_dot(&mut out, at, along, style, tolerance);
        for sub in subpaths(path) {
            let empty = sub.segments().all(|s| s.start() == s.end() && s.arclen(tolerance) == 0.0);
            if empty {
                if let (Some(PathEl::MoveTo(p)), true) = (sub.elements().first(), sub.elements().len() > 1) {
                    dot(*p, Vec2::new(1.0, 0.0));
                }
            } else if dashed {
                empty_dashes(&sub, &dashes, offset, tolerance, &mut dot);
            }
        }
    }
    out
}

/// SVG: an odd list is repeated to give an even one.
fn full_pattern(dashes: &[f64]) -> Vec<f64> {
    let twice = if dashes.len() % 2 == 1 { 2 } else { 1 };
    dashes.iter().copied().cycle().take(dashes.len() * twice).collect()
}

/// Calls `dot` at each dash of no length.
fn empty_dashes(
    sub: &BezPath,
    dashes: &[f64],
    offset: f64,
    tolerance: f64,
    dot: &mut impl FnMut(Point, Vec2),
) {
    if !dashes.iter().step_by(2).any(|d| *d == 0.0) {
        return;
    }
    let segs: Vec<(PathSeg, f64)> = sub.segments().map(|s| (s, s.arclen(tolerance * 0.1))).collect();
    let length: f64 = segs.iter().map(|s| s.1).sum();
    let (mut at, mut i) = (-offset, 0);
    while at <= length {
        if i % 2 == 0 && dashes[i] == 0.0 && at >= 0.0 {
            let (p, along) = point_at(&segs, at, tolerance);
            dot(p, along);
        }
        at += dashes[i];
        i = (i + 1) % dashes.len();
    }
}

fn point_at(segs: &[(PathSeg, f64)], mut at: f64, tolerance: f64) -> (Point, Vec2) {
    for (i, (seg, len)) in segs.iter().enumerate() {
        if at <= *len || i + 1 == segs.len() {
            let t = seg.inv_arclen(at.min(*len), tolerance * 0.1);
            let along = match seg {
                PathSeg::Line(l) => l.p1 - l.p0,
                PathSeg::Quad(q) => q.deriv().eval(t).to_vec2(),
                PathSeg::Cubic(c) => c.deriv().eval(t).to_vec2(),
            };
            return (seg.eval(t), along);
        }
        at -= len;
    }
    (Point::ZERO, Vec2::new(1.0, 0.0))
}

fn add_dot(out: &mut BezPath, at: Point, along: Vec2, style: &StrokeStyle, tolerance: f64) {
    let r = style.width / 2.0;
    if style.cap == StrokeCap::Round {
        out.extend(kurbo::Circle::new(at, r).path_elements(tolerance));
        return;
    }
    let length = along.hypot();
    let u = if length > 0.0 { along / length * r } else { Vec2::new(r, 0.0) };
    let v = Vec2::new(-u.y, u.x);
    out.move_to(at + u + v);
    out.line_to(at - u + v);
    out.line_to(at - u - v);
    out.line_to(at + u - v);
    out.close_path();
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::frame::Art;
    use crate::outline::{FillRule, Region};

    fn area(svg: &str, style: &StrokeStyle) -> f64 {
        let path = BezPath::from_svg(svg).expect("path");
        let region: Region<Art> =
            Region::filled(subpaths(&stroke_outline(&path, style, 1e-4)), FillRule::NonZero);
        region.area().0
    }
    fn style(width: f64, cap: StrokeCap, dashes: &[f64]) -> StrokeStyle {
        StrokeStyle {
            width,
            cap,
            join: StrokeJoin::Miter,
            mitre_limit: 4.0,
            dashes: dashes.to_vec(),
            dash_offset: 0.0,
        }
    }

    /// SVG 2, 13.5.4: a zero length subpath with round or square caps is a dot; with butt caps nothing.
    #[test]
    fn paths_of_no_length_are_dots() {
        let disc = std::f64::consts::PI;
        for d in ["M5 5L5 5", "M5 5Z", "M5 5C5 5 5 5 5 5"] {
            approx::assert_abs_diff_eq!(area(d, &style(2.0, StrokeCap::Round, &[])), disc, epsilon = 0.01);
            approx::assert_abs_diff_eq!(area(d, &style(2.0, StrokeCap::Square, &[])), 4.0, epsilon = 1e-6);
            assert_eq!(area(d, &style(2.0, StrokeCap::Butt, &[])), 0.0);
        }
    }

    #[test]
    fn dashes_of_no_length_are_dots_along_the_line() {
        // Dots at 0, 5, 10 of a line of 12.
        let dots = area("M0 0L12 0", &style(2.0, StrokeCap::Round, &[0.0, 5.0]));
        approx::assert_abs_diff_eq!(dots, 3.0 * std::f64::consts::PI, epsilon = 0.02);
        let squares = area("M0 0L0 12", &style(2.0, StrokeCap::Square, &[0.0, 5.0]));
        approx::assert_abs_diff_eq!(squares, 12.0, epsilon = 1e-6);
        // Dashes of 3, gaps of 2: 0-3, 5-8, 10-12.
        approx::assert_abs_diff_eq!(
            area("M0 0L12 0", &style(1.0, StrokeCap::Butt, &[3.0, 2.0])),
            8.0,
            epsilon = 1e-6
        );
    }

    #[test]
    fn an_odd_pattern_runs_twice() {
        // 4 on, 4 off, 4 on ... over 16: two dashes.
        approx::assert_abs_diff_eq!(
            area("M0 0L16 0", &style(1.0, StrokeCap::Butt, &[4.0])),
            8.0,
            epsilon = 1e-6
        );
    }

    /// kurbo 0.13.1 gives NaN for some cubics whose last two points are one.
    #[test]
    fn every_outline_is_finite() {
        let mut bad = 0;
        for i in 0..2000 {
            let f = f64::from(i);
            let p = |k: f64| (libm::sin(f * k) * 50.0, libm::cos(f * k * 1.7) * 50.0);
            let mut path = BezPath::new();
            path.move_to(p(1.1));
            let end = p(2.3);
            path.curve_to(p(0.7), end, end);
            path.curve_to(end, end, p(3.1));
            bad += usize::from(!stroke_outline(&path, &style(3.0, StrokeCap::Round, &[]), 1e-3).is_finite());
        }
        assert_eq!(bad, 0);
    }

    #[test]
    fn a_ring_keeps_its_hole() {
        let ring = area("M0 0H20V20H0Z", &style(2.0, StrokeCap::Butt, &[]));
        approx::assert_abs_diff_eq!(ring, 22.0 * 22.0 - 18.0 * 18.0, epsilon = 1e-6);
    }
}
