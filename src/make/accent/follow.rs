//! [`MovingFill`]: a fill that follows one obstacle while it is dragged, by filling anew only round it.
//!
//! What it shows on the way is a fill in its own right (every distance holds), but not the one that the seed
//! gives: on release the whole fill is made from scratch with [`super::fill`], and only that is kept.
//!
//! Imports: base, outline, read::job, make::{free_area, accent}, make::accent::{template, task, cell, greedy, flex,
//! prove, patch, check, work}.

use super::Fill;
use super::check;
use super::flex::{Give, RelaxRules, SpotBender};
use super::greedy::{SpotCandidate, lift, paint, paint_wish};
use super::outline::{V, len, sub};
use super::patch::Patch;
use super::prove::Saturation;
use super::task::FillTask;
use super::template::Template;
use super::work::{FillStage, Work, finished, work};
use crate::base::diag::Diagnostics;
use crate::base::frame::Plane;
use crate::base::random::Random;
use crate::base::tolerance::ACCENT_FLATTEN;
use crate::base::units::Seed;
use crate::make::free_area::FreeArea;
use crate::outline::Region;
use crate::outline::plane::{points_box, ring_contains};
use crate::read::job::{AccentSpec, Adapt, SpotTurn};

/// A fill on the move.
pub struct MovingFill {
    room: FreeArea,
    spec: AccentSpec,
    library: Vec<Template>,
    shapes: Vec<Template>,
    stage: FillStage,
    /// The raster without spots and without the obstacle that moves.
    bare: crate::make::accent::distance_field::DistanceField,
    slots: Vec<Option<SpotCandidate>>,
    which: usize,
    random: Random,
}

impl MovingFill {
    /// The fill as [`super::fill`] makes it, ready to follow obstacle `which` of the room. `None` with
    /// faults.
    pub fn new(task: &FillTask<'_>, which: usize, diagnostics: &mut Diagnostics) -> Option<MovingFill> {
        let FillTask { room, spec, seed, accent, .. } = *task;
        let library = check::library(task, diagnostics).ok()?;
        let Work { stage, drafts, shapes, .. } = work(task, &library, diagnostics);
        let without: Vec<usize> = (0..stage.obstacles.len()).filter(|i| *i != which).collect();
        let mut bare = stage.bare_field(&library, spec);
        for i in without {
            let (rings, more) = &stage.obstacles[i];
            for ring in rings {
                paint_wish(&stage.world, &mut bare, i, ring, *more);
            }
        }
        bare.ready();
        Some(MovingFill {
            room: room.clone(),
            spec: spec.clone(),
            library,
            shapes,
            stage,
            bare,
            slots: drafts.into_iter().map(Some).collect(),
            which,
            random: Random::new(seed, "follow", accent as u64),
        })
    }
    /// The obstacle goes to another place; gives how many spots were taken out and how many were put in.
    pub fn to(&mut self, region: Region<Plane>) -> (usize, usize) {
        let rings = region.flat(ACCENT_FLATTEN).rings;
        let old = std::mem::replace(&mut self.stage.obstacles[self.which].0, rings.clone());
        self.room.obstacles[self.which].region = region;
        let more = self.stage.obstacles[self.which].1;
        self.stage.world.leave(self.which);
        self.stage.world.enter(self.which, &rings, more);
        let (at, reach) = round(rings.iter().flatten());
        let offset = self.shapes.len() - self.library.len();
        let kit = self.stage.kit(&self.spec, &self.library);
        let mut patch = Patch {
            kit: &kit,
            world: &mut self.stage.world,
            field: &mut self.stage.field,
            bare: &self.bare,
            slots: &mut self.slots,
        };
        let near = patch.near(at, reach + kit.need + more);
        let clash: Vec<usize> = near
            .into_iter()
            .filter(|&i| {
                let Some(d) = &patch.slots[i] else { return false };
                let me = Some(crate::make::accent::obstacle_grid::Owner::new(kit.first + i, 0));
                let covered =
                    |n: i32| rings.iter().any(|r| ring_contains(r, patch.world.turned(d.pose.at, n)));
                !patch.world.holds(&d.ring, kit.need, me) || (-1..=1).any(covered)
            })
            .collect();
        let taken = patch.take(&clash);
        patch.lift(&taken);
        for ring in &old {
            lift(patch.world, patch.field, patch.bare, self.which, ring);
        }
        for ring in &rings {
            paint_wish(patch.world, patch.field, self.which, ring, more);
        }
        let (new, _) = patch.fill(&mut self.random);
        if let Adapt::Flex(_) | Adapt::Mosaic = self.spec.adapt {
            let way = match self.spec.adapt {
                Adapt::Flex(cap) => RelaxRules::supple(cap),
                _ => RelaxRules::cells(),
            };
            let mut bender = SpotBender::new(&kit);
            let give = |share| Give {
                cap: way.cap,
                slope: way.slope,
                share,
                turns: self.spec.turn == SpotTurn::Free,
            };
            for share in [0.7, 0.9] {
                for &i in &new {
                    if let Some(d) = &mut patch.slots[i] {
                        bender.turn(patch.world, d, kit.first + i, &give(share));
                    }
                }
            }
            // Too narrow now: better nothing there until the release.
            let narrow = |d: &SpotCandidate| !bender.wide(d);
            let narrow: Vec<usize> =
                new.iter().copied().filter(|&i| patch.slots[i].as_ref().is_some_and(narrow)).collect();
            let narrow = patch.take(&narrow);
            patch.lift(&narrow);
        }
        for &i in &new {
            if let Some(d) = &mut patch.slots[i] {
                paint(patch.world, patch.field, kit.first + i, &d.ring);
                d.template += offset;
            }
        }
        (taken.len(), new.len())
    }
    /// The fill as it stands.
    pub fn fill(&self) -> Fill {
        let drafts: Vec<SpotCandidate> = self.slots.iter().flatten().cloned().collect();
        let mut random = Random::new(Seed(0), "follow-films", 0);
        let spots = finished(&self.room, &self.spec, &self.shapes, &drafts, &mut random, &self.stage.world);
        Fill { spots, saturation: Saturation::default() }
    }
    /// The room with the obstacle where it is now.
    pub fn room(&self) -> &FreeArea {
        &self.room
    }
}

/// A circle round points: middle of their box and the farthest of them.
fn round<'a>(points: impl Iterator<Item = &'a V> + Clone) -> (V, f64) {
    let [x0, y0, x1, y1] = points_box(points.clone());
    let middle = [(x0 + x1) / 2.0, (y0 + y1) / 2.0];
    (middle, points.map(|p| len(sub(*p, middle))).fold(0.0, f64::max))
}
