//! Leaves out of a union what lies deep under other regions, before anything is cut.
//!
//! Shaded drawings paint thousands of regions one upon another: their outlines cross a million times, but
//! hardly any crossing is a corner of the union. Space is divided into squares; those that one region covers
//! wholly, a margin round them included, are the *cover*, joined into larger squares, its [`Block`]s.
//! Whatever stretch of an outline runs through the inside of a block goes by the block's middle instead:
//!
//! ```text
//!   +---\---+      +---\---+
//!   |    \  |      |   |   |     Stretch and detour lie within one block, so no winding number changes outside the
//!   |    /  |  ->  |   *   |     blocks. In the blocks it may become any number, but there the cover fills, which is
//!   |   /   |      |  /    |     joined to the union as the clip. Detours meet in the middle only: nothing is left to
//!   +--/----+      +-/-----+     be cut there. The border of the cover is no edge of the union: both sides are filled.
//! ```
//!
//! Imports: base, outline::trace.

use super::trace::{Edge, Kind, Track};
use crate::base::tolerance::{FLATTEN, GRID};
use kurbo::Point;

/// Fewer edges are united as they are.
const FEW: usize = 4000;
/// Squares along the longer side of everything: at least and at most, powers of two.
const SQUARES: (usize, usize) = (16, 512);
/// Squares that all edges together may pass: long hatches get larger squares.
const PASSED: i64 = 4_000_000;
/// How far an edge of the union is from every block, in steps of the grid: the exact curves of a result are
/// looked for near their chords, and must find no border there.
const MARGIN: f64 = 8.0 * FLATTEN.0 / GRID.0;
/// Coordinates are whole steps of the grid below this, so that products of two are exact enough.
const FARTHEST: i64 = 1 << 30;

/// x, y in steps of the grid.
type Place = [i64; 2];

/// A square, or a square of squares, that lies inside the union: left, bottom, right, top.
type Block = [i64; 4];

/// The same union with less to cut: outlines that take detours through covered squares, and the outline of
/// those squares.
pub(super) struct Thinned {
    /// The tracks without what lies in the cover.
    pub(super) subject: Vec<Track>,
    /// Outline of the cover.
    pub(super) cover: Vec<Track>,
}

/// The same union with less in it: tracks of regions laid one upon another, `owner` saying which region a
/// track is an outline of (those of one region follow each other). Every region must keep the invariant of
/// [`Region`](super::Region). None where nothing is covered or there is too little of it.
pub(super) fn thinned(tracks: &[Track], owner: &[u32]) -> Option<Thinned> {
    let total: usize = tracks.iter().map(|t| t.edges.len()).sum();
    if total < FEW {
        return None;
    }
    let rings: Vec<Vec<Place>> =
        tracks.iter().map(|t| t.edges.iter().map(|e| place(e.p)).collect()).collect();
    let squares = Squares::over(&rings, total)?;
    let covered = squares.covered(&rings, owner);
    let blocks = covered.blocks(&squares)?;
    let subject = tracks.iter().zip(&rings).filter_map(|(t, ring)| blocks.cut(&squares, t, ring)).collect();
    Some(Thinned { subject, cover: covered.outline(&squares) })
}

fn place(p: Point) -> Place {
    [(p.x / GRID.0).round() as i64, (p.y / GRID.0).round() as i64]
}

fn point(p: Place) -> Point {
    Point::new(p[0] as f64 * GRID.0, p[1] as f64 * GRID.0)
}

/// The division of space.
struct Squares {
    low: Place,
    /// Steps of the grid along a square.
    side: i64,
    /// Squares along each side, a power of two.
    n: usize,
}

