//! The application map: each piece with its number where it goes, and a table to measure by.
//!
//! Imports: base, make, write::{band, drawing, letters, rows, film_mark, decimal, wrap}.

use super::band::Band;
use super::decimal::{table_degrees, table_inch, table_mm};
use super::drawing::{Dash, Drawing, Group, INK, QUIET, Stroke, TINT, Text, rectangle, segment};
use super::film_mark;
use super::letters::{self, Anchor, Face};
use super::rows::{self, Row};
use crate::base::frame::{Page, Point};
use crate::base::shape::{Bounds, Flat, Region};
use crate::base::units::{Angle, Mm};
use crate::make::piece::Piece;
use crate::make::plan::Plan;

/// Path of the map within the kit.
pub const FILE: &str = "map/map.svg";

const EDGE: f64 = 8.0;
/// Chords of outlines that only hatch and number places are worked out from.
const COARSE: Mm = Mm(0.05);

/// Map and table on one large page, and where the band lies on it.
pub fn drawing(plan: &Plan, rows: &[Row]) -> (Drawing, Band) {
    let mut band = Band::new(&plan.cup, Mm::ZERO, Point::mm(EDGE, 0.0));
    let mut groups = body(plan, &band);
    let ink = Drawing { title: String::new(), says: String::new(), width: 0.0, height: 0.0, groups }.ink();
    let width = (ink.max.x - ink.min.x + 2.0 * EDGE).max(210.0);
    let table = Table::new(plan, rows, width - 2.0 * EDGE);
    let head = 22.0;
    let foot = EDGE + table.height;
    // Once more, at its place: marks are cheap, and nothing has to be moved afterwards.
    let shift = (width - ink.width().0) / 2.0 - ink.min.x;
    band = Band::new(&plan.cup, Mm::ZERO, Point::mm(EDGE + shift, foot + 8.0 - ink.min.y));
    groups = body(plan, &band);
    let height = foot + 8.0 + ink.height().0 + head;
    groups.push(heading(plan, width, height));
    groups.extend(table.groups(EDGE, foot));
    let drawing = Drawing {
        title: format!("{}: application map", plan.job.title),
        says: format!(
            "{} pieces, each drawn where it goes with its number; the table gives height up the wall from the base edge and distance round from the front line at that height, both to the middle of the piece.",
            plan.pieces.len()
        ),
        width,
        height,
        groups,
    };
    (drawing, band)
}

/// Id of a piece's outline on the map.
pub fn outline_id(number: u32) -> String {
    format!("o{number}")
}

fn heading(plan: &Plan, width: f64, height: f64) -> Group {
    let mut g = Group::new("heading", "Title and films");
    let title = format!("{}: where each piece goes", plan.job.title);
    let title = letters::broken(Face::Bold, 5.2, &title, width - 2.0 * EDGE);
    g.text(&Text::new(title.first().map_or("", String::as_str), 5.2).bold(), (EDGE, height - EDGE - 4.0));
    legend(&mut g, plan, (EDGE, height - EDGE - 12.0), width - EDGE);
    g
}

/// A swatch, letter and name a film, broken into rows where they do not fit.
pub fn legend(g: &mut Group, plan: &Plan, at: (f64, f64), right: f64) -> f64 {
    let (mut x, mut y) = at;
    for (i, film) in plan.job.films.iter().enumerate() {
        let id = crate::read::job::FilmId(i);
        let words = format!("{}: {}", film_mark::letter(id), film.name);
        let wide = 12.0 + letters::width(Face::Regular, 3.0, &words) + 7.0;
        if x + wide > right && x > at.0 {
            x = at.0;
            y -= 6.0;
        }
        let swatch = Region::<Page>::rectangle(Bounds {
            min: Point::mm(x, y - 0.9),
            max: Point::mm(x + 9.0, y + 3.3),
        });
        g.stroke(film_mark::hatch(id, &swatch.flat(COARSE), None), film_mark::hatch_stroke(id));
        for c in swatch.into_contours() {
            g.stroke(c, film_mark::outline(id));
        }
        g.text(&Text::new(&words, 3.0), (x + 11.0, y));
        x += wide;
    }
    y
}

