//! Unions of many: with what is covered left out as without, and what they cost.
//!
//! Imports: base, outline.

use super::*;
use crate::base::frame::{Art, Point as At};
use crate::base::random::Random;
use crate::base::units::Seed;

/// Share of an area by which two ways to the same union may differ.
const SAME_AREA: f64 = 1e-6;

/// Both ways to unite regions: with what is covered left out beforehand, and with everything cut.
fn both(regions: &[Region<Art>]) -> (Region<Art>, Region<Art>, bool) {
    let mut laid = StackedRegions::default();
    for (k, r) in regions.iter().enumerate() {
        laid.tracks.extend(r.tracks());
        laid.owner.resize(laid.tracks.len(), k as u32);
    }
    let less = thinned(&laid.tracks, &laid.owner).is_some();
    let (fast, slow) =
        (laid.united(&mut WorkBudget::boundless()), laid.united_whole(&mut WorkBudget::boundless()));
    (fast.expect("no bound"), slow.expect("no bound"), less)
}

#[test]
fn a_union_with_less_in_it_is_the_union() {
    let mut random = Random::new(Seed(1), "union", 0);
    let mut next = |low: f64, high: f64| random.between(low, high);
    for round in 0..12 {
        let big = 12.0 + f64::from(round);
        let regions: Vec<Region<Art>> = (0..160)
            .map(|k| {
                let disc = |x: f64, y: f64, r: f64| Region::<Art>::disc(At::mm(x, y), Mm(r));
                let (x, y) = (next(-30.0, 30.0), next(-30.0, 30.0));
                let whole = disc(x, y, next(2.0, big));
                // Every third has a hole.
                if k % 3 == 0 { whole.op(&disc(x + 0.5, y, 1.5), Op::Difference) } else { whole }
            })
            .collect();
        let (fast, slow, less) = both(&regions);
        assert!(less, "nothing was left out");
        assert_eq!(fast.contours().len(), slow.contours().len());
        assert_eq!(fast.nodes(), slow.nodes());
        let apart = fast.op(&slow, Op::Xor).area().get();
        assert!(apart < SAME_AREA * slow.area().get(), "differs by {apart} mm2");
    }
}

#[test]
fn work_is_counted_before_it_is_done() {
    let bars = |n: u32| {
        let bar = |k: u32, across: bool| {
            let (a, b) = (f64::from(k) * 90.0 / f64::from(n), 60.0 / f64::from(n));
            let corners = if across {
                [[a, 0.0], [a + b, 0.0], [a + b, 90.0], [a, 90.0]]
            } else {
                [[0.0, a], [90.0, a], [90.0, a + b], [0.0, a + b]]
            };
            Region::<Art>::polygon(&corners)
        };
        (0..n).flat_map(|k| [bar(k, true), bar(k, false)]).collect::<Vec<_>>()
    };
    let spent = |n: u32| {
        let mut effort = WorkBudget::steps(u64::MAX);
        Region::union_within(&bars(n), &mut effort).expect("enough");
        effort.spent()
    };
    // Every bar crosses every other way's: four crossings for each two.
    let (few, many) = (spent(20), spent(80));
    assert!(few >= 4 * 20 * 20 * 100 && many >= 4 * 80 * 80 * 100 && many > 8 * few, "{few} {many}");
    assert_eq!(Region::union_within(&bars(80), &mut WorkBudget::steps(many - 1)), Err(TooHard));
    assert!(Region::union_within(&bars(80), &mut WorkBudget::steps(many)).is_ok());
}
