//! `measure --photo`: the wall's outline from a photograph, for the job to keep.
//!
//! Imports: base, read::{job, picture, contour}, edge::cli, edge::cli::{args, codes, words, stages, page}.

use super::args::OutputMode;
use super::codes::{CANNOT_READ, CANNOT_WRITE, NOT_SAVED, USAGE};
use super::page::{JobFile, Unsaved};
use super::{Exit, Outcome, stages, words};
use crate::base::diag::{Diagnostic, Diagnostics, KeyPath, Severity};
use crate::base::units::{LengthUnit, Mm};
use crate::read::contour::{Contour, Stand, contour};
use crate::read::job::{CupSpec, quantity, read_job_in};
use crate::read::picture::{LARGEST_FILE, Picture, read_picture};
use serde::Serialize;
use std::fmt::Write;
use std::fs::{self, File};
use std::io::{self, Read};
use std::path::{Path, PathBuf};

/// A picture and how it was taken, as it was typed.
#[derive(Debug)]
pub struct Order {
    /// The picture.
    pub photo: PathBuf,
    /// From the lens to the cup's axis.
    pub distance: String,
    /// Height of the lens over the base edge; level with the middle of the wall if it is not said.
    pub lens: Option<String>,
    /// What of the cup stands above the wall's rim.
    pub above: Option<String>,
    /// What of it stands below the base edge.
    pub below: Option<String>,
    /// Where a drawing of what was found goes.
    pub drawn: Option<PathBuf>,
    /// Is it written into the job?
    pub save: bool,
}

#[derive(Serialize)]
struct Told<'a> {
    #[serde(flatten)]
    outcome: Outcome<'a>,
    #[serde(skip_serializing_if = "Option::is_none")]
    outline: Option<Seen>,
    saved: bool,
}

#[derive(Serialize)]
struct Seen {
    points: Vec<Point>,
    strays_mm: f64,
    bow_mm: f64,
    wall_seen_mm: f64,
    added_at_base_mm: f64,
    added_at_rim_mm: f64,
    pixels_a_mm: f64,
    lens_mm: f64,
    roll_deg: f64,
    #[serde(skip_serializing_if = "Option::is_none")]
    one_side_mm: Option<[f64; 2]>,
    #[serde(skip_serializing_if = "Vec::is_empty")]
    turns: Vec<TurnPart>,
}

#[derive(Serialize)]
struct Point {
    up_mm: f64,
    girth_mm: f64,
}

#[derive(Serialize)]
struct TurnPart {
    up_mm: f64,
    by_deg: f64,
}

fn fixed(v: f64) -> f64 {
    (v * 1e3).round() / 1e3
}

fn seen(c: &Contour) -> Seen {
    let turn = |t: &crate::read::contour::Turn| TurnPart { up_mm: fixed(t.up.0), by_deg: fixed(t.by.deg()) };
    Seen {
        points: c.points.iter().map(|p| Point { up_mm: fixed(p.0.0), girth_mm: fixed(p.1.0) }).collect(),
        strays_mm: fixed(c.strays.0),
        bow_mm: fixed(c.bow.0),
        wall_seen_mm: fixed(c.wall.0),
        added_at_base_mm: fixed(c.added[0].0),
        added_at_rim_mm: fixed(c.added[1].0),
        pixels_a_mm: fixed(c.fineness),
        lens_mm: fixed(c.lens.0),
        roll_deg: fixed(c.roll.deg()),
        one_side_mm: c.one_side.map(|(a, b)| [fixed(a.0), fixed(b.0)]),
        turns: c.turns.iter().map(turn).collect(),
    }
}

