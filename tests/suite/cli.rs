//! The program as its users meet it: every command, every exit code, JSON, pipes, full disks, kills.
//!
//! The exit codes and the JSON keys are promises of this project; the closed forms beside `measure` are those
//! of the frustum (sweep = (C1 - C2) / s, radius = C / sweep: any textbook of descriptive geometry). Past 600
//! lines: one promise a test, and they share one scaffold.

use assert_cmd::Command;
use predicates::prelude::*;
use predicates::str::contains;
use serde_json::Value;
use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::{self, Stdio};
use tempfile::TempDir;

fn frusta() -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_frusta"));
    command.env_remove("NO_COLOR").env_remove("CLICOLOR_FORCE").timeout(std::time::Duration::from_secs(300));
    command
}

/// A job that `new` started.
fn started() -> (TempDir, PathBuf) {
    let dir = tempfile::tempdir().expect("a folder");
    let job = dir.path().join("pears");
    frusta().arg("new").arg(&job).assert().success();
    (dir, job)
}

/// A job without accents, for tests that run it many times.
fn small() -> (TempDir, PathBuf) {
    let (dir, job) = started();
    change(&job, |t| t.split("# Small spots").next().expect("a part").to_owned());
    (dir, job)
}

fn change(job: &Path, how: impl Fn(&str) -> String) {
    let path = job.join("job.toml");
    let text = fs::read_to_string(&path).expect("job.toml");
    let changed = how(&text);
    assert_ne!(text, changed, "the test changes the job");
    fs::write(&path, changed).expect("written");
}

fn json(out: &[u8]) -> Value {
    serde_json::from_slice(out).unwrap_or_else(|e| panic!("{e}: {}", String::from_utf8_lossy(out)))
}

/// All files below a folder with their bytes.
fn files(folder: &Path) -> BTreeMap<String, Vec<u8>> {
    fn walk(root: &Path, dir: &Path, all: &mut BTreeMap<String, Vec<u8>>) {
        for entry in fs::read_dir(dir).expect("a folder") {
            let path = entry.expect("an entry").path();
            if path.is_dir() {
                walk(root, &path, all);
            } else {
                let name = path.strip_prefix(root).expect("below").to_string_lossy().into_owned();
                all.insert(name, fs::read(&path).expect("bytes"));
            }
        }
    }
    let mut all = BTreeMap::new();
    walk(folder, folder, &mut all);
    all
}

#[test]
fn a_new_job_runs_as_it_is_and_twice_alike() {
    let (dir, job) = started();
    frusta().arg("check").arg(&job).assert().code(0).stdout("").stderr(contains("is sound"));
    let made = frusta().arg("make").arg(&job).assert().code(0);
    let listed = String::from_utf8(made.get_output().stdout.clone()).expect("text");
    let kit = files(&job.join("kit"));
    for line in listed.lines() {
        assert!(kit.contains_key(line), "{line} is listed and lies there");
    }
    assert_eq!(listed.lines().count() + 1, kit.len(), "and its own list");
    assert!(kit.keys().any(|k| k.starts_with("cut")) && kit.contains_key("manifest.json"));
    let again = dir.path().join("again");
    frusta()
        .args(["make", "--quiet", "--out"])
        .arg(&again)
        .arg(job.join("job.toml"))
        .assert()
        .code(0)
        .stderr("");
    assert_eq!(kit, files(&again), "same job, same bytes");
}

#[test]
fn new_writes_over_nothing() {
    let (_dir, job) = started();
    change(&job, |t| t.replace("seed = 1", "seed = 2"));
    let before = files(&job);
    frusta().arg("new").arg(&job).assert().code(3).stdout("").stderr(contains("it is there already"));
    fs::remove_file(job.join("job.toml")).expect("removed");
    // The drawing is in the way now: the job file goes again, half a job is none.
    frusta().arg("new").arg(&job).assert().code(3).stderr(contains("pear.svg"));
    assert!(!job.join("job.toml").exists());
    assert_eq!(files(&job)["art/pear.svg"], before["art/pear.svg"]);
}

