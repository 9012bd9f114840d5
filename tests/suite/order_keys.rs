//! What a job is made from besides its own files: `keep` and `shelf` of `[order]`.
//!
//! Truth: the kit that the same options of the command make; counts of lines of the shelf's file.

use crate::planned::leaf;
use std::fs;
use std::path::Path;
use std::process::{Command, Output};

const JOB: &str = r#"
[cup]
rings = [{ up = 0, girth = 200 }, { up = 100, girth = 240 }]
wall = 100
[[film]]
name = "blue"
sheet = [200, 150]
[[motif]]
art = "leaf.svg"
width = 20
film = "blue"
copies = 5
"#;

fn frusta(words: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_frusta")).args(words).output().expect("the program")
}

fn made(job: &Path, out: &Path, more: &[&str]) -> Output {
    let text = |p: &Path| p.display().to_string();
    let (job, out) = (text(job), text(out));
    frusta(&[&["make", job.as_str(), "--out", out.as_str(), "-q"], more].concat())
}

/// A job in a folder below another one, and its first kit beside it.
fn first(dir: &Path) -> std::path::PathBuf {
    let job = dir.join("spring/leaves");
    fs::create_dir_all(&job).expect("a folder");
    fs::write(job.join("leaf.svg"), &leaf().0["leaf.svg"]).expect("art");
    fs::write(job.join("job.toml"), JOB).expect("a job");
    let out = made(&job, &job.join("kit"), &[]);
    assert!(out.status.success(), "{}", String::from_utf8_lossy(&out.stderr));
    job
}

/// A kit kept by the job's own key is the one that the option keeps; the option goes before the key, and a folder that
/// is not there is a fault at the key.
#[test]
fn a_job_may_name_the_kit_that_it_keeps() {
    let dir = tempfile::tempdir().expect("a folder");
    let job = first(dir.path());
    let larger = JOB.replace("width = 20", "width = 21");
    fs::write(job.join("job.toml"), &larger).expect("a job");
    let by_option = made(&job, &dir.path().join("a"), &["--keep", &job.join("kit").display().to_string()]);
    assert!(by_option.status.success(), "{}", String::from_utf8_lossy(&by_option.stderr));
    fs::write(job.join("job.toml"), format!("{larger}[order]\nkeep = \"kit\"\n")).expect("a job");
    let by_key = made(&job, &dir.path().join("b"), &[]);
    assert!(by_key.status.success(), "{}", String::from_utf8_lossy(&by_key.stderr));
    let read = |kit: &str, file: &str| fs::read(dir.path().join(kit).join(file)).expect(file);
    for file in ["pieces.json", "cut/blue-2.svg", "map/map.svg"] {
        assert_eq!(read("a", file), read("b", file), "{file}");
    }
    let afresh =
        made(&job, &dir.path().join("c"), &["--keep", &dir.path().join("none").display().to_string()]);
    assert!(!afresh.status.success(), "the option goes before the key");
    fs::write(job.join("job.toml"), format!("{larger}[order]\nkeep = \"kits\"\n")).expect("a job");
    for command in ["make", "check"] {
        let out = frusta(&[command, &job.display().to_string()]);
        let said = String::from_utf8_lossy(&out.stderr).into_owned();
        assert_eq!(out.status.code(), Some(3), "{command}: {said}");
        assert!(said.contains("no folder \"kits\""), "{said}");
    }
    fs::write(job.join("job.toml"), format!("{larger}[order]\nkeep = \"../kit\"\n")).expect("a job");
    let out = frusta(&["check", &job.display().to_string()]);
    assert!(
        String::from_utf8_lossy(&out.stderr).contains("job/file-name"),
        "no job reaches out of its folder by itself"
    );
}

/// A shelf in a folder above the job's is found by its name; what the kit takes is held, by a line that the option
/// would write; looking writes nothing.
#[test]
fn a_job_may_name_its_shelf() {
    let dir = tempfile::tempdir().expect("a folder");
    let job = first(dir.path());
    let shelf = dir.path().join("shelf");
    let brought = frusta(&[
        "shelf",
        &shelf.display().to_string(),
        "bring",
        "--film",
        "blue",
        "--sheet",
        "200x150",
        "--count",
        "3",
    ]);
    assert!(brought.status.success(), "{}", String::from_utf8_lossy(&brought.stderr));
    fs::write(job.join("job.toml"), format!("{JOB}[order]\nshelf = \"shelf\"\n")).expect("a job");
    let lines = || fs::read_to_string(shelf.join("shelf.txt")).expect("the shelf").lines().count();
    let before = lines();
    let text = job.display().to_string();
    for looking in [&["check", text.as_str()][..], &["make", text.as_str(), "--dry-run"][..]] {
        assert!(frusta(looking).status.success());
        assert_eq!(lines(), before, "{looking:?}");
    }
    assert!(frusta(&["make", &text]).status.success());
    assert_eq!(lines(), before + 1);
    let last = fs::read_to_string(shelf.join("shelf.txt")).expect("the shelf");
    let last = last.lines().last().expect("a line");
    assert!(last.contains(" hold ") && last.contains("order=kit"), "{last}");
}
