//! Spreading: each motif to the place with most room, largest first, then all pushed apart until nothing
//! gains.
//!
//! Imports: base, read::job, make::motif, make::motif::placements.

use super::{Motif, Placement};
use crate::base::random::Random;
use crate::base::units::{Angle, Mm, Seed};
use crate::make::motif::placements::{Body, PlacementIndex};
use crate::read::job::{Placing, Turning, WallPose};

/// Share of a girth below which two girths are one and the wall is a cylinder: the formula of a cone would
/// divide by nothing.
const SAME_GIRTH: f64 = 1e-9;

/// Whole attempts, each from its own random stream; the first without a clash is taken.
const ATTEMPTS: u64 = 6;
/// Motifs that lack room after an attempt, and a quarter of all, beyond which another attempt was never seen to
/// help.
const HOPELESS: usize = 12;
/// Places offered to each motif before it is put up.
const OFFERS: usize = 160;
/// Steps of the pushing, mm; several sweeps each.
const STEPS: [f64; 5] = [8.0, 4.0, 2.0, 1.0, 0.5];
const SWEEPS: usize = 5;

/// Stands all motifs that are to be spread; the best attempt stands when none is without a clash.
pub(super) fn spread(
    motifs: &[Motif],
    bodies: &[Body],
    wall: &mut PlacementIndex,
    seed: Seed,
    zone: usize,
) -> Vec<Placement> {
    let items = items(motifs, bodies);
    let pinned = wall.len();
    let pinned_poses: Vec<WallPose> = motifs
        .iter()
        .flat_map(|m| match &m.placing {
            Placing::Pinned(p) => p.clone(),
            Placing::Spread { .. } | Placing::Many { .. } => Vec::new(),
        })
        .collect();
    let mut best: Option<(f64, Vec<WallPose>)> = None;
    for attempt in 0..ATTEMPTS {
        wall.truncate(pinned);
        let mut random = Random::new(seed, "motif", attempt + ATTEMPTS * zone as u64);
        let mut poses = first_places(motifs, bodies, wall, &items, &mut random);
        let turnings: Vec<Turning> = motifs.iter().map(turning).collect();
        push_apart(&turnings, bodies, wall, &items, &mut poses, pinned);
        wall.refine(bodies, pinned_poses.iter().chain(&poses).copied());
        let lacks: Vec<f64> = items
            .iter()
            .enumerate()
            .filter_map(|(i, &(m, _))| wall.violation(pinned + i, m, &bodies[m], poses[i]))
            .map(|t| t.shortfall.0)
            .collect();
        let shortfall: f64 = lacks.iter().sum();
        if best.as_ref().is_none_or(|b| shortfall < b.0) {
            best = Some((shortfall, poses));
        }
        let hopeless = lacks.len() > HOPELESS.max(items.len() / 4);
        if shortfall == 0.0 || items.is_empty() || hopeless {
            break;
        }
    }
    let poses = best.map(|b| b.1).unwrap_or_default();
    wall.truncate(pinned);
    for (&(m, _), &pose) in items.iter().zip(&poses) {
        wall.place(m, &bodies[m], pose);
    }
    wall.refine(bodies, pinned_poses.iter().chain(&poses).copied());
    let placed = |(&(motif, copy), pose): (&(usize, usize), WallPose)| Placement {
        motif,
        copy: motifs[motif].copies[copy],
        zone,
        pose,
    };
    items.iter().zip(poses).map(placed).collect()
}

/// Largest first; copies of one motif dealt in turn with the others of its size, so that each finds a region
/// of its own.
fn items(motifs: &[Motif], bodies: &[Body]) -> Vec<(usize, usize)> {
    let mut items = Vec::new();
    for (m, motif) in motifs.iter().enumerate() {
        if let Placing::Spread { copies, .. } = motif.placing {
            items.extend((0..copies).map(|c| (m, c)));
        }
    }
    items.sort_by(|a, b| bodies[b.0].disc.total_cmp(&bodies[a.0].disc).then(a.cmp(b)));
    items
}

fn turning(motif: &Motif) -> Turning {
    match motif.placing {
        Placing::Spread { turning, .. } | Placing::Many { turning, .. } => turning,
        Placing::Pinned(_) => Turning::Upright,
    }
}

fn first_turn(turning: Turning, random: &mut Random) -> Angle {
    let u = random.between(-1.0, 1.0);
    match turning {
        Turning::Upright => Angle::ZERO,
        Turning::Within(a) => a * u,
        Turning::Free => Angle::TURN * (u / 2.0),
    }
}

