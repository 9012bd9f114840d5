//! Narrow places of a region, and of the gaps in it and between its parts: where, how narrow, how long.
//!
//! At places along the outline the largest ball is found that touches there and holds nothing of the outline:
//! from a ball a little wider than the limit, shrunk to the nearest point of the outline inside it until none
//! is left (shrinking ball: Ma, Bae and Choi, The Visual Computer 28, 2012). A ball narrower than the limit
//! that touches on two nearly opposite sides stands at a narrow place. Balls that follow each other along the
//! outline, or face each other across, make one place; from its narrowest ball the two contact points walk
//! downhill on the exact curves.
//!
//! **Corners, tips and ends.** Where the two sides lean towards each other by more than 28 degrees (1 in 4 a
//! side) the film thickens fast enough: that is a corner ([`super::corner`] finds those), not a narrow place.
//! Nothing hangs on the last bit of a tip, a spur or a slit, so the part within one limit's length of its end
//! does not count; what is still narrow farther back does, as [`NarrowKind::Tip`], and its width is taken
//! there. A part or hole that has nowhere room for a ball as wide as the limit is [`NarrowKind::Whole`].
//!
//! Imports: base, outline::{region, boundary}.

use super::region::Region;
use crate::base::frame::{Frame, Point};
use crate::base::tolerance::{FLATTEN, MEASURE, NO_LENGTH};
use crate::base::units::Mm;
use crate::outline::boundary::{Outline, OutlinePlace};
use kurbo::{Point as At, Vec2};
use std::collections::BTreeMap;

/// Share of a ball's radius within which a point counts as lying on it, not in it: widths err to the larger
/// by at most that share.
const ON_BALL: f64 = 1e-7;
/// Radius of a ball, mm, below which there is none: the outline touches itself.
const NO_BALL: f64 = 1e-7;
/// What a step must gain of a squared width, mm2, for the search to go on: above the rounding of widths of a
/// millimetre.
const LEAST_GAIN: f64 = 1e-14;
/// Difference of width, mm, within which two narrow places in one spot are told as one.
const SAME_WIDTH: f64 = 1e-4;

/// How a narrow place lies in its region.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum NarrowKind {
    /// Something wider, or more of the same, lies on both sides: a bridge, a thin stroke; of gaps, a slit or
    /// strait.
    Neck,
    /// It ends there: a long tip or spur; of gaps, the far end of a slit or notch.
    Tip,
    /// A whole part, or a whole hole, is narrower.
    Whole,
}

/// A place where a region, or a gap in it, is narrower than a limit.
#[derive(Clone, Debug, PartialEq)]
pub struct Narrow<F: Frame> {
    /// How it lies.
    pub kind: NarrowKind,
    /// Its least width: the distance between the two contact points; for a tip, one limit's length from its
    /// end.
    pub width: Mm,
    /// The points on either side where it is narrowest.
    pub at: [Point<F>; 2],
    /// How long it is narrower than the limit, along its middle; nothing for a waist between two corners.
    pub length: Mm,
    /// Its middle: lines through the middles of the balls that touch both sides, each in order along the
    /// outline. A stroke is measured from both its sides, so its middle appears twice.
    pub lines: Vec<Vec<Middle<F>>>,
}

/// A place of a middle line.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Middle<F: Frame> {
    /// Middle of a ball.
    pub at: Point<F>,
    /// Unit direction of the line: it halves the angle between the two sides.
    pub along: [f64; 2],
    /// Distance between the contact points.
    pub width: Mm,
}

impl<F: Frame> Narrow<F> {
    /// Half way between the contact points.
    pub fn middle(&self) -> Point<F> {
        Point::mm(f64::midpoint(self.at[0].x, self.at[1].x), f64::midpoint(self.at[0].y, self.at[1].y))
    }
}

