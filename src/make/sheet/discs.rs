//! [`find()`]: the discs of [`Marks`] in a picture, whatever its scale, turn and tilt: dark, round, in their order.
//!
//! Candidates are dark spots whose second moments are an ellipse's. The small disc beside the first tells where to
//! begin; four corners give a projection, which must find the small disc and the middles of the sides where it says.
//! Middles are read again in the full picture by a centroid over what lies round each, in linear light.
//!
//! Imports: base, read::picture, make::sheet::{grid, colour, marks, straighten}.

use super::colour::brightness;
use super::grid::{Between, Grid};
use super::marks::{BESIDE, DISC, Marks, SMALL};
use crate::base::colour::lights;
use crate::read::picture::Picture;

/// Longer side of the picture that candidates are looked for in, pixels.
const LOOK: usize = 1600;
/// Parts of the backing's light below which a pixel may be a disc's.
const DARK: f32 = 0.42;
/// Tiles along the longer side, for the light of the backing.
const TILES: usize = 24;
/// Fewest pixels of a spot.
const LEAST: usize = 20;
/// By how much a spot may be off an ellipse of its moments, and how long it may be.
const ROUND: f64 = 0.13;
const LONG: f64 = 2.4;
/// Most candidates.
const MOST: usize = 160;
/// Weight below which a pixel is backing.
const FAINT: f32 = 0.12;

/// What was seen of the marks, in pixels of the picture (the middle of the first is at 1/2, 1/2).
#[derive(Clone, Debug, PartialEq)]
pub struct Seen {
    /// Their middles.
    pub at: [Option<[f64; 2]>; 8],
    /// The middle of the small disc.
    pub small: [f64; 2],
    /// The page is seen from its back.
    pub back: bool,
}

/// A dark round spot.
#[derive(Clone, Copy, Debug)]
struct Spot {
    at: [f64; 2],
    area: f64,
    /// Its longest diameter.
    long: f64,
}

/// Finds the marks of a page.
///
/// # Errors
/// How many round dark spots there are, if they are not such a page's.
pub fn find(picture: &Picture, marks: &Marks) -> Result<Seen, usize> {
    let step = picture.width.max(picture.height).div_ceil(LOOK).max(1);
    let spots = spots(&coarse(picture, step));
    let Some((mut seen, diameter)) = matched(&spots, marks) else { return Err(spots.len()) };
    let full = |p: [f64; 2]| p.map(|v| v * step as f64);
    let d = diameter * step as f64;
    seen.at = seen.at.map(|p| p.and_then(|p| centroid(picture, full(p), d)));
    seen.small = full(seen.small);
    Ok(seen)
}

/// Mean brightness of squares of pixels.
fn coarse(picture: &Picture, step: usize) -> Grid<f32> {
    let lights = lights();
    Grid::from_fn((picture.width / step).max(1), (picture.height / step).max(1), |x, y| {
        let mut sum = 0.0;
        for v in y * step..(y + 1) * step {
            for p in picture.rgb[3 * (v * picture.width + x * step)..][..3 * step].chunks_exact(3) {
                sum += brightness([0, 1, 2].map(|k| lights[usize::from(p[k])]));
            }
        }
        sum / (step * step) as f32
    })
}

/// Light of the backing: the bright of each tile, the brightest of its neighbours.
fn backing(grid: &Grid<f32>) -> Grid<f32> {
    let tile = grid.width.max(grid.height).div_ceil(TILES).max(4);
    let bright = Grid::from_fn(grid.width.div_ceil(tile), grid.height.div_ceil(tile), |x, y| {
        let (xs, ys) =
            (x * tile..((x + 1) * tile).min(grid.width), y * tile..((y + 1) * tile).min(grid.height));
        let mut all: Vec<f32> = ys.flat_map(|y| grid.row(y)[xs.clone()].iter().copied()).collect();
        let at = all.len() * 4 / 5;
        *all.select_nth_unstable_by(at, f32::total_cmp).1
    });
    bright.greatest_within(1.5)
}

