//! `manifest.json`: every number of the kit, with its unit in the key, in a fixed order and with fixed
//! decimals. Past 600 lines: it is one table, the structs of its parts beside what fills them.
//!
//! Imports: base, read::job, make::{cup, piece, weed, film, plan, verify}, write::{ink, cut, template, map, view,
//! sheets, laying}.

use super::laying;
use super::view::ViewPart;
use crate::base::diag::Diagnostic;
use crate::base::tolerance::FLATTEN;
use crate::base::units::{Angle, LengthUnit, Ml, Mm, Mm2};
use crate::make::cup::{Cup, Frustum, WallZone};
use crate::make::film::SheetLayout;
use crate::make::film::bill::{self, Buy};
use crate::make::film::stock::Source;
use crate::make::piece::{Kind, Piece};
use crate::make::plan::StageReport;
use crate::make::verify::{CutPlan, Verified};
use crate::make::weed::{DefectKind, NarrowPlace};
use crate::read::job::keys::Worded;
use crate::read::job::{Grain, Handle, Sharing, Sheen, Stock};
use crate::write::cut::offcut::OffcutFile;
use crate::write::cut::sheet;
use crate::write::ink::decimal::rounded;
use crate::write::ink::film_mark;
use crate::write::map::rows::Row;
use crate::write::template::band::letter;
use rayon::prelude::*;
use serde::Serialize;

/// Path of the manifest within the kit.
pub const FILE: &str = "manifest.json";

/// Layout of the manifest; grows when a key changes its meaning.
const LAYOUT: u32 = 1;

fn mm(v: Mm) -> f64 {
    rounded(v.0, 3)
}
fn mm2(v: Mm2) -> f64 {
    rounded(v.0, 2)
}
fn deg(a: Angle) -> f64 {
    rounded(a.deg(), 4)
}

#[derive(Serialize)]
struct Manifest<'a> {
    layout: u32,
    program: &'static str,
    title: &'a str,
    date: Option<&'a str>,
    unit: LengthUnit,
    seed: u64,
    cup: CupPart,
    films: Vec<FilmPart<'a>>,
    sheets: Vec<SheetPart<'a>>,
    #[serde(skip_serializing_if = "Option::is_none")]
    order: Option<OrderPart>,
    decals: Vec<crate::write::sheets::decal::DecalEntry<'a>>,
    /// Where pieces are laid in panels.
    #[serde(skip_serializing_if = "Option::is_none")]
    laying: Option<laying::PanelsPart>,
    pieces: Vec<PiecePart<'a>>,
    views: &'a [ViewPart],
    totals: Totals,
    narrow_places: Vec<WeakPart<'a>>,
    finish: serde_json::Value,
    stages: &'a [StageReport],
    #[serde(rename = "found")]
    diagnostics: &'a [Diagnostic],
    files: Vec<&'a str>,
}

/// Several cups of one job.
#[derive(Serialize)]
struct OrderPart {
    cups: u32,
    film: &'static str,
    same_sheets: bool,
    most_cups_a_sheet: Option<u32>,
}

#[derive(Serialize)]
struct CupPart {
    readings: Vec<Reading>,
    /// What the readings are worth: gaps at rim and base, seam step, taper, bow.
    worth: serde_json::Value,
    tape_uncertainty_mm: f64,
    stated_capacity_ml: Option<f64>,
    measured: FrustumPart,
    build_up_mm: f64,
    surface: FrustumPart,
    /// The cones of a wall with edges, lowest first; none of a wall of one cone.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    zones: Vec<ZonePart>,
    keep_clear_rim_mm: f64,
    keep_clear_base_mm: f64,
    film_from_mm: f64,
    film_to_mm: f64,
    free_area_mm2: f64,
    seam_azimuth_deg: f64,
    lap_mm: f64,
    /// Nothing, a window, or a list of them: as in the job.
    handle: Handles,
}

#[derive(Serialize)]
struct Reading {
    slant_mm: f64,
    girth_mm: f64,
    line_girth_mm: f64,
    off_line_mm: f64,
}

