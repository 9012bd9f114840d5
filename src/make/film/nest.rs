//! [`lay_out`]: from pieces and films to sheets in cut order.
//!
//! Imports: base, outline, read::job, make::piece, make::film::{stock, sheet, solid, cuttable, fill, gate, tighten,
//! order, aids, weave, lot, fitting}.

use super::aids;
use super::cuttable::{BAD_LEFTOVER, BAD_OUTLINE, CROSSING, cuttable, uncrossed, usable};
use super::fill::{BinLayout, Demand, Filler, Flow, fits};
use super::fitting::{TOO_LARGE, allowed_turns, stands, too_large};
use super::gate::{Flaw, flaws};
use super::lot;
use super::order;
use super::sheet::{Aids, Placed, Repeat, SheetLayout, Taken};
use super::solid::{Solid, Solids};
use super::stock::{Bin, Offcut, Source};
use super::tighten::Tighten;
use super::weave::NOT_WOVEN;
use crate::base::diag::{Code, Diagnostic, Diagnostics, ErrorGuaranteed, KeyPath};
use crate::base::tolerance::MEASURE;
use crate::base::units::Mm;
use crate::make::piece::{Kind, Piece};
use crate::outline::Region;
use crate::read::job::{Effort, FilmId, FilmSpec, Stock, Turned};
use rayon::prelude::*;
use std::collections::{BTreeMap, BTreeSet};
use std::ops::ControlFlow;

const OUT_OF_STOCK: Code = Code {
    id: "film/stock-used-up",
    title: "The film in stock is not enough",
    explain: "All sheets that the job says are there have been used and pieces are left over.",
};
const STOPPED: Code = Code {
    id: "film/stopped-early",
    title: "The search for a tighter layout was stopped",
    explain: "The sheets are complete and checked; with more time they might have become fewer or shorter. \
        Another run without a stop gives the layout that the effort setting promises.",
};
const NOT_KEPT: Code = Code {
    id: "film/layout-not-kept",
    title: "A layout failed its own check",
    explain: "Every layout is measured again exactly before it counts. This one did not keep its spacing or \
        margin, which is a mistake of the program, not of the job: nothing is written. Please report it.",
};

/// All codes of this stage.
pub const CODES: &[&Code] =
    &[&TOO_LARGE, &BAD_OUTLINE, &CROSSING, &BAD_LEFTOVER, &OUT_OF_STOCK, &STOPPED, &NOT_WOVEN, &NOT_KEPT];

/// How far a layout is, for a progress bar.
#[derive(Clone, Debug, PartialEq)]
pub struct Progress {
    /// Which film.
    pub film: FilmId,
    /// Steps done for it.
    pub step: u64,
    /// Steps it will take in all.
    pub steps: u64,
    /// Sheets of the best layout so far.
    pub sheets: usize,
    /// Length used on its last sheet.
    pub used: Mm,
}

/// [`lay_out_on`] with no leftovers of earlier jobs.
///
/// # Errors
/// Those of [`lay_out_on`].
pub fn lay_out(
    pieces: &[Piece],
    films: &[FilmSpec],
    effort: Effort,
    diagnostics: &mut Diagnostics,
    progress: &mut dyn FnMut(Progress) -> ControlFlow<()>,
) -> Result<Vec<SheetLayout>, ErrorGuaranteed> {
    lay_out_on(pieces, films, &[], effort, diagnostics, progress)
}

