//! The job through the page's own interface: edits, steps back, two windows, two programs, changes outside, kills.

use super::client::Open;
use serde_json::{Value, json};
use std::fs;
use std::path::Path;

fn folder() -> tempfile::TempDir {
    tempfile::tempdir().expect("a folder")
}
fn job(dir: &Path) -> String {
    fs::read_to_string(dir.join("job.toml")).expect("the job")
}
fn set(at: &[&str], to: Value) -> Value {
    json!([{ "set": { "at": at, "to": to } }])
}
fn lines(text: &str) -> Vec<Value> {
    text.lines().map(|l| serde_json::from_str(l).expect("JSON")).collect()
}

#[test]
fn a_job_begins_from_nothing() {
    let dir = folder();
    let inner = dir.path().join("new/cup");
    let open = Open::job(&inner);
    assert!(!inner.join("job.toml").exists());
    assert_eq!(open.get("/api/state").json()["new"], true);
    let cup = json!({ "rings": [{ "up": 0, "girth": 208 }, { "up": 165, "girth": 270 }], "wall": 165 });
    let made = open.edit(set(&["cup"], cup));
    assert_eq!(made.status, 200, "{}", made.text());
    assert_eq!(made.json()["said"]["cup"]["sound"], true);
    assert!(job(&inner).contains("[cup]"));
    let template = open.get("/api/template/a4");
    assert!(template.status == 200 && template.body.starts_with(b"%PDF"), "{}", template.head);
    // Closed form: across at the rim is the girth over pi.
    let rim = made.json()["said"]["cup"]["zones"][0]["upper"].as_f64().expect("a girth");
    approx::assert_abs_diff_eq!(rim, 270.0, epsilon = 1e-6);
}

#[test]
fn two_windows_never_write_over_each_other() {
    let dir = folder();
    fs::write(dir.path().join("job.toml"), "title = \"a\"\n").expect("written");
    let open = Open::job(dir.path());
    let rev = open.revision();
    let say = |title: &str| {
        open.post("/api/edit", &json!({ "rev": rev, "what": "x", "edits": set(&["title"], json!(title)) }))
    };
    assert_eq!(say("first").status, 200);
    let second = say("second");
    assert_eq!((second.status, second.json()["kind"].as_str()), (409, Some("behind")));
    assert!(job(dir.path()).contains("first"));
}

#[test]
fn a_second_program_looks_only() {
    let dir = folder();
    fs::write(dir.path().join("job.toml"), "title = \"a\"\n").expect("written");
    let mut first = Open::job(dir.path());
    let second = Open::job(dir.path());
    assert_eq!(second.edit(set(&["title"], json!("b"))).status, 423);
    assert_eq!(second.post("/api/kit", &json!({ "rev": 1 })).status, 423);
    assert_eq!(second.get("/api/state").json()["looks"], true);
    assert_eq!(first.edit(set(&["title"], json!("c"))).status, 200);
    assert!(job(dir.path()).contains("\"c\""));
    first.kill();
    // A killed program holds nothing.
    let third = Open::job(dir.path());
    assert_eq!(third.edit(set(&["title"], json!("d"))).status, 200);
}

#[test]
fn a_change_outside_is_loaded_or_kept_but_never_lost() {
    let dir = folder();
    fs::write(dir.path().join("job.toml"), "# mine\ntitle = \"a\"\n").expect("written");
    let open = Open::job(dir.path());
    fs::write(dir.path().join("job.toml"), "# theirs\ntitle = \"b\"\n").expect("written");
    assert_eq!(open.get("/api/rev").json()["outside"], true);
    let refused = open.edit(set(&["title"], json!("c")));
    assert_eq!((refused.status, refused.json()["kind"].as_str()), (409, Some("outside")));
    assert!(job(dir.path()).contains("theirs"));
    assert_eq!(open.post("/api/outside", &json!("load")).status, 200);
    assert_eq!(open.get("/api/state").json()["said"]["doc"]["title"], "b");
    let undone = open.post("/api/undo", &json!({ "rev": open.revision() }));
    assert_eq!(undone.json()["said"]["doc"]["title"], "a", "mine is a step back");
    fs::write(dir.path().join("job.toml"), "# theirs again\n").expect("written");
    assert_eq!(open.post("/api/outside", &json!("keep")).status, 200);
    assert!(job(dir.path()).contains("# mine"));
    assert!(
        fs::read_to_string(dir.path().join("job-theirs-1.toml")).expect("beside").contains("theirs again")
    );
}

#[test]
fn a_job_that_cannot_be_read_is_shown_and_left_alone() {
    let dir = folder();
    let torn = "title = \"a\n[cup\n";
    fs::write(dir.path().join("job.toml"), torn).expect("written");
    let open = Open::job(dir.path());
    let state = open.get("/api/state").json();
    assert!(state["said"]["doc"].is_null() && !state["said"]["found"].as_array().expect("found").is_empty());
    assert_eq!(open.edit(set(&["title"], json!("b"))).status, 422);
    assert_eq!(job(dir.path()), torn);
}

