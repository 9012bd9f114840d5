//! Motif poses on the developed wall: pinned ones exactly where told, the rest spread evenly over what is
//! free, clear of each other, of bands and handle, and over the seam.
//!
//! Imports: base, outline, read::job, make::{cup, choose, free_area}.

mod placements;
mod spread;
mod exchange;
mod apart;
mod many;
mod outlines;
mod deal;
pub mod crowd;

pub use apart::apartness;
pub use crowd::{Against, Crowd, TooNear};
pub use outlines::{motifs, pieces};

use crate::base::diag::{Code, Diagnostic, Diagnostics, ErrorGuaranteed, KeyPath};
use crate::base::frame::Art;
use crate::base::random::Random;
use crate::base::tolerance::FLATTEN;
use crate::base::units::{Angle, Mm, Mm2, Seed};
use crate::make::choose::Look;
use crate::make::cup::{Cup, Zone};
use crate::make::free_area::FreeArea;
use crate::outline::{Join, Region};
use crate::read::job::{FilmId, Placing, WallPose};
use many::Wish;
use placements::{Body, PlacementIndex};
use rayon::prelude::*;
use std::f64::consts::PI;

/// A pinned motif is where it may not be.
pub const PINNED_CLASH: Code = Code {
    id: "motif/pinned-clash",
    title: "a pinned motif is too near something, or outside of the free wall",
    explain: "A pinned motif goes exactly where the job says. Here that is inside a keep-clear band or the \
        handle's window, or nearer to another motif (perhaps over the seam) than its clearance. Move it by \
        the millimetres that are lacking, make it smaller, or ask for less clearance.",
};
/// Motifs do not fit.
pub const NO_FIT: Code = Code {
    id: "motif/no-room",
    title: "the motifs do not all fit on the free wall",
    explain: "After every motif was moved to where it has most room, some are still nearer to a neighbour \
        or a band than their clearance. Take away copies, make motifs smaller, or ask for less clearance. \
        Pinned motifs may cut the wall into pieces too small for the rest.",
};
/// A motif is larger than the wall.
pub const TOO_LARGE: Code = Code {
    id: "motif/too-large",
    title: "a motif is larger than the free wall",
    explain: "The wall between the keep-clear bands is lower than the motif, or the motif would meet itself \
        round the cup.",
};

/// How many fit.
pub const AS_MANY: Code = Code {
    id: "motif/as-many-as-fit",
    title: "so many motifs found room",
    explain: "Motifs with `copies = \"as many as fit\"` are put where room is left beside everything that the job \
        says exactly. The number is what a search of fixed length found; the bound beside it is by area alone, \
        which outlines with hollows never reach. `at-most` says how many there are, `worth` how much one counts \
        beside the others.",
};

/// All codes of this module.
pub const CODES: &[&Code] = &[&PINNED_CLASH, &NO_FIT, &TOO_LARGE, &AS_MANY];

/// A motif ready to be placed.
#[derive(Clone, Debug)]
pub struct Motif {
    /// What the maker calls it.
    pub name: String,
    /// Outline with its border, anchor at the origin.
    pub outline: Region<Art>,
    /// Least distance to everything else.
    pub clearance: Mm,
    /// Where.
    pub placing: Placing,
    /// Which of its copies in the job those of `placing` are.
    pub copies: Vec<usize>,
    /// Its place in the job.
    pub at: KeyPath,
    /// How it looks, if it is to be dealt evenly round the cup.
    pub look: Option<Look>,
    /// Its film.
    pub film: FilmId,
}

/// Where a copy of a motif goes.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Placement {
    /// Which motif of the list.
    pub motif: usize,
    /// Which copy.
    pub copy: usize,
    /// Zone of the wall.
    pub zone: usize,
    /// Where.
    pub pose: WallPose,
}

/// What the stage did.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct PlacementResult {
    /// All copies: motif by motif, copy by copy.
    pub laid: Vec<Placement>,
    /// Poses that were measured.
    pub tried: u64,
}

impl PlacementResult {
    /// Adds what was laid of a part of the motifs; `places` says which they are in the whole list.
    pub(crate) fn take(&mut self, made: PlacementResult, places: &[usize]) {
        self.tried += made.tried;
        self.laid.extend(made.laid.into_iter().map(|l| Placement { motif: places[l.motif], ..l }));
    }
}

