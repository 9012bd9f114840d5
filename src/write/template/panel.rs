//! The paper of each panel at 1:1: its carrier is laid on it, and the marks are traced.
//!
//! Imports: base, outline, read::job, make::{cup, panel, film, verify}, write::ink, write::template::lines.

use super::lines::RingScale;
use crate::base::frame::{Art, Page, Plane, Point, Rigid};
use crate::base::tolerance::FLATTEN;
use crate::base::units::{Angle, Mm};
use crate::make::cup::WallPoint;
use crate::make::film::SheetLayout;
use crate::make::panel::Panel;
use crate::make::verify::{CutPlan, Verified};
use crate::outline::Region;
use crate::read::job::Paper;
use crate::write::ink::drawing::{
    Dash, Drawing, Group, INK, QUIET, Stroke, TINT, Text, gathered, segment, size_bar,
};
use crate::write::ink::film_mark;
use crate::write::ink::inches::said;
use crate::write::ink::letters::Anchor;
use crate::write::ink::numbers::{Caps, Item, fits, placed};
use crate::write::ink::place::Field;

/// Paper round the carrier, and the lines of text over it.
const EDGE: f64 = 10.0;
const HEAD: f64 = 24.0;
/// From one line of text to the next.
const LINE: f64 = 5.0;
/// A patch of a film's hatch before its line.
const SWATCH: [f64; 2] = [8.0, 2.8];
/// What panels of several films are called in file names.
const GATHERED: &str = "gathered";
/// Least width, for the text.
const NARROWEST: f64 = 150.0;
/// Heights of numbers' capitals.
const CAPS: Caps = Caps { most: 2.4, wanted: 1.8, least: 1.2, dots: false };
/// Steps of a height ring across a panel.
const STEPS: usize = 24;

/// Path of a panel's paper within the kit; parts of a gathered one have one.
pub fn file_name(plan: &Verified, panel: &Panel) -> String {
    match panel.part {
        Some(_) => format!("panels/{GATHERED}-{}.svg", panel.number),
        None => format!("panels/{}-{}.svg", plan.job().films[panel.film.0].name, panel.number),
    }
}

/// Path of all papers in print.
pub fn tiles_name(paper: Paper) -> String {
    format!("panels/panels-{}.pdf", paper.name())
}

/// Id of a piece's outline.
pub fn outline_id(number: u32) -> String {
    format!("n{number}")
}

/// From the panel's own frame to its paper.
pub fn place(panel: &Panel) -> Rigid<Art, Page> {
    let b = panel.carrier.bounds();
    Rigid::from_parts(1.0, 0.0, Point::mm(EDGE - b.min.x, EDGE + 8.0 - b.min.y))
}

/// The sheet that a panel, or a film's part of one, is cut from.
fn sheet(plan: &Verified, panel: &Panel) -> String {
    let first = panel.members[0].number;
    let holds = |s: &&SheetLayout| s.placed.iter().any(|p| p.number == first && !p.spare);
    plan.sheets().iter().find(holds).map_or(String::new(), |s| plan.sheet_name(s))
}

