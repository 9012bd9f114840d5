//! Union, intersection, difference and exclusive-or of regions, keeping their curves.
//!
//! Outlines are flattened, cut and joined by i_overlay with every edge's origin carried along, and each
//! stretch of the result is given back as the exact part of the curve it came from; corners are exact meeting
//! points.
//!
//! Imports: base, outline::{path, curve, region, flatten, trace, joint, cover, budget, crossings}.

use super::cover::thinned;
use super::curve::Seg;
use super::flatten::Flat;
use super::joint::{BACK, Exact, Slack, exact, shared};
use super::path::closed_cubics;
use super::region::{Bounds, Region};
use super::trace::{BoundaryLoop, Kind, Track, TrackStretch, overlay};
use crate::base::frame::Frame;
use crate::base::tolerance::{FLATTEN, GRID, LARGEST_COORDINATE, SAME_PARAMETER};
use crate::base::units::Mm;
use crate::outline::budget::{TooHard, WorkBudget};
use crate::outline::crossings::{CurvedRing, Span, crosses, resolve_crossings};
use i_overlay::core::fill_rule::FillRule as Rule;
use i_overlay::core::overlay_rule::OverlayRule;
use kurbo::{BezPath, PathEl, Point, Vec2};

/// Twice the area of a corner's triangle, mm2, below which its two sides go straight on: the corner is off
/// their line by rounding.
const STRAIGHT_ON: f64 = 1e-12;

/// Which points a set of closed paths fills.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum FillRule {
    /// Winding number not zero.
    NonZero,
    /// Winding number odd.
    EvenOdd,
}

impl FillRule {
    fn rule(self) -> Rule {
        match self {
            FillRule::NonZero => Rule::NonZero,
            FillRule::EvenOdd => Rule::EvenOdd,
        }
    }
}

/// What to keep of two regions.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Op {
    /// Points in either region.
    Union,
    /// Points in both.
    Intersection,
    /// Points in the first and not in the second.
    Difference,
    /// Points in exactly one.
    Xor,
}

impl Op {
    fn rule(self) -> OverlayRule {
        match self {
            Op::Union => OverlayRule::Union,
            Op::Intersection => OverlayRule::Intersect,
            Op::Difference => OverlayRule::Difference,
            Op::Xor => OverlayRule::Xor,
        }
    }
}

/// A path that cannot be an outline: a coordinate is not a number, infinite, or farther out than
/// [`LARGEST_COORDINATE`].
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct BadOutline {
    /// Which path, from 0.
    pub path: usize,
    /// Which element of it, from 0.
    pub element: usize,
    /// The coordinate.
    pub found: f64,
}

impl std::fmt::Display for BadOutline {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let Self { path, element, found } = self;
        write!(
            f,
            "path {path}, element {element}: coordinate {found}; allowed up to {LARGEST_COORDINATE} either \
                way"
        )
    }
}

impl std::error::Error for BadOutline {}

/// The first coordinate that no outline may have.
pub(super) fn flaw(path: &BezPath) -> Option<(usize, f64)> {
    let bad = |p: Point| [p.x, p.y].into_iter().find(|v| v.is_nan() || v.abs() > LARGEST_COORDINATE.0);
    path.elements().iter().enumerate().find_map(|(i, el)| {
        let found = match *el {
            PathEl::MoveTo(p) | PathEl::LineTo(p) => bad(p),
            PathEl::QuadTo(a, p) => bad(a).or(bad(p)),
            PathEl::CurveTo(a, b, p) => bad(a).or(bad(b)).or(bad(p)),
            PathEl::ClosePath => None,
        };
        found.map(|v| (i, v))
    })
}

/// Chord error of the second look at outlines that touch, graze or run along each other: curves that do not
/// meet though their polylines do are brought together over at most this.
const CLOSE: f64 = FLATTEN.0 / 8.0;

