//! [`pack`]: as many motifs as fit on what is free, by their worth.
//!
//! The wall is a raster of cells on (azimuth, height): a turn round the cup is an exact shift of columns, and a
//! motif covers other cells at each height. A motif's outline, grown by half of what it wants clear, is a list of
//! runs of cells, asked against running sums of what is covered.
//!
//! ```text
//! greedy   kinds by area for their worth, each to the free place where most of its rim touches something
//! ruin     all within 18 to 42 mm of a random place is taken out,
//! refill   and filled again in a shuffled order; kept when not worth less
//! ```
//!
//! It guides only: afterwards all are pushed apart and measured on their outlines; what still lacks is shifted by
//! parts of a cell, or left out. The search is counted in places looked at, never in seconds.
//!
//! Imports: base, outline, read::job, make::cup, make::motif::{placements, spread}.

use super::placements::{Body, PlacementIndex};
use super::spread::push_apart;
use crate::base::frame::{Art, Plane, Point};
use crate::base::random::Random;
use crate::base::tolerance::{CLEAR_GUARD, LEAST_DIVISOR};
use crate::base::units::{Angle, Mm};
use crate::make::cup::Development;
use crate::outline::plane::convex_hull;
use crate::outline::{Flat, Join};
use crate::read::job::{Turning, WallPose};
use std::f64::consts::TAU;

/// A motif that is asked for as often as it fits.
#[derive(Clone, Copy, Debug)]
pub(super) struct Wish {
    /// Which motif of the list.
    pub motif: usize,
    /// How many there are.
    pub stock: usize,
    /// What one is worth beside the others.
    pub worth: f64,
    pub turning: Turning,
}

/// How finely and how long it is searched.
#[derive(Clone, Copy, Debug)]
pub(super) struct Effort {
    /// Side of a cell, mm.
    pub cell: f64,
    /// Places that are looked at in all.
    pub places: u64,
}

impl Effort {
    /// Of a job: half a second of one processor, as a rule.
    pub const JOB: Effort = Effort { cell: 1.0, places: 12_000_000 };
}

/// Outlines are grown by this much more than half their clearance, mm: cells are asked at their middles.
const MARGIN: f64 = 0.1;
/// Reach of what is taken out, mm.
const RUIN: [f64; 2] = [18.0, 42.0];
/// By how much the touch of a place is blurred when a hole is filled again: other places have their turn.
const BLUR: f64 = 0.35;
/// Leans that a motif is tried in, of those that it may have.
const LEANS: [f64; 3] = [0.0, -1.0, 1.0];
const ALL_ROUND: usize = 8;

/// A run of cells: row, first and last column beside the middle's.
type Run = (u16, i32, i32);

/// The cells of a motif at a height.
#[derive(Clone, Debug, Default)]
struct Mask {
    runs: Vec<Run>,
    /// The same and one cell round it; beyond the last rows it touches the limits.
    rim: Vec<Run>,
    /// Cells of the rim beyond the limits.
    beyond: u32,
    /// All cells of the rim.
    around: u32,
    /// Does it stand between the limits?
    fits: bool,
}

/// A motif placed on the raster.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Stone {
    kind: usize,
    lean: usize,
    row: usize,
    column: usize,
}

struct Kind {
    wish: Wish,
    leans: Vec<Angle>,
    /// By lean and row.
    masks: Vec<Vec<Mask>>,
    area: f64,
    /// Farthest from its middle, mm.
    reach: f64,
}

/// What is covered.
#[derive(Clone)]
struct Raster {
    columns: usize,
    rows: usize,
    covered: Vec<u8>,
    /// Running sums of each row, of covered cells.
    sums: Vec<u32>,
}

