//! The job file: TOML text to a checked [`Job`].
//!
//! Imports: base, read::source.

pub mod model;
pub mod finish;

pub use model::*;
