//! What may be looked at: the cup to turn, drawings, film sheets, the template, the files of the kit.
//!
//! Imports: base, read::{source, job}, write, write::view, edge::folder, edge::cli::stages, edge::cli::page::{text,
//! show, bench, guard, answer}.

use super::super::stages::with_folder;
use super::answer::{App, Shared, kind, looked_at, no, worked};
use super::bench::{self, held};
use super::guard::LARGEST_ART;
use super::{show, text};
use crate::edge::folder::Folder;
use crate::read::source::Source;
use axum::extract::{Path, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse, Response};
use serde_json::json;
use std::sync::Arc;

/// What files of the maker's and of the kit may do: be looked at.
const LOOKED_AT: &str = "default-src 'none'; style-src 'unsafe-inline'; img-src data: blob:; sandbox";
/// The turning cup of a kit may run its own script, and reach nothing with it.
const TURNED: &str = "default-src 'none'; style-src 'unsafe-inline'; img-src data: blob:; script-src 'unsafe-inline'; sandbox allow-scripts";

/// What PDFs may do: a viewer of them is not let into a sandbox.
const PDF: &str = "default-src 'none'; style-src 'unsafe-inline'; object-src 'self'";
/// The kind of scripts.
pub const JS: &str = "text/javascript; charset=utf-8";

/// A file of the kit written last.
pub(super) async fn kit_file(State(app): Shared, Path(which): Path<usize>) -> Response {
    let made = worked(&app, move |app| {
        let name = held(&app.written).get(which).cloned()?;
        let bytes = Folder::open(&app.kit_folder()).ok()?.bytes(&name, 64 << 20).ok()?;
        Some((name, bytes))
    });
    match made.await {
        Ok(Some((name, bytes))) => {
            let (kind, policy) = match name.rsplit('.').next() {
                Some("svg") => ("image/svg+xml", LOOKED_AT),
                Some("png") => ("image/png", LOOKED_AT),
                Some("pdf") => ("application/pdf", PDF),
                Some("html") if name.ends_with("turn.html") => ("text/html; charset=utf-8", TURNED),
                Some("html") => ("text/html; charset=utf-8", LOOKED_AT),
                Some("json") => ("application/json", LOOKED_AT),
                _ => ("text/plain; charset=utf-8", LOOKED_AT),
            };
            looked_at(kind, policy, bytes)
        }
        Ok(None) => no(StatusCode::NOT_FOUND, "the kit has no such file"),
        Err(answer) => answer,
    }
}

/// The drawing of a motif, to look at.
pub(super) async fn drawing(State(app): Shared, Path(motif): Path<usize>) -> Response {
    let made = worked(&app, move |app| {
        let desk = held(&app.desk);
        let doc = text::json(&desk.text)?;
        let name = doc["motif"][motif]["art"].as_str()?.to_owned();
        let folder = Folder::open(desk.folder()).ok()?;
        drop(desk);
        folder.bytes(&name, LARGEST_ART as u64).ok()
    });
    match made.await {
        Ok(Some(bytes)) => looked_at("image/svg+xml", LOOKED_AT, bytes),
        Ok(None) => no(StatusCode::NOT_FOUND, "there is no such drawing"),
        Err(answer) => answer,
    }
}

pub(super) async fn turning(app: &Arc<App>) -> Result<(u64, crate::write::view::page::Turning), Response> {
    match worked(app, |app| app.bench.turning()).await? {
        Ok(Some(made)) => Ok(made),
        Ok(None) => Err(no(StatusCode::NOT_FOUND, "there is no plan yet")),
        Err(why) => Err(no(StatusCode::INTERNAL_SERVER_ERROR, &why)),
    }
}

pub(super) async fn cup(State(app): Shared) -> Response {
    match turning(&app).await {
        Ok((number, made)) => {
            kind("application/json", format!("{{\"number\":{number},\"data\":{}}}", made.data))
        }
        Err(answer) => answer,
    }
}

pub(super) async fn cup_script(State(app): Shared) -> Response {
    match turning(&app).await {
        Ok((_, made)) => kind(JS, made.script),
        Err(answer) => answer,
    }
}

pub(super) async fn worn(State(app): Shared) -> Response {
    match worked(&app, |app| app.bench.worn()).await {
        Ok(Ok(Some(pieces))) => kind("application/json", pieces),
        Ok(Ok(None)) => no(StatusCode::NOT_FOUND, "there is no plan yet"),
        Ok(Err(why)) => no(StatusCode::INTERNAL_SERVER_ERROR, &why),
        Err(answer) => answer,
    }
}

pub(super) async fn template(State(app): Shared, Path(which): Path<String>) -> Response {
    let made = worked(&app, move |app| {
        let desk = held(&app.desk);
        let (text, folder) = (desk.text.clone(), desk.folder().to_owned());
        drop(desk);
        template_of(&text, &folder, &which)
    });
    match made.await {
        Ok(Ok((name, bytes))) if name.ends_with(".svg") => looked_at("image/svg+xml", LOOKED_AT, bytes),
        Ok(Ok((_, bytes))) => looked_at("application/pdf", PDF, bytes),
        Ok(Err(found)) => {
            (StatusCode::UNPROCESSABLE_ENTITY, axum::Json(json!({ "found": show::found(&found) })))
                .into_response()
        }
        Err(answer) => answer,
    }
}

pub(super) fn template_of(
    text: &str,
    folder: &std::path::Path,
    which: &str,
) -> Result<(String, Vec<u8>), Vec<crate::base::diag::Diagnostic>> {
    let read = with_folder(folder, |source| crate::read::job::read_job_in(text, source));
    let Some(job) = read.job else { return Err(read.diagnostics.into_vec()) };
    let files = bench::template(&job, folder)?;
    let wanted = if which == "svg" { "wrap.svg".to_owned() } else { format!("wrap-{which}.pdf") };
    let file = files.into_iter().find(|f| f.path == wanted);
    file.map(|f| (f.path, f.bytes)).ok_or_else(Vec::new)
}

/// The picture of a film sheet.
pub(super) async fn sheet(State(app): Shared, Path(which): Path<usize>) -> Response {
    let made = worked(&app, move |app| {
        let whole = app.bench.shown().whole.clone()?;
        let pictures = crate::write::sheet_pictures(&whole.plan).ok()?;
        pictures.into_iter().nth(which).map(|f| f.bytes)
    });
    match made.await {
        Ok(Some(bytes)) => looked_at("image/svg+xml", LOOKED_AT, bytes),
        Ok(None) => no(StatusCode::NOT_FOUND, "there is no such sheet"),
        Err(answer) => answer,
    }
}
