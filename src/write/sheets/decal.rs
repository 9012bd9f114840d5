//! One paper a decal, at true size: each layer with its keys and hinge line, all of them together, and how
//! they go on.
//!
//! Imports: base, outline, read::job, make::{weed, decal, verify}, write::{ink, map}.

use crate::base::frame::{Art, Page, Point, Rigid};
use crate::base::units::Mm;
use crate::make::decal::Decal;
use crate::make::decal::corners::{CornerPlace, Hard};
use crate::make::decal::thicken::Changed;
use crate::make::verify::Verified;
use crate::make::weed::NarrowPlace;
use crate::outline::{BezPath, Bounds, CornerKind, Join, Op, Region};
use crate::read::job::FilmId;
use crate::read::job::decals::{Lies, Method};
use crate::write::ink::decimal::{rounded, table_mm};
use crate::write::ink::drawing::{Dash, Drawing, Group, INK, QUIET, Stroke, Text, segment};
use crate::write::ink::film_mark;
use crate::write::ink::letters::{self, Anchor, Face};
use crate::write::map::rows::Row;
use serde::Serialize;

const EDGE: f64 = 10.0;
const GAP: f64 = 7.0;
const LINE: f64 = 4.2;
/// Live text is set in whatever face the reader has: this much of the width is counted on.
const FALLBACK: f64 = 0.84;
/// Chords of hatched areas.
const COARSE: Mm = Mm(0.05);

/// Path of a decal's paper within the kit.
pub fn file_name(decal: usize) -> String {
    format!("view/decal-{}.svg", decal + 1)
}

/// Id of a layer's outline on the paper.
pub fn outline_id(number: u32) -> String {
    format!("l{number}")
}

/// Which pieces a layer is cut in: their numbers and films.
fn numbers(decal: &Decal, layer: usize) -> Vec<(u32, FilmId)> {
    let before: usize = decal.layers[..layer].iter().map(|l| l.films.len()).sum();
    let first = decal.first_piece + before;
    decal.layers[layer].films.iter().enumerate().map(|(i, (f, _))| ((first + i) as u32 + 1, *f)).collect()
}

/// The paper of a decal.
pub fn drawing(plan: &Verified, which: usize, rows: &[Row]) -> Drawing {
    let decal = &plan.decals()[which];
    let b = whole(decal);
    let width = (b.width().0 + 2.0 * EDGE).max(170.0);
    let steps = steps(plan, decal, rows, width - 2.0 * EDGE);
    let pictures = decal.layers.len() + 1;
    let picture = b.height().0 + LINE * 1.6 + GAP;
    let height = 2.0 * EDGE + 16.0 + picture * pictures as f64 + LINE * (steps.len() as f64 + 1.0);
    let mut groups = vec![heading(plan, decal, width, height)];
    let mut top = height - EDGE - 16.0;
    let place = |top: f64| -> Rigid<Art, Page> {
        Rigid::from_parts(1.0, 0.0, Point::mm(width / 2.0 - b.centre().x, top - LINE * 1.6 - b.max.y))
    };
    for layer in 0..decal.layers.len() {
        groups.extend(layer_groups(plan, decal, layer, rows, &place(top), (EDGE, top - LINE)));
        top -= picture;
    }
    groups.push(together(decal, &place(top), (EDGE, top - LINE)));
    top -= picture;
    let mut g = Group::new("steps", "How the layers go on");
    g.live = true;
    for (i, (line, bold)) in steps.iter().enumerate() {
        let t = Text::new(line, 3.0);
        g.text(&if *bold { t.bold() } else { t }, (EDGE, top - LINE * (i as f64 + 0.5)));
    }
    groups.push(g);
    Drawing {
        title: format!("{}: decal \"{}\"", plan.job().title, decal.title),
        message: "At true size. Each layer as seen from the front, base first, with its registration keys \
            and the hinge line along their upper edges."
            .into(),
        width,
        height,
        groups,
    }
}

/// Box of silhouette and keys.
fn whole(decal: &Decal) -> Bounds<Art> {
    decal.silhouette().bounds().joined(&decal.keys.marks.bounds())
}

