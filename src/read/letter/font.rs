//! [`Font`]: a font file that is known to be one, and the three that every copy of the program brings.
//!
//! harfrust and skrifa live in this folder only.
//!
//! Imports: base, outline, read::letter, read::letter::codes.

use super::codes::{BAD_FONT, MACHINE_FONT, UNKNOWN_FONT};
use crate::base::diag::{Diagnostic, Diagnostics, ErrorGuaranteed, KeyPath};
use skrifa::prelude::{LocationRef, Size};
use skrifa::raw::types::Tag;
use skrifa::{FontRef, MetadataProvider};
use std::borrow::Cow;

/// Largest font file, bytes.
pub const LARGEST_FONT: u64 = 20 * 1024 * 1024;

/// Fonts that need no file: an upright sans, a script, a round display face. All under the SIL Open Font
/// Licence 1.1; the licences lie beside them in `fonts/`.
const EMBEDDED: [(&str, &[u8]); 3] = [
    ("Source Sans Pro Bold", include_bytes!("fonts/SourceSansPro-Bold.otf")),
    ("Kaushan Script", include_bytes!("fonts/KaushanScript-Regular.otf")),
    ("Fredoka One", include_bytes!("fonts/FredokaOne-Regular.ttf")),
];

/// Tables of glyphs that are pictures (OpenType 1.9: CBDT, sbix, SVG, EBDT) or layers of colour (COLR).
fn holds_pictures(font: &FontRef) -> bool {
    [b"CBDT", b"sbix", b"SVG ", b"COLR", b"EBDT"].iter().any(|t| font.table_data(Tag::new(t)).is_some())
}

/// Does the font name tables that its file does not hold whole?
fn cut_short(font: &FontRef, bytes: usize) -> bool {
    let ends = |r: &skrifa::raw::TableRecord| r.offset() as u64 + u64::from(r.length());
    font.table_directory.table_records().iter().any(|r| ends(r) > bytes as u64)
}

/// A font that can be lettered with.
#[derive(Clone, Debug, PartialEq)]
pub struct Font {
    name: String,
    data: Cow<'static, [u8]>,
}

/// Heights of a font, in parts of its em.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Metrics {
    /// Font units of one em.
    pub units_per_em: f64,
    /// Height of capitals.
    pub cap_height: f64,
    /// From one baseline to the next as the font suggests.
    pub line: f64,
}

