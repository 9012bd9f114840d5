//! Promises that were broken once: each job is the smallest that broke one, and every one is made now.
//!
//! What still breaks one would stand in `fixtures/promises/open`: nothing at present.
//!
//! Source of `fixtures/promises`: found by measuring random jobs from outside, made as small as they break.

use frusta::base::frame::Art;
use frusta::base::units::Mm;
use frusta::outline::{BezPath, Clearance, Join, Region};
use frusta::{InMemory, kit_of};
use std::fs;
use std::path::Path;

fn root() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

/// All drawings of the demonstration and those beside the cases.
fn drawings() -> InMemory {
    let folders = ["demo-data/harvest-fair/art", "demo-data/first-cup/art", "fixtures/promises/art"];
    let files = folders.iter().flat_map(|f| fs::read_dir(root().join(f)).expect("a folder"));
    let one = |e: std::io::Result<fs::DirEntry>| {
        let path = e.expect("an entry").path();
        let name = format!("art/{}", path.file_name().expect("a name").to_string_lossy());
        (name, fs::read(&path).expect("bytes"))
    };
    InMemory(files.map(one).collect())
}

fn made(name: &str, job: &str) {
    if let Err(faults) = kit_of(job, &drawings()) {
        let faults: Vec<String> = faults.iter().map(ToString::to_string).collect();
        panic!("{name}: {faults:#?}");
    }
}

#[test]
fn case_1_every_job_that_broke_a_promise_is_made() {
    let mut count = 0;
    for entry in fs::read_dir(root().join("fixtures/promises")).expect("a folder") {
        let path = entry.expect("an entry").path();
        if path.extension().is_some_and(|e| e == "toml") {
            made(&path.display().to_string(), &fs::read_to_string(&path).expect("text"));
            count += 1;
        }
    }
    assert!(count >= 9, "{count} cases");
}

/// Case 2: walls that sweep over more than half a turn of the plane (steeper than 30 degrees), either way
/// round: spots, pins, spread motifs and a handle.
#[test]
fn case_2_steep_walls_are_made() {
    for lean in [29.5f64, 30.5, 35.0, 40.0, 44.5] {
        for inverted in [false, true] {
            let (low, wall) = (190.0, 80.0);
            let high = low + std::f64::consts::TAU * wall * lean.to_radians().sin();
            let (base, rim) = if inverted { (high, low) } else { (low, high) };
            let middle = (base + rim) / 2.0;
            let job = format!(
                "[cup]\nrings = [{{ up = 0, girth = {base:.2} }}, {{ up = 40, girth = {middle:.2} }}, \
                 {{ up = 80, girth = {rim:.2} }}]\nwall = 80\nkeep-clear = {{ rim = 20, base = 4 }}\n\
                 handle = {{ at = 90, width = 30, from = 10, to = 50 }}\n\
                 [[film]]\nname = \"a\"\nsheet = [400, 300]\n\
                 [[motif]]\nart = \"art/robin.svg\"\nwidth = 22\nfilm = \"a\"\nposes = [{{ azimuth = 0, up \
                 = 32 }}, \
                 {{ azimuth = 178, up = 32 }}]\n\
                 [[motif]]\nart = \"art/apple-blossom.svg\"\nwidth = 12\nfilm = \"a\"\ncopies = 3\n\
                 [[accent]]\nfamilies = [\"pebble\"]\nsmallest = 6\nlargest = 9\ngap = 2\nfilm = \"a\"\n"
            );
            made(&format!("{lean} degrees, inverted: {inverted}"), &job);
        }
    }
}

/// Case 3: a corner past the mitre limit is cut off outside the distance. Truth: the definition of an offset:
/// no point of the outline is nearer than the distance.
#[test]
fn case_3_mitred_corners_past_their_limit_keep_the_distance() {
    for tip in [4.0f64, 12.0, 25.0, 60.0] {
        let spike =
            BezPath::from_svg(&format!("M0 0 L40 {} L40 -{} Z", tip / 2.0, tip / 2.0)).expect("a path");
        let region: Region<Art> = Region::trusted([spike]);
        for limit in [1.0, 1.5, 2.0, 4.0] {
            let grown = region.offset(Mm(2.0), Join::Mitre(limit));
            let own = Clearance::new(region.flat(Mm(0.001)));
            for p in grown.flat(Mm(0.001)).rings.iter().flatten() {
                let near = own.nearest(frusta::base::frame::Point::mm(p[0], p[1]), Mm(50.0)).expect("near");
                let d = near.distance.0;
                // Cut off square at `limit` times the distance: its ends lie no farther than the diagonal.
                assert!(
                    d > 1.985 && d < 2.0 * (limit * limit + 1.0f64).sqrt() * 1.5 + 0.02,
                    "{tip} {limit}: {d}"
                );
            }
        }
    }
}
