//! Each fact of the trade in `fixtures/worked-examples.json`, read there and held to what the program does. Their basis
//! stands beside them: common practice without a source, but for the supplier pages and the EU directive that are named.

use crate::planned;
use frusta::make::finish::Finish;
use frusta::read::job::finish::StepKind;
use frusta::read::job::tables;
use frusta::{Effort, Severity};
use serde_json::Value;
use std::collections::BTreeSet;

fn facts() -> Vec<Value> {
    let all: Value = serde_json::from_str(include_str!("../../fixtures/worked-examples.json")).expect("JSON");
    all["trade_facts"].as_array().expect("a list").clone()
}

fn fact(id: &str) -> Value {
    facts().into_iter().find(|f| f["id"] == id).unwrap_or_else(|| panic!("no fact {id}"))["values"].clone()
}

fn span(v: &Value) -> std::ops::RangeInclusive<f64> {
    v[0].as_f64().expect("a number")..=v[1].as_f64().expect("a number")
}

fn number(v: &Value) -> f64 {
    v.as_f64().expect("a number")
}

/// The default of a key of the job, or its example, as a number.
fn key(table: &str, name: &str) -> f64 {
    let t = tables().into_iter().find(|t| t.path == table).expect("a table");
    let k = t.keys.iter().find(|k| k.row().name == name).expect("a key");
    let words = k.default_words();
    let text = if words.is_empty() { k.row().example.to_owned() } else { words };
    text.split(' ').next().and_then(|w| w.parse().ok()).unwrap_or_else(|| panic!("{name}: {text}"))
}

/// A cup of 22 US fl oz with one leaf on it, and these steps.
fn cup(steps: &str) -> (Finish, Vec<String>) {
    let head = r#"
[cup]
rings = [{ up = 0, girth = 216 }, { up = 165, girth = 278 }]
wall = 165
[[film]]
name = "ivory"
sheet = [300, 200]
[[motif]]
art = "leaf.svg"
width = 30
film = "ivory"
poses = [{ azimuth = 20, up = 70 }]
[finish]
[[finish.product]]
name = "uv"
kind = "uv resin"
[[finish.product]]
name = "epoxy"
kind = "two-part resin"
mix = [1, 1]
[[finish.product]]
name = "top"
kind = "two-part resin"
mix = [2, 1]
[[finish.product]]
name = "fine"
kind = "glitter"
[[finish.product]]
name = "coarse"
kind = "glitter"
grain = "coarse"
"#;
    let steps: String = steps.split(';').map(|s| format!("[[finish.step]]\n{}\n", s.trim())).collect();
    let (plan, told) = planned::run(&format!("{head}{steps}"), &planned::leaf(), Effort::Quick);
    let warned = told.iter().filter(|d| d.severity > Severity::Note).map(|d| d.code.id.to_owned()).collect();
    (plan.unwrap_or_else(|| panic!("{told:#?}")).finish, warned)
}

const NONE: [String; 0] = [];

#[test]
fn the_usual_coats_of_a_cup_of_22_ounces() {
    let f = fact("coats-of-22-ounces");
    let (plan, _) = cup(
        "do = \"film\"; do = \"seal film\"\nwith = \"epoxy\"; do = \"clear coat\"\nwith = \"epoxy\"; do = \"thin coat\"\nwith = \"epoxy\"",
    );
    let needs: Vec<f64> = plan.steps.iter().map(|s| s.needs.0).collect();
    for (got, want) in needs[1..].iter().zip(["seal_ml", "full_ml", "thin_ml"]) {
        assert!(span(&f[want]).contains(got), "{want}: {got}");
    }
}

