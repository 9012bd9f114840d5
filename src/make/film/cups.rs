//! Film of an order: the pieces of all its cups on shared sheets, leftovers and stock.
//!
//! Two ways are tried. All cups in one layout, mixed or in the order of the list: pieces are worked largest first
//! within blocks of cups, and go on the last two sheets begun. Or the best number of equal cups on a sheet that is
//! cut several times, what differs from cup to cup on sheets of its own: one file to check, taken where it needs
//! no more film.
//!
//! Imports: base, read::job, make::{piece, panel}, make::film::{stock, sheet, cuttable, fill, nest}.

use super::fill::{BinLayout, Flow};
use super::nest::{FilmJob, Progress, Wanted, spares};
use super::sheet::{Repeat, SheetLayout};
use super::stock::{Bin, Offcut};
use crate::base::diag::{Diagnostics, ErrorGuaranteed};
use crate::base::units::Mm;
use crate::make::panel::Panels;
use crate::make::piece::Piece;
use crate::read::job::{Effort, FilmId, FilmSpec, OrderSpec, Sharing, Stock};
use rayon::prelude::*;
use std::collections::BTreeMap;
use std::ops::ControlFlow;

/// Cups of a block, and sheets open at a time: measured on orders of 12 and 24 cups of the demonstration, within
/// two hundredths of the least film, no cup on more than two sheets.
const BLOCKS: [u32; 4] = [4, 3, 2, 1];
const OPEN: usize = 2;
/// Mixed orders of more cups close sheets too: each piece would be tried on every sheet before.
const MANY: u32 = 100;
const OPEN_OF_MANY: usize = 8;
/// Cups of more than [`MANY`] that are laid out together to reckon what all would take.
const RECKONED: u32 = 48;
/// Most cups on equal sheets that are tried.
const MOST_TRIED: u32 = 40;
/// Equal sheets of a roll may be longer together by this part: one file to check is worth it (measured: 1.6 % at
/// most).
const WORTH: f64 = 1.02;
const A_FILE: f64 = 0.002;

/// The pieces of an order.
#[derive(Clone, Copy, Debug)]
pub struct CupPieces<'a> {
    /// Those that every cup has.
    pub shared: &'a [Piece],
    /// Those of each cup alone, cup by cup; empty if cups are equal.
    pub own: &'a [Vec<Piece>],
    /// How many cups.
    pub cups: u32,
    /// Those of the shared ones that are laid many at once; none if all are laid one by one.
    pub panels: Option<&'a Panels>,
}

impl<'a> CupPieces<'a> {
    /// The pieces of one cup, its film laid out for it alone.
    pub fn of_one(pieces: &'a [Piece]) -> CupPieces<'a> {
        CupPieces { shared: pieces, own: &[], cups: 1, panels: None }
    }
    /// Every piece and how often it is cut.
    pub fn all(&self) -> impl Iterator<Item = (&'a Piece, u32)> {
        let cups = self.cups;
        let own = self.own.iter().flatten().map(|p| (p, 1));
        self.shared.iter().map(move |p| (p, cups)).chain(own)
    }
}

/// Sheets in the making that are cut so many times.
struct Part<'a> {
    job: FilmJob<'a>,
    filled: Vec<BinLayout>,
    repeat: Repeat,
}

