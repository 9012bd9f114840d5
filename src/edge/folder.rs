//! [`Folder`]: files beside the job, and nothing outside its folder.
//!
//! Imports: read::source, edge::fonts.

use super::fonts;
use crate::read::source::{FontFile, Missing, Source};
use std::fs::File;
use std::io::{self, Read};
use std::path::{Component, Path, PathBuf};

/// How many folders above the job's are looked through for a blank.
const ABOVE: usize = 3;

/// The job's folder.
#[derive(Clone, Debug)]
pub struct Folder {
    root: PathBuf,
}

impl Folder {
    /// A folder that exists.
    ///
    /// # Errors
    /// What the system says when the folder cannot be reached.
    pub fn open(path: &Path) -> io::Result<Folder> {
        let path = if path.as_os_str().is_empty() { Path::new(".") } else { path };
        Ok(Folder { root: path.canonicalize()? })
    }

    /// A folder of a name beside the job, or in one of the folders above it, the nearest first; none if there is none.
    pub fn folder(&self, name: &str) -> Option<PathBuf> {
        let roots = self.root.ancestors().take(1 + ABOVE);
        roots.map(|root| root.join(name)).find(|f| f.is_dir())
    }

    /// The file's real path: inside the folder after every link is followed.
    fn inside(&self, name: &str) -> Result<PathBuf, Missing> {
        let plain = Path::new(name).components().all(|c| matches!(c, Component::Normal(_)));
        if name.is_empty() || name.contains(['\\', '\0']) || !plain {
            return Err(Missing { why: "the name leads out of the job's folder".into() });
        }
        let real = self.root.join(name).canonicalize().map_err(|e| missing(&e))?;
        if !real.starts_with(&self.root) {
            return Err(Missing { why: "a link leads out of the job's folder".into() });
        }
        Ok(real)
    }
}

fn missing(e: &io::Error) -> Missing {
    let why = match e.kind() {
        io::ErrorKind::NotFound => "no such file".into(),
        io::ErrorKind::PermissionDenied => "it may not be read".into(),
        _ => e.to_string(),
    };
    Missing { why }
}

impl Source for Folder {
    fn bytes(&self, name: &str, limit: u64) -> Result<Vec<u8>, Missing> {
        let path = self.inside(name)?;
        // Asked before opening: opening a pipe would wait for its other end.
        if !path.metadata().map_err(|e| missing(&e))?.is_file() {
            return Err(Missing { why: "it is no ordinary file".into() });
        }
        let file = File::open(path).map_err(|e| missing(&e))?;
        let mut bytes = Vec::new();
        // The size that the system states may change while reading: what arrives is what counts.
        file.take(limit.saturating_add(1)).read_to_end(&mut bytes).map_err(|e| missing(&e))?;
        if bytes.len() as u64 > limit {
            return Err(Missing::larger_than(limit));
        }
        Ok(bytes)
    }

    /// Beside the job, or from one of the folders above it, the nearest first: a shelf of blanks serves many jobs.
    fn blank(&self, name: &str, limit: u64) -> Result<Vec<u8>, Missing> {
        let found = self.bytes(name, limit);
        let above = self.root.ancestors().skip(1).take(ABOVE);
        let other = |root: &Path| {
            let there = root.join(name).is_file().then(|| Folder { root: root.to_owned() });
            there.map(|folder| folder.bytes(name, limit))
        };
        match found {
            Err(_) if self.inside(name).is_err() => above.map(other).find_map(|f| f).unwrap_or(found),
            found => found,
        }
    }

    fn font(&self, family: &str, limit: u64) -> Result<FontFile, Missing> {
        fonts::find(&self.root, family, limit)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::fs;

    fn why(folder: &Folder, name: &str) -> String {
        folder.bytes(name, 10).expect_err(name).why
    }

    #[test]
    fn files_inside_are_read_up_to_the_limit() {
        let dir = tempfile::tempdir().unwrap();
        fs::create_dir(dir.path().join("art")).unwrap();
        fs::write(dir.path().join("art/ten"), b"0123456789").unwrap();
        let folder = Folder::open(dir.path()).unwrap();
        assert_eq!(folder.bytes("art/ten", 10).unwrap(), b"0123456789");
        assert!(folder.bytes("art/ten", 9).unwrap_err().why.contains("larger than 9 bytes"));
        assert_eq!(why(&folder, "art"), "it is no ordinary file");
        assert_eq!(why(&folder, "art/none"), "no such file");
    }

    #[test]
    fn nothing_outside_is_reached() {
        let dir = tempfile::tempdir().unwrap();
        let job = dir.path().join("job");
        fs::create_dir(&job).unwrap();
        fs::write(dir.path().join("secret"), b"x").unwrap();
        let folder = Folder::open(&job).unwrap();
        let absolute = dir.path().join("secret").to_string_lossy().into_owned();
        for name in ["../secret", "a/../../secret", "/", "", "..\\secret", absolute.as_str()] {
            assert!(why(&folder, name).contains("out of the job's folder"), "{name}");
        }
        #[cfg(unix)]
        {
            std::os::unix::fs::symlink(dir.path().join("secret"), job.join("link")).unwrap();
            std::os::unix::fs::symlink(dir.path(), job.join("up")).unwrap();
            assert!(why(&folder, "link").contains("link leads out"));
            assert!(why(&folder, "up/secret").contains("link leads out"));
        }
    }
}
