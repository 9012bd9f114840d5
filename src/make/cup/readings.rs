//! What the readings are worth: intervals of the wrap, the test for one cone, the ring to read again.
//!
//! An interval is two standard uncertainties of the fitted girth, from readings, marks and what all readings
//! share. Where the readings do not lie on one cone it is widened by sqrt(chi-square / degrees) (the Birge
//! ratio), and it is never smaller than the largest distance of a reading from the cone (and, not on one
//! cone, two standard uncertainties of a reading more): what the readings show is not promised away.
//!
//! Imports: base, read::job, make::cup, make::cup::{frustum, wall, trial}.

use super::frustum::Frustum;
use super::trial::Edges;
use super::{Bend, Bow, CurveReport, EdgeReport, Readings, RingReport, SeamReport, Taper, WallZone};
use crate::base::units::Mm;
use crate::read::job::chance::{LEVEL, chi_square_point, normal_point};
use crate::read::job::{CupSpec, GirthChain, GirthCurve, GirthLine, Girths, Ring};
use std::f64::consts::TAU;

/// How many standard uncertainties the reported worst cases are wide: 95 of 100 cups.
pub const COVERAGE: f64 = 2.0;
/// Part of itself that film stretches or shortens without heat, until it is measured: a default, no source.
pub const TAKE_UP: f64 = 0.01;
/// Share of a reading's variance that is left to it below which the wall's line is held by it alone.
const HELD: f64 = 1e-9;
/// Said of repeats that stray.
pub const OFF_BY_REPEATS: &str = "readings at one height differ by more than the tape is said to stray";

/// How far one reading strays by its repeats, pooled over heights; none if `tape` explains them at 1 percent.
pub fn repeats_stray(rings: &[Ring], tape: Mm) -> Option<Mm> {
    let degrees: usize = rings.iter().map(|r| r.reads as usize - 1).sum();
    let scatter: f64 = rings.iter().map(|r| r.scatter).sum();
    let explained = degrees == 0 || scatter <= tape.0 * tape.0 * chi_square_point(LEVEL, degrees);
    (!explained).then(|| Mm((scatter / degrees as f64).sqrt()))
}

/// What readings and the line through them are worth.
///
/// After trial wraps `edges` are what tape and wraps say together.
pub fn worth(spec: &CupSpec, line: &GirthLine, f: &Frustum, edges: Option<&Edges>) -> Readings {
    let on_cone = |slant: Mm| edges.map_or(line.at(slant), |e| Mm(e.at(slant / spec.wall)));
    let rings: Vec<RingReport> = spec
        .rings
        .iter()
        .map(|r| RingReport {
            slant: r.slant,
            read: r.girth,
            fitted: on_cone(r.slant),
            off: r.girth - on_cone(r.slant),
            reads: r.reads,
        })
        .collect();
    let bow = bow(spec, line);
    // Two rings lie on their line but for rounding, which is no distance that a reading shows. Off the cone,
    // the wall at a ring is its distance away and the error of that reading more.
    let floor = bow.map_or(0.0, |b| {
        let strays = COVERAGE * libm::hypot(line.reading_sd().0, spec.common.0);
        b.worst.0 + if b.one_cone { 0.0 } else { strays }
    });
    let birge = birge(bow.as_ref(), rings.len() - 2);
    let shared = spec.common.0 * spec.common.0;
    let covariance = |s: Mm, t: Mm| match edges {
        Some(e) => e.between(s / spec.wall, t / spec.wall),
        None => birge * line.covariance(s, t) + shared,
    };
    let wall = spec.wall;
    let (v1, v2) = (covariance(wall, wall), covariance(Mm::ZERO, Mm::ZERO));
    // Step along the seam when the wrap is started from one end: (e1 C2/C1 - e2) C1 / (2 s).
    let (alpha, beta) = (f.lower.0 / (2.0 * wall.0), -f.upper.0 / (2.0 * wall.0));
    let cov = covariance(wall, Mm::ZERO);
    let step = (alpha * alpha * v1 + beta * beta * v2 + 2.0 * alpha * beta * cov).max(0.0).sqrt();
    let taper_sd = match edges {
        Some(_) => (v1 + v2 - 2.0 * cov).max(0.0).sqrt(),
        None => birge.sqrt() * line.slope_sd() * wall.0,
    };
    let taper = (f.upper - f.lower).0;
    Readings {
        rings,
        rim: Mm((COVERAGE * v1.sqrt()).max(floor)),
        base: Mm((COVERAGE * v2.sqrt()).max(floor)),
        seam: SeamReport { step_from_one_end: Mm(COVERAGE * step), step_from_middle: Mm::ZERO },
        taper: if taper.abs() < COVERAGE * taper_sd {
            Taper::NotDistinguishable
        } else if taper > 0.0 {
            Taper::WiderAtRim
        } else {
            Taper::NarrowerAtRim
        },
        taper_uncertainty: Mm(COVERAGE * taper_sd),
        straight_enough: Mm((f.upper.0 * taper / (8.0 * wall.0)).abs()),
        bow,
        curve: None,
        edges: Vec::new(),
        repeats_stray: None,
        trials: Vec::new(),
    }
}

