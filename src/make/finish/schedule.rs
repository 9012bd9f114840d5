//! When each step is done: working hours, recoat windows, one pair of hands and so many seats on the turner.
//!
//! Time is cut into slots of five minutes. For one load of cups, the starts from which each step can be
//! reached are found step by step (a start is reachable if some reachable end of the step before lies within
//! the recoat window before it); the earliest end of the last step is then traced back. So a step is put off
//! when that is what lets the step after it meet its window. Loads follow one another in order, each into
//! what the ones before left free: the first finish of each load is best for that load, the whole is good,
//! not proved best.
//!
//! Imports: base, read::job.

use crate::base::diag::{Code, Diagnostic, Diagnostics, KeyPath};
use crate::base::moment::{Day, Minutes, Moment};
use crate::read::job::finish::{Times, WorkSpan};
use serde::Serialize;

/// Length of a slot in minutes.
pub const SLOT: u32 = 5;
/// Slots of a day.
const DAY: usize = 1440 / SLOT as usize;

/// A recoat window that no working hours meet.
pub const WINDOW: Code = Code {
    id: "finish/window-not-met",
    title: "no working hours meet a recoat window",
    explain: "A next coat must go on between the earliest and the latest recoat time of the one before. \
        With the working hours given there is no time of any week at which the first could be put on so \
        that the second falls into working hours. Lengthen the hours, work on another day, put fewer cups \
        on the turner at once, or plan to wash and abrade between the two coats (a sand step).",
};
/// A step longer than any session.
pub const TOO_LONG: Code = Code {
    id: "finish/step-too-long",
    title: "a step does not fit into one session of work",
    explain: "A coat must be put on in one go. With the number of cups on the turner the step takes longer \
        than the longest span of working hours. Lengthen that span or put fewer cups on the turner.",
};
/// Washed and abraded because a window was missed.
pub const MISSED: Code = Code {
    id: "finish/window-missed",
    title: "a recoat window is missed with other work in the way",
    explain: "The window could be met with these hours, but not with all the other steps and cups. The step \
        is planned later, with time to wash and abrade first, as the data sheet of most resins asks.",
};
/// No time at all.
pub const NO_TIME: Code = Code {
    id: "finish/no-time",
    title: "the work does not fit into the calendar",
    explain: "Working hours and days off leave no time for a step within the time looked at. Check days off \
        and hours.",
};

/// Ready too late.
pub const LATE: Code = Code {
    id: "finish/late",
    title: "the order is not ready when it is due",
    explain: "Steps, waiting times, working hours and days off put the last cup's readiness after \
        finish.times.due. Start earlier, work longer hours, put more cups on the turner, or agree on a \
        later date. Curing times are the product's: do not shorten them.",
};

/// One step as the calendar sees it.
#[derive(Clone, Debug, PartialEq)]
pub struct Task {
    /// Number of the step, from 1.
    pub step: usize,
    /// Where it stands in the job.
    pub at: KeyPath,
    /// What to call it.
    pub name: String,
    /// Hands-on once a load.
    pub set_up: Minutes,
    /// Hands-on for each cup.
    pub each: Minutes,
    /// May be laid down and taken up again.
    pub splits: bool,
    /// Cups stay on the turner from the start to so long after the end.
    pub turning: Option<Minutes>,
    /// Earliest start of the next step after the end of this one.
    pub from: Minutes,
    /// Latest start of the next step after the end of this one.
    pub until: Option<Minutes>,
}

impl Task {
    /// Hands-on time for a load of cups.
    pub fn hands_on(&self, cups: u32) -> Minutes {
        Minutes(self.set_up.0 + self.each.0 * cups)
    }
    fn slots(&self, cups: u32) -> usize {
        self.hands_on(cups).0.div_ceil(SLOT) as usize
    }
    /// Earliest start of the next step: not before the cup is off the turner.
    fn earliest(&self) -> Minutes {
        self.from.max(self.turning.unwrap_or_default())
    }
    fn window(&self) -> (usize, Option<usize>) {
        (self.earliest().0.div_ceil(SLOT) as usize, self.until.map(|u| (u.0 / SLOT) as usize))
    }
}

/// A stretch of work.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
pub struct Session {
    /// Begin.
    pub from: Moment,
    /// End.
    pub to: Moment,
}

/// A step of a load in the calendar.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Entry {
    /// Load of cups, from 1.
    pub load: usize,
    /// Cups in it.
    pub cups: u32,
    /// Number of the step.
    pub step: usize,
    /// What to call it.
    pub name: String,
    /// Work; empty if the step is only waiting.
    pub sessions: Vec<Session>,
    /// When it begins.
    pub begins: Moment,
    /// When its work ends.
    pub ends: Moment,
    /// Off the turner.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub turner_free: Option<Moment>,
    /// Earliest next step.
    pub next_from: Moment,
    /// Latest next step without washing and abrading.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub next_until: Option<Moment>,
    /// The window before it was missed: wash and abrade first, time for it is in the session.
    pub abrade_first: bool,
}

