//! `explain`: what a code of a message means, and what a key of the job does.
//!
//! Imports: base, read::job, edge::cli, edge::cli::{args, codes, words, glossary}.

use super::args::OutputMode;
use super::{Exit, Outcome, codes, glossary, words};
use crate::base::diag::{Code, Diagnostic, KeyPath};
use crate::read::job;
use crate::read::job::keys::{AnyKey, Table};
use serde::Serialize;
use std::io;

#[derive(Serialize)]
struct Told {
    code: &'static str,
    title: &'static str,
    explain: String,
}

impl Told {
    fn of(code: &'static Code) -> Told {
        Told { code: code.id, title: code.title, explain: flowing(code.explain) }
    }
}

/// A key of the job, explained.
#[derive(Serialize)]
struct ToldKey {
    /// The table where it stands; empty: the job itself.
    table: &'static str,
    key: &'static str,
    about: &'static str,
    kind: String,
    allowed: String,
    default: String,
    required: bool,
    example: String,
}

impl ToldKey {
    fn of(table: &'static Table, key: &dyn AnyKey) -> ToldKey {
        let row = key.row();
        ToldKey {
            table: table.path,
            key: row.name,
            about: row.about,
            kind: key.kind(),
            allowed: key.allowed(),
            default: key.default_words(),
            required: !row.lacks.is_empty() && key.default_words().is_empty(),
            example: row.as_typed(),
        }
    }
    fn text(&self, table: &Table) -> String {
        let of = match (self.table, table.many) {
            ("", _) => "a key of the job".to_owned(),
            (path, true) => format!("a key of every [[{path}]]"),
            (path, false) => format!("a key of [{path}]"),
        };
        let mut out = format!("{}: {of}\n\n{}\n\n", self.key, words::wrapped(self.about, 80));
        let mut line = |label: &str, text: &str| {
            if !text.is_empty() {
                out += &format!("  {label:<8} {text}\n");
            }
        };
        line("is", &self.kind);
        line("allowed", &self.allowed);
        line("default", &self.default);
        if self.required {
            line("", "it has no default: write it, or what stands in its place");
        }
        line("example", &self.example);
        out
    }
}

/// The keys of this name: `wall`, `film.margin`, or a whole table such as `film`.
fn keys(wanted: &str) -> Vec<(&'static Table, &'static dyn AnyKey)> {
    let plain: String = wanted.chars().filter(|c| !"[]`".contains(*c)).collect();
    let mut found = Vec::new();
    for table in job::tables().into_iter().chain(job::blank_tables()) {
        for key in table.keys {
            let name = key.row().name;
            let full = if table.path.is_empty() { name.to_owned() } else { format!("{}.{name}", table.path) };
            if plain == name || plain == full || full.ends_with(&format!(".{plain}")) {
                found.push((table, *key));
            }
        }
    }
    found
}

/// Most keys that a word is answered with.
const MOST: usize = 4;

/// The keys whose sentences speak of a word of the sheets, those that say it first.
fn about(wanted: &str) -> Vec<(&'static Table, &'static dyn AnyKey)> {
    let words: Vec<String> = wanted.to_lowercase().split_whitespace().map(str::to_owned).collect();
    if words.iter().all(|w| w.len() < 3) {
        return Vec::new();
    }
    let mut found: Vec<(usize, &'static Table, &'static dyn AnyKey)> = Vec::new();
    for table in job::tables().into_iter().chain(job::blank_tables()) {
        for key in table.keys {
            let sentence = key.row().about.to_lowercase();
            let places: Vec<usize> = words.iter().filter_map(|w| sentence.find(w.as_str())).collect();
            if places.len() == words.len() {
                found.push((places.iter().copied().min().unwrap_or_default(), table, *key));
            }
        }
    }
    found.sort_by_key(|f| f.0);
    found.into_iter().take(MOST).map(|(_, table, key)| (table, key)).collect()
}

