//! An eye for the whole, through jobs: as many as fit, ragged limits, families in shares.

use frusta::base::diag::Diagnostic;
use frusta::{InMemory, Kit, kit_of};

const LEAF: &[u8] =
    br#"<svg xmlns="http://www.w3.org/2000/svg" width="30mm" height="20mm" viewBox="0 0 30 20">
    <path d="M0 10C8 -3 22 -3 30 10C22 23 8 23 0 10Z"/></svg>"#;

fn made(rest: &str) -> Result<Kit, Vec<Diagnostic>> {
    let job = format!(
        "[cup]\nrings = [{{ up = 0, girth = 120 }}, {{ up = 70, girth = 130 }}]\nwall = 70\n\
         keep-clear = {{ rim = 8, base = 5 }}\n[[film]]\nname = \"blue\"\nsheet = [200, 150]\n{rest}"
    );
    kit_of(&job, &InMemory([("leaf.svg".to_owned(), LEAF.to_vec())].into()))
}

fn leaf(words: &str) -> String {
    format!("[[motif]]\nart = \"leaf.svg\"\nwidth = 24\nfilm = \"blue\"\nclearance = 2\n{words}\n")
}

fn manifest(kit: &Kit) -> String {
    let file = kit.files.iter().find(|f| f.path == "manifest.json").expect("a manifest");
    String::from_utf8_lossy(&file.bytes).into_owned()
}

fn count(kit: &Kit, what: &str) -> usize {
    manifest(kit).matches(what).count()
}

/// As many as fit is a number: no fewer than those that are known to fit (four abreast of 26 mm in 120, three rows
/// of at most 17 in 57), the stock kept, the bound told.
#[test]
fn case_1_as_many_as_fit_is_a_number() {
    let all = made(&leaf("copies = \"as many as fit\"")).expect("a sound job");
    let n = count(&all, "\"is\": \"motif\"");
    assert!(n >= 11, "{n}");
    assert!(manifest(&all).contains("by area"), "the bound is told");
    let few = made(&leaf("copies = \"as many as fit\"\nat-most = 3")).expect("a sound job");
    assert_eq!(count(&few, "\"is\": \"motif\""), 3);
    // The same job, the same places.
    let again = made(&leaf("copies = \"as many as fit\"")).expect("a sound job");
    assert_eq!(manifest(&all), manifest(&again));
}

/// Copies that do not all fit: the fault says how many do.
#[test]
fn case_2_what_does_not_fit_is_told_with_what_does() {
    let faults = made(&leaf("copies = 19")).map(|_| ()).expect_err("nineteen are too many");
    let fault = faults.iter().find(|f| f.code.id == "motif/no-room").expect("no room");
    // By area alone it may be refused before any is laid.
    let told = fault.help.contains("fit packed closely") || fault.message.contains("more area");
    assert!(told, "{fault:?}");
}

/// Exactly and as many as fit at once is a fault that names the key.
#[test]
fn case_3_a_number_and_as_many_as_fit_are_not_both() {
    for words in [
        "copies = 3\nat-most = 4",
        "poses = [{ azimuth = 0, up = 30 }]\nworth = 2",
        "copies = \"as many as fits\"",
    ] {
        let faults = made(&leaf(words)).map(|_| ()).expect_err("a fault");
        let known = ["job/one-of", "job/unknown-choice"];
        assert!(faults.iter().any(|f| known.contains(&f.code.id)), "{words}: {faults:?}");
    }
}

/// A ragged limit is kept by fill and second measurement alike (the kit would not be made otherwise), another seed
/// draws another line, and `ragged = 0` is the straight one byte for byte.
#[test]
fn case_4_ragged_limits_are_verified() {
    let fill = |edge: &str| {
        format!(
            "[[accent]]\nfamilies = {{ pebble = 2, dot = 1 }}\nsmallest = 5\nlargest = 8\ngap = 2\nfilm = \"blue\"\n{edge}\n"
        )
    };
    let kit = |edge: &str| made(&fill(edge)).expect("a sound job");
    let (straight, none, ragged) = (kit("edge = \"straight\""), kit(""), kit("edge = { ragged = 3 }"));
    let places =
        |k: &Kit| manifest(k).lines().filter(|l| l.contains("up_mm")).map(str::to_owned).collect::<Vec<_>>();
    assert_eq!(places(&straight), places(&none));
    assert_eq!(places(&kit("edge = { ragged = 0 }")), places(&none));
    assert_ne!(places(&ragged), places(&none));
    let dots = manifest(&none).matches("\"name\": \"dot\"").count();
    let pebbles = manifest(&none).matches("\"name\": \"pebble\"").count();
    let told = manifest(&none).contains("accent/shares-missed");
    assert!(told || dots * 2 <= pebbles + 6 && pebbles <= dots * 2 + 6, "{dots} {pebbles}");
}
