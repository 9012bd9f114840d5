//! Files, terminal, clock: the only place that touches them.
//!
//! Imports: none.

pub mod fonts;
pub mod folder;
pub mod journal;
pub mod shelf;
pub mod kit;
pub mod packed;
#[cfg(feature = "cli")]
pub mod cli;
