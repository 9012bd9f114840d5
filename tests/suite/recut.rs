//! Pieces cut anew: the outlines of the kit's own files, and nothing else touched.
//!
//! Truth: the plan that the kit was written from; the files as they were.

use frusta::base::diag::Diagnostics;
use frusta::make::film::again::Recut;
use frusta::make::verify::VerifiedRecut;
use frusta::read::record::KitRecord;
use frusta::{Effort, InMemory, Materials, kit, make, read_job, verify};
use std::collections::BTreeMap;
use std::fs;
use std::ops::ControlFlow;
use std::process::Command;

const JOB: &str = r#"
[cup]
rings = [{ up = 0, girth = 200 }, { up = 100, girth = 240 }]
wall = 100
[[film]]
name = "blue"
sheet = [200, 150]
mirrored = true
cutter = { overcut = 0.35 }
[[film]]
name = "gold"
roll = 300
grain = "half"
[[motif]]
art = "ring.svg"
width = 20
film = "blue"
poses = [{ azimuth = 120, up = 40 }, { azimuth = 200, up = 60, turn = 33 }]
[[decal]]
text = "pears"
font = "Fredoka One"
width = 50
up = "centred"
layers = [{ film = "gold", offset = 2 }, { film = "blue" }]
"#;
const RING: &str = r#"<svg xmlns="http://www.w3.org/2000/svg" width="20mm" height="20mm" viewBox="0 0 20 20"><path fill-rule="evenodd" d="M0 10C0 2 6 0 10 0C16 0 20 4 20 10C20 16 14 20 10 20C4 20 0 14 0 10ZM6 9L14 8L11 15Z"/></svg>"#;

/// Outlines as the files hold them against those of the plan: equal but for what three decimals round off,
/// half a thousandth a point, mirrored film, blades that run on and keys included.
#[test]
fn the_record_holds_the_outlines_that_were_planned() {
    let files = InMemory([("ring.svg".to_string(), RING.as_bytes().to_vec())].into());
    let job = read_job(JOB).job.expect("a sound job");
    let materials = Materials::read(&job, &files);
    let mut told = Diagnostics::new();
    let go_on = &mut |_| ControlFlow::Continue(());
    let plan = make::plan::run(&job, &materials, Effort::default(), &mut told, go_on).expect("a plan");
    let plan = verify(plan).expect("sound");
    let made = kit(&plan).expect("a kit");
    let kept: BTreeMap<String, Vec<u8>> = made.files.into_iter().map(|f| (f.path, f.bytes)).collect();
    let numbers: Vec<(u32, u32)> = plan.pieces().iter().map(|p| (0, p.number)).collect();
    let record = KitRecord::read(&InMemory(kept), &numbers, &mut told).expect("readable");
    for (was, got) in plan.pieces().iter().zip(&record.pieces) {
        assert_eq!((was.number, was.name.as_str(), was.film), (got.number, got.name.as_str(), got.film));
        let want = was.cut();
        let middle = want.bounds().centre();
        let home = frusta::base::frame::Rigid::from_parts(
            1.0,
            0.0,
            frusta::base::frame::Point::mm(-middle.x, -middle.y),
        );
        // The sheet may have turned it: compare what a turn leaves.
        let want: frusta::outline::Region<frusta::base::frame::Art> = want.moved(&home);
        let (a, b) = (want.area().0, got.outline.area().0);
        let slack = 0.001 * want.perimeter().0;
        assert!((a - b).abs() < slack, "piece {}: {a} {b}", was.number);
        assert_eq!(want.contours().len(), got.outline.contours().len());
        let sizes = |r: &frusta::outline::Region<frusta::base::frame::Art>| {
            let (w, h) = (r.bounds().width().0, r.bounds().height().0);
            [w.min(h), w.max(h)]
        };
        let off =
            sizes(&want).iter().zip(sizes(&got.outline)).map(|(a, b)| (a - b).abs()).fold(0.0, f64::max);
        assert!(off < 0.0021, "piece {}: {off}", was.number);
    }
    assert_eq!(record.films[0].cut.overcut.0, 0.35);
    let recut = Recut::of(record, &[(0, 1), (0, 2), (0, 3), (0, 4)], false, &mut told).expect("laid out");
    let numbers: Vec<u32> = recut.pieces.iter().map(|p| p.number).collect();
    assert_eq!(numbers, [1, 2, 3, 4]);
    // A piece that lies on no sheet is found.
    let mut bad = recut.clone();
    assert!(VerifiedRecut::of(recut).is_ok());
    bad.sheets.last_mut().expect("a sheet").placed.pop();
    assert!(VerifiedRecut::of(bad).is_err());
}

#[test]
fn recut_touches_nothing_of_the_kit_and_takes_no_leftover_twice() {
    let dir = tempfile::tempdir().expect("a folder");
    let run = |args: &[&str]| {
        let out = Command::new(env!("CARGO_BIN_EXE_frusta")).current_dir(dir.path()).args(args).output();
        let out = out.expect("runs");
        let said = String::from_utf8_lossy(&out.stderr).into_owned();
        (out.status.code(), String::from_utf8_lossy(&out.stdout).into_owned() + &said)
    };
    fs::write(dir.path().join("job.toml"), JOB).expect("written");
    fs::write(dir.path().join("ring.svg"), RING).expect("written");
    assert_eq!(run(&["make", "job.toml", "--out", "k"]).0, Some(0));
    let cut = dir.path().join("k/cut/blue-1.svg");
    let (was, record) = (fs::read(&cut).unwrap(), fs::read(dir.path().join("k/manifest.json")).unwrap());
    let (code, said) = run(&["recut", "k", "2", "3"]);
    assert_eq!(code, Some(0), "{said}");
    let (code, said) = run(&["recut", "k", "3"]);
    assert_eq!(code, Some(0), "{said}");
    let taken = |folder: &str| {
        let text = fs::read_to_string(dir.path().join(folder).join("again.json")).expect("a record");
        let v: serde_json::Value = serde_json::from_str(&text).expect("JSON");
        v["sheets"][0]["taken_from"].as_str().expect("where from").to_owned()
    };
    assert_eq!(taken("k-again"), "leftovers/blue-1a.svg");
    assert_eq!(taken("k-again-2"), "k-again/leftovers/blue-again-1a.svg");
    assert_eq!(fs::read(&cut).unwrap(), was);
    assert_eq!(fs::read(dir.path().join("k/manifest.json")).unwrap(), record);
    let (code, said) = run(&["recut", "k", "77"]);
    assert_eq!(code, Some(1));
    assert!(said.contains("kit/no-such-piece") && said.contains("1 to 4"), "{said}");
    fs::write(&cut, String::from_utf8(was).unwrap().replace("M ", "M 1")).unwrap();
    let (code, said) = run(&["recut", "k", "2"]);
    assert_eq!(code, Some(1));
    assert!(said.contains("cut/blue-1.svg was changed"), "{said}");
}
