//! The keys of a job, one row each, table by table: see [`super::keys`] for what a row is.
//!
//! Imports: base, read::job::keys.

pub mod art;
pub mod blank;
pub mod cup;
pub mod decal;
pub mod film;
pub mod gathered;
pub mod order;
pub mod print;
pub mod look;
pub mod sheet;

use super::keys::{Key, Own, Table, table};
use crate::base::units::LengthUnit;

table! { "", false, "The whole job.";
    TITLE: String = Key::text("title", "Untitled", "What the job is called, in headings.", "\"Harvest fair\"");
    DATE: Own = Key::new(
        "date",
        "The day that stands on the sheets; the program never asks the clock.",
        "2026-09-12",
    )
        .kind("a date").usually("none");
    UNIT: LengthUnit = Key::new("unit", "The unit of lengths that say none.", "\"mm\"").or(LengthUnit::Mm);
    SEED: u64 = Key::new(
        "seed",
        "Everything random comes from this number: another one lays everything out anew.",
        "1",
    )
        .within(0, i64::MAX as u64).or(1);
    CUP: Own = Key::new("cup", "The cup.", "{ diameters = { rim = 86, base = 66, height = 165 } }")
        .kind("a table").lacks("what the cup is")
        .headed("[cup]\ndiameters = { rim = 86, base = 66, height = 165 }");
    FILM: Own = Key::new("film", "The films, a table each.", "[{ name = \"white\", sheet = [300, 200] }]")
        .kind("tables").allowed("1 to 40 films").lacks("what film it is cut from")
        .headed("[[film]]\nname = \"white\"\nsheet = [300, 200]");
    GATHERED: Own = Key::new("gathered", "Panels of several films on one carrier.", "{}").kind("a table");
    SHEET: Own = Key::new("sheet", "Printed sheets at hand, a table each.", "[]").kind("tables");
    DECAL: Own = Key::new("decal", "Lettering or art in a stack of films, a table each.", "[]")
        .kind("tables").allowed("up to 60 decals");
    MOTIF: Own = Key::new("motif", "Drawings cut from one film, a table each.", "[]")
        .kind("tables").allowed("up to 500 tables");
    PICK: Own = Key::new("pick", "Motifs picked from printed sheets, a table each.", "[]")
        .kind("tables").allowed("up to 40 tables");
    ACCENT: Own = Key::new("accent", "Fills of small spots, a table each.", "[]")
        .kind("tables").allowed("up to 40 tables");
    FINISH: Own = Key::new("finish", "Coats, hours and prices.", "{}").kind("a table");
    ORDER: Own = Key::new("order", "Several cups, their film laid out as one.", "{ cups = 12 }").kind("a table");
    PRINT: Own = Key::new("print", "Papers and pictures.", "{}").kind("a table");
    LOOK: Own = Key::new("look", "What is asked of colours on and beside each other.", "{}").kind("a table");
}