/// Band, lines and pieces.
pub fn body(plan: &Plan, band: &Band) -> Vec<Group> {
    let mut groups = vec![ground(plan, band)];
    groups.extend(plan.pieces.iter().map(|p| piece(p, band)));
    groups.push(ghosts(plan, band));
    groups
}

fn ground(plan: &Plan, band: &Band) -> Group {
    let mut g = Group::new("wall", "The wall rolled out, the seam at both ends, rim up");
    let zone = &plan.cup.zone;
    for (low, high) in [(Mm::ZERO, zone.low), (zone.high, band.wall)] {
        if high > low {
            for c in band.strip(low, high).into_contours() {
                g.fill(c, TINT);
            }
        }
    }
    let (left, right) = band.ends();
    for i in 1..(band.wall.0 / 10.0).ceil() as usize {
        let slant = Mm(10.0 * i as f64);
        g.stroke(band.parallel(slant, left, right), Stroke::solid(TINT, if i % 5 == 0 { 0.3 } else { 0.15 }));
    }
    for c in band.outline().into_contours() {
        g.stroke(c, Stroke::solid(INK, 0.3));
    }
    for quarter in 0..4 {
        let azimuth = band.nearest_turn(Angle::degrees(90.0 * f64::from(quarter)));
        let dash = if quarter == 0 { Dash::Chain } else { Dash::Dashed };
        g.stroke(band.generator(azimuth, Mm::ZERO, band.wall), Stroke { colour: QUIET, width: 0.2, dash });
        let words = ["FRONT", "right", "back", "left"][quarter as usize];
        let text = Text::new(words, 3.2).bold().anchor(Anchor::Middle);
        let on_seam = (azimuth - left).wrapped().abs().deg() < 0.5;
        for at in if on_seam { vec![left, right] } else { vec![azimuth] } {
            super::wrap::along(&mut g, band, &text, at, band.wall + Mm(1.6));
        }
    }
    for i in (0..=(band.wall.0 / 10.0).floor() as usize).step_by(2) {
        let slant = Mm(10.0 * i as f64);
        let (p, (c, s)) = (band.at(left, slant), band.level(left));
        let text = format!("{}", 10 * i);
        let t = Text::new(&text, 2.2).anchor(Anchor::End).colour(QUIET);
        g.text_turned(&t, (p.x - c * 1.2 + s * 0.8, p.y - s * 1.2 - c * 0.8), (c, s));
    }
    g
}

/// One piece with its hatch and number, in a group of its own named after the number.
fn piece(p: &Piece, band: &Band) -> Group {
    let mut g = Group::new(format!("m{}", p.number), format!("{} {}", p.number, p.name));
    let there = p.outline.moved(&band.place(&p.pose));
    let flat = there.flat(COARSE);
    let label = Label::new(p.number, &flat);
    g.stroke(film_mark::hatch(p.film, &flat, Some(label.keep_out())), film_mark::hatch_stroke(p.film));
    let whole = gathered(&there);
    g.stroke(whole, film_mark::outline(p.film)).id = Some(outline_id(p.number));
    label.draw(&mut g);
    g
}

fn gathered(r: &Region<Page>) -> crate::base::shape::BezPath {
    r.contours().iter().flat_map(|c| c.elements().iter().copied()).collect()
}

/// Pieces that cross the seam, once more in dashes at the other end.
fn ghosts(plan: &Plan, band: &Band) -> Group {
    let mut g =
        Group::new("over-the-seam", "Pieces that cross the seam, repeated in dashes at the other end");
    let edge = band.outline().flat(COARSE);
    for p in &plan.pieces {
        let home = p.outline.moved(&band.place(&p.pose)).flat(COARSE);
        let crosses = home.rings.iter().flatten().any(|q| !edge.contains(q[0], q[1]));
        if !crosses {
            continue;
        }
        for n in [-1, 1] {
            let there = p.outline.moved(&band.place_turned(&p.pose, n));
            let flat = there.flat(COARSE);
            if flat.rings.iter().flatten().any(|q| edge.contains(q[0], q[1])) {
                let stroke = Stroke { width: 0.2, dash: Dash::Dashed, ..film_mark::outline(p.film) };
                g.stroke(gathered(&there), stroke);
                Label::new(p.number, &flat).draw(&mut g);
            }
        }
    }
    g
}

