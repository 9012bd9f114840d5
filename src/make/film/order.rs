//! Cut order: what lies inside before what holds it, then the shortest way.
//!
//! Imports: base, make::film::sheet.

use super::sheet::Placed;
use crate::base::frame::{Frame, Sheet};
use crate::base::shape::flatten::ring_area;
use crate::base::shape::{BezPath, Flat, Region, Ring};
use crate::base::tolerance::FLATTEN;

/// Is the point inside the ring (even-odd)?
pub fn inside(ring: &Ring, p: [f64; 2]) -> bool {
    let mut hit = false;
    let mut a = ring[ring.len() - 1];
    for &b in ring {
        if (a[1] > p[1]) != (b[1] > p[1]) && p[0] < (b[0] - a[0]) * (p[1] - a[1]) / (b[1] - a[1]) + a[0] {
            hit = !hit;
        }
        a = b;
    }
    hit
}

/// The contours of a region with the innermost first.
pub fn inner_first<F: Frame>(region: &Region<F>) -> Region<F> {
    let rings: Vec<Ring> = region
        .contours()
        .iter()
        .map(|c| Region::<F>::trusted([c.clone()]).flat(FLATTEN).rings.concat())
        .collect();
    let depth = |i: usize| {
        (0..rings.len())
            .filter(|&j| {
                j != i && rings[j].len() > 2 && rings[i].first().is_some_and(|p| inside(&rings[j], *p))
            })
            .count()
    };
    let mut order: Vec<(usize, usize)> = (0..rings.len()).map(|i| (depth(i), i)).collect();
    order.sort_by_key(|&(d, i)| (std::cmp::Reverse(d), i));
    let sorted: Vec<BezPath> = order.iter().map(|&(_, i)| region.contours()[i].clone()).collect();
    Region::trusted(sorted)
}

/// For each item, those that lie in one of its holes and must be cut before it.
pub fn held(flats: &[Flat<Sheet>]) -> Vec<Vec<usize>> {
    let boxes: Vec<_> = flats.iter().map(Flat::bounds).collect();
    (0..flats.len())
        .map(|i| {
            let holes: Vec<&Ring> = flats[i].rings.iter().filter(|r| ring_area(r) < 0.0).collect();
            let within = |j: usize| {
                let p = flats[j].rings[0][0];
                let b = &boxes[i];
                p[0] > b.min.x
                    && p[0] < b.max.x
                    && p[1] > b.min.y
                    && p[1] < b.max.y
                    && holes.iter().any(|h| inside(h, p))
            };
            (0..flats.len())
                .filter(|&j| j != i && !holes.is_empty() && !flats[j].rings.is_empty() && within(j))
                .collect()
        })
        .collect()
}

/// Puts the pieces of a sheet into cut order: held ones first, otherwise in rows from the bottom.
pub fn sort(placed: &mut Vec<Placed>) {
    let flats: Vec<Flat<Sheet>> = placed.iter().map(|p| p.cuts.flat(FLATTEN)).collect();
    let held = held(&flats);
    let mut depth = vec![0usize; flats.len()];
    for inner in &held {
        for &j in inner {
            depth[j] += 1;
        }
    }
    let mut keyed: Vec<(usize, f64, Placed)> =
        placed.drain(..).enumerate().map(|(i, p)| (depth[i], flats[i].bounds().min.y, p)).collect();
    keyed.sort_by(|a, b| b.0.cmp(&a.0).then(a.1.total_cmp(&b.1)).then(a.2.number.cmp(&b.2.number)));
    placed.extend(keyed.into_iter().map(|(_, _, p)| p));
}
