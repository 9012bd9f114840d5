//! [`Region`]: a closed area of a frame, bounded by lines and cubics.
//!
//! Imports: base.

use crate::base::frame::{Frame, Point, Rigid};
use crate::base::tolerance::GRID;
use crate::base::units::{Mm, Mm2};
use kurbo::{Affine, BezPath, ParamCurve, PathEl, PathSeg, Rect, Shape};
use std::marker::PhantomData;

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
    /// Contains nothing?
    pub fn is_empty(&self) -> bool {
        self.min.x > self.max.x || self.min.y > self.max.y
    }
    /// From left to right.
    pub fn width(&self) -> Mm {
        Mm((self.max.x - self.min.x).max(0.0))
    }
    /// From bottom to top.
    pub fn height(&self) -> Mm {
        Mm((self.max.y - self.min.y).max(0.0))
    }
    /// Middle.
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
    /// The box with a point more.
    #[must_use]
    pub fn with(&self, x: f64, y: f64) -> Self {
        self.joined(&Self { min: Point::mm(x, y), max: Point::mm(x, y) })
    }
    /// Grown on all sides.
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

/// A closed area of frame `F`: each contour is one closed path of lines and cubics (no quadratics);
/// outer contours run counter-clockwise, holes clockwise, none crosses itself or another.
///
/// That promise holds for regions made by [`Region::filled`], the booleans and the offsets; rigid motions and
/// mirroring keep it. [`Region::trusted`] takes the caller's word.
#[derive(Clone, Debug, Default)]
pub struct Region<F: Frame> {
    contours: Vec<BezPath>,
    /// The promise is known to hold.
    clean: bool,
    /// Stretches that stay polylines.
    rough: usize,
    frame: PhantomData<F>,
}

/// Same curves; how the promise is known does not count.
impl<F: Frame> PartialEq for Region<F> {
    fn eq(&self, o: &Self) -> bool {
        self.contours == o.contours
    }
}

impl<F: Frame> Region<F> {
    /// Contains nothing.
    pub fn empty() -> Self {
        Self { contours: Vec::new(), clean: true, rough: 0, frame: PhantomData }
    }
    /// From contours that already keep the promise; quadratics are raised to cubics, open ends closed.
    pub fn trusted(contours: impl IntoIterator<Item = BezPath>) -> Self {
        let contours =
            contours.into_iter().flat_map(|c| closed_cubics(&c)).filter(|c| c.elements().len() > 2).collect();
        Self { contours, clean: false, rough: 0, frame: PhantomData }
    }
    /// From contours of which a boolean or an offset knows that they keep the promise.
    pub(super) fn promised(contours: impl IntoIterator<Item = BezPath>) -> Self {
        Self { contours: contours.into_iter().collect(), clean: true, rough: 0, frame: PhantomData }
    }
    /// How many stretches of outline booleans and offsets had to leave as polylines, because curves there would
    /// cross: what they bound is right, but a blade meets more nodes than it need. Rigid motions keep the count;
    /// it is an upper bound where parts were cut away since.
    pub fn rough(&self) -> usize {
        self.rough
    }
    pub(crate) fn rougher(mut self, by: usize) -> Self {
        self.rough += by;
        self
    }
    /// Is the promise known to hold?
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
        Self::trusted(
            [kurbo::Rect::new(bounds.min.x, bounds.min.y, bounds.max.x, bounds.max.y).to_path(1e-6)],
        )
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
    /// Contains nothing?
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
    /// Length of all contours, within 1e-4 mm a contour.
    pub fn perimeter(&self) -> Mm {
        Mm(self.contours.iter().map(|c| c.perimeter(1e-4)).sum())
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
    /// Mirrored left to right about the y axis: what the back of the film shows. Directions stay as promised.
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
    /// Puts contours of several disjoint regions into one, without a boolean.
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

/// The closed parts of a path, each a path of its own: quadratics raised, every part closed.
pub(super) fn closed_cubics(path: &BezPath) -> Vec<BezPath> {
    let mut parts: Vec<BezPath> = Vec::new();
    let (mut start, mut last, mut open) = (kurbo::Point::ZERO, kurbo::Point::ZERO, false);
    for el in path.elements() {
        if let PathEl::MoveTo(p) = *el {
            (start, open) = (p, false);
            last = p;
            continue;
        }
        if matches!(el, PathEl::ClosePath) {
            open = false;
            last = start;
            continue;
        }
        if !open {
            // Also a path that goes on after closing: it starts where it closed.
            let mut fresh = BezPath::new();
            fresh.move_to(last);
            start = last;
            parts.push(fresh);
            open = true;
        }
        let Some(out) = parts.last_mut() else { continue };
        match *el {
            PathEl::LineTo(p) => {
                if p != last {
                    out.line_to(p);
                }
                last = p;
            }
            PathEl::QuadTo(c, p) => {
                out.curve_to(last + (c - last) * (2.0 / 3.0), p + (c - p) * (2.0 / 3.0), p);
                last = p;
            }
            PathEl::CurveTo(a, b, p) => {
                out.curve_to(a, b, p);
                last = p;
            }
            PathEl::MoveTo(_) | PathEl::ClosePath => {}
        }
    }
    for part in &mut parts {
        part.close_path();
    }
    parts
}

/// Exact bounding box of a path: that of its ends, and of what turns beyond them. A curve whose control points lie within
/// the box so far is not asked where it turns.
pub fn box_of(path: &BezPath) -> Rect {
    let mut all: Option<Rect> = None;
    for seg in path.segments() {
        let ends = Rect::from_points(seg.start(), seg.end());
        all = Some(all.map_or(ends, |b| b.union(ends)));
    }
    let mut all = all.unwrap_or_default();
    let within = |b: &Rect, p: kurbo::Point| p.x >= b.x0 && p.x <= b.x1 && p.y >= b.y0 && p.y <= b.y1;
    for seg in path.segments() {
        let held = match seg {
            PathSeg::Line(_) => true,
            PathSeg::Quad(q) => within(&all, q.p1),
            PathSeg::Cubic(c) => within(&all, c.p1) && within(&all, c.p2),
        };
        if !held {
            all = all.union(seg.bounding_box());
        }
    }
    all
}

/// A closed path through corners.
pub fn polyline_path(corners: &[[f64; 2]]) -> BezPath {
    let mut path = BezPath::new();
    for (i, &[x, y]) in corners.iter().enumerate() {
        if i == 0 { path.move_to((x, y)) } else { path.line_to((x, y)) }
    }
    if !corners.is_empty() {
        path.close_path();
    }
    path
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

    proptest::proptest! {
        /// The twin: every curve asked where it turns, by the curve library.
        #[test]
        fn a_box_is_that_of_every_curve_asked(
            parts in proptest::collection::vec((0..4u8, proptest::array::uniform6(-50.0..50.0f64)), 0..12),
        ) {
            let mut path = BezPath::new();
            for (i, (kind, [a, b, c, d, e, f])) in parts.into_iter().enumerate() {
                match kind {
                    _ if i == 0 => path.move_to((a, b)),
                    0 => path.move_to((a, b)),
                    1 => path.line_to((a, b)),
                    2 => path.quad_to((a, b), (c, d)),
                    _ => path.curve_to((a, b), (c, d), (e, f)),
                }
            }
            let (got, want) = (box_of(&path), path.bounding_box());
            for (g, w) in [(got.x0, want.x0), (got.y0, want.y0), (got.x1, want.x1), (got.y1, want.y1)] {
                proptest::prop_assert!((g - w).abs() < 1e-12, "{got:?} {want:?}");
            }
        }
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
