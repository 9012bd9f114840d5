//! The last gate of booleans and offsets: stretches of curve that cross another give way to the polyline that
//! they stand for, span by span; an outline that strays as a whole gives way altogether. Every stretch that
//! gives way is counted ([`Region::rough`]). Smooth where it can be, sound always.
//!
//! Imports: base, outline::{plane, tree, curve, region, flatten, fit}.

use super::curve::Seg;
use super::curve::closed_path;
use super::fit::{FitSample, follow};
use super::flatten::Ring;
use super::plane::{PlaneBox, points_box, ring_area, segments_cross_beyond};
use super::region::Region;
use super::tree::Tree;
use crate::base::frame::Frame;
use crate::base::tolerance::{GRID, MEASURE, PASSING};
use kurbo::{BezPath, Point, Shape};
use std::collections::BTreeSet;

/// One segment of a draft.
#[derive(Clone, Copy, Debug)]
pub(super) struct Span {
    pub(super) seg: Seg,
    /// Points of the ring that this span replaces: `(first index, count)`, indices modulo their number.
    pub(super) inner: (usize, usize),
    /// What it was fitted to, if it was.
    pub(super) fit: Option<Fit>,
}

impl Span {
    /// A segment that is what it is: no fit, and no corners of the polyline within.
    pub(super) fn plain(seg: Seg) -> Span {
        Span { seg, inner: (0, 0), fit: None }
    }
}

/// The samples that a span follows: run of the draft, first and last sample, and how near.
#[derive(Clone, Copy, Debug)]
pub(super) struct Fit {
    pub(super) run: usize,
    pub(super) from: usize,
    pub(super) to: usize,
    pub(super) tolerance: f64,
}

/// A closed outline as curves, with the polyline that it stands for.
#[derive(Clone, Debug, Default)]
pub(super) struct CurvedRing {
    pub(super) spans: Vec<Span>,
    /// Corners of the ring within the spans, in the sense of travel.
    pub(super) points: Vec<Point>,
    /// The polyline: crosses neither itself nor another.
    pub(super) ring: Ring,
    /// Samples that spans were fitted to.
    pub(super) runs: Vec<Vec<FitSample>>,
}

/// What passed the gate.
#[derive(Clone, Debug, Default)]
pub(super) struct Passed {
    pub(super) contours: Vec<BezPath>,
    /// Stretches that gave way to their polyline; an outline that did so altogether counts as one.
    pub(super) rough: usize,
}

/// The outlines of drafts. `within`: how far curves may be from their polylines, mm.
pub(super) fn resolve_crossings(mut drafts: Vec<CurvedRing>, within: f64) -> Passed {
    let mut rough = 0;
    for d in &mut drafts {
        if strays(d, within) {
            rough += 1;
            all_polyline(d);
        }
    }
    let mut round = 0;
    // Fits that stand for curves which pass each other closely cross where the curves do not: they follow
    // closer. A polyline put in for one curve may meet the curve beside it: again, then whole outlines. Each
    // round makes a fit closer, of which there is an end, or at least one outline a polyline; polylines do
    // not cross.
    while round < drafts.len() + 4 {
        let crossing = crossing(&drafts);
        if crossing.is_empty() {
            break;
        }
        if closer(&mut drafts, &crossing) {
            continue;
        }
        let curved = crossing.iter().any(|&(d, k)| matches!(drafts[d].spans[k].seg, Seg::Cubic(_)));
        if curved && round < 3 {
            rough += crossing.len();
            densify(&mut drafts, &crossing);
        } else {
            let outlines: BTreeSet<usize> = crossing.iter().map(|c| c.0).collect();
            rough += outlines.len();
            outlines.into_iter().for_each(|d| all_polyline(&mut drafts[d]));
        }
        round += 1;
    }
    let contours = drafts.iter().map(|d| {
        let segs: Vec<Seg> = d.spans.iter().map(|s| s.seg).collect();
        closed_path(&segs)
    });
    Passed { contours: contours.filter(|p| !hair(p)).collect(), rough }
}

/// Does an outline fold onto itself, as those do that [`overlay`](super::trace::overlay) leaves out?
fn hair(path: &BezPath) -> bool {
    path.elements().len() <= 2 || path.area().abs() <= 0.5 * GRID.0 * path.perimeter(GRID.0)
}

/// Times closer that a fit follows its samples where it crosses another.
const CLOSER: f64 = 6.0;

