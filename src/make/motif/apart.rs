//! [`like_apart`]: copies of a kind, and motifs of one film, are kept apart: what was laid trades places as long as
//! that gains, within classes of size, and each has room where the other was.
//!
//! ```text
//! energy = sum over pairs of (3 where of one kind + 0.5 where of one film) * (20 mm / d)^4
//! R      = mean distance to the nearest like one, over its mean in 1,000 random labellings of the same places
//! ```
//!
//! Pinned motifs count and stand still. Distances go round the wall at the mean radius of the two.
//!
//! Imports: base, read::job, make::{cup, motif}, make::motif::{placements, exchange}.

use super::exchange::trade;
use super::{Motif, Placement};
use crate::base::random::Random;
use crate::base::units::{Mm, Seed};
use crate::make::cup::Development;
use crate::make::motif::placements::{Body, PlacementIndex};
use crate::read::job::{FilmId, Placing, Turning, WallPose};
use std::collections::BTreeMap;

/// Weights of likeness.
const KIND: f64 = 3.0;
const FILM: f64 = 0.5;
/// Distance, mm, at which a pair of weight 1 costs 1.
const NEAR: f64 = 20.0;
/// Sizes that differ by no more than this part trade places.
const SIZE: f64 = 0.15;
/// Rounds over all pairs; later ones were seen to gain nothing.
const ROUNDS: usize = 8;
/// Labellings that chance is taken from.
const LABELLINGS: usize = 1000;

/// A place with what stands there.
#[derive(Clone, Copy, Debug)]
struct Stands<'a> {
    pose: WallPose,
    radius: f64,
    kind: &'a str,
    film: FilmId,
}

impl Stands<'_> {
    fn cost(&self, other: &Stands<'_>) -> f64 {
        let likeness = if self.kind == other.kind { KIND } else { 0.0 }
            + if self.film == other.film { FILM } else { 0.0 };
        if likeness == 0.0 {
            return 0.0;
        }
        let d = far((&self.pose, self.radius), (&other.pose, other.radius)).max(1.0);
        likeness * (NEAR / d).powi(4)
    }
}

fn far((a, r): (&WallPose, f64), (b, s): (&WallPose, f64)) -> f64 {
    let round = (a.azimuth - b.azimuth).wrapped().rad() * (r + s) / 2.0;
    libm::hypot(round, (a.slant - b.slant).get())
}

/// Trades places among `laid` (number `first` and on of what stands); `before` stands still and counts.
pub(super) fn like_apart(
    motifs: &[Motif],
    bodies: &[Body],
    wall: &mut PlacementIndex,
    (laid, first): (&mut [Placement], usize),
    before: &[Placement],
) {
    let d = *wall.development();
    let stands = |p: &Placement| Stands {
        pose: p.pose,
        radius: d.radius(p.pose.slant).get(),
        kind: &motifs[p.motif].name,
        film: motifs[p.motif].film,
    };
    let kinds: BTreeMap<&str, usize> = laid.iter().fold(BTreeMap::new(), |mut m, p| {
        *m.entry(motifs[p.motif].name.as_str()).or_default() += 1;
        m
    });
    if kinds.len() < 2 || kinds.values().all(|n| *n < 2) {
        return;
    }
    let still: Vec<Stands> = before.iter().map(stands).collect();
    let turning = |p: &Placement| match motifs[p.motif].placing {
        Placing::Spread { turning, .. } | Placing::Many { turning, .. } => turning,
        Placing::Pinned(_) => Turning::Upright,
    };
    // What one costs among all others but one.
    let cost = |laid: &[Placement], me: Stands, but: [usize; 2]| -> f64 {
        let others = laid.iter().enumerate().filter(|(k, _)| !but.contains(k)).map(|(_, p)| stands(p));
        still.iter().copied().chain(others).map(|o| me.cost(&o)).sum()
    };
    for _ in 0..ROUNDS {
        let mut gained = false;
        for i in 0..laid.len() {
            for j in i + 1..laid.len() {
                let (a, b) = (laid[i], laid[j]);
                let (discs, dealt) =
                    ([a, b].map(|p| bodies[p.motif].disc), [a, b].map(|p| motifs[p.motif].look));
                let alike = (discs[0] - discs[1]).abs() <= SIZE * discs[0].max(discs[1]);
                let same = motifs[a.motif].name == motifs[b.motif].name
                    && motifs[a.motif].film == motifs[b.motif].film;
                if !alike || same || turning(&a) != turning(&b) || dealt.iter().any(Option::is_some) {
                    continue;
                }
                let (here, there) = (stands(&a), stands(&b));
                let was = cost(laid, here, [i, j]) + cost(laid, there, [i, j]);
                let swapped = [
                    Stands { pose: there.pose, radius: there.radius, ..here },
                    Stands { pose: here.pose, radius: here.radius, ..there },
                ];
                let now = cost(laid, swapped[0], [i, j]) + cost(laid, swapped[1], [i, j]);
                gained |= now < was && trade(bodies, wall, laid, first, (i, j));
            }
        }
        if !gained {
            break;
        }
    }
}

