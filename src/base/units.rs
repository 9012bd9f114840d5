//! Quantities: a length is [`Mm`], an angle [`Angle`], an area [`Mm2`], a volume [`Ml`]; never a bare number.
//!
//! Imports: none.

use serde::Serialize;
use std::iter::Sum;
use std::ops::{Add, AddAssign, Div, Mul, Neg, Sub, SubAssign};

/// A decimal without the zeros after its last digit that counts, and without the point where no digit follows
/// it: `12.50` is `12.5`, `3.00` is `3`, `30` stays.
pub fn without_trailing_zeros(decimal: &str) -> &str {
    if decimal.contains('.') { decimal.trim_end_matches('0').trim_end_matches('.') } else { decimal }
}

macro_rules! quantity {
    ($(#[$doc:meta])* $name:ident, $unit:literal) => {
        $(#[$doc])*
        #[derive(Clone, Copy, Debug, Default, PartialEq, PartialOrd, Serialize)]
        #[serde(transparent)]
        pub struct $name(pub f64);

        impl $name {
            /// Zero of this quantity.
            pub const ZERO: Self = Self(0.0);
            /// The bare number, for hot loops and for writing.
            #[inline]
            pub const fn get(self) -> f64 { self.0 }
            /// Magnitude.
            #[inline]
            pub fn abs(self) -> Self { Self(self.0.abs()) }
            /// The smaller of two.
            #[inline]
            pub fn min(self, other: Self) -> Self { Self(self.0.min(other.0)) }
            /// The larger of two.
            #[inline]
            pub fn max(self, other: Self) -> Self { Self(self.0.max(other.0)) }
            /// Neither infinite nor NaN.
            #[inline]
            pub fn is_finite(self) -> bool { self.0.is_finite() }
        }
        impl Add for $name { type Output = Self; #[inline] fn add(self, o: Self) -> Self { Self(self.0 + o.0) } }
        impl Sub for $name { type Output = Self; #[inline] fn sub(self, o: Self) -> Self { Self(self.0 - o.0) } }
        impl Neg for $name { type Output = Self; #[inline] fn neg(self) -> Self { Self(-self.0) } }
        impl Mul<f64> for $name { type Output = Self; #[inline] fn mul(self, o: f64) -> Self { Self(self.0 * o) } }
        impl Div<f64> for $name { type Output = Self; #[inline] fn div(self, o: f64) -> Self { Self(self.0 / o) } }
        impl Div for $name { type Output = f64; #[inline] fn div(self, o: Self) -> f64 { self.0 / o.0 } }
        impl AddAssign for $name { #[inline] fn add_assign(&mut self, o: Self) { self.0 += o.0; } }
        impl SubAssign for $name { #[inline] fn sub_assign(&mut self, o: Self) { self.0 -= o.0; } }
        impl Sum for $name { fn sum<I: Iterator<Item = Self>>(i: I) -> Self { Self(i.map(|v| v.0).sum()) } }
        impl std::fmt::Display for $name {
            /// Two decimals unless the caller asks otherwise; the unit follows.
            fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
                let text = format!("{:.*}", f.precision().unwrap_or(2), self.0);
                let text = if f.precision().is_none() { without_trailing_zeros(&text) } else { &text };
                let text = if text == "-0" { "0" } else { text };
                write!(f, "{text} {}", $unit)
            }
        }
    };
}

quantity!(
    /// A length in millimetres.
    Mm, "mm"
);
quantity!(
    /// An area in square millimetres.
    Mm2, "mm2"
);
quantity!(
    /// A volume in millilitres (cubic centimetres).
    Ml, "ml"
);
quantity!(
    /// A mass in grams.
    Grams, "g"
);

impl Mul for Mm {
    type Output = Mm2;
    #[inline]
    fn mul(self, o: Mm) -> Mm2 {
        Mm2(self.0 * o.0)
    }
}

impl Mm {
    /// One inch, 25.4 mm exactly (CSS Values, absolute lengths; international yard agreement of 1959).
    pub const INCH: Mm = Mm(25.4);
    /// Inches to the nearest such part, a power of two, as a tape shows them: `3 11/32`.
    pub fn on_a_tape(self, parts: u64) -> String {
        let n = (self.0.abs() / Mm::INCH.0 * parts as f64).round() as u64;
        let sign = if self.0 < 0.0 && n > 0 { "-" } else { "" };
        let (whole, mut part, mut of) = (n / parts, n % parts, parts);
        while part > 0 && part % 2 == 0 {
            part /= 2;
            of /= 2;
        }
        match (whole, part) {
            (w, 0) => format!("{sign}{w}"),
            (0, p) => format!("{sign}{p}/{of}"),
            (w, p) => format!("{sign}{w} {p}/{of}"),
        }
    }
}

impl Ml {
    /// One US fluid ounce: 231 cubic inches / 128.
    pub const US_FLUID_OUNCE: Ml = Ml(29.573_529_562_5);
    /// One imperial fluid ounce: 4.54609 litres / 160.
    pub const IMPERIAL_FLUID_OUNCE: Ml = Ml(28.413_062_5);
}

/// A plane angle, kept in radians; trigonometry comes from `libm` so that it is the same on every system.
#[derive(Clone, Copy, Debug, Default, PartialEq, PartialOrd, Serialize)]
#[serde(transparent)]
pub struct Angle(f64);

impl Angle {
    /// No turn.
    pub const ZERO: Angle = Angle(0.0);
    /// A full turn.
    pub const TURN: Angle = Angle(std::f64::consts::TAU);
    /// From radians.
    #[inline]
    pub const fn radians(r: f64) -> Angle {
        Angle(r)
    }
    /// From degrees.
    #[inline]
    pub const fn degrees(d: f64) -> Angle {
        Angle(d * (std::f64::consts::PI / 180.0))
    }
    /// In radians.
    #[inline]
    pub const fn rad(self) -> f64 {
        self.0
    }
    /// In degrees.
    #[inline]
    pub fn deg(self) -> f64 {
        self.0 * (180.0 / std::f64::consts::PI)
    }
    /// Sine.
    #[inline]
    pub fn sin(self) -> f64 {
        libm::sin(self.0)
    }
    /// Cosine.
    #[inline]
    pub fn cos(self) -> f64 {
        libm::cos(self.0)
    }
    /// The same direction in (-180, 180] degrees.
    pub fn wrapped(self) -> Angle {
        let turn = std::f64::consts::TAU;
        let r = self.0 - turn * libm::floor(self.0 / turn);
        Angle(if r > std::f64::consts::PI { r - turn } else { r })
    }
    /// Magnitude.
    #[inline]
    pub fn abs(self) -> Angle {
        Angle(self.0.abs())
    }
}

impl Add for Angle {
    type Output = Angle;
    #[inline]
    fn add(self, o: Angle) -> Angle {
        Angle(self.0 + o.0)
    }
}
impl Sub for Angle {
    type Output = Angle;
    #[inline]
    fn sub(self, o: Angle) -> Angle {
        Angle(self.0 - o.0)
    }
}
impl Neg for Angle {
    type Output = Angle;
    #[inline]
    fn neg(self) -> Angle {
        Angle(-self.0)
    }
}
impl Mul<f64> for Angle {
    type Output = Angle;
    #[inline]
    fn mul(self, o: f64) -> Angle {
        Angle(self.0 * o)
    }
}
impl Div<f64> for Angle {
    type Output = Angle;
    #[inline]
    fn div(self, o: f64) -> Angle {
        Angle(self.0 / o)
    }
}

/// The seed of a job: the same seed and job give the same bytes.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize)]
#[serde(transparent)]
pub struct Seed(pub u64);

/// The unit that bare numbers of a job are in, and that tables are printed in.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum LengthUnit {
    /// Millimetres.
    #[default]
    Mm,
    /// Inches.
    In,
}

impl LengthUnit {
    /// Millimetres in one of this unit.
    pub fn in_mm(self) -> f64 {
        match self {
            LengthUnit::Mm => 1.0,
            LengthUnit::In => 25.4,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lengths_print_short_and_with_their_unit() {
        assert_eq!(Mm(12.5).to_string(), "12.5 mm");
        assert_eq!(Mm(-0.001).to_string(), "0 mm");
        assert_eq!(format!("{:.3}", Mm(1.0)), "1.000 mm");
    }

    #[test]
    fn only_zeros_behind_the_point_fall_away() {
        for (given, want) in [("12.50", "12.5"), ("3.00", "3"), ("30", "30"), ("0.0", "0"), ("100.", "100")] {
            assert_eq!(without_trailing_zeros(given), want);
        }
    }

    #[test]
    fn wrapped_angles_lie_in_half_open_turn() {
        for (given, want) in [(190.0, -170.0), (-180.0, 180.0), (540.0, 180.0), (-10.0, -10.0), (360.0, 0.0)]
        {
            approx::assert_abs_diff_eq!(Angle::degrees(given).wrapped().deg(), want, epsilon = 1e-12);
        }
    }

    /// Source: US gallon of 231 cubic inches / 128; imperial gallon 4.54609 l / 160 (UK Weights and Measures
    /// Act).
    #[test]
    fn fluid_ounces_follow_their_gallons() {
        approx::assert_relative_eq!(Ml::US_FLUID_OUNCE.0, 231.0 * 2.54f64.powi(3) / 128.0, epsilon = 1e-12);
        approx::assert_relative_eq!(Ml::IMPERIAL_FLUID_OUNCE.0, 4546.09 / 160.0, epsilon = 1e-12);
    }
}
