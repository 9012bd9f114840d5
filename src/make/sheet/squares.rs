//! [`rings`]: the line at one half of a grid of numbers, by marching squares (Lorensen and Cline 1987 in the
//! plane), what lies beyond the grid taken for nought.
//!
//! Imports: outline, make::sheet::grid.

use super::grid::Grid;
use crate::outline::Ring;
use rayon::prelude::*;

/// The level.
const HALF: f32 = 0.5;

/// One step of the line through a square: from a side to a side, higher numbers on its right to who looks at
/// the picture.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
struct Step {
    from: u64,
    to: u64,
}

/// The closed lines, in steps of the grid from its upper left corner: the middle of the first number is at
/// (1/2, 1/2). Rows run down; the shoelace formula gives outer lines a positive area and holes a negative one,
/// as long as y is not turned upward.
pub fn rings(grid: &Grid<f32>) -> Vec<Ring> {
    let (w, h) = (grid.width, grid.height);
    let value = |x: i64, y: i64| {
        let inside = (0..w as i64).contains(&x) && (0..h as i64).contains(&y);
        if inside { grid.get(x as usize, y as usize) } else { 0.0 }
    };
    // A side is told by the number it starts at (one beyond the grid counted) and whether it goes down.
    let side = |x: i64, y: i64, down: u64| (((y + 1) as u64 * (w as u64 + 2) + (x + 1) as u64) << 1) | down;
    let mut steps: Vec<Step> = (-1..h as i64)
        .into_par_iter()
        .flat_map_iter(|y| {
            let mut out = Vec::new();
            // Rows that lie in the grid are looked through first: nearly all of them is on one side of the level.
            let inner =
                (y >= 0 && y + 1 < h as i64).then(|| (grid.row(y as usize), grid.row(y as usize + 1)));
            for x in -1..w as i64 {
                if let Some((top, low)) = inner
                    && x >= 0
                    && x + 1 < w as i64
                {
                    let x = x as usize;
                    let over = top[x] > HALF;
                    if over == (top[x + 1] > HALF) && over == (low[x] > HALF) && over == (low[x + 1] > HALF) {
                        continue;
                    }
                }
                let corners = [value(x, y), value(x + 1, y), value(x + 1, y + 1), value(x, y + 1)];
                let over = corners.iter().enumerate().fold(0, |m, (k, v)| m | (usize::from(*v > HALF) << k));
                if over == 0 || over == 15 {
                    continue;
                }
                // Top, right, bottom, left.
                let sides = [side(x, y, 0), side(x + 1, y, 1), side(x, y + 1, 0), side(x, y, 1)];
                let mean = corners.iter().sum::<f32>() / 4.0;
                for &(a, b) in ways(over, mean > HALF) {
                    out.push(Step { from: sides[a], to: sides[b] });
                }
            }
            out
        })
        .collect();
    steps.par_sort_unstable();
    let place = |side: u64| {
        let (at, down) = (side >> 1, side & 1 == 1);
        let (x, y) = ((at % (w as u64 + 2)) as i64 - 1, (at / (w as u64 + 2)) as i64 - 1);
        let (a, b) = (value(x, y), if down { value(x, y + 1) } else { value(x + 1, y) });
        let part = f64::from((HALF - a) / (b - a));
        let (fx, fy) = (x as f64 + 0.5, y as f64 + 0.5);
        if down { [fx, fy + part] } else { [fx + part, fy] }
    };
    linked(&steps).into_iter().map(|ring| ring.into_iter().map(place).collect()).collect()
}

/// Steps through a square by its corners above the level (bits: upper left, upper right, lower right, lower
/// left); sides are top 0, right 1, bottom 2, left 3. Where two corners across are above, the mean decides.
fn ways(over: usize, joined: bool) -> &'static [(usize, usize)] {
    match (over, joined) {
        (1, _) => &[(0, 3)],
        (2, _) => &[(1, 0)],
        (3, _) => &[(1, 3)],
        (4, _) => &[(2, 1)],
        (5, false) => &[(0, 3), (2, 1)],
        (5, true) => &[(0, 1), (2, 3)],
        (6, _) => &[(2, 0)],
        (7, _) => &[(2, 3)],
        (8, _) => &[(3, 2)],
        (9, _) => &[(0, 2)],
        (10, false) => &[(1, 0), (3, 2)],
        (10, true) => &[(3, 0), (1, 2)],
        (11, _) => &[(1, 2)],
        (12, _) => &[(3, 1)],
        (13, _) => &[(0, 1)],
        (14, _) => &[(3, 0)],
        _ => &[],
    }
}

/// Steps put together: each side is left once.
fn linked(steps: &[Step]) -> Vec<Vec<u64>> {
    let mut used = vec![false; steps.len()];
    let mut out = Vec::new();
    for first in 0..steps.len() {
        if used[first] {
            continue;
        }
        let (mut ring, mut at) = (Vec::new(), first);
        while !used[at] {
            used[at] = true;
            ring.push(steps[at].from);
            match steps.binary_search_by_key(&steps[at].to, |s| s.from) {
                Ok(next) => at = next,
                Err(_) => break,
            }
        }
        out.push(ring);
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::outline::plane::ring_area;

    /// Truth: closed form. A field that grows evenly inward from a circle gives that circle.
    #[test]
    fn a_disc_has_its_area() {
        let (cx, cy, r) = (20.3f64, 17.8, 11.4);
        let grid = Grid::from_fn(41, 37, |x, y| {
            let d = r - libm::hypot(x as f64 + 0.5 - cx, y as f64 + 0.5 - cy);
            (d / 8.0 + 0.5).clamp(0.0, 1.0) as f32
        });
        let rings = rings(&grid);
        assert_eq!(rings.len(), 1);
        let area = ring_area(&rings[0]);
        assert!((area.abs() - std::f64::consts::PI * r * r).abs() < 1.2, "{area}");
        assert!(rings[0].iter().all(|p| (libm::hypot(p[0] - cx, p[1] - cy) - r).abs() < 0.03));
    }

    /// What reaches the edge ends at the edge itself; two that touch across a corner are one or two by their
    /// mean.
    #[test]
    fn edges_and_saddles() {
        let full = rings(&Grid::of(6, 4, 1.0f32));
        assert_eq!(full.len(), 1);
        assert!((ring_area(&full[0]).abs() - 23.5).abs() < 0.01, "corners are cut by an eighth each");
        let across = |mean: f32| {
            let mut grid = Grid::of(2, 2, mean);
            (grid.at[0], grid.at[3]) = (1.0, 1.0);
            rings(&grid).len()
        };
        assert_eq!((across(0.4), across(0.0)), (1, 2));
        let mut hole = Grid::of(5, 5, 1.0f32);
        hole.at[12] = 0.0;
        let rings = rings(&hole);
        let areas: Vec<f64> = rings.iter().map(|r| ring_area(r)).collect();
        assert!(areas.len() == 2 && areas[0] * areas[1] < 0.0, "a hole runs the other way: {areas:?}");
    }
}
