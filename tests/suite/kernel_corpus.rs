//! What the outline kernel is measured with: words, flower-like motifs, nasty shapes, and the truth of an
//! offset.
//!
//! Shared by the tests and by benches/kernel.rs.
#![allow(dead_code, clippy::needless_range_loop)]

use frusta::base::frame::{Art, Point};
use frusta::base::units::Mm;
use frusta::outline::{BezPath, Clearance, FillRule, Flat, PathEl, Region};

/// One artwork: its name and its outline.
pub struct Artwork {
    pub name: String,
    pub region: Region<Art>,
}

/// The distances of the corpus, mm.
pub const DISTANCES: [f64; 6] = [-1.5, -0.4, 0.4, 1.5, 4.0, 12.0];

/// A small generator (SplitMix64, Steele, Lea and Flood 2014): the same numbers everywhere.
pub struct Dice(pub u64);
impl Dice {
    pub fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }
    pub fn unit(&mut self) -> f64 {
        (self.next() >> 11) as f64 / (1u64 << 53) as f64
    }
    pub fn range(&mut self, a: f64, b: f64) -> f64 {
        a + (b - a) * self.unit()
    }
    pub fn below(&mut self, n: usize) -> usize {
        (self.next() % n as u64) as usize
    }
}

/// 36 words in six open fonts (sources named in tests/outside/kernel_words.py).
pub fn words() -> Vec<Artwork> {
    include_str!("../../fixtures/kernel-words.txt")
        .lines()
        .map(|line| {
            let (name, d) = line.split_once('\t').expect("name, tab, path");
            let path = BezPath::from_svg(d).expect("path data");
            Artwork { name: name.to_owned(), region: Region::filled([path], FillRule::NonZero) }
        })
        .collect()
}

/// 60 flower-like motifs: overlapping petals of two cubics, most with an eye cut out.
pub fn flowers() -> Vec<Artwork> {
    let mut dice = Dice(60);
    (0..60)
        .map(|k| {
            let petals = 4 + dice.below(7);
            let (r, fat, tip) = (dice.range(8.0, 22.0), dice.range(0.25, 0.75), dice.range(0.6, 1.25));
            let skew = dice.range(-0.25, 0.25);
            let mut paths = Vec::new();
            for p in 0..petals {
                let a = std::f64::consts::TAU * p as f64 / petals as f64 + 0.1 * k as f64;
                let at = |along: f64, across: f64| {
                    let (s, c) = (a.sin(), a.cos());
                    (r * (along * c - across * s), r * (along * s + across * c))
                };
                let mut path = BezPath::new();
                path.move_to(at(0.05, 0.0));
                path.curve_to(at(0.3, -fat), at(tip, -fat * 0.8 + skew), at(1.0, skew * 0.3));
                path.curve_to(at(tip, fat * 0.8 + skew), at(0.3, fat), at(0.05, 0.0));
                paths.push(path);
            }
            let bloom: Region<Art> = Region::filled(paths, FillRule::NonZero);
            let eye = Region::disc(Point::ORIGIN, Mm(r * dice.range(0.1, 0.22)));
            let centre = Region::disc(Point::ORIGIN, Mm(r * 0.3));
            let whole = Region::union_of([&bloom, &centre]);
            let region = if k % 4 == 3 { whole } else { whole.op(&eye, frusta::outline::Op::Difference) };
            Artwork { name: format!("flower {k}"), region }
        })
        .collect()
}

