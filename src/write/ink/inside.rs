//! Where words fit best inside an outline: the middle of the largest rectangle of their own aspect.
//!
//! ```text
//! turned by -d and squeezed by the aspect a, a rectangle is a square: the place farthest from the outline in the
//! maximum norm is its middle. With clearances c the distance to a point of the outline is
//!     max(|u| - c/a, |v| - c),   u = x/a, v = y,   least over each side at the kinks of a convex function
//! ```
//!
//! Imports: base, outline.

use crate::base::frame::Frame;
use crate::outline::Flat;
use std::rc::Rc;

/// Squared length of an edge, mm2, below which it is a point.
const NO_EDGE: f64 = 1e-18;
/// Turns that are tried, degrees, in their order: figures turned farther are read with the head on the side, and
/// 6 becomes 9.
const TURNS: [f64; 7] = [0.0, 15.0, -15.0, 30.0, -30.0, 45.0, -45.0];
/// The search ends where nothing is higher by more than this, mm, or by this part.
const ENOUGH: f64 = 0.04;
const PART: f64 = 0.03;

/// Places are told apart up to so many times the height that is ever needed: words stand in the middle of a large
/// piece and not just anywhere in it.
const MIDDLE: f64 = 3.0;

/// A place for words.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Inside {
    /// Middle of the rectangle.
    pub at: (f64, f64),
    /// Direction of reading, as (cosine, sine).
    pub turn: (f64, f64),
    /// Its height: the capitals'.
    pub cap: f64,
}

#[derive(Clone)]
struct Cell {
    u: f64,
    v: f64,
    half: f64,
    room: f64,
    /// Distance to the nearest side less the clearances, on either side of it.
    least: f64,
    inside: bool,
    /// The sides of which one is the nearest of any place of the cell that it came of.
    near: Rc<Vec<Side>>,
}

/// A side of an outline from end to end.
type Side = [[f64; 2]; 2];

/// The best place for words `aspect` times as wide as high, `clear` mm off the outline: upright if that allows the
/// wanted height, else turned by no more than is needed for it, else wherever they can be largest. Higher than
/// `most` none need be; where the place allows more, it says so.
pub fn inside<F: Frame>(flat: &Flat<F>, aspect: f64, clear: f64, [wanted, most]: [f64; 2]) -> Inside {
    let mut best = Inside { at: (0.0, 0.0), turn: (1.0, 0.0), cap: 0.0 };
    for deg in TURNS {
        let (c, s) = (libm::cos(deg.to_radians()), libm::sin(deg.to_radians()));
        let squeezed = |p: &[f64; 2]| [(c * p[0] + s * p[1]) / aspect, c * p[1] - s * p[0]];
        let rings: Vec<Vec<[f64; 2]>> = flat.rings.iter().map(|r| r.iter().map(squeezed).collect()).collect();
        let found = roomiest::<true>(&rings, clear / aspect, clear, MIDDLE * most / 2.0);
        let cap = 2.0 * found.room;
        if cap > best.cap {
            let (x, y) = (found.u * aspect, found.v);
            best = Inside { at: (c * x - s * y, s * x + c * y), turn: (c, s), cap };
        }
        if best.cap >= wanted {
            break;
        }
    }
    best
}