/// The discs of a film test: areas by usvg's own parser are those of circles, and nothing that is there is written over.
#[test]
fn a_film_test_is_ten_discs_and_two_pages() {
    let folder = tempfile::tempdir().expect("a folder");
    let test = |code: i32| frusta().arg("new").arg(folder.path()).arg("--film-test").assert().code(code);
    test(0);
    let text = std::fs::read_to_string(folder.path().join("film-test.svg")).expect("the discs");
    let tree = usvg::Tree::from_str(&text, &usvg::Options::default()).expect("SVG");
    fn discs(g: &usvg::Group, out: &mut Vec<f32>) {
        for node in g.children() {
            let usvg::Node::Group(g) = node else { continue };
            match g.id().starts_with("disc-") {
                true => out.push(g.abs_bounding_box().width() * 25.4 / 96.0),
                false => discs(g, out),
            }
        }
    }
    let mut boxes = Vec::new();
    discs(tree.root(), &mut boxes);
    let asked = [60.0, 55.0, 50.0, 45.0, 40.0, 35.0, 30.0, 25.0, 20.0, 15.0];
    assert_eq!(boxes.len(), 10);
    assert!(boxes.iter().zip(asked).all(|(b, a)| (b - a).abs() < 1e-3), "{boxes:?}");
    for page in ["film-test-a4.pdf", "film-test-letter.pdf"] {
        assert!(std::fs::read(folder.path().join(page)).expect("a page").starts_with(b"%PDF"));
    }
    test(3).stderr(contains("it is there already"));
}

#[test]
fn measure_says_the_cup_in_words_and_in_json() {
    let (_dir, job) = started();
    frusta()
        .arg("measure")
        .arg(&job)
        .assert()
        .code(0)
        .stderr("")
        .stdout(contains("24.48 degrees").and(contains("550.0 mm")).and(contains("440.0 mm")));
    let out = frusta()
        .args(["--json", "measure"])
        .arg(&job)
        .assert()
        .code(0)
        .stderr("")
        .get_output()
        .stdout
        .clone();
    let v = json(&out);
    assert_eq!(v["done"], true);
    assert_eq!(v["exit"], 0);
    let sweep = (235.0f64 - 188.0) / 110.0;
    assert!((v["wrap"]["sweep_deg"].as_f64().expect("a number") - sweep.to_degrees()).abs() < 1e-3);
    assert!((v["wrap"]["rim_radius_mm"].as_f64().expect("a number") - 235.0 / sweep).abs() < 1e-2);
    assert_eq!(v["readings"]["rings"].as_array().expect("a list").len(), 2);
    assert_eq!(v["readings"]["taper"], "wider-at-rim");
    change(&job, |t| {
        t.replace("unit = \"mm\"", "unit = \"in\"")
            .replace("up = 110, girth = 235", "up = \"110 mm\", girth = \"235 mm\"")
            .replace("girth = 188", "girth = \"188 mm\"")
            .replace("wall = 110", "wall = \"110 mm\"")
            .replace("tape = 0.5", "tape = 0.02")
            .replace("rim = 20, base = 6", "rim = 0.8, base = 0.25")
            .replace("sheet = [200, 150]", "sheet = [8, 6]")
            .replace("margin = 5", "margin = 0.2")
            .replace("spacing = 2", "spacing = 0.1")
            .replace("weed = 0.8", "weed = 0.03")
            .replace("height = 30", "height = 1.2")
            .replace("clearance = 3", "clearance = 0.1")
            .replace("smallest = 6", "smallest = 0.3")
            .replace("largest = 12", "largest = 0.5")
            .replace("gap = 4", "gap = 0.2")
    });
    // 235 mm / 25.4 = 9.25 in.
    frusta().arg("measure").arg(&job).assert().code(0).stdout(contains("9 1/4 in round"));
}

