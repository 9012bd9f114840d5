//! [`measure`]: the edges of many outlines in runs, sorted into square cells; every near pair is measured
//! once.
//!
//! The makers ask trees of boxes, outline by outline; this asks a grid, run by run, so a slip in one is not
//! in both.
//!
//! Edges that cross by no more than the error of both their chords may only touch, or belong to curves that
//! pass each other closely. Whether the outline crosses itself there is decided by its area: where it winds
//! about some place more than once, or the wrong way, what an odd number of its rings holds is not what its
//! rings enclose in sum.
//!
//! Imports: base, make::verify::measure.

use super::measure::{FINE, filled};
use crate::base::tolerance::MEASURE;
use rayon::prelude::*;
use std::collections::{BTreeMap, BTreeSet};
use std::f64::consts::PI;

/// One outline's edges.
pub(super) struct Entry {
    /// Whose outline: reported in what is found.
    pub owner: u32,
    /// Edges from corner to corner of closed rings; each ring closes on itself.
    pub rings: Vec<Vec<[f64; 2]>>,
    /// Where its middle lies on the winding of the plane, radians: outlines half a turn apart or more are on
    /// different windings and never meet, wherever they are drawn. 0 on sheets.
    pub winding: f64,
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
    /// Pairs of owners (a < b, or a == b over the seam) nearer than the reach, with their least distance, in
    /// order.
    pub near: Vec<Near>,
    /// Owners whose outline crosses itself.
    pub crossing: Vec<u32>,
    /// Pairs of edges that were measured.
    pub measured: u64,
}

/// Edges in a run: neighbours lie close together, so whole runs are passed over by their boxes.
const RUN: usize = 12;

/// Up to [`RUN`] edges of a ring that follow each other, with the box round them.
struct Run {
    /// `x0, y0, x1, y1`, lower corner first.
    bounds: [f64; 4],
    /// Cells that it reaches into, grown by half the reach: `column, row` of the first and of the last.
    cells: [i32; 4],
    entry: u32,
    ring: u32,
    /// Place of its first edge in the ring.
    first: u32,
    len: u32,
}

/// Edge `i` of a ring that closes on itself.
fn edge(ring: &[[f64; 2]], i: usize) -> [f64; 4] {
    let (a, b) = (ring[i], ring[if i + 1 == ring.len() { 0 } else { i + 1 }]);
    [a[0], a[1], b[0], b[1]]
}

/// A run's place in the list and the cell (row, column) it reaches into.
type Slot = (i32, i32, u32);

/// Measures all pairs of edges of different outlines up to `reach`, and crossings within each outline.
///
/// `near` holds each pair's least distance; pairs of edges whose boxes are farther apart than the least found
/// so far are passed over, since no edge of theirs can be nearer.
pub(super) fn measure(entries: &[Entry], reach: f64) -> Found {
    let runs = runs(entries, reach);
    let mut slots: Vec<Slot> = Vec::with_capacity(runs.len() * 4);
    for (i, run) in runs.iter().enumerate() {
        let [x0, y0, x1, y1] = run.cells;
        for y in y0..=y1 {
            slots.extend((x0..=x1).map(|x| (y, x, i as u32)));
        }
    }
    slots.sort_unstable();
    let cells: Vec<&[Slot]> = slots.chunk_by(|a, b| (a.0, a.1) == (b.0, b.1)).collect();
    // The parts are cut by counting cells, never by threads, so threads change nothing, not even the count.
    let parts: Vec<GridPart> = cells
        .par_chunks(32)
        .map(|cells| {
            let mut part = GridPart::default();
            for slots in cells {
                measure_cell(slots, &Scene { runs: &runs, entries, reach }, &mut part);
            }
            part
        })
        .collect();
    let mut found = Found::default();
    let mut near: BTreeMap<(u32, u32), f64> = BTreeMap::new();
    let (mut crossing, mut touching) = (BTreeSet::new(), BTreeSet::new());
    for part in parts {
        found.measured += part.measured;
        crossing.extend(part.crossing);
        touching.extend(part.touching);
        for (key, d) in part.near {
            let least = near.entry(key).or_insert(f64::INFINITY);
            *least = least.min(d);
        }
    }
    let doubtful = entries.iter().filter(|e| !e.copy && touching.contains(&e.owner));
    let wound: Vec<u32> = doubtful.filter(|e| winds_elsewise(&e.rings)).map(|e| e.owner).collect();
    crossing.extend(wound);
    found.near = near.into_iter().map(|((a, b), distance)| Near { a, b, distance }).collect();
    found.crossing = crossing.into_iter().collect();
    found
}

