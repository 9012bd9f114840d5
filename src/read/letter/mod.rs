//! Text to outlines: shaped as the font asks (kerning, ligatures, marks, right-to-left), sized, laid in lines
//! and united line by line, because the letters of a script overlap.
//!
//! Imports: base, outline, read::job.

pub mod codes;
pub mod font;

pub use crate::read::job::decals::{Align, LetterSize, Words};
pub use codes::CODES;
pub use font::{Font, Metrics};

use crate::base::diag::{Diagnostic, Diagnostics, ErrorGuaranteed, KeyPath};
use crate::base::frame::{Art, Point, Rigid};
use crate::base::units::Mm;
use crate::outline::{Affine, BezPath, Bounds, FillRule, KurboShape, Region, subpaths};
use codes::{NO_GLYPH, TEXT};
use skrifa::MetadataProvider;
use skrifa::outline::{DrawSettings, OutlinePen};
use skrifa::prelude::{LocationRef, Size};
use std::collections::BTreeMap;

/// Most characters of one lettering.
pub const MOST_LETTERS: usize = 200;

/// One glyph where it stands.
#[derive(Clone, Debug, PartialEq)]
pub struct Glyph {
    /// Its area, mm; empty for a space.
    pub region: Region<Art>,
    /// Its pen position: where its baseline starts.
    pub origin: Point<Art>,
    /// Advance of the pen, mm, letter spacing included.
    pub advance: Mm,
    /// Byte of its line that it stands for.
    pub cluster: usize,
    /// Which word of the line, from 0.
    pub word: usize,
}

/// One line.
#[derive(Clone, Debug, PartialEq)]
pub struct Line {
    /// Glyphs from left to right.
    pub glyphs: Vec<Glyph>,
    /// Height of its baseline, mm.
    pub baseline: Mm,
    /// Box of its ink.
    pub ink: Bounds<Art>,
}

/// Lettering in mm; the middle of its bounding box is the origin.
#[derive(Clone, Debug, PartialEq)]
pub struct Lettering {
    /// Lines, top first.
    pub lines: Vec<Line>,
    /// Size of the em.
    pub em: Mm,
}

impl Lettering {
    /// All lines united.
    pub fn outline(&self) -> Region<Art> {
        Region::union_of(self.lines.iter().flat_map(|l| l.glyphs.iter().map(|g| &g.region)))
    }
}

/// One shaped glyph in font units, the pen at the line's start.
struct Shaped {
    /// Its number in the font.
    id: u32,
    path: BezPath,
    x: f64,
    /// Above the baseline.
    lift: f64,
    advance: f64,
    cluster: usize,
    word: usize,
}

/// Letters words in a font.
///
/// # Errors
/// Reports [`TEXT`] for text that cannot be lettered and [`NO_GLYPH`] for every character that the font
/// lacks.
pub fn letter(
    words: &Words,
    font: &Font,
    at: &KeyPath,
    diagnostics: &mut Diagnostics,
) -> Result<Lettering, ErrorGuaranteed> {
    check_text(&words.lines, at, diagnostics)?;
    let metrics = font.metrics();
    let shaped = words
        .lines
        .iter()
        .map(|l| shape(l, font, words.letter_spacing * metrics.units_per_em, at, diagnostics));
    let shaped: Vec<Result<Vec<Shaped>, ErrorGuaranteed>> = shaped.collect();
    let shaped: Vec<Vec<Shaped>> = shaped.into_iter().collect::<Result<_, _>>()?;
    // Everything in font units first: where each line starts and how high its baseline stands.
    let step = metrics.line * metrics.units_per_em * words.line_spacing;
    let inks: Vec<Bounds<Art>> = shaped.iter().map(|l| ink(l)).collect();
    let starts: Vec<(f64, f64)> = inks
        .iter()
        .enumerate()
        .map(|(i, b)| {
            let x = match words.align {
                Align::Left => -b.min.x,
                Align::Middle => -b.centre().x,
                Align::Right => -b.max.x,
            };
            (if b.is_empty() { 0.0 } else { x }, -step * i as f64)
        })
        .collect();
    let all =
        inks.iter().zip(&starts).filter(|(b, _)| !b.is_empty()).fold(Bounds::<Art>::EMPTY, |all, (b, s)| {
            all.with(b.min.x + s.0, b.min.y + s.1).with(b.max.x + s.0, b.max.y + s.1)
        });
    if all.is_empty() || all.width() <= Mm::ZERO {
        let d = Diagnostic::fault(&TEXT, at.clone(), "the text has no visible character");
        return Err(diagnostics.push(d.help("write at least one letter")));
    }
    let scale = match words.size {
        LetterSize::CapHeight(h) => h.get() / (metrics.cap_height * metrics.units_per_em),
        LetterSize::Width(w) => w / widest(&inks),
        LetterSize::Fit { width, height } => (width / all.width()).min(height / all.height()),
    };
    let middle = all.centre();
    let mut drawn = Drawn::new();
    let lines = shaped
        .into_iter()
        .zip(starts)
        .map(|(glyphs, (x, y))| line(glyphs, scale, (x - middle.x, y - middle.y), &mut drawn))
        .collect();
    Ok(Lettering { lines, em: Mm(metrics.units_per_em * scale) })
}

