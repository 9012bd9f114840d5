//! A region through a smooth map of the plane: curves in, few curves out, within a stated distance of the
//! true image.
//!
//! Between corners each contour is sampled where the map bends it, the samples and their directions (through
//! the map's derivative) are mapped exactly, and lines and cubics are fitted to them across the joints of the
//! original. Moving control points instead would be off by millimetres.
//!
//! Imports: base, outline::{curve, region, fit, chain, map, mapped}.

use super::chain::{Kind, MOST, SmoothStretch, chain, cholesky, even, loose};
use super::curve::closed_path;
use super::curve::{Seg, off};
use super::fit::{FitSample, Fitted, follow};
use super::map::{Folded, Image};
use super::mapped::{CurveMapper, LEAST_PACE, ParamSample, samples, turned};
use super::region::Region;
use crate::base::frame::{Frame, Point};
use crate::base::tolerance::{GRID, LEAST_DIVISOR};
use crate::base::units::Mm;
use kurbo::{BezPath, CubicBez, ParamCurve, ParamCurveDeriv, Point as At, Vec2};
use std::collections::BTreeSet;

/// Added to the diagonal of the normal equations of a fit, mm2, so that they can be solved even if all is
/// nought.
const LEAST_DAMP: f64 = 1e-9;
/// Share of the trace added to the diagonal of the normal equations of a fit: steps fall short by about that
/// share.
const DAMP: f64 = 1e-7;
/// Joints that turn by less than this are smooth (radians, half a degree).
const SOFT: f64 = 0.0087;
/// The fit's share of the tolerance: the rest covers what lies between samples.
const SHARE: f64 = 0.85;
/// The share that a chain with free joints may spend.
const NEARLY: f64 = 0.9985;
/// The search for it ends here.
const TARGET: f64 = 0.99;
/// A chain that strays by so many times the tolerance may still do where corners give way.
const ALMOST: f64 = 2.5;
/// Places tried for the first joint of a contour without corners.
const TURNS: usize = 3;
/// Places of each segment of a chain that are looked at.
const LOOKS: u32 = 24;
/// Times that a run is sampled twice as finely because its fit strays.
const ROUNDS: u32 = 5;
impl<F: Frame> Region<F> {
    /// The image under a smooth map, within `tolerance` of it; corners stay corners, smooth joints stay
    /// smooth. A map that mirrors is allowed: contours are then turned round so that the area stays on their
    /// left.
    ///
    /// # Errors
    /// Where the map's derivative changes its handedness or is not finite.
    pub fn bent<G: Frame>(
        &self,
        map: impl Fn(f64, f64) -> Image,
        tolerance: Mm,
    ) -> Result<Region<G>, Folded<F>> {
        let contours: Vec<Vec<Seg>> = self.contours().iter().map(Seg::of).collect();
        let mut bender = CurveMapper { map, tolerance: tolerance.0, hand: 0.0, touches: touches(&contours) };
        let mut image = bender.region(self, &contours)?;
        // Outlines that pass each other closely cross by their errors: they follow closer.
        while image.crosses() && bender.tolerance > 0.02 * tolerance.0 {
            bender.tolerance *= 0.2;
            image = bender.region(self, &contours)?;
        }
        Ok(image.resolve_crossings())
    }
}

/// A point rounded to a hundredth of the grid, so that it can be looked up.
fn place(p: At) -> [i64; 2] {
    [p.x, p.y].map(|v| (v * 100.0 / GRID.0).round() as i64)
}

/// Joints where an outline touches another or itself; their images must touch too.
fn touches(contours: &[Vec<Seg>]) -> BTreeSet<[i64; 2]> {
    let mut once = BTreeSet::new();
    let all = contours.iter().flatten().map(|s| place(s.start()));
    all.filter(|p| !once.insert(*p)).collect()
}

/// What lies between two corners, or a whole contour without any, and what stands for its image.
struct Stretch {
    feet: Vec<ParamSample>,
    sources: Vec<Seg>,
    /// Number of its segments; as many are to stand for its image.
    want: usize,
    closed: bool,
    /// Corners at its ends.
    free: [bool; 2],
    /// Another outline touches where it begins.
    fixed: bool,
    segs: Vec<Seg>,
    /// Fewer segments that come nearly within the tolerance, and how far they stray.
    almost: Option<(Vec<Seg>, f64)>,
}

