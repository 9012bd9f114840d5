//! Which film each spot is cut from: shares by count or by area, neighbours apart where the shares allow it.
//!
//! Imports: base, outline, read::job, make::accent::{obstacle_grid, greedy}.

use super::greedy::SpotCandidate;
use super::outline::{V, len, sub};
use crate::base::random::Random;
use crate::make::accent::obstacle_grid::ObstacleGrid;
use crate::outline::plane::ring_area;
use crate::read::job::{AccentSpec, FilmId, ShareBy};
use std::collections::BTreeMap;

/// A film for each draft. By count, counts follow the shares within one spot; by area, areas follow them
/// within about half of a large spot.
pub(super) fn choose(
    spec: &AccentSpec,
    drafts: &[SpotCandidate],
    world: &ObstacleGrid,
    random: &mut Random,
) -> Vec<FilmId> {
    if spec.films.len() < 2 {
        let only = spec.films.first().map_or(FilmId(0), |f| f.0);
        return vec![only; drafts.len()];
    }
    let mut sequence: Vec<usize> = (0..drafts.len()).collect();
    random.shuffle(&mut sequence);
    let amounts: Vec<f64> = match spec.share_by {
        ShareBy::Count => vec![1.0; drafts.len()],
        ShareBy::Area => drafts.iter().map(|d| ring_area(&d.ring)).collect(),
    };
    let whole = match spec.share_by {
        ShareBy::Count => counts(spec, drafts.len()),
        ShareBy::Area => {
            // The small ones come last: they even out what the large ones left.
            sequence.sort_by(|&a, &b| amounts[b].total_cmp(&amounts[a]));
            let (all, sum) = (amounts.iter().sum::<f64>(), spec.films.iter().map(|f| f.1).sum::<f64>());
            spec.films.iter().map(|f| f.1 / sum * all).collect()
        }
    };
    let near = neighbours(drafts, world);
    let mut left = whole.clone();
    let mut chosen: Vec<Option<usize>> = vec![None; drafts.len()];
    for &i in &sequence {
        let mut best = (f64::NEG_INFINITY, 0);
        let most = left.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        for (f, &n) in left.iter().enumerate() {
            // Room for at least half of it, unless no film has.
            if n < 0.5 * amounts[i] && n < most {
                continue;
            }
            let like: f64 = near[i].iter().filter(|&&j| chosen[j] == Some(f)).count() as f64;
            let score = n / whole[f].max(amounts[i]) - 0.7 * like;
            if score > best.0 {
                best = (score, f);
            }
        }
        left[best.1] -= amounts[i];
        chosen[i] = Some(best.1);
    }
    chosen.into_iter().map(|c| spec.films[c.unwrap_or(0)].0).collect()
}

/// Whole counts that follow the shares and sum to the number of spots (largest remainders).
fn counts(spec: &AccentSpec, total: usize) -> Vec<f64> {
    let sum: f64 = spec.films.iter().map(|f| f.1).sum();
    let exact: Vec<f64> = spec.films.iter().map(|f| f.1 / sum * total as f64).collect();
    let mut whole: Vec<f64> = exact.iter().map(|e| libm::floor(*e)).collect();
    let mut order: Vec<usize> = (0..exact.len()).collect();
    order.sort_by(|&a, &b| (exact[b] - whole[b]).total_cmp(&(exact[a] - whole[a])));
    let missing = total - whole.iter().sum::<f64>() as usize;
    order.iter().cycle().take(missing).for_each(|&i| whole[i] += 1.0);
    whole
}

/// For each draft those whose middles lie within both sizes of its own, over the seam: by a grid of middles.
fn neighbours(drafts: &[SpotCandidate], world: &ObstacleGrid) -> Vec<Vec<usize>> {
    let largest = drafts.iter().map(|d| d.pose.size).fold(1.0, f64::max);
    let cell = 1.2 * largest + 3.0;
    let key = |p: V| (libm::floor(p[0] / cell) as i64, libm::floor(p[1] / cell) as i64);
    let mut grid: BTreeMap<(i64, i64), Vec<(usize, V)>> = BTreeMap::new();
    for (i, d) in drafts.iter().enumerate() {
        for at in world.copies_of(d.pose.at) {
            grid.entry(key(at)).or_default().push((i, at));
        }
    }
    let near = |i: usize| {
        let a = &drafts[i].pose;
        let (x, y) = key(a.at);
        let mut out = Vec::new();
        for cell in (y - 1..=y + 1).flat_map(|y| (x - 1..=x + 1).map(move |x| (x, y))) {
            for &(j, at) in grid.get(&cell).into_iter().flatten() {
                let reach = 0.6 * (a.size + drafts[j].pose.size) + 3.0;
                if j != i && len(sub(at, a.at)) < reach {
                    out.push(j);
                }
            }
        }
        out.sort_unstable();
        out.dedup();
        out
    };
    (0..drafts.len()).map(near).collect()
}
