//! Decals: lettering and art as stacks of offset layers, with registration keys.
//!
//! ```text
//! art::flat_art -> lie::Ground::laid -> stack::stack -> keys::keys -> stand::check
//! words or SVG     on the taper         films, base up   in the waste   bands, seam, handle, each other
//! ```
//!
//! Imports: base, outline, read::{job, materials}, make::{cup, piece, free_area}.

pub mod codes;
pub mod art;
pub mod common;
pub mod lie;
pub mod thicken;
pub mod stack;
pub mod corners;
pub mod keys;
pub mod pose;
#[cfg(test)]
mod tests;

pub use art::Material;
pub use codes::CODES;
pub use keys::Keys;
pub use stack::Layer;

use crate::base::diag::{Diagnostic, Diagnostics, ErrorGuaranteed, KeyPath};
use crate::base::frame::{Art, Plane, Rigid};
use crate::base::tolerance::FLATTEN;
use crate::base::units::{Mm, Mm2};
use crate::make::cup::{Cup, WallZone};
use crate::make::free_area::Obstacle;
use crate::make::piece::{Kind, Piece};
use crate::outline::{Op, Region};
use crate::read::job::decals::{DecalSpec, Lies, Method, Shows, Up};
use crate::read::job::{FilmId, FilmSpec, Job, WallPose};
use crate::read::materials::Materials;
use art::{FlatArt, flat_art};
use codes::{CLOSED, MENDED, NOT_LEVEL, OVER_WINDOW, THICK};
use lie::Ground;
use pose::{Extent, Standing, extent};
use thicken::Changed;

/// A decal where it goes.
#[derive(Clone, Debug, PartialEq)]
pub struct Decal {
    /// What it is called.
    pub title: String,
    /// Base first.
    pub layers: Vec<Layer>,
    /// The same marks for every layer.
    pub keys: Keys,
    /// Zone of the wall that it lies on.
    pub zone: usize,
    /// Where its middle goes.
    pub wall: WallPose,
    /// The same on the plane; all its layers share it.
    pub pose: Rigid<Art, Plane>,
    /// Least distance to everything else.
    pub clearance: Mm,
    /// The pass that it goes on in.
    pub pass: usize,
    /// Wall that pieces of earlier passes leave free round it.
    pub halo: Option<Mm>,
    /// The window that it keeps to, where other cups say something else there.
    pub window: Option<Region<Art>>,
    /// How its layers come together.
    pub method: Method,
    /// Greatest thickness of its films over each other.
    pub thickness: Mm,
    /// Area as thick as that.
    pub thickest_area: Mm2,
    /// The farthest that a straight line of it departs from level at its ends; zero where the art follows the
    /// wall.
    pub departure: Mm,
    /// How far its lowest layer reaches up and down the wall.
    pub reach: Extent,
    /// What the automatic mend changed: layer, film, and how much.
    pub mended: Vec<(usize, FilmId, Changed)>,
    /// Sharp corners and small parts.
    pub hard: Vec<corners::CornerPlace>,
    /// Place in the plan of its first piece; the others follow, base first.
    pub first_piece: usize,
}

