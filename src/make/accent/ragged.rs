//! [`RaggedLimit`]: a limit of a fill that is ragged inwards, so that no row of spots can run along it.
//!
//! ```text
//! e(azimuth) = r * (s - least s) / (greatest s - least s)     s: a sum of sines, periodic round the cup,
//!                                                             wavelengths of 1.5 to 3 spots
//! ```
//!
//! What lies between the limit and e becomes obstacles of the fill's room (*bumps*), which want no more than the
//! gap: greedy fill, evening, proof and measures meet one and the same limit. Only inwards: bands that are kept
//! clear stay as they are.
//!
//! Imports: base, outline, read::job, make::{cup, free_area}.

use crate::base::frame::{Plane, Point};
use crate::base::random::Random;
use crate::base::tolerance::LEAST_DIVISOR;
use crate::base::units::{Angle, Mm, Seed};
use crate::make::cup::{Development, WallPoint, Zone};
use crate::make::free_area::{FreeArea, Obstacle};
use crate::outline::Region;
use crate::read::job::{AccentSpec, Edge};
use std::f64::consts::TAU;

/// Wavelengths, in mean spots: the longest and the shortest.
const LONGEST: f64 = 3.0;
const SHORTEST: f64 = 1.5;
/// Sines that are added up.
const SINES: usize = 5;
/// Between corners of a bump, mm.
const STEP: f64 = 0.4;
/// Bumps are no longer than this, mm: obstacles are entered whole.
const LONG: f64 = 25.0;
/// A bump ends where it is lower than this, mm.
const LOWEST: f64 = 0.02;

/// How far one limit of one zone is ragged inwards, by azimuth.
#[derive(Clone, Debug, PartialEq)]
pub struct RaggedLimit {
    /// Height of the limit itself.
    pub slant: Mm,
    /// 1 where the wall lies above it, -1 where below.
    pub way: f64,
    most: f64,
    /// Waves round the cup, and where each begins.
    sines: Vec<(f64, f64)>,
    least: f64,
    range: f64,
}

impl RaggedLimit {
    /// The two limits of a fill's zone; none where it is straight.
    pub fn of(
        (development, zone, number): (&Development, &Zone, usize),
        (spec, accent): (&AccentSpec, usize),
        seed: Seed,
    ) -> Vec<RaggedLimit> {
        let Edge::Ragged(most) = spec.edge else { return Vec::new() };
        if most <= Mm::ZERO {
            return Vec::new();
        }
        let zone = beside_edges(zone, spec.gap);
        let limits = [(zone.low, 1.0), (zone.high, -1.0)];
        let one = |(i, (slant, way)): (usize, (Mm, f64))| {
            let item = accent as u64 + ((number as u64) << 32) + ((i as u64) << 48);
            let girth = TAU * development.radius(slant).get();
            RaggedLimit::new((slant, way), most, girth, spec, &mut Random::new(seed, "ragged", item))
        };
        limits.into_iter().enumerate().map(one).collect()
    }
    fn new(
        (slant, way): (Mm, f64),
        most: Mm,
        girth: f64,
        spec: &AccentSpec,
        random: &mut Random,
    ) -> RaggedLimit {
        let spot = (spec.smallest + spec.largest).get() / 2.0;
        let few = libm::ceil(girth / (LONGEST * spot)).max(1.0);
        let many = libm::floor(girth / (SHORTEST * spot)).max(few);
        let choice = (many - few) as usize + 1;
        let sines: Vec<(f64, f64)> =
            (0..SINES).map(|_| (few + random.below(choice) as f64, random.between(0.0, TAU))).collect();
        let sum = |a: f64| sines.iter().map(|(n, at)| libm::sin(n * a + at)).sum::<f64>();
        let n = libm::ceil(girth / STEP) as usize;
        let all = (0..n).map(|i| sum(TAU * i as f64 / n as f64));
        let (least, greatest) =
            all.fold((f64::INFINITY, f64::NEG_INFINITY), |(l, g), v| (l.min(v), g.max(v)));
        RaggedLimit {
            slant,
            way,
            most: most.get(),
            sines,
            least,
            range: (greatest - least).max(LEAST_DIVISOR),
        }
    }
    /// How far it reaches inwards at an azimuth: 0 to the job's `ragged`.
    pub fn inwards(&self, azimuth: Angle) -> Mm {
        let sum: f64 = self.sines.iter().map(|(n, at)| libm::sin(n * azimuth.rad() + at)).sum();
        Mm(self.most * ((sum - self.least) / self.range).clamp(0.0, 1.0))
    }
    /// What lies between the limit and its ragged line, in pieces.
    fn bumps(&self, development: &Development) -> Vec<Region<Plane>> {
        let girth = TAU * development.radius(self.slant).get();
        let n = libm::ceil(girth / STEP) as usize;
        let longest = libm::ceil(LONG / STEP) as usize;
        let azimuth = |i: usize| Angle::radians(TAU * (i as f64 / n as f64 - 0.5));
        let place = |i: usize, inwards: Mm| {
            let slant = self.slant + inwards * self.way;
            let p: Point<Plane> = development.develop(WallPoint { azimuth: azimuth(i), slant });
            [p.x, p.y]
        };
        let mut out = Vec::new();
        let mut from = 0;
        while from < n {
            if self.inwards(azimuth(from)).get() < LOWEST && self.inwards(azimuth(from + 1)).get() < LOWEST {
                from += 1;
                continue;
            }
            let mut to = from + 1;
            while to < n && to - from < longest && self.inwards(azimuth(to)).get() >= LOWEST {
                to += 1;
            }
            let mut ring: Vec<[f64; 2]> = (from..=to).map(|i| place(i, Mm::ZERO)).collect();
            ring.extend((from..=to).rev().map(|i| place(i, self.inwards(azimuth(i)) + Mm(LOWEST))));
            if self.way < 0.0 {
                ring.reverse();
            }
            out.push(Region::polygon(&ring));
            from = to;
        }
        out
    }
}

