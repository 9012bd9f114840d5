//! `[finish.price]`: what things cost and what the maker earns, in exact decimals.
//!
//! Imports: base, read::job::{codes, keys, model, section, films}, read::job::finish::{model, codes, rows, rates}.

use super::super::codes as job_codes;
use super::super::films::Films;
use super::super::keys::Key;
use super::super::model::{FilmId, FilmSpec, Stock};
use super::super::section::{Item, Section};
use super::codes;
use super::model::{FilmPrice, Gain, PriceSpec};
use super::rates::day_count;
use super::rows::{film_price, price as rows};
use crate::base::diag::{Diagnostic, ErrorGuaranteed};
use crate::base::money::{Money, Share};
use std::collections::BTreeMap;

/// Reads the table; `specs` are the job's films, if they could be read.
pub(super) fn price(
    section: &Section<'_>,
    films: &Films,
    specs: Option<&[FilmSpec]>,
) -> Result<PriceSpec, ErrorGuaranteed> {
    let cost = |key: &'static Key<Money>| section.key(key).or_usual();
    let share = |key: &'static Key<Share>| section.key(key).or_usual();
    let currency = section.own(&rows::CURRENCY, currency).required();
    let hour = section.key(&rows::HOUR).required();
    let (blank, consumables, packing) = (cost(&rows::BLANK), cost(&rows::CONSUMABLES), cost(&rows::PACKING));
    let film_prices = film_prices(section, films, specs);
    let charge = section.key(&rows::CHARGE).or_usual();
    let waste = share(&rows::WASTE);
    let (overhead, reject) = (share(&rows::OVERHEAD), share(&rows::REJECT));
    let (fee_fixed, fee) = (cost(&rows::FEE_FIXED), share(&rows::FEE));
    let gain = gain(section);
    let tax = share(&rows::TAX);
    let round_to = cost(&rows::ROUND_TO);
    let breaks = breaks(section);
    let valid = section.own(&rows::VALID, day_count).within(1..=3650).or(30);
    let left = match (&fee, &gain) {
        (Ok(fee), Ok(gain)) => left(section, *fee, *gain),
        _ => Ok(()),
    };
    left?;
    Ok(PriceSpec {
        currency: currency?,
        hour: hour?,
        blank: blank?,
        consumables: consumables?,
        packing: packing?,
        films: film_prices?,
        charge: charge?,
        waste: waste?,
        overhead: overhead?,
        reject: reject?,
        fee_fixed: fee_fixed?,
        fee: fee?,
        gain: gain?,
        tax: tax?,
        round_to: round_to?,
        breaks: breaks?,
        valid_days: valid? as u32,
    })
}

fn currency(item: &Item<'_>) -> Result<String, ErrorGuaranteed> {
    let text = item.text()?;
    if text.len() == 3 && text.bytes().all(|b| b.is_ascii_uppercase()) {
        return Ok(text);
    }
    Err(item.unreadable("currency", "it is not the three capital letters of ISO 4217", "\"EUR\""))
}

fn gain(section: &Section<'_>) -> Result<Gain, ErrorGuaranteed> {
    let margin = section.key(&rows::MARGIN).optional();
    let markup = section.key(&rows::MARKUP).optional();
    match (margin?, markup?) {
        (Some(m), None) => Ok(Gain::Margin(m)),
        (None, Some(m)) => Ok(Gain::Markup(m)),
        (None, None) => Ok(Gain::Margin(Share::ZERO)),
        (Some(_), Some(_)) => Err(section.reader().push(
            section
                .fault(&job_codes::ONE_OF, "markup", "what you earn is said by margin and by markup")
                .help("keep `margin` (share of the price) or `markup` (share of the cost)"),
        )),
    }
}

