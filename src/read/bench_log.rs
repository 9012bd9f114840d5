//! The bench log: what steps took, what cups weighed, what was used, spoilt and lost, one line each, in a text file that
//! a spreadsheet opens.
//!
//! ```text
//! when,event,job,number,step,product,cups,pieces,actual,usual,unit,note
//! 2026-09-01T18:05:00+02:00,work,Golden marrow,8,clear coat,build resin,2,0,31,28,min,
//! ```
//! A line holds all that is to be learned from it: what it was, and what common practice would have been. What is not
//! understood is told and left out; a line that was cut short loses itself alone.
//!
//! Imports: base, read::{source, job, names}.

use super::names::table::records;
use super::source::{Missing, Source};
use crate::base::diag::{Code, Diagnostic, Diagnostics, ErrorGuaranteed, KeyPath};
pub use crate::read::job::finish::Event;
use crate::read::job::finish::StepKind;
use crate::read::job::keys::Worded;

/// First line of a log.
pub const HEAD: &str = "when,event,job,number,step,product,cups,pieces,actual,usual,unit,note";
/// Largest log that is read.
pub const LARGEST: u64 = 8 << 20;

/// The log is not there.
pub const NO_LOG: Code = Code {
    id: "log/missing",
    title: "a bench log cannot be read",
    explain: "finish.log names files beside the job that `frusta log` writes. Copy the log of an earlier job beside this \
        one, or take it out.",
};
/// A line of it.
pub const LINE: Code = Code {
    id: "log/line",
    title: "a line of a bench log is left out",
    explain: "Each line of a bench log says what was done and what it took, in the columns of its first line. A line \
        that is cut short (the machine was switched off) or was changed by hand into something else is left out; all \
        others count. Mend or delete it.",
};

/// Codes of this module.
pub const CODES: &[&Code] = &[&NO_LOG, &LINE];

/// One line.
#[derive(Clone, Debug, PartialEq)]
pub struct Entry {
    /// When it was written, RFC 3339.
    pub when: String,
    /// What it tells.
    pub event: Event,
    /// The job's title.
    pub job: String,
    /// The step's number in that job; 0: of no step.
    pub number: usize,
    /// What was done.
    pub step: Option<StepKind>,
    /// With which product.
    pub product: String,
    /// On how many cups.
    pub cups: u32,
    /// Pieces of film on each.
    pub pieces: u32,
    /// What it took, in `unit`.
    pub actual: f64,
    /// What common practice takes.
    pub usual: f64,
    /// Of what.
    pub unit: &'static str,
    /// The maker's own words.
    pub note: String,
}

/// The unit of what an event tells.
pub fn unit(event: Event) -> &'static str {
    match event {
        Event::Start => "",
        Event::Work => "min",
        Event::Weighed => "g",
        Event::Used => "ml",
        Event::Spoilt => "pieces",
        Event::Lost => "cups",
    }
}

/// A field as RFC 4180 writes it; what would break a line does not.
fn field(text: &str) -> String {
    let flat: String = text.chars().map(|c| if c.is_control() { ' ' } else { c }).collect();
    // A spreadsheet takes what begins like this for a formula.
    let risky = flat.starts_with(['=', '+', '-', '@']);
    let safe = if risky { format!("'{flat}") } else { flat };
    if safe.contains([',', '"', ';']) { format!("\"{}\"", safe.replace('"', "\"\"")) } else { safe }
}

/// A number with at most three decimals.
fn plain(v: f64) -> String {
    crate::base::units::without_trailing_zeros(&format!("{v:.3}")).to_owned()
}

impl Entry {
    /// Its line, without an end.
    pub fn line(&self) -> String {
        let fields = [
            self.when.clone(),
            self.event.word().to_owned(),
            field(&self.job),
            self.number.to_string(),
            self.step.map_or(String::new(), |s| s.word().to_owned()),
            field(&self.product),
            self.cups.to_string(),
            self.pieces.to_string(),
            plain(self.actual),
            plain(self.usual),
            self.unit.to_owned(),
            field(&self.note),
        ];
        fields.join(",")
    }
    fn of(fields: &[String]) -> Result<Entry, &'static str> {
        let [when, event, job, number, step, product, cups, pieces, actual, usual, unit, note] = fields
        else {
            return Err("it has not twelve fields");
        };
        let event = word::<Event>(event).ok_or("its event is none that is known")?;
        let step = word::<StepKind>(step);
        let count = |t: &String| t.trim().parse::<u32>().map_err(|_| "a count is no whole number");
        // Spreadsheets of some countries write a decimal comma.
        let number_of = |t: &String| {
            let n: f64 = t.trim().replace(',', ".").parse().map_err(|_| "an amount is no number")?;
            if n.is_finite() && (0.0..=1e7).contains(&n) { Ok(n) } else { Err("an amount is out of reach") }
        };
        if unit.trim() != self::unit(event) {
            return Err("its unit is not that of its event");
        }
        let entry = Entry {
            when: when.clone(),
            event,
            job: job.clone(),
            number: count(number)? as usize,
            step,
            product: product.clone(),
            cups: count(cups)?,
            pieces: count(pieces)?,
            actual: number_of(actual)?,
            usual: number_of(usual)?,
            unit: self::unit(event),
            note: note.clone(),
        };
        let ratio = matches!(event, Event::Work | Event::Weighed | Event::Used);
        if ratio && (entry.actual <= 0.0 || entry.usual <= 0.0) {
            return Err("an amount is nothing");
        }
        if ratio && step.is_none() {
            return Err("its step is none that is known");
        }
        if matches!(event, Event::Spoilt | Event::Lost) && entry.actual > entry.usual {
            return Err("more was lost than there was");
        }
        Ok(entry)
    }
}

