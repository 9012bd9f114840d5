//! The earlier kit that a kit is made from: its record, and what was done with it since.
//!
//! Imports: base, read::kept, edge::{folder, kit, cli}, edge::cli::{codes, stages}.

use super::codes::CANNOT_READ;
use super::stages;
use crate::base::diag::{Diagnostic, Diagnostics, ErrorGuaranteed, KeyPath};
use crate::edge::folder::Folder;
use crate::edge::kit::aside::Content;
use crate::read::kept::{FILE, KeptKit, NOT_KEPT};
use std::path::{Path, PathBuf};

/// Reads the record of a kit.
///
/// # Errors
/// A folder that cannot be read, or a record that is missing or was changed.
pub fn read(kit: &Path, diagnostics: &mut Diagnostics) -> Result<KeptKit, ErrorGuaranteed> {
    let folder = Folder::open(kit).map_err(|e| {
        let message = format!("{} cannot be read", kit.display());
        let d = Diagnostic::fault(&CANNOT_READ, KeyPath::root(), message).measured(stages::reason(&e));
        diagnostics.push(d.help("name the folder that `frusta make` wrote"))
    })?;
    let ours = |p: &&PathBuf| p.starts_with("cut") || p.as_os_str() == FILE;
    for changed in Content::of(kit).iter().flat_map(|c| &c.foreign).filter(ours) {
        let file = changed.display().to_string();
        let message = format!("{file} was changed since the kit was written");
        let d = Diagnostic::fault(&NOT_KEPT, KeyPath::root(), message).file(file);
        diagnostics.push(d.help("take the kit as `frusta make` wrote it, or make a kit without --keep"));
    }
    diagnostics.check()?;
    KeptKit::read(&folder, diagnostics)
}
