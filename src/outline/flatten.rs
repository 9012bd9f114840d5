//! [`Flat`]: polylines that stand for curves, with the error they were made with.
//!
//! Imports: base, outline::{plane, path, curve, region}.

use super::curve::Seg;
use super::path::polyline_path;
use super::plane::{crosses_ray, points_box, ring_area, segment_distance};
use super::region::{Bounds, Region};
use crate::base::frame::{Frame, Point, Rigid};
use crate::base::units::Mm;
use std::marker::PhantomData;

/// Corners of one closed polyline, the first not repeated at the end.
pub type Ring = Vec<[f64; 2]>;

/// A region as polylines; no point of a curve is farther than `error` from its polyline.
#[derive(Clone, Debug, PartialEq)]
pub struct Flat<F: Frame> {
    /// Outer rings counter-clockwise, holes clockwise.
    pub rings: Vec<Ring>,
    /// Largest distance between curve and polyline.
    pub error: Mm,
    frame: PhantomData<F>,
}

impl<F: Frame> Flat<F> {
    /// From rings and the error they carry.
    pub fn new(rings: Vec<Ring>, error: Mm) -> Self {
        Self { rings, error, frame: PhantomData }
    }
    /// Area by the shoelace formula.
    pub fn area(&self) -> f64 {
        self.rings.iter().map(|r| ring_area(r)).sum()
    }
    /// Bounding box of the corners.
    pub fn bounds(&self) -> Bounds<F> {
        let [x0, y0, x1, y1] = points_box(self.rings.iter().flatten());
        Bounds { min: Point::mm(x0, y0), max: Point::mm(x1, y1) }
    }
    /// Moved into another frame.
    pub fn moved<G: Frame>(&self, by: &Rigid<F, G>) -> Flat<G> {
        let (c, s, dx, dy) = by.parts();
        let turn = |p: &[f64; 2]| [c * p[0] - s * p[1] + dx, s * p[0] + c * p[1] + dy];
        Flat::new(self.rings.iter().map(|r| r.iter().map(turn).collect()).collect(), self.error)
    }
    /// The polylines as a region of straight lines.
    pub fn to_region(&self) -> Region<F> {
        Region::trusted(self.rings.iter().map(|r| polyline_path(r)))
    }
    /// Is the point inside (even-odd)? On the boundary either answer may come.
    pub fn contains(&self, x: f64, y: f64) -> bool {
        let mut inside = false;
        for ring in &self.rings {
            let mut a = ring[ring.len() - 1];
            for &b in ring {
                if crosses_ray(a, b, [x, y]) {
                    inside = !inside;
                }
                a = b;
            }
        }
        inside
    }
}

/// Fewer corners, none of those left out farther than `by` from what stays (Ramer 1972, Douglas and Peucker
/// 1973).
pub fn thinned(ring: &[[f64; 2]], by: f64) -> Ring {
    let n = ring.len();
    let far = |from: usize| {
        let d = |k: usize| {
            let (x, y) = (ring[k][0] - ring[from][0], ring[k][1] - ring[from][1]);
            x * x + y * y
        };
        (0..n).max_by(|&a, &b| d(a).total_cmp(&d(b))).unwrap_or(0)
    };
    if n < 4 {
        return ring.to_vec();
    }
    let start = far(0);
    let other = (far(start) + n - start) % n;
    let at = |k: usize| ring[(start + k) % n];
    let mut keep = vec![false; n + 1];
    keep[0] = true;
    keep[other] = true;
    let mut open = vec![(0, other), (other, n)];
    while let Some((a, b)) = open.pop() {
        let worst = (a + 1..b)
            .map(|k| (segment_distance(at(k), at(a), at(b)), k))
            .max_by(|x, y| x.0.total_cmp(&y.0).then(y.1.cmp(&x.1)));
        if let Some((d, k)) = worst
            && d > by
        {
            keep[k] = true;
            open.extend([(a, k), (k, b)]);
        }
    }
    (0..n).filter(|&k| keep[k]).map(at).collect()
}

impl<F: Frame> Region<F> {
    /// Polylines within `tolerance` of the curves. Corners lie on the curves.
    pub fn flat(&self, tolerance: Mm) -> Flat<F> {
        let rings = self.contours().iter().map(|c| flatten_contour(c, tolerance.0)).filter(|r| r.len() > 2);
        Flat::new(rings.collect(), tolerance)
    }
}

fn flatten_contour(path: &kurbo::BezPath, tolerance: f64) -> Ring {
    let mut ring: Ring = Vec::new();
    for seg in Seg::of(path) {
        let n = seg.steps(tolerance);
        let point = |p: kurbo::Point| [p.x, p.y];
        ring.push(point(seg.start()));
        ring.extend((1..n).map(|i| point(seg.at(i as f64 / n as f64))));
    }
    ring.dedup();
    if ring.len() > 1 && ring.first() == ring.last() {
        ring.pop();
    }
    ring
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::frame::Art;

    #[test]
    fn chords_of_a_disc_stay_within_the_tolerance() {
        let d: Region<Art> = Region::disc(Point::ORIGIN, Mm(20.0));
        for tol in [0.1, 0.01, 0.001] {
            let flat = d.flat(Mm(tol));
            let ring = &flat.rings[0];
            for i in 0..ring.len() {
                let (a, b) = (ring[i], ring[(i + 1) % ring.len()]);
                let mid = libm::hypot((a[0] + b[0]) / 2.0, (a[1] + b[1]) / 2.0);
                assert!(mid > 20.0 - tol - 1e-4 && mid < 20.0 + 1e-4, "{mid}");
            }
            assert!(flat.contains(0.0, 19.0) && !flat.contains(0.0, 21.0));
        }
    }
}
