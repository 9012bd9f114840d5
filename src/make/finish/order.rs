//! Rules of order: what must come before what, whether the film is buried, whether the layout was made for
//! it.
//!
//! All of them are common practice (no source) unless a line says otherwise.
//!
//! Imports: base, read::job, make::cup, make::finish::{stack, schedule, coat}.

use super::coat::{StepPlan, step_path};
use super::schedule::MISSED;
use super::stack::FilmStack;
use crate::base::diag::{Code, Diagnostic, Diagnostics, KeyPath};
use crate::base::moment::Minutes;
use crate::base::tolerance::{SAME_SURFACE, WHOLE_STEPS};
use crate::base::units::Mm;
use crate::make::cup::Cup;
use crate::read::job::finish::{BaseSpec, FinishSpec, Over, ProductKind, StepKind, StepSpec, defaults};
use serde::Serialize;

/// Sanded right before film.
pub const SCRATCHES: Code = Code {
    id: "finish/sanded-under-film",
    title: "sanded right before film",
    explain: "Scratches of sanding show under clear film for good; under opaque film they let water creep \
        in. Put a thin clear coat between the sanding and the film, or sand earlier.",
};
/// Sanded right after film.
pub const SANDED_FILM: Code = Code {
    id: "finish/film-sanded",
    title: "film is sanded before it is sealed",
    explain: "Sanding between film and its first clear coat cuts into the film and lifts its edges. Seal \
        the film first.",
};
/// Nothing over the film.
pub const NOT_BURIED: Code = Code {
    id: "finish/film-not-buried",
    title: "the clear coats over the film are too thin to bury it",
    explain: "To end with a smooth wall, the clear coats after the last film must together be thicker than \
        the highest step of film (the thickness of all films that lie on each other at one place) and a \
        margin for sanding. The step is taken from the outlines of this job's own pieces.",
};
/// The layout was made for another surface.
pub const OTHER_SURFACE: Code = Code {
    id: "finish/build-up-differs",
    title: "template and layout were made for another surface than the film goes on",
    explain: "Coats under the film lengthen every circumference by 2 pi times their thickness (times the \
        cosine of the wall's lean). Where the job says nothing, template and layout are made for the coats \
        before the first film step. This job names cup.build-up itself, and its coats come to something \
        else. Take cup.build-up out, set it to the sum given, or mark coats that were already on the cup \
        when it was measured with done = true.",
};
/// Film on a later, larger surface.
pub const LARGER: Code = Code {
    id: "finish/later-film-on-larger-wall",
    title: "a later film goes on a larger wall than the template was made for",
    explain: "Template and layout are made for the surface of the first film step. Coats between that and a \
        later film step enlarge the wall: single pieces only come to lie a little farther apart, but a \
        piece that goes all the way round would not meet itself. Place such a film in the first film step, \
        or make it in a job of its own. The template has rim, base and ends of that wall as a dashed line with the \
        step's name.",
};
/// A disc without a step, or a step without a disc.
pub const NO_DISC_STEP: Code = Code {
    id: "finish/base-disc-step",
    title: "the disc for the base and the step that puts it on do not go together",
    explain: "[finish.base] says what the disc is, a step with do = \"base disc\" when it goes on. A job \
        has both or neither.",
};
/// A step out of place.
pub const OUT_OF_ORDER: Code = Code {
    id: "finish/out-of-order",
    title: "a step stands in a place where it does harm",
    explain: "Glitter needs a wet adhesive under it and a seal over it; film needs a smooth surface; paint and \
        glitter after film cover it; the base disc comes after the coats of the wall, or lies under a coat of its \
        own; no coat comes after epoxy has cured through, unless it is sanded first. Adhesive, several glitters \
        and curing under a lamp may follow each other in the middle of the list.",
};
/// Pieces but no film step.
pub const NO_FILM_STEP: Code = Code {
    id: "finish/no-film-step",
    title: "the steps place no film, but the job has pieces",
    explain: "The list of steps says when each film goes on. A job with pieces needs a film step; a film \
        step that names films places only those.",
};
/// Product at its defaults.
pub const ASSUMED: Code = Code {
    id: "finish/product-assumed",
    title: "a product is assumed",
    explain: "The job names no product for a step, so mixing ratio, densities, windows and curing time are \
        common practice, not those of your product. A wrong mixing ratio never hardens. Name the product \
        and take its numbers from its data sheet.",
};
/// A batch is worked longer than it lives.
pub const POT_LIFE: Code = Code {
    id: "finish/pot-life",
    title: "a batch would harden before it is used up",
    explain: "All cups of a load are coated from one batch. If that takes longer than the pot life, mix for \
        fewer cups at a time.",
};
/// Isocyanate at home.
pub const ISOCYANATE: Code = Code {
    id: "finish/isocyanate",
    title: "an isocyanate clear coat is not for a home workshop",
    explain: "Isocyanates cause asthma. In the EU their use needs training (REACH, Annex XVII, entry 74). \
        Let a licensed workshop do it, or use another clear coat.",
};
/// Sealed over a coat past its window.
pub const PAST_WINDOW: Code = Code {
    id: "finish/seal-past-window",
    title: "film is sealed when the coat under it is past its recoat window",
    explain: "Film needs a hard coat under it; by then most resins no longer bond chemically to the next \
        coat, and sanding would show. Wash with what the data sheet names before sealing, and try it on a \
        spare cup.",
};
/// The ratio cannot be measured.
pub const RATIO: Code = Code {
    id: "finish/ratio-not-measurable",
    title: "no batch keeps the mixing ratio with these measures",
    explain: "Rounded to the smallest step of measuring cup or scale, the two parts are farther from the \
        ratio than allowed. Use a finer measure or mix by weight.",
};

