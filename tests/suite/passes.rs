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
    // With a halo nothing of the pattern lies under the decal: its two films are the highest.
    let plan = planned(&job(&thin, "pass = \"words\"\nhalo = 2", "copies = 2")).expect("sound");
    assert!((plan.finish.burial.step.height.get() - 0.16).abs() < 1e-9, "{:?}", plan.finish.burial.step);
}

/// Each piece is drawn full on the map of its own pass and on no other, what goes on before it as an outline for each
/// place where it is seen; a job of one pass has the whole map only.
#[test]
fn the_map_shows_each_pass_over_those_before() {
    use frusta::write::map::{passes, rows, wall, zones};
    let whole = |plan: &frusta::Verified| {
        let full = wall::body(plan).0.groups.into_iter().map(|g| g.id);
        full.filter(|id| id.strip_prefix('m').is_some_and(|n| n.parse::<u32>().is_ok())).collect::<Vec<_>>()
    };
    let plan = planned(&job(SEALED, "pass = \"words\"", PINNED)).expect("sound");
    let plan = frusta::verify(plan).expect("verified");
    let passes = passes::all(&plan);
    assert_eq!(
        passes.iter().map(|p| p.heading()).collect::<Vec<_>>(),
        ["\"pattern\", film step 1 of 2", "\"words\", film step 2 of 2"]
    );
    let mut shown = Vec::new();
    for (k, pass) in passes.iter().enumerate() {
        let (d, _) = wall::body_of(&plan, Some(pass));
        let own: Vec<String> = plan
            .pieces()
            .iter()
            .filter(|p| p.pass(plan.job()) == k)
            .map(|p| format!("m{}", p.number))
            .collect();
        let ids: Vec<String> =
            d.groups.iter().map(|g| g.id.clone()).filter(|id| whole(&plan).contains(id)).collect();
        assert_eq!(ids, own);
        // Outlines of what lies there: those before, and those that cross the seam once more at its other end.
        let faint = d.groups.iter().find(|g| g.id == "before").map_or(0, |g| g.marks.len());
        let before = plan.pieces().iter().filter(|p| p.pass(plan.job()) < k).count();
        assert!((before..=before + before / 3).contains(&faint), "{faint} of {before}");
        // Drawn under what goes on now.
        let at = |id: &str| d.groups.iter().position(|g| g.id == id);
        assert!(k == 0 || at("before") < at(&own[0]));
        shown.extend(ids);
    }
    assert_eq!(shown, whole(&plan));
    let rows = rows::rows(&plan);
    let windows = zones::windows(&plan, &rows);
    let mut numbers: Vec<u32> = windows.iter().flat_map(|w| w.own.iter().map(|s| s.piece.number)).collect();
    numbers.sort_unstable();
    assert_eq!(numbers, plan.pieces().iter().map(|p| p.number).collect::<Vec<_>>());
    for w in &windows {
        let order = w.pass.as_ref().expect("a pass").order;
        assert!(w.own.iter().all(|s| s.piece.pass(plan.job()) == order));
        assert_eq!(w.under.is_empty(), order == 0);
    }
    let kit = frusta::kit(&plan).expect("a kit");
    let file = |path: &str| kit.files.iter().find(|f| f.path == path).expect("there").bytes.clone();
    let page = String::from_utf8(file("map/map.html")).expect("text");
    assert!(page.contains("<h2 id=\"step-2-front-") && page.contains(">&quot;words&quot;: front, "));
    // The whole and each pass, and the zones or tables of both.
    let pdf = file("map/map-a4.pdf");
    let pages = pdf.windows(11).filter(|w| w.starts_with(b"/Type /Page")).count() - 1;
    assert!(pages >= 5, "{pages}");

    let one = planned(&job("do = \"film\",do = \"clear coat\"", "turn = 0", "copies = 3")).expect("sound");
    let one = frusta::verify(one).expect("verified");
    assert!(passes::all(&one).is_empty());
    assert!(zones::windows(&one, &rows::rows(&one)).iter().all(|w| w.pass.is_none() && w.under.is_empty()));
}

/// Closed forms: a coat of b lengthens every circumference by 2 pi b cos(lean) and leaves the wall's height; the later
/// step's ring on the template has these girths, and stands on the template's foot. Of one pass there is none.
#[test]
fn a_later_step_has_the_ring_of_its_own_wall_on_the_template() {
    use frusta::write::template::band::bands;
    use frusta::write::template::later;
    for thickness in [0.3, 0.8] {
        let steps =
            SEALED.replace("do = \"seal film\"", &format!("do = \"seal film\";thickness = {thickness}"));
        let plan = planned(&job(&steps, "pass = \"words\"", PINNED)).expect("sound");
        let plan = frusta::verify(plan).expect("verified");
        let found = later::steps(&plan);
        assert_eq!(found.len(), 1);
        let sine = 40.0 / (std::f64::consts::TAU * 100.0);
        let grown = std::f64::consts::TAU * thickness * f64::sqrt(1.0 - sine * sine);
        assert!((found[0].longer.get() - grown).abs() < 1e-9, "{} {grown}", found[0].longer);
        let zone = &plan.cup().zones[0];
        let band = &bands(plan.cup(), plan.job().cup.lap, frusta::base::frame::Point::mm(0.0, 0.0))[0];
        let ring = later::ring(zone, found[0].under, band);
        let (left, right) = ring.ends();
        for (slant, bare) in [(0.0, 200.0), (50.0, 220.0), (100.0, 240.0)] {
            let slant = frusta::base::units::Mm(slant);
            let n = 4000;
            let at = |k: i32| ring.at(left + (right - left) * (f64::from(k) / f64::from(n)), slant);
            let long: f64 = (0..n).map(|k| at(k).distance(at(k + 1)).get()).sum();
            assert!((long - bare - grown).abs() < 1e-3, "{slant}: {long}");
        }
        let up = |b: &frusta::write::template::band::Band| {
            b.at(b.middle, b.low).distance(b.at(b.middle, b.wall)).get()
        };
        assert!((up(&ring) - up(band)).abs() < 1e-9);
        assert!(ring.at(ring.middle, ring.low).distance(band.at(band.middle, band.low)).get() < 1e-9);
        let kit = frusta::kit(&plan).expect("a kit");
        let text = |path: &str| {
            String::from_utf8(kit.files.iter().find(|f| f.path == path).expect("there").bytes.clone())
                .expect("text")
        };
        assert!(text("template/wrap.svg").contains("id=\"wall-of-step-2\""));
        let titles: Vec<String> = frusta::write::map::passes::all(&plan).iter().map(|p| p.title()).collect();
        assert!(!titles[0].contains("longer round"));
        assert!(titles[1].contains(&format!("on a wall {grown:.2} mm longer round")), "{}", titles[1]);
    }
    let one = planned(&job("do = \"film\",do = \"clear coat\"", "turn = 0", "copies = 3")).expect("sound");
    assert!(later::steps(&frusta::verify(one).expect("verified")).is_empty());
}