#[derive(Serialize)]
struct FrustumPart {
    rim_girth_mm: f64,
    base_girth_mm: f64,
    slant_mm: f64,
    height_mm: f64,
    rim_diameter_mm: f64,
    base_diameter_mm: f64,
    /// None of a wall of several cones.
    half_angle_deg: Option<f64>,
    sweep_deg: Option<f64>,
    lateral_area_mm2: f64,
    outside_volume_ml: f64,
}

/// A cone of a wall with edges.
#[derive(Serialize)]
struct ZonePart {
    part: String,
    from_mm: f64,
    to_mm: f64,
    film_from_mm: f64,
    film_to_mm: f64,
    measured: FrustumPart,
    surface: FrustumPart,
}

#[derive(Serialize)]
#[serde(untagged)]
enum Handles {
    One(Option<HandlePart>),
    Several(Vec<HandlePart>),
}

#[derive(Serialize)]
struct HandlePart {
    azimuth_deg: f64,
    width_mm: f64,
    from_mm: f64,
    to_mm: f64,
}

#[derive(Serialize)]
struct FilmPart<'a> {
    letter: String,
    name: &'a str,
    colour: String,
    sheen: &'static str,
    form: &'static str,
    width_mm: f64,
    length_mm: f64,
    margin_mm: f64,
    spacing_mm: f64,
    smallest_weedable_mm: f64,
    thickness_mm: f64,
    mirrored: bool,
    turning: &'static str,
    sheets: usize,
    sheets_from_stock: usize,
    sheets_from_leftovers: usize,
    buy_sheets: usize,
    buy_length_mm: f64,
    pieces: usize,
    spares: usize,
    piece_area_mm2: f64,
    sheet_area_mm2: f64,
    used_part: f64,
    cutting_min: f64,
    weeding_min: f64,
}

#[derive(Serialize)]
struct SheetPart<'a> {
    name: String,
    file: String,
    film: String,
    width_mm: f64,
    height_mm: f64,
    mirrored: bool,
    taken_from: &'a str,
    /// How often it is cut, and how many cups further each cut is; of an order only.
    #[serde(skip_serializing_if = "Option::is_none")]
    cut_times: Option<u32>,
    #[serde(skip_serializing_if = "Option::is_none")]
    cups_each_cut: Option<u32>,
    #[serde(skip_serializing_if = "Vec::is_empty")]
    cups: Vec<u32>,
    pieces: Vec<PlacedPart>,
    spares: usize,
    outlines: usize,
    piece_area_mm2: f64,
    used_mm: f64,
    used_part: f64,
    cut_length_mm: f64,
    travel_mm: f64,
    cutting_min: f64,
    weeding_min: f64,
    leftovers: Vec<LeftPart<'a>>,
    /// Of a woven sheet.
    #[serde(skip_serializing_if = "Option::is_none")]
    spots_in_order: Option<laying::OrderPart>,
    /// Of a sheet that the maker prints herself: a, b, c, d, e, f of x' = a x + b y + e, y' = c x + d y + f, from
    /// places as drawn to the printed side, turned over and corrected, on which the cut file lies.
    #[serde(skip_serializing_if = "Option::is_none")]
    as_printed: Option<[f64; 6]>,
}

#[derive(Serialize)]
struct LeftPart<'a> {
    file: &'a str,
    x_mm: f64,
    y_mm: f64,
    width_mm: f64,
    height_mm: f64,
    area_mm2: f64,
    /// Corners on the sheet, the outer ring first, then holes.
    rings_mm: Vec<Vec<[f64; 2]>>,
}

#[derive(Serialize)]
struct PlacedPart {
    number: u32,
    #[serde(skip_serializing_if = "none")]
    cup: u32,
    spare: bool,
    /// Not wanted any more: it stays on the sheet.
    #[serde(skip_serializing_if = "std::ops::Not::not")]
    gone: bool,
    id: String,
    x_mm: f64,
    y_mm: f64,
    turn_deg: f64,
}

