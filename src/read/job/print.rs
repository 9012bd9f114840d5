//! `[print]`: papers, which way they lie, what the maker's printer makes of the bars, and the ground of pictures.
//!
//! Imports: base, read::job::{codes, section, model, films}.

use super::codes;
use super::films;
use super::model::{Ground, Lie, Paper, PrintSpec, PrinterBars, Rgb};
use super::section::{Item, Section};
use crate::base::diag::{Diagnostic, ErrorGuaranteed};
use crate::base::units::Mm;

/// Reads the section; without one, the usual papers and a true printer.
pub(super) fn read(section: Section<'_>) -> Result<PrintSpec, ErrorGuaranteed> {
    let usual = PrintSpec::default();
    let names: Vec<(&str, Paper)> = Paper::ALL.iter().map(|p| (p.name(), *p)).collect();
    let papers = section
        .list("papers", |item| item.choice(&names))
        .counting(1..=5, "papers, such as \"a4\"")
        .held(|list, at| {
            let twice = list.iter().enumerate().find(|(i, p)| list[..*i].contains(p))?.0;
            let d =
                Diagnostic::fault(&codes::OUT_OF_RANGE, at.index(twice), "this paper stands here already");
            Some(d.measured(list[twice].name()).help("take it out"))
        })
        .or(usual.papers);
    let lies = [("either", Lie::Either), ("portrait", Lie::Portrait), ("landscape", Lie::Landscape)];
    let lie = section.choice("orientation", &lies).or(usual.lie);
    let bars = match section.table("bars").optional() {
        Ok(Some(table)) => bars(table),
        Ok(None) => Ok(usual.bars),
        Err(reported) => Err(reported),
    };
    let ground = section.field("ground", ground).or(usual.ground);
    let cup = section.field("cup-colour", films::colour).or(usual.cup);
    section.done();
    Ok(PrintSpec { papers: papers?, lie: lie?, bars: bars?, ground: ground?, cup: cup? })
}

fn bars(table: Section<'_>) -> Result<PrinterBars, ErrorGuaranteed> {
    let range = Mm(80.0)..=Mm(120.0);
    let bar = |key| {
        let length = table.length(key).within(range.clone()).or(Mm(100.0));
        if let Ok(length) = length
            && (length - Mm(100.0)).abs() > Mm(2.0)
        {
            let show = |mm| table.reader().show(mm);
            table.reader().push(
                table
                    .warning(
                        &codes::BARS_OFF,
                        key,
                        "this bar is off by more than a printer set to 100 % makes it",
                    )
                    .measured(show(length))
                    .allowed(format!("{} to {}", show(Mm(98.0)), show(Mm(102.0))))
                    .help("print at 100 %, not fitted to the page, and measure again"),
            );
        }
        length
    };
    let (short, long) = (bar("short-side"), bar("long-side"));
    table.done();
    Ok(PrinterBars { short: short?, long: long? })
}

fn ground(item: &Item<'_>) -> Result<Ground, ErrorGuaranteed> {
    if item.as_text() == Some("transparent") {
        return Ok(Ground::Transparent);
    }
    films::colour(item).map(|Rgb(c)| Ground::Plain(Rgb(c)))
}
