//! `check` and `make`: all stages, and the kit into its folder.
//!
//! Imports: base, read::{source, job}, make::{film, finish, plan, verify}, write, edge::{folder, shelf, kit, packed,
//! cli}, edge::cli::{args, codes, words, stages, ways, shelf, cut, hold, files, made_from}.

use super::args::OutputMode;
use super::codes::OVER_JOB;
use super::cut::FilmSums;
use super::files::{hear, remarks, unpacked, unwritten};
use super::hold::held;
use super::made_from::made_from;
use super::stages::{self, LoadedJob};
use super::ways;
use super::{Exit, Outcome, shelf, words};
use crate::base::diag::{Diagnostic, KeyPath};
use crate::base::moment::Moment;
use crate::base::money::Money;
use crate::edge::folder::Folder;
use crate::edge::kit::StagedKit;
use crate::edge::packed::pack;
use crate::edge::shelf::ShelfFolder;
use crate::make::film::Effort;
use crate::make::film::bill::{self, Buy};
use crate::make::finish::Costing;
use crate::make::plan::ways::Way;
use crate::make::verify::{Report, Verified};
use crate::read::source::Source;
use crate::write::{self, KitFile, ListedKit, Prepared};
use serde::Serialize;
use std::io;
use std::path::{Path, PathBuf};
use std::sync::{Mutex, OnceLock, PoisonError};
use std::time::Instant;

/// What to make.
#[derive(Debug)]
pub struct Order {
    /// The kit's folder, if not `kit` beside the job.
    pub out: Option<PathBuf>,
    /// The earlier kit to keep.
    pub keep: Option<PathBuf>,
    /// The shelf's folder.
    pub shelf: Option<PathBuf>,
    /// Do everything but write.
    pub dry_run: bool,
    /// Over files that are not the kit's.
    pub force: bool,
    /// Pack it, too.
    pub zip: bool,
    /// Tell what other ways of laying take.
    pub ways: bool,
    /// How hard to look.
    pub effort: Effort,
}

#[derive(Serialize)]
struct Made<'a> {
    #[serde(flatten)]
    outcome: Outcome<'a>,
    job: &'a str,
    #[serde(skip_serializing_if = "Option::is_none")]
    plan: Option<Totals>,
    #[serde(skip_serializing_if = "Option::is_none")]
    finish: Option<Finished>,
    #[serde(skip_serializing_if = "Option::is_none")]
    verified: Option<&'a Report>,
    #[serde(skip_serializing_if = "<[Way]>::is_empty")]
    ways: &'a [Way],
    #[serde(skip_serializing_if = "Option::is_none")]
    kit: Option<Written>,
}

#[derive(Serialize)]
struct Totals {
    pieces: usize,
    sheets: usize,
    #[serde(skip_serializing_if = "one_cup")]
    cups: u32,
    films: Vec<FilmToBuy>,
}

#[allow(clippy::trivially_copy_pass_by_ref, reason = "serde asks for a reference")]
fn one_cup(cups: &u32) -> bool {
    *cups == 1
}

/// Sheets cut, each as often as it is.
fn sheets(plan: &Verified) -> usize {
    plan.sheets().iter().map(|s| s.repeat.times as usize).sum()
}

/// What to buy of a film.
#[derive(Serialize)]
struct FilmToBuy {
    film: String,
    sheets: usize,
    spares: usize,
    buy_sheets: usize,
    buy_length_mm: f64,
    used_percent: f64,
}

fn to_buy(plan: &Verified) -> Vec<FilmToBuy> {
    let one = |b: bill::Bill| FilmToBuy {
        film: plan.job().films[b.film.0].name.clone(),
        sheets: b.sheets,
        spares: b.spares,
        buy_sheets: if let Buy::Sheets(n) = b.buy { n } else { 0 },
        buy_length_mm: if let Buy::Length(l) = b.buy { (l.0 * 10.0).round() / 10.0 } else { 0.0 },
        used_percent: (b.used_part * 1000.0).round() / 10.0,
    };
    bill::bills(plan.sheets(), &plan.job().films).into_iter().map(one).collect()
}

