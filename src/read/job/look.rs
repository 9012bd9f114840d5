//! `[look]`: what is asked of colours that lie on and beside each other.
//!
//! Imports: base, read::job::{codes, look_spec, rows, section}.

use super::codes;
use super::look_spec::LookSpec;
use super::rows::look as rows;
use super::section::{Item, Section};
use crate::base::diag::{Diagnostic, ErrorGuaranteed};

/// Reads the section.
pub(super) fn read(section: Section<'_>) -> Result<LookSpec, ErrorGuaranteed> {
    let words = section.key(&rows::WORDS).or_usual();
    let motifs = section.key(&rows::MOTIFS).or_usual();
    let quiet = section
        .own(&rows::QUIET, |item| item.list(Item::number))
        .counting(2..=2, "numbers, such as [1.25, 2.2]")
        .held(|list, at| {
            let sound =
                matches!(list[..], [low, high] if (1.0..=21.0).contains(&low) && low < high && high <= 21.0);
            let d = Diagnostic::fault(&codes::OUT_OF_RANGE, at.clone(), "these are no two contrasts");
            (!sound).then(|| {
                d.measured(format!("{list:?}")).allowed("1 to 21, the smaller first").help("correct them")
            })
        })
        .or(LookSpec::default().quiet.to_vec());
    let eyes = section.key(&rows::COLOUR_SIGHT).or_usual();
    let small_piece = section.key(&rows::SMALL_PIECE).or_usual();
    section.done();
    let quiet = quiet?;
    Ok(LookSpec {
        words: words?,
        motifs: motifs?,
        quiet: [quiet[0], quiet[1]],
        eyes: eyes?,
        small_piece: small_piece?,
    })
}
