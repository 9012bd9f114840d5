//! Rounded corners and start points over the corpus, measured; the bench `width -- round` prints the same
//! figures.

use super::corpus::{Artwork, joints};
use frusta::base::frame::{Art, Point};
use frusta::base::units::{Angle, Mm};
use frusta::outline::{BezPath, Clearance, FillRule, Join, KurboShape, Region, start_places, started_at};

/// Corners sharper than this are rounded.
pub const LIMIT: Angle = Angle::radians(std::f64::consts::FRAC_PI_3);
/// By this radius.
pub const RADIUS: Mm = Mm(0.3);
/// Chord error of what is compared, mm.
const FINE: Mm = Mm(1e-4);
/// Places along a contour are this far apart, mm.
const FINER: f64 = 0.005;
/// Starts keep this far from corners, mm.
const REACH: f64 = 1.0;

/// What rounding did to some artworks.
#[derive(Debug, Default)]
pub struct Rounds {
    /// Corners sharper than the limit; those rounded by the radius, by less, and not for want of room.
    pub corners: usize,
    pub whole: usize,
    pub less: usize,
    pub none: usize,
    /// Corners left that are sharper than the limit and were not told as having no room.
    pub left: Vec<String>,
    /// Outline that moved, and how far the farthest of it did.
    pub moved: usize,
    pub farthest: Mm,
    /// Places that moved though a ball of the radius can reach them.
    pub reached: Vec<String>,
    /// Results that wind about some place more than once.
    pub wound: Vec<String>,
    pub nodes: [usize; 2],
}

/// Every corner of the artworks rounded, and looked at.
pub fn rounds(all: &[Artwork]) -> Rounds {
    let mut all_told = Rounds::default();
    all.iter().for_each(|a| one(a, &mut all_told));
    all_told
}

fn one(a: &Artwork, told: &mut Rounds) {
    let (round, report) = a.region.rounded(LIMIT, RADIUS);
    told.corners += report.len();
    told.whole += report.iter().filter(|r| r.radius == Some(RADIUS)).count();
    told.less += report.iter().filter(|r| r.radius.is_some_and(|v| v < RADIUS)).count();
    let none: Vec<Point<Art>> = report.iter().filter(|r| r.radius.is_none()).map(|r| r.corner.at).collect();
    told.none += none.len();
    told.nodes[0] += a.region.nodes();
    told.nodes[1] += round.nodes();
    // What winds about some place twice, or the wrong way, has another area than the sum of its contours.
    let refilled = Region::<Art>::filled(round.contours().iter().cloned(), FillRule::NonZero).area();
    if (refilled - round.area()).0.abs() > 1e-3 + 1e-5 * round.perimeter().0 {
        told.wound.push(format!("{} {refilled:?} {:?}", a.name, round.area()));
    }
    for c in round.sharp_corners(LIMIT) {
        if none.iter().all(|p| p.distance(c.at).0 > 0.06) {
            told.left.push(format!("{} {:?} {:.1}", a.name, c.at, c.angle.deg()));
        }
    }
    // A tip is what no ball within reaches, a notch what no ball outside does. Where balls can lie their
    // middles are a radius or more from the outline: polylines offset.
    let flat = a.region.flat(FINE);
    let [within, outside] = [-RADIUS, RADIUS].map(|by| Clearance::new(flat.offset(by, Join::Round)));
    let index = Clearance::new(round.flat(FINE));
    for p in flat.rings.iter().flatten().map(|p| Point::mm(p[0], p[1])) {
        let off = index.nearest(p, Mm(1e6)).map_or(Mm(1e6), |n| n.distance);
        if off <= FINE * 3.0 {
            continue;
        }
        told.moved += 1;
        told.farthest = told.farthest.max(off);
        let balls = if index.contains(p) { &outside } else { &within };
        let ball = balls.nearest(p, Mm(1e6)).map_or(Mm(1e6), |n| n.distance);
        if ball < RADIUS - FINE * 5.0 {
            told.reached.push(format!("{} {:?} moved by {off}, a ball at {ball}", a.name, [p.x, p.y]));
        }
    }
}

