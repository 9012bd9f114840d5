//! Where an outline comes so near to itself that it all but touches, and what is cut off so.
//!
//! ```text
//!      __________________            ______  ______
//!     |   film  __       |          |  film || film|
//!     |________/  \__    |     the mouth is narrower than THIN_TIP, and what lies behind it holds
//!      ________ gap _)   |     a wider place: a pocket. A corner that only runs out thin has none
//!     |        \__/      |     (see cusp).
//! ```
//!
//! Narrow places as the film's own limit finds them ([`super::narrow`]) end one limit before a slit's end: a pocket
//! that is shorter is none of them, however thin its mouth.
//!
//! Imports: base, outline::{region, boolean, moving, boundary, narrow}.

use super::boolean::Op;
use super::boundary::{Outline, OutlinePlace};
use super::moving::Join;
use super::narrow::{Narrow, NarrowKind};
use super::region::Region;
use crate::base::frame::{Frame, Point};
use crate::base::tolerance::{FLATTEN, THIN_TIP};
use crate::base::units::Mm;
use kurbo::Point as At;

/// Way along the outline from one side of a mouth to the other, as a multiple of [`THIN_TIP`], from which on they are
/// two sides: at a corner blunted by cusp it is half as long.
const WAY: f64 = 4.0;
/// What a pocket holds somewhere, as a multiple of the width of its mouth.
const WIDER: f64 = 1.2;

/// An outline that nearly touches itself.
#[derive(Clone, Debug, PartialEq)]
pub struct Touch<F: Frame> {
    /// The mouth, as a narrow place: its two sides and its width.
    pub mouth: Narrow<F>,
    /// Film hangs on by so little; else a gap opens by so little.
    pub film: bool,
    /// What lies behind the mouth on the shorter way, as chords.
    pub pocket: Region<F>,
}

/// Two places of one ring that face each other.
#[derive(Clone, Copy)]
struct Facing {
    near2: f64,
    from: OutlinePlace,
    to: OutlinePlace,
    /// Shorter way from one to the other, and the middle of that way along the ring.
    way: f64,
    middle: f64,
}

/// Pairs that go round one another: the outermost and the narrowest.
struct Slit {
    outer: Facing,
    least: Facing,
}

impl Slit {
    /// Its mouth, if there is something wider behind the outermost pair or the narrowest.
    fn mouth<F: Frame>(&self, o: &Outline) -> Option<Touch<F>> {
        let wider = 0.5 * WIDER * self.least.near2.sqrt().max(FLATTEN.0);
        let pockets = [self.outer, self.least].map(|f| behind::<F>(o, f));
        let pocket = pockets.into_iter().find(|p| !p.offset(Mm(-wider), Join::Round).is_empty())?;
        let at = [self.least.from, self.least.to].map(|p| o.at(p)).map(|p| Point::mm(p.x, p.y));
        let width = Mm(self.least.near2.sqrt());
        let mouth = Narrow { kind: NarrowKind::Neck, width, at, length: Mm::ZERO, lines: Vec::new() };
        let middle = mouth.middle();
        Some(Touch { mouth, film: o.tree.odd(middle.x, middle.y), pocket })
    }
}

/// All pairs, gathered: one goes round another if its way holds the other's.
fn slits(o: &Outline) -> Vec<Slit> {
    let mut all = facing(o);
    all.sort_by(|a, b| b.way.total_cmp(&a.way).then(a.from.edge.cmp(&b.from.edge)));
    let mut out: Vec<Slit> = Vec::new();
    for f in all {
        let e = &o.edges[f.from.edge as usize];
        let ring = o.rings[e.ring as usize].length;
        let round = |s: &Slit| {
            let d = (s.outer.middle - f.middle).abs();
            o.edges[s.outer.from.edge as usize].ring == e.ring
                && d.min(ring - d) + 0.5 * f.way <= 0.5 * s.outer.way + THIN_TIP.0
        };
        match out.iter_mut().find(|s| round(s)) {
            Some(s) if f.near2 < s.least.near2 => s.least = f,
            Some(_) => {}
            None => out.push(Slit { outer: f, least: f }),
        }
    }
    out
}

impl<F: Frame> Region<F> {
    /// Mouths narrower than [`THIN_TIP`] with something wider behind them, narrowest first; widths are those of chords
    /// ([`FLATTEN`]). What different rings leave between them is a neck as long as any, see [`Region::narrow`].
    pub fn touches(&self) -> Vec<Touch<F>> {
        let o = Outline::of(self, FLATTEN.0);
        let mut found: Vec<Touch<F>> = slits(&o).iter().filter_map(|s| s.mouth(&o)).collect();
        found.sort_by(|a, b| a.mouth.width.0.total_cmp(&b.mouth.width.0));
        found
    }
    /// The same outline with the pockets behind such mouths filled, and how many there were.
    #[must_use]
    pub fn without_pockets(&self) -> (Self, usize) {
        let gaps: Vec<Region<F>> = self
            .touches()
            .into_iter()
            .filter(|t| !t.film)
            .map(|t| t.pocket.offset(THIN_TIP, Join::Round))
            .collect();
        if gaps.is_empty() {
            return (self.clone(), 0);
        }
        (self.op(&Region::union_of(&gaps), Op::Union), gaps.len())
    }
}