impl<M: Fn(f64, f64) -> Image> CurveMapper<M> {
    fn region<F: Frame, G: Frame>(
        &mut self,
        source: &Region<F>,
        contours: &[Vec<Seg>],
    ) -> Result<Region<G>, Folded<F>> {
        let mut images = Vec::with_capacity(contours.len());
        for segs in contours {
            let path = self.contour(segs).map_err(|p| Folded { at: Point::mm(p.x, p.y) })?;
            images.push(if self.hand < 0.0 { path.reverse_subpaths() } else { path });
        }
        Ok(if source.is_clean() { Region::promised(images) } else { Region::trusted(images) })
    }

    fn contour(&mut self, segs: &[Seg]) -> Result<BezPath, At> {
        let (segs, weights) = cut_at_cusps(segs);
        let n = segs.len();
        if n == 0 {
            return Ok(BezPath::new());
        }
        let sharp = |k: usize| {
            let (u, v) = (segs[(k + n - 1) % n].tangent(1.0), segs[k % n].tangent(0.0));
            u.dot(v) <= 0.0 || u.cross(v).abs() >= SOFT
        };
        let touch: Vec<bool> = segs.iter().map(|s| self.touches.contains(&place(s.start()))).collect();
        let kept: Vec<bool> = (0..n).map(|k| sharp(k) || touch[k]).collect();
        // Start at a corner if there is one.
        let first = (0..n).find(|&k| kept[k]).unwrap_or(0);
        let mut stretches: Vec<Stretch> = Vec::new();
        let mut k = 0;
        while k < n {
            let from = k;
            let mut runs: Vec<Vec<ParamSample>> = Vec::new();
            loop {
                runs.push(self.feet(&segs[(first + k) % n], k - from)?);
                k += 1;
                if k == n || kept[(first + k) % n] {
                    break;
                }
            }
            let closed = k - from == n && !kept[first];
            let sources: Vec<Seg> = (from..k).map(|i| segs[(first + i) % n]).collect();
            let want: usize = (from..k).map(|i| weights[(first + i) % n]).sum();
            let free = [sharp(first + from), sharp(first + k)];
            let fixed = touch[(first + from) % n];
            let stretch = Stretch {
                feet: Vec::new(),
                sources,
                want: want.max(1),
                closed,
                free,
                fixed,
                segs: Vec::new(),
                almost: None,
            };
            stretches.push(self.run(&mut runs, stretch)?);
        }
        let out: Vec<Seg> = stretches.iter().flat_map(|s| s.segs.iter().copied()).collect();
        if out.len() > weights.iter().sum()
            && let Some(fewer) = self.whole(&stretches)?
        {
            return Ok(closed_path(&fewer));
        }
        Ok(closed_path(&out))
    }

    /// Fits the image of one stretch: of what lies between two corners, or of a whole contour without any.
    fn run(&mut self, runs: &mut [Vec<ParamSample>], mut made: Stretch) -> Result<Stretch, At> {
        let (sources, closed, free) = (made.sources.clone(), made.closed, made.free);
        let sources = sources.as_slice();
        let last = runs.len() - 1;
        for k in 0..runs.len() {
            // A smooth joint has one direction, and one place.
            let next = if k < last {
                k + 1
            } else if closed {
                0
            } else {
                break;
            };
            let (end, start) = (runs[k][runs[k].len() - 1], runs[next][0]);
            let mean = end.d + start.d;
            let d = mean / mean.hypot();
            if let Some(f) = runs[k].last_mut() {
                f.d = d;
            }
            (runs[next][0].d, runs[next][0].p) = (d, end.p);
        }
        let tolerance = SHARE * self.tolerance;
        let whole: Vec<ParamSample> =
            runs.iter().enumerate().flat_map(|(k, r)| r[usize::from(k > 0)..].to_vec()).collect();
        made.feet = whole;
        made.segs = self.fitted(made.feet.clone(), sources, tolerance)?;
        if made.segs.len() <= made.want {
            return Ok(made);
        }
        // More than there were: each segment for itself, by its own handles mapped and adjusted if they do,
        // else fitted.
        let mut each: Vec<Seg> = Vec::new();
        for (k, (feet, seg)) in runs.iter().zip(sources).enumerate() {
            let free = [k == 0 && free[0], k == last && free[1]];
            match self.by_handles(seg, feet, free, tolerance) {
                Some(c) => each.push(c),
                None => each.extend(self.fitted(feet.clone(), sources, tolerance)?),
            }
        }
        if each.len() < made.segs.len() {
            made.segs = each;
        }
        if made.segs.len() > made.want {
            self.fewer(&mut made)?;
        }
        Ok(made)
    }

