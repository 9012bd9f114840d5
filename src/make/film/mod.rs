//! Pieces on film sheets: nesting, cut order, weeding aids, what to buy.
//!
//! [`lay_out`] is the way in. A film's pieces become [`solid`]s; [`fill`] lays them bottom-left on bit rows
//! ([`raster`]), `weave` in the order in which they are placed ([`hops`] says how near they lie then); [`tighten`] improves what they give ([`overlap`] resolves overlaps, [`shrink`] makes the
//! strip shorter); [`gate`] re-measures every layout in f64; [`order`] puts each sheet into cut order;
//! [`aids`] adds frame and lines; [`offcut`] says what is left over and [`bill`] what to buy.
//!
//! Imports: read::job.

pub mod stock;
pub mod sheet;
pub mod solid;
mod cuttable;
pub mod raster;
pub mod fill;
pub mod gate;
pub mod grown;
pub mod clash;
pub mod overlap;
pub mod shrink;
pub mod tighten;
pub mod tour;
pub mod order;
pub mod aids;
pub mod offcut;
pub mod bill;
pub mod hops;
mod weave;
mod lot;
mod fitting;
pub mod nest;
mod placing;
pub mod again;
pub mod cups;

pub use crate::read::job::Effort;
pub use nest::{CODES, Progress, lay_out, lay_out_on};
pub use sheet::{Placed, SheetLayout, Taken};
pub use stock::{Offcut, offcuts};
