//! The map in zones: an eighth of the wall each, its quarter line upright, drawn large enough for every
//! number.
//!
//! Imports: base, outline, read::job, make::{cup, piece, verify}, write::{ink, template, map}, write::map::rows.

use super::COARSE;
use super::rows::{MapZone, Part, Row, by_zone};
use crate::base::frame::{Art, Page, Point, Rigid};
use crate::base::units::{Angle, Mm};
use crate::make::cup::Cup;
use crate::make::piece::{Kind, Piece};
use crate::make::verify::Verified;
use crate::outline::{BezPath, Bounds, Region};
use crate::read::job::Rgb;
use crate::write::ink::drawing::{Dash, Drawing, Group, INK, QUIET, Stroke, TINT, Text, gathered};
use crate::write::ink::film_mark;
use crate::write::ink::label::{Label, Roomiest, fitting, seen};
use crate::write::ink::letters::Anchor;
use crate::write::template::band::Band;
use crate::write::template::lines::{Strip, ring_numbers, strips};
use crate::write::template::wrap::handles;
use rayon::prelude::*;
use std::cmp::Reverse;

/// Numbers smaller than this (em, mm) cannot be read at arm's length: common practice, no source.
const LEGIBLE: f64 = 1.9;
/// Sizes of numbers in a zone: in print, and on the page, where a zone fills a narrow screen at about three
/// pixels a millimetre.
const SIZES: (f64, f64) = (2.3, 3.6);
/// The same on the page, where a zone is shown larger.
pub const ON_SCREEN: (f64, f64) = (3.3, 4.6);
/// Ink of the rings.
const GRID: Rgb = Rgb([0xdc, 0xd6, 0xcd]);
/// Shown round a zone.
const ROUND: f64 = 4.0;

/// Does any piece lack the room for a number that can be read at true size?
pub fn crowded(plan: &Verified, places: &[Roomiest<Art>]) -> bool {
    plan.pieces()
        .iter()
        .zip(places)
        .filter(|(p, _)| p.kind != Kind::Base)
        .any(|(p, r)| fitting(&p.number.to_string(), r.radius) < LEGIBLE)
}

/// A zone with what is seen in it, on a window of its own.
pub struct Window<'a> {
    /// Which.
    pub zone: MapZone,
    /// The wall's zone that it lies on.
    pub of_wall: usize,
    /// Rows of its pieces.
    pub rows: Vec<&'a Row>,
    /// The wall, the zone's quarter line upright.
    pub band: Band,
    /// Width and height, mm at true size.
    pub size: (f64, f64),
    /// Its pieces where they lie.
    pub own: Vec<Shown<'a>>,
    /// Pieces of other zones that show.
    pub near: Vec<Region<Page>>,
}

/// A piece in a window.
pub struct Shown<'a> {
    /// The piece.
    pub piece: &'a Piece,
    /// Its outline.
    pub outline: Region<Page>,
    /// Lines of its film's hatch, kept off its number.
    pub hatch: BezPath,
    /// Middle of the largest circle in it.
    pub at: Point<Page>,
    /// That circle's radius.
    pub radius: f64,
}

impl Shown<'_> {
    /// Its number, of a size within limits.
    pub fn label(&self, sizes: (f64, f64)) -> Label {
        Label::new(self.piece.number, self.at, self.radius, sizes)
    }
}

/// All zones that have pieces.
pub fn windows<'a>(plan: &'a Verified, rows: &'a [Row], places: &[Roomiest<Art>]) -> Vec<Window<'a>> {
    by_zone(rows).into_par_iter().map(|(zone, list)| window(plan, zone, list, places)).collect()
}

/// Lowest and highest slant of a zone, and the wall's zone that it lies on.
fn heights(zone: MapZone, cup: &Cup) -> (Mm, Mm, usize) {
    let wall = cup.wall();
    match zone.part {
        Part::Upper => (wall * 0.5, wall, 0),
        Part::Lower => (Mm::ZERO, wall * 0.5, 0),
        Part::Zone(Reverse(i)) => (cup.zones[i].low, cup.zones[i].high, i),
    }
}

