//! Where two pieces of a loop meet, exactly; pieces that only rounding made are taken out.
//!
//! Imports: base, outline::trace.

use super::trace::{BoundaryLoop, Kind, Track, TrackStretch};
use crate::base::tolerance::{GRID, NO_LENGTH};
use kurbo::Point;
use std::collections::BTreeMap;

/// Distance of two joints at one corner of the grid, mm, below which they are one point: a curve's end moves
/// by no more.
const SAME_JOINT: f64 = 1e-6;
/// Difference, in edges, between a stretch and its whole track that is rounding.
const WHOLE_TRACK: f64 = 1e-9;
/// What a product of two speeds is at least taken as: no more than a guard against nought by nought.
const NO_PRODUCT: f64 = 1e-300;
/// Sine of the angle between two curves below which they run parallel and no crossing is computed.
const PARALLEL: f64 = 1e-7;

/// A loop whose pieces end where their exact curves meet.
#[derive(Clone, Debug)]
pub(super) struct Exact {
    pub(super) pieces: Vec<TrackStretch>,
    /// `joints[k]`: where piece `k` starts and the piece before it ends.
    pub(super) joints: Vec<Point>,
    /// Farthest that the end of a curve had to be moved to its joint because the curves do not meet, mm.
    pub(super) moved: f64,
}

/// Pieces shorter than this are rounding, mm: three steps of the grid.
const CRUMB: f64 = 3.0 * GRID.0;

/// How far polylines may be from the curves they stand for, mm.
#[derive(Clone, Copy, Debug)]
pub(super) struct Slack {
    /// Across the curve.
    pub(super) chords: f64,
    /// Longest piece that may run back between two curves that overlap end to end.
    pub(super) back: f64,
}

/// Longest spur of a boolean, mm: the inner sides of strokes overlap by less.
pub(super) const BACK: f64 = 0.05;

/// Finds the exact meeting points.
pub(super) fn exact(tracks: &[&Track], lp: &BoundaryLoop, slack: Slack) -> Exact {
    let mut pieces = lp.pieces.clone();
    without_crumbs(tracks, &mut pieces, slack);
    if pieces.len() == 1 {
        turn_to_a_joint(tracks, &mut pieces[0]);
        if pieces[0].filler {
            return Exact { joints: vec![pieces[0].from], pieces, moved: 0.0 };
        }
    }
    let n = pieces.len();
    let mut joints = vec![Point::ZERO; n];
    let mut moved = 0f64;
    for k in 0..n {
        let a = (k + n - 1) % n;
        let (before, after) = (pieces[a], pieces[k]);
        if same_place(tracks, &before, &after) {
            joints[k] = start_of(tracks, &after);
            continue;
        }
        let (sa, sb, p) = match meet(tracks, &before, &after, 6.0 * slack.chords) {
            Some(found) => found,
            None => {
                let (sa, sb, p, by) = brought_together(tracks, &before, &after);
                moved = moved.max(by);
                (sa, sb, p)
            }
        };
        pieces[a].s1 = sa;
        pieces[k].s0 = sb;
        joints[k] = p;
    }
    Exact { pieces, joints, moved }
}

/// Outlines that touch in one corner of the polylines touch in one point: joints there that differ by
/// rounding alone are made equal.
pub(super) fn shared(all: &mut [Exact]) {
    let mut known: BTreeMap<(i64, i64), Vec<Point>> = BTreeMap::new();
    for ex in all {
        for (piece, joint) in ex.pieces.iter().zip(&mut ex.joints) {
            let corner = ((piece.from.x / GRID.0).round() as i64, (piece.from.y / GRID.0).round() as i64);
            let here = known.entry(corner).or_default();
            match here.iter().find(|p| (**p - *joint).hypot() < SAME_JOINT) {
                Some(p) => *joint = *p,
                None => here.push(*joint),
            }
        }
    }
}

/// Takes pieces out that are shorter than the polylines' error can make them, where their neighbours meet
/// without them or nearly so.
fn without_crumbs(tracks: &[&Track], pieces: &mut Vec<TrackStretch>, slack: Slack) {
    let chords = slack.chords;
    let mut k = 0;
    while pieces.len() > 1 && k < pieces.len() {
        let n = pieces.len();
        let p = &pieces[k];
        let short = extent(tracks, p);
        let (a, c) = ((k + n - 1) % n, (k + 1) % n);
        // Of two pieces only filler may go: what is left is a closed curve.
        let may = n > 2 || (p.filler && !pieces[a].filler);
        let crumb = short <= CRUMB;
        let without = || {
            let (a, c) = (&pieces[a], &pieces[c]);
            same_place(tracks, a, c) || meet(tracks, a, c, 6.0 * chords).is_some()
        };
        let goes = crumb
            || (p.filler && (short <= chords || (short < 6.0 * chords && without())))
            || (short < slack.back && doubles_back(tracks, &pieces[a], &pieces[c]));
        let run = if may && goes { 1 } else { backward(tracks, pieces, k, slack) };
        if run > 0 {
            for _ in 0..run {
                let at = if k < pieces.len() { k } else { 0 };
                pieces.remove(at);
            }
            k = k.saturating_sub(1);
        } else {
            k += 1;
        }
    }
}

