//! The paper of each panel at 1:1: its carrier is laid on it, and the marks are traced.
//!
//! Imports: base, outline, read::job, make::{cup, panel, verify}, write::ink.

use crate::base::frame::{Art, Page, Point, Rigid};
use crate::base::units::{Angle, Mm};
use crate::make::cup::WallPoint;
use crate::make::panel::Panel;
use crate::make::verify::{CutPlan, Verified};
use crate::read::job::Paper;
use crate::write::ink::drawing::{
    Dash, Drawing, Group, INK, QUIET, Stroke, TINT, Text, gathered, segment, size_bar,
};
use crate::write::ink::label::{Label, Roomiest};
use crate::write::ink::letters::Anchor;

/// Paper round the carrier, and the lines of text over it.
const EDGE: f64 = 10.0;
const HEAD: f64 = 24.0;
/// Least width, for the text.
const NARROWEST: f64 = 150.0;
/// Sizes of numbers.
const SIZES: (f64, f64) = (1.5, 3.4);
/// Steps of a height ring across a panel.
const STEPS: usize = 24;

/// Path of a panel's paper within the kit.
pub fn file_name(plan: &Verified, panel: &Panel) -> String {
    format!("panels/{}-{}.svg", plan.job().films[panel.film.0].name, panel.number)
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

/// Where a panel is laid, what it is laid by, and what it needs, in a line each.
pub fn words(plan: &Verified, panel: &Panel) -> Vec<String> {
    let film = &plan.job().films[panel.film.0];
    let sheets = plan
        .sheets()
        .iter()
        .filter(|s| s.placed.iter().any(|p| p.number == panel.members[0].number && !p.spare));
    let sheet = sheets.map(|s| plan.sheet_name(s)).next().unwrap_or_default();
    let zone = &plan.cup().zones[panel.zone];
    let round = zone.development.radius(panel.middle.slant) * panel.middle.azimuth.wrapped().rad();
    let side = if round < Mm::ZERO { "left" } else { "right" };
    let mut lines = vec![
        format!("{} panel {}: {} pieces, from sheet {sheet}", film.name, panel.number, panel.members.len()),
        format!(
            "middle {:.1} up the wall, {:.1} to the {side} of the front line; {:.1} along the ring by {:.1} up",
            panel.middle.slant,
            round.abs(),
            panel.size[0],
            panel.size[1]
        ),
    ];
    lines.push(match panel.off {
        Some(off) => format!(
            "lay it by its first two marks (ringed): with both within {} no point is more than {off:.2} off",
            film.cut.lay.panel.read
        ),
        None => "no room for two marks: lay it by eye, from this paper".to_owned(),
    });
    lines
}

/// The paper of a panel; `room` says where a piece has most room for its number.
pub fn drawing(plan: &Verified, panel: &Panel, places: &[Roomiest<Art>]) -> Drawing {
    let to = place(panel);
    let b = panel.carrier.bounds();
    let d = &plan.cup().zones[panel.zone].development;
    let home: Rigid<crate::base::frame::Plane, Page> = panel.pose.inverse().then(&to);
    let mut wall =
        Group::new("wall", "Height rings every 10 mm, and the line up the wall through the middle");
    let wide = Angle::radians((b.width().0 / 2.0 + EDGE / 2.0) / d.radius(panel.middle.slant).0);
    let on = |azimuth: Angle, slant: Mm| {
        let p = home.apply(d.develop(WallPoint { azimuth, slant }));
        (p.x, p.y)
    };
    let (low, high) = (panel.middle.slant + Mm(b.min.y), panel.middle.slant + Mm(b.max.y));
    for i in (low.0 / 10.0).ceil() as i32..=(high.0 / 10.0).floor() as i32 {
        let slant = Mm(10.0 * f64::from(i));
        let at = |k: usize| panel.middle.azimuth + wide * (2.0 * k as f64 / STEPS as f64 - 1.0);
        for k in 0..STEPS {
            wall.stroke(segment(on(at(k), slant), on(at(k + 1), slant)), Stroke::solid(TINT, 0.2));
        }
        let (x, y) = on(at(STEPS), slant);
        wall.text(&Text::new(&format!("{}", 10 * i), 2.2).colour(QUIET), (x + 0.6, y - 0.8));
    }
    let up = segment(on(panel.middle.azimuth, low), on(panel.middle.azimuth, high));
    wall.stroke(up, Stroke { colour: QUIET, width: 0.2, dash: Dash::Chain });
    let mut pieces = Group::new("pieces", "Pieces as they lie on the wall, with their numbers");
    for m in &panel.members {
        let piece = plan.piece(m.number);
        let pose = piece.pose.then(&d.turned(m.turns)).then(&home);
        let mark = pieces.stroke(gathered(&piece.outline.moved(&pose)), Stroke::solid(INK, 0.2));
        mark.id = Some(outline_id(m.number));
        let Some(room) = plan.place_of(m.number).map(|i| &places[i]) else { continue };
        Label::new(m.number, pose.apply(room.at), room.radius, SIZES).draw(&mut pieces);
    }
    let mut marks = Group::new("marks", "Marks to trace onto the carrier; the first two are ringed");
    for (i, (mark, turns)) in panel.marks.iter().enumerate() {
        marks.stroke(gathered(&mark.outline(d, *turns).moved(&home)), Stroke::solid(INK, 0.3));
        if i < 2 {
            let at = home.apply(mark.middle(d, *turns));
            marks.stroke(gathered(&crate::outline::Region::disc(at, Mm(2.4))), Stroke::solid(INK, 0.2));
        }
    }
    let mut carrier = Group::new("carrier", "The edge of the carrier");
    carrier.stroke(
        gathered(&panel.carrier.moved(&to)),
        Stroke { colour: QUIET, width: 0.25, dash: Dash::Dashed },
    );
    let (width, height) = ((b.width().0 + 2.0 * EDGE).max(NARROWEST), b.height().0 + 2.0 * EDGE + 8.0 + HEAD);
    let mut head = Group::new("heading", "What it is and where it goes");
    let lines = words(plan, panel);
    for (i, line) in lines.iter().enumerate() {
        let t = Text::new(line, if i == 0 { 4.2 } else { 2.8 });
        head.text(&if i == 0 { t.bold() } else { t }, (EDGE, height - 8.0 - 5.0 * i as f64));
    }
    let mut bar = Group::new("bar", "A bar of 50 mm");
    bar.stroke(size_bar((EDGE, 6.0), 50.0, false, 1.5), Stroke::solid(INK, 0.2));
    bar.text(&Text::new("50 mm", 2.2).anchor(Anchor::Start), (EDGE + 52.0, 5.2));
    Drawing {
        title: format!(
            "{}: {} panel {}",
            plan.job().title,
            plan.job().films[panel.film.0].name,
            panel.number
        ),
        message: lines.join(". "),
        width,
        height,
        groups: vec![wall, carrier, pieces, marks, bar, head],
    }
}
