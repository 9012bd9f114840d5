//! The fill in the making: the free wall made ready, filled, evened, proven; and its candidates turned into
//! spots.
//!
//! Imports: base, outline, read::job, make::{free_area, accent}, make::accent::{outline, template, task, obstacle_grid,
//! distance_field, greedy, flex, mosaic, prove, patch, films, check, shares}.

use super::distance_field::DistanceField;
use super::greedy::{self, FillParams, SpotCandidate};
use super::outline::{self, V};
use super::prove::Saturation;
use super::task::FillTask;
use super::template::Template;
use super::{Fill, Spot};
use super::{check, films, flex, mosaic, obstacle_grid, patch, prove, shares};
use crate::base::diag::{Diagnostic, Diagnostics};
use crate::base::frame::{Art, Point, Rigid};
use crate::base::random::Random;
use crate::base::tolerance::{ACCENT_FLATTEN, CLEAR_GUARD};
use crate::base::units::Angle;
use crate::make::free_area::FreeArea;
use crate::outline::Region;
use crate::read::job::{AccentSpec, Adapt, FilmId};

/// Remove-and-refill rounds per spot when a fill is polished.
const POLISH: usize = 30;
/// Most that polishing a fill may cost, counted as [`greedy::fill`] does: some eight seconds of one processor.
const MOST_COST: usize = 250_000;
/// Batches that those rounds run in, with a relaxation pass over all spots after each.
const PARTS: usize = 10;
/// Part of the allowed bend by which spots start smaller than the largest size.
const HEADROOM: f64 = 0.5;
/// The same before spots are bent.
const BEFORE_BENDS: f64 = 0.8;

/// Fills the free wall with spots; the same room, spec and seed give the same fill.
///
/// What is wrong goes to `diagnostics`; with a fault there are no spots.
/// Every distance asked for is kept with [`CLEAR_GUARD`] to spare, so that it holds on the curves as written.
pub fn fill(task: &FillTask<'_>, diagnostics: &mut Diagnostics) -> Fill {
    let FillTask { room, spec, at, .. } = *task;
    let Ok(library) = check::library(task, diagnostics) else {
        return Fill::empty();
    };
    let Work { stage, drafts, shapes, saturation, mut random } = work(task, &library, diagnostics);
    if saturation.undecided > 0 {
        let message = "the fill is not proven to be full";
        let note = Diagnostic::note(&check::UNPROVEN, at.clone(), message);
        let note = note.measured(format!("{} groups of poses undecided", saturation.undecided));
        diagnostics
            .push(note.help("a slightly larger `smallest` often settles them; the fill is sound as it is"));
    }
    let spots = finished(room, spec, &shapes, &drafts, &mut random, &stage.world);
    Fill { spots, saturation }
}

impl Fill {
    /// No spots.
    fn empty() -> Fill {
        Fill { spots: Vec::new(), saturation: Saturation::default() }
    }
}

/// A fill before it is written out as spots.
pub(super) struct Work {
    pub(super) stage: FillStage,
    pub(super) drafts: Vec<SpotCandidate>,
    /// What the drafts' numbers of shapes stand for; the library is at its end.
    pub(super) shapes: Vec<Template>,
    pub(super) saturation: Saturation,
    pub(super) random: Random,
}

