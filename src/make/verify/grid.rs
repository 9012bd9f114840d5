//! [`EdgeGrid`]: all edges of many outlines sorted into square cells; every near pair is measured once.
//!
//! The makers ask trees of boxes, outline by outline; this asks a grid, edge by edge, so a slip in one is not in both.
//!
//! Imports: base.

use rayon::prelude::*;
use std::collections::{BTreeMap, BTreeSet};

/// One outline's edges.
pub(super) struct Entry {
    /// Whose outline: reported in what is found.
    pub owner: u32,
    /// Edges from corner to corner of closed rings; each ring closes on itself.
    pub rings: Vec<Vec<[f64; 2]>>,
    /// Measured against others, but never against its like: copies over the seam.
    pub copy: bool,
}

/// Two outlines nearer than asked, or an outline that meets itself.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Near {
    pub a: u32,
    pub b: u32,
    /// Least distance between their edges; 0 where they cross.
    pub distance: f64,
}

/// What the grid found.
#[derive(Debug, Default)]
pub(super) struct Found {
    /// Pairs of owners (a < b, or a == b over the seam) nearer than the reach, with their least distance, in order.
    pub near: Vec<Near>,
    /// Owners whose outline crosses itself.
    pub crossing: Vec<u32>,
    /// Pairs of edges that were measured.
    pub measured: u64,
}

struct Edge {
    p: [f64; 4],
    entry: u32,
    ring: u32,
    index: u32,
    ring_len: u32,
}

/// Measures all pairs of edges of different outlines up to `reach`, and crossings within each outline.
pub(super) fn measure(entries: &[Entry], reach: f64) -> Found {
    let edges = edges(entries);
    let cell = reach.max(0.5);
    let mut slots: Vec<(i32, i32, u32)> = Vec::with_capacity(edges.len() * 4);
    for (i, e) in edges.iter().enumerate() {
        // Grown by half the reach: two edges nearer than the reach share a cell.
        let grow = reach / 2.0;
        let lo = [(e.p[0].min(e.p[2]) - grow) / cell, (e.p[1].min(e.p[3]) - grow) / cell].map(f64::floor);
        let hi = [(e.p[0].max(e.p[2]) + grow) / cell, (e.p[1].max(e.p[3]) + grow) / cell].map(f64::floor);
        for y in lo[1] as i32..=hi[1] as i32 {
            for x in lo[0] as i32..=hi[0] as i32 {
                slots.push((y, x, i as u32));
            }
        }
    }
    slots.sort_unstable();
    let cells: Vec<&[(i32, i32, u32)]> = slots.chunk_by(|a, b| (a.0, a.1) == (b.0, b.1)).collect();
    // Least distances and counts do not depend on the order in which cells are done, so threads change nothing.
    let parts: Vec<Part> =
        cells.par_chunks(64).map(|cells| measure_cells(cells, &edges, entries, reach)).collect();
    let mut found = Found::default();
    let mut near: BTreeMap<(u32, u32), f64> = BTreeMap::new();
    let mut crossing = BTreeSet::new();
    for part in parts {
        found.measured += part.measured;
        crossing.extend(part.crossing);
        for (key, d) in part.near {
            let least = near.entry(key).or_insert(f64::INFINITY);
            *least = least.min(d);
        }
    }
    found.near = near.into_iter().map(|((a, b), distance)| Near { a, b, distance }).collect();
    found.crossing = crossing.into_iter().collect();
    found
}

/// What some cells found.
#[derive(Default)]
struct Part {
    near: BTreeMap<(u32, u32), f64>,
    crossing: BTreeSet<u32>,
    measured: u64,
}

fn measure_cells(cells: &[&[(i32, i32, u32)]], edges: &[Edge], entries: &[Entry], reach: f64) -> Part {
    let mut part = Part::default();
    for cell in cells {
        for (k, &(_, _, i)) in cell.iter().enumerate() {
            let e = &edges[i as usize];
            let ea = &entries[e.entry as usize];
            for &(_, _, j) in &cell[k + 1..] {
                let f = &edges[j as usize];
                let apart = apart(&e.p, &f.p);
                if e.entry == f.entry {
                    if apart <= 0.0 && !neighbours(e, f) && !ea.copy && cross(&e.p, &f.p) {
                        part.crossing.insert(ea.owner);
                    }
                    continue;
                }
                let eb = &entries[f.entry as usize];
                if (ea.copy && eb.copy) || apart >= reach {
                    continue;
                }
                part.measured += 1;
                let d2 = edge_distance2(&e.p, &f.p);
                if d2 < reach * reach {
                    let key = (ea.owner.min(eb.owner), ea.owner.max(eb.owner));
                    let least = part.near.entry(key).or_insert(f64::INFINITY);
                    *least = least.min(d2.sqrt());
                }
            }
        }
    }
    part
}

/// How far the boxes of two edges are apart along the worse axis: no more than the edges themselves.
fn apart(e: &[f64; 4], f: &[f64; 4]) -> f64 {
    let axis = |a0: f64, a1: f64, b0: f64, b1: f64| (a0.min(a1) - b0.max(b1)).max(b0.min(b1) - a0.max(a1));
    axis(e[0], e[2], f[0], f[2]).max(axis(e[1], e[3], f[1], f[3]))
}

