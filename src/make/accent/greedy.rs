//! The first fill: again and again the largest void, the shape and turn that fill it best, settled and
//! placed.
//!
//! Imports: base, outline, read::job, make::accent::{template, obstacle_grid, distance_field, contact}.

use super::outline::{V, sub};
use super::template::{RAYS, Template};
use crate::base::random::Random;
use crate::make::accent::contact::{Pose, Rules, grow_to_contact};
use crate::make::accent::distance_field::DistanceField;
use crate::make::accent::obstacle_grid::ObstacleGrid;
use crate::outline::plane::ring_area;
use crate::read::job::SpotTurn;
use std::f64::consts::{PI, TAU};

/// A spot in the making.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct SpotCandidate {
    pub template: usize,
    pub pose: Pose,
    /// Its corners on the plane.
    pub ring: Vec<V>,
    /// Displacement of each node along its normal, as a part of the size; empty where nothing is bent.
    pub bends: Vec<f64>,
}

/// What all stages of one fill share.
#[derive(Clone, Copy)]
pub(super) struct FillParams<'a> {
    pub library: &'a [Template],
    /// Shares of the kinds that the library draws, summing to 1.
    pub shares: &'a [f64],
    /// Distance that makers keep.
    pub need: f64,
    pub smallest: f64,
    pub largest: f64,
    /// What the longest extent of a shape as drawn may be on its curve; infinite where it is held once it is bent.
    pub limit: f64,
    pub turn: SpotTurn,
    /// Number of owners that stand for obstacles; spot i is owner `first + i`.
    pub first: usize,
}

impl FillParams<'_> {
    /// Smallest size of a template in this fill.
    pub fn least(&self, t: &Template) -> f64 {
        self.smallest.max(t.smallest)
    }
    /// Largest size of a template in this fill.
    pub fn most(&self, t: &Template) -> f64 {
        self.largest.min(self.limit / t.over)
    }
    /// Rules for settling a template.
    pub fn rules(&self, t: &Template) -> Rules {
        Rules {
            need: self.need,
            least: self.least(t),
            most: self.most(t),
            turns: self.turn == SpotTurn::Free,
            steps: 12,
            push: 1.0,
        }
    }
    /// The direction that a place gives to every shape that stands there, if shapes are not free to turn. Ask
    /// it once a place: `along` looks for the nearest outline.
    pub fn heading(&self, world: &ObstacleGrid, at: V) -> Option<f64> {
        match self.turn {
            SpotTurn::Free => None,
            SpotTurn::Upright => {
                let up = world.up(at);
                Some(libm::atan2(up[1], up[0]) - PI / 2.0)
            }
            SpotTurn::Along => {
                let band = world.band(at);
                let away = match world.nearest(at, band.max(0.0), None) {
                    Some(h) => sub(at, h.at),
                    None => world.up(at),
                };
                Some(libm::atan2(away[1], away[0]) + PI / 2.0)
            }
        }
    }
    /// The turn of a shape in such a direction: with its foot down, or with its long side along.
    pub fn turned(&self, heading: f64, t: &Template) -> f64 {
        if self.turn == SpotTurn::Along { heading - t.axis } else { heading }
    }
    /// The least distance from its middle to anything at which any shape of the library could stand.
    pub fn slimmest(&self) -> f64 {
        let r = self.library.iter().map(|t| t.inradius * self.least(t)).fold(f64::INFINITY, f64::min);
        self.need + r
    }
}

/// The copy of a draft whose origin lies on the turn itself.
pub(super) fn home(world: &ObstacleGrid, mut draft: SpotCandidate) -> SpotCandidate {
    let n = world.home(draft.pose.at);
    if n != 0 {
        let [c, s] = world.turned_by(n);
        draft.ring.iter_mut().for_each(|q| *q = world.turned(*q, n));
        draft.pose.at = world.turned(draft.pose.at, n);
        draft.pose.turn += libm::atan2(s, c);
    }
    draft
}

