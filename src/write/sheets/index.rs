//! The kit's first page: what is in it, with pictures, in the order in which it is used.
//!
//! Imports: make::verify, write::ink, write::sheets::finish.

use super::finish::page::page;
use crate::make::verify::Verified;
use crate::write::ink::html::escaped;

/// Its path within the kit.
pub const FILE: &str = "index.html";

/// A stage of the work and the kinds of files that it takes, as the kit's table calls them.
pub struct Stage {
    /// Heading.
    pub title: &'static str,
    /// What is done, in a sentence or two.
    pub does: &'static str,
    /// Kinds of files, in the order of use.
    pub files: &'static [&'static str],
}

/// The stages, in the order of the work.
pub const STAGES: &[Stage] = &[
    Stage {
        title: "Look, and have it approved",
        does: "What the finished cup looks like. Where words are lettered, have every letter approved before film is cut.",
        files: &[
            "view/turn.html",
            "view/<side>.png",
            "view/turn.png",
            "proof/proof.html",
            "proof/proof-<paper>.pdf",
            "proof/seen.txt",
            "finish/quote.html",
        ],
    },
    Stage {
        title: "Print the template and try it on the cup",
        does: "Print at 100 %, measure the bars, wrap the template round the cup. If it gaps or overlaps, write that into the \
            job and make the kit again before film is cut.",
        files: &["template/wrap-<paper>.pdf", "template/wrap.svg", "template/base.svg"],
    },
    Stage {
        title: "Buy and prepare",
        does: "What to buy, what the job found, what is due when.",
        files: &[
            "job-sheet.html",
            "job-sheet-<paper>.pdf",
            "finish/maker-sheet.html",
            "finish/calendar.ics",
            "print/<sheet>.pdf",
        ],
    },
    Stage {
        title: "Cut",
        does: "Open each file in what drives the cutter, as it is: true millimetres, nothing compensated for the blade. The \
            bars in the group do-not-cut check the size and are not cut.",
        files: &["cut/<film>-<n>.svg", "sheet/<sheet>.svg", "sheet/<sheet>-<paper>.pdf"],
    },
    Stage {
        title: "Weed",
        does: "Each sheet with the numbers of its pieces.",
        files: &["weeding/<film>-<n>.svg"],
    },
    Stage {
        title: "Place",
        does: "Piece by piece by its number, zone by zone; lettering layer by layer.",
        files: &[
            "map/map.html",
            "map/map-<paper>.pdf",
            "map/map.svg",
            "panels/panels-<paper>.pdf",
            "panels/<film>-<n>.svg",
            "view/decal-<n>.svg",
            "cups/cups.html",
            "cups/cup-<n>.svg",
        ],
    },
    Stage {
        title: "Hand over, and keep",
        does: "Care card and label go with the cup. What is left of the film serves the next job; the record makes the same \
            again, or one piece anew.",
        files: &[
            "cards/care-and-label-<paper>.pdf",
            "leftovers/<film>-<n><letter>.svg",
            "leftovers/<sheet>.toml",
            "pieces.json",
            "manifest.json",
        ],
    },
];

/// Does a path follow a pattern whose changing parts stand in angle brackets? A part is never empty and holds no slash.
pub fn follows(path: &str, pattern: &str) -> bool {
    let Some(open) = pattern.find('<') else { return path == pattern };
    let Some(rest) = path.strip_prefix(&pattern[..open]) else { return false };
    let Some(close) = pattern[open..].find('>').map(|i| open + i + 1) else { return false };
    let end = rest.find('/').unwrap_or(rest.len());
    rest[..end]
        .char_indices()
        .skip(1)
        .map(|(i, _)| i)
        .chain([end])
        .any(|i| i > 0 && follows(&rest[i..], &pattern[close..]))
}

