//! The automatic mend: film too narrow to weed is thickened, gaps too narrow are filled, only there.
//!
//! Thicker film can leave less of a gap beside it, so both are done again until nothing is narrow, a few rounds at
//! most; what is narrow even then is told like any other narrow place.
//!
//! Imports: base.

use crate::base::frame::Art;
use crate::base::shape::{Mend, Op, Region};
use crate::base::units::{Mm, Mm2};

/// What a mend changed on one film of one layer.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Changed {
    /// Places of film that were thickened.
    pub thickened: usize,
    /// Gaps that were filled.
    pub filled: usize,
    /// Film that was added.
    pub added: Mm2,
}

/// Rounds at most.
const ROUNDS: usize = 3;

/// The region with nothing narrower than `limit` left if that can be had; `others` is what must not be covered.
pub fn mended(region: &Region<Art>, limit: Mm, others: Option<&Region<Art>>) -> (Region<Art>, Changed) {
    let mut now = region.clone();
    let mut did = Changed::default();
    for _ in 0..ROUNDS {
        let (thick, thickened) = now.mended(Mend::Thicken, limit);
        let (full, filled) = thick.mended(Mend::Merge, limit);
        if thickened.is_empty() && filled.is_empty() {
            break;
        }
        now = match others {
            Some(others) => full.op(others, Op::Difference),
            None => full,
        };
        did.thickened += thickened.len();
        did.filled += filled.len();
    }
    did.added = now.area() - region.area();
    (now, did)
}

#[cfg(test)]
mod tests {
    use super::*;

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
        let (got, did) = mended(&region, limit, None);
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
        let (got, _) = mended(&bar, Mm(1.0), Some(&other));
        assert!(got.op(&other, Op::Intersection).area().0 < 1e-3);
        assert!(got.area().0 > bar.area().0);
    }
}
