//! [`DistanceField`]: a raster of distances, the guide to where room is left; nothing is accepted on its
//! word.
//!
//! Blocks of pixels with a tournament tree of their best values give the next void in a few steps.
//!
//! Imports: base, outline, make::accent::obstacle_grid.

use super::outline::{V, len, sub};
use crate::base::random::Random;
use crate::make::accent::obstacle_grid::ObstacleGrid;
use crate::outline::plane::points_box;

const BLOCK: usize = 16;
/// So far beside what was lifted, mm, places that were given up are tried again.
const BESIDE: f64 = 2.0;
/// Stands where a band is nearest.
const NOBODY: u32 = u32::MAX;
/// What a millimetre farther from the limits adds to how much a place is wanted: any small figure keeps the order.
const INWARDS: f32 = 0.01;
const UNCHANGED: [usize; 4] = [usize::MAX, usize::MAX, 0, 0];

/// Distance to the nearest outline or band, at pixel middles; negative inside outlines and off the wall.
#[derive(Clone, Debug)]
pub(super) struct DistanceField {
    pub pixel: f64,
    /// 1 / pixel.
    inverse: f64,
    origin: V,
    nx: usize,
    ny: usize,
    /// Blocks in a row.
    bx: usize,
    d: Vec<f32>,
    /// Distances above this are not told apart.
    pub cap: f64,
    /// On the turn itself (not a copy beyond the seam).
    own: Vec<bool>,
    /// Pixels given up: no shape fitted from there.
    dead: Vec<bool>,
    /// From this distance on the largest shape of the library has room.
    pub wanted: f32,
    /// Distance to the nearer limit of the bare wall.
    limit: Vec<f32>,
    /// Whose outline is the nearest: what is lifted again is known by it.
    who: Vec<u32>,
    /// Best pixel of each node of the tree; leaves are blocks.
    tree: Vec<(f32, u32)>,
    leaves: usize,
    /// Largest distance of each block.
    peaks: Vec<f32>,
    /// Pixels changed since [`Self::settled`]: columns and rows, the last ones not among them.
    changed: [usize; 4],
    /// Work space of painting.
    squares: Vec<f32>,
    across: Vec<f32>,
}

