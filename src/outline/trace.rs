//! Booleans of polylines whose edges remember where they came from.
//!
//! A [`Track`] is a closed polyline with, for each edge, the exact curve it stands for. i_overlay cuts and
//! joins the edges, carrying an edge's number along; what comes out are [`BoundaryLoop`]s of
//! [`TrackStretch`]s: stretches of tracks, so that the exact curve of every stretch is known and no
//! nearest-place search is needed.
//!
//! Imports: base, outline::{plane, curve}.

use super::curve::Seg;
use crate::base::tolerance::GRID;
use i_overlay::core::edge_data::{EdgeDataMerge, OverlayEdgeData};
use i_overlay::core::edge_overlay::{EdgeOverlay, InputEdge};
use i_overlay::core::fill_rule::FillRule as Rule;
use i_overlay::core::overlay::ShapeType;
use i_overlay::core::overlay_rule::OverlayRule;
use i_overlay::i_float::int::point::IntPoint;
use i_overlay::segm::boolean::ShapeCountBoolean;
use kurbo::{Point, Vec2};

/// Difference of two places along a track, in edges, that is rounding: which way it points says nothing.
const SAME_PLACE: f64 = 1e-6;

/// What an edge of a track stands for.
#[derive(Clone, Copy, Debug)]
pub(super) enum Kind {
    /// The curve at distance `Track::by` to the right of a segment, from parameter `t0` to `t1`.
    Smooth { seg: u32, t0: f64, t1: f64 },
    /// An arc about a corner: from angle `a0`, by `turn` radians.
    Arc { at: Point, a0: f64, turn: f64 },
    /// A straight line; the edge itself is exact.
    Straight,
    /// Inside the result by construction; never part of a boundary but by rounding.
    Filler,
}

/// One edge: its start, exactly, and what it stands for. It ends where the next begins.
#[derive(Clone, Copy, Debug)]
pub(super) struct Edge {
    pub(super) p: Point,
    pub(super) kind: Kind,
}

/// A closed polyline with provenance.
#[derive(Clone, Debug, Default)]
pub(super) struct Track {
    pub(super) segs: Vec<Seg>,
    /// Distance to the right of the segments.
    pub(super) by: f64,
    pub(super) edges: Vec<Edge>,
}

