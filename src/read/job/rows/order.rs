//! Keys of `[order]`.
//!
//! Imports: read::job::{keys, order_spec}.

use super::super::keys::{Key, Table, table};
use super::super::order_spec::{MOST_CUPS, Sharing};

table! { "order", false, "Several cups of one job: their film is laid out as one.";
    CUPS: u64 = Key::new("cups", "How many cups are made.", "12").within(1, MOST_CUPS).or(1);
    FILM: Sharing = Key::new(
        "film",
        "How cups share sheets: \"in-order\" keeps each on at most two sheets of a film, \"mixed\" takes the \
            least film.",
        "\"in-order\"",
    )
        .or(Sharing::InOrder);
    MOST_CUPS_A_SHEET: u64 = Key::new(
        "most-cups-a-sheet",
        "Cups that lie on one sheet together at most, to hand sheets out.",
        "4",
    )
        .within(1, MOST_CUPS).usually("no limit");
    SAME_SHEETS: bool = Key::new(
        "same-sheets",
        "Equal cups as equal sheets, cut several times, where that takes no more film.",
        "true",
    )
        .or(true);
}
