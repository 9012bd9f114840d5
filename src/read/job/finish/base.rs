//! `[finish.base]`: the disc on the base and the maker's mark.
//!
//! Imports: base, read::job::{model, section, path, films}, read::job::finish::{model, rows, rates}.

use super::super::films::Films;
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
    let centre_film = films.under(section, &rows::FILM);
    let ring_film = match section.has("ring-film") {
        true => films.under(section, &rows::RING_FILM),
        false => centre_film,
    };
    let mark = section.inner(&rows::MARK, |s| mark(s, films, centre_film.ok()));
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

fn mark(
    s: &Section<'_>,
    films: &Films,
    centre: Option<super::super::model::FilmId>,
) -> Result<MarkSpec, ErrorGuaranteed> {
    let file = s.own(&mark::ART, art).required();
    let size = s.key(&mark::SIZE).required();
    let border = s.key(&mark::BORDER).or_usual();
    let film = match (s.has("film"), centre) {
        (false, Some(film)) => Ok(film),
        _ => films.under(s, &mark::FILM),
    };
    Ok(MarkSpec { art: file?, size: size?, border: border?, film: film? })
}
