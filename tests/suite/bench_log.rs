//! The bench log as a maker meets it: lines that a spreadsheet opens, a machine that is switched off, the next quote.

use assert_cmd::Command;
use serde_json::Value;
use std::fs;
use std::path::Path;
use std::process::Stdio;
use std::time::Duration;

fn frusta(args: &[&str]) -> std::process::Output {
    let mut c = Command::new(env!("CARGO_BIN_EXE_frusta"));
    c.env("NO_COLOR", "1").timeout(Duration::from_secs(300)).args(args).output().expect("it runs")
}

fn job(dir: &Path) -> String {
    let job = dir.join("cup").to_str().expect("a path").to_owned();
    assert!(frusta(&["new", &job]).status.success());
    job
}

fn json(out: &std::process::Output) -> Value {
    serde_json::from_slice(&out.stdout)
        .unwrap_or_else(|e| panic!("{e}: {}", String::from_utf8_lossy(&out.stderr)))
}

/// Steps of `frusta new`: wash, film, seal, clear or the like; the one that is a clear coat.
fn clear_step(job: &str) -> String {
    let dry = json(&frusta(&["make", job, "--out", &format!("{job}/kit"), "--json", "--quiet"]));
    assert_eq!(dry["exit"].as_u64().unwrap_or(0), 0, "{dry}");
    let manifest: Value =
        serde_json::from_slice(&fs::read(format!("{job}/kit/manifest.json")).expect("a kit")).expect("JSON");
    let steps = manifest["finish"]["steps"].as_array().expect("steps").clone();
    let clear = steps.iter().find(|s| ["clear", "seal", "level"].contains(&s["kind"].as_str().unwrap_or("")));
    clear.expect("a clear coat")["number"].to_string()
}

#[test]
fn the_next_quote_uses_what_the_log_teaches_and_says_how_sure_it_is() {
    let dir = tempfile::tempdir().expect("a folder");
    let job = job(dir.path());
    let step = clear_step(&job);
    // Half as long again as common practice, ten times; and one that took a whole day.
    let usual = |out: &Value| -> f64 {
        let line = out["logged"].as_str().expect("a line").to_owned();
        line.split(',').nth(9).expect("twelve fields").parse().expect("a number")
    };
    let first = json(&frusta(&["log", &job, "took", &step, "--minutes", "30", "--cups", "1", "--json"]));
    let minutes = format!("{}", usual(&first) * 1.5);
    for _ in 0..10 {
        let out = frusta(&["log", &job, "took", &step, "--minutes", &minutes, "--cups", "1", "--json"]);
        assert!(out.status.success(), "{}", String::from_utf8_lossy(&out.stderr));
    }
    let before = json(&frusta(&["log", &job, "--json"]))["rates"][0].clone();
    assert!((1.38..1.52).contains(&before["value"].as_f64().expect("a factor")), "{before}");
    assert!(
        frusta(&["log", &job, "took", &step, "--minutes", "600", "--cups", "1", "--json"]).status.success()
    );
    let after = json(&frusta(&["log", &job, "--json"]))["rates"][0].clone();
    let moved = after["value"].as_f64().expect("a factor") / before["value"].as_f64().expect("a factor");
    assert!((moved - 1.0).abs() < 0.1, "one odd line moved the rate by {moved}");
    // The next quote.
    let path = format!("{job}/job.toml");
    let text = fs::read_to_string(&path).expect("a job");
    let hands_on = |out: &str| -> Value {
        let made = frusta(&["make", &job, "--out", out, "--json", "--quiet"]);
        assert!(made.status.success(), "{}", String::from_utf8_lossy(&made.stdout));
        serde_json::from_slice(&fs::read(format!("{out}/manifest.json")).expect("a kit")).expect("JSON")
    };
    let plain = hands_on(&format!("{job}/plain"));
    let with = format!("{text}\n[finish]\nlog = [\"bench-log.csv\"]\n");
    fs::write(&path, with).expect("written");
    let own = hands_on(&format!("{job}/own"));
    let work = |m: &Value| m["finish"]["hands_on_min"].as_u64().expect("minutes");
    assert!(work(&own) > work(&plain), "{} and {}", work(&own), work(&plain));
    let between = &own["finish"]["work_80_percent_min"];
    assert!(
        between[0].as_u64().expect("low") < work(&own) && work(&own) < between[1].as_u64().expect("high")
    );
    assert!(plain["finish"].get("work_80_percent_min").is_none());
    let sheet = fs::read_to_string(format!("{job}/own/finish/maker-sheet.html")).expect("a sheet");
    assert!(
        sheet.contains("By your bench log the work lies between") && sheet.contains("your bench log</td>")
    );
}

