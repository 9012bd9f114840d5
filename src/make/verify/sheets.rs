//! Promises on the sheets: every piece once, on its film, whole, inside the margin, and clear of its
//! neighbours.
//!
//! Imports: base, outline, read::job, make::{piece, panel, film, plan, verify}, make::verify::{measure, grid}.

use super::Report;
use super::grid::{Entry, measure};
use super::measure::{FINE, area_by_geo, breach, inside_by_geo, rings, to_ring};
use crate::base::diag::Diagnostic;
use crate::base::frame::Sheet;
use crate::base::tolerance::MEASURE;
use crate::base::units::Mm;
use crate::make::film::again::Recut;
use crate::make::film::{Placed, SheetLayout};
use crate::make::panel::web::CLEAR;
use crate::make::piece::Piece;
use crate::make::plan::Plan;
use crate::outline::Flat;
use crate::read::job::FilmSpec;
use rayon::prelude::*;
use std::collections::BTreeMap;

/// Least film between two cuts of one panel: the narrowest gap that a fill may ask for is wider.
const WITHIN_PANEL: Mm = Mm(0.2);
/// The cup and the first piece of the panel that a cut lies in.
type InPanel = Option<(u32, u32)>;
/// Largest difference of area between a piece and its cut, as a part: both flattened within FINE.
const AREA_PART: f64 = 1e-3;

pub(super) fn check(plan: &Plan, report: &mut Report, broken: &mut Vec<Diagnostic>) {
    let mut seen: BTreeMap<(u32, u32), u32> = BTreeMap::new();
    for sheet in &plan.sheets {
        for placed in sheet.placed.iter().filter(|p| !p.spare) {
            for cup in sheet.cups_of(placed) {
                *seen.entry((cup, placed.number)).or_default() += 1;
            }
        }
    }
    let measured: Vec<(Report, Vec<Diagnostic>)> = plan
        .sheets
        .par_iter()
        .map(|sheet| {
            let (mut report, mut broken) = (Report::default(), Vec::new());
            let of = |p: &Placed| plan.piece_at(p);
            let panel = |p: &Placed| {
                let panel = plan.panels.of(p.number).filter(|_| !p.spare);
                panel.map(|l| (p.cup, l.members[0].number))
            };
            one_sheet(&plan.job.films, &of, &panel, sheet, &mut report, &mut broken);
            (report, broken)
        })
        .collect();
    for (part, faults) in measured {
        *report = report.and(&part);
        broken.extend(faults);
    }
    // Cups of an order are numbered from 1; a single one has no number.
    let cups = if plan.cups() > 1 { 1..=plan.cups() } else { 0..=0 };
    for (cup, piece) in cups.flat_map(|c| plan.pieces.iter().map(move |p| (c, p))) {
        let times = seen.remove(&(cup, piece.number)).unwrap_or(0);
        if times != 1 {
            let of = if cup > 0 { format!(" of cup {cup}") } else { String::new() };
            broken.push(breach(format!("piece {}{of} is cut {times} times", piece.number), times, 1));
        }
    }
    // What is not wanted any more stays on the sheet that it was laid out on.
    let gone = |number: u32| plan.kept.gone.iter().any(|p| p.number == number);
    for (cup, number) in seen.into_keys().filter(|k| !gone(k.1)) {
        broken.push(breach(format!("piece {number} is cut for cup {cup}"), "one more", "none"));
    }
}

/// The same of pieces cut anew.
pub(super) fn recut(recut: &Recut, broken: &mut Vec<Diagnostic>) {
    let placed = || recut.sheets.iter().flat_map(|s| &s.placed);
    for piece in &recut.records {
        let times = placed().filter(|p| (p.number, p.cup) == (piece.number, piece.cup)).count();
        if times != 1 {
            broken.push(breach(format!("piece {} is cut {times} times", piece.number), times, 1));
        }
    }
    let known = |p: &Placed| recut.piece_at(p);
    if placed().any(|p| known(p).is_none()) {
        broken.push(breach("a sheet holds a piece that nobody asked for", "one more", "none"));
        return;
    }
    let of = |p: &Placed| known(p).unwrap_or(&recut.pieces[0]);
    for sheet in &recut.sheets {
        one_sheet(&recut.films, &of, &|_| None, sheet, &mut Report::default(), broken);
    }
}

