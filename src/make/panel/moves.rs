//! How far the pieces of a panel may be off, and what becomes of the gaps between them.
//!
//! A carrier takes up the first film with its marks; a later film lies off it by what its two marks are missed by on
//! the carrier, and with all others by what the carrier's marks are missed by on the wall. A point that is c off on
//! the carrier and would be e off by the wall's marks is at most `e + c (1 + turn)` off, the turn of the carrier at
//! most 2 r / L: where the point really is the carrier's motion differs from that where it should be by no more.
//!
//! Imports: base, outline, read::job, make::{cup, piece, panel}, make::panel::{near, off}.

use super::near::{Lying, near};
use super::off::off;
use super::{Narrowest, Panel, Panels};
use crate::base::frame::{Art, Plane, Rigid};
use crate::base::units::Mm;
use crate::make::cup::Development;
use crate::make::piece::{Kind, Piece};
use crate::outline::Clearance;
use crate::outline::plane::{V, convex_hull, len, sub};
use crate::read::job::{Job, PanelSpec};

/// Farther than the least gap and what panels may be off gaps are not looked at.
const BEYOND: Mm = Mm(2.0);

/// Motions of one panel.
pub(super) struct Moves<'a> {
    d: &'a Development,
    home: Rigid<Plane, Art>,
    marks: [V; 2],
    read: f64,
    on_carrier: f64,
}

impl<'a> Moves<'a> {
    /// Of a panel, or of a film's part of one; none without two marks.
    pub(super) fn new(panel: &Panel, d: &'a Development, spec: &PanelSpec) -> Option<Moves<'a>> {
        let [Some(a), Some(b)] = [0, 1].map(|i| panel.marks.get(i)) else { return None };
        let home: Rigid<_, Art> = panel.pose.inverse();
        let marks = [a, b].map(|(m, n)| home.apply(m.middle(d, *n))).map(|p| [p.x, p.y]);
        let first = panel.part.is_none_or(|p| p.nth == 1);
        let on_carrier = if first { 0.0 } else { spec.on_carrier.0 };
        Some(Moves { d, home, marks, read: spec.read.0, on_carrier })
    }
    /// Farthest that a point of an outline, lifted by some turns, can be off on the wall, and of it on the carrier.
    pub(super) fn most(&self, outline: &Clearance<Plane>, turns: i32) -> [f64; 2] {
        let rings = outline.flat().moved(&self.d.turned(turns)).moved::<Art>(&self.home).rings;
        let turn = 2.0 * self.read / len(sub(self.marks[1], self.marks[0]));
        let ways = convex_hull(rings.concat()).into_iter().map(|p| {
            let carried = if self.on_carrier > 0.0 { off(p, self.marks, self.on_carrier) } else { 0.0 };
            [off(p, self.marks, self.read) + carried * (1.0 + turn), carried]
        });
        ways.fold([0.0, 0.0], |a, b| [a[0].max(b[0]), a[1].max(b[1])])
    }
}

/// The narrowest gap that may come of panels that lie off, over all films of a pass; and the narrowest one between
/// films on one carrier.
pub(super) fn narrowest(
    (job, least_gap): (&Job, Mm),
    d: &Development,
    wall: &[&Piece],
    all: &[Lying],
    panels: &Panels,
) -> [Option<Narrowest>; 2] {
    let reach = panels.list.iter().filter_map(|p| p.off).fold(Mm::ZERO, Mm::max) * 2.0;
    let laid: Vec<Option<&Panel>> = wall.iter().map(|p| panels.of(p.number)).collect();
    // How far each piece may be off by itself: a panel's middle moves less than its corners.
    let moves = |k: usize| -> [f64; 2] {
        let Some(panel) = laid[k] else { return [0.0; 2] };
        let Some(member) = panel.members.iter().find(|m| m.number == wall[k].number) else { return [0.0; 2] };
        let moves = Moves::new(panel, d, &job.films[panel.film.0].cut.lay.panel);
        moves.map_or([0.0; 2], |m| m.most(&all[k].outline, member.turns))
    };
    let moved: Vec<[f64; 2]> = (0..wall.len()).map(moves).collect();
    let mut least: [Option<Narrowest>; 2] = [None; 2];
    for n in near(all, d, least_gap + reach + BEYOND) {
        let [a, b] = n.pair;
        let key = |p: Option<&Panel>| p.map(|p| (p.film, p.number));
        let together = laid[a].is_some() && key(laid[a]) == key(laid[b]);
        let carried = laid[a].zip(laid[b]).is_some_and(|(p, q)| p.laid_with(q));
        let layers = |p: &Piece| matches!(p.kind, Kind::Layer { .. });
        let apart = wall[a].pass(job) != wall[b].pass(job) || (layers(wall[a]) && layers(wall[b]));
        if together || apart || (laid[a].is_none() && laid[b].is_none()) {
            continue;
        }
        let by = usize::from(carried);
        let left = Mm(n.gap - moved[a][by] - moved[b][by]);
        let found = Narrowest { pieces: [wall[a].number, wall[b].number], gap: Mm(n.gap), left };
        for l in &mut least[..=by] {
            if l.is_none_or(|l| left < l.left) {
                *l = Some(found);
            }
        }
    }
    least
}

/// The narrower of two.
pub(super) fn narrower(a: Option<Narrowest>, b: Option<Narrowest>) -> Option<Narrowest> {
    match (a, b) {
        (Some(a), Some(b)) => Some(if b.left < a.left { b } else { a }),
        (a, b) => a.or(b),
    }
}