fn heading(plan: &Verified, decal: &Decal, width: f64, height: f64) -> Group {
    let mut g = Group::new("heading", "Title and films");
    let title = format!("{}: decal \"{}\", true size", plan.job().title, decal.title);
    let title = letters::broken(Face::Bold, 4.6, &title, width - 2.0 * EDGE);
    g.text(&Text::new(title.first().map_or("", String::as_str), 4.6).bold(), (EDGE, height - EDGE - 3.0));
    crate::write::map::wall::legend(&mut g, plan, (EDGE, height - EDGE - 10.0), width - EDGE);
    g
}

fn path(region: &Region<Page>) -> BezPath {
    region.contours().iter().flat_map(|c| c.elements().iter().copied()).collect()
}

fn marks(g: &mut Group, decal: &Decal, place: &Rigid<Art, Page>) {
    if decal.keys.marks.is_empty() {
        return;
    }
    g.stroke(path(&decal.keys.marks.moved(place)), Stroke::solid(INK, 0.2));
    if let Some([a, b]) = decal.keys.hinge {
        let (a, b) = (place.apply(a), place.apply(b));
        g.stroke(
            segment((a.x - 4.0, a.y), (b.x + 4.0, b.y)),
            Stroke { colour: QUIET, width: 0.25, dash: Dash::Chain },
        );
        g.text(&Text::new("hinge", 2.2).colour(QUIET), (b.x + 5.0, b.y - 0.8));
    }
}

fn layer_groups(
    plan: &Verified,
    decal: &Decal,
    layer: usize,
    rows: &[Row],
    place: &Rigid<Art, Page>,
    at: (f64, f64),
) -> Vec<Group> {
    let mut out = Vec::new();
    let l = &decal.layers[layer];
    let pieces = numbers(decal, layer);
    let mut g =
        Group::new(format!("layer-{}", layer + 1), format!("Layer {} of {}", layer + 1, decal.layers.len()));
    let what = match layer {
        _ if layer + 1 == decal.layers.len() => ", the top".to_owned(),
        0 => format!(", the base: reaches out {} beyond layer 2", l.offset),
        _ => format!(": reaches out {} beyond layer {}", l.offset, layer + 2),
    };
    let cut: Vec<String> = pieces
        .iter()
        .map(|(n, f)| {
            let sheet = rows.get(*n as usize - 1).and_then(|r| r.sheet.clone()).unwrap_or_default();
            format!("piece {n}, film {} {}, sheet {sheet}", film_mark::letter(*f), plan.job().films[f.0].name)
        })
        .collect();
    let hollow = l.overlap.map_or(String::new(), |o| format!("; hollow, {o} overlap"));
    g.text(&Text::new(&format!("Layer {}{what}{hollow}. {}", layer + 1, cut.join("; ")), 3.0), at);
    marks(&mut g, decal, place);
    out.push(g);
    for ((number, film), (_, region)) in pieces.into_iter().zip(&l.films) {
        let there = region.moved(place);
        let mut g = Group::new(format!("piece-{number}"), format!("piece {number}"));
        g.stroke(film_mark::hatch(film, &there.flat(COARSE), None), film_mark::hatch_stroke(film));
        g.stroke(path(&there), film_mark::outline(film)).id = Some(outline_id(number));
        out.push(g);
    }
    out.extend(weak_places(plan, decal, layer, place));
    out
}

