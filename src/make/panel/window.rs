//! Windows: sets of clumps that fit into a width, along the ring at the window's widest height, and a height.
//!
//! Only windows with a clump at the left edge and one at the lower edge need be looked at; what another window
//! holds besides more is left out.
//!
//! Imports: base, make::cup, make::panel::clump.

use super::clump::Clump;
use crate::base::units::Mm;
use crate::make::cup::Development;
use std::collections::{BTreeMap, BTreeSet};
use std::f64::consts::TAU;

/// Part of a millimetre that is rounding.
const HAIR: f64 = 1e-9;

/// What one panel could hold.
#[derive(Clone, Debug, PartialEq)]
pub struct Window {
    /// Clumps, each with the turns of the cup that it is lifted by, in the order of their places.
    pub holds: Vec<(usize, i32)>,
}

/// All windows that are not part of another. `size` is the width along the ring and the height up the wall.
pub fn windows(clumps: &[Clump], d: &Development, size: [Mm; 2]) -> Vec<Window> {
    let [wide, high] = size.map(|s| s.0);
    let highest = clumps.iter().map(|c| c.up[1]).fold(f64::NEG_INFINITY, f64::max);
    let free = |c: &Clump| !c.closed && c.up[1] - c.up[0] <= high + HAIR;
    let mut sets: BTreeSet<Vec<(usize, i32)>> = BTreeSet::new();
    for (first, edge) in clumps.iter().enumerate().filter(|c| free(c.1)) {
        // All that may lie to its right, lifted to lie there.
        let narrow = d.radius(Mm(edge.up[0])).0.min(d.radius(Mm(edge.up[1])).0).max(HAIR) / 2.0;
        let beside: Vec<(usize, i32, [f64; 2])> = clumps
            .iter()
            .enumerate()
            .filter(|c| free(c.1))
            .filter_map(|(i, c)| {
                let n = if i == first { 0.0 } else { ((edge.round[0] - c.round[0] - HAIR) / TAU).ceil() };
                let round = c.round.map(|a| a + n * TAU);
                (round[1] - edge.round[0] <= (wide + HAIR) / narrow).then_some((i, n as i32, round))
            })
            .collect();
        for (lowest, ..) in &beside {
            let low = clumps[*lowest].up[0];
            let top = (low + high).min(highest);
            if edge.up[0] < low - HAIR || edge.up[1] > top + HAIR {
                continue;
            }
            let radius = d.radius(Mm(low)).0.max(d.radius(Mm(top)).0);
            let right = edge.round[0] + (wide + HAIR) / radius;
            let held = beside.iter().filter(|(i, _, round)| {
                let up = clumps[*i].up;
                up[0] >= low - HAIR && up[1] <= top + HAIR && round[1] <= right
            });
            let held: Vec<(usize, i32)> = held.map(|(i, n, _)| (*i, *n)).collect();
            if held.iter().any(|h| h.0 == first) {
                sets.insert(held);
            }
        }
    }
    largest(sets)
}

/// Without those that are part of another one.
fn largest(sets: BTreeSet<Vec<(usize, i32)>>) -> Vec<Window> {
    let keys: Vec<Vec<usize>> = sets.iter().map(|s| s.iter().map(|h| h.0).collect()).collect();
    let mut of: BTreeMap<usize, Vec<usize>> = BTreeMap::new();
    for (w, key) in keys.iter().enumerate() {
        key.iter().for_each(|c| of.entry(*c).or_default().push(w));
    }
    let held = |a: &[usize], b: &[usize]| a.iter().all(|c| b.binary_search(c).is_ok());
    let part = |w: usize| {
        let others = &of[&keys[w][0]];
        others.iter().any(|o| {
            let longer = keys[*o].len() > keys[w].len() || (keys[*o].len() == keys[w].len() && *o < w);
            *o != w && longer && held(&keys[w], &keys[*o])
        })
    };
    let kept: Vec<bool> = (0..keys.len()).map(|w| !part(w)).collect();
    sets.into_iter().zip(kept).filter(|s| s.1).map(|(holds, _)| Window { holds }).collect()
}
