//! Can a blade cut it and a person weed it: where finished outlines, or the waste in them, are too narrow for
//! their film.
//!
//! ```text
//!    __________        ________
//!   |  piece   |__  __|        |     a bridge: film that tears when the waste is pulled
//!   |           __  __         |
//!   |__________|  ||  |________|     a slit: waste that tears, or pulls the piece up
//! ```
//!
//! Imports: base, outline, read::job, make::piece.

use super::piece::{Kind, Piece};
use crate::base::diag::{Code, Diagnostic, Diagnostics, KeyPath};
use crate::base::frame::{Art, Point};
use crate::base::units::Mm;
use crate::outline::{Narrow, NarrowKind, Region, Touch, Widths};
use crate::read::job::{FilmId, FilmSpec};
use rayon::prelude::*;
use serde::Serialize;
use std::collections::BTreeMap;

/// A part of a piece is narrower than its film allows.
pub const THIN: Code = Code {
    id: "weed/too-thin",
    title: "a part of a piece is too thin to be weeded",
    explain: "Film narrower than the film's smallest weedable feature (`weed`) tears or comes up with the \
        waste. Each place is told with its width, and stands in the manifest. Make the motif larger, \
        thicken the drawing there, or give the film a smaller `weed` if you have weeded finer parts of it \
        before.",
};
/// Waste within a piece is narrower than its film allows.
pub const TIGHT: Code = Code {
    id: "weed/too-tight",
    title: "a gap or a hole in a piece is too narrow to be weeded",
    explain: "Waste in slits, counters and small holes has to come out in one piece: where it is narrower \
        than the film's smallest weedable feature (`weed`) it tears, or lifts the edge beside it. Open the \
        gap in the drawing, close it altogether, or make the motif larger.",
};
/// An outline has stretches that stay polylines.
pub const STEPPED: Code = Code {
    id: "weed/stepped",
    title: "a stretch of an outline is cut in short straight steps",
    explain: "Where two curves of an outline pass each other within a hundredth of a millimetre, smooth \
        curves could cross: the outline there is cut as a chain of short lines instead. Its shape is right \
        within 0.01 mm, but a blade meets more corners than it need. Move the two edges apart in the \
        drawing, or join them.",
};
/// Narrow places of a motif were mended.
pub const MENDED: Code = Code {
    id: "weed/mended",
    title: "narrow places of a motif were thickened or filled",
    explain: "The motif says `mend = true`: where it is narrower than its film's smallest weedable feature, \
        film is added there and nowhere else. Look at the piece on the sheet's picture. What is narrow even \
        then is told as before.",
};

/// All codes of this module.
pub const CODES: &[&Code] = &[&THIN, &TIGHT, &STEPPED, &MENDED];

/// What is narrow.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum DefectKind {
    /// Film between two wider parts, or a thin stroke.
    Bridge,
    /// Film that runs out thin.
    Tip,
    /// A part of the piece, as a whole.
    Speck,
    /// Waste between two sides of the piece.
    Slit,
    /// Waste that runs out thin.
    Notch,
    /// A whole hole.
    Hole,
}

impl DefectKind {
    /// In the maker's words.
    pub fn words(self) -> &'static str {
        match self {
            DefectKind::Bridge => "a bridge of film",
            DefectKind::Tip => "a thin tip",
            DefectKind::Speck => "a small part",
            DefectKind::Slit => "a slit",
            DefectKind::Notch => "a thin notch",
            DefectKind::Hole => "a small hole",
        }
    }
    fn of(kind: NarrowKind, film: bool) -> DefectKind {
        match (kind, film) {
            (NarrowKind::Neck, true) => DefectKind::Bridge,
            (NarrowKind::Tip, true) => DefectKind::Tip,
            (NarrowKind::Whole, true) => DefectKind::Speck,
            (NarrowKind::Neck, false) => DefectKind::Slit,
            (NarrowKind::Tip, false) => DefectKind::Notch,
            (NarrowKind::Whole, false) => DefectKind::Hole,
        }
    }
    /// Film that is too thin; else waste that is.
    pub fn is_film(self) -> bool {
        matches!(self, DefectKind::Bridge | DefectKind::Tip | DefectKind::Speck)
    }
}