/// Box of the ink of one line in cap heights, the start of its baseline at the origin: shaped, not drawn.
///
/// # Errors
/// Those of [`letter`].
pub fn measured(
    words: &Words,
    font: &Font,
    at: &KeyPath,
    diagnostics: &mut Diagnostics,
) -> Result<Bounds<Art>, ErrorGuaranteed> {
    check_text(&words.lines, at, diagnostics)?;
    let metrics = font.metrics();
    let line = words.lines.first().map_or("", String::as_str);
    let shaped = shape(line, font, words.letter_spacing * metrics.units_per_em, at, diagnostics)?;
    let (b, cap) = (ink(&shaped), metrics.cap_height * metrics.units_per_em);
    if b.is_empty() {
        let d = Diagnostic::fault(&TEXT, at.clone(), "the text has no visible character");
        return Err(diagnostics.push(d.help("write at least one letter")));
    }
    Ok(Bounds { min: Point::mm(b.min.x / cap, b.min.y / cap), max: Point::mm(b.max.x / cap, b.max.y / cap) })
}

fn widest(inks: &[Bounds<Art>]) -> Mm {
    inks.iter().map(Bounds::width).fold(Mm::ZERO, |a, b| if a > b { a } else { b })
}

fn ink(glyphs: &[Shaped]) -> Bounds<Art> {
    glyphs.iter().filter(|g| !g.path.elements().is_empty()).fold(Bounds::EMPTY, |b, g| {
        let r = g.path.bounding_box();
        b.with(r.x0 + g.x, r.y0 + g.lift).with(r.x1 + g.x, r.y1 + g.lift)
    })
}

fn line(glyphs: Vec<Shaped>, scale: f64, (x, y): (f64, f64), drawn: &mut Drawn) -> Line {
    let glyphs: Vec<Glyph> = glyphs
        .into_iter()
        .map(|g| {
            let origin = Point::mm((g.x + x) * scale, y * scale);
            // A letter that comes again is the same area: its overlaps are resolved once.
            let area = drawn.entry(g.id).or_insert_with(|| {
                Region::filled(subpaths(&(Affine::scale(scale) * &g.path)), FillRule::NonZero)
            });
            let at = Point::mm(origin.x, origin.y + g.lift * scale);
            let region = area.moved(&Rigid::<Art, Art>::from_parts(1.0, 0.0, at));
            Glyph { region, origin, advance: Mm(g.advance * scale), cluster: g.cluster, word: g.word }
        })
        .collect();
    let ink = glyphs.iter().fold(Bounds::EMPTY, |b, g| b.joined(&g.region.bounds()));
    Line { glyphs, baseline: Mm(y * scale), ink }
}

/// Areas of glyphs by their number in the font, at the size of the text, their pen position at the origin.
type Drawn = BTreeMap<u32, Region<Art>>;

impl Line {
    /// All its glyphs united.
    pub fn outline(&self) -> Region<Art> {
        Region::union_of(self.glyphs.iter().map(|g| &g.region))
    }
}

fn check_text(lines: &[String], at: &KeyPath, diagnostics: &mut Diagnostics) -> Result<(), ErrorGuaranteed> {
    let count: usize = lines.iter().map(|l| l.chars().count()).sum();
    let mut ok = Ok(());
    let mut fault = |message: String, measured: Option<String>, mend: &str| {
        let mut d = Diagnostic::fault(&TEXT, at.clone(), message).help(mend);
        d.measured = measured;
        ok = Err(diagnostics.push(d));
    };
    if count > MOST_LETTERS {
        let measured = Some(format!("{count} characters, at most {MOST_LETTERS}"));
        fault(
            "the text is too long for a cup".into(),
            measured,
            "shorten it, or split it into several decals",
        );
    }
    if lines.iter().all(|l| l.trim().is_empty()) {
        fault("the text is empty".into(), None, "write at least one letter");
    }
    for (i, l) in lines.iter().enumerate() {
        if let Some(c) = l.chars().find(|c| c.is_control()) {
            let message = format!("line {} holds a control character (U+{:04X})", i + 1, u32::from(c));
            fault(message, None, "take it out; give each line as a text of its own");
        }
    }
    ok
}

#[derive(Default)]
struct Pen(BezPath);

impl OutlinePen for Pen {
    fn move_to(&mut self, x: f32, y: f32) {
        self.0.move_to((f64::from(x), f64::from(y)));
    }
    fn line_to(&mut self, x: f32, y: f32) {
        self.0.line_to((f64::from(x), f64::from(y)));
    }
    fn quad_to(&mut self, a: f32, b: f32, x: f32, y: f32) {
        self.0.quad_to((f64::from(a), f64::from(b)), (f64::from(x), f64::from(y)));
    }
    fn curve_to(&mut self, a: f32, b: f32, c: f32, d: f32, x: f32, y: f32) {
        let p = |x: f32, y: f32| (f64::from(x), f64::from(y));
        self.0.curve_to(p(a, b), p(c, d), p(x, y));
    }
    fn close(&mut self) {
        self.0.close_path();
    }
}