fn one_sheet<'a>(
    films: &[FilmSpec],
    of: &dyn Fn(&Placed) -> &'a Piece,
    panel: &dyn Fn(&Placed) -> InPanel,
    sheet: &SheetLayout,
    report: &mut Report,
    broken: &mut Vec<Diagnostic>,
) {
    let film = &films[sheet.film.0];
    let name = format!("{}-{}", film.name, sheet.index);
    let flats: Vec<Flat<Sheet>> = sheet.placed.iter().map(|p| rings(&p.cuts)).collect();
    report.pieces_on_sheets += flats.len() as u64;
    for (placed, flat) in sheet.placed.iter().zip(&flats) {
        let piece = of(placed);
        if piece.film != sheet.film {
            broken.push(breach(
                format!("piece {} lies on sheet {name} of another film", piece.number),
                sheet.film.0,
                piece.film.0,
            ));
        }
        congruent(sheet, placed, piece, flat, broken);
        let (b, m) = (flat.bounds(), film.margin.0 - MEASURE.0);
        let inside =
            b.min.x >= m && b.min.y >= m && b.max.x <= sheet.width.0 - m && b.max.y <= sheet.height.0 - m;
        if !inside {
            broken.push(breach(
                format!("piece {} reaches beyond the margin of sheet {name}", piece.number),
                format!("{:.3}..{:.3} by {:.3}..{:.3} mm", b.min.x, b.max.x, b.min.y, b.max.y),
                format!("inside {} by {} with {} all round", sheet.width, sheet.height, film.margin),
            ));
        }
    }
    let panels: Vec<InPanel> = sheet.placed.iter().map(panel).collect();
    spacing(&name, film.spacing, (&flats, &panels), report, broken);
    if let Some(shape) = &sheet.stock.shape {
        on_the_leftover(&name, &rings(shape), film.margin, &flats, broken);
    }
    aids(&name, (&sheet.aids.lines, film.cut.weeding.clear), &flats, broken);
    let parting: Vec<_> = sheet.aids.parting().copied().collect();
    aids(&name, (&parting, Mm(CLEAR)), &flats, broken);
}

/// Pieces cut from a leftover lie on it, and off its edges and holes by the margin.
fn on_the_leftover(
    name: &str,
    shape: &Flat<Sheet>,
    margin: Mm,
    flats: &[Flat<Sheet>],
    broken: &mut Vec<Diagnostic>,
) {
    let one = |owner: usize, f: &Flat<Sheet>| Entry {
        winding: 0.0,
        owner: owner as u32,
        rings: f.rings.clone(),
        copy: false,
    };
    let entries: Vec<Entry> =
        std::iter::once(shape).chain(flats).enumerate().map(|(i, f)| one(i, f)).collect();
    for near in measure(&entries, margin.0 + 0.5).near {
        let spare = near.distance - 2.0 * FINE.0 - margin.0;
        if (near.a == 0 || near.b == 0) && spare < -MEASURE.0 {
            let message =
                format!("cut {} of sheet {name} is too near the edge of the leftover", near.a.max(near.b));
            broken.push(breach(message, Mm(near.distance), format!("at least {margin:.3}")));
        }
    }
    for (i, f) in flats.iter().enumerate() {
        if f.rings.iter().any(|r| !inside_by_geo(shape, r[0])) {
            broken.push(breach(
                format!("cut {} of sheet {name} is off the leftover", i + 1),
                "off it",
                "on it",
            ));
        }
    }
}

