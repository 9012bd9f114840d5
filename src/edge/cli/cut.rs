//! `cut`: what was done with a kit: sheets that were cut, pieces that are on the cup; and the film that a sheet took
//! from the shelf.
//!
//! It stands in a ledger beside the kit, `KIT-done.txt`, so that the next kit may take this one's place.
//!
//! Imports: base, read::{ledger, shelf, kept}, write::proof, edge::{journal, shelf, cli}, edge::cli::{args, codes,
//! words, shelf, keep}.

use super::args::OutputMode;
use super::codes::USAGE;
use super::{Exit, Outcome, keep, shelf, words};
use crate::base::diag::{Diagnostic, Diagnostics, KeyPath};
use crate::edge::journal::{self, Addition};
use crate::edge::shelf::{ON_SHELF, ShelfFolder, now};
use crate::read::kept::{KeptKit, KeptSheet};
use crate::read::ledger::Ledger;
use crate::read::shelf::{Item, Thing, items_text};
use crate::write::proof;
use serde::Serialize;
use std::collections::BTreeMap;
use std::fs;
use std::io;
use std::path::{Path, PathBuf};

/// What was done.
#[derive(Debug)]
pub struct Order {
    /// The kit's folder.
    pub kit: PathBuf,
    /// Sheets that were cut.
    pub sheets: Vec<String>,
    /// Pieces that are on the cup now.
    pub applied: Vec<u32>,
    /// Pieces that were peeled off again.
    pub peeled: Vec<u32>,
    /// The shelf that their film is taken from.
    pub shelf: Option<PathBuf>,
}

#[derive(Serialize)]
struct Told<'a> {
    #[serde(flatten)]
    outcome: Outcome<'a>,
    done: Vec<String>,
}

/// What an order is called on a shelf: its kit's folder.
pub fn order_of(kit: &Path) -> String {
    let kit = kit.canonicalize().unwrap_or_else(|_| kit.to_owned());
    kit.file_name().map(|n| n.to_string_lossy().into_owned()).unwrap_or_default()
}

/// The sums of a kit's cut files, in any order.
#[derive(Debug, Default)]
pub struct FilmSums(BTreeMap<String, String>);

impl FilmSums {
    /// Takes in a file, if it is one to cut.
    pub fn take(&mut self, path: &str, content: &[u8]) {
        if path.starts_with("cut/") {
            self.0.insert(path.to_owned(), proof::seen::sum(content));
        }
    }
    /// The fingerprint of the kit's film.
    pub fn sum(&self) -> String {
        let lines: String = self.0.iter().map(|(path, sum)| format!("{sum} {path}\n")).collect();
        proof::seen::sum(lines.as_bytes())[..12].to_owned()
    }
}

/// What a sheet is cut from, as a shelf has it; none of what is no shelf's.
pub fn items(record: &KeptKit, s: &KeptSheet) -> Option<Item> {
    let film = record.film(s.film).to_owned();
    let um = |mm: f64| (mm * 1000.0).round() as u64;
    let times = u64::from(s.times);
    let sheet =
        |film| Item { thing: Thing::Sheet { film, width: um(s.width), height: um(s.height) }, amount: times };
    match s.taken_from.as_str() {
        "bought" if record.films[s.film].roll => {
            Some(Item { thing: Thing::Roll { film }, amount: um(s.height) * times })
        }
        "bought" | "stock" => Some(sheet(film)),
        file => {
            let file = file.strip_prefix(ON_SHELF)?.to_owned();
            Some(Item { thing: Thing::Left { film, file }, amount: 1 })
        }
    }
}

/// Records what was done.
///
/// # Errors
/// What writing to standard output says.
pub fn run(order: &Order, voice: OutputMode) -> io::Result<Exit> {
    let mut diagnostics = Diagnostics::new();
    let mut done = Vec::new();
    let exit = recorded(order, &mut diagnostics, &mut done).err().unwrap_or(Exit::Done);
    let (text, diagnostics) = (words::Text::default(), diagnostics.into_vec());
    if voice.json {
        words::json(&Told { outcome: Outcome::new(exit, &text, &diagnostics), done })?;
        return Ok(exit);
    }
    words::say(&text, &diagnostics, voice.quiet);
    words::data(done.iter().map(|d| format!("{d}\n")).collect::<String>().as_bytes())?;
    Ok(exit)
}

fn recorded(order: &Order, diagnostics: &mut Diagnostics, done: &mut Vec<String>) -> Result<(), Exit> {
    let record = keep::read(&order.kit, diagnostics).map_err(|_| Exit::JobAtFault)?;
    let mut usage = |message: String, help: &str| {
        diagnostics.push(Diagnostic::fault(&USAGE, KeyPath::root(), message).help(help));
    };
    let known: Vec<String> = record.sheets.iter().map(|s| record.sheet_name(s)).collect();
    for s in order.sheets.iter().filter(|s| !known.contains(s)) {
        usage(
            format!("the kit has no sheet {}", words::plain(s)),
            &format!("its sheets: {}", known.join(", ")),
        );
    }
    for n in order.applied.iter().chain(&order.peeled) {
        if !record.pieces.iter().any(|p| p.number == *n) {
            usage(format!("the kit has no piece {n} on the cup"), "take the number from the kit's map");
        }
    }
    if order.sheets.is_empty() && order.applied.is_empty() && order.peeled.is_empty() {
        usage(
            "nothing was said to be done".to_owned(),
            "name sheets that were cut, or --applied and numbers",
        );
    }
    diagnostics.check().map_err(|_| Exit::Usage)?;
    for name in &order.sheets {
        let Some(s) = record.sheets.iter().find(|s| record.sheet_name(s) == *name) else { continue };
        if s.cut {
            done.push(format!("{name} was marked as cut before"));
            continue;
        }
        if let Some(folder) = &order.shelf {
            match taken(&record, s, &order.kit, folder) {
                Ok(said) => done.push(said),
                Err((exit, all)) => {
                    diagnostics.extend(all);
                    return Err(exit);
                }
            }
        }
        write(order, "cut", &[("sheet", name.clone())], diagnostics)?;
        done.push(format!("{name} is cut"));
    }
    for (verb, list) in [("applied", &order.applied), ("peeled", &order.peeled)] {
        if !list.is_empty() {
            let numbers = list.iter().map(u32::to_string).collect::<Vec<_>>().join(",");
            write(order, verb, &[("pieces", numbers.clone())], diagnostics)?;
            done.push(format!("{verb}: {numbers}"));
        }
    }
    Ok(())
}

