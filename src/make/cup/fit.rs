//! Tape readings to a cone by least squares, and what they are worth in the maker's terms.
//!
//! Girth is linear in slant height on a cone: `C(s) = a + b s`. With readings of standard uncertainty `u`,
//! `var C(s) = u^2 (1/n + (s - m)^2 / S)` (m the mean height, S the sum of squares about it), and errors at two
//! heights share `u^2 (1/n + (s - m)(t - m) / S)`. Source: ordinary least squares, any textbook of statistics.
//!
//! Imports: base, outline, read::job, make::cup, make::cup::{frustum, zone}.

use super::frustum::{Development, Frustum};
use super::zone::Zone;
use super::{Bow, Cup, Readings, RingReport, SeamReport, Taper};
use crate::base::diag::{Code, Diagnostic, Diagnostics, ErrorGuaranteed, KeyPath};
use crate::base::units::{Angle, Mm};
use crate::read::job::{CupSpec, Handle};
use std::f64::consts::TAU;

/// The wall is not one cone.
pub const NOT_ONE_CONE: Code = Code {
    id: "cup/not-one-cone",
    title: "the middle ring is off the straight line between the others",
    explain: "On a straight-sided cup the circumference grows evenly with height. A ring that is off by e means the wall \
              bulges (or is waisted) by e/(2 pi) there, or that a reading is wrong. Film laid over a bulge must stretch by \
              about bulge/radius; unheated film takes 1 to 2 percent (common practice). Measure that ring again. If it \
              stands, keep motifs small, or lay them in bands above and below.",
};
/// The zone is empty.
pub const NO_ROOM: Code = Code {
    id: "cup/bands-leave-nothing",
    title: "the keep-clear bands leave no wall between them",
    explain: "The bands at rim and base together are as wide as the wall. Make one of them narrower, or check `wall`.",
};
/// The cone is steeper than the geometry allows.
pub const TOO_STEEP: Code = Code {
    id: "cup/too-steep",
    title: "the readings make a wall steeper than any cup",
    explain: "The circumferences differ by more than the wall between them can bring about (difference / (2 pi) must stay \
              below the wall length), or the cup would close to a point. Usually a ring's height was measured \
              wrongly or a diameter stands where a circumference belongs.",
};
/// Readings close together used far out.
pub const REACHES_FAR: Code = Code {
    id: "cup/rings-too-close",
    title: "the rings are close together and the wall reaches far beyond them",
    explain: "Outside the rings the error of the tape grows: rings 60 mm apart used out to 160 mm turn 0.5 mm readings into \
              1.6 mm. Measure at, or beyond, both edges of the art.",
};
/// Handle outside of the wall.
pub const HANDLE_OFF: Code = Code {
    id: "cup/handle-off-wall",
    title: "the handle's window does not lie on the wall",
    explain: "`from` and `to` are heights along the wall, up from the base edge, with `from` below `to`; the width is less \
              than the circumference.",
};

/// All codes of this module.
pub const CODES: &[&Code] = &[&NOT_ONE_CONE, &NO_ROOM, &TOO_STEEP, &REACHES_FAR, &HANDLE_OFF];

/// How many standard uncertainties the reported worst cases are wide: 95 of 100 cups.
pub const COVERAGE: f64 = 2.0;

struct Line {
    a: f64,
    b: f64,
    mean: f64,
    spread: f64,
    n: f64,
    u: f64,
}

impl Line {
    fn through(points: impl Iterator<Item = (f64, f64)> + Clone, u: f64) -> Line {
        let n = points.clone().count() as f64;
        let mean = points.clone().map(|p| p.0).sum::<f64>() / n;
        let mean_y = points.clone().map(|p| p.1).sum::<f64>() / n;
        let spread = points.clone().map(|p| (p.0 - mean) * (p.0 - mean)).sum::<f64>();
        let b = points.map(|p| (p.0 - mean) * (p.1 - mean_y)).sum::<f64>() / spread;
        Line { a: mean_y - b * mean, b, mean, spread, n, u }
    }
    fn at(&self, s: f64) -> f64 {
        self.a + self.b * s
    }
    fn covariance(&self, s: f64, t: f64) -> f64 {
        self.u * self.u * (1.0 / self.n + (s - self.mean) * (t - self.mean) / self.spread)
    }
    fn sd(&self, s: f64) -> f64 {
        self.covariance(s, s).sqrt()
    }
}