/// Weeding lines keep off all pieces: points along them, every half millimetre, against every edge near.
fn aids(
    name: &str,
    (lines, clear): (&[[[f64; 2]; 2]], Mm),
    flats: &[Flat<Sheet>],
    broken: &mut Vec<Diagnostic>,
) {
    for (k, [a, b]) in lines.iter().enumerate() {
        let n = (libm::hypot(b[0] - a[0], b[1] - a[1]) / 0.5).ceil().max(1.0);
        let points = (0..=n as usize).map(|i| {
            let t = i as f64 / n;
            [a[0] + (b[0] - a[0]) * t, a[1] + (b[1] - a[1]) * t]
        });
        for p in points {
            let reach = clear.0 + 1.0;
            let near = flats.iter().filter(|f| {
                let q = f.bounds();
                let (x, y) = (q.min.x - reach..q.max.x + reach, q.min.y - reach..q.max.y + reach);
                x.contains(&p[0]) && y.contains(&p[1])
            });
            let least = near.flat_map(|f| &f.rings).map(|r| to_ring(p, r)).fold(f64::INFINITY, f64::min);
            if least < clear.0 - MEASURE.0 {
                let message = format!("weeding line {} of sheet {name} is too near a piece", k + 1);
                broken.push(breach(message, Mm(least), format!("at least {clear:.3}")));
                break;
            }
        }
    }
}

/// The cut is the piece itself, moved: same area by another formula, same box.
fn congruent(
    sheet: &SheetLayout,
    placed: &Placed,
    piece: &Piece,
    flat: &Flat<Sheet>,
    broken: &mut Vec<Diagnostic>,
) {
    let cut = piece.cut();
    let want = cut.area().0;
    let got = area_by_geo(flat);
    // A chord lies off its curve by at most FINE along the whole outline.
    let slack = FINE.0 * cut.perimeter().0 + AREA_PART * want;
    if (got - want).abs() > slack {
        broken.push(breach(
            format!("piece {} changes its area on the sheet", piece.number),
            format!("{got:.3} mm2"),
            format!("{want:.3} mm2"),
        ));
    }
    let (a, b) = (sheet.outline(piece, &placed.pose).bounds(), flat.bounds());
    let off = [a.min.x - b.min.x, a.min.y - b.min.y, a.max.x - b.max.x, a.max.y - b.max.y];
    if off.iter().any(|o| o.abs() > 2.0 * FINE.0) {
        broken.push(breach(
            format!("the cut of piece {} is not where its pose says", piece.number),
            format!("{off:.4?}"),
            "0",
        ));
    }
}

/// Cuts keep the film's spacing; those of one panel lie as on the wall, where their distances are measured, and only
/// may not meet.
fn spacing(
    name: &str,
    film: Mm,
    (flats, panels): (&[Flat<Sheet>], &[InPanel]),
    report: &mut Report,
    broken: &mut Vec<Diagnostic>,
) {
    // Owners are places in the list: a spare has the number of its original.
    let entries: Vec<Entry> = flats
        .iter()
        .enumerate()
        .map(|(i, f)| Entry { winding: 0.0, owner: i as u32, rings: f.rings.clone(), copy: false })
        .collect();
    let found = measure(&entries, film.0 + 0.5);
    report.edge_pairs_on_sheets += found.measured;
    for place in found.crossing {
        broken.push(breach(
            format!("cut {} of sheet {name} crosses itself", place + 1),
            "a crossing",
            "none",
        ));
    }
    for near in found.near {
        let (a, b) = (panels[near.a as usize], panels[near.b as usize]);
        let asked = if a.is_some() && a == b { WITHIN_PANEL } else { film };
        let spare = near.distance - 2.0 * FINE.0 - asked.0;
        if spare < -MEASURE.0 {
            let what =
                format!("cuts {} and {} of sheet {name} are too near each other", near.a + 1, near.b + 1);
            broken.push(breach(what, Mm(near.distance), format!("at least {asked:.3}")));
        }
        report.least_spare_on_sheets =
            Some(report.least_spare_on_sheets.map_or(Mm(spare), |s| s.min(Mm(spare))));
    }
    let boxes: Vec<_> = flats.iter().map(Flat::bounds).collect();
    for (i, a) in flats.iter().enumerate() {
        for (j, b) in flats.iter().enumerate() {
            let (p, box_b) = (a.rings[0][0], &boxes[j]);
            let outside =
                p[0] < box_b.min.x || p[0] > box_b.max.x || p[1] < box_b.min.y || p[1] > box_b.max.y;
            if i != j && !outside && inside_by_geo(b, p) {
                broken.push(breach(
                    format!("cut {} of sheet {name} lies on cut {}", i + 1, j + 1),
                    "inside",
                    "clear of it",
                ));
            }
        }
    }
}
