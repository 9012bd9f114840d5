//! How hard to look for a tight layout, and what a film's section says about cutting: what is in stock,
//! spares, weeding aids and the cutter's rates.
//!
//! Imports: base, read::job::lay.

use super::lay::Laying;
use crate::base::units::Mm;

/// How much work goes into a layout; counted in steps, never seconds, so that the same job gives the same
/// sheets.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord)]
pub enum Effort {
    /// A first layout, pieces as drawn where they may be.
    Quick,
    /// A good layout: several angles, and the improving search for a while.
    #[default]
    Normal,
    /// The improving search for long: for film that is dear.
    Thorough,
}

/// Sheets of another size that are there already.
#[derive(Clone, Debug, PartialEq)]
pub struct InStock {
    /// Left to right on the cutter.
    pub width: Mm,
    /// Along the feed.
    pub height: Mm,
    /// How many.
    pub count: usize,
}

/// What a film's section says about cutting.
#[derive(Clone, Debug, PartialEq)]
pub struct CutSpec {
    /// Files with what earlier jobs left over; used first.
    pub leftovers: Vec<String>,
    /// Sheets in stock; used next, in this order.
    pub in_stock: Vec<InStock>,
    /// Spare copies of small pieces, as a part of their number.
    pub spares: f64,
    /// A piece with a longest extent up to this is small.
    pub small: Mm,
    /// Aids for weeding.
    pub weeding: Weeding,
    /// How fast the maker cuts and weeds.
    pub rates: Rates,
    /// How far the blade runs on past the start of an outline.
    pub overcut: Mm,
    /// How its pieces come to the wall.
    pub lay: Laying,
}

/// Aids for weeding.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Weeding {
    /// A frame round the used area, so far outside the pieces.
    pub frame: Option<Mm>,
    /// Lines through the waste, so far from one to the next.
    pub lines: Option<Mm>,
    /// Least distance of a line to a piece.
    pub clear: Mm,
}

/// How fast the maker cuts and weeds; the defaults are common practice without a source, to be edited.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Rates {
    /// Blade in the film, mm a second.
    pub cut: f64,
    /// Blade lifted, mm a second.
    pub travel: f64,
    /// Lowering and lifting the blade once, seconds.
    pub lift: f64,
    /// Freeing one piece of the waste round it, seconds.
    pub weed_piece: f64,
    /// Picking the waste out of one opening, seconds.
    pub weed_opening: f64,
    /// The job says how long weeding takes on this film; else finish.times.weed holds.
    pub weed_said: bool,
}

impl Rates {
    /// Common practice without a source.
    pub const USUAL: Rates =
        Rates { cut: 60.0, travel: 200.0, lift: 0.15, weed_piece: 5.0, weed_opening: 4.0, weed_said: false };
}

impl Default for Rates {
    fn default() -> Self {
        Rates::USUAL
    }
}

impl Default for CutSpec {
    fn default() -> Self {
        CutSpec {
            leftovers: Vec::new(),
            in_stock: Vec::new(),
            spares: 0.0,
            small: Mm(15.0),
            weeding: Weeding { frame: None, lines: None, clear: Mm(1.0) },
            rates: Rates::default(),
            overcut: Mm::ZERO,
            lay: Laying::default(),
        }
    }
}
