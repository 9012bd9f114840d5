//! Pieces on film sheets: nesting, cut order, weeding aids, what to buy.
//!
//! Imports: base, read::job, make::piece.

pub mod sheet;

pub use sheet::{Placed, SheetLayout};
