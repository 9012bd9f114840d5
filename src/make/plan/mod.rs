//! [`Plan`]: everything that the stages made, not yet verified.
//!
//! Imports: base, read::job, make::{cup, piece, sheet, weed, decal, film, finish}.

mod finishing;
pub mod lie;
mod passes;
mod printed;
pub mod run;
pub mod live;
#[cfg(test)]
mod finish_tests;
#[cfg(test)]
mod live_tests;
#[cfg(test)]
pub(crate) mod sample;

pub use live::{Live, Moved, Refilled};
pub use run::{Stage, run};

/// The job and the cup that [`run()`] makes its plan for; none where the cup is at fault.
pub fn cup(job: &Job) -> Option<(Job, Cup)> {
    let job = finishing::with_build_up(job);
    let cup = crate::make::cup::fit(&job.cup, &mut Diagnostics::new()).ok()?;
    Some((job, cup))
}

use crate::base::diag::{Diagnostic, Diagnostics};
use crate::make::cup::Cup;
use crate::make::decal::Decal;
use crate::make::film::SheetLayout;
use crate::make::finish::Finish;
use crate::make::piece::{Kind, Piece};
use crate::make::sheet::stock::Stocked;
use crate::make::weed::NarrowPlace;
use crate::read::job::{Job, OnSheet};
use std::sync::Arc;

/// What one run of the stages made.
#[derive(Clone, Debug)]
pub struct Plan {
    /// The job it was made from; [`crate::read::job::CupSpec::build_up`] is what the layout was made for,
    /// from the job's coats if the job does not name it.
    pub job: Job,
    /// The cup.
    pub cup: Cup,
    /// Decals, in the order of the job.
    pub decals: Vec<Decal>,
    /// All pieces in order of their numbers: `pieces[i].number == i + 1`.
    pub pieces: Vec<Piece>,
    /// All sheets, film by film.
    pub sheets: Vec<SheetLayout>,
    /// Printed sheets, in the order of the job.
    pub stock: Vec<Arc<Stocked>>,
    /// Narrow places of the pieces' outlines, by piece.
    pub weak: Vec<NarrowPlace>,
    /// Everything between the last piece placed and the parcel.
    pub finish: Finish,
    /// Warnings and notes of all stages.
    pub diagnostics: Vec<Diagnostic>,
    /// Work done by each stage, in the order they ran: name and what was counted.
    pub stages: Vec<StageReport>,
}

/// What a stage did, in counts (never seconds: same job, same bytes).
#[derive(Clone, Debug, PartialEq, serde::Serialize)]
pub struct StageReport {
    /// The stage.
    pub stage: &'static str,
    /// What was counted, for example `("spots", 212)`.
    pub counts: Vec<(&'static str, u64)>,
}

impl Plan {
    /// The pieces that go on the wall: all but those of the base.
    pub fn on_wall(&self) -> impl Iterator<Item = &Piece> {
        self.pieces.iter().filter(|p| p.kind != Kind::Base)
    }
    /// The piece of a number.
    pub fn piece(&self, number: u32) -> &Piece {
        &self.pieces[number as usize - 1]
    }
    /// The motif of a printed sheet that a piece is.
    pub fn printed(&self, number: u32) -> Option<OnSheet> {
        // Number 0 is a handle's window in a picture.
        match self.pieces.get((number as usize).checked_sub(1)?)?.kind {
            Kind::Motif { motif, .. } => self.job.motifs.get(motif)?.art.printed(),
            _ => None,
        }
    }
    /// Sheets on which a piece lies.
    pub fn sheet_of(&self, number: u32) -> Option<&SheetLayout> {
        self.sheets.iter().find(|s| s.placed.iter().any(|p| p.number == number && !p.spare))
    }
}
