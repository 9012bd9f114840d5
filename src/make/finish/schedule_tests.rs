//! The calendar is held to a twin that walks through it minute by minute and knows nothing of slots.
//!
//! Imports: base, read::job, make::finish.

use super::*;
use crate::base::moment::{Day, DayOfWeek};
use crate::read::job::finish::usual;
use proptest::prelude::*;

fn task(step: usize, each: u32, turning: Option<u32>, from: u32, until: Option<u32>) -> Task {
    Task {
        step,
        at: KeyPath::of("finish.step").index(step - 1),
        name: format!("step {step}"),
        set_up: Minutes(10),
        each: Minutes(each),
        splits: false,
        turning: turning.map(Minutes),
        from: Minutes(from),
        until: until.map(Minutes),
    }
}

fn times(spans: &[(DayOfWeek, u32, u32)], seats: u32) -> Times {
    let hours = spans.iter().map(|&(day, from, to)| WorkSpan { day, from, to }).collect();
    Times { hours: usual(hours), seats: usual(seats), ..Times::default() }
}

fn evenings(seats: u32) -> Times {
    let spans: Vec<_> = DayOfWeek::ALL.iter().map(|&d| (d, 18 * 60, 22 * 60)).collect();
    times(&spans, seats)
}

fn monday() -> Moment {
    Moment::parse("2026-08-31 08:00").unwrap()
}

/// Everything the calendar promises, asked again minute by minute.
fn broken_promises(c: &Calendar, tasks: &[Task], times: &Times) -> Vec<String> {
    let mut wrong = Vec::new();
    let mut busy = std::collections::BTreeMap::new();
    let mut seats = std::collections::BTreeMap::new();
    for e in &c.entries {
        let task = &tasks[e.step - 1];
        let mut worked = 0;
        for s in &e.sessions {
            let mut m = s.from;
            while m < s.to {
                worked += 1;
                *busy.entry(m).or_insert(0) += 1;
                let minute = m.minute_of_day();
                let at_work = times
                    .hours
                    .value
                    .iter()
                    .any(|w| w.day == m.day().day_of_week() && w.from <= minute && minute < w.to);
                if !at_work || times.off.contains(&m.day()) {
                    wrong.push(format!("{} at {m} outside hours", e.name));
                }
                m = m.plus(1);
            }
        }
        if worked < task.hands_on(e.cups).0 {
            wrong.push(format!("{} has {worked} min", e.name));
        }
        if !task.splits && e.sessions.len() > 1 {
            wrong.push(format!("{} is split", e.name));
        }
        if let Some(until) = e.turner_free {
            if until.minutes_since(e.ends) < i64::from(task.turning.unwrap().0) {
                wrong.push(format!("{} leaves the turner early", e.name));
            }
            let mut m = e.begins;
            while m < until {
                *seats.entry(m).or_insert(0) += e.cups;
                m = m.plus(1);
            }
        }
    }
    if busy.values().any(|n| *n > 1) {
        wrong.push("two things at once".into());
    }
    if seats.values().any(|n| *n > times.seats.value) {
        wrong.push("turner overfull".into());
    }
    for pair in c.entries.windows(2).filter(|p| p[0].load == p[1].load) {
        let gap = pair[1].begins.minutes_since(pair[0].ends);
        let t = &tasks[pair[0].step - 1];
        if gap < i64::from(t.from.0) {
            wrong.push(format!("{} too early: {gap}", pair[1].name));
        }
        if t.until.is_some_and(|u| gap > i64::from(u.0)) && !pair[1].abrade_first {
            wrong.push(format!("{} too late: {gap}", pair[1].name));
        }
    }
    wrong
}