/// Cells that a box reaches into, grown by half the reach: two nearer than the reach share one.
fn cells_of(b: &[f64; 4], reach: f64) -> [i32; 4] {
    let (cell, grow) = (reach.max(0.5) * 2.0, reach / 2.0);
    [b[0] - grow, b[1] - grow, b[2] + grow, b[3] + grow].map(|v| (v / cell).floor() as i32)
}

/// What some cells found.
#[derive(Default)]
struct GridPart {
    near: BTreeMap<(u32, u32), f64>,
    crossing: BTreeSet<u32>,
    /// Owners with edges that cross by the error of their chords, if at all.
    touching: BTreeSet<u32>,
    measured: u64,
}

struct Scene<'a> {
    runs: &'a [Run],
    entries: &'a [Entry],
    reach: f64,
}

fn measure_cell(slots: &[Slot], scene: &Scene, part: &mut GridPart) {
    for (k, &(row, column, i)) in slots.iter().enumerate() {
        let a = &scene.runs[i as usize];
        let ea = &scene.entries[a.entry as usize];
        // A run, or two, that reach into several cells are measured in the first of these only.
        if !ea.copy && (row, column) == (a.cells[1], a.cells[0]) {
            crossings(a, a, ea, part);
        }
        for &(_, _, j) in &slots[k + 1..] {
            let b = &scene.runs[j as usize];
            let apart = apart_boxes(&a.bounds, &b.bounds);
            if apart >= scene.reach {
                continue;
            }
            if (row, column) != (a.cells[1].max(b.cells[1]), a.cells[0].max(b.cells[0])) {
                continue;
            }
            if a.entry == b.entry {
                if apart <= 0.0 && !ea.copy {
                    crossings(a, b, ea, part);
                }
                continue;
            }
            let eb = &scene.entries[b.entry as usize];
            if !(ea.copy && eb.copy) && (ea.winding - eb.winding).abs() < PI {
                nearest(a, ea, b, eb, scene.reach, part);
            }
        }
    }
}

/// Least distance of two runs of different outlines, kept where it is less than their owners' least so far.
fn nearest(a: &Run, ea: &Entry, b: &Run, eb: &Entry, reach: f64, part: &mut GridPart) {
    let key = (ea.owner.min(eb.owner), ea.owner.max(eb.owner));
    let before = part.near.get(&key).copied().unwrap_or(reach);
    let mut least = before;
    if apart_boxes(&a.bounds, &b.bounds) >= least {
        return;
    }
    let (ra, rb) = (&ea.rings[a.ring as usize], &eb.rings[b.ring as usize]);
    for i in a.first..a.first + a.len {
        let e = edge(ra, i as usize);
        if apart_boxes(&boxed(&e), &b.bounds) >= least {
            continue;
        }
        for j in b.first..b.first + b.len {
            let f = edge(rb, j as usize);
            if apart(&e, &f) >= least {
                continue;
            }
            part.measured += 1;
            least = least.min(edge_distance2(&e, &f).sqrt());
        }
    }
    if least < before {
        part.near.insert(key, least);
    }
}

/// Do edges of two runs of one outline (or of a run and itself) cross?
fn crossings(a: &Run, b: &Run, entry: &Entry, part: &mut GridPart) {
    let (ra, rb) = (&entry.rings[a.ring as usize], &entry.rings[b.ring as usize]);
    for i in a.first..a.first + a.len {
        let e = edge(ra, i as usize);
        if apart_boxes(&boxed(&e), &b.bounds) > 0.0 {
            continue;
        }
        for j in b.first..b.first + b.len {
            let neighbours = a.ring == b.ring && {
                let apart = i.abs_diff(j);
                apart <= 1 || apart as usize + 1 == ra.len()
            };
            let f = edge(rb, j as usize);
            if neighbours || apart(&e, &f) > 0.0 || !meet(&e, &f) {
                continue;
            }
            let owners =
                if crossing_depth(&e, &f) > 2.0 * FINE.0 { &mut part.crossing } else { &mut part.touching };
            owners.insert(entry.owner);
        }
    }
}

