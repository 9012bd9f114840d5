//! What a film's section says about cutting: what is in stock, spares, weeding aids and the cutter's rates.
//!
//! Imports: base, read::job::{codes, keys, lay, nest, model, rows, section, path}.

use super::codes;
use super::keys::{Key, Own, Worded};
use super::lay::{Lay, Laying, MoreFilm, PanelSpec, Turned};
use super::model::Grain;
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
    let lay = lay(section);
    let (rates, overcut) = cutter?;
    Ok(CutSpec {
        leftovers: leftovers?,
        in_stock: in_stock?,
        spares: spares? / 100.0,
        small: small?,
        weeding: weeding?,
        rates,
        overcut,
        lay: lay?,
    })
}

/// How its pieces come to the wall.
fn lay(section: &Section<'_>) -> Result<Laying, ErrorGuaranteed> {
    let how = section.key(&film::LAY).or_usual();
    let more = section.key(&film::MORE_FILM).or_usual();
    let turned = section.key(&film::TURNED).or_usual();
    let panel = section.inner(&film::PANEL, panel).map(|p| p.unwrap_or_default());
    let (how, turned) = (how?, turned?);
    // Said for nothing is a slip: what the maker asks for would not come.
    let idle = |key: &'static str, needs: &str| {
        section.has(key).then(|| {
            let message = format!("`{key}` says something of {needs}, and the film is not laid so");
            let d = section.fault(&codes::ONE_OF, key, &message);
            section.reader().push(d.help(format!("write `lay = \"{needs}\"`, or take `{key}` out")))
        })
    };
    let mut faults: Vec<ErrorGuaranteed> = Vec::new();
    if how != Lay::Woven {
        faults.extend(
            [film::MORE_FILM.row.name, film::TURNED.row.name].into_iter().filter_map(|k| idle(k, "woven")),
        );
    }
    if how != Lay::Panels {
        faults.extend(idle(film::PANEL.row.name, "panels"));
    }
    let grain = section.item(film::GRAIN.row.name).and_then(|g| g.as_text().map(str::to_owned));
    if turned == Turned::AsPlaced && grain.is_some_and(|g| g != Grain::Free.word()) {
        let d = section.fault(
            &codes::ONE_OF,
            "turned",
            "spots of this film may not be turned as they are placed",
        );
        faults.push(section.reader().push(d.help("take `turned` out, or write `grain = \"free\"`")));
    }
    match faults.pop() {
        Some(r) => Err(r),
        None => Ok(Laying { how, more: MoreFilm(more? / 100.0), turned, panel: panel? }),
    }
}

fn panel(s: &Section<'_>) -> Result<PanelSpec, ErrorGuaranteed> {
    let largest = largest(s, &film::panel::LARGEST);
    let border = s.key(&film::panel::BORDER).or_usual();
    let read = s.key(&film::panel::READ).or_usual();
    let carrier = s.key(&film::panel::CARRIER).or_usual();
    Ok(PanelSpec {
        largest: largest?.unwrap_or(PanelSpec::USUAL.largest),
        border: border?,
        read: read?,
        carrier: carrier?,
        on_carrier: PanelSpec::USUAL.on_carrier,
    })
}

/// The largest size of a panel.
pub(super) fn largest(s: &Section<'_>, key: &'static Key<Own>) -> Result<Option<[Mm; 2]>, ErrorGuaranteed> {
    let sides = s
        .own(key, |item| item.list(Item::length))
        .counting(2..=2, "lengths: [along the ring, up the wall]")
        .held(|sides, at| {
            let [low, high] = film::panel::SIDES;
            let bad = sides.iter().find(|v| **v < low || **v > high)?;
            Some(
                Diagnostic::fault(&codes::OUT_OF_RANGE, at.clone(), "no panel has such a side")
                    .measured(bad)
                    .allowed(format!("{low} to {high}"))
                    .help("60 by 80 mm is a size that hands lay well"),
            )
        })
        .optional();
    Ok(sides?.map(|l| [l[0], l[1]]))
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