impl DistanceField {
    /// The bare wall: only the bands.
    pub fn new(world: &ObstacleGrid, pixel: f64, cap: f64) -> DistanceField {
        let (origin, size) = world.bounds();
        let (nx, ny) = (libm::ceil(size[0] / pixel) as usize, libm::ceil(size[1] / pixel) as usize);
        let (bx, by) = (nx.div_ceil(BLOCK), ny.div_ceil(BLOCK));
        let leaves = (bx * by).next_power_of_two();
        let mut d = vec![-1.0f32; nx * ny];
        let mut own = vec![false; nx * ny];
        let mut limit = vec![0.0f32; nx * ny];
        for y in 0..ny {
            for x in 0..nx {
                let p = at(origin, pixel, x, y);
                let band = world.band(p);
                if band > -pixel {
                    let (kept, turn) = world.inside(p);
                    if kept {
                        d[y * nx + x] = band.min(cap) as f32;
                        limit[y * nx + x] = band as f32;
                        own[y * nx + x] = turn;
                    }
                }
            }
        }
        let dead = vec![false; nx * ny];
        let tree = vec![(f32::NEG_INFINITY, 0); 2 * leaves];
        DistanceField {
            pixel,
            inverse: 1.0 / pixel,
            origin,
            nx,
            ny,
            bx,
            d,
            cap,
            own,
            dead,
            wanted: f32::INFINITY,
            limit,
            who: vec![NOBODY; nx * ny],
            tree,
            leaves,
            peaks: vec![0.0; bx * by],
            changed: UNCHANGED,
            squares: Vec::new(),
            across: Vec::new(),
        }
    }
    /// Makes the tree of maxima; after this it is kept up.
    pub fn ready(&mut self) {
        let blocks = self.bx * self.ny.div_ceil(BLOCK);
        for b in 0..blocks {
            (self.tree[self.leaves + b], self.peaks[b]) = self.best_of(b);
        }
        for i in (1..self.leaves).rev() {
            self.tree[i] = better(self.tree[2 * i], self.tree[2 * i + 1]);
        }
    }
    /// The most wanted pixel of a block, and its largest distance.
    fn best_of(&self, block: usize) -> ((f32, u32), f32) {
        let (x0, y0) = (block % self.bx * BLOCK, block / self.bx * BLOCK);
        let (mut best, mut peak) = ((f32::NEG_INFINITY, 0u32), 0.0f32);
        for y in y0..(y0 + BLOCK).min(self.ny) {
            for x in x0..(x0 + BLOCK).min(self.nx) {
                let i = y * self.nx + x;
                let d = self.d[i];
                if d <= 0.0 || !self.own[i] {
                    continue;
                }
                peak = peak.max(d);
                let value = self.worth(i, d);
                if value > best.0 && !self.dead[i] {
                    best = (value, i as u32);
                }
            }
        }
        (best, peak)
    }
    /// How much a pixel at distance `d` is wanted. Where the largest shape of the library has room, the place
    /// farthest from the limits goes first: a fill grows from inside. Where it was the tightest one, the limits'
    /// own edge was laid first, and a row of large spots ran along it like a kerb. Then voids go by their size.
    #[inline]
    fn worth(&self, i: usize, d: f32) -> f32 {
        if d >= self.wanted { self.wanted + INWARDS * self.limit[i] } else { d }
    }
    /// The most wanted void, as a rule the largest: a place in it and its distance.
    pub fn largest(&self) -> (V, f64) {
        let i = self.tree[1].1 as usize;
        let d = if self.tree[1].0 == f32::NEG_INFINITY { 0.0 } else { f64::from(self.d[i]) };
        (at(self.origin, self.pixel, i % self.nx, i / self.nx), d)
    }
    /// Largest distance of any pixel of the turn.
    pub fn farthest(&self) -> f64 {
        f64::from(self.peaks.iter().fold(0.0f32, |m, d| m.max(*d)))
    }
    /// Gives up the pixels nearest to a void's middle.
    pub fn give_up(&mut self, p: V) {
        let (x, y) = self.pixel_of(p);
        for y in y.saturating_sub(1)..=(y + 1).min(self.ny - 1) {
            for x in x.saturating_sub(1)..=(x + 1).min(self.nx - 1) {
                self.dead[y * self.nx + x] = true;
            }
        }
        self.refresh((x.saturating_sub(1), y.saturating_sub(1)), (x + 2, y + 2));
    }
    /// Middles of the pixels of the turn whose distance is at least `d`, block by block.
    pub fn at_least(&self, d: f64) -> Vec<V> {
        let blocks = (0..self.peaks.len()).filter(|&b| f64::from(self.peaks[b]) >= d);
        blocks
            .flat_map(|b| self.pixels(b, d))
            .map(|i| at(self.origin, self.pixel, i % self.nx, i / self.nx))
            .collect()
    }
    /// One of the pixels of the turn whose distance is at least `d`: of each block alike, then of its pixels
    /// alike.
    pub fn any_at_least(&self, d: f64, random: &mut Random) -> Option<V> {
        let blocks: Vec<usize> = (0..self.peaks.len()).filter(|&b| f64::from(self.peaks[b]) >= d).collect();
        if blocks.is_empty() {
            return None;
        }
        let pixels = self.pixels(blocks[random.below(blocks.len())], d);
        let i = pixels[random.below(pixels.len())];
        Some(at(self.origin, self.pixel, i % self.nx, i / self.nx))
    }
    /// Pixels of a block, on the turn, whose distance is at least `d`.
    fn pixels(&self, block: usize, d: f64) -> Vec<usize> {
        let (x0, y0) = (block % self.bx * BLOCK, block / self.bx * BLOCK);
        let rows = (y0..(y0 + BLOCK).min(self.ny)).map(|y| y * self.nx);
        rows.flat_map(|row| row + x0..row + (x0 + BLOCK).min(self.nx))
            .filter(|&i| self.own[i] && f64::from(self.d[i]) >= d)
            .collect()
    }
    /// Does the pixel of a point have its middle inside an outline or off the wall?
    pub fn blotted(&self, p: V) -> bool {
        let (x, y) = self.pixel_of(p);
        self.d[y * self.nx + x] <= -1.0
    }
    /// Forgets what was changed.
    pub fn settled(&mut self) {
        self.changed = UNCHANGED;
    }
    /// Brings this raster to the state of another of the same wall, of which `changed` has since been changed
    /// here or there (see [`Self::changed`]).
    pub fn take_over(&mut self, from: &DistanceField, [x0, y0, x1, y1]: [usize; 4]) {
        for y in y0..y1 {
            let row = y * self.nx + x0..y * self.nx + x1;
            self.d[row.clone()].copy_from_slice(&from.d[row.clone()]);
            self.who[row.clone()].copy_from_slice(&from.who[row.clone()]);
            self.dead[row.clone()].copy_from_slice(&from.dead[row]);
        }
        self.tree.copy_from_slice(&from.tree);
        self.peaks.copy_from_slice(&from.peaks);
    }
    /// The window in which pixels were changed since [`Self::settled`]: columns and rows, ends not among
    /// them.
    pub fn changed(&self) -> [usize; 4] {
        self.changed
    }
    fn change(&mut self, from: (usize, usize), to: (usize, usize)) {
        let c = &mut self.changed;
        *c = [c[0].min(from.0), c[1].min(from.1), c[2].max(to.0), c[3].max(to.1)];
    }
    /// How uneven what is left free is in a window: the squares of all distances above `d`, summed over the
    /// turn.
    pub fn unevenness(&self, d: f64, [x0, y0, x1, y1]: [usize; 4]) -> f64 {
        let d = d as f32;
        let more = |(v, own): (&f32, &bool)| if *own && *v > d { (v - d) * (v - d) } else { 0.0 };
        (y0..y1)
            .map(|y| y * self.nx + x0..y * self.nx + x1)
            .map(|row| f64::from(self.d[row.clone()].iter().zip(&self.own[row]).map(more).sum::<f32>()))
            .sum()
    }
    /// Takes outlines out again whose owner has left the world: pixels that were nearest to them are measured
    /// anew. `bare` is the raster of what never leaves.
    pub fn lift(&mut self, owner: u32, ring: &[V], world: &ObstacleGrid, bare: &DistanceField) {
        let [x0, y0, x1, y1] = points_box(ring);
        let (lo, hi) = ([x0, y0], [x1, y1]);
        let Some((from, to)) = self.window(lo, hi, self.cap + self.pixel) else { return };
        for y in from.1..=to.1 {
            for x in from.0..=to.0 {
                let i = y * self.nx + x;
                if self.who[i] == owner {
                    (self.d[i], self.who[i]) = (bare.d[i], bare.who[i]);
                    let reach = f64::from(bare.d[i]);
                    if reach > 0.0
                        && let Some(hit) = world.nearest(at(self.origin, self.pixel, x, y), reach, None)
                    {
                        (self.d[i], self.who[i]) = (hit.d as f32, hit.owner.id() as u32);
                    }
                    self.dead[i] = false;
                }
            }
        }
        // Beside it, too, a shape may find room now.
        if let Some((from, to)) = self.window(lo, hi, BESIDE) {
            for y in from.1..=to.1 {
                self.dead[y * self.nx + from.0..=y * self.nx + to.0].fill(false);
            }
        }
        self.refresh(from, (to.0 + 1, to.1 + 1));
    }
    /// Columns and rows of the pixels near a box, if there are any: first and last.
    fn window(&self, lo: V, hi: V, reach: f64) -> Option<((usize, usize), (usize, usize))> {
        let (w, h) = (self.nx as f64 * self.pixel, self.ny as f64 * self.pixel);
        let off = [lo[0] - reach - self.origin[0], lo[1] - reach - self.origin[1]];
        let end = [hi[0] + reach - self.origin[0], hi[1] + reach - self.origin[1]];
        if off[0] >= w || off[1] >= h || end[0] < 0.0 || end[1] < 0.0 {
            return None;
        }
        Some((self.pixel_of([lo[0] - reach, lo[1] - reach]), self.pixel_of([hi[0] + reach, hi[1] + reach])))
    }
    /// Owners under new numbers.
    pub fn renumber(&mut self, new: impl Fn(u32) -> u32) {
        self.who.iter_mut().filter(|w| **w != NOBODY).for_each(|w| *w = new(*w));
    }
    /// Takes back what was given up.
    pub fn revive(&mut self) {
        self.dead.fill(false);
        self.ready();
    }
    /// The direction in which a void is longest: of eight, the one with the most room a little way off on
    /// both sides.
    pub fn lengthwise(&self, p: V) -> f64 {
        let mut best = (f64::NEG_INFINITY, 0.0);
        for k in 0..8 {
            let a = std::f64::consts::PI * f64::from(k) / 8.0;
            let off = [1.8 * libm::cos(a), 1.8 * libm::sin(a)];
            let room =
                self.distance([p[0] + off[0], p[1] + off[1]]) + self.distance([p[0] - off[0], p[1] - off[1]]);
            if room > best.0 {
                best = (room, a);
            }
        }
        best.1
    }
    fn pixel_of(&self, p: V) -> (usize, usize) {
        // Towards zero is down where it is not cut off.
        let f = |v: f64, n: usize| ((v * self.inverse).max(0.0) as usize).min(n - 1);
        (f(p[0] - self.origin[0], self.nx), f(p[1] - self.origin[1], self.ny))
    }
    /// Distance at a point, between pixels by the four nearest.
    pub fn distance(&self, p: V) -> f64 {
        let gx = ((p[0] - self.origin[0]) * self.inverse - 0.5).clamp(0.0, self.nx as f64 - 1.001);
        let gy = ((p[1] - self.origin[1]) * self.inverse - 0.5).clamp(0.0, self.ny as f64 - 1.001);
        let (x, y) = (gx as usize, gy as usize);
        let (fx, fy) = (gx - x as f64, gy - y as f64);
        let v = |x: usize, y: usize| f64::from(self.d[y.min(self.ny - 1) * self.nx + x.min(self.nx - 1)]);
        (v(x, y) * (1.0 - fx) + v(x + 1, y) * fx) * (1.0 - fy)
            + (v(x, y + 1) * (1.0 - fx) + v(x + 1, y + 1) * fx) * fy
    }
    /// Lowers the distances round a closed outline (less `more`, what it wants beyond the gap) and blots out
    /// its inside.
    pub fn paint(&mut self, owner: u32, ring: &[V], more: f64) {
        let reach = self.cap + more;
        let [x0, y0, x1, y1] = points_box(ring);
        let (lo, hi) = ([x0, y0], [x1, y1]);
        let Some((from, to)) = self.window(lo, hi, reach) else { return };
        self.spread(owner, ring, [from, to], reach, more as f32);
        self.blot(owner, ring, lo, hi);
        if self.tree[1].0 > f32::NEG_INFINITY {
            self.refresh(from, (to.0 + 1, to.1 + 1));
        }
    }
    /// Lowers the distances of a window to those from a closed outline. Points about a pixel apart stand for
    /// it; squares are kept in a window of their own, so that the root is drawn once a pixel.
    fn spread(&mut self, owner: u32, ring: &[V], [from, to]: [(usize, usize); 2], reach: f64, more: f32) {
        let (w, h) = (to.0 - from.0 + 1, to.1 - from.1 + 1);
        let mut squares = std::mem::take(&mut self.squares);
        squares.clear();
        squares.resize(w * h, f32::INFINITY);
        let step = self.pixel as f32;
        let corner = at(self.origin, self.pixel, from.0, from.1);
        let stamp = libm::ceil(2.0 * reach * self.inverse) as usize + 2;
        let mut across = std::mem::take(&mut self.across);
        let mut put = |p: V| {
            // The point in the window, in pixels from the middle of its first one.
            let (gx, gy) = ((p[0] - corner[0]) * self.inverse, (p[1] - corner[1]) * self.inverse);
            let r = reach * self.inverse;
            let first = |g: f64| (g - r).max(0.0) as usize;
            let last = |g: f64, n: usize| if g + r < 0.0 { 0 } else { ((g + r) as usize + 1).min(n) };
            let (x, y) = (first(gx), first(gy));
            let (x1, y1) = (last(gx, w), last(gy, h));
            if x >= x1 || y >= y1 {
                return;
            }
            let (n, left, low) = ((x1 - x).min(stamp), (x as f64 - gx) as f32, (y as f64 - gy) as f32);
            across.clear();
            across.extend((0..n as i32).map(|k| (left + k as f32) * (left + k as f32)));
            for (k, row) in squares.chunks_exact_mut(w).skip(y).take(y1 - y).enumerate() {
                let dy = low + k as i32 as f32;
                let dy2 = dy * dy;
                for (v, dx2) in row[x..x + n].iter_mut().zip(&across) {
                    let d2 = dx2 + dy2;
                    *v = if d2 < *v { d2 } else { *v };
                }
            }
        };
        let mut last: Option<V> = None;
        let n = ring.len();
        for i in 0..n {
            let (a, b) = (ring[i], ring[(i + 1) % n]);
            let long = len(sub(b, a));
            let pieces = ((long * self.inverse) as usize + 1).max(1);
            for k in 0..pieces {
                let f = k as f64 / pieces as f64;
                let p = [a[0] + (b[0] - a[0]) * f, a[1] + (b[1] - a[1]) * f];
                if last.is_none_or(|l| len(sub(p, l)) >= 0.9 * self.pixel) {
                    put(p);
                    last = Some(p);
                }
            }
        }
        for (k, row) in squares.chunks_exact(w).enumerate() {
            let start = (from.1 + k) * self.nx + from.0;
            let pixels = self.d[start..start + w].iter_mut().zip(&mut self.who[start..start + w]);
            for ((v, who), d2) in pixels.zip(row) {
                let d = d2.sqrt() * step - more;
                let less = d < *v;
                *v = if less { d } else { *v };
                *who = if less { owner } else { *who };
            }
        }
        (self.squares, self.across) = (squares, across);
    }
    /// Area of the turn whose distance is at least `d`, by counting pixels.
    pub fn area_beyond(&self, d: f64) -> f64 {
        // A pixel on the edge counts by how far its middle lies to either side.
        let count: f64 = (self.d.iter().zip(&self.own))
            .filter(|(_, own)| **own)
            .map(|(v, _)| ((f64::from(*v) - d) / self.pixel + 0.5).clamp(0.0, 1.0))
            .sum();
        count * self.pixel * self.pixel
    }
    /// Largest distance among the pixels of the turn where another field has at least `d`.
    pub fn largest_where(&self, other: &DistanceField, d: f64) -> f64 {
        let both = self.d.iter().zip(&other.d).zip(&self.own);
        let best = both.filter(|((_, o), own)| **own && f64::from(**o) >= d).map(|((v, _), _)| *v);
        f64::from(best.fold(0.0, f32::max))
    }
    /// Largest distance among the pixels of the turn where another field has from `[0]` up to `[1]`.
    pub fn largest_between(&self, other: &DistanceField, range: [f64; 2]) -> f64 {
        let both = self.d.iter().zip(&other.d).zip(&self.own);
        let there = |o: f32| f64::from(o) >= range[0] && f64::from(o) < range[1];
        let best = both.filter(|((_, o), own)| **own && there(**o)).map(|((v, _), _)| *v);
        f64::from(best.fold(0.0, f32::max))
    }
    fn blot(&mut self, owner: u32, ring: &[V], lo: V, hi: V) {
        let (a, b) = (self.pixel_of(lo), self.pixel_of(hi));
        let n = ring.len();
        let mut cuts: Vec<f64> = Vec::new();
        for y in a.1..=b.1 {
            let h = at(self.origin, self.pixel, 0, y)[1];
            cuts.clear();
            for i in 0..n {
                let (p, q) = (ring[i], ring[(i + 1) % n]);
                if (p[1] > h) != (q[1] > h) {
                    cuts.push(p[0] + (h - p[1]) / (q[1] - p[1]) * (q[0] - p[0]));
                }
            }
            cuts.sort_unstable_by(f64::total_cmp);
            for pair in cuts.chunks_exact(2) {
                let from = libm::ceil((pair[0] - self.origin[0]) / self.pixel - 0.5).max(0.0) as usize;
                let to = libm::floor((pair[1] - self.origin[0]) / self.pixel - 0.5).min(self.nx as f64 - 1.0);
                if to >= 0.0 {
                    for x in from..=to as usize {
                        self.d[y * self.nx + x] = -1.0;
                        self.who[y * self.nx + x] = owner;
                    }
                }
            }
        }
    }
    fn refresh(&mut self, from: (usize, usize), to: (usize, usize)) {
        self.change(from, (to.0.min(self.nx), to.1.min(self.ny)));
        for by in from.1 / BLOCK..=((to.1.max(1) - 1) / BLOCK).min(self.ny.div_ceil(BLOCK) - 1) {
            for bx in from.0 / BLOCK..=((to.0.max(1) - 1) / BLOCK).min(self.bx - 1) {
                let block = by * self.bx + bx;
                let mut i = self.leaves + block;
                (self.tree[i], self.peaks[block]) = self.best_of(block);
                while i > 1 {
                    i /= 2;
                    self.tree[i] = better(self.tree[2 * i], self.tree[2 * i + 1]);
                }
            }
        }
    }
}

fn at(origin: V, pixel: f64, x: usize, y: usize) -> V {
    [origin[0] + (x as f64 + 0.5) * pixel, origin[1] + (y as f64 + 0.5) * pixel]
}

/// The larger; of equals the first pixel.
fn better(a: (f32, u32), b: (f32, u32)) -> (f32, u32) {
    if b.0 > a.0 || (b.0 == a.0 && b.1 < a.1) { b } else { a }
}
