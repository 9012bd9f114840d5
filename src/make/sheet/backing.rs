//! [`Backing`]: what the sheet lies on, at every place: its light without the print, and how noisy it is.
//!
//! A scan is brighter here than there, and a photo has shadows: one colour for all of the sheet would take
//! motifs for backing or shadows for print. Grey closing by a disc that is wider than any motif, and narrower
//! than a shadow, keeps slopes of light; what it leaves is divided out before the backing's colour is looked
//! for.
//!
//! Imports: base, read::picture, make::sheet::{grid, colour}.

use super::colour::{Lab, apart, brightness, lightness};
use super::grid::{Between, Grid};
use crate::base::colour::lights;
use crate::read::picture::Picture;

/// Cells that the backing is looked for in, mm.
pub const CELL: f64 = 0.25;
/// Cells of the lightness surface, mm, and the disc that closes it: wider than the largest motif.
const COARSE: f64 = 1.0;
const DISC: f64 = 30.0;
/// Blur of the lightness surface, mm.
const SOFT: f64 = 0.7;
/// Lightness of a backing below which it is dark.
const DARK: f32 = 35.0;
/// How far from the commonest colour backing may be at first.
const LIKE: f32 = 10.0;
/// Rounds of colour and of what is backing in turn.
const ROUNDS: usize = 3;
/// How far the backing's colour is smoothed, mm; and where hardly any backing is near.
const NEAR: f64 = 3.0;
const FAR: f64 = 20.0;
const HARDLY: f32 = 0.2;
/// Least difference, and deviations of noise, from which a place is no backing.
const OFF: [f32; 2] = [3.0, 4.0];
/// Deviation of a normal distribution by its median distance.
pub const BY_MEDIAN: f32 = 1.4826;
/// Weight of backing below which a blur of it says nothing.
const NO_WEIGHT: f32 = 1e-6;
/// Least light that is divided by: no backing is blacker.
const BLACK: f32 = 1e-3;

/// The backing.
#[derive(Clone, Debug)]
pub struct Backing {
    /// Light of each cell, without the print.
    pub light: Grid<[f32; 3]>,
    /// The same in CIELAB.
    pub lab: Grid<[f32; 3]>,
    /// Cells a pixel, across and down.
    pub per_pixel: [f64; 2],
    /// It is dark.
    pub dark: bool,
    /// Part of the sheet that is backing.
    pub share: f64,
}

impl Backing {
    /// Of a picture with so many pixels a millimetre, across and down.
    pub fn of(picture: &Picture, per_mm: [f64; 2], lab: &Lab) -> Backing {
        let per_pixel = [1.0 / (CELL * per_mm[0]), 1.0 / (CELL * per_mm[1])];
        let seen = cells(picture, per_pixel);
        let bright = Grid::from_fn(seen.width, seen.height, |x, y| brightness(seen.get(x, y)));
        let dark = commonest(bright.at.iter().map(|b| lightness(*b) / 2.0)) * 2 < DARK as usize;
        let surface = surface(&bright, dark);
        let even = Grid::from_fn(seen.width, seen.height, |x, y| {
            seen.get(x, y).map(|v| v / surface.get(x, y).max(BLACK))
        });
        let mut is = alike(&even, lab);
        let places = Grid::from_fn(seen.width, seen.height, |x, y| lab.of(seen.get(x, y)));
        let mut light = seen;
        let mut on = Grid { width: light.width, height: light.height, at: Vec::new() };
        for _ in 0..ROUNDS {
            light = smooth(&even, &is, &surface);
            on = Grid::from_fn(light.width, light.height, |x, y| lab.of(light.get(x, y)));
            let off = Grid::from_fn(light.width, light.height, |x, y| apart(places.get(x, y), on.get(x, y)));
            let limit = OFF[0].max(OFF[1] * deviation(&off.at, |i| is.at[i]));
            let near = Grid::from_fn(light.width, light.height, |x, y| off.get(x, y) < limit);
            let next = shrunk(&near);
            // Nothing left: what there was says more.
            if next.at.iter().any(|b| *b) {
                is = next;
            }
        }
        let share = is.at.iter().filter(|b| **b).count() as f64 / is.at.len() as f64;
        Backing { light, lab: on, per_pixel, dark, share }
    }

