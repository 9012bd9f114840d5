//! Keys of a blank's file: a kind of cup that the maker buys again.
//!
//! Imports: base, read::job::{keys, rows}.

use super::super::keys::{Key, Own, Table, table};
use crate::base::units::{LengthUnit, Mm};

table! { "blank file", false, "A kind of cup, in a file of its own that jobs name: `cup = \"blanks/tall-20\"`.";
    BLANK: Own = Key::new("blank", "What this kind of cup is called.", "\"Tall 20 oz, white\"")
        .kind("a text").lacks("what this kind of cup is called");
    UNIT: LengthUnit = Key::new("unit", "The unit of lengths here that say none.", "\"mm\"").or(LengthUnit::Mm);
    CUP: Own = Key::new("cup", "The cup, as in a job.", "{ rings = [{ up = 0, girth = 207.3 }, { up = 165, girth = 270.2 }], wall = 165 }")
        .kind("a table").lacks("what the cup is");
    SPECIMEN: Own = Key::new(
        "specimen",
        "Other cups of this kind, read at the same heights, a table each; add, and leave what is there.",
        "[]",
    )
        .kind("tables").allowed("up to 500 tables").usually("none");
    WITHIN: Mm = Key::new(
        "within",
        "How far a cup's girth may be off a shared template before it is given a file of its own.",
        "2",
    )
        .within(Mm(0.2), Mm(20.0)).or(Mm(2.0));
    FINISH: Own = Key::new("finish", "Coats that it is usually given, for jobs that have no `[finish]`.", "{}")
        .kind("a table").usually("none");
    PICTURES: Own = Key::new("pictures", "Names of pictures of it, for the maker.", "[\"tall-20.jpg\"]")
        .kind("a list of texts").usually("none");
    NOTE: String = Key::text("note", "", "Anything worth knowing the next time.", "\"the powder coat is thick at the rim\"");
}

pub mod specimen {
    //! Keys of one cup of the kind.
    use super::*;
    table! { "specimen", true, "One more cup of the kind, read at the heights of `cup.rings`, in their order.";
        NAME: Own = Key::new("name", "What tells it apart; one read again has its name again.", "\"2\"")
            .kind("a text").lacks("what tells it apart");
        READ: Own = Key::new("read", "The day on which it was read.", "2026-09-01").kind("a date").usually("not said");
        GIRTHS: Own = Key::new("girths", "Its girths, one for each entry of `cup.rings`.", "[207.9, 270.6]")
            .kind("a list of lengths").usually("strip").lacks("its girths");
        STRIP: Own = Key::new(
            "strip",
            "Instead of girths: by how much longer than on the first cup one paper strip laid round each is, at each height.",
            "[0.3, -0.2]",
        )
            .kind("a list of lengths").usually("girths");
    }
}

pub mod asked {
    //! Keys of a job's `cup` that names a blank.
    use super::*;
    table! { "cup", false, "The cup as one of a kind: `cup = \"blanks/tall-20\"` is short for a table with `blank` alone. \
        Its bands, seam, lap and build-up may be said otherwise.";
        BLANK: Own = Key::new("blank", "The blank's file, beside the job or a folder above it.", "\"blanks/tall-20\"")
            .kind("a file name").lacks("which kind of cup it is");
        SPECIMEN: String = Key::text(
            "specimen",
            "any cup of the kind",
            "Which of the blank's cups this is, by its name there.",
            "\"2\"",
        );
    }
}
