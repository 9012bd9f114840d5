//! The highest step of film: how many thicknesses lie on each other, from the outlines themselves.
//!
//! Imports: base, outline, read::job, make::{cup, piece}.

use crate::base::frame::Plane;
use crate::base::tolerance::{FIT, FLATTEN, GRID};
use crate::base::units::Mm;
use crate::make::cup::Development;
use crate::make::piece::{Kind, Piece};
use crate::outline::{Bounds, Flat, Op, Region};
use crate::read::job::FilmId;
use serde::Serialize;

/// The highest step of film on the wall.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct FilmStack {
    /// Its height over the surface that the film goes on.
    #[serde(rename = "height_mm")]
    pub height: Mm,
    /// The pieces that lie on each other there, in order of their numbers.
    pub pieces: Vec<u32>,
}

/// A part of a piece and what lies there.
struct Cell {
    flat: Flat<Plane>,
    height: Mm,
    pieces: Vec<u32>,
}

/// An overlap no wider than the fit error of cut curves is a butt joint, not a step: 2 area / perimeter is
/// its width.
fn real(flat: &Flat<Plane>) -> bool {
    let region: Region<Plane> = flat.to_region();
    2.0 * flat.area().abs() > FIT.0 * region.perimeter().0
}

/// A layer, or its copy one turn to either side, that may lie over a cell.
struct Over {
    layer: usize,
    /// Turns of the cup.
    n: i32,
    number: u32,
    height: Mm,
    bounds: Bounds<Plane>,
    flat: Flat<Plane>,
}

/// Goes through the ways in which layers lie over a cell, the highest way first; a way that cannot come
/// higher than the best so far, by more than the grid, is left.
fn climb(cell: Cell, over: &[&Over], best: &mut FilmStack) {
    let most = |over: &[&Over]| cell.height + over.iter().map(|o| o.height).sum::<Mm>();
    if most(over) <= best.height + Mm(GRID.0) {
        return;
    }
    let Some((first, rest)) = over.split_first() else {
        let mut pieces = cell.pieces;
        pieces.sort_unstable();
        *best = FilmStack { height: cell.height, pieces };
        return;
    };
    if cell.flat.bounds().distance(&first.bounds) > Mm::ZERO {
        return climb(cell, rest, best);
    }
    let both = cell.flat.op(&first.flat, Op::Intersection);
    if both.rings.is_empty() || !real(&both) {
        return climb(cell, rest, best);
    }
    let pieces = cell.pieces.iter().copied().chain([first.number]).collect();
    climb(Cell { flat: both, height: cell.height + first.height, pieces }, rest, best);
    if most(rest) > best.height + Mm(GRID.0) {
        let beside = cell.flat.op(&first.flat, Op::Difference);
        if !beside.rings.is_empty() {
            climb(Cell { flat: beside, ..cell }, rest, best);
        }
    }
}

/// The highest stack. Layers of decals are overlaid piece by piece, also across the seam; motifs and spots
/// keep their distance from everything, so each counts alone; pieces of the base are not on the wall.
/// No decal lies over an edge, so that zones have stacks of their own.
pub fn highest(
    pieces: &[Piece],
    thickness: impl Fn(FilmId) -> Mm,
    developments: &[&Development],
) -> FilmStack {
    let mut best = FilmStack::default();
    let mut consider = |height: Mm, numbers: &[u32]| {
        if height > best.height {
            let mut pieces = numbers.to_vec();
            pieces.sort_unstable();
            best = FilmStack { height, pieces };
        }
    };
    for p in
        pieces.iter().filter(|p| matches!(p.kind, Kind::Motif { .. } | Kind::Spot { .. } | Kind::Tint { .. }))
    {
        consider(thickness(p.film), &[p.number]);
    }
    let layers: Vec<&Piece> = pieces.iter().filter(|p| matches!(p.kind, Kind::Layer { .. })).collect();
    overlaid(&layers, &thickness, developments, best)
}

