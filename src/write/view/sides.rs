//! The five sides from which the cup is shown, and their cameras.
//!
//! Imports: base, write::view::{camera, scene}.

use super::camera::Camera;
use super::scene::Scene;
use crate::base::units::Angle;

/// Size of a still, pixels: three side by side are 1260 x 560.
pub const SIZE: (usize, usize) = (420, 560);
/// Left free round the cup.
pub(super) const EDGE: f64 = 22.0;

/// A view: its name in file names, what it shows, azimuth and elevation of the camera in degrees.
pub(super) const VIEWS: [(&str, &str, f64, f64); 5] = [
    ("front", "The cup from the front", 0.0, 0.0),
    ("left", "The cup from its left side", -90.0, 0.0),
    ("back", "The cup from the back", 180.0, 0.0),
    ("right", "The cup from its right side", 90.0, 0.0),
    ("above", "The cup from the front, from 20 degrees above", 0.0, 20.0),
];

/// The cameras of the five views.
pub fn cameras(scene: &Scene, size: (usize, usize)) -> Vec<Camera> {
    let camera = |&(_, _, azimuth, elevation): &(_, _, f64, f64)| {
        scene.camera(Angle::degrees(azimuth), Angle::degrees(elevation), size, EDGE)
    };
    VIEWS.iter().map(camera).collect()
}
