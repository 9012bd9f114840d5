//! What a checked job says. Every number here is within its range; lengths are millimetres.
//!
//! Sections of other stages (decals, finish) are added here by the module that reads them.
//!
//! Imports: base, read::job::{keys, families, alike}.

use super::families::Family;
use super::keys::Worded;
use crate::base::units::{Angle, Ml, Mm};

/// A film by its place in [`super::Job::films`].
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct FilmId(pub usize);

/// The cup as the tape says it.
#[derive(Clone, Debug, PartialEq)]
pub struct CupSpec {
    /// Two or more readings, lowest first, at different heights.
    pub rings: Vec<Ring>,
    /// Length of the wall from the base edge to the rim, along the wall.
    pub wall: Mm,
    /// Standard uncertainty of one reading, as girth: pi times that of a diameter.
    pub tape: Mm,
    /// Standard uncertainty of the height of a ring.
    pub marks: Mm,
    /// Standard uncertainty that all girths share: thickness and slack of the tape, which no fit can show.
    pub common: Mm,
    /// Bands of wall kept free of film.
    pub keep_clear: KeepClear,
    /// Where the seam runs, from the front line; default 180 degrees, the back.
    pub seam: Angle,
    /// Is it to run where it crosses least?
    pub seam_best: bool,
    /// Windows of the wall taken by handles, none over another.
    pub handles: Vec<Handle>,
    /// Film overlap at the seam; 0 is butt.
    pub lap: Mm,
    /// Thickness of what lies under the film and was not there when the cup was measured.
    pub build_up: Mm,
    /// Stated capacity, for a plausibility check.
    pub capacity: Option<Ml>,
    /// What printed templates did on the cup, in the order of the job.
    pub trials: Vec<TrialWrap>,
    /// Is the wall a smooth curve, as a straightedge laid up it shows?
    pub curved: bool,
    /// Outlines of the wall from photographs.
    pub outlines: Vec<Outline>,
    /// What no border between the parts of a smooth wall may cross: set when motifs and decals are known.
    pub whole: Whole,
    /// The kind of cup that it is one of, if it comes from the maker's blanks.
    pub alike: Option<super::alike::Alike>,
    /// What pieces keep off an edge of the wall, on either side: half the largest clearance of the job, so that
    /// pieces across an edge keep theirs.
    pub beside_edges: Mm,
}

/// What lies whole on a smooth wall: borders between its parts keep off it.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Whole {
    /// Heights from and to that pieces with places of their own take.
    pub spans: Vec<(Mm, Mm)>,
    /// Height of the tallest piece that is spread, with what it keeps off; one part at least is as high.
    pub tallest: Mm,
    /// Heights between which that part must be so high.
    pub within: (Mm, Mm),
}

impl Whole {
    /// Nothing is asked.
    pub fn is_nothing(&self) -> bool {
        self.spans.is_empty() && self.tallest <= Mm::ZERO
    }
}

/// The wall's outline from a photograph: how its girth runs, up to a constant and a slope.
#[derive(Clone, Debug, PartialEq)]
pub struct Outline {
    /// Heights up the wall and girths there, lowest first; five or more.
    pub points: Vec<(Mm, Mm)>,
    /// How far one girth strays from the others, as a standard uncertainty.
    pub strays: Mm,
}

/// What a printed template did on the cup: gaps of its ends, overlaps negative; at least one.
#[derive(Clone, Debug, PartialEq)]
pub struct TrialWrap {
    /// The signs on it; none: the template that the job made before this wrap.
    pub template: Option<String>,
    /// Thickness of the paper.
    pub paper: Mm,
    /// What its bar of 100 mm measures.
    pub bars: Mm,
    /// At the rim.
    pub rim: Option<Mm>,
    /// At half the height of the wall.
    pub middle: Option<Mm>,
    /// At the base edge.
    pub base: Option<Mm>,
    /// Standard uncertainty of one gap.
    pub strays: Mm,
}

/// What was read at one height.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Ring {
    /// Up from the base edge, along the wall.
    pub slant: Mm,
    /// Circumference there: the mean, where it was read several times.
    pub girth: Mm,
    /// How many times it was read.
    pub reads: u32,
    /// Sum of the squares of the repeats about their mean, mm^2.
    pub scatter: f64,
    /// Its place in the job's list, counted from 0; the first, where several entries stand for one height.
    pub place: usize,
    /// An edge is felt there: the wall below and above it are two cones.
    pub edge: bool,
}

