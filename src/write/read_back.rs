//! Reads every written SVG back with parsers that share nothing with the writer (roxmltree for the rules of
//! the file, usvg for the geometry, from the physical size down) and compares with the plan.
//!
//! Imports: base, outline, read::kept, make::{piece, panel, film, finish, verify}, write::{ink, cut, template, map,
//! sheets}.

use crate::base::diag::{Code, Diagnostic, KeyPath};
use crate::base::frame::{Art, Frame, Page, Point, Rigid, Sheet};
use crate::base::tolerance::READ_BACK;
use crate::base::units::{Angle, Mm};
use crate::make::film::SheetLayout;
use crate::make::finish::BaseDisc;
use crate::make::panel::Panel;
use crate::make::piece::Kind;
use crate::make::verify::{CutPlan, Verified};
use crate::outline::{BezPath, PathEl, Region, subpaths};
use crate::write::cut::offcut::{self, OffcutFile};
use crate::write::cut::sheet;
use crate::write::cut::weeding;
use crate::write::map::{printed, wall};
use crate::write::template::band::Band;
use crate::write::template::{base, wrap};
use resvg::tiny_skia::PathSegment;
use resvg::usvg;
use std::collections::BTreeMap;

/// A written file does not say what the plan says.
pub const DIFFERS: Code = Code {
    id: "write/read-back-differs",
    title: "a written file, read back, differs from the plan",
    explain: "Every SVG is read back with an independent parser before the kit is moved into place, and its \
        outlines are compared with the plan. This one differs, so nothing was written. The job is not at \
        fault: please report it with the job file.",
};

/// CSS pixels in a millimetre: 96 an inch (CSS Values and Units, absolute lengths).
const PX: f64 = 96.0 / 25.4;

/// What a file says: paths by the id of the group (or path) that holds them, millimetres from the lower left
/// corner.
struct ReadBack {
    width: f64,
    height: f64,
    paths: BTreeMap<String, Vec<BezPath>>,
    order: Vec<String>,
}

pub(super) fn differs(file: &str, message: impl Into<String>) -> Diagnostic {
    Diagnostic::fault(&DIFFERS, KeyPath::root(), message)
        .file(file)
        .help("report this with the job file; nothing was written")
}

fn read(file: &str, bytes: &[u8]) -> Result<ReadBack, Diagnostic> {
    let options = usvg::Options {
        image_href_resolver: usvg::ImageHrefResolver {
            resolve_data: Box::new(|_, _, _| None),
            resolve_string: Box::new(|_, _| None),
        },
        ..usvg::Options::default()
    };
    let text = std::str::from_utf8(bytes).map_err(|e| differs(file, format!("not UTF-8: {e}")))?;
    let xml = usvg::roxmltree::Document::parse(text).map_err(|e| differs(file, format!("not XML: {e}")))?;
    keeps_the_rules(file, &xml)?;
    let tree = usvg::Tree::from_xmltree(&xml, &options)
        .map_err(|e| differs(file, format!("not readable as SVG: {e}")))?;
    let (width, height) = (f64::from(tree.size().width()) / PX, f64::from(tree.size().height()) / PX);
    let mut out = ReadBack { width, height, paths: BTreeMap::new(), order: Vec::new() };
    walk(tree.root(), "", height, &mut out);
    Ok(out)
}

