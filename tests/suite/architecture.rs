//! The layering rule, held by lexing the sources: a module names only modules that stand above it, each file says what
//! it imports, only `edge` touches the outside, and each third-party crate has one home.

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::{Path, PathBuf};

/// The order in which the work flows; a file belongs to the longest prefix that fits.
const LAYERS: &[&str] = &[
    "base::units",
    "base::money",
    "base::diag",
    "base::frame",
    "base::tolerance",
    "base::random",
    "base::shape",
    "read::source",
    "read::job",
    "read::art",
    "read::letter",
    "make::cup",
    "make::piece",
    "make::room",
    "make::decal",
    "make::motif",
    "make::accent",
    "make::film",
    "make::finish",
    "make::plan",
    "make::verify",
    "write",
    "edge",
];

/// Third-party crates and the modules that may name them.
const HOMES: &[(&str, &[&str])] = &[
    ("kurbo", &["base::shape"]),
    ("i_overlay", &["base::shape"]),
    ("lyon", &["write::view"]),
    ("rand_chacha", &["base::random"]),
    ("rust_decimal", &["base::money"]),
    ("toml", &["read::job"]),
    ("strsim", &["read::job", "edge"]),
    ("usvg", &["read::art", "write::read_back"]),
    ("roxmltree", &["read::art", "write"]),
    ("flate2", &["read::art", "write"]),
    ("harfrust", &["read::letter"]),
    ("fontdb", &["edge"]),
    ("skrifa", &["read::letter", "write::letters"]),
    ("geo", &["make::verify"]),
    ("rayon", &["make", "write"]),
    ("svg", &["write"]),
    ("pdf_writer", &["write"]),
    ("png", &["write"]),
    ("base64", &["write"]),
    ("resvg", &["write"]),
    ("clap", &["edge"]),
    ("clap_complete", &["edge"]),
    ("annotate_snippets", &["edge"]),
    ("anstream", &["edge"]),
    ("ctrlc", &["edge"]),
];

/// Parts of `std` that reach outside; only `edge` (and tests) may name them.
const OUTSIDE: &[&str] = &["fs", "env", "net", "process", "time", "thread"];

struct File {
    module: String,
    header: String,
    tokens: Vec<String>,
}

