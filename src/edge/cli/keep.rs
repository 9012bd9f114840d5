//! The earlier kit that a kit is made from: its record, and what was done with it since.
//!
//! Imports: base, read::{ledger, kept}, edge::{folder, kit}, edge::cli::{codes, stages}.

use super::codes::CANNOT_READ;
use super::stages;
use crate::base::diag::{Diagnostic, Diagnostics, ErrorGuaranteed, KeyPath};
use crate::edge::folder::Folder;
use crate::edge::kit::aside::Content;
use crate::read::kept::{FILE, KeptKit, NOT_KEPT};
use crate::read::ledger::Ledger;
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
    let mut record = KeptKit::read(&folder, diagnostics)?;
    done(kit, &mut record, diagnostics)?;
    Ok(record)
}

/// Marks what was done with the kit since it was made.
fn done(kit: &Path, record: &mut KeptKit, diagnostics: &mut Diagnostics) -> Result<(), ErrorGuaranteed> {
    let path = ledger(kit);
    let file = path.display().to_string();
    let bytes = match std::fs::read(&path) {
        Ok(bytes) => bytes,
        Err(e) if e.kind() == std::io::ErrorKind::NotFound => return Ok(()),
        Err(e) => {
            let d = Diagnostic::fault(&CANNOT_READ, KeyPath::root(), format!("{file} cannot be read"));
            return Err(
                diagnostics.push(d.measured(stages::reason(&e)).help("give yourself leave to read it"))
            );
        }
    };
    let read = Ledger::read(&bytes);
    diagnostics.extend(read.faults(&file));
    diagnostics.check()?;
    for line in &read.lines {
        let numbers =
            || line.get("pieces").split(',').filter_map(|n| n.parse::<u32>().ok()).collect::<Vec<_>>();
        match line.verb.as_str() {
            "cut" => {
                let names: Vec<String> = record.sheets.iter().map(|s| record.sheet_name(s)).collect();
                let sheets = record.sheets.iter_mut().zip(names);
                sheets.filter(|(_, name)| name == line.get("sheet")).for_each(|(s, _)| s.cut = true);
            }
            verb @ ("applied" | "peeled") => {
                let list = numbers();
                let pieces = record.pieces.iter_mut().filter(|p| list.contains(&p.number));
                pieces.for_each(|p| p.applied = verb == "applied");
            }
            _ => {}
        }
    }
    Ok(())
}

/// The ledger of what was done with a kit: beside it, so that the next kit may take its place.
pub fn ledger(kit: &Path) -> PathBuf {
    let kit = kit.canonicalize().unwrap_or_else(|_| kit.to_owned());
    let name = kit.file_name().map(|n| n.to_string_lossy().into_owned()).unwrap_or_default();
    kit.with_file_name(format!("{name}-done.txt"))
}
