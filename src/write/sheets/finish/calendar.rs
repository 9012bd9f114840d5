//! `finish/calendar.ics`: work, waiting and readiness as RFC 5545 events in the maker's own (floating) time.
//!
//! The calendar's name is RFC 7986's. Lines end with CR LF and are folded at 75 octets between characters
//! (3.1); texts are escaped (3.3.11). Time stamps, which the format wants in UTC, come from the job's date:
//! no clock is asked.
//!
//! Imports: base, read::job, make::{finish, verify}, write::sheets::measures.

use crate::base::moment::Day;
use crate::base::random::fnv1a;
use crate::make::finish::Calendar;
use crate::make::finish::coat::StepPlan;
use crate::make::finish::schedule::Entry;
use crate::make::verify::Verified;
use crate::read::job::finish::StepKind;
use crate::write::sheets::measures;

/// Path within the kit.
pub const FILE: &str = "finish/calendar.ics";

/// The file's text.
pub fn text(plan: &Verified, calendar: &Calendar) -> String {
    let mut w = Lines::default();
    w.line("BEGIN", "VCALENDAR");
    w.line("VERSION", "2.0");
    w.line("PRODID", "-//frusta//finishing plan//EN");
    w.line("CALSCALE", "GREGORIAN");
    w.text("NAME", &plan.job().title);
    let stamp = stamp(plan, calendar);
    let job = Job { plan, stamp: &stamp, loads: calendar.ready.len() };
    for entry in &calendar.entries {
        job.entry(&mut w, entry);
    }
    for (i, ready) in calendar.ready.iter().enumerate() {
        let last = i + 1 == calendar.ready.len();
        let what = if last { "all cups ready" } else { "cups ready" };
        let title = format!("{}{}: {what}", plan.job().title, job.of_load(i + 1));
        let message = format!("cured and fit for use from {ready}, if every step kept its time");
        // An all-day event ends before the day after it.
        let day = ready.day();
        let span =
            Span { from: (";VALUE=DATE", day.compact()), to: (";VALUE=DATE", day.plus_days(1).compact()) };
        job.event(&mut w, &format!("ready-{}", i + 1), &span, (&title, &message), Free::Free);
    }
    w.line("END", "VCALENDAR");
    w.out
}

fn stamp(plan: &Verified, calendar: &Calendar) -> String {
    let said = plan.job().date.as_deref().and_then(Day::parse);
    let first = calendar.entries.first().map_or(calendar.finished, |e| e.begins).day();
    format!("{}T000000Z", said.unwrap_or(first).compact())
}

/// Does an event take the maker's time?
#[derive(Clone, Copy, PartialEq)]
enum Free {
    Busy,
    Free,
}

struct Span {
    from: (&'static str, String),
    to: (&'static str, String),
}

struct Job<'a> {
    plan: &'a Verified,
    stamp: &'a str,
    loads: usize,
}

impl Job<'_> {
    fn of_load(&self, load: usize) -> String {
        if self.loads > 1 { format!(", load {load} of {}", self.loads) } else { String::new() }
    }
    fn entry(&self, w: &mut Lines, e: &Entry) {
        let step = &self.plan.finish().steps[e.step - 1];
        let title = format!("{}. {}{} - {}", e.step, e.name, self.of_load(e.load), self.plan.job().title);
        let message = message(step, e);
        let key = format!("load-{}-step-{}", e.load, e.step);
        for (i, s) in e.sessions.iter().enumerate() {
            let span = Span { from: ("", s.from.compact()), to: ("", s.to.compact()) };
            self.event(w, &format!("{key}-work-{}", i + 1), &span, (&title, &message), Free::Busy);
        }
        if let Some(free) = e.turner_free.filter(|f| *f > e.ends) {
            let span = Span { from: ("", e.ends.compact()), to: ("", free.compact()) };
            let title = format!("{} on the turner{}", cups(e.cups), self.of_load(e.load));
            let message = format!("after step {} ({}); keep turning until {free}", e.step, e.name);
            self.event(w, &format!("{key}-turning"), &span, (&title, &message), Free::Free);
        } else if e.sessions.is_empty() && e.next_from > e.ends {
            let span = Span { from: ("", e.ends.compact()), to: ("", e.next_from.compact()) };
            self.event(w, &format!("{key}-waiting"), &span, (&title, &message), Free::Free);
        }
    }
    fn event(&self, w: &mut Lines, key: &str, span: &Span, (title, message): (&str, &str), free: Free) {
        w.line("BEGIN", "VEVENT");
        // Unique in the world as far as title, seed and date make it; the same job gives the same ids again.
        let id = fingerprint(&[&self.plan.job().title, &self.plan.job().seed.0.to_string(), self.stamp]);
        w.line("UID", &format!("{id:016x}-{key}@frusta.invalid"));
        w.line("DTSTAMP", self.stamp);
        w.line(&format!("DTSTART{}", span.from.0), &span.from.1);
        w.line(&format!("DTEND{}", span.to.0), &span.to.1);
        w.text("SUMMARY", title);
        w.text("DESCRIPTION", message);
        w.line("TRANSP", if free == Free::Busy { "OPAQUE" } else { "TRANSPARENT" });
        if free == Free::Busy {
            w.line("BEGIN", "VALARM");
            w.line("ACTION", "DISPLAY");
            w.text("DESCRIPTION", title);
            w.line("TRIGGER", "-PT15M");
            w.line("END", "VALARM");
        }
        w.line("END", "VEVENT");
    }
}

