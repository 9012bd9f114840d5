//! Overlaps resolved: pieces are taken up one by one and put down where they overlap least, and pairs that
//! keep overlapping weigh more and more (guided local search).
//!
//! Source: Gardeyn and Wauters 2025, arXiv 2509.13329; the weights, samples and steps are theirs, the
//! collision test is not. Two workers go through the overlapping pieces in orders of their own and the better
//! one is taken: two whatever the machine, so that the same job gives the same sheets.
//!
//! Imports: base, read::job, make::film::clash.

use super::clash::{Box4, CollisionShape, EdgeBlocks, ShapePose, meet};
use crate::base::random::Random;
use crate::base::tolerance::ASIDE;
use crate::base::units::Seed;
use crate::read::job::Grain;
use std::f64::consts::{PI, TAU};

/// What is to be laid without overlap.
#[derive(Debug)]
pub struct Task {
    /// Shapes.
    pub forms: Vec<CollisionShape>,
    /// The shape of each piece.
    pub items: Vec<usize>,
    /// How pieces may turn.
    pub grain: Grain,
    /// Where grown outlines may lie: left and right edge, and the lower edge.
    pub room: [f64; 3],
    /// What is placed on the wall before and after each piece, and is to lie near it; empty if any place will do.
    pub chain: Vec<[Option<usize>; 2]>,
    /// Pieces that keep their turn; empty if none.
    pub still: Vec<bool>,
}

/// What a millimetre from the piece before costs beside overlap.
const PULL: f32 = 0.05;

impl Task {
    /// Ways from the piece before and to the one after, with a piece at a place.
    fn ways(&self, i: usize, at: &ShapePose, places: &[ShapePose]) -> f64 {
        let ends = self.chain.get(i).into_iter().flatten().flatten();
        ends.map(|k| libm::hypot(places[*k].x - at.x, places[*k].y - at.y)).sum()
    }
    /// Ways from piece to piece along the order, all together.
    pub fn hops(&self, places: &[ShapePose]) -> f64 {
        places.iter().enumerate().map(|(i, p)| self.ways(i, p, places)).sum::<f64>() / 2.0
    }
    /// Does this piece lie in an order?
    fn in_order(&self, i: usize) -> bool {
        self.chain.get(i).is_some_and(|c| c.iter().any(Option::is_some))
    }
    fn turns(&self, i: usize) -> Grain {
        if self.still.get(i).copied().unwrap_or(false) { Grain::Fixed } else { self.grain }
    }
}

/// Pieces laid, with what each pair overlaps.
#[derive(Clone, Debug)]
pub struct Layout<'a> {
    task: &'a Task,
    /// Upper edge of the room.
    pub top: f64,
    /// Where each piece lies.
    pub places: Vec<ShapePose>,
    sets: Vec<EdgeBlocks>,
    boxes: Vec<Box4>,
    /// Overlap of each pair, as a square.
    loss: Vec<f32>,
}

/// Weights of pairs: at least 1, growing while a pair overlaps.
#[derive(Debug)]
pub struct Weights(Vec<f32>);

const GROWTH: [f32; 2] = [1.2, 2.0];
const DECAY: f32 = 0.95;
/// Places tried over the whole room, and near where the piece lies.
const WIDE: usize = 50;
const CLOSE: usize = 25;
/// Overlapping pieces from which on two threads are worth waking; it changes the time only.
const WORTH_TWO: usize = 4;
/// Of those, so many are followed downhill.
const FOLLOWED: usize = 3;
/// Share of an extent below which overlap counts softly.
const SOFT: f32 = 0.01;
/// Steps downhill: first and last as part of a piece's narrower side, then turns in degrees; coarse and fine.
const COARSE: [f64; 4] = [0.25, 0.02, 5.0, 1.0];
const FINE: [f64; 4] = [0.01, 0.001, 0.5, 0.05];