pub(super) fn work(task: &FillTask<'_>, library: &[Template], diagnostics: &mut Diagnostics) -> Work {
    let FillTask { room, spec, seed, accent, at, .. } = *task;
    let mut stage = FillStage::new(room, spec, library);
    let mut random = Random::new(seed, "accent", accent as u64 + ((room.zone_number as u64) << 32));
    let mut drafts = Vec::new();
    let kit = stage.kit(spec, library);
    let bare = stage.field.clone();
    // What is to be bent keeps some of its size for that: bent, it is longer.
    let rigid = match spec.adapt {
        Adapt::Flex(cap) => kit.largest * (1.0 - HEADROOM * cap),
        _ => kit.largest,
    };
    let straight = FillParams { largest: rigid.max(kit.smallest), ..kit };
    greedy::fill(&straight, &mut stage.world, &mut stage.field, &mut drafts, &mut random, 2);
    shares::deal(&straight, &mut stage.world, (&mut stage.field, &bare), &mut drafts, &mut random);
    if drafts.is_empty() {
        diagnostics.push(check::no_room(&kit, &stage.field, spec, at));
    }
    match spec.adapt {
        Adapt::AsDrawn if spec.polish => {
            let part = POLISH * drafts.len() / PARTS;
            let mut cost = 0;
            for k in 0..PARTS {
                if cost >= MOST_COST {
                    diagnostics.push(check::polish_stopped(k, PARTS, at));
                    break;
                }
                let search = patch::PolishSearch::long(part, MOST_COST - cost);
                stage.even(&kit, &bare, &mut drafts, &mut random, &flex::RelaxRules::rigid());
                cost += stage.polish(&kit, &bare, &mut drafts, &mut random, &search);
            }
            stage.even(&kit, &bare, &mut drafts, &mut random, &flex::RelaxRules::rigid());
        }
        Adapt::AsDrawn => {}
        Adapt::Flex(cap) => {
            let rounds = (BEFORE_BENDS * drafts.len() as f64) as usize;
            let search = patch::PolishSearch::short(rounds, MOST_COST);
            stage.polish(&straight, &bare, &mut drafts, &mut random, &search);
            stage.even(&kit, &bare, &mut drafts, &mut random, &flex::RelaxRules::supple(cap));
        }
        Adapt::Mosaic => stage.even(&kit, &bare, &mut drafts, &mut random, &flex::RelaxRules::cells()),
    }
    let mut shapes = library.to_vec();
    if spec.adapt == Adapt::Mosaic {
        shapes = mosaic::cells(&kit, &stage.world, &mut drafts);
        let kit = FillParams { library: &shapes, smallest: 0.0, largest: 2.0 * kit.largest, ..kit };
        mosaic::relax_cells(&kit, &mut stage.world, &mut drafts);
        stage.field = greedy::painted(&kit, &stage.world, &bare, &drafts);
    }
    // What is added now comes from the library as drawn, which stands behind the cells.
    let (cells, before) = (shapes.len(), drafts.len());
    let saturation = prove::saturate(&kit, &mut stage.world, &mut stage.field, &mut drafts);
    // Also where there are no cells: the first fill found no room, and the proof did.
    if spec.adapt == Adapt::Mosaic {
        drafts[before..].iter_mut().for_each(|d| d.template += cells);
        shapes.extend(library.iter().cloned());
    }
    Work { stage, drafts, shapes, saturation, random }
}

/// The room made ready: obstacles in the grid and in the raster.
pub(super) struct FillStage {
    pub(super) world: obstacle_grid::ObstacleGrid,
    pub(super) field: DistanceField,
    /// Rings of each obstacle and the distance it wants beyond the gap.
    pub(super) obstacles: Vec<(Vec<Vec<V>>, f64)>,
}

impl FillStage {
    pub(super) fn new(room: &FreeArea, spec: &AccentSpec, library: &[Template]) -> FillStage {
        let gap = spec.gap.get();
        let obstacles: Vec<(Vec<Vec<V>>, f64)> = room
            .obstacles
            .iter()
            .map(|o| (o.region.flat(ACCENT_FLATTEN).rings, (o.clearance.get() - gap).max(0.0)))
            .chain(room.zone.handles.iter().map(|h| (h.region.flat(ACCENT_FLATTEN).rings, 0.0)))
            .collect();
        let more = obstacles.iter().map(|o| o.1).fold(0.0, f64::max);
        let mut world = obstacle_grid::ObstacleGrid::new(
            &room.development,
            &room.zone,
            gap,
            spec.largest.get() + gap + more + 6.0,
        );
        let mut field = bare_field(&world, library, spec);
        for (id, (rings, more)) in obstacles.iter().enumerate() {
            for n in world.enter(id, rings, *more) {
                for ring in rings {
                    let copy: Vec<V> = ring.iter().map(|p| world.turned(*p, n)).collect();
                    field.paint(id as u32, &copy, *more);
                }
            }
        }
        field.ready();
        FillStage { world, field, obstacles }
    }
    /// The raster of the wall without anything on it.
    pub(super) fn bare_field(&self, library: &[Template], spec: &AccentSpec) -> DistanceField {
        bare_field(&self.world, library, spec)
    }
    /// All spots shift, grow and bend until the gaps are even.
    pub(super) fn even(
        &mut self,
        kit: &FillParams,
        bare: &DistanceField,
        drafts: &mut Vec<SpotCandidate>,
        random: &mut Random,
        way: &flex::RelaxRules,
    ) {
        self.field = flex::relax_gaps(kit, &mut self.world, bare, drafts, random, way);
    }
    /// Neighbourhoods are taken out and filled anew, for the better; gives what it cost.
    pub(super) fn polish(
        &mut self,
        kit: &FillParams,
        bare: &DistanceField,
        drafts: &mut Vec<SpotCandidate>,
        random: &mut Random,
        search: &patch::PolishSearch,
    ) -> usize {
        patch::polished(kit, &mut self.world, (&mut self.field, bare), drafts, random, search)
    }
    pub(super) fn kit<'a>(&self, spec: &'a AccentSpec, library: &'a [Template]) -> FillParams<'a> {
        FillParams {
            library,
            shares: &spec.shares,
            need: spec.gap.get() + CLEAR_GUARD.get() + 2.0 * ACCENT_FLATTEN.get(),
            smallest: spec.smallest.get(),
            largest: spec.largest.get(),
            limit: if spec.adapt == Adapt::AsDrawn { spec.largest.get() } else { f64::INFINITY },
            turn: spec.turn,
            first: self.obstacles.len(),
        }
    }
}

