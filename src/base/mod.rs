//! Words that every module speaks; nothing here knows what a cup is.
//!
//! Imports: none.

pub mod units;
pub mod money;
pub mod moment;
pub mod diag;
pub mod frame;
pub mod tolerance;
pub mod random;
pub mod linear;
pub mod colour;
