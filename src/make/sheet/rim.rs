//! [`coverage`]: how much of each pixel is print, 0 to 1, so that outlines are finer than pixels and lie where
//! the print ends, whatever its colour.
//!
//! A pixel of the rim mixes print and backing in linear light. What the print is there is carried outward from
//! its core, what the backing is there is known; the mixture follows from luminance, and from colour with less
//! weight (a JPEG keeps colour at half the resolution). Twice over: the first print reaches a little too far,
//! so that its core touches the true rim.
//!
//! Imports: base, read::picture, make::sheet::{grid, colour, backing}.

use super::backing::Backing;
use super::colour::brightness;
use super::grid::{Grid, NOWHERE, Near};
use crate::base::colour::lights;
use crate::read::picture::Picture;
use rayon::prelude::*;

/// How far inside the rim the core lies, mm, in the first and in the second pass.
const CORE: [f64; 2] = [0.43, 0.25];
/// Where print is thinner: this part of half its width.
const THIN: f32 = 0.75;
/// Blur of the core's colour, mm.
const BLUR: f64 = 0.12;
/// How far beyond the core coverage is asked for, mm more than [`CORE`].
const BAND: f64 = 0.4;
/// Weight of colour beside luminance.
const COLOUR: f32 = 0.35;
/// Blur of the coverage, pixels.
const SOFT: f64 = 0.6;
/// Square of a difference of lights below which print and backing are one colour, and nothing tells them
/// apart.
const NO_DIFFERENCE: f32 = 1e-6;

/// How much of each pixel is print, from which pixels are.
pub fn coverage(picture: &Picture, per_mm: [f64; 2], backing: &Backing, is: &Grid<bool>) -> Grid<f32> {
    let mut is = is.clone();
    for inside in &CORE[..CORE.len() - 1] {
        let cover = pass(picture, per_mm, backing, &is, *inside);
        is.rows_mut().enumerate().for_each(|(y, row)| {
            row.iter_mut().zip(cover.row(y)).for_each(|(i, c)| *i = *c > 0.5);
        });
    }
    let cover = pass(picture, per_mm, backing, &is, CORE[CORE.len() - 1]);
    drop(is);
    cover.blurred(SOFT)
}

fn pass(picture: &Picture, per_mm: [f64; 2], backing: &Backing, is: &Grid<bool>, inside: f64) -> Grid<f32> {
    let core = core(is, inside * per_mm[0], (inside * per_mm[0]).ceil() as usize);
    mixed(picture, per_mm, backing, (is, &core), inside + BAND)
}

/// The pixels at least so many inside the rim, or at most part of the way where the print is thin.
pub(super) fn core(is: &Grid<bool>, inside: f64, reach: usize) -> Grid<bool> {
    let (w, h) = (is.width, is.height);
    let near = Near::of(w, h, |i| !is.at[i]);
    // What is deeper than this changes nothing below.
    let far = ((inside / f64::from(THIN)).ceil() as u16).saturating_add(2);
    let mut deep = Grid::of(w, h, f32::INFINITY);
    deep.rows_mut().enumerate().for_each(|(y, row)| {
        let mut from = vec![NOWHERE; w];
        near.columns(y, far, &mut from);
        for (x, (d, j)) in row.iter_mut().zip(from).enumerate() {
            if j != NOWHERE {
                *d = near.steps(x, y, j);
            }
        }
    });
    drop(near);
    let inside = inside as f32;
    Grid::from_fn(w, h, |x, y| {
        let d = deep.get(x, y);
        if !is.get(x, y) || d >= inside {
            return is.get(x, y);
        }
        let (xs, ys) = (
            x.saturating_sub(reach)..(x + reach + 1).min(w),
            y.saturating_sub(reach)..(y + reach + 1).min(h),
        );
        let half = ys.flat_map(|y| &deep.row(y)[xs.clone()]).fold(0.0, |m: f32, v| m.max(*v));
        d >= inside.min(THIN * half)
    })
}

/// Which core pixel each pixel of the band takes its ink from.
struct Band<'a> {
    is: &'a Grid<bool>,
    core: &'a Grid<bool>,
    near: Near,
    reach: f32,
    far: u16,
}

impl Band<'_> {
    /// The sources of a row: [`NOWHERE`] outside of the band; false if one is further off than is exact.
    fn row(&self, y: usize, out: &mut [u32]) -> bool {
        self.near.columns(y, self.far, out);
        let w = self.is.width;
        let mut exact = true;
        for (x, j) in out.iter_mut().enumerate() {
            let (core, is) = (self.core.at[y * w + x], self.is.at[y * w + x]);
            if core || (*j == NOWHERE && !is) {
                *j = NOWHERE;
                continue;
            }
            let off = if *j == NOWHERE { f32::INFINITY } else { self.near.steps(x, y, *j) };
            if !is && off > self.reach {
                *j = NOWHERE;
                continue;
            }
            exact &= off <= f32::from(self.far) || self.far == u16::MAX;
            if *j != NOWHERE {
                *j += (self.near.row_of(y, *j) * w) as u32;
            }
        }
        exact
    }
}

