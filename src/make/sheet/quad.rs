//! [`paper()`] and [`card()`]: the one thing with four straight sides and known proportions in a picture: its corners,
//! where lines through its sides meet (its own corners may be round, or bent).
//!
//! Imports: base, outline, read::picture, make::sheet::{grid, colour, backing, part, straighten}.

use super::backing::Backing;
use super::colour::{Lab, brightness, lightness};
use super::grid::Grid;
use super::part;
use super::straighten::FOCAL;
use crate::base::colour::{encoded, lights};
use crate::base::linear;
use crate::outline::plane::convex_hull;
use crate::read::picture::Picture;
use std::collections::BTreeMap;

/// Longer side of the picture that things are looked for in, pixels.
const LOOK: usize = 1200;
/// Least part of the picture that a paper, and a card, covers.
const PAPER_PART: f64 = 0.12;
const CARD_PART: f64 = 0.004;
/// How much of the largest four-sided figure within it a thing fills at least, and at most: a card's round corners
/// make it larger by 0.06.
const FILLS: [f64; 2] = [0.95, 1.09];
/// How far proportions may be off, by the camera's usual focal length.
const SHAPE: f64 = 0.06;
/// Part of a side, at either end, that no line is laid through: corners are round.
const ENDS: f64 = 0.12;
/// Places of a side, and how far to either side of it the edge is looked for, pixels of the coarse picture.
const PLACES: usize = 160;
const REACH: f64 = 3.0;
const WIDER: f64 = 2.2;
/// A side's places stray by at most this part of its length.
const STRAIGHT: f64 = 0.004;

/// Why nothing is taken.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Why {
    /// Nothing has four straight sides.
    None,
    /// More than one might be it.
    Several(usize),
    /// It reaches the picture's edge.
    CutOff,
    /// The nearest is so far off its proportions, as a part.
    Shape(f64),
}

/// What was found: its size (across, down, mm) and its corners in pixels, from the upper left of that clockwise.
pub type Found = ([f64; 2], [[f64; 2]; 4]);

/// The paper that a film lies on, on a ground that is darker.
///
/// # Errors
/// [`Why`].
pub fn paper(picture: &Picture, size: [f64; 2]) -> Result<Found, Why> {
    let (small, step) = coarse(picture);
    let lights = lights();
    let bright =
        |i: usize| lightness(brightness([0, 1, 2].map(|k| lights[usize::from(small.rgb[3 * i + k])])));
    let l: Vec<f32> = (0..small.width * small.height).map(bright).collect();
    let split = two_parts(&l);
    let mask = Grid { width: small.width, height: small.height, at: l.iter().map(|v| *v > split).collect() };
    one(picture, step, &mask, size, PAPER_PART)
}

/// A card, on the backing that the film lies on.
///
/// # Errors
/// [`Why`].
pub fn card(picture: &Picture, size: [f64; 2]) -> Result<Found, Why> {
    let (small, step) = coarse(picture);
    // A page fills the picture, more or less: what the backing is smoothed over need not be true to a half.
    let per_mm = [small.width.max(small.height) as f64 / 330.0; 2];
    let lab = Lab::default();
    let backing = Backing::of(&small, per_mm, &lab);
    let mask = part::part(&small, per_mm, &backing, &lab).is;
    one(picture, step, &mask, size, CARD_PART)
}

/// The picture with fewer pixels, means in linear light.
fn coarse(picture: &Picture) -> (Picture, usize) {
    let step = picture.width.max(picture.height).div_ceil(LOOK).max(1);
    let (w, h) = ((picture.width / step).max(1), (picture.height / step).max(1));
    let lights = lights();
    let cells = Grid::from_fn(w, h, |x, y| {
        let mut sum = [0.0f32; 3];
        for v in y * step..(y + 1) * step {
            for p in picture.rgb[3 * (v * picture.width + x * step)..][..3 * step].chunks_exact(3) {
                (0..3).for_each(|k| sum[k] += lights[usize::from(p[k])]);
            }
        }
        sum.map(|v| encoded(v / (step * step) as f32))
    });
    (Picture::opaque(w, h, cells.at.concat()), step)
}

