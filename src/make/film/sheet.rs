//! [`SheetLayout`]: what is cut from one sheet of film, in cut order.
//!
//! Imports: base, read::job, make::piece.

use crate::base::frame::{Art, Rigid, Sheet};
use crate::base::shape::Region;
use crate::base::units::Mm;
use crate::make::piece::Piece;
use crate::read::job::FilmId;

/// One piece on a sheet.
#[derive(Clone, Debug, PartialEq)]
pub struct Placed {
    /// The piece's number.
    pub number: u32,
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
}

impl SheetLayout {
    /// Where a piece's outline lies on this sheet, from the piece itself: the twin of [`Placed::cuts`].
    pub fn outline(&self, piece: &Piece, pose: &Rigid<Art, Sheet>) -> Region<Sheet> {
        if self.mirrored { piece.cut().mirrored().moved(pose) } else { piece.cut().moved(pose) }
    }
}