/// The page; `files` are the paths of all others, `holds` says what a kind of file is.
pub fn html(plan: &Verified, files: &[&str], holds: &dyn Fn(&str) -> &'static str) -> Vec<u8> {
    let job = plan.job();
    let sheets: u32 = plan.sheets().iter().map(|s| s.repeat.times).sum();
    let count = |n: usize, one: &str, many: &str| format!("{n} {}", if n == 1 { one } else { many });
    let cups = job.order.as_ref().map_or(1, |o| o.cups) as usize;
    let mut body = format!(
        "<h1>{}</h1>\n<p class=\"soft\">{}{}, {} on {}. This page names every file of the kit, in the order of the work.</p>\n",
        escaped(&job.title),
        job.date.as_ref().map_or(String::new(), |d| format!("{}. ", escaped(d))),
        count(cups, "cup", "cups"),
        count(plan.pieces().len(), "piece", "pieces"),
        count(sheets as usize, "sheet", "sheets"),
    );
    let stills = ["front", "right", "back", "left"].map(|s| (s, format!("view/{s}.png")));
    if stills.iter().all(|(_, f)| files.contains(&f.as_str())) {
        body += "<figure>";
        for (side, file) in &stills {
            body += &format!("<img src=\"{file}\" alt=\"The finished cup: {side}\">");
        }
        body += "<figcaption>front, right, back, left</figcaption></figure>\n";
    }
    let there = |kind: &str| files.iter().filter(|f| kind_of(f) == Some(kind)).copied().collect::<Vec<_>>();
    let mut number = 0;
    for stage in STAGES {
        let kinds: Vec<(&str, Vec<&str>)> = stage
            .files
            .iter()
            .map(|kind| (*kind, there(kind)))
            .filter(|(_, list)| !list.is_empty())
            .collect();
        if kinds.is_empty() {
            continue;
        }
        number += 1;
        body += &format!("<h2>{number}. {}</h2>\n<p>{}</p>\n<ul>\n", stage.title, stage.does);
        for (kind, list) in kinds {
            let links: Vec<String> = list.iter().map(|f| link(f)).collect();
            body += &format!("<li>{}: {}</li>\n", links.join(", "), escaped(&holds(kind).replace('*', "")));
        }
        body += "</ul>\n";
    }
    page(&format!("{}: the kit", job.title), &body).into_bytes()
}

/// The kind of a file among those of the stages: the first pattern that it follows, those without changing parts first.
pub fn kind_of(path: &str) -> Option<&'static str> {
    let all = || STAGES.iter().flat_map(|s| s.files).copied();
    let plain = all().find(|p| *p == path);
    plain.or_else(|| {
        all().filter(|p| follows(path, p)).max_by_key(|p| p.split('<').next().map_or(0, str::len))
    })
}

fn link(file: &str) -> String {
    // Names of films, papers and sheets are plain letters, digits and hyphens; others are told by their bytes.
    let plain = |b: u8| b.is_ascii_alphanumeric() || b"-._/".contains(&b);
    let href: String =
        file.bytes().map(|b| if plain(b) { (b as char).to_string() } else { format!("%{b:02X}") }).collect();
    format!("<a href=\"{href}\">{}</a>", escaped(file))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// By hand.
    #[test]
    fn patterns_are_followed() {
        for (path, pattern) in [
            ("cut/leaf-green-12.svg", "cut/<film>-<n>.svg"),
            ("leftovers/straw-1a.svg", "leftovers/<film>-<n><letter>.svg"),
            ("manifest.json", "manifest.json"),
            ("panels/panels-a4.pdf", "panels/panels-<paper>.pdf"),
        ] {
            assert!(follows(path, pattern), "{path} {pattern}");
        }
        for (path, pattern) in
            [("cut/a.svg", "cut/<film>-<n>.svg"), ("cut/a/b-1.svg", "cut/<film>-<n>.svg"), ("x", "y")]
        {
            assert!(!follows(path, pattern), "{path} {pattern}");
        }
        assert_eq!(kind_of("view/decal-1.svg"), Some("view/decal-<n>.svg"));
        assert_eq!(kind_of("view/front.png"), Some("view/<side>.png"));
        assert_eq!(kind_of("view/turn.png"), Some("view/turn.png"));
        assert_eq!(link("cut/a b\u{e9}.svg"), "<a href=\"cut/a%20b%C3%A9.svg\">cut/a b\u{e9}.svg</a>");
    }
}
