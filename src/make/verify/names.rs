//! Promises of a list of names: every name keeps to the window that the wall is laid out round, on one baseline, its
//! layers as those of any decal.
//!
//! Imports: base, outline, make::{piece, decal, plan, verify}, make::verify::{measure, decals}.

use super::Report;
use super::decals::{self, Stacks};
use super::measure::{FINE, breach, inside_by_geo, rings, to_ring};
use crate::base::diag::Diagnostic;
use crate::base::tolerance::{FIT, MEASURE};
use crate::base::units::Mm;
use crate::make::decal::Decal;
use crate::make::piece::{Kind, Piece};
use crate::make::plan::{Named, Plan};
use crate::outline::{Clearance, Flat};
use rayon::prelude::*;

pub(super) fn check(plan: &Plan, report: &mut Report, broken: &mut Vec<Diagnostic>) {
    let Some(named) = &plan.named else { return };
    if named.own.len() != named.cups.len() || named.cups.len() != plan.cups() as usize {
        broken.push(breach("a cup of the list has no pieces", named.own.len(), plan.cups()));
        return;
    }
    let found: Vec<(Report, Vec<Diagnostic>)> = (0..named.rows.len())
        .into_par_iter()
        .map(|row| {
            let (mut report, mut broken) = (Report::default(), Vec::new());
            one_row(plan, named, row, &mut report, &mut broken);
            (report, broken)
        })
        .collect();
    for (part, faults) in found {
        *report = report.and(&part);
        broken.extend(faults);
    }
    for (i, _) in &named.sizes {
        clear_of_window(plan, &plan.decals[*i], *i, broken);
    }
}

fn one_row(plan: &Plan, named: &Named, row: usize, report: &mut Report, broken: &mut Vec<Diagnostic>) {
    let Some(cup) = named.cups.iter().position(|r| *r == row) else {
        broken.push(breach(format!("row {} is on no cup", row + 1), 0, "1 or more"));
        return;
    };
    let pieces = &named.own[cup];
    let of = |cup: u32| cup.checked_sub(1).is_none_or(|i| named.cups[i as usize] == row);
    let line = named.rows[row].line;
    for (i, decal) in &named.decals[row] {
        let stacks = Stacks { job: &plan.job, pieces, sheets: &plan.sheets, of: &of };
        decals::one(&stacks, *i, report, broken);
        if decal.pose != plan.decals[*i].pose || decal.zone != plan.decals[*i].zone {
            broken.push(breach(
                format!("the name of line {line} stands elsewhere"),
                "elsewhere",
                "as on the first cup",
            ));
        }
        let Some(window) = &plan.decals[*i].window else { continue };
        let window = rings(window);
        let own = pieces.iter().filter(|p| matches!(p.kind, Kind::Layer { decal, .. } if decal == *i));
        for p in own.flat_map(|p| rings(&p.outline).rings).flatten() {
            // The window's sides are bent within FIT, and both are chords.
            let off = window.rings.iter().map(|r| to_ring(p, r)).fold(f64::INFINITY, f64::min);
            if !inside_by_geo(&window, p) && off > FIT.0 + 2.0 * FINE.0 + MEASURE.0 {
                broken.push(breach(
                    format!("the name of line {line} reaches out of its window"),
                    Mm(off),
                    "0 mm",
                ));
                break;
            }
        }
    }
}

/// All other pieces of the wall keep clear of the window, whatever stands in it.
fn clear_of_window(plan: &Plan, decal: &Decal, at: usize, broken: &mut Vec<Diagnostic>) {
    let Some(window) = &decal.window else { return };
    let zone = &plan.cup.zones[decal.zone];
    let window: Flat<_> = rings(&window.moved(&decal.pose));
    let own = |p: &&Piece| {
        p.zone == decal.zone
            && p.pass(&plan.job) == decal.pass
            && !matches!(p.kind, Kind::Layer { decal, .. } if decal == at)
    };
    let index = Clearance::new(window);
    for p in plan.on_wall().filter(own) {
        let asked = p.clearance.max(decal.clearance);
        let flat = rings(&p.on_plane());
        for n in [-1, 0, 1] {
            let moved = Clearance::new(flat.moved(&zone.development.turned(n)));
            let Some(distance) = index.distance(&moved, asked) else { continue };
            if distance.0 + 2.0 * FINE.0 < asked.0 - FIT.0 {
                let message = format!("piece {} is too near the window of the names", p.number);
                broken.push(breach(message, distance, format!("at least {asked:.3}")));
            }
        }
    }
}
