//! Reads `[order]`.
//!
//! Imports: base, read::job::{codes, order_spec, rows, section, path, finish}.

use super::codes;
use super::finish::FinishSpec;
use super::order_spec::{Apostrophes, NamesSpec, OrderSpec};
use super::path;
use super::rows::order as rows;
use super::section::{Item, Section};
use crate::base::diag::{Diagnostic, ErrorGuaranteed, KeyPath};

/// Reads the section; `None` if the job has none. The finishing is that of as many cups.
pub(super) fn read(
    root: &Section<'_>,
    finish: &mut Result<Option<FinishSpec>, ErrorGuaranteed>,
) -> Result<Option<OrderSpec>, ErrorGuaranteed> {
    let Some(s) = root.table(&super::rows::ORDER).optional()? else { return Ok(None) };
    let cups = s.key(&rows::CUPS).optional();
    let names = s.inner(&rows::NAMES, names);
    let approved = s.own(&rows::APPROVED, path::art).optional();
    let keep = s.own(&rows::KEEP, path::art).optional();
    let shelf = s.own(&rows::SHELF, path::art).optional();
    let film = s.key(&rows::FILM).or_usual();
    let most = s.key(&rows::MOST_CUPS_A_SHEET).optional();
    let same = s.key(&rows::SAME_SHEETS).or_usual();
    let reader = s.reader();
    s.done();
    let (cups, names) = (cups?, names?);
    if cups.is_some() && names.is_some() {
        let d = Diagnostic::fault(
            &codes::ONE_OF,
            KeyPath::of("order.cups"),
            "the list says how many cups there are",
        );
        return Err(reader.push(d.help("take `cups` out, or `names`; several cups of a row: `names.copies`")));
    }
    let cups = cups.unwrap_or(1) as u32;
    if let Ok(Some(finish)) = finish {
        if names.is_none() && finish.cups != 1 && finish.cups != cups {
            let d = Diagnostic::fault(
                &codes::CUPS_DIFFER,
                KeyPath::of("finish.cups"),
                "order and finishing speak of different numbers of cups",
            );
            return Err(reader.push(
                d.measured(finish.cups)
                    .allowed(format!("{cups}, as in order.cups"))
                    .help("take `cups` out of [finish]: that of [order] holds for both"),
            ));
        }
        finish.cups = cups;
    }
    Ok(Some(OrderSpec {
        cups,
        names,
        approved: approved?,
        keep: keep?,
        shelf: shelf?,
        film: film?,
        most_a_sheet: most?.map(|n| n as u32),
        same_sheets: same?,
    }))
}

fn names(s: &Section<'_>) -> Result<NamesSpec, ErrorGuaranteed> {
    let list = s.own(&rows::names::LIST, path::art).required();
    let column = s.key(&rows::names::COLUMN).or("name".to_owned());
    let copies = s.own(&rows::names::COPIES, Item::text).optional();
    let apostrophes = s.key(&rows::names::APOSTROPHES).or_usual();
    Ok(NamesSpec {
        list: list?,
        column: column?,
        copies: copies?,
        mend_apostrophes: apostrophes? == Apostrophes::Mend,
    })
}
