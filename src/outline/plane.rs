//! Points, rings, segments and boxes of the plane as bare numbers: the questions that every hot loop asks.
//!
//! One home for each of them: whoever needs one asks here. `make::verify` keeps its own on purpose, because
//! what is verified must not rest on the method it was made by.
//!
//! A point is `[x, y]`; a ring is the corners of a closed polyline, the first not repeated at the end.
//!
//! ```
//! use frusta::outline::plane::{convex_hull, ring_area, ring_contains, segment_distance};
//! let square = [[0.0, 0.0], [4.0, 0.0], [4.0, 4.0], [0.0, 4.0]];
//! assert_eq!(ring_area(&square), 16.0);
//! assert!(ring_contains(&square, [1.0, 3.0]) && !ring_contains(&square, [5.0, 3.0]));
//! assert_eq!(segment_distance([2.0, -3.0], square[0], square[1]), 3.0);
//! assert_eq!(convex_hull(vec![[0.0, 0.0], [4.0, 0.0], [2.0, 1.0], [4.0, 4.0], [0.0, 4.0]]), square);
//! ```
//!
//! Imports: none.

/// A point or a vector.
pub type V = [f64; 2];

/// Sum.
#[inline]
pub fn add(a: V, b: V) -> V {
    [a[0] + b[0], a[1] + b[1]]
}
/// Difference.
#[inline]
pub fn sub(a: V, b: V) -> V {
    [a[0] - b[0], a[1] - b[1]]
}
/// A multiple.
#[inline]
pub fn mul(a: V, k: f64) -> V {
    [a[0] * k, a[1] * k]
}
/// Scalar product.
#[inline]
pub fn dot(a: V, b: V) -> f64 {
    a[0] * b[0] + a[1] * b[1]
}
/// Cross product: twice the signed area between the two.
#[inline]
pub fn cross(a: V, b: V) -> f64 {
    a[0] * b[1] - a[1] * b[0]
}
/// Length.
#[inline]
pub fn len(a: V) -> f64 {
    dot(a, a).sqrt()
}
/// Unit vector; the zero vector stays.
#[inline]
pub fn unit(a: V) -> V {
    let l = len(a);
    if l > 0.0 { mul(a, 1.0 / l) } else { a }
}

/// An axis-parallel box: left, bottom, right, top.
pub type PlaneBox = [f64; 4];

/// The box that contains nothing; joining it changes nothing.
pub const NO_BOX: PlaneBox = [f64::INFINITY, f64::INFINITY, f64::NEG_INFINITY, f64::NEG_INFINITY];

/// The smallest box around points; [`NO_BOX`] around none.
#[inline]
pub fn points_box<P: std::borrow::Borrow<[f64; 2]>>(points: impl IntoIterator<Item = P>) -> PlaneBox {
    points.into_iter().fold(NO_BOX, |b, p| {
        let [x, y] = *p.borrow();
        [b[0].min(x), b[1].min(y), b[2].max(x), b[3].max(y)]
    })
}

/// Twice the signed area of the triangle `o`, `a`, `b`: positive if `b` lies to the left of the way from `o`
/// to `a`.
#[inline]
pub fn orient(o: [f64; 2], a: [f64; 2], b: [f64; 2]) -> f64 {
    (a[0] - o[0]) * (b[1] - o[1]) - (a[1] - o[1]) * (b[0] - o[0])
}

/// Whether the side from `a` to `b` crosses the ray from `p` to the right; a side owns its lower end and not
/// its upper.
#[inline]
pub fn crosses_ray(a: [f64; 2], b: [f64; 2], p: [f64; 2]) -> bool {
    (a[1] > p[1]) != (b[1] > p[1]) && p[0] < (b[0] - a[0]) * (p[1] - a[1]) / (b[1] - a[1]) + a[0]
}

/// Whether a point lies inside a ring, by the even-odd rule; on the boundary either answer may come.
///
/// Crossings of a ray are counted (Shimrat, Comm. ACM 5 (1962) 434): linear in the corners. An empty ring
/// holds nothing.
#[inline]
pub fn ring_contains(ring: &[[f64; 2]], p: [f64; 2]) -> bool {
    let Some(mut a) = ring.last().copied() else { return false };
    let mut odd = false;
    for &b in ring {
        if crosses_ray(a, b, p) {
            odd = !odd;
        }
        a = b;
    }
    odd
}

/// Signed area of a ring by the shoelace formula: positive counter-clockwise.
#[inline]
pub fn ring_area(ring: &[[f64; 2]]) -> f64 {
    let n = ring.len();
    (0..n).map(|i| ring[i][0] * ring[(i + 1) % n][1] - ring[(i + 1) % n][0] * ring[i][1]).sum::<f64>() / 2.0
}

