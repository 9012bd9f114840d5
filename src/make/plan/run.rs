//! [`run`]: the stages one after another, from a checked job to a plan.
//!
//! Imports: base, read, make::{cup, piece, room, decal, motif, accent, weed, film, finish}.

use super::{Plan, StageReport, finishing};
use crate::base::diag::{Code, Diagnostic, Diagnostics, ErrorGuaranteed, KeyPath};
use crate::base::frame::{Art, Rigid};
use crate::base::units::{Angle, Mm};
use crate::make::accent::{self, Fill, Spot};
use crate::make::cup::{self, Cup};
use crate::make::decal::thicken::{self, Changed};
use crate::make::decal::{self, Decal};
use crate::make::film::{self, Offcut, SheetLayout};
use crate::make::finish;
use crate::make::free_area::{FreeArea, Obstacle};
use crate::make::motif::{self, Motif, PlacementResult};
use crate::make::piece::{Kind, Piece};
use crate::make::weed;
use crate::outline::{Join, Region};
use crate::read::art::limits::BYTES;
use crate::read::art::{Artwork, read_art};
use crate::read::job::decals::{SHARPEST, Shows};
use crate::read::job::{ArtSize, Effort, FilmSpec, Job, MotifSpec, Placing, SpotShape};
use crate::read::source::{Missing, Source};
use rayon::prelude::*;
use std::collections::BTreeMap;
use std::ops::ControlFlow;

/// A file that the job names is not there.
pub const NO_FILE: Code = Code {
    id: "job/file-missing",
    title: "a file that the job names cannot be had",
    explain: "Art and fonts lie beside the job file, in its folder or below it, and are named by their path from there. The \
              file is missing, cannot be read, lies outside the job's folder, or is larger than 16 MiB.",
};

/// All codes of this module.
pub const CODES: &[&Code] = &[&NO_FILE];