/// The value that parts two kinds best (Otsu 1979).
fn two_parts(values: &[f32]) -> f32 {
    let mut count = [0.0f64; 101];
    values.iter().for_each(|v| count[v.clamp(0.0, 100.0) as usize] += 1.0);
    let all: f64 = count.iter().sum();
    let sum: f64 = count.iter().enumerate().map(|(i, n)| i as f64 * n).sum();
    let (mut n, mut s, mut best) = (0.0, 0.0, (0.0, 50));
    for (i, c) in count.iter().enumerate() {
        n += c;
        s += i as f64 * c;
        if n > 0.0 && n < all {
            let off = s / n - (sum - s) / (all - n);
            let between = n * (all - n) * off * off;
            if between > best.0 {
                best = (between, i);
            }
        }
    }
    best.1 as f32 + 1.0
}

/// The one thing of a mask that has four sides and these proportions.
fn one(picture: &Picture, step: usize, mask: &Grid<bool>, size: [f64; 2], least: f64) -> Result<Found, Why> {
    let (mut good, mut nearest, mut cut) = (Vec::new(), f64::INFINITY, false);
    for thing in things(mask, least) {
        let Some(corners) = four_sides(&thing) else { continue };
        if thing.edge {
            cut = true;
            continue;
        }
        // At first a figure within round corners; then one that lies along the sides.
        let full = corners.map(|c| c.map(|v| v * step as f64));
        let near = REACH * step as f64 + 3.0;
        let Some(corners) = refined(picture, &full, WIDER * near).and_then(|c| refined(picture, &c, near))
        else {
            continue;
        };
        // Either side may be the long one.
        let ways = [(size, corners), ([size[1], size[0]], corners)];
        let off = |w: &(_, _)| shape(picture, &w.0, &w.1);
        let Some(best) = ways.into_iter().min_by(|a, b| off(a).total_cmp(&off(b))) else { continue };
        if off(&best) < SHAPE { good.push(best) } else { nearest = nearest.min(off(&best)) }
    }
    match good.len() {
        1 => Ok(good[0]),
        0 if cut => Err(Why::CutOff),
        0 if nearest.is_finite() => Err(Why::Shape(nearest)),
        0 => Err(Why::None),
        n => Err(Why::Several(n)),
    }
}

/// A joined part of a mask: its hull, its area with holes filled roughly (rows from end to end), whether it reaches the
/// picture's edge.
struct Thing {
    hull: Vec<[f64; 2]>,
    area: f64,
    edge: bool,
}

fn things(mask: &Grid<bool>, least: f64) -> Vec<Thing> {
    let least = least * (mask.width * mask.height) as f64;
    let thing = |(part, edge): (Vec<[usize; 2]>, bool)| {
        let mut ends: BTreeMap<usize, (usize, usize)> = BTreeMap::new();
        for [x, y] in part {
            let row = ends.entry(y).or_insert((x, x));
            *row = (row.0.min(x), row.1.max(x));
        }
        let area = ends.values().map(|(a, b)| b - a + 1).sum::<usize>() as f64;
        let points = ends.iter().flat_map(|(&y, &(a, b))| {
            let (y, a, b) = (y as f64, a as f64, b as f64 + 1.0);
            [[a, y], [b, y], [a, y + 1.0], [b, y + 1.0]]
        });
        (area >= least).then(|| Thing { hull: convex_hull(points.collect()), area, edge })
    };
    mask.joined().filter_map(thing).collect()
}

fn cross(o: [f64; 2], a: [f64; 2], b: [f64; 2]) -> f64 {
    (a[0] - o[0]) * (b[1] - o[1]) - (a[1] - o[1]) * (b[0] - o[0])
}

