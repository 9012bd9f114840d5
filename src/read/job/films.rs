//! The films' sections.
//!
//! Imports: base, read::job::{codes, keys, model, rows, suggest, section, cutting}.

use super::codes;
use super::keys::{Key, Own};
use super::model::{FilmId, FilmSpec, Rgb, Stock};
use super::rows::{self as root, film as rows};
use super::section::{Field, Item, Section};
use super::suggest::suggestion;
use crate::base::diag::{Diagnostic, ErrorGuaranteed};
use crate::base::units::Mm;

/// Colours of films that say none, in turn: told apart with every kind of colour sight (smallest CIEDE2000
/// over normal sight and three deficiencies 21.7) and at least 3:1 on near-white paper.
const COLOURS: [[u8; 3]; 7] = [
    [0x0a, 0x00, 0x5e],
    [0xc4, 0x83, 0x09],
    [0x26, 0x7b, 0x69],
    [0x7c, 0x3b, 0xb6],
    [0x47, 0x53, 0x00],
    [0x29, 0x19, 0x15],
    [0x94, 0x8a, 0xc1],
];
/// Least film that the margins must leave.
const LEAST_SHEET: Mm = Mm(10.0);
/// Part of a ball's girth that a disc may be across: farther round, half of what the closed form leaves out is felt.
const MOST_OF_A_BALL: f64 = 0.2;

/// The films of a job while its other sections are read: a film that could not be read still has its name.
#[derive(Debug, Default)]
pub(super) struct Films {
    names: Vec<Option<String>>,
    /// Printed sheets: films of their own, after the others.
    sheets: Vec<Option<String>>,
}

/// Reads all `[[film]]`; a job that cuts nothing needs none.
pub(super) fn read(job: &Section<'_>) -> (Films, Result<Vec<FilmSpec>, ErrorGuaranteed>) {
    let sections = job.tables(&root::FILM, usize::MAX);
    let mut films = Films::default();
    let cuts = ["decal", "motif", "accent", "finish"].into_iter().any(|key| job.has(key));
    let cuts = cuts && !job.has(root::SHEET.row.name);
    if sections.is_empty() && !cuts && !job.has("film") {
        return (films, Ok(Vec::new()));
    }
    if sections.is_empty() {
        return (films, Err(job.missing(&root::FILM)));
    }
    if sections.len() > 40 {
        let name = |s: &Result<Section<'_>, _>| s.as_ref().ok()?.item("name")?.as_text().map(str::to_owned);
        films.names = sections.iter().map(name).collect();
        let d = job.fault(&codes::OUT_OF_RANGE, "film", "there are too many films");
        let reported = job.reader().push(d.measured(sections.len()).allowed("1 to 40").help("join some"));
        return (films, Err(reported));
    }
    let mut specs = Vec::new();
    for (i, section) in sections.into_iter().enumerate() {
        let spec = section.and_then(|section| {
            let name = films.new_name(&section, &rows::NAME);
            // A name that is refused still answers to those who use it: one fault, not one at each use.
            films.names.push(section.item("name").and_then(|n| n.as_text()).map(str::to_owned));
            one(section, i, name)
        });
        films.names.resize(i + 1, None);
        specs.push(spec);
    }
    (films, specs.into_iter().collect())
}

