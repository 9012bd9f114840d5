//! A region through a smooth map of the plane: curves in, few curves out, within a stated distance of the true image.
//!
//! Between corners each contour is sampled where the map bends it, the samples and their directions (through the
//! map's derivative) are mapped exactly, and lines and cubics are fitted to them across the joints of the original.
//! Moving control points instead would be off by millimetres.
//!
//! Imports: base::units, base::frame, base::shape::{curve, fit, boolean, region}.

use super::boolean::closed_path;
use super::curve::Seg;
use super::fit::{Sample, follow};
use super::region::Region;
use crate::base::frame::{Frame, Point};
use crate::base::units::Mm;
use kurbo::{BezPath, CubicBez, ParamCurve, ParamCurveDeriv, Point as At, Vec2};

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
const SHARE: f64 = 0.9;
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
        let mut bender = Bender { map, tolerance: tolerance.0, hand: 0.0 };
        let mut contours = Vec::with_capacity(self.contours().len());
        for path in self.contours() {
            let path = bender.contour(path).map_err(|p| Folded { at: Point::mm(p.x, p.y) })?;
            contours.push(if bender.hand < 0.0 { path.reverse_subpaths() } else { path });
        }
        let image = if self.is_clean() { Region::promised(contours) } else { Region::trusted(contours) };
        Ok(image.sound())
    }
}

struct Bender<M> {
    map: M,
    tolerance: f64,
    /// Sign of the map's determinant so far.
    hand: f64,
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
    fn contour(&mut self, path: &BezPath) -> Result<BezPath, At> {
        let segs = Seg::of(path);
        let n = segs.len();
        if n == 0 {
            return Ok(BezPath::new());
        }
        let sharp = |k: usize| {
            let (u, v) = (segs[(k + n - 1) % n].tangent(1.0), segs[k].tangent(0.0));
            u.dot(v) <= 0.0 || u.cross(v).abs() >= SOFT
        };
        // Start at a corner if there is one.
        let first = (0..n).find(|&k| sharp(k)).unwrap_or(0);
        let mut out: Vec<Seg> = Vec::new();
        let mut k = 0;
        while k < n {
            let from = k;
            let mut runs: Vec<Vec<Foot>> = Vec::new();
            loop {
                runs.push(self.feet(&segs[(first + k) % n], k - from)?);
                k += 1;
                if k == n || sharp((first + k) % n) {
                    break;
                }
            }
            let closed = k - from == n && !sharp(first);
            let sources: Vec<Seg> = (from..k).map(|i| segs[(first + i) % n]).collect();
            out.extend(self.run(&mut runs, &sources, closed)?);
        }
        Ok(closed_path(&out))
    }

    /// Fits what lies between two corners, or a whole contour without any.
    fn run(&mut self, runs: &mut [Vec<Foot>], sources: &[Seg], closed: bool) -> Result<Vec<Seg>, At> {
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
        for (feet, seg) in runs.iter().zip(sources) {
            match self.by_handles(seg, feet, tolerance) {
                Some(c) => each.push(c),
                None => each.extend(self.fitted(feet.clone(), sources, tolerance)?),
            }
        }
        Ok(if each.len() < across.len() { each } else { across })
    }

    /// Lines and cubics through images; between images too within the tolerance, or more of them are taken.
    fn fitted(&mut self, mut feet: Vec<Foot>, sources: &[Seg], tolerance: f64) -> Result<Vec<Seg>, At> {
        let mut out = Vec::new();
        for round in 0..4 {
            out = follow(&samples(&feet), tolerance * (1.0 - 0.15 * f64::from(round)));
            let mut middles = Vec::with_capacity(feet.len());
            for w in feet.windows(2) {
                // Across a joint there is nothing between.
                let from = if w[0].seg == w[1].seg { w[0].t } else { 0.0 };
                middles.push(self.foot(&sources[w[1].seg], w[1].seg, f64::midpoint(from, w[1].t))?);
            }
            let strays = out.iter().any(|(seg, i, j)| {
                let (from, to) = (*i as f64, *j as f64);
                (*i..*j)
                    .any(|k| off(seg, (k as f64 + 0.5 - from) / (to - from), middles[k].p) > self.tolerance)
            });
            if !strays || round == 3 {
                break;
            }
            let last = feet[feet.len() - 1];
            feet = feet.iter().zip(middles).flat_map(|(f, m)| [*f, m]).chain([last]).collect();
        }
        Ok(out.into_iter().map(|fit| fit.0).collect())
    }