/// Largest distance of a piece from its start; a piece that goes round and comes back is not short.
fn extent(tracks: &[&Track], p: &TrackStretch) -> f64 {
    let track = tracks[p.track as usize];
    let (lo, hi) = (p.s0.min(p.s1), p.s0.max(p.s1));
    let corners = (lo.ceil() as i64..=hi.floor() as i64).map(|i| track.corner(i));
    corners.chain([p.to]).fold(0.0, |far, q| far.max((q - p.from).hypot()))
}

/// How many pieces from number `k` on run back together, as one may (see [`doubles_back`]): up to three
/// strides, or none. Filler in a row is one stride, however many edges it has: an outline that grows about a
/// cusp can follow the filler of the cusp's flank all the way back, a few microns beside what covers it.
fn backward(tracks: &[&Track], pieces: &[TrackStretch], k: usize, slack: Slack) -> usize {
    let n = pieces.len();
    let piece = |i: usize| &pieces[i % n];
    let from = piece(k).from;
    let mut m = 0;
    for stride in 1..=3 {
        loop {
            let p = piece(k + m);
            if n <= m + 2 || extent(tracks, p) >= slack.back || (p.to - from).hypot() >= slack.back {
                return 0;
            }
            m += 1;
            if !(p.filler && piece(k + m).filler) {
                break;
            }
        }
        // A single piece is looked at by the caller.
        if (stride > 1 || m > 1) && doubles_back(tracks, piece(k + n - 1), piece(k + m)) {
            return m;
        }
    }
    0
}

/// Does a short piece run back between neighbours that go the other way? Two curves overlap end to end there,
/// too flat upon each other for the grid to tell, as the inner sides of strokes do.
fn doubles_back(tracks: &[&Track], a: &TrackStretch, c: &TrackStretch) -> bool {
    if a.filler || c.filler {
        return false;
    }
    let way = |piece: &TrackStretch, s: f64, before: bool| {
        let sign = if piece.forward() { 1.0 } else { -1.0 };
        tracks[piece.track as usize].heading(s, before) * sign
    };
    let step = start_of(tracks, c) - end_of(tracks, a);
    let (va, vc) = (way(a, a.s1, a.forward()), way(c, c.s0, !c.forward()));
    let length = step.hypot();
    // Within 8 degrees of straight back.
    step.dot(va) < -0.99 * length && step.dot(vc) < -0.99 * length
}

/// A whole track begins where one of its segments does, not in the middle of a curve.
fn turn_to_a_joint(tracks: &[&Track], p: &mut TrackStretch) {
    let track = tracks[p.track as usize];
    let n = track.edges.len() as i64;
    if p.filler || !p.forward() || (p.s1 - p.s0 - n as f64).abs() > WHOLE_TRACK {
        return;
    }
    let i = p.s0.floor() as i64;
    let begins = |i: i64| !matches!(track.kind(i), Kind::Smooth { t0, .. } if t0 != 0.0);
    if let Some(k) = (i..i + n).find(|&k| begins(k)) {
        (p.s0, p.s1) = (k as f64, (k + n) as f64);
        p.from = track.corner(k);
        p.to = p.from;
    }
}

fn end_of(tracks: &[&Track], p: &TrackStretch) -> Point {
    let t = tracks[p.track as usize];
    if p.filler {
        p.to
    } else if p.forward() {
        t.before(p.s1).0
    } else {
        t.at(p.s1).0
    }
}

fn start_of(tracks: &[&Track], p: &TrackStretch) -> Point {
    let t = tracks[p.track as usize];
    if p.filler {
        p.from
    } else if p.forward() {
        t.at(p.s0).0
    } else {
        t.before(p.s0).0
    }
}

fn same_place(tracks: &[&Track], a: &TrackStretch, b: &TrackStretch) -> bool {
    (end_of(tracks, a) - start_of(tracks, b)).hypot() < NO_LENGTH
}

/// Of two stretches that should meet, one that is this many times longer than the other stays where it is.
const LONGER: f64 = 1.5;