fn window<'a>(plan: &'a Verified, zone: MapZone, rows: Vec<&'a Row>, places: &[Roomiest<Art>]) -> Window<'a> {
    let (low, high, of_wall) = heights(zone, plan.cup());
    let mut band = Band::facing(&plan.cup().zones[of_wall], zone.line());
    let eighth = Angle::degrees(45.0);
    let mut bounds = Bounds::<Page>::EMPTY;
    for slant in [low, high] {
        for part in [-1.0, 0.0, 1.0] {
            let p = band.at(zone.line() + eighth * part, slant);
            bounds = bounds.with(p.x, p.y);
        }
    }
    let place = |p: &Piece, band: &Band| -> Rigid<Art, Page> { band.place(&p.pose) };
    let numbers: Vec<u32> = rows.iter().map(|r| r.number).collect();
    for &n in &numbers {
        bounds = bounds.joined(&plan.piece(n).outline.moved(&place(plan.piece(n), &band)).bounds());
    }
    let bounds = bounds.grown(Mm(ROUND));
    band.shift(-bounds.min.x, -bounds.min.y);
    let size = (bounds.width().0, bounds.height().0);
    let page = Bounds { min: Point::mm(0.0, 0.0), max: Point::mm(size.0, size.1) };
    let (mut own, mut near) = (Vec::new(), Vec::new());
    for p in plan.on_wall().filter(|p| p.zone == of_wall) {
        let pose = place(p, &band);
        let at = pose.apply(places[p.number as usize - 1].at);
        if numbers.contains(&p.number) {
            let radius = places[p.number as usize - 1].radius;
            let number = Label::new(p.number, at, radius, ON_SCREEN);
            let flat = seen(plan, p).moved(&pose).flat(COARSE);
            let hatch = film_mark::hatch(p.film, &flat, Some(number.keep_out()));
            own.push(Shown { piece: p, outline: p.outline.moved(&pose), hatch, at, radius });
        } else if page
            .grown(p.outline.bounds().width().max(p.outline.bounds().height()))
            .distance(&Bounds { min: at, max: at })
            .0
            <= 0.0
        {
            let outline = p.outline.moved(&pose);
            if outline.bounds().distance(&page).0 <= 0.0 {
                near.push(outline);
            }
        }
    }
    Window { zone, of_wall, rows, band, size, own, near }
}

impl Window<'_> {
    /// Rings, quarter lines and bands: what heights and distances are read from.
    pub fn ground(&self, plan: &Verified) -> Group {
        let (band, wall) = (&self.band, &plan.cup().zones[self.of_wall]);
        let mut g = Group::new("ground", "Rings every 10 mm up, the quarter line, keep-clear bands");
        let (left, right) = (band.middle - Angle::degrees(75.0), band.middle + Angle::degrees(75.0));
        for Strip { low, high, .. } in strips(plan, wall) {
            let strip = band.development().band(left, right, low, high).moved(&band.to_page);
            for c in strip.into_contours() {
                g.fill(c, TINT);
            }
        }
        handles(&mut g, &wall.zone, band, (left, right));
        for i in ring_numbers(band) {
            let slant = Mm(10.0 * i as f64);
            let width = if i % 5 == 0 { 0.25 } else { 0.12 };
            g.stroke(band.parallel(slant, left, right), Stroke::solid(GRID, width));
            let p = band.at(band.middle, slant);
            let label = (10 * i).to_string();
            let t = Text::new(&label, 1.9).anchor(Anchor::End).colour(QUIET);
            if p.y > 0.0 && p.y < self.size.1 - 2.0 {
                g.text(&t, (p.x - 0.6, p.y + 0.4));
            }
        }
        for slant in [band.low, band.wall] {
            g.stroke(band.parallel(slant, left, right), Stroke::solid(INK, 0.3));
        }
        let dash = if self.zone.quarter == 0 { Dash::Chain } else { Dash::Dashed };
        g.stroke(
            band.generator(band.middle, band.low, band.wall),
            Stroke { colour: QUIET, width: 0.25, dash },
        );
        for eighth in [-45.0, 45.0] {
            let line = band.generator(band.middle + Angle::degrees(eighth), band.low, band.wall);
            g.stroke(line, Stroke { colour: QUIET, width: 0.15, dash: Dash::Dotted });
        }
        g
    }
    /// The window as a drawing: hatch as lines, numbers with a rim of paper.
    pub fn drawing(&self, plan: &Verified) -> Drawing {
        let mut pieces = Group::new("pieces", "Pieces of the zone, and in grey those of others");
        for r in &self.near {
            pieces.stroke(gathered(r), Stroke::solid(QUIET, 0.15));
        }
        let mut numbers = Group::new("numbers", "Numbers");
        for s in &self.own {
            let (film, label) = (s.piece.film, s.label(SIZES));
            pieces.stroke(s.hatch.clone(), film_mark::hatch_stroke(film));
            pieces.stroke(gathered(&s.outline), film_mark::outline(film));
            label.draw_rimmed(&mut numbers);
        }
        Drawing {
            title: self.zone.name(),
            message: String::new(),
            width: self.size.0,
            height: self.size.1,
            groups: vec![self.ground(plan), pieces, numbers],
        }
    }
}
