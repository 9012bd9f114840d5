//! Promises on the base: ring, centre and mark inside each other with their gaps, all about the middle.
//!
//! Imports: base, make::{piece, finish, plan, verify}, make::verify::measure.

use super::Report;
use super::measure::{FINE, breach, rings};
use crate::base::diag::Diagnostic;
use crate::base::tolerance::{FIT, MEASURE};
use crate::base::units::Mm;
use crate::make::finish::BaseDisc;
use crate::make::piece::Kind;
use crate::make::plan::Plan;

pub(super) fn check(plan: &Plan, _: &mut Report, broken: &mut Vec<Diagnostic>) {
    let pieces = plan.pieces.iter().filter(|p| p.kind == Kind::Base).count();
    let parts = plan.finish.base.as_ref().map_or(0, |d| d.parts.iter().filter(|p| p.film.is_some()).count());
    if pieces != parts {
        broken.push(breach("the pieces of the base are not the parts of its disc", pieces, parts));
    }
    if let Some(disc) = &plan.finish.base {
        disc_keeps_its_sizes(plan, disc, broken);
    }
}

/// Nearest and farthest place of each outline from the middle, corner by corner of a fine polyline.
fn disc_keeps_its_sizes(plan: &Plan, disc: &BaseDisc, broken: &mut Vec<Diagnostic>) {
    let slack = FIT.0 + FINE.0 + MEASURE.0;
    for part in disc.parts.iter().filter(|p| p.film.is_some()) {
        let (inner, outer) = match part.name {
            "ring" => (disc.ring_inner.0 / 2.0, disc.disc.0 / 2.0),
            _ => (0.0, disc.centre.0 / 2.0),
        };
        let cut = plan.pieces.iter().find(|p| p.number == part.number).map(|p| rings(&p.outline));
        let Some(flat) = cut else {
            broken.push(breach(format!("the {} of the base is no piece", part.name), "none", "one"));
            continue;
        };
        let far = flat.rings.iter().flatten().map(|p| libm::hypot(p[0], p[1]));
        let (near, far) = far.fold((f64::INFINITY, 0.0f64), |(a, b), d| (a.min(d), b.max(d)));
        if far > outer + slack || (part.name == "ring" && near < inner - slack) {
            broken.push(breach(
                format!("the {} of the base leaves its place", part.name),
                format!("{:.3} to {:.3} from the middle", Mm(near), Mm(far)),
                format!("{:.3} to {:.3}", Mm(inner), Mm(outer)),
            ));
        }
    }
}
