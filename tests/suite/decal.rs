//! Decals from the job's text to the kit: faults of every kind, promises measured again, and what the files
//! say.

use frusta::base::diag::{Diagnostics, Severity};
use frusta::base::frame::{Art, Point, Rigid};
use frusta::base::units::Mm;
use frusta::make::film::Effort;
use frusta::make::piece::Kind;
use frusta::make::plan::{Plan, run};
use frusta::make::verify::verify;
use frusta::read::job::read_job;
use frusta::read::source::InMemory;
use frusta::write::{KitFile, kit};
use std::ops::ControlFlow;

const HEAD: &str = r##"
title = "decals"
[cup]
rings = [{ up = 0, girth = 207.5 }, { up = 165, girth = 270.0 }]
wall = 165
keep-clear = { rim = 20, base = 6 }
[[film]]
name = "damson"
sheet = [300, 200]
[[film]]
name = "straw"
sheet = [300, 200]
mirrored = true
[[film]]
name = "leaf"
sheet = [300, 200]
"##;

const SOUND: &str = r##"
[[decal]]
text = ["Best", "in show"]
font = "Kaushan Script"
width = 60
up = "centred"
lies = "upright"
layers = [
  { film = "damson", offset = 2 },
  { film = "straw", offset = 1.2 },
  { films = ["leaf", "damson"], split = "line" },
]
"##;

fn source() -> InMemory {
    let mut files = InMemory::default();
    files.0.insert("not.ttf".into(), b"a shopping list".to_vec());
    files.0.insert("huge.ttf".into(), vec![0; 50 << 20]);
    files.0.insert(
        "own.ttf".into(),
        include_bytes!("../../src/read/letter/fonts/FredokaOne-Regular.ttf").to_vec(),
    );
    files
}

fn planned(decals: &str) -> Result<Plan, Diagnostics> {
    let read = read_job(&format!("{HEAD}{decals}"));
    let Some(job) = read.job else { return Err(read.diagnostics) };
    let mut diagnostics = Diagnostics::new();
    run(
        &job,
        &frusta::read::materials::Materials::read(&job, &source()),
        Effort::Quick,
        &mut diagnostics,
        &mut |_| ControlFlow::Continue(()),
    )
    .map_err(|_| diagnostics)
}

fn sound() -> Plan {
    planned(SOUND).unwrap_or_else(|f| panic!("{f:#?}"))
}

fn faults(decals: &str) -> Vec<(&'static str, String)> {
    let Err(diagnostics) = planned(decals) else { panic!("no fault in {decals}") };
    let faults = diagnostics.iter().filter(|d| d.severity == Severity::Fault);
    faults
        .map(|d| {
            assert!(!d.help.is_empty(), "{d:?}");
            (d.code.id, d.at.to_string())
        })
        .collect()
}

#[test]
fn every_fault_of_a_decal_is_reported_at_once_with_its_place() {
    let all = faults(
        r##"
[[decal]]
txt = "slip"
cap-height = 12
width = 60
up = "middle"
azimuth = 400
lies = "wavy"
clearance = -1
keys = 99
layers = [
  { film = "damsen", offset = 2 },
  { film = "straw" },
  { films = ["leaf"], film = "leaf", join = "round", mitre-limit = 3 },
]
"##,
    );
    let has = |id: &str, at: &str| all.iter().any(|(i, a)| *i == id && a == at);
    for (id, at) in [
        ("job/unknown-key", "decal[0].txt"),
        ("job/missing-key", "decal[0].text"),
        ("job/unknown-choice", "decal[0].up"),
        ("job/out-of-range", "decal[0].azimuth"),
        ("job/unknown-choice", "decal[0].lies"),
        ("job/out-of-range", "decal[0].clearance"),
        ("job/out-of-range", "decal[0].keys"),
        ("job/unknown-film", "decal[0].layers[0].film"),
        ("job/missing-key", "decal[0].layers[1].offset"),
        ("job/one-of", "decal[0].layers[2].split"),
        ("job/one-of", "decal[0].layers[2].mitre-limit"),
    ] {
        assert!(has(id, at), "{id} at {at} is not among {all:#?}");
    }
}

