//! A picture of each sheet for weeding: every piece with its number, cut order, weeding aids, and what the
//! sheet takes.
//!
//! Imports: base, outline, read::job, make::{film, plan, verify}, write::ink, write::cut::sheet.

use crate::base::frame::{Page, Point, Rigid, Sheet};
use crate::base::tolerance::NEST_FLATTEN;
use crate::make::film::bill::{Tally, tally};
use crate::make::film::hops::{self, Hops};
use crate::make::film::{Placed, SheetLayout};
use crate::make::plan::keep::runs;
use crate::make::verify::CutPlan;
use crate::outline::{BezPath, Bounds, Flat, Region};
use crate::read::job::Lay;
use crate::write::cut::sheet::{self, repeats};
use crate::write::ink::drawing::{Dash, Drawing, Group, INK, QUIET, Stroke, TINT, Text, segment};
use crate::write::ink::label::roomiest;
use crate::write::ink::letters::Anchor;
use crate::write::ink::numbers::{Caps, Item, Placed as Shown, fits, placed};
use crate::write::ink::place::Field;
use std::collections::BTreeSet;

/// Paper round the sheet, and the lines of text over it.
const EDGE: f64 = 6.0;
const HEAD: f64 = 20.0;
/// Least width, for the text.
const NARROWEST: f64 = 150.0;

