//! Colours as eyes see them: lights, their contrast, CIELAB, how far two are apart, and eyes that lack a cone.
//!
//! A light is red, green and blue of sRGB, linear, 0 to 1 (IEC 61966-2-1); its codes are 8 bits a channel.
//!
//! Imports: none.

/// Red, green and blue, linear, 0 to 1.
pub type Light = [f64; 3];
/// L*, a*, b*.
pub type Lab = [f64; 3];

/// Light of an sRGB code, 0 to 1 (IEC 61966-2-1).
pub fn linear(code: u8) -> f32 {
    decoded(f32::from(code) / 255.0)
}

/// Light of a code between codes, as a part of the largest, 0 to 1.
pub fn decoded(c: f32) -> f32 {
    if c <= 0.04045 { c / 12.92 } else { libm::powf((c + 0.055) / 1.055, 2.4) }
}

/// The sRGB code of a light, clamped to 0 to 1.
pub fn encoded(light: f32) -> u8 {
    let v = light.clamp(0.0, 1.0);
    let c = if v <= 0.003_130_8 { v * 12.92 } else { 1.055 * libm::powf(v, 1.0 / 2.4) - 0.055 };
    (c * 255.0 + 0.5) as u8
}

/// Lights of all codes.
pub fn lights() -> [f32; 256] {
    std::array::from_fn(|i| linear(i as u8))
}

/// The light of a colour.
pub fn light(code: [u8; 3]) -> Light {
    code.map(|c| f64::from(linear(c)))
}

/// Parts of a light that the eye takes for its brightness (WCAG 2.2, Rec. ITU-R BT.709).
pub const LUMINANCE: [f64; 3] = [0.2126, 0.7152, 0.0722];
/// X, Y, Z of the lights of sRGB, a row each (IEC 61966-2-1).
pub const TO_XYZ: [[f64; 3]; 3] = [
    [0.412_456_4, 0.357_576_1, 0.180_437_5],
    [0.212_672_9, 0.715_152_2, 0.072_175],
    [0.019_333_9, 0.119_192, 0.950_304_1],
];
/// X, Y, Z of white (D65).
pub const WHITE: [f64; 3] = [0.950_47, 1.0, 1.088_83];

fn sum(row: [f64; 3], l: Light) -> f64 {
    row[0] * l[0] + row[1] * l[1] + row[2] * l[2]
}

/// Relative luminance: `0.2126 R + 0.7152 G + 0.0722 B` (WCAG 2.2, Rec. ITU-R BT.709).
pub fn luminance(l: Light) -> f64 {
    sum(LUMINANCE, l)
}

/// Contrast of two lights, from 1 to 21: `(Y1 + 0.05) / (Y2 + 0.05)`, the lighter first (WCAG 2.2).
pub fn contrast(a: Light, b: Light) -> f64 {
    let (a, b) = (luminance(a) + 0.05, luminance(b) + 0.05);
    a.max(b) / a.min(b)
}

/// CIELAB under D65 (CIE 15; the matrix of sRGB).
pub fn lab(l: Light) -> Lab {
    let root = |t: f64| {
        if t > 216.0 / 24_389.0 { libm::cbrt(t) } else { (24_389.0 / 27.0 * t + 16.0) / 116.0 }
    };
    let [x, y, z] = [0, 1, 2].map(|k| root(sum(TO_XYZ[k], l) / WHITE[k]));
    [116.0 * y - 16.0, 500.0 * (x - y), 200.0 * (y - z)]
}

/// The luminance of a lightness L*.
pub fn luminance_of(lightness: f64) -> f64 {
    let t = (lightness + 16.0) / 116.0;
    if lightness > 8.0 { t * t * t } else { lightness * 27.0 / 24_389.0 }
}

/// The lightness L* of a luminance.
pub fn lightness(luminance: f64) -> f64 {
    lab([luminance; 3])[0]
}