/// One narrow place of an outline.
#[derive(Clone, Debug, PartialEq)]
pub struct NarrowPlace {
    /// Numbers of the pieces with this outline, the first first.
    pub pieces: Vec<u32>,
    /// What it is.
    pub what: DefectKind,
    /// Its width.
    pub width: Mm,
    /// What the film asks for.
    pub limit: Mm,
    /// The points on either side of it, in the piece's own frame.
    pub at: [Point<Art>; 2],
    /// How long it is narrower than the limit.
    pub length: Mm,
}

/// Looks at every outline once; copies of a motif share theirs.
///
/// Each outline with narrow places gives one warning for film and one for waste, with the narrowest place;
/// all places are returned, by piece, film before waste, narrowest first.
pub fn check(pieces: &[Piece], films: &[FilmSpec], diagnostics: &mut Diagnostics) -> Vec<NarrowPlace> {
    WidthReport::default().check(pieces, films, diagnostics)
}

/// Motifs that were looked at before they are laid: where one goes changes nothing of its outline.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct WidthReport(Vec<Places>);

/// Narrow places of an outline: of film, then of waste.
type Places = Vec<(Narrow<Art>, bool)>;

impl WidthReport {
    /// The outlines of all motifs, in their order in the job, each with what its film asks for.
    pub fn at(motifs: &[(&Region<Art>, Mm)]) -> WidthReport {
        WidthReport(
            motifs.par_iter().with_max_len(1).map(|(outline, limit)| places(outline, *limit)).collect(),
        )
    }
    /// As [`check`], with nothing looked at again.
    pub fn check(
        &self,
        pieces: &[Piece],
        films: &[FilmSpec],
        diagnostics: &mut Diagnostics,
    ) -> Vec<NarrowPlace> {
        let mut groups: BTreeMap<(usize, usize), Vec<&Piece>> = BTreeMap::new();
        for (i, piece) in pieces.iter().enumerate() {
            let key = match piece.kind {
                Kind::Motif { motif, .. } => (0, motif),
                _ => (1, i),
            };
            groups.entry(key).or_default().push(piece);
        }
        let groups: Vec<((usize, usize), Vec<&Piece>)> = groups.into_iter().collect();
        let weak = |((kind, at), same): &((usize, usize), Vec<&Piece>)| {
            let limit = films[same[0].film.0].weed;
            let known = if *kind == 0 { self.0.get(*at).cloned() } else { None };
            let diagnostics = known.unwrap_or_else(|| places(&same[0].outline, limit));
            diagnostics.into_iter().map(|(n, film)| told(n, film, same, limit)).collect()
        };
        let weak: Vec<Vec<NarrowPlace>> = groups.par_iter().map(weak).collect();
        for ((_, same), weak) in groups.iter().zip(&weak) {
            tell_stepped(same[0], diagnostics);
            for film in [true, false] {
                tell(same, weak.iter().filter(|w| w.what.is_film() == film), films, diagnostics);
            }
        }
        let mut all: Vec<NarrowPlace> = weak.into_iter().flatten().collect();
        all.sort_by_key(|w| w.pieces[0]);
        all
    }
}

fn places(outline: &Region<Art>, limit: Mm) -> Places {
    let widths = Widths::new(outline);
    let (film, gaps) = (widths.narrow(limit), widths.gaps(limit));
    // What is told already is a mouth of none of them.
    let fresh = |t: &Touch<Art>| {
        let told = if t.film { &film } else { &gaps };
        told.iter().all(|n| n.middle().distance(t.mouth.middle()) > limit)
    };
    let (of_film, of_gaps): (Vec<_>, Vec<_>) =
        outline.touches().into_iter().filter(fresh).partition(|t| t.film);
    let joined = |told: Vec<Narrow<Art>>, touches: Vec<Touch<Art>>, is_film: bool| {
        let mut all: Vec<Narrow<Art>> = touches.into_iter().map(|t| t.mouth).chain(told).collect();
        all.sort_by(|a, b| a.width.0.total_cmp(&b.width.0));
        all.into_iter().map(move |n| (n, is_film))
    };
    joined(film, of_film, true).chain(joined(gaps, of_gaps, false)).collect()
}

fn told(n: Narrow<Art>, film: bool, same: &[&Piece], limit: Mm) -> NarrowPlace {
    NarrowPlace {
        pieces: same.iter().map(|p| p.number).collect(),
        what: DefectKind::of(n.kind, film),
        width: n.width,
        limit,
        at: n.at,
        length: n.length,
    }
}