impl Font {
    /// Names of the fonts that need no file.
    pub fn embedded_names() -> impl Iterator<Item = &'static str> {
        EMBEDDED.iter().map(|(name, _)| *name)
    }

    /// A font that needs no file, by its name in any case.
    ///
    /// # Errors
    /// Reports [`UNKNOWN_FONT`] with the names that there are.
    pub fn embedded(
        name: &str,
        at: &KeyPath,
        diagnostics: &mut Diagnostics,
    ) -> Result<Font, ErrorGuaranteed> {
        match EMBEDDED.iter().find(|(n, _)| n.eq_ignore_ascii_case(name.trim())) {
            Some((name, data)) => Ok(Font { name: (*name).to_owned(), data: Cow::Borrowed(data) }),
            None => Font::unknown(name, "it is not one of those that need no file", at, diagnostics),
        }
    }

    /// Does a font of this name need no file?
    pub fn is_embedded(name: &str) -> bool {
        EMBEDDED.iter().any(|(n, _)| n.eq_ignore_ascii_case(name.trim()))
    }

    /// Reports a font that is neither embedded nor on this machine.
    ///
    /// # Errors
    /// Always: [`UNKNOWN_FONT`].
    pub fn unknown(
        name: &str,
        why: &str,
        at: &KeyPath,
        diagnostics: &mut Diagnostics,
    ) -> Result<Font, ErrorGuaranteed> {
        let names: Vec<&str> = Font::embedded_names().collect();
        let d =
            Diagnostic::fault(&UNKNOWN_FONT, at.clone(), format!("there is no font \"{name}\" here: {why}"))
                .allowed(names.join(", "))
                .help("take one of these, or name a font file (.ttf or .otf) in the job's folder");
        Err(diagnostics.push(d))
    }

    /// Says that a font was found on this machine only.
    pub fn of_this_machine(family: &str, file: &str, at: &KeyPath, diagnostics: &mut Diagnostics) {
        let message = format!("\"{family}\" was found on this machine, not in the job's folder");
        let d = Diagnostic::note(&MACHINE_FONT, at.clone(), message).file(file);
        diagnostics.push(d.help(
            "copy the file into the folder `fonts` beside the job, so that it comes out the same next year",
        ));
    }

    /// A font from the bytes of its file.
    ///
    /// # Errors
    /// Reports [`BAD_FONT`] if it is too large, no font, or a font without outlines.
    pub fn read(
        name: &str,
        bytes: Vec<u8>,
        at: &KeyPath,
        diagnostics: &mut Diagnostics,
    ) -> Result<Font, ErrorGuaranteed> {
        let bad_for = |message: String, mend: &str| {
            Diagnostic::fault(&BAD_FONT, at.clone(), message).file(name).help(mend)
        };
        let bad = |message: String| {
            // The signature of a packed web font (W3C, WOFF File Format 1.0 and 2.0).
            let mend = match bytes.get(..4) {
                Some(b"wOFF" | b"wOF2") => {
                    "this is a packed web font: unpack it to a .ttf or .otf, as fontTools does (`fonttools \
                        ttLib.woff2 decompress FILE`), or take the same face as .ttf or .otf"
                }
                _ => "take a TrueType or OpenType font (.ttf or .otf)",
            };
            bad_for(message, mend)
        };
        if bytes.len() as u64 > LARGEST_FONT {
            let d = bad("the font is too large".into()).measured(format!("{} bytes", bytes.len()));
            return Err(diagnostics.push(d.allowed(format!("at most {LARGEST_FONT} bytes"))));
        }
        let fault = match FontRef::new(&bytes) {
            Err(e) => Some(bad(format!("this is no font that can be read: {e}"))),
            Ok(f) if cut_short(&f, bytes.len()) => Some(bad_for(
                "this font file is cut short: tables that it names lie beyond its end".into(),
                "copy the file again from where it came",
            )),
            Ok(f) if f.outline_glyphs().format().is_some() => None,
            Ok(f) if holds_pictures(&f) => Some(bad_for(
                "this font holds pictures in colours, not outlines: a blade has nothing to follow".into(),
                "bring the picture as SVG art (`art` of a decal or a motif), or take another font",
            )),
            Ok(_) => Some(bad("this font has no outlines to cut".into())),
        };
        match fault {
            Some(fault) => Err(diagnostics.push(fault)),
            None => Ok(Font { name: name.to_owned(), data: Cow::Owned(bytes) }),
        }
    }

    /// What it is called.
    pub fn name(&self) -> &str {
        &self.name
    }

    /// The font as its readers want it; [`Self::read`] has seen that it is one.
    pub(super) fn face(&self) -> Option<FontRef<'_>> {
        FontRef::new(&self.data).ok()
    }

    /// Characters of a text that it has no glyph for, each once.
    pub fn lacks(&self, text: &str) -> Vec<char> {
        let Some(face) = self.face() else { return Vec::new() };
        let map = face.charmap();
        let mut out: Vec<char> = Vec::new();
        for c in text.chars().filter(|c| map.map(*c).is_none_or(|g| g.to_u32() == 0)) {
            if !out.contains(&c) {
                out.push(c);
            }
        }
        out
    }

    /// Its heights.
    pub fn metrics(&self) -> Metrics {
        let Some(face) = self.face() else {
            return Metrics { units_per_em: 1000.0, cap_height: 0.7, line: 1.2 };
        };
        let m = face.metrics(Size::unscaled(), LocationRef::default());
        let em = f64::from(m.units_per_em.max(1));
        // The drawn H rather than the stated height: fonts state it with a few hundredths to spare.
        let drawn = face.charmap().map('H').and_then(|g| {
            let mut pen = super::Pen::default();
            let at = skrifa::outline::DrawSettings::unhinted(Size::unscaled(), LocationRef::default());
            face.outline_glyphs().get(g)?.draw(at, &mut pen).ok()?;
            Some(crate::outline::KurboShape::bounding_box(&pen.0).y1)
        });
        let cap = drawn.or(m.cap_height.map(f64::from)).filter(|c| *c > 0.0).map_or(0.7, |c| c / em);
        Metrics { units_per_em: em, cap_height: cap, line: f64::from(m.ascent - m.descent + m.leading) / em }
    }
}