/// A wall with a foot: refused by `make` and `check`; `measure` shows the figures, and promises no less than
/// they show.
#[test]
fn a_wall_that_no_cone_fits_is_refused_and_still_measured() {
    let (_dir, job) = started();
    change(&job, |t| {
        t.replace("  { up = 110, girth = 235 },", "  { up = 20, girth = 212 },\n  { up = 110, girth = 220 },")
    });
    for command in ["make", "check"] {
        frusta()
            .arg(command)
            .arg(&job)
            .assert()
            .code(1)
            .stderr(contains("no cone fits").and(contains("straight")));
    }
    assert!(!job.join("kit").exists());
    let out = frusta().args(["--json", "measure"]).arg(&job).assert().code(1).get_output().stdout.clone();
    let r = &json(&out)["readings"];
    let worst = |k: &str| r[k].as_f64().expect("a number");
    for ring in r["rings"].as_array().expect("a list") {
        let off = ring["off_mm"].as_f64().expect("a number").abs();
        assert!(worst("worst_gap_at_rim_mm") >= off && worst("worst_gap_at_base_mm") >= off);
    }
    assert_eq!(r["bow"]["no_cone"], true);
}

/// Rim and base swapped: each command says so.
#[test]
fn a_rim_narrower_than_the_base_is_said_by_every_command() {
    let (_dir, job) = started();
    change(&job, |t| t.replace("girth = 188", "girth = 236").replace("girth = 235", "girth = 188"));
    for command in ["measure", "check", "make"] {
        frusta().arg(command).arg(&job).assert().stderr(contains("the rim is narrower than the base"));
    }
}

#[test]
fn all_faults_come_at_once_each_at_its_place_and_nothing_is_written() {
    let (_dir, job) = started();
    change(&job, |t| {
        t.replace("spacing = 2 ", "spacing = \"2 furlongs\" ").replace("clearance = 3", "clearence = 3")
    });
    let before = files(&job);
    let place = |what: &str| {
        let text = String::from_utf8(before["job.toml"].clone()).expect("text");
        let at = text.find(what).expect("it is there");
        let line = text[..at].matches('\n').count() + 1;
        (line, at - text[..at].rfind('\n').map_or(0, |n| n + 1) + 1)
    };
    let (furlongs, clearence) = (place("\"2 furlongs\""), place("clearence"));
    // The cup is sound, so what its readings are worth is told all the same.
    frusta()
        .arg("measure")
        .arg(&job)
        .assert()
        .code(0)
        .stdout(contains("24.48 degrees"))
        .stderr(contains("note[job/rest-at-fault]").and(contains("2 faults")));
    for command in ["check", "make"] {
        frusta()
            .arg(command)
            .arg(&job)
            .assert()
            .code(1)
            .stdout("")
            .stderr(contains(format!("job.toml:{}:{}", furlongs.0, furlongs.1)))
            .stderr(contains(format!("job.toml:{}:{}", clearence.0, clearence.1)))
            .stderr(contains("fault[job/unknown-key]").and(contains("mend")).and(contains("2 faults")))
            .stderr(contains("\x1b").not());
    }
    assert_eq!(files(&job), before);
    let v =
        json(&frusta().args(["check", "--json"]).arg(&job).assert().code(1).stderr("").get_output().stdout);
    assert_eq!((&v["done"], &v["exit"]), (&Value::from(false), &Value::from(1)));
    let diagnostics = v["found"].as_array().expect("a list");
    assert_eq!(diagnostics.len(), 2);
    for d in diagnostics {
        for key in ["severity", "code", "at", "says", "mend", "line", "column"] {
            assert!(!d[key].is_null(), "{key} of {d}");
        }
    }
    assert_eq!(diagnostics[0]["line"], furlongs.0);
    assert_eq!(diagnostics[0]["column"], furlongs.1);
    assert_eq!(diagnostics[1]["code"], "job/unknown-key");
}

#[test]
fn faults_of_the_stages_point_into_the_job_too() {
    let (_dir, job) = started();
    change(&job, |t| t.replace("art/pear.svg", "art/plum.svg"));
    frusta()
        .arg("check")
        .arg(&job)
        .assert()
        .code(1)
        .stderr(contains("job/file-missing").and(contains("\"art/plum.svg\"")).and(contains("job.toml:")));
    // Deep nesting would overflow an ordinary stack; it is refused, not a crash.
    let deep = format!(
        "<svg xmlns='http://www.w3.org/2000/svg' viewBox='0 0 9 9'>{}<path d='M1,1H8V8Z'/>{}</svg>",
        "<g>".repeat(900),
        "</g>".repeat(900)
    );
    fs::write(job.join("art/plum.svg"), deep).expect("written");
    let code = frusta().arg("check").arg(&job).assert().get_output().status.code();
    assert!(matches!(code, Some(0 | 1)), "{code:?}");
}

