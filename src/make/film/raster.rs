//! Bit rows: where a piece may go on a sheet, decided for 64 columns at a time.
//!
//! Points of a lattice with step r stand for the sheet. A placed piece *occupies* the lattice points within
//! `r / sqrt 2` of it; a piece to be placed *asks for* the points within `s + r / sqrt 2` of it. If a point p
//! of the one and a point q of the other were `s` or less apart, the lattice point nearest to p would be in
//! both sets: so disjoint sets prove a distance above s. Pieces are placed at whole lattice steps, so both
//! sets move with them.
//!
//! The question "does any of L neighbouring columns hold film" is answered by two rows of doubled windows:
//! level k of a row has bit x set if any of x .. x + 2^k - 1 is.
//!
//! Imports: base, outline.

use crate::base::tolerance::HAIR;
use crate::outline::Ring;

/// A run of lattice points of one row: first column and how many.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Run {
    /// Row, from the row of the lower left corner of the bounding box.
    pub row: i32,
    /// First column, from the same corner.
    pub from: i32,
    /// How many, at least one.
    pub len: i32,
}

/// Lattice points within a distance of a shape, as runs in order of rows.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Mask {
    /// The runs.
    pub runs: Vec<Run>,
}

impl Mask {
    /// Lattice points (multiples of `step`) within `d` of the area that the rings enclose (even-odd).
    pub fn of(rings: &[Ring], d: f64, step: f64) -> Mask {
        let (mut lo, mut hi) = (f64::INFINITY, f64::NEG_INFINITY);
        for p in rings.iter().flatten() {
            lo = lo.min(p[1]);
            hi = hi.max(p[1]);
        }
        if lo > hi {
            return Mask::default();
        }
        let (first, last) = (ceil((lo - d) / step), floor((hi + d) / step));
        let count = (last - first + 1).max(0) as usize;
        let xs = rings.iter().flatten().map(|p| p[0]);
        let (left, right) = xs.fold((f64::INFINITY, f64::NEG_INFINITY), |(l, r), x| (l.min(x), r.max(x)));
        let (left, right) = (columns(left - d, 0.0, step).0, columns(0.0, right + d, step).1);
        // A bit for each lattice point of the box: where spans overlap nothing need be sorted.
        let words = ((right - left + 1).max(0) as usize).div_ceil(64);
        let mut bits = vec![0u64; count * words];
        let mut mark = |row: usize, (from, to): (i32, i32)| {
            let (from, to) = (from.max(left), to.min(right));
            if from <= to {
                let row = &mut bits[row * words..(row + 1) * words];
                fill(row, (from - left) as usize, (to - left + 1) as usize);
            }
        };
        let mut crossings: Vec<(usize, f64)> = Vec::new();
        for ring in rings {
            let mut a = ring[ring.len() - 1];
            for &b in ring {
                let capsule = Capsule::new(a, b, d);
                for row in rows_between(a[1].min(b[1]) - d, a[1].max(b[1]) + d, step, first, last) {
                    let y = f64::from(row) * step;
                    let at = (row - first) as usize;
                    if let Some((x0, x1)) = capsule.span(y) {
                        mark(at, columns(x0, x1, step));
                    }
                    if (a[1] > y) != (b[1] > y) {
                        crossings.push((at, (b[0] - a[0]) * (y - a[1]) / (b[1] - a[1]) + a[0]));
                    }
                }
                a = b;
            }
        }
        crossings.sort_unstable_by(|p, q| p.0.cmp(&q.0).then(p.1.total_cmp(&q.1)));
        for row in crossings.chunk_by(|p, q| p.0 == q.0) {
            for pair in row.chunks_exact(2) {
                mark(pair[0].0, columns(pair[0].1, pair[1].1, step));
            }
        }
        let mut runs = Vec::new();
        for (i, row) in bits.chunks_exact(words.max(1)).enumerate() {
            push_runs(row, first + i as i32, left, &mut runs);
        }
        Mask { runs }
    }
    /// The same points, longest runs first: most places are refused by the first run that is asked.
    #[must_use]
    pub fn longest_first(mut self) -> Mask {
        self.runs.sort_by_key(|r| (-r.len, r.row, r.from));
        self
    }
}

