//! `[[finish.step]]` and `[[finish.band]]`: what is done, in order, and where.
//!
//! Imports: base, read::job::{keys, suggest, section, films}, read::job::finish::{bench, model, usual, codes, rows,
//! rates}.

use super::super::films::Films;
use super::super::keys::{Part, Worded};
use super::super::section::{Item, Section};
use super::super::suggest::suggestion;
use super::bench::{Coarseness, GlitterSpec, Stirred};
use super::codes;
use super::model::usual;
use super::model::{Basis, ColourBand, Dose, Over, ProductId, ProductKind, Rate, StepKind, StepSpec};
use super::rates::{basis, mapped, rate, rate_or};
use super::rows::{
    band as band_rows, glitters as glitter_rows, step as rows, stir_in, weighed as weighed_rows,
};
use super::usual::{defaults, product_kind_of, usual_step};
use crate::base::diag::{Diagnostic, ErrorGuaranteed};
use crate::base::units::{Grams, Ml, Mm2};

/// What steps may name: products with their kinds, bands. Those that could not be read still answer to their
/// names.
#[derive(Debug, Default)]
pub(super) struct Names {
    pub products: Vec<(String, Option<ProductKind>)>,
    /// Coarse glitters among them.
    pub coarse: Vec<usize>,
    /// The base has a ring.
    pub ring: bool,
    pub bands: Vec<String>,
}

/// Keys that only coats have.
const OF_COATS: &[&str] =
    &["with", "over", "thickness", "volume", "grams", "weighed", "layer", "loss", "cover"];
/// Does a kind of step have a key?
type Has = fn(StepKind) -> bool;
/// Keys of a few kinds of step, and whose they are.
const OF_SOME: &[(&str, &str, Has)] = &[
    ("films", "film steps", |k| k == StepKind::Film),
    ("name", "film steps", |k| k == StepKind::Film),
    ("glitters", "glitter steps", |k| k == StepKind::Glitter),
    ("water", "glue seals", |k| k == StepKind::GlueSeal),
    ("stir-in", "clear coats", StepKind::is_clear),
    ("mix-at-once", "coats that are mixed", mixed),
    ("batch", "coats that are mixed", mixed),
];

fn mixed(kind: StepKind) -> bool {
    kind.is_clear() || kind == StepKind::Adhesive
}

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
    let bench = bench(section, names, basis, over.unwrap_or(Over::Wall));
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
    bench?.into_step(&mut step);
    let coarse = step.product.is_some_and(|p| names.coarse.contains(&p.0));
    if step.kind == StepKind::Glitter && coarse {
        (step.dose, step.layer) = (Some(usual_dose(true)), usual(Coarseness::Coarse.usual().1));
    }
    let layer = layer.map(|l| if section.has("layer") { l } else { step.layer });
    step.dose = dose?.or(step.dose);
    if !step.glitters.is_empty() {
        step.dose = None;
    }
    step.layer = layer?;
    step.loss = loss?.map(|r| mapped(r, |p| p.0));
    (step.set_up, step.each, step.wait) = (set_up?, each?, wait?);
    step.films = named?.unwrap_or_default();
    step.name = called?;
    Ok(step)
}

/// What a step says of the bench.
struct Bench {
    cover: Rate<f64>,
    water: Option<Rate<f64>>,
    mixes: Option<Rate<Ml>>,
    batch: Option<String>,
    stirred: Option<Stirred>,
    glitters: Vec<GlitterSpec>,
}

impl Bench {
    fn into_step(self, step: &mut StepSpec) {
        step.cover = self.cover;
        step.water = self.water.unwrap_or(step.water);
        (step.mixes, step.batch, step.stirred) = (self.mixes, self.batch, self.stirred);
        step.glitters = self.glitters;
        if !step.glitters.is_empty() && step.glitters.iter().all(|g| g.over.on_base()) {
            step.over = Over::Base;
        }
    }
}

fn bench(section: &Section<'_>, names: &Names, on: Basis, over: Over) -> Result<Bench, ErrorGuaranteed> {
    let cover = rate_or(section, &rows::COVER, on, usual(Part(1.0)));
    let water = rate(section, &rows::WATER, on);
    let mixes = rate(section, &rows::MIXES, on);
    let batch = section.key(&rows::BATCH).optional();
    let stirred = section.inner(&rows::STIR_IN, |s| {
        let product = s.own(&stir_in::WITH, |item| product(item, names, Some(StepKind::Glitter))).optional();
        let part = rate_or(s, &stir_in::PERCENT, on, usual(Part(defaults::STIRRED)));
        let product = first_glitter(product?, names, s)?;
        Ok(Stirred { product, part: mapped(part?, |p| p.0) })
    });
    let one = |item: &Item<'_>| {
        let s = item.section()?.quiet();
        let one = one_glitter(&s, names, over);
        s.done();
        one
    };
    let glitters =
        section.own(&rows::GLITTERS, |item| item.list(one)).counting(0..=40, "glitters").optional();
    let (cover, glitters) = (cover?, glitters?.unwrap_or_default());
    if let Some(key) =
        ["with", "grams", "weighed", "thickness", "volume", "cover"].into_iter().find(|k| section.has(k))
        && !glitters.is_empty()
    {
        return Err(section.reader().push(
            section
                .fault(&codes::NOT_THIS_STEP, key, "a step with a list of glitters says this of each of them")
                .help("move it into `glitters`, to the glitter that it belongs to"),
        ));
    }
    Ok(Bench {
        cover: mapped(cover, |p| p.0),
        water: water?,
        mixes: mixes?,
        batch: batch?,
        stirred: stirred?,
        glitters,
    })
}

