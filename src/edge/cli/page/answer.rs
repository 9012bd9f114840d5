//! What answers: the job's desk and bench, and how answers are put together.
//!
//! This is the home of axum.
//!
//! Imports: edge::cli::page::{desk, bench, guard, serve}.

use super::bench::{self, Bench, held};
use super::desk::{Desk, Refused};
use super::guard::{Guard, largest};
use super::serve::{self, Heard};
use axum::body::{Body, to_bytes};
use axum::extract::{Request, State};
use axum::http::StatusCode;
use axum::http::header::{self, HeaderValue};
use axum::response::{IntoResponse, Response};
use hyper::body::Bytes;
use serde::de::DeserializeOwned;
use serde_json::{Value as Json, json};
use std::path::PathBuf;
use std::sync::{Arc, Mutex};
use tokio::sync::{Semaphore, oneshot};

/// Stack of a worker: art nests groups in groups.
const STACK: usize = 64 << 20;
/// Workers at a time.
const WORKERS: usize = 12;

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
    pub written: Mutex<Vec<String>>,
    workers: Arc<Semaphore>,
    /// Seats of those who wait for a plan: they keep nobody else waiting.
    planners: Arc<Semaphore>,
}

/// What every handler is given.
pub type Shared = State<Arc<App>>;

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
            planners: Arc::new(Semaphore::new(WORKERS)),
        }
    }
    /// Where the kit goes.
    pub fn kit_folder(&self) -> PathBuf {
        held(&self.desk).folder().join("kit")
    }
}

/// A refusal in words.
pub(super) fn no(status: StatusCode, why: &str) -> Response {
    (status, axum::Json(json!({ "why": why }))).into_response()
}

/// An answer of a kind.
pub(super) fn kind(kind: &'static str, content: impl Into<Body>) -> Response {
    ([(header::CONTENT_TYPE, kind)], content.into()).into_response()
}

/// A file that may do no more than its policy says.
pub(super) fn looked_at(kind: &'static str, policy: &'static str, bytes: Vec<u8>) -> Response {
    let mut answer = self::kind(kind, bytes);
    answer.headers_mut().insert(header::CONTENT_SECURITY_POLICY, HeaderValue::from_static(policy));
    answer
}

/// The JSON of a request, had within its time.
pub(super) async fn said<T: DeserializeOwned>(request: Request) -> Result<T, Response> {
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
pub(super) async fn worked<T: Send + 'static>(
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
        no(
            StatusCode::INTERNAL_SERVER_ERROR,
            "this is a defect of frusta, not of the job; nothing was written",
        )
    })
}

/// Works in a thread of its own and answers with lines of JSON as they come; nobody listens any more once the
/// answer is broken off.
pub(super) async fn lines(
    app: &Arc<App>,
    work: impl FnOnce(&App, bench::Tell<'_>) + Send + 'static,
) -> Response {
    let (tell, body) = serve::lines();
    let told = move |app: &App| {
        let say = |v: &Json| tell.send(Bytes::from(format!("{v}\n"))).is_ok();
        work(app, &say);
    };
    let app = app.clone();
    let Ok(seat) = app.planners.clone().acquire_owned().await else {
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

/// A change that was not made, in words.
pub(super) fn refused(refused: &Refused, desk: &Desk) -> Response {
    let (status, why, kind) = match refused {
        Refused::Behind => {
            (StatusCode::CONFLICT, "the job was changed meanwhile, in another window", "behind")
        }
        Refused::OnlyLooks => {
            (StatusCode::LOCKED, "another frusta has this job open: here it can only be looked at", "looks")
        }
        Refused::Outside => (StatusCode::CONFLICT, "the job file was changed outside", "outside"),
        Refused::Wrong(why) => (StatusCode::UNPROCESSABLE_ENTITY, why.as_str(), "wrong"),
        Refused::Disk(why) => (StatusCode::INSUFFICIENT_STORAGE, why.as_str(), "disk"),
    };
    (status, axum::Json(json!({ "why": why, "kind": kind, "rev": desk.revision }))).into_response()
}
