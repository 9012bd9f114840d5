//! Sharp corners: where they are, and rounding them by a small radius; parts and holes too small to handle.
//!
//! A corner is a turn of the outline within a stretch shorter than a blade's own tip, whether one joint makes
//! it or a few close together. Rounding rolls a ball into it until it touches both sides and puts its arc in
//! between.
//!
//! Imports: base, outline::{tree, curve, region, boundary}.

use super::curve::Seg;
use super::curve::closed_path;
use super::region::Region;
use crate::base::frame::{Frame, Point};
use crate::base::tolerance::{FLATTEN, LEAST_DIVISOR, NEWTON_MET, SAME_PARAMETER, WHOLE_STEPS};
use crate::base::units::{Angle, Mm};
use crate::outline::boundary::Outline;
use kurbo::{CubicBez, Point as At, Vec2};
use std::f64::consts::PI;

/// Distance of the centres found from both sides of a corner, mm, above which they are two and the corner
/// stays as it is.
const CENTRES_APART: f64 = 1e-7;
/// Part of a segment, by its parameter, that is too short to keep; the ends left apart by it are made one
/// afterwards.
const LEAST_PART: f64 = 1e-9;

/// Whether the area or its outside comes to a point.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum CornerKind {
    /// The area comes to a point.
    Out,
    /// What is cut away comes to a point: a notch, a crotch.
    In,
}

/// A corner of an outline that is sharper than a limit.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Corner<F: Frame> {
    /// Its point.
    pub at: Point<F>,
    /// The angle between its sides, from 0 (a needle or a slit) to half a turn (straight).
    pub angle: Angle,
    /// Which way it points.
    pub points: CornerKind,
    /// Index of its contour.
    pub contour: usize,
}

/// What became of a corner that was to be rounded.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Rounding<F: Frame> {
    /// The corner as it was.
    pub corner: Corner<F>,
    /// The radius it has now; none if not even a quarter of the radius asked for finds room between its
    /// sides, or it would take more than forty times that of them (needles of less than three degrees).
    pub radius: Option<Mm>,
}

/// A part or a hole whose greatest extent is below a limit.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Island<F: Frame> {
    /// Middle of its bounding box.
    pub at: Point<F>,
    /// Its greatest extent in any direction.
    pub extent: Mm,
    /// A hole in the area, not a part of it.
    pub hole: bool,
}

/// Turns closer together than this are one corner to a blade, mm.
const TOGETHER: f64 = 0.06;
/// Where the outline goes on within that stretch as it came, but for this share of the turn, it is a jog and
/// no corner.
const JOG: f64 = 0.25;
/// Two sides of a corner meet at an angle of at least this much less than straight to be rounded (radians).
const STRAIGHT: f64 = 0.01;

/// A turn of the outline: at a joint, or along a piece of a curve.
#[derive(Clone, Copy, Debug)]
struct Turn {
    /// Place along the ring.
    s: f64,
    /// Segment and parameter.
    u: f64,
    at: At,
    by: f64,
}

impl<F: Frame> Region<F> {
    /// Corners whose sides meet at less than `limit`, contour by contour.
    pub fn sharp_corners(&self, limit: Angle) -> Vec<Corner<F>> {
        let mut out = Vec::new();
        for (contour, path) in self.contours().iter().enumerate() {
            let segs = Seg::of(path);
            out.extend(corners(&segs, limit.rad()).iter().map(|c| told(c, contour)));
        }
        out
    }

    /// Parts and holes whose greatest extent is less than `limit`.
    pub fn small_islands(&self, limit: Mm) -> Vec<Island<F>> {
        let mut out = Vec::new();
        for path in self.contours() {
            let ring = Region::<F>::trusted([path.clone()]).flat(FLATTEN);
            let b = ring.bounds();
            if b.is_empty() || b.width().max(b.height()) >= limit {
                continue;
            }
            let all: Vec<[f64; 2]> = ring.rings.concat();
            let far = |p: &[f64; 2], q: &[f64; 2]| libm::hypot(p[0] - q[0], p[1] - q[1]);
            let extent = all.iter().flat_map(|p| all.iter().map(move |q| far(p, q))).fold(0.0, f64::max);
            if extent < limit.0 {
                out.push(Island { at: b.centre(), extent: Mm(extent), hole: ring.area() < 0.0 });
            }
        }
        out
    }

    /// The region with every corner sharper than `limit` rounded by `radius`: both ways, tips lose a little
    /// area and notches gain a little. Where the sides leave no room the radius is halved, twice at most;
    /// everything farther from a corner than where its arc touches the sides stays as it is, to the bit. Says
    /// what became of each corner.
    ///
    /// An arc of up to a quarter turn is one cubic, within 2.8e-4 of its radius.
    #[must_use]
    pub fn rounded(&self, limit: Angle, radius: Mm) -> (Self, Vec<Rounding<F>>) {
        self.rounded_where(limit, radius, |_| true, |_| true)
    }

