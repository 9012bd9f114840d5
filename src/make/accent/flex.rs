//! [`relax_gaps`]: spots shift, turn, grow and bend until the gaps round them are even.
//!
//! Spots take their turns. Each wants its outline to go outwards by its share of what every gap has too much;
//! what all of that has in common becomes a shift and a growth, the rest bends. The nearest outline of each
//! sample bounds how far that sample may go; caps and slopes bound the bends (the least change under linear
//! bounds: projected Gauss-Seidel on the dual). A move counts only when the exact distances of the bent curve
//! hold. Past 600 lines: one step, its bounds and what it may do are read together.
//!
//! Imports: base, outline, read::job, make::accent::{outline, bend, template, cell, obstacle_grid, distance_field,
//! contact, greedy}.

use super::bend::WeightedPoint;
use super::greedy::{self, FillParams, SpotCandidate, home, place};
use super::outline::{CubicLoop, V, add, as_wide_as, dot, extent, len, mul, sub};
use super::template::{NARROWEST, Template};
use crate::base::frame::Art;
use crate::base::random::Random;
use crate::base::tolerance::{HAIR, LEAST_DIVISOR, NO_LENGTH};
use crate::make::accent::contact::Pose;
use crate::make::accent::distance_field::DistanceField;
use crate::make::accent::obstacle_grid::{ObstacleGrid, Owner};
use crate::outline::Region;
use crate::read::job::SpotTurn;

/// Sum of weights that a mean is at least divided by: a knot that nothing asks to move stays.
const LEAST_WEIGHT: f64 = 1e-9;
/// Change of the unknowns, mm, below which sweeps over the bounds end; what is left is asked again in the
/// next step.
const SETTLED: f64 = 2e-4;

/// What a bending spot may do.
#[derive(Clone, Copy, Debug)]
pub(super) struct Give {
    /// Largest displacement of a point, as a part of the spot's size.
    pub cap: f64,
    /// Largest change of the displacement along the outline: reached from 10 mm up, less for small spots.
    pub slope: f64,
    /// Part of what a gap has too much that a spot takes in one turn.
    pub share: f64,
    /// Is a spot free to turn?
    pub turns: bool,
    /// Is its longest extent, bent, held to the sizes asked for? Cells are not: they take what room there is.
    pub sized: bool,
}

/// How a fill is evened.
#[derive(Clone, Copy, Debug)]
pub(super) struct RelaxRules {
    pub cap: f64,
    pub slope: f64,
    /// Is the longest extent held to the sizes asked for?
    pub sized: bool,
    /// Shares of each turn, before and after small spots are put in.
    pub first: &'static [f64],
    pub then: &'static [f64],
}

impl RelaxRules {
    /// Bends that leave a shape its looks.
    pub fn supple(cap: f64) -> RelaxRules {
        RelaxRules { cap, slope: 0.65, sized: true, first: &[0.6, 0.7], then: &[0.7, 0.8, 0.9, 0.9] }
    }
    /// No bends: spots only shift, turn and grow.
    pub fn rigid() -> RelaxRules {
        RelaxRules { cap: 0.0, slope: 1.0, sized: true, first: &[0.5, 0.5, 0.6], then: &[0.6, 0.8] }
    }
    /// Bends on the way to cells.
    pub fn cells() -> RelaxRules {
        RelaxRules { cap: 0.4, slope: CELLS, sized: false, first: &[0.6], then: &[0.8] }
    }
}

/// Slope of displacement that makes cells.
pub(super) const CELLS: f64 = 1.4;
/// Farthest that a sample is looked at beyond the gap, and farthest that it goes in one step, mm.
pub(super) const SIGHT: f64 = 2.5;
const STRIDE: f64 = 1.2;
/// Spare distance that steps aim at beyond what must hold, mm: what linear bounds get wrong.
const SPARE: f64 = 0.004;
/// A spot that went less than this in its last turn sits the next ones out, mm.
pub(super) const REST: f64 = 0.08;
/// Part of the smallest rigid spot's inner radius that a void must have for a squeezed one.
const SQUEEZE: f64 = 0.6;
/// Inverse masses: shift, turn, growth; a node's is 1.
const EASE: [f64; 4] = [0.35, 0.35, 0.25, 0.25];

/// Points a segment by which a bent spot's longest extent is held while it moves.
const COARSE: usize = 5;
/// What those points leave of an extent at least: twelve segments by five are 60 corners round, (pi / 60)^2 / 2.
const COARSELY: f64 = 0.998;
/// By this much, mm, points on a curve may make it look longer or shorter than asked: what is read off a ruler is
/// thirty times as coarse.
const SIZE_SLACK: f64 = 0.01;

