//! Trial wraps: what the printed template did on the cup, joined with what the tape said.
//!
//! The state are the girths at base and rim, x, with covariance C from the readings (the error that all
//! readings share included). A gap at a height is a reading z = h x of the girth there, less what the
//! template was long; the gain is g = C h / (h' C h + r^2), x gains g z, C loses g h' C. One reading after
//! another gives what all at once give, since their errors are apart. Before it is used, the sum of z^2 / (h'
//! C h + r^2) is tested by chi-square at 1 percent: a tape and a wrap that disagree are not averaged. Source:
//! the Kalman update, any textbook of estimation.
//!
//! Imports: base, read::job, make::cup, make::cup::frustum.

use super::frustum::Frustum;
use super::{TrialProblem, TrialReport};
use crate::base::random::fnv1a;
use crate::base::units::Mm;
use crate::read::job::chance::{LEVEL, chi_square_point};
use crate::read::job::{CupSpec, TrialWrap};
use std::f64::consts::PI;

/// Girths at base and rim, and what their errors have in common, mm^2: base, both, rim.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Edges {
    /// At the base edge and at the rim.
    pub girths: [f64; 2],
    /// Variance at the base, covariance, variance at the rim.
    pub covariance: [f64; 3],
}

impl Edges {
    /// Parts of base and rim in the girth at a part of the wall's height.
    fn parts(part: f64) -> [f64; 2] {
        [1.0 - part, part]
    }
    /// Covariance of the girths at two parts of the wall's height.
    pub fn between(&self, s: f64, t: f64) -> f64 {
        let ([a, b], [c, d]) = (Edges::parts(s), Edges::parts(t));
        let [base, both, rim] = self.covariance;
        a * c * base + (a * d + b * c) * both + b * d * rim
    }
    /// Girth at a part of the wall's height.
    pub fn at(&self, part: f64) -> f64 {
        let [a, b] = Edges::parts(part);
        a * self.girths[0] + b * self.girths[1]
    }
    /// Joins a reading of the girth at a part of the height, off by `z` and straying by `sd`; gives z^2 in
    /// its variance.
    fn join(&mut self, part: f64, z: f64, sd: f64) -> f64 {
        let [a, b] = Edges::parts(part);
        let [base, both, rim] = self.covariance;
        let (to_base, to_rim) = (a * base + b * both, a * both + b * rim);
        let variance = a * to_base + b * to_rim + sd * sd;
        self.girths[0] += to_base / variance * z;
        self.girths[1] += to_rim / variance * z;
        self.covariance = [
            base - to_base * to_base / variance,
            both - to_base * to_rim / variance,
            rim - to_rim * to_rim / variance,
        ];
        z * z / variance
    }
    fn frustum(&self, spec: &CupSpec) -> Frustum {
        Frustum { lower: Mm(self.girths[0]), upper: Mm(self.girths[1]), slant: spec.wall }
    }
}

/// Four signs that tell templates apart: of the girths and the wall that it is cut to, in hundredths of a
/// millimetre.
pub fn fingerprint(surface: &Frustum) -> String {
    let sizes = [surface.lower, surface.upper, surface.slant].map(|v| libm::round(v.0 * 100.0) as i64);
    let hash = fnv1a(sizes.iter().flat_map(|v| v.to_le_bytes()));
    format!("{:04x}", (hash ^ hash >> 16 ^ hash >> 32 ^ hash >> 48) & 0xffff)
}

/// The edges after all trial wraps of a job, each of a template that the job has made on the way, and what
/// came of each.
pub fn joined(spec: &CupSpec, prior: Edges) -> (Edges, Vec<TrialReport>) {
    let mut made = vec![prior];
    let mut now = prior;
    let mut reports = Vec::new();
    for wrap in &spec.trials {
        let prints: Vec<String> =
            made.iter().map(|e| fingerprint(&e.frustum(spec).built_up(spec.build_up))).collect();
        let of = match &wrap.template {
            Some(print) => prints.iter().rposition(|p| p == print),
            None => Some(made.len() - 1),
        };
        let Some(of) = of else {
            reports.push(TrialReport::refused(TrialProblem::OtherTemplate(prints)));
            continue;
        };
        let (next, chi_square, count) = after(spec, wrap, &made[of], now);
        let allowed = chi_square_point(LEVEL, count);
        if chi_square > allowed {
            reports.push(TrialReport::refused(TrialProblem::Disagrees { chi_square, allowed }));
            continue;
        }
        reports.push(TrialReport {
            base: Mm(next.girths[0] - now.girths[0]),
            rim: Mm(next.girths[1] - now.girths[1]),
            problem: None,
        });
        now = next;
        made.push(next);
    }
    (now, reports)
}

