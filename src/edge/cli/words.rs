//! What was found, in words at its place in the job's text, or as JSON.
//!
//! Imports: base, read::job.

use crate::base::diag::{Diagnostic, Severity, disturbing, undisturbed};
use crate::read::job::{Places, line_column};
use annotate_snippets::{AnnotationKind, Group, Level, Origin, Renderer, Snippet};
use serde::Serialize;
use std::collections::BTreeMap;
use std::io::{self, Write};
use std::ops::Range;
use std::path::Path;

/// Columns that words are broken at.
const WIDTH: usize = 96;
/// Findings of one kind that are shown whole; of more, the places are.
const WHOLE: usize = 12;
/// Places of those that are named.
const PLACES: usize = 30;

/// A job's text and where everything stands in it.
#[derive(Clone, Debug, Default)]
pub struct Text {
    /// The job's path, as the maker typed it.
    pub path: String,
    /// Its text; empty if it could not be read.
    pub text: String,
    /// Where everything stands.
    pub places: Places,
}

impl Text {
    /// A text that has not been read yet.
    pub fn of(path: &Path) -> Text {
        Text { path: path.display().to_string(), ..Text::default() }
    }

    /// The bytes that a diagnostic is about, if it is about a place of the text: no more than one line of it.
    fn span(&self, d: &Diagnostic) -> Option<Range<usize>> {
        if self.text.is_empty() || (d.bytes.is_none() && d.at.0.is_empty()) {
            return None;
        }
        let span = d.bytes.clone().unwrap_or_else(|| self.places.locate(&d.at));
        if span == (0..0) && d.bytes.is_none() {
            return None;
        }
        let start = (0..=span.start.min(self.text.len())).rev().find(|i| self.text.is_char_boundary(*i))?;
        let line_end = self.text[start..].find(['\n', '\r']).map_or(self.text.len(), |n| start + n);
        let end = (start..=span.end.clamp(start, line_end)).rev().find(|i| self.text.is_char_boundary(*i))?;
        Some(start..end)
    }
}

/// A diagnostic and its place, for JSON.
#[derive(Debug, Serialize)]
pub struct Placed<'a> {
    #[serde(flatten)]
    diagnostics: &'a Diagnostic,
    #[serde(skip_serializing_if = "Option::is_none")]
    line: Option<usize>,
    #[serde(skip_serializing_if = "Option::is_none")]
    column: Option<usize>,
}

/// All diagnostics with their lines and columns.
pub fn placed<'a>(text: &Text, diagnostics: &'a [Diagnostic]) -> Vec<Placed<'a>> {
    let place = |d| text.span(d).map(|s| line_column(&text.text, s.start));
    diagnostics
        .iter()
        .map(|d| (d, place(d)))
        .map(|(diagnostics, at)| Placed {
            diagnostics,
            line: at.map(|a| a.line),
            column: at.map(|a| a.column),
        })
        .collect()
}

/// Says all of them on standard error, and how many there are.
pub fn say(text: &Text, diagnostics: &[Diagnostic], quiet: bool) {
    let shown = diagnostics.iter().filter(|d| !quiet || d.severity == Severity::Fault);
    let mut out = anstream::stderr().lock();
    let mut of_a_kind: BTreeMap<(Severity, &str), Vec<&Diagnostic>> = BTreeMap::new();
    for d in shown {
        let alike = of_a_kind.entry((d.severity, d.code.id)).or_default();
        alike.push(d);
        if alike.len() <= WHOLE {
            // A closed standard error is no reason to stop.
            let _ = writeln!(out, "{}\n", rendered(text, d));
        }
    }
    for ((severity, id), alike) in of_a_kind.iter().rev() {
        if let Some(rest) = alike.get(WHOLE..).filter(|rest| !rest.is_empty()) {
            let _ = writeln!(out, "{}\n", wrapped(&more(text, *severity, id, rest), WIDTH));
        }
    }
    if let Some(worst) = diagnostics.iter().rev().max_by_key(|d| d.severity)
        && !quiet
    {
        let _ = writeln!(out, "{}; `frusta explain {}` says more", counted(diagnostics), worst.code.id);
    }
}

/// "30 more faults [motif/too-near] at motif\[12\] (line 80), ...": what is not shown whole because so many of its
/// kind are.
fn more(text: &Text, severity: Severity, id: &str, rest: &[&Diagnostic]) -> String {
    let place = |d: &&Diagnostic| match text.span(d) {
        Some(span) => format!("{} (line {})", d.at, line_column(&text.text, span.start).line),
        None => d.at.to_string(),
    };
    let mut places: Vec<String> = rest.iter().map(place).collect();
    places.dedup();
    let unsaid = places.len().saturating_sub(PLACES);
    places.truncate(PLACES);
    let tail = if unsaid > 0 {
        format!(" and {unsaid} more places; `check --json` names all")
    } else {
        String::new()
    };
    let s = if rest.len() == 1 { "" } else { "s" };
    plain(&format!("{} more {severity}{s} [{id}] at {}{tail}", rest.len(), places.join(", ")))
}

