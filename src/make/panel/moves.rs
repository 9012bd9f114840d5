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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::frame::Point;
    use crate::base::random::Random;
    use crate::base::units::Seed;
    use crate::make::cup::Frustum;
    use crate::outline::Flat;
    use crate::outline::plane::{cross, dot};
    use std::f64::consts::TAU;

    /// The rigid motion that takes the line between two marks to that between their readings, middle to middle.
    fn laid(p: V, marks: [V; 2], read: [V; 2]) -> V {
        let (v, w) = (sub(marks[1], marks[0]), sub(read[1], read[0]));
        let (s, c) = libm::atan2(cross(v, w), dot(v, w)).sin_cos();
        let middle = |m: [V; 2]| [f64::midpoint(m[0][0], m[1][0]), f64::midpoint(m[0][1], m[1][1])];
        let (from, to) = (sub(p, middle(marks)), middle(read));
        [to[0] + c * from[0] - s * from[1], to[1] + s * from[0] + c * from[1]]
    }

    /// Truth: rigid motions drawn at random, first onto the carrier by marks missed there, then onto the wall by the
    /// carrier's marks missed there: no corner goes farther than the bound, on the carrier or on the wall, and some
    /// go nearly so far.
    #[test]
    fn no_reading_on_carrier_and_wall_moves_a_corner_farther() {
        let d = Development::new(Frustum { upper: Mm(600.0), lower: Mm(600.0), slant: Mm(200.0) });
        let mut random = Random::new(Seed(11), "moves", 0);
        for (marks, read, on_carrier) in [
            ([[-30.0, -40.0], [30.0, 40.0]], 0.3, 0.2),
            ([[-20.0, 30.0], [20.0, -30.0]], 0.1, 0.4),
            ([[-9.0, 2.0], [9.0, 2.0]], 0.5, 0.5),
        ] {
            let moves = Moves {
                d: &d,
                home: Rigid::from_parts(1.0, 0.0, Point::mm(0.0, 0.0)),
                marks,
                read,
                on_carrier,
            };
            let ring = vec![[24.0, -36.0], [30.0, -40.0], [30.0, -36.0]];
            let outline = Clearance::new(Flat::<Plane>::new(vec![ring.clone()], Mm(0.0)));
            let [bound, bound_carried] = moves.most(&outline, 0);
            let (mut most, mut carried) = (0.0f64, 0.0f64);
            for _ in 0..40_000 {
                let mut missed = |r: f64| {
                    marks.map(|m| {
                        let t = random.between(0.0, TAU);
                        [m[0] + r * t.cos(), m[1] + r * t.sin()]
                    })
                };
                let (there, here) = (missed(on_carrier), missed(read));
                for p in &ring {
                    let on = laid(*p, marks, there);
                    carried = carried.max(len(sub(on, *p)));
                    most = most.max(len(sub(laid(on, marks, here), *p)));
                }
            }
            assert!(most <= bound && most > 0.8 * bound, "{marks:?}: {most} {bound}");
            assert!(carried <= bound_carried && carried > 0.9 * bound_carried, "{carried} {bound_carried}");
        }
    }
}
