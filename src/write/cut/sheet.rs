//! One cut file a film sheet: a group a piece, in cut order, and nothing else but a check bar marked not to
//! be cut.
//!
//! Imports: base, outline, make::{film, verify}, write::ink, write::cut::own_print.

use super::own_print;
use crate::base::frame::{Point, Sheet};
use crate::base::tolerance::NEST_FLATTEN;
use crate::base::units::Mm;
use crate::make::film::stock::Source;
use crate::make::film::{Placed, SheetLayout};
use crate::make::verify::CutPlan;
use crate::outline::{BezPath, Bounds, Clearance, Region, run_on};
use crate::write::ink::drawing::size_bar;
use crate::write::ink::letters::{self, Anchor, Face};
use crate::write::ink::svg::{self, Flip};
use std::collections::{BTreeMap, BTreeSet};
use svg_crate::node::Node;
use svg_crate::node::element::Element;

use ::svg as svg_crate;

/// Line width that cutters take for a path to follow and not for an area, mm.
pub const HAIRLINE: f64 = 0.1;

/// Id of the group that is not to be cut.
pub const NOT_TO_CUT: &str = "do-not-cut";

/// Path of a sheet's file within the kit.
pub fn file_name(plan: &dyn CutPlan, sheet: &SheetLayout) -> String {
    format!("cut/{}.svg", plan.sheet_name(sheet))
}

/// What a sheet is called on the map and in tables: `gold-1`.
pub fn sheet_name(plan: &dyn CutPlan, sheet: &SheetLayout) -> String {
    plan.sheet_name(sheet)
}

/// The ids of a sheet's groups, in cut order: `p12`, and `p12-spare`, `p12-spare-2` for copies that are not
/// on the map; `c7-p12` is that of cup 7 of an order.
pub fn group_ids(sheet: &SheetLayout) -> Vec<String> {
    let mut spares: BTreeMap<(u32, u32), u32> = BTreeMap::new();
    let name = |p: &Placed| {
        let own = match p.cup {
            0 => format!("p{}", p.number),
            cup => format!("c{cup}-p{}", p.number),
        };
        if !p.spare {
            return own;
        }
        let n = spares.entry((p.cup, p.number)).or_insert(0);
        *n += 1;
        if *n == 1 { format!("{own}-spare") } else { format!("{own}-spare-{n}") }
    };
    sheet.placed.iter().map(name).collect()
}

/// The file of a sheet.
pub fn file(plan: &dyn CutPlan, sheet: &SheetLayout) -> Vec<u8> {
    let film = &plan.films()[sheet.film.0];
    let flip = Flip::of(sheet.height.0);
    let title = format!("{}: cut from {}, sheet {}", plan.title(), film.name, sheet.index);
    let message = format!(
        "{}{} pieces{}{}. Cut all groups but \"{NOT_TO_CUT}\"; its bars show whether the size is true. \
            Outlines are as they shall be: the blade is not compensated in this file, the machine does \
            that.{}",
        repeats(sheet).map_or(String::new(), |r| format!("{r}. ")),
        sheet.placed.len(),
        if sheet.mirrored { ", mirrored to be cut from the back" } else { "" },
        match &sheet.stock.source {
            Source::Bought => String::new(),
            Source::InStock => format!(", on a sheet in stock, {} x {}", sheet.width, sheet.height),
            Source::Offcut(file) => format!(", on the leftover {file}"),
        },
        if film.cut.overcut.0 > 0.0 {
            format!(" Each outline runs on past its start by {}.", film.cut.overcut)
        } else {
            String::new()
        },
    );
    let printed = plan.as_printed(sheet);
    let mut root = svg::page(sheet.width.0, sheet.height.0, &title, &message);
    for (placed, id) in sheet.placed.iter().zip(group_ids(sheet)) {
        let piece = plan.piece_at(placed);
        let spare = if placed.spare { ", spare" } else { "" };
        let carrier = sheet
            .aids
            .carriers
            .iter()
            .find(|c| !placed.spare && (c.first, c.cup) == (placed.number, placed.cup));
        let begins = carrier
            .map_or(String::new(), |c| format!("; {} begins, with its marks", plan.panel_name(c.first)));
        let mut g = svg::group(&id, &format!("{} {}{spare}{begins}", shown(placed), piece.name));
        let paths = as_cut(placed.cuts.contours(), film.cut.overcut);
        let paths = own_print::as_printed(&printed, paths);
        g.append(hairline(svg::data(&paths, flip), "#000000"));
        root.append(g);
    }
    for (id, title, paths) in aids(sheet) {
        let mut g = svg::group(id, title);
        g.append(hairline(svg::data(&paths, flip), "#000000"));
        root.append(g);
    }
    let mut aside = check_bars(sheet, film.margin.0);
    for mark in own_print::marks(&printed) {
        aside.append(hairline(svg::data([&mark], flip), "#2060ff"));
    }
    root.append(aside);
    svg::bytes(&root)
}

