//! Segments too short for a blade are taken out: a cutter stutters at each, and nobody sees what they draw.
//!
//! Imports: base, outline::{curve, region, clearance}.

use super::clearance::Clearance;
use super::curve::{LENGTH, Seg, closed_path};
use super::region::Region;
use crate::base::frame::{Frame, Point as At};
use crate::base::tolerance::{FLATTEN, NO_LENGTH, SHORTEST, SHORTEST_MADE, THIN_TIP};
use crate::base::units::Mm;
use kurbo::{BezPath, ParamCurveArclen, Point, Shape, Vec2};

/// Cosine of the turn from which two sides run back over each other: 178 degrees.
const BACK: f64 = -0.9994;

/// Rounds of resolving what crosses once short sides are drawn together.
const ROUNDS: usize = 4;

impl<F: Frame> Region<F> {
    /// The same outline without segments shorter than [`SHORTEST`] and without needles as short as that:
    /// their ends are drawn together in the middle, and what joins them keeps its direction. No point moves
    /// by more than [`SHORTEST`]; a contour where that cannot be stays as it is. Where outlines then cross, by as little,
    /// the crossings are resolved and what they leave is drawn together again; only if that does not end, all stays.
    /// Contours that are mere slivers are left out first, and tips and slits thinner than [`THIN_TIP`] cut off, at most
    /// 2 mm from their ends.
    #[must_use]
    pub fn without_short_segments(&self) -> Self {
        let begun = self.without_slivers().without_hairs();
        let mut drawn = begun.merged();
        for _ in 0..ROUNDS {
            match drawn {
                Ok(out) => return out,
                Err(crossing) => {
                    drawn = crossing.resolve_crossings().without_slivers().without_hairs().merged();
                }
            }
        }
        drawn.unwrap_or(begun)
    }

    /// Without contours that are nowhere a film or a gap: twice their area over their perimeter, their mean width, is
    /// below half of [`THIN_TIP`]. The last one stays.
    fn without_slivers(&self) -> Self {
        let sliver = |c: &&BezPath| {
            let wide = c.area().abs() * 2.0 / c.perimeter(LENGTH).max(NO_LENGTH);
            wide < THIN_TIP.0 / 2.0
        };
        let kept = self.contours().iter().filter(|c| !sliver(c));
        if kept.clone().count() == self.contours().len() || kept.clone().count() == 0 {
            return self.clone();
        }
        Region::promised(kept.cloned().collect::<Vec<_>>()).rougher(self.rough())
    }

    /// With short sides drawn together; what crosses then is an error.
    fn merged(&self) -> Result<Self, Self> {
        let mut changed = false;
        let one = |path: &BezPath| {
            let segs = Seg::of(path);
            if !segs.iter().any(short) && !has_needle(&segs) {
                return path.clone();
            }
            let ways = [merged as fn(Vec<Seg>) -> Option<Vec<Seg>>, |segs| merged(strided(&segs))];
            let mut drawn = ways.iter().filter_map(|way| way(segs.clone())).map(|s| closed_path(&s));
            match drawn.find(|drawn| near(path, drawn)) {
                Some(drawn) => {
                    changed = true;
                    drawn
                }
                None => path.clone(),
            }
        };
        let contours: Vec<BezPath> = self.contours().iter().map(one).collect();
        if !changed {
            return Ok(self.clone());
        }
        let out = Region::promised(contours).rougher(self.rough());
        if out.crosses() { Err(out) } else { Ok(out) }
    }
}

/// A segment is no shorter than its chord: most need not be measured.
fn short(s: &Seg) -> bool {
    (s.end() - s.start()).hypot() < SHORTEST_MADE.0 && s.length() < SHORTEST_MADE.0
}

/// Does side `k` end in a point from which the next runs straight back, one of the two no longer than the
/// shortest?
fn needle(segs: &[Seg], k: usize) -> bool {
    let (a, b) = (&segs[k], &segs[(k + 1) % segs.len()]);
    a.tangent(1.0).dot(b.tangent(0.0)) < BACK && a.length().min(b.length()) < 2.0 * SHORTEST_MADE.0
}