impl Raster {
    fn new(columns: usize, rows: usize) -> Raster {
        Raster { columns, rows, covered: vec![0; columns * rows], sums: vec![0; (columns + 1) * rows] }
    }
    /// Covered cells of a run of columns, which may go round.
    #[inline]
    fn count(&self, row: usize, from: i32, to: i32) -> u32 {
        let n = self.columns as i32;
        let sums = &self.sums[row * (self.columns + 1)..(row + 1) * (self.columns + 1)];
        if to - from + 1 >= n {
            return sums[self.columns];
        }
        let a = from.rem_euclid(n);
        let b = a + (to - from) + 1;
        if b <= n {
            sums[b as usize] - sums[a as usize]
        } else {
            sums[self.columns] - sums[a as usize] + sums[(b - n) as usize]
        }
    }
    fn put(&mut self, runs: &[Run], column: i32, on: bool) {
        let n = self.columns as i32;
        for &(row, a, b) in runs {
            let row = usize::from(row);
            for c in a..=b.min(a + n - 1) {
                let cell = &mut self.covered[row * self.columns + (c + column).rem_euclid(n) as usize];
                *cell = if on { cell.saturating_add(1) } else { cell.saturating_sub(1) };
            }
        }
        let mut last = usize::MAX;
        for &(row, ..) in runs {
            if usize::from(row) != last {
                last = usize::from(row);
                self.sum(last);
            }
        }
    }
    fn sum(&mut self, row: usize) {
        let cells = &self.covered[row * self.columns..(row + 1) * self.columns];
        let sums = &mut self.sums[row * (self.columns + 1)..(row + 1) * (self.columns + 1)];
        for (k, c) in cells.iter().enumerate() {
            sums[k + 1] = sums[k] + u32::from(*c > 0);
        }
    }
}

/// Where the middle of a hole is and how far it reaches, in cells; all of the wall without.
type Window = Option<(usize, usize, usize)>;

struct Search<'a> {
    kinds: Vec<Kind>,
    raster: Raster,
    stones: Vec<Stone>,
    left: Vec<usize>,
    looked: u64,
    effort: Effort,
    random: &'a mut Random,
}

impl Search<'_> {
    fn worth(&self) -> f64 {
        self.stones.iter().map(|s| self.kinds[s.kind].wish.worth).sum()
    }
    fn put(&mut self, s: Stone) {
        let runs = std::mem::take(&mut self.kinds[s.kind].masks[s.lean][s.row].runs);
        self.raster.put(&runs, s.column as i32, true);
        self.kinds[s.kind].masks[s.lean][s.row].runs = runs;
        self.left[s.kind] -= 1;
        self.stones.push(s);
    }
    fn take(&mut self, i: usize) -> Stone {
        let s = self.stones.remove(i);
        let runs = std::mem::take(&mut self.kinds[s.kind].masks[s.lean][s.row].runs);
        self.raster.put(&runs, s.column as i32, false);
        self.kinds[s.kind].masks[s.lean][s.row].runs = runs;
        self.left[s.kind] += 1;
        s
    }
    /// The free place of a kind that touches most, blurred by so much.
    fn place(&mut self, kind: usize, window: Window, blur: f64) -> Option<Stone> {
        let (raster, k) = (&self.raster, &self.kinds[kind]);
        let mut best: Option<(f64, Stone)> = None;
        let (rows, columns) = match window {
            None => (0..raster.rows, 0..raster.columns),
            Some((row, column, reach)) => {
                let wide = reach.min(raster.columns / 2);
                let from = column + raster.columns - wide;
                (row.saturating_sub(reach)..(row + reach + 1).min(raster.rows), from..from + 2 * wide + 1)
            }
        };
        for (lean, masks) in k.masks.iter().enumerate() {
            for row in rows.clone() {
                let mask = &masks[row];
                if !mask.fits {
                    continue;
                }
                for column in columns.clone() {
                    let column = column % raster.columns;
                    self.looked += 1;
                    let c = column as i32;
                    let free = |r: &Run| raster.count(usize::from(r.0), r.1 + c, r.2 + c) == 0;
                    if !mask.runs.iter().all(free) {
                        continue;
                    }
                    let touched: u32 =
                        mask.rim.iter().map(|r| raster.count(usize::from(r.0), r.1 + c, r.2 + c)).sum();
                    let share = f64::from(touched + mask.beyond) / f64::from(mask.around.max(1));
                    let blurred = if blur > 0.0 { share + blur * self.random.unit() } else { share };
                    if best.is_none_or(|b| blurred > b.0) {
                        best = Some((blurred, Stone { kind, lean, row, column }));
                    }
                }
            }
        }
        best.map(|b| b.1)
    }
    /// Fills in this order of kinds until nothing fits.
    fn fill(&mut self, order: &[usize], window: Window, blur: f64) {
        for &kind in order {
            while self.left[kind] > 0 {
                let window = window.map(|(r, c, reach)| {
                    (r, c, reach + (self.kinds[kind].reach / self.effort.cell) as usize)
                });
                match self.place(kind, window, blur) {
                    Some(s) => self.put(s),
                    None => break,
                }
            }
        }
    }
    /// Kinds by area for their worth, each times a number from 1 to `1 + mix`.
    fn order(&mut self, mix: f64) -> Vec<usize> {
        let mut keyed: Vec<(f64, usize)> = Vec::new();
        for (i, k) in self.kinds.iter().enumerate() {
            let key = k.area / k.wish.worth * (1.0 + mix * self.random.unit());
            keyed.push((key, i));
        }
        keyed.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
        keyed.into_iter().map(|k| k.1).collect()
    }
    /// Ruin and refill until all are placed or enough was looked at.
    fn improve(&mut self) {
        let mut worth = self.worth();
        let size = self.effort.cell;
        while self.looked < self.effort.places && self.left.iter().any(|n| *n > 0) {
            let before = self.looked;
            let (row, column) = (self.random.below(self.raster.rows), self.random.below(self.raster.columns));
            let reach = (self.random.between(RUIN[0], RUIN[1]) / size) as usize;
            let away = |s: &Stone| {
                let round = s.column.abs_diff(column);
                let round = round.min(self.raster.columns - round);
                libm::hypot(round as f64, s.row.abs_diff(row) as f64)
            };
            let mut gone: Vec<usize> =
                (0..self.stones.len()).filter(|i| away(&self.stones[*i]) <= reach as f64).collect();
            gone.reverse();
            let taken: Vec<Stone> = gone.into_iter().map(|i| self.take(i)).collect();
            let kept = self.stones.len();
            let order = self.order(1.5);
            self.fill(&order, Some((row, column, reach)), BLUR);
            let now = self.worth();
            if now >= worth {
                worth = now;
            } else {
                while self.stones.len() > kept {
                    self.take(self.stones.len() - 1);
                }
                taken.into_iter().for_each(|s| self.put(s));
            }
            // A wall on which nothing stands within reach costs a step as well.
            self.looked += u64::from(self.looked == before);
        }
    }
}

