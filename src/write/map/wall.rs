//! The application map: each piece with its number where it goes, and a table to measure by; as one large SVG
//! and as pages to print.
//!
//! Imports: base, outline, read::job, make::{cup, piece, decal, panel, plan, verify}, write::{ink, template, map},
//! write::map::{rows, passes}.

use super::COARSE;
use super::passes::{self, Pass};
use super::rows::{self, Row};
use crate::base::frame::{Art, Page, Point, Rigid};
use crate::base::units::{Angle, Mm};
use crate::make::cup::WallZone;
use crate::make::decal::Decal;
use crate::make::panel::Panel;
use crate::make::piece::Piece;
use crate::make::plan::keep::runs;
use crate::make::verify::Verified;
use crate::outline::{Bounds, Flat, Region};
use crate::write::ink::decimal::{table_degrees, table_inch_in, table_mm};
use crate::write::ink::drawing::{
    Dash, Drawing, Group, INK, QUIET, Stroke, TINT, Text, Words, gathered, rectangle, segment,
};
use crate::write::ink::film_mark;
use crate::write::ink::letters::{self, Anchor, Face};
use crate::write::ink::numbers::{self, Caps, Item, Placed};
use crate::write::ink::place::{Field, Quad};
use crate::write::template::band::{Band, bands, letter};
use crate::write::template::lines::{RingScale, Strip, strips};
use crate::write::template::wrap::{handles, part_name};
use rayon::prelude::*;

/// Path of the map within the kit.
pub const FILE: &str = "map/map.svg";

const EDGE: f64 = 8.0;
/// Heights of numbers' capitals at true size.
const CAPS: Caps = Caps { most: 2.4, wanted: 1.8, least: 1.4, dots: true };

/// The map alone, the lower left corner of its ink at the origin, and where the bands of the zones lie on it.
pub fn body(plan: &Verified) -> (Drawing, Vec<Band>) {
    body_of(plan, None)
}

/// The same of one pass, or of all.
pub fn body_of(plan: &Verified, pass: Option<&Pass>) -> (Drawing, Vec<Band>) {
    let cup = plan.cup();
    let mut bands = bands(cup, Mm::ZERO, Point::mm(0.0, 0.0));
    let mut groups: Vec<Group> = cup
        .zones
        .iter()
        .zip(&bands)
        .enumerate()
        .map(|(i, (zone, band))| {
            let mut g = ground(plan, zone, band);
            if !cup.is_cone() {
                let low = band.bounds().min;
                g.text(&Text::new(&part_name(cup, i), 3.0).bold(), (low.x, low.y - 4.0));
                g.id = format!("{}-{}", g.id, letter(i).to_lowercase());
            }
            g
        })
        .collect();
    let own: Vec<&Piece> = plan.pieces().iter().filter(|p| Pass::shows(pass, plan, p)).collect();
    let mut items: Vec<Item> =
        own.par_iter().map(|p| Item::of(plan, p, &bands[p.zone].place(&p.pose), COARSE)).collect();
    let over = over_the_seam(&own, &bands);
    items.extend(over.iter().map(|(p, pose)| Item { ink: INK, ..Item::of(plan, p, pose, COARSE) }));
    let of_panels = panels(plan, pass, &bands);
    let mut field = Field::new(0.0);
    for m in of_panels.iter().flat_map(|g| &g.marks) {
        field.keep_off(&m.path, 0.15);
    }
    for g in groups.iter().chain(&of_panels) {
        field.take(&g.words.iter().map(Quad::of).collect::<Vec<_>>());
    }
    bands.iter().for_each(|b| b.outline().contours().iter().for_each(|c| field.keep_off(c, 0.3)));
    let mut numbers = numbers::placed(&items, &numbers::fits(&items, CAPS), CAPS, &mut field);
    let of_ghosts = numbers.split_off(own.len());
    for (band, g) in bands.iter().zip(&mut groups) {
        heights(RingScale::of(plan.job().unit), band, &mut field, g);
    }
    groups.extend(before(plan, pass, &bands));
    let drawn = own.par_iter().zip(&items).zip(&numbers);
    let one = |((p, i), n): ((&&Piece, &Item), &Placed)| piece((plan, pass), p, (&i.seen, n), &bands[p.zone]);
    groups.extend(drawn.map(one).collect::<Vec<_>>());
    groups.extend(keys(plan, pass, &bands));
    groups.extend(of_panels);
    groups.push(ghosts(&over, &of_ghosts));
    let mut d = Drawing {
        title: match pass {
            Some(pass) => format!("{}: map of {}", pass.title(), plan.job().title),
            None => format!("{}: application map", plan.job().title),
        },
        message: format!(
            "{} pieces, each drawn where it goes with its number; the table gives height up the wall from \
                the base edge and distance round from the front line at that height, both to the middle of \
                the piece.",
            own.len()
        ),
        width: 0.0,
        height: 0.0,
        groups,
    };
    let ink = d.ink();
    d.shift(-ink.min.x, -ink.min.y);
    bands.iter_mut().for_each(|b| b.shift(-ink.min.x, -ink.min.y));
    (d.width, d.height) = (ink.width().0, ink.height().0);
    (d, bands)
}