impl Ring {
    /// Read once.
    pub fn once(slant: Mm, girth: Mm) -> Ring {
        Ring { slant, girth, reads: 1, scatter: 0.0, place: 0, edge: false }
    }
}

/// Widths of the bands at the two edges, along the wall.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct KeepClear {
    /// Down from the rim.
    pub rim: Mm,
    /// Up from the base edge.
    pub base: Mm,
}

/// A handle's window.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Handle {
    /// Its middle, from the front line.
    pub azimuth: Angle,
    /// Width along the wall's parallel, measured at its middle height.
    pub width: Mm,
    /// Lowest slant.
    pub from: Mm,
    /// Highest slant.
    pub to: Mm,
}

/// How the film comes.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Stock {
    /// Sheets of a size.
    Sheet {
        /// Left to right on the cutter.
        width: Mm,
        /// Along the feed.
        height: Mm,
    },
    /// A roll of a width.
    Roll {
        /// Left to right on the cutter.
        width: Mm,
        /// Longest cut that the maker's cutter takes.
        longest: Mm,
    },
}

/// How far a piece may be turned on the film.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Grain {
    /// Any angle.
    Free,
    /// As drawn or upside down.
    Half,
    /// As drawn only.
    Fixed,
}

/// A film.
#[derive(Clone, Debug, PartialEq)]
pub struct FilmSpec {
    /// Name, used in file names: lower-case letters, digits and hyphens; unique.
    pub name: String,
    /// Colour for pictures, `#rrggbb`.
    pub colour: Rgb,
    /// How it comes.
    pub stock: Stock,
    /// Unusable edge all round.
    pub margin: Mm,
    /// Least distance between two pieces on the sheet.
    pub spacing: Mm,
    /// Smallest feature that can be weeded.
    pub weed: Mm,
    /// Thickness with its adhesive.
    pub thickness: Mm,
    /// Part of itself that it stretches or shortens without a wrinkle.
    pub take_up: f64,
    /// Cut from the back: the file is mirrored.
    pub mirrored: bool,
    /// How pieces may turn.
    pub grain: Grain,
    /// How it takes the light, for pictures.
    pub sheen: Sheen,
    /// Stock, spares, weeding aids, the cutter's rates.
    pub cut: super::nest::CutSpec,
}

impl FilmSpec {
    /// What a film takes up, unless it was measured: a default, no source.
    pub const USUAL_TAKE_UP: f64 = 0.01;
}

/// How a film takes the light.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Sheen {
    /// A clear light on a smooth face.
    #[default]
    Gloss,
    /// No light of its own.
    Matt,
    /// A broad, bright sheen in its own colour.
    Metallic,
    /// A soft sheen that turns white.
    Pearl,
}

/// A colour of a picture.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Rgb(pub [u8; 3]);

impl std::fmt::Display for Rgb {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "#{:02x}{:02x}{:02x}", self.0[0], self.0[1], self.0[2])
    }
}

/// Size of art on the cup.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum ArtSize {
    /// As wide as this.
    Width(Mm),
    /// As high as this.
    Height(Mm),
    /// Its own size: only art with a physical size can do this.
    Own,
}

/// How a motif may turn from upright.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Turning {
    /// Stands on the generator.
    Upright,
    /// Leans by at most this to either side.
    Within(Angle),
    /// Any way.
    Free,
}

/// Where a motif's anchor goes.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct WallPose {
    /// From the front line, to the viewer's right.
    pub azimuth: Angle,
    /// Up from the base edge, along the wall.
    pub slant: Mm,
    /// Counter-clockwise from upright to the generator.
    pub turn: Angle,
}

/// Where a motif goes.
#[derive(Clone, Debug, PartialEq)]
pub enum Placing {
    /// Exactly there.
    Pinned(Vec<WallPose>),
    /// So many, spread over the free wall.
    Spread {
        /// How many.
        copies: usize,
        /// How they may turn.
        turning: Turning,
    },
    /// As many as fit beside what is said exactly.
    Many {
        /// How many there are.
        at_most: usize,
        /// What one is worth beside the others.
        worth: f64,
        /// How they may turn.
        turning: Turning,
    },
}

