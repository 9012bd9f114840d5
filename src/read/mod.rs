//! Text and bytes to nouns.
//!
//! Imports: none.

pub mod source;
pub mod job;
pub mod art;
pub mod picture;
pub mod contour;
pub mod letter;
pub mod names;
pub mod bench_log;
pub mod materials;
pub mod ledger;
pub mod shelf;
pub mod record;
pub mod kept;