/// From every corner of the chords the nearest edge of the same ring that is none of its neighbours.
fn facing(o: &Outline) -> Vec<Facing> {
    let within2 = THIN_TIP.0 * THIN_TIP.0;
    let mut out = Vec::new();
    for (i, e) in o.edges.iter().enumerate() {
        let from = OutlinePlace { edge: i as u32, f: 0.0 };
        let ring = &o.rings[e.ring as usize];
        let beside = |id: u32| {
            let f = &o.edges[id as usize];
            let on = |s: f64| {
                let d = (s - e.s).abs();
                d.min(ring.length - d)
            };
            f.ring != e.ring || on(f.s).min(on(f.s + f.len)) < WAY * THIN_TIP.0
        };
        let Some(hit) = o.tree.nearest(e.a.x, e.a.y, within2, beside) else { continue };
        let f = &o.edges[hit.id as usize];
        let q = At::new(hit.x, hit.y);
        let to = OutlinePlace { edge: hit.id, f: ((q - f.a).dot(f.u) / f.len).clamp(0.0, 1.0) };
        let (s, way) = (o.along(to), o.way(from, to));
        let ahead = (s - e.s).rem_euclid(ring.length) <= 0.5 * ring.length;
        let middle = (if ahead { e.s } else { s } + 0.5 * way).rem_euclid(ring.length);
        out.push(Facing { near2: (q - e.a).hypot2(), from, to, way, middle });
    }
    out
}

/// What the shorter way along the outline goes round.
fn behind<F: Frame>(o: &Outline, f: Facing) -> Region<F> {
    let ring = o.rings[o.edges[f.from.edge as usize].ring as usize];
    let (a, b) = (o.along(f.from), o.along(f.to));
    let on = (b - a).rem_euclid(ring.length);
    let [start, end] = if on <= ring.length / 2.0 { [f.from, f.to] } else { [f.to, f.from] };
    let mut corners = vec![o.at(start)];
    let mut k = start.edge as usize;
    for _ in 0..ring.count {
        if k == end.edge as usize {
            break;
        }
        k = o.next(k);
        corners.push(o.edges[k].a);
    }
    corners.push(o.at(end));
    let corners: Vec<[f64; 2]> = corners.iter().map(|p| [p.x, p.y]).collect();
    Region::polygon(&corners)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::frame::Art;
    use proptest::prelude::*;

    /// A plate of 10 by 10 mm, and a pocket of its film or gap (`side` 1 or -1) behind a mouth on its right side.
    fn keyhole(mouth: f64, long: f64, room: f64, inward: bool) -> Region<Art> {
        let s = if inward { -1.0 } else { 1.0 };
        let plate = Region::<Art>::polygon(&[[0.0, 0.0], [10.0, 0.0], [10.0, 10.0], [0.0, 10.0]]);
        let ends = [10.0 - s * 0.2, 10.0 + s * (long + room / 2.0)];
        let slot = Region::rectangle(crate::outline::Bounds {
            min: Point::mm(ends[0].min(ends[1]), 5.0 - mouth / 2.0),
            max: Point::mm(ends[0].max(ends[1]), 5.0 + mouth / 2.0),
        });
        let hole = Region::disc(Point::mm(10.0 + s * (long + room / 2.0), 5.0), Mm(room / 2.0));
        let both = Region::union_of([&slot, &hole]);
        plate.op(&both, if inward { Op::Difference } else { Op::Union })
    }

    proptest! {
        /// Truth: the mouth that was drawn; a filled pocket leaves the plate.
        #[test]
        fn a_pocket_behind_a_thin_mouth_is_found(
            mouth in 0.002..0.022f64, long in 0.08..0.6f64, room in 0.08..0.6f64, inward in any::<bool>(),
        ) {
            let r = keyhole(mouth, long, room, inward);
            let found = r.touches();
            prop_assert_eq!(found.len(), 1, "{:?}", found);
            prop_assert!((found[0].mouth.width.0 - mouth).abs() < 0.003, "{} {}", found[0].mouth.width, mouth);
            prop_assert_eq!(found[0].film, !inward, "{:?}", found);
            let (full, n) = r.without_pockets();
            prop_assert_eq!(n, usize::from(inward));
            if inward {
                prop_assert!(full.touches().is_empty());
                prop_assert!((full.area().0 - 100.0).abs() < 0.02 && full.area() >= r.area());
            }
        }
        /// Truth: corners run out thin, but hold nothing wider; and mouths wider than the limit are none.
        #[test]
        fn corners_and_wider_mouths_are_none(deg in 5.0..60.0f64, mouth in 0.026..0.2f64) {
            let (x, y) = (10.0 * deg.to_radians().cos(), 10.0 * deg.to_radians().sin());
            let wedge = Region::<Art>::polygon(&[[0.0, 0.0], [10.0, 0.0], [x, y]]);
            prop_assert!(wedge.touches().is_empty());
            prop_assert!(keyhole(mouth, 0.3, 0.4, true).touches().is_empty());
        }
    }
}
