//! Tips and slits as thin as a hair are cut off: a blade runs out and back in its own cut there, and lifts what
//! it leaves.
//!
//! ```text
//!          \   /                      \   /
//!           | |      d(s) >= THIN_TIP      |_|   joined by a line where the sides, walked from the tip
//!            v       ----------->            by the same way s, are THIN_TIP apart
//! ```
//!
//! Imports: base, outline::{curve, region}.

use super::curve::{LENGTH, Seg, closed_path};
use super::region::Region;
use crate::base::frame::Frame;
use crate::base::tolerance::{MEASURE, THIN_TIP};
use kurbo::{BezPath, ParamCurveArclen, Point, Shape};

/// Cosine of the turn from which two sides are asked how fast they part: 174 degrees.
const BACK: f64 = -0.9945;
/// Step along both sides, mm: sides that part by more in one step are found as soon.
const STEP: f64 = 0.02;
/// Farthest that a tip is cut off, mm: what is thin for longer is a narrow place, and told as one.
const FARTHEST: f64 = 2.0;

impl<F: Frame> Region<F> {
    /// The same outline without tips and slits that are narrower than [`THIN_TIP`] up to their end, each cut off by
    /// a line where it is that wide, at most 2 mm from its end. A contour that would cross itself so, stays.
    #[must_use]
    pub(super) fn without_hairs(&self) -> Self {
        let mut changed = false;
        let one = |path: &BezPath| {
            let segs = Seg::of(path);
            let Some(k) = (0..segs.len()).find(|k| turns_back(&segs, *k)) else { return path.clone() };
            let blunt = closed_path(&blunted(segs, k));
            let same = blunt.area() * path.area() > 0.0;
            changed |= same;
            if same { blunt } else { path.clone() }
        };
        let contours: Vec<BezPath> = self.contours().iter().map(one).collect();
        if !changed {
            return self.clone();
        }
        let out = Region::promised(contours).rougher(self.rough());
        if out.crosses() { self.clone() } else { out }
    }
}

/// Does the outline turn back on itself where side `k` ends?
fn turns_back(segs: &[Seg], k: usize) -> bool {
    segs.len() > 1 && segs[k].tangent(1.0).dot(segs[(k + 1) % segs.len()].tangent(0.0)) < BACK
}

/// Cuts off each hair, from side `k` on; what cannot be cut off is passed over.
fn blunted(mut segs: Vec<Seg>, mut k: usize) -> Vec<Seg> {
    while k < segs.len() {
        if turns_back(&segs, k)
            && let Some(fewer) = cut_off(&segs, k)
        {
            segs = fewer;
            k = 0;
        } else {
            k += 1;
        }
    }
    segs
}

/// The sides without the hair at the end of side `k`; nothing if they part at once, or not in time.
fn cut_off(segs: &[Seg], k: usize) -> Option<Vec<Seg>> {
    // Both ways from the tip, each side so turned that it starts nearer to it.
    let n = segs.len();
    let back: Vec<Seg> = (0..n).map(|i| segs[(k + n - i) % n].part(1.0, 0.0)).collect();
    let on: Vec<Seg> = (0..n).map(|i| segs[(k + 1 + i) % n]).collect();
    let whole: f64 = segs.iter().map(Seg::length).sum();
    let most = FARTHEST.min(whole * 0.4);
    let apart = |s: f64| {
        let (a, b) = (walk(&back, s), walk(&on, s));
        (back[a.0].at(a.1) - on[b.0].at(b.1)).hypot()
    };
    let mut far = STEP;
    while apart(far) < THIN_TIP.0 {
        far += STEP;
        if far > most {
            return None;
        }
    }
    if far <= STEP {
        return None;
    }
    let mut near = far - STEP;
    while far - near > MEASURE.0 {
        let s = 0.5 * (near + far);
        if apart(s) < THIN_TIP.0 { near = s } else { far = s }
    }
    let ((i, t), (j, u)) = (walk(&back, far), walk(&on, far));
    if i + j >= n {
        return None;
    }
    // From the cut on side `on[j]` round to the cut on side `back[i]`.
    let mut out = vec![on[j].part(u, 1.0)];
    out.extend_from_slice(&on[j + 1..n - 1 - i]);
    out.push(back[i].part(1.0, t));
    let (from, to) = (out[out.len() - 1].end(), out[0].start());
    out.push(Seg::Line(from, to));
    Some(out)
}

/// The side, and the place on it, that lies `s` along them.
fn walk(sides: &[Seg], mut s: f64) -> (usize, f64) {
    for (i, side) in sides.iter().enumerate() {
        let l = side.length();
        if s < l {
            return (i, along(side, s / l.max(MEASURE.0), s));
        }
        s -= l;
    }
    (sides.len() - 1, 1.0)
}

fn along(s: &Seg, part: f64, way: f64) -> f64 {
    match s {
        Seg::Line(..) => part,
        Seg::Cubic(c) => c.inv_arclen(way, LENGTH),
    }
}

