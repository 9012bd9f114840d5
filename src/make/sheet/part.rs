//! [`part`]: which pixels are print: by their distance from the backing's colour, with two thresholds.
//!
//! Imports: base, outline, read::picture, make::sheet::{grid, colour, backing}.

use super::backing::{Backing, deviation};
use super::colour::{Lab, apart};
use super::grid::{Between, Grid, kernel};
use crate::base::colour::lights;
use crate::outline::plane::{points_box, ring_area, ring_contains};
use crate::read::picture::Picture;
use rayon::prelude::*;

/// Blur before colours are compared, mm, and in pixels at least.
const BLUR: [f64; 2] = [0.04, 0.5];
/// Least difference, and deviations of noise, of what is print for certain.
const HIGH: [f32; 2] = [8.0, 6.0];
/// The same of what is print if it touches that.
const LOW: [f32; 2] = [3.0, 3.5];
/// Near strong print, within so many mm, more is asked: this part of the strongest. What a JPEG spills is
/// less; pale fringes are more.
const SPILL: [f64; 2] = [0.16, 1.2];
/// The same for JPEGs of a quality below [`POOR`]: fringes may be lost.
const SPILL_POOR: f64 = 0.25;
/// Quality of a JPEG below which colours run far.
pub const POOR: u8 = 75;
/// Cells of the strongest difference, mm.
const CELL: f64 = 0.25;

/// What is print.
pub struct Print {
    /// By pixel.
    pub is: Grid<bool>,
    /// Difference of what is print for certain.
    pub high: f32,
    /// Standard deviation of the noise.
    pub noise: f32,
    /// The strongest difference near each cell of [`CELL`].
    strongest: Grid<f32>,
}

/// A spot smaller than this, mm2, that differs by less than this part of the strongest print near is what a
/// JPEG spills.
const SPOT: (f64, f32) = (0.5, 0.4);

impl Print {
    /// Is a ring (in pixels) no print but what packing left beside some? None is where nothing was packed.
    pub fn is_spill(
        &self,
        ring: &[[f64; 2]],
        picture: &Picture,
        per_mm: [f64; 2],
        backing: &Backing,
    ) -> bool {
        let area = ring_area(ring).abs() / (per_mm[0] * per_mm[1]);
        if picture.jpeg_quality.is_none() || area >= SPOT.0 {
            return false;
        }
        let lights = lights();
        let (mut sum, mut under, mut n) = ([0.0f32; 3], [0.0f32; 3], 0.0f32);
        let [x0, y0, x1, y1] = points_box(ring);
        let last = |v: f64, n: usize| (v.ceil().max(0.0) as usize).min(n);
        for y in last(y0 - 1.0, picture.height)..last(y1, picture.height) {
            for x in last(x0 - 1.0, picture.width)..last(x1, picture.width) {
                if ring_contains(ring, [x as f64 + 0.5, y as f64 + 0.5]) {
                    let at = |axis: usize, i: usize, n: usize| {
                        Between::of((i as f64 + 0.5) * backing.per_pixel[axis], n)
                    };
                    let lab =
                        backing.light.between(at(0, x, backing.light.width), at(1, y, backing.light.height));
                    let p = 3 * (y * picture.width + x);
                    (0..3).for_each(|k| sum[k] += lights[usize::from(picture.rgb[p + k])]);
                    (0..3).for_each(|k| under[k] += lab[k]);
                    n += 1.0;
                }
            }
        }
        let lab = Lab::default();
        let off = apart(lab.of(sum.map(|v| v / n.max(1.0))), lab.of(under.map(|v| v / n.max(1.0))));
        let cell = |v: f64, per_mm: f64, n: usize| ((v / (per_mm * CELL)).max(0.0) as usize).min(n - 1);
        let (x, y) = ((x0 + x1) / 2.0, (y0 + y1) / 2.0);
        let s = &self.strongest;
        off < SPOT.1 * s.get(cell(x, per_mm[0], s.width), cell(y, per_mm[1], s.height))
    }
}

