//! Lines of source: the `Imports:` line of a header, small numbers, named constants.

use super::graph::{File, Graph};
use std::collections::BTreeMap;

/// Columns of a header line.
const WIDE: usize = 120;

/// What a file imports, in the words of its header: other floors by their rooms (`base` and `outline` as a
/// whole), own floors by what stands beside it, folders above by their door.
pub fn imports(graph: &Graph, file: &File) -> String {
    let order: Vec<&String> = graph.files[&Vec::new()].children.iter().collect();
    let mut groups: BTreeMap<(usize, String), Vec<(usize, String)>> = BTreeMap::new();
    for r in graph.references(file) {
        if r.to.starts_with(&file.module) {
            continue;
        }
        let common = file.module.iter().zip(&r.to).take_while(|(a, b)| a == b).count();
        let coarse = common == 0 && ["base", "outline"].contains(&r.to[0].as_str());
        let keep = if coarse { 1 } else { (common + 1).max(2) };
        let keep = keep.min(r.to.len());
        let (shown, parent) = (&r.to[..keep], &r.to[..keep - 1]);
        let floor = order.iter().position(|c| **c == shown[0]).unwrap_or(order.len());
        let place = graph.files[parent].children.iter().position(|c| *c == shown[keep - 1]).unwrap_or(0);
        let group = groups.entry((floor, parent.join("::"))).or_default();
        let entry = (place, shown[keep - 1].clone());
        if !group.contains(&entry) {
            group.push(entry);
        }
    }
    let mut words = Vec::new();
    for ((_, parent), mut group) in groups {
        group.sort();
        let names: Vec<String> = group.into_iter().map(|g| g.1).collect();
        words.push(match (parent.is_empty(), names.as_slice()) {
            (true, _) => names.join(", "),
            (false, [one]) => format!("{parent}::{one}"),
            (false, _) => format!("{parent}::{{{}}}", names.join(", ")),
        });
    }
    if words.is_empty() { "none.".into() } else { format!("{}.", words.join(", ")) }
}

/// What the header says, its lines joined.
pub fn stated(text: &str) -> Option<String> {
    let header: Vec<&str> = text.lines().take_while(|l| l.starts_with("//!")).collect();
    let from = header.iter().position(|l| l.starts_with("//! Imports:"))?;
    let said = header[from..].iter().map(|l| l.trim_start_matches("//!").trim());
    let said: Vec<&str> = said.take_while(|l| !l.is_empty()).collect();
    Some(said.join(" ").trim_start_matches("Imports:").trim().to_owned())
}

/// The text with that `Imports:` line in its header.
pub fn blessed(text: &str, want: &str) -> String {
    let lines: Vec<&str> = text.lines().collect();
    let header = lines.iter().take_while(|l| l.starts_with("//!")).count();
    let from = lines[..header].iter().position(|l| l.starts_with("//! Imports:")).unwrap_or(header);
    let until = (from..header).find(|i| lines[*i].trim() == "//!").unwrap_or(header);
    let mut out: Vec<String> = lines[..from].iter().map(|l| (*l).to_owned()).collect();
    if from == header && header > 0 {
        out.push("//!".into());
    }
    let mut line = String::from("//! Imports:");
    for word in want.split(' ') {
        if line.len() + 1 + word.len() > WIDE {
            out.push(std::mem::replace(&mut line, "//!".into()));
        }
        line.push(' ');
        line.push_str(word);
    }
    out.push(line);
    out.extend(lines[until..].iter().map(|l| (*l).to_owned()));
    out.join("\n") + "\n"
}

/// The source before its `#[cfg(test)] mod tests {`.
pub fn before_tests(text: &str) -> &str {
    let begins = |i: &usize| {
        text[*i..]
            .lines()
            .nth(1)
            .is_some_and(|l| (l.starts_with("mod ") || l.contains(" mod ")) && l.ends_with('{'))
    };
    text.match_indices("#[cfg(test)]\n").map(|m| m.0).find(begins).map_or(text, |i| &text[..i])
}

/// Is there a literal below a thousandth in it?
pub fn small_number(code: &str) -> bool {
    let bytes = code.as_bytes();
    let mut i = 0;
    while i < bytes.len() {
        let starts = bytes[i].is_ascii_digit()
            && (i == 0
                || !(bytes[i - 1].is_ascii_alphanumeric() || bytes[i - 1] == b'_' || bytes[i - 1] == b'.'));
        if !starts {
            i += 1;
            continue;
        }
        let from = i;
        while i < bytes.len()
            && (bytes[i].is_ascii_alphanumeric()
                || bytes[i] == b'_'
                || (bytes[i] == b'.' && bytes.get(i + 1).is_some_and(u8::is_ascii_digit))
                || (bytes[i] == b'-' && bytes[i - 1] == b'e'))
        {
            i += 1;
        }
        let literal = code[from..i].replace('_', "");
        let value: f64 = literal.trim_end_matches("f64").trim_end_matches("f32").parse().unwrap_or(1.0);
        if value > 0.0 && value < 1e-3 {
            return true;
        }
    }
    false
}

/// Does the line declare a constant that a doc comment explains?
pub fn named_constant(source: &str, line: usize) -> bool {
    let lines: Vec<&str> = source.lines().collect();
    let code = lines[line].trim_start();
    let is = |l: &str| {
        let l = l.trim_start();
        let l = l
            .strip_prefix("pub(crate) ")
            .or(l.strip_prefix("pub(super) "))
            .or(l.strip_prefix("pub "))
            .unwrap_or(l);
        l.starts_with("const ") && !l.starts_with("const fn")
    };
    is(code) && line > 0 && lines[line - 1].trim_start().starts_with("///")
}

#[test]
fn small_numbers_are_seen() {
    for code in ["x < 1e-9", "0.000_5 * y", "f(1.5e-4)", "1e-12f64"] {
        assert!(small_number(code), "{code}");
    }
    for code in ["x < 1e-3", "a1e-9", "0.0", "1e9", "x.0e", "0.001"] {
        assert!(!small_number(code), "{code}");
    }
    assert!(named_constant("/// Why.\nconst E: f64 = 1e-9;", 1) && !named_constant("let e = 1e-9;", 0));
}
