//! `recut`: pieces of a kit cut anew, from its own record.
//!
//! Imports: base, outline, read::record, make::{film, verify}, write::again, edge::{folder, kit, cli},
//! edge::cli::{args, codes, words, stages, files}.

use super::args::OutputMode;
use super::codes::CANNOT_READ;
use super::{Exit, Outcome, files, stages, words};
use crate::base::diag::{Diagnostic, Diagnostics, ErrorGuaranteed, KeyPath};
use crate::base::frame::Art;
use crate::edge::folder::Folder;
use crate::edge::kit::StagedKit;
use crate::edge::kit::aside::Content;
use crate::make::film::again::Recut;
use crate::make::verify::{CutPlan, VerifiedRecut};
use crate::outline::{Region, polyline_path};
use crate::read::record::{KitRecord, UNREADABLE};
use crate::write::again;
use serde::{Deserialize, Serialize};
use std::fs;
use std::io;
use std::path::{Path, PathBuf};

/// What to cut anew.
#[derive(Debug)]
pub struct Order {
    /// The kit's folder.
    pub kit: PathBuf,
    /// Pieces: cup, or 0, and number.
    pub numbers: Vec<(u32, u32)>,
    /// The folder it goes to.
    pub out: Option<PathBuf>,
    /// Take no leftover.
    pub fresh: bool,
    /// Over files that are not ours.
    pub force: bool,
}

#[derive(Serialize)]
struct Told<'a> {
    #[serde(flatten)]
    outcome: Outcome<'a>,
    #[serde(skip_serializing_if = "Option::is_none")]
    folder: Option<String>,
    sheets: Vec<String>,
    files: Vec<String>,
}

/// What an earlier run of this kit cut anew.
#[derive(Deserialize)]
struct Before {
    sheets: Vec<BeforeSheet>,
}

#[derive(Deserialize)]
struct BeforeSheet {
    film: String,
    taken_from: String,
    leftovers: Vec<BeforeLeft>,
}

#[derive(Deserialize)]
struct BeforeLeft {
    file: String,
    rings_mm: Vec<Vec<[f64; 2]>>,
}

/// Cuts pieces anew.
///
/// # Errors
/// What writing to standard output says.
pub fn run(order: &Order, voice: OutputMode) -> io::Result<Exit> {
    let mut diagnostics = Diagnostics::new();
    let (mut exit, mut shown) = (Exit::Done, None);
    let made = prepared(order, &mut diagnostics, &mut exit);
    if let Ok((out, verified)) = made {
        match again::files(&verified) {
            Err(broken) => diagnostics.extend(broken),
            Ok(files) => {
                let written = StagedKit::new(&out, order.force, &files::hear).and_then(|staged| {
                    files.iter().for_each(|f| staged.take(&f.path, &f.bytes));
                    staged.finish(&files.iter().map(|f| f.path.as_str()).collect::<Vec<_>>())
                });
                match written {
                    Ok(said) => {
                        diagnostics.extend(files::remarks(&said));
                        let names: Vec<String> = files.into_iter().map(|f| f.path).collect();
                        let sheets = verified.recut().sheets.iter().map(|s| verified.sheet_name(s));
                        shown = Some((out.display().to_string(), sheets.collect(), names));
                    }
                    Err(refused) => {
                        diagnostics.push(files::unwritten(&out, refused));
                        exit = Exit::Files;
                    }
                }
            }
        }
    }
    if diagnostics.any_fault() && exit == Exit::Done {
        exit = Exit::JobAtFault;
    }
    told(&diagnostics.into_vec(), exit, shown, voice)
}

type Shown = (String, Vec<String>, Vec<String>);

fn told(diagnostics: &[Diagnostic], exit: Exit, shown: Option<Shown>, voice: OutputMode) -> io::Result<Exit> {
    let text = words::Text::default();
    let (folder, sheets, files) = match shown {
        Some((folder, sheets, files)) => (Some(folder), sheets, files),
        None => (None, Vec::new(), Vec::new()),
    };
    if voice.json {
        words::json(&Told { outcome: Outcome::new(exit, &text, diagnostics), folder, sheets, files })?;
        return Ok(exit);
    }
    words::say(&text, diagnostics, voice.quiet);
    if let Some(folder) = folder {
        if !voice.quiet {
            words::tell(&format!("{} in {folder}", sheets.join(", ")));
        }
        words::data(files.iter().map(|f| format!("{f}\n")).collect::<String>().as_bytes())?;
    }
    Ok(exit)
}

