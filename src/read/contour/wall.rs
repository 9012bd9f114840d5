//! From a cup's edges in a picture to its wall: axis, ends, scale, points.
//!
//! The axis is the middle of the two sides; camera and axis span a plane, whose tilt follows from where the middle
//! of the wall stands in the picture and how high the lens stood. The focal length is the one for which the wall
//! has the tape's girths. The wall's ends are where the middle of the picture meets the rim and the base edge,
//! on their near side (seen from beyond them, on the far side): the sides' own ends are rounded by those circles.
//! How high the lens stood shows in those arcs, unless it is said: they must be circles round the axis.
//!
//! Imports: base, read::{job, picture, contour}, read::contour::{edge, view}.

use super::edge::Edges;
use super::view::{View, cross, unit};
use super::{Contour, MOST_UNLIKE, Stand, Turn};
use crate::base::linear::{least_squares, line};
use crate::base::tolerance::NEWTON_MET;
use crate::base::units::{Angle, Mm};
use crate::read::job::Ring;
use crate::read::picture::Picture;
use std::f64::consts::TAU;

/// Heights at which the sides are looked at.
const STATIONS: usize = 240;
/// Half a window of the sides' fit, as a part of the cup's height.
const WINDOW: f64 = 0.012;
/// Part of the wall at either end that is left to its circle.
const END: f64 = 0.03;
/// First and last point of an outline, as parts of the wall.
const POINTS_FROM: f64 = 0.05;
/// Points of an outline.
const POINTS: usize = 11;
/// Half a window of a point, as a part of the wall.
const SMOOTHED: f64 = 0.06;
/// How far the sides' radii may differ before one of them stands out, mm.
const STANDS_OUT: f64 = 0.8;
/// Stations beside one that stands out that are taken from the same side.
const BESIDE: usize = 4;
/// A point strays by no less, as a standard uncertainty of girth: half of a tenth of a millimetre of radius, which is the
/// worst error of pictures made beforehand with all small faults.
const LEAST_STRAY: f64 = 0.05 * TAU;
/// Part of the stations that surely have nothing beside them, and what of a normal law's standard deviation the
/// distances of so many are within.
const ALIKE: f64 = 0.3;
const ALIKE_SD: f64 = 0.3853;
/// Stations through which the axis is tried.
const TRIED: usize = 48;
/// Points that an end's arc must have, how far they may be off their circle (root mean square, mm), heights of the
/// lens that are tried at once, and rounds of lens and focal length by turns.
const LEAST_ARC: usize = 8;
const ARCS_WITHIN: f64 = 0.3;
const LENSES: usize = 16;
const LENS_ROUNDS: usize = 2;
/// Rounds of the search for the focal length.
const ROUNDS: usize = 60;
/// A turn of the wall that is told, radians, and half the stretch that it is looked for on, as part of the wall.
const LEAST_TURN: f64 = 0.05;
const TURN_WITHIN: f64 = 0.03;

/// Why no wall was found.
pub(super) enum Trouble {
    /// The sides differ over this part of the wall.
    Unlike(f64),
    /// What was found is no wall.
    NoWall,
}

/// A place of a side: right and up from the picture's middle, and how far to the right it runs a pixel up.
#[derive(Clone, Copy)]
struct Side {
    x: f64,
    y: f64,
    slope: f64,
}

type Station = [Side; 2];
/// Radius and height of the wall on the left and the right, where a side tells any.
type BothSides = (Option<(f64, f64)>, Option<(f64, f64)>);

/// A place of the wall, mm: height along the axis, radius, how much wider the left side is than the right.
#[derive(Clone, Copy)]
struct Place {
    z: f64,
    r: f64,
    wider: f64,
    station: usize,
    /// Which sides it was taken from.
    sides: [bool; 2],
}

/// The picture's axis: two of its points, from the middle to the right and up.
#[derive(Clone, Copy)]
struct Axis {
    top: (f64, f64),
    bottom: (f64, f64),
}

