//! The map in zones: an eighth of the wall each, its quarter line upright, drawn large enough for every
//! number.
//!
//! Imports: base, outline, read::job, make::{cup, piece, verify}, write::{ink, template, map}, write::map::{rows,
//! passes}.

use super::COARSE;
use super::passes::{self, Pass, by_zone};
use super::rows::{MapZone, Part, Row};
use crate::base::frame::{Art, Page, Point, Rigid};
use crate::base::units::{Angle, Mm};
use crate::make::cup::Cup;
use crate::make::piece::Piece;
use crate::make::verify::Verified;
use crate::outline::{BezPath, Bounds, Region};
use crate::read::job::Rgb;
use crate::write::ink::drawing::{Dash, Drawing, Group, INK, QUIET, Stroke, TINT, Text, Words, gathered};
use crate::write::ink::film_mark;
use crate::write::ink::label::Label;
use crate::write::ink::letters::Anchor;
use crate::write::ink::numbers::{self, Caps, Item, Placed};
use crate::write::ink::place::{Field, Quad};
use crate::write::template::band::Band;
use crate::write::template::lines::{RingScale, Strip, strips};
use crate::write::template::wrap::handles;
use rayon::prelude::*;
use std::cmp::Reverse;

/// Capitals smaller than this, mm, cannot be read at arm's length (ISO 3098's least nominal height).
const LEGIBLE: f64 = 1.8;
/// Size of heights (the em): in print capitals of at least 1.8 mm.
const HEIGHT: f64 = 2.0;
/// Heights of capitals in a zone at true size: in print it is drawn at least 1.28 times as large.
const CAPS: Caps = Caps { most: 2.5, wanted: 1.42, least: 1.1, dots: false };
/// The same on the page, where a zone fills a narrow screen at about three pixels a millimetre.
const ON_SCREEN: Caps = Caps { most: 3.2, wanted: 1.8, least: 1.0, dots: false };
/// Ink of the rings.
const GRID: Rgb = Rgb([0xdc, 0xd6, 0xcd]);
/// Shown round a zone.
const ROUND: f64 = 4.0;

/// Does any piece lack the room for a number that can be read at true size?
pub fn crowded(windows: &[Window<'_>]) -> bool {
    windows.iter().flat_map(|w| &w.own).any(|s| match &s.screen {
        Placed::Inside(l) => l.cap() < LEGIBLE,
        _ => true,
    })
}

/// A zone with what is seen in it, on a window of its own.
pub struct Window<'a> {
    /// Which.
    pub zone: MapZone,
    /// The pass that it shows; none where all film goes on in one.
    pub pass: Option<Pass>,
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
    /// What lies there before its pass.
    pub under: Vec<Region<Page>>,
    /// Heights of its rings, clear of pieces and numbers.
    pub heights: Vec<Words>,
}

/// A piece in a window.
pub struct Shown<'a> {
    /// The piece.
    pub piece: &'a Piece,
    /// Its outline.
    pub outline: Region<Page>,
    /// Lines of its film's hatch, kept off its number.
    pub hatch: BezPath,
    /// Its number in print.
    pub print: Placed,
    /// Its number on the page, where there is more room.
    pub screen: Placed,
}

