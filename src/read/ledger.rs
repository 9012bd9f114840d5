//! A ledger: a text file that is only added to, one line a record, each numbered and summed.
//!
//! ```text
//! 17 2026-09-14T18:02:11Z take order=fair-2026 items=straw:roll:233000 5d1c09ae
//! ```
//! Number, time, verb, `key=value`, and the CRC-32 of all before it (ITU-T V.42, ISO 3309; the check value of the nine
//! digits is cbf43926). A last line that is not whole was being written when something stopped: it counts as never
//! written, and the next writer cuts it off. A line in the middle whose sum does not match was changed by hand: that is
//! a fault, with its place. Lines that begin with `#` are the maker's.
//!
//! Imports: base.

use crate::base::diag::{Code, Diagnostic, KeyPath};
use std::collections::BTreeMap;

/// A line in the middle that is not as it was written.
pub const CHANGED: Code = Code {
    id: "ledger/changed-line",
    title: "A line was changed since it was written",
    explain: "Each line of the file is numbered and ends in a sum of all before it, so that nothing is lost or doubled \
        unseen. This one does not match: it was edited, doubled or left out. `check --mend` writes what can be \
        trusted into a new file beside it; lines of your own begin with #.",
};

/// All codes of this module.
pub const CODES: &[&Code] = &[&CHANGED];

/// One record.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Line {
    /// From 1, rising by one.
    pub number: u64,
    /// When it was written, in UTC.
    pub when: String,
    /// What it says.
    pub verb: String,
    /// Of what.
    pub fields: BTreeMap<String, String>,
}

/// CRC-32 (ISO 3309, reflected, polynomial edb88320).
pub fn crc32(bytes: &[u8]) -> u32 {
    let one = |crc: u32, byte: &u8| {
        (0..8).fold(crc ^ u32::from(*byte), |c, _| if c & 1 == 1 { (c >> 1) ^ 0xedb8_8320 } else { c >> 1 })
    };
    !bytes.iter().fold(!0, one)
}

/// A value as it stands in a line: no spaces, no controls, nothing that ends a line.
fn escaped(value: &str) -> String {
    let mut out = String::new();
    for c in value.chars() {
        match c {
            '%' | '=' => out.push_str(&format!("%{:02X}", c as u32)),
            c if c.is_whitespace() || c.is_control() => {
                let mut utf8 = [0; 4];
                c.encode_utf8(&mut utf8).bytes().for_each(|b| out.push_str(&format!("%{b:02X}")));
            }
            c => out.push(c),
        }
    }
    out
}

fn unescaped(value: &str) -> Option<String> {
    let (mut out, mut rest) = (Vec::new(), value.as_bytes());
    while let [first, tail @ ..] = rest {
        rest = tail;
        if *first == b'%' {
            let hex = std::str::from_utf8(rest.get(..2)?).ok()?;
            out.push(u8::from_str_radix(hex, 16).ok()?);
            rest = &rest[2..];
        } else {
            out.push(*first);
        }
    }
    String::from_utf8(out).ok()
}

impl Line {
    /// A field.
    pub fn get(&self, key: &str) -> &str {
        self.fields.get(key).map_or("", String::as_str)
    }
    /// Its text, with its end.
    pub fn text(&self) -> String {
        let mut out = format!("{} {} {}", self.number, self.when, self.verb);
        for (key, value) in &self.fields {
            out.push_str(&format!(" {key}={}", escaped(value)));
        }
        let sum = crc32(out.as_bytes());
        format!("{out} {sum:08x}\n")
    }
    /// From a line's text, without its end.
    pub fn read(text: &str) -> Option<Line> {
        let (before, sum) = text.rsplit_once(' ')?;
        let matches = sum.len() == 8 && u32::from_str_radix(sum, 16).ok()? == crc32(before.as_bytes());
        let mut parts = before.split(' ');
        let number = parts.next()?.parse().ok()?;
        let (when, verb) = (parts.next()?.to_owned(), parts.next()?.to_owned());
        let field = |p: &str| {
            let (key, value) = p.split_once('=')?;
            Some((key.to_owned(), unescaped(value)?))
        };
        let fields: Option<BTreeMap<String, String>> = parts.map(field).collect();
        let line = Line { number, when, verb, fields: fields? };
        (matches && line.text().trim_end() == text).then_some(line)
    }
}

