//! [`JobFile`]: the job's file on the disk: read, watched, locked against a second program, and written whole
//! or not at all.
//!
//! Imports: read::job.

use crate::read::job::LARGEST_TEXT;
use std::fs::{self, File, OpenOptions};
use std::io::{self, Read, Write};
use std::path::{Path, PathBuf};

/// What stands beside the job while it is written: nothing but a moment.
const PART: &str = ".frusta-part";
/// What is locked while a program has the job open.
const LOCK: &str = ".frusta-open";

/// Why the job was not written.
#[derive(Debug)]
pub enum Unsaved {
    /// Somebody else changed the file.
    Changed,
    /// The system refused; the file is as it was.
    Io(io::Error),
}

/// The job's file.
#[derive(Debug)]
pub struct JobFile {
    path: PathBuf,
    folder: PathBuf,
    /// What it says, as far as is known; none if there is no file.
    known: Option<String>,
    /// Held as long as the job is open; none where another program holds it.
    lock: Option<File>,
}

fn beside(path: &Path, end: &str) -> PathBuf {
    let name = path.file_name().map(|n| n.to_string_lossy().into_owned()).unwrap_or_default();
    path.with_file_name(format!(".{name}{end}"))
}

impl JobFile {
    /// Opens the job of a folder, or the job that is named; a folder that is not there is made, a job that is
    /// not there is none yet.
    ///
    /// # Errors
    /// What the system says; a job that is no text.
    pub fn open(named: &Path) -> io::Result<JobFile> {
        let is_job = named.extension().is_some_and(|x| x == "toml") && !named.is_dir();
        let path = if is_job { named.to_owned() } else { named.join("job.toml") };
        let folder = match path.parent() {
            Some(p) if !p.as_os_str().is_empty() => p.to_owned(),
            _ => PathBuf::from("."),
        };
        fs::create_dir_all(&folder)?;
        let folder = folder.canonicalize()?;
        let path = folder.join(path.file_name().unwrap_or_default());
        // A link to a job stands for the job: a rename would take its place.
        let path = path.canonicalize().unwrap_or(path);
        let lock = locked(&beside(&path, LOCK));
        let mut file = JobFile { path, folder, known: None, lock };
        if !file.only_looks() {
            let _ = fs::remove_file(beside(&file.path, PART));
        }
        file.known = file.on_disk()?;
        Ok(file)
    }
    /// Does another program have the job open, so that this one may only look?
    pub fn only_looks(&self) -> bool {
        self.lock.is_none()
    }
    /// The job's folder.
    pub fn folder(&self) -> &Path {
        &self.folder
    }
    /// The job's file.
    pub fn path(&self) -> &Path {
        &self.path
    }
    /// What the file says, as far as is known.
    pub fn known(&self) -> Option<&str> {
        self.known.as_deref()
    }
    /// Takes what the file says now as known.
    pub fn take(&mut self, text: Option<String>) {
        self.known = text;
    }
    /// What the file says now; none if there is none.
    ///
    /// # Errors
    /// What the system says; a file that is too large for a job or no UTF-8 text.
    pub fn on_disk(&self) -> io::Result<Option<String>> {
        let file = match File::open(&self.path) {
            Ok(file) => file,
            Err(e) if e.kind() == io::ErrorKind::NotFound => return Ok(None),
            Err(e) => return Err(e),
        };
        let invalid = |why| io::Error::new(io::ErrorKind::InvalidData, why);
        if !file.metadata()?.is_file() {
            return Err(invalid("it is no ordinary file"));
        }
        let mut bytes = Vec::new();
        file.take(LARGEST_TEXT as u64 + 1).read_to_end(&mut bytes)?;
        if bytes.len() > LARGEST_TEXT {
            return Err(invalid("it is too large to be a job"));
        }
        String::from_utf8(bytes).map(Some).map_err(|_| invalid("it is not UTF-8 text"))
    }
    /// Writes the job: a file beside it, synced, then renamed into its place, so that whatever happens the
    /// old text or the new one stands there, whole.
    ///
    /// # Errors
    /// [`Unsaved`]: the file is as it was.
    pub fn save(&mut self, text: &str) -> Result<(), Unsaved> {
        let now = self.on_disk().map_err(Unsaved::Io)?;
        if now != self.known {
            return Err(Unsaved::Changed);
        }
        written(&self.path, text).map_err(Unsaved::Io)?;
        self.known = Some(text.to_owned());
        Ok(())
    }
    /// Puts a text beside the job under a name that no file has: `job-theirs-1.toml`.
    ///
    /// # Errors
    /// What the system says.
    pub fn put_aside(&self, text: &str, word: &str) -> io::Result<String> {
        let stem = self.path.file_stem().map(|s| s.to_string_lossy().into_owned()).unwrap_or_default();
        for n in 1..1000 {
            let name = format!("{stem}-{word}-{n}.toml");
            match File::create_new(self.path.with_file_name(&name)) {
                Ok(mut file) => {
                    file.write_all(text.as_bytes())?;
                    file.sync_all()?;
                    return Ok(name);
                }
                Err(e) if e.kind() == io::ErrorKind::AlreadyExists => {}
                Err(e) => return Err(e),
            }
        }
        Err(io::Error::new(io::ErrorKind::AlreadyExists, "too many copies stand there already"))
    }
    /// Puts a drawing into the folder `art` under a name that no file has; gives its path from the job.
    ///
    /// # Errors
    /// What the system says.
    pub fn put_art(&self, stem: &str, bytes: &[u8]) -> io::Result<String> {
        let art = self.folder.join("art");
        fs::create_dir_all(&art)?;
        // A link could lead anywhere.
        if art.canonicalize()? != art {
            return Err(io::Error::new(io::ErrorKind::InvalidInput, "the folder art is a link"));
        }
        for n in 1..1000 {
            let name = if n == 1 { format!("{stem}.svg") } else { format!("{stem}-{n}.svg") };
            match File::create_new(art.join(&name)) {
                Ok(mut file) => {
                    let put = file.write_all(bytes).and_then(|()| file.sync_all());
                    if let Err(e) = put {
                        let _ = fs::remove_file(art.join(&name));
                        return Err(e);
                    }
                    return Ok(format!("art/{name}"));
                }
                Err(e) if e.kind() == io::ErrorKind::AlreadyExists => {
                    // The same drawing once more is the one that is there.
                    if fs::read(art.join(&name)).is_ok_and(|old| old == bytes) {
                        return Ok(format!("art/{name}"));
                    }
                }
                Err(e) => return Err(e),
            }
        }
        Err(io::Error::new(io::ErrorKind::AlreadyExists, "too many drawings of this name"))
    }
}

