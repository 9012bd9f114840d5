//! What decals show, read through the job's source: fonts and drawings, each once.
//!
//! Imports: base, read, make::{cup, decal}, make::plan::run.

use super::run::{NO_FILE, Shelf};
use crate::base::diag::{Diagnostic, Faults, KeyPath, Reported};
use crate::make::cup::Cup;
use crate::make::decal::{self, Decal, Material};
use crate::read::job::Job;
use crate::read::job::decals::{FontName, Shows};
use crate::read::letter::Font;
use crate::read::letter::font::LARGEST_FONT;
use crate::read::source::Source;
use std::collections::BTreeMap;

/// Makes the job's decals.
pub(super) fn decals(
    job: &Job,
    shelf: &mut Shelf,
    cup: &Cup,
    found: &mut Faults,
) -> Result<Vec<Decal>, Reported> {
    let mut fonts: BTreeMap<String, Result<Font, Reported>> = BTreeMap::new();
    let mut failed = None;
    for (i, spec) in job.decals.iter().enumerate() {
        let at = KeyPath::root().key("decal").index(i);
        let read = match &spec.shows {
            Shows::Words { font, .. } => {
                let font = fonts
                    .entry(name(font))
                    .or_insert_with(|| read_font(font, shelf.source, &at.key("font"), found));
                font.as_ref().err().copied()
            }
            Shows::Drawing { art, .. } => shelf.art(art, &at.key("art"), found).err(),
        };
        failed = failed.or(read);
    }
    if let Some(r) = failed {
        return Err(r);
    }
    let mut materials = Vec::new();
    for spec in &job.decals {
        materials.push(match &spec.shows {
            Shows::Words { font, .. } => Material::Font(fonts[&name(font)].as_ref().map_err(|r| *r)?),
            Shows::Drawing { art, .. } => Material::Drawing(shelf.had(art)?),
        });
    }
    decal::make(&job.decals, &materials, cup, &job.films, found)
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
    found: &mut Faults,
) -> Result<Font, Reported> {
    match name {
        FontName::File(file) => match source.bytes(file, LARGEST_FONT) {
            Ok(bytes) => Font::read(file, bytes, at, found),
            Err(missing) => Err(found.push(
                Diagnostic::fault(
                    &NO_FILE,
                    at.clone(),
                    format!("\"{file}\" cannot be read: {}", missing.why),
                )
                .file(file)
                .mend("put the font into the job's folder, or mend its name here"),
            )),
        },
        FontName::Family(family) if Font::is_embedded(family) => Font::embedded(family, at, found),
        FontName::Family(family) => match source.font(family, LARGEST_FONT) {
            Ok(file) => Font::read(&file.name, file.bytes, at, found),
            // The embedded ones are named by the fault.
            Err(missing) => Font::unknown(family, &missing.why, at, found),
        },
    }
}
