//! Narrow places mended: film thickened, gaps merged or opened, there and nowhere else.
//!
//! A bar as wide as the limit is laid along the middle of a narrow place, on into what is wider on both
//! sides, and united with the region (or taken from it, to open a gap); where its sides leave the old outline
//! the new corners are rounded. What is farther than one limit from the bar's middle line is not touched.
//!
//! Imports: base, outline::{tree, curve, region, clearance, fit, boolean, stroke, corner, narrow}.

use super::boolean::{FillRule, Op};
use super::clearance::Clearance;
use super::corner::{Corner, CornerKind};
use super::fit::{FitSample, follow};
use super::narrow::{Middle, Narrow, NarrowKind};
use super::region::Region;
use super::stroke::{StrokeCap, StrokeJoin, StrokeStyle, stroke_outline};
use crate::base::frame::{Frame, Point};
use crate::base::tolerance::{FIT, FLATTEN};
use crate::base::units::{Angle, Mm, Mm2};
use kurbo::{BezPath, Point as At, Vec2};

/// What to do with places that are too narrow.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Mend {
    /// Makes narrow film as wide as the limit.
    Thicken,
    /// Fills narrow gaps and small holes; the film that then joins the two sides is as wide as the limit too.
    Merge,
    /// Makes narrow gaps and small holes as wide as the limit.
    Open,
}

/// What was done at one place.
#[derive(Clone, Debug, PartialEq)]
pub struct Mended<F: Frame> {
    /// What kind of place it was.
    pub kind: NarrowKind,
    /// Its two sides where it was narrowest.
    pub at: [Point<F>; 2],
    /// How wide it was.
    pub was: Mm,
    /// The bar: what was united with the region, or taken from it.
    pub bar: Region<F>,
    /// The middle lines of the bars, as chords.
    pub middle: Vec<Vec<Point<F>>>,
    /// No point farther than this from the middle lines has changed.
    pub reach: Mm,
}

/// The bar is wider than the limit by this, so that its written curves still keep the limit, mm.
const SPARE: f64 = 4.0 * FLATTEN.0;
/// New corners are rounded where the sides meet at less than this.
const BLUNT: f64 = 175.0;

impl<F: Frame> Region<F> {
    /// Mends every place narrower than `limit`: film ([`Mend::Thicken`]) or gaps. Ask [`Region::narrow`] and
    /// [`Region::gaps`] again afterwards: thicker film can leave less of a gap beside it.
    #[must_use]
    pub fn mended(&self, how: Mend, limit: Mm) -> (Self, Vec<Mended<F>>) {
        let places = if how == Mend::Thicken { self.narrow(limit) } else { self.gaps(limit) };
        let (first, mut report) = self.mended_at(how, limit, &places);
        if how != Mend::Merge || report.is_empty() {
            return (first, report);
        }
        let near =
            |n: &Narrow<F>, report: &[Mended<F>]| report.iter().any(|m| m.distance(n.middle()) < limit.0);
        // What is left of a slit that ends in a curve is a small hole now.
        let holes = first.gaps(limit).into_iter().filter(|n| n.kind == NarrowKind::Whole && near(n, &report));
        let (second, more) = first.mended_at(how, limit, &holes.collect::<Vec<_>>());
        report.extend(more);
        // What now joins two parts may itself be narrow.
        let bridges: Vec<Narrow<F>> = second.narrow(limit).into_iter().filter(|n| near(n, &report)).collect();
        let (third, more) = second.mended_at(Mend::Thicken, limit, &bridges);
        report.extend(more);
        (third, report)
    }

