//! The reader of `[finish]`: what a full section says, what an empty one means, and every fault at once.

use super::*;
use crate::base::moment::{DayOfWeek, Minutes};
use crate::base::money::{Money, Share, parsed};
use crate::base::units::{Grams, Ml, Mm, Mm2};
use crate::read::job::{FilmId, ParsedJob, read_job};
use proptest::prelude::*;

const HEAD: &str = r#"
[cup]
rings = [{ up = 0, girth = 207.3 }, { up = 165, girth = 270.2 }]
wall = 165
[[film]]
name = "leaf"
sheet = [300, 200]
[[film]]
name = "straw"
roll = 305
[[motif]]
art = "art/pear.svg"
film = "leaf"
"#;

fn read(finish: &str) -> ParsedJob {
    read_job(&format!("{HEAD}\n{finish}"))
}
fn spec(finish: &str) -> FinishSpec {
    let r = read(finish);
    let faults: Vec<String> =
        r.diagnostics.iter().map(|d| format!("{} {}: {}", d.code.id, d.at, d.message)).collect();
    r.job.unwrap_or_else(|| panic!("{faults:#?}")).finish.expect("a finish section")
}
/// Codes and places of all faults.
fn faults(finish: &str) -> Vec<(String, String)> {
    let r = read(finish);
    assert!(r.job.is_none(), "{finish} is taken for sound");
    for d in r.diagnostics.iter() {
        assert!(!d.help.is_empty(), "{}: {} has no mend", d.at, d.message);
    }
    r.diagnostics.iter().map(|d| (d.code.id.to_owned(), d.at.to_string())).collect()
}
fn one(finish: &str, code: &str, at: &str) {
    assert_eq!(faults(finish), [(code.to_owned(), at.to_owned())], "{finish}");
}

#[test]
fn a_job_without_the_section_has_none_and_an_empty_one_is_the_usual_way() {
    assert!(read("").job.unwrap().finish.is_none());
    assert_eq!(spec("[finish]"), FinishSpec::default());
}

/// Everything that a job can say of finishing.
const EVERYTHING: &str = r#"
[finish]
cups = 6
loss = { is = 30, basis = "own measurement" }
sanding-margin = "0.2 mm"
spelling = ["Best in show", "1912"]

[[finish.product]]
name = "clear"
kind = "two-part resin"
basis = "data sheet"
mix = [2, 1]
mix-by-weight = [100, 47]
smallest = "30 ml"
pot-life = "40 min"
recoat-from = "4 h"
recoat-until = { is = "18 h", basis = "own measurement" }
hard = "1 d"
cured = "7 d"
weight-step = 1
price = 24.90
pack = "750 ml"

[[finish.product]]
name = "gold dust"
kind = "glitter"
density = 1.5
price = "3.20"
pack = "50 g"

[[finish.product]]
name = "glue"
kind = "glue"

[[finish.band]]
name = "foot"
from = 0
to = 40
fade-high = 15

[[finish.step]]
do = "adhesive"
over = "foot"

[[finish.step]]
do = "glitter"
over = "foot"
weighed = { before = 310, after = 312.5, area-cm2 = 80 }

[[finish.step]]
do = "clear coat"
with = "clear"
volume = "24 ml"
loss = 40
each = "7 min"
wait = "20 h"

[[finish.step]]
do = "film"
films = ["leaf"]

[[finish.step]]
do = "clear coat"
thickness = "16 mil"
done = true

[finish.times]
start = 2026-09-01T18:00:00
due = 2026-09-20
hours = ["mon-fri 18:00-21:30", "sat 9-13"]
off = [2026-09-05]
seats = 2
weed = "8 s"
place = { is = "20 s", basis = "own measurement" }

[finish.base]
across = 64
ring = 8
film = "leaf"
ring-film = "straw"
mark = { art = "art/pear.svg", size = 20 }

[finish.price]
currency = "EUR"
hour = 18
blank = 9.5
films = { leaf = { per-sheet = 2.4 }, straw = { per-metre = 3.20 } }
fee = 3.5
fee-fixed = 0.35
markup = 25
round-to = 0.5
breaks = [12, 1, 6, 6]
valid = "60 d"
"#;