fn one(
    section: Section<'_>,
    i: usize,
    name: Result<String, ErrorGuaranteed>,
) -> Result<FilmSpec, ErrorGuaranteed> {
    let colour = section.own(&rows::COLOUR, colour).or(Rgb(COLOURS[i % COLOURS.len()]));
    let stock = stock(&section);
    let margin = section.key(&rows::MARGIN).or_usual();
    let spacing = section.key(&rows::SPACING).or_usual();
    let weed = section.key(&rows::WEED).or_usual();
    let thickness = section.key(&rows::THICKNESS).or_usual();
    let take_up = take_up(&section);
    let mirrored = section.key(&rows::MIRRORED).or_usual();
    let grain = section.key(&rows::GRAIN).or_usual();
    let sheen = section.key(&rows::SHEEN).or_usual();
    let cut = super::cutting::cut(&section);
    if let (Ok(stock), Ok(margin)) = (&stock, margin) {
        let (width, height) = match *stock {
            Stock::Sheet { width, height } => (width, height),
            Stock::Roll { width, longest } => (width, longest),
        };
        let left = width.min(height) - margin * 2.0;
        if left < LEAST_SHEET {
            let show = |mm| section.reader().show(mm);
            section.reader().push(
                section
                    .fault(&codes::NO_SHEET_LEFT, "margin", "the margins leave no film to cut")
                    .measured(format!("{} on each edge of {} x {}", show(margin), show(width), show(height)))
                    .allowed(format!("up to {}", show((width.min(height) - LEAST_SHEET) * 0.5)))
                    .help("narrow the margin, or check the size of the film"),
            );
        }
    }
    section.done();
    Ok(FilmSpec {
        name: name?,
        colour: colour?,
        stock: stock?,
        margin: margin?,
        spacing: spacing?,
        weed: weed?,
        thickness: thickness?,
        take_up: take_up?,
        mirrored: mirrored?,
        grain: grain?,
        sheen: sheen?,
        cut: cut?,
    })
}

/// Part of itself that a film takes up of which a disc of `across` just lies flat on a ball of `girth`.
///
/// K d^2 / 21.3, K = (2 pi / girth)^2 the ball's curvature: what the least energy asks of a disc (1.5 K b^2 / (3 + 2
/// q^2 + 3 q^4), q = 1 and b = d / 2, is K d^2 / 21.33), without the tenth that is added where a piece is judged.
pub fn taken_up(across: Mm, girth: Mm) -> f64 {
    let turn = std::f64::consts::TAU * across.0 / girth.0;
    turn * turn * 1.5 / 32.0
}

/// What a film takes up: said, or by the disc that lay flat.
fn take_up(section: &Section<'_>) -> Result<f64, ErrorGuaranteed> {
    let said = section.key(&rows::TAKE_UP).or_usual();
    let across = section.key(&rows::FLAT_UP_TO).optional();
    let girth = section.key(&rows::BALL).optional();
    let (across, girth) = match (across?, girth?) {
        (None, None) => return Ok(said? / 100.0),
        (Some(across), Some(girth)) => (across, girth),
        (None, Some(_)) => return Err(section.missing(&rows::FLAT_UP_TO)),
        (Some(_), None) => return Err(section.missing(&rows::BALL)),
    };
    let own = rows::TAKE_UP.row.name;
    if section.has(own) {
        let twice = section.fault(&codes::ONE_OF, own, "what the film takes up is said twice");
        let twice = twice.measured(format!("`{own}`, and a disc that lay flat on a ball"));
        return Err(section.reader().push(twice.help(format!("take `{own}` out: the disc was measured"))));
    }
    // A disc that goes half round its ball says nothing of shallow walls.
    if across > girth * MOST_OF_A_BALL {
        let show = |mm| section.reader().show(mm);
        let large = section.fault(
            &codes::OUT_OF_RANGE,
            rows::FLAT_UP_TO.row.name,
            "the disc is too large for the ball",
        );
        let large = large.measured(format!("{} on a ball {} round", show(across), show(girth)));
        let large = large.allowed(format!("up to a fifth of its girth, {}", show(girth * MOST_OF_A_BALL)));
        return Err(section.reader().push(large.help("take a larger ball; its girth is read at its widest")));
    }
    Ok(taken_up(across, girth))
}

