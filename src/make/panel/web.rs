//! The web of a panel: what is weeded off its film once the sheet is cut apart, and lines that part it.
//!
//! The web is the carrier's ground less the pieces. Where it is narrower than [`HOLDS`] it tears rather than comes off
//! with the rest (common practice, no source). On a lattice every point of the web has its distance to the nearest
//! piece; points with half of that width or more are its parts, and what lies between goes to the part from which the
//! widest way leads there (a flood from the widest places down). Where two parts meet, the widest place of each meeting
//! is crossed by a line from the one piece to the other, kept [`CLEAR`] off both.
//!
//! Imports: base, outline, make::sheet.

use crate::base::frame::{Art, Point};
use crate::base::tolerance::{CLEAR_GUARD, FLATTEN};
use crate::base::units::Mm;
use crate::make::sheet::grid::Grid;
use crate::outline::Ring;
use crate::outline::plane::{V, add, len, mul, points_box, ring_contains, segment_distance, sub};
use crate::outline::{Clearance, Flat};
use std::cmp::Reverse;
use std::collections::{BTreeMap, BinaryHeap};

/// Narrower than this the web tears, mm.
pub const HOLDS: f64 = 1.5;
/// What a line keeps off outlines: as little as a film's weeding lines may.
pub const CLEAR: f64 = 0.3;
/// The same to chords of the outlines.
const TO_CHORDS: f64 = CLEAR + FLATTEN.0 + CLEAR_GUARD.0;
/// A shorter line parts nothing.
const SHORTEST: f64 = 0.2;
/// Between points of the lattice.
const STEP: f64 = 0.2;
/// A smaller part of the web is taken up with what it hangs on, mm2.
const LEAST: f64 = 4.0;
/// Points of the lattice so near each other are one meeting.
const NEAR: usize = 3;
/// Longest line that is looked for.
const LONGEST: f64 = 3.0;
/// Points of a line that are measured, and what it is shortened by where it is too near.
const CHECKED: usize = 12;
const SHORTER: f64 = 0.05;
/// Distances are compared in steps of a thousandth.
const FINE: f64 = 1000.0;

/// What is told of the web of a panel, in the panel's frame.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Web {
    /// Parts that hang together through wide places.
    pub parts: usize,
    /// Lines between them.
    pub lines: Vec<[V; 2]>,
    /// Meetings of parts that have no room for a line.
    pub uncut: usize,
    /// Pairs of pieces with a narrower gap than holds.
    pub narrow: usize,
}

impl Web {
    /// Of the ground of a carrier and the outer outlines on it.
    pub fn of(ground: &[V], outlines: &[Ring]) -> Web {
        let field = Field::new(ground, outlines);
        let (mut part, parts) = field.parts();
        field.flood(&mut part);
        let mut web = Web { parts, ..Web::default() };
        let outlines = Clearance::new(Flat::new(outlines.to_vec(), FLATTEN));
        for at in field.meetings(&part) {
            match line(at, &outlines) {
                Some(l) => web.lines.push(l),
                None => web.uncut += 1,
            }
        }
        web
    }
}

/// The lattice: distances to the nearest outline; below zero off the web.
struct Field {
    corner: V,
    wide: usize,
    far: Vec<f64>,
}