#[test]
fn everything_that_can_be_said_is_read() {
    let s = spec(EVERYTHING);
    assert_eq!((s.cups, s.loss), (6, Rate { value: 0.3, basis: Basis::OwnMeasurement }));
    assert_eq!(s.sanding_margin, Rate { value: Mm(0.2), basis: Basis::Entered });
    let p = &s.products[0];
    let mix = p.mix.unwrap();
    assert_eq!((mix.a.value, mix.b.value, mix.a.basis), (2.0, 1.0, Basis::DataSheet));
    // Both ratios give that of the densities: 47/100 over 1/2.
    approx::assert_relative_eq!(mix.density_b.value / mix.density_a.value, 0.94, epsilon = 1e-12);
    assert_eq!(p.recoat_until, Some(Rate { value: Minutes::hours(18), basis: Basis::OwnMeasurement }));
    assert_eq!(p.turning.basis, Basis::CommonPractice);
    assert_eq!(p.pack, Some((Money(parsed("24.9").unwrap()), Content::Volume(Ml(750.0)))));
    assert_eq!(s.products[1].pack.unwrap().1, Content::Weight(Grams(50.0)));
    assert_eq!(s.bands[0].fade_high, Mm(15.0));
    assert_eq!(s.steps.len(), 5);
    assert_eq!((s.steps[0].over, s.steps[0].product), (Over::ColourBand(0), Some(ProductId(2))));
    assert_eq!(
        s.steps[1].dose,
        Some(Dose::Weighed { before: Grams(310.0), after: Grams(312.5), area: Some(Mm2(8000.0)) })
    );
    assert_eq!(s.steps[2].dose, Some(Dose::Volume(Rate { value: Ml(24.0), basis: Basis::Entered })));
    assert_eq!(s.steps[2].loss.unwrap().value, 0.4);
    assert_eq!(s.steps[3].films, [FilmId(0)]);
    assert!(s.steps[4].done && s.steps[4].product == Some(ProductId(0)));
    let t = &s.times;
    assert_eq!(t.start.unwrap().to_string(), "Tue 2026-09-01 18:00");
    assert_eq!(t.hours.value.len(), 6);
    assert_eq!(t.hours.value[5].day, DayOfWeek::Sat);
    assert_eq!((t.seats.value, t.weed_s.value, t.place_s.basis), (2, 8.0, Basis::OwnMeasurement));
    let b = s.base.as_ref().unwrap();
    assert_eq!(
        (b.centre_film, b.ring_film, b.mark.as_ref().unwrap().film),
        (Some(FilmId(0)), Some(FilmId(1)), Some(FilmId(0)))
    );
    let price = s.price.as_ref().unwrap();
    assert_eq!(price.films[&FilmId(1)], FilmPrice::PerMetre(Money(parsed("3.2").unwrap())));
    assert_eq!(price.margin(), Share::percent(parsed("20").unwrap()));
    assert_eq!((price.breaks.as_slice(), price.valid_days), ([1, 6, 12].as_slice(), 60));
}

#[test]
fn a_tenth_stays_a_tenth() {
    let s = spec("[finish.price]\ncurrency = \"EUR\"\nhour = 0.1\nblank = 0.30\nfee = 3.3");
    let p = s.price.unwrap();
    assert_eq!(p.hour.0 + p.hour.0 + p.hour.0, p.blank.0);
    assert_eq!(p.fee, Share(parsed("0.033").unwrap()));
}

#[test]
fn each_fault_has_its_code_its_place_and_its_mend() {
    let money = "[finish.price]\ncurrency = \"EUR\"\nhour = 18\n";
    one(&format!("{money}blank = -3"), "job/out-of-range", "finish.price.blank");
    one(&format!("{money}fee = 60\nmargin = 40"), "finish/nothing-left-of-the-price", "finish.price.margin");
    one(&format!("{money}fee = 100"), "finish/nothing-left-of-the-price", "finish.price.fee");
    one(&format!("{money}margin = 20\nmarkup = 25"), "job/one-of", "finish.price.markup");
    one(
        &format!("{money}films = {{ leaf = {{ per-metre = 2 }} }}"),
        "finish/film-priced-the-wrong-way",
        "finish.price.films.leaf.per-metre",
    );
    one(
        &format!("{money}films = {{ leav = {{ per-sheet = 2 }} }}"),
        "job/unknown-film",
        "finish.price.films.leav",
    );
    one(&format!("{money}marginn = 20"), "job/unknown-key", "finish.price.marginn");
    one(&format!("{money}fee = 1e1"), "job/unreadable", "finish.price.fee");
    one("[finish.price]\ncurrency = \"euro\"\nhour = 1", "job/unreadable", "finish.price.currency");
    one(
        "[finish.times]\nhours = [\"mon 9-12\", \"mon-tue 11-13\"]",
        "finish/working-hours",
        "finish.times.hours[1]",
    );
    one("[finish.times]\nhours = [\"mon 12-9\"]", "finish/working-hours", "finish.times.hours[0]");
    one("[finish.times]\nstart = \"tomorrow\"", "job/unreadable", "finish.times.start");
    one("[finish.times]\nsheet = 10", "job/wrong-kind", "finish.times.sheet");
    one("[finish.times]\nsheet = \"90 s\"", "job/unreadable", "finish.times.sheet");
}