/// Dark spots that are ellipses.
fn spots(grid: &Grid<f32>) -> Vec<Spot> {
    let (w, h) = (grid.width, grid.height);
    let back = backing(grid);
    let (sx, sy) = (back.width as f64 / w as f64, back.height as f64 / h as f64);
    let columns: Vec<Between> = (0..w).map(|x| Between::of((x as f64 + 0.5) * sx, back.width)).collect();
    let rows: Vec<Between> = (0..h).map(|y| Between::of((y as f64 + 0.5) * sy, back.height)).collect();
    let dark = Grid::from_fn(w, h, |x, y| grid.get(x, y) < DARK * back.between(columns[x], rows[y]));
    let spot = |(part, edge): (Vec<[usize; 2]>, bool)| {
        if edge || part.len() < LEAST {
            return None;
        }
        let (mut s, mut q) = ([0.0; 2], [0.0; 3]);
        for [x, y] in &part {
            let (u, v) = (*x as f64 + 0.5, *y as f64 + 0.5);
            s = [s[0] + u, s[1] + v];
            q = [q[0] + u * u, q[1] + u * v, q[2] + v * v];
        }
        ellipse(part.len() as f64, s, q)
    };
    let mut out: Vec<Spot> = dark.joined().filter_map(spot).collect();
    // The largest of too many: what is printed small is no disc.
    out.sort_by(|a, b| b.area.total_cmp(&a.area));
    out.truncate(MOST);
    out
}

/// A spot by its moments, if it is an ellipse.
fn ellipse(n: f64, s: [f64; 2], q: [f64; 3]) -> Option<Spot> {
    let at = [s[0] / n, s[1] / n];
    // Each pixel is a square: 1/12 more each way.
    let (xx, xy, yy) = (
        q[0] / n - at[0] * at[0] + 1.0 / 12.0,
        q[1] / n - at[0] * at[1],
        q[2] / n - at[1] * at[1] + 1.0 / 12.0,
    );
    let (mean, diff) = ((xx + yy) / 2.0, libm::hypot((xx - yy) / 2.0, xy));
    let (large, small) = (mean + diff, mean - diff);
    let full = 4.0 * std::f64::consts::PI * (xx * yy - xy * xy).max(0.0).sqrt();
    let round = (n / full - 1.0).abs() < ROUND && large < LONG * LONG * small;
    round.then_some(Spot { at, area: n, long: 4.0 * large.sqrt() })
}

fn minus(a: [f64; 2], b: [f64; 2]) -> [f64; 2] {
    [a[0] - b[0], a[1] - b[1]]
}
fn cross(a: [f64; 2], b: [f64; 2]) -> f64 {
    a[0] * b[1] - a[1] * b[0]
}
fn dot(a: [f64; 2], b: [f64; 2]) -> f64 {
    a[0] * b[0] + a[1] * b[1]
}
fn length(a: [f64; 2]) -> f64 {
    libm::hypot(a[0], a[1])
}

/// The marks among spots, and the diameter of a disc.
fn matched(spots: &[Spot], marks: &Marks) -> Option<(Seen, f64)> {
    let places = marks.places();
    let ratio = (SMALL / DISC) * (SMALL / DISC);
    let along = (places[2][0] - places[0][0]) / BESIDE;
    let mut best: Option<(usize, f64, Seen, f64)> = None;
    for first in spots {
        for small in spots {
            let (u, r) = (minus(small.at, first.at), small.area / first.area);
            let near = length(u) / first.long * DISC / BESIDE;
            if !(0.6 * ratio..1.5 * ratio).contains(&r) || !(0.5..1.3).contains(&near) {
                continue;
            }
            let like: Vec<&Spot> =
                spots.iter().filter(|s| (0.3..3.3).contains(&(s.area / first.area))).collect();
            let ray = |s: &&&Spot| {
                let w = minus(s.at, first.at);
                let far = length(w) / length(u);
                dot(u, w) > 0.0
                    && (0.4 * along..2.2 * along).contains(&far)
                    && cross(u, w).abs() < 0.06 * length(u) * length(w)
            };
            for right in like.iter().filter(ray) {
                for low in &like {
                    for left in &like {
                        try_corners([first, right, low, left], small, &like, marks, &mut best);
                    }
                }
            }
        }
    }
    best.map(|(_, _, seen, d)| (seen, d))
}

type Best = Option<(usize, f64, Seen, f64)>;

