//! The decals' sections: lettering or art in a stack of films, base first.
//!
//! ```toml
//! [[decal]]
//! text = ["Best", "in show"]       # or art = "art/rosette.svg"
//! font = "Kaushan Script"          # or a file: "fonts/own.ttf"
//! width = 78                       # or cap-height, or fits = [80, 40] with all layers
//! azimuth = 0
//! up = "centred"                   # or how far up the wall its middle goes
//! lies = "upright"                 # or "rigid", "bent"
//! layers = [                       # base first, the art itself last
//!   { film = "damson", offset = 2.2 },
//!   { film = "straw", offset = 1.2, join = "mitred" },
//!   { films = ["damson", "leaf-green"], split = "line" },
//! ]
//! ```
//!
//! Imports: base, outline, read::job::{codes, section, path, model, films}.

use super::codes;
use super::films::Films;
use super::model::{ArtSize, FilmId, Rgb};
use super::path;
use super::section::{Item, Section};
use crate::base::diag::{Diagnostic, ErrorGuaranteed};
use crate::base::units::{Angle, Mm};
use crate::outline::Join;

/// Corners sharper than this are told, and notches filled by a mend, where a job says nothing else.
pub const SHARPEST: Angle = Angle::radians(25.0 * std::f64::consts::PI / 180.0);

/// A decal: art or lettering and the films under it.
#[derive(Clone, Debug, PartialEq)]
pub struct DecalSpec {
    /// What its top shows.
    pub shows: Shows,
    /// How it lies on the taper.
    pub lies: Lies,
    /// Where its middle goes, from the front line.
    pub azimuth: Angle,
    /// How far up the wall its middle goes.
    pub up: Up,
    /// Counter-clockwise from upright.
    pub turn: Angle,
    /// The films under the top, base first; may be none.
    pub under: Vec<UnderSpec>,
    /// The art itself.
    pub top: TopSpec,
    /// Least distance to everything else.
    pub clearance: Mm,
    /// Size of the registration keys; none if the maker wants none.
    pub keys: Option<Mm>,
    /// How the layers come together.
    pub method: Method,
    /// How far a line may depart from level before it is said.
    pub level: Mm,
    /// Corners sharper than this are told.
    pub sharpest: Angle,
    /// Parts and holes smaller than this are told; none: twice the film's smallest weedable feature.
    pub island: Option<Mm>,
    /// Thicken and close what is too narrow for its film.
    pub mend: bool,
}

/// What a decal shows.
#[derive(Clone, Debug, PartialEq)]
pub enum Shows {
    /// Lettering.
    Words {
        /// The words and how they stand.
        words: Words,
        /// In which font.
        font: FontName,
    },
    /// A drawing: SVG art beside the job.
    Drawing {
        /// The file.
        art: String,
        /// How large.
        size: DrawingSize,
    },
}

/// A font as the maker names it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum FontName {
    /// A font file in the job's folder.
    File(String),
    /// A family: one of those that need no file, else one that the machine has.
    Family(String),
}

/// How lines stand over each other.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Align {
    /// Left edges in line.
    Left,
    /// Middles in line.
    #[default]
    Middle,
    /// Right edges in line.
    Right,
}

/// How large lettering is.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum LetterSize {
    /// Capitals this high.
    CapHeight(Mm),
    /// The widest line this wide, from ink to ink.
    Width(Mm),
    /// As large as fits a window.
    Fit {
        /// Of the window.
        width: Mm,
        /// Of the window.
        height: Mm,
    },
}

/// How large a drawing is.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum DrawingSize {
    /// By one of its sides, or its own.
    Art(ArtSize),
    /// As large as fits a window.
    Fit {
        /// Of the window.
        width: Mm,
        /// Of the window.
        height: Mm,
    },
}

/// What to letter.
#[derive(Clone, Debug, PartialEq)]
pub struct Words {
    /// Lines, top first.
    pub lines: Vec<String>,
    /// How they stand.
    pub align: Align,
    /// How large; a window is for the whole decal, its lower layers counted.
    pub size: LetterSize,
    /// Space added between letters, in parts of an em.
    pub letter_spacing: f64,
    /// Baseline to baseline, as a multiple of what the font suggests.
    pub line_spacing: f64,
}

/// How art lies on a taper.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Lies {
    /// As drawn: a straight line stays straight and departs from level at its ends.
    #[default]
    Rigid,
    /// The line follows the parallel, each letter stays as drawn.
    Upright,
    /// Level lines become parallels, upright lines generators.
    Bent,
}

