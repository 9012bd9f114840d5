//! The `[finish]` section: what it says ([`model`]), what it is when it says nothing ([`mod@usual`]), and its
//! reader.
//!
//! Imports: none.

pub mod bench;
pub mod model;
pub mod usual;
pub mod codes;
pub(super) mod rows;
mod rates;
mod products;
mod steps;
mod times;
mod price;
mod quote;
mod base;
mod whole;

pub use codes::CODES;
pub use model::*;
pub use usual::{defaults, product_kind_of, usual_product, usual_step};
pub(super) use whole::read;

/// The usual word of the quote for a key of `finish.quote.words`.
pub fn quote_word(key: &str) -> &'static str {
    rows::quote_words::usual(key)
}

#[cfg(test)]
mod tests;
