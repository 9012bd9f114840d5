//! [`FlatArt`]: what a decal shows, before it is laid on the taper: parts that move and take their film as
//! wholes.
//!
//! Imports: base, outline, read::{job, art, letter}, make::decal::codes.

use super::codes::{COLOUR, IDLE_FILM, NO_WINDOW};
use crate::base::diag::{Diagnostic, Diagnostics, ErrorGuaranteed, KeyPath};
use crate::base::frame::{Art, Point, Rigid};
use crate::base::units::Mm;
use crate::outline::Region;
use crate::read::art::Artwork;
use crate::read::art::colours::Seen;
use crate::read::job::decals::{DecalSpec, DrawingSize, LetterSize, Shows, Split, TopFilms, Words};
use crate::read::job::{ArtSize, FilmId, Rgb};
use crate::read::letter::{Font, letter};

/// What a decal is made of, read already.
#[derive(Debug)]
pub enum Material<'a> {
    /// The font of its lettering.
    Font(&'a Font),
    /// Its drawing.
    Drawing(&'a Artwork),
    /// Neither could be had, and why has been said: the other decals are looked at all the same.
    Lacking(ErrorGuaranteed),
}

/// A letter with its marks, or an area of the drawing.
#[derive(Clone, Debug, PartialEq)]
pub struct DecalPart {
    /// Its area.
    pub region: Region<Art>,
    /// Middle of a letter's advance, on its baseline: it stands upright over this point.
    pub foot: Point<Art>,
    /// Film of the top.
    pub film: FilmId,
}

/// One line of lettering, or a drawing as a whole.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Stretch {
    /// From ink to ink.
    pub width: Mm,
    /// Height of its baseline; of its lower edge for a drawing.
    pub foot: Mm,
}

/// Art in its own frame, the middle of its bounding box at the origin.
#[derive(Clone, Debug, PartialEq)]
pub struct FlatArt {
    /// In reading order, or bottom first.
    pub parts: Vec<DecalPart>,
    /// Lines, top first.
    pub stretches: Vec<Stretch>,
}

impl FlatArt {
    /// Moved up or down so that its first line stands at a height.
    pub fn stand_on(&mut self, baseline: Mm) {
        let Some(first) = self.stretches.first() else { return };
        let by = baseline - first.foot;
        let up: Rigid<Art, Art> = Rigid::from_parts(1.0, 0.0, Point::mm(0.0, by.0));
        for p in &mut self.parts {
            p.region = p.region.moved(&up);
            p.foot = up.apply(p.foot);
        }
        self.stretches.iter_mut().for_each(|s| s.foot += by);
    }
}

/// Makes the art of a decal ready.
///
/// # Errors
/// What lettering or the drawing reports; [`NO_WINDOW`]; [`COLOUR`] for each colour without a film.
pub fn flat_art(
    spec: &DecalSpec,
    material: &Material,
    at: &KeyPath,
    diagnostics: &mut Diagnostics,
) -> Result<FlatArt, ErrorGuaranteed> {
    match (&spec.shows, material) {
        (Shows::Words { words, .. }, Material::Font(font)) => lettering(spec, words, font, at, diagnostics),
        (Shows::Drawing { size, .. }, Material::Drawing(art)) => drawing(spec, *size, art, at, diagnostics),
        (_, Material::Lacking(said)) => Err(*said),
        _ => unreachable!("the material is read for what the decal shows"),
    }
}

/// The window less the layers' reach on both sides.
fn inner(
    spec: &DecalSpec,
    (w, h): (Mm, Mm),
    at: &KeyPath,
    diagnostics: &mut Diagnostics,
) -> Result<(Mm, Mm), ErrorGuaranteed> {
    let reach = spec.reach() * 2.0;
    if w.min(h) - reach < Mm(1.0) {
        let d = Diagnostic::fault(&NO_WINDOW, at.key("fits"), "the layers alone fill the window");
        let d = d.measured(format!("{w} x {h}")).allowed(format!("more than {reach} either way"));
        return Err(diagnostics.push(d.help("make the window larger, or the layers' offsets smaller")));
    }
    Ok((w - reach, h - reach))
}