/// Cosine of half the angle by which two sides may lean towards each other: tan = 1/4.
const LEAN: f64 = 0.970_142_500_145_332;
/// Balls are looked at up to this many times the limit: between two of them the outline may come this much
/// closer.
const SLACK: f64 = 1.06;
/// Chords of a part or hole that is too small as a whole, mm: a twentieth of [`FLATTEN`].
const FINE: f64 = 0.05 * FLATTEN.0;
/// Largest turn of the outline between two balls where it bulges into the area (radians).
const TURN: f64 = 0.2;

/// Widths of one region and of its gaps, asked as often as needed.
#[derive(Clone, Debug)]
pub struct Widths<F: Frame> {
    outline: Outline,
    frame: std::marker::PhantomData<F>,
}

impl<F: Frame> Region<F> {
    /// Where the region is narrower than `limit`, narrowest first. Exact on the curves (1e-6 mm), but for
    /// tips, whose width is that of the ball nearest to one limit from the end.
    pub fn narrow(&self, limit: Mm) -> Vec<Narrow<F>> {
        Widths::new(self).narrow(limit)
    }
    /// Where what lies between the region's parts, in its holes or in its slits is narrower than `limit`.
    pub fn gaps(&self, limit: Mm) -> Vec<Narrow<F>> {
        Widths::new(self).gaps(limit)
    }
}

impl<F: Frame> Widths<F> {
    /// Prepares a region, so that several limits can be asked for; one that may break the invariant is
    /// cleaned first.
    pub fn new(region: &Region<F>) -> Self {
        let outline = if region.is_clean() {
            Outline::of(region, FLATTEN.0)
        } else {
            Outline::of(&region.cleaned(), FLATTEN.0)
        };
        Self { outline, frame: std::marker::PhantomData }
    }
    /// As [`Region::narrow`].
    pub fn narrow(&self, limit: Mm) -> Vec<Narrow<F>> {
        NarrowSearch::new(&self.outline, limit.0, 1.0).run()
    }
    /// As [`Region::gaps`].
    pub fn gaps(&self, limit: Mm) -> Vec<Narrow<F>> {
        NarrowSearch::new(&self.outline, limit.0, -1.0).run()
    }
}

/// A ball that touches the outline at `m` and at `q`.
#[derive(Clone, Copy, Debug)]
struct Ball {
    m: OutlinePlace,
    q: OutlinePlace,
    c: At,
    r: f64,
    /// Distance between the contact points.
    width: f64,
}

/// Two points of the outline that face each other.
#[derive(Clone, Copy, Debug)]
struct Pair {
    width: f64,
    a: At,
    b: At,
}

/// What was found at one place of the outline.
enum Look {
    /// Room for a ball as wide as the limit.
    Wide,
    /// A smaller ball in a corner or an end: of this radius.
    Corner(Ball),
    Narrow(Ball),
}

struct NarrowSearch<'a> {
    outline: &'a Outline,
    limit: f64,
    /// 1: the area, on the left of the edges; -1: what is not area.
    side: f64,
    start: f64,
    step: f64,
}

impl<'a> NarrowSearch<'a> {
    fn new(outline: &'a Outline, limit: f64, side: f64) -> Self {
        // Wide enough for every pair of contact points that leans as far as allowed.
        let start = 0.5 * limit * SLACK / LEAN;
        Self { outline, limit, side, start, step: 0.5 * limit }
    }

    fn run<F: Frame>(&self) -> Vec<Narrow<F>> {
        if !(self.limit > 0.0 && self.limit.is_finite()) {
            return Vec::new();
        }
        let mut balls: Vec<Ball> = Vec::new();
        // Whether a ball follows the one before it on the outline.
        let mut follows: Vec<bool> = Vec::new();
        let mut found = Vec::new();
        for k in 0..self.outline.rings.len() {
            let from = balls.len();
            let biggest = self.ring(k, &mut balls, &mut follows);
            if let Some(ball) = biggest
                && balls.len() == from
                && self.outline.rings[k].area2 * self.side > 0.0
                && let Some(whole) = self.whole(k, &ball)
            {
                found.push(whole);
            }
        }
        for group in self.grouped(&balls, &follows) {
            found.extend(self.measured(&balls, &follows, &group));
        }
        found.sort_by(|a: &Narrow<F>, b| {
            let key = |n: &Narrow<F>| (n.width.0, n.at[0].x, n.at[0].y);
            let (x, y) = (key(a), key(b));
            x.0.total_cmp(&y.0).then(x.1.total_cmp(&y.1)).then(x.2.total_cmp(&y.2))
        });
        self.once(&mut found);
        found
    }

