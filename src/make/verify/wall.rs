//! Promises on the wall: pieces clear of each other over the seam, of the handle, and inside the free zone.
//!
//! Imports: base, outline, make::{cup, piece, plan, verify}, make::verify::{measure, grid, curve, ragged}.

use super::Report;
use super::curve::{self, OnWall};
use super::grid::{Entry, measure};
use super::measure::{FINE, breach, inside_by_geo, rings};
use super::ragged;
use crate::base::diag::Diagnostic;
use crate::base::frame::{Plane, Point};
use crate::base::tolerance::MEASURE;
use crate::base::units::Mm;
use crate::make::cup::WallZone;
use crate::make::piece::{Kind, Piece};
use crate::make::plan::Plan;
use crate::outline::{Bounds, Flat};
use std::collections::BTreeMap;

/// Owner number of the handle's window in the grid.
const HANDLE: u32 = 0;

pub(super) fn check(plan: &Plan, report: &mut Report, broken: &mut Vec<Diagnostic>) {
    report.pieces_on_wall = plan.on_wall().count() as u64;
    for (i, zone) in plan.cup.zones.iter().enumerate() {
        let own: Vec<&Piece> = plan.on_wall().filter(|p| p.zone == i).collect();
        check_zone(plan, zone, &own, report, broken);
    }
    if let Some(p) = plan.on_wall().find(|p| p.zone >= plan.cup.zones.len()) {
        let what = format!("piece {} lies on no zone of the wall", p.number);
        broken.push(breach(what, p.zone, plan.cup.zones.len()));
    }
}

fn check_zone(
    plan: &Plan,
    zone: &WallZone,
    on_wall: &[&Piece],
    report: &mut Report,
    broken: &mut Vec<Diagnostic>,
) {
    let flats: Vec<Flat<Plane>> = on_wall.iter().map(|p| rings(&p.on_plane())).collect();
    let curve = OnWall::of(plan, zone);
    let reaches: BTreeMap<u32, Mm> =
        on_wall.iter().zip(&flats).map(|(p, f)| (p.number, curve::reach(p, f))).collect();
    let on_plane = |asked: Mm, [a, b]: [u32; 2]| {
        let of = |n: u32| reaches.get(&n).copied().unwrap_or(Mm::ZERO);
        curve.on_plane(asked, [of(a), of(b)])
    };
    heights(plan, zone, (on_wall, &flats), &|p| on_plane(p.clearance, [p.number; 2]), broken);
    let entries = entries(zone, on_wall, &flats);
    let widest = reaches.values().copied().fold(Mm::ZERO, Mm::max);
    let asked_at_most = on_wall.iter().map(|p| p.clearance).fold(Mm::ZERO, Mm::max);
    let reach = curve.on_plane(asked_at_most, [widest; 2]).0.max(0.5) + 0.5;
    let found = measure(&entries, reach);
    report.edge_pairs_on_wall += found.measured;
    for number in found.crossing {
        broken.push(breach(format!("the outline of piece {number} crosses itself"), "a crossing", "none"));
    }
    for near in found.near {
        let Some((asked, what)) = asked(plan, near.a, near.b) else { continue };
        let asked = on_plane(asked, [near.a, near.b]);
        // Chords may lie outside of a hollow curve by FINE on either side.
        let spare = near.distance - 2.0 * FINE.0 - asked.0;
        if spare < -MEASURE.0 {
            broken.push(breach(what, Mm(near.distance), format!("at least {asked:.3}")));
        }
        report.least_spare_on_wall = Some(report.least_spare_on_wall.map_or(Mm(spare), |s| s.min(Mm(spare))));
    }
    contained(plan, zone, on_wall, &flats, broken);
    ragged::check(plan, zone, (on_wall, &flats), broken);
}

