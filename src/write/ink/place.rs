//! Where words may stand on a page: boxes as they are set, lines that they keep off, lines that they may
//! interrupt, and other words.
//!
//! Imports: base, outline, write::ink::{letters, drawing}.

use super::drawing::Words;
use super::letters;
use crate::base::frame::Page;
use crate::base::tolerance::FLATTEN;
use crate::outline::{BezPath, Bounds, Flat, Region, chords};
use std::collections::BTreeMap;

/// A box on a page, turned as the words in it are.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Quad {
    /// Its lower left corner as the words are read.
    pub at: (f64, f64),
    /// Direction of reading, as (cosine, sine).
    pub turn: (f64, f64),
    /// Along the direction of reading, and across it.
    pub size: (f64, f64),
}

impl Quad {
    /// The box of the ink of words, no larger.
    pub fn of(w: &Words) -> Quad {
        let [x0, y0, x1, y1] = letters::ink(w.face, w.size, &w.message);
        let (x, y) = w.start();
        let (c, s) = w.turn;
        Quad { at: (x + c * x0 - s * y0, y + s * x0 + c * y0), turn: w.turn, size: (x1 - x0, y1 - y0) }
    }
    /// The same, larger on all sides.
    #[must_use]
    pub fn grown(&self, by: f64) -> Quad {
        let (c, s) = self.turn;
        Quad {
            at: (self.at.0 - by * (c - s), self.at.1 - by * (s + c)),
            turn: self.turn,
            size: (self.size.0 + 2.0 * by, self.size.1 + 2.0 * by),
        }
    }
    /// Its corners, counter-clockwise.
    pub fn corners(&self) -> [[f64; 2]; 4] {
        let ((c, s), (w, h)) = (self.turn, self.size);
        [(0.0, 0.0), (w, 0.0), (w, h), (0.0, h)]
            .map(|(x, y)| [self.at.0 + c * x - s * y, self.at.1 + s * x + c * y])
    }
    /// The upright box round it.
    pub fn bounds(&self) -> Bounds<Page> {
        self.corners().iter().fold(Bounds::EMPTY, |b, p| b.with(p[0], p[1]))
    }
    /// Its middle.
    pub fn middle(&self) -> [f64; 2] {
        let [a, _, b, _] = self.corners();
        [(a[0] + b[0]) / 2.0, (a[1] + b[1]) / 2.0]
    }
    /// A point as the box sees it: from its corner, along and across.
    fn own(&self, p: [f64; 2]) -> [f64; 2] {
        let ((c, s), x, y) = (self.turn, p[0] - self.at.0, p[1] - self.at.1);
        [c * x + s * y, c * y - s * x]
    }
    /// Does it hold the point?
    pub fn holds(&self, p: [f64; 2]) -> bool {
        let [x, y] = self.own(p);
        (0.0..=self.size.0).contains(&x) && (0.0..=self.size.1).contains(&y)
    }
    /// Is anything of the other in it, by the four directions of their sides?
    pub fn meets(&self, other: &Quad) -> bool {
        let parted = |a: &Quad, b: &Quad| {
            let seen = b.corners().map(|p| a.own(p));
            let side =
                |k: usize, most: f64| seen.iter().all(|p| p[k] < 0.0) || seen.iter().all(|p| p[k] > most);
            side(0, a.size.0) || side(1, a.size.1)
        };
        !parted(self, other) && !parted(other, self)
    }
    /// Does the straight line from `a` to `b` touch it? Cut down to the box side by side (Liang and Barsky,
    /// 1984).
    pub fn meets_line(&self, a: [f64; 2], b: [f64; 2]) -> bool {
        let (p, q) = (self.own(a), self.own(b));
        let (mut from, mut to) = (0.0f64, 1.0f64);
        for (k, most) in [(0, self.size.0), (1, self.size.1)] {
            let d = q[k] - p[k];
            if d == 0.0 {
                if p[k] < 0.0 || p[k] > most {
                    return false;
                }
                continue;
            }
            let (t, u) = (-p[k] / d, (most - p[k]) / d);
            from = from.max(t.min(u));
            to = to.min(t.max(u));
        }
        from <= to
    }
}

