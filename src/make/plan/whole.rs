//! What lies whole on a smooth wall, so that the borders between its parts keep off it: motifs and decals with places
//! of their own by their heights, the others by how high they are.
//!
//! Sizes are taken on the cone nearest to all readings, which no border crosses: heights along the wall are nearly the
//! same there, and what they differ by is added on either side.
//!
//! Imports: base, outline, read::{job, materials}, make::{cup, decal, motif}.

use crate::base::diag::Diagnostics;
use crate::base::frame::{Art, Plane, Point, Rigid};
use crate::base::tolerance::FLATTEN;
use crate::base::units::{Angle, Mm};
use crate::make::cup::{self, Cup};
use crate::make::decal;
use crate::make::motif::Motif;
use crate::outline::Region;
use crate::read::job::{CupSpec, Job, Placing, Turning, WallPose, Whole};
use crate::read::materials::Materials;

/// Added on either side of a span, in parts of its height: heights on the cone are not quite those on the curve.
const BESIDE: f64 = 0.02;
/// Turns at which the height of a motif that may turn is looked at.
const TURNS: usize = 36;

/// Heights that pieces take, and how high the tallest is that has no place yet.
pub(super) struct Heights {
    spans: Vec<(Mm, Mm)>,
    tallest: Mm,
    within: (Mm, Mm),
}

impl Heights {
    /// Of motifs and decals; nothing where sizes cannot be had (faults say so later).
    pub fn of(job: &Job, materials: &Materials, motifs: &[Motif]) -> Heights {
        let straight = CupSpec { curved: false, ..job.cup.clone() };
        let cup = cup::cone(&straight);
        let within = (job.cup.keep_clear.base, job.cup.wall - job.cup.keep_clear.rim);
        let mut all = Heights { spans: Vec::new(), tallest: Mm::ZERO, within };
        for m in motifs {
            match &m.placing {
                Placing::Pinned(poses) => {
                    all.spans.extend(poses.iter().map(|p| span(&cup, &m.outline, *p)));
                }
                Placing::Spread { turning, .. } | Placing::Many { turning, .. } => {
                    all.tallest = all.tallest.max(lowest(&m.outline, *turning));
                }
            }
        }
        for d in decal::make(job, materials, &cup, &mut Diagnostics::new()).iter().flatten() {
            let films = d.layers.iter().flat_map(|l| &l.films);
            let spans: Vec<(Mm, Mm)> = films.map(|(_, r)| on_plane(&cup, r, &d.pose)).collect();
            let low = spans.iter().map(|s| s.0).fold(job.cup.wall, Mm::min);
            let high = spans.iter().map(|s| s.1).fold(Mm::ZERO, Mm::max);
            if low < high {
                all.spans.push((low, high));
            }
        }
        all
    }
    /// With what pieces keep off borders.
    pub fn whole(&self, beside: Mm) -> Whole {
        let by = |height: Mm| height * BESIDE + beside;
        let wide = |(l, h): &(Mm, Mm)| (*l - by(*h - *l), *h + by(*h - *l));
        let tallest = if self.tallest > Mm::ZERO { self.tallest + by(self.tallest) * 2.0 } else { Mm::ZERO };
        Whole { spans: self.spans.iter().map(wide).collect(), tallest, within: self.within }
    }
}

/// Heights between which an outline lies at a place.
fn span(cup: &Cup, outline: &Region<Art>, pose: WallPose) -> (Mm, Mm) {
    on_plane(cup, outline, &cup.lowest().development.pose(pose))
}

fn on_plane(cup: &Cup, outline: &Region<Art>, pose: &Rigid<Art, Plane>) -> (Mm, Mm) {
    let d = &cup.lowest().development;
    let heights = outline.moved(pose).flat(FLATTEN).rings.into_iter().flatten();
    let heights = heights.map(|p| d.slant(Point::mm(p[0], p[1])));
    heights.fold((Mm(f64::INFINITY), Mm(f64::NEG_INFINITY)), |(l, h), s| (l.min(s), h.max(s)))
}

/// Least height of an outline as it may turn.
fn lowest(outline: &Region<Art>, turning: Turning) -> Mm {
    let points: Vec<[f64; 2]> = outline.flat(FLATTEN).rings.into_iter().flatten().collect();
    let height = |turn: Angle| {
        let (s, c) = (turn.rad().sin(), turn.rad().cos());
        let all = points.iter().map(|p| s * p[0] + c * p[1]);
        let (l, h) = all.fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), v| (l.min(v), h.max(v)));
        Mm((h - l).max(0.0))
    };
    let most = match turning {
        Turning::Upright => return height(Angle::ZERO),
        Turning::Within(a) => a,
        Turning::Free => Angle::degrees(90.0),
    };
    let turn = |i: usize| most * (2.0 * i as f64 / TURNS as f64 - 1.0);
    (0..=TURNS).map(|i| height(turn(i))).fold(Mm(f64::INFINITY), Mm::min)
}
