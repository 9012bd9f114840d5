//! Keys of `[cup]` and its tables.
//!
//! Imports: base, read::job::{keys, rows}.

use super::super::keys::{Key, Own, Table, table};
use crate::base::units::{Angle, Ml, Mm};

/// Walls that a cup may have.
pub const WALL_RANGE: [Mm; 2] = [Mm(20.0), Mm(500.0)];
const LEAST_TURN: Angle = Angle::degrees(-360.0);
const MOST_TURN: Angle = Angle::degrees(360.0);
/// Rim band below which a warning says why it should be wider. Source: Canada's glazed ceramics and glassware
/// regulations (SOR/2016-175) and ASTM C927 look at outside decoration within 20 mm of the rim.
pub const RIM_BAND: Mm = Mm(20.0);
/// How far a ring's height strays when it is marked on a strip laid up the wall (common practice, no source).
const MARKS_USUAL: Mm = Mm(0.3);

table! { "cup", false, "The cup as the tape says it: `rings` with `wall`, or `diameters`.";
    RINGS: Own = Key::new(
        "rings",
        "Girths read with a tape, each with its height up the wall.",
        "[{ up = 0, girth = 207.3 }, { up = 165, girth = 270.2 }]",
    )
        .kind("a list of tables").allowed("2 to 100 readings, at two heights or more")
        .lacks("its girths at two heights or more");
    WALL: Mm = Key::new("wall", "Length of the wall from the base edge to the rim, measured along it.", "165")
        .within(WALL_RANGE[0], WALL_RANGE[1])
        .lacks("the length of the wall, measured along it from base edge to rim");
    DIAMETERS: Own = Key::new(
        "diameters",
        "The cup by two diameters instead of rings.",
        "{ rim = 86, base = 66, height = 165 }",
    )
        .kind("a table").lacks("the diameters");
    TAPE: Mm = Key::new(
        "tape",
        "How far one reading of a girth (or diameter) strays, as a standard uncertainty.",
        "0.5",
    )
        .within(Mm(0.01), Mm(5.0)).or(Mm(0.5));
    MARKS: Mm = Key::new("marks", "How far the height of a ring strays, as a standard uncertainty.", "0.3")
        .within(Mm(0.0), Mm(10.0)).or(MARKS_USUAL);
    TAPE_THICKNESS: Mm = Key::new(
        "tape-thickness",
        "Thickness of the tape laid round: girths are read longer by pi times it, which is taken off.",
        "0.25",
    )
        .within(Mm(0.0), Mm(2.0)).usually("not known: up to 0.3 mm is allowed for");
    KEEP_CLEAR: Own = Key::new("keep-clear", "Bands of wall kept free of film.", "{ rim = 20, base = 6 }")
        .kind("a table");
    SEAM: Own = Key::new(
        "seam",
        "Where the seam runs, from the front line; or \"best\": where it crosses least, once motifs lie.",
        "180",
    )
        .kind("an angle, or \"best\"").allowed("-360 to 360 degrees, \"best\"").usually("180: the back");
    LAP: Mm = Key::new("lap", "By how much a wrap overlaps at the seam; 0 is butt.", "0")
        .within(Mm(0.0), Mm(30.0)).or(Mm(0.0));
    BUILD_UP: Mm = Key::new(
        "build-up",
        "Thickness of what lies under the film and was not there when the cup was measured.",
        "0",
    )
        .within(Mm(0.0), Mm(10.0)).or(Mm(0.0));
    CAPACITY: Ml = Key::new(
        "capacity",
        "What the cup holds, as printed on it: checks the readings.",
        "\"600 ml\"",
    )
        .within(Ml(15.0), Ml(6000.0)).usually("not said");
    CURVED: bool = Key::new(
        "curved",
        "The wall is a smooth curve (a belly, a waist): a straightedge laid up it rocks or shows light.",
        "false",
    )
        .or(false);
    TRIAL: Own = Key::new("trial", "What printed templates did on the cup, a table each.", "[]").kind("tables")
        .usually("none");
    OUTLINE: Own = Key::new(
        "outline",
        "How the wall runs in a photograph, a table for each; `frusta measure --photo` writes it.",
        "[]",
    )
        .kind("tables").usually("none");
    HANDLE: Own = Key::new(
        "handle",
        "The window of wall that a handle takes; a list of tables where there are several (a lid's clip).",
        "{ at = 180, width = 45, from = 25, to = 140 }",
    )
        .kind("a table, or a list of tables").usually("no handle");
}