impl<'a> Layout<'a> {
    /// Pieces at places, pushed inside the room where they stick out.
    pub fn new(task: &'a Task, places: &[ShapePose], top: f64) -> Self {
        let n = task.items.len();
        let mut layout = Self {
            task,
            top,
            places: places.to_vec(),
            sets: vec![EdgeBlocks::default(); n],
            boxes: vec![[0.0; 4]; n],
            loss: vec![0.0; n * n],
        };
        layout.reset(places);
        layout
    }
    /// All pieces put anew.
    pub fn reset(&mut self, places: &[ShapePose]) {
        let n = places.len();
        let mut home = EdgeBlocks::default();
        for (i, &p) in places.iter().enumerate() {
            self.task.forms[self.task.items[i]].turned_into(p.cs, &mut home);
            let p = self.within(&home, p).unwrap_or(p);
            self.places[i] = p;
            let [dx, dy] = jitter(i);
            self.sets[i].moved_from(&home, p.x + dx, p.y + dy);
            self.boxes[i] = self.sets[i].bounds;
        }
        self.loss.fill(0.0);
        for i in 0..n {
            for j in 0..i {
                let l = self.pair(i, j);
                self.loss[i * n + j] = l;
                self.loss[j * n + i] = l;
            }
        }
    }
    /// The place moved into the room; none if a turned form is wider or longer than it.
    fn within(&self, home: &EdgeBlocks, p: ShapePose) -> Option<ShapePose> {
        let b = home.bounds.map(f64::from);
        let [left, right, low] = self.task.room;
        let (x0, x1, y0, y1) = (left - b[0], right - b[2], low - b[1], self.top - b[3]);
        (x0 <= x1 && y0 <= y1).then(|| p.at(p.x.clamp(x0, x1), p.y.clamp(y0, y1)))
    }
    fn form(&self, i: usize) -> &CollisionShape {
        &self.task.forms[self.task.items[i]]
    }
    fn pair(&self, i: usize, j: usize) -> f32 {
        if !meet(&self.boxes[i], &self.boxes[j]) || !self.sets[i].clashes(&self.sets[j]) {
            return 0.0;
        }
        overlap(self.form(i), &self.sets[i], self.form(j), &self.sets[j])
    }
    fn put(&mut self, i: usize, p: ShapePose, set: &EdgeBlocks) {
        let n = self.places.len();
        self.places[i] = p;
        self.sets[i].clone_from(set);
        self.boxes[i] = set.bounds;
        for j in (0..n).filter(|&j| j != i) {
            let l = self.pair(i, j);
            self.loss[i * n + j] = l;
            self.loss[j * n + i] = l;
        }
    }
    /// Takes over some pieces as another layout has them.
    fn adopt(&mut self, o: &Layout, items: &[usize]) {
        let n = self.places.len();
        for &i in items {
            self.places[i] = o.places[i];
            self.sets[i].clone_from(&o.sets[i]);
            self.boxes[i] = o.boxes[i];
            self.loss[i * n..(i + 1) * n].copy_from_slice(&o.loss[i * n..(i + 1) * n]);
            for j in 0..n {
                self.loss[j * n + i] = o.loss[j * n + i];
            }
        }
    }
    /// Sum of all overlaps; zero if the layout is free of them.
    pub fn total(&self) -> f64 {
        self.loss.iter().map(|l| f64::from(*l)).sum::<f64>() / 2.0
    }
    fn weighted(&self, w: &Weights) -> f64 {
        self.loss.iter().zip(&w.0).map(|(l, w)| f64::from(l * w)).sum::<f64>() / 2.0
    }
    /// Length that the pieces take, from the lower edge of the room.
    pub fn height(&self) -> f64 {
        self.boxes.iter().map(|b| f64::from(b[3])).fold(self.task.room[2], f64::max)
    }
}

/// How far aside of its place a piece is asked for overlaps: each a little else, so that edges of two pieces
/// do not lie on one line (two equal bars on one line, one shifted along the other, have edges that touch and
/// none that cross).
fn jitter(i: usize) -> [f64; 2] {
    // Multiples of two irrational numbers fall evenly (Weyl 1916).
    [ASIDE.0 * (i as f64 * 0.618_033_988_75).fract(), ASIDE.0 * (i as f64 * 0.754_877_666_25).fract()]
}

/// How much two forms overlap, if they do: depth times the side of what they are, so that large pieces count
/// more.
fn overlap(f: &CollisionShape, a: &EdgeBlocks, g: &CollisionShape, b: &EdgeBlocks) -> f32 {
    a.depth(b, SOFT * f.extent.max(g.extent)) * (f.bulk * g.bulk).sqrt()
}

impl Weights {
    /// All pairs alike.
    pub fn even(n: usize) -> Weights {
        Weights(vec![1.0; n * n])
    }
    fn learn(&mut self, layout: &Layout) {
        let most = layout.loss.iter().copied().fold(0.0f32, f32::max);
        for (w, l) in self.0.iter_mut().zip(&layout.loss) {
            *w = if *l > 0.0 {
                *w * (GROWTH[0] + (GROWTH[1] - GROWTH[0]) * l / most)
            } else {
                (*w * DECAY).max(1.0)
            };
        }
    }
}

