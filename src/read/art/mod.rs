//! SVG art to closed regions, and a list of what is not cut and why.
//!
//! ```text
//! bytes -decode-> text -roxmltree-> XML -cost-> within limits? -losses-> what usvg would drop unseen
//!                                   XML -usvg-> tree -walk-> painted shapes -union-> outline
//! ```
//! What a painted shape means to a blade:
//! - Whatever is painted, fill or stroke, of whatever colour, is film; strokes become their outlines.
//!   White is a colour like any other: there is white film. Only a white area behind the whole page is paper.
//! - Film is solid: gradients, patterns, translucency, masks, filters and blending are cut whole and listed.
//! - What the page does not show (off the page, hidden, transparent) is left out and listed.
//! - The outline is the union: a shape wholly covered by others changes nothing.
//!
//! usvg and roxmltree live here only. Nothing outside the given bytes is ever opened.
//!
//! Imports: base, outline, read::job.

pub mod limits;
pub mod decode;
pub mod cost;
pub mod size;
pub mod css;
pub mod losses;
pub mod walk;
pub mod colours;

use crate::base::diag::{Code, Diagnostic, Diagnostics, ErrorGuaranteed, KeyPath};
use crate::base::frame::{Art, Point, Rigid};
use crate::base::tolerance::LARGEST_COORDINATE;
use crate::base::units::Mm;
use crate::outline::{Affine, Bounds, Region, TooHard, WorkBudget};
use crate::read::job::{ArtSize, Rgb};
use cost::TooMuch;
use decode::Unreadable;
use limits::{
    BYTES, CSS_MATCHES, DASHES, DEPTH, EFFORT, ENTITY_BYTES, EXPANSION, NODES, ONE_GO, PIECES, SEGMENTS,
};
use serde::Serialize;
use std::collections::BTreeMap;
use walk::{Stopped, WORK, too_many_pieces, walk, without_specks, work_box};

/// The file is no SVG that can be read.
pub const UNREADABLE: Code = Code {
    id: "art/unreadable",
    title: "the art is not a readable SVG drawing",
    explain: "Art is read from SVG files (plain or gzip-packed, UTF-8, UTF-16 or Latin-1). Open the file in \
        a drawing program and save it as plain SVG.",
};
/// The file passes a limit.
pub const TOO_MUCH: Code = Code {
    id: "art/too-much",
    title: "the art is larger or more tangled than can be cut",
    explain: "Limits keep a broken or hostile file from taking the machine: 16 MiB, 200,000 nodes, nesting \
        of 256, 100,000 elements once references are written out, 1 MiB of expanded entities, 100,000 \
        dashes, 500,000 segments, 20,000 outlines, 400 million steps of cutting. Steps are counted before \
        each cut: edges, edges at one height, and a hundred for each two edges that cross or run along each \
        other (8,000 where the fill rule is even-odd), so dense hatching, scribbles and thousands of shapes \
        upon each other take many. A motif's outline may be a million weeding limits long. Real art stays \
        far below all of them. Simplify the drawing, or split it into several motifs.",
};
/// Nothing in the drawing can be cut.
pub const NOTHING: Code = Code {
    id: "art/nothing-to-cut",
    title: "the art has no painted shape",
    explain: "Only painted shapes are cut: filled areas and strokes. Text needs to be turned into paths, \
        pictures of pixels traced, hidden layers shown.",
};
/// Own size asked of art without one.
pub const NO_SIZE: Code = Code {
    id: "art/no-size",
    title: "the art has no physical size",
    explain: "Most drawings state their size in pixels or not at all, so millimetres cannot be known. Give \
        the motif a width or a height in the job, or state width and height in mm in the drawing.",
};
/// Something is left out.
pub const NOT_CUT: Code = Code {
    id: "art/not-cut",
    title: "part of the art is not cut",
    explain: "A blade cuts outlines. What has none (text without paths, pictures, hidden or off-page parts) \
        is left out, and each such place is listed.",
};
/// Something is cut, but plainly.
pub const CUT_PLAIN: Code = Code {
    id: "art/cut-plain",
    title: "part of the art is cut otherwise than it is drawn",
    explain: "Film is one solid colour with sharp edges. Gradients, patterns, masks, filters and \
        translucency are cut as the solid shape under them, and each such place is listed.",
};
/// Specks.
pub const SPECKS: Code = Code {
    id: "art/specks",
    title: "outlines too small for any blade are left out",
    explain: "Outlines below 0.001 mm2 are leftovers of drawing or tracing. They are not cut.",
};
/// All codes of this module.
pub const CODES: &[&Code] = &[&UNREADABLE, &TOO_MUCH, &NOTHING, &NO_SIZE, &NOT_CUT, &CUT_PLAIN, &SPECKS];