/// Ends of two curves that do not meet, though their polylines do: both are brought to the point midway, each
/// cut where it passes that point, so that what is left of the gap lies across the curves and neither doubles
/// back.
fn brought_together(tracks: &[&Track], a: &TrackStretch, b: &TrackStretch) -> (f64, f64, Point, f64) {
    let (pa, pb) = (end_of(tracks, a), start_of(tracks, b));
    let m = match (a.filler, b.filler) {
        (true, true) => pa,
        (true, false) => pb,
        (false, true) => pa,
        // A long stretch stays where it is, and the short one beside it comes.
        (false, false) => match (extent(tracks, a), extent(tracks, b)) {
            (x, y) if x > LONGER * y => pa,
            (x, y) if y > LONGER * x => pb,
            _ => pa.midpoint(pb),
        },
    };
    let cut = |piece: &TrackStretch, s: f64, backwards: bool, far: f64| -> (f64, f64) {
        if piece.filler {
            return (s, 0.0);
        }
        let track = tracks[piece.track as usize];
        let ahead = piece.forward() != backwards;
        let (lo, hi) = room(track, s, ahead);
        let mut at = s.clamp(lo, hi);
        for _ in 0..6 {
            let (p, v) = if ahead { track.before(at) } else { track.at(at) };
            let step = (m - p).dot(v) / v.hypot2();
            if !step.is_finite() {
                break;
            }
            at = (at + step.clamp(-1.0, 1.0)).clamp(lo, hi);
        }
        let keeps = if ahead { at > far } else { at < far };
        let at = if keeps { at } else { s };
        let p = if ahead { track.before(at).0 } else { track.at(at).0 };
        (at, (p - m).hypot())
    };
    let (sa, off_a) = cut(a, a.s1, false, a.s0);
    let (sb, off_b) = cut(b, b.s0, true, b.s1);
    (sa, sb, m, off_a.max(off_b))
}

/// Newton's steps on both curves to their meeting point near the end of `a` and the start of `b`.
fn meet(tracks: &[&Track], a: &TrackStretch, b: &TrackStretch, reach: f64) -> Option<(f64, f64, Point)> {
    if a.filler || b.filler {
        return None;
    }
    let (ta, tb) = (tracks[a.track as usize], tracks[b.track as usize]);
    let (lo_a, hi_a) = room(ta, a.s1, a.forward());
    let (lo_b, hi_b) = room(tb, b.s0, !b.forward());
    let (mut sa, mut sb) = (a.s1.clamp(lo_a, hi_a), b.s0.clamp(lo_b, hi_b));
    let near = end_of(tracks, a).midpoint(start_of(tracks, b));
    for step in 0..16 {
        // At a whole number the edge on the piece's own side counts first.
        let (pa, va) = if a.forward() { ta.before(sa) } else { ta.at(sa) };
        let (pb, vb) = if b.forward() { tb.at(sb) } else { tb.before(sb) };
        let gap = pb - pa;
        let det = va.cross(vb);
        let sine = det.abs() / (va.hypot() * vb.hypot()).max(NO_PRODUCT);
        if gap.hypot() < NO_LENGTH {
            let p = pa.midpoint(pb);
            let kept = |s0: f64, s1: f64, forward: bool| if forward { s1 > s0 } else { s1 < s0 };
            let fits = kept(a.s0, sa, a.forward()) && kept(sb, b.s1, b.forward());
            // An error e across two curves moves their crossing by e / sine of the angle between them.
            return (fits && (p - near).hypot() <= reach / sine.clamp(0.02, 1.0)).then_some((sa, sb, p));
        }
        if sine <= PARALLEL || step == 15 {
            return None;
        }
        let (x, y) = (gap.cross(vb) / det, gap.cross(va) / det);
        let next_a = (sa + x.clamp(-2.0, 2.0)).clamp(lo_a, hi_a);
        let next_b = (sb + y.clamp(-2.0, 2.0)).clamp(lo_b, hi_b);
        if next_a == sa && next_b == sb {
            return None;
        }
        (sa, sb) = (next_a, next_b);
    }
    None
}

/// How far a place may move along its track without leaving its smooth stretch: a few edges, never into
/// filler.
fn room(track: &Track, s: f64, forward: bool) -> (f64, f64) {
    // The edge the piece ends on.
    let own = if forward && s.fract() == 0.0 { s as i64 - 1 } else { s.floor() as i64 };
    let same = |i: i64, j: i64| match (track.kind(i), track.kind(j)) {
        (Kind::Smooth { seg: a, .. }, Kind::Smooth { seg: b, .. }) => a == b || track.by != 0.0,
        (Kind::Filler, _) | (_, Kind::Filler) => false,
        (Kind::Straight, _) | (_, Kind::Straight) => false,
        _ => track.by != 0.0,
    };
    let (mut lo, mut hi) = (own, own);
    while lo > own - 6 && same(lo - 1, lo) {
        lo -= 1;
    }
    while hi < own + 6 && same(hi, hi + 1) {
        hi += 1;
    }
    (lo as f64, (hi + 1) as f64)
}
