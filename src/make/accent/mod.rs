//! Accent spots: the wall that motifs leave free is filled evenly, over the seam, with small shapes.
//!
//! Stages of [`fill`]: a library of shapes is drawn ([`families`], `template`), all that must be kept clear of is
//! entered into a grid (`obstacle_grid`) and a guiding raster (`distance_field`), voids are filled largest first (`greedy`, `grow_to_contact`),
//! and the result is measured (`measure`).
//!
//! Imports: base, read::job, make::cup, make::room.

pub mod families;
mod outline;
mod bend;
mod template;
mod cell;
mod obstacle_grid;
mod distance_field;
mod near;
mod contact;
mod greedy;
mod flex;
mod mosaic;
mod prove;
mod patch;
pub mod follow;
mod films;
mod measure;
mod check;

#[cfg(test)]
mod tests;

pub use check::CODES;
pub use families::Family;
pub use follow::MovingFill;
pub use measure::{Measures, measure};
pub use prove::Saturation;

use crate::base::diag::{Diagnostic, Diagnostics, KeyPath};
use crate::base::frame::{Art, Plane, Point, Rigid};
use crate::base::random::Random;
use crate::base::tolerance::{ACCENT_FLATTEN, CLEAR_GUARD};
use crate::base::units::{Angle, Mm, Seed};
use crate::make::free_area::FreeArea;
use crate::outline::Region;
use crate::read::job::{AccentSpec, Adapt, FilmId, WallPose};
use distance_field::DistanceField;
use greedy::{FillParams, SpotCandidate};
use outline::V;
use template::Template;

/// One accent spot.
#[derive(Clone, Debug, PartialEq)]
pub struct Spot {
    /// What is cut from [`Self::film`], in its own frame: the middle of the bounding box at the origin.
    pub outline: Region<Art>,
    /// What it packs by, in the same frame: the outline itself, or the hull of a broken ring.
    pub hull: Region<Art>,
    /// Where its origin goes on the wall.
    pub wall: WallPose,
    /// The same on the plane.
    pub pose: Rigid<Art, Plane>,
    /// Film it is cut from.
    pub film: FilmId,
    /// Its family, or the maker's name for the outline.
    pub name: String,
    /// Parts cut from other films, in the same frame.
    pub tint: Vec<(FilmId, Region<Art>)>,
}

/// A finished fill.
#[derive(Clone, Debug, PartialEq)]
pub struct Fill {
    /// All spots, in the order in which they were placed.
    pub spots: Vec<Spot>,
    /// Proof that nothing more fits.
    pub saturation: Saturation,
}

/// Neighbourhoods that polishing takes out and fills anew, for each spot, and the parts in which it does so: between them
/// all spots are evened.
const POLISH: usize = 30;
const PARTS: usize = 10;
/// The same before spots are bent.
const BEFORE_BENDS: f64 = 0.8;

/// Fills the free wall with spots; the same room, spec and seed give the same fill.
///
/// `own` holds the maker's outlines in the order in which `spec.shapes` names them. `accent` is the fill's place in
/// the job, `at` its key path. What is wrong goes to `diagnostics`; with a fault there are no spots.
/// Every distance asked for is kept with [`CLEAR_GUARD`] to spare, so that it holds on the curves as written.
pub fn fill(
    room: &FreeArea,
    spec: &AccentSpec,
    own: &[Region<Art>],
    seed: Seed,
    accent: usize,
    at: &KeyPath,
    diagnostics: &mut Diagnostics,
) -> Fill {
    let Ok(library) = check::library(spec, own, room.zone.high - room.zone.low, seed, at, diagnostics) else {
        return Fill::empty();
    };
    let Work { stage, drafts, shapes, saturation, mut random } =
        work(room, spec, &library, seed, accent, at, diagnostics);
    if saturation.undecided > 0 {
        let message = "the fill is not proven to be full";
        let note = Diagnostic::note(&check::UNPROVEN, at.clone(), message);
        let note = note.measured(format!("{} groups of poses undecided", saturation.undecided));
        diagnostics.push(note.help("another seed, or a slightly larger `smallest`, often settles them"));
    }
    let spots = finished(room, spec, &shapes, &drafts, &mut random, &stage.world);
    Fill { spots, saturation }
}