fn has_needle(segs: &[Seg]) -> bool {
    segs.len() > 2 && (0..segs.len()).any(|k| needle(segs, k))
}

/// Draws short sides together, the shortest first; nothing if no outline is left.
fn merged(mut segs: Vec<Seg>) -> Option<Vec<Seg>> {
    loop {
        let n = segs.len();
        if n == 0 {
            return None;
        }
        let shortest = (0..n)
            .filter(|i| short(&segs[*i]))
            .map(|i| (segs[i].length(), i))
            .min_by(|a, b| a.0.total_cmp(&b.0));
        let sharp = || (0..n).find(|k| n > 2 && needle(&segs, *k));
        let i = if let Some((_, i)) = shortest {
            i
        } else if let Some(k) = sharp() {
            let next = (k + 1) % n;
            if segs[k].length() < segs[next].length() { k } else { next }
        } else {
            return Some(segs);
        };
        let others_bound = n > 2 || (n == 2 && matches!(segs[1 - i], Seg::Cubic(_)));
        if !others_bound {
            return None;
        }
        let (before, after) = ((i + n - 1) % n, (i + 1) % n);
        let middle = segs[i].start().midpoint(segs[i].end());
        segs[before] = ended(segs[before], middle);
        segs[after] = begun(segs[after], middle);
        segs.remove(i);
    }
}

/// A run of short sides in strides: from a corner to the next that is far enough from it. Drawn together two by two, a long
/// run may wander from where it was; its own corners do not.
fn strided(segs: &[Seg]) -> Vec<Seg> {
    let Some(first) = segs.first().map(Seg::start) else { return Vec::new() };
    let (mut at, mut out) = (first, Vec::new());
    for seg in segs {
        if short(seg) && (seg.end() - at).hypot() < SHORTEST_MADE.0 {
            continue;
        }
        out.push(begun(*seg, at));
        at = seg.end();
    }
    if let Some(last) = out.last_mut() {
        *last = ended(*last, first);
    }
    out
}

/// The segment with its end elsewhere; the handle there goes along, so that its direction stays.
fn ended(s: Seg, to: Point) -> Seg {
    match s {
        Seg::Line(a, _) => Seg::Line(a, to),
        Seg::Cubic(mut c) => {
            let by: Vec2 = to - c.p3;
            (c.p2, c.p3) = (c.p2 + by, to);
            Seg::Cubic(c)
        }
    }
}

fn begun(s: Seg, to: Point) -> Seg {
    match s {
        Seg::Line(_, b) => Seg::Line(to, b),
        Seg::Cubic(mut c) => {
            let by: Vec2 = to - c.p0;
            (c.p1, c.p0) = (c.p1 + by, to);
            Seg::Cubic(c)
        }
    }
}

/// Is every place of either outline within [`SHORTEST`] of the other, and what they enclose on the same side?
fn near(before: &BezPath, after: &BezPath) -> bool {
    let flat = |p: &BezPath| Region::<crate::base::frame::Art>::trusted([p.clone()]).flat(FLATTEN);
    let (a, b) = (Clearance::new(flat(before)), Clearance::new(flat(after)));
    let within = |from: &Clearance<_>, to: &Clearance<_>| {
        from.flat()
            .rings
            .iter()
            .flatten()
            .all(|p| to.nearest(At::mm(p[0], p[1]), SHORTEST + FLATTEN).is_some())
    };
    !after.elements().is_empty() && before.area() * after.area() > 0.0 && within(&a, &b) && within(&b, &a)
}