/// Map and table on one large page, and where the bands lie on it.
pub fn drawing(plan: &Verified, rows: &[Row], (body, bands): &(Drawing, Vec<Band>)) -> (Drawing, Vec<Band>) {
    let (mut d, mut bands) = (body.clone(), bands.clone());
    let width = (d.width + 2.0 * EDGE).max(210.0);
    let table = Table::new(rows, width - 2.0 * EDGE);
    let (head, foot) = (22.0, EDGE + table.height);
    let (x, y) = ((width - d.width) / 2.0, foot + 8.0);
    d.shift(x, y);
    bands.iter_mut().for_each(|b| b.shift(x, y));
    (d.width, d.height) = (width, foot + 8.0 + d.height + head);
    d.groups.push(heading(plan, width, d.height));
    d.groups.extend(table.groups(EDGE, foot));
    (d, bands)
}

/// Id of a piece's outline on the map.
pub fn outline_id(number: u32) -> String {
    format!("o{number}")
}

fn heading(plan: &Verified, width: f64, height: f64) -> Group {
    let mut g = Group::new("heading", "Title and films");
    let title = format!("{}: where each piece goes", plan.job().title);
    let title = letters::broken(Face::Bold, 5.2, &title, width - 2.0 * EDGE);
    g.text(&Text::new(title.first().map_or("", String::as_str), 5.2).bold(), (EDGE, height - EDGE - 4.0));
    let low = legend(&mut g, plan, (EDGE, height - EDGE - 12.0), width - EDGE);
    let changed = &plan.kept().changed;
    let parts =
        [("new", &changed.new), ("moved", &changed.moved), ("gone, left on the sheet", &changed.gone)];
    let parts = parts.into_iter().filter(|(_, list)| !list.is_empty());
    let words = parts.map(|(what, list)| format!("{what}: {}", runs(list))).collect::<Vec<_>>().join("; ");
    if !words.is_empty() {
        let mut words = format!("since the last kit: {words}");
        // The wall begins in the middle of this line.
        if letters::width(Face::Regular, 2.6, &words) > width / 2.0 - 2.0 * EDGE {
            let [new, moved, gone] = [&changed.new, &changed.moved, &changed.gone].map(Vec::len);
            words = format!(
                "since the last kit: {new} new, {moved} moved, {gone} gone: numbers in the job sheet"
            );
        }
        let below = if plan.passes().len() > 1 { 9.5 } else { 5.0 };
        g.text(&Text::new(&words, 2.6), (EDGE, low - below));
    }
    let passes = plan.passes();
    if passes.len() > 1 {
        let one = |(name, [a, b]): &(String, [u32; 2])| format!("{name}: {a} to {b}");
        let words = passes.iter().map(one).collect::<Vec<_>>().join(", then ");
        g.text(&Text::new(&format!("in this order: {words}"), 3.0), (EDGE, low - 5.0));
    }
    g
}