fn area(p: &[[f64; 2]]) -> f64 {
    (0..p.len()).map(|i| cross([0.0, 0.0], p[i], p[(i + 1) % p.len()])).sum::<f64>() / 2.0
}

/// The four corners of a thing, clockwise, if it fills them: the largest four-sided figure of its hull.
fn four_sides(thing: &Thing) -> Option<[[f64; 2]; 4]> {
    // Two that are farthest apart, then the farthest on either side, mended in turn.
    let p = &thing.hull;
    let n = p.len();
    if n < 4 {
        return None;
    }
    let mut at = [0, n / 4, n / 2, 3 * n / 4];
    for _ in 0..12 {
        let before = at;
        for k in 0..4 {
            let (a, b) = (p[at[(k + 3) % 4]], p[at[(k + 1) % 4]]);
            let far = |i: &usize| cross(a, p[*i], b).abs();
            let (from, to) = (at[(k + 3) % 4], at[(k + 1) % 4]);
            let count = (to + n - from) % n;
            let best = (1..count).map(|d| (from + d) % n).max_by(|i, j| far(i).total_cmp(&far(j)))?;
            at[k] = best;
        }
        if at == before {
            break;
        }
    }
    let corners = at.map(|i| p[i]);
    let fills = thing.area / area(&corners).abs();
    let hull_fills = area(p).abs() / area(&corners).abs();
    (fills > FILLS[0] && fills < FILLS[1] && hull_fills < FILLS[1]).then_some(corners)
}

/// Corners where lines through the sides meet, in pixels of the full picture; none if a side is not straight.
fn refined(picture: &Picture, full: &[[f64; 2]; 4], reach: f64) -> Option<[[f64; 2]; 4]> {
    let lights = lights();
    let value = |p: [f64; 2]| -> Option<f64> {
        let (x, y) = (p[0] - 0.5, p[1] - 0.5);
        if x < 0.0 || y < 0.0 || x + 1.0 >= picture.width as f64 || y + 1.0 >= picture.height as f64 {
            return None;
        }
        let (i, j, fx, fy) = (x as usize, y as usize, x.fract(), y.fract());
        let one = |i: usize, j: usize| {
            let q = &picture.rgb[3 * (j * picture.width + i)..][..3];
            f64::from(brightness([0, 1, 2].map(|k| lights[usize::from(q[k])])))
        };
        let a = one(i, j) + (one(i + 1, j) - one(i, j)) * fx;
        let b = one(i, j + 1) + (one(i + 1, j + 1) - one(i, j + 1)) * fx;
        Some(a + (b - a) * fy)
    };
    let mut lines = Vec::new();
    for k in 0..4 {
        let (a, b) = (full[k], full[(k + 1) % 4]);
        let long = libm::hypot(b[0] - a[0], b[1] - a[1]);
        let along = [(b[0] - a[0]) / long, (b[1] - a[1]) / long];
        let out = [along[1], -along[0]];
        let mut points: Vec<[f64; 2]> = Vec::new();
        for i in 0..PLACES {
            let t = ENDS + (1.0 - 2.0 * ENDS) * (i as f64 + 0.5) / PLACES as f64;
            let at =
                |d: f64| [a[0] + along[0] * long * t + out[0] * d, a[1] + along[1] * long * t + out[1] * d];
            points.extend(edge(&|d| value(at(d)), reach).map(|d| [long * t, d]));
        }
        lines.push((a, along, out, line(points, long)?));
    }
    let meet = |p: &Line, q: &Line| {
        let on = |l: &Line, s: f64| {
            let d = l.3[0] + l.3[1] * s;
            [l.0[0] + l.1[0] * s + l.2[0] * d, l.0[1] + l.1[1] * s + l.2[1] * d]
        };
        let (a, b, c, d) = (on(p, 0.0), on(p, 1000.0), on(q, 0.0), on(q, 1000.0));
        let (u, v) = ([b[0] - a[0], b[1] - a[1]], [d[0] - c[0], d[1] - c[1]]);
        let det = u[0] * v[1] - u[1] * v[0];
        let s = ((c[0] - a[0]) * v[1] - (c[1] - a[1]) * v[0]) / det;
        [a[0] + s * u[0], a[1] + s * u[1]]
    };
    Some(std::array::from_fn(|k| meet(&lines[(k + 3) % 4], &lines[k])))
}

