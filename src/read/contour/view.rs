//! [`View`]: where a camera stood before a cup, and what of the wall a point of its outline in the picture is.
//!
//! ```text
//!        z up                     C = (D, 0, lens): the lens
//!        |    .P                  d: the ray through a point of the outline
//!   _____|___/                    t: the outline's direction there, as a vector of the picture's plane
//!   \    |  /                     N = d x t: the normal of the plane that touches the wall in P
//!    \   | / - - - - - - - - C    the wall's own normal in P meets the axis, and is N:
//!     \__|/                       lambda = -(C_x N_y - C_y N_x) / (d_x N_y - d_y N_x), P = C + lambda d
//! ```
//!
//! The outline is where rays touch the wall, not its meridian: of a cylinder of radius r it is as wide as one of
//! r / sqrt(1 - r^2 / D^2). Source: own derivation from the touching plane, held to closed forms of the cylinder
//! and the cone; the theory is that of Wong, Mendonca and Cipolla, Image and Vision Computing 22 (2004) 829
//! (abstract read).
//!
//! Imports: base.

use crate::base::tolerance::LEAST_DIVISOR;

/// A vector of the scene, mm: x to the camera, y to its right, z up.
pub(super) type Vector = [f64; 3];

pub(super) fn dot(a: Vector, b: Vector) -> f64 {
    a[0] * b[0] + a[1] * b[1] + a[2] * b[2]
}

pub(super) fn cross(a: Vector, b: Vector) -> Vector {
    [a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]]
}

pub(super) fn unit(a: Vector) -> Vector {
    let l = dot(a, a).sqrt();
    a.map(|v| v / l)
}

fn along(a: Vector, by: f64, b: Vector) -> Vector {
    [a[0] + by * b[0], a[1] + by * b[1], a[2] + by * b[2]]
}

/// A camera before a cup.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct View {
    /// Pixels of its focal length.
    pub focal: f64,
    /// From the lens to the cup's axis, square to it, mm.
    pub distance: f64,
    /// Height of the lens over the cup's origin, along its axis, mm.
    pub lens: f64,
    /// The scene's three directions (to the camera, to its right, up) in the camera's own: right, up, forward.
    pub scene: [Vector; 3],
}