impl Axis {
    /// How far to the right it stands at a height of the picture.
    fn at(&self, y: f64) -> f64 {
        let (a, b) = (self.bottom, self.top);
        a.0 + (b.0 - a.0) * (y - a.1) / (b.1 - a.1)
    }
}

/// A wall between its ends.
struct Wall {
    places: Vec<Place>,
    /// Heights along the wall of the places.
    along: Vec<f64>,
    /// Its whole length.
    length: f64,
    /// Height along the axis and radius of base edge and rim.
    ends: [(f64, f64); 2],
    one_side: Vec<usize>,
}

/// Reads the wall.
pub(super) fn seen(
    picture: &Picture,
    (edges, ends): (&Edges, (f64, f64)),
    (rings, wall): (&[Ring], Mm),
    stand: &Stand,
) -> Result<Contour, Trouble> {
    let (w, h) = (picture.width as f64, picture.height as f64);
    let middle = |x: f64, y: f64| (x + 0.5 - w / 2.0, h / 2.0 - y - 0.5);
    let stations = stations(&edges.rows, ends, &middle);
    if stations.len() < STATIONS / 2 {
        return Err(Trouble::NoWall);
    }
    let axis = axis(&stations, (middle(0.0, ends.0).1, middle(0.0, ends.1).1));
    let tape = Tape { rings, wall };
    let level = stand.lens.map_or(tape.height() / 2.0, |l| l.0);
    let scene = Scene { stations: &stations, axis, stand, height: tape.height() };
    let (mut view, mut read) = scene.scaled(level, &tape)?;
    if stand.lens.is_none() {
        let arcs = edges.arcs.each_ref().map(|arc| arc.iter().map(|(x, y)| middle(*x, *y)).collect());
        for _ in 0..LENS_ROUNDS {
            let Some(lens) = scene.lens(&view, &arcs) else { break };
            (view, read) = scene.scaled(lens, &tape)?;
        }
    }
    let part = read.one_side.len() as f64 / read.places.len() as f64;
    if part > MOST_UNLIKE {
        return Err(Trouble::Unlike(part));
    }
    Ok(told(&read, &view, &tape, (&stations, axis), |x, y| (x + w / 2.0 - 0.5, h / 2.0 - y - 0.5)))
}

/// What was found in the picture, and how it was taken.
struct Scene<'a> {
    stations: &'a [Station],
    axis: Axis,
    stand: &'a Stand,
    height: f64,
}

/// Points of the two ends' circles, right and up from the picture's middle: above, below.
type Arcs = [Vec<(f64, f64)>; 2];

impl Scene<'_> {
    /// The camera whose wall has the tape's girths, for a height of the lens.
    fn scaled(&self, lens: f64, tape: &Tape<'_>) -> Result<(View, Wall), Trouble> {
        let mut focal = self.stations.iter().map(|s| (s[1].x - s[0].x).max(1.0)).fold(1.0, f64::max);
        focal *= self.stand.distance.0 / self.height;
        let mut last = None;
        for _ in 0..ROUNDS {
            let view = placed(focal, self.axis, (self.stand.distance.0, lens), self.height);
            let wall = read(&view, self.stations, self.axis, self.stand)?;
            let by = tape.scale(&wall);
            last = Some((view, wall));
            if (by - 1.0).abs() < NEWTON_MET {
                break;
            }
            // Radii are as 1 to the focal length, nearly.
            focal /= by;
            if !focal.is_finite() || focal <= 0.0 {
                return Err(Trouble::NoWall);
            }
        }
        last.ok_or(Trouble::NoWall)
    }
    /// The height of the lens for which the ends' arcs in the picture are circles round the axis; none where they are
    /// of no height (rounded edges, lips, feet), which leaves it level.
    fn lens(&self, view: &View, arcs: &Arcs) -> Option<f64> {
        if self.stand.above.0 > 0.0 || self.stand.below.0 > 0.0 || arcs.iter().any(|a| a.len() < LEAST_ARC) {
            return None;
        }
        let off = |lens: f64| {
            let view = placed(view.focal, self.axis, (self.stand.distance.0, lens), self.height);
            let wall = read(&view, self.stations, self.axis, self.stand).ok()?;
            let one = |points: &[(f64, f64)], z: f64, r: f64| {
                let off = |(x, y): &(f64, f64)| view.over_circle((*x, *y), z, r);
                points.iter().map(off).map(|v| v * v).sum::<f64>() / points.len() as f64
            };
            let [base, rim] = wall.ends;
            let all = one(&arcs[0], rim.0, rim.1) + one(&arcs[1], base.0, base.1);
            all.is_finite().then_some(all)
        };
        // Between the ends, then finer round the best: the sum is smooth and has one least value there.
        let tried = |low: f64, high: f64| {
            let at = |i: usize| low + (high - low) * i as f64 / LENSES as f64;
            let all = (0..=LENSES).filter_map(|i| off(at(i)).map(|o| (at(i), o)));
            all.reduce(|a, b| if b.1 < a.1 { b } else { a }).map(|b| (b, (high - low) / LENSES as f64))
        };
        let ((mut lens, mut least), mut step) = tried(0.1 * self.height, 0.9 * self.height)?;
        for _ in 0..4 {
            ((lens, least), step) = tried(lens - step, lens + step)?;
        }
        (least < ARCS_WITHIN * ARCS_WITHIN).then_some(lens)
    }
}

