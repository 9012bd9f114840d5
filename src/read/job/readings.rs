//! The cup's readings and their ranges, as the tape gave them.
//!
//! Imports: base, read::job::{codes, model, section}.

use super::codes;
use super::model::Ring;
use super::section::Section;
use crate::base::diag::{Diagnostic, ErrorGuaranteed, KeyPath};
use crate::base::units::Mm;
use std::f64::consts::PI;

/// Steepest wall that is taken for a cup's.
pub const STEEPEST_DEG: f64 = 45.0;
const GIRTH: std::ops::RangeInclusive<Mm> = Mm(60.0)..=Mm(1500.0);
const DIAMETER: std::ops::RangeInclusive<Mm> = Mm(20.0)..=Mm(480.0);

/// How the maker said the cup.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Said {
    /// By circumferences.
    Girths,
    /// By diameters, held here as the circumferences they give.
    Diameters,
}

/// The readings and where each stands in the job.
#[derive(Clone, Debug)]
pub struct AsTyped {
    /// Where each girth (or diameter) stands, in the order of `rings`.
    pub fields: Vec<KeyPath>,
    /// Lowest first.
    pub rings: Vec<Ring>,
    /// Length of the wall.
    pub wall: Mm,
    /// How they were said.
    pub said: Said,
    /// Is the wall said to be a smooth curve?
    pub curved: bool,
}

/// Holds every girth to its range: after the search for slips, which says more.
pub(super) fn hold_to_range(cup: &Section<'_>, readings: &AsTyped) -> Result<(), ErrorGuaranteed> {
    let mut ok = Ok(());
    for (field, ring) in readings.fields.iter().zip(&readings.rings) {
        let (value, range, what) = match readings.said {
            Said::Girths => (ring.girth, GIRTH, "girth"),
            Said::Diameters => (ring.girth / PI, DIAMETER, "diameter"),
        };
        if !range.contains(&value) {
            let side = if value < *range.start() { "small" } else { "large" };
            let show = |mm| cup.reader().show(mm);
            ok = Err(cup.reader().push(
                Diagnostic::fault(
                    &codes::OUT_OF_RANGE,
                    field.clone(),
                    format!("`{field}` is too {side} for a cup's {what}"),
                )
                .measured(show(value))
                .allowed(format!("{} to {}", show(*range.start()), show(*range.end())))
                .help("correct the value or its unit"),
            ));
        }
    }
    ok
}
