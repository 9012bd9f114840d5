//! The one trait that brings bytes in: the core asks for a file by the name that the job gives it.
//!
//! Imports: none.

/// Why a file could not be had, in words for the maker.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Missing {
    /// What the system said, for example "no such file".
    pub why: String,
}

impl Missing {
    /// It has more bytes than this.
    pub fn larger_than(limit: u64) -> Missing {
        let size = if limit >> 20 > 0 { format!("{} MiB", limit >> 20) } else { format!("{limit} bytes") };
        Missing { why: format!("it is larger than {size}") }
    }
}

/// A font as it was found.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct FontFile {
    /// What to call it.
    pub name: String,
    /// All its bytes.
    pub bytes: Vec<u8>,
    /// It lies beside the job, and goes where the job goes.
    pub beside: bool,
}

/// Files beside the job, by the relative path that the job names.
pub trait Source {
    /// All bytes of a file, refusing files larger than `limit` bytes.
    ///
    /// # Errors
    /// [`Missing`] when there is no such file, it cannot be read, lies outside the job's folder or is too
    /// large.
    fn bytes(&self, name: &str, limit: u64) -> Result<Vec<u8>, Missing>;

    /// A file of a kind of cup, which many jobs share: beside the job, or where else this source looks for such.
    ///
    /// # Errors
    /// [`Missing`] when there is none, or it cannot be read.
    fn blank(&self, name: &str, limit: u64) -> Result<Vec<u8>, Missing> {
        self.bytes(name, limit)
    }

    /// A font by the name of its family, if this source can look for one.
    ///
    /// # Errors
    /// [`Missing`] when there is none, or it cannot be read.
    fn font(&self, family: &str, limit: u64) -> Result<FontFile, Missing> {
        let _ = (family, limit);
        Err(Missing { why: "no other fonts are looked for".into() })
    }
}

/// Files in memory: for tests and examples.
#[derive(Clone, Debug, Default)]
pub struct InMemory(pub std::collections::BTreeMap<String, Vec<u8>>);

impl Source for InMemory {
    fn bytes(&self, name: &str, limit: u64) -> Result<Vec<u8>, Missing> {
        match self.0.get(name) {
            Some(b) if b.len() as u64 <= limit => Ok(b.clone()),
            Some(_) => Err(Missing::larger_than(limit)),
            None => Err(Missing { why: "no such file".into() }),
        }
    }
}