/// CIEDE2000 of two places in CIELAB, all weights 1 (Sharma, Wu, Dalal: The CIEDE2000 color-difference formula,
/// 2005).
pub fn difference(a: Lab, b: Lab) -> f64 {
    let c7 = |c: f64| {
        let c7 = libm::pow(c, 7.0);
        (c7 / (c7 + 6_103_515_625.0)).sqrt()
    };
    let mean = 0.5 * (libm::hypot(a[1], a[2]) + libm::hypot(b[1], b[2]));
    let g = 0.5 * (1.0 - c7(mean));
    let polar = |p: Lab| {
        let red = (1.0 + g) * p[1];
        let hue = if red == 0.0 && p[2] == 0.0 { 0.0 } else { libm::atan2(p[2], red).to_degrees() };
        (libm::hypot(red, p[2]), if hue < 0.0 { hue + 360.0 } else { hue })
    };
    let ((c1, h1), (c2, h2)) = (polar(a), polar(b));
    let grey = c1 * c2 == 0.0;
    let turn = match h2 - h1 {
        _ if grey => 0.0,
        d if d > 180.0 => d - 360.0,
        d if d < -180.0 => d + 360.0,
        d => d,
    };
    let (dl, dc) = (b[0] - a[0], c2 - c1);
    let dh = 2.0 * (c1 * c2).sqrt() * libm::sin((turn / 2.0).to_radians());
    let (l, c) = (0.5 * (a[0] + b[0]), 0.5 * (c1 + c2));
    let h = match h1 + h2 {
        sum if grey => sum,
        sum if (h1 - h2).abs() <= 180.0 => sum / 2.0,
        sum if sum < 360.0 => (sum + 360.0) / 2.0,
        sum => (sum - 360.0) / 2.0,
    };
    let cos = |deg: f64| libm::cos(deg.to_radians());
    let t = 1.0 - 0.17 * cos(h - 30.0) + 0.24 * cos(2.0 * h) + 0.32 * cos(3.0 * h + 6.0)
        - 0.20 * cos(4.0 * h - 63.0);
    let bend = 30.0 * libm::exp(-libm::pow((h - 275.0) / 25.0, 2.0));
    let off = (l - 50.0) * (l - 50.0);
    let (sl, sc, sh) = (1.0 + 0.015 * off / (20.0 + off).sqrt(), 1.0 + 0.045 * c, 1.0 + 0.015 * c * t);
    let rt = -libm::sin((2.0 * bend).to_radians()) * 2.0 * c7(c);
    let (x, y, z) = (dl / sl, dc / sc, dh / sh);
    (x * x + y * y + z * z + rt * y * z).sqrt()
}

/// How an eye sees.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Sight {
    /// With all three cones.
    Usual,
    /// Without the cone for long waves.
    Protan,
    /// Without the cone for middle waves.
    Deutan,
    /// Without the cone for short waves: an extrapolation of its source, a hint only.
    Tritan,
}

impl Sight {
    /// All of them.
    pub const ALL: [Sight; 4] = [Sight::Usual, Sight::Protan, Sight::Deutan, Sight::Tritan];