/// Quadrants are searched best first. A place is nowhere farther from a side than another by more than they are apart,
/// so of a cell's sides only those that are nearer to its middle than its nearest and its own width can be the nearest
/// of any of its places.
fn roomiest<const NEAR: bool>(rings: &[Vec<[f64; 2]>], a: f64, b: f64, most: f64) -> Cell {
    let all = || rings.iter().flatten();
    let fold = |k: usize| {
        all().map(|p| p[k]).fold((f64::INFINITY, f64::NEG_INFINITY), |m, v| (m.0.min(v), m.1.max(v)))
    };
    let ((u0, u1), (v0, v1)) = (fold(0), fold(1));
    let sides: Rc<Vec<Side>> = Rc::new(rings.iter().flat_map(|r| sides(r)).collect());
    let first = |u: f64, v: f64, half: f64| {
        let least = least(&sides, [u, v], a, b);
        let inside = is_inside(&sides, [u, v]);
        Cell { u, v, half, room: signed(least, inside), least, inside, near: Rc::clone(&sides) }
    };
    let none = Cell { u: 0.0, v: 0.0, half: 0.0, room: 0.0, least: 0.0, inside: false, near: Rc::default() };
    if u0 >= u1 || v0 >= v1 {
        return none;
    }
    let half = ((u1 - u0).min(v1 - v0) / 2.0).max(0.05);
    let mut best = Cell { room: 0.0, ..first((u0 + u1) / 2.0, (v0 + v1) / 2.0, 0.0) };
    let mut cells = Vec::new();
    let count = |side: f64| (side / half / 2.0).ceil().max(1.0) as usize;
    for i in 0..count(u1 - u0) {
        for j in 0..count(v1 - v0) {
            cells.push(first(u0 + half * (2 * i + 1) as f64, v0 + half * (2 * j + 1) as f64, half));
        }
    }
    let bound = |c: &Cell| c.room + c.half;
    while let Some(i) = (0..cells.len()).max_by(|&i, &j| bound(&cells[i]).total_cmp(&bound(&cells[j]))) {
        let c = cells.swap_remove(i);
        if c.room > best.room {
            best = c.clone();
        }
        if best.room >= most || bound(&c) <= best.room + (best.room * PART).max(ENOUGH) {
            break;
        }
        let h = c.half / 2.0;
        let within = c.least + 2.0 * c.half + f64::EPSILON * (c.u.abs() + c.v.abs() + c.half);
        let nearer = |s: &&Side| to_side(from(s[0], [c.u, c.v]), from(s[1], [c.u, c.v]), a, b) <= within;
        let near = match NEAR {
            true => Rc::new(c.near.iter().filter(nearer).copied().collect()),
            false => Rc::clone(&sides),
        };
        for (su, sv) in [(-h, -h), (h, -h), (-h, h), (h, h)] {
            let at = [c.u + su, c.v + sv];
            let least = least(&near, at, a, b);
            // No side lies between a place and another that is nearer to it than any side.
            let inside = if NEAR && c.least > h { c.inside } else { is_inside(&sides, at) };
            let room = signed(least, inside);
            cells.push(Cell { u: at[0], v: at[1], half: h, room, least, inside, near: Rc::clone(&near) });
        }
    }
    best
}

fn sides(ring: &[[f64; 2]]) -> impl Iterator<Item = Side> + '_ {
    (0..ring.len()).map(|i| [ring[(i + ring.len() - 1) % ring.len()], ring[i]])
}

fn from(p: [f64; 2], at: [f64; 2]) -> [f64; 2] {
    [p[0] - at[0], p[1] - at[1]]
}

/// Distance of a point to the nearest side, less the clearances.
fn least(sides: &[Side], at: [f64; 2], a: f64, b: f64) -> f64 {
    let mut least = f64::INFINITY;
    for [p, q] in sides {
        let (p, q) = (from(*p, at), from(*q, at));
        if nearest(p, q, 0) - a < least && nearest(p, q, 1) - b < least {
            least = least.min(to_side(p, q, a, b));
        }
    }
    least
}

/// By the even-odd rule.
fn is_inside(sides: &[Side], at: [f64; 2]) -> bool {
    let crossed = |[p, q]: &&Side| {
        (p[1] > at[1]) != (q[1] > at[1]) && {
            let (p0, q0) = (from(*p, at), from(*q, at));
            p0[0] - p0[1] * (q0[0] - p0[0]) / (q0[1] - p0[1]) > 0.0
        }
    };
    sides.iter().filter(crossed).count() % 2 == 1
}

/// Negative outside.
fn signed(least: f64, inside: bool) -> f64 {
    if inside { least } else { -least.abs().max(f64::MIN_POSITIVE) }
}

/// No point of a side is nearer than this along one axis.
fn nearest(p: [f64; 2], q: [f64; 2], k: usize) -> f64 {
    if (p[k] < 0.0) != (q[k] < 0.0) { 0.0 } else { p[k].abs().min(q[k].abs()) }
}