/// 27 shapes that offsets and booleans tend to get wrong.
pub fn nasty() -> Vec<Artwork> {
    let mut out: Vec<Artwork> = Vec::new();
    let mut put = |name: &str, ds: &[&str], rule: FillRule| {
        let paths: Vec<BezPath> = ds.iter().map(|d| BezPath::from_svg(d).expect(name)).collect();
        out.push(Artwork { name: name.to_owned(), region: Region::filled(paths, rule) });
    };
    use FillRule::NonZero;
    put("sharp star", &["M0 20L2 3L19 6L4 -2L12 -17L0 -5L-12 -17L-4 -2L-19 6L-2 3Z"], NonZero);
    put("needle", &["M0 0L60 0.4L0 0.8Z"], NonZero);
    put("slit 0.3", &["M0 0H30V20H15.3V3H15V20H0Z"], NonZero);
    put("slit 0.05", &["M0 0H30V20H15.05V3H15V20H0Z"], NonZero);
    put("comb", &["M0 0H40V20H38V4H34V20H32V4H28V20H26V4H22V20H20V4H16V20H14V4H10V20H8V4H4V20H0Z"], NonZero);
    put(
        "dumb-bell",
        &["M0 0C0 -12 20 -12 20 -0.4H30C30 -12 50 -12 50 0C50 12 30 12 30 0.4H20C20 12 0 12 0 0Z"],
        NonZero,
    );
    put(
        "tangent discs",
        &[
            "M0 0C0 13.2 20 13.2 20 0C20 -13.2 0 -13.2 0 0Z",
            "M20 0C20 13.2 40 13.2 40 0C40 -13.2 20 -13.2 20 0Z",
        ],
        NonZero,
    );
    put(
        "near discs",
        &[
            "M0 0C0 13.2 20 13.2 20 0C20 -13.2 0 -13.2 0 0Z",
            "M20.02 0C20.02 13.2 40 13.2 40 0C40 -13.2 20.02 -13.2 20.02 0Z",
        ],
        NonZero,
    );
    out.extend(crossing_and_holed());
    out
}

fn crossing_and_holed() -> Vec<Artwork> {
    let mut out: Vec<Artwork> = Vec::new();
    let mut put = |name: &str, ds: &[&str], rule: FillRule| {
        let paths: Vec<BezPath> = ds.iter().map(|d| BezPath::from_svg(d).expect(name)).collect();
        out.push(Artwork { name: name.to_owned(), region: Region::filled(paths, rule) });
    };
    use FillRule::{EvenOdd, NonZero};
    put("loop", &["M0 0C60 40 -30 40 30 0Z"], NonZero);
    put("loop odd", &["M0 0C90 50 -60 50 30 0Z"], EvenOdd);
    put("cusp", &["M0 0C30 30 0 30 30 0L15 -10Z"], NonZero);
    put("leaf", &["M0 0C10 12 30 12 40 0C30 -12 10 -12 0 0Z"], NonZero);
    put("crescent", &["M0 -20C26 -20 26 20 0 20C17 16 17 -16 0 -20Z"], NonZero);
    put(
        "thin ring",
        &[
            "M-20 0C-20 26.6 20 26.6 20 0C20 -26.6 -20 -26.6 -20 0Z",
            "M-19.5 0C-19.5 -26 19.5 -26 19.5 0C19.5 26 -19.5 26 -19.5 0Z",
        ],
        NonZero,
    );
    put(
        "tiny hole",
        &["M-20 -20H20V20H-20Z", "M-0.15 0C-0.15 0.2 0.15 0.2 0.15 0C0.15 -0.2 -0.15 -0.2 -0.15 0Z"],
        EvenOdd,
    );
    put(
        "many holes",
        &[
            "M0 0H40V30H0Z",
            "M5 5H9V9H5Z",
            "M12 5H16V9H12Z",
            "M19 5H20V25H19Z",
            "M25 5H35V6H25Z",
            "M25 8H35V18H25Z",
            "M27 10H33V16H27Z",
        ],
        EvenOdd,
    );
    put("bow tie", &["M0 0L30 20V0L0 20Z"], NonZero);
    put("bow tie odd", &["M0 0L30 20V0L0 20Z"], EvenOdd);
    put("zero edges", &["M0 0L0 0L10 0L10 0C10 0 10 0 10 0L10 10L10 10L0 10Z"], NonZero);
    put("folded hair", &["M0 0C40 0.00001 -20 0.00002 20 0L20 15L0 15Z"], NonZero);
    put("spike", &["M0 0H20V9.999L50 10L20 10.001V20H0Z"], NonZero);
    put("notch", &["M0 0H20V9.9L5 10L20 10.1V20H0Z"], NonZero);
    put("double edge", &["M0 0H20V20H0Z", "M20 0H40V20H20Z", "M0 20H40V30H0Z"], NonZero);
    put("near edge", &["M0 0H20V20H0Z", "M20.0002 0H40V20H20.0002Z"], NonZero);
    put(
        "round slot",
        &[
            "M5 0H35C41.7 0 41.7 10 35 10H5C-1.7 10 -1.7 0 5 0Z",
            "M5 4C3.7 4 3.7 6 5 6H35C36.3 6 36.3 4 35 4Z",
        ],
        EvenOdd,
    );
    put("waves", &[&waves()], NonZero);
    put("spiral", &[&spiral()], NonZero);
    out
}