    /// Balls along one ring. Gives the biggest of them if none had room for the limit.
    fn ring(&self, ring: usize, balls: &mut Vec<Ball>, follows: &mut Vec<bool>) -> Option<Ball> {
        let (o, r) = (self.outline, self.outline.rings[ring]);
        let from = balls.len();
        let mut biggest: Option<Ball> = None;
        let (mut wide, mut last, mut first) = (false, false, true);
        let mut first_narrow = false;
        let mut look = |m: OutlinePlace, n: Vec2, skip: [u32; 2]| {
            let narrow = match self.ball(m, n, skip) {
                Look::Wide => {
                    wide = true;
                    false
                }
                Look::Corner(b) => {
                    if biggest.is_none_or(|best| b.r > best.r) {
                        biggest = Some(b);
                    }
                    false
                }
                Look::Narrow(b) => {
                    balls.push(b);
                    follows.push(last);
                    true
                }
            };
            if first {
                first_narrow = narrow;
            }
            (first, last) = (false, narrow);
        };
        let normal = |e: usize| Vec2::new(-o.edges[e].u.y, o.edges[e].u.x) * self.side;
        // Since the last ball: way and turn.
        let (mut way, mut turned) = (f64::INFINITY, 0.0);
        for i in r.first..r.first + r.count {
            let (e, before) = (&o.edges[i], o.before(i));
            let turn = libm::atan2(o.edges[before].u.cross(e.u), o.edges[before].u.dot(e.u));
            if turn * self.side < -TURN {
                // The outline comes into the area: every direction between the two normals.
                let n0 = normal(before);
                let count = (turn.abs() / TURN).ceil();
                for k in 0..=count as usize {
                    let a = turn * k as f64 / count;
                    let n = turned_by(n0, a);
                    look(OutlinePlace { edge: i as u32, f: 0.0 }, n, [i as u32, before as u32]);
                }
                (way, turned) = (0.0, 0.0);
            } else {
                turned += (-turn * self.side).max(0.0);
            }
            if way + e.len < self.step && turned < 0.7 * TURN {
                way += e.len;
                continue;
            }
            let parts = (e.len / self.step).ceil().max(1.0);
            for k in 0..parts as usize {
                let f = (k as f64 + 0.5) / parts;
                look(OutlinePlace { edge: i as u32, f }, normal(i), [i as u32; 2]);
            }
            (way, turned) = (0.5 * e.len / parts, 0.0);
        }
        // The ring has no beginning.
        if last && first_narrow && balls.len() > from {
            follows[from] = true;
        }
        if wide { None } else { biggest }
    }

    /// The largest empty ball that touches at `m` with its middle along `n`.
    fn ball(&self, m: OutlinePlace, n: Vec2, skip: [u32; 2]) -> Look {
        let o = self.outline;
        let p = o.at(m);
        let mut r = self.start;
        let mut touch = None;
        // Each round takes a point out of the ball; a few suffice, and the bound is only against rounding.
        for _ in 0..64 {
            let c = p + n * r;
            let inside = r * (1.0 - ON_BALL);
            let Some(hit) = o.tree.nearest(c.x, c.y, inside * inside, |id| id == skip[0] || id == skip[1])
            else {
                break;
            };
            let q = At::new(hit.x, hit.y);
            touch = Some((q, hit.id));
            let (v, h) = (q - p, n.dot(q - p));
            r = if h > 0.0 { (v.hypot2() / (2.0 * h)).min(inside) } else { 0.0 };
            if r < NO_BALL {
                r = 0.0;
                break;
            }
        }
        let Some((q, id)) = touch else { return Look::Wide };
        let e = &o.edges[id as usize];
        let f = ((q - e.a).dot(e.u) / e.len).clamp(0.0, 1.0);
        let width = (q - p).hypot();
        let ball = Ball { m, q: OutlinePlace { edge: id, f }, c: p + n * r, r, width };
        let opposite = width <= MEASURE.0 || n.dot(q - p) >= LEAN * width;
        if opposite && width < self.limit * SLACK && !self.near_an_end(&ball) {
            Look::Narrow(ball)
        } else if 2.0 * r >= self.limit {
            Look::Wide
        } else {
            Look::Corner(ball)
        }
    }

