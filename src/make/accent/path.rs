//! The order in which spots are placed: quarter by quarter of the cup, in each a short path from spot to spot, so
//! that the hand goes on beside where it was and the cup is turned on its rest four times.
//!
//! A path is begun from several spots by always going to the nearest one left, and the best of these is mended by
//! turning parts of it round and by moving runs of up to three spots, until nothing makes it shorter (2-opt and
//! Or-opt; Croes 1958, Or 1976, from memory). Distances are taken round the wall at the mean radius of the two.
//!
//! Imports: base.

use crate::base::units::{Angle, Mm};
use std::f64::consts::{FRAC_PI_2, TAU};

/// Spots that a path is begun from, in each quarter.
const STARTS: usize = 12;
/// Squared numbers of spots that are mended in a quarter, all paths together.
const MENDED: usize = 250_000;
/// Longest run of spots that is moved.
const RUN: usize = 3;
/// Least that a change must save, mm: below it, it may be the rounding.
const SAVES: f64 = 1e-9;
/// Rounds of mending at most, all places of the path each.
const ROUNDS: usize = 200;

/// What a path through a quarter is asked to begin and to end near.
#[derive(Clone, Copy)]
struct Ends {
    /// Where the path before it ended.
    from: Option<Spot>,
    /// Where the next quarter begins.
    to: Option<Angle>,
}

impl Ends {
    fn first(&self, spot: &Spot) -> f64 {
        self.from.map_or(0.0, |f| f.to(spot))
    }
    fn last(&self, spot: &Spot) -> f64 {
        self.to.map_or(0.0, |to| ((to - spot.azimuth).wrapped().rad() * spot.radius.0).abs())
    }
}

/// A place on the wall.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Spot {
    /// From the front line.
    pub azimuth: Angle,
    /// Up the wall.
    pub slant: Mm,
    /// Radius of the wall there.
    pub radius: Mm,
}

impl Spot {
    fn to(&self, other: &Spot) -> f64 {
        let round = (other.azimuth - self.azimuth).wrapped().rad() * (self.radius + other.radius).0 / 2.0;
        libm::hypot(round, (other.slant - self.slant).0)
    }
}

/// Places of the spots in the order of placing, from the quarter that the seam runs through round to the right.
pub(super) fn order(spots: &[Spot], seam: Angle) -> Vec<usize> {
    let quarter = |azimuth: Angle| (azimuth.rad() / FRAC_PI_2 + 0.5).rem_euclid(TAU / FRAC_PI_2) as usize % 4;
    let first = quarter(seam);
    let mut out: Vec<usize> = Vec::with_capacity(spots.len());
    for k in 0..4 {
        let mut own: Vec<usize> =
            (0..spots.len()).filter(|i| quarter(spots[*i].azimuth) == (first + k) % 4).collect();
        let key = |i: &usize| (spots[*i].slant.0, spots[*i].azimuth.rad());
        own.sort_by(|a, b| key(a).0.total_cmp(&key(b).0).then(key(a).1.total_cmp(&key(b).1)).then(a.cmp(b)));
        let border = Angle::radians(FRAC_PI_2 * ((first + k) as f64 + 0.5));
        let ends = Ends { from: out.last().map(|i| spots[*i]), to: (k < 3).then_some(border) };
        out.extend(shortest(spots, own, ends));
    }
    out
}

/// A short path through spots, with the ways to and from its ends.
fn shortest(spots: &[Spot], own: Vec<usize>, ends: Ends) -> Vec<usize> {
    let n = own.len();
    let starts = (0..n.min(STARTS)).map(|k| k * n / n.clamp(1, STARTS));
    let mut paths: Vec<Vec<usize>> = starts.map(|start| nearest_first(spots, &own, start)).collect();
    let long = |p: &Vec<usize>| length(spots, p, &ends);
    paths.sort_by(|a, b| long(a).total_cmp(&long(b)));
    // Mending a path takes time with the square of its length: of many spots the best beginnings only.
    paths.truncate((MENDED / (n * n).max(1)).clamp(1, STARTS));
    paths.iter_mut().for_each(|p| mend(spots, p, &ends));
    paths.into_iter().reduce(|a, b| if long(&b) < long(&a) { b } else { a }).unwrap_or(own)
}

