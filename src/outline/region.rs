//! [`Region`]: a closed area of a frame, bounded by lines and cubics.
//!
//! Imports: base, outline::path.

use super::path::{box_of, closed_cubics, polyline_path};
use crate::base::frame::{Frame, Point, Rigid};
use crate::base::tolerance::{GRID, MEASURE};
use crate::base::units::{Mm, Mm2};
use kurbo::{Affine, BezPath, Shape};
use std::marker::PhantomData;

/// Largest error of the length of one segment, mm, either way.
const PERIMETER: f64 = 1e-4;

/// An axis-parallel box of frame `F`, mm.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Bounds<F: Frame> {
    /// Lower left corner.
    pub min: Point<F>,
    /// Upper right corner.
    pub max: Point<F>,
}

impl<F: Frame> Bounds<F> {
    /// The box that contains nothing; joining it changes nothing.
    pub const EMPTY: Self = Self {
        min: Point::mm(f64::INFINITY, f64::INFINITY),
        max: Point::mm(f64::NEG_INFINITY, f64::NEG_INFINITY),
    };
    /// Whether it contains nothing.
    pub fn is_empty(&self) -> bool {
        self.min.x > self.max.x || self.min.y > self.max.y
    }
    /// Extent along x; zero of an empty box.
    pub fn width(&self) -> Mm {
        Mm((self.max.x - self.min.x).max(0.0))
    }
    /// Extent along y; zero of an empty box.
    pub fn height(&self) -> Mm {
        Mm((self.max.y - self.min.y).max(0.0))
    }
    /// Its middle.
    pub fn centre(&self) -> Point<F> {
        Point::mm((self.min.x + self.max.x) / 2.0, (self.min.y + self.max.y) / 2.0)
    }
    /// The smallest box that contains both.
    #[must_use]
    pub fn joined(&self, o: &Self) -> Self {
        Self {
            min: Point::mm(self.min.x.min(o.min.x), self.min.y.min(o.min.y)),
            max: Point::mm(self.max.x.max(o.max.x), self.max.y.max(o.max.y)),
        }
    }
    /// The smallest box that contains this one and a point.
    #[must_use]
    pub fn with(&self, x: f64, y: f64) -> Self {
        self.joined(&Self { min: Point::mm(x, y), max: Point::mm(x, y) })
    }
    /// The box with all four sides moved outwards by a distance.
    #[must_use]
    pub fn grown(&self, by: Mm) -> Self {
        Self {
            min: Point::mm(self.min.x - by.0, self.min.y - by.0),
            max: Point::mm(self.max.x + by.0, self.max.y + by.0),
        }
    }
    /// Least distance between two boxes; zero where they meet.
    pub fn distance(&self, o: &Self) -> Mm {
        let dx = (o.min.x - self.max.x).max(self.min.x - o.max.x).max(0.0);
        let dy = (o.min.y - self.max.y).max(self.min.y - o.max.y).max(0.0);
        Mm(libm::hypot(dx, dy))
    }
}

/// A closed area of frame `F`: each contour is one closed path of lines and cubics (no quadratics); outer
/// contours run counter-clockwise, holes clockwise, none crosses itself or another.
///
/// This invariant holds for regions made by [`Region::filled`], the booleans and the offsets; rigid motions
/// and mirroring keep it. [`Region::trusted`] takes the caller's word.
#[derive(Clone, Debug, Default)]
pub struct Region<F: Frame> {
    contours: Vec<BezPath>,
    /// The invariant is known to hold.
    clean: bool,
    /// Number of stretches that are polylines in place of curves that would cross.
    rough: usize,
    frame: PhantomData<F>,
}

/// Equal if their curves are, in the same order from the same starts; whether the invariant is known does not
/// count.
impl<F: Frame> PartialEq for Region<F> {
    fn eq(&self, o: &Self) -> bool {
        self.contours == o.contours
    }
}

