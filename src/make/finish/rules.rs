//! Rules of order on the bench: what must come before what on the wall and on the base, what must not wait, what
//! must not be hurried.
//!
//! All of them are common practice (no source). Steps of the base stand apart from those of the wall: what comes
//! between two steps of the wall on the base does them no harm.
//!
//! Imports: base, read::job, make::finish::{amount, wait, coat, order}.

use super::amount::first_of_batch;
use super::coat::{StepPlan, step_path};
use super::order::{OUT_OF_ORDER, SANDED_FILM, SCRATCHES};
use super::wait;
use crate::base::diag::{Code, Diagnostic, Diagnostics};
use crate::base::moment::Minutes;
use crate::base::tolerance::GRID;
use crate::base::units::{Ml, Mm, Mm2};
use crate::read::job::finish::{Coarseness, FinishSpec, Over, ProductKind, StepKind, StepSpec};

/// The adhesive is dry before the last glitter is on.
pub const DRIES: Code = Code {
    id: "finish/adhesive-dries",
    title: "the adhesive is dry before the last glitter is on",
    explain: "Glitter sticks while the adhesive is wet: glue skins over in minutes, UV resin stays open until the \
        lamp. Counted is the work on each cup of a load from the end of its adhesive to the end of its last \
        glitter; trays are laid out before. Take fewer cups at once, fewer glitters on one adhesive, a second \
        adhesive step, or an adhesive that stays open longer (`open` of the product, from its data sheet).",
};
/// Coarse glitter that is not levelled.
pub const NOT_LEVELLED: Code = Code {
    id: "finish/glitter-not-levelled",
    title: "coarse glitter is not levelled",
    explain: "Grains of coarse glitter stand out of the first coat. A second coat levels them; film on grains that \
        stand out does not lie flat, and sanding cuts them open: they lose their colour and the dust flies. Put a \
        thin coat or a second clear coat over the first instead of sanding.",
};
/// Sanding that reaches the grains.
pub const CUTS_GRAINS: Code = Code {
    id: "finish/sanded-into-glitter",
    title: "sanding would cut into the glitter",
    explain: "The clear coats over glitter must be thicker than its grains stand out and a margin for sanding \
        (finish.sanding-margin) before they are sanded. Grains that are cut open lose their colour.",
};
/// A step before the one under it is ready.
pub const TOO_SOON: Code = Code {
    id: "finish/too-soon",
    title: "a step comes before the coat under it is ready",
    explain: "`wait` is shorter than what the product asks for before the next step: a coat on one that is too wet \
        sags and stays soft, film and sanding need a hard one, a glue seal dries two hours (common practice). Take \
        `wait` out, or take the product's times from its data sheet.",
};
/// Resin over UV resin that is not cured.
pub const NOT_CURED: Code = Code {
    id: "finish/uv-not-cured",
    title: "UV resin is covered before its lamp has cured it",
    explain: "UV resin hardens under its lamp only. Once another coat, glitter or film keeps the light off, what \
        is soft stays soft, and the coat over it wrinkles and lets go. The time follows from the area and the lamp: \
        `lamp` and `lights-cm2` of the product.",
};
/// The rest of a batch is used too late.
pub const REST_HARD: Code = Code {
    id: "finish/rest-too-late",
    title: "the rest of a batch is used after it has begun to harden",
    explain: "What is left of a mixed batch can be worked within its pot life only. Steps that share a batch follow \
        each other at once, and together take no longer than the pot life.",
};
/// What is mixed does not do.
pub const TOO_LITTLE: Code = Code {
    id: "finish/batch-too-small",
    title: "less is mixed than the steps need",
    explain: "`mix-at-once` says what is mixed for a load. What the steps of the batch need for so many cups, loss \
        included, must come out of it.",
};
/// What a batch leaves.
pub const REST: Code = Code {
    id: "finish/rest-of-a-batch",
    title: "something of a batch is left over",
    explain: "More is mixed than the coat needs. Name the batch in this step (`batch`) and in one that can use the \
        rest: the same `batch` and `volume = \"rest\"`, with glitter stirred in if you like (`stir-in`).",
};
/// The mark on the base.
pub const MARK: Code = Code {
    id: "finish/base-mark-step",
    title: "the mark goes on the base at the wrong time",
    explain: "The mark goes on the first layer of the base once that has hardened, and a clear coat over the base \
        covers it (common practice). Put the step with do = \"base mark\" after a clear coat with over = \"base\" and \
        before another; it needs [finish.base.mark].",
};