/// What came of it.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Packed {
    /// Motifs and their poses, motif by motif.
    pub poses: Vec<(usize, WallPose)>,
    /// No more than so many fit, by area; the stock where that is less.
    pub at_most: usize,
}

/// As many as fit beside what stands; none of it is put up.
pub(super) fn pack(
    wishes: &[Wish],
    bodies: &[Body],
    wall: &mut PlacementIndex,
    effort: Effort,
    random: &mut Random,
) -> Packed {
    let found = stones(wishes, bodies, wall, effort, random);
    let n = wall.len();
    let mut items: Vec<(usize, usize)> = found.iter().map(|s| (s.0, 0)).collect();
    let mut poses: Vec<WallPose> = found.iter().map(|s| s.1).collect();
    let mut turnings = vec![Turning::Upright; bodies.len()];
    wishes.iter().for_each(|w| turnings[w.motif] = w.turning);
    stand(wall, bodies, n, &items, &poses);
    // Cells are half a millimetre off: pushed apart, what lacks that much finds it, and the gaps grow even.
    let mut apart = poses.clone();
    push_apart(&turnings, bodies, wall, &items, &mut apart, n);
    stand(wall, bodies, n, &items, &apart);
    let lacks = |wall: &PlacementIndex, poses: &[WallPose]| -> Vec<usize> {
        let short = |i: &usize| wall.violation(n + i, items[*i].0, &bodies[items[*i].0], poses[*i]).is_some();
        (0..poses.len()).filter(short).collect()
    };
    let after = lacks(wall, &apart).len();
    stand(wall, bodies, n, &items, &poses);
    if after <= lacks(wall, &poses).len() {
        poses = apart;
        stand(wall, bodies, n, &items, &poses);
    }
    // What still lacks is shifted a little, or leaves.
    let mut i = 0;
    while i < items.len() {
        let motif = items[i].0;
        match settled(wall, n + i, (motif, &bodies[motif]), poses[i], effort.cell) {
            Some(pose) => {
                poses[i] = pose;
                wall.move_to(n + i, &bodies[motif], pose);
                wall.refine_one(n + i, &bodies[motif], pose);
                i += 1;
            }
            None => {
                items.remove(i);
                poses.remove(i);
                stand(wall, bodies, n, &items, &poses);
            }
        }
    }
    let mut poses: Vec<(usize, WallPose)> = items.iter().map(|i| i.0).zip(poses).collect();
    wall.truncate(n);
    poses.sort_by_key(|p| p.0);
    Packed { poses, at_most: bound(wishes, bodies, wall) }
}

/// Puts motifs up beside the first `n`, ready to be measured.
pub(super) fn stand(
    wall: &mut PlacementIndex,
    bodies: &[Body],
    n: usize,
    items: &[(usize, usize)],
    poses: &[WallPose],
) {
    wall.truncate(n);
    for (k, (&(m, _), pose)) in items.iter().zip(poses).enumerate() {
        wall.place(m, &bodies[m], *pose);
        wall.refine_one(n + k, &bodies[m], *pose);
    }
}

