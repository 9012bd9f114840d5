//! Re-measures every promise by a second method; only it makes a [`Verified`] plan.
//!
//! The makers measure with trees of boxes on chords within `FLATTEN`; here all outlines are flattened again,
//! four times finer, and measured edge by edge in a grid; areas and insides come from the geo crate.
//!
//! Imports: base, read::{job, materials}, make::{cup, piece, sheet, weed, decal, panel, film, finish, plan}.

mod measure;
mod printed;
mod own_prints;
mod grid;
mod decals;
mod sheets;
mod curve;
mod ragged;
mod wall;
mod base;
mod cuts;
mod names;
mod panels;

use crate::base::diag::{Code, Diagnostic};
use crate::base::units::Mm;
use crate::make::cup::Cup;
use crate::make::decal::Decal;
use crate::make::film::again::Recut;
use crate::make::film::{Placed, SheetLayout};
use crate::make::finish::Finish;
use crate::make::panel::Panels;
use crate::make::piece::{Kind, Piece};
use crate::make::plan::ways::{Way, ways};
use crate::make::plan::{Kept, Named, Plan, StageReport};
use crate::make::sheet::marks::{AsPrinted, DISC, SMALL};
use crate::make::sheet::stock::Stocked;
use crate::make::weed::NarrowPlace;
use crate::read::job::{Effort, FilmSpec, Job, OnSheet};
use crate::read::materials::Materials;
use measure::breach;
use serde::Serialize;
use std::sync::Arc;

/// A promise is broken: a defect of this program, not of the job.
pub const BROKEN: Code = Code {
    id: "verify/promise-broken",
    title: "a finished plan does not keep a promise",
    explain: "Before anything is written, every distance, place and count of the plan is measured again by \
        another method. One of them came out wrong. Nothing was written. This is a defect of the program, \
        not of the job: please report it with the job file. Until it is mended, another seed or a slightly \
        larger clearance often helps.",
};

/// All codes of this module.
pub const CODES: &[&Code] = &[&BROKEN];

/// A plan whose promises were re-measured: the only thing that writers take.
#[derive(Clone, Debug)]
pub struct Verified {
    plan: Plan,
    report: Report,
}

/// What was measured again.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct Report {
    /// Pieces on the wall.
    pub pieces_on_wall: u64,
    /// Pairs of edges measured on the wall, seam copies included.
    pub edge_pairs_on_wall: u64,
    /// Least room on the wall beyond what the pair of pieces asks for; none if no two are near.
    #[serde(rename = "least_spare_on_wall_mm")]
    pub least_spare_on_wall: Option<Mm>,
    /// Layers of decals.
    pub decal_layers: u64,
    /// Least that a layer of a decal reaches out, or a hollow stays in, beyond what was asked.
    #[serde(rename = "least_spare_between_layers_mm")]
    pub least_spare_between_layers: Option<Mm>,
    /// Pieces on sheets, spares included.
    pub pieces_on_sheets: u64,
    /// Pairs of edges measured on the sheets.
    pub edge_pairs_on_sheets: u64,
    /// Least room on a sheet beyond the film's spacing.
    #[serde(rename = "least_spare_on_sheets_mm")]
    pub least_spare_on_sheets: Option<Mm>,
}

impl Report {
    /// Both: counts added, the least of what is least.
    fn and(&self, other: &Report) -> Report {
        let least = |a: Option<Mm>, b: Option<Mm>| match (a, b) {
            (Some(a), Some(b)) => Some(a.min(b)),
            (a, b) => a.or(b),
        };
        Report {
            pieces_on_wall: self.pieces_on_wall + other.pieces_on_wall,
            edge_pairs_on_wall: self.edge_pairs_on_wall + other.edge_pairs_on_wall,
            least_spare_on_wall: least(self.least_spare_on_wall, other.least_spare_on_wall),
            decal_layers: self.decal_layers + other.decal_layers,
            least_spare_between_layers: least(
                self.least_spare_between_layers,
                other.least_spare_between_layers,
            ),
            pieces_on_sheets: self.pieces_on_sheets + other.pieces_on_sheets,
            edge_pairs_on_sheets: self.edge_pairs_on_sheets + other.edge_pairs_on_sheets,
            least_spare_on_sheets: least(self.least_spare_on_sheets, other.least_spare_on_sheets),
        }
    }
}

