//! How even a fill is.
//!
//! E is the area at least the gap away from motifs and bands, F the same at half the gap. *Band* is the area
//! of the spots grown by half the gap over F: 1 is the limit, reached when only an even channel is left.
//!
//! Imports: base, outline, read::job, make::{free_area, accent}, make::accent::{outline, cell, obstacle_grid,
//! distance_field}.

use super::outline::{V, len, perimeter, sub};
use super::{Fill, Spot};
use crate::base::tolerance::FLATTEN;
use crate::base::units::{Mm, Mm2};
use crate::make::accent::distance_field::DistanceField;
use crate::make::accent::obstacle_grid::{ObstacleGrid, Owner};
use crate::make::free_area::FreeArea;
use crate::outline::plane::ring_area;
use crate::read::job::AccentSpec;
use serde::Serialize;

/// Figures of a fill.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize)]
pub struct Measures {
    /// Number of spots.
    pub spots: usize,
    /// Area at least the gap away from motifs and bands (E).
    #[serde(rename = "free_mm2")]
    pub free: Mm2,
    /// Area of all spots over E.
    pub coverage: f64,
    /// Area of the spots grown by half the gap over F.
    pub band: f64,
    /// Distance from points of spot outlines to the nearest neighbour: mean.
    #[serde(rename = "gap_mean_mm")]
    pub gap_mean: Mm,
    /// Its standard deviation.
    #[serde(rename = "gap_sd_mm")]
    pub gap_sd: Mm,
    /// Nineteen of twenty are below this.
    #[serde(rename = "gap_p95_mm")]
    pub gap_p95: Mm,
    /// Radius of the largest circle that touches nothing, its middle in E.
    #[serde(rename = "void_mm")]
    pub void: Mm,
}

/// Pixel of the measuring raster, mm.
const PIXEL: f64 = 0.5;

/// Measures a finished fill from its outlines as they are cut, in a grid and a raster of its own. A broken
/// ring counts by the hull of its parts. Wishes of obstacles beyond the gap are left out of the figures.
pub fn measure(room: &FreeArea, spec: &AccentSpec, fill: &Fill) -> Measures {
    let gap = spec.gap.get();
    let mut world = ObstacleGrid::new(&room.development, &room.zone, gap, spec.largest.get() + gap + 8.0);
    let mut field = DistanceField::new(&world, PIXEL, 2.0 * gap + 3.0);
    let enter = |world: &mut ObstacleGrid, field: &mut DistanceField, id: usize, rings: &[Vec<V>]| {
        for n in world.enter(id, rings, 0.0) {
            for ring in rings {
                let copy: Vec<V> = ring.iter().map(|p| world.turned(*p, n)).collect();
                field.paint(id as u32, &copy, 0.0);
            }
        }
    };
    let still = room.obstacles.iter().map(|o| &o.region).chain(room.zone.handles.iter().map(|h| &h.region));
    let still: Vec<Vec<Vec<V>>> = still.map(|r| r.flat(FLATTEN).rings).collect();
    still.iter().enumerate().for_each(|(id, rings)| enter(&mut world, &mut field, id, rings));
    let (free, room_half) = (field.area_beyond(gap), field.area_beyond(gap / 2.0));
    let bare = field.clone();
    let rings: Vec<Vec<V>> = fill.spots.iter().map(hull).collect();
    let (mut area, mut grown) = (0.0, 0.0);
    for (i, ring) in rings.iter().enumerate() {
        enter(&mut world, &mut field, still.len() + i, std::slice::from_ref(ring));
        area += ring_area(ring);
        grown += grown_area(ring, gap / 2.0);
    }
    let mut gaps: Vec<f64> = Vec::new();
    for (i, ring) in rings.iter().enumerate() {
        let me = Owner::new(still.len() + i, 0);
        for p in even(ring, 0.5) {
            let reach = world.band(p).min(4.0 * gap + 8.0);
            gaps.push(world.nearest(p, reach, Some(me)).map_or(reach, |h| h.d));
        }
    }
    gaps.sort_unstable_by(f64::total_cmp);
    let n = gaps.len().max(1) as f64;
    let mean = gaps.iter().sum::<f64>() / n;
    let var = gaps.iter().map(|g| (g - mean) * (g - mean)).sum::<f64>() / n;
    let p95 = gaps.get((0.95 * n) as usize).copied().unwrap_or(0.0);
    Measures {
        spots: rings.len(),
        free: Mm2(free),
        coverage: if free > 0.0 { area / free } else { 0.0 },
        band: if room_half > 0.0 { grown / room_half } else { 0.0 },
        gap_mean: Mm(mean),
        gap_sd: Mm(var.sqrt()),
        gap_p95: Mm(p95),
        void: Mm(field.largest_where(&bare, gap)),
    }
}

/// The outline that a spot packs by, on the plane.
fn hull(spot: &Spot) -> Vec<V> {
    spot.hull.moved(&spot.pose).flat(FLATTEN).rings.into_iter().next().unwrap_or_default()
}

/// Area grown by a distance: A + P d + pi d^2 (Steiner), exact where no hollow of the outline is tighter than
/// d.
fn grown_area(ring: &[V], by: f64) -> f64 {
    ring_area(ring) + perimeter(ring) * by + std::f64::consts::PI * by * by
}

/// Points of a closed polyline, about `step` apart.
fn even(ring: &[V], step: f64) -> Vec<V> {
    let n = ring.len();
    let mut out = Vec::new();
    let mut carried = 0.0;
    for i in 0..n {
        let (a, b) = (ring[i], ring[(i + 1) % n]);
        let long = len(sub(b, a));
        let mut at = step - carried;
        while at < long {
            let f = at / long;
            out.push([a[0] + (b[0] - a[0]) * f, a[1] + (b[1] - a[1]) * f]);
            at += step;
        }
        carried = long - (at - step);
    }
    out
}