/// Lays all pieces out on their films: each sheet in cut order, every piece exactly once, spares beside them.
/// `leftovers` are those of each film, in the order of the films; they are used first, then what is in stock.
///
/// Pieces keep their film's spacing from each other and its margin from the edge, turn only as its grain
/// allows, and are mirrored if it is cut from the back. `progress` is called after each step; a `Break` keeps
/// the best layout so far. The same pieces, films and effort give the same sheets.
///
/// # Errors
/// A piece that fits on no sheet, an outline without area or far out: each is reported.
pub fn lay_out_on(
    pieces: &[Piece],
    films: &[FilmSpec],
    leftovers: &[Vec<Offcut>],
    effort: Effort,
    diagnostics: &mut Diagnostics,
    progress: &mut dyn FnMut(Progress) -> ControlFlow<()>,
) -> Result<Vec<SheetLayout>, ErrorGuaranteed> {
    // Films are apart from each other: their first layouts are made side by side, and so are their sheets at
    // the end. What is told keeps the order of the films.
    let firsts: Vec<(Diagnostics, Result<First, ErrorGuaranteed>)> = films
        .par_iter()
        .enumerate()
        .map(|(id, film)| {
            let mut told = Diagnostics::new();
            let left = leftovers.get(id).map_or(&[][..], Vec::as_slice);
            let first = First::made(pieces, FilmId(id), film, left, effort, &mut told);
            (told, first)
        })
        .collect();
    let mut stopped = false;
    let mut hear = |p: Progress| {
        // Who has stopped is not asked again.
        stopped = stopped || progress(p).is_break();
        if stopped { ControlFlow::Break(()) } else { ControlFlow::Continue(()) }
    };
    let mut jobs: Vec<(FilmJob, Vec<BinLayout>)> = Vec::new();
    let mut failed = None;
    for (told, first) in firsts {
        diagnostics.extend(told.into_vec());
        match first.and_then(|f| f.job.searched(f.filled, effort, diagnostics, &mut hear).map(|l| (f.job, l)))
        {
            Ok(done) => jobs.push(done),
            Err(r) => failed = Some(r),
        }
    }
    if let Some(r) = failed {
        return Err(r);
    }
    let all: Vec<(&FilmJob, usize, &BinLayout)> = jobs
        .iter()
        .flat_map(|(job, filled)| filled.iter().enumerate().map(move |(i, f)| (job, i + 1, f)))
        .collect();
    Ok(all.par_iter().map(|(job, index, filled)| job.sheet(*index, filled)).collect())
}

/// A film's pieces with the first layout of them.
struct First<'a> {
    job: FilmJob<'a>,
    filled: Vec<BinLayout>,
}

impl<'a> First<'a> {
    fn made(
        pieces: &'a [Piece],
        id: FilmId,
        film: &'a FilmSpec,
        left: &[Offcut],
        effort: Effort,
        diagnostics: &mut Diagnostics,
    ) -> Result<Self, ErrorGuaranteed> {
        let own: Vec<&Piece> = pieces.iter().filter(|p| p.film == id).collect();
        usable(left, id, diagnostics)?;
        let spares = spares(&own, film).into_iter().map(|p| Wanted { piece: p, cup: 0, spare: true });
        let own = own.iter().map(|p| Wanted { piece: p, cup: 0, spare: false }).chain(spares).collect();
        let mut job = FilmJob::prepared(own, id, film, Bin::all(film, left), effort, diagnostics)?;
        let filled = job.first(diagnostics)?;
        let filled = job.in_order(filled, diagnostics)?;
        Ok(Self { job, filled })
    }
}

/// A piece to be cut.
#[derive(Clone, Copy, Debug)]
pub(super) struct Wanted<'a> {
    pub(super) piece: &'a Piece,
    /// The cup of an order, from 1; 0 where there is one.
    pub(super) cup: u32,
    pub(super) spare: bool,
}

/// One film's pieces, ready to be laid out.
pub(super) struct FilmJob<'a> {
    pub(super) id: FilmId,
    pub(super) film: &'a FilmSpec,
    /// The piece of each item.
    pub(super) pieces: Vec<Wanted<'a>>,
    /// Cups that are worked together, if they are worked in order.
    pub(super) block: Option<u32>,
    pub(super) flow: Flow,
    /// Is this film of several cups?
    pub(super) several: bool,
    /// Spots lie in the order of placing: the search must not scatter them.
    pub(super) woven: bool,
    pub(super) solids: Vec<Solid>,
    /// The solid of each item.
    pub(super) items: Vec<usize>,
    pub(super) blanks: Vec<Bin>,
    pub(super) demand: Demand,
}