/// One who goes through the overlapping pieces.
struct Worker<'a> {
    layout: Layout<'a>,
    random: Random,
    home: EdgeBlocks,
    /// Cache key of `home`: `(shape index, (cos, sin))`.
    turned: Option<(usize, [f64; 2])>,
    trial: EdgeBlocks,
    /// Pieces moved in this pass.
    moved: Vec<usize>,
    /// Places weighed so far.
    weighed: u64,
}

impl<'a> Worker<'a> {
    fn pass(&mut self, w: &Weights) {
        let n = self.layout.places.len();
        self.moved.clear();
        let overlaps = |l: &Layout, i: usize| l.loss[i * n..(i + 1) * n].iter().any(|l| *l > 0.0);
        let mut order: Vec<usize> = (0..n).filter(|&i| overlaps(&self.layout, i)).collect();
        self.random.shuffle(&mut order);
        for i in order {
            let row = i * n..(i + 1) * n;
            let now: f32 = self.layout.loss[row.clone()].iter().zip(&w.0[row]).map(|(l, w)| l * w).sum();
            if now <= 0.0 {
                continue;
            }
            let now =
                now + PULL * self.layout.task.ways(i, &self.layout.places[i], &self.layout.places) as f32;
            let (p, then) = self.best_place(i, now, w);
            if then < now {
                self.turn_home(i, p.cs);
                let [dx, dy] = jitter(i);
                self.trial.moved_from(&self.home, p.x + dx, p.y + dy);
                let set = std::mem::take(&mut self.trial);
                self.layout.put(i, p, &set);
                self.trial = set;
                self.moved.push(i);
            }
        }
    }
    fn turn_home(&mut self, i: usize, cs: [f64; 2]) {
        let form = self.layout.task.items[i];
        if self.turned != Some((form, cs)) {
            self.layout.task.forms[form].turned_into(cs, &mut self.home);
            self.turned = Some((form, cs));
        }
    }
    /// Weighted overlap of a piece at a place, which is first moved into the room; at least `bound` if it is
    /// more.
    fn weigh(&mut self, i: usize, p: ShapePose, bound: f32, w: &Weights) -> (ShapePose, f32) {
        self.weighed += 1;
        self.turn_home(i, p.cs);
        let Some(p) = self.layout.within(&self.home, p) else { return (p, f32::INFINITY) };
        let pull = if self.layout.task.in_order(i) {
            PULL * self.layout.task.ways(i, &p, &self.layout.places) as f32
        } else {
            0.0
        };
        let [dx, dy] = jitter(i);
        self.trial.moved_from(&self.home, p.x + dx, p.y + dy);
        let n = self.layout.places.len();
        let (form, own) = (self.layout.form(i), self.trial.bounds);
        let mut sum = pull;
        for (j, other) in self.layout.boxes.iter().enumerate() {
            if meet(&own, other) && j != i && self.trial.clashes(&self.layout.sets[j]) {
                let depth = overlap(form, &self.trial, self.layout.form(j), &self.layout.sets[j]);
                sum += depth * w.0[i * n + j];
                if sum >= bound {
                    return (p, sum);
                }
            }
        }
        (p, sum)
    }
    /// The best place found for a piece, and its weighted overlap there.
    fn best_place(&mut self, i: usize, now: f32, w: &Weights) -> (ShapePose, f32) {
        let here = self.layout.places[i];
        let mut best: Vec<(ShapePose, f32)> = vec![(here, now)];
        for k in 0..WIDE + CLOSE {
            let p = if k < WIDE { self.anywhere(i) } else { self.nearby(i, here) };
            let bound = if best.len() < FOLLOWED { f32::INFINITY } else { best[best.len() - 1].1 };
            let (p, l) = self.weigh(i, p, bound, w);
            if l <= 0.0 {
                return (p, l);
            }
            if l < bound {
                let at = best.partition_point(|b| b.1 <= l);
                best.insert(at, (p, l));
                best.truncate(FOLLOWED);
            }
        }
        for b in &mut best {
            *b = self.downhill(i, *b, COARSE, w);
            if b.1 <= 0.0 {
                return *b;
            }
        }
        let first = best.into_iter().min_by(|a, b| a.1.total_cmp(&b.1)).expect("holds the place it has");
        self.downhill(i, first, FINE, w)
    }
    fn any_turn(&mut self, i: usize) -> ShapePose {
        let here = self.layout.places[i];
        match self.layout.task.turns(i) {
            Grain::Fixed => here,
            Grain::Half if self.random.below(2) == 0 => here,
            Grain::Half => ShapePose { turn: (here.turn + PI) % TAU, cs: [-here.cs[0], -here.cs[1]], ..here },
            Grain::Free => ShapePose::new(here.x, here.y, self.random.between(0.0, TAU)),
        }
    }
    fn anywhere(&mut self, i: usize) -> ShapePose {
        let p = self.any_turn(i);
        self.turn_home(i, p.cs);
        let b = self.home.bounds.map(f64::from);
        let [left, right, low] = self.layout.task.room;
        let x = self.random.between(left - b[0], right - b[2]);
        p.at(x, self.random.between(low - b[1], self.layout.top - b[3]))
    }
    fn nearby(&mut self, i: usize, here: ShapePose) -> ShapePose {
        let b = self.layout.boxes[i].map(f64::from);
        let (w, h) = (b[2] - b[0], b[3] - b[1]);
        let p = match self.layout.task.turns(i) {
            Grain::Free => ShapePose::new(here.x, here.y, here.turn + self.random.between(-0.4, 0.4)),
            _ => self.any_turn(i),
        };
        p.at(here.x + self.random.between(-w, w) / 2.0, here.y + self.random.between(-h, h) / 2.0)
    }
    /// Steps along x, y, the diagonals and round, longer while they help and shorter when they do not.
    fn downhill(
        &mut self,
        i: usize,
        from: (ShapePose, f32),
        steps: [f64; 4],
        w: &Weights,
    ) -> (ShapePose, f32) {
        let b = self.layout.boxes[i].map(f64::from);
        let side = (b[2] - b[0]).min(b[3] - b[1]);
        let free = self.layout.task.turns(i) == Grain::Free;
        let (mut step, least) = ([steps[0] * side, steps[0] * side], steps[1] * side);
        let (mut turn, least_turn) = (steps[2].to_radians(), steps[3].to_radians());
        let mut best = from;
        while step[0].max(step[1]) > least || (free && turn > least_turn) {
            let axis = self.random.below(if free { 5 } else { 4 });
            let p = best.0;
            let [sx, sy] = step;
            let tries = match axis {
                0 => [p.at(p.x + sx, p.y), p.at(p.x - sx, p.y)],
                1 => [p.at(p.x, p.y + sy), p.at(p.x, p.y - sy)],
                2 => [p.at(p.x + sx, p.y + sy), p.at(p.x - sx, p.y - sy)],
                3 => [p.at(p.x + sx, p.y - sy), p.at(p.x - sx, p.y + sy)],
                _ => [ShapePose::new(p.x, p.y, p.turn + turn), ShapePose::new(p.x, p.y, p.turn - turn)],
            };
            let mut better = false;
            for t in tries {
                let found = self.weigh(i, t, best.1, w);
                if found.1 < best.1 {
                    best = found;
                    better = true;
                }
            }
            if best.1 <= 0.0 {
                return best;
            }
            let by = if better { 1.1 } else { 0.5 };
            match axis {
                0 => step[0] *= by,
                1 => step[1] *= by,
                2 | 3 => step = [step[0] * libm::sqrt(by), step[1] * libm::sqrt(by)],
                _ => turn *= by,
            }
        }
        best
    }
}

