//! One stage a module; each a pure function of the stages above it.
//!
//! Imports: base, read.

pub mod cup;
pub mod piece;
pub mod free_area;
pub mod decal;
pub mod motif;
pub mod accent;
pub mod weed;
pub mod film;
pub mod finish;
pub mod plan;
pub mod verify;
