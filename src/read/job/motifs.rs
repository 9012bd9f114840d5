//! The motifs' and the accents' sections.
//!
//! Imports: base, read::job::{codes, section, path, model, films}.

use super::codes;
use super::films::Films;
use super::model::{
    ACCENT_FAMILIES, AccentSpec, Adapt, ArtSize, FilmId, MotifSpec, Placing, ShareBy, SpotShape, SpotTurn,
    Turning, WallPose,
};
use super::path::art;
use super::section::{Item, Section};
use crate::base::diag::{Diagnostic, ErrorGuaranteed};
use crate::base::units::{Angle, Mm};

/// Sizes that art on a cup may have.
const SIZE: std::ops::RangeInclusive<Mm> = Mm(2.0)..=Mm(600.0);
/// Most copies of one motif.
const MOST_COPIES: u64 = 500;

fn whole_turn() -> std::ops::RangeInclusive<Angle> {
    Angle::degrees(-360.0)..=Angle::degrees(360.0)
}

/// Reads one `[[motif]]`.
pub(super) fn motif(section: Section<'_>, films: &Films) -> Result<MotifSpec, ErrorGuaranteed> {
    let art = section.field("art", art).required("which drawing it is", "art = \"art/pea-pod.svg\"");
    let size = size(&section);
    let film = films.under(&section, "film");
    let placing = placing(&section);
    let clearance = section.length("clearance").within(Mm(0.0)..=Mm(100.0)).or(Mm(2.0));
    let border = section.length("border").within(Mm(0.0)..=Mm(30.0)).or(Mm::ZERO);
    let mend = section.flag("mend").or(false);
    section.done();
    Ok(MotifSpec {
        art: art?,
        size: size?,
        film: film?,
        placing: placing?,
        clearance: clearance?,
        border: border?,
        mend: mend?,
    })
}

