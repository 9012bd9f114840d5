//! Photographs straightened: from pixels to a plane of true size, by a projection and one radial term of the lens.
//!
//! Imports: none.

/// A projection of a plane: eight numbers, the ninth is 1.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Projection(pub [f64; 8]);

impl Projection {
    /// Where a point goes.
    #[inline]
    pub fn apply(&self, [x, y]: [f64; 2]) -> [f64; 2] {
        let h = &self.0;
        let w = h[6] * x + h[7] * y + 1.0;
        [(h[0] * x + h[1] * y + h[2]) / w, (h[3] * x + h[4] * y + h[5]) / w]
    }
}

/// The projection that takes four points to four.
pub fn projection(from: &[[f64; 2]; 4], to: &[[f64; 2]; 4]) -> Option<Projection> {
    let mut m = [[0.0; 9]; 8];
    for (i, (p, q)) in from.iter().zip(to).enumerate() {
        m[2 * i] = [p[0], p[1], 1.0, 0.0, 0.0, 0.0, -q[0] * p[0], -q[0] * p[1], q[0]];
        m[2 * i + 1] = [0.0, 0.0, 0.0, p[0], p[1], 1.0, -q[1] * p[0], -q[1] * p[1], q[1]];
    }
    solved(m).map(Projection)
}

/// Solves N equations by elimination with pivots; `None` if they are not independent.
fn solved<const N: usize, const M: usize>(mut m: [[f64; M]; N]) -> Option<[f64; N]> {
    for k in 0..N {
        let best = (k..N).max_by(|&a, &b| m[a][k].abs().total_cmp(&m[b][k].abs()))?;
        m.swap(k, best);
        if m[k][k].abs() < f64::MIN_POSITIVE.sqrt() {
            return None;
        }
        for i in 0..N {
            if i != k {
                let f = m[i][k] / m[k][k];
                (k..M).for_each(|j| m[i][j] -= f * m[k][j]);
            }
        }
    }
    Some(std::array::from_fn(|i| m[i][M - 1] / m[i][i]))
}
