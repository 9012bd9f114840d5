//! Documents of SVG: millimetres on width and height, the same numbers in the viewBox, no transform, absolute
//! coordinates, fixed decimals. The `svg` crate escapes and orders; path data is our own, as the crate's is
//! 32-bit.
//!
//! Imports: outline, write::ink::{decimal, letters, drawing}.

use super::decimal::{mm, push_mm, rounded};
use super::drawing::{Drawing, Group, Image, Mark, Words};
use super::letters::{self, Anchor, Face};
use crate::outline::{BezPath, CurvePoint, PathEl};
use base64::Engine;
use std::collections::BTreeSet;
use svg::node::element::Element;
use svg::node::{Blob, Node, Text};

/// The height of a document, from which y is counted down.
#[derive(Clone, Copy, Debug)]
pub struct Flip(f64);

impl Flip {
    /// From the height as the page writes it: whoever reads the file flips with that, not with the plan's.
    pub fn of(height: f64) -> Flip {
        Flip(rounded(height, 3))
    }
}

/// Path data, flipped; a closed subpath does not repeat its first point.
pub fn data<'a>(paths: impl IntoIterator<Item = &'a BezPath>, flip: Flip) -> String {
    let mut d = String::new();
    let point = |d: &mut String, p: CurvePoint| {
        push_mm(d, p.x);
        d.push(' ');
        push_mm(d, flip.0 - p.y);
    };
    for el in paths.into_iter().flat_map(BezPath::elements) {
        if !d.is_empty() {
            d.push(' ');
        }
        match *el {
            PathEl::MoveTo(p) => {
                d.push_str("M ");
                point(&mut d, p);
            }
            PathEl::LineTo(p) => {
                d.push_str("L ");
                point(&mut d, p);
            }
            PathEl::QuadTo(a, p) => {
                d.push_str("Q ");
                point(&mut d, a);
                d.push(' ');
                point(&mut d, p);
            }
            PathEl::CurveTo(a, b, p) => {
                d.push_str("C ");
                for (i, q) in [a, b, p].into_iter().enumerate() {
                    if i > 0 {
                        d.push(' ');
                    }
                    point(&mut d, q);
                }
            }
            PathEl::ClosePath => d.push('Z'),
        }
    }
    d
}

/// The root element of a page.
pub fn page(width: f64, height: f64, title: &str, message: &str) -> Element {
    let mut root = Element::new("svg");
    root.assign("xmlns", "http://www.w3.org/2000/svg");
    root.assign("version", "1.1");
    root.assign("width", format!("{}mm", mm(width)));
    root.assign("height", format!("{}mm", mm(height)));
    root.assign("viewBox", format!("0 0 {} {}", mm(width), mm(height)));
    root.append(worded("title", title));
    if !message.is_empty() {
        root.append(worded("desc", message));
    }
    root
}

/// An element that holds only words; characters that XML cannot carry become spaces.
pub fn worded(name: &str, words: &str) -> Element {
    let clean: String = words.chars().map(|c| if c.is_control() { ' ' } else { c }).collect();
    let mut e = Element::new(name);
    e.append(Text::new(clean));
    e
}

/// A group with its id and title.
pub fn group(id: &str, title: &str) -> Element {
    let mut g = Element::new("g");
    g.assign("id", id);
    g.append(worded("title", title));
    g
}

/// The whole file.
pub fn bytes(root: &Element) -> Vec<u8> {
    format!("<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n{root}\n").into_bytes()
}

/// A drawing as a file.
pub fn drawing(d: &Drawing) -> Vec<u8> {
    let mut root = page(d.width, d.height, &d.title, &d.message);
    if d.groups.iter().any(|g| !g.images.is_empty()) {
        root.assign("xmlns:xlink", "http://www.w3.org/1999/xlink");
    }
    for g in &d.groups {
        root.append(drawn_group(g, Flip::of(d.height), &|w, flip| Box::new(outlined_text(w, flip))));
    }
    bytes(&root)
}

/// A drawing as a picture to look at, not to cut: each letter is drawn once and shown wherever it stands, so that
/// a sheet of a thousand numbers is not ten times as long. Only such letters are moved by a transform.
pub fn picture(d: &Drawing) -> Vec<u8> {
    let mut root = page(d.width, d.height, &d.title, &d.message);
    root.assign("xmlns:xlink", "http://www.w3.org/1999/xlink");
    let words = d.groups.iter().flat_map(|g| g.words.iter().filter(|w| !is_live(g, w)));
    let used: BTreeSet<(u8, char)> = words.flat_map(letters_of).collect();
    if !used.is_empty() {
        let mut defs = Element::new("defs");
        used.into_iter().for_each(|(bold, letter)| defs.append(letter_shape(bold, letter)));
        root.append(defs);
    }
    for g in &d.groups {
        root.append(drawn_group(g, Flip::of(d.height), &shown_text));
    }
    bytes(&root)
}

