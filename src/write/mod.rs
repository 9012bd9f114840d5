//! A verified plan to bytes; y flips and decimals live here.
//!
//! Imports: base, read, make.