/// The kit that the page writes is the one that the library makes of the saved text, file by file.
#[test]
fn the_kit_of_the_page_is_the_kit_of_the_program() {
    let dir = folder();
    let demo = Path::new(env!("CARGO_MANIFEST_DIR")).join("demo-data/first-cup");
    fs::create_dir(dir.path().join("art")).expect("a folder");
    for name in ["job.toml", "art/robin.svg", "art/apple-blossom.svg"] {
        fs::copy(demo.join(name), dir.path().join(name)).expect("copied");
    }
    let open = Open::job(dir.path());
    let moved = open.edit(json!([{ "set": { "at": ["motif", 0, "poses", 0, "azimuth"], "to": 4 } }]));
    assert_eq!(moved.status, 200, "{}", moved.text());
    let plan = lines(&open.post("/api/plan", &json!({ "rev": open.revision() })).text());
    assert!(plan.iter().any(|l| l["plan"]["pieces"].as_array().is_some_and(|p| p.len() > 10)), "{plan:?}");
    // Follows a move, and says what changed.
    let turned = open.edit(json!([{ "set": { "at": ["motif", 0, "poses", 0, "azimuth"], "to": 6 } }])).json();
    let followed = &turned["followed"];
    assert_eq!(followed["at"][0][1][0].as_f64().map(|a| (a * 1e6).round()), Some(6e6), "{followed}");
    let near = open.post("/api/near", &json!({ "motif": 0, "copy": 0, "at": [6.0, 2.0, 0.0] })).json();
    assert!(near["near"].as_array().expect("a list").iter().any(|n| n["what"] == "below"), "{near}");
    let told = lines(&open.post("/api/kit", &json!({ "rev": open.revision() })).text());
    let kit = told.iter().find(|l| l.get("kit").is_some()).unwrap_or_else(|| panic!("{told:?}"));
    let files = kit["kit"]["files"].as_array().expect("files").len();
    let source = frusta::edge::folder::Folder::open(dir.path()).expect("a folder");
    let read = frusta::read_job(&job(dir.path())).job.expect("a job");
    let materials = frusta::Materials::read(&read, &source);
    let (go_on, mut found) = (&mut |_| std::ops::ControlFlow::Continue(()), frusta::Diagnostics::new());
    let plan =
        frusta::make::plan::run(&read, &materials, frusta::Effort::Quick, &mut found, go_on).expect("a plan");
    let made = frusta::kit(&frusta::verify(plan).expect("verified")).expect("a kit");
    assert_eq!(made.files.len(), files);
    for f in &made.files {
        assert!(fs::read(dir.path().join("kit").join(&f.path)).expect("written") == f.bytes, "{}", f.path);
    }
}

/// Killed at a hundred moments of an editing session: the job is whole, and what was answered is in it.
#[test]
fn killed_at_any_moment_the_job_is_whole() {
    let dir = folder();
    fs::write(dir.path().join("job.toml"), "# kept\ntitle = \"0\"\n").expect("written");
    let rounds: u32 = std::env::var("FRUSTA_CASES").ok().and_then(|n| n.parse().ok()).unwrap_or(100);
    let mut told = 0u64;
    for round in 0..rounds {
        let mut open = Open::job(dir.path());
        let (port, cookie) = (open.port, open.cookie.clone());
        let from = told;
        let typing = std::thread::spawn(move || {
            let mut last = from;
            for n in from + 1.. {
                let body =
                    json!({ "rev": n - from, "what": "t", "edits": set(&["title"], json!(n.to_string())) })
                        .to_string();
                let head = format!(
                    "POST /api/edit HTTP/1.1\r\nHost: 127.0.0.1:{port}\r\nOrigin: http://127.0.0.1:{port}\r\nContent-Type: \
                     application/json\r\nContent-Length: {}\r\nCookie: {cookie}\r\n\r\n{body}",
                    body.len()
                );
                let Ok(mut s) = std::net::TcpStream::connect(("127.0.0.1", port)) else { break };
                let _ = std::io::Write::write_all(&mut s, head.as_bytes());
                if super::client::answer(s).status != 200 {
                    break;
                }
                last = n;
            }
            last
        });
        std::thread::sleep(std::time::Duration::from_micros(3_000 + u64::from(round) * 397 % 37_000));
        open.kill();
        let answered = typing.join().expect("typed");
        let text = job(dir.path());
        assert!(text.starts_with("# kept\ntitle = \"") && text.ends_with("\"\n"), "torn: {text:?}");
        let stands: u64 = text.split('"').nth(1).and_then(|n| n.parse().ok()).expect("a number");
        assert!(stands == answered || stands == answered + 1, "answered {answered}, stands {stands}");
        told = stands;
    }
    let left: Vec<_> = fs::read_dir(dir.path()).expect("a folder").flatten().map(|e| e.file_name()).collect();
    let _last = Open::job(dir.path());
    println!("{told} edits, {rounds} kills; beside the job after the last: {left:?}");
    let parts = fs::read_dir(dir.path()).expect("a folder").flatten();
    assert!(
        parts.into_iter().all(|e| !e.file_name().to_string_lossy().ends_with("-part")),
        "swept at the next start"
    );
}