fn size(section: &Section<'_>) -> Result<ArtSize, ErrorGuaranteed> {
    let width = section.length("width").within(SIZE).optional();
    let height = section.length("height").within(SIZE).optional();
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

fn placing(section: &Section<'_>) -> Result<Placing, ErrorGuaranteed> {
    let copies = section.integer("copies").within(1..=MOST_COPIES).optional();
    let poses = section.list("poses", pose).counting(1..=MOST_COPIES as usize, "poses").optional();
    let turning = section.field("turning", turning).optional();
    match (copies?, poses?, turning?) {
        (copies, None, turning) => Ok(Placing::Spread {
            copies: copies.unwrap_or(1) as usize,
            turning: turning.unwrap_or(Turning::Upright),
        }),
        (None, Some(poses), None) => Ok(Placing::Pinned(poses)),
        (None, Some(_), Some(_)) => Err(section.reader().push(
            section
                .fault(&codes::ONE_OF, "turning", "pinned poses say each turn themselves")
                .help("take `turning` out, and give poses their `turn`"),
        )),
        (Some(_), Some(_), _) => Err(section.reader().push(
            section
                .fault(&codes::ONE_OF, "copies", "the motif is said by copies and by poses")
                .help("keep `copies` to have them spread, or `poses` to pin each"),
        )),
    }
}

fn pose(item: &Item<'_>) -> Result<WallPose, ErrorGuaranteed> {
    let section = item.section()?;
    let azimuth = section
        .angle("azimuth")
        .within(whole_turn())
        .required("how far round from the front line, in degrees", "azimuth = 0");
    let up = section
        .length("up")
        .within(Mm(0.0)..=Mm(500.0))
        .required("how far up the wall from the base edge its middle goes", "up = 80");
    let turn = section.angle("turn").within(whole_turn()).or(Angle::ZERO);
    section.done();
    Ok(WallPose { azimuth: azimuth?.wrapped(), slant: up?, turn: turn? })
}

fn turning(item: &Item<'_>) -> Result<Turning, ErrorGuaranteed> {
    if item.is_text() && item.text()?.starts_with(|c: char| c.is_alphabetic()) {
        return item.choice(&[("upright", Turning::Upright), ("free", Turning::Free)]);
    }
    let most = item.angle()?;
    if !(Angle::ZERO..=Angle::degrees(180.0)).contains(&most) {
        let at = item.at();
        return Err(item.reader().push(
            Diagnostic::fault(&codes::OUT_OF_RANGE, at.clone(), format!("`{at}` is no lean to either side"))
                .measured(super::section::degrees(most))
                .allowed("0 to 180 degrees, \"upright\" or \"free\"")
                .help("write how far it may lean at most, such as 15"),
        ));
    }
    Ok(Turning::Within(most))
}

/// Reads one `[[accent]]`.
pub(super) fn accent(section: Section<'_>, films: &Films) -> Result<AccentSpec, ErrorGuaranteed> {
    let shapes = shapes(&section);
    let smallest = section
        .length("smallest")
        .within(Mm(1.0)..=Mm(100.0))
        .required("how small a spot may be", "smallest = 3");
    let largest = section
        .length("largest")
        .within(Mm(1.0)..=Mm(100.0))
        .required("how large a spot may be", "largest = 9");
    let gap = section
        .length("gap")
        .within(Mm(0.2)..=Mm(50.0))
        .required("how much wall stays free between spots", "gap = 1.5");
    let films = shares(&section, films);
    let adapt = section.field("adapt", adapt).or(Adapt::AsDrawn);
    let turn = section
        .choice(
            "turn",
            &[("free", SpotTurn::Free), ("upright", SpotTurn::Upright), ("along", SpotTurn::Along)],
        )
        .or(SpotTurn::Free);
    let polish = section.flag("polish").or(false);
    let share_by =
        section.choice("share-by", &[("count", ShareBy::Count), ("area", ShareBy::Area)]).or(ShareBy::Count);
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
    Ok(AccentSpec {
        shapes: shapes?,
        smallest: smallest?,
        largest: largest?,
        gap: gap?,
        films: films?,
        adapt: adapt?,
        turn: turn?,
        polish: polish?,
        share_by: share_by?,
    })
}

fn shapes(section: &Section<'_>) -> Result<Vec<SpotShape>, ErrorGuaranteed> {
    let words: Vec<(&str, &str)> = ACCENT_FAMILIES.iter().map(|f| (*f, *f)).collect();
    let read = |item: &Item<'_>| item.choice(&words).map(|f| SpotShape::Family(f.to_owned()));
    let family = section.field("family", read).optional();
    let families = section.list("families", read).counting(1..=40, "families").optional();
    let own = section
        .field("art", |item| if item.is_list() { item.list(art) } else { art(item).map(|a| vec![a]) })
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
    let mut all: Vec<SpotShape> = family.into_iter().chain(families.into_iter().flatten()).collect();
    all.extend(own.map(SpotShape::Own));
    if all.is_empty() {
        return Err(section.missing(
            "family",
            "what spots look like: a `family`, `families`, or `art` of your own",
            "family = \"pebble\"",
        ));
    }
    Ok(all)
}

/// The films of spots and their shares, made to sum to 1.
fn shares(section: &Section<'_>, films: &Films) -> Result<Vec<(FilmId, f64)>, ErrorGuaranteed> {
    if !section.has("films") {
        return films.under(section, "film").map(|film| vec![(film, 1.0)]);
    }
    if section.has("film") {
        return Err(section.reader().push(
            section
                .fault(&codes::ONE_OF, "film", "there are `film` and `films`")
                .help("put all of them in `films`, each with its share"),
        ));
    }
    let table = section.table("films").required("the films", "films = { white = 1 }")?;
    let mut read = Vec::new();
    for (name, item) in table.own_keys() {
        let film = films.by_name(&name, &item);
        let share = item.number().and_then(|n| {
            if n > 0.0 && n <= 1e6 {
                return Ok(n);
            }
            let at = item.at();
            Err(item.reader().push(
                Diagnostic::fault(&codes::OUT_OF_RANGE, at.clone(), format!("`{at}` is no share"))
                    .measured(n)
                    .allowed("more than 0, up to 1000000")
                    .help("write parts such as 2 and 1, or take the film out"),
            ))
        });
        read.push(film.and_then(|f| share.map(|s| (f, s))));
    }
    let mut shares: Vec<(FilmId, f64)> = read.into_iter().collect::<Result<_, _>>()?;
    if shares.is_empty() {
        return Err(table.missing("film", "a film and its share", "white = 1"));
    }
    shares.sort_by_key(|(film, _)| *film);
    let sum: f64 = shares.iter().map(|(_, s)| s).sum();
    shares.iter_mut().for_each(|(_, s)| *s /= sum);
    Ok(shares)
}

fn adapt(item: &Item<'_>) -> Result<Adapt, ErrorGuaranteed> {
    if !item.is_table() {
        let words = [("as-drawn", Adapt::AsDrawn), ("mosaic", Adapt::Mosaic)];
        return item.choice(&words);
    }
    let section = item.section()?;
    let flex = section
        .number("flex")
        .within(0.0..=50.0)
        .required("by how many percent of its size a spot may change", "flex = 15");
    section.done();
    flex.map(|percent| Adapt::Flex(percent / 100.0))
}