    /// Mends the given places only.
    #[must_use]
    pub fn mended_at(&self, how: Mend, limit: Mm, places: &[Narrow<F>]) -> (Self, Vec<Mended<F>>) {
        if places.is_empty() {
            return (self.clone(), Vec::new());
        }
        let old = Clearance::new(self.flat(FLATTEN));
        let bars = MiddleLines { how, limit: limit.0, old: &old };
        let mut report = Vec::new();
        for place in places {
            // An end of a stroke that is already told as a neck shares its lines.
            if places.iter().any(|p| p.kind < place.kind && p.lines == place.lines) {
                continue;
            }
            let (patch, middle) = bars.of(self, place);
            report.push(Mended {
                kind: place.kind,
                at: place.at,
                was: place.width,
                bar: patch,
                middle,
                reach: limit,
            });
        }
        let op = if how == Mend::Open { Op::Difference } else { Op::Union };
        let changed = self.op(&Region::union_of(report.iter().map(|m| &m.bar)), op);
        // Corners that were there before stay.
        let before = self.sharp_corners(Angle::degrees(BLUNT));
        let side = if how == Mend::Open { CornerKind::Out } else { CornerKind::In };
        let radius = 0.5 * limit.0;
        let fresh = |c: &Corner<F>| {
            let arm = radius / libm::tan(0.5 * c.angle.rad());
            c.points == side
                && arm < 0.4 * limit.0
                && before.iter().all(|b| b.at.distance(c.at).0 > FIT.0)
                && report.iter().any(|m| m.distance(c.at) < 0.55 * limit.0)
        };
        let within = |p: Point<F>| report.iter().any(|m| m.distance(p) < 0.99 * limit.0);
        let (smooth, _) = changed.rounded_where(Angle::degrees(BLUNT), Mm(radius), fresh, within);
        (smooth, report)
    }
}

impl<F: Frame> Mended<F> {
    /// The bar's area outside the region as it was (inside, for opening): what the film gains or loses there,
    /// within the small change that rounding the new corners makes.
    pub fn area(&self, was: &Region<F>, how: Mend) -> Mm2 {
        let kept = if how == Mend::Open { Op::Intersection } else { Op::Difference };
        self.bar.op(was, kept).area()
    }
    /// From a point to the middle lines, mm.
    fn distance(&self, p: Point<F>) -> f64 {
        let lines = self.middle.iter().flat_map(|l| {
            let one = (l.len() == 1).then(|| [l[0].x, l[0].y, l[0].x, l[0].y]);
            l.windows(2).map(|w| [w[0].x, w[0].y, w[1].x, w[1].y]).chain(one)
        });
        lines.map(|e| super::tree::edge_point2(&e, p.x, p.y).0).fold(f64::INFINITY, f64::min).sqrt()
    }
}

/// A place of a bar's middle line.
type Step = (At, Vec2);

struct MiddleLines<'a, F: Frame> {
    how: Mend,
    limit: f64,
    old: &'a Clearance<F>,
}

