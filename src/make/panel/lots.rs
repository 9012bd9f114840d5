//! [`lots`]: panels as film lays them out.
//!
//! Imports: base, outline, read::job, make::{cup, piece, panel}.

use super::{Member, Panels};
use crate::base::frame::{Art, Rigid};
use crate::base::tolerance::FLATTEN;
use crate::base::units::Mm;
use crate::make::cup::Cup;
use crate::make::piece::{Kind, Piece};
use crate::outline::Region;
use crate::outline::plane::convex_hull;
use crate::read::job::Job;
use std::f64::consts::FRAC_PI_2;
use std::sync::Arc;

/// Corners of the carrier in a quarter turn.
const CORNERS: usize = 4;

/// Pieces as film lays them out: each panel is one, its carrier its outline; the others as they are.
pub fn lots(job: &Job, cup: &Cup, pieces: &[Piece], panels: &Panels) -> Vec<Piece> {
    if panels.list.is_empty() {
        return pieces.to_vec();
    }
    let single = |p: &&Piece| panels.of(p.number).is_none();
    let mut out: Vec<Piece> = pieces.iter().filter(single).cloned().collect();
    for panel in &panels.list {
        let d = &cup.zones[panel.zone].development;
        let home: Rigid<_, Art> = panel.pose.inverse();
        let member = |m: &Member| {
            let piece =
                pieces.iter().find(|p| p.number == m.number).expect("a panel holds pieces of the plan");
            Piece { pose: piece.pose.then(&d.turned(m.turns)), ..piece.clone() }
        };
        let of: Vec<Piece> = panel.members.iter().map(member).collect();
        let film = &job.films[panel.film.0];
        let beyond = (film.cut.lay.panel.carrier.0 - film.spacing.0 / 2.0).max(0.0);
        let points =
            of.iter().flat_map(|p| p.cut().moved(&p.pose).moved::<Art>(&home).flat(FLATTEN).rings).flatten();
        let outline = Region::polygon(&grown_hull(points.collect(), beyond));
        let clearance = of.iter().map(|p| p.clearance).fold(Mm::ZERO, Mm::max);
        out.push(Piece {
            number: panel.members[0].number,
            kind: Kind::Lot { of: Arc::from(of), parting: Arc::from(panel.web.lines.clone()) },
            name: format!("panel {}", panel.number),
            film: panel.film,
            outline,
            zone: panel.zone,
            wall: panel.middle,
            pose: panel.pose,
            clearance,
            keys: Region::empty(),
        });
    }
    out.sort_by_key(|p| p.number);
    out
}

/// A convex outline that holds all points and what is so near them.
pub(super) fn grown_hull(points: Vec<[f64; 2]>, by: f64) -> Vec<[f64; 2]> {
    let hull = convex_hull(points);
    let n = 4 * CORNERS;
    // Corners of a polygon round the circle.
    let far = (by + FLATTEN.0) / libm::cos(std::f64::consts::PI / n as f64);
    let corners = |p: &[f64; 2]| {
        let (x, y) = (p[0], p[1]);
        (0..n).map(move |k| {
            let a = FRAC_PI_2 * k as f64 / CORNERS as f64;
            [x + far * libm::cos(a), y + far * libm::sin(a)]
        })
    };
    convex_hull(hull.iter().flat_map(corners).collect())
}
