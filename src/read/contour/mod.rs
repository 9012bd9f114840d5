//! [`contour`]: how a cup's wall runs, from a photograph taken from the side.
//!
//! The tape tells how wide the cup is at two heights or more, the maker how far the lens stood from its axis; the
//! picture tells what lies between. The cup's outline is found to parts of a pixel (`edge`), each of its points
//! is taken back to the wall that was seen ([`view`]), and the wall is scaled so that it has the tape's girths
//! (`wall`). What an outline says is good up to a constant and a slope; those stay the tape's.
//!
//! Synthetic pictures of four walls, 12 million pixels, lens at half a metre: the radius between two exact girths
//! is off by .05 mm at most, with all small faults of a hand-held picture by .1 (computed beforehand;
//! `tests/outside/photo.py` has pictures that a ray tracer makes).
//!
//! Imports: base, read::{job, picture}.

mod edge;
pub mod view;
mod wall;
#[cfg(test)]
mod tests;

use crate::base::diag::{Code, Diagnostic, Diagnostics, ErrorGuaranteed, KeyPath};
use crate::base::units::{Angle, Mm};
use crate::read::job::Ring;
use crate::read::picture::Picture;

/// No cup is seen.
pub const NO_CUP: Code = Code {
    id: "photo/no-cup",
    title: "no cup stands out from the ground of the picture",
    explain: "A cup's outline is read from a picture in which it stands alone before one plain ground, lighter or \
        darker than the cup: a large sheet of paper that runs on under the cup and up behind it. No flash, no \
        \"portrait\" effect, the light from the sides. Take a dark cup before white, a white one before grey.",
};
/// The cup leaves the picture.
pub const CUT_OFF: Code = Code {
    id: "photo/cut-off",
    title: "the cup leaves the picture, or something else does",
    explain: "The whole cup must be seen with ground on either side, above and below it; best in the middle half of \
        the picture, where lenses are true.",
};
/// The two sides differ.
pub const UNLIKE: Code = Code {
    id: "photo/sides-unlike",
    title: "the two sides of the cup in the picture are not alike",
    explain: "A cup is round: left and right of its axis its outline is the same. Where one side stands out (a \
        handle, a spout) the other is taken; when the sides differ over more than two thirds of the wall there is no \
        axis to be found. Turn the cup until the handle points at the lens, or away from it.",
};
/// Too few pixels.
pub const COARSE: Code = Code {
    id: "photo/coarse",
    title: "the cup has too few pixels in the picture",
    explain: "An edge is found to about a quarter of a pixel. Below two pixels a millimetre that is more than a tape \
        strays by. Take the picture from nearer (half a metre), or with more pixels.",
};
/// Picture and tape disagree.
pub const DISAGREES: Code = Code {
    id: "photo/disagrees",
    title: "the picture and the tape do not tell of the same cup",
    explain: "The picture is scaled so that it has the tape's girths. Its wall must then be as long as was measured \
        (within 3 percent) and lean as much. If not, the lens stood elsewhere than `--distance` says, a ring was \
        read wrongly, or the ends in the picture are not those of the wall: a rolled lip above it (`--above`), a \
        foot below it (`--below`).",
};

/// All codes of this module.
pub const CODES: &[&Code] = &[&NO_CUP, &CUT_OFF, &UNLIKE, &COARSE, &DISAGREES];

/// How a picture was taken.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Stand {
    /// From the lens to the cup's axis.
    pub distance: Mm,
    /// Height of the lens over the base edge; none: found in the arcs of rim and base, or level with the wall's
    /// middle.
    pub lens: Option<Mm>,
    /// How much of the cup stands above the wall's rim, straight up.
    pub above: Mm,
    /// How much of it stands below the base edge.
    pub below: Mm,
}

/// A turn of the wall within a few millimetres.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Turn {
    /// Up the wall.
    pub up: Mm,
    /// By how much its lean changes; positive outward, going up.
    pub by: Angle,
}

/// What a picture says of a wall.
#[derive(Clone, Debug, PartialEq)]
pub struct Contour {
    /// Heights up the wall and girths there, lowest first.
    pub points: Vec<(Mm, Mm)>,
    /// How far one of them strays from its neighbours, as a standard uncertainty.
    pub strays: Mm,
    /// Length of the wall in the picture, scaled by the girths.
    pub wall: Mm,
    /// What was added to the girths at base edge and rim so that they are the tape's.
    pub added: [Mm; 2],
    /// Largest distance of a point from the straight line through them, round the wall.
    pub bow: Mm,
    /// Pixels a millimetre at the axis.
    pub fineness: f64,
    /// Height of the lens over the base edge, as said or found.
    pub lens: Mm,
    /// How far the picture was rolled.
    pub roll: Angle,
    /// Heights between which one side stood out and the other was taken.
    pub one_side: Option<(Mm, Mm)>,
    /// Edges that a tape would miss.
    pub turns: Vec<Turn>,
    /// The outline as found, in pixels from the picture's top left: left side, right side, from the top.
    pub drawn: [Vec<(f64, f64)>; 2],
    /// Where the wall ends down its middle, in pixels: top, bottom.
    pub ends: [(f64, f64); 2],
}