    /// As [`Region::rounded`], of corners that are picked, with arcs that touch the sides within where they
    /// may.
    pub(super) fn rounded_where(
        &self,
        limit: Angle,
        radius: Mm,
        pick: impl Fn(&Corner<F>) -> bool,
        within: impl Fn(Point<F>) -> bool,
    ) -> (Self, Vec<Rounding<F>>) {
        let mut report = Vec::new();
        if !(radius.0 > 0.0 && radius.is_finite()) {
            return (self.clone(), report);
        }
        let outline = Outline::of(self, FLATTEN.0);
        let mut changed = false;
        let mut contours = Vec::with_capacity(self.contours().len());
        for (contour, path) in self.contours().iter().enumerate() {
            let segs = Seg::of(path);
            let found = corners(&segs, limit.rad());
            let mut cuts: Vec<Cut> = Vec::new();
            for c in found.iter().filter(|c| pick(&told(c, contour))) {
                let cut = [1.0, 0.5, 0.25].into_iter().find_map(|share| {
                    roll(&segs, c, radius.0 * share, &outline)
                        .filter(|cut| cuts.iter().all(|other| cut.clear_of(other, segs.len() as f64)))
                        .filter(|cut| cut.touches().iter().all(|p| within(Point::mm(p.x, p.y))))
                });
                report
                    .push(Rounding { corner: told(c, contour), radius: cut.as_ref().map(|c| Mm(c.radius)) });
                cuts.extend(cut);
            }
            changed |= !cuts.is_empty();
            contours.push(if cuts.is_empty() { path.clone() } else { closed_path(&with_arcs(&segs, cuts)) });
        }
        if !changed {
            return (self.clone(), report);
        }
        (Region::promised(contours).resolve_crossings(), report)
    }
}

fn told<F: Frame>(c: &Turn, contour: usize) -> Corner<F> {
    Corner {
        at: Point::mm(c.at.x, c.at.y),
        angle: Angle::radians(PI - c.by.abs().min(PI)),
        points: if c.by > 0.0 { CornerKind::Out } else { CornerKind::In },
        contour,
    }
}

/// Every turn of a contour, in order.
fn turns(segs: &[Seg]) -> (Vec<Turn>, f64) {
    let mut out = Vec::new();
    let mut s = 0.0;
    let between = |a: Vec2, b: Vec2| libm::atan2(a.cross(b), a.dot(b));
    for (k, seg) in segs.iter().enumerate() {
        let before = segs[(k + segs.len() - 1) % segs.len()].tangent(1.0);
        let joint = between(before, seg.tangent(0.0));
        out.push(Turn { s, u: k as f64, at: seg.start(), by: joint });
        let n = match seg {
            Seg::Line(..) => 1,
            Seg::Cubic(_) => seg.steps(FLATTEN.0).max(2),
        };
        let (mut p, mut t) = (seg.start(), seg.tangent(0.0));
        for i in 1..=n {
            let v = i as f64 / n as f64;
            let (q, d) = (seg.at(v), seg.tangent(v));
            let (step, by) = ((q - p).hypot(), between(t, d));
            if by != 0.0 {
                let mid = v - 0.5 / n as f64;
                out.push(Turn { s: s + 0.5 * step, u: k as f64 + mid, at: seg.at(mid), by });
            }
            s += step;
            (p, t) = (q, d);
        }
    }
    (out, s)
}

/// Where the outline turns by more than half a turn less `limit` within [`TOGETHER`].
fn corners(segs: &[Seg], limit: f64) -> Vec<Turn> {
    let (all, length) = turns(segs);
    let n = all.len();
    let least = PI - limit;
    let mut found: Vec<Turn> = Vec::new();
    if n == 0 || length <= TOGETHER {
        return found;
    }
    // The window that starts at each turn.
    let mut sums: Vec<(f64, Turn)> = Vec::new();
    for i in 0..n {
        let (mut sum, mut biggest) = (0.0, all[i]);
        for k in 0..n {
            let t = &all[(i + k) % n];
            let ahead = if i + k >= n { t.s + length - all[i].s } else { t.s - all[i].s };
            if ahead > TOGETHER {
                break;
            }
            sum += t.by;
            if t.by.abs() > biggest.by.abs() {
                biggest = *t;
            }
            if sum.abs() > least {
                sums.push((sum.abs(), Turn { by: sum, ..biggest }));
            }
        }
    }
    // The sharpest first; others that overlap it are the same corner.
    sums.sort_by(|a, b| b.0.total_cmp(&a.0).then(a.1.s.total_cmp(&b.1.s)));
    for (_, t) in sums {
        let apart = |f: &Turn| {
            let d = (f.s - t.s).abs();
            d.min(length - d)
        };
        if found.iter().all(|f| apart(f) > TOGETHER) {
            found.push(t);
        }
    }
    let about = |t: &Turn| {
        let near = |o: &&Turn| {
            let d = (o.s - t.s).abs();
            d.min(length - d) <= TOGETHER
        };
        all.iter().filter(near).map(|o| o.by).sum::<f64>()
    };
    found.retain(|t| about(t).abs() >= JOG * t.by.abs());
    found.sort_by(|a, b| a.u.total_cmp(&b.u));
    found
}