/// One painted area.
#[derive(Clone, Debug, PartialEq)]
pub struct Shape {
    /// Where it is; shapes painted later lie above.
    pub region: Region<Art>,
    /// Its colour; the mean of a gradient; none for a pattern.
    pub colour: Option<Rgb>,
    /// Its id in the file, or that of the group around it; may be empty.
    pub id: String,
}

/// What became of a thing that is not cut as it is drawn.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Loss {
    /// It is not cut at all.
    LeftOut,
    /// Its plain solid shape is cut.
    CutPlain,
}

/// One thing that is not cut as it is drawn.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct NotCut {
    /// What kind of thing, for example `text`.
    pub what: String,
    /// Why.
    pub why: String,
    /// Line and element, or the element's id.
    pub place: String,
    /// What became of it.
    pub how: Loss,
}

/// Art as areas.
#[derive(Clone, Debug, PartialEq)]
pub struct Artwork {
    /// Painted areas, bottom first; y up, the page's lower left corner at the origin.
    /// In mm if the art has a physical size, else in its own pixels (CSS px).
    pub shapes: Vec<Shape>,
    /// Width and height of the page, if the file states them in physical units.
    pub physical: Option<(Mm, Mm)>,
    /// Width and height of the page in the units of the shapes; none where the file shows no page of its own.
    pub page: Option<(Mm, Mm)>,
    /// How the size was read, in words.
    pub size_says: String,
    /// Everything that is not cut, or cut otherwise than drawn.
    pub not_cut: Vec<NotCut>,
    name: String,
    outline: Region<Art>,
}

impl Artwork {
    /// Union of all shapes, in the units of [`Self::shapes`].
    pub fn outline(&self) -> &Region<Art> {
        &self.outline
    }

    /// The outline in mm with the width or height asked for, the middle of its bounding box at the origin.
    /// Width and height are those of the outline itself, not of the page around it.
    ///
    /// # Errors
    /// Reports [`NO_SIZE`] if its own size is asked for and it has none, [`NOTHING`] if nothing is left to
    /// cut.
    pub fn sized(
        &self,
        size: ArtSize,
        at: &KeyPath,
        diagnostics: &mut Diagnostics,
    ) -> Result<Region<Art>, ErrorGuaranteed> {
        let factor = self.factor(size, at, diagnostics)?;
        let scaled = self.placed(&self.outline, factor);
        let (region, specks) = without_specks(&scaled);
        if specks > 0 {
            let message = format!("{specks} outlines below 0.001 mm2 are left out");
            diagnostics.push(Diagnostic::note(&SPECKS, at.clone(), message).file(&self.name));
        }
        if region.is_empty() {
            let message = "at this size nothing is left to cut";
            return Err(diagnostics.push(
                Diagnostic::fault(&NOTHING, at.clone(), message).file(&self.name).help("make it larger"),
            ));
        }
        Ok(region)
    }

    fn factor(
        &self,
        size: ArtSize,
        at: &KeyPath,
        diagnostics: &mut Diagnostics,
    ) -> Result<f64, ErrorGuaranteed> {
        let b = self.outline.bounds();
        match size {
            ArtSize::Width(w) => Ok(w / b.width()),
            ArtSize::Height(h) => Ok(h / b.height()),
            ArtSize::Own if self.physical.is_some() => Ok(1.0),
            ArtSize::Own => {
                let d = Diagnostic::fault(&NO_SIZE, at.clone(), "the art does not say how large it is")
                    .measured(&self.size_says)
                    .help("give it a width or a height in the job, for example width = \"30 mm\"");
                Err(diagnostics.push(d.file(&self.name)))
            }
        }
    }