fn name(section: &Section<'_>, key: &'static Key<String>, films: &Films) -> Result<String, ErrorGuaranteed> {
    let plain = |c: char| c.is_ascii_lowercase() || c.is_ascii_digit() || c == '-';
    section
        .key(key)
        .held(|name, at| {
            let fault =
                |message: &str| Diagnostic::fault(&codes::FILM_NAME, at.clone(), message).measured(name);
            if name.len() > 40 || name.starts_with('-') || name.ends_with('-') || !name.chars().all(plain) {
                let mend = match slug(name) {
                    s if s.is_empty() => "write a name such as \"leaf-green\"".to_owned(),
                    s => format!("write \"{s}\""),
                };
                return Some(
                    fault("this name cannot be part of a file name")
                        .allowed("lower-case letters, digits and hyphens between them, at most 40")
                        .help(mend),
                );
            }
            if films.names.iter().chain(&films.sheets).flatten().any(|n| n == name) {
                return Some(fault("another film has this name already").help("give each film its own name"));
            }
            None
        })
        .required()
}

/// A name made fit for a file.
fn slug(name: &str) -> String {
    let lower = name.to_lowercase();
    let words = lower.split(|c: char| !c.is_ascii_alphanumeric()).filter(|w| !w.is_empty());
    words.collect::<Vec<_>>().join("-").chars().take(40).collect::<String>().trim_end_matches('-').to_owned()
}

pub(super) fn colour(item: &Item<'_>) -> Result<Rgb, ErrorGuaranteed> {
    let text = item.text()?;
    hex(&text)
        .ok_or_else(|| item.unreadable("colour", "it is not `#` and six hexadecimal digits", "\"#267b69\""))
}

/// A colour as `#rrggbb` or `#rgb`.
pub(super) fn hex(text: &str) -> Option<Rgb> {
    let hex = text.strip_prefix('#').unwrap_or_default();
    let long: String = match hex.len() {
        3 => hex.chars().flat_map(|c| [c, c]).collect(),
        _ => hex.to_owned(),
    };
    let ok = long.len() == 6 && long.chars().all(|c| c.is_ascii_hexdigit());
    let n = u32::from_str_radix(&long, 16).ok().filter(|_| ok)?;
    Some(Rgb([(n >> 16) as u8, (n >> 8) as u8, n as u8]))
}

fn stock(section: &Section<'_>) -> Result<Stock, ErrorGuaranteed> {
    let sheet = section
        .own(&rows::SHEET, |item| item.list(Item::length))
        .counting(2..=2, "lengths: [left to right, along the feed]")
        .optional();
    let roll = section.key(&rows::ROLL).optional();
    let longest = section.key(&rows::LONGEST).optional();
    match (sheet?, roll?, longest?) {
        (Some(sheet), None, None) => {
            for (i, side) in sheet.iter().enumerate() {
                if *side < rows::SIDE[0] || *side > rows::SIDE[1] {
                    let at = section.path("sheet").index(i);
                    let show = |mm| section.reader().show(mm);
                    return Err(section.reader().push(
                        Diagnostic::fault(&codes::OUT_OF_RANGE, at, "the sheet has no such side")
                            .measured(show(*side))
                            .allowed(format!("{} to {}", show(rows::SIDE[0]), show(rows::SIDE[1])))
                            .help("correct the size or its unit"),
                    ));
                }
            }
            Ok(Stock::Sheet { width: sheet[0], height: sheet[1] })
        }
        (None, Some(width), longest) => {
            Ok(Stock::Roll { width, longest: longest.unwrap_or(rows::LONGEST.usual()) })
        }
        (Some(_), _, _) => Err(section.reader().push(
            section
                .fault(&codes::ONE_OF, "sheet", "the film is said to come in sheets and on a roll")
                .help("keep `sheet`, or `roll` with `longest`"),
        )),
        (None, None, Some(_)) => Err(section.missing(&rows::ROLL)),
        (None, None, None) => Err(section.missing(&rows::SHEET)),
    }
}

