//! Pictures of printed sheets at 1:1: all motifs with their numbers, to choose by; or those that a job cuts
//! out, to cut by.
//!
//! Imports: base, outline, read::job, make::{sheet, film, verify}, write::ink, write::map::rows.

use crate::base::colour::{encoded, lights};
use crate::base::frame::{Page, Point, Rigid, Sheet};
use crate::base::units::Mm;
use crate::make::sheet::stock::Stocked;
use crate::make::verify::Verified;
use crate::outline::{Bounds, Region};
use crate::read::job::{CutBy, FilmId, Paper, Rgb};
use crate::write::ink::drawing::{
    Dash, Drawing, Group, INK, Image, PAPER, QUIET, Stroke, Text, gathered, rectangle,
};
use crate::write::ink::film_mark::hatch;
use crate::write::ink::label::{Label, Roomiest, roomiest};
use crate::write::ink::png;
use rayon::prelude::*;

/// White edge round the sheet, mm.
const EDGE: f64 = 8.0;
/// Room over the sheet for its heading, and for a line of the list under it.
const HEAD: f64 = 14.0;
const LINE: f64 = 4.6;
/// Narrowest page that the list fits on.
const NARROWEST: f64 = 150.0;
/// Pixels a millimetre of pictures here: enough to see what is what.
const FINE: f64 = 6.0;
/// Size of numbers, at most and at least.
const SIZES: (f64, f64) = (2.6, 6.0);
/// Chords of outlines that are hatched and numbered.
const COARSE: Mm = Mm(0.1);
/// Contrast that is left of a picture that outlines are drawn over: in colour to choose by, in grey to cut by.
const CONTRAST: [f32; 2] = [0.75, 0.4];

/// From the sheet to the page: its lower left corner over the list.
fn place(list: usize) -> Rigid<Sheet, Page> {
    Rigid::from_parts(1.0, 0.0, Point::mm(EDGE, EDGE + LINE * list as f64))
}

/// A motif on the page.
struct Shown {
    cut: Region<Page>,
    print: Region<Page>,
    label: Roomiest<Page>,
}

fn shown(stock: &Stocked, to: &Rigid<Sheet, Page>) -> Vec<Shown> {
    let motifs: Vec<_> = stock.sheet.motifs.iter().zip(&stock.cuts).collect();
    let one = |(motif, cut): &(&crate::make::sheet::FoundMotif, &Region<Sheet>)| {
        let print: Region<Page> = motif.print.moved(to);
        Shown { cut: cut.moved(to), label: roomiest(&print.flat(COARSE)), print }
    };
    motifs.par_iter().map(one).collect()
}

/// A sheet with all its motifs and their numbers, to choose by.
///
/// # Errors
/// What the PNG encoder says.
pub fn survey(name: &str, stock: &Stocked) -> Result<Drawing, png::Trouble> {
    let to = place(0);
    let mut outlines = Group::new("outlines", "Outlines of the prints; dashed: where they are cut");
    let mut numbers = Group::new("numbers", "Numbers");
    for (s, motif) in shown(stock, &to).iter().zip(&stock.sheet.motifs) {
        let cut = Stroke { colour: QUIET, width: 0.15, dash: Dash::Dashed };
        if motif.gone {
            outlines.stroke(hatch(FilmId(0), &s.cut.flat(COARSE), None), Stroke::solid(QUIET, 0.3));
        }
        outlines.stroke(gathered(&s.cut), cut).id = Some(format!("cut-{}", motif.number));
        outlines.stroke(gathered(&s.print), Stroke::solid(INK, 0.15)).id =
            Some(format!("print-{}", motif.number));
        Label::new(motif.number, s.label.at, s.label.radius, SIZES).draw_rimmed(&mut numbers);
    }
    let (w, h) = (stock.sheet.width.0, stock.sheet.height.0);
    let heading = format!("{name}: {} motifs, {w:.1} x {h:.1} mm", stock.sheet.motifs.len());
    let groups = vec![ground(stock, &to, true)?, outlines, numbers, head(&heading, "", h + EDGE)];
    let width = (w + 2.0 * EDGE).max(NARROWEST);
    Ok(Drawing { title: heading.clone(), message: heading, width, height: h + 2.0 * EDGE + HEAD, groups })
}

fn head(heading: &str, line: &str, over: f64) -> Group {
    let mut head = Group::new("head", "What it is");
    head.text(&Text::new(heading, 4.5).bold(), (EDGE, over + HEAD - 4.0));
    head.text(&Text::new(line, 3.0), (EDGE, over + HEAD - 9.5));
    head
}

/// Path of a sheet's map within the kit.
pub fn file_name(plan: &Verified, sheet: usize) -> String {
    format!("sheet/{}.svg", plan.job().sheets[sheet].name)
}

