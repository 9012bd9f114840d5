//! What a sheet takes to cut and weed, and what to buy of each film.
//!
//! Imports: base, outline, read::job, make::film::{stock, sheet, order}.

use super::order::{starts, travel};
use super::sheet::SheetLayout;
use super::stock::Source;
use crate::base::units::{Mm, Mm2};
use crate::outline::Region;
use crate::read::job::{FilmId, FilmSpec, Stock};

/// One sheet in numbers, cut once.
#[derive(Clone, Debug, PartialEq)]
pub struct Tally {
    /// Pieces, spares not counted.
    pub pieces: usize,
    /// Spare copies.
    pub spares: usize,
    /// Closed outlines cut.
    pub outlines: usize,
    /// Along outlines, overcut, weeding lines and frame.
    pub cut: Mm,
    /// Blade lifted, from the first outline to the last.
    pub travel: Mm,
    /// Along the feed, from the edge of the sheet to behind the last piece and its margin.
    pub used: Mm,
    /// Area of film in pieces and spares.
    pub piece_area: Mm2,
    /// Part of the sheet (of a roll: of the length cut off) that pieces take.
    pub used_part: f64,
    /// Seconds to cut, from the film's rates.
    pub cut_seconds: f64,
    /// Seconds to weed, from the film's rates.
    pub weed_seconds: f64,
}

/// What a sheet takes.
pub fn tally(sheet: &SheetLayout, film: &FilmSpec) -> Tally {
    let outlines = starts(&sheet.placed).len();
    let spares = sheet.placed.iter().filter(|p| p.spare).count();
    let rates = &film.cut.rates;
    let around: f64 = sheet.placed.iter().map(|p| p.cuts.perimeter().0).sum();
    let length = |l: &[[f64; 2]; 2]| libm::hypot(l[1][0] - l[0][0], l[1][1] - l[0][1]);
    let lines: f64 = sheet.aids.lines.iter().chain(sheet.aids.parting()).map(length).sum();
    let frame = sheet.aids.frame.map_or(0.0, |f| 2.0 * (f.width().0 + f.height().0));
    let cut = around + outlines as f64 * film.cut.overcut.0 + lines + frame;
    let moved = travel(&sheet.placed);
    let lifts = outlines
        + sheet.aids.lines.len()
        + sheet.aids.parting().count()
        + usize::from(sheet.aids.frame.is_some());
    let piece_area: Mm2 = sheet.placed.iter().map(|p| p.cuts.area()).sum();
    let top = sheet.placed.iter().map(|p| p.cuts.bounds().max.y).fold(0.0, f64::max);
    let whole = sheet.stock.shape.as_ref().map_or(sheet.width * sheet.height, Region::area);
    Tally {
        pieces: sheet.placed.len() - spares,
        spares,
        outlines,
        cut: Mm(cut),
        travel: moved,
        used: Mm((top + film.margin.0).min(sheet.height.0)),
        piece_area,
        used_part: piece_area / whole,
        cut_seconds: cut / rates.cut + moved.0 / rates.travel + lifts as f64 * rates.lift,
        weed_seconds: sheet.placed.len() as f64 * rates.weed_piece
            + (outlines - sheet.placed.len().min(outlines)) as f64 * rates.weed_opening,
    }
}

/// What to buy of a film.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Buy {
    /// Nothing: stock and leftovers reach.
    Nothing,
    /// So many sheets of the film's size.
    Sheets(usize),
    /// So much of the roll.
    Length(Mm),
}

/// A film in numbers.
#[derive(Clone, Debug, PartialEq)]
pub struct Bill {
    /// Which.
    pub film: FilmId,
    /// Sheets cut, whatever they are taken from.
    pub sheets: usize,
    /// Of those, taken from stock.
    pub from_stock: usize,
    /// Of those, leftovers of earlier jobs.
    pub from_leftovers: usize,
    /// What to buy, spares counted.
    pub buy: Buy,
    /// Pieces, spares not counted.
    pub pieces: usize,
    /// Spare copies.
    pub spares: usize,
    /// Area of film in pieces and spares.
    pub piece_area: Mm2,
    /// Area of the film taken: sheets, leftovers, lengths of roll.
    pub film_area: Mm2,
    /// Part of the film taken that pieces and spares are.
    pub used_part: f64,
    /// Seconds to cut and to weed, from the film's rates.
    pub seconds: [f64; 2],
}

/// The bill of each film, in the order of the films.
pub fn bills(sheets: &[SheetLayout], films: &[FilmSpec]) -> Vec<Bill> {
    films.iter().enumerate().map(|(i, f)| bill(sheets, FilmId(i), f)).collect()
}

fn bill(sheets: &[SheetLayout], film: FilmId, spec: &FilmSpec) -> Bill {
    let own: Vec<(&SheetLayout, Tally)> =
        sheets.iter().filter(|s| s.film == film).map(|s| (s, tally(s, spec))).collect();
    let times = |s: &SheetLayout| s.repeat.times as usize;
    let from = |is: fn(&Source) -> bool| {
        own.iter().filter(|(s, _)| is(&s.stock.source)).map(|(s, _)| times(s)).sum()
    };
    let bought: Vec<&SheetLayout> =
        own.iter().map(|(s, _)| *s).filter(|s| s.stock.source == Source::Bought).collect();
    let buy = match spec.stock {
        _ if bought.is_empty() => Buy::Nothing,
        Stock::Sheet { .. } => Buy::Sheets(bought.iter().map(|s| times(s)).sum()),
        Stock::Roll { .. } => {
            Buy::Length(bought.iter().map(|s| s.height * times(s) as f64).fold(Mm::ZERO, |a, b| a + b))
        }
    };
    let area = |s: &SheetLayout| s.stock.shape.as_ref().map_or(s.width * s.height, Region::area);
    let piece_area: Mm2 = own.iter().map(|(s, t)| t.piece_area * times(s) as f64).sum();
    let film_area: Mm2 = own.iter().map(|(s, _)| area(s) * times(s) as f64).sum();
    Bill {
        film,
        sheets: own.iter().map(|(s, _)| times(s)).sum(),
        from_stock: from(|s| *s == Source::InStock),
        from_leftovers: from(|s| matches!(s, Source::Offcut(_))),
        buy,
        pieces: own.iter().map(|(s, t)| t.pieces * times(s)).sum(),
        spares: own.iter().map(|(s, t)| t.spares * times(s)).sum(),
        piece_area,
        film_area,
        used_part: if film_area.0 > 0.0 { piece_area / film_area } else { 0.0 },
        seconds: [
            own.iter().map(|(s, t)| t.cut_seconds * times(s) as f64).sum(),
            own.iter().map(|(s, t)| t.weed_seconds * times(s) as f64).sum(),
        ],
    }
}
