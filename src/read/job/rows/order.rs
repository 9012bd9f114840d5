//! Keys of `[order]`.
//!
//! Imports: read::job::{keys, order_spec, rows}.

use super::super::keys::{Key, Own, Table, table};
use super::super::order_spec::{Apostrophes, MOST_CUPS, Sharing};

table! { "order", false, "Several cups of one job: their film is laid out as one.";
    CUPS: u64 = Key::new("cups", "How many equal cups are made; or `names`.", "12")
        .within(1, MOST_CUPS).usually("1, or as many as the list says");
    NAMES: Own = Key::new(
        "names",
        "A list that says what each cup says; a decal takes it by `row = true`.",
        "{ list = \"names.csv\", column = \"name\" }",
    )
        .kind("a table").usually("none");
    APPROVED: Own = Key::new(
        "approved",
        "The file in which `frusta approve` keeps what the customer approved: nothing else is made then.",
        "\"approvals.txt\"",
    )
        .kind("a file").usually("none: made without asking");
    KEEP: Own = Key::new(
        "keep",
        "The folder of an earlier kit, beside the job or in a folder above it: what need not change stays as it is there.",
        "\"kit\"",
    )
        .kind("a folder").usually("none: made afresh");
    SHELF: Own = Key::new(
        "shelf",
        "The folder of a shelf, beside the job or in a folder above it: its leftovers are used first, and what the kit \
            takes of it is held.",
        "\"shelf\"",
    )
        .kind("a folder").usually("none");
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
pub mod names {
    //! Keys of the list of names.
    use super::*;
    table! { "order.names", false, "A list that says what each cup says.";
        LIST: Own = Key::new("list", "The file: rows as spreadsheets save them, headings first.", "\"names.csv\"")
            .kind("a file").lacks("which file it is");
        COLUMN: String = Key::text("column", "name", "Heading of the column that is lettered.", "\"name\"");
        COPIES: Own = Key::new("copies", "Heading of the column with the number of cups of a row.", "\"pieces\"")
            .kind("a text").usually("one cup a row");
        APOSTROPHES: Apostrophes = Key::new(
            "apostrophes",
            "What becomes of foot marks between letters: \"mend\" makes apostrophes of them.",
            "\"mend\"",
        )
            .or(Apostrophes::AsWritten);
    }
}
