//! The outline of a cup in a picture: where each row meets it on either side, and where the middle meets it above
//! and below, to parts of a pixel.
//!
//! The ground is a surface of second order through what the sides and the top of the picture show. From outside
//! inward the first *sharp* change is the cup's edge: a shadow on paper changes slowly. There the light goes from
//! that outside to that inside, and the place where it is half way is the edge of what covers the pixels.
//!
//! Imports: base, read::picture.

use crate::base::colour::lights;
use crate::base::linear::least_squares;
use crate::read::picture::Picture;
use rayon::prelude::*;

/// Part of the picture's sides and top that shows ground.
const FRAME: f64 = 0.06;
/// Places of the frame that are looked at, across and down.
const LOOKED_AT: usize = 160;
/// Light within which the ground is all over.
const NEAR: f64 = 0.25;
/// Light over which a place is no ground.
const LEAST: f64 = 0.06;
/// So many times what the ground strays is no ground either.
const OVER_NOISE: f64 = 8.0;
/// Part of the sharpest change nearby that an edge has.
const SHARP: f64 = 0.5;
/// Pixels from the first change inward in which the sharpest is looked for, of a picture 3,000 wide.
const SEARCHED: usize = 90;
/// How far the ends' arcs reach, as part of the cup, and points of one side of them that are looked at.
const ARC_REACH: f64 = 0.12;
const ARC_POINTS: i32 = 24;
/// Width of picture for which windows are counted in pixels.
const USUAL_WIDTH: f64 = 3000.0;

type Rgb = [f64; 3];

/// What was found in a picture. Pixels are counted from its top left corner, to their middles.
pub(super) struct Edges {
    /// For each row the left and the right edge.
    pub rows: Vec<Option<(f64, f64)>>,
    /// Where the cup begins and ends down its middle.
    pub ends: Option<(f64, f64)>,
    /// Points of the arcs in which it ends above and below, beside its middle.
    pub arcs: [Vec<(f64, f64)>; 2],
    /// How far the ground's light strays from a smooth one.
    pub ground: f64,
    /// Does it reach a side of the picture?
    pub cut_off: bool,
}

struct Ground {
    /// For each channel: 1, u, v, uu, uv, vv.
    parts: [[f64; 6]; 3],
    strays: f64,
}

struct Look<'a> {
    picture: &'a Picture,
    light: [f32; 256],
    ground: Ground,
    /// Pixels of a window's unit.
    unit: usize,
}

/// Finds a cup's edges.
pub(super) fn edges(picture: &Picture) -> Edges {
    let light = lights();
    let ground = ground(picture, &light);
    let unit = (picture.width as f64 / USUAL_WIDTH).round().max(1.0) as usize;
    let look = Look { picture, light, ground, unit };
    let rows: Vec<Option<(f64, f64)>> = (0..picture.height).into_par_iter().map(|y| look.row(y)).collect();
    let beside = 3 * unit;
    let by_side =
        rows.iter().flatten().any(|(l, r)| *l < beside as f64 || *r > (picture.width - beside) as f64);
    let ends = [&rows[..beside], &rows[rows.len() - beside..]];
    // What leaves the picture has no edge there.
    let (w, h) = (picture.width, picture.height);
    let leaves =
        |x: usize| (0..h).filter(|y| (0..beside).all(|k| look.off_ground(x.abs_diff(k), *y))).count();
    let by_side = by_side || leaves(0) > h / 50 || leaves(w - 1) > h / 50;
    let cut_off = by_side || ends.iter().any(|rows| rows.iter().flatten().count() == beside);
    let rows = in_one(rows);
    let ends = look.ends(&rows);
    let arcs = ends.map_or([Vec::new(), Vec::new()], |ends| look.arcs(&rows, ends));
    Edges { rows, ends, arcs, ground: look.ground.strays, cut_off }
}

/// Only the longest run of rows that are at least a seventh as wide as the widest: specks beside the cup are none
/// of it. A gap of a few rows does not part a run.
fn in_one(mut rows: Vec<Option<(f64, f64)>>) -> Vec<Option<(f64, f64)>> {
    let widest = rows.iter().flatten().map(|(l, r)| r - l).fold(0.0, f64::max);
    let wide = |row: &Option<(f64, f64)>| row.is_some_and(|(l, r)| (r - l) * 7.0 > widest);
    let most_gap = 1 + rows.len() / 200;
    let (mut best, mut from, mut last) = (0..0, None::<usize>, 0);
    for (y, row) in rows.iter().enumerate() {
        if !wide(row) {
            continue;
        }
        if from.is_none() || y - last > most_gap {
            from = Some(y);
        }
        last = y;
        let run = from.unwrap_or(y)..y + 1;
        if run.len() > best.len() {
            best = run;
        }
    }
    for (y, row) in rows.iter_mut().enumerate() {
        if !best.contains(&y) || !wide(row) {
            *row = None;
        }
    }
    rows
}

