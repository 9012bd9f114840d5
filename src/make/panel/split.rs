//! The pieces of a film shared out to panels and to singles.
//!
//! Imports: base, read::job, make::cup, make::panel::{near, clump, window, cover}.

use super::clump::{Clump, clumps};
use super::cover::Task;
use super::near::{Lying, Near};
use super::window::{Window, windows};
use crate::base::random::Random;
use crate::base::units::Mm;
use crate::make::cup::Development;
use crate::read::job::FilmId;
use std::collections::{BTreeMap, BTreeSet};

/// Borders that are tried beyond the one asked for, mm.
const WIDER: [f64; 7] = [1.5, 2.0, 2.5, 3.0, 4.0, 5.0, 6.0];
/// What is left out is taken to cost so many times what it does.
const DEARER: [f64; 4] = [1.0, 1.1, 1.2, 1.35];
/// Time beyond the least that fewer layings are worth, as a factor.
const NEAR_LEAST: f64 = 1.012;
/// A cost that differs by less is the same, s.
const SAME: f64 = 1e-6;

/// What hands take, s.
#[derive(Clone, Copy, Debug)]
pub struct Seconds {
    /// To lay a panel.
    pub panel: f64,
    /// To lay a piece.
    pub piece: f64,
    /// To take a film up onto the carrier of a panel of several; a panel of one film is lifted with it.
    pub part: f64,
}

impl Seconds {
    /// Of a panel of so many films.
    pub fn of(&self, films: usize) -> f64 {
        self.panel + if films > 1 { self.part * films as f64 } else { 0.0 }
    }
}

/// What the maker's hands take, and how large a panel may be.
#[derive(Clone, Copy, Debug)]
pub struct Terms {
    /// Largest size, along the ring and up the wall.
    pub size: [Mm; 2],
    /// Least border.
    pub border: Mm,
    /// What its layings take.
    pub seconds: Seconds,
}

/// Panels and singles of one film.
#[derive(Clone, Debug, PartialEq)]
pub struct Split {
    /// Members of each panel: places in the list, each with its turns of the cup.
    pub panels: Vec<Vec<(usize, i32)>>,
    /// Laid one by one.
    pub singles: Vec<usize>,
    /// Seconds of laying all of them.
    pub cost: f64,
    /// Border that was asked of the clumps.
    pub border: f64,
}

/// The cheapest split found at the border asked for, with the widest border at that cost.
pub fn split(all: &[Lying], near: &[Near], d: &Development, terms: &Terms, random: &mut Random) -> Split {
    let mut best = at_border(all, near, d, terms, terms.border.0, random);
    for border in WIDER.into_iter().filter(|b| *b > terms.border.0) {
        let wider = at_border(all, near, d, terms, border, random);
        let layings = |t: &Split| t.panels.len() + t.singles.len();
        if wider.cost <= best.cost + SAME && layings(&wider) <= layings(&best) {
            best = wider;
        }
    }
    best
}

/// The cheapest split found at a border.
pub fn at_border(
    all: &[Lying],
    near: &[Near],
    d: &Development,
    terms: &Terms,
    border: f64,
    random: &mut Random,
) -> Split {
    let clumps = clumps(all, near, border);
    let windows = windows(&clumps, d, terms.size);
    let piece = terms.seconds.piece;
    let left_out: Vec<f64> = clumps.iter().map(|c| piece * c.members.len() as f64).collect();
    let held = |w: &Window| {
        let members = w.holds.iter().flat_map(|h| &clumps[h.0].members);
        terms.seconds.of(films(all, members.map(|m| m.0)))
    };
    let task = Task { windows: &windows, left_out, cost_of: windows.iter().map(held).collect() };
    // Of splits that take nearly the least time, the one with the fewest layings: tried by making what is left out
    // dearer than it is.
    let tries = DEARER.map(|dearer| {
        let left_out = task.left_out.iter().map(|c| c * dearer).collect();
        let chosen = Task { left_out, ..task.clone() }.cover(random);
        Sharing { all, clumps: &clumps, windows: &windows, d }.from(chosen, terms.seconds, border)
    });
    let least = tries.iter().map(|t| t.cost).fold(f64::INFINITY, f64::min);
    let near_least = tries.into_iter().filter(|t| t.cost <= least * NEAR_LEAST + SAME);
    let layings = |t: &Split| t.panels.len() + t.singles.len();
    near_least.reduce(|a, b| if layings(&b) < layings(&a) { b } else { a }).expect("the least is among them")
}

/// How many films some pieces are of.
fn films(all: &[Lying], of: impl Iterator<Item = usize>) -> usize {
    of.map(|i| all[i].film).collect::<BTreeSet<_>>().len()
}

