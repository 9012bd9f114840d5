//! What a film's section says about cutting: what is in stock, spares, weeding aids and the cutter's rates.
//!
//! Imports: base, read::job::{codes, nest, rows, section, path}.

use super::codes;
use super::nest::{CutSpec, InStock, Rates, Weeding};
use super::rows::film;
use super::section::{Item, Section};
use crate::base::diag::{Diagnostic, ErrorGuaranteed};
use crate::base::units::Mm;

/// Sheets and leftovers that a film's section names at most.
const MOST: usize = 40;

/// Reads what a `[[film]]` says about cutting.
pub(super) fn cut(section: &Section<'_>) -> Result<CutSpec, ErrorGuaranteed> {
    let usual = CutSpec::default();
    let leftovers =
        section.own(&film::LEFTOVERS, |item| item.list(file)).counting(1..=MOST, "file names").or(Vec::new());
    let in_stock = section
        .own(&film::IN_STOCK, |item| item.list(|item| in_stock(item.section()?.quiet())))
        .or(Vec::new());
    let spares = section.key(&film::SPARES).or_usual();
    let small = section.key(&film::SPARES_UP_TO).or_usual();
    let weeding = section.inner(&film::WEEDING, weeding).map(|w| w.unwrap_or(usual.weeding));
    let cutter = section.inner(&film::CUTTER, cutter).map(|c| c.unwrap_or((usual.rates, Mm::ZERO)));
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
        .own(&film::in_stock::SHEET, |item| item.list(Item::length))
        .counting(2..=2, "lengths: [left to right, along the feed]")
        .held(|sides, at| {
            let range = film::SIDE[0]..=film::SIDE[1];
            let bad = sides.iter().find(|v| !range.contains(v))?;
            Some(
                Diagnostic::fault(&codes::OUT_OF_RANGE, at.clone(), "the sheet has no such side")
                    .measured(bad)
                    .allowed("20 mm to 3000 mm")
                    .help("correct the size or its unit"),
            )
        });
    let sides = sides.required();
    let count = s.key(&film::in_stock::COUNT).or_usual();
    s.done();
    let (sides, count) = (sides?, count?);
    Ok(InStock { width: sides[0], height: sides[1], count: count as usize })
}

fn weeding(s: &Section<'_>) -> Result<Weeding, ErrorGuaranteed> {
    let frame = s.key(&film::weeding::FRAME).optional();
    let lines = s.key(&film::weeding::LINES).optional();
    let clear = s.key(&film::weeding::CLEAR).or_usual();
    Ok(Weeding { frame: frame?, lines: lines?, clear: clear? })
}

fn cutter(s: &Section<'_>) -> Result<(Rates, Mm), ErrorGuaranteed> {
    let cut = s.key(&film::cutter::CUT_SPEED).or_usual();
    let travel = s.key(&film::cutter::TRAVEL_SPEED).or_usual();
    let lift = s.key(&film::cutter::LIFT_SECONDS).or_usual();
    let weed_piece = s.key(&film::cutter::WEED_PIECE).or_usual();
    let weed_opening = s.key(&film::cutter::WEED_OPENING).or_usual();
    let overcut = s.key(&film::cutter::OVERCUT).or_usual();
    let rates = Rates {
        cut: cut?,
        travel: travel?,
        lift: lift?,
        weed_piece: weed_piece?,
        weed_opening: weed_opening?,
        weed_said: s.has(film::cutter::WEED_PIECE.row.name) || s.has(film::cutter::WEED_OPENING.row.name),
    };
    Ok((rates, overcut?))
}

/// The name of a file in the job's folder or below it.
fn file(item: &Item<'_>) -> Result<String, ErrorGuaranteed> {
    super::path::art(item)
}