#[test]
fn bad_texts_and_fonts_are_clear_faults() {
    let layers = "up = 80\nlayers = [{ film = \"damson\", offset = 2 }, { film = \"leaf\" }]";
    let with = |text: &str, font: &str| {
        faults(&format!("[[decal]]\ntext = {text}\nfont = \"{font}\"\nwidth = 60\n{layers}"))
    };
    let long = format!("\"{}\"", "a".repeat(10_000));
    for (text, font, code) in [
        ("\"\"", "Kaushan Script", "job/unreadable"),
        ("\"  \"", "Kaushan Script", "job/unreadable"),
        ("[]", "Kaushan Script", "job/out-of-range"),
        ("\"a\\u0007b\"", "Kaushan Script", "job/unreadable"),
        (long.as_str(), "Kaushan Script", "letter/text"),
        ("\"Fair \u{1f41d}\"", "Kaushan Script", "letter/no-glyph"),
        ("\"Fair\"", "not.ttf", "letter/bad-font"),
        ("\"Fair\"", "huge.ttf", "job/file-missing"),
        ("\"Fair\"", "none.ttf", "job/file-missing"),
        ("\"Fair\"", "../own.ttf", "job/file-name"),
        ("\"Fair\"", "Quite Unheard Of", "letter/unknown-font"),
    ] {
        let all = with(text, font);
        assert!(all.iter().any(|(id, _)| *id == code), "{text:.20} {font}: {all:?}");
    }
    assert!(
        planned(&format!("[[decal]]\ntext = \"Fair\"\nfont = \"own.ttf\"\nwidth = 60\n{layers}")).is_ok()
    );
}

/// A decal whose font cannot be had does not hide what is wrong with the next one.
#[test]
fn a_bad_font_hides_no_other_fault() {
    let one = |text: &str, font: &str| {
        let layers = "layers = [{ film = \"leaf\" }]";
        format!("[[decal]]\ntext = \"{text}\"\nfont = \"{font}\"\nwidth = 60\nup = 80\n{layers}\n")
    };
    let all = faults(&format!("{}{}", one("Fair", "not.ttf"), one("Bee \u{1f41d}", "Kaushan Script")));
    let ids: Vec<&str> = all.iter().map(|(id, _)| *id).collect();
    assert_eq!(ids, ["letter/bad-font", "letter/no-glyph"], "{all:?}");
}

#[test]
fn what_only_lettering_can_do_is_not_asked_of_a_drawing() {
    let layers = "layers = [{ films = [\"leaf\", \"damson\"], split = \"word\" }]";
    let all =
        faults(&format!("[[decal]]\nart = \"a.svg\"\nwidth = 60\nup = 80\nlies = \"upright\"\n{layers}"));
    assert_eq!(all.iter().filter(|(id, _)| *id == "job/one-of").count(), 2, "{all:?}");
    let all = faults(
        "[[decal]]\nart = \"a.svg\"\ntext = \"x\"\nwidth = 60\nup = 80\nlayers = [{ film = \"leaf\" }]",
    );
    assert_eq!(all[0].0, "job/one-of");
}

#[test]
fn pieces_of_a_decal_are_numbered_first_base_to_top_and_share_their_frame() {
    let plan = sound();
    let kinds: Vec<Kind> = plan.pieces.iter().map(|p| p.kind.clone()).collect();
    let layer = |layer| Kind::Layer { decal: 0, layer };
    assert_eq!(kinds, [layer(0), layer(1), layer(2), layer(2)]);
    assert!(plan.pieces.iter().all(|p| p.wall == plan.pieces[0].wall && p.keys == plan.pieces[0].keys));
    let report = verify(plan).expect("kept").report().clone();
    assert_eq!(report.decal_layers, 3);
    assert!(report.least_spare_between_layers.is_some_and(|s| s >= Mm::ZERO && s < Mm(0.1)), "{report:?}");
}

type Damage<'a> = &'a dyn Fn(&mut Plan);