/// How deep the film lies under its clear coats.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Burial {
    /// The highest step of film.
    pub step: FilmStack,
    /// Kept for sanding.
    #[serde(rename = "sanding_margin_mm")]
    pub margin: Mm,
    /// Clear coats after the last film.
    #[serde(rename = "clear_over_mm")]
    pub over: Mm,
    /// Clear coats needed.
    #[serde(rename = "needed_mm")]
    pub needed: Mm,
    /// Full clear coats to add; 0: buried.
    pub coats_to_add: u32,
}

impl Burial {
    /// Is the film buried, in two sentences.
    pub fn words(&self) -> String {
        if self.step.height <= Mm::ZERO {
            return "No film lies on the wall.".into();
        }
        let pieces: Vec<String> = self.step.pieces.iter().map(u32::to_string).collect();
        let step = match pieces.len() {
            0 | 1 => format!("The film rises {:.2} over the wall", self.step.height),
            n => format!(
                "Where most film lies on film ({n} pieces: {}), it rises {:.2}",
                pieces.join(", "),
                self.step.height
            ),
        };
        let verdict = match self.coats_to_add {
            0 => "it is buried".to_owned(),
            1 => "that is too little, add one clear coat".to_owned(),
            n => format!("that is too little, add {n} clear coats"),
        };
        format!(
            "{step}; with {:.2} kept for sanding it needs {:.2} of clear coats over it. The steps put on \
                {:.2}: {verdict}.",
            self.margin, self.needed, self.over
        )
    }
}

/// Is the film buried?
pub fn burial(
    spec: &FinishSpec,
    plan: &[StepPlan],
    step: FilmStack,
    diagnostics: &mut Diagnostics,
) -> Burial {
    let last_film = plan.iter().rposition(|s| s.kind == StepKind::Film);
    let over: Mm = plan
        .iter()
        .enumerate()
        .filter(|(i, s)| s.kind.is_clear() && spec.steps[*i].over == Over::Wall && Some(*i) > last_film)
        .map(|(_, s)| s.thickness)
        .sum();
    let margin = spec.sanding_margin.value;
    let needed = if step.height > Mm::ZERO { step.height + margin } else { Mm::ZERO };
    let short = (needed - over).max(Mm::ZERO);
    // One more coat is one like the fullest that this job puts on.
    let clear = |(i, s): (usize, &StepPlan)| {
        (s.kind.is_clear() && spec.steps[i].over == Over::Wall).then_some(s.thickness)
    };
    let full = plan.iter().enumerate().filter_map(clear).fold(Mm::ZERO, Mm::max);
    let full = if full > Mm::ZERO { full } else { defaults::CLEAR };
    let add = libm::ceil(short / full - WHOLE_STEPS).max(0.0) as u32;
    if add > 0 {
        let numbers: Vec<String> = step.pieces.iter().map(u32::to_string).collect();
        diagnostics.push(
            Diagnostic::warning(
                &NOT_BURIED,
                KeyPath::of("finish.step"),
                format!("piece(s) {} rise {:.2} over the wall", numbers.join(", "), step.height),
            )
            .measured(format!("{over:.2} of clear coats over the last film"))
            .allowed(format!("at least {needed:.2}: the step and {margin:.2} for sanding"))
            .help(format!("add {add} clear coat(s) of {full:.2} after the film")),
        );
    }
    Burial { step, margin, over, needed, coats_to_add: add }
}

