//! Reads `[order]`.
//!
//! Imports: base, read::job::{codes, finish, order_spec, rows, section}.

use super::codes;
use super::finish::FinishSpec;
use super::order_spec::OrderSpec;
use super::rows::order as rows;
use super::section::Section;
use crate::base::diag::{Diagnostic, ErrorGuaranteed, KeyPath};

/// Reads the section; `None` if the job has none. The finishing is that of as many cups.
pub(super) fn read(
    root: &Section<'_>,
    finish: &mut Result<Option<FinishSpec>, ErrorGuaranteed>,
) -> Result<Option<OrderSpec>, ErrorGuaranteed> {
    let Some(s) = root.table(&super::rows::ORDER).optional()? else { return Ok(None) };
    let cups = s.key(&rows::CUPS).or_usual();
    let film = s.key(&rows::FILM).or_usual();
    let most = s.key(&rows::MOST_CUPS_A_SHEET).optional();
    let same = s.key(&rows::SAME_SHEETS).or_usual();
    let reader = s.reader();
    s.done();
    let cups = cups? as u32;
    if let Ok(Some(finish)) = finish {
        if finish.cups != 1 && finish.cups != cups {
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
    Ok(Some(OrderSpec { cups, film: film?, most_a_sheet: most?.map(|n| n as u32), same_sheets: same? }))
}
