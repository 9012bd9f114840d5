//! [`Frustum`] and its [`Development`]: wall to developed plane and back, without ever asking for the apex.
//!
//! Imports: base, outline, read::job.
//!
//! ```text
//!            rim, circumference `upper`
//!      \-----------------/
//!       \       |       /     slant: up along the wall
//!        \      | front/      azimuth: to the viewer's right from the front line
//!         \-----o-----/       o: origin of the developed plane
//!            base, circumference `lower`
//! ```

use crate::base::frame::{Art, Plane, Point, Rigid};
use crate::base::units::{Angle, Ml, Mm, Mm2};
use crate::outline::{Flat, sinc};
use crate::read::job::WallPose;
use serde::Serialize;
use std::f64::consts::{PI, TAU};

/// Argument below which `atan z / z` is taken from its series: the term left out is below 1e-24, less than
/// rounding.
const SMALL_ARGUMENT: f64 = 1e-4;

/// A cone frustum by what a tape can read; the apex radius is never stored (it is badly conditioned).
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Frustum {
    /// Circumference at the rim.
    #[serde(rename = "upper_mm")]
    pub upper: Mm,
    /// Circumference at the base edge.
    #[serde(rename = "lower_mm")]
    pub lower: Mm,
    /// Length of the wall between them.
    #[serde(rename = "slant_mm")]
    pub slant: Mm,
}

impl Frustum {
    /// Sine of the half-angle: positive when the rim is wider, 0 for a cylinder.
    pub fn sine(&self) -> f64 {
        (self.upper - self.lower) / self.slant / TAU
    }
    /// Half-angle of the cone.
    pub fn half_angle(&self) -> Angle {
        Angle::radians(libm::asin(self.sine()))
    }
    /// Angle of the developed sector: (C1 - C2) / s radians; negative when the rim is narrower.
    pub fn sweep(&self) -> Angle {
        Angle::radians((self.upper - self.lower) / self.slant)
    }
    /// Radius of the cup at a slant.
    pub fn radius(&self, slant: Mm) -> Mm {
        self.girth(slant) / TAU
    }
    /// Circumference at a slant.
    pub fn girth(&self, slant: Mm) -> Mm {
        self.lower + (self.upper - self.lower) * (slant / self.slant)
    }
    /// Vertical height.
    pub fn height(&self) -> Mm {
        let dr = (self.upper - self.lower) / TAU;
        Mm(((self.slant.0 - dr.0) * (self.slant.0 + dr.0)).max(0.0).sqrt())
    }
    /// Area of the wall: (C1 + C2) s / 2.
    pub fn lateral_area(&self) -> Mm2 {
        (self.upper + self.lower) * self.slant * 0.5
    }
    /// Volume of the outside: pi h (R^2 + R r + r^2) / 3.
    pub fn volume(&self) -> Ml {
        let (r1, r2) = (self.upper.0 / TAU, self.lower.0 / TAU);
        Ml(PI * self.height().0 * (r1 * r1 + r1 * r2 + r2 * r2) / 3.0 / 1000.0)
    }
    /// By how much a coat of this thickness lengthens every circumference: 2 pi b cos(half-angle).
    ///
    /// A coat grows along the normal of the wall, which on a cone leans by the half-angle from the radius;
    /// the foot of the normal keeps its slant. On an upright wall it is the 2 pi b of a cylinder.
    pub fn growth(&self, thickness: Mm) -> Mm {
        thickness * (TAU * self.half_angle().cos())
    }
    /// The cup with a coat of this thickness on it: every circumference grows by [`Frustum::growth`].
    #[must_use]
    pub fn built_up(&self, thickness: Mm) -> Frustum {
        let growth = self.growth(thickness);
        Frustum { upper: self.upper + growth, lower: self.lower + growth, slant: self.slant }
    }
}

/// A point of the wall.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct WallPoint {
    /// From the front line, positive to the viewer's right from outside, rim up.
    pub azimuth: Angle,
    /// Up along the wall from the base edge.
    pub slant: Mm,
}