fn lettering(
    spec: &DecalSpec,
    words: &Words,
    font: &Font,
    at: &KeyPath,
    diagnostics: &mut Diagnostics,
) -> Result<FlatArt, ErrorGuaranteed> {
    let mut words = words.clone();
    if let LetterSize::Fit { width, height } = words.size {
        let (width, height) = inner(spec, (width, height), at, diagnostics)?;
        words.size = LetterSize::Fit { width, height };
    }
    let lettering = letter(&words, font, &at.key("text"), diagnostics)?;
    let (mut parts, mut stretches): (Vec<DecalPart>, Vec<Stretch>) = (Vec::new(), Vec::new());
    // Which film comes next is counted over all lines; parts count only where there is ink.
    let (mut letters, mut words_before, mut used) = (0, 0, 0);
    for (l, line) in lettering.lines.iter().enumerate() {
        stretches.push(Stretch { width: line.ink.width(), foot: line.baseline });
        let mut last: Option<usize> = None;
        for glyph in line.glyphs.iter().filter(|g| !g.region.is_empty()) {
            if last == Some(glyph.cluster)
                && let Some(part) = parts.last_mut()
            {
                // A mark stands on the letter of its cluster and moves with it.
                part.region = Region::union_of([&part.region, &glyph.region]);
                continue;
            }
            last = Some(glyph.cluster);
            let place = match &spec.top.films {
                TopFilms::InTurn(Split::Line, _) => l,
                TopFilms::InTurn(Split::Word, _) => words_before + glyph.word,
                _ => letters,
            };
            used = used.max(place + 1);
            letters += 1;
            let film = match &spec.top.films {
                TopFilms::One(film) => *film,
                TopFilms::InTurn(_, films) => films[place % films.len()],
                TopFilms::Colours(films) => films[0].1,
            };
            let foot = Point::mm(glyph.origin.x + glyph.advance.0 / 2.0, line.baseline.0);
            parts.push(DecalPart { region: glyph.region.clone(), foot, film });
        }
        words_before +=
            line.glyphs.iter().filter(|g| !g.region.is_empty()).map(|g| g.word + 1).max().unwrap_or(0);
    }
    if let TopFilms::InTurn(_, films) = &spec.top.films
        && used < films.len()
    {
        let layer = at.key("layers").index(spec.under.len()).key("films");
        let message = "more films are named for the top than it has parts";
        let d = Diagnostic::warning(&IDLE_FILM, layer, message)
            .measured(format!("{} films, {used} parts", films.len()));
        diagnostics.push(d.help("take the last ones out, or split the text more finely"));
    }
    Ok(FlatArt { parts, stretches })
}

fn drawing(
    spec: &DecalSpec,
    size: DrawingSize,
    art: &Artwork,
    at: &KeyPath,
    diagnostics: &mut Diagnostics,
) -> Result<FlatArt, ErrorGuaranteed> {
    let size = match size {
        DrawingSize::Art(size) => size,
        DrawingSize::Fit { width, height } => {
            let (w, h) = inner(spec, (width, height), at, diagnostics)?;
            let b = art.outline().bounds();
            ArtSize::Width(b.width() * (w / b.width()).min(h / b.height()))
        }
    };
    let whole = art.sized(size, &at.key("art"), diagnostics)?;
    let b = whole.bounds();
    let stretches = vec![Stretch { width: b.width(), foot: Mm(b.min.y) }];
    let foot = Point::mm(b.centre().x, b.min.y);
    let parts = match &spec.top.films {
        TopFilms::Colours(films) => {
            let seen = art.by_colour(size, &at.key("art"), diagnostics)?;
            coloured(
                films,
                seen,
                foot,
                &at.key("layers").index(spec.under.len()).key("colours"),
                diagnostics,
            )?
        }
        TopFilms::One(film) => vec![DecalPart { region: whole, foot, film: *film }],
        TopFilms::InTurn(_, films) => vec![DecalPart { region: whole, foot, film: films[0] }],
    };
    Ok(FlatArt { parts, stretches })
}

fn coloured(
    films: &[(Rgb, FilmId)],
    seen: Vec<Seen>,
    foot: Point<Art>,
    at: &KeyPath,
    diagnostics: &mut Diagnostics,
) -> Result<Vec<DecalPart>, ErrorGuaranteed> {
    for (colour, _) in films.iter().filter(|(c, _)| !seen.iter().any(|(s, _)| *s == Some(*c))) {
        let names: Vec<String> = seen.iter().filter_map(|(c, _)| c.map(|c| c.to_string())).collect();
        let message = format!("the drawing shows no {colour}");
        diagnostics.push(
            Diagnostic::warning(&IDLE_FILM, at.key(&colour.to_string()), message)
                .allowed(names.join(", "))
                .help("take it out, or write the colour that is meant"),
        );
    }
    let mut failed = None;
    let mut parts = Vec::new();
    for (colour, region) in seen {
        match colour.and_then(|c| films.iter().find(|(f, _)| *f == c)) {
            Some((_, film)) => parts.push(DecalPart { region, foot, film: *film }),
            None => {
                let name = colour.map_or("a pattern".to_owned(), |c| c.to_string());
                let message = format!("{name} of the drawing has no film");
                let d = Diagnostic::fault(&COLOUR, at.clone(), message).measured(region.area());
                let mend = format!("add \"{name}\" and its film to `colours`");
                failed = Some(diagnostics.push(d.help(if colour.is_some() {
                    mend
                } else {
                    "draw that area in a plain colour".into()
                })));
            }
        }
    }
    failed.map_or(Ok(parts), Err)
}