/// What the readings of a wall with edges are worth: as for one cone, of all zones the worst.
pub fn of_zones(spec: &CupSpec, chain: &GirthChain, zones: &[WallZone]) -> Readings {
    of_parts(spec, (chain, bow(spec, chain)), zones)
}

/// What the readings of a smooth wall are worth: as of zones, with what the wall is off the cones; they are met
/// by the curve, so nothing is said of a bow.
pub fn of_curve(spec: &CupSpec, curve: &GirthCurve, zones: &[WallZone]) -> Readings {
    let steps = (spec.wall / CurveReport::STEP).ceil();
    let at = |i: usize| spec.wall.0 * i as f64 / steps;
    let profile = (0..=steps as usize).map(|i| [at(i), curve.at(Mm(at(i))).0]).collect();
    let worst = zones.iter().map(|z| z.bend.most.max(-z.bend.least)).fold(0.0, f64::max);
    let report = CurveReport { parabola: curve.is_parabola(), worst_off: worst, profile_mm: profile };
    Readings { curve: Some(report), ..of_parts(spec, (curve, None), zones) }
}

fn of_parts(spec: &CupSpec, (chain, bow): (&dyn Girths, Option<Bow>), zones: &[WallZone]) -> Readings {
    let report = |r: &Ring| RingReport {
        slant: r.slant,
        read: r.girth,
        fitted: chain.at(r.slant),
        off: r.girth - chain.at(r.slant),
        reads: r.reads,
    };
    // Off the cones, by what the curve is.
    let off = |s: Mm| {
        let cone = |z: &&WallZone| z.bend != Bend::NONE && z.low <= s && s <= z.high;
        let far = |z: &WallZone| (z.measured.girth(s - z.low) - chain.at(s)).abs().0;
        zones.iter().filter(cone).map(far).fold(0.0, f64::max)
    };
    let residual = |r: &Ring| (r.girth - chain.at(r.slant)).abs().0;
    let smooth = zones.iter().any(|z| z.bend != Bend::NONE);
    let farthest = if smooth { spec.rings.iter().map(residual).fold(0.0, f64::max) } else { 0.0 };
    let floor = bow.map_or(farthest, |b| {
        let strays = COVERAGE * libm::hypot(chain.reading_sd().0, spec.common.0);
        b.worst.0 + if b.one_cone { 0.0 } else { strays }
    });
    let birge = birge(bow.as_ref(), spec.rings.len() - chain.settled().min(spec.rings.len()));
    let covariance = |s, t| birge * chain.covariance(s, t) + spec.common.0 * spec.common.0;
    let gap = |s| Mm((COVERAGE * covariance(s, s).sqrt() + off(s)).max(floor));
    let step = |z: &WallZone| {
        let f = &z.measured;
        let (alpha, beta) = (f.lower.0 / (2.0 * f.slant.0), -f.upper.0 / (2.0 * f.slant.0));
        let (v1, v2, both) =
            (covariance(z.high, z.high), covariance(z.low, z.low), covariance(z.high, z.low));
        (alpha * alpha * v1 + beta * beta * v2 + 2.0 * alpha * beta * both).max(0.0).sqrt()
    };
    let (base, rim) = (Mm::ZERO, spec.wall);
    let taper = chain.at(rim) - chain.at(base);
    let taper_sd =
        (covariance(rim, rim) + covariance(base, base) - 2.0 * covariance(rim, base)).max(0.0).sqrt();
    let straight = |z: &WallZone| {
        (z.measured.upper.0 * (z.measured.upper - z.measured.lower).0 / (8.0 * z.measured.slant.0)).abs()
    };
    let edge = |z: &WallZone| EdgeReport { slant: z.low, gap: gap(z.low) };
    Readings {
        rings: spec.rings.iter().map(report).collect(),
        rim: gap(rim),
        base: gap(base),
        seam: SeamReport {
            step_from_one_end: Mm(COVERAGE * zones.iter().map(step).fold(0.0, f64::max)),
            step_from_middle: Mm::ZERO,
        },
        taper: if taper.0.abs() < COVERAGE * taper_sd {
            Taper::NotDistinguishable
        } else if taper.0 > 0.0 {
            Taper::WiderAtRim
        } else {
            Taper::NarrowerAtRim
        },
        taper_uncertainty: Mm(COVERAGE * taper_sd),
        straight_enough: Mm(zones.iter().map(straight).fold(0.0, f64::max)),
        bow,
        curve: None,
        edges: zones[1..].iter().map(edge).collect(),
        repeats_stray: None,
        trials: Vec::new(),
    }
}

