//! Each step with what it takes: area, thickness, volume, weight, mixing, time, cautions.
//!
//! Imports: base, read::job, make::{cup, piece, film}, make::finish::{caution, mix, surface, schedule}.

use super::caution::{self, Caution};
use super::mix::{Mix, mix};
use super::schedule::{Task, loads};
use super::surface::{band_area, base_area, covered_area};
use crate::base::diag::KeyPath;
use crate::base::moment::Minutes;
use crate::base::tolerance::WHOLE_STEPS;
use crate::base::units::{Grams, Ml, Mm, Mm2};
use crate::make::cup::{Cup, Shell};
use crate::make::film::SheetLayout;
use crate::make::film::cups::CupPieces;
use crate::make::piece::{Kind, Piece};
use crate::read::job::finish::{Basis, Dose, FinishSpec, Over, Product, StepKind, StepSpec};
use crate::read::job::{FilmId, Job};
use serde::Serialize;
use std::collections::BTreeMap;

/// Square millimetres in 100 cm2.
const HUNDRED_CM2: f64 = 10_000.0;

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
    /// Earliest next step.
    #[serde(rename = "next_from_min")]
    pub next_from: Minutes,
    /// Latest next step.
    #[serde(rename = "next_until_min", skip_serializing_if = "Option::is_none")]
    pub next_until: Option<Minutes>,
    /// Cautions to show at it.
    #[serde(serialize_with = "ids")]
    pub cautions: Vec<&'static Caution>,
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
    /// Those of them that go on the base.
    pub on_base: usize,
    /// Panels laid, and the pieces in them.
    #[serde(skip_serializing_if = "nothing")]
    pub panels: usize,
    /// Pieces placed in panels.
    #[serde(skip_serializing_if = "nothing")]
    pub in_panels: usize,
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
            u.panels += usize::from(panel.members[0].number == p.number) * times as usize;
        }
    }
    for s in sheets {
        let u = used.entry(s.film).or_default();
        let times = s.repeat.times;
        u.cut += s.placed.len() * times as usize;
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

/// What a coat covers, and how fast that grows with the build-up: area(b) = area + growth b.
struct Cover {
    area: Mm2,
    growth: Mm,
}

fn cover(job: &Job, spec: &FinishSpec, bare: &Shell, on: &Shell, over: Over) -> Cover {
    match over {
        Over::Wall => {
            let top = on.slant() - job.cup.keep_clear.rim;
            let growth = on.sum(Mm::ZERO, top, |f, from, to| f.growth(Mm(1.0)).0 * (to - from).0);
            Cover { area: band_area(on, Mm::ZERO, top), growth: Mm(growth) }
        }
        Over::ColourBand(i) => {
            let (a, b) =
                (covered_area(on, &spec.bands[i]), covered_area(&on.built_up(Mm(1.0)), &spec.bands[i]));
            Cover { area: a, growth: Mm((b - a).0) }
        }
        Over::Base => {
            let across = spec.base.as_ref().and_then(|b| b.across);
            // Coats of the wall do not make the flat of the base larger.
            Cover { area: base_area(bare.lower(), across), growth: Mm::ZERO }
        }
    }
}

/// Thickness whose layer on a growing surface has this volume: area t + growth t^2 / 2 = V, without
/// cancellation.
fn thickness_of(volume: Ml, c: &Cover) -> Mm {
    let v = volume.0 * 1000.0;
    Mm(2.0 * v / (c.area.0 + libm::sqrt(c.area.0 * c.area.0 + 2.0 * c.growth.0 * v)))
}

/// How much of a coat: thickness, its basis, middle area, volume that stays, grams to 100 cm2.
struct Layer {
    thickness: Mm,
    basis: Basis,
    area: Mm2,
    stays: Ml,
    rate: Option<Grams>,
}

fn layer(step: &StepSpec, c: &Cover, loss: f64, product: Option<&Product>) -> Layer {
    let by_thickness = |thickness: Mm, basis| {
        let area = Mm2(c.area.0 + c.growth.0 * thickness.0 / 2.0);
        Layer { thickness, basis, area, stays: super::surface::volume(area, thickness), rate: None }
    };
    let by_weight = |rate: Grams, basis| {
        let mut l = by_thickness(step.layer.value, step.layer.basis);
        let grams = rate.0 * l.area.0 / HUNDRED_CM2;
        let density = product.map_or(1.0, |p| p.density.value);
        l.stays = Ml(grams / density);
        l.rate = Some(rate);
        l.basis = basis;
        l
    };
    match step.dose {
        None => by_thickness(Mm::ZERO, Basis::CommonPractice),
        Some(Dose::Thickness(t)) => by_thickness(t.value, t.basis),
        Some(Dose::Volume(v)) => by_thickness(thickness_of(v.value * (1.0 - loss), c), v.basis),
        Some(Dose::PerArea(g)) => by_weight(g.value, g.basis),
        Some(Dose::Weighed { before, after, area }) => {
            // The same surface as here, layer included.
            let over = area.unwrap_or(Mm2(c.area.0 + c.growth.0 * step.layer.value.0 / 2.0));
            by_weight((after - before) * (HUNDRED_CM2 / over.0), Basis::OwnMeasurement)
        }
    }
}

/// Earliest and latest next step after one, by what the next one is; none of the list: until the cup can be
/// used.
fn wait(spec: &FinishSpec, i: usize) -> (Minutes, Option<Minutes>) {
    let step = &spec.steps[i];
    let next = spec.steps.get(i + 1);
    let last = next.is_none();
    let mut until = None;
    let from = match (spec.product(step), next) {
        _ if step.kind == StepKind::Cure || last => spec
            .steps
            .iter()
            .filter(|s| !s.done)
            .filter_map(|s| spec.product(s))
            .map(|p| p.cured_after.value)
            .max()
            .unwrap_or_default(),
        (Some(_), Some(n)) if step.kind == StepKind::Adhesive && n.kind == StepKind::Glitter => {
            until = Some(Minutes(15));
            Minutes(0)
        }
        (Some(p), Some(n)) if n.kind.is_coat() => {
            if n.kind.is_clear() {
                until = p.recoat_until.map(|u| u.value);
            }
            p.recoat_from.value
        }
        (Some(_), Some(n)) if n.kind == StepKind::Cure => Minutes(0),
        (Some(p), Some(_)) => p.hard_after.value,
        (_, _) => Minutes(if step.kind == StepKind::Wash { 15 } else { 0 }),
    };
    (step.wait.map_or(from, |w| w.value), until)
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
fn film_minutes(spec: &FinishSpec, films: &[FilmId], used: &BTreeMap<FilmId, FilmUse>) -> (usize, Minutes) {
    let of = |f: &FilmId| used.get(f).copied().unwrap_or_default();
    let cups = used.values().map(|u| u.cups).max().unwrap_or(1).max(1);
    let placed: usize = films.iter().map(|f| of(f).placed - of(f).on_base).sum();
    let cut: usize = films.iter().map(|f| of(f).cut.max(of(f).placed) - of(f).on_base).sum();
    let sheets: usize = films.iter().map(|f| of(f).sheets).sum();
    let each = |n: usize| n as f64 / f64::from(cups);
    // Each cup takes its part of the sheets that cups share, rounded up to minutes.
    let cutting = (sheets as u32 * spec.times.sheet.value.0).div_ceil(cups);
    let panels: usize = films.iter().map(|f| of(f).panels).sum();
    let singly: usize = placed - films.iter().map(|f| of(f).in_panels).sum::<usize>();
    let laid = [each(singly), each(panels)];
    (placed / cups as usize, Minutes(handling(spec, each(cut), laid) + cutting))
}

/// Minutes to weed so many pieces, and to place so many one by one and so many panels.
fn handling(spec: &FinishSpec, weeded: f64, [singly, panels]: [f64; 2]) -> u32 {
    let times = &spec.times;
    let laid = singly * times.place_s.value + panels * times.panel_s.value;
    let seconds = weeded * times.weed_s.value + laid;
    libm::ceil(seconds / 60.0 - WHOLE_STEPS) as u32
}

/// The same for the step that puts the disc on the base.
fn disc_minutes(spec: &FinishSpec, used: &BTreeMap<FilmId, FilmUse>) -> (usize, Minutes) {
    let cups = used.values().map(|u| u.cups).max().unwrap_or(1).max(1) as usize;
    let pieces = used.values().map(|u| u.on_base).sum::<usize>() / cups;
    (pieces, Minutes(handling(spec, pieces as f64, [pieces as f64, 0.0])))
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
    let mut out = Vec::with_capacity(spec.steps.len());
    let all_loads = loads(spec.cups, spec.times.seats.value);
    for (i, step) in spec.steps.iter().enumerate() {
        let product = spec.product(step);
        let loss = step.loss.unwrap_or(spec.loss).value;
        let on = bare.built_up(before);
        let l = layer(step, &cover(job, spec, &bare, &on, step.over), loss, product);
        let needs = l.stays / (1.0 - loss);
        let films = films_of(spec, step, used);
        let (pieces, film_time) = match step.kind {
            StepKind::Film if !by_pass.is_empty() => {
                let pass = spec.film_steps().take_while(|s| s.0 < i).count();
                let films: Vec<FilmId> = by_pass[pass].keys().copied().collect();
                film_minutes(spec, &films, &by_pass[pass])
            }
            StepKind::Film => film_minutes(spec, &films, used),
            StepKind::BaseDisc => disc_minutes(spec, used),
            _ => (0, Minutes(0)),
        };
        let (next_from, next_until) = wait(spec, i);
        let wet = product.filter(|_| step.kind.is_coat() && step.over != Over::Base);
        out.push(StepPlan {
            number: i + 1,
            kind: step.kind,
            name: name(spec, step),
            product: product.map(|p| p.name.clone()),
            done: step.done,
            area: if step.dose.is_some() { l.area } else { Mm2::ZERO },
            thickness: l.thickness,
            thickness_basis: l.basis,
            stays: l.stays,
            needs,
            needs_weight: l.rate.and(product).map(|p| Grams(needs.0 * p.density.value)),
            rate: l.rate,
            loss,
            before,
            batches: product.map_or_else(Vec::new, |p| batches(needs, p, &all_loads, step.done)),
            pieces,
            set_up: step.set_up.value,
            each: Minutes(step.each.value.0 + film_time.0),
            turning: wet.map(|p| p.turning.value).filter(|t| t.0 > 0),
            next_from,
            next_until,
            cautions: caution::at_step(step.kind, product.map(|p| p.kind)),
        });
        if step.kind.is_coat() && step.over == Over::Wall && !step.done {
            before += l.thickness;
        }
    }
    out
}

fn batches(needs: Ml, product: &Product, loads: &[u32], done: bool) -> Vec<LoadMix> {
    let Some(spec) = product.mix.as_ref().filter(|_| !done) else { return Vec::new() };
    let mut sizes: Vec<(u32, u32)> = Vec::new();
    for &cups in loads {
        match sizes.last_mut() {
            Some((size, n)) if *size == cups => *n += 1,
            _ => sizes.push((cups, 1)),
        }
    }
    let batch = |&(cups, loads): &(u32, u32)| {
        let mix = mix(needs * f64::from(cups), product.smallest.value, spec);
        LoadMix { cups, loads, mix }
    };
    sizes.iter().map(batch).collect()
}

/// What is taken from the pack for a load of cups, in ml: the batch if it is mixed, else what the cups need.
pub fn poured(step: &StepPlan, product: &Product, cups: u32) -> Ml {
    let needs = step.needs * f64::from(cups);
    product.mix.as_ref().map_or(needs, |m| mix(needs, product.smallest.value, m).batch)
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
