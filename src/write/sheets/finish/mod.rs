//! What is written of the finishing plan: the calendar, the customer's quote, the maker's sheet.
//!
//! All of it shows [`crate::make::finish::Finish`]; nothing is computed here but words and rounding.
//!
//! Imports: none.

pub mod page;
pub mod calendar;
pub mod quote;
pub mod maker_sheet;
#[cfg(test)]
mod tests;
