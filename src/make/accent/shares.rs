//! Families in the shares asked: what lacks most goes first into each void, and spots of what is too many are
//! exchanged where another shape holds in their place.
//!
//! Imports: base, outline, read::job, make::piece, make::accent::{obstacle_grid, distance_field, greedy, check}.

use super::check::SHARES_MISSED;
use super::distance_field::DistanceField;
use super::greedy::{self, FillParams, SpotCandidate, lift, place};
use super::obstacle_grid::ObstacleGrid;
use crate::base::diag::{Diagnostic, Diagnostics, KeyPath};
use crate::base::random::Random;
use crate::make::piece::{Kind, Piece};
use crate::outline::plane::ring_area;
use crate::read::job::{AccentSpec, Job, SpotShape};

/// Rounds of exchanging and filling what that leaves open.
const ROUNDS: usize = 2;
/// A share that is missed by more than this part of all spots, and by more spots than one, is told.
const MISSED: f64 = 0.05;

/// Exchanges spots of kinds that are too many for those that lack, the largest first, and fills what that leaves
/// open; `bare` is the raster without spots.
pub(super) fn deal(
    kit: &FillParams,
    world: &mut ObstacleGrid,
    (field, bare): (&mut DistanceField, &DistanceField),
    drafts: &mut Vec<SpotCandidate>,
    random: &mut Random,
) {
    if kit.shares.len() < 2 {
        return;
    }
    for _ in 0..ROUNDS {
        let mut order: Vec<usize> = (0..drafts.len()).collect();
        let area: Vec<f64> = drafts.iter().map(|d| ring_area(&d.ring)).collect();
        order.sort_by(|a, b| area[*b].total_cmp(&area[*a]).then(a.cmp(b)));
        let mut changed = false;
        for i in order {
            let lack = greedy::missing(kit, &greedy::counts(kit, drafts), drafts.len());
            let kind = kit.library[drafts[i].template].kind;
            if lack[kind] > -1.0 {
                continue;
            }
            let mut kinds: Vec<usize> = (0..lack.len()).filter(|k| lack[*k] >= 1.0).collect();
            kinds.sort_by(|a, b| lack[*b].total_cmp(&lack[*a]).then(a.cmp(b)));
            if kinds.is_empty() {
                break;
            }
            changed |= exchanged(kit, world, (field, bare), (drafts, i), &kinds, random);
        }
        if !changed {
            return;
        }
        field.revive();
        greedy::fill(kit, world, field, drafts, random, 1);
    }
}

/// Puts a spot of one of these kinds in a spot's place; false, and all as it was, if none holds there.
fn exchanged(
    kit: &FillParams,
    world: &mut ObstacleGrid,
    (field, bare): (&mut DistanceField, &DistanceField),
    (drafts, i): (&mut [SpotCandidate], usize),
    kinds: &[usize],
    random: &mut Random,
) -> bool {
    let id = kit.first + i;
    world.leave(id);
    lift(world, field, bare, id, &drafts[i].ring);
    let at = drafts[i].pose.at;
    let new = greedy::best_at(kit, (world, field), (at, kinds), random, (2, &mut 0), drafts);
    let done = new.is_some();
    if let Some(new) = new {
        drafts[i] = new;
    }
    place(world, Some(field), id, &drafts[i].ring);
    done
}

/// Notes where a fill's shares were missed: what came of each kind, made now or kept from an earlier kit.
pub fn tell(job: &Job, pieces: &[Piece], diagnostics: &mut Diagnostics) {
    for (accent, spec) in job.accents.iter().enumerate() {
        let of_fill = |p: &&Piece| matches!(p.kind, Kind::Spot { accent: a } if a == accent);
        let names: Vec<&str> = pieces.iter().filter(of_fill).map(|p| p.name.as_str()).collect();
        diagnostics.extend(missed(spec, &names, &KeyPath::root().key("accent").index(accent)));
    }
}

/// The same of one fill's spots, by their names.
pub(super) fn missed(spec: &AccentSpec, names: &[&str], at: &KeyPath) -> Option<Diagnostic> {
    let all = names.len() as f64;
    let family = |shape: &SpotShape| match shape {
        SpotShape::Family(f) => Some(f.name()),
        SpotShape::Own(_) => None,
    };
    let families: Vec<&str> = spec.shapes.iter().filter_map(family).collect();
    // What bears no family's name is the maker's own.
    let is = |n: &str, kind: usize| match family(&spec.shapes[kind]) {
        Some(f) => n == f,
        None => !families.contains(&n),
    };
    let count = |kind: usize| names.iter().filter(|n| is(n, kind)).count() as f64;
    let off = |kind: usize| (count(kind) - spec.shares[kind] * all).abs();
    let worst = (0..spec.shares.len()).map(off).fold(0.0, f64::max);
    if spec.shares.len() < 2 || worst <= (MISSED * all).max(1.0) {
        return None;
    }
    let name = |kind: usize| family(&spec.shapes[kind]).unwrap_or("art of your own");
    let told = |of: &dyn Fn(usize) -> String| (0..spec.shares.len()).map(of).collect::<Vec<_>>().join(", ");
    let came = told(&|k| format!("{} {}", count(k), name(k)));
    let asked = told(&|k| format!("{:.0} % {}", 100.0 * spec.shares[k], name(k)));
    Some(
        Diagnostic::note(&SHARES_MISSED, at.clone(), format!("{}: {came}", SHARES_MISSED.title))
            .measured(format!("off by {worst:.0} of {all} spots"))
            .allowed(asked)
            .help("allow smaller spots, or ask for shapes that are more alike in width"),
    )
}