/// A frustum's wall rolled out flat; periodic under [`Development::turned`].
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Development {
    frustum: Frustum,
    /// Sine of the half-angle.
    k: f64,
    /// Radius of the frustum's lower edge.
    base: f64,
    /// How far up the wall that edge lies.
    low: f64,
}

/// (1 - cos z) / z, as z/2 sinc^2(z/2): no cancellation near 0.
fn versine_over(z: f64) -> f64 {
    let s = sinc(z / 2.0);
    z / 2.0 * s * s
}

impl Development {
    /// Of a frustum with |sine of the half-angle| < 1 that stands on the base edge.
    pub fn new(frustum: Frustum) -> Development {
        Development::above(Mm::ZERO, frustum)
    }
    /// Of a frustum whose lower edge lies so far up the wall: slants are counted from the base edge all the
    /// same, and the plane's origin is the front of the lower edge.
    pub fn above(low: Mm, frustum: Frustum) -> Development {
        Development { frustum, k: frustum.sine(), base: frustum.lower.0 / TAU, low: low.0 }
    }
    /// Circumference at a slant.
    pub fn girth(&self, slant: Mm) -> Mm {
        self.frustum.girth(slant - Mm(self.low))
    }
    /// Radius of the cup at a slant.
    pub fn radius(&self, slant: Mm) -> Mm {
        self.girth(slant) / TAU
    }
    /// Lowest and highest slant of the frustum.
    pub fn span(&self) -> (Mm, Mm) {
        (Mm(self.low), Mm(self.low) + self.frustum.slant)
    }
    /// Can what lies about azimuth `there`, turned `n` times round, meet what lies about azimuth `here`?
    ///
    /// The wall is a sector of a plane that winds about the apex. Where it sweeps over more than half a turn,
    /// a copy one turn further may come to lie where other film lies, though on the cup they are far apart:
    /// the two are on different windings. They can meet only if their middles are less than half a turn *of
    /// the plane* apart.
    pub fn can_meet(&self, here: Angle, there: Angle, n: i32) -> bool {
        (there.rad() + TAU * f64::from(n) - here.rad()).abs() * self.k.abs() < PI
    }
    /// The middle of the azimuths of an outline on the plane; 0 for none.
    pub fn middle(&self, flat: &Flat<Plane>) -> Angle {
        let azimuths = flat.rings.iter().flatten().map(|p| self.wrap(Point::mm(p[0], p[1])).azimuth.rad());
        let (lo, hi) = azimuths.fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), a| (l.min(a), h.max(a)));
        Angle::radians(if lo <= hi { f64::midpoint(lo, hi) } else { 0.0 })
    }
    /// The frustum.
    pub fn frustum(&self) -> &Frustum {
        &self.frustum
    }
    /// Wall to plane. With k = sin(half-angle), r = radius at the slant, phi = k azimuth:
    /// x = r azimuth sinc(phi); y = slant cos(phi) - base_radius azimuth (1 - cos phi)/phi.
    pub fn develop(&self, p: WallPoint) -> Point<Plane> {
        let (a, s) = (p.azimuth.rad(), p.slant.0 - self.low);
        let phi = self.k * a;
        let r = self.base + self.k * s;
        Point::mm(r * a * sinc(phi), s * libm::cos(phi) - self.base * a * versine_over(phi))
    }
    /// Plane to wall: the inverse of [`Self::develop`], within 1e-9 mm; the azimuth is not wrapped.
    ///
    /// With q = b + k y (b base radius): the distance from the apex times k is r = hypot(q, k x), so
    /// slant = (r - b)/k = (2 b y + k (x^2 + y^2)) / (r + b), and azimuth = atan2(k x, q)/k.
    pub fn wrap(&self, p: Point<Plane>) -> WallPoint {
        let (k, b) = (self.k, self.base);
        let q = b + k * p.y;
        let z = k * p.x / q;
        let azimuth = if q > 0.0 && z.abs() < SMALL_ARGUMENT {
            p.x / q * (1.0 - z * z / 3.0 + z * z * z * z / 5.0)
        } else {
            libm::atan2(k * p.x, q) / k
        };
        WallPoint { azimuth: Angle::radians(azimuth), slant: self.slant(p) }
    }
    /// The slant of [`Self::wrap`] alone.
    #[inline]
    pub fn slant(&self, p: Point<Plane>) -> Mm {
        let (k, b) = (self.k, self.base);
        let r = libm::hypot(b + k * p.y, k * p.x);
        Mm(self.low + (2.0 * b * p.y + k * (p.x * p.x + p.y * p.y)) / (r + b))
    }
    /// One full turn of the cup, n times: a rotation by n sweeps about the apex, without the apex in the
    /// formula.
    pub fn turned(&self, n: i32) -> Rigid<Plane, Plane> {
        self.rotated(Angle::TURN * f64::from(n))
    }
    /// Turning the cup by an azimuth, as a motion of the plane.
    pub fn rotated(&self, by: Angle) -> Rigid<Plane, Plane> {
        // The lower edge's front point goes to develop(by, low); the plane turns by -phi there.
        let at = self.develop(WallPoint { azimuth: by, slant: Mm(self.low) });
        Rigid::new(Angle::radians(-self.k * by.rad()), at)
    }
    /// Puts a piece's frame on the plane: its origin at the pose, its y axis `turn` counter-clockwise from
    /// the generator.
    pub fn pose(&self, pose: WallPose) -> Rigid<Art, Plane> {
        let at = self.develop(WallPoint { azimuth: pose.azimuth, slant: pose.slant });
        Rigid::new(pose.turn - Angle::radians(self.k * pose.azimuth.rad()), at)
    }
    /// The wall pose of a frame on the plane: the inverse of [`Self::pose`]; azimuth and turn wrapped to a
    /// half-open turn.
    pub fn wall_pose(&self, frame: &Rigid<Art, Plane>) -> WallPose {
        let p = self.wrap(frame.origin());
        let turn = frame.turn() + Angle::radians(self.k * p.azimuth.rad());
        WallPose { azimuth: p.azimuth.wrapped(), slant: p.slant, turn: turn.wrapped() }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::tolerance::ROUND_TRIP;
    use proptest::prelude::*;

    proptest! {
        /// A frustum some way up the wall is rolled out as the same frustum on the base edge is: the plane does
        /// not know how high it stands, slants do.
        #[test]
        fn a_zone_up_the_wall_rolls_out_as_one_that_stands(
            (f, azimuth, part) in (frusta(), -6.0..6.0f64, 0.0..1.0f64), low in 0.0..200.0f64,
        ) {
            let (here, above) = (Development::new(f), Development::above(Mm(low), f));
            let s = f.slant * part;
            let at = |slant| WallPoint { azimuth: Angle::radians(azimuth), slant };
            let (p, q) = (here.develop(at(s)), above.develop(at(s + Mm(low))));
            prop_assert!(p.distance(q).0 < 1e-9, "{p:?} {q:?}");
            prop_assert!((above.slant(p) - s - Mm(low)).abs() < ROUND_TRIP);
            prop_assert!((above.girth(s + Mm(low)) - f.girth(s)).abs() < ROUND_TRIP);
            let (a, b) = (here.turned(1).apply(p), above.turned(1).apply(p));
            prop_assert!(a.distance(b).0 < 1e-9);
        }
    }

    /// Half-angles from -40 to 40 degrees, a third of them nearly straight.
    fn frusta() -> impl Strategy<Value = Frustum> {
        let taper = prop_oneof![-0.64..0.64f64, -1e-3..1e-3f64, Just(0.0), -1e-9..1e-9f64];
        (20.0..150.0f64, 30.0..250.0f64, taper).prop_filter_map("positive girths", |(r, slant, k)| {
            let upper = TAU * (r + k * slant);
            (upper > 60.0).then_some(Frustum { upper: Mm(upper), lower: Mm(TAU * r), slant: Mm(slant) })
        })
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(2000))]
        #[test]
        fn wrap_undoes_develop(f in frusta(), a in -4.0..4.0f64, t in 0.0..1.0f64) {
            let d = Development::new(f);
            let w = WallPoint { azimuth: Angle::radians(a), slant: f.slant * t };
            let back = d.wrap(d.develop(w));
            prop_assert!((back.slant - w.slant).abs() < ROUND_TRIP);
            prop_assert!(((back.azimuth.rad() - a) * f.radius(w.slant).0).abs() < ROUND_TRIP.0);
        }
        /// In space: each point of the wall pushed out along the cross product of the two tangents there.
        #[test]
        fn a_coat_grows_along_the_normal(f in frusta(), a in -3.0..3.0f64, t in 0.0..1.0f64, b in 0.01..2.0f64) {
            let place = |azimuth: f64, slant: f64| {
                let r = f.radius(Mm(slant)).0;
                [r * libm::cos(azimuth), r * libm::sin(azimuth), slant * f.half_angle().cos()]
            };
            let s = f.slant.0 * t;
            let d = |p: [f64; 3], q: [f64; 3]| [p[0] - q[0], p[1] - q[1], p[2] - q[2]];
            let (u, v) = (d(place(a + 1e-5, s), place(a - 1e-5, s)), d(place(a, s + 1e-3), place(a, s - 1e-3)));
            let n = [u[1] * v[2] - u[2] * v[1], u[2] * v[0] - u[0] * v[2], u[0] * v[1] - u[1] * v[0]];
            let len = libm::sqrt(n[0] * n[0] + n[1] * n[1] + n[2] * n[2]);
            let p = place(a, s);
            let out = [p[0] + n[0] / len * b, p[1] + n[1] / len * b];
            let girth = TAU * libm::hypot(out[0], out[1]);
            prop_assert!((f.built_up(Mm(b)).girth(Mm(s)).0 - girth).abs() < 1e-6);
        }
        #[test]
        fn a_full_turn_is_the_rotation_of_the_plane(f in frusta(), a in -3.2..3.2f64, t in 0.0..1.0f64, n in -1..=1i32) {
            let d = Development::new(f);
            let w = |a: f64| d.develop(WallPoint { azimuth: Angle::radians(a), slant: f.slant * t });
            prop_assert!(d.turned(n).apply(w(a)).distance(w(a + TAU * f64::from(n))).get() < 1e-9);
        }
        #[test]
        fn lengths_along_the_wall_are_kept(f in frusta(), a in -3.0..3.0f64, t in 0.05..0.95f64) {
            // A development is an isometry: small steps along parallel and generator keep their length and
            // right angle.
            let d = Development::new(f);
            let h = 1e-4;
            let at = |da: f64, ds: f64| d.develop(WallPoint { azimuth: Angle::radians(a + da), slant: Mm(f.slant.0 * t + ds) });
            let r = f.radius(f.slant * t).0;
            prop_assert!((at(-h, 0.0).distance(at(h, 0.0)).get() / (2.0 * h * r) - 1.0).abs() < 1e-6);
            prop_assert!((at(0.0, -h).distance(at(0.0, h)).get() / (2.0 * h) - 1.0).abs() < 1e-6);
        }
        #[test]
        fn poses_round_trip(f in frusta(), a in -3.1..3.1f64, t in 0.0..1.0f64, turn in -3.1..3.1f64) {
            let d = Development::new(f);
            let p = WallPose { azimuth: Angle::radians(a), slant: f.slant * t, turn: Angle::radians(turn) };
            let q = d.wall_pose(&d.pose(p));
            prop_assert!((q.azimuth - p.azimuth).rad().abs() < 1e-9 && (q.turn - p.turn).rad().abs() < 1e-9);
        }
    }
}
