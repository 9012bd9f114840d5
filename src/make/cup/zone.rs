//! [`Zone`]: the part of the wall that film may cover.
//!
//! Imports: base, make::cup::frustum.

use super::frustum::Development;
use crate::base::frame::Plane;
use crate::base::shape::Region;
use crate::base::units::{Angle, Mm};

/// The free wall between the keep-clear bands, less the handle's window.
#[derive(Clone, Debug, PartialEq)]
pub struct Zone {
    /// Lowest slant that film may reach.
    pub low: Mm,
    /// Highest slant that film may reach.
    pub high: Mm,
    /// Where the seam of the template runs, from the front line.
    pub seam: Angle,
    /// The handle's window on the plane, if there is one; nothing may touch it.
    pub handle: Option<Region<Plane>>,
}

impl Zone {
    /// Area of wall that film may cover.
    pub fn area(&self, d: &Development) -> crate::base::units::Mm2 {
        let band =
            (d.frustum().girth(self.low) + d.frustum().girth(self.high)) * (self.high - self.low) * 0.5;
        band - self.handle.as_ref().map_or(crate::base::units::Mm2::ZERO, Region::area)
    }
}
