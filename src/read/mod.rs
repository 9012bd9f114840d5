//! Text and bytes to nouns.
//!
//! Imports: none.

pub mod source;
pub mod job;
pub mod art;
pub mod letter;
pub mod materials;