fn waves() -> String {
    let mut wave = String::from("M0 0");
    for k in 0..12 {
        let x = 4.0 * k as f64;
        wave += &format!(
            "C{} {} {} {} {} 0",
            x + 2.0,
            6.0,
            x + 2.0,
            if k % 2 == 0 { 6.0 } else { -6.0 },
            x + 4.0
        );
    }
    wave + "V-12H0Z"
}

/// A band that winds outwards.
fn spiral() -> String {
    let mut spiral = String::from("M0 0");
    for k in 1..200 {
        let a = 0.15 * k as f64;
        spiral += &format!("L{:.4} {:.4}", a * 0.8 * a.cos(), a * 0.8 * a.sin());
    }
    for k in (1..200).rev() {
        let a = 0.15 * k as f64;
        spiral += &format!("L{:.4} {:.4}", (a * 0.8 + 1.2) * a.cos(), (a * 0.8 + 1.2) * a.sin());
    }
    spiral + "Z"
}

/// All artworks.
pub fn corpus() -> Vec<Artwork> {
    let mut all = words();
    all.extend(flowers());
    all.extend(nasty());
    all
}

/// How far an offset is from the true one.
#[derive(Clone, Copy, Debug, Default)]
pub struct Error {
    /// Largest departure of the result's boundary from the level set of the distance, mm.
    pub off: f64,
    /// Largest distance of the true boundary from the result's, mm.
    pub missed: f64,
    /// Where each was found.
    pub off_at: [f64; 2],
    pub missed_at: [f64; 2],
}
impl Error {
    pub fn worst(&self) -> f64 {
        self.off.max(self.missed)
    }
}

/// The true offset of one artwork, from the definition: a point belongs to its boundary exactly if its
/// distance to the outline is the distance asked for (and it lies on the right side). No library's buffer is
/// asked.
pub struct Truth {
    source: Clearance<Art>,
    inside: Clearance<Art>,
    /// Points moved straight out from a dense sampling of the outline, of which the true boundary is made.
    feet: Vec<([f64; 2], [f64; 2])>,
    corners: Vec<([f64; 2], f64, f64)>,
}

/// The outline is flattened this finely for the truth, mm.
const FINE: f64 = 4e-5;

