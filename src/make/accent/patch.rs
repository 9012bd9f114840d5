//! [`Patch`]: a part of a fill taken out and filled again; polishing and dragging are both made of it.
//!
//! Imports: base, make::accent::{outline, world, field, settle, greedy}.

use super::field::Field;
use super::greedy::{self, Draft, Kit, paint};
use super::outline::{V, len, ring_area, sub};
use super::world::World;
use crate::base::random::Random;

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
        for n in -1..=1 {
            let c = self.world.turned(at, n);
            self.field.restore(self.bare, [c[0] - reach, c[1] - reach], [c[0] + reach, c[1] + reach]);
        }
        let far = reach * std::f64::consts::SQRT_2 + self.field.cap;
        for i in self.near(at, far) {
            if let Some(d) = &self.slots[i] {
                for n in -1..=1 {
                    let c = self.world.turned(at, n);
                    self.field.clip([c[0] - reach, c[1] - reach], [c[0] + reach, c[1] + reach]);
                    paint(self.world, self.field, &d.ring);
                }
            }
        }
        self.field.unclip();
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
    /// Area of spots grown by half the gap.
    pub fn worth<'b>(&self, spots: impl Iterator<Item = &'b Draft>) -> f64 {
        let half = self.kit.need / 2.0;
        spots
            .map(|d| {
                let n = d.ring.len();
                let round: f64 = (0..n).map(|i| len(sub(d.ring[(i + 1) % n], d.ring[i]))).sum();
                ring_area(&d.ring) + round * half + std::f64::consts::PI * half * half
            })
            .sum()
    }
}

/// Polishes a rigid fill: again and again a neighbourhood is taken out and filled anew, and kept if it covers more.
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
    for _ in 0..rounds {
        // Where most is left free: any of the places that are at least this far from everything.
        let free = patch.field.at_least(kit.need + 0.85);
        if free.is_empty() {
            break;
        }
        let middle = free[random.below(free.len())];
        let around = kit.largest * random.between(0.2, 0.7);
        let taken = {
            let near = patch.near(middle, around);
            patch.take(&near)
        };
        let reach = around + 2.0 * kit.largest + patch.field.cap;
        patch.redraw(middle, reach);
        let new = patch.fill(random);
        let before = patch.worth(taken.iter().map(|t| &t.1));
        let after = patch.worth(new.iter().filter_map(|&i| patch.slots[i].as_ref()));
        if after < before {
            patch.take(&new);
            patch.slots.truncate(new.first().copied().unwrap_or(patch.slots.len()));
            patch.put_back(taken);
            patch.redraw(middle, reach);
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