/// Places a draft: into the world and the field, with its copies.
pub(super) fn place(world: &mut ObstacleGrid, field: Option<&mut DistanceField>, id: usize, ring: &[V]) {
    let rings = [ring.to_vec()];
    world.enter(id, &rings, 0.0);
    if let Some(field) = field {
        paint(world, field, id, ring);
    }
}

/// Paints a draft into the field, with the copies that come near the turn.
pub(super) fn paint(world: &ObstacleGrid, field: &mut DistanceField, id: usize, ring: &[V]) {
    paint_wish(world, field, id, ring, 0.0);
}

/// The same for an outline that wants more than the gap.
pub(super) fn paint_wish(world: &ObstacleGrid, field: &mut DistanceField, id: usize, ring: &[V], more: f64) {
    copies(world, ring, |copy| field.paint(id as u32, copy, more));
}

/// Takes a draft that has left the world out of the field, with its copies. `bare` is the raster of what
/// never leaves.
pub(super) fn lift(
    world: &ObstacleGrid,
    field: &mut DistanceField,
    bare: &DistanceField,
    id: usize,
    ring: &[V],
) {
    copies(world, ring, |copy| field.lift(id as u32, copy, world, bare));
}

/// An outline and those of its copies that come near the turn.
fn copies(world: &ObstacleGrid, ring: &[V], mut each: impl FnMut(&[V])) {
    for n in -1..=1 {
        if n == 0 || ring.iter().any(|p| world.lands(*p, n)) {
            let copy: Vec<V> = ring.iter().map(|p| world.turned(*p, n)).collect();
            each(&copy);
        }
    }
}

/// All drafts painted into a raster of the bare wall.
pub(super) fn painted(
    kit: &FillParams,
    world: &ObstacleGrid,
    bare: &DistanceField,
    drafts: &[SpotCandidate],
) -> DistanceField {
    let mut field = bare.clone();
    for (i, d) in drafts.iter().enumerate() {
        paint(world, &mut field, kit.first + i, &d.ring);
    }
    field
}

/// What settling one shape costs, counted in places that are looked at.
const SETTLING: usize = 10;

/// Fills every void that the field shows, largest first. New drafts are appended. Gives what it cost, counted
/// in places that were looked at (settling a shape counts for ten).
pub(super) fn fill(
    kit: &FillParams,
    world: &mut ObstacleGrid,
    field: &mut DistanceField,
    drafts: &mut Vec<SpotCandidate>,
    random: &mut Random,
    tries: usize,
) -> usize {
    let stop = kit.slimmest() - 0.75 * field.pixel;
    let mut cost = 0;
    loop {
        let (p, d) = field.largest();
        if d < stop {
            return cost;
        }
        cost += 1;
        // What lacks most of its share goes first.
        let kinds = lacking(kit, drafts);
        match best_at(kit, (world, field), (p, &kinds), random, (tries, &mut cost), drafts) {
            Some(draft) => {
                place(world, Some(field), kit.first + drafts.len(), &draft.ring);
                drafts.push(draft);
            }
            None => field.give_up(p),
        }
    }
}

/// How many of each kind there are.
pub(super) fn counts(kit: &FillParams, drafts: &[SpotCandidate]) -> Vec<usize> {
    let mut out = vec![0; kit.shares.len()];
    drafts.iter().for_each(|d| out[kit.library[d.template].kind] += 1);
    out
}

/// How many of each kind are missing (less than 0: too many), if there were so many spots in all.
pub(super) fn missing(kit: &FillParams, have: &[usize], all: usize) -> Vec<f64> {
    kit.shares.iter().zip(have).map(|(share, n)| share * all as f64 - *n as f64).collect()
}

/// All kinds, what lacks most of its share first.
fn lacking(kit: &FillParams, drafts: &[SpotCandidate]) -> Vec<usize> {
    let mut kinds: Vec<usize> = (0..kit.shares.len()).collect();
    if kinds.len() > 1 {
        let lack = missing(kit, &counts(kit, drafts), drafts.len() + 1);
        kinds.sort_by(|a, b| lack[*b].total_cmp(&lack[*a]).then(a.cmp(b)));
    }
    kinds
}

