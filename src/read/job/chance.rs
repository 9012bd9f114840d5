//! How far chance alone goes: the chi-square distribution's upper tail and its points.
//!
//! Source: closed forms of the incomplete gamma function at whole and half numbers (Abramowitz and Stegun
//! 26.4.4 and 26.4.5, from memory), held to the handbook's table in the tests.
//!
//! Imports: none.

/// Level of the tests of the readings: one true cup in a hundred is suspected.
pub const LEVEL: f64 = 0.01;

/// Chance that the squares of `degrees` independent standard normal numbers sum up to more than `x`.
pub fn chi_square_beyond(x: f64, degrees: usize) -> f64 {
    let half = x / 2.0;
    let odd = degrees % 2 == 1;
    // The term of order i is half^i / Gamma(i + 1), i whole or, for odd degrees, a half more than whole.
    let mut i = if odd { 0.5 } else { 0.0 };
    let root_pi = libm::sqrt(std::f64::consts::PI);
    let mut term = if odd { libm::sqrt(half) / (root_pi / 2.0) } else { 1.0 };
    let mut sum = 0.0;
    while i < degrees as f64 / 2.0 - 0.25 {
        sum += term;
        i += 1.0;
        term *= half / i;
    }
    let head = if odd { libm::erfc(libm::sqrt(half)) } else { 0.0 };
    (head + libm::exp(-half) * sum).min(1.0)
}

/// The point that chi-square of `degrees` passes with this chance.
pub fn chi_square_point(chance: f64, degrees: usize) -> f64 {
    let (mut low, mut high) = (0.0, degrees as f64 + 50.0);
    while chi_square_beyond(high, degrees) > chance {
        high *= 2.0;
    }
    // Halved until the two are neighbours or nearly so: 80 steps are past the last bit of any span.
    for _ in 0..80 {
        let middle = f64::midpoint(low, high);
        if chi_square_beyond(middle, degrees) > chance { low = middle } else { high = middle }
    }
    high
}

/// The size that a standard normal number passes, either way, with this chance.
pub fn normal_point(chance: f64) -> f64 {
    libm::sqrt(chi_square_point(chance, 1))
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_abs_diff_eq;

    /// NIST/SEMATECH e-Handbook of Statistical Methods, table 1.3.6.7.4, upper 1 percent (values from
    /// memory).
    #[test]
    fn points_are_those_of_the_handbook() {
        let table = [6.635, 9.210, 11.345, 13.277, 15.086, 16.812, 18.475, 20.090, 21.666, 23.209];
        for (i, want) in table.iter().enumerate() {
            assert_abs_diff_eq!(chi_square_point(0.01, i + 1), *want, epsilon = 6e-4);
        }
        assert_abs_diff_eq!(chi_square_point(0.01, 100), 135.807, epsilon = 1e-3);
        assert_abs_diff_eq!(normal_point(0.05), 1.959_964, epsilon = 1e-6);
        assert_abs_diff_eq!(normal_point(0.01), 2.575_829, epsilon = 1e-6);
    }
}
