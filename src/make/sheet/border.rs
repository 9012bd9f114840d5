//! [`cuts`]: where a motif is cut out: its print with a border of clear film, or a little inside it; where two
//! motifs are too near each other for their borders, each takes half of the gap.
//!
//! Imports: base, outline, read::job, make::sheet, make::sheet::{grid, squares, codes}.

use super::PrintedSheet;
use super::codes;
use super::grid::Grid;
use super::squares;
use crate::base::diag::{Diagnostic, Diagnostics, KeyPath};
use crate::base::frame::{Point, Sheet};
use crate::base::tolerance::FLATTEN;
use crate::base::units::{Angle, Mm};
use crate::outline::{Bounds, Clearance, Flat, Join, Op, PeriodicIndex, Region, Ring, Through};
use crate::read::job::{BETWEEN, SheetSpec};
use rayon::prelude::*;

/// Cut inside the print only where it is at least twice as wide as this; elsewhere a border stays.
const WIDE: Mm = Mm(0.6);
/// How far the inner and the outer cut lap where they meet.
const LAP: Mm = Mm(0.05);
/// Steps at which a gap is shared, mm.
const STEP: f64 = 0.2;
/// What each keeps off the middle of a gap beside half of [`BETWEEN`]: steps and curves stray by less.
const GUARD: f64 = 0.05;
/// How the middle of a gap is followed.
const MIDDLE: Through =
    Through { within: Mm(0.02), corner: Angle::degrees(60.0), reach: Mm(0.8), smooth: Mm(0.4) };
/// Slivers smaller than this, mm2, are no part of a cut.
const SLIVER: f64 = 0.3;

/// Two motifs, by number, whose borders share a gap, and how wide it is.
pub type Shared = (u32, u32, Mm);

/// The cut outlines of all motifs of a sheet, by number, and which pairs share their gap.
pub fn cuts(sheet: &PrintedSheet, spec: &SheetSpec) -> (Vec<Region<Sheet>>, Vec<Shared>) {
    let grown: Vec<Region<Sheet>> = sheet.motifs.par_iter().map(|m| bordered(&m.print, spec)).collect();
    let flats: Vec<Flat<Sheet>> = grown.iter().map(|g| g.flat(FLATTEN)).collect();
    let reach = BETWEEN + Mm(2.0 * GUARD);
    let pairs: Vec<(usize, usize)> = PeriodicIndex::new(&flats, &[], reach)
        .pairs(reach)
        .into_iter()
        .map(|(a, n)| (a.min(n.region), a.max(n.region)))
        .collect();
    let prints: Vec<Clearance<Sheet>> =
        sheet.motifs.par_iter().map(|m| Clearance::new(m.print.flat(FLATTEN))).collect();
    let whole =
        Region::rectangle(Bounds { min: Point::ORIGIN, max: Point::mm(sheet.width.0, sheet.height.0) });
    let outlines = grown
        .into_par_iter()
        .enumerate()
        .map(|(i, outline)| {
            let others: Vec<&Clearance<Sheet>> = pairs
                .iter()
                .filter_map(|&(a, b)| if a == i { Some(b) } else { (b == i).then_some(a) })
                .map(|j| &prints[j])
                .collect();
            let shared = if others.is_empty() { outline } else { halved(&outline, &prints[i], &others) };
            let b = shared.bounds();
            let inside =
                b.min.x >= 0.0 && b.min.y >= 0.0 && b.max.x <= sheet.width.0 && b.max.y <= sheet.height.0;
            let kept = if inside { shared } else { shared.op(&whole, Op::Intersection) };
            outer(&kept).resolve_crossings().without_short_segments()
        })
        .collect();
    let told = |&(a, b): &(usize, usize)| {
        let gap = prints[a].distance(&prints[b], Mm(1000.0)).unwrap_or(Mm::ZERO);
        (a as u32 + 1, b as u32 + 1, gap)
    };
    (outlines, pairs.iter().map(told).collect())
}

/// Tells which pairs of motifs that are used share a gap.
pub fn tell(spec: &SheetSpec, shared: &[Shared], used: &[u32], at: &KeyPath, diagnostics: &mut Diagnostics) {
    let near: Vec<String> = shared
        .iter()
        .filter(|(a, b, _)| used.contains(a) || used.contains(b))
        .map(|(a, b, gap)| format!("{a} and {b} ({gap:.1} apart)"))
        .collect();
    if near.is_empty() {
        return;
    }
    let message =
        format!("on \"{}\" the gap is too narrow for two borders between {}", spec.name, near.join(", "));
    let d = Diagnostic::note(&codes::SHARED, at.key("border"), message);
    let d = d.measured(format!("a border of {} each and {BETWEEN} between", spec.border));
    diagnostics.push(d.help("each is cut back to half of the gap; cut these with care"));
}

/// The print with its border, holes filled.
fn bordered(print: &Region<Sheet>, spec: &SheetSpec) -> Region<Sheet> {
    if spec.border >= Mm::ZERO {
        // Out and back again: no notch is left that is narrower, so that scissors and blade run round it.
        return outer(&print.there_and_back(spec.border, Join::Round, spec.bridge * 0.5));
    }
    let wide = print.there_and_back(Mm::ZERO, Join::Round, -WIDE);
    let thin = print.op(&wide.offset(LAP, Join::Round), Op::Difference);
    let inner = wide.offset(spec.border, Join::Round);
    let kept = thin.offset(LAP - spec.border, Join::Round);
    outer(&Region::union_of([&inner, &kept]))
}

/// The outer contours: holes of a print are cut out with it.
fn outer(region: &Region<Sheet>) -> Region<Sheet> {
    let parts: Vec<Region<Sheet>> = region
        .contours()
        .iter()
        .map(|c| Region::trusted([c.clone()]))
        .filter(|r| r.area().0 > SLIVER)
        .collect();
    match parts.len() {
        1 => parts.into_iter().next().unwrap_or_default(),
        _ => Region::union_of(&parts),
    }
}

/// What of an outline lies nearer to its own print than to others, by a little.
fn halved(outline: &Region<Sheet>, own: &Clearance<Sheet>, others: &[&Clearance<Sheet>]) -> Region<Sheet> {
    let b = outline.bounds().grown(Mm(2.0 * STEP));
    let count = |from: f64, to: f64| ((to - from) / STEP).ceil().max(2.0) as usize;
    let (w, h) = (count(b.min.x, b.max.x), count(b.min.y, b.max.y));
    let off = |c: &Clearance<Sheet>, p: Point<Sheet>| {
        if c.contains(p) { 0.0 } else { c.nearest(p, Mm(1000.0)).map_or(1000.0, |n| n.distance.0) }
    };
    let room = Grid::from_fn(w, h, |x, y| {
        let p = Point::mm(b.min.x + (x as f64 + 0.5) * STEP, b.min.y + (y as f64 + 0.5) * STEP);
        let other = others.iter().map(|c| off(c, p)).fold(f64::INFINITY, f64::min);
        let spare = (other - off(own, p)) / 2.0 - BETWEEN.0 / 2.0 - GUARD;
        // The line is drawn at one half.
        (spare + 0.5) as f32
    });
    let up = |ring: Ring| -> Ring {
        ring.iter().map(|p| [b.min.x + p[0] * STEP, b.min.y + p[1] * STEP]).collect()
    };
    let rings: Vec<Ring> = squares::rings(&room).into_iter().map(up).collect();
    outline.op(&Region::through(&rings, &MIDDLE), Op::Intersection)
}
