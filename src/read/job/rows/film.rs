//! Keys of `[[film]]` and its tables.
//!
//! Imports: base, read::job::{keys, lay, nest, model, rows}.

use super::super::keys::{Key, Own, Table, table};
use super::super::lay::{Lay, PanelSpec, Turned};
use super::super::model::{Grain, Sheen};
use super::super::nest::Rates;
use crate::base::units::Mm;

/// Sides that a sheet and widths that a roll may have.
pub const SIDE: [Mm; 2] = [Mm(20.0), Mm(3000.0)];

table! { "film", true, "A film: what it is called, how it comes, and what the cutter makes of it.";
    NAME: String = Key::needed(
        "name",
        "its name",
        "Its name, also in file names: lower-case letters, digits, hyphens.",
        "\"leaf-green\"",
    );
    COLOUR: Own = Key::new("colour", "Its colour in pictures.", "\"#267b69\"")
        .kind("a colour").allowed("`#` and six hexadecimal digits")
        .usually("one of seven that are told apart");
    SHEET: Own = Key::new(
        "sheet",
        "Sheets of a size: [left to right on the cutter, along the feed]; or `roll`.",
        "[300, 200]",
    )
        .kind("two lengths").allowed("20 mm to 3000 mm each")
        .lacks("how it comes: a `sheet` of a size, or a `roll` of a width");
    ROLL: Mm = Key::new("roll", "Width of the roll that it comes on; or `sheet`.", "305")
        .within(SIDE[0], SIDE[1]).lacks("how wide the roll is");
    LONGEST: Mm = Key::new("longest", "Longest cut that the cutter takes from a roll.", "600")
        .within(Mm(20.0), Mm(50_000.0)).or(Mm(600.0));
    MARGIN: Mm = Key::new("margin", "Film left along every edge.", "5")
        .within(Mm(0.0), Mm(200.0)).or(Mm(5.0));
    SPACING: Mm = Key::new("spacing", "Least film between two pieces.", "2")
        .within(Mm(0.2), Mm(50.0)).or(Mm(2.0));
    WEED: Mm = Key::new("weed", "The narrowest bridge or slit that can be weeded.", "0.8")
        .within(Mm(0.05), Mm(20.0)).or(Mm(0.8));
    THICKNESS: Mm = Key::new("thickness", "Thickness with its adhesive.", "0.08")
        .within(Mm(0.01), Mm(2.0)).or(Mm(0.08));
    MIRRORED: bool = Key::new("mirrored", "Cut from the back: the cut file is mirrored.", "false").or(false);
    GRAIN: Grain = Key::new(
        "grain",
        "How pieces may turn on it: \"half\" is as drawn or upside down.",
        "\"free\"",
    )
        .or(Grain::Free);
    SHEEN: Sheen = Key::new("sheen", "How it takes the light, in pictures.", "\"gloss\"").or(Sheen::Gloss);
    LEFTOVERS: Own = Key::new(
        "leftovers",
        "Files with what earlier jobs left over; used first.",
        "[\"leftovers/white.svg\"]",
    )
        .kind("a list of files").allowed("1 to 40").usually("none");
    IN_STOCK: Own = Key::new(
        "in-stock",
        "Sheets of another size that are there already; used next.",
        "[{ sheet = [200, 100] }]",
    )
        .kind("a list of tables").usually("none");
    TAKE_UP: f64 = Key::new(
        "take-up",
        "Percent of itself that it stretches or shortens without a wrinkle; asked where the wall is curved.",
        "1",
    )
        .within(0.05, 20.0).or(1.0);
    FLAT_UP_TO: Mm = Key::new(
        "flat-up-to",
        "Instead of take-up: the largest disc of this film that lay flat on a ball (`frusta new FOLDER --film-test`).",
        "45",
    )
        .within(Mm(5.0), Mm(150.0)).usually("take-up").lacks("the largest disc that lay flat on the ball");
    BALL: Mm = Key::new("ball", "The girth of that ball, by the tape.", "690")
        .within(Mm(150.0), Mm(4000.0)).usually("none").lacks("the girth of the ball that the disc lay flat on");
    SPARES: f64 = Key::new("spares", "Spare copies of small pieces, in percent of their number.", "0")
        .within(0.0, 200.0).or(0.0);
    SPARES_UP_TO: Mm = Key::new("spares-up-to", "A piece with a longest extent up to this is small.", "15")
        .within(Mm(1.0), Mm(200.0)).or(Mm(15.0));
    WEEDING: Own = Key::new("weeding", "Aids for weeding.", "{ frame = 3 }").kind("a table").usually("none");
    CUTTER: Own = Key::new(
        "cutter",
        "What the cutter does, and how fast the maker weeds.",
        "{ cut-speed = 60 }",
    )
        .kind("a table");
    LAY: Lay = Key::new(
        "lay",
        "How pieces come to the wall: \"woven\" puts each spot near the one placed before it, \"panels\" lays many at once, \"gathered\" \
            those of several films on one carrier.",
        "\"woven\"",
    )
        .or(Lay::Singly);
    MORE_FILM: f64 = Key::new("more-film", "Percent of length that woven sheets may take more.", "5")
        .within(0.0, 100.0).or(5.0);
    TURNED: Turned = Key::new(
        "turned",
        "How spots of a woven film lie on the sheet; \"as-placed\": none is turned in the hand.",
        "\"as-placed\"",
    )
        .or(Turned::Freely);
    PANEL: Own = Key::new("panel", "What is asked of its panels.", "{ largest = [60, 80] }").kind("a table");
}
pub mod panel {
    //! Keys of panels.
    use super::*;
    /// Sides that a panel may have.
    pub const SIDES: [Mm; 2] = [Mm(10.0), Mm(400.0)];
    table! { "film.panel", false, "What is asked of panels: many pieces laid at once.";
        LARGEST: Own = Key::new(
            "largest",
            "Their largest size: [along the ring, up the wall].",
            "[60, 80]",
        )
            .kind("two lengths").allowed("10 mm to 400 mm each").usually("60 mm by 80 mm");
        BORDER: Mm = Key::new("border", "Least wall between the pieces of two panels.", "2")
            .within(Mm(0.4), Mm(20.0)).or(PanelSpec::USUAL.border);
        READ: Mm = Key::new("read", "How far a mark is missed at most when a panel is laid by two.", "0.3")
            .within(Mm(0.0), Mm(3.0)).or(PanelSpec::USUAL.read);
        CARRIER: Mm = Key::new("carrier", "Transfer tape beyond the pieces, all round.", "3")
            .within(Mm(1.0), Mm(20.0)).or(PanelSpec::USUAL.carrier);
    }
}
pub mod in_stock {
    //! Keys of sheets in stock.
    use super::*;
    table! { "film.in-stock", true, "Sheets of another size that are there already.";
        SHEET: Own = Key::new(
            "sheet",
            "Their size: [left to right on the cutter, along the feed].",
            "[200, 100]",
        )
            .kind("two lengths").allowed("20 mm to 3000 mm each").lacks("its size");
        COUNT: u64 = Key::new("count", "How many there are.", "1").within(1, 1000).or(1);
    }
}
pub mod weeding {
    //! Keys of weeding aids.
    use super::*;
    table! { "film.weeding", false, "Aids for weeding.";
        FRAME: Mm = Key::new("frame", "A frame round the used film, so far outside the pieces.", "3")
            .within(Mm(0.5), Mm(50.0)).usually("none");
        LINES: Mm = Key::new("lines", "Lines through the waste, so far from one to the next.", "60")
            .within(Mm(10.0), Mm(500.0)).usually("none");
        CLEAR: Mm = Key::new("clear", "Least distance of such a line to a piece.", "1")
            .within(Mm(0.3), Mm(20.0)).or(Mm(1.0));
    }
}
pub mod cutter {
    //! Keys of the cutter.
    use super::*;
    table! { "film.cutter", false, "What the cutter does, and how fast the maker weeds: common practice, to be edited.";
        CUT_SPEED: f64 = Key::new("cut-speed", "Blade in the film, mm a second.", "60")
            .within(1.0, 2000.0).or(Rates::USUAL.cut);
        TRAVEL_SPEED: f64 = Key::new("travel-speed", "Blade lifted, mm a second.", "200")
            .within(1.0, 2000.0).or(Rates::USUAL.travel);
        LIFT_SECONDS: f64 = Key::new("lift-seconds", "Lowering and lifting the blade once.", "0.15")
            .within(0.0, 10.0).or(Rates::USUAL.lift);
        WEED_PIECE: f64 = Key::new("weed-piece-seconds", "Freeing one piece of the waste round it.", "5")
            .within(0.0, 600.0).or(Rates::USUAL.weed_piece);
        WEED_OPENING: f64 = Key::new("weed-opening-seconds", "Picking the waste out of one opening.", "4")
            .within(0.0, 600.0).or(Rates::USUAL.weed_opening);
        OVERCUT: Mm = Key::new("overcut", "How far the blade runs on past the start of an outline.", "0")
            .within(Mm(0.0), Mm(3.0)).or(Mm(0.0));
    }
}