type Line = ([f64; 2], [f64; 2], [f64; 2], [f64; 2]);

/// Where a profile crosses half-way between what lies well inside and well outside.
fn edge(value: &dyn Fn(f64) -> Option<f64>, reach: f64) -> Option<f64> {
    let mean = |from: f64, to: f64| -> Option<f64> {
        let mut sum = 0.0;
        for i in 0..5 {
            sum += value(from + (to - from) * f64::from(i) / 4.0)?;
        }
        Some(sum / 5.0)
    };
    let (inside, outside) = (mean(-reach, -0.6 * reach)?, mean(0.6 * reach, reach)?);
    if (inside - outside).abs() < 0.02 {
        return None;
    }
    let half = (inside + outside) / 2.0;
    let steps = (2.0 * reach * 2.0) as usize;
    let mut before: Option<(f64, f64)> = None;
    let mut found = None;
    for i in 0..=steps {
        let d = -reach + 2.0 * reach * i as f64 / steps as f64;
        let v = value(d)? - half;
        if let Some((e, u)) = before
            && u * v <= 0.0
            && u != v
        {
            // More than one crossing: something lies on the edge.
            if found.is_some() {
                return None;
            }
            found = Some(e + (d - e) * u / (u - v));
        }
        before = Some((d, v));
    }
    found
}

/// A straight line d = a + b s through most of the points; none if they stray.
fn line(mut points: Vec<[f64; 2]>, long: f64) -> Option<[f64; 2]> {
    let mut fit = [0.0; 2];
    for _ in 0..6 {
        if points.len() < PLACES / 3 {
            return None;
        }
        let (at, slope) = linear::line(points.iter().map(|p| (p[0], p[1])));
        fit = [at, slope];
        let mut off: Vec<f64> = points.iter().map(|p| (p[1] - fit[0] - fit[1] * p[0]).abs()).collect();
        off.sort_by(f64::total_cmp);
        let limit = (3.0 * 1.4826 * off[off.len() / 2]).max(0.3);
        if off[off.len() / 2] > STRAIGHT * long {
            return None;
        }
        points.retain(|p| (p[1] - fit[0] - fit[1] * p[0]).abs() <= limit);
    }
    Some(fit)
}

/// How far four corners are off a size's proportions, as a part, by the usual focal length: the two directions of a
/// plane are equally long and square to each other.
fn shape(picture: &Picture, size: &[f64; 2], corners: &[[f64; 2]; 4]) -> f64 {
    let (w, h) = (picture.width as f64, picture.height as f64);
    let half = libm::hypot(w, h) / 2.0;
    let own = corners.map(|c| [(c[0] - w / 2.0) / half / FOCAL, (c[1] - h / 2.0) / half / FOCAL]);
    let places =
        [[0.0, 0.0], [size[0], 0.0], [size[0], size[1]], [0.0, size[1]]].map(|p| p.map(|v| v / 100.0));
    let Some(p) = super::straighten::projection(&places, &own) else { return f64::INFINITY };
    let v = p.0;
    let (one, two) = ([v[0], v[3], v[6]], [v[1], v[4], v[7]]);
    let dot = |a: [f64; 3], b: [f64; 3]| a[0] * b[0] + a[1] * b[1] + a[2] * b[2];
    let (a, b) = (dot(one, one).sqrt(), dot(two, two).sqrt());
    libm::hypot((a / b).ln(), dot(one, two) / (a * b))
}