/// Where a step is done.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Place {
    Wall,
    Base,
    /// Washing, sanding and curing are of both.
    Both,
}

fn place(s: &StepSpec) -> Place {
    match s.kind {
        StepKind::Wash | StepKind::Sand | StepKind::Cure => Place::Both,
        StepKind::BaseDisc | StepKind::BaseMark => Place::Base,
        _ if s.over.on_base() => Place::Base,
        _ => Place::Wall,
    }
}

/// The steps with their plan.
#[derive(Clone, Copy)]
struct List<'a> {
    spec: &'a FinishSpec,
    plan: &'a [StepPlan],
}

impl<'a> List<'a> {
    fn here(&self, i: usize, at: Place) -> bool {
        let p = place(&self.spec.steps[i]);
        p == at || p == Place::Both || at == Place::Both
    }
    /// The next step at the place of a step; after one that is of both, on the wall.
    fn next(&self, i: usize) -> Option<usize> {
        let at = match place(&self.spec.steps[i]) {
            Place::Base => Place::Base,
            Place::Wall | Place::Both => Place::Wall,
        };
        (i + 1..self.spec.steps.len()).find(|j| self.here(*j, at))
    }
    /// The coat, glitter or film that lies under a step.
    fn under(&self, i: usize) -> Option<usize> {
        let lies = |k: StepKind| k.is_coat() || k == StepKind::Film;
        (0..i).rev().find(|j| lies(self.kind(*j)) && self.here(*j, place(&self.spec.steps[i])))
    }
    fn kind(&self, i: usize) -> StepKind {
        self.spec.steps[i].kind
    }
    fn wall_clear(&self, i: usize) -> bool {
        self.kind(i).is_clear() && place(&self.spec.steps[i]) == Place::Wall
    }
    fn area(&self, i: usize) -> Mm2 {
        let areas: Vec<Mm2> = self.plan.iter().map(|s| s.area).collect();
        wait::lamp_area(self.spec, i, &areas, self.plan[i].area)
    }
    fn warn(&self, code: &'static Code, i: usize, message: impl Into<String>) -> Diagnostic {
        Diagnostic::warning(
            code,
            step_path(i),
            format!("step {} ({}): {}", i + 1, self.plan[i].name, message.into()),
        )
    }
}

/// All rules; `load` is the largest number of cups at once.
pub fn check(spec: &FinishSpec, plan: &[StepPlan], load: u32, diagnostics: &mut Diagnostics) {
    let list = List { spec, plan };
    for i in 0..spec.steps.len() {
        // What was on the cup when it was measured is as it is.
        let found = [
            out_of_order(&list, i),
            scratches(&list, i),
            dries(&list, i, load),
            grains(&list, i),
            too_soon(&list, i),
            batch(&list, i, load),
            mark(&list, i),
        ];
        diagnostics.extend(found.into_iter().flatten());
    }
}