/// Locks a file that stands for the open job; none where another program has it, or the system locks nothing.
fn locked(path: &Path) -> Option<File> {
    for _ in 0..10 {
        let file = OpenOptions::new().create(true).truncate(false).write(true).open(path).ok()?;
        file.try_lock().ok()?;
        // Who had it may have taken its name away between the two: then it is nobody's any more.
        if same_file(&file, path) {
            return Some(file);
        }
    }
    None
}

#[cfg(unix)]
fn same_file(file: &File, path: &Path) -> bool {
    use std::os::unix::fs::MetadataExt;
    let named = |m: &fs::Metadata| (m.dev(), m.ino());
    matches!((file.metadata(), fs::metadata(path)), (Ok(a), Ok(b)) if named(&a) == named(&b))
}

#[cfg(not(unix))]
fn same_file(_: &File, _: &Path) -> bool {
    true
}

fn written(path: &Path, text: &str) -> io::Result<()> {
    let part = beside(path, PART);
    let put = || {
        let mut file = File::create(&part)?;
        file.write_all(text.as_bytes())?;
        if let Ok(old) = fs::metadata(path) {
            file.set_permissions(old.permissions())?;
        }
        file.sync_all()?;
        fs::rename(&part, path)
    };
    put().inspect_err(|_| {
        let _ = fs::remove_file(&part);
    })?;
    if let Some(folder) = path.parent() {
        // The name is safe only when its folder is; not every system can sync one.
        let _ = File::open(folder).and_then(|f| f.sync_all());
    }
    Ok(())
}

impl Drop for JobFile {
    fn drop(&mut self) {
        if self.lock.is_some() {
            let _ = fs::remove_file(beside(&self.path, LOCK));
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_second_program_only_looks_until_the_first_is_gone() {
        let dir = tempfile::tempdir().unwrap();
        let first = JobFile::open(dir.path()).unwrap();
        assert!(!first.only_looks());
        assert!(JobFile::open(dir.path()).unwrap().only_looks());
        drop(first);
        assert!(!JobFile::open(dir.path()).unwrap().only_looks());
        assert_eq!(fs::read_dir(dir.path()).unwrap().count(), 0, "no lock is left");
    }

    #[test]
    fn a_change_from_outside_is_never_written_over() {
        let dir = tempfile::tempdir().unwrap();
        let mut job = JobFile::open(dir.path()).unwrap();
        job.save("title = \"a\"\n").unwrap();
        fs::write(job.path(), "title = \"theirs\"\n").unwrap();
        assert!(matches!(job.save("title = \"mine\"\n"), Err(Unsaved::Changed)));
        assert!(fs::read_to_string(job.path()).unwrap().contains("theirs"));
        assert_eq!(job.put_aside("x", "theirs").unwrap(), "job-theirs-1.toml");
        assert_eq!(job.put_aside("x", "theirs").unwrap(), "job-theirs-2.toml");
    }

    #[cfg(unix)]
    #[test]
    fn a_link_to_a_job_stays_a_link() {
        let dir = tempfile::tempdir().unwrap();
        fs::write(dir.path().join("real.toml"), "").unwrap();
        std::os::unix::fs::symlink(dir.path().join("real.toml"), dir.path().join("job.toml")).unwrap();
        let mut job = JobFile::open(dir.path()).unwrap();
        job.save("title = \"a\"\n").unwrap();
        assert!(dir.path().join("job.toml").is_symlink());
        assert_eq!(fs::read_to_string(dir.path().join("real.toml")).unwrap(), "title = \"a\"\n");
    }
}
