//! What the page may ask: a fixed table of files, the job's text and its edits, the plan, the kit. Ids, never
//! paths.
//!
//! This is the home of axum.
//!
//! Imports: base, read::{job, source}, make::plan, edge::folder, edge::cli::page::{text, desk, show, bench, guard, serve}.

use super::bench::{self, Bench, Followed, held};
use super::desk::{Asked, Desk, Refused};
use super::guard::{Guard, LARGEST_ART, largest};
use super::serve::{self, Heard};
use super::show;
use super::text::Edit;
use crate::edge::folder::Folder;
use crate::make::plan::Moved;
use crate::read::job::Effort;
use crate::read::source::Source;
use axum::Router;
use axum::body::{Body, to_bytes};
use axum::extract::{Path, Request, State};
use axum::http::header::{self, HeaderValue};
use axum::http::{StatusCode, Uri};
use axum::middleware::{self, Next};
use axum::response::{IntoResponse, Response};
use axum::routing::{get, post};
use hyper::body::Bytes;
use serde::Deserialize;
use serde::de::DeserializeOwned;
use serde_json::{Value as Json, json};
use std::path::PathBuf;
use std::sync::{Arc, Mutex};
use tokio::sync::{Semaphore, oneshot};

/// Stack of a worker: art nests groups in groups.
const STACK: usize = 64 << 20;
/// Workers at a time.
const WORKERS: usize = 12;

/// What only these pages may load; what they show of the job is text and attributes, never markup or style.
const CONTENT: &str = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; connect-src 'self'; \
    base-uri 'none'; form-action 'none'; frame-ancestors 'none'";
/// What files of the maker's and of the kit may do: be looked at.
const LOOKED_AT: &str = "default-src 'none'; style-src 'unsafe-inline'; img-src data: blob:; sandbox";
/// The turning cup of a kit may run its own script, and reach nothing with it.
const TURNED: &str = "default-src 'none'; style-src 'unsafe-inline'; img-src data: blob:; script-src 'unsafe-inline'; sandbox allow-scripts";

/// Everything that answers.
pub struct App {
    /// The job's text.
    pub desk: Mutex<Desk>,
    /// The plan.
    pub bench: Bench,
    /// Who may ask.
    pub guard: Guard,
    /// When the page was last heard of.
    pub heard: Arc<Heard>,
    /// Files of the kit written last.
    written: Mutex<Vec<String>>,
    workers: Arc<Semaphore>,
}

type Shared = State<Arc<App>>;

/// Files of the page: name, kind, content.
const FILES: &[(&str, &str, &[u8])] = &[
    ("page.css", "text/css; charset=utf-8", include_bytes!("assets/page.css")),
    ("page.js", JS, include_bytes!("assets/page.js")),
    ("kit.js", JS, include_bytes!("assets/kit.js")),
    ("art.js", JS, include_bytes!("assets/art.js")),
    ("cup.js", JS, include_bytes!("assets/cup.js")),
    ("film.js", JS, include_bytes!("assets/film.js")),
    ("finish.js", JS, include_bytes!("assets/finish.js")),
    ("form.js", JS, include_bytes!("assets/form.js")),
    ("lengths.js", JS, include_bytes!("assets/lengths.js")),
    ("talk.js", JS, include_bytes!("assets/talk.js")),
    ("wall.js", JS, include_bytes!("assets/wall.js")),
    ("plane.js", JS, include_bytes!("assets/plane.js")),
    ("turn.js", JS, include_bytes!("assets/turn.js")),
];
const JS: &str = "text/javascript; charset=utf-8";
const INDEX: &str = include_str!("assets/index.html");
/// What is told to who comes without the key.
const NO_KEY: &str = "<!DOCTYPE html><html lang=\"en\"><meta charset=\"utf-8\"><title>frusta</title>\
    <p>This page opens by the link that frusta printed in the terminal. A link works once; for another one, \
    look there again.</p></html>";

