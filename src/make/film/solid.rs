//! [`Solid`]: an outline prepared for laying out: flattened once, turned by each allowed angle, found again
//! by shape.
//!
//! Imports: base, outline, read::job.

use crate::base::frame::{Art, Point, Rigid, Sheet};
use crate::base::tolerance::{FLATTEN, NEST_FLATTEN};
use crate::base::units::Angle;
use crate::outline::plane::{convex_hull, points_box, ring_area};
use crate::outline::{Flat, Region};
use crate::read::job::Grain;
use std::collections::BTreeMap;

/// Part of a quarter turn that is rounding of an angle: a corner 3 m away moves by 5e-9 mm.
const SAME_QUARTER: f64 = 1e-12;

/// One shape: pieces of the same outline share it.
#[derive(Clone, Debug)]
pub struct Solid {
    /// Polylines within [`FLATTEN`] of the curves, in the piece's frame, already mirrored if the film is.
    pub fine: Flat<Art>,
    /// Polylines within [`NEST_FLATTEN`]: what masks are made of.
    pub coarse: Flat<Art>,
    /// Area of film it takes, holes not counted.
    pub area: f64,
    /// Area of its convex hull: how much it is in the way.
    pub hull_area: f64,
    /// Turns it may have, the one tried first in front.
    pub turns: Vec<Turn>,
}

/// A solid at one angle.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Turn {
    /// Cosine of the angle, exact at quarter turns.
    pub cos: f64,
    /// Sine of the angle, exact at quarter turns.
    pub sin: f64,
    /// Lower left corner of the turned bounding box, from the piece's origin.
    pub min: [f64; 2],
    /// Width and height of the turned bounding box.
    pub size: [f64; 2],
}

impl Turn {
    /// The pose that puts the lower left corner of the bounding box at `at`.
    pub fn pose(&self, at: [f64; 2]) -> Rigid<Art, Sheet> {
        Rigid::from_parts(self.cos, self.sin, Point::mm(at[0] - self.min[0], at[1] - self.min[1]))
    }
}

impl Solid {
    /// From an outline; `mirrored` turns it over first.
    pub fn new(outline: &Region<Art>, mirrored: bool) -> Solid {
        let outline = if mirrored { outline.mirrored() } else { outline.clone() };
        let fine = outline.flat(FLATTEN);
        let points: Vec<[f64; 2]> = fine.rings.iter().flatten().copied().collect();
        Solid {
            coarse: outline.flat(NEST_FLATTEN),
            area: fine.area(),
            hull_area: ring_area(&convex_hull(points)),
            fine,
            turns: Vec::new(),
        }
    }
    /// The solid at an angle.
    pub fn turned(&self, angle: Angle) -> Turn {
        let (cos, sin) = exact_cos_sin(angle);
        let turn = |p: &[f64; 2]| [cos * p[0] - sin * p[1], sin * p[0] + cos * p[1]];
        let [x0, y0, x1, y1] = points_box(self.fine.rings.iter().flatten().map(turn));
        // Chords lie inside a convex curve: the box of the curve itself is larger by at most FLATTEN.
        let e = FLATTEN.0;
        Turn { cos, sin, min: [x0 - e, y0 - e], size: [x1 - x0 + 2.0 * e, y1 - y0 + 2.0 * e] }
    }
}

/// Cosine and sine without rounding dust at quarter turns, so that upright pieces stay exactly upright.
pub fn exact_cos_sin(angle: Angle) -> (f64, f64) {
    let quarter = angle.deg() / 90.0;
    if (quarter - quarter.round()).abs() < SAME_QUARTER {
        return [(1.0, 0.0), (0.0, 1.0), (-1.0, 0.0), (0.0, -1.0)][quarter.round().rem_euclid(4.0) as usize];
    }
    (angle.cos(), angle.sin())
}

/// Angles that a film's grain allows, `free` of them where any is allowed.
pub fn angles(grain: Grain, free: usize) -> Vec<Angle> {
    let n = match grain {
        Grain::Fixed => 1,
        Grain::Half => 2.min(free),
        Grain::Free => free,
    };
    (0..n).map(|i| Angle::degrees(360.0 * i as f64 / n as f64)).collect()
}

/// All shapes of a film's pieces, and which piece has which.
#[derive(Clone, Debug, Default)]
pub struct Solids {
    /// Each shape once.
    pub list: Vec<Solid>,
    known: BTreeMap<Vec<u64>, usize>,
}

impl Solids {
    /// A solid of its own, for a piece that does not turn as others of its shape.
    pub fn apart(&mut self, outline: &Region<Art>, mirrored: bool) -> usize {
        self.list.push(Solid::new(outline, mirrored));
        self.list.len() - 1
    }
    /// The place of an outline's solid, made if it is new.
    pub fn of(&mut self, outline: &Region<Art>, mirrored: bool) -> usize {
        let solid = Solid::new(outline, mirrored);
        let key: Vec<u64> = solid
            .fine
            .rings
            .iter()
            .flat_map(|r| r.iter().flatten().map(|v| v.to_bits()).chain([u64::MAX]))
            .collect();
        *self.known.entry(key).or_insert_with(|| {
            self.list.push(solid);
            self.list.len() - 1
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn quarter_turns_are_exact() {
        assert_eq!(exact_cos_sin(Angle::degrees(90.0)), (0.0, 1.0));
        assert_eq!(exact_cos_sin(Angle::degrees(-90.0)), (0.0, -1.0));
        assert_eq!(exact_cos_sin(Angle::degrees(360.0)), (1.0, 0.0));
    }

    #[test]
    fn same_outlines_share_a_solid() {
        let mut all = Solids::default();
        let a = Region::polygon(&[[0.0, 0.0], [4.0, 0.0], [4.0, 3.0]]);
        let b = Region::polygon(&[[0.0, 0.0], [4.0, 0.0], [4.0, 3.5]]);
        assert_eq!([all.of(&a, false), all.of(&b, false), all.of(&a.clone(), false)], [0, 1, 0]);
        assert_ne!(all.of(&a, true), 0);
    }
}