impl<F: Frame> MiddleLines<'_, F> {
    /// The bar of a place, and its middle lines.
    fn of(&self, region: &Region<F>, place: &Narrow<F>) -> (Region<F>, Vec<Vec<Point<F>>>) {
        if place.kind == NarrowKind::Whole && self.how == Mend::Merge {
            return self.fill(region, place);
        }
        let mut strokes = Vec::new();
        let mut middles = Vec::new();
        for (mut line, free) in self.apart(place) {
            if place.kind != NarrowKind::Whole {
                self.lengthen(&mut line, free);
            }
            let path = curve(&line);
            middles.push(chords(&path));
            strokes.push(self.stroke(&path));
        }
        (Region::filled(strokes, FillRule::NonZero), middles)
    }

    /// A hole that is to be filled: the whole of it.
    fn fill(&self, region: &Region<F>, place: &Narrow<F>) -> (Region<F>, Vec<Vec<Point<F>>>) {
        let p = place.lines[0][0].at;
        let mut holes: Vec<(f64, BezPath)> = Vec::new();
        for c in region.contours() {
            let back = c.reverse_subpaths();
            let flat = Region::<F>::trusted([back.clone()]).flat(FLATTEN);
            if flat.area() > 0.0 && flat.contains(p.x, p.y) {
                holes.push((flat.area(), back));
            }
        }
        let least = holes.into_iter().min_by(|a, b| a.0.total_cmp(&b.0));
        let hole = least.map_or_else(Region::empty, |h| Region::filled([h.1], FillRule::NonZero));
        // The outline itself is the middle line: nothing beyond it changes.
        let rings = hole.flat(FLATTEN).rings;
        let middle = rings.iter().map(|r| r.iter().map(|p| Point::mm(p[0], p[1])).collect()).collect();
        (hole, middle)
    }

    /// The middle lines without those that lie on each other (a stroke is seen from either side), and which
    /// of their ends are free, not on another line.
    fn apart(&self, place: &Narrow<F>) -> Vec<(Vec<Step>, [bool; 2])> {
        let mut lines: Vec<&Vec<Middle<F>>> = place.lines.iter().collect();
        let length = |l: &[Middle<F>]| l.windows(2).map(|w| w[0].at.distance(w[1].at).0).sum::<f64>();
        lines.sort_by(|a, b| length(b).total_cmp(&length(a)));
        let mut taken: Vec<(Vec<Step>, [bool; 2])> = Vec::new();
        for line in lines {
            let mut fresh: Vec<Step> = Vec::new();
            let mut runs: Vec<(Vec<Step>, [bool; 2])> = Vec::new();
            let mut free = true;
            for m in line {
                let p = At::new(m.at.x, m.at.y);
                let covered = taken.iter().any(|(l, _)| {
                    let one = (l.len() == 1).then(|| [l[0].0.x, l[0].0.y, l[0].0.x, l[0].0.y]);
                    let sides = l.windows(2).map(|w| [w[0].0.x, w[0].0.y, w[1].0.x, w[1].0.y]).chain(one);
                    let near = (0.25 * self.limit) * (0.25 * self.limit);
                    sides.into_iter().any(|e| super::tree::edge_point2(&e, p.x, p.y).0 < near)
                });
                if covered {
                    runs.push((std::mem::take(&mut fresh), [free, false]));
                    free = false;
                    continue;
                }
                let along = Vec2::new(m.along[0], m.along[1]);
                // Only what goes on: balls about one corner may stand on the same middle.
                let forward = fresh.last().is_none_or(|l| (p - l.0).dot(along) > 0.02 * self.limit);
                if forward {
                    fresh.push((p, along));
                }
            }
            runs.push((fresh, [free, true]));
            taken.extend(runs.into_iter().filter(|r| !r.0.is_empty()));
        }
        taken
    }

    /// On into what is as wide as the limit, at both ends; or until the bar's round end covers the end of a
    /// stroke. What is to be filled is only lengthened to where it ends.
    fn lengthen(&self, line: &mut Vec<Step>, free: [bool; 2]) {
        let area = self.how == Mend::Thicken;
        let step = 0.05 * self.limit;
        for end in [false, true].into_iter().filter(|&e| free[usize::from(e)]) {
            let Some(&(from, t)) = (if end { line.last() } else { line.first() }) else { return };
            let out = if end { t } else { -t };
            let fill = self.how == Mend::Merge;
            let mut to = from;
            let mut ends = false;
            for k in 0..=30 {
                let p = from + out * (step * f64::from(k));
                let ahead = if fill { p } else { p + out * (0.25 * self.limit) };
                if self.old.contains(Point::mm(ahead.x, ahead.y)) != area {
                    ends = true;
                    break;
                }
                to = p;
                if self.old.nearest(Point::mm(p.x, p.y), Mm(0.5 * self.limit)).is_none() {
                    break;
                }
            }
            if to != from && (ends || !fill) {
                if end { line.push((to, t)) } else { line.insert(0, (to, t)) }
            }
        }
    }

    fn stroke(&self, path: &BezPath) -> BezPath {
        let style = StrokeStyle {
            width: self.limit + SPARE,
            cap: StrokeCap::Round,
            join: StrokeJoin::Round,
            mitre_limit: 4.0,
            dashes: Vec::new(),
            dash_offset: 0.0,
        };
        stroke_outline(path, &style, FLATTEN.0)
    }
}

