//! Where a piece's number stands: the middle of the largest circle that its outline holds.
//!
//! A rigid motion carries the circle along, so it is found once a piece and serves map, zones, sheets and
//! pictures.
//!
//! Imports: base, outline, read::job, make::{piece, film, verify}, write::ink::{letters, drawing, place}.

use super::drawing::{Group, INK, PAPER, Stroke, Text, Words};
use super::letters::{self, Anchor, Face};
use super::place::Quad;
use crate::base::frame::{Art, Frame, Page, Point};
use crate::base::units::Mm;
use crate::make::film::Placed;
use crate::make::piece::{Kind, Piece};
use crate::make::verify::{CutPlan, Verified};
use crate::outline::{Bounds, Flat, Op, Region};
use crate::read::job::Rgb;
use rayon::prelude::*;
use std::borrow::Cow;
use std::collections::BTreeMap;

/// Squared length of an edge, mm2, below which it is a point: the quotient stays finite.
const NO_EDGE: f64 = 1e-18;

/// Chords of outlines from which places are worked out.
const COARSE: Mm = Mm(0.1);

/// The roomiest place of an outline.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Roomiest<F: Frame> {
    /// Middle.
    pub at: Point<F>,
    /// How far the outline is from it.
    pub radius: f64,
}

/// One a piece, in order of their numbers.
pub fn places(plan: &Verified) -> Vec<Roomiest<Art>> {
    // Copies of a motif have one outline between them.
    let mut first: BTreeMap<usize, usize> = BTreeMap::new();
    let own = |(i, p): (usize, &Piece)| match p.kind {
        Kind::Motif { motif, .. } => {
            let of = *first.entry(motif).or_insert(i);
            if plan.pieces()[of].outline == p.outline { of } else { i }
        }
        _ => i,
    };
    let of: Vec<usize> = plan.pieces().iter().enumerate().map(own).collect();
    let found: Vec<Option<Roomiest<Art>>> = plan
        .pieces()
        .par_iter()
        .enumerate()
        .map(|(i, p)| (of[i] == i).then(|| roomiest(&seen(plan, p).flat(COARSE))))
        .collect();
    let none = Roomiest { at: Point::ORIGIN, radius: 0.0 };
    of.iter().map(|&i| found[i].unwrap_or(none)).collect()
}

/// Where the number of a piece stands on a sheet: cups of a list have pieces of their own.
pub fn place_at(plan: &Verified, placed: &Placed, places: &[Roomiest<Art>]) -> Roomiest<Art> {
    let piece = plan.piece_at(placed);
    match plan.place_of(placed.number).filter(|i| std::ptr::eq(piece, &raw const plan.pieces()[*i])) {
        Some(i) => places[i],
        None => roomiest(&piece.outline.flat(COARSE)),
    }
}

/// What is seen of a piece: of a decal's layer, what the layers above it leave.
pub fn seen<'a>(plan: &'a Verified, p: &'a Piece) -> Cow<'a, Region<Art>> {
    let Kind::Layer { decal, layer } = p.kind else { return Cow::Borrowed(&p.outline) };
    match plan.decals().get(decal).and_then(|d| d.layers.get(layer + 1)) {
        Some(above) => Cow::Owned(p.outline.op(&above.solid, Op::Difference)),
        None => Cow::Borrowed(&p.outline),
    }
}

/// A number at its place on a page.
#[derive(Clone, Debug)]
pub struct Label {
    words: String,
    size: f64,
    at: (f64, f64),
    turn: (f64, f64),
    ink: Rgb,
}

impl Label {
    /// A number within a circle of the page, its size held to limits; smaller circles are overrun.
    pub fn new(number: u32, at: Point<Page>, radius: f64, sizes: (f64, f64)) -> Label {
        Label::worded(number.to_string(), at, radius, sizes)
    }
    /// The same of words.
    pub fn worded(words: String, at: Point<Page>, radius: f64, sizes: (f64, f64)) -> Label {
        let size = fitting(&words, radius).clamp(sizes.0, sizes.1);
        Label { words, size, at: (at.x, at.y - size * letters::CAPITAL / 2.0), turn: (1.0, 0.0), ink: INK }
    }
    /// The same in another ink.
    #[must_use]
    pub fn inked(mut self, ink: Rgb) -> Label {
        self.ink = ink;
        self
    }
    /// Its ink.
    pub fn ink(&self) -> Rgb {
        self.ink
    }
    /// Words round a middle, the height of their capitals and their direction given.
    pub fn round(words: &str, middle: (f64, f64), cap: f64, turn: (f64, f64)) -> Label {
        let at = (middle.0 + turn.1 * cap / 2.0, middle.1 - turn.0 * cap / 2.0);
        Label { words: words.to_owned(), size: cap / letters::CAPITAL, at, turn, ink: INK }
    }
    /// The box of its ink.
    pub fn quad(&self) -> Quad {
        Quad::of(&self.as_words())
    }
    fn as_words(&self) -> Words {
        Words {
            message: self.words.clone(),
            size: self.size,
            face: Face::Bold,
            anchor: Anchor::Middle,
            colour: self.ink,
            at: self.at,
            turn: self.turn,
        }
    }
    /// Height of its capitals.
    pub fn cap(&self) -> f64 {
        self.size * letters::CAPITAL
    }
    /// Its direction of reading, as (cosine, sine).
    pub fn turn(&self) -> (f64, f64) {
        self.turn
    }
    /// The box that hatch keeps out of.
    pub fn keep_out(&self) -> Bounds<Page> {
        self.quad().grown(0.3).bounds()
    }
    /// Middle of its base line, and its size.
    pub fn place(&self) -> (f64, f64, f64) {
        (self.at.0, self.at.1, self.size)
    }
    /// Draws it.
    pub fn draw(&self, g: &mut Group) {
        g.text_turned(
            &Text::new(&self.words, self.size).bold().anchor(Anchor::Middle).colour(self.ink),
            self.at,
            self.turn,
        );
    }
    /// Draws it with a rim of paper, for places where it overruns its piece.
    pub fn draw_rimmed(&self, g: &mut Group) {
        let ink = letters::placed(Face::Bold, self.size, &self.words, Anchor::Middle, self.at, self.turn);
        let rim = if self.ink == PAPER { INK } else { PAPER };
        g.stroke(ink, Stroke::solid(rim, self.size * 0.28));
        self.draw(g);
    }
}

