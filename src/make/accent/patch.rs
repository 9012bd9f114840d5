//! [`Patch`]: a part of a fill taken out and filled again; polishing and dragging are both made of it.
//!
//! Imports: base, make::accent::{outline, world, field, settle, greedy}.

use super::field::Field;
use super::greedy::{self, Draft, Kit, paint};
use super::outline::{V, len, sub};
use super::world::World;
use crate::base::random::Random;

/// Places whose distance is less than the largest by up to this, mm, are where polishing begins.
const WIDE: f64 = 0.8;

/// Spots in numbered places, so that a number stays with its spot while others come and go.
pub(super) struct Patch<'a> {
    pub kit: &'a Kit<'a>,
    pub world: &'a mut World,
    pub field: &'a mut Field,
    /// The raster without any spots.
    pub bare: &'a Field,
    pub slots: &'a mut Vec<Option<Draft>>,
}

impl Patch<'_> {
    /// Numbers of the spots whose origin lies within a distance of a place, over the seam.
    pub fn near(&self, at: V, reach: f64) -> Vec<usize> {
        let copies: Vec<V> = (-1..=1).map(|n| self.world.turned(at, n)).collect();
        let close = |d: &Draft| copies.iter().any(|c| len(sub(d.pose.at, *c)) < reach + d.pose.size);
        (0..self.slots.len()).filter(|&i| self.slots[i].as_ref().is_some_and(close)).collect()
    }
    /// Takes spots out of the grid; the raster is not told yet.
    pub fn take(&mut self, numbers: &[usize]) -> Vec<(usize, Draft)> {
        let mut out = Vec::new();
        for &i in numbers {
            if let Some(d) = self.slots[i].take() {
                self.world.leave(self.kit.first + i);
                out.push((i, d));
            }
        }
        out
    }
    /// Puts spots back under their numbers.
    pub fn put_back(&mut self, taken: Vec<(usize, Draft)>) {
        for (i, d) in taken {
            self.world.enter(self.kit.first + i, std::slice::from_ref(&d.ring), 0.0);
            self.slots[i] = Some(d);
        }
    }
    /// Draws the raster anew round a place, over the seam, as far as `reach`.
    pub fn redraw(&mut self, at: V, reach: f64) {
        let windows: Vec<(V, V)> = (-1..=1)
            .map(|n| self.world.turned(at, n))
            .map(|c| ([c[0] - reach, c[1] - reach], [c[0] + reach, c[1] + reach]))
            .collect();
        let far = reach * std::f64::consts::SQRT_2 + self.field.cap;
        let near = self.near(at, far);
        for (lo, hi) in windows {
            self.field.restore(self.bare, lo, hi);
            self.field.clip(lo, hi);
            for d in near.iter().filter_map(|&i| self.slots[i].as_ref()) {
                paint(self.world, self.field, &d.ring);
            }
            self.field.unclip(lo, hi);
        }
    }
    /// How far from a place the raster changes when these spots go.
    fn reach(&self, at: V, taken: &[(usize, Draft)]) -> f64 {
        let copies: Vec<V> = (-1..=1).map(|n| self.world.turned(at, n)).collect();
        let off = |p: &V| copies.iter().map(|c| len(sub(*p, *c))).fold(f64::INFINITY, f64::min);
        taken.iter().flat_map(|t| &t.1.ring).map(off).fold(0.0, f64::max) + self.field.cap
    }
    /// Fills what the raster shows free; gives the numbers of the new spots.
    pub fn fill(&mut self, random: &mut Random) -> Vec<usize> {
        let first = self.slots.len();
        let kit = Kit { first: self.kit.first + first, ..*self.kit };
        let mut new = Vec::new();
        greedy::fill(&kit, self.world, self.field, &mut new, random, 2);
        self.slots.extend(new.into_iter().map(Some));
        (first..self.slots.len()).collect()
    }
}

/// Polishes a rigid fill: again and again a neighbourhood is taken out and filled anew, and kept if what is left free
/// is more even then.
pub(super) fn polished(
    kit: &Kit,
    world: &mut World,
    field: &mut Field,
    bare: &Field,
    drafts: &mut Vec<Draft>,
    random: &mut Random,
    rounds: usize,
) {
    let mut slots: Vec<Option<Draft>> = std::mem::take(drafts).into_iter().map(Some).collect();
    let mut patch = Patch { kit, world, field, bare, slots: &mut slots };
    let channel = kit.need / 2.0;
    let mut as_it_was = patch.field.clone();
    let mut before = patch.field.unevenness(channel);
    for _ in 0..rounds {
        // Where much is left free: any of the places that are nearly as far from everything as the farthest.
        let far = patch.field.at_least(patch.field.farthest() - WIDE);
        if far.is_empty() {
            break;
        }
        let middle = far[random.below(far.len())];
        let around = kit.largest * random.between(0.15, 0.6);
        let taken = {
            let near = patch.near(middle, around);
            patch.take(&near)
        };
        as_it_was.copy(patch.field);
        patch.redraw(middle, patch.reach(middle, &taken));
        let new = patch.fill(random);
        let after = patch.field.unevenness(channel);
        if after < before {
            before = after;
        } else {
            patch.take(&new);
            patch.slots.truncate(new.first().copied().unwrap_or(patch.slots.len()));
            patch.put_back(taken);
            patch.field.copy(&as_it_was);
        }
    }
    // Numbers closed up again.
    for i in 0..slots.len() {
        world.leave(kit.first + i);
    }
    drafts.extend(slots.into_iter().flatten());
    for (i, d) in drafts.iter().enumerate() {
        world.enter(kit.first + i, std::slice::from_ref(&d.ring), 0.0);
    }
}