/// Was the layout made for the surface that each film goes on? Half of the tape's uncertainty in girth is let
/// pass.
pub fn surface(plan: &[StepPlan], bare: &Cup, layout: Mm, tape: Mm, diagnostics: &mut Diagnostics) {
    let pass = (tape * 0.5).max(SAME_SURFACE);
    let mut film_steps = plan.iter().filter(|s| s.kind == StepKind::Film);
    let Some(first) = film_steps.next() else { return };
    let off = bare.growth(first.before - layout);
    if off.abs() > pass {
        let under = first.before;
        diagnostics.push(
            Diagnostic::warning(
                &OTHER_SURFACE,
                KeyPath::of("cup.build-up"),
                "the coats before the film are not what the layout was made for",
            )
            .measured(format!("{under:.3} of coats under the film; every circumference is off by {off:.2}"))
            .allowed(format!("{layout:.3}, as in cup.build-up"))
            .help(format!(
                "take build-up out, write build-up = {:.3} under [cup], or mark coats measured over with \
                    done = true",
                under.0
            )),
        );
    }
    for step in film_steps.filter(|s| s.pieces > 0) {
        let off = bare.growth(step.before - layout);
        if off.abs() > pass {
            diagnostics.push(
                Diagnostic::note(
                    &LARGER,
                    step_path(step.number - 1),
                    format!(
                        "step {} puts film on a wall {off:.2} longer round than the template",
                        step.number
                    ),
                )
                .measured(format!("{:.3} of coats under it", step.before))
                .allowed(format!("{layout:.3}, for which template and layout are made"))
                .help("keep to single pieces there, each placed by its own height and distance"),
            );
        }
    }
}

/// Disc and the step that puts it on: both or neither.
pub fn disc_step(spec: &FinishSpec, diagnostics: &mut Diagnostics) {
    let step = spec.steps.iter().position(|s| s.kind == StepKind::BaseDisc);
    let marked = spec.steps.iter().any(|s| s.kind == StepKind::BaseMark);
    // A base whose zones are sprinkled, and whose mark has a step of its own, has no disc.
    let disc = |b: &BaseSpec| {
        b.centre_film.is_some()
            || (b.ring > Mm::ZERO && b.ring_film.is_some())
            || (!marked && b.mark.is_some())
    };
    match (spec.base.as_ref().is_some_and(disc), step) {
        (true, None) => {
            let d = Diagnostic::warning(
                &NO_DISC_STEP,
                KeyPath::of("finish.base"),
                "no step puts the disc on the base",
            );
            diagnostics.push(d.help("add a step with do = \"base disc\" after the coats of the wall"));
        }
        (false, Some(i)) => {
            let what = "the job has no disc of film for the base";
            let d = Diagnostic::warning(&NO_DISC_STEP, step_path(i), what);
            diagnostics.push(d.help("add [finish.base] with the disc's films, or take the step out"));
        }
        _ => {}
    }
}

/// Films that no step places, though there are pieces of them.
pub fn film_steps(spec: &FinishSpec, used: &[(usize, String)], diagnostics: &mut Diagnostics) {
    let film_steps: Vec<_> = spec.film_steps().map(|s| s.1).collect();
    if film_steps.iter().any(|s| s.films.is_empty()) {
        return;
    }
    let left: Vec<&str> = used
        .iter()
        .filter(|(f, _)| !film_steps.iter().any(|s| s.films.iter().any(|n| n.0 == *f)))
        .map(|(_, name)| name.as_str())
        .collect();
    if !left.is_empty() {
        diagnostics.push(
            Diagnostic::fault(
                &NO_FILM_STEP,
                KeyPath::of("finish.step"),
                format!("no step places film {}", left.join(", ")),
            )
            .help("add a step with do = \"film\" where it goes on"),
        );
    }
}