/// How much of each pixel is print, from the colours of the core.
fn mixed(
    picture: &Picture,
    per_mm: [f64; 2],
    backing: &Backing,
    (is, core): (&Grid<bool>, &Grid<bool>),
    reach: f64,
) -> Grid<f32> {
    let (w, h) = (is.width, is.height);
    let reach = (reach * per_mm[0]) as f32;
    let near = Near::of(w, h, |i| core.at[i]);
    let mut band = Band { is, core, near, reach, far: (2.0 * reach).ceil() as u16 + 1 };
    let of_row = |band: &Band<'_>, y: usize| {
        let mut from = vec![NOWHERE; w];
        let exact = band.row(y, &mut from);
        from.dedup();
        from.retain(|j| *j != NOWHERE);
        (exact, from)
    };
    let sources = |band: &Band<'_>| -> (bool, Vec<u32>) {
        let rows: Vec<(bool, Vec<u32>)> = (0..h).into_par_iter().map(|y| of_row(band, y)).collect();
        (rows.iter().all(|r| r.0), rows.into_iter().flat_map(|r| r.1).collect())
    };
    let (exact, mut all) = sources(&band);
    if !exact {
        // Print without a core near: it takes its ink from wherever the nearest is.
        band.far = u16::MAX;
        all = sources(&band).1;
    }
    all.par_sort_unstable();
    all.dedup();
    let lights = lights();
    let light =
        |i: usize| -> [f32; 3] { std::array::from_fn(|k| lights[usize::from(picture.rgb[3 * i + k])]) };
    let weights = Weights::of(BLUR * per_mm[0]);
    let inks: Vec<[f32; 3]> = all.par_iter().map(|&i| ink(core, i as usize, &weights, light)).collect();
    let (columns, rows) = (backing.between(0, w), backing.between(1, h));
    let mut out = Grid::of(w, h, 0.0f32);
    out.rows_mut().enumerate().for_each(|(y, row)| {
        let mut from = vec![NOWHERE; w];
        band.row(y, &mut from);
        let mut last = (NOWHERE, [0.0; 3]);
        for (x, o) in row.iter_mut().enumerate() {
            let i = y * w + x;
            if core.at[i] {
                *o = 1.0;
            } else if from[x] != NOWHERE {
                if last.0 != from[x] {
                    last = (from[x], all.binary_search(&from[x]).map_or([0.0; 3], |k| inks[k]));
                }
                *o = share(light(i), backing.light.between(columns[x], rows[y]), last.1);
            }
        }
    });
    out
}

/// A Gaussian over whole steps.
struct Weights {
    reach: usize,
    at: Vec<f32>,
}

impl Weights {
    fn of(sigma: f64) -> Weights {
        let reach = (2.5 * sigma).ceil() as usize;
        let scale = (-0.5 / (sigma * sigma)) as f32;
        let one = |i: usize| {
            let (dx, dy) = ((i % (reach + 1)) as f32, (i / (reach + 1)) as f32);
            libm::expf(scale * (dx * dx + dy * dy))
        };
        Weights { reach, at: (0..(reach + 1) * (reach + 1)).map(one).collect() }
    }
}

/// Colour of the core about a pixel, by a Gaussian over what is core.
fn ink(core: &Grid<bool>, at: usize, weights: &Weights, light: impl Fn(usize) -> [f32; 3]) -> [f32; 3] {
    let (w, h) = (core.width, core.height);
    let r = weights.reach;
    let (x, y) = (at % w, at / w);
    let (mut sum, mut weight) = ([0.0f32; 3], 0.0f32);
    for v in y.saturating_sub(r)..(y + r + 1).min(h) {
        for u in x.saturating_sub(r)..(x + r + 1).min(w) {
            let i = v * w + u;
            if core.at[i] {
                let part = weights.at[v.abs_diff(y) * (r + 1) + u.abs_diff(x)];
                let here = light(i);
                (0..3).for_each(|k| sum[k] += part * here[k]);
                weight += part;
            }
        }
    }
    sum.map(|v| v / weight)
}

/// How much of the way from backing to ink a light lies.
fn share(light: [f32; 3], backing: [f32; 3], ink: [f32; 3]) -> f32 {
    let off: [f32; 3] = std::array::from_fn(|k| light[k] - backing[k]);
    let way: [f32; 3] = std::array::from_fn(|k| ink[k] - backing[k]);
    let (y, vy) = (brightness(off), brightness(way));
    let w = COLOUR * COLOUR / 3.0;
    let (mut up, mut low) = (y * vy, vy * vy);
    for k in 0..3 {
        up += w * (off[k] - y) * (way[k] - vy);
        low += w * (way[k] - vy) * (way[k] - vy);
    }
    if low < NO_DIFFERENCE { 1.0 } else { (up / low).clamp(0.0, 1.0) }
}
