//! How far the hand goes on the sheet from one spot to the next one placed.
//!
//! Imports: make::piece, make::film::sheet.

use super::sheet::{Placed, SheetLayout};
use crate::make::piece::{Kind, Piece};

/// Is it placed in the order of spots?
pub fn is_spot(piece: &Piece) -> bool {
    matches!(piece.kind, Kind::Spot { .. } | Kind::Tint { .. })
}

/// Places of a sheet's spots, spares left out, in the order in which they are placed.
pub fn places<'a>(sheet: &SheetLayout, piece_at: &dyn Fn(&Placed) -> &'a Piece) -> Vec<[f64; 2]> {
    let spot = |p: &&Placed| !p.spare && is_spot(piece_at(p));
    let mut all: Vec<&Placed> = sheet.placed.iter().filter(spot).collect();
    all.sort_by_key(|p| (p.cup, p.number));
    let place = |p: &&Placed| {
        let (_, _, x, y) = p.pose.parts();
        [x, y]
    };
    all.iter().map(place).collect()
}

/// Hops of a row of spots, in the order in which they are placed.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Hops {
    /// Each hop, mm; sheets that follow each other are not joined by one.
    pub each: Vec<f64>,
    /// Hops whose end is among the six spots nearest to their start, of all spots of the sheet.
    pub among_six: usize,
}

/// How many spots count as near.
const NEAR: usize = 6;
/// A hop beyond this is a search, mm.
const FAR: f64 = 40.0;

impl Hops {
    /// Of spots at these places of one sheet.
    pub fn of(places: &[[f64; 2]]) -> Hops {
        let far = |a: &[f64; 2], b: &[f64; 2]| libm::hypot(a[0] - b[0], a[1] - b[1]);
        let each: Vec<f64> = places.windows(2).map(|w| far(&w[0], &w[1])).collect();
        let near = |(i, hop): &(usize, &f64)| {
            let nearer = |(j, p): &(usize, &[f64; 2])| j != i && far(&places[*i], p) < **hop;
            places.iter().enumerate().filter(nearer).count() < NEAR
        };
        let among_six = each.iter().enumerate().filter(near).count();
        Hops { each, among_six }
    }
    /// Both together.
    #[must_use]
    pub fn and(mut self, more: Hops) -> Hops {
        self.each.extend(more.each);
        self.among_six += more.among_six;
        self
    }
    /// The mean hop, mm; none is zero.
    pub fn mean(&self) -> f64 {
        self.each.iter().sum::<f64>() / self.each.len().max(1) as f64
    }
    /// Hops longer than 40 mm.
    pub fn far(&self) -> usize {
        self.each.iter().filter(|h| **h > FAR).count()
    }
    /// The part of hops that end at one of the six spots nearest.
    pub fn near_part(&self) -> f64 {
        self.among_six as f64 / self.each.len().max(1) as f64
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Closed form: in rows up and down by turns every hop is the pitch, and each ends at a neighbour.
    #[test]
    fn rows_up_and_down_hop_by_the_pitch() {
        let place = |i: usize| {
            let (row, at) = (i / 10, i % 10);
            [7.0 * if row % 2 == 0 { at } else { 9 - at } as f64, 7.0 * row as f64]
        };
        let hops = Hops::of(&(0..50).map(place).collect::<Vec<_>>());
        assert!((hops.mean() - 7.0).abs() < 1e-12);
        assert_eq!((hops.each.len(), hops.among_six, hops.far()), (49, 49, 0));
    }

    #[test]
    fn the_seventh_nearest_is_not_near() {
        let mut places = vec![[0.0, 0.0]];
        places.push([10.0, 0.0]);
        places.extend((1..=6).map(|i| [0.0, f64::from(i)]));
        assert_eq!(Hops::of(&places).among_six, Hops::of(&places[1..]).among_six);
        assert_eq!(Hops::of(&[]).mean(), 0.0);
    }
}
