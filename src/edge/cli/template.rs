//! `template`: the wrap template of a cup from one line of readings, without a job.
//!
//! Imports: base, read::{source, job, materials}, make::{plan, verify}, write::template, edge::{kit, cli},
//! edge::cli::{args, codes, words, measure, files}.

use super::args::OutputMode;
use super::codes::USAGE;
use super::words::{self, Text};
use super::{Exit, Outcome, files, measure};
use crate::base::diag::{Diagnostic, Diagnostics, KeyPath};
use crate::base::units::{LengthUnit, Mm};
use crate::edge::kit::StagedKit;
use crate::make::film::Effort;
use crate::make::plan;
use crate::make::verify::{Verified, verify};
use crate::read::job::{ParsedJob, quantity, read_job};
use crate::read::materials::Materials;
use crate::read::source::InMemory;
use serde::Serialize;
use std::io;
use std::ops::ControlFlow;
use std::path::PathBuf;

/// What the tape went round: said, or to be found out.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Readings {
    /// Circumferences.
    Girths,
    /// Straight across.
    Diameters,
}

/// What to make.
#[derive(Debug)]
pub struct Order {
    /// Reading at the rim, as it would stand in a job: `86`, `3 1/2 in`.
    pub rim: String,
    /// Reading at the base edge.
    pub base: String,
    /// Length along the wall.
    pub wall: Option<String>,
    /// Length straight up.
    pub height: Option<String>,
    /// Which readings these are, if it is said.
    pub readings: Option<Readings>,
    /// Bare numbers are inches.
    pub inches: bool,
    /// How far the ends of the wrap lap.
    pub lap: Option<String>,
    /// Papers of the PDFs.
    pub papers: Vec<String>,
    /// Where it goes.
    pub out: PathBuf,
    /// Over files that are not the template's.
    pub force: bool,
}

#[derive(Serialize)]
struct Told<'a> {
    #[serde(flatten)]
    outcome: Outcome<'a>,
    readings: Option<Readings>,
    folder: Option<String>,
    files: Vec<&'a str>,
}

impl Order {
    /// The same said as a job.
    fn job(&self, as_: Readings) -> String {
        // Bare numbers stay numbers, in the job's unit; anything else is text with a unit.
        let value = |v: &str| match v.trim().parse::<f64>() {
            Ok(n) if n.is_finite() => v.trim().to_owned(),
            _ => toml_text(v),
        };
        let mut text = String::from("title = \"Cup\"\n");
        if self.inches {
            text.push_str("unit = \"in\"\n");
        }
        text.push_str("[cup]\n");
        let (rim, base) = (value(&self.rim), value(&self.base));
        let long = match (&self.wall, &self.height) {
            (Some(wall), _) => ("slant", value(wall)),
            (None, height) => ("height", value(height.as_deref().unwrap_or_default())),
        };
        match as_ {
            Readings::Diameters => {
                text += &format!("diameters = {{ rim = {rim}, base = {base}, {} = {} }}\n", long.0, long.1);
            }
            Readings::Girths => {
                let wall = if long.0 == "slant" { long.1 } else { self.slant_of_girths() };
                text +=
                    &format!("rings = [{{ up = 0, girth = {base} }}, {{ up = {wall}, girth = {rim} }}]\n");
                text += &format!("wall = {wall}\n");
            }
        }
        if let Some(lap) = &self.lap {
            text += &format!("lap = {}\n", value(lap));
        }
        let papers: Vec<String> = self.papers.iter().map(|p| toml_text(p)).collect();
        text + &format!("[print]\npapers = [{}]\n", papers.join(", "))
    }
}

impl Order {
    /// The wall that goes with two girths and a height: what cannot be read stays as it was typed, and is
    /// told there.
    fn slant_of_girths(&self) -> String {
        let unit = if self.inches { LengthUnit::In } else { LengthUnit::Mm };
        let mm = |v: &str| match v.trim().parse::<f64>() {
            Ok(n) => Some(if self.inches { n * Mm::INCH.0 } else { n }),
            Err(_) => quantity::length(v, unit).ok().map(|l| l.0),
        };
        let height = self.height.as_deref().unwrap_or_default();
        match (mm(height), mm(&self.rim), mm(&self.base)) {
            (Some(h), Some(rim), Some(base)) => {
                format!("\"{:.4} mm\"", libm::hypot(h, (rim - base) / std::f64::consts::TAU))
            }
            _ => toml_text(height),
        }
    }
}

/// As a basic string of TOML.
fn toml_text(v: &str) -> String {
    let escaped = |c: char| match c {
        '"' | '\\' => format!("\\{c}"),
        c if c.is_control() => format!("\\u{:04X}", u32::from(c)),
        c => c.to_string(),
    };
    format!("\"{}\"", v.chars().map(escaped).collect::<String>())
}