impl Field {
    fn new(ground: &[V], outlines: &[Ring]) -> Field {
        let [x0, y0, x1, y1] = points_box(ground);
        let size = |a: f64, b: f64| ((b - a) / STEP).ceil() as usize + 1;
        let (wide, high) = (size(x0, x1), size(y0, y1));
        let mut field = Field { corner: [x0, y0], wide, far: vec![-1.0; wide * high] };
        for k in 0..field.far.len() {
            if ring_contains(ground, field.place(k)) {
                field.far[k] = f64::INFINITY;
            }
        }
        for ring in outlines {
            let whole = points_box(ring);
            for k in field.within(whole, 0.0) {
                if ring_contains(ring, field.place(k)) {
                    field.far[k] = -1.0;
                }
            }
        }
        for ring in outlines {
            let mut a = ring[ring.len() - 1];
            for &b in ring {
                for k in field.within(points_box([a, b]), HOLDS / 2.0) {
                    let far = segment_distance(field.place(k), a, b);
                    field.far[k] = field.far[k].min(far);
                }
                a = b;
            }
        }
        field
    }
    fn place(&self, k: usize) -> V {
        [self.corner[0] + STEP * (k % self.wide) as f64, self.corner[1] + STEP * (k / self.wide) as f64]
    }
    /// Points of the lattice in a box that is grown.
    fn within(&self, [x0, y0, x1, y1]: [f64; 4], by: f64) -> Vec<usize> {
        let high = self.far.len() / self.wide;
        let span = |low: f64, up: f64, n: usize| {
            let from = ((low - by) / STEP).floor().max(0.0) as usize;
            let to = ((up + by) / STEP).ceil().max(0.0) as usize;
            from..(to + 1).min(n)
        };
        let (c, xs) = (self.corner, span(x0 - self.corner[0], x1 - self.corner[0], self.wide));
        span(y0 - c[1], y1 - c[1], high).flat_map(|j| xs.clone().map(move |i| j * self.wide + i)).collect()
    }
    /// Neighbours on the web.
    fn beside(&self, k: usize) -> impl Iterator<Item = usize> + '_ {
        let (i, w, n) = (k % self.wide, self.wide, self.far.len());
        let all = [
            (i > 0).then(|| k - 1),
            (i + 1 < w).then_some(k + 1),
            k.checked_sub(w),
            Some(k + w).filter(|k| *k < n),
        ];
        all.into_iter().flatten().filter(|k| self.far[*k] >= 0.0)
    }
    /// The part of each point, from 1, 0 where there is none; and how many there are.
    fn parts(&self) -> (Vec<u32>, usize) {
        let (wide, high) = (self.wide, self.far.len() / self.wide);
        let holds =
            Grid { width: wide, height: high, at: self.far.iter().map(|f| *f >= HOLDS / 2.0).collect() };
        let (mut part, mut parts) = (vec![0u32; self.far.len()], 0);
        for (own, _) in holds.joined().filter(|p| p.0.len() as f64 * STEP * STEP >= LEAST) {
            parts += 1;
            own.iter().for_each(|[x, y]| part[y * wide + x] = parts as u32);
        }
        (part, parts)
    }
    /// Gives every point of the web to the part that the widest way leads to; of equal ways to the one that was there
    /// first, or a part would creep along the edge of another.
    fn flood(&self, part: &mut [u32]) {
        let key = |k: usize| (self.far[k].min(HOLDS) * FINE) as u32;
        let mut heap: BinaryHeap<(u32, Reverse<usize>, usize, u32)> = BinaryHeap::new();
        let mut turn = 0;
        let mut push = |heap: &mut BinaryHeap<_>, part: &[u32], k: usize| {
            for b in self.beside(k).filter(|b| part[*b] == 0) {
                turn += 1;
                heap.push((key(b), Reverse(turn), b, part[k]));
            }
        };
        for k in (0..part.len()).filter(|k| part[*k] > 0) {
            push(&mut heap, part, k);
        }
        while let Some((_, _, k, own)) = heap.pop() {
            if part[k] == 0 {
                part[k] = own;
                push(&mut heap, part, k);
            }
        }
    }
    /// The widest place of each meeting of two parts.
    fn meetings(&self, part: &[u32]) -> Vec<V> {
        let mut of: BTreeMap<(u32, u32), Vec<usize>> = BTreeMap::new();
        for k in (0..part.len()).filter(|k| part[*k] > 0) {
            for b in self.beside(k).filter(|b| part[*b] > 0 && part[*b] != part[k]) {
                let own = of.entry((part[k].min(part[b]), part[k].max(part[b]))).or_default();
                if own.last() != Some(&k) {
                    own.push(k);
                }
            }
        }
        let mut out = Vec::new();
        for mut left in of.into_values() {
            while let Some(first) = left.pop() {
                let mut meeting = vec![first];
                let mut at = 0;
                while at < meeting.len() {
                    let (i, j) = (meeting[at] % self.wide, meeting[at] / self.wide);
                    let close = |k: &usize| {
                        (k % self.wide).abs_diff(i) <= NEAR && (k / self.wide).abs_diff(j) <= NEAR
                    };
                    let (near, rest): (Vec<usize>, Vec<usize>) = left.into_iter().partition(close);
                    meeting.extend(near);
                    left = rest;
                    at += 1;
                }
                let widest =
                    meeting.into_iter().max_by(|a, b| self.far[*a].total_cmp(&self.far[*b]).then(b.cmp(a)));
                out.extend(widest.map(|k| self.place(k)));
            }
        }
        out
    }
}

