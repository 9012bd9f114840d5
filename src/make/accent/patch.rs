//! [`Patch`]: a part of a fill taken out and filled again; polishing and dragging are both made of it.
//!
//! Imports: base, outline, make::accent::{obstacle_grid, distance_field, greedy}.

use super::greedy::{self, FillParams, SpotCandidate, lift};
use super::outline::{V, len, sub};
use crate::base::random::Random;
use crate::make::accent::distance_field::DistanceField;
use crate::make::accent::obstacle_grid::ObstacleGrid;

/// How polishing looks for better places.
#[derive(Clone, Copy, Debug)]
pub(super) struct PolishSearch {
    /// Neighbourhoods that are taken out and filled anew.
    pub rounds: usize,
    /// Places whose distance is less than the largest by up to this, mm, are where they are taken.
    pub wide: f64,
    /// Largest reach of a neighbourhood, as a part of the largest size.
    pub around: f64,
    /// What it may cost at most, counted as [`greedy::fill`] does: no neighbourhood is begun after that.
    pub most: usize,
}

impl PolishSearch {
    /// Long: most voids have their turn again and again.
    pub fn long(rounds: usize, most: usize) -> PolishSearch {
        PolishSearch { rounds, wide: 1.4, around: 0.5, most }
    }
    /// Short: the worst voids only.
    pub fn short(rounds: usize, most: usize) -> PolishSearch {
        PolishSearch { rounds, wide: 0.8, around: 0.4, most }
    }
}

/// Spots in numbered places, so that a number stays with its spot while others come and go.
pub(super) struct Patch<'a> {
    pub kit: &'a FillParams<'a>,
    pub world: &'a mut ObstacleGrid,
    pub field: &'a mut DistanceField,
    /// The raster without any spots.
    pub bare: &'a DistanceField,
    pub slots: &'a mut Vec<Option<SpotCandidate>>,
}

impl Patch<'_> {
    /// Numbers of the spots whose origin lies within a distance of a place, over the seam.
    pub fn near(&self, at: V, reach: f64) -> Vec<usize> {
        let copies: Vec<V> = self.world.copies_of(at).collect();
        let close = |d: &SpotCandidate| copies.iter().any(|c| len(sub(d.pose.at, *c)) < reach + d.pose.size);
        (0..self.slots.len()).filter(|&i| self.slots[i].as_ref().is_some_and(close)).collect()
    }
    /// Takes spots out of the grid; the raster is not told yet.
    pub fn take(&mut self, numbers: &[usize]) -> Vec<(usize, SpotCandidate)> {
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
    pub fn put_back(&mut self, taken: Vec<(usize, SpotCandidate)>) {
        for (i, d) in taken {
            self.world.enter(self.kit.first + i, std::slice::from_ref(&d.ring), 0.0);
            self.slots[i] = Some(d);
        }
    }
    /// Takes spots that were taken out of the grid out of the raster too.
    pub fn lift(&mut self, taken: &[(usize, SpotCandidate)]) {
        for (i, d) in taken {
            lift(self.world, self.field, self.bare, self.kit.first + i, &d.ring);
        }
    }
    /// Fills what the raster shows free; gives the numbers of the new spots, and what it cost.
    pub fn fill(&mut self, random: &mut Random) -> (Vec<usize>, usize) {
        let first = self.slots.len();
        let kit = FillParams { first: self.kit.first + first, ..*self.kit };
        let mut new = Vec::new();
        let cost = greedy::fill(&kit, self.world, self.field, &mut new, random, 1);
        self.slots.extend(new.into_iter().map(Some));
        ((first..self.slots.len()).collect(), cost)
    }
}

/// Polishes a rigid fill: again and again a neighbourhood is taken out and filled anew, and kept if what is
/// left free is more even then. Gives what it cost.
pub(super) fn polished(
    kit: &FillParams,
    world: &mut ObstacleGrid,
    (field, bare): (&mut DistanceField, &DistanceField),
    drafts: &mut Vec<SpotCandidate>,
    random: &mut Random,
    search: &PolishSearch,
) -> usize {
    let mut slots: Vec<Option<SpotCandidate>> = std::mem::take(drafts).into_iter().map(Some).collect();
    let mut patch = Patch { kit, world, field, bare, slots: &mut slots };
    let channel = kit.need / 2.0;
    let mut as_it_was = patch.field.clone();
    let (mut done, mut cost) = (0, 0);
    while done < search.rounds && cost < search.most {
        // Where much is left free: any of the places that are nearly as far from everything as the farthest.
        let far = patch.field.farthest() - search.wide;
        let Some(middle) = patch.field.any_at_least(far, random) else { break };
        let around = kit.largest * random.between(0.15, search.around);
        let taken = {
            let near = patch.near(middle, around);
            patch.take(&near)
        };
        patch.field.settled();
        patch.lift(&taken);
        let (new, spent) = patch.fill(random);
        (done, cost) = (done + 1, cost + spent);
        let changed = patch.field.changed();
        if patch.field.unevenness(channel, changed) < as_it_was.unevenness(channel, changed) {
            as_it_was.take_over(patch.field, changed);
        } else {
            patch.take(&new);
            patch.slots.truncate(new.first().copied().unwrap_or(patch.slots.len()));
            patch.put_back(taken);
            patch.field.take_over(&as_it_was, changed);
        }
    }
    // Numbers closed up again.
    for i in 0..slots.len() {
        world.leave(kit.first + i);
    }
    let mut numbers = vec![u32::MAX; slots.len()];
    for (i, d) in slots.into_iter().enumerate() {
        if let Some(d) = d {
            numbers[i] = (kit.first + drafts.len()) as u32;
            world.enter(kit.first + drafts.len(), std::slice::from_ref(&d.ring), 0.0);
            drafts.push(d);
        }
    }
    let first = kit.first as u32;
    field.renumber(|w| if w < first { w } else { numbers[(w - first) as usize] });
    cost
}
