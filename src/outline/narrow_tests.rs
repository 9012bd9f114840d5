//! Narrow places against closed forms, against an index-free twin, and against what must not be told.
//!
//! Imports: base::units, base::frame, outline.

use super::narrow::{Narrow, NarrowKind};
use super::{Bounds, FillRule, Op, Region};
use crate::base::frame::{Art, Point, Rigid};
use crate::base::units::{Angle, Mm};
use kurbo::BezPath;
use proptest::prelude::*;

type R = Region<Art>;

fn disc(x: f64, y: f64, r: f64) -> R {
    Region::disc(Point::mm(x, y), Mm(r))
}
fn rect(x0: f64, y0: f64, x1: f64, y1: f64) -> R {
    Region::rectangle(Bounds { min: Point::mm(x0, y0), max: Point::mm(x1, y1) })
}
fn svg(d: &str) -> R {
    Region::filled([BezPath::from_svg(d).unwrap()], FillRule::NonZero)
}
fn turned(r: &R, degrees: f64) -> R {
    r.moved(&Rigid::<Art, Art>::new(Angle::degrees(degrees), Point::mm(3.7, -11.3)))
}
/// A plate with two round bites that leave a neck: the discs' centres are farther apart than their radii by
/// `neck`.
fn bitten(neck: f64, r0: f64, r1: f64) -> R {
    let plate = rect(-30.0, -30.0, 30.0, 30.0);
    let bites = disc(-0.5 * neck - r0, 1.3, r0).op(&disc(0.5 * neck + r1, 1.3, r1), Op::Union);
    plate.op(&bites, Op::Difference)
}
/// Two triangles that meet point to point, a strip of the given width between them.
fn hourglass(neck: f64) -> R {
    let h = 0.5 * neck;
    Region::polygon(&[[-9.0, -8.0], [9.0, -8.0], [h, 0.0], [9.0, 8.0], [-9.0, 8.0], [-h, 0.0]])
}
fn only(found: Vec<Narrow<Art>>) -> Narrow<Art> {
    assert_eq!(found.len(), 1, "{found:#?}");
    found.into_iter().next().unwrap()
}

/// Known necks from 0.2 to 2 mm, turned every way: the width within 0.002 mm, nothing at 1 percent below.
#[test]
fn necks_have_their_width_and_none_is_told_beyond_the_limit() {
    for neck in [0.2, 0.35, 0.5, 0.8, 1.0, 1.4, 2.0] {
        let shapes: [(&str, R); 6] = [
            ("bites", bitten(neck, 6.0, 6.0)),
            ("small bites", bitten(neck, 0.4, 2.5)),
            ("hourglass", hourglass(neck)),
            ("off-centre ring", disc(0.0, 0.0, 10.0).op(&disc(6.0 - neck, 0.0, 4.0), Op::Difference)),
            ("point and edge", svg(&format!("M0 0H20V20H12L10 {neck}L8 20H0Z"))),
            ("stroke", rect(-20.0, -0.5 * neck, 20.0, 0.5 * neck)),
        ];
        for (name, shape) in shapes {
            for degrees in [0.0, 17.0, 45.0, 123.4] {
                let r = turned(&shape, degrees);
                let found = only(r.narrow(Mm(neck * 1.01)));
                assert!((found.width.0 - neck).abs() < 0.002, "{name} {neck} {degrees}: {}", found.width);
                assert!((found.at[0].distance(found.at[1]).0 - found.width.0).abs() < 1e-9);
                let over = r.narrow(Mm(neck * 0.99));
                assert!(over.is_empty(), "{name} {neck} {degrees}: {over:?}");
            }
        }
    }
}

