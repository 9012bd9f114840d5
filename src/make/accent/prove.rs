//! [`saturate`]: proof that no shape of the library fits anywhere any more, by branch and bound over place and turn.
//!
//! A box of poses (a square of places, an interval of turns) is refuted when some disc inside the shape stays too near
//! to an outline for every pose of the box: a disc of radius r round the point m of the shape moves by at most
//! h sqrt 2 + |m| w within the box (h and w its half-widths), and needs the distance asked for plus r. Discs of radius
//! 0 on the outline make the refutation exact in the limit. The distance asked for is taken [`ACCENT_SLACK`] larger
//! here than what is accepted, so that a box on the border is decided one way or the other at a finite size
//! (exact saturation by subdividing place and turn: Zhang, arXiv 1803.08348; Ciesla et al., arXiv 1911.12626).
//! A pose that does fit is settled and placed.
//!
//! Imports: base, read::job, make::accent::{outline, template, world, field, settle, greedy}.

use super::field::Field;
use super::greedy::{Draft, Kit, home, place};
use super::outline::{V, add, len, mul, sub, to_segment};
use super::settle::{Pose, settle};
use super::template::Template;
use super::world::World;
use crate::base::tolerance::ACCENT_SLACK;
use crate::read::job::SpotTurn;
use serde::Serialize;
use std::f64::consts::{PI, SQRT_2};

/// What a proof of saturation came to.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize)]
pub struct Saturation {
    /// Shapes of the library that were asked about, each at its smallest size.
    pub shapes: usize,
    /// Boxes of poses looked at.
    pub boxes: u64,
    /// Spots that still found a place and were added.
    pub added: usize,
    /// Boxes that could be neither refuted nor filled: 0 is a proof.
    pub undecided: u64,
}

/// A disc inside a shape at its smallest size, mm.
#[derive(Clone, Copy)]
struct Disc {
    at: V,
    far: f64,
    radius: f64,
}

struct Shape<'a> {
    template: &'a Template,
    index: usize,
    least: f64,
    discs: Vec<Disc>,
    /// How many of them coarse boxes are asked with.
    coarse: u16,
    /// Farthest of their middles from the origin.
    far: f64,
}

/// Half of a square's side, as a part of the distance asked for, at which turns are asked about: discs move little then.
const SQUARE: f64 = 0.1;
/// Boxes below this half-width, mm, that are still open are undecided: a tenth of the slack.
const FINEST: f64 = 0.1;

/// Fills what is left for any shape at its smallest size, until it is proven that nothing is.
pub(super) fn saturate(
    kit: &Kit,
    world: &mut World,
    field: &mut Field,
    drafts: &mut Vec<Draft>,
) -> Saturation {
    let shapes: Vec<Shape> = (kit.library.iter().enumerate())
        .map(|(index, t)| {
            let least = kit.least(t);
            let (discs, coarse) = discs(t, least, kit.need);
            let far = discs.iter().map(|m| m.far).fold(0.0, f64::max);
            Shape { template: t, index, least, discs, coarse, far }
        })
        .collect();
    let mut out = Saturation { shapes: shapes.len(), ..Saturation::default() };
    let slimmest = shapes.iter().map(|s| s.discs[0].radius).fold(f64::INFINITY, f64::min);
    let need = kit.need + ACCENT_SLACK.get();
    let half = field.pixel / 2.0;
    // The raster's distances are never too small, and fall by at most the way.
    for middle in field.at_least(need + slimmest - half * SQRT_2) {
        let mut prover = Prover { kit, need, shapes: &shapes, out: &mut out, open: Vec::new() };
        let all: Vec<usize> = (0..shapes.len()).collect();
        while let Some(draft) = prover.square(world, field, middle, half, &all) {
            let id = kit.first + drafts.len();
            place(world, Some(field), id, &draft.ring);
            drafts.push(draft);
            prover.out.added += 1;
        }
    }
    out
}

struct Prover<'a, 'b> {
    kit: &'a Kit<'a>,
    need: f64,
    shapes: &'a [Shape<'b>],
    out: &'a mut Saturation,
    /// Work space: where discs are, how far they move, what they ask, their numbers.
    open: Vec<(V, f64, f64, u16)>,
}

