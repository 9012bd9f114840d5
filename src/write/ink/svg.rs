//! Documents of SVG: millimetres on width and height, the same numbers in the viewBox, no transform, absolute
//! coordinates, fixed decimals. The `svg` crate escapes and orders; path data is our own, as the crate's is
//! 32-bit.
//!
//! Imports: outline, write::ink::{decimal, letters, drawing}.

use super::decimal::{mm, push_mm, rounded};
use super::drawing::{Drawing, Group, Image, Mark, Words};
use super::letters::{Anchor, Face};
use crate::outline::{BezPath, CurvePoint, PathEl};
use base64::Engine;
use svg::node::element::Element;
use svg::node::{Node, Text};

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
        root.append(drawn_group(g, Flip::of(d.height)));
    }
    bytes(&root)
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

fn drawn_group(g: &Group, flip: Flip) -> Element {
    let mut out = group(&g.id, &g.title);
    for i in &g.images {
        out.append(drawn_image(i, flip));
    }
    for m in &g.marks {
        out.append(drawn_mark(m, flip));
    }
    for w in &g.words {
        let upright = w.turn == (1.0, 0.0);
        out.append(if g.live && upright { live_text(w, flip) } else { outlined_text(w, flip) });
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
