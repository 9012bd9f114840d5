//! One stage a module; each a pure function of the stages above it.
//!
//! Imports: none.

pub mod cup;
pub mod piece;
pub mod sheet;
pub mod choose;
pub mod free_area;
pub mod weed;
pub mod decal;
pub mod motif;
pub mod accent;
pub mod panel;
pub mod film;
pub mod finish;
pub mod look;
pub mod plan;
pub mod verify;