impl<F: Frame> Region<F> {
    /// The area that closed paths fill; open ones are closed by a line. Overlaps and crossings are resolved.
    /// Paths with a coordinate that no outline may have are left out: where numbers come from outside the
    /// program, call [`Region::try_filled`], which says which.
    pub fn filled(paths: impl IntoIterator<Item = BezPath>, rule: FillRule) -> Self {
        freely(|effort| Self::filled_within(paths, rule, effort))
    }
    /// As [`Region::filled`], but within a budget.
    ///
    /// # Errors
    /// [`TooHard`] if it would cost more steps than `effort` has left; nothing is computed then.
    pub fn filled_within(
        paths: impl IntoIterator<Item = BezPath>,
        rule: FillRule,
        effort: &mut WorkBudget,
    ) -> Result<Self, TooHard> {
        let tracks: Vec<Track> =
            paths.into_iter().filter(|p| flaw(p).is_none()).flat_map(|p| tracks_of(&p)).collect();
        resolved(&tracks, &[], OverlayRule::Subject, rule.rule(), effort)
    }
    /// As [`Region::filled`], but refuses bad coordinates.
    ///
    /// # Errors
    /// The first coordinate that is not finite or beyond [`LARGEST_COORDINATE`], with its path and element.
    pub fn try_filled(paths: impl IntoIterator<Item = BezPath>, rule: FillRule) -> Result<Self, BadOutline> {
        let paths: Vec<BezPath> = paths.into_iter().collect();
        match paths.iter().enumerate().find_map(|(i, p)| flaw(p).map(|(e, v)| (i, e, v))) {
            Some((path, element, found)) => Err(BadOutline { path, element, found }),
            None => Ok(Self::filled(paths, rule)),
        }
    }
    /// Union, intersection, difference or exclusive-or of two regions.
    #[must_use]
    pub fn op(&self, other: &Self, op: Op) -> Self {
        freely(|effort| self.op_within(other, op, effort))
    }
    /// As [`Region::op`], but within a budget.
    ///
    /// # Errors
    /// [`TooHard`] if it would cost more steps than `effort` has left.
    pub fn op_within(&self, other: &Self, op: Op, effort: &mut WorkBudget) -> Result<Self, TooHard> {
        // Nothing of either outside the other's box is in both; of what is taken away, nothing outside the
        // box of what it is taken from counts.
        let a = self.tracks_near((op == Op::Intersection).then_some(other), effort)?;
        let meets = matches!(op, Op::Intersection | Op::Difference);
        let b = other.tracks_near(meets.then_some(self), effort)?;
        let made = resolved(&a, &b, op.rule(), Rule::NonZero, effort)?;
        Ok(made.rougher(self.rough() + other.rough()))
    }
    /// Union of any number of regions at once: cheaper than one after another, and the same area.
    pub fn union_of<'a>(regions: impl IntoIterator<Item = &'a Self>) -> Self
    where
        F: 'a,
    {
        freely(|effort| Self::union_within(regions, effort))
    }
    /// As [`Region::union_of`], but within a budget.
    ///
    /// # Errors
    /// [`TooHard`] if it would cost more steps than `effort` has left.
    pub fn union_within<'a>(
        regions: impl IntoIterator<Item = &'a Self>,
        effort: &mut WorkBudget,
    ) -> Result<Self, TooHard>
    where
        F: 'a,
    {
        let mut laid = StackedRegions::default();
        let mut rough = 0;
        let mut clean = true;
        for (k, r) in regions.into_iter().enumerate() {
            rough += r.rough();
            clean &= r.is_clean();
            laid.tracks.extend(r.tracks());
            laid.owner.resize(laid.tracks.len(), k as u32);
        }
        Ok(if clean { laid.united(effort) } else { laid.united_whole(effort) }?.rougher(rough))
    }
    /// The same area with the invariant of [`Region`] made true: crossings resolved by the non-zero rule,
    /// contours turned the right way round. Costs nothing if the invariant is known to hold.
    #[must_use]
    pub fn cleaned(&self) -> Self {
        if self.is_clean() {
            self.clone()
        } else {
            let tracks = self.tracks();
            freely(|effort| resolved(&tracks, &[], OverlayRule::Subject, Rule::NonZero, effort))
                .rougher(self.rough())
        }
    }
    /// The same curves, cut where they cross and rid of what lies between.
    pub(super) fn recut(&self) -> Self {
        let tracks = finer(&self.tracks());
        let loops = freely(|e| drawn(&tracks, &[], OverlayRule::Subject, Rule::NonZero, CLOSE, e)).0;
        let passed = resolve_crossings(loops, 2.0 * CLOSE + GRID.0);
        Region::promised(passed.contours).rougher(self.rough() + passed.rough)
    }
    /// Tracks of the contours that reach into the box of another region.
    fn tracks_near(&self, other: Option<&Self>, effort: &mut WorkBudget) -> Result<Vec<Track>, TooHard> {
        let Some(other) = other else { return Ok(self.tracks()) };
        effort.look(self.contours().iter().map(|c| c.elements().len()).sum())?;
        let within = other.bounds().grown(Mm(2.0 * FLATTEN.0));
        let near = self.contours().iter().filter(|c| reaches(c, &within)).filter(|c| flaw(c).is_none());
        Ok(near.map(|c| Track::of_segs(Seg::of(c), FLATTEN.0)).filter(|t| t.edges.len() > 1).collect())
    }
    fn tracks(&self) -> Vec<Track> {
        let finite = self.contours().iter().filter(|c| flaw(c).is_none());
        finite.map(|c| Track::of_segs(Seg::of(c), FLATTEN.0)).filter(|t| t.edges.len() > 1).collect()
    }
}