/// The line across a narrow place, from near the one outline to near the other; none if there is no room.
fn line(at: V, outlines: &Clearance<Art>) -> Option<[V; 2]> {
    let nearest = |p: V| outlines.nearest(Point::mm(p[0], p[1]), Mm(f64::INFINITY));
    let free = |p: V| nearest(p).map_or(f64::INFINITY, |n| n.distance.0);
    let foot = nearest(at).filter(|n| n.distance > Mm::ZERO)?;
    let (far, foot) = (foot.distance.0, [foot.at.x, foot.at.y]);
    let u = mul(sub(at, foot), 1.0 / far);
    // Along it to the other side, in steps no longer than what is free there.
    let mut go = far;
    while go < LONGEST {
        let room = free(add(foot, mul(u, go)));
        if room < TO_CHORDS {
            break;
        }
        go += (room - TO_CHORDS).max(SHORTER);
    }
    let mut ends = [TO_CHORDS, go.min(LONGEST)];
    let clear = |t: f64| free(add(foot, mul(u, t))) >= CLEAR + FLATTEN.0;
    while ends[1] - ends[0] >= SHORTEST {
        let on = |k: usize| ends[0] + (ends[1] - ends[0]) * k as f64 / CHECKED as f64;
        match (0..=CHECKED).map(on).find(|t| !clear(*t)) {
            None => {
                let line = ends.map(|t| add(foot, mul(u, t)));
                return (len(sub(line[1], line[0])) >= SHORTEST).then_some(line);
            }
            Some(t) if t <= far.clamp(ends[0], ends[1]) => ends[0] += SHORTER,
            Some(_) => ends[1] -= SHORTER,
        }
    }
    None
}

#[cfg(test)]
mod tests {
    use super::*;

    fn square(x: f64, y: f64, w: f64, h: f64) -> Ring {
        vec![[x, y], [x + w, y], [x + w, y + h], [x, y + h]]
    }
    const GROUND: [V; 4] = [[-10.0, -10.0], [30.0, -10.0], [30.0, 30.0], [-10.0, 30.0]];

    /// Closed form: walls round a court of 8 by 8 mm, with doors of a width in two of them: one web through doors that
    /// hold, two parts and a line in each door through doors that do not; no line where a door is too narrow for one.
    #[test]
    fn a_court_with_doors_is_a_part_of_its_own_when_they_are_narrow() {
        let court = |door: f64| {
            let side = (12.0 - door) / 2.0;
            vec![
                square(0.0, 0.0, 12.0, 2.0),
                square(0.0, 10.0, side, 2.0),
                square(side + door, 10.0, side, 2.0),
                square(0.0, 1.9, 2.0, 8.2),
                // A second door of the same width at the right.
                square(10.0, 1.9, 2.0, 4.0),
                square(10.0, 5.9 + door, 2.0, 12.0 - 5.9 - door),
            ]
        };
        for (door, parts, lines, uncut) in [(2.0, 1, 0, 0), (1.2, 2, 2, 0), (0.9, 2, 2, 0), (0.6, 2, 0, 2)] {
            let outlines = court(door);
            let web = Web::of(&GROUND, &outlines);
            assert_eq!((web.parts, web.lines.len(), web.uncut), (parts, lines, uncut), "{door}");
            for [a, b] in web.lines {
                let long = len(sub(b, a));
                assert!(long >= SHORTEST && long <= door - 2.0 * CLEAR + 1e-6, "{door}: {long}");
                for k in 0..=40 {
                    let p = add(a, mul(sub(b, a), f64::from(k) / 40.0));
                    let all = outlines.iter().flat_map(|r| (0..4).map(move |i| (r[i], r[(i + 1) % 4])));
                    assert!(all.map(|(a, b)| segment_distance(p, a, b)).all(|d| d >= CLEAR - 1e-9), "{door}");
                    assert!(outlines.iter().all(|r| !ring_contains(r, p)));
                }
            }
        }
    }

    /// By hand: spots with wide gaps leave one web, whatever their number.
    #[test]
    fn spots_apart_leave_one_web() {
        let spots: Vec<Ring> =
            (0..16).map(|i| square(7.0 * f64::from(i % 4), 7.0 * f64::from(i / 4), 5.0, 5.0)).collect();
        let web = Web::of(&GROUND, &spots);
        assert_eq!((web.parts, web.lines.len(), web.uncut), (1, 0, 0));
    }
}
