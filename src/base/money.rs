//! Money in exact decimals, shares in exact decimals; no binary fraction ever touches a price.
//!
//! Home of the crate `rust_decimal`.
//!
//! Imports: none.

pub use rust_decimal::Decimal;
use rust_decimal::RoundingStrategy;
use rust_decimal::prelude::FromPrimitive;
use serde::{Serialize, Serializer};
use std::fmt;
use std::iter::Sum;
use std::ops::{Add, AddAssign, Div, Mul, Sub};
use std::str::FromStr;

/// An amount of the job's one currency, exact; serialized as a decimal string, never as a binary number.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord)]
pub struct Money(pub Decimal);

/// A part of a whole, exact: 0.05 is 5 percent.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord)]
pub struct Share(pub Decimal);

impl Money {
    /// Nothing.
    pub const ZERO: Money = Money(Decimal::ZERO);
    /// To the nearest multiple of a positive step; half a step goes away from zero, as in trade.
    #[must_use]
    pub fn rounded_to(self, step: Money) -> Money {
        Money((self.0 / step.0).round_dp_with_strategy(0, RoundingStrategy::MidpointAwayFromZero) * step.0)
    }
    /// Up to the next multiple of a positive step: a price never falls below what it was computed from.
    #[must_use]
    pub fn rounded_up_to(self, step: Money) -> Money {
        Money((self.0 / step.0).ceil() * step.0)
    }
    /// To cents (two decimals), half away from zero.
    #[must_use]
    pub fn to_cents(self) -> Money {
        self.rounded_to(Money(Decimal::new(1, 2)))
    }
    /// Below zero?
    pub fn is_negative(self) -> bool {
        self.0.is_sign_negative() && !self.0.is_zero()
    }
}

impl Share {
    /// None of it.
    pub const ZERO: Share = Share(Decimal::ZERO);
    /// All of it.
    pub const ONE: Share = Share(Decimal::ONE);
    /// From percent.
    pub fn percent(p: Decimal) -> Share {
        Share(p / Decimal::ONE_HUNDRED)
    }
    /// In percent.
    pub fn in_percent(self) -> Decimal {
        (self.0 * Decimal::ONE_HUNDRED).normalize()
    }
    /// What remains of the whole.
    #[must_use]
    pub fn rest(self) -> Share {
        Share(Decimal::ONE - self.0)
    }
    /// The margin (share of the price) that a markup (share of the cost) comes to: markup / (1 + markup).
    #[must_use]
    pub fn margin_of_markup(self) -> Share {
        Share(self.0 / (Decimal::ONE + self.0))
    }
}

impl Add for Share {
    type Output = Share;
    fn add(self, o: Share) -> Share {
        Share(self.0 + o.0)
    }
}
impl Add for Money {
    type Output = Money;
    fn add(self, o: Money) -> Money {
        Money(self.0 + o.0)
    }
}
impl Sub for Money {
    type Output = Money;
    fn sub(self, o: Money) -> Money {
        Money(self.0 - o.0)
    }
}
impl AddAssign for Money {
    fn add_assign(&mut self, o: Money) {
        self.0 += o.0;
    }
}
impl Mul<Decimal> for Money {
    type Output = Money;
    fn mul(self, o: Decimal) -> Money {
        Money(self.0 * o)
    }
}
impl Mul<Share> for Money {
    type Output = Money;
    fn mul(self, o: Share) -> Money {
        Money(self.0 * o.0)
    }
}
impl Div<Share> for Money {
    type Output = Money;
    fn div(self, o: Share) -> Money {
        Money(self.0 / o.0)
    }
}
impl Div<Decimal> for Money {
    type Output = Money;
    fn div(self, o: Decimal) -> Money {
        Money(self.0 / o)
    }
}
impl Sum for Money {
    fn sum<I: Iterator<Item = Money>>(i: I) -> Money {
        Money(i.map(|m| m.0).sum())
    }
}
impl fmt::Display for Money {
    /// Two decimals, half away from zero: 12.50. The currency is the caller's to name.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{:.2}", self.to_cents().0)
    }
}
impl fmt::Display for Share {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} %", self.in_percent())
    }
}
impl Serialize for Money {
    fn serialize<S: Serializer>(&self, s: S) -> Result<S::Ok, S::Error> {
        s.collect_str(&self.0.normalize())
    }
}
impl Serialize for Share {
    fn serialize<S: Serializer>(&self, s: S) -> Result<S::Ok, S::Error> {
        s.collect_str(&self.0.normalize())
    }
}