/// Square of the distance from a point to a segment, and the nearest place of the segment.
#[inline]
pub fn nearest_on_segment(p: [f64; 2], a: [f64; 2], b: [f64; 2]) -> (f64, [f64; 2]) {
    let (dx, dy) = (b[0] - a[0], b[1] - a[1]);
    let long = dx * dx + dy * dy;
    let t = if long > 0.0 { (((p[0] - a[0]) * dx + (p[1] - a[1]) * dy) / long).clamp(0.0, 1.0) } else { 0.0 };
    let q = [a[0] + dx * t, a[1] + dy * t];
    let (ex, ey) = (p[0] - q[0], p[1] - q[1]);
    (ex * ex + ey * ey, q)
}

/// Distance from a point to a segment.
#[inline]
pub fn segment_distance(p: [f64; 2], a: [f64; 2], b: [f64; 2]) -> f64 {
    nearest_on_segment(p, a, b).0.sqrt()
}

/// Whether two segments cross, by the signs of four triangles as floating point gives them; a point on a
/// segment's line counts to its right, so a touch counts as crossing from one side only.
#[inline]
pub fn segments_cross(a: [f64; 2], b: [f64; 2], c: [f64; 2], d: [f64; 2]) -> bool {
    let left = |p, q, r| orient(p, q, r) > 0.0;
    left(a, b, c) != left(a, b, d) && left(c, d, a) != left(c, d, b)
}

/// Whether two segments cross so that each end lies farther than `slack` from the other's line: no touch
/// counts.
#[inline]
pub fn segments_cross_beyond(a: [f64; 2], b: [f64; 2], c: [f64; 2], d: [f64; 2], slack: f64) -> bool {
    let apart = |a: [f64; 2], b: [f64; 2], p, q| {
        let (u, v) = (orient(a, b, p), orient(a, b, q));
        u * v < 0.0 && u.abs().min(v.abs()) > slack * libm::hypot(b[0] - a[0], b[1] - a[1])
    };
    apart(a, b, c, d) && apart(c, d, a, b)
}

/// Corners of the convex hull, counter-clockwise from the leftmost, none on a straight side: Andrew's
/// monotone chain (Inf. Proc. Letters 9 (1979) 216), `n log n`. Fewer than three different points are given
/// back sorted.
pub fn convex_hull(mut points: Vec<[f64; 2]>) -> Vec<[f64; 2]> {
    points.sort_by(|a, b| a[0].total_cmp(&b[0]).then(a[1].total_cmp(&b[1])));
    points.dedup();
    if points.len() < 3 {
        return points;
    }
    let mut hull: Vec<[f64; 2]> = Vec::with_capacity(points.len() + 1);
    for pass in 0..2 {
        let base = hull.len();
        let n = points.len();
        for i in 0..n {
            let p = points[if pass == 0 { i } else { n - 1 - i }];
            while hull.len() >= base + 2 && orient(hull[hull.len() - 2], hull[hull.len() - 1], p) <= 0.0 {
                hull.pop();
            }
            hull.push(p);
        }
        hull.pop();
    }
    hull
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_hull_of_a_star_is_its_tips() {
        let star = vec![[0.0, 0.0], [10.0, 0.0], [5.0, 1.0], [10.0, 10.0], [0.0, 10.0], [1.0, 5.0]];
        assert_eq!(convex_hull(star), vec![[0.0, 0.0], [10.0, 0.0], [10.0, 10.0], [0.0, 10.0]]);
    }

    #[test]
    fn nothing_and_little_are_answered() {
        assert!(!ring_contains(&[], [0.0, 0.0]));
        assert_eq!(ring_area(&[]), 0.0);
        assert_eq!(points_box::<[f64; 2]>([]), NO_BOX);
        assert_eq!(points_box([[1.0, 5.0], [-2.0, 3.0]]), [-2.0, 3.0, 1.0, 5.0]);
        assert_eq!(convex_hull(vec![[1.0, 1.0], [0.0, 0.0], [1.0, 1.0]]), vec![[0.0, 0.0], [1.0, 1.0]]);
        assert_eq!(nearest_on_segment([3.0, 4.0], [0.0, 0.0], [0.0, 0.0]), (25.0, [0.0, 0.0]));
    }

    #[test]
    fn a_touch_is_no_crossing_beyond_a_slack() {
        let (a, b) = ([0.0, 0.0], [4.0, 0.0]);
        assert!(segments_cross_beyond(a, b, [2.0, -1.0], [2.0, 1.0], 1e-6));
        assert!(!segments_cross_beyond(a, b, [2.0, 0.0], [2.0, 1.0], 1e-6));
        assert!(!segments_cross_beyond(a, b, [2.0, -1e-7], [2.0, 1.0], 1e-6));
        assert!(!segments_cross_beyond(a, b, [5.0, -1.0], [5.0, 1.0], 1e-6));
        // Touched from above, not from below.
        assert!(
            segments_cross(a, b, [2.0, 0.0], [2.0, 1.0]) && !segments_cross(a, b, [2.0, 0.0], [2.0, -1.0])
        );
    }
}
