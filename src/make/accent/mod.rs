//! Stage accent.
//!
//! Imports: base, read, make::cup, make::piece.
