//! Small linear algebra: inverses of positive definite matrices, least squares.
//!
//! ```
//! use frusta::base::linear::{least_squares, line};
//! let points = [(0.0, 1.0), (1.0, 3.0), (2.0, 5.0)];
//! assert_eq!(line(points), (1.0, 2.0));
//! let [a, b] = least_squares(points.map(|(x, y)| ([1.0, x], y))).unwrap();
//! assert!((a - 1.0).abs() < 1e-12 && (b - 2.0).abs() < 1e-12);
//! ```
//!
//! Imports: none.

/// Inverse of a positive definite matrix, by elimination, and the logarithm of its determinant, which is no number or
/// infinite if there is none.
pub fn inverted(mut a: Vec<Vec<f64>>) -> (Vec<Vec<f64>>, f64) {
    let n = a.len();
    let mut size = 0.0;
    let one = |i: usize| (0..n).map(|j| f64::from(u8::from(i == j))).collect::<Vec<f64>>();
    let mut out: Vec<Vec<f64>> = (0..n).map(one).collect();
    for k in 0..n {
        let by = a[k][k];
        size += libm::log(by);
        for row in [&mut a[k], &mut out[k]] {
            row.iter_mut().for_each(|v| *v /= by);
        }
        let (pivot, own) = (a[k].clone(), out[k].clone());
        for i in (0..n).filter(|i| *i != k) {
            let by = a[i][k];
            a[i].iter_mut().zip(&pivot).for_each(|(v, p)| *v -= by * p);
            out[i].iter_mut().zip(&own).for_each(|(v, p)| *v -= by * p);
        }
    }
    (out, size)
}

/// The numbers x for which the sum of (row x - value)^2 is least; none if the rows do not tell them.
pub fn least_squares<const N: usize>(
    equations: impl IntoIterator<Item = ([f64; N], f64)>,
) -> Option<[f64; N]> {
    let (mut normal, mut right) = ([[0.0; N]; N], [0.0; N]);
    for (row, value) in equations {
        for ((line, r), a) in normal.iter_mut().zip(&mut right).zip(row) {
            line.iter_mut().zip(row).for_each(|(n, b)| *n += a * b);
            *r += a * value;
        }
    }
    // Elimination, then from the last number back; a pivot that is rounding beside what it was tells nothing.
    let whole: [f64; N] = std::array::from_fn(|k| normal[k][k]);
    for k in 0..N {
        if normal[k][k] <= f64::EPSILON * N as f64 * whole[k] {
            return None;
        }
        let (pivot, own) = (normal[k], right[k]);
        for i in k + 1..N {
            let by = normal[i][k] / pivot[k];
            normal[i].iter_mut().zip(pivot).for_each(|(v, p)| *v -= by * p);
            right[i] -= by * own;
        }
    }
    let mut x = [0.0; N];
    for k in (0..N).rev() {
        let rest: f64 = (k + 1..N).map(|j| normal[k][j] * x[j]).sum();
        x[k] = (right[k] - rest) / normal[k][k];
    }
    Some(x)
}

/// The line through points by least squares: its value at 0 and its slope, 0 where all lie at one place.
pub fn line(points: impl IntoIterator<Item = (f64, f64), IntoIter: Clone>) -> (f64, f64) {
    let points = points.into_iter();
    let n = points.clone().count() as f64;
    let (mx, my) = points.clone().fold((0.0, 0.0), |(a, b), (x, y)| (a + x / n, b + y / n));
    let about =
        |(xx, xy): (f64, f64), (x, y): (f64, f64)| (xx + (x - mx) * (x - mx), xy + (x - mx) * (y - my));
    let (xx, xy) = points.fold((0.0, 0.0), about);
    let slope = if xx > 0.0 { xy / xx } else { 0.0 };
    (my - slope * mx, slope)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        /// Truth: the numbers that made the values; and an inverse times its matrix is one.
        #[test]
        fn what_was_made_is_found(
            rows in prop::collection::vec(prop::array::uniform4(-3.0..3.0f64), 8..20),
            x in prop::array::uniform4(-5.0..5.0f64),
        ) {
            let dot = |r: &[f64; 4]| r.iter().zip(x).map(|(a, b)| a * b).sum::<f64>();
            let found = least_squares(rows.iter().map(|r| (*r, dot(r)))).expect("told");
            prop_assert!(found.iter().zip(x).all(|(a, b)| (a - b).abs() < 1e-6), "{found:?} {x:?}");
            let normal: Vec<Vec<f64>> = (0..4)
                .map(|i| (0..4).map(|j| rows.iter().map(|r| r[i] * r[j]).sum()).collect())
                .collect();
            let (inverse, size) = inverted(normal.clone());
            prop_assert!(size.is_finite());
            for (i, row) in normal.iter().enumerate() {
                for j in 0..4 {
                    let one: f64 = row.iter().zip(&inverse).map(|(a, column)| a * column[j]).sum();
                    prop_assert!((one - f64::from(u8::from(i == j))).abs() < 1e-6);
                }
            }
        }
    }

    #[test]
    fn what_is_not_told_is_none() {
        assert_eq!(least_squares([([1.0, 2.0], 1.0), ([2.0, 4.0], 2.0)]), None);
        assert!(!inverted(vec![vec![0.0]]).1.is_finite());
        assert_eq!(line([(2.0, 5.0), (2.0, 7.0)]), (6.0, 0.0));
    }
}
