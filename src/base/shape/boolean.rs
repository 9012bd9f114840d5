//! Union, intersection, difference and exclusive-or of regions.
//!
//! Imports: base::units, base::frame, base::tolerance.

use super::flatten::{Flat, Ring, ring_area};
use super::region::Region;
use crate::base::frame::Frame;
use crate::base::tolerance::{FLATTEN, GRID};
use i_overlay::core::fill_rule::FillRule as Rule;
use i_overlay::core::overlay_rule::OverlayRule;
use i_overlay::float::scale::FixedScaleFloatOverlay;
use kurbo::BezPath;

/// Which points a set of closed paths fills.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum FillRule {
    /// Winding number not zero.
    NonZero,
    /// Winding number odd.
    EvenOdd,
}

/// What to keep of two regions.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Op {
    /// In either.
    Union,
    /// In both.
    Intersection,
    /// In the first only.
    Difference,
    /// In one only.
    Xor,
}

impl<F: Frame> Region<F> {
    /// The area that closed paths fill; open ones are closed by a line. Overlaps and crossings are resolved.
    pub fn filled(paths: impl IntoIterator<Item = BezPath>, rule: FillRule) -> Self {
        let raw = Region::<F>::trusted(paths).flat(FLATTEN);
        overlay(&raw, None, OverlayRule::Subject, rule).to_region()
    }
    /// A boolean of two regions.
    #[must_use]
    pub fn op(&self, other: &Self, op: Op) -> Self {
        self.flat(FLATTEN).op(&other.flat(FLATTEN), op).to_region()
    }
    /// Union of many.
    pub fn union_of<'a>(regions: impl IntoIterator<Item = &'a Self>) -> Self
    where
        F: 'a,
    {
        let all = Region::gathered(regions).flat(FLATTEN);
        overlay(&all, None, OverlayRule::Subject, FillRule::NonZero).to_region()
    }
}

impl<F: Frame> Flat<F> {
    /// A boolean of two flat regions.
    #[must_use]
    pub fn op(&self, other: &Self, op: Op) -> Self {
        let rule = match op {
            Op::Union => OverlayRule::Union,
            Op::Intersection => OverlayRule::Intersect,
            Op::Difference => OverlayRule::Difference,
            Op::Xor => OverlayRule::Xor,
        };
        overlay(self, Some(other), rule, FillRule::NonZero)
    }
}

/// Coordinates snapped to the grid: near-coincident contours make i_overlay spin for ever (see DEVELOPERS.md).
fn snapped(rings: &[Ring]) -> Vec<Ring> {
    let snap = |v: f64| (v / GRID.0).round() * GRID.0;
    let mut out = Vec::with_capacity(rings.len());
    for ring in rings {
        let mut r: Ring = ring.iter().map(|p| [snap(p[0]), snap(p[1])]).collect();
        r.dedup();
        if r.len() > 1 && r.first() == r.last() {
            r.pop();
        }
        if r.len() > 2 {
            out.push(r);
        }
    }
    out
}

pub(super) fn overlay<F: Frame>(
    a: &Flat<F>,
    b: Option<&Flat<F>>,
    rule: OverlayRule,
    fill: FillRule,
) -> Flat<F> {
    let fill = match fill {
        FillRule::NonZero => Rule::NonZero,
        FillRule::EvenOdd => Rule::EvenOdd,
    };
    let (sa, sb) = (snapped(&a.rings), b.map(|b| snapped(&b.rings)).unwrap_or_default());
    let error = b.map_or(a.error, |b| a.error.max(b.error)) + GRID;
    let shapes = sa.overlay_with_fixed_scale(&sb, rule, fill, 1.0 / GRID.0).unwrap_or_default();
    Flat::new(shapes.into_iter().flatten().filter(|r| r.len() > 2 && ring_area(r) != 0.0).collect(), error)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::frame::{Art, Point};
    use crate::base::units::Mm;

    #[test]
    fn two_discs_obey_inclusion_and_exclusion() {
        let a: Region<Art> = Region::disc(Point::mm(0.0, 0.0), Mm(10.0));
        let b: Region<Art> = Region::disc(Point::mm(8.0, 0.0), Mm(7.0));
        let area = |op| a.op(&b, op).area().0;
        let sum = a.area().0 + b.area().0;
        approx::assert_abs_diff_eq!(area(Op::Union) + area(Op::Intersection), sum, epsilon = 0.2);
        approx::assert_abs_diff_eq!(area(Op::Union) - area(Op::Intersection), area(Op::Xor), epsilon = 0.02);
    }

    #[test]
    fn even_odd_leaves_the_overlap_of_two_squares_out() {
        let square = |x: f64| {
            super::super::region::polyline_path(&[[x, 0.0], [x + 2.0, 0.0], [x + 2.0, 2.0], [x, 2.0]])
        };
        let odd: Region<Art> = Region::filled([square(0.0), square(1.0)], FillRule::EvenOdd);
        let all: Region<Art> = Region::filled([square(0.0), square(1.0)], FillRule::NonZero);
        approx::assert_abs_diff_eq!(odd.area().0, 4.0, epsilon = 1e-9);
        approx::assert_abs_diff_eq!(all.area().0, 6.0, epsilon = 1e-9);
    }
}
