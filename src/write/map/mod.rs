//! Where each numbered piece goes on the wall: the rows of its table, the whole wall, zone by zone, and the
//! page.
//!
//! Imports: base.

pub mod rows;
pub mod passes;
pub mod zones;
pub mod wall;
pub mod zone_pages;
pub mod page;
pub mod printed;

use crate::base::units::Mm;

/// Chords of outlines that only hatch and number places are worked out from.
pub const COARSE: Mm = Mm(0.05);
