//! What an order of several cups asks of a run.
//!
//! Imports: base, read::{job, names, materials}, make::{cup, piece, decal, panel, film, finish, plan},
//! make::plan::printed.

use super::{Named, printed};
use crate::base::diag::{Code, Diagnostic, Diagnostics, ErrorGuaranteed, KeyPath, Severity};
use crate::make::cup::Cup;
use crate::make::decal::common::{CommonSize, narrowest, with_row};
use crate::make::decal::{self, Decal};
use crate::make::film::cups::{CupPieces, lay_out_order, reckoned};
use crate::make::film::{self, Offcut, SheetLayout};
use crate::make::finish;
use crate::make::panel::{self, Panels};
use crate::make::piece::Piece;
use crate::read::job::decals::Shows;
use crate::read::job::{Effort, Job, OrderSpec};
use crate::read::materials::Materials;
use crate::read::names::NameList;
use rayon::prelude::*;
use std::collections::BTreeMap;
use std::ops::ControlFlow;

/// Printed motifs in an order.
pub const PRINTED: Code = Code {
    id: "order/printed-once",
    title: "A printed sheet has each motif once",
    explain: "Several cups of one job take each of its pieces several times. The motifs of a printed sheet are \
        there once: make such cups one by one, or cut those motifs from plain film.",
};

/// A list without a decal, or the other way round.
pub const NO_LIST: Code = Code {
    id: "order/names-and-decal",
    title: "A list of names and the decal that takes them go together",
    explain: "`[order.names]` names the list; a `[[decal]]` with `row = true` is lettered from it, cup by cup.",
};
/// Thickened once for all.
pub const MENDED: Code = Code {
    id: "order/names-mended",
    title: "Strokes of names were thickened",
    explain: "At the common size the font's strokes are narrower than the film can be weeded, so they were \
        thickened there, as `mend = true` asks. Said once for the whole list.",
};

/// All codes of this module.
pub const CODES: &[&Code] = &[&PRINTED, &NO_LIST, &MENDED];

/// How many cups film is laid out for.
pub(super) fn cups(job: &Job) -> u32 {
    job.order.as_ref().map_or(1, |o| o.cups)
}

/// Refuses printed motifs where there are several cups.
fn printed_once(job: &Job, pieces: &[Piece], diagnostics: &mut Diagnostics) -> Result<(), ErrorGuaranteed> {
    let printed = pieces.iter().filter(|p| job.sheet_of(p.film).is_some()).count();
    if printed > 0 {
        let message = "an order of several cups takes motifs from a printed sheet";
        diagnostics.push(
            Diagnostic::fault(&PRINTED, KeyPath::of("order.cups"), message)
                .measured(format!("{printed} of its motifs, {} cups", cups(job)))
                .allowed("1 cup")
                .help("make these cups one by one, each with motifs of its own"),
        );
    }
    diagnostics.check()
}

/// Sheets of the other numbers of cups that a price is asked for: film of an order is not that of a cup times so
/// many. Quick layouts; what cannot be laid out is left to the order itself to say.
fn quantities(job: &Job, pieces: &CupPieces<'_>, offcuts: &[Vec<Offcut>]) -> BTreeMap<u32, Vec<SheetLayout>> {
    let Some(order) = &job.order else { return BTreeMap::new() };
    let price = job.finish.as_ref().and_then(|f| f.price.as_ref());
    let breaks = price.iter().flat_map(|p| p.breaks.iter().copied()).filter(|n| *n != order.cups);
    let one = |cups: u32| {
        let own: Vec<Vec<Piece>> = pieces.own.iter().cycle().take(cups as usize).cloned().collect();
        let order = OrderSpec { cups, ..order.clone() };
        let of = CupPieces { shared: pieces.shared, own: &own, cups, panels: None };
        let told = &mut Diagnostics::new();
        reckoned(of, &job.films, offcuts, &order, told).ok().map(|sheets| (cups, sheets))
    };
    breaks.filter_map(one).collect()
}

