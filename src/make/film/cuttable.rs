//! Can an outline be cut, and can a leftover be cut from? What is refused before film is laid out.
//!
//! Imports: base, outline, read::job, make::piece, make::film::stock.

use super::stock::Offcut;
use crate::base::diag::{Code, Diagnostic, Diagnostics, ErrorGuaranteed, KeyPath};
use crate::base::frame::{Art, Frame};
use crate::base::tolerance::{FLATTEN, LARGEST_COORDINATE, MEASURE, PASSING, SPECK_MM2};
use crate::make::piece::Piece;
use crate::outline::plane::{ring_area, segments_cross_beyond};
use crate::outline::{Bounds, Flat};
use crate::read::job::FilmId;

pub(super) const BAD_OUTLINE: Code = Code {
    id: "film/outline-cannot-be-cut",
    title: "A piece's outline encloses nothing, or lies too far out",
    explain: "Film is laid out by the area that an outline encloses. An outline without area, or with \
        coordinates beyond a hundred metres, is a slip in the art or in a unit.",
};
pub(super) const CROSSING: Code = Code {
    id: "film/outline-crosses-itself",
    title: "A piece's outline crosses itself",
    explain: "The blade would cut through the piece where its outline crosses itself. Draw the outline \
        without the crossing, or as two outlines.",
};
pub(super) const BAD_LEFTOVER: Code = Code {
    id: "film/leftover-cannot-be-used",
    title: "A leftover encloses nothing, or lies too far out",
    explain: "The file of a leftover says what is there of a sheet, at its own size. One without area, or \
        with coordinates beyond a hundred metres, says nothing that can be cut from.",
};

fn far<F: Frame>(b: &Bounds<F>) -> bool {
    [b.min.x, b.min.y, b.max.x, b.max.y].iter().any(|v| v.is_nan() || v.abs() > LARGEST_COORDINATE.0)
}

/// Does the outline of a piece enclose film, and lie near enough?
///
/// # Errors
/// The fault, reported.
pub(super) fn cuttable(piece: &Piece, diagnostics: &mut Diagnostics) -> Result<(), ErrorGuaranteed> {
    let b = piece.cut().bounds();
    if !piece.outline.is_empty() && far(&b) {
        return Err(diagnostics.push(
            Diagnostic::fault(
                &BAD_OUTLINE,
                KeyPath::of("film").index(piece.film.0),
                format!("the outline of piece {} ({}) lies too far out", piece.number, piece.name),
            )
            .measured(format!(
                "{:.0} mm",
                b.max.x.abs().max(b.min.x.abs()).max(b.max.y.abs()).max(b.min.y.abs())
            ))
            .allowed(format!("at most {LARGEST_COORDINATE}"))
            .help("check the unit of the art's size"),
        ));
    }
    let flat = piece.outline.flat(FLATTEN);
    let area: f64 = flat.rings.iter().map(|r| ring_area(r)).sum();
    if area < SPECK_MM2 {
        return Err(diagnostics.push(
            Diagnostic::fault(
                &BAD_OUTLINE,
                KeyPath::of("film").index(piece.film.0),
                format!("the outline of piece {} ({}) encloses nothing", piece.number, piece.name),
            )
            .measured(format!("{area:.4} mm2"))
            .allowed(format!("at least {SPECK_MM2} mm2"))
            .help("close the outline, or leave the piece out"),
        ));
    }
    Ok(())
}

/// Does an outline keep off itself? The blade would cut the piece in two where it does not.
///
/// # Errors
/// The fault, reported.
pub(super) fn uncrossed(
    piece: &Piece,
    fine: &Flat<Art>,
    diagnostics: &mut Diagnostics,
) -> Result<(), ErrorGuaranteed> {
    // Coarse chords of curves that pass closely may cross where the curves do not.
    let Some(at) = crossing(fine).and_then(|_| crossing(&piece.cut().flat(PASSING))) else { return Ok(()) };
    Err(diagnostics.push(
        Diagnostic::fault(
            &CROSSING,
            KeyPath::of("film").index(piece.film.0),
            format!("the outline of piece {} ({}) crosses itself", piece.number, piece.name),
        )
        .measured(format!("at {:.2}, {:.2} mm from its origin", at[0], at[1]))
        .allowed("no crossing")
        .help("draw the outline without the crossing, or as two outlines"),
    ))
}

/// Where two edges of the polylines cross, the leftmost first: edges in order of their left ends, each asked
/// against those that start before it ends.
fn crossing<F: Frame>(flat: &Flat<F>) -> Option<[f64; 2]> {
    let edge = |r: &[[f64; 2]], i: usize| (r[i], r[(i + 1) % r.len()]);
    let mut edges: Vec<([f64; 2], [f64; 2])> =
        flat.rings.iter().flat_map(|r| (0..r.len()).map(move |i| edge(r, i))).collect();
    let left = |e: &([f64; 2], [f64; 2])| e.0[0].min(e.1[0]);
    edges.sort_by(|a, b| left(a).total_cmp(&left(b)));
    for (k, one) in edges.iter().enumerate() {
        let right = one.0[0].max(one.1[0]);
        let (low, high) = (one.0[1].min(one.1[1]), one.0[1].max(one.1[1]));
        for two in edges[k + 1..].iter().take_while(|e| left(e) < right) {
            if two.0[1].min(two.1[1]) < high
                && two.0[1].max(two.1[1]) > low
                && segments_cross_beyond(one.0, one.1, two.0, two.1, MEASURE.0)
            {
                return Some(one.0);
            }
        }
    }
    None
}

/// Are the leftovers of a film something that can be cut from?
///
/// # Errors
/// Those that are not, each reported.
pub(super) fn usable(
    left: &[Offcut],
    film: FilmId,
    diagnostics: &mut Diagnostics,
) -> Result<(), ErrorGuaranteed> {
    let mut failed = None;
    for (k, l) in left.iter().enumerate() {
        let at = KeyPath::of("film").index(film.0).key("leftovers").index(k);
        let area = l.shape.area().0;
        let b = l.shape.bounds();
        let (message, measured) = if area.is_nan() || area < SPECK_MM2 {
            ("encloses nothing", format!("{area:.4} mm2"))
        } else if far(&b) {
            ("lies too far out", format!("{} x {}", b.width(), b.height()))
        } else {
            continue;
        };
        let fault = Diagnostic::fault(&BAD_LEFTOVER, at, format!("leftover {} {message}", l.name));
        failed = Some(diagnostics.push(fault.measured(measured).help("name another file, or none")));
    }
    failed.map_or(Ok(()), Err)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::units::Mm;

    /// Truth: by eye.
    #[test]
    fn crossings_are_found_and_touches_are_not() {
        let flat = |rings: Vec<Vec<[f64; 2]>>| Flat::<Art>::new(rings, Mm(0.0));
        let bow = vec![[0.0, 0.0], [10.0, 6.0], [10.0, 0.0], [0.0, 9.0]];
        assert!(crossing(&flat(vec![bow])).is_some());
        let square = vec![[0.0, 0.0], [10.0, 0.0], [10.0, 10.0], [0.0, 10.0]];
        let beside = vec![[10.0, 10.0], [20.0, 10.0], [15.0, 20.0]];
        assert!(crossing(&flat(vec![square.clone(), beside])).is_none(), "a corner is shared");
        let over = vec![[5.0, 5.0], [15.0, 5.0], [15.0, 8.0], [5.0, 8.0]];
        assert!(crossing(&flat(vec![square, over])).is_some());
    }
}
