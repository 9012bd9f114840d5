//! Motifs over the zones of a wall: pinned ones where their anchors lie, copies dealt so that zones fill evenly.
//!
//! Imports: read::job, make::{cup, free_area, motif}.

use super::Motif;
use crate::make::cup::Cup;
use crate::make::free_area::FreeArea;
use crate::read::job::{Placing, Turning};
use std::f64::consts::PI;

/// A motif with some of its copies only.
pub(super) fn part(motif: &Motif, copies: &[usize]) -> Motif {
    let placing = match &motif.placing {
        Placing::Pinned(poses) => Placing::Pinned(copies.iter().map(|c| poses[*c]).collect()),
        Placing::Spread { turning, .. } => Placing::Spread { copies: copies.len(), turning: *turning },
        Placing::Many { worth, turning, .. } => {
            Placing::Many { at_most: copies.len(), worth: *worth, turning: *turning }
        }
    };
    let copies = copies.iter().map(|c| motif.copies[*c]).collect();
    Motif { placing, copies, ..motif.clone() }
}

/// For each motif the copies that each zone gets. Copies go one by one, the largest motifs' first and the
/// motifs of one size in turn, to the zone of those that are high enough with the largest part of its area
/// left; none is left where a motif is too high for all, and then the highest gets it, to say so.
pub(super) fn dealt(motifs: &[Motif], cup: &Cup, rooms: &[FreeArea]) -> Vec<Vec<Vec<usize>>> {
    let mut out = vec![vec![Vec::new(); rooms.len()]; motifs.len()];
    let height = |zone: usize| (rooms[zone].zone.high - rooms[zone].zone.low).0;
    let highest = (1..rooms.len()).fold(0, |best, z| if height(z) > height(best) { z } else { best });
    let whole: Vec<f64> = rooms.iter().map(|r| r.zone.area(&r.development).0.max(0.0)).collect();
    let mut left: Vec<f64> = rooms
        .iter()
        .zip(&whole)
        .map(|(r, whole)| whole - r.obstacles.iter().map(|o| o.region.area().0).sum::<f64>())
        .collect();
    // Grown by half the clearance: what a copy takes of a zone (Steiner's bound).
    let takes = |m: &Motif| {
        let h = m.clearance.0 / 2.0;
        m.outline.area().0 + m.outline.perimeter_at_most().0 * h + PI * h * h
    };
    let mut copies: Vec<(usize, usize)> = Vec::new();
    for (m, motif) in motifs.iter().enumerate() {
        match &motif.placing {
            Placing::Pinned(poses) => {
                for (copy, pose) in poses.iter().enumerate() {
                    let zone = cup.zone_at(pose.slant);
                    out[m][zone].push(copy);
                    left[zone] -= takes(motif);
                }
            }
            // Each zone is offered all; what one takes the next ones do not get.
            Placing::Many { .. } => out[m].iter_mut().for_each(|z| z.extend(motif.copies.iter().copied())),
            Placing::Spread { copies: count, .. } => copies.extend((0..*count).map(|copy| (m, copy))),
        }
    }
    copies.sort_by(|a, b| {
        takes(&motifs[b.0]).total_cmp(&takes(&motifs[a.0])).then(a.1.cmp(&b.1)).then(a.0.cmp(&b.0))
    });
    for (m, copy) in copies {
        let b = motifs[m].outline.bounds();
        let least = match motifs[m].placing {
            Placing::Spread { turning: Turning::Free, .. } => b.width().min(b.height()).0,
            _ => b.height().0,
        };
        let fits = (0..rooms.len()).filter(|z| height(*z) >= least && whole[*z] > 0.0);
        let zone =
            fits.max_by(|a, b| (left[*a] / whole[*a]).total_cmp(&(left[*b] / whole[*b]))).unwrap_or(highest);
        out[m][zone].push(copy);
        left[zone] -= takes(&motifs[m]);
    }
    out
}