/// How near the two sides of a closed polyline come again within `way` of one of its corners, and where: the
/// least over all corners that turn by more than a right angle. Nothing if there is none.
pub fn sharpest_hair(ring: &[[f64; 2]], way: f64) -> Option<(f64, Point)> {
    let n = ring.len();
    let p = |i: usize| Point::new(ring[i % n][0], ring[i % n][1]);
    let off = |from: usize, step: usize| {
        let (mut i, mut left) = (from, way);
        for _ in 0..n {
            let next = (i + step) % n;
            let l = (p(next) - p(i)).hypot();
            if l >= left {
                return p(i).lerp(p(next), left / l);
            }
            left -= l;
            i = next;
        }
        p(from)
    };
    (0..n)
        .filter(|i| (p(i + 1) - p(*i)).dot(p(*i) - p(i + n - 1)) < 0.0)
        .map(|i| ((off(i, 1) - off(i, n - 1)).hypot(), p(i)))
        .min_by(|a, b| a.0.total_cmp(&b.0))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::frame::Art;
    use crate::base::tolerance::{FLATTEN, SHORTEST};
    use crate::outline::shortest_segment;
    use proptest::prelude::*;

    fn region(d: &str) -> Region<Art> {
        Region::trusted([BezPath::from_svg(d).expect("a path")])
    }

    fn sharpest(r: &Region<Art>) -> f64 {
        let flat = r.flat(FLATTEN);
        let hairs = flat.rings.iter().filter_map(|r| sharpest_hair(r, 0.05));
        hairs.fold(f64::INFINITY, |m, h| m.min(h.0))
    }

    /// Closed form: a tip of base w and length l is as wide as THIN_TIP at (1 - THIN_TIP/w) l from its foot.
    #[test]
    fn a_tip_is_cut_off_where_it_is_as_wide_as_a_hair() {
        let r = region("M0 0 L10 0 L10 5 L11.5 5.03 L10 5.06 L10 10 L0 10 Z").without_hairs();
        let want = 10.0 + 1.5 * (1.0 - THIN_TIP.0 / 0.06);
        assert!((r.bounds().max.x - want).abs() < 1e-3, "{:?} {want}", r.bounds());
        assert!(sharpest(&r) > 0.01, "{}", sharpest(&r));
    }

    /// A slit closes, two arcs that part as a parabola are cut where they are THIN_TIP apart.
    #[test]
    fn slits_and_cusps() {
        let slit = region("M0 0 L10 0 L10 4.98 L9 5 L10 5.02 L10 10 L0 10 Z").without_hairs();
        assert!((slit.area().0 - (100.0 - 0.02)).abs() < 0.013 && sharpest(&slit) > 0.01);
        let cusp = region("M0 0 C4 0 8 0.4 10 4 C 7 1.5 3 1 0 0 Z");
        let horn = region("M0 0 C3 0 6 1 8 4 C6 1.5 3 0.3 0 0 Z");
        for r in [cusp, horn] {
            let blunt = r.without_hairs();
            assert!(blunt.area() <= r.area() && (r.area() - blunt.area()).0 < 0.05);
            assert!(sharpest(&blunt) > 0.0035 && !blunt.crosses());
        }
    }

    /// What is thin for longer than 2 mm stays, and so does a wide corner.
    #[test]
    fn what_stays() {
        let long = "M0 0 L10 0 L10 5 L20 5.01 L10 5.02 L10 10 L0 10 Z";
        assert_eq!(region(long).without_hairs(), region(long));
        let square = "M0 0 L10 0 L10 10 L0 10 Z";
        assert_eq!(region(square).without_hairs(), region(square));
    }

    proptest! {
        /// Property: a star with hairs anywhere keeps its area but for what hairs hold, and has none afterwards
        /// and no short segment.
        #[test]
        fn hairs_anywhere(at in proptest::collection::vec((0.02..0.98f64, 0.004..0.12f64, 0.1..1.6f64, proptest::bool::ANY), 1..6)) {
            let n = at.len() as f64;
            let mut path = BezPath::new();
            path.move_to((0.0, 0.0));
            for (k, (t, w, l, out)) in at.iter().enumerate() {
                let x = 20.0 * (k as f64 + 0.3 + 0.4 * t) / n;
                let tip = if *out { -l } else { *l };
                path.line_to((x - w / 2.0, 0.0));
                path.line_to((x + 0.3 * w, tip));
                path.line_to((x + w / 2.0, 0.0));
            }
            path.line_to((20.0, 0.0));
            path.line_to((20.0, 10.0));
            path.line_to((0.0, 10.0));
            path.close_path();
            let before: Region<Art> = Region::trusted([path]);
            let after = before.without_short_segments();
            // Cut off: the hairs; drawn together: ends of sides, by less than the shortest.
            let moved = SHORTEST.0 * 60.0 / 2.0;
            prop_assert!((before.area() - before.without_hairs().area()).0.abs() < 0.03 * n);
            prop_assert!((before.area() - after.area()).0.abs() < 0.03 * n + moved);
            prop_assert_eq!(shortest_segment(&after).1, 0);
            prop_assert!(sharpest(&after) > 0.0035, "{}", sharpest(&after));
        }
    }
}