/// Path of a sheet's picture within the kit.
pub fn file_name(plan: &dyn CutPlan, sheet: &SheetLayout) -> String {
    format!("weeding/{}.svg", sheet::sheet_name(plan, sheet))
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
pub fn drawing(plan: &dyn CutPlan, sheet: &SheetLayout) -> Drawing {
    let film = &plan.films()[sheet.film.0];
    let t = tally(sheet, film);
    let name = sheet::sheet_name(plan, sheet);
    let (w, h) = (sheet.width.0, sheet.height.0);
    let moved = |r: &Region<Sheet>| -> Region<Page> { r.moved(&place()) };
    let mut film_group = Group::new("film", "The sheet");
    let whole = Region::rectangle(Bounds { min: Point::ORIGIN, max: Point::mm(w, h) });
    for c in moved(sheet.stock.shape.as_ref().unwrap_or(&whole)).contours() {
        film_group.stroke(c.clone(), Stroke::solid(QUIET, 0.3));
    }
    let mut pieces = Group::new("pieces", "Pieces with their numbers; spares end in s");
    for (p, id) in sheet.placed.iter().zip(sheet::group_ids(sheet)) {
        let outline = moved(&p.cuts);
        let path: BezPath = outline.contours().iter().flat_map(BezPath::iter).collect();
        let (fill, line) = match plan.is_gone(p.number) {
            true => (None, Stroke { colour: QUIET, width: 0.25, dash: Dash::Dashed }),
            false => (Some(TINT), Stroke::solid(INK, 0.15)),
        };
        pieces.mark(path, fill, Some(line)).id = Some(outline_id(&id));
    }
    for n in numbers(plan, sheet) {
        n.draw(&mut pieces, false);
    }
    let aids = aids(sheet);
    let order = order(plan, sheet);
    let mut lines = message(&name, &film.name, sheet, &t);
    if let Some(order) = &order {
        lines.push(format!(
            "spots lie in the order of placing, {:.0} mm from one to the next: follow the line from {}",
            Hops::of(order).mean(),
            first(plan, sheet)
        ));
    }
    lines.extend(parting(sheet));
    let gone: BTreeSet<u32> = sheet.placed.iter().map(|p| p.number).filter(|n| plan.is_gone(*n)).collect();
    if !gone.is_empty() {
        let gone: Vec<u32> = gone.into_iter().collect();
        lines.push(format!("dashed, not wanted any more: leave on the sheet {}", runs(&gone)));
    }
    let head_high = HEAD + 5.0 * lines.len().saturating_sub(3) as f64;
    let mut head = Group::new("head", "What the sheet takes");
    for (i, line) in lines.iter().enumerate() {
        let text = Text::new(line, if i == 0 { 4.5 } else { 3.0 });
        let text = if i == 0 { text.bold() } else { text };
        head.text(&text, (EDGE, h + EDGE + head_high - 5.0 - 5.0 * i as f64));
    }
    Drawing {
        title: format!("{}: weeding {name}", plan.title()),
        message: lines.join(" "),
        width: (w + 2.0 * EDGE).max(NARROWEST),
        height: h + 2.0 * EDGE + head_high,
        groups: [
            Some(film_group),
            order.map(|o| path(&o)),
            Some(pieces),
            Some(aids),
            carriers(plan, sheet),
            Some(head),
        ]
        .into_iter()
        .flatten()
        .collect(),
    }
}

/// Weeding lines, lines that part the waste of panels, and the frame.
fn aids(sheet: &SheetLayout) -> Group {
    let mut aids = Group::new("aids", "Weeding lines and frame");
    let dashed = Stroke { colour: QUIET, width: 0.25, dash: Dash::Dashed };
    let drawn = |[a, b]: &[[f64; 2]; 2]| segment((a[0] + EDGE, a[1] + EDGE), (b[0] + EDGE, b[1] + EDGE));
    for line in &sheet.aids.lines {
        aids.stroke(drawn(line), dashed);
    }
    for line in sheet.aids.parting() {
        aids.stroke(drawn(line), Stroke::solid(INK, 0.4));
    }
    if let Some(frame) = sheet.aids.frame {
        Region::rectangle(frame).moved(&place()).contours().iter().for_each(|c| {
            aids.stroke(c.clone(), dashed);
        });
    }
    aids
}

/// What the lines that part the waste of panels are for; none without such.
fn parting(sheet: &SheetLayout) -> Option<String> {
    let short = match sheet.aids.parting().count() {
        0 => return None,
        1 => "1 short line parts".to_owned(),
        n => format!("{n} short lines part"),
    };
    Some(format!("{short} the waste of panels where it is narrow: pull it from its widest place"))
}

/// The carriers of panels, each with its name where it has most room between its pieces; none without panels.
fn carriers(plan: &dyn CutPlan, sheet: &SheetLayout) -> Option<Group> {
    let dashed = Stroke { colour: QUIET, width: 0.25, dash: Dash::Chain };
    let mut carriers = Group::new("carriers", "Where the sheet is cut apart by hand, a carrier each");
    for c in &sheet.aids.carriers {
        let there = c.outline.moved(&place());
        there.contours().iter().for_each(|c| {
            carriers.stroke(c.clone(), dashed);
        });
        // Where the carrier has most room between its pieces.
        let own = sheet.placed.iter().flat_map(|p| p.cuts.moved(&place()).flat(NEST_FLATTEN).rings);
        let mut rings = there.flat(NEST_FLATTEN).rings;
        let whole: Flat<Page> = Flat::new(rings.clone(), NEST_FLATTEN);
        rings.extend(own.filter(|r| whole.contains(r[0][0], r[0][1])));
        let room = roomiest(&Flat::<Page>::new(rings, NEST_FLATTEN));
        let text = format!(
            "{}{}",
            plan.panel_name(c.first),
            if c.cup > 0 { format!(", cup {}", c.cup) } else { String::new() }
        );
        carriers
            .text(&Text::new(&text, 2.6).anchor(Anchor::Middle).colour(QUIET), (room.at.x, room.at.y - 1.0));
    }
    (!sheet.aids.carriers.is_empty()).then_some(carriers)
}

/// Places of the spots of a woven sheet in the order of placing; none of another.
fn order(plan: &dyn CutPlan, sheet: &SheetLayout) -> Option<Vec<[f64; 2]>> {
    let woven = plan.films()[sheet.film.0].cut.lay.how == Lay::Woven;
    let all = if woven { hops::places(sheet, &|p| plan.piece_at(p)) } else { Vec::new() };
    (all.len() > 1).then_some(all)
}

/// The spot that is placed first, as it is called.
fn first(plan: &dyn CutPlan, layout: &SheetLayout) -> String {
    let spot = |p: &&Placed| !p.spare && hops::is_spot(plan.piece_at(p));
    let first = layout.placed.iter().filter(spot).min_by_key(|p| (p.cup, p.number));
    first.map_or(String::new(), sheet::shown)
}

/// The way of the hand: a thin line from spot to spot.
fn path(order: &[[f64; 2]]) -> Group {
    let mut g = Group::new("order", "The way from spot to spot in the order of placing");
    let at = |p: &[f64; 2]| (p[0] + EDGE, p[1] + EDGE);
    for w in order.windows(2) {
        g.stroke(segment(at(&w[0]), at(&w[1])), Stroke::solid(QUIET, 0.25));
    }
    g
}

fn message(name: &str, film: &str, layout: &SheetLayout, t: &Tally) -> Vec<String> {
    let minutes = |s: f64| format!("{:.1} min", s / 60.0);
    let spares = if t.spares > 0 { format!(" and {} spares", t.spares) } else { String::new() };
    let mut lines = vec![
        format!("{name}{}", if layout.mirrored { ", as it is cut: mirrored" } else { "" }),
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
    ];
    lines.extend(repeats(layout));
    lines
}

/// Heights of numbers' capitals.
const CAPS: Caps = Caps { most: 3.6, wanted: 1.8, least: 1.2, dots: false };
/// From a number to a weeding line.
const OFF_AIDS: f64 = 0.3;

/// Where the numbers of the pieces that are wanted stand; spares end in s.
fn numbers(plan: &dyn CutPlan, layout: &SheetLayout) -> Vec<Shown> {
    let item = |p: &Placed| {
        let flat = p.cuts.moved(&place()).flat(NEST_FLATTEN);
        let words = if p.spare { format!("{}s", sheet::shown(p)) } else { sheet::shown(p) };
        Item { words, seen: flat.clone(), outline: flat, ink: INK }
    };
    let items: Vec<Item> = layout.placed.iter().filter(|p| !plan.is_gone(p.number)).map(item).collect();
    let mut field = Field::new(0.0);
    for [a, b] in &layout.aids.lines {
        field.keep_off(&segment((a[0] + EDGE, a[1] + EDGE), (b[0] + EDGE, b[1] + EDGE)), OFF_AIDS);
    }
    placed(&items, &fits(&items, CAPS), CAPS, &mut field)
}