/// A piece's number as people read it: `12`, or `7/12` for cup 7 of an order.
pub fn shown(placed: &Placed) -> String {
    match placed.cup {
        0 => placed.number.to_string(),
        cup => format!("{cup}/{}", placed.number),
    }
}

/// How often a sheet of an order is cut, and for which cups; none where there is one cup.
pub fn repeats(sheet: &SheetLayout) -> Option<String> {
    let cups = sheet.cups();
    cups.first()?;
    let named = |list: &[u32]| match runs(list).as_str() {
        one if list.len() == 1 => format!("cup {one}"),
        several => format!("cups {several}"),
    };
    if sheet.repeat.times == 1 {
        return Some(format!("For {}", named(&cups)));
    }
    let one: Vec<u32> = sheet.placed.iter().map(|p| p.cup).collect::<BTreeSet<_>>().into_iter().collect();
    let cut = |k: u32| named(&one.iter().map(|c| c + k * sheet.repeat.cups).collect::<Vec<_>>());
    let times = sheet.repeat.times;
    let each = match times {
        2..=6 => (0..times).map(cut).collect::<Vec<_>>().join(", then "),
        _ => format!("{}, then {}, and so on to cup {}", cut(0), cut(1), cups[cups.len() - 1]),
    };
    Some(format!("Cut {times} times: {each}"))
}

/// Rising numbers with runs drawn together: `1 to 4, 7`.
pub fn runs(list: &[u32]) -> String {
    let mut out: Vec<(u32, u32)> = Vec::new();
    for &n in list {
        match out.last_mut() {
            Some(last) if last.1 + 1 == n => last.1 = n,
            _ => out.push((n, n)),
        }
    }
    let one = |&(a, b): &(u32, u32)| if a == b { a.to_string() } else { format!("{a} to {b}") };
    out.iter().map(one).collect::<Vec<_>>().join(", ")
}

/// Contours as they are written: closed, or run on past their start.
pub fn as_cut(contours: &[BezPath], overcut: Mm) -> Vec<BezPath> {
    let one = |c: &BezPath| if overcut.0 > 0.0 { run_on(c, overcut.0) } else { c.clone() };
    contours.iter().map(one).collect()
}

/// Weeding aids as groups, cut after the pieces: lines through the waste, the frame last.
pub fn aids(sheet: &SheetLayout) -> Vec<(&'static str, &'static str, Vec<BezPath>)> {
    let mut out = Vec::new();
    let line = |l: &[[f64; 2]; 2]| {
        let mut p = BezPath::new();
        p.move_to((l[0][0], l[0][1]));
        p.line_to((l[1][0], l[1][1]));
        p
    };
    if !sheet.aids.lines.is_empty() {
        let title = "Lines through the waste, for weeding";
        out.push(("weeding-lines", title, sheet.aids.lines.iter().map(line).collect()));
    }
    let parting: Vec<BezPath> = sheet.aids.parting().map(line).collect();
    if !parting.is_empty() {
        out.push(("parting-lines", "Lines that part the waste of panels where it is narrow", parting));
    }
    if let Some(frame) = sheet.aids.frame {
        let contours = Region::<Sheet>::rectangle(frame).into_contours();
        out.push(("weeding-frame", "Frame round the used area, for weeding", contours));
    }
    out
}

/// A path to follow, in a colour.
pub fn hairline(d: String, colour: &str) -> Element {
    let mut p = Element::new("path");
    p.assign("d", d);
    p.assign("fill", "none");
    p.assign("stroke", colour);
    p.assign("stroke-width", crate::write::ink::decimal::mm(HAIRLINE));
    p
}

/// Lengths of check bars, the longest that has room first.
const BARS: [f64; 5] = [100.0, 50.0, 20.0, 10.0, 5.0];
/// Steps on which a place for them is looked for within a leftover, and from the bars to its edge.
const BAR_STEP: f64 = 2.0;
const BAR_CLEAR: f64 = 0.5;

/// Check bars along x and y from one corner, and their length.
pub struct Bars {
    /// How long both are.
    pub length: f64,
    /// Along x, along y.
    pub paths: [BezPath; 2],
}

impl Bars {
    fn at(corner: (f64, f64), length: f64, tick: f64) -> Bars {
        Bars { length, paths: [false, true].map(|upright| size_bar(corner, length, upright, tick)) }
    }
}

