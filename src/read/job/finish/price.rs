//! `[finish.price]`: what things cost and what the maker earns, in exact decimals.
//!
//! Imports: base, read::job::{codes, section, model, films}, read::job::finish::{model, codes, rates, products}.

use super::super::codes as job_codes;
use super::super::films::Films;
use super::super::model::{FilmId, FilmSpec, Stock};
use super::super::section::{Item, Section};
use super::codes;
use super::model::{FilmCharge, FilmPrice, Gain, PriceSpec};
use super::products::any_price;
use super::rates::{day_count, money, percent};
use crate::base::diag::{Diagnostic, ErrorGuaranteed};
use crate::base::money::{Decimal, Money, Share};
use std::collections::BTreeMap;

fn hundred(of: i64) -> Share {
    Share::percent(Decimal::from(of))
}

/// Reads the table; `specs` are the job's films, if they could be read.
pub(super) fn price(
    section: &Section<'_>,
    films: &Films,
    specs: Option<&[FilmSpec]>,
) -> Result<PriceSpec, ErrorGuaranteed> {
    let cost = |key: &'static str| section.field(key, money).within(any_price()).or(Money::ZERO);
    let share = |key: &'static str, most: i64| {
        section.field(key, percent).within(Share::ZERO..=hundred(most)).or(Share::ZERO)
    };
    let currency =
        section.field("currency", currency).required("the currency of all prices", "currency = \"EUR\"");
    let hour =
        section.field("hour", money).within(any_price()).required("what an hour of yours costs", "hour = 18");
    let (blank, consumables, packing) = (cost("blank"), cost("consumables"), cost("packing"));
    let film_prices = film_prices(section, films, specs);
    let words = [("bought", FilmCharge::Bought), ("pieces", FilmCharge::Pieces)];
    let charge = section.choice("charge", &words).or(FilmCharge::Bought);
    let waste = section.field("waste", percent).within(Share::ZERO..=hundred(500)).or(hundred(15));
    let (overhead, reject) = (share("overhead", 1000), share("reject", 90));
    let (fee_fixed, fee) = (cost("fee-fixed"), share("fee", 1000));
    let gain = gain(section);
    let tax = share("tax", 100);
    let cent = Money(Decimal::new(1, 2));
    let round_to = section.field("round-to", money).within(cent..=Money(Decimal::from(1000))).or(cent);
    let breaks = breaks(section);
    let valid = section.field("valid", day_count).within(1..=3650).or(30);
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
    let margin = section.field("margin", percent).within(Share::ZERO..=hundred(1000)).optional();
    let markup = section.field("markup", percent).within(Share::ZERO..=hundred(100_000)).optional();
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
    let mut list = section.list("breaks", one).counting(0..=20, "numbers of cups").or(Vec::new())?;
    list.sort_unstable();
    list.dedup();
    Ok(list)
}

fn film_prices(
    section: &Section<'_>,
    films: &Films,
    specs: Option<&[FilmSpec]>,
) -> Result<BTreeMap<FilmId, FilmPrice>, ErrorGuaranteed> {
    let Some(table) = section.table("films").optional()? else { return Ok(BTreeMap::new()) };
    let mut read = Vec::new();
    for (name, item) in table.own_keys() {
        let film = films.by_name(&name, &item);
        let price = item.section().and_then(|s| {
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
    let one = |key: &'static str| section.field(key, money).within(any_price()).optional();
    let (sheet, metre, area) = (one("per-sheet"), one("per-metre"), one("per-square-metre"));
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
        (None, None, None) => {
            Err(section.missing("per-square-metre", "what the film costs", "per-square-metre = 14.50"))
        }
        _ => Err(section.reader().push(
            section
                .fault(&job_codes::ONE_OF, "per-square-metre", "the film has more than one price")
                .help("keep one of per-sheet, per-metre and per-square-metre"),
        )),
    }
}
