//! Pages of HTML that need nothing but themselves: head, style, tables.
//!
//! Imports: write::ink.

use crate::write::ink::html::escaped;

/// A4 or Letter alike: nothing is wider than 180 mm. Greys are at least 7:1 on white; lines carry no meaning by colour.
const STYLE: &str = "
:root { color-scheme: light; --ink: #1d1a16; --soft: #4a443c; --line: #c9c1b4; --tint: #f4f0e8; --mark: #0a005e; }
* { box-sizing: border-box; }
body { margin: 0 auto; padding: 8mm; max-width: 196mm; color: var(--ink); background: #fff;
  font: 10.5pt/1.45 system-ui, 'Noto Sans', sans-serif; }
h1 { font-size: 20pt; line-height: 1.15; margin: 0 0 1mm; }
h2 { font-size: 13pt; margin: 8mm 0 2mm; border-bottom: 0.4mm solid var(--ink); padding-bottom: 0.6mm; }
h3 { font-size: 11pt; margin: 4mm 0 1mm; }
p { margin: 0 0 2mm; } .soft { color: var(--soft); } .small { font-size: 9pt; }
table { border-collapse: collapse; width: 100%; margin: 1mm 0 3mm; font-variant-numeric: tabular-nums; }
.wide { overflow-x: auto; } .wide:focus-visible { outline: 3px solid var(--mark); outline-offset: 2px; }
caption { text-align: left; color: var(--soft); padding-bottom: 1mm; }
th, td { text-align: left; vertical-align: top; padding: 0.9mm 2.5mm 0.9mm 0; border-bottom: 0.2mm solid var(--line); }
th { font-weight: 600; } .n { text-align: right; white-space: nowrap; } .t { white-space: nowrap; }
tr.sum > * { border-top: 0.4mm solid var(--ink); font-weight: 600; }
.box { border: 0.4mm solid var(--ink); padding: 2.5mm 3.5mm; margin: 3mm 0; }
.care { border-left: 1.6mm solid var(--ink); background: var(--tint); padding: 1.6mm 3mm; margin: 2mm 0; }
.care { font-size: 9pt; line-height: 1.3; } .care p { margin: 0 0 0.8mm; } .care p:last-child { margin: 0; } .care .src { color: var(--soft); font-size: 8.5pt; }
.step { border-top: 0.2mm solid var(--line); padding-top: 1mm; margin-top: 3mm; }
.key { display: flex; flex-wrap: wrap; gap: 2mm 7mm; margin: 0 0 2mm; padding: 0; list-style: none; }
.key b { display: block; font-size: 13pt; } .key span { color: var(--soft); }
figure { margin: 3mm 0; } figure svg { width: 100%; height: auto; max-height: 92mm; } figure img { width: 24%; height: auto; }
figcaption { color: var(--soft); }
.line { display: inline-block; border-bottom: 0.3mm solid var(--ink); min-width: 60mm; height: 7mm; }
.tick { display: inline-block; width: 4.2mm; height: 4.2mm; border: 0.4mm solid var(--ink); vertical-align: -0.8mm; }
.word { font-size: 13pt; letter-spacing: 0.06em; font-weight: 600; overflow-wrap: anywhere; }
@page { margin: 13mm; }
@media print { .wide { overflow: visible; } body { padding: 0; max-width: none; font-size: 9.5pt; line-height: 1.35; } h2 { margin-top: 6mm; } h2, h3, caption { break-after: avoid; }
  tr, figure, .care, .box, .keep { break-inside: avoid; } }
";

/// A whole page.
pub fn page(title: &str, body: &str) -> String {
    page_in("en", title, body)
}

/// A whole page in another language.
pub fn page_in(language: &str, title: &str, body: &str) -> String {
    format!(
        "<!DOCTYPE html>\n<html lang=\"{}\">\n<head>\n<meta charset=\"utf-8\">\n\
         <meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n\
         <title>{}</title>\n<style>{STYLE}</style>\n</head>\n<body>\n<main>\n{body}</main>\n</body>\n</html>\n",
        escaped(language),
        escaped(title)
    )
}

/// Which columns hold numbers.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Column {
    /// Words, to the left.
    Words,
    /// Numbers, to the right.
    Number,
    /// Dates and times, never broken.
    Time,
}

/// A table with a caption that says what it shows; the first column heads its row.
pub struct Table {
    out: String,
    columns: Vec<Column>,
}

impl Table {
    /// Caption and heads; a caption may be empty if a heading stands right above.
    pub fn new(caption: &str, heads: &[(&str, Column)]) -> Table {
        // Wide tables are moved sideways by themselves, with keys as well.
        let words = if caption.is_empty() { heads.first().map_or("", |h| h.0) } else { caption };
        let mut out = format!(
            "<div class=\"wide\" role=\"group\" aria-label=\"{}\" tabindex=\"0\">\n<table>\n",
            escaped(if words.is_empty() { "table" } else { words })
        );
        if !caption.is_empty() {
            out += &format!("<caption>{}</caption>\n", escaped(caption));
        }
        out += "<thead><tr>";
        for (head, column) in heads {
            out += &format!("<th scope=\"col\"{}>{}</th>", class(*column), escaped(head));
        }
        out += "</tr></thead>\n<tbody>\n";
        Table { out, columns: heads.iter().map(|h| h.1).collect() }
    }
    /// A row.
    pub fn row<S: AsRef<str>>(&mut self, cells: &[S]) {
        self.add(cells, "<tr>");
    }
    /// A row that sums up.
    pub fn sum<S: AsRef<str>>(&mut self, cells: &[S]) {
        self.add(cells, "<tr class=\"sum\">");
    }
    fn add<S: AsRef<str>>(&mut self, cells: &[S], open: &str) {
        self.out += open;
        for (i, (cell, column)) in cells.iter().zip(&self.columns).enumerate() {
            let text = escaped(cell.as_ref());
            self.out += &match i {
                0 => format!("<th scope=\"row\"{}>{text}</th>", class(*column)),
                _ => format!("<td{}>{text}</td>", class(*column)),
            };
        }
        self.out += "</tr>\n";
    }
    /// Its HTML.
    pub fn done(self) -> String {
        self.out + "</tbody>\n</table>\n</div>\n"
    }
}

fn class(c: Column) -> &'static str {
    match c {
        Column::Words => "",
        Column::Number => " class=\"n\"",
        Column::Time => " class=\"t\"",
    }
}
