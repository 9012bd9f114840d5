//! [`Marks`]: discs on a page that scans, photos and rules are read by, and [`Fit`]: what a printer, or a camera's
//! scale, made of them, with how sure every place is.
//!
//! Affine by least squares in closed form: A = (sum Q P') S^-1 about the means, and the standard error of a point p
//! sigma sqrt(1/n + (p - c)' S^-1 (p - c)) (common least squares; Draper and Smith, Applied Regression Analysis).
//!
//! Imports: base.

use crate::base::linear::inverted;
use crate::base::units::Mm;

/// Across a disc, and across the small one that tells turn and mirroring.
pub const DISC: f64 = 5.0;
/// Across the small disc.
pub const SMALL: f64 = 2.4;
/// From the first disc to the small one, along the upper side.
pub const BESIDE: f64 = 7.5;
/// From the edges of the paper to the middles of the discs: printers leave 3 to 5 mm white (common practice, no
/// source).
pub const INSET: f64 = 10.0;
/// White kept round each.
pub const CLEAR: f64 = 3.0;
/// What a maker reads a rule to, mm (1 standard deviation; common practice, no source).
pub const RULE: f64 = 0.1;
/// What a mark is read to in a scan, mm, at best: paper and carriage, not the reading, are the limit.
pub const SCAN: f64 = 0.01;
/// Scales further off than this are no printer's error: the page was fitted to the paper.
const FITTED: f64 = 0.02;
/// Residuals beyond this, mm, are no print of this page.
const STRAYS: f64 = 0.3;
/// One mark is called misread if the rest fits so many times better without it, and it strays by this, mm, at least.
const BETTER: f64 = 2.5;
const MISREAD: f64 = 0.3;

/// The eight discs of a page, from its upper left corner clockwise: corners and middles of sides. y upward.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Marks {
    /// Width and height of the page, mm.
    pub page: [f64; 2],
}

impl Marks {
    /// Their middles.
    pub fn places(&self) -> [[f64; 2]; 8] {
        let ([w, h], i) = (self.page, INSET);
        [
            [i, h - i],
            [w / 2.0, h - i],
            [w - i, h - i],
            [w - i, h / 2.0],
            [w - i, i],
            [w / 2.0, i],
            [i, i],
            [i, h / 2.0],
        ]
    }
    /// The middle of the small disc.
    pub fn small(&self) -> [f64; 2] {
        let first = self.places()[0];
        [first[0] + BESIDE, first[1]]
    }
    /// What lies within them, clear of all: left, low, right, high.
    pub fn window(&self) -> [f64; 4] {
        let k = INSET + DISC / 2.0 + CLEAR;
        [k, k, self.page[0] - k, self.page[1] - k]
    }
}

/// Where a sheet goes as it is printed, and the middles of its discs there with how wide each is.
pub type AsPrinted = (Affine, Vec<([f64; 2], f64)>);

/// x' = a x + b y + e, y' = c x + d y + f.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Affine {
    /// a, b, c, d.
    pub m: [f64; 4],
    /// e, f.
    pub t: [f64; 2],
}

impl Affine {
    /// What changes nothing.
    pub const SAME: Affine = Affine { m: [1.0, 0.0, 0.0, 1.0], t: [0.0, 0.0] };
    /// This one, then another.
    pub fn then(&self, next: &Affine) -> Affine {
        let ([a, b, c, d], [e, f, g, h]) = (self.m, next.m);
        Affine { m: [e * a + f * c, e * b + f * d, g * a + h * c, g * b + h * d], t: next.apply(self.t) }
    }
    /// The way back.
    pub fn inverse(&self) -> Affine {
        let [a, b, c, d] = self.m;
        let det = a * d - b * c;
        let m = [d / det, -b / det, -c / det, a / det];
        let t = [-(m[0] * self.t[0] + m[1] * self.t[1]), -(m[2] * self.t[0] + m[3] * self.t[1])];
        Affine { m, t }
    }
    /// Where a point goes.
    pub fn apply(&self, [x, y]: [f64; 2]) -> [f64; 2] {
        let [a, b, c, d] = self.m;
        [a * x + b * y + self.t[0], c * x + d * y + self.t[1]]
    }
}