/// What bounds nothing that words belong to.
const NOBODY: u32 = u32::MAX;
/// From a line that leads to words, to other words.
const LEADER_CLEAR: f64 = 0.15;

#[derive(Clone, Copy, Debug)]
struct Side {
    a: [f64; 2],
    b: [f64; 2],
    clear: f64,
    soft: bool,
    owner: u32,
}

/// Sides of the squares in which lines are looked up, mm.
const CELL: f64 = 5.0;

/// What words keep off.
#[derive(Clone, Debug, Default)]
pub struct Field {
    sides: Vec<Side>,
    /// Which sides pass through the box of each square's neighbourhood.
    cells: BTreeMap<(i32, i32), Vec<u32>>,
    widest: f64,
    taken: Vec<Quad>,
    within: Option<Flat<Page>>,
    /// Between two words.
    pub gap: f64,
}

impl Field {
    /// Nothing yet; words keep this far from each other.
    pub fn new(gap: f64) -> Field {
        Field { gap, ..Field::default() }
    }
    fn add(&mut self, path: &BezPath, clear: f64, soft: bool) {
        for [a, b] in chords(path, FLATTEN * 4.0) {
            self.side(Side { a, b, clear, soft, owner: NOBODY });
        }
    }
    fn side(&mut self, side: Side) {
        let n = self.sides.len() as u32;
        let cell = |v: f64| (v / CELL).floor() as i32;
        let (a, b) = (side.a, side.b);
        for i in cell(a[0].min(b[0]))..=cell(a[0].max(b[0])) {
            for j in cell(a[1].min(b[1]))..=cell(a[1].max(b[1])) {
                self.cells.entry((i, j)).or_default().push(n);
            }
        }
        self.widest = self.widest.max(side.clear);
        self.sides.push(side);
    }
    /// Words keep this far from the outline of something that they may be led into.
    pub fn keep_off_rings(&mut self, flat: &Flat<Page>, clear: f64, owner: u32) {
        for ring in &flat.rings {
            for (i, a) in ring.iter().enumerate() {
                let b = ring[(i + 1) % ring.len()];
                self.side(Side { a: *a, b, clear, soft: false, owner });
            }
        }
    }
    /// Words keep this far from the line.
    pub fn keep_off(&mut self, path: &BezPath, clear: f64) {
        self.add(path, clear, false);
    }
    /// Words may interrupt the line, if there is no better place.
    pub fn may_interrupt(&mut self, path: &BezPath, clear: f64) {
        self.add(path, clear, true);
    }
    /// Words stand within it.
    pub fn within(&mut self, region: &Region<Page>) {
        self.within = Some(region.flat(FLATTEN * 4.0));
    }
    /// What stands there already.
    pub fn take(&mut self, boxes: &[Quad]) {
        self.taken.extend_from_slice(boxes);
    }
    /// Boxes of all words.
    pub fn taken(&self) -> &[Quad] {
        &self.taken
    }
    /// May words stand there? `interrupt`: over lines that may be interrupted; `out`: outside of what they
    /// should stand within.
    pub fn is_free(&self, boxes: &[Quad], interrupt: bool, out: bool) -> bool {
        let inside = |q: &Quad| match &self.within {
            Some(flat) => flat.contains(q.middle()[0], q.middle()[1]) != out,
            None => true,
        };
        boxes.iter().all(inside) && boxes.iter().all(|q| self.clear(q, interrupt))
    }
    fn clear(&self, q: &Quad, interrupt: bool) -> bool {
        let grown = q.grown(self.gap);
        let far = grown.size.0 + grown.size.1;
        let near = |t: &Quad| {
            let by = far + t.size.0 + t.size.1;
            (t.at.0 - grown.at.0).abs() <= by && (t.at.1 - grown.at.1).abs() <= by
        };
        self.taken.iter().all(|t| !near(t) || !t.meets(&grown))
            && self.around(q, |s| (s.soft && interrupt) || !q.grown(s.clear).meets_line(s.a, s.b))
    }
    /// Does a rule hold of every side near a box?
    fn around(&self, q: &Quad, rule: impl Fn(&Side) -> bool) -> bool {
        let b = q.grown(self.widest).bounds();
        let cell = |v: f64| (v / CELL).floor() as i32;
        (cell(b.min.x)..=cell(b.max.x)).all(|i| {
            (cell(b.min.y)..=cell(b.max.y)).all(|j| {
                self.cells.get(&(i, j)).is_none_or(|list| list.iter().all(|n| rule(&self.sides[*n as usize])))
            })
        })
    }
    /// May a thin line lead there, into what an owner's outline bounds? It crosses no other outline, and keeps a
    /// little off words.
    pub fn leads(&self, from: [f64; 2], to: [f64; 2], owner: u32) -> bool {
        let (x, y) = (to[0] - from[0], to[1] - from[1]);
        let len = libm::hypot(x, y);
        if len <= 0.0 {
            return true;
        }
        let turn = (x / len, y / len);
        let q = Quad { at: (from[0], from[1]), turn, size: (len, 0.0) };
        let beside = q.grown(LEADER_CLEAR);
        self.taken.iter().all(|t| !t.meets(&beside))
            && self.around(&q, |s| s.owner == owner || !q.meets_line(s.a, s.b))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn quad(x: f64, y: f64, deg: f64, w: f64, h: f64) -> Quad {
        let turn = (deg.to_radians().cos(), deg.to_radians().sin());
        Quad { at: (x, y), turn, size: (w, h) }
    }

    proptest! {
        /// Reference: the geo crate's intersection of polygons, and of a polygon with a line.
        #[test]
        fn boxes_and_lines_meet_as_the_geometry_library_says(
            a in (-9.0..9.0f64, -9.0..9.0f64, -180.0..180.0f64, 0.5..12.0f64, 0.5..4.0f64),
            b in (-9.0..9.0f64, -9.0..9.0f64, -180.0..180.0f64, 0.5..12.0f64, 0.5..4.0f64),
            line in (-15.0..15.0f64, -15.0..15.0f64, -15.0..15.0f64, -15.0..15.0f64),
        ) {
            use geo::Intersects;
            let (p, q) = (quad(a.0, a.1, a.2, a.3, a.4), quad(b.0, b.1, b.2, b.3, b.4));
            let filled = |q: &Quad| geo::Polygon::new(
                geo::LineString::from(q.corners().iter().map(|p| (p[0], p[1])).collect::<Vec<_>>()), vec![]);
            prop_assert_eq!(p.meets(&q), filled(&p).intersects(&filled(&q)));
            prop_assert_eq!(q.meets(&p), p.meets(&q));
            let s = geo::Line::new((line.0, line.1), (line.2, line.3));
            prop_assert_eq!(p.meets_line([line.0, line.1], [line.2, line.3]), filled(&p).intersects(&s));
        }
    }

    #[test]
    fn a_line_that_may_be_interrupted_is_crossed_only_on_wish() {
        let mut f = Field::new(0.5);
        let segment = crate::write::ink::drawing::segment;
        f.may_interrupt(&segment((0.0, 5.0), (100.0, 5.0)), 0.25);
        let q = quad(10.0, 4.0, 0.0, 20.0, 2.0);
        assert!(!f.is_free(&[q], false, false) && f.is_free(&[q], true, false));
        f.take(&[q]);
        assert!(!f.is_free(&[quad(30.4, 4.0, 0.0, 9.0, 2.0)], true, false));
        assert!(f.is_free(&[quad(30.6, 4.0, 0.0, 9.0, 2.0)], true, false));
        f.keep_off(&segment((50.0, 0.0), (50.0, 9.0)), 0.4);
        assert!(!f.is_free(&[quad(40.0, 4.0, 0.0, 9.7, 2.0)], true, false));
    }
}