    /// Is all that lies beyond the ball no longer than the limit?
    fn near_an_end(&self, b: &Ball) -> bool {
        self.outline.way(b.m, b.q) < 2.0 * self.limit + b.width
    }

    /// Balls that follow one another along the outline or across.
    fn grouped(&self, balls: &[Ball], follows: &[bool]) -> Vec<Vec<usize>> {
        let mut group: Vec<u32> = (0..balls.len() as u32).collect();
        fn root(group: &mut [u32], mut i: u32) -> u32 {
            while group[i as usize] != i {
                group[i as usize] = group[group[i as usize] as usize];
                i = group[i as usize];
            }
            i
        }
        let mut join = |a: usize, b: usize| {
            let (a, b) = (root(&mut group, a as u32), root(&mut group, b as u32));
            let (low, high) = (a.min(b), a.max(b));
            group[high as usize] = low;
        };
        // First and last ball of each ring.
        let mut rings: BTreeMap<u32, (usize, usize)> = BTreeMap::new();
        for (i, b) in balls.iter().enumerate() {
            let ring = self.outline.edges[b.m.edge as usize].ring;
            rings.entry(ring).or_insert((i, i)).1 = i;
        }
        for (i, &f) in follows.iter().enumerate() {
            if f {
                let ring = self.outline.edges[balls[i].m.edge as usize].ring;
                let (first, last) = rings[&ring];
                join(i, if i == first { last } else { i - 1 });
            }
        }
        for (i, b) in balls.iter().enumerate() {
            let Some(&(first, last)) = rings.get(&self.outline.edges[b.q.edge as usize].ring) else {
                continue;
            };
            let s = self.outline.along(b.q);
            let k = first + balls[first..=last].partition_point(|x| self.outline.along(x.m) < s);
            for other in [if k == first { last } else { k - 1 }, if k > last { first } else { k }] {
                let near = self.outline.way(balls[other].m, b.q) <= 1.5 * self.step;
                if near && (balls[other].c - b.c).hypot() <= self.limit {
                    join(i, other);
                }
            }
        }
        let mut lists: BTreeMap<u32, Vec<usize>> = BTreeMap::new();
        for i in 0..balls.len() {
            let r = root(&mut group, i as u32);
            lists.entry(r).or_default().push(i);
        }
        lists.into_values().collect()
    }

