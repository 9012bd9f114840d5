//! Keys of `[[sheet]]` and `[[pick]]`.
//!
//! Imports: base, read::job::{keys, model, sheet_spec, rows}.

use super::super::keys::{Key, Own, Table, table};
use super::super::model::Sheen;
use super::super::sheet_spec::CutBy;
use crate::base::units::Mm;

/// Most motifs that are picked.
pub const MOST_PICKED: u64 = 500;
/// Pixels an inch that a scan may have.
pub const DPI: [f64; 2] = [100.0, 4800.0];

table! { "sheet", true, "A printed sheet at hand: its motifs are found on its picture, each there once.";
    NAME: String = Key::needed(
        "name",
        "its name",
        "Its name, also in file names: lower-case letters, digits, hyphens.",
        "\"meadow-1\"",
    );
    PICTURE: Own = Key::new(
        "picture",
        "A scan of it: a PNG, JPEG, TIFF or WebP file in the job's folder.",
        "\"scans/meadow-1.png\"",
    )
        .kind("a file").lacks("which picture shows it");
    SCALE: Own = Key::new("scale", "The dpi that it was scanned at, or \"file\": as the picture says.", "300")
        .kind("a number, or \"file\"").allowed("100 to 4800, \"file\"").usually("file");
    BAR: Mm = Key::new("bar", "What a bar of 100 mm measures in the picture, by that scale.", "99.7")
        .within(Mm(80.0), Mm(120.0)).usually("100 mm");
    TOGETHER: Mm = Key::new("together", "Parts nearer to each other than this are one motif.", "1.6")
        .within(Mm(0.4), Mm(20.0)).or(Mm(1.6));
    SPECK: f64 = Key::new("speck", "What is smaller than so many mm2 is dirt.", "1")
        .within(0.0, 100.0).or(1.0);
    HOLES: Own = Key::new(
        "holes",
        "Which holes stay open: at least so large and so wide; or \"fill\" them all.",
        "{ least = 2, wide = 0.8 }",
    )
        .kind("a table, or a word").allowed("{ least, wide }, \"fill\"").usually("least = 2, wide = 0.8");
    BORDER: Mm = Key::new("border", "Clear film left round the print; negative: cut inside it.", "1")
        .within(Mm(-0.2), Mm(10.0)).or(Mm(1.0));
    BRIDGE: Mm = Key::new("bridge", "Gaps of the cut outline narrower than this are bridged.", "1.2")
        .within(Mm(0.0), Mm(10.0)).or(Mm(1.2));
    CUT_BY: CutBy = Key::new(
        "cut-by",
        "What cuts it: with scissors the order is from the sheet's edge inward.",
        "\"scissors\"",
    )
        .or(CutBy::Scissors);
    THICKNESS: Mm = Key::new("thickness", "Thickness with its adhesive.", "0.08")
        .within(Mm(0.01), Mm(2.0)).or(Mm(0.08));
    SHEEN: Sheen = Key::new("sheen", "How it takes the light, in pictures.", "\"gloss\"").or(Sheen::Gloss);
    GONE: Own = Key::new(
        "gone",
        "Motifs that are cut out already: their numbers, or files that earlier kits left.",
        "[3, 7]",
    )
        .kind("a list of whole numbers or files").usually("none");
}
pub mod holes {
    //! Keys of holes.
    use super::*;
    table! { "sheet.holes", false, "Which holes of a print stay open; smaller or narrower ones are filled.";
        LEAST: f64 = Key::new("least", "Least area, mm2.", "2").within(0.0, 10_000.0).or(2.0);
        WIDE: Mm = Key::new("wide", "Least width.", "0.8").within(Mm(0.0), Mm(100.0)).or(Mm(0.8));
    }
}
pub mod pick {
    //! Keys of a pick.
    use super::*;
    table! { "pick", true, "Motifs that the program picks from printed sheets and spreads over the wall.";
        FROM: Own = Key::new("from", "The sheets, those to be used up first in front.", "[\"meadow-1\"]")
            .kind("a list of sheets' names").usually("all sheets");
        COUNT: u64 = Key::new("count", "How many; or `cover`.", "14")
            .within(1, MOST_PICKED).lacks("how many motifs are picked");
        COVER: f64 = Key::new("cover", "How many per cent of the free wall they cover; or `count`.", "25")
            .within(1.0, 90.0);
        SIZES: Own = Key::new("sizes", "How long the print may be: from, to.", "[12, 45]")
            .kind("two lengths").usually("any");
        WITH: Own = Key::new("with", "Motifs that must be among them: the sheet's name and the number.", "[\"meadow-1/4\"]")
            .kind("a list of motifs").usually("none");
        WITHOUT: Own = Key::new("without", "Motifs that must not.", "[\"meadow-1/9\"]")
            .kind("a list of motifs").usually("none");
        EVEN: Own = Key::new("even", "What is evened out round the cup.", "[\"colour\", \"size\"]")
            .kind("a list of words").allowed("\"colour\", \"size\"").usually("colour, size");
        CLEARANCE: Mm = Key::new("clearance", "Least wall between each and everything else.", "2")
            .within(Mm(0.0), Mm(100.0)).or(Mm(2.0));
        TURNING: Own = Key::new(
            "turning",
            "How they may turn: how far they may lean at most, \"upright\" or \"free\".",
            "15",
        )
            .kind("an angle or a word").allowed("0\u{b0} to 180\u{b0}, \"upright\", \"free\"")
            .usually("upright");
        PASS: String = Key::new(
            "pass",
            "The film step that they go on in, by that step's `name`; without it the first.",
            "\"lettering\"",
        );
    }
}
