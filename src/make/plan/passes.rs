//! Passes: what goes on in one film step lies beside what goes on with it and over what went on before.
//!
//! Imports: base, read::job, make::{cup, piece, free_area, decal, motif}.

use crate::base::diag::{Diagnostics, ErrorGuaranteed};
use crate::make::cup::Cup;
use crate::make::decal::Decal;
use crate::make::free_area::FreeArea;
use crate::make::motif::{self, Motif, PlacementResult};
use crate::make::piece::{Kind, Piece};
use crate::read::job::Job;

/// Lays the motifs pass by pass, each clear of what goes on with it only.
///
/// # Errors
/// Those of any pass.
pub(super) fn lay(
    job: &Job,
    motifs: &[Motif],
    cup: &Cup,
    rooms: &[FreeArea],
    diagnostics: &mut Diagnostics,
) -> Result<PlacementResult, ErrorGuaranteed> {
    lay_split((job, motifs), cup, rooms, &|_, motif| vec![motif.clone()], diagnostics)
}

/// The same with each motif, by its place in the job, in parts that are placed in ways of their own.
///
/// # Errors
/// Those of any pass.
pub(super) fn lay_split(
    (job, motifs): (&Job, &[Motif]),
    cup: &Cup,
    rooms: &[FreeArea],
    split: &dyn Fn(usize, &Motif) -> Vec<Motif>,
    diagnostics: &mut Diagnostics,
) -> Result<PlacementResult, ErrorGuaranteed> {
    let last = job.motifs.iter().map(|m| m.pass.order).max().unwrap_or(0);
    let mut all = PlacementResult::default();
    let mut failed = None;
    for pass in 0..=last {
        let of_pass = (0..motifs.len()).filter(|m| job.motifs[*m].pass.order == pass);
        let (places, own): (Vec<usize>, Vec<Motif>) =
            of_pass.flat_map(|m| split(m, &motifs[m]).into_iter().map(move |part| (m, part))).unzip();
        let rooms: Vec<FreeArea> = rooms.iter().map(|r| r.of_pass(pass)).collect();
        match motif::lay_in_zones(&own, cup, &rooms, job.seed, diagnostics) {
            Ok(made) => all.take(made, &places),
            Err(reported) => failed = Some(reported),
        }
    }
    all.laid.sort_by_key(|l| (l.motif, l.copy));
    failed.map_or(Ok(all), Err)
}

/// Numbers the pieces anew in the order of their passes; within a pass they keep their order.
pub(super) fn number(job: &Job, pieces: &mut [Piece], decals: &mut [Decal]) {
    if pieces.iter().all(|p| p.pass(job) == 0) {
        return;
    }
    pieces.sort_by_key(|p| p.pass(job));
    let was: Vec<u32> = pieces.iter().map(|p| p.number).collect();
    let now = |old: u32| was.iter().position(|w| *w == old).map_or(old, |i| i as u32 + 1);
    for (i, p) in pieces.iter_mut().enumerate() {
        p.number = i as u32 + 1;
        if let Kind::Tint { of, .. } = &mut p.kind {
            *of = now(*of);
        }
    }
    for d in decals {
        d.first_piece = now(d.first_piece as u32 + 1) as usize - 1;
    }
}