/// All zones that have pieces; where film goes on in several passes, those of the first, then those of the next.
pub fn windows<'a>(plan: &'a Verified, rows: &'a [Row]) -> Vec<Window<'a>> {
    let of = |pass: Option<Pass>| {
        let zones = by_zone(plan, rows, pass.as_ref()).into_iter();
        zones.map(|(zone, list)| (pass.clone(), zone, list)).collect::<Vec<_>>()
    };
    let passes = passes::all(plan);
    let all: Vec<_> = match passes.is_empty() {
        true => of(None),
        false => passes.into_iter().flat_map(|pass| of(Some(pass))).collect(),
    };
    all.into_par_iter().map(|(pass, zone, list)| window(plan, pass, zone, list)).collect()
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

fn window<'a>(plan: &'a Verified, pass: Option<Pass>, zone: MapZone, rows: Vec<&'a Row>) -> Window<'a> {
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
    let (mut pieces, mut near, mut under) = (Vec::new(), Vec::new(), Vec::new());
    let shown = |p: &&Piece| Pass::shows(pass.as_ref(), plan, p) || Pass::is_under(pass.as_ref(), plan, p);
    for p in plan.on_wall().filter(|p| p.zone == of_wall).filter(shown) {
        let pose = place(p, &band);
        if numbers.contains(&p.number) {
            pieces.push((p, pose));
        } else if page
            .grown(p.outline.bounds().width().max(p.outline.bounds().height()))
            .distance(&Bounds { min: pose.origin(), max: pose.origin() })
            .0
            <= 0.0
        {
            let outline = p.outline.moved(&pose);
            if outline.bounds().distance(&page).0 <= 0.0 {
                let before = Pass::is_under(pass.as_ref(), plan, p);
                if before { under.push(outline) } else { near.push(outline) }
            }
        }
    }
    let mut window =
        Window { zone, pass, of_wall, rows, band, size, own: Vec::new(), near, under, heights: Vec::new() };
    window.own = window.numbered(plan, &pieces);
    window.heights = window.heights_beside(RingScale::of(plan.job().unit));
    window
}

impl<'a> Window<'a> {
    /// Its name for headings: with that of its pass where there are several.
    pub fn name(&self) -> String {
        Pass::zone_name(self.pass.as_ref(), self.zone)
    }
    /// Its pieces' fill.
    pub fn fill(&self, own: Option<Rgb>) -> Option<Rgb> {
        Pass::fill(self.pass.as_ref(), own)
    }
    /// Heights of the rings, each where it is free of pieces and of their numbers in print and on the page: near
    /// the quarter line, else farther along its ring; of those with no place none.
    fn heights_beside(&self, scale: RingScale) -> Vec<Words> {
        let band = &self.band;
        let mut field = Field::new(0.4);
        self.near.iter().chain(self.own.iter().map(|s| &s.outline)).flat_map(Region::contours).for_each(
            |c| {
                field.keep_off(c, 0.3);
            },
        );
        field.keep_off(&band.generator(band.middle, band.low, band.wall), 0.3);
        for s in &self.own {
            let labels = [&s.print, &s.screen].into_iter().filter_map(Placed::label);
            field.take(&labels.map(Label::quad).collect::<Vec<_>>());
        }
        let flats: Vec<_> = self.own.iter().map(|s| s.outline.flat(COARSE)).collect();
        let mut out = Vec::new();
        for i in scale.within(band) {
            let slant = scale.slant(i);
            let radius = band.development().radius(slant).0;
            let name = scale.name(i);
            let at = |off: f64| {
                let azimuth = band.middle + Angle::radians(off / radius);
                let p = band.at(azimuth, slant + Mm(0.4));
                let mut one = Group::default();
                let t = Text::new(&name, HEIGHT).anchor(Anchor::Middle).colour(QUIET);
                one.text_turned(&t, (p.x, p.y), band.level(azimuth));
                one.words.remove(0)
            };
            let free = |w: &Words| {
                let q = Quad::of(w);
                let [x, y] = q.middle();
                let b = q.bounds();
                b.min.x > 0.5
                    && b.max.x < self.size.0 - 0.5
                    && b.min.y > 0.5
                    && b.max.y < self.size.1 - 0.5
                    && flats.iter().all(|f| !f.contains(x, y))
                    && field.is_free(&[q], false, false)
            };
            let offs = (0..80).map(|k| f64::from((k + 1) / 2) * if k % 2 == 0 { 1.0 } else { -1.0 } - 2.0);
            if let Some(words) = offs.map(at).find(free) {
                field.take(&[Quad::of(&words)]);
                out.push(words);
            }
        }
        out
    }
    /// Its pieces with their numbers, placed for print and for the page.
    fn numbered(&self, plan: &'a Verified, pieces: &[(&'a Piece, Rigid<Art, Page>)]) -> Vec<Shown<'a>> {
        let items: Vec<Item> = pieces.iter().map(|(p, pose)| Item::of(plan, p, pose, COARSE)).collect();
        let fits = numbers::fits(&items, ON_SCREEN);
        let placed = |caps: Caps| {
            let mut field = Field::new(0.0);
            self.near.iter().flat_map(Region::contours).for_each(|c| field.keep_off(c, 0.3));
            field.within(&Region::rectangle(Bounds {
                min: Point::mm(0.5, 0.5),
                max: Point::mm(self.size.0 - 0.5, self.size.1 - 0.5),
            }));
            numbers::placed(&items, &fits, caps, &mut field)
        };
        let (print, screen) = (placed(CAPS), placed(ON_SCREEN));
        let mut out = Vec::new();
        for ((((p, pose), item), print), screen) in pieces.iter().zip(&items).zip(print).zip(screen) {
            let hatch = film_mark::hatch(p.film, &item.seen, Some(screen.keep_out()));
            out.push(Shown { piece: p, outline: p.outline.moved(pose), hatch, print, screen });
        }
        out
    }
    /// Rings, quarter lines and bands: what heights and distances are read from.
    pub fn ground(&self, plan: &Verified) -> Group {
        let (band, wall) = (&self.band, &plan.cup().zones[self.of_wall]);
        let scale = RingScale::of(plan.job().unit);
        let mut g = Group::new("ground", format!("{}, the quarter line, keep-clear bands", scale.title()));
        let (left, right) = (band.middle - Angle::degrees(75.0), band.middle + Angle::degrees(75.0));
        for Strip { low, high, .. } in strips(plan, wall) {
            let strip = band.development().band(left, right, low, high).moved(&band.to_page);
            for c in strip.into_contours() {
                g.fill(c, TINT);
            }
        }
        handles(&mut g, &wall.zone, band, (left, right));
        for i in scale.within(band) {
            let width = if scale.is_strong(i) { 0.25 } else { 0.12 };
            g.stroke(band.parallel(scale.slant(i), left, right), Stroke::solid(GRID, width));
        }
        g.words.extend(self.heights.iter().cloned());
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
    /// What lies there before its pass; none where nothing does.
    pub fn before(&self) -> Option<Group> {
        (!self.under.is_empty()).then(|| passes::faint(&self.under))
    }
    /// The window as a drawing: hatch as lines, numbers with a rim of paper.
    pub fn drawing(&self, plan: &Verified) -> Drawing {
        let mut pieces = Group::new("pieces", "Pieces of the zone, and in grey those of others");
        for r in &self.near {
            pieces.stroke(gathered(r), Stroke::solid(QUIET, 0.15));
        }
        let mut numbers = Group::new("numbers", "Numbers");
        for s in &self.own {
            let film = s.piece.film;
            let paint = film_mark::paint(plan.job(), film);
            pieces.mark(gathered(&s.outline), self.fill(paint.fill), Some(Stroke::solid(paint.line, 0.3)));
            pieces.stroke(s.hatch.clone(), film_mark::hatch_in(paint, film));
            s.print.draw(&mut numbers, true);
        }
        Drawing {
            title: self.name(),
            message: String::new(),
            width: self.size.0,
            height: self.size.1,
            groups: std::iter::once(self.ground(plan))
                .chain(self.before())
                .chain([pieces, numbers])
                .collect(),
        }
    }
}
