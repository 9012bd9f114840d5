//! The outlines of a region as numbered edges that remember their curves: what widths are measured on.
//!
//! Imports: base, outline::{tree, curve, region}.

use super::curve::{Seg, nearest_on};
use super::region::Region;
use super::tree::Tree;
use crate::base::frame::Frame;
use crate::base::tolerance::NO_LENGTH;
use kurbo::{Point, Vec2};

/// Share of the product of its diagonal below which a determinant counts as nought: the curves run parallel,
/// and no step is made.
const LEAST_DETERMINANT: f64 = 1e-9;

/// A chord of a segment.
#[derive(Clone, Copy, Debug)]
pub(super) struct Edge {
    pub(super) a: Point,
    /// Unit direction and length.
    pub(super) u: Vec2,
    pub(super) len: f64,
    /// Length of the ring's edges before it.
    pub(super) s: f64,
    pub(super) ring: u32,
    /// Segment, and its parameter where the chord starts and ends.
    pub(super) seg: u32,
    pub(super) t: [f64; 2],
}

/// Which edges make a closed ring.
#[derive(Clone, Copy, Debug)]
pub(super) struct Ring {
    pub(super) first: usize,
    pub(super) count: usize,
    pub(super) length: f64,
    /// Which segments.
    pub(super) segs: [usize; 2],
    /// Twice the signed area.
    pub(super) area2: f64,
}

/// All edges of a region, the area on their left.
#[derive(Clone, Debug, Default)]
pub(super) struct Outline {
    pub(super) edges: Vec<Edge>,
    pub(super) rings: Vec<Ring>,
    pub(super) segs: Vec<Seg>,
    pub(super) tree: Tree,
}

/// A place of the outline: on an edge, as a share of its length.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct OutlinePlace {
    pub(super) edge: u32,
    pub(super) f: f64,
}