fn pixel(picture: &Picture, light: &[f32; 256], x: usize, y: usize) -> Rgb {
    let at = (y * picture.width + x) * 3;
    std::array::from_fn(|c| f64::from(light[picture.rgb[at + c] as usize]))
}

/// A smooth surface through the light of sides and top, each time without what is far off it.
fn ground(picture: &Picture, light: &[f32; 256]) -> Ground {
    let (w, h) = (picture.width, picture.height);
    let (beside, above) = ((w as f64 * FRAME) as usize, (h as f64 * FRAME) as usize);
    let (step_x, step_y) = ((w / LOOKED_AT).max(1), (h / LOOKED_AT).max(1));
    let place = |x: usize, y: usize| {
        (x as f64 / w as f64 * 2.0 - 1.0, y as f64 / h as f64 * 2.0 - 1.0, pixel(picture, light, x, y))
    };
    let framed = |x: usize, y: usize| x < beside || x + beside >= w || y < above;
    let fine = (step_x / 4).max(1);
    let mut all: Vec<(f64, f64, Rgb)> = (0..h)
        .step_by(step_y)
        .flat_map(|y| (0..w).step_by(fine).filter(move |x| framed(*x, y)).map(move |x| (x, y)))
        .map(|(x, y)| place(x, y))
        .collect();
    // First what is near the middle of all: something dark at the top must not bend the surface.
    let middle: Rgb = std::array::from_fn(|c| {
        let mut all: Vec<f64> = all.iter().map(|p| p.2[c]).collect();
        all.sort_by(f64::total_cmp);
        all[all.len() / 2]
    });
    all.retain(|p| apart(p.2, middle) < NEAR);
    let mut found = Ground { parts: [[0.0; 6]; 3], strays: 0.0 };
    for _ in 0..4 {
        found.parts = std::array::from_fn(|c| {
            let of = all.iter().map(|(u, v, light)| (powers(*u, *v), light[c]));
            // Too few places, or all alike: no more than their middle is known.
            least_squares(of).unwrap_or([middle[c], 0.0, 0.0, 0.0, 0.0, 0.0])
        });
        let parts = Ground { parts: found.parts, strays: 0.0 };
        let off = |p: &(f64, f64, Rgb)| apart(p.2, parts.at(p.0, p.1));
        let mut offs: Vec<f64> = all.iter().map(off).collect();
        offs.sort_by(f64::total_cmp);
        // 1.4826 times the median distance is the standard deviation of a normal law.
        found.strays = 1.4826 * offs[offs.len() / 2];
        let most = (4.0 * found.strays).max(0.01);
        let kept: Vec<(f64, f64, Rgb)> = all.iter().copied().filter(|p| off(p) <= most).collect();
        if kept.len() * 2 < all.len() {
            break;
        }
        all = kept;
    }
    found
}

fn powers(u: f64, v: f64) -> [f64; 6] {
    [1.0, u, v, u * u, u * v, v * v]
}

impl Ground {
    fn at(&self, u: f64, v: f64) -> Rgb {
        let row = powers(u, v);
        std::array::from_fn(|c| self.parts[c].iter().zip(row).map(|(a, b)| a * b).sum())
    }
    fn least(&self) -> f64 {
        LEAST.max(OVER_NOISE * self.strays)
    }
}