/// Clearance that a pair asks for; nothing between layers of one decal, which lie on each other.
fn asked(plan: &Plan, a: u32, b: u32) -> Option<(Mm, String)> {
    if a == HANDLE {
        return Some((plan.piece(b).clearance, format!("piece {b} is too near the handle's window")));
    }
    if same_decal(plan.piece(a), plan.piece(b)) && a != b {
        return None;
    }
    let passes = [plan.piece(a).pass(&plan.job), plan.piece(b).pass(&plan.job)];
    if passes[0] != passes[1] {
        let later = if passes[0] > passes[1] { a } else { b };
        let halo = halo(plan, plan.piece(later))?;
        return Some((halo, format!("pieces {a} and {b} of two passes: the halo of {later} is not kept")));
    }
    if spot_and_tint(plan.piece(a), plan.piece(b)) {
        return Some((Mm::ZERO, format!("spot {a} and its tint {b} overlap")));
    }
    let asked = plan.piece(a).clearance.max(plan.piece(b).clearance);
    Some((asked, format!("pieces {a} and {b} are too near each other on the wall")))
}

/// Wall that pieces of earlier passes leave free round a piece.
fn halo(plan: &Plan, p: &Piece) -> Option<Mm> {
    match p.kind {
        Kind::Layer { decal, .. } => plan.job.decals[decal].halo,
        _ => None,
    }
}

/// May one lie on the other? What goes on later may, unless it wants a halo.
fn may_cover(plan: &Plan, a: &Piece, b: &Piece) -> bool {
    let (pa, pb) = (a.pass(&plan.job), b.pass(&plan.job));
    pa != pb && halo(plan, if pa > pb { a } else { b }).is_none()
}

/// A spot and the tint in its opening: clear of each other, but not by the spot's gap.
fn spot_and_tint(a: &Piece, b: &Piece) -> bool {
    matches!(b.kind, Kind::Tint { of, .. } if of == a.number)
}

fn same_decal(a: &Piece, b: &Piece) -> bool {
    matches!((&a.kind, &b.kind), (Kind::Layer { decal: x, .. }, Kind::Layer { decal: y, .. }) if x == y)
}

/// No piece reaches into a band, nor over an edge of the wall: as the job has them, pieces keep half their
/// clearance (on a smooth wall, what that is on the plane) off an edge and off where two of its parts meet.
fn heights(
    plan: &Plan,
    zone: &WallZone,
    (pieces, flats): (&[&Piece], &[Flat<Plane>]),
    kept: &dyn Fn(&Piece) -> Mm,
    broken: &mut Vec<Diagnostic>,
) {
    let mut edges: Vec<Mm> = plan.job.cup.rings.iter().filter(|r| r.edge).map(|r| r.slant).collect();
    if plan.job.cup.curved {
        edges.extend(plan.cup.edges());
    }
    let (low, high) = (zone.zone.low, zone.zone.high);
    for (piece, flat) in pieces.iter().zip(flats) {
        let (mut least, mut most) = (f64::INFINITY, f64::NEG_INFINITY);
        for p in flat.rings.iter().flatten() {
            let s = zone.development.slant(Point::mm(p[0], p[1])).0;
            least = least.min(s);
            most = most.max(s);
        }
        let reaches = format!("from {} to {} up the wall", Mm(least), Mm(most));
        if least < low.0 - MEASURE.0 || most > high.0 + MEASURE.0 {
            broken.push(breach(
                format!("piece {} reaches into a keep-clear band", piece.number),
                &reaches,
                format!("from {low} to {high}"),
            ));
        }
        let half = kept(piece).0 / 2.0 - MEASURE.0;
        for edge in edges.iter().filter(|e| most > e.0 - half && least < e.0 + half) {
            broken.push(breach(
                format!("piece {} is nearer to the edge at {edge} up than half its clearance", piece.number),
                &reaches,
                format!("{} off it", Mm(half)),
            ));
        }
    }
}

/// All pieces, and their copies over the seam where those come near any piece.
fn entries(zone: &WallZone, pieces: &[&Piece], flats: &[Flat<Plane>]) -> Vec<Entry> {
    let all = flats.iter().fold(Bounds::EMPTY, |b, f| b.joined(&f.bounds()));
    let mut out = Vec::new();
    for (piece, flat) in pieces.iter().zip(flats) {
        // Upper layers of a decal lie within its base, which is held to that; their own edges are held on the
        // sheets.
        if matches!(piece.kind, Kind::Layer { layer, .. } if layer > 0) {
            continue;
        }
        let winding = winding(zone, flat);
        out.push(Entry { owner: piece.number, rings: flat.rings.clone(), winding, copy: false });
        copies(zone, flat, (piece.number, piece.clearance), &all, &mut out);
    }
    for window in &zone.zone.handles {
        let flat = rings(&window.region);
        let winding = winding(zone, &flat);
        out.push(Entry { owner: HANDLE, rings: flat.rings.clone(), winding, copy: true });
        copies(zone, &flat, (HANDLE, Mm::ZERO), &all, &mut out);
    }
    out
}

