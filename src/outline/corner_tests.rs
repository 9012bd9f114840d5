//! Corners against closed forms.
//!
//! Imports: base::units, base::frame, outline.

use super::corner::CornerKind;
use super::{Bounds, Clearance, FillRule, Op, Region};
use crate::base::frame::{Art, Point, Rigid};
use crate::base::units::{Angle, Mm};
use kurbo::BezPath;
use proptest::prelude::*;
use std::f64::consts::PI;

type R = Region<Art>;

fn svg(d: &str) -> R {
    Region::filled([BezPath::from_svg(d).unwrap()], FillRule::NonZero)
}
/// A wedge of the given angle and length, its point at the origin.
fn wedge(angle: f64, length: f64) -> R {
    let (x, y) = (length * libm::cos(0.5 * angle), length * libm::sin(0.5 * angle));
    Region::polygon(&[[0.0, 0.0], [x, -y], [x, y]])
}

#[test]
fn corners_have_the_angle_between_their_sides() {
    // A notch of 30 degrees, right angles, and the star's 36.
    let notched = svg(&format!(
        "M0 0H40V30H{}L20 20L{} 30H0Z",
        20.0 + 10.0 * libm::tan(PI / 12.0),
        20.0 - 10.0 * libm::tan(PI / 12.0)
    ));
    let found = notched.sharp_corners(Angle::degrees(80.0));
    assert_eq!(found.len(), 1);
    assert_eq!(found[0].points, CornerKind::In);
    approx::assert_abs_diff_eq!(found[0].angle.deg(), 30.0, epsilon = 1e-3);
    assert_eq!(notched.sharp_corners(Angle::degrees(91.0)).len(), 5);
    // A leaf of two arcs: tips of 2 atan(12 / 10) ... of its handles, exactly.
    let leaf = svg("M0 0C10 12 30 12 40 0C30 -12 10 -12 0 0Z").sharp_corners(Angle::degrees(120.0));
    assert_eq!(leaf.len(), 2);
    for c in &leaf {
        approx::assert_abs_diff_eq!(c.angle.rad(), 2.0 * libm::atan2(12.0, 10.0), epsilon = 1e-3);
        assert_eq!(c.points, CornerKind::Out);
    }
    assert!(Region::<Art>::disc(Point::ORIGIN, Mm(0.5)).sharp_corners(Angle::degrees(150.0)).is_empty());
}

#[test]
fn a_blunted_tip_is_one_corner() {
    // A needle of 20 degrees whose point is cut off 0.03 mm wide.
    let h = 0.015;
    let r = Region::<Art>::polygon(&[[0.0, -h], [20.0, -h - 3.5265], [20.0, h + 3.5265], [0.0, h]]);
    let found = r.sharp_corners(Angle::degrees(45.0));
    assert_eq!(found.len(), 1);
    approx::assert_abs_diff_eq!(found[0].angle.deg(), 20.0, epsilon = 0.01);
}

/// Case 1: letters of one font have a jog of 0.01 mm where two strokes meet; a corner of 56 degrees was told
/// in it.
#[test]
fn a_jog_as_small_as_a_blades_tip_is_no_corner() {
    let stepped = |high: f64| {
        R::polygon(&[
            [0.0, 0.0],
            [40.0, 0.0],
            [40.0, 9.0],
            [20.0, 9.0],
            [20.0 + high, 9.0 + 0.5 * high],
            [0.0, 9.0 + 0.5 * high],
        ])
    };
    let limit = Angle::degrees(80.0);
    assert_eq!(stepped(0.01).sharp_corners(limit), vec![]);
    // Ten times as large it is two corners, one each way.
    let found = stepped(0.1).sharp_corners(limit);
    assert_eq!(found.iter().map(|c| c.points).collect::<Vec<_>>(), [CornerKind::In, CornerKind::Out]);
}

#[test]
fn small_parts_and_holes_are_told_with_their_extent() {
    let r = svg("M0 0H20V20H0ZM30 0H30.6V0.8H30ZM30 5H30.5V7H30Z");
    let r = r.op(&Region::disc(Point::mm(10.0, 10.0), Mm(0.4)), Op::Difference);
    let found = r.small_islands(Mm(1.2));
    assert_eq!(found.len(), 2);
    let part = found.iter().find(|i| !i.hole).unwrap();
    approx::assert_abs_diff_eq!(part.extent.0, 1.0, epsilon = 1e-9);
    let hole = found.iter().find(|i| i.hole).unwrap();
    approx::assert_abs_diff_eq!(hole.extent.0, 0.8, epsilon = 0.005);
}