/// A number in the roomiest place of a piece.
pub struct Label {
    words: String,
    size: f64,
    at: (f64, f64),
}

impl Label {
    /// For a piece where it lies.
    pub fn new(number: u32, flat: &Flat<Page>) -> Label {
        let words = number.to_string();
        let (x, y, radius) = roomiest(flat);
        // A line of this size is `half` wide and `CAPITAL` high: both corners must lie within the circle.
        let (half, tall) = (letters::width(Face::Bold, 1.0, &words) / 2.0, letters::CAPITAL / 2.0);
        let size = (0.95 * radius / libm::hypot(half, tall)).clamp(1.5, 3.4);
        Label { words, size, at: (x, y - size * tall) }
    }
    /// The box that hatch keeps out of.
    pub fn keep_out(&self) -> Bounds<Page> {
        let half = letters::width(Face::Bold, self.size, &self.words) / 2.0 + 0.3;
        Bounds {
            min: Point::mm(self.at.0 - half, self.at.1 - 0.4),
            max: Point::mm(self.at.0 + half, self.at.1 + self.size * letters::CAPITAL + 0.4),
        }
    }
    /// Draws it.
    pub fn draw(&self, g: &mut Group) {
        g.text(&Text::new(&self.words, self.size).bold().anchor(Anchor::Middle), self.at);
    }
}

/// Centre and radius of a large circle within a flat region: quadrants are searched best first until none can hold
/// a circle larger by a twentieth of a millimetre.
fn roomiest(flat: &Flat<Page>) -> (f64, f64, f64) {
    let b = flat.bounds();
    let room = |x: f64, y: f64| {
        let mut best = f64::INFINITY;
        for ring in &flat.rings {
            for i in 0..ring.len() {
                let (p, q) = (ring[i], ring[(i + 1) % ring.len()]);
                let (ux, uy) = (q[0] - p[0], q[1] - p[1]);
                let t =
                    (((x - p[0]) * ux + (y - p[1]) * uy) / (ux * ux + uy * uy).max(1e-18)).clamp(0.0, 1.0);
                let (dx, dy) = (p[0] + t * ux - x, p[1] + t * uy - y);
                best = best.min(dx * dx + dy * dy);
            }
        }
        if flat.contains(x, y) { best.sqrt() } else { -best.sqrt() }
    };
    let half = (b.width().0.min(b.height().0) / 2.0).max(0.05);
    let mut cells: Vec<(f64, f64, f64, f64)> = Vec::new();
    let mut best = (b.centre().x, b.centre().y, room(b.centre().x, b.centre().y));
    let (columns, lines) =
        ((b.width().0 / half / 2.0).ceil() as usize, (b.height().0 / half / 2.0).ceil() as usize);
    for i in 0..columns.max(1) {
        for j in 0..lines.max(1) {
            let (x, y) = (b.min.x + half * (2 * i + 1) as f64, b.min.y + half * (2 * j + 1) as f64);
            cells.push((x, y, half, room(x, y)));
        }
    }
    let bound = |c: &(f64, f64, f64, f64)| c.3 + c.2 * std::f64::consts::SQRT_2;
    while let Some(at) = (0..cells.len()).max_by(|&i, &j| bound(&cells[i]).total_cmp(&bound(&cells[j]))) {
        let cell = cells.swap_remove(at);
        if cell.3 > best.2 {
            best = (cell.0, cell.1, cell.3);
        }
        if bound(&cell) <= best.2 + 0.05 {
            break;
        }
        let h = cell.2 / 2.0;
        for (sx, sy) in [(-h, -h), (h, -h), (-h, h), (h, h)] {
            let (x, y) = (cell.0 + sx, cell.1 + sy);
            cells.push((x, y, h, room(x, y)));
        }
    }
    best
}

/// The table under the map: columns of rows, zone by zone.
struct Table {
    columns: Vec<Vec<Entry>>,
    height: f64,
    width: f64,
}