fn edges(entries: &[Entry]) -> Vec<Edge> {
    let mut out = Vec::new();
    for (n, entry) in entries.iter().enumerate() {
        for (r, ring) in entry.rings.iter().enumerate() {
            for i in 0..ring.len() {
                let (a, b) = (ring[i], ring[(i + 1) % ring.len()]);
                let p = [a[0], a[1], b[0], b[1]];
                out.push(Edge {
                    p,
                    entry: n as u32,
                    ring: r as u32,
                    index: i as u32,
                    ring_len: ring.len() as u32,
                });
            }
        }
    }
    out
}

/// Edges that share a corner by construction.
fn neighbours(e: &Edge, f: &Edge) -> bool {
    e.ring == f.ring && {
        let apart = e.index.abs_diff(f.index);
        apart <= 1 || apart + 1 == e.ring_len
    }
}

fn orient(ax: f64, ay: f64, bx: f64, by: f64, cx: f64, cy: f64) -> f64 {
    (bx - ax) * (cy - ay) - (by - ay) * (cx - ax)
}

fn cross(e: &[f64; 4], f: &[f64; 4]) -> bool {
    let s1 = orient(e[0], e[1], e[2], e[3], f[0], f[1]);
    let s2 = orient(e[0], e[1], e[2], e[3], f[2], f[3]);
    let s3 = orient(f[0], f[1], f[2], f[3], e[0], e[1]);
    let s4 = orient(f[0], f[1], f[2], f[3], e[2], e[3]);
    s1 * s2 < 0.0 && s3 * s4 < 0.0
}

/// Squared distance of two edges by the parameters of the nearest points (Ericson, Real-Time Collision Detection, 5.1.9).
fn edge_distance2(e: &[f64; 4], f: &[f64; 4]) -> f64 {
    if cross(e, f) {
        return 0.0;
    }
    let d1 = [e[2] - e[0], e[3] - e[1]];
    let d2 = [f[2] - f[0], f[3] - f[1]];
    let r = [e[0] - f[0], e[1] - f[1]];
    let dot = |a: [f64; 2], b: [f64; 2]| a[0] * b[0] + a[1] * b[1];
    let (a, ee, ff) = (dot(d1, d1), dot(d2, d2), dot(d2, r));
    let (c, b) = (dot(d1, r), dot(d1, d2));
    let denominator = a * ee - b * b;
    let clamp = |n: f64, d: f64| if d > 0.0 { (n / d).clamp(0.0, 1.0) } else { 0.0 };
    let mut s =
        if denominator > 0.0 { (((b * ff - c * ee) / denominator).clamp(0.0, 1.0)).max(0.0) } else { 0.0 };
    let mut t = if ee > 0.0 { (b * s + ff) / ee } else { 0.0 };
    if !(0.0..=1.0).contains(&t) {
        t = t.clamp(0.0, 1.0);
        s = clamp(b * t - c, a);
    }
    let dx = r[0] + d1[0] * s - d2[0] * t;
    let dy = r[1] + d1[1] * s - d2[1] * t;
    dx * dx + dy * dy
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::frame::{Plane, Point};
    use crate::base::shape::clearance::distance_by_all_pairs;
    use crate::base::shape::{Flat, Region};
    use crate::base::units::Mm;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn the_grid_finds_what_all_pairs_find(seed in 0u64..500) {
            let mut random = crate::base::random::Random::new(crate::base::units::Seed(seed), "grid", 0);
            let flats: Vec<Flat<Plane>> = (0..14)
                .map(|_| {
                    let at = Point::mm(random.between(-30.0, 30.0), random.between(-30.0, 30.0));
                    Region::disc(at, Mm(random.between(1.0, 5.0))).flat(Mm(0.01))
                })
                .collect();
            let entries: Vec<Entry> = flats.iter().enumerate().map(|(i, f)| Entry { owner: i as u32, rings: f.rings.clone(), copy: false }).collect();
            let found = measure(&entries, 3.0);
            for i in 0..flats.len() {
                for j in i + 1..flats.len() {
                    let d = distance_by_all_pairs(&flats[i], &flats[j]).0;
                    let got = found.near.iter().find(|n| (n.a, n.b) == (i as u32, j as u32));
                    // Distance 0 of a disc inside another is a matter of containment, not of edges.
                    if d > 1e-9 && d < 3.0 {
                        prop_assert!((got.expect("found").distance - d).abs() < 1e-9);
                    } else if d >= 3.0 {
                        prop_assert!(got.is_none());
                    }
                }
            }
        }
    }

    #[test]
    fn an_outline_that_crosses_itself_is_found() {
        let bow = vec![[0.0, 0.0], [4.0, 3.0], [4.0, 0.0], [0.0, 3.0]];
        let found = measure(&[Entry { owner: 7, rings: vec![bow], copy: false }], 1.0);
        assert_eq!(found.crossing, [7]);
    }
}
