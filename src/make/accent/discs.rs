//! Discs inside a shape, by which the proof refutes its poses.
//!
//! Imports: base, outline, make::accent::{outline, template}.

use super::outline::{V, add, len, mul, perimeter, sub};
use super::template::Template;
use crate::base::tolerance::ACCENT_SLACK;
use crate::outline::plane::{nearest_on_segment, ring_contains};

/// A disc inside a shape at its smallest size, mm.
#[derive(Clone, Copy)]
pub(super) struct Disc {
    pub at: V,
    pub far: f64,
    pub radius: f64,
}

/// Discs inside a shape: the largest first, then smaller ones towards its ends, then points of its outline.
pub(super) struct Discs {
    pub all: Vec<Disc>,
    /// How many come before the points of the outline.
    inner: u16,
    /// How many come before the points that only small boxes are asked with. Of those before, any first ones
    /// stand about evenly round the outline.
    coarse: u16,
    /// Length of the outline.
    around: f64,
}

/// Points of the outline that a box is asked with stand so far apart, as a part of how far they move within
/// it.
const SPARSE: f64 = 0.5;

impl Discs {
    pub fn largest(&self) -> f64 {
        self.all[0].radius
    }
    /// How many of the first ones a box is asked with, within which they move so far.
    pub fn enough(&self, moved: f64) -> u16 {
        let points = libm::ceil(self.around / (SPARSE * moved));
        // A cast stops at the largest number.
        self.inner.saturating_add(points as u16).min(self.coarse)
    }
}

/// Those of a shape at a size, for a distance asked for.
pub(super) fn discs(t: &Template, size: f64, need: f64) -> Discs {
    let disc = |at: V, radius: f64| Disc { at, far: len(at), radius };
    let mut out = vec![disc([0.0; 2], t.inradius * size)];
    let mut ring = t.hull.ring(t.hull.steps(size).max(4));
    ring.iter_mut().for_each(|p| *p = [p[0] * size, p[1] * size]);
    let n = ring.len();
    let depth = |p: V| {
        (0..n)
            .map(|i| nearest_on_segment(p, ring[i], ring[(i + 1) % n]).0)
            .fold(f64::INFINITY, f64::min)
            .sqrt()
    };
    // Half-way out towards every fourth corner of a star-shaped hull.
    for p in ring.iter().step_by((n / 12).max(1)) {
        let m = [0.6 * p[0], 0.6 * p[1]];
        if ring_contains(&ring, m) {
            out.push(disc(m, depth(m)));
        }
    }
    // One of about every 0.25 mm first: they refute all but the smallest boxes.
    let mut last: Option<V> = None;
    let (mut coarse, fine): (Vec<V>, Vec<V>) = boundary_samples(&ring, need).into_iter().partition(|p| {
        let far = last.is_none_or(|l| len(sub(*p, l)) > 0.25);
        last = if far { Some(*p) } else { last };
        far
    });
    let inner = out.len() as u16;
    coarse = spread(coarse);
    out.extend(coarse.into_iter().map(|p| disc(p, 0.0)));
    let coarse = out.len() as u16;
    out.extend(fine.into_iter().map(|p| disc(p, 0.0)));
    Discs { all: out, inner, coarse, around: perimeter(&ring) }
}

/// Reorders by bit-reversed index, so that every prefix is spread evenly around the outline.
fn spread(points: Vec<V>) -> Vec<V> {
    let mut order: Vec<u32> = (0..points.len() as u32).collect();
    order.sort_by_key(|i| i.reverse_bits());
    order.into_iter().map(|i| points[i as usize]).collect()
}

/// How far an outline may bulge between two stations, and how far what pokes in between may come nearer, as
/// parts of the slack; a tenth is left for the finest boxes.
const BULGE: f64 = 0.6;
const POKE: f64 = 0.3;

/// Places on an outline that stand for all of it: where all of these are at least `need` + [`ACCENT_SLACK`]
/// from everything, the outline is nowhere nearer than `need`.
///
/// Between two of them, s apart, the outline bulges by at most [`BULGE`] of the slack (measured at the
/// corners left out), and what pokes in between comes nearer by at most s^2 / (8 need), held to [`POKE`];
/// longer edges are divided.
fn boundary_samples(ring: &[V], need: f64) -> Vec<V> {
    let slack = ACCENT_SLACK.get();
    let (bulge, apart) = (BULGE * slack, (8.0 * need * POKE * slack).sqrt());
    let n = ring.len();
    let mut out = vec![ring[0]];
    let mut last = 0;
    for next in 1..=n {
        let (a, b) = (ring[last], ring[next % n]);
        let after = ring[(next + 1) % n];
        let bulges = (last + 1..=next).any(|i| nearest_on_segment(ring[i % n], a, after).0 > bulge * bulge);
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
    use super::super::template::Asked;
    use super::*;
    use crate::base::units::Seed;
    use crate::read::job::Family;

    /// What the doc of [`boundary_samples`] says, measured for every family: each point of the outline lies
    /// near the chord of the two stations about it, and no chord is too long.
    #[test]
    fn stations_stand_for_the_whole_outline() {
        for (family, need) in Family::all().flat_map(|f| [(f, 1.0), (f, 2.0), (f, 6.0)]) {
            let t =
                Template::of_family(family, Asked { smallest: 1.0, largest: 16.0, weed: 0.8 }, Seed(1), 0);
            let size = t.smallest.max(4.0);
            let ring: Vec<V> = t.hull.ring(t.hull.steps(size).max(4)).iter().map(|p| mul(*p, size)).collect();
            let slack = ACCENT_SLACK.get();
            let chosen = boundary_samples(&ring, need);
            let chords: Vec<(V, V)> =
                (0..chosen.len()).map(|k| (chosen[k], chosen[(k + 1) % chosen.len()])).collect();
            for (a, b) in &chords {
                let s = len(sub(*b, *a));
                assert!(s * s / (8.0 * need) <= POKE * slack * (1.0 + 1e-9), "{family:?} {need}: {s}");
            }
            for p in &ring {
                let off = chords
                    .iter()
                    .map(|(a, b)| nearest_on_segment(*p, *a, *b).0.sqrt())
                    .fold(f64::INFINITY, f64::min);
                assert!(off <= BULGE * slack * (1.0 + 1e-9), "{family:?} {need}: {off}");
            }
        }
    }
}