impl<'a> FilmJob<'a> {
    pub(super) fn prepared(
        pieces: Vec<Wanted<'a>>,
        id: FilmId,
        film: &'a FilmSpec,
        blanks: Vec<Bin>,
        effort: Effort,
        diagnostics: &mut Diagnostics,
    ) -> Result<Self, ErrorGuaranteed> {
        // A frame runs between the pieces and the margin.
        let frame = film.cut.weeding.frame.unwrap_or(Mm::ZERO);
        let demand = Demand { spacing: film.spacing, margin: film.margin + frame };
        let mut solids = Solids::default();
        // Cups of an order have most pieces in common.
        let mut known: BTreeMap<*const Piece, usize> = BTreeMap::new();
        let mut items = Vec::with_capacity(pieces.len());
        let mut failed = None;
        for Wanted { piece, .. } in &pieces {
            if let Some(solid) = known.get(&std::ptr::from_ref(*piece)) {
                items.push(*solid);
                continue;
            }
            let whole = [*piece];
            let members =
                if let Kind::Lot { of, .. } = &piece.kind { of.iter().collect() } else { whole.to_vec() };
            let sound: Vec<_> = members.into_iter().map(|p| cuttable(p, diagnostics)).collect();
            if let Some(r) = sound.into_iter().find_map(Result::err) {
                failed = Some(r);
                continue;
            }
            let stands = stands(piece, film);
            let solid = match stands {
                Some(_) => solids.apart(&piece.cut(), film.mirrored),
                None => solids.of(&piece.cut(), film.mirrored),
            };
            items.push(solid);
            known.insert(std::ptr::from_ref(*piece), solid);
            if solids.list[solid].turns.is_empty() {
                if let Err(r) = uncrossed(piece, &solids.list[solid].fine, diagnostics) {
                    failed = Some(r);
                }
                let mut turns = allowed_turns(&solids.list[solid], film, demand.margin, effort, &blanks);
                if let Some(turn) = stands.map(|angle| solids.list[solid].turned(angle))
                    && blanks.iter().any(|b| fits(&turn, b.usable(demand.margin)))
                {
                    turns = vec![turn];
                }
                if turns.is_empty() {
                    failed = Some(too_large(
                        piece,
                        &solids.list[solid],
                        id,
                        film,
                        (demand.margin, &blanks),
                        diagnostics,
                    ));
                }
                solids.list[solid].turns = turns;
            }
        }
        match failed {
            Some(r) => Err(r),
            None => Ok(Self {
                id,
                film,
                pieces,
                block: None,
                flow: Flow::default(),
                several: false,
                woven: false,
                solids: solids.list,
                items,
                blanks,
                demand,
            }),
        }
    }
    /// The layout after the improving search, measured again; a note if it was stopped.
    pub(super) fn searched(
        &self,
        filled: Vec<BinLayout>,
        effort: Effort,
        diagnostics: &mut Diagnostics,
        progress: &mut dyn FnMut(Progress) -> ControlFlow<()>,
    ) -> Result<Vec<BinLayout>, ErrorGuaranteed> {
        if self.pieces.is_empty() {
            return Ok(filled);
        }
        let (filled, whole) = self.search(filled, effort, progress);
        if effort != Effort::Quick {
            self.checked(&filled, diagnostics)?;
        }
        if !whole {
            diagnostics.push(
                Diagnostic::note(
                    &STOPPED,
                    KeyPath::of("film").index(self.id.0),
                    format!(
                        "the search on film {} was stopped; the best layout so far is kept",
                        self.film.name
                    ),
                )
                .measured(self.so_far(&filled)),
            );
        }
        Ok(filled)
    }
    fn so_far(&self, filled: &[BinLayout]) -> String {
        let last = filled.last().map_or(Mm::ZERO, |f| self.used(f));
        format!("{} sheets, {last:.1} used of the last", filled.len())
    }
    /// Bottom-left fill at a lattice step, and the items that fit on no sheet.
    fn filled(&self, step: Mm) -> (Vec<BinLayout>, Vec<usize>) {
        self.filled_in(step, &self.by_size())
    }
    /// The same with the items in an order, block by block if cups are worked in blocks.
    pub(super) fn filled_in(&self, step: Mm, order: &[usize]) -> (Vec<BinLayout>, Vec<usize>) {
        let filler = Filler::new(&self.solids, &self.blanks, self.demand, step);
        let Some(block) = self.block else { return filler.run(&self.items, order) };
        let mut blocks: BTreeMap<u32, Vec<usize>> = BTreeMap::new();
        for &item in order {
            blocks.entry(self.pieces[item].cup.saturating_sub(1) / block).or_default().push(item);
        }
        let blocks: Vec<Vec<usize>> = blocks.into_values().collect();
        filler.run_blocks(&self.items, &blocks, self.flow)
    }
    /// The first layout, measured.
    pub(super) fn first(&self, diagnostics: &mut Diagnostics) -> Result<Vec<BinLayout>, ErrorGuaranteed> {
        let filled = self.trial(diagnostics)?;
        self.checked(&filled, diagnostics)?;
        Ok(filled)
    }
    /// The same, not measured yet.
    pub(super) fn trial(&self, diagnostics: &mut Diagnostics) -> Result<Vec<BinLayout>, ErrorGuaranteed> {
        let (mut filled, over) = self.filled(FIRST);
        if !over.is_empty() {
            return Err(self.used_up(&over, diagnostics));
        }
        filled = self.panels_tried(filled);
        if self.several {
            // Many pieces are worth a second look: the one order of sizes packs as often better as the other.
            let (other, over) = self.filled_in(FIRST, &self.by_box());
            if over.is_empty() && self.bought(&other) < self.bought(&filled) {
                filled = other;
            }
        }
        Ok(filled)
    }
    /// What a sheet takes, without its cut order and its aids: for what is bought.
    pub(super) fn taken(&self, index: usize, filled: &BinLayout) -> SheetLayout {
        let blank = &self.blanks[filled.blank];
        let placed = filled.spots.iter().flat_map(|s| {
            let Wanted { piece, cup, spare } = self.pieces[s.item];
            let one = |p: &Piece, pose| Placed { number: p.number, cup, pose, spare, cuts: Region::empty() };
            match &piece.kind {
                Kind::Lot { of, .. } => {
                    of.iter().map(|p| one(p, lot::in_lot(piece, p, &s.pose, self.film.mirrored))).collect()
                }
                _ => vec![one(piece, s.pose)],
            }
        });
        SheetLayout {
            film: self.id,
            index,
            width: blank.width,
            height: if blank.roll { self.used(filled) } else { blank.height },
            mirrored: self.film.mirrored,
            placed: placed.collect(),
            repeat: Repeat::default(),
            stock: Taken { source: blank.source.clone(), shape: blank.shape.clone() },
            aids: Aids::default(),
        }
    }
    /// The largest number of sheets that a cup lies on, leftovers not counted.
    pub(super) fn most_sheets_a_cup(&self, filled: &[BinLayout]) -> usize {
        let mut of: BTreeMap<u32, BTreeSet<usize>> = BTreeMap::new();
        for (i, sheet) in filled.iter().enumerate().filter(|(_, f)| self.blanks[f.blank].shape.is_none()) {
            for spot in &sheet.spots {
                of.entry(self.pieces[spot.item].cup).or_default().insert(i);
            }
        }
        of.values().map(BTreeSet::len).max().unwrap_or(0)
    }
    /// Sheets that are bought, and the length used of them: of rolls all, of sheets the last one's.
    pub(super) fn bought(&self, filled: &[BinLayout]) -> (usize, Mm) {
        let own: Vec<&BinLayout> =
            filled.iter().filter(|f| self.blanks[f.blank].source == Source::Bought).collect();
        let length = match self.film.stock {
            Stock::Roll { .. } => own.iter().map(|f| self.used(f)).fold(Mm::ZERO, |a, b| a + b),
            Stock::Sheet { .. } => own.last().map_or(Mm::ZERO, |f| self.used(f)),
        };
        (own.len(), length)
    }
    /// The same at a finer step, if it holds and takes fewer sheets or less of the last.
    fn finer(&self, coarse: &[BinLayout]) -> Option<Vec<BinLayout>> {
        let (filled, over) = self.filled(FINER);
        let key = |f: &[BinLayout]| (f.len(), f.last().map_or(Mm::ZERO, |f| self.used(f)));
        let better = over.is_empty() && key(&filled) < key(coarse);
        (better && filled.iter().all(|f| self.flaws(f).is_empty())).then_some(filled)
    }
    /// The improving search: a sheet less, then the last one shorter; and whether it ran to its end.
    fn search(
        &self,
        mut filled: Vec<BinLayout>,
        effort: Effort,
        progress: &mut dyn FnMut(Progress) -> ControlFlow<()>,
    ) -> (Vec<BinLayout>, bool) {
        let each = match effort {
            Effort::Quick => 0,
            Effort::Normal => NORMAL,
            Effort::Thorough => THOROUGH,
        };
        let thorough = effort == Effort::Thorough;
        // A search for fewer sheets moves pieces to any sheet: cups in order stay where they are.
        let in_order = self.block.is_some();
        let first = |filled: &[BinLayout], steps: u64| Progress {
            film: self.id,
            step: 0,
            steps,
            sheets: filled.len(),
            used: filled.last().map_or(Mm::ZERO, |f| self.used(f)),
        };
        let budgets = |filled: &[BinLayout]| {
            let pieces = |f: &[BinLayout]| f.iter().map(|f| f.spots.len() as u64).sum::<u64>();
            let weighed = |f: &[BinLayout]| each * pieces(f).max(if thorough { FEW } else { 0 });
            match filled {
                [] => (0, 0),
                [one] => (0, weighed(std::slice::from_ref(one))),
                [.., last] => (weighed(filled) / 2, weighed(std::slice::from_ref(last))),
            }
        };
        let steps = |(fewer, shorter): (u64, u64)| (fewer + shorter) / STEP + 1;
        if progress(first(&filled, steps(budgets(&filled)))).is_break() {
            return (filled, each == 0);
        }
        if each > 0
            && !self.woven
            && let Some(finer) = self.finer(&filled)
        {
            filled = finer;
        }
        let (fewer, shorter) = budgets(&filled);
        let steps = steps((fewer, shorter));
        let at = |sheets: usize, weighed: u64, used: Mm| Progress {
            film: self.id,
            step: (weighed / STEP).min(steps - 1),
            steps,
            sheets,
            used,
        };
        let tighten = Tighten {
            solids: &self.solids,
            items: &self.items,
            blanks: &self.blanks,
            demand: self.demand,
            grain: self.film.grain,
            order: if self.woven { self.spots() } else { Vec::new() },
            spots_turn: self.film.cut.lay.turned == Turned::Freely,
        };
        let mut whole = true;
        if fewer > 0 && !in_order && !self.woven {
            let n = filled.len();
            let (less, ended) = tighten.fewer(&filled, fewer, &mut |w, used| progress(at(n, w, used)));
            whole = ended;
            filled = less.unwrap_or(filled);
        }
        if whole
            && shorter > 0
            && let Some(last) = filled.pop()
        {
            let n = filled.len() + 1;
            let (better, ended) =
                tighten.shorter(&last, shorter, &mut |w, used| progress(at(n, fewer + w, used)));
            whole = ended;
            filled.push(better);
        }
        let used = filled.last().map_or(Mm::ZERO, |f| self.used(f));
        let _ = progress(Progress { step: steps, ..at(filled.len(), 0, used) });
        (filled, whole)
    }
    /// Item indices by descending hull area.
    pub(super) fn by_size(&self) -> Vec<usize> {
        let mut order: Vec<usize> = (0..self.items.len()).collect();
        order.sort_by(|&a, &b| {
            let size = |i: usize| self.solids[self.items[i]].hull_area;
            size(b).total_cmp(&size(a)).then(a.cmp(&b))
        });
        order
    }
    /// Item indices by descending longer side of their box.
    pub(super) fn by_box(&self) -> Vec<usize> {
        let mut order: Vec<usize> = (0..self.items.len()).collect();
        let side = |i: usize| {
            let b = self.solids[self.items[i]].fine.bounds();
            b.width().0.max(b.height().0)
        };
        order.sort_by(|&a, &b| side(b).total_cmp(&side(a)).then(a.cmp(&b)));
        order
    }
    /// Length that a sheet's pieces take along the feed, margins at both ends counted.
    pub(super) fn used(&self, sheet: &BinLayout) -> Mm {
        let top =
            sheet.spots.iter().map(|s| self.solids[self.items[s.item]].fine.moved(&s.pose).bounds().max.y);
        Mm(top.fold(0.0, f64::max) + self.demand.margin.0 + crate::base::tolerance::FLATTEN.0)
    }
    pub(super) fn flaws(&self, sheet: &BinLayout) -> Vec<Flaw> {
        flaws(&self.solids, &self.items, sheet, &self.blanks[sheet.blank], self.demand)
    }
    pub(super) fn checked(
        &self,
        filled: &[BinLayout],
        diagnostics: &mut Diagnostics,
    ) -> Result<(), ErrorGuaranteed> {
        let mut failed = None;
        for sheet in filled {
            for flaw in self.flaws(sheet) {
                let at = KeyPath::of("film").index(self.id.0);
                failed = Some(
                    diagnostics.push(match flaw {
                        Flaw::Near { items, distance } => Diagnostic::fault(
                            &NOT_KEPT,
                            at,
                            format!(
                                "pieces {} and {} lie too near",
                                self.number(items[0]),
                                self.number(items[1])
                            ),
                        )
                        .measured(format!("{distance:.4}"))
                        .allowed(format!("{:.4} or more", self.demand.spacing)),
                        Flaw::Outside { item } => Diagnostic::fault(
                            &NOT_KEPT,
                            at,
                            format!("piece {} lies over the margin", self.number(item)),
                        ),
                    }),
                );
            }
        }
        failed.map_or(Ok(()), Err)
    }
    fn number(&self, item: usize) -> u32 {
        self.pieces[item].piece.number
    }
    pub(super) fn sheet(&self, index: usize, filled: &BinLayout) -> SheetLayout {
        let mut sheet = self.taken(index, filled);
        let pieces = filled.spots.iter().flat_map(|spot| lot::members(self.pieces[spot.item].piece));
        for (placed, piece) in sheet.placed.iter_mut().zip(pieces) {
            let outline = if self.film.mirrored { piece.cut().mirrored() } else { piece.cut().into_owned() };
            placed.cuts = order::inner_first(&outline.moved(&placed.pose));
        }
        order::sort(&mut sheet.placed);
        lot::together(self.pieces.iter().map(|w| w.piece), &mut sheet.placed);
        // A copy has no room to grow, and there may be thousands.
        sheet.placed.iter_mut().for_each(|p| p.cuts = p.cuts.clone());
        sheet.aids = aids::of(&sheet, self.film);
        let lots = filled.spots.iter().map(|s| (s.pose, self.pieces[s.item].piece, self.pieces[s.item].cup));
        sheet.aids.carriers = lot::carriers(lots, self.film.mirrored);
        sheet
    }
    fn used_up(&self, left: &[usize], diagnostics: &mut Diagnostics) -> ErrorGuaranteed {
        let area: f64 = left.iter().map(|&i| self.solids[self.items[i]].area).sum();
        let names: Vec<String> = left.iter().take(8).map(|&i| self.number(i).to_string()).collect();
        let more = if left.len() > 8 { ", ..." } else { "" };
        diagnostics.push(
            Diagnostic::fault(
                &OUT_OF_STOCK,
                KeyPath::of("film").index(self.id.0),
                format!("film {} does not reach for pieces {}{more}", self.film.name, names.join(", ")),
            )
            .measured(format!("{} pieces left, {:.0} mm2 of film", left.len(), area))
            .help("name more sheets, or fewer pieces"),
        )
    }
}