impl Decal {
    /// What all its layers together cover.
    pub fn silhouette(&self) -> &Region<Art> {
        &self.layers[0].solid
    }
    /// The wall that it takes: its window, if it has one.
    pub fn takes(&self) -> &Region<Art> {
        self.window.as_ref().unwrap_or_else(|| self.silhouette())
    }
    /// What others keep clear of: in its own pass, and in earlier ones if it wants a halo there.
    pub fn obstacles(&self) -> Vec<Obstacle> {
        let region = self.takes().moved(&self.pose);
        let own = Obstacle { region: region.clone(), clearance: self.clearance, pass: self.pass };
        let halo = |clearance| (0..self.pass).map(move |pass| (clearance, pass));
        let halos = self.halo.into_iter().flat_map(halo);
        let halos = halos.map(|(clearance, pass)| Obstacle { region: region.clone(), clearance, pass });
        std::iter::once(own).chain(halos).collect()
    }
    /// How many pieces it is cut in.
    pub fn piece_count(&self) -> usize {
        self.layers.iter().map(|l| l.films.len()).sum()
    }
    /// Its pieces, base first, numbered from `first`; `decal` is its place in the job.
    pub fn pieces(&self, decal: usize, first: u32, films: &[FilmSpec]) -> Vec<Piece> {
        let mut out = Vec::with_capacity(self.piece_count());
        for (place, layer) in self.layers.iter().enumerate() {
            for (film, outline) in &layer.films {
                let name = match (place + 1 == self.layers.len(), place) {
                    (true, _) if layer.films.len() > 1 => {
                        format!("{}, top, {}", self.title, films[film.0].name)
                    }
                    (true, _) => format!("{}, top", self.title),
                    (false, 0) => format!("{}, base", self.title),
                    (false, n) => format!("{}, layer {}", self.title, n + 1),
                };
                out.push(Piece {
                    number: first + out.len() as u32,
                    kind: Kind::Layer { decal, layer: place },
                    name,
                    film: *film,
                    outline: outline.clone(),
                    zone: self.zone,
                    wall: self.wall,
                    pose: self.pose,
                    clearance: self.clearance,
                    keys: self.keys.marks.clone(),
                });
            }
        }
        out
    }
}

/// All pieces of all decals, base to top: they go on first, so their numbers begin with 1.
pub fn pieces(decals: &[Decal], films: &[FilmSpec]) -> Vec<Piece> {
    let mut pieces = Vec::new();
    for (i, decal) in decals.iter().enumerate() {
        pieces.extend(decal.pieces(i, pieces.len() as u32 + 1, films));
    }
    pieces
}

/// What a decal shows: its font, or its drawing.
fn material<'a>(spec: &DecalSpec, materials: &'a Materials) -> Material<'a> {
    let got = match &spec.shows {
        Shows::Words { font, .. } => materials.font(font).map(Material::Font),
        Shows::Drawing { art, .. } => materials.art(art).map(Material::Drawing),
    };
    got.unwrap_or_else(Material::Lacking)
}

/// Makes all decals of a job.
///
/// # Errors
/// Everything that is wrong with any of them.
pub fn make(
    job: &Job,
    materials: &Materials,
    cup: &Cup,
    diagnostics: &mut Diagnostics,
) -> Result<Vec<Decal>, ErrorGuaranteed> {
    let mut decals: Vec<Decal> = Vec::new();
    let mut failed = None;
    for (i, spec) in job.decals.iter().enumerate() {
        let at = KeyPath::root().key("decal").index(i);
        match one(spec, &material(spec, materials), cup, &job.films, &at, diagnostics) {
            Ok(mut decal) => {
                decal.first_piece = decals.iter().map(Decal::piece_count).sum();
                decals.push(decal);
            }
            Err(r) => failed = Some(r),
        }
    }
    if let Some(r) = failed {
        return Err(r);
    }
    apart(&decals, cup, diagnostics);
    diagnostics.check().map(|()| decals)
}

/// The decals of one row of a list that take their words from it, in the order of the job: those of `job` are that
/// row's already.
///
/// # Errors
/// Those of [`make`].
pub fn of_row(
    job: &Job,
    materials: &Materials,
    cup: &Cup,
    diagnostics: &mut Diagnostics,
) -> Result<Vec<(usize, Decal)>, ErrorGuaranteed> {
    let rows = job.decals.iter().enumerate().filter(|(_, d)| d.row.is_some());
    rows.map(|(i, spec)| {
        let at = KeyPath::root().key("decal").index(i);
        one(spec, &material(spec, materials), cup, &job.films, &at, diagnostics).map(|d| (i, d))
    })
    .collect()
}

