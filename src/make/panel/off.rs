//! How far a panel may lie off when it is laid by two marks, each missed by up to a radius.
//!
//! With the marks on an axis u, their middle the origin, L apart, and missed by e1 and e2: a point at (a, b) moves by
//! `M1 e1 + M2 e2`, `M1 = [[1/2, b/L], [0, 1/2 - a/L]]`, `M2 = [[1/2, -b/L], [0, 1/2 + a/L]]` (shift of the middle and
//! turn of the line between them, to first order). In a direction w that is at most `r (|M1' w| + |M2' w|)`, so the
//! largest of these over all w is the farthest way; directions are taken in steps, and the convex set that the ways
//! fill lies inside its tangents, so the largest found is raised by the cosine of half a step. The second order is
//! below `turn^2 / 2` times the distance from the middle, the turn at most 2 r / L.
//!
//! Imports: outline.

use crate::outline::plane::{V, cross, dot, len, sub};
use std::f64::consts::PI;

/// Directions in half a turn.
const DIRECTIONS: usize = 64;

/// Largest way of a point, mm, for two marks and a radius.
pub fn off(point: V, marks: [V; 2], radius: f64) -> f64 {
    let axis = sub(marks[1], marks[0]);
    let long = len(axis);
    let u = [axis[0] / long, axis[1] / long];
    let middle = [f64::midpoint(marks[0][0], marks[1][0]), f64::midpoint(marks[0][1], marks[1][1])];
    let from = sub(point, middle);
    let (a, b) = (dot(from, u) / long, cross(u, from) / long);
    let turn = 2.0 * radius / long;
    let along = |w: V, p: f64, q: f64| libm::hypot(0.5 * w[0], p * w[0] + q * w[1]);
    let ways = (0..DIRECTIONS).map(|k| {
        let angle = PI * k as f64 / DIRECTIONS as f64;
        let w = [libm::cos(angle), libm::sin(angle)];
        along(w, b, 0.5 - a) + along(w, -b, 0.5 + a)
    });
    let most = ways.fold(0.0, f64::max) / libm::cos(PI / (2.0 * DIRECTIONS as f64));
    radius * most + turn * turn / 2.0 * len(from)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::random::Random;
    use crate::base::units::Seed;

    /// Truth: the rigid motion that takes the line between the marks to the line between the readings, drawn at
    /// random within the radius; no point goes farther than the bound, and some go nearly so far.
    #[test]
    fn no_reading_moves_a_point_farther() {
        let mut random = Random::new(Seed(5), "off", 0);
        let (marks, r) = ([[-30.0, -40.0], [30.0, 40.0]], 0.3);
        for point in [[0.0, 0.0], [30.0, 40.0], [30.0, -40.0], [-12.0, 35.0]] {
            let (bound, mut most) = (off(point, marks, r), 0.0f64);
            for _ in 0..20_000 {
                let mut read = marks;
                for q in &mut read {
                    let (t, d) = (random.between(0.0, std::f64::consts::TAU), r * random.unit().sqrt());
                    *q = [q[0] + d * t.cos(), q[1] + d * t.sin()];
                }
                let (v, w) = (sub(marks[1], marks[0]), sub(read[1], read[0]));
                let turn = libm::atan2(cross(v, w), dot(v, w));
                let middle = [f64::midpoint(read[0][0], read[1][0]), f64::midpoint(read[0][1], read[1][1])];
                let (c, s) = (turn.cos(), turn.sin());
                let to = [middle[0] + c * point[0] - s * point[1], middle[1] + s * point[0] + c * point[1]];
                most = most.max(len(sub(to, point)));
            }
            assert!(most <= bound && most > 0.9 * bound, "{point:?}: {most} {bound}");
        }
        // The note: .46 mm at the far corner of 60 x 80 mm, marks on the other diagonal read to .3 mm (simulated).
        assert!((off([30.0, -40.0], marks, r) - 0.46).abs() < 0.08);
    }

    /// Closed form: at the middle of the marks no farther than the radius; at a mark `r sqrt(4/3)`, since its own
    /// reading `(r cos t, r sin t)` counts whole across and half along, the other one's half along, and
    /// `(1 + cos t)^2 / 4 + sin^2 t` is largest, 4/3, at `cos t = 1/3`. The turn's second order is all that is added.
    #[test]
    fn the_middle_is_off_by_the_radius_and_a_mark_by_its_root_of_four_thirds() {
        for (w, h, r) in [(40.0, 60.0, 0.3), (60.0, 80.0, 0.1), (80.0, 120.0, 0.5), (12.0, 0.0, 0.2)] {
            let marks = [[-w / 2.0, -h / 2.0], [w / 2.0, h / 2.0]];
            let long = f64::hypot(w, h);
            let second = (2.0 * r / long).powi(2) / 2.0 * long / 2.0;
            let step = 1.0 / libm::cos(PI / (2.0 * DIRECTIONS as f64));
            let at_middle = off([0.0, 0.0], marks, r);
            assert!(at_middle >= r && at_middle <= r * step, "{w} x {h}: {at_middle}");
            for mark in marks {
                let (got, wanted) = (off(mark, marks, r), r * (4.0f64 / 3.0).sqrt());
                assert!(got >= wanted && got <= wanted * step + second, "{w} x {h}: {got} of {wanted}");
            }
        }
    }
}
