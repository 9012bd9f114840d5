//! `[[cup.outline]]`: how the wall runs in a photograph, as `frusta measure --photo` writes it.
//!
//! Imports: base, read::job::{codes, model, rows, section}.

use super::codes;
use super::model::Outline;
use super::rows::cup as rows;
use super::section::{Item, Section};
use crate::base::diag::{Diagnostic, ErrorGuaranteed};
use crate::base::units::Mm;

/// Outlines that a cup may have.
const MOST: usize = 12;
/// Part of the wall that an outline spans at least.
const LEAST_SPAN: f64 = 0.5;

/// Reads the outlines.
pub(super) fn read(cup: &Section<'_>) -> Result<Vec<Outline>, ErrorGuaranteed> {
    let all: Vec<_> = cup.tables(&rows::OUTLINE, MOST).into_iter().map(|s| s.and_then(outline)).collect();
    all.into_iter().collect()
}

fn outline(section: Section<'_>) -> Result<Outline, ErrorGuaranteed> {
    let picture = section.key(&rows::outline::PICTURE).optional();
    let strays = section.key(&rows::outline::STRAYS).or_usual();
    let points = section
        .own(&rows::outline::POINTS, |item| item.list(point))
        .counting(5..=60, "points")
        .held(|points: &Vec<(Mm, Mm)>, at| {
            let i = points.windows(2).position(|w| w[1].0 <= w[0].0)? + 1;
            let at = at.index(i).key("up");
            let d = Diagnostic::fault(&codes::OUTLINE, at, "a point is no higher than the one before it");
            Some(d.measured(points[i].0).help("write the points from the base edge up, each height once"))
        })
        .required();
    section.done();
    picture?;
    Ok(Outline { points: points?, strays: strays? })
}

fn point(item: &Item<'_>) -> Result<(Mm, Mm), ErrorGuaranteed> {
    let section = item.section()?;
    let up = section.key(&rows::outline_point::UP).required();
    let girth = section.key(&rows::outline_point::GIRTH).required();
    section.done();
    Ok((up?, girth?))
}

/// Holds outlines to the wall, and to a wall that they can speak of.
pub(super) fn on_wall(
    cup: &Section<'_>,
    outlines: &[Outline],
    wall: Mm,
    edged: bool,
) -> Result<(), ErrorGuaranteed> {
    let show = |mm| cup.reader().show(mm);
    let mut ok = Ok(());
    if edged && !outlines.is_empty() {
        let message = "an outline tells the curve of a wall, and this one has edges";
        let d = cup.fault(&codes::OUTLINE, "outline", message);
        ok = Err(cup.reader().push(d.help(
            "take `outline` out: read a ring on each edge, and one on either side of it; the outline's picture \
                shows where they are",
        )));
    }
    for (i, o) in outlines.iter().enumerate() {
        let at = cup.path("outline").index(i).key("points");
        let (low, high) = (o.points[0].0, o.points[o.points.len() - 1].0);
        let d = if high > wall {
            let at = at.index(o.points.len() - 1).key("up");
            Diagnostic::fault(&codes::OUTLINE, at, "a point of an outline lies above the rim")
                .measured(show(high))
                .allowed(format!("0 to the wall's length, {}", show(wall)))
                .help("measure the photograph again with this wall, or correct `wall`")
        } else if high - low < wall * LEAST_SPAN {
            Diagnostic::fault(&codes::OUTLINE, at, "an outline spans too little of the wall")
                .measured(format!("{} of {}", show(high - low), show(wall)))
                .allowed(format!("{} or more", show(wall * LEAST_SPAN)))
                .help("take a picture in which the wall is seen from base edge to rim")
        } else {
            continue;
        };
        ok = Err(cup.reader().push(d));
    }
    ok
}
