//! [`KeptKit`]: the pieces and sheets of a kit as they were made, to the last digit, so that the next kit can keep
//! them: outlines are never worked out anew.
//!
//! Lengths are millimetres, angles radians, outlines path data in the piece's own frame; every number is written
//! with as many digits as give the same number back.
//!
//! Imports: base, outline, read::source.

use crate::base::diag::{Code, Diagnostic, Diagnostics, ErrorGuaranteed, KeyPath};
use crate::base::frame::{Frame, Point, Rigid};
use crate::outline::{BezPath, PathEl, Region};
use crate::read::source::Source;
use serde::{Deserialize, Serialize};

/// The record cannot be taken at its word.
pub const NOT_KEPT: Code = Code {
    id: "keep/record",
    title: "The last kit's record of its pieces cannot be read",
    explain: "Pieces are kept as the last kit's pieces.json has them: outlines, places on the wall and on the \
        sheets. It is missing, was changed, or was written by another version of the program. Take the kit as \
        `frusta make` wrote it; a kit without this record can be made again, and only then be kept.",
};

/// All codes of this module.
pub const CODES: &[&Code] = &[&NOT_KEPT];

/// Path of the record within a kit.
pub const FILE: &str = "pieces.json";
/// How the record is laid out.
pub const LAYOUT: u32 = 1;
/// Largest record that is read.
const LARGEST: u64 = 256 << 20;

/// A kit's own record of its pieces and sheets; `S` is what stands for the sheets, which a writer makes one after
/// another.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct KeptKit<S = Vec<KeptSheet>> {
    /// [`LAYOUT`].
    pub layout: u32,
    /// Cups that film was laid out for.
    pub cups: u32,
    /// Cups differ: those of a list of names.
    pub named: bool,
    /// Pieces were laid many at once.
    pub panels: bool,
    /// The surface that the layout was made for, zone by zone.
    pub zones: Vec<KeptZone>,
    /// Films, in the order of the job.
    pub films: Vec<KeptFilm>,
    /// What each fill asked for, as a number: another one asks for something else.
    pub accents: Vec<u64>,
    /// The next number that no piece ever had.
    pub next: u32,
    /// Pieces on the cup.
    pub pieces: Vec<KeptPiece>,
    /// Pieces that lie on a sheet and are not wanted any more.
    pub gone: Vec<KeptPiece>,
    /// Numbers that are new, that are gone and that went elsewhere, since the kit before this one.
    pub changed: Changed,
    /// Sheets of plain film.
    pub sheets: S,
    /// What the stages counted.
    pub stages: Vec<(String, Vec<(String, u64)>)>,
}

/// What changed from one kit to the next, by the pieces' numbers.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Changed {
    /// Cut anew.
    pub new: Vec<u32>,
    /// Not wanted any more.
    pub gone: Vec<u32>,
    /// The same piece at another place.
    pub moved: Vec<u32>,
}

impl Changed {
    /// Did anything change?
    pub fn is_empty(&self) -> bool {
        self.new.is_empty() && self.gone.is_empty() && self.moved.is_empty()
    }
}

/// One zone of the surface.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct KeptZone {
    /// Girth at its upper edge.
    pub upper: f64,
    /// Girth at its lower edge.
    pub lower: f64,
    /// From edge to edge along the wall.
    pub slant: f64,
    /// What of it film may cover, as a number: another one has other bounds or windows.
    pub free: u64,
}

/// One film.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct KeptFilm {
    /// What the maker calls it.
    pub name: String,
    /// Cut from the back.
    pub mirrored: bool,
    /// It comes on a roll.
    pub roll: bool,
    /// Free at the edges of its sheets.
    pub margin: f64,
    /// Free between cuts.
    pub spacing: f64,
    /// The next number that no sheet of it ever had.
    pub next_sheet: usize,
}

/// What a piece is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(tag = "is", rename_all = "lowercase")]
pub enum KeptKind {
    /// A copy of a motif of the job.
    Motif {
        /// Place in the job's list.
        motif: usize,
        /// Which copy.
        copy: usize,
    },
    /// A spot of a fill.
    Spot {
        /// Place in the job's list.
        accent: usize,
    },
    /// What lies in a spot's opening.
    Tint {
        /// Place in the job's list.
        accent: usize,
        /// The spot's number.
        of: u32,
    },
    /// A layer of a decal.
    Layer {
        /// Place in the job's list.
        decal: usize,
        /// From 0, the base.
        layer: usize,
    },
    /// A part of the disc for the base.
    Base,
}