    /// A light as it is seen, at full severity (Machado, Oliveira, Fernandes: A physiologically-based model for
    /// simulation of color vision deficiency, 2009; the tritan matrix from memory).
    pub fn sees(self, l: Light) -> Light {
        let rows: [[f64; 3]; 3] = match self {
            Sight::Usual => return l,
            Sight::Protan => [
                [0.152_286, 1.052_583, -0.204_868],
                [0.114_503, 0.786_281, 0.099_216],
                [-0.003_882, -0.048_116, 1.051_998],
            ],
            Sight::Deutan => [
                [0.367_322, 0.860_646, -0.227_968],
                [0.280_085, 0.672_501, 0.047_413],
                [-0.011_820, 0.042_940, 0.968_881],
            ],
            Sight::Tritan => [
                [1.255_528, -0.076_749, -0.178_779],
                [-0.078_411, 0.930_809, 0.147_602],
                [0.004_733, 0.691_367, 0.303_900],
            ],
        };
        rows.map(|r| sum(r, l).clamp(0.0, 1.0))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn hex(s: &str) -> Light {
        let byte = |i: usize| u8::from_str_radix(&s[i..i + 2], 16).expect("two digits");
        light([byte(0), byte(2), byte(4)])
    }

    /// Published: black on white is 21 : 1, #767676 on white 4.54 : 1 (WCAG 2.x's own examples).
    #[test]
    fn contrasts_as_published() {
        let of = |a: &str, b: &str| contrast(hex(a), hex(b));
        for (a, b, want) in [
            ("000000", "ffffff", 21.0),
            ("767676", "ffffff", 4.54),
            ("c48309", "b08a5b", 1.01),
            ("c48309", "267b69", 1.60),
            ("4a2255", "4a2255", 1.0),
        ] {
            approx::assert_abs_diff_eq!(of(a, b), want, epsilon = 0.005);
            assert_eq!(of(a, b), of(b, a));
        }
    }

    /// The 34 pairs published with the formula (Sharma, Wu, Dalal 2005, table 1; typed from memory, and all agree).
    #[test]
    fn differences_as_published() {
        let blue = [50.0, 0.0, -82.7485];
        let red = [50.0, 2.5, 0.0];
        let pairs: [(Lab, Lab, f64); 34] = [
            ([50.0, 2.6772, -79.7751], blue, 2.0425),
            ([50.0, 3.1571, -77.2803], blue, 2.8615),
            ([50.0, 2.8361, -74.0200], blue, 3.4412),
            ([50.0, -1.3802, -84.2814], blue, 1.0),
            ([50.0, -1.1848, -84.8006], blue, 1.0),
            ([50.0, -0.9009, -85.5211], blue, 1.0),
            ([50.0, 0.0, 0.0], [50.0, -1.0, 2.0], 2.3669),
            ([50.0, -1.0, 2.0], [50.0, 0.0, 0.0], 2.3669),
            ([50.0, 2.49, -0.001], [50.0, -2.49, 0.0009], 7.1792),
            ([50.0, 2.49, -0.001], [50.0, -2.49, 0.0010], 7.1792),
            ([50.0, 2.49, -0.001], [50.0, -2.49, 0.0011], 7.2195),
            ([50.0, 2.49, -0.001], [50.0, -2.49, 0.0012], 7.2195),
            ([50.0, -0.001, 2.49], [50.0, 0.0009, -2.49], 4.8045),
            ([50.0, -0.001, 2.49], [50.0, 0.0010, -2.49], 4.8045),
            ([50.0, -0.001, 2.49], [50.0, 0.0011, -2.49], 4.7461),
            (red, [50.0, 0.0, -2.5], 4.3065),
            (red, [73.0, 25.0, -18.0], 27.1492),
            (red, [61.0, -5.0, 29.0], 22.8977),
            (red, [56.0, -27.0, -3.0], 31.9030),
            (red, [58.0, 24.0, 15.0], 19.4535),
            (red, [50.0, 3.1736, 0.5854], 1.0),
            (red, [50.0, 3.2972, 0.0], 1.0),
            (red, [50.0, 1.8634, 0.5757], 1.0),
            (red, [50.0, 3.2592, 0.3350], 1.0),
            ([60.2574, -34.0099, 36.2677], [60.4626, -34.1751, 39.4387], 1.2644),
            ([63.0109, -31.0961, -5.8663], [62.8187, -29.7946, -4.0864], 1.2630),
            ([61.2901, 3.7196, -5.3901], [61.4292, 2.2480, -4.9620], 1.8731),
            ([35.0831, -44.1164, 3.7933], [35.0232, -40.0716, 1.5901], 1.8645),
            ([22.7233, 20.0904, -46.6940], [23.0331, 14.9730, -42.5619], 2.0373),
            ([36.4612, 47.8580, 18.3852], [36.2715, 50.5065, 21.2231], 1.4146),
            ([90.8027, -2.0831, 1.4410], [91.1528, -1.6435, 0.0447], 1.4441),
            ([90.9257, -0.5406, -0.9208], [88.6381, -0.8985, -0.7239], 1.5381),
            ([6.7747, -0.2908, -2.4247], [5.8714, -0.0985, -2.2286], 0.6377),
            ([2.0776, 0.0795, -1.1350], [0.9033, -0.0636, -0.5514], 0.9082),
        ];
        for (a, b, want) in pairs {
            approx::assert_abs_diff_eq!(difference(a, b), want, epsilon = 1e-4);
            approx::assert_abs_diff_eq!(difference(b, a), want, epsilon = 1e-4);
        }
    }

    /// Greys are greys to every eye; lightness and luminance undo each other.
    #[test]
    fn greys_stay_grey() {
        for v in [0.0, 0.003, 0.2, 0.5, 1.0] {
            for sight in Sight::ALL {
                let seen = sight.sees([v; 3]);
                assert!(seen.iter().all(|s| (s - v).abs() < 1.0 / 255.0), "{sight:?} {seen:?}");
            }
            approx::assert_abs_diff_eq!(luminance_of(lightness(v)), v, epsilon = 1e-4);
        }
    }
}