/// What the tape says.
struct Tape<'a> {
    rings: &'a [Ring],
    wall: Mm,
}

impl Tape<'_> {
    /// The wall's height, straight up, by its lowest and highest ring.
    fn height(&self) -> f64 {
        let (first, last) = (self.rings[0], self.rings[self.rings.len() - 1]);
        let lean = (last.girth - first.girth).0 / TAU / (last.slant - first.slant).0;
        self.wall.0 * (1.0 - lean * lean).max(0.0).sqrt()
    }
    /// By how much the wall's girths must grow to be the tape's, in the mean of the rings.
    fn scale(&self, wall: &Wall) -> f64 {
        let stretch = wall.length / self.wall.0;
        let (read, seen) = self.rings.iter().fold((0.0, 0.0), |(read, seen), r| {
            (read + r.girth.0, seen + TAU * wall.radius(r.slant.0 * stretch))
        });
        read / seen
    }
    /// The line that is added to girths seen so that they are the tape's: at the base edge, and per height.
    fn line(&self, wall: &Wall) -> (f64, f64) {
        let stretch = wall.length / self.wall.0;
        let off = |r: &Ring| (r.slant.0, r.girth.0 - TAU * wall.radius(r.slant.0 * stretch));
        line(self.rings.iter().map(off))
    }
}

impl Wall {
    /// Radius at a length along the wall: a parabola through the places near it.
    fn radius(&self, s: f64) -> f64 {
        // Near an end the window reaches inward as far as it would have both ways.
        let half = self.length * SMOOTHED;
        let (low, high) = (self.along[0], self.along[self.along.len() - 1]);
        let at = s.clamp(low + half, (high - half).max(low + half));
        let near = self.along.iter().zip(&self.places).filter(|(a, _)| (**a - at).abs() <= half);
        parabola(near.map(|(a, p)| (a - s, p.r)))[0]
    }
}

/// Robust middles of each side over windows from one end to the other.
fn stations(
    rows: &[Option<(f64, f64)>],
    (top, bottom): (f64, f64),
    middle: &impl Fn(f64, f64) -> (f64, f64),
) -> Vec<Station> {
    let half = ((bottom - top) * WINDOW).max(6.0);
    let one = |i: usize| {
        let y = top + (bottom - top) * (i as f64 + 0.5) / STATIONS as f64;
        let (from, to) = ((y - half).max(0.0) as usize, ((y + half) as usize).min(rows.len() - 1));
        let near = || (from..=to).filter_map(|k| rows[k].map(|(l, r)| (k as f64 - y, l, r)));
        let enough = near().count() as f64 > half;
        let side = |of: fn((f64, f64, f64)) -> f64| {
            let [x, slope, _] = robust(near().map(|p| (p.0, of(p))).collect());
            let (x, y) = middle(x, y);
            // Rows run down, the picture's up does not.
            Side { x, y, slope: -slope }
        };
        enough.then(|| [side(|p| p.1), side(|p| p.2)])
    };
    (0..STATIONS).filter_map(one).collect()
}

