//! Each step with what it takes: area, thickness, volume, weight, mixing, time, cautions.
//!
//! Imports: base, read::job, make::{cup, piece, film}, make::finish::{caution, practice, mix, schedule, amount, wait}.

use super::amount::{self, GlitterPlan, Thinned};
use super::caution::{self, Caution};
use super::mix::{Mix, mix};
use super::practice::{self, Practice};
use super::schedule::{Task, loads};
use super::wait;
use crate::base::diag::KeyPath;
use crate::base::moment::Minutes;
use crate::base::tolerance::WHOLE_STEPS;
use crate::base::units::{Grams, Ml, Mm, Mm2};
use crate::make::cup::Cup;
use crate::make::film::SheetLayout;
use crate::make::film::cups::CupPieces;
use crate::make::film::order::starts;
use crate::make::piece::{Kind, Piece};
use crate::read::job::finish::{
    Basis, Dose, FinishSpec, Over, Product, ProductId, ProductKind, StepKind, StepSpec, defaults,
};
use crate::read::job::{FilmId, Job, Rates};
use serde::Serialize;
use std::collections::BTreeMap;

/// A batch for the loads of one size.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct LoadMix {
    /// Cups in the load.
    pub cups: u32,
    /// How many loads of that size.
    pub loads: u32,
    /// The batch for each.
    #[serde(flatten)]
    pub mix: Mix,
}

/// A step with all its numbers; amounts are for one cup unless they say otherwise.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct StepPlan {
    /// From 1, the same everywhere.
    pub number: usize,
    /// What is done.
    pub kind: StepKind,
    /// What to call it: `thin coat, base`.
    pub name: String,
    /// What with.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub product: Option<String>,
    /// Already on the cup when it was measured.
    pub done: bool,
    /// What is covered, on the surface built up so far.
    #[serde(rename = "area_mm2")]
    pub area: Mm2,
    /// Thickness of the layer it leaves.
    #[serde(rename = "thickness_mm")]
    pub thickness: Mm,
    /// What that thickness stands on.
    pub thickness_basis: Basis,
    /// What stays on the cup.
    #[serde(rename = "stays_ml")]
    pub stays: Ml,
    /// What is needed, loss included.
    #[serde(rename = "needs_ml")]
    pub needs: Ml,
    /// What is needed by weight, loss included, of a product that is weighed.
    #[serde(rename = "needs_g", skip_serializing_if = "Option::is_none")]
    pub needs_weight: Option<Grams>,
    /// The rate by weight: grams on 100 cm2.
    #[serde(rename = "g_per_100cm2", skip_serializing_if = "Option::is_none")]
    pub rate: Option<Grams>,
    /// Several glitters on one wet adhesive, in the order in which they fall.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub glitters: Vec<GlitterPlan>,
    /// Glitter stirred into it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub stirred: Option<GlitterPlan>,
    /// Water that thins it; the rest of what it needs is glue.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub thinned: Option<Thinned>,
    /// What the later steps that share its batch need of it.
    #[serde(rename = "for_later_steps_ml", skip_serializing_if = "Option::is_none")]
    pub shared: Option<Ml>,
    /// Mixed at once for a load, if the job says so.
    #[serde(rename = "mixed_at_once_ml", skip_serializing_if = "Option::is_none")]
    pub mixes: Option<Ml>,
    /// The step whose batch it is served from.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub served_by: Option<usize>,
    /// Part lost.
    pub loss: f64,
    /// Layers on the bare wall when the step begins.
    #[serde(rename = "build_up_before_mm")]
    pub before: Mm,
    /// Batches, if it is mixed.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub batches: Vec<LoadMix>,
    /// Pieces that are placed in it.
    #[serde(skip_serializing_if = "is_zero")]
    pub pieces: usize,
    /// Hands-on once a load.
    #[serde(rename = "set_up_min")]
    pub set_up: Minutes,
    /// Hands-on a cup.
    #[serde(rename = "each_min")]
    pub each: Minutes,
    /// On the turner after it.
    #[serde(rename = "turning_min", skip_serializing_if = "Option::is_none")]
    pub turning: Option<Minutes>,
    /// Under the lamp after it, until it is hard.
    #[serde(rename = "under_lamp_min", skip_serializing_if = "Option::is_none")]
    pub under_lamp: Option<Minutes>,
    /// Earliest next step.
    #[serde(rename = "next_from_min")]
    pub next_from: Minutes,
    /// Latest next step.
    #[serde(rename = "next_until_min", skip_serializing_if = "Option::is_none")]
    pub next_until: Option<Minutes>,
    /// Cautions to show at it.
    #[serde(serialize_with = "ids")]
    pub cautions: Vec<&'static Caution>,
    /// On the base, not on the wall.
    #[serde(skip)]
    pub on_base: bool,
    /// How it is done.
    #[serde(skip)]
    pub practice: Vec<&'static Practice>,
}

