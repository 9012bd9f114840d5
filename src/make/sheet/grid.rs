//! [`Grid`]: numbers in rows, and what is asked of them: blurs, greatest and least over discs, nearest places.
//!
//! Sums run along rows or columns in one order, so that threads change nothing.
//!
//! Imports: none.

use rayon::prelude::*;

/// Rows of values, the first on top.
#[derive(Clone, Debug, PartialEq)]
pub struct Grid<T> {
    /// Values of a row.
    pub width: usize,
    /// Rows.
    pub height: usize,
    /// Row by row.
    pub at: Vec<T>,
}

impl<T: Copy + Send + Sync + Default> Grid<T> {
    /// All the same.
    pub fn of(width: usize, height: usize, value: T) -> Grid<T> {
        Grid { width, height, at: vec![value; width * height] }
    }
    /// From a function of the place.
    pub fn from_fn(width: usize, height: usize, value: impl Fn(usize, usize) -> T + Sync) -> Grid<T> {
        let mut grid = Grid::of(width, height, T::default());
        grid.rows_mut().enumerate().for_each(|(y, row)| {
            row.iter_mut().enumerate().for_each(|(x, v)| *v = value(x, y));
        });
        grid
    }
    /// The value at a place.
    #[inline]
    pub fn get(&self, x: usize, y: usize) -> T {
        self.at[y * self.width + x]
    }
    /// A row.
    pub fn row(&self, y: usize) -> &[T] {
        &self.at[y * self.width..][..self.width]
    }
    /// All rows, to be written side by side.
    pub fn rows_mut(&mut self) -> rayon::slice::ChunksExactMut<'_, T> {
        self.at.par_chunks_exact_mut(self.width)
    }
}

impl Grid<bool> {
    /// The parts that are joined side by side, each as the columns and rows of its places and whether it reaches the
    /// edge.
    pub fn joined(&self) -> impl Iterator<Item = (Vec<[usize; 2]>, bool)> {
        let (w, h) = (self.width, self.height);
        let mut left = self.at.clone();
        let mut seed = 0;
        std::iter::from_fn(move || {
            seed += left[seed.min(left.len())..].iter().position(|is| *is)?;
            left[seed] = false;
            let (mut part, mut next, mut edge) = (vec![[seed % w, seed / w]], 0, false);
            while let Some(&[x, y]) = part.get(next) {
                next += 1;
                edge |= x == 0 || y == 0 || x + 1 == w || y + 1 == h;
                for [x, y] in [[x.wrapping_sub(1), y], [x + 1, y], [x, y.wrapping_sub(1)], [x, y + 1]] {
                    if x < w && y < h && left[y * w + x] {
                        left[y * w + x] = false;
                        part.push([x, y]);
                    }
                }
            }
            Some((part, edge))
        })
    }
}

/// A place between values: the one before, and how far it is to the next. Beyond the first and the last the
/// nearest holds.
#[derive(Clone, Copy, Debug)]
pub struct Between {
    low: usize,
    high: usize,
    part: f32,
}

impl Between {
    /// Of a coordinate in steps of values, the middle of the first at 1/2.
    #[inline]
    pub fn of(x: f64, count: usize) -> Between {
        let x = (x - 0.5).clamp(0.0, (count - 1) as f64);
        let low = x as usize;
        Between { low, high: (low + 1).min(count - 1), part: (x - low as f64) as f32 }
    }
}

impl Grid<[f32; 3]> {
    /// Between four values.
    #[inline]
    pub fn between(&self, x: Between, y: Between) -> [f32; 3] {
        let (top, low) = (self.row(y.low), self.row(y.high));
        std::array::from_fn(|k| {
            let a = top[x.low][k] + (top[x.high][k] - top[x.low][k]) * x.part;
            let b = low[x.low][k] + (low[x.high][k] - low[x.low][k]) * x.part;
            a + (b - a) * y.part
        })
    }
}