/// The shortest segment of a region, and how many are shorter than [`SHORTEST`].
pub fn shortest_segment<F: Frame>(region: &Region<F>) -> (Mm, usize) {
    let all = region.contours().iter().flat_map(BezPath::segments).map(|s| s.arclen(LENGTH));
    // A path closes by a line of no length where it ends at its start.
    let real = all.filter(|l| *l > 0.0);
    real.fold((Mm(f64::INFINITY), 0), |(least, n), l| (least.min(Mm(l)), n + usize::from(l < SHORTEST.0)))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::frame::Art;
    use proptest::prelude::*;

    fn region(d: &str) -> Region<Art> {
        Region::trusted([BezPath::from_svg(d).expect("a path")])
    }

    /// Case 9: a corner cut off by a hundredth of a millimetre is the corner again.
    #[test]
    fn case_9_a_crumb_at_a_corner() {
        let r = region("M0 0 L10 0 L10 9.99 L9.99 10 L0 10 Z").without_short_segments();
        assert_eq!(r.nodes(), 4);
        assert!((r.area().0 - 100.0).abs() < 0.11 && shortest_segment(&r).1 == 0);
    }

    /// A needle of a hundredth goes; one that a blade can cut stays.
    #[test]
    fn needles() {
        let r = region("M0 0 L10 0 L10 5 L10.015 5.0001 L10 5.0002 L10 10 L0 10 Z").without_short_segments();
        assert!(r.bounds().max.x < 10.011 && shortest_segment(&r).1 == 0, "{:?}", r.bounds());
        let long = region("M0 0 L10 0 L10 5 L11 5.08 L10 5.16 L10 10 L0 10 Z");
        assert!((long.without_short_segments().bounds().max.x - 11.0).abs() < 1e-9);
    }

    /// Case 10: an arc of a thousand steps, each far too short and some of them back, is drawn in strides: near where it
    /// was, and no step too short.
    #[test]
    fn case_10_a_long_run_of_crumbs() {
        let mut path = BezPath::new();
        path.move_to((0.0, 0.0));
        for i in 0..=1000 {
            let a = std::f64::consts::PI * f64::from(i) / 1000.0;
            let shake = if i % 3 == 0 { 0.002 } else { 0.0 };
            path.line_to((5.0 - (2.0 + shake) * a.cos(), (2.0 + shake) * a.sin()));
        }
        path.line_to((10.0, 0.0));
        path.line_to((10.0, 8.0));
        path.line_to((0.0, 8.0));
        path.close_path();
        let r: Region<Art> = Region::trusted([path]);
        let out = r.without_short_segments();
        assert_eq!(shortest_segment(&out).1, 0);
        assert!((out.area().0 - r.area().0).abs() < 0.05 && !out.crosses());
    }

    proptest! {
        /// Property: a polygon with crumbs anywhere keeps its place within the shortest, and has none
        /// afterwards.
        #[test]
        fn crumbs_anywhere(at in proptest::collection::vec((0.0..1.0f64, 0.0005..0.019f64), 1..12), r in 3.0..40.0f64) {
            let mut corners: Vec<f64> = (0..7).map(|k| f64::from(k) / 7.0).collect();
            for (t, d) in &at {
                corners.extend([*t, t + d / (r * std::f64::consts::TAU)]);
            }
            corners.sort_by(f64::total_cmp);
            let p = |t: &f64| Point::new(r * (t * std::f64::consts::TAU).cos(), r * (t * std::f64::consts::TAU).sin());
            let mut path = BezPath::new();
            path.move_to(p(&corners[0]));
            corners[1..].iter().for_each(|t| path.line_to(p(t)));
            path.close_path();
            let before: Region<Art> = Region::trusted([path.clone()]);
            let after = before.without_short_segments();
            prop_assert_eq!(shortest_segment(&after).1, 0);
            prop_assert!(near(&path, &after.contours()[0]));
        }
    }

    /// Case 1 (a snail 23 mm wide, mended): a slit of two cubics that is a thousandth of a millimetre wide is no gap;
    /// a hole that is wide enough stays, and so does the last contour.
    #[test]
    fn case_1_slivers_are_left_out() {
        let body = "M-5 -5H5V5H-5Z";
        let slit =
            "M-0.157 1.872C-0.062 1.579 -0.028 1.285 -0.047 1.004C-0.029 1.295 -0.067 1.590 -0.157 1.872Z";
        let made = region(&format!("{body}{slit}")).without_short_segments();
        assert_eq!(made.contours().len(), 1);
        let hole = "M-1 -1V1H1V-1Z";
        assert_eq!(region(&format!("{body}{hole}")).without_short_segments().contours().len(), 2);
        assert_eq!(region(slit).without_short_segments().contours().len(), 1);
    }
}