    /// The segment with its handles taken through the map's derivative, then lengthened or shortened to come nearest
    /// to the images (Gauss-Newton on the residuals along the normals); if it is near enough.
    fn by_handles(&mut self, seg: &Seg, feet: &[Foot], tolerance: f64) -> Option<Seg> {
        let (from, to) = (feet[0], feet[feet.len() - 1]);
        let arm = |t: f64| {
            let (p, v) = (seg.at(t), seg.speed(t));
            let m = (self.map)(p.x, p.y);
            Vec2::new(m.dx[0] * v.x + m.dy[0] * v.y, m.dx[1] * v.x + m.dy[1] * v.y).hypot() / 3.0
        };
        let (mut a, mut b) = (arm(0.0), arm(1.0));
        let cubic = |a: f64, b: f64| CubicBez::new(from.p, from.p + from.d * a, to.p - to.d * b, to.p);
        let inner = &feet[1..feet.len() - 1];
        let mut u: Vec<f64> = inner.iter().map(|f| f.t).collect();
        for _ in 0..12 {
            let c = cubic(a, b);
            let d = c.deriv();
            let whole = Seg::Cubic(c);
            if inner.iter().zip(&u).all(|(f, u)| off(&whole, *u, f.p) <= tolerance) {
                // Between images too.
                let between = feet.windows(2).all(|w| {
                    let t = f64::midpoint(w[0].t, w[1].t);
                    self.foot(seg, from.seg, t).is_ok_and(|m| off(&whole, t, m.p) <= self.tolerance)
                });
                return between.then_some(whole);
            }
            let (mut aa, mut ab, mut bb, mut ar, mut br) = (0.0, 0.0, 0.0, 0.0, 0.0);
            for (f, u) in inner.iter().zip(&mut u) {
                let along = d.eval(*u).to_vec2().dot(f.d);
                if along > 1e-9 {
                    *u = (*u + (f.p - c.eval(*u)).dot(f.d) / along).clamp(0.0, 1.0);
                }
                let n = Vec2::new(-f.d.y, f.d.x);
                let (r, w) = ((f.p - c.eval(*u)).dot(n), 1.0 - *u);
                let (ja, jb) = (3.0 * *u * w * w * from.d.dot(n), -3.0 * *u * *u * w * to.d.dot(n));
                aa += ja * ja;
                ab += ja * jb;
                bb += jb * jb;
                ar += ja * r;
                br += jb * r;
            }
            let damp = 1e-9 + 1e-6 * (aa + bb);
            let det = (aa + damp) * (bb + damp) - ab * ab;
            let (da, db) = ((ar * (bb + damp) - br * ab) / det, (br * (aa + damp) - ar * ab) / det);
            if !(da.is_finite() && db.is_finite()) || a + da <= 0.0 || b + db <= 0.0 {
                return None;
            }
            (a, b) = (a + da, b + db);
        }
        None
    }

    /// Images along a segment, closer where they bend.
    fn feet(&mut self, seg: &Seg, at: usize) -> Result<Vec<Foot>, At> {
        let n = match seg {
            Seg::Line(..) => 6,
            Seg::Cubic(_) => seg.steps(self.tolerance).max(8),
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
            && (turn > TURN || length * turn > 16.0 * self.tolerance)
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

/// From a point to a segment, looked for downhill from a parameter.
fn off(seg: &Seg, u: f64, p: At) -> f64 {
    let mut u = u;
    for _ in 0..6 {
        let (v, r) = (seg.speed(u), seg.at(u) - p);
        let bend = (v.hypot2() + r.dot(seg.bend(u))).max(0.25 * v.hypot2());
        u = (u - r.dot(v) / bend.max(1e-12)).clamp(0.0, 1.0);
    }
    (seg.at(u) - p).hypot()
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
