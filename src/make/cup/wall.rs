//! [`WallZone`]: a part of the wall that is one cone; and what is asked of a [`Cup`] whatever its zones.
//!
//! A wall without edges is one zone, and every number is that of its cone. Zones meet at edges that the maker
//! feels: two cones share a parallel there, of one girth on the bare cup. Each is rolled out by itself, for no
//! plane holds both. A coat of thickness b lengthens each by 2 pi b cos(lean), so that with coats the girths
//! of neighbours differ at their edge by 2 pi b times the difference of the cosines.
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
        WallZone { low, high: low + measured.slant, measured, surface, development, zone }
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