/// Is the cup sound, without a doubt about its unit?
fn undoubted(read: &ParsedJob) -> bool {
    read.job.is_some() && read.diagnostics.iter().all(|d| !d.code.id.starts_with("cup/"))
}

/// The job, and which readings it takes the numbers for; both can be only where it is said.
fn taken(order: &Order) -> Result<(Readings, ParsedJob), Vec<Diagnostic>> {
    let read = |r| (r, read_job(&order.job(r)));
    if let Some(said) = order.readings {
        return Ok(read(said));
    }
    let (girths, diameters) = (read(Readings::Girths), read(Readings::Diameters));
    match (undoubted(&girths.1), undoubted(&diameters.1)) {
        (true, false) => Ok(girths),
        (false, true) => Ok(diameters),
        (false, false) if girths.1.job.is_some() != diameters.1.job.is_some() => {
            Ok(if girths.1.job.is_some() { girths } else { diameters })
        }
        (true, true) => Err(vec![
            Diagnostic::fault(
                &USAGE,
                KeyPath::root(),
                "these may be girths (the tape round the cup) or diameters (straight across)",
            )
            .measured(format!("{} at the rim, {} at the base", order.rim, order.base))
            .help("say which: add --girths or --diameters"),
        ]),
        // Neither makes a cup: what is wrong is told of the kind that a tape gives.
        (false, false) => Ok(girths),
    }
}

/// Makes the template.
///
/// # Errors
/// What writing to standard output says.
pub fn run(order: &Order, voice: OutputMode) -> io::Result<Exit> {
    let (readings, read) = match taken(order) {
        Ok((readings, read)) => (Some(readings), read),
        Err(faults) => return told(None, &faults, Exit::Usage, None, &[], voice),
    };
    let mut diagnostics = Diagnostics::new();
    diagnostics
        .extend(read.diagnostics.into_vec().into_iter().filter(|d| d.code.id != "job/nothing-to-make"));
    let verified = read.job.and_then(|job| planned(&job, &mut diagnostics));
    let files = verified.as_ref().and_then(|v| match crate::write::template(v) {
        Ok(files) => Some(files),
        Err(broken) => {
            diagnostics.extend(broken);
            None
        }
    });
    let mut exit = if diagnostics.any_fault() { Exit::JobAtFault } else { Exit::Done };
    if let Some(files) = &files {
        let written = StagedKit::new(&order.out, order.force, &files::hear).and_then(|staged| {
            files.iter().for_each(|f| staged.take(&f.path, &f.bytes));
            staged.finish(&files.iter().map(|f| f.path.as_str()).collect::<Vec<_>>())
        });
        match written {
            Ok(said) => diagnostics.extend(files::remarks(&said)),
            Err(refused) => {
                diagnostics.push(files::unwritten(&order.out, refused));
                exit = Exit::Files;
            }
        }
    }
    let names: Vec<&str> = files.iter().flatten().map(|f| f.path.as_str()).collect();
    let names: &[&str] = if exit == Exit::Done { &names } else { &[] };
    let exit = told(readings, &diagnostics.into_vec(), exit, Some(&order.out), names, voice)?;
    if let (Some(v), Exit::Done, false) = (&verified, exit, voice.json || voice.quiet) {
        words::data(measure::told(v.cup(), v.job().unit).as_bytes())?;
    }
    Ok(exit)
}

fn planned(job: &crate::read::job::Job, diagnostics: &mut Diagnostics) -> Option<Verified> {
    let materials = Materials::read(job, &InMemory::default());
    let go_on = &mut |_| ControlFlow::Continue(());
    let plan = plan::run(job, &materials, Effort::Quick, diagnostics, go_on).ok()?;
    verify(plan).map_err(|broken| diagnostics.extend(broken)).ok()
}

fn told(
    readings: Option<Readings>,
    diagnostics: &[Diagnostic],
    exit: Exit,
    out: Option<&PathBuf>,
    files: &[&str],
    voice: OutputMode,
) -> io::Result<Exit> {
    let text = Text::default();
    let folder = out.filter(|_| !files.is_empty()).map(|o| o.display().to_string());
    if voice.json {
        words::json(&Told {
            outcome: Outcome::new(exit, &text, diagnostics),
            readings,
            folder,
            files: files.to_vec(),
        })?;
        return Ok(exit);
    }
    words::say(&text, diagnostics, voice.quiet);
    if let (Some(folder), false) = (folder, voice.quiet) {
        let kind = match readings {
            Some(Readings::Diameters) => "diameters (straight across)",
            _ => "girths (the tape round the cup)",
        };
        words::tell(&format!("Readings taken as {kind}; template in {folder}: {}", files.join(", ")));
    }
    Ok(exit)
}