impl Squares {
    fn over(rings: &[Vec<Place>], total: usize) -> Option<Squares> {
        let (mut low, mut high) = ([i64::MAX; 2], [i64::MIN; 2]);
        for p in rings.iter().flatten() {
            for k in 0..2 {
                low[k] = low[k].min(p[k]);
                high[k] = high[k].max(p[k]);
            }
        }
        let longer = (high[0] - low[0]).max(high[1] - low[1]);
        let far = low.iter().chain(&high).any(|v| v.abs() >= FARTHEST);
        let mut n = (2 * total.isqrt()).next_power_of_two().clamp(SQUARES.0, SQUARES.1);
        let length = |ring: &Vec<Place>| -> i64 {
            let ahead = ring.iter().cycle().skip(1);
            ring.iter().zip(ahead).map(|(a, b)| (a[0] - b[0]).abs() + (a[1] - b[1]).abs()).sum()
        };
        if far {
            return None;
        }
        let length: i64 = rings.iter().map(length).sum();
        let passed = |n: usize| length / (longer / n as i64 + 1);
        while n > SQUARES.0 && passed(n) > PASSED {
            n /= 2;
        }
        let side = longer / n as i64 + 1;
        (passed(n) <= PASSED && side as f64 > 4.0 * MARGIN).then_some(Squares { low, side, n })
    }
    /// Which column (0) or row (1) a coordinate lies in.
    fn at(&self, k: usize, v: f64) -> usize {
        (((v - self.low[k] as f64) / self.side as f64).floor().max(0.0) as usize).min(self.n - 1)
    }
    /// Calls `look` with every row that an edge with its margin passes, and the first and last column there.
    fn rows(&self, a: Place, b: Place, margin: f64, mut look: impl FnMut(usize, usize, usize)) {
        let (a, b) = if a[1] <= b[1] { (a, b) } else { (b, a) };
        let [[ax, ay], [bx, by]] = [a, b].map(|p| p.map(|v| v as f64));
        let (first, last) = (self.at(1, ay - margin), self.at(1, by + margin));
        for row in first..=last {
            let bottom = (self.low[1] + row as i64 * self.side) as f64 - margin;
            let top = bottom + self.side as f64 + 2.0 * margin;
            let x =
                |y: f64| if by > ay { ax + (bx - ax) * ((y - ay) / (by - ay)).clamp(0.0, 1.0) } else { ax };
            let (p, q) = if by > ay { (x(bottom), x(top)) } else { (ax, bx) };
            // A step more for rounding.
            look(row, self.at(0, p.min(q) - margin - 1.0), self.at(0, p.max(q) + margin + 1.0));
        }
    }
    /// Squares that one region covers with a margin: in every row, between the edges of a region where it
    /// winds.
    fn covered(&self, rings: &[Vec<Place>], owner: &[u32]) -> Covered {
        let mut steps = vec![0i32; (self.n + 1) * self.n];
        let mut passed: Vec<(u32, u32, u32, i32)> = Vec::new();
        let mut from = 0;
        while from < rings.len() {
            let to = from + owner[from..].iter().take_while(|&&o| o == owner[from]).count();
            passed.clear();
            for ring in &rings[from..to] {
                for (i, &a) in ring.iter().enumerate() {
                    let b = ring[(i + 1) % ring.len()];
                    self.rows(a, b, MARGIN, |row, c0, c1| {
                        passed.push((row as u32, c0 as u32, c1 as u32, self.turns(row, a, b)));
                    });
                }
            }
            passed.sort_unstable();
            self.between(&passed, &mut steps);
            from = to;
        }
        Covered::of(self.n, &steps)
    }
    /// By how much the winding number grows to the right of an edge, on the middle line of a row.
    fn turns(&self, row: usize, a: Place, b: Place) -> i32 {
        let middle = self.low[1] + row as i64 * self.side + self.side / 2;
        i32::from(b[1] <= middle) - i32::from(a[1] <= middle)
    }
    /// Marks where the runs of squares begin and end that lie between the edges of a region, inside it.
    fn between(&self, passed: &[(u32, u32, u32, i32)], steps: &mut [i32]) {
        let mut k = 0;
        while k < passed.len() {
            let row = passed[k].0;
            let (mut winds, mut free) = (0, 0u32);
            while k < passed.len() && passed[k].0 == row {
                let (_, c0, mut c1, _) = passed[k];
                if winds > 0 && c0 > free {
                    let at = row as usize * (self.n + 1);
                    steps[at + free as usize] += 1;
                    steps[at + c0 as usize] -= 1;
                }
                while k < passed.len() && passed[k].0 == row && passed[k].1 <= c1 {
                    c1 = c1.max(passed[k].2);
                    winds += passed[k].3;
                    k += 1;
                }
                free = c1 + 1;
            }
        }
    }
}

/// How many covered squares lie to the left of and below each corner of squares.
struct Covered {
    n: usize,
    sums: Vec<u32>,
}

