//! Sheets drawn in closed form: areas, holes, bias whatever the colour, halves, pictures without motifs; the same
//! on one thread and on two.
//!
//! Imports: base, outline, read::{job, picture}, make::sheet.

use super::border::cuts;
use super::find::find;
use super::*;
use crate::base::colour::{encoded as code, linear};
use crate::base::diag::{Diagnostics, KeyPath};
use crate::base::random::Random;
use crate::base::units::Seed;
use crate::make::sheet::grid::Grid;
use crate::outline::Clearance;
use crate::outline::Region;
use crate::read::job::SheetSpec;
use crate::read::job::read_job;
use std::f64::consts::PI;

const DPI: f64 = 300.0;
const PER_MM: f64 = DPI / 25.4;

fn spec(keys: &str) -> SheetSpec {
    let text = format!(
        "[cup]\nrings = [{{ up = 0, girth = 200 }}, {{ up = 100, girth = 240 }}]\nwall = 100\n[[sheet]]\n\
         name = \"s\"\npicture = \"s.png\"\nscale = 300\n{keys}\n"
    );
    let read = read_job(&text);
    read.job.unwrap_or_else(|| panic!("{:?}", read.diagnostics)).sheets.remove(0)
}

/// A sheet of a size in mm: what is inside a shape is ink, mixed in linear light by coverage from 8 x 8 points a
/// pixel, blurred, with noise.
fn drawn(
    size: f64,
    ink: [u8; 3],
    backing: [u8; 3],
    blur: f64,
    noise: f64,
    inside: &(dyn Fn(f64, f64) -> bool + Sync),
) -> Picture {
    let n = (size * PER_MM).round() as usize;
    let part = |x: usize, y: usize| {
        let at = |i: usize, k: usize| (i as f64 + (k as f64 + 0.5) / 8.0) / PER_MM;
        let hits = (0..64).filter(|k| inside(at(x, k % 8), at(y, k / 8))).count();
        hits as f32 / 64.0
    };
    let cover = Grid::from_fn(n, n, part);
    let cover = if blur > 0.0 { cover.blurred(blur * PER_MM) } else { cover };
    let mut random = Random::new(Seed(5), "noise", 0);
    let (ink, backing) = (ink.map(linear), backing.map(linear));
    let rgb = cover
        .at
        .iter()
        .flat_map(|c| {
            [0, 1, 2].map(|k| {
                let seen = f64::from(code(backing[k] + (ink[k] - backing[k]) * c));
                (seen + random.between(-noise, noise) * 1.7).round().clamp(0.0, 255.0) as u8
            })
        })
        .collect();
    Picture::opaque(n, n, rgb)
}

fn found(picture: Picture, keys: &str) -> Result<PrintedSheet, Vec<&'static str>> {
    let mut d = Diagnostics::new();
    let sheet = find(&spec(keys), &Arc::new(picture), &[], &KeyPath::of("sheet"), &mut d);
    sheet.map_err(|_| d.iter().filter(|d| d.severity == crate::Severity::Fault).map(|d| d.code.id).collect())
}

const RED: [u8; 3] = [181, 48, 74];
const PAPER: [u8; 3] = [243, 242, 238];

/// Area off by, over the length of the outline.
fn bias(got: f64, want: f64, length: f64) -> f64 {
    (got - want) / length
}

#[test]
fn discs_squares_and_stars_have_their_areas() {
    let disc = |x: f64, y: f64| libm::hypot(x - 20.0, y - 20.1) < 10.0;
    let sheet = found(drawn(40.0, RED, PAPER, 0.04, 1.0, &disc), "").expect("a disc");
    assert_eq!(sheet.motifs.len(), 1);
    let b = bias(sheet.motifs[0].area().0, PI * 100.0, 20.0 * PI);
    assert!(b.abs() < 0.004, "disc {b}");
    // Rows run down, the sheet's y up.
    let at = sheet.motifs[0].bounds().centre();
    assert!((at.x - 20.0).abs() < 0.02 && (sheet.height.0 - at.y - 20.1).abs() < 0.02, "{at:?}");
    for turn in [0.0f64, 15.0, 45.0] {
        let (s, c) = libm::sincos(turn.to_radians());
        let square = move |x: f64, y: f64| {
            let (x, y) = (x - 15.0, y - 15.0);
            (c * x + s * y).abs() < 7.0 && (c * y - s * x).abs() < 7.0
        };
        let sheet = found(drawn(30.0, RED, PAPER, 0.04, 1.0, &square), "").expect("a square");
        let b = bias(sheet.motifs[0].area().0, 196.0, 56.0);
        assert!(b.abs() < 0.01, "square turned by {turn}: {b}");
        assert!(sheet.motifs[0].print.nodes() <= 16, "{} nodes", sheet.motifs[0].print.nodes());
    }
    // Five points: radii 9 and 4, area 5 R r sin 36 degrees.
    let star = |x: f64, y: f64| {
        let (a, d) = (libm::atan2(x - 12.0, 12.0 - y), libm::hypot(x - 12.0, y - 12.0));
        let t = (a.rem_euclid(PI / 2.5) - PI / 5.0).abs();
        // On the edge from the inner corner (t = 0) to the tip (t = 36 degrees).
        let (r, tip) = (4.0, 9.0f64);
        let (ex, ey) = (tip * (PI / 5.0).cos() - r, tip * (PI / 5.0).sin());
        let (px, py) = (d * t.cos() - r, d * t.sin());
        ex * py - ey * px > 0.0
    };
    let sheet = found(drawn(24.0, RED, PAPER, 0.04, 1.0, &star), "").expect("a star");
    let want = 5.0 * 9.0 * 4.0 * (PI / 5.0).sin();
    let got = sheet.motifs[0].area().0;
    assert!((got - want).abs() < 0.9, "star: {got} of {want}");
}

