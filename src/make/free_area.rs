//! [`FreeArea`]: what is still free on the wall, the noun that every laying stage works in.
//!
//! Imports: base, outline, make::cup.

use crate::base::frame::Plane;
use crate::base::units::Mm;
use crate::make::cup::{Development, Zone};
use crate::outline::Region;

/// Something on the wall that must be kept clear of, in one of its seam copies (any of them will do).
#[derive(Clone, Debug, PartialEq)]
pub struct Obstacle {
    /// Its outline on the developed plane.
    pub region: Region<Plane>,
    /// Least distance that it asks for; the larger of this and the other's own clearance counts.
    pub clearance: Mm,
    /// The pass that it is in the way of: its own, or an earlier one that it wants a halo in.
    pub pass: usize,
}

/// A zone of the wall, the part of it that may be covered, and what already lies there.
#[derive(Clone, Debug, PartialEq)]
pub struct FreeArea {
    /// The surface rolled out.
    pub development: Development,
    /// Bands, seam and handles. A handle's window is an obstacle with no clearance of its own.
    pub zone: Zone,
    /// Which zone of the wall it is, counted from 0 at the base: each has random streams of its own.
    pub zone_number: usize,
    /// What lies there already.
    pub obstacles: Vec<Obstacle>,
}

impl FreeArea {
    /// The same with what lies in the way of one pass only.
    #[must_use]
    pub fn of_pass(&self, pass: usize) -> FreeArea {
        let obstacles = self.obstacles.iter().filter(|o| o.pass == pass).cloned().collect();
        FreeArea { obstacles, ..self.clone() }
    }
}
