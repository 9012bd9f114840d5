//! Thousands of regions on a plane that repeats itself: which are near, how near, which hold a point.
//!
//! The plane of a rolled-out cup repeats itself under a turn about the apex (or a shift). Regions are given
//! once; the copies that can come within reach of the others are made here, so that a question never has to
//! think of the seam.
//!
//! Imports: base, outline::{plane, tree, flatten, clearance}.

use super::clearance::Clearance;
use super::flatten::Flat;
use super::plane::points_box;
use super::tree::{Span, Tree};
use crate::base::frame::{Frame, Point, Rigid};
use crate::base::units::Mm;

/// A region found near to what was asked for.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Neighbour {
    /// Its index in the list that [`PeriodicIndex::new`] was given.
    pub region: usize,
    /// Index of the turn that its nearest copy was made by.
    pub turn: usize,
    /// Distance between the polylines; zero where one holds or overlaps the other.
    pub distance: Mm,
    /// The curves are at most this much nearer or farther: the errors of both flat regions together.
    pub error: Mm,
}

/// Flat regions, their copies under some turns, and a tree over all of them.
#[derive(Clone, Debug)]
pub struct PeriodicIndex<F: Frame> {
    copies: Vec<TurnedCopy<F>>,
    tree: Tree,
    count: usize,
    /// Index in `copies` of each region unmoved.
    own: Vec<usize>,
    reach: Mm,
}

#[derive(Clone, Debug)]
struct TurnedCopy<F: Frame> {
    region: usize,
    turn: usize,
    shape: Clearance<F>,
}