#[allow(clippy::trivially_copy_pass_by_ref, reason = "serde asks for a reference")]
fn is_zero(n: &usize) -> bool {
    *n == 0
}
fn ids<S: serde::Serializer>(list: &[&'static Caution], s: S) -> Result<S::Ok, S::Error> {
    s.collect_seq(list.iter().map(|c| c.id))
}

/// What is used of a film for one cup, or for all cups of an order.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize)]
pub struct FilmUse {
    /// For how many cups; 0 counts as 1.
    #[serde(skip)]
    pub cups: u32,
    /// Pieces cut, spares included.
    pub cut: usize,
    /// Pieces placed.
    pub placed: usize,
    /// Openings in the pieces cut.
    #[serde(skip)]
    pub openings: usize,
    /// Those of them that go on the base.
    pub on_base: usize,
    /// Panels laid, and the pieces in them.
    #[serde(skip_serializing_if = "nothing")]
    pub panels: usize,
    /// Pieces placed in panels.
    #[serde(skip_serializing_if = "nothing")]
    pub in_panels: usize,
    /// Parts of gathered panels that are taken up onto carriers.
    #[serde(skip_serializing_if = "nothing")]
    pub gathered: usize,
    /// Area of the pieces placed.
    #[serde(rename = "pieces_mm2")]
    pub pieces: Mm2,
    /// Sheets, or lengths of roll.
    pub sheets: usize,
    /// Width times length of all of them: waste included.
    #[serde(rename = "bought_mm2")]
    pub bought: Mm2,
    /// Length of all of them along the feed.
    #[serde(rename = "length_mm")]
    pub length: Mm,
}

fn nothing(n: &usize) -> bool {
    *n == 0
}

/// Film used, film by film.
pub fn film_use(pieces: &CupPieces<'_>, sheets: &[SheetLayout]) -> BTreeMap<FilmId, FilmUse> {
    let mut used: BTreeMap<FilmId, FilmUse> = BTreeMap::new();
    for (p, times) in pieces.all() {
        let u = used.entry(p.film).or_default();
        u.placed += times as usize;
        u.on_base += usize::from(p.kind == Kind::Base) * times as usize;
        u.pieces += p.outline.area() * f64::from(times);
        if let Some(panel) = pieces.panels.and_then(|all| all.of(p.number)) {
            u.in_panels += times as usize;
            let first = panel.members[0].number == p.number;
            // A gathered panel is laid once, with its first part.
            u.panels += usize::from(first && panel.part.is_none_or(|p| p.nth == 1)) * times as usize;
            u.gathered += usize::from(first && panel.part.is_some_and(|p| p.of > 1)) * times as usize;
        }
    }
    for s in sheets {
        let u = used.entry(s.film).or_default();
        let times = s.repeat.times;
        u.cut += s.placed.len() * times as usize;
        u.openings += starts(&s.placed).len().saturating_sub(s.placed.len()) * times as usize;
        u.sheets += times as usize;
        u.bought += s.width * s.height * f64::from(times);
        u.length += s.height * f64::from(times);
    }
    used.values_mut().for_each(|u| u.cups = pieces.cups);
    used
}

/// Everything that goes into the account besides prices.
pub struct Inputs<'a> {
    /// The job.
    pub job: &'a Job,
    /// Its finishing.
    pub spec: &'a FinishSpec,
    /// Its steps.
    pub plan: &'a [StepPlan],
    /// Film used by one cup; of an order, by all.
    pub films: &'a BTreeMap<FilmId, FilmUse>,
    /// Film used by so many cups together; none where film is laid out for one cup.
    pub by_cups: &'a BTreeMap<u32, BTreeMap<FilmId, FilmUse>>,
}

impl Inputs<'_> {
    /// Film used, and by what it is multiplied for so many cups.
    pub fn film(&self, cups: u32) -> (&BTreeMap<FilmId, FilmUse>, u32) {
        self.by_cups.get(&cups).map_or((self.films, cups), |all| (all, 1))
    }
}

