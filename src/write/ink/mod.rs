//! Marks and their encodings: decimals, letters, drawings, SVG, PDF, PNG, HTML.
//!
//! Imports: none.

pub mod decimal;
pub mod inches;
pub mod letters;
pub mod drawing;
pub mod svg;
pub mod png;
pub mod html;
pub mod pdf;
pub mod film_mark;
pub mod place;
pub mod inside;
pub mod label;
pub mod numbers;
