//! What corrects cut files of prints of the maker's own: no map near the one that was taken fits better what was read,
//! and it keeps every distance between marks that the fit tells.
//!
//! The maker solves equations in closed form; here nothing is solved: the map is shaken.
//!
//! Imports: base, make::{sheet, plan}, make::verify::measure.

use super::measure::breach;
use crate::base::diag::Diagnostic;
use crate::make::plan::Plan;
use crate::make::sheet::marks::{Affine, Evidence, Fit};

/// How far a map is shaken: lengths of a page move by microns. What the sum of squares may gain thereby, mm2: rounding.
const SHAKE: f64 = 1e-5;
const GAIN: f64 = 0.001 * SHAKE;
/// How far two ways to the same distance may differ, mm.
const SAME: f64 = 0.1 * SHAKE;

pub(super) fn check(plan: &Plan, broken: &mut Vec<Diagnostic>) {
    for (spec, stock) in plan.job.sheets.iter().zip(&plan.stock) {
        let Some(fit) = stock.own.as_ref().and_then(|o| o.fit.as_ref()) else { continue };
        let (gain, off) = shaken(fit);
        if gain > GAIN {
            let what =
                format!("the cut file of \"{}\" is corrected by a map that is not the best", spec.name);
            broken.push(breach(what, format!("{gain:.1e} mm2 better near it"), "none"));
        }
        if off > SAME {
            let what = format!("the map that corrects \"{}\" does not keep what was read", spec.name);
            broken.push(breach(what, format!("{off:.1e} mm"), format!("{SAME:.0e} mm")));
        }
    }
}

fn far(a: [f64; 2], b: [f64; 2]) -> f64 {
    libm::hypot(a[0] - b[0], a[1] - b[1])
}

/// What shaking gains, and by how much distances are off.
fn shaken(fit: &Fit) -> (f64, f64) {
    match &fit.evidence {
        Evidence::Marks(pairs, raw) => {
            let sum = |m: &Affine| pairs.iter().map(|(p, q)| far(m.apply(*p), *q).powi(2)).sum::<f64>();
            let (best, mut gain) = (sum(raw), 0.0f64);
            for k in 0..6 {
                for by in [-SHAKE, SHAKE] {
                    let mut m = *raw;
                    if k < 4 {
                        m.m[k] += by
                    } else {
                        m.t[k - 4] += by * 100.0
                    }
                    gain = gain.max(best - sum(&m));
                }
            }
            // Turned back or not, marks are as far apart; across and up may be scaled, never bent.
            let off = pairs.iter().flat_map(|a| pairs.iter().map(move |b| (a.0, b.0))).map(|(a, b)| {
                (far(fit.map.apply(a), fit.map.apply(b)) - far(raw.apply(a), raw.apply(b))).abs()
            });
            (gain, off.fold(0.0, f64::max))
        }
        Evidence::Lengths(all) => {
            let sum = |m: &Affine| {
                all.iter().map(|(a, b, l)| (far(m.apply(*a), m.apply(*b)) - l).powi(2)).sum::<f64>()
            };
            let (best, mut gain) = (sum(&fit.map), 0.0f64);
            for k in [0, 1, 3] {
                for by in [-SHAKE, SHAKE] {
                    let mut m = fit.map;
                    m.m[k] += by;
                    gain = gain.max(best - sum(&m));
                }
            }
            (gain, ((best / all.len() as f64).sqrt() - fit.rms).abs())
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::make::sheet::marks::{Marks, of_rule, of_scan};

    /// What is sound passes; a map that is off by a ten-thousandth is found, a turn that was lost as well.
    #[test]
    fn a_map_that_is_off_is_found() {
        let drawn = Marks { page: [210.0, 297.0] }.places();
        let wave = |i: usize| ((i * 37 % 11) as f64 - 5.0) * 0.02;
        let mut i = 0;
        let read = drawn.map(|p| {
            i += 1;
            Some([p[1] * 1.001 + wave(i), 300.0 - p[0] * 0.998 + wave(i + 5)])
        });
        let fit = of_scan(&drawn, &read).expect("a fit");
        let (gain, off) = shaken(&fit);
        assert!(gain <= GAIN && off <= SAME, "{gain} {off}");
        let mut bad = fit.clone();
        bad.map.m[0] *= 1.0001;
        assert!(shaken(&bad).1 > SAME);
        let Evidence::Marks(_, raw) = &mut bad.evidence else { panic!("marks") };
        raw.m[1] += 1e-4;
        assert!(shaken(&bad).0 > GAIN);
        let rule = of_rule(&drawn, [190.1, 277.3, 190.0, 277.2], [336.2, 335.9]).expect("a fit");
        assert!(shaken(&rule).0 <= GAIN && shaken(&rule).1 <= SAME, "{:?}", shaken(&rule));
        let mut bad = rule.clone();
        bad.map.m[3] *= 1.0001;
        assert!(shaken(&bad).0 > GAIN);
    }
}
