//! Printed sheets, end to end: the demonstration's sheet through all stages, what it leaves for the next job, and a
//! print's colour on the cup.

use frusta::base::colour::{encoded, linear};
use frusta::make::piece::Kind;
use frusta::make::plan::{Plan, run};
use frusta::make::verify::verify;
use frusta::read::job::MotifArt;
use frusta::write::view::scene::Scene;
use frusta::{Effort, InMemory, Materials, kit, read_job};
use std::collections::{BTreeMap, BTreeSet};
use std::ops::ControlFlow;
use std::path::Path;

fn planned(text: &str, files: &InMemory) -> Result<Plan, Vec<String>> {
    let read = read_job(text);
    let mut diagnostics = read.diagnostics;
    let Some(job) = read.job else { return Err(diagnostics.iter().map(ToString::to_string).collect()) };
    let materials = Materials::read(&job, files);
    let plan = run(&job, &materials, Effort::Quick, &mut diagnostics, &mut |_| ControlFlow::Continue(()));
    plan.map_err(|_| diagnostics.iter().map(|d| format!("{} {d}", d.code.id)).collect())
}

/// The demonstration: fourteen of its 24 motifs, each once, in register on their sheet; the list that the kit leaves
/// is read by the next job, which is never offered what is gone.
#[test]
fn a_printed_sheet_goes_from_its_picture_to_a_kit_and_on() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("demo-data/garden-sheet");
    let text = std::fs::read_to_string(folder.join("job.toml")).expect("the job");
    let picture = std::fs::read(folder.join("scans/garden-1.png")).expect("the scan");
    assert!(picture.len() < 1_500_000, "{} bytes", picture.len());
    let mut files = InMemory(BTreeMap::from([("scans/garden-1.png".to_owned(), picture)]));
    let plan = planned(&text, &files).expect("a plan");
    assert_eq!(plan.stock[0].sheet.motifs.len(), 24);
    let used: Vec<u32> =
        plan.pieces.iter().filter_map(|p| plan.printed(p.number)).map(|on| on.number).collect();
    assert_eq!((used.len(), used.iter().collect::<BTreeSet<_>>().len()), (14, 14));
    assert!(used.contains(&2) && used.contains(&1), "what the job names: {used:?}");
    let sheet = plan.sheets.iter().find(|s| plan.job.sheet_of(s.film).is_some()).expect("its sheet");
    for placed in &sheet.placed {
        let on = plan.printed(placed.number).expect("a print");
        let (a, b) = (placed.cuts.bounds(), plan.stock[0].cuts[on.number as usize - 1].bounds());
        assert!(a.min.distance(b.min).get() < 1e-6 && a.max.distance(b.max).get() < 1e-6, "in register");
    }
    let made = kit(&verify(plan).expect("kept promises")).expect("a kit");
    let bytes = |path: &str| made.files.iter().find(|f| f.path == path).map(|f| f.bytes.clone());
    let map = String::from_utf8(bytes("sheet/garden-1.svg").expect("its map")).expect("text");
    assert!(map.contains("data:image/png;base64,"), "with the picture");
    assert!(bytes("cut/garden-1-1.svg").is_some() && bytes("sheet/garden-1-a4.pdf").is_some());
    files.0.insert("garden-1.toml".into(), bytes("leftovers/garden-1.toml").expect("what is gone"));
    let next = |count: usize| {
        let text = text.replace("# gone =", "gone =").replace("count = 13", &format!("count = {count}"));
        let text = text.replace("with = [\"garden-1/1\"]\n", "");
        let (from, to) = (text.find("[[motif]]").expect("a motif"), text.find("[[pick]]").expect("a pick"));
        planned(&format!("{}{}", &text[..from], &text[to..]), &files)
    };
    let plan = next(10).expect("ten are left");
    let again = plan.job.motifs.iter().filter_map(|m| m.art.printed());
    assert!(again.map(|on| on.number).all(|n| !used.contains(&n)), "none twice");
    assert!(plan.job.motifs.iter().all(|m| matches!(m.art, MotifArt::Printed { pick: Some(0), .. })));
    let faults = next(11).expect_err("eleven are not left");
    assert!(faults.iter().any(|f| f.starts_with("sheet/too-few")), "{faults:?}");
}

