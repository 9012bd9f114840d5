//! Each attack is tried. The job is never changed by one.

use super::client::{Open, answer};
use serde_json::json;
use std::io::{Read, Write};
use std::time::{Duration, Instant};

const JOB: &str =
    "title = \"Cup\"\n[cup]\nrings = [{ up = 0, girth = 200 }, { up = 100, girth = 240 }]\nwall = 100\n";

fn opened() -> (tempfile::TempDir, Open) {
    let dir = tempfile::tempdir().expect("a folder");
    std::fs::write(dir.path().join("job.toml"), JOB).expect("written");
    let open = Open::job(dir.path());
    (dir, open)
}
fn unchanged(dir: &tempfile::TempDir) {
    assert_eq!(std::fs::read_to_string(dir.path().join("job.toml")).expect("the job"), JOB);
}

#[test]
fn only_who_brought_the_key_is_answered_and_a_key_works_once() {
    let (dir, open) = opened();
    for path in ["/api/state", "/api/rev", "/page.js", "/api/cup", "/api/template/svg"] {
        let head = format!("GET {path} HTTP/1.1\r\nHost: {}\r\n", open.host());
        assert_eq!(open.raw(&format!("{head}\r\n")).status, 401, "{path}");
        for cookie in ["", "frusta=1", &open.cookie[..open.cookie.len() - 1], &format!("{}0", open.cookie)] {
            assert_eq!(open.raw(&format!("{head}Cookie: {cookie}\r\n\r\n")).status, 401, "{cookie}");
        }
        assert!(matches!(open.get(path).status, 200 | 404), "{path}");
    }
    for key in [open.key.as_str(), "", "0", &"0".repeat(64)] {
        let again = open.raw(&format!("GET /?key={key} HTTP/1.1\r\nHost: {}\r\n\r\n", open.host()));
        assert_eq!(again.status, 401, "{}", again.head);
        assert!(again.header("set-cookie").is_none());
    }
    unchanged(&dir);
}

#[test]
fn another_name_another_origin_and_another_site_are_refused() {
    let (dir, open) = opened();
    let (host, port, cookie) = (open.host(), open.port, open.cookie.clone());
    let get =
        |lines: &str| open.raw(&format!("GET /api/rev HTTP/1.1\r\n{lines}Cookie: {cookie}\r\n\r\n")).status;
    assert_eq!(get(&format!("Host: {host}\r\n")), 200);
    assert_eq!(get(&format!("Host: localhost:{port}\r\n")), 200);
    let (other, rebound) = (port ^ 1, format!("Host: 127.0.0.1.example.org:{port}\r\n"));
    for bad in [
        "Host: example.org\r\n".to_owned(),
        rebound,
        "Host: 127.0.0.1\r\n".into(),
        format!("Host: 127.0.0.1:{other}\r\n"),
        format!("Host: {host}.\r\n"),
        format!("Host: user@{host}\r\n"),
        format!("Host: [::1]:{port}\r\n"),
        format!("Host: {host}\r\nHost: {host}\r\n"),
        format!("Host: {host}\r\nHost: example.org\r\n"),
        String::new(),
    ] {
        assert!(matches!(get(&bad), 400 | 421), "{bad}");
    }
    for bad in [
        format!("Host: {host}\r\nOrigin: http://example.org\r\n"),
        format!("Host: {host}\r\nOrigin: http://127.0.0.1:{other}\r\n"),
        format!("Host: {host}\r\nOrigin: https://{host}\r\n"),
        format!("Host: {host}\r\nOrigin: null\r\n"),
        format!("Host: {host}\r\nOrigin: http://{host}.example.org\r\n"),
        format!("Host: {host}\r\nOrigin: http://{host}\r\nOrigin: http://example.org\r\n"),
        format!("Host: {host}\r\nSec-Fetch-Site: cross-site\r\n"),
        format!("Host: {host}\r\nSec-Fetch-Site: same-site\r\n"),
    ] {
        assert_eq!(get(&bad), 403, "{bad}");
    }
    let change = json!({ "rev": 1, "what": "x", "edits": [{ "set": { "at": ["title"], "to": "taken" } }] })
        .to_string();
    let post = |lines: &str| {
        let length = change.len();
        open.raw(&format!(
            "POST /api/edit HTTP/1.1\r\nHost: {host}\r\n{lines}Content-Length: {length}\r\nCookie: {cookie}\r\n\r\n{change}"
        ))
        .status
    };
    let kind = "Content-Type: application/json\r\n";
    assert_eq!(post(kind), 403, "no origin");
    assert_eq!(post(&format!("{kind}Origin: http://127.0.0.1:{other}\r\n")), 403);
    assert_eq!(post(&format!("Origin: http://{host}\r\nContent-Type: text/plain\r\n")), 415);
    assert_eq!(post(&format!("Origin: http://{host}\r\n")), 415);
    assert_eq!(post(&format!("{kind}Origin: http://{host}\r\nSec-Fetch-Site: same-site\r\n")), 403);
    unchanged(&dir);
    assert_eq!(post(&format!("{kind}Origin: http://{host}\r\n")), 200, "the same, rightly asked");
}

