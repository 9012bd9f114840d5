//! How much of each coat and each glitter: areas, layers, volumes, weights.
//!
//! Imports: base, read::job, make::cup, make::finish::{mix, surface}.

use super::mix::mix;
use super::surface::{band_area, base_place, covered_area, volume};
use crate::base::units::{Grams, Ml, Mm, Mm2};
use crate::make::cup::Shell;
use crate::read::job::Job;
use crate::read::job::finish::{
    Basis, ColourBand, Dose, FinishSpec, Over, Product, ProductId, StepKind, StepSpec, Stirred,
};
use serde::Serialize;

/// Square millimetres in 100 cm2.
const HUNDRED_CM2: f64 = 10_000.0;
/// Grams in a millilitre of water.
const WATER: f64 = 1.0;
/// Rings of the wall over which the layer of several glitters is averaged: their fades are far wider.
const RINGS: u32 = 400;

/// One glitter of a step; amounts are for one cup.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct GlitterPlan {
    /// The glitter.
    pub product: String,
    /// Its place among the products.
    #[serde(skip)]
    pub id: usize,
    /// Where it falls: `wall`, or a band's name.
    pub place: String,
    /// What is covered there, fades and lightness counted by their cover.
    #[serde(rename = "area_mm2")]
    pub area: Mm2,
    /// Part of a full cover.
    pub cover: f64,
    /// Grams on 100 cm2 at full cover.
    #[serde(rename = "g_per_100cm2", skip_serializing_if = "Option::is_none")]
    pub rate: Option<Grams>,
    /// What is needed by weight, loss included.
    #[serde(rename = "needs_g")]
    pub weight: Grams,
    /// The same by volume.
    #[serde(rename = "needs_ml")]
    pub needs: Ml,
    /// How far its grains stand out.
    #[serde(rename = "grain_mm")]
    pub grain: Mm,
    /// What the amount stands on.
    pub basis: Basis,
}

/// Glue and water.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Thinned {
    /// Parts of water to one of glue.
    #[serde(rename = "water_to_one_of_glue")]
    pub parts: f64,
    /// Glue by volume and by weight.
    pub glue_ml: Ml,
    /// By weight.
    pub glue_g: Grams,
    /// Water by volume.
    pub water_ml: Ml,
    /// By weight.
    pub water_g: Grams,
}

/// What a coat covers, and how fast that grows with the build-up: area(b) = area + growth b.
pub(super) struct Cover {
    area: Mm2,
    growth: Mm,
}

impl Cover {
    /// A part of it.
    pub(super) fn part(self, part: f64) -> Cover {
        Cover { area: self.area * part, growth: self.growth * part }
    }
}

