//! The modules of `src`, what each declares, and which module each path of its code leads to.

use super::lexer::{lex, without_tests};
use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::{Path, PathBuf};

/// One source file.
pub struct File {
    pub path: PathBuf,
    /// Segments after `crate`; none for `lib.rs`.
    pub module: Vec<String>,
    pub text: String,
    pub tokens: Vec<String>,
    /// Children in the order of their declarations.
    pub children: Vec<String>,
    /// What it re-exports: name to path, and paths of globs.
    exports: BTreeMap<String, Vec<String>>,
    globs: Vec<Vec<String>>,
}

/// All files, by module.
pub struct Graph {
    pub files: BTreeMap<Vec<String>, File>,
}

/// A path in the code of a file, resolved.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Reference {
    pub to: Vec<String>,
    /// The name in it, if the path does not end at the module.
    pub item: Option<String>,
}

pub fn root() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR"))
}

impl Graph {
    /// The sources, less what is compiled for tests only.
    pub fn read() -> Graph {
        let mut files = BTreeMap::new();
        walk(&root().join("src"), &mut files);
        let mut graph = Graph { files };
        let tests = graph.test_only();
        graph.files.retain(|m, _| !tests.contains(m));
        for m in graph.files.keys().cloned().collect::<Vec<_>>() {
            let (exports, globs) = graph.exports_of(&m);
            let file = graph.files.get_mut(&m).expect("there");
            (file.exports, file.globs) = (exports, globs);
        }
        graph
    }

    fn test_only(&self) -> BTreeSet<Vec<String>> {
        let mut out = BTreeSet::new();
        for (module, file) in &self.files {
            for (i, w) in file.tokens.windows(7).enumerate() {
                if w != ["#", "[", "cfg", "(", "test", ")", "]"] {
                    continue;
                }
                let rest = &file.tokens[i + 7..];
                let Some(at) = rest.iter().take(8).position(|t| t == "mod") else { continue };
                if rest.get(at + 2).is_some_and(|t| t == ";") {
                    out.insert(joined(module, &rest[at + 1]));
                }
            }
        }
        out
    }

    fn exports_of(&self, module: &[String]) -> (BTreeMap<String, Vec<String>>, Vec<Vec<String>>) {
        let (mut named, mut globs) = (BTreeMap::new(), Vec::new());
        for (path, public) in self.paths(&self.files[module]).into_iter().filter_map(|p| p.exported()) {
            debug_assert!(public);
            let (last, rest) = path.split_last().expect("a path");
            if last == "*" {
                globs.push(rest.to_vec());
            } else {
                named.insert(last.clone(), path);
            }
        }
        (named, globs)
    }

    /// The module that a path leads to, through re-exports, and the name in it.
    pub fn resolve(&self, path: &[String]) -> Reference {
        let mut at = 0;
        while at < path.len() && self.files.contains_key(&path[..=at]) {
            at += 1;
        }
        let (to, item) = (path[..at].to_vec(), path.get(at).cloned());
        if let (Some(file), Some(name)) = (self.files.get(&to), &item) {
            if let Some(through) = file.exports.get(name).filter(|p| **p != path[..=at]) {
                return self.resolve(through);
            }
            if declares(&file.tokens, name).is_none() {
                for glob in &file.globs {
                    if self.files.get(glob).is_some_and(|f| declares(&f.tokens, name).is_some()) {
                        return Reference { to: glob.clone(), item };
                    }
                }
            }
        }
        Reference { to, item }
    }

    /// Every module that a file's code names, itself left out.
    pub fn references(&self, file: &File) -> BTreeSet<Reference> {
        let paths = self.paths(file);
        let all = paths.iter().map(|p| self.resolve(&p.segments));
        all.filter(|r| r.to != file.module && (!r.to.is_empty())).collect()
    }

    fn paths(&self, file: &File) -> Vec<Found> {
        let mut out = Vec::new();
        let t = &file.tokens;
        let mut i = 0;
        let mut using = None;
        while i < t.len() {
            if t[i] == "use" {
                let mut back = i;
                while back > 0 && !matches!(t[back - 1].as_str(), ";" | "}" | "]" | "{") {
                    back -= 1;
                }
                using = Some(t[back] == "pub");
            } else if t[i] == ";" {
                using = None;
            }
            let starts = i == 0 || (t[i - 1] != ":" && t[i - 1] != ".");
            let follows = t.get(i + 1).is_some_and(|n| n == ":") && t.get(i + 2).is_some_and(|n| n == ":");
            let known = matches!(t[i].as_str(), "crate" | "super" | "self") || file.children.contains(&t[i]);
            if starts && follows && known {
                let mut found = Vec::new();
                i = open(t, i, Vec::new(), &mut found);
                out.extend(
                    found
                        .into_iter()
                        .filter_map(|p| self.absolute(file, &p))
                        .map(|segments| Found { segments, exported: using == Some(true) }),
                );
            } else {
                i += 1;
            }
        }
        out
    }

