//! Promises of decals: every layer reaches out beyond the one above it, and the keys coincide.
//!
//! The maker offsets curves and never asks for a distance; here the finished outlines are flattened finely
//! and the distance of each corner to the other layer is asked.
//!
//! Imports: base, outline, read::job, make::{piece, film, plan, verify}, make::verify::measure.

use super::Report;
use super::measure::{FINE, breach, inside_by_geo, rings, to_ring};
use crate::base::diag::Diagnostic;
use crate::base::frame::{Art, Frame, Point};
use crate::base::tolerance::{KEYS, MEASURE};
use crate::base::units::Mm;
use crate::make::film::{Placed, SheetLayout};
use crate::make::piece::{Kind, Piece};
use crate::make::plan::Plan;
use crate::outline::{Clearance, Flat, Region, Ring};
use crate::read::job::Job;
use rayon::prelude::*;

pub(super) fn check(plan: &Plan, report: &mut Report, broken: &mut Vec<Diagnostic>) {
    // Cups of a list have names of their own: here those of the first row, the others by `names`.
    let row = |cup: u32| plan.named.as_ref().zip(cup.checked_sub(1)).map_or(0, |(n, i)| n.cups[i as usize]);
    let of = |cup: u32| row(cup) == 0;
    let all = Stacks { job: &plan.job, pieces: &plan.pieces, sheets: &plan.sheets, of: &of };
    for decal in 0..plan.job.decals.len() {
        one(&all, decal, report, broken);
    }
}

/// What is measured: the pieces, and the sheets on which their keys are looked for.
pub(super) struct Stacks<'a> {
    pub(super) job: &'a Job,
    pub(super) pieces: &'a [Piece],
    pub(super) sheets: &'a [SheetLayout],
    /// Are these the pieces of a cup?
    pub(super) of: &'a dyn Fn(u32) -> bool,
}

pub(super) fn one(plan: &Stacks<'_>, decal: usize, report: &mut Report, broken: &mut Vec<Diagnostic>) {
    let layer = |n: usize| -> Vec<&Piece> {
        plan.pieces.iter().filter(|p| p.kind == Kind::Layer { decal, layer: n }).collect()
    };
    let count = plan.job.decals[decal].under.len() + 1;
    let layers: Vec<Vec<&Piece>> = (0..count).map(layer).collect();
    if let Some(n) = layers.iter().position(Vec::is_empty) {
        broken.push(breach(format!("decal {} lacks its layer {}", decal + 1, n + 1), "nothing", "a piece"));
        return;
    }
    report.decal_layers += count as u64;
    nested(plan, decal, &layers, report, broken);
    keys(plan, decal, &layers.concat(), broken);
}

/// From the top down: what a layer covers if it were not hollow, and how far the one below reaches out beyond
/// it.
fn nested(
    plan: &Stacks<'_>,
    decal: usize,
    layers: &[Vec<&Piece>],
    report: &mut Report,
    broken: &mut Vec<Diagnostic>,
) {
    let all =
        |pieces: &[&Piece]| -> Vec<Ring> { pieces.iter().flat_map(|p| rings(&p.outline).rings).collect() };
    let index = |rings: Vec<Ring>| -> Clearance<Art> { Clearance::new(Flat::new(rings, FINE)) };
    let flats: Vec<Vec<Ring>> = layers.par_iter().map(|l| all(l)).collect();
    let mut flats = flats.into_iter().rev();
    let mut above = index(flats.next().unwrap_or_default());
    let under = plan.job.decals[decal].under.iter().enumerate().rev();
    for ((n, under), own) in under.zip(flats) {
        // A layer that reaches out by nothing may lie edge on edge with the one above it.
        let edge_on_edge = under.offset == Mm::ZERO;
        let touches = |p: [f64; 2], other: &Clearance<Art>| {
            edge_on_edge && other.nearest(Point::mm(p[0], p[1]), FINE * 2.0).is_some()
        };
        // An edge that lies under the layer above is one of a hollow.
        let (hollow, outer): (Vec<Ring>, Vec<Ring>) =
            own.into_iter().partition(|r| inside_by_geo(above.flat(), r[0]) && !touches(r[0], &above));
        let who = |what: &str| format!("layer {} of decal {} {what}", n + 1, decal + 1);
        if under.overlap.is_none() && !hollow.is_empty() {
            broken.push(breach(who("has an opening under the layer above"), hollow.len(), 0));
        }
        let (body, hollow) = (index(outer), index(hollow));
        let held = |r: &Ring| inside_by_geo(body.flat(), r[0]) || touches(r[0], &body);
        if !above.flat().rings.iter().all(held) {
            broken.push(breach(who("does not hold the layer above it"), "outside", "inside"));
        }
        let overlap = under.overlap.unwrap_or(Mm::ZERO);
        for (edges, asked, what) in [
            (&body, under.offset, "reaches out too little"),
            (&hollow, overlap, "is hollowed too near to the edge of the layer above"),
        ] {
            let Some(distance) = least(edges, &above, asked + Mm(0.5)) else { continue };
            let spare = distance.0 - 2.0 * FINE.0 - asked.0;
            if asked > Mm::ZERO && spare < -MEASURE.0 {
                broken.push(breach(who(what), distance, format!("at least {asked:.3}")));
            }
            let so_far = report.least_spare_between_layers;
            report.least_spare_between_layers = Some(so_far.map_or(Mm(spare), |s| s.min(Mm(spare))));
        }
        above = body;
    }
}

