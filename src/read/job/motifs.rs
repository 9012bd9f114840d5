//! The motifs' and the accents' sections.
//!
//! Imports: base, read::job::{codes, families, model, rows, reader, section, path, films}.

use super::codes;
use super::families::Family;
use super::films::Films;
use super::model::{
    AccentSpec, Adapt, ArtSize, Edge, FilmId, MotifArt, MotifSpec, OnSheet, Pass, Placing, SpotShape,
    Turning, WallPose,
};
use super::path::art;
use super::rows::art::{self as rows, MOST_COPIES, accent, motif};
use super::section::{Item, Section, Value};
use crate::base::diag::{Diagnostic, ErrorGuaranteed};
use crate::base::units::{Angle, Mm};

/// Largest number of a motif of a printed sheet.
pub(super) const MOST_NUMBER: u64 = 100_000;

/// Reads one `[[motif]]`.
pub(super) fn motif(section: Section<'_>, films: &Films) -> Result<MotifSpec, ErrorGuaranteed> {
    if section.has(motif::FROM.row.name) {
        return printed(section, films);
    }
    let number = section.own(&motif::NUMBER, sheet_number).optional();
    if let Ok(Some(_)) = number {
        section.missing(&motif::FROM);
    }
    let art = section.own(&motif::ART, art).required().map(MotifArt::Drawing);
    let size = size(&section);
    let film = films.under(&section, &motif::FILM);
    let placing = placing(&section);
    let clearance = section.key(&motif::CLEARANCE).or_usual();
    let border = section.key(&motif::BORDER).or_usual();
    let mend = section.key(&motif::MEND).or_usual();
    let pass = section.key(&motif::PASS).optional();
    section.done();
    Ok(MotifSpec {
        art: art?,
        size: size?,
        film: film?,
        placing: placing?,
        clearance: clearance?,
        border: border?,
        mend: mend?,
        pass: Pass { name: pass?, order: 0 },
    })
}

/// Reads a `[[motif]]` of a printed sheet: it has the size and the border that the sheet gives it, and is
/// there once.
fn printed(section: Section<'_>, films: &Films) -> Result<MotifSpec, ErrorGuaranteed> {
    let sheet = section.own(&motif::FROM, |item| films.sheet(item)).required();
    let number = section.own(&motif::NUMBER, sheet_number).required();
    let placing = placing(&section);
    let clearance = section.key(&motif::CLEARANCE).or_usual();
    for key in [
        &motif::ART.row,
        &motif::WIDTH.row,
        &motif::HEIGHT.row,
        &motif::FILM.row,
        &motif::BORDER.row,
        &motif::MEND.row,
    ] {
        if section.has(key.name) {
            let message = "a motif of a printed sheet is what it is";
            let help = format!("take `{}` out; the border is said by the `[[sheet]]`", key.name);
            section.reader().push(section.fault(&codes::ONE_OF, key.name, message).help(help));
        }
    }
    let copies = match &placing {
        Ok(Placing::Pinned(poses)) => poses.len(),
        Ok(Placing::Spread { copies, .. } | Placing::Many { at_most: copies, .. }) => *copies,
        Err(_) => 1,
    };
    if copies > 1 {
        let message = "each motif of a printed sheet is there once";
        let d = section.fault(&codes::OUT_OF_RANGE, motif::NUMBER.row.name, message);
        section.reader().push(d.measured(format!("{copies} copies")).allowed("1").help("keep one of them"));
    }
    let pass = section.key(&motif::PASS).optional();
    section.done();
    let on = OnSheet { sheet: sheet?, number: number? };
    Ok(MotifSpec {
        art: MotifArt::Printed { on, pick: None },
        size: ArtSize::Own,
        film: films.film_of_sheet(on.sheet),
        placing: placing?,
        clearance: clearance?,
        border: Mm::ZERO,
        mend: false,
        pass: Pass { name: pass?, order: 0 },
    })
}