#[test]
fn files_that_cannot_be_read_are_code_3_and_what_is_no_text_is_code_1() {
    let (dir, job) = started();
    frusta().args(["check", "no/such/job.toml"]).assert().code(3).stdout("").stderr(contains("no such file"));
    frusta()
        .arg("make")
        .arg(dir.path())
        .assert()
        .code(3)
        .stderr(contains("job.toml").and(contains("no such file")));
    fs::rename(job.join("job.toml"), job.join("pears.toml")).expect("renamed");
    frusta()
        .arg("make")
        .arg(job.join("jop.toml"))
        .assert()
        .code(3)
        .stderr(contains("did you mean").and(contains("pears.toml")));
    fs::create_dir(job.join("job.toml")).expect("a folder");
    frusta().arg("make").arg(&job).assert().code(3).stderr(contains("no ordinary file"));
    let v =
        json(&frusta().args(["make", "--json", "nowhere"]).assert().code(3).stderr("").get_output().stdout);
    assert_eq!((&v["exit"], &v["found"][0]["code"]), (&Value::from(3), &Value::from("files/cannot-read")));
    let latin = job.join("latin.toml");
    fs::write(&latin, b"title = \"Fair\"\nunit = \"m\xfcm\"\n").expect("written");
    frusta()
        .arg("check")
        .arg(&latin)
        .assert()
        .code(1)
        .stderr(contains("latin.toml:2:10").and(contains("0xfc")));
    fs::write(&latin, vec![b'#'; 2 << 20]).expect("written");
    frusta().arg("check").arg(&latin).assert().code(1).stderr(contains("job/too-large"));
    fs::write(&latin, b"").expect("written");
    frusta().arg("check").arg(&latin).assert().code(1).stderr(contains("job/missing-key"));
}

#[test]
fn what_is_not_understood_is_code_2() {
    for args in [
        &[][..],
        &["mkae"],
        &["make"],
        &["make", "a", "--effort", "heroic"],
        &["make", "a", "-q", "-v"],
        &["completions", "abacus"],
    ] {
        frusta().args(args).assert().code(2).stdout("").stderr(contains("--help"));
    }
    let v = json(&frusta().args(["mkae", "--json"]).assert().code(2).stderr("").get_output().stdout);
    assert_eq!(
        (&v["done"], &v["found"][0]["code"]),
        (&Value::from(false), &Value::from("usage/not-understood"))
    );
    let (dir, job) = started();
    for out in [&job, &dir.path().to_owned(), &job.join("art/..")] {
        for force in [&[][..], &["--force"]] {
            let before = files(dir.path());
            frusta()
                .arg("make")
                .arg(&job)
                .arg("--out")
                .arg(out)
                .args(force)
                .assert()
                .code(2)
                .stderr(contains("the job lies in it"));
            assert_eq!(files(dir.path()), before);
        }
    }
    frusta().arg("--help").assert().code(0).stderr("").stdout(contains("measure"));
    frusta().arg("--version").assert().code(0).stdout(contains(env!("CARGO_PKG_VERSION")));
}

#[test]
fn explain_tells_every_code_and_guesses_at_others() {
    frusta().args(["explain", "cup/unit-slip"]).assert().code(0).stderr("").stdout(contains("25.4"));
    frusta()
        .args(["explain", "unit-slip"])
        .assert()
        .code(2)
        .stdout("")
        .stderr(contains("did you mean cup/unit-slip?"));
    frusta().args(["explain", "xyzzy"]).assert().code(2).stderr(contains("lists all codes"));
    let all = json(&frusta().args(["explain", "--json"]).assert().code(0).get_output().stdout);
    let all = all.as_array().expect("a list");
    assert!(all.len() > 50);
    let list = String::from_utf8(frusta().arg("explain").assert().code(0).get_output().stdout.clone())
        .expect("text");
    assert_eq!(list.lines().count(), all.len());
    for code in all {
        let id = code["code"].as_str().expect("an id");
        assert!(list.lines().any(|l| l.split_whitespace().next() == Some(id)), "{id}");
    }
}