/// The runs of set bits of a row whose first bit is column `left`.
fn push_runs(bits: &[u64], row: i32, left: i32, runs: &mut Vec<Run>) {
    let mut from = None;
    for (w, &word) in bits.iter().enumerate() {
        let mut at = 0;
        // From one change to the next; a run may go on into the next word.
        while at < 64 {
            let rest = if from.is_some() { !word >> at } else { word >> at };
            let next = at + rest.trailing_zeros();
            if next >= 64 {
                break;
            }
            let column = left + (w * 64) as i32 + next as i32;
            match from.take() {
                Some(from) => runs.push(Run { row, from, len: column - from }),
                None => from = Some(column),
            }
            at = next;
        }
    }
    if let Some(from) = from {
        runs.push(Run { row, from, len: left + (bits.len() * 64) as i32 - from });
    }
}

/// The least whole number that is not below; for numbers of 32 bits. The processor's own rounding is not in
/// all processors that the program runs on, and a call of the library's takes longer than all else here.
#[inline]
fn ceil(v: f64) -> i32 {
    let near = v as i32;
    near + i32::from(f64::from(near) < v)
}

/// The largest whole number that is not above.
#[inline]
fn floor(v: f64) -> i32 {
    let near = v as i32;
    near - i32::from(f64::from(near) > v)
}

fn rows_between(lo: f64, hi: f64, step: f64, first: i32, last: i32) -> std::ops::RangeInclusive<i32> {
    ceil(lo / step).max(first)..=floor(hi / step).min(last)
}

/// Columns whose points lie in a span, taken a hair wide.
fn columns(x0: f64, x1: f64, step: f64) -> (i32, i32) {
    (ceil((x0 - HAIR) / step), floor((x1 + HAIR) / step))
}

/// The points within a distance of a segment.
struct Capsule {
    ends: [[f64; 2]; 2],
    /// Square of the distance.
    d2: f64,
    /// Corners of the rectangle beside the segment; none if it has no length.
    corners: Option<[[f64; 2]; 4]>,
}

impl Capsule {
    fn new(a: [f64; 2], b: [f64; 2], d: f64) -> Capsule {
        let (ux, uy) = (b[0] - a[0], b[1] - a[1]);
        let len = (ux * ux + uy * uy).sqrt();
        let (nx, ny) = (-uy / len * d, ux / len * d);
        let beside = || {
            [[a[0] + nx, a[1] + ny], [b[0] + nx, b[1] + ny], [b[0] - nx, b[1] - ny], [a[0] - nx, a[1] - ny]]
        };
        Capsule { ends: [a, b], d2: d * d, corners: (len > 0.0).then(beside) }
    }
    /// Where the line at height y crosses it: a span, since it is convex.
    #[inline]
    fn span(&self, y: f64) -> Option<(f64, f64)> {
        let (mut x0, mut x1) = (f64::INFINITY, f64::NEG_INFINITY);
        for p in self.ends {
            let h2 = self.d2 - (y - p[1]) * (y - p[1]);
            if h2 >= 0.0 {
                let w = h2.sqrt();
                x0 = x0.min(p[0] - w);
                x1 = x1.max(p[0] + w);
            }
        }
        if let Some(corners) = &self.corners {
            let side = |p: [f64; 2], q: [f64; 2]| {
                let (lo, hi) = (p[1].min(q[1]), p[1].max(q[1]));
                (y >= lo && y <= hi && hi > lo).then(|| p[0] + (q[0] - p[0]) * (y - p[1]) / (q[1] - p[1]))
            };
            for k in 0..4 {
                if let Some(x) = side(corners[k], corners[(k + 1) % 4]) {
                    x0 = x0.min(x);
                    x1 = x1.max(x);
                }
            }
        }
        (x0 <= x1).then_some((x0, x1))
    }
}

/// Where the line at height y crosses the points within d of the segment a-b.
pub(super) fn capsule_span(a: [f64; 2], b: [f64; 2], d: f64, y: f64) -> Option<(f64, f64)> {
    Capsule::new(a, b, d).span(y)
}

/// The occupied lattice points of one sheet, with their doubled windows.
#[derive(Clone, Debug)]
pub struct Grid {
    words: usize,
    levels: usize,
    pad: i32,
    /// Columns a piece's corner may be at are 0 ..= columns - 1.
    columns: i32,
    /// Row after row, level after level; rows above the last stored one are empty.
    bits: Vec<u64>,
}

