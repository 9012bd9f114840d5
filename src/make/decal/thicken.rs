//! The automatic mend: film too narrow to weed is thickened, gaps too narrow are filled, only there.
//!
//! Where a filled gap opens again its bar leaves sharp notches beside it, and no waste can be picked out of a
//! notch: it is filled with the fillet that a disc as wide as the limit leaves when it is rolled into it.
//!
//! Thicker film can leave less of a gap beside it, so both are done again until nothing is narrow, a few
//! rounds at most; what is narrow even then is told like any other narrow place.
//!
//! Imports: base, outline.

use crate::base::frame::{Art, Point};
use crate::base::tolerance::{FLATTEN, LAYER_GUARD, SPECK_MM2};
use crate::base::units::{Angle, Mm, Mm2};
use crate::outline::{Clearance, CornerKind, Join, KurboShape, Mend, Op, Region};

/// What a mend changed on one film of one layer.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Changed {
    /// Places of film that were thickened.
    pub thickened: usize,
    /// Gaps that were filled.
    pub filled: usize,
    /// Notches that were filled with a fillet.
    pub filleted: usize,
    /// Film that was added.
    pub added: Mm2,
}

impl Changed {
    /// What was done, in the maker's words.
    pub fn words(&self) -> String {
        let counted = |n: usize, one: &str, many: &str| format!("{n} {}", if n == 1 { one } else { many });
        format!(
            "{} of film thickened, {} and {} filled",
            counted(self.thickened, "narrow place", "narrow places"),
            counted(self.filled, "gap", "gaps"),
            counted(self.filleted, "notch", "notches"),
        )
    }
}

/// Rounds at most.
const ROUNDS: usize = 3;

/// The region with nothing narrower than `limit` left if that can be had; `others` is what must not be
/// covered.
pub fn mended(
    region: &Region<Art>,
    limit: Mm,
    sharpest: Angle,
    others: Option<&Region<Art>>,
) -> (Region<Art>, Changed) {
    let clear = |r: Region<Art>| match others {
        Some(others) => r.op(others, Op::Difference),
        None => r,
    };
    let mut now = region.clone();
    let mut did = Changed::default();
    for _ in 0..ROUNDS {
        let (thick, thickened) = now.mended(Mend::Thicken, limit);
        let (full, filled) = thick.mended(Mend::Merge, limit);
        if thickened.is_empty() && filled.is_empty() {
            break;
        }
        now = clear(full);
        did.thickened += thickened.len();
        did.filled += filled.len();
    }
    let notches = now.sharp_corners(sharpest).into_iter().filter(|c| c.points == CornerKind::In);
    let (full, filleted) = filleted(&now, limit / 2.0, notches.map(|c| c.at).collect());
    if filleted > 0 {
        (now, did.filleted) = (clear(full), filleted);
    }
    // What a bar leaves beside it may close to a pocket shorter than any narrow place.
    let (full, pockets) = now.without_pockets();
    if pockets > 0 {
        now = clear(full);
        did.filled += pockets;
    }
    did.added = now.area() - region.area();
    (now, did)
}

