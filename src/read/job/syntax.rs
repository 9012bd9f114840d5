//! What is no TOML, said so that it helps: the bracket that was opened and never closed, a decimal comma, a
//! word without quotes; and what of the other findings only came of it.
//!
//! Imports: base, read::job::{codes, document}.

use super::codes;
use super::document::{Places, line_column};
use crate::base::diag::{Diagnostic, Diagnostics, KeyPath};

/// Slips of syntax of one text.
#[derive(Debug, Default)]
pub(super) struct Slips {
    /// Where a bracket opens that is never closed: what stands after it cannot be told from what stands in
    /// it.
    unclosed: Option<usize>,
    /// Lines with a slip, from 1.
    lines: Vec<usize>,
}

/// Reports slips of syntax, each at its place; a run of them on one line is one slip.
pub(super) fn report(text: &str, slips: &[toml::de::Error], diagnostics: &mut Diagnostics) -> Slips {
    let mut out = Slips::default();
    let Some(first) = slips.iter().filter_map(toml::de::Error::span).map(|s| s.start).min() else {
        // Without a place, whatever it is.
        slips.iter().for_each(|s| drop_in(text, s, diagnostics));
        return out;
    };
    out.unclosed = unclosed(text).filter(|at| *at <= first);
    if let Some(at) = out.unclosed {
        let (open, close, what) = match &text[at..=at] {
            "[" => ('[', ']', "list"),
            _ => ('{', '}', "table"),
        };
        diagnostics.push(
            Diagnostic::fault(&codes::SYNTAX, KeyPath::root(), format!("this `{open}` is never closed"))
                .help(format!("write `{close}` where the {what} ends"))
                .bytes(at..at + 1),
        );
    }
    for slip in slips.iter().take(50) {
        let start = slip.span().map_or(text.len(), |s| s.start);
        let line = line_column(text, start).line;
        if out.unclosed.is_some_and(|at| start >= at) || out.lines.contains(&line) {
            continue;
        }
        out.lines.push(line);
        drop_in(text, slip, diagnostics);
    }
    out
}

/// Adds one slip with what helps.
fn drop_in(text: &str, slip: &toml::de::Error, diagnostics: &mut Diagnostics) {
    let span = slip.span().unwrap_or(text.len()..text.len());
    let (message, help, bytes) = match comma(text, span.start) {
        Some((at, number)) => (
            "a decimal comma is no part of a number".to_owned(),
            format!("write `{}`", number.replace(',', ".")),
            at..at + number.len(),
        ),
        None => {
            let word = unquoted(text, span.start).filter(|_| slip.message().contains("quoted"));
            let help = match word {
                Some(word) => format!("put it in quotes: \"{word}\""),
                None => "look at this place and just before it".to_owned(),
            };
            (format!("this is not TOML: {}", slip.message()), help, span)
        }
    };
    let d = Diagnostic::fault(&codes::SYNTAX, KeyPath::root(), message);
    diagnostics.push(d.help(help).bytes(bytes));
}

impl Slips {
    /// Did this finding come of a slip: on its line, or behind a bracket that is never closed?
    pub(super) fn explain(&self, d: &Diagnostic, text: &str, places: &Places) -> bool {
        if d.code.id == codes::SYNTAX.id {
            return false;
        }
        let start = d.bytes.clone().unwrap_or_else(|| places.locate(&d.at)).start;
        self.unclosed.is_some_and(|at| start >= at) || self.lines.contains(&line_column(text, start).line)
    }
}

