//! Files for the cutter, and the pictures by which its sheets are weeded.
//!
//! Imports: none.

pub mod own_print;
pub mod sheet;
pub mod offcut;
pub mod weeding;
pub mod film_test;