#[test]
fn no_proxy_no_other_methods_no_paths() {
    let (dir, open) = opened();
    let (host, cookie) = (open.host(), open.cookie.clone());
    let ask = |line: &str| open.raw(&format!("{line} HTTP/1.1\r\nHost: {host}\r\nCookie: {cookie}\r\n\r\n"));
    for line in [
        format!("GET http://{host}/api/rev"),
        "GET http://example.org/".into(),
        format!("CONNECT {host}"),
        "OPTIONS *".into(),
        "PUT /api/state".into(),
        "DELETE /api/state".into(),
        "TRACE /".into(),
    ] {
        let answer = ask(&line);
        assert!(matches!(answer.status, 400 | 405 | 421), "{line}: {}", answer.head);
        assert!(answer.header("access-control-allow-origin").is_none());
    }
    for path in [
        "/../Cargo.toml",
        "/..%2fjob.toml",
        "/%2e%2e/job.toml",
        "/job.toml",
        "/api/kit/..%2f..%2fjob.toml",
        "/api/kit/0",
        "/api/kit/-1",
        "/api/kit/99999999999999999999",
        "/api/sheet/../0",
        "/api/sheet/0",
        "/api/drawing/..%2fjob.toml",
        "/api/drawing/0",
        "/api/template/..%2f..%2fetc%2fpasswd",
        "/api/template/a4%00",
        "//etc/passwd",
        "/\\etc\\passwd",
    ] {
        let answer = ask(&format!("GET {path}"));
        assert!(matches!(answer.status, 400 | 404 | 422), "{path}: {}", answer.head);
        assert!(!answer.text().contains("girth"), "{path}: {}", answer.text());
    }
    unchanged(&dir);
}

#[test]
fn what_is_too_large_is_refused_before_it_is_read() {
    let (dir, open) = opened();
    let said = |length: usize, body: &str| open.raw(&format!("{}{body}", open.head("/api/edit", length)));
    assert_eq!(said((1 << 20) + 1, "").status, 413);
    assert_eq!(said(usize::MAX / 2, "").status, 413);
    let upload = open.raw(&open.head("/api/art", 60 << 20));
    assert_eq!(upload.status, 413);
    let chunked = open.head("/api/edit", 0).replace("Content-Length: 0", "Transfer-Encoding: chunked");
    assert_eq!(open.raw(&format!("{chunked}5\r\nhello\r\n0\r\n\r\n")).status, 411);
    let head =
        format!("GET /api/rev HTTP/1.1\r\nHost: {}\r\nX: {}\r\n\r\n", open.host(), "x".repeat(64 << 10));
    assert!(matches!(open.raw(&head).status, 0 | 400 | 431), "a head of 64 kB");
    let many: String = (0..300).map(|i| format!("X-{i}: 1\r\n")).collect();
    assert!(matches!(
        open.raw(&format!("GET / HTTP/1.1\r\nHost: {}\r\n{many}\r\n", open.host())).status,
        0 | 400 | 431
    ));
    // Text of a job beyond what a job may have.
    let long = |key: &str| json!([{ "set": { "at": [key], "to": "x".repeat(700_000) } }]);
    assert_eq!(open.edit(long("title")).status, 200, "a fault, but a text");
    assert_eq!(open.edit(long("date")).status, 422, "more than a job may have");
    assert_eq!(open.post("/api/undo", &json!({ "rev": open.revision() })).status, 200);
    for body in ["", "{", "[]", "{\"rev\":1}", "{\"rev\":-1,\"what\":\"\",\"edits\":[]}", "\u{0}", "null"] {
        let status = said(body.len(), body).status;
        assert!(matches!(status, 422), "{body}: {status}");
    }
    unchanged(&dir);
}

#[test]
fn slow_heads_and_bodies_end_and_others_are_served_meanwhile() {
    let (dir, open) = opened();
    let begun = Instant::now();
    let mut head = open.connect();
    head.write_all(b"GET /api/rev HTTP/1.1\r\nHost: ").expect("sent");
    let mut body = open.connect();
    body.write_all(open.head("/api/edit", 100).as_bytes()).expect("sent");
    body.write_all(b"{").expect("sent");
    assert_eq!(open.get("/api/rev").status, 200);
    let mut rest = Vec::new();
    let _ = head.read_to_end(&mut rest);
    let after = begun.elapsed();
    assert!(
        after > Duration::from_secs(8) && after < Duration::from_secs(14),
        "a head has ten seconds: {after:?}"
    );
    let late = answer(body);
    assert!(matches!(late.status, 0 | 408), "{}", late.head);
    assert!(begun.elapsed() < Duration::from_secs(26), "a body has twenty seconds");
    unchanged(&dir);
}

