//! `frusta` computes the whole job of decorating a tapered cup with cut film.
//!
//! Read the modules in this order: it is the order in which the work flows, and a module names only what stands
//! above it (each says so in its `Imports:` line; `tests/suite/architecture.rs` holds it).
//!
//! - [`base`]: words every module speaks: quantities, diagnostics, frames, tolerances, random streams.
//! - [`outline`]: regions of lines and cubics: booleans, offsets, widths, clearances.
//! - [`read`]: text and bytes to nouns: the job file, the art.
//! - [`make`]: one stage a module: cup, decal, motif, accent, film, finish, plan, verify.
//! - [`mod@write`]: a verified plan to bytes: cut files, template, map, pictures, manifest.
//! - [`edge`]: files, terminal, clock; the only place that touches them.

#![forbid(unsafe_code)]
#![warn(missing_docs)]

pub mod base;
pub mod outline;
pub mod read;
pub mod make;
pub mod write;
pub mod edge;
