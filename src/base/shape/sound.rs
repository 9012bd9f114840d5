//! The last gate of booleans and offsets: a curve that crosses itself or another, or strays from the polyline that it
//! stands for, gives way to that polyline. Smooth where it can be, sound always.
//!
//! Imports: base::units, base::frame, base::tolerance, base::shape::{flatten, clearance, region}.

use super::clearance::Clearance;
use super::flatten::{Flat, Ring};
use super::region::{Region, polyline_path};
use crate::base::frame::{Frame, Plane, Point};
use crate::base::tolerance::FLATTEN;
use crate::base::units::Mm;
use kurbo::BezPath;
use std::collections::BTreeSet;

/// Chords on which crossings are looked for: as fine as those of the final verifying.
const FINE: Mm = Mm(FLATTEN.0 / 4.0);

/// For each loop its curve if that is sound, else its polyline; loops without area on either side are left out.
pub(super) fn sound(loops: Vec<(BezPath, Ring)>, within: Mm) -> Vec<BezPath> {
    let mut chosen: Vec<(BezPath, Vec<Ring>)> = Vec::with_capacity(loops.len());
    for (curve, ring) in &loops {
        let chords = chords(curve);
        if chords.is_empty() || !agree(&chords, ring, within) {
            chosen.push((polyline_path(ring), vec![ring.clone()]));
        } else {
            chosen.push((curve.clone(), chords));
        }
    }
    // A polyline put in for one curve may meet the curve beside it: once more, then all is polyline where it matters.
    for _ in 0..3 {
        let crossing = crossing(&chosen.iter().map(|c| c.1.as_slice()).collect::<Vec<_>>());
        if crossing.is_empty() {
            break;
        }
        for i in crossing {
            chosen[i] = (polyline_path(&loops[i].1), vec![loops[i].1.clone()]);
        }
    }
    chosen.into_iter().map(|c| c.0).filter(|p| p.elements().len() > 2).collect()
}

impl<F: Frame> Region<F> {
    /// The region itself if no contour crosses itself or another, looked at as finely as the final verifying does;
    /// else its polylines, cleaned.
    #[must_use]
    pub fn sound(self) -> Self {
        let rings: Vec<Vec<Ring>> = self.contours().iter().map(chords).collect();
        if crossing(&rings.iter().map(Vec::as_slice).collect::<Vec<_>>()).is_empty() {
            return self;
        }
        self.flat(FLATTEN).cleaned().to_region()
    }
}

fn chords(curve: &BezPath) -> Vec<Ring> {
    Region::<Plane>::trusted([curve.clone()]).flat(FINE).rings
}

/// Every corner of one within the distance of the other, both ways.
fn agree(chords: &[Ring], ring: &Ring, within: Mm) -> bool {
    if ring.len() < 3 {
        return false;
    }
    let near = |from: &[Ring], to: Vec<Ring>| {
        let index = Clearance::<Plane>::new(Flat::new(to, Mm::ZERO));
        from.iter().flatten().all(|p| index.nearest(Point::mm(p[0], p[1]), within).is_some())
    };
    near(chords, vec![ring.clone()]) && near(std::slice::from_ref(ring), chords.to_vec())
}

/// Places of outlines that cross themselves or another: edges sorted by their left end, swept once.
fn crossing(outlines: &[&[Ring]]) -> BTreeSet<usize> {
    struct Edge {
        p: [f64; 4],
        outline: usize,
        ring: usize,
        at: usize,
        of: usize,
    }
    let mut edges: Vec<Edge> = Vec::new();
    for (outline, rings) in outlines.iter().enumerate() {
        for (ring, r) in rings.iter().enumerate() {
            for at in 0..r.len() {
                let (a, b) = (r[at], r[(at + 1) % r.len()]);
                edges.push(Edge { p: [a[0], a[1], b[0], b[1]], outline, ring, at, of: r.len() });
            }
        }
    }
    edges.sort_by(|a, b| a.p[0].min(a.p[2]).total_cmp(&b.p[0].min(b.p[2])));
    let mut found = BTreeSet::new();
    for (i, e) in edges.iter().enumerate() {
        let right = e.p[0].max(e.p[2]);
        let (low, high) = (e.p[1].min(e.p[3]), e.p[1].max(e.p[3]));
        for f in &edges[i + 1..] {
            if f.p[0].min(f.p[2]) > right {
                break;
            }
            if f.p[1].min(f.p[3]) > high || f.p[1].max(f.p[3]) < low {
                continue;
            }
            let apart = e.at.abs_diff(f.at);
            let beside = (e.outline, e.ring) == (f.outline, f.ring) && (apart <= 1 || apart + 1 == e.of);
            if !beside && cross(&e.p, &f.p) {
                found.extend([e.outline, f.outline]);
            }
        }
    }
    found
}

fn cross(e: &[f64; 4], f: &[f64; 4]) -> bool {
    let side = |a: &[f64; 4], x: f64, y: f64| (a[2] - a[0]) * (y - a[1]) - (a[3] - a[1]) * (x - a[0]);
    side(e, f[0], f[1]) * side(e, f[2], f[3]) < 0.0 && side(f, e[0], e[1]) * side(f, e[2], e[3]) < 0.0
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_curve_that_crosses_itself_gives_way_to_its_polyline() {
        let square: Ring = vec![[0.0, 0.0], [4.0, 0.0], [4.0, 4.0], [0.0, 4.0]];
        let bow = polyline_path(&[[0.0, 0.0], [4.0, 4.0], [4.0, 0.0], [0.0, 4.0]]);
        let out = sound(vec![(bow, square.clone())], Mm(9.0));
        assert_eq!(out, vec![polyline_path(&square)]);
    }

    #[test]
    fn a_curve_that_strays_gives_way_and_a_true_one_stays() {
        let square: Ring = vec![[0.0, 0.0], [4.0, 0.0], [4.0, 4.0], [0.0, 4.0]];
        let off = polyline_path(&[[0.0, 0.0], [4.2, 0.0], [4.2, 4.0], [0.0, 4.0]]);
        assert_eq!(sound(vec![(off, square.clone())], Mm(0.1)), vec![polyline_path(&square)]);
        let near = polyline_path(&[[0.0, 0.0], [4.05, 0.0], [4.05, 4.0], [0.0, 4.0]]);
        assert_eq!(sound(vec![(near.clone(), square)], Mm(0.1)), vec![near]);
    }
}
