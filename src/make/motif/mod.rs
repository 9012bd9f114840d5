//! Stage motif.
//!
//! Imports: base, read, make::cup, make::piece.