/// The edges after one trial wrap of a template, its chi-square and how many gaps it read.
fn after(spec: &CupSpec, wrap: &TrialWrap, template: &Edges, now: Edges) -> (Edges, f64, usize) {
    let mut next = now;
    let surface = template.frustum(spec).built_up(spec.build_up);
    let (mut chi_square, mut count) = (0.0, 0);
    for (part, gap) in [(0.0, wrap.base), (0.5, wrap.middle), (1.0, wrap.rim)] {
        let Some(gap) = gap else { continue };
        // The template was printed at a scale, and paper lies with its middle half its thickness off the
        // wall.
        let long = surface.lower.0 + (surface.upper - surface.lower).0 * part;
        let wound = long * (wrap.bars / Mm(100.0)) + gap.0 - PI * wrap.paper.0;
        // What lies under the film adds the same to the girth and to the template.
        let added = long - template.at(part);
        chi_square += next.join(part, wound - added - next.at(part), wrap.strays.0);
        count += 1;
    }
    (next, chi_square, count)
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_abs_diff_eq;
    use proptest::prelude::*;

    fn joined_gaps(edges: Edges, base: f64, rim: f64, sd: f64) -> Edges {
        let mut next = edges;
        for (part, z) in [(0.0, base), (1.0, rim)] {
            let off = edges.at(part) + z - next.at(part);
            next.join(part, off, sd);
        }
        next
    }

    /// Source: the project's notes, check case 7, computed beforehand: u 0.5, r 0.3, gaps +0.8 and -0.4.
    #[test]
    fn gaps_at_both_edges_are_weighted_as_computed_beforehand() {
        let apart = Edges { girths: [200.0, 240.0], covariance: [0.25, 0.0, 0.25] };
        let got = joined_gaps(apart, -0.4, 0.8, 0.3);
        assert_abs_diff_eq!(got.girths[1] - 240.0, 0.588, epsilon = 5e-4);
        assert_abs_diff_eq!(got.girths[0] - 200.0, -0.294, epsilon = 5e-4);
        assert_abs_diff_eq!(got.covariance[2].sqrt(), 0.2572, epsilon = 5e-5);
        // With an error of 0.6 that both share: weights 0.825 and 0.090.
        let shared = Edges { girths: [200.0, 240.0], covariance: [0.61, 0.36, 0.61] };
        let one = joined_gaps(shared, 0.0, 1.0, 0.3);
        assert_abs_diff_eq!(one.girths[1] - 240.0, 0.825, epsilon = 5e-4);
        assert_abs_diff_eq!(one.girths[0] - 200.0, 0.090, epsilon = 5e-4);
    }

    proptest! {
        /// One after another is all at once: x + C H' (H C H' + R)^-1 z in closed form for two readings.
        #[test]
        fn readings_one_by_one_are_all_at_once(
            b in 0.01..2.0f64, r in 0.01..2.0f64, share in -0.9..0.9f64, z0 in -3.0..3.0f64, z1 in -3.0..3.0f64,
            sd in 0.05..1.0f64,
        ) {
            let c = share * (b * r).sqrt();
            let edges = Edges { girths: [0.0, 0.0], covariance: [b, c, r] };
            let got = joined_gaps(edges, z0, z1, sd);
            let (s00, s11) = (b + sd * sd, r + sd * sd);
            let det = s00 * s11 - c * c;
            let (w0, w1) = ((s11 * z0 - c * z1) / det, (s00 * z1 - c * z0) / det);
            prop_assert!((got.girths[0] - (b * w0 + c * w1)).abs() < 1e-9);
            prop_assert!((got.girths[1] - (c * w0 + r * w1)).abs() < 1e-9);
            prop_assert!(got.covariance[0] <= b && got.covariance[2] <= r);
        }
    }
}
