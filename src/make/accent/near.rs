//! [`Near`]: how far everything is, about one place: a lattice of distances, each asked of the world when
//! first wanted.
//!
//! A proof asks about thousands of poses round one place. What it asks lies near some point of the lattice,
//! and a distance changes by no more than the way: most questions are settled without asking the world.
//!
//! Imports: base, outline, make::accent::{obstacle_grid, distance_field}.

use super::outline::V;
use crate::base::tolerance::MEASURE;
use crate::make::accent::distance_field::DistanceField;
use crate::make::accent::obstacle_grid::ObstacleGrid;

/// Between points of the lattice, mm.
pub(super) const STEP: f64 = 0.4;

/// Signed distance to the nearest outline or band, never more than `cap`; below 0 inside outlines and off the
/// wall.
pub(super) fn distance(world: &ObstacleGrid, field: &DistanceField, p: V, cap: f64) -> f64 {
    let band = world.band(p);
    if band <= 0.0 {
        return band;
    }
    // Deep inside an outline the nearest edge is far: the sign comes from the raster, where no edge is near.
    let d = world.nearest(p, cap.min(band), None).map_or(cap.min(band), |h| h.d);
    if d > field.pixel && field.blotted(p) { -d } else { d }
}

/// Distances about a place, of one state of the world.
pub(super) struct Near {
    origin: V,
    /// Points in a row.
    n: usize,
    /// Distances above this are not told apart.
    cap: f64,
    /// Not a number where it was not asked yet.
    d: Vec<f64>,
}

impl Near {
    /// About a place, up to so far in x and y; nothing is asked yet.
    pub fn new(at: V, reach: f64, cap: f64) -> Near {
        let n = libm::ceil(2.0 * reach / STEP) as usize + 2;
        let low = (n - 1) as f64 * STEP / 2.0;
        Near { origin: [at[0] - low, at[1] - low], n, cap, d: vec![f64::NAN; n * n] }
    }
    /// What the distance at a point is at most, at least, and about: at most infinite where it is not told
    /// apart. The point lies within the reach.
    #[inline]
    pub fn between(&mut self, world: &ObstacleGrid, field: &DistanceField, p: V) -> (f64, f64, f64) {
        let g = [(p[0] - self.origin[0]) / STEP, (p[1] - self.origin[1]) / STEP];
        let last = (self.n - 1) as f64;
        let [x, y] = g.map(|v| (v + 0.5).clamp(0.0, last) as usize);
        let i = y * self.n + x;
        if self.d[i].is_nan() {
            let q = [self.origin[0] + x as f64 * STEP, self.origin[1] + y as f64 * STEP];
            self.d[i] = distance(world, field, q, self.cap);
        }
        let d = self.d[i];
        let (dx, dy) = ((g[0] - x as f64).abs(), (g[1] - y as f64).abs());
        // No shorter than the way: their difference counts for 0.414 of it at 45 degrees, and for less
        // elsewhere.
        let way = (dx.max(dy) + 0.4143 * dx.min(dy)) * STEP + MEASURE.get();
        (if d < self.cap { d + way } else { f64::INFINITY }, d - way, d)
    }
}