impl<F: Frame> PeriodicIndex<F> {
    /// Regions, the turns under which the plane repeats itself, the first of them none, and the farthest
    /// distance that will be asked for. Copies that stay farther than that from every region as given are not
    /// made.
    pub fn new(regions: &[Flat<F>], turns: &[Rigid<F, F>], reach: Mm) -> Self {
        let bounds: Vec<Span> = regions.iter().map(span_of).collect();
        let base = Tree::new(bounds.clone());
        let mut copies = Vec::with_capacity(regions.len() * 2);
        let mut own = vec![usize::MAX; regions.len()];
        let none = [Rigid::identity()];
        let turns = if turns.is_empty() { &none[..] } else { turns };
        for (turn, by) in turns.iter().enumerate() {
            for (region, flat) in regions.iter().enumerate() {
                let flat = if turn == 0 { flat.clone() } else { flat.moved(by) };
                let mut near = turn == 0;
                if !near {
                    base.visit(&span_of(&flat), reach.0 * reach.0, |_, d2| {
                        near = true;
                        // One is enough.
                        d2.min(0.0)
                    });
                }
                if near {
                    if turn == 0 {
                        own[region] = copies.len();
                    }
                    copies.push(TurnedCopy { region, turn, shape: Clearance::new(flat) });
                }
            }
        }
        let tree = Tree::new(copies.iter().map(|c| span_of(c.shape.flat())).collect());
        Self { copies, tree, count: regions.len(), own, reach }
    }
    /// Number of regions, copies not counted.
    pub fn len(&self) -> usize {
        self.count
    }
    /// Whether there is no region.
    pub fn is_empty(&self) -> bool {
        self.count == 0
    }
    /// Number of copies kept, the regions unmoved among them.
    pub fn copies(&self) -> usize {
        self.copies.len()
    }
    /// The nearest region to a point, zero inside it, if nearer than `within` (no more than the reach is
    /// looked at).
    pub fn nearest(&self, p: Point<F>, within: Mm) -> Option<Neighbour> {
        let mut best = None;
        let within = within.min(self.reach);
        self.tree.visit(&[p.x, p.y, p.x, p.y], within.0 * within.0, |id, d2| {
            let c = &self.copies[id as usize];
            let distance = if c.shape.contains(p) {
                Some(Mm::ZERO)
            } else {
                c.shape.nearest(p, Mm(d2.sqrt())).map(|n| n.distance)
            };
            self.keep(&mut best, c, distance, Mm::ZERO, d2)
        });
        best
    }
    /// The regions that hold a point, in the order given, with the turn of the copy that does.
    pub fn holding(&self, p: Point<F>) -> Vec<(usize, usize)> {
        let mut out = Vec::new();
        self.tree.visit(&[p.x, p.y, p.x, p.y], f64::MIN_POSITIVE, |id, d2| {
            let c = &self.copies[id as usize];
            if c.shape.contains(p) {
                out.push((c.region, c.turn));
            }
            d2
        });
        out.sort_unstable();
        out
    }
    /// The nearest region to a shape, if nearer than `within`; those for which `skip` is true are passed
    /// over.
    pub fn nearest_to(
        &self,
        shape: &Clearance<F>,
        within: Mm,
        skip: impl Fn(usize, usize) -> bool,
    ) -> Option<Neighbour> {
        let within = within.min(self.reach);
        let mut best = None;
        self.tree.visit(&span_of(shape.flat()), within.0 * within.0, |id, d2| {
            let c = &self.copies[id as usize];
            if skip(c.region, c.turn) {
                return d2;
            }
            let distance = shape.distance(&c.shape, Mm(d2.sqrt()));
            self.keep(&mut best, c, distance, shape.flat().error, d2)
        });
        best
    }
    /// The nearest other region, or copy of itself, to one of the regions.
    pub fn nearest_to_own(&self, region: usize, within: Mm) -> Option<Neighbour> {
        let me = &self.copies[*self.own.get(region)?];
        self.nearest_to(&me.shape, within, |r, t| r == region && t == 0)
    }
    /// All pairs nearer than `within`, ordered: the first as given, the second perhaps turned. Two regions as
    /// given come once; over the seam each is met by the other's copy, so such a pair comes from both sides.
    pub fn pairs(&self, within: Mm) -> Vec<(usize, Neighbour)> {
        let within = within.min(self.reach);
        let w2 = within.0 * within.0;
        let mut out = Vec::new();
        for (i, &k) in self.own.iter().enumerate() {
            let me = &self.copies[k];
            self.tree.visit(&span_of(me.shape.flat()), w2, |id, _| {
                let c = &self.copies[id as usize];
                if (c.turn == 0 && c.region > i) || c.turn > 0 {
                    let distance = me.shape.distance(&c.shape, within);
                    let mut met = None;
                    self.keep(&mut met, c, distance, me.shape.flat().error, w2);
                    out.extend(met.map(|m| (i, m)));
                }
                w2
            });
        }
        out.sort_by_key(|(i, m)| (*i, m.region, m.turn));
        out
    }
    /// Makes a copy at `distance` the best if it is nearer; of equals the first in the list stays.
    fn keep(
        &self,
        best: &mut Option<Neighbour>,
        c: &TurnedCopy<F>,
        distance: Option<Mm>,
        error: Mm,
        d2: f64,
    ) -> f64 {
        let Some(distance) = distance else { return d2 };
        let met = Neighbour { region: c.region, turn: c.turn, distance, error: error + c.shape.flat().error };
        let better =
            best.is_none_or(|b| (met.distance.0, met.region, met.turn) < (b.distance.0, b.region, b.turn));
        if better {
            *best = Some(met);
        }
        d2.min(distance.0 * distance.0)
    }
}

