//! Where a decal stands on the wall, and what it must not touch: bands, seam, handle, other decals.
//!
//! Imports: base, outline, make::cup, make::decal::codes.

use super::codes::{OVER_BAND, OVER_HANDLE, OVER_SEAM, TOO_NEAR};
use crate::base::diag::{Diagnostic, Diagnostics, KeyPath};
use crate::base::frame::{Plane, Point};
use crate::base::tolerance::{CLEAR_GUARD, FLATTEN};
use crate::base::units::{Angle, Mm};
use crate::make::cup::{Development, Zone};
use crate::outline::{Clearance, Flat, Op, Region};

/// How far an outline reaches on the wall.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Extent {
    /// Lowest slant.
    pub low: Mm,
    /// Highest slant.
    pub high: Mm,
}

/// Lowest and highest slant of an outline on the plane.
pub fn extent(flat: &Flat<Plane>, d: &Development) -> Extent {
    let slants = flat.rings.iter().flatten().map(|p| d.wrap(Point::mm(p[0], p[1])).slant);
    slants.fold(Extent { low: Mm(f64::INFINITY), high: Mm(f64::NEG_INFINITY) }, |e, s| Extent {
        low: e.low.min(s),
        high: e.high.max(s),
    })
}

/// A decal's lowest layer on the wall.
#[derive(Debug)]
pub struct Standing<'a> {
    /// Which decal, for messages.
    pub title: String,
    /// Its place in the job.
    pub at: KeyPath,
    /// Its outline on the plane.
    pub region: &'a Region<Plane>,
    /// Where its middle is.
    pub azimuth: Angle,
    /// Least distance to everything else.
    pub clearance: Mm,
    /// The pass that it goes on in.
    pub pass: usize,
}

/// Reports everything that it must not touch and does, and by how much.
pub fn check(
    s: &Standing,
    others: &[&Standing],
    d: &Development,
    zone: &Zone,
    diagnostics: &mut Diagnostics,
) {
    let flat = s.region.flat(FLATTEN);
    bands(s, &flat, d, zone, diagnostics);
    seam(s, &flat, d, zone, diagnostics);
    for window in &zone.handles {
        handle(s, &flat, &window.region, d, diagnostics);
    }
    let mine = Clearance::new(flat);
    for other in others {
        let asked = s.clearance.max(other.clearance) + CLEAR_GUARD;
        if let Some(distance) = nearest((&mine, s.azimuth), (other.region, other.azimuth), d, asked) {
            let message = format!("\"{}\" is too near \"{}\"", s.title, other.title);
            diagnostics.push(
                Diagnostic::fault(&TOO_NEAR, s.at.clone(), message)
                    .measured(distance)
                    .allowed(format!("at least {}", s.clearance.max(other.clearance)))
                    .help(format!("move one of them by {:.1} mm or more", asked.0 - distance.0)),
            );
        }
    }
}

fn bands(s: &Standing, flat: &Flat<Plane>, d: &Development, zone: &Zone, diagnostics: &mut Diagnostics) {
    let e = extent(flat, d);
    let (over, under) = (e.high + FLATTEN - zone.high, zone.low - (e.low - FLATTEN));
    let room = zone.high - zone.low;
    let height = e.high - e.low;
    for (by, side, way) in [(over, 1, "down"), (under, 0, "up")] {
        if by <= Mm::ZERO {
            continue;
        }
        let message = if zone.edges[side] {
            let edge = [zone.below(), zone.above()][side];
            format!("\"{}\" is nearer to {edge} than half the clearance, by {by:.2}, or crosses it", s.title)
        } else {
            format!("\"{}\" reaches {by:.2} into the band at the {}", s.title, ["base", "rim"][side])
        };
        let mend = if height > room {
            format!(
                "it is {:.1} mm higher than the free wall: make it smaller, or its layers' offsets",
                (height - room).0
            )
        } else {
            format!("move it {way} by {:.1} mm, or write up = \"centred\"", (by.0 * 10.0).ceil() / 10.0)
        };
        diagnostics.push(
            Diagnostic::fault(&OVER_BAND, s.at.key("up"), message)
                .measured(format!("from {:.1} to {:.1} up the wall", e.low, e.high))
                .allowed(format!("{} to {}", zone.low, zone.high))
                .help(mend),
        );
    }
}

