//! What the page may ask: a fixed table of files, the job's text and its edits, the plan, the kit. Ids, never
//! paths.
//!
//! Imports: base, read::{job, art}, make::plan, edge::cli::{words, stages}, edge::cli::page::{text, desk, show, bench,
//! guard, answer, looked}.

use super::answer::{App, Shared, kind, lines, no, refused, said, worked};
use super::bench::{self, Bench, Followed, held};
use super::desk::{Asked, Desk, Refused};
use super::guard::LARGEST_ART;
use super::looked::{self, JS};
use super::show;
use super::text::Edit;
use crate::make::plan::Moved;
use crate::read::job::Effort;
use axum::Router;
use axum::extract::{Path, Request, State};
use axum::http::header::{self, HeaderValue};
use axum::http::{StatusCode, Uri};
use axum::middleware::{self, Next};
use axum::response::{IntoResponse, Response};
use axum::routing::{get, post};
use serde::Deserialize;
use serde_json::{Value as Json, json};
use std::path::PathBuf;
use std::sync::{Arc, Mutex};

/// What only these pages may load; what they show of the job is text and attributes, never markup or style.
const CONTENT: &str = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; connect-src 'self'; \
    base-uri 'none'; form-action 'none'; frame-ancestors 'none'";
/// A file of the page.
macro_rules! asset {
    ($name:literal, $kind:expr) => {
        ($name, $kind, include_bytes!(concat!("assets/", $name)))
    };
}
/// Files of the page: name, kind, content.
const FILES: &[(&str, &str, &[u8])] = &[
    asset!("page.css", "text/css; charset=utf-8"),
    asset!("page.js", JS),
    asset!("kit.js", JS),
    asset!("art.js", JS),
    asset!("cup.js", JS),
    asset!("film.js", JS),
    asset!("finish.js", JS),
    asset!("form.js", JS),
    asset!("lengths.js", JS),
    asset!("talk.js", JS),
    asset!("wall.js", JS),
    asset!("plane.js", JS),
    asset!("turn.js", JS),
];
const INDEX: &str = include_str!("assets/index.html");
/// What is told to who comes without the key.
const NO_KEY: &str = "<!DOCTYPE html><html lang=\"en\"><meta charset=\"utf-8\"><title>frusta</title>\
    <p>This page opens by the link that frusta printed in the terminal. A link works once; for another one, \
    look there again.</p></html>";

/// All that may be asked.
pub fn router(app: Arc<App>) -> Router {
    Router::new()
        .route("/", get(index))
        .route("/{file}", get(file))
        .route("/api/state", get(state))
        .route("/api/rev", get(revision))
        .route("/api/edit", post(edit))
        .route("/api/undo", post(undo))
        .route("/api/redo", post(redo))
        .route("/api/outside", post(outside))
        .route("/api/plan", post(plan))
        .route("/api/enough", post(enough))
        .route("/api/near", post(near))
        .route("/api/art", post(art))
        .route("/api/drawing/{motif}", get(looked::drawing))
        .route("/api/cup", get(looked::cup))
        .route("/api/cup.js", get(looked::cup_script))
        .route("/api/worn", get(looked::worn))
        .route("/api/template/{which}", get(looked::template))
        .route("/api/sheet/{which}", get(looked::sheet))
        .route("/api/kit", post(kit))
        .route("/api/kit/{which}", get(looked::kit_file))
        .fallback(|| async { no(StatusCode::NOT_FOUND, "there is nothing of this name") })
        .layer(middleware::from_fn_with_state(app.clone(), guarded))
        .with_state(app)
}

/// What every request goes through, and what every answer says.
async fn guarded(State(app): Shared, request: Request, next: Next) -> Response {
    let (parts, body) = request.into_parts();
    let mut answer = match app.guard.admits(&parts) {
        Err((status, why)) => {
            let mut answer = no(status, why);
            // What is left unread is not taken for another request.
            answer.headers_mut().insert(header::CONNECTION, HeaderValue::from_static("close"));
            answer
        }
        Ok(()) if parts.uri.path() == "/" || app.guard.knows(&parts.headers) => {
            app.heard.note();
            next.run(Request::from_parts(parts, body)).await
        }
        Ok(()) => no(StatusCode::UNAUTHORIZED, "open the link that frusta printed in the terminal"),
    };
    let headers = answer.headers_mut();
    let fixed = [
        ("x-content-type-options", "nosniff"),
        ("referrer-policy", "no-referrer"),
        ("cross-origin-resource-policy", "same-origin"),
        ("cross-origin-opener-policy", "same-origin"),
    ];
    for (name, value) in fixed {
        headers.insert(name, HeaderValue::from_static(value));
    }
    headers.entry(header::CONTENT_SECURITY_POLICY).or_insert(HeaderValue::from_static(CONTENT));
    headers.entry(header::CACHE_CONTROL).or_insert(HeaderValue::from_static("no-store"));
    answer
}

