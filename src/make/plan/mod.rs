//! [`Plan`]: everything that the stages made, not yet verified.
//!
//! Imports: base, read, make::{cup, piece, decal, motif, accent, weed, film}.

pub mod run;
mod decals;
#[cfg(test)]
pub(crate) mod sample;

pub use run::{Stage, run};

use crate::base::diag::Diagnostic;
use crate::make::cup::Cup;
use crate::make::decal::Decal;
use crate::make::film::SheetLayout;
use crate::make::piece::Piece;
use crate::make::weed::Weak;
use crate::read::job::Job;

/// What one run of the stages made.
#[derive(Clone, Debug)]
pub struct Plan {
    /// The job it was made from.
    pub job: Job,
    /// The cup.
    pub cup: Cup,
    /// Decals, in the order of the job.
    pub decals: Vec<Decal>,
    /// All pieces in order of their numbers: `pieces[i].number == i + 1`.
    pub pieces: Vec<Piece>,
    /// All sheets, film by film.
    pub sheets: Vec<SheetLayout>,
    /// Narrow places of the pieces' outlines, by piece.
    pub weak: Vec<Weak>,
    /// Warnings and notes of all stages.
    pub found: Vec<Diagnostic>,
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
    /// The piece of a number.
    pub fn piece(&self, number: u32) -> &Piece {
        &self.pieces[number as usize - 1]
    }
    /// Sheets on which a piece lies.
    pub fn sheet_of(&self, number: u32) -> Option<&SheetLayout> {
        self.sheets.iter().find(|s| s.placed.iter().any(|p| p.number == number && !p.spare))
    }
}
