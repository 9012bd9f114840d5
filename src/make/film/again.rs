//! Pieces cut anew from the record of a kit: the outlines that were cut, on the smallest leftover that holds
//! them, or on a fresh sheet.
//!
//! Imports: base, outline, read::{job, record}, make::piece, make::film::{stock, sheet, nest}.

use super::nest::lay_out_on;
use super::sheet::{Placed, SheetLayout};
use super::stock::{Offcut, Source};
use crate::base::diag::{Code, Diagnostic, Diagnostics, ErrorGuaranteed, KeyPath};
use crate::base::frame::Rigid;
use crate::base::units::{Angle, Mm};
use crate::make::piece::{Kind, Piece};
use crate::outline::Region;
use crate::read::job::{Effort, FilmId, FilmSpec, WallPose};
use crate::read::record::{Asked, KitRecord, PieceRecord};
use std::collections::BTreeSet;
use std::ops::ControlFlow;

/// A number that the kit does not have.
pub const NO_PIECE: Code = Code {
    id: "kit/no-such-piece",
    title: "The kit has no piece of this number",
    explain: "Numbers stand on the map and on the weeding pictures of the kit that the piece belongs to.",
};
/// A motif of a printed sheet.
pub const ONLY_ONE: Code = Code {
    id: "kit/printed-only-once",
    title: "A printed motif cannot be cut anew",
    explain: "Motifs of a printed sheet are there once: what is spoilt is gone. Put its number into the \
        job's list of what is gone, choose another one, and make the kit again.",
};
/// Other layers of a decal.
pub const LAYERS: Code = Code {
    id: "kit/other-layers",
    title: "A decal is laid layer on layer by its registration keys",
    explain: "Each layer of a decal is cut with keys that lie on each other. A layer cut anew has its keys \
        where they were; if those of the layers laid already are peeled off, cut all layers of the decal \
        anew.",
};

/// All codes of this module.
pub const CODES: &[&Code] = &[&NO_PIECE, &ONLY_ONE, &LAYERS];

/// Pieces cut anew.
#[derive(Clone, Debug)]
pub struct Recut {
    /// Title of the job.
    pub title: String,
    /// Films of the kit.
    pub films: Vec<FilmSpec>,
    /// The pieces, with the numbers that they had.
    pub pieces: Vec<Piece>,
    /// What each was, and where it goes, as the kit said it, in the same order.
    pub records: Vec<PieceRecord>,
    /// The sheets that they are cut from.
    pub sheets: Vec<SheetLayout>,
}

impl Recut {
    /// Lays out the pieces of these numbers; `fresh` takes no leftover.
    ///
    /// # Errors
    /// Numbers that the kit does not have or cannot cut again.
    pub fn of(
        record: KitRecord,
        numbers: &[Asked],
        fresh: bool,
        diagnostics: &mut Diagnostics,
    ) -> Result<Recut, ErrorGuaranteed> {
        let asked: BTreeSet<Asked> = numbers.iter().copied().collect();
        let of = |a: &Asked| record.pieces.iter().find(|p| (p.cup, p.number) == *a).cloned();
        let records: Vec<PieceRecord> = asked.iter().filter_map(of).collect();
        told(&record, &asked, &records, diagnostics);
        diagnostics.check()?;
        // Cups may have other pieces under one number: while they are laid out, each has a number of its own.
        let counted: Vec<Piece> =
            (1u32..).zip(&records).map(|(n, r)| Piece { number: n, ..piece(r) }).collect();
        let mut sheets = Vec::new();
        for film in (0..record.films.len()).map(FilmId) {
            let own: Vec<Piece> = counted.iter().filter(|p| p.film == film).cloned().collect();
            if own.is_empty() {
                continue;
            }
            let mut left: Vec<Offcut> = match fresh {
                true => Vec::new(),
                false => {
                    record.leftovers[film.0].iter().map(|(name, shape)| Offcut::new(name, shape)).collect()
                }
            };
            left.sort_by(|a, b| a.shape.area().0.total_cmp(&b.shape.area().0));
            sheets.extend(best(&own, &record.films, film, &left, diagnostics)?);
        }
        for placed in sheets.iter_mut().flat_map(|s: &mut SheetLayout| &mut s.placed) {
            let r = &records[placed.number as usize - 1];
            (placed.number, placed.cup) = (r.number, r.cup);
        }
        let pieces = records.iter().map(piece).collect();
        Ok(Recut { title: record.title, films: record.films, pieces, records, sheets })
    }
}

