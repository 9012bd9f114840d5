//! Keys of `[[sheet]]` and `[[pick]]`.
//!
//! Imports: base, read::job::{keys, model, sheet_spec, rows}.

use super::super::keys::{Key, Own, Table, table};
use super::super::model::{Paper, Sheen};
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
    SCALE: Own = Key::new(
        "scale",
        "The dpi that it was scanned at, or \"file\": as the picture says; of a photo what it shows of known size: the \
            page of discs that `frusta sheet --frame` prints, a card, or the paper that the film lies on.",
        "300",
    )
        .kind("a number, or a word")
        .allowed("100 to 4800, \"file\", \"frame-a4\" (and other papers), \"card\", \"a4\" (and other papers)")
        .usually("file");
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
    OWN: Own = Key::new(
        "own",
        "A sheet that the maker prints herself, in place of `picture`.",
        "{ motifs = [{ picture = \"rose.png\", width = 30 }] }",
    )
        .kind("a table");
}
pub mod own {
    //! Keys of a sheet that the maker prints herself.
    use super::*;
    table! { "sheet.own", false, "A sheet that the maker prints herself: a print sheet is made of it, with marks.";
        MOTIFS: Own = Key::new(
            "motifs",
            "Pictures of the motifs and how wide each print is; numbered in this order.",
            "[{ picture = \"rose.png\", width = 30 }]",
        )
            .kind("tables").lacks("what is printed");
        PAPER: Paper = Key::new("paper", "Size of the film as it goes through the printer.", "\"a4\"").or(Paper::A4);
        DPI: f64 = Key::new("dpi", "Pixels an inch of the print.", "300").within(100.0, 1200.0).or(300.0);
        MIRRORED: bool = Key::new("mirrored", "Printed on the back of clear film: turned over as a whole.", "true")
            .or(false);
        BLEED: Mm = Key::new("bleed", "How far the print goes on beyond the cut.", "1.5")
            .within(Mm(0.0), Mm(5.0)).or(Mm(1.5));
        PRINTED: Own = Key::new(
            "printed",
            "What the printer made of the marks: a scan of them, or six lengths read with a rule.",
            "{ sides = [189.6, 276.4, 189.7, 276.5], diagonals = [335.2, 335.3] }",
        )
            .kind("a table").usually("not printed yet");
    }
}
pub mod own_motif {
    //! Keys of a motif of such a sheet.
    use super::*;
    table! { "sheet.own.motifs", true, "A motif that is printed: what is transparent, or the backing, is no print.";
        PICTURE: Own = Key::new("picture", "A PNG, JPEG, TIFF or WebP file in the job's folder.", "\"rose.png\"")
            .kind("a file").lacks("its picture");
        WIDTH: Mm = Key::new("width", "How wide its print is.", "30")
            .within(Mm(3.0), Mm(400.0)).lacks("how wide it is");
        COUNT: u64 = Key::new("count", "How many are printed.", "2").within(1, 500).or(1);
    }
}
pub mod own_printed {
    //! Keys of what the printer made of the marks.
    use super::*;
    table! { "sheet.own.printed", false, "The printed marks: a scan of them, or lengths between the middles of the corner discs.";
        SCAN: Own = Key::new("scan", "A scan of the printed sheet, before it is cut.", "\"scans/own-1.png\"")
            .kind("a file").lacks("a scan of the marks, or sides and diagonals");
        DPI: f64 = Key::new("dpi", "Pixels an inch of that scan.", "600").within(100.0, 4800.0);
        SIDES: Own = Key::new(
            "sides",
            "Top, right, bottom and left, between the middles of the corner discs.",
            "[189.6, 276.4, 189.7, 276.5]",
        )
            .kind("four lengths");
        DIAGONALS: Own = Key::new(
            "diagonals",
            "From the corner beside the small disc to the one across, and the other.",
            "[335.2, 335.3]",
        )
            .kind("two lengths");
    }
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
