//! What is wrong, where, how much, and how to mend it.
//!
//! A [`Diagnostic`] carries a [`Code`] (explained at length by `frusta explain`), a [`KeyPath`] into the job,
//! what was measured, what is allowed and the mend. [`Diagnostics`] gathers all of them: nothing stops at the
//! first.
//!
//! Imports: none.

use serde::{Serialize, Serializer};
use std::fmt;

/// How bad it is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Severity {
    /// Worth knowing; nothing needs to be done.
    Note,
    /// The kit is made, but the maker should look.
    Warning,
    /// The job is at fault: nothing is written.
    Fault,
}

impl fmt::Display for Severity {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Severity::Note => "note",
            Severity::Warning => "warning",
            Severity::Fault => "fault",
        })
    }
}

/// What kind of thing is wrong; declared as a `const` in the module that reports it, listed in its `CODES`.
#[derive(Debug, PartialEq, Eq)]
pub struct Code {
    /// Short name in plain words, `stage/what`, for example `cup/unit-slip`.
    pub id: &'static str,
    /// One line: what it means.
    pub title: &'static str,
    /// A paragraph: why it matters and how to mend it.
    pub explain: &'static str,
}

impl Serialize for Code {
    fn serialize<S: Serializer>(&self, s: S) -> Result<S::Ok, S::Error> {
        s.serialize_str(self.id)
    }
}

/// One step of a key path.
#[derive(Clone, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Step {
    /// A key of a table.
    Key(String),
    /// A place in a list, from 0.
    Index(usize),
}

/// Where in the job: `motif[2].width`. One key path finds both the place in the text and the field of a page.
#[derive(Clone, Debug, Default, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct KeyPath(pub Vec<Step>);

impl KeyPath {
    /// The whole job.
    pub fn root() -> KeyPath {
        KeyPath::default()
    }
    /// This path and one key more.
    #[must_use]
    pub fn key(&self, key: &str) -> KeyPath {
        let mut steps = self.0.clone();
        steps.push(Step::Key(key.to_owned()));
        KeyPath(steps)
    }
    /// This path and one place of a list more.
    #[must_use]
    pub fn index(&self, i: usize) -> KeyPath {
        let mut steps = self.0.clone();
        steps.push(Step::Index(i));
        KeyPath(steps)
    }
    /// A path from dotted keys, for code that knows its place: `KeyPath::of("cup.rings")`.
    pub fn of(dotted: &str) -> KeyPath {
        KeyPath(dotted.split('.').filter(|k| !k.is_empty()).map(|k| Step::Key(k.to_owned())).collect())
    }
}

impl fmt::Display for KeyPath {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (i, step) in self.0.iter().enumerate() {
            match step {
                Step::Key(k) if i == 0 => f.write_str(k)?,
                Step::Key(k) => write!(f, ".{k}")?,
                Step::Index(n) => write!(f, "[{n}]")?,
            }
        }
        Ok(())
    }
}

impl Serialize for KeyPath {
    fn serialize<S: Serializer>(&self, s: S) -> Result<S::Ok, S::Error> {
        s.collect_str(self)
    }
}

/// One thing that is wrong or worth knowing.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Diagnostic {
    /// How bad.
    pub severity: Severity,
    /// What kind.
    pub code: &'static Code,
    /// Where in the job.
    pub at: KeyPath,
    /// The art, font or other file it is about, and the place in it, if it is not the job itself.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub file: Option<String>,
    /// What is wrong, in a sentence.
    #[serde(rename = "says")]
    pub message: String,
    /// What was found, with its unit.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub measured: Option<String>,
    /// What is allowed, with its unit.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub allowed: Option<String>,
    /// How to mend it.
    #[serde(rename = "mend", skip_serializing_if = "String::is_empty")]
    pub help: String,
    /// Bytes of the job's text, where no key path can say the place: a slip of syntax, an unknown key.
    #[serde(skip)]
    pub bytes: Option<std::ops::Range<usize>>,
}

impl Diagnostic {
    fn new(severity: Severity, code: &'static Code, at: KeyPath, message: impl Into<String>) -> Self {
        Self {
            severity,
            code,
            at,
            file: None,
            message: message.into(),
            measured: None,
            allowed: None,
            help: String::new(),
            bytes: None,
        }
    }
    /// A fault: nothing will be written.
    pub fn fault(code: &'static Code, at: KeyPath, message: impl Into<String>) -> Self {
        Self::new(Severity::Fault, code, at, message)
    }
    /// A warning.
    pub fn warning(code: &'static Code, at: KeyPath, message: impl Into<String>) -> Self {
        Self::new(Severity::Warning, code, at, message)
    }
    /// A note.
    pub fn note(code: &'static Code, at: KeyPath, message: impl Into<String>) -> Self {
        Self::new(Severity::Note, code, at, message)
    }
    /// What was found.
    #[must_use]
    pub fn measured(mut self, what: impl fmt::Display) -> Self {
        self.measured = Some(what.to_string());
        self
    }
    /// What is allowed.
    #[must_use]
    pub fn allowed(mut self, what: impl fmt::Display) -> Self {
        self.allowed = Some(what.to_string());
        self
    }
    /// How to mend it.
    #[must_use]
    pub fn help(mut self, how: impl Into<String>) -> Self {
        self.help = how.into();
        self
    }
    /// The bytes of the job's text that it is about.
    #[must_use]
    pub fn bytes(mut self, place: std::ops::Range<usize>) -> Self {
        self.bytes = Some(place);
        self
    }
    /// The file it is about.
    #[must_use]
    pub fn file(mut self, name: impl Into<String>) -> Self {
        self.file = Some(name.into());
        self
    }
}

