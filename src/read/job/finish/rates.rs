//! Values with what they stand on, durations, weights, money and shares: what this section reads beyond
//! lengths.
//!
//! A rate is a bare value, or `{ is = 35, basis = "own measurement" }`; a table may say a basis for all its
//! rates.
//!
//! Imports: base, read::job::{quantity, keys, reader, section}, read::job::finish::{bench, model, rows}.

use super::super::keys::{Key, Part, Seconds};
use super::super::quantity;
use super::super::reader::{Ranged, Reader};
use super::super::section::{Item, Section, Value, ranged};
use super::model::{Basis, Content, Rate, usual};
use super::rows;
use crate::base::diag::ErrorGuaranteed;
use crate::base::moment::{Day, Minutes, Moment};
use crate::base::money::{Decimal, Money, Share, parsed};
use crate::base::units::Grams;
use std::ops::RangeInclusive;

ranged! {
    Seconds, seconds;
    Minutes, minutes;
    Grams, grams;
    Money, money;
    Share, percent;
    Part, part;
}

/// What all rates of a table stand on that do not say it themselves.
pub(super) fn basis(section: &Section<'_>) -> Result<Basis, ErrorGuaranteed> {
    section.key(&rows::BASIS).or_usual()
}

/// A rate within a range, if the maker wrote one.
pub(super) fn rate<T: Value>(
    section: &Section<'_>,
    key: &'static Key<T>,
    basis: Basis,
) -> Result<Option<Rate<T>>, ErrorGuaranteed> {
    match section.item(key.row.name) {
        Some(item) if item.is_table() => {
            let inner = item.section()?;
            let value = inner.own(&rows::rate::IS, T::read);
            let value = T::held(value, key.range.clone()).required();
            let basis = inner.key(&rows::rate::BASIS).or(basis);
            inner.done();
            Ok(Some(Rate { value: value?, basis: basis? }))
        }
        _ => Ok(section.key(key).optional()?.map(|value| Rate { value, basis })),
    }
}

/// A rate, or its default.
pub(super) fn rate_or<T: Value>(
    section: &Section<'_>,
    key: &'static Key<T>,
    basis: Basis,
    default: Rate<T>,
) -> Result<Rate<T>, ErrorGuaranteed> {
    Ok(rate(section, key, basis)?.unwrap_or(default))
}

/// A rate, or the row's default, which is common practice.
pub(super) fn rate_usual<T: Value + Copy>(
    section: &Section<'_>,
    key: &'static Key<T>,
    basis: Basis,
) -> Result<Rate<T>, ErrorGuaranteed> {
    rate_or(section, key, basis, usual(key.usual()))
}

/// The other value of a rate on the same basis.
pub(super) fn mapped<T, U>(rate: Rate<T>, f: impl FnOnce(T) -> U) -> Rate<U> {
    Rate { value: f(rate.value), basis: rate.basis }
}

const DURATION: &str = "\"25 min\", \"8 h\", \"1 h 30 min\" or \"5 d\"";

/// A length of time, always with its unit.
pub(super) fn seconds(item: &Item<'_>) -> Result<Seconds, ErrorGuaranteed> {
    match item.as_text() {
        Some(text) => quantity::duration(text)
            .map(Seconds)
            .map_err(|why| item.unreadable("length of time", &why, DURATION)),
        None if item.written().trim() == "0" => Ok(Seconds(0.0)),
        None => Err(item.wrong_kind(&format!("a length of time with its unit: {DURATION}"))),
    }
}

/// A length of time in whole minutes.
pub(super) fn minutes(item: &Item<'_>) -> Result<Minutes, ErrorGuaranteed> {
    let thousandths = libm::round(seconds(item)?.0 * 1000.0);
    let whole = libm::round(thousandths / 60_000.0);
    if whole * 60_000.0 == thousandths && (0.0..=f64::from(u32::MAX)).contains(&whole) {
        return Ok(Minutes(whole as u32));
    }
    Err(item.unreadable(
        "length of time in whole minutes",
        "it has a part of a minute, or is below 0",
        DURATION,
    ))
}

/// Grams, or text with a unit of weight.
pub(super) fn grams(item: &Item<'_>) -> Result<Grams, ErrorGuaranteed> {
    match item.as_text() {
        Some(text) => quantity::weight(text)
            .map(Grams)
            .map_err(|why| item.unreadable("weight", &why, "12.5, \"900 g\" or \"2 lb\"")),
        None => item.number().map(Grams),
    }
}