/// Circles round the places of a layer that are too narrow for its film.
fn weak_places(plan: &Verified, decal: &Decal, layer: usize, place: &Rigid<Art, Page>) -> Option<Group> {
    let own = numbers(decal, layer);
    let weak: Vec<&NarrowPlace> =
        plan.weak().iter().filter(|w| own.iter().any(|(n, _)| w.pieces.contains(n))).collect();
    let least = weak.iter().map(|w| w.width).fold(Mm(f64::INFINITY), Mm::min);
    let mut g = Group::new(format!("narrow-{}", layer + 1), format!("Narrow places of layer {}", layer + 1));
    for w in &weak {
        let (a, b) = (place.apply(w.at[0]), place.apply(w.at[1]));
        let middle = Point::mm(f64::midpoint(a.x, b.x), f64::midpoint(a.y, b.y));
        let ring: Region<Page> = Region::disc(middle, Mm(1.6));
        g.stroke(path(&ring), Stroke::solid(INK, 0.35));
    }
    let hard: Vec<&CornerPlace> = decal.hard.iter().filter(|p| p.layer == layer).collect();
    for p in &hard {
        let c = place.apply(p.at);
        let (r, mut mark) = (1.1, BezPath::new());
        mark.move_to((c.x, c.y + r));
        for corner in [(c.x - r, c.y), (c.x, c.y - r), (c.x + r, c.y)] {
            mark.line_to(corner);
        }
        mark.close_path();
        g.stroke(mark, Stroke::solid(INK, 0.3));
    }
    let b = whole(decal);
    let at = place.apply(Point::mm(b.max.x, b.min.y));
    let mut message = Vec::new();
    if !weak.is_empty() {
        message.push(format!("{} narrow places circled, the narrowest {least:.2}", weak.len()));
    }
    if !hard.is_empty() {
        message.push(format!("{} sharp corners or small parts in squares", hard.len()));
    }
    g.text(&Text::new(&message.join("; "), 2.4).anchor(Anchor::End), (at.x, at.y - 3.0));
    (!message.is_empty()).then_some(g)
}

/// All layers as they will be seen: of each, what no layer above covers.
fn together(decal: &Decal, place: &Rigid<Art, Page>, at: (f64, f64)) -> Group {
    let mut g = Group::new("together", "All layers together");
    let mut covered: Region<Art> = Region::empty();
    for l in decal.layers.iter().rev() {
        for (film, region) in &l.films {
            let seen = region.op(&covered, Op::Difference).moved(place);
            g.stroke(film_mark::hatch(*film, &seen.flat(COARSE), None), film_mark::hatch_stroke(*film));
            g.stroke(path(&seen), film_mark::outline(*film));
        }
        covered = Region::union_of([&covered, &l.solid]);
    }
    marks(&mut g, decal, place);
    let message = format!("All together: {} thick at the thickest.", decal.thickness);
    g.text(&Text::new(&message, 3.0), at);
    g
}

/// Where a decal goes, in words.
fn there(plan: &Verified, decal: &Decal, rows: &[Row]) -> String {
    let first = decal.first_piece;
    let row = rows.iter().find(|r| r.number as usize == first + 1);
    let (up, round) = row.map_or((decal.wall.slant, Mm::ZERO), |r| (r.up, r.round));
    let side = match round.0 {
        r if r < -0.05 => format!("{} mm to the left of the front line", table_mm(round.abs())),
        r if r > 0.05 => format!("{} mm to the right of the front line", table_mm(round)),
        _ => "on the front line".to_owned(),
    };
    let which = plan.decals().iter().position(|d| d.first_piece == first);
    let name = which.and_then(|i| plan.job().decals.get(i)?.row);
    match (name, decal.keys.hinge) {
        (None, _) => format!("its middle {} mm up from the base edge, {side}", table_mm(up)),
        // Names are of all widths and heights: what is the same on every cup is told.
        (Some(row), hinge) => format!(
            "its baseline {} mm up from the base edge{}, its middle {side}: the same on every cup",
            table_mm(up + row.baseline),
            hinge.map_or(String::new(), |[a, _]| format!(
                " (the hinge line {} mm up)",
                table_mm(up + Mm(a.y))
            )),
        ),
    }
}

