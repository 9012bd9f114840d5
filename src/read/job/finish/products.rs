//! `[[finish.product]]`: coatings and powders with the numbers of their data sheets.
//!
//! Imports: base, read::job::{codes, keys, section}, read::job::finish::{bench, model, usual, codes, rows, rates}.

use super::super::codes as job_codes;
use super::super::keys::{Key, Own, Part, Worded};
use super::super::section::{Item, Section};
use super::bench::Coarseness;
use super::codes;
use super::model::{Basis, MixSpec, Product, ProductKind, Rate};
use super::rates::{basis, content, mapped, rate, rate_or};
use super::rows::product as rows;
use super::usual::usual_product;
use crate::base::diag::{Diagnostic, ErrorGuaranteed};
use crate::base::money::Money;
use crate::base::units::Mm2;

/// How far the ratio by weight may be off what volumes and densities give, as a part: data sheets round to a
/// whole part in a hundred and densities to two decimals.
const AGREES: f64 = 0.03;

/// Reads one product.
pub(super) fn product(section: &Section<'_>, taken: &[String]) -> Result<Product, ErrorGuaranteed> {
    let name = section.key(&rows::NAME).held(|n, at| {
        taken.contains(n).then(|| {
            Diagnostic::fault(&codes::NAME_TAKEN, at.clone(), "another product has this name already")
                .measured(n)
                .help("give each product its own name")
        })
    });
    let name = name.required();
    let kind = section.key(&rows::KIND).required();
    let basis = basis(section);
    // Everything is asked for whatever the kind, so that one slip is one fault.
    let read_as = kind.unwrap_or(ProductKind::TwoPartResin);
    let mut p = usual_product(read_as, name.as_deref().unwrap_or_default());
    p.named = true;
    let on = basis.unwrap_or(Basis::Entered);
    let mixed = mixed(section, &mut p, on);
    let waits = waits(section, &mut p, on);
    let bench = bench(section, &mut p, on);
    let pack = pack(section);
    name?;
    kind?;
    basis?;
    mixed?;
    waits?;
    bench?;
    p.pack = pack?;
    Ok(p)
}

/// Mixing ratio, densities, measures, smallest batch, pot life.
fn mixed(section: &Section<'_>, p: &mut Product, on: Basis) -> Result<(), ErrorGuaranteed> {
    if !p.kind.two_part() {
        p.density = rate_or(section, &rows::DENSITY_OF_ONE, on, p.density)?;
        return Ok(());
    }
    let by_volume = pair(section, &rows::MIX, "parts of A and of B by volume");
    let by_weight = pair(section, &rows::MIX_BY_WEIGHT, "parts of A and of B by weight");
    let density = pair(section, &rows::DENSITY, "the densities of A and of B in g/ml");
    let mut mix = p.mix.expect("two parts are mixed");
    let usual_life = p.pot_life.expect("what is mixed has a pot life");
    let pot_life = rate_or(section, &rows::POT_LIFE, on, usual_life);
    let smallest = rate_or(section, &rows::SMALLEST, on, p.smallest);
    let tolerance = mapped(mix.tolerance, Part);
    let tolerance = rate_or(section, &rows::RATIO_TOLERANCE, on, tolerance);
    let volume = rate_or(section, &rows::VOLUME_STEP, on, mix.volume_step);
    let weight = rate_or(section, &rows::WEIGHT_STEP, on, mix.weight_step);
    ratio(section, &mut mix, on, by_volume?, by_weight?, density?)?;
    mix.tolerance = mapped(tolerance?, |t| t.0);
    mix.volume_step = volume?;
    mix.weight_step = weight?;
    p.mix = Some(mix);
    p.pot_life = Some(pot_life?);
    p.smallest = smallest?;
    Ok(())
}

type Pair = Option<[f64; 2]>;

fn pair(section: &Section<'_>, key: &'static Key<Own>, of: &str) -> Result<Pair, ErrorGuaranteed> {
    let positive = |item: &Item<'_>| {
        let n = item.number()?;
        if n > 0.0 && n <= 1e4 {
            return Ok(n);
        }
        let at = item.at();
        Err(item.reader().push(
            Diagnostic::fault(&job_codes::OUT_OF_RANGE, at.clone(), format!("`{at}` is no such number"))
                .measured(n)
                .allowed("more than 0, up to 10000")
                .help("correct the value"),
        ))
    };
    let list = section.own(key, |item| item.list(positive)).counting(2..=2, of).optional()?;
    Ok(list.map(|l| [l[0], l[1]]))
}