/// A parabola through points; once more without those that are far off it.
fn robust(points: Vec<(f64, f64)>) -> [f64; 3] {
    let first = parabola(points.iter().copied());
    let off = |p: &(f64, f64)| (p.1 - first[0] - first[1] * p.0 - first[2] * p.0 * p.0).abs();
    let mut offs: Vec<f64> = points.iter().map(off).collect();
    offs.sort_by(f64::total_cmp);
    let most = 4.0 * 1.4826 * offs[offs.len() / 2] + 0.2;
    parabola(points.iter().copied().filter(|p| off(p) <= most))
}

/// Least squares of y = a + b x + c x^2; of too few points, or all at one place, their mean.
fn parabola(points: impl Iterator<Item = (f64, f64)> + Clone) -> [f64; 3] {
    let of = points.clone().map(|(x, y)| ([1.0, x, x * x], y));
    least_squares(of).unwrap_or_else(|| {
        let (n, sum) = points.fold((0.0f64, 0.0), |(n, sum), (_, y)| (n + 1.0, sum + y));
        [sum / n.max(1.0), 0.0, 0.0]
    })
}

/// The line midway between the sides: of the lines through two stations the one that three in ten are nearest to
/// (Rousseeuw's least quantile of squares; more than half of the stations may be beside a handle), then by least
/// squares of what is near it.
fn axis(stations: &[Station], (top, bottom): (f64, f64)) -> Axis {
    let skipped = stations.len() / 25;
    let inner = &stations[skipped..stations.len() - skipped];
    let middles: Vec<(f64, f64)> = inner.iter().map(|s| (s[0].y, f64::midpoint(s[0].x, s[1].x))).collect();
    let step = (middles.len() / TRIED).max(1);
    let some: Vec<(f64, f64)> = middles.iter().copied().step_by(step).collect();
    let off = |(a, b): (f64, f64)| quantile(ALIKE, some.iter().map(|(y, x)| (x - a - b * y).abs()).collect());
    let pairs = (0..some.len()).flat_map(|i| (i + 1..some.len()).map(move |j| (i, j)));
    let through = |(i, j): (usize, usize)| {
        let ((y, x), (v, u)) = (some[i], some[j]);
        let slope = (u - x) / (v - y);
        (x - slope * y, slope)
    };
    let lines = pairs.map(through).map(|l| (l, off(l)));
    let best = lines.reduce(|a, b| if b.1 < a.1 { b } else { a });
    let (mut at, mut slope) = (middles[0].1, 0.0);
    if let Some(((a, b), strays)) = best {
        // A tenth of a pixel is what no row is better than.
        let most = 4.0 * (strays / ALIKE_SD).max(0.1);
        let near = middles.iter().copied().filter(|(y, x)| (x - a - b * y).abs() <= most);
        (at, slope) = line(near.collect::<Vec<_>>());
    }
    Axis { top: (at + slope * top, top), bottom: (at + slope * bottom, bottom) }
}

fn quantile(part: f64, mut all: Vec<f64>) -> f64 {
    all.sort_by(f64::total_cmp);
    all[(all.len() as f64 * part) as usize]
}

/// The camera of a focal length. The scene's origin lies where the base edge should be.
fn placed(focal: f64, axis: Axis, (distance, lens): (f64, f64), height: f64) -> View {
    let ray = |(x, y): (f64, f64)| unit([x, y, focal]);
    // Camera and axis span a plane; the scene's right is square to it.
    let right = unit(cross(ray(axis.bottom), ray(axis.top)));
    let right = if right[0] < 0.0 { right.map(|v| -v) } else { right };
    let middle = ray((f64::midpoint(axis.top.0, axis.bottom.0), f64::midpoint(axis.top.1, axis.bottom.1)));
    let over = unit(cross(middle, right));
    let rise = libm::atan2(height / 2.0 - lens, distance);
    let (c, s) = (libm::cos(rise), libm::sin(rise));
    let forward: [f64; 3] = std::array::from_fn(|i| c * middle[i] - s * over[i]);
    let up: [f64; 3] = std::array::from_fn(|i| s * middle[i] + c * over[i]);
    View { focal, distance, lens, scene: [forward.map(|v| -v), right, up] }
}