/// Films that a film step places: those it names, else all that no film step names.
fn films_of(spec: &FinishSpec, step: &StepSpec, used: &BTreeMap<FilmId, FilmUse>) -> Vec<FilmId> {
    if !step.films.is_empty() {
        return step.films.clone();
    }
    let named = |f: &FilmId| spec.steps.iter().any(|s| s.kind == StepKind::Film && s.films.contains(f));
    used.keys().filter(|f| !named(f)).copied().collect()
}

/// Hands-on time of a film step for a cup: drivers are pieces to weed, pieces to place, sheets to cut. Pieces
/// for the base are weeded and placed in the step that puts the disc on.
fn film_minutes(
    job: &Job,
    spec: &FinishSpec,
    films: &[FilmId],
    used: &BTreeMap<FilmId, FilmUse>,
) -> (usize, Minutes) {
    let of = |f: &FilmId| used.get(f).copied().unwrap_or_default();
    let cups = used.values().map(|u| u.cups).max().unwrap_or(1).max(1);
    let placed: usize = films.iter().map(|f| of(f).placed - of(f).on_base).sum();
    // By the times of each film: the weeding pictures say the same.
    let weed = |f: &FilmId| {
        let own = job.films.get(f.0).map_or(Rates::USUAL, |f| f.cut.rates);
        let (piece, opening) = spec.times.weeding(&own);
        let u = of(f);
        (u.cut.max(u.placed) - u.on_base) as f64 * piece + u.openings as f64 * opening
    };
    let weeded: f64 = films.iter().map(weed).sum();
    let sheets: usize = films.iter().map(|f| of(f).sheets).sum();
    let each = |n: usize| n as f64 / f64::from(cups);
    // Each cup takes its part of the sheets that cups share, rounded up to minutes.
    let cutting = (sheets as u32 * spec.times.sheet.value.0).div_ceil(cups);
    let panels: usize = films.iter().map(|f| of(f).panels).sum();
    let singly: usize = placed - films.iter().map(|f| of(f).in_panels).sum::<usize>();
    let gathered: usize = films.iter().map(|f| of(f).gathered).sum();
    let times = &spec.times;
    let laid = each(singly) * times.place_s.value
        + each(panels) * times.panel_s.value
        + each(gathered) * times.gather_s.value;
    (placed / cups as usize, Minutes(whole_minutes(weeded / f64::from(cups) + laid) + cutting))
}

/// Minutes to weed and to place so many pieces.
fn handling(spec: &FinishSpec, weeded: f64, placed: f64) -> u32 {
    whole_minutes(weeded * spec.times.weed_s.value + placed * spec.times.place_s.value)
}

fn whole_minutes(seconds: f64) -> u32 {
    libm::ceil(seconds / 60.0 - WHOLE_STEPS) as u32
}

/// The same for the step that puts the disc on the base.
fn disc_minutes(spec: &FinishSpec, used: &BTreeMap<FilmId, FilmUse>, apart: usize) -> (usize, Minutes) {
    let cups = used.values().map(|u| u.cups).max().unwrap_or(1).max(1) as usize;
    let pieces = (used.values().map(|u| u.on_base).sum::<usize>() / cups).saturating_sub(apart);
    (pieces, Minutes(handling(spec, pieces as f64, pieces as f64)))
}

/// The same for the step that puts the mark on; a printed one is cut out by hand.
fn mark_minutes(spec: &FinishSpec) -> (usize, Minutes) {
    let cut = usize::from(spec.base.as_ref().and_then(|b| b.mark.as_ref()).is_some_and(|m| m.film.is_some()));
    (cut, Minutes(handling(spec, cut as f64, cut as f64)))
}

fn name(spec: &FinishSpec, step: &StepSpec) -> String {
    let plain = step.kind.name();
    if let Some(name) = &step.name {
        return format!("{plain}, {name}");
    }
    match step.over {
        Over::Wall => plain.to_owned(),
        Over::ColourBand(i) => format!("{plain}, {}", spec.bands[i].name),
        Over::Base => format!("{plain}, base"),
        Over::BaseRing => format!("{plain}, base ring"),
        Over::BaseCentre => format!("{plain}, base centre"),
    }
}