/// A note where the outline kernel had to leave curves as chains of lines.
fn tell_stepped(piece: &Piece, diagnostics: &mut Diagnostics) {
    let count = piece.outline.rough();
    if count > 0 {
        let message = format!(
            "{} (piece {}) is cut in short straight steps in {count} stretches",
            piece.name, piece.number
        );
        let mend = "move edges that nearly touch apart in the drawing, or join them";
        diagnostics.push(Diagnostic::note(&STEPPED, place(&piece.kind), message).measured(count).help(mend));
    }
}

/// One warning for what is narrow in the same way, with the narrowest place.
fn tell<'a>(
    same: &[&Piece],
    weak: impl Iterator<Item = &'a NarrowPlace>,
    films: &[FilmSpec],
    diagnostics: &mut Diagnostics,
) {
    let weak: Vec<&NarrowPlace> = weak.collect();
    let Some(worst) = weak.iter().min_by(|a, b| a.width.0.total_cmp(&b.width.0)) else { return };
    let FilmId(film) = same[0].film;
    let (code, what) = if worst.what.is_film() { (&THIN, "thin") } else { (&TIGHT, "tight") };
    let middle = [f64::midpoint(worst.at[0].x, worst.at[1].x), f64::midpoint(worst.at[0].y, worst.at[1].y)];
    let places = match weak.len() {
        1 => "one place".to_owned(),
        n => format!("{n} places"),
    };
    let message = format!(
        "{} (piece {}) is too {what} for the film \"{}\" in {places}, least at {} {} and {} of its middle",
        same[0].name,
        same[0].number,
        films[film].name,
        worst.what.words(),
        side(middle[0], "right", "left"),
        side(middle[1], "above", "below"),
    );
    diagnostics.push(
        Diagnostic::warning(code, place(&same[0].kind), message)
            .measured(worst.width)
            .allowed(format!("at least {}", worst.limit))
            .help(match (&same[0].kind, worst.what.is_film()) {
                (Kind::Layer { .. }, true) => {
                    "make the decal larger, take a bolder font or a bolder drawing, or write `mend = true`"
                }
                (Kind::Layer { .. }, false) => {
                    "make the decal larger, space its letters wider, `close` the gaps of a lower layer, or write \
                        `mend = true`"
                }
                (_, true) => "make it larger, or thicken the drawing there, or write `mend = true`",
                (_, false) => {
                    "make it larger, or open or close the gap in the drawing, or write `mend = true`"
                }
            }),
    );
}

fn side(mm: f64, up: &str, down: &str) -> String {
    format!("{:.1} mm {}", mm.abs(), if mm < 0.0 { down } else { up })
}