    /// The place that a group of balls stands at, if it really is narrower than the limit; a stroke may have
    /// an end that is narrower still.
    fn measured<F: Frame>(&self, balls: &[Ball], follows: &[bool], group: &[usize]) -> Vec<Narrow<F>> {
        let mut order: Vec<usize> = group.to_vec();
        order.sort_by(|&a, &b| balls[a].width.total_cmp(&balls[b].width).then(a.cmp(&b)));
        let (mut neck, mut tip) = (None::<Pair>, None::<Pair>);
        // The narrowest ball of each stretch: where chords are narrowest the curves need not be.
        let mut tried: Vec<At> = Vec::new();
        for &i in &order {
            if tried.len() == 12 {
                break;
            }
            if tried.iter().any(|c| (*c - balls[i].c).hypot() < 2.0 * self.limit) {
                continue;
            }
            tried.push(balls[i].c);
            let (kind, pair) = self.downhill(&balls[i]);
            // A fold of the outline, thinner than its chords are true, has a side that is none.
            let middle = pair.a.midpoint(pair.b);
            if pair.width > 4.0 * FLATTEN.0 && self.outline.tree.odd(middle.x, middle.y) != (self.side > 0.0)
            {
                continue;
            }
            let best = if kind == NarrowKind::Neck { &mut neck } else { &mut tip };
            if best.is_none_or(|b| pair.width < b.width) {
                *best = Some(pair);
            }
        }
        let neck = neck.filter(|n| n.width < self.limit);
        let least = neck.map_or(self.limit, |n| n.width);
        let tip = tip.filter(|t| t.width < least);
        let lines = self.lines(balls, follows, group);
        // Both sides see the same middle line.
        let step = |w: &[Middle<F>]| {
            let within = w[0].width.0 < self.limit && w[1].width.0 < self.limit;
            if within { w[0].at.distance(w[1].at).0 } else { 0.0 }
        };
        let length = Mm(lines.iter().flat_map(|l| l.windows(2).map(step)).sum::<f64>() / 2.0);
        let told = [(NarrowKind::Neck, neck), (NarrowKind::Tip, tip)];
        let told = told.into_iter().filter_map(|(kind, pair)| pair.map(|p| (kind, p)));
        told.map(|(kind, Pair { width, a, b })| Narrow {
            kind,
            width: Mm(width),
            at: [point(a), point(b)],
            length,
            lines: lines.clone(),
        })
        .collect()
    }

    /// Balls of a group that follow each other, as lines.
    fn lines<F: Frame>(&self, balls: &[Ball], follows: &[bool], group: &[usize]) -> Vec<Vec<Middle<F>>> {
        let o = self.outline;
        let ring = |i: usize| o.edges[balls[i].m.edge as usize].ring;
        let mut lines: Vec<Vec<usize>> = Vec::new();
        for &i in group {
            let near = |k: usize| ring(k) == ring(i) && (balls[k].c - balls[i].c).hypot() <= self.limit;
            match lines.last_mut() {
                Some(l) if follows[i] && l.last().is_some_and(|&k| k + 1 == i && near(k)) => l.push(i),
                _ => lines.push(vec![i]),
            }
        }
        // A ring has no beginning: what follows its end is its first line.
        for k in 0..lines.len() {
            let Some(&first) = lines[k].first() else { continue };
            let begins = first == 0 || ring(first - 1) != ring(first);
            if !(begins && follows[first]) {
                continue;
            }
            let end = lines.iter().rposition(|l| l.first().is_some_and(|&i| ring(i) == ring(first)));
            if let Some(e) = end.filter(|&e| e != k)
                && let Some(&last) = lines[e].last()
                && (last + 1 == balls.len() || ring(last + 1) != ring(first))
                && (balls[last].c - balls[first].c).hypot() <= self.limit
            {
                let head = std::mem::take(&mut lines[k]);
                lines[e].extend(head);
            }
        }
        let told = |&i: &usize| {
            let b = &balls[i];
            let across = o.at(b.q) - o.at(b.m);
            let len = across.hypot();
            let n = if len > NO_LENGTH { across / len } else { o.edges[b.m.edge as usize].u };
            // Along the outline at `m`.
            let t = Vec2::new(n.y, -n.x) * self.side;
            Middle { at: point(b.c), along: [t.x, t.y], width: Mm(b.width) }
        };
        lines.iter().filter(|l| !l.is_empty()).map(|l| l.iter().map(told).collect()).collect()
    }

