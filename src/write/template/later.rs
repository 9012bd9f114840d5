//! The wall as a later film step finds it: coats on it since the first one have made it longer round.
//!
//! Every circumference grows by `2 pi b cos(lean)` and the wall keeps its height, so the rolled out ring is one of the
//! same height and another size. It is drawn over the template, both at the foot of the line opposite the seam.
//!
//! Imports: base, read::job, make::{cup, finish, verify}, write::ink, write::template::band.

use super::band::Band;
use crate::base::tolerance::SAME_SURFACE;
use crate::base::units::Mm;
use crate::make::cup::WallZone;
use crate::make::verify::Verified;
use crate::read::job::finish::StepKind;
use crate::write::ink::drawing::{Dash, Group, INK, Stroke, Text};
use crate::write::ink::letters::Anchor;

/// From the ends to the words, and from one step's words to the next.
const BESIDE: f64 = 1.5;
const BETWEEN: f64 = 4.0;
const SIZE: f64 = 2.4;

/// A film step that goes on a longer wall than the template's.
#[derive(Clone, Debug, PartialEq)]
pub struct LaterStep {
    /// Its place among the film steps.
    pub order: usize,
    /// What it is called.
    pub name: String,
    /// Coats under it.
    pub under: Mm,
    /// How much longer round the wall is than the template, where it is most.
    pub longer: Mm,
}

/// Film steps with pieces whose wall a tape would tell from the template's.
pub fn steps(plan: &Verified) -> Vec<LaterStep> {
    let (job, cup) = (plan.job(), plan.cup());
    let Some(spec) = &job.finish else { return Vec::new() };
    let told = (job.cup.tape * 0.5).max(SAME_SURFACE);
    let film = plan.finish().steps.iter().filter(|s| s.kind == StepKind::Film).zip(spec.film_steps());
    let one = |(order, (step, (_, said))): (usize, (&crate::make::finish::StepPlan, (usize, &_)))| {
        let said: &crate::read::job::finish::StepSpec = said;
        let longer = cup.growth(step.before - job.cup.build_up);
        let name = said.name.clone().unwrap_or_else(|| format!("film step {}", order + 1));
        (step.pieces > 0 && longer > told).then_some(LaterStep { order, name, under: step.before, longer })
    };
    film.enumerate().skip(1).filter_map(one).collect()
}

/// A zone's ring as a later step finds it, laid over the template's.
pub fn ring(zone: &WallZone, under: Mm, band: &Band) -> Band {
    let grown = WallZone::new(zone.low, zone.measured, under, |_| zone.zone.clone());
    let mut ring = Band::facing(&grown, band.middle);
    ring.lap = band.lap;
    let (to, from) = (band.at(band.middle, band.low), ring.at(band.middle, band.low));
    ring.shift(to.x - from.x, to.y - from.y);
    ring
}

/// The outlines of all later steps, each with its name beyond its right end; none where the wall stays as it is.
pub fn group(plan: &Verified, zone: &WallZone, band: &Band) -> Option<Group> {
    let steps = steps(plan);
    let mut g = Group::new("later-steps", "The wall as later film steps find it: rim, base and ends");
    for (k, step) in steps.iter().enumerate() {
        let ring = ring(zone, step.under, band);
        for c in ring.outline().into_contours() {
            g.stroke(c, Stroke { colour: INK, width: 0.2, dash: Dash::Dashed }).id = Some(path_id(step));
        }
        let right = ring.ends().1;
        let p = ring.at(right, Mm(f64::midpoint(ring.low.0, ring.wall.0)));
        // Upright along the end, their feet away from it.
        let (c, s) = ring.level(right);
        let along = ring.lap.0 + BESIDE + SIZE + BETWEEN * k as f64;
        let words = format!("\"{}\": {:.2} longer round", step.name, step.longer);
        let text = Text::new(&words, SIZE).anchor(Anchor::Middle);
        g.text_turned(&text, (p.x + c * along, p.y + s * along), (-s, c));
    }
    (!steps.is_empty()).then_some(g)
}

/// Id of the outline of a step.
pub fn path_id(step: &LaterStep) -> String {
    format!("wall-of-step-{}", step.order + 1)
}

/// What the template says of them; empty where the wall stays as it is.
pub fn words(plan: &Verified) -> String {
    let one = |s: LaterStep| {
        format!(
            "Dashed: the wall for \"{}\", {:.2} longer round. Cut along its ends, and lap to the solid line for what goes \
             on before. ",
            s.name, s.longer
        )
    };
    steps(plan).into_iter().map(one).collect()
}
