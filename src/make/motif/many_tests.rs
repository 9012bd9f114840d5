//! Truths: the optimum of tiny walls by exhaustive search over the same raster; known optima of discs; what the note
//! asks of a minute's search.
//!
//! Imports: base, outline, make, make::{free_area, motif}.

use super::super::tests::room;
use super::*;
use crate::make::free_area::FreeArea;
use crate::outline::Region;

fn wish(motif: usize, stock: usize) -> Wish {
    Wish { motif, stock, worth: 1.0, turning: Turning::Upright }
}

fn disc(r: f64, clearance: f64) -> Body {
    Body::new(&Region::disc(Point::mm(0.0, 0.0), Mm(r)), Mm(clearance))
}

fn box_of(w: f64, h: f64, clearance: f64) -> Body {
    let corners = [[-w / 2.0, -h / 2.0], [w / 2.0, -h / 2.0], [w / 2.0, h / 2.0], [-w / 2.0, h / 2.0]];
    Body::new(&Region::polygon(&corners), Mm(clearance))
}

fn packed(room: &FreeArea, bodies: &[Body], wishes: &[Wish], effort: Effort) -> Packed {
    let mut wall = PlacementIndex::new(room);
    let mut random = Random::new(crate::base::units::Seed(5), "test", 0);
    let got = pack(wishes, bodies, &mut wall, effort, &mut random);
    // What is told holds on the outlines, one beside the other.
    for (m, pose) in &got.poses {
        let at = wall.len();
        assert!(wall.violation(at, *m, &bodies[*m], *pose).is_none());
        wall.place(*m, &bodies[*m], *pose);
        wall.refine_one(at, &bodies[*m], *pose);
    }
    assert!(got.poses.len() <= got.at_most, "{} {}", got.poses.len(), got.at_most);
    got
}

const SHORT: Effort = Effort { cell: 1.0, places: 400_000 };

/// Squares on a cylinder: as many columns as the girth holds with the clearance, times the rows that the height
/// holds (closed form: nothing packs squares of one size better than a lattice where it leaves less than a
/// column and a row).
#[test]
fn boxes_in_cells_fill_all_cells() {
    for (across, up) in [(3, 2), (5, 3), (4, 1)] {
        // 20 mm boxes 2 mm apart, and a cell of the raster to spare for each: 23 mm, where 2 more need 46.
        let girth = 23.0 * f64::from(across);
        let tall = 23.0 * f64::from(up) - 2.0;
        let room = room(girth, girth, tall + 26.0);
        let got = packed(&room, &[box_of(20.0, 20.0, 2.0)], &[wish(0, 500)], SHORT);
        assert_eq!(got.poses.len(), (across * up) as usize, "{across} x {up}");
    }
}

/// A stock of one, one above the bound, a kind that is taller than the wall.
#[test]
fn stocks_and_heights_are_kept() {
    let room = room(140.0, 130.0, 70.0);
    let bodies = [disc(8.0, 2.0), box_of(10.0, 60.0, 2.0)];
    let got = packed(&room, &bodies, &[wish(0, 1), wish(1, 500)], SHORT);
    assert_eq!((got.poses.len(), got.poses[0].0), (1, 0));
    // The bound counts by area only, so it may count what is too tall; it never counts more than there are.
    let few = packed(&room, &bodies, &[wish(0, 3)], SHORT);
    assert_eq!((few.poses.len(), few.at_most), (3, 3));
    assert!(packed(&room, &bodies, &[wish(1, 500)], SHORT).poses.is_empty());
    assert_eq!(packed(&room, &bodies, &[], SHORT), Packed { poses: Vec::new(), at_most: 0 });
}

/// What is worth more takes the room: one large box is worth three, and three small ones stand in its place
/// otherwise.
#[test]
fn worth_decides_who_gets_the_room() {
    let room = room(70.0, 70.0, 56.5);
    let bodies = [box_of(60.0, 28.0, 2.0), box_of(20.0, 28.0, 2.0)];
    let with = |worth: f64| {
        let wishes = [Wish { worth, ..wish(0, 1) }, wish(1, 10)];
        packed(&room, &bodies, &wishes, SHORT).poses.iter().filter(|p| p.0 == 0).count()
    };
    assert_eq!((with(9.0), with(0.5)), (1, 0));
}

/// The same seed, the same places.
#[test]
fn the_same_stream_gives_the_same_places() {
    let room = room(180.0, 160.0, 100.0);
    let bodies = [disc(9.0, 2.0), box_of(24.0, 12.0, 3.0)];
    let run = || packed(&room, &bodies, &[wish(0, 12), wish(1, 12)], SHORT);
    assert_eq!(run(), run());
}

