//! Which film each spot is cut from: shares by count, neighbours apart where the shares allow it.
//!
//! Imports: base, read::job, make::accent::{greedy, outline, world}.

use super::greedy::Draft;
use super::outline::{len, sub};
use super::world::World;
use crate::base::random::Random;
use crate::read::job::{AccentSpec, FilmId};

/// A film for each draft. Counts follow the shares within one spot.
pub(super) fn choose(spec: &AccentSpec, drafts: &[Draft], world: &World, random: &mut Random) -> Vec<FilmId> {
    if spec.films.len() < 2 {
        let only = spec.films.first().map_or(FilmId(0), |f| f.0);
        return vec![only; drafts.len()];
    }
    let total = drafts.len() as f64;
    let sum: f64 = spec.films.iter().map(|f| f.1).sum();
    // Largest remainders: whole counts that sum to the number of spots.
    let exact: Vec<f64> = spec.films.iter().map(|f| f.1 / sum * total).collect();
    let mut left: Vec<usize> = exact.iter().map(|e| libm::floor(*e) as usize).collect();
    let mut order: Vec<usize> = (0..exact.len()).collect();
    order.sort_by(|&a, &b| (exact[b] - libm::floor(exact[b])).total_cmp(&(exact[a] - libm::floor(exact[a]))));
    let missing = drafts.len() - left.iter().sum::<usize>();
    order.iter().cycle().take(missing).for_each(|&i| left[i] += 1);
    let mut chosen: Vec<Option<usize>> = vec![None; drafts.len()];
    let mut sequence: Vec<usize> = (0..drafts.len()).collect();
    random.shuffle(&mut sequence);
    for &i in &sequence {
        let mut best = (f64::NEG_INFINITY, 0);
        for (f, &n) in left.iter().enumerate() {
            if n == 0 {
                continue;
            }
            let like: f64 = near(drafts, world, i).filter(|&j| chosen[j] == Some(f)).count() as f64;
            let score = n as f64 / exact[f].max(1.0) - 0.7 * like;
            if score > best.0 {
                best = (score, f);
            }
        }
        left[best.1] -= 1;
        chosen[i] = Some(best.1);
    }
    chosen.into_iter().map(|c| spec.films[c.unwrap_or(0)].0).collect()
}

/// Drafts whose middles lie within both sizes of a draft's, over the seam.
fn near<'a>(drafts: &'a [Draft], world: &'a World, i: usize) -> impl Iterator<Item = usize> + 'a {
    let a = &drafts[i].pose;
    (0..drafts.len()).filter(move |&j| {
        let b = &drafts[j].pose;
        let reach = 0.6 * (a.size + b.size) + 3.0;
        j != i && (-1..=1).any(|n| len(sub(world.turned(b.at, n), a.at)) < reach)
    })
}
