//! Sheets for people: how a decal goes on, the job sheet, cards, the finishing plan and the quote.
//!
//! Imports: none.

pub mod measures;
pub mod decal;
pub mod job_sheet;
pub mod cards;
pub mod finish;
pub mod cups;
pub mod index;