/// Does the box round the points of a path, handles too, meet another?
fn reaches<F: Frame>(path: &BezPath, within: &Bounds<F>) -> bool {
    let own = path.elements().iter().fold(Bounds::<F>::EMPTY, |b, el| match *el {
        PathEl::MoveTo(p) | PathEl::LineTo(p) => b.with(p.x, p.y),
        PathEl::QuadTo(a, p) => b.with(a.x, a.y).with(p.x, p.y),
        PathEl::CurveTo(a, c, p) => b.with(a.x, a.y).with(c.x, c.y).with(p.x, p.y),
        PathEl::ClosePath => b,
    });
    own.distance(within) <= Mm(0.0)
}

/// One track for each closed part of a path.
fn tracks_of(path: &BezPath) -> Vec<Track> {
    let parts = closed_cubics(path);
    parts.iter().map(|p| Track::of_segs(Seg::of(p), FLATTEN.0)).filter(|t| t.edges.len() > 1).collect()
}

/// The same tracks on finer chords.
fn finer(tracks: &[Track]) -> Vec<Track> {
    tracks.iter().map(|t| Track::of_segs(t.segs.clone(), CLOSE)).collect()
}

/// Runs a computation without a bound on its cost.
fn freely<T>(what: impl FnOnce(&mut WorkBudget) -> Result<T, TooHard>) -> T {
    what(&mut WorkBudget::boundless())
        .unwrap_or_else(|TooHard| unreachable!("no effort is too hard without a bound"))
}

fn resolved<F: Frame>(
    subject: &[Track],
    clip: &[Track],
    rule: OverlayRule,
    fill: Rule,
    effort: &mut WorkBudget,
) -> Result<Region<F>, TooHard> {
    let first = drawn(subject, clip, rule, fill, FLATTEN.0, effort)?;
    looked_at_twice(first, || drawn(&finer(subject), &finer(clip), rule, fill, CLOSE, effort))
}

/// The region of a first result on usual chords; if its curves cross, or had to be moved to meet, that of a
/// second result on finer chords.
fn looked_at_twice<F: Frame>(
    (first, moved): (Vec<CurvedRing>, f64),
    closer: impl FnOnce() -> Result<(Vec<CurvedRing>, f64), TooHard>,
) -> Result<Region<F>, TooHard> {
    let (loops, chords) =
        if moved > 0.2 * GRID.0 || crosses(&first) { (closer()?.0, CLOSE) } else { (first, FLATTEN.0) };
    let passed = resolve_crossings(loops, 2.0 * chords + GRID.0);
    Ok(Region::promised(passed.contours).rougher(passed.rough))
}

/// Outlines of regions that lie one upon another, each with the number of its region.
#[derive(Default)]
struct StackedRegions {
    tracks: Vec<Track>,
    owner: Vec<u32>,
}

impl StackedRegions {
    /// Their union. Each must keep the promise of [`Region`].
    fn united<F: Frame>(&self, effort: &mut WorkBudget) -> Result<Region<F>, TooHard> {
        let drawn =
            |tracks: &[Track], chords: f64, effort: &mut WorkBudget| match thinned(tracks, &self.owner) {
                Some(t) => drawn(&t.subject, &t.cover, OverlayRule::Union, Rule::NonZero, chords, effort),
                None => drawn(tracks, &[], OverlayRule::Subject, Rule::NonZero, chords, effort),
            };
        let first = drawn(&self.tracks, FLATTEN.0, effort)?;
        looked_at_twice(first, || drawn(&finer(&self.tracks), CLOSE, effort))
    }
    /// The same, with nothing left out beforehand: the slow twin.
    fn united_whole<F: Frame>(&self, effort: &mut WorkBudget) -> Result<Region<F>, TooHard> {
        resolved(&self.tracks, &[], OverlayRule::Subject, Rule::NonZero, effort)
    }
}