impl Placing {
    /// How many copies.
    pub fn count(&self) -> usize {
        match self {
            Placing::Pinned(poses) => poses.len(),
            Placing::Spread { copies, .. } => *copies,
            Placing::Many { at_most, .. } => *at_most,
        }
    }
}

/// A motif of a printed sheet.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct OnSheet {
    /// Place of the sheet in the job's list.
    pub sheet: usize,
    /// Its number there.
    pub number: u32,
}

/// What a motif shows.
#[derive(Clone, Debug, PartialEq)]
pub enum MotifArt {
    /// An SVG file beside the job.
    Drawing(String),
    /// A motif of a printed sheet.
    Printed {
        /// Which.
        on: OnSheet,
        /// Place of the pick that chose it, if the maker did not.
        pick: Option<usize>,
    },
}

impl MotifArt {
    /// The drawing's file.
    pub fn drawing(&self) -> Option<&str> {
        match self {
            MotifArt::Drawing(file) => Some(file),
            MotifArt::Printed { .. } => None,
        }
    }
    /// The motif of a printed sheet.
    pub fn printed(&self) -> Option<OnSheet> {
        match self {
            MotifArt::Drawing(_) => None,
            MotifArt::Printed { on, .. } => Some(*on),
        }
    }
}

/// A motif.
#[derive(Clone, Debug, PartialEq)]
pub struct MotifSpec {
    /// What it shows.
    pub art: MotifArt,
    /// Size on the cup, border not counted.
    pub size: ArtSize,
    /// Film it is cut from.
    pub film: FilmId,
    /// Where.
    pub placing: Placing,
    /// Least distance to everything else.
    pub clearance: Mm,
    /// Film left round the art: an outward offset.
    pub border: Mm,
    /// Places too narrow for its film are thickened or filled.
    pub mend: bool,
    /// When it goes on.
    pub pass: Pass,
}

/// A film step that something goes on in.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Pass {
    /// Its name, where the job says one.
    pub name: Option<String>,
    /// Its place among the film steps, from 0.
    pub order: usize,
}

/// What accent spots look like.
#[derive(Clone, Debug, PartialEq)]
pub enum SpotShape {
    /// A built-in family.
    Family(Family),
    /// The maker's own outlines: SVG files beside the job.
    Own(Vec<String>),
}

impl SpotShape {
    /// The files that it names; none for a family.
    pub fn files(&self) -> &[String] {
        match self {
            SpotShape::Own(files) => files,
            SpotShape::Family(_) => &[],
        }
    }
}

/// How far spots may change to even out the gaps.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Adapt {
    /// Rigid copies.
    AsDrawn,
    /// Outline points may move by this part of the spot's size (0.15 is 15 percent).
    Flex(f64),
    /// Cells grown until only an even channel is left.
    Mosaic,
}

/// How spots turn.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum SpotTurn {
    /// Any way.
    Free,
    /// Upright to the generator.
    Upright,
    /// Along the nearest outline.
    Along,
}

/// A fill of accent spots.
#[derive(Clone, Debug, PartialEq)]
pub struct AccentSpec {
    /// What they look like.
    pub shapes: Vec<SpotShape>,
    /// Their shares of the spots, one for each, summing to 1.
    pub shares: Vec<f64>,
    /// Smallest size (longest extent).
    pub smallest: Mm,
    /// Largest size.
    pub largest: Mm,
    /// Least distance to everything.
    pub gap: Mm,
    /// Films and their shares (summing to 1).
    pub films: Vec<(FilmId, f64)>,
    /// How far they adapt.
    pub adapt: Adapt,
    /// How they turn.
    pub turn: SpotTurn,
    /// Spots as drawn: spend some seconds on a closer fill.
    pub polish: bool,
    /// What the films' shares are shares of.
    pub share_by: ShareBy,
    /// What its limits are like.
    pub edge: Edge,
    /// When it goes on.
    pub pass: Pass,
}

/// What the limits of a fill are like, at rim and base.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub enum Edge {
    /// Straight round the cup.
    #[default]
    Straight,
    /// Ragged inwards by up to so much.
    Ragged(Mm),
}

/// What the shares of an accent fill's films are shares of.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum ShareBy {
    /// The number of spots.
    #[default]
    Count,
    /// Their area.
    Area,
}