/// What windows are shared out to.
struct Sharing<'a> {
    all: &'a [Lying],
    clumps: &'a [Clump],
    windows: &'a [Window],
    d: &'a Development,
}

impl Sharing<'_> {
    /// The split that chosen windows make, without those that do not pay.
    fn from(&self, mut chosen: Vec<usize>, seconds: Seconds, border: f64) -> Split {
        loop {
            let shared = shared(self.clumps, self.windows, &chosen, self.d);
            let pieces = |k: usize| shared[k].iter().map(|c| self.clumps[c.0].members.len()).sum::<usize>();
            let cost = |k: usize| {
                let members = shared[k].iter().flat_map(|c| &self.clumps[c.0].members);
                seconds.of(films(self.all, members.map(|m| m.0)))
            };
            // One that does not pay is done without: what no other holds goes on singly.
            let idle = (0..chosen.len())
                .filter(|k| pieces(*k) as f64 * seconds.piece <= cost(*k))
                .min_by_key(|k| pieces(*k));
            if let Some(k) = idle {
                chosen.remove(k);
                continue;
            }
            let members = |clumps_of: &Vec<(usize, i32)>| -> Vec<(usize, i32)> {
                let lifted = clumps_of
                    .iter()
                    .flat_map(|(c, n)| self.clumps[*c].members.iter().map(move |m| (m.0, m.1 + n)));
                let mut list: Vec<(usize, i32)> = lifted.collect();
                list.sort_by_key(|m| self.all[m.0].number);
                list
            };
            let panels: Vec<Vec<(usize, i32)>> =
                shared.iter().map(members).map(|m| self.paying(m, seconds)).collect();
            let mut single = vec![true; self.all.len()];
            panels.iter().flatten().for_each(|m| single[m.0] = false);
            let singles: Vec<usize> = (0..self.all.len()).filter(|i| single[*i]).collect();
            let of_panels = panels.iter().map(|p| seconds.of(films(self.all, p.iter().map(|m| m.0))));
            let cost = of_panels.sum::<f64>() + seconds.piece * singles.len() as f64;
            return Split { panels, singles, cost, border };
        }
    }
}

impl Sharing<'_> {
    /// The pieces of a panel without those of films that take longer to be taken up than to be laid singly.
    fn paying(&self, mut panel: Vec<(usize, i32)>, seconds: Seconds) -> Vec<(usize, i32)> {
        loop {
            let mut of: BTreeMap<FilmId, usize> = BTreeMap::new();
            panel.iter().for_each(|m| *of.entry(self.all[m.0].film).or_default() += 1);
            let saved = seconds.of(of.len()) - seconds.of(of.len().saturating_sub(1));
            let least = of.iter().min_by_key(|f| *f.1);
            match least {
                Some((film, n)) if of.len() > 1 && *n as f64 * seconds.piece <= saved => {
                    let film = *film;
                    panel.retain(|m| self.all[m.0].film != film);
                }
                _ => return panel,
            }
        }
    }
}

/// Each clump to the one of the chosen windows that hold it whose middle is nearest.
fn shared(clumps: &[Clump], windows: &[Window], chosen: &[usize], d: &Development) -> Vec<Vec<(usize, i32)>> {
    let lifted = |(c, n): &(usize, i32)| clumps[*c].round.map(|a| a + std::f64::consts::TAU * f64::from(*n));
    let middle = |w: &Window| {
        let (mut round, mut up) = ([f64::INFINITY, f64::NEG_INFINITY], [f64::INFINITY, f64::NEG_INFINITY]);
        for h in &w.holds {
            let (r, u) = (lifted(h), clumps[h.0].up);
            round = [round[0].min(r[0]), round[1].max(r[1])];
            up = [up[0].min(u[0]), up[1].max(u[1])];
        }
        [f64::midpoint(round[0], round[1]), f64::midpoint(up[0], up[1])]
    };
    let middles: Vec<[f64; 2]> = chosen.iter().map(|w| middle(&windows[*w])).collect();
    let mut out = vec![Vec::new(); chosen.len()];
    for (i, c) in clumps.iter().enumerate() {
        let mut best: Option<(f64, usize, i32)> = None;
        for (k, w) in chosen.iter().enumerate() {
            let Ok(at) = windows[*w].holds.binary_search_by_key(&i, |h| h.0) else { continue };
            let held = windows[*w].holds[at];
            let round = lifted(&held);
            let slant = f64::midpoint(c.up[0], c.up[1]);
            let along = (f64::midpoint(round[0], round[1]) - middles[k][0]) * d.radius(Mm(slant)).0;
            let far = libm::hypot(along, slant - middles[k][1]);
            if best.is_none_or(|b| far < b.0) {
                best = Some((far, k, held.1));
            }
        }
        if let Some((_, k, n)) = best {
            out[k].push((i, n));
        }
    }
    out
}