/// What cannot be cut anew, and what to look at.
fn told(record: &KitRecord, asked: &BTreeSet<Asked>, found: &[PieceRecord], diagnostics: &mut Diagnostics) {
    let last = record.pieces.iter().map(|p| p.number).max().unwrap_or(0);
    for (_, n) in asked.iter().filter(|a| record.piece(a.1).is_none()) {
        let d = Diagnostic::fault(&NO_PIECE, KeyPath::root(), format!("the kit has no piece {n}"));
        diagnostics.push(
            d.measured(n)
                .allowed(format!("1 to {last}"))
                .help("take the number from the kit's map or weeding picture"),
        );
    }
    for p in found.iter().filter(|p| record.printed[p.film.0]) {
        let message = format!("piece {} ({}) is a motif of a printed sheet", p.number, p.name);
        let d = Diagnostic::fault(&ONLY_ONE, KeyPath::root(), message);
        diagnostics.push(d.help("name it among what is gone in the job, and choose another motif"));
    }
    let mut decals = BTreeSet::new();
    for (cup, (decal, _)) in found.iter().filter_map(|p| Some((p.cup, p.layer?))) {
        if !decals.insert((cup, decal)) {
            continue;
        }
        let numbers: BTreeSet<u32> = record
            .pieces
            .iter()
            .filter(|p| p.layer.is_some_and(|l| l.0 == decal) && !asked.contains(&(cup, p.number)))
            .map(|p| p.number)
            .collect();
        let shown = |n: &u32| if cup > 0 { format!("{cup}/{n}") } else { n.to_string() };
        let others: Vec<String> = numbers.iter().map(shown).collect();
        if !others.is_empty() {
            let message = format!("decal {} has other layers: {}", decal + 1, others.join(", "));
            let d = Diagnostic::note(&LAYERS, KeyPath::root(), message);
            diagnostics.push(d.help("if the keys of those on the cup are peeled off, name them too"));
        }
    }
}

fn piece(p: &PieceRecord) -> Piece {
    let wall = WallPose { azimuth: Angle::ZERO, slant: p.up, turn: Angle::degrees(p.turn) };
    Piece {
        number: p.number,
        // What it was is told by its record; here it is an outline on a sheet.
        kind: Kind::Base,
        name: p.name.clone(),
        film: p.film,
        outline: p.outline.clone(),
        zone: 0,
        wall,
        pose: Rigid::identity(),
        clearance: Mm::ZERO,
        keys: Region::empty(),
    }
}

/// The smallest leftover that holds all of a film's pieces; else all leftovers, the largest first, and then
/// fresh film.
fn best(
    own: &[Piece],
    films: &[FilmSpec],
    film: FilmId,
    left: &[Offcut],
    diagnostics: &mut Diagnostics,
) -> Result<Vec<SheetLayout>, ErrorGuaranteed> {
    let on = |left: Vec<Offcut>, diagnostics: &mut Diagnostics| {
        let all = (0..films.len()).map(|i| if i == film.0 { left.clone() } else { Vec::new() });
        let all: Vec<Vec<Offcut>> = all.collect();
        lay_out_on(own, films, &all, Effort::Quick, diagnostics, &mut |_| ControlFlow::Continue(()))
    };
    for one in left {
        let made = on(vec![one.clone()], &mut Diagnostics::new());
        if let Ok(sheets) = made
            && sheets.iter().all(|s| matches!(s.stock.source, Source::Offcut(_)))
        {
            return Ok(sheets);
        }
    }
    on(left.iter().rev().cloned().collect(), diagnostics)
}

impl Recut {
    /// The piece that lies there.
    pub fn piece_at(&self, placed: &Placed) -> Option<&Piece> {
        let same = |r: &PieceRecord| (r.number, r.cup) == (placed.number, placed.cup);
        self.pieces.get(self.records.iter().position(same)?)
    }
}