#[test]
fn modules_name_only_what_stands_above_them() {
    let mut wrong = Vec::new();
    for file in sources() {
        let Some(mine) = layer(&file.module) else { continue };
        for named in paths_from_crate(&file.tokens) {
            let Some(theirs) = layer(&named) else { continue };
            if theirs > mine {
                wrong.push(format!("{} names {named}, which stands below it", file.module));
            }
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn every_file_says_what_it_imports() {
    let silent: Vec<String> = sources()
        .into_iter()
        .filter(|f| !["frusta", "main"].contains(&f.module.as_str()) && !f.header.contains("Imports:"))
        .map(|f| f.module)
        .collect();
    assert!(silent.is_empty(), "no `Imports:` line in the header of: {silent:?}");
}

#[test]
fn only_the_edge_reaches_outside() {
    let mut wrong = Vec::new();
    for file in sources().iter().filter(|f| !f.module.starts_with("edge") && f.module != "main") {
        for w in file.tokens.windows(4) {
            if w[0] == "std" && w[1] == ":" && w[2] == ":" && OUTSIDE.contains(&w[3].as_str()) {
                wrong.push(format!("{} names std::{}", file.module, w[3]));
            }
        }
        let prints = |w: &[String]| ["println", "eprintln", "print"].contains(&w[0].as_str()) && w[1] == "!";
        if file.tokens.windows(2).any(prints) || file.tokens.iter().any(|t| t == "HashMap" || t == "HashSet")
        {
            wrong.push(format!("{} prints, or holds an unordered map", file.module));
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn each_crate_has_one_home() {
    let mut wrong = BTreeSet::new();
    for file in sources() {
        for w in file.tokens.windows(4) {
            // A crate is named where a path starts: not after `::` or `.`.
            if w[2] != ":" || w[3] != ":" || w[0] == ":" || w[0] == "." {
                continue;
            }
            if let Some((name, homes)) = HOMES.iter().find(|h| h.0 == w[1])
                && !homes.iter().any(|h| file.module == *h || file.module.starts_with(&format!("{h}::")))
            {
                wrong.insert(format!("{} names {name}, whose home is {homes:?}", file.module));
            }
        }
    }
    assert!(wrong.is_empty(), "{wrong:#?}");
}

#[test]
fn every_dependency_has_a_home() {
    let manifest = fs::read_to_string(root().join("Cargo.toml")).expect("Cargo.toml");
    let section =
        manifest.split("[dependencies]").nth(1).and_then(|s| s.split("\n[").next()).expect("dependencies");
    let homes: BTreeMap<_, _> = HOMES.iter().copied().collect();
    // Words that every layer may speak: derive macros and trigonometry; exact decimals and dates are the core's own nouns.
    let everywhere = ["serde", "serde_json", "libm", "jiff"];
    for line in section.lines().filter(|l| l.contains('=') && !l.starts_with('#')) {
        let name = line.split('=').next().unwrap_or_default().trim().replace('-', "_");
        assert!(
            homes.contains_key(name.as_str()) || everywhere.contains(&name.as_str()),
            "{name} has no home"
        );
    }
}

#[test]
fn the_lexer_sees_code_and_not_comments() {
    let t = lex(
        "use std::fs; // std::net\n/* a /* b */ std::env */ \"std::time\" r#\"std::x\"# 'c' '\\'' &'a str",
    );
    assert_eq!(t.iter().filter(|t| *t == "std").count(), 1);
    assert!(t.contains(&"str".to_owned()));
}

fn root() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR"))
}

fn layer(module: &str) -> Option<usize> {
    LAYERS
        .iter()
        .enumerate()
        .filter(|(_, l)| module == **l || module.starts_with(&format!("{l}::")))
        .map(|(i, _)| i)
        .next_back()
}

fn sources() -> Vec<File> {
    let mut out = Vec::new();
    walk(&root().join("src"), &mut out);
    assert!(out.len() > 10, "the walk found the sources");
    let tests = test_only(&out);
    out.retain(|f| !tests.contains(&f.module));
    out
}

fn walk(dir: &Path, out: &mut Vec<File>) {
    let mut entries: Vec<_> =
        fs::read_dir(dir).expect("a folder").map(|e| e.expect("an entry").path()).collect();
    entries.sort();
    for path in entries {
        if path.is_dir() {
            walk(&path, out);
        } else if path.extension().is_some_and(|e| e == "rs") {
            let text = fs::read_to_string(&path).expect("text");
            let rel = path.strip_prefix(root().join("src")).expect("below src").with_extension("");
            let parts: Vec<String> = rel.iter().map(|p| p.to_string_lossy().into_owned()).collect();
            let module = parts.join("::").trim_end_matches("::mod").replace("lib", "frusta");
            let header = text.lines().take_while(|l| l.starts_with("//!")).collect::<Vec<_>>().join("\n");
            out.push(File { module, header, tokens: without_tests(lex(&text)) });
        }
    }
}

/// Cuts off `#[cfg(test)] mod tests { ... }`, which stands last by custom.
fn without_tests(mut tokens: Vec<String>) -> Vec<String> {
    let starts =
        |w: &[String]| w[..7] == ["#", "[", "cfg", "(", "test", ")", "]"] && w[7] == "mod" && w[9] == "{";
    if let Some(cut) = tokens.windows(10).position(starts) {
        tokens.truncate(cut);
    }
    tokens
}

/// Files that are only compiled for tests: `#[cfg(test)] mod name;`, with or without a visibility.
fn test_only(files: &[File]) -> BTreeSet<String> {
    let mut out = BTreeSet::new();
    for file in files {
        for (i, w) in file.tokens.windows(7).enumerate() {
            if w != ["#", "[", "cfg", "(", "test", ")", "]"] {
                continue;
            }
            let rest = &file.tokens[i + 7..];
            let Some(at) = rest.iter().take(6).position(|t| t == "mod") else { continue };
            if rest.get(at + 2).is_some_and(|t| t == ";") {
                out.insert(format!("{}::{}", file.module, rest[at + 1]));
            }
        }
    }
    out
}

/// Paths that begin with `crate::`, their groups opened: `use crate::a::{b, c::d}` gives `a::b` and `a::c::d`.
fn paths_from_crate(tokens: &[String]) -> Vec<String> {
    let mut out = Vec::new();
    let mut i = 0;
    while i + 2 < tokens.len() {
        if tokens[i] == "crate" && tokens[i + 1] == ":" {
            i = open(tokens, i + 1, String::new(), &mut out);
        } else {
            i += 1;
        }
    }
    out
}

/// At `::` or at a name; returns the place after the path.
fn open(tokens: &[String], mut i: usize, mut so_far: String, out: &mut Vec<String>) -> usize {
    loop {
        if tokens.get(i).is_some_and(|t| t == ":") && tokens.get(i + 1).is_some_and(|t| t == ":") {
            i += 2;
        }
        match tokens.get(i).map(String::as_str) {
            Some("{") => {
                i += 1;
                while tokens.get(i).is_some_and(|t| t != "}") {
                    i = if tokens[i] == "," { i + 1 } else { open(tokens, i, so_far.clone(), out) };
                }
                return i + 1;
            }
            Some(t) if t.chars().all(|c| c.is_alphanumeric() || c == '_') => {
                if !so_far.is_empty() {
                    so_far.push_str("::");
                }
                so_far.push_str(t);
                i += 1;
            }
            _ => {
                out.push(so_far);
                return i + 1;
            }
        }
        if !(tokens.get(i).is_some_and(|t| t == ":") && tokens.get(i + 1).is_some_and(|t| t == ":")) {
            out.push(so_far);
            return i;
        }
    }
}

/// Names and single marks; comments, strings, characters and lifetimes fall away.
fn lex(text: &str) -> Vec<String> {
    let c: Vec<char> = text.chars().collect();
    let mut out = Vec::new();
    let mut i = 0;
    while i < c.len() {
        let rest = |n: usize| c.get(i + n).copied().unwrap_or('\0');
        if c[i].is_whitespace() {
            i += 1;
        } else if c[i] == '/' && rest(1) == '/' {
            while i < c.len() && c[i] != '\n' {
                i += 1;
            }
        } else if c[i] == '/' && rest(1) == '*' {
            i = skip_block(&c, i);
        } else if c[i] == 'r' && (rest(1) == '"' || (rest(1) == '#' && (rest(2) == '"' || rest(2) == '#'))) {
            i = skip_raw(&c, i + 1);
        } else if c[i] == '"' {
            i = skip_string(&c, i);
        } else if c[i] == '\'' {
            i = skip_char(&c, i);
        } else if c[i].is_alphanumeric() || c[i] == '_' {
            let from = i;
            while i < c.len() && (c[i].is_alphanumeric() || c[i] == '_') {
                i += 1;
            }
            out.push(c[from..i].iter().collect());
        } else {
            out.push(c[i].to_string());
            i += 1;
        }
    }
    out
}

fn skip_block(c: &[char], mut i: usize) -> usize {
    let mut depth = 0;
    while i < c.len() {
        match (c[i], c.get(i + 1)) {
            ('/', Some('*')) => (depth, i) = (depth + 1, i + 2),
            ('*', Some('/')) => {
                (depth, i) = (depth - 1, i + 2);
                if depth == 0 {
                    return i;
                }
            }
            _ => i += 1,
        }
    }
    i
}

fn skip_string(c: &[char], mut i: usize) -> usize {
    i += 1;
    while i < c.len() && c[i] != '"' {
        i += if c[i] == '\\' { 2 } else { 1 };
    }
    i + 1
}

fn skip_raw(c: &[char], mut i: usize) -> usize {
    let mut hashes = 0;
    while c[i] == '#' {
        (hashes, i) = (hashes + 1, i + 1);
    }
    i += 1;
    while i < c.len() {
        if c[i] == '"' && c[i + 1..].iter().take(hashes).filter(|h| **h == '#').count() == hashes {
            return i + 1 + hashes;
        }
        i += 1;
    }
    i
}

fn skip_char(c: &[char], i: usize) -> usize {
    if c.get(i + 1) == Some(&'\\') {
        let mut j = i + 3;
        while j < c.len() && c[j] != '\'' {
            j += 1;
        }
        return j + 1;
    }
    if c.get(i + 2) == Some(&'\'') { i + 3 } else { i + 1 }
}