/// The same for gaps: between two parts, in a slit, across a hole.
#[test]
fn gaps_have_their_width_and_none_is_told_beyond_the_limit() {
    for gap in [0.2, 0.5, 0.8, 1.3, 2.0] {
        let shapes: [(&str, R); 5] = [
            ("discs", disc(-5.0 - 0.5 * gap, 0.0, 5.0).op(&disc(3.0 + 0.5 * gap, 0.0, 3.0), Op::Union)),
            ("points", svg(&format!("M{0} 0L-12 6V-6ZM{1} 0L12 -6V6Z", -0.5 * gap, 0.5 * gap))),
            ("blocks", rect(-9.0, 0.0, 9.0, 9.0).op(&rect(-9.0, -9.0 - gap, 9.0, -gap), Op::Union)),
            ("waist of a hole", rect(-35.0, -35.0, 35.0, 35.0).op(&hourglass(gap), Op::Difference)),
            ("long hole", rect(-9.0, -9.0, 9.0, 9.0).op(&rect(-7.0, 0.0, 7.0, gap), Op::Difference)),
        ];
        for (name, shape) in shapes {
            for degrees in [0.0, 31.0, 90.0] {
                let r = turned(&shape, degrees);
                let found = only(r.gaps(Mm(gap * 1.01)));
                assert!((found.width.0 - gap).abs() < 0.002, "{name} {gap} {degrees}: {}", found.width);
                let over = r.gaps(Mm(gap * 0.99));
                assert!(over.is_empty(), "{name} {gap} {degrees}: {over:?}");
                assert!(r.narrow(Mm(gap.min(0.9))).is_empty(), "{name}: the film itself is wide");
            }
        }
    }
}

#[test]
fn corners_are_not_narrow_and_long_tips_are() {
    // Wide corners, the tips of a five-pointed star (36 degrees), a rounded end.
    let mut star = String::from("M");
    for k in 0..10 {
        let (r, a) = (if k % 2 == 0 { 20.0 } else { 7.639 }, f64::from(k) * 36f64.to_radians());
        star += &format!("{:.6} {:.6} ", r * a.sin(), r * a.cos());
    }
    let shapes =
        [svg(&(star + "Z")), rect(0.0, 0.0, 9.0, 5.0), disc(0.0, 0.0, 0.6), svg("M0 0L20 5.2L0 10.4Z")];
    for r in shapes {
        for limit in [0.2, 0.5, 1.0] {
            assert_eq!(r.narrow(Mm(limit)), vec![]);
            assert_eq!(r.gaps(Mm(limit)), vec![]);
        }
    }
    // A needle of 10 degrees is: at one limit from its point it is 2 * 0.8 * tan 5 degrees wide.
    let needle = only(svg("M0 0L60 5.2493L60 -5.2493Z").narrow(Mm(0.8)));
    assert_eq!(needle.kind, NarrowKind::Tip);
    approx::assert_abs_diff_eq!(needle.width.0, 1.6 * libm::tan(5f64.to_radians()), epsilon = 0.05);
    // Narrower than 0.8 mm up to 4.57 mm from the point.
    approx::assert_abs_diff_eq!(needle.length.0, 4.57 - 0.8, epsilon = 0.5);
    // A notch as long and thin is a narrow gap.
    let notch = only(svg("M0 0H40V30H22L20 8L18 30H0Z").gaps(Mm(0.8)));
    assert_eq!(notch.kind, NarrowKind::Tip);
    // A spur: as wide all along; it counts as soon as it is longer than the limit.
    let spur = |len: f64| svg(&format!("M0 0H20V10H10.15V{}H9.85V10H0Z", 10.0 + len)).narrow(Mm(0.8));
    approx::assert_abs_diff_eq!(only(spur(2.0)).width.0, 0.3, epsilon = 1e-6);
    assert!(spur(0.7).is_empty());
}