#[allow(clippy::trivially_copy_pass_by_ref, reason = "serde asks for a reference")]
fn none(cup: &u32) -> bool {
    *cup == 0
}

#[derive(Serialize)]
struct PiecePart<'a> {
    number: u32,
    /// Each cup of a list of names has another one of this number; this is the first cup's.
    #[serde(skip_serializing_if = "std::ops::Not::not")]
    each_cup: bool,
    kind: KindPart,
    name: &'a str,
    film: String,
    sheet: Option<&'a str>,
    zone: String,
    up_mm: f64,
    round_mm: f64,
    azimuth_deg: f64,
    turn_deg: f64,
    plane_x_mm: f64,
    plane_y_mm: f64,
    width_mm: f64,
    height_mm: f64,
    area_mm2: f64,
    cut_length_mm: f64,
    contours: usize,
    nodes: usize,
    clearance_mm: f64,
    #[serde(skip_serializing_if = "Option::is_none")]
    pass: Option<String>,
}

#[derive(Serialize)]
#[serde(tag = "is", rename_all = "lowercase")]
enum KindPart {
    Motif { motif: usize, copy: usize },
    Spot { accent: usize },
    Tint { accent: usize, of: u32 },
    Layer { decal: usize, layer: usize },
    Base,
}

#[derive(Serialize)]
struct WeakPart<'a> {
    pieces: &'a [u32],
    what: DefectKind,
    width_mm: f64,
    limit_mm: f64,
    length_mm: f64,
    /// The two sides, from the middle of the piece.
    at_mm: [[f64; 2]; 2],
}

#[derive(Serialize)]
struct Totals {
    pieces: usize,
    sheets: usize,
    piece_area_mm2: f64,
    covered_part: f64,
    cut_length_mm: f64,
}