/// The bars of a sheet: 100 mm, or the longest of 50, 20 and 10 mm that the shorter side holds, from the lower left
/// corner, within the margin where there is one. On a leftover of a shape of its own they lie inside of it, clear of
/// pieces if that can be had; none where it holds none.
pub fn bars(sheet: &SheetLayout, margin: f64) -> Option<Bars> {
    let inset = (margin / 2.0).clamp(0.5, 3.0);
    let tick = (inset * 1.2).min(2.0);
    let Some(shape) = &sheet.stock.shape else {
        let side = sheet.width.0.min(sheet.height.0);
        let length = BARS.into_iter().find(|l| l + 2.0 <= side).unwrap_or(BARS[4]);
        return Some(Bars::at((inset, inset), length, tick));
    };
    let edge = Clearance::new(shape.flat(NEST_FLATTEN));
    let pieces: Vec<_> = sheet.placed.iter().map(|p| (p.cuts.bounds(), p.cuts.flat(NEST_FLATTEN))).collect();
    let b = shape.bounds();
    let in_box =
        |b: &Bounds<Sheet>, x: f64, y: f64| b.min.x <= x && x <= b.max.x && b.min.y <= y && y <= b.max.y;
    let free = |x: f64, y: f64, over: bool| {
        let p = Point::mm(x, y);
        edge.contains(p)
            && edge.nearest(p, Mm(BAR_CLEAR + tick)).is_none()
            && (over || !pieces.iter().any(|(b, f)| in_box(b, x, y) && f.contains(x, y)))
    };
    let steps = |from: f64, to: f64| {
        (0..=((to - from) / BAR_STEP).floor().max(0.0) as usize).map(move |i| from + BAR_STEP * i as f64)
    };
    for over in [false, true] {
        for length in BARS {
            let holds = |(x, y): &(f64, f64)| {
                let n = length as usize;
                (0..=n).all(|i| free(x + i as f64, *y, over) && free(*x, y + i as f64, over))
            };
            let mut corners = steps(b.min.y, b.max.y - length)
                .flat_map(|y| steps(b.min.x, b.max.x - length).map(move |x| (x, y)));
            if let Some(corner) = corners.find(holds) {
                return Some(Bars::at(corner, length, tick));
            }
        }
    }
    None
}

/// Says in the upper margin, outside of all that is cut, that the sheet is mirrored; none where the margin is
/// too narrow for letters.
pub fn mirror_words(sheet: &SheetLayout, margin: f64) -> Option<BezPath> {
    const SAYS: &str = "MIRRORED - cut from the back";
    let size = (margin * 0.6).min(3.0);
    let wide = letters::width(Face::Regular, size, SAYS);
    if !sheet.mirrored || size < 1.2 || wide > sheet.width.0 - 2.0 * margin {
        return None;
    }
    let at = (margin, sheet.height.0 - margin / 2.0 - size * letters::CAPITAL / 2.0);
    Some(letters::placed(Face::Regular, size, SAYS, Anchor::Start, at, (1.0, 0.0)))
}

fn check_bars(sheet: &SheetLayout, margin: f64) -> Element {
    let bars = bars(sheet, margin);
    let title = match &bars {
        Some(b) => {
            format!("Do not cut: check bars, {0} mm to the right and {0} mm up from the corner", b.length)
        }
        None => "Do not cut".to_owned(),
    };
    let mut g = svg::group(NOT_TO_CUT, &title);
    for bar in bars.iter().flat_map(|b| &b.paths) {
        g.append(hairline(svg::data([bar], Flip::of(sheet.height.0)), "#2060ff"));
    }
    if let Some(words) = mirror_words(sheet, margin) {
        g.append(hairline(svg::data([&words], Flip::of(sheet.height.0)), "#2060ff"));
    }
    if let Some(shape) = &sheet.stock.shape {
        g.append(hairline(svg::data(shape.contours(), Flip::of(sheet.height.0)), "#2060ff"));
    }
    g
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::make::film::Taken;
    use crate::make::film::sheet::{Aids, Repeat};
    use crate::outline::Op;
    use crate::read::job::FilmId;

    fn leftover(shape: Option<Region<Sheet>>) -> SheetLayout {
        SheetLayout {
            film: FilmId(0),
            index: 1,
            width: Mm(200.0),
            height: Mm(120.0),
            mirrored: false,
            placed: Vec::new(),
            repeat: Repeat::default(),
            stock: Taken { source: Source::Offcut("a.svg".into()), shape },
            aids: Aids::default(),
        }
    }

    fn box_of(x0: f64, y0: f64, x1: f64, y1: f64) -> Region<Sheet> {
        Region::rectangle(Bounds { min: Point::mm(x0, y0), max: Point::mm(x1, y1) })
    }

    /// By hand: an L of 30 mm arms lacks its lower left corner: bars of 20 mm fit in an arm, within the outline; a
    /// strip of 4 mm holds none; a whole sheet has them in its corner.
    #[test]
    fn bars_of_a_leftover_lie_within_it() {
        let l = box_of(0.0, 0.0, 200.0, 120.0).op(&box_of(-1.0, -1.0, 170.0, 90.0), Op::Difference);
        let b = bars(&leftover(Some(l.clone())), 5.0).expect("there is room");
        assert_eq!(b.length, 20.0);
        let flat = l.flat(NEST_FLATTEN);
        for path in &b.paths {
            for e in path.elements() {
                let p = e.end_point().expect("a point");
                assert!(flat.contains(p.x, p.y), "{p:?}");
            }
        }
        assert!(bars(&leftover(Some(box_of(0.0, 0.0, 200.0, 4.0))), 5.0).is_none());
        assert_eq!(bars(&leftover(None), 5.0).expect("bars").length, 100.0);
    }
}
