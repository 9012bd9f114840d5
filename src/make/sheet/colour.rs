//! Colours as people see them: CIELAB of lights, and how far two are apart.
//!
//! Imports: base.

use crate::base::colour;

/// Steps of the table of cube roots between 0 and 1.
const STEPS: usize = 8192;
/// White and matrix of sRGB, for pixels.
const WHITE: [f32; 3] = narrow(colour::WHITE);
const TO_XYZ: [[f32; 3]; 3] =
    [narrow(colour::TO_XYZ[0]), narrow(colour::TO_XYZ[1]), narrow(colour::TO_XYZ[2])];
/// Where the cube root of CIELAB gives way to a line (CIE 15), and that line.
const STRAIGHT: f32 = 0.008_856;

/// Parts of a light that the eye takes for its brightness (Rec. ITU-R BT.709).
pub const BRIGHT: [f32; 3] = narrow(colour::LUMINANCE);

const fn narrow(v: [f64; 3]) -> [f32; 3] {
    [v[0] as f32, v[1] as f32, v[2] as f32]
}

/// How bright a light is.
#[inline]
pub fn brightness(light: [f32; 3]) -> f32 {
    light[0] * BRIGHT[0] + light[1] * BRIGHT[1] + light[2] * BRIGHT[2]
}

/// Lightness, L* of 0 to 100, of a brightness.
pub fn lightness(bright: f32) -> f32 {
    116.0 * root(bright) - 16.0
}

fn root(t: f32) -> f32 {
    if t > STRAIGHT { libm::cbrtf(t) } else { 7.787 * t + 16.0 / 116.0 }
}

/// CIELAB of many lights: its cube roots from a table.
#[derive(Clone, Debug)]
pub struct Lab {
    roots: Vec<f32>,
}

impl Default for Lab {
    fn default() -> Lab {
        Lab { roots: (0..=STEPS).map(|i| root(i as f32 / STEPS as f32)).collect() }
    }
}

impl Lab {
    #[inline]
    fn root(&self, t: f32) -> f32 {
        let at = t * STEPS as f32;
        if at >= STEPS as f32 {
            return root(t);
        }
        let at = at.max(0.0);
        let low = at as usize;
        self.roots[low] + (self.roots[low + 1] - self.roots[low]) * (at - low as f32)
    }
    /// L*, a*, b* of a light; 1 in every channel is white.
    #[inline]
    pub fn of(&self, [r, g, b]: [f32; 3]) -> [f32; 3] {
        let [x, y, z] = [0, 1, 2].map(|k| {
            let m = TO_XYZ[k];
            self.root((m[0] * r + m[1] * g + m[2] * b) / WHITE[k])
        });
        [116.0 * y - 16.0, 500.0 * (x - y), 200.0 * (y - z)]
    }
}

/// Difference of two colours in CIELAB (CIE76).
#[inline]
pub fn apart(a: [f32; 3], b: [f32; 3]) -> f32 {
    let d = [a[0] - b[0], a[1] - b[1], a[2] - b[2]];
    (d[0] * d[0] + d[1] * d[1] + d[2] * d[2]).sqrt()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::colour::linear;

    /// Truth: CIELAB of sRGB primaries under D65, as published (Lindbloom's calculator), two decimals.
    #[test]
    fn primaries_have_their_published_places() {
        let lab = Lab::default();
        let of = |rgb: [u8; 3]| lab.of(rgb.map(linear));
        for (rgb, want) in [
            ([255, 0, 0], [53.24, 80.09, 67.20]),
            ([0, 255, 0], [87.73, -86.18, 83.18]),
            ([0, 0, 255], [32.30, 79.19, -107.86]),
            ([255, 255, 255], [100.0, 0.0, 0.0]),
            ([0, 0, 0], [0.0, 0.0, 0.0]),
        ] {
            assert!(apart(of(rgb), want) < 0.05, "{rgb:?}: {:?}", of(rgb));
        }
    }
}
