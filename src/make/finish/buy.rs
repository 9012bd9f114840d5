//! What the whole order takes: film by sheets or metres, coatings by what is poured, in packs if the job
//! names them.
//!
//! Imports: base, read::job, make::finish::{schedule, coat}.

use super::coat::{Inputs, StepPlan, taken};
use super::schedule::loads;
use crate::base::tolerance::WHOLE_STEPS;
use crate::base::units::{Grams, Ml};
use crate::read::job::Stock;
use crate::read::job::finish::{Content, FinishSpec, Product};
use serde::Serialize;

/// One thing to have at hand before the order begins.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct BuyLine {
    /// What.
    pub item: String,
    /// How much, for all cups, loss and smallest batches included.
    pub amount: f64,
    /// Of what unit: `sheet`, `m`, `ml`, `g`, `cup`.
    pub unit: &'static str,
    /// What a pack holds, in words, if the job says it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub pack: Option<String>,
    /// Whole packs, if the job says what one holds.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub packs: Option<u32>,
}

/// The list, films first.
pub fn list(input: &Inputs<'_>) -> Vec<BuyLine> {
    let Inputs { job, spec, plan, .. } = *input;
    let cups = spec.cups;
    let (films, times) = input.film(cups);
    let plain = |item: String, amount: f64, unit| BuyLine { item, amount, unit, pack: None, packs: None };
    let mut out = vec![plain("blank cup".into(), f64::from(cups), "cup")];
    for (f, used) in films {
        let film = &job.films[f.0];
        let item = format!("film {}", film.name);
        out.push(match film.stock {
            Stock::Sheet { .. } => plain(item, used.sheets as f64 * f64::from(times), "sheet"),
            Stock::Roll { .. } => plain(item, used.length.0 / 1000.0 * f64::from(times), "m"),
        });
    }
    for (j, product) in spec.products.iter().enumerate() {
        let poured = all_poured(spec, plan, j, cups);
        if poured > Ml::ZERO {
            out.push(product_line(product, poured));
        }
    }
    out
}

/// All that is taken of a product for so many cups, load by load.
pub fn all_poured(spec: &FinishSpec, plan: &[StepPlan], product: usize, cups: u32) -> Ml {
    let loads = loads(cups, spec.times.seats.value);
    let steps = plan.iter().filter(|s| !s.done);
    steps.map(|s| loads.iter().map(|&c| taken(spec, s, product, c)).sum::<Ml>()).sum()
}

fn product_line(p: &Product, poured: Ml) -> BuyLine {
    let grams = Grams(poured.0 * p.mixed_density());
    let weighed = p.kind == crate::read::job::finish::ProductKind::Glitter;
    let (amount, unit, pack, holds) = match p.pack {
        Some((_, Content::Volume(v))) => (poured.0, "ml", Some(v.to_string()), v.0),
        Some((_, Content::Weight(g))) => (grams.0, "g", Some(g.to_string()), g.0),
        None if weighed => (grams.0, "g", None, 0.0),
        None => (poured.0, "ml", None, 0.0),
    };
    let packs = pack.is_some().then(|| libm::ceil(amount / holds - WHOLE_STEPS).max(1.0) as u32);
    BuyLine { item: p.name.clone(), amount, unit, pack, packs }
}