#[test]
fn a_coat_is_put_off_so_that_the_next_meets_its_window() {
    // Evenings 18 to 22 h; window 20 to 21 h after: a coat put on at 18:00 and done at 18:20 would allow
    // 14:20 to 15:20, never at work; only a coat that ends 21 to 22 h lets the next begin at 18:00 to 18:55.
    let tasks = [task(1, 10, Some(60), 20 * 60, Some(21 * 60)), task(2, 10, Some(60), 0, None)];
    let mut diagnostics = Diagnostics::new();
    let c = schedule(&tasks, 1, &evenings(1), monday(), &mut diagnostics).unwrap();
    assert!(diagnostics.is_empty());
    assert_eq!(broken_promises(&c, &tasks, &evenings(1)), Vec::<String>::new());
    assert_eq!(c.entries[1].begins.to_string(), "Tue 2026-09-01 18:00");
    assert_eq!(c.entries[0].ends.to_string(), "Mon 2026-08-31 22:00");
}

#[test]
fn a_window_that_no_hours_meet_is_a_fault() {
    // Ends 18 to 22 h; 8 to 12 h later is 2 h to 10 h in the morning, never in the evening.
    let tasks = [task(1, 10, None, 8 * 60, Some(12 * 60)), task(2, 10, None, 0, None)];
    let mut diagnostics = Diagnostics::new();
    assert_eq!(schedule(&tasks, 1, &evenings(1), monday(), &mut diagnostics), None);
    let all = diagnostics.into_vec();
    assert_eq!(all.len(), 1);
    assert_eq!(all[0].code.id, "finish/window-not-met");
    assert!(all[0].measured.as_ref().unwrap().contains("8 h to 12 h"));
}

#[test]
fn all_faults_come_at_once() {
    let long = Task { each: Minutes(300), ..task(3, 0, None, 0, None) };
    let tasks = [task(1, 10, None, 8 * 60, Some(12 * 60)), task(2, 10, None, 8 * 60, Some(12 * 60)), long];
    let mut diagnostics = Diagnostics::new();
    assert_eq!(schedule(&tasks, 1, &evenings(1), monday(), &mut diagnostics), None);
    let ids: Vec<&str> = diagnostics.iter().map(|d| d.code.id).collect();
    assert_eq!(ids, ["finish/step-too-long", "finish/window-not-met"]);
}

#[test]
fn days_off_move_the_work_and_may_cost_a_window() {
    let tasks = [task(1, 10, None, 20 * 60, Some(25 * 60)), task(2, 10, None, 0, None)];
    let mut t = evenings(1);
    t.off = (0..90).step_by(2).map(|i| monday().day().plus_days(i)).collect();
    let mut diagnostics = Diagnostics::new();
    let c = schedule(&tasks, 1, &t, monday(), &mut diagnostics).unwrap();
    // Every second day is off for ninety days: after that two days in a row are free.
    assert_eq!(broken_promises(&c, &tasks, &t), Vec::<String>::new());
    assert!(c.entries[0].begins.day() >= Day::parse("2026-11-28").unwrap());
}

#[test]
fn two_loads_share_hands_and_turner() {
    let tasks = [task(1, 20, Some(300), 8 * 60, Some(30 * 60)), task(2, 20, Some(300), 24 * 60, None)];
    let mut diagnostics = Diagnostics::new();
    let t = evenings(2);
    let c = schedule(&tasks, 5, &t, monday(), &mut diagnostics).unwrap();
    assert_eq!(broken_promises(&c, &tasks, &t), Vec::<String>::new());
    assert_eq!(c.ready.len(), 3);
    assert_eq!(c.entries.iter().map(|e| e.cups).collect::<Vec<_>>(), [2, 2, 2, 2, 1, 1]);
    assert!(c.finished >= *c.ready.iter().max().unwrap());
}

/// Case 1: a next coat planned while the same cup still turned counted its seat twice.
#[test]
fn the_next_coat_waits_until_the_cup_is_off_the_turner() {
    let tasks = [task(1, 3, Some(30), 0, None), task(2, 3, Some(30), 0, None)];
    let c = schedule(&tasks, 1, &evenings(1), monday(), &mut Diagnostics::new()).unwrap();
    assert_eq!(broken_promises(&c, &tasks, &evenings(1)), Vec::<String>::new());
    assert_eq!(c.entries[1].begins.minutes_since(c.entries[0].ends), 30);
}

