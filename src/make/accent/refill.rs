//! [`refills`]: the holes of a wall whose other spots stay are filled, and nothing else moves.
//!
//! The spots that stay are obstacles of the room: bending, proof and measure are those of [`super::fill`], so what is
//! new keeps every distance to what is old, and where nothing fits nothing comes.
//!
//! Imports: base, outline, read::{job, materials}, make::{free_area, accent}, make::accent::{template, task,
//! obstacle_grid, contact, greedy, ragged, check, work, pieces, repaired}.

use super::check;
use super::contact::Pose;
use super::greedy::SpotCandidate;
use super::obstacle_grid::ObstacleGrid;
use super::outline::{V, len, sub};
use super::pieces::worth_filling;
use super::ragged::for_fill;
use super::repaired::{Place, Seen};
use super::task::FillTask;
use super::template::Template;
use super::work::{Work, spot, work};
use super::{Fill, Spot};
use crate::base::diag::{Diagnostics, ErrorGuaranteed, KeyPath};
use crate::base::frame::{Art, Plane};
use crate::base::random::FNV_PRIME;
use crate::base::units::{Mm, Seed};
use crate::make::free_area::{FreeArea, Obstacle};
use crate::outline::Region;
use crate::outline::plane::{convex_hull, ring_contains};
use crate::read::job::{AccentSpec, Adapt, FilmId, Job};
use crate::read::materials::Materials;
use rayon::prelude::*;

/// A spot that stays.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Stays {
    /// Its middle on the plane.
    pub at: [f64; 2],
    /// Its longer side.
    pub size: Mm,
    /// Its film.
    pub film: FilmId,
}

/// How often a hole is filled, from streams of its own, until one fill is as even as the wall was there; of all the one
/// that comes nearest is taken.
const TRIES: usize = 48;
/// Fills made at a time.
const AT_ONCE: usize = 4;
/// So near to what was there, in parts of what may change, no other is tried.
const GOOD: f64 = 0.5;

/// Parts of their size to which the new spots of a fill are let down where that is nearer: a hole is filled fuller than
/// a wall.
const LET_DOWN: [f64; 5] = [1.0, 0.97, 0.94, 0.9, 0.86];
/// Gaps that are asked for, in parts of the job's: by turns, once tries at its own gap came to nothing good. A wall is
/// sparse where motifs are close together.
const WIDER: [f64; 4] = [1.0, 1.3, 1.7, 2.3];
const OWN_GAP: usize = 12;

/// A new spot may be as long as the longest that stays, or as this in parts of the largest size; what a longer one counts
/// for.
const LONGEST: f64 = 1.3;
const TOO_LONG: f64 = 100.0;

/// A room in which all that stays is an obstacle, the first `still` of them no spots; and the same before the change.
pub(super) struct Hole<'a> {
    pub(super) still: usize,
    pub(super) before: &'a FreeArea,
    pub(super) still_before: usize,
    pub(super) place: Place,
}

