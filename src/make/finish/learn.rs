//! The maker's own rates from her bench log: each a factor on common practice, drawn towards 1 while little is known.
//!
//! The model, for the logarithm of what a step took over what common practice takes:
//!
//! ```text
//! mu ~ normal(0, TAKES)                makers differ from common practice by a factor
//! ln s ~ normal(ln SPREAD, SPREAD_OF)  how much one maker's entries stray
//! y = mu + s t, t ~ Student's t with HEAVY degrees of freedom
//! ```
//! The posterior of mu is summed over a grid: the factor follows its median, by less than a tenth an entry; its 10th and
//! 90th percentiles are the interval. The normal prior shrinks (Gelman and others, Bayesian Data Analysis, 3rd ed., 2.5 and 5.4); the t keeps one odd entry
//! from moving the rate (Lange, Little and Taylor 1989, Robust statistical modeling using the t distribution; both from
//! memory). Lost cups are binomial with a beta prior (the same book, 2.1). The four numbers below are assumptions about
//! makers, no measurement: they decide how fast a log counts, not what it tends to.
//!
//! Imports: base, read::{job, bench_log}.

use crate::base::moment::Minutes;
use crate::base::money::{Decimal, Share};
use crate::read::bench_log::{Entry, Event};
use crate::read::job::finish::{Basis, Dose, FinishSpec, LearnedRate, Rate, StepKind, StepSpec};
use crate::read::job::keys::Worded;
use std::collections::BTreeMap;

/// Standard deviation of makers' own factors, in logarithms: two of three within a factor of 1.4.
pub const TAKES: f64 = 0.35;
/// Usual spread of one maker's entries, in logarithms.
pub const SPREAD: f64 = 0.20;
/// How far that spread itself is unknown, in logarithms.
pub const SPREAD_OF: f64 = 0.2;
/// Degrees of freedom: few, so that an odd entry counts little.
pub const HEAVY: f64 = 2.0;
/// Cups lost of how many, before anything is known: 1 of 20.
const LOST: (f64, f64) = (1.0, 19.0);
/// Half the width of the grid of mu, and its step; factors of 1/8 to 8.
const GRID: (i32, f64) = (210, 0.01);
/// Steps of the grid of ln s on either side, and their width.
const SPREADS: (i32, f64) = (8, 0.1);

/// A factor and how sure it is.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Estimate {
    /// The middle of what it may be.
    pub value: f64,
    /// Below it in one case of ten.
    pub low: f64,
    /// Above it in one case of ten.
    pub high: f64,
    /// From how many entries.
    pub entries: usize,
}

/// The value below which a part of the weight lies, between the points of a grid of this step.
fn percentile(points: &[(f64, f64)], step: f64, part: f64) -> f64 {
    let all: f64 = points.iter().map(|p| p.1).sum();
    let mut sum = 0.0;
    for (x, w) in points {
        if sum + w >= part * all {
            return x + step * ((part * all - sum) / w - 0.5);
        }
        sum += w;
    }
    points.last().map_or(0.0, |p| p.0)
}

/// By how much one entry moves a factor at most: where few entries stray as far as an odd one, nobody can tell which of
/// them is odd, so a rate follows what is logged step by step.
const STEP: f64 = 1.095;

/// The posterior of mu and s on their grid, as logarithms.
struct Posterior(Vec<(f64, Vec<(f64, f64)>)>);

impl Posterior {
    /// What is assumed of makers.
    fn prior() -> Posterior {
        let row = |k: i32| {
            let mu = f64::from(k) * GRID.1;
            let of_spread = |j: i32| {
                let off = f64::from(j) * SPREADS.1;
                let log = -0.5 * (mu / TAKES) * (mu / TAKES) - 0.5 * (off / SPREAD_OF) * (off / SPREAD_OF);
                (SPREAD * libm::exp(off), log)
            };
            (mu, (-SPREADS.0..=SPREADS.0).map(of_spread).collect())
        };
        Posterior((-GRID.0..=GRID.0).map(row).collect())
    }
    /// With one entry more, as a logarithm.
    fn learn(&mut self, y: f64) {
        for (mu, spreads) in &mut self.0 {
            for (s, log) in spreads {
                let z = (y - *mu) / *s;
                *log += -libm::log(*s) - (HEAVY + 1.0) / 2.0 * libm::log1p(z * z / HEAVY);
            }
        }
    }
    /// Weights of mu.
    fn points(&self) -> Vec<(f64, f64)> {
        let best = self.0.iter().flat_map(|(_, l)| l).map(|l| l.1).fold(f64::NEG_INFINITY, f64::max);
        let weigh = |l: &[(f64, f64)]| l.iter().map(|l| libm::exp(l.1 - best)).sum::<f64>();
        self.0.iter().map(|(mu, l)| (*mu, weigh(l))).collect()
    }
}

