//! Where a point of the wall is seen: a camera that looks at the middle of the cup from a distance.
//!
//! World: y up from the base, x to the viewer's right of the front, z towards the viewer of the front;
//! millimetres. With a the azimuth less the camera's, r and y radius and height of a wall point, H the cup's
//! height, e the camera's elevation, D its distance from the middle and s pixels a millimetre there:
//! ```text
//! X = r sin a     V = (y - H/2) cos e - r cos a sin e     W = (y - H/2) sin e + r cos a cos e
//! px = cx + s D X / (D - W)      py = cy - s D V / (D - W)
//! ```
//! Source: central projection, any textbook of computer graphics. A circle is seen as an ellipse, a generator
//! as a line.
//!
//! Imports: base, make::cup.

use crate::base::units::{Angle, Mm};
use crate::make::cup::{Cup, Frustum, WallZone};
use serde::Serialize;

/// Distance from the cup's axis, mm, below which an azimuth is not asked for.
const ON_AXIS: f64 = 1e-9;

/// The cup as a camera sees it: radii and height.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Body {
    /// Radius at the base edge.
    pub base: f64,
    /// Radius at the rim.
    pub rim: f64,
    /// Vertical height.
    pub height: f64,
    /// Length of the wall.
    pub slant: f64,
}

impl Body {
    /// Of a surface.
    pub fn of(f: &Frustum) -> Body {
        Body { base: f.radius(Mm::ZERO).0, rim: f.radius(f.slant).0, height: f.height().0, slant: f.slant.0 }
    }
    /// Change of radius a millimetre up.
    pub fn flare(&self) -> f64 {
        (self.rim - self.base) / self.height
    }
}

/// One cone of the wall.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Section {
    /// Its lower edge up along the wall.
    pub up: f64,
    /// Its lower edge over the base, vertical.
    pub foot: f64,
    /// Its cone.
    pub body: Body,
}

impl Section {
    /// Radius and height over the base of a slant.
    pub fn at(&self, slant: f64) -> (f64, f64) {
        let part = (slant - self.up) / self.body.slant;
        (self.body.base + (self.body.rim - self.body.base) * part, self.foot + self.body.height * part)
    }
    /// Slant of a height over the base.
    pub fn slant(&self, y: f64) -> f64 {
        self.up + (y - self.foot) / self.body.height * self.body.slant
    }
}

/// The cones of a wall, lowest first.
pub fn sections(cup: &Cup) -> Vec<Section> {
    let mut foot = 0.0;
    let one = |z: &WallZone| {
        let s = Section { up: z.low.0, foot, body: Body::of(&z.surface) };
        foot += s.body.height;
        s
    };
    cup.zones.iter().map(one).collect()
}

/// A camera, with all that puts a point of the wall on a pixel; these numbers stand in the manifest.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Camera {
    /// Azimuth of the wall that it faces.
    #[serde(rename = "azimuth_deg")]
    pub azimuth: f64,
    /// Elevation over the level.
    #[serde(rename = "elevation_deg")]
    pub elevation: f64,
    /// Distance from the middle of the cup.
    #[serde(rename = "distance_mm")]
    pub distance: f64,
    /// Height of the middle over the base.
    #[serde(rename = "middle_mm")]
    pub middle: f64,
    /// Pixels a millimetre at the middle.
    #[serde(rename = "scale_px_per_mm")]
    pub scale: f64,
    /// Pixels from the left edge to the middle's image.
    #[serde(rename = "centre_x_px")]
    pub cx: f64,
    /// Pixels from the top edge to the middle's image.
    #[serde(rename = "centre_y_px")]
    pub cy: f64,
}

/// A ray in the camera's turned world: from the eye towards a pixel.
#[derive(Clone, Copy, Debug)]
pub struct Eye {
    /// Height of the eye over the base.
    pub y: f64,
    /// Distance of the eye from the axis.
    pub z: f64,
    sin: f64,
    cos: f64,
    camera: Camera,
}

/// How many times the larger of height and rim diameter the camera stands away.
pub const AWAY: f64 = 5.0;

