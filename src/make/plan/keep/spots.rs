//! Which spots stay: all that are clear of what changed, at exactly the distance asked for; and the holes that the
//! others leave.
//!
//! Imports: base, outline, read::{job, materials}, make::{cup, piece, free_area, motif, accent}, make::plan::keep::old.

use super::old::{Old, OldPiece};
use crate::base::diag::{Diagnostics, ErrorGuaranteed};
use crate::base::frame::{Art, Plane};
use crate::base::random::fnv1a;
use crate::base::tolerance::ACCENT_FLATTEN;
use crate::make::accent::{self, Fill, Holes, Stays};
use crate::make::cup::Cup;
use crate::make::free_area::{FreeArea, Obstacle};
use crate::make::motif::Crowd;
use crate::make::piece::{Kind, Piece};
use crate::outline::plane::convex_hull;
use crate::outline::{Flat, Region};
use crate::read::job::Job;
use crate::read::materials::Materials;
use std::collections::{BTreeMap, BTreeSet};

/// What each fill asks for, as a number.
pub(crate) fn wishes(job: &Job) -> Vec<u64> {
    job.accents.iter().map(|a| fnv1a(format!("{a:?}").bytes())).collect()
}

/// What changed on the wall.
pub(super) struct Changes {
    /// What stands where it did not stand before, or asks for more, by zone; each in its pass.
    pub(super) obstacles: Vec<(usize, Obstacle)>,
    /// Numbers of pieces that went elsewhere.
    pub(super) moved: BTreeSet<u32>,
    /// Zones and passes in which something went.
    pub(super) left: BTreeSet<(usize, usize)>,
    /// Zones whose free wall is another one.
    pub(super) bounds: BTreeSet<usize>,
    /// Fills that ask for something else.
    pub(super) wishes: BTreeSet<usize>,
    /// Keeps the streams of one change apart from those of the next.
    pub(super) salt: u64,
}

/// The spots that stay, their centres with them; the others are left untaken.
fn staying(job: &Job, cup: &Cup, old: &mut Old, changes: &Changes) -> Vec<usize> {
    let mut crowds: BTreeMap<(usize, usize), Crowd> = BTreeMap::new();
    let mut stay = Vec::new();
    let mut centres: BTreeMap<u32, Vec<usize>> = BTreeMap::new();
    for (i, o) in old.pieces.iter().enumerate() {
        if let Kind::Tint { of, .. } = o.piece.kind {
            centres.entry(of).or_default().push(i);
        }
    }
    for i in 0..old.pieces.len() {
        let OldPiece { piece, film_is_there, .. } = &old.pieces[i];
        let Kind::Spot { accent } = piece.kind else { continue };
        let Some(spec) = job.accents.get(accent) else { continue };
        let own: Vec<usize> = centres.get(&piece.number).cloned().unwrap_or_default();
        let films = std::iter::once(i).chain(own.iter().copied());
        let films = films
            .map(|k| &old.pieces[k])
            .all(|o| o.film_is_there && spec.films.iter().any(|f| f.0 == o.piece.film));
        if !film_is_there || !films {
            continue;
        }
        let (zone, pass) = (piece.zone, spec.pass.order);
        let crowd = crowds.entry((zone, pass)).or_insert_with(|| {
            let wall = &cup.zones[zone];
            let there = changes.obstacles.iter().filter(|(z, o)| *z == zone && o.pass == pass);
            Crowd::new(&FreeArea {
                development: wall.development,
                zone: accent::beside_edges(&wall.zone, spec.gap),
                zone_number: zone,
                obstacles: there.map(|(_, o)| o.clone()).collect(),
            })
        });
        let whole = hull(piece);
        if crowd.clear_of_fixed(&whole, spec.gap, piece.wall) {
            stay.push(i);
            stay.extend(own);
        }
    }
    for &i in &stay {
        old.pieces[i].taken = true;
    }
    stay
}

/// What a spot packs by: its outline, or the hull of its parts if it has several.
fn hull(piece: &Piece) -> Region<Art> {
    let flat: Flat<Art> = piece.outline.flat(ACCENT_FLATTEN);
    if flat.rings.len() < 2 {
        return piece.outline.clone();
    }
    Region::polygon(&convex_hull(flat.rings.into_iter().flatten().collect()))
}

/// What an earlier piece was to a fill: of decals the lowest layer stands for all.
fn stood(job: &Job, p: &Piece, accent: usize) -> Option<(bool, Region<Plane>)> {
    let pass = job.accents[accent].pass.order;
    let (spot, region) = match p.kind {
        Kind::Spot { .. } => (true, hull(p)),
        Kind::Motif { .. } | Kind::Layer { layer: 0, .. } => (false, p.outline.clone()),
        _ => return None,
    };
    (p.pass(job) == pass).then(|| (spot, region.moved(&p.pose)))
}