impl Grid<f32> {
    /// Between four values.
    #[inline]
    pub fn between(&self, x: Between, y: Between) -> f32 {
        let (top, low) = (self.row(y.low), self.row(y.high));
        let a = top[x.low] + (top[x.high] - top[x.low]) * x.part;
        let b = low[x.low] + (low[x.high] - low[x.low]) * x.part;
        a + (b - a) * y.part
    }
    /// Columns for rows.
    fn turned(&self) -> Grid<f32> {
        /// Columns that are turned together, so that each line of memory is fetched once.
        const BLOCK: usize = 32;
        let (w, h) = (self.width, self.height);
        let mut out = Grid::of(h, w, 0.0f32);
        out.at.par_chunks_mut(BLOCK * h).enumerate().for_each(|(b, rows)| {
            for y0 in (0..h).step_by(BLOCK) {
                for (k, row) in rows.chunks_exact_mut(h).enumerate() {
                    let column = &self.at[b * BLOCK + k..];
                    for (v, y) in row[y0..(y0 + BLOCK).min(h)].iter_mut().zip(y0..) {
                        *v = column[y * w];
                    }
                }
            }
        });
        out
    }
    /// Blurred by three boxes, which come near a Gaussian of that standard deviation (Wells 1986); nothing
    /// lies beyond the edges.
    #[must_use]
    pub fn boxed(mut self, sigma: f64) -> Grid<f32> {
        // A box of width 2 r + 1 has the variance r (r + 1) / 3: of three as many are one wider as come nearest.
        let variance = |r: f64| r * (r + 1.0) / 3.0;
        let small = (((4.0 * sigma * sigma + 1.0).sqrt() - 1.0) / 2.0).floor().max(0.0);
        let sum = |wider: f64| (3.0 - wider) * variance(small) + wider * variance(small + 1.0);
        let off = |wider: &f64| (sum(*wider) - sigma * sigma).abs();
        let wider = [0.0, 1.0, 2.0, 3.0].into_iter().min_by(|a, b| off(a).total_cmp(&off(b))).unwrap_or(0.0);
        let reach = |k: usize| small as usize + usize::from((k as f64) < wider);
        let pass = |grid: &mut Grid<f32>| {
            grid.rows_mut().for_each(|row| (0..3).for_each(|k| box_row(row, reach(k))));
        };
        pass(&mut self);
        let mut turned = self.turned();
        pass(&mut turned);
        turned.turned()
    }
    /// Blurred by a Gaussian cut off at three deviations; the outermost values go on beyond the edges.
    #[must_use]
    pub fn blurred(&self, sigma: f64) -> Grid<f32> {
        let kernel = kernel(sigma);
        let r = kernel.len() / 2;
        let n = self.width;
        let mut along = Grid::of(n, self.height, 0.0f32);
        along.rows_mut().enumerate().for_each(|(y, out)| {
            let row = self.row(y);
            let one = |x: usize| {
                kernel.iter().enumerate().fold(0.0, |sum, (k, w)| {
                    let at = (x + k).saturating_sub(r).min(n - 1);
                    sum + w * row[at]
                })
            };
            out.iter_mut().enumerate().for_each(|(x, o)| *o = one(x));
        });
        let mut out = Grid::of(n, self.height, 0.0f32);
        out.rows_mut().enumerate().for_each(|(y, row)| {
            for (k, w) in kernel.iter().enumerate() {
                let at = (y + k).saturating_sub(r).min(self.height - 1);
                row.iter_mut().zip(along.row(at)).for_each(|(o, v)| *o += w * v);
            }
        });
        out
    }
    /// The greatest value within so many steps of each place, by discs.
    #[must_use]
    pub fn greatest_within(&self, radius: f64) -> Grid<f32> {
        let reach = radius.floor() as i64;
        let mut out = self.clone();
        for dy in 0..=reach {
            let wide = (radius * radius - (dy * dy) as f64).sqrt().floor() as usize;
            let mut rows = Grid::of(self.width, self.height, 0.0f32);
            rows.rows_mut().enumerate().for_each(|(y, row)| greatest_of_row(self.row(y), wide, row));
            let from = &rows;
            out.rows_mut().enumerate().for_each(|(y, row)| {
                for y in [y as i64 - dy, y as i64 + dy] {
                    if (0..from.height as i64).contains(&y) {
                        row.iter_mut().zip(from.row(y as usize)).for_each(|(o, v)| *o = o.max(*v));
                    }
                }
            });
        }
        out
    }
    /// The same with other signs.
    #[must_use]
    pub fn negative(mut self) -> Grid<f32> {
        self.at.iter_mut().for_each(|v| *v = -*v);
        self
    }
    /// Grey closing by a disc: dark places narrower than it are filled. The picture is reflected at its edges.
    #[must_use]
    pub fn closed(&self, radius: f64) -> Grid<f32> {
        let pad = radius.ceil() as usize;
        let mirrored = |i: usize, n: usize| {
            let i = (i as i64 - pad as i64).rem_euclid(2 * n as i64) as usize;
            i.min(2 * n - 1 - i)
        };
        let wide = Grid::from_fn(self.width + 2 * pad, self.height + 2 * pad, |x, y| {
            self.get(mirrored(x, self.width), mirrored(y, self.height))
        });
        let shut = wide.greatest_within(radius).negative().greatest_within(radius).negative();
        Grid::from_fn(self.width, self.height, |x, y| shut.get(x + pad, y + pad))
    }
}