/// Does any part of the price pay the cost?
fn left(section: &Section<'_>, fee: Share, gain: Gain) -> Result<(), ErrorGuaranteed> {
    let (margin, key) = match gain {
        Gain::Margin(m) => (m, "margin"),
        Gain::Markup(m) => (m.margin_of_markup(), "markup"),
    };
    if fee + margin < Share::ONE {
        return Ok(());
    }
    let key = if section.has(key) { key } else { "fee" };
    Err(section.reader().push(
        section
            .fault(&codes::NOTHING_LEFT, key, "fee and margin leave nothing of the price for the cost")
            .measured(format!("fee {fee} and margin {margin}: {} of the price", fee + margin))
            .allowed("together less than 100 %")
            .help(format!("bring the margin below {}, or the fee down", fee.rest().max(Share::ZERO))),
    ))
}

fn breaks(section: &Section<'_>) -> Result<Vec<u32>, ErrorGuaranteed> {
    let one = |item: &Item<'_>| {
        let n = item.integer()?;
        if (1..=super::model::MOST_CUPS).contains(&n) {
            return Ok(n as u32);
        }
        let at = item.at().clone();
        Err(item.reader().push(
            Diagnostic::fault(&job_codes::OUT_OF_RANGE, at, "no price is worked out for so many cups")
                .measured(n)
                .allowed(format!("1 to {}", super::model::MOST_CUPS))
                .help("correct the number"),
        ))
    };
    let mut list = section
        .own(&rows::BREAKS, |item| item.list(one))
        .counting(0..=20, "numbers of cups")
        .or(Vec::new())?;
    list.sort_unstable();
    list.dedup();
    Ok(list)
}

fn film_prices(
    section: &Section<'_>,
    films: &Films,
    specs: Option<&[FilmSpec]>,
) -> Result<BTreeMap<FilmId, FilmPrice>, ErrorGuaranteed> {
    let Some(table) = section.own(&rows::FILMS, Item::section).optional()? else {
        return Ok(BTreeMap::new());
    };
    let mut read = Vec::new();
    for (name, item) in table.own_keys() {
        let film = films.bought(&name, &item);
        let price = item.section().map(Section::quiet).and_then(|s| {
            let price = film_price(&s, film.ok(), specs);
            s.done();
            price
        });
        read.push(film.and_then(|f| price.map(|p| (f, p))));
    }
    read.into_iter().collect()
}

fn film_price(
    section: &Section<'_>,
    film: Option<FilmId>,
    specs: Option<&[FilmSpec]>,
) -> Result<FilmPrice, ErrorGuaranteed> {
    let one = |key: &'static Key<Money>| section.key(key).optional();
    let (sheet, metre, area) =
        (one(&film_price::PER_SHEET), one(&film_price::PER_METRE), one(&film_price::PER_SQUARE_METRE));
    let stock = film.and_then(|f| specs.and_then(|s| s.get(f.0))).map(|f| f.stock);
    let wrong = match (stock, &sheet, &metre) {
        (Some(Stock::Roll { .. }), Ok(Some(_)), _) => {
            Some(("per-sheet", "the film comes on a roll", "per-metre"))
        }
        (Some(Stock::Sheet { .. }), _, Ok(Some(_))) => {
            Some(("per-metre", "the film comes in sheets", "per-sheet"))
        }
        _ => None,
    };
    if let Some((key, message, instead)) = wrong {
        return Err(section.reader().push(
            section
                .fault(&codes::PRICE_BY, key, message)
                .help(format!("write `{instead}` or `per-square-metre`")),
        ));
    }
    match (sheet?, metre?, area?) {
        (Some(p), None, None) => Ok(FilmPrice::PerSheet(p)),
        (None, Some(p), None) => Ok(FilmPrice::PerMetre(p)),
        (None, None, Some(p)) => Ok(FilmPrice::PerSquareMetre(p)),
        (None, None, None) => Err(section.missing(&film_price::PER_SQUARE_METRE)),
        _ => Err(section.reader().push(
            section
                .fault(&job_codes::ONE_OF, "per-square-metre", "the film has more than one price")
                .help("keep one of per-sheet, per-metre and per-square-metre"),
        )),
    }
}