/// How far up.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Up {
    /// From the base edge, along the wall.
    At(Mm),
    /// In the middle between the keep-clear bands.
    Centred,
}

/// A film under the art.
#[derive(Clone, Debug, PartialEq)]
pub struct UnderSpec {
    /// Film.
    pub film: FilmId,
    /// How far it reaches out beyond what lies above it.
    pub offset: Mm,
    /// Its outer corners.
    pub join: Join,
    /// Counters and gaps narrower than this are closed.
    pub close: Mm,
    /// Taken out under the layer above but for this overlap; none if the layer stays whole.
    pub overlap: Option<Mm>,
}

/// The top layer.
#[derive(Clone, Debug, PartialEq)]
pub struct TopSpec {
    /// The films and what each takes.
    pub films: TopFilms,
    /// Film left round the art.
    pub offset: Mm,
    /// Its outer corners.
    pub join: Join,
}

/// Which film takes what of the top.
#[derive(Clone, Debug, PartialEq)]
pub enum TopFilms {
    /// One takes all.
    One(FilmId),
    /// Parts take films in turn.
    InTurn(Split, Vec<FilmId>),
    /// Colours of the drawing.
    Colours(Vec<(Rgb, FilmId)>),
}

/// Parts of lettering.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Split {
    /// Line by line.
    Line,
    /// Word by word.
    Word,
    /// Letter by letter.
    Letter,
}

/// How the layers of a decal come together.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Method {
    /// One after another on the cup.
    #[default]
    LayerByLayer,
    /// On each other on the bench, then onto the cup as one.
    StackedFlat,
}

impl DecalSpec {
    /// Films of all layers, base first; the top's last.
    pub fn films(&self) -> Vec<FilmId> {
        let mut all: Vec<FilmId> = self.under.iter().map(|u| u.film).collect();
        match &self.top.films {
            TopFilms::One(f) => all.push(*f),
            TopFilms::InTurn(_, films) => all.extend(films),
            TopFilms::Colours(films) => all.extend(films.iter().map(|(_, f)| f)),
        }
        all
    }
    /// How far the base reaches out beyond the art.
    pub fn reach(&self) -> Mm {
        self.top.offset + self.under.iter().map(|u| u.offset).sum()
    }
    /// A few words for it: its text or its drawing's name.
    pub fn title(&self) -> String {
        match &self.shows {
            Shows::Words { words, .. } => words.lines.join(" / "),
            Shows::Drawing { art, .. } => {
                let name = art.rsplit('/').next().unwrap_or(art);
                name.strip_suffix(".svg").or_else(|| name.strip_suffix(".svgz")).unwrap_or(name).to_owned()
            }
        }
    }
}

const SIZE: std::ops::RangeInclusive<Mm> = Mm(2.0)..=Mm(600.0);
/// Most lines of a text and most layers of a decal.
const MOST_LINES: usize = 20;
const MOST_LAYERS: usize = 8;
/// Mitres reach at most this many times the offset unless the maker says otherwise.
const MITRE: f64 = 2.0;

/// Reads one `[[decal]]`. `films` are the films' own smallest weedable sizes by their place, where they could be read.
pub(super) fn decal(section: Section<'_>, films: &Films, weed: &[Mm]) -> Result<DecalSpec, ErrorGuaranteed> {
    let shows = shows(&section);
    let lies = section
        .choice("lies", &[("rigid", Lies::Rigid), ("upright", Lies::Upright), ("bent", Lies::Bent)])
        .or(Lies::Rigid);
    let whole_turn = || Angle::degrees(-360.0)..=Angle::degrees(360.0);
    let azimuth = section.angle("azimuth").within(whole_turn()).or(Angle::ZERO);
    let up = section.field("up", up).required("how far up the wall its middle goes", "up = \"centred\"");
    let turn = section.angle("turn").within(whole_turn()).or(Angle::ZERO);
    let layers = layers(&section, films, weed);
    let clearance = section.length("clearance").within(Mm(0.0)..=Mm(100.0)).or(Mm(2.0));
    let keys = section.field("keys", keys).or(Some(Mm(4.0)));
    let method = section
        .choice("method", &[("layer-by-layer", Method::LayerByLayer), ("stacked-flat", Method::StackedFlat)])
        .or(Method::LayerByLayer);
    let level = section.length("level").within(Mm(0.0)..=Mm(50.0)).or(Mm(0.5));
    let sharpest = section.angle("sharpest").within(Angle::ZERO..=Angle::degrees(90.0)).or(SHARPEST);
    let island = section.length("island").within(Mm(0.0)..=Mm(50.0)).optional();
    let mend = section.flag("mend").or(false);
    let agrees = agrees(&section, &shows, &lies, &layers);
    section.done();
    agrees?;
    let (under, top) = layers?;
    Ok(DecalSpec {
        shows: shows?,
        lies: lies?,
        azimuth: azimuth?.wrapped(),
        up: up?,
        turn: turn?,
        under,
        top,
        clearance: clearance?,
        keys: keys?,
        method: method?,
        level: level?,
        sharpest: sharpest?,
        island: island?,
        mend: mend?,
    })
}