/// The folder that it goes to and the sheets, measured again.
fn prepared(
    order: &Order,
    diagnostics: &mut Diagnostics,
    exit: &mut Exit,
) -> Result<(PathBuf, VerifiedRecut), ErrorGuaranteed> {
    let folder = Folder::open(&order.kit).map_err(|e| {
        *exit = Exit::Files;
        let message = format!("{} cannot be read", order.kit.display());
        let d = Diagnostic::fault(&CANNOT_READ, KeyPath::root(), message).measured(stages::reason(&e));
        diagnostics.push(d.help("name the folder that `frusta make` wrote"))
    })?;
    unchanged(&order.kit, diagnostics)?;
    let mut record = KitRecord::read(&folder, &order.numbers, diagnostics)?;
    let (out, before) = place(order);
    for earlier in before {
        used(&mut record, &earlier, diagnostics)?;
    }
    let recut = Recut::of(record, &order.numbers, order.fresh, diagnostics)?;
    let verified = VerifiedRecut::of(recut).map_err(|broken| diagnostics.extend(broken));
    diagnostics.check()?;
    verified.map(|v| (out, v)).map_err(|()| diagnostics.check().expect_err("a broken promise is a fault"))
}

/// Are the record and the cut files as they were written?
fn unchanged(kit: &Path, diagnostics: &mut Diagnostics) -> Result<(), ErrorGuaranteed> {
    let Ok(content) = Content::of(kit) else { return Ok(()) };
    let record = |p: &&PathBuf| p.starts_with("cut") || p.as_os_str() == crate::read::record::FILE;
    for changed in content.foreign.iter().filter(record) {
        let file = changed.display().to_string();
        let message = format!("{file} was changed since the kit was written");
        diagnostics.push(
            Diagnostic::fault(&UNREADABLE, KeyPath::root(), message)
                .file(file)
                .help("take the kit as `frusta make` wrote it, or make it again"),
        );
    }
    diagnostics.check()
}

/// `KIT-again`, `KIT-again-2`, ... beside the kit: the first that is free, and those that are there.
fn place(order: &Order) -> (PathBuf, Vec<PathBuf>) {
    let kit = order.kit.canonicalize().unwrap_or_else(|_| order.kit.clone());
    let name = kit.file_name().map(|n| n.to_string_lossy().into_owned()).unwrap_or_default();
    let shown = |n: usize| match n {
        1 => format!("{name}-again"),
        n => format!("{name}-again-{n}"),
    };
    let there: Vec<PathBuf> =
        (1..).map(|n| kit.with_file_name(shown(n))).take_while(|p| p.exists()).collect();
    let beside = order.kit.file_name().is_some();
    let next = shown(there.len() + 1);
    let free = if beside { order.kit.with_file_name(next) } else { kit.with_file_name(next) };
    (order.out.clone().unwrap_or(free), there)
}

/// Takes out the leftovers that an earlier run used, and puts in what it left.
fn used(
    record: &mut KitRecord,
    earlier: &Path,
    diagnostics: &mut Diagnostics,
) -> Result<(), ErrorGuaranteed> {
    let path = earlier.join(again::RECORD);
    let read = fs::read(&path).map_err(|e| stages::reason(&e));
    let before: Result<Before, String> =
        read.and_then(|b| serde_json::from_slice(&b).map_err(|e| e.to_string()));
    let before = before.map_err(|why| {
        let message = format!("{} cannot be read: which leftovers are gone is not known", path.display());
        let d = Diagnostic::fault(&UNREADABLE, KeyPath::root(), message).measured(why);
        diagnostics.push(d.help("move that folder away, or cut from fresh film with --fresh and --out"))
    })?;
    let folder = earlier.file_name().map(|n| n.to_string_lossy().into_owned()).unwrap_or_default();
    for sheet in before.sheets {
        let Some(film) = record.films.iter().position(|f| f.name == sheet.film) else { continue };
        record.leftovers[film].retain(|(name, _)| *name != sheet.taken_from);
        for left in sheet.leftovers {
            let outline: Region<Art> = Region::trusted(left.rings_mm.iter().map(|r| polyline_path(r)));
            record.leftovers[film].push((format!("{folder}/{}", left.file), outline));
        }
    }
    Ok(())
}