/// A smooth curve through a middle line; a dot if it has one place only.
fn curve(line: &[Step]) -> BezPath {
    let mut path = BezPath::new();
    let Some(&(p, t)) = line.first() else { return path };
    path.move_to(p);
    if line.len() == 1 {
        // A stroke of no length has no direction; this one has a micrometre.
        path.line_to(p + t * 1e-3);
        return path;
    }
    let mut s = 0.0;
    let samples: Vec<FitSample> = line
        .iter()
        .enumerate()
        .map(|(at, &(q, t))| {
            s += (q - line[at.saturating_sub(1)].0).hypot();
            FitSample { p: q, t, s, at }
        })
        .collect();
    for (seg, _, _) in follow(&samples, FIT.0) {
        match seg {
            super::curve::Seg::Line(_, b) => path.line_to(b),
            super::curve::Seg::Cubic(c) => path.curve_to(c.p1, c.p2, c.p3),
        }
    }
    path
}

fn chords<F: Frame>(path: &BezPath) -> Vec<Point<F>> {
    let mut out = Vec::new();
    for seg in path.segments() {
        use kurbo::ParamCurve;
        let n = if matches!(seg, kurbo::PathSeg::Line(_)) { 1 } else { 32 };
        if out.is_empty() {
            out.push(Point::mm(seg.start().x, seg.start().y));
        }
        out.extend((1..=n).map(|i| {
            let p = seg.eval(f64::from(i) / f64::from(n));
            Point::mm(p.x, p.y)
        }));
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::frame::Art;
    use crate::outline::Bounds;
    use proptest::prelude::*;

    use crate::outline::path::polyline_path;
    type R = Region<Art>;
    const LIMIT: Mm = Mm(0.8);

    fn disc(x: f64, y: f64, r: f64) -> R {
        Region::disc(Point::mm(x, y), Mm(r))
    }
    fn rect(x0: f64, y0: f64, x1: f64, y1: f64) -> R {
        Region::rectangle(Bounds { min: Point::mm(x0, y0), max: Point::mm(x1, y1) })
    }
    fn bitten(neck: f64, r: f64) -> R {
        let bites = disc(-0.5 * neck - r, 1.3, r).op(&disc(0.5 * neck + r, 1.3, r), Op::Union);
        rect(-30.0, -30.0, 30.0, 30.0).op(&bites, Op::Difference)
    }
    fn hourglass(neck: f64) -> R {
        let h = 0.5 * neck;
        Region::trusted([polyline_path(&[
            [-9.0, -8.0],
            [9.0, -8.0],
            [h, 0.0],
            [9.0, 8.0],
            [-9.0, 8.0],
            [-h, 0.0],
        ])])
    }
    /// Beyond the stated reach of the stated lines both outlines are one, both ways.
    fn nothing_else_changed(old: &R, new: &R, report: &[Mended<Art>]) {
        let flats = [old.flat(Mm(1e-5)), new.flat(Mm(1e-5))];
        for (from, to) in [(0, 1), (1, 0)] {
            let index = Clearance::new(flats[to].clone());
            for p in flats[from].rings.concat() {
                let p = Point::mm(p[0], p[1]);
                if report.iter().all(|m| m.distance(p) > m.reach.0) {
                    let off = index.nearest(p, Mm(1e3)).unwrap().distance.0;
                    assert!(off < 5e-5, "changed by {off} at {p:?}");
                }
            }
        }
    }

    #[test]
    fn thickened_film_is_as_wide_as_the_limit_and_the_rest_stays() {
        let shapes = [
            bitten(0.3, 6.0),
            bitten(0.2, 1.0),
            hourglass(0.3),
            rect(-12.0, -0.2, 12.0, 0.2)
                .op(&disc(-14.0, 0.0, 3.0), Op::Union)
                .op(&disc(14.0, 0.0, 3.0), Op::Union),
            disc(0.0, 0.0, 10.0).op(&disc(5.5, 0.0, 4.0), Op::Difference),
            disc(0.0, 0.0, 10.0).op(&disc(0.0, 0.0, 9.5), Op::Difference),
        ];
        for (k, r) in shapes.iter().enumerate() {
            let (thick, report) = r.mended(Mend::Thicken, LIMIT);
            assert!(!report.is_empty(), "shape {k}");
            let left = thick.narrow(LIMIT);
            assert!(left.is_empty(), "shape {k}: {:?} at {:?}", left[0].width, left[0].at);
            assert!(thick.area().0 > r.area().0);
            nothing_else_changed(r, &thick, &report);
            let told: f64 = report.iter().map(|m| m.area(r, Mend::Thicken).0).sum();
            assert!((thick.area().0 - r.area().0 - told).abs() < 0.2 * told + 0.02, "shape {k}: told {told}");
        }
    }

    #[test]
    fn gaps_are_opened_or_merged_and_the_rest_stays() {
        let slit =
            |w: f64| rect(-9.0, -9.0, 9.0, 9.0).op(&rect(-0.5 * w, 0.0, 0.5 * w, 12.0), Op::Difference);
        let shapes = [
            slit(0.3),
            disc(-5.15, 0.0, 5.0).op(&disc(3.15, 0.0, 3.0), Op::Union),
            rect(-9.0, 0.0, 9.0, 9.0).op(&rect(-9.0, -9.4, 9.0, -0.4), Op::Union),
            rect(-15.0, -20.0, 15.0, 20.0).op(&hourglass(0.3), Op::Difference),
        ];
        for (k, r) in shapes.iter().enumerate() {
            for how in [Mend::Open, Mend::Merge] {
                let (new, report) = r.mended(how, LIMIT);
                assert!(!report.is_empty());
                let left = new.gaps(LIMIT);
                assert!(left.is_empty(), "shape {k} {how:?}: {:?} at {:?}", left[0].width, left[0].at);
                assert!(new.narrow(LIMIT).is_empty(), "shape {k} {how:?} leaves narrow film");
                assert_eq!(new.area().0 > r.area().0, how == Mend::Merge);
                nothing_else_changed(r, &new, &report);
            }
        }
        assert_eq!(shapes[1].mended(Mend::Merge, LIMIT).0.contours().len(), 1, "two discs become one part");
    }

    #[test]
    fn a_small_hole_is_filled_whole_or_widened_and_a_speck_grows() {
        let r = rect(-9.0, -9.0, 9.0, 9.0).op(&disc(1.0, 2.0, 0.25), Op::Difference);
        let (full, report) = r.mended(Mend::Merge, LIMIT);
        assert_eq!((full.contours().len(), report.len()), (1, 1));
        approx::assert_abs_diff_eq!(full.area().0, 324.0, epsilon = 1e-6);
        let (open, _) = r.mended(Mend::Open, LIMIT);
        assert!(open.gaps(LIMIT).is_empty() && open.contours().len() == 2);
        let speck = disc(0.0, 0.0, 0.3);
        assert!(speck.mended(Mend::Thicken, LIMIT).0.narrow(LIMIT).is_empty());
        // Nothing narrow, nothing done.
        let wide = disc(0.0, 0.0, 3.0);
        assert_eq!(wide.mended(Mend::Thicken, LIMIT), (wide.clone(), vec![]));
    }

    proptest! {
        #[test]
        fn any_bitten_plate_is_thickened_where_it_was_narrow(neck in 0.1..0.75f64, r in 0.3..8.0f64) {
            let old = bitten(neck, r);
            let (thick, report) = old.mended(Mend::Thicken, LIMIT);
            prop_assert!(!report.is_empty());
            prop_assert!(thick.narrow(LIMIT).is_empty());
            nothing_else_changed(&old, &thick, &report);
        }
    }
}
