//! `[[finish.step]]` and `[[finish.band]]`: what is done, in order, and where.
//!
//! Imports: base, read::job::{keys, suggest, section, films}, read::job::finish::{model, usual, codes, rows, rates}.

use super::super::films::Films;
use super::super::keys::Worded;
use super::super::section::{Item, Section};
use super::super::suggest::suggestion;
use super::codes;
use super::model::{Basis, ColourBand, Dose, Over, ProductId, ProductKind, StepKind, StepSpec};
use super::rates::{basis, mapped, rate, rate_or};
use super::rows::{band as band_rows, step as rows, weighed as weighed_rows};
use super::usual::{product_kind_of, usual_step};
use crate::base::diag::{Diagnostic, ErrorGuaranteed};
use crate::base::units::{Grams, Mm2};

/// What steps may name: products with their kinds, bands. Those that could not be read still answer to their
/// names.
#[derive(Debug, Default)]
pub(super) struct Names {
    pub products: Vec<(String, Option<ProductKind>)>,
    pub bands: Vec<String>,
}

/// Keys that only coats have.
const OF_COATS: &[&str] = &["with", "over", "thickness", "volume", "grams", "weighed", "layer", "loss"];

/// Reads one step.
pub(super) fn step(section: &Section<'_>, names: &Names, films: &Films) -> Result<StepSpec, ErrorGuaranteed> {
    let kind = section.key(&rows::DO).required();
    let on = basis(section);
    let kept = kind.map_or(Ok(()), |kind| keys_of(section, kind));
    let mut step = usual_step(kind.unwrap_or(StepKind::Clear));
    let basis = on.unwrap_or(Basis::Entered);
    let product = section.own(&rows::WITH, |item| product(item, names, kind.ok())).optional();
    let over = section.own(&rows::OVER, |item| over(item, names)).or(Over::Wall);
    let dose = dose(section, basis);
    let layer = rate_or(section, &rows::LAYER, basis, step.layer);
    let loss = rate(section, &rows::LOSS, basis);
    let set_up = rate_or(section, &rows::SET_UP, basis, step.set_up);
    let each = rate_or(section, &rows::EACH, basis, step.each);
    let wait = rate(section, &rows::WAIT, basis);
    let named = section.own(&rows::FILMS, |item| item.list(|item| films.named(item))).optional();
    let called = section.key(&rows::STEP_NAME).optional();
    let done = section.key(&rows::DONE).or_usual();
    kind?;
    on?;
    kept?;
    step.done = done?;
    step.product = product?;
    step.over = over?;
    step.dose = dose?.or(step.dose);
    step.layer = layer?;
    step.loss = loss?.map(|r| mapped(r, |p| p.0));
    (step.set_up, step.each, step.wait) = (set_up?, each?, wait?);
    step.films = named?.unwrap_or_default();
    step.name = called?;
    Ok(step)
}

/// Keys that a step of this kind does not have are faults, not things to be passed over.
fn keys_of(section: &Section<'_>, kind: StepKind) -> Result<(), ErrorGuaranteed> {
    let mut ok = Ok(());
    let mut refuse = |key: &str, whose: &str| {
        ok = Err(section.reader().push(
            section
                .fault(&codes::NOT_THIS_STEP, key, format!("a \"{}\" step has no `{key}`", kind.name()))
                .allowed(format!("only {whose} have it"))
                .help("take it out, or mend what the step does (`do`)"),
        ));
    };
    for key in OF_COATS {
        if !kind.is_coat() && section.has(key) {
            refuse(key, "coats");
        }
    }
    for key in ["films", "name"] {
        if kind != StepKind::Film && section.has(key) {
            refuse(key, "film steps");
        }
    }
    ok
}

fn product(item: &Item<'_>, names: &Names, step: Option<StepKind>) -> Result<ProductId, ErrorGuaranteed> {
    let name = item.text()?;
    let Some(i) = names.products.iter().position(|(n, _)| *n == name) else {
        let known: Vec<&str> = names.products.iter().map(|(n, _)| n.as_str()).collect();
        let mend = match suggestion(&name, &known) {
            Some(near) => format!("write \"{near}\" if that is meant"),
            None if known.is_empty() => format!("add [[finish.product]] with name = \"{name}\""),
            None => format!("products of this job: {}", known.join(", ")),
        };
        let message = format!("the job has no product \"{name}\"");
        return Err(item
            .reader()
            .push(Diagnostic::fault(&codes::UNKNOWN_PRODUCT, item.at().clone(), message).help(mend)));
    };
    let kind = step.filter(|s| s.is_coat());
    if let (Some(step), Some(product)) = (kind, names.products[i].1)
        && !fits(step, product)
    {
        let message = format!("\"{name}\" is not what a \"{}\" step is done with", step.name());
        let word = |k: ProductKind| k.word();
        let fitting: Vec<&str> =
            ProductKind::WORDS.iter().filter(|(_, k)| fits(step, *k)).map(|(w, _)| *w).collect();
        return Err(item.reader().push(
            Diagnostic::fault(&codes::WRONG_PRODUCT, item.at().clone(), message)
                .measured(word(product))
                .allowed(fitting.join(", "))
                .help("name a product of a fitting kind, or mend the product's `kind`"),
        ));
    }
    Ok(ProductId(i))
}

