//! `curved = true`: what a wall must be to be laid out as a curve, and the cones that then stand for it.
//!
//! Imports: base, read::job::{codes, model, section, chain, line, curve}.

use super::chain::{GirthChain, Girths, Stretch};
use super::codes;
use super::curve::GirthCurve;
use super::line::GirthLine;
use super::model::{Outline, Ring};
use super::section::Section;
use crate::base::diag::{Diagnostic, ErrorGuaranteed};
use crate::base::units::Mm;

/// The cones that stand for a wall: of a curve, between edges, or one.
pub(super) fn stretches(
    (rings, outlines): (&[Ring], &[Outline]),
    wall: Mm,
    (tape, marks): (Mm, Mm),
    curved: bool,
) -> Vec<Stretch> {
    let curve = curved.then(|| GirthCurve::found(rings, outlines, wall, tape, marks)).flatten();
    if let Some(curve) = curve {
        curve.cones().iter().map(|p| p.stretch).collect()
    } else if rings.iter().any(|r| r.edge) {
        GirthChain::through(rings, wall, tape, marks).stretches().collect()
    } else {
        let line = GirthLine::through(rings, tape, marks);
        let (lower, upper) = (line.at(Mm::ZERO), line.at(wall));
        vec![Stretch { low: Mm::ZERO, high: wall, lower, upper }]
    }
}

/// A curved wall is read at three heights or more, or at two and seen in a photograph, nearly to both of its ends,
/// and has no edge.
pub(super) fn can_be(
    cup: &Section<'_>,
    rings: &[Ring],
    outlines: &[Outline],
    wall: Mm,
) -> Result<(), ErrorGuaranteed> {
    let show = |mm| cup.reader().show(mm);
    if let Some(edge) = rings.iter().find(|r| r.edge) {
        let at = cup.path("rings").index(edge.place).key("edge");
        let d = Diagnostic::fault(&codes::CURVED, at, "a curved wall has no edge");
        return Err(cup.reader().push(d.help(
            "take `edge` out there, or `curved`: give a foot or a shoulder as edges, and of a belly between \
                them only the part that is straight",
        )));
    }
    if rings.len() < 3 && outlines.is_empty() {
        let d = cup.fault(&codes::CURVED, "curved", "two heights show no curve");
        return Err(cup.reader().push(d.measured("2 heights").allowed("3 or more").help(
            "read rings between them, five to seven are best; or take a photograph from the side: `frusta \
                        measure JOB --photo PICTURE`",
        )));
    }
    let far = wall * 0.1;
    let seen = outlines.iter().map(|o| (o.points[0].0, wall - o.points[o.points.len() - 1].0));
    let read = (rings[0].slant, wall - rings[rings.len() - 1].slant);
    let (low, high) = seen.fold(read, |(l, h), (a, b)| (l.min(a), h.min(b)));
    for (from, place, end) in [(low, 0, "base edge"), (high, rings.len() - 1, "rim")] {
        if from > far {
            let at = cup.path("rings").index(rings[place].place).key("up");
            let d =
                Diagnostic::fault(&codes::CURVED, at, format!("a curved wall is not known out to the {end}"));
            return Err(cup.reader().push(
                d.measured(format!("{} from it", show(from)))
                    .allowed(format!("up to {}, a tenth of the wall", show(far)))
                    .help(format!("read one more ring near the {end}")),
            ));
        }
    }
    Ok(())
}
