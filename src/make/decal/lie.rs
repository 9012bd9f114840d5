//! How art lies on the taper: as drawn, each letter upright on its parallel, or bent with the wall.
//!
//! All of it happens in the decal's own frame, whose origin goes to the decal's place on the wall and whose y axis is
//! the generator there: what is laid stays congruent with the wall, and offsets made afterwards are true ones.
//!
//! Imports: base, read::job, make::cup, make::decal::art.

use super::art::{FlatArt, Part, Stretch};
use crate::base::frame::{Art, Plane, Point, Rigid};
use crate::base::units::{Angle, Mm};
use crate::make::cup::Development;
use crate::read::job::WallPose;
use crate::read::job::decals::Lies;

/// A place on the wall to lay art at.
#[derive(Clone, Copy, Debug)]
pub struct Ground<'a> {
    development: &'a Development,
    at: WallPose,
    home: Rigid<Plane, Art>,
}

impl<'a> Ground<'a> {
    /// The wall about a place; art is laid level here and turned afterwards as a whole.
    pub fn new(development: &'a Development, at: WallPose) -> Ground<'a> {
        let at = WallPose { turn: Angle::ZERO, ..at };
        Ground { development, at, home: development.pose(at).inverse() }
    }

    /// The art as it lies.
    pub fn laid(&self, art: &FlatArt, lies: Lies) -> Vec<Part> {
        let lay = |p: &Part| match lies {
            Lies::Rigid => p.clone(),
            Lies::Upright => Part { region: p.region.moved(&self.upright(p.foot)), ..p.clone() },
            Lies::Bent => Part { region: p.region.clone(), ..p.clone() },
        };
        art.parts.iter().map(lay).collect()
    }

    /// A letter over `foot` goes where its baseline's parallel is, as far round as the line is long, and stands on the
    /// generator there.
    fn upright(&self, foot: Point<Art>) -> Rigid<Art, Art> {
        let slant = self.at.slant + Mm(foot.y);
        let radius = self.development.frustum().radius(slant);
        let azimuth = self.at.azimuth + Angle::radians(foot.x / radius.0);
        let pose = self.development.pose(WallPose { azimuth, slant, turn: Angle::ZERO });
        let to_foot: Rigid<Art, Art> = Rigid::from_parts(1.0, 0.0, Point::mm(-foot.x, -foot.y));
        to_foot.then(&pose).then(&self.home)
    }

    /// How far a straight line departs from its parallel at its ends: w^2 / (8 R), R the radius of the developed wall
    /// at its height. Positive where the ends stand nearer to the rim than the middle.
    pub fn departure(&self, line: Stretch) -> Mm {
        let slant = self.at.slant + line.foot;
        let radius = self.development.frustum().radius(slant).0;
        // R = radius / sine of the half-angle, which a straight cup does not have.
        Mm(line.width.0 * line.width.0 * self.development.frustum().sine() / (8.0 * radius))
    }
}