pub mod trial {
    //! Keys of a trial wrap.
    use super::*;
    table! { "cup.trial", true, "What a printed template did on the cup when it was wrapped as a test.";
        TEMPLATE: String = Key::text(
            "template",
            "the template that the job made before this wrap",
            "The four signs that stand on it.",
            "\"2f61\"",
        );
        BARS: Mm = Key::new("bars", "What its bar of 100 mm measures: measure that first.", "99.8")
            .within(Mm(80.0), Mm(120.0)).lacks("what its bar of 100 mm measures");
        GAP: Own = Key::new("gap", "Gaps between its ends, overlaps negative.", "{ rim = 0.8, base = -0.4 }")
            .kind("a table").lacks("how its ends met");
        PAPER: Mm = Key::new("paper", "Thickness of the paper.", "0.1").within(Mm(0.0), Mm(1.0)).or(Mm(0.1));
        STRAYS: Mm = Key::new("strays", "How far one gap strays, as a standard uncertainty.", "0.3")
            .within(Mm(0.05), Mm(5.0)).or(Mm(0.3));
    }
}
pub mod gap {
    //! Keys of a trial wrap's gaps.
    use super::*;
    const GAP: [Mm; 2] = [Mm(-30.0), Mm(30.0)];
    table! { "cup.trial.gap", false, "Gaps between the ends of a trial wrap, overlaps negative.";
        RIM: Mm = Key::new("rim", "At the rim.", "0.8").within(GAP[0], GAP[1]).lacks("how its ends met, at one height at least");
        MIDDLE: Mm = Key::new("middle", "At half the height of the wall.", "0.5").within(GAP[0], GAP[1]);
        BASE: Mm = Key::new("base", "At the base edge.", "-0.4").within(GAP[0], GAP[1]);
    }
}
pub mod outline {
    //! Keys of an outline from a photograph.
    use super::*;
    table! { "cup.outline", true, "How the wall runs in a photograph: its curve, while the tape tells how wide it is.";
        PICTURE: String = Key::text("picture", "", "The picture that it was read from, for the maker.", "\"side.jpg\"");
        POINTS: Own = Key::new(
            "points",
            "Girths seen at heights up the wall, lowest first.",
            "[{ up = 10, girth = 210.9 }, { up = 45, girth = 226.4 }, { up = 80, girth = 239.2 }, { up = 115, girth = 252.1 }, { up = 155, girth = 266.8 }]",
        )
            .kind("a list of tables").allowed("5 to 60 points").lacks("what was seen");
        STRAYS: Mm = Key::new(
            "strays",
            "How far one girth strays from its neighbours, as a standard uncertainty.",
            "0.3",
        )
            .within(Mm(0.05), Mm(10.0)).or(Mm(0.3));
    }
}
pub mod outline_point {
    //! Keys of a point of an outline.
    use super::*;
    table! { "cup.outline.points", true, "A girth seen in a photograph.";
        UP: Mm = Key::new("up", "How far up the wall from the base edge, along the wall.", "45")
            .within(Mm(0.0), WALL_RANGE[1]).lacks("how far up the wall it was seen");
        GIRTH: Mm = Key::new("girth", "The circumference there.", "226.4").within(Mm(20.0), Mm(2000.0))
            .lacks("the circumference seen there");
    }
}
pub mod ring {
    //! Keys of a reading.
    use super::*;
    table! { "cup.rings", true, "One reading: a height and the girth there.";
        UP: Mm = Key::new("up", "How far up the wall from the base edge it was read, along the wall.", "0")
            .within(Mm(0.0), WALL_RANGE[1]).lacks("how far up the wall it was read");
        GIRTH: Mm = Key::new(
            "girth",
            "The circumference there; a list, where it was read several times.",
            "207.3",
        )
            .kind("a length, or a list of lengths").allowed("60 mm to 1500 mm")
            .lacks("the circumference read there");
        EDGE: bool = Key::new(
            "edge",
            "An edge is felt there (a foot, a shoulder): below and above it the wall is two cones.",
            "false",
        )
            .or(false);
    }
}
pub mod diameters {
    //! Keys of the diameters.
    use super::*;
    table! { "cup.diameters", false, "The cup by its outside diameters and its height.";
        RIM: Mm = Key::new("rim", "Outside diameter at the rim.", "86")
            .within(Mm(0.5), Mm(20_000.0)).allowed("20 mm to 480 mm")
            .lacks("the outside diameter at the rim");
        BASE: Mm = Key::new("base", "Outside diameter at the base edge.", "66")
            .within(Mm(0.5), Mm(20_000.0)).allowed("20 mm to 480 mm")
            .lacks("the outside diameter at the base edge");
        SLANT: Mm = Key::new("slant", "Length of the wall, along it; or `height`.", "165.3")
            .within(WALL_RANGE[0], WALL_RANGE[1])
            .lacks("the wall's length: along it (`slant`), or straight up (`height`)");
        HEIGHT: Mm = Key::new("height", "Height of the wall, straight up; or `slant`.", "165")
            .within(WALL_RANGE[0], WALL_RANGE[1]);
    }
}
pub mod keep_clear {
    //! Keys of the bands.
    use super::*;
    table! { "cup.keep-clear", false, "Bands of wall kept free of film.";
        RIM: Mm = Key::new("rim", "Down from the rim: lips come here.", "20")
            .within(Mm(0.0), Mm(300.0)).or(RIM_BAND);
        BASE: Mm = Key::new("base", "Up from the base edge.", "6").within(Mm(0.0), Mm(300.0)).or(Mm(6.0));
    }
}
pub mod handle {
    //! Keys of the handle.
    use super::*;
    table! { "cup.handle", false, "The window of wall that a handle takes.";
        AT: Angle = Key::new("at", "Where its middle stands, from the front line.", "180")
            .within(LEAST_TURN, MOST_TURN).lacks("where it stands, from the front line");
        WIDTH: Mm = Key::new(
            "width",
            "How wide a window it takes, round the wall at its middle height.",
            "45",
        )
            .within(Mm(1.0), Mm(300.0)).lacks("how wide a window it takes, round the wall");
        FROM: Mm = Key::new("from", "Its lower end, up the wall from the base edge.", "25")
            .within(Mm(0.0), WALL_RANGE[1]).lacks("its lower end, up the wall from the base edge");
        TO: Mm = Key::new("to", "Its upper end, up the wall from the base edge.", "140")
            .within(Mm(0.0), WALL_RANGE[1]).lacks("its upper end");
    }
}