/// The search on the raster: motifs and poses.
fn stones(
    wishes: &[Wish],
    bodies: &[Body],
    wall: &PlacementIndex,
    effort: Effort,
    random: &mut Random,
) -> Vec<(usize, WallPose)> {
    let d = *wall.development();
    let (low, high) = wall.low_high();
    let rows = libm::floor((high - low).get() / effort.cell).max(0.0) as usize;
    let girth = TAU * d.radius((low + high) * 0.5).get();
    let columns = libm::round(girth / effort.cell).max(8.0) as usize;
    if rows == 0 || wishes.is_empty() {
        return Vec::new();
    }
    let widest = wishes.iter().map(|w| bodies[w.motif].clearance.get()).fold(0.0, f64::max);
    let wall_raster = (columns, rows, low.get(), (high - low).get() / rows as f64);
    let kinds: Vec<Kind> =
        wishes.iter().map(|w| kind(*w, &bodies[w.motif], &d, wall_raster, widest / 2.0)).collect();
    let mut raster = Raster::new(columns, rows);
    for (flat, clearance) in wall.outlines() {
        let grown =
            flat.offset(Mm((clearance.get().max(widest) - widest / 2.0 + MARGIN).max(0.0)), Join::Round);
        let (runs, _) = runs(&grown.rings, &d, wall_raster);
        raster.put(&runs, 0, true);
    }
    let left = wishes.iter().map(|w| w.stock).collect();
    let mut search = Search { kinds, raster, stones: Vec::new(), left, looked: 0, effort, random };
    let order = search.order(0.0);
    search.fill(&order, None, 0.0);
    search.improve();
    let slant = |row: usize| Mm(wall_raster.2 + (row as f64 + 0.5) * wall_raster.3);
    let pose = |s: &Stone| {
        let azimuth = Angle::radians(TAU * s.column as f64 / columns as f64).wrapped();
        let k = &search.kinds[s.kind];
        (k.wish.motif, WallPose { azimuth, slant: slant(s.row), turn: k.leans[s.lean] })
    };
    search.stones.iter().map(pose).collect()
}

/// Columns, rows, lowest height and height of a row.
type Cells = (usize, usize, f64, f64);

/// A wish with its cells at all heights.
fn kind(wish: Wish, body: &Body, d: &Development, cells: Cells, half: f64) -> Kind {
    let leans: Vec<Angle> = match wish.turning {
        Turning::Upright => vec![Angle::ZERO],
        Turning::Within(most) => LEANS.iter().map(|l| most * *l).collect(),
        Turning::Free => (0..ALL_ROUND).map(|k| Angle::TURN * (k as f64 / ALL_ROUND as f64)).collect(),
    };
    let grown = body.coarse.flat().offset(Mm(half + MARGIN), Join::Round);
    let tips = convex_hull(body.fine.flat().rings.concat());
    let reach = tips.iter().map(|p| libm::hypot(p[0], p[1])).fold(0.0, f64::max);
    let one = |lean: &Angle| (0..cells.1).map(|row| mask(&grown, &tips, d, cells, (row, *lean))).collect();
    let masks = leans.iter().map(one).collect();
    let area = grown.area().max(LEAST_DIVISOR);
    Kind { wish, leans, masks, area, reach }
}

fn mask(
    grown: &Flat<Art>,
    tips: &[[f64; 2]],
    d: &Development,
    cells: Cells,
    (row, turn): (usize, Angle),
) -> Mask {
    let (_, rows, low, tall) = cells;
    let slant = Mm(low + (row as f64 + 0.5) * tall);
    let at = d.pose(WallPose { azimuth: Angle::ZERO, slant, turn });
    let high = low + rows as f64 * tall;
    let guard = CLEAR_GUARD.get();
    let within = |p: &[f64; 2]| {
        let s = d.slant(at.apply(Point::mm(p[0], p[1]))).get();
        s >= low + guard && s <= high - guard
    };
    if !tips.iter().all(within) {
        return Mask::default();
    }
    let flat = grown.moved(&at);
    let (own, first) = runs(&flat.rings, d, cells);
    // One cell more on all sides.
    let mut rim: Vec<Run> = Vec::new();
    let (mut beyond, mut around) = (0, 0);
    for up in [-1i32, 0, 1] {
        for &(r, a, b) in &own {
            let r = i32::from(r) + up;
            let wide = (b - a + 3) as u32;
            around += wide - if up == 0 { wide - 2 } else { 0 };
            match u16::try_from(r) {
                Ok(r) if usize::from(r) < rows => rim.push((r, a - 1, b + 1)),
                _ => beyond += wide,
            }
        }
    }
    let fits = !own.is_empty() && first;
    Mask { runs: own, rim, beyond, around, fits }
}

