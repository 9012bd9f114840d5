//! Keys of `[print]`.
//!
//! Imports: base, read::job::{keys, model, rows}.

use super::super::keys::{Key, Own, Table, table};
use super::super::model::Lie;
use crate::base::units::Mm;

table! { "print", false, "Papers and pictures.";
    PAPERS: Own = Key::new("papers", "Papers to print the template and the map on.", "[\"a4\", \"letter\"]")
        .kind("a list of words").allowed("\"a4\", \"a3\", \"letter\", \"legal\", \"tabloid\"")
        .usually("a4, letter");
    ORIENTATION: Lie = Key::new(
        "orientation",
        "Which way papers lie: \"either\" is what takes fewer pages.",
        "\"either\"",
    )
        .or(Lie::Either);
    BARS: Own = Key::new(
        "bars",
        "What your printer made of the two bars of 100 mm, measured on a print without correction.",
        "{ short-side = 99.6, long-side = 100 }",
    )
        .kind("a table");
    GROUND: Own = Key::new("ground", "What stands behind the cup in pictures.", "\"transparent\"")
        .kind("a colour, or \"transparent\"").usually("transparent");
    CUP_COLOUR: Own = Key::new("cup-colour", "Colour of the bare cup in pictures.", "\"#d9d8d4\"")
        .kind("a colour").usually("#d9d8d4");
}
pub mod bars {
    //! Keys of the printer's bars.
    use super::*;
    table! { "print.bars", false, "What your printer made of the two bars of 100 mm.";
        SHORT_SIDE: Mm = Key::new("short-side", "Length of the bar along the paper's shorter side.", "100")
            .within(Mm(80.0), Mm(120.0)).or(Mm(100.0));
        LONG_SIDE: Mm = Key::new("long-side", "Length of the bar along the paper's longer side.", "100")
            .within(Mm(80.0), Mm(120.0)).or(Mm(100.0));
    }
}