/// Spots for the holes of a room; `stays` are the spots of this fill that stay, whose films the new ones go by.
pub(super) fn refill(
    task: &FillTask<'_>,
    stays: &[Stays],
    hole: &Hole<'_>,
    diagnostics: &mut Diagnostics,
) -> Fill {
    let nothing = || Fill { spots: Vec::new(), saturation: super::Saturation::default() };
    let Ok(library) = check::library(task, diagnostics) else { return nothing() };
    let (room, spec) = (task.room, task.spec);
    let gap = spec.gap.get();
    let before = Seen::of(hole.before, hole.still_before, spec, &library).even(&hole.place, &[], gap);
    let seen = Seen::of(room, hole.still, spec, &library);
    let most = seen.rings().map(longest).fold(LONGEST * spec.largest.get(), f64::max);
    let one = |k: usize| {
        let mut told = Diagnostics::new();
        let seed = Seed(task.seed.0.wrapping_add(k as u64));
        let own = bent(spec, k);
        let mut made = work(&FillTask { seed, spec: &own, ..*task }, &library, &mut told);
        let let_down = LET_DOWN
            .iter()
            .map(|part| made.drafts.iter().map(|d| smaller(d, &made.shapes, spec, *part)).collect());
        let weighed = let_down.map(|drafts: Vec<SpotCandidate>| {
            let rings: Vec<&[V]> = drafts.iter().map(|d| d.ring.as_slice()).collect();
            (seen.even(&hole.place, &rings, gap).off(&before), drafts)
        });
        let (mut off, drafts) = weighed.min_by(|a, b| a.0.total_cmp(&b.0)).unwrap_or_default();
        made.drafts = drafts;
        let long = made.drafts.iter().map(|d| longest(&d.ring)).fold(0.0, f64::max);
        // What no spot of the job is as long as would be seen.
        if long > most {
            off += TOO_LONG;
        }
        (off, k, made, told)
    };
    let mut best: Option<(f64, usize, Work, Diagnostics)> = None;
    for from in (0..TRIES).step_by(AT_ONCE) {
        let made: Vec<_> = (from..from + AT_ONCE).into_par_iter().map(one).collect();
        for m in made {
            if best.as_ref().is_none_or(|b| m.0 < b.0) {
                best = Some(m);
            }
        }
        let good = best.as_ref().is_some_and(|b| b.0 <= GOOD || b.2.drafts.is_empty());
        if good || hole.place.is_empty() {
            break;
        }
    }
    let Some((_, _, Work { stage, drafts, shapes, saturation, .. }, told)) = best else { return nothing() };
    // That nothing more fits is what a wall without holes is expected to say.
    let worth = told.into_vec().into_iter().filter(|d| d.code.id != check::NO_ROOM.id || stays.is_empty());
    diagnostics.extend(worth.collect::<Vec<_>>());
    let films = films(spec, &drafts, stays, &stage.world);
    let one = |(d, film): (&SpotCandidate, FilmId)| spot(room, spec, &shapes[d.template], d, film);
    let spots: Vec<Spot> = drafts.iter().zip(films).map(one).collect();
    Fill { spots, saturation }
}

/// The wish of a fill for one try: spots bend as the job says, twice as far, or to cells of the hole; a hole has other
/// shapes than a wall that is filled whole.
fn bent(spec: &AccentSpec, k: usize) -> AccentSpec {
    let (adapt, part) = match (spec.adapt, k % 3) {
        (Adapt::Flex(cap), 1) => (Adapt::Flex(2.0 * cap), 0.88),
        (Adapt::Flex(_), 2) => (Adapt::Mosaic, 0.7),
        (other, _) => (other, 1.0),
    };
    // What bends further grows: it begins smaller, so that it ends within the job's sizes.
    let largest = (spec.largest * part).max(spec.smallest);
    let wider = if k < OWN_GAP { 1.0 } else { WIDER[k / 3 % WIDER.len()] };
    AccentSpec { adapt, largest, gap: spec.gap * wider, ..spec.clone() }
}

/// A spot let down to a part of its size about its middle, as far as the job and its shape allow; itself where that
/// would reach out of what it was, so that no distance becomes less.
fn smaller(d: &SpotCandidate, shapes: &[Template], spec: &AccentSpec, part: f64) -> SpotCandidate {
    let least =
        shapes.get(d.template).map_or(0.0, |t| t.smallest) * if d.bends.is_empty() { 1.0 } else { BENT };
    let part = part.max(least / d.pose.size).max(spec.smallest.get() / longest(&d.ring)).min(1.0);
    let ring: Vec<V> =
        d.ring.iter().map(|p| [0, 1].map(|k| d.pose.at[k] + part * (p[k] - d.pose.at[k]))).collect();
    if part == 1.0 || !ring.iter().all(|p| ring_contains(&d.ring, *p)) {
        return d.clone();
    }
    SpotCandidate { pose: Pose { size: d.pose.size * part, ..d.pose }, ring, ..d.clone() }
}

/// A bent spot's narrow places are narrower than its shape's: so much of its smallest size is kept for them.
const BENT: f64 = 1.05;

/// The longest way across an outline.
fn longest(ring: &[V]) -> f64 {
    let hull = convex_hull(ring.to_vec());
    hull.iter().flat_map(|p| hull.iter().map(move |q| len(sub(*p, *q)))).fold(0.0, f64::max)
}

