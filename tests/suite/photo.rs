//! The wall from a photograph, from the picture to the kit: `frusta measure --photo`, what it saves, what the job makes
//! of it.
//!
//! The picture is a ray tracer's (`tests/outside/photo.py --draw`, POV-Ray): the parabola through the readings of
//! demo-data/barrel-cup, seen from 600 mm. The truth is that parabola, here by Lagrange's formula through three of
//! numpy's values.

use assert_cmd::Command;
use frusta::base::diag::Diagnostics;
use frusta::make::cup::{Cup, fit};
use frusta::read_job;
use std::fs;

/// numpy.polyfit(up, girth, 2) of the six readings (repeats by their mean), at 0, 70 and 140 mm.
const KNOWN: [(f64, f64); 3] = [(0.0, 215.7148), (70.0, 240.74), (140.0, 220.5907)];

fn truth(s: f64) -> f64 {
    let [(a, x), (b, y), (c, z)] = KNOWN;
    x * (s - b) * (s - c) / ((a - b) * (a - c))
        + y * (s - a) * (s - c) / ((b - a) * (b - c))
        + z * (s - a) * (s - b) / ((c - a) * (c - b))
}

struct Ran {
    code: i32,
    stdout: String,
    stderr: String,
}

fn frusta(args: &[&str]) -> Ran {
    let mut command = Command::new(env!("CARGO_BIN_EXE_frusta"));
    let run = command.args(args).env("NO_COLOR", "1").output().expect("runs");
    let text = |bytes: &[u8]| String::from_utf8_lossy(bytes).into_owned();
    Ran { code: run.status.code().unwrap_or(-1), stdout: text(&run.stdout), stderr: text(&run.stderr) }
}

fn picture() -> String {
    format!("{}/demo-data/barrel-cup/side.jpg", env!("CARGO_MANIFEST_DIR"))
}

/// Two rings, read nearly without error.
fn job(more: &str) -> String {
    format!(
        "# two rings\n[cup]\nrings = [{{ up = 7, girth = {:.3} }}, {{ up = 133, girth = {:.3} }}]\nwall = 140 # mm\n\
         tape = 0.05\n{more}[[film]]\nname = \"blue\"\nsheet = [200, 150]\n",
        truth(7.0),
        truth(133.0)
    )
}

fn fitted(text: &str) -> (Cup, Vec<String>) {
    let read = read_job(text);
    let spec = read.cup.unwrap_or_else(|| panic!("{:#?}", read.diagnostics)).0;
    let mut said = Diagnostics::new();
    let cup = fit(&spec, &mut said).expect("fits");
    (cup, said.iter().map(|d| d.code.id.to_owned()).collect())
}

/// Two rings and a picture: the job keeps what was seen, its own text unchanged; with `curved = true` the wall is the
/// barrel within .3 mm of girth everywhere (six readings by tape give 1.2).
#[test]
fn a_picture_and_two_rings_are_a_barrel() {
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("job.toml");
    fs::write(&path, job("")).expect("writes");
    let drawn = folder.path().join("outline.svg");
    let named = path.display().to_string();
    let drawn_to = drawn.display().to_string();
    let run = frusta(&[
        "measure",
        &named,
        "--photo",
        &picture(),
        "--distance",
        "600",
        "--drawn",
        &drawn_to,
        "--save",
        "--json",
    ]);
    assert_eq!(run.code, 0, "{}", run.stderr);
    let told: serde_json::Value = serde_json::from_str(&run.stdout).expect("JSON");
    assert_eq!(told["saved"], true);
    for p in told["outline"]["points"].as_array().expect("points") {
        let (up, girth) = (p["up_mm"].as_f64().expect("number"), p["girth_mm"].as_f64().expect("number"));
        assert!((girth - truth(up)).abs() < 0.3, "{up} {girth} {}", truth(up));
    }
    let text = fs::read_to_string(&path).expect("reads");
    assert!(text.starts_with(&job("")) && text.contains("[[cup.outline]]\npicture = \"side.jpg\""), "{text}");
    assert!(fs::read_to_string(&drawn).expect("drawn").matches("<polyline").count() == 6);
    // Not said to be curved, the wall is told to be none that a cone is.
    let (cup, said) = fitted(&text);
    assert!(cup.is_cone() && said.contains(&"cup/outline-bowed".to_owned()), "{said:?}");
    let (cup, said) = fitted(&text.replace("wall = 140", "curved = true\nwall = 140"));
    assert!(cup.is_curved() && said.is_empty(), "{said:?}");
    let profile = &cup.readings.curve.as_ref().expect("a curve").profile_mm;
    let worst = profile.iter().map(|[s, g]| (g - truth(*s)).abs()).fold(0.0, f64::max);
    assert!(worst < 0.3, "{worst}");
    // What is told holds what is.
    assert!(cup.readings.rim.0 > 0.1 && cup.readings.base.0 > 0.1);
}