fn runs(entries: &[Entry], reach: f64) -> Vec<Run> {
    let mut out = Vec::new();
    for (n, entry) in entries.iter().enumerate() {
        for (r, ring) in entry.rings.iter().enumerate() {
            for first in (0..ring.len()).step_by(RUN) {
                let len = RUN.min(ring.len() - first);
                let mut bounds = boxed(&edge(ring, first));
                for i in first + 1..first + len {
                    let b = boxed(&edge(ring, i));
                    bounds =
                        [bounds[0].min(b[0]), bounds[1].min(b[1]), bounds[2].max(b[2]), bounds[3].max(b[3])];
                }
                let (entry, ring) = (n as u32, r as u32);
                let cells = cells_of(&bounds, reach);
                out.push(Run { bounds, cells, entry, ring, first: first as u32, len: len as u32 });
            }
        }
    }
    out
}

/// The box round an edge, lower corner first.
fn boxed(e: &[f64; 4]) -> [f64; 4] {
    [e[0].min(e[2]), e[1].min(e[3]), e[0].max(e[2]), e[1].max(e[3])]
}

/// How far two boxes are apart along the worse axis: no more than what lies in them; 0 or less where they
/// meet.
fn apart_boxes(a: &[f64; 4], b: &[f64; 4]) -> f64 {
    (a[0] - b[2]).max(b[0] - a[2]).max((a[1] - b[3]).max(b[1] - a[3]))
}

/// How far the boxes of two edges are apart along the worse axis: no more than the edges themselves.
fn apart(e: &[f64; 4], f: &[f64; 4]) -> f64 {
    apart_boxes(&boxed(e), &boxed(f))
}

fn orient(ax: f64, ay: f64, bx: f64, by: f64, cx: f64, cy: f64) -> f64 {
    (bx - ax) * (cy - ay) - (by - ay) * (cx - ax)
}

/// On which sides of each edge's line the other's ends lie: products, negative where they lie on either side.
fn sides(e: &[f64; 4], f: &[f64; 4]) -> [f64; 2] {
    let side = |e: &[f64; 4], f: &[f64; 4]| {
        orient(e[0], e[1], e[2], e[3], f[0], f[1]) * orient(e[0], e[1], e[2], e[3], f[2], f[3])
    };
    [side(e, f), side(f, e)]
}

fn cross(e: &[f64; 4], f: &[f64; 4]) -> bool {
    sides(e, f).iter().all(|s| *s < 0.0)
}

/// Do edges cross, or does an end of one lie on the other's line?
fn meet(e: &[f64; 4], f: &[f64; 4]) -> bool {
    sides(e, f).iter().all(|s| *s <= 0.0)
}

/// The least distance of an end of two edges that meet from the other's line.
fn crossing_depth(e: &[f64; 4], f: &[f64; 4]) -> f64 {
    let off = |e: &[f64; 4], x: f64, y: f64| {
        orient(e[0], e[1], e[2], e[3], x, y).abs() / libm::hypot(e[2] - e[0], e[3] - e[1])
    };
    off(e, f[0], f[1]).min(off(e, f[2], f[3])).min(off(f, e[0], e[1])).min(off(f, e[2], e[3]))
}

/// Do rings hold another area than they enclose in sum?
fn winds_elsewise(rings: &[Vec<[f64; 2]>]) -> bool {
    use geo::{Area, Euclidean, Length};
    let all = geo::MultiPolygon::new(rings.iter().map(|r| filled(r)).collect());
    let length: f64 = all.iter().map(|p| Euclidean.length(p.exterior())).sum();
    let sum: f64 = all.iter().map(Area::signed_area).sum();
    (area_where(rings, |winding| winding % 2 != 0) - sum.abs()).abs() > MEASURE.0 * length
}

