//! Closed regions of lines and cubic Bézier curves: booleans, offsets, widths, clearances and smooth maps
//! that give curves back, each with a stated accuracy.
//!
//! Imports: none.
//!
//! # What a region is
//!
//! A [`Region`] is a closed area of the plane, bounded by *contours*: closed paths of lines and cubics. It
//! knows the [`Frame`](crate::base::frame::Frame) that its coordinates belong to; all coordinates are
//! millimetres, y points up. These hold for every region that a function of this module returns:
//!
//! - no contour crosses itself or another; contours may touch in points;
//! - outer contours run counter-clockwise and holes clockwise, so that the area lies on the left of every
//!   contour;
//! - every coordinate is finite.
//!
//! [`Region::trusted`] takes the caller's word for the first two; [`Region::cleaned`] makes them true of
//! anything. What comes from outside goes through [`Region::try_filled`], which says which coordinate cannot
//! be. How a set of closed paths fills the plane is the caller's choice of [`FillRule`]: where the winding
//! number is not zero, or odd.
//!
//! ```
//! use frusta::base::frame::Art;
//! use frusta::outline::{FillRule, Region, polyline_path};
//! let square = |x: f64| polyline_path(&[[x, 0.0], [x + 2.0, 0.0], [x + 2.0, 2.0], [x, 2.0]]);
//! // Two squares of 4 mm2 that share half of their area.
//! let both = |rule| Region::<Art>::filled([square(0.0), square(1.0)], rule).area().get();
//! assert!((both(FillRule::NonZero) - 6.0).abs() < 1e-9);
//! assert!((both(FillRule::EvenOdd) - 4.0).abs() < 1e-9);
//! assert!(Region::<Art>::try_filled([square(f64::NAN)], FillRule::NonZero).is_err());
//! ```
//!
//! # Measuring
//!
//! ```
//! use frusta::base::{frame::{Art, Point}, units::Mm};
//! use frusta::outline::Region;
//! use std::f64::consts::PI;
//! let disc = Region::<Art>::disc(Point::mm(3.0, -2.0), Mm(10.0));
//! // Exact on the curves; the curves are within 1e-4 mm of the circle.
//! assert!((disc.area().get() - PI * 100.0).abs() < 2.0 * PI * 10.0 * 1e-4);
//! assert!((disc.bounds().max.x - 13.0).abs() < 1e-9);
//! ```
//!
//! # Booleans
//!
#![doc = include_str!("figures/union.svg")]
//!
//! [`Region::op`], [`Region::union_of`]: every stretch of the result is a part of a curve that was given, and
//! corners are the points where the given curves meet.
//!
//! ```
//! use frusta::base::{frame::{Art, Point}, units::Mm};
//! use frusta::outline::{Op, Region};
//! use std::f64::consts::PI;
//! let (r, d) = (10.0f64, 10.0f64);
//! let left = Region::<Art>::disc(Point::mm(0.0, 0.0), Mm(r));
//! let right = Region::<Art>::disc(Point::mm(d, 0.0), Mm(r));
//! // The lens that two circles share.
//! let lens = 2.0 * r * r * (d / (2.0 * r)).acos() - d / 2.0 * (4.0 * r * r - d * d).sqrt();
//! assert!((left.op(&right, Op::Intersection).area().get() - lens).abs() < 0.02);
//! assert!((left.op(&right, Op::Union).area().get() - (2.0 * PI * r * r - lens)).abs() < 0.02);
//! ```
//!
//! # Offsets
//!
#![doc = include_str!("figures/offset.svg")]
//!
//! [`Region::offset`] grows or shrinks by a distance; [`Region::closed`] fills what is narrower than a width
//! (the closing of mathematical morphology).
//!
//! ```
//! use frusta::base::{frame::Art, tolerance::FIT, units::Mm};
//! use frusta::outline::{Join, Region};
//! use std::f64::consts::PI;
//! let square = Region::<Art>::polygon(&[[0.0, 0.0], [10.0, 0.0], [10.0, 10.0], [0.0, 10.0]]);
//! let grown = square.offset(Mm(2.0), Join::Round);
//! // Steiner's formula: area + perimeter r + pi r^2; the outline is within FIT of the true one.
//! let want = 100.0 + 40.0 * 2.0 + PI * 4.0;
//! assert!((grown.area().get() - want).abs() < FIT.get() * grown.perimeter().get());
//! assert!((square.offset(Mm(-2.0), Join::Round).area().get() - 36.0).abs() < FIT.get() * 24.0);
//! ```
//!
//! # Widths, corners, clearances
//!
#![doc = include_str!("figures/narrow.svg")]
//!
//! [`Region::narrow`] and [`Region::gaps`] find where the area, or what lies between its parts, is narrower
//! than a limit; [`Region::mended`] widens just these places; [`Region::sharp_corners`] and
//! [`Region::rounded`] do the same for corners. [`Clearance`] answers how far regions are from each other and
//! from points; [`PeriodicIndex`] does so for thousands of them on a plane that repeats itself.
//!
//! ```
//! use frusta::base::{frame::{Art, Point}, units::Mm};
//! use frusta::outline::{Mend, NarrowKind, Region};
//! // A dumbbell: two discs and a bar 0.8 mm wide.
//! let bar = Region::polygon(&[[-8.0, -0.4], [8.0, -0.4], [8.0, 0.4], [-8.0, 0.4]]);
//! let disc = |x| Region::<Art>::disc(Point::mm(x, 0.0), Mm(5.0));
//! let dumbbell = Region::union_of(&[disc(-8.0), bar, disc(8.0)]);
//! let places = dumbbell.narrow(Mm(1.0));
//! assert_eq!((places.len(), places[0].kind), (1, NarrowKind::Neck));
//! assert!((places[0].width.get() - 0.8).abs() < 1e-6);
//! assert!(dumbbell.mended(Mend::Thicken, Mm(1.0)).0.narrow(Mm(1.0)).is_empty());
//! ```
//!
//! ```
//! use frusta::base::{frame::{Art, Point}, tolerance::FLATTEN, units::Mm};
//! use frusta::outline::{Clearance, Region};
//! let disc = |x, r| Clearance::new(Region::<Art>::disc(Point::mm(x, 0.0), Mm(r)).flat(FLATTEN));
//! let (big, small) = (disc(0.0, 3.0), disc(7.0, 2.0));
//! let gap = big.distance(&small, Mm(10.0)).expect("nearer than 10 mm");
//! // Chords lie inside a convex outline: too large by at most both errors.
//! assert!((gap.get() - 2.0).abs() < 2.0 * FLATTEN.get() + 2e-4);
//! assert!(big.distance(&small, Mm(1.0)).is_none(), "not nearer than 1 mm");
//! ```
//!
//! # Smooth maps
//!
#![doc = include_str!("figures/bend.svg")]
//!
//! [`Region::bent`] takes a region through any smooth map of the plane that is given with its derivative,
//! such as [`along_arc`], and gives few curves back within a tolerance of the true image; it refuses where
//! the map folds.
//!
//! ```
//! use frusta::base::{frame::{Art, Plane}, units::Mm};
//! use frusta::outline::{Region, along_arc};
//! let bar = Region::<Art>::polygon(&[[-20.0, 0.0], [20.0, 0.0], [20.0, 5.0], [-20.0, 5.0]]);
//! let bent: Region<Plane> = bar.bent(along_arc(1.0 / 50.0), Mm(0.01)).expect("5 mm is below 50");
//! // A parallel at height y is stretched by 1 - y / 50: a sector of an annulus.
//! let want = 40.0 * (5.0 - 0.5 * 25.0 / 50.0);
//! assert!((bent.area().get() - want).abs() < 0.01 * bent.perimeter().get());
//! assert!(bar.bent::<Plane>(along_arc(1.0 / 4.0), Mm(0.01)).is_err(), "folds at 4 mm");
//! ```
//!
//! # Accuracy
//!
//! Bounds are the constants of [`tolerance`](crate::base::tolerance), where each says on which side it errs.
//!
//! | result | how far from the truth | because |
//! |---|---|---|
//! | [`Region::area`], [`Region::bounds`] | rounding | Green's theorem, and the extremes of each cubic |
//! | [`Region::perimeter`] | 1e-4 mm a segment | Gauss-Legendre quadrature, refined (kurbo) |
//! | [`Region::flat`] | the tolerance asked for | second differences bound the sagitta of each chord |
//! | booleans | none on curves; curves that pass each other within 0.25 µm may be joined there | what crosses is decided on chords snapped to 1e-4 mm, looked at again eight times finer where they touch |
//! | [`Region::offset`] | 0.01 mm, both ways | curves fitted to the exact offsets of the segments |
//! | [`Region::bent`] | the tolerance asked for, both ways | checked at and between samples of the true image |
//! | [`Region::narrow`], [`Region::gaps`] | 1e-6 mm; a tip's width is that of one ball | both contact points walk downhill on the exact curves |
//! | [`Clearance`] | rounding on polylines; on curves the errors of both | every edge within reach is asked |
//!
//! Where fitted curves would cross, the stretch is left as a fine polyline: right, but with more nodes than
//! needed; [`Region::rough`] counts such stretches. `tests/suite/kernel*.rs` and `width.rs` hold these bounds
//! to closed forms, to definitions computed without this module, and to other libraries.
//!
//! # Cost
//!
//! With n edges after flattening and k crossings: booleans and offsets about `(n + k) log n`, refused before
//! they begin beyond a [`WorkBudget`] if one is given; [`Clearance::new`] `n log n`, its questions about `log
//! n` for what is near and n at worst; narrow places one ball for every step of a limit's length, `log n`
//! each; maps linear in the samples. Nothing depends on the number of processors or on time: the same input
//! gives the same bits.
//!
//! # Doors
//!
//! Everything is re-exported here; [`plane`] holds the predicates on bare points for hot loops. The curve
//! types are kurbo's, re-exported, so that a caller needs no second copy of that crate.

