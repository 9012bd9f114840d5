//! [`GirthCurve`]: a smooth curve through the readings of a wall that is no cone, and the fewest cones near it.
//!
//! One estimator for both models: girth(s) = f(s)'beta + w(s) + error, f the powers of s. Either f = (1, s, s^2)
//! and w = 0, a parabola; or f = (1, s) and w an integrated Wiener process of strength lam, whose covariance is
//! k(s, t) = lam m^2 (M/2 - m/6), m and M the lesser and the greater of s and t: the smoothing spline of known
//! noise (Kimeldorf and Wahba, Annals of Mathematical Statistics 41 (1970) 495; from memory). With S the
//! covariance of the readings, A its inverse and F their rows f', beta = (F'AF)^-1 F'A y, the curve is f'beta +
//! k'A (y - F beta), and two of its values have k(s, t) - k_s'A k_t + (f_s - F'A k_s)'(F'AF)^-1 (f_t - F'A k_t)
//! of error in common (universal kriging, any textbook of geostatistics). lam is the one of sixteen that makes
//! the readings likeliest, with beta integrated out. The parabola is taken if its chi-square is passed by more
//! than one in ten.
//!
//! Imports: base, read::job::{model, chain, line, chance, borders}.

use super::borders::{self, MOST_CONES, MOST_OFF};
use super::chain::{Girths, Stretch};
use super::chance::{LEVEL, chi_square_point};
use super::line::GirthLine;
use super::model::{Outline, Ring, Whole};
use crate::base::linear::inverted;
use crate::base::units::Mm;

/// The parabola is taken unless its chi-square lies beyond the point that so many pass.
const PARABOLA_LEVEL: f64 = 0.1;
/// Strengths tried, weakest first: by how much w strays over the whole wall, as a standard uncertainty.
const STRENGTHS: usize = 16;
/// The weakest of them, mm.
const WEAKEST: f64 = 0.05;
/// Each is stronger than the one before by this factor: the strongest strays by 100 mm.
const STRONGER: f64 = 1.66;
/// Places looked at of a stretch.
const LOOKED_AT: usize = 64;
/// Halvings of the search for equal stretches.
const HALVINGS: usize = 40;
/// Standard uncertainties that a bound on the curvature is wide.
const COVERAGE: f64 = 2.0;

/// A smooth curve through girths.
#[derive(Clone, Debug, PartialEq)]
pub struct GirthCurve {
    wall: f64,
    /// Powers of the height that the trend has, its first left out: 1 or 2.
    degree: usize,
    lam: f64,
    /// Rings, then the points of the outlines.
    heights: Vec<f64>,
    /// Columns of F: the trend's, and two for each outline.
    columns: usize,
    /// F, row by row.
    rows: Vec<Vec<f64>>,
    variances: Vec<f64>,
    beta: Vec<f64>,
    /// A (y - F beta).
    weights: Vec<f64>,
    /// A, row by row.
    precision: Vec<Vec<f64>>,
    /// (F'AF)^-1.
    spread: Vec<Vec<f64>>,
    chi_square: f64,
    likelihood: f64,
}

/// One reading of the wall: of a ring, or of a point of an outline.
#[derive(Clone, Copy)]
struct Reading {
    height: f64,
    girth: f64,
    variance: f64,
    outline: Option<usize>,
}

/// A part of a curved wall with the cone that stands for it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Part {
    /// The cone.
    pub stretch: Stretch,
    /// Least and greatest part by which the wall's girth is off the cone's: girth / cone's girth - 1.
    pub off: (f64, f64),
    /// Bound on the size of the wall's Gaussian curvature there, 1/mm^2, with its sign: a bulge is positive.
    pub curvature: f64,
}