/// Units of a letter's shape in its size: those of the faces, so that whole numbers hold it.
const UNITS: f64 = 1000.0;

fn is_bold(face: Face) -> u8 {
    u8::from(face == Face::Bold)
}

/// Letters that leave ink.
fn letters_of(w: &Words) -> impl Iterator<Item = (u8, char)> + '_ {
    let drawn = w.message.chars().filter_map(|c| letters::drawn(w.face, c));
    let inked = |c: &char| letters::outline(w.face, *c).is_some_and(|(o, _)| !o.elements().is_empty());
    drawn.filter(inked).map(|c| (is_bold(w.face), c))
}

fn letter_id(bold: u8, letter: char) -> String {
    format!("{}{:x}", if bold == 1 { "bold-" } else { "plain-" }, u32::from(letter))
}

/// A letter at its own units, y down.
fn letter_shape(bold: u8, letter: char) -> Blob {
    let face = if bold == 1 { Face::Bold } else { Face::Regular };
    let mut d = String::new();
    let point = |p: CurvePoint| format!("{} {}", (p.x * UNITS).round(), -(p.y * UNITS).round());
    for el in letters::outline(face, letter).iter().flat_map(|(o, _)| o.elements()) {
        match *el {
            PathEl::MoveTo(p) => d += &format!("M{}", point(p)),
            PathEl::LineTo(p) => d += &format!("L{}", point(p)),
            PathEl::QuadTo(a, p) => d += &format!("Q{} {}", point(a), point(p)),
            PathEl::CurveTo(a, b, p) => d += &format!("C{} {} {}", point(a), point(b), point(p)),
            PathEl::ClosePath => d.push('Z'),
        }
    }
    Blob::new(format!("<path id=\"{}\" d=\"{d}\"/>", letter_id(bold, letter)))
}

/// A line of text, each letter shown at its place.
fn shown_text(w: &Words, flip: Flip) -> Box<dyn Node> {
    let (x, y) = w.start();
    let ((c, s), k) = (w.turn, w.size / UNITS);
    let mut out = format!(
        "<g fill=\"{}\" transform=\"matrix({:.7} {:.7} {:.7} {:.7} {} {})\">",
        w.colour,
        k * c,
        -k * s,
        k * s,
        k * c,
        mm(x),
        mm(flip.0 - y)
    );
    let (mut at, bold) = (0.0, is_bold(w.face));
    for letter in w.message.chars().filter_map(|c| letters::drawn(w.face, c)) {
        let Some((shape, advance)) = letters::outline(w.face, letter) else { continue };
        if !shape.elements().is_empty() {
            let id = letter_id(bold, letter);
            out += &format!("<use x=\"{}\" xlink:href=\"#{id}\"/>", (at * UNITS).round());
        }
        at += advance;
    }
    Box::new(Blob::new(out + "</g>"))
}

/// A group's marks and words as elements, to stand in a page; words as text.
pub fn elements(g: &Group, flip: Flip) -> String {
    let mut out = String::new();
    for m in &g.marks {
        out.push_str(&format!("{}\n", drawn_mark(m, flip)));
    }
    for w in &g.words {
        out.push_str(&format!("{}\n", live_text(w, flip)));
    }
    out
}

/// Is a line of a group written as text?
fn is_live(g: &Group, w: &Words) -> bool {
    g.live && w.turn == (1.0, 0.0)
}

fn drawn_group(g: &Group, flip: Flip, outlined: &dyn Fn(&Words, Flip) -> Box<dyn Node>) -> Element {
    let mut out = group(&g.id, &g.title);
    for i in &g.images {
        out.append(drawn_image(i, flip));
    }
    for m in &g.marks {
        out.append(drawn_mark(m, flip));
    }
    for w in &g.words {
        if is_live(g, w) {
            out.append(live_text(w, flip));
        } else {
            out.append(outlined(w, flip));
        }
    }
    out
}

fn outlined_text(w: &Words, flip: Flip) -> Element {
    let mut p = Element::new("path");
    p.assign("d", data([&w.outlines()], flip));
    p.assign("fill", w.colour.to_string());
    p
}

