//! The template of the base: the disc at true size with its parts, the middle, and which way is the front.
//!
//! Imports: base, outline, make::{finish, verify}, write::ink.

use crate::base::frame::{Art, Page, Point, Rigid};
use crate::base::units::{Angle, Mm};
use crate::make::finish::BaseDisc;
use crate::make::finish::disc::DiscPart;
use crate::make::verify::Verified;
use crate::outline::{BezPath, Region};
use crate::write::ink::drawing::{Dash, Drawing, Group, INK, QUIET, Stroke, Text, segment, size_bar};
use crate::write::ink::film_mark;
use crate::write::ink::letters::{self, Anchor};

/// Path of the template within the kit.
pub const FILE: &str = "template/base.svg";

const EDGE: f64 = 8.0;
const FOOT: f64 = 34.0;

/// Id of a part's outline.
pub fn part_id(part: &DiscPart) -> String {
    format!("base-{}", part.name)
}

/// The template and where the middle of the base lies on it.
pub fn drawing(plan: &Verified, disc: &BaseDisc) -> (Drawing, Point<Page>) {
    let across = disc.across.0;
    let width = (across + 2.0 * EDGE + 24.0).max(150.0);
    let at = Point::mm(width / 2.0, EDGE + FOOT + across / 2.0);
    let height = at.y + across / 2.0 + 14.0;
    let groups = vec![guides(disc, at), parts(plan, disc, at), foot(plan, disc, width)];
    let title = format!("{}: base template", plan.job().title);
    let message = format!("{} Seen from below, the front of the cup up.", sizes(disc));
    (Drawing { title, message, width, height, groups }, at)
}

fn sizes(disc: &BaseDisc) -> String {
    let from = if disc.measured { "as measured" } else { "from the girth of the wall at its base edge" };
    let mut text = format!("Base {:.1} across ({from}), disc {:.1}", disc.across, disc.disc);
    if disc.ring_inner > Mm::ZERO {
        text += &format!(", ring {:.1} inside, centre {:.1}", disc.ring_inner, disc.centre);
    }
    text + "."
}

fn guides(disc: &BaseDisc, at: Point<Page>) -> Group {
    let mut g = Group::new("guides", "The flat of the base, its middle, and which way is the front");
    let edge = Region::<Page>::disc(at, disc.across * 0.5);
    for c in edge.into_contours() {
        g.stroke(c, Stroke { colour: INK, width: 0.25, dash: Dash::Dashed });
    }
    let reach = disc.across.0 / 2.0 + 3.0;
    let line = Stroke { colour: QUIET, width: 0.2, dash: Dash::Chain };
    g.stroke(segment((at.x - reach, at.y), (at.x + reach, at.y)), line);
    g.stroke(segment((at.x, at.y - reach), (at.x, at.y + reach)), line);
    g.text(&Text::new("FRONT", 3.2).bold().anchor(Anchor::Middle), (at.x, at.y + reach + 1.2));
    g
}

fn parts(plan: &Verified, disc: &BaseDisc, at: Point<Page>) -> Group {
    let mut g = Group::new("parts", "Outlines of ring, centre and mark as they are cut");
    let home: Rigid<Art, Page> = Rigid::new(Angle::ZERO, at);
    for part in &disc.parts {
        let there = part.outline.moved(&home);
        let whole: BezPath = there.contours().iter().flat_map(|c| c.elements().iter().copied()).collect();
        let stroke = part.film.map_or(Stroke::solid(INK, 0.3), film_mark::outline);
        g.stroke(whole, stroke).id = Some(part_id(part));
    }
    // Numbers beside the disc, each with a line to its part.
    for (i, part) in disc.parts.iter().enumerate() {
        let radius = match part.name {
            "ring" => (disc.disc + disc.ring_inner).0 / 4.0,
            "centre" => disc.centre.0 / 2.0 - 1.5,
            _ => 0.0,
        };
        let angle = Angle::degrees(38.0 - 26.0 * i as f64);
        let (c, s) = (angle.cos(), angle.sin());
        let out = disc.across.0 / 2.0 + 4.0;
        g.stroke(
            segment((at.x + c * radius, at.y + s * radius), (at.x + c * out, at.y + s * out)),
            Stroke::solid(INK, 0.15),
        );
        let words = match part.film {
            Some(film) => format!("{} {}, {}", part.number, part.name, plan.job().films[film.0].name),
            None if part.name == "mark" => "mark, printed".to_owned(),
            None => format!("{}, not of film", part.name),
        };
        g.text(&Text::new(&words, 2.8), (at.x + c * out + 1.0, at.y + s * out - 1.0));
    }
    g
}

fn foot(plan: &Verified, disc: &BaseDisc, width: f64) -> Group {
    let mut g = Group::new("foot", "Title, sizes and bars");
    let stroke = Stroke::solid(INK, 0.3);
    g.stroke(size_bar((EDGE, EDGE), 100.0, false, 4.0), stroke);
    g.text(&Text::new("100 mm in print; \"fit to page\" spoils the size", 2.4), (EDGE + 3.0, EDGE + 2.2));
    let x = EDGE;
    let title = letters::broken(letters::Face::Bold, 4.6, &plan.job().title, width - x - EDGE);
    g.text(&Text::new(title.first().map_or("", String::as_str), 4.6).bold(), (x, EDGE + 24.0));
    let mut y = EDGE + 18.0;
    let words = format!("base template at true size, seen from below. {}", sizes(disc));
    for l in letters::broken(letters::Face::Regular, 2.8, &words, width - x - EDGE).iter().take(3) {
        g.text(&Text::new(l, 2.8), (x, y));
        y -= 4.2;
    }
    g
}
