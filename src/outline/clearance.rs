//! Distances between flattened regions, answered by a tree of their edges, and by a slow twin that the tree
//! is held to.
//!
//! Imports: base, outline::{tree, flatten}.

use super::flatten::Flat;
use super::tree::{Span, Tree, box_box2, edge_edge2};
use crate::base::frame::{Frame, Point, Rigid};
use crate::base::units::Mm;

/// The place of an outline that is nearest to a point.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Nearest<F: Frame> {
    /// Distance to the outline, mm.
    pub distance: Mm,
    /// That place.
    pub at: Point<F>,
}

/// Remembers the pair of edges that was nearest when two regions were last measured, to begin there after
/// they moved. With any other two regions the answers are as right, only no faster.
#[derive(Clone, Copy, Debug, Default)]
pub struct Witness(Option<(u32, u32)>);

/// An index over the edges of one flat region that answers distance questions; exact on the polylines.
/// Distances to the curves themselves differ by at most the flat region's `error`.
#[derive(Clone, Debug)]
pub struct Clearance<F: Frame> {
    flat: Flat<F>,
    tree: Tree,
}

impl<F: Frame> Clearance<F> {
    /// Builds the index in `n log n` for n edges.
    pub fn new(flat: Flat<F>) -> Self {
        let tree = Tree::new(spans(&flat));
        Self { flat, tree }
    }
    /// The index of the moved region, in time linear in the edges: the tree keeps its shape.
    pub fn moved<G: Frame>(&self, by: &Rigid<F, G>) -> Clearance<G> {
        Clearance { flat: self.flat.moved(by), tree: self.tree.moved(put(by)) }
    }
    /// An upper bound of `self.moved(by).distance(other)`, mostly equal to it: the distance of the two edges
    /// that `witness` remembers. `None` if it remembers none.
    pub fn at_most<G: Frame>(&self, by: &Rigid<F, G>, other: &Clearance<G>, witness: &Witness) -> Option<Mm> {
        self.tree.pair2(witness.0?, put(by), &other.tree).map(|d2| Mm(d2.sqrt()))
    }
    /// The flat region it stands for.
    pub fn flat(&self) -> &Flat<F> {
        &self.flat
    }
    /// Is the point inside (even-odd)? On the boundary either answer may come.
    pub fn contains(&self, p: Point<F>) -> bool {
        self.tree.odd(p.x, p.y)
    }
    /// Nearest place of the outline, if it is nearer than `within`.
    pub fn nearest(&self, p: Point<F>, within: Mm) -> Option<Nearest<F>> {
        let hit = self.tree.nearest(p.x, p.y, within.0 * within.0, |_| false)?;
        Some(Nearest { distance: Mm(hit.d2.sqrt()), at: Point::mm(hit.x, hit.y) })
    }
    /// Least distance between two regions if it is below `within`: zero where they overlap or one holds the
    /// other.
    pub fn distance(&self, other: &Self, within: Mm) -> Option<Mm> {
        self.distance_near(other, within, &mut Witness::default())
    }
    /// As [`Clearance::distance`], begun at the pair of edges that `witness` remembers; it remembers the
    /// nearest afterwards.
    pub fn distance_near(&self, other: &Self, within: Mm, witness: &mut Witness) -> Option<Mm> {
        let (a, b) = (self.tree.bounds()?, other.tree.bounds()?);
        let within2 = within.0 * within.0;
        let apart = box_box2(&a, &b);
        if apart >= within2 {
            return None;
        }
        // One can hold the other only where their boxes meet.
        if apart == 0.0 && (self.holds_corner_of(other) || other.holds_corner_of(self)) {
            return Some(Mm::ZERO);
        }
        self.tree.apart(&other.tree, within2, &mut witness.0).map(|d2| Mm(d2.sqrt()))
    }
    fn holds_corner_of(&self, other: &Self) -> bool {
        other.flat.rings.iter().any(|r| r.first().is_some_and(|p| self.tree.odd(p[0], p[1])))
    }
}

/// Where a motion puts a point.
fn put<F: Frame, G: Frame>(by: &Rigid<F, G>) -> impl Fn([f64; 2]) -> [f64; 2] {
    let (c, s, dx, dy) = by.parts();
    move |p| [c * p[0] - s * p[1] + dx, s * p[0] + c * p[1] + dy]
}

fn spans<F: Frame>(flat: &Flat<F>) -> Vec<Span> {
    let sides = |r: &Vec<[f64; 2]>| {
        let n = r.len();
        (0..n).map(|i| [r[i][0], r[i][1], r[(i + 1) % n][0], r[(i + 1) % n][1]]).collect::<Vec<_>>()
    };
    flat.rings.iter().flat_map(sides).collect()
}

