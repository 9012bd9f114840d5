//! Keys of `[[motif]]` and `[[accent]]`.
//!
//! Imports: base, read::job::{keys, families, model, rows}.

use super::super::families::Family;
use super::super::keys::{Key, Own, Table, table};
use super::super::model::{ShareBy, SpotTurn};
use crate::base::units::{Angle, Mm};

/// Sizes that art on a cup may have.
pub const SIZE: [Mm; 2] = [Mm(2.0), Mm(600.0)];
pub(super) const LEAST_TURN: Angle = Angle::degrees(-360.0);
pub(super) const MOST_TURN: Angle = Angle::degrees(360.0);
/// Most copies of one motif.
pub const MOST_COPIES: u64 = 500;

pub mod motif {
    //! Keys of a motif.
    use super::*;
    table! { "motif", true, "A drawing cut from one film: spread over the wall (`copies`), or pinned (`poses`).";
        ART: Own = Key::new("art", "The drawing: an SVG file in the job's folder.", "\"art/pea-pod.svg\"")
            .kind("a file").lacks("which drawing it is");
        FROM: Own = Key::new("from", "The printed sheet that it is cut from, with `number`; or `art`.", "\"meadow-1\"")
            .kind("a sheet's name");
        NUMBER: Own = Key::new("number", "Its number on the printed sheet.", "4")
            .kind("a whole number").allowed("1 to 100000")
            .lacks("which motif of the sheet it is");
        WIDTH: Mm = Key::new("width", "How wide it is on the cup, without border; or `height`.", "30")
            .within(SIZE[0], SIZE[1]).usually("the drawing's own size");
        HEIGHT: Mm = Key::new("height", "How high it is on the cup, without border; or `width`.", "30")
            .within(SIZE[0], SIZE[1]).usually("the drawing's own size");
        FILM: Own = Key::new("film", "The film it is cut from.", "\"leaf-green\"")
            .kind("a film's name").usually("the job's only film").lacks("which film it is cut from");
        COPIES: u64 = Key::new("copies", "How many, spread over the free wall, or \"as many as fit\"; or `poses`.", "6")
            .within(1, MOST_COPIES).usually("1");
        AT_MOST: u64 = Key::new("at-most", "With copies = \"as many as fit\": how many there are.", "20")
            .within(1, MOST_COPIES).usually("500");
        WORTH: f64 = Key::new("worth", "With copies = \"as many as fit\": what one counts beside the others.", "2")
            .within(0.01, 100.0).usually("1");
        TURNING: Own = Key::new(
            "turning",
            "How spread copies may turn: how far they may lean at most, \"upright\" or \"free\".",
            "15",
        )
            .kind("an angle or a word").allowed("0\u{b0} to 180\u{b0}, \"upright\", \"free\"")
            .usually("upright");
        POSES: Own = Key::new(
            "poses",
            "Exactly where each copy goes; or `copies`.",
            "[{ azimuth = 0, up = 80 }]",
        )
            .kind("a list of tables").allowed("1 to 500 poses");
        CLEARANCE: Mm = Key::new("clearance", "Least wall between it and everything else.", "2")
            .within(Mm(0.0), Mm(100.0)).or(Mm(2.0));
        BORDER: Mm = Key::new("border", "Film left round the art: an outward offset.", "0")
            .within(Mm(0.0), Mm(30.0)).or(Mm(0.0));
        PASS: String = Key::new(
            "pass",
            "The film step that it goes on in, by that step's `name`; without it the first.",
            "\"lettering\"",
        );
        MEND: bool = Key::new("mend", "Thicken and fill what is too narrow to weed.", "false").or(false);
    }
}
pub mod pose {
    //! Keys of a pose.
    use super::*;
    table! { "motif.poses", true, "Where one copy goes.";
        AZIMUTH: Angle = Key::new("azimuth", "How far round from the front line, to the viewer's right.", "0")
            .within(LEAST_TURN, MOST_TURN).lacks("how far round from the front line, in degrees");
        UP: Mm = Key::new("up", "How far up the wall from the base edge its middle goes.", "80")
            .within(Mm(0.0), Mm(500.0)).lacks("how far up the wall from the base edge its middle goes");
        TURN: Angle = Key::new("turn", "Counter-clockwise from upright.", "0")
            .within(LEAST_TURN, MOST_TURN).or(Angle::ZERO);
    }
}
pub mod accent {
    //! Keys of an accent fill.
    use super::*;
    table! { "accent", true, "A fill of small spots between everything else.";
        FAMILY: Family = Key::new(
            "family",
            "What spots look like; or `families`, or `art` of your own.",
            "\"pebble\"",
        )
            .lacks("what spots look like: a `family`, `families`, or `art` of your own");
        FAMILIES: Own = Key::new(
            "families",
            "Several families: a list, in equal shares, or a table such as { pebble = 2, drop = 1 }.",
            "[\"pebble\", \"drop\"]",
        )
            .kind("a list of words, or a table of words and parts").allowed("1 to 40 of the words for `family`");
        ART: Own = Key::new(
            "art",
            "Outlines of your own: one SVG file in the job's folder, or a list of them.",
            "[\"art/snail.svg\"]",
        )
            .kind("a file, or a list of files").allowed("1 to 100 drawings");
        SMALLEST: Mm = Key::new("smallest", "How small a spot may be, by its longest extent.", "3")
            .within(Mm(1.0), Mm(100.0)).lacks("how small a spot may be");
        LARGEST: Mm = Key::new("largest", "How large a spot may be, by its longest extent.", "9")
            .within(Mm(1.0), Mm(100.0)).lacks("how large a spot may be");
        GAP: Mm = Key::new("gap", "How much wall stays free between spots.", "1.5")
            .within(Mm(0.2), Mm(50.0)).lacks("how much wall stays free between spots");
        FILM: Own = Key::new("film", "The film of all spots; or `films`.", "\"leaf-green\"")
            .kind("a film's name").usually("the job's only film").lacks("which film it is cut from");
        FILMS: Own = Key::new("films", "Several films, each with its share.", "{ white = 2, straw = 1 }")
            .kind("a table of films and parts").allowed("parts of more than 0, up to 1000000")
            .lacks("the films");
        ADAPT: Own = Key::new(
            "adapt",
            "How spots change to even out the gaps: not at all, by some percent, or grown together to a \
                mosaic.",
            "{ flex = 15 }",
        )
            .kind("a word, or a table").allowed("\"as-drawn\", \"mosaic\", { flex = 0 to 50 }")
            .usually("as-drawn");
        PASS: String = Key::new(
            "pass",
            "The film step that it goes on in, by that step's `name`; without it the first.",
            "\"lettering\"",
        );
        TURN: SpotTurn = Key::new("turn", "How spots turn.", "\"free\"").or(SpotTurn::Free);
        POLISH: bool = Key::new("polish", "Spots as drawn: spend some seconds on a closer fill.", "false")
            .or(false);
        EDGE: Own = Key::new(
            "edge",
            "What the limits at rim and base are like: \"straight\", \"ragged\", or by how much they are ragged inwards.",
            "{ ragged = 3 }",
        )
            .kind("a word, or a table").allowed("\"straight\", \"ragged\", { ragged = 0 to 20 mm }")
            .usually("straight");
        SHARE_BY: ShareBy = Key::new("share-by", "What the films' shares are shares of.", "\"count\"")
            .or(ShareBy::Count);
    }
}
pub mod edge {
    //! Keys of what a fill's limits are like.
    use super::*;
    table! { "accent.edge", false, "By how much the limits of a fill are ragged.";
        RAGGED: Mm = Key::new("ragged", "By how much at most spots stay farther off rim and base.", "3")
            .within(Mm(0.0), Mm(20.0)).lacks("by how much the limits are ragged");
    }
}
pub mod adapt {
    //! Keys of how spots change.
    use super::*;
    table! { "accent.adapt", false, "By how much spots may change.";
        FLEX: f64 = Key::new("flex", "By how many percent of its size a spot may change.", "15")
            .within(0.0, 50.0).lacks("by how many percent of its size a spot may change");
    }
}
