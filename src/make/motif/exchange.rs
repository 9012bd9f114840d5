//! [`exchange`]: motifs that are to be dealt evenly round the cup trade places as long as that gains and each
//! has room where the other was.
//!
//! Imports: base, read::job, make::{sheet, choose, motif}, make::motif::placements.

use super::{Motif, Placement};
use crate::base::units::Angle;
use crate::make::choose::Look;
use crate::make::motif::placements::{Body, PlacementIndex};
use crate::make::sheet::colour::apart;
use crate::read::job::{Placing, WallPose};
use std::f64::consts::TAU;

/// Distance on the wall, mm, over which neighbours count as such.
const NEAR: f64 = 45.0;
/// Weight of the worst unevenness of printed area over a third of the turn, and of its colour (a difference
/// in CIELAB), beside likeness of neighbours.
const AREA: f64 = 25.0;
const COLOUR: f64 = 0.4;
/// Thirds of the turn that are looked at, sliding.
const THIRDS: usize = 12;
/// Rounds over all pairs; later ones were seen to gain nothing.
const ROUNDS: usize = 8;

/// Trades places among what was spread; `pinned` stands before it on the wall.
pub(super) fn exchange(
    motifs: &[Motif],
    bodies: &[Body],
    wall: &mut PlacementIndex,
    spread: &mut [Placement],
    pinned: usize,
) {
    let dealt: Vec<(usize, Look)> =
        (0..spread.len()).filter_map(|i| Some((i, motifs[spread[i].motif].look?))).collect();
    if dealt.len() < 2 {
        return;
    }
    let turns = |i: usize| match &motifs[i].placing {
        Placing::Spread { turning, .. } => Some(*turning),
        Placing::Pinned(_) | Placing::Many { .. } => None,
    };
    let looks: Vec<Look> = dealt.iter().map(|d| d.1).collect();
    let girth = |pose: &WallPose| wall_radius(wall, pose);
    let mut places: Vec<(WallPose, f64)> =
        dealt.iter().map(|&(i, _)| (spread[i].pose, girth(&spread[i].pose))).collect();
    let mut cost = uneven(&looks, &places);
    for _ in 0..ROUNDS {
        let mut gained = false;
        for a in 0..dealt.len() {
            for b in a + 1..dealt.len() {
                let (i, j) = (dealt[a].0, dealt[b].0);
                if turns(spread[i].motif) != turns(spread[j].motif) {
                    continue;
                }
                places.swap(a, b);
                let next = uneven(&looks, &places);
                if next < cost && trade(bodies, wall, spread, pinned, (i, j)) {
                    cost = next;
                    gained = true;
                } else {
                    places.swap(a, b);
                }
            }
        }
        if !gained {
            break;
        }
    }
}

fn wall_radius(wall: &PlacementIndex, pose: &WallPose) -> f64 {
    wall.development().frustum().radius(pose.slant).0
}

/// Puts two in each other's places, if both have room there.
pub(super) fn trade(
    bodies: &[Body],
    wall: &mut PlacementIndex,
    spread: &mut [Placement],
    pinned: usize,
    (i, j): (usize, usize),
) -> bool {
    let put = |wall: &mut PlacementIndex, k: usize, placement: &Placement| {
        wall.move_to(pinned + k, &bodies[placement.motif], placement.pose);
        wall.refine_one(pinned + k, &bodies[placement.motif], placement.pose);
    };
    let swap = |wall: &mut PlacementIndex, spread: &mut [Placement]| {
        let pose = spread[i].pose;
        spread[i].pose = spread[j].pose;
        spread[j].pose = pose;
        put(wall, i, &spread[i]);
        put(wall, j, &spread[j]);
    };
    swap(wall, spread);
    let fits = [i, j].iter().all(|&k| {
        let p = spread[k];
        wall.violation(pinned + k, p.motif, &bodies[p.motif], p.pose).is_none()
    });
    if !fits {
        swap(wall, spread);
    }
    fits
}

/// How uneven a cup is: likeness of near pairs, printed area and colour of sliding thirds of the turn.
fn uneven(looks: &[Look], places: &[(WallPose, f64)]) -> f64 {
    let mut sum = 0.0;
    for (i, (a, r)) in places.iter().enumerate() {
        for (j, (b, s)) in places.iter().enumerate().skip(i + 1) {
            let round = (a.azimuth - b.azimuth).wrapped().rad() * (r + s) / 2.0;
            let d = libm::hypot(round, a.slant.0 - b.slant.0) / NEAR;
            sum += libm::exp(-d * d) * looks[i].like(&looks[j]);
        }
    }
    let (mut area, mut colour) = (0.0f64, 0.0f64);
    let whole = third(looks, places, None);
    for k in 0..THIRDS {
        let from = Angle::radians(TAU * k as f64 / THIRDS as f64);
        let part = third(looks, places, Some(from));
        area = area.max((part.0 * 3.0 / whole.0 - 1.0).abs());
        colour = colour.max(if part.0 > 0.0 { f64::from(apart(part.1, whole.1)) } else { 0.0 });
    }
    let even = looks[0].even;
    sum + if even.size { AREA * area } else { 0.0 } + if even.colour { COLOUR * colour } else { 0.0 }
}

/// Printed area and mean colour of the third of the turn from an azimuth on, or of all of it.
fn third(looks: &[Look], places: &[(WallPose, f64)], from: Option<Angle>) -> (f64, [f32; 3]) {
    let (mut area, mut lab) = (0.0, [0.0f64; 3]);
    for (look, (pose, _)) in looks.iter().zip(places) {
        let inside = from.is_none_or(|f| (pose.azimuth - f).rad().rem_euclid(TAU) < TAU / 3.0);
        if inside {
            area += look.area.0;
            (0..3).for_each(|k| lab[k] += look.area.0 * f64::from(look.lab[k]));
        }
    }
    (area, lab.map(|v| if area > 0.0 { (v / area) as f32 } else { 0.0 }))
}