/// All steps, in order, with their numbers.
/// `used` is what is used of each film in all and, where the film goes on in passes, in each film step.
pub fn steps(
    job: &Job,
    spec: &FinishSpec,
    cup: &Cup,
    (used, by_pass): (&BTreeMap<FilmId, FilmUse>, &[BTreeMap<FilmId, FilmUse>]),
) -> Vec<StepPlan> {
    let bare = cup.bare();
    let mut before = Mm::ZERO;
    let (mut all_needs, mut areas) = (Vec::new(), Vec::new());
    let mut out = Vec::with_capacity(spec.steps.len());
    let all_loads = loads(spec.cups, spec.times.seats.value);
    let marked = spec.steps.iter().any(|s| s.kind == StepKind::BaseMark);
    let apart = if marked { mark_minutes(spec).0 } else { 0 };
    for (i, step) in spec.steps.iter().enumerate() {
        let product = spec.product(step);
        let loss = step.loss.unwrap_or(spec.loss).value;
        let on = bare.built_up(before);
        let rest = amount::rest(spec, i, &all_needs, &all_loads);
        let place = amount::cover(job, spec, &bare, &on, step.over).part(step.cover.value);
        let l = amount::layer(step, &place, loss, product, rest);
        let glitters = amount::glitters(job, spec, (&bare, &on), step, loss);
        let l = if glitters.is_empty() { l } else { amount::of_list(job, &on, spec, step, &glitters) };
        let needs = if step.dose == Some(Dose::Rest) { rest } else { l.stays / (1.0 - loss) };
        all_needs.push(needs);
        areas.push(l.area);
        let films = films_of(spec, step, used);
        let (pieces, film_time) = match step.kind {
            StepKind::Film if !by_pass.is_empty() => {
                let pass = spec.film_steps().take_while(|s| s.0 < i).count();
                let films: Vec<FilmId> = by_pass[pass].keys().copied().collect();
                film_minutes(job, spec, &films, &by_pass[pass])
            }
            StepKind::Film => film_minutes(job, spec, &films, used),
            StepKind::BaseDisc => disc_minutes(spec, used, apart),
            StepKind::BaseMark => mark_minutes(spec),
            _ => (0, Minutes(0)),
        };
        let under = wait::lamp_area(spec, i, &areas, l.area);
        let (next_from, next_until) = wait::wait(spec, i, under);
        out.push(StepPlan {
            number: i + 1,
            kind: step.kind,
            name: name(spec, step),
            product: product.map(|p| p.name.clone()),
            done: step.done,
            area: if step.dose.is_some() || !glitters.is_empty() { l.area } else { Mm2::ZERO },
            thickness: l.thickness,
            thickness_basis: l.basis,
            stays: l.stays,
            needs,
            needs_weight: l.rate.and(product).map(|p| Grams(needs.0 * amount::density(step, p))),
            rate: l.rate,
            thinned: amount::thinned(step, product, needs),
            stirred: step.stirred.map(|s| amount::stirred(spec, step, s, needs)),
            glitters,
            shared: None,
            mixes: step.mixes.map(|m| m.value),
            served_by: None,
            loss,
            before,
            batches: Vec::new(),
            pieces,
            set_up: step.set_up.value,
            each: Minutes(step.each.value.0 + film_time.0 + another(step)),
            turning: wait::turning(spec, i, under),
            under_lamp: wait::under_lamp(spec, i, under),
            next_from,
            next_until,
            cautions: cautions(spec, i),
            on_base: step.over.on_base(),
            practice: practice::at_step(step.kind, caution_of(spec, i), step.over.on_base()),
        });
        let builds = (step.over == Over::Wall && step.cover.value >= 1.0) || !step.glitters.is_empty();
        if step.kind.is_coat() && builds && !step.over.on_base() && !step.done {
            before += l.thickness;
        }
    }
    share_batches(spec, &mut out, &all_loads);
    out
}

/// Cautions of a step; those of selling stand at the last.
fn cautions(spec: &FinishSpec, i: usize) -> Vec<&'static Caution> {
    let mut list = caution::at_step(spec.steps[i].kind, caution_of(spec, i));
    list.retain(|c| i + 1 == spec.steps.len() || c.id != caution::SELLING.id);
    list
}

/// The product that a step's cautions are of: of glitter on resin, and of curing in the middle, the resin that hardens.
fn caution_of(spec: &FinishSpec, i: usize) -> Option<ProductKind> {
    let step = &spec.steps[i];
    let hardens = step.kind == StepKind::Glitter || (step.kind == StepKind::Cure && i + 1 < spec.steps.len());
    let of = if hardens { spec.hardens(i) } else { spec.product(step) };
    of.map(|p| p.kind)
}

