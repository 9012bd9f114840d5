//! What can be wrong with lettering.
//!
//! Imports: base.

use crate::base::diag::Code;

/// Not one of the embedded fonts.
pub const UNKNOWN_FONT: Code = Code {
    id: "letter/unknown-font",
    title: "there is no font of that name",
    explain: "Three fonts need no file. Any other is named by its file (.ttf or .otf) in the job's folder, \
        or by its family, which is looked for in the folder `fonts` beside the job and then on this machine.",
};
/// A font of this machine, not of the job.
pub const MACHINE_FONT: Code = Code {
    id: "letter/machine-font",
    title: "the font comes from this machine, not from the job's folder",
    explain: "A font that is found by its family on this machine may be missing, or of another version, on \
        the next one, or here next year: the letters would come out otherwise. Copy the file into the \
        folder `fonts` beside the job, if its licence lets you, and the job is whole.",
};
/// Not a font.
pub const BAD_FONT: Code = Code {
    id: "letter/bad-font",
    title: "the font file cannot be used",
    explain: "Lettering needs a TrueType or OpenType font with outlines, of at most 20 MiB. Fonts of pixels \
        only and packed web fonts have none that can be read.",
};
/// No such glyph.
pub const NO_GLYPH: Code = Code {
    id: "letter/no-glyph",
    title: "the font lacks a character",
    explain: "A font that lacks a character shows a box or nothing. Take another character or another font. \
        Emoji and colour glyphs are pictures, not outlines: bring them as art instead.",
};
/// Text that cannot be lettered.
pub const TEXT: Code = Code {
    id: "letter/text",
    title: "the text cannot be lettered",
    explain: "Text needs at least one visible character, at most 200 characters, no control characters, and \
        each line in one writing direction. Give each line as a text of its own.",
};
/// All codes of this module.
pub const CODES: &[&Code] = &[&UNKNOWN_FONT, &MACHINE_FONT, &BAD_FONT, &NO_GLYPH, &TEXT];
