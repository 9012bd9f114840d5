//! What a job says of printed sheets, and of what is picked from them.
//!
//! Imports: base, read::job::{keys, model}.

use super::keys::Worded;
use super::model::{OnSheet, Paper, Pass, Sheen, Turning};
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
    /// What the maker prints herself, in place of a picture.
    pub own: Option<OwnSpec>,
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
    /// It is a photo: of a plane that holds something of known size.
    Photo(Known),
}

/// What of known size a photo shows.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Known {
    /// The page of eight discs that this program prints, on a paper.
    Frame(Paper),
    /// A bank card (ISO/IEC 7810, ID-1).
    Card,
    /// A whole sheet of paper that the film lies on.
    Paper(Paper),
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

/// A sheet that the maker prints herself.
#[derive(Clone, Debug, PartialEq)]
pub struct OwnSpec {
    /// What is on it.
    pub motifs: Vec<OwnMotif>,
    /// Its size, upright.
    pub paper: Paper,
    /// Pixels an inch of the print.
    pub dpi: f64,
    /// It is printed turned over, on the back of clear film.
    pub mirrored: bool,
    /// How far the print goes on beyond the cut.
    pub bleed: Mm,
    /// What the printer made of the marks.
    pub printed: Option<Printed>,
}

/// A motif that is printed.
#[derive(Clone, Debug, PartialEq)]
pub struct OwnMotif {
    /// Its picture beside the job.
    pub picture: String,
    /// How wide its print is.
    pub width: Mm,
    /// How many are printed.
    pub count: usize,
}

/// What the printer made of the marks.
#[derive(Clone, Debug, PartialEq)]
pub enum Printed {
    /// A scan, and pixels an inch of it if the file does not say them.
    Scan(String, Option<f64>),
    /// Read with a rule between the middles of the corner discs: top, right, bottom, left; from the corner
    /// beside the small disc to the one across, and the other.
    Rule([Mm; 4], [Mm; 2]),
}