impl Prover<'_, '_> {
    /// Refutes all shapes with their origin in a square, or gives one that fits: by their largest discs alone, down to
    /// squares that are small beside the distance asked for, then by intervals of turns.
    fn square(&mut self, world: &World, field: &Field, at: V, half: f64, open: &[usize]) -> Option<Draft> {
        self.out.boxes += 1;
        let most = open.iter().map(|&i| self.shapes[i].discs[0].radius).fold(0.0, f64::max);
        let d = distance(world, field, at, self.need + most + half * SQRT_2);
        // The largest disc of a shape is round its origin: it does not care for the turn.
        let left: Vec<usize> = open
            .iter()
            .copied()
            .filter(|&i| d + half * SQRT_2 >= self.need + self.shapes[i].discs[0].radius)
            .collect();
        if left.is_empty() {
            return None;
        }
        if half > SQUARE * self.need {
            let q = half / 2.0;
            return [[-q, -q], [q, -q], [-q, q], [q, q]]
                .into_iter()
                .find_map(|o| self.square(world, field, add(at, o), q, &left));
        }
        for i in left {
            let (turn, wide) = match self.kit.turned(world, self.shapes[i].template, at) {
                // The generator turns by less than this within the square.
                Some(turn) if self.kit.turn == SpotTurn::Upright => (turn, 4.0 * half / world.apex(at)),
                _ => (0.0, PI),
            };
            if let Some(draft) = self.poses(world, field, i, (at, half), (turn, wide), &[]) {
                return Some(draft);
            }
        }
        None
    }
    /// The same for one shape and an interval of turns.
    ///
    /// `listed` are the discs that may refute the box. One that had room at the middle of the box around cannot: from there
    /// to here it moves by as much as its reach within the box has shrunk. So every second box is asked with the short
    /// list that the one around found, and makes the next ones ask all again.
    fn poses(
        &mut self,
        world: &World,
        field: &Field,
        i: usize,
        (at, half): (V, f64),
        (turn, wide): (f64, f64),
        listed: &[u16],
    ) -> Option<Draft> {
        self.out.boxes += 1;
        let shape = &self.shapes[i];
        let (c, s) = (libm::cos(turn), libm::sin(turn));
        let off = half * SQRT_2;
        let reach = off + shape.far * wide;
        let small = reach < 0.35;
        let n = shape.discs.len() as u16;
        let whole = listed.is_empty();
        let mut feasible = true;
        // What has too little room at the middle, least first, then what was not asked.
        let mut tight: Vec<(f64, u16)> = Vec::new();
        // Coarse boxes ask few of the outline's points, small ones all of them.
        let some = if whole { shape.coarse } else { 0 };
        let all = (0..if small { n } else { some }).filter(|j| !listed.contains(j));
        // What the raster leaves open; what is most likely to refute goes first.
        let mut open = std::mem::take(&mut self.open);
        open.clear();
        let mut likely = (f64::INFINITY, 0);
        for j in listed.iter().copied().chain(all) {
            let m = &shape.discs[usize::from(j)];
            let q = [c * m.at[0] - s * m.at[1] + at[0], s * m.at[0] + c * m.at[1] + at[1]];
            let (moved, asked) = (off + m.far * wide, self.need + m.radius);
            let (most, least) = field.between(q);
            if most + moved < asked {
                self.open = open;
                return None;
            }
            if least >= asked {
                continue;
            }
            // Too wide a box for this disc to refute it.
            if moved > asked || (!small && least + moved >= asked) {
                tight.push((least.min(0.0), j));
                continue;
            }
            if most + moved - asked < likely.0 {
                likely = (most + moved - asked, open.len());
            }
            open.push((q, moved, asked, j));
        }
        if likely.1 > 0 {
            open.swap(0, likely.1);
        }
        for &(q, moved, asked, j) in &open {
            let d = distance(world, field, q, asked);
            if d + moved < asked {
                self.open = open;
                return None;
            }
            if d < asked {
                feasible = false;
                tight.push((d - asked, j));
            }
        }
        self.open = open;
        tight.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
        let list: Vec<u16> = if whole { tight.iter().map(|t| t.1).collect() } else { Vec::new() };
        feasible &= small;
        let finest = reach < FINEST * ACCENT_SLACK.get();
        if feasible || reach < 0.35 {
            let rules = crate::make::accent::settle::Rules {
                most: (1.3 * shape.least).min(self.kit.largest),
                steps: if feasible { 6 } else { 3 },
                ..self.kit.rules(shape.template)
            };
            if feasible || (0.17..0.35).contains(&reach) || finest {
                let start = Pose { at, turn, size: shape.least };
                let ring = start.ring(shape.template);
                // What is asked here has the slack on top: at the finest size what nearly has it holds by itself.
                if (feasible || finest) && world.holds(&ring, self.kit.need, None) {
                    let grown = settle(world, None, shape.template, start, &rules, None);
                    let (pose, ring) = grown.unwrap_or((start, ring));
                    return Some(home(world, Draft { template: shape.index, pose, ring, bends: Vec::new() }));
                }
                if let Some((pose, ring)) = settle(world, None, shape.template, start, &rules, None)
                    && (self.kit.turn == SpotTurn::Free || world.holds(&ring, self.kit.need, None))
                {
                    return Some(home(world, Draft { template: shape.index, pose, ring, bends: Vec::new() }));
                }
            }
        }
        if finest {
            self.out.undecided += 1;
            return None;
        }
        // The larger of the two uncertainties is halved.
        if off >= shape.template.radius * shape.least * wide {
            let q = half / 2.0;
            return [[-q, -q], [q, -q], [-q, q], [q, q]]
                .into_iter()
                .find_map(|o| self.poses(world, field, i, (add(at, o), q), (turn, wide), &list));
        }
        let w = wide / 2.0;
        [turn - w, turn + w].into_iter().find_map(|t| self.poses(world, field, i, (at, half), (t, w), &list))
    }
}