/// A swatch, letter and name a film, broken into rows where they do not fit.
pub fn legend(g: &mut Group, plan: &Verified, at: (f64, f64), right: f64) -> f64 {
    let (mut x, mut y) = at;
    for (i, film) in plan.job().films.iter().enumerate() {
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
        let paint = film_mark::paint(plan.job(), id);
        let hatch = film_mark::hatch(id, &swatch.flat(COARSE), None);
        for c in swatch.into_contours() {
            g.mark(c, paint.fill, Some(Stroke::solid(paint.line, 0.3)));
        }
        g.stroke(hatch, film_mark::hatch_in(paint, id));
        g.text(&Text::new(&words, 3.0), (x + 11.0, y));
        x += wide;
    }
    y
}

fn ground(plan: &Verified, wall: &WallZone, band: &Band) -> Group {
    let mut g = Group::new("wall", "The wall rolled out, the seam at both ends, rim up");
    for Strip { low, high, .. } in strips(plan, wall) {
        for c in band.strip(low, high).into_contours() {
            g.fill(c, TINT);
        }
    }
    let (left, right) = band.ends();
    handles(&mut g, &wall.zone, band, (left, right));
    let scale = RingScale::of(plan.job().unit);
    for i in scale.within(band) {
        let width = if scale.is_strong(i) { 0.3 } else { 0.15 };
        g.stroke(band.parallel(scale.slant(i), left, right), Stroke::solid(TINT, width));
    }
    for c in band.outline().into_contours() {
        g.stroke(c, Stroke::solid(INK, 0.3));
    }
    for quarter in 0..4 {
        let azimuth = band.nearest_turn(Angle::degrees(90.0 * f64::from(quarter)));
        let dash = if quarter == 0 { Dash::Chain } else { Dash::Dashed };
        g.stroke(band.generator(azimuth, band.low, band.wall), Stroke { colour: QUIET, width: 0.2, dash });
        let words = ["FRONT", "right", "back", "left"][quarter as usize];
        let text = Text::new(words, 3.2).bold().anchor(Anchor::Middle);
        let on_seam = (azimuth - left).wrapped().abs().deg() < 0.5;
        for at in if on_seam { vec![left, right] } else { vec![azimuth] } {
            crate::write::template::wrap::along(&mut g, band, &text, at, band.wall + Mm(1.6));
        }
    }
    g
}

/// From the end of the wall to its heights, mm, and by how much farther where what crosses the seam stands there.
const BESIDE: f64 = 1.2;
const FARTHER: f64 = 2.5;

/// Heights every 20 mm or every inch, left of the wall, clear of pieces and numbers.
fn heights(scale: RingScale, band: &Band, field: &mut Field, g: &mut Group) {
    let left = band.ends().0;
    let step = scale.step();
    let all = (band.low / step).ceil() as usize..=(band.wall / step).floor() as usize;
    for i in all.filter(|i| i % 2 == 0) {
        let slant = scale.slant(i);
        let (p, (c, s)) = (band.at(left, slant), band.level(left));
        let text = scale.name(i);
        let t = Text::new(&text, HEIGHT).anchor(Anchor::End).colour(QUIET);
        let drawn = |off: f64| {
            let mut one = Group::default();
            one.text_turned(&t, (p.x - c * off + s * 0.8, p.y - s * off - c * 0.8), (c, s));
            one.words.remove(0)
        };
        let free = |w: &Words| field.is_free(&[Quad::of(w)], false, false);
        let mut off = BESIDE;
        // Pieces end somewhere, so a place is found.
        while !free(&drawn(off)) {
            off += FARTHER;
        }
        let words = drawn(off);
        field.take(&[Quad::of(&words)]);
        g.words.push(words);
    }
}

/// Size of heights (the em): capitals of 1.8 mm.
const HEIGHT: f64 = 2.53;