/// Proves a finished fill anew, from its outlines alone: a grid, a raster and a library of its own.
///
/// What [`fill`] found full is found full again, but for poses whose room differs by less than
/// [`ACCENT_FLATTEN`] from what the proof asks.
pub fn prove(
    room: &FreeArea,
    spec: &AccentSpec,
    own: &[Region<Art>],
    seed: Seed,
    fill: &Fill,
    at: &KeyPath,
    diagnostics: &mut Diagnostics,
) -> Saturation {
    let Ok(library) = check::library(spec, own, room.zone.high - room.zone.low, seed, at, diagnostics) else {
        return Saturation::default();
    };
    let mut stage = FillStage::new(room, spec, &library);
    let kit = stage.kit(spec, &library);
    for (i, spot) in fill.spots.iter().enumerate() {
        for ring in spot.hull.moved(&spot.pose).flat(ACCENT_FLATTEN).rings {
            greedy::place(&mut stage.world, Some(&mut stage.field), kit.first + i, &ring);
        }
    }
    let kit = FillParams { first: kit.first + fill.spots.len(), ..kit };
    prove::saturate(&kit, &mut stage.world, &mut stage.field, &mut Vec::new())
}

/// A fill before it is written out as spots.
struct Work {
    stage: FillStage,
    drafts: Vec<SpotCandidate>,
    /// What the drafts' numbers of shapes stand for; the library is at its end.
    shapes: Vec<Template>,
    saturation: Saturation,
    random: Random,
}

