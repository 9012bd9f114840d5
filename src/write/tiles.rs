//! A drawing printed at true size on sheets of paper: tiles with overlap, crosses, page letters and check bars, as PDF.
//!
//! Text is drawn as outlines, so the file needs no font. Bytes are the same for the same drawing.
//!
//! Imports: base, read::job, write::{drawing, letters}.

use super::drawing::{
    Dash, Drawing, Group, INK, Mark, QUIET, Stroke, TINT, Text, mark_bounds, rectangle, segment, size_bar,
};
use super::letters::Anchor;
use crate::base::frame::Page;
use crate::base::shape::{BezPath, Bounds, PathEl};
use crate::read::job::Rgb;
use pdf_writer::types::{LineCapStyle, LineJoinStyle};
use pdf_writer::{Content, Filter, Finish, Name, Pdf, Rect, Ref, TextStr};

/// A paper: its name in file names, width and height in portrait, mm (ISO 216; ANSI/ASME Y14.1 and US Legal).
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Paper {
    /// Short name.
    pub name: &'static str,
    /// Shorter side.
    pub width: f64,
    /// Longer side.
    pub height: f64,
}

/// The papers that templates are tiled over.
pub const PAPERS: [Paper; 5] = [
    Paper { name: "a4", width: 210.0, height: 297.0 },
    Paper { name: "a3", width: 297.0, height: 420.0 },
    Paper { name: "letter", width: 215.9, height: 279.4 },
    Paper { name: "legal", width: 215.9, height: 355.6 },
    Paper { name: "tabloid", width: 279.4, height: 431.8 },
];

/// What the maker's printer makes of the two bars; (100, 100) for a true one.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Measured {
    /// Length of the level bar in print, mm.
    pub across: f64,
    /// Length of the upright bar in print, mm.
    pub up: f64,
}

impl Measured {
    /// A printer that needs no correction.
    pub const TRUE: Measured = Measured { across: 100.0, up: 100.0 };
}

/// White edge that printers need.
const EDGE: f64 = 7.0;
/// Strip at the left for the upright bar, and at the foot for the level bar and the words.
const STRIP: f64 = 7.0;
const FOOT: f64 = 15.0;
/// What neighbouring pages both show.
const OVERLAP: f64 = 10.0;
const POINTS: f64 = 72.0 / 25.4;

/// How a drawing is laid over pages.
#[derive(Clone, Debug, PartialEq)]
pub struct Tiling {
    /// Paper size as turned, mm.
    pub page: (f64, f64),
    /// Pages in a row and rows.
    pub count: (usize, usize),
    /// Size of the window on the drawing, mm.
    pub window: (f64, f64),
    /// Lower left corner of the whole, in the drawing.
    pub start: (f64, f64),
}