/// What is wrong is told, and nothing is written then.
#[test]
fn what_cannot_be_read_is_told_and_the_job_stays() {
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("job.toml");
    fs::write(&path, job("")).expect("writes");
    let named = path.display().to_string();
    let told = |more: &[&str], code: i32| {
        let all: Vec<&str> = ["measure", &named, "--save"].into_iter().chain(more.iter().copied()).collect();
        let run = frusta(&all);
        assert_eq!(run.code, code, "{more:?} {}", run.stderr);
        assert_eq!(fs::read_to_string(&path).expect("reads"), job(""));
        run.stderr
    };
    let photo = picture();
    assert!(told(&["--photo", &photo, "--distance", "far"], 2).contains("--distance"));
    assert!(told(&["--photo", &photo, "--distance", "20"], 2).contains("150 to 5000 mm"));
    assert!(told(&["--photo", "none.jpg", "--distance", "600"], 3).contains("none.jpg"));
    assert!(told(&["--photo", &named, "--distance", "600"], 1).contains("picture/unreadable"));
    assert!(told(&["--photo", &photo, "--distance", "600", "--above", "20"], 1).contains("photo/disagrees"));
    told(&["--photo", &photo], 2);
}

/// Outlines that do not go with their wall, each with its place.
#[test]
fn outlines_that_cannot_be_are_told() {
    let told = |points: &str, more: &str| {
        let text = job("") + &format!("[[cup.outline]]\npoints = [{points}]\n{more}");
        let all: Vec<String> = read_job(&text).diagnostics.iter().map(ToString::to_string).collect();
        all.join("\n")
    };
    let at = |ups: &[f64]| {
        let all: Vec<String> =
            ups.iter().map(|u| format!("{{ up = {u}, girth = {:.2} }}", truth(*u))).collect();
        all.join(", ")
    };
    assert!(!told(&at(&[7.0, 40.0, 70.0, 100.0, 133.0]), "").contains("fault"));
    let few = told(&at(&[7.0, 70.0, 133.0]), "");
    assert!(few.contains("cup.outline[0].points") && few.contains('5'), "{few}");
    let order = told(&at(&[7.0, 40.0, 40.0, 100.0, 133.0]), "");
    assert!(order.contains("cup.outline[0].points[2].up"), "{order}");
    let high = told(&at(&[7.0, 40.0, 70.0, 100.0, 170.0]), "");
    assert!(high.contains("cup.outline[0].points[4].up") && high.contains("140 mm"), "{high}");
    let short = told(&at(&[7.0, 20.0, 30.0, 40.0, 50.0]), "");
    assert!(short.contains("spans too little"), "{short}");
    let wild = told(&at(&[7.0, 40.0, 70.0, 100.0, 133.0]), "strays = 50\n");
    assert!(wild.contains("cup.outline[0].strays"), "{wild}");
}