impl App {
    /// Of a job and a guard.
    pub fn new(desk: Desk, guard: Guard) -> App {
        App {
            desk: Mutex::new(desk),
            bench: Bench::default(),
            guard,
            heard: Arc::new(Heard::now()),
            written: Mutex::default(),
            workers: Arc::new(Semaphore::new(WORKERS)),
        }
    }
    fn kit_folder(&self) -> PathBuf {
        held(&self.desk).folder().join("kit")
    }
}

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
        .route("/api/drawing/{motif}", get(drawing))
        .route("/api/cup", get(cup))
        .route("/api/cup.js", get(cup_script))
        .route("/api/worn", get(worn))
        .route("/api/template/{which}", get(template))
        .route("/api/sheet/{which}", get(sheet))
        .route("/api/kit", post(kit))
        .route("/api/kit/{which}", get(kit_file))
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

fn no(status: StatusCode, why: &str) -> Response {
    (status, axum::Json(json!({ "why": why }))).into_response()
}

fn kind(kind: &'static str, content: impl Into<Body>) -> Response {
    ([(header::CONTENT_TYPE, kind)], content.into()).into_response()
}

fn looked_at(kind: &'static str, policy: &'static str, bytes: Vec<u8>) -> Response {
    let mut answer = self::kind(kind, bytes);
    answer.headers_mut().insert(header::CONTENT_SECURITY_POLICY, HeaderValue::from_static(policy));
    answer
}

/// The JSON of a request, had within its time.
async fn said<T: DeserializeOwned>(request: Request) -> Result<T, Response> {
    let most = largest(request.uri().path()) as usize;
    let bytes = tokio::time::timeout(serve::BODY, to_bytes(request.into_body(), most)).await;
    let bytes = match bytes {
        Ok(Ok(bytes)) => bytes,
        Ok(Err(_)) => return Err(no(StatusCode::PAYLOAD_TOO_LARGE, "too large, or broken off")),
        Err(_) => return Err(no(StatusCode::REQUEST_TIMEOUT, "too slow")),
    };
    serde_json::from_slice(&bytes).map_err(|e| no(StatusCode::UNPROCESSABLE_ENTITY, &e.to_string()))
}

/// Works in a thread of its own, with room for deep art.
async fn worked<T: Send + 'static>(
    app: &Arc<App>,
    work: impl FnOnce(&App) -> T + Send + 'static,
) -> Result<T, Response> {
    let busy = || no(StatusCode::SERVICE_UNAVAILABLE, "the system gives no room to work");
    let seat = app.workers.clone().acquire_owned().await.map_err(|_| busy())?;
    let (tell, hear) = oneshot::channel();
    let app = app.clone();
    let thread = std::thread::Builder::new().stack_size(STACK).spawn(move || {
        let _seat = seat;
        let _ = tell.send(work(&app));
    });
    thread.map_err(|_| busy())?;
    hear.await.map_err(|_| {
        no(StatusCode::INTERNAL_SERVER_ERROR, "this is a defect of frusta, not of the job; nothing was written")
    })
}