/// `fault at motif[2].width: it is too large (found 900 mm, allowed up to 500 mm); make it smaller
/// [job/out-of-range]`.
impl fmt::Display for Diagnostic {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}", self.severity)?;
        if let Some(file) = &self.file {
            write!(f, " in {file}")?;
        }
        if !self.at.0.is_empty() {
            write!(f, " at {}", self.at)?;
        }
        write!(f, ": {}", self.message)?;
        match (&self.measured, &self.allowed) {
            (Some(m), Some(a)) => write!(f, " (found {m}, allowed {a})")?,
            (Some(m), None) => write!(f, " (found {m})")?,
            (None, Some(a)) => write!(f, " (allowed {a})")?,
            (None, None) => {}
        }
        if !self.help.is_empty() {
            write!(f, "; {}", self.help)?;
        }
        write!(f, " [{}]", self.code.id)
    }
}

impl std::error::Error for Diagnostic {}

/// Proof that a fault has been reported: a function that returns it has already said why.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct ErrorGuaranteed(());

/// Everything found so far.
#[derive(Clone, Debug, Default)]
pub struct Diagnostics {
    list: Vec<Diagnostic>,
}

impl Diagnostics {
    /// Nothing found yet.
    pub fn new() -> Diagnostics {
        Diagnostics::default()
    }
    /// Adds one; the proof lets the caller give up on what depends on it.
    pub fn push(&mut self, d: Diagnostic) -> ErrorGuaranteed {
        self.list.push(d);
        ErrorGuaranteed(())
    }
    /// Takes over what another gathered.
    pub fn extend(&mut self, others: impl IntoIterator<Item = Diagnostic>) {
        self.list.extend(others);
    }
    /// Is the job at fault?
    pub fn any_fault(&self) -> bool {
        self.list.iter().any(|d| d.severity == Severity::Fault)
    }
    /// All, in the order they were found.
    pub fn iter(&self) -> std::slice::Iter<'_, Diagnostic> {
        self.list.iter()
    }
    /// How many of any severity.
    pub fn len(&self) -> usize {
        self.list.len()
    }
    /// Nothing found?
    pub fn is_empty(&self) -> bool {
        self.list.is_empty()
    }
    /// All, in the order they were found.
    pub fn into_vec(self) -> Vec<Diagnostic> {
        self.list
    }
    /// `Err` if there is any fault so far.
    pub fn check(&self) -> Result<(), ErrorGuaranteed> {
        if self.any_fault() { Err(ErrorGuaranteed(())) } else { Ok(()) }
    }
}

/// Why a character cannot stand in words that are shown or written: `None` if it can. Control characters
/// steer terminals, marks of direction turn what follows round, and U+FFFE and its like are no characters in
/// XML. Source: Unicode Standard Annex 9 (explicit formatting characters), Unicode 23.7 (noncharacters).
pub fn disturbing(c: char) -> Option<&'static str> {
    match c {
        c if c.is_control() => Some("control characters"),
        '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}' => Some("invisible marks that turn text round"),
        '\u{fdd0}'..='\u{fdef}' => Some("codes that are no characters"),
        c if u32::from(c) & 0xfffe == 0xfffe => Some("codes that are no characters"),
        _ => None,
    }
}

/// Words that can be shown: what would disturb is replaced by U+FFFD, but for ends of lines.
pub fn undisturbed(text: &str) -> String {
    text.chars().map(|c| if c != '\n' && disturbing(c).is_some() { '\u{fffd}' } else { c }).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_diagnostic_reads_as_a_sentence() {
        const ODD: Code = Code { id: "odd", title: "odd", explain: "odd" };
        let d =
            Diagnostic::fault(&ODD, KeyPath::root().key("motif").index(2).key("width"), "it is too large");
        let d = d.measured("900 mm").allowed("up to 500 mm").help("make it smaller").file("job.toml");
        let want = "fault in job.toml at motif[2].width: it is too large (found 900 mm, allowed up to 500 \
            mm); make it smaller [odd]";
        let error: &dyn std::error::Error = &d;
        assert_eq!(error.to_string(), want);
        assert_eq!(Diagnostic::note(&ODD, KeyPath::root(), "so").to_string(), "note: so [odd]");
    }

    #[test]
    fn key_paths_read_like_toml() {
        assert_eq!(KeyPath::root().key("motif").index(2).key("width").to_string(), "motif[2].width");
        assert_eq!(KeyPath::of("cup.rings").to_string(), "cup.rings");
    }
}
