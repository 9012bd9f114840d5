//! `[gathered]`: panels of several films on one carrier.
//!
//! Imports: base, read::job::{codes, lay, model, rows, section, cutting}.

use super::codes;
use super::cutting::largest;
use super::lay::{Lay, PanelSpec};
use super::model::FilmSpec;
use super::rows::{self as root, film, gathered as rows};
use super::section::Section;
use crate::base::diag::{Diagnostic, ErrorGuaranteed, KeyPath};

/// Reads the section, and gives the films what it asks.
pub(super) fn read(
    job: &Section<'_>,
    films: Result<Vec<FilmSpec>, ErrorGuaranteed>,
) -> Result<Vec<FilmSpec>, ErrorGuaranteed> {
    let asked = match job.table(&root::GATHERED).optional()? {
        Some(section) => Some(spec(section)?),
        None => None,
    };
    let mut films = films?;
    let own: Vec<usize> = (0..films.len()).filter(|f| films[*f].cut.lay.how == Lay::Gathered).collect();
    if let [one] = own[..] {
        let at = KeyPath::of("film").index(one).key(film::LAY.row.name);
        let message = format!("film {} is gathered with no other", films[one].name);
        let d = Diagnostic::fault(&codes::ONE_OF, at, message);
        let help = "write `lay = \"panels\"`, or gather another film with it";
        return Err(job.reader().push(d.help(help)));
    }
    let called = films.iter().position(|f| f.name == root::GATHERED.row.name && f.cut.lay.how == Lay::Panels);
    if let (Some(f), false) = (called, own.is_empty()) {
        let at = KeyPath::of("film").index(f).key(film::NAME.row.name);
        let d = Diagnostic::fault(
            &codes::ONE_OF,
            at,
            "panels of this film would be called as the gathered ones are",
        );
        return Err(job.reader().push(d.help("give the film another name")));
    }
    if own.is_empty() && asked.is_some() {
        let d = job.fault(
            &codes::ONE_OF,
            root::GATHERED.row.name,
            "this says something of gathered panels, and no film is laid so",
        );
        return Err(job
            .reader()
            .push(d.help("write `lay = \"gathered\"` in two films or more, or take it out")));
    }
    for f in own {
        films[f].cut.lay.panel = asked.unwrap_or(PanelSpec::GATHERED);
    }
    Ok(films)
}

fn spec(s: Section<'_>) -> Result<PanelSpec, ErrorGuaranteed> {
    let largest = largest(&s, &rows::LARGEST);
    let border = s.key(&rows::BORDER).or_usual();
    let read = s.key(&rows::READ).or_usual();
    let on_carrier = s.key(&rows::ON_CARRIER).or_usual();
    let carrier = s.key(&rows::CARRIER).or_usual();
    s.done();
    Ok(PanelSpec {
        largest: largest?.unwrap_or(PanelSpec::GATHERED.largest),
        border: border?,
        read: read?,
        carrier: carrier?,
        on_carrier: on_carrier?,
    })
}
