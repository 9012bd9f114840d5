//! Keys of `[[decal]]` and its layers.
//!
//! Imports: base, read::job::{keys, decal_spec, rows}, read::job::rows::art.

use super::super::decal_spec::{Align, Corners, Lies, MITRE_WORDS, Method, Split};
use super::super::keys::{Key, Own, Table, table};
use super::art::{LEAST_TURN, MOST_TURN, SIZE};
use crate::base::units::{Angle, Mm};

table! { "decal", true, "Lettering (`text`) or art (`art`) in a stack of films.";
    TEXT: Own = Key::new(
        "text",
        "The words; a list, where they take several lines.",
        "[\"Best\", \"in show\"]",
    )
        .kind("text, or a list of texts").allowed("1 to 20 lines").lacks("what it shows: a `text`, or `art`");
    ROW: bool = Key::new(
        "row",
        "Its words are those of the cup's row in the order's list of names; `fits` is the window that they keep to.",
        "false",
    );
    FONT: Own = Key::new("font", "A font by its name, or a file in the job's folder.", "\"Kaushan Script\"")
        .kind("a font's name, or a file").usually("Source Sans Pro Bold");
    ALIGN: Align = Key::new("align", "How lines stand over each other.", "\"middle\"").or(Align::Middle);
    LETTER_SPACING: f64 = Key::new("letter-spacing", "Space added between letters, in parts of an em.", "0")
        .within(-0.5, 2.0).or(0.0);
    LINE_SPACING: f64 = Key::new(
        "line-spacing",
        "From baseline to baseline, as a multiple of what the font suggests.",
        "1",
    )
        .within(0.3, 4.0).or(1.0);
    CAP_HEIGHT: Mm = Key::new("cap-height", "Height of capitals; or `width`, or `fits`.", "12")
        .within(Mm(1.0), Mm(300.0));
    ART: Own = Key::new("art", "The drawing: an SVG file in the job's folder.", "\"art/rosette.svg\"")
        .kind("a file").lacks("which drawing it is");
    WIDTH: Mm = Key::new("width", "Width of the widest line, or of the drawing.", "70")
        .within(SIZE[0], SIZE[1]).lacks("how large it is: `cap-height`, `width`, or `fits`");
    HEIGHT: Mm = Key::new("height", "Height of the drawing.", "40").within(SIZE[0], SIZE[1]);
    FITS: Own = Key::new("fits", "A window that it fills with all its layers: [width, height].", "[80, 40]")
        .kind("two lengths").allowed("2 mm to 600 mm each").lacks("the window that names keep to");
    AZIMUTH: Angle = Key::new("azimuth", "Where its middle goes, from the front line.", "0")
        .within(LEAST_TURN, MOST_TURN).or(Angle::ZERO);
    UP: Own = Key::new(
        "up",
        "How far up the wall from the base edge its middle goes, or \"centred\" between the bands.",
        "\"centred\"",
    )
        .kind("a length, or \"centred\"").allowed("0 mm to 500 mm, \"centred\"")
        .lacks("how far up the wall its middle goes");
    TURN: Angle = Key::new("turn", "Counter-clockwise from upright.", "0")
        .within(LEAST_TURN, MOST_TURN).or(Angle::ZERO);
    LIES: Lies = Key::new(
        "lies",
        "How it lies on the taper: as drawn, each letter upright on the parallel, or bent with the wall.",
        "\"rigid\"",
    )
        .or(Lies::Rigid);
    LAYERS: Own = Key::new(
        "layers",
        "Its films, base first and the art itself last.",
        "[{ film = \"white\", offset = 2 }, { film = \"red\" }]",
    )
        .kind("a list of tables").allowed("1 to 8 layers")
        .lacks("its films, base first and the art itself last");
    CLEARANCE: Mm = Key::new("clearance", "Least wall between it and everything else.", "2")
        .within(Mm(0.0), Mm(100.0)).or(Mm(2.0));
    PASS: String = Key::new(
        "pass",
        "The film step that it goes on in, by that step's `name`; without it the first.",
        "\"lettering\"",
    );
    HALO: Mm = Key::new(
        "halo",
        "Wall that pieces of earlier passes leave free round it; without it the pattern runs on under it.",
        "2",
    )
        .within(Mm(0.0), Mm(100.0)).usually("none: the pattern runs on");
    KEYS: Own = Key::new(
        "keys",
        "Size of the registration marks outside of the layers, or `false` for none.",
        "4",
    )
        .kind("a length, or true or false").allowed("2 mm to 20 mm, false")
        .usually("4 mm; none on a decal of one layer");
    METHOD: Method = Key::new("method", "How the layers come together.", "\"layer-by-layer\"")
        .or(Method::LayerByLayer);
    LEVEL: Mm = Key::new("level", "How far a line may depart from level before it is said.", "0.5")
        .within(Mm(0.0), Mm(50.0)).or(Mm(0.5));
    SHARPEST: Angle = Key::new("sharpest", "Corners sharper than this are said.", "25")
        .within(Angle::ZERO, Angle::degrees(90.0)).or(SHARPEST_USUAL);
    ISLAND: Mm = Key::new("island", "Parts and holes smaller than this are said.", "1.6")
        .within(Mm(0.0), Mm(50.0)).usually("twice what its film weeds");
    MEND: bool = Key::new("mend", "Thicken and fill what is too narrow to weed.", "false").or(false);
}
const SHARPEST_USUAL: Angle = super::super::decal_spec::SHARPEST;

pub mod layer {
    //! Keys of a layer.
    use super::*;
    table! { "decal.layers", true, "A layer; the last one is the art itself.";
        FILM: Own = Key::new("film", "Its film.", "\"white\"")
            .kind("a film's name").usually("the job's only film").lacks("which film it is cut from");
        OFFSET: Mm = Key::new("offset", "How far it reaches out beyond what lies above it.", "2")
            .within(Mm(0.0), Mm(30.0)).usually("0 for the art itself")
            .lacks("how far it reaches out beyond what lies above it");
        JOIN: Corners = Key::new("join", "Its outer corners.", "\"round\"").or(Corners::Round);
        MITRE_LIMIT: f64 = Key::new(
            "mitre-limit",
            "Mitred corners reach at most this many times the offset.",
            "2",
        )
            .within(1.0, 6.0).usually(MITRE_WORDS);
        CLOSE: Mm = Key::new("close", "Counters and gaps narrower than this are filled.", "0.8")
            .within(Mm(0.0), Mm(20.0)).usually("what its film weeds");
        OVERLAP: Mm = Key::new("overlap", "Taken out under the layer above but for this much.", "1")
            .within(Mm(0.3), Mm(30.0)).usually("the layer stays whole");
        SPLIT: Split = Key::new("split", "The art's parts that take its `films` in turn.", "\"word\"")
            .usually("word");
        FILMS: Own = Key::new("films", "Films that parts of the art take in turn.", "[\"red\", \"straw\"]")
            .kind("a list of films").allowed("1 to 20 films");
        COLOURS: Own = Key::new(
            "colours",
            "Colours of the drawing and the film of each.",
            "{ \"#267b69\" = \"straw\" }",
        )
            .kind("a table of colours and films");
    }
}
