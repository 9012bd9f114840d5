//! Pictures of the sheets with their numbers, and of the findings with the places marked.
//!
//! Imports: base, outline, read::job, make::{piece, film, verify}, write::{ink, cut, papers, template, view}.

use crate::base::diag::{Diagnostic, Step};
use crate::base::frame::{Art, Page, Point, Rigid};
use crate::base::units::{Angle, Mm};
use crate::make::film::SheetLayout;
use crate::make::piece::{Kind, Piece};
use crate::make::verify::Verified;
use crate::outline::Bounds;
use crate::read::job::Rgb;
use crate::write::cut::sheet;
use crate::write::ink::drawing::{
    Drawing, Group, INK, PAPER, QUIET, Stroke, TINT, Text, gathered, rectangle,
};
use crate::write::ink::film_mark;
use crate::write::ink::label::{self, Label, Roomiest};
use crate::write::ink::letters::{self, Anchor};
use crate::write::ink::png::{self, Trouble};
use crate::write::papers::{Figure, Ink};
use crate::write::template::band::{Band, bands};
use crate::write::template::lines::{Strip, strips};
use crate::write::template::wrap::handles;
use crate::write::view::raster;

/// Pixels a millimetre of sheet and wall on the page.
const SHEET_PX: f64 = 3.2;
const WALL_PX: f64 = 3.2;
/// Sizes of numbers on a sheet.
const SIZES: (f64, f64) = (2.2, 5.0);
const RED: Rgb = Rgb([0xb0, 0x1c, 0x12]);

/// A colour let down with white until dark numbers can be read on it.
fn pale(Rgb(c): Rgb) -> Rgb {
    Rgb(c.map(|v| (f64::from(v) * 0.28 + 255.0 * 0.72) as u8))
}

/// A drawing as a figure; none if there is nothing to see.
///
/// # Errors
/// What the PNG encoder says.
pub fn figure(
    d: Drawing,
    per_mm: f64,
    alt: String,
    caption: String,
    wide: f64,
) -> Result<Option<Figure>, Trouble> {
    let Some(p) = raster::picture(&d, per_mm) else { return Ok(None) };
    Ok(Some(Figure {
        png: png::flat(p.width, p.height, &p.rgba)?,
        size: (p.width, p.height),
        alt,
        caption,
        wide,
        ink: Ink::marks(&d),
    }))
}

/// A sheet as it is cut, each piece with its number.
///
/// # Errors
/// What the PNG encoder says.
pub fn sheet(plan: &Verified, s: &SheetLayout, places: &[Roomiest<Art>]) -> Result<Option<Figure>, Trouble> {
    let film = &plan.job().films[s.film.0];
    let mut g = Group::new("sheet", "Pieces with their numbers");
    let edge = Stroke::solid(QUIET, 0.4);
    g.mark(rectangle(0.2, 0.2, s.width.0 - 0.2, s.height.0 - 0.2), Some(PAPER), Some(edge));
    let mut numbers = Group::new("numbers", "");
    for p in &s.placed {
        let outline = p.cuts.clone().reframed::<Page>();
        g.mark(gathered(&outline), Some(pale(film.colour)), Some(film_mark::outline(s.film)));
        let own = label::place_at(plan, p, places);
        let on = s.shown(own.at, &p.pose);
        let at = Point::mm(on.x, on.y);
        Label::worded(sheet::shown(p), at, own.radius, SIZES).draw_rimmed(&mut numbers);
    }
    let name = sheet::sheet_name(plan, s);
    let spares = s.placed.iter().filter(|p| p.spare).count();
    let caption = format!(
        "{name}: {:.0} x {:.0} mm, {} pieces{}{}",
        s.width.0,
        s.height.0,
        s.placed.len(),
        if spares > 0 { format!(", {spares} of them spares") } else { String::new() },
        if s.mirrored { "; mirrored, seen from the back of the film as it is cut" } else { "" },
    );
    let caption = sheet::repeats(s).map_or(caption.clone(), |r| format!("{caption}. {r}"));
    let d = Drawing {
        title: name.clone(),
        message: String::new(),
        width: s.width.0,
        height: s.height.0,
        groups: vec![g, numbers],
    };
    figure(d, SHEET_PX, format!("Sheet {name} with the number of every piece"), caption, 86.0)
}

/// Where on the wall a finding is.
#[derive(Clone, Debug, PartialEq)]
pub enum Place {
    /// Pieces by their numbers.
    Pieces(Vec<u32>),
    /// A ring at a height along the wall.
    Ring(Mm),
}