/// Works in a thread of its own and answers with lines of JSON as they come; nobody listens any more once the
/// answer is broken off.
async fn lines(
    app: &Arc<App>,
    work: impl FnOnce(&App, bench::Tell<'_>) + Send + 'static,
) -> Response {
    let (tell, body) = serve::lines();
    let told = move |app: &App| {
        let say = |v: &Json| tell.send(Bytes::from(format!("{v}\n"))).is_ok();
        work(app, &say);
    };
    let app = app.clone();
    let Ok(seat) = app.workers.clone().acquire_owned().await else {
        return no(StatusCode::SERVICE_UNAVAILABLE, "the program is ending");
    };
    let thread = std::thread::Builder::new().stack_size(STACK).spawn(move || {
        let _seat = seat;
        told(&app);
    });
    match thread {
        Ok(_) => kind("application/x-ndjson", body),
        Err(_) => no(StatusCode::SERVICE_UNAVAILABLE, "the system gives no room to work"),
    }
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
        super::super::words::tell(&format!("this link was used already; here is another: {}", app.guard.link()));
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

fn refused(refused: &Refused, desk: &Desk) -> Response {
    let (status, why, kind) = match refused {
        Refused::Behind => (StatusCode::CONFLICT, "the job was changed meanwhile, in another window", "behind"),
        Refused::OnlyLooks => {
            (StatusCode::LOCKED, "another frusta has this job open: here it can only be looked at", "looks")
        }
        Refused::Outside => (StatusCode::CONFLICT, "the job file was changed outside", "outside"),
        Refused::Wrong(why) => (StatusCode::UNPROCESSABLE_ENTITY, why.as_str(), "wrong"),
        Refused::Disk(why) => (StatusCode::INSUFFICIENT_STORAGE, why.as_str(), "disk"),
    };
    (status, axum::Json(json!({ "why": why, "kind": kind, "rev": desk.revision }))).into_response()
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

async fn kit_file(State(app): Shared, Path(which): Path<usize>) -> Response {
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
                // A viewer of PDFs is not let into a sandbox.
                Some("pdf") => ("application/pdf", "default-src 'none'; style-src 'unsafe-inline'; object-src 'self'"),
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
    let letters = name.chars().flat_map(char::to_lowercase).map(|c| if c.is_ascii_alphanumeric() { c } else { '-' });
    let parted: Vec<String> = letters
        .collect::<String>()
        .split('-')
        .filter(|p| !p.is_empty())
        .map(str::to_owned)
        .collect();
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

/// The drawing of a motif, to look at.
async fn drawing(State(app): Shared, Path(motif): Path<usize>) -> Response {
    let made = worked(&app, move |app| {
        let desk = held(&app.desk);
        let doc = super::text::json(&desk.text)?;
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

async fn turning(app: &Arc<App>) -> Result<(u64, crate::write::view::page::Turning), Response> {
    match worked(app, |app| app.bench.turning()).await? {
        Ok(Some(made)) => Ok(made),
        Ok(None) => Err(no(StatusCode::NOT_FOUND, "there is no plan yet")),
        Err(why) => Err(no(StatusCode::INTERNAL_SERVER_ERROR, &why)),
    }
}

async fn cup(State(app): Shared) -> Response {
    match turning(&app).await {
        Ok((number, made)) => {
            kind("application/json", format!("{{\"number\":{number},\"data\":{}}}", made.data))
        }
        Err(answer) => answer,
    }
}

async fn cup_script(State(app): Shared) -> Response {
    match turning(&app).await {
        Ok((_, made)) => kind(JS, made.script),
        Err(answer) => answer,
    }
}

async fn worn(State(app): Shared) -> Response {
    match worked(&app, |app| app.bench.worn()).await {
        Ok(Ok(Some(pieces))) => kind("application/json", pieces),
        Ok(Ok(None)) => no(StatusCode::NOT_FOUND, "there is no plan yet"),
        Ok(Err(why)) => no(StatusCode::INTERNAL_SERVER_ERROR, &why),
        Err(answer) => answer,
    }
}

async fn template(State(app): Shared, Path(which): Path<String>) -> Response {
    let made = worked(&app, move |app| {
        let desk = held(&app.desk);
        let (text, folder) = (desk.text.clone(), desk.folder().to_owned());
        drop(desk);
        template_of(&text, &folder, &which)
    });
    match made.await {
        Ok(Ok((name, bytes))) if name.ends_with(".svg") => looked_at("image/svg+xml", LOOKED_AT, bytes),
        Ok(Ok((_, bytes))) => {
            looked_at("application/pdf", "default-src 'none'; style-src 'unsafe-inline'; object-src 'self'", bytes)
        }
        Ok(Err(found)) => {
            (StatusCode::UNPROCESSABLE_ENTITY, axum::Json(json!({ "found": show::found(&found) }))).into_response()
        }
        Err(answer) => answer,
    }
}

fn template_of(
    text: &str,
    folder: &std::path::Path,
    which: &str,
) -> Result<(String, Vec<u8>), Vec<crate::base::diag::Diagnostic>> {
    let read = crate::read::job::read_job(text);
    let Some(job) = read.job else { return Err(read.diagnostics.into_vec()) };
    let files = bench::template(&job, folder)?;
    let wanted = if which == "svg" { "wrap.svg".to_owned() } else { format!("wrap-{which}.pdf") };
    let file = files.into_iter().find(|f| f.path == wanted);
    file.map(|f| (f.path, f.bytes)).ok_or_else(Vec::new)
}

/// The picture of a film sheet.
async fn sheet(State(app): Shared, Path(which): Path<usize>) -> Response {
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