/// The steps of both ways of working, the chosen one first; bold lines are headings.
pub fn steps(plan: &Verified, decal: &Decal, rows: &[Row], width: f64) -> Vec<(String, bool)> {
    let there = there(plan, decal, rows);
    let keyed = !decal.keys.marks.is_empty();
    let keys = |with: &str, without: &str| if keyed { with.to_owned() } else { without.to_owned() };
    let mirrored: Vec<String> = decal
        .layers
        .iter()
        .flat_map(|l| l.films.iter().map(|(f, _)| *f))
        .filter(|f| plan.job().films[f.0].mirrored)
        .map(|f| plan.job().films[f.0].name.clone())
        .collect();
    let mut weed = keys("Weed every layer; leave its two keys standing.", "Weed every layer.");
    if !mirrored.is_empty() {
        weed += &format!(" Cut from the back, so mirrored on the sheet: {}.", mirrored.join(", "));
    }
    let by_layer = vec![
        weed.clone(),
        format!(
            "Lay the base with {there}. Rub it down and lift the transfer tape{}.",
            keys("; the keys stay on the wall", "")
        ),
        keys(
            "Each further layer: put its keys on those below, tape it along the hinge line, fold it back, \
                take off the backing, rub it down from the hinge.",
            "Each further layer: lay it on the one below with an even border, taped along one edge first, \
                and rub it down from there.",
        ),
        keys("When the top is on, lift off all keys.", "Rub down once more."),
    ];
    let stacked = vec![
        weed,
        keys(
            "On the bench: tape the base down on its backing along the hinge line; bring each layer down on \
                it by the keys and rub it flat.",
            "On the bench: tape the base down on its backing; bring each layer down on it with an even \
                border and rub it flat.",
        ),
        format!(
            "{}Lift the whole stack with transfer tape and lay it with {there}.",
            keys("Take the keys off. ", "")
        ),
        "Stacking first traps more bubbles and a stack is stiffer round a taper (common practice).".into(),
    ];
    let both = [("Layer by layer on the cup", by_layer), ("Stacked flat, then onto the cup as one", stacked)];
    let order: [usize; 2] = if decal.method == Method::LayerByLayer { [0, 1] } else { [1, 0] };
    let mut out = Vec::new();
    for (k, i) in order.into_iter().enumerate() {
        let (head, list) = &both[i];
        out.push((
            if k == 0 { (*head).to_owned() } else { format!("The other way: {}", head.to_lowercase()) },
            true,
        ));
        for (n, step) in list.iter().enumerate() {
            for (j, line) in
                letters::broken(Face::Regular, 3.0, step, (width - 6.0) * FALLBACK).into_iter().enumerate()
            {
                out.push((if j == 0 { format!("{}. {line}", n + 1) } else { format!("    {line}") }, false));
            }
        }
    }
    out
}

/// A decal as the manifest tells it.
#[derive(Serialize)]
pub struct DecalEntry<'a> {
    shows: &'a str,
    paper: String,
    lies: &'static str,
    method: &'static str,
    up_mm: f64,
    azimuth_deg: f64,
    turn_deg: f64,
    from_mm: f64,
    to_mm: f64,
    thickest_mm: f64,
    thickest_area_mm2: f64,
    departs_from_level_mm: f64,
    clearance_mm: f64,
    layers: Vec<LayerPart>,
    /// Corners of the keys in the frame that all its pieces share.
    keys_mm: Vec<Vec<[f64; 2]>>,
    hinge_mm: Option<[[f64; 2]; 2]>,
    mended: Vec<MendPart>,
    sharp_corners: Vec<HardPart>,
    small_parts: Vec<HardPart>,
    steps: Vec<String>,
}

/// A sharp corner or a small part; the place is in the frame that all the decal's pieces share.
#[derive(Serialize)]
struct HardPart {
    piece: u32,
    is: &'static str,
    #[serde(skip_serializing_if = "Option::is_none")]
    angle_deg: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    across_mm: Option<f64>,
    at_mm: [f64; 2],
}

#[derive(Serialize)]
struct MendPart {
    layer: usize,
    film: String,
    thickened: usize,
    filled: usize,
    /// Notches filled with a fillet.
    filleted: usize,
    added_mm2: f64,
}

#[derive(Serialize)]
struct LayerPart {
    pieces: Vec<u32>,
    films: Vec<String>,
    offset_mm: f64,
    corners: &'static str,
    mitre_limit: Option<f64>,
    closes_mm: f64,
    closed: usize,
    overlap_mm: Option<f64>,
}

