//! Everything that can be wrong with a job's text, as `frusta explain` tells it.
//!
//! Imports: base.

use crate::base::diag::Code;

macro_rules! codes {
    ($($name:ident $id:literal $title:literal $explain:literal)*) => {
        $(#[doc = $title] pub static $name: Code = Code { id: $id, title: $title, explain: $explain };)*
        /// All codes of the job reader.
        pub static CODES: &[&Code] = &[$(&$name),*];
    };
}

codes! {
    SYNTAX "job/syntax" "The job is not well-formed TOML"
    "A job is a TOML file: `key = value` lines under `[headings]`. Text stands in quotes, lists in square \
        brackets, and every key stands once. The place is where reading broke; the slip is there or just \
        before it. Other faults are still reported, except missing keys, which the slip may only have \
        hidden."
    TOO_LARGE "job/too-large" "The job's text is larger than any job needs to be"
    "A job of a few hundred lines is a large one. A text above one mebibyte is refused before it is read: \
        most likely the file is not a job at all."
    UNKNOWN_KEY "job/unknown-key" "A key that no part of a job has"
    "Keys are checked strictly, because a misspelt key that is silently ignored costs a sheet of film. The \
        mend names the nearest key known at that place, or all of them."
    MISSING_KEY "job/missing-key" "Something that the job must say is not there"
    "The mend gives a line to add; its value is only an example."
    WRONG_KIND "job/wrong-kind" "A value of another kind than its key needs"
    "Lengths are numbers in the job's unit, or text with a unit: 165, \"16.5 cm\", \"6 1/2 in\". Angles are \
        degrees. Names and files are text in quotes. Lists stand in square brackets, tables in braces or \
        under a heading."
    UNREADABLE "job/unreadable" "A value that cannot be read"
    "Lengths take mm, cm, m, in, ft, yd, with fractions: \"3 1/2 in\", \"3-1/2 in\", \"3\u{bd} in\", \
        \"3.5\\\"\". Write a decimal point, not a comma. Angles take deg, turn, rad. Volumes take ml, cl, \
        l, fl oz (US) and imp fl oz. Dates are year-month-day."
    OUT_OF_RANGE "job/out-of-range" "A value outside what is allowed"
    "Ranges are wide enough for every drinking cup and every film cutter that a solo maker has; a value \
        outside is nearly always a slip of unit or a missing decimal point. Where another unit would fit, \
        the mend says so."
    UNKNOWN_CHOICE "job/unknown-choice" "A word that is not among the choices"
    "The allowed words are listed; they are lower-case and hyphenated."
    UNKNOWN_PASS "job/unknown-pass" "A film step that the job does not have"
    "`pass` says in which film step something goes on, by the `name` of a `[[finish.step]]` with do = \"film\". \
        Without it everything goes on in the first film step."
    PASS_TWICE "job/pass-twice" "Two film steps with one name"
    "Motifs, accents and decals name their film step by its `name`: each needs its own."
    CUPS_DIFFER "job/cups-differ" "Two numbers of cups in one job"
    "`order.cups` says how many cups are made; film, coats and price follow it. `finish.cups` alone prices so \
        many cups whose film is laid out one by one. Both together must agree."
    ONE_OF "job/one-of" "Two ways of saying the same thing, or none"
    "Some things can be said in one of two ways: the cup by rings or by diameters, film by sheet or by \
        roll, a motif by copies or by poses. Exactly one of them must be there."
    FILM_NAME "job/film-name" "A film's name that cannot be used"
    "Film names become file names of cut sheets, so they are lower-case letters, digits and hyphens, at \
        most 40, and no two films share one."
    UNKNOWN_FILM "job/unknown-film" "A film that the job does not have"
    "Motifs and accents name their film by the `name` of a `[[film]]` of the same job. With a single film \
        the name may be left out."
    UNKNOWN_SHEET "job/unknown-sheet" "A printed sheet that the job does not have"
    "Motifs and picks name a printed sheet by the `name` of a `[[sheet]]` of the same job."
    FILE_NAME "job/file-name" "A file name that leads out of the job's folder"
    "Art lies in the job's folder or in folders below it, and is named by its path from there with forward \
        slashes: \"art/pea-pod.svg\". Absolute paths, drive letters, backslashes and `..` are refused, so \
        that a job from somebody else cannot reach other files."
    BLANK "cup/blank" "A blank's file that cannot be used"
    "`cup = \"blanks/tall-20\"` reads the cup from the file blanks/tall-20.toml beside the job, or beside one of \
        the folders above it. That file says `blank` (its name) and `[cup]` as a job does; other cups of the kind \
        are added as `[[specimen]]` with a name and one girth for each height. Old readings stay: a cup that is \
        read again has its name again."
    ALIKE "cup/alike" "How much cups of one kind differ"
    "Cups of one kind differ by a few tenths of a millimetre round. From the specimens that were read, and from \
        what is usual where few were (a half-normal prior of 0.32 mm), follows how likely all cups of an order \
        lie within the blank's `within` of one shared template. Below 90 % each cup is better read and made with \
        `specimen`; its readings are then drawn towards those of its kind, by how much these differ."
    SIZES_REVERSED "accent/sizes-reversed" "The smallest spot is larger than the largest"
    "`smallest` and `largest` bound the longest extent of a spot. Swap them, or make them equal for spots \
        of one size."
    UNIT_SLIP "cup/unit-slip" "A reading that looks like another unit or another thing"
    "Readings are checked against each other and against the stated capacity: a diameter typed where a \
        girth is asked for is too small by pi (3.14), inches typed as millimetres by 25.4, centimetres by \
        10. When the readings make no plausible cup but one such slip explains them, this says which. It is \
        a fault when the readings as typed cannot be right, else a warning. If they are right after all, \
        state the cup's `capacity`: readings that agree with it are taken as they are."
    SLANT_TOO_SHORT "cup/slant-too-short" "The wall is shorter than half the difference of the diameters"
    "Going up the wall by its slant, the radius cannot change by more than the slant itself. Measure the \
        slant along the wall with the tape laid flat on it, not straight up; and check that both girths (or \
        diameters) are of this cup."
    TOO_STEEP "cup/leans-too-far" "The wall leans more than a cup's does"
    "Walls up to 45 degrees from upright are taken. Beyond that the shape is a bowl or a plate and film \
        laid round it fails in other ways than a cup's."
    CAPACITY "cup/capacity" "The stated capacity does not fit the readings"
    "The outside of a cup holds 1.1 to 1.4 times its nominal capacity (measured on cups sold with both \
        figures; double walls reach higher). Far from that, a reading or the capacity is wrong: look for a \
        US ounce (29.57 ml) taken for an imperial one (28.41 ml), for a brim capacity, for a diameter typed \
        as a girth."
    RIM_BAND "cup/rim-band" "Film comes nearer than 20 mm to the rim"
    "Lips touch the outside of a drinking cup down to about 20 mm below the rim, and coatings and films are \
        seldom cleared for contact with food or mouth. Keep the band, or make sure from the product's data \
        sheet and the rules where you sell that what you put there may be there."
    RINGS "cup/rings" "Tape readings that do not tell the cup's shape"
    "A cone needs two girths at different heights, the further apart the better: what is read over a short \
        piece of wall is stretched over the whole, tape error and all. Read just above the base curve and \
        just below the rim, and a third in the middle to see whether the wall is straight."
    EDGE "cup/edge" "An edge of the wall that is not where one can be"
    "`edge = true` on a ring says that a fingernail feels an edge there: a foot, a shoulder. The wall below and \
        above it are two cones, so each needs a girth of its own: the edge's ring, and one more below the \
        lowest edge and above the highest. Between two edges their own rings do. Base edge and rim are no \
        such edges."
    CURVED "cup/curved" "A curved wall that is not said as one can be"
    "`curved = true` says that the wall is a smooth curve: a straightedge laid up it rocks, or shows light. Its \
        girth must then be read at three heights or more (five tell a bad reading from the curve, seven are \
        better), the lowest and the highest no farther from base edge and rim than a tenth of the wall: what \
        lies beyond the rings is not known."
    OUTLINE "cup/outline" "An outline from a photograph that does not go with the wall"
    "`[[cup.outline]]` holds what `frusta measure JOB --photo PICTURE` read from a picture of the cup: girths at \
        five heights or more, lowest first, over half the wall at least. It tells how the wall curves between the \
        rings that the tape read; how wide the cup is and how it leans, the tape tells."
    NO_WALL_LEFT "cup/no-wall-left" "The keep-clear bands leave no wall to decorate"
    "The bands at rim and base together must leave at least 5 mm of wall."
    HANDLE "cup/handle" "A handle's window that is not on the wall"
    "`from` and `to` are heights up the wall from the base edge to the lower and upper end of the part that \
        film must not touch; `width` is measured round the wall at half its height."
    NO_SHEET_LEFT "film/no-sheet-left" "The margins leave no film to cut"
    "The margin is taken off every edge of the sheet or roll; what is left must be at least 10 mm each way."
    NOTHING_TO_MAKE "job/nothing-to-make" "The job has neither decals, motifs nor accents"
    "Without decals, motifs and accents the kit is only the wrap template and the cup's figures. That is a \
        whole job for somebody who wants only the template; if it is not what you want, add a `[[decal]]`, \
        a `[[motif]]` or an `[[accent]]`."
    BARS_OFF "print/bars-off" "The bars are off by more than printers are"
    "A printer set to 100 % is true within a percent or so. Bars that are off by more than two percent are \
        nearly always a print that was fitted to the page. Print once more at 100 % (\"actual size\"), \
        measure both bars of that print, and type what they measure under `bars`. Bars are measured on a \
        print that was made without a correction. The correction is taken as typed all the same."
}