/// A corner's piece of outline that an arc takes the place of.
#[derive(Clone, Copy, Debug)]
struct Cut {
    /// Segment and parameter, counted on round the contour: `from < to`.
    from: f64,
    to: f64,
    centre: At,
    radius: f64,
    /// Tangents where the arc begins and ends.
    tangents: [Vec2; 2],
}

impl Cut {
    /// Where the arc begins and ends.
    fn touches(&self) -> [At; 2] {
        let [t0, t1] = self.tangents;
        let side = t0.cross(t1).signum() * self.radius;
        [t0, t1].map(|t| self.centre + Vec2::new(t.y, -t.x) * side)
    }
    fn clear_of(&self, o: &Cut, n: f64) -> bool {
        [-n, 0.0, n].iter().all(|shift| self.from + shift >= o.to || self.to + shift <= o.from)
    }
}

/// Places along the sides of a corner, outwards from it: segment and parameter, point, tangent of the
/// contour.
fn side(segs: &[Seg], corner: f64, ahead: bool, reach: f64) -> Vec<(f64, At, Vec2)> {
    let n = segs.len() as f64;
    let mut out = Vec::new();
    let (mut u, mut way) = (corner, 0.0);
    let mut last: Option<At> = None;
    // Never more than half the contour, so that two sides do not meet behind.
    while way < reach && (u - corner).abs() < n * 0.5 {
        let at_joint = u.fract() == 0.0;
        let k = if at_joint && !ahead { u - 1.0 } else { u.floor() };
        let seg = &segs[k.rem_euclid(n) as usize];
        let steps = match seg {
            Seg::Line(a, b) => ((*b - *a).hypot() / (0.1 * reach)).ceil().clamp(1.0, 400.0),
            Seg::Cubic(_) => (seg.steps(0.1 * FLATTEN.0) as f64).max(8.0),
        };
        let mut i = if ahead { ((u - k) * steps).floor() + 1.0 } else { ((u - k) * steps).ceil() - 1.0 };
        if out.is_empty() {
            let t = u - k;
            out.push((u, seg.at(t), seg.tangent(t)));
            last = Some(seg.at(t));
        }
        while i >= 0.0 && i <= steps && way < reach {
            let t = i / steps;
            let p = seg.at(t);
            way += last.map_or(0.0, |l| (p - l).hypot());
            last = Some(p);
            out.push((k + t, p, seg.tangent(t)));
            i += if ahead { 1.0 } else { -1.0 };
        }
        u = if ahead { k + 1.0 } else { k };
    }
    out
}