/// Free length from a place in each direction (the round written twice), until the distance field falls to
/// what must be kept.
fn rays(kit: &FillParams, field: &DistanceField, p: V) -> [f64; 2 * RAYS] {
    let mut out = [0.0; 2 * RAYS];
    for k in 0..RAYS {
        let a = TAU * k as f64 / RAYS as f64;
        let dir = [libm::cos(a), libm::sin(a)];
        let mut t = 0.0;
        while t < kit.largest {
            let room = field.distance([p[0] + t * dir[0], p[1] + t * dir[1]]) - kit.need;
            if room < 0.15 {
                break;
            }
            t += room;
        }
        out[k] = t;
        out[k + RAYS] = t;
    }
    out
}

/// The best of the first of some kinds that has any at a void.
pub(super) fn best_at(
    kit: &FillParams,
    (world, field): (&ObstacleGrid, &DistanceField),
    (p, kinds): (V, &[usize]),
    random: &mut Random,
    (tries, cost): (usize, &mut usize),
    drafts: &[SpotCandidate],
) -> Option<SpotCandidate> {
    let free = rays(kit, field, p);
    let mut ranked: Vec<(f64, usize, f64, f64)> = Vec::new();
    // The last few shapes are not drawn again at once: no lookalike neighbours.
    let recent: Vec<usize> = drafts.iter().rev().take(kit.library.len() / 3).map(|d| d.template).collect();
    let heading = kit.heading(world, p);
    for (i, t) in kit.library.iter().enumerate() {
        let least = kit.least(t);
        let shy = if recent.contains(&i) { 0.85 } else { 1.0 } * random.between(0.92, 1.0);
        let mut best = (0.0, 0.0);
        match heading.map(|h| kit.turned(h, t)) {
            Some(turn) => best = (fit(&free, t, turn), turn),
            None => {
                for j in 0..RAYS {
                    let s = fit_at(&free[j..j + RAYS], t);
                    if s > best.0 {
                        best = (s, TAU * j as f64 / RAYS as f64);
                    }
                }
            }
        }
        let size = best.0.min(kit.largest);
        if size > 0.7 * least {
            let score = t.area * size * size * shy;
            ranked.push((score, i, best.1, size));
        }
    }
    ranked.sort_by(|a, b| b.0.total_cmp(&a.0).then(a.1.cmp(&b.1)));
    for kind in kinds {
        let mut best: Option<(f64, SpotCandidate)> = None;
        let own = ranked.iter().filter(|r| kit.library[r.1].kind == *kind);
        for &(_, i, turn, size) in own.take(tries) {
            let t = &kit.library[i];
            let start = Pose { at: p, turn, size: (0.9 * size).min(kit.largest) };
            *cost += SETTLING;
            if let Some((pose, ring)) = grow_to_contact(world, Some(field), t, start, &kit.rules(t), None) {
                let area = ring_area(&ring) * if recent.contains(&i) { 0.9 } else { 1.0 };
                if best.as_ref().is_none_or(|b| area > b.0) {
                    best = Some((area, SpotCandidate { template: i, pose, ring, bends: Vec::new() }));
                }
            }
        }
        if let Some(best) = best {
            return Some(home(world, best.1));
        }
    }
    None
}

/// The largest size at which a template's profile stays within free lengths.
fn fit(free: &[f64; 2 * RAYS], t: &Template, turn: f64) -> f64 {
    let shift = libm::round(turn / TAU * RAYS as f64) as i64;
    let shift = shift.rem_euclid(RAYS as i64) as usize;
    fit_at(&free[shift..shift + RAYS], t)
}

#[inline]
fn fit_at(free: &[f64], t: &Template) -> f64 {
    free.iter().zip(&t.inverse).map(|(f, i)| f * i).fold(f64::INFINITY, |a, b| if b < a { b } else { a })
}
