//! `shelf`: what film, leftovers and blanks there are, and for whom they are held.
//!
//! Imports: base, read::{ledger, shelf}, edge::{shelf, cli}, edge::cli::{args, codes, words, stages}.

use super::args::{OnShelf, OutputMode, What};
use super::codes::{CANNOT_WRITE, USAGE};
use super::{Exit, Outcome, stages, words};
use crate::base::diag::{Diagnostic, KeyPath};
use crate::edge::shelf::{NotWritten, ShelfFolder, items_field};
use crate::read::ledger::Ledger;
use crate::read::shelf::{FILE_MISSING, Held, Item, NO_KIT, Shelf, Thing};
use serde::Serialize;
use std::fs;
use std::io;
use std::path::{Path, PathBuf};

#[derive(Serialize)]
struct Told<'a> {
    #[serde(flatten)]
    outcome: Outcome<'a>,
    #[serde(skip_serializing_if = "Option::is_none")]
    line: Option<u64>,
    free: Vec<String>,
    held: Vec<HeldPart>,
}

#[derive(Serialize)]
struct HeldPart {
    order: String,
    kit: String,
    line: u64,
    items: Vec<String>,
}

/// What came of it: the line that was written, what is there, what is to be said.
#[derive(Default)]
struct Done {
    line: Option<u64>,
    shelf: Shelf,
    diagnostics: Vec<Diagnostic>,
    said: Vec<String>,
}

/// Looks at a shelf, or puts something on it or off it.
///
/// # Errors
/// What writing to standard output says.
pub fn run(folder: &Path, what: Option<OnShelf>, voice: OutputMode) -> io::Result<Exit> {
    let shelf = ShelfFolder::new(folder);
    let (exit, done) = match asked(&shelf, what) {
        Ok(done) => (Exit::Done, done),
        Err((exit, diagnostics)) => (exit, Done { diagnostics, ..Done::default() }),
    };
    let text = words::Text::default();
    let items = |map: &std::collections::BTreeMap<Thing, u64>| -> Vec<String> {
        map.iter().map(|(thing, amount)| Item { thing: thing.clone(), amount: *amount }.words()).collect()
    };
    let held: Vec<HeldPart> = done
        .shelf
        .held
        .iter()
        .map(|(order, h)| HeldPart {
            order: order.clone(),
            kit: h.kit.clone(),
            line: h.line,
            items: items(&h.items),
        })
        .collect();
    let free = items(&done.shelf.free);
    if voice.json {
        let outcome = Outcome::new(exit, &text, &done.diagnostics);
        words::json(&Told { outcome, line: done.line, free, held })?;
        return Ok(exit);
    }
    words::say(&text, &done.diagnostics, voice.quiet);
    if exit != Exit::Done {
        return Ok(exit);
    }
    if !voice.quiet {
        done.said.iter().for_each(|s| words::tell(s));
    }
    let mut out: Vec<String> = free.iter().map(|f| format!("free: {f}\n")).collect();
    for h in held {
        out.extend(h.items.iter().map(|i| format!("held for {}: {i}\n", h.order)));
    }
    words::data(out.concat().as_bytes())?;
    Ok(exit)
}

type Refused = (Exit, Vec<Diagnostic>);

/// What was not written, and why.
pub fn not_written(folder: &Path, e: NotWritten) -> Refused {
    match e {
        NotWritten::Refused(all) => (Exit::JobAtFault, all),
        NotWritten::Io(e) => {
            let message = format!("the shelf {} cannot be written or read", folder.display());
            let d = Diagnostic::fault(&CANNOT_WRITE, KeyPath::root(), message).measured(stages::reason(&e));
            let help =
                "what was there stands; make room, or put the shelf on a disk whose files can be locked";
            (Exit::Files, vec![d.help(help)])
        }
    }
}

fn usage(message: impl Into<String>, help: &str) -> Refused {
    (Exit::Usage, vec![Diagnostic::fault(&USAGE, KeyPath::root(), message).help(help)])
}

fn asked(shelf: &ShelfFolder, what: Option<OnShelf>) -> Result<Done, Refused> {
    let no = |e| not_written(&shelf.folder, e);
    let added = |verb: &str, fields: &[(&str, String)]| {
        let (line, shelf) = shelf.add(verb, fields).map_err(no)?;
        let said = vec![format!("line {}: {verb}", line.number)];
        Ok(Done { line: Some(line.number), shelf, said, ..Done::default() })
    };
    match what {
        None => {
            if !shelf.ledger().is_file() {
                let help = "put something on it: frusta shelf FOLDER bring --film straw --roll 5000";
                return Err(usage(format!("there is no shelf in {}", shelf.folder.display()), help));
            }
            looked(shelf)
        }
        Some(OnShelf::Bring { what, key }) => {
            let (item, file) = item(&what)?;
            let mut fields = vec![items_field(&[item]), ("key", key.unwrap_or_default())];
            if let Some((name, path)) = file {
                let bytes = fs::read(&path).map_err(|e| no(e.into()))?;
                // A file that is there already belongs to a leftover that is there already, or to none.
                let (_, there) = shelf.read().map_err(no)?;
                let known =
                    there.all().keys().any(|t| matches!(t, Thing::Left { file, .. } if *file == name));
                let sum =
                    if known { String::new() } else { shelf.put(&name, &bytes).map_err(|e| no(e.into()))? };
                fields.push(("sum", sum));
            }
            fields.retain(|f| !f.1.is_empty());
            added("bring", &fields)
        }
        Some(OnShelf::Drop { what, key }) => {
            let (item, _) = item(&what)?;
            let mut fields = vec![items_field(&[item]), ("key", key.unwrap_or_default())];
            fields.retain(|f| !f.1.is_empty());
            added("drop", &fields)
        }
        Some(OnShelf::Free { order }) => added("free", &[("order", order)]),
        Some(OnShelf::Undo { line }) => added("undo", &[("line", line.to_string())]),
        Some(OnShelf::Check { mend }) => checked(shelf, mend),
    }
}

