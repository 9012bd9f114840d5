//! What the page is told, as JSON: lengths in mm, angles in degrees, outlines as path data with y down.
//!
//! Imports: base, read::job, make::{cup, piece, motif, film, finish, plan, verify}, write::ink, edge::cli::page::text.

use super::text;
use crate::base::diag::{Diagnostic, Step};
use crate::base::units::LengthUnit;
use crate::make::cup::fit::tell;
use crate::make::cup::{Cup, WallZone, cone};
use crate::make::film::bill::{self, Buy, tally};
use crate::make::finish::Finish;
use crate::make::motif::{Against, TooNear};
use crate::make::piece::{Kind, Piece};
use crate::make::plan::Live;
use crate::make::verify::Verified;
use crate::read::job::{CupSpec, Job, ParsedJob, Placing, WallPose};
use crate::write::ink::film_mark;
use crate::write::ink::svg::{self, Flip};
use serde::Serialize;
use serde_json::Value as Json;

/// Something that is wrong or worth knowing, and the steps to its place.
#[derive(Clone, Debug, Serialize)]
pub struct Found {
    #[serde(flatten)]
    what: Diagnostic,
    steps: Vec<Json>,
}

/// Everything found, each thing with the steps to its place.
pub fn found<'a>(all: impl IntoIterator<Item = &'a Diagnostic>) -> Vec<Found> {
    let steps = |d: &Diagnostic| d.at.0.iter().map(step).collect();
    all.into_iter().map(|d| Found { what: d.clone(), steps: steps(d) }).collect()
}

fn step(s: &Step) -> Json {
    match s {
        Step::Key(k) => k.as_str().into(),
        Step::Index(i) => (*i).into(),
    }
}

/// The job's text as the page shows it.
#[derive(Debug, Serialize)]
pub struct Said {
    /// The job as JSON, dates as text; null if it is no TOML.
    doc: Option<Json>,
    unit: &'static str,
    found: Vec<Found>,
    /// What keys are worth: `[table, key, value in words, said]`.
    settings: Vec<(String, String, String, bool)>,
    #[serde(skip_serializing_if = "Option::is_none")]
    cup: Option<Told>,
}

/// What the readings are worth.
#[derive(Debug, Serialize)]
struct Told {
    zones: Vec<ZoneShown>,
    readings: Json,
    found: Vec<Found>,
    sound: bool,
}

/// The job's text as the page shows it.
pub fn said(text: &str, read: &ParsedJob) -> Said {
    let settings = read.job.iter().flat_map(|j| &j.written.settings);
    let unit = |u: LengthUnit| if u == LengthUnit::In { "in" } else { "mm" };
    let doc = text::json(text);
    let said = doc.as_ref().and_then(|d| d.get("unit")).and_then(Json::as_str);
    Said {
        unit: match said {
            Some("in") => "in",
            _ => read.cup.as_ref().map_or("mm", |c| unit(c.1)),
        },
        doc,
        found: found(read.diagnostics.iter()),
        settings: settings.map(|s| (s.table.clone(), s.key.clone(), s.value.clone(), s.said)).collect(),
        cup: read.cup.as_ref().map(|(spec, _)| told(spec)),
    }
}

fn told(spec: &CupSpec) -> Told {
    let cup = cone(spec);
    let mut diagnostics = crate::base::diag::Diagnostics::new();
    let sound = tell(spec, &cup, &mut diagnostics).is_ok();
    let readings = serde_json::to_value(&cup.readings).unwrap_or_default();
    Told { zones: zones(&cup), readings, found: found(diagnostics.iter()), sound }
}

/// A zone of the wall: its cone, and where film may go.
#[derive(Clone, Debug, Serialize)]
pub struct ZoneShown {
    low: f64,
    high: f64,
    lower: f64,
    upper: f64,
    slant: f64,
    tall: f64,
    /// What film may cover, from where to where.
    free: [f64; 2],
    seam: f64,
    /// Left, right, low, high.
    handles: Vec<[f64; 4]>,
}

/// The zones of a cup.
pub fn zones(cup: &Cup) -> Vec<ZoneShown> {
    let one = |z: &WallZone| ZoneShown {
        low: z.low.0,
        high: z.high.0,
        lower: z.surface.lower.0,
        upper: z.surface.upper.0,
        slant: z.surface.slant.0,
        tall: z.surface.height().0,
        free: [z.zone.low.0, z.zone.high.0],
        seam: z.zone.seam.deg(),
        handles: z.zone.handles.iter().map(|h| [h.left.deg(), h.right.deg(), h.low.0, h.high.0]).collect(),
    };
    cup.zones.iter().map(one).collect()
}

/// A piece on the wall.
#[derive(Clone, Debug, Serialize)]
pub struct PieceShown {
    n: u32,
    kind: &'static str,
    /// Which of the job's motifs, fills or decals.
    of: usize,
    /// Which copy, or which layer.
    part: usize,
    film: usize,
    name: String,
    zone: usize,
    /// Degrees from the front, mm up, degrees of turn.
    at: [f64; 3],
    clear: f64,
    /// Width and height of its box.
    size: [f64; 2],
    d: String,
}

impl PieceShown {
    /// Its number.
    pub fn number(&self) -> u32 {
        self.n
    }
}