/// Fits the spans named anew, closer to what they stand for; those that are as close as they can be stay.
/// Says if there were any.
fn closer(drafts: &mut [CurvedRing], named: &BTreeSet<(usize, usize)>) -> bool {
    let mut any = false;
    for (d, draft) in drafts.iter_mut().enumerate() {
        if named.range((d, 0)..(d + 1, 0)).next().is_none() {
            continue;
        }
        let mut spans = Vec::with_capacity(draft.spans.len());
        for (k, span) in draft.spans.iter().enumerate() {
            let may = |f: &Fit| named.contains(&(d, k)) && f.tolerance > CLOSER * GRID.0;
            let Some(fit) = span.fit.filter(may) else {
                spans.push(*span);
                continue;
            };
            any = true;
            let tolerance = fit.tolerance / CLOSER;
            spans.extend(fitted(&draft.runs[fit.run], Fit { tolerance, ..fit }));
        }
        draft.spans = spans;
    }
    any
}

/// Spans that follow the samples of a run.
pub(super) fn fitted(run: &[FitSample], fit: Fit) -> impl Iterator<Item = Span> {
    follow(&run[fit.from..=fit.to], fit.tolerance).into_iter().map(move |(seg, i, j)| {
        let (from, to) = (fit.from + i, fit.from + j);
        let (a, b) = (run[from].at, run[to].at);
        Span { seg, inner: (a, b.saturating_sub(a)), fit: Some(Fit { from, to, ..fit }) }
    })
}

/// Do outlines cross?
pub(super) fn crosses(drafts: &[CurvedRing]) -> bool {
    !crossing(drafts).is_empty()
}

/// Is the outline somewhere else than its polyline? Joints and fits are checked where they are made; this
/// catches what they might overlook: the area between curve and polyline is at most their distance times the
/// length.
fn strays(d: &CurvedRing, within: f64) -> bool {
    if d.spans.is_empty() {
        return true;
    }
    let path = closed_path(&d.spans.iter().map(|s| s.seg).collect::<Vec<_>>());
    let n = d.ring.len();
    let side = |i: usize| {
        let (a, b) = (d.ring[i], d.ring[(i + 1) % n]);
        libm::hypot(b[0] - a[0], b[1] - a[1])
    };
    let length: f64 = (0..n).map(side).sum();
    let [x0, y0, x1, y1] = points_box(&d.ring);
    let b = path.bounding_box();
    let out = [x0 - b.x0, y0 - b.y0, b.x1 - x1, b.y1 - y1];
    let area = (path.area() - ring_area(&d.ring)).abs();
    // The tip where two curves meet under a small angle lies far from that of their chords. Written so that
    // what is no number strays.
    !(area <= within * length && out.iter().all(|o| o.abs() <= 16.0 * within))
}

fn all_polyline(d: &mut CurvedRing) {
    let n = d.ring.len();
    let point = |i: usize| Point::new(d.ring[i % n][0], d.ring[i % n][1]);
    d.spans = (0..n).map(|i| Span::plain(Seg::Line(point(i), point(i + 1)))).collect();
}

/// Puts polylines in for the curves named.
fn densify(drafts: &mut [CurvedRing], named: &BTreeSet<(usize, usize)>) {
    for (d, draft) in drafts.iter_mut().enumerate() {
        if named.range((d, 0)..(d + 1, 0)).next().is_none() {
            continue;
        }
        let n = draft.points.len();
        let mut spans = Vec::with_capacity(draft.spans.len());
        for (k, span) in draft.spans.iter().enumerate() {
            let Seg::Cubic(c) = span.seg else {
                spans.push(*span);
                continue;
            };
            if !named.contains(&(d, k)) {
                spans.push(*span);
                continue;
            }
            let mut at = c.p0;
            let inner = (0..span.inner.1).map(|i| draft.points[(span.inner.0 + i) % n]);
            for p in inner.chain([c.p3]) {
                if p == c.p3 || ((p - at).hypot() > 2.0 * GRID.0 && (p - c.p3).hypot() > 2.0 * GRID.0) {
                    spans.push(Span::plain(Seg::Line(at, p)));
                    at = p;
                }
            }
        }
        draft.spans = spans;
    }
}