/// Keys and hinge lines of decals: they lie on the wall only while the layers go on.
fn keys(plan: &Verified, pass: Option<&Pass>, bands: &[Band]) -> Option<Group> {
    let mut g =
        Group::new("keys", "Registration keys of decals, lifted off again, and hinge lines for the tape");
    let shown = |d: &&Decal| pass.is_none_or(|pass| d.pass == pass.order);
    for d in plan.decals().iter().filter(shown) {
        let place = bands[d.zone].place(&d.pose);
        g.stroke(gathered(&d.keys.marks.moved(&place)), Stroke::solid(QUIET, 0.2));
        if let Some([a, b]) = d.keys.hinge {
            let (a, b) = (place.apply(a), place.apply(b));
            g.stroke(
                segment((a.x, a.y), (b.x, b.y)),
                Stroke { colour: QUIET, width: 0.2, dash: Dash::Chain },
            );
        }
    }
    plan.decals().iter().any(|d| shown(&d)).then_some(g)
}

/// Panels with their names, and the marks that they are laid by.
fn panels(plan: &Verified, pass: Option<&Pass>, bands: &[Band]) -> Vec<Group> {
    let shown = |p: &&Panel| p.members.iter().any(|m| Pass::shows(pass, plan, plan.piece(m.number)));
    let list: Vec<&Panel> = plan.panels().layings().filter(shown).collect();
    if list.is_empty() {
        return Vec::new();
    }
    let mut g = Group::new("panels", "Panels, each round the pieces that are laid at once");
    for p in list {
        let place = bands[p.zone].place(&p.pose);
        let there = p.carrier.moved(&place);
        let gathered_here = p.part.is_some();
        let line = if gathered_here { Stroke::solid(INK, 0.15) } else { film_mark::outline(p.film) };
        let stroke = Stroke { dash: Dash::Chain, width: 0.15, ..line };
        g.stroke(gathered(&there), stroke);
        let (b, (c, s)) = (p.carrier.bounds(), bands[p.zone].level(p.middle.azimuth));
        let at = place.apply(Point::mm(b.centre().x, b.max.y - 2.6));
        let words = match p.part {
            Some(_) => format!("panel {}", p.number),
            None => format!("{}{}", film_mark::letter(p.film), p.number),
        };
        g.text_turned(&Text::new(&words, 2.4).bold().anchor(Anchor::Middle), (at.x, at.y), (c, s));
    }
    let marks = (0..bands.len()).filter_map(|i| crate::write::template::marks::group(plan, i, &bands[i]));
    std::iter::once(g).chain(marks).collect()
}

/// One piece with its hatch and number, in a group of its own named after the number.
fn piece(
    (plan, pass): (&Verified, Option<&Pass>),
    p: &Piece,
    (seen, number): (&Flat<Page>, &Placed),
    band: &Band,
) -> Group {
    let mut g = Group::new(format!("m{}", p.number), format!("{} {}", p.number, p.name));
    let pose = band.place(&p.pose);
    let there = p.outline.moved(&pose);
    let whole = gathered(&there);
    let paint = film_mark::paint(plan.job(), p.film);
    g.mark(whole, Pass::fill(pass, paint.fill), Some(Stroke::solid(paint.line, 0.3))).id =
        Some(outline_id(p.number));
    let hatch = film_mark::hatch(p.film, seen, Some(number.keep_out()));
    g.stroke(hatch, film_mark::hatch_in(paint, p.film));
    number.draw(&mut g, false);
    g
}

/// What lies there before a pass, also where it crosses the seam; none where nothing does.
fn before(plan: &Verified, pass: Option<&Pass>, bands: &[Band]) -> Option<Group> {
    let under: Vec<&Piece> = plan.pieces().iter().filter(|p| Pass::is_under(pass, plan, p)).collect();
    let mut outlines: Vec<Region<Page>> =
        under.iter().map(|p| p.outline.moved(&bands[p.zone].place(&p.pose))).collect();
    outlines.extend(over_the_seam(&under, bands).iter().map(|(p, pose)| p.outline.moved(pose)));
    (!outlines.is_empty()).then(|| passes::faint(&outlines))
}