fn looked(shelf: &ShelfFolder) -> Result<Done, Refused> {
    let (_, there) = shelf.read().map_err(|e| not_written(&shelf.folder, e))?;
    Ok(Done { diagnostics: missing(shelf, &there), shelf: there, ..Done::default() })
}

fn missing(shelf: &ShelfFolder, there: &Shelf) -> Vec<Diagnostic> {
    let one = |file: String| {
        let message = format!("the outline of the leftover {file} is not there or was changed");
        Diagnostic::warning(&FILE_MISSING, KeyPath::root(), message)
            .file(file)
            .help("put the file back, or drop the leftover")
    };
    let no_kit = |(order, h): (&String, &Held)| {
        let there = h.path.is_empty() || Path::new(&h.path).join("pieces.json").is_file();
        let message = format!("film is held for {order}, and its kit is not there");
        let d = Diagnostic::warning(&NO_KIT, KeyPath::root(), message).measured(&h.path);
        let d = d.help(format!(
            "make the kit again, or `frusta shelf {} undo {}`",
            shelf.folder.display(),
            h.line
        ));
        (!there).then_some(d)
    };
    shelf.missing(there).into_iter().map(one).chain(there.held.iter().filter_map(no_kit)).collect()
}

/// Says whether the ledger can be trusted; `mend` writes what of it can be into a new file beside it.
fn checked(shelf: &ShelfFolder, mend: bool) -> Result<Done, Refused> {
    let no = |e: io::Error| not_written(&shelf.folder, e.into());
    let bytes = fs::read(shelf.ledger()).map_err(no)?;
    let ledger = Ledger::read(&bytes);
    let sound = shelf.read();
    let mut done = Done::default();
    if ledger.whole < bytes.len() {
        done.said.push(format!(
            "a torn last line of {} bytes: the next line takes its place",
            bytes.len() - ledger.whole
        ));
    }
    match sound {
        Ok((_, there)) => {
            done.said.push(format!("{} lines, all as they were written", ledger.lines.len()));
            done.diagnostics = missing(shelf, &there);
            done.shelf = there;
            Ok(done)
        }
        Err(NotWritten::Refused(faults)) if mend && !ledger.changed.is_empty() => {
            let path = shelf.ledger().with_extension("mended.txt");
            fs::write(&path, ledger.mended()).map_err(no)?;
            done.said.push(format!(
                "{} of {} lines can be trusted: {}; look at it and put it in the place of the old one",
                ledger.lines.len(),
                ledger.lines.len() + ledger.changed.len(),
                path.display()
            ));
            let told = |d: Diagnostic| Diagnostic { severity: crate::base::diag::Severity::Warning, ..d };
            done.diagnostics = faults.into_iter().map(told).collect();
            Ok(done)
        }
        Err(e) => Err(not_written(&shelf.folder, e)),
    }
}

/// What is named, and the file of a leftover.
fn item(what: &What) -> Result<(Item, Option<(String, PathBuf)>), Refused> {
    let help = "such as --film straw --roll 5000, --film damson --sheet 300x200 --count 5, --film damson --left \
        kit/leftovers/damson-1a.svg, or --blank \"tumbler 20 oz\" --count 6";
    let micrometres = |mm: f64| {
        let ok = mm.is_finite() && mm > 0.0 && mm < 1e7;
        if ok { Ok((mm * 1000.0).round() as u64) } else { Err(usage(format!("{mm} mm is no length"), help)) }
    };
    let film = || what.film.clone().ok_or_else(|| usage("say of which film", help));
    let named = [what.roll.is_some(), what.sheet.is_some(), what.left.is_some(), what.blank.is_some()];
    if named.iter().filter(|n| **n).count() != 1 || what.count == 0 {
        return Err(usage("one thing at a time: a length of roll, sheets, a leftover or blanks", help));
    }
    let count = u64::from(what.count);
    if let Some(mm) = what.roll {
        return Ok((Item { thing: Thing::Roll { film: film()? }, amount: micrometres(mm)? * count }, None));
    }
    if let Some(size) = &what.sheet {
        let sides =
            size.split_once('x').and_then(|(w, h)| Some((w.trim().parse().ok()?, h.trim().parse().ok()?)));
        let (w, h): (f64, f64) = sides.ok_or_else(|| usage(format!("\"{size}\" is no size"), help))?;
        let thing = Thing::Sheet { film: film()?, width: micrometres(w)?, height: micrometres(h)? };
        return Ok((Item { thing, amount: count }, None));
    }
    if let Some(path) = &what.left {
        let name = path.file_name().map(|n| n.to_string_lossy().into_owned()).unwrap_or_default();
        if name.contains([':', ',']) || name.starts_with('.') {
            return Err(usage(format!("\"{name}\" cannot be a leftover's file"), "rename the file"));
        }
        let thing = Thing::Left { film: film()?, file: name.clone() };
        return Ok((Item { thing, amount: 1 }, Some((name, path.clone()))));
    }
    let name = what.blank.clone().unwrap_or_default();
    Ok((Item { thing: Thing::Blank { name }, amount: count }, None))
}