impl Covered {
    fn of(n: usize, steps: &[i32]) -> Covered {
        let mut sums = vec![0u32; (n + 1) * (n + 1)];
        for row in 0..n {
            let (mut covers, mut run) = (0, 0);
            for col in 0..n {
                covers += steps[row * (n + 1) + col];
                run += u32::from(covers > 0);
                sums[(row + 1) * (n + 1) + col + 1] = sums[row * (n + 1) + col + 1] + run;
            }
        }
        Covered { n, sums }
    }
    fn is(&self, col: usize, row: usize) -> bool {
        col < self.n && row < self.n && self.count(col, row, 1) > 0
    }
    /// The outline, the cover to its left, with corners only where it turns.
    fn outline(&self, squares: &Squares) -> Vec<Track> {
        // From each corner of squares: does a step to the right, up, left, down have the cover to its left
        // alone?
        let m = self.n + 1;
        let mut steps = vec![[false; 4]; m * m];
        for (at, out) in steps.iter_mut().enumerate() {
            let (c, r) = (at % m, at / m);
            // The squares round the corner; those off the field wrap to numbers that are none.
            let (ne, nw) = (self.is(c, r), self.is(c.wrapping_sub(1), r));
            let (se, sw) = (self.is(c, r.wrapping_sub(1)), self.is(c.wrapping_sub(1), r.wrapping_sub(1)));
            *out = [ne && !se, nw && !ne, sw && !nw, se && !sw];
        }
        let corner = |at: usize| {
            let i = [at % m, at / m];
            point([0, 1].map(|k| squares.low[k] + i[k] as i64 * squares.side))
        };
        let mut tracks = Vec::new();
        for first in 0..steps.len() {
            while let Some(mut way) = (0..4).find(|&w| steps[first][w]) {
                let (mut at, mut edges, mut last) = (first, Vec::new(), 4);
                loop {
                    if way != last {
                        edges.push(Edge { p: corner(at), kind: Kind::Filler });
                    }
                    steps[at][way] = false;
                    at = [at + 1, at + m, at.wrapping_sub(1), at.wrapping_sub(m)][way];
                    last = way;
                    match (0..4).find(|&w| steps[at][w]) {
                        Some(next) => way = next,
                        None => break,
                    }
                }
                tracks.push(Track { edges, ..Track::default() });
            }
        }
        tracks
    }
    fn count(&self, col: usize, row: usize, size: usize) -> u32 {
        let s = |c: usize, r: usize| self.sums[r * (self.n + 1) + c];
        s(col + size, row + size) + s(col, row) - s(col, row + size) - s(col + size, row)
    }
    /// Covered squares joined: the largest aligned ones first.
    fn blocks(&self, squares: &Squares) -> Option<Blocks> {
        let mut blocks = Blocks { of: vec![NONE; self.n * self.n], all: Vec::new() };
        let mut open = vec![(0, 0, self.n)];
        while let Some((col, row, size)) = open.pop() {
            let covered = self.count(col, row, size) as usize;
            if covered == size * size {
                let side = squares.side;
                let at = |k: usize, i: usize| squares.low[k] + i as i64 * side;
                for r in row..row + size {
                    blocks.of[r * self.n + col..][..size].fill(blocks.all.len() as u32);
                }
                blocks.all.push([at(0, col), at(1, row), at(0, col + size), at(1, row + size)]);
            } else if covered > 0 {
                let half = size / 2;
                open.extend(
                    [(0, 0), (half, 0), (0, half), (half, half)].map(|(c, r)| (col + c, row + r, half)),
                );
            }
        }
        (!blocks.all.is_empty()).then_some(blocks)
    }
}

const NONE: u32 = u32::MAX;

/// The blocks, and which of them each square belongs to.
struct Blocks {
    of: Vec<u32>,
    all: Vec<Block>,
}

/// A stretch of an edge: from which share of it to which, where that is, and the block whose inside it runs
/// through.
#[derive(Clone, Copy)]
struct Stretch {
    edge: usize,
    share: (f64, f64),
    from: Place,
    to: Place,
    block: u32,
}