/// A bound on the motion: rigid . x + sum weight . v >= b.
struct Bound {
    rigid: [f64; 4],
    knot: usize,
    weight: [f64; 4],
    b: f64,
    y: f64,
    inverse: f64,
}

/// How far a sample wants to go outwards, which way that is, and how much of a growth goes that way.
struct Wish {
    want: f64,
    outward: V,
    growth: f64,
}

/// Evens the gaps of a fill, and puts small spots into what stays too narrow for rigid ones. `bare` is the
/// raster before the first spot; gives the raster after the last.
pub(super) fn relax_gaps(
    kit: &FillParams,
    world: &mut ObstacleGrid,
    bare: &DistanceField,
    drafts: &mut Vec<SpotCandidate>,
    random: &mut Random,
    way: &RelaxRules,
) -> DistanceField {
    let mut bender = SpotBender::new(kit);
    let turns = kit.turn == SpotTurn::Free;
    let give = |share| Give { cap: way.cap, slope: way.slope, share, turns, sized: way.sized };
    let mut gone = vec![f64::INFINITY; drafts.len()];
    let mut pass =
        |world: &mut ObstacleGrid, drafts: &mut [SpotCandidate], bender: &mut SpotBender, share: f64| {
            gone.resize(drafts.len(), f64::INFINITY);
            for (i, d) in drafts.iter_mut().enumerate() {
                // Who hardly moved the last time has come to rest.
                if gone[i] > REST {
                    gone[i] = bender.turn(world, d, kit.first + i, &give(share));
                }
            }
        };
    for &share in way.first {
        pass(world, drafts, &mut bender, share);
    }
    // Neighbours have made room meanwhile.
    let mut field = greedy::painted(kit, world, bare, drafts);
    greedy::fill(kit, world, &mut field, drafts, random, 2);
    insert_deformable(kit, world, &mut field, drafts, &mut bender, &give(0.0));
    for &share in way.then {
        pass(world, drafts, &mut bender, share);
    }
    widen(kit, world, drafts, &mut bender, &give(0.0));
    greedy::painted(kit, world, bare, drafts)
}

/// Bends back spots that became too narrow somewhere, or takes them out.
pub(super) fn widen(
    kit: &FillParams,
    world: &mut ObstacleGrid,
    drafts: &mut Vec<SpotCandidate>,
    bender: &mut SpotBender,
    give: &Give,
) {
    let mut i = 0;
    while i < drafts.len() {
        if bender.widened(world, &mut drafts[i], kit.first + i, give) {
            i += 1;
        } else {
            // It gives up its place; the last takes its number.
            let last = kit.first + drafts.len() - 1;
            world.leave(kit.first + i);
            world.leave(last);
            drafts.swap_remove(i);
            if let Some(moved) = drafts.get(i) {
                world.enter(kit.first + i, std::slice::from_ref(&moved.ring), 0.0);
            }
        }
    }
}

/// Small spots that give way to where they are put, in voids down to the width of a spot that is worth its
/// weeding.
fn insert_deformable(
    kit: &FillParams,
    world: &mut ObstacleGrid,
    field: &mut DistanceField,
    drafts: &mut Vec<SpotCandidate>,
    bender: &mut SpotBender,
    give: &Give,
) {
    field.revive();
    let smallest = |t: &Template| t.inradius * kit.least(t);
    let mut order: Vec<usize> = (0..kit.library.len()).collect();
    order.sort_by(|&a, &b| smallest(&kit.library[a]).total_cmp(&smallest(&kit.library[b])).then(a.cmp(&b)));
    let order = &order[..order.len().min(6)];
    let narrow = order.first().map_or(0.0, |&i| smallest(&kit.library[i]));
    let stop = kit.need + (narrow * SQUEEZE).max(NARROWEST / 2.0);
    for tried in 0.. {
        let (p, d) = field.largest();
        if d < stop || order.is_empty() {
            return;
        }
        let along = field.lengthwise(p);
        let heading = kit.heading(world, p);
        let squeezed = [0, 1].into_iter().find_map(|next| {
            let template = order[(tried + next) % order.len()];
            let t = &kit.library[template];
            let turn = heading.map_or(along - t.axis, |h| kit.turned(h, t));
            let pose = Pose { at: p, turn, size: kit.least(t) };
            // What stood astride an outline may have been pushed to the wrong side of it, or round it: all
            // distances hold there.
            let fits = |d: &SpotCandidate| !field.blotted(d.pose.at) && !world.surrounds(&d.ring);
            bender.squeezed(world, template, pose, give).filter(fits)
        });
        match squeezed {
            Some(draft) => {
                place(world, Some(field), kit.first + drafts.len(), &draft.ring);
                drafts.push(draft);
            }
            None => field.give_up(p),
        }
    }
}