/// Truth: closed form. A print that lets half of the light through, on a cup of #d9d8d4, shows the product in
/// linear light, within two codes.
#[test]
fn a_print_shows_the_cup_through_it() {
    let (n, paper) = (320usize, [240u8, 240, 236]);
    let half = paper.map(|c| encoded(linear(c) * 0.5));
    let inside = |i: usize| {
        let (x, y) = ((i % n) as f64 - 160.0, (i / n) as f64 - 160.0);
        x * x + y * y < 90.0 * 90.0
    };
    let rgb: Vec<u8> = (0..n * n).flat_map(|i| if inside(i) { half } else { paper }).collect();
    let mut bytes = Vec::new();
    let mut e = png::Encoder::new(&mut bytes, n as u32, n as u32);
    e.set_color(png::ColorType::Rgb);
    let mut writer = e.write_header().expect("a header");
    writer.write_image_data(&rgb).expect("pixels");
    writer.finish().expect("an end");
    let text = "[cup]\nrings = [{ up = 0, girth = 200 }, { up = 100, girth = 240 }]\nwall = 100\n\
        keep-clear = { rim = 20, base = 6 }\n[[sheet]]\nname = \"s\"\npicture = \"s.png\"\nscale = 300\n\
        [[motif]]\nfrom = \"s\"\nnumber = 1\nposes = [{ azimuth = 30, up = 45, turn = 20 }]\n";
    let files = InMemory(BTreeMap::from([("s.png".to_owned(), bytes)]));
    let plan = planned(text, &files).expect("a plan");
    let cup = plan.job.print.cup.0;
    let rise = plan.cup.zones[0].surface.height().get() / 100.0;
    let scene = Scene::new(&verify(plan).expect("kept promises"));
    let print = scene.print.as_ref().expect("a print");
    let at = print.at(30f64.to_radians(), 45.0 * rise / scene.body.height);
    for k in 0..3 {
        let want = f64::from(encoded(linear(cup[k]) * 0.5));
        assert!((f64::from(at[k]) - want).abs() <= 2.0, "channel {k}: {} for {want}", at[k]);
    }
    let bare = print.at(-1.0, 0.5);
    assert!((0..3).all(|k| (bare[k] - f32::from(cup[k])).abs() < 1.0), "{bare:?}");
}

/// What is picked goes on in the film step that the pick names: over a sealed fill, which is then the fill without it,
/// spot for spot.
#[test]
fn what_is_picked_goes_on_in_the_pass_that_its_pick_names() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("demo-data/garden-sheet");
    let text = std::fs::read_to_string(folder.join("job.toml")).expect("the job");
    let picture = std::fs::read(folder.join("scans/garden-1.png")).expect("the scan");
    let files = InMemory(BTreeMap::from([("scans/garden-1.png".to_owned(), picture)]));
    let steps = "\n[finish]\n[[finish.step]]\ndo = \"film\"\nname = \"ground\"\n[[finish.step]]\n\
        do = \"seal film\"\n[[finish.step]]\ndo = \"film\"\nname = \"prints\"\n[[finish.step]]\n\
        do = \"clear coat\"\n";
    let (from, to) = (text.find("[[motif]]").expect("a motif"), text.find("[[accent]]").expect("a fill"));
    // Large spots: this is about which lie where, not how many.
    let text = text.replace("smallest = 3\nlargest = 7", "smallest = 8\nlargest = 12");
    let of = |picks: &str| planned(&format!("{}{picks}{}{steps}", &text[..from], &text[to..]), &files);
    let spots = |plan: &Plan| -> Vec<(f64, f64, f64)> {
        let spots = plan.pieces.iter().filter(|p| matches!(p.kind, Kind::Spot { .. }));
        spots.map(|p| (p.wall.azimuth.rad(), p.wall.slant.get(), p.outline.area().get())).collect()
    };
    let (bare, over) =
        (of("").expect("sound"), of("[[pick]]\ncount = 6\npass = \"prints\"\n").expect("sound"));
    assert!(spots(&bare).len() > 50);
    assert_eq!(spots(&bare), spots(&over));
    let last = over.pieces.iter().rev().take_while(|p| over.printed(p.number).is_some()).count();
    assert_eq!((last, over.pieces.len()), (6, bare.pieces.len() + 6));
    // In one pass the prints leave holes; a name that is no film step's is a fault.
    let one = of("[[pick]]\ncount = 6\npass = \"ground\"\n").expect("sound");
    assert!(spots(&one).len() < spots(&bare).len());
    let faults = of("[[pick]]\ncount = 6\npass = \"print\"\n").map(|_| ()).expect_err("no such step");
    assert!(faults.iter().any(|f| f.contains("pick[0].pass") && f.contains("prints")), "{faults:?}");
    verify(over).expect("verified");
}