/// A number with a decimal comma on the line of a slip, as the value of a key: its place and its text.
fn comma(text: &str, at: usize) -> Option<(usize, &str)> {
    let at = (0..=at.min(text.len())).rev().find(|i| text.is_char_boundary(*i))?;
    let from = text[..at].rfind('\n').map_or(0, |n| n + 1);
    let until = text[from..].find('\n').map_or(text.len(), |n| from + n);
    let line = &text[from..until];
    for (i, _) in line.match_indices('=') {
        let value = line[i + 1..].trim_start();
        let start = from + line.len() - value.len() - (line.len() - line[i + 1..].len() - (i + 1));
        let whole = value.trim_start_matches('-').bytes().take_while(u8::is_ascii_digit).count();
        let sign = value.len() - value.trim_start_matches('-').len();
        let rest = &value[sign + whole..];
        let decimals = rest.strip_prefix(',').map_or(0, |r| r.bytes().take_while(u8::is_ascii_digit).count());
        let end = rest.get(1 + decimals..).and_then(|r| r.chars().next());
        // `{ a = 16, b = 5 }` has a blank or a letter behind the comma, and a key may not follow the digits.
        let key_follows = rest.get(1 + decimals..).is_some_and(|r| r.trim_start().starts_with('='));
        if whole > 0 && decimals > 0 && !key_follows && end.is_none_or(|c| !c.is_alphanumeric()) {
            return Some((start, &text[start..start + sign + whole + 1 + decimals]));
        }
    }
    None
}

/// The bare word at a place.
fn unquoted(text: &str, at: usize) -> Option<&str> {
    let rest = text.get(at..)?;
    let end = rest.find(|c: char| c.is_whitespace() || ",]}#\"".contains(c)).unwrap_or(rest.len());
    Some(&rest[..end]).filter(|w| !w.is_empty() && w.len() <= 60)
}

/// Where a bracket of a value opens that is not closed before the next key or heading begins.
fn unclosed(text: &str) -> Option<usize> {
    let bytes = text.as_bytes();
    let mut open: Vec<usize> = Vec::new();
    let (mut i, mut line_start) = (0, true);
    while i < bytes.len() {
        if line_start {
            let line = text[i..].lines().next().unwrap_or_default();
            match open.last() {
                // A heading's brackets are no value's.
                None if line.trim_start().starts_with('[') => {
                    i += line.len();
                    line_start = false;
                    continue;
                }
                Some(at) if begins_anew(line, bytes[*at]) => return Some(*at),
                _ => {}
            }
        }
        line_start = bytes[i] == b'\n';
        match bytes[i] {
            b'#' => i += text[i..].find('\n').unwrap_or(text.len() - i).max(1) - 1,
            b'"' | b'\'' => i = after_string(text, i) - 1,
            b'[' | b'{' => open.push(i),
            b']' | b'}' => {
                open.pop();
            }
            _ => {}
        }
        // A comment or a string may have run to the end of its line.
        i += 1;
    }
    open.last().copied()
}

/// The byte after a string that begins here; strings of one line end with it at the latest.
fn after_string(text: &str, at: usize) -> usize {
    let quote = &text[at..=at];
    let triple = quote.repeat(3);
    if text[at..].starts_with(&triple) {
        return text[at + 3..].find(&triple).map_or(text.len(), |n| at + 3 + n + 3);
    }
    let mut escaped = false;
    for (n, c) in text[at + 1..].char_indices() {
        match c {
            '\n' => return at + 1 + n,
            '\\' if quote == "\"" && !escaped => {
                escaped = true;
                continue;
            }
            c if c.to_string() == quote && !escaped => return at + 1 + n + 1,
            _ => {}
        }
        escaped = false;
    }
    text.len()
}

/// Does a line begin a key or a heading, which cannot stand in a list (nor a heading in a table)?
fn begins_anew(line: &str, within: u8) -> bool {
    let line = line.split('#').next().unwrap_or_default().trim();
    let bare = |w: &str| {
        !w.is_empty()
            && w.chars().all(|c| c.is_alphanumeric() || "-_.".contains(c))
            && !w.starts_with(|c: char| c.is_ascii_digit())
    };
    let heading = line
        .strip_prefix('[')
        .and_then(|l| l.strip_suffix(']'))
        .map(|l| l.strip_prefix('[').and_then(|l| l.strip_suffix(']')).unwrap_or(l));
    if heading.is_some_and(|h| bare(h.trim()) && !["true", "false", "inf", "nan"].contains(&h.trim())) {
        return true;
    }
    let key = line.split_once('=').map(|(k, _)| k.trim());
    within == b'[' && key.is_some_and(bare)
        || within == b'{' && key.is_some_and(bare) && !line.ends_with(['}', ','])
}

