//! The developed wall at 1:1: the template that wraps the cup, and the disc for its base.
//!
//! Imports: none.

pub mod band;
pub mod lines;
pub mod marks;
mod words;
mod wishes;
pub mod later;
pub mod panel;
pub mod wrap;
pub mod base;