/// Units, viewBox, no transform, no style, one id once: what a cutter's software needs to take the size as it
/// is. In pictures, which are not cut, letters may be shown again: only what holds nothing else is moved.
fn keeps_the_rules(file: &str, xml: &usvg::roxmltree::Document<'_>) -> Result<(), Diagnostic> {
    let root = xml.root_element();
    let size = |name: &str| root.attribute(name).and_then(|v| v.strip_suffix("mm")).unwrap_or_default();
    let want = format!("0 0 {} {}", size("width"), size("height"));
    if root.attribute("viewBox") != Some(want.as_str()) {
        return Err(differs(file, "width and height are not the viewBox in millimetres"));
    }
    let picture = ["weeding/", "cups/", "view/"].iter().any(|folder| file.starts_with(folder));
    let mut ids = std::collections::BTreeSet::new();
    for node in xml.descendants().filter(usvg::roxmltree::Node::is_element) {
        let name = node.tag_name().name();
        let shown = name == "image" && file.starts_with("sheet/");
        let again = picture && ["defs", "use"].contains(&name);
        if !shown && !again && !["svg", "g", "path", "title", "desc", "text"].contains(&name) {
            return Err(differs(file, format!("holds an element \"{name}\"")));
        }
        let letters = picture && name == "g" && node.children().all(|c| c.has_tag_name("use") || c.is_text());
        let bad = ["transform", "style", "class"].into_iter().filter(|a| *a != "transform" || !letters);
        if let Some(bad) = bad.into_iter().find(|a| node.has_attribute(*a)) {
            return Err(differs(file, format!("holds an attribute \"{bad}\"")));
        }
        if let Some(id) = node.attribute("id")
            && !ids.insert(id)
        {
            return Err(differs(file, format!("holds the id \"{id}\" twice")));
        }
    }
    Ok(())
}

fn walk(group: &usvg::Group, id: &str, height: f64, out: &mut ReadBack) {
    for node in group.children() {
        match node {
            usvg::Node::Group(g) => {
                let inner = if g.id().is_empty() { id } else { g.id() };
                if !g.id().is_empty() {
                    out.order.push(inner.to_owned());
                }
                walk(g, inner, height, out);
            }
            usvg::Node::Path(p) => {
                let key = if p.id().is_empty() { id } else { p.id() };
                let path = absolute(p, height);
                out.paths.entry(key.to_owned()).or_default().push(path);
            }
            _ => {}
        }
    }
}

/// In millimetres, y up, through the transform from viewBox to physical size that the reader worked out
/// itself.
fn absolute(p: &usvg::Path, height: f64) -> BezPath {
    let t = p.abs_transform();
    let at = |q: resvg::tiny_skia::Point| {
        let (x, y) = (f64::from(q.x), f64::from(q.y));
        let (sx, kx, tx) = (f64::from(t.sx), f64::from(t.kx), f64::from(t.tx));
        let (ky, sy, ty) = (f64::from(t.ky), f64::from(t.sy), f64::from(t.ty));
        ((sx * x + kx * y + tx) / PX, height - (ky * x + sy * y + ty) / PX)
    };
    let mut out = BezPath::new();
    for seg in p.data().segments() {
        match seg {
            PathSegment::MoveTo(q) => out.move_to(at(q)),
            PathSegment::LineTo(q) => out.line_to(at(q)),
            PathSegment::QuadTo(a, q) => out.quad_to(at(a), at(q)),
            PathSegment::CubicTo(a, b, q) => out.curve_to(at(a), at(b), at(q)),
            PathSegment::Close => out.close_path(),
        }
    }
    out
}

/// Points of a path in order; control points too.
fn points(path: &BezPath) -> Vec<[f64; 2]> {
    let mut out = Vec::new();
    for el in path.elements() {
        match *el {
            PathEl::MoveTo(p) | PathEl::LineTo(p) => out.push([p.x, p.y]),
            PathEl::QuadTo(a, p) => out.extend([[a.x, a.y], [p.x, p.y]]),
            PathEl::CurveTo(a, b, p) => out.extend([[a.x, a.y], [b.x, b.y], [p.x, p.y]]),
            PathEl::ClosePath => {}
        }
    }
    out
}

/// Each contour one subpath, closed if it must be, in order, each point within the tolerance.
fn same_points<F: Frame>(
    file: &str,
    what: &str,
    got: &[BezPath],
    want: &[BezPath],
    closed: bool,
    origin: Point<F>,
) -> Result<(), Diagnostic> {
    let got: Vec<BezPath> = got.iter().flat_map(subpaths).collect();
    if got.len() != want.len() {
        let message = format!("{what} has {} contours and should have {}", got.len(), want.len());
        return Err(differs(file, message));
    }
    for (g, w) in got.iter().zip(want) {
        if matches!(g.elements().last(), Some(PathEl::ClosePath)) != closed {
            let message = if closed { "is not closed" } else { "is closed" };
            return Err(differs(file, format!("{what} {message}")));
        }
        let (g, w) = (points(g), points(w));
        let off = g.iter().zip(&w).fold(0.0f64, |m, (a, b)| {
            m.max((a[0] - b[0] - origin.x).abs()).max((a[1] - b[1] - origin.y).abs())
        });
        if g.len() != w.len() || off > READ_BACK.0 {
            return Err(differs(file, format!("{what} has points that are off"))
                .measured(Mm(off))
                .allowed(READ_BACK));
        }
    }
    Ok(())
}

