//! What the manifest says of how pieces come to the wall.
//!
//! Imports: read::job, make::{film, verify}.

use crate::make::film::SheetLayout;
use crate::make::film::hops::{self, Hops};
use crate::make::verify::{CutPlan, Verified};
use crate::read::job::Lay;
use serde::Serialize;

/// How near spots lie on a sheet in the order of placing.
#[derive(Serialize)]
pub(super) struct OrderPart {
    mean_hop_mm: f64,
    hops: usize,
    hops_over_40_mm: usize,
    next_among_six_part: f64,
}

/// Of a sheet; none where its film is not woven.
pub(super) fn order(plan: &Verified, sheet: &SheetLayout) -> Option<OrderPart> {
    if plan.job().films[sheet.film.0].cut.lay.how != Lay::Woven {
        return None;
    }
    let hops = Hops::of(&hops::places(sheet, &|p| plan.piece_at(p)));
    let rounded = |v: f64| (v * 1000.0).round() / 1000.0;
    Some(OrderPart {
        mean_hop_mm: rounded(hops.mean()),
        hops: hops.each.len(),
        hops_over_40_mm: hops.far(),
        next_among_six_part: rounded(hops.near_part()),
    })
}