/// How long to try.
#[derive(Clone, Copy, Debug)]
pub struct Patience {
    /// Passes without a gain before a strike.
    pub passes: usize,
    /// Strikes without a gain before giving up.
    pub strikes: usize,
}

/// Two workers and the weights they share.
pub struct OverlapResolver<'a> {
    workers: Vec<Worker<'a>>,
    weights: Weights,
}

impl<'a> OverlapResolver<'a> {
    /// On a layout.
    pub fn new(layout: Layout<'a>, seed: Seed) -> Self {
        let n = layout.places.len();
        let worker = |k: u64| Worker {
            layout: layout.clone(),
            random: Random::new(seed, "press", k),
            home: EdgeBlocks::default(),
            turned: None,
            trial: EdgeBlocks::default(),
            moved: Vec::new(),
            weighed: 0,
        };
        Self { workers: (0..2).map(worker).collect(), weights: Weights::even(n) }
    }
    /// Places weighed so far.
    pub fn weighed(&self) -> u64 {
        self.workers.iter().map(|w| w.weighed).sum()
    }
    /// The layout as it is.
    pub fn layout(&self) -> &Layout<'a> {
        &self.workers[0].layout
    }
    /// Starts from other places, in a room that ends elsewhere.
    pub fn restart(&mut self, places: &[ShapePose], top: f64) {
        let (first, rest) = self.workers.split_at_mut(1);
        first[0].layout.top = top;
        first[0].layout.reset(places);
        for w in rest {
            w.layout.clone_from(&first[0].layout);
        }
    }
    /// Resolves overlaps; the least overlap found, zero if none is left. The layout found is then
    /// [`OverlapResolver::layout`]. `go_on` is asked after every pass.
    pub fn separate(&mut self, patience: Patience, go_on: &mut dyn FnMut(u64) -> bool) -> f64 {
        let mut least = (self.layout().total(), self.layout().places.clone());
        let top = self.layout().top;
        let mut strikes = 0;
        while strikes < patience.strikes && least.0 > 0.0 {
            let before = least.0;
            let mut waited = 0;
            while waited < patience.passes {
                self.pass();
                let now = self.layout().total();
                if now < least.0 {
                    waited = if now < 0.98 * least.0 { 0 } else { waited + 1 };
                    least = (now, self.layout().places.clone());
                } else {
                    waited += 1;
                }
                if now <= 0.0 {
                    return 0.0;
                }
                if !go_on(self.weighed()) {
                    self.restart(&least.1, top);
                    return least.0;
                }
            }
            strikes = if least.0 < 0.98 * before { 0 } else { strikes + 1 };
            let places = std::mem::take(&mut least.1);
            self.restart(&places, top);
            least.1 = places;
        }
        least.0
    }
    fn pass(&mut self) {
        let weights = &self.weights;
        let (one, two) = self.workers.split_at_mut(1);
        let loss = &one[0].layout.loss;
        let n = one[0].layout.places.len();
        let busy = loss.chunks(n).filter(|row| row.iter().any(|l| *l > 0.0)).count();
        if busy >= WORTH_TWO && rayon::current_num_threads() > 1 {
            // This thread works too, and is woken once: it may be none of the pool's.
            rayon::in_place_scope(|s| {
                s.spawn(|_| two[0].pass(weights));
                one[0].pass(weights);
            });
        } else {
            one[0].pass(weights);
            two[0].pass(weights);
        }
        let (a, b) = (one[0].layout.weighted(weights), two[0].layout.weighted(weights));
        let mut moved: Vec<usize> = one[0].moved.iter().chain(&two[0].moved).copied().collect();
        moved.sort_unstable();
        moved.dedup();
        if a <= b {
            two[0].layout.adopt(&one[0].layout, &moved);
        } else {
            one[0].layout.adopt(&two[0].layout, &moved);
        }
        self.weights.learn(&self.workers[0].layout);
    }
}