/// Where a run is: for a progress line and for timing, which are the edge's business.
#[derive(Clone, Debug, PartialEq)]
pub enum Stage {
    /// A stage begins.
    Begins(&'static str),
    /// The film search takes a step.
    Film(film::Progress),
}

/// Runs all stages. `progress` is told where the run is; a `Break` while film is searched keeps the best so far.
///
/// # Errors
/// Faults of any stage, gathered as far as the stages can go on without each other.
pub fn run(
    job: &Job,
    source: &dyn Source,
    effort: Effort,
    diagnostics: &mut Diagnostics,
    progress: &mut dyn FnMut(Stage) -> ControlFlow<()>,
) -> Result<Plan, ErrorGuaranteed> {
    let mut tell = |stage| {
        let _ = progress(Stage::Begins(stage));
    };
    tell("cup");
    let job = &finishing::with_build_up(job);
    let cup = cup::fit(&job.cup, diagnostics);
    tell("art");
    let mut shelf = Shelf { source, read: BTreeMap::new() };
    shelf.fill(drawings(job), diagnostics);
    let own = own_outlines(job, &mut shelf, diagnostics);
    let fonts = super::decals::fonts(job, source, diagnostics);
    tell("decals");
    // Motifs and decals do not depend on each other: threads change the time, not what is found nor its order.
    let ((motifs, of_motifs), (decals, of_decals)) = {
        let (cup, read) = (cup.as_ref().map_err(|r| *r), &shelf.read);
        let materials = super::decals::materials(job, read, &fonts);
        rayon::join(
            || motifs(job, read),
            || {
                let mut diagnostics = Diagnostics::new();
                let made = cup
                    .and_then(|cup| decal::make(&job.decals, &materials, cup, &job.films, &mut diagnostics));
                (made, diagnostics)
            },
        )
    };
    diagnostics.extend(of_motifs.into_vec());
    diagnostics.extend(of_decals.into_vec());
    let base =
        cup.as_ref().map_err(|r| *r).and_then(|cup| finishing::base(job, cup, &mut shelf, diagnostics));
    let (cup, motifs, own, decals, mut base) = (cup?, motifs?, own?, decals?, base?);
    let mut pieces = decal_pieces(job, &decals);
    let obstacles = decals.iter().map(Decal::obstacle).collect();
    let mut room = FreeArea { development: cup.development, zone: cup.zone.clone(), obstacles };
    tell("motifs");
    // Laying keeps one thread busy, and where a motif goes changes nothing of its outline: they are looked at meanwhile.
    let outlines: Vec<(&Region<Art>, Mm)> =
        motifs.iter().zip(&job.motifs).map(|(m, spec)| (&m.outline, job.films[spec.film.0].weed)).collect();
    let (laying, looked) = rayon::join(
        || motif::lay(&motifs, &room, job.seed, diagnostics),
        || weed::WidthReport::at(&outlines),
    );
    let laying = laying?;
    let laid = motif_pieces(job, &cup, &motifs, &laying, pieces.len() as u32);
    room.obstacles.extend(laid.iter().map(|p| Obstacle { region: p.on_plane(), clearance: p.clearance }));
    pieces.extend(laid);
    tell("accents");
    let fills = accents(job, &mut room, &own, diagnostics)?;
    number_spots(job, &cup, &fills, &mut pieces);
    if let Some(base) = &mut base {
        pieces.extend(base.pieces(&cup, pieces.len() as u32 + 1));
    }
    tell("weed");
    let weak = looked.check(&pieces, &job.films, diagnostics);
    tell("film");
    let left = leftovers(job, &mut shelf, diagnostics)?;
    let hear = &mut |p| progress(Stage::Film(p));
    let sheets = film::lay_out_on(&pieces, &job.films, &left, effort, diagnostics, hear)?;
    let mut stages = reports(job, &shelf, &decals, &laying, &fills, &pieces, &sheets);
    stages.push(StageReport {
        stage: "weed",
        counts: vec![("pieces", pieces.len() as u64), ("narrow_places", weak.len() as u64)],
    });
    let _ = progress(Stage::Begins("finish"));
    let finish = finish::finish(job, &cup, &pieces, &sheets, base, diagnostics);
    diagnostics.check()?;
    stages.push(finishing::report(&finish));
    let diagnostics = diagnostics.iter().cloned().collect();
    Ok(Plan { job: job.clone(), cup, decals, pieces, sheets, weak, finish, diagnostics, stages })
}

/// Art that was read already: a drawing named twice is read, and its losses are reported, once.
pub(super) struct Shelf<'a> {
    pub(super) source: &'a dyn Source,
    read: BTreeMap<String, Result<Artwork, ErrorGuaranteed>>,
}

/// A drawing read, and what was found in it.
type Read = (Result<Artwork, ErrorGuaranteed>, Diagnostics);

impl Shelf<'_> {
    pub(super) fn art(
        &mut self,
        name: &str,
        at: &KeyPath,
        diagnostics: &mut Diagnostics,
    ) -> Result<&Artwork, ErrorGuaranteed> {
        self.fill(vec![(name, at.clone())], diagnostics);
        self.had(name)
    }

    /// Reads all drawings that were not read before, side by side; what is found in them is told in the order asked.
    fn fill(&mut self, wanted: Vec<(&str, KeyPath)>, diagnostics: &mut Diagnostics) {
        let mut new = Vec::<(&str, KeyPath, Result<Vec<u8>, Missing>)>::new();
        for (name, at) in wanted {
            if !self.read.contains_key(name) && new.iter().all(|n| n.0 != name) {
                new.push((name, at, self.source.bytes(name, BYTES)));
            }
        }
        let read: Vec<Read> = new.par_iter().map(|(name, at, bytes)| drawing(name, at, bytes)).collect();
        for ((name, ..), (art, faults)) in new.into_iter().zip(read) {
            diagnostics.extend(faults.into_vec());
            self.read.insert(name.to_owned(), art);
        }
    }

    /// Art that [`Self::art`] has read.
    pub(super) fn had(&self, name: &str) -> Result<&Artwork, ErrorGuaranteed> {
        self.read[name].as_ref().map_err(|r| *r)
    }
}

