//! Finishing as a maker meets it: what `check` and `make` say, what the kit holds, faults with their places.
//!
//! Numbers are compared between what the program says in words, in JSON, in the manifest and on the pages;
//! what they should be is held by the closed forms of the library's tests and by `tests/outside/finish_*.py`.

use assert_cmd::Command;
use serde_json::Value;
use std::fs;
use std::path::Path;

fn frusta(args: &[&str]) -> std::process::Output {
    let mut c = Command::new(env!("CARGO_BIN_EXE_frusta"));
    c.env("NO_COLOR", "1").timeout(std::time::Duration::from_secs(300)).args(args).output().expect("it runs")
}
fn json(bytes: &[u8]) -> Value {
    serde_json::from_slice(bytes).unwrap_or_else(|e| panic!("{e}: {}", String::from_utf8_lossy(bytes)))
}
fn text(path: &Path) -> String {
    fs::read_to_string(path).unwrap_or_else(|e| panic!("{}: {e}", path.display()))
}
fn demo(name: &str) -> String {
    format!("{}/demo-data/{name}", env!("CARGO_MANIFEST_DIR"))
}

#[test]
fn date_price_and_burial_are_the_same_in_words_json_manifest_and_pages() {
    let dir = tempfile::tempdir().expect("a folder");
    let out = dir.path().join("kit");
    let out_text = out.to_str().expect("a path");
    let made = frusta(&["make", &demo("first-cup"), "--out", out_text, "--json", "--quiet"]);
    assert!(made.status.success(), "{}", String::from_utf8_lossy(&made.stderr));
    let said = json(&made.stdout)["finish"].clone();
    let manifest = json(&fs::read(out.join("manifest.json")).expect("a manifest"))["finish"].clone();
    let order = &manifest["costing"]["order"];
    assert_eq!(said["price"]["each"], order["price_each"]);
    assert_eq!(said["price"]["pays"], order["pays"]);
    assert_eq!(said["ready"], manifest["calendar"]["finished"]);
    assert_eq!(said["coats_to_add"], 0);
    assert_eq!(manifest["burial"]["coats_to_add"], 0);
    let each = format!("{:.2}", order["price_each"].as_str().expect("text").parse::<f64>().expect("a price"));
    let quote = text(&out.join("finish/quote.html"));
    assert!(quote.contains(&format!("EUR {each}")) && quote.contains("Approval"));
    assert!(!quote.contains(order["good"].as_str().expect("text")), "the quote tells the cost");
    assert!(text(&out.join("finish/maker-sheet.html")).contains("Rates and what they stand on"));
    assert!(text(&out.join("finish/calendar.ics")).starts_with("BEGIN:VCALENDAR\r\nVERSION:2.0\r\n"));
    let checked = frusta(&["check", &demo("first-cup")]);
    let words = String::from_utf8_lossy(&checked.stderr).into_owned();
    for want in ["it is buried", &format!("EUR {each}"), "Ready Mon 2026-04-27"] {
        assert!(words.contains(want), "{want:?} is not in {words}");
    }
}

#[test]
fn faults_of_finishing_are_told_together_each_with_its_place_and_mend() {
    let dir = tempfile::tempdir().expect("a folder");
    let job = dir.path().join("job");
    assert!(frusta(&["new", job.to_str().expect("a path")]).status.success());
    let path = job.join("job.toml");
    let wrong = "\n[finish.price]\ncurrency = \"EUR\"\nhour = -4\nfee = 55\nmargin = 45\n\n\
                 [[finish.step]]\ndo = \"glaze\"\n";
    fs::write(&path, text(&path) + wrong).expect("written");
    let checked = frusta(&["check", job.to_str().expect("a path"), "--json"]);
    assert_eq!(checked.status.code(), Some(1));
    let diagnostics = json(&checked.stdout)["found"].as_array().expect("a list").clone();
    let told: Vec<(&str, &str)> = diagnostics
        .iter()
        .map(|d| (d["code"].as_str().expect("a code"), d["at"].as_str().expect("a place")))
        .collect();
    for want in [
        ("job/out-of-range", "finish.price.hour"),
        ("finish/nothing-left-of-the-price", "finish.price.margin"),
        ("job/unknown-choice", "finish.step[0].do"),
    ] {
        assert!(told.contains(&want), "{want:?} not among {told:?}");
    }
    assert!(
        diagnostics
            .iter()
            .all(|d| d["line"].is_number() && d["mend"].as_str().is_some_and(|m| !m.is_empty()))
    );
}