impl GirthCurve {
    /// Through rings and outlines that lie on no cone, by chi-square at 1 percent; none, if one cone describes
    /// them.
    pub fn found(rings: &[Ring], outlines: &[Outline], wall: Mm, tape: Mm, marks: Mm) -> Option<GirthCurve> {
        let (chi_square, degrees) = GirthCurve::off_a_cone(rings, outlines, wall, tape, marks);
        let more = degrees > 0 && chi_square > chi_square_point(LEVEL, degrees);
        more.then(|| GirthCurve::through(rings, outlines, wall, tape, marks))
    }
    /// Chi-square of the nearest cone, and its degrees of freedom.
    pub fn off_a_cone(rings: &[Ring], outlines: &[Outline], wall: Mm, tape: Mm, marks: Mm) -> (f64, usize) {
        let line = GirthLine::through(rings, tape, marks);
        if outlines.is_empty() {
            let off = |(r, v): (&Ring, &f64)| {
                let e = (r.girth - line.at(r.slant)).0;
                e * e / v
            };
            return (rings.iter().zip(line.variances()).map(off).sum(), rings.len() - 2);
        }
        let of_rings: Vec<f64> = line.variances().to_vec();
        let readings = readings(rings, &of_rings, outlines);
        let degrees = readings.len() - 2 - 2 * outlines.len();
        (GirthCurve::of(&readings, wall, 1, 0.0).chi_square, degrees)
    }
    /// Through rings at three different heights or more, or at two and an outline of five points or more.
    pub fn through(rings: &[Ring], outlines: &[Outline], wall: Mm, tape: Mm, marks: Mm) -> GirthCurve {
        let line = GirthLine::through(rings, tape, marks);
        let plain = |r: &Ring| tape.0 * tape.0 / f64::from(r.reads);
        let even: Vec<f64> = rings.iter().map(plain).collect();
        // Where the wall leans more, an error of the mark costs more: the first fit tells where.
        let first = GirthCurve::of(&readings(rings, &even, outlines), wall, 2, 0.0);
        let of_mark = |r: &Ring| {
            let known = rings.len() > 3 || !outlines.is_empty();
            let lean = if known { first.slope(r.slant) } else { line.slope() };
            lean * marks.0
        };
        let variances: Vec<f64> = rings.iter().map(|r| plain(r) + of_mark(r) * of_mark(r)).collect();
        let readings = readings(rings, &variances, outlines);
        let parabola = GirthCurve::of(&readings, wall, 2, 0.0);
        let degrees = readings.len() - 3 - 2 * outlines.len();
        if degrees == 0 || parabola.chi_square <= chi_square_point(PARABOLA_LEVEL, degrees) {
            return parabola;
        }
        GirthCurve::likeliest(&readings, wall, 1, 0.0).unwrap_or(parabola)
    }
    /// The spline about a line or a parabola, of the strength that makes the readings likeliest, straying by `least` mm
    /// or more over the wall.
    fn likeliest(readings: &[Reading], wall: Mm, degree: usize, least: f64) -> Option<GirthCurve> {
        let strays = (0..STRENGTHS).map(|i| WEAKEST * libm::pow(STRONGER, i as f64));
        // The variance of w over a wall of length l is lam l^3 / 3.
        let lam = |s: f64| 3.0 * s * s / (wall.0 * wall.0 * wall.0);
        let all = strays.filter(|s| *s >= least).map(|s| GirthCurve::of(readings, wall, degree, lam(s)));
        all.reduce(|a, b| if b.likelihood > a.likelihood { b } else { a })
    }
    /// The spline about a parabola by which readings foretell another: it strays by `least` or more, whatever these alone
    /// ask for.
    pub fn foretelling(
        rings: &[Ring],
        variances: &[f64],
        outlines: &[Outline],
        wall: Mm,
        least: Mm,
    ) -> Option<GirthCurve> {
        GirthCurve::likeliest(&readings(rings, variances, outlines), wall, 2, least.0)
    }
    fn of(readings: &[Reading], wall: Mm, degree: usize, lam: f64) -> GirthCurve {
        let n = readings.len();
        let outlines = readings.iter().filter_map(|r| r.outline).max().map_or(0, |last| last + 1);
        let mut curve = GirthCurve {
            wall: wall.0,
            degree,
            lam,
            heights: readings.iter().map(|r| r.height).collect(),
            columns: degree + 1 + 2 * outlines,
            rows: Vec::new(),
            variances: readings.iter().map(|r| r.variance).collect(),
            beta: Vec::new(),
            weights: Vec::new(),
            precision: Vec::new(),
            spread: Vec::new(),
            chi_square: 0.0,
            likelihood: 0.0,
        };
        let own = |i: usize, j: usize| if i == j { readings[i].variance } else { 0.0 };
        let row =
            |i: usize| (0..n).map(|j| curve.wiener(curve.heights[i], curve.heights[j]) + own(i, j)).collect();
        let (precision, size) = inverted((0..n).map(row).collect());
        let rows: Vec<Vec<f64>> = readings.iter().map(|r| curve.row(r)).collect();
        let p = curve.columns;
        let weighted = |i: usize, j: usize| (0..n).map(|k| precision[i][k] * rows[k][j]).sum::<f64>();
        let of_rows: Vec<Vec<f64>> = (0..n).map(|i| (0..p).map(|j| weighted(i, j)).collect()).collect();
        let normal = |a: usize, b: usize| (0..n).map(|i| rows[i][a] * of_rows[i][b]).sum::<f64>();
        let (spread, of_normal) = inverted((0..p).map(|a| (0..p).map(|b| normal(a, b)).collect()).collect());
        let right: Vec<f64> =
            (0..p).map(|a| (0..n).map(|i| of_rows[i][a] * readings[i].girth).sum()).collect();
        curve.beta = spread.iter().map(|r| dot(r, &right)).collect();
        let left: Vec<f64> = (0..n).map(|i| readings[i].girth - dot(&rows[i], &curve.beta)).collect();
        curve.weights = precision.iter().map(|r| dot(r, &left)).collect();
        let far = dot(&left, &curve.weights);
        (curve.precision, curve.spread) = (precision, spread);
        curve.likelihood = -0.5 * (size + of_normal + far);
        let off = |i: usize| {
            let e = readings[i].girth - dot(&rows[i], &curve.beta) - curve.near(readings[i].height);
            e * e / readings[i].variance
        };
        curve.chi_square = (0..n).map(off).sum();
        curve.rows = rows;
        curve
    }
    /// The row of the curve itself at a height.
    fn trend(&self, s: f64) -> Vec<f64> {
        let mut row = self.powers(s)[..=self.degree].to_vec();
        row.resize(self.columns, 0.0);
        row
    }
    /// A reading's row of F: the curve's, and for an outline its own two columns.
    fn row(&self, reading: &Reading) -> Vec<f64> {
        let mut row = self.trend(reading.height);
        if let Some(outline) = reading.outline {
            let own = self.degree + 1 + 2 * outline;
            (row[own], row[own + 1]) = (1.0, reading.height / self.wall);
        }
        row
    }
    /// Powers of the height, in parts of the wall.
    fn powers(&self, s: f64) -> [f64; 3] {
        let t = s / self.wall;
        [1.0, t, if self.degree == 2 { t * t } else { 0.0 }]
    }
    fn wiener(&self, s: f64, t: f64) -> f64 {
        // Readings a little below the base edge do not occur; a height of 0 has w = 0.
        let (m, more) = (s.min(t).max(0.0), s.max(t));
        self.lam * m * m * (more / 2.0 - m / 6.0)
    }
    fn girth(&self, s: f64) -> f64 {
        dot(&self.powers(s)[..=self.degree], &self.beta) + self.near(s)
    }
    /// What the Wiener process adds at a height.
    fn near(&self, s: f64) -> f64 {
        self.heights.iter().zip(&self.weights).map(|(h, w)| self.wiener(s, *h) * w).sum()
    }
    /// What is left of f_s after F'A k_s, and A k_s.
    fn parts(&self, s: f64) -> (Vec<f64>, Vec<f64>) {
        let k: Vec<f64> = self.heights.iter().map(|h| self.wiener(s, *h)).collect();
        let ak: Vec<f64> = self.precision.iter().map(|r| dot(r, &k)).collect();
        let mut f = self.trend(s);
        for (row, a) in self.rows.iter().zip(&ak) {
            f.iter_mut().zip(row).for_each(|(v, p)| *v -= p * a);
        }
        (f, ak)
    }
    /// Girth gained a millimetre up.
    pub fn slope(&self, slant: Mm) -> f64 {
        let step = self.wall / (4.0 * LOOKED_AT as f64);
        let (a, b) = ((slant.0 - step).max(0.0), (slant.0 + step).min(self.wall));
        (self.girth(b) - self.girth(a)) / (b - a)
    }
    /// Is it a parabola, not the spline?
    pub fn is_parabola(&self) -> bool {
        self.degree == 2
    }
    /// Sum of the squared distances of the readings, each in its standard uncertainty.
    pub fn chi_square(&self) -> f64 {
        self.chi_square
    }
    /// Largest and least departure of the curve from its chord over a stretch, in parts of the girth.
    fn bulge(&self, low: f64, high: f64) -> (f64, f64) {
        let (a, b) = (self.girth(low), self.girth(high));
        let off = |i: usize| {
            let t = i as f64 / LOOKED_AT as f64;
            let g = self.girth(low + (high - low) * t);
            (g - (a + (b - a) * t)) / g
        };
        (0..=LOOKED_AT).map(off).fold((0.0f64, 0.0f64), |(l, m), v| (l.min(v), m.max(v)))
    }
    /// Borders of stretches off their balanced chord by no more than `most`, from the base up, each as long as
    /// can be.
    fn borders(&self, most: f64) -> Vec<f64> {
        let fits = |low: f64, high: f64| {
            let (least, greatest) = self.bulge(low, high);
            greatest - least <= 2.0 * most
        };
        let mut at = vec![0.0];
        while at.len() <= MOST_CONES && at[at.len() - 1] < self.wall {
            let low = at[at.len() - 1];
            if fits(low, self.wall) {
                at.push(self.wall);
                break;
            }
            let (mut short, mut long) = (low, self.wall);
            for _ in 0..HALVINGS {
                let middle = f64::midpoint(short, long);
                if fits(low, middle) { short = middle } else { long = middle }
            }
            at.push(short);
        }
        at
    }
    /// The fewest cones that the wall is off by no more than 1 percent (the figure of the design), all off alike, joined to each other.
    pub fn cones(&self) -> Vec<Part> {
        // Where the curve turns from bulge to waist, a border that serves both sides is best for neither: chords of
        // half as much are within the bound without any balance.
        let off = |parts: &[Part]| parts.iter().map(|p| p.off.1.max(-p.off.0)).fold(0.0, f64::max);
        let one = |k: u32| {
            let count = self.borders(MOST_OFF * (1.0 - 0.1 * f64::from(k))).len();
            self.cones_between(&self.borders_of(count), f64::midpoint)
        };
        (0..5).map(one).find(|parts| off(parts) <= MOST_OFF).unwrap_or_else(|| one(5))
    }
    /// The fewest cones whose borders keep off what lies whole: those of [`Self::cones`] where these do already.
    pub fn cones_with(&self, whole: &Whole) -> Vec<Part> {
        let parts = self.cones();
        let free = |p: &Part| {
            p.stretch.low <= Mm::ZERO || !whole.spans.iter().any(|s| borders::inside(p.stretch.low.0, s))
        };
        let (low, high) = whole.within;
        let tall = |p: &Part| p.stretch.high.min(high) - p.stretch.low.max(low) >= whole.tallest;
        if whole.is_nothing()
            || (parts.iter().all(free) && (whole.tallest <= Mm::ZERO || parts.iter().any(tall)))
        {
            return parts;
        }
        match borders::with(whole, self.wall, |low, high| self.bulge(low, high)) {
            Some(at) => self.cones_between(&at, borders::larger),
            None => parts,
        }
    }
    /// So many borders, with the stretches between them off their chords alike.
    fn borders_of(&self, count: usize) -> Vec<f64> {
        let (mut tight, mut loose) = (0.0, MOST_OFF);
        for _ in 0..HALVINGS {
            let middle = f64::midpoint(tight, loose);
            if self.borders(middle).len() <= count { loose = middle } else { tight = middle }
        }
        self.borders(loose)
    }
    fn cones_between(&self, at: &[f64], joined: fn(f64, f64) -> f64) -> Vec<Part> {
        // Chords are balanced: a border is raised by half of what the curve stands over the chords beside it.
        let half = |w: &[f64]| {
            let (least, greatest) = self.bulge(w[0], w[1]);
            f64::midpoint(least, greatest)
        };
        let raised: Vec<f64> = at.windows(2).map(half).collect();
        let beside = |i: usize| {
            let (below, above) = (raised[i.saturating_sub(1)], raised[i.min(raised.len() - 1)]);
            joined(below, above)
        };
        let girths: Vec<f64> = (0..at.len()).map(|i| self.girth(at[i]) * (1.0 + beside(i))).collect();
        (1..at.len()).map(|i| self.part((at[i - 1], girths[i - 1]), (at[i], girths[i]))).collect()
    }
    fn part(&self, (low, lower): (f64, f64), (high, upper): (f64, f64)) -> Part {
        let stretch = Stretch { low: Mm(low), high: Mm(high), lower: Mm(lower), upper: Mm(upper) };
        let off = |i: usize| {
            let t = i as f64 / LOOKED_AT as f64;
            self.girth(low + (high - low) * t) / (lower + (upper - lower) * t) - 1.0
        };
        let none = (f64::INFINITY, f64::NEG_INFINITY);
        let off = (0..=LOOKED_AT).map(off).fold(none, |(l, m), v| (l.min(v), m.max(v)));
        Part { stretch, off, curvature: self.curvature(low, high) }
    }
    /// Bound on -girth''/girth over a stretch: second differences over windows as wide as it, a quarter of the wall
    /// at least (narrower ones say more of the tape than of the wall), at three places, with what they may stray;
    /// the largest by its size.
    fn curvature(&self, low: f64, high: f64) -> f64 {
        let wide = ((high - low) / 2.0).max(self.wall / 8.0);
        let at = |middle: f64| {
            let places = [(middle - wide, 1.0), (middle, -2.0), (middle + wide, 1.0)];
            let second: f64 = places.iter().map(|(s, c)| c * self.girth(*s)).sum();
            let pairs = places.iter().flat_map(|a| places.iter().map(move |b| (a, b)));
            let variance: f64 = pairs.map(|(a, b)| a.1 * b.1 * self.covariance(Mm(a.0), Mm(b.0))).sum();
            let strays = COVERAGE * variance.max(0.0).sqrt();
            let size = (second.abs() + strays) / (wide * wide) / self.girth(middle);
            if second > 0.0 { -size } else { size }
        };
        let quarter = (high - low) / 4.0;
        let places = [low + quarter, f64::midpoint(low, high), high - quarter];
        let inside = |s: f64| s.clamp(wide, self.wall - wide);
        places.into_iter().map(|s| at(inside(s))).fold(0.0, |a, b| if b.abs() > f64::abs(a) { b } else { a })
    }
}

