//! Files that are only added to: approvals, the bench log, ledgers. One writer at a time, seen on the disk before it
//! counts, and what stood there before stands if the disk is full.
//!
//! Imports: none.

use std::fs::{File, OpenOptions};
use std::io::{self, Read, Seek, SeekFrom, Write};
use std::path::Path;

/// What is to be added.
pub struct Addition<T> {
    /// Bytes of the file that stay, from its start: a torn tail is cut off.
    pub keep: usize,
    /// What comes behind them; nothing is written if it is empty.
    pub text: Vec<u8>,
    /// What the caller wants to know.
    pub told: T,
}

/// Adds to a file under its lock: `what` is given all that stands there and says what is added.
///
/// The lock is the file's own, so it ends with the program, killed or not. Locks do not hold on some network folders:
/// where the system refuses one, nothing is written.
///
/// # Errors
/// The system's, or the caller's.
pub fn add<T, E>(
    path: &Path,
    what: impl FnOnce(&[u8]) -> Result<Addition<T>, E>,
) -> io::Result<Result<T, E>> {
    let new = !path.exists();
    let mut file = OpenOptions::new().create(true).read(true).write(true).truncate(false).open(path)?;
    file.lock()?;
    let mut bytes = Vec::new();
    file.read_to_end(&mut bytes)?;
    let add = match what(&bytes) {
        Ok(add) => add,
        Err(e) => return Ok(Err(e)),
    };
    if add.text.is_empty() {
        return Ok(Ok(add.told));
    }
    let keep = add.keep.min(bytes.len());
    let written = put(&mut file, keep, &add.text);
    if written.is_err() {
        // Half a line is none: what stood there before stands, but for the torn tail.
        let _ = file.set_len(keep as u64);
    }
    written?;
    if new {
        synced_folder(path)?;
    }
    Ok(Ok(add.told))
}

fn put(file: &mut File, keep: usize, text: &[u8]) -> io::Result<()> {
    file.set_len(keep as u64)?;
    file.seek(SeekFrom::Start(keep as u64))?;
    file.write_all(text)?;
    file.sync_all()
}

/// A file that is new is there after a loss of power only if its folder was written, too.
fn synced_folder(path: &Path) -> io::Result<()> {
    let folder = path.parent().filter(|p| !p.as_os_str().is_empty()).unwrap_or(Path::new("."));
    match File::open(folder).and_then(|f| f.sync_all()) {
        // Some systems have no such thing.
        Err(e) if matches!(e.kind(), io::ErrorKind::PermissionDenied | io::ErrorKind::InvalidInput) => Ok(()),
        other => other,
    }
}