fn work(
    room: &FreeArea,
    spec: &AccentSpec,
    library: &[Template],
    seed: Seed,
    accent: usize,
    at: &KeyPath,
    diagnostics: &mut Diagnostics,
) -> Work {
    let mut stage = FillStage::new(room, spec, library);
    let mut random = Random::new(seed, "accent", accent as u64);
    let mut drafts = Vec::new();
    let kit = stage.kit(spec, library);
    let bare = stage.field.clone();
    greedy::fill(&kit, &mut stage.world, &mut stage.field, &mut drafts, &mut random, 2);
    if drafts.is_empty() {
        diagnostics.push(check::no_room(&kit, &stage.field, spec, at));
    }
    match spec.adapt {
        Adapt::AsDrawn if spec.polish => {
            let search = patch::PolishSearch::long(POLISH * drafts.len() / PARTS);
            for _ in 0..PARTS {
                stage.even(&kit, &bare, &mut drafts, &mut random, &flex::RelaxRules::rigid());
                stage.polish(&kit, &bare, &mut drafts, &mut random, &search);
            }
            stage.even(&kit, &bare, &mut drafts, &mut random, &flex::RelaxRules::rigid());
        }
        Adapt::AsDrawn => {}
        Adapt::Flex(cap) => {
            let search = patch::PolishSearch::short((BEFORE_BENDS * drafts.len() as f64) as usize);
            stage.polish(&kit, &bare, &mut drafts, &mut random, &search);
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
    let (cells, before) = (if spec.adapt == Adapt::Mosaic { shapes.len() } else { 0 }, drafts.len());
    let saturation = prove::saturate(&kit, &mut stage.world, &mut stage.field, &mut drafts);
    if cells > 0 {
        drafts[before..].iter_mut().for_each(|d| d.template += cells);
        shapes.extend(library.iter().cloned());
    }
    Work { stage, drafts, shapes, saturation, random }
}

impl Fill {
    /// No spots.
    fn empty() -> Fill {
        Fill { spots: Vec::new(), saturation: Saturation::default() }
    }
}

/// A shape of a family at size 1: what is cut, what of it takes the tint, and its smallest size.
pub fn sample(family: Family, seed: Seed, item: u64) -> (Region<Art>, Region<Art>, Mm) {
    let t = Template::of_family(family, 16.0, seed, item);
    let pick = |tint: bool| t.parts.iter().filter(move |p| p.1 == tint).map(|p| p.0.path());
    let main =
        if t.parts.is_empty() { Region::trusted([t.hull.path()]) } else { Region::trusted(pick(false)) };
    (main, Region::trusted(pick(true)), Mm(t.smallest))
}

/// Narrowest place of outlines, each by itself; infinite where they have none.
pub fn narrowest(region: &Region<Art>) -> Mm {
    let of = |path| outline::width(&outline::CubicLoop::from_path(path).ring(12));
    Mm(region.contours().iter().map(of).fold(f64::INFINITY, f64::min))
}

/// The room made ready: obstacles in the grid and in the raster.
struct FillStage {
    world: obstacle_grid::ObstacleGrid,
    field: DistanceField,
    /// Rings of each obstacle and the distance it wants beyond the gap.
    obstacles: Vec<(Vec<Vec<V>>, f64)>,
}

impl FillStage {
    fn new(room: &FreeArea, spec: &AccentSpec, library: &[Template]) -> FillStage {
        let gap = spec.gap.get();
        let obstacles: Vec<(Vec<Vec<V>>, f64)> = room
            .obstacles
            .iter()
            .map(|o| (o.region.flat(ACCENT_FLATTEN).rings, (o.clearance.get() - gap).max(0.0)))
            .chain(room.zone.handle.iter().map(|h| (h.flat(ACCENT_FLATTEN).rings, 0.0)))
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
    fn bare_field(&self, library: &[Template], spec: &AccentSpec) -> DistanceField {
        bare_field(&self.world, library, spec)
    }
    /// All spots shift, grow and bend until the gaps are even.
    fn even(
        &mut self,
        kit: &FillParams,
        bare: &DistanceField,
        drafts: &mut Vec<SpotCandidate>,
        random: &mut Random,
        way: &flex::RelaxRules,
    ) {
        self.field = flex::relax_gaps(kit, &mut self.world, bare, drafts, random, way);
    }
    /// Neighbourhoods are taken out and filled anew, for the better.
    fn polish(
        &mut self,
        kit: &FillParams,
        bare: &DistanceField,
        drafts: &mut Vec<SpotCandidate>,
        random: &mut Random,
        search: &patch::PolishSearch,
    ) {
        patch::polished(kit, &mut self.world, &mut self.field, bare, drafts, random, search);
    }
    fn kit<'a>(&self, spec: &AccentSpec, library: &'a [Template]) -> FillParams<'a> {
        FillParams {
            library,
            need: spec.gap.get() + CLEAR_GUARD.get() + 2.0 * ACCENT_FLATTEN.get(),
            smallest: spec.smallest.get(),
            largest: spec.largest.get(),
            turn: spec.turn,
            first: self.obstacles.len(),
        }
    }
}

fn bare_field(world: &obstacle_grid::ObstacleGrid, library: &[Template], spec: &AccentSpec) -> DistanceField {
    let gap = spec.gap.get();
    let deepest = library.iter().map(|t| t.inradius).fold(0.0, f64::max) * spec.largest.get();
    let pixel = (spec.smallest.get() / 4.0).clamp(0.5, 1.0);
    let mut field = DistanceField::new(world, pixel, deepest + gap + 1.5);
    // The largest spot of the library, a little less: where it just fits is where it goes first.
    field.wanted = (0.9 * deepest + gap) as f32;
    field
}

/// Drafts to spots: films chosen, outlines put into their own frames.
fn finished(
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

fn spot(room: &FreeArea, spec: &AccentSpec, t: &Template, d: &SpotCandidate, film: FilmId) -> Spot {
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
        if *tint && other.is_some() { tinted.push(path) } else { main.push(path) }
    }
    let hull: Region<Art> = Region::trusted([hull.path()]);
    let raw: Region<Art> = Region::trusted(main);
    let middle = raw.bounds().centre();
    let home: Rigid<Art, Art> = Rigid::new(Angle::ZERO, Point::mm(-middle.x, -middle.y));
    let origin = outline::add(d.pose.at, [c * middle.x - s * middle.y, s * middle.x + c * middle.y]);
    let pose = Rigid::from_parts(c, s, Point::mm(origin[0], origin[1]));
    let wall = room.development.wall_pose(&pose);
    Spot {
        outline: raw.moved(&home),
        hull: hull.moved(&home),
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