pub mod plane;
mod path;
mod tree;
mod curve;
mod region;
mod flatten;
mod clearance;
mod trace;
mod joint;
mod cover;
mod budget;
mod fit;
mod chain;
mod crossings;
mod through;
mod boolean;
mod stroke;
mod cusp;
mod short;
mod moving;
mod offset;
#[cfg(test)]
mod offset_tests;
mod boundary;
mod map;
mod mapped;
mod bend;
#[cfg(test)]
mod bend_tests;
mod corner;
#[cfg(test)]
mod corner_tests;
mod narrow;
#[cfg(test)]
mod narrow_tests;
mod touch;
mod close;
mod thicken;
mod periodic;
mod start;

pub use boolean::{BadOutline, FillRule, Op};
pub use budget::{TooHard, WorkBudget};
pub use clearance::{Clearance, Nearest, Witness, distance_by_all_pairs};
pub use close::{Closed, ClosedKind};
pub use corner::{Corner, CornerKind, Island, Rounding};
pub use cusp::sharpest_hair;
pub use flatten::{Flat, Ring, thinned};
pub use kurbo::{
    Affine, BezPath, CubicBez, PathEl, PathSeg as CurveSeg, Point as CurvePoint, Rect, Shape as KurboShape,
};
pub use map::{Folded, Image, along_arc, sinc};
pub use moving::Join;
pub use narrow::{Middle, Narrow, NarrowKind, Widths};
pub use path::{box_of, chords, polyline_path, subpaths};
pub use periodic::{Neighbour, PeriodicIndex};
pub use region::{Bounds, Region};
pub use short::shortest_segment;
pub use start::{StartPlace, run_on, start_places, started_at};
pub use stroke::{StrokeCap, StrokeJoin, StrokeStyle, rough_length, stroke_outline};
pub use thicken::{Mend, Mended};
pub use through::Through;
pub use touch::Touch;
