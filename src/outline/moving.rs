//! Outlines moved straight out by a distance, not yet united: the first step of an offset.
//!
//! Imports: base, outline::{curve, trace}.

use super::curve::Seg;
use super::trace::{Edge, Kind, Track};
use crate::base::tolerance::{GRID, NEWTON_MET, NO_LENGTH};
use kurbo::{ParamCurveArea, Point, Vec2};

/// Turn at a corner, radians, that is none: normals so near to each other leave a gap far below the grid.
const NO_TURN: f64 = 1e-7;
/// Part of a segment, by its parameter, from either end within which a turning of its offset is not looked
/// for.
const AT_END: f64 = 1e-6;

/// How outer corners of an offset are made.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Join {
    /// An arc: every point of the offset is exactly the distance away.
    Round,
    /// Straight on to a point; where that would reach farther than this many times the distance, cut off
    /// square there. Every point of the outline is at least the distance away; a limit below 1 counts as 1.
    Mitre(f64),
}

/// Inner corners that turn by less are cut where the moved sides cross before anything is united (radians, 11
/// degrees).
const SMALL_TURN: f64 = 0.2;

/// The outlines moved out by `by`, not yet united; those that the distance closes up for certain are left
/// out.
pub(super) fn moved_out(contours: &[Vec<Seg>], by: f64, join: Join, chords: f64) -> Vec<Track> {
    let lasting = contours.iter().filter(|c| !c.is_empty() && !closes_up(c, by));
    lasting.map(|c| Mover::new(by, join, chords).run(c)).collect()
}

/// Does the offset go inwards, farther than half the contour's narrower extent? Then no point inside the
/// contour is that far from it: a hole fills, a disc vanishes. Saves the crossings of outlines turned inside
/// out.
fn closes_up(contour: &[Seg], by: f64) -> bool {
    let (mut low, mut high) = ([f64::INFINITY; 2], [f64::NEG_INFINITY; 2]);
    let mut area = 0.0;
    for seg in contour {
        let (a, b) = (seg.start(), seg.end());
        let points = match seg {
            Seg::Line(a, b) => [*a, *b, *a, *b],
            Seg::Cubic(c) => [c.p0, c.p1, c.p2, c.p3],
        };
        // Green's theorem, twice over.
        area += match seg {
            Seg::Line(..) => a.to_vec2().cross(b.to_vec2()),
            Seg::Cubic(c) => 2.0 * c.signed_area(),
        };
        for p in points {
            for (k, v) in [p.x, p.y].into_iter().enumerate() {
                low[k] = low[k].min(v);
                high[k] = high[k].max(v);
            }
        }
    }
    let narrow = (high[0] - low[0]).min(high[1] - low[1]);
    area * by < 0.0 && by.abs() > 0.5 * narrow
}

/// Builds one moved outline: the convolution of the outline with a circle, but for shortcuts that add to the
/// winding number only where the result is covered anyway.
struct Mover {
    by: f64,
    join: Join,
    chords: f64,
    edges: Vec<Edge>,
}

/// A place of the outline with the unit normal to the right.
#[derive(Clone, Copy)]
struct OutlineFoot {
    t: f64,
    q: Point,
    n: Vec2,
}

