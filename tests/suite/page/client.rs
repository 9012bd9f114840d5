//! A program that has a job open, and a client that says what it is told to, byte for byte.

use serde_json::Value;
use std::io::{BufRead, BufReader, Read, Write};
use std::net::TcpStream;
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::time::Duration;

/// The program with a job open; it ends with this.
pub struct Open {
    child: Child,
    /// Its port.
    pub port: u16,
    /// The key of its first link.
    pub key: String,
    /// What the browser shows.
    pub cookie: String,
}

/// An answer.
#[derive(Debug)]
pub struct Answer {
    /// Status; 0 where the connection was closed without one.
    pub status: u16,
    /// Head, as it came.
    pub head: String,
    /// Body, chunks put together.
    pub body: Vec<u8>,
}

impl Answer {
    /// The body as JSON.
    pub fn json(&self) -> Value {
        serde_json::from_slice(&self.body).unwrap_or_else(|e| panic!("{e}: {}", self.text()))
    }
    /// The body as text.
    pub fn text(&self) -> String {
        String::from_utf8_lossy(&self.body).into_owned()
    }
    /// A header, by its name in small letters.
    pub fn header(&self, name: &str) -> Option<&str> {
        let line = self.head.lines().find(|l| l.to_ascii_lowercase().starts_with(&format!("{name}:")))?;
        line.split_once(':').map(|l| l.1.trim())
    }
}

impl Open {
    /// Opens a job, and takes the key for the cookie.
    pub fn job(path: &Path) -> Open {
        let mut open = Open::shut(path);
        let answer = open.raw(&format!("GET /?key={} HTTP/1.1\r\nHost: {}\r\n\r\n", open.key, open.host()));
        assert_eq!(answer.status, 303, "{}", answer.head);
        let cookie = answer.header("set-cookie").expect("a cookie");
        assert!(cookie.contains("HttpOnly") && cookie.contains("SameSite=Strict"), "{cookie}");
        open.cookie = cookie.split(';').next().unwrap_or_default().to_owned();
        open
    }
    /// Opens a job; nobody has brought the key yet.
    pub fn shut(path: &Path) -> Open {
        let mut child = Command::new(env!("CARGO_BIN_EXE_frusta"))
            .args(["open", "--no-browser"])
            .arg(path)
            .stdin(Stdio::null())
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .expect("it starts");
        let mut line = String::new();
        BufReader::new(child.stdout.take().expect("piped")).read_line(&mut line).expect("a link");
        let (head, key) = line.trim().split_once("/?key=").unwrap_or_else(|| panic!("no link: {line}"));
        let port = head.rsplit(':').next().and_then(|p| p.parse().ok()).expect("a port");
        Open { child, port, key: key.to_owned(), cookie: String::new() }
    }
    /// What a browser says its host is.
    pub fn host(&self) -> String {
        format!("127.0.0.1:{}", self.port)
    }
    /// A connection.
    pub fn connect(&self) -> TcpStream {
        let stream = TcpStream::connect(("127.0.0.1", self.port)).expect("it listens");
        stream.set_read_timeout(Some(Duration::from_secs(60))).expect("a time-out");
        stream
    }
    /// Says exactly this, and hears the answer.
    pub fn raw(&self, bytes: &str) -> Answer {
        let mut stream = self.connect();
        // A server that refuses early may close before all is said.
        let _ = stream.write_all(bytes.as_bytes());
        answer(stream)
    }
    /// What a browser says with a GET.
    pub fn get(&self, path: &str) -> Answer {
        self.raw(&format!("GET {path} HTTP/1.1\r\nHost: {}\r\nCookie: {}\r\n\r\n", self.host(), self.cookie))
    }
    /// What a browser says with a POST of JSON.
    pub fn post(&self, path: &str, body: &Value) -> Answer {
        let body = body.to_string();
        self.raw(&format!("{}{body}", self.head(path, body.len())))
    }
    /// The head of such a POST.
    pub fn head(&self, path: &str, length: usize) -> String {
        format!(
            "POST {path} HTTP/1.1\r\nHost: {host}\r\nOrigin: http://{host}\r\nSec-Fetch-Site: same-origin\r\n\
             Content-Type: application/json\r\nContent-Length: {length}\r\nCookie: {}\r\n\r\n",
            self.cookie,
            host = self.host()
        )
    }
    /// The job's revision.
    pub fn revision(&self) -> u64 {
        self.get("/api/rev").json()["rev"].as_u64().expect("a revision")
    }
    /// Makes edits.
    pub fn edit(&self, edits: Value) -> Answer {
        self.post("/api/edit", &serde_json::json!({ "rev": self.revision(), "what": "test", "edits": edits }))
    }
    /// Memory that it keeps, in MB; none where the system does not tell.
    pub fn memory(&self) -> Option<f64> {
        let status = std::fs::read_to_string(format!("/proc/{}/status", self.child.id())).ok()?;
        let line = status.lines().find(|l| l.starts_with("VmHWM:"))?;
        line.split_whitespace().nth(1)?.parse::<f64>().ok().map(|kb| kb / 1024.0)
    }
    /// Ends it as a power cut would.
    pub fn kill(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

impl Drop for Open {
    fn drop(&mut self) {
        self.kill();
    }
}

/// Reads one answer.
pub fn answer(stream: TcpStream) -> Answer {
    let mut reader = BufReader::new(stream);
    let mut head = String::new();
    loop {
        let mut line = String::new();
        match reader.read_line(&mut line) {
            Ok(0) | Err(_) => break,
            Ok(_) if line == "\r\n" => break,
            Ok(_) => head.push_str(&line),
        }
    }
    let status = head.split_whitespace().nth(1).and_then(|s| s.parse().ok()).unwrap_or(0);
    let mut answer = Answer { status, head, body: Vec::new() };
    let length: Option<usize> = answer.header("content-length").and_then(|l| l.parse().ok());
    if let Some(length) = length {
        answer.body = vec![0; length];
        let _ = reader.read_exact(&mut answer.body);
    } else if answer.header("transfer-encoding") == Some("chunked") {
        loop {
            let mut size = String::new();
            let _ = reader.read_line(&mut size);
            let n = usize::from_str_radix(size.trim(), 16).unwrap_or(0);
            let mut chunk = vec![0; n + 2];
            if reader.read_exact(&mut chunk).is_err() || n == 0 {
                break;
            }
            answer.body.extend(&chunk[..n]);
        }
    }
    answer
}