impl View {
    /// The ray through a point of the picture, given from its middle to the right and up, in pixels.
    pub fn ray(&self, x: f64, y: f64) -> Vector {
        let c = [x, y, self.focal];
        self.scene.map(|axis| dot(axis, c) / self.focal)
    }
    /// Radius and height of the wall where a ray touches it, from the outline's point and its direction in the
    /// picture; none where the ray tells nothing.
    pub fn touched(&self, (x, y): (f64, f64), (tx, ty): (f64, f64)) -> Option<(f64, f64)> {
        let d = self.ray(x, y);
        let t = self.scene.map(|axis| dot(axis, [tx, ty, 0.0]) / self.focal);
        let n = cross(d, t);
        let below = d[0] * n[1] - d[1] * n[0];
        if below.abs() < LEAST_DIVISOR * dot(d, d) * dot(n, n).sqrt() {
            return None;
        }
        let lambda = -self.distance * n[1] / below;
        let p = along([self.distance, 0.0, self.lens], lambda, d);
        let r = libm::hypot(p[0], p[1]);
        (lambda > 0.0 && r.is_finite()).then_some((r, p[2]))
    }
    /// Height at which a ray in the plane of axis and lens meets a circle of this radius round the axis, on its
    /// near or far side.
    pub fn met(&self, (x, y): (f64, f64), radius: f64, near: bool) -> f64 {
        let d = self.ray(x, y);
        let depth = if near { self.distance - radius } else { self.distance + radius };
        self.lens - depth / d[0] * d[2]
    }
    /// How far a ray passes over a circle round the axis, where it is as far from the axis as the circle.
    pub fn over_circle(&self, (x, y): (f64, f64), z: f64, radius: f64) -> f64 {
        let d = self.ray(x, y);
        let p = along([self.distance, 0.0, self.lens], (z - self.lens) / d[2], d);
        (libm::hypot(p[0], p[1]) - radius) * (d[2] / d[0]).abs()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_abs_diff_eq;

    fn turned(pitch: f64, roll: f64) -> [Vector; 3] {
        // The camera looks along -x, turned down by `pitch`, then rolled about its own axis.
        let forward = [-libm::cos(pitch), 0.0, -libm::sin(pitch)];
        let (up, right) = ([-libm::sin(pitch), 0.0, libm::cos(pitch)], [0.0, 1.0, 0.0]);
        let (c, s) = (libm::cos(roll), libm::sin(roll));
        let right_of = std::array::from_fn(|i| c * right[i] + s * up[i]);
        let up_of = std::array::from_fn(|i| c * up[i] - s * right[i]);
        let own: [Vector; 3] = [right_of, up_of, forward];
        std::array::from_fn(|i| std::array::from_fn(|j| own[j][i]))
    }

    /// Closed form, four walls and three poses: the outline's point at a height is where cos th = (r - (z - lens)
    /// r') / D, and the inverse gives radius and height back within 1e-9 mm.
    #[test]
    fn the_inverse_gives_walls_back() {
        type Wall = (fn(f64) -> f64, fn(f64) -> f64);
        let walls: [Wall; 4] = [
            (|_| 40.0, |_| 0.0),
            (|z| 33.0 + 0.07 * z, |_| 0.07),
            (|z| 40.0 + 300.0 * (libm::cos((z - 75.0) / 300.0) - 1.0), |z| -libm::sin((z - 75.0) / 300.0)),
            (|z| 30.0 + 0.0007 * z * z, |z| 0.0014 * z),
        ];
        for (pitch, roll, lens) in [(0.0, 0.0, 75.0), (0.1, 0.05, 125.0), (0.29, -0.03, 220.0)] {
            let view = View { focal: 3000.0, distance: 500.0, lens, scene: turned(pitch, roll) };
            for (r, slope) in walls {
                let point = |z: f64| {
                    let cos = (r(z) - (z - lens) * slope(z)) / view.distance;
                    let sin = (1.0 - cos * cos).sqrt();
                    [r(z) * cos, r(z) * sin, z]
                };
                let seen = |p: Vector| {
                    let d = [p[0] - view.distance, p[1], p[2] - lens];
                    let c: Vector = std::array::from_fn(|j| (0..3).map(|i| view.scene[i][j] * d[i]).sum());
                    (view.focal * c[0] / c[2], view.focal * c[1] / c[2])
                };
                for z in [8.0, 40.0, 75.0, 110.0, 143.0] {
                    // The outline's direction by the five-point rule: its error goes with the fourth power of the step.
                    let h = 0.02;
                    let [a, b, c, d] = [-2.0, -1.0, 1.0, 2.0].map(|k| seen(point(z + k * h)));
                    let rule = |a: f64, b: f64, c: f64, d: f64| (a - 8.0 * b + 8.0 * c - d) / (12.0 * h);
                    let way = (rule(a.0, b.0, c.0, d.0), rule(a.1, b.1, c.1, d.1));
                    let (got, up) = view.touched(seen(point(z)), way).expect("touches");
                    assert_abs_diff_eq!(got, r(z), epsilon = 1e-9);
                    assert_abs_diff_eq!(up, z, epsilon = 1e-9);
                }
            }
        }
    }

    /// Check case 8 of the notes: a cylinder of radius 40 seen from 300, 500, 1000 mm is as wide as one of 40.3604,
    /// 40.1286, 40.0320 at the axis; known with its place, it is 40.
    #[test]
    fn a_cylinder_is_seen_wider_than_it_is() {
        for (distance, wide) in [(300.0, 40.3604), (500.0, 40.1286), (1000.0, 40.0320)] {
            let view = View { focal: 3000.0, distance, lens: 50.0, scene: turned(0.0, 0.0) };
            let x = view.focal * wide / distance;
            let (r, z) = view.touched((x, 0.0), (0.0, 1.0)).expect("touches");
            assert_abs_diff_eq!(r, 40.0, epsilon = 1e-4);
            assert_abs_diff_eq!(z, 50.0, epsilon = 1e-9);
        }
    }
}