impl Blocks {
    /// A track with its stretches through blocks replaced; none if all of it lies in one.
    fn cut(&self, squares: &Squares, track: &Track, ring: &[Place]) -> Option<Track> {
        let mut stretches: Vec<Stretch> = Vec::with_capacity(ring.len());
        let mut through: Vec<Stretch> = Vec::new();
        for (edge, &from) in ring.iter().enumerate() {
            let to = ring[(edge + 1) % ring.len()];
            self.through(squares, edge, from, to, &mut through);
            let (mut share, mut at) = (0.0, from);
            for s in through.drain(..) {
                if s.from != at {
                    stretches.push(Stretch {
                        edge,
                        share: (share, s.share.0),
                        from: at,
                        to: s.from,
                        block: NONE,
                    });
                }
                stretches.push(s);
                (share, at) = (s.share.1, s.to);
            }
            if at != to || share == 0.0 {
                stretches.push(Stretch { edge, share: (share, 1.0), from: at, to, block: NONE });
            }
        }
        // Begins where a detour may: not in the inside of a block.
        let start =
            stretches.iter().position(|s| s.block == NONE || !inside(&self.all[s.block as usize], s.from))?;
        stretches.rotate_left(start);
        let mut edges: Vec<Edge> = Vec::with_capacity(stretches.len());
        let mut k = 0;
        while k < stretches.len() {
            let s = stretches[k];
            k += 1;
            if s.block == NONE {
                edges.push(part(track, &s));
                continue;
            }
            let block = &self.all[s.block as usize];
            let mut to = s.to;
            while inside(block, to) && k < stretches.len() {
                to = stretches[k].to;
                k += 1;
            }
            if s.from != to {
                let middle = [(block[0] + block[2]) / 2, (block[1] + block[3]) / 2];
                edges.extend([s.from, middle].map(|p| Edge { p: point(p), kind: Kind::Filler }));
            }
        }
        (edges.len() > 1).then(|| Track { segs: track.segs.clone(), by: track.by, edges })
    }
    /// The stretches of an edge inside blocks, in its order.
    fn through(&self, squares: &Squares, edge: usize, from: Place, to: Place, out: &mut Vec<Stretch>) {
        if from == to {
            return;
        }
        let mut met: Vec<u32> = Vec::new();
        squares.rows(from, to, 0.0, |row, c0, c1| {
            let here = &self.of[row * squares.n + c0..=row * squares.n + c1];
            met.extend(here.iter().filter(|b| **b != NONE));
        });
        met.sort_unstable();
        met.dedup();
        out.extend(met.into_iter().filter_map(|block| {
            let (share, from, to) = crossed(&self.all[block as usize], from, to)?;
            Some(Stretch { edge, share, from, to, block })
        }));
        out.sort_by(|a, b| a.share.0.total_cmp(&b.share.0).then(a.share.1.total_cmp(&b.share.1)));
    }
}

fn inside(b: &Block, p: Place) -> bool {
    b[0] < p[0] && p[0] < b[2] && b[1] < p[1] && p[1] < b[3]
}

/// The part of an edge inside a block: its shares and ends, which lie on the border or are the edge's own.
fn crossed(b: &Block, from: Place, to: Place) -> Option<((f64, f64), Place, Place)> {
    // The same line cut the same way, whichever way it runs.
    if from > to {
        let ((lo, hi), p, q) = crossed(b, to, from)?;
        return Some(((1.0 - hi, 1.0 - lo), q, p));
    }
    let (mut lo, mut hi) = ((0.0, None), (1.0, None));
    for k in 0..2 {
        let d = to[k] - from[k];
        let (low, high) = (b[k], b[k + 2]);
        if d == 0 {
            if from[k] <= low || from[k] >= high {
                return None;
            }
            continue;
        }
        let (enters, leaves) = if d > 0 { (low, high) } else { (high, low) };
        let share = |v: i64| (v - from[k]) as f64 / d as f64;
        if share(enters) >= lo.0 {
            lo = (share(enters), Some((k, enters)));
        }
        if share(leaves) <= hi.0 {
            hi = (share(leaves), Some((k, leaves)));
        }
    }
    if lo.0 >= hi.0 {
        return None;
    }
    let end = |(share, border): (f64, Option<(usize, i64)>), own: Place| match border {
        None => own,
        Some((k, v)) => {
            let o = 1 - k;
            let across = from[o] as f64 + share * (to[o] - from[o]) as f64;
            let mut p = [0; 2];
            (p[k], p[o]) = (v, (across.round() as i64).clamp(b[o], b[o + 2]));
            p
        }
    };
    let (p, q) = (end(lo, from), end(hi, to));
    // What rounding makes nothing of, or puts along the border, is not inside.
    let along = (0..2).any(|k| p[k] == q[k] && (p[k] == b[k] || p[k] == b[k + 2]));
    (p != q && !along).then_some(((lo.0, hi.0), p, q))
}

/// An edge's stretch as an edge.
fn part(track: &Track, s: &Stretch) -> Edge {
    let whole = track.edges[s.edge];
    let kind = match whole.kind {
        Kind::Smooth { seg, t0, t1 } => {
            let t = |share: f64| t0 + share * (t1 - t0);
            Kind::Smooth { seg, t0: t(s.share.0), t1: if s.share.1 == 1.0 { t1 } else { t(s.share.1) } }
        }
        Kind::Arc { at, a0, turn } => {
            Kind::Arc { at, a0: a0 + s.share.0 * turn, turn: (s.share.1 - s.share.0) * turn }
        }
        kind => kind,
    };
    Edge { p: if s.share.0 == 0.0 { whole.p } else { point(s.from) }, kind }
}