fn first_places(
    motifs: &[Motif],
    bodies: &[Body],
    wall: &mut PlacementIndex,
    items: &[(usize, usize)],
    random: &mut Random,
) -> Vec<WallPose> {
    // Additive recurrence of the plastic number (M. Roberts' R2): offers cover the wall evenly from any
    // start.
    const R2: (f64, f64) = (0.754_877_666_246_693, 0.569_840_290_998_053);
    let (low, high) = wall.low_high();
    let (mut u, mut v) = (random.unit(), random.unit());
    let mut poses = Vec::with_capacity(items.len());
    for &(m, _) in items {
        let body = &bodies[m];
        let half = body.bounds.height().0.min(body.bounds.width().0) / 2.0;
        let mut offers: Vec<(f64, WallPose)> = (0..OFFERS)
            .map(|_| {
                u = (u + R2.0).fract();
                v = (v + R2.1).fract();
                let slant = slant_by_area(wall, low.0 + half, high.0 - half, v);
                let pose = WallPose {
                    azimuth: Angle::TURN * (u - 0.5),
                    slant,
                    turn: first_turn(turning(&motifs[m]), random),
                };
                (wall.rough(m, body, pose), pose)
            })
            .collect();
        offers.sort_by(|a, b| b.0.total_cmp(&a.0));
        offers.truncate(4);
        let me = wall.len();
        let mut best = (f64::INFINITY, offers[0].1);
        for (_, pose) in offers {
            if let Some(e) = wall.energy(me, body, pose, best.0) {
                best = (e, pose);
            }
        }
        let pose = best.1;
        wall.place(m, body, pose);
        poses.push(pose);
    }
    poses
}

/// A slant such that equal areas of wall get equal shares: girth is linear in slant, so its inverse is a
/// root.
fn slant_by_area(wall: &PlacementIndex, low: f64, high: f64, share: f64) -> Mm {
    if high <= low {
        return Mm((low + high) / 2.0);
    }
    let f = wall.development();
    let (g0, g1) = (f.girth(Mm(low)).0, f.girth(Mm(high)).0);
    let g = (g0 * g0 + share * (g1 * g1 - g0 * g0)).sqrt();
    let t = if (g1 - g0).abs() < SAME_GIRTH * g0 { share } else { (g - g0) / (g1 - g0) };
    Mm(low + t * (high - low))
}

/// Pattern search: each motif in turn tries eight directions (and two turns, where it may) and takes what
/// lowers its energy.
pub(super) fn push_apart(
    turnings: &[Turning],
    bodies: &[Body],
    wall: &mut PlacementIndex,
    items: &[(usize, usize)],
    poses: &mut [WallPose],
    pinned: usize,
) {
    for step in STEPS {
        for _ in 0..SWEEPS {
            let mut moved = false;
            for (i, &(m, _)) in items.iter().enumerate() {
                let here =
                    wall.energy(pinned + i, &bodies[m], poses[i], f64::INFINITY).unwrap_or(f64::INFINITY);
                let mut best = (here, poses[i]);
                for pose in neighbours(wall, poses[i], step, turnings[m]) {
                    if let Some(e) = wall.energy(pinned + i, &bodies[m], pose, best.0) {
                        best = (e, pose);
                    }
                }
                if best.0 < here {
                    poses[i] = best.1;
                    wall.move_to(pinned + i, &bodies[m], best.1);
                    moved = true;
                }
            }
            if !moved {
                break;
            }
        }
    }
}

fn neighbours(wall: &PlacementIndex, p: WallPose, step: f64, turning: Turning) -> Vec<WallPose> {
    let radius = wall.development().radius(p.slant).0;
    let mut out: Vec<WallPose> = [(1, 0), (1, 1), (0, 1), (-1, 1), (-1, 0), (-1, -1), (0, -1), (1, -1)]
        .iter()
        .map(|&(x, y)| WallPose {
            azimuth: (p.azimuth + Angle::radians(step * f64::from(x) / radius)).wrapped(),
            slant: Mm(p.slant.0 + step * f64::from(y)),
            turn: p.turn,
        })
        .collect();
    let by = Angle::degrees(step * 3.0);
    match turning {
        Turning::Upright => {}
        Turning::Within(limit) => {
            let clamp = |a: Angle| Angle::radians(a.rad().clamp(-limit.rad(), limit.rad()));
            out.extend([by, -by].map(|b| WallPose { turn: clamp(p.turn + b), ..p }));
        }
        Turning::Free => out.extend([by, -by].map(|b| WallPose { turn: (p.turn + b).wrapped(), ..p })),
    }
    out
}
