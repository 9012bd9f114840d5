//! Outward and inward offsets of whole regions.
//!
//! Imports: base::units, base::frame, base::tolerance.

use super::boolean::{FillRule, overlay};
use super::flatten::{Flat, ring_area};
use super::region::Region;
use crate::base::frame::Frame;
use crate::base::tolerance::{FLATTEN, GRID};
use crate::base::units::Mm;
use i_overlay::core::overlay_rule::OverlayRule;
use i_overlay::mesh::float::outline::offset::OutlineOffset;
use i_overlay::mesh::float::style::{LineJoin, OutlineStyle};

/// How outer corners of an offset are made.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Join {
    /// An arc: every point of the offset is exactly the distance away.
    Round,
    /// Straight on to a point, cut off where it would reach farther than this many times the distance.
    Mitre(f64),
}

impl<F: Frame> Region<F> {
    /// Grown (positive) or shrunk (negative) by a distance.
    #[must_use]
    pub fn offset(&self, by: Mm, join: Join) -> Self {
        self.flat(FLATTEN).offset(by, join).to_region()
    }
}

impl<F: Frame> Flat<F> {
    /// Grown (positive) or shrunk (negative) by a distance.
    #[must_use]
    pub fn offset(&self, by: Mm, join: Join) -> Self {
        let clean = overlay(self, None, OverlayRule::Subject, FillRule::NonZero);
        if by.0 == 0.0 {
            return clean;
        }
        let join = match join {
            // Chord error e on radius d: step = sqrt(8 e / d).
            Join::Round => LineJoin::Round((8.0 * FLATTEN.0 / by.0.abs()).sqrt().min(0.5)),
            Join::Mitre(limit) => LineJoin::Miter(2.0 * libm::asin(1.0 / limit.max(1.0))),
        };
        let style = OutlineStyle::new(by.0).line_join(join);
        let shapes = clean.rings.outline_fixed_scale(&style, 1.0 / GRID.0).unwrap_or_default();
        let rings =
            shapes.into_iter().flatten().filter(|r: &Vec<[f64; 2]>| r.len() > 2 && ring_area(r) != 0.0);
        Flat::new(rings.collect(), clean.error + FLATTEN)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::frame::{Art, Point};

    /// Steiner's formula for a convex shape: A + P d + pi d^2.
    #[test]
    fn offset_of_a_rectangle_follows_steiner() {
        let r: Region<Art> = Region::polygon(&[[0.0, 0.0], [30.0, 0.0], [30.0, 20.0], [0.0, 20.0]]);
        for d in [0.1, 1.0, 7.5, 20.0] {
            let want = 600.0 + 100.0 * d + std::f64::consts::PI * d * d;
            approx::assert_abs_diff_eq!(
                r.offset(Mm(d), Join::Round).area().0,
                want,
                epsilon = 0.02 * d.max(1.0) * 6.3
            );
        }
    }

    #[test]
    fn shrinking_an_annulus_widens_its_hole() {
        let outer: Region<Art> = Region::disc(Point::ORIGIN, Mm(10.0));
        let inner: Region<Art> = Region::disc(Point::ORIGIN, Mm(4.0));
        let ring = outer.op(&inner, super::super::Op::Difference).offset(Mm(-1.0), Join::Round);
        approx::assert_abs_diff_eq!(ring.area().0, std::f64::consts::PI * (81.0 - 25.0), epsilon = 0.5);
    }
}