/// The job of the first row of a list, with as many cups as the list says, and the sizes of its decals; the job
/// itself where it names no list.
pub(super) fn named(
    job: &Job,
    materials: &Materials,
    cup: Option<&Cup>,
    diagnostics: &mut Diagnostics,
) -> Result<(Job, Option<Named>), ErrorGuaranteed> {
    let by_row = |job: &Job| job.decals.iter().position(|d| d.row.is_some());
    let Some(list) = materials.names() else {
        if let Some(i) = by_row(job) {
            let at = KeyPath::root().key("decal").index(i).key("row");
            let d = Diagnostic::fault(
                &NO_LIST,
                at,
                "the words of this decal come from a list, and the job has none",
            );
            return Err(diagnostics.push(d.help("add `[order.names]` with `list = \"names.csv\"`")));
        }
        return Ok((job.clone(), None));
    };
    let list = list?;
    if by_row(job).is_none() {
        let d =
            Diagnostic::fault(&NO_LIST, KeyPath::of("order.names"), "no decal takes its words from the list");
        return Err(diagnostics.push(
            d.help("write `row = true` and `fits = [70, 16]` into a `[[decal]]`, in place of its `text`"),
        ));
    }
    let file = job.order.as_ref().and_then(|o| o.names.as_ref()).map_or("", |n| n.list.as_str());
    let mut sizes = Vec::new();
    for (i, spec) in job.decals.iter().enumerate() {
        let (Some(row), Shows::Words { font, .. }) = (&spec.row, &spec.shows) else { continue };
        let at = KeyPath::root().key("decal").index(i);
        let font = materials.font(font)?;
        let taper = cup.map_or(1.0, |cup| narrowest(spec, row, cup));
        sizes.push((i, CommonSize::of(spec, row, font, (&list.rows, file, taper), &at, diagnostics)?));
    }
    // Only a mend reaches farther than the letters that were measured: other rows are not made twice.
    if let Some(cup) = cup.filter(|_| sizes.iter().any(|(i, _)| job.decals[*i].mend)) {
        let (part, ..) = fitted(job, materials, cup, (list, &sizes), 0);
        smaller(&mut sizes, 0, part);
    }
    let mut job = of_row(job, list, &sizes, 0);
    let cups = list.cups();
    if let Some(order) = &mut job.order {
        order.cups = cups;
    }
    if let Some(finish) = &mut job.finish {
        finish.cups = cups;
        finish.spelling.extend(list.rows.iter().map(|r| r.text.clone()));
    }
    let (rows, cups) = (list.rows.clone(), list.of_cups());
    Ok((job, Some(Named { rows, cups, sizes, decals: Vec::new(), own: Vec::new() })))
}

/// The job with the words of a row.
fn of_row(job: &Job, list: &NameList, sizes: &[(usize, CommonSize)], row: usize) -> Job {
    let mut job = job.clone();
    for (i, size) in sizes {
        job.decals[*i] = with_row(&job.decals[*i], &list.rows[row].text, size, row);
    }
    job
}

/// Parts of its size that a row is tried at: mended strokes reach a little farther than the letters that were
/// measured.
const TRIED: [f64; 4] = [1.0, 0.985, 0.97, 0.955];

/// At which part of its size it was made, what was said, and its decals.
type MadeRow = (f64, Diagnostics, Result<Vec<(usize, Decal)>, ErrorGuaranteed>);

/// A row's decals, a little smaller where they reach out of their window; as large as it is where the job says how
/// large.
fn fitted(
    job: &Job,
    materials: &Materials,
    cup: &Cup,
    (list, sizes): (&NameList, &[(usize, CommonSize)]),
    row: usize,
) -> MadeRow {
    let asked =
        sizes.iter().any(|(i, _)| job.decals[*i].row.as_ref().is_some_and(|r| r.cap_height.is_some()));
    let tried = if asked { &TRIED[..1] } else { &TRIED[..] };
    let mut first = None;
    for part in tried {
        let mut told = Diagnostics::new();
        let mut sizes = sizes.to_vec();
        smaller(&mut sizes, row, *part);
        let made = decal::of_row(&of_row(job, list, &sizes, row), materials, cup, &mut told);
        let over = told.iter().any(|d| d.code.id == decal::codes::OVER_WINDOW.id);
        if made.is_ok() || !over {
            return (*part, told, made);
        }
        first.get_or_insert((*part, told, made));
    }
    first.unwrap_or_else(|| (1.0, Diagnostics::new(), Ok(Vec::new())))
}

/// A row at a part of its size.
fn smaller(sizes: &mut [(usize, CommonSize)], row: usize, part: f64) {
    sizes.iter_mut().for_each(|(_, s)| s.rows[row] = s.rows[row] * part);
}

/// Rows made at a time: who waits hears of each lot.
const ROWS_AT_ONCE: usize = 16;

