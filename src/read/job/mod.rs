//! The job file: TOML text to a checked [`Job`], with every fault found at once and the place of each.
//!
//! [`read_job`] is the way in. A new section of the job gets a file of its own here that reads it with
//! [`section::Section`], and a field in [`Job`].
//!
//! Imports: base, read::source.

pub mod codes;
pub mod document;
mod syntax;
pub mod quantity;
pub mod keys;
pub mod lay;
pub mod nest;
pub mod families;
pub mod alike;
pub mod model;
mod decal_spec;
pub mod sheet_spec;
pub mod order_spec;
pub mod look_spec;
mod rows;
mod suggest;
pub mod reader;
pub mod section;
mod path;
pub mod chain;
pub mod line;
pub mod chance;
mod borders;
pub mod curve;
pub mod doubt;
mod cutting;
mod films;
mod gathered;
mod readings;
mod unit_mistakes;
mod handles;
mod outlines;
mod curved;
mod cup;
mod motifs;
mod own_print;
mod sheets;
pub mod decals;
pub mod print;
pub mod look;
pub mod finish;
mod blank;
mod passes;
mod order;

pub use chain::{GirthChain, Girths};
pub use codes::CODES;
pub use curve::{GirthCurve, Part};
pub use document::{LineColumn, Places, TextRange, line_column};
pub use doubt::Doubt;
pub use families::Family;
pub use films::taken_up;
pub use lay::{Lay, Laying, PanelSpec, Turned};
pub use line::GirthLine;
pub use model::*;
pub use order_spec::{MOST_CUPS, NamesSpec, OrderSpec, Sharing};
pub use sheet_spec::*;
pub use sheets::{BETWEEN, FRAMES, gone_numbers};

use crate::base::diag::{Diagnostic, Diagnostics, ErrorGuaranteed, KeyPath};
use crate::base::units::{LengthUnit, Mm, Seed};
use crate::read::source::{InMemory, Source};
use reader::Reader;
use section::{Item, Section};
use toml::de::DeTable;

/// Bytes that a job's text may have.
pub const LARGEST_TEXT: usize = 1 << 20;

/// A whole job.
#[derive(Clone, Debug, PartialEq)]
pub struct Job {
    /// What it is called, for headings.
    pub title: String,
    /// ISO date as the maker wrote it; never the clock's.
    pub date: Option<String>,
    /// Unit of bare numbers, and of printed tables beside millimetres.
    pub unit: LengthUnit,
    /// Everything random comes from this.
    pub seed: Seed,
    /// The cup.
    pub cup: CupSpec,
    /// Films, in the order of the file; at least one.
    pub films: Vec<FilmSpec>,
    /// Decals, in the order of the file.
    pub decals: Vec<decals::DecalSpec>,
    /// Printed sheets, in the order of the file; each is a film too, after those of `films` that are not.
    pub sheets: Vec<SheetSpec>,
    /// Motifs, in the order of the file.
    pub motifs: Vec<MotifSpec>,
    /// What is picked from printed sheets, in the order of the file.
    pub picks: Vec<PickSpec>,
    /// Accent fills, in the order of the file.
    pub accents: Vec<AccentSpec>,
    /// Coats, hours and prices; `None`: the usual ones, and no quote.
    pub finish: Option<finish::FinishSpec>,
    /// Several cups; `None`: film is laid out for one.
    pub order: Option<OrderSpec>,
    /// Papers and pictures.
    pub print: PrintSpec,
    /// What is asked of colours.
    pub look: look_spec::LookSpec,
    /// The file's own words.
    pub written: Written,
}

/// The job's own words, and what each key is worth. Always compares equal, so that jobs compare by content.
#[derive(Clone, Debug, Default)]
pub struct Written {
    /// Source text of the job, copied into the kit.
    pub text: String,
    /// Every key in the order of reading, said or left to its default.
    pub settings: Vec<keys::Setting>,
}

impl PartialEq for Written {
    fn eq(&self, _: &Written) -> bool {
        true
    }
}