impl Track {
    /// A contour itself, its chords within `tolerance`.
    pub(super) fn of_segs(segs: Vec<Seg>, tolerance: f64) -> Track {
        let mut edges = Vec::new();
        for (k, seg) in segs.iter().enumerate() {
            let n = seg.steps(tolerance);
            for i in 0..n {
                let (t0, t1) = (i as f64 / n as f64, (i + 1) as f64 / n as f64);
                let p = if i == 0 { seg.start() } else { seg.at(t0) };
                edges.push(Edge { p, kind: Kind::Smooth { seg: k as u32, t0, t1 } });
            }
        }
        Track { segs, by: 0.0, edges }
    }
    /// A polyline.
    pub(super) fn of_ring(ring: &[[f64; 2]]) -> Track {
        let edges = ring.iter().map(|p| Edge { p: Point::new(p[0], p[1]), kind: Kind::Straight }).collect();
        Track { segs: Vec::new(), by: 0.0, edges }
    }
    fn wrapped(&self, s: f64) -> (usize, f64) {
        let n = self.edges.len();
        let whole = s.floor();
        ((whole as i64).rem_euclid(n as i64) as usize, s - whole)
    }
    /// Start of edge number `i`, counted round and round.
    pub(super) fn corner(&self, i: i64) -> Point {
        self.edges[i.rem_euclid(self.edges.len() as i64) as usize].p
    }
    pub(super) fn kind(&self, i: i64) -> Kind {
        self.edges[i.rem_euclid(self.edges.len() as i64) as usize].kind
    }
    /// Exact point, and derivative by `s`, at place `s` (edge number plus share of the edge).
    pub(super) fn at(&self, s: f64) -> (Point, Vec2) {
        let (i, f) = self.wrapped(s);
        self.at_edge(i, f)
    }
    /// The same just before `s`: at a whole number, the end of the edge before it.
    pub(super) fn before(&self, s: f64) -> (Point, Vec2) {
        if s.fract() == 0.0 {
            let i = (s as i64 - 1).rem_euclid(self.edges.len() as i64) as usize;
            return self.at_edge(i, 1.0);
        }
        self.at(s)
    }
    fn at_edge(&self, i: usize, f: f64) -> (Point, Vec2) {
        match self.edges[i].kind {
            Kind::Smooth { seg, t0, t1 } => {
                let t = t0 + f * (t1 - t0);
                let seg = &self.segs[seg as usize];
                if self.by == 0.0 {
                    return (seg.at(t), seg.speed(t) * (t1 - t0));
                }
                let tan = seg.tangent(t);
                let v = seg.speed(t);
                let (s2, bend) = (v.hypot2(), seg.bend(t));
                // P = q + by n, n to the right; P' = q' (1 + by * curvature).
                let curvature = if s2 > 0.0 { v.cross(bend) / (s2 * s2.sqrt()) } else { 0.0 };
                let p = seg.at(t) + Vec2::new(tan.y, -tan.x) * self.by;
                (p, tan * (s2.sqrt() * (1.0 + self.by * curvature) * (t1 - t0)))
            }
            Kind::Arc { at, a0, turn } => {
                let a = a0 + f * turn;
                let out = Vec2::new(libm::cos(a), libm::sin(a)) * self.by.abs();
                (at + out, Vec2::new(-out.y, out.x) * turn)
            }
            Kind::Straight | Kind::Filler => {
                let (a, b) = (self.edges[i].p, self.edges[(i + 1) % self.edges.len()].p);
                (a.lerp(b, f), b - a)
            }
        }
    }
    /// Unit tangent at `s`, of the edge before it if `before`; in the sense of growing `s`.
    pub(super) fn heading(&self, s: f64, before: bool) -> Vec2 {
        let (i, f) = if before && s.fract() == 0.0 {
            ((s as i64 - 1).rem_euclid(self.edges.len() as i64) as usize, 1.0)
        } else {
            self.wrapped(s)
        };
        match self.edges[i].kind {
            Kind::Smooth { seg, t0, t1 } => self.segs[seg as usize].tangent(t0 + f * (t1 - t0)),
            _ => {
                let v = self.at_edge(i, f).1;
                let len = v.hypot();
                if len > 0.0 { v / len } else { Vec2::new(1.0, 0.0) }
            }
        }
    }
}

/// A stretch of a track, from place `s0` to `s1` (backwards if `s1` is less).
#[derive(Clone, Copy, Debug)]
pub(super) struct TrackStretch {
    pub(super) track: u32,
    pub(super) s0: f64,
    pub(super) s1: f64,
    /// Where it starts and ends on the polylines.
    pub(super) from: Point,
    pub(super) to: Point,
    pub(super) filler: bool,
    /// Its stretch of the loop's ring: number of its first corner, and of its edges.
    pub(super) ring: (usize, usize),
}

impl TrackStretch {
    pub(super) fn forward(&self) -> bool {
        self.s1 >= self.s0
    }
}

/// One closed boundary of the result.
#[derive(Clone, Debug)]
pub(super) struct BoundaryLoop {
    pub(super) pieces: Vec<TrackStretch>,
    /// The corners of the polyline.
    pub(super) ring: Vec<[f64; 2]>,
    /// For each corner, where it lies on the track of the edge that begins there.
    pub(super) places: Vec<f64>,
}

impl BoundaryLoop {
    /// The corners of the ring strictly within a piece, each with its place on the piece's track, in the
    /// sense of travel; `n` is the number of the track's edges.
    pub(super) fn inner(&self, piece: &TrackStretch, n: usize) -> Vec<(f64, Point)> {
        let (lo, hi) = (piece.s0.min(piece.s1), piece.s0.max(piece.s1));
        let n = n as f64;
        let mut out: Vec<(f64, Point)> = (0..piece.ring.1)
            .filter_map(|k| {
                let i = (piece.ring.0 + k) % self.ring.len();
                let s = self.places[i] + ((lo - self.places[i]) / n).ceil() * n;
                (s > lo && s < hi).then(|| (s, Point::new(self.ring[i][0], self.ring[i][1])))
            })
            .collect();
        out.sort_by(|a, b| a.0.total_cmp(&b.0));
        if !piece.forward() {
            out.reverse();
        }
        out
    }
}

