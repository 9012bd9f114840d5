//! Marks: small triangles in pockets of the wall that no film covers. They belong to the wall and not to a panel: they
//! are pricked through the template once, and panels of all films that reach there use them.
//!
//! Imports: base, outline, read::job, make::cup, make::panel::near.

use super::near::Lying;
use crate::base::frame::{Art, Plane, Point, Rigid};
use crate::base::units::{Angle, Mm};
use crate::make::cup::{Development, WallPoint, Zone};
use crate::outline::{Bounds, Clearance, Region};
use crate::read::job::WallPose;

/// Side of a mark along its legs: as the keys of decals.
const LEG: f64 = 2.0;
/// Radius of the circle round a mark.
const ROUND: f64 = LEG * std::f64::consts::FRAC_1_SQRT_2;
/// Room that a mark has to all film.
pub const ROOM: Mm = Mm(0.4);
/// How far from a corner its mark may be; where there is no pocket, farther.
const REACH: [f64; 2] = [10.0, 20.0];
/// A pocket is not looked for beyond this radius.
const WIDE: f64 = 3.5;
/// Room that is worth a millimetre nearer to the corner.
const NEARER: f64 = 0.03;
/// Steps of looking for pockets, and of going to the roomiest place of one.
const STEPS: [f64; 2] = [1.0, 0.25];
/// Two marks are at least so far apart.
const APART: f64 = 5.0;

/// A mark on the wall.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Mark {
    /// Its middle.
    pub at: WallPoint,
    /// Room from its corners to the nearest film.
    pub room: Mm,
}

impl Mark {
    /// Its outline on the plane, lifted by some turns of the cup: legs along the parallel and up the wall.
    pub fn outline(&self, d: &Development, turns: i32) -> Region<Plane> {
        Mark::shape().moved(&self.pose(d, turns))
    }
    /// The triangle in a frame of its own.
    pub fn shape() -> Region<Art> {
        let h = LEG / 2.0;
        Region::polygon(&[[-h, -h], [h, -h], [-h, h]])
    }
    /// Where that frame goes on the plane, lifted by some turns of the cup.
    pub fn pose(&self, d: &Development, turns: i32) -> Rigid<Art, Plane> {
        let azimuth = self.at.azimuth + Angle::TURN * f64::from(turns);
        d.pose(WallPose { azimuth, slant: self.at.slant, turn: Angle::ZERO })
    }
    /// Its middle on the plane, lifted by some turns of the cup.
    pub fn middle(&self, d: &Development, turns: i32) -> Point<Plane> {
        d.develop(WallPoint {
            azimuth: self.at.azimuth + Angle::TURN * f64::from(turns),
            slant: self.at.slant,
        })
    }
}

/// All film on a part of the wall, to find pockets in.
pub struct Pockets<'a> {
    d: &'a Development,
    zone: &'a Zone,
    film: Vec<(Bounds<Plane>, Clearance<Plane>)>,
}

impl<'a> Pockets<'a> {
    /// Of everything that lies there, with its copies a turn on.
    pub fn new(d: &'a Development, zone: &'a Zone, all: &[Lying]) -> Pockets<'a> {
        let copies = |c: &Clearance<Plane>| [-1, 0, 1].map(|n| c.moved(&d.turned(n)));
        let windows =
            zone.handles.iter().map(|h| Clearance::new(h.region.flat(crate::base::tolerance::FLATTEN)));
        let all = all.iter().map(|l| l.outline.clone()).chain(windows);
        let film = all.flat_map(|c| copies(&c)).map(|c| (c.flat().bounds(), c)).collect();
        Pockets { d, zone, film }
    }
    /// Those near a place.
    fn beside(&self, p: Point<Plane>, reach: f64) -> Vec<&Clearance<Plane>> {
        let here = Bounds { min: p, max: p };
        self.film.iter().filter(|f| f.0.distance(&here).0 <= reach).map(|f| &f.1).collect()
    }
    /// Radius of the free circle about a place, at most [`WIDE`].
    fn radius(&self, p: Point<Plane>, beside: &[&Clearance<Plane>]) -> f64 {
        let slant = self.d.slant(p);
        let mut free = WIDE.min((slant - self.zone.low).0).min((self.zone.high - slant).0);
        for c in beside {
            if free <= 0.0 {
                break;
            }
            if let Some(n) = c.nearest(p, Mm(free)) {
                free = n.distance.0;
            }
        }
        let here = Bounds { min: p, max: p };
        let inside = |c: &&&Clearance<Plane>| c.flat().bounds().distance(&here).0 <= 0.0 && c.contains(p);
        if beside.iter().any(|c| inside(&c)) { 0.0 } else { free }
    }
    /// The mark for a corner: one that is there already, or a new one in the best pocket.
    pub fn at(&self, corner: Point<Plane>, known: &[Mark]) -> Option<Mark> {
        REACH
            .into_iter()
            .find_map(|reach| self.known(corner, known, reach).or_else(|| self.found(corner, known, reach)))
    }
    fn known(&self, corner: Point<Plane>, known: &[Mark], reach: f64) -> Option<Mark> {
        let far = |m: &Mark| {
            let copies = [-1, 0, 1].map(|n| m.middle(self.d, n).distance(corner).0);
            copies.into_iter().fold(f64::INFINITY, f64::min)
        };
        let near = known.iter().filter(|m| far(m) <= reach);
        near.min_by(|a, b| far(a).total_cmp(&far(b))).copied()
    }
    fn found(&self, corner: Point<Plane>, known: &[Mark], reach: f64) -> Option<Mark> {
        let beside = self.beside(corner, reach + WIDE);
        let clear = |p: Point<Plane>| {
            known.iter().all(|m| [-1, 0, 1].iter().all(|n| m.middle(self.d, *n).distance(p).0 >= APART))
        };
        let mut best: Option<(f64, Point<Plane>, f64)> = None;
        let mut look = |middle: Point<Plane>, step: f64, steps: i32| {
            let start = best.map_or(middle, |b| b.1);
            for i in -steps..=steps {
                for j in -steps..=steps {
                    let p = Point::mm(start.x + f64::from(i) * step, start.y + f64::from(j) * step);
                    let far = p.distance(corner).0;
                    if far > reach || !clear(p) {
                        continue;
                    }
                    let radius = self.radius(p, &beside);
                    let score = radius - NEARER * far;
                    if radius >= ROUND + ROOM.0 && best.is_none_or(|b| score > b.0) {
                        best = Some((score, p, radius));
                    }
                }
            }
        };
        look(corner, STEPS[0], (reach / STEPS[0]) as i32);
        look(corner, STEPS[1], 4);
        let (_, p, radius) = best?;
        let at = self.d.wrap(p);
        let at = WallPoint { azimuth: at.azimuth.wrapped(), slant: at.slant };
        Some(Mark { at, room: Mm(radius - ROUND) })
    }
}