/// Area and box: what the twin must share with what is written, whatever its start points and order.
fn same_shape<F: Frame>(file: &str, what: &str, got: &[BezPath], want: &Region<F>) -> Result<(), Diagnostic> {
    let got: Region<F> = Region::trusted(got.iter().flat_map(subpaths));
    let (a, b) = (got.bounds(), want.bounds());
    let off = [a.min.x - b.min.x, a.min.y - b.min.y, a.max.x - b.max.x, a.max.y - b.max.y]
        .into_iter()
        .fold(0.0f64, |m, v| m.max(v.abs()));
    // Each point is off by at most READ_BACK, so the area is off by at most that times the outline's length.
    let area = (got.area().0.abs() - want.area().0.abs()).abs();
    if off > READ_BACK.0 || area > READ_BACK.0 * want.perimeter().0 {
        let message = format!("{what} does not have the shape of its piece");
        return Err(differs(file, message)
            .measured(format!("box off by {off:.4} mm, area by {area:.4} mm2"))
            .allowed(READ_BACK));
    }
    Ok(())
}

fn same_size(file: &str, r: &ReadBack, width: f64, height: f64) -> Result<(), Diagnostic> {
    let off = (r.width - width).abs().max((r.height - height).abs());
    if off > READ_BACK.0 {
        return Err(differs(file, "the page has another size").measured(Mm(off)).allowed(READ_BACK));
    }
    Ok(())
}

/// A cut file against its sheet and, by area and box, against the pieces themselves.
pub fn cut_file(plan: &dyn CutPlan, sheet: &SheetLayout, file: &str, bytes: &[u8]) -> Result<(), Diagnostic> {
    let r = read(file, bytes)?;
    same_size(file, &r, sheet.width.0, sheet.height.0)?;
    let mut want = sheet::group_ids(sheet);
    let ids = want.clone();
    let aids = sheet::aids(sheet);
    want.extend(aids.iter().map(|a| a.0.to_owned()));
    want.push(sheet::NOT_TO_CUT.to_owned());
    if r.order != want {
        return Err(differs(file, "the groups are not the sheet's pieces in cut order"));
    }
    let printed = plan.as_printed(sheet);
    let (origin, overcut) = (Point::<Sheet>::ORIGIN, plan.films()[sheet.film.0].cut.overcut);
    for (placed, id) in sheet.placed.iter().zip(&ids) {
        let got = r.paths.get(id).map_or(&[][..], Vec::as_slice);
        // What is cut out of the maker's own print follows the printer: it is led back to what was drawn.
        let back = crate::write::cut::own_print::as_drawn(&printed, got);
        let got = back.as_deref().unwrap_or(got);
        let piece = sheet.outline(plan.piece_at(placed), &placed.pose);
        if overcut.0 > 0.0 {
            same_points(file, id, got, &sheet::as_cut(placed.cuts.contours(), overcut), false, origin)?;
            same_shape(file, id, placed.cuts.contours(), &piece)?;
        } else {
            same_points(file, id, got, placed.cuts.contours(), true, origin)?;
            same_shape(file, id, got, &piece)?;
        }
    }
    for (id, _, paths) in &aids {
        let got = r.paths.get(*id).map_or(&[][..], Vec::as_slice);
        same_points(file, id, got, paths, *id == "weeding-frame", origin)?;
    }
    Ok(())
}