/// Number of a motif on a printed sheet.
pub(super) fn sheet_number(item: &Item<'_>) -> Result<u32, ErrorGuaranteed> {
    let n = item.integer()?;
    if (1..=MOST_NUMBER).contains(&n) {
        return Ok(n as u32);
    }
    let d = Diagnostic::fault(&codes::OUT_OF_RANGE, item.at().clone(), "no motif has this number");
    let d = d.measured(n).allowed(format!("1 to {MOST_NUMBER}"));
    Err(item.reader().push(d.help("`frusta sheet` shows the numbers")))
}

fn size(section: &Section<'_>) -> Result<ArtSize, ErrorGuaranteed> {
    let width = section.key(&motif::WIDTH).optional();
    let height = section.key(&motif::HEIGHT).optional();
    match (width?, height?) {
        (Some(w), None) => Ok(ArtSize::Width(w)),
        (None, Some(h)) => Ok(ArtSize::Height(h)),
        (None, None) => Ok(ArtSize::Own),
        (Some(_), Some(_)) => Err(section.reader().push(
            section
                .fault(&codes::ONE_OF, "height", "the size is said by width and by height")
                .help("take one out: drawings keep their proportions"),
        )),
    }
}

/// How many copies: a number, or as many as fit.
enum Copies {
    Number(u64),
    AsFit,
}

fn copies(section: &Section<'_>) -> Result<Option<Copies>, ErrorGuaranteed> {
    match section.item(motif::COPIES.row.name).filter(Item::is_text) {
        Some(words) => words.choice(&[("as many as fit", ())]).map(|()| Some(Copies::AsFit)),
        None => section.key(&motif::COPIES).optional().map(|n| n.map(Copies::Number)),
    }
}

fn placing(section: &Section<'_>) -> Result<Placing, ErrorGuaranteed> {
    let copies = copies(section);
    let at_most = section.key(&motif::AT_MOST).optional();
    let worth = section.key(&motif::WORTH).optional();
    let poses = section
        .own(&motif::POSES, |item| item.list(pose))
        .counting(1..=MOST_COPIES as usize, "poses")
        .optional();
    let turning = section.own(&motif::TURNING, turning).optional();
    let (copies, poses, turning, at_most, worth) = (copies?, poses?, turning?, at_most?, worth?);
    let one_of = |key, message, help| {
        Err(section.reader().push(section.fault(&codes::ONE_OF, key, message).help(help)))
    };
    let limit = at_most.map(|_| "at-most").or(worth.map(|_| "worth"));
    match (copies, poses, limit) {
        (Some(_), Some(_), _) => one_of(
            "copies",
            "the motif is said by copies and by poses",
            "keep `copies` to have them spread, or `poses` to pin each",
        ),
        (Some(Copies::Number(_)), None, Some(key)) | (None, Some(_), Some(key)) => one_of(
            key,
            "how many there are is said exactly, and that it is as many as fit",
            "take it out, or write `copies = \"as many as fit\"`",
        ),
        (None, Some(_), None) if turning.is_some() => one_of(
            "turning",
            "pinned poses say each turn themselves",
            "take `turning` out, and give poses their `turn`",
        ),
        (None, Some(poses), None) => Ok(Placing::Pinned(poses)),
        (Some(Copies::AsFit), None, _) | (None, None, Some(_)) => Ok(Placing::Many {
            at_most: at_most.unwrap_or(MOST_COPIES) as usize,
            worth: worth.unwrap_or(1.0),
            turning: turning.unwrap_or(Turning::Upright),
        }),
        (copies, None, None) => Ok(Placing::Spread {
            copies: copies.map_or(1, |c| if let Copies::Number(n) = c { n } else { 1 }) as usize,
            turning: turning.unwrap_or(Turning::Upright),
        }),
    }
}

fn pose(item: &Item<'_>) -> Result<WallPose, ErrorGuaranteed> {
    let section = item.section()?.quiet();
    let azimuth = section.key(&rows::pose::AZIMUTH).required();
    let up = section.key(&rows::pose::UP).required();
    let turn = section.key(&rows::pose::TURN).or_usual();
    section.done();
    Ok(WallPose { azimuth: azimuth?.wrapped(), slant: up?, turn: turn? })
}

