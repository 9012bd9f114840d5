//! Borders between the parts of a curved wall, off what lies whole on it.
//!
//! Of 121 heights those that no span covers are free; of the ways from the base edge to the rim over free heights the
//! one is taken that has the fewest stretches within [`MOST_OFF`], or, where none has, the one whose worst stretch is
//! off least (least greatest cost by stages: Bellman's principle). The tallest piece is tried at 41 heights, as a span.
//!
//! Imports: base, read::job::model.

use super::model::Whole;
use crate::base::units::Mm;

/// Largest part by which the wall's girth may be off that of the cone of its zone: the figure of the design.
pub const MOST_OFF: f64 = 0.01;
/// Most cones that a wall is parted into.
pub(super) const MOST_CONES: usize = 24;
/// The same of a part that is wider because something lies whole on it.
pub(super) const MOST_WHOLE: f64 = 0.05;
/// Places at which a border may then lie, and at which the tallest piece is tried.
const BORDERS: usize = 120;
const TALL_PLACES: usize = 40;

/// Borders off what lies whole: the fewest within [`MOST_OFF`], else those that are off least; none where even
/// these are off by more than [`MOST_WHOLE`].
pub(super) fn with(whole: &Whole, wall: f64, bulge: impl Fn(f64, f64) -> (f64, f64)) -> Option<Vec<f64>> {
    let n = BORDERS;
    let at = |i: usize| wall * i as f64 / n as f64;
    let half = |i: usize, j: usize| {
        let (least, greatest) = bulge(at(i), at(j));
        (greatest - least) / 2.0
    };
    let costs: Vec<Vec<f64>> =
        (0..n).map(|i| (0..=n).map(|j| if j > i { half(i, j) } else { 0.0 }).collect()).collect();
    let allowed = |i: usize, more: Option<&(Mm, Mm)>| {
        i == 0 || i == n || !whole.spans.iter().chain(more).any(|s| inside(at(i), s))
    };
    let (low, high) = (whole.within.0, whole.within.1 - whole.tallest);
    let starts: Vec<Option<(Mm, Mm)>> = if whole.tallest <= Mm::ZERO || high < low {
        vec![None]
    } else {
        let step = (high - low) / TALL_PLACES as f64;
        let span = |k: usize| (low + step * k as f64, low + step * k as f64 + whole.tallest);
        (0..=TALL_PLACES).map(|k| Some(span(k))).collect()
    };
    let all = starts.iter().filter_map(|tall| {
        let free: Vec<usize> = (0..=n).filter(|i| allowed(*i, tall.as_ref())).collect();
        least_off(&free, &costs)
    });
    let best =
        all.min_by(|a, b| a.len().cmp(&b.len()).then(most_off(a, &costs).total_cmp(&most_off(b, &costs))))?;
    (most_off(&best, &costs) <= MOST_WHOLE).then(|| best.into_iter().map(at).collect())
}

/// Where stretches of unlike height meet, the border is raised as the higher one asks: it is off by most.
pub(super) fn larger(below: f64, above: f64) -> f64 {
    if below * above < 0.0 {
        f64::midpoint(below, above)
    } else if below.abs() > above.abs() {
        below
    } else {
        above
    }
}

/// Does a height lie inside a span?
pub(super) fn inside(s: f64, (low, high): &(Mm, Mm)) -> bool {
    s > low.0 && s < high.0
}

fn most_off(borders: &[usize], costs: &[Vec<f64>]) -> f64 {
    borders.windows(2).map(|w| costs[w[0]][w[1]]).fold(0.0, f64::max)
}

/// Of the borders that are free, from the first to the last: the fewest whose stretches are off by no more than
/// [`MOST_OFF`], else those that are off least; of as many those that are off least.
fn least_off(free: &[usize], costs: &[Vec<f64>]) -> Option<Vec<usize>> {
    let n = free.len();
    // Least greatest cost of reaching each border with so many stretches, and from where.
    let mut best: Vec<(f64, Vec<usize>)> = vec![(f64::INFINITY, Vec::new()); n];
    best[0] = (0.0, vec![free[0]]);
    let mut least: Option<(f64, Vec<usize>)> = None;
    for _ in 0..MOST_CONES.min(n) {
        let mut next: Vec<(f64, Vec<usize>)> = vec![(f64::INFINITY, Vec::new()); n];
        for j in 1..n {
            let to = |i: usize| best[i].0.max(costs[free[i]][free[j]]);
            let from = (0..j).filter(|i| best[*i].0.is_finite()).min_by(|a, b| to(*a).total_cmp(&to(*b)));
            if let Some(i) = from {
                let way = best[i].1.iter().copied().chain([free[j]]).collect();
                next[j] = (to(i), way);
            }
        }
        best = next;
        let (off, way) = &best[n - 1];
        if *off <= MOST_OFF {
            return Some(way.clone());
        }
        // More borders pay only if they better it by a twentieth.
        if least.as_ref().is_none_or(|(l, _)| *off < l * 0.95) && off.is_finite() {
            least = Some((*off, way.clone()));
        }
    }
    least.map(|(_, way)| way)
}
