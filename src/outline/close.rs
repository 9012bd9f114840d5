//! Gaps closed and small holes filled, on request, with a report of every place.
//!
//! Closing by a width is growing by half of it and shrinking back (the closing of mathematical morphology:
//! Serra, Image Analysis and Mathematical Morphology, 1982): what no disc of that width reaches from outside
//! is filled. It contains the original, and nothing wider is touched.
//!
//! Imports: base, outline::{region, boolean, moving}.

use super::boolean::Op;
use super::moving::Join;
use super::region::Region;
use crate::base::frame::{Frame, Point};
use crate::base::tolerance::{FIT, FLATTEN, SPECK_MM2};
use crate::base::units::{Mm, Mm2};
use kurbo::{BezPath, ParamCurve, Shape};

/// What a filled place was.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum ClosedKind {
    /// A whole hole.
    Hole,
    /// A gap between two parts, a slit, the narrow part of a hole.
    Gap,
    /// The bottom of a notch: no more than a disc of the width leaves in a corner of 60 degrees.
    Corner,
}

/// One place that was filled.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Closed<F: Frame> {
    /// What it was.
    pub what: ClosedKind,
    /// Middle of its bounding box.
    pub at: Point<F>,
    /// Its greatest extent along an axis.
    pub extent: Mm,
    /// How much film it adds.
    pub area: Mm2,
}

impl<F: Frame> Region<F> {
    /// Gaps, slits and holes narrower than `width` filled; says where. Nothing is taken away.
    #[must_use]
    pub fn closed(&self, width: Mm) -> (Self, Vec<Closed<F>>) {
        self.grown_closed(Mm::ZERO, Join::Round, width)
    }

    /// Grown by a distance (none or outwards), and then gaps narrower than `width` closed; says what was
    /// closed that the distance alone would have left open. A mitre ends where that of the distance alone
    /// would.
    #[must_use]
    pub fn grown_closed(&self, by: Mm, join: Join, width: Mm) -> (Self, Vec<Closed<F>>) {
        let plain = if by > Mm::ZERO { self.offset(by, join) } else { self.cleaned() };
        let half = width / 2.0;
        if !(half > Mm::ZERO && half.is_finite()) {
            return (plain, Vec::new());
        }
        let wide = self.there_and_back(by.max(Mm::ZERO), join, half);
        // There and back is off by two fits: only what is filled is taken from it, the rest stays as it was.
        let patches = patches(&plain, &wide);
        if patches.is_empty() {
            return (plain, Vec::new());
        }
        let holes: Vec<kurbo::Rect> =
            plain.contours().iter().filter(|c| c.area() < 0.0).map(Shape::bounding_box).collect();
        let report = patches.iter().map(|p| told(p, &holes, half)).collect();
        (Region::union_of(std::iter::once(&plain).chain(&patches)), report)
    }

    /// Offset by `by + half` and then by `-half`: the offset by `by`, but a disc of radius `half` reaches all
    /// along its outline, from outside if `half` is positive (notches and gaps are closed), from inside if
    /// negative (points and necks are opened). A mitre of the wider offset, cut back, ends where that of the
    /// offset itself would.
    #[must_use]
    pub fn there_and_back(&self, by: Mm, join: Join, half: Mm) -> Self {
        let out = by + half;
        let join = match join {
            Join::Mitre(limit) if by > Mm::ZERO && half > Mm::ZERO => Join::Mitre((by * limit + half) / out),
            Join::Mitre(_) | Join::Round => Join::Round,
        };
        self.offset(out, join).offset(-half, Join::Round)
    }

    /// Holes whose greatest extent is less than `limit` filled, with whatever lies in them; says where.
    #[must_use]
    pub fn small_holes_filled(&self, limit: Mm) -> (Self, Vec<Closed<F>>) {
        let clean = self.cleaned();
        let holes: Vec<_> = clean.small_islands(limit).into_iter().filter(|i| i.hole).collect();
        let mut report = Vec::new();
        let mut kept = Vec::with_capacity(clean.contours().len());
        let mut gone: Vec<kurbo::Rect> = Vec::new();
        for path in clean.contours() {
            let b = path.bounding_box();
            let middle = Point::mm(f64::midpoint(b.x0, b.x1), f64::midpoint(b.y0, b.y1));
            let hole = path.area() < 0.0 && holes.iter().any(|h| h.at.distance(middle).0 <= FIT.0);
            if hole && b.width().max(b.height()) < limit.0 {
                let area = Mm2(-path.area());
                report.push(Closed {
                    what: ClosedKind::Hole,
                    at: middle,
                    extent: Mm(b.width().max(b.height())),
                    area,
                });
                gone.push(b);
            } else {
                kept.push(path.clone());
            }
        }
        let within = |p: &BezPath| {
            let b = p.bounding_box();
            gone.iter().any(|g| g.x0 <= b.x0 && g.y0 <= b.y0 && b.x1 <= g.x1 && b.y1 <= g.y1)
        };
        kept.retain(|p| !within(p));
        (Region::promised(kept).rougher(clean.rough()), report)
    }
}