#[test]
fn film_lettering_spots_strain_and_tape_are_as_the_defaults_say() {
    let f = fact("film-thickness");
    assert!(span(&f["calendered_mm"]).contains(&key("film", "thickness")));
    // Strokes from the width that film is weeded at, which care reaches, up to the sign shop's rule.
    let f = fact("lettering-least");
    let weed = key("film", "weed");
    assert!(weed <= number(&f["stroke_with_care_mm"]) && weed < number(&f["stroke_mm"]));
    // Letters of the rule's height need no mending of a plain face (measured: its strokes there).
    let face = "[cup]\nrings = [{ up = 0, girth = 213 }, { up = 160, girth = 273 }]\nwall = 160\n[[film]]\nname = \"ivory\"\nsheet = \
        [300, 200]\n[[decal]]\ntext = \"MARROW\"\nfont = \"Source Sans Pro Bold\"\ncap-height = 10\nup = 80\nlayers = [{ film = \"ivory\" }]\n";
    let thin = |text: &str| {
        let (_, told) = planned::run(text, &planned::leaf(), Effort::Quick);
        told.iter().any(|d| d.code.id == "weed/too-thin")
    };
    assert!(!thin(face), "letters of {} mm", f["height_mm"]);
    assert!(
        thin(&face.replace("cap-height = 10", "cap-height = 3")),
        "letters of 3 mm have strokes of half a millimetre"
    );
    let f = fact("spots-least");
    assert!(
        key("accent", "smallest") >= *span(&f["spot_mm"]).start()
            && key("accent", "gap") >= number(&f["gap_mm"])
    );
    let f = fact("film-strain");
    let take_up = key("film", "take-up");
    assert!(span(&f["plan_percent"]).contains(&take_up) && take_up < number(&f["overstretched_percent"]));
    let f = fact("tape-reading");
    let tape = key("cup", "tape");
    assert!(span(&f["read_mm"]).contains(&tape), "the default is a reading with care");
    // EU MID annex MI-008, class II: plus or minus (0.3 + 0.2 L) mm, L in metres; a girth of 250 mm.
    approx::assert_relative_eq!(0.3 + 0.2 * 0.25, number(&f["class_ii_mm_at_250"]), epsilon = 1e-12);
    assert!(number(&f["class_ii_mm_at_250"]) < tape, "a tape of class II is not what limits a reading");
}

#[test]
fn lamps_glue_and_several_glitters() {
    let steps = "do = \"adhesive\"\nwith = \"uv\"; do = \"glitter\"\nglitters = [{ with = \"fine\" }, { with = \"coarse\", cover = 40 }, { with = \"fine\", cover = 20 }, { with = \"coarse\", cover = 10 }]; do = \"cure\"; \
        do = \"glue seal\"; do = \"clear coat\"\nwith = \"epoxy\"; do = \"thin coat\"\nwith = \"epoxy\"; do = \"film\"; do = \"clear coat\"\nwith = \"top\"; do = \"clear coat\"\nwith = \"uv\"\nover = \"base\"; do = \"cure\"";
    let (plan, warned) = cup(steps);
    assert_eq!(warned, NONE);
    let wall = plan.steps[2].turning.expect("under the lamp").0;
    let base = plan.steps[8].area;
    let lamp =
        frusta::read::job::finish::usual_product(frusta::read::job::finish::ProductKind::UvResin, "uv").lamp;
    let base = lamp.expect("a lamp").time(base).0;
    for f in [fact("glue-seal-and-lamp"), fact("uv-adhesive")] {
        assert!(span(&f["wall_under_lamp_min"]).contains(&f64::from(wall)), "{wall} min");
        assert!(span(&f["base_under_lamp_min"]).contains(&f64::from(base)), "{base} min");
    }
    assert_eq!(plan.steps[1].glitters.len() as f64, number(&fact("several-glitters")["glitters"]));
    let f = fact("glue-and-water");
    let seal = &plan.steps[3];
    assert_eq!(seal.thinned.expect("water").parts, number(&f["water_to_glue"]));
    for dry in [&f["dry_min"], &fact("glue-seal-and-lamp")["glue_seal_dry_min"]] {
        assert_eq!(f64::from(seal.next_from.0), number(dry));
    }
    let resins: BTreeSet<_> = plan
        .steps
        .iter()
        .filter(|s| {
            matches!(s.kind, StepKind::Clear | StepKind::Level)
                && s.name.starts_with(s.kind.name())
                && !s.name.ends_with("base")
        })
        .filter_map(|s| s.product.clone())
        .collect();
    assert_eq!(resins.len() as f64, number(&fact("two-resins")["resins"]));
    let sealed = plan.steps.iter().filter(|s| s.kind == StepKind::Seal).count();
    assert_eq!(sealed as f64, number(&fact("no-seal-needed")["seal_steps"]));
    // Two coats over coarse glitter; one is told.
    let one = steps.replace("do = \"thin coat\"\nwith = \"epoxy\"; ", "");
    assert_eq!(number(&fact("coarse-is-levelled")["clear_coats"]), 2.0);
    assert_eq!(cup(&one).1, ["finish/glitter-not-levelled"]);
}

