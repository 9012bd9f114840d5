//! Promises on every cut outline: no segment that a cutter stutters at, no hair that its blade runs back in.
//!
//! The makers look at the sides that meet at a corner of the curves; here the outline is flattened finely and
//! every corner of it is walked from, both ways.
//!
//! Imports: base, outline, make::plan, make::verify::measure.

use super::measure::{breach, rings};
use crate::base::diag::Diagnostic;
use crate::base::tolerance::{HAIR_APART, HAIR_WALK, MEASURE, SHORTEST};
use crate::base::units::Mm;
use crate::make::plan::Plan;
use crate::outline::{sharpest_hair, shortest_segment};
use rayon::prelude::*;

pub(super) fn check(plan: &Plan, broken: &mut Vec<Diagnostic>) {
    let found: Vec<Option<Diagnostic>> = plan
        .pieces
        .par_iter()
        .map(|p| {
            let (least, short) = shortest_segment(&p.outline);
            if short > 0 && least < SHORTEST - MEASURE {
                let what = format!("piece {} is cut with {short} segments too short for a blade", p.number);
                return Some(breach(what, format!("{:.4}", least.0), SHORTEST));
            }
            let flat = rings(&p.outline);
            let hair = flat
                .rings
                .iter()
                .filter_map(|r| sharpest_hair(r, HAIR_WALK.0))
                .min_by(|a, b| a.0.total_cmp(&b.0));
            hair.filter(|h| h.0 < HAIR_APART.0 - MEASURE.0).map(|(d, at)| {
                let what = format!("piece {} runs back in its own cut at {:.2}, {:.2}", p.number, at.x, at.y);
                breach(what, format!("{} apart after {HAIR_WALK}", Mm(d)), format!("{} mm", HAIR_APART.0))
            })
        })
        .collect();
    broken.extend(found.into_iter().flatten());
}