impl<F: Frame> Region<F> {
    /// The region that contains nothing.
    pub fn empty() -> Self {
        Self { contours: Vec::new(), clean: true, rough: 0, frame: PhantomData }
    }
    /// From contours that keep the invariant already, which is not checked; quadratics are raised to cubics,
    /// open ends are closed by a line.
    pub fn trusted(contours: impl IntoIterator<Item = BezPath>) -> Self {
        let contours =
            contours.into_iter().flat_map(|c| closed_cubics(&c)).filter(|c| c.elements().len() > 2).collect();
        Self { contours, clean: false, rough: 0, frame: PhantomData }
    }
    /// Builds a region from contours already known to satisfy the invariant; not checked.
    pub(super) fn promised(contours: impl IntoIterator<Item = BezPath>) -> Self {
        Self { contours: contours.into_iter().collect(), clean: true, rough: 0, frame: PhantomData }
    }
    /// Number of stretches of outline that are fine polylines because curves fitted there would have crossed.
    ///
    /// The area is right, but a blade meets more nodes than it need. Rigid motions keep the count; where
    /// parts were cut away since, it is an upper bound.
    pub fn rough(&self) -> usize {
        self.rough
    }
    pub(crate) fn rougher(mut self, by: usize) -> Self {
        self.rough += by;
        self
    }
    /// Is the invariant known to hold?
    pub(super) fn is_clean(&self) -> bool {
        self.clean
    }
    /// A disc, in as few cubics as stay within [`GRID`] of the circle.
    pub fn disc(centre: Point<F>, radius: Mm) -> Self {
        let circle = kurbo::Circle::new((centre.x, centre.y), radius.0);
        Self { clean: true, ..Self::trusted([circle.to_path(GRID.0)]) }
    }
    /// An axis-parallel rectangle.
    pub fn rectangle(bounds: Bounds<F>) -> Self {
        Self::trusted([
            kurbo::Rect::new(bounds.min.x, bounds.min.y, bounds.max.x, bounds.max.y).to_path(MEASURE.0)
        ])
    }
    /// A polygon from its corners (outer counter-clockwise).
    pub fn polygon(corners: &[[f64; 2]]) -> Self {
        Self::trusted([polyline_path(corners)])
    }
    /// The contours: closed paths, outer ones counter-clockwise.
    pub fn contours(&self) -> &[BezPath] {
        &self.contours
    }
    /// Takes the contours out.
    pub fn into_contours(self) -> Vec<BezPath> {
        self.contours
    }
    /// Whether it contains nothing.
    pub fn is_empty(&self) -> bool {
        self.contours.is_empty()
    }
    /// Number of segments of all contours, closing lines of no length not counted.
    pub fn nodes(&self) -> usize {
        self.contours.iter().map(|c| c.segments().count()).sum()
    }
    /// Exact area: Green's theorem on the curves.
    pub fn area(&self) -> Mm2 {
        Mm2(self.contours.iter().map(Shape::area).sum())
    }
    /// A length that the perimeter does not pass: that of the control polygons.
    pub fn perimeter_at_most(&self) -> Mm {
        let of_segment = |s: kurbo::PathSeg| match s {
            kurbo::PathSeg::Line(l) => (l.p1 - l.p0).hypot(),
            kurbo::PathSeg::Quad(q) => (q.p1 - q.p0).hypot() + (q.p2 - q.p1).hypot(),
            kurbo::PathSeg::Cubic(c) => (c.p1 - c.p0).hypot() + (c.p2 - c.p1).hypot() + (c.p3 - c.p2).hypot(),
        };
        Mm(self.contours().iter().flat_map(|c| c.segments()).map(of_segment).sum())
    }
    /// Length of all contours, within 1e-4 mm a segment.
    pub fn perimeter(&self) -> Mm {
        Mm(self.contours.iter().map(|c| c.perimeter(PERIMETER)).sum())
    }
    /// Exact bounding box of the curves.
    pub fn bounds(&self) -> Bounds<F> {
        self.contours.iter().fold(Bounds::EMPTY, |b, c| {
            let r = box_of(c);
            b.joined(&Bounds { min: Point::mm(r.x0, r.y0), max: Point::mm(r.x1, r.y1) })
        })
    }
    /// Moved into another frame, or within its own.
    pub fn moved<G: Frame>(&self, by: &Rigid<F, G>) -> Region<G> {
        let (c, s, dx, dy) = by.parts();
        self.affine(Affine::new([c, s, -s, c, dx, dy]))
    }
    /// Scaled about the origin by a positive factor.
    #[must_use]
    pub fn scaled(&self, factor: f64) -> Self {
        debug_assert!(factor > 0.0);
        self.affine(Affine::scale(factor))
    }
    /// Mirrored left to right about the y axis: what the back of the film shows. Contours are reversed, so
    /// that the invariant holds.
    #[must_use]
    pub fn mirrored(&self) -> Self {
        let flip = Affine::new([-1.0, 0.0, 0.0, 1.0, 0.0, 0.0]);
        let contours = self.contours.iter().map(|c| (flip * c).reverse_subpaths()).collect();
        Self { contours, clean: self.clean, rough: self.rough, frame: PhantomData }
    }
    /// The same curves in another frame: for code that lays art out in a frame of its own choosing.
    pub fn reframed<G: Frame>(self) -> Region<G> {
        Region { contours: self.contours, clean: self.clean, rough: self.rough, frame: PhantomData }
    }
    fn affine<G: Frame>(&self, a: Affine) -> Region<G> {
        Region {
            contours: self.contours.iter().map(|c| a * c).collect(),
            clean: self.clean,
            rough: self.rough,
            frame: PhantomData,
        }
    }
    /// Collects the contours of disjoint regions in one region, without a boolean; that they are disjoint is
    /// not checked.
    pub fn gathered<'a>(regions: impl IntoIterator<Item = &'a Region<F>>) -> Self
    where
        F: 'a,
    {
        let (mut contours, mut rough) = (Vec::new(), 0);
        for r in regions {
            contours.extend(r.contours.iter().cloned());
            rough += r.rough;
        }
        Self { contours, clean: false, rough, frame: PhantomData }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::frame::{Art, Plane};
    use crate::base::units::Angle;

    #[test]
    fn area_and_bounds_of_a_disc_are_closed_forms() {
        let d: Region<Art> = Region::disc(Point::mm(3.0, -2.0), Mm(10.0));
        approx::assert_relative_eq!(d.area().0, std::f64::consts::PI * 100.0, max_relative = 1e-5);
        approx::assert_abs_diff_eq!(d.bounds().max.x, 13.0, epsilon = 1e-9);
    }

    #[test]
    fn mirroring_twice_is_nothing_and_keeps_direction() {
        let r: Region<Art> = Region::polygon(&[[0.0, 0.0], [4.0, 0.0], [4.0, 3.0]]);
        assert!(r.mirrored().area().0 > 0.0);
        approx::assert_relative_eq!(r.mirrored().mirrored().area().0, 6.0);
    }

    #[test]
    fn moving_keeps_area() {
        let r: Region<Art> = Region::polygon(&[[0.0, 0.0], [4.0, 0.0], [4.0, 3.0]]);
        let to: Rigid<Art, Plane> = Rigid::new(Angle::degrees(33.0), Point::mm(7.0, 8.0));
        approx::assert_relative_eq!(r.moved(&to).area().0, 6.0, epsilon = 1e-12);
    }
}