#[test]
fn a_window_that_no_hours_meet_stops_the_kit() {
    let dir = tempfile::tempdir().expect("a folder");
    let job = dir.path().join("job");
    let at = job.to_str().expect("a path").to_owned();
    assert!(frusta(&["new", &at]).status.success());
    let path = job.join("job.toml");
    let only_saturdays = "\n[finish.times]\nhours = [\"sat 9:00-12:00\"]\n";
    fs::write(&path, text(&path) + only_saturdays).expect("written");
    let made = frusta(&["make", &at, "--json"]);
    assert_eq!(made.status.code(), Some(1));
    let diagnostics = json(&made.stdout)["found"].clone();
    let codes: Vec<&str> =
        diagnostics.as_array().expect("a list").iter().filter_map(|d| d["code"].as_str()).collect();
    assert!(codes.contains(&"finish/window-not-met"), "{codes:?}");
    assert!(!job.join("kit").exists(), "a job at fault makes no kit");
}

/// The head of the quote, the deposit in cents, own words, and nothing of the job's texts as markup.
#[test]
fn the_quote_says_who_offers_to_whom_and_in_whose_words() {
    let dir = tempfile::tempdir().expect("a folder");
    let job = dir.path().join("job");
    let from = demo("first-cup");
    fs::create_dir_all(job.join("art")).expect("a folder");
    for file in ["job.toml", "art/robin.svg", "art/apple-blossom.svg"] {
        fs::copy(Path::new(&from).join(file), job.join(file)).expect("copied");
    }
    let out = job.join("kit");
    let at = job.to_str().expect("a path").to_owned();
    let head = "\n[finish.quote]\nmaker = \"Shed & <b>Sons</b>\"\naddress = [\"3 Plot Lane\"]\ncustomer = \"Frau \u{c4}pfel\"\n\
                deposit = 30\nlogo = \"art/robin.svg\"\nlanguage = \"de\"\n\
                words = { quote = \"Angebot\", valid-until = \"g\u{fc}ltig bis\", price = \"Preis\", ready = \"fertig\" }\n";
    let path = job.join("job.toml");
    fs::write(&path, text(&path) + head).expect("written");
    let made = frusta(&["make", &at, "--json", "--quiet"]);
    assert!(made.status.success(), "{}", String::from_utf8_lossy(&made.stdout));
    let manifest = json(&fs::read(out.join("manifest.json")).expect("a manifest"));
    let pays: f64 =
        manifest["finish"]["costing"]["order"]["pays"].as_str().expect("text").parse().expect("a sum");
    let cents = (pays * 30.0).round() / 100.0;
    let quote = text(&out.join("finish/quote.html"));
    for want in [
        "<html lang=\"de\">",
        "Shed &amp; &lt;b&gt;Sons&lt;/b&gt;",
        "3 Plot Lane",
        "Frau \u{c4}pfel",
        ">Angebot of ",
        "g\u{fc}ltig bis",
        "<h2>Preis</h2>",
        ">fertig<",
        "data:image/svg+xml;base64,",
        &format!("EUR {cents:.2}"),
        &format!("EUR {:.2}", pays - cents),
    ] {
        assert!(quote.contains(want), "{want} is not in the quote");
    }
    assert!(!quote.contains("<b>Sons"), "a text of the job is no markup");
    // A logo that is no SVG is a fault at its key.
    fs::write(job.join("logo.svg"), b"\xff\xfe").expect("written");
    fs::write(&path, text(&path).replace("art/robin.svg\"\nlanguage", "logo.svg\"\nlanguage"))
        .expect("written");
    let found = json(&frusta(&["check", &at, "--json"]).stdout)["found"].clone();
    let places: Vec<&str> =
        found.as_array().expect("a list").iter().filter_map(|d| d["at"].as_str()).collect();
    assert!(places.contains(&"finish.quote.logo"), "{places:?}");
}