fn cups(n: u32) -> String {
    if n == 1 { "1 cup".into() } else { format!("{n} cups") }
}

/// What to know while doing it: amounts, the window of the next step, cautions by their headings.
fn message(step: &StepPlan, e: &Entry) -> String {
    let mut lines = vec![cups(e.cups)];
    if e.abrade_first {
        lines.push("The recoat window was missed: wash and abrade first (time for it is planned).".into());
    }
    if let Some(product) = &step.product {
        lines.push(format!("with {product}"));
    }
    if let Some(b) = step.batches.iter().find(|b| b.cups == e.cups) {
        let m = &b.mix;
        lines.push(format!(
            "mix {}: A {} and B {} by volume, or A {:.1} and B {:.1} by weight",
            m.batch, m.a, m.b, m.a_weight, m.b_weight
        ));
    } else if let Some(g) = step.needs_weight {
        lines.push(format!("{} a cup", measures::weight(g)));
    }
    for g in step.glitters.iter().chain(&step.stirred) {
        lines.push(format!("{} of {} a cup, {}", measures::weight(g.weight), g.product, g.place));
    }
    if let Some(first) = step.served_by {
        lines.push(format!("from the batch of step {first}, at once"));
    }
    if step.pieces > 0 {
        lines.push(format!("{} pieces a cup", step.pieces));
    }
    lines.push(match e.next_until {
        Some(until) if matches!(step.kind, StepKind::Adhesive | StepKind::Glitter) => {
            format!("the glitter goes on while it is wet: until {until}")
        }
        Some(until) => format!("next step from {} to {until}; later: wash and abrade first", e.next_from),
        None => format!("next step from {}", e.next_from),
    });
    if !step.cautions.is_empty() {
        let heads: Vec<&str> = step.cautions.iter().map(|c| c.title).collect();
        lines.push(format!("Take care: {}. Data sheet and local rules first.", heads.join("; ")));
    }
    lines.join("\n")
}

/// FNV-1a, 64 bits (Fowler, Noll, Vo): only to tell jobs apart.
fn fingerprint(parts: &[&str]) -> u64 {
    let bytes = parts.iter().flat_map(|p| p.bytes().chain(std::iter::once(0)));
    fnv1a(bytes)
}

#[derive(Default)]
struct Lines {
    out: String,
}

impl Lines {
    /// A property whose value is no text.
    fn line(&mut self, name: &str, value: &str) {
        self.fold(&format!("{name}:{value}"));
    }
    /// A property whose value is text: backslash, comma, semicolon and line break are escaped.
    fn text(&mut self, name: &str, value: &str) {
        let mut clean = String::with_capacity(value.len());
        for c in value.chars() {
            match c {
                '\\' | ',' | ';' => clean.extend(['\\', c]),
                '\n' => clean.push_str("\\n"),
                c if c.is_control() => clean.push(' '),
                c => clean.push(c),
            }
        }
        self.line(name, &clean);
    }
    /// No line longer than 75 octets without its CR LF; what follows starts with a blank.
    fn fold(&mut self, line: &str) {
        let mut used = 0;
        for c in line.chars() {
            if used + c.len_utf8() > 75 {
                self.out.push_str("\r\n ");
                used = 1;
            }
            self.out.push(c);
            used += c.len_utf8();
        }
        self.out.push_str("\r\n");
    }
}