#[test]
fn each_fault_of_bands_steps_and_products_has_its_code_and_its_place() {
    one("[[finish.band]]\nname = \"a\"\nfrom = 40\nto = 10", "finish/band-upside-down", "finish.band[0].to");
    one(
        "[[finish.band]]\nname = \"a\"\nfrom = 0\nto = 10\nfade-low = 11",
        "finish/band-upside-down",
        "finish.band[0].fade-low",
    );
    one("[[finish.band]]\nname = \"wall\"\nfrom = 0\nto = 10", "finish/name-taken", "finish.band[0].name");
    one(
        "[[finish.step]]\ndo = \"sand\"\nthickness = 0.4",
        "finish/not-for-this-step",
        "finish.step[0].thickness",
    );
    one(
        "[[finish.step]]\ndo = \"clear coat\"\nthickness = 0.4\nvolume = 20",
        "finish/not-for-this-step",
        "finish.step[0].volume",
    );
    one("[[finish.step]]\ndo = \"clear coat\"\nover = \"fot\"", "finish/unknown-band", "finish.step[0].over");
    one(
        "[[finish.step]]\ndo = \"clear coat\"\nwith = \"resin\"",
        "finish/unknown-product",
        "finish.step[0].with",
    );
    one(
        "[[finish.step]]\ndo = \"glitter\"\nweighed = { before = 3, after = 2 }",
        "finish/weighed-the-wrong-way",
        "finish.step[0].weighed.after",
    );
    let resin = "[[finish.product]]\nname = \"r\"\nkind = \"two-part resin\"\n";
    one(resin, "job/missing-key", "finish.product[0].mix");
    one(
        &format!("{resin}mix = [2, 1]\nrecoat-until = \"2 h\""),
        "finish/window-empty",
        "finish.product[0].recoat-until",
    );
    one(
        &format!("{resin}mix = [2, 1]\nrecoat-from = \"2 d\""),
        "finish/window-empty",
        "finish.product[0].recoat-from",
    );
    one(
        &format!("{resin}mix = [2, 1]\nmix-by-weight = [100, 60]\ndensity = [1.1, 1.0]"),
        "finish/mix-disagrees",
        "finish.product[0].mix-by-weight",
    );
    one(&format!("{resin}mix = [2, 0]"), "job/out-of-range", "finish.product[0].mix[1]");
    one(&format!("{resin}mix = [2, 1]\nprice = 5"), "job/missing-key", "finish.product[0].pack");
    one(
        &format!("{resin}mix = [2, 1]\nprice = 5\npack = \"16 oz\""),
        "job/unreadable",
        "finish.product[0].pack",
    );
    one(&format!("{resin}mix = [2, 1]\n{resin}mix = [2, 1]"), "finish/name-taken", "finish.product[1].name");
    one(
        &format!("{resin}mix = [2, 1]\n[[finish.step]]\ndo = \"paint\"\nwith = \"r\""),
        "finish/wrong-product",
        "finish.step[0].with",
    );
    // A product that could not be read still answers to its name.
    one(
        &format!("{resin}mix = [2, -1]\n[[finish.step]]\ndo = \"clear coat\"\nwith = \"r\""),
        "job/out-of-range",
        "finish.product[0].mix[1]",
    );
    one("[finish]\ncups = 0", "job/out-of-range", "finish.cups");
    one("[finish]\nloss = { is = 30, basis = \"hearsay\" }", "job/unknown-choice", "finish.loss.basis");
    one("[finish.base]\nacross = 64", "job/missing-key", "finish.base.film");
}

#[test]
fn all_faults_are_reported_at_once() {
    let got = faults(
        r#"
[finish]
loss = 95
[[finish.step]]
do = "clear cote"
[[finish.step]]
do = "film"
films = ["leef"]
[finish.times]
seats = 0
[finish.price]
currency = "EUR"
hour = -1
blank = -2
fee = 50
margin = 60
"#,
    );
    let places: Vec<&str> = got.iter().map(|(_, at)| at.as_str()).collect();
    assert_eq!(
        places,
        [
            "finish.loss",
            "finish.step[0].do",
            "finish.step[1].films[0]",
            "finish.times.seats",
            "finish.price.hour",
            "finish.price.blank",
            "finish.price.margin"
        ]
    );
}

#[test]
fn codes_are_told_apart_and_explained() {
    for (i, c) in CODES.iter().enumerate() {
        assert!(c.explain.len() > 60, "{} is not explained", c.id);
        assert!(CODES[..i].iter().all(|d| d.id != c.id));
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(300))]
    /// Whatever stands there: no panic, and either a job or a fault.
    #[test]
    fn any_value_at_any_key_is_read_or_refused(
        table in prop::sample::select(vec!["[finish]", "[[finish.product]]", "[[finish.step]]", "[[finish.band]]",
            "[finish.times]", "[finish.base]", "[finish.price]", "[finish.base.mark]"]),
        key in prop::sample::select(vec!["cups", "loss", "name", "kind", "mix", "density", "do", "with", "over", "volume",
            "weighed", "films", "from", "hours", "start", "seats", "weed", "film", "ring", "art", "hour", "breaks", "valid",
            "fee", "price", "pack", "recoat-until"]),
        value in prop::sample::select(vec!["0", "-1", "1e308", "nan", "\"\"", "\"8 h\"", "[]", "[1, 2]", "{}", "{ is = 1 }",
            "true", "2026-01-01", "\"-1\"", "[[]]", "99999999999999999999", "0x10", "\"99999999999999 d\""]),
    ) {
        let r = read(&format!("{table}\n{key} = {value}"));
        prop_assert!(r.job.is_some() || r.diagnostics.any_fault());
    }
}