/// What a job that speaks of finishing comes to.
#[derive(Serialize)]
struct Finished {
    cups: u32,
    film_step_mm: f64,
    clear_over_film_mm: f64,
    clear_needed_mm: f64,
    coats_to_add: u32,
    build_up_mm: f64,
    girth_growth_mm: f64,
    #[serde(skip_serializing_if = "Option::is_none")]
    ready: Option<Moment>,
    #[serde(skip_serializing_if = "Option::is_none")]
    price: Option<Price>,
    #[serde(skip)]
    buried: String,
}

#[derive(Serialize)]
struct Price {
    currency: String,
    each: Money,
    pays: Money,
}

impl Finished {
    fn of(plan: &Verified) -> Option<Finished> {
        plan.job().finish.as_ref()?;
        let f = plan.finish();
        let price = |c: &Costing| Price {
            currency: c.currency.clone(),
            each: c.order.price_each,
            pays: c.order.pays,
        };
        Some(Finished {
            cups: f.cups,
            film_step_mm: f.burial.step.height.0,
            clear_over_film_mm: f.burial.over.0,
            clear_needed_mm: f.burial.needed.0,
            coats_to_add: f.burial.coats_to_add,
            build_up_mm: f.surfaces.of_layout.0,
            girth_growth_mm: f.surfaces.growth.0,
            ready: f.calendar.as_ref().map(|c| c.finished),
            price: f.costing.as_ref().map(price),
            buried: f.burial.words(),
        })
    }

    fn words(&self) -> Vec<String> {
        let mut out = vec![self.buried.clone()];
        if self.build_up_mm > 0.0 {
            out.push(format!(
                "Template and layout are made for {:.2} mm of coats under the film: {:.2} mm longer round.",
                self.build_up_mm, self.girth_growth_mm
            ));
        }
        if let Some(ready) = self.ready {
            out.push(format!("Ready {ready}."));
        }
        if let Some(p) = &self.price {
            let cups = if self.cups == 1 { "1 cup".into() } else { format!("{} cups", self.cups) };
            out.push(format!(
                "Price {} {} a cup before tax; {cups} with tax {} {}.",
                p.currency, p.each, p.currency, p.pays
            ));
        }
        out
    }
}

#[derive(Serialize)]
struct Written {
    folder: String,
    #[serde(skip_serializing_if = "Option::is_none")]
    packed: Option<String>,
    written: bool,
    files: Vec<FileSize>,
}

#[derive(Serialize)]
struct FileSize {
    path: String,
    bytes: usize,
}

/// Finds everything that is wrong with a job; writes nothing.
///
/// # Errors
/// What writing to standard output says.
pub fn check(job: &Path, effort: Effort, voice: OutputMode) -> io::Result<Exit> {
    let mut opened = stages::open(job);
    let out = opened.folder.join("kit");
    if made_from(&mut opened, [None, None], &out).is_err() {
        return finish(opened, None, None, &[], voice);
    }
    let verified = stages::run(&mut opened, effort, voice);
    if let Some(plan) = &verified {
        approved(&mut opened, plan);
    }
    finish(opened, verified.as_ref(), None, &[], voice)
}

/// Makes a kit.
///
/// # Errors
/// What writing to standard output says.
pub fn run(job: &Path, order: &Order, voice: OutputMode) -> io::Result<Exit> {
    let mut opened = stages::open(job);
    let out = order.out.clone().unwrap_or_else(|| opened.folder.join("kit"));
    if holds(&out, &opened.folder) {
        opened.diagnostics.push(
            Diagnostic::fault(
                &OVER_JOB,
                KeyPath::root(),
                format!("the kit cannot go to {}: the job lies in it", out.display()),
            )
            .help("name a folder of its own, such as the one taken without --out: kit, beside the job"),
        );
        opened.exit = Exit::Usage;
        return finish(opened, None, None, &[], voice);
    }
    if made_from(&mut opened, [order.keep.as_ref(), order.shelf.as_ref()], &out).is_err() {
        return finish(opened, None, None, &[], voice);
    }
    // One thread is idle through much of the stages. What it was to prepare and did not, writing makes by
    // itself.
    let ahead =
        opened.job.clone().and_then(|job| std::thread::Builder::new().spawn(move || Prepared::of(&job)).ok());
    let verified = stages::run(&mut opened, order.effort, voice);
    let written = verified.as_ref().filter(|v| approved(&mut opened, v)).and_then(|v| {
        let prepared = ahead.and_then(|t| t.join().ok()).flatten();
        written(&mut opened, v, prepared.as_ref(), &out, order, voice)
    });
    let ways = verified.as_ref().filter(|_| order.ways).map(|v| ways::of(&opened.folder, v, order.effort));
    finish(opened, verified.as_ref(), written, ways.as_deref().unwrap_or_default(), voice)
}

