//! [`KitRecord`]: what a kit that was made says of itself: its films, its pieces with the outlines that were
//! cut, and what its sheets left over. Nothing is worked out anew: another version of the program or a changed
//! font would give other outlines.
//!
//! Imports: base, outline, read::{source, job}.

use crate::base::diag::{Code, Diagnostic, Diagnostics, ErrorGuaranteed, KeyPath};
use crate::base::frame::{Art, Point, Rigid, Sheet};
use crate::base::tolerance::GRID;
use crate::base::units::Mm;
use crate::outline::{Affine, BezPath, KurboShape, PathEl, Region, polyline_path, subpaths};
use crate::read::job::{CutSpec, FilmId, FilmSpec, Grain, Rgb, Sheen, Stock};
use crate::read::source::Source;
use roxmltree::Document;
use serde::Deserialize;
use std::collections::BTreeMap;

/// A kit cannot be taken at its word.
pub const UNREADABLE: Code = Code {
    id: "kit/record",
    title: "What the kit says of itself cannot be read",
    explain: "Pieces are cut anew from the kit's own files: manifest.json says which piece lies on which \
        sheet, the cut files hold the outlines. One of them is missing, was changed since it was written, or \
        does not go with the other. Take the kit as it was made, or make it again.",
};

/// Pieces of one number that differ from cup to cup.
pub const WHICH_CUP: Code = Code {
    id: "kit/which-cup",
    title: "The piece is another one on every cup",
    explain: "Cups of a list of names have pieces of their own under the same numbers. A piece of a cup is named as on \
        the sheets: 7/2 is piece 2 of cup 7. Pieces that all cups have need no cup.",
};

/// All codes of this module.
pub const CODES: &[&Code] = &[&UNREADABLE, &WHICH_CUP];

/// Path of the record within a kit.
pub const FILE: &str = "manifest.json";

/// Largest file of a kit that is read.
const LARGEST: u64 = 256 << 20;

/// What a kit says of itself.
#[derive(Clone, Debug, PartialEq)]
pub struct KitRecord {
    /// The job's title.
    pub title: String,
    /// Its films: what they are bought as, and what they ask of a sheet.
    pub films: Vec<FilmSpec>,
    /// Films that are printed sheets: each piece of them is there once.
    pub printed: Vec<bool>,
    /// Its pieces: those that were asked for first, in the order asked, then one of each other number.
    pub pieces: Vec<PieceRecord>,
    /// What its sheets left over, film by film: file and outline.
    pub leftovers: Vec<Vec<(String, Region<Art>)>>,
}

/// A piece as it was cut.
#[derive(Clone, Debug, PartialEq)]
pub struct PieceRecord {
    /// The same everywhere.
    pub number: u32,
    /// What the maker calls it.
    pub name: String,
    /// Film that it was cut from.
    pub film: FilmId,
    /// Decal and layer, if it is one.
    pub layer: Option<(usize, usize)>,
    /// The cup of an order that was asked for; 0 where there is one, or where any will do.
    pub cup: u32,
    /// Sheet that it was cut from.
    pub sheet: String,
    /// Zone of the map, and where in it: up from the base, round from the front line, turn in degrees.
    pub zone: String,
    /// Height of its anchor on the wall.
    pub up: Mm,
    /// From the front line at that height, to the right.
    pub round: Mm,
    /// Counter-clockwise from upright, degrees.
    pub turn: f64,
    /// It goes on the base.
    pub on_base: bool,
    /// All that was cut for it, not mirrored, the middle of its box at the origin.
    pub outline: Region<Art>,
}

#[derive(Deserialize)]
struct Manifest {
    title: String,
    films: Vec<FilmPart>,
    sheets: Vec<SheetPart>,
    pieces: Vec<PiecePart>,
    files: Vec<String>,
}

