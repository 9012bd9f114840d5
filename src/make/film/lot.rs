//! Lots: panels on film. A lot is laid out as one piece; on the sheet it is its pieces, and the carrier round them.
//!
//! Imports: base, make::piece, make::film::sheet.

use super::sheet::{Carrier, Placed};
use crate::base::frame::{Art, Point, Rigid, Sheet};
use crate::make::piece::{Kind, Piece};
use std::collections::BTreeMap;

/// The pieces that a piece stands for: those of a panel, or itself.
pub(super) fn members(piece: &Piece) -> Vec<&Piece> {
    match &piece.kind {
        Kind::Lot { of, .. } => of.iter().collect(),
        _ => vec![piece],
    }
}

/// Where a piece of a panel lies on the sheet, the panel at a pose. A sheet that is cut from the back turns the panel
/// over as a whole: its pieces are turned over first, each in its own frame, so their turns and places are mirrored.
pub(super) fn in_lot(
    lot: &Piece,
    piece: &Piece,
    pose: &Rigid<Art, Sheet>,
    mirrored: bool,
) -> Rigid<Art, Sheet> {
    let own: Rigid<Art, Art> = piece.pose.then(&lot.pose.inverse());
    let (c, s, x, y) = own.parts();
    let own = if mirrored { Rigid::from_parts(c, -s, Point::mm(-x, y)) } else { own };
    own.then(pose)
}

/// Carriers of the lots among what lies on a sheet: pose, piece and cup of each.
pub(super) fn carriers<'a>(
    laid: impl Iterator<Item = (Rigid<Art, Sheet>, &'a Piece, u32)>,
    mirrored: bool,
) -> Vec<Carrier> {
    let lots = laid.filter(|l| matches!(l.1.kind, Kind::Lot { .. }));
    let carrier = |(pose, piece, cup): (Rigid<Art, Sheet>, &Piece, u32)| {
        let outline = if mirrored { piece.outline.mirrored() } else { piece.outline.clone() };
        let lines: &[[[f64; 2]; 2]] = if let Kind::Lot { parting, .. } = &piece.kind { parting } else { &[] };
        let there = |p: [f64; 2]| {
            let p = pose.apply(Point::mm(if mirrored { -p[0] } else { p[0] }, p[1]));
            [p.x, p.y]
        };
        let parting = lines.iter().map(|l| l.map(there)).collect();
        Carrier { first: piece.number, cup, outline: outline.moved(&pose), parting }
    };
    lots.map(carrier).collect()
}

/// Pieces of a panel one after another, in the order of the cut; panels where the first of each came.
pub(super) fn together<'a>(pieces: impl Iterator<Item = &'a Piece>, placed: &mut [Placed]) {
    let mut lot_of: BTreeMap<u32, u32> = BTreeMap::new();
    for piece in pieces {
        if let Kind::Lot { of, .. } = &piece.kind {
            of.iter().for_each(|p| _ = lot_of.insert(p.number, piece.number));
        }
    }
    if lot_of.is_empty() {
        return;
    }
    let lot = |p: &Placed| (!p.spare).then(|| lot_of.get(&p.number)).flatten().map(|l| (p.cup, *l));
    let first: Vec<usize> = (0..placed.len())
        .map(|i| match lot(&placed[i]) {
            Some(l) => placed.iter().position(|p| lot(p) == Some(l)).unwrap_or(i),
            None => i,
        })
        .collect();
    let mut order: Vec<usize> = (0..placed.len()).collect();
    order.sort_by_key(|i| (first[*i], *i));
    let sorted: Vec<Placed> = order.into_iter().map(|i| placed[i].clone()).collect();
    placed.clone_from_slice(&sorted);
}