/// How far it reaches over the seam, by the shorter way out.
fn seam(s: &Standing, flat: &Flat<Plane>, d: &Development, zone: &Zone, diagnostics: &mut Diagnostics) {
    if zone.seam_open {
        return;
    }
    let turn = Angle::TURN.rad();
    let seam = s.azimuth.rad() + (zone.seam - s.azimuth).wrapped().rad();
    // Distances round from the seam at each corner's own height: the farthest to the right and to the left.
    let (mut right, mut left) = ([f64::NEG_INFINITY; 3], [f64::NEG_INFINITY; 3]);
    for p in flat.rings.iter().flatten() {
        let w = d.wrap(Point::mm(p[0], p[1]));
        let radius = d.radius(w.slant).0;
        for (k, n) in [-1.0, 0.0, 1.0].into_iter().enumerate() {
            let off = (w.azimuth.rad() - (seam + n * turn)) * radius;
            right[k] = right[k].max(off);
            left[k] = left[k].max(-off);
        }
    }
    for k in 0..3 {
        let by = right[k].min(left[k]);
        if by <= 0.0 {
            continue;
        }
        let (way, sign) = if right[k] < left[k] { ("left", -1.0) } else { ("right", 1.0) };
        let radius = d.radius(Mm(f64::midpoint(zone.low.0, zone.high.0))).0;
        let degrees = Angle::radians(by / radius).deg();
        let to = (s.azimuth + Angle::degrees(sign * (degrees + 0.5))).wrapped().deg();
        diagnostics.push(
            Diagnostic::fault(
                &OVER_SEAM,
                s.at.key("azimuth"),
                format!("\"{}\" reaches {} over the seam", s.title, Mm(by)),
            )
            .measured(format!("{} wide", Mm(right[k] + left[k])))
            .allowed("clear of the seam")
            .help(format!(
                "turn it to the {way} by {:.1} degrees or more: azimuth = {to:.1}; or move the seam",
                degrees
            )),
        );
        return;
    }
}

fn handle(
    s: &Standing,
    flat: &Flat<Plane>,
    window: &Region<Plane>,
    d: &Development,
    diagnostics: &mut Diagnostics,
) {
    let asked = s.clearance + CLEAR_GUARD;
    let middle = d.middle(&window.flat(FLATTEN));
    let mine = Clearance::new(flat.clone());
    let Some(distance) = nearest((&mine, s.azimuth), (window, middle), d, asked) else { return };
    let mut deep = Mm::ZERO;
    for n in [-1, 0, 1].into_iter().filter(|n| d.can_meet(s.azimuth, middle, *n)) {
        let overlap = s.region.op(&window.moved(&d.turned(n)), Op::Intersection);
        if !overlap.is_empty() {
            let (mut low, mut high) = (f64::INFINITY, f64::NEG_INFINITY);
            let flat = overlap.flat(FLATTEN);
            for p in flat.rings.iter().flatten() {
                let w = d.wrap(Point::mm(p[0], p[1]));
                let round = w.azimuth.rad() * d.radius(w.slant).0;
                (low, high) = (low.min(round), high.max(round));
            }
            deep = deep.max(Mm(high - low));
        }
    }
    let lacking = asked - distance + deep;
    let message = if deep > Mm::ZERO {
        format!("\"{}\" lies {deep:.1} deep in the handle's window", s.title)
    } else {
        format!("\"{}\" is {distance:.1} from the handle's window", s.title)
    };
    diagnostics.push(
        Diagnostic::fault(&OVER_HANDLE, s.at.key("azimuth"), message)
            .measured(distance)
            .allowed(format!("at least {}", s.clearance))
            .help(format!("move it round by {:.1} mm or more", lacking.0)),
    );
}

/// Distance to another region over the seam, each with the azimuth of its middle, if it is less than asked.
fn nearest(
    (mine, here): (&Clearance<Plane>, Angle),
    (other, there): (&Region<Plane>, Angle),
    d: &Development,
    asked: Mm,
) -> Option<Mm> {
    let flat = other.flat(FLATTEN);
    [-1, 0, 1]
        .into_iter()
        .filter(|n| d.can_meet(here, there, *n))
        .filter_map(|n| mine.distance(&Clearance::new(flat.moved(&d.turned(n))), asked))
        .min_by(|a, b| a.0.total_cmp(&b.0))
}