/// From whichever of the three the maker gave: b/a by weight = b/a by volume times density b / density a.
fn ratio(
    section: &Section<'_>,
    mix: &mut MixSpec,
    on: Basis,
    volume: Pair,
    weight: Pair,
    density: Pair,
) -> Result<(), ErrorGuaranteed> {
    let given = |value| Rate { value, basis: on };
    if let Some([a, b]) = density {
        (mix.density_a, mix.density_b) = (given(a), given(b));
    }
    match (volume, weight, density) {
        (Some([a, b]), Some([wa, wb]), None) => {
            // Both ratios give the ratio of the densities; A's own stays the usual one.
            (mix.a, mix.b) = (given(a), given(b));
            mix.density_b = given(mix.density_a.value * (wb / wa) / (b / a));
        }
        (Some([a, b]), Some([wa, wb]), Some([da, db])) => {
            (mix.a, mix.b) = (given(a), given(b));
            let (by_weight, follows) = (wb / wa, b / a * db / da);
            if (by_weight / follows - 1.0).abs() > AGREES {
                return Err(section.reader().push(
                    section
                        .fault(
                            &codes::MIX,
                            "mix-by-weight",
                            "the ratio by weight is not what volumes and densities give",
                        )
                        .measured(format!("100 : {:.1}", by_weight * 100.0))
                        .allowed(format!("100 : {:.1}, within {:.0} %", follows * 100.0, AGREES * 100.0))
                        .help("take all three from the data sheet, or leave one of them out"),
                ));
            }
        }
        (Some([a, b]), None, _) => (mix.a, mix.b) = (given(a), given(b)),
        (None, Some([wa, wb]), _) => {
            let b = wb / wa * mix.density_a.value / mix.density_b.value;
            (mix.a, mix.b) = (given(1.0), given(b));
        }
        (None, None, _) => {}
    }
    // A product of two parts that is named without its ratio is mixed by guess.
    if volume.is_none() && weight.is_none() {
        return Err(section.missing(&rows::MIX));
    }
    Ok(())
}

/// What a product of its kind is on the bench: how long it stays open, the lamp, the grain.
fn bench(section: &Section<'_>, p: &mut Product, on: Basis) -> Result<(), ErrorGuaranteed> {
    let open = rate_or(section, &rows::OPEN, on, p.open);
    let lamp = rate(section, &rows::LAMP, on);
    let lights = rate(section, &rows::LIGHTS, on);
    let grain = section.key(&rows::GRAIN).or_usual();
    let refuse = |key: &str, whose: &str| {
        section.reader().push(
            section
                .fault(&codes::NOT_THIS_PRODUCT, key, format!("`{}` has no `{key}`", p.kind.word()))
                .allowed(format!("only {whose} has it"))
                .help("take it out, or mend the product's `kind`"),
        )
    };
    let (open, lamp, lights, grain) = (open?, lamp?, lights?, grain?);
    let mut ok = Ok(());
    if p.lamp.is_none() {
        for key in ["lamp", "lights-cm2"].into_iter().filter(|k| section.has(k)) {
            ok = Err(refuse(key, "UV resin"));
        }
    }
    if p.kind != ProductKind::Glitter && section.has("grain") {
        ok = Err(refuse("grain", "glitter"));
    }
    ok?;
    p.open = open;
    p.grain = if p.kind == ProductKind::Glitter { grain } else { Coarseness::Fine };
    if let Some(own) = &mut p.lamp {
        own.small = lamp.map_or(own.small, |s| mapped(s, |s| s.0));
        own.lights = lights.map_or(own.lights, |a| mapped(a, |cm2| Mm2(cm2 * 100.0)));
        // A time on the turner that the maker says holds whatever the area, unless she says a lamp as well.
        let said = section.has("turning") && lamp.is_none() && lights.is_none();
        p.lamp = (!said).then_some(*own);
    }
    Ok(())
}

fn waits(section: &Section<'_>, p: &mut Product, on: Basis) -> Result<(), ErrorGuaranteed> {
    let turning = rate_or(section, &rows::TURNING, on, p.turning);
    let from = rate_or(section, &rows::RECOAT_FROM, on, p.recoat_from);
    let until = match section.item("recoat-until") {
        Some(item) if item.as_text() == Some("none") => Ok(None),
        _ => super::rates::rate(section, &rows::RECOAT_UNTIL, on).map(|r| r.or(p.recoat_until)),
    };
    let hard = rate_or(section, &rows::HARD, on, p.hard_after);
    let cured = rate_or(section, &rows::CURED, on, p.cured_after);
    (p.turning, p.recoat_from, p.recoat_until) = (turning?, from?, until?);
    (p.hard_after, p.cured_after) = (hard?, cured?);
    if let Some(until) = p.recoat_until.filter(|u| u.value < p.recoat_from.value) {
        let key = if section.has("recoat-until") { "recoat-until" } else { "recoat-from" };
        return Err(section.reader().push(
            section
                .fault(&codes::WINDOW_EMPTY, key, "the latest next coat is before the earliest")
                .measured(format!("from {} until {}", p.recoat_from.value, until.value))
                .allowed("recoat-until later than recoat-from")
                .help("take both from the data sheet, or write recoat-until = \"none\" if it sets no limit"),
        ));
    }
    Ok(())
}

fn pack(section: &Section<'_>) -> Result<Option<(Money, super::model::Content)>, ErrorGuaranteed> {
    let price = section.key(&rows::PRICE_OF_PACK).optional();
    let pack = section.own(&rows::PACK, content).held(|c, at| {
        let (amount, ok) = match c {
            super::model::Content::Volume(v) => (v.to_string(), v.0 > 0.0 && v.0 <= 1e6),
            super::model::Content::Weight(g) => (g.to_string(), g.0 > 0.0 && g.0 <= 1e6),
        };
        (!ok).then(|| {
            Diagnostic::fault(&job_codes::OUT_OF_RANGE, at.clone(), "no pack holds that")
                .measured(amount)
                .allowed("more than 0, up to 1000 l or 1000 kg")
                .help("write what the pack holds, such as \"1 l\"")
        })
    });
    match (price?, pack.optional()?) {
        (Some(price), Some(pack)) => Ok(Some((price, pack))),
        (None, None) => Ok(None),
        (Some(_), None) => Err(section.missing(&rows::PACK)),
        (None, Some(_)) => Err(section.missing(&rows::PRICE_OF_PACK)),
    }
}
