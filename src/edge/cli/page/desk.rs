//! [`Desk`]: the job's text as the page edits it: its revision, the steps back, its file.
//!
//! Imports: read::job, edge::cli::stages, edge::cli::page::{text, history, file}.

use super::super::stages::with_folder;
use super::file::{JobFile, Unsaved};
use super::history::History;
use super::text::{self, Edit};
use crate::read::job::{LARGEST_TEXT, ParsedJob, read_job_in};
use std::path::Path;

/// What a job begins with.
const FRESH: &str = "# Lengths without a unit are in this one.\nunit = \"mm\"\nseed = 1\n";

/// Why a change was not made; nothing was.
#[derive(Debug)]
pub enum Refused {
    /// The change was made for another revision than the one that stands.
    Behind,
    /// Another program has the job open.
    OnlyLooks,
    /// The file was changed by somebody else.
    Outside,
    /// It cannot be done, in words.
    Wrong(String),
    /// The file could not be written, in words; it is as it was.
    Disk(String),
}

/// A change as it is asked for.
#[derive(Debug)]
pub struct Asked {
    /// What it is called, to undo it by.
    pub what: String,
    /// It goes on with the one before of that name.
    pub goes_on: bool,
    /// The unit of a job that is none yet.
    pub unit: Option<String>,
    /// The edits.
    pub edits: Vec<Edit>,
}

/// The job's text.
pub struct Desk {
    /// The job's file.
    pub file: JobFile,
    /// What the job says; empty before there is one.
    pub text: String,
    /// Counts changes.
    pub revision: u64,
    /// What the text says.
    pub read: ParsedJob,
    history: History,
}

impl Desk {
    /// Of a file.
    pub fn new(file: JobFile) -> Desk {
        let text = file.known().unwrap_or_default().to_owned();
        let read = with_folder(file.folder(), |source| read_job_in(&text, source));
        Desk { file, text, revision: 1, read, history: History::default() }
    }
    /// The job's folder.
    pub fn folder(&self) -> &Path {
        self.file.folder()
    }
    /// Is there a job yet?
    pub fn is_new(&self) -> bool {
        self.file.known().is_none()
    }
    /// What a step back would undo, and a step forth do again.
    pub fn steps(&self) -> (Option<&str>, Option<&str>) {
        self.history.names()
    }
    /// Makes edits for the revision that they were made for, and saves.
    ///
    /// # Errors
    /// [`Refused`]: nothing was changed.
    pub fn edit(&mut self, revision: u64, asked: &Asked) -> Result<(), Refused> {
        self.may(revision)?;
        let start = match (self.is_new(), asked.unit.as_deref()) {
            (true, Some("in")) => FRESH.replace("\"mm\"", "\"in\""),
            (true, _) => FRESH.to_owned(),
            _ => self.text.clone(),
        };
        let new = text::edited(&start, &asked.edits).map_err(Refused::Wrong)?;
        if new.len() > LARGEST_TEXT {
            return Err(Refused::Wrong(format!(
                "a job may have {LARGEST_TEXT} bytes; this one would have more"
            )));
        }
        if new == self.text {
            return Ok(());
        }
        self.save(&new)?;
        match asked.goes_on {
            true => self.history.step_on(&asked.what, &self.text, &new),
            false => self.history.step(&asked.what, &self.text, &new),
        }
        self.take(new);
        Ok(())
    }
    /// A step back, or forth again.
    ///
    /// # Errors
    /// [`Refused`]: nothing was changed.
    pub fn step(&mut self, revision: u64, forth: bool) -> Result<(), Refused> {
        self.may(revision)?;
        let new = if forth { self.history.forth(&self.text) } else { self.history.back(&self.text) };
        let Some(new) = new else {
            return Err(Refused::Wrong(format!(
                "there is nothing to {}",
                if forth { "redo" } else { "undo" }
            )));
        };
        self.save(&new)?;
        if forth {
            self.history.went_forth();
        } else {
            self.history.went_back();
        }
        self.take(new);
        Ok(())
    }
    /// Has somebody else changed the file?
    pub fn changed_outside(&self) -> bool {
        self.file.on_disk().is_ok_and(|now| now.as_deref() != self.file.known())
    }
    /// Takes what somebody else wrote; the text before is a step back.
    ///
    /// # Errors
    /// [`Refused`]: nothing was changed.
    pub fn load(&mut self) -> Result<(), Refused> {
        let now = self.file.on_disk().map_err(|e| Refused::Disk(e.to_string()))?;
        let new = now.clone().unwrap_or_default();
        self.file.take(now);
        if new != self.text {
            self.history.step("what was changed outside", &self.text, &new);
            self.take(new);
        }
        Ok(())
    }
    /// Keeps the page's text: what somebody else wrote is put beside it, and this is what it is called there.
    ///
    /// # Errors
    /// [`Refused`]: nothing was changed.
    pub fn keep(&mut self) -> Result<Option<String>, Refused> {
        if self.file.only_looks() {
            return Err(Refused::OnlyLooks);
        }
        let now = self.file.on_disk().map_err(|e| Refused::Disk(e.to_string()))?;
        let aside = now.as_ref().map(|t| self.file.put_aside(t, "theirs")).transpose();
        let aside = aside.map_err(|e| Refused::Disk(e.to_string()))?;
        self.file.take(now);
        let mine = self.text.clone();
        self.save(&mine)?;
        self.revision += 1;
        Ok(aside)
    }
    fn may(&self, revision: u64) -> Result<(), Refused> {
        if self.file.only_looks() {
            return Err(Refused::OnlyLooks);
        }
        if revision != self.revision {
            return Err(Refused::Behind);
        }
        Ok(())
    }
    fn save(&mut self, new: &str) -> Result<(), Refused> {
        self.file.save(new).map_err(|e| match e {
            Unsaved::Changed => Refused::Outside,
            Unsaved::Io(e) => Refused::Disk(super::super::stages::reason(&e)),
        })
    }
    fn take(&mut self, new: String) {
        self.read = with_folder(self.file.folder(), |source| read_job_in(&new, source));
        self.text = new;
        self.revision += 1;
    }
}
