//! [`Grown`]: an outline grown by half the spacing, so that keeping the spacing is not overlapping.
//!
//! Polylines of a solid are offset, and then thinned to few corners; what thinning may take away is added
//! first, so a grown outline always holds the true offset. Discs that fill it from the inside stand for its
//! bulk: how deep two outlines lie in each other is told by their discs (the poles of inaccessibility of
//! Gardeyn and Wauters 2025, arXiv 2509.13329).
//!
//! Imports: base, outline, make::film::solid.

use super::solid::Solid;
use crate::base::tolerance::{ASIDE, CLEAR_GUARD, FLATTEN, THIN};
use crate::base::units::Mm;
use crate::outline::plane::{convex_hull, crosses_ray, points_box, ring_area, segment_distance};
use crate::outline::{Join, Ring, thinned};

/// An outline with the room it asks for.
#[derive(Clone, Debug, PartialEq)]
pub struct Grown {
    /// Thinned polylines, outer counter-clockwise, holes clockwise.
    pub rings: Vec<Ring>,
    /// Discs inside: centre and radius, the largest first.
    pub discs: Vec<[f64; 3]>,
    /// Area of the convex hull.
    pub hull_area: f64,
    /// Longest extent.
    pub extent: f64,
}

/// Discs of an outline: enough for this part of its area, or so many.
const COVER: f64 = 0.92;
const MOST_DISCS: usize = 16;
/// Discs smaller than this part of the largest say little.
const LEAST_DISC: f64 = 0.1;
/// Lattice points along the longer side on which discs are looked for.
const LATTICE: usize = 36;

/// How far a grown outline reaches at least beyond the polylines of its solid.
pub fn reach(spacing: Mm) -> f64 {
    (spacing.0 + CLEAR_GUARD.0) / 2.0
}

impl Grown {
    /// Grown by half the spacing.
    pub fn new(solid: &Solid, spacing: Mm) -> Grown {
        let by = reach(spacing) + FLATTEN.0 + THIN.0 + ASIDE.0;
        let wide = solid.fine.offset(Mm(by), Join::Round);
        let rings: Vec<Ring> =
            wide.rings.iter().map(|r| thinned(r, THIN.0)).filter(|r| r.len() > 2).collect();
        Grown::of(rings)
    }
    /// From rings as they are.
    pub fn of(rings: Vec<Ring>) -> Grown {
        let points: Vec<[f64; 2]> = rings.iter().flatten().copied().collect();
        let [x0, y0, x1, y1] = points_box(&points);
        Grown {
            discs: discs(&rings),
            hull_area: ring_area(&convex_hull(points)),
            extent: (x1 - x0).max(y1 - y0),
            rings,
        }
    }
}

/// Largest discs inside, one after another, none with its centre in one before.
fn discs(rings: &[Ring]) -> Vec<[f64; 3]> {
    let points: Vec<[f64; 2]> = rings.iter().flatten().copied().collect();
    let [x0, y0, x1, y1] = points_box(&points);
    let step = (x1 - x0).max(y1 - y0) / LATTICE as f64;
    let (nx, ny) = (((x1 - x0) / step) as usize, ((y1 - y0) / step) as usize);
    let mut room: Vec<([f64; 2], f64)> = Vec::new();
    for iy in 0..=ny {
        for ix in 0..=nx {
            let p = [x0 + (ix as f64 + 0.5) * step, y0 + (iy as f64 + 0.5) * step];
            if let Some(d) = depth(rings, p) {
                room.push((p, d));
            }
        }
    }
    let area: f64 = rings.iter().map(|r| ring_area(r)).sum();
    let (mut out, mut covered): (Vec<[f64; 3]>, f64) = (Vec::new(), 0.0);
    while out.len() < MOST_DISCS && covered < COVER * area {
        let Some(&(p, r)) = room.iter().max_by(|a, b| a.1.total_cmp(&b.1)) else { break };
        let (p, r) = if out.is_empty() { climbed(rings, p, r, step) } else { (p, r) };
        if r <= 0.0 || out.first().is_some_and(|f| r < LEAST_DISC * f[2]) {
            break;
        }
        covered += std::f64::consts::PI * r * r;
        out.push([p[0], p[1], r]);
        for (q, d) in &mut room {
            let (x, y) = (q[0] - p[0], q[1] - p[1]);
            *d = d.min((x * x + y * y).sqrt() - r);
        }
        room.retain(|(_, d)| *d > 0.0);
    }
    out
}

/// The largest disc near a lattice point: halving steps uphill.
fn climbed(rings: &[Ring], mut p: [f64; 2], mut r: f64, mut step: f64) -> ([f64; 2], f64) {
    for _ in 0..12 {
        step *= 0.5;
        for (dx, dy) in [(step, 0.0), (-step, 0.0), (0.0, step), (0.0, -step)] {
            let q = [p[0] + dx, p[1] + dy];
            if let Some(d) = depth(rings, q)
                && d > r
            {
                (p, r) = (q, d);
            }
        }
    }
    (p, r)
}

/// Distance to the outline from inside, if the point is inside (even-odd).
fn depth(rings: &[Ring], p: [f64; 2]) -> Option<f64> {
    let (mut inside, mut least) = (false, f64::INFINITY);
    for ring in rings {
        let mut a = ring[ring.len() - 1];
        for &b in ring {
            if crosses_ray(a, b, p) {
                inside = !inside;
            }
            least = least.min(segment_distance(p, a, b));
            a = b;
        }
    }
    inside.then_some(least)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::frame::{Art, Point};
    use crate::outline::Region;

    /// Truth: the offset of a disc is a disc; the largest disc in a square touches its sides.
    #[test]
    fn a_grown_outline_holds_the_true_offset_and_little_more() {
        let disc: Region<Art> = Region::disc(Point::ORIGIN, Mm(6.0));
        let grown = Grown::new(&Solid::new(&disc, false), Mm(2.0));
        let ring = &grown.rings[0];
        let least =
            (0..ring.len()).map(|i| segment_distance([0.0, 0.0], ring[i], ring[(i + 1) % ring.len()]));
        assert!(least.fold(f64::INFINITY, f64::min) >= 6.0 + reach(Mm(2.0)) - 1e-9);
        assert!(
            ring.iter().all(|p| libm::hypot(p[0], p[1]) < 7.0 + 0.04) && ring.len() < 70,
            "{}",
            ring.len()
        );
    }

    #[test]
    fn discs_lie_inside_and_cover_most() {
        let square = Grown::of(vec![vec![[0.0, 0.0], [10.0, 0.0], [10.0, 6.0], [0.0, 6.0]]]);
        approx::assert_abs_diff_eq!(square.discs[0][2], 3.0, epsilon = 0.01);
        for d in &square.discs {
            assert!(
                d[0] - d[2] > -1e-9
                    && d[0] + d[2] < 10.0 + 1e-9
                    && d[1] - d[2] > -1e-9
                    && d[1] + d[2] < 6.0 + 1e-9
            );
        }
        let covered: f64 = square.discs.iter().map(|d| std::f64::consts::PI * d[2] * d[2]).sum();
        assert!(covered > 0.8 * 60.0, "{covered}");
    }
}