/// A zone as a fill takes it: spots keep their gap from its bounds, and edges have what is kept from them in
/// those bounds already.
pub fn beside_edges(zone: &Zone, gap: Mm) -> Zone {
    let [below, above] = zone.edges.map(|edge| if edge { gap } else { Mm::ZERO });
    Zone { low: zone.low - below, high: zone.high + above, ..zone.clone() }
}

/// A wall as one fill takes it: what lies there of its pass, and its ragged limits.
pub fn for_fill(wall: &FreeArea, (spec, accent): (&AccentSpec, usize), seed: Seed) -> FreeArea {
    let pass = spec.pass.order;
    let mut room = wall.of_pass(pass);
    room.zone = beside_edges(&wall.zone, spec.gap);
    let limits = RaggedLimit::of((&wall.development, &wall.zone, wall.zone_number), (spec, accent), seed);
    for limit in limits {
        let clearance = spec.gap;
        let bumps = limit.bumps(&room.development).into_iter();
        room.obstacles.extend(bumps.map(|region| Obstacle { region, clearance, pass }));
    }
    room
}

#[cfg(test)]
mod tests {
    use super::super::tests::{room, wishes};
    use super::*;

    fn spec(ragged: f64) -> AccentSpec {
        AccentSpec { edge: Edge::Ragged(Mm(ragged)), ..wishes(&["pebble"], 1.2) }
    }

    fn limits(room: &FreeArea, seed: Seed) -> Vec<RaggedLimit> {
        RaggedLimit::of((&room.development, &room.zone, 0), (&spec(3.0), 0), seed)
    }

    /// Periodic at the seam, within 0 and the wish, reached at both ends; another seed, another line.
    #[test]
    fn a_ragged_limit_meets_itself_at_the_seam() {
        let room = room(40.0, 30.0, 90.0, 0, 1);
        for seed in 0..20 {
            let limits = limits(&room, Seed(seed));
            assert_eq!(limits.len(), 2);
            for l in &limits {
                let at = |deg: f64| l.inwards(Angle::degrees(deg)).get();
                assert!((at(-180.0) - at(180.0)).abs() < 1e-9 && (at(10.0) - at(370.0)).abs() < 1e-9);
                let all: Vec<f64> = (0..3600).map(|i| at(f64::from(i) / 10.0)).collect();
                let (low, high) = all.iter().fold((9.0f64, -9.0f64), |(l, h), v| (l.min(*v), h.max(*v)));
                assert!((0.0..0.05).contains(&low) && (2.95..=3.0).contains(&high), "{low} {high}");
            }
            assert_ne!(limits[0].sines, limits[1].sines);
        }
    }

    /// `ragged = 0` is a straight limit: nothing is added to the room.
    #[test]
    fn no_raggedness_leaves_the_room_alone() {
        let room = room(40.0, 30.0, 90.0, 3, 1);
        assert_eq!(for_fill(&room, (&spec(0.0), 0), Seed(1)), room);
        let straight = AccentSpec { edge: Edge::Straight, ..spec(0.0) };
        assert_eq!(for_fill(&room, (&straight, 0), Seed(1)), room);
    }

    /// The bumps' area is that under the line, by the trapezoid rule on the wall.
    #[test]
    fn bumps_cover_what_lies_under_the_line() {
        let room = room(40.0, 30.0, 90.0, 0, 1);
        for l in limits(&room, Seed(7)) {
            let n = 20_000;
            let under: f64 = (0..n)
                .map(|i| {
                    let e = l.inwards(Angle::degrees(360.0 * f64::from(i) / f64::from(n)));
                    let middle = room.development.radius(l.slant + e * (l.way / 2.0)).get();
                    e.get() * middle * TAU / f64::from(n)
                })
                .sum();
            let bumps: f64 = l.bumps(&room.development).iter().map(|b| b.area().get()).sum();
            let girth = TAU * room.development.radius(l.slant).get();
            assert!(bumps > under && bumps < under + 1.5 * LOWEST * girth + 0.01 * under, "{bumps} {under}");
        }
    }
}