/// Fits the cup.
///
/// # Errors
/// Faults when the cone is impossible, the bands leave nothing, or the handle is off the wall.
pub fn fit(spec: &CupSpec, diagnostics: &mut Diagnostics) -> Result<Cup, ErrorGuaranteed> {
    let line = Line::through(spec.rings.iter().map(|r| (r.slant.0, r.girth.0)), spec.tape.0);
    let wall = spec.wall.0;
    let measured = Frustum { upper: Mm(line.at(wall)), lower: Mm(line.a), slant: spec.wall };
    check_steepness(&measured, diagnostics)?;
    let surface = measured.built_up(spec.build_up);
    let development = Development::new(surface);
    let readings = readings(spec, &line, &measured);
    tell(spec, &readings, diagnostics);
    let zone = zone(spec, &development, diagnostics)?;
    Ok(Cup { measured, surface, development, zone, readings })
}

fn check_steepness(f: &Frustum, diagnostics: &mut Diagnostics) -> Result<(), ErrorGuaranteed> {
    let smallest = f.upper.min(f.lower);
    if f.sine().abs() < 0.9 && smallest.0 > 20.0 {
        return Ok(());
    }
    Err(diagnostics.push(
        Diagnostic::fault(&TOO_STEEP, KeyPath::of("cup.rings"), "these rings do not make a cup")
            .measured(format!(
                "{} round at the rim, {} at the base, {} of wall between",
                f.upper, f.lower, f.slant
            ))
            .allowed("both at least 20 mm, differing by less than 5.6 times the wall")
            .help("check each ring's height `up` (along the wall, from the base edge) and its girth"),
    ))
}

fn readings(spec: &CupSpec, line: &Line, f: &Frustum) -> Readings {
    let wall = spec.wall.0;
    let (sd1, sd2) = (line.sd(wall), line.sd(0.0));
    // Step along the seam when the wrap is started from one end: (e1 C2/C1 - e2) C1 / (2 s).
    let (alpha, beta) = (f.lower.0 / (2.0 * wall), -f.upper.0 / (2.0 * wall));
    let cov = line.covariance(wall, 0.0);
    let step =
        (alpha * alpha * sd1 * sd1 + beta * beta * sd2 * sd2 + 2.0 * alpha * beta * cov).max(0.0).sqrt();
    let taper_sd = line.u * wall / line.spread.sqrt();
    let taper = (f.upper - f.lower).0;
    let rings = spec
        .rings
        .iter()
        .map(|r| RingReport {
            slant: r.slant,
            read: r.girth,
            fitted: Mm(line.at(r.slant.0)),
            off: Mm(r.girth.0 - line.at(r.slant.0)),
        })
        .collect();
    Readings {
        rings,
        rim: Mm(COVERAGE * sd1),
        base: Mm(COVERAGE * sd2),
        seam: SeamReport { step_from_one_end: Mm(COVERAGE * step), step_from_middle: Mm::ZERO },
        taper: if taper.abs() < COVERAGE * taper_sd {
            Taper::NotDistinguishable
        } else if taper > 0.0 {
            Taper::WiderAtRim
        } else {
            Taper::NarrowerAtRim
        },
        taper_uncertainty: Mm(COVERAGE * taper_sd),
        straight_enough: Mm((f.upper.0 * taper / (8.0 * wall)).abs()),
        bow: bow(spec),
    }
}

/// The ring farthest off the line through the others, in its own standard deviations.
fn bow(spec: &CupSpec) -> Option<Bow> {
    if spec.rings.len() < 3 {
        return None;
    }
    let last = spec.rings.len() - 1;
    let mut worst: Option<(f64, Bow)> = None;
    for i in 1..last {
        let ring = spec.rings[i];
        let others =
            spec.rings.iter().enumerate().filter(move |(j, _)| *j != i).map(|(_, r)| (r.slant.0, r.girth.0));
        let line = Line::through(others, spec.tape.0);
        let off = ring.girth.0 - line.at(ring.slant.0);
        let sd = (spec.tape.0 * spec.tape.0 + line.covariance(ring.slant.0, ring.slant.0)).sqrt();
        let z = off.abs() / sd;
        let bow = Bow {
            at: ring.slant,
            off: Mm(off),
            uncertainty: Mm(COVERAGE * sd),
            bulge: Mm(off / TAU),
            strain: (off / ring.girth.0).abs(),
            one_cone: z <= COVERAGE,
        };
        if worst.as_ref().is_none_or(|w| z > w.0) {
            worst = Some((z, bow));
        }
    }
    worst.map(|w| w.1)
}

