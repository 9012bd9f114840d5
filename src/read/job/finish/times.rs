//! `[finish.times]`: when the maker works, and how long things take.
//!
//! Imports: base, read::job::{keys, section}, read::job::finish::{bench, model, codes, rows, rates}.

use super::super::keys::Seconds;
use super::super::section::{Item, Section};
use super::codes;
use super::model::{Basis, Rate, Times, WorkSpan};
use super::rates::{basis, day, mapped, moment, rate_or};
use super::rows::times as rows;
use crate::base::diag::{Diagnostic, ErrorGuaranteed};
use crate::base::moment::DayOfWeek;

/// Reads the table.
pub(super) fn times(section: &Section<'_>) -> Result<Times, ErrorGuaranteed> {
    let usual = Times::default();
    let on = basis(section);
    let basis = on.unwrap_or(Basis::Entered);
    let start = section.own(&rows::START, moment).optional();
    let due = section.own(&rows::DUE, day).optional();
    let hours = hours(section, basis);
    let off = section.own(&rows::OFF, |item| item.list(day)).counting(0..=400, "days").or(Vec::new());
    let seats = rate_or(section, &rows::SEATS, basis, mapped(usual.seats, u64::from));
    let weed = rate_or(section, &rows::WEED, basis, mapped(usual.weed_s, Seconds));
    let place = rate_or(section, &rows::PLACE, basis, mapped(usual.place_s, Seconds));
    let panel = rate_or(section, &rows::PANEL, basis, mapped(usual.panel_s, Seconds));
    let gather = rate_or(section, &rows::GATHER, basis, mapped(usual.gather_s, Seconds));
    let sheet = rate_or(section, &rows::SHEET, basis, usual.sheet);
    let order = rate_or(section, &rows::ORDER, basis, usual.order);
    let abrade = rate_or(section, &rows::ABRADE, basis, usual.abrade);
    on?;
    Ok(Times {
        start: start?,
        hours: hours?.unwrap_or(usual.hours),
        off: off?,
        due: due?,
        seats: mapped(seats?, |n| n as u32),
        weed_s: mapped(weed?, |s| s.0),
        place_s: mapped(place?, |s| s.0),
        panel_s: mapped(panel?, |s| s.0),
        gather_s: mapped(gather?, |s| s.0),
        sheet: sheet?,
        order: order?,
        abrade: abrade?,
    })
}

fn hours(section: &Section<'_>, basis: Basis) -> Result<Option<Rate<Vec<WorkSpan>>>, ErrorGuaranteed> {
    let lists =
        section.own(&rows::HOURS, |item| item.list(spans)).counting(1..=50, "spans of hours").optional()?;
    let Some(lists) = lists else { return Ok(None) };
    let mut all: Vec<(usize, WorkSpan)> =
        lists.into_iter().enumerate().flat_map(|(i, l)| l.into_iter().map(move |s| (i, s))).collect();
    all.sort_by_key(|(_, s)| *s);
    for pair in all.windows(2) {
        let ((_, a), (i, b)) = (&pair[0], &pair[1]);
        if a.day == b.day && b.from < a.to {
            return Err(section.reader().push(
                Diagnostic::fault(
                    &codes::HOURS,
                    section.path("hours").index(*i),
                    "two spans of one day overlap",
                )
                .measured(format!(
                    "{} to {} and {} to {}",
                    clock(a.from),
                    clock(a.to),
                    clock(b.from),
                    clock(b.to)
                ))
                .help("join them, or take one out"),
            ));
        }
    }
    Ok(Some(Rate { value: all.into_iter().map(|(_, s)| s).collect(), basis }))
}

fn clock(minute: u32) -> String {
    format!("{}:{:02}", minute / 60, minute % 60)
}

/// `mon-fri 18:00-21:30`, `sat 9-13`, `mon,wed 18:00-20:00`.
fn spans(item: &Item<'_>) -> Result<Vec<WorkSpan>, ErrorGuaranteed> {
    let text = item.text()?;
    parse(&text).map_err(|why| {
        item.reader().push(
            Diagnostic::fault(&codes::HOURS, item.at().clone(), format!("these are no working hours: {why}"))
                .measured(&text)
                .allowed("days, a blank, and a span of the 24-hour clock")
                .help("write it like \"mon-fri 18:00-21:30\" or \"sat 9:00-13:00\""),
        )
    })
}

fn parse(text: &str) -> Result<Vec<WorkSpan>, String> {
    let text = text.trim().replace('\u{2013}', "-");
    let (days, span) =
        text.rsplit_once(char::is_whitespace).ok_or("a blank between days and hours is lacking")?;
    let (from, to) = span.split_once('-').ok_or("the span has no beginning and end with a hyphen between")?;
    let (from, to) = (minute(from)?, minute(to)?);
    if from >= to {
        return Err("the span ends before it begins".into());
    }
    let mut out = Vec::new();
    for part in days.split(',') {
        let (first, last) = part.split_once('-').unwrap_or((part, part));
        let (first, last) = (weekday(first)?, weekday(last)?);
        let mut i = first;
        loop {
            out.push(WorkSpan { day: DayOfWeek::ALL[i], from, to });
            if i == last {
                break;
            }
            i = (i + 1) % 7;
        }
    }
    out.sort_unstable();
    if out.windows(2).any(|p| p[0] == p[1]) {
        return Err("a day is named twice".into());
    }
    Ok(out)
}

fn weekday(text: &str) -> Result<usize, String> {
    let day = DayOfWeek::parse(text).ok_or_else(|| format!("`{}` is no day from mon to sun", text.trim()))?;
    Ok(DayOfWeek::ALL.iter().position(|d| *d == day).unwrap_or(0))
}

fn minute(text: &str) -> Result<u32, String> {
    let text = text.trim();
    let (h, m) = text.split_once(':').unwrap_or((text, "00"));
    let number = |t: &str, most: u32| {
        let plain = (1..=2).contains(&t.len()) && t.bytes().all(|b| b.is_ascii_digit());
        t.parse::<u32>().ok().filter(|n| plain && *n <= most)
    };
    match (number(h, 24), number(m, 59).filter(|_| m.len() == 2)) {
        (Some(h), Some(m)) if h * 60 + m <= 24 * 60 => Ok(h * 60 + m),
        _ => Err(format!("`{text}` is no time of the 24-hour clock")),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn hours_are_read_as_people_write_them() {
        let week = parse("mon-fri 18:00-21:30").unwrap();
        assert_eq!(week.len(), 5);
        assert_eq!((week[0].day, week[0].from, week[4].to), (DayOfWeek::Mon, 18 * 60, 21 * 60 + 30));
        assert_eq!(parse("sat,sun 9-13").unwrap().len(), 2);
        // A run may go over the end of the week.
        let days: Vec<DayOfWeek> = parse("fri-mon 9:00-10:00").unwrap().iter().map(|s| s.day).collect();
        assert_eq!(days, [DayOfWeek::Mon, DayOfWeek::Fri, DayOfWeek::Sat, DayOfWeek::Sun]);
        for wrong in
            ["mon", "mon 9", "mon 13:00-9:00", "someday 9-13", "mon 9:0-13", "mon 25-26", "mon,mon 9-13", ""]
        {
            assert!(parse(wrong).is_err(), "{wrong}");
        }
    }

    proptest! {
        #[test]
        fn no_text_panics(text in "[a-z0-9:, -]{0,24}") {
            if let Ok(spans) = parse(&text) {
                prop_assert!(spans.iter().all(|s| s.from < s.to && s.to <= 1440));
            }
        }
    }
}
