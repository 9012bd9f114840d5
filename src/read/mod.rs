//! Text and bytes to nouns.
//!
//! Imports: base.

pub mod source;
pub mod job;
pub mod art;
pub mod letter;