/// Signed distance to the nearest outline or band, never more than `cap`; below 0 inside outlines and off the wall.
fn distance(world: &World, field: &Field, p: V, cap: f64) -> f64 {
    let band = world.band(p);
    if band <= 0.0 {
        return band;
    }
    // Deep inside an outline the nearest edge is far: the sign comes from the raster, where no edge is near.
    let d = world.nearest(p, cap.min(band), None).map_or(cap.min(band), |h| h.d);
    if d > field.pixel && field.blotted(p) { -d } else { d }
}

/// Discs inside a shape: the largest first, then smaller ones towards its ends, then points of its outline; and how many
/// come before the points that only small boxes are asked with.
fn discs(t: &Template, size: f64, need: f64) -> (Vec<Disc>, u16) {
    let disc = |at: V, radius: f64| Disc { at, far: len(at), radius };
    let mut out = vec![disc([0.0; 2], t.inradius * size)];
    let mut ring = t.hull.ring(t.hull.steps(size).max(4));
    ring.iter_mut().for_each(|p| *p = [p[0] * size, p[1] * size]);
    let n = ring.len();
    let depth = |p: V| {
        (0..n).map(|i| to_segment(p, ring[i], ring[(i + 1) % n]).0).fold(f64::INFINITY, f64::min).sqrt()
    };
    // Half-way out towards every fourth corner of a star-shaped hull.
    for p in ring.iter().step_by((n / 12).max(1)) {
        let m = [0.6 * p[0], 0.6 * p[1]];
        if super::outline::inside(&ring, m) {
            out.push(disc(m, depth(m)));
        }
    }
    // One of about every 0.25 mm first: they refute all but the smallest boxes.
    let mut last: Option<V> = None;
    let (coarse, fine): (Vec<V>, Vec<V>) = stations(&ring, need).into_iter().partition(|p| {
        let far = last.is_none_or(|l| len(sub(*p, l)) > 0.25);
        last = if far { Some(*p) } else { last };
        far
    });
    out.extend(coarse.into_iter().map(|p| disc(p, 0.0)));
    let first = out.len() as u16;
    out.extend(fine.into_iter().map(|p| disc(p, 0.0)));
    (out, first)
}

/// How far an outline may bulge between two stations, and how far what pokes in between may come nearer, as parts of the
/// slack; a tenth is left for the finest boxes.
const BULGE: f64 = 0.6;
const POKE: f64 = 0.3;

/// Places on an outline that stand for all of it: where all of these are at least `need` + [`ACCENT_SLACK`] from
/// everything, the outline is nowhere nearer than `need`.
///
/// Between two of them, s apart, the outline bulges by at most [`BULGE`] of the slack (measured at the corners left out),
/// and what pokes in between comes nearer by at most s^2 / (8 need), held to [`POKE`]; longer edges are divided.
fn stations(ring: &[V], need: f64) -> Vec<V> {
    let slack = ACCENT_SLACK.get();
    let (bulge, apart) = (BULGE * slack, (8.0 * need * POKE * slack).sqrt());
    let n = ring.len();
    let mut out = vec![ring[0]];
    let mut last = 0;
    for next in 1..=n {
        let (a, b) = (ring[last], ring[next % n]);
        let after = ring[(next + 1) % n];
        let bulges = (last + 1..=next).any(|i| to_segment(ring[i % n], a, after).0 > bulge * bulge);
        if next < n && !bulges && len(sub(after, a)) <= apart {
            continue;
        }
        let pieces = libm::ceil(len(sub(b, a)) / apart).max(1.0);
        let steps = 1..pieces as usize + usize::from(next < n);
        out.extend(steps.map(|k| add(a, mul(sub(b, a), k as f64 / pieces))));
        last = next;
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::units::Seed;
    use crate::make::accent::Family;

    /// What the doc of [`stations`] says, measured for every family: each point of the outline lies near the chord of the
    /// two stations about it, and no chord is too long.
    #[test]
    fn stations_stand_for_the_whole_outline() {
        for (family, need) in Family::ALL.into_iter().flat_map(|f| [(f, 1.0), (f, 2.0), (f, 6.0)]) {
            let t = Template::of_family(family, 16.0, Seed(1), 0);
            let size = t.smallest.max(4.0);
            let ring: Vec<V> = t.hull.ring(t.hull.steps(size).max(4)).iter().map(|p| mul(*p, size)).collect();
            let slack = ACCENT_SLACK.get();
            let chosen = stations(&ring, need);
            let chords: Vec<(V, V)> =
                (0..chosen.len()).map(|k| (chosen[k], chosen[(k + 1) % chosen.len()])).collect();
            for (a, b) in &chords {
                let s = len(sub(*b, *a));
                assert!(s * s / (8.0 * need) <= POKE * slack * (1.0 + 1e-9), "{family:?} {need}: {s}");
            }
            for p in &ring {
                let off =
                    chords.iter().map(|(a, b)| to_segment(*p, *a, *b).0.sqrt()).fold(f64::INFINITY, f64::min);
                assert!(off <= BULGE * slack * (1.0 + 1e-9), "{family:?} {need}: {off}");
            }
        }
    }
}