#[test]
fn completions_are_scripts_that_name_the_commands() {
    for shell in ["bash", "zsh", "fish", "elvish", "powershell"] {
        frusta()
            .args(["completions", shell])
            .assert()
            .code(0)
            .stderr("")
            .stdout(contains("measure").and(contains("dry-run")));
    }
    let script = frusta().args(["completions", "bash"]).output().expect("runs").stdout;
    Command::new("bash").arg("-n").write_stdin(script).assert().success();
}

#[test]
fn a_dry_run_says_all_and_writes_nothing() {
    let (_dir, job) = small();
    let before = files(&job);
    let dry = frusta().args(["make", "-n"]).arg(&job).assert().code(0).stderr(contains("would go to"));
    assert_eq!(files(&job), before);
    frusta().arg("make").arg(&job).assert().code(0).stdout(dry.get_output().stdout.clone());
    let v = json(
        &frusta().args(["make", "--json", "-n"]).arg(&job).assert().code(0).stderr("").get_output().stdout,
    );
    assert_eq!(v["kit"]["written"], false);
    assert_eq!(v["plan"]["pieces"], 5);
    assert_eq!(v["verified"]["pieces_on_wall"], 5);
    let listed = v["kit"]["files"].as_array().expect("a list");
    for file in listed {
        let path = job.join("kit").join(file["path"].as_str().expect("a path"));
        assert_eq!(
            fs::metadata(&path).expect("it lies there").len(),
            file["bytes"].as_u64().expect("a number")
        );
    }
}

#[test]
fn verbose_says_the_time_stage_by_stage_and_the_same_kit_comes_of_it() {
    let (_dir, job) = small();
    let plain = frusta().arg("make").arg(&job).assert().code(0).get_output().stdout.clone();
    assert!(!plain.is_empty());
    frusta().args(["make", "-q"]).arg(&job).assert().code(0).stderr("").stdout("");
    let before = files(&job.join("kit"));
    let times = predicate::str::is_match("(?m)^ +motifs  [0-9]+\\.[0-9]{3} s$").expect("a pattern");
    frusta()
        .args(["make", "-v"])
        .arg(&job)
        .assert()
        .code(0)
        .stdout(plain)
        .stderr(times.and(contains("verify")).and(contains("write")));
    assert_eq!(files(&job.join("kit")), before);
    for effort in ["quick", "thorough"] {
        frusta().args(["check", "--effort", effort]).arg(&job).assert().code(0);
    }
}

#[test]
fn files_of_the_maker_are_kept() {
    let (_dir, job) = small();
    let kit = job.join("kit");
    frusta().arg("make").arg(&job).assert().code(0);
    fs::write(kit.join("cut/notes.txt"), "mine").expect("written");
    fs::write(kit.join("manifest.json"), "changed").expect("written");
    let before = files(&kit);
    frusta().arg("make").arg(&job).assert().code(3).stdout("").stderr(
        contains("cut/notes.txt, manifest.json").and(contains("--force")).and(contains("files/not-the-kits")),
    );
    assert_eq!(files(&kit), before);
    frusta().args(["make", "--force"]).arg(&job).assert().code(0);
    let after = files(&kit);
    assert_eq!(after["cut/notes.txt"], b"mine", "files with names of their own stay");
    assert_ne!(after["manifest.json"], b"changed", "the kit's own are written over");
    let file = job.join("file");
    fs::write(&file, "mine").expect("written");
    for force in [&[][..], &["--force"]] {
        frusta().arg("make").arg(&job).arg("--out").arg(&file).args(force).assert().code(3);
        assert_eq!(fs::read(&file).expect("it lies there"), b"mine");
    }
}

