//! All fills of a job, one after another, and their spots as numbered pieces.
//!
//! Imports: base, outline, read::{job, materials}, make::{cup, piece, free_area, accent}, make::accent::{task, prove,
//! ragged, work, path, follow}.

use super::follow::MovingFill;
use super::path;
use super::ragged::{beside_edges, for_fill};
use super::task::FillTask;
use super::work::fill;
use super::{Fill, Saturation, Spot};
use crate::base::diag::{Diagnostic, Diagnostics, ErrorGuaranteed, KeyPath};
use crate::base::units::Mm;
use crate::make::cup::Cup;
use crate::make::free_area::{FreeArea, Obstacle};
use crate::make::piece::{Kind, Piece};
use crate::outline::Region;
use crate::read::job::{AccentSpec, Job};
use crate::read::materials::Materials;

/// Fills one after another: each keeps clear of the spots of those before it, which become obstacles of
/// its zone's room.
///
/// # Errors
/// A fill has no room, or its own outlines could not be read.
pub fn fills(
    job: &Job,
    materials: &Materials,
    rooms: &mut [FreeArea],
    diagnostics: &mut Diagnostics,
) -> Result<Vec<Fill>, ErrorGuaranteed> {
    let mut fills = Vec::new();
    for (i, spec) in job.accents.iter().enumerate() {
        let at = KeyPath::root().key("accent").index(i);
        let own = materials.spot_outlines(i)?;
        let weed = spec.films.iter().map(|(f, _)| job.films[f.0].weed).fold(Mm(0.0), Mm::max);
        let mut all = Fill { spots: Vec::new(), saturation: Saturation::default() };
        let mut said: Vec<Diagnostic> = Vec::new();
        for zone in worth_filling(rooms, spec) {
            let pass = spec.pass.order;
            let room = for_fill(&rooms[zone], (spec, i), job.seed);
            let task = FillTask { room: &room, spec, own, weed, seed: job.seed, accent: i, at: &at };
            let mut own = Diagnostics::new();
            let made = fill(&task, &mut own);
            // What holds of every zone alike is said once.
            said.extend(own.into_vec().into_iter().filter(|d| !said.contains(d)).collect::<Vec<_>>());
            for spot in &made.spots {
                let parts = std::iter::once(&spot.outline).chain(spot.tint.iter().map(|t| &t.1));
                let clearance = spec.gap;
                rooms[zone].obstacles.extend(parts.map(|o| Obstacle {
                    region: o.moved(&spot.pose),
                    clearance,
                    pass,
                }));
            }
            all.spots.extend(made.spots);
            all.saturation = all.saturation.and(&made.saturation);
        }
        diagnostics.extend(said);
        fills.push(all);
    }
    diagnostics.check().map(|()| fills)
}

/// A fill of a zone that follows what moves there.
pub struct Following {
    /// Its place in the job.
    pub accent: usize,
    /// Its zone of the wall.
    pub zone: usize,
    /// Its pass.
    pub pass: usize,
    /// The fill.
    pub fill: MovingFill,
}

/// The same fills, ready to follow one obstacle each; `rooms` hold what lies on the wall without spots.
/// `None` with faults, and where fills share a zone in one pass: what one of them gives way to, the next one
/// would have to follow.
pub fn following(job: &Job, materials: &Materials, rooms: &[FreeArea]) -> Option<Vec<Following>> {
    let mut out: Vec<Following> = Vec::new();
    let mut diagnostics = Diagnostics::new();
    for (accent, spec) in job.accents.iter().enumerate() {
        let at = KeyPath::root().key("accent").index(accent);
        let own = materials.spot_outlines(accent).ok()?;
        let weed = spec.films.iter().map(|(f, _)| job.films[f.0].weed).fold(Mm(0.0), Mm::max);
        let pass = spec.pass.order;
        for zone in worth_filling(rooms, spec) {
            if out.iter().any(|f| f.zone == zone && f.pass == pass) {
                return None;
            }
            let room = for_fill(&rooms[zone], (spec, accent), job.seed);
            let task = FillTask { room: &room, spec, own, weed, seed: job.seed, accent, at: &at };
            let fill = MovingFill::new(&task, 0, &mut diagnostics)?;
            out.push(Following { accent, zone, pass, fill });
        }
    }
    (!diagnostics.any_fault()).then_some(out)
}

/// Zones in which a spot can stand; if there is none, the highest, to say so.
pub(super) fn worth_filling(rooms: &[FreeArea], spec: &AccentSpec) -> Vec<usize> {
    let height = |r: &FreeArea| {
        let z = beside_edges(&r.zone, spec.gap);
        (z.high - z.low).0
    };
    let high = |z: &usize| height(&rooms[*z]) > 2.0 * spec.gap.0 && rooms[*z].zone.high > rooms[*z].zone.low;
    let some: Vec<usize> = (0..rooms.len()).filter(high).collect();
    if some.is_empty() {
        let most = (0..rooms.len()).max_by(|a, b| height(&rooms[*a]).total_cmp(&height(&rooms[*b])));
        return most.into_iter().collect();
    }
    some
}

/// Spots get their numbers in the order in which they are placed (`accent::path`). The first gets number `first`.
pub fn pieces(job: &Job, cup: &Cup, fills: &[Fill], first: u32) -> Vec<Piece> {
    let mut spots: Vec<(usize, &Spot)> = Vec::new();
    for (i, fill) in fills.iter().enumerate() {
        spots.extend(fill.spots.iter().map(|s| (i, s)));
    }
    let place = |(_, s): &(usize, &Spot)| path::Spot {
        azimuth: s.wall.azimuth,
        slant: s.wall.slant,
        radius: cup.zones[s.zone].development.radius(s.wall.slant),
    };
    let places: Vec<path::Spot> = spots.iter().map(place).collect();
    let mut pieces = Vec::new();
    for (accent, spot) in path::order(&places, cup.seam()).into_iter().map(|i| spots[i]) {
        let number = first + pieces.len() as u32;
        pieces.extend(pieces_of(job, accent, spot, number));
    }
    pieces
}

/// The pieces of one spot: itself, and what lies in its openings.
pub fn pieces_of(job: &Job, accent: usize, spot: &Spot, number: u32) -> Vec<Piece> {
    let whole = Piece {
        number,
        kind: Kind::Spot { accent },
        name: spot.name.clone(),
        film: spot.film,
        outline: spot.outline.clone(),
        zone: spot.zone,
        wall: spot.wall,
        pose: spot.pose,
        clearance: job.accents[accent].gap,
        keys: Region::empty(),
    };
    let tints = spot.tint.iter().enumerate().map(|(i, (film, outline))| Piece {
        number: number + 1 + i as u32,
        kind: Kind::Tint { accent, of: number },
        name: format!("{} centre", spot.name),
        film: *film,
        outline: outline.clone(),
        ..whole.clone()
    });
    let tints: Vec<Piece> = tints.collect();
    std::iter::once(whole).chain(tints).collect()
}