/// A maker's factor from the ratios of her entries to common practice, in the order of the log; without any, what is
/// assumed of makers. Each entry moves the value towards the middle of the posterior, by less than a tenth.
pub fn factor(ratios: &[f64]) -> Estimate {
    let mut posterior = Posterior::prior();
    let mut value = 1.0;
    let mut points = posterior.points();
    for ratio in ratios {
        posterior.learn(libm::log(*ratio));
        points = posterior.points();
        let middle = libm::exp(percentile(&points, GRID.1, 0.5));
        value = middle.clamp(value / STEP, value * STEP);
    }
    let at = |part| libm::exp(percentile(&points, GRID.1, part));
    // What is said lies in what it may be.
    Estimate { value, low: at(0.1).min(value), high: at(0.9).max(value), entries: ratios.len() }
}

/// The part of cups that are lost, from how many were lost of how many.
pub fn lost(lost: f64, of: f64) -> Estimate {
    let (a, b) = (LOST.0 + lost, LOST.1 + of - lost);
    let n = 2000;
    let step = 1.0 / f64::from(n);
    let weight = |x: f64| libm::exp((a - 1.0) * libm::log(x) + (b - 1.0) * libm::log1p(-x));
    let peak = ((a - 1.0) / (a + b - 2.0)).clamp(step, 1.0 - step);
    let points: Vec<(f64, f64)> =
        (0..n).map(|k| (f64::from(k) + 0.5) * step).map(|x| (x, weight(x) / weight(peak))).collect();
    let at = |part| percentile(&points, step, part);
    Estimate { value: a / (a + b), low: at(0.1), high: at(0.9), entries: of as usize }
}

/// Everything that a log teaches.
pub fn learned(log: &[Entry]) -> Vec<LearnedRate> {
    let mut ratios: BTreeMap<(u8, &str, String), Vec<f64>> = BTreeMap::new();
    for e in log {
        let Some(step) = e.step else { continue };
        let key = match e.event {
            Event::Work => (0, step.word(), String::new()),
            Event::Weighed => (1, step.word(), e.product.clone()),
            Event::Used => (2, "", e.product.clone()),
            _ => continue,
        };
        ratios.entry(key).or_default().push(e.actual / e.usual);
    }
    let mut out: Vec<LearnedRate> = ratios
        .into_iter()
        .map(|((what, step, product), ratios)| {
            let kind = StepKind::WORDS.iter().find(|(w, _)| *w == step).map(|(_, k)| *k);
            let e = factor(&ratios);
            let event = [Event::Work, Event::Weighed, Event::Used][usize::from(what)];
            LearnedRate { event, kind, product, value: e.value, low: e.low, high: e.high, entries: e.entries }
        })
        .collect();
    let sum = |event| {
        let of = log.iter().filter(move |e: &&Entry| e.event == event);
        (of.clone().map(|e| e.actual).sum::<f64>(), of.map(|e| e.usual).sum::<f64>())
    };
    for event in [Event::Spoilt, Event::Lost] {
        let (gone, of) = sum(event);
        if of > 0.0 {
            let e = lost(gone, of);
            let (value, low, high, entries) = (e.value, e.low, e.high, e.entries);
            out.push(LearnedRate { event, kind: None, product: String::new(), value, low, high, entries });
        }
    }
    out
}