fn place(kind: &Kind) -> KeyPath {
    match kind {
        Kind::Motif { motif, .. } => KeyPath::root().key("motif").index(*motif),
        Kind::Layer { decal, layer } => {
            KeyPath::root().key("decal").index(*decal).key("layers").index(*layer)
        }
        Kind::Spot { accent } | Kind::Tint { accent, .. } => KeyPath::root().key("accent").index(*accent),
        _ => KeyPath::root(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::frame::Rigid;
    use crate::make::plan::sample;
    use crate::outline::Region;
    use approx::assert_abs_diff_eq;

    /// Two plates of 10 by 10 mm joined by a bridge of 4 by `bridge` mm, with a slit of `slit` mm cut into
    /// the left one.
    fn plates(bridge: f64, slit: f64) -> Region<Art> {
        let box_of =
            |x0: f64, y0: f64, x1: f64, y1: f64| Region::polygon(&[[x0, y0], [x1, y0], [x1, y1], [x0, y1]]);
        let plates = Region::union_of(&[
            box_of(-12.0, -5.0, -2.0, 5.0),
            box_of(2.0, -5.0, 12.0, 5.0),
            box_of(-3.0, -bridge / 2.0, 3.0, bridge / 2.0),
        ]);
        plates.op(&box_of(-13.0, 3.0 - slit / 2.0, -5.0, 3.0 + slit / 2.0), crate::outline::Op::Difference)
    }

    fn checked(bridge: f64, slit: f64) -> (Vec<NarrowPlace>, Vec<Diagnostic>) {
        let plan = sample::plan(&[(0.0, 0.0)]);
        let mut films = plan.job.films.clone();
        films[0].weed = Mm(1.0);
        let piece = |number: u32, copy: usize| Piece {
            number,
            kind: Kind::Motif { motif: 0, copy },
            film: FilmId(0),
            outline: plates(bridge, slit),
            pose: Rigid::from_parts(1.0, 0.0, Point::ORIGIN),
            ..plan.pieces[0].clone()
        };
        let mut diagnostics = Diagnostics::new();
        let pieces = [piece(1, 0), piece(2, 1)];
        let weak = check(&pieces, &films, &mut diagnostics);
        // The twin of motifs looked at before they are laid: all looked at again.
        let mut told = Diagnostics::new();
        let looked = WidthReport::at(&[(&plates(bridge, slit), Mm(1.0))]);
        assert_eq!(
            (looked.check(&pieces, &films, &mut told), told.into_vec()),
            (weak.clone(), diagnostics.iter().cloned().collect())
        );
        (weak, diagnostics.into_vec())
    }

    /// Random job 120011: a slit of .01 mm that widens behind its mouth, shorter in all than the film's limit, was
    /// told nowhere.
    #[test]
    fn case_14_a_short_pocket_behind_a_thin_mouth_is_told() {
        let plate = Region::<Art>::polygon(&[[0.0, 0.0], [10.0, 0.0], [10.0, 10.0], [0.0, 10.0]]);
        let slit = Region::polygon(&[[9.7, 4.995], [10.1, 4.995], [10.1, 5.005], [9.7, 5.005]]);
        let end = Region::disc(Point::mm(9.7, 5.0), Mm(0.06));
        let found =
            places(&plate.op(&Region::union_of([&slit, &end]), crate::outline::Op::Difference), Mm(1.0));
        assert_eq!(found.len(), 1, "{found:?}");
        assert!(!found[0].1 && (found[0].0.width.0 - 0.01).abs() < 0.002, "{found:?}");
        assert!(places(&plate, Mm(1.0)).is_empty());
    }

    /// Truth: the widths that the plates were drawn with; copies are told once.
    #[test]
    fn a_thin_bridge_and_a_thin_slit_are_told_with_their_widths_and_places() {
        let (weak, diagnostics) = checked(0.6, 0.7);
        assert_eq!(weak.iter().map(|w| w.what).collect::<Vec<_>>(), [DefectKind::Bridge, DefectKind::Slit]);
        assert_abs_diff_eq!(weak[0].width.0, 0.6, epsilon = 0.002);
        assert_abs_diff_eq!(weak[1].width.0, 0.7, epsilon = 0.002);
        assert_eq!(weak[0].pieces, [1, 2]);
        assert!(weak[0].at.iter().all(|p| p.x.abs() <= 2.0 && (p.y.abs() - 0.3).abs() < 0.002));
        assert!(weak[1].at.iter().all(|p| p.x <= -5.0 && p.x >= -12.0 && (p.y - 3.0).abs() < 0.36));
        let ids: Vec<&str> = diagnostics.iter().map(|d| d.code.id).collect();
        assert_eq!(ids, ["weed/too-thin", "weed/too-tight"]);
        assert!(diagnostics[0].message.contains("a bridge of film"), "{}", diagnostics[0].message);
    }

    /// No artwork of the kernel's corpus gives way to steps any more (`cargo bench --bench kernel --
    /// offset`), so the outline only says that two of its stretches did.
    #[test]
    fn an_outline_cut_in_steps_is_told() {
        let plan = sample::plan(&[(0.0, 0.0)]);
        let stepped = plan.pieces[0].outline.clone().rougher(2);
        let mut diagnostics = Diagnostics::new();
        tell_stepped(&Piece { outline: stepped, ..plan.pieces[0].clone() }, &mut diagnostics);
        let told: Vec<&Diagnostic> = diagnostics.iter().collect();
        assert_eq!((told.len(), told[0].code.id), (1, "weed/stepped"));
        assert!(
            told[0].message.ends_with("is cut in short straight steps in 2 stretches"),
            "{}",
            told[0].message
        );
        let mut none = Diagnostics::new();
        tell_stepped(&plan.pieces[0], &mut none);
        assert!(none.is_empty());
    }

    #[test]
    fn what_is_wide_enough_is_not_told() {
        let (weak, diagnostics) = checked(1.01, 1.01);
        assert!(weak.is_empty() && diagnostics.is_empty(), "{weak:?}");
    }
}