/// The manifest of a plan; `files` are the kit's paths in order, the manifest's own not among them.
pub fn file(
    plan: &Verified,
    rows: &[Row],
    views: &[ViewPart],
    left: &[OffcutFile<'_>],
    files: &[&str],
) -> Result<Vec<u8>, serde_json::Error> {
    let sheets: Vec<SheetPart<'_>> = plan.sheets().par_iter().map(|s| sheet(plan, s, left)).collect();
    let area: Mm2 = plan.pieces().iter().map(|p| p.outline.area()).sum();
    let free = plan.cup().free_area();
    let manifest = Manifest {
        layout: LAYOUT,
        program: concat!("frusta ", env!("CARGO_PKG_VERSION")),
        title: &plan.job().title,
        date: plan.job().date.as_deref(),
        unit: plan.job().unit,
        seed: plan.job().seed.0,
        cup: cup(plan),
        films: films(plan),
        views,
        totals: Totals {
            pieces: plan.pieces().len(),
            sheets: plan.sheets().iter().map(|s| s.repeat.times as usize).sum(),
            piece_area_mm2: mm2(area),
            covered_part: rounded(if free.0 > 0.0 { area / free } else { 0.0 }, 4),
            cut_length_mm: rounded(
                sheets.iter().map(|s| s.cut_length_mm * f64::from(s.cut_times.unwrap_or(1))).sum(),
                1,
            ),
        },
        sheets,
        order: plan.job().order.as_ref().map(|o| OrderPart {
            cups: o.cups,
            film: Sharing::WORDS.iter().find(|w| w.1 == o.film).map_or("", |w| w.0),
            same_sheets: o.same_sheets,
            most_cups_a_sheet: o.most_a_sheet,
        }),
        decals: crate::write::sheets::decal::parts(plan, rows),
        laying: laying::panels(plan),
        pieces: plan.pieces().par_iter().zip(rows).map(|(p, r)| piece(plan, p, r)).collect(),
        narrow_places: plan.weak().iter().map(weak).collect(),
        finish: fixed(serde_json::to_value(plan.finish())?),
        stages: plan.stages(),
        diagnostics: plan.diagnostics(),
        files: files.to_vec(),
    };
    let mut bytes = serde_json::to_vec_pretty(&manifest)?;
    bytes.push(b'\n');
    Ok(bytes)
}

fn cup(plan: &Verified) -> CupPart {
    let (spec, cup) = (&plan.job().cup, plan.cup());
    let reading = |r: &crate::read::job::Ring| {
        let line = cup.measured_girth(r.slant);
        Reading {
            slant_mm: mm(r.slant),
            girth_mm: mm(r.girth),
            line_girth_mm: mm(line),
            off_line_mm: mm(r.girth - line),
        }
    };
    CupPart {
        readings: spec.rings.iter().map(reading).collect(),
        worth: fixed(serde_json::to_value(&cup.readings).unwrap_or_default()),
        tape_uncertainty_mm: mm(spec.tape),
        stated_capacity_ml: spec.capacity.map(|Ml(v)| rounded(v, 1)),
        measured: whole(cup, |z| &z.measured),
        build_up_mm: mm(spec.build_up),
        surface: whole(cup, |z| &z.surface),
        zones: if cup.is_cone() { Vec::new() } else { cup.zones.iter().enumerate().map(wall_zone).collect() },
        keep_clear_rim_mm: mm(spec.keep_clear.rim),
        keep_clear_base_mm: mm(spec.keep_clear.base),
        film_from_mm: mm(cup.lowest().zone.low),
        film_to_mm: mm(cup.highest().zone.high),
        free_area_mm2: mm2(cup.free_area()),
        seam_azimuth_deg: deg(cup.seam()),
        lap_mm: mm(spec.lap),
        handle: match spec.handles.as_slice() {
            [] => Handles::One(None),
            [one] => Handles::One(Some(handle(one))),
            many => Handles::Several(many.iter().map(handle).collect()),
        },
    }
}

fn handle(h: &Handle) -> HandlePart {
    HandlePart { azimuth_deg: deg(h.azimuth), width_mm: mm(h.width), from_mm: mm(h.from), to_mm: mm(h.to) }
}

/// Every number of a value with fixed decimals.
fn fixed(value: serde_json::Value) -> serde_json::Value {
    use serde_json::Value;
    match value {
        Value::Number(n) if n.is_f64() => n.as_f64().map_or(Value::Null, |v| rounded(v, 4).into()),
        Value::Array(list) => list.into_iter().map(fixed).collect(),
        Value::Object(map) => map.into_iter().map(|(k, v)| (k, fixed(v))).collect(),
        other => other,
    }
}

fn wall_zone((i, z): (usize, &WallZone)) -> ZonePart {
    ZonePart {
        part: letter(i),
        from_mm: mm(z.low),
        to_mm: mm(z.high),
        film_from_mm: mm(z.zone.low),
        film_to_mm: mm(z.zone.high),
        measured: frustum(&z.measured),
        surface: frustum(&z.surface),
    }
}

/// The whole wall: of several cones what is true of them together.
fn whole(cup: &Cup, of: impl Fn(&WallZone) -> &Frustum) -> FrustumPart {
    let first = frustum(of(cup.lowest()));
    if cup.is_cone() {
        return first;
    }
    let all: Vec<FrustumPart> = cup.zones.iter().map(|z| frustum(of(z))).collect();
    let sum = |of: &dyn Fn(&FrustumPart) -> f64| all.iter().map(of).sum::<f64>();
    let last = &all[all.len() - 1];
    FrustumPart {
        rim_girth_mm: last.rim_girth_mm,
        rim_diameter_mm: last.rim_diameter_mm,
        slant_mm: rounded(sum(&|f| f.slant_mm), 4),
        height_mm: rounded(sum(&|f| f.height_mm), 4),
        half_angle_deg: None,
        sweep_deg: None,
        lateral_area_mm2: rounded(sum(&|f| f.lateral_area_mm2), 2),
        outside_volume_ml: rounded(sum(&|f| f.outside_volume_ml), 2),
        ..first
    }
}

fn frustum(f: &Frustum) -> FrustumPart {
    FrustumPart {
        rim_girth_mm: mm(f.upper),
        base_girth_mm: mm(f.lower),
        slant_mm: mm(f.slant),
        height_mm: mm(f.height()),
        rim_diameter_mm: mm(f.upper / std::f64::consts::PI),
        base_diameter_mm: mm(f.lower / std::f64::consts::PI),
        half_angle_deg: Some(deg(f.half_angle())),
        sweep_deg: Some(deg(f.sweep())),
        lateral_area_mm2: mm2(f.lateral_area()),
        outside_volume_ml: rounded(f.volume().0, 1),
    }
}

fn films(plan: &Verified) -> Vec<FilmPart<'_>> {
    let bills = bill::bills(plan.sheets(), &plan.job().films);
    let part = |(i, f): (usize, &'_ crate::read::job::FilmSpec)| {
        let id = crate::read::job::FilmId(i);
        let (form, width, length) = match f.stock {
            Stock::Sheet { width, height } => ("sheet", width, height),
            Stock::Roll { width, longest } => ("roll", width, longest),
        };
        let own: Vec<&Piece> = plan.pieces().iter().filter(|p| p.film == id).collect();
        let b = &bills[i];
        FilmPart {
            letter: film_mark::letter(id),
            name: &plan.job().films[i].name,
            colour: f.colour.to_string(),
            sheen: match f.sheen {
                Sheen::Gloss => "gloss",
                Sheen::Matt => "matt",
                Sheen::Metallic => "metallic",
                Sheen::Pearl => "pearl",
            },
            form,
            width_mm: mm(width),
            length_mm: mm(length),
            margin_mm: mm(f.margin),
            spacing_mm: mm(f.spacing),
            smallest_weedable_mm: mm(f.weed),
            thickness_mm: mm(f.thickness),
            mirrored: f.mirrored,
            turning: match f.grain {
                Grain::Free => "free",
                Grain::Half => "half",
                Grain::Fixed => "fixed",
            },
            sheets: b.sheets,
            sheets_from_stock: b.from_stock,
            sheets_from_leftovers: b.from_leftovers,
            buy_sheets: if let Buy::Sheets(n) = b.buy { n } else { 0 },
            buy_length_mm: if let Buy::Length(l) = b.buy { mm(l) } else { 0.0 },
            pieces: own.len() * plan.cups() as usize,
            spares: b.spares,
            piece_area_mm2: mm2(own.iter().map(|p| p.outline.area()).sum::<Mm2>() * f64::from(plan.cups())),
            sheet_area_mm2: mm2(b.film_area),
            used_part: rounded(b.used_part, 4),
            cutting_min: rounded(b.seconds[0] / 60.0, 2),
            weeding_min: rounded(b.seconds[1] / 60.0, 2),
        }
    };
    plan.job().films.iter().enumerate().map(part).collect()
}

