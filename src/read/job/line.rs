//! [`GirthLine`]: the line through the readings, girth against height, by weighted least squares.
//!
//! Girth is linear in slant height on a cone: `C(s) = a + b s`. A reading of `k` repeats strays by `tape /
//! sqrt k`; its height strays by `marks`, which on a wall of slope `b` is `b marks` of girth. With weights `w
//! = v / (tape^2/k + (b marks)^2)`, `v` the least of those variances, `W` their sum, `m` the weighted mean
//! height and `S` the weighted sum of squares about it, `cov C(s), C(t) = v (1/W + (s - m)(t - m)/S)`.
//! Source: weighted least squares, any textbook of statistics. Readings of equal worth have weights of
//! exactly 1: ordinary least squares, bit for bit.
//!
//! Imports: base, read::job::{model, chain}.

use super::chain::Girths;
use super::model::Ring;
use crate::base::units::Mm;

/// The line through girths read at two heights or more, and what its values are worth.
#[derive(Clone, Debug, PartialEq)]
pub struct GirthLine {
    a: f64,
    b: f64,
    mean: f64,
    spread: f64,
    total: f64,
    least: f64,
    variances: Vec<f64>,
}

impl GirthLine {
    /// Through rings of different heights, two or more; `tape` strays one reading, `marks` the height of a
    /// ring.
    pub fn through(rings: &[Ring], tape: Mm, marks: Mm) -> GirthLine {
        let equal = vec![1.0; rings.len()];
        let slope = GirthLine::weighted(rings, &equal).b;
        let of_height = slope * marks.0;
        let variances: Vec<f64> =
            rings.iter().map(|r| tape.0 * tape.0 / f64::from(r.reads) + of_height * of_height).collect();
        let least = variances.iter().copied().fold(f64::INFINITY, f64::min);
        let weights: Vec<f64> = variances.iter().map(|v| least / v).collect();
        GirthLine { least, variances, ..GirthLine::weighted(rings, &weights) }
    }
    fn weighted(rings: &[Ring], weights: &[f64]) -> GirthLine {
        let points = || rings.iter().zip(weights).map(|(r, w)| (r.slant.0, r.girth.0, *w));
        let total = points().map(|p| p.2).sum::<f64>();
        let mean = points().map(|p| p.2 * p.0).sum::<f64>() / total;
        let mean_y = points().map(|p| p.2 * p.1).sum::<f64>() / total;
        let spread = points().map(|p| p.2 * ((p.0 - mean) * (p.0 - mean))).sum::<f64>();
        let b = points().map(|p| p.2 * ((p.0 - mean) * (p.1 - mean_y))).sum::<f64>() / spread;
        GirthLine { a: mean_y - b * mean, b, mean, spread, total, least: 0.0, variances: Vec::new() }
    }
    /// Girth that the wall gains per height.
    pub fn slope(&self) -> f64 {
        self.b
    }
    /// Standard uncertainty of the slope.
    pub fn slope_sd(&self) -> f64 {
        (self.least / self.spread).sqrt()
    }
}

impl Girths for GirthLine {
    fn at(&self, slant: Mm) -> Mm {
        Mm(self.a + self.b * slant.0)
    }
    fn covariance(&self, s: Mm, t: Mm) -> f64 {
        self.least * (1.0 / self.total + (s.0 - self.mean) * (t.0 - self.mean) / self.spread)
    }
    fn variances(&self) -> &[f64] {
        &self.variances
    }
    fn settled(&self) -> usize {
        2
    }
}
