//! Pieces on film sheets: nesting, cut order, weeding aids, what to buy.
//!
//! [`lay_out`] is the way in. A film's pieces become [`solid`]s; [`fill`] lays them bottom-left on bit rows
//! ([`raster`]); [`gate`] re-measures every layout in f64; [`order`] puts each sheet into cut order.
//!
//! Imports: base, read::job, make::piece.

pub mod sheet;
pub mod stock;
pub mod solid;
pub mod raster;
pub mod fill;
pub mod gate;
pub mod order;
pub mod nest;

pub use crate::read::job::Effort;
pub use nest::{CODES, Progress, lay_out};
pub use sheet::{Placed, SheetLayout};
