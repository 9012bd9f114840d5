//! How long each step waits for the next: recoat windows, adhesives that stay open, lamps.
//!
//! Imports: base, read::job, make::finish::amount.

use super::amount::first_of_batch;
use crate::base::moment::Minutes;
use crate::base::units::Mm2;
use crate::read::job::finish::{Basis, FinishSpec, Product, StepKind};

/// Least time that the calendar is given to go on while a coat is wet.
const WET: u32 = 5;

/// The area that hardens when a step is done: its own, or that of the coat under it. `areas` are those of the
/// steps before it.
pub(super) fn lamp_area(spec: &FinishSpec, i: usize, areas: &[Mm2], own: Mm2) -> Mm2 {
    match spec.steps[i].kind {
        StepKind::Glitter => spec.adhesive_under(i).map_or(own, |a| areas[a]),
        StepKind::Cure => {
            let coat = spec.steps[..i].iter().rposition(|s| s.kind.is_coat());
            coat.map_or(own, |c| lamp_area(spec, c, areas, areas[c]))
        }
        _ => own,
    }
}

/// Time under the lamp until an area of a product is hard, if a lamp hardens it.
pub(super) fn lamp(p: &Product, area: Mm2) -> Option<Minutes> {
    Some(p.lamp?.time(area))
}

/// Is the next step done while this one is wet: glitter on an adhesive, the rest of a batch on its first coat?
pub(super) fn next_on_wet(spec: &FinishSpec, i: usize) -> bool {
    let Some(next) = spec.steps.get(i + 1) else { return false };
    let glitter = matches!(spec.steps[i].kind, StepKind::Adhesive | StepKind::Glitter);
    let shares = first_of_batch(spec, i).is_some() && first_of_batch(spec, i) == first_of_batch(spec, i + 1);
    glitter && next.kind == StepKind::Glitter && spec.adhesive_under(i + 1).is_some() || shares
}

/// Time under the lamp after a step, once all is on that goes on while it is wet; a cure step after it takes it over.
pub(super) fn under_lamp(spec: &FinishSpec, i: usize, area: Mm2) -> Option<Minutes> {
    let step = &spec.steps[i];
    let next = spec.steps.get(i + 1).map(|n| n.kind);
    let hardens = step.kind.is_coat() && next != Some(StepKind::Cure);
    if !(hardens || (step.kind == StepKind::Cure && next.is_some())) || next_on_wet(spec, i) {
        return None;
    }
    lamp(spec.hardens(i)?, area)
}

/// How long the cup turns after a step: on the wall, once the last thing is on that goes on while it is wet.
pub(super) fn turning(spec: &FinishSpec, i: usize, area: Mm2) -> Option<Minutes> {
    let step = &spec.steps[i];
    let cures = spec.steps.get(i + 1).is_some_and(|n| n.kind == StepKind::Cure);
    let hardens = step.kind == StepKind::Cure && i + 1 < spec.steps.len();
    if !(step.kind.is_coat() || hardens) || step.over.on_base() || next_on_wet(spec, i) {
        return None;
    }
    let p = spec.hardens(i)?;
    let time = match lamp(p, area) {
        // The cure step after it is the time under the lamp.
        Some(_) if cures => return None,
        Some(time) => time,
        None if hardens => return None,
        None => p.turning.value,
    };
    (time.0 > 0).then_some(time)
}

/// When the whole cup can be used.
fn in_use(spec: &FinishSpec) -> Minutes {
    let used = spec.steps.iter().filter(|s| !s.done).filter_map(|s| spec.product(s));
    used.map(|p| p.cured_after.value).max().unwrap_or_default()
}

/// Hard enough to sand, or to take film.
fn hard(p: &Product, area: Mm2) -> Minutes {
    match lamp(p, area) {
        Some(time) if p.hard_after.basis == Basis::CommonPractice => time,
        Some(time) => time.max(p.hard_after.value),
        None => p.hard_after.value,
    }
}

/// Earliest next coat.
fn recoat(p: &Product, area: Mm2) -> Minutes {
    match lamp(p, area) {
        Some(time) if p.recoat_from.basis == Basis::CommonPractice => time,
        Some(time) => time.max(p.recoat_from.value),
        None => p.recoat_from.value,
    }
}

/// What the product of a step asks for before the next step, whatever the job says: earliest and latest.
pub(super) fn asked(spec: &FinishSpec, i: usize, area: Mm2) -> (Minutes, Option<Minutes>) {
    let step = &spec.steps[i];
    let Some(next) = spec.steps.get(i + 1) else { return (in_use(spec), None) };
    if next_on_wet(spec, i) {
        let Some(p) = spec.hardens(i) else { return (Minutes(0), None) };
        let open = if next.kind == StepKind::Glitter { Some(p.open) } else { p.pot_life };
        let gone = if step.kind == StepKind::Glitter { step.each.value.0 } else { 0 };
        return (Minutes(0), open.map(|o| Minutes(o.value.0.saturating_sub(gone).max(WET))));
    }
    let p = spec.hardens(i);
    match (step.kind, p) {
        (StepKind::Cure, Some(p)) => match lamp(p, area) {
            Some(time) => (time, None),
            None if !p.kind.two_part() => (p.recoat_from.value, None),
            None => (in_use(spec), None),
        },
        (StepKind::Cure, None) => (in_use(spec), None),
        (_, Some(_)) if next.kind == StepKind::Cure => (Minutes(0), None),
        (_, Some(p)) if next.kind.is_coat() => {
            (recoat(p, area), p.recoat_until.map(|u| u.value).filter(|_| next.kind.is_clear()))
        }
        (_, Some(p)) => (hard(p, area), None),
        (StepKind::Wash, None) => (Minutes(15), None),
        (_, None) => (Minutes(0), None),
    }
}

/// Earliest and latest next step after one: as the job says, else as its product asks.
pub(super) fn wait(spec: &FinishSpec, i: usize, area: Mm2) -> (Minutes, Option<Minutes>) {
    let (from, until) = asked(spec, i, area);
    (spec.steps[i].wait.map_or(from, |w| w.value), until)
}
