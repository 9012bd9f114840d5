//! Words of the sheets that are no key of a job: what each means, in a paragraph, with an example.
//!
//! Imports: none.

/// A word of the sheets.
pub struct Word {
    /// As it stands there; other names of it after it.
    pub names: &'static [&'static str],
    /// What it is.
    pub about: &'static str,
    /// Where it is met.
    pub example: &'static str,
}

/// All of them.
pub const WORDS: &[Word] = &[
    Word {
        names: &["wrap template", "template", "wrap"],
        about: "The wall rolled out flat, at true size: a piece of a ring on a tapered cup. Print it at 100 %, cut it out and \
            lay it round the cup: its ends meet at the seam, and its lines are traced through or pricked onto the wall.",
        example: "template/wrap-a4.pdf",
    },
    Word {
        names: &["trial wrap"],
        about: "The printed template laid round the cup before film is cut. Gaps and overlaps of its ends say what the tape \
            could not; written into the job they correct the next template.",
        example: "[[cup.trial]]  bars = 99.8  gap = { rim = 0.8, base = -0.4 }",
    },
    Word {
        names: &["front line"],
        about: "The line up the wall that faces whoever holds the cup. Places round the cup are measured from it along the \
            ring at that height: R to the right, L to the left.",
        example: "no. 12: up 65.6, round L 26.3",
    },
    Word {
        names: &["quarter line", "quarter lines"],
        about: "Lines up the wall a quarter of a turn apart: front, right, back, left. Maps are parted by them.",
        example: "map/map.html, zone by zone",
    },
    Word {
        names: &["height ring", "rings"],
        about: "A line round the cup at one height, measured along the wall from the base edge. On the rolled-out wall it is an \
            arc. In a job, a ring is a height with the girth that the tape read there.",
        example: "rings = [{ up = 0, girth = 207.3 }, { up = 165, girth = 270.2 }]",
    },
    Word {
        names: &["girth", "circumference"],
        about: "What a tape laid once round the cup reads. It is pi times the diameter: an error of a millimetre across is one \
            of more than three round.",
        example: "girth = [207.3, 207.6] where it was read twice",
    },
    Word {
        names: &["motif"],
        about: "A drawing cut from one film and placed on its own.",
        example: "[[motif]]  art = \"art/robin.svg\"  width = 36  film = \"ink-blue\"",
    },
    Word {
        names: &["spot", "spots", "accent spot"],
        about: "A small plain shape of an accent fill: many of them fill what motifs and lettering leave, each at least the gap \
            from its neighbours.",
        example: "[[accent]]  family = \"pebble\"  smallest = 5  largest = 9  gap = 2",
    },
    Word {
        names: &["decal"],
        about: "Lettering or art in a stack of film layers, each lower one reaching out farther than the one above.",
        example: "layers = [{ film = \"straw\", offset = 1.6 }, { film = \"damson\" }]",
    },
    Word {
        names: &["registration key", "registration mark", "registration marks", "key marks"],
        about: "A square and a triangle cut beside a decal in every layer, at the same places: laid over each other they bring \
            the layers together. They are lifted off when the stack is done.",
        example: "keys = 4, or keys = false",
    },
    Word {
        names: &["hinge line"],
        about: "The line along the registration keys where a strip of tape is laid across all layers: each is turned down on it \
            like a page, always to the same place.",
        example: "view/decal-1.svg, the chain line",
    },
    Word {
        names: &["weeding"],
        about: "Pulling the waste off a cut sheet, so that only the pieces stay on the backing.",
        example: "weeding/ink-blue-1.svg shows what stays, with its numbers",
    },
    Word {
        names: &["weeding line", "weeding lines", "weeding frame"],
        about: "Cuts through the waste of a sheet, clear of all pieces, so that it comes off in strips of a handy width; the \
            frame parts it from the rest of the sheet.",
        example: "weeding = { frame = 3, lines = 60, clear = 1 }",
    },
    Word {
        names: &["kiss cut"],
        about: "A cut through the film and not through its backing.",
        example: "cut/ink-blue-1.svg is to be cut so",
    },
    Word {
        names: &["transfer tape"],
        about: "Tape that lifts pieces off the backing in their places, to be laid on the cup at once.",
        example: "panels and decals are laid with it",
    },
    Word {
        names: &["leftover", "leftovers", "offcut"],
        about: "What a job leaves of a sheet that is worth keeping, outlined at its own size. The next job names the file, and \
            it is used before new film.",
        example: "leftovers = [\"ink-blue-1a.svg\"] under [[film]]",
    },
    Word {
        names: &["check bar", "bars", "bar of 100 mm"],
        about: "Lines of a stated length that are measured after printing or before cutting: if they are not as long as they \
            say, neither is anything else on the page.",
        example: "bars = { short-side = 99.4, long-side = 99.8 } under [print]",
    },
    Word {
        names: &["zone"],
        about: "A part of the map: a quarter of the wall, upper or lower half, at twice its size or more.",
        example: "front, upper, 24 pieces",
    },
    Word {
        names: &["dot without a number", "dots"],
        about: "On the map at true size, a piece too small and too close among others for a number: it stands on the picture of \
            its zone, and in the table.",
        example: "map/map.svg",
    },
    Word {
        names: &["bury", "buried"],
        about: "Clear coats over film until its edges are no longer felt: the film's rise, and what sanding takes, must lie under \
            them.",
        example: "it needs 0.23 mm of clear coats over it; the steps put on 0.88 mm",
    },
    Word {
        names: &["recoat window"],
        about: "The time after a coat in which the next one bonds without sanding. The product's data sheet says it; what stands \
            in the job is only as good as that.",
        example: "next from 18:20, next until 21:00",
    },
    Word {
        names: &["specimen"],
        about: "One cup of a kind that is bought again: its girths at the heights of the kind's own readings.",
        example: "cup = { blank = \"blanks/fair-beaker\", specimen = \"2\" }",
    },
];

/// The word that is asked for, in singular or plural, however it is written.
pub fn find(wanted: &str) -> Option<&'static Word> {
    let plain = |t: &str| {
        let t = t.trim().to_lowercase().replace('-', " ");
        t.strip_suffix('s').unwrap_or(&t).to_owned()
    };
    WORDS.iter().find(|w| w.names.iter().any(|n| plain(n) == plain(wanted)))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Each name leads to its word alone, and each word says something.
    #[test]
    fn every_name_leads_to_its_word() {
        for w in WORDS {
            assert!(w.about.ends_with('.') && !w.example.is_empty(), "{:?}", w.names);
            for n in w.names {
                assert_eq!(find(n).expect("found").names, w.names);
                assert_eq!(find(&n.to_uppercase()).expect("found").names, w.names);
            }
        }
        assert!(find("no such word").is_none());
    }
}