impl Grid {
    /// An empty sheet with `columns` lattice columns; masks may reach `pad` beyond its edges and have runs of
    /// at most `longest` points.
    pub fn new(columns: i32, pad: i32, longest: i32) -> Grid {
        let words = (columns + 2 * pad) as usize / 64 + 2;
        let levels = (longest.max(1) as u32).ilog2() as usize + 1;
        Grid { words, levels, pad, columns, bits: Vec::new() }
    }
    fn row(&self, row: i32, level: usize) -> Option<&[u64]> {
        let at = (row + self.pad) as usize * self.levels + level;
        self.bits.get(at * self.words..(at + 1) * self.words)
    }
    /// Marks a mask's points with the corner at column `x`, row `y`.
    pub fn occupy(&mut self, mask: &Mask, x: i32, y: i32) {
        let mut at = 0;
        while at < mask.runs.len() {
            let row = mask.runs[at].row;
            let end = at + mask.runs[at..].iter().take_while(|r| r.row == row).count();
            let index = row + y + self.pad;
            let limit = self.words as i32 * 64;
            if index >= 0 {
                let spans = mask.runs[at..end].iter().map(|r| {
                    let from = (r.from + x + self.pad).clamp(0, limit);
                    (from as usize, (r.from + r.len + x + self.pad).clamp(0, limit) as usize)
                });
                self.set(index as usize, &spans.collect::<Vec<_>>());
            }
            at = end;
        }
    }
    fn set(&mut self, index: usize, spans: &[(usize, usize)]) {
        let stride = self.words * self.levels;
        if self.bits.len() < (index + 1) * stride {
            self.bits.resize((index + 1) * stride, 0);
        }
        let row = &mut self.bits[index * stride..(index + 1) * stride];
        for &(from, to) in spans {
            fill(&mut row[..self.words], from, to);
        }
        for k in 1..self.levels {
            let (below, above) = row.split_at_mut(k * self.words);
            let below = &below[(k - 1) * self.words..];
            let shift = 1usize << (k - 1);
            let (skip, bit) = (shift / 64, shift % 64);
            for i in 0..self.words {
                above[i] = below[i] | shifted(below, i + skip, bit);
            }
        }
    }
    /// Columns at which the mask's corner may be in row `y`, as bits; false if there is none.
    pub fn free_columns(&self, mask: &Mask, y: i32, last: i32, free: &mut Vec<u64>) -> bool {
        self.free_columns_from(mask, y, 0..=last, free)
    }
    /// The same of some columns only: those before and after them count as taken.
    pub fn free_columns_from(
        &self,
        mask: &Mask,
        y: i32,
        columns: std::ops::RangeInclusive<i32>,
        free: &mut Vec<u64>,
    ) -> bool {
        let (first, last) = ((*columns.start()).max(0), (*columns.end()).min(self.columns - 1));
        if last < first {
            return false;
        }
        let (mut lo, mut hi) = (first as usize / 64, last as usize / 64 + 1);
        free.clear();
        free.resize(hi, 0);
        free[lo..hi].fill(u64::MAX);
        free[hi - 1] = u64::MAX >> (63 - last as usize % 64);
        free[lo] &= u64::MAX << (first as usize % 64);
        for run in &mask.runs {
            let level = (run.len as u32).ilog2() as usize;
            let Some(window) = self.row(run.row + y, level) else { continue };
            let s1 = (self.pad + run.from) as usize;
            let s2 = s1 + run.len as usize - (1 << level);
            let (w1, b1, w2, b2) = (s1 / 64, s1 % 64, s2 / 64, s2 % 64);
            for (i, word) in free[lo..hi].iter_mut().enumerate() {
                *word &= !(shifted(window, lo + i + w1, b1) | shifted(window, lo + i + w2, b2));
            }
            while lo < hi && free[lo] == 0 {
                lo += 1;
            }
            while lo < hi && free[hi - 1] == 0 {
                hi -= 1;
            }
            if lo == hi {
                return false;
            }
        }
        true
    }
    /// The lowest row, and in it the leftmost column, at which the mask's corner may be.
    pub fn lowest(
        &self,
        mask: &Mask,
        rows: std::ops::RangeInclusive<i32>,
        last: i32,
        free: &mut Vec<u64>,
    ) -> Option<(i32, i32)> {
        for y in rows {
            if self.free_columns(mask, y, last, free) {
                let at = free.iter().position(|w| *w != 0)?;
                return Some((y, (at * 64) as i32 + free[at].trailing_zeros() as i32));
            }
        }
        None
    }
    /// The twin of [`Grid::free_columns`]: point by point.
    pub fn is_free(&self, mask: &Mask, x: i32, y: i32) -> bool {
        mask.runs.iter().all(|r| {
            self.row(r.row + y, 0).is_none_or(|bits| {
                (r.from..r.from + r.len).all(|c| {
                    let at = (c + x + self.pad) as usize;
                    bits[at / 64] >> (at % 64) & 1 == 0
                })
            })
        })
    }
}

