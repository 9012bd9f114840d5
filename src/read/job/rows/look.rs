//! Keys of `[look]`.
//!
//! Imports: base, read::job::{keys, look_spec}.

use super::super::keys::{Key, Own, Table, table};
use super::super::look_spec::Eyes;
use crate::base::units::Mm;

table! { "look", false, "An eye for the whole: what is said of colours that do not stand off each other.";
    WORDS: f64 = Key::new("words", "Least contrast of words to what lies beneath them, as so many to one.", "4.5")
        .within(1.0, 21.0).or(4.5);
    MOTIFS: f64 = Key::new("motifs", "Least contrast of motifs, and of a decal's layers, to what lies beneath.", "3")
        .within(1.0, 21.0).or(3.0);
    QUIET: Own = Key::new("quiet", "Least and most contrast of accent spots to what lies beneath.", "[1.25, 2.2]")
        .kind("two numbers").allowed("1 to 21, the smaller first").usually("[1.25, 2.2]");
    COLOUR_SIGHT: Eyes = Key::new(
        "colour-sight",
        "Which eyes judge: \"all\" are also those that lack a cone, the worst of them counts.",
        "\"all\"",
    )
        .or(Eyes::All);
    SMALL_PIECE: Mm = Key::new("small-piece", "Spots narrower than this are counted and told: they lift.", "4")
        .within(Mm(0.0), Mm(50.0)).or(Mm(4.0));
}