/// Each further glitter of a list takes time of its own.
fn another(step: &StepSpec) -> u32 {
    step.glitters.len().saturating_sub(1) as u32 * defaults::ANOTHER
}

/// What is mixed for each load: the first step of a batch mixes for all that share it.
fn share_batches(spec: &FinishSpec, plan: &mut [StepPlan], loads: &[u32]) {
    for (i, step) in spec.steps.iter().enumerate() {
        let Some(product) = spec.product(step) else { continue };
        if let Some(first) = amount::first_of_batch(spec, i).filter(|f| *f != i) {
            plan[i].served_by = Some(first + 1);
            continue;
        }
        let others = (i + 1..plan.len()).filter(|j| amount::first_of_batch(spec, *j) == Some(i));
        let shared: Ml = others.map(|j| plan[j].needs).sum();
        plan[i].shared = (shared > Ml::ZERO).then_some(shared);
        plan[i].batches = batches(&plan[i], product, loads);
    }
}

fn batches(step: &StepPlan, product: &Product, loads: &[u32]) -> Vec<LoadMix> {
    let Some(spec) = product.mix.as_ref().filter(|_| !step.done) else { return Vec::new() };
    let mut sizes: Vec<(u32, u32)> = Vec::new();
    for &cups in loads {
        match sizes.last_mut() {
            Some((size, n)) if *size == cups => *n += 1,
            _ => sizes.push((cups, 1)),
        }
    }
    let batch = |&(cups, loads): &(u32, u32)| {
        let (needs, least) = of_load(step, product, cups);
        let mix = mix(needs, least, spec);
        LoadMix { cups, loads, mix }
    };
    sizes.iter().map(batch).collect()
}

/// What is taken from the pack for a load of cups, in ml: the batch if it is mixed, else what the cups need.
pub fn poured(step: &StepPlan, product: &Product, cups: u32) -> Ml {
    let (needs, least) = of_load(step, product, cups);
    product.mix.as_ref().map_or(needs.max(step.mixes.unwrap_or_default()), |m| mix(needs, least, m).batch)
}

/// What a load needs of the batch that a step mixes, later steps that share it included, and the least that is
/// mixed.
fn of_load(step: &StepPlan, product: &Product, cups: u32) -> (Ml, Ml) {
    let needs = (step.needs + step.shared.unwrap_or_default()) * f64::from(cups);
    (needs, product.smallest.value.max(step.mixes.unwrap_or_default()))
}

/// What a load of cups takes of one product in a step: its own coat, and the glitters that fall in it.
pub fn taken(spec: &FinishSpec, step: &StepPlan, product: usize, cups: u32) -> Ml {
    let own = &spec.steps[step.number - 1];
    let p = &spec.products[product];
    let mut all = Ml::ZERO;
    if own.product == Some(ProductId(product)) && step.served_by.is_none() {
        // Water is not bought.
        let glue = 1.0 / (1.0 + step.thinned.map_or(0.0, |t| t.parts));
        all += poured(step, p, cups) * glue;
    }
    let glitters = step.glitters.iter().chain(&step.stirred).filter(|g| g.id == product);
    all + glitters.map(|g| g.needs).sum::<Ml>() * f64::from(cups)
}

/// The steps as the calendar sees them; what is done already is left out.
pub fn tasks(plan: &[StepPlan]) -> Vec<Task> {
    plan.iter()
        .filter(|s| !s.done)
        .map(|s| Task {
            step: s.number,
            at: step_path(s.number - 1),
            name: s.name.clone(),
            set_up: s.set_up,
            each: s.each,
            splits: matches!(s.kind, StepKind::Film),
            turning: s.turning,
            from: s.next_from,
            until: s.next_until,
        })
        .collect()
}

/// Where a step stands in the job.
pub fn step_path(i: usize) -> KeyPath {
    KeyPath::of("finish.step").index(i)
}

/// Thickness that the steps before the first film step put on the bare wall.
pub fn under_film(plan: &[StepPlan]) -> Mm {
    plan.iter().find(|s| s.kind == StepKind::Film).map_or(Mm::ZERO, |s| s.before)
}

/// Pieces that go on the wall.
pub fn on_wall(pieces: &[Piece]) -> impl Iterator<Item = &Piece> {
    pieces.iter().filter(|p| p.kind != Kind::Base)
}