#[inline]
fn shifted(bits: &[u64], word: usize, bit: usize) -> u64 {
    let low = bits.get(word).copied().unwrap_or(0) >> bit;
    let high = bits.get(word + 1).copied().unwrap_or(0);
    low | (high << 1 << (63 - bit))
}

fn fill(bits: &mut [u64], from: usize, to: usize) {
    if from >= to {
        return;
    }
    let (w0, w1) = (from / 64, (to - 1) / 64);
    let (m0, m1) = (u64::MAX << (from % 64), u64::MAX >> (63 - (to - 1) % 64));
    if w0 == w1 {
        bits[w0] |= m0 & m1;
    } else {
        bits[w0] |= m0;
        bits[w0 + 1..w1].fill(u64::MAX);
        bits[w1] |= m1;
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn l_shape() -> Vec<Ring> {
        vec![vec![[0.0, 0.0], [9.0, 0.0], [9.0, 3.0], [3.0, 3.0], [3.0, 8.0], [0.0, 8.0]]]
    }

    proptest! {
        /// Truth: the distance from each lattice point to the polygon, computed directly.
        #[test]
        fn a_mask_holds_the_points_near_the_shape(d in 0.1..3.0f64, step in 0.3..1.5f64) {
            let rings = l_shape();
            let mask = Mask::of(&rings, d, step);
            let flat = crate::outline::Flat::<crate::base::frame::Art>::new(rings, crate::base::units::Mm(0.0));
            let near = crate::outline::Clearance::new(flat);
            for row in -20..40 {
                for col in -20..40 {
                    let p = crate::base::frame::Point::mm(f64::from(col) * step, f64::from(row) * step);
                    let gap = if near.contains(p) { 0.0 } else { near.nearest(p, crate::base::units::Mm(1e3)).unwrap().distance.0 };
                    let held = mask.runs.iter().any(|r| r.row == row && col >= r.from && col < r.from + r.len);
                    prop_assert!((gap <= d) == held || (gap - d).abs() < 1e-8, "{row} {col} {gap} {d} {held}");
                }
            }
        }

        /// The standard library's rounding is the reference.
        #[test]
        fn whole_numbers_are_those_of_the_library(v in -1e6..1e6f64, n in -1000i32..1000) {
            for v in [v, f64::from(n), f64::from(n) + 1e-9, f64::from(n) - 1e-9, v * 1e-5] {
                prop_assert_eq!((ceil(v), floor(v)), (v.ceil() as i32, v.floor() as i32));
            }
        }

        /// Truth: bit by bit.
        #[test]
        fn runs_are_those_of_the_bits(words in prop::collection::vec(prop_oneof![any::<u64>(), Just(0), Just(u64::MAX), any::<u64>().prop_map(|w| w & w << 1 & w << 2)], 0..4)) {
            let mut runs = Vec::new();
            push_runs(&words, 7, -5, &mut runs);
            let set = |c: i32| c >= 0 && words.get(c as usize / 64).is_some_and(|w| w >> (c % 64) & 1 == 1);
            let mut want = Vec::new();
            for c in (0..words.len() as i32 * 64).filter(|&c| set(c) && !set(c - 1)) {
                let len = (c..).take_while(|&c| set(c)).count() as i32;
                want.push(Run { row: 7, from: c - 5, len });
            }
            prop_assert_eq!(runs, want);
        }

        /// Fast equals slow: windows of bits against single points.
        #[test]
        fn windows_agree_with_single_points(places in prop::collection::vec((0..150i32, 0..60i32), 1..9), step in 0.2..0.9f64) {
            let occupied = Mask::of(&l_shape(), 0.7 * step, step);
            let asks = Mask::of(&l_shape(), 0.7 * step + 1.0, step).longest_first();
            let mut grid = Grid::new(200, 12, 80);
            for (x, y) in places {
                grid.occupy(&occupied, x, y);
            }
            let mut free = Vec::new();
            for y in 0..70 {
                let some = grid.free_columns(&asks, y, 199, &mut free);
                let mut any = false;
                for x in 0..200 {
                    let want = grid.is_free(&asks, x, y);
                    any |= want;
                    if some {
                        prop_assert_eq!(free[x as usize / 64] >> (x % 64) & 1 == 1, want);
                    }
                }
                prop_assert_eq!(some, any);
            }
        }
    }
}
