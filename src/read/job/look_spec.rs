//! What is asked of colours that lie on and beside each other.
//!
//! Imports: base, read::job::keys.

use super::keys::Worded;
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