/// Holes of 2 mm2 and more stay, smaller ones are filled; and what is narrower than 0.8 mm.
#[test]
fn holes_stay_by_size_and_width() {
    for (area, stays) in [(1.9f64, false), (2.1, true)] {
        let r = (area / PI).sqrt();
        let ring = move |x: f64, y: f64| {
            let d = libm::hypot(x - 10.0, y - 10.0);
            d < 6.0 && d > r
        };
        let sheet = found(drawn(22.0, RED, PAPER, 0.03, 1.0, &ring), "").expect("a ring");
        let want = 36.0 * PI - if stays { area } else { 0.0 };
        let got = sheet.motifs[0].area().0;
        assert!((got - want).abs() < 0.3, "hole of {area}: {got} of {want}");
        let filled = found(drawn(22.0, RED, PAPER, 0.03, 1.0, &ring), "holes = \"fill\"").expect("a ring");
        assert_eq!(filled.motifs[0].print.contours().len(), 1);
    }
    let slit = |x: f64, y: f64| {
        libm::hypot(x - 10.0, y - 10.0) < 7.0 && !((x - 10.0).abs() < 0.3 && (y - 10.0).abs() < 4.0)
    };
    let sheet = found(drawn(22.0, RED, PAPER, 0.03, 1.0, &slit), "").expect("a disc");
    assert_eq!(sheet.motifs[0].print.contours().len(), 1, "a slit of 0.6 x 8 mm is filled");
}

/// The outline lies where the print ends, whatever its colour, on white and on black.
#[test]
fn bias_does_not_hang_on_colour() {
    let disc = |x: f64, y: f64| libm::hypot(x - 8.0, y - 8.0) < 5.0;
    for (backing, inks) in [
        (
            PAPER,
            [[181u8, 48, 74], [224, 165, 38], [58, 106, 168], [20, 20, 20], [207, 127, 159], [138, 168, 58]],
        ),
        (
            [48, 48, 51],
            [
                [230, 230, 225],
                [217, 100, 58],
                [224, 165, 38],
                [120, 160, 220],
                [207, 127, 159],
                [138, 168, 58],
            ],
        ),
    ] {
        for ink in inks {
            for blur in [0.03, 0.12] {
                let sheet = found(drawn(22.0, ink, backing, blur, 1.0, &disc), "").expect("a disc");
                let b = bias(sheet.motifs[0].area().0, 25.0 * PI, 10.0 * PI);
                assert!(b.abs() < 0.01, "{ink:?} on {backing:?}, blur {blur}: {b:+.4} mm");
            }
        }
    }
}

/// What shows no motif is refused in words, whatever it is.
#[test]
fn pictures_without_motifs_are_refused() {
    let nothing = |_: f64, _: f64| false;
    for (what, picture) in [
        ("white", drawn(22.0, RED, [255; 3], 0.0, 0.0, &nothing)),
        ("black", drawn(22.0, RED, [0; 3], 0.0, 0.0, &nothing)),
        ("noise", drawn(22.0, RED, [128; 3], 0.0, 20.0, &nothing)),
        ("dirt", drawn(22.0, RED, PAPER, 0.0, 1.0, &|x, y| libm::hypot(x - 9.0, y - 9.0) < 0.4)),
    ] {
        let faults = found(picture, "").map(|s| s.motifs.len()).expect_err(what);
        assert_eq!(faults.len(), 1, "{what}: {faults:?}");
        assert!(
            ["sheet/no-motif", "sheet/no-backing", "sheet/noisy"].contains(&faults[0]),
            "{what}: {faults:?}"
        );
    }
    // A slope of light is no print.
    let mut slope = drawn(22.0, RED, PAPER, 0.0, 1.0, &nothing);
    let n = slope.width;
    for (i, v) in slope.rgb.iter_mut().enumerate() {
        *v = (f64::from(*v) * (1.0 - 0.08 * ((i / 3) % n) as f64 / n as f64)) as u8;
    }
    assert_eq!(found(slope, "").map(|s| s.motifs.len()).expect_err("a slope"), ["sheet/no-motif"]);
    let coarse = found(drawn(22.0, RED, PAPER, 0.0, 0.0, &nothing), "bar = 95")
        .map(|s| s.motifs.len())
        .expect_err("no motif");
    assert_eq!(coarse, ["sheet/no-motif"]);
}

