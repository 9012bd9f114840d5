//! [`Template`]: a shape of the library of one fill, from a family or from the maker's own art.
//!
//! Imports: base, outline, read::job, make::accent::{outline, bend}.

use super::bend::BendBasis;
use super::outline::{CubicLoop, V, dot, extent, incircle, len, mul, sub, unit, width};
use crate::base::frame::Art;
use crate::base::random::Random;
use crate::base::units::{Mm, Seed};
use crate::outline::plane::{self, nearest_on_segment, ring_area, ring_contains};
use crate::outline::{NarrowKind, Region, Widths, polyline_path};
use crate::read::job::families::{Dense, Drawn, Family, Nodes};
use rayon::prelude::*;

/// Width below which a bend may not squeeze a spot anywhere that is wider as drawn, mm (common practice, no
/// source). What is drawn narrower than that stays as it is drawn.
pub(super) const NARROWEST: f64 = 1.2;

/// How much wider than what its film weeds a spot's narrowest place stays: for the blade, and for what lies
/// between the points that it is measured by.
pub(super) const SPARE: f64 = 1.15;

/// Directions of a template's radial profile.
pub(super) const RAYS: usize = 32;

/// Points a segment between which an extent is read: twelve segments by 24 leave (pi / 288)^2 / 2 of it, 6e-5, and a
/// spot of 20 mm 1.2 micrometres.
const EXTENT: usize = 24;

/// A shape at size 1 (its longest extent), its origin at the middle of its largest inscribed circle.
#[derive(Clone, Debug)]
pub(super) struct Template {
    pub name: String,
    /// Which of the fill's shapes it is a drawing of: families and own outlines in the job's order.
    pub kind: usize,
    /// The outline that packs.
    pub hull: CubicLoop,
    /// What is cut, and whether it takes the tint; empty where it is the hull itself.
    pub parts: Vec<(CubicLoop, bool)>,
    /// How it bends.
    pub frame: BendBasis,
    /// Scale (0..=1) of the allowed bend: shapes recognised by their outline bend less; multi-part shapes do
    /// not bend.
    pub supple: f64,
    /// Corners that stand for the hull.
    pub ring: Vec<V>,
    /// Smallest size, mm, at which every place of it is wide enough for its films.
    pub smallest: f64,
    /// Radius of the largest inscribed circle.
    pub inradius: f64,
    /// Farthest corner from the origin.
    pub radius: f64,
    /// One over the farthest reach from the origin, by direction: what a ray of free space must allow.
    pub inverse: [f64; RAYS],
    /// Narrowest place, of film or between two parts of it.
    pub width: f64,
    /// Width that its films weed, mm.
    pub weed: f64,
    /// Area of the hull.
    pub area: f64,
    /// By how much longer it is on its curve than between the few points by which sizes are counted.
    pub over: f64,
    /// Angle of its longest extent.
    pub axis: f64,
}

/// What a fill asks of all its shapes, mm.
#[derive(Clone, Copy, Debug)]
pub(super) struct Asked {
    /// Sizes that the maker wants.
    pub smallest: f64,
    pub largest: f64,
    /// Narrowest width that every film of the fill weeds.
    pub weed: f64,
}

impl Asked {
    /// Width that no place of a spot may fall below as drawn.
    fn narrowest(&self) -> f64 {
        SPARE * self.weed
    }
}

