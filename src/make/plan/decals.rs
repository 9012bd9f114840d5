//! What decals show, read through the job's source: fonts and drawings, each once.
//!
//! Imports: base, read, make::decal, make::plan::run.

use super::run::NO_FILE;
use crate::base::diag::{Diagnostic, Diagnostics, ErrorGuaranteed, KeyPath};
use crate::make::decal::Material;
use crate::read::art::Artwork;
use crate::read::job::Job;
use crate::read::job::decals::{FontName, Shows};
use crate::read::letter::Font;
use crate::read::letter::font::LARGEST_FONT;
use crate::read::source::Source;
use std::collections::BTreeMap;

/// Fonts by what names them.
pub(super) type Fonts = BTreeMap<String, Result<Font, ErrorGuaranteed>>;

/// Every font that the job's decals name, each read once.
pub(super) fn fonts(job: &Job, source: &dyn Source, diagnostics: &mut Diagnostics) -> Fonts {
    let mut fonts = Fonts::new();
    for (i, spec) in job.decals.iter().enumerate() {
        if let Shows::Words { font, .. } = &spec.shows {
            let at = KeyPath::root().key("decal").index(i).key("font");
            fonts.entry(name(font)).or_insert_with(|| read_font(font, source, &at, diagnostics));
        }
    }
    fonts
}

/// What each decal shows: its font, or its drawing, which was read before.
pub(super) fn materials<'a>(
    job: &Job,
    read: &'a BTreeMap<String, Result<Artwork, ErrorGuaranteed>>,
    fonts: &'a Fonts,
) -> Vec<Material<'a>> {
    let of = |shows: &Shows| match shows {
        Shows::Words { font, .. } => fonts[&name(font)].as_ref().map(Material::Font),
        Shows::Drawing { art, .. } => read[art].as_ref().map(Material::Drawing),
    };
    job.decals.iter().map(|spec| of(&spec.shows).unwrap_or_else(|r| Material::Lacking(*r))).collect()
}

fn name(font: &FontName) -> String {
    match font {
        FontName::File(f) => format!("file {f}"),
        FontName::Family(f) => format!("family {}", f.trim().to_lowercase()),
    }
}

/// A font file of the job's folder, one that needs no file, or one that the machine has.
fn read_font(
    name: &FontName,
    source: &dyn Source,
    at: &KeyPath,
    diagnostics: &mut Diagnostics,
) -> Result<Font, ErrorGuaranteed> {
    match name {
        FontName::File(file) => match source.bytes(file, LARGEST_FONT) {
            Ok(bytes) => Font::read(file, bytes, at, diagnostics),
            Err(missing) => Err(diagnostics.push(
                Diagnostic::fault(
                    &NO_FILE,
                    at.clone(),
                    format!("\"{file}\" cannot be read: {}", missing.why),
                )
                .file(file)
                .help("put the font into the job's folder, or mend its name here"),
            )),
        },
        FontName::Family(family) if Font::is_embedded(family) => Font::embedded(family, at, diagnostics),
        FontName::Family(family) => match source.font(family, LARGEST_FONT) {
            Ok(file) => {
                if !file.beside {
                    Font::of_this_machine(family, &file.name, at, diagnostics);
                }
                Font::read(&file.name, file.bytes, at, diagnostics)
            }
            // The embedded ones are named by the fault.
            Err(missing) => Font::unknown(family, &missing.why, at, diagnostics),
        },
    }
}