    /// A chain with free joints of as many segments as there were; if there is none, of as few more as there
    /// is one. It may spend nearly the whole tolerance.
    fn fewer(&mut self, made: &mut Stretch) -> Result<(), At> {
        made.feet = self.finer(&made.feet, &made.sources)?;
        let middles = self.between(&made.feet, &made.sources, 3)?;
        for n in made.want..made.segs.len() {
            // All round, where the first joint lies makes a difference.
            for turn in 0..if made.closed { TURNS } else { 1 } {
                let feet = turned(&made.feet, turn as f64 / (TURNS * n) as f64);
                let samples = samples(&feet);
                let way =
                    SmoothStretch { samples: &samples, closed: made.closed, free: made.free, kinds: &[] };
                let before = (turn == 0).then(|| self.as_before(&feet, &samples, &made.sources, n)).flatten();
                let even = [0.0, 0.5, 1.0].map(|turn| even(&samples, n, turn));
                for start in [before, loose(&samples, n, self.tolerance)].into_iter().chain(even).flatten() {
                    let Some((cubics, worst)) = chain(way, &start, TARGET * self.tolerance) else { continue };
                    let segs: Vec<Seg> = cubics.into_iter().map(Seg::Cubic).collect();
                    if worst <= NEARLY * self.tolerance && self.passes(&segs, &middles, &made.sources)? {
                        made.segs = segs;
                        return Ok(());
                    }
                    let best = made.almost.as_ref().map_or(ALMOST * self.tolerance, |a| a.1);
                    if worst < best && !made.closed {
                        made.almost = Some((segs, worst));
                    }
                }
            }
        }
        Ok(())
    }

    /// Are images within the tolerance of a chain, and the chain within it of the image?
    fn passes(&mut self, segs: &[Seg], images: &[ParamSample], sources: &[Seg]) -> Result<bool, At> {
        let far = |p: At| segs.iter().map(|s| off(s, 0.5, p, self.tolerance)).fold(f64::INFINITY, f64::min);
        if images.iter().any(|f| far(f.p) > self.tolerance) {
            return Ok(false);
        }
        for seg in segs {
            for k in 0..=LOOKS {
                let p = seg.at(f64::from(k) / f64::from(LOOKS));
                let apart = |f: &ParamSample| (f.p - p).hypot2();
                let Some(mut f) = images.iter().min_by(|a, b| apart(a).total_cmp(&apart(b))).copied() else {
                    continue;
                };
                // Newton's steps along the source until its image lies straight across.
                for _ in 0..4 {
                    let t = (f.t + (p - f.p).dot(f.d) / f.pace).clamp(0.0, 1.0);
                    f = self.foot(&sources[f.seg], f.seg, t)?;
                }
                if (f.p - p).hypot() > self.tolerance {
                    return Ok(false);
                }
            }
        }
        Ok(true)
    }

