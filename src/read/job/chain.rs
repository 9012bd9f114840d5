//! [`GirthChain`]: lines through the readings of a wall with edges, one a zone, joined at the edges.
//!
//! The girths at base, edges and rim are the unknowns; a reading at a height is (1 - t) times the girth at the
//! knot below and t times that above, t its part of the way; outside of the outer knots' readings the same
//! holds with t below 0 or above 1. With A the rows of those parts and W the inverse variances of the
//! readings, the girths are (A'WA)^-1 A'W y and their covariance (A'WA)^-1. A reading strays by `tape / sqrt
//! k` and by `marks` times the slope of its line, the steeper one at an edge. Source: weighted least squares
//! with linear splines of known knots, any textbook of statistics.
//!
//! Imports: base, read::job::model.

use super::model::Ring;
use crate::base::linear::inverted;
use crate::base::units::Mm;

/// What a curve through readings tells of girths.
pub trait Girths {
    /// Girth at a height.
    fn at(&self, slant: Mm) -> Mm;
    /// What the errors of the girths at two heights have in common, mm^2.
    fn covariance(&self, s: Mm, t: Mm) -> f64;
    /// Variance of each reading, mm^2, in the order of the rings.
    fn variances(&self) -> &[f64];
    /// How many numbers the readings had to settle.
    fn settled(&self) -> usize;
    /// Standard uncertainty of the girth at a height.
    fn sd(&self, slant: Mm) -> Mm {
        Mm(self.covariance(slant, slant).sqrt())
    }
    /// Standard uncertainty of the best of the readings.
    fn reading_sd(&self) -> Mm {
        Mm(self.variances().iter().copied().fold(f64::INFINITY, f64::min).sqrt())
    }
}

/// Lines joined at knots.
#[derive(Clone, Debug, PartialEq)]
pub struct GirthChain {
    /// Base edge, edges, rim.
    knots: Vec<f64>,
    girths: Vec<f64>,
    /// Of the girths, row by row.
    covariance: Vec<Vec<f64>>,
    variances: Vec<f64>,
}

/// Between two heights of the wall.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Stretch {
    /// The lower height.
    pub low: Mm,
    /// The upper height.
    pub high: Mm,
    /// Girth at the lower.
    pub lower: Mm,
    /// Girth at the upper.
    pub upper: Mm,
}

impl Stretch {
    /// Girth gained a millimetre up.
    pub fn slope(&self) -> f64 {
        (self.upper - self.lower) / (self.high - self.low)
    }
}

impl GirthChain {
    /// Through rings of which some are edges, strictly between base and rim; every stretch between two
    /// knots has a reading besides those at its edges, or an edge at both ends.
    pub fn through(rings: &[Ring], wall: Mm, tape: Mm, marks: Mm) -> GirthChain {
        let edges = rings.iter().filter(|r| r.edge).map(|r| r.slant.0);
        let knots: Vec<f64> = std::iter::once(0.0).chain(edges).chain([wall.0]).collect();
        let plain = |r: &Ring| tape.0 * tape.0 / f64::from(r.reads);
        let first = GirthChain::weighted(knots.clone(), rings, rings.iter().map(plain).collect());
        let slopes: Vec<f64> = first.stretches().map(|s| s.slope().abs()).collect();
        let of_height = |r: &Ring| {
            let (below, _) = first.place(r.slant);
            let at_edge = r.edge && below > 0;
            let slope = if at_edge { slopes[below].max(slopes[below - 1]) } else { slopes[below] };
            slope * marks.0
        };
        let variances = rings.iter().map(|r| plain(r) + of_height(r) * of_height(r)).collect();
        GirthChain::weighted(knots, rings, variances)
    }
    fn weighted(knots: Vec<f64>, rings: &[Ring], variances: Vec<f64>) -> GirthChain {
        let n = knots.len();
        let mut chain = GirthChain { girths: vec![0.0; n], covariance: Vec::new(), knots, variances };
        let (mut normal, mut right) = (vec![vec![0.0; n]; n], vec![0.0; n]);
        for (r, v) in rings.iter().zip(&chain.variances) {
            let parts = chain.parts(r.slant);
            for (i, p) in parts {
                right[i] += p * r.girth.0 / v;
                for (j, q) in parts {
                    normal[i][j] += p * q / v;
                }
            }
        }
        chain.covariance = inverse(normal);
        let girth = |row: &Vec<f64>| row.iter().zip(&right).map(|(a, b)| a * b).sum();
        chain.girths = chain.covariance.iter().map(girth).collect();
        chain
    }
    /// The knot below a height, and the part of the way to the next.
    fn place(&self, slant: Mm) -> (usize, f64) {
        let last = self.knots.len() - 2;
        let below = self.knots.iter().rposition(|k| *k <= slant.0).unwrap_or(0).min(last);
        let (low, high) = (self.knots[below], self.knots[below + 1]);
        (below, (slant.0 - low) / (high - low))
    }
    fn parts(&self, slant: Mm) -> [(usize, f64); 2] {
        let (below, t) = self.place(slant);
        [(below, 1.0 - t), (below + 1, t)]
    }
    /// The zones' lines, lowest first.
    pub fn stretches(&self) -> impl Iterator<Item = Stretch> + '_ {
        (1..self.knots.len()).map(|i| Stretch {
            low: Mm(self.knots[i - 1]),
            high: Mm(self.knots[i]),
            lower: Mm(self.girths[i - 1]),
            upper: Mm(self.girths[i]),
        })
    }
}