impl Template {
    /// `width` tells the narrowest place at size 1 where it is known to be below the second argument.
    fn new(
        name: String,
        hull: CubicLoop,
        parts: Vec<(CubicLoop, bool)>,
        asked: Asked,
        width: impl FnOnce(&CubicLoop, &[(CubicLoop, bool)]) -> f64,
    ) -> Template {
        let coarse = hull.ring(5);
        let size = extent(&coarse);
        let over = extent(&hull.ring(EXTENT)) / size;
        let (middle, inradius) = incircle(&coarse);
        let home = |p: V| mul(sub(p, middle), 1.0 / size);
        let hull = hull.map(home);
        let parts: Vec<(CubicLoop, bool)> = parts.into_iter().map(|(l, tint)| (l.map(home), tint)).collect();
        let steps = hull.steps(asked.largest);
        let ring = hull.ring(steps);
        let width = width(&hull, &parts);
        let radius = ring.iter().map(|p| len(*p)).fold(0.0, f64::max);
        let smallest = asked.narrowest() / width;
        let profile = profile(&ring);
        let (area, axis) = (ring_area(&ring), lengthwise(&ring));
        Template {
            name,
            kind: 0,
            frame: BendBasis::new(&hull),
            // What has straight corners looks bent by mistake.
            supple: if parts.is_empty() && !hull.has_corners() { 1.0 } else { 0.0 },
            hull,
            parts,
            ring,
            smallest,
            inradius: inradius / size,
            radius,
            inverse: profile.map(|r| 1.0 / r),
            width,
            weed: asked.weed,
            area,
            over,
            axis,
        }
    }
    /// A bent hull as a shape of its own, with nodes where it turns; cells are made of it.
    pub fn cell(from: &Template, hull: CubicLoop, smallest: f64) -> Template {
        let ring = hull.ring(hull.steps(smallest));
        let radius = ring.iter().map(|p| len(*p)).fold(0.0, f64::max);
        Template {
            name: from.name.clone(),
            kind: from.kind,
            frame: BendBasis::new(&hull),
            supple: 1.0,
            parts: Vec::new(),
            area: ring_area(&ring),
            ring,
            smallest: 0.0,
            inradius: from.inradius,
            radius,
            inverse: from.inverse,
            width: from.width,
            weed: from.weed,
            axis: from.axis,
            over: from.over,
            hull,
        }
    }
    /// A family's shape; `item` chooses which.
    pub fn of_family(family: Family, asked: Asked, seed: Seed, item: u64) -> Template {
        let mut random = Random::new(seed, family.name(), item);
        let drawn = family.draw(&mut random);
        let (row, Drawn { hull, parts }) = (family.row(), drawn);
        let parts = parts.into_iter().map(|(d, tint)| (smooth(&d), tint)).collect();
        let drawn = Template::new(row.name.to_owned(), smooth(&hull), parts, asked, |hull, parts| {
            if parts.is_empty() { width(&hull.ring(12)) } else { narrowest(hull, parts, asked) }
        });
        Template { supple: row.supple, ..drawn }
    }
    /// A maker's own outline; `upright` keeps it as drawn, otherwise its long axis is laid along x.
    pub fn own(name: String, region: &Region<Art>, asked: Asked) -> Option<Template> {
        let loops: Vec<CubicLoop> = region.contours().iter().map(CubicLoop::as_drawn).collect();
        // The contour that holds the others packs; several side by side pack by their hull.
        let outer = loops.iter().max_by(|a, b| extent(&a.ring(6)).total_cmp(&extent(&b.ring(6))))?;
        let all: Vec<V> = loops.iter().flat_map(|l| l.ring(16)).collect();
        let ring = outer.ring(16);
        let holds = |p: &V| ring_contains(&ring, *p);
        let alone = loops.len() == 1;
        let together = alone || loops.iter().all(|l| l == outer || l.ring(4).iter().all(holds));
        let hull = if together { outer.clone().counter_clockwise() } else { convex_hull(&all) };
        let parts = if alone { vec![] } else { loops.iter().map(|l| (l.clone(), false)).collect() };
        Some(Template::new(name, hull, parts, asked, |hull, parts| narrowest(hull, parts, asked)))
    }
    /// The library of a family.
    pub fn library(family: Family, count: usize, asked: Asked, seed: Seed) -> Vec<Template> {
        (0..count as u64).into_par_iter().map(|i| Template::of_family(family, asked, seed, i)).collect()
    }
}

/// Narrowest place of a shape at size 1, of film, of a hole or between parts, on the exact curves; the width that
/// the smallest size needs where every place is wider. Tips do not count: no size makes them wide.
fn narrowest(hull: &CubicLoop, parts: &[(CubicLoop, bool)], asked: Asked) -> f64 {
    let limit = asked.narrowest() / asked.smallest;
    let paths = if parts.is_empty() { vec![hull.path()] } else { parts.iter().map(|p| p.0.path()).collect() };
    // The kernel measures in millimetres with errors in millimetres, so at the largest size.
    let region = Region::<Art>::trusted(paths).scaled(asked.largest);
    let (widths, limit) = (Widths::new(&region), Mm(limit * asked.largest));
    let narrow = widths.narrow(limit).into_iter().chain(widths.gaps(limit));
    let least =
        narrow.filter(|n| n.kind != NarrowKind::Tip).map(|n| n.width.get()).fold(limit.get(), f64::min);
    least / asked.largest
}

fn profile(ring: &[V]) -> [f64; RAYS] {
    let mut out = [0.0f64; RAYS];
    let n = ring.len();
    let bin = std::f64::consts::TAU / RAYS as f64;
    let angles: Vec<f64> = ring.iter().map(|p| libm::atan2(p[1], p[0])).collect();
    for (k, far) in out.iter_mut().enumerate() {
        let a = bin * k as f64;
        for (p, angle) in ring.iter().zip(&angles) {
            // Both lie within a turn and a half of each other.
            let mut d = angle - a;
            if d < -std::f64::consts::PI {
                d += std::f64::consts::TAU;
            }
            if d.abs() <= bin * 0.75 {
                *far = far.max(len(*p));
            }
        }
        if *far == 0.0 {
            // Sparse corners: the nearest edge stands in.
            let dir = [libm::cos(a), libm::sin(a)];
            *far = (0..n)
                .map(|i| nearest_on_segment([0.0; 2], ring[i], ring[(i + 1) % n]).1)
                .map(|q| dot(q, dir))
                .fold(0.0, f64::max);
        }
    }
    out
}

/// Convex hull as a curve of straight edges.
fn convex_hull(points: &[V]) -> CubicLoop {
    CubicLoop::from_path(&polyline_path(&plane::convex_hull(points.to_vec())))
}

/// The curve of few nodes through a family's drawing.
fn smooth(drawn: &Dense) -> CubicLoop {
    match &drawn.nodes {
        Nodes::Count(n) => CubicLoop::through(&drawn.ring, *n),
        Nodes::At(at) => CubicLoop::through_at(&drawn.ring, at.clone()),
    }
}

/// Turns a drawing so that its longest extent lies along x.
fn lengthwise(ring: &[V]) -> f64 {
    let mut best = (0.0, [1.0, 0.0]);
    for (i, a) in ring.iter().enumerate() {
        for b in &ring[i + 1..] {
            let d = sub(*b, *a);
            if dot(d, d) > best.0 {
                best = (dot(d, d), d);
            }
        }
    }
    let d = unit(best.1);
    debug_assert!(ring_area(ring) > 0.0);
    libm::atan2(d[1], d[0])
}