/// What stands where it does harm.
fn out_of_order(l: &List<'_>, i: usize) -> Option<Diagnostic> {
    use StepKind::{Adhesive, BaseDisc, Cure, Film, Glitter, GlueSeal, Paint};
    let step = &l.spec.steps[i];
    let film = l.spec.steps[..i].iter().any(|s| s.kind == Film);
    let (message, mend) = match step.kind {
        Glitter if l.spec.adhesive_under(i).is_none() => {
            ("there is no wet adhesive under the glitter", "put an adhesive step right before it")
        }
        Glitter if loose(l, i) => {
            ("loose glitter is not sealed", "put a glue seal or a clear coat right after it")
        }
        Film if l.under(i).is_some_and(|j| matches!(l.kind(j), Glitter | GlueSeal | Adhesive)) => {
            ("film does not hold on glitter or glue", "put clear coats between until it is smooth")
        }
        Paint | Adhesive | Glitter | GlueSeal if film && covers_wall(step) => {
            ("it covers the film", "put it before the film step")
        }
        BaseDisc if runs_over_disc(l, i) => (
            "coats of the wall run over the base disc",
            "put the base disc after them, or a clear coat over it (over = \"base\")",
        ),
        Cure if cured_too_far(l, i) => {
            ("a coat goes on after curing", "put the cure step last, or sand before the next coat")
        }
        _ => return None,
    };
    Some(l.warn(&OUT_OF_ORDER, i, message).help(mend))
}

fn covers_wall(step: &StepSpec) -> bool {
    let all = |o: Over| o == Over::Wall;
    if step.glitters.is_empty() { all(step.over) } else { step.glitters.iter().any(|g| all(g.over)) }
}

/// Nothing holds the glitter down: the next thing at its place is no seal, no coat, no further glitter.
fn loose(l: &List<'_>, i: usize) -> bool {
    let mut next = l.next(i);
    // Hardening the adhesive first is right.
    while next.is_some_and(|j| l.kind(j) == StepKind::Cure) {
        next = next.and_then(|j| l.next(j));
    }
    let holds = |k: StepKind| matches!(k, StepKind::GlueSeal | StepKind::Glitter) || k.is_clear();
    next.is_none_or(|j| !holds(l.kind(j)))
}

fn runs_over_disc(l: &List<'_>, i: usize) -> bool {
    let later = i + 1..l.plan.len();
    let covered = later.clone().any(|j| l.kind(j).is_clear() && l.spec.steps[j].over.on_base());
    !covered && later.clone().any(|j| l.wall_clear(j) && l.spec.steps[j].over == Over::Wall)
}

/// A coat after a cure of epoxy that nothing sanded: it does not bond.
fn cured_too_far(l: &List<'_>, i: usize) -> bool {
    let later = || i + 1..l.plan.len();
    if l.spec.hardens(i).is_none_or(|p| p.kind == ProductKind::UvResin || !p.kind.two_part()) {
        return false;
    }
    let coat = later().find(|j| l.kind(*j).is_coat());
    let sanded = later().find(|j| l.kind(*j) == StepKind::Sand);
    match (coat, sanded) {
        (Some(coat), Some(sand)) => coat < sand,
        (Some(_), None) => true,
        (None, _) => later().any(|j| l.kind(j) != StepKind::Cure),
    }
}

/// Scratches under film, and cuts into film; washing off the dust does not take the scratches away.
fn scratches(l: &List<'_>, i: usize) -> Option<Diagnostic> {
    let mut next = l.next(i);
    while next.is_some_and(|j| l.kind(j) == StepKind::Wash) {
        next = (next? + 1..l.plan.len()).find(|j| l.here(*j, Place::Wall));
    }
    let next = next?;
    match (l.kind(i), l.kind(next)) {
        (StepKind::Sand, StepKind::Film) => Some(
            Diagnostic::warning(&SCRATCHES, step_path(i), "scratches show under clear film")
                .help("put a thin coat after the sand step, before the film"),
        ),
        (StepKind::Film, StepKind::Sand) => Some(
            Diagnostic::warning(&SANDED_FILM, step_path(i + 1), "sanding would cut into the film")
                .help("put the seal film step before the sand step"),
        ),
        _ => None,
    }
}