fn hard_parts(d: &Decal, corners: bool) -> Vec<HardPart> {
    let part = |p: &CornerPlace| {
        let piece = numbers(d, p.layer)[p.film].0;
        let at_mm = [rounded(p.at.x, 3), rounded(p.at.y, 3)];
        let (is, angle_deg, across_mm) = match p.what {
            Hard::Corner(a, CornerKind::Out) => ("corner of film", Some(rounded(a.deg(), 1)), None),
            Hard::Corner(a, CornerKind::In) => ("corner of waste", Some(rounded(a.deg(), 1)), None),
            Hard::Island(e, CornerKind::Out) => ("part", None, Some(rounded(e.0, 3))),
            Hard::Island(e, CornerKind::In) => ("hole", None, Some(rounded(e.0, 3))),
        };
        HardPart { piece, is, angle_deg, across_mm, at_mm }
    };
    d.hard.iter().filter(|p| matches!(p.what, Hard::Corner(..)) == corners).map(part).collect()
}

fn mend_part(plan: &Verified, (layer, film, m): &(usize, FilmId, Changed)) -> MendPart {
    MendPart {
        layer: layer + 1,
        film: plan.job().films[film.0].name.clone(),
        thickened: m.thickened,
        filled: m.filled,
        filleted: m.filleted,
        added_mm2: rounded(m.added.0, 3),
    }
}

/// All decals of a plan.
pub fn parts<'a>(plan: &'a Verified, rows: &[Row]) -> Vec<DecalEntry<'a>> {
    let round = |v: Mm| rounded(v.0, 3);
    let part = |(i, d): (usize, &'a Decal)| {
        let spec = &plan.job().decals[i];
        let layer = |n: usize| {
            let (join, close) = spec.under.get(n).map_or((spec.top.join, Mm::ZERO), |u| (u.join, u.close));
            let cut = numbers(d, n);
            LayerPart {
                pieces: cut.iter().map(|c| c.0).collect(),
                films: cut.iter().map(|c| plan.job().films[c.1.0].name.clone()).collect(),
                offset_mm: round(d.layers[n].offset),
                corners: if join == Join::Round { "round" } else { "mitred" },
                mitre_limit: if let Join::Mitre(limit) = join { Some(limit) } else { None },
                closes_mm: round(close),
                closed: d.layers[n].closed,
                overlap_mm: d.layers[n].overlap.map(round),
            }
        };
        let flat = d.keys.marks.flat(COARSE);
        DecalEntry {
            shows: &d.title,
            paper: file_name(i),
            lies: match spec.lies {
                Lies::Rigid => "rigid",
                Lies::Upright => "upright",
                Lies::Bent => "bent",
            },
            method: match d.method {
                Method::LayerByLayer => "layer-by-layer",
                Method::StackedFlat => "stacked-flat",
            },
            up_mm: round(d.wall.slant),
            azimuth_deg: rounded(d.wall.azimuth.deg(), 4),
            turn_deg: rounded(d.wall.turn.deg(), 4),
            from_mm: round(d.reach.low),
            to_mm: round(d.reach.high),
            thickest_mm: round(d.thickness),
            thickest_area_mm2: rounded(d.thickest_area.0, 2),
            departs_from_level_mm: round(d.departure),
            clearance_mm: round(d.clearance),
            layers: (0..d.layers.len()).map(layer).collect(),
            keys_mm: flat
                .rings
                .iter()
                .map(|r| r.iter().map(|p| [rounded(p[0], 4), rounded(p[1], 4)]).collect())
                .collect(),
            hinge_mm: d.keys.hinge.map(|h| h.map(|p| [rounded(p.x, 4), rounded(p.y, 4)])),
            mended: d.mended.iter().map(|m| mend_part(plan, m)).collect(),
            sharp_corners: hard_parts(d, true),
            small_parts: hard_parts(d, false),
            steps: steps(plan, d, rows, 1e6).into_iter().map(|s| s.0).collect(),
        }
    };
    plan.decals().iter().enumerate().map(part).collect()
}