impl Tiling {
    /// The turn of the paper that takes fewer pages; upright when both take the same.
    pub fn new(paper: Paper, ink: Bounds<Page>, m: Measured) -> Tiling {
        let upright = Tiling::turned((paper.width, paper.height), ink, m);
        let level = Tiling::turned((paper.height, paper.width), ink, m);
        if level.pages() < upright.pages() { level } else { upright }
    }
    fn turned(paper: (f64, f64), ink: Bounds<Page>, m: Measured) -> Tiling {
        // In millimetres as they come out: a printer that shrinks leaves less of the paper.
        let page = (paper.0 * m.across / 100.0, paper.1 * m.up / 100.0);
        let window = (page.0 - 2.0 * EDGE - STRIP, page.1 - 2.0 * EDGE - FOOT);
        let along = |ink: f64, window: f64| ((ink - OVERLAP) / (window - OVERLAP)).ceil().max(1.0);
        let (w, h) = (ink.width().0, ink.height().0);
        let count = (along(w, window.0), along(h, window.1));
        let whole = (count.0 * (window.0 - OVERLAP) + OVERLAP, count.1 * (window.1 - OVERLAP) + OVERLAP);
        let start = (ink.min.x - (whole.0 - w) / 2.0, ink.min.y - (whole.1 - h) / 2.0);
        Tiling { page, count: (count.0 as usize, count.1 as usize), window, start }
    }
    /// Number of pages.
    pub fn pages(&self) -> usize {
        self.count.0 * self.count.1
    }
    /// Column and row (from the top) of each page, in order.
    fn cells(&self) -> impl Iterator<Item = (usize, usize)> + '_ {
        (0..self.count.1).flat_map(|row| (0..self.count.0).map(move |column| (column, row)))
    }
    /// Lower left corner of a page's window, in the drawing.
    pub fn corner(&self, (column, row): (usize, usize)) -> (f64, f64) {
        let up = (self.count.1 - 1 - row) as f64;
        (
            self.start.0 + column as f64 * (self.window.0 - OVERLAP),
            self.start.1 + up * (self.window.1 - OVERLAP),
        )
    }
    /// Where the crosses stand, in the drawing: two on every joint, in the middle of the overlap, seen on both pages.
    pub fn crosses(&self) -> Vec<(f64, f64)> {
        let mut out = Vec::new();
        for cell in self.cells() {
            let (x, y) = self.corner(cell);
            for part in [0.15, 0.85] {
                if cell.0 + 1 < self.count.0 {
                    out.push((x + self.window.0 - OVERLAP / 2.0, y + self.window.1 * part));
                }
                if cell.1 > 0 {
                    out.push((x + self.window.0 * part, y + self.window.1 - OVERLAP / 2.0));
                }
            }
        }
        out
    }
}

/// A drawing made ready once for all papers.
pub struct Body {
    title: String,
    ink: Bounds<Page>,
    packed: Vec<u8>,
}

impl Body {
    /// Of a drawing.
    pub fn new(d: &Drawing) -> Body {
        let mut shared = Content::new();
        for g in &d.groups {
            push_group(&mut shared, g);
        }
        Body { title: d.title.clone(), ink: d.ink(), packed: packed(&shared.finish()) }
    }
}

/// The PDF of a drawing on a paper.
pub fn pdf(d: &Body, paper: Paper, m: Measured) -> Vec<u8> {
    let ink = d.ink;
    let tiling = Tiling::new(paper, ink, m);
    let mut pdf = Pdf::new();
    let (catalog, tree, form, info) = (Ref::new(1), Ref::new(2), Ref::new(3), Ref::new(4));
    let pages = tiling.pages() as i32;
    pdf.catalog(catalog).pages(tree);
    pdf.pages(tree).kids((0..pages).map(|i| Ref::new(5 + 2 * i))).count(pages);
    pdf.document_info(info).title(TextStr(&d.title)).producer(TextStr("frusta"));
    let mut x = pdf.form_xobject(form, &d.packed);
    let grown = ink.grown(crate::base::units::Mm(OVERLAP * 2.0));
    x.bbox(Rect::new(grown.min.x as f32, grown.min.y as f32, grown.max.x as f32, grown.max.y as f32));
    x.filter(Filter::FlateDecode);
    x.finish();
    for (i, cell) in tiling.cells().enumerate() {
        let (page, content) = (Ref::new(5 + 2 * i as i32), Ref::new(6 + 2 * i as i32));
        let scale = (POINTS * 100.0 / m.across, POINTS * 100.0 / m.up);
        let (wide, high) = (tiling.page.0 * scale.0, tiling.page.1 * scale.1);
        let mut p = pdf.page(page);
        p.parent(tree).media_box(Rect::new(0.0, 0.0, wide as f32, high as f32)).contents(content);
        p.resources().x_objects().pair(Name(b"T"), form);
        p.finish();
        let stream = packed(&page_content(d, &tiling, cell, i, scale));
        pdf.stream(content, &stream).filter(Filter::FlateDecode);
    }
    pdf.finish()
}

fn packed(bytes: &[u8]) -> Vec<u8> {
    use std::io::Write;
    let mut z = flate2::write::ZlibEncoder::new(Vec::new(), flate2::Compression::default());
    // Writing to memory cannot fail.
    let done = z.write_all(bytes).and_then(|()| z.finish());
    done.unwrap_or_default()
}

