//! Promises of ragged limits: spots keep their gap from the line itself, asked of its formula at fine steps (the
//! maker lays polygons under it).
//!
//! Imports: base, outline, read::job, make::{cup, piece, accent, plan}, make::verify::measure.

use super::measure::{FINE, breach};
use crate::base::diag::Diagnostic;
use crate::base::frame::{Plane, Point};
use crate::base::tolerance::MEASURE;
use crate::base::units::{Angle, Mm};
use crate::make::accent::RaggedLimit;
use crate::make::cup::{WallPoint, WallZone};
use crate::make::piece::{Kind, Piece};
use crate::make::plan::Plan;
use crate::outline::Flat;
use crate::read::job::Edge;

/// Between places of the line that a corner is measured to, mm: chords of it lie within a hundredth.
const STEP: f64 = 0.1;
/// Of the gap that may be missing: half a step along a steep line, and what its chords leave out.
const LOOSE: f64 = 0.02;

/// Measures every spot of a fill with ragged limits.
pub(super) fn check(
    plan: &Plan,
    zone: &WallZone,
    (pieces, flats): (&[&Piece], &[Flat<Plane>]),
    broken: &mut Vec<Diagnostic>,
) {
    // On a smooth wall the layout was made for wider gaps, and its limits lie elsewhere.
    if plan.job.cup.curved {
        return;
    }
    let Some(number) = plan.cup.zones.iter().position(|z| std::ptr::eq(z, zone)) else { return };
    for (accent, spec) in plan.job.accents.iter().enumerate() {
        let Edge::Ragged(most) = spec.edge else { continue };
        let limits = RaggedLimit::of((&zone.development, &zone.zone, number), (spec, accent), plan.job.seed);
        for (piece, flat) in pieces.iter().zip(flats) {
            let own =
                matches!(piece.kind, Kind::Spot { accent: a } | Kind::Tint { accent: a, .. } if a == accent);
            if !own {
                continue;
            }
            for limit in &limits {
                let short =
                    flat.rings.iter().flatten().filter_map(|p| short(zone, limit, *p, (spec.gap, most)));
                if let Some(worst) = short.reduce(f64::min) {
                    broken.push(breach(
                        format!("piece {} reaches into the ragged limit of its fill", piece.number),
                        Mm(worst),
                        format!("at least {:.3}", spec.gap),
                    ));
                }
            }
        }
    }
}

/// How far a corner is from the line, if that is less than the gap.
fn short(zone: &WallZone, limit: &RaggedLimit, p: [f64; 2], (gap, most): (Mm, Mm)) -> Option<f64> {
    let at = zone.development.wrap(Point::mm(p[0], p[1]));
    let inside = (at.slant - limit.slant).get() * limit.way;
    if inside > (gap + most).get() + 0.1 {
        return None;
    }
    let radius = zone.development.radius(at.slant).get();
    let steps = libm::ceil(gap.get() / STEP) as i32 + 1;
    let least = (-steps..=steps)
        .map(|k| {
            let azimuth = at.azimuth + Angle::radians(f64::from(k) * STEP / radius);
            let slant = limit.slant + limit.inwards(azimuth) * limit.way;
            let q = zone.development.develop(WallPoint { azimuth, slant });
            libm::hypot(q.x - p[0], q.y - p[1])
        })
        .fold(f64::INFINITY, f64::min);
    let within = inside < limit.inwards(at.azimuth).get();
    let least = if within { -least } else { least };
    (least < gap.get() - LOOSE - 2.0 * FINE.get() - MEASURE.get()).then_some(least)
}