/// A motif that the edge cuts off is a half; one that ends two tenths of a millimetre from it is not, nor one with a
/// straight side of its own.
#[test]
fn halves_are_told_from_what_only_comes_near() {
    let half = |x: f64, y: f64| libm::hypot(x - 3.0, y - 10.0) < 5.0;
    let whole = |x: f64, y: f64| libm::hypot(x - 5.2, y - 10.0) < 5.0;
    let straight = |x: f64, y: f64| (2.0..9.0).contains(&x) && (5.0..15.0).contains(&y);
    let cut = |shape: &(dyn Fn(f64, f64) -> bool + Sync)| {
        found(drawn(22.0, RED, PAPER, 0.04, 1.0, shape), "").expect("a motif").motifs[0].cut_off
    };
    let span = cut(&half).expect("a half").0;
    assert!((span - 8.0).abs() < 0.5, "{span}");
    assert_eq!((cut(&whole), cut(&straight)), (None, None));
}

/// Parts nearer than `together` are one motif; numbers run by rows from the top; each print has its border; where two
/// borders meet each cut takes half.
#[test]
fn motifs_are_gathered_numbered_and_bordered() {
    let discs = [(6.0, 6.0, 2.0), (11.0, 6.0, 2.0), (20.0, 5.0, 3.0), (8.0, 22.0, 4.0), (17.9, 22.0, 4.0)];
    let inside = move |x: f64, y: f64| discs.iter().any(|(a, b, r)| libm::hypot(x - a, y - b) < *r);
    let picture = drawn(28.0, RED, PAPER, 0.04, 1.0, &inside);
    let sheet = found(picture, "").expect("motifs");
    let at: Vec<(usize, f64)> =
        sheet.motifs.iter().map(|m| (m.parts, (m.bounds().centre().x - 0.4).floor())).collect();
    assert_eq!(at, [(2, 8.0), (1, 19.0), (1, 7.0), (1, 17.0)], "the first two discs are 1 mm apart");
    let (outlines, shared) = cuts(&sheet, &spec("border = 1.2"));
    assert_eq!(shared.iter().map(|s| (s.0, s.1)).collect::<Vec<_>>(), [(3, 4)], "1.9 mm between them");
    let fine = |r: &Region<Sheet>| Clearance::new(r.flat(Mm(0.002)));
    for (motif, cut) in sheet.motifs.iter().zip(&outlines) {
        let d = fine(&motif.print).flat().rings.iter().flatten().fold(f64::INFINITY, |least, p| {
            least.min(fine(cut).nearest(Point::mm(p[0], p[1]), Mm(5.0)).map_or(9.0, |n| n.distance.0))
        });
        let least = if motif.number > 2 { 0.7 } else { 1.19 };
        assert!(d > least && d < 1.21, "motif {}: {d} between print and cut", motif.number);
    }
    let between = fine(&outlines[2]).distance(&fine(&outlines[3]), Mm(5.0)).expect("near").0;
    assert!((0.3..0.5).contains(&between), "{between}");
}

/// The same bits on one thread and on two.
#[test]
fn threads_change_nothing() {
    let inside =
        |x: f64, y: f64| libm::hypot(x - 8.0, y - 8.0) < 5.0 || (x > 15.0 && y > 15.0 && x + y < 40.0);
    let picture = drawn(26.0, RED, PAPER, 0.05, 2.0, &inside);
    let on = |threads: usize| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().expect("threads");
        let picture = picture.clone();
        pool.install(move || {
            let sheet = found(picture, "").expect("motifs");
            let prints: Vec<Region<Sheet>> = sheet.motifs.iter().map(|m| m.print.clone()).collect();
            (prints, cuts(&sheet, &spec("")).0, sheet.noise)
        })
    };
    assert_eq!(on(1), on(2));
}
