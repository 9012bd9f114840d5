//! Finishing within a whole run: coats that enlarge the surface, the disc among the pieces, faults of both.

use super::*;
use crate::base::diag::Diagnostics;
use crate::base::units::Mm;
use crate::make::piece::Kind;
use crate::make::verify::verify;
use crate::read::job::{Effort, read_job};
use crate::read::source::InMemory;
use std::f64::consts::TAU;
use std::ops::ControlFlow;

const JOB: &str = r#"
[cup]
rings = [{ up = 0, girth = 200 }, { up = 120, girth = 240 }]
wall = 120
[[film]]
name = "leaf"
sheet = [200, 150]
[[film]]
name = "straw"
sheet = [200, 150]
[[motif]]
art = "square.svg"
width = 20
film = "leaf"
poses = [{ azimuth = 0, up = 50 }, { azimuth = 170, up = 60 }]
"#;
const SQUARE: &str = r#"<svg xmlns="http://www.w3.org/2000/svg" width="20mm" height="10mm" viewBox="0 0 20 10"><path d="M0 0H20V10H0Z"/></svg>"#;

fn run_with(finish: &str, cup: &str) -> (Result<Plan, ()>, Vec<Diagnostic>) {
    let text = JOB.replace("wall = 120", &format!("wall = 120\n{cup}")) + finish;
    let read = read_job(&text);
    let job = read.job.unwrap_or_else(|| panic!("{:#?}", read.diagnostics));
    let mut source = InMemory::default();
    source.0.insert("square.svg".into(), SQUARE.as_bytes().to_vec());
    let mut diagnostics = Diagnostics::new();
    let plan = run(
        &job,
        &crate::read::materials::Materials::read(&job, &source),
        Effort::Normal,
        &mut diagnostics,
        &mut |_| ControlFlow::Continue(()),
    );
    (plan.map_err(|_| ()), diagnostics.into_vec())
}
fn planned(finish: &str, cup: &str) -> (Plan, Vec<&'static str>) {
    let (plan, diagnostics) = run_with(finish, cup);
    (plan.unwrap_or_else(|()| panic!("{diagnostics:#?}")), diagnostics.iter().map(|d| d.code.id).collect())
}

const COATED: &str = "
[[finish.product]]
name = \"r\"
kind = \"two-part resin\"
mix = [1, 1]
hard = \"12 h\"
[[finish.step]]
do = \"clear coat\"
thickness = 0.5
[[finish.step]]
do = \"film\"
[[finish.step]]
do = \"seal film\"
";

/// Closed form: half a millimetre along the normal lengthens every circumference by 2 pi 0.5 cos(half-angle).
#[test]
fn coats_under_the_film_enlarge_template_and_layout() {
    let (bare, _) = planned("[finish]", "");
    assert_eq!(bare.cup.zones[0].surface, bare.cup.zones[0].measured);
    let (coated, diagnostics) = planned(COATED, "");
    let lean = (40.0 / TAU / 120.0f64).asin();
    let growth = TAU * 0.5 * lean.cos();
    for (got, was) in [
        (coated.cup.zones[0].surface.upper, coated.cup.zones[0].measured.upper),
        (coated.cup.zones[0].surface.lower, coated.cup.zones[0].measured.lower),
    ] {
        approx::assert_abs_diff_eq!((got - was).0, growth, epsilon = 1e-9);
    }
    approx::assert_abs_diff_eq!(coated.job.cup.build_up.0, 0.5, epsilon = 1e-12);
    assert!(!diagnostics.contains(&"finish/build-up-differs"), "{diagnostics:?}");
    // The second motif, 170 degrees round, has moved on by its share of the longer way round.
    let round = |p: &Plan| p.cup.zones[0].surface.girth(Mm(60.0)).0 * 170.0 / 360.0;
    approx::assert_abs_diff_eq!(round(&coated) - round(&bare), growth * 170.0 / 360.0, epsilon = 1e-9);
    let x = |p: &Plan| p.pieces[1].pose.origin().x;
    assert!(x(&coated) > x(&bare) + 1.0);
    assert!(coated.finish.burial.coats_to_add == 0 && verify(coated).is_ok());
}