#[test]
fn a_part_or_hole_too_small_for_the_limit_is_told_as_a_whole() {
    let dot = disc(50.0, 0.0, 0.3);
    let found = only(disc(0.0, 0.0, 9.0).op(&dot, Op::Union).narrow(Mm(0.8)));
    approx::assert_abs_diff_eq!(found.width.0, 0.6, epsilon = 1e-3);
    let found = only(disc(0.0, 0.0, 9.0).op(&disc(1.0, 2.0, 0.25), Op::Difference).gaps(Mm(0.8)));
    approx::assert_abs_diff_eq!(found.width.0, 0.5, epsilon = 1e-3);
    // An equilateral triangle of side 1: its inscribed circle has the diameter 1 / sqrt 3.
    let triangle =
        only(Region::<Art>::polygon(&[[0.0, 0.0], [1.0, 0.0], [0.5, 0.75f64.sqrt()]]).narrow(Mm(0.8)));
    assert_eq!(triangle.kind, NarrowKind::Whole);
    approx::assert_abs_diff_eq!(triangle.width.0, 1.0 / 3f64.sqrt(), epsilon = 0.01);
    // Without such a part nothing is told, and nothing at all of nothing.
    assert!(disc(0.0, 0.0, 0.41).narrow(Mm(0.8)).is_empty());
    assert!(Region::<Art>::empty().narrow(Mm(0.8)).is_empty());
    assert!(
        disc(0.0, 0.0, 9.0).narrow(Mm(0.0)).is_empty() && disc(0.0, 0.0, 9.0).narrow(Mm(f64::NAN)).is_empty()
    );
}

#[test]
fn a_stroke_tells_its_length_and_its_middle_line() {
    let found = only(rect(0.0, 0.0, 30.0, 0.5).narrow(Mm(0.8)));
    // The first and last limit's length are ends.
    approx::assert_abs_diff_eq!(found.length.0, 30.0 - 1.6, epsilon = 0.9);
    let middles = found.lines.concat();
    assert!(middles.len() > 100);
    for m in middles {
        assert!((m.at.y - 0.25).abs() < 1e-9 && (m.width.0 - 0.5).abs() < 1e-9 && m.along[1].abs() < 1e-9);
    }
}

#[test]
fn parts_that_touch_in_one_point_are_no_width_apart() {
    // Squares corner to corner: united, they share the point.
    let r = svg("M0 0H5V5H0ZM5 5H10V10H5Z");
    let both = [r.narrow(Mm(0.5)), r.gaps(Mm(0.5))].concat();
    assert!(
        both.iter().any(|n| n.width.0 < 1e-3 && n.middle().distance(Point::mm(5.0, 5.0)).0 < 1e-3),
        "{both:?}"
    );
}

proptest! {
    /// Two round bites anywhere, of any size: the neck is known.
    #[test]
    fn bites_of_any_size_leave_the_neck_they_leave(
        neck in 0.1..2.0f64, r0 in 0.1..8.0f64, r1 in 0.1..8.0f64, degrees in 0.0..360.0f64, over in 1.005..3.0f64,
    ) {
        let r = turned(&bitten(neck, r0, r1), degrees);
        let limit = (neck * over).min(2.5);
        let found = r.narrow(Mm(limit));
        prop_assert_eq!(found.len(), 1);
        prop_assert!((found[0].width.0 - neck).abs() < 0.002, "{} {}", neck, found[0].width);
        prop_assert!(r.narrow(Mm(neck * 0.99)).is_empty());
    }

    /// A region's gaps are the widths of what a frame around it leaves.
    #[test]
    fn gaps_are_the_widths_of_the_complement(gap in 0.1..1.5f64, x in 0.5..6.0f64, y in 0.5..6.0f64, degrees in 0.0..90.0f64) {
        let parts = disc(-x - 0.5 * gap, 0.0, x).op(&disc(y + 0.5 * gap, 0.0, y), Op::Union);
        let frame = rect(-30.0, -30.0, 30.0, 30.0).op(&parts, Op::Difference);
        let (a, b) = (turned(&parts, degrees).gaps(Mm(1.6)), turned(&frame, degrees).narrow(Mm(1.6)));
        prop_assert_eq!(a.len(), 1);
        prop_assert_eq!(b.len(), 1);
        prop_assert!((a[0].width.0 - b[0].width.0).abs() < 1e-4);
    }
}
