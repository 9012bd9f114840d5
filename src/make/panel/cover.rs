//! Cover: windows that together hold all clumps, for the least cost. A window costs a laying, what none holds costs
//! the placing of its pieces one by one.
//!
//! Built greedily, some windows taken out and built anew, many times (ruin and recreate). A set of clumps of which
//! no two fit one window is a bound from below on the number of windows.
//!
//! Imports: base, make::panel::window.

use super::window::Window;
use crate::base::random::Random;

/// Times that windows are taken out and built anew.
const ROUNDS: usize = 600;
/// Greedy covers that are tried first.
const STARTS: usize = 30;
/// Windows taken out at a time.
const RUINED: [usize; 2] = [2, 5];
/// Orders in which clumps that share no window are gathered.
const SHUFFLES: usize = 200;
/// A saving below this is rounding, s.
const SAVES: f64 = 1e-9;

/// What is to be covered at which cost.
#[derive(Clone, Debug)]
pub struct Task<'a> {
    /// What there is.
    pub windows: &'a [Window],
    /// Cost of leaving a clump out.
    pub left_out: Vec<f64>,
    /// Cost of each window.
    pub cost_of: Vec<f64>,
}

impl Task<'_> {
    /// Cost of chosen windows.
    pub fn cost(&self, chosen: &[usize]) -> f64 {
        let mut held = vec![false; self.left_out.len()];
        chosen.iter().flat_map(|w| &self.windows[*w].holds).for_each(|h| held[h.0] = true);
        let out: f64 = self.left_out.iter().zip(&held).filter(|c| !c.1).map(|c| c.0).sum();
        out + chosen.iter().map(|w| self.cost_of[*w]).sum::<f64>()
    }
    /// The best cover found, as places of windows, rising.
    pub fn cover(&self, random: &mut Random) -> Vec<usize> {
        let n = self.left_out.len();
        let mut of: Vec<Vec<usize>> = vec![Vec::new(); n];
        for (w, window) in self.windows.iter().enumerate() {
            window.holds.iter().for_each(|h| of[h.0].push(w));
        }
        let mut best: (f64, Vec<usize>) = (self.cost(&[]), Vec::new());
        for start in 0..STARTS {
            let chosen = self.built(Vec::new(), &of, start % 2 == 1, random);
            let cost = self.cost(&chosen);
            if cost < best.0 - SAVES {
                best = (cost, chosen);
            }
        }
        let mut now = best.clone();
        for round in 0..ROUNDS {
            if now.1.is_empty() {
                break;
            }
            let mut left = now.1.clone();
            random.shuffle(&mut left);
            let out = RUINED[0] + random.below(RUINED[1] - RUINED[0] + 1);
            left.truncate(left.len().saturating_sub(out));
            let chosen = self.built(left, &of, round % 2 == 1, random);
            let cost = self.cost(&chosen);
            if cost <= now.0 + SAVES {
                now = (cost, chosen);
            }
            if now.0 < best.0 - SAVES {
                best = now.clone();
            }
        }
        best.1.sort_unstable();
        best.1
    }
    /// Windows added while they pay; then those that do not are dropped.
    fn built(
        &self,
        mut chosen: Vec<usize>,
        of: &[Vec<usize>],
        rare: bool,
        random: &mut Random,
    ) -> Vec<usize> {
        let mut held = vec![0usize; self.left_out.len()];
        chosen.iter().flat_map(|w| &self.windows[*w].holds).for_each(|h| held[h.0] += 1);
        let gain = |w: usize, held: &[usize]| -> f64 {
            let new = self.windows[w].holds.iter().filter(|h| held[h.0] == 0);
            new.map(|h| self.left_out[h.0]).sum::<f64>() - self.cost_of[w]
        };
        loop {
            // What fits the fewest windows is the hardest to hold.
            let hardest =
                (0..held.len()).filter(|c| held[*c] == 0 && !of[*c].is_empty()).min_by_key(|c| of[*c].len());
            let all: Vec<usize>;
            let asked: &[usize] = match hardest.filter(|_| rare) {
                Some(c) => &of[c],
                None => {
                    all = (0..self.windows.len()).collect();
                    &all
                }
            };
            let noisy = |w: usize, random: &mut Random| {
                let g = gain(w, &held);
                if g > SAVES { Some((g * random.between(0.8, 1.0), w)) } else { None }
            };
            let pick = |asked: &[usize], random: &mut Random| {
                let mut best: Option<(f64, usize)> = None;
                for w in asked {
                    if let Some(found) = noisy(*w, random)
                        && best.is_none_or(|b| found.0 > b.0)
                    {
                        best = Some(found);
                    }
                }
                best
            };
            let mut best = pick(asked, random);
            if best.is_none() && rare {
                best = pick(&(0..self.windows.len()).collect::<Vec<_>>(), random);
            }
            let Some((_, w)) = best else { break };
            self.windows[w].holds.iter().for_each(|h| held[h.0] += 1);
            chosen.push(w);
        }
        random.shuffle(&mut chosen);
        let mut k = 0;
        while k < chosen.len() {
            let w = &self.windows[chosen[k]];
            let lost: f64 = w.holds.iter().filter(|h| held[h.0] == 1).map(|h| self.left_out[h.0]).sum();
            if lost <= self.cost_of[chosen[k]] + SAVES {
                w.holds.iter().for_each(|h| held[h.0] -= 1);
                chosen.swap_remove(k);
            } else {
                k += 1;
            }
        }
        chosen
    }
    /// Windows that every cover of all clumps which fit one has at least.
    pub fn bound(&self, random: &mut Random) -> usize {
        let n = self.left_out.len();
        let mut meets = vec![vec![false; n]; n];
        let mut fits = vec![false; n];
        for w in self.windows {
            for a in &w.holds {
                fits[a.0] = true;
                w.holds.iter().for_each(|b| meets[a.0][b.0] = true);
            }
        }
        let mut order: Vec<usize> = (0..n).filter(|c| fits[*c]).collect();
        let mut most = 0;
        for _ in 0..SHUFFLES {
            random.shuffle(&mut order);
            let mut apart: Vec<usize> = Vec::new();
            for c in &order {
                if apart.iter().all(|a| !meets[*a][*c]) {
                    apart.push(*c);
                }
            }
            most = most.max(apart.len());
        }
        most
    }
}
