//! [`kerb`]: does a row of spots run along the limits of a fill, like a kerb along a street?
//!
//! Two measures, since either alone can be fooled: *wave* is how much more of a circle near the limit is covered
//! than of one a little behind it, *kissed* how much of the limit has a spot at the gap. Both use only the part
//! of the circle where no motif stands (grown by the gap).
//!
//! ```text
//! f(d)   share of the circle at depth d that is spots, d in steps of 0.5 mm
//! crest  largest f up to the largest spot and half a gap deep
//! trough least f in the 0.8 of the largest spot behind it
//! wave = crest - trough       the same from circles inside the wall, both ways: what a fill has anyway
//! ```
//!
//! Imports: base, outline, read::job, make::{free_area, accent}, make::accent::{obstacle_grid, distance_field, greedy}.

use super::Fill;
use super::distance_field::DistanceField;
use super::obstacle_grid::{ObstacleGrid, plane};
use super::outline::V;
use crate::base::tolerance::FLATTEN;
use crate::base::units::Mm;
use crate::make::free_area::FreeArea;
use crate::read::job::AccentSpec;
use std::f64::consts::TAU;

/// Pixel of the raster, mm.
const PIXEL: f64 = 0.4;
/// Between circles, mm.
const DEPTH: f64 = 0.5;
/// Between places on a circle, mm.
const ALONG: f64 = 0.8;
/// Beyond the gap, mm, a spot still kisses the limit.
const KISS: f64 = 0.35;
/// Of a circle that must be free for the measures to mean anything.
const FREE: f64 = 0.5;
/// Between circles inside the wall that waves are counted from, mm.
const INSIDE: f64 = 4.0;

/// How much of a kerb a fill has; the mean of the two limits.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Kerb {
    /// Crest less trough from the limits: the larger of the two.
    pub wave: f64,
    /// The same from circles inside the wall: mean.
    pub wave_inside: f64,
    /// Share of the limits' length with a spot at the gap.
    pub kissed: f64,
    /// The same of circles inside, spots that cross them left out: what chance gives.
    pub kissed_inside: f64,
    /// Radius of the largest circle that touches nothing, near a limit.
    pub void_near: Mm,
    /// The same farther inside.
    pub void_inside: Mm,
}

/// A fill on a raster, and where motifs stand.
struct Painted<'a> {
    room: &'a FreeArea,
    field: DistanceField,
    still: ObstacleGrid,
    blots: DistanceField,
    gap: f64,
}

impl Painted<'_> {
    fn at(&self, azimuth: f64, slant: f64) -> V {
        plane(&self.room.development, azimuth, slant)
    }
    /// Places on a circle that no motif stands on; `None` below half of it.
    fn free(&self, slant: f64) -> Option<Vec<f64>> {
        let girth = TAU * self.room.development.radius(Mm(slant)).get();
        let n = libm::ceil(girth / ALONG).max(8.0) as usize;
        let all = (0..n).map(|i| TAU * (i as f64 / n as f64 - 0.5));
        let free: Vec<f64> = all.filter(|a| self.clear(*a, slant)).collect();
        (free.len() as f64 >= FREE * n as f64).then_some(free)
    }
    fn clear(&self, azimuth: f64, slant: f64) -> bool {
        let p = self.at(azimuth, slant);
        !self.blots.blotted(p) && self.still.nearest(p, self.gap, None).is_none()
    }
    /// Share of a circle that is spots.
    fn covered(&self, slant: f64) -> Option<f64> {
        let free = self.free(slant)?;
        let on = free.iter().filter(|a| self.field.blotted(self.at(**a, slant))).count();
        Some(on as f64 / free.len() as f64)
    }
    /// Crest less trough, from a height upwards (`way` 1) or downwards (-1).
    fn wave(&self, from: f64, way: f64, (crest, trough): (f64, f64)) -> Option<f64> {
        let count = |long: f64| libm::ceil(long / DEPTH) as usize;
        let f: Vec<f64> = (0..=count(crest) + count(trough))
            .map(|k| self.covered(from + way * DEPTH * k as f64))
            .collect::<Option<_>>()?;
        let mut top = 0;
        for k in 0..=count(crest) {
            top = if f[k] > f[top] { k } else { top };
        }
        let least =
            f[top..=(top + count(trough)).min(f.len() - 1)].iter().copied().fold(f64::INFINITY, f64::min);
        Some(f[top] - least)
    }
}

