//! What can be wrong with a printed sheet.
//!
//! Imports: base.

use crate::base::diag::Code;

/// The scale of a picture is not known.
pub const NO_SCALE: Code = Code {
    id: "sheet/no-scale",
    title: "the scale of a picture is not known",
    explain: "A scan carries its dpi; pictures that passed through other programs often carry 72 or 96, which \
        means that nobody knew. Write the dpi that the sheet was scanned at as `scale`. What a scanner says is \
        a claim: measure a bar of 100 mm in the picture and write what it seems to be as `bar`.",
};
/// A picture has too few pixels.
pub const COARSE: Code = Code {
    id: "sheet/coarse",
    title: "a picture is too coarse to cut by",
    explain: "Outlines are found to a tenth of a pixel or better, which at 300 dpi is a hundredth of a \
        millimetre. Below 100 dpi thin parts are lost altogether. Scan at 300 dpi.",
};
/// A picture shows no backing.
pub const NO_BACKING: Code = Code {
    id: "sheet/no-backing",
    title: "a picture shows nothing that could be the backing",
    explain: "What is print is told by its difference from what the sheet lies on: plain white paper, or dark \
        paper for pale prints. Here no colour covers a tenth of the picture.",
};
/// A picture is too noisy.
pub const NOISY: Code = Code {
    id: "sheet/noisy",
    title: "a picture is too noisy to find motifs on",
    explain: "Thousands of specks were found. Backings with a grid or a pattern, dirt on the glass and hard \
        packing do that.",
};
/// Nothing was found.
pub const NO_MOTIF: Code = Code {
    id: "sheet/no-motif",
    title: "nothing is found on a sheet",
    explain: "Nothing differs enough from the backing, or all that does is smaller than a speck. White prints \
        cannot be seen on white: scan them on dark paper.",
};
/// Small things were left out.
pub const SPECKS: Code = Code {
    id: "sheet/specks",
    title: "small things on a sheet are taken for dirt",
    explain: "What is smaller than `speck` and not near enough to a motif to belong to it is left out.",
};
/// Straight lines were left out.
pub const LINES: Code = Code {
    id: "sheet/lines",
    title: "long straight lines on a sheet are no motifs",
    explain: "The film's own edge, frames, and the shade of a scanner's lid are longer than six tenths of a \
        side and narrower than a millimetre: they are left out.",
};
/// Motifs are cut off by the sheet's edge.
pub const HALF: Code = Code {
    id: "sheet/half",
    title: "the sheet's edge cuts motifs off",
    explain: "Part of the outline runs straight along the picture's edge: the motif is a half. It is not \
        chosen by a pick; a motif or the pick's `with` may name it.",
};
/// Motifs are almost one.
pub const NEARLY_ONE: Code = Code {
    id: "sheet/nearly-one",
    title: "motifs are almost near enough to be one",
    explain: "Parts that are nearer to each other than `together` are one motif. These are a little farther \
        apart: look at the picture, and write another `together` if they belong together.",
};
/// A number that a sheet has not.
pub const NO_NUMBER: Code = Code {
    id: "sheet/no-number",
    title: "a sheet has no motif of this number",
    explain: "Motifs are numbered by their places: rows from the top of the sheet, each from the left. \
        `frusta sheet` writes a picture with the numbers.",
};
/// A motif is used twice, or is gone.
pub const USED: Code = Code {
    id: "sheet/used",
    title: "a motif of a sheet is there only once",
    explain: "Each motif of a printed sheet can be cut out once. The job asks for it twice, or says that it is \
        gone already.",
};
/// Cut outlines meet.
pub const SHARED: Code = Code {
    id: "sheet/shared-gap",
    title: "motifs are too near each other for their borders",
    explain: "The film between two motifs is narrower than both borders together: each takes half of it, less \
        a little, so that their cuts stay apart.",
};
/// There are not enough motifs to pick from.
pub const TOO_FEW: Code = Code {
    id: "sheet/too-few",
    title: "there are not enough motifs to pick from",
    explain: "A pick takes whole motifs of the sheets that it names, of the sizes that it allows, that are not \
        gone, not used by a `[[motif]]` and not excepted. There are fewer than it asks for.",
};
/// Print that will hardly be seen.
pub const FAINT: Code = Code {
    id: "sheet/faint",
    title: "a print will hardly be seen on the cup",
    explain: "Print on clear film lets the cup shine through: on a dark cup all is dark, and what is pale \
        vanishes on a pale cup. The mean difference of print and cup, in CIELAB, is below ten.",
};