/// Reads a wall's outline, and says it; writes it into the job, and draws it, where that is asked.
///
/// # Errors
/// What writing to standard output says.
pub fn run(job: &Path, order: &Order, voice: OutputMode) -> io::Result<Exit> {
    let opened = stages::open(job);
    let (mut diagnostics, mut exit) = (Diagnostics::new(), Exit::Done);
    let Some((cup, unit)) = opened.cup else {
        // Without two girths nothing gives the picture its scale.
        return ended(opened.exit, &opened.text, opened.diagnostics, None, false, voice);
    };
    let found = found(&cup, unit, order, &mut diagnostics);
    let mut saved = false;
    match &found {
        Err(how) => exit = *how,
        Ok((picture, contour)) => {
            if let Some(to) = &order.drawn
                && let Err(e) = fs::write(to, drawing(&order.photo, to, picture, contour))
            {
                diagnostics.push(unwritten(to, &e));
                exit = Exit::Files;
            }
            if order.save && exit == Exit::Done {
                match save(job, &block(&order.photo, contour)) {
                    Ok(()) => saved = true,
                    Err(d) => {
                        diagnostics.push(d);
                        exit = Exit::Files;
                    }
                }
            }
        }
    }
    let contour = found.ok().map(|(_, c)| c);
    ended(exit, &opened.text, diagnostics, contour.as_ref().map(|c| (c, unit, order)), saved, voice)
}

fn ended(
    exit: Exit,
    text: &words::Text,
    diagnostics: Diagnostics,
    found: Option<(&Contour, LengthUnit, &Order)>,
    saved: bool,
    voice: OutputMode,
) -> io::Result<Exit> {
    let diagnostics = diagnostics.into_vec();
    if voice.json {
        let outcome = Outcome::new(exit, text, &diagnostics);
        words::json(&Told { outcome, outline: found.map(|(c, ..)| seen(c)), saved })?;
        return Ok(exit);
    }
    words::say(text, &diagnostics, voice.quiet);
    if let Some((contour, unit, order)) = found {
        words::data(told(contour, unit, order, saved).as_bytes())?;
    }
    Ok(exit)
}

fn found(
    cup: &CupSpec,
    unit: LengthUnit,
    order: &Order,
    diagnostics: &mut Diagnostics,
) -> Result<(Picture, Contour), Exit> {
    let stand = stand(unit, order, diagnostics);
    let name = order.photo.display().to_string();
    let bytes = bytes(&order.photo).map_err(|e| {
        let d = Diagnostic::fault(&CANNOT_READ, KeyPath::root(), format!("\"{name}\" cannot be read"));
        diagnostics.push(d.measured(e.to_string()).help("check the path of the picture"));
        Exit::Files
    })?;
    let picture = read_picture(&name, &bytes, &KeyPath::root(), diagnostics).map_err(|_| Exit::JobAtFault)?;
    let stand = stand.ok_or(Exit::Usage)?;
    let wall = (cup.rings.as_slice(), cup.wall);
    let contour = contour((&name, &picture), wall, &stand, &KeyPath::root(), diagnostics)
        .map_err(|_| Exit::JobAtFault)?;
    Ok((picture, contour))
}

fn bytes(path: &Path) -> io::Result<Vec<u8>> {
    if !fs::metadata(path)?.is_file() {
        return Err(io::Error::new(io::ErrorKind::InvalidInput, "it is no ordinary file"));
    }
    let mut bytes = Vec::new();
    File::open(path)?.take(LARGEST_FILE + 1).read_to_end(&mut bytes)?;
    if bytes.len() as u64 > LARGEST_FILE {
        return Err(io::Error::new(io::ErrorKind::InvalidData, "it is too large to be a picture"));
    }
    Ok(bytes)
}

