//! How even the place of a repair is, before and after: mean gap, coverage, largest empty circle, as a maker's eye would
//! see a lighter or a denser ring.
//!
//! Imports: base, outline, read::job, make::free_area, make::accent::{template, cell, obstacle_grid, distance_field,
//! work}.

use super::outline::V;
use super::template::Template;
use super::work::FillStage;
use crate::base::frame::{Plane, Point};
use crate::base::tolerance::ACCENT_FLATTEN;
use crate::base::units::Mm;
use crate::make::accent::distance_field::DistanceField;
use crate::make::accent::obstacle_grid::{ObstacleGrid, Owner};
use crate::make::free_area::{FreeArea, Obstacle};
use crate::outline::plane::{points_box, ring_area, ring_contains};
use crate::outline::{Clearance, Region};
use crate::read::job::AccentSpec;
use std::collections::BTreeSet;

/// What changes may be: of the mean gap in millimetres, of coverage as a part, of the largest circle's radius. Below
/// these a repair was not found by eye.
const MAY_CHANGE: [f64; 3] = [0.10, 0.05, 0.2];
/// How far round what changed the place reaches, mm.
const ROUND: f64 = 4.0;
/// Steps of points in it and along outlines, mm.
const STEP: f64 = 0.5;

/// The place of a repair: points of the plane.
pub(super) struct Place {
    points: Vec<V>,
    cells: BTreeSet<(i64, i64)>,
}

impl Place {
    /// All round what changed.
    pub(super) fn of(changed: &[Region<Plane>]) -> Place {
        let near: Vec<Clearance<Plane>> =
            changed.iter().map(|r| Clearance::new(r.flat(ACCENT_FLATTEN))).collect();
        let mut points = Vec::new();
        let mut cells = BTreeSet::new();
        for c in &near {
            let [x0, y0, x1, y1] = points_box(c.flat().rings.iter().flatten());
            let steps = |from: f64, to: f64| {
                libm::floor((from - ROUND) / STEP) as i64..=libm::ceil((to + ROUND) / STEP) as i64
            };
            for (i, j) in steps(y0, y1).flat_map(|j| steps(x0, x1).map(move |i| (i, j))) {
                let p = [i as f64 * STEP, j as f64 * STEP];
                let at = Point::mm(p[0], p[1]);
                if (c.contains(at) || c.nearest(at, Mm(ROUND)).is_some()) && cells.insert((i, j)) {
                    points.push(p);
                }
            }
        }
        Place { points, cells }
    }
    fn holds(&self, p: V) -> bool {
        self.cells.contains(&(libm::round(p[0] / STEP) as i64, libm::round(p[1] / STEP) as i64))
    }
    pub(super) fn is_empty(&self) -> bool {
        self.points.is_empty()
    }
}

/// Mean gap, coverage, radius of the largest empty circle.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Even([f64; 3]);

impl Even {
    /// How much worse it is than before: fourth powers of what changed, in parts of what may change, so that the worst
    /// of them decides. A void that no spot fits is the same in all fills, and so decides nothing.
    pub(super) fn off(&self, before: &Even) -> f64 {
        let [gap, cover, void] = self.0;
        let [gap0, cover0, void0] = before.0;
        let cover = if cover0 > 0.0 { cover / cover0 - 1.0 } else { 0.0 };
        let parts = [(gap - gap0).abs(), cover.abs(), (void - void0).max(0.0)];
        parts.iter().zip(MAY_CHANGE).map(|(v, most)| (v / most).powi(4)).sum()
    }
}