#[test]
fn three_hundred_half_open_and_a_hundred_and_sixty_at_once_cost_little() {
    let (dir, open) = opened();
    let half: Vec<_> = (0..300)
        .map(|_| {
            let mut s = open.connect();
            s.write_all(b"GET /api/rev HTTP/1.1\r\nHo").expect("sent");
            s
        })
        .collect();
    assert_eq!(open.get("/api/rev").status, 200, "with 300 half open");
    std::thread::scope(|s| {
        let asks: Vec<_> = (0..160).map(|_| s.spawn(|| open.get("/api/state").status)).collect();
        for a in asks {
            assert_eq!(a.join().expect("an answer"), 200);
        }
    });
    drop(half);
    // More than there are seats: the rest is closed at once, and later all is as before.
    let flood: Vec<_> =
        (0..700).filter_map(|_| std::net::TcpStream::connect(("127.0.0.1", open.port)).ok()).collect();
    drop(flood);
    std::thread::sleep(Duration::from_millis(300));
    assert_eq!(open.get("/api/rev").status, 200);
    if let Some(mb) = open.memory() {
        println!("memory at most {mb:.0} MB");
        assert!(mb < 60.0, "{mb} MB");
    }
    unchanged(&dir);
}

#[test]
fn every_answer_forbids_what_it_can() {
    let (_dir, open) = opened();
    for path in ["/", "/page.js", "/page.css", "/api/state", "/nothing", "/api/template/svg"] {
        let a = open.get(path);
        let policy = a.header("content-security-policy").expect("a policy");
        assert!(policy.starts_with("default-src 'none'") && !policy.contains("unsafe-eval"), "{policy}");
        if !path.contains("template") {
            assert!(!policy.contains("unsafe-inline"), "{policy}");
        } else {
            assert!(policy.contains("sandbox") && !policy.contains("script-src"), "{policy}");
        }
        for (name, value) in [
            ("x-content-type-options", "nosniff"),
            ("referrer-policy", "no-referrer"),
            ("cross-origin-resource-policy", "same-origin"),
            ("cross-origin-opener-policy", "same-origin"),
        ] {
            assert_eq!(a.header(name), Some(value), "{path}");
        }
        assert!(a.header("access-control-allow-origin").is_none());
    }
}

#[test]
fn drawings_stay_in_their_folder_and_what_is_none_is_refused() {
    let (dir, open) = opened();
    let leaf = r#"<svg xmlns="http://www.w3.org/2000/svg" width="30mm" height="20mm" viewBox="0 0 30 20"><path d="M0 10C8 -3 22 -3 30 10C22 23 8 23 0 10Z"/></svg>"#;
    for name in [
        "../../leaf.svg",
        "/etc/passwd",
        "..\\leaf.svg",
        "a\u{0}b.svg",
        "<script>.svg",
        "CON.svg",
        ".svg",
        "é ü.svg",
        &"x".repeat(4000),
    ] {
        let a = open.post("/api/art", &json!({ "name": name, "text": leaf }));
        assert_eq!(a.status, 200, "{name}: {}", a.text());
        let path = a.json()["path"].as_str().expect("a path").to_owned();
        let plain = |c: char| c.is_ascii_alphanumeric() || c == '-';
        let stem = path.strip_prefix("art/").and_then(|p| p.strip_suffix(".svg")).expect("in art");
        assert!(!stem.is_empty() && stem.len() < 80 && stem.chars().all(plain), "{path}");
        assert!(dir.path().join(&path).is_file());
    }
    let above = dir.path().parent().expect("a folder above");
    assert!(!above.join("leaf.svg").exists());
    for bad in [
        "",
        "no svg",
        "<svg",
        "<svg xmlns=\"http://www.w3.org/2000/svg\"/>",
        "\u{feff}<!DOCTYPE svg [<!ENTITY a SYSTEM \"file:///etc/passwd\">]><svg xmlns=\"http://www.w3.org/2000/svg\"><text>&a;</text></svg>",
    ] {
        let a = open.post("/api/art", &json!({ "name": "bad.svg", "text": bad }));
        assert_eq!(a.status, 422, "{bad}: {}", a.text());
        assert!(!a.json()["found"].as_array().expect("reasons").is_empty());
        assert!(!a.text().contains("root:"));
    }
    assert!(!dir.path().join("art/bad.svg").exists());
    #[cfg(unix)]
    {
        std::fs::remove_dir_all(dir.path().join("art")).expect("removed");
        let elsewhere = tempfile::tempdir().expect("a folder");
        std::os::unix::fs::symlink(elsewhere.path(), dir.path().join("art")).expect("a link");
        let a = open.post("/api/art", &json!({ "name": "leaf.svg", "text": leaf }));
        assert_eq!(a.status, 507, "{}", a.text());
        assert_eq!(std::fs::read_dir(elsewhere.path()).expect("a folder").count(), 0);
    }
    unchanged(&dir);
}