/// The boolean's outlines as curves, and how far the end of a curve had to be moved to make them meet, mm.
fn drawn(
    subject: &[Track],
    clip: &[Track],
    rule: OverlayRule,
    fill: Rule,
    chords: f64,
    effort: &mut WorkBudget,
) -> Result<(Vec<CurvedRing>, f64), TooHard> {
    let all: Vec<&Track> = subject.iter().chain(clip).collect();
    effort.charge(all.iter().copied(), matches!(fill, Rule::EvenOdd))?;
    let loops = overlay(subject, clip, rule, fill, GRID.0);
    effort.loops(loops.len())?;
    let slack = Slack { chords, back: BACK };
    let mut exacts: Vec<Exact> = loops.iter().map(|l| exact(&all, l, slack)).collect();
    shared(&mut exacts);
    let moved = exacts.iter().fold(0.0f64, |m, e| m.max(e.moved));
    Ok((loops.iter().zip(&exacts).map(|(l, e)| draft_of(&all, l, e)).collect(), moved))
}

/// The exact curves of a loop.
fn draft_of(tracks: &[&Track], lp: &BoundaryLoop, ex: &Exact) -> CurvedRing {
    let mut spans: Vec<Span> = Vec::new();
    let mut points: Vec<Point> = Vec::new();
    let n = ex.pieces.len();
    let mut segs: Vec<(Seg, f64, f64)> = Vec::new();
    for (k, piece) in ex.pieces.iter().enumerate() {
        let (start, end) = (ex.joints[k], ex.joints[(k + 1) % n]);
        let track = tracks[piece.track as usize];
        segs.clear();
        parts(track, piece, &mut segs);
        if let Some((first, ..)) = segs.first_mut() {
            pin_start(first, start);
        }
        match segs.last_mut() {
            Some((last, ..)) => pin_end(last, end),
            None => segs.push((Seg::Line(start, end), 0.0, 0.0)),
        }
        let inner = lp.inner(piece, track.edges.len());
        for &(seg, lo, hi) in &segs {
            // Places grow along the piece, or fall: an outline of a hundred thousand segments is one piece.
            let run = if piece.forward() {
                inner.partition_point(|p| p.0 <= lo)..inner.partition_point(|p| p.0 < hi)
            } else {
                inner.partition_point(|p| p.0 >= hi)..inner.partition_point(|p| p.0 > lo)
            };
            let from = points.len();
            points.extend(inner.get(run).unwrap_or_default().iter().map(|p| p.1));
            spans.push(Span { inner: (from, points.len() - from), ..Span::plain(seg) });
        }
    }
    let mut spans = merged_lines(spans);
    without_spurs(&mut spans);
    CurvedRing { spans, points, ring: lp.ring.clone(), ..CurvedRing::default() }
}

/// Takes short steps back out: where two stretches of one outline overlap end to end, too flat upon each
/// other for the grid to tell (the inner sides of strokes do), both are cut in the middle of the overlap.
fn without_spurs(spans: &mut Vec<Span>) {
    let mut k = 0;
    while spans.len() > 3 && k < spans.len() {
        let n = spans.len();
        let (a, c) = ((k + n - 1) % n, (k + 1) % n);
        let (from, to) = (spans[k].seg.start(), spans[k].seg.end());
        let step = to - from;
        let least = 0.99 * step.hypot();
        let back = |v: Vec2| step.dot(v) < -least;
        if least > 0.0 && least < BACK && back(spans[a].seg.tangent(1.0)) && back(spans[c].seg.tangent(0.0)) {
            let m = from.midpoint(to);
            let (ta, tc) = (foot(&spans[a].seg, m, 1.0), foot(&spans[c].seg, m, 0.0));
            if ta > 0.0 {
                spans[a].seg = spans[a].seg.part(0.0, ta);
            }
            if tc < 1.0 {
                spans[c].seg = spans[c].seg.part(tc, 1.0);
            }
            pin_end(&mut spans[a].seg, m);
            pin_start(&mut spans[c].seg, m);
            spans.remove(k);
            k = k.saturating_sub(1);
        } else {
            k += 1;
        }
    }
}

/// The parameter near `t` at which a segment passes a point.
fn foot(seg: &Seg, p: Point, mut t: f64) -> f64 {
    for _ in 0..8 {
        let v = seg.speed(t);
        let step = (p - seg.at(t)).dot(v) / v.hypot2();
        if !step.is_finite() {
            break;
        }
        t = (t + step).clamp(0.0, 1.0);
    }
    t
}

