//! Dates and times of a maker's day, as the wall clock shows them: no time zone, no clock is ever asked.
//!
//! Home of the crate `jiff`. Durations are counted on the wall clock; over a change to or from summer time
//! they are an hour off, which no coating notices.
//!
//! Imports: none.

use jiff::ToSpan;
use jiff::civil::{Date, DateTime};
use serde::{Serialize, Serializer};
use std::fmt;

/// A minute of a day in the maker's own time.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Moment(DateTime);

/// A calendar day.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Day(Date);

/// A length of time in whole minutes.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
#[serde(transparent)]
pub struct Minutes(pub u32);

impl Minutes {
    /// So many hours.
    pub const fn hours(h: u32) -> Minutes {
        Minutes(h * 60)
    }
    /// So many days of 24 hours.
    pub const fn days(d: u32) -> Minutes {
        Minutes(d * 1440)
    }
}

impl fmt::Display for Minutes {
    /// `25 min`, `1 h 30 min`, `3 d`, `1 d 4 h`.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let (d, h, m) = (self.0 / 1440, self.0 / 60 % 24, self.0 % 60);
        let parts = [(d, "d"), (h, "h"), (m, "min")];
        let text: Vec<String> =
            parts.iter().filter(|(n, _)| *n > 0).map(|(n, unit)| format!("{n} {unit}")).collect();
        f.write_str(if text.is_empty() { "0 min".into() } else { text.join(" ") }.as_str())
    }
}

/// A day of the week, Monday first.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "lowercase")]
#[allow(missing_docs, reason = "their names say it")]
pub enum DayOfWeek {
    Mon,
    Tue,
    Wed,
    Thu,
    Fri,
    Sat,
    Sun,
}

impl DayOfWeek {
    /// All, Monday first.
    pub const ALL: [DayOfWeek; 7] = {
        use DayOfWeek::{Fri, Mon, Sat, Sun, Thu, Tue, Wed};
        [Mon, Tue, Wed, Thu, Fri, Sat, Sun]
    };
    /// From `mon` to `sun`, or the whole English name, in any case.
    pub fn parse(text: &str) -> Option<DayOfWeek> {
        const LONG: [&str; 7] =
            ["monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday"];
        let t = text.trim().to_ascii_lowercase();
        LONG.iter().position(|l| *l == t || (t.len() == 3 && l.starts_with(&t))).map(|i| Self::ALL[i])
    }
}

impl Day {
    /// 1 January 2024, a Monday.
    pub const FIRST_MONDAY_OF_2024: Day = Day(jiff::civil::date(2024, 1, 1));
    /// From an ISO 8601 calendar date, `2026-09-01`.
    pub fn parse(text: &str) -> Option<Day> {
        (text.trim().len() == 10).then(|| text.trim().parse().ok().map(Day)).flatten()
    }
    /// This day at `minute` minutes after midnight.
    pub fn at(self, minute: u32) -> Moment {
        Moment(self.0.to_datetime(jiff::civil::Time::midnight())).plus(i64::from(minute))
    }
    /// So many days later; stays where it is beyond the year 9999.
    #[must_use]
    pub fn plus_days(self, days: i64) -> Day {
        Day(self.0.checked_add(days.days()).unwrap_or(self.0))
    }
    /// Which day of the week.
    pub fn day_of_week(self) -> DayOfWeek {
        DayOfWeek::ALL[self.0.weekday().to_monday_zero_offset() as usize]
    }
    /// `20260901`, as RFC 5545 writes a DATE.
    pub fn compact(self) -> String {
        self.0.strftime("%Y%m%d").to_string()
    }
    /// `1 September 2026`.
    pub fn long(self) -> String {
        self.0.strftime("%-d %B %Y").to_string()
    }
}

impl Moment {
    /// From `2026-09-01 09:00` or `2026-09-01T09:00`.
    pub fn parse(text: &str) -> Option<Moment> {
        let t = text.trim().replacen('T', " ", 1);
        if t.len() != 16 {
            return None;
        }
        DateTime::strptime("%Y-%m-%d %H:%M", &t).ok().map(Moment)
    }
    /// So many minutes later; stays where it is beyond the year 9999.
    #[must_use]
    pub fn plus(self, minutes: i64) -> Moment {
        Moment(self.0.checked_add(minutes.minutes()).unwrap_or(self.0))
    }
    /// Minutes from another moment to this one.
    pub fn minutes_since(self, earlier: Moment) -> i64 {
        self.0.duration_since(earlier.0).as_mins()
    }
    /// Its day.
    pub fn day(self) -> Day {
        Day(self.0.date())
    }
    /// Minutes after its day's midnight.
    pub fn minute_of_day(self) -> u32 {
        (i32::from(self.0.hour()) * 60 + i32::from(self.0.minute())) as u32
    }
    /// `20260901T090000`: RFC 5545 3.3.5 form 1, local ("floating") time.
    pub fn compact(self) -> String {
        self.0.strftime("%Y%m%dT%H%M%S").to_string()
    }
    /// `Tue 1 Sep 09:00`.
    pub fn short(self) -> String {
        self.0.strftime("%a %-d %b %H:%M").to_string()
    }
    /// `09:00`.
    pub fn clock(self) -> String {
        self.0.strftime("%H:%M").to_string()
    }
}

impl fmt::Display for Day {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}", self.0)
    }
}
impl fmt::Display for Moment {
    /// `Tue 2026-09-01 09:00`.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}", self.0.strftime("%a %Y-%m-%d %H:%M"))
    }
}
impl Serialize for Day {
    fn serialize<S: Serializer>(&self, s: S) -> Result<S::Ok, S::Error> {
        s.collect_str(&self.0)
    }
}
impl Serialize for Moment {
    /// `2026-09-01T09:00`.
    fn serialize<S: Serializer>(&self, s: S) -> Result<S::Ok, S::Error> {
        s.collect_str(&self.0.strftime("%Y-%m-%dT%H:%M"))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// 2026-09-01 is a Tuesday; 2028 is a leap year (Gregorian rule).
    #[test]
    fn days_follow_the_calendar() {
        let d = Day::parse("2026-09-01").unwrap();
        assert_eq!(d.day_of_week(), DayOfWeek::Tue);
        assert_eq!(Day::FIRST_MONDAY_OF_2024.day_of_week(), DayOfWeek::Mon);
        assert_eq!(d.plus_days(30).to_string(), "2026-10-01");
        assert_eq!(Day::parse("2028-02-28").unwrap().plus_days(1).to_string(), "2028-02-29");
        assert_eq!(Day::parse("2026-02-29"), None);
        assert_eq!(Day::parse("1.9.2026"), None);
        assert_eq!(d.long(), "1 September 2026");
    }

    #[test]
    fn moments_count_minutes_over_midnight_and_year() {
        let m = Moment::parse("2026-12-31 23:30").unwrap();
        let n = m.plus(45);
        assert_eq!(n.compact(), "20270101T001500");
        assert_eq!(n.minutes_since(m), 45);
        assert_eq!(n.day().at(n.minute_of_day()), n);
        assert_eq!(Moment::parse("2026-12-31T23:30"), Some(m));
        assert_eq!(Moment::parse("2026-12-31 24:30"), None);
    }

    #[test]
    fn names_of_days_are_read_short_and_long() {
        assert_eq!(DayOfWeek::parse("Saturday"), Some(DayOfWeek::Sat));
        assert_eq!(DayOfWeek::parse("wed"), Some(DayOfWeek::Wed));
        assert_eq!(DayOfWeek::parse("we"), None);
    }
}