impl Girths for GirthChain {
    fn at(&self, slant: Mm) -> Mm {
        Mm(self.parts(slant).iter().map(|(i, p)| p * self.girths[*i]).sum())
    }
    fn covariance(&self, s: Mm, t: Mm) -> f64 {
        let (a, b) = (self.parts(s), self.parts(t));
        a.iter().flat_map(|(i, p)| b.iter().map(move |(j, q)| p * q * self.covariance[*i][*j])).sum()
    }
    fn variances(&self) -> &[f64] {
        &self.variances
    }
    fn settled(&self) -> usize {
        self.knots.len()
    }
}

fn inverse(a: Vec<Vec<f64>>) -> Vec<Vec<f64>> {
    inverted(a).0
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_abs_diff_eq;

    fn rings(of: &[(f64, f64, bool)]) -> Vec<Ring> {
        of.iter().map(|r| Ring { edge: r.2, ..Ring::once(Mm(r.0), Mm(r.1)) }).collect()
    }

    /// Closed form: as many readings as knots are met exactly, and each girth strays as its reading does.
    #[test]
    fn as_many_readings_as_knots_are_met() {
        let all = rings(&[(0.0, 188.0, false), (20.0, 212.0, true), (110.0, 220.0, false)]);
        let chain = GirthChain::through(&all, Mm(110.0), Mm(0.5), Mm::ZERO);
        for r in &all {
            assert_abs_diff_eq!(chain.at(r.slant).0, r.girth.0, epsilon = 1e-9);
            assert_abs_diff_eq!(chain.sd(r.slant).0, 0.5, epsilon = 1e-9);
        }
        let slopes: Vec<f64> = chain.stretches().map(|s| s.slope()).collect();
        assert_abs_diff_eq!(slopes[0], 1.2, epsilon = 1e-9);
        assert_abs_diff_eq!(slopes[1], 8.0 / 90.0, epsilon = 1e-9);
        assert_eq!(chain.settled(), 3);
    }

    /// Property of least squares: residuals are orthogonal to every girth that the knots can make, in the
    /// readings' weights; and the covariance is the inverse of the normal matrix, found here by differences:
    /// a reading moved by its variance over h moves the girths by a column of it.
    #[test]
    fn residuals_are_orthogonal_to_the_knots() {
        let all = rings(&[
            (2.0, 190.3, false),
            (9.0, 199.9, false),
            (20.0, 212.4, true),
            (50.0, 214.1, false),
            (70.0, 217.7, true),
            (90.0, 190.2, false),
            (104.0, 171.0, false),
        ]);
        let chain = GirthChain::through(&all, Mm(110.0), Mm(0.4), Mm(0.3));
        for knot in 0..chain.knots.len() {
            let dot: f64 = all
                .iter()
                .zip(chain.variances())
                .map(|(r, v)| {
                    let part: f64 = chain.parts(r.slant).iter().filter(|p| p.0 == knot).map(|p| p.1).sum();
                    part * (r.girth - chain.at(r.slant)).0 / v
                })
                .sum();
            assert_abs_diff_eq!(dot, 0.0, epsilon = 1e-6);
        }
        let mut moved = all.clone();
        moved[4].girth += Mm(chain.variances()[4]);
        let other = GirthChain::weighted(chain.knots.clone(), &moved, chain.variances.clone());
        for s in [0.0, 20.0, 33.0, 70.0, 110.0] {
            let by = (other.at(Mm(s)) - chain.at(Mm(s))).0;
            assert_abs_diff_eq!(by, chain.covariance(Mm(s), Mm(70.0)), epsilon = 1e-9);
        }
    }
}