/// Pieces that cross the seam, and where they show at the other end.
fn over_the_seam<'a>(pieces: &[&'a Piece], bands: &[Band]) -> Vec<(&'a Piece, Rigid<Art, Page>)> {
    let edges: Vec<_> = bands.iter().map(|b| b.outline().flat(COARSE)).collect();
    let reach = |p: &Piece| {
        let b = p.outline.bounds();
        libm::hypot(b.width().0, b.height().0)
    };
    let mut out = Vec::new();
    for p in pieces.iter().copied() {
        let (band, edge) = (&bands[p.zone], &edges[p.zone]);
        // Only what lies near an end can cross it.
        let r = band.development().radius(p.wall.slant).0.max(1.0);
        let from_end = (p.wall.azimuth - band.ends().0).wrapped().abs().rad() * r * 0.6;
        if from_end > reach(p) {
            continue;
        }
        let home = p.outline.moved(&band.place(&p.pose)).flat(COARSE);
        let crosses = home.rings.iter().flatten().any(|q| !edge.contains(q[0], q[1]));
        let pose = band.place_turned(&p.pose, band.other_end(&p.pose));
        let there = || p.outline.moved(&pose).flat(COARSE);
        if crosses && there().rings.iter().flatten().any(|q| edge.contains(q[0], q[1])) {
            out.push((p, pose));
        }
    }
    out
}

/// The same once more in dashes at the other end.
fn ghosts(over: &[(&Piece, Rigid<Art, Page>)], numbers: &[Placed]) -> Group {
    let mut g =
        Group::new("over-the-seam", "Pieces that cross the seam, repeated in dashes at the other end");
    for ((p, pose), number) in over.iter().zip(numbers) {
        let stroke = Stroke { width: 0.2, dash: Dash::Dashed, ..film_mark::outline(p.film) };
        g.stroke(gathered(&p.outline.moved(pose)), stroke);
        number.draw(&mut g, false);
    }
    g
}

/// The table under the map: columns of rows, zone by zone.
struct Table {
    columns: Vec<Vec<Entry>>,
    height: f64,
    width: f64,
}

/// A line of the table.
#[derive(Clone, Debug)]
pub enum Entry {
    /// A zone's heading.
    MapZone(String),
    /// A piece; every other one on a tint.
    Row([String; 8], bool),
}

/// Size of a table's words (the em): capitals of 1.8 mm.
const TABLE: f64 = 2.55;
/// Words that a reader's own face may set wider than ours are broken at this part of the width.
const SLACK: f64 = 0.88;
/// Height of a line.
pub const ROW: f64 = 3.8;
/// Width of a column with the gap after it.
pub const COLUMN: f64 = 93.5;
/// Right edge of each cell within a column; the sheet's name starts at its left.
const CELLS: [f64; 8] = [7.5, 12.5, 14.5, 44.5, 55.3, 70.0, 83.5, 91.0];
const HEADS: [&str; 8] = ["no.", "film", "sheet", "up mm", "in", "round mm", "in", "turn\u{b0}"];
/// What the columns mean.
pub const NOTE: &str = "up: along the wall from the base edge. round: from the front line at that height, R \
    to the right, L to the left. Both to the middle of the piece. turn: counter-clockwise from upright. A dot without a number: \
    see the zone's own picture.";

/// The lines of a zone.
pub fn entries(zone: rows::MapZone, list: &[&Row]) -> Vec<Entry> {
    let count = if list.len() == 1 { "1 piece".to_owned() } else { format!("{} pieces", list.len()) };
    let mut out = vec![Entry::MapZone(format!("{}, {count}", zone.name()))];
    out.extend(list.iter().enumerate().map(|(i, r)| Entry::Row(cells(r), i % 2 == 1)));
    out
}

/// The lines of the pieces that go on the base; none if there are none.
pub fn base_entries(rows: &[Row]) -> Vec<Entry> {
    let base: Vec<&Row> = rows.iter().filter(|r| r.on_base).collect();
    if base.is_empty() {
        return Vec::new();
    }
    let mut out = vec![Entry::MapZone(format!("base, {} pieces", base.len()))];
    out.extend(base.into_iter().enumerate().map(|(i, r)| Entry::Row(cells(r), i % 2 == 1)));
    out
}

/// The lines of all zones, then those of the base.
pub fn all_entries(rows: &[Row]) -> Vec<Entry> {
    let wall = rows::by_zone(rows);
    wall.iter().flat_map(|(z, list)| entries(*z, list)).chain(base_entries(rows)).collect()
}