impl Truth {
    pub fn of(region: &Region<Art>) -> Truth {
        let flat = region.flat(Mm(FINE));
        let mut feet = Vec::new();
        let mut corners = Vec::new();
        for ring in &flat.rings {
            let n = ring.len();
            let dir = |i: usize| {
                let (a, b) = (ring[i % n], ring[(i + 1) % n]);
                let l = ((b[0] - a[0]).powi(2) + (b[1] - a[1]).powi(2)).sqrt();
                [(b[0] - a[0]) / l, (b[1] - a[1]) / l, l]
            };
            let mut since = 1.0;
            for i in 0..n {
                let (u, v) = (dir(i + n - 1), dir(i));
                let turn = (u[0] * v[1] - u[1] * v[0]).atan2(u[0] * v[0] + u[1] * v[1]);
                if turn.abs() > 0.02 {
                    corners.push((ring[i], (-u[0]).atan2(u[1]), turn));
                } else {
                    // The vertices lie on the curve; the mean of the edges' normals is the curve's within the
                    // square of the turn.
                    since += v[2];
                    if since > 0.03 {
                        let m = [u[0] + v[0], u[1] + v[1]];
                        let l = (m[0] * m[0] + m[1] * m[1]).sqrt();
                        feet.push((ring[i], [m[1] / l, -m[0] / l]));
                        since = 0.0;
                    }
                }
                let steps = (v[2] / 0.1) as usize;
                for k in 1..=steps {
                    let s = v[2] * k as f64 / (steps + 1) as f64;
                    feet.push(([ring[i][0] + s * v[0], ring[i][1] + s * v[1]], [v[1], -v[0]]));
                }
            }
        }
        Truth { source: Clearance::new(flat), inside: Clearance::new(region.flat(Mm(1e-3))), feet, corners }
    }
    fn right_side(&self, p: Point<Art>, by: f64) -> bool {
        self.inside.contains(p) == (by < 0.0)
    }
    /// Distance to the outline.
    pub fn distance(&self, p: Point<Art>) -> f64 {
        self.source.nearest(p, Mm(1e9)).map_or(f64::INFINITY, |n| n.distance.0)
    }
    /// The error of a result given as polylines that stand for it within `1e-3` or better.
    pub fn error(&self, result: &Flat<Art>, by: f64) -> Error {
        let mut e = Error::default();
        for ring in &result.rings {
            for i in 0..ring.len() {
                let (a, b) = (ring[i], ring[(i + 1) % ring.len()]);
                let l = ((b[0] - a[0]).powi(2) + (b[1] - a[1]).powi(2)).sqrt();
                let steps = ((l / 0.2) as usize).max(1);
                for k in 0..steps {
                    let s = (k as f64 + 0.5) / steps as f64;
                    let p = Point::mm(a[0] + s * (b[0] - a[0]), a[1] + s * (b[1] - a[1]));
                    let off = if self.right_side(p, by) {
                        (self.distance(p) - by.abs()).abs()
                    } else {
                        self.distance(p) + by.abs()
                    };
                    if off > e.off {
                        (e.off, e.off_at) = (off, [p.x, p.y]);
                    }
                }
            }
        }
        let got = Clearance::new(result.clone());
        // A boundary counts if there is something beyond it: where the outline is exactly twice the distance
        // wide, what remains has no width, and either answer is right.
        let beyond = by + 1e-3 * by.signum();
        let mut look = |q: [f64; 2], n: [f64; 2]| {
            let at = |by: f64| Point::mm(q[0] + by * n[0], q[1] + by * n[1]);
            let p = at(by);
            let miss = got.nearest(p, Mm(1e9)).map_or(1e9, |n| n.distance.0);
            if miss > e.missed
                && self.right_side(p, by)
                && self.distance(p) >= by.abs() - 2.0 * FINE
                && self.distance(at(beyond)) >= beyond.abs() - 2.0 * FINE
            {
                (e.missed, e.missed_at) = (miss, [p.x, p.y]);
            }
        };
        for (q, n) in &self.feet {
            look(*q, *n);
        }
        for &(q, from, turn) in &self.corners {
            if turn * by > 0.0 {
                let steps = ((turn * by).abs() / 0.1).ceil().max(1.0);
                for k in 0..=steps as usize {
                    let a = from + turn * k as f64 / steps;
                    look(q, [a.cos(), a.sin()]);
                }
            }
        }
        e
    }
    /// Joints of the result that turn by more than `limit` radians where the true boundary is smooth.
    ///
    /// The true boundary has a corner exactly where the nearest place of the outline jumps. Walking through
    /// the joint along the result, as far as a corner of this turn may be displaced by the error allowed, the
    /// direction to the nearest place is followed. It turns as the boundary does: an interval is halved
    /// towards the half that turns more in the joint's own sense (a boundary that bends the other way beside
    /// a corner must not hide it) until it is plain whether a jump is left (a true corner) or nothing (a kink
    /// of the result).
    pub fn kinks(&self, result: &Region<Art>, limit: f64) -> Vec<[f64; 2]> {
        let mut diagnostics = Vec::new();
        for path in result.contours() {
            for (p, turn, heading) in joints(path) {
                if turn.abs() > limit && !self.corner_near(p, turn, heading) {
                    diagnostics.push(p);
                }
            }
        }
        diagnostics
    }
    fn corner_near(&self, p: [f64; 2], turn: f64, heading: f64) -> bool {
        let reach = 0.02 + 0.0105 / (0.5 * turn.abs()).tan().clamp(0.005, 1.0);
        // The walk leaves the boundary by at most `reach * turn`, little beside the distance.
        let direction = |s: f64| {
            let at = Point::mm(p[0] + s * heading.cos(), p[1] + s * heading.sin());
            let n = self.source.nearest(at, Mm(1e9)).expect("an outline");
            (n.at.x - at.x, n.at.y - at.y)
        };
        // From one direction to another, positive in the joint's own sense; a point or a slit turns either
        // way.
        let change = |a: (f64, f64), b: (f64, f64)| {
            let by = (a.0 * b.1 - a.1 * b.0).atan2(a.0 * b.0 + a.1 * b.1);
            if turn.abs() > 2.0 { by.abs() } else { by * turn.signum() }
        };
        let steps = 40;
        (0..steps).any(|k| {
            let at = |k: i32| reach * (2.0 * f64::from(k) / f64::from(steps) - 1.0);
            let (mut s, mut t) = (at(k), at(k + 1));
            let (mut u, mut v) = (direction(s), direction(t));
            for _ in 0..16 {
                let m = f64::midpoint(s, t);
                let w = direction(m);
                if change(u, w) > change(w, v) { (t, v) = (m, w) } else { (s, u) = (m, w) }
            }
            change(u, v) >= 0.4 * turn.abs()
        })
    }
}

