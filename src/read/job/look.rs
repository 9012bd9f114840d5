//! `[look]`: what is asked of colours that lie on and beside each other.
//!
//! Imports: base, read::job::{codes, keys, rows, section}.

use super::codes;
use super::keys::Worded;
use super::rows::look as rows;
use super::section::{Item, Section};
use crate::base::diag::{Diagnostic, ErrorGuaranteed};
use crate::base::units::Mm;

/// Which eyes judge.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Eyes {
    /// Those with three cones, and those that lack one.
    All,
    /// Those with three cones.
    Usual,
}

impl Worded for Eyes {
    const WORDS: &'static [(&'static str, Eyes)] = &[("all", Eyes::All), ("usual", Eyes::Usual)];
}

/// What is asked.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LookSpec {
    /// Least contrast of words to what lies beneath.
    pub words: f64,
    /// Least contrast of motifs and layers.
    pub motifs: f64,
    /// Least and most of spots.
    pub quiet: [f64; 2],
    /// Who judges.
    pub eyes: Eyes,
    /// Spots narrower than this are counted.
    pub small_piece: Mm,
}

impl Default for LookSpec {
    fn default() -> LookSpec {
        LookSpec { words: 4.5, motifs: 3.0, quiet: [1.25, 2.2], eyes: Eyes::All, small_piece: Mm(4.0) }
    }
}

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
