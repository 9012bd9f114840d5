//! Re-measures every promise by a second method; only it makes a [`Verified`] plan.
//!
//! The makers measure with trees of boxes on chords within `FLATTEN`; here all outlines are flattened again, four
//! times finer, and measured edge by edge in a grid; areas and insides come from the geo crate.
//!
//! Imports: base, read::job, make.

mod grid;
mod decals;
mod sheets;
mod wall;
mod base;

use crate::base::diag::{Code, Diagnostic, KeyPath};
use crate::base::tolerance::PASSING;
use crate::base::units::Mm;
use crate::make::plan::Plan;
use crate::outline::{Flat, Region};
use serde::Serialize;

/// A promise is broken: a defect of this program, not of the job.
pub const BROKEN: Code = Code {
    id: "verify/promise-broken",
    title: "a finished plan does not keep a promise",
    explain: "Before anything is written, every distance, place and count of the plan is measured again by another method. One \
              of them came out wrong. Nothing was written. This is a defect of the program, not of the job: please \
              report it with the job file. Until it is mended, another seed or a slightly larger clearance often helps.",
};

/// All codes of this module.
pub const CODES: &[&Code] = &[&BROKEN];

/// Chords of the second measuring: half a thousandth of a millimetre.
const FINE: Mm = PASSING;

/// A plan whose promises were re-measured: the only thing that writers take.
#[derive(Clone, Debug)]
pub struct Verified {
    plan: Plan,
    report: Report,
}

/// What was measured again.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct Report {
    /// Pieces on the wall.
    pub pieces_on_wall: u64,
    /// Pairs of edges measured on the wall, seam copies included.
    pub edge_pairs_on_wall: u64,
    /// Least room on the wall beyond what the pair of pieces asks for; none if no two are near.
    #[serde(rename = "least_spare_on_wall_mm")]
    pub least_spare_on_wall: Option<Mm>,
    /// Layers of decals.
    pub decal_layers: u64,
    /// Least that a layer of a decal reaches out, or a hollow stays in, beyond what was asked.
    #[serde(rename = "least_spare_between_layers_mm")]
    pub least_spare_between_layers: Option<Mm>,
    /// Pieces on sheets, spares included.
    pub pieces_on_sheets: u64,
    /// Pairs of edges measured on the sheets.
    pub edge_pairs_on_sheets: u64,
    /// Least room on a sheet beyond the film's spacing.
    #[serde(rename = "least_spare_on_sheets_mm")]
    pub least_spare_on_sheets: Option<Mm>,
}

impl Report {
    /// Both: counts added, the least of what is least.
    fn and(&self, other: &Report) -> Report {
        let least = |a: Option<Mm>, b: Option<Mm>| match (a, b) {
            (Some(a), Some(b)) => Some(a.min(b)),
            (a, b) => a.or(b),
        };
        Report {
            pieces_on_wall: self.pieces_on_wall + other.pieces_on_wall,
            edge_pairs_on_wall: self.edge_pairs_on_wall + other.edge_pairs_on_wall,
            least_spare_on_wall: least(self.least_spare_on_wall, other.least_spare_on_wall),
            decal_layers: self.decal_layers + other.decal_layers,
            least_spare_between_layers: least(
                self.least_spare_between_layers,
                other.least_spare_between_layers,
            ),
            pieces_on_sheets: self.pieces_on_sheets + other.pieces_on_sheets,
            edge_pairs_on_sheets: self.edge_pairs_on_sheets + other.edge_pairs_on_sheets,
            least_spare_on_sheets: least(self.least_spare_on_sheets, other.least_spare_on_sheets),
        }
    }
}

impl std::ops::Deref for Verified {
    type Target = Plan;
    fn deref(&self) -> &Plan {
        &self.plan
    }
}

impl Verified {
    /// What was measured.
    pub fn report(&self) -> &Report {
        &self.report
    }
    /// For tests of writers inside this crate: takes the caller's word.
    #[cfg(test)]
    #[allow(dead_code, reason = "used by the tests of writers")]
    pub(crate) fn unchecked(plan: Plan) -> Verified {
        Verified { plan, report: Report::default() }
    }
}

/// Measures everything again.
///
/// # Errors
/// One fault for each broken promise, with what was measured and what was promised.
pub fn verify(plan: Plan) -> Result<Verified, Vec<Diagnostic>> {
    let mut broken = Vec::new();
    let mut report = Report::default();
    numbers(&plan, &mut broken);
    if broken.is_empty() {
        let on = |check: fn(&Plan, &mut Report, &mut Vec<Diagnostic>)| {
            let (mut report, mut broken) = (Report::default(), Vec::new());
            check(&plan, &mut report, &mut broken);
            (report, broken)
        };
        let (wall, (decals, (sheets, base))) = rayon::join(
            || on(wall::check),
            || rayon::join(|| on(decals::check), || rayon::join(|| on(sheets::check), || on(base::check))),
        );
        for (part, faults) in [wall, decals, sheets, base] {
            report = report.and(&part);
            broken.extend(faults);
        }
    }
    if broken.is_empty() { Ok(Verified { plan, report }) } else { Err(broken) }
}

/// Numbers run from 1 without a gap, and every film is in the job.
fn numbers(plan: &Plan, broken: &mut Vec<Diagnostic>) {
    for (i, piece) in plan.pieces.iter().enumerate() {
        if piece.number as usize != i + 1 {
            broken.push(breach(
                format!("piece {} stands at place {}", piece.number, i + 1),
                piece.number,
                i + 1,
            ));
        }
        if piece.film.0 >= plan.job.films.len() {
            broken.push(breach("a piece's film is not in the job", piece.film.0, plan.job.films.len()));
        }
        if piece.outline.is_empty() || piece.outline.area().0 <= 0.0 {
            broken.push(breach(
                format!("piece {} has no area", piece.number),
                piece.outline.area(),
                "above 0",
            ));
        }
    }
}

fn breach(
    message: impl Into<String>,
    measured: impl std::fmt::Display,
    allowed: impl std::fmt::Display,
) -> Diagnostic {
    Diagnostic::fault(&BROKEN, KeyPath::root(), message)
        .measured(measured)
        .allowed(allowed)
        .help("nothing was written; try another seed, and report this job")
}

/// Rings of a region, flattened finely.
fn rings<F: crate::base::frame::Frame>(region: &Region<F>) -> Flat<F> {
    region.flat(FINE)
}

/// A ring as a geo polygon.
fn filled(ring: &[[f64; 2]]) -> geo::Polygon {
    let corners: Vec<_> = ring.iter().map(|p| (p[0], p[1])).collect();
    geo::Polygon::new(geo::LineString::from(corners), Vec::new())
}

/// A flat region as a geo polygon set: outer rings with the holes that lie in them, for areas and insides.
fn area_by_geo<F: crate::base::frame::Frame>(flat: &Flat<F>) -> f64 {
    use geo::Area;
    flat.rings.iter().map(|r| filled(r).signed_area()).sum()
}

/// Is the corner inside the rings (even-odd), by geo's robust predicates?
fn inside_by_geo<F: crate::base::frame::Frame>(flat: &Flat<F>, corner: [f64; 2]) -> bool {
    use geo::coordinate_position::{CoordPos, CoordinatePosition};
    let at = geo::Coord { x: corner[0], y: corner[1] };
    let count = flat.rings.iter().filter(|r| filled(r).coordinate_position(&at) == CoordPos::Inside);
    count.count() % 2 == 1
}

#[cfg(test)]
mod tests;
