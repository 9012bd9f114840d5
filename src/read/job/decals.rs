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
//! Imports: base, outline, read::job::{codes, model, decal_spec, rows, section, path, films}.

pub use super::decal_spec::*;

use super::codes;
use super::films::Films;
use super::model::{ArtSize, FilmId, Pass, Rgb};
use super::path;
use super::rows::art::SIZE;
use super::rows::decal as rows;
use super::section::{Item, Section};
use crate::base::diag::{Diagnostic, ErrorGuaranteed, undisturbed};
use crate::base::units::Mm;
use crate::outline::Join;

/// Most lines of a text and most layers of a decal.
const MOST_LINES: usize = 20;
const MOST_LAYERS: usize = 8;

/// Reads one `[[decal]]`. `films` are the films' own smallest weedable sizes by their place, where they could
/// be read.
pub(super) fn decal(section: Section<'_>, films: &Films, weed: &[Mm]) -> Result<DecalSpec, ErrorGuaranteed> {
    // Most decals say their own words: nothing is told of a list then.
    let by_row = if section.has("row") {
        section.key(&rows::ROW).optional().map(|row| row == Some(true))
    } else {
        Ok(false)
    };
    let (shows, row) = match by_row {
        Ok(true) => of_row(&section).map_or_else(|r| (Err(r), Err(r)), |(s, r)| (Ok(s), Ok(Some(r)))),
        Ok(false) => (shows(&section), Ok(None)),
        Err(r) => (Err(r), Err(r)),
    };
    let lies = section.key(&rows::LIES).or_usual();
    let azimuth = section.key(&rows::AZIMUTH).or_usual();
    let up = section.own(&rows::UP, up).required();
    let turn = section.key(&rows::TURN).or_usual();
    let layers = layers(&section, films, weed);
    let clearance = section.key(&rows::CLEARANCE).or_usual();
    let keys = section.own(&rows::KEYS, keys).optional();
    let method = section.key(&rows::METHOD).or_usual();
    let level = section.key(&rows::LEVEL).or_usual();
    let sharpest = section.key(&rows::SHARPEST).or_usual();
    let island = section.key(&rows::ISLAND).optional();
    let mend = section.key(&rows::MEND).or_usual();
    let pass = section.key(&rows::PASS).optional();
    let halo = section.key(&rows::HALO).optional();
    let agrees = agrees(&section, &shows, &lies, &layers);
    section.done();
    agrees?;
    let (under, top) = layers?;
    // One layer alone is laid on nothing of its own: keys only if they are asked for.
    let usual = (!under.is_empty()).then_some(USUAL_KEYS);
    Ok(DecalSpec {
        shows: shows?,
        row: row?,
        lies: lies?,
        azimuth: azimuth?.wrapped(),
        up: up?,
        turn: turn?,
        under,
        top,
        clearance: clearance?,
        keys: keys?.unwrap_or(usual),
        method: method?,
        level: level?,
        sharpest: sharpest?,
        island: island?,
        mend: mend?,
        pass: Pass { name: pass?, order: 0 },
        halo: halo?,
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
    if let (true, Ok((under, top))) = (section.has("row"), layers)
        && !matches!(top.films, TopFilms::One(_))
    {
        let at = section.path("layers").index(under.len());
        let d = Diagnostic::fault(&codes::ONE_OF, at, "names of a list are cut from one film");
        return Err(section.reader().push(d.help("give the last layer one `film`")));
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
        (false, false) => Err(section.missing(&rows::TEXT)),
    }
}

/// Lettering whose words come from the list of the order.
fn of_row(section: &Section<'_>) -> Result<(Shows, RowSpec), ErrorGuaranteed> {
    if let Some(key) = ["text", "art", "width", "height"].into_iter().find(|k| section.has(k)) {
        let d = section.fault(&codes::ONE_OF, key, "the words of this decal come from the list of the order");
        return Err(section
            .reader()
            .push(d.help(format!("take `{key}` out, or `row`; `fits` is the window"))));
    }
    let font = section.own(&rows::FONT, font).or(FontName::Family("Source Sans Pro Bold".into()));
    let letter_spacing = section.key(&rows::LETTER_SPACING).or_usual();
    let cap_height = section.key(&rows::CAP_HEIGHT).optional();
    let window = fits(section)?.ok_or_else(|| section.missing(&rows::FITS));
    let (window, cap_height) = (window?, cap_height?);
    let words = Words {
        lines: Vec::new(),
        align: Align::Middle,
        size: LetterSize::Fit { width: window.0, height: window.1 },
        letter_spacing: letter_spacing?,
        line_spacing: 1.0,
    };
    Ok((Shows::Words { words, font: font? }, RowSpec { window, cap_height, baseline: Mm::ZERO }))
}

fn lettering(section: &Section<'_>) -> Result<Shows, ErrorGuaranteed> {
    let lines = section.own(&rows::TEXT, text_lines).counting(1..=MOST_LINES, "lines").required();
    let font = section.own(&rows::FONT, font).or(FontName::Family("Source Sans Pro Bold".into()));
    let align = section.key(&rows::ALIGN).or_usual();
    let letter_spacing = section.key(&rows::LETTER_SPACING).or_usual();
    let line_spacing = section.key(&rows::LINE_SPACING).or_usual();
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

/// A text, or a list of its lines.
fn text_lines(item: &Item<'_>) -> Result<Vec<String>, ErrorGuaranteed> {
    if item.is_list() {
        return item.list(Item::text);
    }
    if let Some(text) = item.as_text().filter(|t| t.trim().contains('\n')) {
        let lines: Vec<String> = text
            .lines()
            .filter(|l| !l.trim().is_empty())
            .map(|l| format!("\"{}\"", undisturbed(l.trim())))
            .collect();
        return Err(item.unreadable(
            "text on one line",
            "it has an end of line",
            &format!("[{}]", lines.join(", ")),
        ));
    }
    item.text().map(|t| vec![t])
}

fn drawing(section: &Section<'_>) -> Result<Shows, ErrorGuaranteed> {
    let art = section.own(&rows::ART, path::art).required();
    let fits = fits(section);
    let width = section.key(&rows::WIDTH).optional();
    let height = section.key(&rows::HEIGHT).optional();
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
    let cap = section.key(&rows::CAP_HEIGHT).optional();
    let width = section.key(&rows::WIDTH).optional();
    let fits = fits(section);
    match (cap?, width?, fits?) {
        (Some(h), None, None) => Ok(LetterSize::CapHeight(h)),
        (None, Some(w), None) => Ok(LetterSize::Width(w)),
        (None, None, Some((width, height))) => Ok(LetterSize::Fit { width, height }),
        (None, None, None) => Err(section.missing(&rows::WIDTH)),
        _ => Err(one_size(section, "`cap-height`, `width` and `fits`")),
    }
}

fn fits(section: &Section<'_>) -> Result<Option<(Mm, Mm)>, ErrorGuaranteed> {
    let window = section
        .own(&rows::FITS, |item| item.list(Item::length))
        .counting(2..=2, "lengths: [width, height]")
        .optional()?;
    let Some(window) = window else { return Ok(None) };
    for (i, side) in window.iter().enumerate() {
        if *side < SIZE[0] || *side > SIZE[1] {
            let show = |mm| section.reader().show(mm);
            let at = section.path("fits").index(i);
            return Err(section.reader().push(
                Diagnostic::fault(&codes::OUT_OF_RANGE, at, "the window has no such side")
                    .measured(show(*side))
                    .allowed(format!("{} to {}", show(SIZE[0]), show(SIZE[1])))
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

/// Size of keys that are not said otherwise.
const USUAL_KEYS: Mm = Mm(4.0);

/// A size, or `false` for none.
fn keys(item: &Item<'_>) -> Result<Option<Mm>, ErrorGuaranteed> {
    if let Ok(on) = item.as_flag().ok_or(()) {
        return Ok(on.then_some(USUAL_KEYS));
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
    let Some(item) = section.item("layers") else {
        return Err(section.missing(&rows::LAYERS));
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
    let top = top.unwrap_or_else(|| Err(section.missing(&rows::LAYERS)));
    Ok((under?, top?))
}

fn under_layer(section: Section<'_>, films: &Films, weed: &[Mm]) -> Result<UnderSpec, ErrorGuaranteed> {
    let film = films.under(&section, &rows::layer::FILM);
    let offset = section.key(&rows::layer::OFFSET).required();
    let join = join(&section);
    let close = section.key(&rows::layer::CLOSE).optional();
    let overlap = section.key(&rows::layer::OVERLAP).optional();
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
    let offset = section.key(&rows::layer::OFFSET).or(Mm::ZERO);
    let join = join(&section);
    section.done();
    Ok(TopSpec { films: top?, offset: offset?, join: join? })
}

fn top_films(section: &Section<'_>, films: &Films) -> Result<TopFilms, ErrorGuaranteed> {
    let split = section.key(&rows::layer::SPLIT).optional();
    let several = section
        .own(&rows::layer::FILMS, |item| item.list(|item| films.named(item)))
        .counting(1..=20, "films")
        .optional();
    let colours = section.own(&rows::layer::COLOURS, Item::section).optional();
    match (several?, colours?, split?) {
        (None, None, None) => films.under(section, &rows::layer::FILM).map(TopFilms::One),
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
                return Err(section.missing(&rows::layer::COLOURS));
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
    let join = section.key(&rows::layer::JOIN).or_usual();
    let limit = section.key(&rows::layer::MITRE_LIMIT).optional();
    match (join?, limit?) {
        (Corners::Mitred, limit) => Ok(Join::Mitre(limit.unwrap_or(MITRE))),
        (Corners::Round, None) => Ok(Join::Round),
        (Corners::Round, Some(_)) => Err(section.reader().push(
            section
                .fault(&codes::ONE_OF, "mitre-limit", "round corners have no mitre")
                .help("write `join = \"mitred\"`, or take `mitre-limit` out"),
        )),
    }
}