/// The picture of a sheet: each piece has its shape at its place.
pub fn weeding_file(
    plan: &dyn CutPlan,
    sheet: &SheetLayout,
    file: &str,
    picture: &crate::write::ink::drawing::Drawing,
    bytes: &[u8],
) -> Result<(), Diagnostic> {
    let r = read(file, bytes)?;
    same_size(file, &r, picture.width, picture.height)?;
    for (placed, id) in sheet.placed.iter().zip(sheet::group_ids(sheet)) {
        let id = weeding::outline_id(&id);
        let got = r.paths.get(&id).map_or(&[][..], Vec::as_slice);
        let piece = sheet.outline(plan.piece_at(placed), &placed.pose);
        same_shape(file, &id, got, &piece.moved(&weeding::place()))?;
    }
    Ok(())
}

/// The map of a printed sheet: its cut outlines are the pieces, moved to where they lie on the sheet.
pub fn sheet_map(
    plan: &Verified,
    sheet: usize,
    file: &str,
    map: &crate::write::ink::drawing::Drawing,
    bytes: &[u8],
) -> Result<(), Diagnostic> {
    let r = read(file, bytes)?;
    same_size(file, &r, map.width, map.height)?;
    let film = plan.job().film_of_sheet(sheet);
    for layout in plan.sheets().iter().filter(|s| s.film == film) {
        for placed in &layout.placed {
            let id = printed::outline_id(placed.number);
            let got = r.paths.get(&id).map_or(&[][..], Vec::as_slice);
            let piece = layout.outline(plan.piece_at(placed), &placed.pose);
            same_shape(file, &id, got, &piece.moved(&printed::on_map(layout.placed.len())))?;
        }
    }
    Ok(())
}

/// A leftover: its outline is the shape that is left, at its own size.
pub fn leftover_file(left: &OffcutFile<'_>, bytes: &[u8]) -> Result<(), Diagnostic> {
    let (file, want) = (left.file.as_str(), left.outline());
    let r = read(file, bytes)?;
    same_size(file, &r, want.bounds().width().0, want.bounds().height().0)?;
    let got = r.paths.get(offcut::ID).map_or(&[][..], Vec::as_slice);
    same_points(file, offcut::ID, got, want.contours(), true, Point::<Page>::ORIGIN)
}

/// The template: its outline is the developed wall, by area (closed form) and by its corners.
pub fn wrap_file(plan: &Verified, width: f64, height: f64, bytes: &[u8]) -> Result<(), Diagnostic> {
    let file = wrap::FILE;
    let r = read(file, bytes)?;
    same_size(file, &r, width, height)?;
    let lap = plan.job().cup.lap;
    for (i, zone) in plan.cup().zones.iter().enumerate() {
        let got = r.paths.get(&wrap::outline_id(plan.cup(), i)).map_or(&[][..], Vec::as_slice);
        let got: Region<crate::base::frame::Page> = Region::trusted(got.iter().flat_map(subpaths));
        let f = zone.surface;
        let want = f.lateral_area().0 + lap.0.max(0.0) * f.slant.0;
        let off = (got.area().0.abs() - want).abs();
        let round = f.upper.0 + f.lower.0 + 2.0 * f.slant.0;
        if got.contours().len() != 1 || off > READ_BACK.0 * round {
            return Err(differs(file, "the outline does not have the wall's area")
                .measured(format!("off by {off:.3} mm2"))
                .allowed(format!("{:.3} mm2", READ_BACK.0 * round)));
        }
        let box_of = Band::new(zone, lap, got.bounds().min).bounds();
        if (box_of.max.x - got.bounds().max.x).abs().max((box_of.max.y - got.bounds().max.y).abs())
            > READ_BACK.0
        {
            return Err(differs(file, "the outline does not span the developed wall"));
        }
    }
    Ok(())
}

/// A decal's paper: each layer's outline has the shape of its piece, none of them turned.
pub fn decal_file(
    plan: &Verified,
    decal: usize,
    file: &str,
    paper: &crate::write::ink::drawing::Drawing,
    bytes: &[u8],
) -> Result<(), Diagnostic> {
    let r = read(file, bytes)?;
    same_size(file, &r, paper.width, paper.height)?;
    let own = |p: &&crate::make::piece::Piece| matches!(p.kind, Kind::Layer { decal: d, .. } if d == decal);
    for p in plan.pieces().iter().filter(own) {
        let id = crate::write::sheets::decal::outline_id(p.number);
        let got = r.paths.get(&id).map_or(&[][..], Vec::as_slice);
        let area: Region<crate::base::frame::Page> = Region::trusted(got.iter().flat_map(subpaths));
        let (a, b) = (area.bounds().centre(), p.outline.bounds().centre());
        let there: Rigid<crate::base::frame::Art, crate::base::frame::Page> =
            Rigid::from_parts(1.0, 0.0, Point::mm(a.x - b.x, a.y - b.y));
        same_shape(file, &id, got, &p.outline.moved(&there))?;
    }
    Ok(())
}

