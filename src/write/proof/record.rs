//! Approvals as they are kept: a text file to which lines are only added.
//!
//! Imports: base, make::verify, write::proof::{seen, changes, code}.

use super::changes::changes;
use super::code;
use super::seen::{fingerprint, hex, seen};
use crate::base::diag::{Code, Diagnostic, KeyPath, undisturbed};
use crate::make::verify::Verified;

/// Something the customer has not approved.
pub const NOT_APPROVED: Code = Code {
    id: "order/not-approved",
    title: "The customer has not approved what would be made",
    explain: "`order.approved` names the file in which `frusta approve` keeps what customers approved. What would be made \
        now looks otherwise, or nothing was approved yet: nothing is written. What is not seen (sheets, spares, stock, \
        prices) never matters. Make a proof without that key, have it approved, and record its code.",
};

/// What begins an approval, and what stands before each line of the text that was approved.
const HEAD: &str = "approved ";
const LINE: &str = "> ";

/// The lines of an approval, to be added to the file; the day and who, as the maker says them.
pub fn entry(text: &str, when: &str, by: &str) -> String {
    let print = fingerprint(text);
    let by: String = by.chars().map(|c| if c.is_control() { ' ' } else { c }).collect();
    let mut out = format!("{HEAD}{when} code {} sha256 {} by {by}\n", code::of(&print), hex(&print));
    for line in text.lines() {
        out += &format!("{LINE}{line}\n");
    }
    out
}

/// The text that was approved last, and the line that says so; none if there is none that is whole.
pub fn last(record: &str) -> Option<(String, String)> {
    let mut found: Option<(String, String)> = None;
    let mut now: Option<(String, String)> = None;
    for line in record.lines().chain([HEAD]) {
        if line.starts_with(HEAD) || line == HEAD {
            // A text that does not have the sum of its line was torn or changed: it approves nothing.
            let whole = |(head, text): &(String, String)| head.contains(&hex(&fingerprint(text)));
            found = now.take().filter(whole).or(found);
            now = Some((line.to_owned(), String::new()));
        } else if let (Some((_, text)), Some(l)) = (&mut now, line.strip_prefix(LINE.trim_end())) {
            text.push_str(l.strip_prefix(' ').unwrap_or(l));
            text.push('\n');
        }
    }
    found
}

/// What the customer has not approved of a plan; nothing if all of it is.
pub fn missing(plan: &Verified, record: Option<&str>) -> Vec<Diagnostic> {
    let at = KeyPath::of("order.approved");
    let now = seen(plan);
    let fault =
        |message: String, help: &str| Diagnostic::fault(&NOT_APPROVED, at.clone(), message).help(help);
    let Some((_, was)) = record.and_then(last) else {
        return vec![fault(
            "nothing was approved yet".into(),
            "make a proof without `approved`, and record its code with `frusta approve`",
        )];
    };
    if was == now {
        return Vec::new();
    }
    let list = changes(&was, &now);
    if list.is_empty() {
        let help = "make the proof again and have it approved";
        return vec![fault("what would be made is written otherwise than what was approved".into(), help)];
    }
    let help = "have it approved, or put it back";
    list.into_iter().map(|c| fault(undisturbed(&c), help)).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_last_whole_approval_counts() {
        let (a, b) = ("one\n\nthree\n", "two\n");
        let record = entry(a, "2026-09-01", "R. Webb") + &entry(b, "2026-09-02", "R. Webb");
        assert_eq!(last(&record).map(|l| l.1), Some(b.to_owned()));
        assert_eq!(last(&entry(a, "2026-09-01", "x")).map(|l| l.1), Some(a.to_owned()));
        let torn = &record[..record.len() - 3];
        assert_eq!(last(torn).map(|l| l.1), Some(a.to_owned()));
        assert_eq!(last(&record.replace("> two", "> too")).map(|l| l.1), Some(a.to_owned()));
        assert_eq!(last("anything"), None);
    }
}