#[test]
fn six_coats_and_thirty_millilitres() {
    let coat = "; do = \"clear coat\"\nwith = \"epoxy\"";
    let six = format!(
        "do = \"film\"; do = \"seal film\"\nwith = \"epoxy\"{}; do = \"thin coat\"\nwith = \"epoxy\"",
        coat.repeat(4)
    );
    let mixed: f64 = cup(&six).0.steps.iter().flat_map(|s| &s.batches).map(|b| b.mix.batch.0).sum();
    assert!(span(&fact("six-coats")["mixed_ml"]).contains(&mixed), "{mixed} ml");
    let f = fact("mixed-as-thirty");
    let asked = number(&f["mixed_ml"]);
    let pour = format!("do = \"clear coat\"\nwith = \"epoxy\"\nbatch = \"a\"\nmix-at-once = \"{asked} ml\"");
    let rest = "do = \"thin coat\"\nwith = \"epoxy\"\nbatch = \"a\"\nvolume = \"rest\"\ncover = 30\nstir-in = { with = \"fine\" }";
    let (plan, warned) = cup(&format!("do = \"film\"; {pour}; {rest}"));
    assert_eq!(warned, NONE);
    let (first, second) = (&plan.steps[1], &plan.steps[2]);
    assert!(span(&f["needs_ml"]).contains(&first.needs.0), "{}", first.needs);
    assert_eq!(first.batches[0].mix.batch.0, asked);
    approx::assert_relative_eq!(first.needs.0 + second.needs.0, asked, epsilon = 1e-9);
    // Only what it needs is on the wall: 30 ml are not 30 ml of thickness.
    approx::assert_relative_eq!(first.thickness.0, 0.4, epsilon = 1e-9);
    assert_eq!((second.served_by, second.batches.len()), (Some(2), 0));
    // A tenth of the weight of the resin (1 : 1 of 1.13 and 1.00 g/ml).
    let glitter = second.stirred.as_ref().expect("glitter in it");
    approx::assert_relative_eq!(glitter.weight.0, second.needs.0 * 1.065 * 0.1, epsilon = 1e-9);
    let bought = plan.buy.iter().find(|b| b.item == "epoxy").expect("resin");
    approx::assert_relative_eq!(bought.amount, asked, epsilon = 1e-9);
}

/// Every fact is asked for by a test of this file.
#[test]
fn each_fact_is_read() {
    let source = include_str!("trade_facts.rs");
    for f in facts() {
        let id = f["id"].as_str().expect("an id");
        assert!(source.contains(&format!("fact(\"{id}\")")), "{id} is read by no test");
        assert!(f["basis"].as_str().is_some_and(|b| !b.is_empty()), "{id} says no basis");
    }
}

/// The mark between two coats; `bench_order` takes each of them away.
#[test]
fn the_mark_lies_between_two_coats() {
    let f = fact("base-mark");
    let coat = "; do = \"thin coat\"\nwith = \"uv\"\nover = \"base\"";
    let steps = |under: usize, over: usize| {
        format!(
            "do = \"film\"; do = \"clear coat\"\nwith = \"top\"{}; do = \"base mark\"{}; do = \"cure\"\n[finish.base]\nfilm = \"none\"\nmark = {{ art = \"leaf.svg\", size = 20, film = \"ivory\" }}",
            coat.repeat(under),
            coat.repeat(over)
        )
    };
    let (under, over) = (number(&f["coats_under"]) as usize, number(&f["coats_over"]) as usize);
    assert_eq!(cup(&steps(under, over)).1, NONE);
    assert_eq!(cup(&steps(under - 1, over)).1, ["finish/base-mark-step"]);
    assert_eq!(cup(&steps(under, over - 1)).1, ["finish/base-mark-step"]);
}
