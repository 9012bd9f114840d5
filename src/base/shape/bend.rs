//! A region through a smooth map of the plane: curves in, few curves out, within a stated distance of the true image.
//!
//! Between corners each contour is sampled where the map bends it, the samples and their directions (through the
//! map's derivative) are mapped exactly, and lines and cubics are fitted to them across the joints of the original.
//! Moving control points instead would be off by millimetres.
//!
//! Imports: base::units, base::frame, base::tolerance, base::shape::{curve, fit, boolean, region}.

use super::boolean::closed_path;
use super::curve::Seg;
use super::fit::{Sample, follow};
use super::region::Region;
use crate::base::frame::{Frame, Point};
use crate::base::tolerance::GRID;
use crate::base::units::Mm;
use kurbo::{BezPath, CubicBez, ParamCurve, ParamCurveDeriv, Point as At, Vec2};
use std::collections::BTreeSet;

/// Where a map takes a point, and how it stretches the plane there.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Image {
    /// The image, mm.
    pub at: [f64; 2],
    /// Derivative by x.
    pub dx: [f64; 2],
    /// Derivative by y.
    pub dy: [f64; 2],
}

/// A region that a map cannot take: the map folds or tears the plane there, or has no value.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Folded<F: Frame> {
    /// The place before mapping.
    pub at: Point<F>,
}

impl<F: Frame> std::fmt::Display for Folded<F> {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "the map folds the plane, or has no value, at {:.3}, {:.3} mm", self.at.x, self.at.y)
    }
}

impl<F: Frame> std::error::Error for Folded<F> {}

/// Lays the x axis along an arc of this curvature (1/mm; positive: the ends rise) and keeps distances from it:
/// x' = x sinc(t) - y sin(t), y' = x (t/2) sinc(t/2)^2 + y cos(t), t = x * curvature. Straight for 0.
///
/// The baseline keeps its length; a parallel at height y is stretched by 1 - y * curvature.
pub fn along_arc(curvature: f64) -> impl Fn(f64, f64) -> Image {
    move |x, y| {
        let t = x * curvature;
        let (s, c) = (libm::sin(t), libm::cos(t));
        let sinc = |v: f64| if v.abs() < 1e-4 { 1.0 - v * v / 6.0 } else { libm::sin(v) / v };
        let half = sinc(0.5 * t);
        let stretch = 1.0 - y * curvature;
        Image {
            at: [x * sinc(t) - y * s, x * 0.5 * t * half * half + y * c],
            dx: [stretch * c, stretch * s],
            dy: [-s, c],
        }
    }
}

/// Joints that turn by less than this are smooth (radians, half a degree).
const SOFT: f64 = 0.0087;
/// Between two samples the image turns by at most this much (radians).
const TURN: f64 = 0.12;
/// The fit's share of the tolerance: the rest covers what lies between samples.
const SHARE: f64 = 0.85;
/// Longest step between two samples before mapping, mm, but for outlines of many centimetres.
const SPACING: f64 = 0.25;
/// Times that a run is sampled twice as finely because its fit strays.
const ROUNDS: u32 = 5;
/// Halvings of a segment at most: 2^12 pieces.
const DEPTH: u8 = 12;

impl<F: Frame> Region<F> {
    /// The image under a smooth map, within `tolerance` of it; corners stay corners, smooth joints stay smooth.
    /// A map that mirrors is allowed: contours are then turned round so that the area stays on their left.
    ///
    /// # Errors
    /// Where the map's derivative changes its handedness or is not finite.
    pub fn bent<G: Frame>(
        &self,
        map: impl Fn(f64, f64) -> Image,
        tolerance: Mm,
    ) -> Result<Region<G>, Folded<F>> {
        let contours: Vec<Vec<Seg>> = self.contours().iter().map(Seg::of).collect();
        let mut bender = Bender { map, tolerance: tolerance.0, hand: 0.0, touches: touches(&contours) };
        let mut image = bender.region(self, &contours)?;
        // Outlines that pass each other closely cross by their errors: they follow closer.
        while image.crosses() && bender.tolerance > 0.02 * tolerance.0 {
            bender.tolerance *= 0.2;
            image = bender.region(self, &contours)?;
        }
        Ok(image.sound())
    }
}