/// The decimal that a maker typed: `12.5` is 12.5 exactly, also when it came through a binary number
/// (the shortest text that gives that number is taken). `None` when it is not finite or beyond a trillion.
pub fn typed(value: f64) -> Option<Decimal> {
    if !value.is_finite() || value.abs() > 1e12 {
        return None;
    }
    Decimal::from_str(&format!("{value}")).ok().map(|d| d.normalize())
}

/// A decimal from text such as `12.50`; `None` if it is not a plain decimal number or beyond a trillion.
pub fn parsed(text: &str) -> Option<Decimal> {
    let t = text.trim();
    if !t.bytes().all(|b| b.is_ascii_digit() || matches!(b, b'.' | b'-')) {
        return None;
    }
    let d = Decimal::from_str(t).ok()?;
    (d.abs() <= Decimal::from(1_000_000_000_000u64)).then(|| d.normalize())
}

/// A measured amount (area, volume, hours) where it enters an account: rounded to so many decimals, half away
/// from zero, so that the same account can be redone on paper from the printed amounts. Not finite: zero.
pub fn amount(value: f64, decimals: u32) -> Decimal {
    Decimal::from_f64(value)
        .unwrap_or_default()
        .round_dp_with_strategy(decimals, RoundingStrategy::MidpointAwayFromZero)
        .normalize()
}

/// A unit price as text with at most so many decimals and at least two: prices of a millilitre are small.
pub fn amount_of(price: Money, decimals: u32) -> String {
    let rounded =
        price.0.round_dp_with_strategy(decimals, RoundingStrategy::MidpointAwayFromZero).normalize();
    if rounded.scale() < 2 { price.to_string() } else { rounded.to_string() }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn d(text: &str) -> Decimal {
        parsed(text).unwrap()
    }

    #[test]
    fn tenths_add_up_exactly() {
        let sum: Money = std::iter::repeat_n(Money(typed(0.1).unwrap()), 10).sum();
        assert_eq!(sum, Money(Decimal::ONE));
        assert_eq!(Money(d("2.675")).to_string(), "2.68", "half a cent goes up; a binary 2.675 would not");
        assert_eq!(Money(d("-2.675")).to_string(), "-2.68");
    }

    /// A markup of 100 percent is a margin of 50; of 25 percent, 20 (the usual table of any accounting
    /// primer).
    #[test]
    fn markup_and_margin_follow_the_table() {
        for (markup, margin) in [("1", "0.5"), ("0.25", "0.2"), ("0", "0"), ("3", "0.75")] {
            assert_eq!(Share(d(markup)).margin_of_markup(), Share(d(margin)));
        }
    }

    #[test]
    fn money_is_written_as_text() {
        assert_eq!(serde_json::to_string(&Money(d("12.50"))).unwrap(), "\"12.5\"");
    }

    #[test]
    fn nonsense_is_refused() {
        assert_eq!(typed(f64::NAN), None);
        assert_eq!(typed(1e13), None);
        assert_eq!(parsed("1e3"), None);
        assert_eq!(parsed("twelve"), None);
    }

    proptest! {
        #[test]
        fn what_was_typed_comes_back(cents in -99_999_999i64..99_999_999) {
            let want = Decimal::new(cents, 2);
            let through_binary: f64 = want.to_string().parse().unwrap();
            prop_assert_eq!(typed(through_binary), Some(want.normalize()));
        }
        #[test]
        fn rounding_up_never_loses_and_stays_within_a_step(m in 0i64..9_999_999, step in 1i64..500) {
            let (m, step) = (Money(Decimal::new(m, 3)), Money(Decimal::new(step, 2)));
            let up = m.rounded_up_to(step);
            prop_assert!(up >= m && up - m < step);
            prop_assert!((up.0 / step.0).fract().is_zero());
        }
    }
}