/// "2 faults and 1 warning".
pub fn counted(diagnostics: &[Diagnostic]) -> String {
    let mut parts = Vec::new();
    for severity in [Severity::Fault, Severity::Warning, Severity::Note] {
        match diagnostics.iter().filter(|d| d.severity == severity).count() {
            0 => {}
            1 => parts.push(format!("1 {severity}")),
            n => parts.push(format!("{n} {severity}s")),
        }
    }
    match parts.pop() {
        None => "nothing found".into(),
        Some(last) if parts.is_empty() => last,
        Some(last) => format!("{} and {last}", parts.join(", ")),
    }
}

/// One diagnostic in words: what, where with the line of the job, what was found, what is allowed, and the
/// mend.
fn rendered(text: &Text, d: &Diagnostic) -> String {
    let (level, name) = match d.severity {
        Severity::Fault => (Level::ERROR, "fault"),
        Severity::Warning => (Level::WARNING, "warning"),
        Severity::Note => (Level::NOTE, "note"),
    };
    let mut group = Group::with_title(level.with_name(name).primary_title(plain(&d.message)).id(d.code.id));
    let in_job = !text.path.is_empty() && d.file.as_deref() != Some(text.path.as_str());
    let diagnostics = d.measured.as_deref().map(plain);
    let mut told = false;
    match text.span(d) {
        Some(span) if in_job => {
            let mut mark = AnnotationKind::Primary.span(span);
            if let Some(f) = diagnostics.as_ref().filter(|f| f.chars().count() <= 60) {
                mark = mark.label(f.clone());
                told = true;
            }
            group =
                group.element(Snippet::source(source(&text.text)).path(text.path.as_str()).annotation(mark));
        }
        _ if in_job => group = group.element(Origin::path(text.path.as_str())),
        _ => {}
    }
    if let Some(file) = &d.file {
        group = group.element(line(Level::NOTE, "file", file));
    }
    if let Some(f) = diagnostics.filter(|_| !told) {
        group = group.element(line(Level::NOTE, "found", &f));
    }
    if let Some(allowed) = &d.allowed {
        group = group.element(line(Level::NOTE, "allowed", allowed));
    }
    if !d.help.is_empty() {
        group = group.element(line(Level::HELP, "mend", &d.help));
    }
    Renderer::styled().term_width(WIDTH).render(&[group])
}

fn line<'a>(level: Level<'static>, name: &'static str, message: &str) -> annotate_snippets::Message<'a> {
    level.with_name(name).message(wrapped(&plain(message), WIDTH - 16))
}

/// A job's text with what would disturb replaced by a sign of as many bytes, so that places stay; the
/// renderer itself shows control characters as such.
fn source(text: &str) -> String {
    let seen = |c: char| match (disturbing(c), c.len_utf8()) {
        (Some(_), 2) => '\u{a4}',
        (Some(_), 3) => '\u{fffd}',
        _ => c,
    };
    text.chars().map(seen).collect()
}

/// Text that cannot steer a terminal: the job and its art may come from somebody else.
pub fn plain(text: &str) -> String {
    undisturbed(text)
}

/// Lines broken between words.
pub fn wrapped(text: &str, width: usize) -> String {
    let mut lines: Vec<String> = Vec::new();
    for given in text.split('\n') {
        let mut now = String::new();
        for word in given.split(' ') {
            if !now.is_empty() && now.chars().count() + 1 + word.chars().count() > width {
                lines.push(std::mem::take(&mut now));
            }
            if !now.is_empty() {
                now.push(' ');
            }
            now.push_str(word);
        }
        lines.push(now);
    }
    lines.join("\n")
}

/// A path as it is typed: in quotes if it has blanks or other signs of the shell.
pub fn typed(path: &Path) -> String {
    let text = undisturbed(&path.display().to_string());
    let plain = |c: char| c.is_alphanumeric() || "-_./\\:~+@%".contains(c);
    if !text.is_empty() && text.chars().all(plain) { text } else { format!("\"{text}\"") }
}

/// A line on standard error.
pub fn tell(message: &str) {
    let _ = writeln!(anstream::stderr().lock(), "{message}");
}

/// Data on standard output. A reader that has gone away is no error.
///
/// # Errors
/// What the system says otherwise: a full disk, say.
pub fn data(bytes: &[u8]) -> io::Result<()> {
    let mut out = io::stdout().lock();
    match out.write_all(bytes).and_then(|()| out.flush()) {
        Err(e) if e.kind() == io::ErrorKind::BrokenPipe => Ok(()),
        other => other,
    }
}

/// Data on standard output, as JSON.
///
/// # Errors
/// As [`data`].
pub fn json(value: &impl Serialize) -> io::Result<()> {
    let mut bytes = serde_json::to_vec_pretty(value)?;
    bytes.push(b'\n');
    data(&bytes)
}
