//! All settings of a job as a table: with the art files beside it, enough to make the cup again.
//!
//! Imports: read::job, write::papers.

use crate::read::job::Job;
use crate::read::job::keys::Setting;
use crate::write::papers::{Block, Grid};

/// Tables that stand on their own; the keys of others are told with the table that holds them.
const HEADED: &[&str] = &["cup", "film", "decal", "motif", "accent", "finish", "print"];
/// Tables of `finish` that stand on their own.
const OF_FINISH: &[&str] = &["product", "band", "step", "times", "base", "price"];

/// Keys whose default means nothing where the other one is said.
const INSTEAD: &[(&str, &str)] = &[
    ("width", "height"),
    ("height", "width"),
    ("width", "fits"),
    ("copies", "poses"),
    ("turning", "poses"),
    ("longest", "sheet"),
];

/// Keys and values, section by section.
pub fn blocks(job: &Job) -> Vec<Block> {
    let mut out = vec![Block::Text(
        "What the job file said, and what holds where it said nothing. The same settings, art files, seed \
            and version of the program give the same kit on the same kind of computer, byte for byte."
            .to_owned(),
    )];
    let program = Setting {
        table: String::new(),
        key: "program".into(),
        value: concat!("frusta ", env!("CARGO_PKG_VERSION")).into(),
        said: true,
    };
    let all: Vec<&Setting> = job.written.settings.iter().chain([&program]).collect();
    let mut sections: Vec<(String, Vec<(String, &Setting)>)> = Vec::new();
    for setting in all {
        let (head, key) = placed(setting);
        match sections.iter_mut().find(|(h, _)| *h == head) {
            Some((_, rows)) => rows.push((key, setting)),
            None => sections.push((head, vec![(key, setting)])),
        }
    }
    for (head, mut rows) in sections {
        let said: Vec<String> = rows.iter().filter(|(_, s)| s.said).map(|(key, _)| key.clone()).collect();
        let idle = |key: &str| INSTEAD.iter().any(|(k, other)| *k == key && said.iter().any(|s| s == other));
        rows.retain(|(key, s)| s.said || !idle(key));
        let mut grid = Grid::new(&caption(&head, &rows), &["setting", "value", "from"]);
        for (key, setting) in rows {
            grid.row([key, setting.value.clone(), if setting.said { "job" } else { "default" }.to_owned()]);
        }
        out.push(Block::Table(grid));
    }
    out
}

/// The section in which a setting is told, and its key there.
fn placed(setting: &Setting) -> (String, String) {
    let parts: Vec<&str> = setting.table.split('.').filter(|p| !p.is_empty()).collect();
    let name = |part: &str| part.split('[').next().unwrap_or_default().to_owned();
    let heads = match parts.as_slice() {
        [finish, second, ..] if name(finish) == "finish" && OF_FINISH.contains(&name(second).as_str()) => 2,
        [first, ..] if HEADED.contains(&name(first).as_str()) => 1,
        _ => 0,
    };
    let key = parts[heads..].iter().copied().chain([setting.key.as_str()]).collect::<Vec<_>>().join(".");
    (parts[..heads].join("."), from_one(&key))
}

/// A key with its places counted from 1, as people do: `layers 1, offset`.
fn from_one(key: &str) -> String {
    let mut out = String::new();
    for part in key.split('.') {
        let separate = match (out.is_empty(), out.contains(' ')) {
            (true, _) => "",
            (false, true) => ", ",
            (false, false) => ".",
        };
        out.push_str(separate);
        match part.strip_suffix(']').and_then(|p| p.split_once('[')) {
            Some((name, place)) => {
                let number =
                    place.parse::<usize>().map_or_else(|_| place.to_owned(), |n| (n + 1).to_string());
                out.push_str(&format!("{name} {number}"));
            }
            None => out.push_str(part),
        }
    }
    out
}

/// A section's heading: `film 2: straw`.
fn caption(head: &str, rows: &[(String, &Setting)]) -> String {
    if head.is_empty() {
        return "job".to_owned();
    }
    let Some((path, place)) = head.strip_suffix(']').and_then(|h| h.rsplit_once('[')) else {
        return head.replace('.', " ");
    };
    let number = place.parse::<usize>().map_or_else(|_| place.to_owned(), |n| (n + 1).to_string());
    let called = ["name", "do", "art", "text", "family", "families"];
    let name = called.iter().find_map(|k| rows.iter().find(|(key, s)| key == k && s.said));
    let path = path.replace('.', " ");
    match name {
        Some((_, s)) => format!("{path} {number}: {}", s.value),
        None => format!("{path} {number}"),
    }
}
