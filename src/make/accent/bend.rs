//! `BendBasis`: how a shape gives way, by a displacement of each node along its normal, without a refit.
//!
//! A bent curve keeps its nodes. Node k moves by u_k along its normal; its handles follow with the slope of
//! the displacement there (differences of the neighbours over the arc between), so a smooth curve stays
//! smooth. Every point of the curve is linear in the u of four nodes: that makes a spot's contact with its
//! neighbours a small linear problem in its shift, turn, growth and bends alike.
//!
//! Imports: base, outline, make::accent::outline.

use super::outline::{CubicLoop, Node, V, add, bernstein, len, mul, sub, unit};
use crate::base::tolerance::NO_LENGTH;

/// Samples a segment.
const STEPS: usize = 4;

/// A point of the curve and its four weights: node `knot - 1` to `knot + 2`.
#[derive(Clone, Debug)]
pub(super) struct WeightedPoint {
    pub at: V,
    /// Outward normal.
    pub normal: V,
    pub knot: usize,
    pub weight: [f64; 4],
}

/// What bends of a template's hull do, at size 1.
#[derive(Clone, Debug)]
pub(super) struct BendBasis {
    /// Outward normal of each node.
    pub normals: Vec<V>,
    /// Arc after each node.
    pub arcs: Vec<f64>,
    pub samples: Vec<WeightedPoint>,
}

impl BendBasis {
    pub fn new(hull: &CubicLoop) -> BendBasis {
        let n = hull.nodes.len();
        let arcs: Vec<f64> = (0..n)
            .map(|k| {
                let p: Vec<V> = (0..=6).map(|i| hull.point(k, f64::from(i) / 6.0)).collect();
                p.windows(2).map(|w| len(sub(w[1], w[0]))).sum::<f64>().max(NO_LENGTH)
            })
            .collect();
        let tangent = |k: usize| {
            let before = (k + n - 1) % n;
            let (a, b) = (hull.point(before, 0.98), hull.point(k, 0.02));
            let at = hull.nodes[k].at;
            unit(add(unit(sub(at, a)), unit(sub(b, at))))
        };
        // Counter-clockwise: the outside is to the right.
        let right = |t: V| [t[1], -t[0]];
        let normals: Vec<V> = (0..n).map(|k| right(tangent(k))).collect();
        let mut frame = BendBasis { normals, arcs, samples: Vec::with_capacity(n * STEPS) };
        let places = (0..n).flat_map(|k| (0..STEPS).map(move |i| (k, i as f64 / STEPS as f64)));
        frame.samples = places.map(|(k, t)| frame.sample(hull, k, t)).collect();
        frame
    }
    /// A point of the curve: segment and parameter.
    pub fn sample(&self, hull: &CubicLoop, k: usize, t: f64) -> WeightedPoint {
        let normal = if t == 0.0 {
            self.normals[k]
        } else {
            let ahead = unit(sub(hull.point(k, (t + 0.02).min(1.0)), hull.point(k, t - 0.02)));
            [ahead[1], -ahead[0]]
        };
        WeightedPoint { at: hull.point(k, t), normal, knot: k, weight: self.weights(hull, k, t) }
    }
    /// Arcs on both sides of a node.
    fn span(&self, k: usize) -> f64 {
        let n = self.arcs.len();
        self.arcs[(k + n - 1) % n] + self.arcs[k % n]
    }
    fn weights(&self, hull: &CubicLoop, k: usize, t: f64) -> [f64; 4] {
        let n = hull.nodes.len();
        let next = (k + 1) % n;
        let b = bernstein(t);
        let out = b[1] * len(sub(hull.nodes[k].out, hull.nodes[k].at)) / self.span(k);
        let into = b[2] * len(sub(hull.nodes[next].into, hull.nodes[next].at)) / self.span(next);
        [-out, b[0] + b[1] + into, b[2] + b[3] + out, -into]
    }
    /// The bent curve, at size 1.
    pub fn bent(&self, hull: &CubicLoop, bends: &[f64]) -> CubicLoop {
        if bends.is_empty() {
            return hull.clone();
        }
        let n = hull.nodes.len();
        let moved = |k: usize| mul(self.normals[k % n], bends[k % n]);
        let node = |k: usize| {
            let old = &hull.nodes[k];
            let slope = mul(sub(moved(k + 1), moved(k + n - 1)), 1.0 / self.span(k));
            let by = moved(k);
            let (a, b) = (len(sub(old.into, old.at)), len(sub(old.out, old.at)));
            Node {
                into: add(old.into, sub(by, mul(slope, a))),
                at: add(old.at, by),
                out: add(old.out, add(by, mul(slope, b))),
            }
        };
        CubicLoop { nodes: (0..n).map(node).collect() }
    }
    /// Displacement of a sample.
    pub fn moved(&self, s: &WeightedPoint, bends: &[f64]) -> V {
        let n = self.normals.len();
        let mut d = [0.0; 2];
        for (j, w) in s.weight.iter().enumerate() {
            let k = (s.knot + n + j - 1) % n;
            d = add(d, mul(self.normals[k], w * bends[k]));
        }
        d
    }
}

#[cfg(test)]
mod tests {
    use super::super::template::{Asked, Template};
    use super::*;
    use crate::base::units::Seed;
    use crate::read::job::Family;

    /// Weights and curve are two ways to the same points: both follow from the Bezier form.
    #[test]
    fn samples_move_with_the_curve() {
        for family in Family::all() {
            let t =
                Template::of_family(family, Asked { smallest: 1.0, largest: 16.0, weed: 0.8 }, Seed(1), 0);
            let n = t.hull.nodes.len();
            let bends: Vec<f64> = (0..n).map(|k| 0.1 * libm::sin(1.7 * k as f64)).collect();
            let bent = t.frame.bent(&t.hull, &bends);
            for (i, s) in t.frame.samples.iter().enumerate() {
                let p = bent.point(i / STEPS, (i % STEPS) as f64 / STEPS as f64);
                assert!(len(sub(p, add(s.at, t.frame.moved(s, &bends)))) < 1e-12);
            }
            let none = t.frame.bent(&t.hull, &vec![0.0; n]);
            assert!(none.nodes.iter().zip(&t.hull.nodes).all(|(a, b)| len(sub(a.at, b.at)) < 1e-15));
        }
    }
}
