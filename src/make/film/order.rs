//! Cut order: what lies inside before what holds it, then the shortest way.
//!
//! Imports: base, outline, make::film::{sheet, tour}.

use super::sheet::Placed;
use super::tour::{self, Stop};
use crate::base::frame::{Frame, Sheet};
use crate::base::random::Random;
use crate::base::tolerance::{FLATTEN, MEASURE};
use crate::base::units::{Mm, Seed};
use crate::outline::plane::{ring_area, ring_contains};
use crate::outline::{BezPath, Flat, PathEl, Region, Ring, StartPlace, start_places, started_at};

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
                j != i && rings[j].len() > 2 && rings[i].first().is_some_and(|p| ring_contains(&rings[j], *p))
            })
            .count()
    };
    let mut order: Vec<(usize, usize)> = (0..rings.len()).map(|i| (depth(i), i)).collect();
    order.sort_by_key(|&(d, i)| (std::cmp::Reverse(d), i));
    let sorted: Vec<BezPath> = order.iter().map(|&(_, i)| region.contours()[i].clone()).collect();
    Region::trusted(sorted)
}

/// For each item, those that lie in one of its holes and must be cut before it.
///
/// Two of several parts each may hold parts of each other: then the one of the smaller box is cut first, so
/// that an order exists.
pub fn held(flats: &[Flat<Sheet>]) -> Vec<Vec<usize>> {
    let boxes: Vec<_> = flats.iter().map(Flat::bounds).collect();
    let extent = |i: usize| boxes[i].width() * boxes[i].height();
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
                    && holes.iter().any(|h| ring_contains(h, p))
            };
            (0..flats.len())
                .filter(|&j| j != i && !holes.is_empty() && !flats[j].rings.is_empty())
                .filter(|&j| (extent(j), j) < (extent(i), i) && within(j))
                .collect()
        })
        .collect()
}

/// Where the blade comes down: the start of every outline of a sheet, in the order they stand.
pub fn starts(placed: &[Placed]) -> Vec<[f64; 2]> {
    let start = |path: &BezPath| match path.elements().first() {
        Some(PathEl::MoveTo(p)) => Some([p.x, p.y]),
        _ => None,
    };
    placed.iter().flat_map(|p| p.cuts.contours()).filter_map(start).collect()
}

/// Blade-up travel over all outlines of a sheet in the order they stand, from the first start point to the
/// last.
pub fn travel(placed: &[Placed]) -> Mm {
    let stops: Vec<Stop> = starts(placed).into_iter().map(Stop::at).collect();
    Mm(tour::length(&stops, &(0..stops.len()).collect::<Vec<_>>()))
}

/// Puts the pieces of a sheet into cut order with start points chosen: what lies in a hole before what holds
/// it, then the least blade-up travel that nearest neighbour, 2-opt and Or-opt find; outlines of a piece stay
/// together.
///
/// Start points lie on smooth stretches, away from corners; for an order they are chosen together, at the
/// least travel exactly (a shortest way through their layers). Order and start points take turns while both
/// gain.
pub fn sort(placed: &mut Vec<Placed>) {
    if placed.is_empty() {
        return;
    }
    let flats: Vec<Flat<Sheet>> = placed.iter().map(|p| p.cuts.flat(FLATTEN)).collect();
    let before: tour::Before = held(&flats)
        .into_iter()
        .enumerate()
        .flat_map(|(i, inner)| inner.into_iter().map(move |j| (j, i)))
        .collect();
    let places: Vec<Vec<Vec<StartPlace>>> =
        placed.iter().map(|p| p.cuts.contours().iter().map(start_choices).collect()).collect();
    let middle = |f: &Flat<Sheet>| Stop::at([f.bounds().centre().x, f.bounds().centre().y]);
    let mut stops: Vec<Stop> = flats.iter().map(middle).collect();
    let mut way = tour::nearest_neighbour(&stops, &before);
    let mut best: Option<(f64, Vec<usize>, Vec<Vec<usize>>)> = None;
    let mut random = Random::new(Seed(placed.len() as u64), "cut order", 0);
    let kicks = (KICKS + placed.len() as u64 / MORE_KICKS) * placed.len() as u64;
    // Sheets of an order are many and full.
    let kicks = if placed.iter().any(|p| p.cup > 0) { kicks.min(KICKS_OF_ORDERS) } else { kicks };
    for _ in 0..ROUNDS {
        tour::improve(&stops, &before, &mut way, kicks, &mut random);
        let (travel, chosen) = choose_starts(&way, &places);
        if best.as_ref().is_some_and(|b| travel >= b.0 - MEASURE.0) {
            break;
        }
        for (i, choice) in chosen.iter().enumerate() {
            let at = |k: usize| places[i][k][choice[k]].at;
            if let Some(last) = choice.len().checked_sub(1) {
                stops[i] = Stop { enter: at(0), leave: at(last) };
            }
        }
        best = Some((travel, way.clone(), chosen));
    }
    let Some((_, way, chosen)) = best else { return };
    let mut taken: Vec<Option<Placed>> = placed.drain(..).map(Some).collect();
    for i in way {
        let mut piece = taken[i].take().expect("a way holds each piece once");
        let contours = piece.cuts.contours().iter().enumerate().map(|(k, c)| {
            let place = places[i][k][chosen[i][k]];
            started_at(c, place.segment, place.t)
        });
        piece.cuts = Region::trusted(contours.collect::<Vec<_>>());
        placed.push(piece);
    }
}