async fn index(State(app): Shared, uri: Uri, request: Request) -> Response {
    let key = uri.query().and_then(|q| q.strip_prefix("key="));
    let knows = app.guard.knows(request.headers());
    if let Some(key) = key {
        let fits = app.guard.takes(key);
        if fits || knows {
            let mut answer = (StatusCode::SEE_OTHER, [(header::LOCATION, "/")]).into_response();
            if let (true, Ok(cookie)) = (fits, HeaderValue::from_str(&app.guard.cookie())) {
                answer.headers_mut().insert(header::SET_COOKIE, cookie);
            }
            return answer;
        }
        super::super::words::tell(&format!(
            "this link was used already; here is another: {}",
            app.guard.link()
        ));
    }
    if knows {
        return kind("text/html; charset=utf-8", INDEX);
    }
    let mut answer = kind("text/html; charset=utf-8", NO_KEY);
    *answer.status_mut() = StatusCode::UNAUTHORIZED;
    answer
}

async fn file(Path(name): Path<String>) -> Response {
    match FILES.iter().find(|f| f.0 == name) {
        Some((_, kind, bytes)) => self::kind(kind, *bytes),
        None => no(StatusCode::NOT_FOUND, "there is nothing of this name"),
    }
}

/// The job as it stands.
fn now(desk: &Desk, bench: &Bench) -> Json {
    let (undo, redo) = desk.steps();
    let shown = bench.shown();
    let fresh = shown.whole.as_ref().is_some_and(|w| *w.text == *desk.text);
    json!({
        "rev": desk.revision,
        "new": desk.is_new(),
        "folder": desk.folder().display().to_string(),
        "file": desk.file.path().file_name().map(|n| n.to_string_lossy()),
        "undo": undo,
        "redo": redo,
        "looks": desk.file.only_looks(),
        "said": show::said(&desk.text, &desk.read),
        "fresh": fresh && !shown.moved,
        "plan": shown.plan,
    })
}

async fn state(State(app): Shared) -> Response {
    let made = worked(&app, |app| now(&held(&app.desk), &app.bench)).await;
    made.map_or_else(|e| e, |v| axum::Json(v).into_response())
}

async fn revision(State(app): Shared) -> Response {
    let made = worked(&app, |app| {
        let desk = held(&app.desk);
        json!({ "rev": desk.revision, "outside": desk.changed_outside(), "looks": desk.file.only_looks() })
    });
    made.await.map_or_else(|e| e, |v| axum::Json(v).into_response())
}

/// Changes the desk, and has the wall follow if it can.
async fn changed(
    app: &Arc<App>,
    change: impl FnOnce(&mut Desk) -> Result<(), Refused> + Send + 'static,
) -> Response {
    let made = worked(app, move |app| {
        let mut desk = held(&app.desk);
        if let Err(e) = change(&mut desk) {
            return refused(&e, &desk);
        }
        let followed: Option<Followed> = app.bench.follow(desk.read.job.as_ref());
        let mut all = now(&desk, &app.bench);
        all["followed"] = serde_json::to_value(followed).unwrap_or_default();
        axum::Json(all).into_response()
    });
    made.await.unwrap_or_else(|e| e)
}

#[derive(Deserialize)]
struct EditSaid {
    rev: u64,
    what: String,
    #[serde(default)]
    goes_on: bool,
    unit: Option<String>,
    edits: Vec<Edit>,
}

async fn edit(State(app): Shared, request: Request) -> Response {
    match said::<EditSaid>(request).await {
        Ok(e) => {
            let what: String = e.what.chars().take(80).collect();
            let asked = Asked { what, goes_on: e.goes_on, unit: e.unit, edits: e.edits };
            changed(&app, move |desk| desk.edit(e.rev, &asked)).await
        }
        Err(answer) => answer,
    }
}

#[derive(Deserialize)]
struct RevSaid {
    rev: u64,
}

async fn undo(State(app): Shared, request: Request) -> Response {
    match said::<RevSaid>(request).await {
        Ok(s) => changed(&app, move |desk| desk.step(s.rev, false)).await,
        Err(answer) => answer,
    }
}

async fn redo(State(app): Shared, request: Request) -> Response {
    match said::<RevSaid>(request).await {
        Ok(s) => changed(&app, move |desk| desk.step(s.rev, true)).await,
        Err(answer) => answer,
    }
}

#[derive(Deserialize)]
#[serde(rename_all = "lowercase")]
enum Theirs {
    Load,
    Keep,
}

async fn outside(State(app): Shared, request: Request) -> Response {
    match said::<Theirs>(request).await {
        Ok(Theirs::Load) => changed(&app, Desk::load).await,
        Ok(Theirs::Keep) => changed(&app, |desk| desk.keep().map(|_| ())).await,
        Err(answer) => answer,
    }
}

#[derive(Clone, Copy, Default, Deserialize)]
#[serde(rename_all = "lowercase")]
enum EffortSaid {
    #[default]
    Quick,
    Normal,
    Thorough,
}

impl From<EffortSaid> for Effort {
    fn from(e: EffortSaid) -> Effort {
        match e {
            EffortSaid::Quick => Effort::Quick,
            EffortSaid::Normal => Effort::Normal,
            EffortSaid::Thorough => Effort::Thorough,
        }
    }
}