#[cfg(unix)]
#[test]
fn a_closed_pipe_is_no_error() {
    let (_dir, job) = small();
    for args in [
        &["explain"][..],
        &["completions", "bash"],
        &["--help"],
        &["make"],
        &["measure"],
        &["make", "--json"],
    ] {
        let (reader, writer) = std::io::pipe().expect("a pipe");
        drop(reader);
        let mut command = process::Command::new(env!("CARGO_BIN_EXE_frusta"));
        command.args(args).stdout(writer).stderr(Stdio::piped());
        if args[0] == "make" || args[0] == "measure" {
            command.arg(&job);
        }
        let out = command.spawn().expect("runs").wait_with_output().expect("ends");
        let words = String::from_utf8_lossy(&out.stderr).into_owned();
        assert_eq!(out.status.code(), Some(0), "{args:?}: {words}");
        assert!(!words.contains("panicked"), "{words}");
    }
    assert!(job.join("kit/manifest.json").exists(), "the kit is written, read or not");
    // Standard error may be closed as well.
    let (reader, writer) = std::io::pipe().expect("a pipe");
    drop(reader);
    let mut command = process::Command::new(env!("CARGO_BIN_EXE_frusta"));
    let status = command.args(["check", "nowhere"]).stderr(writer).status().expect("runs");
    assert_eq!(status.code(), Some(3));
}

#[cfg(target_os = "linux")]
#[test]
fn a_full_disk_behind_standard_output_is_code_3() {
    let (_dir, job) = small();
    for args in [&["explain"][..], &["--help"], &["measure"]] {
        let full = fs::OpenOptions::new().write(true).open("/dev/full").expect("the full device");
        let mut command = process::Command::new(env!("CARGO_BIN_EXE_frusta"));
        command.args(args).stdout(full).stderr(Stdio::piped());
        if args[0] == "measure" {
            command.arg(&job);
        }
        let out = command.spawn().expect("runs").wait_with_output().expect("ends");
        assert_eq!(out.status.code(), Some(3), "{args:?}");
        assert!(String::from_utf8_lossy(&out.stderr).contains("the disk is full"));
    }
}

/// A small disk of memory; only root may mount one.
#[cfg(target_os = "linux")]
struct Disk(TempDir);

#[cfg(target_os = "linux")]
impl Disk {
    fn mount() -> Option<Disk> {
        let dir = tempfile::tempdir().expect("a folder");
        let mounted = process::Command::new("mount")
            .args(["-t", "tmpfs", "-o", "size=8m", "tmpfs"])
            .arg(dir.path())
            .stderr(Stdio::null())
            .status()
            .is_ok_and(|s| s.success());
        if !mounted {
            eprintln!("SKIPPED: mounting a small disk needs root");
        }
        mounted.then(|| Disk(dir))
    }
}

#[cfg(target_os = "linux")]
impl Drop for Disk {
    fn drop(&mut self) {
        let _ = process::Command::new("umount").arg(self.0.path()).status();
    }
}

#[cfg(target_os = "linux")]
#[test]
fn a_full_or_read_only_disk_is_code_3_and_leaves_the_old_kit() {
    let (_dir, job) = small();
    let Some(disk) = Disk::mount() else { return };
    let out = disk.0.path().join("kit");
    frusta().arg("make").arg(&job).arg("--out").arg(&out).assert().code(0);
    let before = files(&out);
    change(&job, |t| t.replace("seed = 1", "seed = 2"));
    let filler = disk.0.path().join("filler");
    let _ = fs::write(&filler, vec![0u8; 8 << 20]).expect_err("the disk is small");
    frusta()
        .arg("make")
        .arg(&job)
        .arg("--out")
        .arg(&out)
        .assert()
        .code(3)
        .stdout("")
        .stderr(contains("the disk is full").and(contains("the kit that was there")));
    assert_eq!(files(&out), before);
    assert_eq!(fs::read_dir(disk.0.path()).expect("a folder").count(), 2, "nothing half-written is left");
    frusta().arg("new").arg(disk.0.path().join("job")).assert().code(3).stderr(contains("the disk is full"));
    fs::remove_file(&filler).expect("removed");
    let remount = |how: &str| {
        let mut mount = process::Command::new("mount");
        assert!(mount.args(["-o", how]).arg(disk.0.path()).status().expect("mount").success());
    };
    remount("remount,ro");
    frusta()
        .arg("make")
        .arg(&job)
        .arg("--out")
        .arg(&out)
        .assert()
        .code(3)
        .stderr(contains("the disk is read-only"));
    assert_eq!(files(&out), before);
    remount("remount,rw");
    frusta().arg("make").arg(&job).arg("--out").arg(&out).assert().code(0);
    assert_ne!(files(&out), before);
}