    /// A region of this art scaled about the middle of the outline, which goes to the origin.
    fn placed(&self, region: &Region<Art>, factor: f64) -> Region<Art> {
        let c = self.outline.bounds().centre();
        let shift: Rigid<Art, Art> = Rigid::from_parts(1.0, 0.0, Point::mm(-c.x, -c.y));
        // What passes closely at the size drawn may lie nearer than chords are fine at the size cut.
        region.moved(&shift).scaled(factor).resolve_crossings()
    }
}

/// Reads SVG art. `name` is the file as the job names it, `at` the key that names it.
///
/// Lists what is not cut in [`Artwork::not_cut`] and in `diagnostics` (one diagnostic a kind, naming the
/// first places).
///
/// # Errors
/// Reports [`UNREADABLE`], [`TOO_MUCH`] or [`NOTHING`]; the limits are in [`limits`].
pub fn read_art(
    name: &str,
    bytes: &[u8],
    at: &KeyPath,
    diagnostics: &mut Diagnostics,
) -> Result<Artwork, ErrorGuaranteed> {
    match read(name, bytes) {
        Ok(art) => {
            report_losses(&art.not_cut, name, at, diagnostics);
            Ok(art)
        }
        Err(refused) => {
            report_losses(&refused.not_cut, name, at, diagnostics);
            let mut d =
                Diagnostic::fault(refused.code, at.clone(), refused.message).file(name).help(refused.mend);
            d.measured = refused.measured;
            d.allowed = refused.allowed;
            Err(diagnostics.push(d))
        }
    }
}

struct Refused {
    code: &'static Code,
    message: String,
    measured: Option<String>,
    allowed: Option<String>,
    mend: &'static str,
    not_cut: Vec<NotCut>,
}

impl Refused {
    fn unreadable(message: impl Into<String>) -> Refused {
        let mend = "open it in a drawing program and save it as plain SVG";
        Refused {
            code: &UNREADABLE,
            message: message.into(),
            measured: None,
            allowed: None,
            mend,
            not_cut: Vec::new(),
        }
    }
    fn too_much(message: &str, measured: impl std::fmt::Display, allowed: impl std::fmt::Display) -> Refused {
        Refused {
            code: &TOO_MUCH,
            message: message.to_owned(),
            measured: Some(measured.to_string()),
            allowed: Some(format!("at most {allowed}")),
            mend: "simplify the drawing, or split it into several motifs with a file each",
            not_cut: Vec::new(),
        }
    }
}

impl From<Unreadable> for Refused {
    fn from(u: Unreadable) -> Refused {
        match u {
            Unreadable::TooLarge(n) => {
                Refused::too_much("the file is too large", format!("{n} bytes"), format!("{BYTES} bytes"))
            }
            Unreadable::Gzip(e) => Refused::unreadable(format!("it is packed, but cannot be unpacked: {e}")),
            Unreadable::Encoding(e) => Refused::unreadable(format!("its bytes are not {e} text")),
            Unreadable::Entities(n) => Refused::too_much(
                "its entities expand to too much",
                format!("{n} bytes"),
                format!("{ENTITY_BYTES} bytes"),
            ),
        }
    }
}

impl From<TooMuch> for Refused {
    fn from(t: TooMuch) -> Refused {
        match t {
            TooMuch::Expansion(n) => Refused::too_much(
                "references within it multiply",
                format!("{n} elements"),
                format!("{EXPANSION} elements"),
            ),
            TooMuch::Depth => Refused::too_much(
                "it is nested too deep",
                format!("more than {DEPTH} levels"),
                format!("{DEPTH} levels"),
            ),
            TooMuch::Css(n) => Refused::too_much(
                "its style sheet is too long for so many elements",
                format!("{n} rules x elements"),
                CSS_MATCHES,
            ),
        }
    }
}