/// The second measuring finds what a slip of the maker would do.
#[test]
fn a_decal_that_does_not_keep_its_promises_is_found_out() {
    let nudged: Rigid<Art, Art> = Rigid::from_parts(1.0, 0.0, Point::mm(0.1, 0.0));
    let slightly: Rigid<Art, Art> = Rigid::from_parts(1.0, 0.0, Point::mm(0.002, 0.0));
    let damage: [(&str, Damage); 6] = [
        ("a layer moved by a tenth", &|p| p.pieces[1].outline = p.pieces[1].outline.moved(&nudged)),
        ("a layer too small", &|p| {
            p.pieces[0].outline = p.pieces[0].outline.offset(Mm(-0.1), frusta::outline::Join::Round);
        }),
        ("layers swapped", &|p| {
            let a = p.pieces[0].outline.clone();
            p.pieces[0].outline = std::mem::replace(&mut p.pieces[1].outline, a);
        }),
        ("keys moved on one piece", &|p| p.pieces[2].keys = p.pieces[2].keys.moved(&slightly)),
        ("keys lost on one piece", &|p| p.pieces[1].keys = frusta::outline::Region::empty()),
        ("keys cut elsewhere", &|p| {
            let placed = &mut p.sheets[0].placed[0];
            let moved = placed.cuts.moved(&Rigid::from_parts(1.0, 0.0, Point::mm(0.002, 0.0)));
            placed.cuts = moved;
        }),
    ];
    for (what, damage) in damage {
        let mut plan = sound();
        damage(&mut plan);
        assert!(verify(plan).is_err(), "{what} went unnoticed");
    }
}

fn file<'a>(files: &'a [KitFile], path: &str) -> &'a str {
    let f = files.iter().find(|f| f.path == path).unwrap_or_else(|| panic!("no {path}"));
    std::str::from_utf8(&f.bytes).expect("text")
}

#[test]
fn the_kit_shows_each_decal_and_says_what_is_mirrored() {
    let kit = kit(&verify(sound()).expect("kept")).expect("a kit");
    // Lines are broken to the paper's width: read them as one text.
    let said: String = file(&kit.files, "view/decal-1.svg")
        .split('<')
        .filter_map(|t| t.split_once('>'))
        .fold(String::new(), |all, (_, text)| all + " " + text);
    let said = said.split_whitespace().collect::<Vec<_>>().join(" ");
    for words in
        ["Layer by layer on the cup", "stacked flat", "hinge line", "so mirrored on the sheet: straw"]
    {
        assert!(said.contains(words), "the paper does not say {words}");
    }
    let straw = file(&kit.files, "cut/straw-1.svg");
    let damson = file(&kit.files, "cut/damson-1.svg");
    let not_cut = |s: &str| s.split("id=\"do-not-cut\"").nth(1).expect("a group").matches("<path").count();
    // Two check bars, and the words on the mirrored sheet.
    assert_eq!((not_cut(straw), not_cut(damson)), (3, 2));
    let manifest: serde_json::Value = serde_json::from_str(file(&kit.files, "manifest.json")).expect("JSON");
    let decal = &manifest["decals"][0];
    assert_eq!(decal["layers"].as_array().expect("layers").len(), 3);
    assert_eq!(decal["layers"][2]["pieces"], serde_json::json!([3, 4]));
    assert_eq!(decal["keys_mm"].as_array().expect("keys").len(), 2);
    assert_eq!(decal["method"], "layer-by-layer");
    assert!((decal["thickest_mm"].as_f64().expect("a number") - 0.24).abs() < 1e-9);
}

#[test]
fn motifs_and_spots_keep_clear_of_a_decal() {
    let spots = r##"
[[accent]]
family = "pebble"
smallest = 5
largest = 8
gap = 2
film = "leaf"
"##;
    let plan = planned(&format!("{SOUND}{spots}")).unwrap_or_else(|f| panic!("{f:#?}"));
    assert!(plan.pieces.iter().any(|p| matches!(p.kind, Kind::Spot { .. })));
    // The wall's promises hold between spots and the decal's layers too.
    assert!(verify(plan).is_ok());
}

#[test]
fn the_same_job_gives_the_same_bytes() {
    let made = || kit(&verify(sound()).expect("kept")).expect("a kit").files;
    assert_eq!(made(), made());
}
