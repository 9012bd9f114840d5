//! `new`: a first job that runs as it is, or the discs that tell what a film takes up.
//!
//! Imports: base, write, edge::cli, edge::cli::{args, codes, words, stages}.

use super::args::OutputMode;
use super::codes::CANNOT_WRITE;
use super::stages::reason;
use super::{Exit, Outcome, words};
use crate::base::diag::{Diagnostic, KeyPath};
use crate::write::{self, KitFile};
use serde::Serialize;
use std::fs::{self, File};
use std::io::{self, Write};
use std::path::{Path, PathBuf};

/// The first job and its drawing.
const FILES: [(&str, &str); 2] =
    [("job.toml", include_str!("first/job.toml")), ("art/pear.svg", include_str!("first/art/pear.svg"))];

#[derive(Serialize)]
struct Started<'a> {
    #[serde(flatten)]
    outcome: Outcome<'a>,
    files: Vec<String>,
}

/// Starts a job, or writes the discs of a film test: over nothing that is there.
///
/// # Errors
/// What writing to standard output says.
pub fn run(folder: &Path, film_test: bool, voice: OutputMode) -> io::Result<Exit> {
    let mut files = Vec::new();
    let mut found = Vec::new();
    let job = FILES.map(|(path, text)| KitFile { path: path.to_owned(), bytes: text.as_bytes().to_vec() });
    for KitFile { path, bytes } in if film_test { write::film_test() } else { job.to_vec() } {
        let path = folder.join(path);
        match put(&path, &bytes) {
            Ok(()) => files.push(path),
            Err(e) => {
                found.push(refused(&path, &e));
                break;
            }
        }
    }
    if !found.is_empty() {
        // Half a job is none: only what was written a moment ago goes.
        for path in files.drain(..) {
            let _ = fs::remove_file(path);
        }
    }
    let exit = if found.is_empty() { Exit::Done } else { Exit::Files };
    let names: Vec<String> = files.iter().map(|f: &PathBuf| f.display().to_string()).collect();
    if voice.json {
        words::json(&Started { outcome: Outcome::new(exit, &words::Text::default(), &found), files: names })?;
        return Ok(exit);
    }
    words::say(&words::Text::default(), &found, voice.quiet);
    if exit == Exit::Done {
        words::data(names.iter().map(|n| format!("{n}\n")).collect::<String>().as_bytes())?;
        if !voice.quiet {
            words::tell(&if film_test {
                "cut the discs from your film, and do what the page says; the blade is sharp".to_owned()
            } else {
                let folder = words::typed(folder);
                format!("measure your cup, write the readings into {}, and `frusta make {folder}`", names[0])
            });
        }
    }
    Ok(exit)
}

fn put(path: &Path, bytes: &[u8]) -> io::Result<()> {
    if let Some(folder) = path.parent() {
        fs::create_dir_all(folder)?;
    }
    let mut file = File::create_new(path)?;
    let written = file.write_all(bytes).and_then(|()| file.sync_all());
    if written.is_err() {
        let _ = fs::remove_file(path);
    }
    written
}

fn refused(path: &Path, e: &io::Error) -> Diagnostic {
    let (found, mend) = match e.kind() {
        io::ErrorKind::AlreadyExists => {
            ("it is there already".to_owned(), "name a new folder; nothing was written over")
        }
        _ => (reason(e), "name another folder, or give yourself leave to write there"),
    };
    Diagnostic::fault(&CANNOT_WRITE, KeyPath::root(), format!("{} cannot be written", path.display()))
        .measured(found)
        .file(path.display().to_string())
        .help(mend)
}

#[cfg(test)]
mod tests {
    use super::FILES;
    use crate::read::job::read_job;

    /// What the first job only mentions must work as it stands there: taken out of its comments, it is a
    /// sound job.
    #[test]
    fn the_finish_section_in_comments_is_sound() {
        let (head, tail) = FILES[0].1.split_once("# [finish]").expect("the section is there");
        // Lines of two signs are words, lines of one are the job's.
        let own =
            |line: &str| line.strip_prefix("# ").or(line.strip_prefix('#')).unwrap_or(line).to_owned() + "\n";
        let shown = format!("{head}[finish]") + &tail.lines().map(own).collect::<String>();
        let read = read_job(&shown);
        let found: Vec<String> =
            read.diagnostics.iter().map(|d| format!("{}: {}", d.at, d.message)).collect();
        let finish =
            read.job.unwrap_or_else(|| panic!("{found:#?}\n{shown}")).finish.expect("a finish section");
        assert_eq!(finish.steps.len(), 4);
        assert!(finish.price.is_some() && finish.base.is_some() && finish.times.start.is_some());
    }
}