#[cfg(test)]
mod tests {
    use super::super::read_job;
    use super::unclosed;
    use proptest::prelude::*;

    const JOB: &str = "[cup]\nrings = [\n  { up = 0, girth = 207.3 }, # low\n  { up = 165, girth = 270.2 \
        },\n]\nwall = 165\nkeep-clear = { rim = 20, base = 6 }\n[[film]]\nname = \"white [\"\nsheet = [300, \
        200]\n[[accent]]\nfamilies = [\"pebble\", \"drop\"]\nsmallest = 3\nlargest = 9\ngap = 1.5\n";

    fn faults(text: &str) -> Vec<(String, String, usize)> {
        let read = read_job(text);
        let at = |d: &crate::Diagnostic| read.bytes_of(d).start;
        read.diagnostics
            .iter()
            .filter(|d| d.severity == crate::Severity::Fault)
            .map(|d| (d.message.clone(), d.help.clone(), at(d)))
            .collect()
    }

    /// Each bracket of a job taken away in turn gives one fault, at the bracket that it belongs to.
    #[test]
    fn case_1_a_missing_bracket_is_one_fault_where_it_was_opened() {
        let name_of = |text: &str| text.replace("white [", "white");
        for (opened, closed) in [
            ("rings = [", "},\n]\nwall"),
            ("sheet = [", "]\n[[accent]]"),
            ("families = [", "]\nsmallest"),
            ("clear = {", "}\n[[film]]"),
        ] {
            let text = name_of(JOB);
            let at = text.find(closed).expect("it stands there");
            let cut = at
                + closed
                    .find([']', '}'])
                    .map(|n| if closed.starts_with("},") { closed.find(']').unwrap_or(n) } else { n })
                    .expect("a bracket");
            let torn = format!("{}{}", &text[..cut], &text[cut + 1..]);
            let got = faults(&torn);
            assert_eq!(got.len(), 1, "{opened}: {got:?}");
            let bracket = torn.find(opened).expect("it stands there") + opened.len() - 1;
            assert_eq!((got[0].2, got[0].0.contains("never closed")), (bracket, true), "{opened}: {got:?}");
        }
    }

    #[test]
    fn case_2_a_decimal_comma_is_told_as_one() {
        let text = "[cup]\ndiameters = { rim = 86, base = 66, height = 16,5 }\n";
        let got = faults(text);
        assert_eq!((got.len(), got[0].1.as_str()), (1, "write `16.5`"), "{got:?}");
        assert_eq!(&text[got[0].2..got[0].2 + 4], "16,5");
        let got = faults("[cup]\ndiameters = { rim = 86, base = 66, height = 165 }\ntape = 0,5\n");
        assert_eq!((got.len(), got[0].1.as_str()), (1, "write `0.5`"), "{got:?}");
    }

    #[test]
    fn case_3_a_word_without_quotes_is_shown_with_them() {
        let got = faults(
            "[cup]\ndiameters = { rim = 86, base = 66, height = 165 }\n[[film]]\nname = white\nsheet = \
                [300, 200]\n",
        );
        assert_eq!((got.len(), got[0].1.as_str()), (1, "put it in quotes: \"white\""), "{got:?}");
    }

    #[test]
    fn whole_jobs_have_no_open_bracket() {
        assert_eq!(unclosed(JOB), None);
        for job in
            ["demo-data/harvest-fair/job.toml", "demo-data/first-cup/job.toml", "examples/every-key.toml"]
        {
            let path = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join(job);
            assert_eq!(unclosed(&std::fs::read_to_string(path).expect("a job")), None, "{job}");
        }
    }

    proptest! {
        #[test]
        fn no_text_panics(text in "[\\[\\]{}=,\"'#a-c0-2\n\\\\ é]{0,60}") {
            let _ = unclosed(&text);
            let _ = read_job(&text);
        }
    }
}
