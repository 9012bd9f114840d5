//! Lengths, angles and volumes as makers write them: `3 1/2 in`, `8.9 cm`, `3-1/2"`, `20 fl oz`.
//!
//! Imports: base.

use crate::base::units::{Angle, LengthUnit, Ml, Mm};

/// A number and what follows it.
#[derive(Clone, Debug, PartialEq)]
struct Written<'t> {
    value: f64,
    unit: &'t str,
}

/// Millimetres in one of each unit that a length may have. Sources: an inch is 25.4 mm, a foot 12 inches, a
/// yard 36 inches (international yard and pound agreement of 1959).
const LENGTHS: &[(&[&str], f64)] = &[
    (&["mm", "millimetre", "millimetres", "millimeter", "millimeters"], 1.0),
    (&["cm", "centimetre", "centimetres", "centimeter", "centimeters"], 10.0),
    (&["m", "metre", "metres", "meter", "meters"], 1000.0),
    (&["in", "in.", "inch", "inches", "\"", "\u{2033}", "\u{201d}", "''"], 25.4),
    (&["ft", "foot", "feet"], 304.8),
    (&["yd", "yard", "yards"], 914.4),
    (&["mil", "mils", "thou"], 0.0254),
    (&["um", "\u{b5}m", "\u{3bc}m", "micron", "microns"], 0.001),
];

/// Degrees in one of each unit that an angle may have.
const ANGLES: &[(&[&str], f64)] = &[
    (&["", "deg", "degree", "degrees", "\u{b0}"], 1.0),
    (&["turn", "turns"], 360.0),
    (&["rad", "radian", "radians"], 180.0 / std::f64::consts::PI),
];

/// Millilitres in one of each unit that a volume may have.
const VOLUMES: &[(&[&str], f64)] = &[
    (&["", "ml", "millilitre", "millilitres", "milliliter", "milliliters", "cm3", "cc"], 1.0),
    (&["cl", "centilitre", "centilitres", "centiliter", "centiliters"], 10.0),
    (&["l", "litre", "litres", "liter", "liters"], 1000.0),
    (&["fl oz", "fl. oz.", "us fl oz", "oz", "us oz"], Ml::US_FLUID_OUNCE.0),
    (&["imp fl oz", "uk fl oz", "imp oz", "uk oz"], Ml::IMPERIAL_FLUID_OUNCE.0),
];

/// Seconds in one of each unit that a length of time may have.
const TIMES: &[(&[&str], f64)] = &[
    (&["s", "sec", "second", "seconds"], 1.0),
    (&["min", "minute", "minutes"], 60.0),
    (&["h", "hour", "hours"], 3600.0),
    (&["d", "day", "days"], 86_400.0),
    (&["w", "week", "weeks"], 604_800.0),
];

/// Grams in one of each unit that a weight may have. A pound is 453.59237 g (international yard and pound
/// agreement of 1959).
const WEIGHTS: &[(&[&str], f64)] = &[
    (&["", "g", "gram", "grams", "gramme", "grammes"], 1.0),
    (&["mg"], 0.001),
    (&["kg", "kilo", "kilogram", "kilograms"], 1000.0),
    (&["lb", "lbs", "pound", "pounds"], 453.592_37),
    (&["oz", "ounce", "ounces"], 28.349_523_125),
];

fn factor(units: &[(&[&str], f64)], unit: &str) -> Option<f64> {
    let unit = unit.split_whitespace().collect::<Vec<_>>().join(" ").to_lowercase();
    units.iter().find(|(names, _)| names.contains(&unit.as_str())).map(|(_, f)| *f)
}

/// A length: a number, a fraction or both (`3 1/2`, `3-1/2`, `3½`) and a unit; without one in `bare`.
///
/// # Errors
/// In words, what cannot be read.
pub fn length(text: &str, bare: LengthUnit) -> Result<Mm, String> {
    let w = written(text)?;
    if w.unit.is_empty() {
        return Ok(Mm(w.value * bare.in_mm()));
    }
    factor(LENGTHS, w.unit)
        .map(|f| Mm(w.value * f))
        .ok_or_else(|| format!("`{}` is no unit of length; mm, cm, m, in, ft, yd are", w.unit))
}