#[test]
fn what_cannot_be_is_refused_and_nothing_is_written() {
    let dir = tempfile::tempdir().expect("a folder");
    let job = job(dir.path());
    let step = clear_step(&job);
    let cases: [(&[&str], &str); 6] = [
        (&["stop", &step], "log/not-begun"),
        (&["took", "99", "--minutes", "5"], "log/no-such-step"),
        (&["took", &step, "--minutes", "0"], "log/amount"),
        (&["weighed", &step, "--before", "300", "--after", "299"], "log/amount"),
        (&["left", &step, "--ml", "5000"], "log/amount"),
        (&["lost", "--cups", "3", "--of", "2"], "log/amount"),
    ];
    for (what, code) in cases {
        let args: Vec<&str> = ["log", &job].iter().chain(what).chain(&["--json"]).copied().collect();
        let out = frusta(&args);
        assert_eq!(out.status.code(), Some(1), "{what:?}");
        let found = json(&out)["found"].clone();
        assert!(found.as_array().expect("a list").iter().any(|d| d["code"] == code), "{what:?}: {found}");
    }
    assert!(!Path::new(&format!("{job}/bench-log.csv")).exists());
}

/// kill -9 while lines are written: what was called logged stands, and a line cut short takes no other with it.
#[test]
fn a_killed_program_loses_its_last_line_at_most() {
    let dir = tempfile::tempdir().expect("a folder");
    let job = job(dir.path());
    let log = format!("{job}/bench-log.csv");
    let kills = std::env::var("FRUSTA_CASES").ok().and_then(|n| n.parse().ok()).unwrap_or(40u64);
    let mut called = Vec::new();
    for i in 0..kills {
        let note = format!("entry, no. {i}");
        let mut child = std::process::Command::new(env!("CARGO_BIN_EXE_frusta"))
            .args(["log", &job, "--note", &note, "lost", "--cups", "0", "--of", "1", "--json"])
            .stdout(Stdio::null())
            .stderr(Stdio::null())
            .spawn()
            .expect("it runs");
        // From before it reads the job to after it has ended.
        std::thread::sleep(Duration::from_micros(i * 1_500 % 40_000));
        let _ = child.kill();
        if child.wait().expect("it ends").success() {
            called.push(note);
        }
        // Now and then the machine is switched off in the middle of a line.
        if i % 7 == 3 && Path::new(&log).exists() {
            let text = fs::read(&log).expect("a log");
            let torn = [&text[..], b"2026-11-30T17:00:00Z,work,\"Har"].concat();
            fs::write(&log, torn).expect("written");
        }
    }
    assert!(frusta(&["log", &job, "lost", "--cups", "0", "--of", "1", "--json"]).status.success());
    let text = fs::read_to_string(&log).expect("text");
    let (entries, _) = frusta::read::bench_log::entries(&text);
    for note in &called {
        assert!(entries.iter().any(|e| e.note == *note), "{note} was called logged and is gone");
    }
    println!("{} of {kills} were called logged, {} lines stand", called.len(), entries.len());
    assert!(!called.is_empty() && entries.len() > called.len());
}
