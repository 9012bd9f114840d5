//! [`Piece`]: one thing that is cut from film and placed on the cup, the noun shared by sheets, map and
//! manifest.
//!
//! Imports: base, outline, read::job.

use crate::base::frame::{Art, Plane, Rigid};
use crate::base::units::Mm;
use crate::outline::Region;
use crate::read::job::{FilmId, Job, WallPose};
use std::sync::Arc;

/// What a piece is.
#[derive(Clone, Debug, PartialEq)]
pub enum Kind {
    /// A copy of motif `motif` of the job.
    Motif {
        /// Place in the job's list.
        motif: usize,
        /// Which copy, from 0.
        copy: usize,
    },
    /// An accent spot of fill `accent` of the job.
    Spot {
        /// Place in the job's list.
        accent: usize,
    },
    /// The part of a two-film spot that lies in the opening of spot number `of`.
    Tint {
        /// Place in the job's list.
        accent: usize,
        /// Number of the spot it belongs to.
        of: u32,
    },
    /// A layer of a decal, base first.
    Layer {
        /// Place in the job's list.
        decal: usize,
        /// From 0, the base.
        layer: usize,
    },
    /// A disc or ring for the base.
    Base,
    /// Pieces that film lays out as one, their outline the carrier that they are lifted on: never among the pieces
    /// of a plan.
    Lot {
        /// The pieces, each where it goes on the plane beside the others.
        of: Arc<[Piece]>,
        /// Lines that part what is weeded off, two points each in its frame.
        parting: Arc<[[[f64; 2]; 2]]>,
    },
}

/// One piece of film.
#[derive(Clone, Debug, PartialEq)]
pub struct Piece {
    /// From 1, the same everywhere.
    pub number: u32,
    /// What it is.
    pub kind: Kind,
    /// What the maker calls it: the art's file stem, the spot family.
    pub name: String,
    /// Film it is cut from.
    pub film: FilmId,
    /// Its outline in its own frame, the anchor (middle of the bounding box) at the origin, not mirrored.
    pub outline: Region<Art>,
    /// Zone of the wall that it lies on, all of it, counted from 0 at the base.
    pub zone: usize,
    /// Where its anchor goes on the wall.
    pub wall: WallPose,
    /// The same in the developed plane.
    pub pose: Rigid<Art, Plane>,
    /// Least distance to every other piece's outline on the wall; between two pieces the larger counts.
    pub clearance: Mm,
    /// Marks cut with it in the same frame, laid on the cup to align it and peeled off again: on the sheets,
    /// but no part of what stays on the wall. Empty for all but layers of decals.
    pub keys: Region<Art>,
}

impl Piece {
    /// The film step that it goes on in, by its place among them; pieces of the base have a step of their own.
    pub fn pass(&self, job: &Job) -> usize {
        match self.kind {
            Kind::Motif { motif, .. } => job.motifs.get(motif).map_or(0, |m| m.pass.order),
            Kind::Spot { accent } | Kind::Tint { accent, .. } => {
                job.accents.get(accent).map_or(0, |a| a.pass.order)
            }
            Kind::Layer { decal, .. } => job.decals.get(decal).map_or(0, |d| d.pass.order),
            Kind::Base => 0,
            Kind::Lot { ref of, .. } => of.first().map_or(0, |p| p.pass(job)),
        }
    }
    /// Its outline where it goes on the developed wall.
    pub fn on_plane(&self) -> Region<Plane> {
        self.outline.moved(&self.pose)
    }
    /// All that the blade cuts for it: its outline and its keys.
    pub fn cut(&self) -> std::borrow::Cow<'_, Region<Art>> {
        if self.keys.is_empty() {
            return std::borrow::Cow::Borrowed(&self.outline);
        }
        std::borrow::Cow::Owned(Region::gathered([&self.outline, &self.keys]))
    }
}
