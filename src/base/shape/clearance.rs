//! Distances between flattened outlines: an index of edges, and its from-scratch twin.
//!
//! Imports: base::units, base::frame.

use super::flatten::Flat;
use crate::base::frame::{Frame, Point};
use crate::base::units::Mm;

/// The nearest place of an outline.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Nearest<F: Frame> {
    /// Distance to the outline, mm.
    pub distance: Mm,
    /// Where on the outline.
    pub at: Point<F>,
}

/// An index over the edges of one flat region that answers distance questions; exact on the polylines.
/// Distances to the curves themselves differ by at most the flat region's `error`.
#[derive(Clone, Debug)]
pub struct Clearance<F: Frame> {
    flat: Flat<F>,
    edges: Vec<[f64; 4]>,
    nodes: Vec<Node>,
}

#[derive(Clone, Copy, Debug)]
struct Node {
    bounds: [f64; 4],
    /// Leaf: first edge; branch: index of the second child (the first follows directly).
    link: u32,
    /// Number of edges of a leaf; 0 for a branch.
    count: u32,
}

const LEAF: usize = 6;

impl<F: Frame> Clearance<F> {
    /// Builds the index.
    pub fn new(flat: Flat<F>) -> Self {
        let mut edges = Vec::new();
        for ring in &flat.rings {
            for i in 0..ring.len() {
                let (a, b) = (ring[i], ring[(i + 1) % ring.len()]);
                edges.push([a[0], a[1], b[0], b[1]]);
            }
        }
        let mut nodes = Vec::with_capacity(edges.len() / 2 + 1);
        if !edges.is_empty() {
            let n = edges.len();
            build(&mut edges, 0, n, &mut nodes);
        }
        Self { flat, edges, nodes }
    }
    /// The flat region it stands for.
    pub fn flat(&self) -> &Flat<F> {
        &self.flat
    }
    /// Is the point inside (even-odd)?
    pub fn contains(&self, p: Point<F>) -> bool {
        self.flat.contains(p.x, p.y)
    }
    /// Nearest place of the outline, if it is nearer than `within`.
    pub fn nearest(&self, p: Point<F>, within: Mm) -> Option<Nearest<F>> {
        let mut best = (within.0 * within.0, None);
        let mut stack = Vec::with_capacity(48);
        if !self.nodes.is_empty() {
            stack.push(0u32);
        }
        while let Some(i) = stack.pop() {
            let node = &self.nodes[i as usize];
            if box_point2(&node.bounds, p.x, p.y) >= best.0 {
                continue;
            }
            if node.count > 0 {
                for e in &self.edges[node.link as usize..(node.link + node.count) as usize] {
                    let (d2, x, y) = edge_point2(e, p.x, p.y);
                    if d2 < best.0 {
                        best = (d2, Some(Point::mm(x, y)));
                    }
                }
            } else {
                let (l, r) = (i + 1, node.link);
                let near = |k: u32| box_point2(&self.nodes[k as usize].bounds, p.x, p.y);
                if near(l) < near(r) { stack.extend([r, l]) } else { stack.extend([l, r]) }
            }
        }
        best.1.map(|at| Nearest { distance: Mm(best.0.sqrt()), at })
    }
    /// Least distance between two regions if it is below `within`: zero where they overlap or one holds the other.
    pub fn distance(&self, other: &Self, within: Mm) -> Option<Mm> {
        let (Some(a), Some(b)) = (self.nodes.first(), other.nodes.first()) else { return None };
        let mut best = within.0 * within.0;
        if box_box2(&a.bounds, &b.bounds) >= best {
            return None;
        }
        // One can hold the other only where their boxes meet.
        let meet = box_box2(&a.bounds, &b.bounds) == 0.0;
        if meet && (self.holds_corner_of(other) || other.holds_corner_of(self)) {
            return Some(Mm::ZERO);
        }
        let mut stack = vec![(0u32, 0u32)];
        while let Some((i, j)) = stack.pop() {
            let (a, b) = (&self.nodes[i as usize], &other.nodes[j as usize]);
            if box_box2(&a.bounds, &b.bounds) >= best {
                continue;
            }
            if a.count > 0 && b.count > 0 {
                for e in &self.edges[a.link as usize..(a.link + a.count) as usize] {
                    for f in &other.edges[b.link as usize..(b.link + b.count) as usize] {
                        if box_box2(&edge_box(e), &edge_box(f)) < best {
                            best = best.min(edge_edge2(e, f));
                        }
                    }
                }
                if best == 0.0 {
                    return Some(Mm::ZERO);
                }
            } else if b.count > 0 || (a.count == 0 && size(&a.bounds) > size(&b.bounds)) {
                stack.extend([(i + 1, j), (a.link, j)]);
            } else {
                stack.extend([(i, j + 1), (i, b.link)]);
            }
        }
        (best < within.0 * within.0).then(|| Mm(best.sqrt()))
    }
    fn holds_corner_of(&self, other: &Self) -> bool {
        other.flat.rings.iter().any(|r| r.first().is_some_and(|p| self.flat.contains(p[0], p[1])))
    }
}

/// The twin: every edge against every edge. Slow, and what the index is held to.
pub fn distance_by_all_pairs<F: Frame>(a: &Flat<F>, b: &Flat<F>) -> Mm {
    let (ca, cb) = (Clearance::new(a.clone()), Clearance::new(b.clone()));
    if ca.holds_corner_of(&cb) || cb.holds_corner_of(&ca) {
        return Mm::ZERO;
    }
    let mut best = f64::INFINITY;
    for e in &ca.edges {
        for f in &cb.edges {
            best = best.min(edge_edge2(e, f));
        }
    }
    Mm(best.sqrt())
}