impl Look<'_> {
    fn row(&self, y: usize) -> Option<(f64, f64)> {
        let w = self.picture.width;
        let left = self.edge(w, |i| (i, y))?;
        let right = self.edge(w, |i| (w - 1 - i, y))?;
        let right = (w - 1) as f64 - right;
        (left < right).then_some((left, right))
    }
    /// Where the middle columns meet the cup from above and from below, in the middle of what they say.
    fn ends(&self, rows: &[Option<(f64, f64)>]) -> Option<(f64, f64)> {
        let found: Vec<(f64, f64)> = rows.iter().flatten().copied().collect();
        let mut middles: Vec<f64> = found.iter().map(|(l, r)| f64::midpoint(*l, *r)).collect();
        middles.sort_by(f64::total_cmp);
        let middle = *middles.get(middles.len() / 2)?;
        let narrowest = found.iter().map(|(l, r)| r - l).fold(f64::INFINITY, f64::min);
        let h = self.picture.height;
        let of = |way: fn(usize, usize) -> usize| {
            let one = |k: i32| {
                let x = (middle + f64::from(k) * narrowest * 0.004).round();
                let x = (x.max(0.0) as usize).min(self.picture.width - 1);
                self.edge(h, |i| (x, way(h, i)))
            };
            let mut all: Vec<f64> = (-15..=15).filter_map(one).collect();
            all.sort_by(f64::total_cmp);
            all.get(all.len() / 2).copied().filter(|_| all.len() > 20)
        };
        let (top, bottom) = (of(|_, i| i)?, of(|h, i| h - 1 - i)?);
        let bottom = (h - 1) as f64 - bottom;
        (top < bottom).then_some((top, bottom))
    }
    /// The ends' arcs, out to nine tenths of the width near them.
    fn arcs(&self, rows: &[Option<(f64, f64)>], (top, bottom): (f64, f64)) -> [Vec<(f64, f64)>; 2] {
        let h = self.picture.height;
        let reach = (bottom - top) * ARC_REACH;
        let one = |from: f64, to: f64, up: bool| {
            let near = (from.max(0.0) as usize..=(to.max(0.0) as usize).min(h - 1)).filter_map(|y| rows[y]);
            let widest = near.max_by(|a, b| (a.1 - a.0).total_cmp(&(b.1 - b.0)));
            let Some((left, right)) = widest else { return Vec::new() };
            let (middle, half) = (f64::midpoint(left, right), (right - left) / 2.0);
            let place = |k: i32| {
                let x = middle + half * 0.9 * f64::from(k) / f64::from(ARC_POINTS);
                let x = (x.round().max(0.0) as usize).min(self.picture.width - 1);
                let y = if up {
                    self.edge(h, |i| (x, i))?
                } else {
                    (h - 1) as f64 - self.edge(h, |i| (x, h - 1 - i))?
                };
                (y >= from - 2.0 && y <= to + 2.0).then_some((x as f64, y))
            };
            (-ARC_POINTS..=ARC_POINTS).filter(|k| k.abs() * 3 > ARC_POINTS).filter_map(place).collect()
        };
        [one(top, top + reach, true), one(bottom - reach, bottom, false)]
    }
    fn off_ground(&self, x: usize, y: usize) -> bool {
        let g = self.ground.at(
            x as f64 / self.picture.width as f64 * 2.0 - 1.0,
            y as f64 / self.picture.height as f64 * 2.0 - 1.0,
        );
        apart(pixel(self.picture, &self.light, x, y), g) > self.ground.least()
    }
    /// The first sharp change on the way in from the picture's side, `n` pixels long at most.
    fn edge(&self, n: usize, at: impl Fn(usize) -> (usize, usize)) -> Option<f64> {
        let light = |i: usize| {
            let (x, y) = at(i);
            pixel(self.picture, &self.light, x, y)
        };
        let off_ground = |i: usize| {
            let (x, y) = at(i);
            self.off_ground(x, y)
        };
        let least = self.ground.least();
        // A few pixels in a row: a speck of dust is none.
        let lasts = 4 * self.unit;
        let first = (0..n.saturating_sub(lasts))
            .step_by(self.unit)
            .find(|i| (0..=lasts).all(|k| off_ground(i + k)))?;
        let reach = 2 * self.unit;
        let from = first.saturating_sub(4 * self.unit).max(reach);
        let to = (first + SEARCHED * self.unit).min(n - reach - 1);
        let change = |i: usize| apart(light(i + reach), light(i - reach));
        let sharpest = (from..to).map(change).fold(0.0, f64::max);
        if sharpest < least {
            return None;
        }
        let sharp = (from..to).find(|i| change(*i) >= SHARP * sharpest)?;
        // On to the top of that change.
        let top = (sharp..(sharp + 6 * self.unit).min(to)).max_by(|a, b| {
            // Of equals the first.
            change(*a).total_cmp(&change(*b)).then(b.cmp(a))
        })?;
        self.half_way(n, top, light)
    }
    /// Where, near a change, the light is half way from that outside to that inside.
    fn half_way(&self, n: usize, top: usize, light: impl Fn(usize) -> Rgb) -> Option<f64> {
        let u = self.unit;
        let mean = |from: usize, to: usize| {
            let all: Vec<Rgb> = (from..to).map(&light).collect();
            let n = all.len().max(1) as f64;
            std::array::from_fn::<f64, 3, _>(|c| all.iter().map(|l| l[c]).sum::<f64>() / n)
        };
        let out = mean(top.saturating_sub(12 * u), top.saturating_sub(5 * u));
        let inside = mean((top + 4 * u).min(n - 1), (top + 8 * u).min(n));
        let way: Rgb = std::array::from_fn(|c| inside[c] - out[c]);
        let length: f64 = way.iter().map(|v| v * v).sum();
        if length < self.ground.least() * self.ground.least() {
            return None;
        }
        let part = |i: usize| {
            let l = light(i);
            (0..3).map(|c| (l[c] - out[c]) * way[c]).sum::<f64>() / length
        };
        let from = top.saturating_sub(5 * u);
        let i = (from..(top + 5 * u).min(n - 1)).find(|i| part(*i) < 0.5 && part(i + 1) >= 0.5)?;
        let (a, b) = (part(i), part(i + 1));
        Some(i as f64 + (0.5 - a) / (b - a))
    }
}

fn apart(a: Rgb, b: Rgb) -> f64 {
    (0..3).map(|c| (a[c] - b[c]).abs()).fold(0.0, f64::max)
}