/// Lays out an order: every piece of every cup exactly once over all cuts of all sheets.
///
/// # Errors
/// Those of [`super::lay_out_on`].
pub fn lay_out_order(
    pieces: CupPieces<'_>,
    films: &[FilmSpec],
    leftovers: &[Vec<Offcut>],
    (order, effort): (&OrderSpec, Effort),
    diagnostics: &mut Diagnostics,
    progress: &mut dyn FnMut(Progress) -> ControlFlow<()>,
) -> Result<Vec<SheetLayout>, ErrorGuaranteed> {
    let firsts = firsts(pieces, films, leftovers, (order, effort));
    let mut stopped = false;
    let mut hear = |p: Progress| {
        stopped = stopped || progress(p).is_break();
        if stopped { ControlFlow::Break(()) } else { ControlFlow::Continue(()) }
    };
    let mut out: Vec<(Part<'_>, usize)> = Vec::new();
    let mut failed = None;
    for (told, parts) in firsts {
        diagnostics.extend(told.into_vec());
        let mut before = 0;
        for mut part in parts.map_err(|r| failed = Some(r)).unwrap_or_default() {
            let filled = std::mem::take(&mut part.filled);
            if let Err(r) = part.job.checked(&filled, diagnostics) {
                failed = Some(r);
                continue;
            }
            let filled = match part.job.in_order(filled, diagnostics) {
                Ok(filled) => filled,
                Err(r) => {
                    failed = Some(r);
                    continue;
                }
            };
            match part.job.searched(filled, effort, diagnostics, &mut hear) {
                Ok(filled) => part.filled = filled,
                Err(r) => failed = Some(r),
            }
            let sheets = part.filled.len();
            out.push((part, before));
            before += sheets;
        }
    }
    if let Some(r) = failed {
        return Err(r);
    }
    let all: Vec<(&Part<'_>, usize, &BinLayout)> = out
        .iter()
        .flat_map(|(part, before)| {
            part.filled.iter().enumerate().map(move |(i, f)| (part, before + i + 1, f))
        })
        .collect();
    let sheet = |(part, index, filled): &(&Part<'_>, usize, &BinLayout)| {
        let mut sheet = part.job.sheet(*index, filled);
        sheet.repeat = part.repeat;
        sheet
    };
    Ok(all.par_iter().map(sheet).collect())
}

type First<'a> = (Diagnostics, Result<Vec<Part<'a>>, ErrorGuaranteed>);

/// Each film's first layout, not measured yet.
fn firsts<'a>(
    pieces: CupPieces<'a>,
    films: &'a [FilmSpec],
    leftovers: &[Vec<Offcut>],
    (order, effort): (&OrderSpec, Effort),
) -> Vec<First<'a>> {
    let one = |(id, film): (usize, &'a FilmSpec)| {
        let mut told = Diagnostics::new();
        let left = leftovers.get(id).map_or(&[][..], Vec::as_slice);
        let desk = Desk { pieces, order, id: FilmId(id), film, left, effort };
        let parts = desk.parts(&mut told);
        (told, parts)
    };
    films.par_iter().enumerate().map(one).collect()
}

/// What an order would take of each film, at a quick layout: sheets without cut order, to reckon with and not to
/// cut.
///
/// # Errors
/// Those of [`lay_out_order`].
pub fn reckoned(
    pieces: CupPieces<'_>,
    films: &[FilmSpec],
    leftovers: &[Vec<Offcut>],
    order: &OrderSpec,
    diagnostics: &mut Diagnostics,
) -> Result<Vec<SheetLayout>, ErrorGuaranteed> {
    let mut out = Vec::new();
    for (told, parts) in firsts(pieces, films, leftovers, (order, Effort::Quick)) {
        diagnostics.extend(told.into_vec());
        let mut index = 0;
        for part in parts? {
            for filled in &part.filled {
                index += 1;
                out.push(SheetLayout { repeat: part.repeat, ..part.job.taken(index, filled) });
            }
        }
    }
    Ok(out)
}

/// One film of an order.
struct Desk<'a, 'b> {
    pieces: CupPieces<'a>,
    order: &'b OrderSpec,
    id: FilmId,
    film: &'a FilmSpec,
    left: &'b [Offcut],
    effort: Effort,
}

