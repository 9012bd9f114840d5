//! Text as outlines, so that a template prints the same on every machine and no cutter software swaps the
//! face.
//!
//! The two faces (Noto Sans at weights 400 and 650, cut down to Latin letters, figures and punctuation; SIL
//! Open Font License, see `face/OFL.txt`) are part of the program: no system font is ever looked for. All
//! figures are equally wide, so columns line up.
//!
//! Imports: outline.

use crate::outline::{BezPath, KurboShape, PathEl};
use skrifa::instance::{LocationRef, Size};
use skrifa::outline::{DrawSettings, OutlinePen};
use skrifa::{FontRef, MetadataProvider};
use std::collections::BTreeMap;
use std::sync::OnceLock;

/// Which face.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Face {
    /// For running text and figures.
    Regular,
    /// For headings and what must be seen first.
    Bold,
}

/// Which point of a line of text is put at the given place.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Anchor {
    /// Left end of the base line.
    Start,
    /// Middle of the base line.
    Middle,
    /// Right end of the base line.
    End,
}

/// Height of capitals and figures as a part of the size.
pub const CAPITAL: f64 = 0.714;

/// What stands for a letter that the faces do not have.
const UNKNOWN: char = '\u{fffd}';

struct Glyphs(BTreeMap<char, Glyph>);

struct Glyph {
    outline: BezPath,
    /// The box of its ink; none of a blank.
    ink: Option<[f64; 4]>,
    advance: f64,
    id: u16,
}

/// A line of text as one path.
#[derive(Clone, Debug)]
pub struct Line {
    /// Outlines, y up, base line at y = 0, left end at x = 0.
    pub path: BezPath,
    /// Advance width.
    pub width: f64,
}

struct Pen(BezPath, f64);

impl OutlinePen for Pen {
    fn move_to(&mut self, x: f32, y: f32) {
        self.0.move_to((f64::from(x) * self.1, f64::from(y) * self.1));
    }
    fn line_to(&mut self, x: f32, y: f32) {
        self.0.line_to((f64::from(x) * self.1, f64::from(y) * self.1));
    }
    fn quad_to(&mut self, cx: f32, cy: f32, x: f32, y: f32) {
        let k = self.1;
        self.0.quad_to((f64::from(cx) * k, f64::from(cy) * k), (f64::from(x) * k, f64::from(y) * k));
    }
    fn curve_to(&mut self, ax: f32, ay: f32, bx: f32, by: f32, x: f32, y: f32) {
        let at = |x: f32, y: f32| (f64::from(x) * self.1, f64::from(y) * self.1);
        self.0.curve_to(at(ax, ay), at(bx, by), at(x, y));
    }
    fn close(&mut self) {
        self.0.close_path();
    }
}

/// All glyphs of a face, for a size of 1 mm.
fn glyphs(face: Face) -> &'static Glyphs {
    static REGULAR: OnceLock<Glyphs> = OnceLock::new();
    static BOLD: OnceLock<Glyphs> = OnceLock::new();
    let cell = match face {
        Face::Regular => &REGULAR,
        Face::Bold => &BOLD,
    };
    cell.get_or_init(|| {
        let font = FontRef::new(program(face)).expect("the face is part of the program");
        let em = f64::from(font.metrics(Size::unscaled(), LocationRef::default()).units_per_em);
        let widths = font.glyph_metrics(Size::unscaled(), LocationRef::default());
        let outlines = font.outline_glyphs();
        let mut all = BTreeMap::new();
        for (code, id) in font.charmap().mappings() {
            let (Some(letter), Some(outline)) = (char::from_u32(code), outlines.get(id)) else { continue };
            let mut pen = Pen(BezPath::new(), 1.0 / em);
            let settings = DrawSettings::unhinted(Size::unscaled(), LocationRef::default());
            if outline.draw(settings, &mut pen).is_ok() {
                let advance = f64::from(widths.advance_width(id).unwrap_or(0.0)) / em;
                let b = pen.0.bounding_box();
                let ink = (!pen.0.elements().is_empty()).then_some([b.x0, b.y0, b.x1, b.y1]);
                all.insert(letter, Glyph { outline: pen.0, ink, advance, id: id.to_u32() as u16 });
            }
        }
        Glyphs(all)
    })
}

/// A face's font program, TrueType.
pub fn program(face: Face) -> &'static [u8] {
    match face {
        Face::Regular => include_bytes!("face/regular.ttf"),
        Face::Bold => include_bytes!("face/bold.ttf"),
    }
}

/// All letters of a face with the ids of their glyphs and their advances for a size of 1.
pub fn all(face: Face) -> impl Iterator<Item = (char, u16, f64)> {
    glyphs(face).0.iter().map(|(c, g)| (*c, g.id, g.advance))
}

/// Id of the glyph that shows a letter; that of the mark for unknown ones if the face lacks it.
pub fn glyph(face: Face, letter: char) -> Option<u16> {
    let have = &glyphs(face).0;
    let letter = if letter.is_whitespace() { ' ' } else { letter };
    have.get(&letter).or_else(|| have.get(&UNKNOWN)).map(|g| g.id)
}

/// The letter that is drawn for a letter: itself, a blank for any space, the mark for unknown ones; none if there is
/// nothing to draw.
pub fn drawn(face: Face, letter: char) -> Option<char> {
    let have = &glyphs(face).0;
    let letter = if letter.is_whitespace() { ' ' } else { letter };
    [letter, UNKNOWN].into_iter().find(|c| have.contains_key(c))
}

/// A letter's outline and its advance for a size of 1, y up.
pub fn outline(face: Face, letter: char) -> Option<(&'static BezPath, f64)> {
    glyphs(face).0.get(&letter).map(|g| (&g.outline, g.advance))
}