pub(super) fn turning(item: &Item<'_>) -> Result<Turning, ErrorGuaranteed> {
    if item.is_text() && item.text()?.starts_with(|c: char| c.is_alphabetic()) {
        return item.choice(&[("upright", Turning::Upright), ("free", Turning::Free)]);
    }
    let most = item.angle()?;
    if !(Angle::ZERO..=Angle::degrees(180.0)).contains(&most) {
        let at = item.at();
        return Err(item.reader().push(
            Diagnostic::fault(&codes::OUT_OF_RANGE, at.clone(), format!("`{at}` is no lean to either side"))
                .measured(super::reader::degrees(most))
                .allowed("0 to 180 degrees, \"upright\" or \"free\"")
                .help("write how far it may lean at most, such as 15"),
        ));
    }
    Ok(Turning::Within(most))
}

/// By how much limits are ragged that only say so, at most: half the largest spot where that is less.
const MOST_RAGGED: Mm = Mm(3.2);

/// Reads one `[[accent]]`.
pub(super) fn accent(section: Section<'_>, films: &Films) -> Result<AccentSpec, ErrorGuaranteed> {
    let shapes = shapes(&section);
    let smallest = section.key(&accent::SMALLEST).required();
    let largest = section.key(&accent::LARGEST).required();
    let gap = section.key(&accent::GAP).required();
    let films = shares(&section, films);
    let adapt = section.own(&accent::ADAPT, adapt).or(Adapt::AsDrawn);
    let turn = section.key(&accent::TURN).or_usual();
    let polish = section.key(&accent::POLISH).or_usual();
    let share_by = section.key(&accent::SHARE_BY).or_usual();
    let edge = section.own(&accent::EDGE, |item| edge(item, largest.ok())).or(Edge::Straight);
    let pass = section.key(&accent::PASS).optional();
    let ordered = match (smallest, largest) {
        (Ok(small), Ok(large)) if small > large => Err(section.reader().push(
            section
                .fault(&codes::SIZES_REVERSED, "smallest", "the smallest spot is larger than the largest")
                .measured(section.reader().show(small))
                .allowed(format!("up to `largest`, {}", section.reader().show(large)))
                .help("swap the two"),
        )),
        _ => Ok(()),
    };
    section.done();
    ordered?;
    let (shapes, shares) = shapes?;
    Ok(AccentSpec {
        shapes,
        shares,
        smallest: smallest?,
        largest: largest?,
        gap: gap?,
        films: films?,
        adapt: adapt?,
        turn: turn?,
        polish: polish?,
        share_by: share_by?,
        edge: edge?,
        pass: Pass { name: pass?, order: 0 },
    })
}

/// What spots look like and the parts of each, made to sum to 1: a family one, a list of drawings one for each.
fn shapes(section: &Section<'_>) -> Result<(Vec<SpotShape>, Vec<f64>), ErrorGuaranteed> {
    let read = |item: &Item<'_>| Family::read(item).map(|f| (SpotShape::Family(f), 1.0));
    let family = section.key(&accent::FAMILY).optional().map(|f| f.map(|f| (SpotShape::Family(f), 1.0)));
    let families = section
        .own(&accent::FAMILIES, |item| if item.is_table() { parted(item) } else { item.list(read) })
        .counting(1..=40, "families")
        .optional();
    let own = section
        .own(&accent::ART, |item| if item.is_list() { item.list(art) } else { art(item).map(|a| vec![a]) })
        .counting(1..=100, "drawings")
        .optional();
    let (family, families, own) = (family?, families?, own?);
    if family.is_some() && families.is_some() {
        return Err(section.reader().push(
            section
                .fault(&codes::ONE_OF, "family", "there are `family` and `families`")
                .help("put all of them in `families`"),
        ));
    }
    let mut all: Vec<(SpotShape, f64)> = family.into_iter().chain(families.into_iter().flatten()).collect();
    all.extend(own.map(|files| (SpotShape::Own(files.clone()), files.len() as f64)));
    if all.is_empty() {
        return Err(section.missing(&accent::FAMILY));
    }
    let sum: f64 = all.iter().map(|a| a.1).sum();
    Ok(all.into_iter().map(|(shape, part)| (shape, part / sum)).unzip())
}