/// Killed at many moments of the writing, old or new stands whole, and the next run mends what is left.
#[cfg(unix)]
#[test]
fn a_kill_while_writing_leaves_a_whole_kit() {
    let (dir, job) = small();
    let make = |out: &Path| {
        frusta().args(["make", "-q", "--effort", "quick"]).arg(&job).arg("--out").arg(out).assert().code(0)
    };
    let (first, second, out) = (dir.path().join("first"), dir.path().join("second"), dir.path().join("kit"));
    make(&first);
    make(&out);
    change(&job, |t| t.replace("seed = 1", "seed = 2"));
    make(&second);
    let (first, second) = (files(&first), files(&second));
    assert_ne!(first, second);
    let (part, old) = (dir.path().join(".kit.frusta-part"), dir.path().join(".kit.frusta-old"));
    let mut mid_way = 0;
    for i in 0..10 {
        let mut child = process::Command::new(env!("CARGO_BIN_EXE_frusta"))
            .args(["make", "-q", "--effort", "quick"])
            .arg(&job)
            .arg("--out")
            .arg(&out)
            .stdout(Stdio::null())
            .spawn()
            .expect("runs");
        while !part.exists() && child.try_wait().expect("asked").is_none() {
            std::thread::sleep(std::time::Duration::from_micros(50));
        }
        std::thread::sleep(std::time::Duration::from_micros(i * 300));
        child.kill().expect("killed");
        child.wait().expect("ended");
        mid_way += usize::from(part.exists());
        let stands = if out.exists() { &out } else { &old };
        let now = files(stands);
        assert!(now == first || now == second, "kill {i} left {:?}", now.keys());
    }
    assert!(mid_way > 0, "some kill came while the kit was written");
    make(&out);
    assert_eq!(files(&out), second);
    assert!(!part.exists() && !old.exists());
}

/// Ctrl-C while film is searched keeps the best layout so far; at another moment it leaves, and writes
/// nothing.
#[cfg(unix)]
#[test]
fn an_interrupt_of_the_film_search_keeps_the_best_so_far() {
    use std::io::{BufRead, BufReader, Read};
    let (_dir, job) = started();
    // Many small pieces on small sheets: a search that takes a while.
    change(&job, |t| {
        t.replace("sheet = [200, 150]", "sheet = [85, 70]")
            .replace("height = 30", "height = 24")
            .replace("\"pebble\", \"seed\"", "\"pebble\"")
            .replace("smallest = 6", "smallest = 3")
            .replace("largest = 12", "largest = 5")
            .replace("gap = 4", "gap = 1")
    });
    for _ in 0..20 {
        let mut child = process::Command::new(env!("CARGO_BIN_EXE_frusta"))
            .args(["make", "-v", "--effort", "thorough"])
            .arg(&job)
            .stdout(Stdio::null())
            .stderr(Stdio::piped())
            .spawn()
            .expect("runs");
        let mut words = BufReader::new(child.stderr.take().expect("piped"));
        let mut said = String::new();
        while !said.contains("weed  ") && words.read_line(&mut said).expect("text") > 0 {}
        process::Command::new("kill").args(["-INT", &child.id().to_string()]).status().expect("sent");
        words.read_to_string(&mut said).expect("text");
        let code = child.wait().expect("ends").code();
        if code == Some(0) {
            assert!(said.contains("stopping the film search"), "{said}");
            assert!(job.join("kit/manifest.json").exists());
            return;
        }
        // The signal came after the search.
        assert!(code == Some(130) && said.contains("nothing was written"), "{code:?} {said}");
        assert!(!job.join("kit").exists());
    }
    panic!("no signal of twenty came while film was searched");
}

