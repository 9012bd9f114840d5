//! Motifs ready to be placed: art at its size, with its border, thickened for its film; and their pieces once
//! placed.
//!
//! Imports: base, outline, read::{job, art, materials}, make::{cup, piece, sheet, choose, weed, decal, motif}.

use super::{Motif, PlacementResult};
use crate::base::diag::{Diagnostic, Diagnostics, ErrorGuaranteed, KeyPath};
use crate::base::frame::{Art, Point, Rigid};
use crate::base::tolerance::{HAIR_APART, HAIR_WALK, PASSING, SHORTEST};
use crate::base::units::Mm;
use crate::make::choose::Look;
use crate::make::cup::Cup;
use crate::make::decal::thicken::{self, Changed};
use crate::make::piece::{Kind, Piece};
use crate::make::sheet::colour::Lab;
use crate::make::sheet::stock::Stocked;
use crate::make::weed;
use crate::outline::{Join, Region, sharpest_hair, shortest_segment};
use crate::read::art::TOO_MUCH;
use crate::read::job::decals::SHARPEST;
use crate::read::job::{FilmSpec, Job, MotifArt, MotifSpec, OnSheet};
use crate::read::materials::Materials;
use rayon::prelude::*;
use std::sync::Arc;

/// The motifs at their sizes, side by side.
///
/// # Errors
/// A drawing could not be read or has nothing to cut at its size.
pub fn motifs(
    job: &Job,
    materials: &Materials,
    stock: &[Arc<Stocked>],
    diagnostics: &mut Diagnostics,
) -> Result<Vec<Motif>, ErrorGuaranteed> {
    let at = |i: usize| KeyPath::root().key("motif").index(i);
    let one = |(i, spec): (usize, &MotifSpec)| {
        let mut own = Diagnostics::new();
        let file = match &spec.art {
            MotifArt::Drawing(file) => file,
            MotifArt::Printed { on, pick } => {
                let at = pick.map_or_else(|| at(i), |k| KeyPath::root().key("pick").index(k));
                return (Ok(printed(job, stock, spec, (*on, *pick), at)), own);
            }
        };
        let sized = materials.art(file).and_then(|a| a.sized(spec.size, &at(i), &mut own));
        let sized = sized.and_then(|outline| not_too_long(outline, spec, &job.films, &at(i), &mut own));
        let cut = sized.and_then(|outline| {
            let bordered = bordered(outline, spec.border).resolve_crossings();
            let cut = weedable(bordered, spec, &job.films, &at(i), &mut own).without_short_segments();
            cuttable(cut, spec, &at(i), &mut own)
        });
        let motif = cut.map(|outline| Motif {
            name: stem(file),
            outline,
            clearance: spec.clearance,
            placing: spec.placing.clone(),
            copies: (0..spec.placing.count()).collect(),
            at: at(i),
            look: None,
            film: spec.film,
        });
        (motif, own)
    };
    // One at a time: some drawings take ten times as long to thicken as others.
    let made: Vec<(Result<Motif, ErrorGuaranteed>, Diagnostics)> =
        job.motifs.par_iter().enumerate().with_max_len(1).map(one).collect();
    let mut out = Vec::new();
    let mut failed = None;
    for (motif, own) in made {
        diagnostics.extend(own.into_vec());
        match motif {
            Ok(m) => out.push(m),
            Err(r) => failed = Some(r),
        }
    }
    failed.map_or(Ok(out), Err)
}

/// A motif of a printed sheet: its cut outline there.
fn printed(
    job: &Job,
    stock: &[Arc<Stocked>],
    spec: &MotifSpec,
    (on, pick): (OnSheet, Option<usize>),
    at: KeyPath,
) -> Motif {
    let from = &stock[on.sheet];
    let look = |k: usize| {
        let motif = &from.sheet.motifs[on.number as usize - 1];
        Look::of(motif, job.picks[k].even, &Lab::default())
    };
    Motif {
        name: format!("{} {}", job.sheets[on.sheet].name, on.number),
        outline: from.piece(on.number),
        clearance: spec.clearance,
        placing: spec.placing.clone(),
        copies: (0..spec.placing.count()).collect(),
        at,
        look: pick.map(look),
        film: spec.film,
    }
}

/// Looks for narrow places that one outline may take: one every half weeding limit along it, so that
/// 2,000,000 reach along 500 m of outline at a limit of half a millimetre.
const LOOKS: f64 = 2e6;