/// Where contours of some artworks start.
#[derive(Debug, Default)]
pub struct Starts {
    pub contours: usize,
    /// Start at least the reach along the contour from every joint that turns by more than ten degrees.
    pub clear: usize,
    /// Nearer, though some stretch of the contour three times the reach long has no such joint.
    pub missed: Vec<String>,
    /// Area or length changed by starting there.
    pub changed: Vec<String>,
    /// Sum of the bends within the reach of the starts, and of those of the contours' own first points
    /// (radians).
    pub bend: [f64; 2],
}

/// The smoothest start of every contour longer than six times the reach.
pub fn starts(all: &[Artwork]) -> Starts {
    let mut told = Starts::default();
    for (a, path) in all.iter().flat_map(|a| a.region.contours().iter().map(move |c| (a, c))) {
        let length = path.perimeter(1e-4);
        if length < 6.0 * REACH {
            continue;
        }
        told.contours += 1;
        let places = start_places(path, REACH, 16);
        let Some(best) = places.iter().min_by(|a, b| a.bend.total_cmp(&b.bend)) else {
            told.missed.push(format!("{}: no place", a.name));
            continue;
        };
        let moved = started_at(path, best.segment, best.t);
        if (moved.area() - path.area()).abs() > 1e-6 * length || (moved.perimeter(1e-4) - length).abs() > 1e-2
        {
            told.changed.push(a.name.clone());
        }
        told.bend[0] += turning(&moved);
        told.bend[1] += turning(path);
        let sharp: Vec<[f64; 2]> =
            joints(path).into_iter().filter(|j| j.1.abs() > 30f64.to_radians()).map(|j| j.0).collect();
        let ring = along(&moved, FINER);
        let far = |p: &[f64; 2], q: &[f64; 2]| (p[0] - q[0]).hypot(p[1] - q[1]);
        let at =
            |q: &[f64; 2]| (0..ring.len()).min_by(|i, k| far(&ring[*i], q).total_cmp(&far(&ring[*k], q)));
        let mut stops: Vec<f64> =
            sharp.iter().filter_map(at).map(|i| i as f64 / ring.len() as f64 * length).collect();
        stops.extend(stops.iter().map(|s| s + length).collect::<Vec<_>>());
        stops.sort_by(f64::total_cmp);
        let near = stops.iter().map(|s| s.min((length - s).abs())).fold(f64::INFINITY, f64::min);
        let widest = stops.windows(2).map(|w| w[1] - w[0]).fold(0.0, f64::max);
        if near >= REACH - 2.0 * FINER {
            told.clear += 1;
        } else if widest >= 3.0 * REACH {
            told.missed.push(format!("{} {:?} {near:.2} from a corner", a.name, best.at));
        }
    }
    told
}

/// Places along a contour, so far apart at most.
fn along(path: &BezPath, step: f64) -> Vec<[f64; 2]> {
    let ring = &Region::<Art>::trusted([path.clone()]).flat(Mm(1e-3)).rings[0];
    let length: f64 = sides(ring).map(|(a, b)| (b[0] - a[0]).hypot(b[1] - a[1])).sum();
    let count = (length / step).ceil();
    let (mut out, mut gone) = (Vec::new(), 0.0);
    for (a, b) in sides(ring) {
        let l = (b[0] - a[0]).hypot(b[1] - a[1]);
        while (out.len() as f64) < count && out.len() as f64 * length / count < gone + l {
            let f = (out.len() as f64 * length / count - gone) / l;
            out.push([0, 1].map(|i| a[i] + (b[i] - a[i]) * f));
        }
        gone += l;
    }
    out
}

fn sides(ring: &[[f64; 2]]) -> impl Iterator<Item = (&[f64; 2], &[f64; 2])> {
    ring.iter().zip(ring.iter().cycle().skip(1))
}

/// How far a contour turns within the reach of its first point, by its places alone.
fn turning(path: &BezPath) -> f64 {
    let ring = along(path, 0.1 * REACH);
    let n = ring.len();
    let near = 10;
    let at = |k: usize| ring[(k + n) % n];
    let bend = |k: usize| {
        let (a, b, c) = (at(k + n - 1), at(k), at(k + 1));
        let (u, v) = ([b[0] - a[0], b[1] - a[1]], [c[0] - b[0], c[1] - b[1]]);
        (u[0] * v[1] - u[1] * v[0]).atan2(u[0] * v[0] + u[1] * v[1]).abs()
    };
    (n - near..=n + near).map(bend).sum()
}