/// What writers may ask of a plan.
impl Verified {
    /// The job that it was made from.
    pub fn job(&self) -> &Job {
        &self.plan.job
    }
    /// The cup.
    pub fn cup(&self) -> &Cup {
        &self.plan.cup
    }
    /// Decals, in the order of the job.
    pub fn decals(&self) -> &[Decal] {
        &self.plan.decals
    }
    /// All pieces in order of their numbers, which have gaps if it was made from an earlier kit.
    pub fn pieces(&self) -> &[Piece] {
        &self.plan.pieces
    }
    /// All sheets, film by film.
    pub fn sheets(&self) -> &[SheetLayout] {
        &self.plan.sheets
    }
    /// Pieces that are laid many at once.
    pub fn panels(&self) -> &Panels {
        &self.plan.panels
    }
    /// Printed sheets, in the order of the job.
    pub fn stock(&self) -> &[Arc<Stocked>] {
        &self.plan.stock
    }
    /// The motif of a printed sheet that a piece is.
    pub fn printed(&self, number: u32) -> Option<OnSheet> {
        self.plan.printed(number)
    }
    /// The name of the film step that a piece goes on in; none where no film step has one.
    pub fn pass_name(&self, p: &Piece) -> Option<String> {
        let finish = self.plan.job.finish.as_ref()?;
        if p.kind == Kind::Base || finish.film_steps().all(|(_, s)| s.name.is_none()) {
            return None;
        }
        let order = p.pass(&self.plan.job);
        let name = finish.film_steps().nth(order)?.1.name.as_deref();
        Some(name.map_or_else(|| format!("film step {}", order + 1), str::to_owned))
    }
    /// The passes of a job that has several, each with the first and the last of its pieces' numbers.
    pub fn passes(&self) -> Vec<(String, [u32; 2])> {
        let mut out: Vec<(String, [u32; 2])> = Vec::new();
        for p in &self.plan.pieces {
            let Some(name) = self.pass_name(p) else { continue };
            match out.last_mut().filter(|o| o.0 == name) {
                Some(o) => o.1[1] = p.number,
                None => out.push((name, [p.number; 2])),
            }
        }
        out
    }
    /// Narrow places of the pieces' outlines, by piece.
    pub fn weak(&self) -> &[NarrowPlace] {
        &self.plan.weak
    }
    /// Everything between the last piece placed and the parcel.
    pub fn finish(&self) -> &Finish {
        &self.plan.finish
    }
    /// Warnings and notes of all stages.
    pub fn diagnostics(&self) -> &[Diagnostic] {
        &self.plan.diagnostics
    }
    /// Work done by each stage.
    pub fn stages(&self) -> &[StageReport] {
        &self.plan.stages
    }
    /// The pieces that go on the wall: all but those of the base.
    pub fn on_wall(&self) -> impl Iterator<Item = &Piece> {
        self.plan.on_wall()
    }
    /// What its pieces would take, laid otherwise.
    pub fn ways(&self, materials: &Materials, effort: Effort) -> Vec<Way> {
        ways(&self.plan, materials, effort)
    }
    /// The cups of a list of names; none where cups are equal.
    pub fn named(&self) -> Option<&Named> {
        self.plan.named.as_ref()
    }
    /// The plan of one cup of a list: what was measured of all of them holds for each.
    #[must_use]
    pub fn of_cup(&self, cup: u32) -> Verified {
        Verified { plan: self.plan.of_cup(cup), report: self.report.clone() }
    }
    /// How many cups the film is laid out for.
    pub fn cups(&self) -> u32 {
        self.plan.cups()
    }
    /// The piece of a number.
    pub fn piece(&self, number: u32) -> &Piece {
        self.plan.piece(number)
    }
    /// The place of a piece among [`Verified::pieces`]; none if it is not on the cup.
    pub fn place_of(&self, number: u32) -> Option<usize> {
        self.plan.place_of(number)
    }
    /// What was taken over from an earlier kit.
    pub fn kept(&self) -> &Kept {
        &self.plan.kept
    }
}

impl Verified {
    /// What was measured.
    pub fn report(&self) -> &Report {
        &self.report
    }
    /// For tests of writers inside this crate: takes the caller's word.
    #[cfg(test)]
    pub(crate) fn unchecked(plan: Plan) -> Verified {
        Verified { plan, report: Report::default() }
    }
    /// For tests that change a plan and have it written.
    #[cfg(test)]
    pub(crate) fn into_plan(self) -> Plan {
        self.plan
    }
}

/// Sheets that were re-measured, with the pieces on them: what writers of cut files take.
pub trait CutPlan: Sync {
    /// The job's title.
    fn title(&self) -> &str;
    /// Its films.
    fn films(&self) -> &[FilmSpec];
    /// The piece that lies there.
    fn piece_at(&self, placed: &Placed) -> &Piece;
    /// What a sheet is called on the map and in tables: `gold-1`.
    fn sheet_name(&self, sheet: &SheetLayout) -> String;
    /// What the panel is called whose first piece has this number.
    fn panel_name(&self, first: u32) -> String {
        format!("panel of {first}")
    }
    /// From a sheet as drawn to the film as it lies under the blade, and where its marks are to be: of a sheet that
    /// the maker prints herself.
    fn as_printed(&self, _sheet: &SheetLayout) -> Option<AsPrinted> {
        None
    }
    /// Is the piece of a number not wanted any more, and left on its sheet?
    fn is_gone(&self, _number: u32) -> bool {
        false
    }
}

