//! [`Image`], [`along_arc`]: smooth maps of the plane, and [`Folded`], what they cannot take.
//!
//! Imports: base.

use crate::base::frame::{Frame, Point};

/// Where a map takes a point, and how it stretches the plane there.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Image {
    /// The image, mm.
    pub at: [f64; 2],
    /// Derivative by x.
    pub dx: [f64; 2],
    /// Derivative by y.
    pub dy: [f64; 2],
}

/// A region that a map cannot take: the map folds or tears the plane there, or has no value.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Folded<F: Frame> {
    /// The place before mapping.
    pub at: Point<F>,
}

impl<F: Frame> std::fmt::Display for Folded<F> {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "the map folds the plane, or has no value, at {:.3}, {:.3} mm", self.at.x, self.at.y)
    }
}

impl<F: Frame> std::error::Error for Folded<F> {}

/// Argument below which `sin z / z` is taken from its series: the term left out is below 1e-18, less than
/// rounding.
const SMALL_ARGUMENT: f64 = 1e-4;

/// `sin z / z`, 1 at 0: the unnormalised sinc function, within a few units of the last place.
#[inline]
pub fn sinc(z: f64) -> f64 {
    if z.abs() < SMALL_ARGUMENT { 1.0 - z * z / 6.0 } else { libm::sin(z) / z }
}

/// Lays the x axis along an arc of this curvature (1/mm; positive: the ends rise) and keeps distances from
/// it: x' = x sinc(t) - y sin(t), y' = x (t/2) sinc(t/2)^2 + y cos(t), t = x * curvature. Straight for 0.
///
/// The baseline keeps its length; a parallel at height y is stretched by 1 - y * curvature.
pub fn along_arc(curvature: f64) -> impl Fn(f64, f64) -> Image {
    move |x, y| {
        let t = x * curvature;
        let (s, c) = (libm::sin(t), libm::cos(t));
        let half = sinc(0.5 * t);
        let stretch = 1.0 - y * curvature;
        Image {
            at: [x * sinc(t) - y * s, x * 0.5 * t * half * half + y * c],
            dx: [stretch * c, stretch * s],
            dy: [-s, c],
        }
    }
}
