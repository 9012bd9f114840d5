//! Amounts as people measure them: cups in ml, or US fl oz beside them; scales to a tenth of a gram; hours of work.
//!
//! Nothing that is used reads as none of it, and nothing is ever minus nothing.
//!
//! Imports: base, read::job.

use crate::base::moment::Minutes;
use crate::base::units::{Grams, Ml};
use crate::read::job::finish::VolumeUnit;

/// A number with so many decimals: `0.0`, never `-0.0`.
pub fn number(v: f64, decimals: usize) -> String {
    let text = format!("{v:.decimals$}");
    let zero = text.bytes().all(|b| matches!(b, b'-' | b'0' | b'.'));
    if zero { text.trim_start_matches('-').to_owned() } else { text }
}

/// An amount that is used: what rounds to none of it says so.
fn used(v: f64, decimals: usize, unit: &str) -> String {
    let least = 10f64.powi(-(decimals as i32));
    if v > 0.0 && v < least / 2.0 {
        return format!("less than {least} {unit}");
    }
    format!("{} {unit}", number(v, decimals))
}

/// A volume to a tenth of a millilitre, in the maker's unit beside it.
pub fn volume(v: Ml, unit: VolumeUnit) -> String {
    let ml = used(v.0, 1, "ml");
    match unit {
        VolumeUnit::Ml => ml,
        VolumeUnit::UsFluidOunce => format!("{ml} ({} US fl oz)", number(v / Ml::US_FLUID_OUNCE, 2)),
    }
}

/// A weight to a tenth of a gram.
pub fn weight(v: Grams) -> String {
    used(v.0, 1, "g")
}

/// An amount to have at hand in its unit: whole above ten, a tenth below, metres to a hundredth.
pub fn at_hand(amount: f64, unit: &str) -> String {
    match unit {
        "m" => used(amount, 2, unit),
        "ml" | "g" if amount < 10.0 => used(amount, 1, unit),
        _ => used(amount, 0, unit),
    }
}

/// Time of work in hours and minutes, never in days: a day of work is no 24 hours.
pub fn work(m: Minutes) -> String {
    match (m.0 / 60, m.0 % 60) {
        (0, m) => format!("{m} min"),
        (h, 0) => format!("{h} h"),
        (h, m) => format!("{h} h {m} min"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nothing_is_minus_nothing_and_what_is_used_is_not_nothing() {
        assert_eq!(number(-0.04, 1), "0.0");
        assert_eq!(number(-0.06, 1), "-0.1");
        assert_eq!(volume(Ml(0.04), VolumeUnit::Ml), "less than 0.1 ml");
        assert_eq!(volume(Ml(0.0), VolumeUnit::Ml), "0.0 ml");
        assert_eq!(at_hand(0.3, "ml"), "0.3 ml");
        assert_eq!(at_hand(0.4, "sheet"), "less than 1 sheet");
        assert_eq!(at_hand(1500.2, "ml"), "1500 ml");
    }

    /// 1 US fl oz is 29.5735295625 ml (NIST Handbook 44, appendix C).
    #[test]
    fn ounces_stand_beside_millilitres() {
        assert_eq!(volume(Ml(29.573_529_562_5), VolumeUnit::UsFluidOunce), "29.6 ml (1.00 US fl oz)");
    }

    #[test]
    fn work_is_told_in_hours() {
        assert_eq!(work(Minutes(45 * 60)), "45 h");
        assert_eq!(work(Minutes(45 * 60 + 20)), "45 h 20 min");
    }
}