    /// White all over, of a page of a size: nothing is scanned.
    pub fn white(page: [f64; 2]) -> Backing {
        let light = Grid::of(1, 1, [1.0; 3]);
        let per_pixel = page.map(|side| 1.0 / side.max(1.0));
        Backing { lab: Grid::of(1, 1, [100.0, 0.0, 0.0]), light, per_pixel, dark: false, share: 1.0 }
    }

    /// Places between the cells of each column, or row, of pixels.
    pub fn between(&self, axis: usize, pixels: usize) -> Vec<Between> {
        let count = if axis == 0 { self.light.width } else { self.light.height };
        (0..pixels).map(|i| Between::of((i as f64 + 0.5) * self.per_pixel[axis], count)).collect()
    }
}

/// Standard deviation of differences, from the median of those that count.
pub fn deviation(off: &[f32], counts: impl Fn(usize) -> bool) -> f32 {
    let mut kept: Vec<f32> = off.iter().enumerate().filter(|(i, _)| counts(*i)).map(|(_, v)| *v).collect();
    if kept.is_empty() {
        return 0.0;
    }
    let middle = kept.len() / 2;
    *kept.select_nth_unstable_by(middle, f32::total_cmp).1 * BY_MEDIAN
}

/// The mean light of the pixels of each cell.
fn cells(picture: &Picture, per_pixel: [f64; 2]) -> Grid<[f32; 3]> {
    let lights = lights();
    let count = |pixels: usize, step: f64| ((pixels as f64 * step).round() as usize).max(8);
    let (width, height) = (count(picture.width, per_pixel[0]), count(picture.height, per_pixel[1]));
    let edge = |i: usize, cells: usize, pixels: usize| i * pixels / cells;
    Grid::from_fn(width, height, |x, y| {
        let (x0, x1) = (edge(x, width, picture.width), edge(x + 1, width, picture.width));
        let (y0, y1) = (edge(y, height, picture.height), edge(y + 1, height, picture.height));
        let mut sum = [0.0f32; 3];
        for y in y0..y1.max(y0 + 1) {
            for p in picture.rgb[3 * (y * picture.width + x0)..][..3 * (x1.max(x0 + 1) - x0)].chunks_exact(3)
            {
                (0..3).for_each(|k| sum[k] += lights[usize::from(p[k])]);
            }
        }
        let n = ((x1.max(x0 + 1) - x0) * (y1.max(y0 + 1) - y0)) as f32;
        sum.map(|v| v / n)
    })
}

/// The place of the commonest of whole numbers from 0 to 255.
fn commonest(values: impl Iterator<Item = f32>) -> usize {
    let mut count = [0u32; 256];
    values.for_each(|v| count[v.clamp(0.0, 255.0) as usize] += 1);
    (0..256).max_by_key(|&i| (count[i], std::cmp::Reverse(i))).unwrap_or(0)
}

/// How bright the backing is everywhere, by grey closing (or opening, where it is dark).
fn surface(bright: &Grid<f32>, dark: bool) -> Grid<f32> {
    let middle = |x: usize, y: usize| {
        let mut near = [0.0f32; 25];
        for (k, v) in near.iter_mut().enumerate() {
            let (x, y) = ((x + k % 5).saturating_sub(2), (y + k / 5).saturating_sub(2));
            *v = bright.get(x.min(bright.width - 1), y.min(bright.height - 1));
        }
        *near.select_nth_unstable_by(12, f32::total_cmp).1
    };
    let step = (COARSE / CELL) as usize;
    let few = |n: usize| n.div_ceil(step);
    let coarse = Grid::from_fn(few(bright.width), few(bright.height), |x, y| {
        let (x, y) =
            ((x * step + step / 2).min(bright.width - 1), (y * step + step / 2).min(bright.height - 1));
        middle(x, y)
    });
    let shut =
        if dark { coarse.negative().closed(DISC / COARSE).negative() } else { coarse.closed(DISC / COARSE) };
    let soft = shut.blurred(SOFT / COARSE);
    let at = |i: usize, n: usize| Between::of((i as f64 + 0.5) / step as f64, n);
    Grid::from_fn(bright.width, bright.height, |x, y| soft.between(at(x, soft.width), at(y, soft.height)))
}