/// Number of the edge, the highest bit set for filler.
#[derive(Clone, Copy, PartialEq)]
struct Tag(u32);
const FILLER: u32 = 1 << 31;

impl OverlayEdgeData for Tag {
    type Store = ();
    fn merge(ctx: EdgeDataMerge<ShapeCountBoolean, Self>, (): &mut ()) -> Self {
        // Two edges on one place: the one that is a boundary tells more than filler.
        if ctx.lhs_data.0 & FILLER != 0 { ctx.rhs_data } else { ctx.lhs_data }
    }
}

/// A boolean of tracks. Rings that fold onto themselves (area / length no more than `hair`) are left out.
pub(super) fn overlay(
    subject: &[Track],
    clip: &[Track],
    rule: OverlayRule,
    fill: Rule,
    hair: f64,
) -> Vec<BoundaryLoop> {
    let tracks: Vec<&Track> = subject.iter().chain(clip).collect();
    let reach = tracks.iter().flat_map(|t| &t.edges).fold(0.0f64, |m, e| m.max(e.p.x.abs()).max(e.p.y.abs()));
    if !reach.is_finite() {
        return Vec::new();
    }
    // i_overlay's 32-bit engine takes 2^30 steps; anything that big is not on a cup, but must not go wrong.
    let mut grid = GRID.0;
    while reach / grid > 1.0e9 {
        grid *= 10.0;
    }
    let snap = |p: Point| IntPoint::new((p.x / grid).round() as i32, (p.y / grid).round() as i32);
    let mut first = Vec::with_capacity(tracks.len());
    let total: usize = tracks.iter().map(|t| t.edges.len()).sum();
    let mut over = EdgeOverlay::<i32, Tag>::new(total);
    over.options.preserve_output_collinear = true;
    let mut snapped: Vec<IntPoint<i32>> = Vec::with_capacity(total);
    for (k, track) in tracks.iter().enumerate() {
        let base = snapped.len();
        first.push(base as u32);
        snapped.extend(track.edges.iter().map(|e| snap(e.p)));
        let side = if k < subject.len() { ShapeType::Subject } else { ShapeType::Clip };
        let n = track.edges.len();
        for i in 0..n {
            let flag = if matches!(track.edges[i].kind, Kind::Filler) { FILLER } else { 0 };
            let (a, b) = (snapped[base + i], snapped[base + (i + 1) % n]);
            over.add_edge(InputEdge { a, b, data: Tag((base + i) as u32 | flag) }, side);
        }
    }
    let maps = Maps { tracks: &tracks, first: &first, snapped: &snapped, grid };
    over.build_vector_shapes(rule, fill)
        .into_iter()
        .flatten()
        .filter_map(|contour| {
            let edges: Vec<_> = contour.iter().map(|e| (e.a, e.b, e.data.0)).collect();
            maps.gather(&edges, hair)
        })
        .collect()
}

struct Maps<'a> {
    tracks: &'a [&'a Track],
    first: &'a [u32],
    snapped: &'a [IntPoint<i32>],
    grid: f64,
}

type Cut = (IntPoint<i32>, IntPoint<i32>, u32);