fn apart(decals: &[Decal], cup: &Cup, diagnostics: &mut Diagnostics) {
    let regions: Vec<Region<Plane>> = decals.iter().map(|d| d.takes().moved(&d.pose)).collect();
    let standing: Vec<Standing> = decals
        .iter()
        .zip(&regions)
        .enumerate()
        .map(|(i, (d, region))| Standing {
            title: d.title.clone(),
            at: KeyPath::root().key("decal").index(i),
            region,
            azimuth: d.wall.azimuth,
            clearance: d.clearance,
            pass: d.pass,
        })
        .collect();
    for (i, z) in cup.zones.iter().enumerate() {
        let own: Vec<&Standing> =
            standing.iter().zip(decals).filter(|(_, d)| d.zone == i).map(|p| p.0).collect();
        for (k, s) in own.iter().enumerate() {
            let before: Vec<&Standing> = own[..k].iter().copied().filter(|o| o.pass == s.pass).collect();
            pose::check(s, &before, &z.development, &z.zone, diagnostics);
        }
    }
}

fn one(
    spec: &DecalSpec,
    material: &Material,
    cup: &Cup,
    films: &[FilmSpec],
    at: &KeyPath,
    diagnostics: &mut Diagnostics,
) -> Result<Decal, ErrorGuaranteed> {
    let mut art = flat_art(spec, material, at, diagnostics)?;
    if let Some(row) = &spec.row {
        art.stand_on(row.baseline);
    }
    let zone = common::zone_of(spec, cup);
    let cup = &cup.zones[zone];
    let wall = place(spec, &art, cup, at, diagnostics)?;
    let ground = Ground::new(&cup.development, wall);
    let departure = level(spec, &ground, &art, at, diagnostics);
    let laid = ground.laid(&art, spec.lies, at, diagnostics)?;
    let (layers, mended) = stack::stack(spec, &laid, films);
    tell_mended(&mended, films, at, diagnostics);
    let pose = cup.development.pose(wall);
    let base = &layers[0].solid;
    let window = spec.row.map(|row| ground.window(row.window, spec.lies));
    if let Some(window) = &window {
        within(base, window, spec, at, diagnostics)?;
    }
    let keys = match spec.keys {
        Some(size) => {
            let gap = spec.films().iter().map(|f| films[f.0].spacing).fold(Mm(2.0), Mm::max);
            // Names of a list have their hinge line at one height: it brings the baseline to the same place on
            // every cup.
            let mut around = base.bounds();
            if let Some(window) = &window {
                let b = window.bounds();
                (around.min.y, around.max.y) = (b.min.y, b.max.y);
            }
            keys::keys(around, (size, gap), &cup.development, &pose, at, diagnostics)
        }
        None => Keys::default(),
    };
    let (thickness, thickest_area) = stack::thickest(&layers, films);
    let hard = corners::look(spec, &layers, films, at, diagnostics);
    said(spec, &layers, thickness, at, diagnostics);
    let reach = extent(&base.moved(&pose).flat(FLATTEN), &cup.development);
    Ok(Decal {
        title: spec.title(),
        layers,
        keys,
        zone,
        wall,
        pose,
        clearance: spec.clearance,
        pass: spec.pass.order,
        halo: spec.halo,
        window,
        method: spec.method,
        thickness,
        thickest_area,
        departure,
        reach,
        mended,
        hard,
        first_piece: 0,
    })
}

/// Does a name keep to its window?
fn within(
    base: &Region<Art>,
    window: &Region<Art>,
    spec: &DecalSpec,
    at: &KeyPath,
    diagnostics: &mut Diagnostics,
) -> Result<(), ErrorGuaranteed> {
    let over = base.op(window, Op::Difference);
    if over.is_empty() || over.area() <= Mm2(0.0) {
        return Ok(());
    }
    let message = format!("\"{}\" reaches out of its window", spec.title());
    let d = Diagnostic::fault(&OVER_WINDOW, at.key("fits"), message).measured(over.area());
    Err(diagnostics
        .push(d.allowed("0 mm2").help("give the names a smaller `cap-height`, or a larger window")))
}

