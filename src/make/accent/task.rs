//! [`FillTask`]: what a fill is asked for.
//!
//! Imports: base, outline, read::job, make::free_area, make::accent::template.

use super::template::Asked;
use crate::base::diag::KeyPath;
use crate::base::frame::Art;
use crate::base::units::{Mm, Seed};
use crate::make::free_area::FreeArea;
use crate::outline::Region;
use crate::read::job::AccentSpec;

/// What is to be filled, and how.
#[derive(Clone, Copy, Debug)]
pub struct FillTask<'a> {
    /// The wall and what stands on it.
    pub room: &'a FreeArea,
    /// What the job wishes.
    pub spec: &'a AccentSpec,
    /// The maker's outlines, in the order in which `spec.shapes` names them.
    pub own: &'a [Region<Art>],
    /// Narrowest width that every film of the fill weeds.
    pub weed: Mm,
    /// Everything random comes from it.
    pub seed: Seed,
    /// The fill's place in the job.
    pub accent: usize,
    /// Its key path.
    pub at: &'a KeyPath,
}

impl FillTask<'_> {
    /// What is asked of every shape.
    pub(super) fn asked(&self) -> Asked {
        let AccentSpec { smallest, largest, .. } = self.spec;
        Asked { smallest: smallest.get(), largest: largest.get(), weed: self.weed.get() }
    }
}