/// What a pack holds: by weight if its unit is one of weight, else by volume.
pub(super) fn content(item: &Item<'_>) -> Result<Content, ErrorGuaranteed> {
    let example = "\"1 l\", \"750 ml\", \"16 fl oz\", \"900 g\" or \"2 lb\"";
    let Some(text) = item.as_text() else {
        return Err(item.wrong_kind(&format!("what the pack holds, with its unit: {example}")));
    };
    if text.trim_end().ends_with("oz") && !text.contains("fl") {
        let why = "an ounce can be one of volume or of weight; write `fl oz`, or grams";
        return Err(item.unreadable("content of a pack", why, example));
    }
    if let Ok(g) = quantity::weight(text) {
        return Ok(Content::Weight(Grams(g)));
    }
    match quantity::volume(text) {
        Ok(v) if !text.trim().ends_with(|c: char| c.is_ascii_digit() || c == '.') => Ok(Content::Volume(v)),
        Ok(_) => Err(item.unreadable("content of a pack", "it has no unit", example)),
        Err(why) => Err(item.unreadable("content of a pack", &why, example)),
    }
}

fn decimal(item: &Item<'_>, wanted: &str, example: &str) -> Result<Decimal, ErrorGuaranteed> {
    if item.as_text().is_none() {
        // Reports what is no number at all.
        item.number()?;
    }
    // The text of the file, not the binary number that a TOML reader makes of it: 0.1 stays a tenth.
    let text = item.as_text().unwrap_or_else(|| item.written()).replace('_', "");
    let text = text.trim().trim_start_matches('+');
    parsed(text).ok_or_else(|| item.unreadable(wanted, "write plain digits with a decimal point", example))
}

/// An amount of the job's currency, exact.
pub(super) fn money(item: &Item<'_>) -> Result<Money, ErrorGuaranteed> {
    decimal(item, "amount of money", "12.50").map(Money)
}

/// Percent, exact.
pub(super) fn percent(item: &Item<'_>) -> Result<Share, ErrorGuaranteed> {
    decimal(item, "number of percent", "12.5").map(Share::percent)
}

/// Percent as a part of 1.
pub(super) fn part(item: &Item<'_>) -> Result<Part, ErrorGuaranteed> {
    item.number().map(|n| Part(n / 100.0))
}

/// A date and a time.
pub(super) fn moment(item: &Item<'_>) -> Result<Moment, ErrorGuaranteed> {
    let text = item.as_text().unwrap_or_else(|| item.written()).trim();
    // TOML writes seconds too; whole minutes are all that counts here.
    Moment::parse(text.strip_suffix(":00").filter(|t| t.len() == 16).unwrap_or(text)).ok_or_else(|| {
        item.unreadable("date and time", "write year-month-day and hour:minute", "\"2026-09-01 09:00\"")
    })
}

/// A date.
pub(super) fn day(item: &Item<'_>) -> Result<Day, ErrorGuaranteed> {
    let text = item.date()?;
    Day::parse(&text).ok_or_else(|| item.unreadable("date", "there is no such day", "2026-09-01"))
}

impl Ranged for Minutes {
    fn show(&self, _: &Reader<'_>) -> String {
        self.to_string()
    }
}
impl Ranged for Seconds {
    fn show(&self, _: &Reader<'_>) -> String {
        if self.0 < 120.0 { format!("{} s", self.0) } else { format!("{} min", self.0 / 60.0) }
    }
}
impl Ranged for Grams {
    fn show(&self, _: &Reader<'_>) -> String {
        self.to_string()
    }
}
impl Ranged for Part {
    fn show(&self, _: &Reader<'_>) -> String {
        format!(
            "{} %",
            Decimal::try_from(self.0 * 100.0).map(|d| d.round_dp(4).normalize()).unwrap_or_default()
        )
    }
}
impl Ranged for Money {
    fn show(&self, _: &Reader<'_>) -> String {
        self.to_string()
    }
    fn hint(&self, _: &RangeInclusive<Money>, _: &Reader<'_>) -> Option<String> {
        self.is_negative()
            .then(|| "write a price of 0 or more; what is given away comes off the margin".into())
    }
}
impl Ranged for Share {
    fn show(&self, _: &Reader<'_>) -> String {
        self.to_string()
    }
}

/// A number of days: a whole number, or text such as "30 d".
pub(super) fn day_count(item: &Item<'_>) -> Result<u64, ErrorGuaranteed> {
    if !item.is_text() {
        return item.integer();
    }
    let m = minutes(item)?;
    if m.0.is_multiple_of(1440) {
        return Ok(u64::from(m.0 / 1440));
    }
    Err(item.unreadable("number of days", "it is not a whole number of days", "30 or \"30 d\""))
}
