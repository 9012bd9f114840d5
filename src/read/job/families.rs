//! The built-in families of spots: smooth closed curves, drawn at a size of 1. One row a family: its name,
//! what it looks like, how small and how supple it is, and its drawing.
//!
//! A family is drawn as a dense closed polyline (a polar curve, or the envelope of a disc that runs along a
//! spine while its radius changes) and the number of nodes, 10 to 14, of the curve that is put through it.
//! A ring is an outline with an opening, and a centre in it.
//!
//! Imports: base, outline, read::job::keys.

use super::keys::Worded;
use crate::base::random::Random;
use crate::outline::plane::{V, add, len, mul, sub};
use std::f64::consts::{PI, TAU};

/// Turn of a spine, radians, below which it is drawn straight: its middle would bulge by an eighth of that
/// share of its length.
const STRAIGHT_SPINE: f64 = 1e-6;
/// Step of the spine's parameter to both sides over which the slope of a radius is taken.
const DIFFERENCE: f64 = 1e-4;

/// A family of spots.
#[derive(Clone, Copy)]
pub struct Row {
    /// Its name in a job.
    pub name: &'static str,
    /// What it looks like.
    pub about: &'static str,
    /// How much of the allowed bend it takes: strong bends make sickles wrap round their neighbours.
    pub supple: f64,
    draw: fn(&mut Random) -> Drawn,
}

/// All families, in the order of the manual.
pub const FAMILIES: &[Row] = &[
    Row { name: "pebble", about: "A rounded stone.", supple: 1.0, draw: |r| plain(pebble(r), 12) },
    Row {
        name: "blob",
        about: "A livelier stone with soft bulges.",
        supple: 1.0,
        draw: |r| plain(blob(r), 12),
    },
    Row { name: "bean", about: "Kidney-shaped.", supple: 0.8, draw: |r| plain(bean(r), 12) },
    Row { name: "seed", about: "Slim, thicker at one end.", supple: 0.8, draw: |r| plain(seed(r), 12) },
    Row {
        name: "drop",
        about: "Round with one rounded tip.",
        supple: 0.65,
        draw: |r| plain(drop_shape(r), 12),
    },
    Row {
        name: "crescent",
        about: "A sickle with rounded tips.",
        supple: 0.5,
        draw: |r| plain(crescent(r), 14),
    },
    Row {
        name: "ring",
        about: "A closed ring in one piece, round a centre where a fill has a second film.",
        supple: 0.0,
        draw: ring,
    },
    Row {
        name: "star-flower",
        about: "Five soft petals in one outline.",
        supple: 0.5,
        draw: |r| Drawn { hull: star_flower(r), parts: vec![] },
    },
    Row {
        name: "petal",
        about: "Slim at its foot, wide and a little notched at its far end.",
        supple: 0.8,
        draw: |r| plain(petal(r), 12),
    },
    Row { name: "dot", about: "A plain round dot.", supple: 1.0, draw: |_| plain(polar(|_| 1.0), 12) },
];

/// A family by its place in [`FAMILIES`].
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct Family(usize);

impl std::fmt::Debug for Family {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(self.row().name)
    }
}

impl Worded for Family {
    const WORDS: &'static [(&'static str, Family)] = &{
        let mut words = [("", Family(0)); FAMILIES.len()];
        let mut i = 0;
        while i < words.len() {
            words[i] = (FAMILIES[i].name, Family(i));
            i += 1;
        }
        words
    };
}

impl Family {
    /// All of them.
    pub fn all() -> impl Iterator<Item = Family> {
        (0..FAMILIES.len()).map(Family)
    }
    /// By its name.
    pub fn named(name: &str) -> Option<Family> {
        FAMILIES.iter().position(|f| f.name == name).map(Family)
    }
    /// Its row.
    pub fn row(self) -> &'static Row {
        &FAMILIES[self.0]
    }
    /// Its name in a job.
    pub fn name(self) -> &'static str {
        self.row().name
    }
    /// One of its shapes.
    pub fn draw(self, random: &mut Random) -> Drawn {
        (self.row().draw)(random)
    }
}

/// A closed polyline, dense, and where the nodes of the curve through it lie.
#[derive(Clone, Debug)]
pub struct Dense {
    /// Its points, counter-clockwise.
    pub ring: Vec<[f64; 2]>,
    /// The nodes.
    pub nodes: Nodes,
}

/// Where the nodes of a curve through a dense polyline lie.
#[derive(Clone, Debug)]
pub enum Nodes {
    /// So many, where they serve best.
    Count(usize),
    /// At these places, in points from the first.
    At(Vec<f64>),
}