impl Outline {
    /// Chords within `tolerance` of the curves.
    pub(super) fn of<F: Frame>(region: &Region<F>, tolerance: f64) -> Outline {
        Outline::from_rings(region.contours().iter().map(Seg::of), tolerance)
    }
    /// One ring alone.
    pub(super) fn alone(&self, ring: usize, tolerance: f64) -> Outline {
        let [first, end] = self.rings[ring].segs;
        Outline::from_rings([self.segs[first..end].to_vec()], tolerance)
    }
    fn from_rings(rings: impl IntoIterator<Item = Vec<Seg>>, tolerance: f64) -> Outline {
        let mut out = Outline::default();
        for segs in rings {
            out.push(segs, tolerance);
        }
        let spans = (0..out.edges.len()).map(|i| {
            let (a, b) = (out.edges[i].a, out.end(i));
            [a.x, a.y, b.x, b.y]
        });
        out.tree = Tree::new(spans.collect());
        out
    }
    fn push(&mut self, segs: Vec<Seg>, tolerance: f64) {
        let (first, first_seg) = (self.edges.len(), self.segs.len());
        let ring = self.rings.len() as u32;
        let (mut s, mut area2) = (0.0, 0.0);
        for (k, seg) in segs.iter().enumerate() {
            let n = seg.steps(tolerance);
            let mut a = seg.start();
            for i in 0..n {
                let t = [i as f64 / n as f64, (i + 1) as f64 / n as f64];
                let b = if i + 1 == n { seg.end() } else { seg.at(t[1]) };
                let (v, len) = (b - a, (b - a).hypot());
                if len > NO_LENGTH {
                    self.edges.push(Edge { a, u: v / len, len, s, ring, seg: (first_seg + k) as u32, t });
                    s += len;
                    area2 += a.to_vec2().cross(b.to_vec2());
                    a = b;
                }
            }
        }
        let count = self.edges.len() - first;
        if count < 2 {
            self.edges.truncate(first);
            return;
        }
        self.segs.extend(segs);
        self.rings.push(Ring { first, count, length: s, segs: [first_seg, self.segs.len()], area2 });
    }
    pub(super) fn next(&self, edge: usize) -> usize {
        let r = &self.rings[self.edges[edge].ring as usize];
        if edge + 1 == r.first + r.count { r.first } else { edge + 1 }
    }
    pub(super) fn before(&self, edge: usize) -> usize {
        let r = &self.rings[self.edges[edge].ring as usize];
        if edge == r.first { r.first + r.count - 1 } else { edge - 1 }
    }
    pub(super) fn end(&self, edge: usize) -> Point {
        let e = &self.edges[edge];
        e.a + e.u * e.len
    }
    pub(super) fn at(&self, p: OutlinePlace) -> Point {
        let e = &self.edges[p.edge as usize];
        e.a + e.u * (e.len * p.f)
    }
    /// Length along the ring.
    pub(super) fn along(&self, p: OutlinePlace) -> f64 {
        let e = &self.edges[p.edge as usize];
        e.s + e.len * p.f
    }
    /// The shorter way along the outline from one place to another; infinite between two rings.
    pub(super) fn way(&self, p: OutlinePlace, q: OutlinePlace) -> f64 {
        let (e, f) = (&self.edges[p.edge as usize], &self.edges[q.edge as usize]);
        if e.ring != f.ring {
            return f64::INFINITY;
        }
        let d = (self.along(p) - self.along(q)).abs();
        d.min(self.rings[e.ring as usize].length - d)
    }
    /// Walks from a place downhill to where the outline is nearest to `to`.
    pub(super) fn settle(&self, from: OutlinePlace, to: Point) -> (OutlinePlace, f64) {
        let on = |edge: usize| {
            let e = &self.edges[edge];
            let f = ((to - e.a).dot(e.u) / e.len).clamp(0.0, 1.0);
            (OutlinePlace { edge: edge as u32, f }, (e.a + e.u * (e.len * f) - to).hypot2())
        };
        let mut best = on(from.edge as usize);
        let count = self.rings[self.edges[from.edge as usize].ring as usize].count;
        for _ in 0..count {
            let edge = best.0.edge as usize;
            let ahead = match best.0.f {
                f if f >= 1.0 => on(self.next(edge)),
                f if f <= 0.0 => on(self.before(edge)),
                _ => break,
            };
            if ahead.1 >= best.1 {
                break;
            }
            best = ahead;
        }
        best
    }
    /// Segment and parameter of a place.
    pub(super) fn on_curve(&self, p: OutlinePlace) -> (usize, f64) {
        let e = &self.edges[p.edge as usize];
        (e.seg as usize, e.t[0] + p.f * (e.t[1] - e.t[0]))
    }
    /// The segment after or before another on its ring.
    fn beside(&self, seg: usize, ring: u32, ahead: bool) -> usize {
        let [first, end] = self.rings[ring as usize].segs;
        match (ahead, seg) {
            (true, k) if k + 1 == end => first,
            (true, k) => k + 1,
            (false, k) if k == first => end - 1,
            (false, k) => k - 1,
        }
    }
    /// Walks along the curves from a segment's parameter downhill to where they are nearest to `to`.
    fn settle_on_curve(&self, ring: u32, from: (usize, f64), to: Point) -> (usize, f64) {
        let (mut k, mut t) = from;
        for _ in 0..4 {
            t = nearest_on(&self.segs[k], t, to);
            let ahead = t >= 1.0;
            if !ahead && t > 0.0 {
                break;
            }
            let other = self.beside(k, ring, ahead);
            let u = nearest_on(&self.segs[other], if ahead { 0.0 } else { 1.0 }, to);
            if (self.segs[other].at(u) - to).hypot2() >= (self.segs[k].at(t) - to).hypot2() {
                break;
            }
            (k, t) = (other, u);
        }
        (k, t)
    }
    /// From two places, downhill on the exact curves to where they are nearest to each other, by at most
    /// `reach`.
    pub(super) fn closest(&self, p: OutlinePlace, q: OutlinePlace, reach: f64) -> (Point, Point) {
        let (rp, rq) = (self.edges[p.edge as usize].ring, self.edges[q.edge as usize].ring);
        let (mut a, mut b) = (self.on_curve(p), self.on_curve(q));
        let point = |c: (usize, f64)| self.segs[c.0].at(c.1);
        let (from_a, from_b) = (point(a), point(b));
        let mut d = (from_a - from_b).hypot();
        for _ in 0..40 {
            let a1 = self.settle_on_curve(rp, a, point(b));
            let b1 = self.settle_on_curve(rq, b, point(a1));
            let near = |c: &((usize, f64), (usize, f64))| {
                (point(c.0) - from_a).hypot() <= reach && (point(c.1) - from_b).hypot() <= reach
            };
            let Some((a2, b2)) = [newton(&self.segs, a1, b1), (a1, b1)].into_iter().find(near) else { break };
            let d2 = (point(a2) - point(b2)).hypot();
            if d2 >= d {
                break;
            }
            let gain = d - d2;
            (a, b, d) = (a2, b2, d2);
            if gain < NO_LENGTH {
                break;
            }
        }
        (point(a), point(b))
    }
}

/// Newton's steps for both parameters of |A(s) - B(t)|^2; stays where they do not help.
fn newton(segs: &[Seg], a: (usize, f64), b: (usize, f64)) -> ((usize, f64), (usize, f64)) {
    let (sa, sb) = (&segs[a.0], &segs[b.0]);
    let (mut s, mut t) = (a.1, b.1);
    let mut best = (sa.at(s) - sb.at(t)).hypot2();
    for _ in 0..8 {
        let r = sa.at(s) - sb.at(t);
        let (va, vb) = (sa.speed(s), sb.speed(t));
        let (gs, gt) = (r.dot(va), -r.dot(vb));
        let (hss, htt) = (va.hypot2() + r.dot(sa.bend(s)), vb.hypot2() - r.dot(sb.bend(t)));
        let hst = -va.dot(vb);
        let det = hss * htt - hst * hst;
        if hss <= 0.0 || det <= LEAST_DETERMINANT * hss * htt {
            break;
        }
        let s1 = (s - (gs * htt - gt * hst) / det).clamp(0.0, 1.0);
        let t1 = (t - (gt * hss - gs * hst) / det).clamp(0.0, 1.0);
        let d = (sa.at(s1) - sb.at(t1)).hypot2();
        if d >= best {
            break;
        }
        (s, t, best) = (s1, t1, d);
    }
    ((a.0, s), (b.0, t))
}
