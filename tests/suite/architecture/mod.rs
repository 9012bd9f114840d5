//! The order of the house, held by lexing the sources: a module names only modules that stand above it, no
//! circle, each file says truly what it imports, only `edge` touches the outside, each third-party crate has
//! one home and is used.
//!
//! `FRUSTA_BLESS=1 cargo test --test suite architecture` writes the `Imports:` lines anew.

mod graph;
mod lexer;
mod lines;
mod sizes;

use graph::{File, Graph, declares, root};
use std::collections::{BTreeMap, BTreeSet};
use std::fs;

/// Third-party crates and the one module (with what stands below it) that may name them; a second home has
/// its reason.
const HOMES: &[(&str, &[&str])] = &[
    ("kurbo", &["outline"]),
    ("i_overlay", &["outline"]),
    ("lyon", &["write::view"]),
    ("rand_chacha", &["base::random"]),
    ("rust_decimal", &["base::money"]),
    ("toml", &["read::job"]),
    // The likest word, for messages: keys of a job, families of fonts, codes.
    ("strsim", &["read::job", "edge"]),
    ("fontdb", &["edge"]),
    ("harfrust", &["read::letter"]),
    ("unicode_bidi", &["read::letter"]),
    // Names: normal forms, scripts, look-alikes.
    ("unicode_normalization", &["read::names"]),
    ("unicode_script", &["read::names"]),
    ("unicode_security", &["read::names"]),
    // The fingerprint of what a customer sees.
    ("sha2", &["write::proof"]),
    ("geo", &["make::verify"]),
    ("svg", &["write"]),
    ("pdf_writer", &["write"]),
    ("png", &["write"]),
    ("image", &["read::picture"]),
    ("base64", &["write"]),
    ("clap", &["edge"]),
    ("clap_complete", &["edge"]),
    ("annotate_snippets", &["edge"]),
    ("anstream", &["edge"]),
    ("ctrlc", &["edge"]),
    // The page: a server for one person, the job's text edited in place, a key that nobody guesses.
    ("axum", &["edge"]),
    ("hyper", &["edge"]),
    ("hyper_util", &["edge"]),
    ("tokio", &["edge"]),
    ("toml_edit", &["edge"]),
    ("getrandom", &["edge"]),
    // The exchange of two names.
    ("rustix", &["edge::kit"]),
    // Read by one parser, and read back by it: the writer of SVG is another crate.
    ("usvg", &["read::art", "write::read_back"]),
    // The outlines of a kit that was made, as they stand in its files.
    ("roxmltree", &["read::art", "read::record", "write::read_back"]),
    // Packed drawings are read, PDF streams are written.
    ("flate2", &["read::art", "write::ink"]),
    ("zip", &["edge::packed"]),
    // Glyphs of the maker's fonts, and of the program's two faces on papers.
    ("skrifa", &["read::letter", "write::ink"]),
    // Fills outlines of stills and of pictures on papers.
    ("resvg", &["write"]),
    // Data-parallel iteration whose result does not depend on the number of threads.
    ("rayon", &["read::materials", "read::contour", "make", "write"]),
];

/// Words that every floor may speak: derive macros, trigonometry, dates.
const EVERYWHERE: [&str; 4] = ["serde", "serde_json", "libm", "jiff"];

/// Parts of `std` that reach outside; only `edge` (and tests) may name them.
const OUTSIDE: &[&str] = &["fs", "env", "net", "process", "time", "thread"];

fn name(module: &[String]) -> String {
    if module.is_empty() { "lib".into() } else { module.join("::") }
}

/// Modules stand in the order of their declarations; a file names what stands above it, and of the doors of
/// the folders that it lies in only nouns (types and constants), so that no function is called back.
#[test]
fn modules_name_only_what_stands_above_them() {
    let graph = Graph::read();
    let mut wrong = Vec::new();
    for file in graph.files.values() {
        for r in graph.references(file) {
            let says = |why: &str| {
                format!(
                    "{} names {}::{}, {why}",
                    name(&file.module),
                    name(&r.to),
                    r.item.as_deref().unwrap_or("")
                )
            };
            if !graph.files.contains_key(&r.to) {
                wrong.push(says("which is unknown"));
            } else if file.module.starts_with(&r.to) {
                let door = &graph.files[&r.to];
                let kind = r.item.as_deref().and_then(|i| declares(&door.tokens, i));
                if kind.as_deref() == Some("fn") {
                    wrong.push(says("a function of the door it stands behind"));
                }
            } else if !r.to.starts_with(&file.module) && !graph.above(&r.to, &file.module) {
                wrong.push(says("which stands below it"));
            }
        }
    }
    assert!(wrong.is_empty(), "{}\n{} in all", wrong.join("\n"), wrong.len());
}