/// Lattice of the first layout, and of the one that the search starts from if that is better.
pub(super) const FIRST: Mm = Mm(0.5);
pub(super) const FINER: Mm = Mm(0.25);
/// Places weighed for each piece of the sheets searched.
const NORMAL: u64 = 5_000;
const THOROUGH: u64 = 100_000;
/// A thorough search weighs for so many pieces at least: few large ones are the harder puzzle.
const FEW: u64 = 200;
/// Places weighed that make one step of the progress.
const STEP: u64 = 10_000;

/// Copies of small pieces beyond those asked for: as many as the film's part of them, spread evenly over
/// their sizes.
pub(super) fn spares<'a>(pieces: &[&'a Piece], film: &FilmSpec) -> Vec<&'a Piece> {
    let extent = |p: &Piece| {
        let b = p.cut().bounds();
        b.width().max(b.height())
    };
    let all = pieces.iter().copied().flat_map(lot::members);
    let mut small: Vec<&Piece> = all.filter(|p| extent(p) <= film.cut.small).collect();
    small.sort_by(|a, b| extent(a).0.total_cmp(&extent(b).0).then(a.number.cmp(&b.number)));
    let n = small.len();
    let many = (film.cut.spares * n as f64 - MEASURE.0).ceil().max(0.0) as usize;
    (0..many).map(|k| small[(2 * k + 1) * n / (2 * many) % n]).collect()
}