fn word<T: Worded>(text: &str) -> Option<T> {
    T::WORDS.iter().find(|(w, _)| *w == text.trim()).map(|(_, v)| *v)
}

/// All lines of a log, and what is wrong with which.
pub fn entries(text: &str) -> (Vec<Entry>, Vec<(usize, String)>) {
    let (mut out, mut wrong) = (Vec::new(), Vec::new());
    for (i, line) in text.trim_start_matches('\u{feff}').lines().enumerate() {
        // Each line by itself: one that was cut short, were it the first, tells nothing of how the others are written.
        let (all, torn) = records(line);
        wrong.extend(torn.into_iter().map(|t| (i + 1, t.message)));
        for r in all.iter().filter(|r| r.fields.first().is_none_or(|f| f != "when")) {
            match Entry::of(&r.fields) {
                Ok(e) => out.push(e),
                Err(why) => wrong.push((i + 1, why.to_owned())),
            }
        }
    }
    wrong.sort();
    (out, wrong)
}

/// Reads the logs that a job names; what is wrong with a line is a note.
///
/// # Errors
/// A log is not there, or is no text.
pub fn read(
    names: &[String],
    source: &dyn Source,
    diagnostics: &mut Diagnostics,
) -> Result<Vec<Entry>, ErrorGuaranteed> {
    let (mut out, mut failed) = (Vec::new(), None);
    for (i, name) in names.iter().enumerate() {
        let at = KeyPath::of("finish.log").index(i);
        let text = source
            .bytes(name, LARGEST)
            .and_then(|b| String::from_utf8(b).map_err(|_| Missing { why: "it is no text in UTF-8".into() }));
        match text {
            Ok(text) => {
                let (entries, wrong) = entries(&text);
                out.extend(entries);
                for (line, why) in wrong {
                    let message = format!("line {line} of {name} is left out: {why}");
                    diagnostics.push(
                        Diagnostic::note(&LINE, at.clone(), message).help("mend the line, or delete it"),
                    );
                }
            }
            Err(missing) => {
                let d = Diagnostic::fault(&NO_LOG, at, format!("{name} cannot be read"));
                let help = "copy the log beside the job, or take it out of finish.log";
                failed = Some(diagnostics.push(d.measured(missing.why).help(help)));
            }
        }
    }
    failed.map_or(Ok(out), Err)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn entry(note: &str, actual: f64) -> Entry {
        Entry {
            when: "2026-09-01T18:05:00+02:00".into(),
            event: Event::Work,
            job: "Zo\u{eb}, \"best\"".into(),
            number: 8,
            step: Some(StepKind::Clear),
            product: "build resin".into(),
            cups: 2,
            pieces: 0,
            actual,
            usual: 28.0,
            unit: "min",
            note: note.into(),
        }
    }

    proptest! {
        #[test]
        fn a_line_comes_back_as_it_was(note in "[a-zA-Z0-9 ,;\"'.]{0,20}", actual in 0.1..9000.0f64) {
            let e = entry(note.trim(), (actual * 1000.0).round() / 1000.0);
            let (got, wrong) = entries(&format!("{HEAD}\n{}\n", e.line()));
            prop_assert!(wrong.is_empty(), "{wrong:?}");
            prop_assert_eq!(&got[0], &e);
        }

        /// Cut off anywhere, a log loses at most the line that was cut.
        #[test]
        fn a_log_that_is_cut_off_loses_its_last_line_at_most(cut in 0.0..1.0f64, quoted in any::<bool>()) {
            let note = if quoted { "a, \"b\"" } else { "plain" };
            let lines: Vec<String> = (1..=6).map(|i| entry(note, f64::from(i)).line()).collect();
            let text = format!("{HEAD}\n{}\n", lines.join("\n"));
            let mut end = (cut * text.len() as f64) as usize;
            while !text.is_char_boundary(end) {
                end -= 1;
            }
            let whole = text[..end].matches('\n').count().saturating_sub(1);
            // The next entry begins on a line of its own.
            let again = format!("{}\n{}\n", &text[..end], entry("after", 7.0).line());
            let (got, wrong) = entries(&again);
            prop_assert!(got.len() > whole && wrong.len() <= 1, "{got:?} {wrong:?}");
            let kept: Vec<f64> = got.iter().map(|e| e.actual).collect();
            for i in 1..=whole {
                prop_assert!(kept.contains(&(i as f64)));
            }
            prop_assert!(kept.contains(&7.0));
        }
    }

    /// Found by the property above: cut off within its first line, a log lost all that was added later.
    #[test]
    fn case_1_a_head_that_is_cut_off_loses_nothing_after_it() {
        for head in ["w", "when,ev", "\u{feff}when"] {
            let (got, wrong) = entries(&format!("{head}\n{}\n", entry("after", 7.0).line()));
            assert!(got.len() == 1 && wrong.len() <= 1, "{head}: {wrong:?}");
        }
    }

    #[test]
    fn formulas_of_spreadsheets_stay_words() {
        assert!(entry("=1+1", 3.0).line().ends_with(",'=1+1"));
    }
}