/// What only lettering can do must not be asked of a drawing, and the other way round.
fn agrees(
    section: &Section<'_>,
    shows: &Result<Shows, ErrorGuaranteed>,
    lies: &Result<Lies, ErrorGuaranteed>,
    layers: &Result<(Vec<UnderSpec>, TopSpec), ErrorGuaranteed>,
) -> Result<(), ErrorGuaranteed> {
    let drawing = section.has("art") && !section.has("text");
    let mut ok = Ok(());
    if drawing && *lies == Ok(Lies::Upright) {
        let d = section.fault(&codes::ONE_OF, "lies", "a drawing has no letters that could stay upright");
        ok = Err(section.reader().push(d.help("write \"rigid\" or \"bent\"")));
    }
    if let (Ok(shows), Ok((under, top))) = (shows, layers) {
        let message = match (&top.films, shows) {
            (TopFilms::InTurn(..), Shows::Drawing { .. }) => {
                "a drawing has no lines, words or letters to split"
            }
            (TopFilms::Colours(_), Shows::Words { .. }) => "lettering has no colours of its own",
            _ => return ok,
        };
        let at = section.path("layers").index(under.len());
        let mend = "a drawing is split by `colours`, lettering by `films` and `split`";
        ok = Err(section.reader().push(Diagnostic::fault(&codes::ONE_OF, at, message).help(mend)));
    }
    ok
}

fn shows(section: &Section<'_>) -> Result<Shows, ErrorGuaranteed> {
    match (section.has("text"), section.has("art")) {
        (true, false) => lettering(section),
        (false, true) => drawing(section),
        (true, true) => Err(section.reader().push(
            section
                .fault(&codes::ONE_OF, "art", "the decal is said by text and by art")
                .help("keep one of them; give the other a `[[decal]]` of its own"),
        )),
        (false, false) => {
            Err(section.missing("text", "what it shows: a `text`, or `art`", "text = \"Best in show\""))
        }
    }
}

fn lettering(section: &Section<'_>) -> Result<Shows, ErrorGuaranteed> {
    let lines = section
        .field(
            "text",
            |item| if item.is_list() { item.list(Item::text) } else { item.text().map(|t| vec![t]) },
        )
        .counting(1..=MOST_LINES, "lines")
        .required("its text", "text = \"Best in show\"");
    let font = section.field("font", font).or(FontName::Family("Source Sans Pro Bold".into()));
    let align = section
        .choice("align", &[("left", Align::Left), ("middle", Align::Middle), ("right", Align::Right)])
        .or(Align::Middle);
    let letter_spacing = section.number("letter-spacing").within(-0.5..=2.0).or(0.0);
    let line_spacing = section.number("line-spacing").within(0.3..=4.0).or(1.0);
    let size = letter_size(section);
    Ok(Shows::Words {
        words: Words {
            lines: lines?,
            align: align?,
            size: size?,
            letter_spacing: letter_spacing?,
            line_spacing: line_spacing?,
        },
        font: font?,
    })
}

fn drawing(section: &Section<'_>) -> Result<Shows, ErrorGuaranteed> {
    let art = section.field("art", path::art).required("which drawing it is", "art = \"art/rosette.svg\"");
    let fits = fits(section);
    let width = section.length("width").within(SIZE).optional();
    let height = section.length("height").within(SIZE).optional();
    let size = match (width?, height?, fits?) {
        (Some(w), None, None) => DrawingSize::Art(ArtSize::Width(w)),
        (None, Some(h), None) => DrawingSize::Art(ArtSize::Height(h)),
        (None, None, Some((width, height))) => DrawingSize::Fit { width, height },
        (None, None, None) => DrawingSize::Art(ArtSize::Own),
        _ => return Err(one_size(section, "`width`, `height` and `fits`")),
    };
    Ok(Shows::Drawing { art: art?, size })
}