/// Where the lens stood, all that is wrong with it told.
fn stand(unit: LengthUnit, order: &Order, diagnostics: &mut Diagnostics) -> Option<Stand> {
    let mut one = |what: &str, typed: Option<&str>, least: f64, most: f64| -> Option<Option<Mm>> {
        let Some(typed) = typed else { return Some(None) };
        let d = match quantity::length(typed, unit) {
            Ok(mm) if (least..=most).contains(&mm.0) => return Some(Some(mm)),
            Ok(mm) => Diagnostic::fault(&USAGE, KeyPath::root(), format!("`{what}` is out of its range"))
                .measured(mm)
                .allowed(format!("{least} to {most} mm")),
            Err(why) => Diagnostic::fault(&USAGE, KeyPath::root(), format!("`{what}` is no length: {why}"))
                .measured(format!("\"{typed}\"")),
        };
        diagnostics.push(d.help("give a number in the job's unit, or with a unit: \"500 mm\""));
        None
    };
    let distance = one("--distance", Some(&order.distance), 150.0, 5000.0);
    let lens = one("--lens", order.lens.as_deref(), -500.0, 2000.0);
    let above = one("--above", order.above.as_deref(), 0.0, 100.0);
    let below = one("--below", order.below.as_deref(), 0.0, 100.0);
    Some(Stand {
        distance: distance??,
        lens: lens?,
        above: above?.unwrap_or(Mm::ZERO),
        below: below?.unwrap_or(Mm::ZERO),
    })
}

/// The table that the job keeps.
fn block(photo: &Path, c: &Contour) -> String {
    let name = photo.file_name().map(|n| n.to_string_lossy().into_owned()).unwrap_or_default();
    let name: String = name.chars().filter(|c| !c.is_control() && *c != '"' && *c != '\\').collect();
    let point =
        |(up, girth): &(Mm, Mm)| format!("  {{ up = \"{:.1} mm\", girth = \"{:.2} mm\" }},\n", up.0, girth.0);
    let points: String = c.points.iter().map(point).collect();
    format!(
        "\n[[cup.outline]]\npicture = \"{name}\"\nstrays = \"{:.2} mm\"\npoints = [\n{points}]\n",
        c.strays.0
    )
}

/// Puts the table at the end of the job, if the job that comes of it has no fault more.
fn save(job: &Path, block: &str) -> Result<(), Diagnostic> {
    let not_saved = |why: String, help: &str| {
        Err(Diagnostic::fault(&NOT_SAVED, KeyPath::root(), format!("the outline was not saved: {why}"))
            .help(help))
    };
    let mut file = match JobFile::open(job) {
        Ok(file) => file,
        Err(e) => return Err(unwritten(job, &e)),
    };
    if file.only_looks() {
        return not_saved("another program has the job open".into(), "close it there, and try again");
    }
    let old = file.known().unwrap_or_default().to_owned();
    let gap = if old.is_empty() || old.ends_with('\n') { "" } else { "\n" };
    let new = format!("{old}{gap}{block}");
    let faults = |text: &str| {
        stages::with_folder(file.folder(), |source| {
            let read = read_job_in(text, source);
            read.diagnostics.into_vec().iter().filter(|d| d.severity == Severity::Fault).count()
        })
    };
    if faults(&new) > faults(&old) {
        return not_saved(
            "the job would be at fault with it at its end".into(),
            "copy the table that is shown to where the cup stands: a job whose cup comes from a blank keeps it \
                in the blank's file",
        );
    }
    match file.save(&new) {
        Ok(()) => Ok(()),
        Err(Unsaved::Changed) => not_saved("the job has changed meanwhile".into(), "try again"),
        Err(Unsaved::Io(e)) => Err(unwritten(job, &e)),
    }
}

fn unwritten(path: &Path, e: &io::Error) -> Diagnostic {
    let message = format!("\"{}\" was not written", path.display());
    Diagnostic::fault(&CANNOT_WRITE, KeyPath::root(), message)
        .measured(e.to_string())
        .help("check its folder")
}

