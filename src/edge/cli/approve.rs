//! `approve`: records that a customer approved the proof of a kit, by its code.
//!
//! Imports: base, write::proof, edge::{journal, kit, cli}, edge::cli::{args, codes, words, stages}.

use super::args::OutputMode;
use super::codes::{CANNOT_READ, CANNOT_WRITE, USAGE};
use super::{Exit, Outcome, stages, words};
use crate::base::diag::{Diagnostic, KeyPath};
use crate::edge::journal::{self, Addition};
use crate::edge::kit::aside::Content;
use crate::write::proof::{self, code, record};
use serde::Serialize;
use std::fs;
use std::io;
use std::path::{Path, PathBuf};

/// What to record.
#[derive(Debug)]
pub struct Order {
    /// The kit's folder.
    pub kit: PathBuf,
    /// The code as the customer gave it.
    pub code: String,
    /// Who approved.
    pub by: String,
    /// The file of approvals.
    pub record: Option<PathBuf>,
}

#[derive(Serialize)]
struct Told<'a> {
    #[serde(flatten)]
    outcome: Outcome<'a>,
    #[serde(skip_serializing_if = "Option::is_none")]
    code: Option<&'a str>,
    #[serde(skip_serializing_if = "Option::is_none")]
    record: Option<String>,
}

/// Records an approval.
///
/// # Errors
/// What writing to standard output says.
pub fn run(order: &Order, voice: OutputMode) -> io::Result<Exit> {
    let (exit, diagnostics, shown) = match recorded(order) {
        Ok((code, path)) => (Exit::Done, Vec::new(), Some((code, path))),
        Err((exit, d)) => (exit, vec![*d], None),
    };
    let text = words::Text::default();
    let path = shown.as_ref().map(|s| s.1.display().to_string());
    if voice.json {
        let code = shown.as_ref().map(|s| s.0.as_str());
        words::json(&Told { outcome: Outcome::new(exit, &text, &diagnostics), code, record: path })?;
        return Ok(exit);
    }
    words::say(&text, &diagnostics, voice.quiet);
    if let (Some((code, path)), false) = (shown, voice.quiet) {
        words::tell(&format!("{code} approved by {}: {}", words::plain(&order.by), path.display()));
    }
    Ok(exit)
}

type Refused = (Exit, Box<Diagnostic>);

fn recorded(order: &Order) -> Result<(String, PathBuf), Refused> {
    let at = KeyPath::root;
    let usage = |message: String, help: &str| {
        (Exit::Usage, Box::new(Diagnostic::fault(&USAGE, at(), message).help(help)))
    };
    let code = code::typed(&order.code).map_err(|why| {
        let message = format!("\"{}\" is no code of a proof: {why}", words::plain(&order.code));
        usage(message, "type it as it stands on the proof, such as K7QM-3XTE-9RAB")
    })?;
    let file = order.kit.join(proof::SEEN);
    let seen = fs::read_to_string(&file).map_err(|e| {
        let d = Diagnostic::fault(&CANNOT_READ, at(), format!("{} cannot be read", file.display()));
        (
            Exit::Files,
            Box::new(d.measured(stages::reason(&e)).help("name the kit of an order: it holds the proof")),
        )
    })?;
    let changed =
        Content::of(&order.kit).is_ok_and(|c| c.foreign.iter().any(|f| f == Path::new(proof::SEEN)));
    let own = code::of(&proof::fingerprint(&seen));
    if changed || own != code {
        let d = Diagnostic::fault(&record::NOT_APPROVED, at(), "the code is not that of this kit's proof");
        let d = d.measured(&code).allowed(if changed { "(its text was changed since)".into() } else { own });
        return Err((Exit::JobAtFault, Box::new(d.help("have the proof approved that belongs to this kit"))));
    }
    let path = order.record.clone().unwrap_or_else(|| {
        let beside = order.kit.canonicalize().unwrap_or_else(|_| order.kit.clone());
        beside.with_file_name("approvals.txt")
    });
    let when = jiff::Timestamp::now().strftime("%Y-%m-%dT%H:%M:%SZ").to_string();
    appended(&path, &record::entry(&seen, &when, &order.by)).map_err(|e| {
        let d = Diagnostic::fault(&CANNOT_WRITE, at(), format!("{} cannot be written", path.display()));
        (Exit::Files, Box::new(d.measured(stages::reason(&e)).help("name another file with --record")))
    })?;
    Ok((code, path))
}

/// Adds to the file, one writer at a time, and sees it on the disk.
fn appended(path: &Path, text: &str) -> io::Result<()> {
    let added = journal::add(path, |before| {
        let text = text.as_bytes().to_vec();
        Ok::<_, std::convert::Infallible>(Addition { keep: before.len(), text, told: () })
    });
    added.map(|Ok(())| ())
}