/// Area where the winding number of rings is one of some, by slabs: between two heights of corners and
/// crossings edges do not cross, so that their order at the middle height is their order throughout, and a
/// strip's width there is its mean width.
fn area_where(rings: &[Vec<[f64; 2]>], inside: impl Fn(i32) -> bool) -> f64 {
    // Lower end, upper end, and which way the ring runs.
    let mut edges: Vec<([f64; 4], i32)> = Vec::new();
    for ring in rings {
        for k in 0..ring.len() {
            let (a, b) = (ring[k], ring[(k + 1) % ring.len()]);
            if a[1] < b[1] {
                edges.push(([a[0], a[1], b[0], b[1]], 1));
            } else if b[1] < a[1] {
                edges.push(([b[0], b[1], a[0], a[1]], -1));
            }
        }
    }
    edges.sort_by(|a, b| a.0[1].total_cmp(&b.0[1]));
    let mut heights: Vec<f64> = edges.iter().flat_map(|(e, _)| [e[1], e[3]]).collect();
    for (k, (e, _)) in edges.iter().enumerate() {
        for (f, _) in edges[k + 1..].iter().take_while(|(f, _)| f[1] < e[3]) {
            if meet(e, f) {
                let (d, g) =
                    (orient(e[0], e[1], e[2], e[3], f[0], f[1]), orient(e[0], e[1], e[2], e[3], f[2], f[3]));
                if d != g {
                    heights.push(f[1] + (f[3] - f[1]) * (d / (d - g)).clamp(0.0, 1.0));
                }
            }
        }
    }
    heights.sort_by(f64::total_cmp);
    heights.dedup();
    let (mut area, mut next) = (0.0, 0);
    let mut active: Vec<([f64; 4], i32)> = Vec::new();
    for slab in heights.windows(2) {
        let middle = (slab[0] + slab[1]) / 2.0;
        while next < edges.len() && edges[next].0[1] <= slab[0] {
            active.push(edges[next]);
            next += 1;
        }
        active.retain(|(e, _)| e[3] > middle);
        let mut crossed: Vec<(f64, i32)> = active
            .iter()
            .map(|(e, way)| (e[0] + (e[2] - e[0]) * (middle - e[1]) / (e[3] - e[1]), *way))
            .collect();
        crossed.sort_by(|a, b| a.0.total_cmp(&b.0));
        let mut winding = 0;
        for pair in crossed.windows(2) {
            winding += pair[0].1;
            if inside(winding) {
                area += (pair[1].0 - pair[0].0) * (slab[1] - slab[0]);
            }
        }
    }
    area
}