/// A spot on the move.
#[derive(Clone, Debug)]
pub(super) struct Bent {
    pub pose: Pose,
    pub bends: Vec<f64>,
}

impl Bent {
    pub fn of(draft: &SpotCandidate, t: &Template) -> Bent {
        let bends = if draft.bends.is_empty() { vec![0.0; t.hull.nodes.len()] } else { draft.bends.clone() };
        Bent { pose: draft.pose, bends }
    }
    /// The curve at size 1.
    fn curve(&self, t: &Template) -> CubicLoop {
        t.frame.bent(&t.hull, &self.bends)
    }
}

/// Works on one spot at a time; keeps its buffers.
pub(super) struct SpotBender<'a> {
    pub kit: &'a FillParams<'a>,
    bounds: Vec<Bound>,
    v: Vec<f64>,
    /// Places of the curve that were short, beside the samples.
    pub(super) extra: Vec<WeightedPoint>,
}

impl<'a> SpotBender<'a> {
    pub fn new(kit: &'a FillParams<'a>) -> SpotBender<'a> {
        SpotBender { kit, bounds: Vec::new(), v: Vec::new(), extra: Vec::new() }
    }
    /// Is a spot wide enough everywhere?
    pub fn wide(&self, draft: &SpotCandidate) -> bool {
        let t = &self.kit.library[draft.template];
        draft.bends.is_empty() || wide_enough(t, &Bent::of(draft, t))
    }
    /// One turn of a placed spot. Gives how far it went (largest displacement, mm).
    pub fn turn(
        &mut self,
        world: &mut ObstacleGrid,
        draft: &mut SpotCandidate,
        id: usize,
        give: &Give,
    ) -> f64 {
        // Its own outline would only be in the way of every question; its copies beyond the seam stay.
        world.hide(id);
        let gone = self.moved(world, draft, give);
        if let Some((new, gone)) = gone.filter(|m| m.1 > 1e-3) {
            world.leave(id);
            *draft = home(world, new);
            world.enter(id, std::slice::from_ref(&draft.ring), 0.0);
            return gone;
        }
        world.show(id, &draft.ring);
        0.0
    }
    /// Where a turn takes a spot that is not in the world, and how far that is.
    fn moved(
        &mut self,
        world: &ObstacleGrid,
        draft: &SpotCandidate,
        give: &Give,
    ) -> Option<(SpotCandidate, f64)> {
        let t = &self.kit.library[draft.template];
        let start = Bent::of(draft, t);
        let give = Give { cap: give.cap * t.supple, ..*give };
        let mut spot = start.clone();
        self.extra.clear();
        self.step(world, t, &mut spot, (&give, give.share), None);
        // Half of the way where all of it is too much: for bounds that are straight, or for the narrowest
        // place.
        [1.0, 0.4].into_iter().find_map(|part| {
            let mut spot = between(&start, &spot, part);
            let ring = self.mended(world, t, &mut spot, &give, None)?;
            let gone = ring_gone(&draft.ring, &ring);
            (likely_wide_enough(t, &spot) && self.sized(&ring, &give)).then_some((
                SpotCandidate { template: draft.template, pose: spot.pose, bends: spot.bends, ring },
                gone,
            ))
        })
    }
    /// Bends back what became too narrow, as far as its neighbours allow; false if it cannot be helped.
    fn widened(
        &mut self,
        world: &mut ObstacleGrid,
        draft: &mut SpotCandidate,
        id: usize,
        give: &Give,
    ) -> bool {
        let t = &self.kit.library[draft.template];
        let mut spot = Bent::of(draft, t);
        if draft.bends.is_empty() || wide_enough(t, &spot) {
            return true;
        }
        let me = Some(Owner::new(id, 0));
        for _ in 0..5 {
            spot.bends.iter_mut().for_each(|b| *b *= 0.6);
            spot.pose.size = (0.97 * spot.pose.size).max(self.kit.least(t));
            self.extra.clear();
            let give = Give { cap: spot.bends.iter().fold(0.0, |m: f64, b| m.max(b.abs())), ..*give };
            if let Some(ring) = self.mended(world, t, &mut spot, &give, me)
                && wide_enough(t, &spot)
                && self.sized(&ring, &give)
            {
                world.leave(id);
                *draft = home(
                    world,
                    SpotCandidate { template: draft.template, pose: spot.pose, bends: spot.bends, ring },
                );
                world.enter(id, std::slice::from_ref(&draft.ring), 0.0);
                return true;
            }
        }
        false
    }
    /// Mends a step until the exact distances of the bent curve hold: places that are short join the bounds.
    pub(super) fn mended(
        &mut self,
        world: &ObstacleGrid,
        t: &Template,
        spot: &mut Bent,
        give: &Give,
        me: Option<Owner>,
    ) -> Option<Vec<V>> {
        for _ in 0..5 {
            let curve = spot.curve(t);
            let steps = curve.steps(spot.pose.size);
            let mut ring = curve.ring(steps);
            spot.pose.carry(&mut ring);
            let mut short = Vec::new();
            world.short_of(&ring, self.kit.need, me, &mut |at| {
                short.push(at / steps as f64);
                short.len() < 32
            });
            if short.is_empty() {
                return Some(ring);
            }
            for at in short {
                let knot = libm::floor(at) as usize % t.hull.nodes.len();
                self.extra.push(t.frame.sample(&t.hull, knot, at - libm::floor(at)));
            }
            self.step(world, t, spot, (give, 0.0), me);
        }
        None
    }
    /// A new spot at a place that is too narrow for a rigid one: starts at its smallest size and gives way.
    pub fn squeezed(
        &mut self,
        world: &ObstacleGrid,
        template: usize,
        at: Pose,
        give: &Give,
    ) -> Option<SpotCandidate> {
        let t = &self.kit.library[template];
        let give = Give { cap: give.cap * t.supple, ..*give };
        let mut spot = Bent { pose: at, bends: vec![0.0; t.hull.nodes.len()] };
        self.extra.clear();
        for _ in 0..3 {
            self.step(world, t, &mut spot, (&give, 0.0), None);
        }
        let ring = self.mended(world, t, &mut spot, &give, None)?;
        let long = if give.sized { self.kit.smallest } else { self.kit.least(t) * 0.98 };
        let holds = extent(&ring) >= long && self.sized(&ring, &give) && likely_wide_enough(t, &spot);
        holds.then(|| home(world, SpotCandidate { template, pose: spot.pose, bends: spot.bends, ring }))
    }
    /// Is a bent outline as long as was asked, from the smallest to the largest size?
    fn sized(&self, ring: &[V], give: &Give) -> bool {
        if !give.sized {
            return true;
        }
        let long = extent(ring);
        long <= self.kit.largest + SIZE_SLACK && long >= self.kit.smallest - SIZE_SLACK
    }
    /// One linear step towards even gaps, by `share` of what each has too much.
    fn step(
        &mut self,
        world: &ObstacleGrid,
        t: &Template,
        spot: &mut Bent,
        (give, share): (&Give, f64),
        me: Option<Owner>,
    ) {
        let size = spot.pose.size;
        let radius = t.radius * size;
        let wants = self.wishes(world, t, spot, (give, share), me);
        let m = t.frame.samples.len() as f64;
        let (mut shift, mut growth) = ([0.0; 2], 0.0);
        for Wish { want, outward, .. } in &wants {
            shift = add(shift, mul(*outward, 2.0 * want / m));
            growth += want / m;
        }
        if share == 0.0 {
            (shift, growth) = ([0.0; 2], 0.0);
        }
        growth = growth.min((self.kit.most(t) / size - 1.0) * radius);
        self.bends_wished(t, &wants, (shift, growth), share);
        let mut x = [shift[0], shift[1], 0.0, growth];
        self.solve(t, spot, give, &mut x, radius);
        for (u, v) in spot.bends.iter_mut().zip(&self.v) {
            *u = (*u + v / size).clamp(-give.cap, give.cap);
        }
        spot.pose.at = add(spot.pose.at, [x[0], x[1]]);
        spot.pose.turn += x[2] / radius;
        let least = self.kit.least(t);
        // Bent, it is longer than its size: it grows no further than what the maker calls the largest.
        let stretch = if give.sized { extent(&spot.curve(t).ring(COARSE)).max(1.0) } else { 1.0 };
        let most = (COARSELY * self.kit.largest / stretch).max(least);
        spot.pose.size = (size * (1.0 + x[3] / radius)).clamp(least, most);
    }
    /// How far each sample of the outline wants to go outwards; the bounds of the step go to `self.bounds`.
    fn wishes(
        &mut self,
        world: &ObstacleGrid,
        t: &Template,
        spot: &Bent,
        (give, share): (&Give, f64),
        me: Option<Owner>,
    ) -> Vec<Wish> {
        let n = t.hull.nodes.len();
        let size = spot.pose.size;
        let (c, s) = (libm::cos(spot.pose.turn), libm::sin(spot.pose.turn));
        let turned = |p: V| [c * p[0] - s * p[1], s * p[0] + c * p[1]];
        let radius = t.radius * size;
        let need = self.kit.need + SPARE;
        let reach = need + SIGHT;
        self.bounds.clear();
        let normals: Vec<V> = t.frame.normals.iter().map(|p| turned(*p)).collect();
        let mut wants: Vec<Wish> = Vec::with_capacity(t.frame.samples.len());
        // A sample's nearest is no farther than that of the sample before, plus the way between.
        let (mut before, mut look) = (spot.pose.at, reach);
        for sample in t.frame.samples.iter().chain(&self.extra) {
            let local = add(sample.at, t.frame.moved(sample, &spot.bends));
            let r = mul(turned(local), size);
            let p = add(r, spot.pose.at);
            let outward = turned(sample.normal);
            let mut bound = |away: V, d: f64| {
                let mut weight = [0.0; 4];
                for (j, w) in sample.weight.iter().enumerate() {
                    weight[j] = w * dot(away, normals[(sample.knot + n + j - 1) % n]);
                }
                let rigid =
                    [away[0], away[1], (away[1] * r[0] - away[0] * r[1]) / radius, dot(away, r) / radius];
                self.bounds.push(bound_of(rigid, sample.knot, weight, need - d, give.turns));
            };
            let slant = world.slant(p);
            let (mut room, mut still) = (reach, false);
            for (d, way) in [(slant - world.low, 1.0), (world.high - slant, -1.0)] {
                if d < reach {
                    bound(mul(world.up(p), way), d);
                    if d < room {
                        (room, still) = (d, true);
                    }
                }
            }
            let known = (look + len(sub(p, before)) + HAIR).min(reach);
            (before, look) = (p, reach);
            if let Some(hit) = world.nearest(p, known, me) {
                look = hit.d;
                let off = sub(p, hit.at);
                let l = len(off);
                // On the wrong side of an outline: back the way that the outline faces.
                if l > NO_LENGTH {
                    bound(mul(off, 1.0 / l), hit.d);
                }
                if hit.d < room {
                    (room, still) = (hit.d, hit.still(self.kit.first));
                }
            }
            let part = if still { share.max(if share > 0.0 { 0.9 } else { 0.0 }) } else { share };
            let want = (part * (room - need)).clamp(-STRIDE, STRIDE);
            wants.push(Wish { want, outward, growth: dot(r, outward) / radius });
        }
        wants
    }
    /// What shift and growth leave of the wishes, as bends of the knots, to `self.v`.
    fn bends_wished(&mut self, t: &Template, wants: &[Wish], (shift, growth): (V, f64), share: f64) {
        let n = t.hull.nodes.len();
        self.v.clear();
        self.v.resize(n, 0.0);
        if share <= 0.0 {
            return;
        }
        let mut sum = vec![0.0; n];
        for (sample, wish) in t.frame.samples.iter().zip(wants) {
            let rest = wish.want - dot(shift, wish.outward) - growth * wish.growth;
            for (j, w) in sample.weight.iter().enumerate() {
                let k = (sample.knot + n + j - 1) % n;
                self.v[k] += w * rest;
                sum[k] += w;
            }
        }
        self.v.iter_mut().zip(&sum).for_each(|(v, s)| *v /= s.max(LEAST_WEIGHT));
    }
    /// Projects the wishes in `x` and `self.v` onto all bounds.
    fn solve(&mut self, t: &Template, spot: &Bent, give: &Give, x: &mut [f64; 4], radius: f64) {
        let n = t.hull.nodes.len();
        let size = spot.pose.size;
        let most = (self.kit.most(t) / size - 1.0) * radius;
        let least = (self.kit.least(t) / size - 1.0) * radius;
        let mut slopes = vec![(0.0f64, 0.0f64); n];
        let v = &mut self.v;
        for _ in 0..16 {
            let mut moved = 0.0f64;
            for c in &mut self.bounds {
                let mut at = c.rigid[0] * x[0] + c.rigid[1] * x[1] + c.rigid[2] * x[2] + c.rigid[3] * x[3];
                let ks = [(c.knot + n - 1) % n, c.knot, (c.knot + 1) % n, (c.knot + 2) % n];
                for j in 0..4 {
                    at += c.weight[j] * v[ks[j]];
                }
                let y = (c.y + (c.b - at) * c.inverse).max(0.0);
                let dy = y - c.y;
                if dy != 0.0 {
                    c.y = y;
                    for j in 0..4 {
                        x[j] += EASE[j] * c.rigid[j] * dy;
                        v[ks[j]] += c.weight[j] * dy;
                    }
                    moved = moved.max(dy.abs());
                }
            }
            if !give.turns {
                x[2] = 0.0;
            }
            x[3] = x[3].clamp(least, most);
            for k in 0..n {
                // |du/ds| along the outline stays below SLOPE.
                let next = (k + 1) % n;
                let limit = give.slope * (0.46 + 0.054 * size).min(1.0) * t.frame.arcs[k] * size;
                let rise = (spot.bends[next] - spot.bends[k]) * size + v[next] - v[k];
                let y = (slopes[k].0 + (rise - limit) / 2.0).max(0.0);
                let z = (slopes[k].1 + (-rise - limit) / 2.0).max(0.0);
                let d = (y - slopes[k].0) - (z - slopes[k].1);
                slopes[k] = (y, z);
                v[next] -= d;
                v[k] += d;
                let cap = give.cap * size;
                v[k] = v[k].clamp(-cap - spot.bends[k] * size, cap - spot.bends[k] * size);
            }
            if moved < SETTLED {
                break;
            }
        }
    }
}