/// What was read, and what it means.
#[derive(Clone, Debug, PartialEq)]
pub struct Fit {
    /// From the page as drawn to the page as printed, the turn of the reading taken out: about the middle of the
    /// marks, x along x.
    pub map: Affine,
    /// Length as printed over length as drawn, across and up.
    pub scales: [f64; 2],
    /// How much a height leans: mm aside for each mm up.
    pub shear: f64,
    /// How far the sheet lay turned in the scan, degrees.
    pub turn: f64,
    /// Root mean square of what is left, mm.
    pub rms: f64,
    /// Standard error of one reading, mm.
    pub reading: f64,
    /// A mark that was left out because it alone does not fit: its place in [`Marks::places`], and how far off it
    /// was read, mm.
    pub misread: Option<(usize, f64)>,
    /// What it was made of: for who measures again.
    pub evidence: Evidence,
    /// Covariance of what the map says at a point over the square of the reading error: by 1, x and y about the
    /// middle.
    spread: Spread,
}

/// What was read.
#[derive(Clone, Debug, PartialEq)]
pub enum Evidence {
    /// Where marks were drawn and read, those that count, and the map that still holds the scan's turn and place.
    Marks(Vec<([f64; 2], [f64; 2])>, Affine),
    /// Pairs of places as drawn and how far apart they were read.
    Lengths(Vec<([f64; 2], [f64; 2], f64)>),
}

#[derive(Clone, Debug, PartialEq)]
enum Spread {
    /// Number of points, their mean, and the inverse of their scatter.
    Points { n: f64, mean: [f64; 2], inverse: [f64; 3] },
    /// Of scale across, lean and scale up, from lengths; the middle.
    Lengths { mean: [f64; 2], covariance: Vec<Vec<f64>> },
}

/// Why readings are refused.
#[derive(Clone, Debug, PartialEq)]
pub enum Refused {
    /// The scales are off by more than a printer set to 100 % makes them.
    Fitted([f64; 2]),
    /// What is left does not fit: root mean square, mm.
    Strays(f64),
    /// The page is seen from its back.
    FaceDown,
    /// Too few marks were found.
    Few(usize),
}

impl Fit {
    /// Standard error of a place on the page, mm: of both coordinates together.
    pub fn error_at(&self, p: [f64; 2]) -> Mm {
        let v = match &self.spread {
            Spread::Points { n, mean, inverse: [xx, xy, yy] } => {
                let (x, y) = (p[0] - mean[0], p[1] - mean[1]);
                2.0 * (1.0 / n + xx * x * x + 2.0 * xy * x * y + yy * y * y)
            }
            Spread::Lengths { mean, covariance: c } => {
                // x' = sx x + h y, y' = sy y about the middle.
                let (x, y) = (p[0] - mean[0], p[1] - mean[1]);
                c[0][0] * x * x + 2.0 * c[0][1] * x * y + c[1][1] * y * y + c[2][2] * y * y
            }
        };
        Mm(self.reading * v.max(0.0).sqrt())
    }

    /// The same of a page of a width that is turned over.
    #[must_use]
    pub fn mirrored(mut self, width: f64) -> Fit {
        let over = Affine { m: [-1.0, 0.0, 0.0, 1.0], t: [width, 0.0] };
        self.map = over.then(&self.map).then(&over);
        self.shear = -self.shear;
        if let Evidence::Lengths(all) = &mut self.evidence {
            all.iter_mut().for_each(|l| (l.0, l.1) = (over.apply(l.0), over.apply(l.1)));
        }
        self
    }

    fn held(self) -> Result<Fit, Refused> {
        if self.scales.iter().any(|s| (s - 1.0).abs() > FITTED) {
            return Err(Refused::Fitted(self.scales));
        }
        if self.rms > STRAYS { Err(Refused::Strays(self.rms)) } else { Ok(self) }
    }
}