fn try_corners(corner: [&Spot; 4], small: &Spot, like: &[&Spot], marks: &Marks, best: &mut Best) {
    let at = corner.map(|c| c.at);
    let turn = |a: usize, b: usize, c: usize| cross(minus(at[b], at[a]), minus(at[c], at[b]));
    let turns = [turn(0, 1, 2), turn(1, 2, 3), turn(2, 3, 0), turn(3, 0, 1)];
    if !(turns.iter().all(|t| *t > 0.0) || turns.iter().all(|t| *t < 0.0)) {
        return;
    }
    let places = marks.places();
    let down = |p: [f64; 2]| [p[0], marks.page[1] - p[1]];
    let from = [0, 2, 4, 6].map(|i| down(places[i]));
    let Some(h) = super::straighten::projection(&from, &at) else { return };
    let d = corner[0].long;
    let off = length(minus(h.apply(down(marks.small())), small.at));
    if off > 0.35 * d {
        return;
    }
    let mut seen = Seen { at: [None; 8], small: small.at, back: turns[0] < 0.0 };
    let (mut n, mut sum) = (4, off);
    for (k, i) in [0, 2, 4, 6].into_iter().enumerate() {
        seen.at[i] = Some(at[k]);
    }
    for i in [1, 3, 5, 7] {
        let want = h.apply(down(places[i]));
        let near = like.iter().map(|s| (length(minus(s.at, want)), s)).min_by(|a, b| a.0.total_cmp(&b.0));
        if let Some((off, s)) = near.filter(|(off, _)| *off < 0.8 * d) {
            seen.at[i] = Some(s.at);
            (n, sum) = (n + 1, sum + off);
        }
    }
    let better = best.as_ref().is_none_or(|b| n > b.0 || (n == b.0 && sum < b.1));
    if n >= 6 && better {
        *best = Some((n, sum, seen, d));
    }
}

/// Centroid of what is darker than its surroundings, in linear light, the surroundings by a plane.
fn centroid(picture: &Picture, at: [f64; 2], diameter: f64) -> Option<[f64; 2]> {
    let lights = lights();
    let reach = 0.85 * diameter;
    let mut c = at;
    for _ in 0..3 {
        let (x0, x1) = ((c[0] - reach).floor(), (c[0] + reach).ceil());
        let (y0, y1) = ((c[1] - reach).floor(), (c[1] + reach).ceil());
        if x0 < 0.0 || y0 < 0.0 || x1 > picture.width as f64 || y1 > picture.height as f64 {
            return None;
        }
        let mut ring = Vec::new();
        let mut inner = Vec::new();
        for y in y0 as usize..y1 as usize {
            for x in x0 as usize..x1 as usize {
                let p = &picture.rgb[3 * (y * picture.width + x)..][..3];
                let v = f64::from(brightness([0, 1, 2].map(|k| lights[usize::from(p[k])])));
                let (dx, dy) = (x as f64 + 0.5 - c[0], y as f64 + 0.5 - c[1]);
                let r = libm::hypot(dx, dy) / diameter;
                if r < 0.62 {
                    inner.push((dx, dy, v));
                } else if r < 0.85 {
                    ring.push((dx, dy, v));
                }
            }
        }
        let plane = plane(&ring)?;
        let (mut sum, mut s) = (0.0, [0.0; 2]);
        for (dx, dy, v) in inner {
            let w = 1.0 - v / (plane[0] + plane[1] * dx + plane[2] * dy).max(1e-3);
            if w > f64::from(FAINT) {
                sum += w;
                s = [s[0] + w * dx, s[1] + w * dy];
            }
        }
        if sum <= 0.0 {
            return None;
        }
        c = [c[0] + s[0] / sum, c[1] + s[1] / sum];
    }
    Some(c)
}

/// v = a + b x + c y by least squares; the ring lies evenly about its middle, so the sums across vanish nearly.
fn plane(ring: &[(f64, f64, f64)]) -> Option<[f64; 3]> {
    let n = ring.len() as f64;
    let (mut v, mut x, mut y, mut xx, mut yy, mut xv, mut yv) = (0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0);
    for &(a, b, c) in ring {
        (v, x, y) = (v + c, x + a, y + b);
        (xx, yy) = (xx + a * a, yy + b * b);
        (xv, yv) = (xv + a * c, yv + b * c);
    }
    if ring.len() < 12 {
        return None;
    }
    let (b, c) = ((xv - x * v / n) / xx, (yv - y * v / n) / yy);
    Some([v / n - b * x / n - c * y / n, b, c])
}