/// Measures a finished fill; `None` where less than half of the circles is free or the wall is too low.
/// `room` is the wall without a ragged limit.
pub fn kerb(room: &FreeArea, spec: &AccentSpec, fill: &Fill) -> Option<Kerb> {
    let (gap, largest) = (spec.gap.get(), spec.largest.get());
    let reach = largest + gap + 8.0;
    let mut still = ObstacleGrid::new(&room.development, &room.zone, gap, reach);
    let mut blots = DistanceField::new(&still, PIXEL, 3.0 * largest);
    let mut world = still.clone();
    let enter = |world: &mut ObstacleGrid, field: &mut DistanceField, id: usize, rings: &[Vec<V>]| {
        for n in world.enter(id, rings, 0.0) {
            for ring in rings {
                let copy: Vec<V> = ring.iter().map(|p| world.turned(*p, n)).collect();
                field.paint(id as u32, &copy, 0.0);
            }
        }
    };
    let motifs = room.obstacles.iter().map(|o| &o.region).chain(room.zone.handles.iter().map(|h| &h.region));
    for (id, region) in motifs.enumerate() {
        enter(&mut still, &mut blots, id, &region.flat(FLATTEN).rings);
    }
    let first = room.obstacles.len() + room.zone.handles.len();
    let mut field = DistanceField::new(&world, PIXEL, 3.0 * largest);
    let mut all = blots.clone();
    let mut spread: Vec<(Vec<V>, [f64; 2])> = Vec::new();
    for (i, spot) in fill.spots.iter().enumerate() {
        let rings = spot.hull.moved(&spot.pose).flat(FLATTEN).rings;
        enter(&mut world, &mut field, first + i, &rings);
        rings.iter().for_each(|r| super::greedy::paint(&world, &mut all, first + i, r));
        let heights = rings.iter().flatten().map(|p| world.slant(*p));
        let (low, high) = heights.fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), s| (l.min(s), h.max(s)));
        spread.extend(rings.first().map(|r| (r.clone(), [low, high])));
    }
    let painted = Painted { room, field, still, blots, gap };
    let (low, high) = (room.zone.low.get(), room.zone.high.get());
    let sizes = (largest + gap / 2.0, 0.8 * largest);
    let deep = sizes.0 + sizes.1 + 2.0 * DEPTH;
    if high - low < 2.0 * deep {
        return None;
    }
    let waves = [painted.wave(low, 1.0, sizes), painted.wave(high, -1.0, sizes)];
    let wave = waves.into_iter().flatten().reduce(f64::max)?;
    let lines = |from: f64, to: f64| {
        let n = libm::floor((to - from) / INSIDE).max(0.0) as usize;
        (0..=n).map(move |k| from + INSIDE * k as f64)
    };
    let margin = sizes.0;
    let up = lines(low + margin, high - deep - margin).filter_map(|s| painted.wave(s, 1.0, sizes));
    let down = lines(low + deep + margin, high - margin).filter_map(|s| painted.wave(s, -1.0, sizes));
    let inside: Vec<f64> = up.chain(down).collect();
    if inside.is_empty() {
        return None;
    }
    let kissed = |slant: f64, side: f64| kissed(&painted, &world, first, &spread, (slant, side));
    let ends: Vec<f64> = [kissed(low, 1.0), kissed(high, -1.0)].into_iter().flatten().collect();
    let within: Vec<f64> =
        lines(low + deep, high - deep).flat_map(|s| [kissed(s, 1.0), kissed(s, -1.0)]).flatten().collect();
    let mean = |v: &[f64]| v.iter().sum::<f64>() / v.len().max(1) as f64;
    let bare = DistanceField::new(&world, PIXEL, 3.0 * largest);
    let edge = largest + gap;
    let near = all.largest_between(&bare, [0.0, edge]);
    let far = all.largest_between(&bare, [edge, f64::INFINITY]);
    Some(Kerb {
        wave,
        wave_inside: mean(&inside),
        kissed: mean(&ends),
        kissed_inside: mean(&within),
        void_near: Mm(near),
        void_inside: Mm(far),
    })
}

/// Share of a circle with a spot on one side of it within the gap and a little; spots that cross it do not
/// count.
fn kissed(
    painted: &Painted<'_>,
    world: &ObstacleGrid,
    first: usize,
    spread: &[(Vec<V>, [f64; 2])],
    (slant, side): (f64, f64),
) -> Option<f64> {
    let reach = painted.gap + KISS;
    let free = painted.free(slant + side * painted.gap / 2.0)?;
    let beside = |[low, high]: [f64; 2]| if side > 0.0 { low >= slant } else { high <= slant };
    let touched = free.iter().filter(|a| {
        let hit = world.nearest(painted.at(**a, slant), reach, None);
        hit.is_some_and(|h| h.owner.id().checked_sub(first).is_some_and(|i| beside(spread[i].1)))
    });
    Some(touched.count() as f64 / free.len() as f64)
}