fn mend(spots: &[Spot], path: &mut Vec<usize>, ends: &Ends) {
    for _ in 0..ROUNDS {
        let turned = turn_round(spots, path, ends);
        let moved = move_runs(spots, path, ends);
        if !turned && !moved {
            break;
        }
    }
}

fn nearest_first(spots: &[Spot], own: &[usize], start: usize) -> Vec<usize> {
    let mut left = own.to_vec();
    let mut path = vec![left.remove(start)];
    while !left.is_empty() {
        let here = &spots[path[path.len() - 1]];
        let next =
            (0..left.len()).min_by(|a, b| here.to(&spots[left[*a]]).total_cmp(&here.to(&spots[left[*b]])));
        path.push(left.remove(next.unwrap_or(0)));
    }
    path
}

/// Its length, with the ways to and from its ends.
fn length(spots: &[Spot], path: &[usize], ends: &Ends) -> f64 {
    let [first, .., last] = path else { return 0.0 };
    let between: f64 = path.windows(2).map(|w| spots[w[0]].to(&spots[w[1]])).sum();
    ends.first(&spots[*first]) + between + ends.last(&spots[*last])
}

/// Ways into and out of the places of a path.
struct Ways<'a> {
    spots: &'a [Spot],
    ends: &'a Ends,
}

impl Ways<'_> {
    /// From what stands before place `i` to a spot.
    fn before(&self, path: &[usize], i: usize, to: usize) -> f64 {
        match i {
            0 => self.ends.first(&self.spots[to]),
            _ => self.spots[path[i - 1]].to(&self.spots[to]),
        }
    }
    /// From a spot to what stands at place `i`.
    fn after(&self, path: &[usize], i: usize, of: usize) -> f64 {
        match path.get(i) {
            Some(next) => self.spots[of].to(&self.spots[*next]),
            None => self.ends.last(&self.spots[of]),
        }
    }
    /// Over the gap before place `i`, where nothing stands between.
    fn over(&self, path: &[usize], i: usize) -> f64 {
        match (i.checked_sub(1), path.get(i)) {
            (_, Some(next)) => self.before(path, i, *next),
            (Some(last), None) => self.ends.last(&self.spots[path[last]]),
            (None, None) => 0.0,
        }
    }
}

fn turn_round(spots: &[Spot], path: &mut [usize], ends: &Ends) -> bool {
    let ways = Ways { spots, ends };
    let mut changed = false;
    for i in 0..path.len() {
        for j in i + 1..path.len() {
            let was = ways.before(path, i, path[i]) + ways.after(path, j + 1, path[j]);
            let now = ways.before(path, i, path[j]) + ways.after(path, j + 1, path[i]);
            if now < was - SAVES {
                path[i..=j].reverse();
                changed = true;
            }
        }
    }
    changed
}