fn write(order: &Order, verb: &str, fields: &[(&str, String)], told: &mut Diagnostics) -> Result<(), Exit> {
    let path = keep::ledger(&order.kit);
    let file = path.display().to_string();
    let added = journal::add(&path, |bytes| {
        let ledger = Ledger::read(bytes);
        let faults = ledger.faults(&file);
        if !faults.is_empty() {
            return Err(faults);
        }
        let text = ledger.next(&now(), verb, fields).text().into_bytes();
        Ok(Addition { keep: ledger.whole, text, told: () })
    });
    match added {
        Ok(Ok(())) => Ok(()),
        Ok(Err(faults)) => {
            told.extend(faults);
            Err(Exit::JobAtFault)
        }
        Err(e) => {
            let (exit, all) = shelf::not_written(&path, e.into());
            told.extend(all);
            Err(exit)
        }
    }
}

/// Takes a sheet's film from the shelf, where it is held for this kit; what the sheet left over goes there.
fn taken(
    record: &KeptKit,
    s: &KeptSheet,
    kit: &Path,
    folder: &Path,
) -> Result<String, (Exit, Vec<Diagnostic>)> {
    let no = |e| shelf::not_written(folder, e);
    let shelf = ShelfFolder::new(folder);
    let (name, order) = (record.sheet_name(s), order_of(kit));
    let cut = files(&kit.join("cut")).map_err(|e| no(e.into()))?;
    let mut film = FilmSums::default();
    cut.iter().for_each(|(path, bytes)| film.take(path, bytes));
    let kit_film = film.sum();
    let (mut left, mut sums) = (Vec::new(), Vec::new());
    for (path, bytes) in files(&kit.join("leftovers")).map_err(|e| no(e.into()))? {
        let file = path.trim_start_matches("cut/").to_owned();
        let of = file.strip_prefix(&name).is_some_and(|rest| {
            rest.strip_suffix(".svg")
                .is_some_and(|l| l.len() == 1 && l.bytes().all(|b| b.is_ascii_lowercase()))
        });
        if of && s.times == 1 {
            let file = format!("{}-{kit_film}-{file}", order.replace([':', ',', ' '], "-"));
            sums.push(shelf.put(&file, &bytes).map_err(|e| no(e.into()))?);
            left.push(Item { thing: Thing::Left { film: record.film(s.film).to_owned(), file }, amount: 1 });
        }
    }
    let Some(item) = items(record, s) else { return Ok(format!("{name} is not from the shelf")) };
    let key = format!("cut {order} {kit_film} {name}");
    let words = item.words();
    let added = shelf.add_if(&key, |there| {
        let held = there.held.get(&order).filter(|h| h.kit == kit_film);
        let enough = held.and_then(|h| h.items.get(&item.thing)).is_some_and(|n| *n >= item.amount);
        let line = |verb: &str, fields: Vec<(&str, String)>| {
            let fields = fields.into_iter().filter(|f| !f.1.is_empty());
            (verb.to_owned(), fields.map(|(k, v)| (k.to_owned(), v)).collect())
        };
        if !enough {
            let why = format!("{words} is not held for {order} and this kit; `frusta make --shelf` holds it");
            return Err(why);
        }
        Ok(line(
            "take",
            vec![
                ("order", order.clone()),
                ("kit", kit_film.clone()),
                ("sheet", name.clone()),
                ("items", items_text(std::slice::from_ref(&item))),
                ("left", items_text(&left)),
                ("sums", sums.join(",")),
                ("key", key.clone()),
            ],
        ))
    });
    let (line, _) = added.map_err(no)?;
    Ok(format!("shelf line {}: {words} taken, {} left over", line.number, left.len()))
}

/// The files of a folder of a kit, by `cut/NAME`; none if it is not there.
fn files(folder: &Path) -> io::Result<Vec<(String, Vec<u8>)>> {
    let mut out = Vec::new();
    let entries = match fs::read_dir(folder) {
        Ok(entries) => entries,
        Err(e) if e.kind() == io::ErrorKind::NotFound => return Ok(out),
        Err(e) => return Err(e),
    };
    for entry in entries {
        let path = entry?.path();
        if path.extension().is_some_and(|x| x == "svg") {
            let name = path.file_name().map(|n| n.to_string_lossy().into_owned()).unwrap_or_default();
            out.push((format!("cut/{name}"), fs::read(&path)?));
        }
    }
    out.sort();
    Ok(out)
}