proptest! {
    /// A tip between straight sides loses r^2 (cot(a/2) - (pi - a)/2): the kite less the sector.
    #[test]
    fn a_rounded_tip_loses_the_area_between_its_sides_and_the_arc(
        degrees in 8.0..85.0f64, r in 0.05..0.6f64, turn in 0.0..360.0f64,
    ) {
        let a = degrees.to_radians();
        let shape = wedge(a, 40.0).moved(&Rigid::<Art, Art>::new(Angle::degrees(turn), Point::mm(1.0, -7.0)));
        // The other two corners are blunter than 86 degrees only for small angles: limit just above the
        // tip's.
        let (round, report) = shape.rounded(Angle::radians(a + 1e-6), Mm(r));
        let tip = report.iter().find(|t| (t.corner.angle.rad() - a).abs() < 1e-5).unwrap();
        prop_assert_eq!(tip.radius, Some(Mm(r)));
        if report.len() == 1 {
            let want = r * r * (1.0 / libm::tan(0.5 * a) - 0.5 * (PI - a));
            prop_assert!((shape.area().0 - round.area().0 - want).abs() < 1e-3 * r * r, "{} {}", shape.area().0 - round.area().0, want);
        }
        prop_assert!(round.sharp_corners(Angle::radians(a + 1e-6)).len() < shape.sharp_corners(Angle::radians(a + 1e-6)).len());
    }
}

#[test]
fn curved_sides_are_touched_smoothly_and_all_else_stays() {
    let leaf = svg("M0 0C10 12 30 12 40 0C30 -12 10 -12 0 0Z");
    let (round, report) = leaf.rounded(Angle::degrees(120.0), Mm(0.3));
    assert!(report.iter().all(|r| r.radius == Some(Mm(0.3))), "{report:?}");
    assert!(round.sharp_corners(Angle::degrees(150.0)).is_empty(), "an arc turns by 0.2 in the window");
    assert!(round.area().0 < leaf.area().0);
    // Nothing moves farther than the tip does: r (1 / sin(a/2) - 1).
    let a = report[0].corner.angle.rad();
    let index = Clearance::new(round.flat(Mm(1e-4)));
    let most = 0.3 * (1.0 / libm::sin(0.5 * a) - 1.0);
    for p in leaf.flat(Mm(1e-4)).rings.concat() {
        let off = index.nearest(Point::mm(p[0], p[1]), Mm(9.0)).unwrap().distance.0;
        // The sides are a little curved.
        assert!(off < 1.05 * most, "{p:?} {off} {most}");
        if (p[0] - 20.0).abs() < 19.0 {
            assert!(off < 2e-4, "{p:?} moved by {off}");
        }
    }
}

#[test]
fn a_notch_fills_and_a_crowded_corner_is_left_and_told() {
    let notched = svg("M0 0H40V30H22L20 20L18 30H0Z");
    let (round, report) = notched.rounded(Angle::degrees(60.0), Mm(0.4));
    assert_eq!(report.len(), 1);
    assert_eq!(report[0].radius, Some(Mm(0.4)));
    assert!(round.area().0 > notched.area().0);
    assert_eq!(round.gaps(Mm(0.79)), vec![], "the notch now ends in a ball 0.8 mm wide");
    // A sliver with no room for any ball.
    let sliver = Region::<Art>::polygon(&[[0.0, 0.0], [10.0, 0.0], [10.0, 0.02]]);
    let (same, report) = sliver.rounded(Angle::degrees(60.0), Mm(0.4));
    assert_eq!(same, sliver);
    assert!(!report.is_empty() && report.iter().all(|r| r.radius.is_none()));
    // Nothing sharp: nothing done.
    let square = Region::<Art>::rectangle(Bounds { min: Point::ORIGIN, max: Point::mm(4.0, 4.0) });
    assert_eq!(square.rounded(Angle::degrees(60.0), Mm(0.4)), (square.clone(), vec![]));
}