/// No module comes back to itself by what it names; doors and what stands behind them are looked at above.
#[test]
fn no_circles() {
    let graph = Graph::read();
    let mut next: BTreeMap<&[String], BTreeSet<Vec<String>>> = BTreeMap::new();
    for file in graph.files.values() {
        let to = graph.references(file).into_iter().map(|r| r.to);
        let to = to.filter(|to| !file.module.starts_with(to) && !to.starts_with(&file.module));
        next.insert(&file.module, to.collect());
    }
    let reach = |from: &[String]| {
        let (mut seen, mut open) = (BTreeSet::new(), vec![from.to_vec()]);
        while let Some(m) = open.pop() {
            for n in next.get(m.as_slice()).into_iter().flatten() {
                if seen.insert(n.clone()) {
                    open.push(n.clone());
                }
            }
        }
        seen
    };
    let circles: Vec<String> =
        graph.files.keys().filter(|m| reach(m).contains(*m)).map(|m| name(m)).collect();
    assert!(circles.is_empty(), "in a circle: {circles:#?}");
}

#[test]
fn every_file_says_truly_what_it_imports() {
    let graph = Graph::read();
    let bless = std::env::var_os("FRUSTA_BLESS").is_some();
    let mut wrong = Vec::new();
    for file in graph.files.values().filter(|f| !f.module.is_empty()) {
        let want = lines::imports(&graph, file);
        let have = lines::stated(&file.text);
        if have.as_deref() == Some(want.as_str()) {
            continue;
        }
        if bless {
            fs::write(&file.path, lines::blessed(&file.text, &want)).expect("written");
        } else {
            wrong.push(format!("{}: says {have:?}\n    is   {want}", name(&file.module)));
        }
    }
    assert!(wrong.is_empty(), "{}\n{} in all; FRUSTA_BLESS=1 writes them", wrong.join("\n"), wrong.len());
}