/// The last glitter of an adhesive, held to how long that stays open.
fn dries(l: &List<'_>, i: usize, load: u32) -> Option<Diagnostic> {
    let adhesive = l.spec.adhesive_under(i).filter(|_| l.kind(i) == StepKind::Glitter)?;
    if l.plan.get(i + 1).is_some_and(|n| n.kind == StepKind::Glitter) || l.plan[i].done {
        return None;
    }
    let open = l.spec.product(&l.spec.steps[adhesive])?.open.value;
    let one = l.plan[adhesive].each.0;
    let all: u32 = (adhesive + 1..=i).map(|j| l.plan[j].each.0).sum();
    // Cup by cup in one order: the first waits for the others' adhesive, the last for the others' glitter.
    let wet = Minutes((all + (load - 1) * one).max(load * all));
    (wet > open).then(|| {
        l.warn(&DRIES, i, "the adhesive is dry before the last glitter is on")
            .measured(format!("{wet} of work on {load} wet cup(s)"))
            .allowed(format!(
                "{open}, while {} stays open",
                l.plan[adhesive].product.as_deref().unwrap_or("it")
            ))
            .help("take fewer cups or glitters at once, or an adhesive that stays open longer")
    })
}

/// How far the grains of a glitter step stand out, the coarsest, and its name.
fn grain(l: &List<'_>, i: usize) -> (Coarseness, Mm) {
    let step = &l.spec.steps[i];
    let own = step.product.into_iter().chain(step.glitters.iter().map(|g| g.product));
    let grains = own.map(|p| l.spec.products[p.0].grain);
    let coarsest = grains.max_by_key(|g| *g == Coarseness::Coarse).unwrap_or(Coarseness::Fine);
    (coarsest, coarsest.usual().1)
}

/// Glitter on the wall, from its step to the film or sanding over it.
fn grains(l: &List<'_>, i: usize) -> Option<Diagnostic> {
    if l.kind(i) != StepKind::Glitter || place(&l.spec.steps[i]) != Place::Wall {
        return None;
    }
    let (coarse, stands) = grain(l, i);
    let (mut over, mut coats) = (Mm::ZERO, 0);
    for j in i + 1..l.plan.len() {
        match l.kind(j) {
            _ if l.wall_clear(j) => {
                over += l.plan[j].thickness;
                coats += 1;
            }
            StepKind::Sand if over + Mm(GRID.0) < stands + l.spec.sanding_margin.value => {
                let asked = stands + l.spec.sanding_margin.value;
                return Some(
                    l.warn(&CUTS_GRAINS, j, format!("it cuts into the glitter of step {}", i + 1))
                        .measured(format!("{over:.2} of clear coats over it"))
                        .allowed(format!("at least {asked:.2}: grains of {stands:.2} and the margin for sanding"))
                        .help("put a clear coat, for coarse glitter a levelling coat, before it, or leave it out"),
                );
            }
            StepKind::Film | StepKind::Glitter | StepKind::Adhesive => break,
            _ => {}
        }
    }
    let film = (i + 1..l.plan.len()).any(|j| l.kind(j) == StepKind::Film);
    let asked = if film { 2 } else { 1 };
    (coarse == Coarseness::Coarse && coats > 0 && (coats < asked || over < stands)).then(|| {
        l.warn(&NOT_LEVELLED, i, "coarse glitter is not levelled before what comes over it")
            .measured(format!("{coats} clear coat(s), {over:.2}"))
            .allowed(format!("two clear coats, at least {stands:.2}"))
            .help("add a step with do = \"thin coat\" after the first clear coat; do not sand instead")
    })
}