/// What reading a job gave.
#[derive(Clone, Debug)]
pub struct ParsedJob {
    /// The job, if it has no fault.
    pub job: Option<Job>,
    /// The cup and the job's unit, if these have no fault: what tape readings are worth needs no more.
    pub cup: Option<(CupSpec, LengthUnit)>,
    /// Everything found, in the order of the text.
    pub diagnostics: Diagnostics,
    /// Where everything stands.
    pub places: Places,
}

impl ParsedJob {
    /// The bytes of the text that a diagnostic is about.
    pub fn bytes_of(&self, d: &Diagnostic) -> std::ops::Range<usize> {
        d.bytes.clone().unwrap_or_else(|| self.places.locate(&d.at))
    }
}

/// Reads a job that names no file of a blank; see [`read_job_in`].
pub fn read_job(text: &str) -> ParsedJob {
    read_job_in(text, &InMemory::default())
}

/// Reads a job: never panics, whatever the text; reports every fault, each with its place. A cup from the maker's
/// blanks is had through `source`.
pub fn read_job_in(text: &str, source: &dyn Source) -> ParsedJob {
    let mut diagnostics = Diagnostics::new();
    if text.len() > LARGEST_TEXT {
        diagnostics.push(
            Diagnostic::fault(&codes::TOO_LARGE, KeyPath::root(), "this is too large to be a job")
                .measured(format!("{} bytes", text.len()))
                .allowed(format!("up to {LARGEST_TEXT} bytes"))
                .help("check that this is the job file"),
        );
        return ParsedJob { job: None, cup: None, diagnostics, places: Places::default() };
    }
    let (root, slips) = DeTable::parse_recoverable(text);
    let places = Places::of(&root);
    let torn = syntax::report(text, &slips, &mut diagnostics);
    let reader = Reader::new(text, !slips.is_empty(), diagnostics);
    let mut cup = None;
    let mut kept = text.to_owned();
    let job = job(Section::new(&reader, KeyPath::root(), root.get_ref()), source, (&mut cup, &mut kept));
    let (found, settings) = reader.into_found();
    let found = found.into_vec().into_iter().filter(|d| !torn.explain(d, text, &places));
    let diagnostics = in_order(found, &places);
    // A slip of syntax may have swallowed a ring.
    let cup = cup.filter(|_| slips.is_empty());
    let written = |job: Job| Job { written: Written { text: kept, settings }, ..job };
    ParsedJob { job: job.ok().filter(|_| !diagnostics.any_fault()).map(written), cup, diagnostics, places }
}

/// By place in the text; those of one place in the order found.
fn in_order(found: impl Iterator<Item = Diagnostic>, places: &Places) -> Diagnostics {
    let mut list: Vec<Diagnostic> = found.collect();
    list.sort_by_key(|d| d.bytes.clone().unwrap_or_else(|| places.locate(&d.at)).start);
    let mut sorted = Diagnostics::new();
    sorted.extend(list);
    sorted
}

fn title(root: &Section<'_>) -> Result<String, ErrorGuaranteed> {
    root.key(&rows::TITLE)
        .held(|t, at| match t.chars().count() {
            0..=120 => None,
            n => Some(
                Diagnostic::fault(&codes::OUT_OF_RANGE, at.clone(), "the title is too long for a heading")
                    .measured(format!("{n} characters"))
                    .allowed("up to 120")
                    .help("shorten it"),
            ),
        })
        .or("Untitled".into())
}

fn printing(root: &Section<'_>) -> Result<PrintSpec, ErrorGuaranteed> {
    match root.table(&rows::PRINT).optional() {
        Ok(Some(section)) => print::read(section),
        Ok(None) => Ok(PrintSpec::default()),
        Err(reported) => Err(reported),
    }
}

fn look_of(root: &Section<'_>) -> Result<look_spec::LookSpec, ErrorGuaranteed> {
    match root.table(&rows::LOOK).optional() {
        Ok(Some(section)) => look::read(section),
        Ok(None) => Ok(look_spec::LookSpec::default()),
        Err(reported) => Err(reported),
    }
}