/// Weights of a Gaussian, summing to 1.
pub fn kernel(sigma: f64) -> Vec<f32> {
    let r = (3.0 * sigma).ceil().max(1.0) as i32;
    let weight = |k: i32| libm::exp(-f64::from(k * k) / (2.0 * sigma * sigma));
    let sum: f64 = (-r..=r).map(weight).sum();
    (-r..=r).map(|k| (weight(k) / sum) as f32).collect()
}

fn box_row(row: &mut [f32], r: usize) {
    let n = row.len();
    let old = row.to_vec();
    let part = 1.0 / (2 * r + 1) as f64;
    let mut sum: f64 = old.iter().take(r).map(|v| f64::from(*v)).sum();
    for x in 0..n {
        if x + r < n {
            sum += f64::from(old[x + r]);
        }
        if x > r {
            sum -= f64::from(old[x - r - 1]);
        }
        row[x] = (sum * part) as f32;
    }
}

/// Greatest of `2 wide + 1` values round each (van Herk 1992, Gil and Werman 1993).
fn greatest_of_row(row: &[f32], wide: usize, out: &mut [f32]) {
    let (n, k) = (row.len(), 2 * wide + 1);
    let padded = n + 2 * wide;
    let at = |i: usize| if i < wide || i >= n + wide { f32::NEG_INFINITY } else { row[i - wide] };
    let (mut ahead, mut back) = (vec![0.0f32; padded], vec![0.0f32; padded]);
    for i in 0..padded {
        ahead[i] = if i % k == 0 { at(i) } else { ahead[i - 1].max(at(i)) };
    }
    for i in (0..padded).rev() {
        let last = i + 1 == padded || (i + 1) % k == 0;
        back[i] = if last { at(i) } else { back[i + 1].max(at(i)) };
    }
    for (x, o) in out.iter_mut().enumerate() {
        *o = back[x].max(ahead[x + k - 1]);
    }
}

/// Says that there is no place.
pub const NOWHERE: u32 = u32::MAX;
/// Says that there is no row.
const NO_ROW: u16 = u16::MAX;

/// What each column offers: the row of the nearest place that is wanted, up or down. A row of nearest places is drawn
/// from it when it is asked for, so that no plane of places is kept.
pub struct Near {
    rows: Grid<u16>,
}

impl Near {
    /// Of the places that are `wanted`.
    pub fn of(width: usize, height: usize, wanted: impl Fn(usize) -> bool + Sync) -> Near {
        let mut rows = Grid::of(width, height, NO_ROW);
        for y in 0..height {
            let (done, rest) = rows.at.split_at_mut(y * width);
            for x in 0..width {
                rest[x] = if wanted(y * width + x) {
                    y as u16
                } else if y > 0 {
                    done[(y - 1) * width + x]
                } else {
                    NO_ROW
                };
            }
        }
        for y in (0..height.saturating_sub(1)).rev() {
            let (here, below) = rows.at.split_at_mut((y + 1) * width);
            for (near, &under) in here[y * width..].iter_mut().zip(&below[..width]) {
                let off = |r: u16| if r == NO_ROW { usize::MAX } else { usize::from(r).abs_diff(y) };
                if off(under) < off(*near) {
                    *near = under;
                }
            }
        }
        Near { rows }
    }
    /// For each place of a row the column of the nearest wanted place ([`NOWHERE`] if there is none), whose row
    /// [`Near::row_of`] tells. What is nearer than `far` steps is exact; beyond that another place may be told, or none.
    pub fn columns(&self, y: usize, far: u16, out: &mut [u32]) {
        out.fill(NOWHERE);
        envelope(self.rows.row(y), y, far, out);
    }
    /// How far a place is from the wanted one that a column offers its row.
    #[inline]
    pub fn steps(&self, x: usize, y: usize, column: u32) -> f32 {
        let (dx, dy) = (x.abs_diff(column as usize) as f32, self.row_of(y, column).abs_diff(y) as f32);
        (dx * dx + dy * dy).sqrt()
    }
    /// The row of the wanted place that a column offers a row.
    #[inline]
    pub fn row_of(&self, y: usize, column: u32) -> usize {
        usize::from(self.rows.get(column as usize, y))
    }
}