/// The picture with the outline on it, by a link to the picture.
fn drawing(photo: &Path, to: &Path, picture: &Picture, c: &Contour) -> String {
    let (w, h) = (picture.width, picture.height);
    let link = match (photo.canonicalize(), to.parent().map(Path::canonicalize)) {
        (Ok(photo), Some(Ok(folder))) if photo.parent() == Some(folder.as_path()) => {
            photo.file_name().map(|n| n.to_string_lossy().into_owned()).unwrap_or_default()
        }
        (Ok(photo), _) => photo.to_string_lossy().into_owned(),
        _ => photo.to_string_lossy().into_owned(),
    };
    let link = link.replace('&', "&amp;").replace('"', "&quot;").replace('<', "&lt;");
    let unit = w as f64 / 1000.0;
    let mut out = format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {w} {h}\">\n<title>The wall's outline as it was \
            found</title>\n<image href=\"{link}\" width=\"{w}\" height=\"{h}\"/>\n"
    );
    let line = |points: &[(f64, f64)]| {
        let all: Vec<String> = points.iter().map(|(x, y)| format!("{:.2},{:.2}", x + 0.5, y + 0.5)).collect();
        all.join(" ")
    };
    let ends: Vec<(f64, f64)> = c.ends.to_vec();
    for (points, dash) in [(&c.drawn[0], ""), (&c.drawn[1], ""), (&ends, " stroke-dasharray=\"8 8\"")] {
        // A light line under a dark one is seen on every ground.
        for (colour, wide) in [("#fff", 2.4), ("#b0006d", 1.0)] {
            let _ = writeln!(
                out,
                "<polyline points=\"{}\" fill=\"none\" stroke=\"{colour}\" stroke-width=\"{:.2}\"{dash}/>",
                line(points),
                wide * unit
            );
        }
    }
    out + "</svg>\n"
}

/// What was seen, in words.
fn told(c: &Contour, unit: LengthUnit, order: &Order, saved: bool) -> String {
    let say = |v: Mm| match unit {
        LengthUnit::Mm => format!("{:.1} mm", v.0),
        LengthUnit::In => format!("{} in", v.on_a_tape(64)),
    };
    let mut out = String::new();
    let _ = writeln!(out, "The wall in {}", order.photo.display());
    let _ = writeln!(out, "  {:>12} {:>12}", "up", "girth");
    for (up, girth) in &c.points {
        let _ = writeln!(out, "  {:>12} {:>12}", say(*up), say(*girth));
    }
    let _ = writeln!(
        out,
        "\nEach girth strays from its neighbours by {} (standard uncertainty); how wide the cup is and how it leans, \
            the tape says.",
        say(c.strays)
    );
    let sag = c.bow.abs();
    if sag > c.strays * 2.0 {
        let _ = writeln!(
            out,
            "The wall is {} by up to {} of girth off a straight one: write `curved = true` in the cup.",
            if c.bow.0 > 0.0 { "bulged" } else { "waisted" },
            say(sag)
        );
    } else {
        let _ = writeln!(out, "The wall is straight as far as the picture tells (within {}).", say(sag));
    }
    for t in &c.turns {
        let _ = writeln!(
            out,
            "At {} up it turns by {:.1} degrees within a few millimetres: if a fingernail feels an edge there, read a \
                ring on it and write `edge = true`.",
            say(t.up),
            t.by.deg()
        );
    }
    if let Some((from, to)) = c.one_side {
        let _ = writeln!(
            out,
            "Between {} and {} up one side stands out (a handle?): the other side was taken.",
            say(from),
            say(to)
        );
    }
    let _ = writeln!(
        out,
        "The picture has {:.1} pixels a millimetre and is rolled by {:.1} degrees; the lens stood {} over the base \
            edge; its wall is {} long; {} at the base and {} at the rim were added to its girths to meet the tape.",
        c.fineness,
        c.roll.deg().abs(),
        say(c.lens),
        say(c.wall),
        say(c.added[0]),
        say(c.added[1])
    );
    let _ = if saved {
        writeln!(
            out,
            "Saved at the end of the job. A second picture, the cup turned by a quarter, makes up for a cup \
            that is oval."
        )
    } else {
        writeln!(out, "\nFor the job (--save puts it there):\n{}", block(&order.photo, c))
    };
    out
}