impl<'a> Desk<'a, '_> {
    fn shared(&self) -> impl Iterator<Item = &'a Piece> {
        let (id, all) = (self.id, self.pieces.shared);
        all.iter().filter(move |p| p.film == id)
    }
    /// All that cups `from` to `to` have alike.
    fn alike(&self, from: u32, to: u32) -> Vec<Wanted<'a>> {
        (from..=to)
            .flat_map(|cup| self.shared().map(move |piece| Wanted { piece, cup, spare: false }))
            .collect()
    }
    /// What each cup has alone.
    fn own(&self) -> Vec<Wanted<'a>> {
        let mut out = Vec::new();
        for (cup, own) in (1u32..).zip(self.pieces.own) {
            let own = own.iter().filter(|p| p.film == self.id);
            out.extend(own.map(|piece| Wanted { piece, cup, spare: false }));
        }
        out
    }
    /// Spares of the whole order: rounded up once, not for each cup.
    fn spares(&self, all: &[Wanted<'a>]) -> Vec<Wanted<'a>> {
        let pieces: Vec<&Piece> = all.iter().map(|w| w.piece).collect();
        let first: BTreeMap<*const Piece, u32> =
            all.iter().rev().map(|w| (std::ptr::from_ref(w.piece), w.cup)).collect();
        let one = |piece: &'a Piece| Wanted {
            piece,
            cup: first.get(&std::ptr::from_ref(piece)).copied().unwrap_or(1),
            spare: true,
        };
        spares(&pieces, self.film).into_iter().map(one).collect()
    }
    fn job(&self, wanted: Vec<Wanted<'a>>, told: &mut Diagnostics) -> Result<FilmJob<'a>, ErrorGuaranteed> {
        let blanks = Bin::all(self.film, self.left);
        let mut job = FilmJob::prepared(wanted, self.id, self.film, blanks, self.effort, told)?;
        job.several = true;
        Ok(job)
    }
    /// The sheets, one way or the other.
    fn parts(&self, told: &mut Diagnostics) -> Result<Vec<Part<'a>>, ErrorGuaranteed> {
        super::cuttable::usable(self.left, self.id, told)?;
        let alike = self.order.same_sheets && self.pieces.cups > 1 && self.shared().next().is_some();
        // What is there once cannot be cut several times.
        let repeatable = alike && self.left.is_empty() && self.film.cut.in_stock.is_empty();
        if repeatable && self.pieces.cups > MANY {
            let together = self.reckoned_together()?;
            if let Some((parts, cost)) = self.repeated(told)?
                && self.measure(cost) <= together * WORTH
            {
                return Ok(parts);
            }
            return Ok(vec![self.together(told)?]);
        }
        let one = self.together(told)?;
        if !repeatable {
            return Ok(vec![one]);
        }
        let (sheets, length) = one.job.bought(&one.filled);
        let Some((parts, cost)) = self.repeated(told)? else { return Ok(vec![one]) };
        let as_good = match self.film.stock {
            Stock::Sheet { .. } => cost.0 <= sheets,
            Stock::Roll { .. } => cost.1 <= length * WORTH,
        };
        Ok(if as_good { parts } else { vec![one] })
    }
    /// Film bought, in sheets or mm.
    fn measure(&self, (sheets, length): (usize, Mm)) -> f64 {
        match self.film.stock {
            Stock::Sheet { .. } => sheets as f64,
            Stock::Roll { .. } => length.0,
        }
    }
    /// What all cups would take in one layout, from that of the first ones: the time of all is not spent on a layout
    /// that is not wanted.
    fn reckoned_together(&self) -> Result<f64, ErrorGuaranteed> {
        let own = self.pieces.own.get(..RECKONED as usize).unwrap_or(self.pieces.own);
        let desk = Desk { pieces: CupPieces { cups: RECKONED, own, ..self.pieces }, ..*self };
        let part = desk.together(&mut Diagnostics::new())?;
        let (sheets, length) = part.job.bought(&part.filled);
        let part = f64::from(self.pieces.cups) / f64::from(RECKONED);
        Ok(match self.film.stock {
            // The last sheet is begun, not full.
            Stock::Sheet { height, .. } => (sheets as f64 - 1.0 + (length / height).min(1.0)) * part,
            Stock::Roll { .. } => length.0 * part,
        })
    }
    /// All cups in one layout.
    fn together(&self, told: &mut Diagnostics) -> Result<Part<'a>, ErrorGuaranteed> {
        let mut all = self.alike(1, self.pieces.cups);
        all.extend(self.own());
        let spares = self.spares(&all);
        all.extend(spares);
        let mut job = self.job(all, told)?;
        let cups = self.pieces.cups;
        let flow = |open| Flow { open, apart: self.order.most_a_sheet.is_some() };
        let most = self.order.most_a_sheet.unwrap_or(u32::MAX);
        match self.order.film {
            Sharing::Mixed => {
                job.block = Some(most.min(cups).max(1));
                job.flow = flow((cups > MANY).then_some(OPEN_OF_MANY));
                if cups > MANY {
                    job.block = Some(most.min(BLOCKS[0]));
                }
                let filled = job.trial(told)?;
                Ok(Part { job, filled, repeat: Repeat::default() })
            }
            Sharing::InOrder => {
                let mut filled = Vec::new();
                for block in BLOCKS {
                    job.block = Some(block.min(most).max(1));
                    job.flow = flow(Some(OPEN));
                    filled = job.trial(told)?;
                    if job.most_sheets_a_cup(&filled) <= OPEN {
                        break;
                    }
                }
                Ok(Part { job, filled, repeat: Repeat::default() })
            }
        }
    }
    /// The best number of equal cups on sheets that are cut several times, the rest beside them; and what is
    /// bought for it: sheets and length. Of many cups the rest is laid out for the likeliest number alone.
    #[allow(clippy::type_complexity, reason = "a pair of the parts and their cost")]
    fn repeated(
        &self,
        told: &mut Diagnostics,
    ) -> Result<Option<(Vec<Part<'a>>, (usize, Mm))>, ErrorGuaranteed> {
        let cups = self.pieces.cups;
        let most = self.order.most_a_sheet.unwrap_or(u32::MAX).min(MOST_TRIED).min(cups);
        let mut best: Option<(Vec<Part<'a>>, (usize, Mm))> = None;
        let mut single = 1;
        let mut equal = Vec::new();
        for each in 1..=most {
            let job = self.job(self.alike(1, each), told)?;
            let filled = job.trial(told)?;
            let (sheets, length) = job.bought(&filled);
            if each == 1 {
                single = sheets;
            }
            // A sheet that holds fewer cups than it could is cut more often.
            if sheets > single {
                break;
            }
            equal.push((each, (sheets, length), Part { job, filled, repeat: Repeat::default() }));
        }
        if cups > MANY {
            // What is each cup's own takes about the same beside any of them.
            let all = |(each, cost, _): &(u32, (usize, Mm), Part<'_>)| {
                self.measure(*cost) * f64::from(cups.div_ceil(*each))
            };
            let least = equal.iter().map(&all).fold(f64::INFINITY, f64::min);
            equal.retain(|e| all(e) <= least);
            equal.truncate(1);
        }
        for (each, (sheets, length), mut part) in equal {
            let times = cups / each;
            part.repeat = Repeat { times, cups: each };
            let mut parts = vec![part];
            let mut rest = self.alike(times * each + 1, cups);
            rest.extend(self.own());
            let mut all = self.alike(1, cups);
            all.extend(self.own());
            rest.extend(self.spares(&all));
            let mut cost = (sheets * times as usize, length * f64::from(times));
            if !rest.is_empty() {
                let mut job = self.job(rest, told)?;
                job.block = Some(self.order.most_a_sheet.unwrap_or(BLOCKS[0]).min(BLOCKS[0]));
                job.flow = Flow { open: Some(OPEN), apart: self.order.most_a_sheet.is_some() };
                let filled = job.trial(told)?;
                let (more, longer) = job.bought(&filled);
                cost = (cost.0 + more, cost.1 + longer);
                parts.push(Part { job, filled, repeat: Repeat::default() });
            }
            if best.as_ref().is_none_or(|b| self.less((&parts, cost), (&b.0, b.1))) {
                best = Some((parts, cost));
            }
        }
        Ok(best)
    }
    /// Is it less film, or as much in fewer files?
    fn less(&self, a: (&[Part<'_>], (usize, Mm)), b: (&[Part<'_>], (usize, Mm))) -> bool {
        let files = |parts: &[Part<'_>]| parts.iter().map(|p| p.filled.len()).sum::<usize>();
        let (fa, fb) = (files(a.0), files(b.0));
        match self.film.stock {
            Stock::Sheet { .. } => (a.1.0, fa) < (b.1.0, fb),
            // A file less to check is worth two thousandths of the length.
            Stock::Roll { .. } => {
                let worth = |length: Mm, files: usize| length.0 * (1.0 + A_FILE * files as f64);
                worth(a.1.1, fa) < worth(b.1.1, fb)
            }
        }
    }
}