fn drawing(name: &str, at: &KeyPath, bytes: &Result<Vec<u8>, Missing>) -> Read {
    let mut diagnostics = Diagnostics::new();
    let art = match bytes {
        Ok(bytes) => read_art(name, bytes, at, &mut diagnostics),
        Err(missing) => {
            let message = format!("\"{name}\" cannot be read: {}", missing.why);
            let fault = Diagnostic::fault(&NO_FILE, at.clone(), message).file(name);
            Err(diagnostics.push(fault.help("put the file into the job's folder, or mend its name here")))
        }
    };
    (art, diagnostics)
}

/// All drawings that the job names before its film, with the places where they are named.
fn drawings(job: &Job) -> Vec<(&str, KeyPath)> {
    let place = |table: &'static str, i: usize| KeyPath::root().key(table).index(i).key("art");
    let motifs = job.motifs.iter().enumerate().map(|(i, m)| (m.art.as_str(), place("motif", i)));
    let own = job.accents.iter().enumerate().flat_map(|(i, spec)| {
        let files = spec.shapes.iter().flat_map(SpotShape::files);
        files.map(move |f| (f.as_str(), place("accent", i)))
    });
    let decals = job.decals.iter().enumerate().filter_map(|(i, d)| match &d.shows {
        Shows::Drawing { art, .. } => Some((art.as_str(), place("decal", i))),
        Shows::Words { .. } => None,
    });
    motifs.chain(own).chain(decals).collect()
}

/// The motifs at their sizes, side by side.
fn motifs(
    job: &Job,
    read: &BTreeMap<String, Result<Artwork, ErrorGuaranteed>>,
) -> (Result<Vec<Motif>, ErrorGuaranteed>, Diagnostics) {
    let at = |i: usize| KeyPath::root().key("motif").index(i);
    let one = |(i, spec): (usize, &MotifSpec)| {
        let mut diagnostics = Diagnostics::new();
        let sized = read[&spec.art].as_ref().map_err(|r| *r);
        let motif = sized.and_then(|a| a.sized(spec.size, &at(i), &mut diagnostics)).map(|outline| Motif {
            name: stem(&spec.art),
            outline: weedable(
                bordered(outline, spec.border).resolve_crossings(),
                spec,
                &job.films,
                &at(i),
                &mut diagnostics,
            ),
            clearance: spec.clearance,
            placing: spec.placing.clone(),
            at: at(i),
        });
        (motif, diagnostics)
    };
    // One at a time: some drawings take ten times as long to mend as others.
    let made: Vec<(Result<Motif, ErrorGuaranteed>, Diagnostics)> =
        job.motifs.par_iter().enumerate().with_max_len(1).map(one).collect();
    let mut diagnostics = Diagnostics::new();
    let mut out = Vec::new();
    let mut failed = None;
    for (motif, faults) in made {
        diagnostics.extend(faults.into_vec());
        match motif {
            Ok(m) => out.push(m),
            Err(r) => failed = Some(r),
        }
    }
    (failed.map_or(Ok(out), Err), diagnostics)
}