impl Girths for GirthCurve {
    fn at(&self, slant: Mm) -> Mm {
        Mm(self.girth(slant.0))
    }
    fn covariance(&self, s: Mm, t: Mm) -> f64 {
        let ((f, ak), (g, _)) = (self.parts(s.0), self.parts(t.0));
        let near: f64 = self.heights.iter().zip(&ak).map(|(h, a)| self.wiener(t.0, *h) * a).sum();
        let of_trend: f64 = self.spread.iter().zip(&f).map(|(r, v)| v * dot(r, &g)).sum();
        self.wiener(s.0, t.0) - near + of_trend
    }
    fn variances(&self) -> &[f64] {
        &self.variances
    }
    fn settled(&self) -> usize {
        3
    }
}

/// Rings of these variances, and the points of outlines.
fn readings(rings: &[Ring], variances: &[f64], outlines: &[Outline]) -> Vec<Reading> {
    let ring =
        |(r, v): (&Ring, &f64)| Reading { height: r.slant.0, girth: r.girth.0, variance: *v, outline: None };
    let points = outlines.iter().enumerate().flat_map(|(k, o)| {
        o.points.iter().map(move |(up, girth)| Reading {
            height: up.0,
            girth: girth.0,
            variance: o.strays.0 * o.strays.0,
            outline: Some(k),
        })
    });
    rings.iter().zip(variances).map(ring).chain(points).collect()
}