/// The parts of segments that a piece covers, each with the places between which it lies.
fn parts(track: &Track, piece: &TrackStretch, out: &mut Vec<(Seg, f64, f64)>) {
    let (lo, hi) = (piece.s0.min(piece.s1), piece.s0.max(piece.s1));
    let from = out.len();
    let mut i = lo.floor() as i64;
    let mut run: Option<(u32, f64, f64, f64, f64)> = None;
    let flush = |run: &mut Option<(u32, f64, f64, f64, f64)>, out: &mut Vec<(Seg, f64, f64)>| {
        if let Some((seg, a, b, s0, s1)) = run.take() {
            out.push((track.segs[seg as usize].part(a, b), s0, s1));
        }
    };
    while (i as f64) < hi {
        let (fa, fb) = ((lo - i as f64).max(0.0), (hi - i as f64).min(1.0));
        let (s0, s1) = (i as f64 + fa, i as f64 + fb);
        if fb > fa {
            match track.kind(i) {
                Kind::Smooth { seg, t0, t1 } => {
                    let (a, b) = (t0 + fa * (t1 - t0), t0 + fb * (t1 - t0));
                    match &mut run {
                        // On round the seam of the same closed segment: two parts.
                        Some((s, _, e, _, to)) if *s == seg && a >= *e - SAME_PARAMETER => {
                            (*e, *to) = (b, s1)
                        }
                        _ => {
                            flush(&mut run, out);
                            run = Some((seg, a, b, s0, s1));
                        }
                    }
                }
                _ => {
                    flush(&mut run, out);
                    let (p, q) = (track.corner(i), track.corner(i + 1));
                    out.push((Seg::Line(p.lerp(q, fa), p.lerp(q, fb)), s0, s1));
                }
            }
        }
        i += 1;
    }
    flush(&mut run, out);
    if !piece.forward() {
        out[from..].reverse();
        for (s, ..) in &mut out[from..] {
            *s = s.part(1.0, 0.0);
        }
    }
}

/// Puts the start of a segment where it meets the one before: a move of at most the meeting point's rounding.
fn pin_start(seg: &mut Seg, p: Point) {
    match seg {
        Seg::Line(a, _) => *a = p,
        Seg::Cubic(c) => {
            c.p1 += p - c.p0;
            c.p0 = p;
        }
    }
}

fn pin_end(seg: &mut Seg, p: Point) {
    match seg {
        Seg::Line(_, b) => *b = p,
        Seg::Cubic(c) => {
            c.p2 += p - c.p3;
            c.p3 = p;
        }
    }
}

/// Lines that go straight on become one.
fn merged_lines(mut spans: Vec<Span>) -> Vec<Span> {
    let straight = |a: &Span, b: &Span| match (&a.seg, &b.seg) {
        (Seg::Line(p, q), Seg::Line(_, r)) => {
            let (u, v) = (*q - *p, *r - *q);
            let whole = *r - *p;
            // The corner between lies on the merged line within a hundredth of the grid.
            (u.dot(v) > 0.0 && u.cross(whole).abs() <= 0.01 * GRID.0 * whole.hypot())
                || u.hypot() == 0.0
                || v.hypot() == 0.0
        }
        _ => false,
    };
    let mut out: Vec<Span> = Vec::with_capacity(spans.len());
    if spans.len() > 3 {
        // Start at a corner, so that the seam is not in the middle of a line.
        let n = spans.len();
        if let Some(k) = (0..n).find(|&k| !straight(&spans[(k + n - 1) % n], &spans[k])) {
            spans.rotate_left(k);
        }
    }
    for s in spans {
        match out.last_mut() {
            Some(last) if straight(last, &s) => last.seg = Seg::Line(last.seg.start(), s.seg.end()),
            _ => out.push(s),
        }
    }
    out
}

impl<F: Frame> Flat<F> {
    /// A boolean of two flat regions.
    #[must_use]
    pub fn op(&self, other: &Self, op: Op) -> Self {
        flat_overlay(self, Some(other), op.rule(), FillRule::NonZero)
    }
    /// The same area with overlaps and crossings resolved.
    #[must_use]
    pub fn cleaned(&self) -> Self {
        flat_overlay(self, None, OverlayRule::Subject, FillRule::NonZero)
    }
}