/// What a closing adds, part by part; strips as thin as the errors of two offsets are none.
fn patches<F: Frame>(before: &Region<F>, after: &Region<F>) -> Vec<Region<F>> {
    let added = after.op(before, Op::Difference);
    let (outer, holes): (Vec<&BezPath>, Vec<&BezPath>) =
        added.contours().iter().partition(|c| c.area() > 0.0);
    let part = |path: &&BezPath| {
        let flat = Region::<F>::trusted([(*path).clone()]).flat(FLATTEN);
        let own = holes.iter().filter(|h| {
            let p = h.segments().next().map_or(kurbo::Point::ZERO, |s| s.eval(0.5));
            h.area().abs() < path.area() && flat.contains(p.x, p.y)
        });
        let region = Region::promised(std::iter::once(path).chain(own).map(|c| (*c).clone()));
        let least = SPECK_MM2.max(FIT.0 * region.perimeter().0);
        (region.area().0 > least).then_some(region)
    };
    outer.iter().filter_map(part).collect()
}

fn told<F: Frame>(patch: &Region<F>, holes: &[kurbo::Rect], radius: Mm) -> Closed<F> {
    let (area, b) = (patch.area(), patch.bounds());
    let near = |h: &kurbo::Rect| {
        let off = [h.x0 - b.min.x, h.y0 - b.min.y, h.x1 - b.max.x, h.y1 - b.max.y];
        off.iter().all(|v| v.abs() <= 4.0 * FIT.0)
    };
    // Between a corner of 60 degrees and a disc in it: r^2 (cot 30 - (pi - pi / 3) / 2).
    let corner = 0.685 * radius.0 * radius.0;
    let what = match holes.iter().any(near) {
        true => ClosedKind::Hole,
        false if area.0 > corner => ClosedKind::Gap,
        false => ClosedKind::Corner,
    };
    Closed { what, at: b.centre(), extent: b.width().max(b.height()), area }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::frame::Art;

    fn rect(x0: f64, y0: f64, x1: f64, y1: f64) -> Region<Art> {
        Region::polygon(&[[x0, y0], [x1, y0], [x1, y1], [x0, y1]])
    }
    fn plates(gap: f64) -> Region<Art> {
        rect(-10.0, 0.0, -gap / 2.0, 8.0).op(&rect(gap / 2.0, 0.0, 10.0, 8.0), Op::Union)
    }

    /// A strait of width g and length l between straight sides: filled but for a segment of the disc at
    /// either end, r^2 asin(g / 2r) - (g / 2) sqrt(r^2 - g^2 / 4).
    #[test]
    fn a_strait_is_filled_but_for_the_disc_at_either_end() {
        for gap in [0.2, 0.6, 0.9] {
            let (was, r) = (plates(gap), 0.5);
            let (now, report) = was.closed(Mm(2.0 * r));
            let segment =
                r * r * libm::asin(gap / (2.0 * r)) - gap / 2.0 * libm::sqrt(r * r - gap * gap / 4.0);
            let want = 8.0 * gap - 2.0 * segment;
            approx::assert_abs_diff_eq!(now.area().0 - was.area().0, want, epsilon = 0.02 * 16.0);
            assert_eq!(report.iter().map(|c| c.what).collect::<Vec<_>>(), [ClosedKind::Gap], "{report:?}");
            approx::assert_abs_diff_eq!(report[0].area.0, want, epsilon = 0.01 * 16.0);
            assert!(report[0].at.x.abs() < 0.02 && (report[0].at.y - 4.0).abs() < 0.02);
            assert_eq!(now.contours().len(), 1);
            // Nothing is taken away.
            assert!(was.op(&now, Op::Difference).area().0 < 1e-6);
        }
    }

    #[test]
    fn a_wider_strait_stays_and_nothing_is_told() {
        let was = plates(1.05);
        let (now, report) = was.closed(Mm(1.0));
        assert_eq!((now.contours().len(), report.len()), (2, 0));
        assert_eq!(now, was, "to the bit");
    }

    /// Discs: a hole of radius 0.4 goes when 0.9 is asked for, one of radius 0.5 stays.
    #[test]
    fn a_hole_narrower_than_the_width_is_filled_whole_and_told() {
        let disc = |x: f64, r: f64| Region::<Art>::disc(Point::mm(x, 0.0), Mm(r));
        let plate = rect(-8.0, -4.0, 8.0, 4.0);
        let was = plate.op(&disc(-3.0, 0.4), Op::Difference).op(&disc(3.0, 0.5), Op::Difference);
        for (now, report) in [was.closed(Mm(0.9)), was.small_holes_filled(Mm(0.9))] {
            assert_eq!(now.contours().len(), 2);
            assert_eq!(report.len(), 1, "{report:?}");
            assert_eq!(report[0].what, ClosedKind::Hole);
            approx::assert_abs_diff_eq!(report[0].area.0, std::f64::consts::PI * 0.16, epsilon = 1e-3);
            approx::assert_abs_diff_eq!(report[0].at.x, -3.0, epsilon = 0.01);
        }
        let (all, report) = was.small_holes_filled(Mm(1.1));
        assert_eq!((all.contours().len(), report.len()), (1, 2));
    }

    /// A hole with a speck in it goes with the speck.
    #[test]
    fn what_lies_in_a_filled_hole_goes_with_it() {
        let disc = |r: f64| Region::<Art>::disc(Point::ORIGIN, Mm(r));
        let was = rect(-5.0, -5.0, 5.0, 5.0).op(&disc(0.6), Op::Difference).op(&disc(0.2), Op::Union);
        assert_eq!(was.contours().len(), 3);
        let (now, _) = was.small_holes_filled(Mm(2.0));
        approx::assert_abs_diff_eq!(now.area().0, 100.0, epsilon = 1e-9);
        assert_eq!(now.contours().len(), 1);
    }

    /// The bottom of a right-angled notch keeps r^2 (1 - pi / 4) of a disc's corner.
    #[test]
    fn a_notch_is_rounded_by_the_disc() {
        let was = rect(0.0, 0.0, 12.0, 12.0).op(&rect(6.0, 6.0, 13.0, 13.0), Op::Difference);
        let (now, report) = was.closed(Mm(2.0));
        assert_eq!(report.iter().map(|c| c.what).collect::<Vec<_>>(), [ClosedKind::Corner]);
        let want = 1.0 - std::f64::consts::FRAC_PI_4;
        approx::assert_abs_diff_eq!(now.area().0 - was.area().0, want, epsilon = 0.02);
    }

    /// Curved outlines come back from there and back a few microns off: nothing is told, nothing changes.
    #[test]
    fn errors_of_the_two_offsets_are_no_places() {
        let was: Region<Art> = Region::disc(Point::ORIGIN, Mm(9.0))
            .op(&Region::disc(Point::mm(2.0, 1.0), Mm(4.0)), Op::Difference);
        for width in [0.3, 1.0, 3.0] {
            let (now, report) = was.closed(Mm(width));
            assert_eq!((&now, report.len()), (&was, 0));
        }
        // A moat about an island: filled as a ring, the island stays part of it.
        let moat = was.op(&Region::disc(Point::mm(2.0, 1.0), Mm(3.8)), Op::Union);
        let (now, report) = moat.closed(Mm(0.5));
        assert_eq!(report.iter().map(|c| c.what).collect::<Vec<_>>(), [ClosedKind::Hole]);
        approx::assert_abs_diff_eq!(now.area().0, std::f64::consts::PI * 81.0, epsilon = 0.05);
        assert_eq!(now.contours().len(), 1);
        assert!(now.nodes() <= 8, "{} nodes", now.nodes());
    }

    #[test]
    fn growing_and_closing_at_once_closes_what_the_distance_leaves() {
        let (now, report) = plates(2.4).grown_closed(Mm(1.0), Join::Mitre(2.0), Mm(0.6));
        assert_eq!(now.contours().len(), 1);
        assert_eq!(report.iter().map(|c| c.what).collect::<Vec<_>>(), [ClosedKind::Gap]);
        // 0.4 mm wide and 10 mm long after growing.
        approx::assert_abs_diff_eq!(report[0].area.0, 4.0, epsilon = 0.2);
        // Square corners stay square.
        assert!((now.bounds().width().0 - 22.0).abs() < 0.02);
        approx::assert_abs_diff_eq!(now.area().0, 220.0, epsilon = 0.2);
    }
}
