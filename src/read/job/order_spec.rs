//! [`OrderSpec`]: how many cups are made, and how their film is laid out together.
//!
//! Imports: read::job::keys.

use super::keys::Worded;

/// Most cups of an order.
pub const MOST_CUPS: u64 = 2000;

/// A list of names beside the job.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct NamesSpec {
    /// The file.
    pub list: String,
    /// Heading of the column that is lettered.
    pub column: String,
    /// Heading of the column with the number of cups; one of each if `None`.
    pub copies: Option<String>,
    /// Foot marks between letters become apostrophes.
    pub mend_apostrophes: bool,
}

/// How many cups, and how their film is laid out.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct OrderSpec {
    /// How many.
    pub cups: u32,
    /// What each cup says, from a list.
    pub names: Option<NamesSpec>,
    /// The file of what customers approved, if only that may be made.
    pub approved: Option<String>,
    /// The folder of the earlier kit that is kept, as the job names it.
    pub keep: Option<String>,
    /// The shelf's folder, as the job names it.
    pub shelf: Option<String>,
    /// How they share sheets.
    pub film: Sharing,
    /// Cups that may lie on one sheet together; no limit if `None`.
    pub most_a_sheet: Option<u32>,
    /// Equal cups as equal sheets, cut several times, where that takes no more film.
    pub same_sheets: bool,
}

impl Default for OrderSpec {
    fn default() -> Self {
        OrderSpec {
            cups: 1,
            names: None,
            approved: None,
            keep: None,
            shelf: None,
            film: Sharing::InOrder,
            most_a_sheet: None,
            same_sheets: true,
        }
    }
}

/// What becomes of foot marks in names.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Apostrophes {
    /// They become apostrophes.
    Mend,
    /// They stay.
    AsWritten,
}

impl Worded for Apostrophes {
    const WORDS: &'static [(&'static str, Apostrophes)] =
        &[("mend", Apostrophes::Mend), ("as-written", Apostrophes::AsWritten)];
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