/// The middle of an outline's angles about the apex, from the front line, counted on round the seam: half the
/// sum of the least and the greatest of its corners.
fn winding(zone: &WallZone, flat: &Flat<Plane>) -> f64 {
    let d = &zone.development;
    let angle = |p: &[f64; 2]| d.wrap(Point::mm(p[0], p[1])).azimuth.rad() * zone.surface.sine();
    let all = flat.rings.iter().flatten().map(angle);
    let (lo, hi) = all.fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), a| (l.min(a), h.max(a)));
    f64::midpoint(lo, hi)
}

fn copies(
    zone: &WallZone,
    flat: &Flat<Plane>,
    (owner, clearance): (u32, Mm),
    all: &Bounds<Plane>,
    out: &mut Vec<Entry>,
) {
    for n in [-1, 1] {
        let copy = flat.moved(&zone.development.turned(n));
        if copy.bounds().distance(all) <= clearance + Mm(2.0) {
            let winding = winding(zone, flat) + f64::from(n) * zone.surface.sweep().rad();
            out.push(Entry { owner, rings: copy.rings, winding, copy: true });
        }
    }
}

/// An outline as it lies on a zone's plane.
struct Lying<'a> {
    flat: &'a Flat<Plane>,
    bounds: Bounds<Plane>,
    winding: f64,
    /// A corner of it and of its copies, each with the winding there.
    corners: [(Point<Plane>, f64); 3],
}

impl<'a> Lying<'a> {
    fn new(zone: &WallZone, flat: &'a Flat<Plane>) -> Lying<'a> {
        let ([x, y], winding) = (flat.rings[0][0], winding(zone, flat));
        let copy = |n: i32| {
            let round = f64::from(n) * zone.surface.sweep().rad();
            (zone.development.turned(n).apply(Point::mm(x, y)), winding + round)
        };
        Lying { flat, bounds: flat.bounds(), winding, corners: [-1, 0, 1].map(copy) }
    }
    /// Does a copy of this one begin inside the other, where both are less than half a turn apart?
    fn within(&self, other: &Lying<'_>) -> bool {
        let b = &other.bounds;
        self.corners.iter().any(|(p, winding)| {
            let outside = p.x < b.min.x || p.x > b.max.x || p.y < b.min.y || p.y > b.max.y;
            !outside
                && (winding - other.winding).abs() < std::f64::consts::PI
                && inside_by_geo(other.flat, [p.x, p.y])
        })
    }
}

/// No piece lies inside another (or its copy over the seam), nor inside a handle's window: edges alone would not show
/// it.
fn contained(
    plan: &Plan,
    zone: &WallZone,
    pieces: &[&Piece],
    flats: &[Flat<Plane>],
    broken: &mut Vec<Diagnostic>,
) {
    let all: Vec<Lying<'_>> = flats.iter().map(|f| Lying::new(zone, f)).collect();
    for (piece, a) in pieces.iter().zip(&all) {
        for (other, b) in pieces.iter().zip(&all) {
            let beside = || same_decal(piece, other) || may_cover(plan, piece, other);
            if piece.number != other.number && a.within(b) && !beside() {
                let what = format!("piece {} lies on piece {}", piece.number, other.number);
                broken.push(breach(what, "inside", "clear of it"));
            }
        }
    }
    for window in &zone.zone.handles {
        let flat = rings(&window.region);
        let window = Lying::new(zone, &flat);
        for (piece, _) in pieces.iter().zip(&all).filter(|(_, a)| a.within(&window)) {
            let what = format!("piece {} lies in the handle's window", piece.number);
            broken.push(breach(what, "inside", "clear of it"));
        }
    }
}
