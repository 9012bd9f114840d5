//! A ring of a smooth wall that the others do not bear out: the one to read again.
//!
//! Each ring is left out in turn and foretold by the curve through the others (cross-validation; Wahba 1990, from
//! memory): e its distance, with the curve's error there and its own reading's. The one farthest off in its
//! standard uncertainty is named beyond the two-sided point of 1 percent over the number of rings (Bonferroni).
//!
//! Imports: base, read::job::{model, chance, chain, curve}.

use super::chain::Girths;
use super::chance::{LEVEL, normal_point};
use super::curve::GirthCurve;
use super::model::{Outline, Ring};
use crate::base::units::Mm;

/// A reading that the others do not bear out.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Doubt {
    /// Which of the rings.
    pub ring: usize,
    /// The reading less what the others foretell.
    pub off: Mm,
    /// By how much a true reading would be off at most.
    pub allowed: Mm,
}

/// Rings without an outline that foretell one more: four leave one degree to the parabola.
const FEWEST: usize = 5;

impl Doubt {
    /// Of a smooth wall's rings the one to read again, if there is one.
    pub fn of(rings: &[Ring], outlines: &[Outline], wall: Mm, tape: Mm, marks: Mm) -> Option<Doubt> {
        let fewest = if outlines.is_empty() { FEWEST } else { 3 };
        if rings.len() < fewest {
            return None;
        }
        let all = GirthCurve::through(rings, outlines, wall, tape, marks);
        let point = normal_point(LEVEL / rings.len() as f64);
        let one = |i: usize| {
            let others: Vec<Ring> =
                rings.iter().enumerate().filter(|(k, _)| *k != i).map(|(_, r)| *r).collect();
            let curve = GirthCurve::through(&others, outlines, wall, tape, marks);
            let (r, sd) = (&rings[i], curve.sd(rings[i].slant));
            let strays = libm::sqrt(sd.0 * sd.0 + all.variances()[i]);
            Doubt { ring: i, off: r.girth - curve.at(r.slant), allowed: Mm(point * strays) }
        };
        let far = |d: &Doubt| (d.off / d.allowed).abs();
        let worst = (0..rings.len()).map(one).max_by(|a, b| far(a).total_cmp(&far(b)))?;
        (far(&worst) > 1.0).then_some(worst)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::random::Random;
    use crate::base::units::Seed;
    use std::f64::consts::{PI, TAU};

    /// Walls of the notes: barrel (sag), tulip, flare.
    fn wall(kind: usize, size: f64, t: f64) -> f64 {
        let plain = 34.0 + 8.0 * t;
        TAU * (plain
            + match kind {
                0 => size * 4.0 * t * (1.0 - t),
                1 => size * libm::sin(TAU * t),
                2 => size * t * t * t,
                _ => size * libm::sin(PI * t) * libm::sin(PI * t),
            })
    }

    #[test]
    fn rates() {
        for n in [5usize, 7, 9] {
            for kind in 0..3 {
                let (mut alarms, mut found, mut right, mut total) = (0, 0, 0, 0);
                for seed in 0..200u64 {
                    let mut s = Random::new(Seed(seed), "doubt", (n * 10 + kind) as u64);
                    let size = match kind {
                        0 => 0.1 + 2.9 * s.unit(),
                        1 => 0.1 + 1.9 * s.unit(),
                        _ => 0.3 + 4.7 * s.unit(),
                    };
                    let mut normal = || {
                        let (a, b) = (1.0 - s.unit(), s.unit());
                        (-2.0 * a.ln()).sqrt() * (TAU * b).cos()
                    };
                    let rings: Vec<Ring> = (0..n)
                        .map(|i| {
                            let t = i as f64 / (n - 1) as f64;
                            Ring::once(Mm(150.0 * t), Mm(wall(kind, size, t) + 0.5 * normal()))
                        })
                        .collect();
                    let go = |r: &[Ring]| {
                        GirthCurve::found(r, &[], Mm(150.0), Mm(0.5), Mm(0.0))?;
                        Doubt::of(r, &[], Mm(150.0), Mm(0.5), Mm(0.0))
                    };
                    total += 1;
                    alarms += usize::from(go(&rings).is_some());
                    let mut slipped = rings.clone();
                    let at = seed as usize % n;
                    slipped[at].girth += Mm(if seed % 2 == 0 { 5.0 } else { -5.0 });
                    if let Some(d) = go(&slipped) {
                        found += 1;
                        right += usize::from(d.ring == at);
                    }
                }
                println!(
                    "n {n} kind {kind}: false {alarms}/{total}, slips of 5 found {found}, right {right}"
                );
            }
        }
    }
}