/// Pixels a millimetre below which a picture is refused.
const LEAST_FINENESS: f64 = 2.0;
/// Part by which the wall's length in the picture may be off.
const LENGTH_WITHIN: f64 = 0.03;
/// Rows that must show the cup.
const LEAST_ROWS: usize = 100;
/// Part of the rows on which the sides may differ.
const MOST_UNLIKE: f64 = 0.65;
/// Light that the ground may stray by.
const UNEVEN: f64 = 0.05;

/// Reads a wall from a picture of it; `name` and `at` say in messages which. Rings are at two heights or more.
///
/// # Errors
/// One of [`CODES`].
pub fn contour(
    (name, picture): (&str, &Picture),
    (rings, wall): (&[Ring], Mm),
    stand: &Stand,
    at: &KeyPath,
    diagnostics: &mut Diagnostics,
) -> Result<Contour, ErrorGuaranteed> {
    let found = edge::edges(picture);
    let fault = |code, message: String| Diagnostic::fault(code, at.clone(), message).file(name);
    let rows = found.rows.iter().flatten().count();
    let no_cup = || fault(&NO_CUP, format!("no cup stands out from the ground of \"{name}\""));
    if found.cut_off {
        let d = fault(
            &CUT_OFF,
            format!("the cup in \"{name}\", or something else, reaches a side of the picture"),
        );
        return Err(diagnostics.push(d.help("take it with ground all round the cup, or cut less off")));
    }
    if found.ground > UNEVEN {
        let d =
            no_cup().measured(format!("the ground's light strays by {:.0} percent", found.ground * 100.0));
        let d = d.allowed(format!("up to {:.0} percent", UNEVEN * 100.0));
        return Err(diagnostics.push(d.help("take it before one plain ground that runs on under the cup")));
    }
    let (Some(ends), true) = (found.ends, rows >= LEAST_ROWS) else {
        let d = no_cup().measured(format!("{rows} rows with an edge on either side"));
        return Err(diagnostics.push(
            d.allowed(format!("{LEAST_ROWS} or more, and an end above and below"))
                .help("take it before a ground that is lighter or darker than the cup"),
        ));
    };
    let seen = wall::seen(picture, (&found, ends), (rings, wall), stand);
    let seen = match seen {
        Ok(seen) => seen,
        Err(wall::Trouble::Unlike(part)) => {
            let d = fault(&UNLIKE, format!("the two sides of the cup in \"{name}\" are not alike"));
            let d = d.measured(format!("over {:.0} percent of the wall", part * 100.0));
            let d = d.allowed(format!("up to {:.0} percent", MOST_UNLIKE * 100.0));
            return Err(diagnostics.push(d.help("turn the cup until its handle points at the lens or away")));
        }
        Err(wall::Trouble::NoWall) => {
            return Err(diagnostics.push(
                no_cup().help("check `--distance`, and that the whole wall is seen from base edge to rim"),
            ));
        }
    };
    judged(seen, (name, wall), at, diagnostics)
}

/// Holds what was seen to what was measured.
fn judged(
    seen: Contour,
    (name, wall): (&str, Mm),
    at: &KeyPath,
    diagnostics: &mut Diagnostics,
) -> Result<Contour, ErrorGuaranteed> {
    let fault = |code, message: String| Diagnostic::fault(code, at.clone(), message).file(name);
    if seen.fineness < LEAST_FINENESS {
        let d = fault(&COARSE, format!("the cup in \"{name}\" has too few pixels"));
        let d = d.measured(format!("{:.1} a millimetre", seen.fineness));
        let d = d.allowed(format!("{LEAST_FINENESS} or more, 5 are good"));
        return Err(diagnostics.push(d.help("take it from nearer, or with more pixels")));
    }
    let off = seen.wall / wall - 1.0;
    if off.abs() > LENGTH_WITHIN {
        let side = if off > 0.0 { "longer" } else { "shorter" };
        let d = fault(&DISAGREES, format!("the wall in \"{name}\" is {side} than was measured"));
        let d = d.measured(format!("{} by the girths' scale, {wall} by the tape", seen.wall));
        return Err(diagnostics
            .push(d.allowed(format!("within {:.0} percent", LENGTH_WITHIN * 100.0)).help(
            "measure `--distance` from the lens to the cup's axis; say what of the cup stands above the rim \
                (`--above`) and below the base edge (`--below`); read the rings again",
        )));
    }
    Ok(seen)
}
