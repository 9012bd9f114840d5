//! What an order of several cups asks of a run.
//!
//! Imports: base, read::job, make::{piece, film}.

use crate::base::diag::{Code, Diagnostic, Diagnostics, ErrorGuaranteed, KeyPath};
use crate::make::film::cups::{CupPieces, reckoned};
use crate::make::film::{Offcut, SheetLayout};
use crate::make::piece::Piece;
use crate::read::job::{Job, OrderSpec};
use std::collections::BTreeMap;

/// Printed motifs in an order.
pub const PRINTED: Code = Code {
    id: "order/printed-once",
    title: "A printed sheet has each motif once",
    explain: "Several cups of one job take each of its pieces several times. The motifs of a printed sheet are \
        there once: make such cups one by one, or cut those motifs from plain film.",
};

/// All codes of this module.
pub const CODES: &[&Code] = &[&PRINTED];

/// How many cups film is laid out for.
pub(super) fn cups(job: &Job) -> u32 {
    job.order.as_ref().map_or(1, |o| o.cups)
}

/// Refuses printed motifs where there are several cups.
pub(super) fn printed_once(
    job: &Job,
    pieces: &[Piece],
    diagnostics: &mut Diagnostics,
) -> Result<(), ErrorGuaranteed> {
    let printed = pieces.iter().filter(|p| job.sheet_of(p.film).is_some()).count();
    if printed > 0 {
        let message = "an order of several cups takes motifs from a printed sheet";
        diagnostics.push(
            Diagnostic::fault(&PRINTED, KeyPath::of("order.cups"), message)
                .measured(format!("{printed} of its motifs, {} cups", cups(job)))
                .allowed("1 cup")
                .help("make these cups one by one, each with motifs of its own"),
        );
    }
    diagnostics.check()
}

/// Sheets of the other numbers of cups that a price is asked for: film of an order is not that of a cup times so
/// many. Quick layouts; what cannot be laid out is left to the order itself to say.
pub(super) fn quantities(
    job: &Job,
    pieces: &CupPieces<'_>,
    offcuts: &[Vec<Offcut>],
) -> BTreeMap<u32, Vec<SheetLayout>> {
    let Some(order) = &job.order else { return BTreeMap::new() };
    let price = job.finish.as_ref().and_then(|f| f.price.as_ref());
    let breaks = price.iter().flat_map(|p| p.breaks.iter().copied()).filter(|n| *n != order.cups);
    let one = |cups: u32| {
        let own: Vec<Vec<Piece>> = pieces.own.iter().cycle().take(cups as usize).cloned().collect();
        let order = OrderSpec { cups, ..order.clone() };
        let of = CupPieces { shared: pieces.shared, own: &own, cups };
        let told = &mut Diagnostics::new();
        reckoned(of, &job.films, offcuts, &order, told).ok().map(|sheets| (cups, sheets))
    };
    breaks.filter_map(one).collect()
}