/// Rounds of order and start points in turn: later ones were seen to gain less than a hundredth.
const ROUNDS: usize = 3;
/// Kicks of the way for each piece of a sheet, in each round.
const KICKS: u64 = 6;
/// Most kicks of a sheet of an order: the work of many full sheets stays linear in cups.
const KICKS_OF_ORDERS: u64 = 600;
/// So many more pieces ask for one kick more for each: a longer way has more places to be stuck in.
const MORE_KICKS: u64 = 100;
/// Start points offered for each outline.
const STARTS: usize = 16;
/// A blade trails its axle by up to 0.5 mm; starts keep twice that from a corner (common practice, no
/// source).
const CORNER_REACH: f64 = 1.0;
/// Bend within that reach that still counts as smooth.
const SMOOTH: f64 = 0.5;

fn start_choices(contour: &BezPath) -> Vec<StartPlace> {
    let all = start_places(contour, CORNER_REACH, STARTS);
    let least = all.iter().map(|s| s.bend).fold(f64::INFINITY, f64::min);
    all.into_iter().filter(|s| s.bend <= least.max(SMOOTH)).collect()
}

/// Start points of least travel for an order: a shortest way through the layers of places, one layer an
/// outline.
fn choose_starts(way: &[usize], places: &[Vec<Vec<StartPlace>>]) -> (f64, Vec<Vec<usize>>) {
    let layers: Vec<(usize, usize)> =
        way.iter().flat_map(|&i| (0..places[i].len()).map(move |k| (i, k))).collect();
    let mut costs: Vec<f64> = Vec::new();
    let mut from: Vec<Vec<usize>> = Vec::with_capacity(layers.len());
    for (n, &(i, k)) in layers.iter().enumerate() {
        let here = &places[i][k];
        if n == 0 {
            costs = vec![0.0; here.len()];
            from.push(vec![0; here.len()]);
            continue;
        }
        let prior = &places[layers[n - 1].0][layers[n - 1].1];
        let step = |s: &StartPlace| {
            let reach = |(j, q): (usize, &StartPlace)| {
                let (x, y) = (s.at[0] - q.at[0], s.at[1] - q.at[1]);
                (costs[j] + (x * x + y * y).sqrt(), j)
            };
            prior.iter().enumerate().map(reach).min_by(|a, b| a.0.total_cmp(&b.0)).unwrap_or((0.0, 0))
        };
        let (c, f) = here.iter().map(step).unzip();
        costs = c;
        from.push(f);
    }
    let mut chosen: Vec<Vec<usize>> = places.iter().map(|p| vec![0; p.len()]).collect();
    let last = costs.iter().enumerate().min_by(|a, b| a.1.total_cmp(b.1));
    let (mut at, travel) = last.map_or((0, 0.0), |(k, c)| (k, *c));
    for (n, &(i, k)) in layers.iter().enumerate().rev() {
        chosen[i][k] = at;
        at = from[n].get(at).copied().unwrap_or(0);
    }
    (travel, chosen)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::frame::{Art, Point, Rigid};
    use crate::base::units::Angle;
    use crate::outline::Op;

    /// Case 13: a piece of two rings holds a ring that lies between them, which holds the inner one: all are cut.
    #[test]
    fn case_13_pieces_that_hold_parts_of_each_other() {
        let ring = |r: f64, w: f64| {
            let disc = |r: f64| Region::<Art>::disc(Point::ORIGIN, Mm(r));
            disc(r).op(&disc(r - w), Op::Difference)
        };
        let one = Region::union_of([&ring(20.0, 1.0), &ring(5.0, 1.0)]);
        let pose: Rigid<Art, Sheet> = Rigid::new(Angle::ZERO, Point::mm(50.0, 50.0));
        let placed = |number: u32, r: &Region<Art>| Placed {
            number,
            cup: 0,
            pose,
            spare: false,
            cuts: inner_first(&r.moved(&pose)),
        };
        let mut all = vec![placed(1, &one), placed(2, &ring(12.0, 2.0)), placed(3, &ring(2.0, 0.5))];
        sort(&mut all);
        let order: Vec<u32> = all.iter().map(|p| p.number).collect();
        assert_eq!(order, [3, 2, 1]);
    }
}
