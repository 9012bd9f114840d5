//! Numbers with a fixed count of decimals, and the millimetre, inch and degree texts of tables.
//!
//! Imports: base.

use crate::base::tolerance::DECIMALS;
use crate::base::units::{Angle, Mm};

/// Ten to the power of [`DECIMALS`].
const UNIT: f64 = 1000.0;
const _: () = assert!(DECIMALS == 3);

/// The nearest whole number, halves away from zero: the standard library's `round` without its call, for a
/// number that a million times a kit is written with.
#[inline]
pub fn whole(v: f64) -> i64 {
    let n = v as i64;
    let rest = v - n as f64;
    n + i64::from(rest >= 0.5) - i64::from(rest <= -0.5)
}

/// Appends a number of millimetres with exactly [`DECIMALS`] decimals; never `-0.000`.
pub fn push_mm(out: &mut String, v: f64) {
    let n = whole(v * UNIT);
    if n < 0 {
        out.push('-');
    }
    let (n, mut digits) = (n.unsigned_abs(), [0u8; 24]);
    let (mut rest, mut at) = (n, digits.len());
    for place in 0.. {
        if place == DECIMALS {
            at -= 1;
            digits[at] = b'.';
        }
        if place > DECIMALS && rest == 0 {
            break;
        }
        at -= 1;
        digits[at] = b'0' + (rest % 10) as u8;
        rest /= 10;
    }
    out.extend(digits[at..].iter().map(|&b| char::from(b)));
}

/// A number of millimetres with exactly [`DECIMALS`] decimals.
pub fn mm(v: f64) -> String {
    let mut s = String::new();
    push_mm(&mut s, v);
    s
}

/// Rounded to `places` decimals, for a manifest whose bytes do not hang on the last bits; never minus zero.
pub fn rounded(v: f64, places: i32) -> f64 {
    let unit = 10f64.powi(places);
    (v * unit).round() / unit + 0.0
}

/// Millimetres for a table: one decimal.
pub fn table_mm(v: Mm) -> String {
    format!("{:.1}", rounded(v.0, 1))
}

/// Inches to the nearest sixteenth, as a rule shows them: `3 5/16`.
pub fn table_inch(v: Mm) -> String {
    table_inch_in(v, 16)
}

/// Inches to the nearest such part, a power of two: `3 11/32`.
pub fn table_inch_in(v: Mm, parts: u64) -> String {
    v.on_a_tape(parts)
}

/// The coarsest parts of an inch, from sixteenths to sixty-fourths, at which two places rounded towards each other
/// come nearer by no more than half of this distance.
pub fn inch_parts(apart: Mm) -> u64 {
    [16, 32].into_iter().find(|n| Mm::INCH / *n as f64 <= apart * 0.5).unwrap_or(64)
}

/// Whole degrees, counter-clockwise positive; never `-0`.
pub fn table_degrees(a: Angle) -> String {
    format!("{:.0}", rounded(a.wrapped().deg(), 0))
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        /// The standard library's formatter is the reference.
        #[test]
        fn fixed_decimals_equal_the_standard_formatter(n in -99_999_999i64..99_999_999) {
            let v = n as f64 / 1000.0;
            let want = format!("{v:.3}");
            prop_assert_eq!(mm(v), if want == "-0.000" { "0.000".to_owned() } else { want });
        }
        /// The standard library's rounding is the reference.
        #[test]
        fn whole_numbers_are_those_of_the_library(v in -1e9..1e9f64, n in -100_000i32..100_000) {
            for v in [v, f64::from(n) + 0.5, f64::from(n), (f64::from(n) + 0.5).next_down(), (f64::from(n) + 0.5).next_up(), v * 1e-8] {
                prop_assert_eq!(whole(v), v.round() as i64, "{}", v);
            }
        }
        #[test]
        fn what_is_written_is_off_by_half_a_thousandth_at_most(v in -1e5..1e5f64) {
            prop_assert!((mm(v).parse::<f64>().unwrap() - v).abs() <= 0.0005 + 1e-11 * v.abs());
        }
    }

    #[test]
    fn inches_are_in_lowest_sixteenths() {
        let cases =
            [(0.0, "0"), (25.4, "1"), (12.7, "1/2"), (84.1375, "3 5/16"), (-9.525, "-3/8"), (0.5, "0")];
        for (v, want) in cases {
            assert_eq!(table_inch(Mm(v)), want);
        }
    }

    /// Two places, each rounded by half a part towards the other, keep half of their gap.
    #[test]
    fn parts_of_an_inch_are_fine_enough_for_the_gap() {
        for (gap, want) in [(5.0, 16), (3.175, 16), (3.1, 32), (1.6, 32), (1.2, 64), (0.5, 64)] {
            assert_eq!(inch_parts(Mm(gap)), want, "{gap}");
        }
        assert_eq!(table_inch_in(Mm(25.4 * (3.0 + 11.0 / 32.0)), 32), "3 11/32");
        assert_eq!(table_inch_in(Mm(25.4 * (3.0 + 22.0 / 64.0)), 64), "3 11/32");
        assert_eq!(table_inch_in(Mm(-25.4 / 64.0), 64), "-1/64");
    }
}