#[derive(Deserialize)]
struct FilmPart {
    name: String,
    form: String,
    width_mm: f64,
    length_mm: f64,
    margin_mm: f64,
    spacing_mm: f64,
    smallest_weedable_mm: f64,
    thickness_mm: f64,
    mirrored: bool,
    turning: String,
}

#[derive(Deserialize)]
struct SheetPart {
    name: String,
    file: String,
    film: String,
    height_mm: f64,
    cut_times: Option<u32>,
    cups_each_cut: Option<u32>,
    pieces: Vec<PlacedPart>,
    leftovers: Vec<LeftPart>,
}

#[derive(Deserialize)]
struct PlacedPart {
    number: u32,
    #[serde(default)]
    cup: u32,
    id: String,
    spare: bool,
}

#[derive(Deserialize)]
struct LeftPart {
    file: String,
    rings_mm: Vec<Vec<[f64; 2]>>,
}

#[derive(Deserialize)]
struct PiecePart {
    number: u32,
    #[serde(default)]
    each_cup: bool,
    kind: KindPart,
    name: String,
    film: String,
    zone: String,
    up_mm: f64,
    round_mm: f64,
    turn_deg: f64,
}

#[derive(Deserialize)]
struct KindPart {
    is: String,
    #[serde(default)]
    decal: usize,
    #[serde(default)]
    layer: usize,
}

/// Sheet, name and outline of a piece as it was cut.
type AsCut = (String, String, Region<Art>);

/// A piece asked for: cup and number; cup 0 is any.
pub type Asked = (u32, u32);

/// What is wrong with a kit's file.
fn broken(file: &str, message: impl Into<String>) -> Diagnostic {
    Diagnostic::fault(&UNREADABLE, KeyPath::root(), message)
        .file(file)
        .help("take the kit as `frusta make` wrote it, or make it again")
}

impl KitRecord {
    /// Reads a kit's record; outlines of the pieces asked for only.
    ///
    /// # Errors
    /// Files that are missing, unreadable, or do not go together.
    pub fn read(
        source: &dyn Source,
        asked: &[Asked],
        diagnostics: &mut Diagnostics,
    ) -> Result<KitRecord, ErrorGuaranteed> {
        let bytes = bytes(source, FILE).map_err(|d| diagnostics.push(d))?;
        let manifest: Manifest = serde_json::from_slice(&bytes)
            .map_err(|e| diagnostics.push(broken(FILE, format!("{FILE} is not a kit's: {e}"))))?;
        let films: Vec<FilmSpec> = manifest.films.iter().map(film).collect();
        let place = |name: &str| manifest.films.iter().position(|f| f.name == name).map(FilmId);
        let mut record = KitRecord {
            title: manifest.title,
            printed: films
                .iter()
                .map(|f| manifest.files.contains(&format!("sheet/{}.svg", f.name)))
                .collect(),
            leftovers: vec![Vec::new(); films.len()],
            films,
            pieces: Vec::new(),
        };
        let mut cut = BTreeMap::new();
        for sheet in &manifest.sheets {
            let Some(film) = place(&sheet.film) else {
                return Err(diagnostics.push(broken(FILE, format!("film {} is unknown", sheet.film))));
            };
            for left in &sheet.leftovers {
                let rings = left.rings_mm.iter().map(|r| polyline_path(r));
                record.leftovers[film.0].push((left.file.clone(), Region::trusted(rings)));
            }
            match outlines(source, sheet, asked, &mut record.films[film.0]) {
                Ok(found) => found.into_iter().for_each(|(key, piece)| {
                    cut.entry(key).or_insert(piece);
                }),
                Err(d) => return Err(diagnostics.push(d)),
            }
        }
        for p in &manifest.pieces {
            let Some(film) = place(&p.film) else {
                return Err(diagnostics.push(broken(FILE, format!("film {} is unknown", p.film))));
            };
            let mut of: Vec<u32> = asked.iter().filter(|a| a.1 == p.number).map(|a| a.0).collect();
            if of.is_empty() {
                of.push(0);
            }
            for cup in of {
                if p.each_cup && cup == 0 && asked.contains(&(0, p.number)) {
                    let message = format!("piece {} is another one on every cup", p.number);
                    diagnostics.push(
                        Diagnostic::fault(&WHICH_CUP, KeyPath::root(), message)
                            .help(format!("say which cup: 7/{0} is piece {0} of cup 7", p.number)),
                    );
                }
                let (sheet, name, outline) =
                    cut.remove(&(cup, p.number)).unwrap_or((String::new(), p.name.clone(), Region::empty()));
                let missing = asked.contains(&(cup, p.number)) && outline.is_empty();
                if missing && cup > 0 {
                    let message = format!("the kit has no piece {} of cup {cup}", p.number);
                    let d = Diagnostic::fault(&WHICH_CUP, KeyPath::root(), message);
                    diagnostics.push(d.help("cups and numbers stand on the weeding pictures, as 7/12"));
                }
                record.pieces.push(PieceRecord {
                    number: p.number,
                    cup,
                    name,
                    film,
                    layer: (p.kind.is == "layer").then_some((p.kind.decal, p.kind.layer)),
                    sheet,
                    zone: p.zone.clone(),
                    up: Mm(p.up_mm),
                    round: Mm(p.round_mm),
                    turn: p.turn_deg,
                    on_base: p.kind.is == "base",
                    outline,
                });
            }
        }
        diagnostics.check()?;
        Ok(record)
    }
    /// The piece of a number.
    pub fn piece(&self, number: u32) -> Option<&PieceRecord> {
        self.pieces.iter().find(|p| p.number == number)
    }
}