#[test]
fn film_work_may_be_laid_down_overnight() {
    let film = Task { splits: true, each: Minutes(500), ..task(1, 0, None, 0, None) };
    let t = evenings(1);
    let c = schedule(std::slice::from_ref(&film), 1, &t, monday(), &mut Diagnostics::new()).unwrap();
    assert_eq!(c.entries[0].sessions.len(), 3, "240 + 240 + 30 min");
    assert_eq!(broken_promises(&c, &[film], &t), Vec::<String>::new());
}

/// The plainest twin: earliest finish of one load by trying every start of every step.
fn earliest_by_trying(tasks: &[Task], times: &Times, start: Moment, days: i64) -> Option<Moment> {
    let mut grid = Grid::new(times, start, true);
    let n = days as usize * DAY;
    grid.reach(n);
    let mut ends: std::collections::BTreeSet<usize> = std::collections::BTreeSet::new();
    for (k, t) in tasks.iter().enumerate() {
        let mut next = std::collections::BTreeSet::new();
        for s in 0..n.saturating_sub(t.slots(1)) {
            let open = k == 0
                || ends.iter().any(|e| {
                    let gap = (s as i64 - *e as i64) * i64::from(SLOT);
                    gap >= i64::from(tasks[k - 1].from.0)
                        && tasks[k - 1].until.is_none_or(|u| gap <= i64::from(u.0))
                });
            if open && (s..s + t.slots(1)).all(|i| grid.free[i]) {
                next.insert(s + t.slots(1));
            }
        }
        ends = next;
    }
    ends.first().map(|e| grid.moment(*e))
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(48))]
    #[test]
    fn calendars_keep_every_promise(
        steps in prop::collection::vec((3u32..40, prop::option::of(30u32..400), 0u32..1500, prop::option::of(60u32..900)), 1..7),
        spans in prop::collection::vec((0usize..7, 6u32..14, 2u32..9), 2..9),
        cups in 1u32..6, seats in 1u32..4,
    ) {
        let tasks: Vec<Task> = steps.iter().enumerate()
            .map(|(i, &(each, turning, from, more))| task(i + 1, each, turning, from, more.map(|m| from + m))).collect();
        let mut by_day: std::collections::BTreeMap<usize, (u32, u32)> = std::collections::BTreeMap::new();
        for (d, from, len) in spans { by_day.entry(d).or_insert((from * 60, (from + len) * 60)); }
        let spans: Vec<_> = by_day.iter().map(|(d, (a, b))| (DayOfWeek::ALL[*d], *a, *b)).collect();
        let t = times(&spans, seats);
        let mut diagnostics = Diagnostics::new();
        match schedule(&tasks, cups, &t, monday(), &mut diagnostics) {
            Some(c) => {
                prop_assert!(!diagnostics.any_fault());
                prop_assert_eq!(broken_promises(&c, &tasks, &t), Vec::<String>::new());
            }
            None => prop_assert!(diagnostics.any_fault()),
        }
    }
    #[test]
    fn one_load_finishes_as_early_as_can_be(
        steps in prop::collection::vec((3u32..40, 0u32..900, prop::option::of(60u32..900)), 1..4),
        from in 8u32..18, len in 2u32..6,
    ) {
        let tasks: Vec<Task> = steps.iter().enumerate()
            .map(|(i, &(each, from, more))| task(i + 1, each, None, from, more.map(|m| from + m))).collect();
        let spans: Vec<_> = DayOfWeek::ALL.iter().map(|&d| (d, from * 60, (from + len) * 60)).collect();
        let t = times(&spans, 1);
        let mut diagnostics = Diagnostics::new();
        let got = schedule(&tasks, 1, &t, monday(), &mut diagnostics);
        let want = earliest_by_trying(&tasks, &t, monday(), 12);
        match (got, want) {
            (Some(c), Some(w)) if c.entries.iter().all(|e| !e.abrade_first) =>
                prop_assert_eq!(c.entries.last().unwrap().ends, w),
            (Some(c), None) => prop_assert!(c.entries.iter().any(|e| e.abrade_first) || c.finished.minutes_since(monday()) > 9 * 1440),
            (Some(_), Some(_)) => prop_assert!(false, "abraded though a window could be met"),
            (None, w) => prop_assert!(diagnostics.any_fault() && w.is_none()),
        }
    }
}
