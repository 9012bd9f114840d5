//! The physical size that the root element states, and the page that it shows.
//!
//! usvg reads `width="80 mm"` and `width="80Q"` as no size at all; here they are read as CSS Values and Units
//! means them, and the text given to usvg is mended so that both agree.
//!
//! Imports: base.

use crate::base::units::Mm;
use roxmltree::Node;

/// What the root says about size.
#[derive(Clone, Debug, PartialEq)]
pub struct StatedSize {
    /// Width and height, if both follow from physical units.
    pub physical: Option<(Mm, Mm)>,
    /// In words: the size, or why there is none.
    pub message: String,
    /// Does the root show a page of its own (width and height, or a view box)?
    pub page: bool,
    /// The text with width and height as usvg reads them, where they were written otherwise.
    pub mended: Option<String>,
}

enum Length {
    Absent,
    Physical(f64),
    Other,
    Unreadable,
}

fn length(text: Option<&str>) -> Length {
    let Some(text) = text.map(str::trim).filter(|t| !t.is_empty()) else { return Length::Absent };
    let unit_at = text
        .char_indices()
        .find(|(i, c)| {
            let exponent =
                matches!(c, 'e' | 'E') && text[i + 1..].starts_with(|d: char| d.is_ascii_digit() || d == '-');
            !(c.is_ascii_digit() || matches!(c, '.' | '+' | '-') || exponent)
        })
        .map_or(text.len(), |(i, _)| i);
    let Ok(number) = text[..unit_at].parse::<f64>() else { return Length::Unreadable };
    // CSS Values and Units 3, 6.2: 1 in = 2.54 cm = 72 pt = 6 pc; 1 Q = 1/40 cm.
    let mm = match text[unit_at..].trim().to_ascii_lowercase().as_str() {
        "mm" => 1.0,
        "cm" => 10.0,
        "in" => 25.4,
        "pt" => 25.4 / 72.0,
        "pc" => 25.4 / 6.0,
        "q" => 0.25,
        "" | "px" | "%" | "em" | "ex" | "rem" => return Length::Other,
        _ => return Length::Unreadable,
    };
    if number.is_finite() && number > 0.0 { Length::Physical(number * mm) } else { Length::Unreadable }
}

/// Width and height of the root's view box.
fn view_box(root: Node) -> Option<(f64, f64)> {
    let numbers: Vec<f64> = root
        .attribute("viewBox")?
        .split([' ', ',', '\t', '\n', '\r'])
        .filter(|s| !s.is_empty())
        .map(|s| s.parse().ok())
        .collect::<Option<_>>()?;
    (numbers.len() == 4 && numbers[2] > 0.0 && numbers[3] > 0.0).then(|| (numbers[2], numbers[3]))
}

/// Reads the root's size; `text` is what `root` was parsed from.
pub fn stated_size(root: Node, text: &str) -> StatedSize {
    let (w_text, h_text) = (root.attribute("width"), root.attribute("height"));
    let (w, h, vb) = (length(w_text), length(h_text), view_box(root));
    let physical = match (&w, &h, vb) {
        (Length::Physical(w), Length::Physical(h), _) => Some((*w, *h)),
        (Length::Physical(w), Length::Absent, Some((vw, vh))) => Some((*w, w * vh / vw)),
        (Length::Absent, Length::Physical(h), Some((vw, vh))) => Some((h * vw / vh, *h)),
        _ => None,
    };
    let quote =
        |name: &str, t: Option<&str>| t.map_or_else(|| format!("no {name}"), |t| format!("{name}=\"{t}\""));
    let message = match physical {
        Some((w, h)) => format!("{} x {}, as the file states", Mm(w), Mm(h)),
        None => format!(
            "no physical size ({}, {}): its numbers are not millimetres",
            quote("width", w_text),
            quote("height", h_text)
        ),
    };
    let plain = |t: Option<&str>| {
        t.is_some_and(|t| {
            ["mm", "cm", "in", "pt", "pc"]
                .iter()
                .any(|u| t.strip_suffix(u).is_some_and(|n| n.parse::<f64>().is_ok()))
        })
    };
    let mended =
        physical.filter(|_| !(plain(w_text) && plain(h_text))).map(|(w, h)| with_size(root, text, w, h));
    let sized = |l: &Length| matches!(l, Length::Physical(_) | Length::Other);
    let percent = |t: Option<&str>| t.is_some_and(|t| t.trim().ends_with('%'));
    let page = vb.is_some()
        || physical.is_some()
        || (sized(&w) && sized(&h) && !percent(w_text) && !percent(h_text));
    StatedSize { physical: physical.map(|(w, h)| (Mm(w), Mm(h))), message, page, mended }
}

/// The text with the root's width and height replaced.
fn with_size(root: Node, text: &str, w: f64, h: f64) -> String {
    let start = root.range().start;
    let name_end =
        text[start + 1..].find(|c: char| c.is_whitespace() || c == '>' || c == '/').unwrap_or(0) + start + 1;
    let mut cuts: Vec<std::ops::Range<usize>> = root
        .attributes()
        .filter(|a| a.namespace().is_none() && (a.name() == "width" || a.name() == "height"))
        .map(|a| a.range())
        .collect();
    cuts.sort_by_key(|r| r.start);
    let mut out = format!("{} width=\"{w}mm\" height=\"{h}mm\"", &text[..name_end]);
    let mut at = name_end;
    for cut in cuts {
        out += &text[at..cut.start];
        at = cut.end;
    }
    out + &text[at..]
}

#[cfg(test)]
mod tests {
    use super::*;

    fn size(root: &str) -> StatedSize {
        let text = format!("<svg xmlns='http://www.w3.org/2000/svg' {root}/>");
        let doc = roxmltree::Document::parse(&text).expect("xml");
        stated_size(doc.root_element(), &text)
    }

    /// Source: CSS Values and Units Level 3, 6.2 absolute lengths.
    #[test]
    fn every_physical_unit_is_read() {
        for (unit, want) in [
            ("25.4mm", 25.4),
            ("2.54cm", 25.4),
            ("1in", 25.4),
            ("72pt", 25.4),
            ("6pc", 25.4),
            ("101.6Q", 25.4),
            ("25.4 mm", 25.4),
            ("2.54e1mm", 25.4),
        ] {
            let s = size(&format!("width='{unit}' height='{unit}'"));
            approx::assert_relative_eq!(s.physical.expect(unit).0.0, want, max_relative = 1e-12);
        }
    }

    #[test]
    fn pixels_percent_and_nonsense_are_no_physical_size() {
        for none in [
            "width='24' height='24'",
            "width='24px' height='24px'",
            "width='100%' height='100%'",
            "",
            "width='3 furlongs' height='3mm'",
            "width='-3mm' height='3mm'",
        ] {
            assert_eq!(size(none).physical, None, "{none}");
        }
    }

    #[test]
    fn one_side_and_a_view_box_give_the_other() {
        let s = size("height='30mm' viewBox='0 0 200,100'");
        assert_eq!(s.physical, Some((Mm(60.0), Mm(30.0))));
        assert!(s.mended.expect("mended").contains("width=\"60mm\" height=\"30mm\""));
    }
}
