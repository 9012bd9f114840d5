//! [`grow_to_contact`]: a shape grows from a void until it is held by its neighbours, shifting and turning as
//! it grows.
//!
//! Each step is a small linear problem: the nearest outline of each corner bounds how far that corner may go
//! along the direction away from it; growth is pushed for, the rest yields (projected Gauss-Seidel on the
//! dual). Steps that bite are taken back by the next one, and only a pose whose exact distances hold is kept.
//!
//! Imports: base, outline, make::accent::{template, cell, obstacle_grid, distance_field}.

use super::outline::{V, dot, sub};
use super::template::Template;
use crate::base::tolerance::{HAIR, NO_LENGTH};
use crate::make::accent::distance_field::DistanceField;
use crate::make::accent::obstacle_grid::{ObstacleGrid, Owner};

/// What a spot that comes too near shrinks by beyond what it lacks, mm: it ends clear of the bound, never on
/// it.
const SHORTER: f64 = 1e-4;
/// Change of the unknowns, mm, below which sweeps over the bounds end; what is left is asked again in the
/// next step.
const SETTLED: f64 = 1e-4;

/// Where a shape is: its origin, turn (radians, counter-clockwise) and size (mm).
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Pose {
    pub at: V,
    pub turn: f64,
    pub size: f64,
}

impl Pose {
    /// The corners of a template here.
    pub fn ring(&self, t: &Template) -> Vec<V> {
        let mut out = Vec::with_capacity(t.ring.len());
        self.ring_into(t, 1, &mut out);
        out
    }
    /// Carries points of the size-1 frame here.
    pub fn carry(&self, points: &mut [V]) {
        let (c, s) = (libm::cos(self.turn) * self.size, libm::sin(self.turn) * self.size);
        for p in points {
            *p = [c * p[0] - s * p[1] + self.at[0], s * p[0] + c * p[1] + self.at[1]];
        }
    }
    fn ring_into(&self, t: &Template, every: usize, out: &mut Vec<V>) {
        let (c, s) = (libm::cos(self.turn) * self.size, libm::sin(self.turn) * self.size);
        out.clear();
        out.extend(
            t.ring
                .iter()
                .step_by(every)
                .map(|p| [c * p[0] - s * p[1] + self.at[0], s * p[0] + c * p[1] + self.at[1]]),
        );
    }
}

/// What a settling shape may do.
#[derive(Clone, Copy, Debug)]
pub(super) struct Rules {
    /// Distance to keep.
    pub need: f64,
    /// Smallest size.
    pub least: f64,
    /// Largest size.
    pub most: f64,
    /// May it turn?
    pub turns: bool,
    /// Steps at most.
    pub steps: usize,
    /// How hard growth is pushed for, mm of radius a step.
    pub push: f64,
}

/// Farthest that a corner goes in one step, mm.
const STRIDE: f64 = 1.5;

/// One bound on the motion: a . x >= b, with x = (shift x, shift y, turn times radius, growth times radius).
struct Bound {
    a: [f64; 4],
    b: f64,
    y: f64,
}

/// Settles a shape; gives its pose and corners if it reaches the smallest size with all distances kept.
pub(super) fn grow_to_contact(
    world: &ObstacleGrid,
    guide: Option<&DistanceField>,
    t: &Template,
    start: Pose,
    rules: &Rules,
    but: Option<Owner>,
) -> Option<(Pose, Vec<V>)> {
    let mut pose = start;
    let mut best: Option<Pose> = None;
    let every = t.ring.len().div_ceil(32);
    let mut ring = Vec::new();
    let mut bounds: Vec<Bound> = Vec::new();

    for step in 0..rules.steps {
        pose.ring_into(t, every, &mut ring);
        let radius = t.radius * pose.size;
        let worst = gather((world, guide, but), (&pose, radius), &ring, rules, &mut bounds);
        if worst >= -0.01 {
            let before = best.map_or(0.0, |b| b.size);
            let gained = (pose.size - before).max(0.0);
            if gained > 0.0 {
                best = Some(pose);
            }
            if gained < 0.004 * pose.size && step > 2 {
                break;
            }
        }
        let x = solve(&mut bounds, &pose, radius, rules);
        pose.at = [pose.at[0] + x[0], pose.at[1] + x[1]];
        pose.turn += x[2] / radius;
        pose.size = (pose.size * (1.0 + x[3] / radius)).clamp(0.25 * rules.least, rules.most);
        if !rules.turns {
            pose.turn = start.turn;
        }
    }
    finish(world, t, best?, rules, but)
}

