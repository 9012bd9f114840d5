//! How wall and film take the light: one light over the viewer's left shoulder that turns with the camera, so
//! that a view's shade hangs on the azimuth from the camera alone.
//!
//! A hint, not a measurement: what colours look like is for the maker's eye.
//!
//! Imports: read::job.

use crate::read::job::{Rgb, Sheen};

/// Steps of a table of shades, by the sine of the azimuth.
const STEPS: usize = 512;

/// What becomes of a colour: times `mul`, plus `add`, of 0 to 1.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Shade {
    /// Factor.
    pub mul: f32,
    /// White added.
    pub add: f32,
}

impl Shade {
    /// The colour in this shade, of 0 to 255.
    #[inline]
    pub fn of(&self, c: [f32; 3]) -> [f32; 3] {
        c.map(|v| v * self.mul + self.add * 255.0)
    }
}

/// Shades of one sheen from the left horizon to the right one.
#[derive(Clone, Debug, PartialEq)]
pub struct Shades(Vec<Shade>);

/// A lobe of light: 1 at its middle, of a width, radians.
fn lobe(a: f64, middle: f64, width: f64) -> f64 {
    let t = (a - middle) / width;
    libm::exp(-t * t)
}

impl Shades {
    /// The table of a sheen.
    pub fn of(sheen: Sheen) -> Shades {
        let at = |i: usize| {
            let a = libm::asin((i as f64 / (STEPS - 1) as f64 * 2.0 - 1.0).clamp(-1.0, 1.0));
            // Soft light from the left front, dimmer light from the right, and the edge that turns away.
            let soft = 0.56 + 0.40 * libm::cos(a + 0.45).max(0.0) + 0.10 * lobe(a, 1.15, 0.35);
            let (mul, add) = match sheen {
                Sheen::Matt => (soft, 0.0),
                Sheen::Gloss => (soft, 0.34 * lobe(a, -0.62, 0.085) + 0.10 * lobe(a, 0.95, 0.07)),
                Sheen::Metallic => (
                    0.50 + 0.62 * lobe(a, -0.45, 0.30) + 0.34 * lobe(a, 0.62, 0.20),
                    0.22 * lobe(a, -0.45, 0.14) + 0.08 * lobe(a, 0.62, 0.12),
                ),
                Sheen::Pearl => (soft, 0.26 * lobe(a, -0.40, 0.42) + 0.08 * lobe(a, 0.80, 0.25)),
            };
            Shade { mul: mul as f32, add: add as f32 }
        };
        Shades((0..STEPS).map(at).collect())
    }
    /// At a sine of the azimuth from the camera's.
    #[inline]
    pub fn at(&self, sine: f64) -> Shade {
        self.of_place(Shades::place(sine))
    }
    /// Place in every table of a sine of the azimuth from the camera's.
    #[inline]
    pub fn place(sine: f64) -> usize {
        let t = (sine.clamp(-1.0, 1.0) + 1.0) * 0.5 * (STEPS - 1) as f64;
        (t + 0.5) as usize
    }
    /// At a place.
    #[inline]
    pub fn of_place(&self, place: usize) -> Shade {
        self.0[place]
    }
    /// Every so many-th shade, as the turning page takes them.
    pub fn every(&self, step: usize) -> impl Iterator<Item = &Shade> {
        self.0.iter().step_by(step)
    }
}

/// The table of the bare cup: brushed steel, or whatever it is, in its own colour.
pub fn bare() -> Shades {
    let at = |i: usize| {
        let a = libm::asin((i as f64 / (STEPS - 1) as f64 * 2.0 - 1.0).clamp(-1.0, 1.0));
        let mul = 0.70 + 0.26 * lobe(a, -0.5, 0.42) + 0.14 * lobe(a, 0.75, 0.28)
            - 0.16 * lobe(a, 1.571, 0.22)
            - 0.10 * lobe(a, -1.571, 0.16);
        Shade { mul: mul as f32, add: (0.06 * lobe(a, -0.5, 0.14)) as f32 }
    };
    Shades((0..STEPS).map(at).collect())
}

/// As numbers to reckon with.
pub fn floats(Rgb(c): Rgb) -> [f32; 3] {
    c.map(f32::from)
}