impl<F: Frame> Region<F> {
    /// The region itself if no contour crosses itself or another, looked at as finely as the final verifying
    /// does; else the same curves cut where they cross.
    #[must_use]
    pub fn resolve_crossings(self) -> Self {
        if self.crosses() { self.recut() } else { self }
    }
    /// Does a contour cross itself or another?
    pub fn crosses(&self) -> bool {
        let draft = |c| {
            let spans = Seg::of(c).into_iter().map(Span::plain).collect();
            CurvedRing { spans, ..CurvedRing::default() }
        };
        let drafts: Vec<CurvedRing> = self.contours().iter().map(draft).collect();
        crosses(&drafts)
    }
}

/// A segment's chords and their box.
struct Chords {
    outline: usize,
    at: usize,
    of: usize,
    curly: bool,
    points: Vec<[f64; 2]>,
    bounds: PlaneBox,
}

/// Segments (outline, number) that cross themselves or another: those whose boxes meet, by a tree of boxes,
/// then the chords that lie in both boxes. (A sweep along one axis looks at every two of a hatch's lines.)
fn crossing(drafts: &[CurvedRing]) -> BTreeSet<(usize, usize)> {
    let mut all: Vec<Chords> = Vec::new();
    for (outline, d) in drafts.iter().enumerate() {
        let of = d.spans.len();
        all.extend(d.spans.iter().enumerate().map(|(at, s)| chords(&s.seg, outline, at, of)));
    }
    let tree = Tree::new(all.iter().map(|c| c.bounds).collect());
    let mut found = BTreeSet::new();
    for (i, a) in all.iter().enumerate() {
        if a.curly && crosses_itself(&a.points) {
            found.insert((a.outline, a.at));
        }
        // Boxes that touch are at no distance: any bound above that.
        tree.visit(&a.bounds, f64::MIN_POSITIVE, |k, bound| {
            let b = &all[k as usize];
            if k as usize > i && meet(a, b) {
                found.extend([(a.outline, a.at), (b.outline, b.at)]);
            }
            bound
        });
    }
    found
}

fn chords(seg: &Seg, outline: usize, at: usize, of: usize) -> Chords {
    let n = seg.steps(PASSING.0);
    let mut points: Vec<[f64; 2]> = Vec::with_capacity(n + 1);
    let point = |p: Point| [p.x, p.y];
    points.push(point(seg.start()));
    points.extend((1..n).map(|i| point(seg.at(i as f64 / n as f64))));
    points.push(point(seg.end()));
    let bounds = points_box(&points);
    // Only a cubic whose control polygon turns by half a round can cross itself.
    let curly = match seg {
        Seg::Line(..) => false,
        Seg::Cubic(c) => {
            let (u, v, w) = (c.p1 - c.p0, c.p2 - c.p1, c.p3 - c.p2);
            let turn = |a: kurbo::Vec2, b: kurbo::Vec2| libm::atan2(a.cross(b), a.dot(b));
            (turn(u, v) + turn(v, w)).abs() > 3.0 || u.dot(v) < 0.0 || v.dot(w) < 0.0
        }
    };
    Chords { outline, at, of, curly, points, bounds }
}

fn crosses_itself(p: &[[f64; 2]]) -> bool {
    (2..p.len() - 1).any(|i| (0..i - 1).any(|k| cross(p[i], p[i + 1], p[k], p[k + 1])))
}

fn meet(a: &Chords, b: &Chords) -> bool {
    let both = [
        a.bounds[0].max(b.bounds[0]),
        a.bounds[1].max(b.bounds[1]),
        a.bounds[2].min(b.bounds[2]),
        a.bounds[3].min(b.bounds[3]),
    ];
    // Chords that share a joint meet there without crossing.
    let same = a.outline == b.outline;
    let (after, before) = (same && (a.at + 1) % a.of == b.at, same && (b.at + 1) % b.of == a.at);
    let (la, lb) = (a.points.len() - 1, b.points.len() - 1);
    let (boxes_a, boxes_b) = (packs(&a.points, &both), packs(&b.points, &both));
    boxes_a.iter().any(|(from_a, box_a)| {
        boxes_b.iter().filter(|(_, box_b)| overlap(box_a, box_b)).any(|(from_b, _)| {
            (*from_a..(from_a + PACK).min(la)).any(|i| {
                (*from_b..(from_b + PACK).min(lb)).any(|k| {
                    let joined = (after && i + 1 == la && k == 0) || (before && i == 0 && k + 1 == lb);
                    !joined && cross(a.points[i], a.points[i + 1], b.points[k], b.points[k + 1])
                })
            })
        })
    })
}

/// Chords are looked at by so many at a time.
const PACK: usize = 8;