/// A panel's paper: each piece has its shape where the panel's pose says.
pub fn panel_file(
    plan: &Verified,
    panel: &Panel,
    paper: &crate::write::ink::drawing::Drawing,
    file: &str,
    bytes: &[u8],
) -> Result<(), Diagnostic> {
    let r = read(file, bytes)?;
    same_size(file, &r, paper.width, paper.height)?;
    let d = &plan.cup().zones[panel.zone].development;
    let home = panel.pose.inverse().then(&crate::write::template::panel::place(panel));
    for m in plan.panels().parts(panel).iter().flat_map(|p| &p.members) {
        let id = crate::write::template::panel::outline_id(m.number);
        let got = r.paths.get(&id).map_or(&[][..], Vec::as_slice);
        let piece = plan.piece(m.number);
        same_shape(file, &id, got, &piece.outline.moved(&piece.pose.then(&d.turned(m.turns)).then(&home)))?;
    }
    Ok(())
}

/// The template of the base: each part has its shape, about the middle of the base.
pub fn base_file(
    disc: &BaseDisc,
    at: Point<Page>,
    width: f64,
    height: f64,
    bytes: &[u8],
) -> Result<(), Diagnostic> {
    let file = base::FILE;
    let r = read(file, bytes)?;
    same_size(file, &r, width, height)?;
    let home: Rigid<Art, Page> = Rigid::new(Angle::ZERO, at);
    for part in &disc.parts {
        let id = base::part_id(part);
        let got = r.paths.get(&id).map_or(&[][..], Vec::as_slice);
        same_shape(file, &id, got, &part.outline.moved(&home))?;
    }
    Ok(())
}

/// The map: each piece's outline has its shape at its place.
pub fn map_file(
    plan: &Verified,
    bands: &[Band],
    width: f64,
    height: f64,
    bytes: &[u8],
) -> Result<(), Diagnostic> {
    let file = wall::FILE;
    let r = read(file, bytes)?;
    same_size(file, &r, width, height)?;
    for p in plan.on_wall() {
        let id = wall::outline_id(p.number);
        let got = r.paths.get(&id).map_or(&[][..], Vec::as_slice);
        same_shape(file, &id, got, &p.outline.moved(&bands[p.zone].place(&p.pose)))?;
    }
    Ok(())
}

/// The record of the pieces: every outline comes back to the last digit, by another reader of path data.
pub fn pieces_file(plan: &Verified, bytes: &[u8]) -> Result<(), Diagnostic> {
    let file = super::pieces::FILE;
    // What else the record holds is many times as large.
    #[derive(serde::Deserialize)]
    struct Read {
        pieces: Vec<serde_json::Map<String, serde_json::Value>>,
    }
    let read: Read = serde_json::from_slice(bytes).map_err(|e| differs(file, e.to_string()))?;
    let rows = read.pieces;
    if rows.len() != plan.pieces().len() {
        return Err(differs(file, format!("has {} pieces of {}", rows.len(), plan.pieces().len())));
    }
    for (p, row) in plan.pieces().iter().zip(&rows) {
        let of = |key: &str| row.get(key).cloned().unwrap_or_default();
        let path = BezPath::from_svg(of("outline").as_str().unwrap_or_default());
        let path = path.map_err(|e| differs(file, format!("piece {}: {e:?}", p.number)))?;
        let same = p.outline.contours().iter().flat_map(BezPath::elements).eq(path.elements());
        if of("number").as_u64() != Some(u64::from(p.number)) || !same {
            return Err(differs(file, format!("piece {} is not what was planned", p.number)));
        }
    }
    Ok(())
}
