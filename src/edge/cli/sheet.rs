//! `sheet`: what is found on the printed sheets of a job, before anything is placed: a numbered picture of
//! each, and a list.
//!
//! Imports: base, read::{job, materials}, make::sheet, write, edge::{folder, kit, cli}, edge::cli::{args, codes, words,
//! stages, files}.

use super::args::OutputMode;
use super::codes::{NO_PAPER, NO_SHEETS};
use super::{Exit, Outcome, files, stages, words};
use crate::base::diag::{Diagnostic, KeyPath};
use crate::edge::folder::Folder;
use crate::edge::kit::StagedKit;
use crate::make::sheet::FoundMotif;
use crate::make::sheet::stock::{Stocked, stock};
use crate::read::job::Paper;
use crate::read::materials::Materials;
use crate::write::KitFile;
use serde::Serialize;
use std::fmt::Write;
use std::io;
use std::path::{Path, PathBuf};
use std::sync::Arc;

#[derive(Serialize)]
struct Told<'a> {
    #[serde(flatten)]
    outcome: Outcome<'a>,
    #[serde(skip_serializing_if = "Option::is_none")]
    folder: Option<String>,
    sheets: Vec<SheetPart>,
}

#[derive(Serialize)]
struct SheetPart {
    name: String,
    file: String,
    width_mm: f64,
    height_mm: f64,
    dpi: f64,
    motifs: Vec<MotifPart>,
}

#[derive(Serialize)]
struct MotifPart {
    number: u32,
    left_mm: f64,
    low_mm: f64,
    width_mm: f64,
    height_mm: f64,
    area_mm2: f64,
    colour: String,
    parts: usize,
    nodes: usize,
    #[serde(skip_serializing_if = "Option::is_none")]
    cut_off_mm: Option<f64>,
    /// Of a photo: how far off places may be.
    #[serde(skip_serializing_if = "Option::is_none")]
    off_mm: Option<f64>,
    gone: bool,
}

fn fixed(v: f64) -> f64 {
    (v * 1e3).round() / 1e3
}

fn motif(m: &FoundMotif) -> MotifPart {
    let b = m.bounds();
    MotifPart {
        number: m.number,
        left_mm: fixed(b.min.x),
        low_mm: fixed(b.min.y),
        width_mm: fixed(b.width().0),
        height_mm: fixed(b.height().0),
        area_mm2: fixed(m.area().0),
        colour: m.colour.to_string(),
        parts: m.parts,
        nodes: m.print.nodes(),
        cut_off_mm: m.cut_off.map(|c| fixed(c.0)),
        off_mm: m.off.map(|c| fixed(c.0)),
        gone: m.gone,
    }
}

/// Finds what is on the sheets, and writes their numbered pictures.
///
/// # Errors
/// What writing to standard output says.
pub fn run(job: &Path, out: Option<PathBuf>, force: bool, voice: OutputMode) -> io::Result<Exit> {
    let mut opened = stages::open(job);
    let out = out.unwrap_or_else(|| opened.folder.join("sheets"));
    let mut found: Vec<(String, Arc<Stocked>)> = Vec::new();
    let spec = opened.job.clone();
    if let Some(job) = &spec {
        if job.sheets.is_empty() {
            let d = Diagnostic::fault(&NO_SHEETS, KeyPath::of("sheet"), "the job has no printed sheet");
            opened.diagnostics.push(d.help("add a `[[sheet]]` with its name and picture"));
        } else if let Ok(folder) = Folder::open(&opened.folder) {
            let materials = Materials::pictures(job, &folder);
            opened.diagnostics.extend(materials.diagnostics.iter().cloned());
            if let Ok(all) = stock(job, &materials, &mut opened.diagnostics) {
                found = job.sheets.iter().map(|s| s.name.clone()).zip(all).collect();
            }
        }
    }
    let mut exit = if opened.diagnostics.any_fault() { opened.exit } else { Exit::Done };
    if exit == Exit::Done {
        match crate::write::surveys(&found) {
            Ok(files) => {
                let (remarks, ended) = put(&files, &out, force);
                opened.diagnostics.extend(remarks);
                exit = ended;
            }
            Err(broken) => {
                opened.diagnostics.extend(broken);
                exit = Exit::JobAtFault;
            }
        }
    }
    told(&opened.text, &opened.diagnostics.into_vec(), exit, (&out, &found), voice)
}

