//! Which film step each motif, pick, accent and decal goes on in: names to places.
//!
//! Imports: base, read::job::{codes, model, decal_spec, sheet_spec, suggest, reader, finish}.

use super::codes;
use super::decals::DecalSpec;
use super::finish::FinishSpec;
use super::model::{AccentSpec, MotifSpec, Pass};
use super::reader::Reader;
use super::sheet_spec::PickSpec;
use super::suggest::suggestion;
use crate::base::diag::{Diagnostic, ErrorGuaranteed, KeyPath};

/// Finds the film step of everything that goes on; all that is wrong with that is reported.
pub(super) fn all(
    finish: Option<&FinishSpec>,
    decals: &mut [DecalSpec],
    motifs: &mut [MotifSpec],
    (picks, accents): (&mut [PickSpec], &mut [AccentSpec]),
    reader: &Reader<'_>,
) -> Result<(), ErrorGuaranteed> {
    let steps = names(finish);
    let mut resolved = check(finish, reader);
    let decals = decals.iter_mut().enumerate().map(|(i, d)| ("decal", i, &mut d.pass));
    let motifs = motifs.iter_mut().enumerate().map(|(i, m)| ("motif", i, &mut m.pass));
    let picks = picks.iter_mut().enumerate().map(|(i, p)| ("pick", i, &mut p.pass));
    let accents = accents.iter_mut().enumerate().map(|(i, a)| ("accent", i, &mut a.pass));
    for (table, i, pass) in decals.chain(motifs).chain(picks).chain(accents) {
        if let Err(reported) = resolve(pass, &KeyPath::root().key(table).index(i), &steps, reader) {
            resolved = Err(reported);
        }
    }
    resolved
}

/// The names of the film steps, in order.
fn names(finish: Option<&FinishSpec>) -> Vec<Option<String>> {
    finish.into_iter().flat_map(FinishSpec::film_steps).map(|(_, s)| s.name.clone()).collect()
}

/// Two film steps of one name, and one that names its films besides: what goes on when would be said twice.
fn check(finish: Option<&FinishSpec>, reader: &Reader<'_>) -> Result<(), ErrorGuaranteed> {
    let mut ok = Ok(());
    let steps = finish.map_or(&[][..], |f| &f.steps);
    for (i, s) in steps.iter().enumerate() {
        let Some(name) = &s.name else { continue };
        let at = KeyPath::of("finish.step").index(i);
        if steps[..i].iter().any(|o| o.name.as_ref() == Some(name)) {
            let message = format!("there are two film steps \"{name}\"");
            let d = Diagnostic::fault(&codes::PASS_TWICE, at.key("name"), message);
            ok = Err(reader.push(d.help("give each its own name")));
        }
        if steps.iter().any(|s| !s.films.is_empty()) {
            let d = Diagnostic::fault(
                &codes::ONE_OF,
                at.key("name"),
                "film steps have names and also say their films",
            );
            ok = Err(reader.push(d.help("take `films` out: each piece says its step by `pass`")));
            break;
        }
    }
    ok
}

/// Finds the step that something names.
fn resolve(
    pass: &mut Pass,
    at: &KeyPath,
    names: &[Option<String>],
    reader: &Reader<'_>,
) -> Result<(), ErrorGuaranteed> {
    let Some(name) = &pass.name else { return Ok(()) };
    if let Some(order) = names.iter().position(|n| n.as_ref() == Some(name)) {
        pass.order = order;
        return Ok(());
    }
    let known: Vec<&str> = names.iter().flatten().map(String::as_str).collect();
    let mend = match suggestion(name, &known) {
        Some(near) => format!("write \"{near}\" if that is meant"),
        None if known.is_empty() => format!("add a [[finish.step]] with do = \"film\" and name = \"{name}\""),
        None => format!("film steps of this job: {}", known.join(", ")),
    };
    let message = format!("no film step is called \"{name}\"");
    Err(reader.push(Diagnostic::fault(&codes::UNKNOWN_PASS, at.key("pass"), message).help(mend)))
}