    /// From a ball's contact points to the narrowest place near it: never round a corner to the outline's
    /// other side, and never to where something else comes between.
    fn downhill(&self, ball: &Ball) -> (NarrowKind, Pair) {
        let o = self.outline;
        let (mut p, mut q) = (ball.m, ball.q);
        let own = Pair { width: ball.width, a: o.at(p), b: o.at(q) };
        let (mut d, mut kept) = (ball.width * ball.width, (ball.m, ball.q));
        for _ in 0..200 {
            let (q1, _) = o.settle(q, o.at(p));
            let (p1, d1) = o.settle(p, o.at(q1));
            let (a, b) = (o.at(p1), o.at(q1));
            let near = (a - own.a).hypot() <= self.limit && (b - own.b).hypot() <= self.limit;
            if d1 >= d - LEAST_GAIN || !self.faces(p1, b - a) || !self.faces(q1, a - b) {
                break;
            }
            if o.way(p1, q1) < 2.0 * self.limit + d1.sqrt() {
                // Ever narrower towards an end: the width is taken where the end begins.
                return (NarrowKind::Tip, own);
            }
            (p, q, d) = (p1, q1, d1);
            // Farther off it may only turn out to be a tip.
            if near {
                kept = (p, q);
            }
        }
        let (a, b) = o.closest(kept.0, kept.1, self.step);
        let width = (b - a).hypot();
        let (middle, room) = (a.midpoint(b), 0.5 * width - 3.0 * FLATTEN.0);
        let crowded = room > 0.0 && o.tree.nearest(middle.x, middle.y, room * room, |_| false).is_some();
        (NarrowKind::Neck, if crowded { own } else { Pair { width, a, b } })
    }

    /// Does a way from a place of the outline lead into the side that is measured?
    fn faces(&self, p: OutlinePlace, way: Vec2) -> bool {
        let o = self.outline;
        let into = |edge: usize| o.edges[edge].u.cross(way) * self.side >= 0.0;
        let edge = p.edge as usize;
        let beside = match p.f {
            f if f <= 0.0 => o.before(edge),
            f if f >= 1.0 => o.next(edge),
            _ => edge,
        };
        let (before, after) = if p.f <= 0.0 { (beside, edge) } else { (edge, beside) };
        // Where the outline comes into that side, the way may leave on either edge's side of the corner.
        let hollow = o.edges[before].u.cross(o.edges[after].u) * self.side < 0.0;
        if hollow { into(edge) || into(beside) } else { into(edge) && into(beside) }
    }

    /// A ring in which no ball has room for the limit, looked at again more finely.
    fn whole<F: Frame>(&self, ring: usize, ball: &Ball) -> Option<Narrow<F>> {
        let fine = self.outline.alone(ring, FINE);
        let search = NarrowSearch { outline: &fine, step: 0.1 * self.step, ..*self };
        // Much more room than before: other rings stand inside, and the ball found among them counts.
        let alone = search.ring(0, &mut Vec::new(), &mut Vec::new()).filter(|b| b.r < 1.2 * ball.r);
        let (b, from) = alone.map_or((*ball, self.outline.at(ball.m)), |b| (b, fine.at(b.m)));
        let across = b.c + (b.c - from);
        (2.0 * b.r < self.limit).then(|| Narrow {
            kind: NarrowKind::Whole,
            width: Mm(2.0 * b.r),
            at: [point(from), point(across)],
            length: Mm::ZERO,
            lines: vec![vec![Middle { at: point(b.c), along: [1.0, 0.0], width: Mm(2.0 * b.r) }]],
        })
    }

    /// A place seen from both sides without a link is told once.
    fn once<F: Frame>(&self, found: &mut Vec<Narrow<F>>) {
        let mut kept: Vec<Narrow<F>> = Vec::with_capacity(found.len());
        for n in found.drain(..) {
            // Sorted by width: twins stand close together.
            let twin = kept
                .iter_mut()
                .rev()
                .take_while(|k| (k.width - n.width).abs().0 < SAME_WIDTH)
                .find(|k| k.middle().distance(n.middle()).0 < 1e-3);
            match twin {
                Some(k) => {
                    k.length = k.length.max(n.length);
                    k.lines.extend(n.lines);
                }
                None => kept.push(n),
            }
        }
        *found = kept;
    }
}

fn turned_by(v: Vec2, a: f64) -> Vec2 {
    let (s, c) = (libm::sin(a), libm::cos(a));
    Vec2::new(c * v.x - s * v.y, s * v.x + c * v.y)
}

fn point<F: Frame>(p: At) -> Point<F> {
    Point::mm(p.x, p.y)
}
