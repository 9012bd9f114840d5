//! What a job in inches says in inches too: lengths as a tape shows them, volumes in US fluid ounces, areas in square
//! inches, with the metric measure behind in brackets.
//!
//! Thickness of film and coats stays metric: packs and data sheets say it so, and a tape does not show it.
//!
//! Imports: base, write::ink::decimal.

use super::decimal::table_inch_in;
use crate::base::units::{LengthUnit, Ml, Mm};

/// Lengths from here on are said in inches.
const LEAST_MM: f64 = 1.0;
/// Shorter lengths are said in 32nds, longer ones in 16ths.
const FINE_MM: f64 = 50.0;
/// Volumes from here on are said in fluid ounces.
const LEAST_ML: f64 = 25.0;
/// Square centimetres in a square inch.
const CM2: f64 = 6.4516;
/// How far before a length the bar that it belongs to is named: printed bars are 100 mm, whatever the unit.
const BAR_BEFORE: usize = 24;

/// Text in a job's unit.
pub fn said(unit: LengthUnit, text: &str) -> String {
    match unit {
        LengthUnit::Mm => text.to_owned(),
        LengthUnit::In => in_inches(text),
    }
}

/// A page of HTML in a job's unit: its text, not its tags, styles, programs and files.
pub fn said_on_page(unit: LengthUnit, html: &str) -> String {
    if unit == LengthUnit::Mm {
        return html.to_owned();
    }
    const WHOLE: [(&str, &str); 4] =
        [("<style", "</style>"), ("<script", "</script>"), ("<code", "</code>"), ("<svg", "</svg>")];
    let (mut out, mut rest) = (String::with_capacity(html.len()), html);
    while let Some(open) = rest.find('<') {
        out.push_str(&in_inches(&rest[..open]));
        let tag = &rest[open..];
        let end = WHOLE.iter().find(|(from, _)| tag.starts_with(from)).map_or(">", |(_, to)| to);
        let close = tag.find(end).map_or(tag.len(), |i| i + end.len());
        out.push_str(&tag[..close]);
        rest = &tag[close..];
    }
    out.push_str(&in_inches(rest));
    out
}

/// A length on a drawing: to a tenth of a millimetre, or as a tape shows it.
pub fn length(unit: LengthUnit, v: Mm) -> String {
    match unit {
        LengthUnit::Mm => format!("{v:.1}"),
        LengthUnit::In => format!("{} in", table_inch_in(v, if v.0.abs() < FINE_MM { 32 } else { 16 })),
    }
}

/// A measure found in a text: its numbers, and where it ends.
struct Found<'t> {
    numbers: Vec<&'t str>,
    unit: &'static str,
    len: usize,
}

/// What is to be typed stands between backticks, and stays.
fn in_inches(text: &str) -> String {
    let parts = text.split('`').enumerate();
    parts.map(|(i, t)| if i % 2 == 0 { measures(t) } else { t.to_owned() }).collect::<Vec<_>>().join("`")
}

fn measures(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    let mut at = 0;
    while at < text.len() {
        let rest = &text[at..];
        let first = rest.as_bytes()[0];
        let begins = first.is_ascii_digit()
            && !text[..at].ends_with(|c: char| c.is_alphanumeric() || "./-#".contains(c));
        match begins.then(|| measure(rest)).flatten() {
            Some(found) => {
                let metric = &rest[..found.len];
                match converted(&found).filter(|_| !is_said(&text[..at], &rest[found.len..], metric)) {
                    Some(inches) => out.push_str(&format!("{inches} ({metric})")),
                    None => out.push_str(metric),
                }
                at += found.len;
            }
            None => {
                // A number that is no measure is passed over whole.
                let step = if first.is_ascii_digit() {
                    number(rest).map_or(1, str::len)
                } else {
                    rest.chars().next().map_or(1, char::len_utf8)
                };
                out.push_str(&rest[..step]);
                at += step;
            }
        }
    }
    out
}

fn number(text: &str) -> Option<&str> {
    let whole = text.bytes().take_while(u8::is_ascii_digit).count();
    let tail =
        text[whole..].strip_prefix('.').map_or(0, |t| t.bytes().take_while(u8::is_ascii_digit).count());
    let len = if tail > 0 { whole + 1 + tail } else { whole };
    (whole > 0).then(|| &text[..len])
}