/// The places that a finding's key path leads to; none if it is about the job as a whole.
pub fn place(plan: &Verified, d: &Diagnostic) -> Option<Place> {
    let step = |i: usize| d.at.0.get(i);
    let (Some(Step::Key(section)), at) = (step(0), step(1)) else { return None };
    let index = match at {
        Some(Step::Index(i)) => Some(*i),
        _ => None,
    };
    let numbers = |of: &dyn Fn(&Piece) -> bool| {
        let list: Vec<u32> = plan.pieces().iter().filter(|p| of(p)).map(|p| p.number).collect();
        (!list.is_empty()).then_some(Place::Pieces(list))
    };
    match (section.as_str(), index) {
        ("motif", Some(i)) => {
            let pose = match (step(2), step(3)) {
                (Some(Step::Key(k)), Some(Step::Index(n))) if k == "poses" => Some(*n),
                _ => None,
            };
            numbers(
                &|p| matches!(p.kind, Kind::Motif { motif, copy } if motif == i && pose.is_none_or(|n| n == copy)),
            )
        }
        ("accent", Some(i)) => {
            numbers(&|p| matches!(p.kind, Kind::Spot { accent } | Kind::Tint { accent, .. } if accent == i))
        }
        ("decal", Some(i)) => numbers(&|p| matches!(p.kind, Kind::Layer { decal, .. } if decal == i)),
        ("cup", None) if matches!(at, Some(Step::Key(k)) if k == "rings") => match step(2) {
            Some(Step::Index(i)) => {
                plan.job().cup.rings.iter().find(|r| r.place == *i).map(|r| Place::Ring(r.slant))
            }
            _ => plan.cup().readings.bow.map(|b| Place::Ring(b.at)),
        },
        _ => None,
    }
}

/// A finding that has a place: its letter in the list and where.
pub struct Marked {
    /// A, B, ...
    pub letter: String,
    /// Where.
    pub place: Place,
}

/// The wall with the places of the findings marked; nothing if none has a place.
///
/// # Errors
/// What the PNG encoder says.
pub fn findings(
    plan: &Verified,
    marked: &[Marked],
    places: &[Roomiest<Art>],
) -> Result<Option<Figure>, Trouble> {
    if marked.is_empty() {
        return Ok(None);
    }
    let cup = plan.cup();
    let bands = bands(cup, Mm::ZERO, Point::mm(8.0, 8.0));
    let mut g = Group::new("wall", "");
    for (zone, band) in cup.zones.iter().zip(&bands) {
        for Strip { low, high, .. } in strips(plan, zone) {
            for c in band.strip(low, high).into_contours() {
                g.fill(c, TINT);
            }
        }
        handles(&mut g, &zone.zone, band, band.ends());
        for c in band.outline().into_contours() {
            g.stroke(c, Stroke::solid(INK, 0.4));
        }
    }
    let pose = |p: &Piece| -> Rigid<Art, Page> { bands[p.zone].place(&p.pose) };
    for p in plan.on_wall() {
        g.stroke(gathered(&p.outline.moved(&pose(p))), Stroke::solid(QUIET, 0.2));
    }
    let mut marks = Group::new("marks", "");
    for m in marked {
        match &m.place {
            Place::Pieces(numbers) => {
                for p in numbers.iter().map(|&n| plan.piece(n)).filter(|p| p.kind != Kind::Base) {
                    let n = p.number;
                    let there = p.outline.moved(&pose(p));
                    g.mark(gathered(&there), Some(Rgb([0xf6, 0xd9, 0xd4])), Some(Stroke::solid(RED, 0.4)));
                    let Some(own) = plan.place_of(n).map(|i| places[i]) else { continue };
                    let at = pose(p).apply(own.at);
                    tag(&mut marks, &format!("{} {n}", m.letter), (at.x, at.y));
                }
            }
            Place::Ring(slant) => {
                let band = &bands[cup.zone_at(*slant)];
                let (left, right) = band.ends();
                g.stroke(band.parallel(*slant, left, right), Stroke::solid(RED, 0.8));
                for part in [-0.4, 0.0, 0.4] {
                    let at = band.at(band.middle + Angle::TURN * part, *slant);
                    tag(&mut marks, &m.letter, (at.x, at.y));
                }
            }
        }
    }
    let all = bands.iter().map(Band::bounds);
    let b = all.reduce(|a, b| a.joined(&b)).unwrap_or(Bounds::EMPTY);
    let d = Drawing {
        title: "findings".to_owned(),
        message: String::new(),
        width: b.max.x + 8.0,
        height: b.max.y + 8.0,
        groups: vec![g, marks],
    };
    let letters: Vec<&str> = marked.iter().map(|m| m.letter.as_str()).collect();
    let alt = format!("The wall rolled out with the places of the findings {}", letters.join(", "));
    figure(d, WALL_PX, alt, "Letters as in the list; numbers are those of the pieces.".to_owned(), 170.0)
}

/// A short word on a plate of its own.
fn tag(g: &mut Group, message: &str, at: (f64, f64)) {
    let size = 3.4;
    let half = letters::width(letters::Face::Bold, size, message) / 2.0 + 0.9;
    let plate = rectangle(at.0 - half, at.1 - 2.1, at.0 + half, at.1 + 2.1);
    g.mark(plate, Some(PAPER), Some(Stroke::solid(RED, 0.35)));
    g.text(&Text::new(message, size).bold().anchor(Anchor::Middle).colour(RED), (at.0, at.1 - size * 0.357));
}
