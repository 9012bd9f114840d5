//! What printed sheets promise: each print lies inside its cut by its border, or by half of a gap that it shares;
//! each motif is cut once.
//!
//! Imports: base, read::job, make::plan, make::verify::measure.

use super::measure::{FINE, breach, inside_by_geo, rings, to_ring};
use crate::base::diag::Diagnostic;
use crate::base::tolerance::FIT;
use crate::base::units::Mm;
use crate::make::plan::Plan;
use crate::read::job::OnSheet;
use std::collections::BTreeSet;

/// What a border may lack: offset and closing are within [`FIT`] each, chords within [`FINE`] twice.
const LACK: f64 = 2.0 * FIT.0 + 2.0 * FINE.0;

/// Measures the cuts of printed sheets against their prints, corner by corner.
pub(super) fn check(plan: &Plan, broken: &mut Vec<Diagnostic>) {
    let mut seen: BTreeSet<OnSheet> = BTreeSet::new();
    for piece in &plan.pieces {
        let Some(on) = plan.printed(piece.number) else { continue };
        let name = format!("motif {} of \"{}\"", on.number, plan.job.sheets[on.sheet].name);
        if !seen.insert(on) {
            broken.push(breach(format!("{name} is cut twice"), 2, 1));
        }
        let stock = &plan.stock[on.sheet];
        let Some(motif) = stock.sheet.motif(on.number) else {
            broken.push(breach(format!("{name} is not there"), "none", "one"));
            continue;
        };
        // Inside the print the cut takes what it takes.
        let border = plan.job.sheets[on.sheet].border;
        if border < Mm::ZERO || motif.cut_off.is_some() {
            continue;
        }
        let shares = stock.shared.iter().any(|(a, b, _)| *a == on.number || *b == on.number);
        let least = if shares { 0.0 } else { border.0 - LACK };
        let (print, cut) = (rings(&motif.print), rings(&piece.outline.moved(&stock.pose(on.number))));
        let off = |p: &[f64; 2]| cut.rings.iter().map(|r| to_ring(*p, r)).fold(f64::INFINITY, f64::min);
        let nearest = print.rings.iter().flatten().map(off).fold(f64::INFINITY, f64::min);
        // A cut along the print's own rim may lie inside it by what offsets and chords stray.
        let beyond = (LACK - border.0).max(0.0);
        let outside = print.rings.iter().flatten().find(|p| !inside_by_geo(&cut, **p) && off(p) > beyond);
        if outside.is_some() || nearest < least {
            let measured =
                if outside.is_some() { "outside of it".to_owned() } else { Mm(nearest).to_string() };
            broken.push(breach(format!("the cut of {name} is too near its print"), measured, Mm(least)));
        }
    }
}