    fn absolute(&self, file: &File, path: &[String]) -> Option<Vec<String>> {
        let mut base = file.module.clone();
        let mut rest = path;
        match path.first()?.as_str() {
            "crate" => (base, rest) = (Vec::new(), &path[1..]),
            "self" => rest = &path[1..],
            "super" => {
                while rest.first().is_some_and(|s| s == "super") {
                    base.pop();
                    rest = &rest[1..];
                }
            }
            _ => {}
        }
        if rest.last().is_some_and(|s| s == "self") {
            rest = &rest[..rest.len() - 1];
        }
        base.extend(rest.iter().cloned());
        Some(base)
    }

    /// Does `b` stand above `a`, by the order of declarations where their paths part?
    pub fn above(&self, b: &[String], a: &[String]) -> bool {
        let common = a.iter().zip(b).take_while(|(x, y)| x == y).count();
        let order = &self.files[&a[..common]].children;
        let place = |m: &[String]| order.iter().position(|c| Some(c) == m.get(common));
        place(b) < place(a)
    }
}

struct Found {
    segments: Vec<String>,
    exported: bool,
}

impl Found {
    fn exported(self) -> Option<(Vec<String>, bool)> {
        (self.exported && !self.segments.is_empty()).then_some((self.segments, true))
    }
}

/// What kind of item of that name a file declares: `struct`, `fn`, ...
pub fn declares(tokens: &[String], name: &str) -> Option<String> {
    let kinds = ["struct", "enum", "trait", "type", "const", "static", "fn", "mod"];
    tokens.windows(2).find(|w| w[1] == name && kinds.contains(&w[0].as_str())).map(|w| w[0].clone())
}

pub fn joined(module: &[String], child: &str) -> Vec<String> {
    module.iter().cloned().chain([child.to_owned()]).collect()
}

fn walk(dir: &Path, out: &mut BTreeMap<Vec<String>, File>) {
    let mut entries: Vec<_> =
        fs::read_dir(dir).expect("a folder").map(|e| e.expect("an entry").path()).collect();
    entries.sort();
    for path in entries {
        if path.is_dir() {
            walk(&path, out);
        } else if path.extension().is_some_and(|e| e == "rs") && !path.ends_with("main.rs") {
            let text = fs::read_to_string(&path).expect("text");
            let rel = path.strip_prefix(root().join("src")).expect("below src").with_extension("");
            let mut module: Vec<String> = rel.iter().map(|p| p.to_string_lossy().into_owned()).collect();
            let door = module.last().is_some_and(|m| m == "mod" || m == "lib");
            if door {
                module.pop();
            }
            let tokens = without_tests(lex(&text));
            let children = tokens.windows(3).filter(|w| w[0] == "mod" && w[2] == ";");
            let children = children.map(|w| w[1].clone()).collect();
            let (exports, globs) = (BTreeMap::new(), Vec::new());
            let file = File { path, module: module.clone(), text, tokens, children, exports, globs };
            out.insert(module, file);
        }
    }
}

/// Opens the groups of a path that begins at `i`: `a::{b, c::d}` gives `a::b` and `a::c::d`; returns the
/// place after it.
fn open(tokens: &[String], mut i: usize, mut so_far: Vec<String>, out: &mut Vec<Vec<String>>) -> usize {
    let colons =
        |i: usize| tokens.get(i).is_some_and(|t| t == ":") && tokens.get(i + 1).is_some_and(|t| t == ":");
    loop {
        match tokens.get(i).map(String::as_str) {
            Some("{") if !so_far.is_empty() => {
                i += 1;
                while tokens.get(i).is_some_and(|t| t != "}") {
                    i = if tokens[i] == "," { i + 1 } else { open(tokens, i, so_far.clone(), out) };
                }
                return i + 1;
            }
            Some(t) if t == "*" || t.chars().all(|c| c.is_alphanumeric() || c == '_') => {
                so_far.push(t.to_owned());
                i += 1;
                if tokens.get(i).is_some_and(|t| t == "as") {
                    out.push(so_far);
                    return i + 2;
                }
            }
            // `::<`: a turbofish ends the path.
            _ => {
                out.push(so_far);
                return i + 1;
            }
        }
        if !colons(i) {
            out.push(so_far);
            return i;
        }
        i += 2;
    }
}