/// Motifs do not fit on the page that is printed.
pub const OWN_FULL: Code = Code {
    id: "sheet/page-full",
    title: "the motifs do not fit on the page that is printed",
    explain: "A sheet that the maker prints herself is one page: its motifs with their bleed lie in rows within \
        the marks, which keep 15.5 mm off the edges. There are more than fit.",
};
/// A picture to be printed is coarse.
pub const OWN_COARSE: Code = Code {
    id: "sheet/coarse-motif",
    title: "a picture is coarse at the size that it is printed at",
    explain: "A picture that has less than 150 pixels an inch where it is printed shows its pixels, and its outline \
        is no finer than they are.",
};
/// The printer's marks were read.
pub const CORRECTED: Code = Code {
    id: "sheet/corrected",
    title: "the cut file is corrected by the printed marks",
    explain: "Printers stretch what they print, along the feed otherwise than across it. The marks of the printed \
        sheet say how much; the cut outlines and the marks in the cut file follow the print. Told are the scales, the \
        lean, what is left at the marks, and how far off cuts may lie: one standard error, two coordinates together.",
};
/// A mark that does not fit.
pub const MISREAD: Code = Code {
    id: "sheet/misread-mark",
    title: "one of the printed marks does not fit the others",
    explain: "Eight marks can say which one of them was misread: without it the others agree. It is left out. Dirt on \
        the glass, a fold, or print that touches the mark does that.",
};
/// The page was printed at another size.
pub const FITTED: Code = Code {
    id: "sheet/print-size",
    title: "the printed marks are not where a printer set to 100 % puts them",
    explain: "Scales off by more than 2 % mean that the page was fitted to the paper, or that a scan's dpi is not what \
        it says; readings that contradict each other by more than 0.3 mm mean that one was misread or the film was \
        not flat. No cut file can be trusted then.",
};
/// The sheet lies face down.
pub const FACE_DOWN: Code = Code {
    id: "sheet/face-down",
    title: "a printed sheet lies face down in its scan",
    explain: "The small disc beside the first mark tells which side is seen. On a page that is printed mirrored it \
        stands at the right corner of the printed side, otherwise at the left one.",
};
/// Marks are not found.
pub const NO_MARKS: Code = Code {
    id: "sheet/no-marks",
    title: "the marks of a page are not found in a picture",
    explain: "Eight black discs of 5 mm stand at the corners and half-way along the sides of a page that this program \
        prints, and a small one beside the first. The corners and two of the others must be seen, whole, on white.",
};
/// The bleed is too narrow.
pub const BLEED: Code = Code {
    id: "sheet/bleed",
    title: "the bleed is narrower than cuts may be off",
    explain: "Where a cut lies off by more than the bleed, a white rim shows. Bleed by at least twice what the marks \
        leave unsure, and what the machine itself is off.",
};

/// A photo was straightened.
pub const STRAIGHTENED: Code = Code {
    id: "sheet/straightened",
    title: "a photo of a sheet is straightened",
    explain: "What the photo shows of known size says how the camera saw the plane; the picture is drawn anew as if from \
        straight above. Told is how far off places may be (one standard error, two coordinates together). Marks cannot \
        see film that bulges: 2 mm of bulge are half a millimetre aside. Weigh the film down.",
};
/// A photo is not sure enough.
pub const UNSURE: Code = Code {
    id: "sheet/unsure",
    title: "places on a photo are not sure to a third of a millimetre",
    explain: "A card carries its own surroundings only, four corners cannot see the lens, and a tilted camera makes \
        all worse. Photograph from straight above, on the page of eight discs, or scan.",
};
/// What should be of known size is not found.
pub const NOT_SHOWN: Code = Code {
    id: "sheet/no-object",
    title: "the photo does not show what its scale is taken from",
    explain: "The card, or the paper that the film lies on, is looked for as the one thing with four straight sides of \
        its proportions, whole, clear of all else, on a ground of another colour. It is not guessed.",
};

/// All codes of this stage.
pub const CODES: &[&Code] = &[
    &NO_SCALE,
    &COARSE,
    &NO_BACKING,
    &NOISY,
    &NO_MOTIF,
    &SPECKS,
    &LINES,
    &HALF,
    &NEARLY_ONE,
    &NO_NUMBER,
    &USED,
    &SHARED,
    &TOO_FEW,
    &FAINT,
    &OWN_FULL,
    &OWN_COARSE,
    &CORRECTED,
    &MISREAD,
    &FITTED,
    &FACE_DOWN,
    &NO_MARKS,
    &BLEED,
    &STRAIGHTENED,
    &UNSURE,
    &NOT_SHOWN,
];
