//! Accent spots: the wall that motifs leave free is filled evenly, over the seam, with small shapes.
//!
//! Stages of [`fill`]: a library of shapes is drawn (`template`), all that must be kept clear
//! of is entered into a grid (`obstacle_grid`) and a guiding raster (`distance_field`), voids are filled
//! largest first (`greedy`, `grow_to_contact`), and the result is measured (`measure`).
//!
//! Imports: base, outline, read::job.

mod outline;
pub mod bend;
mod template;
mod task;
mod cell;
mod obstacle_grid;
mod distance_field;
mod near;
mod contact;
mod greedy;
mod flex;
mod mosaic;
mod discs;
mod prove;
mod patch;
mod films;
mod measure;
mod kerb;
mod ragged;
mod check;
pub mod shares;
mod work;
mod path;
pub mod follow;
mod pieces;
mod repaired;
pub mod refill;

#[cfg(test)]
mod tests;

pub use check::CODES;
pub use follow::MovingFill;
pub use kerb::{Kerb, kerb};
pub use measure::{Measures, measure};
pub use pieces::{Following, fills, following, pieces, pieces_of};
pub use prove::Saturation;
pub use ragged::{RaggedLimit, beside_edges, for_fill};
pub use refill::{Holes, Stays, refills};
pub use task::FillTask;
pub use work::fill;

use crate::base::diag::Diagnostics;
use crate::base::frame::{Art, Plane, Rigid};
use crate::base::tolerance::ACCENT_FLATTEN;
use crate::base::units::{Mm, Seed};
use crate::outline::Region;
use crate::read::job::{Family, FilmId, WallPose};
use greedy::FillParams;
use template::{Asked, Template};
use work::FillStage;

/// One accent spot.
#[derive(Clone, Debug, PartialEq)]
pub struct Spot {
    /// What is cut from [`Self::film`], in its own frame: the middle of the bounding box at the origin.
    pub outline: Region<Art>,
    /// What it packs by, in the same frame: the outline itself, or the hull of a broken ring.
    pub hull: Region<Art>,
    /// Zone of the wall that it lies on.
    pub zone: usize,
    /// Where its origin goes on the wall.
    pub wall: WallPose,
    /// The same on the plane.
    pub pose: Rigid<Art, Plane>,
    /// Film it is cut from.
    pub film: FilmId,
    /// Its family, or the maker's name for the outline.
    pub name: String,
    /// Parts cut from other films, in the same frame.
    pub tint: Vec<(FilmId, Region<Art>)>,
}

/// A finished fill.
#[derive(Clone, Debug, PartialEq)]
pub struct Fill {
    /// All spots, in the order in which they were placed.
    pub spots: Vec<Spot>,
    /// Proof that nothing more fits.
    pub saturation: Saturation,
}

/// Proves a finished fill anew, from its outlines alone: a grid, a raster and a library of its own.
///
/// What [`fill`] found full is found full again, but for poses whose room differs by less than
/// [`ACCENT_FLATTEN`] from what the proof asks.
pub fn prove(task: &FillTask<'_>, fill: &Fill, diagnostics: &mut Diagnostics) -> Saturation {
    let FillTask { room, spec, .. } = *task;
    let Ok(library) = check::library(task, diagnostics) else {
        return Saturation::default();
    };
    let mut stage = FillStage::new(room, spec, &library);
    let kit = stage.kit(spec, &library);
    for (i, spot) in fill.spots.iter().enumerate() {
        for ring in spot.hull.moved(&spot.pose).flat(ACCENT_FLATTEN).rings {
            greedy::place(&mut stage.world, Some(&mut stage.field), kit.first + i, &ring);
        }
    }
    let kit = FillParams { first: kit.first + fill.spots.len(), ..kit };
    prove::saturate(&kit, &mut stage.world, &mut stage.field, &mut Vec::new())
}

/// A shape of a family at size 1: what is cut, what of it takes the tint, and its smallest size where film is
/// weeded down to .8 mm.
pub fn sample(family: Family, seed: Seed, item: u64) -> (Region<Art>, Region<Art>, Mm) {
    let t = Template::of_family(family, Asked { smallest: 1.0, largest: 16.0, weed: 0.8 }, seed, item);
    let pick = |tint: bool| t.parts.iter().filter(move |p| p.1 == tint).map(|p| p.0.path());
    let main =
        if t.parts.is_empty() { Region::trusted([t.hull.path()]) } else { Region::trusted(pick(false)) };
    (main, Region::trusted(pick(true)), Mm(t.smallest))
}

/// Narrowest place of outlines, each by itself; infinite where they have none.
pub fn narrowest(region: &Region<Art>) -> Mm {
    let of = |path| outline::width(&outline::CubicLoop::from_path(path).ring(12));
    Mm(region.contours().iter().map(of).fold(f64::INFINITY, f64::min))
}
