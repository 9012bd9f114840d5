//! One row a key: what the reader asks for is what the rows say, every example can be typed, and the complete
//! job in `examples/every-key.toml` is made from the rows (`FRUSTA_BLESS=1` writes it anew).

use frusta::read::job::keys::{AnyKey, Table};
use frusta::read::job::{Family, tables};
use frusta::{Severity, read_job};
use std::collections::{BTreeMap, BTreeSet};
use std::fmt::Write as _;
use std::path::Path;

/// Keys of a table that a job of it has at least; one way where there are several.
fn base(path: &str) -> &'static str {
    match path {
        "cup" => "diameters = { rim = 86, base = 66, height = 165 }\n",
        "film" => "name = \"white\"\nsheet = [300, 200]\n",
        "sheet" => "name = \"meadow-1\"\npicture = \"scans/meadow-1.png\"\n",
        "pick" => "count = 14\n",
        "decal" => "text = \"Marrow\"\nwidth = 70\nup = \"centred\"\nlayers = [{ film = \"white\" }]\n",
        "decal.layers" => "film = \"white\"\n",
        "sheet.own" => "motifs = [{ picture = \"rose.png\", width = 30 }]\n",
        "sheet.own.motifs" => "picture = \"rose.png\"\nwidth = 30\n",
        "sheet.own.printed" => "scan = \"scans/own-1.png\"\n",
        "motif" => "art = \"art/pea-pod.svg\"\nwidth = 30\n",
        "accent" => "family = \"pebble\"\nsmallest = 3\nlargest = 9\ngap = 1.5\nfilm = \"white\"\n",
        "finish.product" => "name = \"clear resin\"\nkind = \"two-part resin\"\nmix = [1, 1]\n",
        "finish.band" => "name = \"gold foot\"\nfrom = 0\nto = 40\n",
        "finish.step" => "do = \"clear coat\"\n",
        "finish.base" => "film = \"white\"\n",
        "finish.price" => "currency = \"EUR\"\nhour = 18\n",
        _ => "",
    }
}

/// The films that examples name.
const FILMS: &str = "[[film]]\nname = \"white\"\nsheet = [300, 200]\n[[film]]\nname = \"straw\"\nroll = \
    305\n[[film]]\nname = \"leaf-green\"\nsheet = [300, 200]\n[[film]]\nname = \"red\"\nsheet = [300, 200]\n";

fn table(path: &str) -> &'static Table {
    tables().into_iter().find(|t| t.path == path).expect("a table")
}

/// A job with these lines in a table; `without` is left out of the keys that such a table has at least.
fn job_with(path: &str, lines: &str, without: &[&str]) -> String {
    let mut out = String::new();
    let keep = |path: &str, leave: &[&str]| -> String {
        let kept = base(path).lines().filter(|l| !leave.iter().any(|k| l.starts_with(&format!("{k} ="))));
        kept.map(|l| format!("{l}\n")).collect()
    };
    if path.is_empty() {
        out += lines;
    }
    if path != "cup" && !path.starts_with("cup.") {
        write!(out, "[cup]\n{}", base("cup")).unwrap();
    }
    if !path.starts_with("film") {
        out += FILMS;
    }
    let parts: Vec<&str> = path.split('.').filter(|p| !p.is_empty()).collect();
    for n in 1..=parts.len() {
        let here = parts[..n].join(".");
        let header = match (table(&here).many, here.as_str()) {
            (_, "finish.price.films") => "[finish.price.films.white]".to_owned(),
            (true, _) => format!("[[{here}]]"),
            (false, _) => format!("[{here}]"),
        };
        let last = n == parts.len();
        let inner = if last { without.to_vec() } else { vec![parts[n]] };
        write!(out, "{header}\n{}", keep(&here, &inner)).unwrap();
        if last {
            out += lines;
        }
    }
    out
}

/// Every example of a row is a value of its key: it has the kind, the range and the words that the row says.
#[test]
fn every_example_can_be_typed() {
    let wrong =
        ["job/unknown-key", "job/wrong-kind", "job/unreadable", "job/out-of-range", "job/unknown-choice"];
    let (mut keys, mut faults) = (0, Vec::new());
    for table in tables() {
        for key in table.keys {
            let row = key.row();
            keys += 1;
            if ["cup", "film", "product", "band", "step"].contains(&row.name) && key.kind().contains("table")
            {
                continue;
            }
            // Some keys stand in one way of writing their table only.
            let (before, after, without): (&str, &str, &[&str]) = match (table.path, row.name) {
                ("decal", "art" | "height") => ("art = \"a.svg\"\n", "", &["text", "width", "art"]),
                ("decal.layers", "close" | "overlap") => {
                    ("offset = 2\n", "[[decal.layers]]\nfilm = \"white\"\n", &[])
                }
                (_, name) => ("", "", &[name]),
            };
            let before = if row.name == "art" { "" } else { before };
            let text = job_with(table.path, &format!("{before}{}\n{after}", row.as_typed()), without);
            let read = read_job(&text);
            for d in read.diagnostics.iter().filter(|d| d.severity == Severity::Fault) {
                let at = d.at.to_string();
                let here = at.rsplit('.').next().is_some_and(|k| k.split('[').next() == Some(row.name));
                if here && wrong.contains(&d.code.id) {
                    faults.push(format!("{}.{}: {d}", table.path, row.name));
                }
            }
        }
    }
    assert!(faults.is_empty(), "{}", faults.join("\n"));
    assert!(keys >= 160, "{keys} keys");
}

