//! Photographs straightened: from pixels to a plane of true size, by a projection and one radial term of the lens.
//!
//! Imports: base, read::picture.

use crate::base::colour::{encoded, lights};
use crate::base::linear::inverted;
use crate::read::picture::Picture;
use rayon::prelude::*;

/// A projection of a plane: eight numbers, the ninth is 1.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Projection(pub [f64; 8]);

impl Projection {
    /// Where a point goes.
    #[inline]
    pub fn apply(&self, [x, y]: [f64; 2]) -> [f64; 2] {
        let h = &self.0;
        let w = h[6] * x + h[7] * y + 1.0;
        [(h[0] * x + h[1] * y + h[2]) / w, (h[3] * x + h[4] * y + h[5]) / w]
    }
}

/// The projection that takes four points to four.
pub fn projection(from: &[[f64; 2]; 4], to: &[[f64; 2]; 4]) -> Option<Projection> {
    let mut m = [[0.0; 9]; 8];
    for (i, (p, q)) in from.iter().zip(to).enumerate() {
        m[2 * i] = [p[0], p[1], 1.0, 0.0, 0.0, 0.0, -q[0] * p[0], -q[0] * p[1], q[0]];
        m[2 * i + 1] = [0.0, 0.0, 0.0, p[0], p[1], 1.0, -q[1] * p[0], -q[1] * p[1], q[1]];
    }
    solved(m).map(Projection)
}

/// Solves N equations by elimination with pivots; `None` if they are not independent.
fn solved<const N: usize, const M: usize>(mut m: [[f64; M]; N]) -> Option<[f64; N]> {
    for k in 0..N {
        let best = (k..N).max_by(|&a, &b| m[a][k].abs().total_cmp(&m[b][k].abs()))?;
        m.swap(k, best);
        if m[k][k].abs() < f64::MIN_POSITIVE.sqrt() {
            return None;
        }
        for i in 0..N {
            if i != k {
                let f = m[i][k] / m[k][k];
                (k..M).for_each(|j| m[i][j] -= f * m[k][j]);
            }
        }
    }
    Some(std::array::from_fn(|i| m[i][M - 1] / m[i][i]))
}

/// Focal length of a camera whose data are not read, in half diagonals: 27 mm on a picture of 36 x 24 (phones; 15 %
/// off changes nothing, printed-film notes).
pub(super) const FOCAL: f64 = 27.0 / 21.63;
/// Steps of Gauss and Newton.
const ROUNDS: usize = 12;
/// Step of differences.
const STEP: f64 = 1e-6;
/// What a mark is read to at best, pixels.
const READ: f64 = 0.1;
/// One mark is called misread if the rest fits so many times better without it, and it strays by so many mm.
const BETTER: f64 = 2.5;
const MISREAD: f64 = 0.3;

/// How a camera saw a plane: places of it in mm, y downward, to pixels.
#[derive(Clone, Debug, PartialEq)]
pub struct View {
    /// Eight numbers of a projection, and the radial term.
    v: [f64; 9],
    /// Middle of the plane's marks, mm, and what is 1 there.
    middle: [f64; 2],
    unit: f64,
    /// Middle of the picture and half its diagonal, pixels.
    centre: [f64; 2],
    half: f64,
    /// Covariance of `v` over the square of the reading error.
    covariance: Vec<Vec<f64>>,
    /// Standard error of one reading, pixels, and root mean square of what is left.
    pub reading: f64,
    /// Root mean square of what is left, pixels.
    pub rms: f64,
    /// A mark left out, and how far off it was read, mm.
    pub misread: Option<(usize, f64)>,
    /// Standard error of the object that the scale is from, as a part of length.
    pub size_error: f64,
}