fn span_of<F: Frame>(flat: &Flat<F>) -> Span {
    points_box(flat.rings.iter().flatten())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::frame::Plane;
    use crate::base::units::Angle;
    use crate::outline::Region;
    use crate::outline::clearance::distance_by_all_pairs;
    use proptest::prelude::*;

    /// Blobs on a sector of 100 degrees between the radii 60 and 100, and the turns that repeat it.
    fn ring(list: &[(f64, f64, f64)]) -> (Vec<Flat<Plane>>, Vec<Rigid<Plane, Plane>>) {
        let sweep = Angle::degrees(100.0);
        let blobs = list.iter().map(|&(a, r, size)| {
            let at = Point::mm(r * libm::cos(a), r * libm::sin(a));
            let square = Region::<Plane>::polygon(&[
                [-size, -size],
                [size, -0.7 * size],
                [size, size],
                [-0.2 * size, 0.6 * size],
            ]);
            square.moved(&Rigid::<Plane, Plane>::new(Angle::radians(3.0 * a), at)).flat(Mm(1e-3))
        });
        let turns = [Angle::ZERO, sweep, -sweep].map(|a| Rigid::new(a, Point::ORIGIN));
        (blobs.collect(), turns.to_vec())
    }
    fn blobs() -> impl Strategy<Value = Vec<(f64, f64, f64)>> {
        prop::collection::vec((0.0..1.745f64, 60.0..100.0f64, 0.5..4.0f64), 1..25)
    }

    proptest! {
        /// The twin: every region against every copy, every edge against every edge.
        #[test]
        fn the_crowd_answers_as_brute_force_does(list in blobs(), x in -20.0..110.0f64, y in -20.0..110.0f64, within in 1.0..30.0f64) {
            let (flats, turns) = ring(&list);
            let crowd = PeriodicIndex::new(&flats, &turns, Mm(30.0));
            let mut all: Vec<(usize, usize, Flat<Plane>)> = Vec::new();
            for (t, by) in turns.iter().enumerate() {
                all.extend(flats.iter().enumerate().map(|(i, f)| (i, t, f.moved(by))));
            }
            // Pairs.
            let mut want = Vec::new();
            for (i, f) in flats.iter().enumerate() {
                for (j, t, g) in &all {
                    let d = distance_by_all_pairs(f, g).0;
                    if ((*t == 0 && *j > i) || *t > 0) && d < within {
                        want.push((i, *j, *t, d));
                    }
                }
            }
            want.sort_by_key(|w| (w.0, w.1, w.2));
            let got = crowd.pairs(Mm(within));
            prop_assert_eq!(got.len(), want.len());
            for ((i, m), w) in got.iter().zip(&want) {
                prop_assert_eq!((*i, m.region, m.turn), (w.0, w.1, w.2));
                prop_assert!((m.distance.0 - w.3).abs() < 1e-9);
            }
            // Nearest to each.
            for (i, f) in flats.iter().enumerate() {
                let others = all.iter().filter(|(j, t, _)| (*j, *t) != (i, 0));
                let least = others.map(|(_, _, g)| distance_by_all_pairs(f, g).0).fold(f64::INFINITY, f64::min);
                match crowd.nearest_to_own(i, Mm(within)) {
                    Some(m) => prop_assert!((m.distance.0 - least).abs() < 1e-9),
                    None => prop_assert!(least >= within),
                }
            }
            // A point anywhere near the sector as given.
            let p = Point::mm(x, y);
            let to = |g: &Flat<Plane>| {
                if g.contains(x, y) { 0.0 } else { Clearance::new(g.clone()).nearest(p, Mm(1e6)).unwrap().distance.0 }
            };
            let holding: Vec<(usize, usize)> = all.iter().filter(|a| a.1 == 0 && a.2.contains(x, y)).map(|a| (a.0, a.1)).collect();
            let got: Vec<(usize, usize)> = crowd.holding(p).into_iter().filter(|h| h.1 == 0).collect();
            let mut sorted = holding;
            sorted.sort_unstable();
            prop_assert_eq!(got, sorted);
            if let Some(m) = crowd.nearest(p, Mm(within)) {
                let (_, _, g) = all.iter().find(|a| (a.0, a.1) == (m.region, m.turn)).unwrap();
                prop_assert!((m.distance.0 - to(g)).abs() < 1e-9);
                let least = all.iter().filter(|a| a.1 == 0).map(|a| to(&a.2)).fold(f64::INFINITY, f64::min);
                prop_assert!(m.distance.0 <= least + 1e-9);
            } else {
                prop_assert!(all.iter().filter(|a| a.1 == 0).all(|a| to(&a.2) >= within));
            }
        }
    }

    #[test]
    fn copies_far_from_the_seam_are_not_made() {
        let (flats, turns) = ring(&[(0.02, 80.0, 2.0), (0.87, 80.0, 2.0), (1.72, 80.0, 2.0)]);
        let crowd = PeriodicIndex::new(&flats, &turns, Mm(5.0));
        assert_eq!((crowd.len(), crowd.copies()), (3, 5));
        let met = crowd.nearest_to_own(0, Mm(5.0)).unwrap();
        assert_eq!(met.region, 2);
        assert_eq!(met.turn, 2, "the last one, turned back over the seam");
        assert!(crowd.nearest_to_own(1, Mm(5.0)).is_none());
        assert!(PeriodicIndex::<Plane>::new(&[], &turns, Mm(5.0)).is_empty());
    }
}
