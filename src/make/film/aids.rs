//! Weeding aids: a frame round the used area, and lines that split the waste without coming near a piece.
//!
//! Lines run level and upright at about the distance asked for; each is moved a little to where most of it is
//! clear of pieces, and only its clear stretches are cut. Where a line meets the points nearer than the
//! distance to an edge is exact (a segment's surrounding is convex: a span).
//!
//! Imports: base, outline, read::job, make::film::{sheet, raster}.

use super::raster::capsule_span;
use super::sheet::{Aids, SheetLayout};
use crate::base::frame::Sheet;
use crate::base::tolerance::{CLEAR_GUARD, FLATTEN};
use crate::outline::plane::ring_area;
use crate::outline::{Bounds, Ring};
use crate::read::job::FilmSpec;

/// A shorter stretch splits nothing.
const SHORTEST: f64 = 5.0;
/// Steps by which a line is moved, and how far as a part of the distance between lines.
const SHIFT: f64 = 1.0;
const FARTHEST: f64 = 0.3;

/// The aids that a film asks for. A leftover of a shape of its own gets none: nobody knows what lies beside
/// it.
pub fn of(sheet: &SheetLayout, film: &FilmSpec) -> Aids {
    let mut aids = Aids::default();
    if sheet.placed.is_empty() || sheet.stock.shape.is_some() {
        return aids;
    }
    let asked = film.cut.weeding;
    let used = sheet.placed.iter().fold(Bounds::EMPTY, |b, p| b.joined(&p.cuts.bounds()));
    aids.frame = asked.frame.map(|f| used.grown(f));
    if let Some(apart) = asked.lines {
        let outlines: Vec<Ring> = sheet
            .placed
            .iter()
            .flat_map(|p| p.cuts.flat(FLATTEN).rings)
            .filter(|r| ring_area(r) > 0.0)
            .collect();
        let clear = asked.clear.0 + FLATTEN.0 + CLEAR_GUARD.0;
        let room = aids.frame.unwrap_or(used);
        aids.lines = lines(&outlines, &room, apart.0, clear);
    }
    aids
}

fn lines(outlines: &[Ring], room: &Bounds<Sheet>, apart: f64, clear: f64) -> Vec<[[f64; 2]; 2]> {
    let turned: Vec<Ring> = outlines.iter().map(|r| r.iter().map(|p| [p[1], p[0]]).collect()).collect();
    let (x, y) = ([room.min.x, room.max.x], [room.min.y, room.max.y]);
    let level = one_way(outlines, x, y, apart, clear);
    let upright = one_way(&turned, y, x, apart, clear);
    let swapped = upright.into_iter().map(|l| l.map(|p| [p[1], p[0]]));
    level.into_iter().chain(swapped).collect()
}

/// Level lines over a room, each from side to side where it is clear, there and back in turn.
fn one_way(outlines: &[Ring], x: [f64; 2], y: [f64; 2], apart: f64, clear: f64) -> Vec<[[f64; 2]; 2]> {
    let n = ((y[1] - y[0]) / apart).round() as usize;
    let mut out = Vec::new();
    for k in 1..n {
        let middle = y[0] + (y[1] - y[0]) * k as f64 / n as f64;
        let far = (FARTHEST * apart / SHIFT) as i32;
        // Nearest first, so that of equals the least moved is taken.
        let moves = (0..=far).flat_map(|m| [m, -m]);
        let tries = moves.map(|m| (middle + f64::from(m) * SHIFT, m.abs()));
        let best = tries
            .map(|(at, m)| {
                let stretches = free(outlines, x, at, clear);
                let length: f64 = stretches.iter().map(|s| s[1] - s[0]).sum();
                (length, m, at, stretches)
            })
            .max_by(|a, b| a.0.total_cmp(&b.0).then(b.1.cmp(&a.1)));
        let Some((_, _, at, stretches)) = best else { continue };
        let mut row: Vec<[[f64; 2]; 2]> = stretches.iter().map(|s| [[s[0], at], [s[1], at]]).collect();
        if k % 2 == 0 {
            row.reverse();
            row.iter_mut().for_each(|l| l.swap(0, 1));
        }
        out.extend(row);
    }
    out
}

/// Stretches of the level line at `y` that keep the distance from all outlines and what they enclose.
fn free(outlines: &[Ring], x: [f64; 2], y: f64, clear: f64) -> Vec<[f64; 2]> {
    let mut taken: Vec<[f64; 2]> = Vec::new();
    for ring in outlines {
        let (lo, hi) =
            ring.iter().fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), p| (l.min(p[1]), h.max(p[1])));
        if y < lo - clear || y > hi + clear {
            continue;
        }
        let mut crossings = Vec::new();
        let mut a = ring[ring.len() - 1];
        for &b in ring {
            taken.extend(capsule_span(a, b, clear, y).map(|s| [s.0, s.1]));
            if (a[1] > y) != (b[1] > y) {
                crossings.push((b[0] - a[0]) * (y - a[1]) / (b[1] - a[1]) + a[0]);
            }
            a = b;
        }
        crossings.sort_by(f64::total_cmp);
        taken.extend(crossings.chunks_exact(2).map(|c| [c[0], c[1]]));
    }
    taken.sort_by(|a, b| a[0].total_cmp(&b[0]));
    let (mut out, mut from) = (Vec::new(), x[0]);
    for [lo, hi] in taken.into_iter().chain([[x[1], x[1]]]) {
        let lo = lo.min(x[1]);
        if lo - from >= SHORTEST {
            out.push([from, lo]);
        }
        from = from.max(hi);
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Truth: a disc of radius 10 about the origin keeps a level line at height 6 off by sqrt(12^2 - 6^2) at
    /// 2 mm.
    #[test]
    fn a_line_stops_short_of_a_disc_by_the_distance() {
        let n = 4000;
        let at = |i: usize| std::f64::consts::TAU * i as f64 / n as f64;
        let disc: Ring = (0..n).map(|i| [10.0 * libm::cos(at(i)), 10.0 * libm::sin(at(i))]).collect();
        let got = free(std::slice::from_ref(&disc), [-30.0, 30.0], 6.0, 2.0);
        let half = (144.0f64 - 36.0).sqrt();
        assert_eq!(got.len(), 2);
        approx::assert_abs_diff_eq!(got[0][1], -half, epsilon = 1e-3);
        approx::assert_abs_diff_eq!(got[1][0], half, epsilon = 1e-3);
        assert_eq!(free(&[disc], [-30.0, 30.0], 12.1, 2.0), vec![[-30.0, 30.0]]);
    }
}
