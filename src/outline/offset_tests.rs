//! Offsets against closed forms.
//!
//! Imports: base::units, base::frame, outline.

use super::moving::Join;
use super::region::Region;
use crate::base::frame::Art;
use crate::base::frame::Point as At;
use crate::base::units::Mm;

/// Steiner's formula for a convex shape: A + P d + pi d^2.
#[test]
fn offset_of_a_rectangle_follows_steiner() {
    let r: Region<Art> = Region::polygon(&[[0.0, 0.0], [30.0, 0.0], [30.0, 20.0], [0.0, 20.0]]);
    for d in [0.1, 1.0, 7.5, 20.0] {
        let want = 600.0 + 100.0 * d + std::f64::consts::PI * d * d;
        let grown = r.offset(Mm(d), Join::Round);
        approx::assert_abs_diff_eq!(grown.area().0, want, epsilon = 0.01 * std::f64::consts::TAU * d);
        assert!(grown.nodes() <= 8, "{} nodes", grown.nodes());
    }
}

#[test]
fn shrinking_an_annulus_widens_its_hole() {
    let outer: Region<Art> = Region::disc(At::ORIGIN, Mm(10.0));
    let inner: Region<Art> = Region::disc(At::ORIGIN, Mm(4.0));
    let ring = outer.op(&inner, super::Op::Difference).offset(Mm(-1.0), Join::Round);
    approx::assert_abs_diff_eq!(ring.area().0, std::f64::consts::PI * (81.0 - 25.0), epsilon = 0.9);
    assert!(ring.nodes() <= 10);
}

#[test]
fn a_hole_smaller_than_the_distance_closes() {
    let outer: Region<Art> = Region::disc(At::ORIGIN, Mm(10.0));
    let inner: Region<Art> = Region::disc(At::mm(1.0, 0.5), Mm(0.9));
    let ring = outer.op(&inner, super::Op::Difference);
    let grown = ring.offset(Mm(1.0), Join::Round);
    assert_eq!(grown.contours().len(), 1);
    assert!(ring.offset(Mm(-6.0), Join::Round).is_empty());
    let polygon = ring.flat(Mm(0.01)).offset(Mm(1.0), Join::Round);
    assert_eq!(polygon.rings.len(), 1);
}

#[test]
fn a_mitre_reaches_its_tip_and_no_farther_than_its_limit() {
    let r: Region<Art> = Region::polygon(&[[0.0, 0.0], [30.0, 0.0], [30.0, 20.0], [0.0, 20.0]]);
    approx::assert_abs_diff_eq!(r.offset(Mm(2.0), Join::Mitre(2.0)).area().0, 34.0 * 24.0, epsilon = 1e-6);
    // Cut off at 1.2 times the distance: each corner loses a right triangle as high as what lies beyond.
    let beyond = 2.0 * (2.0f64.sqrt() - 1.2);
    approx::assert_abs_diff_eq!(
        r.offset(Mm(2.0), Join::Mitre(1.2)).area().0,
        34.0 * 24.0 - 4.0 * beyond * beyond,
        epsilon = 1e-6
    );
}

/// A regular polygon of n sides at distance a from its middle, mitred, is one at a + d: area n (a + d)^2
/// tan(pi/n). Cut off at `limit` times d, each corner loses its tip: a triangle e = d (1 / cos h - limit)
/// high and 2 e / tan h wide, with h = pi / n, half the turn.
#[test]
fn mitres_of_regular_polygons_have_their_closed_form() {
    for n in [3u32, 4, 5, 6, 8, 12] {
        let (a, d, h) = (10.0, 1.5, std::f64::consts::PI / f64::from(n));
        let r = a / libm::cos(h);
        let at = |k: u32| {
            let v = 2.0 * h * f64::from(k);
            [r * libm::cos(v), r * libm::sin(v)]
        };
        let p: Region<Art> = Region::polygon(&(0..n).map(at).collect::<Vec<_>>());
        let whole = f64::from(n) * (a + d) * (a + d) * libm::tan(h);
        let reach = 1.0 / libm::cos(h);
        let (short, beyond) = (f64::midpoint(1.0, reach), d * (reach - 1.0) / 2.0);
        let cut = whole - f64::from(n) * beyond * beyond / libm::tan(h);
        for (limit, want) in [(1.001 * reach, whole), (100.0, whole), (short, cut)] {
            let got = p.offset(Mm(d), Join::Mitre(limit));
            approx::assert_relative_eq!(got.area().0, want, max_relative = 1e-6);
            assert_eq!(got.nodes(), if want == whole { n as usize } else { 2 * n as usize });
            // No point farther than the limit allows, none nearer than the distance at the sides.
            let far = got.flat(Mm(1e-3)).rings.concat().iter().fold(0.0, |m: f64, q| m.max(q[0].hypot(q[1])));
            let end =
                if want == whole { r + d * reach } else { (r + d * short).hypot(beyond / libm::tan(h)) };
            assert!(far <= end + 1e-6, "{far} {end}");
        }
        // Inwards every corner of a convex outline is one of the smaller polygon, whatever the join.
        let inner = p.offset(Mm(-d), Join::Mitre(2.0));
        approx::assert_relative_eq!(inner.area().0, whole * ((a - d) / (a + d)).powi(2), max_relative = 1e-6);
    }
}

/// A notch mitred inwards: its reentrant corner is the outer corner of what is cut away.
#[test]
fn a_reentrant_corner_is_mitred_inwards() {
    let l: Region<Art> =
        Region::polygon(&[[0.0, 0.0], [20.0, 0.0], [20.0, 10.0], [10.0, 10.0], [10.0, 20.0], [0.0, 20.0]]);
    let got = l.offset(Mm(-1.0), Join::Mitre(2.0));
    approx::assert_abs_diff_eq!(got.area().0, 18.0 * 8.0 + 8.0 * 10.0, epsilon = 1e-6);
    let round = l.offset(Mm(-1.0), Join::Round);
    approx::assert_abs_diff_eq!(
        round.area().0 - got.area().0,
        1.0 - std::f64::consts::FRAC_PI_4,
        epsilon = 0.02
    );
}