/// What a family draws: the outline that packs, and the parts that are cut where they are not the outline
/// itself.
#[derive(Clone, Debug)]
pub struct Drawn {
    /// The outline that packs.
    pub hull: Dense,
    /// Curves and whether they take the tint.
    pub parts: Vec<(Dense, bool)>,
}

fn through(ring: Vec<V>, nodes: usize) -> Dense {
    Dense { ring, nodes: Nodes::Count(nodes) }
}
fn plain(ring: Vec<V>, nodes: usize) -> Drawn {
    Drawn { hull: through(ring, nodes), parts: vec![] }
}

const DENSE: usize = 240;

fn polar(r: impl Fn(f64) -> f64) -> Vec<V> {
    (0..DENSE)
        .map(|i| TAU * i as f64 / DENSE as f64)
        .map(|a| [r(a) * libm::cos(a), r(a) * libm::sin(a)])
        .collect()
}

/// A sum of waves round the turn: (waves, height, phase).
fn waves(terms: &[(f64, f64, f64)], a: f64) -> f64 {
    1.0 + terms.iter().map(|&(n, h, p)| h * libm::cos(n * a + p)).sum::<f64>()
}

fn squashed(ring: Vec<V>, aspect: f64) -> Vec<V> {
    ring.into_iter().map(|p| [p[0], p[1] * aspect]).collect()
}

fn pebble(r: &mut Random) -> Vec<V> {
    let terms = [
        (2.0, r.between(0.0, 0.04), r.between(0.0, TAU)),
        (3.0, r.between(0.015, 0.06), r.between(0.0, TAU)),
        (4.0, r.between(0.0, 0.02), r.between(0.0, TAU)),
    ];
    let aspect = r.between(0.72, 0.98);
    squashed(polar(|a| waves(&terms, a)), aspect)
}

fn blob(r: &mut Random) -> Vec<V> {
    let terms = [
        (2.0, r.between(0.04, 0.10), r.between(0.0, TAU)),
        (3.0, r.between(0.05, 0.11), r.between(0.0, TAU)),
        (4.0, r.between(0.01, 0.05), r.between(0.0, TAU)),
        (5.0, r.between(0.0, 0.02), r.between(0.0, TAU)),
    ];
    let aspect = r.between(0.82, 1.0);
    squashed(polar(|a| waves(&terms, a)), aspect)
}

/// Five round petals: the second wave flattens their tips and sharpens the valleys between.
fn star_flower(r: &mut Random) -> Dense {
    let depth = r.between(0.13, 0.17);
    let uneven = (r.between(0.0, 0.025), r.between(0.0, TAU));
    let dense =
        polar(|a| waves(&[(5.0, depth, 0.0), (10.0, -0.16 * depth, 0.0), (2.0, uneven.0, uneven.1)], a));
    // A node on each tip and in each valley.
    Dense { ring: dense, nodes: Nodes::At((0..10).map(|k| DENSE as f64 * f64::from(k) / 10.0).collect()) }
}

/// An egg of length 1 along x: half-width `wide`, `heavy` at its right end, tips blunted by `blunt`, then
/// bent.
fn egg(wide: f64, heavy: f64, blunt: f64, bend: f64, notch: f64) -> Vec<V> {
    let at = |i: usize| {
        let a = TAU * i as f64 / DENSE as f64;
        let (c, s) = (libm::cos(a), libm::sin(a));
        let turn = if a > PI { a - TAU } else { a };
        let x = 0.5 * c - notch * libm::exp(-(turn * turn) / 0.18);
        [x, wide * s * (1.0 + heavy * c) * (1.0 + blunt * c * c) + bend * (4.0 * x * x - 0.5)]
    };
    even(&(0..DENSE).map(at).collect::<Vec<V>>())
}