/// Colour on a terminal only, and not there either when NO_COLOR asks for none.
#[cfg(target_os = "linux")]
#[test]
fn colour_is_for_terminals_that_want_it() {
    let (_dir, job) = started();
    change(&job, |t| t.replace("seed = 1", "sead = 1"));
    let on_terminal = |set: &str| {
        let command = format!("{set} {} check {}", env!("CARGO_BIN_EXE_frusta"), job.display());
        let script = process::Command::new("script")
            .args(["-qec", &command, "/dev/null"])
            .env("TERM", "xterm")
            .env_remove("NO_COLOR")
            .stdin(Stdio::null())
            .output();
        script.ok().map(|o| String::from_utf8_lossy(&o.stdout).into_owned())
    };
    let Some(coloured) = on_terminal("") else {
        eprintln!("SKIPPED: no `script` to lend a terminal");
        return;
    };
    assert!(coloured.contains("job/unknown-key") && coloured.contains("\x1b["), "{coloured:?}");
    let plain = on_terminal("NO_COLOR=1").expect("a terminal");
    assert!(plain.contains("job/unknown-key") && !plain.contains("\x1b["), "{plain:?}");
}

/// `template` needs no job: what the readings are is found out where only one kind makes a cup, and asked
/// where both do.
#[test]
fn a_template_from_one_line_of_readings() {
    let dir = tempfile::tempdir().expect("a folder");
    let run = |args: &[&str]| {
        let mut command = frusta();
        command.current_dir(dir.path()).arg("template").args(args);
        command.assert()
    };
    let tall = ["--wall", "165", "--papers", "a4"];
    run(&[&["--rim", "86", "--base", "66"], &tall[..]].concat()).success().stderr(contains("diameters"));
    let made = files(&dir.path().join("template"));
    assert!(made.contains_key("wrap.svg") && made.contains_key("wrap-a4.pdf"), "{:?}", made.keys());
    let out =
        run(&[&["--rim", "270.18", "--base", "207.35", "--out", "girths", "--json"], &tall[..]].concat());
    assert_eq!(json(&out.success().get_output().stdout)["readings"], "girths");
    // pi times 86 and 66 mm, to a hundredth: the same template but for the last digits of its figures.
    let inch = ["--rim", "3 3/8 in", "--base", "2 5/8 in", "--height", "6 1/2 in", "--out", "inches"];
    run(&inch).success().stderr(contains("diameters"));
    run(&["--rim", "100", "--base", "90", "--wall", "80", "--out", "x"])
        .code(2)
        .stderr(contains("--girths or --diameters"));
    run(&["--rim", "100", "--base", "90", "--wall", "80", "--out", "x", "--diameters"]).success();
    run(&["--rim", "wide", "--base", "90", "--wall", "80", "--out", "y"])
        .code(1)
        .stderr(contains("no length"));
    assert!(!dir.path().join("y").exists());
    fs::write(dir.path().join("template/mine.txt"), "mine").expect("written");
    run(&[&["--rim", "86", "--base", "66"], &tall[..]].concat()).code(3).stderr(contains("mine.txt"));
}

/// A job that cuts nothing needs no film: its kit is the template and the papers.
#[test]
fn a_job_that_cuts_nothing_needs_no_film() {
    let dir = tempfile::tempdir().expect("a folder");
    let text = "[cup]\nrings = [{ up = 0, girth = 207 }, { up = 165, girth = 270 }]\nwall = 165\n";
    fs::write(dir.path().join("job.toml"), text).expect("written");
    frusta().arg("make").arg(dir.path()).assert().success();
    assert!(files(&dir.path().join("kit")).contains_key("template/wrap.svg"));
    fs::write(dir.path().join("job.toml"), format!("{text}[[motif]]\nart = \"a.svg\"\nfilm = \"a\"\n"))
        .expect("written");
    frusta().arg("check").arg(dir.path()).assert().code(1).stderr(contains("film"));
}