/// Lays all motifs.
///
/// # Errors
/// Faults that name each motif that cannot be where it should, and the millimetres that are lacking.
pub fn lay(
    motifs: &[Motif],
    room: &FreeArea,
    seed: Seed,
    diagnostics: &mut Diagnostics,
) -> Result<PlacementResult, ErrorGuaranteed> {
    let bodies: Vec<Body> = motifs.iter().map(|m| Body::new(&m.outline, m.clearance)).collect();
    let mut wall = PlacementIndex::new(room);
    check_sizes(motifs, &bodies, &wall, diagnostics)?;
    check_area(motifs, room, diagnostics)?;
    let mut laid = Vec::new();
    for (m, motif) in motifs.iter().enumerate() {
        if let Placing::Pinned(poses) = &motif.placing {
            for (copy, &pose) in poses.iter().enumerate() {
                wall.place(m, &bodies[m], pose);
                laid.push(Placement { motif: m, copy: motif.copies[copy], zone: room.zone_number, pose });
            }
        }
    }
    let pinned = laid.len();
    check_pinned(motifs, &bodies, &wall, &laid, &room.zone, diagnostics);
    let mut spread = spread::spread(motifs, &bodies, &mut wall, seed, room.zone_number);
    exchange::exchange(motifs, &bodies, &mut wall, &mut spread, pinned);
    apart::like_apart(motifs, &bodies, &mut wall, (&mut spread, pinned), &laid);
    let lacking = report_lacking(motifs, &bodies, &wall, &spread, (pinned, &room.zone));
    if !lacking.is_empty() {
        wall.truncate(pinned);
        let fitting = fitting(motifs, &bodies, &mut wall, (seed, room.zone_number));
        diagnostics.extend(lacking.into_iter().map(|(m, d)| answered(motifs, m, d, &fitting)));
    }
    laid.extend(spread);
    diagnostics.check()?;
    let mut many = as_many(motifs, &bodies, &mut wall, (seed, room.zone_number), diagnostics);
    apart::like_apart(motifs, &bodies, &mut wall, (&mut many, laid.len()), &laid);
    laid.extend(many);
    laid.sort_by_key(|l| (l.motif, l.copy));
    Ok(PlacementResult { laid, tried: wall.tried() })
}

/// Lays all motifs, zone by zone.
///
/// # Errors
/// Those of [`lay`] in any zone.
pub fn lay_in_zones(
    motifs: &[Motif],
    cup: &Cup,
    rooms: &[FreeArea],
    seed: Seed,
    diagnostics: &mut Diagnostics,
) -> Result<PlacementResult, ErrorGuaranteed> {
    if let [room] = rooms {
        return lay(motifs, room, seed, diagnostics);
    }
    let mut dealt = deal::dealt(motifs, cup, rooms);
    let mut all = PlacementResult::default();
    let mut failed = None;
    for (zone, room) in rooms.iter().enumerate() {
        let (own, places): (Vec<Motif>, Vec<usize>) = motifs
            .iter()
            .enumerate()
            .map(|(m, motif)| (deal::part(motif, &dealt[m][zone]), m))
            .filter(|(motif, _)| motif.placing.count() > 0)
            .unzip();
        match lay(&own, room, seed, diagnostics) {
            Ok(made) => {
                // What is asked for as often as it fits is there once for all zones.
                for l in &made.laid {
                    let m = places[l.motif];
                    if matches!(motifs[m].placing, Placing::Many { .. }) {
                        dealt[m].iter_mut().skip(zone + 1).for_each(|copies| copies.retain(|c| *c != l.copy));
                    }
                }
                all.take(made, &places);
            }
            Err(reported) => failed = Some(reported),
        }
    }
    all.laid.sort_by_key(|l| (l.motif, l.copy));
    failed.map_or(Ok(all), Err)
}

/// What no placing can mend is said at once, with numbers that a placing would only blur.
fn check_sizes(
    motifs: &[Motif],
    bodies: &[Body],
    wall: &PlacementIndex,
    diagnostics: &mut Diagnostics,
) -> Result<(), ErrorGuaranteed> {
    for (motif, body) in motifs.iter().zip(bodies) {
        let free = wall.height();
        let (width, height) = (body.bounds.width(), body.bounds.height());
        let least = match motif.placing {
            Placing::Pinned(_) | Placing::Many { .. } => continue,
            Placing::Spread { turning: crate::read::job::Turning::Free, .. } => width.min(height),
            Placing::Spread { .. } => height,
        };
        if least > free {
            diagnostics.push(
                Diagnostic::fault(
                    &TOO_LARGE,
                    motif.at.clone(),
                    format!("\"{}\" is higher than the wall between the bands", motif.name),
                )
                .measured(format!("{least} high with its border"))
                .allowed(format!("at most {free}"))
                .help(format!("make it at least {} smaller, or narrow a keep-clear band", least - free)),
            );
        }
    }
    diagnostics.check()
}