fn page_content(d: &Body, t: &Tiling, cell: (usize, usize), i: usize, scale: (f64, f64)) -> Vec<u8> {
    let mut c = Content::new();
    c.transform([scale.0 as f32, 0.0, 0.0, scale.1 as f32, 0.0, 0.0]);
    let (left, low) = (EDGE + STRIP, EDGE + FOOT);
    let corner = t.corner(cell);
    c.save_state();
    c.rect(left as f32, low as f32, t.window.0 as f32, t.window.1 as f32).clip_nonzero().end_path();
    c.transform([1.0, 0.0, 0.0, 1.0, (left - corner.0) as f32, (low - corner.1) as f32]);
    c.x_object(Name(b"T"));
    push_group(&mut c, &crosses(t));
    c.restore_state();
    push_group(&mut c, &furniture(d, t, cell, i));
    c.finish().to_vec()
}

/// Letter of a page: A, B, ...
fn letter(i: usize) -> String {
    super::film_mark::letter(crate::read::job::FilmId(i))
}

fn crosses(t: &Tiling) -> Group {
    let mut g = Group::new("crosses", "Crosses to put pages together by");
    for (x, y) in t.crosses() {
        let stroke = Stroke::solid(INK, 0.15);
        g.stroke(segment((x - 3.5, y), (x + 3.5, y)), stroke);
        g.stroke(segment((x, y - 3.5), (x, y + 3.5)), stroke);
    }
    g
}

/// Bars, words, letter and plan of the pages, round the window.
fn furniture(d: &Body, t: &Tiling, cell: (usize, usize), i: usize) -> Group {
    let mut g = Group::new("page", "Bars, page letter and plan of the pages");
    let (left, low) = (EDGE + STRIP, EDGE + FOOT);
    let frame = Stroke { colour: QUIET, width: 0.1, dash: Dash::Dotted };
    g.stroke(rectangle(left, low, left + t.window.0, low + t.window.1), frame);
    let bar = Stroke::solid(INK, 0.25);
    g.stroke(size_bar((left, EDGE + 2.0), 100.0, false, 3.0), bar);
    g.stroke(size_bar((EDGE + 2.0, low), 100.0, true, 3.0), bar);
    let words = "measure this bar: 100 mm. Print at 100 %; \"fit to page\" spoils it";
    g.text(&Text::new(words, 2.6), (left + 2.0, EDGE + 3.4));
    let up = Text::new("measure this bar: 100 mm", 2.6);
    g.text_turned(&up, (EDGE + 5.4, low + 2.0), (0.0, 1.0));
    // The plan: the page's own place filled, letters in all.
    let size = (9.0f64).min((FOOT - 2.0) / t.count.1 as f64);
    let right = left + t.window.0;
    for (j, (column, row)) in t.cells().enumerate() {
        let x = right - size * (t.count.0 - column) as f64;
        let y = EDGE + size * (t.count.1 - 1 - row) as f64;
        let own = (column, row) == cell;
        g.mark(rectangle(x, y, x + size, y + size), own.then_some(TINT), Some(Stroke::solid(INK, 0.2)));
        let (name, em) = (letter(j), size * 0.5);
        let t = Text::new(&name, em).anchor(Anchor::Middle);
        g.text(&if own { t.bold() } else { t }, (x + size / 2.0, y + size / 2.0 - em * 0.357));
    }
    let title_room = right - size * t.count.0 as f64 - 3.0 - left;
    let title = format!("page {} of {} \u{2013} {}", letter(i), letter(t.pages() - 1), d.title);
    let line = super::letters::broken(super::letters::Face::Bold, 3.4, &title, title_room);
    g.text(&Text::new(line.first().map_or("", String::as_str), 3.4).bold(), (left, low - 4.2));
    g
}

fn push_group(c: &mut Content, g: &Group) {
    for m in &g.marks {
        push_mark(c, m);
    }
    for w in &g.words {
        push_mark(c, &Mark { path: w.outlines(), fill: Some(w.colour), stroke: None, id: None });
    }
}

