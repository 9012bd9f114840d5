//! Stage finish.
//!
//! Imports: base, read, make::cup, make::piece.