/// One flow of words, however the source breaks its lines.
fn flowing(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// Explains a code, or lists all.
///
/// # Errors
/// What writing to standard output says.
pub fn run(code: Option<&str>, voice: OutputMode) -> io::Result<Exit> {
    let Some(wanted) = code else { return list(voice) };
    if let Some(code) = codes::all().find(|c| c.id == wanted) {
        let told = Told::of(code);
        if voice.json {
            words::json(&told)?;
        } else {
            let text =
                format!("{}\n{}\n\n{}\n", told.code, sentence(told.title), words::wrapped(&told.explain, 80));
            words::data(text.as_bytes())?;
        }
        return Ok(Exit::Done);
    }
    let mut found = keys(wanted);
    if found.is_empty() {
        found = keys(&wanted.trim().to_lowercase().replace(' ', "-"));
    }
    if found.is_empty() {
        if let Some(word) = glossary::find(wanted) {
            return of_the_sheets(word, voice);
        }
        found = about(wanted);
    }
    if !found.is_empty() {
        let told: Vec<ToldKey> = found.iter().map(|(t, k)| ToldKey::of(t, *k)).collect();
        if voice.json {
            words::json(&told)?;
        } else {
            let texts: Vec<String> = told.iter().zip(&found).map(|(t, (table, _))| t.text(table)).collect();
            words::data(texts.join("\n").as_bytes())?;
        }
        return Ok(Exit::Done);
    }
    let mend = match nearest(wanted) {
        Some(near) => format!("did you mean {near}?"),
        None => "`frusta explain` lists all codes; `frusta explain film.margin` explains a key, `frusta explain \"hinge line\"` a word of the sheets".into(),
    };
    let d = Diagnostic::fault(
        &codes::NO_CODE,
        KeyPath::root(),
        format!("neither a message nor a key of the job is called \"{wanted}\""),
    );
    let diagnostics = [d.help(mend)];
    if voice.json {
        words::json(&Outcome::new(Exit::Usage, &words::Text::default(), &diagnostics))?;
    } else {
        words::say(&words::Text::default(), &diagnostics, true);
    }
    Ok(Exit::Usage)
}

/// A word of the sheets in a paragraph, with where it is met.
fn of_the_sheets(word: &glossary::Word, voice: OutputMode) -> io::Result<Exit> {
    let about = flowing(word.about);
    if voice.json {
        words::json(&serde_json::json!({ "word": word.names[0], "about": about, "example": word.example }))?;
    } else {
        let text =
            format!("{}\n\n{}\n\n  example  {}\n", word.names[0], words::wrapped(&about, 80), word.example);
        words::data(text.as_bytes())?;
    }
    Ok(Exit::Done)
}

fn list(voice: OutputMode) -> io::Result<Exit> {
    if voice.json {
        words::json(&codes::all().map(Told::of).collect::<Vec<_>>())?;
    } else {
        let width = codes::all().map(|c| c.id.len()).max().unwrap_or(0);
        let lines: Vec<String> =
            codes::all().map(|c| format!("{:width$}  {}\n", c.id, sentence(c.title))).collect();
        words::data(lines.concat().as_bytes())?;
    }
    Ok(Exit::Done)
}

fn sentence(title: &str) -> String {
    let mut letters = title.chars();
    letters.next().map_or_else(String::new, |c| c.to_uppercase().chain(letters).collect())
}

/// The code that was most likely meant: the part after the slash alone will do.
fn nearest(wanted: &str) -> Option<&'static str> {
    let closeness = |id: &str| {
        let tail = id.split('/').next_back().unwrap_or(id);
        strsim::jaro_winkler(wanted, id).max(strsim::jaro_winkler(wanted, tail))
    };
    let names = job::tables()
        .into_iter()
        .chain(job::blank_tables())
        .flat_map(|t| t.keys.iter().map(|k| k.row().name));
    codes::all()
        .map(|c| c.id)
        .chain(names)
        .map(|id| (closeness(id), id))
        .filter(|(near, _)| *near > 0.75)
        .max_by(|a, b| a.0.total_cmp(&b.0))
        .map(|(_, id)| id)
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::collections::BTreeSet;

    #[test]
    fn every_code_has_one_id_and_something_to_say() {
        let mut seen = BTreeSet::new();
        for code in codes::all() {
            assert!(seen.insert(code.id), "{} is declared twice", code.id);
            let (stage, what) = code.id.split_once('/').expect("stage/what");
            let word = |w: &str| {
                !w.is_empty() && w.bytes().all(|b| b.is_ascii_lowercase() || b.is_ascii_digit() || b == b'-')
            };
            assert!(word(stage) && word(what), "{}", code.id);
            assert!(!code.title.is_empty() && code.explain.len() > 40, "{}", code.id);
        }
        assert!(seen.len() > 50);
    }

    /// A `CODES` list that nobody gathers would leave its codes unexplained: every id in the sources is found
    /// here.
    #[test]
    fn no_code_of_the_sources_is_left_out() {
        fn walk(dir: &std::path::Path, ids: &mut BTreeSet<String>) {
            for entry in std::fs::read_dir(dir).expect("a folder") {
                let path = entry.expect("an entry").path();
                if path.is_dir() {
                    walk(&path, ids);
                } else if path.extension().is_some_and(|x| x == "rs") {
                    let text = std::fs::read_to_string(&path).expect("text");
                    ids.extend(
                        text.split("id: \"").skip(1).filter_map(|t| t.split('"').next()).map(str::to_owned),
                    );
                }
            }
        }
        let mut ids = BTreeSet::new();
        walk(&std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("src"), &mut ids);
        let known: BTreeSet<&str> = codes::all().map(|c| c.id).collect();
        let lost: Vec<&String> =
            ids.iter().filter(|i| i.contains('/') && !known.contains(i.as_str())).collect();
        assert!(ids.len() > 20 && lost.is_empty(), "{lost:?}");
    }

    #[test]
    fn slips_of_the_keyboard_find_their_code() {
        assert_eq!(nearest("cup/unit-slpi"), Some("cup/unit-slip"));
        assert_eq!(nearest("unit-slip"), Some("cup/unit-slip"));
        assert_eq!(nearest("0815"), None);
        // A word of the sheets, with a blank or in a sentence.
        assert!(keys("keep-clear").len() == 1 && !about("levelling coat").is_empty());
        assert!(about("0815").is_empty() && about("to").is_empty());
    }
}