fn colour(Rgb(c): Rgb) -> [f32; 3] {
    c.map(|v| f32::from(v) / 255.0)
}

fn push_mark(c: &mut Content, m: &Mark) {
    if mark_bounds(m).is_empty() {
        return;
    }
    if let Some(fill) = m.fill {
        let [r, g, b] = colour(fill);
        c.set_fill_rgb(r, g, b);
    }
    if let Some(s) = m.stroke {
        let [r, g, b] = colour(s.colour);
        c.set_stroke_rgb(r, g, b);
        c.set_line_width(s.width as f32);
        c.set_line_cap(LineCapStyle::ButtCap).set_line_join(LineJoinStyle::RoundJoin);
        c.set_dash_pattern(s.dash.lengths().iter().map(|&l| l as f32), 0.0);
    }
    push_path(c, &m.path);
    match (m.fill, m.stroke) {
        (Some(_), Some(_)) => c.fill_nonzero_and_stroke(),
        (Some(_), None) => c.fill_nonzero(),
        (None, Some(_)) => c.stroke(),
        (None, None) => c.end_path(),
    };
}

fn push_path(c: &mut Content, path: &BezPath) {
    let f = |v: f64| (v * 1e4).round() as f32 / 1e4;
    let mut last = (0.0, 0.0);
    for el in path.elements() {
        match *el {
            PathEl::MoveTo(p) => {
                c.move_to(f(p.x), f(p.y));
                last = (p.x, p.y);
            }
            PathEl::LineTo(p) => {
                c.line_to(f(p.x), f(p.y));
                last = (p.x, p.y);
            }
            PathEl::QuadTo(q, p) => {
                let third = |a: f64, b: f64| f(a + (b - a) * 2.0 / 3.0);
                c.cubic_to(
                    third(last.0, q.x),
                    third(last.1, q.y),
                    third(p.x, q.x),
                    third(p.y, q.y),
                    f(p.x),
                    f(p.y),
                );
                last = (p.x, p.y);
            }
            PathEl::CurveTo(a, b, p) => {
                c.cubic_to(f(a.x), f(a.y), f(b.x), f(b.y), f(p.x), f(p.y));
                last = (p.x, p.y);
            }
            PathEl::ClosePath => {
                c.close_path();
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::frame::Point;
    use proptest::prelude::*;

    proptest! {
        /// Windows overlap by what is said, cover the drawing, and every cross is seen on exactly the pages that share it.
        #[test]
        fn pages_cover_the_drawing_and_share_their_crosses(
            w in 20.0..700.0f64, h in 20.0..400.0f64, paper in 0usize..5, across in 96.0..104.0f64, up in 96.0..104.0f64,
        ) {
            let ink = Bounds { min: Point::mm(-3.0, 5.0), max: Point::mm(w - 3.0, h + 5.0) };
            let t = Tiling::new(PAPERS[paper], ink, Measured { across, up });
            let (first, last) = (t.corner((0, t.count.1 - 1)), t.corner((t.count.0 - 1, 0)));
            prop_assert!(first.0 <= ink.min.x + 1e-9 && first.1 <= ink.min.y + 1e-9);
            prop_assert!(last.0 + t.window.0 >= ink.max.x - 1e-9 && last.1 + t.window.1 >= ink.max.y - 1e-9);
            for (x, y) in t.crosses() {
                let seen = t.cells().filter(|&c| {
                    let (a, b) = t.corner(c);
                    x > a && x < a + t.window.0 && y > b && y < b + t.window.1
                });
                prop_assert!(seen.count() >= 2);
            }
        }
    }

    /// A typical wrap takes one page, level; two on Letter, which is too short by a few millimetres.
    #[test]
    fn a_typical_wrap_takes_few_pages() {
        let ink = Bounds { min: Point::mm(0.0, 0.0), max: Point::mm(270.0, 177.0) };
        let pages: Vec<usize> = PAPERS.iter().map(|&p| Tiling::new(p, ink, Measured::TRUE).pages()).collect();
        assert_eq!(pages, [1, 1, 2, 1, 1]);
    }
}