/// Squared distance of two edges by the parameters of the nearest points (Ericson, Real-Time Collision
/// Detection, 5.1.9).
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
    use crate::base::units::Mm;
    use crate::outline::distance_by_all_pairs;
    use crate::outline::{Flat, Region};
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
            let entries: Vec<Entry> = flats.iter().enumerate().map(|(i, f)| Entry { owner: i as u32, rings: f.rings.clone(), winding: 0.0, copy: false }).collect();
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

    proptest! {
        /// Truth: every pair of edges of a ring, one by one.
        #[test]
        fn a_crossing_is_found_wherever_all_pairs_find_one(seed in 0u64..300) {
            let mut random = crate::base::random::Random::new(crate::base::units::Seed(seed), "crossing", 0);
            // A circle of many short edges with a few corners thrown about: about half of them cross.
            let mut ring: Vec<[f64; 2]> = (0..90).map(|i| {
                let t = f64::from(i) / 90.0 * std::f64::consts::TAU;
                [8.0 * libm::cos(t), 8.0 * libm::sin(t)]
            }).collect();
            for _ in 0..2 {
                let i = (random.between(0.0, 89.9)) as usize;
                ring[i] = [ring[i][0] + random.between(-0.8, 0.8), ring[i][1] + random.between(-0.8, 0.8)];
            }
            let n = ring.len();
            let mut crosses = false;
            for i in 0..n {
                for j in i + 2..n {
                    let (e, f) = (edge(&ring, i), edge(&ring, j));
                    crosses |= !(i == 0 && j == n - 1) && cross(&e, &f) && crossing_depth(&e, &f) > 2.0 * FINE.0;
                }
            }
            let found = measure(&[Entry { owner: 3, rings: vec![ring.clone()], winding: 0.0, copy: false }], 1.0);
            prop_assert!(!found.crossing.is_empty() || !crosses);
            // What crosses by less is told only if it encloses something.
            prop_assert!(crosses || found.crossing.is_empty() || winds_elsewise(&[ring]));
        }
    }

    proptest! {
        /// By the even-odd rule it is the area of geo's union, which fills so (a test may ask the other
        /// engine).
        #[test]
        fn area_by_slabs_is_that_of_a_union(
            corners in prop::collection::vec((-20.0..20.0f64, -20.0..20.0f64), 3..16),
        ) {
            use geo::{Area, BooleanOps};
            let ring: Vec<[f64; 2]> = corners.iter().map(|(x, y)| [*x, *y]).collect();
            let all = geo::MultiPolygon::new(vec![filled(&ring)]);
            let want = geo::MultiPolygon::new(vec![]).union(&all).unsigned_area();
            let got = area_where(&[ring], |winding| winding % 2 != 0);
            prop_assert!((got - want).abs() < 1e-3 * want.max(1.0), "{got} {want}");
        }
    }

    /// Two squares, one in the other: wound twice or once, or a hole.
    #[test]
    fn areas_of_squares_in_each_other() {
        let square = |h: f64| vec![[-h, -h], [h, -h], [h, h], [-h, h]];
        let hole: Vec<[f64; 2]> = square(1.0).into_iter().rev().collect();
        approx::assert_relative_eq!(
            area_where(&[square(2.0), square(1.0)], |w| w != 0),
            16.0,
            epsilon = 1e-12
        );
        approx::assert_relative_eq!(
            area_where(&[square(2.0), hole.clone()], |w| w != 0),
            12.0,
            epsilon = 1e-12
        );
        assert!(winds_elsewise(&[square(2.0), square(1.0)]) && !winds_elsewise(&[square(2.0), hole]));
    }

    /// Case 1: foreign drawings whose outlines touch themselves were refused once they were turned.
    #[test]
    fn an_outline_that_touches_itself_does_not_cross_however_it_is_turned() {
        // A corner in the middle of an edge; two rings that share a corner; and the same with corners pushed
        // through.
        let touching = |by: f64| {
            let bar =
                vec![[0.0, 0.0], [9.0, 0.0], [9.0, 4.0], [5.0, 4.0], [3.7, -by], [2.0, 4.0], [0.0, 4.0]];
            let beside = vec![[9.0 - by, 4.0 - by], [12.0, 6.0], [11.0, 7.0]];
            vec![bar, beside]
        };
        let crossing = |by: f64, degrees: f64| {
            let (s, c) = degrees.to_radians().sin_cos();
            let turned = |r: Vec<[f64; 2]>| {
                r.into_iter().map(|[x, y]| [70.0 + c * x - s * y, s * x + c * y]).collect()
            };
            let rings = touching(by).into_iter().map(turned).collect();
            !measure(&[Entry { owner: 3, rings, winding: 0.0, copy: false }], 1.0).crossing.is_empty()
        };
        for k in 0..200 {
            let degrees = 1.7 * f64::from(k);
            assert!(!crossing(0.0, degrees), "turned by {degrees}");
            assert!(crossing(2e-3, degrees), "turned by {degrees}");
        }
    }

    /// Two chains of edges so short that each crosses by less than rounding: what they enclose tells.
    #[test]
    fn a_crossing_too_flat_for_its_edges_is_found_by_the_area() {
        let n = 20_000;
        let at = |i: usize, rise: f64| {
            let x = 10.0 * i as f64 / n as f64;
            [x, rise * (x - 5.0)]
        };
        // There along y = 0, back along a line that crosses it by 1e-3.
        let ring: Vec<[f64; 2]> =
            (0..=n).map(|i| at(i, 0.0)).chain((0..=n).rev().map(|i| at(i, 1e-3))).collect();
        let edges = |i: usize| edge(&ring, i);
        let middle = n / 2;
        assert!(crossing_depth(&edges(middle - 1), &edges(n + 1 + middle)) < MEASURE.0);
        let found = measure(&[Entry { owner: 3, rings: vec![ring.clone()], winding: 0.0, copy: false }], 1.0);
        assert_eq!(found.crossing, [3]);
    }

    #[test]
    fn an_outline_that_crosses_itself_is_found() {
        let bow = vec![[0.0, 0.0], [4.0, 3.0], [4.0, 0.0], [0.0, 3.0]];
        let found = measure(&[Entry { owner: 7, rings: vec![bow], winding: 0.0, copy: false }], 1.0);
        assert_eq!(found.crossing, [7]);
    }
}
