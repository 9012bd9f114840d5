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
use super::grid::{Grid, NOWHERE, nearest, steps};
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
    let mut cover = Grid::of(0, 0, 0.0f32);
    for (pass, inside) in CORE.iter().enumerate() {
        let core = core(&is, inside * per_mm[0], (inside * per_mm[0]).ceil() as usize);
        cover = mixed(picture, per_mm, backing, (&is, &core), inside + BAND);
        if pass == 0 {
            is.rows_mut().enumerate().for_each(|(y, row)| {
                row.iter_mut().zip(cover.row(y)).for_each(|(i, c)| *i = *c > 0.5);
            });
        }
    }
    cover.blurred(SOFT)
}

/// The pixels at least so many inside the rim, or at most part of the way where the print is thin.
pub(super) fn core(is: &Grid<bool>, inside: f64, reach: usize) -> Grid<bool> {
    let (w, h) = (is.width, is.height);
    let outside = nearest(w, h, |i| !is.at[i]);
    let deep = Grid::from_fn(w, h, |x, y| {
        let i = y * w + x;
        match outside.at[i] {
            NOWHERE => f32::INFINITY,
            j => steps(w, i, j as usize),
        }
    });
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

/// How much of each pixel is print, from the colours of the core.
fn mixed(
    picture: &Picture,
    per_mm: [f64; 2],
    backing: &Backing,
    (is, core): (&Grid<bool>, &Grid<bool>),
    reach: f64,
) -> Grid<f32> {
    let (w, h) = (is.width, is.height);
    let from = nearest(w, h, |i| core.at[i]);
    let reach = (reach * per_mm[0]) as f32;
    let in_band = |i: usize| {
        let j = from.at[i];
        !core.at[i] && j != NOWHERE && (is.at[i] || steps(w, i, j as usize) <= reach)
    };
    let lights = lights();
    let light =
        |i: usize| -> [f32; 3] { std::array::from_fn(|k| lights[usize::from(picture.rgb[3 * i + k])]) };
    let mut sources: Vec<u32> = (0..h)
        .into_par_iter()
        .flat_map_iter(|y| {
            let mut row: Vec<u32> =
                (y * w..(y + 1) * w).filter(|&i| in_band(i)).map(|i| from.at[i]).collect();
            row.dedup();
            row
        })
        .collect();
    sources.par_sort_unstable();
    sources.dedup();
    let sigma = BLUR * per_mm[0];
    let inks: Vec<[f32; 3]> = sources.par_iter().map(|&i| ink(core, i as usize, sigma, light)).collect();
    let (columns, rows) = (backing.between(0, w), backing.between(1, h));
    let mut out = Grid::of(w, h, 0.0f32);
    out.rows_mut().enumerate().for_each(|(y, row)| {
        for (x, o) in row.iter_mut().enumerate() {
            let i = y * w + x;
            if core.at[i] {
                *o = 1.0;
            } else if in_band(i) {
                let ink = sources.binary_search(&from.at[i]).map_or([0.0; 3], |k| inks[k]);
                *o = share(light(i), backing.light.between(columns[x], rows[y]), ink);
            }
        }
    });
    out
}

/// Colour of the core about a pixel, by a Gaussian over what is core.
fn ink(core: &Grid<bool>, at: usize, sigma: f64, light: impl Fn(usize) -> [f32; 3]) -> [f32; 3] {
    let (w, h) = (core.width, core.height);
    let r = (2.5 * sigma).ceil() as usize;
    let (x, y) = (at % w, at / w);
    let (mut sum, mut weight) = ([0.0f32; 3], 0.0f32);
    let scale = (-0.5 / (sigma * sigma)) as f32;
    for v in y.saturating_sub(r)..(y + r + 1).min(h) {
        for u in x.saturating_sub(r)..(x + r + 1).min(w) {
            let i = v * w + u;
            if core.at[i] {
                let (dx, dy) = (u.abs_diff(x) as f32, v.abs_diff(y) as f32);
                let part = libm::expf(scale * (dx * dx + dy * dy));
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