/// A paper that templates and maps are printed on.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Paper {
    /// ISO A4.
    A4,
    /// ISO A3.
    A3,
    /// US Letter.
    Letter,
    /// US Legal.
    Legal,
    /// US Tabloid.
    Tabloid,
}

impl Paper {
    /// All of them.
    pub const ALL: [Paper; 5] = [Paper::A4, Paper::A3, Paper::Letter, Paper::Legal, Paper::Tabloid];
    /// Name in job and file names.
    pub fn name(self) -> &'static str {
        self.word()
    }
    /// Shorter and longer side (ISO 216; US Letter, Legal and Tabloid are 8.5 x 11, 8.5 x 14 and 11 x 17 in).
    pub fn sides(self) -> (Mm, Mm) {
        match self {
            Paper::A4 => (Mm(210.0), Mm(297.0)),
            Paper::A3 => (Mm(297.0), Mm(420.0)),
            Paper::Letter => (Mm(215.9), Mm(279.4)),
            Paper::Legal => (Mm(215.9), Mm(355.6)),
            Paper::Tabloid => (Mm(279.4), Mm(431.8)),
        }
    }
}

/// Which way a paper lies.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Lie {
    /// As takes fewer pages.
    #[default]
    Either,
    /// Upright.
    Portrait,
    /// Level.
    Landscape,
}

/// What the printer makes of the two bars of 100 mm: measured on a print made without a correction. By the
/// sides of the paper, so that they hold whichever way it lies.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PrinterBars {
    /// Length of the bar along the shorter side.
    pub short: Mm,
    /// Length of the bar along the longer side.
    pub long: Mm,
}

impl PrinterBars {
    /// A printer that needs no correction.
    pub const TRUE: PrinterBars = PrinterBars { short: Mm(100.0), long: Mm(100.0) };
}

/// What stands behind the cup in pictures.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Ground {
    /// Nothing.
    Transparent,
    /// A colour, and a shadow at the cup's foot.
    Plain(Rgb),
}

/// Papers and pictures.
#[derive(Clone, Debug, PartialEq)]
pub struct PrintSpec {
    /// Papers to tile over; at least one, none twice.
    pub papers: Vec<Paper>,
    /// Which way they lie.
    pub lie: Lie,
    /// The printer's correction.
    pub bars: PrinterBars,
    /// Ground of pictures.
    pub ground: Ground,
    /// Colour of the bare cup in pictures.
    pub cup: Rgb,
}

impl Default for PrintSpec {
    /// A4 and Letter, a true printer, a transparent ground, brushed steel.
    fn default() -> PrintSpec {
        PrintSpec {
            papers: vec![Paper::A4, Paper::Letter],
            lie: Lie::Either,
            bars: PrinterBars::TRUE,
            ground: Ground::Transparent,
            cup: Rgb([0xd9, 0xd8, 0xd4]),
        }
    }
}

impl Worded for Grain {
    const WORDS: &'static [(&'static str, Grain)] =
        &[("free", Grain::Free), ("half", Grain::Half), ("fixed", Grain::Fixed)];
}
impl Worded for Sheen {
    const WORDS: &'static [(&'static str, Sheen)] = &[
        ("gloss", Sheen::Gloss),
        ("matt", Sheen::Matt),
        ("metallic", Sheen::Metallic),
        ("pearl", Sheen::Pearl),
    ];
}
impl Worded for SpotTurn {
    const WORDS: &'static [(&'static str, SpotTurn)] =
        &[("free", SpotTurn::Free), ("upright", SpotTurn::Upright), ("along", SpotTurn::Along)];
}
impl Worded for ShareBy {
    const WORDS: &'static [(&'static str, ShareBy)] = &[("count", ShareBy::Count), ("area", ShareBy::Area)];
}
impl Worded for Lie {
    const WORDS: &'static [(&'static str, Lie)] =
        &[("either", Lie::Either), ("portrait", Lie::Portrait), ("landscape", Lie::Landscape)];
}
impl Worded for Paper {
    const WORDS: &'static [(&'static str, Paper)] = &[
        ("a4", Paper::A4),
        ("a3", Paper::A3),
        ("letter", Paper::Letter),
        ("legal", Paper::Legal),
        ("tabloid", Paper::Tabloid),
    ];
}