pub(super) fn bare_field(
    world: &obstacle_grid::ObstacleGrid,
    library: &[Template],
    spec: &AccentSpec,
) -> DistanceField {
    let gap = spec.gap.get();
    let deepest = library.iter().map(|t| t.inradius).fold(0.0, f64::max) * spec.largest.get();
    let pixel = (spec.smallest.get() / 4.0).clamp(0.5, 1.0);
    let mut field = DistanceField::new(world, pixel, deepest + gap + 1.5);
    // The largest spot of the library, a little less.
    field.wanted = (0.9 * deepest + gap) as f32;
    field
}

/// Drafts to spots: films chosen, outlines put into their own frames.
pub(super) fn finished(
    room: &FreeArea,
    spec: &AccentSpec,
    library: &[Template],
    drafts: &[SpotCandidate],
    random: &mut Random,
    world: &obstacle_grid::ObstacleGrid,
) -> Vec<Spot> {
    let films = films::choose(spec, drafts, world, random);
    drafts.iter().zip(films).map(|(d, film)| spot(room, spec, &library[d.template], d, film)).collect()
}

pub(super) fn spot(
    room: &FreeArea,
    spec: &AccentSpec,
    t: &Template,
    d: &SpotCandidate,
    film: FilmId,
) -> Spot {
    let other = spec.films.iter().map(|f| f.0).find(|f| *f != film);
    let (c, s) = (libm::cos(d.pose.turn), libm::sin(d.pose.turn));
    let grown = |p: V| outline::mul(p, d.pose.size);
    let hull = t.frame.bent(&t.hull, &d.bends).map(grown);
    let (mut main, mut tinted) = (Vec::new(), Vec::new());
    if t.parts.is_empty() {
        main.push(hull.path());
    }
    for (part, tint) in &t.parts {
        let path = part.map(grown).path();
        // Without a second film the opening stays open: the piece is one piece.
        match (*tint, other) {
            (false, _) => main.push(path),
            (true, Some(_)) => tinted.push(path),
            (true, None) => {}
        }
    }
    let hull: Region<Art> = Region::trusted([hull.path()]);
    let raw: Region<Art> = Region::trusted(main).without_short_segments();
    let middle = raw.bounds().centre();
    let home: Rigid<Art, Art> = Rigid::new(Angle::ZERO, Point::mm(-middle.x, -middle.y));
    let origin = outline::add(d.pose.at, [c * middle.x - s * middle.y, s * middle.x + c * middle.y]);
    let pose = Rigid::from_parts(c, s, Point::mm(origin[0], origin[1]));
    let wall = room.development.wall_pose(&pose);
    Spot {
        outline: raw.moved(&home),
        hull: hull.moved(&home),
        zone: room.zone_number,
        wall,
        pose: room.development.pose(wall),
        film,
        name: t.name.clone(),
        tint: match other {
            Some(f) if !tinted.is_empty() => vec![(f, Region::trusted(tinted).moved(&home))],
            _ => Vec::new(),
        },
    }
}