/// The wall's places, of both sides where they are alike, else of the one that is the wall.
fn places(view: &View, stations: &[Station], axis: Axis) -> Result<Vec<Place>, Trouble> {
    let sides = |(i, s): (usize, &Station)| {
        let of = |side: &Side| view.touched((side.x, side.y), (side.slope, 1.0));
        match (of(&s[0]), of(&s[1])) {
            (None, None) => None,
            both => Some((i, both)),
        }
    };
    let sides: Vec<(usize, BothSides)> = stations.iter().enumerate().filter_map(sides).collect();
    if sides.len() < STATIONS / 2
        || sides.iter().filter(|(_, s)| s.0.is_some() && s.1.is_some()).count() < STATIONS / 4
    {
        return Err(Trouble::NoWall);
    }
    // A rolled picture shows the two sides of a row at two heights: what a lean makes of that is no difference.
    let upright = of_sides(&sides, stations, axis, 0.0);
    let lean = line(upright.iter().filter(|p| p.sides == [true; 2]).map(|p| (p.z, p.r))).1;
    let mut all = of_sides(&sides, stations, axis, lean);
    let two: Vec<(f64, f64)> = all.iter().filter(|p| p.sides == [true; 2]).map(|p| (p.z, p.wider)).collect();
    if two.len() < 3 {
        return Err(Trouble::NoWall);
    }
    // By how much the sides differ everywhere (the axis is never quite met), a side alone is off by half of it.
    let (at, slope) = line(two);
    for p in all.iter_mut().filter(|p| p.sides != [true; 2]) {
        p.wider = at + slope * p.z;
        p.r -= if p.sides[0] { p.wider / 2.0 } else { -p.wider / 2.0 };
    }
    Ok(all)
}

/// Places for a lean of the wall. What stands out is no part of a round wall: the side that is nearer to the axis in
/// the picture is it; so it is a little beyond, where a handle runs into the wall.
fn of_sides(sides: &[(usize, BothSides)], stations: &[Station], axis: Axis, lean: f64) -> Vec<Place> {
    let wider = |(left, right): &BothSides| left.zip(*right).map(|(l, r)| l.0 - r.0 - lean * (l.1 - r.1));
    let both: Vec<f64> = sides.iter().filter_map(|(_, s)| wider(s)).map(f64::abs).collect();
    // Where nothing stands out the axis is their middle.
    let most = STANDS_OUT.max(5.0 * quantile(ALIKE, both) / ALIKE_SD);
    let out: Vec<(usize, bool)> = sides
        .iter()
        .filter(|(_, s)| wider(s).is_none_or(|w| w.abs() > most))
        .map(|(station, _)| {
            let [l, r] = stations[*station];
            (*station, axis.at(l.y) - l.x < r.x - axis.at(r.y))
        })
        .collect();
    let beside = |station: usize| {
        let nearest = out.iter().min_by_key(|o| o.0.abs_diff(station));
        nearest.filter(|o| o.0.abs_diff(station) <= BESIDE)
    };
    let place = |(station, both): &(usize, BothSides)| match (beside(*station), both) {
        (None, (Some(l), Some(r))) => {
            let wider = wider(both)?;
            let (z, r) = (f64::midpoint(l.1, r.1), f64::midpoint(l.0, r.0));
            Some(Place { z, r, wider, station: *station, sides: [true; 2] })
        }
        (None, _) => None,
        (Some((_, from_left)), (left, right)) => {
            let (r, z) = if *from_left { (*left)? } else { (*right)? };
            Some(Place { z, r, wider: 0.0, station: *station, sides: [*from_left, !from_left] })
        }
    };
    sides.iter().filter_map(place).collect()
}

