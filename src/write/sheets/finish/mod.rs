//! What is written of the finishing plan: the calendar, the customer's quote, the maker's sheet.
//!
//! All of it shows [`crate::make::finish::Finish`]; nothing is computed here but words and rounding.
//!
//! Imports: make::verify, write.

mod page;
pub mod calendar;
pub mod quote;
pub mod maker_sheet;
#[cfg(test)]
mod tests;

use crate::make::verify::Verified;
use crate::write::KitFile;

/// The files of the finishing plan: the calendar if the job says when it starts, the quote if it has prices.
///
/// `pictures` are PNGs of the finished cup for the quote, each with what it shows; without them the quote shows the
/// wall rolled out.
pub fn files(plan: &Verified, pictures: &[(&str, &[u8])]) -> Vec<KitFile> {
    let mut out = Vec::new();
    let mut add =
        |path: &str, text: String| out.push(KitFile { path: path.to_owned(), bytes: text.into_bytes() });
    if let Some(calendar) = &plan.finish().calendar {
        add(calendar::FILE, calendar::text(plan, calendar));
    }
    if let Some(costing) = &plan.finish().costing {
        add(quote::FILE, quote::text(plan, costing, pictures));
    }
    add(maker_sheet::FILE, maker_sheet::text(plan));
    out
}