#[cfg(test)]
mod tests {
    use super::super::grown::Grown;
    use super::*;

    /// Case 1: two equal bars on one line, one shifted along it, have edges that touch and none that cross;
    /// the search took them for apart, and stood still on strips of bars. Truth: bars of 30 mm overlap when
    /// shifted by less.
    #[test]
    fn case_1_bars_on_one_line_overlap() {
        let (c, w, h) = (0.02, 30.0, 10.0);
        let corners =
            [[0.0, c], [c, 0.0], [w - c, 0.0], [w, c], [w, h - c], [w - c, h], [c, h], [0.0, h - c]];
        let forms = vec![CollisionShape::new(&Grown::of(vec![corners.to_vec()]))];
        let room = [0.0, 100.0, 0.0];
        let task =
            Task { forms, items: vec![0, 0], grain: Grain::Half, room, chain: Vec::new(), still: Vec::new() };
        let overlap = |x: f64| {
            let places = [ShapePose::new(0.0, 0.0, 0.0), ShapePose::new(x, 0.0, 0.0)];
            Layout::new(&task, &places, 50.0).total()
        };
        for x in [0.0, 1.0, 5.0, 15.0, 29.0] {
            assert!(overlap(x) > 0.0, "{x}");
        }
        assert_eq!(overlap(30.1), 0.0);
    }
}