/// An angle: degrees, or a number with `deg`, `turn` or `rad`.
///
/// # Errors
/// In words, what cannot be read.
pub fn angle(text: &str) -> Result<Angle, String> {
    let w = written(text)?;
    factor(ANGLES, w.unit)
        .map(|f| Angle::degrees(w.value * f))
        .ok_or_else(|| format!("`{}` is no unit of angle; deg, turn, rad are", w.unit))
}

/// A volume: millilitres, or a number with `ml`, `cl`, `l`, `fl oz` (US) or `imp fl oz`.
///
/// # Errors
/// In words, what cannot be read.
pub fn volume(text: &str) -> Result<Ml, String> {
    let w = written(text)?;
    factor(VOLUMES, w.unit)
        .map(|f| Ml(w.value * f))
        .ok_or_else(|| format!("`{}` is no unit of volume; ml, cl, l, fl oz (US), imp fl oz are", w.unit))
}

/// A weight in grams: a number with `g`, `mg`, `kg`, `lb` or `oz` (avoirdupois).
///
/// # Errors
/// In words, what cannot be read.
pub fn weight(text: &str) -> Result<f64, String> {
    let w = written(text)?;
    factor(WEIGHTS, w.unit)
        .map(|f| w.value * f)
        .ok_or_else(|| format!("`{}` is no unit of weight; g, mg, kg, lb, oz are", w.unit))
}

/// A length of time in seconds: one or more numbers with `s`, `min`, `h`, `d` or `w`, as in `1 h 30 min`.
///
/// # Errors
/// In words, what cannot be read.
pub fn duration(text: &str) -> Result<f64, String> {
    let mut rest = text.trim();
    if rest.is_empty() {
        return Err("it is empty".into());
    }
    let mut sum = 0.0;
    while !rest.is_empty() {
        let digits = leading_number(rest);
        // The next number starts where letters end.
        let unit_from = rest[digits.len()..].trim_start();
        let letters = unit_from.find(|c: char| !c.is_alphabetic()).unwrap_or(unit_from.len());
        let unit = &unit_from[..letters];
        let value: f64 = digits.parse().map_err(|_| format!("`{rest}` does not start with a number"))?;
        let factor = factor(TIMES, unit).ok_or_else(|| match unit {
            "" => "it has no unit; s, min, h, d, w are".to_owned(),
            unit => format!("`{unit}` is no unit of time; s, min, h, d, w are"),
        })?;
        sum += value * factor;
        rest = unit_from[letters..].trim_start();
    }
    if sum.is_finite() { Ok(sum) } else { Err("the number is too large".into()) }
}

/// Fractions that have a character of their own.
const VULGAR: &[(char, f64, f64)] = &[
    ('\u{bd}', 1.0, 2.0),
    ('\u{bc}', 1.0, 4.0),
    ('\u{be}', 3.0, 4.0),
    ('\u{2153}', 1.0, 3.0),
    ('\u{2154}', 2.0, 3.0),
    ('\u{215b}', 1.0, 8.0),
    ('\u{215c}', 3.0, 8.0),
    ('\u{215d}', 5.0, 8.0),
    ('\u{215e}', 7.0, 8.0),
];

/// Splits a text into its number (whole, fraction or both) and its unit.
fn written(text: &str) -> Result<Written<'_>, String> {
    let text = text.trim();
    if text.is_empty() {
        return Err("it is empty".into());
    }
    let (sign, rest) = match text.strip_prefix(['-', '\u{2212}']) {
        Some(rest) => (-1.0, rest.trim_start()),
        None => (1.0, text.strip_prefix('+').unwrap_or(text).trim_start()),
    };
    let digits = leading_number(rest);
    let after = &rest[digits.len()..];
    if after.starts_with(',') && after[1..].starts_with(|c: char| c.is_ascii_digit()) {
        return Err(format!(
            "a comma in a number can be read two ways; write `{}`",
            text.replacen(',', ".", 1)
        ));
    }
    let (value, unit) = if digits.is_empty() {
        vulgar(rest).ok_or_else(|| format!("`{text}` does not start with a number"))?
    } else if let Some((denominator, unit)) = denominator(after) {
        (quotient(digits, denominator)?, unit)
    } else {
        with_fraction(digits, after)?
    };
    let value = sign * value;
    if !value.is_finite() {
        return Err("the number is too large".into());
    }
    let unit = unit.trim();
    if let Some(extra) = unit.split_whitespace().find(|w| w.starts_with(|c: char| c.is_ascii_digit())) {
        return Err(format!(
            "`{extra}` follows the unit; write one number, one fraction at most, and one unit"
        ));
    }
    Ok(Written { value, unit })
}