/// On tiny walls the number placed is that of all ways there are on the raster: branch and bound over every set of
/// places that do not touch.
#[test]
fn tiny_walls_are_as_full_as_the_best_of_all_ways() {
    let mut random = Random::new(crate::base::units::Seed(11), "tiny", 0);
    for case in 0..10 {
        let girth = random.between(36.0, 48.0);
        let room = room(girth, girth * random.between(0.8, 1.0), random.between(48.0, 56.0));
        let bodies = [
            disc(random.between(5.0, 8.0), 2.0),
            box_of(random.between(9.0, 15.0), random.between(8.0, 14.0), 1.0),
        ];
        let wishes = [wish(0, 1 + random.below(6)), wish(1, 1 + random.below(6))];
        let effort = Effort { cell: 4.0, places: 200_000 };
        let wall = PlacementIndex::new(&room);
        let mut own = Random::new(crate::base::units::Seed(case), "tiny", 1);
        let found = stones(&wishes, &bodies, &wall, effort, &mut own).len();
        assert_eq!(found, exhaustive(&wishes, &bodies, &wall, effort), "case {case}");
    }
}

/// The largest number of places of a raster of which no two share a cell, within the stocks.
fn exhaustive(wishes: &[Wish], bodies: &[Body], wall: &PlacementIndex, effort: Effort) -> usize {
    let d = *wall.development();
    let (low, high) = wall.low_high();
    let rows = libm::floor((high - low).get() / effort.cell) as usize;
    let girth = TAU * d.radius((low + high) * 0.5).get();
    let columns = libm::round(girth / effort.cell).max(8.0) as usize;
    let cells = (columns, rows, low.get(), (high - low).get() / rows as f64);
    let widest = wishes.iter().map(|w| bodies[w.motif].clearance.get()).fold(0.0, f64::max);
    let mut all: Vec<(usize, Vec<u64>)> = Vec::new();
    for (k, w) in wishes.iter().enumerate() {
        let kind = kind(*w, &bodies[w.motif], &d, cells, widest / 2.0);
        for mask in kind.masks[0].iter().filter(|m| m.fits) {
            for column in 0..columns as i32 {
                let mut bits = vec![0u64; (columns * rows).div_ceil(64)];
                for &(row, a, b) in &mask.runs {
                    for c in a..=b {
                        let i = usize::from(row) * columns + (c + column).rem_euclid(columns as i32) as usize;
                        bits[i / 64] |= 1 << (i % 64);
                    }
                }
                all.push((k, bits));
            }
        }
    }
    // By the least cell that is covered, so that each set is met in one order only.
    let least = |b: &Vec<u64>| {
        b.iter()
            .enumerate()
            .find(|(_, w)| **w != 0)
            .map_or(usize::MAX, |(i, w)| 64 * i + w.trailing_zeros() as usize)
    };
    all.sort_by_key(|a| (least(&a.1), a.0));
    let small: u32 = all.iter().map(|a| a.1.iter().map(|w| w.count_ones()).sum()).min().unwrap_or(1);
    let stock: Vec<usize> = wishes.iter().map(|w| w.stock).collect();
    let mut best = 0;
    grow(&all, 0, &vec![0; (columns * rows).div_ceil(64)], &stock, (0, small, columns * rows), &mut best);
    best
}

fn grow(
    all: &[(usize, Vec<u64>)],
    from: usize,
    covered: &[u64],
    stock: &[usize],
    (n, small, cells): (usize, u32, usize),
    best: &mut usize,
) {
    *best = (*best).max(n);
    let used: u32 = covered.iter().map(|w| w.count_ones()).sum();
    let more = ((cells as u32 - used) / small) as usize;
    if n + more.min(stock.iter().sum()) <= *best {
        return;
    }
    for (i, (k, bits)) in all.iter().enumerate().skip(from) {
        if stock[*k] == 0 || bits.iter().zip(covered).any(|(a, b)| a & b != 0) {
            continue;
        }
        let next: Vec<u64> = bits.iter().zip(covered).map(|(a, b)| a | b).collect();
        let mut left = stock.to_vec();
        left[*k] -= 1;
        grow(all, i + 1, &next, &left, (n + 1, small, cells), best);
    }
}

/// Of a mixed stock a short search finds at least 95 percent of what one of ten times its length finds (a hundred
/// times with `FRUSTA_CASES`).
/// `FRUSTA_CASES` walls; steps stand for seconds.
#[test]
fn a_short_search_comes_near_a_long_one() {
    let walls = option_env!("FRUSTA_CASES").and_then(|n| n.parse().ok()).unwrap_or(1);
    for seed in 0..walls {
        let mut random = Random::new(crate::base::units::Seed(seed), "mixed", 0);
        let room = room(250.0, 210.0, 130.0);
        let bodies: Vec<Body> = (0..6)
            .map(|k| match k % 2 {
                0 => disc(random.between(8.0, 15.0), 2.0),
                _ => box_of(random.between(14.0, 34.0), random.between(12.0, 30.0), 2.0),
            })
            .collect();
        let wishes: Vec<Wish> = (0..6).map(|m| wish(m, 8)).collect();
        let run =
            |places: u64| packed(&room, &bodies, &wishes, Effort { cell: 1.5, places }).poses.len() as f64;
        let (short, long) = (run(300_000), run(if walls > 1 { 30_000_000 } else { 3_000_000 }));
        assert!(short >= 0.95 * long, "{short} of {long}");
    }
}
