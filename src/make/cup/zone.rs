//! [`Zone`]: the part of the wall that film may cover.
//!
//! Imports: base, outline, make::cup::frustum.

use super::frustum::Development;
use super::frustum::WallPoint;
use crate::base::frame::Plane;
use crate::base::units::{Angle, Mm, Mm2};
use crate::outline::{BezPath, Region};

/// Argument below which `tan(phi / 4) / phi` is taken as 1/4: too small by at most phi^2 / 192, 6e-15.
const SMALL_ARGUMENT: f64 = 1e-6;

/// The free wall between the keep-clear bands, less the handles' windows.
#[derive(Clone, Debug, PartialEq)]
pub struct Zone {
    /// Lowest slant that film may reach.
    pub low: Mm,
    /// Highest slant that film may reach.
    pub high: Mm,
    /// Where the seam of the template runs, from the front line.
    pub seam: Angle,
    /// Windows that handles take; nothing may touch them.
    pub handles: Vec<Window>,
    /// Is an edge of the wall what bounds it below, and above? Else the keep-clear bands do.
    pub edges: [bool; 2],
    /// Is it a part of a smooth wall? Then what is called an edge is only where two cones of its wrap meet.
    pub smooth: bool,
}

impl Zone {
    /// What bounds it above, in words.
    pub fn above(&self) -> &'static str {
        match (self.edges[1], self.smooth) {
            (true, true) => "the line above it where two parts of the wrap meet",
            (true, false) => "the edge above it",
            _ => "the keep-clear band at the rim",
        }
    }
    /// What bounds it below, in words.
    pub fn below(&self) -> &'static str {
        match (self.edges[0], self.smooth) {
            (true, true) => "the line below it where two parts of the wrap meet",
            (true, false) => "the edge below it",
            _ => "the keep-clear band at the base",
        }
    }
}

/// A window of the wall that a handle takes.
#[derive(Clone, Debug, PartialEq)]
pub struct Window {
    /// Its left side, from the front line.
    pub left: Angle,
    /// Its right side, less than a turn further.
    pub right: Angle,
    /// Lowest slant.
    pub low: Mm,
    /// Highest slant.
    pub high: Mm,
    /// The same on the plane.
    pub region: Region<Plane>,
}

impl Window {
    /// Of a development.
    pub fn new(d: &Development, left: Angle, right: Angle, low: Mm, high: Mm) -> Window {
        Window { left, right, low, high, region: d.band(left, right, low, high) }
    }
    /// The parts of it between two azimuths, a turn apart at most, each as `(left, right)` counted on round
    /// from there: two, if a seam runs through it.
    pub fn between(&self, from: Angle, to: Angle) -> Vec<(Angle, Angle)> {
        let part = |n: i32| {
            let by = Angle::TURN * f64::from(n);
            let left = Angle::radians((self.left + by).rad().max(from.rad()));
            let right = Angle::radians((self.right + by).rad().min(to.rad()));
            (left.rad() < right.rad()).then_some((left, right))
        };
        (-2..=2).filter_map(part).collect()
    }
}

impl Zone {
    /// Area of wall that film may cover.
    pub fn area(&self, d: &Development) -> Mm2 {
        let band = (d.girth(self.low) + d.girth(self.high)) * (self.high - self.low) * 0.5;
        // Windows do not overlap: the reader sees to it.
        self.handles.iter().fold(band, |left, h| left - h.region.area())
    }
}

/// Largest turn of the plane that one cubic of a parallel covers; its error is below
/// (4/27) sin^6(phi/4) of the sector radius: 4e-11 of it, 4e-7 mm at ten metres.
const ARC_STEP: f64 = 0.1;

impl Development {
    /// Appends the parallel at a slant, from one azimuth to another, as cubics; the path must stand at its
    /// start.
    pub fn parallel_to(&self, path: &mut BezPath, from: Angle, to: Angle, slant: Mm) {
        let k = self.frustum().sine();
        let steps = ((k * (to - from).rad()).abs() / ARC_STEP).ceil().max(1.0);
        let da = (to - from) / steps;
        let phi = k * da.rad();
        // Handle length (4/3) tan(phi/4) R with R = length / phi; a third of the length on a cylinder.
        let length = self.radius(slant).0 * da.rad();
        let quotient = if phi.abs() < SMALL_ARGUMENT { 0.25 } else { libm::tan(phi / 4.0) / phi };
        let arm = length * 4.0 / 3.0 * quotient;
        for i in 0..steps as usize {
            let (a0, a1) =
                (from + da * i as f64, if i + 1 == steps as usize { to } else { from + da * (i + 1) as f64 });
            let (p0, p1) = (
                self.develop(WallPoint { azimuth: a0, slant }),
                self.develop(WallPoint { azimuth: a1, slant }),
            );
            let (t0, t1) = (Angle::radians(-k * a0.rad()), Angle::radians(-k * a1.rad()));
            path.curve_to(
                (p0.x + arm * t0.cos(), p0.y + arm * t0.sin()),
                (p1.x - arm * t1.cos(), p1.y - arm * t1.sin()),
                (p1.x, p1.y),
            );
        }
    }
    /// A window of the wall between two azimuths and two slants, as a region of the plane: parallels are
    /// cubics, generators straight lines. The whole band from seam to seam is `band(seam - 180, seam + 180,
    /// ..)` degrees.
    pub fn band(&self, from: Angle, to: Angle, low: Mm, high: Mm) -> Region<Plane> {
        let at = |azimuth, slant| {
            let p = self.develop(WallPoint { azimuth, slant });
            (p.x, p.y)
        };
        let mut path = BezPath::new();
        path.move_to(at(from, low));
        self.parallel_to(&mut path, from, to, low);
        path.line_to(at(to, high));
        self.parallel_to(&mut path, to, from, high);
        path.close_path();
        Region::trusted([path])
    }
}

#[cfg(test)]
mod tests {
    use super::super::Frustum;
    use super::*;

    /// The developed band has the lateral area (C1 + C2) s / 2, and its parallels lie at their slant.
    #[test]
    fn the_whole_band_has_the_lateral_area() {
        for (upper, lower, slant) in [
            (270.0, 207.0, 165.0),
            (235.6, 233.1, 150.0),
            (200.0, 200.0, 90.0),
            (190.0, 260.0, 120.0),
            (550.0, 290.0, 80.0),
        ] {
            let f = Frustum { upper: Mm(upper), lower: Mm(lower), slant: Mm(slant) };
            let d = Development::new(f);
            let band = d.band(Angle::degrees(-180.0), Angle::degrees(180.0), Mm::ZERO, f.slant);
            approx::assert_relative_eq!(band.area().0, f.lateral_area().0, max_relative = 1e-9);
            for ring in band.flat(Mm(1e-3)).rings {
                for p in ring {
                    let s = d.wrap(crate::base::frame::Point::mm(p[0], p[1])).slant;
                    assert!(s.0 > -1e-6 && s.0 < slant + 1e-6);
                }
            }
        }
    }
}