/// Each new spot takes the film that lacks most of its share, its neighbours' rather not.
fn films(spec: &AccentSpec, drafts: &[SpotCandidate], stays: &[Stays], world: &ObstacleGrid) -> Vec<FilmId> {
    let mut standing: Vec<(V, f64, FilmId)> = stays.iter().map(|s| (s.at, s.size.0, s.film)).collect();
    let whole: f64 = spec.films.iter().map(|f| f.1).sum();
    let mut out = Vec::new();
    for d in drafts {
        let (at, size) = (d.pose.at, d.pose.size);
        let near = |s: &&(V, f64, FilmId)| {
            let reach = 0.6 * (size + s.1) + 3.0;
            world.copies_of(s.0).any(|copy| len(sub(copy, at)) < reach)
        };
        let neighbours: Vec<FilmId> = standing.iter().filter(near).map(|s| s.2).collect();
        let total = (standing.len() + 1) as f64;
        let score = |(film, share): &(FilmId, f64)| {
            let wanted = (share / whole * total).max(1.0);
            let have = standing.iter().filter(|s| s.2 == *film).count() as f64;
            let like = neighbours.iter().filter(|f| *f == film).count() as f64;
            // A film lacks a few of hundreds: neighbours weigh as much.
            10.0 * (wanted - have) / wanted - 0.7 * like
        };
        let film = spec.films.iter().max_by(|a, b| score(a).total_cmp(&score(b))).map_or(FilmId(0), |f| f.0);
        standing.push((at, size, film));
        out.push(film);
    }
    out
}

/// What a run that keeps an earlier kit knows of its fills.
pub struct Holes<'a> {
    /// Spots that stay, by fill and zone.
    pub stays: &'a dyn Fn(usize, usize) -> Vec<Stays>,
    /// Did anything change for that fill in that zone?
    pub changed: &'a dyn Fn(usize, usize) -> bool,
    /// How many obstacles of a zone and pass are no spots.
    pub still: &'a dyn Fn(usize, usize) -> usize,
    /// The room of a fill and zone before the change, all spots obstacles behind the others, and how many those are.
    pub before: &'a dyn Fn(usize, usize) -> (FreeArea, usize),
    /// What changed there: outlines that are gone, and those that are new.
    pub places: &'a dyn Fn(usize, usize) -> Vec<Region<Plane>>,
    /// Keeps the streams of one change apart from those of the next.
    pub salt: u64,
}

/// The fills of a job whose rooms hold all that stays, old spots too: only what is new, fill by fill; each becomes an
/// obstacle for the next.
///
/// # Errors
/// Outlines of a fill's own could not be read.
pub fn refills(
    job: &Job,
    materials: &Materials,
    rooms: &mut [FreeArea],
    holes: &Holes<'_>,
    diagnostics: &mut Diagnostics,
) -> Result<Vec<Fill>, ErrorGuaranteed> {
    let mut fills = Vec::new();
    let seed = Seed(job.seed.0 ^ holes.salt.wrapping_mul(FNV_PRIME));
    for (accent, spec) in job.accents.iter().enumerate() {
        let at = KeyPath::root().key("accent").index(accent);
        let own = materials.spot_outlines(accent)?;
        let weed = spec.films.iter().map(|(f, _)| job.films[f.0].weed).fold(Mm(0.0), Mm::max);
        let mut all = Fill { spots: Vec::new(), saturation: super::Saturation::default() };
        for zone in worth_filling(rooms, spec).into_iter().filter(|z| (holes.changed)(accent, *z)) {
            let pass = spec.pass.order;
            // Ragged limits are no spots: they stand first.
            let mut room = for_fill(&rooms[zone], (spec, accent), job.seed);
            let bumps = room.obstacles.len() - rooms[zone].of_pass(pass).obstacles.len();
            room.obstacles.rotate_right(bumps);
            let task = FillTask { room: &room, spec, own, weed, seed, accent, at: &at };
            let (mut before, still_before) = (holes.before)(accent, zone);
            before.zone = room.zone.clone();
            before.obstacles.splice(0..0, room.obstacles[..bumps].iter().cloned());
            let place = Place::of(&(holes.places)(accent, zone));
            let hole = Hole {
                still: bumps + (holes.still)(zone, pass),
                before: &before,
                still_before: bumps + still_before,
                place,
            };
            let made = refill(&task, &(holes.stays)(accent, zone), &hole, diagnostics);
            for spot in &made.spots {
                let parts = std::iter::once(&spot.outline).chain(spot.tint.iter().map(|t| &t.1));
                let region = |o: &Region<Art>| o.moved(&spot.pose);
                let obstacle = |o| Obstacle { region: region(o), clearance: spec.gap, pass };
                rooms[zone].obstacles.extend(parts.map(obstacle));
            }
            all.spots.extend(made.spots);
            all.saturation = all.saturation.and(&made.saturation);
        }
        fills.push(all);
    }
    diagnostics.check().map(|()| fills)
}
