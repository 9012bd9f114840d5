//! [`Plan`]: everything that the stages made, not yet verified.
//!
//! Imports: base, read::{job, names, kept}, make::{cup, piece, sheet, weed, decal, panel, film, finish}.

mod finishing;
mod whole;
pub mod lie;
mod passes;
mod printed;
pub mod seam;
mod orders;
pub mod run;
pub mod keep;
pub mod ways;
pub mod live;
#[cfg(test)]
mod finish_tests;
#[cfg(test)]
mod live_tests;
#[cfg(test)]
pub(crate) mod sample;

pub use live::{Live, Moved, Refilled};
pub use orders::CODES;
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
use crate::make::decal::common::CommonSize;
use crate::make::film::{Placed, SheetLayout};
use crate::make::finish::Finish;
use crate::make::panel::Panels;
use crate::make::piece::{Kind, Piece};
use crate::make::sheet::stock::Stocked;
use crate::make::weed::NarrowPlace;
use crate::read::job::{Job, OnSheet};
use crate::read::kept::Changed;
use crate::read::names::NameRow;
use std::collections::BTreeSet;
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
    /// All pieces in order of their numbers: `pieces[i].number == i + 1`, unless it was made from an earlier kit,
    /// whose numbers stay: then some are missing, and new ones go on behind the last that was ever used.
    pub pieces: Vec<Piece>,
    /// All sheets, film by film.
    pub sheets: Vec<SheetLayout>,
    /// Pieces that are laid many at once.
    pub panels: Panels,
    /// Printed sheets, in the order of the job.
    pub stock: Vec<Arc<Stocked>>,
    /// What each cup of a list of names has of its own; none where cups are equal.
    pub named: Option<Named>,
    /// Narrow places of the pieces' outlines, by piece.
    pub weak: Vec<NarrowPlace>,
    /// Everything between the last piece placed and the parcel.
    pub finish: Finish,
    /// Warnings and notes of all stages.
    pub diagnostics: Vec<Diagnostic>,
    /// Work done by each stage, in the order they ran: name and what was counted.
    pub stages: Vec<StageReport>,
    /// What was taken over from an earlier kit.
    pub kept: Kept,
}

/// What a plan took over from an earlier kit.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Kept {
    /// The next number that no piece ever had; 0 where nothing was taken over.
    pub next: u32,
    /// The next number that no sheet of a film ever had.
    pub next_sheet: Vec<usize>,
    /// Pieces that lie on a sheet and are not wanted any more.
    pub gone: Vec<Piece>,
    /// What changed since the kit before.
    pub changed: Changed,
    /// Sheets that were cut: film and number.
    pub cut: BTreeSet<(usize, usize)>,
    /// Pieces that are on the cup.
    pub applied: BTreeSet<u32>,
}

/// The cups of a list of names: the wall is the same on all, what the list says is each cup's own.
#[derive(Clone, Debug, PartialEq)]
pub struct Named {
    /// Rows of the list.
    pub rows: Vec<NameRow>,
    /// The row of each cup.
    pub cups: Vec<usize>,
    /// Size and baseline of each decal that takes its words from the list, by its place in the job.
    pub sizes: Vec<(usize, CommonSize)>,
    /// Those decals of each row.
    pub decals: Vec<Vec<(usize, Decal)>>,
    /// The pieces that each cup has of its own; numbers are the same on all cups.
    pub own: Vec<Vec<Piece>>,
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
    /// The place in the list of the piece of a number; none if there is no such piece on the cup.
    pub fn place_of(&self, number: u32) -> Option<usize> {
        let at = (number as usize).checked_sub(1)?;
        if self.pieces.get(at).is_some_and(|p| p.number == number) {
            return Some(at);
        }
        self.pieces.iter().position(|p| p.number == number)
    }
    /// The piece of a number, one that lies on a sheet and is not wanted any more among them.
    pub fn piece(&self, number: u32) -> &Piece {
        let gone = || self.kept.gone.iter().find(|p| p.number == number);
        let piece = self.place_of(number).map(|i| &self.pieces[i]).or_else(gone);
        piece.expect("numbers are those of pieces")
    }
    /// The motif of a printed sheet that a piece is.
    pub fn printed(&self, number: u32) -> Option<OnSheet> {
        // Number 0 is a handle's window in a picture.
        match self.pieces[self.place_of(number)?].kind {
            Kind::Motif { motif, .. } => self.job.motifs.get(motif)?.art.printed(),
            _ => None,
        }
    }
    /// The piece that lies there.
    pub fn piece_at(&self, placed: &Placed) -> &Piece {
        self.piece_of(placed.cup, placed.number)
    }
    /// The piece of a number on a cup.
    pub fn piece_of(&self, cup: u32, number: u32) -> &Piece {
        let own = self.named.as_ref().zip(cup.checked_sub(1)).and_then(|(n, i)| n.own.get(i as usize));
        own.and_then(|own| own.iter().find(|p| p.number == number)).unwrap_or_else(|| self.piece(number))
    }
    /// The pieces and decals of one cup in place of the first one's, without sheets; the plan itself where cups are
    /// equal.
    #[must_use]
    pub fn of_cup(&self, cup: u32) -> Plan {
        let Some(named) = &self.named else { return self.clone() };
        let mut plan = Plan {
            job: self.job.clone(),
            cup: self.cup.clone(),
            decals: self.decals.clone(),
            pieces: self.pieces.clone(),
            sheets: Vec::new(),
            panels: self.panels.clone(),
            stock: Vec::new(),
            named: None,
            weak: self.weak.clone(),
            finish: self.finish.clone(),
            diagnostics: Vec::new(),
            stages: Vec::new(),
            kept: self.kept.clone(),
        };
        let Some(own) = named.own.get(cup as usize - 1) else { return plan };
        for p in own {
            if let Some(at) = plan.place_of(p.number) {
                plan.pieces[at] = p.clone();
            }
        }
        for (i, d) in &named.decals[named.cups[cup as usize - 1]] {
            plan.decals[*i] = d.clone();
        }
        plan
    }
    /// How many cups the film is laid out for.
    pub fn cups(&self) -> u32 {
        orders::cups(&self.job)
    }
    /// Sheets on which a piece lies.
    pub fn sheet_of(&self, number: u32) -> Option<&SheetLayout> {
        self.sheets.iter().find(|s| s.placed.iter().any(|p| p.number == number && !p.spare))
    }
}