/// Path of its tiles on a paper.
pub fn tiles_name(plan: &Verified, sheet: usize, paper: Paper) -> String {
    format!("sheet/{}-{}.pdf", plan.job().sheets[sheet].name, paper.name())
}

/// Path of the list of what is gone.
pub fn leftover_name(plan: &Verified, sheet: usize) -> String {
    format!("leftovers/{}.toml", plan.job().sheets[sheet].name)
}

/// What is gone of a sheet after this job, and what is left, as the next job reads it.
pub fn leftover(plan: &Verified, sheet: usize) -> String {
    let (job, stock) = (plan.job(), &plan.stock()[sheet]);
    let name = &job.sheets[sheet].name;
    let used: Vec<u32> = plan
        .pieces()
        .iter()
        .filter_map(|p| plan.printed(p.number).filter(|on| on.sheet == sheet))
        .map(|on| on.number)
        .collect();
    let (mut gone, mut left, mut area) = (Vec::new(), Vec::new(), 0.0);
    for m in &stock.sheet.motifs {
        if m.gone || used.contains(&m.number) {
            gone.push(m.number.to_string());
        } else {
            left.push(m.number.to_string());
            area += m.area().0;
        }
    }
    format!(
        "# Motifs of the printed sheet {name} after this job. The next job's [[sheet]] names this file:\n\
         # gone = [\"{name}.toml\"]\n\
         sheet = \"{name}\"\n\
         motifs = {}\n\
         gone = [{}]\n\
         left = [{}]\n\
         left-area-mm2 = {area:.1}\n",
        stock.sheet.motifs.len(),
        gone.join(", "),
        left.join(", "),
    )
}

/// Id of the outline of a piece on the map of its sheet.
pub fn outline_id(number: u32) -> String {
    format!("cut-{number}")
}

/// From a sheet to the page of its map, which has so many pieces.
pub fn on_map(pieces: usize) -> Rigid<Sheet, Page> {
    place(pieces + 2)
}

/// A printed sheet with what a job cuts out of it: the cut outlines with the pieces' numbers and the order in
/// which they are cut; what stays is hatched.
///
/// # Errors
/// What the PNG encoder says.
pub fn map(plan: &Verified, sheet: usize) -> Result<Drawing, png::Trouble> {
    drawn(plan, sheet, true)
}

/// The same to print: the sheet alone, and the list on a page of its own.
///
/// # Errors
/// What the PNG encoder says.
pub fn pages(plan: &Verified, sheet: usize) -> Result<[Drawing; 2], png::Trouble> {
    let map = drawn(plan, sheet, false)?;
    let film = plan.job().film_of_sheet(sheet);
    let layout = plan.sheets().iter().find(|s| s.film == film);
    let group = list(plan, sheet, layout.map_or(&[][..], |l| &l.placed));
    Ok([map.clone(), Drawing { groups: vec![group], ..map }])
}

fn drawn(plan: &Verified, sheet: usize, listed: bool) -> Result<Drawing, png::Trouble> {
    let (job, stock) = (plan.job(), &plan.stock()[sheet]);
    let spec = &job.sheets[sheet];
    let film = job.film_of_sheet(sheet);
    let layout = plan.sheets().iter().find(|s| s.film == film);
    let placed = layout.map_or(&[][..], |l| &l.placed);
    let lines = if listed { placed.len() + 2 } else { 0 };
    let to = place(lines);
    let by_motif: std::collections::BTreeMap<u32, (usize, u32)> = placed
        .iter()
        .enumerate()
        .filter_map(|(i, p)| Some((plan.printed(p.number)?.number, (i + 1, p.number))))
        .collect();
    let mut waste = Group::new("stays", "What stays on the sheet, hatched, with its number there");
    let mut cuts = Group::new("cuts", "Where to cut");
    let mut numbers = Group::new("numbers", "Numbers of pieces");
    for (s, motif) in shown(stock, &to).iter().zip(&stock.sheet.motifs) {
        match by_motif.get(&motif.number) {
            Some(&(_, number)) => {
                cuts.stroke(gathered(&s.cut), Stroke::solid(PAPER, 1.0));
                cuts.stroke(gathered(&s.cut), Stroke::solid(INK, 0.35)).id = Some(outline_id(number));
                Label::new(number, s.label.at, s.label.radius, SIZES).draw_rimmed(&mut numbers);
            }
            None => {
                waste.stroke(hatch(FilmId(0), &s.cut.flat(COARSE), None), Stroke::solid(QUIET, 0.15));
                let small = Label::new(motif.number, s.label.at, s.label.radius, (2.0, 2.6));
                small.draw_rimmed(&mut waste);
            }
        }
    }
    let (w, h) = (stock.sheet.width.0, stock.sheet.height.0);
    let how = match spec.cut_by {
        CutBy::Scissors => "with scissors, from the edge inward: each cut frees the next",
        CutBy::Machine => "by machine: the cut file lies in register with the sheet's lower left corner",
    };
    let heading = format!("{}: {} pieces to cut out", spec.name, placed.len());
    let over = h + EDGE + LINE * lines as f64;
    let mut groups = vec![ground(stock, &to, false)?, waste, cuts, numbers, head(&heading, how, over)];
    if listed {
        groups.push(list(plan, sheet, placed));
    }
    let (title, width) = (format!("{}: {heading}", job.title), (w + 2.0 * EDGE).max(NARROWEST));
    Ok(Drawing { title, message: format!("{heading}, {how}"), width, height: over + HEAD + EDGE, groups })
}