/// The affine map by least squares, and the inverse of the scatter of where from.
pub fn affine(from: &[[f64; 2]], to: &[[f64; 2]]) -> (Affine, [f64; 2], [f64; 3]) {
    let n = from.len() as f64;
    let mean = |l: &[[f64; 2]]| [0, 1].map(|k| l.iter().map(|p| p[k]).sum::<f64>() / n);
    let (c, d) = (mean(from), mean(to));
    let mut s = [0.0; 3];
    let mut m = [0.0; 4];
    for (p, q) in from.iter().zip(to) {
        let (p, q) = ([p[0] - c[0], p[1] - c[1]], [q[0] - d[0], q[1] - d[1]]);
        s = [s[0] + p[0] * p[0], s[1] + p[0] * p[1], s[2] + p[1] * p[1]];
        m = [m[0] + q[0] * p[0], m[1] + q[0] * p[1], m[2] + q[1] * p[0], m[3] + q[1] * p[1]];
    }
    let det = s[0] * s[2] - s[1] * s[1];
    let inverse = [s[2] / det, -s[1] / det, s[0] / det];
    let row = |u: f64, v: f64| [u * inverse[0] + v * inverse[1], u * inverse[1] + v * inverse[2]];
    let (a, b) = (row(m[0], m[1]), row(m[2], m[3]));
    let m = [a[0], a[1], b[0], b[1]];
    let t = [d[0] - m[0] * c[0] - m[1] * c[1], d[1] - m[2] * c[0] - m[3] * c[1]];
    (Affine { m, t }, c, inverse)
}

fn squares(map: &Affine, from: &[[f64; 2]], to: &[[f64; 2]]) -> f64 {
    from.iter().zip(to).fold(0.0, |sum, (p, q)| {
        let r = map.apply(*p);
        sum + (r[0] - q[0]) * (r[0] - q[0]) + (r[1] - q[1]) * (r[1] - q[1])
    })
}

/// From marks read in a scan, mm, y upward: at least six, `None` where one was not found. If one does not fit, it is
/// left out and named.
///
/// # Errors
/// [`Refused`].
pub fn of_scan(drawn: &[[f64; 2]; 8], read: &[Option<[f64; 2]>; 8]) -> Result<Fit, Refused> {
    let there: Vec<usize> = (0..8).filter(|&i| read[i].is_some()).collect();
    if there.len() < 6 {
        return Err(Refused::Few(there.len()));
    }
    let fit = |of: &[usize]| {
        let from: Vec<[f64; 2]> = of.iter().map(|&i| drawn[i]).collect();
        let to: Vec<[f64; 2]> = of.iter().filter_map(|&i| read[i]).collect();
        let (map, mean, inverse) = affine(&from, &to);
        let left = squares(&map, &from, &to);
        (map, mean, inverse, left)
    };
    let mut of = there.clone();
    let mut misread = None;
    let all = fit(&there);
    let without = |out: usize| -> Vec<usize> { there.iter().copied().filter(|&i| i != out).collect() };
    let best = there.iter().map(|&i| (i, fit(&without(i)))).min_by(|a, b| a.1.3.total_cmp(&b.1.3));
    if let Some((out, rest)) = best
        && let Some(q) = read[out]
    {
        let p = rest.0.apply(drawn[out]);
        let off = libm::hypot(p[0] - q[0], p[1] - q[1]);
        if off > MISREAD && rest.3 * BETTER * BETTER < all.3 {
            misread = Some((out, off));
            of = without(out);
        }
    }
    let (map, mean, inverse, left) = fit(&of);
    let n = of.len() as f64;
    let reading = (left / (2.0 * n - 6.0)).sqrt().max(SCAN);
    if map.m[0] * map.m[3] - map.m[1] * map.m[2] < 0.0 {
        return Err(Refused::FaceDown);
    }
    // A = R(turn) [[sx, h], [0, sy]].
    let [a, b, c, d] = map.m;
    let sx = libm::hypot(a, c);
    let (cos, sin) = (a / sx, c / sx);
    let (h, sy) = (cos * b + sin * d, cos * d - sin * b);
    let turn = libm::atan2(sin, cos).to_degrees();
    let spread = Spread::Points { n, mean, inverse };
    let rms = (left / n).sqrt();
    let evidence = Evidence::Marks(of.iter().filter_map(|&i| Some((drawn[i], read[i]?))).collect(), map);
    let map = about(drawn, sx, h, sy);
    Fit { map, scales: [sx, sy], shear: h, turn, rms, reading, misread, evidence, spread }.held()
}

