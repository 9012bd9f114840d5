//! The accept loop: so many seats, a head within its time and size, a body within its time; then the router.
//!
//! Imports: none.

use axum::Router;
use axum::body::Body;
use hyper::body::{Bytes, Frame};
use hyper::server::conn::http1;
use hyper_util::rt::{TokioIo, TokioTimer};
use hyper_util::service::TowerToHyperService;
use std::convert::Infallible;
use std::pin::Pin;
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};
use std::task::{Context, Poll};
use std::time::{Duration, Instant};
use tokio::net::TcpListener;
use tokio::sync::{Semaphore, mpsc};

/// Connections at a time; more are closed at once.
const SEATS: usize = 512;
/// How long the head of a request may take.
const HEAD: Duration = Duration::from_secs(10);
/// Bytes of a head.
const LARGEST_HEAD: usize = 32 << 10;
/// How long the body of a request may take.
pub const BODY: Duration = Duration::from_secs(20);
/// How long a connection may last, so that an answer that nobody takes in ends too: longer than any work.
const LONGEST: Duration = Duration::from_secs(3600);

/// When the page was last heard of.
pub struct Heard {
    start: Instant,
    last: AtomicU64,
}

impl Heard {
    /// From now on.
    pub fn now() -> Heard {
        Heard { start: Instant::now(), last: AtomicU64::new(0) }
    }
    /// It was heard of.
    pub fn note(&self) {
        self.last.store(self.start.elapsed().as_millis() as u64, Ordering::Relaxed);
    }
    fn silent(&self) -> Duration {
        self.start.elapsed().saturating_sub(Duration::from_millis(self.last.load(Ordering::Relaxed)))
    }
}

/// Serves until it is silent for so long, if that is asked for.
pub async fn serve(listener: TcpListener, router: Router, heard: Arc<Heard>, idle: Option<Duration>) {
    let seats = Arc::new(Semaphore::new(SEATS));
    loop {
        let wait = tokio::time::timeout(Duration::from_secs(1), listener.accept()).await;
        if idle.is_some_and(|most| heard.silent() > most) {
            return;
        }
        let stream = match wait {
            Ok(Ok((stream, _))) => stream,
            Ok(Err(_)) => {
                // Too many files are open: a moment later there may be fewer.
                tokio::time::sleep(Duration::from_millis(20)).await;
                continue;
            }
            Err(_) => continue,
        };
        let Ok(seat) = seats.clone().try_acquire_owned() else { continue };
        let _ = stream.set_nodelay(true);
        // axum's router takes hyper's body as any other.
        let service = TowerToHyperService::new(router.clone());
        tokio::spawn(async move {
            let _seat = seat;
            let connection = http1::Builder::new()
                .timer(TokioTimer::new())
                .header_read_timeout(HEAD)
                .max_buf_size(LARGEST_HEAD)
                .serve_connection(TokioIo::new(stream), service);
            let _ = tokio::time::timeout(LONGEST, connection).await;
        });
    }
}

/// Lines of an answer as they come.
pub struct Lines(pub mpsc::UnboundedReceiver<Bytes>);

impl hyper::body::Body for Lines {
    type Data = Bytes;
    type Error = Infallible;
    fn poll_frame(
        mut self: Pin<&mut Self>,
        cx: &mut Context<'_>,
    ) -> Poll<Option<Result<Frame<Bytes>, Infallible>>> {
        self.0.poll_recv(cx).map(|line| line.map(|b| Ok(Frame::data(b))))
    }
}

/// An answer of lines.
pub fn lines() -> (mpsc::UnboundedSender<Bytes>, Body) {
    let (tell, hear) = mpsc::unbounded_channel();
    (tell, Body::new(Lines(hear)))
}