/// Makes the decals of all rows, and the pieces of all cups; `decals` are the first row's, numbered. `hear` is told how
/// many rows are made, and of how many.
pub(super) fn make_rows(
    (job, materials, cup): (&Job, &Materials, &Cup),
    decals: &[Decal],
    named: Option<&mut Named>,
    diagnostics: &mut Diagnostics,
    hear: &mut dyn FnMut(usize, usize),
) -> Result<(), ErrorGuaranteed> {
    let Some(named) = named else { return Ok(()) };
    let list = NameList { rows: named.rows.clone() };
    let sizes = &named.sizes;
    // A copy has no room to grow: what a thousand rows hold while all else is made is half as large.
    let one = |row| {
        let (part, told, made) = fitted(job, materials, cup, (&list, sizes), row);
        (part, told, made.map(|decals| decals.to_vec()))
    };
    let all: Vec<usize> = (0..list.rows.len()).collect();
    let mut made: Vec<MadeRow> = Vec::with_capacity(all.len());
    for lot in all.chunks(ROWS_AT_ONCE) {
        hear(made.len(), all.len());
        made.par_extend(lot.par_iter().map(|row| one(*row)));
    }
    for (row, (part, ..)) in made.iter().enumerate() {
        smaller(&mut named.sizes, row, *part);
    }
    let mut rows = Vec::new();
    let mut failed = None;
    let mut notes: BTreeMap<&'static str, usize> = BTreeMap::new();
    for (row, (_, told, made)) in made.into_iter().enumerate() {
        for d in told.into_vec() {
            // The first row's are told by the decal itself; of the others only what is worse than a note.
            match d.severity {
                Severity::Note => *notes.entry(d.code.id).or_default() += 1,
                _ if row == 0 => {}
                _ => {
                    let message = format!("line {}: {}", list.rows[row].line, d.message);
                    diagnostics.push(Diagnostic { message, ..d });
                }
            }
        }
        match made {
            Ok(made) => rows.push(made),
            Err(r) => failed = Some(r),
        }
    }
    if let Some(r) = failed {
        return Err(r);
    }
    for row in &mut rows {
        for (i, d) in row {
            d.first_piece = decals[*i].first_piece;
        }
    }
    named.own = named
        .cups
        .iter()
        .map(|row| {
            rows[*row].iter().flat_map(|(i, d)| d.pieces(*i, d.first_piece as u32 + 1, &job.films)).collect()
        })
        .collect();
    named.decals = rows;
    let mended = notes.get(decal::codes::MENDED.id).copied().unwrap_or(0);
    if mended > 0 {
        let at = KeyPath::of("order.names.list");
        let message =
            format!("strokes of {mended} layers of names are too narrow for their film and were thickened");
        diagnostics.push(
            Diagnostic::note(&MENDED, at, message)
                .help("a larger window or another font leaves them as drawn"),
        );
    }
    Ok(())
}

/// The pieces that every cup has: all where cups are equal.
fn shared(pieces: &[Piece], own: &[Vec<Piece>]) -> Vec<Piece> {
    let alike = |p: &&Piece| !own.first().is_some_and(|o| o.iter().any(|q| q.number == p.number));
    pieces.iter().filter(alike).cloned().collect()
}

/// The pieces that every cup has.
pub(super) struct Alike {
    /// Piece by piece.
    shared: Vec<Piece>,
    /// As film lays them out: panels as one.
    lots: Vec<Piece>,
    /// The panels.
    pub(super) panels: Panels,
}

impl Alike {
    /// Of a plan's pieces; `own` are those that each cup has for itself.
    pub(super) fn of(job: &Job, cup: &Cup, pieces: &[Piece], own: &[Vec<Piece>], panels: Panels) -> Alike {
        let shared = shared(pieces, own);
        let lots = panel::lots(job, cup, &shared, &panels);
        Alike { shared, lots, panels }
    }
}

/// What goes on film.
pub(super) struct OnFilm<'a> {
    pub(super) job: &'a Job,
    /// Of the first cup.
    pub(super) pieces: &'a [Piece],
    pub(super) alike: &'a Alike,
    pub(super) own: &'a [Vec<Piece>],
    pub(super) offcuts: &'a [Vec<Offcut>],
}

impl OnFilm<'_> {
    /// The sheets of plain film, of one cup or of all.
    pub(super) fn laid(
        &self,
        effort: Effort,
        diagnostics: &mut Diagnostics,
        progress: &mut dyn FnMut(film::Progress) -> ControlFlow<()>,
    ) -> Result<Vec<SheetLayout>, ErrorGuaranteed> {
        let job = self.job;
        let plain = |list: &[Piece]| -> Vec<Piece> {
            list.iter().filter(|p| printed::is_plain(job, p)).cloned().collect()
        };
        match &job.order {
            Some(order) if order.cups > 1 => {
                printed_once(job, self.pieces, diagnostics)?;
                let shared = plain(&self.alike.lots);
                let cups = CupPieces { shared: &shared, own: self.own, cups: order.cups, panels: None };
                lay_out_order(cups, &job.films, self.offcuts, (order, effort), diagnostics, progress)
            }
            // One cup, whether or not it is the only one of a list.
            _ => {
                let own: &[Piece] = self.own.first().map_or(&[], Vec::as_slice);
                let mut all: Vec<Piece> = self.alike.lots.iter().chain(own).cloned().collect();
                all.sort_by_key(|p| p.number);
                let plain = plain(&all);
                film::lay_out_on(&plain, &job.films, self.offcuts, effort, diagnostics, progress)
            }
        }
    }
    /// Everything after the film.
    pub(super) fn finished(
        &self,
        cup: &Cup,
        sheets: &[SheetLayout],
        base: Option<finish::BaseDisc>,
        diagnostics: &mut Diagnostics,
    ) -> finish::Finish {
        let cups = cups(self.job);
        let of_order =
            CupPieces { shared: &self.alike.shared, own: self.own, cups, panels: Some(&self.alike.panels) };
        let on_film = CupPieces { shared: &self.alike.lots, ..of_order };
        let quantities = quantities(self.job, &on_film, self.offcuts);
        let laid = finish::LaidFilm { pieces: of_order, sheets, quantities: &quantities };
        finish::finish(self.job, cup, self.pieces, &laid, base, diagnostics)
    }
}
