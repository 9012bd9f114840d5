//! What a job says of printed sheets, and of what is picked from them.
//!
//! Imports: base, read::job::{keys, model}.

use super::keys::Worded;
use super::model::{OnSheet, Pass, Sheen, Turning};
use crate::base::units::Mm;

/// A printed sheet at hand: its picture, and how motifs are found on it.
#[derive(Clone, Debug, PartialEq)]
pub struct SheetSpec {
    /// Name, used in file names; no film or sheet shares it.
    pub name: String,
    /// Picture beside the job.
    pub picture: String,
    /// How many pixels are a millimetre.
    pub scale: Scale,
    /// What a bar of 100 mm on the sheet measures in the picture by that scale.
    pub bar: Option<Mm>,
    /// Parts nearer than this are one motif.
    pub together: Mm,
    /// Motifs smaller than this, mm2, are dirt.
    pub speck: f64,
    /// Which holes are kept.
    pub holes: Holes,
    /// Clear film left round the print; negative: cut inside it.
    pub border: Mm,
    /// Gaps of the cut outline narrower than this are bridged.
    pub bridge: Mm,
    /// What cuts it.
    pub cut_by: CutBy,
    /// Thickness with its adhesive.
    pub thickness: Mm,
    /// How it takes the light, in pictures.
    pub sheen: Sheen,
    /// Motifs that are cut out already.
    pub gone: Vec<Gone>,
}

/// What says that motifs are cut out already.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Gone {
    /// The number of one.
    Number(u32),
    /// A file that an earlier kit left.
    File(String),
}

/// How many pixels of a picture are a millimetre.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Scale {
    /// As the file says.
    File,
    /// So many pixels an inch.
    Dpi(f64),
}

/// Which holes of a print are holes of the motif.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Holes {
    /// Those at least so large (mm2) and so wide.
    Kept {
        /// Least area, mm2.
        least: f64,
        /// Least width.
        wide: Mm,
    },
    /// None: all are filled.
    Filled,
}

/// What cuts a printed sheet.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum CutBy {
    /// Scissors: from the sheet's edge inward.
    #[default]
    Scissors,
    /// A machine: on the shortest way.
    Machine,
}

impl Worded for CutBy {
    const WORDS: &'static [(&'static str, CutBy)] =
        &[("scissors", CutBy::Scissors), ("machine", CutBy::Machine)];
}

/// Motifs that the program picks from printed sheets.
#[derive(Clone, Debug, PartialEq)]
pub struct PickSpec {
    /// Places of the sheets, those to be used up first in front.
    pub from: Vec<usize>,
    /// How much.
    pub much: Much,
    /// Least and greatest longest extent of the print.
    pub sizes: [Mm; 2],
    /// Must be used.
    pub with: Vec<OnSheet>,
    /// Must not be used.
    pub without: Vec<OnSheet>,
    /// What is evened out round the cup.
    pub even: Even,
    /// Least distance to everything else.
    pub clearance: Mm,
    /// How they may turn.
    pub turning: Turning,
    /// When they go on.
    pub pass: Pass,
}

/// How much is picked.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Much {
    /// So many motifs.
    Count(usize),
    /// So many per cent of the free wall.
    Cover(f64),
}

/// What is evened out round the cup.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Even {
    /// Neighbours of unlike colour.
    pub colour: bool,
    /// Large and small dealt round the cup.
    pub size: bool,
}