/// The room of a fill as the earlier kit has it, spots behind the others, and how many those are.
fn before(job: &Job, cup: &Cup, old: &Old, accent: usize, zone: usize) -> (FreeArea, usize) {
    let pass = job.accents[accent].pass.order;
    let (mut still, mut spots) = (Vec::new(), Vec::new());
    for o in old.pieces.iter().filter(|o| o.piece.zone == zone) {
        let Some((spot, region)) = stood(job, &o.piece, accent) else { continue };
        let obstacle = Obstacle { region, clearance: o.piece.clearance, pass };
        if spot { spots.push(obstacle) } else { still.push(obstacle) }
    }
    let count = still.len();
    still.extend(spots);
    let wall = &cup.zones[zone];
    let room = FreeArea {
        development: wall.development,
        zone: wall.zone.clone(),
        zone_number: zone,
        obstacles: still,
    };
    (room, count)
}

/// Outlines that are gone from a zone, and those that are new there.
fn places(job: &Job, old: &Old, changes: &Changes, accent: usize, zone: usize) -> Vec<Region<Plane>> {
    let pass = job.accents[accent].pass.order;
    let gone = old.pieces.iter().filter(|o| o.piece.zone == zone);
    let gone = gone.filter(|o| !o.taken || changes.moved.contains(&o.piece.number));
    let gone = gone.filter_map(|o| stood(job, &o.piece, accent)).map(|s| s.1);
    let new = changes.obstacles.iter().filter(|(z, o)| *z == zone && o.pass == pass);
    gone.chain(new.map(|(_, o)| o.region.clone())).collect()
}

/// The spots that stay, as pieces of the new kit, and the fills of the holes.
///
/// # Errors
/// Those of [`accent::fills`].
pub(super) fn kept(
    (job, materials, cup): (&Job, &Materials, &Cup),
    rooms: &mut [FreeArea],
    old: &mut Old,
    changes: &Changes,
    diagnostics: &mut Diagnostics,
) -> Result<(Vec<usize>, Vec<Fill>), ErrorGuaranteed> {
    let stay = staying(job, cup, old, changes);
    let still: BTreeMap<(usize, usize), usize> = rooms
        .iter()
        .flat_map(|r| r.obstacles.iter().map(|o| (r.zone_number, o.pass)))
        .fold(BTreeMap::new(), |mut all, key| {
            *all.entry(key).or_default() += 1;
            all
        });
    let mut by: BTreeMap<(usize, usize), Vec<Stays>> = BTreeMap::new();
    for &i in &stay {
        let p = &old.pieces[i].piece;
        let Kind::Spot { accent } = p.kind else { continue };
        let spec = &job.accents[accent];
        let region: Region<Plane> = hull(p).moved(&p.pose);
        let b = p.outline.bounds();
        let at = p.pose.origin();
        by.entry((accent, p.zone)).or_default().push(Stays {
            at: [at.x, at.y],
            size: b.width().max(b.height()),
            film: p.film,
        });
        let obstacle = Obstacle { region, clearance: spec.gap, pass: spec.pass.order };
        rooms[p.zone].obstacles.push(obstacle);
    }
    let gone = |accent: usize, zone: usize| {
        old.pieces.iter().any(|o| !o.taken && o.piece.zone == zone && o.piece.kind == Kind::Spot { accent })
    };
    let changed = |accent: usize, zone: usize| {
        let pass = job.accents[accent].pass.order;
        gone(accent, zone)
            || changes.wishes.contains(&accent)
            || changes.bounds.contains(&zone)
            || changes.left.contains(&(zone, pass))
            || changes.obstacles.iter().any(|(z, o)| *z == zone && o.pass == pass)
    };
    let stays = |accent: usize, zone: usize| by.get(&(accent, zone)).cloned().unwrap_or_default();
    let still = |zone: usize, pass: usize| still.get(&(zone, pass)).copied().unwrap_or(0);
    let before = |accent: usize, zone: usize| before(job, cup, old, accent, zone);
    let places = |accent: usize, zone: usize| places(job, old, changes, accent, zone);
    let holes = Holes {
        stays: &stays,
        changed: &changed,
        still: &still,
        before: &before,
        places: &places,
        salt: changes.salt,
    };
    let fills = accent::refills(job, materials, rooms, &holes, diagnostics)?;
    Ok((stay, fills))
}
