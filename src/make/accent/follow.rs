//! [`MovingFill`]: a fill that follows one obstacle while it is dragged, by filling anew only round it.
//!
//! What it shows on the way is a fill in its own right (every distance holds), but not the one that the seed
//! gives: a kit is made of the whole fill from scratch, by [`super::fill`], and whoever shows this one says so.
//! Spots keep their places in the list, and their films, as long as they stand.
//!
//! Imports: base, outline, read::job, make::{free_area, accent}, make::accent::{template, task, cell, distance_field,
//! greedy, flex, prove, patch, films, check, work}.

use super::check;
use super::distance_field::DistanceField;
use super::films;
use super::flex::{Give, RelaxRules, SpotBender};
use super::greedy::{SpotCandidate, lift, paint, paint_wish};
use super::outline::{V, len, sub};
use super::patch::Patch;
use super::prove::Saturation;
use super::task::FillTask;
use super::template::Template;
use super::work::{FillStage, Work, spot, work};
use super::{Fill, Spot};
use crate::base::diag::Diagnostics;
use crate::base::frame::Plane;
use crate::base::random::Random;
use crate::base::tolerance::ACCENT_FLATTEN;
use crate::make::free_area::FreeArea;
use crate::outline::Region;
use crate::outline::plane::{points_box, ring_contains};
use crate::read::job::{AccentSpec, Adapt, FilmId, SpotTurn};

/// A fill on the move.
pub struct MovingFill {
    room: FreeArea,
    spec: AccentSpec,
    library: Vec<Template>,
    shapes: Vec<Template>,
    stage: FillStage,
    /// The raster without spots and without the obstacle that moves.
    bare: DistanceField,
    slots: Vec<Option<SpotCandidate>>,
    /// The film of each, by the same places.
    films: Vec<FilmId>,
    which: usize,
    random: Random,
}

impl MovingFill {
    /// The fill as [`super::fill`] makes it, ready to follow obstacle `which` of the room. `None` with
    /// faults.
    pub fn new(task: &FillTask<'_>, which: usize, diagnostics: &mut Diagnostics) -> Option<MovingFill> {
        let FillTask { room, spec, seed, accent, .. } = *task;
        let library = check::library(task, diagnostics).ok()?;
        let Work { stage, drafts, shapes, random: mut own, .. } = work(task, &library, diagnostics);
        let films = films::choose(spec, &drafts, &stage.world, &mut own);
        let bare = bare_but(&stage, &library, spec, which);
        Some(MovingFill {
            room: room.clone(),
            spec: spec.clone(),
            library,
            shapes,
            stage,
            bare,
            slots: drafts.into_iter().map(Some).collect(),
            films,
            which,
            random: Random::new(seed, "follow", accent as u64),
        })
    }
    /// From here on it follows another obstacle of the room.
    pub fn grab(&mut self, which: usize) {
        if which != self.which {
            self.which = which;
            self.bare = bare_but(&self.stage, &self.library, &self.spec, which);
        }
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
                let covered = |at: V| rings.iter().any(|r| ring_contains(r, at));
                !patch.world.holds(&d.ring, kit.need, me) || patch.world.copies_of(d.pose.at).any(covered)
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
                sized: way.sized,
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
        for &i in &new {
            let film = self.film_for(i);
            self.films.push(film);
        }
        (taken.len(), new.len())
    }
    /// The film that a new spot takes: the one that lacks most of its share, its neighbours' rather not.
    fn film_for(&self, new: usize) -> FilmId {
        let shares = &self.spec.films;
        let (Some(me), Some(first)) = (self.slots.get(new).and_then(Option::as_ref), shares.first()) else {
            return FilmId(0);
        };
        let all: f64 = shares.iter().map(|f| f.1).sum();
        let standing = || self.slots.iter().zip(&self.films).filter_map(|(s, f)| Some((s.as_ref()?, *f)));
        let near = |d: &SpotCandidate| {
            let reach = 0.6 * (me.pose.size + d.pose.size) + 3.0;
            self.stage.world.copies_of(d.pose.at).any(|at| len(sub(at, me.pose.at)) < reach)
        };
        let score = |(film, share): &(FilmId, f64)| {
            let wanted = (share / all * standing().count() as f64).max(1.0);
            let have = standing().filter(|(_, f)| f == film).count() as f64;
            let like = standing().filter(|(d, f)| f == film && near(d)).count() as f64;
            (wanted - have) / wanted - 0.3 * like
        };
        shares.iter().max_by(|a, b| score(a).total_cmp(&score(b))).unwrap_or(first).0
    }
    /// Spots as they stand, each with its place in the list, which it keeps.
    pub fn spots(&self) -> Vec<(usize, Spot)> {
        (0..self.slots.len()).filter_map(|i| Some((i, self.spot(i)?))).collect()
    }
    /// The spot of a place in the list, if it still stands.
    pub fn spot(&self, place: usize) -> Option<Spot> {
        let d = self.slots.get(place)?.as_ref()?;
        Some(spot(&self.room, &self.spec, &self.shapes[d.template], d, self.films[place]))
    }
    /// How many places the list has, those that are empty by now too.
    pub fn places(&self) -> usize {
        self.slots.len()
    }
    /// Does a spot stand at a place of the list?
    pub fn stands(&self, place: usize) -> bool {
        self.slots.get(place).is_some_and(Option::is_some)
    }
    /// The fill as it stands.
    pub fn fill(&self) -> Fill {
        let spots = self.spots().into_iter().map(|s| s.1).collect();
        Fill { spots, saturation: Saturation::default() }
    }
    /// The room with the obstacle where it is now.
    pub fn room(&self) -> &FreeArea {
        &self.room
    }
}

/// The raster with all obstacles but one.
fn bare_but(stage: &FillStage, library: &[Template], spec: &AccentSpec, which: usize) -> DistanceField {
    let mut bare = stage.bare_field(library, spec);
    for (i, (rings, more)) in stage.obstacles.iter().enumerate().filter(|(i, _)| *i != which) {
        for ring in rings {
            paint_wish(&stage.world, &mut bare, i, ring, *more);
        }
    }
    bare.ready();
    bare
}

/// A circle round points: middle of their box and the farthest of them.
fn round<'a>(points: impl Iterator<Item = &'a V> + Clone) -> (V, f64) {
    let [x0, y0, x1, y1] = points_box(points.clone());
    let middle = [(x0 + x1) / 2.0, (y0 + y1) / 2.0];
    (middle, points.map(|p| len(sub(*p, middle))).fold(0.0, f64::max))
}