fn sheet<'a>(plan: &'a Verified, s: &'a SheetLayout, left: &'a [OffcutFile<'_>]) -> SheetPart<'a> {
    let t = bill::tally(s, &plan.job().films[s.film.0]);
    let placed = s.placed.iter().zip(sheet::group_ids(s)).map(|(p, id)| PlacedPart {
        number: p.number,
        cup: p.cup,
        spare: p.spare,
        gone: plan.is_gone(p.number),
        id,
        x_mm: rounded(p.pose.origin().x, 3),
        y_mm: rounded(p.pose.origin().y, 3),
        turn_deg: deg(p.pose.turn()),
    });
    SheetPart {
        name: sheet::sheet_name(plan, s),
        file: sheet::file_name(plan, s),
        film: plan.job().films[s.film.0].name.clone(),
        width_mm: mm(s.width),
        height_mm: mm(s.height),
        mirrored: s.mirrored,
        taken_from: match &s.stock.source {
            Source::Bought => "bought",
            Source::InStock => "stock",
            Source::Offcut(file) => file,
        },
        cut_times: (plan.cups() > 1).then_some(s.repeat.times),
        cups_each_cut: (s.repeat.times > 1).then_some(s.repeat.cups),
        cups: s.cups(),
        pieces: placed.collect(),
        spares: t.spares,
        outlines: t.outlines,
        piece_area_mm2: mm2(t.piece_area),
        used_mm: mm(t.used),
        used_part: rounded(t.used_part, 4),
        cut_length_mm: rounded(t.cut.0, 1),
        travel_mm: rounded(t.travel.0, 1),
        cutting_min: rounded(t.cut_seconds / 60.0, 2),
        weeding_min: rounded(t.weed_seconds / 60.0, 2),
        leftovers: left.iter().filter(|l| std::ptr::eq(l.sheet, s)).map(left_part).collect(),
        spots_in_order: laying::order(plan, s),
        as_printed: plan.as_printed(s).map(|(map, _)| {
            let [a, b, c, d] = map.m;
            [a, b, c, d, map.t[0], map.t[1]].map(|v| rounded(v, 9))
        }),
    }
}

fn weak(w: &NarrowPlace) -> WeakPart<'_> {
    WeakPart {
        pieces: &w.pieces,
        what: w.what,
        width_mm: mm(w.width),
        limit_mm: mm(w.limit),
        length_mm: mm(w.length),
        at_mm: w.at.map(|p| [rounded(p.x, 3), rounded(p.y, 3)]),
    }
}