/// Cells whose middles lie within rings on the plane; false where they go more than once round.
fn runs(rings: &[Vec<[f64; 2]>], d: &Development, (columns, rows, low, tall): Cells) -> (Vec<Run>, bool) {
    let wide = TAU / columns as f64;
    let mut lines: Vec<([f64; 2], [f64; 2])> = Vec::new();
    let (mut least, mut most) = (f64::INFINITY, f64::NEG_INFINITY);
    for ring in rings {
        let on_wall: Vec<[f64; 2]> = ring
            .iter()
            .map(|p| {
                let w = d.wrap(Point::<Plane>::mm(p[0], p[1]));
                (least, most) = (least.min(w.azimuth.rad()), most.max(w.azimuth.rad()));
                [w.azimuth.rad() / wide, (w.slant.get() - low) / tall]
            })
            .collect();
        lines.extend((0..on_wall.len()).map(|i| (on_wall[i], on_wall[(i + 1) % on_wall.len()])));
    }
    let heights = lines.iter().map(|l| l.0[1]);
    let (bottom, top) = heights.fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), y| (l.min(y), h.max(y)));
    let mut out = Vec::new();
    let from = (bottom - 0.5).max(0.0) as usize;
    for row in from..((top + 1.0).max(0.0) as usize).min(rows) {
        let y = row as f64 + 0.5;
        let mut cuts: Vec<f64> = lines
            .iter()
            .filter(|(a, b)| (a[1] > y) != (b[1] > y))
            .map(|(a, b)| a[0] + (y - a[1]) / (b[1] - a[1]) * (b[0] - a[0]))
            .collect();
        cuts.sort_unstable_by(f64::total_cmp);
        for pair in cuts.chunks_exact(2) {
            let (a, b) = (libm::ceil(pair[0] - 0.5) as i32, libm::floor(pair[1] - 0.5) as i32);
            if a <= b {
                out.push((row as u16, a, b));
            }
        }
    }
    (out, most - least < TAU)
}

/// The pose, or one a part of a cell beside it, that holds on the outlines.
fn settled(
    wall: &PlacementIndex,
    me: usize,
    (motif, body): (usize, &Body),
    pose: WallPose,
    cell: f64,
) -> Option<WallPose> {
    let radius = wall.development().radius(pose.slant).get();
    let shifted = |part: f64, k: usize| {
        let a = TAU * k as f64 / ALL_ROUND as f64;
        let (x, y) = (part * cell * libm::cos(a), part * cell * libm::sin(a));
        let azimuth = (pose.azimuth + Angle::radians(x / radius)).wrapped();
        WallPose { azimuth, slant: pose.slant + Mm(y), ..pose }
    };
    let beside = [0.2, 0.4, 0.7].into_iter().flat_map(|part| (0..ALL_ROUND).map(move |k| (part, k)));
    let mut all = std::iter::once(pose).chain(beside.map(|(part, k)| shifted(part, k)));
    all.find(|p| wall.violation(me, motif, body, *p).is_none())
}

/// No more than so many fit: outlines grown by half their clearance lie beside each other within the wall grown by
/// half the largest; the smallest first, as far as there are any.
fn bound(wishes: &[Wish], bodies: &[Body], wall: &PlacementIndex) -> usize {
    let half = wishes.iter().map(|w| bodies[w.motif].clearance.get() / 2.0).fold(0.0, f64::max);
    let mut free = wall.free_area(Mm(half)).get();
    let area = |w: &Wish| {
        let body = &bodies[w.motif];
        body.fine.flat().offset(body.clearance * 0.5, Join::Round).area()
    };
    let mut sizes: Vec<(f64, usize)> = wishes.iter().map(|w| (area(w).max(LEAST_DIVISOR), w.stock)).collect();
    sizes.sort_by(|a, b| a.0.total_cmp(&b.0));
    let mut all = 0;
    for (area, stock) in sizes {
        let n = ((free / area).max(0.0) as usize).min(stock);
        all += n;
        free -= n as f64 * area;
    }
    all
}

#[cfg(test)]
#[path = "many_tests.rs"]
mod tests;