fn bytes(source: &dyn Source, file: &str) -> Result<Vec<u8>, Diagnostic> {
    source.bytes(file, LARGEST).map_err(|m| broken(file, format!("{file} cannot be read: {}", m.why)))
}

fn film(f: &FilmPart) -> FilmSpec {
    let (width, length) = (Mm(f.width_mm), Mm(f.length_mm));
    FilmSpec {
        name: f.name.clone(),
        colour: Rgb([0; 3]),
        stock: match f.form.as_str() {
            "roll" => Stock::Roll { width, longest: length },
            _ => Stock::Sheet { width, height: length },
        },
        margin: Mm(f.margin_mm),
        spacing: Mm(f.spacing_mm),
        weed: Mm(f.smallest_weedable_mm),
        thickness: Mm(f.thickness_mm),
        // Pieces that lie already are not asked whether they lie flat.
        take_up: FilmSpec::USUAL_TAKE_UP,
        mirrored: f.mirrored,
        grain: match f.turning.as_str() {
            "free" => Grain::Free,
            "half" => Grain::Half,
            _ => Grain::Fixed,
        },
        sheen: Sheen::Gloss,
        cut: CutSpec::default(),
    }
}

/// The pieces of a sheet that are asked for, as its cut file has them: sheet and outline by number. How far
/// the blade ran on past the starts goes to the film.
fn outlines(
    source: &dyn Source,
    sheet: &SheetPart,
    asked: &[Asked],
    film: &mut FilmSpec,
) -> Result<Vec<(Asked, AsCut)>, Diagnostic> {
    let times = sheet.cut_times.unwrap_or(1);
    let holds = |p: &PlacedPart, (cup, number): Asked| {
        let cups = || (0..times).map(|k| p.cup + k * sheet.cups_each_cut.unwrap_or(0));
        !p.spare && p.number == number && (cup == 0 || cups().any(|c| c == cup))
    };
    let wanted: Vec<(&PlacedPart, Asked)> =
        asked.iter().filter_map(|a| sheet.pieces.iter().find(|p| holds(p, *a)).map(|p| (p, *a))).collect();
    if wanted.is_empty() {
        return Ok(Vec::new());
    }
    let file = sheet.file.as_str();
    let text = String::from_utf8(bytes(source, file)?).map_err(|e| broken(file, e.to_string()))?;
    let xml = Document::parse(&text).map_err(|e| broken(file, format!("{file} is not XML: {e}")))?;
    let mut out = Vec::new();
    for (p, key) in wanted {
        let group = xml.descendants().find(|n| n.attribute("id") == Some(&p.id));
        let data: Option<Vec<&str>> =
            group.map(|g| g.descendants().filter_map(|n| n.attribute("d")).collect());
        // The title is the number and the name.
        let title = group.and_then(|g| g.children().find(|n| n.tag_name().name() == "title")?.text());
        let titled = title.and_then(|t| t.split_once(' ')).map_or("", |t| t.1);
        // The first piece of a panel is cut with the panel's marks: they are none of it.
        let (name, with_marks) = match titled.split_once(BEGINS_PANEL) {
            Some((name, _)) => (name.to_owned(), true),
            None => (titled.to_owned(), false),
        };
        let missing = || broken(file, format!("{file} does not hold piece {}", p.number));
        let mut contours = Vec::new();
        for d in data.ok_or_else(missing)? {
            let path = BezPath::from_svg(d).map_err(|e| broken(file, format!("{file}: {e:?}")))?;
            for path in subpaths(&path) {
                let (closed, past) = closed(&path).ok_or_else(missing)?;
                film.cut.overcut = film.cut.overcut.max(past);
                if !with_marks || !is_mark(&closed) {
                    contours.push(closed);
                }
            }
        }
        if contours.is_empty() {
            return Err(missing());
        }
        out.push((key, (sheet.name.clone(), name, at_home(contours, sheet.height_mm, film.mirrored))));
    }
    Ok(out)
}

