//! Fonts by the name of their family: in the job's folder `fonts/` first, then where the system keeps its
//! own.
//!
//! fontdb lives here only.
//!
//! Imports: read::source.

use crate::read::source::{FontFile, Missing};
use fontdb::{Database, FaceInfo, Source, Style};
use std::cmp::Reverse;
use std::fs::File;
use std::io::Read;
use std::path::{Path, PathBuf};

/// Finds a font by its family ("Lobster Two"), or by family and style ("Lobster Two Bold"); case, spaces and
/// hyphens do not count. Of a family the upright regular one is taken.
///
/// # Errors
/// [`Missing`] with the nearest names when there is none.
pub fn find(folder: &Path, family: &str, limit: u64) -> Result<FontFile, Missing> {
    let mut own = Database::new();
    own.load_fonts_dir(folder.join("fonts"));
    if let Some(path) = best(&own, family) {
        return read(&path, limit, true);
    }
    let mut system = Database::new();
    system.load_system_fonts();
    match best(&system, family) {
        Some(path) => read(&path, limit, false),
        None => Err(Missing { why: lacking(&system, family) }),
    }
}

/// What counts of a name.
fn plain(name: &str) -> String {
    name.chars().filter(|c| c.is_alphanumeric()).flat_map(char::to_lowercase).collect()
}

/// The file of the face that fits best; the same one whatever the order in which files were met.
fn best(db: &Database, family: &str) -> Option<PathBuf> {
    let wanted = plain(family);
    let fits = |f: &FaceInfo| {
        let by_family = f.families.iter().any(|(n, _)| plain(n) == wanted);
        by_family || plain(&f.post_script_name) == wanted
    };
    let rank = |f: &FaceInfo| {
        let exact = plain(&f.post_script_name) == wanted;
        (
            Reverse(exact),
            f.style != Style::Normal,
            f.weight.0.abs_diff(400),
            f.stretch != fontdb::Stretch::Normal,
        )
    };
    let mut found: Vec<(_, PathBuf)> = db
        .faces()
        // A collection's faces share a file; the reader takes single fonts only.
        .filter(|f| fits(f) && f.index == 0)
        .filter_map(|f| match &f.source {
            Source::File(path) => Some((rank(f), path.clone())),
            _ => None,
        })
        .collect();
    found.sort();
    found.into_iter().next().map(|(_, path)| path)
}

fn read(path: &Path, limit: u64, beside: bool) -> Result<FontFile, Missing> {
    let missing = |e: std::io::Error| Missing { why: e.to_string() };
    let mut bytes = Vec::new();
    File::open(path)
        .map_err(missing)?
        .take(limit.saturating_add(1))
        .read_to_end(&mut bytes)
        .map_err(missing)?;
    if bytes.len() as u64 > limit {
        return Err(Missing::larger_than(limit));
    }
    let name = path.file_name().map_or_else(String::new, |n| n.to_string_lossy().into_owned());
    Ok(FontFile { name, bytes, beside })
}

/// What there is instead.
fn lacking(db: &Database, family: &str) -> String {
    let mut names: Vec<&str> = db.faces().flat_map(|f| f.families.first().map(|(n, _)| n.as_str())).collect();
    names.sort_unstable();
    names.dedup();
    let near = names
        .iter()
        .map(|n| (strsim::jaro_winkler(&n.to_lowercase(), &family.to_lowercase()), *n))
        .filter(|(s, _)| *s > 0.85)
        .max_by(|a, b| a.0.total_cmp(&b.0));
    match near {
        Some((_, near)) => format!("neither the folder `fonts` nor this machine has it; there is \"{near}\""),
        None => {
            format!("neither the folder `fonts` nor this machine has it ({} families looked at)", names.len())
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_font_in_the_jobs_folder_is_found_by_family_and_by_style() {
        let dir = tempfile::tempdir().expect("folder");
        std::fs::create_dir(dir.path().join("fonts")).expect("folder");
        let font = include_bytes!("../read/letter/fonts/FredokaOne-Regular.ttf");
        std::fs::write(dir.path().join("fonts/x.ttf"), font).expect("file");
        std::fs::write(dir.path().join("fonts/no.ttf"), b"no font").expect("file");
        for name in ["Fredoka One", "fredoka-one", "FREDOKA ONE REGULAR"] {
            let found = find(dir.path(), name, 1 << 20).expect(name);
            assert_eq!((found.name.as_str(), found.bytes.len()), ("x.ttf", font.len()));
        }
        assert!(find(dir.path(), "Fredoka One", 10).unwrap_err().why.contains("larger than 10 bytes"));
        let none = find(dir.path(), "No Such Family Anywhere", 10).unwrap_err().why;
        assert!(none.contains("neither"), "{none}");
    }
}