/// A place, to a hundredth of the grid.
fn place(p: At) -> [i64; 2] {
    [p.x, p.y].map(|v| (v * 100.0 / GRID.0).round() as i64)
}

/// Joints where an outline touches another, or itself: their images must touch too.
fn touches(contours: &[Vec<Seg>]) -> BTreeSet<[i64; 2]> {
    let mut once = BTreeSet::new();
    let all = contours.iter().flatten().map(|s| place(s.start()));
    all.filter(|p| !once.insert(*p)).collect()
}

struct Bender<M> {
    map: M,
    tolerance: f64,
    /// Sign of the map's determinant so far.
    hand: f64,
    /// Joints that are kept as they are.
    touches: BTreeSet<[i64; 2]>,
}

/// A place of the contour and its image.
#[derive(Clone, Copy)]
struct Foot {
    /// Which segment of its stretch, and where on it.
    seg: usize,
    t: f64,
    p: At,
    d: Vec2,
}

impl<M: Fn(f64, f64) -> Image> Bender<M> {
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
        let n = segs.len();
        if n == 0 {
            return Ok(BezPath::new());
        }
        let sharp = |k: usize| {
            let (u, v) = (segs[(k + n - 1) % n].tangent(1.0), segs[k % n].tangent(0.0));
            u.dot(v) <= 0.0 || u.cross(v).abs() >= SOFT
        };
        let kept: Vec<bool> =
            (0..n).map(|k| sharp(k) || self.touches.contains(&place(segs[k].start()))).collect();
        // Start at a corner if there is one.
        let first = (0..n).find(|&k| kept[k]).unwrap_or(0);
        let mut out: Vec<Seg> = Vec::new();
        let mut k = 0;
        while k < n {
            let from = k;
            let mut runs: Vec<Vec<Foot>> = Vec::new();
            loop {
                runs.push(self.feet(&segs[(first + k) % n], k - from)?);
                k += 1;
                if k == n || kept[(first + k) % n] {
                    break;
                }
            }
            let closed = k - from == n && !kept[first];
            let sources: Vec<Seg> = (from..k).map(|i| segs[(first + i) % n]).collect();
            let free = [sharp(first + from), sharp(first + k)];
            out.extend(self.run(&mut runs, &sources, closed, free)?);
        }
        Ok(closed_path(&out))
    }

    /// Fits what lies between two corners, or a whole contour without any.
    /// `free`: corners at its ends.
    fn run(
        &mut self,
        runs: &mut [Vec<Foot>],
        sources: &[Seg],
        closed: bool,
        free: [bool; 2],
    ) -> Result<Vec<Seg>, At> {
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
        let whole: Vec<Foot> =
            runs.iter().enumerate().flat_map(|(k, r)| r[usize::from(k > 0)..].to_vec()).collect();
        let across = self.fitted(whole, sources, tolerance)?;
        if across.len() <= sources.len() {
            return Ok(across);
        }
        // More than there were: each segment for itself, by its own handles mapped and adjusted if they do, else fitted.
        let mut each: Vec<Seg> = Vec::new();
        for (k, (feet, seg)) in runs.iter().zip(sources).enumerate() {
            let free = [k == 0 && free[0], k == last && free[1]];
            match self.by_handles(seg, feet, free, tolerance) {
                Some(c) => each.push(c),
                None => each.extend(self.fitted(feet.clone(), sources, tolerance)?),
            }
        }
        Ok(if each.len() < across.len() { each } else { across })
    }

    /// Lines and cubics through images; between images too within the tolerance, or more of them are taken, and they
    /// are followed closer.
    fn fitted(&mut self, mut feet: Vec<Foot>, sources: &[Seg], tolerance: f64) -> Result<Vec<Seg>, At> {
        let mut out = Vec::new();
        let near = 0.92 * self.tolerance;
        for round in 0..ROUNDS {
            let way = samples(&feet);
            out = follow(&way, tolerance * (1.0 - 0.15 * f64::from(round)));
            let mut middles = Vec::with_capacity(feet.len());
            for w in feet.windows(2) {
                // Across a joint there is nothing between.
                let from = if w[0].seg == w[1].seg { w[0].t } else { 0.0 };
                middles.push(self.foot(&sources[w[1].seg], w[1].seg, f64::midpoint(from, w[1].t))?);
            }
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
            let last = feet[feet.len() - 1];
            feet = feet.iter().zip(middles).flat_map(|(f, m)| [*f, m]).chain([last]).collect();
        }
        Ok(out.into_iter().map(|fit| fit.0).collect())
    }

    /// The segment with its handles taken through the map's derivative, then moved to come nearest to the images: along
    /// their tangents, or at a corner, where nothing has to be smooth, either way. Gauss-Newton on the residuals along
    /// the normals, those that are largest weighing more each time (Lawson); if it is near enough.
    fn by_handles(&mut self, seg: &Seg, feet: &[Foot], free: [bool; 2], tolerance: f64) -> Option<Seg> {
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
            let (mut normal, mut right) = ([[0.0; 4]; 4], [0.0; 4]);
            let mut residuals = Vec::with_capacity(inner.len());
            for ((f, u), weight) in inner.iter().zip(&mut u).zip(&weight) {
                let along = d.eval(*u).to_vec2().dot(f.d);
                if along > 1e-9 {
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
                        normal[i][k] += weight * row[i] * row[k];
                    }
                }
            }
            let by = solved(normal, right)?;
            handles[0] += ways[0][0] * by[0] + ways[0][1] * by[1];
            handles[1] += ways[1][0] * by[2] + ways[1][1] * by[3];
            if step > 2 {
                let mean = residuals.iter().sum::<f64>() / residuals.len() as f64;
                for (w, r) in weight.iter_mut().zip(&residuals) {
                    *w = (*w * (0.2 + r / mean.max(1e-12))).clamp(1e-3, 1e3);
                }
            }
        }
        None
    }

    /// Images along a segment, closer where they bend.
    fn feet(&mut self, seg: &Seg, at: usize) -> Result<Vec<Foot>, At> {
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
    fn halve(&mut self, seg: &Seg, a: Foot, b: Foot, depth: u8, out: &mut Vec<Foot>) -> Result<(), At> {
        let turn = (b.d - a.d).hypot();
        let length = (b.p - a.p).hypot();
        if depth > 0
            && turn > 1e-9
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
    fn foot(&mut self, seg: &Seg, at: usize, t: f64) -> Result<Foot, At> {
        let (p, v) = (seg.at(t), seg.tangent(t));
        let m = (self.map)(p.x, p.y);
        let det = m.dx[0] * m.dy[1] - m.dx[1] * m.dy[0];
        let d = Vec2::new(m.dx[0] * v.x + m.dy[0] * v.y, m.dx[1] * v.x + m.dy[1] * v.y);
        if self.hand == 0.0 {
            self.hand = det.signum();
        }
        let sound = m.at[0].is_finite() && m.at[1].is_finite() && d.hypot() > 0.0 && d.hypot().is_finite();
        let unfolded = det * self.hand > 0.0;
        if !sound || !unfolded {
            return Err(p);
        }
        Ok(Foot { seg: at, t, p: At::new(m.at[0], m.at[1]), d: d / d.hypot() })
    }
}

/// A system of four equations by elimination, damped so that unknowns that do nothing stay nought.
fn solved(mut m: [[f64; 4]; 4], mut right: [f64; 4]) -> Option<[f64; 4]> {
    let trace: f64 = (0..4).map(|i| m[i][i]).sum();
    for (i, row) in m.iter_mut().enumerate() {
        row[i] += 1e-9 + 1e-7 * trace;
    }
    for i in 0..4 {
        let best = (i..4).max_by(|a, b| m[*a][i].abs().total_cmp(&m[*b][i].abs()))?;
        m.swap(i, best);
        right.swap(i, best);
        for k in i + 1..4 {
            let f = m[k][i] / m[i][i];
            let pivot = m[i];
            m[k].iter_mut().zip(pivot).for_each(|(a, b)| *a -= f * b);
            right[k] -= f * right[i];
        }
    }
    for i in (0..4).rev() {
        let known: f64 = (i + 1..4).map(|k| m[i][k] * right[k]).sum();
        right[i] = (right[i] - known) / m[i][i];
    }
    right.iter().all(|v| v.is_finite()).then_some(right)
}

/// Images with their distance along the way.
fn samples(feet: &[Foot]) -> Vec<Sample> {
    let mut s = 0.0;
    let mut last = feet[0].p;
    let told = feet.iter().enumerate().map(|(at, f)| {
        s += (f.p - last).hypot();
        last = f.p;
        Sample { p: f.p, t: f.d, s, at }
    });
    told.collect()
}

/// From a point to a segment, looked for downhill from a parameter; if it is not near there, from others too.
fn off(seg: &Seg, from: f64, p: At, near: f64) -> f64 {
    let downhill = |from: f64| {
        let mut u = from;
        for _ in 0..6 {
            let (v, r) = (seg.speed(u), seg.at(u) - p);
            let bend = (v.hypot2() + r.dot(seg.bend(u))).max(0.25 * v.hypot2());
            u = (u - r.dot(v) / bend.max(1e-12)).clamp(0.0, 1.0);
        }
        (seg.at(u) - p).hypot()
    };
    let first = downhill(from);
    if first <= near {
        return first;
    }
    (0..=8).map(|i| downhill(f64::from(i) / 8.0)).fold(first, f64::min)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::frame::{Art, Plane, Rigid};
    use crate::base::shape::{Clearance, FillRule, Flat, Op};
    use crate::base::units::Angle;
    use proptest::prelude::*;

    type R = Region<Art>;
    const TOLERANCE: Mm = Mm(0.01);

    fn svg(d: &str) -> R {
        Region::filled([BezPath::from_svg(d).unwrap()], FillRule::NonZero)
    }
    /// The image by brute force: the outline flattened very finely, every corner mapped.
    fn dense(r: &R, map: &impl Fn(f64, f64) -> Image) -> Flat<Plane> {
        let fine = r.flat(Mm(2e-5));
        let rings = fine.rings.iter().map(|ring| {
            let n = ring.len();
            let mut out = Vec::new();
            for i in 0..n {
                let (a, b) = (ring[i], ring[(i + 1) % n]);
                let parts = (libm::hypot(b[0] - a[0], b[1] - a[1]) / 0.05).ceil().max(1.0);
                for k in 0..parts as usize {
                    let f = k as f64 / parts;
                    out.push(map(a[0] + f * (b[0] - a[0]), a[1] + f * (b[1] - a[1])).at);
                }
            }
            out
        });
        Flat::new(rings.collect(), Mm(1e-5))
    }
    /// Largest distance between two outlines, both ways.
    pub(super) fn apart(a: &Flat<Plane>, b: &Flat<Plane>) -> f64 {
        let one = |a: &Flat<Plane>, b: &Flat<Plane>| {
            let index = Clearance::new(b.clone());
            a.rings
                .iter()
                .flatten()
                .map(|p| index.nearest(Point::mm(p[0], p[1]), Mm(1e6)).unwrap().distance.0)
                .fold(0.0, f64::max)
        };
        one(a, b).max(one(b, a))
    }
    fn flower() -> R {
        let petal = svg("M0 0C6 -9 22 -8 26 0C22 8 6 9 0 0Z");
        let petals: Vec<R> = (0..7)
            .map(|k| {
                petal
                    .moved(&Rigid::<Art, Art>::new(Angle::degrees(360.0 / 7.0 * f64::from(k)), Point::ORIGIN))
            })
            .collect();
        Region::union_of(&petals).op(&Region::disc(Point::ORIGIN, Mm(4.0)), Op::Difference)
    }

    /// A straight baseline laid to the parallel arc at a sector radius, checked against mapping every point.
    #[test]
    fn bending_along_the_taper_keeps_the_tolerance_and_the_nodes() {
        let shapes = [
            flower(),
            svg("M-40 0H40V12H-40Z"),
            svg("M-60 -5C-30 9 30 -9 60 5V20C30 6 -30 24 -60 10Z"),
            Region::disc(Point::mm(30.0, 8.0), Mm(9.0)),
        ];
        for r in &shapes {
            for curvature in [1.0 / 90.0, 1.0 / 415.0, -1.0 / 200.0, 1e-7, 0.0] {
                let map = along_arc(curvature);
                let got: Region<Plane> = r.bent(&map, TOLERANCE).unwrap();
                let off = apart(&got.flat(Mm(2e-5)), &dense(r, &map));
                assert!(off <= TOLERANCE.0, "off by {off} at curvature {curvature}");
                // A single cubic that waves over 120 mm cannot turn along an arc besides: the wave takes one more each.
                let wave = r.nodes() == 4 && r.bounds().min.x == -60.0;
                let most = if wave { 8 } else { r.nodes() };
                assert!(got.nodes() <= most, "{} nodes of {} at {curvature}", got.nodes(), r.nodes());
                assert_eq!(got.contours().len(), r.contours().len());
                if curvature == 0.0 {
                    assert!((got.area() - r.area()).0.abs() < 0.01 * r.perimeter().0);
                }
            }
        }
    }

    /// A rectangle of height h on an arc is a sector of an annulus: the radii R and R - h, area w (h - h^2 / 2R).
    #[test]
    fn a_bent_rectangle_is_a_sector_of_an_annulus() {
        let (w, h, radius) = (120.0, 14.0, 200.0);
        let r: R = svg(&format!("M{} 0H{}V{h}H{}Z", -w / 2.0, w / 2.0, -w / 2.0));
        let got: Region<Plane> = r.bent(along_arc(1.0 / radius), TOLERANCE).unwrap();
        approx::assert_abs_diff_eq!(got.area().0, w * (h - h * h / (2.0 * radius)), epsilon = 0.01 * w);
        assert_eq!(got.nodes(), 4);
        for p in got.flat(Mm(1e-4)).rings.concat() {
            let d = libm::hypot(p[0], p[1] - radius);
            assert!(d > radius - h - 0.01 && d < radius + 0.01);
        }
    }

    /// A conformal map (the square) has a closed form for its derivative and turns corners by no angle.
    #[test]
    fn a_conformal_map_keeps_corners_and_a_mirroring_one_keeps_the_area_inside() {
        let square = |x: f64, y: f64| Image {
            at: [x * x - y * y, 2.0 * x * y],
            dx: [2.0 * x, 2.0 * y],
            dy: [-2.0 * y, 2.0 * x],
        };
        let r: R = svg("M3 1H7V4H3Z");
        let got: Region<Plane> = r.bent(square, TOLERANCE).unwrap();
        assert!(apart(&got.flat(Mm(2e-5)), &dense(&r, &square)) <= TOLERANCE.0);
        let corners = got.sharp_corners(Angle::degrees(100.0));
        assert_eq!(corners.len(), 4);
        assert!(corners.iter().all(|c| (c.angle.deg() - 90.0).abs() < 0.01));
        // The integral of 4 (x^2 + y^2) over the rectangle.
        let area = 4.0 * ((343.0 - 27.0) / 3.0 * 3.0 + (64.0 - 1.0) / 3.0 * 4.0);
        approx::assert_relative_eq!(got.area().0, area, max_relative = 1e-3);
        let mirror =
            |x: f64, y: f64| Image { at: [-x, y + 0.02 * x * x], dx: [-1.0, 0.04 * x], dy: [0.0, 1.0] };
        let got: Region<Plane> = flower().bent(mirror, TOLERANCE).unwrap();
        approx::assert_abs_diff_eq!(got.area().0, flower().area().0, epsilon = 0.01 * flower().perimeter().0);
    }

    #[test]
    fn a_fold_is_refused_with_its_place() {
        // Beyond the arc's centre.
        let r: R = svg("M-5 0H5V30H-5Z");
        let refused: Result<Region<Plane>, _> = r.bent(along_arc(1.0 / 20.0), TOLERANCE);
        assert!(refused.is_err());
        let none: Result<Region<Plane>, _> =
            r.bent(|_, _| Image { at: [f64::NAN; 2], dx: [1.0, 0.0], dy: [0.0, 1.0] }, TOLERANCE);
        assert!(none.is_err());
    }

    proptest! {
        /// Smooth joints stay smooth, and every shape stays within its tolerance.
        #[test]
        fn leaves_anywhere_keep_their_tolerance(
            v in prop::array::uniform8(-14.0..14.0f64), curvature in -0.012..0.012f64, tol in 0.003..0.05f64,
        ) {
            let r: R = svg(&format!("M-30 0C{} {} {} {} 30 0C{} {} {} {} -30 0Z", v[0], v[1] + 15.0, v[2], v[3] + 15.0, v[4], v[5] - 15.0, v[6], v[7] - 15.0));
            let map = along_arc(curvature);
            let got: Region<Plane> = r.bent(&map, Mm(tol)).unwrap();
            let off = apart(&got.flat(Mm(2e-5)), &dense(&r, &map));
            prop_assert!(off <= tol, "off by {off} of {tol}");
        }
    }
}