/// What earlier jobs left of each film, as their files say it.
fn leftovers(
    job: &Job,
    shelf: &mut Shelf,
    diagnostics: &mut Diagnostics,
) -> Result<Vec<Vec<Offcut>>, ErrorGuaranteed> {
    let mut all = Vec::new();
    let mut failed = None;
    for (i, film) in job.films.iter().enumerate() {
        let at = KeyPath::root().key("film").index(i).key("leftovers");
        let mut own = Vec::new();
        for (k, name) in film.cut.leftovers.iter().enumerate() {
            let at = at.index(k);
            match shelf.art(name, &at, diagnostics).and_then(|a| a.sized(ArtSize::Own, &at, diagnostics)) {
                Ok(outline) => own.push(Offcut::new(name, &outline)),
                Err(r) => failed = Some(r),
            }
        }
        all.push(own);
    }
    failed.map_or(Ok(all), Err)
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
    let (mended, did) = thicken::mended(&outline, films[spec.film.0].weed, SHARPEST, None);
    if did != Changed::default() {
        let message = format!("{}: {}", stem(&spec.art), did.words());
        let d = Diagnostic::note(&weed::MENDED, at.key("mend"), message);
        let d = d.measured(format!("{:.2} of film added", did.added));
        diagnostics.push(d.help("write `mend = false` to have it cut as drawn"));
    }
    mended
}

/// The art with film left round it, its anchor in the middle of its bounding box again.
fn bordered(outline: Region<Art>, border: Mm) -> Region<Art> {
    if border <= Mm::ZERO {
        return outline;
    }
    let grown = outline.offset(border, Join::Round);
    let c = grown.bounds().centre();
    let home: Rigid<Art, Art> = Rigid::from_parts(1.0, 0.0, crate::base::frame::Point::mm(-c.x, -c.y));
    grown.moved(&home)
}

/// The maker's own spot outlines of every fill, in the order in which its shapes name them.
fn own_outlines(
    job: &Job,
    shelf: &mut Shelf,
    diagnostics: &mut Diagnostics,
) -> Result<Vec<Vec<Region<Art>>>, ErrorGuaranteed> {
    let mut all = Vec::new();
    let mut failed = None;
    for (i, spec) in job.accents.iter().enumerate() {
        let at = KeyPath::root().key("accent").index(i).key("art");
        let mut own = Vec::new();
        for name in spec.shapes.iter().flat_map(SpotShape::files) {
            // The fill scales them by its own sizes: any size will do here.
            match shelf
                .art(name, &at, diagnostics)
                .and_then(|a| a.sized(ArtSize::Width(Mm(10.0)), &at, diagnostics))
            {
                Ok(outline) => own.push(outline),
                Err(r) => failed = Some(r),
            }
        }
        all.push(own);
    }
    failed.map_or(Ok(all), Err)
}

/// Decals come first: they go on first, base to top.
fn decal_pieces(job: &Job, decals: &[Decal]) -> Vec<Piece> {
    let mut pieces = Vec::new();
    for (i, decal) in decals.iter().enumerate() {
        pieces.extend(decal.pieces(i, pieces.len() as u32 + 1, &job.films));
    }
    pieces
}

fn motif_pieces(job: &Job, cup: &Cup, motifs: &[Motif], laying: &PlacementResult, before: u32) -> Vec<Piece> {
    let piece = |(i, l): (usize, &motif::Placement)| Piece {
        number: before + i as u32 + 1,
        kind: Kind::Motif { motif: l.motif, copy: l.copy },
        name: motifs[l.motif].name.clone(),
        film: job.motifs[l.motif].film,
        outline: motifs[l.motif].outline.clone(),
        wall: l.pose,
        pose: cup.development.pose(l.pose),
        clearance: motifs[l.motif].clearance,
        keys: Region::empty(),
    };
    laying.laid.iter().enumerate().map(piece).collect()
}

/// Fills one after another: each keeps clear of the spots of those before it.
fn accents(
    job: &Job,
    room: &mut FreeArea,
    own: &[Vec<Region<Art>>],
    diagnostics: &mut Diagnostics,
) -> Result<Vec<Fill>, ErrorGuaranteed> {
    let mut fills = Vec::new();
    for (i, spec) in job.accents.iter().enumerate() {
        let at = KeyPath::root().key("accent").index(i);
        let fill = accent::fill(room, spec, &own[i], job.seed, i, &at, diagnostics);
        for spot in &fill.spots {
            let parts = std::iter::once(&spot.outline).chain(spot.tint.iter().map(|t| &t.1));
            room.obstacles
                .extend(parts.map(|o| Obstacle { region: o.moved(&spot.pose), clearance: spec.gap }));
        }
        fills.push(fill);
    }
    diagnostics.check().map(|()| fills)
}

