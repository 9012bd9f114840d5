//! [`Region::through`]: few lines and cubics through rings of dense, slightly noisy points, as a measured
//! outline has them: corners first, smooth between.
//!
//! Imports: base, outline::{plane, region, flatten, fit, crossings}.

use super::crossings::{CurvedRing, Fit, fitted, resolve_crossings};
use super::fit::FitSample;
use super::flatten::Ring;
use super::plane::ring_area;
use super::region::Region;
use crate::base::frame::Frame;
use crate::base::tolerance::NO_LENGTH;
use crate::base::units::{Angle, Mm};
use kurbo::{Point, Vec2};

/// How a measured outline is followed.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Through {
    /// Largest distance of the curves from the points.
    pub within: Mm,
    /// A turn of at least this is a corner.
    pub corner: Angle,
    /// How far to either side it is looked for.
    pub reach: Mm,
    /// How far to either side the direction is taken from.
    pub smooth: Mm,
}

/// Samples within [`Through::reach`].
const SAMPLES: f64 = 6.0;
/// Fewest samples of a ring.
const FEWEST: usize = 12;

impl<F: Frame> Region<F> {
    /// Curves through rings (outer ones counter-clockwise, holes clockwise, none crossing), each within
    /// [`Through::within`] of its points; curves that would cross follow closer.
    pub fn through(rings: &[Ring], how: &Through) -> Region<F> {
        let drafts = rings.iter().filter_map(|r| draft(r, how)).collect();
        let passed = resolve_crossings(drafts, how.within.0);
        Region::promised(passed.contours).rougher(passed.rough)
    }
}

fn draft(ring: &Ring, how: &Through) -> Option<CurvedRing> {
    let points = evenly(ring, how.reach.0 / SAMPLES)?;
    let n = points.len();
    let step = (points[1] - points[0]).hypot().max(NO_LENGTH);
    let steps = |d: Mm| ((d.0 / step).round() as usize).clamp(1, n / 4);
    let corners = corners(&points, steps(how.reach), how.corner);
    let ends: Vec<(usize, usize)> = match corners.len() {
        0 => vec![(0, n)],
        k => (0..k)
            .map(|i| {
                let next = if i + 1 < k { corners[i + 1] } else { corners[0] + n };
                (corners[i], next)
            })
            .collect(),
    };
    let closed = corners.is_empty();
    let runs: Vec<Vec<FitSample>> =
        ends.iter().map(|&(a, b)| samples(&points, (a, b), steps(how.smooth), closed)).collect();
    let spans = runs
        .iter()
        .enumerate()
        .flat_map(|(run, samples)| {
            fitted(samples, Fit { run, from: 0, to: samples.len() - 1, tolerance: how.within.0 })
        })
        .collect();
    let ring = points.iter().map(|p| [p.x, p.y]).collect();
    Some(CurvedRing { spans, points, ring, runs })
}

/// Points at even steps along a ring, about that far from one to the next.
fn evenly(ring: &Ring, step: f64) -> Option<Vec<Point>> {
    let n = ring.len();
    let side = |i: usize| {
        let (a, b) = (ring[i], ring[(i + 1) % n]);
        libm::hypot(b[0] - a[0], b[1] - a[1])
    };
    let length: f64 = (0..n).map(side).sum();
    if n < 3 || length <= NO_LENGTH || ring_area(ring).abs() <= NO_LENGTH {
        return None;
    }
    let count = ((length / step).round() as usize).max(FEWEST);
    let step = length / count as f64;
    let (mut out, mut i, mut before) = (Vec::with_capacity(count), 0, 0.0);
    for k in 0..count {
        let at = k as f64 * step;
        while i + 1 < n && before + side(i) <= at {
            before += side(i);
            i += 1;
        }
        let (a, b) = (ring[i], ring[(i + 1) % n]);
        let part = ((at - before) / side(i).max(NO_LENGTH)).clamp(0.0, 1.0);
        out.push(Point::new(a[0] + (b[0] - a[0]) * part, a[1] + (b[1] - a[1]) * part));
    }
    Some(out)
}

