//! [`Guard`]: who may ask the server what. One person, at one browser of this machine, by a key that only the
//! terminal told; no page of another origin, no name that leads here by a trick, nothing oversized.
//!
//! Imports: edge::cli::page::bench.

use super::bench::held;
use axum::http::header::{CONTENT_LENGTH, CONTENT_TYPE, COOKIE, HOST, HeaderName, ORIGIN};
use axum::http::request::Parts;
use axum::http::{HeaderMap, Method, StatusCode};
use std::sync::Mutex;

/// Bytes of a request that changes something.
pub const LARGEST_EDIT: u64 = 1 << 20;
/// Bytes of a drawing.
pub const LARGEST_ART: usize = 8 << 20;
/// Bytes of a request that brings a drawing: as JSON a byte may take six.
pub const LARGEST_UPLOAD: u64 = 6 * LARGEST_ART as u64 + 4096;
/// The request that brings a drawing.
pub const UPLOAD: &str = "/api/art";

const FETCH_SITE: HeaderName = HeaderName::from_static("sec-fetch-site");

/// Who may ask.
pub struct Guard {
    port: u16,
    /// The key of the next link; a link works once.
    key: Mutex<String>,
    /// What the browser shows from then on.
    token: String,
}

/// What a request is told that may not be asked.
pub type Refusal = (StatusCode, &'static str);

impl Guard {
    /// Of a port.
    ///
    /// # Errors
    /// The system has no random numbers.
    pub fn new(port: u16) -> Result<Guard, String> {
        Ok(Guard { port, key: Mutex::new(secret()?), token: secret()? })
    }
    /// The link to open.
    pub fn link(&self) -> String {
        format!("http://127.0.0.1:{}/?key={}", self.port, held(&self.key))
    }
    fn cookie_name(&self) -> String {
        format!("frusta-{}", self.port)
    }
    /// The cookie for who brought the key.
    pub fn cookie(&self) -> String {
        format!("{}={}; HttpOnly; SameSite=Strict; Path=/", self.cookie_name(), self.token)
    }
    /// Takes the key of a link: true once for each.
    pub fn takes(&self, key: &str) -> bool {
        let mut mine = held(&self.key);
        let fits = same(key, &mine);
        if fits {
            // Without another secret no link works any more, and that is safe.
            *mine = secret().unwrap_or_default();
        }
        fits
    }
    /// Has the browser the cookie?
    pub fn knows(&self, headers: &HeaderMap) -> bool {
        let name = self.cookie_name();
        let cookies = headers.get_all(COOKIE).iter().filter_map(|v| v.to_str().ok());
        let pairs = cookies.flat_map(|c| c.split(';')).filter_map(|p| p.trim().split_once('='));
        pairs.into_iter().any(|(n, v)| n == name && same(v, &self.token))
    }
    /// What is asked of every request before anything of it is read.
    ///
    /// # Errors
    /// [`Refusal`].
    pub fn admits(&self, parts: &Parts) -> Result<(), Refusal> {
        let bad = |why| Err((StatusCode::BAD_REQUEST, why));
        if parts.uri.scheme().is_some() || parts.uri.authority().is_some() {
            return bad("an absolute target: this is no proxy");
        }
        let one = |name: &HeaderName| {
            let mut all = parts.headers.get_all(name).iter();
            let first = all.next().map(|v| v.to_str().unwrap_or("\u{fffd}"));
            if all.next().is_some() { Some("\u{fffd}") } else { first }
        };
        let names = ["127.0.0.1", "localhost"].map(|n| format!("{n}:{}", self.port));
        let Some(host) = one(&HOST).filter(|h| names.iter().any(|n| n == h)) else {
            return Err((StatusCode::MISDIRECTED_REQUEST, "this name is not this server's"));
        };
        if let Some(origin) = one(&ORIGIN)
            && origin != format!("http://{host}")
        {
            return Err((StatusCode::FORBIDDEN, "asked from another origin"));
        }
        // Another port of this machine is the same site, but no part of this page.
        if let Some(site) = one(&FETCH_SITE)
            && !matches!(site, "same-origin" | "none")
        {
            return Err((StatusCode::FORBIDDEN, "asked from another site"));
        }
        match parts.method {
            Method::GET => {}
            Method::POST => {
                self.admits_change(parts, one(&ORIGIN), one(&CONTENT_TYPE), one(&CONTENT_LENGTH))?
            }
            _ => return Err((StatusCode::METHOD_NOT_ALLOWED, "only GET and POST")),
        }
        Ok(())
    }
    fn admits_change(
        &self,
        parts: &Parts,
        origin: Option<&str>,
        kind: Option<&str>,
        length: Option<&str>,
    ) -> Result<(), Refusal> {
        if origin.is_none() {
            return Err((StatusCode::FORBIDDEN, "a change without its origin"));
        }
        let kind = kind.unwrap_or_default().split(';').next().unwrap_or_default().trim();
        if !kind.eq_ignore_ascii_case("application/json") {
            return Err((StatusCode::UNSUPPORTED_MEDIA_TYPE, "changes are JSON"));
        }
        // A browser says the length of what it sends.
        let length = length.and_then(|l| l.parse::<u64>().ok());
        match length {
            None => Err((StatusCode::LENGTH_REQUIRED, "a change of unknown length")),
            Some(l) if l > largest(parts.uri.path()) => Err((StatusCode::PAYLOAD_TOO_LARGE, "too large")),
            Some(_) => Ok(()),
        }
    }
}

/// Bytes that a request may have.
pub fn largest(path: &str) -> u64 {
    if path == UPLOAD { LARGEST_UPLOAD } else { LARGEST_EDIT }
}

fn secret() -> Result<String, String> {
    let mut bytes = [0u8; 32];
    getrandom::fill(&mut bytes).map_err(|e| format!("the system gives no random numbers: {e}"))?;
    Ok(bytes.iter().map(|b| format!("{b:02x}")).collect())
}

/// Compares in a time that does not hang on where two texts differ.
fn same(a: &str, b: &str) -> bool {
    !b.is_empty() && a.len() == b.len() && a.bytes().zip(b.bytes()).fold(0, |d, (x, y)| d | (x ^ y)) == 0
}