/// Width of the columns in which spots are numbered: about what a hand covers without turning the cup.
const COLUMN: Angle = Angle::radians(std::f64::consts::TAU / 12.0);

/// Spots get their numbers column by column from the seam round, each column from the base up, so that numbers next to
/// each other on the sheet list are next to each other on the cup.
fn number_spots(job: &Job, cup: &Cup, fills: &[Fill], pieces: &mut Vec<Piece>) {
    let mut spots: Vec<(usize, &Spot)> = Vec::new();
    for (i, fill) in fills.iter().enumerate() {
        spots.extend(fill.spots.iter().map(|s| (i, s)));
    }
    let column = |s: &Spot| {
        let from_seam = (s.wall.azimuth - cup.zone.seam).rad().rem_euclid(std::f64::consts::TAU);
        (from_seam / COLUMN.rad()) as u32
    };
    spots.sort_by(|(_, a), (_, b)| {
        let key = column(a).cmp(&column(b)).then(a.wall.slant.0.total_cmp(&b.wall.slant.0));
        key.then(a.wall.azimuth.rad().total_cmp(&b.wall.azimuth.rad()))
    });
    for (accent, spot) in spots {
        let number = pieces.len() as u32 + 1;
        let whole = Piece {
            number,
            kind: Kind::Spot { accent },
            name: spot.name.clone(),
            film: spot.film,
            outline: spot.outline.clone(),
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
        pieces.push(whole);
        pieces.extend(tints);
    }
}

fn reports(
    job: &Job,
    shelf: &Shelf,
    decals: &[Decal],
    laying: &PlacementResult,
    fills: &[Fill],
    pieces: &[Piece],
    sheets: &[SheetLayout],
) -> Vec<StageReport> {
    let nodes: usize = pieces.iter().map(|p| p.outline.nodes()).sum();
    let pinned = job.motifs.iter().map(|m| match &m.placing {
        Placing::Pinned(p) => p.len(),
        Placing::Spread { .. } => 0,
    });
    vec![
        StageReport { stage: "cup", counts: vec![("rings", job.cup.rings.len() as u64)] },
        StageReport { stage: "art", counts: vec![("drawings", shelf.read.len() as u64)] },
        StageReport {
            stage: "decals",
            counts: vec![
                ("decals", decals.len() as u64),
                ("layers", decals.iter().map(|d| d.layers.len() as u64).sum()),
                ("pieces", decals.iter().map(|d| d.piece_count() as u64).sum()),
            ],
        },
        StageReport {
            stage: "motifs",
            counts: vec![
                ("pinned", pinned.sum::<usize>() as u64),
                ("pieces", laying.laid.len() as u64),
                ("poses_tried", laying.tried),
            ],
        },
        StageReport {
            stage: "accents",
            counts: vec![
                ("fills", fills.len() as u64),
                ("spots", fills.iter().map(|f| f.spots.len() as u64).sum()),
                ("added_by_the_proof", fills.iter().map(|f| f.saturation.added as u64).sum()),
                ("left_undecided", fills.iter().map(|f| f.saturation.undecided).sum()),
            ],
        },
        StageReport {
            stage: "film",
            counts: vec![
                ("pieces", pieces.len() as u64),
                ("nodes", nodes as u64),
                ("sheets", sheets.len() as u64),
            ],
        },
    ]
}

fn stem(file: &str) -> String {
    let name = file.rsplit('/').next().unwrap_or(file);
    name.strip_suffix(".svg").or_else(|| name.strip_suffix(".svgz")).unwrap_or(name).to_owned()
}
