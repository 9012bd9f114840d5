//! The strip made shorter step by step: cut short, overlaps resolved, and again.
//!
//! Source: Gardeyn and Wauters 2025, arXiv 2509.13329: explore (large steps; where one fails, two large
//! pieces are swapped and it is tried again), then compress (ever smaller steps from the best).
//!
//! Imports: base, make::film::{clash, overlap}.

use super::clash::ShapePose;
use crate::base::random::Random;
use crate::base::units::Seed;
use crate::make::film::overlap::{Layout, OverlapResolver, Patience, Task};
use std::ops::ControlFlow;

/// What the search tells, and is told.
pub trait Judge {
    /// A layout without overlaps and its upper edge: does it hold when measured exactly?
    fn holds(&mut self, places: &[ShapePose], top: f64) -> bool;
    /// So many places weighed of the budget: go on?
    fn go_on(&mut self, weighed: u64) -> ControlFlow<()>;
}

/// Part of the budget for exploring.
const EXPLORE: f64 = 0.8;
/// Places weighed that an attempt counts for at least.
const ATTEMPT: u64 = 500;
const PATIENT: Patience = Patience { passes: 200, strikes: 3 };
const BRISK: Patience = Patience { passes: 100, strikes: 5 };
/// Exploring: share of the strip's length that each attempt takes away.
const STEP: f64 = 0.001;
/// Compressing: share of the strip's length that each attempt takes away, first and last.
const STEPS: [f64; 2] = [0.0005, 0.000_01];

/// Shortens a layout; `places` must be free of overlaps below `top`. The best that the judge took.
pub fn shrink(
    task: &Task,
    places: &[ShapePose],
    top: f64,
    budget: u64,
    seed: Seed,
    judge: &mut dyn Judge,
) -> (Vec<ShapePose>, f64) {
    let mut run = Run {
        task,
        press: OverlapResolver::new(Layout::new(task, places, top), seed),
        random: Random::new(seed, "shrink", 0),
        best: (places.to_vec(), top),
        budget,
        attempts: 0,
        stopped: false,
    };
    run.explore(judge);
    run.compress(judge);
    run.best
}

struct Run<'a> {
    task: &'a Task,
    press: OverlapResolver<'a>,
    random: Random,
    best: (Vec<ShapePose>, f64),
    budget: u64,
    attempts: u64,
    stopped: bool,
}

impl Run<'_> {
    /// Part of the budget spent. An attempt costs something even where nothing overlaps: the search must end.
    fn spent(&self) -> f64 {
        (self.press.weighed() + ATTEMPT * self.attempts) as f64 / self.budget as f64
    }
    fn length(&self) -> f64 {
        self.best.1 - self.task.room[2]
    }
    /// Pieces above a line are moved down with the upper edge.
    fn squeezed(&mut self, places: &[ShapePose], by: f64) -> Vec<ShapePose> {
        let line = self.random.between(self.task.room[2], self.best.1);
        places.iter().map(|p| if p.y > line { p.at(p.x, p.y - by) } else { *p }).collect()
    }
    fn resolve(&mut self, patience: Patience, until: f64, judge: &mut dyn Judge) -> f64 {
        self.attempts += 1;
        let limit = ((self.budget as f64 * until) as u64).saturating_sub(ATTEMPT * self.attempts);
        let mut stopped = false;
        let mut go_on = |weighed: u64| {
            stopped = judge.go_on(weighed).is_break();
            !stopped && weighed < limit
        };
        let loss = self.press.separate(patience, &mut go_on);
        self.stopped = stopped;
        loss
    }
    /// Keeps the layout of the press if it holds.
    fn took(&mut self, judge: &mut dyn Judge) -> bool {
        let layout = self.press.layout();
        let top = layout.height();
        let holds = top < self.best.1 && judge.holds(&layout.places, top);
        if holds {
            self.best = (layout.places.clone(), top);
        }
        holds
    }
    fn explore(&mut self, judge: &mut dyn Judge) {
        let mut pool: Vec<(f64, Vec<ShapePose>)> = Vec::new();
        let mut next = None;
        while self.spent() < EXPLORE && !self.stopped {
            let top = self.best.1 - STEP * self.length();
            let from = next.take().unwrap_or_else(|| {
                let best = self.best.0.clone();
                self.squeezed(&best, self.best.1 - top)
            });
            self.press.restart(&from, top);
            let loss = self.resolve(PATIENT, EXPLORE, judge);
            if loss <= 0.0 && self.took(judge) {
                pool.clear();
                continue;
            }
            let at = pool.partition_point(|p| p.0 <= loss);
            pool.insert(at, (loss, self.press.layout().places.clone()));
            // The better half of what failed is tried again more often.
            let pick = (self.random.unit() * self.random.unit() * pool.len() as f64) as usize;
            let mut places = pool[pick].1.clone();
            self.swap_two(&mut places);
            next = Some(places);
        }
    }
    /// Swaps the places of two large pieces of different shape.
    fn swap_two(&mut self, places: &mut [ShapePose]) {
        let mut large: Vec<usize> = (0..places.len()).collect();
        let bulk = |i: usize| self.task.forms[self.task.items[i]].bulk;
        large.sort_by(|&a, &b| bulk(b).total_cmp(&bulk(a)).then(a.cmp(&b)));
        let whole: f32 = large.iter().map(|&i| bulk(i) * bulk(i)).sum();
        // The largest that together make up three quarters.
        let mut sum = 0.0;
        let most = large.iter().take_while(|&&i| {
            sum += bulk(i) * bulk(i);
            sum < 0.75 * whole
        });
        let n = most.count().max(2).min(large.len());
        let a = large[self.random.below(n)];
        let others: Vec<usize> =
            large[..n].iter().copied().filter(|&b| self.task.items[b] != self.task.items[a]).collect();
        if others.is_empty() {
            return;
        }
        let b = others[self.random.below(others.len())];
        let (p, q) = (places[a], places[b]);
        places[a] = p.at(q.x, q.y);
        places[b] = q.at(p.x, p.y);
    }
    fn compress(&mut self, judge: &mut dyn Judge) {
        let from = self.spent();
        while self.spent() < 1.0 && !self.stopped {
            let part = ((self.spent() - from) / (1.0 - from)).clamp(0.0, 1.0);
            let step = STEPS[0] * libm::pow(STEPS[1] / STEPS[0], part);
            let by = step * self.length();
            let best = self.best.0.clone();
            let places = self.squeezed(&best, by);
            self.press.restart(&places, self.best.1 - by);
            if self.resolve(BRISK, 1.0, judge) <= 0.0 {
                self.took(judge);
            }
        }
    }
}