impl Table {
    fn new(rows: &[Row], width: f64) -> Table {
        let all = all_entries(rows);
        let count = ((width + 2.5) / COLUMN).floor().max(1.0) as usize;
        let tall = all.len().div_ceil(count).max(1);
        let columns = all.chunks(tall).map(<[Entry]>::to_vec).collect();
        // Three lines of heads and notes.
        Table { columns, height: (tall as f64 + 3.0) * ROW, width }
    }
    fn groups(&self, left: f64, top: f64) -> Vec<Group> {
        let mut g = Group::new("table", "Number, film, sheet, height up, distance round, turn");
        g.live = true;
        note(&mut g, (left, top), self.width);
        for (i, entries) in self.columns.iter().enumerate() {
            column(&mut g, entries, (left + COLUMN * i as f64, top - ROW * 2.0));
        }
        vec![g]
    }
}

/// The note over the table, in two lines at most.
pub fn note(g: &mut Group, (left, top): (f64, f64), width: f64) {
    for (i, l) in letters::broken(Face::Regular, 2.4, NOTE, width * SLACK).iter().take(2).enumerate() {
        g.text(&Text::new(l, 2.4).colour(INK), (left, top - ROW * (0.6 + i as f64 * 0.85)));
    }
}

/// One column of the table, its heads just under a place.
pub fn column(g: &mut Group, entries: &[Entry], (x, top): (f64, f64)) {
    let mut y = top - ROW * 0.6;
    for (j, head) in HEADS.iter().enumerate() {
        cell(g, j, head, (TABLE, true), (x, y));
    }
    g.stroke(segment((x, y - 1.0), (x + CELLS[7], y - 1.0)), Stroke::solid(INK, 0.2));
    for entry in entries {
        y -= ROW;
        match entry {
            Entry::MapZone(name) => g.text(&Text::new(name, 2.6).bold(), (x, y)),
            Entry::Row(texts, odd) => {
                if *odd {
                    g.fill(rectangle(x, y - 1.0, x + CELLS[7], y + ROW - 1.0), TINT);
                }
                for (j, t) in texts.iter().enumerate() {
                    cell(g, j, t, (TABLE, j == 0), (x, y));
                }
            }
        }
    }
}

/// One cell, set smaller where its text is wide.
fn cell(g: &mut Group, j: usize, words: &str, (size, bold): (f64, bool), (x, y): (f64, f64)) {
    let face = if bold { Face::Bold } else { Face::Regular };
    let room = match j {
        0 => CELLS[0],
        2 => CELLS[2 + 1] - 10.5 - CELLS[2],
        3 => 10.0,
        _ => CELLS[j] - CELLS[j - 1] - 0.8,
    };
    let wide = letters::width(face, size, words);
    let size = if wide > room { size * room / wide } else { size };
    let anchor = if j == 2 { Anchor::Start } else { Anchor::End };
    let t = Text::new(words, size).anchor(anchor);
    g.text(&if bold { t.bold() } else { t }, (x + CELLS[j], y));
}

/// The cells of a row as printed.
pub fn cells(r: &Row) -> [String; 8] {
    let side = |text: String| match () {
        () if r.round.0 >= 0.05 => format!("R {text}"),
        () if r.round.0 <= -0.05 => format!("L {text}"),
        () => text,
    };
    if r.on_base {
        let none = || "\u{2013}".to_owned();
        let sheet = r.sheet.clone().unwrap_or_else(none);
        return [
            r.number.to_string(),
            film_mark::letter(r.film),
            sheet,
            none(),
            none(),
            none(),
            none(),
            none(),
        ];
    }
    [
        r.number.to_string(),
        film_mark::letter(r.film),
        r.sheet.clone().unwrap_or_else(|| "\u{2013}".to_owned()),
        table_mm(r.up),
        table_inch_in(r.up, r.inch_parts),
        side(table_mm(r.round.abs())),
        side(table_inch_in(r.round.abs(), r.inch_parts)),
        table_degrees(r.turn),
    ]
}
