//! Paths of the curve library: parts, boxes, closed polylines.
//!
//! Imports: base.

use crate::base::units::Mm;
use kurbo::{BezPath, ParamCurve, PathEl, PathSeg, Point, Rect, Shape};

/// Subpaths one by one, each starting with its `MoveTo`.
pub fn subpaths(path: &BezPath) -> Vec<BezPath> {
    let mut out: Vec<BezPath> = Vec::new();
    let mut start = Point::ZERO;
    let mut closed = false;
    for el in path.elements() {
        match el {
            PathEl::MoveTo(p) => {
                start = *p;
                out.push(BezPath::new());
            }
            _ if closed || out.is_empty() => {
                let mut fresh = BezPath::new();
                fresh.move_to(start);
                out.push(fresh);
            }
            _ => {}
        }
        closed = matches!(el, PathEl::ClosePath);
        if let Some(last) = out.last_mut() {
            last.push(*el);
        }
    }
    out
}

/// The closed parts of a path, each a path of its own: quadratics raised, every part closed.
pub(super) fn closed_cubics(path: &BezPath) -> Vec<BezPath> {
    let mut parts: Vec<BezPath> = Vec::new();
    let (mut start, mut last, mut open) = (Point::ZERO, Point::ZERO, false);
    for el in path.elements() {
        if let PathEl::MoveTo(p) = *el {
            (start, open) = (p, false);
            last = p;
            continue;
        }
        if matches!(el, PathEl::ClosePath) {
            open = false;
            last = start;
            continue;
        }
        if !open {
            // Also a path that goes on after closing: it starts where it closed.
            let mut fresh = BezPath::new();
            fresh.move_to(last);
            start = last;
            parts.push(fresh);
            open = true;
        }
        let Some(out) = parts.last_mut() else { continue };
        match *el {
            PathEl::LineTo(p) => {
                if p != last {
                    out.line_to(p);
                }
                last = p;
            }
            PathEl::QuadTo(c, p) => {
                out.curve_to(last + (c - last) * (2.0 / 3.0), p + (c - p) * (2.0 / 3.0), p);
                last = p;
            }
            PathEl::CurveTo(a, b, p) => {
                out.curve_to(a, b, p);
                last = p;
            }
            PathEl::MoveTo(_) | PathEl::ClosePath => {}
        }
    }
    for part in &mut parts {
        part.close_path();
    }
    parts
}

/// Exact bounding box of a path: that of its ends, and of what turns beyond them. A curve whose control
/// points lie within the box so far is not asked where it turns.
pub fn box_of(path: &BezPath) -> Rect {
    let mut all: Option<Rect> = None;
    for seg in path.segments() {
        let ends = Rect::from_points(seg.start(), seg.end());
        all = Some(all.map_or(ends, |b| b.union(ends)));
    }
    let mut all = all.unwrap_or_default();
    let within = |b: &Rect, p: kurbo::Point| p.x >= b.x0 && p.x <= b.x1 && p.y >= b.y0 && p.y <= b.y1;
    for seg in path.segments() {
        let held = match seg {
            PathSeg::Line(_) => true,
            PathSeg::Quad(q) => within(&all, q.p1),
            PathSeg::Cubic(c) => within(&all, c.p1) && within(&all, c.p2),
        };
        if !held {
            all = all.union(seg.bounding_box());
        }
    }
    all
}

/// A closed path through corners.
pub fn polyline_path(corners: &[[f64; 2]]) -> BezPath {
    let mut path = BezPath::new();
    for (i, &[x, y]) in corners.iter().enumerate() {
        if i == 0 { path.move_to((x, y)) } else { path.line_to((x, y)) }
    }
    if !corners.is_empty() {
        path.close_path();
    }
    path
}

/// The chords of a path, open or closed, each within a tolerance of it.
pub fn chords(path: &BezPath, tolerance: Mm) -> Vec<[[f64; 2]; 2]> {
    let mut out = Vec::new();
    let (mut start, mut last) = (Point::ZERO, Point::ZERO);
    kurbo::flatten(path, tolerance.0, |el| {
        let to = match el {
            PathEl::MoveTo(p) => {
                (start, last) = (p, p);
                return;
            }
            PathEl::LineTo(q) => q,
            PathEl::ClosePath => start,
            // Flattened paths have no other.
            PathEl::QuadTo(..) | PathEl::CurveTo(..) => return,
        };
        out.push([[last.x, last.y], [to.x, to.y]]);
        last = to;
    });
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    proptest::proptest! {
        /// The twin: every curve asked where it turns, by the curve library.
        #[test]
        fn a_box_is_that_of_every_curve_asked(
            parts in proptest::collection::vec((0..4u8, proptest::array::uniform6(-50.0..50.0f64)), 0..12),
        ) {
            let mut path = BezPath::new();
            for (i, (kind, [a, b, c, d, e, f])) in parts.into_iter().enumerate() {
                match kind {
                    _ if i == 0 => path.move_to((a, b)),
                    0 => path.move_to((a, b)),
                    1 => path.line_to((a, b)),
                    2 => path.quad_to((a, b), (c, d)),
                    _ => path.curve_to((a, b), (c, d), (e, f)),
                }
            }
            let (got, want) = (box_of(&path), path.bounding_box());
            for (g, w) in [(got.x0, want.x0), (got.y0, want.y0), (got.x1, want.x1), (got.y1, want.y1)] {
                proptest::prop_assert!((g - w).abs() < 1e-12, "{got:?} {want:?}");
            }
        }
    }
}