/// What stands in a group's title behind the name of a piece that a panel begins with.
const BEGINS_PANEL: &str = "; panel ";

/// Is it a mark of a panel: a triangle with two legs of 2 mm?
fn is_mark(path: &BezPath) -> bool {
    let corners = path.elements().iter().filter(|e| matches!(e, PathEl::LineTo(_))).count();
    let curves = path.elements().iter().any(|e| matches!(e, PathEl::CurveTo(..) | PathEl::QuadTo(..)));
    let off = (path.area().abs() - 2.0).abs();
    !curves && (2..=3).contains(&corners) && off < 0.01
}

/// A contour without what the blade runs on past its start, and how far that is.
fn closed(path: &BezPath) -> Option<(BezPath, Mm)> {
    let elements = path.elements();
    if elements.last() == Some(&PathEl::ClosePath) {
        return Some((path.clone(), Mm::ZERO));
    }
    let Some(PathEl::MoveTo(start)) = elements.first().copied() else { return None };
    let back = elements.iter().skip(1).position(|e| e.end_point() == Some(start))? + 1;
    let tail = BezPath::from_vec(
        std::iter::once(PathEl::MoveTo(start)).chain(elements[back + 1..].iter().copied()).collect(),
    );
    let mut round = BezPath::from_vec(elements[..=back].to_vec());
    round.close_path();
    // What was asked for has two decimals at most; the tail's points have three.
    let past = (tail.perimeter(GRID.0) * 100.0).round() / 100.0;
    Some((round, Mm(past)))
}

/// From the page (y down, as it lay on the sheet) to the piece's own frame: not mirrored, box about the origin.
fn at_home(contours: Vec<BezPath>, height: f64, mirrored: bool) -> Region<Art> {
    // Contours run the other way round then, as they did before they were written.
    let flip = Affine::new([1.0, 0.0, 0.0, -1.0, 0.0, height]);
    let up: Region<Sheet> = Region::trusted(contours.iter().map(|c| flip * c));
    let region = if mirrored { up.mirrored() } else { up };
    let middle = region.bounds().centre();
    region.moved(&Rigid::from_parts(1.0, 0.0, Point::mm(-middle.x, -middle.y)))
}
