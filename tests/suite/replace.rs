//! A kit takes the place of the one before it: what is the maker's stays, what a refusal says is true, and
//! there is always a next run that works. Numbered cases of what an outside campaign of faults broke once;
//! the campaign itself is `tests/outside/fault_campaign.py`.

use assert_cmd::Command;
use predicates::prelude::*;
use predicates::str::contains;
use std::fs;
use std::path::{Path, PathBuf};
use tempfile::TempDir;

/// A cup and a film: the wrap template and the papers, the cheapest kit.
const JOB: &str = "[cup]\ndiameters = { rim = 86, base = 66, height = 100 }\n[print]\npapers = [\"a4\"]\n";

fn frusta() -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_frusta"));
    command.env_remove("NO_COLOR").env_remove("CLICOLOR_FORCE").timeout(std::time::Duration::from_secs(300));
    command
}

/// A folder with a job and a kit made of it.
fn kit() -> (TempDir, PathBuf, PathBuf) {
    let dir = tempfile::tempdir().expect("a folder");
    let (job, out) = (dir.path().join("job.toml"), dir.path().join("kit"));
    fs::write(&job, JOB).expect("written");
    make(&job, &out, &[]).success();
    (dir, job, out)
}

fn make(job: &Path, out: &Path, more: &[&str]) -> assert_cmd::assert::Assert {
    frusta().arg("make").arg(job).arg("--out").arg(out).args(more).assert()
}

fn hidden(dir: &Path) -> Vec<String> {
    let names = fs::read_dir(dir).expect("a folder").map(|e| e.expect("an entry").file_name());
    names.map(|n| n.to_string_lossy().into_owned()).filter(|n| n.starts_with(".kit.")).collect()
}

#[test]
fn case_1_what_the_maker_added_moves_over_under_force_and_empty_folders_stay() {
    let (dir, job, out) = kit();
    fs::write(out.join("notes.txt"), "two coats").expect("written");
    fs::create_dir_all(out.join("photos/later")).expect("made");
    fs::write(out.join("template/my own.svg"), "<svg/>").expect("written");
    make(&job, &out, &[]).code(3).stderr(contains("files/not-the-kits"));
    assert_eq!(fs::read_to_string(out.join("notes.txt")).expect("it stands"), "two coats");
    make(&job, &out, &["--force"]).success();
    assert_eq!(fs::read_to_string(out.join("notes.txt")).expect("it stands"), "two coats");
    assert_eq!(fs::read_to_string(out.join("template/my own.svg")).expect("it stands"), "<svg/>");
    assert!(out.join("photos/later").is_dir());
    assert!(out.join("manifest.json").is_file());
    assert_eq!(hidden(dir.path()), [""; 0]);
}

#[test]
fn case_2_a_file_named_like_a_folder_of_the_kit_is_kept_even_under_force() {
    let (_dir, job, out) = kit();
    fs::remove_dir_all(out.join("view")).expect("removed");
    fs::write(out.join("view"), "a list of views").expect("written");
    for more in [&[] as &[&str], &["--force"]] {
        make(&job, &out, more).code(3);
        assert_eq!(fs::read_to_string(out.join("view")).expect("it stands"), "a list of views");
    }
    make(&job, &out, &["--force"]).stderr(contains("files/in-the-way"));
    // The way out that is named works.
    fs::rename(out.join("view"), out.join("views.txt")).expect("moved");
    make(&job, &out, &["--force"]).success();
    assert_eq!(fs::read_to_string(out.join("views.txt")).expect("it stands"), "a list of views");
    assert!(out.join("view/front.png").is_file());
}

#[test]
fn case_3_a_folder_named_like_a_file_of_the_kit_is_kept_even_under_force() {
    let (_dir, job, out) = kit();
    fs::remove_file(out.join("manifest.json")).expect("removed");
    fs::create_dir(out.join("manifest.json")).expect("made");
    fs::write(out.join("manifest.json/mine"), "mine").expect("written");
    make(&job, &out, &["--force"]).code(3).stderr(contains("files/in-the-way"));
    assert_eq!(fs::read_to_string(out.join("manifest.json/mine")).expect("it stands"), "mine");
}

#[test]
fn case_4_a_file_as_the_kits_folder_is_refused_and_kept() {
    let (dir, job, _out) = kit();
    let file = dir.path().join("shopping");
    fs::write(&file, "eggs").expect("written");
    for more in [&[] as &[&str], &["--force"]] {
        make(&job, &file, more).code(3).stderr(contains("shopping"));
        assert_eq!(fs::read_to_string(&file).expect("it stands"), "eggs");
    }
}

#[test]
fn case_5_hidden_folders_of_killed_runs_are_swept_at_the_next_start() {
    let (dir, job, out) = kit();
    // A run killed while it wrote: half a kit.
    fs::create_dir_all(dir.path().join(".kit.frusta-part/template")).expect("made");
    fs::write(dir.path().join(".kit.frusta-part/template/wrap.svg"), "<svg").expect("written");
    make(&job, &out, &[]).success();
    assert_eq!(hidden(dir.path()), [""; 0]);
}

#[test]
fn case_6_a_kit_set_aside_by_a_killed_run_comes_back() {
    let (dir, job, out) = kit();
    // Killed between two renames, where the system has no exchange of names.
    fs::rename(&out, dir.path().join(".kit.frusta-old")).expect("moved");
    fs::write(dir.path().join(".kit.frusta-old/notes.txt"), "two coats").expect("written");
    make(&job, &out, &[]).code(3).stderr(contains("files/not-the-kits"));
    assert_eq!(fs::read_to_string(out.join("notes.txt")).expect("it came back"), "two coats");
    make(&job, &out, &["--force"]).success();
    assert_eq!(fs::read_to_string(out.join("notes.txt")).expect("it stands"), "two coats");
    assert_eq!(hidden(dir.path()), [""; 0]);
}

#[test]
fn case_7_the_folder_that_one_stands_in_can_be_the_kits() {
    let (dir, job, out) = kit();
    for _ in 0..2 {
        frusta().current_dir(&out).arg("make").arg(&job).args(["--out", "."]).assert().success();
        assert!(out.join("manifest.json").is_file());
    }
    assert_eq!(hidden(dir.path()), [""; 0]);
}

/// A link to the kit's folder leads to it, and stays a link.
#[cfg(unix)]
#[test]
fn case_8_a_link_to_the_kit_stays_a_link() {
    let (dir, job, out) = kit();
    let link = dir.path().join("latest");
    std::os::unix::fs::symlink(&out, &link).expect("linked");
    make(&job, &link, &[]).success();
    assert!(link.symlink_metadata().expect("it stands").file_type().is_symlink());
    assert!(out.join("manifest.json").is_file());
    // A link that leads nowhere is told as one.
    fs::remove_dir_all(&out).expect("removed");
    make(&job, &link, &[]).code(3).stderr(contains("latest").and(contains("link")));
}
