//! What a job is made from besides its own files: an earlier kit, and a shelf.
//!
//! Imports: base, edge::{folder, shelf, cli}, edge::cli::{codes, stages, shelf, keep, cut}.

use super::codes::CANNOT_READ;
use super::stages::LoadedJob;
use super::{Exit, cut, keep, shelf};
use crate::base::diag::{Diagnostic, ErrorGuaranteed, KeyPath};
use crate::edge::folder::Folder;
use crate::edge::shelf::{ShelfFolder, with_leftovers};
use std::path::{Path, PathBuf};

/// Reads what a job is made from besides its own files: the earlier kit and the shelf that the command names, or else
/// the job's `[order]`. `out` is where its kit goes, by which a shelf knows the order.
///
/// # Errors
/// Told of in the job's own list: it cannot be made.
pub fn made_from(
    opened: &mut LoadedJob,
    named: [Option<&PathBuf>; 2],
    out: &Path,
) -> Result<(), ErrorGuaranteed> {
    let order = opened.job.as_ref().and_then(|job| job.order.clone());
    let asked = order.as_ref().map_or([None, None], |o| [o.keep.clone(), o.shelf.clone()]);
    let mut folders = [None, None];
    for (k, (named, asked)) in named.into_iter().zip(asked).enumerate() {
        folders[k] = match (named, asked) {
            (Some(named), _) => Some(named.clone()),
            (None, Some(name)) => Some(beside(opened, ["keep", "shelf"][k], &name)?),
            (None, None) => None,
        };
    }
    let [kit, shelf] = folders;
    if let Some(kit) = kit {
        opened.keep = Some(keep::read(&kit, &mut opened.diagnostics)?);
    }
    if let Some(folder) = shelf {
        match (ShelfFolder::new(&folder).read(), &mut opened.job) {
            (Ok((_, there)), Some(job)) => with_leftovers(job, &there, &cut::order_of(out)),
            (Ok(_), None) => {}
            (Err(e), _) => {
                let (exit, all) = shelf::not_written(&folder, e);
                opened.diagnostics.extend(all);
                opened.exit = exit;
                opened.diagnostics.check()?;
            }
        }
        opened.shelf = Some(folder);
    }
    Ok(())
}

/// The folder that a job names.
fn beside(opened: &mut LoadedJob, key: &str, name: &str) -> Result<PathBuf, ErrorGuaranteed> {
    let found = Folder::open(&opened.folder).ok().and_then(|folder| folder.folder(name));
    found.ok_or_else(|| {
        let at = KeyPath::of("order").key(key);
        let message = format!("there is no folder \"{name}\" beside the job, nor in the folders above it");
        let help = match key {
            "keep" => "write the name of an earlier kit's folder; take the key out for the first kit",
            _ => "make it with `frusta shelf FOLDER bring`, or write the name of the folder that holds shelf.txt",
        };
        opened.exit = Exit::Files;
        opened.diagnostics.push(Diagnostic::fault(&CANNOT_READ, at, message).help(help))
    })
}
