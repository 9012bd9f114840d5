//! Passes: film that goes on over a sealed pattern. The truth of each test is the same job said otherwise: without
//! what goes on later, in one pass, or in another order.

use frusta::make::piece::Kind;
use frusta::make::plan::Plan;
use frusta::{Effort, InMemory};

const LEAF: &[u8] =
    br#"<svg xmlns="http://www.w3.org/2000/svg" width="30mm" height="20mm" viewBox="0 0 30 20">
    <path d="M0 10C8 -3 22 -3 30 10C22 23 8 23 0 10Z"/></svg>"#;

/// A cup with a pattern of leaves and pebbles, its steps, and what the decal says.
fn job(steps: &str, decal: &str, motif: &str) -> String {
    let steps: String =
        steps.split(',').map(|s| format!("[[finish.step]]\n{}\n", s.replace(';', "\n"))).collect();
    let decal = match decal {
        "" => String::new(),
        more => format!(
            "[[decal]]\nart = \"leaf.svg\"\nwidth = 60\nup = 50\nlayers = [{{ film = \"blue\", offset = 2 }}, \
                {{ film = \"red\" }}]\n{more}\n"
        ),
    };
    format!(
        "[cup]\nrings = [{{ up = 0, girth = 200 }}, {{ up = 100, girth = 240 }}]\nwall = 100\n\
        [[film]]\nname = \"blue\"\nsheet = [300, 200]\n[[film]]\nname = \"red\"\nsheet = [300, 200]\n\
        {decal}[[motif]]\nart = \"leaf.svg\"\nwidth = 25\nfilm = \"red\"\n{motif}\n\
        [[accent]]\nfamily = \"pebble\"\nsmallest = 7\nlargest = 10\ngap = 2\nfilm = \"blue\"\n[finish]\n{steps}"
    )
}

const SEALED: &str =
    "do = \"film\";name = \"pattern\",do = \"seal film\",do = \"film\";name = \"words\",do = \"clear coat\"";
const BARE: &str = "do = \"film\";name = \"pattern\",do = \"film\";name = \"words\",do = \"clear coat\"";
const PINNED: &str = "poses = [{ azimuth = 0, up = 50 }, { azimuth = 120, up = 50 }]";

fn planned(job: &str) -> Result<Plan, Vec<String>> {
    let files = InMemory([("leaf.svg".to_string(), LEAF.to_vec())].into());
    let (plan, told) = crate::planned::run(job, &files, Effort::default());
    let faults = told.iter().filter(|d| d.severity == frusta::Severity::Fault);
    plan.ok_or_else(|| faults.map(|d| d.code.id.to_owned()).collect())
}

fn spots(plan: &Plan) -> Vec<(f64, f64, f64)> {
    let spots = plan.pieces.iter().filter(|p| matches!(p.kind, Kind::Spot { .. }));
    spots.map(|p| (p.wall.azimuth.rad(), p.wall.slant.get(), p.outline.area().get())).collect()
}

#[test]
fn a_fill_under_a_later_decal_is_the_fill_without_it_spot_for_spot() {
    let with = planned(&job(SEALED, "pass = \"words\"", "copies = 3")).expect("sound");
    let without = planned(&job(SEALED, "", "copies = 3")).expect("sound");
    assert!(spots(&with).len() > 30);
    assert_eq!(spots(&with), spots(&without));
    // Motifs too, and all that goes on first has the first numbers.
    let last = with.pieces.iter().rev().take_while(|p| matches!(p.kind, Kind::Layer { .. })).count();
    assert_eq!((last, with.pieces.len()), (2, without.pieces.len() + 2));
    assert!(with.pieces.iter().enumerate().all(|(i, p)| p.number as usize == i + 1));
    assert_eq!(with.decals[0].first_piece, without.pieces.len());
    // In one pass the decal leaves a hole.
    let one = planned(&job("do = \"film\",do = \"clear coat\"", "turn = 0", "copies = 3")).expect("sound");
    assert!(spots(&one).len() < spots(&with).len());
}

#[test]
fn a_halo_is_kept_by_what_goes_on_before() {
    let with = planned(&job(SEALED, "pass = \"words\"\nhalo = 3", "copies = 3")).expect("sound");
    let without = planned(&job(SEALED, "pass = \"words\"", "copies = 3")).expect("sound");
    assert!(spots(&with).len() < spots(&without).len());
    // Held by the second method, which takes the halo for a clearance.
    frusta::verify(with).expect("verified");
    frusta::verify(without).expect("verified");
}

#[test]
fn a_motif_under_a_decal_clashes_in_one_pass_only() {
    assert!(planned(&job(SEALED, "pass = \"words\"", PINNED)).is_ok());
    let faults = planned(&job(SEALED, "turn = 0", PINNED)).map(|_| ());
    assert_eq!(faults, Err(vec!["motif/pinned-clash".to_string()]));
}

#[test]
fn what_is_not_sealed_is_a_fault_where_film_lies_on_it() {
    let faults = planned(&job(BARE, "pass = \"words\"", PINNED)).map(|_| ());
    assert_eq!(faults, Err(vec!["finish/film-on-film".to_string()]));
    // Beside it nothing is wrong: the halo keeps the pattern away.
    assert!(planned(&job(BARE, "pass = \"words\"\nhalo = 2", "copies = 2")).is_ok());
}

#[test]
fn names_of_film_steps_are_held_to() {
    let ids = |steps: &str, decal: &str| planned(&job(steps, decal, "copies = 1")).map(|_| ()).unwrap_err();
    assert_eq!(ids(SEALED, "pass = \"word\""), ["job/unknown-pass"]);
    assert_eq!(ids("do = \"film\",do = \"clear coat\"", "pass = \"words\""), ["job/unknown-pass"]);
    let twice = "do = \"film\";name = \"a\",do = \"seal film\",do = \"film\";name = \"a\"";
    assert_eq!(ids(twice, "pass = \"a\""), ["job/pass-twice"]);
    let films = "do = \"film\";name = \"a\",do = \"seal film\",do = \"film\";films = [\"red\"]";
    assert_eq!(ids(films, "pass = \"a\""), ["job/one-of"]);
    assert_eq!(ids("do = \"clear coat\";name = \"a\"", "turn = 0"), ["finish/not-for-this-step"]);
}

/// Heights by hand: films of .08 mm; the seal of .3 mm buries the pattern, so two films of the decal are left.
#[test]
fn the_step_over_the_last_coat_is_that_of_the_last_pass_and_what_shows_through() {
    let plan = planned(&job(SEALED, "pass = \"words\"", PINNED)).expect("sound");
    assert!((plan.finish.burial.step.height.get() - 0.16).abs() < 1e-9);
    // A coat of .05 mm buries .05 of the pattern's .08: .03 shows through.
    let thin = SEALED.replace("do = \"seal film\"", "do = \"seal film\";thickness = 0.05");
    let plan = planned(&job(&thin, "pass = \"words\"", PINNED)).expect("sound");
    assert!((plan.finish.burial.step.height.get() - 0.19).abs() < 1e-9, "{:?}", plan.finish.burial.step);
}