impl View {
    fn empty(size: [f64; 2], picture: [f64; 2]) -> View {
        View {
            v: [0.0; 9],
            middle: size.map(|s| s / 2.0),
            unit: size[0].max(size[1]) / 2.0,
            centre: picture.map(|s| s / 2.0),
            half: libm::hypot(picture[0], picture[1]) / 2.0,
            covariance: vec![vec![0.0; 9]; 9],
            reading: READ,
            rms: 0.0,
            misread: None,
            size_error: 0.0,
        }
    }
    fn at(v: &[f64; 9], [x, y]: [f64; 2]) -> [f64; 2] {
        let w = v[6] * x + v[7] * y + 1.0;
        let (a, b) = ((v[0] * x + v[1] * y + v[2]) / w, (v[3] * x + v[4] * y + v[5]) / w);
        let k = 1.0 + v[8] * (a * a + b * b);
        [a * k, b * k]
    }
    fn own(&self, p: [f64; 2]) -> [f64; 2] {
        [(p[0] - self.middle[0]) / self.unit, (p[1] - self.middle[1]) / self.unit]
    }
    /// Where a place of the plane is in the picture, pixels.
    #[inline]
    pub fn pixel(&self, p: [f64; 2]) -> [f64; 2] {
        let q = View::at(&self.v, self.own(p));
        [self.centre[0] + self.half * q[0], self.centre[1] + self.half * q[1]]
    }
    /// Does a place lie well before the camera, and not towards the horizon?
    pub fn ahead(&self, p: [f64; 2]) -> bool {
        let [x, y] = self.own(p);
        self.v[6] * x + self.v[7] * y > -0.6
    }
    /// The middle of what the view is from, mm.
    pub fn middle(&self) -> [f64; 2] {
        self.middle
    }
    /// Pixels for a millimetre each way about a place: columns are x and y.
    fn local(&self, p: [f64; 2]) -> [f64; 4] {
        let d = 0.1;
        let (a, b) = (self.pixel([p[0] + d, p[1]]), self.pixel([p[0] - d, p[1]]));
        let (e, f) = (self.pixel([p[0], p[1] + d]), self.pixel([p[0], p[1] - d]));
        [(a[0] - b[0]) / 2.0 / d, (e[0] - f[0]) / 2.0 / d, (a[1] - b[1]) / 2.0 / d, (e[1] - f[1]) / 2.0 / d]
    }
    /// Pixels a millimetre about a place, by area.
    pub fn per_mm(&self, p: [f64; 2]) -> f64 {
        let [a, b, c, d] = self.local(p);
        (a * d - b * c).abs().sqrt()
    }
    /// Standard error of a place, mm, of both coordinates together.
    pub fn error_at(&self, p: [f64; 2]) -> f64 {
        let j = slopes(&self.v, self.own(p));
        let mut c = [[0.0; 2]; 2];
        for (a, row) in c.iter_mut().enumerate() {
            for (b, v) in row.iter_mut().enumerate() {
                for (k, line) in self.covariance.iter().enumerate() {
                    *v += j[a][k] * (0..9).map(|l| line[l] * j[b][l]).sum::<f64>();
                }
            }
        }
        let scale = self.reading * self.reading;
        let [la, lb, lc, ld] = self.local(p);
        let det = la * ld - lb * lc;
        let inverse = [[ld / det, -lb / det], [-lc / det, la / det]];
        let mut sum = 0.0;
        for row in inverse {
            for a in 0..2 {
                for b in 0..2 {
                    sum += row[a] * c[a][b] * row[b] * scale;
                }
            }
        }
        let off = libm::hypot(p[0] - self.middle[0], p[1] - self.middle[1]) * self.size_error;
        (sum.max(0.0) + off * off).sqrt()
    }
    /// How far the camera was tilted from straight above, degrees, by the usual focal length.
    pub fn tilt(&self) -> f64 {
        let (_, _, r3) = self.pose();
        libm::acos(r3[2].abs().min(1.0)).to_degrees()
    }
    /// First and second direction of the plane as the camera sees them, times what a unit is, and the third of
    /// length one.
    fn pose(&self) -> ([f64; 3], [f64; 3], [f64; 3]) {
        let v = &self.v;
        let one = [v[0] / FOCAL, v[3] / FOCAL, v[6]];
        let two = [v[1] / FOCAL, v[4] / FOCAL, v[7]];
        let c = [
            one[1] * two[2] - one[2] * two[1],
            one[2] * two[0] - one[0] * two[2],
            one[0] * two[1] - one[1] * two[0],
        ];
        let l = (c[0] * c[0] + c[1] * c[1] + c[2] * c[2]).sqrt();
        (one, two, c.map(|k| k / l))
    }
    /// The view of a plane that lies so many mm further from the camera.
    #[must_use]
    pub fn deeper(mut self, by: f64) -> View {
        let (one, two, r3) = self.pose();
        let length = |a: [f64; 3]| (a[0] * a[0] + a[1] * a[1] + a[2] * a[2]).sqrt();
        // One unit of the plane is this long in the camera's own measure.
        let unit = (length(one) + length(two)) / 2.0;
        let away = if r3[2] < 0.0 { -1.0 } else { 1.0 };
        let d = by / self.unit * unit * away;
        let (x, y, w) = (self.v[2] + FOCAL * d * r3[0], self.v[5] + FOCAL * d * r3[1], 1.0 + d * r3[2]);
        self.v[2] = x;
        self.v[5] = y;
        (0..8).for_each(|k| self.v[k] /= w);
        self
    }
}