fn build(edges: &mut [[f64; 4]], from: usize, to: usize, nodes: &mut Vec<Node>) {
    let mut bounds = [f64::INFINITY, f64::INFINITY, f64::NEG_INFINITY, f64::NEG_INFINITY];
    for e in &edges[from..to] {
        bounds[0] = bounds[0].min(e[0].min(e[2]));
        bounds[1] = bounds[1].min(e[1].min(e[3]));
        bounds[2] = bounds[2].max(e[0].max(e[2]));
        bounds[3] = bounds[3].max(e[1].max(e[3]));
    }
    let me = nodes.len();
    nodes.push(Node { bounds, link: from as u32, count: (to - from) as u32 });
    if to - from <= LEAF {
        return;
    }
    let axis = usize::from(bounds[3] - bounds[1] > bounds[2] - bounds[0]);
    let mid = usize::midpoint(from, to);
    edges[from..to].select_nth_unstable_by(mid - from, |p, q| {
        (p[axis] + p[axis + 2]).total_cmp(&(q[axis] + q[axis + 2]))
    });
    build(edges, from, mid, nodes);
    let right = nodes.len() as u32;
    build(edges, mid, to, nodes);
    nodes[me] = Node { bounds, link: right, count: 0 };
}

#[inline]
fn size(b: &[f64; 4]) -> f64 {
    (b[2] - b[0]).max(b[3] - b[1])
}
#[inline]
fn box_point2(b: &[f64; 4], x: f64, y: f64) -> f64 {
    let dx = (b[0] - x).max(x - b[2]).max(0.0);
    let dy = (b[1] - y).max(y - b[3]).max(0.0);
    dx * dx + dy * dy
}
#[inline]
fn box_box2(a: &[f64; 4], b: &[f64; 4]) -> f64 {
    let dx = (b[0] - a[2]).max(a[0] - b[2]).max(0.0);
    let dy = (b[1] - a[3]).max(a[1] - b[3]).max(0.0);
    dx * dx + dy * dy
}
#[inline]
fn edge_box(e: &[f64; 4]) -> [f64; 4] {
    [e[0].min(e[2]), e[1].min(e[3]), e[0].max(e[2]), e[1].max(e[3])]
}
#[inline]
fn edge_point2(e: &[f64; 4], x: f64, y: f64) -> (f64, f64, f64) {
    let (ux, uy) = (e[2] - e[0], e[3] - e[1]);
    let len2 = ux * ux + uy * uy;
    let t = if len2 > 0.0 { (((x - e[0]) * ux + (y - e[1]) * uy) / len2).clamp(0.0, 1.0) } else { 0.0 };
    let (px, py) = (e[0] + t * ux, e[1] + t * uy);
    ((px - x) * (px - x) + (py - y) * (py - y), px, py)
}
fn edge_edge2(e: &[f64; 4], f: &[f64; 4]) -> f64 {
    let side =
        |ax: f64, ay: f64, bx: f64, by: f64, px: f64, py: f64| (bx - ax) * (py - ay) - (by - ay) * (px - ax);
    let s1 = side(e[0], e[1], e[2], e[3], f[0], f[1]);
    let s2 = side(e[0], e[1], e[2], e[3], f[2], f[3]);
    let s3 = side(f[0], f[1], f[2], f[3], e[0], e[1]);
    let s4 = side(f[0], f[1], f[2], f[3], e[2], e[3]);
    if ((s1 > 0.0) != (s2 > 0.0))
        && ((s3 > 0.0) != (s4 > 0.0))
        && s1 * s2 <= 0.0
        && s3 * s4 <= 0.0
        && (s1 != 0.0 || s2 != 0.0)
    {
        return 0.0;
    }
    edge_point2(e, f[0], f[1])
        .0
        .min(edge_point2(e, f[2], f[3]).0)
        .min(edge_point2(f, e[0], e[1]).0)
        .min(edge_point2(f, e[2], e[3]).0)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::frame::Art;
    use crate::base::shape::Region;
    use proptest::prelude::*;

    fn disc(x: f64, y: f64, r: f64) -> Flat<Art> {
        Region::disc(Point::mm(x, y), Mm(r)).flat(Mm(1e-4))
    }

    proptest! {
        #[test]
        fn discs_are_as_far_apart_as_their_centres_say(x in 11.0..60.0f64, y in -60.0..60.0f64, r in 1.0..10.0f64) {
            let want = (libm::hypot(x, y) - 5.0 - r).max(0.0);
            let (a, b) = (disc(0.0, 0.0, 5.0), disc(x, y, r));
            let got = Clearance::new(a.clone()).distance(&Clearance::new(b.clone()), Mm(1e3)).unwrap();
            prop_assert!((got.0 - want).abs() < 5e-3, "{} {}", got, want);
            prop_assert!((got.0 - distance_by_all_pairs(&a, &b).0).abs() < 1e-12);
        }
    }

    #[test]
    fn one_inside_the_other_is_at_no_distance() {
        let d = Clearance::new(disc(0.0, 0.0, 9.0)).distance(&Clearance::new(disc(1.0, 0.0, 2.0)), Mm(50.0));
        assert_eq!(d, Some(Mm::ZERO));
    }
}