fn tell_nothing(reader: &Reader<'_>) {
    reader.push(
        Diagnostic::note(
            &codes::NOTHING_TO_MAKE,
            KeyPath::root(),
            "the job has neither decals, motifs nor accents: only the wrap template comes of it",
        )
        .help("add a `[[decal]]`, a `[[motif]]` or an `[[accent]]`, if that is not what you want"),
    );
}

/// Cup and unit, and the text to be kept in the kit.
type Aside<'a> = (&'a mut Option<(CupSpec, LengthUnit)>, &'a mut String);

/// The cup, from the job or from the file of a blank, whose words are kept with the job's.
fn cup_of(
    root: &Section<'_>,
    source: &dyn Source,
    kept: &mut String,
) -> (Result<CupSpec, ErrorGuaranteed>, Option<blank::Blank>) {
    match root.item(rows::CUP.row.name).filter(blank::named) {
        Some(item) => match blank::read(&item, source) {
            Ok(blank) => {
                let lines: String = blank.text.lines().map(|l| format!("# {l}\n")).collect();
                kept.push_str(&format!("\n# {} as it was read:\n{lines}", blank.file));
                (Ok(blank.cup.clone()), Some(blank))
            }
            Err(reported) => (Err(reported), None),
        },
        None => (root.table(&rows::CUP).required().and_then(cup::read), None),
    }
}

fn job(root: Section<'_>, source: &dyn Source, (taped, kept): Aside<'_>) -> Result<Job, ErrorGuaranteed> {
    let unit = root.key(&rows::UNIT).or_usual();
    root.reader().unit.set(unit.unwrap_or_default());
    let title = title(&root);
    let date = root.own(&rows::DATE, Item::date).optional();
    let seed = root.key(&rows::SEED).or_usual();
    let (cup, blank) = cup_of(&root, source, kept);
    *taped = cup.as_ref().ok().cloned().zip(unit.as_ref().ok().copied());
    let (mut names, films) = films::read(&root);
    let sheets = sheets::read(&root, &mut names);
    let printed = sheets.iter().flatten().map(sheets::film);
    let films = gathered::read(&root, films.map(|films| films.into_iter().chain(printed).collect()));
    let weed: Vec<_> = films.iter().flatten().map(|f| f.weed).collect();
    let decals: Vec<_> = root
        .tables(&rows::DECAL, 60)
        .into_iter()
        .map(|s| s.and_then(|s| decals::decal(s, &names, &weed)))
        .collect();
    let motifs: Vec<_> = root
        .tables(&rows::MOTIF, 500)
        .into_iter()
        .map(|s| s.and_then(|s| motifs::motif(s, &names)))
        .collect();
    let picks: Vec<_> =
        root.tables(&rows::PICK, 40).into_iter().map(|s| s.and_then(|s| sheets::pick(s, &names))).collect();
    let accents: Vec<_> = root
        .tables(&rows::ACCENT, 40)
        .into_iter()
        .map(|s| s.and_then(|s| motifs::accent(s, &names)))
        .collect();
    let print = printing(&root);
    let look = look_of(&root);
    let nothing = decals.is_empty() && motifs.is_empty() && picks.is_empty() && accents.is_empty();
    if nothing && !root.reader().torn {
        tell_nothing(root.reader());
    }
    let mut finish = match &blank {
        Some(blank) if !root.has(rows::FINISH.row.name) => {
            blank::coats(blank, root.reader(), &names, films.as_deref().ok())
        }
        _ => finish::read(&root, &names, films.as_deref().ok()),
    };
    let order = order::read(&root, &mut finish);
    let reader = root.reader();
    if let Ok(CupSpec { alike: Some(alike), .. }) = &cup {
        let cups = |f: &finish::FinishSpec| f.cups;
        let finish = finish.as_ref().ok().and_then(Option::as_ref).map_or(1, cups);
        blank::tell(reader, alike, order.as_ref().ok().and_then(Option::as_ref).map_or(finish, |o| o.cups));
    }
    root.done();
    let (mut decals, mut motifs, mut picks, mut accents) = (
        decals.into_iter().collect::<Result<Vec<_>, _>>()?,
        motifs.into_iter().collect::<Result<Vec<_>, _>>()?,
        picks.into_iter().collect::<Result<Vec<_>, _>>()?,
        accents.into_iter().collect::<Result<Vec<_>, _>>()?,
    );
    let finish = finish?;
    passes::all(finish.as_ref(), &mut decals, &mut motifs, (&mut picks, &mut accents), reader)?;
    let asked = decals.iter().map(|d| d.clearance).chain(motifs.iter().map(|m| m.clearance));
    let asked = asked.chain(accents.iter().map(|a| a.gap));
    let beside_edges = asked.fold(Mm::ZERO, Mm::max) * 0.5;
    Ok(Job {
        title: title?,
        date: date?,
        unit: unit?,
        seed: Seed(seed?),
        cup: CupSpec { beside_edges, ..cup? },
        films: films?,
        decals,
        sheets: sheets.into_iter().collect::<Result<_, _>>()?,
        motifs,
        picks,
        accents,
        finish,
        order: order?,
        print: print?,
        look: look?,
        written: Written::default(),
    })
}
impl Job {
    /// Does the job say the value of a key itself? The table as the settings page calls it: `film[0]`.
    pub fn says(&self, table: &str, key: &str) -> bool {
        self.written.settings.iter().any(|s| s.said && s.table == table && s.key == key)
    }
    /// Place of the printed sheet that a film is; none if it is plain film.
    pub fn sheet_of(&self, film: FilmId) -> Option<usize> {
        film.0.checked_sub(self.films.len() - self.sheets.len())
    }
    /// The film that a printed sheet is.
    pub fn film_of_sheet(&self, sheet: usize) -> FilmId {
        FilmId(self.films.len() - self.sheets.len() + sheet)
    }
}