fn tell(spec: &CupSpec, r: &Readings, diagnostics: &mut Diagnostics) {
    if let Some(bow) = r.bow.filter(|b| !b.one_cone) {
        let way = if bow.off.0 > 0.0 { "bulges out" } else { "is waisted" };
        diagnostics.push(
            Diagnostic::warning(
                &NOT_ONE_CONE,
                KeyPath::of("cup.rings"),
                format!(
                    "one cone does not describe the wall: at {} up it {way} by {}, which strains film by {:.1} percent",
                    bow.at,
                    bow.bulge.abs(),
                    bow.strain * 100.0
                ),
            )
            .measured(format!("that ring is {} off the line through the others", bow.off))
            .allowed(format!("within {} for these readings", bow.uncertainty))
            .help("measure that ring again; if it stands, keep motifs small where the wall bulges"),
        );
    }
    let limit = COVERAGE * spec.tape.0 * 1.5;
    for (what, worst) in [("rim", r.rim), ("base", r.base)] {
        if worst.0 > limit {
            diagnostics.push(
                Diagnostic::warning(
                    &REACHES_FAR,
                    KeyPath::of("cup.rings"),
                    format!("the wall reaches far beyond the rings: at the {what} the wrap may gap or overlap by {worst}"),
                )
                .measured(worst)
                .allowed(Mm(limit))
                .help(format!("read one ring as near the {what} as the tape lies flat")),
            );
        }
    }
}

fn zone(spec: &CupSpec, d: &Development, diagnostics: &mut Diagnostics) -> Result<Zone, ErrorGuaranteed> {
    let (low, high) = (spec.keep_clear.base, spec.wall - spec.keep_clear.rim);
    if high <= low {
        return Err(diagnostics.push(
            Diagnostic::fault(
                &NO_ROOM,
                KeyPath::of("cup.keep-clear"),
                "the keep-clear bands leave no wall for film",
            )
            .measured(format!("{} at the rim and {} at the base", spec.keep_clear.rim, spec.keep_clear.base))
            .allowed(format!("together less than the wall, {}", spec.wall))
            .help("make a band narrower, or check `wall`"),
        ));
    }
    let handle = spec.handle.map(|h| window(spec, &h, d, diagnostics)).transpose()?;
    Ok(Zone { low, high, seam: spec.seam, handle })
}

