//! What a checked decal says: its art or lettering, and the films under it.
//!
//! Imports: base, outline, read::job::{keys, model}.

use super::keys::Worded;
use super::model::{ArtSize, FilmId, Pass, Rgb};
use crate::base::units::{Angle, Mm};
use crate::outline::Join;

/// Corners sharper than this are told, and notches filled by a mend, where a job says nothing else.
pub const SHARPEST: Angle = Angle::radians(25.0 * std::f64::consts::PI / 180.0);

/// A decal: art or lettering and the films under it.
#[derive(Clone, Debug, PartialEq)]
pub struct DecalSpec {
    /// What its top shows.
    pub shows: Shows,
    /// Its words are those of a cup's row in the list of the order.
    pub row: Option<RowSpec>,
    /// How it lies on the taper.
    pub lies: Lies,
    /// Where its middle goes, from the front line.
    pub azimuth: Angle,
    /// How far up the wall its middle goes.
    pub up: Up,
    /// Counter-clockwise from upright.
    pub turn: Angle,
    /// The films under the top, base first; may be none.
    pub under: Vec<UnderSpec>,
    /// The art itself.
    pub top: TopSpec,
    /// Least distance to everything else.
    pub clearance: Mm,
    /// Size of the registration keys; none if the maker wants none.
    pub keys: Option<Mm>,
    /// How the layers come together.
    pub method: Method,
    /// How far a line may depart from level before it is said.
    pub level: Mm,
    /// Corners sharper than this are told.
    pub sharpest: Angle,
    /// Parts and holes smaller than this are told; none: twice the film's smallest weedable feature.
    pub island: Option<Mm>,
    /// Thicken and close what is too narrow for its film.
    pub mend: bool,
    /// When it goes on.
    pub pass: Pass,
    /// Wall that pieces of earlier passes leave free round it.
    pub halo: Option<Mm>,
}

/// What is the same on every cup of a list of names.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct RowSpec {
    /// Width and height that the name stays within, all its layers counted.
    pub window: (Mm, Mm),
    /// Height of capitals; chosen from the list if `None`.
    pub cap_height: Option<Mm>,
    /// Baseline over the middle of the window, once the list is known.
    pub baseline: Mm,
}

/// What a decal shows.
#[derive(Clone, Debug, PartialEq)]
pub enum Shows {
    /// Lettering.
    Words {
        /// The words and how they stand.
        words: Words,
        /// In which font.
        font: FontName,
    },
    /// A drawing: SVG art beside the job.
    Drawing {
        /// The file.
        art: String,
        /// How large.
        size: DrawingSize,
    },
}

/// A font as the maker names it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum FontName {
    /// A font file in the job's folder.
    File(String),
    /// A family: one of those that need no file, else one that the machine has.
    Family(String),
}

/// How lines stand over each other.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Align {
    /// Left edges in line.
    Left,
    /// Middles in line.
    #[default]
    Middle,
    /// Right edges in line.
    Right,
}

/// How large lettering is.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum LetterSize {
    /// Capitals this high.
    CapHeight(Mm),
    /// The widest line this wide, from ink to ink.
    Width(Mm),
    /// As large as fits a window.
    Fit {
        /// Of the window.
        width: Mm,
        /// Of the window.
        height: Mm,
    },
}

/// How large a drawing is.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum DrawingSize {
    /// By one of its sides, or its own.
    Art(ArtSize),
    /// As large as fits a window.
    Fit {
        /// Of the window.
        width: Mm,
        /// Of the window.
        height: Mm,
    },
}

/// What to letter.
#[derive(Clone, Debug, PartialEq)]
pub struct Words {
    /// Lines, top first.
    pub lines: Vec<String>,
    /// How they stand.
    pub align: Align,
    /// How large; a window is for the whole decal, its lower layers counted.
    pub size: LetterSize,
    /// Space added between letters, in parts of an em.
    pub letter_spacing: f64,
    /// Baseline to baseline, as a multiple of what the font suggests.
    pub line_spacing: f64,
}