/// The wall as a camera sees it, between its ends.
fn read(view: &View, stations: &[Station], axis: Axis, stand: &Stand) -> Result<Wall, Trouble> {
    let mut all = places(view, stations, axis)?;
    all.sort_by(|a, b| a.z.total_cmp(&b.z));
    let (base, rim) = ends(view, &all, axis, stand);
    let inner = |p: &&Place| p.z > base + (rim - base) * END && p.z < rim - (rim - base) * END;
    let places: Vec<Place> = all.iter().filter(inner).copied().collect();
    if rim <= base || places.len() < STATIONS / 3 {
        return Err(Trouble::NoWall);
    }
    let one_side = places.iter().filter(|p| p.sides != [true; 2]).map(|p| p.station).collect();
    let lean = |from: &[Place]| line(from.iter().map(|p| (p.z, p.r))).1;
    let few = (places.len() / 12).max(3);
    let end = |slope: f64, dz: f64| dz * libm::hypot(1.0, slope);
    let mut s = end(lean(&places[..few]), places[0].z - base);
    let mut along = vec![s];
    // Steps of the radius are those of a smoothed wall: noise would make it longer.
    let smooth = |i: usize| {
        let near = &places[i.saturating_sub(few)..(i + few + 1).min(places.len())];
        parabola(near.iter().map(|p| (p.z - places[i].z, p.r)))[0]
    };
    for i in 1..places.len() {
        s += libm::hypot(places[i].z - places[i - 1].z, smooth(i) - smooth(i - 1));
        along.push(s);
    }
    let top = &places[places.len() - few..];
    let length = s + end(lean(top), rim - places[places.len() - 1].z);
    let last = places[places.len() - 1];
    let ends = [
        (base, places[0].r - lean(&places[..few]) * (places[0].z - base)),
        (rim, last.r + lean(top) * (rim - last.z)),
    ];
    Ok(Wall { places, along, length, ends, one_side })
}

/// Heights of base edge and rim along the axis.
fn ends(view: &View, places: &[Place], axis: Axis, stand: &Stand) -> (f64, f64) {
    let (low, high) = (places[0].z, places[places.len() - 1].z);
    // Of the whole cup first: what stands beyond the wall's ends is taken off last.
    let mut found = (low, high);
    // The radii of the circles at the ends are those of the cup there.
    for _ in 0..6 {
        let (base, rim) = found;
        let tenth = (rim - base) * 0.1;
        let radius = |at: f64, from: f64, to: f64| {
            let near = places.iter().filter(|p| p.z >= from && p.z <= to).map(|p| (p.z - at, p.r));
            line(near.collect::<Vec<_>>()).0
        };
        let (lower, upper) = (
            radius(base, base + tenth * 0.3, base + tenth * 1.3),
            radius(rim, rim - tenth * 1.3, rim - tenth * 0.3),
        );
        found = (view.met(axis.bottom, lower, view.lens > base), view.met(axis.top, upper, view.lens < rim));
    }
    (found.0 + stand.below.0, found.1 - stand.above.0)
}