/// What the products ask for: named, in ratio, within the pot life, not at home.
pub fn products(spec: &FinishSpec, plan: &[StepPlan], largest_load: u32, diagnostics: &mut Diagnostics) {
    for (j, p) in spec.products.iter().enumerate() {
        let at = KeyPath::of("finish.product").index(j);
        if !p.named && p.mix.is_some() {
            diagnostics.push(
                Diagnostic::note(&ASSUMED, KeyPath::of("finish.product"), format!("{} is assumed", p.name))
                    .help("name it under [[finish.product]] with the numbers of its data sheet"),
            );
        }
        if p.kind == ProductKind::IsocyanateClear {
            diagnostics.push(
                Diagnostic::warning(&ISOCYANATE, at, format!("{} hardens with an isocyanate", p.name))
                    .help("leave it to a licensed workshop or choose another clear coat"),
            );
        }
    }
    for (i, s) in plan.iter().enumerate().filter(|(_, s)| !s.done) {
        let Some(p) = spec.product(&spec.steps[i]) else { continue };
        let work = s.each.0 * largest_load;
        if let Some(life) = p.pot_life.filter(|l| p.mix.is_some() && work > l.value.0) {
            diagnostics.push(
                Diagnostic::warning(
                    &POT_LIFE,
                    step_path(i),
                    format!("{largest_load} cups are coated from one batch"),
                )
                .measured(format!("{work} min"))
                .allowed(format!("pot life {}", life.value))
                .help("mix for fewer cups at a time, or put fewer on the turner"),
            );
        }
        let tolerance = p.mix.map_or(0.0, |m| m.tolerance.value);
        let off = s
            .batches
            .iter()
            .map(|b| b.mix.off_by_volume.abs().max(b.mix.off_by_weight.abs()))
            .fold(0.0, f64::max);
        if off > tolerance + WHOLE_STEPS {
            diagnostics.push(
                Diagnostic::warning(&RATIO, step_path(i), format!("{} cannot be measured in ratio", p.name))
                    .measured(format!("{:.1} % off", off * 100.0))
                    .allowed(format!("{:.1} %", tolerance * 100.0))
                    .help("use a finer measuring cup or scale"),
            );
        }
    }
    past_window(spec, plan, diagnostics);
}

/// A clear coat of the wall and the next one, with other steps between that take longer than the window: where film
/// goes on between them, the first must be hard anyway; else the next comes too late.
fn past_window(spec: &FinishSpec, plan: &[StepPlan], diagnostics: &mut Diagnostics) {
    let wall = |i: usize| spec.steps[i].kind.is_clear() && !spec.steps[i].over.on_base();
    for i in (0..plan.len()).filter(|i| wall(*i) && !plan[*i].done) {
        let Some(next) = (i + 1..plan.len()).find(|j| wall(*j)) else { continue };
        let between = &spec.steps[i + 1..next];
        let Some(p) = spec.product(&spec.steps[i]) else { continue };
        let Some(until) = p.recoat_until.map(|u| u.value) else { continue };
        let told = |s: &StepSpec| matches!(s.kind, StepKind::Sand | StepKind::Cure);
        if between.is_empty() || between.iter().any(told) {
            continue;
        }
        let waits: u32 = plan[i..next].iter().map(|s| s.next_from.max(s.turning.unwrap_or_default()).0).sum();
        if Minutes(waits) < until {
            continue;
        }
        let d = if between.iter().any(|s| s.kind == StepKind::Film) {
            Diagnostic::note(
                &PAST_WINDOW,
                step_path(next),
                format!("{} hardens before the film goes on", p.name),
            )
            .measured(format!("film from {} after it", plan[i].next_from))
            .allowed(format!("next coat within {until} to bond without washing"))
            .help("wash as the data sheet says before sealing; try it on a spare cup")
        } else {
            Diagnostic::warning(
                &MISSED,
                step_path(next),
                format!("\"{}\" comes too late after \"{}\"", plan[next].name, plan[i].name),
            )
            .measured(format!("{} at the earliest, with the steps between", Minutes(waits)))
            .allowed(format!("at most {until} after it"))
            .help("do what comes between before or after both coats, or put a sand step before the second")
        };
        diagnostics.push(d);
    }
}