/// What a missing key is mended by can be typed as it stands, and the fault is gone.
#[test]
fn what_mends_a_missing_key_mends_it() {
    let (mut tried, mut wrong) = (0, Vec::new());
    for table in tables() {
        for key in table.keys {
            let row = key.row();
            let text = job_with(table.path, "", &[row.name]);
            let missing = |text: &str| -> Option<(String, String)> {
                let read = read_job(text);
                let own = read.diagnostics.iter().find(|d| {
                    let at = d.at.to_string();
                    d.code.id == "job/missing-key" && at.rsplit('.').next() == Some(row.name)
                });
                own.map(|d| (d.message.clone(), d.help.clone()))
            };
            let Some((message, help)) = missing(&text) else { continue };
            tried += 1;
            // No key is named twice in a row: "straight up (`height`) (`slant`)".
            if message.contains("`) (`") {
                wrong.push(format!("{}.{}: {message}", table.path, row.name));
            }
            let typed = help.split('`').nth(1).unwrap_or_default().to_owned();
            let typed =
                if typed.is_empty() { help.trim_start_matches("add").trim().to_owned() } else { typed };
            if missing(&job_with(table.path, &format!("{typed}\n"), &[row.name])).is_some() {
                wrong.push(format!("{}.{}: {help}", table.path, row.name));
            }
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
    assert!(tried >= 25, "{tried} tried");
}

/// A key that is no row is refused, and what the refusal calls known are rows of that table: the reader asks
/// for nothing else. Together the ways of writing a table ask for all of its rows.
#[test]
fn the_reader_asks_for_the_rows_and_for_nothing_else() {
    let mut asked: BTreeMap<&str, BTreeSet<String>> = BTreeMap::new();
    let mut ways: Vec<(&str, &str, &[&str])> =
        tables().iter().map(|t| (t.path, "", &[] as &[&str])).collect();
    ways.extend([
        (
            "cup",
            "rings = [{ up = 0, girth = 200 }, { up = 100, girth = 220 }]\nwall = 100\n",
            &["diameters"] as &[&str],
        ),
        ("decal", "art = \"a.svg\"\n", &["text", "width"]),
        ("motif", "poses = []\n", &[]),
        ("motif", "from = \"meadow-1\"\n", &["art", "width"]),
        ("accent", "films = { white = 1 }\n", &["film"]),
        ("decal.layers", "offset = 2\n[[decal.layers]]\nfilm = \"white\"\n", &[]),
        ("finish.product", "kind = \"paint\"\n", &["kind", "mix"]),
    ]);
    for (path, lines, without) in ways {
        let text = job_with(path, &format!("zzqqxx = 1\n{lines}"), without);
        for d in read_job(&text).diagnostics.iter().filter(|d| d.code.id == "job/unknown-key") {
            if !d.at.to_string().ends_with("zzqqxx") {
                continue;
            }
            let known = d.help.strip_prefix("known here: ").expect("the known keys");
            asked.entry(path).or_default().extend(known.split(", ").map(str::to_owned));
        }
    }
    for table in tables() {
        let rows: BTreeSet<String> = table.keys.iter().map(|k| k.row().name.to_owned()).collect();
        assert_eq!(asked.get(table.path), Some(&rows), "[{}]", table.path);
    }
}

/// A key of the job is spelled once in the sources, in its row; so is a family of spots. A new one is a row
/// and what makes use of it.
#[test]
fn names_are_spelled_once() {
    fn sources(dir: &Path, out: &mut Vec<String>) {
        for entry in std::fs::read_dir(dir).expect("a folder") {
            let path = entry.expect("an entry").path();
            if path.is_dir() {
                sources(&path, out);
            } else if path.extension().is_some_and(|x| x == "rs") {
                let text = std::fs::read_to_string(&path).expect("text");
                // Tests, and documentation, may name what they test.
                let code = text.split("#[cfg(test)]").next().unwrap_or_default().to_owned();
                if !path.to_string_lossy().contains("tests") {
                    out.push(
                        code.lines()
                            .filter(|l| !l.trim_start().starts_with("//"))
                            .collect::<Vec<_>>()
                            .join("\n"),
                    );
                }
            }
        }
    }
    let mut all = Vec::new();
    sources(&Path::new(env!("CARGO_MANIFEST_DIR")).join("src"), &mut all);
    let spelled = |word: &str| all.iter().map(|t| t.matches(&format!("\"{word}\"")).count()).sum::<usize>();
    for family in Family::all().filter(|f| !["ring", "drop", "seed"].contains(&f.name())) {
        let lines = all.iter().flat_map(|t| t.lines());
        let rows =
            lines.filter(|l| l.contains(&format!("\"{}\"", family.name())) && l.contains("name:")).count();
        assert_eq!((rows, spelled(family.name())), (1, 1), "{}", family.name());
    }
    // Of the keys those whose names are no words of anything else.
    let own = [
        "tape-thickness",
        "build-up",
        "cut-speed",
        "weed-opening-seconds",
        "letter-spacing",
        "mitre-limit",
        "share-by",
        "sanding-margin",
        "recoat-from",
        "volume-step",
        "fee-fixed",
        "per-square-metre",
        "spares-up-to",
    ];
    for key in own {
        // Its row; messages may point at it once more.
        assert!((1..=2).contains(&spelled(key)), "{key}: {} places", spelled(key));
    }
}

fn line(key: &dyn AnyKey, on: bool) -> String {
    let row = key.row();
    let mut kind = key.kind();
    kind[..1].make_ascii_uppercase();
    if !key.allowed().is_empty() {
        kind += &format!(": {}", key.allowed());
    }
    if !key.default_words().is_empty() {
        kind += &format!("; if not said: {}", key.default_words());
    }
    format!("# {} {kind}.\n{}{}\n", row.about, if on { "" } else { "#" }, row.as_typed())
}

fn every_key() -> String {
    let mut out = String::from(
        "# Every key of a job, made from the program's own table of keys; `frusta explain film.margin` says \
            the same of one.\n\
         # Copy what you need: take the # before a key away, and before the heading of its table. As it \
         stands, the job\n\
         # makes a wrap template.\n",
    );
    for table in tables() {
        let on = ["", "cup", "film"].contains(&table.path);
        let head = match (table.path, table.many) {
            ("", _) => String::new(),
            ("finish.price.films", _) => "[finish.price.films.white]".to_owned(),
            (path, true) => format!("[[{path}]]"),
            (path, false) => format!("[{path}]"),
        };
        write!(out, "\n# {}\n", table.about).unwrap();
        if !head.is_empty() {
            writeln!(out, "{}{head}", if on { "" } else { "#" }).unwrap();
        }
        for key in table.keys {
            // Tables of their own follow.
            if table.path.is_empty() && key.kind().contains("table") {
                continue;
            }
            let set = match table.path {
                "" => key.row().name == "title",
                path => base(path).lines().any(|l| l.starts_with(&format!("{} =", key.row().name))),
            };
            out += &line(*key, on && set);
        }
    }
    out
}

/// The complete job is the rows, and is a job.
#[test]
fn the_complete_job_is_made_from_the_rows() {
    let file = Path::new(env!("CARGO_MANIFEST_DIR")).join("examples/every-key.toml");
    let text = every_key();
    if std::env::var_os("FRUSTA_BLESS").is_some() {
        std::fs::write(&file, &text).expect("written");
    }
    assert_eq!(std::fs::read_to_string(&file).expect("the example"), text, "FRUSTA_BLESS=1 writes it anew");
    let read = read_job(&text);
    assert!(read.job.is_some(), "{:?}", read.diagnostics);
}

/// What the settings page says is every key that was read, said or left to its default: decals and finish
/// too.
#[test]
fn every_setting_is_told() {
    let text = std::fs::read_to_string(
        Path::new(env!("CARGO_MANIFEST_DIR")).join("demo-data/harvest-fair/job.toml"),
    );
    let job = read_job(&text.expect("the demonstration")).job.expect("a job");
    let told = |table: &str, key: &str| {
        let s = job.written.settings.iter().find(|s| s.table == table && s.key == key);
        s.map(|s| (s.value.clone(), s.said))
    };
    assert_eq!(told("cup", "lap"), Some(("0 mm".to_owned(), false)));
    assert!(told("decal[0]", "font").is_some() && told("decal[0].layers[0]", "close").is_some());
    assert!(told("finish", "loss").is_some() && told("finish.step[0]", "do").is_some());
    // A default is told as well as what is said, for every row that has one.
    for table in
        tables().iter().filter(|t| ["cup", "film", "decal", "motif", "accent", "print"].contains(&t.path))
    {
        let at = if table.many { format!("{}[0]", table.path) } else { table.path.to_owned() };
        for key in table.keys.iter().filter(|k| !k.default_words().is_empty()) {
            let name = key.row().name;
            if ["copies", "turning", "height", "width", "film", "trial", "outline"].contains(&name) {
                continue;
            }
            assert!(told(&at, name).is_some(), "{at}.{name}");
        }
    }
}
