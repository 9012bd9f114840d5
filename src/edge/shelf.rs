//! A shelf's folder: its ledger, and the outlines of the leftovers on it.
//!
//! Imports: base, read::{source, job, ledger, shelf}, write::proof, edge::{folder, journal}.

use super::folder::Folder;
use super::journal::{self, Addition};
use crate::base::diag::Diagnostic;
use crate::read::job::Job;
use crate::read::ledger::{Ledger, Line};
use crate::read::shelf::{Item, Shelf, Thing, items_text, refused};
use crate::read::source::{FontFile, Missing, Source};
use crate::write::proof;
use std::fs;
use std::io;
use std::path::{Path, PathBuf};

/// The ledger within a shelf's folder.
pub const LEDGER: &str = "shelf.txt";

/// A shelf.
#[derive(Clone, Debug)]
pub struct ShelfFolder {
    /// Its folder.
    pub folder: PathBuf,
}

/// Why nothing was written.
#[derive(Debug)]
pub enum NotWritten {
    /// The system's reason.
    Io(io::Error),
    /// The shelf's.
    Refused(Vec<Diagnostic>),
}

impl From<io::Error> for NotWritten {
    fn from(e: io::Error) -> Self {
        NotWritten::Io(e)
    }
}

impl ShelfFolder {
    /// The shelf of a folder, which is made with the first line.
    pub fn new(folder: &Path) -> ShelfFolder {
        ShelfFolder { folder: folder.to_owned() }
    }
    /// Its ledger's path.
    pub fn ledger(&self) -> PathBuf {
        self.folder.join(LEDGER)
    }
    /// What its ledger says, and what is there.
    ///
    /// # Errors
    /// A ledger that cannot be read or trusted.
    pub fn read(&self) -> Result<(Ledger, Shelf), NotWritten> {
        let bytes = match fs::read(self.ledger()) {
            Ok(bytes) => bytes,
            Err(e) if e.kind() == io::ErrorKind::NotFound => Vec::new(),
            Err(e) => return Err(e.into()),
        };
        let ledger = Ledger::read(&bytes);
        let shelf = sound(&ledger)?;
        Ok((ledger, shelf))
    }
    /// Adds a line, if what is there allows it; asked again under the same key, it is not added twice.
    ///
    /// # Errors
    /// A full disk, a lock that cannot be had, a ledger that was changed, or what the shelf does not allow.
    pub fn add(&self, verb: &str, fields: &[(&str, String)]) -> Result<(Line, Shelf), NotWritten> {
        let key = fields.iter().find(|f| f.0 == "key").map_or("", |f| f.1.as_str());
        self.add_if(key, |_| {
            Ok((verb.to_owned(), fields.iter().map(|(k, v)| ((*k).to_owned(), v.clone())).collect()))
        })
    }
    /// The same of a line that hangs on what is there, looked at under the lock.
    ///
    /// # Errors
    /// Those of [`ShelfFolder::add`].
    pub fn add_if(
        &self,
        key: &str,
        what: impl FnOnce(&Shelf) -> Result<(String, Vec<(String, String)>), String>,
    ) -> Result<(Line, Shelf), NotWritten> {
        fs::create_dir_all(&self.folder)?;
        let added = journal::add(&self.ledger(), |bytes| {
            let ledger = Ledger::read(bytes);
            let before = sound(&ledger)?;
            let no = |why: String| NotWritten::Refused(vec![refused(LEDGER, why)]);
            if let Some(done) = ledger.by_key(key) {
                let told = (done.clone(), before);
                return Ok(Addition { keep: ledger.whole, text: Vec::new(), told });
            }
            let (verb, fields) = what(&before).map_err(no)?;
            let fields: Vec<(&str, String)> = fields.iter().map(|(k, v)| (k.as_str(), v.clone())).collect();
            let line = ledger.next(&now(), &verb, &fields);
            let after = Shelf::allows(&ledger, &line).map_err(no)?;
            let mut text = line.text();
            // A maker's own last line may lack its end.
            if ledger.whole > 0 && bytes[ledger.whole - 1] != b'\n' {
                text.insert(0, '\n');
            }
            Ok::<_, NotWritten>(Addition { keep: ledger.whole, text: text.into_bytes(), told: (line, after) })
        });
        added?
    }
    /// Puts the outline of a leftover on the shelf, whole or not at all; gives its sum.
    ///
    /// # Errors
    /// The system's.
    pub fn put(&self, file: &str, bytes: &[u8]) -> io::Result<String> {
        fs::create_dir_all(&self.folder)?;
        let (part, whole) = (self.folder.join(format!(".{file}.part")), self.folder.join(file));
        fs::write(&part, bytes)?;
        fs::File::open(&part)?.sync_all()?;
        fs::rename(&part, &whole)?;
        Ok(sum(bytes))
    }
    /// Leftovers whose file is not there or was changed.
    pub fn missing(&self, shelf: &Shelf) -> Vec<String> {
        let wrong = |thing: &Thing| {
            let Thing::Left { file, .. } = thing else { return None };
            let there = fs::read(self.folder.join(file)).ok().map(|b| sum(&b));
            (there.as_deref() != shelf.sums.get(file).map(String::as_str)).then(|| file.clone())
        };
        shelf.all().keys().filter_map(wrong).collect()
    }
}