/// A whole number, and after it perhaps a fraction set off by a blank or a hyphen.
fn with_fraction<'t>(digits: &str, after: &'t str) -> Result<(f64, &'t str), String> {
    let whole: f64 = digits.parse().map_err(|_| format!("`{digits}` is no number"))?;
    let blank = after.trim_start();
    let set_off = blank.strip_prefix(['-', '\u{2013}']).map_or(blank, str::trim_start);
    let fraction = match vulgar(set_off) {
        Some(diagnostics) => Some(diagnostics),
        None => {
            let top = leading_number(set_off);
            match denominator(&set_off[top.len()..]) {
                Some((bottom, unit)) if !top.is_empty() => Some((quotient(top, bottom)?, unit)),
                _ => None,
            }
        }
    };
    match fraction {
        None => Ok((whole, after)),
        Some(_) if digits.contains('.') => {
            Err(format!("`{digits}` has decimals and a fraction; write one or the other"))
        }
        Some((part, _)) if part >= 1.0 => {
            Err("the fraction after the whole number is not less than one".into())
        }
        Some((part, unit)) => Ok((whole + part, unit)),
    }
}

/// Digits and at most one decimal point at the start; an exponent as TOML writes it.
fn leading_number(text: &str) -> &str {
    let mut end = 0;
    let mut point = false;
    for (i, c) in text.char_indices() {
        match c {
            '0'..='9' => {}
            '.' if !point && i > 0 => point = true,
            _ => break,
        }
        end = i + 1;
    }
    text[..end].strip_suffix('.').unwrap_or(&text[..end])
}

/// What stands under the bar, if the text starts with one.
fn denominator(text: &str) -> Option<(&str, &str)> {
    let rest = text.trim_start().strip_prefix(['/', '\u{2044}'])?.trim_start();
    let digits = leading_number(rest);
    (!digits.is_empty()).then(|| (digits, &rest[digits.len()..]))
}

fn quotient(top: &str, bottom: &str) -> Result<f64, String> {
    let whole = |t: &str| t.parse::<u32>().map_err(|_| format!("`{top}/{bottom}` is no fraction"));
    match whole(bottom)? {
        0 => Err(format!("`{top}/{bottom}` divides by nothing")),
        bottom => Ok(f64::from(whole(top)?) / f64::from(bottom)),
    }
}

