//! Registration keys: two marks at the same places in the waste of every layer, and the hinge line along
//! them.
//!
//! The left one is a triangle and the right one a square, so a layer cannot go on turned over; their upper
//! edges lie on the hinge line, along which the tape goes that holds a layer while its backing comes off.
//!
//! Imports: base, outline, make::cup, make::decal::codes.

use super::codes::NO_KEYS;
use crate::base::diag::{Diagnostic, Diagnostics, KeyPath};
use crate::base::frame::{Art, Plane, Point, Rigid};
use crate::base::units::Mm;
use crate::make::cup::Development;
use crate::outline::{Bounds, Region};

/// The marks of a decal.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Keys {
    /// Triangle and square, in the decal's frame; empty if there are none.
    pub marks: Region<Art>,
    /// Ends of the hinge line.
    pub hinge: Option<[Point<Art>; 2]>,
}

/// Keys of a size, clear of a silhouette by `gap`: above it, else below it, else beside it, wherever they lie
/// on the wall. Reports [`NO_KEYS`] as a fault if there is no such place.
pub fn keys(
    silhouette: Bounds<Art>,
    (size, gap): (Mm, Mm),
    development: &Development,
    pose: &Rigid<Art, Plane>,
    at: &KeyPath,
    diagnostics: &mut Diagnostics,
) -> Keys {
    let (b, s, g) = (silhouette, size.0, gap.0);
    // Lower left corners of the two squares that the marks fill.
    let (left, right) = (b.min.x, (b.max.x - s).max(b.min.x + s + g));
    let middle = b.centre().y - s / 2.0;
    let places = [
        [[left, b.max.y + g], [right, b.max.y + g]],
        [[left, b.min.y - g - s], [right, b.min.y - g - s]],
        [[b.min.x - g - s, middle], [b.max.x + g, middle]],
    ];
    let (low, high) = development.span();
    let on_wall = |corners: &[[f64; 2]; 2]| {
        corners.iter().all(|c| {
            [[c[0], c[1]], [c[0] + s, c[1]], [c[0], c[1] + s], [c[0] + s, c[1] + s]].iter().all(|p| {
                let slant = development.wrap(pose.apply(Point::mm(p[0], p[1]))).slant;
                (low..=high).contains(&slant)
            })
        })
    };
    let Some([l, r]) = places.into_iter().find(on_wall) else {
        let message = "neither above, below nor beside the decal is there wall for its registration keys";
        let d = Diagnostic::fault(&NO_KEYS, at.key("keys"), message)
            .measured(format!("{size}, {gap} clear of it"));
        diagnostics.push(d.help("make the decal or its keys smaller, or write `keys = false`"));
        return Keys::default();
    };
    let triangle = [[l[0], l[1] + s], [l[0], l[1]], [l[0] + s, l[1] + s]];
    let square = [[r[0], r[1]], [r[0] + s, r[1]], [r[0] + s, r[1] + s], [r[0], r[1] + s]];
    Keys {
        marks: Region::gathered([&Region::polygon(&triangle), &Region::polygon(&square)]),
        hinge: Some([Point::mm(l[0], l[1] + s), Point::mm(r[0] + s, r[1] + s)]),
    }
}