#[test]
fn a_build_up_that_the_maker_names_is_taken_and_compared() {
    let (plan, diagnostics) = planned(COATED, "build-up = 0.2");
    assert_eq!(plan.job.cup.build_up, Mm(0.2));
    assert!(diagnostics.contains(&"finish/build-up-differs"), "{diagnostics:?}");
    let (plan, diagnostics) = planned(&COATED.replace("thickness = 0.5", "thickness = 0.5\ndone = true"), "");
    assert_eq!((plan.job.cup.build_up, plan.cup.zones[0].surface), (Mm(0.0), plan.cup.zones[0].measured));
    assert!(!diagnostics.contains(&"finish/build-up-differs"), "{diagnostics:?}");
}

const DISC: &str = "
[finish.base]
across = 60
ring = 7
film = \"leaf\"
ring-film = \"straw\"
mark = { art = \"square.svg\", size = 18, border = 1, film = \"straw\" }
";

#[test]
fn the_disc_is_cut_with_the_other_pieces_and_numbered_on() {
    let (plan, diagnostics) = planned(DISC, "");
    assert!(!diagnostics.contains(&"finish/base-disc-step"), "the usual steps put it on: {diagnostics:?}");
    let base: Vec<_> = plan.pieces.iter().filter(|p| p.kind == Kind::Base).collect();
    let names: Vec<_> = base.iter().map(|p| (p.number, p.name.as_str(), p.film.0)).collect();
    assert_eq!(names, [(3, "base ring", 1), (4, "base centre", 0), (5, "base mark", 1)]);
    for p in &base {
        let sheet = plan.sheet_of(p.number).expect("it is cut");
        assert_eq!(sheet.film, p.film);
    }
    assert_eq!(plan.on_wall().count(), 2);
    // 18 x 9 mm and a border of 1 mm all round, about the middle.
    let mark = base[2].outline.bounds();
    approx::assert_abs_diff_eq!(mark.width().0, 20.0, epsilon = 0.03);
    approx::assert_abs_diff_eq!(mark.height().0, 11.0, epsilon = 0.03);
    approx::assert_abs_diff_eq!(mark.centre().x, 0.0, epsilon = 0.02);
    let step = plan.finish.steps.iter().find(|s| s.name == "base disc").expect("a step");
    assert_eq!(step.pieces, 3);
    let film = plan.finish.steps.iter().find(|s| s.name == "film").expect("a step");
    assert_eq!(film.pieces, 2);
    let mut bad = plan.clone();
    assert!(verify(plan).is_ok());
    bad.pieces[3].outline = bad.pieces[3].outline.scaled(1.2);
    let broken = verify(bad).expect_err("a centre over its ring");
    assert!(
        broken.iter().any(|d| d.message.contains("the centre of the base leaves its place")),
        "{broken:#?}"
    );
}

#[test]
fn a_disc_without_room_or_art_is_a_fault_at_its_place() {
    let (plan, diagnostics) = run_with(&DISC.replace("ring = 7", "ring = 27"), "");
    assert!(plan.is_err() && diagnostics.iter().any(|d| d.code.id == "finish/base-no-room"));
    let (plan, diagnostics) = run_with(&DISC.replace("size = 18", "size = 60"), "");
    assert!(
        plan.is_err()
            && diagnostics
                .iter()
                .any(|d| d.code.id == "finish/base-no-room" && d.at.to_string() == "finish.base.mark")
    );
    let (plan, diagnostics) = run_with(&DISC.replace("square.svg", "round.svg"), "");
    assert!(
        plan.is_err()
            && diagnostics
                .iter()
                .any(|d| d.code.id == "job/file-missing" && d.at.to_string() == "finish.base.mark.art")
    );
}