fn vulgar(text: &str) -> Option<(f64, &str)> {
    let first = text.chars().next()?;
    let (_, top, bottom) = VULGAR.iter().find(|(c, ..)| *c == first)?;
    Some((top / bottom, &text[first.len_utf8()..]))
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn lengths_are_read_as_tapes_and_rulers_say_them() {
        // Worked by hand: an inch is 25.4 mm exactly.
        for (text, mm) in [
            ("3 1/2 in", 88.9),
            ("3-1/2 in", 88.9),
            ("3 - 1/2 in", 88.9),
            ("3½\"", 88.9),
            ("3 ½ in", 88.9),
            ("3.5\"", 88.9),
            ("3.5in", 88.9),
            ("3 1/2", 88.9),
            ("½ inch", 12.7),
            ("1/2 in", 12.7),
            ("-1/8 in", -3.175),
            ("8.9 cm", 89.0),
            ("89", 89.0 * 25.4),
            ("0.3 m", 300.0),
            ("  165 MM ", 165.0),
            ("15 ft", 4572.0),
            ("80 µm", 0.08),
            ("3 mil", 0.0762),
            ("8 5\u{2044}32 in", 207.168_75),
        ] {
            let got = length(text, LengthUnit::In).unwrap_or_else(|e| panic!("{text}: {e}"));
            approx::assert_abs_diff_eq!(got.0, mm, epsilon = 1e-12);
        }
        approx::assert_abs_diff_eq!(length("89", LengthUnit::Mm).unwrap().0, 89.0);
    }

    #[test]
    fn what_can_be_read_two_ways_is_refused_with_the_reason() {
        for (text, why) in [
            ("8,9 cm", "write `8.9 cm`"),
            ("3 9/8 in", "not less than one"),
            ("3.5 1/2 in", "decimals and a fraction"),
            ("1/0 in", "divides by nothing"),
            ("3 furlong", "`furlong` is no unit of length"),
            ("1 ft 2 in", "`2` follows the unit"),
            ("about 3 in", "does not start with a number"),
            ("", "empty"),
            ("mm", "does not start with a number"),
            ("1e400 mm", "no unit"),
        ] {
            let said = length(text, LengthUnit::Mm).unwrap_err();
            assert!(said.contains(why), "{text}: {said}");
        }
    }

    #[test]
    fn volumes_and_angles() {
        approx::assert_relative_eq!(volume("20 fl oz").unwrap().0, 591.470_591_25);
        approx::assert_relative_eq!(volume("20 imp fl oz").unwrap().0, 568.261_25);
        approx::assert_relative_eq!(volume("0.6 l").unwrap().0, 600.0);
        approx::assert_relative_eq!(volume("600").unwrap().0, 600.0);
        assert!(volume("2 pt").unwrap_err().contains("no unit of volume"));
        approx::assert_relative_eq!(angle("90°").unwrap().deg(), 90.0, epsilon = 1e-12);
        approx::assert_relative_eq!(angle("1/4 turn").unwrap().deg(), 90.0, epsilon = 1e-12);
        approx::assert_relative_eq!(angle("-12.5").unwrap().deg(), -12.5, epsilon = 1e-12);
    }

    #[test]
    fn times_and_weights() {
        for (text, s) in
            [("25 min", 1500.0), ("1 h 30 min", 5400.0), ("1.5h", 5400.0), ("5 d", 432_000.0), ("90 s", 90.0)]
        {
            approx::assert_relative_eq!(duration(text).unwrap(), s);
        }
        for (text, why) in [
            ("8", "no unit"),
            ("8 fortnights", "no unit of time"),
            ("h", "does not start"),
            ("", "empty"),
            ("1,5 h", "no unit"),
        ] {
            assert!(duration(text).unwrap_err().contains(why), "{text}");
        }
        approx::assert_relative_eq!(weight("2 lb").unwrap(), 907.184_74);
        approx::assert_relative_eq!(weight("0.9 kg").unwrap(), 900.0);
        assert!(weight("1 l").unwrap_err().contains("no unit of weight"));
    }

    proptest! {
        #[test]
        fn no_text_panics(text in ".{0,24}") {
            let _ = (length(&text, LengthUnit::Mm), angle(&text), volume(&text), weight(&text), duration(&text));
        }
        #[test]
        fn text_made_of_the_right_signs_never_panics(text in "[-+0-9/.,½¼ \u{2212}\"inm]{0,16}") {
            if let Ok(mm) = length(&text, LengthUnit::In) { prop_assert!(mm.is_finite()); }
        }
        #[test]
        fn fractions_are_their_quotient(whole in 0u32..400, top in 1u32..64, bottom in 2u32..=64) {
            prop_assume!(top < bottom);
            let want = 25.4 * (f64::from(whole) + f64::from(top) / f64::from(bottom));
            for text in [format!("{whole} {top}/{bottom} in"), format!("{whole}-{top}/{bottom}\"")] {
                prop_assert!((length(&text, LengthUnit::Mm).unwrap().0 - want).abs() < 1e-9);
            }
        }
    }
}
