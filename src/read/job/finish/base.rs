//! `[finish.base]`: the disc on the base and the maker's mark.
//!
//! Imports: base, read::job::{section, path, model, films}, read::job::finish::{model, rates}.

use super::super::films::Films;
use super::super::path::art;
use super::super::section::{Item, Section};
use super::model::{BaseSpec, Basis, MarkSpec, usual};
use super::rates::{basis, rate_or};
use crate::base::diag::ErrorGuaranteed;
use crate::base::units::Mm;

/// Kept clear inside the edge of the flat; common practice, no source.
const INSET: Mm = Mm(1.5);
/// Gap between ring and centre; common practice, no source.
const GAP: Mm = Mm(1.0);

/// Reads the table.
pub(super) fn base(section: &Section<'_>, films: &Films) -> Result<BaseSpec, ErrorGuaranteed> {
    let on = basis(section);
    let basis = on.unwrap_or(Basis::Entered);
    let across = section.length("across").within(Mm(10.0)..=Mm(480.0)).optional();
    let inset = rate_or(section, "inset", basis, Mm(0.0)..=Mm(50.0), Item::length, usual(INSET));
    let ring = section.length("ring").within(Mm(0.0)..=Mm(200.0)).or(Mm::ZERO);
    let gap = rate_or(section, "gap", basis, Mm(0.0)..=Mm(50.0), Item::length, usual(GAP));
    let centre_film = films.under(section, "film");
    let ring_film = match section.has("ring-film") {
        true => films.under(section, "ring-film"),
        false => centre_film,
    };
    let mark = match section.table("mark").optional() {
        Ok(Some(s)) => {
            let mark = mark(&s, films, centre_film.ok());
            s.done();
            mark.map(Some)
        }
        Ok(None) => Ok(None),
        Err(r) => Err(r),
    };
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
    let file = s.field("art", art).required("which drawing it is", "art = \"art/mark.svg\"");
    let size = s.length("size").within(Mm(2.0)..=Mm(300.0)).required("its longest extent", "size = 20");
    let border = s.length("border").within(Mm(0.0)..=Mm(30.0)).or(Mm(1.0));
    let film = match (s.has("film"), centre) {
        (false, Some(film)) => Ok(film),
        _ => films.under(s, "film"),
    };
    Ok(MarkSpec { art: file?, size: size?, border: border?, film: film? })
}