/// A place on the wall.
pub fn place(w: WallPose) -> [f64; 3] {
    [w.azimuth.deg(), w.slant.0, w.turn.deg()]
}

/// A piece on the wall.
pub fn piece(p: &Piece) -> PieceShown {
    let (kind, of, part) = match p.kind {
        Kind::Motif { motif, copy } => ("motif", motif, copy),
        Kind::Spot { accent } | Kind::Tint { accent, .. } => ("spot", accent, 0),
        Kind::Layer { decal, layer } => ("layer", decal, layer),
        Kind::Base | Kind::Lot { .. } => ("base", 0, 0),
    };
    let bounds = p.outline.bounds();
    PieceShown {
        n: p.number,
        kind,
        of,
        part,
        film: p.film.0,
        name: p.name.clone(),
        zone: p.zone,
        at: place(p.wall),
        clear: p.clearance.0,
        size: [bounds.width().0, bounds.height().0],
        d: svg::data(p.outline.contours(), Flip::of(0.0)),
    }
}

/// Something that a piece is too near to.
#[derive(Clone, Debug, Serialize)]
pub struct NearShown {
    lacks: f64,
    what: &'static str,
    #[serde(skip_serializing_if = "Option::is_none")]
    motif: Option<[usize; 2]>,
    #[serde(skip_serializing_if = "Option::is_none")]
    decal: Option<usize>,
}

/// What a copy is too near to.
pub fn near(live: &Live, (motif, copy): (usize, usize), all: &[TooNear]) -> Vec<NearShown> {
    let one = |t: &TooNear| {
        let (what, other, decal) = match t.against {
            Against::Copy { motif, copy } => ("piece", Some([motif, copy]), None),
            Against::Obstacle(i) => ("decal", None, live.decal(motif, copy, i)),
            Against::Handle => ("handle", None, None),
            Against::Above => ("above", None, None),
            Against::Below => ("below", None, None),
            Against::Itself => ("itself", None, None),
        };
        NearShown { lacks: t.lacks.0, what, motif: other, decal }
    };
    all.iter().map(one).collect()
}

/// Pieces that stand too near to something.
pub fn clashes(live: &Live) -> Vec<(u32, f64)> {
    live.clashes().into_iter().map(|(n, t)| (n, t.lacks.0)).collect()
}

/// A film sheet.
#[derive(Debug, Serialize)]
struct SheetShown {
    film: usize,
    index: usize,
    width: f64,
    height: f64,
    used: f64,
    used_part: f64,
    pieces: usize,
    spares: usize,
    cut_min: f64,
    weed_min: f64,
}

/// A film and what must be bought of it.
#[derive(Debug, Serialize)]
struct FilmShown {
    name: String,
    colour: String,
    letter: String,
    sheets: usize,
    buy_sheets: usize,
    buy_mm: f64,
    used_part: f64,
}

/// A whole plan, measured again.
#[derive(Debug, Serialize)]
pub struct PlanShown<'a> {
    zones: Vec<ZoneShown>,
    films: Vec<FilmShown>,
    pieces: Vec<PieceShown>,
    /// By motif: pinned or spread.
    pinned: Vec<bool>,
    sheets: Vec<SheetShown>,
    finish: &'a Finish,
    found: Vec<Found>,
    follows: bool,
}

fn films(plan: &Verified) -> Vec<FilmShown> {
    let bills = bill::bills(plan.sheets(), &plan.job().films);
    let one = |(i, f): (usize, &crate::read::job::FilmSpec)| {
        let id = crate::read::job::FilmId(i);
        let bill = bills.iter().find(|b| b.film == id);
        FilmShown {
            name: f.name.clone(),
            colour: f.colour.to_string(),
            letter: film_mark::letter(id),
            sheets: bill.map_or(0, |b| b.sheets),
            buy_sheets: bill.map_or(0, |b| if let Buy::Sheets(n) = b.buy { n } else { 0 }),
            buy_mm: bill.map_or(0.0, |b| if let Buy::Length(l) = b.buy { l.0 } else { 0.0 }),
            used_part: bill.map_or(0.0, |b| b.used_part),
        }
    };
    plan.job().films.iter().enumerate().map(one).collect()
}

/// A whole plan, measured again.
pub fn plan<'a>(plan: &'a Verified, more: &[Diagnostic], follows: bool) -> PlanShown<'a> {
    let sheet = |s: &crate::make::film::SheetLayout| {
        let t = tally(s, &plan.job().films[s.film.0]);
        SheetShown {
            film: s.film.0,
            index: s.index,
            width: s.width.0,
            height: s.height.0,
            used: t.used.0,
            used_part: t.used_part,
            pieces: t.pieces,
            spares: t.spares,
            cut_min: t.cut_seconds / 60.0,
            weed_min: t.weed_seconds / 60.0,
        }
    };
    PlanShown {
        zones: zones(plan.cup()),
        films: films(plan),
        pieces: plan.on_wall().map(piece).collect(),
        pinned: pinned(plan.job()),
        sheets: plan.sheets().iter().map(sheet).collect(),
        finish: plan.finish(),
        found: found(plan.diagnostics().iter().chain(more)),
        follows,
    }
}

/// By motif: pinned or spread.
pub fn pinned(job: &Job) -> Vec<bool> {
    job.motifs.iter().map(|m| matches!(m.placing, Placing::Pinned(_))).collect()
}