/// Has the customer approved what the job says she must? What she has not is told.
fn approved(opened: &mut LoadedJob, plan: &Verified) -> bool {
    let Some(file) = plan.job().order.as_ref().and_then(|o| o.approved.as_ref()) else { return true };
    let record = Folder::open(&opened.folder)
        .ok()
        .and_then(|folder| folder.bytes(file, LARGEST_RECORD).ok())
        .map(|bytes| String::from_utf8_lossy(&bytes).into_owned());
    let missing = write::proof::record::missing(plan, record.as_deref());
    let all = missing.is_empty();
    opened.diagnostics.extend(missing.into_iter().map(|d| d.file(file.clone())));
    all
}

/// Most bytes of approvals that are read.
const LARGEST_RECORD: u64 = 64 << 20;

/// Is the folder the job's own, or one above it?
fn holds(out: &Path, folder: &Path) -> bool {
    let folder = if folder.as_os_str().is_empty() { Path::new(".") } else { folder };
    matches!((out.canonicalize(), folder.canonicalize()), (Ok(out), Ok(folder)) if folder.starts_with(&out))
}

fn written(
    opened: &mut LoadedJob,
    plan: &Verified,
    prepared: Option<&Prepared>,
    out: &Path,
    order: &Order,
    voice: OutputMode,
) -> Option<Written> {
    let start = Instant::now();
    let refused = |opened: &mut LoadedJob, refused| {
        opened.diagnostics.push(unwritten(out, refused));
        opened.exit = Exit::Files;
    };
    // Whether the folder may be written to is looked at while the first files are made; then files go to the
    // disk while others are made, and from memory.
    let (begun, film) = (OnceLock::new(), Mutex::new(FilmSums::default()));
    let begin = || begun.get_or_init(|| StagedKit::new(out, order.force, &hear));
    let writing = stages::Writing::of(plan, voice);
    let tell = |f: KitFile| {
        writing.file(&f.path);
        film.lock().unwrap_or_else(PoisonError::into_inner).take(&f.path, &f.bytes);
        if !order.dry_run
            && let Ok(begun) = begin()
        {
            begun.take(&f.path, &f.bytes);
        }
    };
    let kit = std::thread::scope(|s| {
        if !order.dry_run {
            // Without a thread the first file's maker looks.
            let _ = std::thread::Builder::new().spawn_scoped(s, || _ = begin());
        }
        write::kit_with_progress(plan, prepared, &tell)
    });
    writing.end();
    let begun = match begun.into_inner().transpose() {
        Ok(begun) => begun,
        Err(e) => {
            refused(opened, e);
            return None;
        }
    };
    let kit = match kit {
        Ok(kit) => kit,
        Err(broken) => {
            opened.diagnostics.extend(broken);
            return None;
        }
    };
    opened.diagnostics.extend(kit.diagnostics.iter().cloned());
    let film = film.into_inner().unwrap_or_else(PoisonError::into_inner).sum();
    if let Some(begun) = begun {
        let names: Vec<&str> = kit.files.iter().map(|f| f.path.as_str()).collect();
        // Held just before the kit gets its name: whoever finds film held finds the kit, or is told.
        let held = match opened.shelf.as_ref().map(|folder| held(folder, plan, &film, out)).transpose() {
            Ok(held) => held,
            Err((exit, all)) => {
                opened.diagnostics.extend(all);
                opened.exit = exit;
                return None;
            }
        };
        match begun.finish(&names) {
            Ok(said) => opened.diagnostics.extend(remarks(&said)),
            Err(e) => {
                if let Some((Some(line), _)) = &held {
                    unhold(opened, *line);
                }
                refused(opened, e);
                return None;
            }
        }
        opened.diagnostics.extend(held.into_iter().flat_map(|h| h.1));
    }
    if voice.verbose {
        words::tell(&format!("{:>10}  {:.3} s", "write", start.elapsed().as_secs_f64()));
    }
    packed(opened, kit, out, order)
}