/// The finishing with the maker's own rates where the job says none.
pub fn applied(spec: &FinishSpec, log: &[Entry]) -> FinishSpec {
    let mut spec = spec.clone();
    spec.learned = learned(log);
    let usual = |b: Basis| b == Basis::CommonPractice;
    let minutes = |r: &mut Rate<Minutes>, f: f64| {
        if usual(r.basis) {
            *r = Rate { value: Minutes(libm::round(f64::from(r.value.0) * f) as u32), basis: Basis::Learned };
        }
    };
    let names: Vec<String> = spec.products.iter().map(|p| p.name.clone()).collect();
    for l in &spec.learned {
        match l.event {
            Event::Work if l.kind == Some(StepKind::Film) => {
                for r in [&mut spec.times.weed_s, &mut spec.times.place_s] {
                    if usual(r.basis) {
                        *r = Rate { value: r.value * l.value, basis: Basis::Learned };
                    }
                }
            }
            Event::Work => {
                for s in spec.steps.iter_mut().filter(|s| Some(s.kind) == l.kind) {
                    minutes(&mut s.set_up, l.value);
                    minutes(&mut s.each, l.value);
                }
            }
            Event::Weighed => {
                let of = |s: &&mut StepSpec| {
                    Some(s.kind) == l.kind && s.product.is_some_and(|p| names[p.0] == l.product)
                };
                for s in spec.steps.iter_mut().filter(of) {
                    s.dose = s.dose.map(|d| scaled(d, l.value));
                }
                for s in spec.steps.iter_mut().filter(|s| Some(s.kind) == l.kind) {
                    for g in s.glitters.iter_mut().filter(|g| names[g.product.0] == l.product) {
                        g.dose = scaled(g.dose, l.value);
                    }
                }
            }
            Event::Used => {
                // More used than planned is more lost: what stays on the cup is not touched.
                let loss = 1.0 - (1.0 - spec.loss.value) / l.value;
                for s in spec.steps.iter_mut().filter(|s| s.product.is_some_and(|p| names[p.0] == l.product))
                {
                    if s.loss.is_none() && usual(spec.loss.basis) {
                        s.loss = Some(Rate { value: loss.clamp(0.0, 0.9), basis: Basis::Learned });
                    }
                }
            }
            Event::Lost => {
                if let Some(price) = spec.price.as_mut().filter(|p| p.reject == Share::ZERO) {
                    let part = Decimal::try_from(l.value).unwrap_or_default().round_dp(4);
                    price.reject = Share(part);
                }
            }
            Event::Start | Event::Spoilt => {}
        }
    }
    spec
}

fn scaled(dose: Dose, f: f64) -> Dose {
    match dose {
        Dose::PerArea(g) if g.basis == Basis::CommonPractice => {
            Dose::PerArea(Rate { value: g.value * f, basis: Basis::Learned })
        }
        Dose::Thickness(t) if t.basis == Basis::CommonPractice => {
            Dose::Thickness(Rate { value: t.value * f, basis: Basis::Learned })
        }
        other => other,
    }
}

/// How sure the hours of work are: the middle, and what they lie between in 80 of 100 cases. Kinds of steps stray
/// independently of each other; those without an entry as makers are assumed to.
pub fn work(spec: &FinishSpec, by_kind: &BTreeMap<StepKind, u32>, known: u32) -> Option<(Minutes, Minutes)> {
    if spec.learned.is_empty() {
        return None;
    }
    /// Standard deviations from the middle to the 90th percentile of a normal distribution (a table of it).
    const TENTH: f64 = 1.281_551_565_5;
    let all: u32 = by_kind.values().sum();
    let usual = factor(&[]);
    let of = |(kind, minutes): (&StepKind, &u32)| {
        let own = spec.learned.iter().find(|l| l.event == Event::Work && l.kind == Some(*kind));
        let (value, low, high) =
            own.map_or((usual.value, usual.low, usual.high), |l| (l.value, l.low, l.high));
        let sd = f64::from(*minutes) * (high - low) / (2.0 * TENTH * value);
        sd * sd
    };
    let off = TENTH * libm::sqrt(by_kind.iter().map(of).sum());
    let middle = f64::from(all + known);
    Some((Minutes((middle - off).max(0.0) as u32), Minutes(libm::ceil(middle + off) as u32)))
}

#[cfg(test)]
#[path = "learn_tests.rs"]
mod tests;