/// The distance that [`Clearance::distance`] answers, by asking every edge against every edge: what the index
/// is held to.
pub fn distance_by_all_pairs<F: Frame>(a: &Flat<F>, b: &Flat<F>) -> Mm {
    let holds =
        |a: &Flat<F>, b: &Flat<F>| b.rings.iter().any(|r| r.first().is_some_and(|p| a.contains(p[0], p[1])));
    if holds(a, b) || holds(b, a) {
        return Mm::ZERO;
    }
    let mut best = f64::INFINITY;
    let others = spans(b);
    for e in &spans(a) {
        for f in &others {
            best = best.min(edge_edge2(e, f));
        }
    }
    Mm(best.sqrt())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::frame::Art;
    use crate::outline::Region;
    use proptest::prelude::*;

    fn disc(x: f64, y: f64, r: f64) -> Flat<Art> {
        Region::disc(Point::mm(x, y), Mm(r)).flat(Mm(1e-4))
    }

    proptest! {
        #[test]
        fn discs_are_as_far_apart_as_their_centres_say(x in 11.0..60.0f64, y in -60.0..60.0f64, r in 1.0..10.0f64) {
            let want = (libm::hypot(x, y) - 5.0 - r).max(0.0);
            let (a, b) = (disc(0.0, 0.0, 5.0), disc(x, y, r));
            let got = Clearance::new(a.clone()).distance(&Clearance::new(b.clone()), Mm(1e3)).unwrap();
            prop_assert!((got.0 - want).abs() < 5e-3, "{} {}", got, want);
            prop_assert!((got.0 - distance_by_all_pairs(&a, &b).0).abs() < 1e-12);
        }

        /// The index against the plain even-odd rule and against every edge in turn.
        #[test]
        fn points_are_inside_and_near_as_the_twin_says(
            corners in prop::collection::vec((-20.0..20.0f64, -20.0..20.0f64), 3..60),
            x in -25.0..25.0f64, y in -25.0..25.0f64, lattice in any::<bool>(),
        ) {
            // On a lattice rays pass through corners and along edges.
            let round = |v: f64| if lattice { v.round() } else { v };
            let ring: Vec<[f64; 2]> = corners.iter().map(|c| [round(c.0), round(c.1)]).collect();
            let flat: Flat<Art> = Flat::new(vec![ring.clone()], Mm::ZERO);
            let index = Clearance::new(flat.clone());
            let p = Point::mm(round(x), round(y));
            let twin = spans(&flat).iter().map(|e| super::super::tree::edge_point2(e, p.x, p.y).0).fold(f64::INFINITY, f64::min);
            let near = index.nearest(p, Mm(1e3)).unwrap();
            prop_assert!((near.distance.0 - twin.sqrt()).abs() < 1e-12);
            prop_assert!(twin < 1e-18 || index.contains(p) == flat.contains(p.x, p.y));
            prop_assert!((near.at.distance(p).0 - near.distance.0).abs() < 1e-12);
        }
    }

    proptest! {
        /// A moved index against one built afresh from the moved outline: the same edges, so the same
        /// distances.
        #[test]
        fn a_moved_index_measures_as_a_fresh_one(turn in -4.0..4.0f64, dx in -20.0..20.0f64, dy in -20.0..20.0f64) {
            use crate::base::frame::Plane;
            use crate::base::units::Angle;
            let by: Rigid<Art, Plane> = Rigid::new(Angle::radians(turn), Point::mm(dx, dy));
            let (shape, other) = (disc(3.0, 1.0, 6.0), disc(0.0, 0.0, 4.0).moved(&Rigid::new(Angle::ZERO, Point::mm(0.5, 0.0))));
            let other = Clearance::<Plane>::new(other);
            let moved = Clearance::new(shape.clone()).moved(&by);
            let fresh = Clearance::new(shape.moved(&by));
            prop_assert_eq!(moved.distance(&other, Mm(1e3)), fresh.distance(&other, Mm(1e3)));
            // Begun at a pair that was nearest elsewhere, and at pairs that mean nothing.
            let mut witness = Witness::default();
            Clearance::new(shape.clone()).moved(&Rigid::new(Angle::radians(turn + 0.1), Point::mm(dx + 1.0, dy))).distance_near(&other, Mm(1e3), &mut witness);
            let by = Rigid::<Art, Plane>::new(Angle::radians(turn), Point::mm(dx, dy));
            let bound = Clearance::new(shape.clone()).at_most(&by, &other, &witness);
            prop_assert!(bound >= fresh.distance(&other, Mm(1e3)) || witness.0.is_none());
            for mut w in [witness, Witness(Some((7, 3))), Witness(Some((u32::MAX, 0)))] {
                for within in [Mm(1e3), Mm(5.0)] {
                    prop_assert_eq!(moved.distance_near(&other, within, &mut w), fresh.distance(&other, within));
                }
            }
            let p = Point::mm(dy, dx);
            prop_assert_eq!(moved.nearest(p, Mm(1e3)).map(|n| n.distance), fresh.nearest(p, Mm(1e3)).map(|n| n.distance));
            prop_assert_eq!(moved.contains(p), fresh.contains(p));
            prop_assert_eq!(moved.flat(), fresh.flat());
        }
    }

    #[test]
    fn one_inside_the_other_is_at_no_distance() {
        let d = Clearance::new(disc(0.0, 0.0, 9.0)).distance(&Clearance::new(disc(1.0, 0.0, 2.0)), Mm(50.0));
        assert_eq!(d, Some(Mm::ZERO));
    }
}
