//! What can be wrong with lettering.
//!
//! Imports: base.

use crate::base::diag::Code;

/// Not one of the embedded fonts.
pub const UNKNOWN_FONT: Code = Code {
    id: "letter/unknown-font",
    title: "there is no font of that name",
    explain: "Three fonts need no file. Any other is named by its file (.ttf or .otf) in the job's folder, so that \
              the same job gives the same letters on every machine.",
};
/// Not a font.
pub const BAD_FONT: Code = Code {
    id: "letter/bad-font",
    title: "the font file cannot be used",
    explain: "Lettering needs a TrueType or OpenType font with outlines, of at most 20 MiB. Fonts of pixels only and \
              packed web fonts have none that can be read.",
};
/// No such glyph.
pub const NO_GLYPH: Code = Code {
    id: "letter/no-glyph",
    title: "the font lacks a character",
    explain: "A font that lacks a character shows a box or nothing. Take another character or another font. Emoji \
              and colour glyphs are pictures, not outlines: bring them as art instead.",
};
/// Text that cannot be lettered.
pub const TEXT: Code = Code {
    id: "letter/text",
    title: "the text cannot be lettered",
    explain: "Text needs at least one visible character, at most 200 characters, no control characters, and each \
              line in one writing direction. Give each line as a text of its own.",
};
/// All codes of this module.
pub const CODES: &[&Code] = &[&UNKNOWN_FONT, &BAD_FONT, &NO_GLYPH, &TEXT];
