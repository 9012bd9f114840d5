//! `[finish.base]`: the disc on the base and the maker's mark.
//!
//! Imports: base, read::job::{keys, model, section, path, films}, read::job::finish::{bench, model, rows, rates}.

use super::super::films::Films;
use super::super::keys::{Key, Own};
use super::super::model::FilmId;
use super::super::path::art;
use super::super::section::Section;
use super::model::{BaseSpec, Basis, MarkSpec};
use super::rates::{basis, rate_usual};
use super::rows::{base as rows, mark};
use crate::base::diag::ErrorGuaranteed;

/// Reads the table.
pub(super) fn base(section: &Section<'_>, films: &Films) -> Result<BaseSpec, ErrorGuaranteed> {
    let on = basis(section);
    let basis = on.unwrap_or(Basis::Entered);
    let across = section.key(&rows::ACROSS).optional();
    let inset = rate_usual(section, &rows::INSET, basis);
    let ring = section.key(&rows::RING).or_usual();
    let gap = rate_usual(section, &rows::GAP, basis);
    let centre_film = film(section, films, &rows::FILM);
    let ring_film = match section.has("ring-film") {
        true => film(section, films, &rows::RING_FILM),
        false => centre_film,
    };
    let mark = section.inner(&rows::MARK, |s| mark(s, films, centre_film.ok().flatten()));
    on?;
    Ok(BaseSpec {
        across: across?,
        inset: inset?,
        ring: ring?,
        gap: gap?,
        ring_film: ring_film?,
        centre_film: centre_film?,
        mark: mark?,
    })
}

/// A film by its name; none where the job says "none": the place is painted, sprinkled or printed.
fn film(
    section: &Section<'_>,
    films: &Films,
    key: &'static Key<Own>,
) -> Result<Option<FilmId>, ErrorGuaranteed> {
    let none = section.item(key.row.name).is_some_and(|i| i.as_text() == Some("none"));
    if none { Ok(None) } else { films.under(section, key).map(Some) }
}

fn mark(s: &Section<'_>, films: &Films, centre: Option<FilmId>) -> Result<MarkSpec, ErrorGuaranteed> {
    let file = s.own(&mark::ART, art).required();
    let size = s.key(&mark::SIZE).required();
    let border = s.key(&mark::BORDER).or_usual();
    let film = match (s.has("film"), centre) {
        (false, Some(film)) => Ok(Some(film)),
        _ => film(s, films, &mark::FILM),
    };
    Ok(MarkSpec { art: file?, size: size?, border: border?, film: film? })
}