fn first_glitter(
    named: Option<ProductId>,
    names: &Names,
    s: &Section<'_>,
) -> Result<ProductId, ErrorGuaranteed> {
    let first = || names.products.iter().position(|p| p.1 == Some(ProductKind::Glitter)).map(ProductId);
    named.or_else(first).ok_or_else(|| {
        s.reader().push(
            s.fault(&codes::UNKNOWN_PRODUCT, "with", "the job has no glitter")
                .help("add [[finish.product]] with kind = \"glitter\""),
        )
    })
}

/// One glitter of a list.
fn one_glitter(s: &Section<'_>, names: &Names, step_over: Over) -> Result<GlitterSpec, ErrorGuaranteed> {
    let on = basis(s);
    let basis = on.unwrap_or(Basis::Entered);
    let named = s.own(&glitter_rows::WITH, |item| product(item, names, Some(StepKind::Glitter))).optional();
    let over = s.own(&glitter_rows::OVER, |item| over(item, names)).or(step_over);
    let cover = rate_or(s, &glitter_rows::COVER, basis, usual(Part(1.0)));
    let grams = rate(s, &glitter_rows::GRAMS, basis);
    let learned = s.own(&glitter_rows::WEIGHED, weighed).optional();
    on?;
    let product = first_glitter(named?, names, s)?;
    let dose = match (grams?, learned?) {
        (Some(g), None) => Dose::PerArea(g),
        (None, Some(w)) => w,
        (None, None) => usual_dose(names.coarse.contains(&product.0)),
        (Some(_), Some(_)) => {
            return Err(s.reader().push(
                s.fault(
                    &codes::NOT_THIS_STEP,
                    "weighed",
                    "the amount of this glitter is said more than once",
                )
                .allowed("one of grams (on 100 cm2) and weighed")
                .help("keep one of them"),
            ));
        }
    };
    Ok(GlitterSpec { product, over: over?, dose, cover: mapped(cover?, |p| p.0) })
}

/// The usual amount of a glitter by how coarse it is.
fn usual_dose(coarse: bool) -> Dose {
    let grain = if coarse { Coarseness::Coarse } else { Coarseness::Fine };
    Dose::PerArea(usual(grain.usual().0))
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
    for (key, whose, has) in OF_SOME {
        if !has(kind) && section.has(key) {
            refuse(key, whose);
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
    match step {
        step if step.is_clear() => clear.contains(&product),
        StepKind::Adhesive => {
            matches!(product, ProductKind::Glue | ProductKind::UvResin | ProductKind::TwoPartResin)
        }
        step => product_kind_of(step) == Some(product),
    }
}

fn over(item: &Item<'_>, names: &Names) -> Result<Over, ErrorGuaranteed> {
    let name = item.text()?;
    match name.as_str() {
        "wall" => return Ok(Over::Wall),
        "base" => return Ok(Over::Base),
        "base ring" if names.ring => return Ok(Over::BaseRing),
        "base centre" if names.ring => return Ok(Over::BaseCentre),
        "base ring" | "base centre" => {
            return Err(item.reader().push(
                Diagnostic::fault(
                    &codes::UNKNOWN_BAND,
                    item.at().clone(),
                    "the base has no ring, so it has no zones",
                )
                .allowed("\"base\", or a ring")
                .help("write ring = 7 under [finish.base], or over = \"base\""),
            ));
        }
        _ => {}
    }
    if let Some(i) = names.bands.iter().position(|b| *b == name) {
        return Ok(Over::ColourBand(i));
    }
    let known: Vec<&str> = ["wall", "base", "base ring", "base centre"]
        .into_iter()
        .chain(names.bands.iter().map(String::as_str))
        .collect();
    let mend = match suggestion(&name, &known) {
        Some(near) => format!("write \"{near}\" if that is meant"),
        None => format!("write one of {}, or add [[finish.band]] with name = \"{name}\"", known.join(", ")),
    };
    let message = format!("the job has no band \"{name}\"");
    Err(item.reader().push(Diagnostic::fault(&codes::UNKNOWN_BAND, item.at().clone(), message).help(mend)))
}

fn dose(section: &Section<'_>, on: Basis) -> Result<Option<Dose>, ErrorGuaranteed> {
    let thickness = rate(section, &rows::THICKNESS, on);
    let rest = section.item("volume").is_some_and(|v| v.as_text() == Some("rest"));
    let volume = if rest { Ok(None) } else { rate(section, &rows::VOLUME, on) };
    let per_area = rate(section, &rows::GRAMS, on);
    let weighed = section.own(&rows::WEIGHED, weighed).optional();
    let all = [
        ("thickness", thickness?.map(Dose::Thickness)),
        ("volume", volume?.map(Dose::Volume).or(rest.then_some(Dose::Rest))),
        ("grams", per_area?.map(Dose::PerArea)),
        ("weighed", weighed?),
    ];
    if rest && !section.has("batch") {
        return Err(section.reader().push(
            section
                .fault(&codes::BATCH, "volume", "it takes the rest, but does not say of which batch")
                .help("write batch = \"first\" here and in the step that mixes it"),
        ));
    }
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
        let reserved = ["wall", "base", "base ring", "base centre"].contains(&n.as_str());
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