/// Families of a table, each with its part.
fn parted(item: &Item<'_>) -> Result<Vec<(SpotShape, f64)>, ErrorGuaranteed> {
    let table = item.section()?;
    let one = |(name, item): (String, Item<'_>)| {
        let part = part(&item);
        let family = Family::named(&name).ok_or_else(|| {
            let known: Vec<&str> = Family::all().map(Family::name).collect();
            let at = item.at();
            item.reader().push(
                Diagnostic::fault(
                    &codes::UNKNOWN_CHOICE,
                    at.clone(),
                    format!("`{name}` is no family of spots"),
                )
                .allowed(known.join(", "))
                .help("write one of the families"),
            )
        });
        Ok((SpotShape::Family(family?), part?))
    };
    table.own_keys().into_iter().map(one).collect::<Vec<_>>().into_iter().collect()
}

/// A part: a number above 0.
fn part(item: &Item<'_>) -> Result<f64, ErrorGuaranteed> {
    let n = item.number()?;
    if n > 0.0 && n <= 1e6 {
        return Ok(n);
    }
    let at = item.at();
    Err(item.reader().push(
        Diagnostic::fault(&codes::OUT_OF_RANGE, at.clone(), format!("`{at}` is no share"))
            .measured(n)
            .allowed("more than 0, up to 1000000")
            .help("write parts such as 2 and 1, or take it out"),
    ))
}

/// The films of spots and their shares, made to sum to 1.
fn shares(section: &Section<'_>, films: &Films) -> Result<Vec<(FilmId, f64)>, ErrorGuaranteed> {
    if !section.has("films") {
        return films.under(section, &accent::FILM).map(|film| vec![(film, 1.0)]);
    }
    if section.has("film") {
        return Err(section.reader().push(
            section
                .fault(&codes::ONE_OF, "film", "there are `film` and `films`")
                .help("put all of them in `films`, each with its share"),
        ));
    }
    let table = section.own(&accent::FILMS, Item::section).required()?;
    let mut read = Vec::new();
    for (name, item) in table.own_keys() {
        let film = films.by_name(&name, &item);
        let share = part(&item);
        read.push(film.and_then(|f| share.map(|s| (f, s))));
    }
    let mut shares: Vec<(FilmId, f64)> = read.into_iter().collect::<Result<_, _>>()?;
    if shares.is_empty() {
        return Err(section.missing(&accent::FILMS));
    }
    shares.sort_by_key(|(film, _)| *film);
    let sum: f64 = shares.iter().map(|(_, s)| s).sum();
    shares.iter_mut().for_each(|(_, s)| *s /= sum);
    Ok(shares)
}

/// `"straight"`, `"ragged"` by the usual amount, or a table that says by how much.
fn edge(item: &Item<'_>, largest: Option<Mm>) -> Result<Edge, ErrorGuaranteed> {
    if !item.is_table() {
        let usual = largest.map_or(MOST_RAGGED, |l| (l * 0.5).min(MOST_RAGGED));
        return item.choice(&[("straight", Edge::Straight), ("ragged", Edge::Ragged(usual))]);
    }
    let section = item.section()?;
    let ragged = section.key(&rows::edge::RAGGED).required();
    section.done();
    ragged.map(Edge::Ragged)
}

fn adapt(item: &Item<'_>) -> Result<Adapt, ErrorGuaranteed> {
    if !item.is_table() {
        let words = [("as-drawn", Adapt::AsDrawn), ("mosaic", Adapt::Mosaic)];
        return item.choice(&words);
    }
    let section = item.section()?;
    let flex = section.key(&rows::adapt::FLEX).required();
    section.done();
    flex.map(|percent| Adapt::Flex(percent / 100.0))
}