fn fits(step: StepKind, product: ProductKind) -> bool {
    let clear = [ProductKind::TwoPartResin, ProductKind::UvResin, ProductKind::IsocyanateClear];
    if step.is_clear() { clear.contains(&product) } else { product_kind_of(step) == Some(product) }
}

fn over(item: &Item<'_>, names: &Names) -> Result<Over, ErrorGuaranteed> {
    let name = item.text()?;
    match name.as_str() {
        "wall" => return Ok(Over::Wall),
        "base" => return Ok(Over::Base),
        _ => {}
    }
    if let Some(i) = names.bands.iter().position(|b| *b == name) {
        return Ok(Over::ColourBand(i));
    }
    let known: Vec<&str> =
        ["wall", "base"].into_iter().chain(names.bands.iter().map(String::as_str)).collect();
    let mend = match suggestion(&name, &known) {
        Some(near) => format!("write \"{near}\" if that is meant"),
        None => format!("write one of {}, or add [[finish.band]] with name = \"{name}\"", known.join(", ")),
    };
    let message = format!("the job has no band \"{name}\"");
    Err(item.reader().push(Diagnostic::fault(&codes::UNKNOWN_BAND, item.at().clone(), message).help(mend)))
}

fn dose(section: &Section<'_>, on: Basis) -> Result<Option<Dose>, ErrorGuaranteed> {
    let thickness = rate(section, &rows::THICKNESS, on);
    let volume = rate(section, &rows::VOLUME, on);
    let per_area = rate(section, &rows::GRAMS, on);
    let weighed = section.own(&rows::WEIGHED, weighed).optional();
    let all = [
        ("thickness", thickness?.map(Dose::Thickness)),
        ("volume", volume?.map(Dose::Volume)),
        ("grams", per_area?.map(Dose::PerArea)),
        ("weighed", weighed?),
    ];
    let given: Vec<(&str, Dose)> = all.into_iter().filter_map(|(k, d)| d.map(|d| (k, d))).collect();
    if given.len() > 1 {
        let keys: Vec<&str> = given.iter().map(|(k, _)| *k).collect();
        return Err(section.reader().push(
            section
                .fault(&codes::NOT_THIS_STEP, keys[1], "the amount of this coat is said more than once")
                .measured(keys.join(", "))
                .allowed("one of thickness, volume, grams (on 100 cm2) and weighed")
                .help("keep one of them"),
        ));
    }
    Ok(given.first().map(|(_, d)| *d))
}

fn weighed(item: &Item<'_>) -> Result<Dose, ErrorGuaranteed> {
    let s = item.section()?.quiet();
    let before = s.key(&weighed_rows::BEFORE).required();
    let after = s.key(&weighed_rows::AFTER).required();
    let area = s.key(&weighed_rows::AREA).optional();
    s.done();
    let (before, after, area) = (before?, after?, area?);
    if after <= before {
        return Err(lighter(item, before, after));
    }
    Ok(Dose::Weighed { before, after, area: area.map(|a| Mm2(a * 100.0)) })
}

fn lighter(item: &Item<'_>, before: Grams, after: Grams) -> ErrorGuaranteed {
    item.reader().push(
        Diagnostic::fault(
            &codes::WEIGHED,
            item.at().key("after"),
            "the cup weighs no more with the coat than without",
        )
        .measured(format!("{before} before, {after} after"))
        .allowed("more after than before")
        .help("swap the two, or weigh again on a finer scale"),
    )
}

/// Reads one band.
pub(super) fn band(section: &Section<'_>, taken: &[String]) -> Result<ColourBand, ErrorGuaranteed> {
    let name = section.key(&band_rows::NAME).held(|n, at| {
        let reserved = n == "wall" || n == "base";
        (reserved || taken.contains(n)).then(|| {
            let message = if reserved {
                "a step's `over` means something else by this name"
            } else {
                "another band has this name already"
            };
            Diagnostic::fault(&codes::NAME_TAKEN, at.clone(), message)
                .measured(n)
                .help("give the band a name of its own")
        })
    });
    let name = name.required();
    let from = section.key(&band_rows::FROM).required();
    let to = section.key(&band_rows::TO).required();
    let low = section.key(&band_rows::FADE_LOW).or_usual();
    let high = section.key(&band_rows::FADE_HIGH).or_usual();
    let colour = section.own(&band_rows::COLOUR, crate::read::job::films::colour).optional();
    let band =
        ColourBand { name: name?, from: from?, to: to?, fade_low: low?, fade_high: high?, colour: colour? };
    let show = |mm| section.reader().show(mm);
    if band.from >= band.to {
        return Err(section.reader().push(
            section
                .fault(&codes::BAND, "to", "the band ends below where it starts")
                .measured(format!("from {} to {}", show(band.from), show(band.to)))
                .allowed("`to` above `from`")
                .help("`from` is the lower edge, `to` the upper one"),
        ));
    }
    if band.fade_low + band.fade_high > band.to - band.from {
        return Err(section.reader().push(
            section
                .fault(
                    &codes::BAND,
                    if section.has("fade-high") { "fade-high" } else { "fade-low" },
                    "the fades are wider than the band",
                )
                .measured(format!("{} and {}", show(band.fade_low), show(band.fade_high)))
                .allowed(format!("together up to {}, the width of the band", show(band.to - band.from)))
                .help("narrow the fades, or widen the band"),
        ));
    }
    Ok(band)
}
