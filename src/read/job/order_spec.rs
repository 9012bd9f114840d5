//! [`OrderSpec`]: how many cups are made, and how their film is laid out together.
//!
//! Imports: read::job::keys.

use super::keys::Worded;

/// Most cups of an order.
pub const MOST_CUPS: u64 = 2000;

/// Several cups of one job.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct OrderSpec {
    /// How many.
    pub cups: u32,
    /// How they share sheets.
    pub film: Sharing,
    /// Cups that may lie on one sheet together; no limit if `None`.
    pub most_a_sheet: Option<u32>,
    /// Equal cups as equal sheets, cut several times, where that takes no more film.
    pub same_sheets: bool,
}

impl Default for OrderSpec {
    fn default() -> Self {
        OrderSpec { cups: 1, film: Sharing::InOrder, most_a_sheet: None, same_sheets: true }
    }
}

/// How cups share sheets.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Sharing {
    /// Least film: a cup may lie on any sheet.
    Mixed,
    /// Cup after cup, two sheets open at a time.
    #[default]
    InOrder,
}

impl Worded for Sharing {
    const WORDS: &'static [(&'static str, Sharing)] =
        &[("in-order", Sharing::InOrder), ("mixed", Sharing::Mixed)];
}
