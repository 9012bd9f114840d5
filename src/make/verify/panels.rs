//! Promises of panels: every piece in one laying, moved to the sheet with the others of its panel by one rigid motion;
//! borders, sizes and marks.
//!
//! Imports: base, outline, make::{piece, panel, film, plan}, make::verify::{measure, grid}.

use super::grid::{Entry, measure};
use super::measure::{FINE, breach, inside_by_geo, rings, to_ring};
use crate::base::diag::Diagnostic;
use crate::base::frame::{Art, Point, Sheet};
use crate::base::tolerance::MEASURE;
use crate::base::units::Mm;
use crate::make::panel::Panel;
use crate::make::panel::mark::ROOM;
use crate::make::piece::{Kind, Piece};
use crate::make::plan::Plan;
use crate::outline::Flat;
use std::collections::BTreeMap;

/// How far a piece may be off the motion of its panel.
const RIGID: Mm = Mm(1e-6);
/// Chords lie inside a convex outline: sizes may be told too small by this.
const SIZE: Mm = Mm(0.01);

pub(super) fn check(plan: &Plan, broken: &mut Vec<Diagnostic>) {
    let mut layings: BTreeMap<u32, usize> = BTreeMap::new();
    plan.panels.list.iter().flat_map(|p| &p.members).for_each(|m| *layings.entry(m.number).or_default() += 1);
    for (number, times) in layings {
        let piece = plan.place_of(number).map(|i| &plan.pieces[i]);
        if times != 1 || piece.is_none_or(|p| matches!(p.kind, Kind::Layer { .. } | Kind::Base)) {
            broken.push(breach(
                format!("piece {number} is in {times} panels"),
                times,
                "one, and no layer of a decal",
            ));
        }
    }
    if !broken.is_empty() {
        return;
    }
    for (at, panel) in plan.panels.list.iter().enumerate() {
        let name = format!("panel {} of film {}", panel.number, plan.job.films[panel.film.0].name);
        rigid(plan, panel, &name, broken);
        sized(plan, panel, &name, broken);
        marked(plan, panel, &name, broken);
        for other in &plan.panels.list[at + 1..] {
            if panel.laid_with(other) {
                carried(panel, other, &name, broken);
            } else if (other.film == panel.film || (panel.part.is_some() && other.part.is_some()))
                && other.zone == panel.zone
            {
                apart(plan, [panel, other], &name, broken);
            }
        }
    }
    if let Some(n) = plan.panels.narrowest.filter(|n| n.left < Mm(0.4) - MEASURE) {
        broken.push(breach("a gap could close where panels lie off", n.left, "0.4 mm or more"));
    }
}

/// Parts of one panel are of different films and places in the order, and have one pose, carrier and marks: then what
/// is rigid from sheet to wall for each is so for all on the carrier.
fn carried(a: &Panel, b: &Panel, name: &str, broken: &mut Vec<Diagnostic>) {
    let [p, q] = [a.part, b.part].map(|p| p.map_or((0, 0), |p| (p.nth, p.of)));
    let same = a.pose == b.pose && a.marks == b.marks && a.carrier == b.carrier && a.zone == b.zone;
    if a.film == b.film || p.0 == q.0 || p.1 != q.1 || p.0.max(q.0) > p.1 || !same {
        let message = format!("{name} does not lie on its carrier as its other films do");
        broken.push(breach(message, format!("{p:?}, {q:?}"), "one pose, one carrier, the same marks"));
    }
}

/// Three points on the sheet, and on the wall.
type Both = ([Point<Sheet>; 3], [[f64; 2]; 3]);
/// Three points of a piece's frame.
const THREE: [[f64; 2]; 3] = [[0.0, 0.0], [10.0, 0.0], [0.0, 10.0]];

/// Distances between points of all pieces are the same on the wall and on the sheet, and none is turned over.
fn rigid(plan: &Plan, panel: &Panel, name: &str, broken: &mut Vec<Diagnostic>) {
    let d = &plan.cup.zones[panel.zone].development;
    let cups = if plan.cups() > 1 { 1..=plan.cups() } else { 0..=0 };
    for cup in cups {
        let mut first: Option<Both> = None;
        let mut sheets: Vec<usize> = Vec::new();
        for m in &panel.members {
            let piece = plan.piece_of(cup, m.number);
            let found = plan.sheets.iter().enumerate().find_map(|(i, s)| {
                let here = |p: &&crate::make::film::Placed| {
                    p.number == m.number && !p.spare && s.cups_of(p).any(|c| c == cup)
                };
                s.placed.iter().find(here).map(|p| (i, s, p))
            });
            // What is cut nowhere, or twice, is told by the sheets' own check.
            let Some((i, sheet, placed)) = found else { continue };
            sheets.push(i);
            let lifted = piece.pose.then(&d.turned(m.turns));
            let on_wall = THREE.map(|q| lifted.apply(Point::<Art>::mm(q[0], q[1]))).map(|p| [p.x, p.y]);
            let on_sheet = THREE.map(|q| sheet.shown(Point::mm(q[0], q[1]), &placed.pose));
            let (s0, w0) = *first.get_or_insert((on_sheet, on_wall));
            let far = |a: usize, b: usize| {
                let wall = libm::hypot(w0[a][0] - on_wall[b][0], w0[a][1] - on_wall[b][1]);
                (s0[a].distance(on_sheet[b]).0 - wall).abs()
            };
            let off = (0..9).map(|k| far(k / 3, k % 3)).fold(0.0, f64::max);
            if off > RIGID.0 {
                let message = format!("piece {} is not laid with the others of {name}", m.number);
                broken.push(breach(message, format!("{off:.7} mm off"), format!("{:.7} mm", RIGID.0)));
            }
        }
        if sheets.iter().any(|s| *s != sheets[0]) {
            broken.push(breach(format!("{name} lies on several sheets"), format!("{sheets:?}"), "one"));
        }
    }
}

