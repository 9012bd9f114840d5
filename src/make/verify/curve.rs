//! Distances on a smooth wall, worked out again from the readings: the curve is fitted anew, its departure from the
//! cone of each zone is taken at other places than the maker's, and its curvature from fine differences, without
//! what the readings leave open.
//!
//! Imports: base, outline, read::job, make::{cup, piece, plan}.

use crate::base::units::Mm;
use crate::make::cup::WallZone;
use crate::make::piece::Piece;
use crate::make::plan::Plan;
use crate::outline::Flat;
use crate::read::job::{GirthCurve, Girths};

/// Places looked at of a zone.
const PLACES: usize = 301;

/// What a zone's plane tells of distances on the wall.
pub(super) struct OnWall {
    least: f64,
    most: f64,
    curvature: f64,
}

impl OnWall {
    /// Of a zone; on a cone distances are what they are on the plane.
    pub fn of(plan: &Plan, zone: &WallZone) -> OnWall {
        let spec = &plan.job.cup;
        let tape = plan.cup.readings.repeats_stray.unwrap_or(spec.tape);
        let curve = spec
            .curved
            .then(|| GirthCurve::found(&spec.rings, &spec.outlines, spec.wall, tape, spec.marks))
            .flatten();
        let Some(curve) = curve else { return OnWall { least: 0.0, most: 0.0, curvature: 0.0 } };
        let (low, high) = (zone.low.0, zone.high.0);
        let step = (high - low) / (PLACES - 1) as f64;
        let girth = |i: usize| curve.at(Mm(low + step * i as f64)).0;
        let cone = |i: usize| {
            let t = i as f64 / (PLACES - 1) as f64;
            zone.measured.lower.0 * (1.0 - t) + zone.measured.upper.0 * t
        };
        let off = (0..PLACES).map(|i| girth(i) / cone(i) - 1.0);
        let (least, most) = off.fold((0.0, 0.0), |(l, m): (f64, f64), v| (l.min(v), m.max(v)));
        // Over a tenth of the zone: -girth'' / girth.
        let wide = PLACES / 10;
        let bent = |i: usize| {
            let second = girth(i - wide) - 2.0 * girth(i) + girth(i + wide);
            (second / (wide as f64 * step).powi(2) / girth(i)).abs()
        };
        let curvature = (wide..PLACES - wide).map(bent).fold(0.0, f64::max);
        OnWall { least, most, curvature }
    }
    /// Distance on the plane at which two outlines keep `asked` on the wall, each with its farthest point so far
    /// from its anchor.
    pub fn on_plane(&self, asked: Mm, reaches: [Mm; 2]) -> Mm {
        if asked <= Mm::ZERO {
            return asked;
        }
        let strays = |a: f64| a * self.most.max(-self.least) + self.curvature * a * a * a / 6.0;
        (asked + Mm(strays(reaches[0].0) + strays(reaches[1].0))) / (1.0 + self.least)
    }
}

/// Distance of an outline's farthest point from where its anchor lies on the plane.
pub(super) fn reach(piece: &Piece, flat: &Flat<crate::base::frame::Plane>) -> Mm {
    let (_, _, x, y) = piece.pose.parts();
    Mm(flat.rings.iter().flatten().map(|p| libm::hypot(p[0] - x, p[1] - y)).fold(0.0, f64::max))
}