#[derive(Deserialize)]
struct PlanSaid {
    rev: u64,
    #[serde(default)]
    effort: EffortSaid,
    #[serde(default)]
    force: bool,
}

/// The text of a revision, and the folder.
fn text_of(app: &App, rev: u64) -> Result<(String, PathBuf), Response> {
    let desk = held(&app.desk);
    if desk.revision != rev {
        return Err(refused(&Refused::Behind, &desk));
    }
    Ok((desk.text.clone(), desk.folder().to_owned()))
}

async fn plan(State(app): Shared, request: Request) -> Response {
    let said = match said::<PlanSaid>(request).await {
        Ok(said) => said,
        Err(answer) => return answer,
    };
    match text_of(&app, said.rev) {
        Ok((text, folder)) => {
            lines(&app, move |app, tell| app.bench.plan(&folder, &text, said.effort.into(), tell)).await
        }
        Err(answer) => answer,
    }
}

async fn enough(State(app): Shared) -> Response {
    app.bench.enough();
    axum::Json(json!({})).into_response()
}

async fn kit(State(app): Shared, request: Request) -> Response {
    let said = match said::<PlanSaid>(request).await {
        Ok(said) => said,
        Err(answer) => return answer,
    };
    let (text, folder) = match text_of(&app, said.rev) {
        Ok(had) => had,
        Err(answer) => return answer,
    };
    if held(&app.desk).file.only_looks() {
        return refused(&Refused::OnlyLooks, &held(&app.desk));
    }
    lines(&app, move |app, tell| {
        if app.bench.shown().moved || app.bench.whole_of(&text).is_none() {
            app.bench.plan(&folder, &text, said.effort.into(), tell);
        }
        let Some(whole) = app.bench.whole_of(&text) else { return };
        let files = Mutex::new(Vec::new());
        let hear = |v: &Json| {
            if let Some(all) = v["kit"]["files"].as_array() {
                *held(&files) = all.iter().filter_map(|f| f[0].as_str().map(str::to_owned)).collect();
            }
            tell(v)
        };
        app.bench.kit(&whole, &app.kit_folder(), said.force, &hear);
        *held(&app.written) = files.into_inner().unwrap_or_default();
    })
    .await
}

#[derive(Deserialize)]
struct NearSaid {
    motif: usize,
    copy: usize,
    at: [f64; 3],
}

async fn near(State(app): Shared, request: Request) -> Response {
    match said::<NearSaid>(request).await {
        Ok(s) if s.at.iter().all(|v| v.is_finite() && v.abs() < 1e6) => {
            let moved = Moved { motif: s.motif, copy: s.copy, to: bench::pose(s.at) };
            let made = worked(&app, move |app| json!({ "near": app.bench.near(moved) }));
            made.await.map_or_else(|e| e, |v| axum::Json(v).into_response())
        }
        Ok(_) => no(StatusCode::UNPROCESSABLE_ENTITY, "no place"),
        Err(answer) => answer,
    }
}

#[derive(Deserialize)]
struct ArtSaid {
    name: String,
    text: String,
}

/// Letters of a file's name that are safe everywhere.
fn stem(name: &str) -> String {
    let name = name.rsplit(['/', '\\']).next().unwrap_or_default();
    let name = name.rsplit_once('.').map_or(name, |n| n.0);
    let letters =
        name.chars().flat_map(char::to_lowercase).map(|c| if c.is_ascii_alphanumeric() { c } else { '-' });
    let parted: Vec<String> =
        letters.collect::<String>().split('-').filter(|p| !p.is_empty()).map(str::to_owned).collect();
    let joined: String = parted.join("-").chars().take(60).collect();
    if joined.is_empty() { "drawing".into() } else { joined }
}

async fn art(State(app): Shared, request: Request) -> Response {
    let said = match said::<ArtSaid>(request).await {
        Ok(said) if said.text.len() > LARGEST_ART => {
            return no(StatusCode::PAYLOAD_TOO_LARGE, "a drawing may have 8 MiB");
        }
        Ok(said) => said,
        Err(answer) => return answer,
    };
    let made = worked(&app, move |app| {
        let desk = held(&app.desk);
        if desk.file.only_looks() {
            return refused(&Refused::OnlyLooks, &desk);
        }
        let mut found = crate::base::diag::Diagnostics::new();
        let at = crate::base::diag::KeyPath::of("motif");
        let read = crate::read::art::read_art(&said.name, said.text.as_bytes(), &at, &mut found);
        let found = show::found(found.iter());
        let Ok(read) = read else {
            return (StatusCode::UNPROCESSABLE_ENTITY, axum::Json(json!({ "found": found }))).into_response();
        };
        let b = read.outline().bounds();
        match desk.file.put_art(&stem(&said.name), said.text.as_bytes()) {
            Ok(path) => {
                let sized = read.physical.is_some();
                axum::Json(json!({ "path": path, "found": found, "sized": sized, "size": [b.width().0, b.height().0] }))
                    .into_response()
            }
            Err(e) => refused(&Refused::Disk(super::super::stages::reason(&e)), &desk),
        }
    });
    made.await.unwrap_or_else(|e| e)
}