/// Where a panel is laid, what it is laid by, and what it needs, in a line each.
pub fn words(plan: &Verified, panel: &Panel) -> Vec<String> {
    let film = &plan.job().films[panel.film.0];
    let zone = &plan.cup().zones[panel.zone];
    let round = zone.development.radius(panel.middle.slant) * panel.middle.azimuth.wrapped().rad();
    let side = if round < Mm::ZERO { "left" } else { "right" };
    let asked = film.cut.lay.panel;
    let parts = plan.panels().parts(panel);
    let first = match panel.part {
        None => format!(
            "{} panel {}: {} pieces, from sheet {}",
            film.name,
            panel.number,
            panel.members.len(),
            sheet(plan, panel)
        ),
        Some(_) => {
            let pieces: usize = parts.iter().map(|p| p.members.len()).sum();
            let films = if parts.len() == 1 { "film" } else { "films" };
            format!("gathered panel {}: {pieces} pieces of {} {films}", panel.number, parts.len())
        }
    };
    let mut lines = vec![
        first,
        format!(
            "middle {:.1} up the wall, {:.1} to the {side} of the front line; {:.1} along the ring by {:.1} up",
            panel.middle.slant,
            round.abs(),
            panel.size[0],
            panel.size[1]
        ),
    ];
    let off = parts.iter().map(|p| p.off).try_fold(Mm::ZERO, |most, off| Some(most.max(off?)));
    lines.push(match off {
        Some(off) => format!(
            "lay it by its first two marks (ringed): with both within {} no point is more than {off:.2} off",
            asked.read
        ),
        None => "no room for two marks: lay it by eye, from this paper".to_owned(),
    });
    let narrow: usize = parts.iter().map(|p| p.web.narrow).sum();
    let cut: usize = parts.iter().map(|p| p.web.lines.len()).sum();
    if narrow + cut > 0 {
        let lines_cut = match cut {
            0 => String::new(),
            1 => "; 1 line parts it".to_owned(),
            n => format!("; {n} lines part it"),
        };
        let gaps = if narrow == 1 { "1 gap".to_owned() } else { format!("{narrow} gaps") };
        lines.push(format!(
            "weeding: pull the waste from its widest place; it tears at {gaps} narrower than 1.5 mm{lines_cut}"
        ));
    }
    if panel.part.is_some_and(|p| p.of > 1) {
        lines.push(format!(
            "take the films up onto one carrier by the same marks, each within {}, in this order:",
            asked.on_carrier
        ));
    }
    lines.extend(parts.iter().filter(|p| p.part.is_some()).map(|p| {
        let name = &plan.job().films[p.film.0].name;
        let nth = p.part.map_or(1, |p| p.nth);
        format!("{nth}. {name}: {} pieces from sheet {}", p.members.len(), sheet(plan, p))
    }));
    lines
}

/// Height rings, and the line up the wall through the middle.
fn wall(plan: &Verified, panel: &Panel, home: &Rigid<Plane, Page>) -> Group {
    let scale = RingScale::of(plan.job().unit);
    let b = panel.carrier.bounds();
    let d = &plan.cup().zones[panel.zone].development;
    let mut wall =
        Group::new("wall", format!("{}, and the line up the wall through the middle", scale.title()));
    let wide = Angle::radians((b.width().0 / 2.0 + EDGE / 2.0) / d.radius(panel.middle.slant).0);
    let on = |azimuth: Angle, slant: Mm| {
        let p = home.apply(d.develop(WallPoint { azimuth, slant }));
        (p.x, p.y)
    };
    let (low, high) = (panel.middle.slant + Mm(b.min.y), panel.middle.slant + Mm(b.max.y));
    let step = scale.step();
    for i in (low / step).ceil().max(0.0) as usize..=(high / step).floor().max(0.0) as usize {
        let slant = scale.slant(i);
        let at = |k: usize| panel.middle.azimuth + wide * (2.0 * k as f64 / STEPS as f64 - 1.0);
        for k in 0..STEPS {
            wall.stroke(segment(on(at(k), slant), on(at(k + 1), slant)), Stroke::solid(TINT, 0.2));
        }
        let (x, y) = on(at(STEPS), slant);
        wall.text(&Text::new(&scale.name(i), 2.2).colour(QUIET), (x + 0.6, y - 0.8));
    }
    let up = segment(on(panel.middle.azimuth, low), on(panel.middle.azimuth, high));
    wall.stroke(up, Stroke { colour: QUIET, width: 0.2, dash: Dash::Chain });
    wall
}

/// Pieces with their numbers, kept off the marks; of several films each has the hatch that it has on the map.
fn pieces(plan: &Verified, panel: &Panel, home: &Rigid<Plane, Page>, marks: &Group) -> Group {
    let d = &plan.cup().zones[panel.zone].development;
    let mut pieces = Group::new("pieces", "Pieces as they lie on the wall, with their numbers");
    let mut items = Vec::new();
    let parts = plan.panels().parts(panel);
    for m in parts.iter().flat_map(|p| &p.members) {
        let piece = plan.piece(m.number);
        let pose = piece.pose.then(&d.turned(m.turns)).then(home);
        let line = match panel.part {
            Some(_) => film_mark::outline(piece.film),
            None => Stroke::solid(INK, 0.2),
        };
        let mark = pieces.stroke(gathered(&piece.outline.moved(&pose)), line);
        mark.id = Some(outline_id(m.number));
        items.push(Item { ink: INK, ..Item::of(plan, piece, &pose, FLATTEN) });
    }
    let mut field = Field::new(0.0);
    marks.marks.iter().for_each(|m| field.keep_off(&m.path, 0.3));
    let numbers = placed(&items, &fits(&items, CAPS), CAPS, &mut field);
    if panel.part.is_some() {
        let films = parts.iter().flat_map(|p| p.members.iter().map(|_| p.film));
        for ((item, number), film) in items.iter().zip(&numbers).zip(films) {
            let lines = film_mark::hatch(film, &item.seen, Some(number.keep_out()));
            pieces.stroke(lines, film_mark::hatch_stroke(film));
        }
    }
    numbers.iter().for_each(|n| n.draw(&mut pieces, false));
    pieces
}

