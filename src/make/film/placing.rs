//! A film's spots laid out in the order of placing, within the film that the job allows for it.
//!
//! Imports: base, read::job, make::piece, make::film::{fill, hops, weave, nest}.

use super::fill::{BinLayout, Filler};
use super::hops::is_spot;
use super::nest::{FINER, FIRST, FilmJob, Wanted};
use super::weave::{self, NOT_WOVEN, Threads};
use crate::base::diag::{Diagnostic, Diagnostics, ErrorGuaranteed, KeyPath};
use crate::base::tolerance::MEASURE;
use crate::make::piece::Kind;
use crate::read::job::Lay;
use std::collections::BTreeSet;

impl FilmJob<'_> {
    /// The layout with its spots in the order of placing, if the film is to be woven and some such layout is within
    /// the film allowed; measured.
    pub(super) fn in_order(
        &mut self,
        filled: Vec<BinLayout>,
        diagnostics: &mut Diagnostics,
    ) -> Result<Vec<BinLayout>, ErrorGuaranteed> {
        let order = self.spots();
        if self.film.cut.lay.how != Lay::Woven || order.len() < 2 {
            return Ok(filled);
        }
        let spares: Vec<usize> = self.by_size().into_iter().filter(|i| self.pieces[*i].spare).collect();
        let large =
            self.by_size().into_iter().filter(|i| !order.contains(i) && !spares.contains(i)).collect();
        let filler = || Filler::new(&self.solids, &self.blanks, self.demand, weave::STEP);
        let (blanks, longest) = match &filled[..] {
            [one] => (vec![one.blank], self.longest(one)),
            _ => (Vec::new(), f64::INFINITY),
        };
        let whole = Threads { large, spots: order, spares, blanks, longest };
        let allowed = |f: &[BinLayout]| self.within_film(f, &filled);
        let sound = |f: &[BinLayout]| allowed(f) && f.iter().all(|s| self.flaws(s).is_empty());
        // Cups of an order keep their sheets.
        let flows = !self.several;
        let all = if flows { weave::woven(filler(), &self.items, &whole) } else { Vec::new() };
        let mut found = weave::shortest(all, sound).map(|w| w.sheets);
        if found.is_none() && (filled.len() > 1 || !flows) {
            found = self.woven_apart(&filled, &whole);
            found = found.filter(|f| sound(f));
        }
        let Some(found) = found else {
            let more = self.film.cut.lay.more.0 * 100.0;
            diagnostics.push(
                Diagnostic::note(
                    &NOT_WOVEN,
                    KeyPath::of("film").index(self.id.0).key("lay"),
                    format!(
                        "film {} is laid out singly: no woven layout keeps to its length",
                        self.film.name
                    ),
                )
                .allowed(format!("{more} percent more film"))
                .help("write a larger `more-film`, or `--effort normal`"),
            );
            return Ok(filled);
        };
        self.woven = true;
        Ok(found)
    }
    /// Each sheet woven by itself, of the pieces that it has.
    fn woven_apart(&self, filled: &[BinLayout], whole: &Threads) -> Option<Vec<BinLayout>> {
        let one = |sheet: &BinLayout| {
            let here: BTreeSet<usize> = sheet.spots.iter().map(|s| s.item).collect();
            let of = |list: &[usize]| -> Vec<usize> {
                list.iter().copied().filter(|i| here.contains(i)).collect()
            };
            let (large, spots, spares) = (of(&whole.large), of(&whole.spots), of(&whole.spares));
            let last = sheet == &filled[filled.len() - 1] || self.blanks[sheet.blank].roll;
            let longest = if last { self.longest(sheet) } else { f64::INFINITY };
            let own = Threads { large, spots, spares, blanks: vec![sheet.blank], longest };
            let filler = Filler::new(&self.solids, &self.blanks, self.demand, weave::STEP);
            let all = weave::woven(filler, &self.items, &own);
            weave::shortest(all, |_| true).and_then(|w| w.sheets.into_iter().next())
        };
        filled.iter().map(one).collect()
    }
    /// The length, from the margin, that the woven layout of a sheet may take.
    fn longest(&self, sheet: &BinLayout) -> f64 {
        (self.used(sheet) - self.demand.margin * 2.0).0 * (1.0 + self.film.cut.lay.more.0)
    }
    /// Does a layout take no sheet more than another, and no more of its length than the film says?
    fn within_film(&self, woven: &[BinLayout], other: &[BinLayout]) -> bool {
        let more = 1.0 + self.film.cut.lay.more.0;
        let over = |f: &BinLayout| self.used(f) - self.demand.margin * 2.0;
        let sum = |f: &[BinLayout]| -> f64 {
            let long = f.iter().filter(|s| self.blanks[s.blank].roll).map(|s| over(s).0).sum::<f64>();
            long + f.last().filter(|s| !self.blanks[s.blank].roll).map_or(0.0, |s| over(s).0)
        };
        woven.len() <= other.len()
            && self.bought(woven).0 <= self.bought(other).0
            && sum(woven) <= more * sum(other) + MEASURE.0
    }
    /// Spots in the order of placing, cup after cup.
    pub(super) fn spots(&self) -> Vec<usize> {
        let spot = |w: &Wanted| !w.spare && is_spot(w.piece);
        let mut all: Vec<usize> = (0..self.pieces.len()).filter(|i| spot(&self.pieces[*i])).collect();
        all.sort_by_key(|i| (self.pieces[*i].cup, self.pieces[*i].piece.number));
        all
    }
    /// The first layout of a film in panels: they are few and large, so how they are tried decides on whole sheets.
    pub(super) fn panels_tried(&self, mut filled: Vec<BinLayout>) -> Vec<BinLayout> {
        if self.pieces.iter().all(|w| !matches!(w.piece.kind, Kind::Lot { .. })) {
            return filled;
        }
        for order in [self.by_size(), self.by_box()] {
            for step in [FIRST, FINER] {
                let (other, over) = self.filled_in(step, &order);
                if over.is_empty() && self.bought(&other) < self.bought(&filled) {
                    filled = other;
                }
            }
        }
        filled
    }
}