/// How a place moves with each of the nine numbers.
fn slopes(v: &[f64; 9], p: [f64; 2]) -> [[f64; 9]; 2] {
    let mut out = [[0.0; 9]; 2];
    for k in 0..9 {
        let (mut a, mut b) = (*v, *v);
        a[k] += STEP;
        b[k] -= STEP;
        let (a, b) = (View::at(&a, p), View::at(&b, p));
        (0..2).for_each(|i| out[i][k] = (a[i] - b[i]) / (2.0 * STEP));
    }
    out
}

/// A view from marks of a page: at mm, y downward, read at pixels; six or more. With seven or more the lens's
/// radial term is found, and one mark that does not fit is named.
pub fn view(size: [f64; 2], picture: [f64; 2], marks: &[(usize, [f64; 2], [f64; 2])]) -> Option<View> {
    let all = fitted(size, picture, marks)?;
    let mut best: Option<(usize, View)> = None;
    if marks.len() > 7 {
        for i in 0..marks.len() {
            let rest: Vec<_> = marks.iter().enumerate().filter(|(k, _)| *k != i).map(|(_, m)| *m).collect();
            if let Some(v) = fitted(size, picture, &rest)
                && best.as_ref().is_none_or(|b| v.rms < b.1.rms)
            {
                best = Some((i, v));
            }
        }
    }
    if let Some((i, mut v)) = best {
        let (p, q) = (v.pixel(marks[i].1), marks[i].2);
        let off = libm::hypot(p[0] - q[0], p[1] - q[1]) / v.per_mm(marks[i].1);
        if off > MISREAD && v.rms * BETTER < all.rms {
            v.misread = Some((marks[i].0, off));
            return Some(v);
        }
    }
    Some(all)
}

fn fitted(size: [f64; 2], picture: [f64; 2], marks: &[(usize, [f64; 2], [f64; 2])]) -> Option<View> {
    let mut view = View::empty(size, picture);
    let own = |q: [f64; 2]| [(q[0] - view.centre[0]) / view.half, (q[1] - view.centre[1]) / view.half];
    let pairs: Vec<([f64; 2], [f64; 2])> = marks.iter().map(|m| (view.own(m.1), own(m.2))).collect();
    // Four that are far apart begin it.
    let far = |x: f64, y: f64| {
        pairs.iter().max_by(|a, b| (a.0[0] * x + a.0[1] * y).total_cmp(&(b.0[0] * x + b.0[1] * y)))
    };
    let four = [far(-1.0, -1.0)?, far(1.0, -1.0)?, far(1.0, 1.0)?, far(-1.0, 1.0)?];
    let h = projection(&four.map(|p| p.0), &four.map(|p| p.1))?;
    view.v[..8].copy_from_slice(&h.0);
    let free = if pairs.len() >= 7 { 9 } else { 8 };
    for _ in 0..ROUNDS {
        let (mut n, mut r) = ([[0.0; 9]; 9], [0.0; 9]);
        for (p, q) in &pairs {
            let (j, at) = (slopes(&view.v, *p), View::at(&view.v, *p));
            for i in 0..2 {
                let off = q[i] - at[i];
                for a in 0..free {
                    r[a] += j[i][a] * off;
                    (0..free).for_each(|b| n[a][b] += j[i][a] * j[i][b]);
                }
            }
        }
        (free..9).for_each(|k| n[k][k] = 1.0);
        let (inverse, size) = inverted(n.iter().map(|row| row.to_vec()).collect());
        if !size.is_finite() {
            return None;
        }
        for (v, line) in view.v.iter_mut().zip(&inverse).take(free) {
            *v += (0..free).map(|b| line[b] * r[b]).sum::<f64>();
        }
        view.covariance = inverse;
        (free..9).for_each(|k| view.covariance[k] = vec![0.0; 9]);
    }
    let left = pairs.iter().fold(0.0, |sum, (p, q)| {
        let at = View::at(&view.v, *p);
        sum + (at[0] - q[0]) * (at[0] - q[0]) + (at[1] - q[1]) * (at[1] - q[1])
    });
    let spare = (2 * pairs.len()).saturating_sub(free).max(1) as f64;
    view.rms = (left / pairs.len() as f64).sqrt() * view.half;
    view.reading = ((left / spare).sqrt() * view.half).max(READ);
    Some(view)
}