/// Least distance between the edges of a layer and those of the one above it, if below `within`. Of two
/// polylines that do not cross, one has a corner there: corners of either are asked, each only for what is
/// nearer than the best so far.
fn least(one: &Clearance<Art>, other: &Clearance<Art>, within: Mm) -> Option<Mm> {
    let mut best = within;
    for (corners, index) in [(one, other), (other, one)] {
        for p in corners.flat().rings.iter().flatten() {
            if let Some(near) = index.nearest(Point::mm(p[0], p[1]), best) {
                best = near.distance;
            }
        }
    }
    (best < within).then_some(best)
}

/// The same marks on every piece of a decal, on the wall and, carried back from each sheet, in the decal's
/// own frame.
fn keys(plan: &Stacks<'_>, decal: usize, pieces: &[&Piece], broken: &mut Vec<Diagnostic>) {
    let want = corners(&pieces[0].keys);
    if plan.job.decals[decal].keys.is_some() && want.len() != 2 {
        broken.push(breach(format!("decal {} has not two keys", decal + 1), want.len(), 2));
    }
    for piece in pieces {
        let on_wall = |p: &Piece| corners(&p.keys.moved(&p.pose));
        let off = farthest(&on_wall(piece), &on_wall(pieces[0]));
        if off > KEYS {
            let what = format!(
                "the keys of piece {} do not lie on those of piece {}",
                piece.number, pieces[0].number
            );
            broken.push(breach(what, off, KEYS));
        }
        for sheet in plan.sheets {
            for placed in sheet.placed.iter().filter(|p| p.number == piece.number && (plan.of)(p.cup)) {
                let off = off_on_sheet(sheet, placed, &want);
                if off > KEYS {
                    let what = format!("the keys of piece {} are cut elsewhere", piece.number);
                    broken.push(breach(what, off, KEYS));
                }
            }
        }
    }
}

/// How far the keys on a sheet, carried back by its pose, are from where they should be: the best contour for
/// each.
fn off_on_sheet(sheet: &SheetLayout, placed: &Placed, want: &[Vec<Point<Art>>]) -> Mm {
    let cuts = placed.cuts.moved(&placed.pose.inverse());
    let cuts = if sheet.mirrored { cuts.mirrored() } else { cuts };
    let have = corners(&cuts);
    // A contour whose box is elsewhere is no key: passed over, unless all are, so that the fault can say how
    // far.
    let best = |key: &Vec<Point<Art>>| {
        let of = |near: bool| {
            let same = |c: &&Vec<Point<Art>>| !near || boxes_apart(c, key) <= KEYS;
            have.iter().filter(same).map(|c| farthest_of(c, key)).fold(Mm(f64::INFINITY), Mm::min)
        };
        let near = of(true);
        if near.is_finite() { near } else { of(false) }
    };
    want.iter().map(best).fold(Mm::ZERO, Mm::max)
}

fn corners<F: Frame>(region: &Region<F>) -> Vec<Vec<Point<F>>> {
    rings(region).rings.iter().map(|r| r.iter().map(|p| Point::mm(p[0], p[1])).collect()).collect()
}

fn farthest<F: Frame>(a: &[Vec<Point<F>>], b: &[Vec<Point<F>>]) -> Mm {
    if a.len() != b.len() {
        return Mm(f64::INFINITY);
    }
    a.iter().zip(b).map(|(a, b)| farthest_of(a, b)).fold(Mm::ZERO, Mm::max)
}

/// How far the boxes of two contours differ: no more than the contours themselves do.
fn boxes_apart<F: Frame>(a: &[Point<F>], b: &[Point<F>]) -> Mm {
    let of = |c: &[Point<F>]| {
        let start = [f64::INFINITY, f64::INFINITY, f64::NEG_INFINITY, f64::NEG_INFINITY];
        c.iter().fold(start, |k, p| [k[0].min(p.x), k[1].min(p.y), k[2].max(p.x), k[3].max(p.y)])
    };
    let (a, b) = (of(a), of(b));
    Mm((0..4).map(|i| (a[i] - b[i]).abs()).fold(0.0, f64::max))
}

/// How far two contours are from each other, corner to outline both ways: one of them may start, and have one
/// more corner, anywhere on its outline.
fn farthest_of<F: Frame>(a: &[Point<F>], b: &[Point<F>]) -> Mm {
    let plain = |c: &[Point<F>]| -> Ring { c.iter().map(|p| [p.x, p.y]).collect() };
    let (a, b) = (plain(a), plain(b));
    let off = |from: &Ring, to: &Ring| from.iter().map(|p| to_ring(*p, to)).fold(0.0, f64::max);
    Mm(off(&a, &b).max(off(&b, &a)))
}