/// Puts files into a folder, all or none; what is to be said of it, and how it ended.
fn put(files: &[KitFile], out: &Path, force: bool) -> (Vec<Diagnostic>, Exit) {
    let written = StagedKit::new(out, force, &files::hear).and_then(|staged| {
        files.iter().for_each(|f| staged.take(&f.path, &f.bytes));
        staged.finish(&files.iter().map(|f| f.path.as_str()).collect::<Vec<_>>())
    });
    match written {
        Ok(said) => (files::remarks(&said).into_iter().collect(), Exit::Done),
        Err(refused) => (vec![files::unwritten(out, refused)], Exit::Files),
    }
}

/// Writes the page of eight discs of a paper.
///
/// # Errors
/// What writing to standard output says.
pub fn frame(
    job: &Path,
    paper: &str,
    out: Option<PathBuf>,
    force: bool,
    voice: OutputMode,
) -> io::Result<Exit> {
    let folder = if job.is_dir() { job } else { job.parent().unwrap_or(job) };
    let out = out.unwrap_or_else(|| folder.join("sheets"));
    let mut said = Vec::new();
    let exit = match Paper::ALL.into_iter().find(|p| p.name() == paper) {
        None => {
            let known: Vec<&str> = Paper::ALL.iter().map(|p| p.name()).collect();
            let d = Diagnostic::fault(&NO_PAPER, KeyPath::root(), format!("there is no paper \"{paper}\""));
            said.push(d.allowed(known.join(", ")).help("write one of these after --frame"));
            Exit::JobAtFault
        }
        Some(paper) => {
            let (remarks, ended) = put(&[crate::write::frame_page(paper)], &out, force);
            said.extend(remarks);
            ended
        }
    };
    told(&words::Text::default(), &said, exit, (&out, &[]), voice)
}

fn told(
    text: &words::Text,
    diagnostics: &[Diagnostic],
    exit: Exit,
    (out, found): (&Path, &[(String, Arc<Stocked>)]),
    voice: OutputMode,
) -> io::Result<Exit> {
    let part = |(name, s): &(String, Arc<Stocked>)| SheetPart {
        name: name.clone(),
        file: crate::write::survey_file(name),
        width_mm: fixed(s.sheet.width.0),
        height_mm: fixed(s.sheet.height.0),
        dpi: fixed(s.sheet.per_mm[0] * 25.4),
        motifs: s.sheet.motifs.iter().map(motif).collect(),
    };
    let sheets: Vec<SheetPart> = found.iter().map(part).collect();
    if voice.json {
        let folder = (exit == Exit::Done).then(|| out.display().to_string());
        words::json(&Told { outcome: Outcome::new(exit, text, diagnostics), folder, sheets })?;
        return Ok(exit);
    }
    words::say(text, diagnostics, voice.quiet);
    if exit == Exit::Done {
        words::data(list(&sheets).as_bytes())?;
        if !voice.quiet {
            words::tell(&format!("Numbered pictures in {}", out.display()));
        }
    }
    Ok(exit)
}

/// The list, as text.
fn list(sheets: &[SheetPart]) -> String {
    let mut out = String::new();
    for s in sheets {
        // Writing to a string cannot fail.
        let _ = writeln!(
            out,
            "{}: {} motifs on {:.1} x {:.1} mm, {:.0} dpi",
            s.name,
            s.motifs.len(),
            s.width_mm,
            s.height_mm,
            s.dpi
        );
        let _ = writeln!(out, "  no.   size, mm        area, mm2  colour");
        for m in &s.motifs {
            let size = format!("{:.1} x {:.1}", m.width_mm, m.height_mm);
            let cut =
                m.cut_off_mm.map_or(String::new(), |c| format!("  a half: {c:.1} mm cut off by the edge"));
            let off = m.off_mm.map_or(String::new(), |o| format!("  within {o:.2} mm"));
            let gone = if m.gone { "  gone" } else { "" };
            let _ = writeln!(
                out,
                "{:>5}   {size:<14} {:>9.1}   {}{cut}{off}{gone}",
                m.number, m.area_mm2, m.colour
            );
        }
    }
    out
}