/// One piece.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct KeptPiece {
    /// For the life of the order.
    pub number: u32,
    /// What it is.
    pub kind: KeptKind,
    /// What the maker calls it.
    pub name: String,
    /// Its film, by place in the record's list.
    pub film: usize,
    /// Its outline.
    pub outline: String,
    /// Registration keys.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub keys: String,
    /// Zone of the wall.
    pub zone: usize,
    /// Azimuth, slant, turn.
    pub wall: [f64; 3],
    /// Distance asked for.
    pub clearance: f64,
    /// It is on the cup.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub applied: bool,
}

/// One sheet.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct KeptSheet {
    /// Its film, by place in the record's list.
    pub film: usize,
    /// Its number within the film.
    pub index: usize,
    /// Left to right on the cutter.
    pub width: f64,
    /// Along the feed.
    pub height: f64,
    /// Cut from the back.
    pub mirrored: bool,
    /// How often it is cut.
    pub times: u32,
    /// Cups on each cut.
    pub cups: u32,
    /// `bought`, `stock`, or the leftover's file.
    pub taken_from: String,
    /// What there is of a leftover.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub shape: Option<String>,
    /// What lies on it, in cut order.
    pub placed: Vec<KeptPlaced>,
    /// Weeding lines.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub lines: Vec<[[f64; 2]; 2]>,
    /// Weeding frame: least and largest x and y.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub frame: Option<[f64; 4]>,
    /// It was cut.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub cut: bool,
}

/// One piece on a sheet.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct KeptPlaced {
    /// The piece.
    pub number: u32,
    /// The cup; 0 where there is one.
    pub cup: u32,
    /// A spare copy.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub spare: bool,
    /// Cosine, sine, x and y of its place.
    pub pose: [f64; 4],
    /// Its outlines there, as the blade runs.
    pub cuts: String,
}

fn broken(message: impl Into<String>) -> Diagnostic {
    Diagnostic::fault(&NOT_KEPT, KeyPath::root(), message)
        .file(FILE)
        .help("name the folder that `frusta make` wrote, unchanged; or make a kit without --keep")
}

impl KeptKit {
    /// Reads a kit's record.
    ///
    /// # Errors
    /// A record that is missing, unreadable or of another layout.
    pub fn read(source: &dyn Source, diagnostics: &mut Diagnostics) -> Result<KeptKit, ErrorGuaranteed> {
        let read = source.bytes(FILE, LARGEST).map_err(|m| format!("cannot be read: {}", m.why));
        let kept = read.and_then(|b| {
            serde_json::from_slice::<KeptKit>(&b).map_err(|e| format!("is not a kit's record: {e}"))
        });
        let kept = kept.and_then(|k| match k.layout {
            LAYOUT => k.checked(),
            other => Err(format!("is laid out as version {other}; this program reads {LAYOUT}")),
        });
        kept.map_err(|why| diagnostics.push(broken(format!("{FILE} {why}"))))
    }

    /// Do its parts go together?
    fn checked(self) -> Result<KeptKit, String> {
        let (films, zones) = (self.films.len(), self.zones.len());
        let mut seen = std::collections::BTreeSet::new();
        for p in self.pieces.iter().chain(&self.gone) {
            let sound = p.number > 0 && p.number < self.next && p.film < films && p.zone < zones;
            if !sound || !seen.insert(p.number) {
                return Err(format!("does not go together at piece {}", p.number));
            }
            for (what, text) in [("outline", &p.outline), ("keys", &p.keys)] {
                path(text).map_err(|e| format!("has a bad {what} of piece {}: {e}", p.number))?;
            }
        }
        for s in &self.sheets {
            let known = s.placed.iter().all(|p| seen.contains(&p.number));
            if s.film >= films || !known || s.placed.iter().any(|p| path(&p.cuts).is_err()) {
                return Err(format!("does not go together at sheet {}", s.index));
            }
        }
        Ok(self)
    }
    /// The film of a sheet or piece.
    pub fn film(&self, place: usize) -> &str {
        self.films.get(place).map_or("", |f| f.name.as_str())
    }
    /// What a sheet is called.
    pub fn sheet_name(&self, sheet: &KeptSheet) -> String {
        format!("{}-{}", self.film(sheet.film), sheet.index)
    }
}