impl Camera {
    /// A camera that sees the whole cup in a picture of so many pixels, an edge left free.
    pub fn fitted(body: &Body, azimuth: Angle, elevation: Angle, size: (usize, usize), edge: f64) -> Camera {
        Camera::on(&[(body.base, 0.0), (body.rim, body.height)], azimuth, elevation, size, edge)
    }
    /// The same for circles round the axis, each by its radius and height, the highest last.
    pub fn on(
        circles: &[(f64, f64)],
        azimuth: Angle,
        elevation: Angle,
        size: (usize, usize),
        edge: f64,
    ) -> Camera {
        let height = circles.last().map_or(0.0, |c| c.1);
        let widest = circles.iter().map(|c| c.0).fold(f64::NEG_INFINITY, f64::max);
        let distance = AWAY * height.max(2.0 * widest);
        let mut c = Camera {
            azimuth: azimuth.wrapped().deg(),
            elevation: elevation.deg(),
            distance,
            middle: height / 2.0,
            scale: 1.0,
            cx: 0.0,
            cy: 0.0,
        };
        let (mut low, mut high) = ((f64::MAX, f64::MAX), (f64::MIN, f64::MIN));
        for &(r, y) in circles {
            for i in 0..360 {
                let a = Angle::degrees(f64::from(i));
                let (px, py) = c.pixel(r, y, a.sin(), a.cos());
                low = (low.0.min(px), low.1.min(py));
                high = (high.0.max(px), high.1.max(py));
            }
        }
        let (w, h) = (size.0 as f64, size.1 as f64);
        c.scale = ((w - 2.0 * edge) / (high.0 - low.0)).min((h - 2.0 * edge) / (high.1 - low.1));
        c.cx = w / 2.0 - c.scale * (low.0 + high.0) / 2.0;
        c.cy = h / 2.0 - c.scale * (low.1 + high.1) / 2.0;
        c
    }
    /// The pixel of a wall point by its radius, height, and sine and cosine of its azimuth less the camera's.
    pub fn pixel(&self, r: f64, y: f64, sin: f64, cos: f64) -> (f64, f64) {
        self.view().pixel(r, y, sin, cos)
    }
    /// The same with the elevation's sine and cosine worked out once.
    pub fn view(&self) -> Eye {
        let e = Angle::degrees(self.elevation);
        let (sin, cos) = (e.sin(), e.cos());
        Eye { y: self.middle + self.distance * sin, z: self.distance * cos, sin, cos, camera: *self }
    }
}