/// The first chord and the box of every pack that touches a box.
fn packs(points: &[[f64; 2]], within: &PlaneBox) -> Vec<(usize, PlaneBox)> {
    (0..points.len() - 1)
        .step_by(PACK)
        .map(|from| (from, points_box(&points[from..(from + PACK + 1).min(points.len())])))
        .filter(|(_, b)| overlap(b, within))
        .collect()
}

fn overlap(a: &PlaneBox, b: &PlaneBox) -> bool {
    a[0] <= b[2] && b[0] <= a[2] && a[1] <= b[3] && b[1] <= a[3]
}

/// Do two chords cross by more than rounding? Where an end lies on the other chord they touch.
fn cross(a: [f64; 2], b: [f64; 2], c: [f64; 2], d: [f64; 2]) -> bool {
    segments_cross_beyond(a, b, c, d, MEASURE.0)
}

#[cfg(test)]
mod tests {
    use super::super::path::polyline_path;
    use super::*;
    use kurbo::CubicBez;

    fn draft(path: &BezPath, ring: &Ring) -> CurvedRing {
        let spans = Seg::of(path).into_iter().map(Span::plain).collect();
        CurvedRing { spans, ring: ring.clone(), ..CurvedRing::default() }
    }

    #[test]
    fn a_curve_that_crosses_itself_gives_way_to_its_polyline() {
        let square: Ring = vec![[0.0, 0.0], [4.0, 0.0], [4.0, 4.0], [0.0, 4.0]];
        let bow = polyline_path(&[[0.0, 0.0], [4.0, 4.0], [4.0, 0.0], [0.0, 4.0]]);
        let out = resolve_crossings(vec![draft(&bow, &square)], 9.0);
        assert_eq!(out.contours, vec![polyline_path(&square)]);
        assert_eq!(out.rough, 1);
    }

    #[test]
    fn a_curve_that_strays_gives_way_and_a_true_one_stays() {
        let square: Ring = vec![[0.0, 0.0], [4.0, 0.0], [4.0, 4.0], [0.0, 4.0]];
        let off = polyline_path(&[[0.0, 0.0], [4.5, 0.0], [4.5, 4.0], [0.0, 4.0]]);
        assert_eq!(resolve_crossings(vec![draft(&off, &square)], 0.1).contours, vec![polyline_path(&square)]);
        let near = polyline_path(&[[0.0, 0.0], [4.05, 0.0], [4.05, 4.0], [0.0, 4.0]]);
        let kept = resolve_crossings(vec![draft(&near, &square)], 0.1);
        assert_eq!((kept.contours, kept.rough), (vec![near], 0));
    }

    #[test]
    fn only_the_stretch_that_crosses_gives_way() {
        // The bottom dips through the foot of another outline; its sides and top stay curves.
        let cubic = |a: [f64; 2], b: [f64; 2], c: [f64; 2], d: [f64; 2]| {
            let p = |v: [f64; 2]| Point::new(v[0], v[1]);
            Seg::Cubic(CubicBez::new(p(a), p(b), p(c), p(d)))
        };
        let bottom = cubic([0.0, 0.0], [1.0, -0.01], [3.0, -0.01], [4.0, 0.0]);
        let side = cubic([4.0, 0.0], [5.0, 1.0], [5.0, 3.0], [4.0, 4.0]);
        let spans = vec![
            Span { inner: (0, 1), ..Span::plain(bottom) },
            Span { inner: (1, 0), ..Span::plain(side) },
            Span::plain(Seg::Line(Point::new(4.0, 4.0), Point::new(0.0, 4.0))),
            Span::plain(Seg::Line(Point::new(0.0, 4.0), Point::ZERO)),
        ];
        let ring: Ring = vec![[0.0, 0.0], [2.0, 0.0], [4.0, 0.0], [4.75, 2.0], [4.0, 4.0], [0.0, 4.0]];
        let upper = CurvedRing { spans, points: vec![Point::new(2.0, 0.0)], ring, ..CurvedRing::default() };
        let low: Ring = vec![[0.0, -1.0], [2.0, -0.001], [4.0, -1.0]];
        let lower = draft(&polyline_path(&low), &low);
        let out = resolve_crossings(vec![upper, lower], 0.5);
        let cubics = out.contours[0].elements().iter().filter(|e| matches!(e, kurbo::PathEl::CurveTo(..)));
        assert_eq!(cubics.count(), 1, "{:?}", out.contours[0]);
        assert!(out.rough >= 1);
    }
}
