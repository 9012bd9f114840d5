//! [`WallZone`]: a part of the wall that is one cone; and what is asked of a [`Cup`] whatever its zones.
//!
//! A wall without edges is one zone, and every number is that of its cone. Zones meet at edges that the maker
//! feels: two cones share a parallel there, of one girth on the bare cup. Each is rolled out by itself, for no
//! plane holds both. A coat of thickness b lengthens each by 2 pi b cos(lean), so that with coats the girths
//! of neighbours differ at their edge by 2 pi b times the difference of the cosines.
//!
//! A smooth wall is the fewest cones that it is off by little ([`Bend`]). With eps its girth over the cone's less
//! 1, a distance on the wall over that on the plane lies within [1 + min(0, eps), 1 + max(0, eps)], for the wall's
//! metric is ds^2 + r^2 dth^2 and the plane's ds^2 + r_cone^2 dth^2; a flat piece of half size a, which lies as it
//! must, strays from its place on the plane by up to a max|eps| + |K| a^3 / 6, K the Gaussian curvature.
//!
//! Imports: base, make::cup, make::cup::{frustum, zone}.

use super::Cup;
use super::frustum::{Development, Frustum};
use super::zone::Zone;
use crate::base::units::{Angle, Ml, Mm, Mm2};

/// A part of the wall that is one cone.
#[derive(Clone, Debug, PartialEq)]
pub struct WallZone {
    /// Its lower edge, up the wall from the base edge.
    pub low: Mm,
    /// Its upper edge.
    pub high: Mm,
    /// The bare wall as measured, from its lower to its upper edge.
    pub measured: Frustum,
    /// The surface that the film goes on: the bare wall and the build-up. Template and layout are made for
    /// it.
    pub surface: Frustum,
    /// The surface rolled out.
    pub development: Development,
    /// Where film may go.
    pub zone: Zone,
    /// How the wall departs from its cone.
    pub bend: Bend,
}

/// How a smooth wall departs from the cone that stands for a part of it; nothing, where it is that cone.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Bend {
    /// Least part by which its girth is off the cone's: girth / cone's girth - 1, or 0.
    pub least: f64,
    /// Greatest such part, or 0.
    pub most: f64,
    /// Bound on its Gaussian curvature, 1/mm^2: positive on a bulge, negative on a waist.
    pub curvature: f64,
}

impl Bend {
    /// Of a cone.
    pub const NONE: Bend = Bend { least: 0.0, most: 0.0, curvature: 0.0 };

    /// By how much a flat piece whose farthest point is `reach` from its anchor may stray from its place on the
    /// plane.
    pub fn strays(&self, reach: Mm) -> Mm {
        let a = reach.0;
        Mm(a * self.most.max(-self.least) + self.curvature.abs() * a * a * a / 6.0)
    }
    /// Part of itself by which film must stretch and shorten under a piece of half sides `a >= b`: 1.1 * 1.5 K b^2
    /// / (3 + 2 q^2 + 3 q^4), q = b/a. The clamped elliptical plate (Timoshenko and Woinowsky-Krieger, by
    /// analogy, from memory), a tenth added, as held to finite elements beforehand.
    pub fn demand(&self, a: Mm, b: Mm) -> f64 {
        let q = if a > Mm::ZERO { b / a } else { 1.0 };
        1.65 * self.curvature.abs() * b.0 * b.0 / (3.0 + 2.0 * q * q + 3.0 * q * q * q * q)
    }
    /// Largest short side that a piece may have whose half sides are as 1 to `q`, when film takes so much up.
    pub fn widest(&self, q: f64, take_up: f64) -> Mm {
        Mm(2.0 * (take_up * (3.0 + 2.0 * q * q + 3.0 * q * q * q * q) / (1.65 * self.curvature.abs())).sqrt())
    }
}

impl WallZone {
    /// From its bare wall, the thickness of what lies on it, and what of it is free, which hangs on the
    /// development.
    pub fn new(
        low: Mm,
        measured: Frustum,
        build_up: Mm,
        zone: impl FnOnce(&Development) -> Zone,
    ) -> WallZone {
        let surface = measured.built_up(build_up);
        let development = Development::above(low, surface);
        let zone = zone(&development);
        let high = low + measured.slant;
        WallZone { low, high, measured, surface, development, zone, bend: Bend::NONE }
    }
    /// Area of it that film may cover.
    pub fn free_area(&self) -> Mm2 {
        self.zone.area(&self.development)
    }
}

