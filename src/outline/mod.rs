//! Outlines: closed regions of lines and cubics, and the questions asked of them.
//!
//! [`Region`] keeps curves; [`Flat`] keeps the polylines that stand for them with a stated error.
//! Booleans and offsets give regions again; distances and containment are asked of [`Flat`] through [`Clearance`].
//! kurbo's curve types are re-exported here: this is that crate's home, and i_overlay's.
//!
//! Imports: none.

pub mod plane;
pub mod path;
mod tree;
mod curve;
pub mod region;
pub mod flatten;
pub mod clearance;
mod trace;
mod joint;
mod cover;
pub mod budget;
mod fit;
mod chain;
mod crossings;
pub mod boolean;
pub mod stroke;
pub mod short;
mod moving;
pub mod offset;
#[cfg(test)]
mod offset_tests;
mod boundary;
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
pub mod thicken;
pub mod periodic;
pub mod start;

pub use boolean::{BadOutline, FillRule, Op};
pub use budget::{TooHard, WorkBudget};
pub use clearance::{Clearance, Nearest};
pub use close::Closed;
pub use corner::{Corner, Island, Rounding};
pub use flatten::{Flat, Ring};
pub use kurbo::{
    Affine, BezPath, CubicBez, PathEl, PathSeg as CurveSeg, Point as CurvePoint, Rect, Shape as KurboShape,
};
pub use map::{Folded, Image, along_arc, sinc};
pub use moving::Join;
pub use narrow::{Narrow, Widths};
pub use path::{box_of, polyline_path, subpaths};
pub use periodic::{Neighbour, PeriodicIndex};
pub use region::{Bounds, Region};
pub use short::shortest_segment;
pub use thicken::{Mend, Mended};