/// A `wait` that is shorter than the product asks for.
fn too_soon(l: &List<'_>, i: usize) -> Option<Diagnostic> {
    let step = &l.spec.steps[i];
    let said = step.wait.filter(|_| !step.done)?.value;
    let (from, _) = wait::asked(l.spec, i, l.area(i));
    let next = l.spec.steps.get(i + 1).filter(|_| said < from)?;
    let lamp = l.spec.hardens(i).filter(|p| p.kind == ProductKind::UvResin && p.lamp.is_some());
    let (code, what) = match lamp {
        Some(p) => (&NOT_CURED, format!("{} is covered before the lamp has cured it", p.name)),
        None => (&TOO_SOON, format!("\"{}\" comes before it is ready", next.kind.name())),
    };
    Some(
        l.warn(code, i, what)
            .measured(format!("wait {said}"))
            .allowed(format!("at least {from} before \"{}\"", next.kind.name()))
            .help("take `wait` out, or take the product's own times from its data sheet"),
    )
}

/// A batch: enough for all, told if something is left, used while it can be worked.
fn batch(l: &List<'_>, i: usize, load: u32) -> Option<Diagnostic> {
    let (step, plan) = (&l.spec.steps[i], &l.plan[i]);
    let product = l.spec.product(step).filter(|_| !plan.done)?;
    if let Some(first) = first_of_batch(l.spec, i).filter(|f| *f != i) {
        let between = (first..i).find(|j| first_of_batch(l.spec, *j) != Some(first));
        let work = Minutes((first..=i).map(|j| l.plan[j].each.0).sum::<u32>() * load);
        let life = product.pot_life.map(|p| p.value);
        let late = life.is_some_and(|p| work > p);
        return (between.is_some() || late).then(|| {
            let d = l.warn(
                &REST_HARD,
                i,
                format!("the rest of the batch of step {} is used too late", first + 1),
            );
            let d = match between {
                Some(j) => d.measured(format!("step {} comes between", j + 1)).allowed("right after it"),
                None => d
                    .measured(format!("{work} of work on {load} cup(s)"))
                    .allowed(format!("pot life {}", life.unwrap_or_default())),
            };
            d.help("move it right after the step that mixes the batch, or mix for it alone")
        });
    }
    let mixes = plan.mixes?;
    let needs = (plan.needs + plan.shared.unwrap_or_default()) * f64::from(load);
    if mixes + Ml(GRID.0) < needs {
        return Some(
            l.warn(&TOO_LITTLE, i, "less is mixed than is needed")
                .measured(format!("{mixes:.1} mixed"))
                .allowed(format!("at least {needs:.1} for {load} cup(s), loss included"))
                .help("raise `mix-at-once`, or leave it out"),
        );
    }
    let left = super::coat::poured(plan, product, load) - needs;
    (left > Ml(0.5)).then(|| {
        Diagnostic::note(
            &REST,
            step_path(i),
            format!("step {} ({}): {left:.1} of what is mixed are left over", i + 1, plan.name),
        )
        .measured(format!("{mixes:.0} mixed, {needs:.1} needed"))
        .help("give it to another step: the same `batch` in both, and volume = \"rest\" in that one")
    })
}

/// The mark: on a hardened coat of the base, and covered.
fn mark(l: &List<'_>, i: usize) -> Option<Diagnostic> {
    if l.kind(i) != StepKind::BaseMark {
        return None;
    }
    let clear = |j: &usize| l.kind(*j).is_clear() && l.spec.steps[*j].over.on_base();
    let first = (0..i).rev().find(clear);
    let later = (i + 1..l.plan.len()).find(clear);
    let asks = l.spec.base.as_ref().and_then(|b| b.mark.as_ref()).is_some();
    let (message, mend) = match (asks, first, later) {
        (false, ..) => ("the job has no mark", "add [finish.base.mark], or take the step out"),
        (_, None, _) => ("no coat lies under the mark", "put a clear coat with over = \"base\" before it"),
        (_, _, None) => ("no coat covers the mark", "put a clear coat with over = \"base\" after it"),
        (_, Some(_), Some(_)) => return None,
    };
    Some(l.warn(&MARK, i, message).help(mend))
}
