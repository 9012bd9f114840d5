//! Where two pieces of a loop meet, exactly; pieces that only rounding made are taken out.
//!
//! Imports: base::tolerance.

use super::trace::{Kind, Loop, Piece, Track};
use crate::base::tolerance::GRID;
use kurbo::Point;

/// A loop whose pieces end where their exact curves meet.
#[derive(Clone, Debug)]
pub(super) struct Exact {
    pub(super) pieces: Vec<Piece>,
    /// `joints[k]`: where piece `k` starts, and where the piece before it ends: the same point but for a hair's gap.
    pub(super) joints: Vec<(Point, Point)>,
}

/// Pieces shorter than this are rounding, mm: three steps of the grid.
const CRUMB: f64 = 3.0 * GRID.0;

/// Finds the exact meeting points. `reach`: how far a meeting point may be from the polylines' corner.
pub(super) fn exact(tracks: &[&Track], lp: &Loop, reach: f64) -> Exact {
    let mut pieces = lp.pieces.clone();
    if pieces.len() == 1 {
        let p = pieces[0].from;
        turn_to_a_joint(tracks, &mut pieces[0]);
        let joint = if pieces[0].filler { (p, p) } else { ends(tracks, &pieces[0], &pieces[0]) };
        return Exact { pieces, joints: vec![joint] };
    }
    let mut k = 0;
    while pieces.len() > 2 && k < pieces.len() {
        let n = pieces.len();
        let p = &pieces[k];
        let short = (p.to - p.from).hypot();
        if (p.filler && short < 3.0 * reach) || (short <= CRUMB && (p.s1 - p.s0).abs() < 3.0) {
            let (a, c) = ((k + n - 1) % n, (k + 1) % n);
            let close = same_place(tracks, &pieces[a], &pieces[c]);
            if close || meet(tracks, &pieces[a], &pieces[c], 3.0 * reach).is_some() {
                pieces.remove(k);
                k = k.saturating_sub(1);
                continue;
            }
        }
        k += 1;
    }
    let n = pieces.len();
    let mut joints = vec![(Point::ZERO, Point::ZERO); n];
    for k in 0..n {
        let a = (k + n - 1) % n;
        let (before, after) = (pieces[a], pieces[k]);
        if !same_place(tracks, &before, &after)
            && let Some((sa, sb, p)) = meet(tracks, &before, &after, 3.0 * reach)
        {
            pieces[a].s1 = sa;
            pieces[k].s0 = sb;
            joints[k] = (p, p);
            continue;
        }
        joints[k] = ends(tracks, &before, &after);
    }
    Exact { pieces, joints }
}

/// A whole track begins where one of its segments does, not in the middle of a curve.
fn turn_to_a_joint(tracks: &[&Track], p: &mut Piece) {
    let track = tracks[p.track as usize];
    let n = track.edges.len() as i64;
    if p.filler || !p.forward() || (p.s1 - p.s0 - n as f64).abs() > 1e-9 {
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

fn end_of(tracks: &[&Track], p: &Piece) -> Point {
    let t = tracks[p.track as usize];
    if p.filler {
        p.to
    } else if p.forward() {
        t.before(p.s1).0
    } else {
        t.at(p.s1).0
    }
}

fn start_of(tracks: &[&Track], p: &Piece) -> Point {
    let t = tracks[p.track as usize];
    if p.filler {
        p.from
    } else if p.forward() {
        t.at(p.s0).0
    } else {
        t.before(p.s0).0
    }
}

fn same_place(tracks: &[&Track], a: &Piece, b: &Piece) -> bool {
    (end_of(tracks, a) - start_of(tracks, b)).hypot() < 1e-9
}

/// Where `b` starts and `a` ends on their own curves; made one point if a grid step apart.
fn ends(tracks: &[&Track], a: &Piece, b: &Piece) -> (Point, Point) {
    let (pa, pb) = (end_of(tracks, a), start_of(tracks, b));
    if (pa - pb).hypot() <= 2.0 * GRID.0 {
        let m = pa.midpoint(pb);
        return (m, m);
    }
    (pb, pa)
}

/// Newton's steps on both curves to their meeting point near the end of `a` and the start of `b`.
fn meet(tracks: &[&Track], a: &Piece, b: &Piece, reach: f64) -> Option<(f64, f64, Point)> {
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
        if gap.hypot() < 1e-9 {
            let p = pa.midpoint(pb);
            let kept = |s0: f64, s1: f64, forward: bool| if forward { s1 > s0 } else { s1 < s0 };
            let fits = kept(a.s0, sa, a.forward()) && kept(sb, b.s1, b.forward());
            return (fits && (p - near).hypot() <= reach).then_some((sa, sb, p));
        }
        let det = va.cross(vb);
        if det.abs() <= 1e-7 * va.hypot() * vb.hypot() || step == 15 {
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

/// How far a place may move along its track without leaving its smooth stretch: a few edges, never into filler.
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