fn window(
    spec: &CupSpec,
    h: &Handle,
    d: &Development,
    diagnostics: &mut Diagnostics,
) -> Result<crate::outline::Region<crate::base::frame::Plane>, ErrorGuaranteed> {
    let girth = d.frustum().girth((h.from + h.to) * 0.5);
    if h.from < Mm::ZERO || h.to > spec.wall || h.from >= h.to || h.width <= Mm::ZERO || h.width >= girth {
        return Err(diagnostics.push(
            Diagnostic::fault(
                &HANDLE_OFF,
                KeyPath::of("cup.handle"),
                "the handle's window does not lie on the wall",
            )
            .measured(format!("{} wide, from {} to {} up the wall", h.width, h.from, h.to))
            .allowed(format!("narrower than {girth}, heights from 0 to {}", spec.wall))
            .help("give `from` and `to` along the wall, up from the base edge"),
        ));
    }
    let half = Angle::TURN * (h.width / girth / 2.0);
    Ok(d.band(h.azimuth - half, h.azimuth + half, h.from, h.to))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::read::job::{KeepClear, Ring};
    use approx::assert_abs_diff_eq;

    fn spec(rings: &[(f64, f64)], wall: f64) -> CupSpec {
        CupSpec {
            rings: rings.iter().map(|r| Ring { slant: Mm(r.0), girth: Mm(r.1) }).collect(),
            wall: Mm(wall),
            tape: Mm(0.5),
            keep_clear: KeepClear { rim: Mm(20.0), base: Mm(6.0) },
            seam: Angle::degrees(180.0),
            handle: None,
            lap: Mm::ZERO,
            build_up: Mm::ZERO,
            capacity: None,
        }
    }

    fn fitted(s: &CupSpec) -> (Cup, Diagnostics) {
        let mut diagnostics = Diagnostics::new();
        (fit(s, &mut diagnostics).expect("fits"), diagnostics)
    }

    /// Four cups measured beforehand: sweep and apex radius, printed for cups whose girths are rounded here to 0.1 mm.
    #[test]
    fn sweeps_of_four_measured_cups() {
        for (c1, c2, s, sweep, radius) in [
            (279.3, 189.4, 149.9, 34.35, 465.9),
            (263.9, 182.2, 128.7, 36.38, 415.7),
            (238.8, 219.9, 120.0, 9.00, 1520.0),
            (235.6, 233.1, 150.0, 0.96, 14_063.0),
        ] {
            let (cup, _) = fitted(&spec(&[(0.0, c2), (s, c1)], s));
            assert_abs_diff_eq!(cup.surface.sweep().deg(), sweep, epsilon = 0.03);
            let apex = cup.surface.upper.0 / cup.surface.sweep().rad();
            assert!((apex / radius - 1.0).abs() < 0.006, "{apex} {radius}");
        }
    }

    /// Rings 60 mm apart used out to 160 mm: sd 1.6 mm from 0.5 mm readings (derived, checked numerically beforehand).
    #[test]
    fn extrapolation_costs_what_the_error_chain_says() {
        let (cup, diagnostics) = fitted(&spec(&[(0.0, 207.0), (60.0, 230.0)], 160.0));
        assert_abs_diff_eq!(cup.readings.rim.0 / COVERAGE, 1.6, epsilon = 0.05);
        assert!(diagnostics.iter().any(|d| d.code == &REACHES_FAR));
    }

    /// Seam step from one end: 0.7 to 1.0 mm per mm of error for errors of one ring at a time.
    #[test]
    fn seam_step_follows_its_formula() {
        let (c1, c2, s) = (279.3, 189.4, 149.9);
        let (cup, _) = fitted(&spec(&[(0.0, c2), (s, c1)], s));
        let want = 0.5 * (c2 * c2 + c1 * c1).sqrt() / (2.0 * s);
        assert_abs_diff_eq!(cup.readings.seam.step_from_one_end.0, COVERAGE * want, epsilon = 1e-9);
        assert_eq!(cup.readings.seam.step_from_middle, Mm::ZERO);
    }

    /// Middle bow of three evenly spaced rings: sd 1.22 of a reading, wall bulge e/(2 pi).
    #[test]
    fn a_bowed_wall_is_found_and_told_as_a_bulge() {
        let (cup, diagnostics) = fitted(&spec(&[(0.0, 207.0), (82.5, 240.6), (165.0, 270.2)], 165.0));
        let bow = cup.readings.bow.unwrap();
        assert_abs_diff_eq!(bow.off.0, 2.0, epsilon = 1e-9);
        assert_abs_diff_eq!(bow.uncertainty.0, COVERAGE * 0.5 * 1.5f64.sqrt(), epsilon = 1e-9);
        assert_abs_diff_eq!(bow.bulge.0, 2.0 / TAU, epsilon = 1e-12);
        assert!(!bow.one_cone && diagnostics.iter().any(|d| d.code == &NOT_ONE_CONE));
        let (cup, diagnostics) = fitted(&spec(&[(0.0, 207.0), (82.5, 239.2), (165.0, 270.2)], 165.0));
        assert!(cup.readings.bow.unwrap().one_cone && diagnostics.is_empty());
    }

    /// Taper not distinguishable from straight when |C1 - C2| < 2 sqrt 2 sd for one reading at each edge.
    #[test]
    fn a_nearly_straight_cup_is_called_that() {
        let (cup, _) = fitted(&spec(&[(0.0, 233.1), (150.0, 234.4)], 150.0));
        assert_eq!(cup.readings.taper, Taper::NotDistinguishable);
        assert_abs_diff_eq!(cup.readings.taper_uncertainty.0, 2.0 * 2f64.sqrt() * 0.5, epsilon = 1e-9);
        let (cup, _) = fitted(&spec(&[(0.0, 233.1), (150.0, 235.6)], 150.0));
        assert_eq!(cup.readings.taper, Taper::WiderAtRim);
    }

    #[test]
    fn impossible_cups_are_refused_with_their_place() {
        for s in [spec(&[(0.0, 30.0), (10.0, 400.0)], 10.0), spec(&[(0.0, 200.0), (50.0, 210.0)], 20.0)] {
            let mut diagnostics = Diagnostics::new();
            assert!(fit(&s, &mut diagnostics).is_err());
            assert!(diagnostics.iter().all(|d| !d.help.is_empty() && d.at.to_string().starts_with("cup.")));
        }
    }
}