fn left_part<'a>(l: &'a OffcutFile<'_>) -> LeftPart<'a> {
    let b = l.shape.bounds();
    let ring = |r: &Vec<[f64; 2]>| r.iter().map(|p| p.map(|v| rounded(v, 3))).collect();
    LeftPart {
        file: &l.file,
        x_mm: rounded(b.min.x, 3),
        y_mm: rounded(b.min.y, 3),
        width_mm: mm(b.width()),
        height_mm: mm(b.height()),
        area_mm2: mm2(l.shape.area()),
        rings_mm: l.shape.flat(FLATTEN).rings.iter().map(ring).collect(),
    }
}

fn piece<'a>(plan: &'a Verified, p: &'a Piece, r: &'a Row) -> PiecePart<'a> {
    let bounds = p.outline.bounds();
    // The anchor, as poses and plane have it; the map tells the middle.
    let radius = plan.cup().zones[p.zone].development.radius(p.wall.slant);
    let own = plan.named().and_then(|n| n.own.first());
    PiecePart {
        number: p.number,
        each_cup: own.is_some_and(|own| own.iter().any(|q| q.number == p.number)),
        kind: match p.kind {
            Kind::Motif { motif, copy } => KindPart::Motif { motif, copy },
            Kind::Spot { accent } => KindPart::Spot { accent },
            Kind::Tint { accent, of } => KindPart::Tint { accent, of },
            Kind::Layer { decal, layer } => KindPart::Layer { decal, layer },
            // A panel is none of a plan's pieces.
            Kind::Base | Kind::Lot { .. } => KindPart::Base,
        },
        name: &p.name,
        film: plan.job().films[p.film.0].name.clone(),
        sheet: r.sheet.as_deref(),
        zone: if r.on_base { "base".to_owned() } else { r.zone.name() },
        up_mm: mm(p.wall.slant),
        round_mm: mm(radius * p.wall.azimuth.wrapped().rad()),
        azimuth_deg: deg(p.wall.azimuth),
        turn_deg: deg(r.turn),
        plane_x_mm: rounded(p.pose.origin().x, 3),
        plane_y_mm: rounded(p.pose.origin().y, 3),
        width_mm: mm(bounds.width()),
        height_mm: mm(bounds.height()),
        area_mm2: mm2(p.outline.area()),
        cut_length_mm: rounded(p.outline.perimeter().0, 1),
        contours: p.outline.contours().len(),
        nodes: p.outline.nodes(),
        clearance_mm: mm(p.clearance),
        pass: plan.pass_name(p),
    }
}