    /// The whole contour in one search, corners free to move within the tolerance too, with those chains of
    /// fewer segments that by themselves came nearly within it.
    fn whole(&mut self, stretches: &[Stretch]) -> Result<Option<Vec<Seg>>, At> {
        let smooth_touch = |s: &Stretch| s.fixed && !s.free[0];
        let chains: Vec<&[Seg]> =
            stretches.iter().map(|s| s.almost.as_ref().map_or(&s.segs[..], |a| &a.0[..])).collect();
        let count: usize = chains.iter().map(|c| c.len()).sum();
        let gained = stretches.iter().any(|s| s.almost.is_some());
        if !gained || count > MOST || stretches[0].closed || stretches.iter().any(smooth_touch) {
            return Ok(None);
        }
        let (mut all, mut start, mut kinds) = (Vec::new(), Vec::new(), Vec::new());
        for (stretch, segs) in stretches.iter().zip(&chains) {
            let own = samples(&stretch.feet);
            let mut from = 0;
            for (k, seg) in segs.iter().enumerate() {
                let near = |i: &usize| (own[*i].p - seg.end()).hypot2();
                let rest = segs.len() - 1 - k;
                let to = match rest {
                    0 => own.len() - 1,
                    _ => (from + 1..own.len() - rest)
                        .min_by(|a, b| near(a).total_cmp(&near(b)))
                        .unwrap_or(from + 1),
                };
                start.push((*seg, all.len() + from, all.len() + to));
                kinds.push(match k {
                    0 if stretch.fixed => Kind::Fixed,
                    0 => Kind::Corner,
                    _ => Kind::Smooth,
                });
                from = to;
            }
            all.extend(own);
        }
        let way = SmoothStretch { samples: &all, closed: true, free: [true; 2], kinds: &kinds };
        let Some((cubics, worst)) = chain(way, &start, TARGET * self.tolerance) else { return Ok(None) };
        if worst > NEARLY * self.tolerance {
            return Ok(None);
        }
        let mut segs: Vec<Seg> = Vec::with_capacity(count);
        for (k, (c, (was, from, to))) in cubics.iter().zip(&start).enumerate() {
            if kinds[k] != Kind::Smooth && (c.p0 - all[*from].p).hypot() > self.tolerance {
                return Ok(None);
            }
            let line = Seg::Line(c.p0, c.p3);
            let straight = matches!(was, Seg::Line(..))
                && all[*from..=*to]
                    .iter()
                    .all(|s| off(&line, 0.5, s.p, self.tolerance) <= NEARLY * self.tolerance);
            segs.push(if straight { line } else { Seg::Cubic(*c) });
        }
        let mut rest = &segs[..];
        for (stretch, own) in stretches.iter().zip(&chains) {
            let (made, after) = rest.split_at(own.len());
            let images = self.between(&stretch.feet, &stretch.sources, 3)?;
            if !self.passes(made, &images, &stretch.sources)? {
                return Ok(None);
            }
            rest = after;
        }
        Ok(Some(segs))
    }

    /// Maps the source segments' handles by the Jacobian; `None` unless `n == sources.len()`.
    fn as_before(
        &mut self,
        feet: &[ParamSample],
        samples: &[FitSample],
        sources: &[Seg],
        n: usize,
    ) -> Option<Vec<Fitted>> {
        if n != sources.len() {
            return None;
        }
        let mut out = Vec::with_capacity(n);
        let mut from = 0;
        for (k, seg) in sources.iter().enumerate() {
            let to = (from..feet.len()).rev().find(|&i| feet[i].seg == k)?;
            let arm = |t: f64| {
                let (p, v) = (seg.at(t), seg.speed(t));
                let m = (self.map)(p.x, p.y);
                Vec2::new(m.dx[0] * v.x + m.dy[0] * v.y, m.dx[1] * v.x + m.dy[1] * v.y).hypot() / 3.0
            };
            let (a, b) = (&samples[from], &samples[to]);
            let c = CubicBez::new(a.p, a.p + a.t * arm(0.0), b.p - b.t * arm(1.0), b.p);
            out.push((Seg::Cubic(c), from, to));
            from = to;
        }
        Some(out)
    }

    /// Lines and cubics through images; between images too within the tolerance, or more of them are taken,
    /// and they are followed closer.
    fn fitted(
        &mut self,
        mut feet: Vec<ParamSample>,
        sources: &[Seg],
        tolerance: f64,
    ) -> Result<Vec<Seg>, At> {
        let mut out = Vec::new();
        let near = 0.92 * self.tolerance;
        for round in 0..ROUNDS {
            let way = samples(&feet);
            out = follow(&way, tolerance * (1.0 - 0.15 * f64::from(round)));
            let middles = self.between(&feet, sources, 1)?;
            let strays = out.iter().any(|(seg, i, j)| {
                let (from, length) = (way[*i].s, way[*j].s - way[*i].s);
                (*i..*j).any(|k| {
                    let u = (f64::midpoint(way[k].s, way[k + 1].s) - from) / length;
                    off(seg, u, middles[k].p, near) > near
                })
            });
            if !strays {
                break;
            }
            feet = self.finer(&feet, sources)?;
        }
        Ok(out.into_iter().map(|fit| fit.0).collect())
    }