/// Motifs that cannot all fit by area alone are refused before any is tried. Outlines grown by half the least
/// clearance lie beside each other, all of them within the free wall grown by as much at rim and base.
fn check_area(
    motifs: &[Motif],
    room: &FreeArea,
    diagnostics: &mut Diagnostics,
) -> Result<(), ErrorGuaranteed> {
    let Some(half) = motifs.iter().map(|m| m.clearance * 0.5).min_by(|a, b| a.0.total_cmp(&b.0)) else {
        return Ok(());
    };
    let count = |m: &Motif| match &m.placing {
        Placing::Pinned(poses) => poses.len(),
        Placing::Spread { copies, .. } => *copies,
        Placing::Many { .. } => 0,
    };
    let taken: Mm2 = room.obstacles.iter().map(|o| o.region.area()).sum();
    let grown = Zone { low: room.zone.low - half, high: room.zone.high + half, ..room.zone.clone() };
    let free = grown.area(&room.development) - taken;
    // A set grown by h has at most the area A + P h + pi h^2 for each of its parts (Steiner; equal where
    // convex): where that fits, nothing needs to be grown.
    let at_most = |m: &Motif| {
        let (o, h) = (&m.outline, half.0);
        let parts = o.contours().len() as f64;
        (o.area().0 + o.perimeter_at_most().0 * h + PI * h * h * parts) * count(m) as f64
    };
    if motifs.iter().map(at_most).sum::<f64>() <= free.0 {
        return Ok(());
    }
    // Chords lie inside: the area is never too large.
    let area = |m: &Motif| m.outline.flat(FLATTEN).offset(half, Join::Round).area() * count(m) as f64;
    let areas: Vec<f64> = motifs.par_iter().map(area).collect();
    let asked = Mm2(areas.iter().sum());
    if asked <= free {
        return Ok(());
    }
    let most = motifs.iter().zip(&areas).max_by(|a, b| a.1.total_cmp(b.1)).map(|m| m.0);
    let key = |m: &Motif| if matches!(m.placing, Placing::Pinned(_)) { "poses" } else { "copies" };
    let at = most.map_or(KeyPath::of("motif"), |m| m.at.key(key(m)));
    let name = most.map_or("", |m| m.name.as_str());
    let message = format!(
        "the motifs need more area than the wall has; most of it \"{name}\" ({} asked)",
        most.map_or(0, count)
    );
    let d = Diagnostic::fault(&NO_FIT, at, message);
    let d =
        d.measured(format!("{asked:.0} with the clearance between them")).allowed(format!("up to {free:.0}"));
    Err(diagnostics.push(d.help("take away copies, make motifs smaller, or ask for less clearance")))
}

fn check_pinned(
    motifs: &[Motif],
    bodies: &[Body],
    wall: &PlacementIndex,
    laid: &[Placement],
    zone: &Zone,
    diagnostics: &mut Diagnostics,
) {
    for (i, l) in laid.iter().enumerate() {
        let violation = wall.violation(i, l.motif, &bodies[l.motif], l.pose);
        let Some(t) = violation else { continue };
        let other = match t.with {
            placements::With::Standing(j) if j > i => continue,
            placements::With::Standing(j) => {
                let o = laid[j];
                format!("\"{}\" number {} of its poses", motifs[o.motif].name, o.copy + 1)
            }
            with => with.words(zone).to_owned(),
        };
        let place = motifs[l.motif].at.key("poses").index(l.copy);
        diagnostics.push(
            Diagnostic::fault(
                &PINNED_CLASH,
                place,
                format!("\"{}\" pinned here lacks {} to {other}", motifs[l.motif].name, t.shortfall),
            )
            .measured(format!("{} round from the front line, {} up", degrees(l.pose.azimuth), l.pose.slant))
            .allowed(format!("{} clear of everything, inside the free wall", motifs[l.motif].clearance))
            .help(format!("move it by at least {} away from it", t.shortfall)),
        );
    }
}

fn degrees(a: Angle) -> String {
    format!("{:.1} degrees", a.deg())
}