/// The highest stack of pieces that may all lie on each other, also across the seam; or the best so far, if it is
/// as high.
pub fn overlaid(
    pieces: &[&Piece],
    thickness: &dyn Fn(FilmId) -> Mm,
    developments: &[&Development],
    mut best: FilmStack,
) -> FilmStack {
    let layers: Vec<(&Piece, Region<Plane>)> = pieces.iter().map(|p| (*p, p.on_plane())).collect();
    // Each layer with its copies one turn to either side: what lies over it is then in one plane.
    let copies: Vec<Over> = layers
        .iter()
        .enumerate()
        .flat_map(|(layer, (piece, region))| {
            [-1, 0, 1].map(|n| {
                let flat = region.moved(&developments[piece.zone].turned(n)).flat(FLATTEN);
                let (number, height) = (piece.number, thickness(piece.film));
                Over { layer, n, number, height, bounds: flat.bounds(), flat }
            })
        })
        .collect();
    for (i, (piece, region)) in layers.iter().enumerate() {
        let flat = region.flat(FLATTEN);
        let bounds = flat.bounds();
        let over: Vec<&Over> = copies
            .iter()
            .filter(|o| layers[o.layer].0.zone == piece.zone)
            .filter(|o| o.layer != i && bounds.distance(&o.bounds) == Mm::ZERO)
            .filter(|o| {
                developments[piece.zone].can_meet(piece.wall.azimuth, layers[o.layer].0.wall.azimuth, o.n)
            })
            .collect();
        climb(Cell { flat, height: thickness(piece.film), pieces: vec![piece.number] }, &over, &mut best);
    }
    best
}