/// Where its middle goes; centred, its highest and lowest point are equally far from the bands.
fn place(
    spec: &DecalSpec,
    art: &FlatArt,
    cup: &WallZone,
    at: &KeyPath,
    diagnostics: &mut Diagnostics,
) -> Result<WallPose, ErrorGuaranteed> {
    let pose = |slant| WallPose { azimuth: spec.azimuth, slant, turn: spec.turn };
    let middle = (cup.zone.low + cup.zone.high) * 0.5;
    match spec.up {
        Up::At(slant) => Ok(pose(slant)),
        // A window stands where it does whatever is in it.
        Up::Centred if spec.row.is_some() => Ok(pose(middle)),
        Up::Centred => {
            // Moving a decal changes what it reaches by little more than the move: three steps leave nothing
            // to see. Its box stands for its outline as long as only the middle counts; offsets add the same
            // on both sides.
            let mut slant = middle;
            for _ in 0..3 {
                let ground = Ground::new(&cup.development, pose(slant));
                let to_plane = cup.development.pose(pose(slant));
                let laid = ground.laid(art, spec.lies, at, diagnostics)?;
                let flats = laid.into_iter().map(|p| p.region.moved(&to_plane).flat(FLATTEN));
                let e =
                    flats
                        .map(|f| extent(&f, &cup.development))
                        .fold(Extent { low: Mm(f64::INFINITY), high: Mm(f64::NEG_INFINITY) }, |a, b| {
                            Extent { low: a.low.min(b.low), high: a.high.max(b.high) }
                        });
                slant = slant + middle - (e.low + e.high) * 0.5;
            }
            Ok(pose(slant))
        }
    }
}

/// Says where a straight line departs from level by more than is let pass; gives the farthest.
fn level(
    spec: &DecalSpec,
    ground: &Ground,
    art: &FlatArt,
    at: &KeyPath,
    diagnostics: &mut Diagnostics,
) -> Mm {
    if spec.lies != Lies::Rigid {
        return Mm::ZERO;
    }
    let worst = art
        .stretches
        .iter()
        .map(|s| (ground.departure(*s), s.width))
        .fold((Mm::ZERO, Mm::ZERO), |a, b| if b.0.abs() > a.0.abs() { b } else { a });
    if worst.0.abs() > spec.level {
        let way = if worst.0 > Mm::ZERO { "rim" } else { "base" };
        let message = format!(
            "a straight line {:.1} wide departs from level: its ends stand {:.2} nearer to the {way} than \
                its middle",
            worst.1,
            worst.0.abs()
        );
        diagnostics.push(
            Diagnostic::warning(&NOT_LEVEL, at.key("lies"), message)
                .measured(worst.0.abs())
                .allowed(format!("{} (`level`)", spec.level))
                .help("write lies = \"upright\" or \"bent\", or raise `level`"),
        );
    }
    worst.0
}

/// Says what the automatic mend changed.
fn tell_mended(
    mended: &[(usize, FilmId, Changed)],
    films: &[FilmSpec],
    at: &KeyPath,
    diagnostics: &mut Diagnostics,
) {
    for (layer, film, m) in mended {
        let message = format!("layer {}, film {}: {}", layer + 1, films[film.0].name, m.words());
        diagnostics.push(
            Diagnostic::note(&MENDED, at.key("layers").index(*layer), message)
                .measured(format!("{:.2} of film added", m.added))
                .help("write `mend = false` to have it cut as drawn"),
        );
    }
}

/// What the maker should know of the stack.
fn said(spec: &DecalSpec, layers: &[Layer], thickness: Mm, at: &KeyPath, diagnostics: &mut Diagnostics) {
    for (i, layer) in layers.iter().enumerate().filter(|(_, l)| l.closed > 0) {
        let message = format!("layer {} closes {} counters or gaps", i + 1, layer.closed);
        let at = at.key("layers").index(i);
        let close = spec.under.get(i).map_or(Mm::ZERO, |u| u.close);
        diagnostics.push(
            Diagnostic::note(&CLOSED, at, message)
                .allowed(format!("gaps of {close} or wider stay open"))
                .help("write `close = 0` to keep them"),
        );
    }
    if layers.len() > 1 {
        let message = format!("\"{}\" is {thickness} thick at its thickest", spec.title());
        diagnostics.push(
            Diagnostic::note(&THICK, at.clone(), message)
                .help("`overlap` hollows a layer under the one above"),
        );
    }
}