impl CutPlan for Verified {
    fn title(&self) -> &str {
        &self.plan.job.title
    }
    fn films(&self) -> &[FilmSpec] {
        &self.plan.job.films
    }
    fn piece_at(&self, placed: &Placed) -> &Piece {
        self.plan.piece_at(placed)
    }
    fn sheet_name(&self, sheet: &SheetLayout) -> String {
        format!("{}-{}", self.plan.job.films[sheet.film.0].name, sheet.index)
    }
    fn as_printed(&self, sheet: &SheetLayout) -> Option<AsPrinted> {
        let own = self.plan.stock[self.plan.job.sheet_of(sheet.film)?].own.as_ref()?;
        let map = own.as_printed();
        let discs = own.marks.places().map(|p| (map.apply(p), DISC));
        let small = (map.apply(own.marks.small()), SMALL);
        Some((map, discs.into_iter().chain([small]).collect()))
    }
    fn is_gone(&self, number: u32) -> bool {
        self.plan.kept.gone.iter().any(|p| p.number == number)
    }
    fn panel_name(&self, first: u32) -> String {
        self.plan.panels.of(first).map_or(String::new(), |p| format!("panel {}", p.number))
    }
}

/// Pieces cut anew, their sheets measured again.
#[derive(Clone, Debug)]
pub struct VerifiedRecut(Recut);

impl VerifiedRecut {
    /// Measures the sheets.
    ///
    /// # Errors
    /// One fault for each broken promise.
    pub fn of(recut: Recut) -> Result<VerifiedRecut, Vec<Diagnostic>> {
        let mut broken = Vec::new();
        sheets::recut(&recut, &mut broken);
        if broken.is_empty() { Ok(VerifiedRecut(recut)) } else { Err(broken) }
    }
    /// What was laid out.
    pub fn recut(&self) -> &Recut {
        &self.0
    }
}

impl CutPlan for VerifiedRecut {
    fn title(&self) -> &str {
        &self.0.title
    }
    fn films(&self) -> &[FilmSpec] {
        &self.0.films
    }
    fn piece_at(&self, placed: &Placed) -> &Piece {
        // Each piece of a layout is one of the list it was made from.
        self.0.piece_at(placed).unwrap_or(&self.0.pieces[0])
    }
    fn sheet_name(&self, sheet: &SheetLayout) -> String {
        format!("{}-again-{}", self.0.films[sheet.film.0].name, sheet.index)
    }
}

/// Measures everything again.
///
/// # Errors
/// One fault for each broken promise, with what was measured and what was promised.
pub fn verify(plan: Plan) -> Result<Verified, Vec<Diagnostic>> {
    let mut broken = Vec::new();
    let mut report = Report::default();
    numbers(&plan, &mut broken);
    if broken.is_empty() {
        let on = |check: fn(&Plan, &mut Report, &mut Vec<Diagnostic>)| {
            let (mut report, mut broken) = (Report::default(), Vec::new());
            check(&plan, &mut report, &mut broken);
            (report, broken)
        };
        let (wall, (decals, (sheets, base))) = rayon::join(
            || on(wall::check),
            || rayon::join(|| on(decals::check), || rayon::join(|| on(sheets::check), || on(base::check))),
        );
        for (part, faults) in [wall, decals, sheets, base] {
            report = report.and(&part);
            broken.extend(faults);
        }
        cuts::check(&plan, &mut broken);
        printed::check(&plan, &mut broken);
        own_prints::check(&plan, &mut broken);
        names::check(&plan, &mut report, &mut broken);
        panels::check(&plan, &mut broken);
    }
    if broken.is_empty() { Ok(Verified { plan, report }) } else { Err(broken) }
}

/// Numbers run from 1 without a gap, or are those of an earlier kit and each there once; every film is in the job.
fn numbers(plan: &Plan, broken: &mut Vec<Diagnostic>) {
    let mut seen = std::collections::BTreeSet::new();
    let last = plan.kept.next;
    for piece in plan.pieces.iter().chain(&plan.kept.gone).filter(|_| last > 0) {
        if piece.number == 0 || piece.number >= last || !seen.insert(piece.number) {
            broken.push(breach(format!("number {} is given twice", piece.number), piece.number, last));
        }
    }
    for (i, piece) in plan.pieces.iter().enumerate() {
        if last == 0 && piece.number as usize != i + 1 {
            broken.push(breach(
                format!("piece {} stands at place {}", piece.number, i + 1),
                piece.number,
                i + 1,
            ));
        }
        if piece.film.0 >= plan.job.films.len() {
            broken.push(breach("a piece's film is not in the job", piece.film.0, plan.job.films.len()));
        }
        if piece.outline.is_empty() || piece.outline.area().0 <= 0.0 {
            broken.push(breach(
                format!("piece {} has no area", piece.number),
                piece.outline.area(),
                "above 0",
            ));
        }
    }
}

#[cfg(test)]
mod tests;
