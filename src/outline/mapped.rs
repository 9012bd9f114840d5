//! The images of a contour's points under a map of the plane, with their directions, as close together as
//! they bend.
//!
//! Imports: outline::{curve, fit, map}.

use super::curve::Seg;
use super::fit::FitSample;
use super::map::Image;
use kurbo::{Point as At, Vec2};
use std::collections::BTreeSet;

/// Speed along an image, mm a unit of its parameter, below which the image stands still there and is not
/// stepped along.
pub(super) const LEAST_PACE: f64 = 1e-9;
/// Turn between two samples, radians, that is rounding of a straight image: such a stretch is not halved.
const NO_TURN: f64 = 1e-9;

/// Between two samples the image turns by at most this much (radians).
const TURN: f64 = 0.12;
/// Longest step between two samples before mapping, mm, but for outlines of many centimetres.
const SPACING: f64 = 0.25;
/// Halvings of a segment at most: 2^12 pieces.
const DEPTH: u8 = 12;

/// A map, and what is asked of it along contours.
pub(super) struct CurveMapper<M> {
    pub(super) map: M,
    pub(super) tolerance: f64,
    /// Sign of the map's determinant so far.
    pub(super) hand: f64,
    /// Joints that are kept as they are.
    pub(super) touches: BTreeSet<[i64; 2]>,
}

/// A place of the contour and its image.
#[derive(Clone, Copy)]
pub(super) struct ParamSample {
    /// Which segment of its stretch, and where on it.
    pub(super) seg: usize,
    pub(super) t: f64,
    pub(super) p: At,
    pub(super) d: Vec2,
    /// How fast the image goes by the segment's parameter.
    pub(super) pace: f64,
}

impl<M: Fn(f64, f64) -> Image> CurveMapper<M> {
    /// Images along a segment, closer where they bend.
    pub(super) fn feet(&mut self, seg: &Seg, at: usize) -> Result<Vec<ParamSample>, At> {
        // A fit across a joint can bulge where the image itself hardly bends: no long steps.
        let long = ((seg.end() - seg.start()).hypot() / SPACING).ceil().min(128.0) as usize;
        let n = match seg {
            Seg::Line(..) => long.max(6),
            Seg::Cubic(_) => seg.steps(self.tolerance).max(8).max(long),
        };
        let mut out = vec![self.foot(seg, at, 0.0)?];
        for i in 0..n {
            let from = out[out.len() - 1];
            let to = self.foot(seg, at, (i + 1) as f64 / n as f64)?;
            self.halve(seg, from, to, DEPTH, &mut out)?;
        }
        Ok(out)
    }
    fn halve(
        &mut self,
        seg: &Seg,
        a: ParamSample,
        b: ParamSample,
        depth: u8,
        out: &mut Vec<ParamSample>,
    ) -> Result<(), At> {
        let turn = (b.d - a.d).hypot();
        let length = (b.p - a.p).hypot();
        if depth > 0
            && turn > NO_TURN
            && (turn > TURN || length * turn > 4.0 * self.tolerance)
            && length > 1e-3 * self.tolerance
        {
            let m = self.foot(seg, a.seg, f64::midpoint(a.t, b.t))?;
            self.halve(seg, a, m, depth - 1, out)?;
            return self.halve(seg, m, b, depth - 1, out);
        }
        out.push(b);
        Ok(())
    }
    pub(super) fn foot(&mut self, seg: &Seg, at: usize, t: f64) -> Result<ParamSample, At> {
        let (p, v) = (seg.at(t), seg.tangent(t));
        let m = (self.map)(p.x, p.y);
        let det = m.dx[0] * m.dy[1] - m.dx[1] * m.dy[0];
        let d = Vec2::new(m.dx[0] * v.x + m.dy[0] * v.y, m.dx[1] * v.x + m.dy[1] * v.y);
        if self.hand == 0.0 {
            self.hand = det.signum();
        }
        let smooth = m.at[0].is_finite() && m.at[1].is_finite() && d.hypot() > 0.0 && d.hypot().is_finite();
        let unfolded = det * self.hand > 0.0;
        if !smooth || !unfolded {
            return Err(p);
        }
        let pace = d.hypot() * seg.speed(t).hypot();
        Ok(ParamSample {
            seg: at,
            t,
            p: At::new(m.at[0], m.at[1]),
            d: d / d.hypot(),
            pace: pace.max(LEAST_PACE),
        })
    }

    /// The same images with one more between each two.
    pub(super) fn finer(&mut self, feet: &[ParamSample], sources: &[Seg]) -> Result<Vec<ParamSample>, At> {
        let mut out = Vec::with_capacity(2 * feet.len());
        for w in feet.windows(2) {
            let from = if w[0].seg == w[1].seg { w[0].t } else { 0.0 };
            let middle = self.foot(&sources[w[1].seg], w[1].seg, f64::midpoint(from, w[1].t))?;
            out.extend([w[0], middle]);
        }
        out.extend(feet.last());
        Ok(out)
    }

    /// `count` images between each two, the ones given left out.
    pub(super) fn between(
        &mut self,
        feet: &[ParamSample],
        sources: &[Seg],
        count: u32,
    ) -> Result<Vec<ParamSample>, At> {
        let mut out = Vec::with_capacity(count as usize * feet.len());
        for w in feet.windows(2) {
            // Across a joint there is nothing between.
            let from = if w[0].seg == w[1].seg { w[0].t } else { 0.0 };
            for k in 1..=count {
                let t = from + (w[1].t - from) * f64::from(k) / f64::from(count + 1);
                out.push(self.foot(&sources[w[1].seg], w[1].seg, t)?);
            }
        }
        Ok(out)
    }
}

/// A closed row of images begun elsewhere: at `share` of its length from its first.
pub(super) fn turned(feet: &[ParamSample], share: f64) -> Vec<ParamSample> {
    let steps: Vec<f64> = feet.windows(2).map(|w| (w[1].p - w[0].p).hypot()).collect();
    let mut left = share * steps.iter().sum::<f64>();
    let at = steps.iter().position(|s| {
        left -= s;
        left < 0.0
    });
    let at = at.unwrap_or(0);
    feet[at..].iter().chain(&feet[1..=at]).copied().collect()
}

/// Images as samples for a fit: with the distance along the polyline through them.
pub(super) fn samples(feet: &[ParamSample]) -> Vec<FitSample> {
    let mut s = 0.0;
    let mut last = feet[0].p;
    let told = feet.iter().enumerate().map(|(at, f)| {
        s += (f.p - last).hypot();
        last = f.p;
        FitSample { p: f.p, t: f.d, s, at }
    });
    told.collect()
}
