//! [`Drawing`]: marks on a page in millimetres, y up, before anyone decides whether it becomes SVG, PDF or
//! pixels.
//!
//! Imports: base, outline, read::job, write::ink::letters.

use super::letters::{self, Anchor, Face};
use crate::base::frame::{Page, Point};
use crate::outline::{Affine, BezPath, Bounds, Region, box_of};
use crate::read::job::Rgb;

/// Dark ink for all that must be read.
pub const INK: Rgb = Rgb([0x29, 0x19, 0x15]);
/// Ink for what must be there but stay behind.
pub const QUIET: Rgb = Rgb([0x8d, 0x86, 0x80]);
/// Ground of bands and table stripes.
pub const TINT: Rgb = Rgb([0xee, 0xea, 0xe3]);
/// White paper.
pub const PAPER: Rgb = Rgb([0xff, 0xff, 0xff]);

/// How a line is broken.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Dash {
    /// Not at all.
    Solid,
    /// Dashes of 2.4 mm, gaps of 1.2 mm.
    Dashed,
    /// Dots of 0.3 mm, gaps of 0.9 mm.
    Dotted,
    /// A dash of 5 mm, a dot of 0.6 mm: centre lines.
    Chain,
}

impl Dash {
    /// Lengths drawn and left out, mm.
    pub fn lengths(self) -> &'static [f64] {
        match self {
            Dash::Solid => &[],
            Dash::Dashed => &[2.4, 1.2],
            Dash::Dotted => &[0.3, 0.9],
            Dash::Chain => &[5.0, 1.2, 0.6, 1.2],
        }
    }
}

/// A stroke.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Stroke {
    /// Colour.
    pub colour: Rgb,
    /// Width, mm.
    pub width: f64,
    /// How it is broken.
    pub dash: Dash,
}

impl Stroke {
    /// An unbroken stroke.
    pub const fn solid(colour: Rgb, width: f64) -> Stroke {
        Stroke { colour, width, dash: Dash::Solid }
    }
}

/// One path with its paint.
#[derive(Clone, Debug)]
pub struct Mark {
    /// The path, page millimetres, y up; filled by the non-zero rule.
    pub path: BezPath,
    /// Fill.
    pub fill: Option<Rgb>,
    /// Stroke.
    pub stroke: Option<Stroke>,
    /// What it is to readers of the file: an id, unique in the drawing.
    pub id: Option<String>,
}

/// A line of text at its place.
#[derive(Clone, Debug, PartialEq)]
pub struct Words {
    /// The words.
    pub message: String,
    /// The em, mm.
    pub size: f64,
    /// Face.
    pub face: Face,
    /// Which point of the line is placed.
    pub anchor: Anchor,
    /// Colour.
    pub colour: Rgb,
    /// Where, page millimetres.
    pub at: (f64, f64),
    /// Turn counter-clockwise, as (cosine, sine).
    pub turn: (f64, f64),
}

impl Words {
    /// As outlines.
    pub fn outlines(&self) -> BezPath {
        letters::placed(self.face, self.size, &self.message, self.anchor, self.at, self.turn)
    }
    /// Where the base line starts.
    pub fn start(&self) -> (f64, f64) {
        let back = match self.anchor {
            Anchor::Start => 0.0,
            Anchor::Middle => letters::width(self.face, self.size, &self.message) / 2.0,
            Anchor::End => letters::width(self.face, self.size, &self.message),
        };
        (self.at.0 - self.turn.0 * back, self.at.1 - self.turn.1 * back)
    }
}

/// A picture on the page.
#[derive(Clone, Debug)]
pub struct Image {
    /// Unique in the drawing, a valid XML name.
    pub id: String,
    /// Pixels from left to right, and from top to bottom.
    pub pixels: (usize, usize),
    /// Red, green, blue of each; rows from the top.
    pub rgb: Vec<u8>,
    /// The same as a PNG file.
    pub png: Vec<u8>,
    /// Where it lies.
    pub at: Bounds<Page>,
}

/// Marks that belong together.
#[derive(Clone, Debug, Default)]
pub struct Group {
    /// Unique in the drawing, a valid XML name.
    pub id: String,
    /// What it is, for people and their screen readers.
    pub title: String,
    /// Painted first.
    pub images: Vec<Image>,
    /// In painting order.
    pub marks: Vec<Mark>,
    /// Painted over the marks.
    pub words: Vec<Words>,
    /// In SVG, is text written as text (tables: to be searched, copied and read aloud) and not as outlines
    /// (what a cutter's or printer's software must not set in another face)?
    pub live: bool,
}

impl Group {
    /// An empty group.
    pub fn new(id: impl Into<String>, title: impl Into<String>) -> Group {
        Group { id: id.into(), title: title.into(), ..Group::default() }
    }
    /// Adds a filled path.
    pub fn fill(&mut self, path: BezPath, colour: Rgb) -> &mut Mark {
        self.mark(path, Some(colour), None)
    }
    /// Adds a stroked path.
    pub fn stroke(&mut self, path: BezPath, stroke: Stroke) -> &mut Mark {
        self.mark(path, None, Some(stroke))
    }
    /// Adds a path with both.
    pub fn mark(&mut self, path: BezPath, fill: Option<Rgb>, stroke: Option<Stroke>) -> &mut Mark {
        self.marks.push(Mark { path, fill, stroke, id: None });
        let last = self.marks.len() - 1;
        &mut self.marks[last]
    }
    /// Adds a level line of text.
    pub fn text(&mut self, t: &Text<'_>, at: (f64, f64)) {
        self.text_turned(t, at, (1.0, 0.0));
    }
    /// Adds a line of text turned counter-clockwise by an angle given as (cosine, sine).
    pub fn text_turned(&mut self, t: &Text<'_>, at: (f64, f64), turn: (f64, f64)) {
        if t.message.trim().is_empty() {
            return;
        }
        self.words.push(Words {
            message: t.message.to_owned(),
            size: t.size,
            face: t.face,
            anchor: t.anchor,
            colour: t.colour,
            at,
            turn,
        });
    }
}