/// The envelope of discs of radius `rho(t)` along a circular arc of this turn and length 1, t from 0 to 1.
fn along_spine(turn: f64, rho: impl Fn(f64) -> f64) -> Vec<V> {
    let at = |t: f64| -> (V, V) {
        // Heading runs from -turn/2 to turn/2.
        let h = turn * (t - 0.5);
        let p = if turn.abs() < STRAIGHT_SPINE {
            [t - 0.5, 0.0]
        } else {
            [libm::sin(h) / turn, (libm::cos(turn / 2.0) - libm::cos(h)) / turn]
        };
        (p, [libm::cos(h), libm::sin(h)])
    };
    let n = 120usize;
    let slope = |t: f64| {
        let e = DIFFERENCE;
        let (a, b) = ((t - e).max(0.0), (t + e).min(1.0));
        ((rho(b) - rho(a)) / (b - a)).clamp(-0.95, 0.95)
    };
    let touch = |t: f64, side: f64| {
        let (p, dir) = at(t);
        let normal = [-dir[1], dir[0]];
        let s = slope(t);
        let off = add(mul(dir, -s), mul(normal, side * (1.0 - s * s).sqrt()));
        add(p, mul(off, rho(t)))
    };
    let mut out = Vec::new();
    out.extend((0..=n).map(|i| touch(i as f64 / n as f64, -1.0)));
    cap(&mut out, at(1.0), rho(1.0), slope(1.0), 1.0);
    out.extend((0..=n).rev().map(|i| touch(i as f64 / n as f64, 1.0)));
    cap(&mut out, at(0.0), rho(0.0), slope(0.0), -1.0);
    even(&out)
}

/// The round end of a spine, from its right touch to its left (or back at the start).
fn cap(out: &mut Vec<V>, end: (V, V), rho: f64, slope: f64, ahead: f64) {
    let lean = libm::asin(slope * ahead);
    let half = PI / 2.0 + lean;
    let heading = libm::atan2(ahead * end.1[1], ahead * end.1[0]);
    let m = 40;
    for i in 1..m {
        let a = heading - half + 2.0 * half * f64::from(i) / f64::from(m);
        out.push(add(end.0, [rho * libm::cos(a), rho * libm::sin(a)]));
    }
}

/// Points at even distances along a closed polyline.
fn even(ring: &[V]) -> Vec<V> {
    let n = ring.len();
    let mut length = vec![0.0];
    for i in 0..n {
        length.push(length[i] + len(sub(ring[(i + 1) % n], ring[i])));
    }
    let mut i = 0;
    (0..DENSE)
        .map(|k| {
            let want = length[n] * k as f64 / DENSE as f64;
            while length[i + 1] <= want {
                i += 1;
            }
            let f = (want - length[i]) / (length[i + 1] - length[i]);
            add(mul(ring[i], 1.0 - f), mul(ring[(i + 1) % n], f))
        })
        .collect()
}

fn bean(r: &mut Random) -> Vec<V> {
    let (turn, fat) = (r.between(1.15, 1.5), r.between(0.32, 0.37));
    let (waist, heavy) = (r.between(0.0, 0.03), r.between(-0.035, 0.035));
    along_spine(turn, |t| fat - waist * libm::sin(PI * t) + heavy * (2.0 * t - 1.0))
}

fn seed(r: &mut Random) -> Vec<V> {
    let bend = r.between(0.02, 0.06) * if r.below(2) == 0 { 1.0 } else { -1.0 };
    egg(r.between(0.205, 0.24), r.between(0.2, 0.3), r.between(0.16, 0.26), bend, 0.0)
}

fn drop_shape(r: &mut Random) -> Vec<V> {
    let (turn, fat, tip) = (r.between(-0.5, 0.5), r.between(0.52, 0.62), r.between(0.125, 0.14));
    let hollow = r.between(0.05, 0.25);
    along_spine(turn, |t| tip + (fat - tip) * t * (1.0 - hollow + hollow * t))
}

fn crescent(r: &mut Random) -> Vec<V> {
    let (turn, fat, tip) = (r.between(2.8, 3.3), r.between(0.125, 0.145), r.between(0.058, 0.065));
    let lean = r.between(-0.12, 0.12);
    along_spine(turn, |t| tip + (fat - tip) * libm::sin(PI * t) * (1.0 + lean * (2.0 * t - 1.0)))
}

fn petal(r: &mut Random) -> Vec<V> {
    let bend = r.between(-0.03, 0.03);
    egg(r.between(0.31, 0.37), r.between(0.26, 0.34), r.between(-0.02, 0.06), bend, r.between(0.03, 0.055))
}

/// A closed ring, a little uneven, round a centre of its shape.
fn ring(r: &mut Random) -> Drawn {
    let terms =
        [(2.0, r.between(0.0, 0.05), r.between(0.0, TAU)), (3.0, r.between(0.0, 0.03), r.between(0.0, TAU))];
    // Radii as shares of the hull's: the ring from 0.65 out, the centre to 0.33, and a channel between.
    let (inner, centre) = (0.65, 0.33);
    let at = |share: f64| polar(|a| share * waves(&terms, a));
    // The opening runs the other way round.
    let opening = at(inner).into_iter().rev().collect();
    let parts =
        vec![(through(at(1.0), 12), false), (through(opening, 10), false), (through(at(centre), 8), true)];
    Drawn { hull: through(at(1.0), 12), parts }
}