impl Cup {
    /// The zone that a height lies in; an edge belongs to the zone above it.
    pub fn zone_at(&self, slant: Mm) -> usize {
        self.zones.iter().rposition(|z| z.low <= slant).unwrap_or(0)
    }
    /// The zone at a height.
    pub fn at(&self, slant: Mm) -> &WallZone {
        &self.zones[self.zone_at(slant)]
    }
    /// Is the wall a smooth curve that cones stand for?
    pub fn is_curved(&self) -> bool {
        self.zones.iter().any(|z| z.bend != Bend::NONE)
    }
    /// Is the wall one cone?
    pub fn is_cone(&self) -> bool {
        self.zones.len() == 1
    }
    /// The zone at the base edge.
    pub fn lowest(&self) -> &WallZone {
        &self.zones[0]
    }
    /// The zone at the rim.
    pub fn highest(&self) -> &WallZone {
        &self.zones[self.zones.len() - 1]
    }
    /// Length of the wall from base edge to rim.
    pub fn wall(&self) -> Mm {
        self.highest().high
    }
    /// Heights of the edges, lowest first.
    pub fn edges(&self) -> impl Iterator<Item = Mm> + '_ {
        self.zones[1..].iter().map(|z| z.low)
    }
    /// Where the seam runs, from the front line.
    pub fn seam(&self) -> Angle {
        self.lowest().zone.seam
    }
    /// Circumference of the surface at a height.
    pub fn girth(&self, slant: Mm) -> Mm {
        self.at(slant).development.girth(slant)
    }
    /// Radius of the surface at a height.
    pub fn radius(&self, slant: Mm) -> Mm {
        self.at(slant).development.radius(slant)
    }
    /// Circumference of the bare wall at a height.
    pub fn measured_girth(&self, slant: Mm) -> Mm {
        let z = self.at(slant);
        z.measured.girth(slant - z.low)
    }
    /// Circumference of the surface at the rim.
    pub fn upper(&self) -> Mm {
        self.highest().surface.upper
    }
    /// Circumference of the surface at the base edge.
    pub fn lower(&self) -> Mm {
        self.lowest().surface.lower
    }
    /// Largest circumference of the surface.
    pub fn widest(&self) -> Mm {
        self.zones.iter().fold(Mm::ZERO, |w, z| w.max(z.surface.upper).max(z.surface.lower))
    }
    /// Height of the surface, upright.
    pub fn height(&self) -> Mm {
        sum(self, |z| z.surface.height(), Mm::ZERO)
    }
    /// Area of the bare wall.
    pub fn lateral_area(&self) -> Mm2 {
        sum(self, |z| z.measured.lateral_area(), Mm2::ZERO)
    }
    /// Volume of the bare outside.
    pub fn volume(&self) -> Ml {
        sum(self, |z| z.measured.volume(), Ml(0.0))
    }
    /// Area of the surface that film may cover.
    pub fn free_area(&self) -> Mm2 {
        sum(self, WallZone::free_area, Mm2::ZERO)
    }
    /// By how much a coat lengthens circumferences where it does most.
    pub fn growth(&self, thickness: Mm) -> Mm {
        let growths = self.zones.iter().map(|z| z.measured.growth(thickness));
        growths.max_by(|a, b| a.abs().0.total_cmp(&b.abs().0)).unwrap_or(Mm::ZERO)
    }
    /// The bare wall, as what coats cover.
    pub fn bare(&self) -> Shell {
        Shell(self.zones.iter().map(|z| (z.low, z.measured)).collect())
    }
}

/// A wall as what coats cover: frusta one on another, each with the height of its lower edge.
#[derive(Clone, Debug, PartialEq)]
pub struct Shell(Vec<(Mm, Frustum)>);

impl Shell {
    /// Of one cone.
    pub fn of(f: Frustum) -> Shell {
        Shell(vec![(Mm::ZERO, f)])
    }
    /// The frustum at a height, and the height of its lower edge.
    pub fn at(&self, slant: Mm) -> (Mm, &Frustum) {
        let (low, f) = &self.0[self.0.iter().rposition(|z| z.0 <= slant).unwrap_or(0)];
        (*low, f)
    }
    /// Heights of the edges between its frusta.
    pub fn edges(&self) -> Vec<Mm> {
        self.0[1..].iter().map(|z| z.0).collect()
    }
    /// Circumference at a height.
    pub fn girth(&self, slant: Mm) -> Mm {
        let (low, f) = self.at(slant);
        f.girth(slant - low)
    }
    /// Circumference at the base edge.
    pub fn lower(&self) -> Mm {
        self.0[0].1.lower
    }
    /// Length of the wall.
    pub fn slant(&self) -> Mm {
        let (low, f) = self.0[self.0.len() - 1];
        low + f.slant
    }
    /// With a coat of this thickness on it.
    #[must_use]
    pub fn built_up(&self, thickness: Mm) -> Shell {
        Shell(self.0.iter().map(|(low, f)| (*low, f.built_up(thickness))).collect())
    }
    /// The sum over the wall's frusta between two heights of what is asked of each: it is given the frustum
    /// and the two heights on it, counted from its lower edge.
    pub fn sum(&self, from: Mm, to: Mm, of: impl Fn(&Frustum, Mm, Mm) -> f64) -> f64 {
        if let [(_, only)] = self.0.as_slice() {
            return of(only, from, to);
        }
        let part = |(low, f): &(Mm, Frustum)| {
            let (a, b) = (from.max(*low), to.min(*low + f.slant));
            if a < b { of(f, a - *low, b - *low) } else { 0.0 }
        };
        self.0.iter().map(part).sum()
    }
}

/// Of all zones; of one, its own number bit for bit.
fn sum<T: std::ops::Add<Output = T>>(cup: &Cup, of: impl Fn(&WallZone) -> T, none: T) -> T {
    let mut zones = cup.zones.iter().map(of);
    match zones.next() {
        Some(first) => zones.fold(first, |a, b| a + b),
        None => none,
    }
}