/// A kit that came to nothing holds nothing.
fn unhold(opened: &mut LoadedJob, line: u64) {
    let Some(folder) = opened.shelf.clone() else { return };
    if let Err(e) = ShelfFolder::new(&folder).add("undo", &[("line", line.to_string())]) {
        opened.diagnostics.extend(shelf::not_written(&folder, e).1);
    }
}

/// The kit in one file as well, if it is asked for.
fn packed(opened: &mut LoadedJob, kit: ListedKit, out: &Path, order: &Order) -> Option<Written> {
    let names: Vec<&str> = kit.files.iter().map(|f| f.path.as_str()).collect();
    match order.zip.then(|| pack(&names, out, order.force)).transpose() {
        Ok(packed) => Some(listed(kit, out, packed.as_deref(), !order.dry_run)),
        Err(e) => {
            opened.diagnostics.push(unpacked(e));
            opened.exit = Exit::Files;
            None
        }
    }
}

fn listed(kit: ListedKit, out: &Path, packed: Option<&Path>, written: bool) -> Written {
    let files = kit.files.into_iter().map(|f| FileSize { bytes: f.bytes, path: f.path }).collect();
    Written {
        folder: out.display().to_string(),
        packed: packed.map(|p| p.display().to_string()),
        written,
        files,
    }
}

/// Says what came of it.
fn finish(
    opened: LoadedJob,
    plan: Option<&Verified>,
    kit: Option<Written>,
    ways: &[Way],
    voice: OutputMode,
) -> io::Result<Exit> {
    let exit = if opened.diagnostics.any_fault() { opened.exit } else { Exit::Done };
    let diagnostics = opened.diagnostics.into_vec();
    let totals = plan.map(|p| Totals {
        pieces: p.pieces().len(),
        sheets: sheets(p),
        cups: p.cups(),
        films: to_buy(p),
    });
    if voice.json {
        words::json(&Made {
            outcome: Outcome::new(exit, &opened.text, &diagnostics),
            job: &opened.text.path,
            plan: totals,
            finish: plan.and_then(Finished::of),
            verified: plan.map(Verified::report),
            ways,
            kit,
        })?;
        return Ok(exit);
    }
    words::say(&opened.text, &diagnostics, voice.quiet);
    if exit != Exit::Done {
        return Ok(exit);
    }
    if let Some(t) = totals.filter(|_| !voice.quiet) {
        let many =
            |n: usize, one: &str, more: &str| if n == 1 { format!("1 {one}") } else { format!("{n} {more}") };
        let cups = if t.cups > 1 { format!("{} cups of ", t.cups) } else { String::new() };
        let job =
            format!("{cups}{}, {}", many(t.pieces, "piece", "pieces"), many(t.sheets, "sheet", "sheets"));
        words::tell(&match &kit {
            None => format!("{} is sound: {job}", opened.text.path),
            Some(k) if k.written => {
                format!(
                    "{job}; {} in {}{}",
                    many(k.files.len(), "file", "files"),
                    k.folder,
                    k.packed.as_ref().map_or(String::new(), |p| format!(", packed in {p}"))
                )
            }
            Some(k) => format!("{job}; {} would go to {}", many(k.files.len(), "file", "files"), k.folder),
        });
        for line in plan.and_then(Finished::of).map_or_else(Vec::new, |f| f.words()) {
            words::tell(&line);
        }
        ways::lines(ways, plan).iter().for_each(|line| words::tell(line));
    }
    if let Some(kit) = kit.filter(|_| !voice.quiet) {
        let lines: String = kit.files.iter().map(|f| format!("{}\n", f.path)).collect();
        words::data(lines.as_bytes())?;
    }
    Ok(exit)
}
