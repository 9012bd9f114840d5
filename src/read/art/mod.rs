//! SVG art to closed regions in mm, and a list of what is not cut and why.
//!
//! Imports: base, read::source.
