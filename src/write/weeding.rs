//! A picture of each sheet for weeding: every piece with its number, cut order, weeding aids, and what the sheet takes.
//!
//! Imports: base, make::{film, plan}, write::{cut, drawing, letters}.

use super::cut;
use super::drawing::{Dash, Drawing, Group, INK, QUIET, Stroke, TINT, Text, segment};
use super::letters::Anchor;
use crate::base::frame::{Page, Point, Rigid, Sheet};
use crate::base::shape::{BezPath, Bounds, Flat, Region};
use crate::base::tolerance::NEST_FLATTEN;
use crate::make::film::bill::{Tally, tally};
use crate::make::film::{Placed, SheetLayout};
use crate::make::plan::Plan;

/// Paper round the sheet, and the lines of text over it.
const EDGE: f64 = 6.0;
const HEAD: f64 = 20.0;
/// Least width, for the text.
const NARROWEST: f64 = 150.0;

/// Path of a sheet's picture within the kit.
pub fn file_name(plan: &Plan, sheet: &SheetLayout) -> String {
    format!("weeding/{}.svg", cut::sheet_name(plan, sheet))
}

/// Id of an outline: that of its group in the cut file, marked as a picture.
pub fn outline_id(cut_id: &str) -> String {
    format!("{cut_id}-shown")
}

/// From the sheet to the picture.
pub fn place() -> Rigid<Sheet, Page> {
    Rigid::from_parts(1.0, 0.0, Point::mm(EDGE, EDGE))
}

/// The picture of a sheet.
pub fn drawing(plan: &Plan, sheet: &SheetLayout) -> Drawing {
    let film = &plan.job.films[sheet.film.0];
    let t = tally(sheet, film);
    let name = cut::sheet_name(plan, sheet);
    let (w, h) = (sheet.width.0, sheet.height.0);
    let moved = |r: &Region<Sheet>| -> Region<Page> { r.moved(&place()) };
    let mut film_group = Group::new("film", "The sheet");
    let whole = Region::rectangle(Bounds { min: Point::ORIGIN, max: Point::mm(w, h) });
    for c in moved(sheet.stock.shape.as_ref().unwrap_or(&whole)).contours() {
        film_group.stroke(c.clone(), Stroke::solid(QUIET, 0.3));
    }
    let mut pieces = Group::new("pieces", "Pieces with their numbers; spares end in s");
    for (p, id) in sheet.placed.iter().zip(cut::group_ids(sheet)) {
        let outline = moved(&p.cuts);
        let path: BezPath = outline.contours().iter().flat_map(BezPath::iter).collect();
        pieces.mark(path, Some(TINT), Some(Stroke::solid(INK, 0.15))).id = Some(outline_id(&id));
        number(&mut pieces, p, &outline);
    }
    let mut aids = Group::new("aids", "Weeding lines and frame");
    let dashed = Stroke { colour: QUIET, width: 0.25, dash: Dash::Dashed };
    for [a, b] in &sheet.aids.lines {
        aids.stroke(segment((a[0] + EDGE, a[1] + EDGE), (b[0] + EDGE, b[1] + EDGE)), dashed);
    }
    if let Some(frame) = sheet.aids.frame {
        moved(&Region::rectangle(frame)).contours().iter().for_each(|c| {
            aids.stroke(c.clone(), dashed);
        });
    }
    let lines = says(&name, &film.name, sheet, &t);
    let mut head = Group::new("head", "What the sheet takes");
    for (i, line) in lines.iter().enumerate() {
        let text = Text::new(line, if i == 0 { 4.5 } else { 3.0 });
        let text = if i == 0 { text.bold() } else { text };
        head.text(&text, (EDGE, h + EDGE + HEAD - 5.0 - 5.0 * i as f64));
    }
    Drawing {
        title: format!("{}: weeding {name}", plan.job.title),
        says: lines.join(" "),
        width: (w + 2.0 * EDGE).max(NARROWEST),
        height: h + 2.0 * EDGE + HEAD,
        groups: vec![film_group, pieces, aids, head],
    }
}

fn says(name: &str, film: &str, sheet: &SheetLayout, t: &Tally) -> Vec<String> {
    let minutes = |s: f64| format!("{:.1} min", s / 60.0);
    let spares = if t.spares > 0 { format!(" and {} spares", t.spares) } else { String::new() };
    vec![
        format!("{name}{}", if sheet.mirrored { ", as it is cut: mirrored" } else { "" }),
        format!(
            "{film}: {} pieces{spares}, {} outlines, {:.2} m cut, {:.0} % of the film used",
            t.pieces,
            t.outlines,
            t.cut.0 / 1000.0,
            t.used_part * 100.0
        ),
        format!(
            "about {} cutting, {} weeding, from the job's rates; the blade is not compensated in the file",
            minutes(t.cut_seconds),
            minutes(t.weed_seconds)
        ),
    ]
}

/// The number of a piece where it has most room.
fn number(g: &mut Group, p: &Placed, outline: &Region<Page>) {
    let (at, room) = roomiest(&outline.flat(NEST_FLATTEN));
    let says = if p.spare { format!("{}s", p.number) } else { p.number.to_string() };
    let size = (room * 1.6 / says.len().max(2) as f64 * 1.5).clamp(1.6, 5.0);
    g.text(&Text::new(&says, size).anchor(Anchor::Middle), (at[0], at[1] - size * 0.35));
}

/// A point inside, far from all corners, and how far: of a lattice over the box.
fn roomiest(flat: &Flat<Page>) -> ([f64; 2], f64) {
    let b = flat.bounds();
    let mut best = ([b.centre().x, b.centre().y], 0.0);
    let n = 12;
    for k in 0..n * n {
        let part = |i: usize| (i as f64 + 0.5) / n as f64;
        let p = [b.min.x + b.width().0 * part(k % n), b.min.y + b.height().0 * part(k / n)];
        if flat.contains(p[0], p[1]) {
            let d = |q: &[f64; 2]| libm::hypot(q[0] - p[0], q[1] - p[1]);
            let room = flat.rings.iter().flatten().map(d).fold(f64::INFINITY, f64::min);
            if room > best.1 {
                best = (p, room);
            }
        }
    }
    best
}
