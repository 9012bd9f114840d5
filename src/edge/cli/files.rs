//! What is to be said of files and folders: a kit that waits, that was written, that could not be.
//!
//! Imports: base, edge::{kit, packed}, edge::cli::{codes, words, stages}.

use super::codes::{CANNOT_READ, CANNOT_WRITE, IN_THE_WAY, LEFT_OVER, NOT_OURS, REPLACED};
use super::{stages, words};
use crate::base::diag::{Diagnostic, KeyPath};
use crate::edge::kit::{Begin, Now, Refused, Said};
use crate::edge::packed::Unpacked;
use std::io;
use std::path::Path;

/// Ctrl-C leaves as long as another run writes there, and not while this one does.
pub(super) fn hear(begin: Begin) {
    match begin {
        Begin::Waits => words::tell("another run writes beside this kit: waiting for it; Ctrl-C leaves"),
        Begin::Has => stages::now_writing(),
    }
}

fn named(files: &[String]) -> String {
    let mut names: Vec<String> = files.iter().take(5).map(|f| words::plain(f)).collect();
    if files.len() > 5 {
        names.push(format!("{} more", files.len() - 5));
    }
    names.join(", ")
}

/// The job's folder cannot be reached.
pub(super) fn no_folder(folder: &Path, e: &io::Error) -> Diagnostic {
    Diagnostic::fault(&CANNOT_READ, KeyPath::root(), format!("{} cannot be read", folder.display()))
        .measured(stages::reason(e))
        .help("is it still there?")
}

/// What is to be said of a kit that was written.
pub(super) fn remarks(said: &Said) -> Vec<Diagnostic> {
    let left = said.left.iter().map(|(folder, error)| {
        let message = format!("what is left of an old kit could not be swept away: {}", folder.display());
        Diagnostic::warning(&LEFT_OVER, KeyPath::root(), message)
            .measured(stages::reason(error))
            .file(folder.display().to_string())
            .help(
                "the new kit is whole; the next run sweeps again, and moves what is not the kit's into the \
                    kit's folder",
            )
    });
    let within = said.stood_within.then(|| {
        let message = "the folder that you stand in was replaced by the new kit";
        Diagnostic::note(&REPLACED, KeyPath::root(), message).help("`cd .` goes into the new one")
    });
    left.chain(within).collect()
}

/// A kit that could not be packed.
pub(super) fn unpacked(why: Unpacked) -> Diagnostic {
    match why {
        Unpacked::NotOurs(file) => {
            let message = format!("{} is there already, and no kit that was packed before", file.display());
            Diagnostic::fault(&NOT_OURS, KeyPath::root(), message)
                .file(file.display().to_string())
                .help("move it away, or write all the same with --force; the kit's folder is written, the file is as it was")
        }
        Unpacked::Io(file, error) => {
            let message = format!("the kit cannot be packed into {}", file.display());
            Diagnostic::fault(&CANNOT_WRITE, KeyPath::root(), message)
                .measured(stages::reason(&error))
                .file(file.display().to_string())
                .help("make room or give yourself leave to write there; the kit's folder is written")
        }
    }
}

/// A kit that could not be written.
pub(super) fn unwritten(out: &Path, refused: Refused) -> Diagnostic {
    let shown = out.display();
    let cannot = |code, message| Diagnostic::fault(code, KeyPath::root(), message).file(shown.to_string());
    match refused {
        Refused::NotOurs(files) => cannot(
            &NOT_OURS,
            format!("{shown} holds files that are not the kit's, or that were changed since"),
        )
        .measured(named(&files))
        .help("name another folder with --out, or write all the same with --force; nothing was written"),
        Refused::InTheWay(files) => cannot(
            &IN_THE_WAY,
            format!("{shown} holds what cannot stand beside the kit: its folders and files have these names"),
        )
        .measured(named(&files))
        .help("move these away, or name another folder with --out; nothing was written"),
        Refused::NoFolder => cannot(
            &CANNOT_WRITE,
            format!("the kit cannot go to {shown}: a kit is a folder, and this is none"),
        )
        .measured(if out.is_symlink() { "a link that leads to no folder" } else { "a file" })
        .help("name a folder with --out, or move this away; nothing was written"),
        Refused::Io { path, error, now } => {
            let mend = match error.kind() {
                io::ErrorKind::StorageFull | io::ErrorKind::QuotaExceeded => {
                    "make room, or name a folder on another disk with --out"
                }
                io::ErrorKind::ResourceBusy | io::ErrorKind::CrossesDevices => {
                    "a disk that is mounted cannot be replaced as a whole: name a folder on it with --out"
                }
                _ => "name another folder with --out, or give yourself leave to write there",
            };
            let now = match now {
                Now::Stands => "the kit that was there stands".to_owned(),
                Now::Nothing => "nothing was written".to_owned(),
                Now::SetAside(folder) => {
                    format!("what was there lies in {}: the next run puts it back", folder.display())
                }
                Now::Torn(folder) => format!(
                    "the new kit stands, and what is yours of the old one lies in {}: the next run moves it \
                        over",
                    folder.display()
                ),
            };
            Diagnostic::fault(&CANNOT_WRITE, KeyPath::root(), format!("the kit cannot be written to {shown}"))
                .measured(stages::reason(&error))
                .file(path.display().to_string())
                .help(format!("{mend}; {now}"))
        }
    }
}
