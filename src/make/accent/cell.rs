//! [`Cell`]: the pieces of outlines in one cell of the grid, exact and again in blocks that are asked
//! together.
//!
//! Imports: outline.

use super::outline::{V, add, sub};
use crate::outline::plane::nearest_on_segment;

/// Whose outline: an owner's number and which copy of it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Owner(pub u32);

impl Owner {
    pub fn new(id: usize, turn: i32) -> Owner {
        Owner(id as u32 * 3 + (turn + 1) as u32)
    }
    pub fn id(self) -> usize {
        self.0 as usize / 3
    }
}

/// A piece of an outline no longer than a cell.
#[derive(Clone, Copy, Debug)]
pub(super) struct Segment {
    pub a: V,
    /// To its other end.
    pub e: V,
    /// Distance that this outline wants beyond the gap.
    pub more: f32,
    pub owner: Owner,
}

impl Segment {
    /// Distance of a point, and from the nearest place to it.
    pub fn nearest(&self, p: V) -> (f64, V) {
        let (d2, q) = nearest_on_segment(p, self.a, self.b());
        (d2.sqrt(), sub(p, q))
    }
    pub fn b(&self) -> V {
        add(self.a, self.e)
    }
}

/// Segments that one look at a [`Block`] measures.
const LANES: usize = 4;

/// A few segments of a cell side by side, from the cell's corner: good to a millionth of a millimetre, and
/// asked together.
#[derive(Clone, Copy, Debug)]
struct Block {
    ax: [f32; LANES],
    ay: [f32; LANES],
    ex: [f32; LANES],
    ey: [f32; LANES],
    /// 1 / |e|^2: the inner loop divides by nothing.
    inverse: [f32; LANES],
}

/// Far from everything: stands in lanes that hold no segment.
const NOWHERE: f32 = 1e15;

impl Block {
    const EMPTY: Block = Block {
        ax: [NOWHERE; LANES],
        ay: [NOWHERE; LANES],
        ex: [0.0; LANES],
        ey: [0.0; LANES],
        inverse: [0.0; LANES],
    };
    /// Squared distances of a point.
    #[inline]
    fn squares(&self, x: f32, y: f32) -> [f32; LANES] {
        let mut out = [0.0; LANES];
        for (k, out) in out.iter_mut().enumerate() {
            let (wx, wy) = (x - self.ax[k], y - self.ay[k]);
            let t = (wx * self.ex[k] + wy * self.ey[k]) * self.inverse[k];
            let t = if t > 0.0 { t } else { 0.0 };
            let t = if t < 1.0 { t } else { 1.0 };
            let (rx, ry) = (wx - t * self.ex[k], wy - t * self.ey[k]);
            *out = rx * rx + ry * ry;
        }
        out
    }
}

/// The segments of a cell: exact ones, and the same in blocks.
#[derive(Clone, Debug, Default)]
pub(super) struct Cell {
    pub segments: Vec<Segment>,
    blocks: Vec<Block>,
}

impl Cell {
    pub fn push(&mut self, s: Segment, corner: V) {
        if self.segments.len() == LANES * self.blocks.len() {
            self.blocks.push(Block::EMPTY);
        }
        self.set(self.segments.len(), &s, corner);
        self.segments.push(s);
    }
    fn set(&mut self, i: usize, s: &Segment, corner: V) {
        let (b, k) = (&mut self.blocks[i / LANES], i % LANES);
        let a = sub(s.a, corner);
        (b.ax[k], b.ay[k], b.ex[k], b.ey[k]) = (a[0] as f32, a[1] as f32, s.e[0] as f32, s.e[1] as f32);
        let long = b.ex[k] * b.ex[k] + b.ey[k] * b.ey[k];
        b.inverse[k] = if long > 0.0 { 1.0 / long } else { 0.0 };
    }
    /// Takes an owner's segments out; the others keep their order.
    pub fn leave(&mut self, owner: Owner, corner: V) {
        let Some(first) = self.segments.iter().position(|s| s.owner == owner) else { return };
        let rest: Vec<Segment> = self.segments.drain(first..).filter(|s| s.owner != owner).collect();
        self.blocks.truncate(first.div_ceil(LANES));
        if let Some(b) = self.blocks.last_mut() {
            for k in (first - 1) % LANES + 1..LANES {
                (b.ax[k], b.ay[k], b.ex[k], b.ey[k], b.inverse[k]) = (NOWHERE, NOWHERE, 0.0, 0.0, 0.0);
            }
        }
        rest.into_iter().for_each(|s| self.push(s, corner));
    }
    /// The nearest segment nearer than `best`, wishes (`most` at most) taken off: its distance and number.
    #[inline]
    pub fn nearest(&self, [x, y]: [f32; 2], best: f64, most: f64, but: Owner) -> Option<(f64, usize)> {
        let most = most as f32;
        let mut best = best as f32;
        let limit = |best: f32| if best + most > 0.0 { (best + most) * (best + most) } else { 0.0 };
        let mut limit2 = limit(best);
        let mut found = None;
        for (n, block) in self.blocks.iter().enumerate() {
            let d2 = block.squares(x, y);
            if !d2.iter().any(|d| *d < limit2) {
                continue;
            }
            for (k, d2) in d2.iter().enumerate() {
                if *d2 < limit2 {
                    let s = &self.segments[LANES * n + k];
                    let d = d2.sqrt() - s.more;
                    if d < best && s.owner != but {
                        best = d;
                        limit2 = limit(best);
                        found = Some(LANES * n + k);
                    }
                }
            }
        }
        found.map(|i| (f64::from(best), i))
    }
}