/// Shrinks a nearly good pose until its exact distances hold.
pub(super) fn finish(
    world: &ObstacleGrid,
    t: &Template,
    mut pose: Pose,
    rules: &Rules,
    but: Option<Owner>,
) -> Option<(Pose, Vec<V>)> {
    for _ in 0..8 {
        if pose.size < rules.least {
            return None;
        }
        let ring = pose.ring(t);
        if world.holds(&ring, rules.need, but) {
            return Some((pose, ring));
        }
        let d = exact(world, &ring, rules.need, but);
        if d < 0.5 * rules.need {
            return None;
        }
        pose.size *= 1.0 - ((rules.need - d) * 1.02 + SHORTER) / (t.inradius * pose.size);
    }
    None
}

/// Least distance of a closed polyline to everything, each outline's own wish taken off, up to `need`.
pub(super) fn exact(world: &ObstacleGrid, ring: &[V], need: f64, but: Option<Owner>) -> f64 {
    let mut best = need;
    let d: Vec<f64> = ring
        .iter()
        .map(|p| {
            best = best.min(world.band(*p));
            world.nearest(*p, need + 1.0, but).map_or(need + 1.0, |h| h.d)
        })
        .collect();
    if best < 0.5 * need { best } else { best.min(world.clear(ring, &d, need, but)) }
}

/// Bounds from all corners that are near anything; gives the least margin over the distance to keep.
fn gather(
    (world, guide, but): (&ObstacleGrid, Option<&DistanceField>, Option<Owner>),
    (pose, radius): (&Pose, f64),
    ring: &[V],
    rules: &Rules,
    bounds: &mut Vec<Bound>,
) -> f64 {
    bounds.clear();
    let mut worst = f64::INFINITY;
    let reach = rules.need + STRIDE;
    let mut bound = |p: V, n: V, d: f64| {
        let r = sub(p, pose.at);
        let a = [n[0], n[1], (n[1] * r[0] - n[0] * r[1]) / radius, dot(n, r) / radius];
        bounds.push(Bound { a, b: rules.need - d, y: 0.0 });
        worst = worst.min(d - rules.need);
    };
    let (mut before, mut last) = (pose.at, reach);
    for &p in ring {
        let known = (last + dot(sub(p, before), sub(p, before)).sqrt() + HAIR).min(reach);
        (before, last) = (p, reach);
        let slant = world.slant(p);
        if slant - world.low < reach {
            bound(p, world.up(p), slant - world.low);
        }
        if world.high - slant < reach {
            let up = world.up(p);
            bound(p, [-up[0], -up[1]], world.high - slant);
        }
        // The raster tells at once where nothing is near, and how far to look where something is.
        let look = match guide.map(|g| g.distance(p) - 0.9 * g.pixel) {
            Some(far) if far > reach => continue,
            Some(near) if near > 0.0 => (near + 1.8 * guide.map_or(0.0, |g| g.pixel)).min(known),
            _ => known,
        };
        if let Some(hit) = world.nearest(p, look, but) {
            last = hit.d;
            let v = sub(p, hit.at);
            let l = dot(v, v).sqrt();
            if l > NO_LENGTH {
                bound(p, [v[0] / l, v[1] / l], hit.d);
            }
        }
    }
    worst
}

/// Minimises |x|^2 / 2 - push * growth under the bounds.
fn solve(bounds: &mut Vec<Bound>, pose: &Pose, radius: f64, rules: &Rules) -> [f64; 4] {
    let room = (rules.most / pose.size - 1.0) * radius;
    bounds.push(Bound { a: [0.0, 0.0, 0.0, -1.0], b: -room, y: 0.0 });
    let mut x = [0.0, 0.0, 0.0, rules.push];
    for _ in 0..24 {
        let mut moved = 0.0f64;
        for c in bounds.iter_mut() {
            let a = &c.a;
            let norm = a[0] * a[0] + a[1] * a[1] + if rules.turns { a[2] * a[2] } else { 0.0 } + a[3] * a[3];
            let at = a[0] * x[0] + a[1] * x[1] + a[2] * x[2] + a[3] * x[3];
            let y = (c.y + (c.b - at) / norm).max(0.0);
            let dy = y - c.y;
            if dy != 0.0 {
                c.y = y;
                x[0] += a[0] * dy;
                x[1] += a[1] * dy;
                if rules.turns {
                    x[2] += a[2] * dy;
                }
                x[3] += a[3] * dy;
                moved = moved.max(dy.abs());
            }
        }
        if moved < SETTLED {
            break;
        }
    }
    // A corner goes no farther than the bounds were gathered for.
    let far = (x[0] * x[0] + x[1] * x[1]).sqrt() + x[2].abs() + x[3].abs();
    let hold = (STRIDE / far.max(NO_LENGTH)).min(1.0);
    x.map(|v| v * hold)
}