/// The order of the cuts, and where each piece goes.
fn list(plan: &Verified, sheet: usize, placed: &[crate::make::film::Placed]) -> Group {
    use crate::write::ink::letters::Anchor;
    let mut g = Group::new("list", "In the order of the cuts");
    g.live = true;
    let top = EDGE + LINE * placed.len() as f64;
    let columns = [(7.0, true), (20.0, true), (43.0, true), (62.0, true), (68.0, false)];
    let mut line = |y: f64, cells: [String; 5], bold: bool| {
        for (cell, (x, right)) in cells.iter().zip(columns) {
            let text = Text::new(cell, 3.0).anchor(if right { Anchor::End } else { Anchor::Start });
            g.text(&if bold { text.bold() } else { text }, (EDGE + x, y));
        }
    };
    let heads = ["cut", "piece", "on the sheet", "size, mm", "where it goes"].map(str::to_owned);
    line(top, heads, true);
    let rows = crate::write::map::rows::rows(plan);
    for (i, p) in placed.iter().enumerate() {
        let Some(on) = plan.printed(p.number) else { continue };
        let b = plan.stock()[sheet].sheet.motifs[on.number as usize - 1].bounds();
        let Some(row) = plan.place_of(p.number).map(|i| &rows[i]) else { continue };
        let side = if row.round.0 < 0.0 { "left" } else { "right" };
        let place = format!(
            "{}, {:.0} up, {:.0} {side} of the front line",
            row.zone.name(),
            row.up.0,
            row.round.0.abs()
        );
        let size = format!("{:.0} x {:.0}", b.width().0, b.height().0);
        let cells = [(i + 1).to_string(), p.number.to_string(), on.number.to_string(), size, place];
        line(top - LINE * (i + 1) as f64, cells, false);
    }
    g
}

/// The picture of the sheet, paler than it is, and the sheet's edge.
fn ground(stock: &Stocked, to: &Rigid<Sheet, Page>, colour: bool) -> Result<Group, png::Trouble> {
    let (w, h) = (stock.sheet.width.0, stock.sheet.height.0);
    let at = Bounds { min: to.apply(Point::ORIGIN), max: to.apply(Point::mm(w, h)) };
    let (pixels, rgb) = pale(stock, colour);
    let mut g = Group::new("sheet", "The sheet");
    let png = png::rgb(pixels.0, pixels.1, &rgb)?;
    g.images.push(Image { id: "picture".into(), pixels, rgb, png, at });
    g.stroke(rectangle(at.min.x, at.min.y, at.max.x, at.max.y), Stroke::solid(QUIET, 0.2));
    Ok(g)
}

/// The picture with the backing taken out, coarser, paler, in few shades.
fn pale(stock: &Stocked, colour: bool) -> ((usize, usize), Vec<u8>) {
    /// Shades that are left: noise is not packed.
    const STEP: f32 = 8.0;
    let sheet = &stock.sheet;
    let count = |mm: f64, per_mm: f64| ((mm * FINE.min(per_mm)).round() as usize).max(1);
    let (w, h) = (count(sheet.width.0, sheet.per_mm[0]), count(sheet.height.0, sheet.per_mm[1]));
    let lights = lights();
    let mut rgb = vec![0u8; 3 * w * h];
    rgb.par_chunks_exact_mut(3 * w).enumerate().for_each(|(y, row)| {
        for (x, pixel) in row.chunks_exact_mut(3).enumerate() {
            let at = Point::mm(
                (x as f64 + 0.5) / w as f64 * sheet.width.0,
                sheet.height.0 - (y as f64 + 0.5) / h as f64 * sheet.height.0,
            );
            let t = sheet.transmittance_by(&lights, at);
            let Rgb(c) = if colour {
                Rgb(t.map(encoded))
            } else {
                Rgb([encoded(crate::make::sheet::colour::brightness(t)); 3])
            };
            let keep = CONTRAST[usize::from(!colour)];
            for (to, from) in pixel.iter_mut().zip(c) {
                let v = 255.0 - keep * (255.0 - f32::from(from));
                *to = if v > 255.0 - STEP { 255 } else { ((v / STEP).round() * STEP).min(255.0) as u8 };
            }
        }
    });
    ((w, h), rgb)
}