/// `12.5 mm`, `300 x 200 mm`, `30 ml`, `4.1 cm2` with its sign for the square.
fn measure(text: &str) -> Option<Found<'_>> {
    let (mut numbers, mut len) = (Vec::new(), 0);
    loop {
        let n = number(&text[len..])?;
        numbers.push(n);
        len += n.len();
        match text[len..].strip_prefix(" x ") {
            Some(_) if number(&text[len + 3..]).is_some() => len += 3,
            _ => break,
        }
    }
    let unit = ["mm", "ml", "cm\u{b2}"].into_iter().find(|u| {
        let after = text[len..].strip_prefix(' ').and_then(|t| t.strip_prefix(u));
        after.is_some_and(|t| !t.starts_with(|c: char| c.is_alphanumeric() || "/\u{b2}\u{b3}-".contains(c)))
    })?;
    Some(Found { numbers, unit, len: len + 1 + unit.len() })
}

fn converted(found: &Found<'_>) -> Option<String> {
    let values: Vec<f64> = found.numbers.iter().map(|n| n.parse().ok()).collect::<Option<_>>()?;
    let most = values.iter().copied().fold(0.0, f64::max);
    match found.unit {
        "mm" if most >= LEAST_MM => {
            let parts = if most < FINE_MM { 32 } else { 16 };
            let all: Vec<String> = values.iter().map(|v| table_inch_in(Mm(*v), parts)).collect();
            Some(format!("{} in", all.join(" x ")))
        }
        "ml" if most >= LEAST_ML && values.len() == 1 => {
            let ounces = format!("{:.1}", most / Ml::US_FLUID_OUNCE.0);
            Some(format!("{} fl oz", ounces.trim_end_matches('0').trim_end_matches('.')))
        }
        "cm\u{b2}" if values.len() == 1 => Some(format!("{:.1} in\u{b2}", most / CM2)),
        _ => None,
    }
}

/// Is it said in inches already, or a bar's?
fn is_said(before: &str, after: &str, metric: &str) -> bool {
    let near: String = before.chars().rev().take(BAR_BEFORE).collect::<Vec<_>>().into_iter().rev().collect();
    let bracketed = before.ends_with("in (") || before.ends_with("oz (") || before.ends_with("in\u{b2} (");
    let followed =
        after.strip_prefix(" (").and_then(|t| t.split(')').next()).is_some_and(|t| t.ends_with(" in"));
    bracketed || followed || (metric == "100 mm" && near.to_lowercase().contains("bar"))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// By hand, and with a table of tape fractions.
    #[test]
    fn measures_are_said_as_a_tape_shows_them() {
        let cases = [
            ("a gap of 1.5 mm at the rim", "a gap of 1/16 in (1.5 mm) at the rim"),
            ("sheets, 203 x 152 mm", "sheets, 8 x 6 in (203 x 152 mm)"),
            ("wall 109.5 mm (4 5/16 in)", "wall 109.5 mm (4 5/16 in)"),
            ("0.75 in (19.05 mm)", "0.75 in (19.05 mm)"),
            ("0.08 mm thick", "0.08 mm thick"),
            ("its bar of 100 mm measures", "its bar of 100 mm measures"),
            ("bars that are not 100 mm: type", "bars that are not 100 mm: type"),
            ("write `gap = \"4 mm\"`, 8 mm", "write `gap = \"4 mm\"`, 5/16 in (8 mm)"),
            ("60 mm/s and 12 mm2", "60 mm/s and 12 mm2"),
            ("1 of 473.18 ml", "1 of 16 fl oz (473.18 ml)"),
            ("8.7 ml of resin over 231.3 cm\u{b2}", "8.7 ml of resin over 35.9 in\u{b2} (231.3 cm\u{b2})"),
            ("sheet-12 of 3; 173 mm", "sheet-12 of 3; 6 13/16 in (173 mm)"),
        ];
        for (from, to) in cases {
            assert_eq!(said(LengthUnit::In, from), to);
            assert_eq!(said(LengthUnit::Mm, from), from);
            // Said once, it stays.
            assert_eq!(said(LengthUnit::In, to), to);
        }
        let page = "<p style=\"width:20 mm\">20 mm</p><style>a { 20 mm }</style><svg>20 mm</svg>";
        let want = "<p style=\"width:20 mm\">25/32 in (20 mm)</p><style>a { 20 mm }</style><svg>20 mm</svg>";
        assert_eq!(said_on_page(LengthUnit::In, page), want);
    }
}