#[test]
fn only_the_edge_reaches_outside() {
    let mut wrong = Vec::new();
    let graph = Graph::read();
    let inner = |f: &&File| f.module.first().is_some_and(|m| m != "edge");
    for file in graph.files.values().filter(inner) {
        for w in file.tokens.windows(4) {
            if w[0] == "std" && w[1] == ":" && w[2] == ":" && OUTSIDE.contains(&w[3].as_str()) {
                wrong.push(format!("{} names std::{}", name(&file.module), w[3]));
            }
        }
        let prints = |w: &[String]| ["println", "eprintln", "print"].contains(&w[0].as_str()) && w[1] == "!";
        if file.tokens.windows(2).any(prints) || file.tokens.iter().any(|t| t == "HashMap" || t == "HashSet")
        {
            wrong.push(format!("{} prints, or holds an unordered map", name(&file.module)));
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

/// Crates that a file names where a path starts.
fn crates(file: &File) -> impl Iterator<Item = &str> {
    let starts = |w: &&[String]| w[2] == ":" && w[3] == ":" && w[0] != ":" && w[0] != ".";
    file.tokens.windows(4).filter(starts).map(|w| w[1].as_str())
}

#[test]
fn each_crate_has_one_home() {
    let mut wrong = BTreeSet::new();
    for file in Graph::read().files.values() {
        let module = name(&file.module);
        for named in crates(file) {
            if let Some((name, homes)) = HOMES.iter().find(|h| h.0 == named)
                && !homes.iter().any(|h| module == *h || module.starts_with(&format!("{h}::")))
            {
                wrong.insert(format!("{module} names {name}, whose home is {homes:?}"));
            }
        }
    }
    assert!(wrong.is_empty(), "{wrong:#?}");
}

/// Every crate of the manifest has a home and is named there; every home is of a crate that is in the
/// manifest.
#[test]
fn every_dependency_has_a_home_and_is_used() {
    let manifest = fs::read_to_string(root().join("Cargo.toml")).expect("Cargo.toml");
    let section =
        manifest.split("[dependencies]").nth(1).and_then(|s| s.split("\n[").next()).expect("dependencies");
    let of_systems = manifest
        .split("[target.")
        .skip(1)
        .filter_map(|s| s.split("\n[").next()?.split_once('\n'))
        .map(|s| s.1);
    let lines =
        of_systems.chain([section]).flat_map(str::lines).filter(|l| l.contains('=') && !l.starts_with('#'));
    let named: BTreeSet<String> =
        lines.map(|l| l.split('=').next().unwrap_or_default().trim().replace('-', "_")).collect();
    let known: BTreeSet<String> = HOMES.iter().map(|h| h.0).chain(EVERYWHERE).map(str::to_owned).collect();
    assert_eq!(named, known, "Cargo.toml and HOMES differ");
    let graph = Graph::read();
    let used: BTreeSet<&str> = graph.files.values().flat_map(crates).collect();
    let idle: Vec<_> = named.iter().filter(|n| !used.contains(n.as_str())).collect();
    assert!(idle.is_empty(), "never named: {idle:?}");
}

/// Writers take a verified plan: none takes a plan that nobody has measured again.
#[test]
fn writers_take_verified_plans_only() {
    let graph = Graph::read();
    let mut bare = Vec::new();
    for file in graph.files.values().filter(|f| f.module.first().is_some_and(|m| m == "write")) {
        let names = file.tokens.iter().any(|t| t == "Plan");
        if names {
            bare.push(name(&file.module));
        }
    }
    assert!(bare.is_empty(), "these name a bare Plan: {bare:#?}");
}

/// Small numbers stand in `tolerance`, or are constants with a doc comment that gives the reason.
#[test]
fn epsilons_stand_in_tolerance_or_have_a_name() {
    let graph = Graph::read();
    let mut wrong = Vec::new();
    for file in graph.files.values().filter(|f| name(&f.module) != "base::tolerance") {
        let source = lines::before_tests(&file.text);
        for (i, line) in source.lines().enumerate() {
            let code = line.split("//").next().unwrap_or_default();
            if lines::small_number(code) && !lines::named_constant(source, i) {
                wrong.push(format!("{}:{}: {}", file.path.display(), i + 1, line.trim()));
            }
        }
    }
    assert!(wrong.is_empty(), "{}\n{} in all", wrong.join("\n"), wrong.len());
}

#[test]
fn the_crate_forbids_unsafe_code_and_wants_documentation() {
    let lib = fs::read_to_string(root().join("src/lib.rs")).expect("lib.rs");
    assert!(lib.contains("#![forbid(unsafe_code)]") && lib.contains("#![warn(missing_docs)]"));
}

/// What was counted when the house was put in order; a newcomer's files keep these bounds.
#[test]
fn files_say_why_they_are_long() {
    let graph = Graph::read();
    let long = graph.files.values().filter(|f| f.text.lines().count() > 600);
    let silent: Vec<_> =
        long.filter(|f| !f.text.contains("Past 600 lines:")).map(|f| name(&f.module)).collect();
    assert!(silent.is_empty(), "past 600 lines without a reason: {silent:?}");
}

/// Functions that other crates' traits, or what is drawn at random, give their many arguments.
const MANY_ARGUMENTS: &[&str] = &["curve_to", "batches_are_enough_measurable_and_in_ratio"];

/// A function is short enough to be seen at once, and asks for little enough to be called by heart.
#[test]
fn functions_can_be_seen_at_once() {
    fn walk(dir: &std::path::Path, wrong: &mut Vec<String>) {
        for entry in fs::read_dir(dir).expect("a folder") {
            let path = entry.expect("an entry").path();
            if path.is_dir() {
                walk(&path, wrong);
                continue;
            }
            if path.extension().is_none_or(|x| x != "rs") {
                continue;
            }
            for f in sizes::functions(&fs::read_to_string(&path).expect("text")) {
                let many = f.arguments > sizes::ARGUMENTS && !MANY_ARGUMENTS.contains(&f.name.as_str());
                if f.lines > sizes::LINES || many {
                    let (name, lines, arguments) = (f.name, f.lines, f.arguments);
                    wrong
                        .push(format!("{}: {name} has {lines} lines, {arguments} arguments", path.display()));
                }
            }
        }
    }
    let mut wrong = Vec::new();
    for dir in ["src", "tests", "benches", "examples"] {
        walk(&root().join(dir), &mut wrong);
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}