/// How far like ones lie apart, beside chance: R of the doc, by labels. `None` where no label is there twice or all
/// are one.
pub fn apartness(d: &Development, places: &[WallPose], labels: &[u32], seed: Seed) -> Option<f64> {
    let n = places.len();
    let radius: Vec<f64> = places.iter().map(|p| d.radius(p.slant).get()).collect();
    let mut apart = vec![0.0; n * n];
    for i in 0..n {
        for j in 0..n {
            apart[i * n + j] = far((&places[i], radius[i]), (&places[j], radius[j]));
        }
    }
    let mean = |labels: &[u32]| -> Option<Mm> {
        let nearest = |i: usize| {
            let like = (0..n).filter(|j| *j != i && labels[*j] == labels[i]);
            like.map(|j| apart[i * n + j]).reduce(f64::min)
        };
        // A label that is there once has no like one: it is left out.
        let all: Vec<f64> = (0..n).filter_map(nearest).collect();
        (!all.is_empty()).then(|| Mm(all.iter().sum::<f64>() / all.len() as f64))
    };
    if labels.iter().all(|l| Some(l) == labels.first()) {
        return None;
    }
    let own = mean(labels)?;
    let (mut random, mut shuffled) = (Random::new(seed, "labellings", 0), labels.to_vec());
    let mut sum = 0.0;
    for _ in 0..LABELLINGS {
        random.shuffle(&mut shuffled);
        sum += mean(&shuffled)?.get();
    }
    Some(own.get() * LABELLINGS as f64 / sum)
}

#[cfg(test)]
mod tests {
    use super::super::tests::room;
    use super::super::*;
    use super::*;
    use crate::base::diag::Diagnostics;
    use crate::base::frame::Point;

    fn grid(across: usize, up: usize) -> (Development, Vec<WallPose>) {
        let room = room(250.0, 250.0, 120.0);
        let place = |k: usize| WallPose {
            azimuth: Angle::TURN * ((k % across) as f64 / across as f64 - 0.5),
            slant: Mm(10.0 + 250.0 / across as f64 * (k / across) as f64),
            turn: Angle::ZERO,
        };
        (room.development, (0..across * up).map(place).collect())
    }

    /// A chessboard of two labels is better than chance, halves are worse, and random labellings are chance;
    /// turning the cup changes nothing.
    #[test]
    fn boards_are_better_than_chance_and_halves_worse() {
        let (d, places) = grid(12, 4);
        let of = |f: &dyn Fn(usize) -> u32| (0..48).map(f).collect::<Vec<u32>>();
        let r = |l: &[u32]| apartness(&d, &places, l, Seed(1)).expect("two labels");
        let board = of(&|k| ((k % 12 + k / 12) % 2) as u32);
        let halves = of(&|k| u32::from(k % 12 < 6));
        assert!(r(&board) > 1.2 && r(&halves) < 1.0, "{} {}", r(&board), r(&halves));
        let turned: Vec<WallPose> = places
            .iter()
            .map(|p| WallPose { azimuth: (p.azimuth + Angle::degrees(77.0)).wrapped(), ..*p })
            .collect();
        assert!((apartness(&d, &turned, &board, Seed(1)).expect("two labels") - r(&board)).abs() < 1e-9);
        let mut random = Random::new(Seed(3), "r", 0);
        let mut labels = of(&|k| (k % 4) as u32);
        let all: Vec<f64> = (0..60)
            .map(|_| {
                random.shuffle(&mut labels);
                r(&labels)
            })
            .collect();
        let mean = all.iter().sum::<f64>() / 60.0;
        let sd = (all.iter().map(|v| (v - mean) * (v - mean)).sum::<f64>() / 59.0).sqrt();
        assert!((mean - 1.0).abs() < 3.0 * sd / 60.0f64.sqrt() + 0.01, "{mean} {sd}");
        assert_eq!(apartness(&d, &places, &[7; 48], Seed(1)), None);
    }

    /// Three kinds and more spread over random walls: their likes lie a quarter farther apart than chance in the
    /// mean, no clearance is lost, and a pinned one stands still.
    #[test]
    fn kinds_are_kept_apart() {
        let mut sum = 0.0;
        for seed in 0..6 {
            let room = room(230.0, 200.0, 130.0);
            let mut random = Random::new(Seed(seed), "kinds", 0);
            let kind = |k: usize, r: f64| Motif {
                name: format!("kind {k}"),
                outline: Region::disc(Point::mm(0.0, 0.0), Mm(r)),
                clearance: Mm(2.0),
                placing: Placing::Spread { copies: 6, turning: Turning::Upright },
                copies: (0..6).collect(),
                at: KeyPath::root().key("motif").index(k),
                look: None,
                film: FilmId(k % 2),
            };
            let mut motifs: Vec<Motif> = (0..4).map(|k| kind(k, random.between(7.4, 8.0))).collect();
            let there = WallPose { azimuth: Angle::degrees(40.0), slant: Mm(50.0), turn: Angle::ZERO };
            motifs.push(Motif { placing: Placing::Pinned(vec![there]), copies: vec![0], ..kind(0, 8.0) });
            let mut told = Diagnostics::new();
            let laid = lay(&motifs, &room, Seed(seed), &mut told).expect("room for all").laid;
            assert_eq!(laid.iter().find(|l| l.motif == 4).expect("pinned").pose, there);
            let poses: Vec<WallPose> = laid.iter().map(|l| l.pose).collect();
            let labels: Vec<u32> = laid.iter().map(|l| (l.motif % 4) as u32).collect();
            let r = apartness(&room.development, &poses, &labels, Seed(1)).expect("kinds");
            sum += r;
        }
        assert!(sum / 6.0 >= 1.25, "{}", sum / 6.0);
    }
}