/// What a wall looks like at a place: `spots` are rings with their owners in its world, `still` the wall without them.
fn even(
    place: &Place,
    (world, field): (&ObstacleGrid, &DistanceField),
    still: &FillStage,
    spots: &[(Owner, Vec<V>)],
    gap: f64,
) -> Even {
    let boxed = points_box(place.points.iter());
    let reach = 4.0 * gap + 8.0;
    let (mut sum, mut count, mut area) = (0.0, 0usize, 0usize);
    for (me, ring) in spots {
        // A spot lies in one of its copies.
        for n in ring.first().into_iter().flat_map(|p| world.turns_of(*p)) {
            let copy: Vec<V> = ring.iter().map(|p| world.turned(*p, n)).collect();
            let [x0, y0, x1, y1] = points_box(copy.iter());
            let apart = x0 > boxed[2] || x1 < boxed[0] || y0 > boxed[3] || y1 < boxed[1];
            if apart {
                continue;
            }
            let inside =
                |p: &&V| p[0] >= x0 && p[0] <= x1 && p[1] >= y0 && p[1] <= y1 && ring_contains(&copy, **p);
            let here = place.points.iter().filter(inside).count();
            area += here;
            if here == 0 {
                continue;
            }
            for (p, q) in copy.iter().zip(ring.iter()).step_by(3).filter(|(p, _)| place.holds(**p)) {
                if !world.inside(*p).0 {
                    continue;
                }
                let band = world.band(*q).min(reach);
                sum += world.nearest(*q, band, Some(*me)).map_or(band, |h| h.d);
                count += 1;
            }
        }
    }
    let (mut free, mut void) = (0usize, 0.0f64);
    for p in &place.points {
        if still.world.inside(*p).0 && !still.field.blotted(*p) && still.field.distance(*p) >= gap {
            free += 1;
            if !field.blotted(*p) {
                void = void.max(field.distance(*p));
            }
        }
    }
    let mean = if count > 0 { sum / count as f64 } else { 0.0 };
    Even([mean, area as f64 / free.max(1) as f64, void])
}

/// A wall as the eye sees it: distances to outlines, whatever clearance they ask for.
pub(super) struct Seen {
    stage: FillStage,
    /// With clearances, and without spots: what of it may be covered.
    bare: FillStage,
    spots: Vec<(Owner, Vec<V>)>,
}

impl Seen {
    /// A room in which all spots are obstacles, the first `still` are none.
    pub(super) fn of(room: &FreeArea, still: usize, spec: &AccentSpec, library: &[Template]) -> Seen {
        let seen = |o: &Obstacle| Obstacle { clearance: spec.gap, ..o.clone() };
        let whole = FreeArea { obstacles: room.obstacles.iter().map(seen).collect(), ..room.clone() };
        let stage = FillStage::new(&whole, spec, library);
        let bare =
            FreeArea { obstacles: room.obstacles.iter().take(still).cloned().collect(), ..room.clone() };
        let bare = FillStage::new(&bare, spec, library);
        let outer = |rings: &Vec<Vec<V>>| rings.iter().find(|r| ring_area(r) > 0.0).cloned();
        let of = |(i, o): (usize, &(Vec<Vec<V>>, f64))| Some((Owner::new(i, 0), outer(&o.0)?));
        let count = room.obstacles.len();
        let spots = stage.obstacles.iter().enumerate().take(count).skip(still).filter_map(of).collect();
        Seen { stage, bare, spots }
    }
    /// The outlines of its spots.
    pub(super) fn rings(&self) -> impl Iterator<Item = &[V]> {
        self.spots.iter().map(|s| s.1.as_slice())
    }
    /// How even it is at a place, with more spots put up.
    pub(super) fn even(&self, place: &Place, more: &[&[V]], gap: f64) -> Even {
        let (mut world, mut field) = (self.stage.world.clone(), self.stage.field.clone());
        let mut spots = self.spots.clone();
        for (i, ring) in more.iter().enumerate() {
            let id = self.stage.obstacles.len() + i;
            for n in world.enter(id, &[ring.to_vec()], 0.0) {
                let copy: Vec<V> = ring.iter().map(|p| world.turned(*p, n)).collect();
                field.paint(id as u32, &copy, 0.0);
            }
            spots.push((Owner::new(id, 0), ring.to_vec()));
        }
        even(place, (&world, &field), &self.bare, &spots, gap)
    }
}