/// A window of the plane (left, top, right, low, mm) as the camera saw it, straightened to so many pixels a millimetre:
/// width, height and three bytes a pixel, mixed in linear light.
pub fn straightened(
    picture: &Picture,
    place: impl Fn([f64; 2]) -> [f64; 2] + Sync,
    window: [f64; 4],
    per_mm: f64,
) -> Picture {
    let lights = lights();
    let count = |a: f64, b: f64| (((b - a) * per_mm).round() as usize).max(1);
    let (w, h) = (count(window[0], window[2]), count(window[1], window[3]));
    let (pw, ph) = (picture.width, picture.height);
    let mut rgb = vec![0u8; 3 * w * h];
    rgb.par_chunks_exact_mut(3 * w).enumerate().for_each(|(y, row)| {
        for (x, out) in row.chunks_exact_mut(3).enumerate() {
            let at = place([window[0] + (x as f64 + 0.5) / per_mm, window[1] + (y as f64 + 0.5) / per_mm]);
            let split = |v: f64, n: usize| {
                let v = (v - 0.5).clamp(0.0, (n - 1) as f64);
                (v as usize, (v as usize + 1).min(n - 1), (v - v.floor()) as f32)
            };
            let ((x0, x1, fx), (y0, y1, fy)) = (split(at[0], pw), split(at[1], ph));
            for (k, o) in out.iter_mut().enumerate() {
                let one = |x: usize, y: usize| lights[usize::from(picture.rgb[3 * (y * pw + x) + k])];
                let a = one(x0, y0) + (one(x1, y0) - one(x0, y0)) * fx;
                let b = one(x0, y1) + (one(x1, y1) - one(x0, y1)) * fx;
                *o = encoded(a + (b - a) * fy);
            }
        }
    });
    Picture { jpeg_quality: picture.jpeg_quality, ..Picture::opaque(w, h, rgb) }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::random::Random;
    use crate::base::units::Seed;
    use crate::make::sheet::marks::Marks;

    /// A camera of 4000 x 3000 pixels above an A4 page: turned, tilted, with a radial term.
    fn shot(p: [f64; 2], tilt: [f64; 2], turn: f64, k1: f64) -> [f64; 2] {
        let (x, y, z) = (p[0] - 105.0, p[1] - 148.5, 0.0);
        let roll = |a: f64, b: f64, t: f64| (a * t.cos() - b * t.sin(), a * t.sin() + b * t.cos());
        let (x, y) = roll(x, y, turn);
        let (y, z) = roll(y, z, tilt[0]);
        let (z, x) = roll(z, x, tilt[1]);
        let d = z + 480.0;
        let (u, v) = (3120.0 * x / d / 2500.0, 3120.0 * y / d / 2500.0);
        let k = 1.0 + k1 * (u * u + v * v);
        [2000.0 + 2500.0 * u * k, 1500.0 + 2500.0 * v * k]
    }

    fn marks(shot: impl Fn([f64; 2]) -> [f64; 2]) -> Vec<(usize, [f64; 2], [f64; 2])> {
        let places = Marks { page: [210.0, 297.0] }.places();
        places
            .iter()
            .enumerate()
            .map(|(i, p)| (i, [p[0], 297.0 - p[1]], shot([p[0], 297.0 - p[1]])))
            .collect()
    }

    /// Truth: a pinhole camera with one radial term (check case 8): k1 within 0.03, tilt to 35, marks read to 0.15
    /// pixels. The median of the worst places is held to the note's 0.05 mm, and what is told of a place to what is so.
    #[test]
    fn a_page_with_eight_discs_is_straightened() {
        let mut random = Random::new(Seed(8), "views", 0);
        let normal = |r: &mut Random| (0..12).map(|_| r.unit()).sum::<f64>() - 6.0;
        let (mut worst, mut told, mut seen) = (Vec::new(), 0.0, 0.0);
        for _ in 0..60 {
            let tilt = [random.between(-0.42, 0.42), random.between(-0.42, 0.42)];
            let (turn, k1) = (random.between(-3.1, 3.1), random.between(-0.03, 0.03));
            let mut read = marks(|p| shot(p, tilt, turn, k1));
            read.iter_mut().for_each(|m| {
                m.2 = [m.2[0] + 0.15 * normal(&mut random), m.2[1] + 0.15 * normal(&mut random)];
            });
            let v = view([210.0, 297.0], [4000.0, 3000.0], &read).expect("a view");
            let mut most: f64 = 0.0;
            for p in
                [[16.0, 16.0], [105.0, 148.5], [194.0, 281.0], [194.0, 16.0], [16.0, 281.0], [60.0, 200.0]]
            {
                let (a, b) = (v.pixel(p), shot(p, tilt, turn, k1));
                let off = libm::hypot(a[0] - b[0], a[1] - b[1]) / v.per_mm(p);
                most = most.max(off);
                let as_read = View { reading: 0.15, ..v.clone() };
                told += as_read.error_at(p).powi(2);
                seen += off * off;
            }
            worst.push(most);
        }
        worst.sort_by(f64::total_cmp);
        assert!(worst[30] < 0.05 && worst[57] < 0.09, "{} {}", worst[30], worst[57]);
        let ratio = (seen / told).sqrt();
        assert!((0.8..1.25).contains(&ratio), "told {told}, seen {seen}");
    }

    /// One mark moved by a millimetre is named (check case 8).
    #[test]
    fn a_misread_disc_is_named() {
        let mut random = Random::new(Seed(3), "misread", 0);
        let mut named = 0;
        for round in 0..40 {
            let tilt = [random.between(-0.3, 0.3), random.between(-0.3, 0.3)];
            let mut read = marks(|p| shot(p, tilt, 0.2, 0.01));
            let bad = round % 8;
            let turn = random.between(0.0, std::f64::consts::TAU);
            read[bad].2 = shot([read[bad].1[0] + turn.cos(), read[bad].1[1] + turn.sin()], tilt, 0.2, 0.01);
            read.iter_mut().for_each(|m| m.2[0] += random.between(-0.1, 0.1));
            let v = view([210.0, 297.0], [4000.0, 3000.0], &read).expect("a view");
            named += usize::from(v.misread.map(|m| m.0) == Some(bad));
        }
        assert!(named >= 38, "{named} of 40");
    }

    /// Truth: the same camera. A plane 0.76 mm deeper is found from the view of the upper one; a focal length off by
    /// a tenth changes little.
    #[test]
    fn a_card_is_as_thick_as_it_is() {
        let tilt = [0.25, -0.2];
        let at = |p: [f64; 2], z: f64, focal: f64| {
            let roll = |a: f64, b: f64, t: f64| (a * t.cos() - b * t.sin(), a * t.sin() + b * t.cos());
            let (x, y) = (p[0] - 105.0, p[1] - 148.5);
            let (y, z) = roll(y, z, tilt[0]);
            let (z, x) = roll(z, x, tilt[1]);
            let d = z + 480.0;
            [2000.0 + 2500.0 * focal * x / d, 1500.0 + 2500.0 * focal * y / d]
        };
        for (focal, most) in [(FOCAL, 1e-3), (0.9 * FOCAL, 0.05)] {
            let read: Vec<_> = marks(|p| at(p, 0.0, focal)).into_iter().take(6).collect();
            let top = view([210.0, 297.0], [4000.0, 3000.0], &read).expect("a view");
            let low = top.clone().deeper(0.76);
            for p in [[40.0, 60.0], [150.0, 250.0], [40.0, 250.0]] {
                let want = at(p, 0.76, focal);
                let off =
                    |v: &View| libm::hypot(v.pixel(p)[0] - want[0], v.pixel(p)[1] - want[1]) / v.per_mm(p);
                assert!(off(&low) < most && off(&top) > 0.05, "{} for {}", off(&low), off(&top));
            }
        }
    }
}