/// What the wall says.
fn told(
    wall: &Wall,
    view: &View,
    tape: &Tape<'_>,
    (stations, axis): (&[Station], Axis),
    pixel: impl Fn(f64, f64) -> (f64, f64),
) -> Contour {
    let stretch = wall.length / tape.wall.0;
    let (a, b) = tape.line(wall);
    let up =
        |i: usize| tape.wall.0 * (POINTS_FROM + (1.0 - 2.0 * POINTS_FROM) * i as f64 / (POINTS - 1) as f64);
    let girth = |s: f64| TAU * wall.radius(s * stretch) + a + b * s;
    let points: Vec<(Mm, Mm)> = (0..POINTS).map(|i| (Mm(up(i)), Mm(girth(up(i))))).collect();
    let straight = line(points.iter().map(|(s, g)| (s.0, g.0)));
    let bow = points.iter().map(|(s, g)| g.0 - straight.0 - straight.1 * s.0);
    let bow = bow.fold(0.0, |m: f64, v| if v.abs() > m.abs() { v } else { m });
    let alike: Vec<f64> = {
        let usual = line(wall.places.iter().map(|p| (p.z, p.wider)));
        wall.places.iter().map(|p| (p.wider - usual.0 - usual.1 * p.z).abs()).collect()
    };
    // The mean of two sides strays by half of what their difference does; windows do not better what is common.
    let strays = (TAU * 1.4826 * quantile(0.5, alike) / 2.0).max(LEAST_STRAY);
    let of_station =
        |i: usize| wall.places.iter().position(|p| p.station == i).map(|k| wall.along[k] / stretch);
    let mut outs: Vec<f64> = wall.one_side.iter().filter_map(|i| of_station(*i)).collect();
    outs.sort_by(f64::total_cmp);
    let one_side = outs.first().zip(outs.last()).map(|(a, b)| (Mm(*a), Mm(*b)));
    let side = |k: usize| {
        let used = wall.places.iter().filter(|p| p.sides[k]).map(|p| stations[p.station][k]);
        let mut all: Vec<(f64, f64)> = used.map(|s| pixel(s.x, s.y)).collect();
        all.sort_by(|a, b| a.1.total_cmp(&b.1));
        all
    };
    Contour {
        points,
        strays: Mm(strays),
        wall: Mm(wall.length),
        added: [Mm(a), Mm(a + b * tape.wall.0)],
        bow: Mm(bow),
        fineness: view.focal / view.distance,
        lens: Mm(view.lens - wall.ends[0].0),
        roll: Angle::radians(libm::atan2(axis.top.0 - axis.bottom.0, axis.top.1 - axis.bottom.1)),
        one_side,
        turns: turns(wall, stretch, &outs),
        drawn: [side(0), side(1)],
        ends: [pixel(axis.top.0, axis.top.1), pixel(axis.bottom.0, axis.bottom.1)],
    }
}

/// Where the wall's lean changes within a few millimetres: as much within half a stretch as within the whole of it,
/// which no smooth curve does.
fn turns(wall: &Wall, stretch: f64, one_side: &[f64]) -> Vec<Turn> {
    let lean = |from: f64, to: f64| {
        let near = wall.along.iter().zip(&wall.places).filter(|(s, _)| **s >= from && **s <= to);
        let all: Vec<(f64, f64)> = near.map(|(_, p)| (p.z, p.r)).collect();
        (all.len() >= 3).then(|| libm::atan(line(all).1))
    };
    let wide = wall.length * TURN_WITHIN;
    // The fit of the sides rounds what is sharp over its own window: that is left out on either side.
    let gap = wall.length * WINDOW;
    let turn = |s: f64, wide: f64| Some(lean(s + gap, s + gap + wide)? - lean(s - gap - wide, s - gap)?);
    let found: Vec<(f64, f64)> = wall
        .along
        .iter()
        .filter_map(|s| {
            let (near, far) = (turn(*s, wide)?, turn(*s, 2.0 * wide)?);
            // Where a handle begins or ends the sides are not to be told from it.
            let beside = one_side.iter().any(|o| (o * stretch - s).abs() < 2.0 * (wide + gap));
            (!beside && near.abs() > LEAST_TURN && near.abs() > 0.75 * far.abs()).then_some((*s, near))
        })
        .collect();
    let mut all: Vec<Turn> = Vec::new();
    for (i, (s, by)) in found.iter().enumerate() {
        let peak =
            found.iter().all(|(t, other)| (t - s).abs() > 2.0 * (wide + gap) || other.abs() <= by.abs());
        let first = !found[..i].iter().any(|(t, other)| (t - s).abs() <= 2.0 * (wide + gap) && other == by);
        if peak && first {
            all.push(Turn { up: Mm(s / stretch), by: Angle::radians(*by) });
        }
    }
    all
}