/// Joints of a closed path: place, turn and mean heading, radians.
pub fn joints(path: &BezPath) -> Vec<([f64; 2], f64, f64)> {
    let mut ends: Vec<([f64; 2], [f64; 2], [f64; 2])> = Vec::new(); // start, direction out, direction in
    let mut last = (0.0, 0.0);
    let mut first = (0.0, 0.0);
    let unit = |list: &[(f64, f64)]| {
        list.iter()
            .find(|v| v.0.hypot(v.1) > 1e-9)
            .map_or([1.0, 0.0], |v| [v.0 / v.0.hypot(v.1), v.1 / v.0.hypot(v.1)])
    };
    let sub = |a: (f64, f64), b: (f64, f64)| (a.0 - b.0, a.1 - b.1);
    for el in path.elements() {
        match *el {
            PathEl::MoveTo(p) => (first, last) = ((p.x, p.y), (p.x, p.y)),
            PathEl::LineTo(p) => {
                let p = (p.x, p.y);
                ends.push(([last.0, last.1], unit(&[sub(p, last)]), unit(&[sub(p, last)])));
                last = p;
            }
            PathEl::CurveTo(a, b, p) => {
                let (a, b, p) = ((a.x, a.y), (b.x, b.y), (p.x, p.y));
                ends.push((
                    [last.0, last.1],
                    unit(&[sub(a, last), sub(b, last), sub(p, last)]),
                    unit(&[sub(p, b), sub(p, a), sub(p, last)]),
                ));
                last = p;
            }
            PathEl::ClosePath if sub(first, last).0.hypot(sub(first, last).1) > 1e-9 => {
                ends.push(([last.0, last.1], unit(&[sub(first, last)]), unit(&[sub(first, last)])));
            }
            _ => {}
        }
    }
    let n = ends.len();
    (0..n)
        .map(|i| {
            let (u, v) = (ends[(i + n - 1) % n].2, ends[i].1);
            let turn = (u[0] * v[1] - u[1] * v[0]).atan2(u[0] * v[0] + u[1] * v[1]);
            (ends[i].0, turn, (u[1] + v[1]).atan2(u[0] + v[0]))
        })
        .collect()
}