enum Entry {
    Zone(String),
    Row([String; 8], bool),
}

const ROW: f64 = 3.8;
const COLUMN: f64 = 104.0;
/// Right edge of each cell within a column; the sheet's name starts at its left.
const CELLS: [f64; 8] = [9.0, 16.0, 18.0, 46.0, 59.0, 75.0, 92.0, 101.0];
const HEADS: [&str; 8] = ["no.", "film", "sheet", "up mm", "up in", "round mm", "round in", "turn\u{b0}"];

impl Table {
    fn new(plan: &Plan, rows: &[Row], width: f64) -> Table {
        let mut all = Vec::new();
        for (zone, list) in rows::by_zone(rows) {
            all.push(Entry::Zone(format!("{}, {} pieces", zone.name(), list.len())));
            for (i, r) in list.into_iter().enumerate() {
                all.push(Entry::Row(cells(plan, r), i % 2 == 1));
            }
        }
        let count = ((width + 3.0) / COLUMN).floor().max(1.0) as usize;
        let tall = all.len().div_ceil(count).max(1);
        let mut columns: Vec<Vec<Entry>> = Vec::new();
        for entry in all {
            if columns.last().is_none_or(|c| c.len() >= tall) {
                columns.push(Vec::new());
            }
            if let Some(c) = columns.last_mut() {
                c.push(entry);
            }
        }
        // Three lines of heads and notes.
        Table { columns, height: (tall as f64 + 3.0) * ROW, width }
    }
    fn groups(&self, left: f64, top: f64) -> Vec<Group> {
        let mut g = Group::new("table", "Number, film, sheet, height up, distance round, turn");
        g.live = true;
        let note = "up: along the wall from the base edge. round: from the front line at that height, R to the right, L to the left. Both to the middle of the piece. turn: counter-clockwise from upright.";
        for (i, l) in letters::broken(Face::Regular, 2.4, note, self.width).iter().take(2).enumerate() {
            g.text(&Text::new(l, 2.4).colour(INK), (left, top - ROW * (0.6 + i as f64 * 0.85)));
        }
        for (i, column) in self.columns.iter().enumerate() {
            let x = left + COLUMN * i as f64;
            let mut y = top - ROW * 2.6;
            for (j, head) in HEADS.iter().enumerate() {
                cell(&mut g, j, head, 2.0, x, y, true);
            }
            g.stroke(segment((x, y - 1.0), (x + CELLS[7], y - 1.0)), Stroke::solid(INK, 0.2));
            for entry in column {
                y -= ROW;
                match entry {
                    Entry::Zone(name) => g.text(&Text::new(name, 2.6).bold(), (x, y)),
                    Entry::Row(texts, odd) => {
                        if *odd {
                            g.fill(rectangle(x, y - 1.0, x + CELLS[7], y + ROW - 1.0), TINT);
                        }
                        for (j, t) in texts.iter().enumerate() {
                            cell(&mut g, j, t, 2.5, x, y, j == 0);
                        }
                    }
                }
            }
        }
        vec![g]
    }
}

fn cell(g: &mut Group, j: usize, words: &str, size: f64, x: f64, y: f64, bold: bool) {
    let anchor = if j == 2 { Anchor::Start } else { Anchor::End };
    let mut t = Text::new(words, size).anchor(anchor);
    if bold {
        t = t.bold();
    }
    g.text(&t, (x + CELLS[j], y));
}

/// The cells of a row as printed.
pub fn cells(_plan: &Plan, r: &Row) -> [String; 8] {
    let side = |text: String| match () {
        () if r.round.0 >= 0.05 => format!("R {text}"),
        () if r.round.0 <= -0.05 => format!("L {text}"),
        () => text,
    };
    [
        r.number.to_string(),
        film_mark::letter(r.film),
        r.sheet.clone().unwrap_or_else(|| "\u{2013}".to_owned()),
        table_mm(r.up),
        table_inch(r.up),
        side(table_mm(r.round.abs())),
        side(table_inch(r.round.abs())),
        table_degrees(r.turn),
    ]
}