/// How art lies on a taper.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Lies {
    /// As drawn: a straight line stays straight and departs from level at its ends.
    #[default]
    Rigid,
    /// The line follows the parallel, each letter stays as drawn.
    Upright,
    /// Level lines become parallels, upright lines generators.
    Bent,
}

/// How far up.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Up {
    /// From the base edge, along the wall.
    At(Mm),
    /// In the middle between the keep-clear bands.
    Centred,
}

/// A film under the art.
#[derive(Clone, Debug, PartialEq)]
pub struct UnderSpec {
    /// Film.
    pub film: FilmId,
    /// How far it reaches out beyond what lies above it.
    pub offset: Mm,
    /// Its outer corners.
    pub join: Join,
    /// Counters and gaps narrower than this are closed.
    pub close: Mm,
    /// Taken out under the layer above but for this overlap; none if the layer stays whole.
    pub overlap: Option<Mm>,
}

/// The top layer.
#[derive(Clone, Debug, PartialEq)]
pub struct TopSpec {
    /// The films and what each takes.
    pub films: TopFilms,
    /// Film left round the art.
    pub offset: Mm,
    /// Its outer corners.
    pub join: Join,
}

/// Which film takes what of the top.
#[derive(Clone, Debug, PartialEq)]
pub enum TopFilms {
    /// One takes all.
    One(FilmId),
    /// Parts take films in turn.
    InTurn(Split, Vec<FilmId>),
    /// Colours of the drawing.
    Colours(Vec<(Rgb, FilmId)>),
}

/// Parts of lettering.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Split {
    /// Line by line.
    Line,
    /// Word by word.
    Word,
    /// Letter by letter.
    Letter,
}

/// How the layers of a decal come together.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Method {
    /// One after another on the cup.
    #[default]
    LayerByLayer,
    /// On each other on the bench, then onto the cup as one.
    StackedFlat,
}

impl DecalSpec {
    /// Films of all layers, base first; the top's last.
    pub fn films(&self) -> Vec<FilmId> {
        let mut all: Vec<FilmId> = self.under.iter().map(|u| u.film).collect();
        match &self.top.films {
            TopFilms::One(f) => all.push(*f),
            TopFilms::InTurn(_, films) => all.extend(films),
            TopFilms::Colours(films) => all.extend(films.iter().map(|(_, f)| f)),
        }
        all
    }
    /// How far the base reaches out beyond the art.
    pub fn reach(&self) -> Mm {
        self.top.offset + self.under.iter().map(|u| u.offset).sum()
    }
    /// A few words for it: its text or its drawing's name.
    pub fn title(&self) -> String {
        match &self.shows {
            Shows::Words { words, .. } => words.lines.join(" / "),
            Shows::Drawing { art, .. } => {
                let name = art.rsplit('/').next().unwrap_or(art);
                name.strip_suffix(".svg").or_else(|| name.strip_suffix(".svgz")).unwrap_or(name).to_owned()
            }
        }
    }
}

/// Mitres reach at most this many times the offset unless the maker says otherwise.
pub const MITRE: f64 = 2.0;
pub(super) const MITRE_WORDS: &str = "2";

/// Outer corners of a layer, by their word.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Corners {
    /// Rounded.
    Round,
    /// Pointed, up to a limit.
    Mitred,
}

impl Worded for Corners {
    const WORDS: &'static [(&'static str, Corners)] =
        &[("round", Corners::Round), ("mitred", Corners::Mitred)];
}
impl Worded for Lies {
    const WORDS: &'static [(&'static str, Lies)] =
        &[("rigid", Lies::Rigid), ("upright", Lies::Upright), ("bent", Lies::Bent)];
}
impl Worded for Align {
    const WORDS: &'static [(&'static str, Align)] =
        &[("left", Align::Left), ("middle", Align::Middle), ("right", Align::Right)];
}
impl Worded for Split {
    const WORDS: &'static [(&'static str, Split)] =
        &[("line", Split::Line), ("word", Split::Word), ("letter", Split::Letter)];
}
impl Worded for Method {
    const WORDS: &'static [(&'static str, Method)] =
        &[("layer-by-layer", Method::LayerByLayer), ("stacked-flat", Method::StackedFlat)];
}