fn one_size(section: &Section<'_>, ways: &str) -> ErrorGuaranteed {
    let key = ["fits", "height", "width"].into_iter().find(|k| section.has(k)).unwrap_or("width");
    let d = section.fault(&codes::ONE_OF, key, "the size is said in more ways than one");
    section.reader().push(d.help(format!("keep one of {ways}")))
}

fn letter_size(section: &Section<'_>) -> Result<LetterSize, ErrorGuaranteed> {
    let cap = section.length("cap-height").within(Mm(1.0)..=Mm(300.0)).optional();
    let width = section.length("width").within(SIZE).optional();
    let fits = fits(section);
    match (cap?, width?, fits?) {
        (Some(h), None, None) => Ok(LetterSize::CapHeight(h)),
        (None, Some(w), None) => Ok(LetterSize::Width(w)),
        (None, None, Some((width, height))) => Ok(LetterSize::Fit { width, height }),
        (None, None, None) => {
            Err(section.missing("width", "how large it is: `cap-height`, `width`, or `fits`", "width = 70"))
        }
        _ => Err(one_size(section, "`cap-height`, `width` and `fits`")),
    }
}

fn fits(section: &Section<'_>) -> Result<Option<(Mm, Mm)>, ErrorGuaranteed> {
    let window = section.list("fits", Item::length).counting(2..=2, "lengths: [width, height]").optional()?;
    let Some(window) = window else { return Ok(None) };
    for (i, side) in window.iter().enumerate() {
        if !SIZE.contains(side) {
            let show = |mm| section.reader().show(mm);
            let at = section.path("fits").index(i);
            return Err(section.reader().push(
                Diagnostic::fault(&codes::OUT_OF_RANGE, at, "the window has no such side")
                    .measured(show(*side))
                    .allowed(format!("{} to {}", show(*SIZE.start()), show(*SIZE.end())))
                    .help("correct the size or its unit"),
            ));
        }
    }
    Ok(Some((window[0], window[1])))
}

fn font(item: &Item<'_>) -> Result<FontName, ErrorGuaranteed> {
    let name = item.text()?;
    let lower = name.to_lowercase();
    if [".ttf", ".otf", ".ttc", ".woff", ".woff2"].iter().any(|e| lower.ends_with(e)) {
        return path::art(item).map(FontName::File);
    }
    Ok(FontName::Family(name))
}

fn up(item: &Item<'_>) -> Result<Up, ErrorGuaranteed> {
    if item.as_text().is_some_and(|t| t.starts_with(|c: char| c.is_alphabetic())) {
        return item.choice(&[("centred", Up::Centred)]);
    }
    let up = item.length()?;
    if !(Mm(0.0)..=Mm(500.0)).contains(&up) {
        let at = item.at();
        return Err(item.reader().push(
            Diagnostic::fault(&codes::OUT_OF_RANGE, at.clone(), format!("`{at}` is no height on the wall"))
                .measured(item.reader().show(up))
                .allowed(format!("0 to {}, or \"centred\"", item.reader().show(Mm(500.0))))
                .help("correct the height or its unit"),
        ));
    }
    Ok(Up::At(up))
}

/// A size, or `false` for none.
fn keys(item: &Item<'_>) -> Result<Option<Mm>, ErrorGuaranteed> {
    if let Ok(on) = item.as_flag().ok_or(()) {
        return Ok(on.then_some(Mm(4.0)));
    }
    let size = item.length()?;
    if !(Mm(2.0)..=Mm(20.0)).contains(&size) {
        let at = item.at();
        return Err(item.reader().push(
            Diagnostic::fault(&codes::OUT_OF_RANGE, at.clone(), format!("`{at}` is no size of a key"))
                .measured(item.reader().show(size))
                .allowed(format!(
                    "{} to {}, or false",
                    item.reader().show(Mm(2.0)),
                    item.reader().show(Mm(20.0))
                ))
                .help("4 mm does for most decals"),
        ));
    }
    Ok(Some(size))
}

