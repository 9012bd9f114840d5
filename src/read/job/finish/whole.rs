//! `[finish]` as a whole: its tables in the order in which they need each other.
//!
//! Imports: base, read::job, read::job::{model, rows, section, path, films}, read::job::finish::{bench, model, usual,
//! codes, rows, rates, products, steps, times, price, quote, base}.

use super::super::films::Films;
use super::super::model::FilmSpec;
use super::super::path;
use super::super::rows as job_rows;
use super::super::section::{Item, Section};
use super::bench::Coarseness;
use super::codes;
use super::model::{Basis, Dose, FinishSpec, StepKind, StepSpec};
use super::rates::{basis, mapped, rate_usual};
use super::rows;
use super::steps::Names;
use super::usual::{FILM_ON_BARE_CUP, usual_step};
use super::{base, price, products, quote, steps, times};
use crate::base::diag::{Diagnostic, ErrorGuaranteed};
use crate::base::units::Mm;

/// Reads `[finish]`; `None` if the job has none.
pub(in super::super) fn read(
    root: &Section<'_>,
    films: &Films,
    specs: Option<&[FilmSpec]>,
) -> Result<Option<FinishSpec>, ErrorGuaranteed> {
    let Some(section) = root.table(&job_rows::FINISH).optional()? else { return Ok(None) };
    let spec = whole(&section, films, specs);
    section.done();
    spec.map(Some)
}

fn whole(
    section: &Section<'_>,
    films: &Films,
    specs: Option<&[FilmSpec]>,
) -> Result<FinishSpec, ErrorGuaranteed> {
    let mut spec = FinishSpec::empty();
    let on = basis(section);
    let basis = on.unwrap_or(Basis::Entered);
    let cups = section.key(&rows::CUPS).or_usual();
    let loss = rate_usual(section, &rows::LOSS, basis);
    let volumes = section.key(&rows::VOLUMES).or_usual();
    let sanding = rate_usual(section, &rows::SANDING_MARGIN, basis);
    let spelling =
        section.own(&rows::SPELLING, |item| item.list(Item::text)).counting(0..=60, "texts").or(Vec::new());
    let log = section.own(&rows::LOG, |item| item.list(path::art)).counting(0..=20, "files").or(Vec::new());
    let mut names = Names::default();
    let products = products(section, &mut names);
    let bands = bands(section, &mut names);
    let base = section.inner(&rows::BASE, |s| base::base(s, films));
    // A base that could not be read may have a ring: one fault, not one at each use.
    names.ring = base.as_ref().map_or(true, |b| b.as_ref().is_some_and(|b| b.ring > Mm::ZERO));
    let steps = steps_of(section, &names, films);
    let times = section.inner(&rows::TIMES, times::times);
    let quote = section.inner(&rows::QUOTE, quote::quote);
    let price = section.inner(&rows::PRICE_TABLE, |s| price::price(s, films, specs));
    on?;
    spec.cups = cups? as u32;
    spec.loss = mapped(loss?, |p| p.0);
    spec.sanding_margin = sanding?;
    spec.volumes = volumes?;
    spec.spelling = spelling?;
    spec.log = log?;
    spec.products = products?;
    spec.bands = bands?;
    spec.times = times?.unwrap_or_default();
    spec.base = base?;
    spec.quote = quote?;
    spec.price = price?;
    let steps = steps?;
    if steps.is_empty() {
        let disc = spec.base.is_some();
        for kind in FILM_ON_BARE_CUP.into_iter().filter(|k| disc || *k != StepKind::BaseDisc) {
            spec.add_step(usual_step(kind));
        }
    }
    for step in steps {
        spec.add_step(step);
    }
    batches(section, &spec)?;
    Ok(spec)
}

/// Steps of one batch share a product; whoever takes the rest comes last.
fn batches(section: &Section<'_>, spec: &FinishSpec) -> Result<(), ErrorGuaranteed> {
    let mut ok = Ok(());
    for (i, step) in spec.steps.iter().enumerate() {
        let Some(name) = &step.batch else { continue };
        let before: Vec<&StepSpec> =
            spec.steps[..i].iter().filter(|s| s.batch.as_ref() == Some(name)).collect();
        let at = |key: &str| section.path("step").index(i).key(key);
        let fault = match before.first() {
            None if step.dose == Some(Dose::Rest) => Diagnostic::fault(
                &codes::BATCH,
                at("volume"),
                format!("no step before it mixes batch \"{name}\""),
            )
            .help("name the batch in the step that mixes it, before this one"),
            Some(first) if first.product != step.product => {
                let of = |s: &StepSpec| spec.product(s).map_or("nothing", |p| p.name.as_str());
                Diagnostic::fault(
                    &codes::BATCH,
                    at("with"),
                    format!("batch \"{name}\" is of another product"),
                )
                .measured(of(step))
                .allowed(of(first))
                .help("name the same product in all steps of a batch")
            }
            Some(_) if before.iter().any(|s| s.dose == Some(Dose::Rest)) => Diagnostic::fault(
                &codes::BATCH,
                at("batch"),
                format!("a step before it takes all that is left of batch \"{name}\""),
            )
            .help("let the step that takes the rest come last"),
            _ => continue,
        };
        ok = Err(section.reader().push(fault));
    }
    ok
}

fn products(section: &Section<'_>, names: &mut Names) -> Result<Vec<super::model::Product>, ErrorGuaranteed> {
    let mut all = Vec::new();
    for s in section.tables(&rows::PRODUCT, 200) {
        all.push(s.and_then(|s| {
            let taken: Vec<String> = names.products.iter().map(|(n, _)| n.clone()).collect();
            let product = products::product(&s, &taken);
            // One that could not be read still answers to its name: one fault, not one at each use.
            let name = s.item("name").and_then(|n| n.as_text()).unwrap_or_default().trim().to_owned();
            if product.as_ref().is_ok_and(|p| p.grain == Coarseness::Coarse) {
                names.coarse.push(names.products.len());
            }
            names.products.push((name, product.as_ref().ok().map(|p| p.kind)));
            s.done();
            product
        }));
    }
    all.into_iter().collect()
}

fn bands(section: &Section<'_>, names: &mut Names) -> Result<Vec<super::model::ColourBand>, ErrorGuaranteed> {
    let mut all = Vec::new();
    for s in section.tables(&rows::BAND, 60) {
        all.push(s.and_then(|s| {
            let band = steps::band(&s, &names.bands);
            names.bands.push(s.item("name").and_then(|n| n.as_text()).unwrap_or_default().trim().to_owned());
            s.done();
            band
        }));
    }
    all.into_iter().collect()
}

fn steps_of(
    section: &Section<'_>,
    names: &Names,
    films: &Films,
) -> Result<Vec<super::model::StepSpec>, ErrorGuaranteed> {
    let read = |s: Section<'_>| {
        let step = steps::step(&s, names, films);
        s.done();
        step
    };
    let all: Vec<_> = section.tables(&rows::STEP, 300).into_iter().map(|s| s.and_then(read)).collect();
    all.into_iter().collect()
}