/// A run of one direction in a line, and what the shaper needs to know of it.
struct DirectedRun {
    range: std::ops::Range<usize>,
    right_to_left: bool,
}

/// The runs of a line from left to right, by the Unicode bidirectional algorithm (Unicode Standard Annex 9);
/// the line's own direction is that of its first letter (rules P2 and P3). Numbers run from left to right in
/// every line.
fn directed_runs(text: &str) -> Vec<DirectedRun> {
    let info = unicode_bidi::BidiInfo::new(text, None);
    let mut out = Vec::new();
    for paragraph in &info.paragraphs {
        let (levels, runs) = info.visual_runs(paragraph, paragraph.range.clone());
        out.extend(
            runs.into_iter().map(|range| DirectedRun { right_to_left: levels[range.start].is_rtl(), range }),
        );
    }
    out
}

/// Shapes a run: glyphs from left to right, their clusters as bytes of the line.
fn shaped_run(text: &str, run: &DirectedRun, shaper: &harfrust::Shaper<'_>) -> harfrust::GlyphBuffer {
    let mut line = harfrust::UnicodeBuffer::new();
    line.push_str(text);
    line.guess_segment_properties();
    let mut buffer = harfrust::UnicodeBuffer::new();
    buffer.set_pre_context(&text[..run.range.start]);
    buffer.push_str(&text[run.range.clone()]);
    buffer.set_post_context(&text[run.range.end..]);
    buffer.guess_segment_properties();
    // Digits and signs have no script of their own: they take the line's.
    if !text[run.range.clone()].chars().any(char::is_alphabetic) {
        buffer.set_script(line.script());
    }
    buffer.set_direction(match run.right_to_left {
        true => harfrust::Direction::RightToLeft,
        false => harfrust::Direction::LeftToRight,
    });
    shaper.shape(buffer, harfrust::ShapeOptions::new())
}

fn shape(
    text: &str,
    font: &Font,
    spacing: f64,
    at: &KeyPath,
    diagnostics: &mut Diagnostics,
) -> Result<Vec<Shaped>, ErrorGuaranteed> {
    let Some(face) = font.face() else { return Ok(Vec::new()) };
    let data = harfrust::ShaperData::new(&face);
    let shaper = data.shaper(&face).build();
    let runs: Vec<(usize, harfrust::GlyphBuffer)> =
        directed_runs(text).iter().map(|run| (run.range.start, shaped_run(text, run, &shaper))).collect();
    let glyphs = runs.iter().flat_map(|(start, shaped)| {
        let placed = shaped.glyph_infos().iter().zip(shaped.glyph_positions());
        placed.map(move |(info, pos)| (start + info.cluster as usize, info, pos))
    });
    let outlines = face.outline_glyphs();
    let colours = face.color_glyphs();
    let (mut out, mut pen_x, mut lacking, mut fault) = (Vec::new(), 0.0, Vec::new(), Ok(()));
    for (cluster, info, pos) in glyphs {
        let c = text[cluster..].chars().next().unwrap_or(' ');
        let mut pen = Pen::default();
        let drawn = outlines.get(skrifa::GlyphId::new(info.glyph_id)).is_some_and(|g| {
            g.draw(DrawSettings::unhinted(Size::unscaled(), LocationRef::default()), &mut pen).is_ok()
        });
        let nothing = pen.0.elements().is_empty() && !c.is_whitespace() && pos.x_advance > 0;
        // A glyph of several colours may have an outline too: that of its background, or of nothing that is
        // seen.
        let coloured = colours.get(skrifa::GlyphId::new(info.glyph_id)).is_some();
        if (info.glyph_id == 0 || !drawn || nothing || coloured) && !lacking.contains(&c) {
            lacking.push(c);
            let lacks = if coloured { "a picture in colours, no outline," } else { "no outline" };
            let message = format!("\"{}\" has {lacks} for \"{c}\" (U+{:04X})", font.name(), u32::from(c));
            let mend = "take another character or another font; bring emoji as SVG art";
            fault = Err(diagnostics.push(Diagnostic::fault(&NO_GLYPH, at.clone(), message).help(mend)));
        }
        let advance = f64::from(pos.x_advance) + if pos.x_advance > 0 { spacing } else { 0.0 };
        let word = text[..cluster]
            .split_whitespace()
            .count()
            .saturating_sub(usize::from(!text[..cluster].ends_with(char::is_whitespace)));
        out.push(Shaped {
            id: info.glyph_id,
            path: pen.0,
            x: pen_x + f64::from(pos.x_offset),
            lift: f64::from(pos.y_offset),
            advance,
            cluster,
            word,
        });
        pen_x += advance;
    }
    fault.map(|()| out)
}

#[cfg(test)]
mod tests;