/// With the notches at `places` filled as far as a disc of that radius cannot roll into them; and how many
/// were.
fn filleted(region: &Region<Art>, radius: Mm, places: Vec<Point<Art>>) -> (Region<Art>, usize) {
    if places.is_empty() {
        return (region.clone(), 0);
    }
    // Closed by a little less: along the walls its outline lies in the film, so that what is laid over a
    // notch crosses them and never runs along them.
    let closed = region.there_and_back(-LAYER_GUARD, Join::Round, radius + LAYER_GUARD);
    let added = closed.op(region, Op::Difference);
    let parts: Vec<Region<Art>> = added
        .contours()
        .iter()
        .filter(|c| c.area() > SPECK_MM2)
        .map(|c| Region::trusted([c.clone()]))
        .collect();
    let index: Vec<Clearance<Art>> = parts.iter().map(|p| Clearance::new(p.flat(FLATTEN))).collect();
    let at = |i: usize, p: &Point<Art>| index[i].nearest(*p, LAYER_GUARD * 2.0).is_some();
    let used: Vec<usize> = (0..parts.len()).filter(|&i| places.iter().any(|p| at(i, p))).collect();
    let done = places.iter().filter(|p| used.iter().any(|&i| at(i, p))).count();
    let lap = LAYER_GUARD * 4.0;
    // The parts lie apart: together they are one region, and one boolean does for all.
    let patches = Region::gathered(used.iter().map(|&i| &parts[i])).offset(lap, Join::Round);
    (Region::union_of([&closed.op(&patches, Op::Intersection), region]), done)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::tolerance::GRID;
    use crate::read::job::decals::SHARPEST;

    /// Two bars that meet at 12 degrees: a crotch too narrow to weed. Truth: nothing sharper than the limit
    /// is left, no gap is narrower than the limit, and nothing farther than the crotch has changed.
    #[test]
    fn a_crotch_gets_a_fillet_and_no_sharp_notch() {
        let bar = |turn: f64| {
            let (s, c) = turn.to_radians().sin_cos();
            let at = |x: f64, y: f64| [c * x - s * y, s * x + c * y];
            Region::<Art>::polygon(&[at(0.0, -1.0), at(30.0, -1.0), at(30.0, 1.0), at(0.0, 1.0)])
        };
        let region = Region::union_of(&[bar(6.0), bar(-6.0)]);
        assert!(region.sharp_corners(SHARPEST).iter().any(|c| c.points == CornerKind::In));
        let (got, did) = mended(&region, Mm(0.8), SHARPEST, None);
        assert!(got.sharp_corners(SHARPEST).is_empty(), "{:?} {did:?}", got.sharp_corners(SHARPEST));
        assert!(got.gaps(Mm(0.79)).is_empty(), "{:?}", got.gaps(Mm(0.79)));
        assert!(region.op(&got, Op::Difference).area().0 < 1e-3, "nothing is taken away");
        // The sides part at x = 1 / sin 6 degrees = 9.57 and are 0.8 mm apart 3.8 mm farther on.
        // Sides that the grid snapped leave hairs: 30 mm long, no wider than the grid.
        let added = got.op(&region, Op::Difference);
        let crotch = Region::polygon(&[[9.3, -2.0], [14.5, -2.0], [14.5, 2.0], [9.3, 2.0]]);
        let elsewhere = added.op(&crotch, Op::Difference).area().0;
        assert!(elsewhere < 2.0 * 30.0 * GRID.0 && added.area().0 > 0.5, "{elsewhere} of {}", added.area().0);
    }

    /// Two plates joined by a bridge of 0.4 mm, and two plates 0.3 mm apart: drawn, so the truth is known.
    #[test]
    fn narrow_film_is_thickened_and_narrow_gaps_are_filled_and_nothing_is_taken_away() {
        let rect = |x0: f64, y0: f64, x1: f64, y1: f64| {
            Region::<Art>::polygon(&[[x0, y0], [x1, y0], [x1, y1], [x0, y1]])
        };
        let parts = [
            rect(0.0, 0.0, 10.0, 10.0),
            rect(14.0, 0.0, 24.0, 10.0),
            rect(9.0, 4.8, 15.0, 5.2),
            rect(24.3, 0.0, 34.0, 10.0),
        ];
        let region = Region::union_of(&parts);
        let limit = Mm(1.0);
        assert!(!region.narrow(limit).is_empty() && !region.gaps(limit).is_empty());
        let (got, did) = mended(&region, limit, SHARPEST, None);
        assert!(got.narrow(limit).is_empty(), "{:?}", got.narrow(limit));
        assert!(got.gaps(limit).is_empty(), "{:?}", got.gaps(limit));
        assert!(did.thickened >= 1 && did.filled >= 1, "{did:?}");
        // The bridge grows from 0.4 to 1 mm over 4 mm, the gap of 0.3 mm is filled over 10 mm: 2.4 and 3 mm2.
        assert!((4.5..8.0).contains(&did.added.0), "{did:?}");
        assert!(region.op(&got, Op::Difference).area().0 < 1e-3, "nothing is taken away");
    }

    #[test]
    fn what_others_cover_is_left_to_them() {
        let bar: Region<Art> = Region::polygon(&[[0.0, 0.0], [10.0, 0.0], [10.0, 0.5], [0.0, 0.5]]);
        let other: Region<Art> = Region::polygon(&[[0.0, 0.5], [10.0, 0.5], [10.0, 5.0], [0.0, 5.0]]);
        let (got, _) = mended(&bar, Mm(1.0), SHARPEST, Some(&other));
        assert!(got.op(&other, Op::Intersection).area().0 < 1e-3);
        assert!(got.area().0 > bar.area().0);
    }
}