/// A ledger in which nothing was changed, replayed.
fn sound(ledger: &Ledger) -> Result<Shelf, NotWritten> {
    let changed = ledger.faults(LEDGER);
    if !changed.is_empty() {
        return Err(NotWritten::Refused(changed));
    }
    let replay = Shelf::of(ledger);
    replay.map_err(|(at, why)| NotWritten::Refused(vec![refused(LEDGER, format!("line {at}: {why}"))]))
}

/// The time, in UTC.
pub fn now() -> String {
    jiff::Timestamp::now().strftime("%Y-%m-%dT%H:%M:%SZ").to_string()
}

/// SHA-256 of a file's bytes, its first 16 digits: told apart by it, guarded against nobody.
pub fn sum(bytes: &[u8]) -> String {
    proof::seen::sum(bytes)[..16].to_owned()
}

/// What stands before the name of a leftover that lies on the shelf.
pub const ON_SHELF: &str = "shelf: ";

/// The job's folder, and the leftovers of a shelf beside it.
pub struct WithShelf<'a> {
    /// The job's.
    pub job: &'a Folder,
    /// The shelf's, if there is one.
    pub shelf: Option<Folder>,
}

impl Source for WithShelf<'_> {
    fn bytes(&self, name: &str, limit: u64) -> Result<Vec<u8>, Missing> {
        match (name.strip_prefix(ON_SHELF), &self.shelf) {
            (Some(name), Some(shelf)) => shelf.bytes(name, limit),
            _ => self.job.bytes(name, limit),
        }
    }
    fn font(&self, family: &str, limit: u64) -> Result<FontFile, Missing> {
        self.job.font(family, limit)
    }
}

/// Gives the films of a job the leftovers on a shelf that no other order holds, the smallest file names first.
pub fn with_leftovers(job: &mut Job, shelf: &Shelf, order: &str) {
    let own = shelf.held.get(order).into_iter().flat_map(|h| h.items.keys());
    let files: Vec<(&String, &String)> = shelf.free.keys().chain(own).filter_map(left).collect();
    for film in &mut job.films {
        let of = files.iter().filter(|(name, _)| **name == film.name);
        film.cut.leftovers.extend(of.map(|(_, file)| format!("{ON_SHELF}{file}")));
    }
}

fn left(thing: &Thing) -> Option<(&String, &String)> {
    match thing {
        Thing::Left { film, file } => Some((film, file)),
        _ => None,
    }
}

/// A field of items.
pub fn items_field(items: &[Item]) -> (&'static str, String) {
    ("items", items_text(items))
}
