//! Stage decal.
//!
//! Imports: base, read, make::cup, make::piece.
