//! Small papers as they were last read by a person: a change of their bytes is seen in review.
//!
//! The truth comes first and is not in the snapshots: what was drawn is measured against the closed forms of
//! a square and of the frustum's sector (radius = C s / (C1 - C2): any textbook of descriptive geometry).
//! `cargo insta review` or `INSTA_UPDATE=always` takes a change that is meant.

use kurbo::{BezPath, PathEl, Point, Shape};
use std::fs;
use std::process::Command;

const JOB: &str = r##"title = "Squares"
[cup]
rings = [{ up = 0, girth = 200 }, { up = 100, girth = 240 }]
wall = 100
[[film]]
name = "red"
colour = "#e00000"
sheet = [100, 60]
[[motif]]
art = "square.svg"
width = 10
poses = [{ azimuth = 0, up = 50 }, { azimuth = 90, up = 50 }]
[print]
papers = ["a4"]
"##;
const ART: &str = r#"<svg xmlns="http://www.w3.org/2000/svg" width="10mm" height="10mm" viewBox="0 0 10 10"><path d="M0 0h10v10h-10z"/></svg>"#;

/// Decimals of a file are thousandths of a millimetre: a square of 10 mm is off by at most 4 x 10 x 0.0005.
const WRITTEN: f64 = 0.02;

/// The data of the paths of a group.
fn paths(svg: &str, group: &str) -> Vec<BezPath> {
    let from = svg.find(&format!("<g id=\"{group}\">")).expect("the group");
    let part = &svg[from..from + svg[from..].find("</g>").expect("its end")];
    let data = part.split("<path d=\"").skip(1).filter_map(|p| p.split('"').next());
    data.map(|d| BezPath::from_svg(d).expect("path data")).collect()
}

#[test]
fn a_sheet_and_a_template_are_as_they_were_read() {
    let dir = tempfile::tempdir().expect("a folder");
    fs::write(dir.path().join("job.toml"), JOB).expect("written");
    fs::write(dir.path().join("square.svg"), ART).expect("written");
    let kit = dir.path().join("kit");
    let made = Command::new(env!("CARGO_BIN_EXE_frusta"))
        .arg("make")
        .arg(dir.path())
        .arg("--out")
        .arg(&kit)
        .output();
    let made = made.expect("runs");
    assert!(made.status.success(), "{}", String::from_utf8_lossy(&made.stderr));

    let sheet = fs::read_to_string(kit.join("cut/red-1.svg")).expect("a sheet");
    for group in ["p1", "p2"] {
        let square = &paths(&sheet, group)[0];
        assert!((square.area().abs() - 100.0).abs() <= WRITTEN, "{group}: {}", square.area());
    }
    insta::assert_snapshot!("cut", sheet);

    // Keep-clear bands: rings about the sector's apex, 200 x 100 / 40 = 500 mm below the base edge; 6 mm at
    // the base edge and 20 mm at the rim if a job does not say otherwise. y points down, the front stands
    // upright on the apex.
    let template = fs::read_to_string(kit.join("template/wrap.svg")).expect("a template");
    let bands = paths(&template, "keep-clear");
    let (left, whole) = (bands[0].elements()[0].end_point().expect("its start"), bands[0].bounding_box());
    let middle = (whole.x0 + whole.x1) / 2.0;
    let half = middle - left.x;
    let apex = Point::new(middle, left.y + (500.0f64 * 500.0 - half * half).sqrt());
    for (band, radii) in [(0, [500.0, 506.0]), (2, [580.0, 600.0])] {
        for corner in bands[band].elements().iter().filter_map(PathEl::end_point) {
            let r = corner.distance(apex);
            assert!(radii.iter().any(|want| (r - want).abs() < WRITTEN), "band {band}: {r} mm from the apex");
        }
    }
    insta::assert_snapshot!(
        "keep-clear",
        bands[..4].iter().map(BezPath::to_svg).collect::<Vec<_>>().join("\n")
    );
}