/// Least of `max(|u| - a, |v| - b)` along a side seen from the origin: convex and piecewise straight, so at an end
/// or a kink.
fn to_side(p: [f64; 2], q: [f64; 2], a: f64, b: f64) -> f64 {
    let (du, dv) = (q[0] - p[0], q[1] - p[1]);
    let at = |t: f64| {
        let t = t.clamp(0.0, 1.0);
        ((p[0] + t * du).abs() - a).max((p[1] + t * dv).abs() - b)
    };
    let mut least = at(0.0).min(at(1.0));
    if du * du + dv * dv < NO_EDGE {
        return least;
    }
    let mut kink = |over: f64, under: f64| {
        if under != 0.0 {
            least = least.min(at(over / under));
        }
    };
    kink(-p[0], du);
    kink(-p[1], dv);
    for (s, r) in [(1.0, 1.0), (1.0, -1.0), (-1.0, 1.0), (-1.0, -1.0)] {
        // s u - a = r v - b
        kink(a - b - s * p[0] + r * p[1], s * du - r * dv);
    }
    least
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::frame::{Page, Point};
    use crate::base::units::Mm;
    use crate::outline::{Op, Region};
    use proptest::prelude::*;

    fn flat(corners: &[[f64; 2]]) -> Flat<Page> {
        Region::<Page>::polygon(corners).flat(Mm(0.01))
    }

    /// Closed form: in a triangle of base b and height h the largest rectangle of aspect a on the base is as high as
    /// h b / (b + a h).
    #[test]
    fn a_triangle() {
        for (b, h, a) in [(40.0, 30.0, 1.0), (30.0, 12.0, 2.3), (12.0, 30.0, 0.8)] {
            let t = flat(&[[0.0, 0.0], [b, 0.0], [b / 2.0, h]]);
            let found = inside(&t, a, 0.0, [0.0, 1e9]);
            let want = h * b / (b + a * h);
            assert!(found.cap <= want + 1e-9 && found.cap > want * 0.96, "{found:?} {want}");
        }
    }

    /// By hand: a bar of 10 by 2.4 mm holds a number of 1.8 mm with .3 mm round it; a ring holds it in its band.
    #[test]
    fn a_bar_and_a_ring() {
        let bar = flat(&[[0.0, 0.0], [10.0, 0.0], [10.0, 2.4], [0.0, 2.4]]);
        let found = inside(&bar, 2.3, 0.3, [1.7, 1e9]);
        assert!(found.cap > 1.72 && found.cap <= 1.8 + 1e-9 && found.turn == (1.0, 0.0), "{found:?}");
        let disc = |r: f64| Region::<Page>::disc(Point::ORIGIN, Mm(r));
        let ring = disc(20.0).op(&disc(16.0), Op::Difference).flat(Mm(0.01));
        let found = inside(&ring, 2.3, 0.3, [1.8, 1e9]);
        let far = libm::hypot(found.at.0, found.at.1);
        assert!(found.cap > 1.4 && (16.0..20.0).contains(&far), "{found:?}");
    }

    proptest! {
        /// Fast equals slow: with the sides of each cell alone the search goes the same way to the same place as with
        /// all of them.
        #[test]
        fn near_sides_are_all_that_matter(radii in proptest::collection::vec(1.0..12.0f64, 4..40), a in 0.0..0.6f64, b in 0.0..0.6f64) {
            let n = radii.len() as f64;
            let corner = |(k, r): (usize, &f64)| {
                let t = std::f64::consts::TAU * k as f64 / n;
                [r * t.cos(), r * t.sin()]
            };
            let star: Vec<[f64; 2]> = radii.iter().enumerate().map(corner).collect();
            let hole: Vec<[f64; 2]> = star.iter().map(|p| [p[0] * 0.3, p[1] * 0.4]).collect();
            let rings = [star, hole];
            let (fast, slow) = (roomiest::<true>(&rings, a, b, 1e9), roomiest::<false>(&rings, a, b, 1e9));
            prop_assert_eq!((fast.u, fast.v, fast.half, fast.room), (slow.u, slow.v, slow.half, slow.room));
        }
        /// Reference: a fine grid of places and sizes on random stars; and the rectangle found lies inside.
        #[test]
        fn stars(radii in proptest::collection::vec(3.0..12.0f64, 5..12), aspect in 0.7..2.6f64) {
            let n = radii.len() as f64;
            let corner = |(k, r): (usize, &f64)| {
                let a = std::f64::consts::TAU * k as f64 / n;
                [r * a.cos(), r * a.sin()]
            };
            let star = flat(&radii.iter().enumerate().map(corner).collect::<Vec<_>>());
            let found = inside(&star, aspect, 0.0, [0.0, 1e9]);
            let free = |x: f64, y: f64, cap: f64| {
                let (w, h) = (cap * aspect / 2.0, cap / 2.0);
                let sides = [(-w, -h), (w, -h), (w, h), (-w, h)];
                use geo::{Contains, LineString, Polygon};
                let area = Polygon::new(LineString::from(star.rings[0].iter().map(|p| (p[0], p[1])).collect::<Vec<_>>()), vec![]);
                area.contains(&Polygon::new(LineString::from(sides.iter().map(|s| (x + s.0, y + s.1)).collect::<Vec<_>>()), vec![]))
            };
            prop_assert!(free(found.at.0, found.at.1, found.cap * 0.999));
            for i in -8..=8 {
                for j in -8..=8 {
                    let (x, y) = (f64::from(i) * 1.4, f64::from(j) * 1.4);
                    prop_assert!(!free(x, y, (found.cap + 2.0 * ENOUGH) * 1.035 + 0.01), "{found:?} {x} {y}");
                }
            }
        }
    }
}