fn dot(a: &[f64], b: &[f64]) -> f64 {
    a.iter().zip(b).map(|(x, y)| x * y).sum()
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_abs_diff_eq;
    use std::f64::consts::TAU;

    /// The barrel of the notes' check case 3: radius 40 + 300 (cos((s - 75) / 300) - 1).
    fn barrel(s: f64) -> f64 {
        TAU * (40.0 + 300.0 * (libm::cos((s - 75.0) / 300.0) - 1.0))
    }
    fn read(at: &[f64], of: impl Fn(f64) -> f64) -> Vec<Ring> {
        at.iter().map(|s| Ring::once(Mm(*s), Mm(of(*s)))).collect()
    }

    /// Closed forms: three readings are met by the parabola; each strays as its reading does.
    #[test]
    fn three_readings_are_met() {
        let rings = read(&[0.0, 60.0, 150.0], |s| 200.0 + 0.3 * s - 0.001 * s * s);
        let curve = GirthCurve::through(&rings, &[], Mm(150.0), Mm(0.5), Mm::ZERO);
        assert!(curve.is_parabola());
        for s in [0.0, 20.0, 60.0, 101.0, 150.0] {
            assert_abs_diff_eq!(curve.at(Mm(s)).0, 200.0 + 0.3 * s - 0.001 * s * s, epsilon = 1e-9);
        }
        for r in &rings {
            assert_abs_diff_eq!(curve.sd(r.slant).0, 0.5, epsilon = 1e-9);
        }
    }

    /// Property of kriging: a reading moved by its own variance moves the curve by the covariance of the error
    /// there (the trend and w alike), and with a faultless reading the curve goes through it.
    #[test]
    fn the_spline_strays_as_its_readings_do() {
        let heights = [0.0, 25.0, 50.0, 75.0, 100.0, 125.0, 150.0];
        let rings = read(&heights, |s| 220.0 + 0.2 * s + 6.0 * libm::sin(s / 20.0));
        let v = vec![0.25; 7];
        let curve = GirthCurve::of(&readings(&rings, &v, &[]), Mm(150.0), 1, 1e-3);
        let mut moved = rings.clone();
        moved[3].girth += Mm(0.25);
        let other = GirthCurve::of(&readings(&moved, &v, &[]), Mm(150.0), 1, 1e-3);
        for s in [0.0, 33.0, 75.0, 110.0, 150.0] {
            let by = (other.at(Mm(s)) - curve.at(Mm(s))).0;
            assert_abs_diff_eq!(by, curve.covariance(Mm(s), Mm(75.0)), epsilon = 1e-9);
        }
        let sharp = GirthCurve::of(&readings(&rings, &[1e-10; 7], &[]), Mm(150.0), 1, 1e-3);
        for r in &rings {
            assert_abs_diff_eq!(sharp.at(r.slant).0, r.girth.0, epsilon = 1e-6);
        }
        assert!(!GirthCurve::through(&rings, &[], Mm(150.0), Mm(0.5), Mm::ZERO).is_parabola());
    }

    /// The notes' figures: a barrel of meridian radius 300, 150 high; zones of eps 1 percent are at most
    /// sqrt(.16 / K) = 43.8 mm high, so four; max |eps| = K h^2 / 16 of each; K = 8.3333e-5 in the middle.
    #[test]
    fn a_barrel_is_parted_into_four_cones() {
        let heights: Vec<f64> = (0..7).map(|i| 25.0 * f64::from(i)).collect();
        let curve = GirthCurve::through(&read(&heights, barrel), &[], Mm(150.0), Mm(0.05), Mm::ZERO);
        let parts = curve.cones();
        assert_eq!(parts.len(), 4);
        for p in &parts {
            let h = (p.stretch.high - p.stretch.low).0;
            let k = 1.0 / (300.0 * barrel(f64::midpoint(p.stretch.low.0, p.stretch.high.0)) / TAU);
            let closed = k * h * h / 16.0;
            let most = p.off.0.abs().max(p.off.1.abs());
            assert!((most / closed - 1.0).abs() < 0.12, "{most} {closed}");
            assert!(most <= MOST_OFF * 1.001);
            assert!(p.curvature > 7.0e-5 && p.curvature < 1.3e-4, "{}", p.curvature);
        }
        let joined = parts.windows(2).all(|w| w[0].stretch.upper == w[1].stretch.lower);
        assert!(joined && parts[0].stretch.low == Mm::ZERO && parts[3].stretch.high == Mm(150.0));
    }

    /// A waist is curved the other way, and a slight bulge needs one cone only.
    #[test]
    fn waists_are_negative_and_slight_bulges_one_cone() {
        let heights = [0.0, 40.0, 80.0, 120.0, 160.0];
        let waist = read(&heights, |s| 230.0 + 0.003 * (s - 80.0) * (s - 80.0));
        let parts = GirthCurve::through(&waist, &[], Mm(160.0), Mm(0.1), Mm::ZERO).cones();
        assert!(parts.iter().all(|p| p.curvature < 0.0) && parts.len() > 1);
        let slight = read(&heights, |s| 230.0 - 0.0003 * (s - 80.0) * (s - 80.0));
        assert_eq!(GirthCurve::through(&slight, &[], Mm(160.0), Mm(0.1), Mm::ZERO).cones().len(), 1);
    }

    /// Two rings and an outline that is off by any constant and slope give the barrel: within what the outline's own
    /// error says; moved by a line, nothing changes.
    #[test]
    fn an_outline_tells_the_curve_and_the_tape_the_rest() {
        let rings = read(&[7.5, 142.5], barrel);
        let outline = |a: f64, b: f64| {
            let at = |i: u32| 7.5 + 13.5 * f64::from(i);
            let points = (0..11).map(|i| (Mm(at(i)), Mm(barrel(at(i)) + a + b * at(i)))).collect();
            Outline { points, strays: Mm(0.63) }
        };
        let of = |o: &[Outline]| GirthCurve::found(&rings, o, Mm(150.0), Mm(0.5), Mm::ZERO);
        let (one, two) =
            (of(&[outline(0.0, 0.0)]).expect("curved"), of(&[outline(9.0, -0.05)]).expect("curved"));
        for i in 0..=30 {
            let s = Mm(5.0 * f64::from(i));
            assert_abs_diff_eq!(one.at(s).0, two.at(s).0, epsilon = 1e-6);
            assert_abs_diff_eq!(one.at(s).0, barrel(s.0), epsilon = 0.25);
            assert_abs_diff_eq!(one.sd(s).0, two.sd(s).0, epsilon = 1e-9);
        }
        // At a ring the curve strays as the tape does; between them as the picture adds.
        assert_abs_diff_eq!(one.sd(Mm(7.5)).0, 0.5, epsilon = 0.01);
        assert!(one.sd(Mm(75.0)).0 < 0.7, "{}", one.sd(Mm(75.0)));
        let both = of(&[outline(0.0, 0.0), outline(3.0, 0.01)]).expect("curved");
        assert!(both.sd(Mm(75.0)) < one.sd(Mm(75.0)));
        // A straight outline is one cone, whatever its slope.
        let straight = Outline {
            points: (0..9).map(|i| (Mm(10.0 + 16.0 * f64::from(i)), Mm(200.0 + f64::from(i)))).collect(),
            strays: Mm(0.63),
        };
        assert!(of(&[straight]).is_none());
    }

    /// Borders keep off what lies whole, and one part is as high as the tallest piece; else nothing changes.
    #[test]
    fn borders_keep_off_what_lies_whole() {
        let heights: Vec<f64> = (0..7).map(|i| 25.0 * f64::from(i)).collect();
        let curve = GirthCurve::through(&read(&heights, barrel), &[], Mm(150.0), Mm(0.05), Mm::ZERO);
        let usual = curve.cones();
        let within = (Mm(4.0), Mm(130.0));
        let whole = |spans: &[(f64, f64)], tallest: f64| Whole {
            spans: spans.iter().map(|s| (Mm(s.0), Mm(s.1))).collect(),
            tallest: Mm(tallest),
            within,
        };
        assert_eq!(curve.cones_with(&Whole::default()), usual);
        let first = &usual[1].stretch;
        let in_it = (first.low.0 + 1.0, first.high.0 - 1.0);
        assert_eq!(curve.cones_with(&whole(&[in_it], 0.0)), usual);
        for (spans, tallest) in
            [(vec![(10.0, 65.0)], 0.0), (vec![(20.0, 50.0), (55.0, 100.0)], 0.0), (vec![], 60.0)]
        {
            let parts = curve.cones_with(&whole(&spans, tallest));
            let crossed = |p: &Part| spans.iter().any(|(l, h)| p.stretch.low.0 > *l && p.stretch.low.0 < *h);
            assert!(!parts.iter().any(crossed), "{parts:#?}");
            let high = |p: &Part| (p.stretch.high.min(within.1) - p.stretch.low.max(within.0)).0;
            assert!(parts.iter().map(high).fold(0.0, f64::max) >= tallest);
            assert!(parts.windows(2).all(|w| w[0].stretch.upper == w[1].stretch.lower));
            assert!(parts.len() <= usual.len() + 1, "{}", parts.len());
            // Off by K h^2 / 16 of the highest part, and no more (balanced).
            let tallest_part = parts.iter().map(|p| (p.stretch.high - p.stretch.low).0).fold(0.0, f64::max);
            let closed = tallest_part * tallest_part / 16.0 / 12_000.0;
            let off = parts.iter().map(|p| p.off.1.max(-p.off.0)).fold(0.0, f64::max);
            assert!(off < closed * 1.5 && off < borders::MOST_WHOLE, "{off} {closed}");
        }
        // What is as high as the wall is left to its fault.
        assert_eq!(curve.cones_with(&whole(&[(1.0, 149.0)], 0.0)).len(), usual.len());
    }
}