pub use nest::{CutSpec, Effort, InStock, Rates, Weeding};

/// Is this the text of a blank's file, and no job's?
pub fn is_blank(text: &str) -> bool {
    text.len() <= LARGEST_TEXT
        && DeTable::parse_recoverable(text).0.get_ref().contains_key(rows::blank::BLANK.row.name)
}

/// The tables of a blank's file that are not a job's too.
pub fn blank_tables() -> Vec<&'static keys::Table> {
    vec![&rows::blank::TABLE, &rows::blank::specimen::TABLE, &rows::blank::asked::TABLE]
}

/// Every table of the job with its keys, in the order of a job file.
pub fn tables() -> Vec<&'static keys::Table> {
    use finish::rows as f;
    use rows::{art, cup, decal, film, gathered, look, order, print, sheet};
    vec![
        &rows::TABLE,
        &cup::TABLE,
        &cup::ring::TABLE,
        &cup::diameters::TABLE,
        &cup::keep_clear::TABLE,
        &cup::handle::TABLE,
        &cup::trial::TABLE,
        &cup::outline::TABLE,
        &cup::outline_point::TABLE,
        &cup::gap::TABLE,
        &film::TABLE,
        &film::in_stock::TABLE,
        &film::weeding::TABLE,
        &film::cutter::TABLE,
        &film::panel::TABLE,
        &gathered::TABLE,
        &sheet::TABLE,
        &sheet::own::TABLE,
        &sheet::own_motif::TABLE,
        &sheet::own_printed::TABLE,
        &sheet::holes::TABLE,
        &decal::TABLE,
        &decal::layer::TABLE,
        &art::motif::TABLE,
        &art::pose::TABLE,
        &sheet::pick::TABLE,
        &art::accent::TABLE,
        &art::adapt::TABLE,
        &art::edge::TABLE,
        &f::TABLE,
        &f::product::TABLE,
        &f::band::TABLE,
        &f::step::TABLE,
        &f::glitters::TABLE,
        &f::stir_in::TABLE,
        &f::weighed::TABLE,
        &f::times::TABLE,
        &f::base::TABLE,
        &f::mark::TABLE,
        &f::price::TABLE,
        &f::film_price::TABLE,
        &f::quote::TABLE,
        &f::quote_words::TABLE,
        &order::TABLE,
        &order::names::TABLE,
        &print::TABLE,
        &print::bars::TABLE,
        &look::TABLE,
    ]
}
