//! Outlines: closed regions of lines and cubics, and the questions asked of them.
//!
//! [`Region`] keeps curves; [`Flat`] keeps the polylines that stand for them with a stated error.
//! Booleans and offsets give regions again; distances and containment are asked of [`Flat`] through [`Clearance`].
//! kurbo's curve types are re-exported here: this is that crate's home, and i_overlay's.
//!
//! Imports: base::units, base::frame, base::tolerance.

mod tree;
mod curve;
pub mod region;
pub mod flatten;
mod trace;
mod joint;
mod cover;
pub mod effort;
mod fit;
mod chain;
mod sound;
pub mod boolean;
mod moving;
pub mod offset;
#[cfg(test)]
mod offset_tests;
mod outline;
mod map;
pub mod bend;
#[cfg(test)]
mod bend_tests;
pub mod corner;
#[cfg(test)]
mod corner_tests;
pub mod narrow;
#[cfg(test)]
mod narrow_tests;
pub mod close;
pub mod mend;
pub mod clearance;
pub mod crowd;
pub mod start;
pub mod stroke;

pub use boolean::{BadOutline, FillRule, Op};
pub use clearance::{Clearance, Nearest};
pub use close::Closed;
pub use corner::{Corner, Island, Rounding};
pub use crowd::{Crowd, Met};
pub use effort::{Effort, TooHard};
pub use flatten::{Flat, Ring};
pub use kurbo::{
    Affine, BezPath, CubicBez, PathEl, PathSeg as CurveSeg, Point as CurvePoint, Rect, Shape as KurboShape,
};
pub use map::{Folded, Image, along_arc};
pub use mend::{Mend, Mended};
pub use moving::Join;
pub use narrow::{Narrow, Widths};
pub use region::{Bounds, Region, box_of};