    /// The segment with its handles taken through the map's derivative, then moved to come nearest to the
    /// images: along their tangents, or at a corner, where nothing has to be smooth, either way. Gauss-Newton
    /// on the residuals along the normals, those that are largest weighing more each time (Lawson); if it is
    /// near enough.
    fn by_handles(
        &mut self,
        seg: &Seg,
        feet: &[ParamSample],
        free: [bool; 2],
        tolerance: f64,
    ) -> Option<Seg> {
        let (from, to) = (feet[0], feet[feet.len() - 1]);
        let arm = |t: f64| {
            let (p, v) = (seg.at(t), seg.speed(t));
            let m = (self.map)(p.x, p.y);
            Vec2::new(m.dx[0] * v.x + m.dy[0] * v.y, m.dx[1] * v.x + m.dy[1] * v.y).hypot() / 3.0
        };
        let mut handles = [from.d * arm(0.0), to.d * -arm(1.0)];
        // Which ways each handle may go.
        let ways = |end: usize, d: Vec2| if free[end] { [d, Vec2::new(-d.y, d.x)] } else { [d, Vec2::ZERO] };
        let ways = [ways(0, from.d), ways(1, to.d)];
        let inner = &feet[1..feet.len() - 1];
        let mut u: Vec<f64> = inner.iter().map(|f| f.t).collect();
        let mut weight = vec![1.0; inner.len()];
        for step in 0..24 {
            let c = CubicBez::new(from.p, from.p + handles[0], to.p + handles[1], to.p);
            let whole = Seg::Cubic(c);
            if inner.iter().zip(&u).all(|(f, u)| off(&whole, *u, f.p, tolerance) <= tolerance) {
                // Between images too.
                let mut between = feet.windows(2);
                let near = between.all(|w| {
                    let t = f64::midpoint(w[0].t, w[1].t);
                    let m = self.foot(seg, from.seg, t);
                    m.is_ok_and(|m| off(&whole, t, m.p, self.tolerance) <= self.tolerance)
                });
                let ahead = handles[0].dot(from.d) > 0.9 * handles[0].hypot()
                    && handles[1].dot(to.d) < -0.9 * handles[1].hypot();
                return (near && ahead).then_some(whole);
            }
            let d = c.deriv();
            let (mut normal, mut right) = (vec![0.0; 16], vec![0.0; 4]);
            let mut residuals = Vec::with_capacity(inner.len());
            for ((f, u), weight) in inner.iter().zip(&mut u).zip(&weight) {
                let along = d.eval(*u).to_vec2().dot(f.d);
                if along > LEAST_PACE {
                    *u = (*u + (f.p - c.eval(*u)).dot(f.d) / along).clamp(0.0, 1.0);
                }
                let n = Vec2::new(-f.d.y, f.d.x);
                let (r, v) = ((f.p - c.eval(*u)).dot(n), 1.0 - *u);
                residuals.push(r.abs());
                let (first, second) = (3.0 * *u * v * v, 3.0 * *u * *u * v);
                let row = [
                    first * ways[0][0].dot(n),
                    first * ways[0][1].dot(n),
                    second * ways[1][0].dot(n),
                    second * ways[1][1].dot(n),
                ];
                for i in 0..4 {
                    right[i] += weight * row[i] * r;
                    for k in 0..4 {
                        normal[4 * i + k] += weight * row[i] * row[k];
                    }
                }
            }
            // Damped so that unknowns that do nothing stay nought.
            let trace: f64 = (0..4).map(|i| normal[5 * i]).sum();
            (0..4).for_each(|i| normal[5 * i] += LEAST_DAMP + DAMP * trace);
            let by = cholesky(normal, right)?;
            handles[0] += ways[0][0] * by[0] + ways[0][1] * by[1];
            handles[1] += ways[1][0] * by[2] + ways[1][1] * by[3];
            if step > 2 {
                let mean = residuals.iter().sum::<f64>() / residuals.len() as f64;
                for (w, r) in weight.iter_mut().zip(&residuals) {
                    *w = (*w * (0.2 + r / mean.max(LEAST_DIVISOR))).clamp(1e-3, 1e3);
                }
            }
        }
        None
    }
}

/// Segments cut where they turn on the spot (a corner of the outline), and for each piece how many segments
/// it counts as: what comes after the cut came for nothing.
fn cut_at_cusps(segs: &[Seg]) -> (Vec<Seg>, Vec<usize>) {
    let (mut out, mut weights) = (Vec::with_capacity(segs.len()), Vec::with_capacity(segs.len()));
    for seg in segs {
        match seg.cusp() {
            Some(t) => {
                out.extend([seg.part(0.0, t), seg.part(t, 1.0)]);
                weights.extend([1, 0]);
            }
            None => {
                out.push(*seg);
                weights.push(1);
            }
        }
    }
    (out, weights)
}