/// Motifs asked for as often as they fit, in the room that the others leave; what came of it is told.
fn as_many(
    motifs: &[Motif],
    bodies: &[Body],
    wall: &mut PlacementIndex,
    (seed, zone): (Seed, usize),
    diagnostics: &mut Diagnostics,
) -> Vec<Placement> {
    let many = |(motif, m): (usize, &Motif)| match m.placing {
        Placing::Many { worth, turning, .. } => Some(Wish { motif, stock: m.copies.len(), worth, turning }),
        _ => None,
    };
    let wishes: Vec<Wish> = motifs.iter().enumerate().filter_map(many).collect();
    if wishes.is_empty() {
        return Vec::new();
    }
    let mut random = Random::new(seed, "as many as fit", zone as u64);
    let packed = many::pack(&wishes, bodies, wall, many::Effort::JOB, &mut random);
    let (items, poses): (Vec<(usize, usize)>, Vec<WallPose>) = {
        let mut next = vec![0; motifs.len()];
        let numbered = packed.poses.iter().map(|(m, pose)| {
            next[*m] += 1;
            ((*m, next[*m] - 1), *pose)
        });
        numbered.unzip()
    };
    many::stand(wall, bodies, wall.len(), &items, &poses);
    let told = |w: &Wish| {
        let n = items.iter().filter(|i| i.0 == w.motif).count();
        format!("{n} of \"{}\" ({} asked)", motifs[w.motif].name, w.stock)
    };
    let all: Vec<String> = wishes.iter().map(told).collect();
    diagnostics.push(
        Diagnostic::note(
            &AS_MANY,
            motifs[wishes[0].motif].at.key("copies"),
            format!("as many as fit: {}", all.join(", ")),
        )
        .measured(format!("{} in all", items.len()))
        .allowed(format!("no more than {} by area", packed.at_most))
        .help("smaller motifs, less clearance or leave to turn find room for more"),
    );
    let placed = |(&(motif, copy), pose): (&(usize, usize), WallPose)| Placement {
        motif,
        copy: motifs[motif].copies[copy],
        zone,
        pose,
    };
    items.iter().zip(poses).map(placed).collect()
}

/// Of motifs that do not all fit spread: how many of each do, packed closely.
fn fitting(
    motifs: &[Motif],
    bodies: &[Body],
    wall: &mut PlacementIndex,
    (seed, zone): (Seed, usize),
) -> Vec<usize> {
    let wish = |(motif, m): (usize, &Motif)| match m.placing {
        Placing::Spread { copies, turning } => Some(Wish { motif, stock: copies, worth: 1.0, turning }),
        _ => None,
    };
    let wishes: Vec<Wish> = motifs.iter().enumerate().filter_map(wish).collect();
    let mut random = Random::new(seed, "how many fit", zone as u64);
    let packed = many::pack(&wishes, bodies, wall, many::Effort::JOB, &mut random);
    (0..motifs.len()).map(|m| packed.poses.iter().filter(|p| p.0 == m).count()).collect()
}

/// The fault with what would fit: "3 fit, 4 do not" is an answer.
fn answered(motifs: &[Motif], m: usize, fault: Diagnostic, fitting: &[usize]) -> Diagnostic {
    let asked = motifs[m].placing.count();
    let help = format!(
        "{} of the {asked} fit packed closely with all others: write `copies = \"as many as fit\"`; or make it \
            smaller, or ask for less clearance",
        fitting[m]
    );
    fault.help(help)
}

/// One fault a motif: the worst of its copies, and how many copies have no room.
fn report_lacking(
    motifs: &[Motif],
    bodies: &[Body],
    wall: &PlacementIndex,
    spread: &[Placement],
    (pinned, zone): (usize, &Zone),
) -> Vec<(usize, Diagnostic)> {
    let mut out = Vec::new();
    let mut by_motif: std::collections::BTreeMap<usize, (usize, Placement, placements::Violation)> =
        Default::default();
    for (i, l) in spread.iter().enumerate() {
        let Some(t) = wall.violation(pinned + i, l.motif, &bodies[l.motif], l.pose) else { continue };
        // Of a pair that clashes, the later one is at fault: the earlier had its place first.
        if matches!(t.with, placements::With::Standing(j) if j > pinned + i) {
            continue;
        }
        let entry = by_motif.entry(l.motif).or_insert((0, *l, t));
        entry.0 += 1;
        if t.shortfall > entry.2.shortfall {
            (entry.1, entry.2) = (*l, t);
        }
    }
    for (m, (count, worst, t)) in by_motif {
        let motif = &motifs[m];
        let who = match t.with {
            placements::With::Standing(j) if j >= pinned => {
                format!("a copy of \"{}\"", motifs[spread[j - pinned].motif].name)
            }
            placements::With::Standing(_) => "a pinned motif".to_owned(),
            with => with.words(zone).to_owned(),
        };
        out.push((
            m,
            Diagnostic::fault(
                &NO_FIT,
                motif.at.key("copies"),
                format!(
                    "\"{}\" does not fit: copy {} lacks {} to {who}, at the best place found",
                    motif.name,
                    worst.copy + 1,
                    t.shortfall
                ),
            )
            .measured(format!("{count} of its copies lack room"))
            .allowed(format!("{} clear on all sides", motif.clearance))
            .help(format!("take away {count}, make it smaller, or ask for less clearance")),
        ));
    }
    out
}

#[cfg(test)]
mod tests;