fn bound_of(rigid: [f64; 4], knot: usize, weight: [f64; 4], b: f64, turns: bool) -> Bound {
    let mut norm: f64 = weight.iter().map(|w| w * w).sum();
    let mut rigid = rigid;
    if !turns {
        rigid[2] = 0.0;
    }
    norm += rigid.iter().zip(EASE).map(|(a, e)| a * a * e).sum::<f64>();
    Bound { rigid, knot, weight, b, y: 0.0, inverse: 1.0 / norm.max(LEAST_DIVISOR) }
}

/// A part of the way from one state to another.
fn between(from: &Bent, to: &Bent, part: f64) -> Bent {
    if part == 1.0 {
        return to.clone();
    }
    let mix = |a: f64, b: f64| a + part * (b - a);
    Bent {
        pose: Pose {
            at: [mix(from.pose.at[0], to.pose.at[0]), mix(from.pose.at[1], to.pose.at[1])],
            turn: mix(from.pose.turn, to.pose.turn),
            size: mix(from.pose.size, to.pose.size),
        },
        bends: from.bends.iter().zip(&to.bends).map(|(a, b)| mix(*a, *b)).collect(),
    }
}

/// By this many points a segment; see [`outline::as_wide_as`](super::outline::as_wide_as). A little to spare
/// is for what lies between points.
fn wide_enough(t: &Template, spot: &Bent) -> bool {
    wide(t, spot, 12, 1.03) && !crosses(t, spot)
}

/// Does a bent outline cross itself? Where sides of a sickle were bent through each other, or a node's handles past
/// one another, no ball between them shows it.
fn crosses(t: &Template, spot: &Bent) -> bool {
    let grown = spot.curve(t).map(|p| mul(p, spot.pose.size));
    t.parts.is_empty() && Region::<Art>::trusted([grown.path()]).crosses()
}

/// The same by fewer points, which miss a little, and so with more to spare.
pub(super) fn likely_wide_enough(t: &Template, spot: &Bent) -> bool {
    wide(t, spot, 6, 1.06)
}

fn wide(t: &Template, spot: &Bent, steps: usize, spare: f64) -> bool {
    // What is slimmer as drawn may be so, but no bend makes it slimmer by more than a tenth.
    let limit = NARROWEST.min(0.9 * t.width * spot.pose.size).max(t.weed);
    !t.parts.is_empty() || as_wide_as(&spot.curve(t).ring(steps), spare * limit / spot.pose.size)
}

fn ring_gone(a: &[V], b: &[V]) -> f64 {
    if a.len() != b.len() {
        return 1.0;
    }
    a.iter().zip(b).map(|(p, q)| len(sub(*p, *q))).fold(0.0, f64::max)
}