/// Any sans-serif face will do: cells are anchored at their aligned edge.
fn live_text(w: &Words, flip: Flip) -> Element {
    let mut t = worded("text", &w.message);
    t.assign("x", mm(w.at.0));
    t.assign("y", mm(flip.0 - w.at.1));
    t.assign("font-family", "Noto Sans, sans-serif");
    t.assign("font-size", mm(w.size));
    if w.face == Face::Bold {
        t.assign("font-weight", "bold");
    }
    match w.anchor {
        Anchor::Start => {}
        Anchor::Middle => t.assign("text-anchor", "middle"),
        Anchor::End => t.assign("text-anchor", "end"),
    }
    t.assign("fill", w.colour.to_string());
    t
}

/// Its pixels are square but for what the picture's own scales differ by.
fn drawn_image(i: &Image, flip: Flip) -> Element {
    let mut out = Element::new("image");
    out.assign("id", i.id.as_str());
    out.assign("x", mm(i.at.min.x));
    out.assign("y", mm(flip.0 - i.at.max.y));
    out.assign("width", mm(i.at.width().0));
    out.assign("height", mm(i.at.height().0));
    out.assign("preserveAspectRatio", "none");
    let file = base64::engine::general_purpose::STANDARD.encode(&i.png);
    out.assign("xlink:href", format!("data:image/png;base64,{file}"));
    out
}

fn drawn_mark(m: &Mark, flip: Flip) -> Element {
    let mut p = Element::new("path");
    if let Some(id) = &m.id {
        p.assign("id", id.as_str());
    }
    p.assign("d", data([&m.path], flip));
    match m.fill {
        Some(c) => p.assign("fill", c.to_string()),
        None => p.assign("fill", "none"),
    }
    if let Some(s) = m.stroke {
        p.assign("stroke", s.colour.to_string());
        p.assign("stroke-width", mm(s.width));
        if !s.dash.lengths().is_empty() {
            let lengths: Vec<String> = s.dash.lengths().iter().map(|&l| mm(l)).collect();
            p.assign("stroke-dasharray", lengths.join(" "));
        }
    }
    p
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::read::job::Rgb;
    use crate::write::ink::drawing::Text as Line;
    use resvg::tiny_skia::{Pixmap, Transform};
    use resvg::usvg;

    fn seen(file: &[u8]) -> Pixmap {
        let tree = usvg::Tree::from_data(file, &usvg::Options::default()).unwrap();
        let mut pixels = Pixmap::new(800, 500).unwrap();
        resvg::render(&tree, Transform::from_scale(2.0, 2.0), &mut pixels.as_mut());
        pixels
    }

    /// Truth: the same drawing with every letter as an outline of its own, drawn by a renderer that had no part in
    /// either; a line of text anywhere, turned, of any size and face, with letters that the faces lack.
    #[test]
    fn letters_shown_again_look_like_letters_drawn() {
        let mut g = Group::new("words", "");
        let lines = [
            ("7/123", 3.0, 1.0f64),
            ("Zoë W. Árpád", 5.2, 0.0),
            ("98 s", 1.7, -0.6),
            ("a\u{4e2d} b", 4.0, 0.0),
        ];
        for (i, (words, size, turn)) in lines.into_iter().enumerate() {
            for (j, anchor) in [Anchor::Start, Anchor::Middle, Anchor::End].into_iter().enumerate() {
                let line = Line::new(words, size).anchor(anchor).colour(Rgb([0x20, 0x10, 0x90]));
                let line = if i % 2 == 0 { line.bold() } else { line };
                g.text_turned(
                    &line,
                    (20.0 + 30.0 * j as f64, 8.0 + 12.0 * i as f64),
                    (turn.cos(), turn.sin()),
                );
            }
        }
        let d = Drawing {
            title: "t".into(),
            message: String::new(),
            width: 100.0,
            height: 60.0,
            groups: vec![g],
        };
        let (drawn, shown) = (drawing(&d), picture(&d));
        assert!(shown.len() < drawn.len() * 3 / 4, "{} {}", shown.len(), drawn.len());
        let (a, b) = (seen(&drawn), seen(&shown));
        let ink = a.pixels().iter().filter(|p| p.alpha() > 128).count();
        let off =
            a.pixels().iter().zip(b.pixels()).filter(|(p, q)| p.alpha().abs_diff(q.alpha()) > 40).count();
        assert!(ink > 2000 && off * 500 < ink, "{off} of {ink}");
    }
}
