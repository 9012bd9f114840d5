//! `[print]`: papers, which way they lie, what the maker's printer makes of the bars, and the ground of
//! pictures.
//!
//! Imports: base, read::job::{codes, keys, model, rows, section, films}.

use super::codes;
use super::films;
use super::keys::{Key, Worded};
use super::model::{Ground, Paper, PrintSpec, PrinterBars, Rgb};
use super::rows::print as rows;
use super::section::{Item, Section};
use crate::base::diag::{Diagnostic, ErrorGuaranteed};
use crate::base::units::Mm;

/// Reads the section; without one, the usual papers and a true printer.
pub(super) fn read(section: Section<'_>) -> Result<PrintSpec, ErrorGuaranteed> {
    let usual = PrintSpec::default();
    let papers = section
        .own(&rows::PAPERS, |item| item.list(|item| item.choice(Paper::WORDS)))
        .counting(1..=5, "papers, such as \"a4\"")
        .held(|list, at| {
            let twice = list.iter().enumerate().find(|(i, p)| list[..*i].contains(p))?.0;
            let d =
                Diagnostic::fault(&codes::OUT_OF_RANGE, at.index(twice), "this paper stands here already");
            Some(d.measured(list[twice].name()).help("take it out"))
        })
        .or(usual.papers);
    let lie = section.key(&rows::ORIENTATION).or_usual();
    let bars = section.inner(&rows::BARS, bars).map(|b| b.unwrap_or(usual.bars));
    let ground = section.own(&rows::GROUND, ground).or(usual.ground);
    let cup = section.own(&rows::CUP_COLOUR, films::colour).or(usual.cup);
    section.done();
    Ok(PrintSpec { papers: papers?, lie: lie?, bars: bars?, ground: ground?, cup: cup? })
}

fn bars(table: &Section<'_>) -> Result<PrinterBars, ErrorGuaranteed> {
    let bar = |key: &'static Key<Mm>| {
        let length = table.key(key).or_usual();
        if let Ok(length) = length
            && (length - Mm(100.0)).abs() > Mm(2.0)
        {
            let show = |mm| table.reader().show(mm);
            table.reader().push(
                table
                    .warning(
                        &codes::BARS_OFF,
                        key.row.name,
                        "this bar is off by more than a printer set to 100 % makes it",
                    )
                    .measured(show(length))
                    .allowed(format!("{} to {}", show(Mm(98.0)), show(Mm(102.0))))
                    .help("print at 100 %, not fitted to the page, and measure again"),
            );
        }
        length
    };
    let (short, long) = (bar(&rows::bars::SHORT_SIDE), bar(&rows::bars::LONG_SIDE));
    Ok(PrinterBars { short: short?, long: long? })
}

fn ground(item: &Item<'_>) -> Result<Ground, ErrorGuaranteed> {
    if item.as_text() == Some("transparent") {
        return Ok(Ground::Transparent);
    }
    films::colour(item).map(|Rgb(c)| Ground::Plain(Rgb(c)))
}