/// The outline, unless it is too long to be looked at for what cannot be weeded, before anything is done with
/// it.
fn not_too_long(
    outline: Region<Art>,
    spec: &MotifSpec,
    films: &[FilmSpec],
    at: &KeyPath,
    diagnostics: &mut Diagnostics,
) -> Result<Region<Art>, ErrorGuaranteed> {
    let weed = films[spec.film.0].weed;
    let most = LOOKS * 0.5 * weed.get();
    if outline.perimeter_at_most().get() <= most {
        return Ok(outline);
    }
    let long = outline.perimeter().get();
    if long <= most {
        return Ok(outline);
    }
    let message = format!(
        "its outline is too long to be held to the weeding limit of {weed}: it goes to and fro thousands of \
            times"
    );
    let told = Diagnostic::fault(&TOO_MUCH, at.clone(), message)
        .file(spec.art.drawing().unwrap_or_default())
        .measured(format!("{:.1} m of outline", long / 1000.0))
        .allowed(format!("at most {:.1} m", most / 1000.0))
        .help("simplify the drawing, or make the motif smaller");
    Err(diagnostics.push(told))
}

/// The outline, unless a blade would stutter on it or run back in its own cut somewhere: what was left of lines that lie
/// closer than any cut, and could not be taken out without a crossing.
fn cuttable(
    outline: Region<Art>,
    spec: &MotifSpec,
    at: &KeyPath,
    diagnostics: &mut Diagnostics,
) -> Result<Region<Art>, ErrorGuaranteed> {
    let too_close = |measured: String, allowed: String| {
        Diagnostic::fault(&TOO_MUCH, at.clone(), "its lines lie closer than a blade can follow")
            .file(spec.art.drawing().unwrap_or_default())
            .measured(measured)
            .allowed(allowed)
            .help("simplify the drawing there, or make the motif much larger")
    };
    let (least, short) = shortest_segment(&outline);
    if short > 0 && least < SHORTEST {
        let told =
            too_close(format!("{short} segments as short as {least}"), format!("{SHORTEST} or longer"));
        return Err(diagnostics.push(told));
    }
    let flat = outline.flat(PASSING);
    let hairs = flat.rings.iter().filter_map(|r| sharpest_hair(r, HAIR_WALK.0));
    let Some((apart, p)) = hairs.filter(|h| h.0 < HAIR_APART.0).min_by(|a, b| a.0.total_cmp(&b.0)) else {
        return Ok(outline);
    };
    let measured = format!("{} apart at {:.1} mm right and {:.1} mm up of its middle", Mm(apart), p.x, p.y);
    let told = too_close(measured, format!("{} mm apart, {HAIR_WALK} from a corner", HAIR_APART.0));
    Err(diagnostics.push(told))
}

/// The placed motifs as pieces; the first gets number `first`.
pub fn pieces(job: &Job, cup: &Cup, motifs: &[Motif], placed: &PlacementResult, first: u32) -> Vec<Piece> {
    let piece = |(i, l): (usize, &super::Placement)| Piece {
        number: first + i as u32,
        kind: Kind::Motif { motif: l.motif, copy: l.copy },
        name: motifs[l.motif].name.clone(),
        film: job.motifs[l.motif].film,
        outline: motifs[l.motif].outline.clone(),
        zone: l.zone,
        wall: l.pose,
        pose: cup.zones[l.zone].development.pose(l.pose),
        clearance: motifs[l.motif].clearance,
        keys: Region::empty(),
    };
    placed.laid.iter().enumerate().map(piece).collect()
}

/// With what is too narrow for its film thickened or filled, where the motif asks for that.
fn weedable(
    outline: Region<Art>,
    spec: &MotifSpec,
    films: &[FilmSpec],
    at: &KeyPath,
    diagnostics: &mut Diagnostics,
) -> Region<Art> {
    if !spec.mend {
        return outline;
    }
    let (thickened, changed) = thicken::mended(&outline, films[spec.film.0].weed, SHARPEST, None);
    if changed != Changed::default() {
        let message = format!("{}: {}", stem(spec.art.drawing().unwrap_or_default()), changed.words());
        let d = Diagnostic::note(&weed::MENDED, at.key("mend"), message);
        let d = d.measured(format!("{:.2} of film added", changed.added));
        diagnostics.push(d.help("write `mend = false` to have it cut as drawn"));
    }
    thickened
}

/// The art with film left round it, its anchor in the middle of its bounding box again.
fn bordered(outline: Region<Art>, border: Mm) -> Region<Art> {
    if border <= Mm::ZERO {
        return outline;
    }
    let grown = outline.offset(border, Join::Round);
    let c = grown.bounds().centre();
    let home: Rigid<Art, Art> = Rigid::from_parts(1.0, 0.0, Point::mm(-c.x, -c.y));
    grown.moved(&home)
}

fn stem(file: &str) -> String {
    let name = file.rsplit('/').next().unwrap_or(file);
    name.strip_suffix(".svg").or_else(|| name.strip_suffix(".svgz")).unwrap_or(name).to_owned()
}