/// Finds the print.
pub fn part(picture: &Picture, per_mm: [f64; 2], backing: &Backing, lab: &Lab) -> Print {
    let off = differences(picture, per_mm, backing, lab);
    let noise = noise(&off);
    let (high, low) = (HIGH[0].max(HIGH[1] * noise), LOW[0].max(LOW[1] * noise));
    let spill = match picture.jpeg_quality {
        Some(q) if q < POOR => SPILL_POOR,
        _ => SPILL[0],
    };
    let strongest = strongest(&off, per_mm);
    let at = |pixel: usize, per_mm: f64, cells: usize| {
        (((pixel as f64 + 0.5) / (per_mm * CELL)) as usize).min(cells - 1)
    };
    let columns: Vec<usize> = (0..off.width).map(|x| at(x, per_mm[0], strongest.width)).collect();
    let rows: Vec<usize> = (0..off.height).map(|y| at(y, per_mm[1], strongest.height)).collect();
    let may = Grid::from_fn(off.width, off.height, |x, y| {
        off.get(x, y) > low.max(spill as f32 * strongest.get(columns[x], rows[y]))
    });
    Print { is: reached(&may, &off, high), high, noise, strongest }
}

/// Noise of the backing: most pixels of a sheet are none of the print, and three quarters of the least
/// differences are all backing's.
fn noise(off: &Grid<f32>) -> f32 {
    // Backing differs by less than what print differs by at least.
    deviation(&off.at, |i| off.at[i] < HIGH[0])
}

/// Distance of each pixel from the backing, a little blurred in linear light first.
fn differences(picture: &Picture, per_mm: [f64; 2], backing: &Backing, lab: &Lab) -> Grid<f32> {
    let lights = lights();
    let (w, h) = (picture.width, picture.height);
    let kernel = kernel((BLUR[0] * per_mm[0]).max(BLUR[1]));
    let r = kernel.len() / 2;
    let (columns, rows) = (backing.between(0, w), backing.between(1, h));
    let mut out = Grid::of(w, h, 0.0f32);
    out.rows_mut().enumerate().for_each(|(y, row)| {
        let mut down = vec![[0.0f32; 3]; w];
        for (k, weight) in kernel.iter().enumerate() {
            let y = (y + k).saturating_sub(r).min(h - 1);
            let pixels = picture.rgb[3 * y * w..][..3 * w].chunks_exact(3);
            down.iter_mut().zip(pixels).for_each(|(d, p)| {
                (0..3).for_each(|c| d[c] += weight * lights[usize::from(p[c])]);
            });
        }
        let here: Between = rows[y];
        for (x, o) in row.iter_mut().enumerate() {
            let mut light = [0.0f32; 3];
            for (k, weight) in kernel.iter().enumerate() {
                let d = down[(x + k).saturating_sub(r).min(w - 1)];
                (0..3).for_each(|c| light[c] += weight * d[c]);
            }
            *o = apart(lab.of(light), backing.lab.between(columns[x], here));
        }
    });
    out
}

/// The greatest difference near each cell.
fn strongest(off: &Grid<f32>, per_mm: [f64; 2]) -> Grid<f32> {
    let count = |pixels: usize, per_mm: f64| ((pixels as f64 / (per_mm * CELL)).ceil() as usize).max(1);
    let (w, h) = (count(off.width, per_mm[0]), count(off.height, per_mm[1]));
    let edge = |i: usize, per_mm: f64, pixels: usize| ((i as f64 * per_mm * CELL) as usize).min(pixels - 1);
    let cells = Grid::from_fn(w, h, |x, y| {
        let (x0, x1) = (edge(x, per_mm[0], off.width), edge(x + 1, per_mm[0], off.width));
        let (y0, y1) = (edge(y, per_mm[1], off.height), edge(y + 1, per_mm[1], off.height));
        (y0..=y1).flat_map(|y| &off.row(y)[x0..=x1]).fold(0.0, |m: f32, v| m.max(*v))
    });
    cells.greatest_within(SPILL[1] / CELL)
}

/// What may be print and is joined to what is for certain.
fn reached(may: &Grid<bool>, off: &Grid<f32>, high: f32) -> Grid<bool> {
    let (w, h) = (may.width, may.height);
    let mut is = Grid::of(w, h, false);
    let mut open: Vec<usize> = Vec::new();
    for seed in 0..may.at.len() {
        if !may.at[seed] || is.at[seed] || off.at[seed] <= high {
            continue;
        }
        is.at[seed] = true;
        open.push(seed);
        while let Some(i) = open.pop() {
            let (x, y) = (i % w, i / w);
            for y in y.saturating_sub(1)..(y + 2).min(h) {
                for x in x.saturating_sub(1)..(x + 2).min(w) {
                    let j = y * w + x;
                    if may.at[j] && !is.at[j] {
                        is.at[j] = true;
                        open.push(j);
                    }
                }
            }
        }
    }
    is
}