/// Letters of a text that the faces do not have; they are drawn as a lozenge with a question mark.
pub fn unknown(text: &str) -> Vec<char> {
    let have = &glyphs(Face::Regular).0;
    let mut out: Vec<char> = text.chars().filter(|c| !c.is_whitespace() && !have.contains_key(c)).collect();
    out.sort_unstable();
    out.dedup();
    out
}

/// The box of the ink of a line of text: left, low, right, high; base line at y = 0, its left end at x = 0.
pub fn ink(face: Face, size: f64, text: &str) -> [f64; 4] {
    let have = &glyphs(face).0;
    let mut out = [f64::INFINITY, f64::INFINITY, f64::NEG_INFINITY, f64::NEG_INFINITY];
    let mut x = 0.0;
    for letter in text.chars() {
        let letter = if letter.is_whitespace() { ' ' } else { letter };
        let Some(g) = have.get(&letter).or_else(|| have.get(&UNKNOWN)) else { continue };
        if let Some([x0, y0, x1, y1]) = g.ink {
            out = [out[0].min(x + x0), out[1].min(y0), out[2].max(x + x1), out[3].max(y1)];
        }
        x += g.advance;
    }
    if out[0] > out[2] { [0.0; 4] } else { out.map(|v| v * size) }
}

/// A line of text at a size (the em, mm).
pub fn line(face: Face, size: f64, text: &str) -> Line {
    let have = &glyphs(face).0;
    let (mut path, mut x) = (BezPath::new(), 0.0);
    for letter in text.chars() {
        let letter = if letter.is_whitespace() { ' ' } else { letter };
        let Some(g) = have.get(&letter).or_else(|| have.get(&UNKNOWN)) else { continue };
        for el in g.outline.elements() {
            path.push(map_el(*el, &|px, py| (px * size + x, py * size)));
        }
        x += g.advance * size;
    }
    Line { path, width: x }
}

/// Width of a line of text.
pub fn width(face: Face, size: f64, text: &str) -> f64 {
    let have = &glyphs(face).0;
    text.chars()
        .map(|c| if c.is_whitespace() { ' ' } else { c })
        .filter_map(|c| have.get(&c).or_else(|| have.get(&UNKNOWN)))
        .map(|g| g.advance * size)
        .sum()
}

/// A line of text put at a place, its base line turned counter-clockwise by an angle given as (cosine, sine).
pub fn placed(
    face: Face,
    size: f64,
    text: &str,
    anchor: Anchor,
    at: (f64, f64),
    turn: (f64, f64),
) -> BezPath {
    let l = line(face, size, text);
    let back = match anchor {
        Anchor::Start => 0.0,
        Anchor::Middle => l.width / 2.0,
        Anchor::End => l.width,
    };
    mapped(&l.path, &|x, y| {
        let x = x - back;
        (turn.0 * x - turn.1 * y + at.0, turn.1 * x + turn.0 * y + at.1)
    })
}

/// A text broken into lines no wider than `limit`; words longer than that stand alone.
pub fn broken(face: Face, size: f64, text: &str, limit: f64) -> Vec<String> {
    let mut lines: Vec<String> = Vec::new();
    for word in text.split_whitespace() {
        match lines.last_mut() {
            Some(last) if width(face, size, last) + width(face, size, &format!(" {word}")) <= limit => {
                last.push(' ');
                last.push_str(word);
            }
            _ => lines.push(word.to_owned()),
        }
    }
    lines
}

/// A path with every point mapped.
pub fn mapped(path: &BezPath, to: &impl Fn(f64, f64) -> (f64, f64)) -> BezPath {
    path.elements().iter().map(|el| map_el(*el, to)).collect()
}

fn map_el(el: PathEl, to: &impl Fn(f64, f64) -> (f64, f64)) -> PathEl {
    match el {
        PathEl::MoveTo(p) => PathEl::MoveTo(to(p.x, p.y).into()),
        PathEl::LineTo(p) => PathEl::LineTo(to(p.x, p.y).into()),
        PathEl::QuadTo(a, p) => PathEl::QuadTo(to(a.x, a.y).into(), to(p.x, p.y).into()),
        PathEl::CurveTo(a, b, p) => {
            PathEl::CurveTo(to(a.x, a.y).into(), to(b.x, b.y).into(), to(p.x, p.y).into())
        }
        PathEl::ClosePath => PathEl::ClosePath,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::outline::KurboShape;

    #[test]
    fn figures_are_equally_wide_and_as_high_as_said() {
        for face in [Face::Regular, Face::Bold] {
            let one = width(face, 10.0, "1");
            for figure in '0'..='9' {
                approx::assert_relative_eq!(width(face, 10.0, &figure.to_string()), one);
            }
            // Source: capital height of Noto Sans, 714 of 1000, in its OS/2 table.
            let tall = line(face, 10.0, "H").path.bounding_box();
            approx::assert_abs_diff_eq!(tall.y1, 10.0 * CAPITAL, epsilon = 1e-9);
        }
    }

    #[test]
    fn a_letter_that_is_not_there_is_told_and_drawn_as_a_mark() {
        assert_eq!(unknown("Dill \u{6c34} ok"), vec!['\u{6c34}']);
        assert!(line(Face::Regular, 5.0, "\u{6c34}").path.elements().len() > 8);
        assert!(!unknown("Œuf à la coque, 35 % · 6″ – “ß”").contains(&'·'));
    }

    #[test]
    fn lines_are_broken_at_the_limit() {
        let lines = broken(Face::Regular, 3.0, "keep the rim free of film and of resin", 30.0);
        assert!(lines.len() > 1 && lines.iter().all(|l| width(Face::Regular, 3.0, l) <= 30.0));
        assert_eq!(lines.join(" "), "keep the rim free of film and of resin");
    }
}
