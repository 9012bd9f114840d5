//! [`cells`], [`relax_cells`]: spots of an evened fill drawn anew so that they fill all room but an even
//! channel.
//!
//! Imports: base, outline, make::accent::{outline, template, cell, obstacle_grid, greedy, flex}.

use super::flex::{Bent, CELLS, Give, REST, SIGHT, SpotBender, likely_wide_enough, widen};
use super::greedy::{FillParams, SpotCandidate, home};
use super::outline::{CubicLoop, V, add, len, mul, perimeter, sub};
use super::template::Template;
use crate::base::tolerance::{HAIR, LEAST_DIVISOR};
use crate::make::accent::obstacle_grid::{ObstacleGrid, Owner};

/// Distance of a cell's nodes along its outline, mm, within the fewest and the most that it has.
const APART: f64 = 1.5;
pub(super) const NODES: [usize; 2] = [8, 24];

/// Cells from the outlines of an evened fill: each is drawn again at even gaps, with its nodes where it turns
/// now. Gives two shapes a draft: first all as they would be drawn anew, then all as they are, which the
/// drafts take.
pub(super) fn cells(kit: &FillParams, world: &ObstacleGrid, drafts: &mut [SpotCandidate]) -> Vec<Template> {
    let mut out = Vec::with_capacity(2 * drafts.len());
    let mut plain = Vec::with_capacity(drafts.len());
    for (i, draft) in drafts.iter().enumerate() {
        let t = &kit.library[draft.template];
        if !t.parts.is_empty() {
            // Broken rings stay what they are.
            out.push(t.clone());
            plain.push(t.clone());
            continue;
        }
        let me = Some(Owner::new(kit.first + i, 0));
        let curve = t.frame.bent(&t.hull, &draft.bends);
        let dense = curve.ring(8);
        let n = dense.len();
        let mut plane = dense.clone();
        draft.pose.carry(&mut plane);
        let reach = kit.need + SIGHT;
        let (mut before, mut look) = (plane[0], reach);
        let wants: Vec<f64> = plane
            .iter()
            .map(|p| {
                let band = world.band(*p);
                let known = (look + len(sub(*p, before)) + HAIR).min(reach);
                (before, look) = (*p, reach);
                let (d, part) = match world.nearest(*p, known.min(band), me) {
                    Some(h) => {
                        look = h.d;
                        (h.d, if h.still(kit.first) { 1.0 } else { 0.7 })
                    }
                    None => (known.min(band), 1.0),
                };
                part * (d - kit.need).max(0.0) / draft.pose.size
            })
            .collect();
        let normal = |k: usize| {
            let v = sub(dense[(k + 1) % n], dense[(k + n - 1) % n]);
            mul([v[1], -v[0]], 1.0 / len(v).max(LEAST_DIVISOR))
        };
        let pushed: Vec<V> = (0..n)
            .map(|k| {
                // Weights of a small bell: single corners do not stick out.
                let near = [(n - 2, 1.0), (n - 1, 2.0), (0, 3.0), (1, 2.0), (2, 1.0)];
                let w = near.iter().map(|(o, w)| w * wants[(k + o) % n]).sum::<f64>() / 9.0;
                add(dense[k], mul(normal(k), w))
            })
            .collect();
        out.push(Template::cell(
            t,
            CubicLoop::through(&pushed, nodes(&pushed, draft.pose.size)),
            draft.pose.size,
        ));
        plain.push(Template::cell(t, curve, draft.pose.size));
    }
    for (i, draft) in drafts.iter_mut().enumerate() {
        draft.template = out.len() + i;
        draft.bends = Vec::new();
    }
    out.append(&mut plain);
    out
}

/// Nodes of a cell: one about every [`APART`], so that a large cell can follow its neighbours and a small one
/// has few.
fn nodes(ring: &[V], size: f64) -> usize {
    ((perimeter(ring) * size / APART) as usize).clamp(NODES[0], NODES[1])
}

/// Takes each cell as drawn anew, where it holds, and evens all of them out.
pub(super) fn relax_cells(kit: &FillParams, world: &mut ObstacleGrid, drafts: &mut Vec<SpotCandidate>) {
    let mut bender = SpotBender::new(kit);
    let give = |share| Give { cap: 0.4, slope: CELLS, share, turns: false, sized: false };
    for (i, d) in drafts.iter_mut().enumerate() {
        let t = &kit.library[i];
        let mut spot = Bent { pose: d.pose, bends: vec![0.0; t.hull.nodes.len()] };
        bender.extra.clear();
        let ring = bender.mended(world, t, &mut spot, &give(0.0), Some(Owner::new(kit.first + i, 0)));
        if let Some(ring) = ring
            && likely_wide_enough(t, &spot)
        {
            world.leave(kit.first + i);
            *d = home(world, SpotCandidate { template: i, pose: spot.pose, bends: spot.bends, ring });
            world.enter(kit.first + i, std::slice::from_ref(&d.ring), 0.0);
        }
    }
    let mut gone = vec![f64::INFINITY; drafts.len()];
    for share in [0.7, 0.9] {
        for (i, d) in drafts.iter_mut().enumerate() {
            if gone[i] > REST {
                gone[i] = bender.turn(world, d, kit.first + i, &give(share));
            }
        }
    }
    widen(kit, world, drafts, &mut bender, &give(0.0));
}