impl Films {
    /// The name of a new film or sheet, that no other has.
    pub(super) fn new_name(
        &self,
        section: &Section<'_>,
        key: &'static Key<String>,
    ) -> Result<String, ErrorGuaranteed> {
        name(section, key, self)
    }
    /// Takes in a printed sheet.
    pub(super) fn has_sheet(&mut self, name: Option<String>) {
        self.sheets.push(name);
    }
    /// The film that a printed sheet is: after all others.
    pub(super) fn film_of_sheet(&self, sheet: usize) -> FilmId {
        FilmId(self.names.len() + sheet)
    }
    /// Places of all printed sheets.
    pub(super) fn all_sheets(&self) -> Vec<usize> {
        (0..self.sheets.len()).collect()
    }
    /// Place of a printed sheet by the name that an item holds.
    pub(super) fn sheet(&self, item: &Item<'_>) -> Result<usize, ErrorGuaranteed> {
        let name = item.text()?;
        self.sheet_named(&name, item)
    }
    /// Place of a printed sheet by a name that stands at an item.
    pub(super) fn sheet_named(&self, name: &str, item: &Item<'_>) -> Result<usize, ErrorGuaranteed> {
        self.sheets.iter().position(|s| s.as_deref() == Some(name)).ok_or_else(|| {
            let known: Vec<&str> = self.sheets.iter().flatten().map(String::as_str).collect();
            let mend = match suggestion(name, &known) {
                Some(near) => format!("write \"{near}\" if that is meant"),
                None if known.is_empty() => "add a `[[sheet]]` with its name and picture".into(),
                None => format!("sheets of this job: {}", known.join(", ")),
            };
            let message = format!("the job has no printed sheet \"{name}\"");
            let d = Diagnostic::fault(&codes::UNKNOWN_SHEET, item.at().clone(), message);
            item.reader().push(d.help(mend))
        })
    }
    /// A film, or a printed sheet, by a name that stands at an item: what can be bought.
    pub(super) fn bought(&self, name: &str, item: &Item<'_>) -> Result<FilmId, ErrorGuaranteed> {
        match self.sheets.iter().position(|s| s.as_deref() == Some(name)) {
            Some(sheet) => Ok(self.film_of_sheet(sheet)),
            None => self.by_name(name, item),
        }
    }
    fn find(&self, name: &str) -> Option<FilmId> {
        let named = |n: &Option<String>| n.as_deref().is_some_and(|n| n == name || slug(n) == name);
        self.names.iter().position(named).map(FilmId)
    }

    /// A film by the name that an item holds.
    pub(super) fn named(&self, item: &Item<'_>) -> Result<FilmId, ErrorGuaranteed> {
        let name = item.text()?;
        self.by_name(&name, item)
    }

    /// A film by a name that stands at an item.
    pub(super) fn by_name(&self, name: &str, item: &Item<'_>) -> Result<FilmId, ErrorGuaranteed> {
        self.find(name).ok_or_else(|| {
            let known: Vec<&str> = self.names.iter().flatten().map(String::as_str).collect();
            let mend = match suggestion(name, &known) {
                Some(near) => format!("write \"{near}\" if that is meant"),
                None if known.is_empty() => "correct the films first".into(),
                None => format!("films of this job: {}", known.join(", ")),
            };
            let message = format!("the job has no film \"{name}\"");
            let d = Diagnostic::fault(&codes::UNKNOWN_FILM, item.at().clone(), message);
            item.reader().push(d.help(mend))
        })
    }

    /// A film by the name under a key; the job's only film if there is no key.
    pub(super) fn under(
        &self,
        section: &Section<'_>,
        key: &'static Key<Own>,
    ) -> Result<FilmId, ErrorGuaranteed> {
        let field: Field<'_, '_, FilmId> = section.own(key, |item| self.named(item));
        match (field.optional()?, self.names.len()) {
            (Some(film), _) => Ok(film),
            (None, 1) => Ok(FilmId(0)),
            (None, _) => Err(section.missing(key)),
        }
    }
}