/// What a coat of this place covers on a wall built up to `on`.
pub(super) fn cover(job: &Job, spec: &FinishSpec, bare: &Shell, on: &Shell, over: Over) -> Cover {
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
        // Coats of the wall do not make the flat of the base larger.
        Over::Base | Over::BaseRing | Over::BaseCentre => {
            Cover { area: base_place(bare.lower(), spec.base.as_ref(), over), growth: Mm::ZERO }
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
pub(super) struct Layer {
    pub(super) thickness: Mm,
    pub(super) basis: Basis,
    pub(super) area: Mm2,
    pub(super) stays: Ml,
    pub(super) rate: Option<Grams>,
}

/// Grams in a millilitre of what a step puts on: of thinned glue, of glue and water together.
pub(super) fn density(step: &StepSpec, p: &Product) -> f64 {
    let water = step.water.value;
    if step.kind != StepKind::GlueSeal || water <= 0.0 {
        return p.density.value;
    }
    (p.density.value + WATER * water) / (1.0 + water)
}

/// The layer that a step leaves; `rest` is what a step that takes the rest of a batch has.
pub(super) fn layer(step: &StepSpec, c: &Cover, loss: f64, product: Option<&Product>, rest: Ml) -> Layer {
    let by_thickness = |thickness: Mm, basis| {
        let area = Mm2(c.area.0 + c.growth.0 * thickness.0 / 2.0);
        Layer { thickness, basis, area, stays: volume(area, thickness), rate: None }
    };
    let by_weight = |rate: Grams, basis| {
        let mut l = by_thickness(step.layer.value, step.layer.basis);
        let grams = rate.0 * l.area.0 / HUNDRED_CM2;
        l.stays = Ml(grams / product.map_or(1.0, |p| density(step, p)));
        l.rate = Some(rate);
        l.basis = basis;
        l
    };
    match step.dose {
        None => by_thickness(Mm::ZERO, Basis::CommonPractice),
        Some(Dose::Thickness(t)) => by_thickness(t.value, t.basis),
        Some(Dose::Volume(v)) => by_thickness(thickness_of(v.value * (1.0 - loss), c), v.basis),
        Some(Dose::Rest) => by_thickness(thickness_of(rest * (1.0 - loss), c), Basis::Entered),
        Some(Dose::PerArea(g)) => by_weight(g.value, g.basis),
        Some(Dose::Weighed { before, after, area }) => {
            // The same surface as here, layer included.
            let over = area.unwrap_or(Mm2(c.area.0 + c.growth.0 * step.layer.value.0 / 2.0));
            by_weight((after - before) * (HUNDRED_CM2 / over.0), Basis::OwnMeasurement)
        }
    }
}

/// What a place is called.
pub(super) fn place_name(spec: &FinishSpec, over: Over) -> String {
    match over {
        Over::Wall => "wall".into(),
        Over::ColourBand(i) => spec.bands[i].name.clone(),
        Over::Base => "base".into(),
        Over::BaseRing => "base ring".into(),
        Over::BaseCentre => "base centre".into(),
    }
}

/// Each glitter of a step that has several, for one cup.
pub(super) fn glitters(
    job: &Job,
    spec: &FinishSpec,
    (bare, on): (&Shell, &Shell),
    step: &StepSpec,
    loss: f64,
) -> Vec<GlitterPlan> {
    let one = |g: &crate::read::job::finish::GlitterSpec| {
        let product = &spec.products[g.product.0];
        let area = cover(job, spec, bare, on, g.over).part(g.cover.value).area;
        let (rate, basis) = match g.dose {
            Dose::PerArea(r) => (r.value, r.basis),
            Dose::Weighed { before, after, area: on } => {
                ((after - before) * (HUNDRED_CM2 / on.unwrap_or(area).0), Basis::OwnMeasurement)
            }
            Dose::Thickness(_) | Dose::Volume(_) | Dose::Rest => (Grams(0.0), Basis::Entered),
        };
        let weight = Grams(rate.0 * area.0 / HUNDRED_CM2 / (1.0 - loss));
        GlitterPlan {
            product: product.name.clone(),
            id: g.product.0,
            place: place_name(spec, g.over),
            area,
            cover: g.cover.value,
            rate: Some(rate),
            weight,
            needs: Ml(weight.0 / product.density.value),
            grain: product.grain.usual().1,
            basis,
        }
    };
    step.glitters.iter().map(one).collect()
}

/// Glitter that is stirred into a coat of which so much is put on.
pub(super) fn stirred(spec: &FinishSpec, step: &StepSpec, s: Stirred, needs: Ml) -> GlitterPlan {
    let product = &spec.products[s.product.0];
    let resin = step.product.map_or(1.0, |ProductId(i)| spec.products[i].mixed_density());
    let weight = Grams(needs.0 * resin * s.part.value);
    GlitterPlan {
        product: product.name.clone(),
        id: s.product.0,
        place: place_name(spec, step.over),
        area: Mm2::ZERO,
        cover: 1.0,
        rate: None,
        weight,
        needs: Ml(weight.0 / product.density.value),
        grain: Mm::ZERO,
        basis: s.part.basis,
    }
}

/// Part of full cover at a height.
fn cover_at(band: &ColourBand, up: Mm) -> f64 {
    let rise = |over: Mm, width: Mm| if width > Mm::ZERO { (over / width).clamp(0.0, 1.0) } else { 1.0 };
    if up < band.from || up > band.to {
        return 0.0;
    }
    rise(up - band.from, band.fade_low).min(rise(band.to - up, band.fade_high))
}

/// The layer of several glitters: at each height the grains of one layer, as much as they cover, and no more than
/// the coarsest; its mean over the wall. Later coats fill what lies lower.
pub(super) fn of_list(
    job: &Job,
    on: &Shell,
    spec: &FinishSpec,
    step: &StepSpec,
    plan: &[GlitterPlan],
) -> Layer {
    let top = on.slant() - job.cup.keep_clear.rim;
    let step_up = top / f64::from(RINGS);
    let (mut sum, mut area) = (0.0, 0.0);
    for k in 0..RINGS {
        let up = step_up * (f64::from(k) + 0.5);
        let ring = on.girth(up).0;
        let of = |g: &crate::read::job::finish::GlitterSpec| match g.over {
            Over::Wall => g.cover.value,
            Over::ColourBand(b) => cover_at(&spec.bands[b], up) * g.cover.value,
            _ => 0.0,
        };
        let covers = step.glitters.iter().zip(plan).map(|(g, p)| (of(g), p.grain.0));
        let (all, most) =
            covers.fold((0.0, 0.0f64), |(a, m), (c, t)| (a + c * t, if c > 0.0 { m.max(t) } else { m }));
        sum += ring * all.min(most);
        area += ring;
    }
    let covered: Mm2 = plan.iter().map(|g| g.area).fold(Mm2::ZERO, |a, b| a + b);
    let on_wall = !step.over.on_base();
    let loss = step.loss.unwrap_or(spec.loss).value;
    Layer {
        thickness: if on_wall {
            Mm(sum / area)
        } else {
            plan.iter().map(|g| g.grain).fold(Mm::ZERO, Mm::max)
        },
        basis: Basis::CommonPractice,
        area: covered,
        stays: plan.iter().map(|g| g.needs).sum::<Ml>() * (1.0 - loss),
        rate: None,
    }
}

/// Glue and water of a glue seal that takes so much.
pub(super) fn thinned(step: &StepSpec, product: Option<&Product>, needs: Ml) -> Option<Thinned> {
    let parts = step.water.value;
    let p = product.filter(|_| step.kind == StepKind::GlueSeal && parts > 0.0)?;
    let (glue, water) = (needs / (1.0 + parts), needs * (parts / (1.0 + parts)));
    Some(Thinned {
        parts,
        glue_ml: glue,
        glue_g: Grams(glue.0 * p.density.value),
        water_ml: water,
        water_g: Grams(water.0 * WATER),
    })
}

/// The step that mixes the batch which a step shares: itself if it is the first.
pub(super) fn first_of_batch(spec: &FinishSpec, i: usize) -> Option<usize> {
    let name = spec.steps[i].batch.as_ref()?;
    spec.steps[..=i].iter().position(|s| s.batch.as_ref() == Some(name))
}

/// What the steps before a step leave for it of the batch that it shares, for each cup: of loads of several
/// sizes, the least.
pub(super) fn rest(spec: &FinishSpec, i: usize, needs: &[Ml], loads: &[u32]) -> Ml {
    let step = &spec.steps[i];
    let (Some(Dose::Rest), Some(first)) = (step.dose, first_of_batch(spec, i)) else { return Ml::ZERO };
    let Some(product) = spec.product(step) else { return Ml::ZERO };
    let others: Ml = (first..i).filter(|j| first_of_batch(spec, *j) == Some(first)).map(|j| needs[j]).sum();
    let of_load = |&cups: &u32| {
        let n = f64::from(cups);
        let least = product.smallest.value.max(spec.steps[first].mixes.map_or(Ml::ZERO, |m| m.value));
        let batch = match &product.mix {
            Some(m) => mix(others * n, least, m).batch,
            None => (others * n).max(least),
        };
        (batch - others * n) / n
    };
    loads.iter().map(of_load).reduce(Ml::min).unwrap_or_default().max(Ml::ZERO)
}
