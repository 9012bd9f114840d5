//! [`Reader`]: what all sections of one reading share, and [`Ranged`]: how a value is shown to the maker.
//!
//! Imports: base, read::job::keys.

use super::keys::Setting;
use crate::base::diag::{Diagnostic, Diagnostics, ErrorGuaranteed};
use crate::base::units::{Angle, LengthUnit, Ml, Mm, without_trailing_zeros};
use std::cell::{Cell, RefCell};
use std::ops::RangeInclusive;

/// What all sections of one reading share: the unit of bare numbers and what was found so far.
#[derive(Debug)]
pub struct Reader<'r> {
    pub(super) text: &'r str,
    pub(super) unit: Cell<LengthUnit>,
    /// The syntax is broken: what seems to be missing may only have been lost.
    pub(super) torn: bool,
    pub(super) diagnostics: RefCell<Diagnostics>,
    pub(super) settings: RefCell<Vec<Setting>>,
}

/// Shorter lengths are shown in 64ths of an inch, longer ones in 32nds.
const FINE: Mm = Mm(25.4);

impl<'r> Reader<'r> {
    pub(super) fn new(text: &'r str, torn: bool, diagnostics: Diagnostics) -> Reader<'r> {
        Reader {
            text,
            unit: Cell::default(),
            torn,
            diagnostics: RefCell::new(diagnostics),
            settings: RefCell::default(),
        }
    }

    /// Adds to what was found.
    pub fn push(&self, d: Diagnostic) -> ErrorGuaranteed {
        self.diagnostics.borrow_mut().push(d)
    }

    pub(super) fn into_found(self) -> (Diagnostics, Vec<Setting>) {
        (self.diagnostics.into_inner(), self.settings.into_inner())
    }

    /// A length as the maker thinks of it: in the job's unit, and in mm too if that is another.
    pub fn show(&self, length: Mm) -> String {
        match self.unit.get() {
            LengthUnit::Mm => length.to_string(),
            LengthUnit::In => {
                let parts = if length.abs() < FINE { 64 } else { 32 };
                match length.on_a_tape(parts).as_str() {
                    // Thinner than a tape shows.
                    "0" if length != Mm::ZERO => length.to_string(),
                    inches => format!("{inches} in ({length})"),
                }
            }
        }
    }

    /// A length as one would type it in this job: a bare number in the job's unit.
    pub fn typed(&self, length: Mm) -> String {
        let (value, decimals) = match self.unit.get() {
            LengthUnit::Mm => (length.0, 1),
            LengthUnit::In => (length / Mm::INCH, 3),
        };
        let text = format!("{value:.decimals$}");
        without_trailing_zeros(&text).to_owned()
    }
}

/// What can be held to a range and shown to the maker.
pub trait Ranged: PartialOrd {
    /// As the maker thinks of it.
    fn show(&self, reader: &Reader<'_>) -> String;
    /// A likely slip that explains a value out of its range.
    fn hint(&self, _range: &RangeInclusive<Self>, _reader: &Reader<'_>) -> Option<String>
    where
        Self: Sized,
    {
        None
    }
}
impl Ranged for Mm {
    fn show(&self, reader: &Reader<'_>) -> String {
        reader.show(*self)
    }
    /// Inches typed as mm, centimetres typed as mm, mm typed as inches.
    fn hint(&self, range: &RangeInclusive<Mm>, reader: &Reader<'_>) -> Option<String> {
        if self.0 <= 0.0 {
            return None;
        }
        let others: &[(f64, &str, &str)] = match reader.unit.get() {
            LengthUnit::Mm => &[(25.4, "inches", "in"), (10.0, "centimetres", "cm")],
            LengthUnit::In => &[(1.0 / 25.4, "millimetres", "mm"), (1.0 / 2.54, "centimetres", "cm")],
        };
        let number = reader.typed(*self);
        let hints: Vec<String> = others
            .iter()
            .filter(|(factor, ..)| range.contains(&(*self * *factor)))
            .map(|(_, words, unit)| format!("if that is {words}, write \"{number} {unit}\""))
            .collect();
        (!hints.is_empty()).then(|| hints.join("; "))
    }
}
impl Ranged for Ml {
    fn show(&self, _: &Reader<'_>) -> String {
        self.to_string()
    }
    fn hint(&self, range: &RangeInclusive<Ml>, _: &Reader<'_>) -> Option<String> {
        let ounces = Ml::US_FLUID_OUNCE * self.0;
        range.contains(&ounces).then(|| format!("if that is fluid ounces, write \"{} fl oz\"", self.0))
    }
}
impl Ranged for Angle {
    fn show(&self, _: &Reader<'_>) -> String {
        degrees(*self)
    }
}
impl Ranged for f64 {
    fn show(&self, _: &Reader<'_>) -> String {
        self.to_string()
    }
}
impl Ranged for u64 {
    fn show(&self, _: &Reader<'_>) -> String {
        self.to_string()
    }
}

/// An angle in degrees, short.
pub fn degrees(angle: Angle) -> String {
    format!("{} degrees", without_trailing_zeros(&format!("{:.2}", angle.deg())))
}