fn flat(plan: &Plan, panel: &Panel, k: usize) -> Flat<crate::base::frame::Plane> {
    let d = &plan.cup.zones[panel.zone].development;
    let m = &panel.members[k];
    rings(&plan.piece(m.number).on_plane()).moved(&d.turned(m.turns))
}

/// No panel, all its films together, is larger than its film says.
fn sized(plan: &Plan, panel: &Panel, name: &str, broken: &mut Vec<Diagnostic>) {
    let d = &plan.cup.zones[panel.zone].development;
    if panel.part.is_some_and(|p| p.nth > 1) {
        return;
    }
    let points = plan
        .panels
        .parts(panel)
        .into_iter()
        .flat_map(|p| (0..p.members.len()).flat_map(move |k| flat(plan, p, k).rings))
        .flatten();
    let (mut round, mut up) = ([f64::INFINITY, f64::NEG_INFINITY], [f64::INFINITY, f64::NEG_INFINITY]);
    for p in points {
        let w = d.wrap(Point::mm(p[0], p[1]));
        round = [round[0].min(w.azimuth.rad()), round[1].max(w.azimuth.rad())];
        up = [up[0].min(w.slant.0), up[1].max(w.slant.0)];
    }
    let widest = d.radius(Mm(up[0])).max(d.radius(Mm(up[1])));
    let size = [widest * (round[1] - round[0]), Mm(up[1] - up[0])];
    let largest = plan.job.films[panel.film.0].cut.lay.panel.largest;
    if size.iter().zip(&largest).any(|(s, l)| *s > *l + SIZE) {
        let told = |s: [Mm; 2]| format!("{:.2} by {:.2}", s[0], s[1]);
        broken.push(breach(format!("{name} is too large"), told(size), told(largest)));
    }
}

/// Marks are clear of all film.
fn marked(plan: &Plan, panel: &Panel, name: &str, broken: &mut Vec<Diagnostic>) {
    let d = &plan.cup.zones[panel.zone].development;
    for (mark, turns) in &panel.marks {
        let corners = rings(&mark.outline(d, *turns));
        let pieces: Vec<&Piece> = plan.on_wall().filter(|p| p.zone == panel.zone).collect();
        for piece in pieces {
            let own = rings(&piece.on_plane());
            for n in -3..=3 {
                let there = own.moved(&d.turned(n));
                let near = there.bounds().distance(&corners.bounds()) < ROOM;
                if !near || !d.can_meet(mark.at.azimuth, piece.wall.azimuth, n - turns) {
                    continue;
                }
                let to = |a: &Flat<_>, b: &Flat<_>| {
                    let all =
                        a.rings.iter().flatten().flat_map(|p| b.rings.iter().map(move |r| to_ring(*p, r)));
                    all.fold(f64::INFINITY, f64::min)
                };
                let far = to(&corners, &there).min(to(&there, &corners));
                let inside = corners.rings.iter().flatten().any(|p| inside_by_geo(&there, *p));
                if inside || far < ROOM.0 - 2.0 * FINE.0 {
                    let message = format!("a mark of {name} is too near piece {}", piece.number);
                    broken.push(breach(message, Mm(far), ROOM));
                }
            }
        }
    }
}

/// The border between two panels of a film, or of gathered films, is as wide as the film asks.
fn apart(plan: &Plan, [a, b]: [&Panel; 2], name: &str, broken: &mut Vec<Diagnostic>) {
    if plan.piece(a.members[0].number).pass(&plan.job) != plan.piece(b.members[0].number).pass(&plan.job) {
        return;
    }
    let zone = &plan.cup.zones[a.zone];
    let d = &zone.development;
    let sine = zone.surface.sine();
    let asked = plan.job.films[a.film.0].cut.lay.panel.border;
    let mut entries: Vec<Entry> = Vec::new();
    let mut add = |owner: u32, panel: &Panel, n: i32| {
        for k in 0..panel.members.len() {
            let f = flat(plan, panel, k).moved(&d.turned(n));
            let azimuth = panel.middle.azimuth.rad() + std::f64::consts::TAU * f64::from(n);
            entries.push(Entry { owner, rings: f.rings, winding: azimuth * sine, copy: n != 0 });
        }
    };
    add(0, a, 0);
    // The other's middle may be counted a turn or two off.
    (-2..=2).for_each(|n| add(1, b, n));
    let near = measure(&entries, asked.0 + 0.5).near;
    let least = near.iter().filter(|n| n.a != n.b).map(|n| n.distance).fold(f64::INFINITY, f64::min);
    if least < asked.0 - 2.0 * FINE.0 - MEASURE.0 {
        let other = &plan.job.films[b.film.0].name;
        let message = format!("the border between {name} and panel {} of {other} is too narrow", b.number);
        broken.push(breach(message, Mm(least), asked));
    }
}
