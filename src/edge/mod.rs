//! Files, terminal, clock: the only place that touches them.
//!
//! Imports: base, read, make, write.

pub mod cli;