/// A line of text and how it looks.
#[derive(Clone, Copy, Debug)]
pub struct Text<'a> {
    /// The words.
    pub message: &'a str,
    /// The em, mm.
    pub size: f64,
    /// Face.
    pub face: Face,
    /// Which point of the line is placed.
    pub anchor: Anchor,
    /// Colour.
    pub colour: Rgb,
}

impl<'a> Text<'a> {
    /// Regular, dark, from the left.
    pub fn new(message: &'a str, size: f64) -> Text<'a> {
        Text { message, size, face: Face::Regular, anchor: Anchor::Start, colour: INK }
    }
    /// In bold.
    #[must_use]
    pub fn bold(mut self) -> Text<'a> {
        self.face = Face::Bold;
        self
    }
    /// Placed by another point.
    #[must_use]
    pub fn anchor(mut self, anchor: Anchor) -> Text<'a> {
        self.anchor = anchor;
        self
    }
    /// In another colour.
    #[must_use]
    pub fn colour(mut self, colour: Rgb) -> Text<'a> {
        self.colour = colour;
        self
    }
}

/// A page with marks.
#[derive(Clone, Debug)]
pub struct Drawing {
    /// What it is.
    pub title: String,
    /// What it shows and says, in words: text is drawn as outlines, so this is what a screen reader reads.
    pub message: String,
    /// Page width, mm.
    pub width: f64,
    /// Page height, mm.
    pub height: f64,
    /// In painting order.
    pub groups: Vec<Group>,
}

impl Drawing {
    /// Moves all marks; the page stays.
    pub fn shift(&mut self, x: f64, y: f64) {
        let by = Affine::translate((x, y));
        for g in &mut self.groups {
            g.marks.iter_mut().for_each(|m| m.path.apply_affine(by));
            g.words.iter_mut().for_each(|w| w.at = (w.at.0 + x, w.at.1 + y));
            let moved = |p: Point<Page>| Point::mm(p.x + x, p.y + y);
            g.images.iter_mut().for_each(|i| i.at = Bounds { min: moved(i.at.min), max: moved(i.at.max) });
        }
    }
    /// Box of all marks, half the stroke widths included.
    pub fn ink(&self) -> Bounds<Page> {
        let marks = self.groups.iter().flat_map(|g| &g.marks).map(mark_bounds);
        let words = self.groups.iter().flat_map(|g| &g.words).map(words_bounds);
        let images = self.groups.iter().flat_map(|g| &g.images).map(|i| i.at);
        marks.chain(words).chain(images).fold(Bounds::EMPTY, |all, b| all.joined(&b))
    }
}

/// Box of a mark, half its stroke width included.
pub fn mark_bounds(m: &Mark) -> Bounds<Page> {
    let r = box_of(&m.path);
    let half = m.stroke.map_or(0.0, |s| s.width / 2.0);
    Bounds { min: Point::mm(r.x0 - half, r.y0 - half), max: Point::mm(r.x1 + half, r.y1 + half) }
}

/// Box of a line of text: its advance, from the depth of descenders to the height of capitals.
pub fn words_bounds(w: &Words) -> Bounds<Page> {
    let (x, y) = w.start();
    let (c, s) = w.turn;
    let wide = letters::width(w.face, w.size, &w.message);
    let corners =
        [(0.0, -0.24), (0.0, 0.8)].into_iter().flat_map(|(_, v)| [(0.0, v * w.size), (wide, v * w.size)]);
    corners.fold(Bounds::EMPTY, |b, (u, v)| b.with(x + c * u - s * v, y + s * u + c * v))
}

/// A straight line.
pub fn segment(from: (f64, f64), to: (f64, f64)) -> BezPath {
    let mut p = BezPath::new();
    p.move_to(from);
    p.line_to(to);
    p
}

/// An axis-parallel rectangle.
pub fn rectangle(x0: f64, y0: f64, x1: f64, y1: f64) -> BezPath {
    crate::outline::polyline_path(&[[x0, y0], [x1, y0], [x1, y1], [x0, y1]])
}

/// A bar of a length with ticks at its ends, along x (or along y), its start at the given place.
pub fn size_bar(from: (f64, f64), length: f64, upright: bool, tick: f64) -> BezPath {
    let at = |along: f64, across: f64| {
        if upright { (from.0 + across, from.1 + along) } else { (from.0 + along, from.1 + across) }
    };
    let mut p = segment(at(0.0, 0.0), at(length, 0.0));
    for end in [0.0, length] {
        p.move_to(at(end, -tick / 2.0));
        p.line_to(at(end, tick / 2.0));
    }
    p
}

/// Contours in one path.
pub fn gathered(r: &Region<Page>) -> BezPath {
    r.contours().iter().flat_map(|c| c.elements().iter().copied()).collect()
}