impl Eye {
    /// The pixel of a wall point by its radius, height, and sine and cosine of its azimuth less the camera's.
    #[inline]
    pub fn pixel(&self, r: f64, y: f64, sin: f64, cos: f64) -> (f64, f64) {
        let c = &self.camera;
        let (up, out) = (y - c.middle, r * cos);
        let v = up * self.cos - out * self.sin;
        let w = up * self.sin + out * self.cos;
        let k = c.scale * c.distance / (c.distance - w);
        (c.cx + k * r * sin, c.cy - k * v)
    }
    /// Cosine of the azimuth, from the camera's, at which the wall turns away: the same at every height, for
    /// the tangent planes through the eye touch the cone along generators.
    pub fn horizon(&self, body: &Body) -> f64 {
        ((body.base + body.flare() * self.y) / self.z).clamp(-1.0, 1.0)
    }
    /// Does it look into the cup?
    pub fn sees_inside(&self, body: &Body) -> bool {
        self.y > body.height
    }
    /// Direction of the ray through a pixel.
    #[inline]
    pub fn ray(&self, px: f64, py: f64) -> (f64, f64, f64) {
        let c = &self.camera;
        let (u, v) = ((px - c.cx) / (c.scale * c.distance), (c.cy - py) / (c.scale * c.distance));
        // Forward is (0, -sin, -cos), up is (0, cos, -sin).
        (u, v * self.cos - self.sin, -v * self.sin - self.cos)
    }
    /// [`Self::meet`] on the near side for neighbours in a row, the first pixel's middle at `px`: sines and
    /// heights. Without branches, so that several are reckoned at once.
    pub fn meet_row(&self, body: &Body, px: f64, py: f64, sines: &mut [f64], heights: &mut [f64]) {
        let eye = *self;
        let body = *body;
        for (i, (sine, height)) in sines.iter_mut().zip(heights).enumerate() {
            let (s, _, y) = eye.meet(&body, px + f64::from(i as i32), py, false);
            (*sine, *height) = (s, y);
        }
    }
    /// Where the ray through a pixel meets the cone: sine and cosine of the azimuth from the camera's, and
    /// height. On the near side, or (`far`) on the other. A ray that misses touches: the nearest generator of
    /// the horizon.
    #[inline]
    pub fn meet(&self, body: &Body, px: f64, py: f64, far: bool) -> (f64, f64, f64) {
        let (dx, dy, dz) = self.ray(px, py);
        let t = body.flare();
        let r = body.base + t * self.y;
        let a = dx * dx + dz * dz - t * t * dy * dy;
        let b = self.z * dz - t * r * dy;
        let c = self.z * self.z - r * r;
        let root = (b * b - a * c).max(0.0).sqrt();
        let m = if far { (-b + root) / a } else { (-b - root) / a };
        let (x, y, z) = (m * dx, self.y + m * dy, self.z + m * dz);
        let rho = (x * x + z * z).sqrt().max(ON_AXIS);
        (x / rho, z / rho, y)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        /// The two formulas are each other's inverse: projection by hand, meeting by solving the cone's
        /// quadratic.
        #[test]
        fn a_pixel_of_a_wall_point_meets_the_wall_there(
            base in 25.0..60.0f64, flare in -0.3..0.4f64, height in 60.0..220.0f64,
            a in -1.2..1.2f64, t in 0.0..1.0f64, e in 0.0..35.0f64,
        ) {
            let rim = base + flare * height;
            prop_assume!(rim > 15.0);
            let body = Body { base, rim, height, slant: height.hypot(rim - base) };
            let c = Camera::fitted(&body, Angle::ZERO, Angle::degrees(e), (420, 560), 20.0);
            let eye = c.view();
            prop_assume!(a.cos() > eye.horizon(&body) + 0.02);
            let y = t * height;
            let (px, py) = eye.pixel(base + flare * y, y, a.sin(), a.cos());
            let (s, k, up) = eye.meet(&body, px, py, false);
            prop_assert!((s - a.sin()).abs() < 1e-7 && (k - a.cos()).abs() < 1e-7 && (up - y).abs() < 1e-6);
        }
    }

    /// The twin of rows: pixel by pixel, bit for bit.
    #[test]
    fn a_row_meets_the_wall_where_its_pixels_do() {
        let body = Body { base: 33.0, rim: 43.0, height: 165.0, slant: 165.3 };
        for e in [0.0, 12.0, 20.0] {
            let eye = Camera::fitted(&body, Angle::ZERO, Angle::degrees(e), (420, 560), 20.0).view();
            for y in (0..560).step_by(37) {
                let (mut sines, mut heights) = (vec![0.0; 401], vec![0.0; 401]);
                eye.meet_row(&body, 13.5, y as f64 + 0.5, &mut sines, &mut heights);
                for i in 0..401 {
                    let (s, _, up) = eye.meet(&body, 13.5 + i as f64, y as f64 + 0.5, false);
                    assert_eq!((s.to_bits(), up.to_bits()), (sines[i].to_bits(), heights[i].to_bits()));
                }
            }
        }
    }

    #[test]
    fn the_whole_cup_is_in_the_picture() {
        let body = Body { base: 33.0, rim: 43.0, height: 165.0, slant: 165.3 };
        for e in [0.0, 20.0] {
            let c = Camera::fitted(&body, Angle::ZERO, Angle::degrees(e), (420, 560), 20.0);
            for (r, y) in [(body.base, 0.0), (body.rim, body.height)] {
                for i in 0..72 {
                    let a = f64::from(i) * 0.0873;
                    let (px, py) = c.pixel(r, y, a.sin(), a.cos());
                    assert!(px > 19.0 && px < 401.0 && py > 19.0 && py < 541.0, "{px} {py}");
                }
            }
        }
    }
}
