//! How art lies on the taper: as drawn, each letter upright on its parallel, or bent with the wall.
//!
//! All of it happens in the decal's own frame, whose origin goes to the decal's place on the wall and whose y
//! axis is the generator there: what is laid stays congruent with the wall, and offsets made afterwards are
//! true ones.
//!
//! Imports: base, outline, read::job, make::cup, make::decal::{codes, art}.

use super::art::{DecalPart, FlatArt, Stretch};
use super::codes::CANNOT_BEND;
use crate::base::diag::{Diagnostic, Diagnostics, ErrorGuaranteed, KeyPath};
use crate::base::frame::{Art, Plane, Point, Rigid};
use crate::base::tolerance::FIT;
use crate::base::units::{Angle, Mm};
use crate::make::cup::{Development, WallPoint};
use crate::outline::{Bounds, Image, Region};
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
    ///
    /// # Errors
    /// Reports [`CANNOT_BEND`] for art that reaches to where the wall, carried on, comes to a point.
    pub fn laid(
        &self,
        art: &FlatArt,
        lies: Lies,
        at: &KeyPath,
        diagnostics: &mut Diagnostics,
    ) -> Result<Vec<DecalPart>, ErrorGuaranteed> {
        let mut lay = |p: &DecalPart| match lies {
            Lies::Rigid => Ok(p.clone()),
            Lies::Upright => Ok(DecalPart { region: p.region.moved(&self.upright(p.foot)), ..p.clone() }),
            Lies::Bent => match p.region.bent(|x, y| self.bent(x, y), FIT) {
                Ok(region) => Ok(DecalPart { region, ..p.clone() }),
                Err(folded) => {
                    let message = "the art reaches to where the wall, carried on, comes to a point";
                    let d = Diagnostic::fault(&CANNOT_BEND, at.key("lies"), message);
                    Err(diagnostics
                        .push(d.measured(folded).help("make the art smaller, or write lies = \"rigid\"")))
                }
            },
        };
        art.parts.iter().map(&mut lay).collect()
    }

    /// A window of this size about the place: as drawn, or bounded by parallels and generators where art follows the
    /// wall.
    pub fn window(&self, (width, height): (Mm, Mm), lies: Lies) -> Region<Art> {
        let half = Point::mm(width.0 / 2.0, height.0 / 2.0);
        let window = Region::rectangle(Bounds { min: Point::mm(-half.x, -half.y), max: half });
        if lies == Lies::Rigid {
            return window;
        }
        // Nothing bends where art cannot either: that is told of the art.
        window.bent(|x, y| self.bent(x, y), FIT).unwrap_or(window)
    }

    /// Level lines become parallels, upright lines generators; lengths along the level line through the
    /// middle stay. At slant s the plane turns by -k x / r0 and stretches by r(s) / r0 along the parallel.
    fn bent(&self, x: f64, y: f64) -> Image {
        let d = self.development;
        let radius = d.radius(self.at.slant).0;
        let slant = self.at.slant + Mm(y);
        let azimuth = self.at.azimuth + Angle::radians(x / radius);
        let p = self.home.apply(d.develop(WallPoint { azimuth, slant }));
        let turn = -d.frustum().sine() * x / radius;
        let (s, c) = (libm::sin(turn), libm::cos(turn));
        let stretch = d.radius(slant).0 / radius;
        Image { at: [p.x, p.y], dx: [stretch * c, stretch * s], dy: [-s, c] }
    }

    /// A letter over `foot` goes where its baseline's parallel is, as far round as the line is long, and
    /// stands on the generator there.
    fn upright(&self, foot: Point<Art>) -> Rigid<Art, Art> {
        let slant = self.at.slant + Mm(foot.y);
        let radius = self.development.radius(slant);
        let azimuth = self.at.azimuth + Angle::radians(foot.x / radius.0);
        let pose = self.development.pose(WallPose { azimuth, slant, turn: Angle::ZERO });
        let to_foot: Rigid<Art, Art> = Rigid::from_parts(1.0, 0.0, Point::mm(-foot.x, -foot.y));
        to_foot.then(&pose).then(&self.home)
    }

    /// How far a straight line departs from its parallel at its ends: w^2 / (8 R), R the radius of the
    /// developed wall at its height. Positive where the ends stand nearer to the rim than the middle.
    pub fn departure(&self, line: Stretch) -> Mm {
        let slant = self.at.slant + line.foot;
        let radius = self.development.radius(slant).0;
        // R = radius / sine of the half-angle, which a straight cup does not have.
        Mm(line.width.0 * line.width.0 * self.development.frustum().sine() / (8.0 * radius))
    }
}