/// The places whose colour, with light divided out, is near the commonest.
fn alike(even: &Grid<[f32; 3]>, lab: &Lab) -> Grid<bool> {
    /// Width of a bin, bins of lightness, and bins of each other part about nought.
    const BIN: f32 = 4.0;
    const BINS: usize = 64;
    let colours = Grid::from_fn(even.width, even.height, |x, y| lab.of(even.get(x, y)));
    let bin = |v: f32, from: f32| ((v - from) / BIN).clamp(0.0, BINS as f32 - 1.0) as usize;
    let place = |c: &[f32; 3]| {
        (bin(c[0], 0.0) * BINS + bin(c[1], -BIN * BINS as f32 / 2.0)) * BINS
            + bin(c[2], -BIN * BINS as f32 / 2.0)
    };
    let mut count = vec![0u32; BINS * BINS * BINS];
    colours.at.iter().for_each(|c| count[place(c)] += 1);
    let best = (0..count.len()).max_by_key(|&i| (count[i], std::cmp::Reverse(i))).unwrap_or(0);
    let mut mean = [0.0f64; 3];
    for c in colours.at.iter().filter(|c| place(c) == best) {
        (0..3).for_each(|k| mean[k] += f64::from(c[k]) / f64::from(count[best]));
    }
    let mean = mean.map(|v| v as f32);
    Grid::from_fn(even.width, even.height, |x, y| apart(colours.get(x, y), mean) < LIKE)
}

/// The backing's light: its colour smoothed over what is backing, times how bright it is there.
fn smooth(even: &Grid<[f32; 3]>, is: &Grid<bool>, surface: &Grid<f32>) -> Grid<[f32; 3]> {
    let (w, h) = (even.width, even.height);
    let blurs = |sigma: f64| -> [Grid<f32>; 4] {
        std::array::from_fn(|k| {
            let one = |x, y| {
                let on = f32::from(u8::from(is.get(x, y)));
                if k == 3 { on } else { on * even.get(x, y)[k] }
            };
            Grid::from_fn(w, h, one).boxed(sigma / CELL)
        })
    };
    let near = blurs(NEAR);
    // Only within large prints.
    let far = if near[3].at.iter().any(|v| *v < HARDLY) { Some(blurs(FAR)) } else { None };
    let far = far.as_ref().unwrap_or(&near);
    let all = is.at.iter().filter(|b| **b).count().max(1) as f32;
    let whole: [f32; 3] = std::array::from_fn(|k| {
        let sum: f64 = is.at.iter().zip(&even.at).filter(|(b, _)| **b).map(|(_, v)| f64::from(v[k])).sum();
        sum as f32 / all
    });
    Grid::from_fn(w, h, |x, y| {
        let from = if near[3].get(x, y) >= HARDLY { &near } else { far };
        let weight = from[3].get(x, y);
        std::array::from_fn(|k| {
            let colour = if weight > NO_WEIGHT { from[k].get(x, y) / weight } else { whole[k] };
            colour * surface.get(x, y)
        })
    })
}

/// Without the places that touch others.
fn shrunk(is: &Grid<bool>) -> Grid<bool> {
    Grid::from_fn(is.width, is.height, |x, y| {
        let (xs, ys) =
            (x.saturating_sub(1)..(x + 2).min(is.width), y.saturating_sub(1)..(y + 2).min(is.height));
        ys.into_iter().all(|y| xs.clone().all(|x| is.get(x, y)))
    })
}