/// All steps of all loads.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Calendar {
    /// Load by load, step by step.
    pub entries: Vec<Entry>,
    /// When each load can be used.
    pub ready: Vec<Moment>,
    /// When the last can be used.
    pub finished: Moment,
}

/// Working time cut into slots from a start, and what is taken of it.
struct Grid<'a> {
    times: &'a Times,
    start: Moment,
    off: bool,
    /// The maker is at work and free.
    free: Vec<bool>,
    /// Seats of the turner in use.
    seats: Vec<u32>,
}

impl<'a> Grid<'a> {
    fn new(times: &'a Times, start: Moment, off: bool) -> Grid<'a> {
        Grid { times, start, off, free: Vec::new(), seats: Vec::new() }
    }
    /// At least so many slots.
    fn reach(&mut self, slots: usize) {
        while self.free.len() < slots {
            let from = self.start.plus(self.free.len() as i64 * i64::from(SLOT));
            self.free.push(self.at_work(from));
            self.seats.push(0);
        }
    }
    fn at_work(&self, from: Moment) -> bool {
        let (day, minute) = (from.day(), from.minute_of_day());
        if self.off && self.times.off.contains(&day) {
            return false;
        }
        let weekday = day.day_of_week();
        let holds = |s: &WorkSpan| s.day == weekday && s.from <= minute && minute + SLOT <= s.to;
        self.times.hours.value.iter().any(holds)
    }
    fn moment(&self, slot: usize) -> Moment {
        self.start.plus(slot as i64 * i64::from(SLOT))
    }
}

/// What each slot allows within a window of the grid, for one load.
struct View {
    offset: usize,
    /// Free slots in a row from here.
    run: Vec<u32>,
    /// Free slots before here.
    rank: Vec<u32>,
    /// Where the n-th free slot is.
    nth: Vec<u32>,
    /// Slots before here at which the turner has too few seats.
    blocked: Vec<u32>,
}

impl View {
    fn new(grid: &Grid, offset: usize, slots: usize, cups: u32) -> View {
        let n = slots;
        let mut v = View {
            offset,
            run: vec![0; n + 1],
            rank: vec![0; n + 1],
            nth: Vec::new(),
            blocked: vec![0; n + 1],
        };
        let seats = grid.times.seats.value;
        for i in 0..n {
            let free = grid.free[offset + i];
            v.rank[i + 1] = v.rank[i] + u32::from(free);
            if free {
                v.nth.push(i as u32);
            }
            v.blocked[i + 1] = v.blocked[i] + u32::from(grid.seats[offset + i] + cups > seats);
        }
        for i in (0..n).rev() {
            v.run[i] = if grid.free[offset + i] { v.run[i + 1] + 1 } else { 0 };
        }
        v
    }
    fn len(&self) -> usize {
        self.run.len() - 1
    }
    /// The end of work of so many slots begun here, if it can be begun here.
    fn end(&self, at: usize, work: usize, splits: bool, turning: Option<usize>) -> Option<usize> {
        let end = if work == 0 {
            at
        } else if splits {
            (self.run[at] > 0).then_some(())?;
            *self.nth.get(self.rank[at] as usize + work - 1)? as usize + 1
        } else {
            (self.run[at] as usize >= work).then_some(at + work)?
        };
        if let Some(turning) = turning {
            let until = end + turning;
            if until > self.len() || self.blocked[until] > self.blocked[at] {
                return None;
            }
        }
        Some(end)
    }
}

/// Starts and ends of one load, in slots of the view; or the step that cannot be reached.
fn place(tasks: &[Task], work: &[usize], missed: &[bool], view: &View) -> Result<Vec<(usize, usize)>, usize> {
    const NONE: u32 = u32::MAX;
    let n = view.len();
    // For each step: the start that ends at a slot.
    let mut start_of: Vec<Vec<u32>> = Vec::with_capacity(tasks.len());
    let mut ends_before: Vec<u32> = Vec::new();
    for (k, task) in tasks.iter().enumerate() {
        let turning = task.turning.map(|t| t.0.div_ceil(SLOT) as usize);
        let mut starts = vec![NONE; n + 1];
        let mut any = false;
        for s in 0..n {
            if k > 0
                && window(&tasks[k - 1], missed[k], s, n)
                    .is_none_or(|(lo, hi)| ends_before[hi + 1] <= ends_before[lo])
            {
                continue;
            }
            if let Some(end) = view.end(s, work[k], task.splits, turning) {
                starts[end] = s as u32;
                any = true;
            }
        }
        if !any {
            return Err(k);
        }
        ends_before = std::iter::once(0)
            .chain(starts.iter().scan(0, |sum, s| {
                *sum += u32::from(*s != NONE);
                Some(*sum)
            }))
            .collect();
        start_of.push(starts);
    }
    let mut out = vec![(0, 0); tasks.len()];
    let mut range = (0, n, true);
    for k in (0..tasks.len()).rev() {
        let (lo, hi, early) = range;
        let reachable = |x: &usize| start_of[k][*x] != NONE;
        let end = if early { (lo..=hi).find(reachable) } else { (lo..=hi).rev().find(reachable) };
        let Some(end) = end else { return Err(k) };
        let start = start_of[k][end] as usize;
        out[k] = (start, end);
        if k > 0 {
            let Some((lo, hi)) = window(&tasks[k - 1], missed[k], start, n) else { return Err(k) };
            // Where a window closes, the coat before is put on as late as possible: the next follows soon
            // after it opens.
            range = (lo, hi, tasks[k - 1].until.is_none() || missed[k]);
        }
    }
    Ok(out)
}

/// Ends of the step before from which a start lies within its window: first and last slot.
fn window(before: &Task, missed: bool, start: usize, n: usize) -> Option<(usize, usize)> {
    let (from, until) = before.window();
    let hi = start.checked_sub(from)?.min(n);
    let lo = if missed { 0 } else { until.map_or(0, |u| start.saturating_sub(u)) };
    (lo <= hi).then_some((lo, hi))
}

/// A Monday, for what must hold in every week.
fn some_monday() -> Moment {
    Day::FIRST_MONDAY_OF_2024.at(0)
}

/// Could the second task ever start within the window after the first, in a week without other work or days
/// off?
fn can_follow(first: &Task, second: &Task, cups: u32, times: &Times) -> bool {
    let mut grid = Grid::new(times, some_monday(), false);
    let (_, until) = first.window();
    let slots = 15 * DAY + until.unwrap_or(0);
    grid.reach(slots);
    // No cups: the turner is never full.
    let view = View::new(&grid, 0, slots, 0);
    let pair = [first.clone(), second.clone()];
    place(&pair, &[first.slots(cups), second.slots(cups)], &[false, false], &view).is_ok()
}

/// The longest span of working hours.
fn longest_span(times: &Times) -> Minutes {
    Minutes(times.hours.value.iter().map(|s| s.to - s.from).max().unwrap_or(0))
}

/// Could so many cups at once be worked at all in these hours, in some week without other work? Faults say
/// what not.
pub fn possible(tasks: &[Task], cups: u32, times: &Times, diagnostics: &mut Diagnostics) -> bool {
    let mut fits = true;
    let longest = longest_span(times);
    for t in tasks.iter().filter(|t| !t.splits && t.hands_on(cups) > longest) {
        fits = false;
        diagnostics.push(
            Diagnostic::fault(&TOO_LONG, t.at.clone(), format!("\"{}\" must be done in one go", t.name))
                .measured(format!("{} for {cups} cups", t.hands_on(cups)))
                .allowed(format!("at most {longest}, the longest span of working hours"))
                .help("lengthen the working hours or put fewer cups on the turner (finish.times.seats)"),
        );
    }
    for pair in tasks.windows(2) {
        let (a, b) = (&pair[0], &pair[1]);
        let Some(until) = a.until else { continue };
        if a.hands_on(cups) > longest || b.hands_on(cups) > longest && !b.splits {
            continue;
        }
        if !can_follow(a, b, cups, times) {
            fits = false;
            diagnostics.push(
                Diagnostic::fault(
                    &WINDOW,
                    a.at.clone(),
                    format!("\"{}\" can never follow \"{}\" in working hours", b.name, a.name),
                )
                .measured(format!("window of {} to {until} after the coat", a.earliest()))
                .allowed("a start in working hours within the window, on some day of the week")
                .help("lengthen the hours, work on another day, or put a sand step between the two coats"),
            );
        }
    }
    fits
}

/// The calendar of so many cups, taken in loads of as many as the turner holds; `None` if it cannot be:
/// faults say why.
pub fn schedule(
    tasks: &[Task],
    cups: u32,
    times: &Times,
    start: Moment,
    diagnostics: &mut Diagnostics,
) -> Option<Calendar> {
    let loads = loads(cups, times.seats.value);
    let largest = *loads.first()?;
    if tasks.is_empty() || !possible(tasks, largest, times, diagnostics) {
        return None;
    }
    let mut grid = Grid::new(times, start, true);
    let mut calendar = Calendar { entries: Vec::new(), ready: Vec::new(), finished: start };
    let mut offset = 0;
    for (i, &cups) in loads.iter().enumerate() {
        let (missed, placed) = place_load(tasks, cups, &mut grid, offset, diagnostics)?;
        for (k, &(from, to)) in placed.iter().enumerate() {
            let entry = take(&mut grid, &tasks[k], (i + 1, cups), missed[k], from, to);
            calendar.entries.push(entry);
        }
        let ready = calendar.entries.last()?.next_from;
        calendar.ready.push(ready);
        calendar.finished = calendar.finished.max(ready);
        offset = placed[0].0;
    }
    Some(calendar)
}

/// Cups taken at once: full turners first, the rest last.
pub fn loads(cups: u32, seats: u32) -> Vec<u32> {
    let seats = seats.max(1);
    let mut loads = vec![seats; (cups / seats) as usize];
    loads.extend((!cups.is_multiple_of(seats)).then_some(cups % seats));
    loads
}

/// Starts and ends of one load in slots of the grid, and which windows before a step are missed.
type Placed = (Vec<bool>, Vec<(usize, usize)>);

fn place_load(
    tasks: &[Task],
    cups: u32,
    grid: &mut Grid,
    offset: usize,
    diagnostics: &mut Diagnostics,
) -> Option<Placed> {
    let abrade = grid.times.abrade.value.0 * cups;
    let mut missed = vec![false; tasks.len()];
    let waits: usize = tasks.iter().map(|t| t.window().0 + t.slots(cups)).sum();
    let mut slots = waits + (14 + 3 * tasks.len()) * DAY;
    let widest = slots * 16;
    loop {
        let extra = |k: usize| if missed[k] { abrade.div_ceil(SLOT) as usize } else { 0 };
        let work: Vec<usize> = tasks.iter().enumerate().map(|(k, t)| t.slots(cups) + extra(k)).collect();
        grid.reach(offset + slots);
        let view = View::new(grid, offset, slots, cups);
        match place(tasks, &work, &missed, &view) {
            Ok(placed) => {
                let placed = placed.iter().map(|(a, b)| (a + view.offset, b + view.offset)).collect();
                return Some((missed, placed));
            }
            Err(k) if slots * 4 > widest && k > 0 && tasks[k - 1].until.is_some() && !missed[k] => {
                missed[k] = true;
                diagnostics.push(
                    Diagnostic::warning(
                        &MISSED,
                        tasks[k].at.clone(),
                        format!("\"{}\" comes too late after \"{}\"", tasks[k].name, tasks[k - 1].name),
                    )
                    .allowed(format!("at most {} after it", tasks[k - 1].until.unwrap_or_default()))
                    .help("wash and abrade first (the time for it is planned), or change hours and days off"),
                );
            }
            Err(_) if slots * 4 <= widest => slots *= 4,
            Err(k) => {
                diagnostics.push(
                    Diagnostic::fault(
                        &NO_TIME,
                        tasks[k].at.clone(),
                        format!("no time is left for \"{}\"", tasks[k].name),
                    )
                    .measured(format!("{} days looked at", slots / DAY))
                    .help("check finish.times.hours and finish.times.off"),
                );
                return None;
            }
        }
    }
}

/// Takes the time and the seats, and says what was taken.
fn take(
    grid: &mut Grid,
    task: &Task,
    load: (usize, u32),
    abrade_first: bool,
    from: usize,
    to: usize,
) -> Entry {
    let mut sessions: Vec<Session> = Vec::new();
    let mut slot = from;
    while slot < to {
        let begin = slot;
        while slot < to && grid.free[slot] {
            grid.free[slot] = false;
            slot += 1;
        }
        if slot > begin {
            sessions.push(Session { from: grid.moment(begin), to: grid.moment(slot) });
        } else {
            slot += 1;
        }
    }
    let turner_free = task.turning.map(|t| {
        let until = to + t.0.div_ceil(SLOT) as usize;
        grid.reach(until);
        for s in &mut grid.seats[from..until] {
            *s += load.1;
        }
        grid.moment(until)
    });
    let ends = grid.moment(to);
    Entry {
        load: load.0,
        cups: load.1,
        step: task.step,
        name: task.name.clone(),
        sessions,
        begins: grid.moment(from),
        ends,
        turner_free,
        next_from: ends.plus(i64::from(task.earliest().0)),
        next_until: task.until.map(|u| ends.plus(i64::from(u.0))),
        abrade_first,
    }
}

#[cfg(test)]
#[path = "schedule_tests.rs"]
mod tests;
