//! [`SheetLayout`]: what is cut from one sheet of film, in cut order.
//!
//! Imports: base, outline, read::job, make::piece, make::film::stock.

use super::stock::Source;
use crate::base::frame::{Art, Point, Rigid, Sheet};
use crate::base::units::Mm;
use crate::make::piece::Piece;
use crate::outline::{Bounds, Region};
use crate::read::job::FilmId;
use std::collections::BTreeSet;

/// One piece on a sheet.
#[derive(Clone, Debug, PartialEq)]
pub struct Placed {
    /// The piece's number.
    pub number: u32,
    /// The cup of an order that it is for, from 1; of a sheet that is cut several times, at its first cut. 0 where
    /// film is laid out for one cup.
    pub cup: u32,
    /// From the piece's frame (mirrored first, if the sheet is) to the sheet.
    pub pose: Rigid<Art, Sheet>,
    /// A spare copy, not on the map.
    pub spare: bool,
    /// Its outlines on the sheet in cut order with their start points chosen: holes before what holds them.
    pub cuts: Region<Sheet>,
}

/// One sheet (or one length of roll).
#[derive(Clone, Debug, PartialEq)]
pub struct SheetLayout {
    /// Film.
    pub film: FilmId,
    /// From 1, within the film: the `n` of `cut/<film>-<n>.svg`.
    pub index: usize,
    /// Left to right on the cutter.
    pub width: Mm,
    /// Along the feed: the sheet's height, or the length of roll used.
    pub height: Mm,
    /// Cut from the back: outlines are mirrored.
    pub mirrored: bool,
    /// In cut order.
    pub placed: Vec<Placed>,
    /// How often this sheet is cut.
    pub repeat: Repeat,
    /// What the sheet is taken from.
    pub stock: Taken,
    /// Weeding aids, cut after the pieces.
    pub aids: Aids,
}

/// A sheet that is cut several times.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Repeat {
    /// How often it is cut.
    pub times: u32,
    /// How many cups on each cut is from the one before.
    pub cups: u32,
}

impl Default for Repeat {
    fn default() -> Self {
        Repeat { times: 1, cups: 0 }
    }
}

/// What a sheet is taken from.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Taken {
    /// Bought, in stock, or left by an earlier job.
    pub source: Source,
    /// What there is of a leftover; the whole rectangle if `None`.
    pub shape: Option<Region<Sheet>>,
}

/// Weeding aids of a sheet.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Aids {
    /// Lines through the waste: two points each, in cut order.
    pub lines: Vec<[[f64; 2]; 2]>,
    /// The frame round the used area, cut last.
    pub frame: Option<Bounds<Sheet>>,
    /// Carriers that panels are lifted on: where the sheet is cut apart by hand, not cut by the machine.
    pub carriers: Vec<Carrier>,
}

/// The carrier of a panel.
#[derive(Clone, Debug, PartialEq)]
pub struct Carrier {
    /// The number of the panel's first piece.
    pub first: u32,
    /// The cup of an order that it is for; 0 where there is one.
    pub cup: u32,
    /// Its outline.
    pub outline: Region<Sheet>,
    /// Lines that part what is weeded off, two points each: cut after the pieces.
    pub parting: Vec<[[f64; 2]; 2]>,
}

impl Aids {
    /// Lines that part the waste of all panels.
    pub fn parting(&self) -> impl Iterator<Item = &[[f64; 2]; 2]> {
        self.carriers.iter().flat_map(|c| &c.parting)
    }
}

impl SheetLayout {
    /// The cups that a piece on it is for, one each time that the sheet is cut; 0 where there is one cup.
    pub fn cups_of(&self, placed: &Placed) -> impl Iterator<Item = u32> + use<> {
        let (cup, repeat) = (placed.cup, self.repeat);
        (0..repeat.times).map(move |k| cup + k * repeat.cups)
    }
    /// All cups that something on it is for, rising; none where there is one cup.
    pub fn cups(&self) -> Vec<u32> {
        let all: BTreeSet<u32> =
            self.placed.iter().flat_map(|p| self.cups_of(p)).filter(|c| *c > 0).collect();
        all.into_iter().collect()
    }
    /// Where a point of a piece lies on this sheet.
    pub fn shown(&self, p: Point<Art>, pose: &Rigid<Art, Sheet>) -> Point<Sheet> {
        pose.apply(if self.mirrored { Point::mm(-p.x, p.y) } else { p })
    }
    /// Where a piece's outline lies on this sheet, from the piece itself: the twin of [`Placed::cuts`].
    pub fn outline(&self, piece: &Piece, pose: &Rigid<Art, Sheet>) -> Region<Sheet> {
        if self.mirrored { piece.cut().mirrored().moved(pose) } else { piece.cut().moved(pose) }
    }
}