impl Mover {
    fn new(by: f64, join: Join, chords: f64) -> Self {
        Self { by, join, chords, edges: Vec::new() }
    }
    fn out(&self, f: &OutlineFoot) -> Point {
        f.q + f.n * self.by
    }
    fn push(&mut self, p: Point, kind: Kind) {
        self.edges.push(Edge { p, kind });
    }
    fn run(mut self, segs: &[Seg]) -> Track {
        let n = segs.len();
        let mut feet: Vec<Vec<OutlineFoot>> = Vec::with_capacity(n);
        for seg in segs {
            let mut own = Vec::new();
            self.feet(seg, &mut own);
            feet.push(own);
        }
        let mitred: Vec<bool> = (0..n).map(|k| n > 2 && self.mitred_inwards(segs, &mut feet, k)).collect();
        for (k, own) in feet.iter().enumerate() {
            for pair in own.windows(2) {
                self.step(k as u32, &pair[0], &pair[1]);
            }
            if !mitred[k] {
                let (a, b) = (own[own.len() - 1], feet[(k + 1) % n][0]);
                self.corner(a.q, a.n, b.n);
            }
        }
        Track { segs: segs.to_vec(), by: self.by, edges: self.edges }
    }
    /// At an inner corner of little turn the moved sides are so nearly one that their chords would cross
    /// again and again. They are cut where they themselves cross, and what ran on and back is never made.
    /// Says if so.
    fn mitred_inwards(&self, segs: &[Seg], feet: &mut [Vec<OutlineFoot>], k: usize) -> bool {
        let next = (k + 1) % segs.len();
        let (a, b) = (feet[k][feet[k].len() - 1], feet[next][0]);
        let turn = libm::atan2(a.n.cross(b.n), a.n.dot(b.n)) * self.by.signum();
        if !(-SMALL_TURN..=-NO_TURN).contains(&turn) {
            return false;
        }
        // Not beyond the middle of a side: the other half may be needed at its other end.
        let (low, high) = (0.5, 0.5);
        let (mut ta, mut tb) = (1.0f64, 0.0f64);
        let moved = |seg: &Seg, t: f64| {
            let f = foot(seg, t);
            let (v, bend) = (seg.speed(t), seg.bend(t));
            let pace = v.hypot() + self.by * v.cross(bend) / v.hypot2();
            (self.out(&f), Vec2::new(-f.n.y, f.n.x) * pace)
        };
        for _ in 0..12 {
            let ((pa, va), (pb, vb)) = (moved(&segs[k], ta), moved(&segs[next], tb));
            let gap = pb - pa;
            if gap.hypot() < NEWTON_MET {
                break;
            }
            let det = va.cross(vb);
            let (x, y) = (gap.cross(vb) / det, gap.cross(va) / det);
            if !(x.is_finite() && y.is_finite()) {
                return false;
            }
            (ta, tb) = ((ta + x).clamp(low, 1.0), (tb + y).clamp(0.0, high));
        }
        let (fa, fb) = (foot(&segs[k], ta), foot(&segs[next], tb));
        let leads = |seg: &Seg, from: f64, to: f64| {
            (0..=4).all(|i| {
                let t = from + (to - from) * f64::from(i) / 4.0;
                let (v, bend) = (seg.speed(t), seg.bend(t));
                v.hypot2() * v.hypot() + self.by * v.cross(bend) > 0.0
            })
        };
        let met = (self.out(&fa) - self.out(&fb)).hypot() < NO_LENGTH;
        if !met || ta <= low || tb >= high || !leads(&segs[k], ta, 1.0) || !leads(&segs[next], 0.0, tb) {
            return false;
        }
        let own = &mut feet[k];
        own.retain(|f| f.t < ta);
        own.push(fa);
        let own = &mut feet[next];
        own.retain(|f| f.t > tb);
        own.insert(0, fb);
        true
    }
    /// Parameters so dense that chords of the segment and of its offset stay within the tolerance.
    fn feet(&self, seg: &Seg, out: &mut Vec<OutlineFoot>) {
        if let Seg::Line(..) = seg {
            out.extend([foot(seg, 0.0), foot(seg, 1.0)]);
            return;
        }
        let n = seg.steps(self.chords);
        out.push(foot(seg, 0.0));
        for i in 0..n {
            let from = out[out.len() - 1];
            let to = foot(seg, (i + 1) as f64 / n as f64);
            match self.cusp(seg, from.t, to.t) {
                Some(t) => {
                    let mid = foot(seg, t);
                    self.halve(seg, from, mid, 10, out);
                    self.halve(seg, mid, to, 10, out);
                }
                None => self.halve(seg, from, to, 10, out),
            }
        }
    }
    /// Where the moved curve turns back: its speed is the segment's times `1 + by * curvature`. A step ends
    /// there, so that all that leads on is known as such.
    fn cusp(&self, seg: &Seg, a: f64, b: f64) -> Option<f64> {
        let pace = |t: f64| {
            let (v, bend) = (seg.speed(t), seg.bend(t));
            let s2 = v.hypot2();
            s2 * s2.sqrt() + self.by * v.cross(bend)
        };
        let (mut lo, mut hi) = (a, b);
        let ahead = pace(lo) > 0.0;
        if (pace(hi) > 0.0) == ahead {
            return None;
        }
        for _ in 0..30 {
            let m = f64::midpoint(lo, hi);
            if (pace(m) > 0.0) == ahead { lo = m } else { hi = m }
        }
        let t = f64::midpoint(lo, hi);
        (t - a > AT_END && b - t > AT_END).then_some(t)
    }
    fn halve(&self, seg: &Seg, a: OutlineFoot, b: OutlineFoot, depth: u8, out: &mut Vec<OutlineFoot>) {
        let angle = (b.n - a.n).hypot();
        let length = (self.out(&b) - self.out(&a)).hypot();
        // Sagitta of a chord that turns by `angle` over `length`.
        if depth > 0
            && (length * angle > 8.0 * self.chords || angle > 0.7)
            && (b.q - a.q).hypot() > GRID.0 * 0.1
        {
            let m = foot(seg, f64::midpoint(a.t, b.t));
            self.halve(seg, a, m, depth - 1, out);
            self.halve(seg, m, b, depth - 1, out);
        } else {
            out.push(b);
        }
    }
    fn step(&mut self, seg: u32, a: &OutlineFoot, b: &OutlineFoot) {
        let pa = self.out(a);
        if (b.n - a.n).hypot() > 0.7 {
            // A cusp: the segment turns on the spot.
            self.push(pa, Kind::Straight);
            self.corner(b.q, a.n, b.n);
        } else if (self.out(b) - pa).dot(b.q - a.q) > 0.0 {
            self.push(pa, Kind::Smooth { seg, t0: a.t, t1: b.t });
        } else {
            // Inside of a bend tighter than the distance: the step runs backwards, within what others cover.
            self.push(pa, Kind::Filler);
        }
    }
    /// From normal `n0` to `n1` at an outline's corner.
    fn corner(&mut self, q: Point, n0: Vec2, n1: Vec2) {
        let side = self.by.signum();
        let mut turn = libm::atan2(n0.cross(n1), n0.dot(n1)) * side;
        if turn < -3.1 {
            // Straight back: round the tip or into a slit. A sector too many does no harm, one too few does.
            turn += std::f64::consts::TAU;
        }
        let pa = q + n0 * self.by;
        if turn < -NO_TURN {
            // An arc backwards, within what others cover. Where it is long, two radii do in its stead: they
            // add one to the winding number of the sector, which is covered.
            self.push(pa, Kind::Filler);
            if self.by.abs() * turn * turn > 0.8 * self.chords {
                self.push(q, Kind::Filler);
            }
            return;
        }
        if turn <= NO_TURN {
            return;
        }
        match self.join {
            Join::Round => {
                let r = self.by.abs();
                let most = libm::sqrt(8.0 * self.chords / r).min(0.7);
                let n = (turn / most).ceil().max(1.0) as usize;
                let out = n0 * side;
                let a0 = libm::atan2(out.y, out.x);
                let turn = turn * side;
                for i in 0..n {
                    let a = a0 + turn * i as f64 / n as f64;
                    let p = if i == 0 { pa } else { q + Vec2::new(libm::cos(a), libm::sin(a)) * r };
                    self.push(p, Kind::Arc { at: q, a0: a, turn: turn / n as f64 });
                }
            }
            Join::Mitre(limit) => {
                self.push(pa, Kind::Straight);
                // The tip lies at by / cos(turn / 2) along the mean normal.
                let mean = n0 + n1;
                let half = mean.hypot() / 2.0;
                let limit = limit.max(1.0);
                if half * limit >= 1.0 {
                    self.push(q + mean * (self.by / (2.0 * half * half)), Kind::Straight);
                } else {
                    // Cut off square to the mean normal at `limit` times the distance: never nearer than the
                    // distance.
                    let on = self.by.abs() * (limit - half) / libm::sqrt(1.0 - half * half);
                    let ahead = |n: Vec2| Vec2::new(-n.y, n.x);
                    self.push(pa + ahead(n0) * on, Kind::Straight);
                    self.push(q + n1 * self.by - ahead(n1) * on, Kind::Straight);
                }
            }
        }
    }
}

fn foot(seg: &Seg, t: f64) -> OutlineFoot {
    let tan = seg.tangent(t);
    OutlineFoot { t, q: seg.at(t), n: Vec2::new(tan.y, -tan.x) }
}