fn flat_overlay<F: Frame>(a: &Flat<F>, b: Option<&Flat<F>>, rule: OverlayRule, fill: FillRule) -> Flat<F> {
    let tracks = |f: &Flat<F>| f.rings.iter().map(|r| Track::of_ring(r)).collect::<Vec<_>>();
    let (ta, tb) = (tracks(a), b.map(tracks).unwrap_or_default());
    let error = b.map_or(a.error, |b| a.error.max(b.error)) + Mm(GRID.0);
    let loops = overlay(&ta, &tb, rule, fill.rule(), GRID.0);
    Flat::new(loops.into_iter().map(|l| straightened(l.ring)).collect(), error)
}

/// Corners that lie on the line of their neighbours are left out.
fn straightened(ring: Vec<[f64; 2]>) -> Vec<[f64; 2]> {
    let n = ring.len();
    let idle = |i: usize| {
        let (a, b, c) = (ring[(i + n - 1) % n], ring[i], ring[(i + 1) % n]);
        let (u, v) = ([b[0] - a[0], b[1] - a[1]], [c[0] - b[0], c[1] - b[1]]);
        (u[0] * v[1] - u[1] * v[0]).abs() < STRAIGHT_ON && u[0] * v[0] + u[1] * v[1] > 0.0
    };
    let kept: Vec<[f64; 2]> = (0..n).filter(|&i| !idle(i)).map(|i| ring[i]).collect();
    if kept.len() > 2 { kept } else { ring }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::frame::Art;
    use crate::base::frame::Point as At;

    #[test]
    fn two_discs_obey_inclusion_and_exclusion() {
        let a: Region<Art> = Region::disc(At::mm(0.0, 0.0), Mm(10.0));
        let b: Region<Art> = Region::disc(At::mm(8.0, 0.0), Mm(7.0));
        let area = |op| a.op(&b, op).area().0;
        let sum = a.area().0 + b.area().0;
        approx::assert_abs_diff_eq!(area(Op::Union) + area(Op::Intersection), sum, epsilon = 1e-6);
        approx::assert_abs_diff_eq!(area(Op::Union) - area(Op::Intersection), area(Op::Xor), epsilon = 1e-6);
        assert!(a.op(&b, Op::Union).nodes() <= 14, "curves are kept: {} nodes", a.op(&b, Op::Union).nodes());
    }

    /// The lens of two circles: r^2 acos(..) + R^2 acos(..) - a square root (MathWorld, Circle-Circle
    /// Intersection).
    #[test]
    fn the_lens_of_two_discs_has_its_closed_form_area() {
        let (r, s, d) = (10.0, 7.0, 8.0);
        let a: Region<Art> = Region::disc(At::ORIGIN, Mm(r));
        let b: Region<Art> = Region::disc(At::mm(d, 0.0), Mm(s));
        let want = s * s * libm::acos((d * d + s * s - r * r) / (2.0 * d * s))
            + r * r * libm::acos((d * d + r * r - s * s) / (2.0 * d * r))
            - 0.5 * libm::sqrt((-d + s + r) * (d + s - r) * (d - s + r) * (d + s + r));
        approx::assert_relative_eq!(a.op(&b, Op::Intersection).area().0, want, max_relative = 2e-4);
    }

    #[test]
    fn even_odd_leaves_the_overlap_of_two_squares_out() {
        let square =
            |x: f64| super::super::path::polyline_path(&[[x, 0.0], [x + 2.0, 0.0], [x + 2.0, 2.0], [x, 2.0]]);
        let odd: Region<Art> = Region::filled([square(0.0), square(1.0)], FillRule::EvenOdd);
        let all: Region<Art> = Region::filled([square(0.0), square(1.0)], FillRule::NonZero);
        approx::assert_abs_diff_eq!(odd.area().0, 4.0, epsilon = 1e-9);
        approx::assert_abs_diff_eq!(all.area().0, 6.0, epsilon = 1e-9);
        assert_eq!(all.nodes(), 4, "lines that go straight on are one");
    }

    #[test]
    fn numbers_that_are_none_are_refused_with_their_place() {
        let mut p = BezPath::new();
        p.move_to((0.0, 0.0));
        p.line_to((1.0, f64::NAN));
        p.line_to((1.0, 1.0));
        let got = Region::<Art>::try_filled([BezPath::new(), p.clone()], FillRule::NonZero).unwrap_err();
        assert_eq!((got.path, got.element), (1, 1));
        assert!(Region::<Art>::filled([p], FillRule::NonZero).is_empty());
    }
}

#[cfg(test)]
#[path = "union_tests.rs"]
mod union_tests;
