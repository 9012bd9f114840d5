//! `open`: the page on which the job is measured, filled and changed by eye and hand, served to one person on
//! this machine. The job file stays the truth: the page edits its text.
//!
//! Imports: edge::cli, edge::cli::{words, stages}.

mod text;
mod history;
mod file;
mod desk;
mod show;
mod bench;
mod guard;
mod serve;
mod answer;
mod looked;
mod routes;

use super::{Exit, stages, words};
use answer::App;
use desk::Desk;
pub(super) use file::{JobFile, Unsaved};
use guard::Guard;
use std::io;
use std::net::Ipv4Addr;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::sync::Arc;
use std::time::Duration;

/// What to open, and how.
#[derive(Debug)]
pub struct Order {
    /// The job's folder, or the job.
    pub job: PathBuf,
    /// The port; 0 for any that is free.
    pub port: u16,
    /// Print the link only.
    pub no_browser: bool,
    /// End after so many minutes without a page.
    pub idle: Option<u32>,
}

/// Opens the page and serves it until Ctrl-C.
///
/// # Errors
/// What writing to standard output says.
pub fn open(order: &Order) -> io::Result<Exit> {
    let file = match JobFile::open(&order.job) {
        Ok(file) => file,
        Err(e) => {
            words::tell(&format!("fault: {} cannot be opened: {}", order.job.display(), stages::reason(&e)));
            return Ok(Exit::Files);
        }
    };
    let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build()?;
    runtime.block_on(run(order, file))
}

async fn run(order: &Order, file: JobFile) -> io::Result<Exit> {
    let listener = match tokio::net::TcpListener::bind((Ipv4Addr::LOCALHOST, order.port)).await {
        Ok(listener) => listener,
        Err(e) => {
            words::tell(&format!(
                "fault: port {} cannot be had: {e}; leave --port out for any that is free",
                order.port
            ));
            return Ok(Exit::Files);
        }
    };
    let guard = match Guard::new(listener.local_addr()?.port()) {
        Ok(guard) => guard,
        Err(why) => {
            words::tell(&format!("fault: {why}"));
            return Ok(Exit::Files);
        }
    };
    if file.only_looks() {
        words::tell("another frusta has this job open: this page only looks");
    }
    let link = guard.link();
    words::data(format!("{link}\n").as_bytes())?;
    if !order.no_browser && !browser(&link) {
        words::tell("no browser could be started: open the link by hand");
    }
    words::tell("Ctrl-C ends it; the job is saved after each change");
    let app = Arc::new(App::new(Desk::new(file), guard));
    let heard = app.heard.clone();
    let idle = order.idle.map(|m| Duration::from_secs(60 * u64::from(m)));
    serve::serve(listener, routes::router(app), heard, idle).await;
    Ok(Exit::Done)
}

/// Starts the browser with a link; false if there is none to start.
fn browser(link: &str) -> bool {
    let (program, first): (&str, &[&str]) = if cfg!(target_os = "macos") {
        ("open", &[])
    } else if cfg!(windows) {
        ("rundll32", &["url.dll,FileProtocolHandler"])
    } else {
        // Without a screen a browser would only fail later.
        if ["DISPLAY", "WAYLAND_DISPLAY"].iter().all(|v| std::env::var_os(v).is_none()) {
            return false;
        }
        ("xdg-open", &[])
    };
    let mut command = Command::new(program);
    command.args(first).arg(link).stdin(Stdio::null()).stdout(Stdio::null()).stderr(Stdio::null());
    command.spawn().is_ok()
}

/// Where the job of an order lies.
pub fn named(job: Option<PathBuf>) -> PathBuf {
    job.unwrap_or_else(|| Path::new(".").to_owned())
}