/// For each place the nearest one that is `wanted`, as `row * width + column`; [`NOWHERE`] if there is none.
/// Exact (Felzenszwalb and Huttenlocher 2012), the place carried along.
pub fn nearest(width: usize, height: usize, wanted: impl Fn(usize) -> bool + Sync) -> Grid<u32> {
    let near = Near::of(width, height, wanted);
    let mut out = Grid::of(width, height, NOWHERE);
    out.rows_mut().enumerate().for_each(|(y, row)| {
        near.columns(y, u16::MAX, row);
        row.iter_mut().filter(|j| **j != NOWHERE).for_each(|j| {
            *j += (near.row_of(y, *j) * width) as u32;
        });
    });
    out
}

/// The nearest of the places that each column offers a row within `far` rows: the lower envelope of parabolas.
fn envelope(near: &[u16], y: usize, far: u16, out: &mut [u32]) {
    let n = near.len();
    let square = |v: i64| v * v;
    let height = |x: usize| square(i64::from(near[x]) - y as i64);
    let offers = |x: &usize| near[*x] != NO_ROW && usize::from(near[*x]).abs_diff(y) <= usize::from(far);
    let (mut at, mut from) = (Vec::<usize>::with_capacity(n), Vec::<f64>::with_capacity(n));
    for x in (0..n).filter(offers) {
        let meets = |old: usize| {
            let (p, q) = (height(x) + square(x as i64), height(old) + square(old as i64));
            (p - q) as f64 / (2.0 * (x - old) as f64)
        };
        while let (Some(&old), Some(&start)) = (at.last(), from.last()) {
            if meets(old) <= start {
                at.pop();
                from.pop();
            } else {
                break;
            }
        }
        from.push(at.last().map_or(f64::NEG_INFINITY, |&old| meets(old)));
        at.push(x);
    }
    if at.is_empty() {
        return;
    }
    let mut k = 0;
    for (x, o) in out.iter_mut().enumerate() {
        while k + 1 < at.len() && from[k + 1] <= x as f64 {
            k += 1;
        }
        *o = at[k] as u32;
    }
}

/// Distance, in steps, of two places told as `row * width + column`.
#[inline]
pub fn steps(width: usize, a: usize, b: usize) -> f32 {
    let (x, y) = ((a % width).abs_diff(b % width) as f32, (a / width).abs_diff(b / width) as f32);
    (x * x + y * y).sqrt()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::random::Random;
    use crate::base::units::Seed;

    /// Truth: all pairs.
    #[test]
    fn the_nearest_place_is_that_of_all_pairs() {
        let mut random = Random::new(Seed(1), "nearest", 0);
        for round in 0..20 {
            let (w, h) = (7 + round, 23 - round);
            let sites: Vec<bool> = (0..w * h).map(|_| random.unit() < 0.07).collect();
            let got = nearest(w, h, |i| sites[i]);
            for i in 0..w * h {
                let near = |j: usize| steps(w, i, j);
                let want = (0..w * h).filter(|&j| sites[j]).map(near).fold(f32::INFINITY, f32::min);
                match got.at[i] {
                    NOWHERE => assert!(want.is_infinite()),
                    j => assert_eq!(near(j as usize), want, "at {i}"),
                }
            }
        }
    }

    /// Truth: all places of the disc.
    #[test]
    fn the_greatest_within_a_disc_is_that_of_all_places() {
        let mut random = Random::new(Seed(2), "greatest", 0);
        let grid = Grid { width: 31, height: 17, at: (0..31 * 17).map(|_| random.unit() as f32).collect() };
        for radius in [1.0, 2.5, 4.0, 9.3] {
            let got = grid.greatest_within(radius);
            for i in 0..grid.at.len() {
                let inside = |&j: &usize| f64::from(steps(31, i, j)) <= radius;
                let want = (0..grid.at.len()).filter(inside).map(|j| grid.at[j]).fold(0.0, f32::max);
                assert_eq!(got.at[i], want, "radius {radius} at {i}");
            }
        }
    }

    /// Truth: the variance of three boxes, and that a blur keeps the sum.
    #[test]
    fn blurs_have_the_variance_asked_for() {
        for sigma in [3.0, 12.0] {
            let mut spike = Grid::of(201, 201, 0.0f32);
            spike.at[100 * 201 + 100] = 1.0;
            for blurred in [spike.clone().boxed(sigma), spike.blurred(sigma)] {
                let sum: f32 = blurred.at.iter().sum();
                let spread: f64 = blurred
                    .at
                    .iter()
                    .enumerate()
                    .fold(0.0, |s, (i, v)| s + f64::from(*v) * ((i % 201) as f64 - 100.0).powi(2));
                assert!((sum - 1.0).abs() < 1e-3, "{sum}");
                assert!((spread.sqrt() / sigma - 1.0).abs() < 0.06, "{spread} for {sigma}");
            }
        }
    }
}