impl Maps<'_> {
    fn point(&self, p: IntPoint<i32>) -> Point {
        Point::new(f64::from(p.x) * self.grid, f64::from(p.y) * self.grid)
    }
    /// Where an output edge lies on its track.
    fn piece(&self, &(a, b, tag): &Cut, at: usize) -> TrackStretch {
        let id = tag & !FILLER;
        let track = self.first.partition_point(|&f| f <= id) - 1;
        let (base, n) = (self.first[track], self.tracks[track].edges.len() as u32);
        let i = id - base;
        let (u, v) = (self.snapped[id as usize], self.snapped[(base + (i + 1) % n) as usize]);
        let share = |p: IntPoint<i32>| {
            if p == u {
                0.0
            } else if p == v {
                1.0
            } else {
                let (dx, dy) = (f64::from(v.x) - f64::from(u.x), f64::from(v.y) - f64::from(u.y));
                let (px, py) = (f64::from(p.x) - f64::from(u.x), f64::from(p.y) - f64::from(u.y));
                ((px * dx + py * dy) / (dx * dx + dy * dy)).clamp(0.0, 1.0)
            }
        };
        let (fa, fb) = (share(a), share(b));
        TrackStretch {
            track: track as u32,
            s0: f64::from(i) + fa,
            s1: f64::from(i) + fb,
            from: self.point(a),
            to: self.point(b),
            filler: tag & FILLER != 0,
            ring: (at, 1),
        }
    }
    /// May `b` follow `a` as one piece? Gives the number of rounds to add to `b`'s places.
    fn follows(&self, a: &TrackStretch, b: &TrackStretch) -> Option<f64> {
        if a.track != b.track || a.filler || b.filler || a.forward() != b.forward() {
            return None;
        }
        let track = self.tracks[a.track as usize];
        let n = track.edges.len() as f64;
        let rounds = ((a.s1 - b.s0) / n).round();
        let (from, to) = (a.s1, b.s0 + rounds * n);
        if from == to {
            return Some(rounds * n);
        }
        // Edges that snapping made nothing of lie between.
        if (from - to).abs() <= 8.0 {
            let forward = to > from;
            if forward == a.forward() || (from - to).abs() < SAME_PLACE {
                let (lo, hi) = (from.min(to), from.max(to));
                let calm =
                    (lo.floor() as i64..=hi.floor() as i64).all(|i| !matches!(track.kind(i), Kind::Filler));
                // All that lies between must be nothing: a ring that touches itself comes back to a place
                // too.
                let here = track.before(from).0;
                let near = |p: Point| (p - here).hypot() <= 2.0 * self.grid;
                let still = (lo.ceil() as i64..=hi.floor() as i64).all(|i| near(track.corner(i)));
                if calm && still && near(track.at(to).0) {
                    return Some(rounds * n);
                }
            }
        }
        None
    }
    fn gather(&self, edges: &[Cut], hair: f64) -> Option<BoundaryLoop> {
        let ring: Vec<[f64; 2]> = edges.iter().map(|e| self.point(e.0)).map(|p| [p.x, p.y]).collect();
        let area = super::plane::ring_area(&ring);
        let length: f64 = edges.iter().map(|e| (self.point(e.1) - self.point(e.0)).hypot()).sum();
        if ring.len() < 3 || area.abs() <= hair.max(self.grid) * length {
            return None;
        }
        let mut pieces: Vec<TrackStretch> = Vec::new();
        let mut places = Vec::with_capacity(edges.len());
        for (at, e) in edges.iter().enumerate() {
            let mut p = self.piece(e, at);
            places.push(p.s0);
            match pieces.last_mut() {
                Some(last) => match self.follows(last, &p) {
                    Some(shift) => {
                        last.s1 = p.s1 + shift;
                        last.to = p.to;
                        last.ring.1 += 1;
                    }
                    None => pieces.push(p),
                },
                None => {
                    // Keep places non-negative however far the piece runs back.
                    let n = self.tracks[p.track as usize].edges.len() as f64;
                    p.s0 += n;
                    p.s1 += n;
                    pieces.push(p);
                }
            }
        }
        // The ring has no beginning: its last piece may run on into its first.
        if pieces.len() > 1 {
            let (first, last) = (pieces[0], pieces[pieces.len() - 1]);
            if let Some(shift) = self.follows(&last, &first) {
                pieces[0].s0 = last.s0 - shift;
                pieces[0].from = last.from;
                pieces[0].ring = (last.ring.0, last.ring.1 + first.ring.1);
                pieces.pop();
            }
        }
        Some(BoundaryLoop { pieces, ring, places })
    }
}