/// Widening where the readings do not lie on one cone (the Birge ratio, squared).
fn birge(bow: Option<&Bow>, degrees: usize) -> f64 {
    bow.filter(|b| !b.one_cone).map_or(1.0, |b| (b.chi_square / degrees as f64).max(1.0))
}

/// Base and rim as the tape alone has them.
pub fn edges(spec: &CupSpec, line: &GirthLine) -> Edges {
    let birge = birge(bow(spec, line).as_ref(), spec.rings.len() - 2);
    let shared = spec.common.0 * spec.common.0;
    let between = |s, t| birge * line.covariance(s, t) + shared;
    let (base, rim) = (Mm::ZERO, spec.wall);
    Edges {
        girths: [line.at(base).0, line.at(rim).0],
        covariance: [between(base, base), between(base, rim), between(rim, rim)],
    }
}

/// A ring against the fitted line: e its distance, v its variance, h its leverage.
struct Residual {
    e: f64,
    v: f64,
    free: f64,
}

impl Residual {
    /// Distance in its own standard uncertainty: e / sqrt(v (1 - h)).
    fn studentised(&self) -> f64 {
        // A ring that alone holds an end of a zone is met whatever it says: nothing tells it from a slip.
        if self.free < HELD { 0.0 } else { self.e / (self.v * self.free).sqrt() }
    }
}

/// Chi-square of all rings at 1 percent; then the ring farthest off by its studentised residual, ends
/// included, named if it passes the two-sided point of 1 percent over the number of rings (Bonferroni).
fn bow(spec: &CupSpec, line: &dyn Girths) -> Option<Bow> {
    let n = spec.rings.len();
    if n <= line.settled() {
        return None;
    }
    let residual = |(r, v): (&Ring, &f64)| {
        let e = r.girth - line.at(r.slant);
        Residual { e: e.0, v: *v, free: 1.0 - line.covariance(r.slant, r.slant) / v }
    };
    let all: Vec<Residual> = spec.rings.iter().zip(line.variances()).map(residual).collect();
    let chi_square: f64 = all.iter().map(|r| r.e * r.e / r.v).sum();
    let allowed = chi_square_point(LEVEL, n - line.settled());
    // With three rings all are off alike; the middle one is spoken of.
    let farthest = match n {
        3 if line.settled() == 2 => 1,
        _ => (0..n).max_by(|a, b| all[*a].studentised().abs().total_cmp(&all[*b].studentised().abs()))?,
    };
    let (ring, r) = (spec.rings[farthest], &all[farthest]);
    let off = if r.free < HELD { 0.0 } else { r.e / r.free };
    let point = normal_point(LEVEL / n as f64);
    let one_cone = chi_square <= allowed;
    let strain = all.iter().zip(&spec.rings).map(|(r, ring)| (r.e / ring.girth.0).abs()).fold(0.0, f64::max);
    Some(Bow {
        at: ring.slant,
        ring: ring.place,
        off: Mm(off),
        uncertainty: Mm(point * (r.v / r.free.max(HELD)).sqrt()),
        bulge: Mm(off / TAU),
        strain,
        worst: Mm(all.iter().map(|r| r.e.abs()).fold(0.0, f64::max)),
        chi_square,
        chi_square_allowed: allowed,
        one_cone,
        named: !one_cone && n > 3 && r.studentised().abs() > point,
        no_cone: !one_cone && strain > TAKE_UP,
    })
}