/// The highest step, from the highest stack of each pass alone, the coats between them, and a way to find the highest
/// stack of all film from a pass on, if it is higher than one that is given.
pub fn standing(
    of_pass: &[FilmStack],
    coats: &[Mm],
    of: &dyn Fn(usize, FilmStack) -> FilmStack,
) -> FilmStack {
    let mut best = of_pass.last().cloned().unwrap_or_default();
    let (mut buried, mut most) = (Mm::ZERO, best.height);
    for from in (0..of_pass.len().saturating_sub(1)).rev() {
        buried += coats[from];
        most += of_pass[from].height;
        // No stack is higher than the highest of every pass on each other.
        if most - buried <= best.height + Mm(GRID.0) {
            continue;
        }
        let floor = FilmStack { height: best.height + buried, pieces: Vec::new() };
        let found = of(from, floor);
        if !found.pieces.is_empty() {
            best = FilmStack { height: found.height - buried, ..found };
        }
    }
    best
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::frame::Point;
    use crate::base::units::Angle;
    use crate::make::cup::Frustum;
    use crate::read::job::WallPose;
    use proptest::prelude::*;

    const CUP: Frustum = Frustum { upper: Mm(279.3), lower: Mm(189.4), slant: Mm(149.9) };

    fn disc(number: u32, kind: Kind, film: usize, azimuth: f64, slant: f64, radius: f64) -> Piece {
        let d = Development::new(CUP);
        let wall = WallPose { azimuth: Angle::degrees(azimuth), slant: Mm(slant), turn: Angle::ZERO };
        Piece {
            number,
            kind,
            name: "disc".into(),
            film: FilmId(film),
            outline: Region::disc(Point::ORIGIN, Mm(radius)),
            zone: 0,
            wall,
            pose: d.pose(wall),
            clearance: Mm(1.0),
            keys: Region::empty(),
        }
    }
    fn layer(number: u32, film: usize, azimuth: f64, slant: f64, radius: f64) -> Piece {
        disc(number, Kind::Layer { decal: 0, layer: number as usize }, film, azimuth, slant, radius)
    }
    /// Films of 0.05, 0.10 and 0.08 mm.
    fn gauge(f: FilmId) -> Mm {
        [Mm(0.05), Mm(0.10), Mm(0.08)][f.0]
    }

    #[test]
    fn nested_layers_stack_and_spots_do_not() {
        let d = Development::new(CUP);
        let mut pieces = vec![
            layer(1, 0, 0.0, 70.0, 20.0),
            layer(2, 1, 0.0, 70.0, 15.0),
            layer(3, 2, 5.0, 72.0, 4.0),
            disc(4, Kind::Spot { accent: 0 }, 1, 90.0, 70.0, 3.0),
        ];
        let s = highest(&pieces, gauge, &[&d]);
        approx::assert_relative_eq!(s.height.0, 0.23, epsilon = 1e-12);
        assert_eq!(s.pieces, [1, 2, 3]);
        pieces.truncate(1);
        assert_eq!(highest(&pieces, gauge, &[&d]).height, Mm(0.05));
        assert_eq!(highest(&[], gauge, &[&d]).height, Mm::ZERO);
    }

    #[test]
    fn layers_meet_over_the_seam() {
        let d = Development::new(CUP);
        let pieces = [layer(1, 1, 178.0, 70.0, 10.0), layer(2, 1, -178.0, 70.0, 10.0)];
        assert_eq!(highest(&pieces, gauge, &[&d]).pieces, [1, 2]);
        let apart = [layer(1, 1, 160.0, 70.0, 10.0), layer(2, 1, -160.0, 70.0, 10.0)];
        assert_eq!(highest(&apart, gauge, &[&d]).pieces.len(), 1);
    }

    #[test]
    fn butted_layers_are_no_step() {
        let d = Development::new(CUP);
        let square = |x0: f64, x1: f64| Region::polygon(&[[x0, -5.0], [x1, -5.0], [x1, 5.0], [x0, 5.0]]);
        let (mut a, mut b) = (layer(1, 1, 0.0, 70.0, 1.0), layer(2, 1, 0.0, 70.0, 1.0));
        a.outline = square(-10.0, 0.0);
        b.outline = square(-0.004, 10.0);
        assert_eq!(highest(&[a.clone(), b.clone()], gauge, &[&d]).height, Mm(0.10));
        b.outline = square(-0.2, 10.0);
        assert_eq!(highest(&[a, b], gauge, &[&d]).height, Mm(0.20));
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(60))]
        /// The twin: depth at the points of a grid, by distance to the discs' centres.
        #[test]
        fn no_point_lies_deeper_than_the_highest_stack(
            discs in prop::collection::vec((-40.0..40.0f64, 40.0..100.0f64, 6.0..20.0f64, 0usize..3), 1..7)
        ) {
            let d = Development::new(CUP);
            let pieces: Vec<Piece> = discs.iter().enumerate()
                .map(|(i, &(a, s, r, f))| layer(i as u32 + 1, f, a, s, r)).collect();
            let got = highest(&pieces, gauge, &[&d]).height.0;
            let mut deepest = 0.0f64;
            for ix in -60..=60 {
                for iy in 0..=70 {
                    let (x, y) = (f64::from(ix) * 1.5, 20.0 + f64::from(iy) * 1.5);
                    let h: f64 = pieces.iter().zip(&discs).filter(|(p, (_, _, r, _))| {
                        let o = p.pose.origin();
                        libm::hypot(o.x - x, o.y - y) < r - 0.02
                    }).map(|(p, _)| gauge(p.film).0).sum();
                    deepest = deepest.max(h);
                }
            }
            prop_assert!(got >= deepest - 1e-12);
            // The highest stack is real: all its pieces have a point in common for the grid of their own
            // middle.
            prop_assert!(got <= discs.iter().map(|(_, _, _, f)| gauge(FilmId(*f)).0).sum::<f64>() + 1e-12);
        }

        /// The twin over several passes: at the points of a grid the film left by each coat is worked out pass by
        /// pass, from the distances to the discs' centres; below with the discs as they are, above with discs that
        /// reach as far as a point can lie from the grid.
        #[test]
        fn film_of_several_passes_stands_as_high_as_it_does_point_by_point(
            discs in prop::collection::vec(
                (-40.0..40.0f64, 40.0..100.0f64, 6.0..20.0f64, 0usize..3, 0usize..3), 1..7),
            coats in (0.0..0.2f64, 0.0..0.2f64),
        ) {
            let d = Development::new(CUP);
            let pieces: Vec<Piece> = discs.iter().enumerate()
                .map(|(i, &(a, s, r, f, _))| layer(i as u32 + 1, f, a, s, r)).collect();
            let of = |pass: usize, all: bool, best: FilmStack| {
                let there = |(_, d): &(&Piece, &(f64, f64, f64, usize, usize))| d.4 == pass || (all && d.4 > pass);
                let own: Vec<&Piece> = pieces.iter().zip(&discs).filter(there).map(|(p, _)| p).collect();
                overlaid(&own, &gauge, &[&d], best)
            };
            let alone: Vec<FilmStack> = (0..3).map(|k| of(k, false, FilmStack::default())).collect();
            let coats = [coats.0, coats.1];
            let got = standing(&alone, &coats.map(Mm), &|from, best| of(from, true, best));
            let mut deepest = [0.0f64; 2];
            for (bound, grown) in [-0.02, 1.5 * std::f64::consts::FRAC_1_SQRT_2].into_iter().enumerate() {
                for ix in -70..=70 {
                    for iy in -10..=80 {
                        let (x, y) = (f64::from(ix) * 1.5, 20.0 + f64::from(iy) * 1.5);
                        let mut left = 0.0f64;
                        for pass in 0..3 {
                            left += pieces.iter().zip(&discs).filter(|(p, (_, _, r, _, of))| {
                                let o = p.pose.origin();
                                *of == pass && libm::hypot(o.x - x, o.y - y) < r + grown
                            }).map(|(p, _)| gauge(p.film).0).sum::<f64>();
                            left = (left - coats.get(pass).unwrap_or(&0.0)).max(0.0);
                        }
                        deepest[bound] = deepest[bound].max(left);
                    }
                }
            }
            // A stack that is higher by less than the grid is not sought.
            prop_assert!(got.height.0 >= deepest[0] - GRID.0 - 1e-12, "{} {:?}", got.height.0, deepest);
            prop_assert!(got.height.0 <= deepest[1] + 1e-12, "{} {:?}", got.height.0, deepest);
        }
    }
}