/// Marks; the two that it is laid by are ringed.
fn marks(plan: &Verified, panel: &Panel, home: &Rigid<Plane, Page>) -> Group {
    let d = &plan.cup().zones[panel.zone].development;
    let mut marks = Group::new("marks", "Marks to trace onto the carrier; the first two are ringed");
    for (i, (mark, turns)) in panel.marks.iter().enumerate() {
        marks.stroke(gathered(&mark.outline(d, *turns).moved(home)), Stroke::solid(INK, 0.3));
        if i < 2 {
            let at = home.apply(mark.middle(d, *turns));
            marks.stroke(gathered(&Region::disc(at, Mm(2.4))), Stroke::solid(INK, 0.2));
        }
    }
    marks
}

/// Lines of text under a height; those of gathered films, the last, each behind a patch of its hatch.
fn heading(plan: &Verified, panel: &Panel, lines: &[String], height: f64) -> Group {
    let parts = plan.panels().parts(panel);
    let mut head = Group::new("heading", "What it is and where it goes");
    let swatches = if panel.part.is_some() { lines.len() - parts.len() } else { lines.len() };
    for (i, line) in lines.iter().enumerate() {
        let t = Text::new(line, if i == 0 { 4.2 } else { 2.8 });
        let y = height - 8.0 - LINE * i as f64;
        let x = if i >= swatches { EDGE + SWATCH[0] + 2.0 } else { EDGE };
        head.text(&if i == 0 { t.bold() } else { t }, (x, y));
        if let Some(part) = i.checked_sub(swatches).map(|k| parts[k]) {
            let (right, low, high) = (EDGE + SWATCH[0], y - 0.6, y + SWATCH[1]);
            let swatch = Region::<Page>::polygon(&[[EDGE, low], [right, low], [right, high], [EDGE, high]]);
            head.stroke(gathered(&swatch), film_mark::outline(part.film));
            let hatch = film_mark::hatch(part.film, &swatch.flat(FLATTEN), None);
            head.stroke(hatch, film_mark::hatch_stroke(part.film));
        }
    }
    head
}

/// The paper of a panel.
pub fn drawing(plan: &Verified, panel: &Panel) -> Drawing {
    let to = place(panel);
    let b = panel.carrier.bounds();
    let home: Rigid<Plane, Page> = panel.pose.inverse().then(&to);
    let marks = marks(plan, panel, &home);
    let pieces = pieces(plan, panel, &home, &marks);
    let mut carrier = Group::new("carrier", "The edge of the carrier");
    carrier.stroke(
        gathered(&panel.carrier.moved(&to)),
        Stroke { colour: QUIET, width: 0.25, dash: Dash::Dashed },
    );
    let lines: Vec<String> = words(plan, panel).iter().map(|l| said(plan.job().unit, l)).collect();
    let head_high = HEAD + LINE * lines.len().saturating_sub(3) as f64;
    let width = (b.width().0 + 2.0 * EDGE).max(NARROWEST);
    let height = b.height().0 + 2.0 * EDGE + 8.0 + head_high;
    let head = heading(plan, panel, &lines, height);
    let mut bar = Group::new("bar", "A bar of 50 mm");
    bar.stroke(size_bar((EDGE, 6.0), 50.0, false, 1.5), Stroke::solid(INK, 0.2));
    bar.text(&Text::new("50 mm", 2.2).anchor(Anchor::Start), (EDGE + 52.0, 5.2));
    let film = match panel.part {
        Some(_) => GATHERED,
        None => plan.job().films[panel.film.0].name.as_str(),
    };
    Drawing {
        title: format!("{}: {film} panel {}", plan.job().title, panel.number),
        message: lines.join(". "),
        width,
        height,
        groups: vec![wall(plan, panel, &home), carrier, pieces, marks, bar, head],
    }
}