/// A ball of this radius rolled into a corner from outside until it touches both sides, if there is room for
/// it.
fn roll(segs: &[Seg], c: &Turn, r: f64, outline: &Outline) -> Option<Cut> {
    let bend = c.by.abs();
    if bend < STRAIGHT {
        return None;
    }
    let turn = c.by.signum();
    // Straight sides are touched this far from the corner; curved ones not much farther.
    let reach = 2.0 * r * libm::tan(0.5 * bend.min(PI - 0.05)) + 4.0 * r + TOGETHER;
    let (fore, back) = (side(segs, c.u, true, reach), side(segs, c.u, false, reach));
    let centre = |p: At, t: Vec2| p + Vec2::new(-t.y, t.x) * (turn * r);
    // How far the other side stays clear of the ball that touches here, and where it is nearest.
    let room = |p: At, t: Vec2| {
        let m = centre(p, t);
        let near = back.windows(2).map(|w| {
            let e = [w[0].1.x, w[0].1.y, w[1].1.x, w[1].1.y];
            super::tree::edge_point2(&e, m.x, m.y).0
        });
        let (k, d2) = near.enumerate().fold((0, f64::INFINITY), |b, (i, d)| if d < b.1 { (i, d) } else { b });
        (d2.sqrt() - r, k)
    };
    let hit = (1..fore.len()).find(|&i| room(fore[i].1, fore[i].2).0 >= 0.0)?;
    let k = room(fore[hit].1, fore[hit].2).1;
    // Newton: the balls that touch at `a` ahead and at `b` behind are one.
    let (mut a, mut b) = (fore[hit].0, back[k].0);
    let n = segs.len() as f64;
    let on = |u: f64, low: f64| {
        let seg = &segs[low.rem_euclid(n) as usize];
        let t = u - low;
        let (v, acc) = (seg.speed(t), seg.bend(t));
        let len = v.hypot().max(LEAST_DIVISOR);
        let curvature = v.cross(acc) / (len * len * len);
        let tangent = seg.tangent(t);
        // The centre moves along the tangent by 1 - turn r curvature.
        (centre(seg.at(t), tangent), tangent * (len * (1.0 - turn * r * curvature)), tangent)
    };
    let (low_a, low_b) =
        ((a - SAME_PARAMETER).floor(), (b + SAME_PARAMETER).min(back[0].0 - LEAST_PART).floor());
    for _ in 0..20 {
        let ((ca, va, _), (cb, vb, _)) = (on(a, low_a), on(b, low_b));
        let gap = cb - ca;
        if gap.hypot() < NEWTON_MET {
            break;
        }
        let det = va.cross(vb);
        if det.abs() < LEAST_DIVISOR {
            return None;
        }
        a = (a + (gap.cross(vb) / det).clamp(-0.2, 0.2)).clamp(low_a, low_a + 1.0);
        b = (b + (gap.cross(va) / det).clamp(-0.2, 0.2)).clamp(low_b, low_b + 1.0);
    }
    let ((ca, _, ta), (cb, _, tb)) = (on(a, low_a), on(b, low_b));
    if (ca - cb).hypot() > CENTRES_APART || a <= c.u || b >= c.u {
        return None;
    }
    let middle = ca.midpoint(cb);
    // The ball must be empty: neither the sides farther on nor anything else comes into it.
    let inside = r - 2.0 * FLATTEN.0;
    if inside > 0.0 && outline.tree.nearest(middle.x, middle.y, inside * inside, |_| false).is_some() {
        return None;
    }
    Some(Cut { from: b, to: a, centre: middle, radius: r, tangents: [tb, ta] })
}

/// The contour with arcs in place of its corners.
fn with_arcs(segs: &[Seg], mut cuts: Vec<Cut>) -> Vec<Seg> {
    cuts.sort_by(|a, b| a.from.total_cmp(&b.from));
    let n = segs.len() as f64;
    let mut out = Vec::new();
    for (i, cut) in cuts.iter().enumerate() {
        arc(cut, &mut out);
        let next = if i + 1 < cuts.len() { cuts[i + 1].from } else { cuts[0].from + n };
        let mut u = cut.to;
        while u < next - SAME_PARAMETER {
            let k = (u + SAME_PARAMETER).floor();
            let end = (k + 1.0).min(next);
            if end - u > LEAST_PART {
                let seg = &segs[k.rem_euclid(n) as usize];
                let whole = u - k <= SAME_PARAMETER && end - k >= 1.0 - SAME_PARAMETER;
                out.push(if whole { *seg } else { seg.part((u - k).max(0.0), end - k) });
            }
            u = end.max(k + 1.0 - SAME_PARAMETER);
        }
    }
    // Where rounding of the parameters leaves less than a nanometre, ends are made one.
    for i in 0..out.len() {
        let to = out[(i + 1) % out.len()].start();
        match &mut out[i] {
            Seg::Line(_, b) => *b = to,
            Seg::Cubic(c) => c.p3 = to,
        }
    }
    out
}

fn arc(cut: &Cut, out: &mut Vec<Seg>) {
    let [t0, t1] = cut.tangents;
    let turn = libm::atan2(t0.cross(t1), t0.dot(t1));
    let parts = (turn.abs() / (0.5 * PI) - WHOLE_STEPS).ceil().max(1.0);
    let by = turn / parts;
    let arm = 4.0 / 3.0 * libm::tan(0.25 * by) * cut.radius * turn.signum();
    let side = turn.signum() * cut.radius;
    let spin = |a: f64| {
        let (s, c) = (libm::sin(a), libm::cos(a));
        Vec2::new(c * t0.x - s * t0.y, s * t0.x + c * t0.y)
    };
    for i in 0..parts as usize {
        let (u, v) = (spin(by * i as f64), spin(by * (i + 1) as f64));
        let (p, q) = (cut.centre + Vec2::new(u.y, -u.x) * side, cut.centre + Vec2::new(v.y, -v.x) * side);
        out.push(Seg::Cubic(CubicBez::new(p, p + u * arm, q - v * arm, q)));
    }
}