fn move_runs(spots: &[Spot], path: &mut Vec<usize>, ends: &Ends) -> bool {
    let ways = Ways { spots, ends };
    let mut changed = false;
    for run in 1..=RUN.min(path.len().saturating_sub(1)) {
        for i in 0..=path.len() - run {
            let (first, last) = (path[i], path[i + run - 1]);
            let before = ways.before(path, i, first) + ways.after(path, i + run, last);
            let mut rest = path.clone();
            let taken: Vec<usize> = rest.drain(i..i + run).collect();
            let closed = ways.over(&rest, i);
            let mut best = (SAVES, 0, false);
            for k in 0..=rest.len() {
                let open = ways.over(&rest, k);
                for back in [false, true] {
                    let (a, b) = if back { (last, first) } else { (first, last) };
                    let added = ways.before(&rest, k, a) + ways.after(&rest, k, b) - open;
                    let saved = before - closed - added;
                    if saved > best.0 {
                        best = (saved, k, back);
                    }
                }
            }
            if best.0 > SAVES {
                let moved: Vec<usize> = if best.2 { taken.into_iter().rev().collect() } else { taken };
                rest.splice(best.1..best.1, moved);
                *path = rest;
                changed = true;
            }
        }
    }
    changed
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::random::Random;
    use crate::base::units::Seed;

    const FREE: Ends = Ends { from: None, to: None };

    fn spot(azimuth: f64, slant: f64) -> Spot {
        Spot { azimuth: Angle::degrees(azimuth), slant: Mm(slant), radius: Mm(40.0) }
    }
    fn some(n: usize, seed: u64, wide: f64) -> Vec<Spot> {
        let mut random = Random::new(Seed(seed), "path", 0);
        (0..n).map(|_| spot(random.between(-wide, wide), random.between(6.0, 145.0))).collect()
    }

    /// Every spot once, quarter by quarter from the seam's.
    #[test]
    fn each_spot_is_placed_once_and_quarters_are_kept() {
        let spots = some(290, 3, 180.0);
        let order = order(&spots, Angle::degrees(180.0));
        let mut all = order.clone();
        all.sort_unstable();
        assert_eq!(all, (0..spots.len()).collect::<Vec<_>>());
        let quarter =
            |i: &usize| (((spots[*i].azimuth.deg() + 45.0).rem_euclid(360.0) / 90.0) as usize + 2) % 4;
        assert!(order.windows(2).all(|w| quarter(&w[0]) <= quarter(&w[1])));
    }

    /// Tiny walls against exhaustive search: seven spots of one quarter, all 5,040 orders, the way on to
    /// the next quarter counted; the path is no more
    /// than a tenth longer than the shortest and mostly equal to it.
    #[test]
    fn tiny_walls_are_near_the_shortest_of_all_orders() {
        const GOING_ON: Ends = Ends { from: None, to: Some(Angle::radians(FRAC_PI_2 / 2.0)) };
        fn all(path: &mut Vec<usize>, left: &[usize], spots: &[Spot], best: &mut f64) {
            if left.is_empty() {
                *best = best.min(length(spots, path, &GOING_ON));
            }
            for i in 0..left.len() {
                let mut rest = left.to_vec();
                path.push(rest.remove(i));
                all(path, &rest, spots, best);
                path.pop();
            }
        }
        let mut equal = 0;
        for seed in 0..20 {
            let spots = some(7, seed, 40.0);
            let got = length(&spots, &order(&spots, Angle::degrees(0.0)), &GOING_ON);
            let mut best = f64::INFINITY;
            all(&mut Vec::new(), &(0..7).collect::<Vec<_>>(), &spots, &mut best);
            assert!(got < best * 1.1, "{got} {best}");
            equal += usize::from(got < best + 1e-6);
        }
        assert!(equal >= 14, "{equal} of 20");
    }

    /// Beside columns of 30 degrees from the base up, what was before: steps at least a third shorter.
    #[test]
    fn steps_are_shorter_than_in_columns() {
        let spots = some(287, 5, 180.0);
        let mean = |o: &[usize]| length(&spots, o, &FREE) / 286.0;
        let mut columns: Vec<usize> = (0..spots.len()).collect();
        let key = |i: &usize| ((spots[*i].azimuth.deg() + 180.0) / 30.0).floor() * 1000.0 + spots[*i].slant.0;
        columns.sort_by(|a, b| key(a).total_cmp(&key(b)));
        let (path, before) = (mean(&order(&spots, Angle::degrees(180.0))), mean(&columns));
        assert!(path < before * 0.67, "{path} {before}");
    }
}