impl From<Stopped> for Refused {
    fn from(s: Stopped) -> Refused {
        match s {
            Stopped::Dashes(n) => {
                Refused::too_much("its strokes have too many dashes", format!("{n:.0}"), DASHES)
            }
            Stopped::Segments(n) => {
                Refused::too_much("it has too many lines and curves", format!("more than {n}"), SEGMENTS)
            }
            Stopped::WorkBudget(id) => Refused::too_much(
                &if id.is_empty() {
                    "too many of its lines cross, cover or run beside each other".to_owned()
                } else {
                    format!("too many of its lines cross, cover or run beside each other, up to id \"{id}\"")
                },
                format!("more than {EFFORT} steps of cutting"),
                format!("{EFFORT} steps"),
            ),
            Stopped::Far(id) => Refused::too_much(
                &format!("a shape (id \"{id}\") reaches too far out"),
                "a coordinate beyond every page",
                LARGEST_COORDINATE,
            ),
        }
    }
}

fn options() -> usvg::Options<'static> {
    usvg::Options {
        image_href_resolver: usvg::ImageHrefResolver {
            resolve_data: Box::new(|_, _, _| None),
            resolve_string: Box::new(|_, _| None),
        },
        ..usvg::Options::default()
    }
}

fn parse(text: &str) -> Result<roxmltree::Document<'_>, Refused> {
    let options = roxmltree::ParsingOptions { allow_dtd: true, nodes_limit: NODES, ..Default::default() };
    roxmltree::Document::parse_with_options(text, options).map_err(|e| match e {
        roxmltree::Error::NodesLimitReached => {
            Refused::too_much("it has too many nodes", format!("more than {NODES}"), NODES)
        }
        e => Refused::unreadable(format!("it is not well-formed XML: {e}")),
    })
}

fn read(name: &str, bytes: &[u8]) -> Result<Artwork, Refused> {
    let text = decode::decode(bytes)?;
    let doc = parse(&text)?;
    let root = doc.root_element();
    if root.tag_name().name() != "svg" {
        return Err(Refused::unreadable(format!(
            "its root element is <{}>, not <svg>",
            root.tag_name().name()
        )));
    }
    cost::check(&doc)?;
    let size = size::stated_size(root, &text);
    let not_cut = losses::losses(&doc, &losses::Places::new(&text));
    let tree = match &size.mended {
        Some(mended) => usvg::Tree::from_xmltree(&parse(mended)?, &options()),
        None => usvg::Tree::from_xmltree(&doc, &options()),
    };
    let tree = tree.map_err(|e| Refused::unreadable(format!("{e}; {}", size.message)))?;
    let mut art = areas(&tree, &size, not_cut)?;
    name.clone_into(&mut art.name);
    Ok(art)
}

/// The tree's shapes, in work units first and then in the art's own.
fn areas(tree: &usvg::Tree, size: &size::StatedSize, not_cut: Vec<NotCut>) -> Result<Artwork, Refused> {
    let (w, h) = (f64::from(tree.size().width()), f64::from(tree.size().height()));
    let all = tree.root().abs_stroke_bounding_box();
    let [x0, y0, x1, y1] = [all.left(), all.top(), all.right(), all.bottom()].map(f64::from);
    let (x0, y0, x1, y1) =
        if size.page { (x0.max(0.0), y0.max(0.0), x1.min(w), y1.min(h)) } else { (x0, y0, x1, y1) };
    let mm = size.physical.map_or(1.0, |(pw, _)| pw.get() / w);
    if ![x0, y0, x1, y1].iter().all(|v| (v * mm).abs() <= LARGEST_COORDINATE.get()) {
        return Err(Stopped::Far(String::new()).into());
    }
    let nothing = |not_cut: Vec<NotCut>| Refused {
        code: &NOTHING,
        message: "it has nothing to cut".to_owned(),
        measured: None,
        allowed: None,
        mend: "paint the shapes (fill or stroke), turn text into paths, trace pictures, show hidden layers",
        not_cut,
    };
    let longer = (x1 - x0).max(y1 - y0);
    if longer.is_nan() || longer <= 0.0 {
        return Err(nothing(not_cut));
    }
    let s = WORK / longer;
    let (cx, cy) = ((x0 + x1) / 2.0, (y0 + y1) / 2.0);
    let to_work = Affine::new([s, 0.0, 0.0, -s, -s * cx, s * cy]);
    let page = size.page.then(|| work_box(-s * cx, s * (cy - h), s * (w - cx), s * cy));
    let mut walked = walk(tree, to_work, page)?;
    let not_cut: Vec<NotCut> = not_cut.into_iter().chain(walked.lost).collect();
    if walked.shapes.is_empty() {
        return Err(nothing(not_cut));
    }
    let outline = united(&walked.shapes, &mut walked.effort)?;
    // Back: page's lower left corner at the origin, in mm or pixels.
    let (back, corner) = (mm / s, Point::mm(s * cx, s * (h - cy)));
    let shift: Rigid<Art, Art> = Rigid::from_parts(1.0, 0.0, corner);
    let own = |r: &Region<Art>| r.moved(&shift).scaled(back);
    let shapes =
        walked.shapes.into_iter().map(|shape| Shape { region: own(&shape.region), ..shape }).collect();
    let outline = own(&outline);
    Ok(Artwork {
        shapes,
        physical: size.physical,
        page: size.page.then_some((Mm(w * mm), Mm(h * mm))),
        size_says: size.message.clone(),
        not_cut,
        name: String::new(),
        outline,
    })
}