fn layers(
    section: &Section<'_>,
    films: &Films,
    weed: &[Mm],
) -> Result<(Vec<UnderSpec>, TopSpec), ErrorGuaranteed> {
    let example = "layers = [{ film = \"white\", offset = 2 }, { film = \"red\" }]";
    let Some(item) = section.item("layers") else {
        return Err(section.missing("layers", "its films, base first and the art itself last", example));
    };
    let mut place = 0;
    let count = item.list(|_| Ok(())).map(|l| l.len())?;
    if !(1..=MOST_LAYERS).contains(&count) {
        let d = section.fault(&codes::OUT_OF_RANGE, "layers", "a decal has one to eight layers");
        return Err(section.reader().push(d.measured(count).allowed("1 to 8").help("write the base first")));
    }
    let mut under = Vec::new();
    let mut top = None;
    let read = item.list(|item| {
        place += 1;
        let layer = item.section()?;
        if place == count {
            top = Some(top_layer(layer, films));
        } else {
            under.push(under_layer(layer, films, weed));
        }
        Ok(())
    });
    let under: Result<Vec<UnderSpec>, ErrorGuaranteed> = under.into_iter().collect();
    read?;
    let top = top.unwrap_or_else(|| Err(section.missing("layers", "its films", example)));
    Ok((under?, top?))
}

fn under_layer(section: Section<'_>, films: &Films, weed: &[Mm]) -> Result<UnderSpec, ErrorGuaranteed> {
    let film = films.under(&section, "film");
    let offset = section
        .length("offset")
        .within(Mm(0.0)..=Mm(30.0))
        .required("how far it reaches out beyond what lies above it", "offset = 2");
    let join = join(&section);
    let close = section.length("close").within(Mm(0.0)..=Mm(20.0)).optional();
    let overlap = section.length("overlap").within(Mm(0.3)..=Mm(30.0)).optional();
    if section.has("films") {
        let d = section.fault(&codes::ONE_OF, "films", "only the last layer, the art itself, is split");
        section.reader().push(d.help("give this layer one `film`; the art is the last layer"));
    }
    section.done();
    let film = film?;
    Ok(UnderSpec {
        film,
        offset: offset?,
        join: join?,
        close: close?.unwrap_or_else(|| weed.get(film.0).copied().unwrap_or(Mm(0.8))),
        overlap: overlap?,
    })
}

fn top_layer(section: Section<'_>, films: &Films) -> Result<TopSpec, ErrorGuaranteed> {
    let top = top_films(&section, films);
    let offset = section.length("offset").within(Mm(0.0)..=Mm(30.0)).or(Mm::ZERO);
    let join = join(&section);
    section.done();
    Ok(TopSpec { films: top?, offset: offset?, join: join? })
}

fn top_films(section: &Section<'_>, films: &Films) -> Result<TopFilms, ErrorGuaranteed> {
    let split = section
        .choice("split", &[("line", Split::Line), ("word", Split::Word), ("letter", Split::Letter)])
        .optional();
    let several = section.list("films", |item| films.named(item)).counting(1..=20, "films").optional();
    let colours = section.table("colours").optional();
    match (several?, colours?, split?) {
        (None, None, None) => films.under(section, "film").map(TopFilms::One),
        (Some(several), None, split) if !section.has("film") => {
            Ok(TopFilms::InTurn(split.unwrap_or(Split::Word), several))
        }
        (None, Some(table), None) if !section.has("film") => {
            let mut read = Vec::new();
            for (colour, item) in table.own_keys() {
                let rgb = super::films::hex(&colour).ok_or_else(|| {
                    item.unreadable(
                        "colour",
                        "its name is not `#` and six hexadecimal digits",
                        "\"#267b69\" = \"straw\"",
                    )
                });
                let film = films.named(&item);
                read.push(rgb.and_then(|c| film.map(|f| (c, f))));
            }
            let read: Vec<(Rgb, FilmId)> = read.into_iter().collect::<Result<_, _>>()?;
            if read.is_empty() {
                return Err(table.missing(
                    "#000000",
                    "a colour of the drawing and its film",
                    "\"#267b69\" = \"straw\"",
                ));
            }
            Ok(TopFilms::Colours(read))
        }
        _ => Err(section.reader().push(
            section
                .fault(&codes::ONE_OF, "split", "the top says its films in more ways than one")
                .help("keep `film`, or `films` with `split`, or `colours`"),
        )),
    }
}

fn join(section: &Section<'_>) -> Result<Join, ErrorGuaranteed> {
    let mitred = section.choice("join", &[("round", false), ("mitred", true)]).or(false);
    let limit = section.number("mitre-limit").within(1.0..=6.0).optional();
    match (mitred?, limit?) {
        (true, limit) => Ok(Join::Mitre(limit.unwrap_or(MITRE))),
        (false, None) => Ok(Join::Round),
        (false, Some(_)) => Err(section.reader().push(
            section
                .fault(&codes::ONE_OF, "mitre-limit", "round corners have no mitre")
                .help("write `join = \"mitred\"`, or take `mitre-limit` out"),
        )),
    }
}
