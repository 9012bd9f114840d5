//! Sheets of an earlier kit stay as they are; what is new goes on their leftovers, and then on new film.
//!
//! Imports: base, outline, read::{job, materials, kept}, make::{cup, piece, film, plan}, make::plan::keep::old.

use super::old::{Old, film_of};
use crate::base::diag::{Diagnostics, ErrorGuaranteed};
use crate::base::frame::{Point, Sheet};
use crate::base::units::Mm;
use crate::make::cup::Cup;
use crate::make::film::cups::{CupPieces, lay_out_order};
use crate::make::film::offcut::leftovers;
use crate::make::film::sheet::{Aids, Repeat};
use crate::make::film::stock::Source;
use crate::make::film::{self, Offcut, Placed, SheetLayout, Taken};
use crate::make::piece::Piece;
use crate::make::plan::Kept;
use crate::outline::{Bounds, Region};
use crate::read::job::{Effort, FilmId, FilmSpec, Job};
use crate::read::kept::{self, KeptKit, KeptSheet};
use crate::read::materials::Materials;
use std::collections::BTreeSet;
use std::ops::ControlFlow;

/// What stands before the file of a leftover that is one of the kit's own.
const OWN: &str = "this kit: ";

/// The name by which a sheet says that it is taken from a leftover of its own kit.
pub fn own_leftover(file: &str) -> String {
    format!("{OWN}{file}")
}

/// A recorded sheet.
fn sheet(s: &KeptSheet, film: FilmId) -> SheetLayout {
    let region = |text: &str| kept::outline::<Sheet>(text).unwrap_or_else(|_| Region::empty());
    let placed = s.placed.iter().map(|p| Placed {
        number: p.number,
        cup: p.cup,
        pose: kept::moved(p.pose),
        spare: p.spare,
        cuts: region(&p.cuts),
    });
    let source = match s.taken_from.as_str() {
        "bought" => Source::Bought,
        "stock" => Source::InStock,
        file => Source::Offcut(file.to_owned()),
    };
    let frame = s.frame.map(|[x0, y0, x1, y1]| Bounds { min: Point::mm(x0, y0), max: Point::mm(x1, y1) });
    SheetLayout {
        film,
        index: s.index,
        width: Mm(s.width),
        height: Mm(s.height),
        mirrored: s.mirrored,
        placed: placed.collect(),
        repeat: Repeat { times: s.times, cups: s.cups },
        stock: Taken { source, shape: s.shape.as_deref().map(region) },
        aids: Aids { lines: s.lines.clone(), frame, carriers: Vec::new() },
    }
}

/// The sheets that stay: those that were cut, and those from which something is still wanted.
pub(super) fn frozen(record: &KeptKit, job: &Job, old: &Old, kept: &mut Kept) -> Vec<SheetLayout> {
    let wanted: BTreeSet<u32> = old.pieces.iter().filter(|o| o.taken).map(|o| o.piece.number).collect();
    let mut out = Vec::new();
    for s in &record.sheets {
        let Some(film) = film_of(&record.films[s.film], &job.films) else { continue };
        if s.cut || s.placed.iter().any(|p| wanted.contains(&p.number)) {
            if s.cut {
                kept.cut.insert((film.0, s.index));
            }
            out.push(sheet(s, film));
        }
    }
    out
}

/// The pieces on the sheets that stay which nobody wants any more.
pub(super) fn gone(
    record: &KeptKit,
    job: &Job,
    old: &Old,
    (cup, sheets): (&Cup, &[SheetLayout]),
) -> Vec<Piece> {
    let there: BTreeSet<u32> = sheets.iter().flat_map(|s| &s.placed).map(|p| p.number).collect();
    let earlier = record.gone.iter().filter_map(|p| {
        film_of(&record.films[p.film], &job.films).map(|film| super::old::piece(p, film, cup))
    });
    let now = old.pieces.iter().filter(|o| !o.taken).map(|o| o.piece.clone());
    let mut out: Vec<Piece> = earlier.chain(now).filter(|p| there.contains(&p.number)).collect();
    out.sort_by_key(|p| p.number);
    out
}

/// Sheets for what lies on none yet.
///
/// # Errors
/// Those of [`film::lay_out_on`].
pub(super) fn more(
    (job, materials, effort): (&Job, &Materials, Effort),
    pieces: &[Piece],
    frozen: &[SheetLayout],
    kept: &mut Kept,
    diagnostics: &mut Diagnostics,
    progress: &mut dyn FnMut(film::Progress) -> ControlFlow<()>,
) -> Result<Vec<SheetLayout>, ErrorGuaranteed> {
    let lies: BTreeSet<u32> = frozen.iter().flat_map(|s| &s.placed).map(|p| p.number).collect();
    let new = pieces.iter().filter(|p| !lies.contains(&p.number) && job.sheet_of(p.film).is_none());
    let new: Vec<Piece> = new.cloned().collect();
    if new.is_empty() {
        return Ok(Vec::new());
    }
    let mut films = job.films.clone();
    let mut offcuts = film::offcuts(job, materials)?;
    for s in frozen {
        used(&mut films[s.film.0], &mut offcuts[s.film.0], s);
    }
    for (i, spec) in job.films.iter().enumerate() {
        let own = own(frozen, FilmId(i), spec);
        offcuts[i].splice(0..0, own);
    }
    let mut sheets = match &job.order {
        Some(order) if order.cups > 1 => {
            let cups = CupPieces { shared: &new, own: &[], cups: order.cups, panels: None };
            lay_out_order(cups, &films, &offcuts, (order, effort), diagnostics, progress)?
        }
        _ => film::lay_out_on(&new, &films, &offcuts, effort, diagnostics, progress)?,
    };
    for s in &mut sheets {
        s.index += kept.next_sheet[s.film.0] - 1;
    }
    for s in &sheets {
        kept.next_sheet[s.film.0] = kept.next_sheet[s.film.0].max(s.index + 1);
    }
    Ok(sheets)
}

/// What a sheet that stays took of the stock is not there any more.
fn used(film: &mut FilmSpec, offcuts: &mut Vec<Offcut>, s: &SheetLayout) {
    match &s.stock.source {
        Source::Bought => {}
        Source::Offcut(file) => offcuts.retain(|o| o.name != *file),
        Source::InStock => {
            let taken = s.repeat.times as usize;
            let same = film.cut.in_stock.iter_mut().find(|b| (b.width, b.height) == (s.width, s.height));
            if let Some(bin) = same {
                bin.count = bin.count.saturating_sub(taken);
            }
            film.cut.in_stock.retain(|b| b.count > 0);
        }
    }
}

/// Leftovers of the sheets that stay, which no other of them was cut from; smallest first.
fn own(frozen: &[SheetLayout], film: FilmId, spec: &FilmSpec) -> Vec<Offcut> {
    let mut out = Vec::new();
    for s in frozen.iter().filter(|s| s.film == film && s.repeat.times == 1) {
        let name = format!("{}-{}", spec.name, s.index);
        for (shape, letter) in leftovers(s, spec).into_iter().zip('a'..='z') {
            let file = own_leftover(&format!("leftovers/{name}{letter}.svg"));
            if !frozen.iter().any(|o| o.stock.source == Source::Offcut(file.clone())) {
                out.push(Offcut::new(&file, &shape.reframed()));
            }
        }
    }
    out.sort_by(|a, b| a.shape.area().0.total_cmp(&b.shape.area().0));
    out
}