fn united(shapes: &[Shape], effort: &mut WorkBudget) -> Result<Region<Art>, Refused> {
    let apart = |i: usize| {
        let b: Bounds<Art> = shapes[i].region.bounds();
        shapes[..i].iter().all(|o| o.region.bounds().distance(&b) > Mm(1e-3))
    };
    let outline = if shapes.len() < 200 && (0..shapes.len()).all(apart) {
        Region::gathered(shapes.iter().map(|s| &s.region))
    } else {
        in_one_go_or_by_fours(shapes, effort).map_err(|TooHard| Stopped::WorkBudget(String::new()))?
    };
    if too_many_pieces(&outline) {
        return Err(Refused::too_much("it falls into too many outlines", outline.contours().len(), PIECES));
    }
    Ok(outline)
}

/// The union. Where thousands of shapes lie nearly on each other, as in shaded bodies, their outlines meet
/// all along: four that were painted one after the other have few edges left between them, and four such
/// again.
fn in_one_go_or_by_fours(shapes: &[Shape], effort: &mut WorkBudget) -> Result<Region<Art>, TooHard> {
    let mut small = WorkBudget::steps(ONE_GO);
    if let Ok(whole) = Region::union_within(shapes.iter().map(|s| &s.region), &mut small) {
        return Ok(whole);
    }
    let mut parts: Vec<Region<Art>> = shapes.iter().map(|s| s.region.clone()).collect();
    while parts.len() > 1 {
        parts = parts.chunks(4).map(|four| Region::union_within(four, effort)).collect::<Result<_, _>>()?;
    }
    Ok(parts.pop().unwrap_or_default())
}

/// One diagnostic for each kind of loss, with its first places.
fn report_losses(lost: &[NotCut], name: &str, at: &KeyPath, diagnostics: &mut Diagnostics) {
    let mut kinds: BTreeMap<(Loss, &str), Vec<&NotCut>> = BTreeMap::new();
    for l in lost {
        kinds.entry((l.how, &l.what)).or_default().push(l);
    }
    for ((how, what), list) in kinds {
        let first: Vec<&str> = list.iter().take(3).map(|l| l.place.as_str()).collect();
        let more = if list.len() > 3 { format!(" and {} more", list.len() - 3) } else { String::new() };
        let verb = match how {
            Loss::LeftOut => "not cut",
            Loss::CutPlain => "cut plain",
        };
        let message = format!("{what} {verb}: {} ({}{more})", list[0].why, first.join("; "));
        diagnostics.push(match how {
            Loss::LeftOut => Diagnostic::warning(&NOT_CUT, at.clone(), message).file(name),
            Loss::CutPlain => Diagnostic::note(&CUT_PLAIN, at.clone(), message).file(name),
        });
    }
}