/// Path data of an outline, each number with as many digits as give it back.
pub fn text<F: Frame>(region: &Region<F>) -> String {
    let mut out = String::new();
    for contour in region.contours() {
        for e in contour.elements() {
            let (letter, points): (char, Vec<crate::outline::CurvePoint>) = match *e {
                PathEl::MoveTo(p) => ('M', vec![p]),
                PathEl::LineTo(p) => ('L', vec![p]),
                PathEl::QuadTo(a, p) => ('Q', vec![a, p]),
                PathEl::CurveTo(a, b, p) => ('C', vec![a, b, p]),
                PathEl::ClosePath => ('Z', Vec::new()),
            };
            out.push(letter);
            let numbers: Vec<String> =
                points.iter().flat_map(|p| [p.x, p.y]).map(|v| v.to_string()).collect();
            out.push_str(&numbers.join(" "));
        }
    }
    out
}

/// The outline of path data that [`text()`] wrote.
///
/// # Errors
/// Says what is no path data of this kind.
pub fn outline<F: Frame>(text: &str) -> Result<Region<F>, String> {
    Ok(Region::trusted(path(text)?))
}

fn path(text: &str) -> Result<Vec<BezPath>, String> {
    let mut all: Vec<BezPath> = Vec::new();
    let mut rest = text;
    while let Some(letter) = rest.chars().next() {
        if !letter.is_ascii() {
            return Err("a letter that is none of M, L, Q, C, Z".to_owned());
        }
        let tail = &rest[1..];
        let end = tail.find(['M', 'L', 'Q', 'C', 'Z']).unwrap_or(tail.len());
        let numbers: Result<Vec<f64>, _> = tail[..end].split_ascii_whitespace().map(str::parse).collect();
        let numbers = numbers.map_err(|e| format!("{e}"))?;
        if numbers.iter().any(|v| !v.is_finite()) {
            return Err("a number that is not finite".to_owned());
        }
        let at = |i: usize| (numbers[2 * i], numbers[2 * i + 1]);
        match (letter, numbers.len()) {
            ('M', 2) => {
                let mut next = BezPath::new();
                next.move_to(at(0));
                all.push(next);
            }
            ('L', 2) | ('Q', 4) | ('C', 6) | ('Z', 0) => {
                let last = all.last_mut().ok_or("a path that begins nowhere")?;
                match letter {
                    'L' => last.line_to(at(0)),
                    'Q' => last.quad_to(at(0), at(1)),
                    'C' => last.curve_to(at(0), at(1), at(2)),
                    _ => last.close_path(),
                }
            }
            (letter, n) => return Err(format!("{letter} with {n} numbers")),
        }
        rest = &tail[end..];
    }
    Ok(all)
}

/// A rigid motion as four numbers.
pub fn motion<A: Frame, B: Frame>(pose: &Rigid<A, B>) -> [f64; 4] {
    let (c, s, x, y) = pose.parts();
    [c, s, x, y]
}

/// The motion that [`motion`] wrote.
pub fn moved<A: Frame, B: Frame>([c, s, x, y]: [f64; 4]) -> Rigid<A, B> {
    Rigid::from_parts(c, s, Point::mm(x, y))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::frame::Art;
    use proptest::prelude::*;

    proptest! {
        /// Every number comes back as the same bits.
        #[test]
        fn outlines_come_back_bit_by_bit(v in prop::collection::vec(-1e4..1e4f64, 20)) {
            let mut p = BezPath::new();
            p.move_to((v[0], v[1]));
            p.line_to((v[2], v[3] / 3.0));
            p.curve_to((v[4], v[5] * 1e-7), (v[6], v[7]), (v[8], v[9]));
            p.close_path();
            let region: Region<Art> = Region::trusted([p]);
            let back: Region<Art> = outline(&text(&region)).expect("as it was written");
            prop_assert_eq!(back.contours(), region.contours());
        }

        /// Whatever stands there, it is read or refused.
        #[test]
        fn no_text_makes_it_stumble(text in "[MLQCZ0-9 .eé-]{0,40}") {
            let _ = path(&text);
        }
    }

    #[test]
    fn what_is_no_path_is_refused() {
        for bad in ["L1 2", "M1", "M1 2C3 4", "X", "M1 nan", "é"] {
            assert!(path(bad).is_err(), "{bad}");
        }
        assert!(path("").expect("nothing").is_empty());
    }
}
