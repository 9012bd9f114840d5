//! Does a piece fit on any blank of its film, and turned how?
//!
//! Imports: base, read::job, make::piece, make::film::{stock, solid, fill, hops}.

use super::fill::fits;
use super::hops::is_spot;
use super::solid::{Solid, Turn, angles};
use super::stock::Bin;
use crate::base::diag::{Code, Diagnostic, Diagnostics, ErrorGuaranteed, KeyPath};
use crate::base::units::{Angle, Mm};
use crate::make::piece::Piece;
use crate::read::job::{Effort, FilmId, FilmSpec, Grain, Lay, Turned};
use std::cmp::Reverse;

pub(super) const TOO_LARGE: Code = Code {
    id: "film/piece-too-large",
    title: "A piece fits on no sheet of its film",
    explain: "The piece, turned as the film's grain allows, is larger than the usable part of every sheet \
        (the sheet less its margin all round). Make the piece smaller, allow turning, or name a larger \
        sheet.",
};

/// Turns of a solid at which it fits on some blank.
pub(super) fn allowed_turns(
    solid: &Solid,
    film: &FilmSpec,
    margin: Mm,
    effort: Effort,
    blanks: &[Bin],
) -> Vec<Turn> {
    let free = match effort {
        Effort::Quick => 4,
        Effort::Normal | Effort::Thorough => 8,
    };
    let fit = |a: Angle| {
        let t = solid.turned(a);
        blanks.iter().any(|b| fits(&t, b.usable(margin))).then_some(t)
    };
    let usual: Vec<Turn> = angles(film.grain, free).into_iter().filter_map(fit).collect();
    if !usual.is_empty() || film.grain != Grain::Free {
        return usual;
    }
    // A long piece may fit askew only.
    (0..360).map(|d| Angle::degrees(f64::from(d) / 2.0)).filter_map(fit).take(1).collect()
}

/// The turn of a spot that lies on the sheet as it stands on the wall, if the film asks for that.
pub(super) fn stands(piece: &Piece, film: &FilmSpec) -> Option<Angle> {
    let lay = film.cut.lay;
    let turn = if film.mirrored { -piece.wall.turn } else { piece.wall.turn };
    (is_spot(piece) && lay.how == Lay::Woven && lay.turned == Turned::AsPlaced).then_some(turn)
}

/// The fault of a piece that fits on none.
pub(super) fn too_large(
    piece: &Piece,
    solid: &Solid,
    id: FilmId,
    film: &FilmSpec,
    (margin, blanks): (Mm, &[Bin]),
    diagnostics: &mut Diagnostics,
) -> ErrorGuaranteed {
    let size = solid.turned(Angle::ZERO).size;
    let largest = blanks
        .iter()
        .max_by_key(|b| {
            let [w, h] = b.usable(margin);
            Reverse(-(w * h) as i64)
        })
        .expect("a film comes as something");
    let [w, h] = largest.usable(margin);
    diagnostics.push(
        Diagnostic::fault(
            &TOO_LARGE,
            KeyPath::of("film").index(id.0),
            format!("piece {} ({}) fits on no sheet of film {}", piece.number, piece.name, film.name),
        )
        .measured(format!("{} x {}", Mm(size[0]), Mm(size[1])))
        .allowed(format!("{} x {} inside the margin of {}", Mm(w), Mm(h), largest.message()))
        .help("make the piece smaller, let it turn, or name a larger sheet"),
    )
}