/// About the middle of the marks.
fn about(drawn: &[[f64; 2]; 8], sx: f64, h: f64, sy: f64) -> Affine {
    let c = middle(drawn);
    Affine { m: [sx, h, 0.0, sy], t: [c[0] - sx * c[0] - h * c[1], c[1] - sy * c[1]] }
}

fn middle(drawn: &[[f64; 2]; 8]) -> [f64; 2] {
    [(drawn[0][0] + drawn[4][0]) / 2.0, (drawn[0][1] + drawn[4][1]) / 2.0]
}

/// From four sides (top, right, bottom, left) and two diagonals between the corner marks, by Gauss and Newton on
/// [[sx, h], [0, sy]].
///
/// # Errors
/// [`Refused`].
pub fn of_rule(drawn: &[[f64; 2]; 8], sides: [f64; 4], diagonals: [f64; 2]) -> Result<Fit, Refused> {
    let corner = [drawn[0], drawn[2], drawn[4], drawn[6]];
    let pairs = [(0, 1), (1, 2), (3, 2), (0, 3), (0, 2), (1, 3)];
    let read = [sides[0], sides[1], sides[2], sides[3], diagonals[0], diagonals[1]];
    let way = pairs.map(|(i, j)| [corner[j][0] - corner[i][0], corner[j][1] - corner[i][1]]);
    let mut v = [1.0, 0.0, 1.0];
    let mut inverse = Vec::new();
    let mut left = 0.0;
    for _ in 0..8 {
        let (mut n, mut r) = ([[0.0; 3]; 3], [0.0; 3]);
        left = 0.0;
        for (w, l) in way.iter().zip(read) {
            let (x, y) = (v[0] * w[0] + v[1] * w[1], v[2] * w[1]);
            let long = libm::hypot(x, y);
            let j = [x * w[0] / long, x * w[1] / long, y * w[1] / long];
            let off = l - long;
            left += off * off;
            for a in 0..3 {
                r[a] += j[a] * off;
                (0..3).for_each(|b| n[a][b] += j[a] * j[b]);
            }
        }
        (inverse, _) = inverted(n.iter().map(|row| row.to_vec()).collect());
        for a in 0..3 {
            v[a] += (0..3).map(|b| inverse[a][b] * r[b]).sum::<f64>();
        }
    }
    let [sx, h, sy] = v;
    let reading = (left / 3.0).sqrt().max(RULE);
    let spread = Spread::Lengths { mean: middle(drawn), covariance: inverse };
    let rms = (left / 6.0).sqrt();
    let map = about(drawn, sx, h, sy);
    let lengths = pairs.iter().zip(read).map(|(&(i, j), l)| (corner[i], corner[j], l)).collect();
    let evidence = Evidence::Lengths(lengths);
    Fit { map, scales: [sx, sy], shear: h, turn: 0.0, rms, reading, misread: None, evidence, spread }.held()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::random::Random;
    use crate::base::units::Seed;

    const A4: Marks = Marks { page: [210.0, 297.0] };

    fn turned(p: [f64; 2], deg: f64, u: [f64; 3]) -> [f64; 2] {
        let (s, c) = (deg.to_radians().sin(), deg.to_radians().cos());
        let (x, y) = (u[0] * p[0] + u[1] * p[1], u[2] * p[1]);
        [c * x - s * y + 31.0, s * x + c * y - 12.0]
    }

    /// Truth: the map that made the data (check case 9): within 1e-9.
    #[test]
    fn exact_marks_give_the_map_back() {
        let drawn = A4.places();
        let read = drawn.map(|p| Some(turned(p, 91.7, [1.003, 0.001, 0.997])));
        let fit = of_scan(&drawn, &read).expect("a fit");
        assert!((fit.scales[0] - 1.003).abs() < 1e-9 && (fit.scales[1] - 0.997).abs() < 1e-9);
        assert!((fit.shear - 0.001).abs() < 1e-9 && (fit.turn - 91.7).abs() < 1e-9 && fit.misread.is_none());
    }

    /// Truth: lengths worked out from the map; sheared by 0.2 % (check case 9).
    #[test]
    fn lengths_read_with_a_rule_give_scales_and_shear() {
        let drawn = A4.places();
        let at = |i: usize| turned(drawn[i], 0.0, [1.004, 0.002, 0.996]);
        let off = |i: usize, j: usize| libm::hypot(at(i)[0] - at(j)[0], at(i)[1] - at(j)[1]);
        let sides = [off(0, 2), off(2, 4), off(4, 6), off(6, 0)];
        let fit = of_rule(&drawn, sides, [off(0, 4), off(2, 6)]).expect("a fit");
        assert!((fit.scales[0] - 1.004).abs() < 1e-9 && (fit.scales[1] - 0.996).abs() < 1e-9);
        assert!((fit.shear - 0.002).abs() < 1e-9, "{fit:?}");
    }

    /// Truth: the spread of many readings with noise, against the closed form (check case 9): within 5 %, with 4,000
    /// draws.
    #[test]
    fn standard_errors_are_those_of_many_draws() {
        let (drawn, noise) = (A4.places(), 0.1);
        let mut random = Random::new(Seed(9), "marks", 0);
        let normal = |r: &mut Random| (0..12).map(|_| r.unit()).sum::<f64>() - 6.0;
        let p = [188.0, 270.0];
        let (n, mut sum) = (4000, 0.0);
        let mut told = 0.0;
        for _ in 0..n {
            let read =
                drawn.map(|q| [q[0] + noise * normal(&mut random), q[1] + noise * normal(&mut random)]);
            let (map, mean, inverse) = affine(&drawn, &read);
            let q = map.apply(p);
            sum += (q[0] - p[0]).powi(2) + (q[1] - p[1]).powi(2);
            let spread = Spread::Points { n: 8.0, mean, inverse };
            let of = Fit {
                map,
                scales: [1.0; 2],
                shear: 0.0,
                turn: 0.0,
                rms: 0.0,
                reading: noise,
                misread: None,
                evidence: Evidence::Lengths(Vec::new()),
                spread,
            };
            told = of.error_at(p).0;
        }
        let seen = (sum / f64::from(n)).sqrt();
        assert!((seen / told - 1.0).abs() < 0.05, "{seen} for {told}");
        // The same of lengths.
        let mut sum = 0.0;
        let off = |i: usize, j: usize| libm::hypot(drawn[i][0] - drawn[j][0], drawn[i][1] - drawn[j][1]);
        let mut told = 0.0;
        for _ in 0..n {
            let mut l = |i, j| off(i, j) + noise * normal(&mut random);
            let sides = [l(0, 2), l(2, 4), l(4, 6), l(6, 0)];
            let fit = of_rule(&drawn, sides, [l(0, 4), l(2, 6)]).expect("a fit");
            let q = fit.map.apply(p);
            sum += (q[0] - p[0]).powi(2) + (q[1] - p[1]).powi(2);
            told = Fit { reading: noise, ..fit }.error_at(p).0;
        }
        let seen = (sum / f64::from(n)).sqrt();
        assert!((seen / told - 1.0).abs() < 0.05, "{seen} for {told}");
    }

    /// A mark misread by a millimetre is named (of the note: eight marks, 100 %); a page at 97 % was fitted to the
    /// paper; one seen from its back is told; fewer than six marks are too few.
    #[test]
    fn what_cannot_be_is_named() {
        let drawn = A4.places();
        let mut random = Random::new(Seed(4), "misread", 0);
        for _ in 0..200 {
            let mut read =
                drawn.map(|q| Some([q[0] + random.between(-0.1, 0.1), q[1] + random.between(-0.1, 0.1)]));
            let (bad, turn) = (random.below(8), random.between(0.0, std::f64::consts::TAU));
            read[bad] = read[bad].map(|q| [q[0] + turn.cos(), q[1] + turn.sin()]);
            let fit = of_scan(&drawn, &read).expect("a fit");
            assert_eq!(fit.misread.map(|m| m.0), Some(bad));
        }
        let small = drawn.map(|q| Some([q[0] * 0.97, q[1] * 0.97]));
        assert!(matches!(of_scan(&drawn, &small), Err(Refused::Fitted(_))));
        let back = drawn.map(|q| Some([-q[0], q[1]]));
        assert_eq!(of_scan(&drawn, &back), Err(Refused::FaceDown));
        let mut few = drawn.map(Some);
        few[..3].fill(None);
        assert_eq!(of_scan(&drawn, &few), Err(Refused::Few(5)));
    }
}
