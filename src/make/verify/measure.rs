//! What all checks measure with: fine chords, areas and insides by the geo crate, and a breach told.
//!
//! Imports: base, outline, make::verify.

use super::BROKEN;
use crate::base::diag::{Diagnostic, KeyPath};
use crate::base::tolerance::PASSING;
use crate::base::units::Mm;
use crate::outline::{Flat, Region};

/// Chords of the second measuring: half a thousandth of a millimetre.
pub(super) const FINE: Mm = PASSING;

pub(super) fn breach(
    message: impl Into<String>,
    measured: impl std::fmt::Display,
    allowed: impl std::fmt::Display,
) -> Diagnostic {
    Diagnostic::fault(&BROKEN, KeyPath::root(), message)
        .measured(measured)
        .allowed(allowed)
        .help("nothing was written; try another seed, and report this job")
}

/// Rings of a region, flattened finely.
pub(super) fn rings<F: crate::base::frame::Frame>(region: &Region<F>) -> Flat<F> {
    region.flat(FINE)
}

/// A ring as a geo polygon.
pub(super) fn filled(ring: &[[f64; 2]]) -> geo::Polygon {
    let corners: Vec<_> = ring.iter().map(|p| (p[0], p[1])).collect();
    geo::Polygon::new(geo::LineString::from(corners), Vec::new())
}

/// A flat region as a geo polygon set: outer rings with the holes that lie in them, for areas and insides.
pub(super) fn area_by_geo<F: crate::base::frame::Frame>(flat: &Flat<F>) -> f64 {
    use geo::Area;
    flat.rings.iter().map(|r| filled(r).signed_area()).sum()
}

/// Is the corner inside the rings (even-odd), by geo's robust predicates?
pub(super) fn inside_by_geo<F: crate::base::frame::Frame>(flat: &Flat<F>, corner: [f64; 2]) -> bool {
    use geo::coordinate_position::{CoordPos, CoordinatePosition};
    let at = geo::Coord { x: corner[0], y: corner[1] };
    let count = flat.rings.iter().filter(|r| filled(r).coordinate_position(&at) == CoordPos::Inside);
    count.count() % 2 == 1
}

/// Distance of a point to a closed polyline, by the geometry library.
pub(super) fn to_ring(p: [f64; 2], ring: &[[f64; 2]]) -> f64 {
    use geo::{Distance, Euclidean};
    let point = geo::Point::new(p[0], p[1]);
    let closed = ring.iter().chain(ring.first()).map(|q| (q[0], q[1]));
    Euclidean.distance(&point, &geo::LineString::from(closed.collect::<Vec<_>>()))
}
