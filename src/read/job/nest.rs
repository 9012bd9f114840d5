//! How hard to look for a tight layout, and what a film's section says about cutting: what is in stock, spares,
//! weeding aids and the cutter's rates.
//!
//! Imports: base, read::job::{codes, section, path}.

use super::codes;
use super::section::{Item, Section};
use crate::base::diag::{Diagnostic, ErrorGuaranteed};
use crate::base::units::Mm;

/// How much work goes into a layout; counted in steps, never seconds, so that the same job gives the same sheets.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord)]
pub enum Effort {
    /// A first layout, pieces as drawn where they may be.
    Quick,
    /// A good layout: several angles, and the improving search for a while.
    #[default]
    Normal,
    /// The improving search for long: for film that is dear.
    Thorough,
}

/// Sheets of another size that are there already.
#[derive(Clone, Debug, PartialEq)]
pub struct InStock {
    /// Left to right on the cutter.
    pub width: Mm,
    /// Along the feed.
    pub height: Mm,
    /// How many.
    pub count: usize,
}

/// What a film's section says about cutting.
#[derive(Clone, Debug, PartialEq)]
pub struct CutSpec {
    /// Files with what earlier jobs left over; used first.
    pub leftovers: Vec<String>,
    /// Sheets in stock; used next, in this order.
    pub in_stock: Vec<InStock>,
    /// Spare copies of small pieces, as a part of their number.
    pub spares: f64,
    /// A piece with a longest extent up to this is small.
    pub small: Mm,
    /// Aids for weeding.
    pub weeding: Weeding,
    /// How fast the maker cuts and weeds.
    pub rates: Rates,
    /// How far the blade runs on past the start of an outline.
    pub overcut: Mm,
}

/// Aids for weeding.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Weeding {
    /// A frame round the used area, so far outside the pieces.
    pub frame: Option<Mm>,
    /// Lines through the waste, so far from one to the next.
    pub lines: Option<Mm>,
    /// Least distance of a line to a piece.
    pub clear: Mm,
}

/// How fast the maker cuts and weeds; the defaults are common practice without a source, to be edited.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Rates {
    /// Blade in the film, mm a second.
    pub cut: f64,
    /// Blade lifted, mm a second.
    pub travel: f64,
    /// Lowering and lifting the blade once, seconds.
    pub lift: f64,
    /// Freeing one piece of the waste round it, seconds.
    pub weed_piece: f64,
    /// Picking the waste out of one opening, seconds.
    pub weed_opening: f64,
}

impl Default for Rates {
    fn default() -> Self {
        Rates { cut: 60.0, travel: 200.0, lift: 0.15, weed_piece: 5.0, weed_opening: 4.0 }
    }
}

impl Default for CutSpec {
    fn default() -> Self {
        CutSpec {
            leftovers: Vec::new(),
            in_stock: Vec::new(),
            spares: 0.0,
            small: Mm(15.0),
            weeding: Weeding { frame: None, lines: None, clear: Mm(1.0) },
            rates: Rates::default(),
            overcut: Mm::ZERO,
        }
    }
}

/// Sheets and leftovers that a film's section names at most.
const MOST: usize = 40;

/// Reads what a `[[film]]` says about cutting.
pub(super) fn cut(film: &Section<'_>) -> Result<CutSpec, ErrorGuaranteed> {
    let usual = CutSpec::default();
    let leftovers = film.list("leftovers", file).counting(1..=MOST, "file names").or(Vec::new());
    let in_stock = film.list("in-stock", |item| item.section().and_then(in_stock)).or(Vec::new());
    let spares = film.number("spares").within(0.0..=200.0).or(0.0);
    let small = film.length("spares-up-to").within(Mm(1.0)..=Mm(200.0)).or(usual.small);
    let weeding = film.table("weeding").optional().and_then(|s| s.map_or(Ok(usual.weeding), weeding));
    let cutter = film.table("cutter").optional().and_then(|s| s.map_or(Ok((usual.rates, Mm::ZERO)), cutter));
    let (rates, overcut) = cutter?;
    Ok(CutSpec {
        leftovers: leftovers?,
        in_stock: in_stock?,
        spares: spares? / 100.0,
        small: small?,
        weeding: weeding?,
        rates,
        overcut,
    })
}

fn in_stock(s: Section<'_>) -> Result<InStock, ErrorGuaranteed> {
    let sides = s
        .list("sheet", Item::length)
        .counting(2..=2, "lengths: [left to right, along the feed]")
        .held(|sides, at| {
            let range = Mm(20.0)..=Mm(3000.0);
            let bad = sides.iter().find(|v| !range.contains(v))?;
            Some(
                Diagnostic::fault(&codes::OUT_OF_RANGE, at.clone(), "the sheet has no such side")
                    .measured(bad)
                    .allowed("20 mm to 3000 mm")
                    .help("correct the size or its unit"),
            )
        });
    let sides = sides.required("its size", "sheet = [200, 100]");
    let count = s.integer("count").within(1..=1000).or(1);
    s.done();
    let (sides, count) = (sides?, count?);
    Ok(InStock { width: sides[0], height: sides[1], count: count as usize })
}

fn weeding(s: Section<'_>) -> Result<Weeding, ErrorGuaranteed> {
    let frame = s.length("frame").within(Mm(0.5)..=Mm(50.0)).optional();
    let lines = s.length("lines").within(Mm(10.0)..=Mm(500.0)).optional();
    let clear = s.length("clear").within(Mm(0.3)..=Mm(20.0)).or(CutSpec::default().weeding.clear);
    s.done();
    Ok(Weeding { frame: frame?, lines: lines?, clear: clear? })
}

fn cutter(s: Section<'_>) -> Result<(Rates, Mm), ErrorGuaranteed> {
    let usual = Rates::default();
    let cut = s.number("cut-speed").within(1.0..=2000.0).or(usual.cut);
    let travel = s.number("travel-speed").within(1.0..=2000.0).or(usual.travel);
    let lift = s.number("lift-seconds").within(0.0..=10.0).or(usual.lift);
    let weed_piece = s.number("weed-piece-seconds").within(0.0..=600.0).or(usual.weed_piece);
    let weed_opening = s.number("weed-opening-seconds").within(0.0..=600.0).or(usual.weed_opening);
    let overcut = s.length("overcut").within(Mm(0.0)..=Mm(3.0)).or(Mm::ZERO);
    s.done();
    let rates = Rates {
        cut: cut?,
        travel: travel?,
        lift: lift?,
        weed_piece: weed_piece?,
        weed_opening: weed_opening?,
    };
    Ok((rates, overcut?))
}

/// The name of a file in the job's folder or below it.
fn file(item: &Item<'_>) -> Result<String, ErrorGuaranteed> {
    super::path::art(item)
}