/// Where the direction turns by the limit or more from so many samples before to as many after: of those
/// within that reach the sharpest.
fn corners(points: &[Point], reach: usize, limit: Angle) -> Vec<usize> {
    let n = points.len();
    let turn = |i: usize| {
        let (a, b) = (points[i] - points[(i + n - reach) % n], points[(i + reach) % n] - points[i]);
        libm::atan2(a.cross(b), a.dot(b)).abs()
    };
    let turns: Vec<f64> = (0..n).map(turn).collect();
    let sharpest = |i: usize| {
        (1..=reach).all(|k| {
            let (before, after) = (turns[(i + n - k) % n], turns[(i + k) % n]);
            // Of two that are equal the first.
            before < turns[i] && after <= turns[i]
        })
    };
    (0..n).filter(|&i| turns[i] >= limit.rad() && sharpest(i)).collect()
}

/// The samples from one corner to the next, each with its direction; those at a corner look away from it only.
fn samples(points: &[Point], (from, to): (usize, usize), smooth: usize, closed: bool) -> Vec<FitSample> {
    let n = points.len();
    let at = |i: usize| points[i % n];
    let step = (at(1) - at(0)).hypot();
    let direction = |i: usize| -> Vec2 {
        let (a, b) = if closed {
            (at(i + n - smooth), at(i + smooth))
        } else {
            (at(i.saturating_sub(smooth).max(from)), at((i + smooth).min(to)))
        };
        let v = b - a;
        let length = v.hypot();
        if length > NO_LENGTH { v / length } else { Vec2::new(1.0, 0.0) }
    };
    (from..=to)
        .map(|i| FitSample { p: at(i), t: direction(i), s: (i - from) as f64 * step, at: i + 1 })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::frame::Art;
    use crate::base::random::Random;
    use crate::base::units::Seed;

    const HOW: Through =
        Through { within: Mm(0.05), corner: Angle::degrees(50.0), reach: Mm(0.35), smooth: Mm(0.2) };

    fn noisy(corners: &[[f64; 2]], noise: f64) -> Ring {
        let mut random = Random::new(Seed(7), "through", 0);
        let n = corners.len();
        let mut out = Vec::new();
        for i in 0..n {
            let (a, b) = (corners[i], corners[(i + 1) % n]);
            let steps = (libm::hypot(b[0] - a[0], b[1] - a[1]) / 0.08).ceil() as usize;
            for k in 0..steps {
                let t = k as f64 / steps as f64;
                let off = || [random.between(-noise, noise), random.between(-noise, noise)];
                let o = { off }();
                out.push([a[0] + (b[0] - a[0]) * t + o[0], a[1] + (b[1] - a[1]) * t + o[1]]);
            }
        }
        out
    }

    /// Truth: closed form.
    #[test]
    fn squares_keep_their_corners_and_discs_take_few_curves() {
        let square = noisy(&[[0.0, 0.0], [20.0, 0.0], [20.0, 20.0], [0.0, 20.0]], 0.01);
        let got = Region::<Art>::through(&[square], &HOW);
        assert!((got.area().0 - 400.0).abs() < 1.0 && got.nodes() <= 12, "{} {}", got.area(), got.nodes());
        let b = got.bounds();
        assert!(b.min.x.abs() < 0.08 && (b.max.y - 20.0).abs() < 0.08, "{b:?}");
        let circle: Vec<[f64; 2]> = (0..720)
            .map(|i| {
                let (s, c) = libm::sincos(f64::from(i).to_radians() / 2.0);
                [10.0 * c, 10.0 * s]
            })
            .collect();
        let got = Region::<Art>::through(&[noisy(&circle, 0.01)], &HOW);
        assert!((got.area().0 - std::f64::consts::PI * 100.0).abs() < 0.7, "{}", got.area());
        assert!(got.nodes() <= 12 && got.rough() == 0, "{} nodes", got.nodes());
    }
}