/// The size (em) at which a number just fits into a circle: both corners of its line lie within.
pub fn fitting(words: &str, radius: f64) -> f64 {
    let (half, tall) = (letters::width(Face::Bold, 1.0, words) / 2.0, letters::CAPITAL / 2.0);
    0.95 * radius / libm::hypot(half, tall)
}

#[derive(Clone, Copy)]
struct Cell {
    x: f64,
    y: f64,
    half: f64,
    room: f64,
}

impl Cell {
    /// No circle with its middle in the cell is larger.
    fn bound(&self) -> f64 {
        self.room + self.half * std::f64::consts::SQRT_2
    }
}

/// Quadrants are searched best first until none can hold a circle larger by a twentieth of a millimetre or a
/// twentieth part.
pub fn roomiest<F: Frame>(flat: &Flat<F>) -> Roomiest<F> {
    let b = flat.bounds();
    if b.is_empty() {
        return Roomiest { at: Point::ORIGIN, radius: 0.0 };
    }
    let cell = |x: f64, y: f64, half: f64| Cell { x, y, half, room: room(flat, x, y) };
    let half = (b.width().0.min(b.height().0) / 2.0).max(0.05);
    let mut best = cell(b.centre().x, b.centre().y, 0.0);
    let mut cells: Vec<Cell> = Vec::new();
    let count = |side: f64| (side / half / 2.0).ceil().max(1.0) as usize;
    for i in 0..count(b.width().0) {
        for j in 0..count(b.height().0) {
            cells.push(cell(b.min.x + half * (2 * i + 1) as f64, b.min.y + half * (2 * j + 1) as f64, half));
        }
    }
    while let Some(i) = (0..cells.len()).max_by(|&i, &j| cells[i].bound().total_cmp(&cells[j].bound())) {
        let c = cells.swap_remove(i);
        if c.room > best.room {
            best = c;
        }
        if c.bound() <= best.room + (best.room * 0.05).max(0.05) {
            break;
        }
        let h = c.half / 2.0;
        for (sx, sy) in [(-h, -h), (h, -h), (-h, h), (h, h)] {
            cells.push(cell(c.x + sx, c.y + sy, h));
        }
    }
    Roomiest { at: Point::mm(best.x, best.y), radius: best.room.max(0.0) }
}

/// Distance to the nearest edge, negative outside; edges and crossings in one pass.
///
/// Not [`plane`](crate::outline::plane)'s questions: crossings are counted by a product instead of a
/// quotient, whose rounding differs, and places of labels are kept to the last digit.
fn room<F: Frame>(flat: &Flat<F>, x: f64, y: f64) -> f64 {
    let (mut best, mut inside) = (f64::INFINITY, false);
    for ring in &flat.rings {
        let mut p = ring[ring.len() - 1];
        for &q in ring {
            let (ux, uy, px, py) = (q[0] - p[0], q[1] - p[1], x - p[0], y - p[1]);
            let t = ((px * ux + py * uy) / (ux * ux + uy * uy).max(NO_EDGE)).clamp(0.0, 1.0);
            let (dx, dy) = (t * ux - px, t * uy - py);
            best = best.min(dx * dx + dy * dy);
            if (p[1] > y) != (q[1] > y) && px * uy * uy.signum() < ux * py * uy.signum() {
                inside = !inside;
            }
            p = q;
        }
    }
    if inside { best.sqrt() } else { -best.sqrt() }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::outline::Region;

    /// Closed forms: the incircle of a right triangle has radius (a + b - c)/2; of a ring, half its width.
    #[test]
    fn the_circle_is_the_largest_within_a_twentieth() {
        let triangle: Region<Art> = Region::polygon(&[[0.0, 0.0], [40.0, 0.0], [0.0, 30.0]]);
        let r = roomiest(&triangle.flat(COARSE));
        assert!(r.radius <= 10.0 + 1e-9 && r.radius > 9.4, "{r:?}");
        let ring = Region::<Art>::disc(Point::ORIGIN, Mm(20.0))
            .op(&Region::disc(Point::ORIGIN, Mm(12.0)), crate::outline::Op::Difference);
        let r = roomiest(&ring.flat(Mm(0.01)));
        assert!(r.radius <= 4.0 + 0.01 && r.radius > 3.75, "{r:?}");
        let m = r.at.distance(Point::ORIGIN).0;
        assert!((m - 16.0).abs() < 0.4, "{m}");
    }
}