/// What a ledger's bytes hold.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Ledger {
    /// Its records, in order.
    pub lines: Vec<Line>,
    /// Bytes up to the end of the last whole line: what stands behind is a torn tail.
    pub whole: usize,
    /// Lines in the middle that cannot be trusted, by their place in the file, from 1.
    pub changed: Vec<usize>,
}

impl Ledger {
    /// Reads all bytes of a ledger.
    pub fn read(bytes: &[u8]) -> Ledger {
        let mut out = Ledger::default();
        let (mut at, mut place, mut sound_to) = (0, 0, 0);
        // What follows the last sound line is a torn tail; what a sound line follows is not.
        let mut doubtful = Vec::new();
        while at < bytes.len() {
            place += 1;
            let end = bytes[at..].iter().position(|b| *b == b'\n').map(|i| at + i);
            let text = std::str::from_utf8(&bytes[at..end.unwrap_or(bytes.len())]).ok();
            let ended = end.is_some();
            at = end.map_or(bytes.len(), |e| e + 1);
            let remark = text.is_some_and(|t| t.starts_with('#') || t.trim().is_empty());
            let next = out.lines.len() as u64 + 1 + out.changed.len() as u64 + doubtful.len() as u64;
            match text.filter(|_| ended).and_then(Line::read) {
                Some(line) if line.number == next => {
                    out.changed.append(&mut doubtful);
                    out.lines.push(line);
                    sound_to = at;
                }
                _ if remark && ended => sound_to = if doubtful.is_empty() { at } else { sound_to },
                _ => doubtful.push(place),
            }
        }
        // A record that has its end and no sound sum was changed, not torn: a tear leaves no end of a line, but for
        // zeros or rubbish in the block that the disk had not written.
        let tail = &bytes[sound_to..];
        let looks_whole = |line: &[u8]| {
            let text = std::str::from_utf8(line).unwrap_or_default();
            text.split(' ').count() >= 4 && text.split(' ').next_back().is_some_and(|s| s.len() == 8)
        };
        let ended = tail.iter().rposition(|b| *b == b'\n').map_or(&tail[..0], |i| &tail[..i]);
        if !ended.is_empty() && ended.split(|b| *b == b'\n').any(looks_whole) {
            out.changed.append(&mut doubtful);
            sound_to = bytes.len() - tail.iter().rev().position(|b| *b == b'\n').unwrap_or(0);
        }
        out.whole = sound_to;
        out
    }
    /// The faults of the lines that were changed.
    pub fn faults(&self, file: &str) -> Vec<Diagnostic> {
        let one = |place: &usize| {
            let message = format!("line {place} of {file} is not as it was written");
            Diagnostic::fault(&CHANGED, KeyPath::root(), message)
                .file(file)
                .help("put the line back as it was, or have `check --mend` write what can be trusted")
        };
        self.changed.iter().map(one).collect()
    }
    /// The next record.
    pub fn next(&self, when: &str, verb: &str, fields: &[(&str, String)]) -> Line {
        let number = (self.lines.len() + self.changed.len()) as u64 + 1;
        let fields = fields.iter().map(|(k, v)| ((*k).to_owned(), v.clone())).collect();
        Line { number, when: when.to_owned(), verb: verb.to_owned(), fields }
    }
    /// The record that was written under a key: asked again, it is not written twice.
    pub fn by_key(&self, key: &str) -> Option<&Line> {
        self.lines.iter().find(|l| !key.is_empty() && l.get("key") == key)
    }
    /// The records that can be trusted, numbered anew.
    pub fn mended(&self) -> String {
        let text = |(i, l): (usize, &Line)| Line { number: i as u64 + 1, ..l.clone() }.text();
        self.lines.iter().enumerate().map(text).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn ledger(n: usize) -> String {
        let mut all = Ledger::default();
        let mut text = String::new();
        for i in 0..n {
            let fields = [("film", format!("straw {i}=%")), ("length", "233".to_owned())];
            let line = all.next("2026-09-14T18:02:11Z", "take", &fields);
            text += &line.text();
            all.lines.push(line);
        }
        text
    }

    #[test]
    fn the_sum_is_the_standards() {
        // The check value that the catalogues of CRCs give for the ASCII digits 1 to 9.
        assert_eq!(crc32(b"123456789"), 0xcbf4_3926);
    }

    #[test]
    fn what_was_written_is_read() {
        let text = ledger(5);
        let read = Ledger::read(text.as_bytes());
        assert_eq!((read.lines.len(), read.whole, read.changed.len()), (5, text.len(), 0));
        assert_eq!(read.lines[2].get("film"), "straw 2=%");
    }

    #[test]
    fn remarks_of_the_maker_count_for_nothing() {
        let text = format!("# my shelf\n{}\n# bought too much\n", ledger(2));
        let read = Ledger::read(text.as_bytes());
        assert_eq!((read.lines.len(), read.whole), (2, text.len()));
    }

    #[test]
    fn a_line_edited_in_the_middle_is_told_with_its_place() {
        let text = ledger(5).replacen("233 ", "234 ", 1);
        let read = Ledger::read(text.as_bytes());
        assert_eq!((read.changed.clone(), read.lines.len()), (vec![1], 4));
        assert_eq!(Ledger::read(read.mended().as_bytes()).lines.len(), 4);
    }

    #[test]
    fn a_last_line_edited_by_hand_is_no_torn_tail() {
        let whole = ledger(5);
        let text =
            format!("{}{}", ledger(4), whole.lines().last().expect("five").replace("233", "234") + "\n");
        let read = Ledger::read(text.as_bytes());
        assert_eq!((read.changed, read.lines.len(), read.whole), (vec![5], 4, text.len()));
    }

    #[test]
    fn a_line_left_out_is_told() {
        let text: String =
            ledger(5).lines().filter(|l| !l.starts_with("3 ")).map(|l| format!("{l}\n")).collect();
        assert!(!Ledger::read(text.as_bytes()).changed.is_empty());
    }

    proptest! {
        /// A tail that is cut at any byte, or followed by zeros, loses the record that was being written alone.
        #[test]
        fn a_torn_tail_loses_itself_alone(n in 1usize..6, cut in 0usize..200, zeros in 0usize..40) {
            let (whole, last) = (ledger(n - 1), ledger(n));
            let cut = whole.len() + cut.min(last.len() - whole.len() - 1);
            let mut bytes = last.as_bytes()[..cut].to_vec();
            bytes.extend(vec![0; zeros]);
            let read = Ledger::read(&bytes);
            prop_assert_eq!((read.lines.len(), read.whole, read.changed.len()), (n - 1, whole.len(), 0));
        }

        /// Fields come back whatever stands in them.
        #[test]
        fn fields_come_back(value in "\\PC{0,20}|[ \n\t=%]{0,9}") {
            let line = Ledger::default().next("2026-09-14T18:02:11Z", "bring", &[("film", value.clone())]);
            let read = Line::read(line.text().trim_end_matches('\n'));
            prop_assert_eq!(read.as_ref().map(|l| l.get("film")), Some(value.as_str()));
        }

        /// No single byte that is changed in the middle goes unseen.
        #[test]
        fn no_byte_changes_unseen(at in 0usize..300, to in 33u8..126) {
            let mut bytes = ledger(6).into_bytes();
            let at = at % (bytes.len() / 2);
            if bytes[at] != to && bytes[at] != b'\n' {
                bytes[at] = to;
                let read = Ledger::read(&bytes);
                // A line that begins with # is the maker's; then the numbers show that one is missing.
                prop_assert!(!read.changed.is_empty() || read.lines.len() < 6);
            }
        }
    }
}
