//! A drawing printed at true size on sheets of paper: tiles with overlap, crosses, page letters and check
//! bars, as PDF.
//!
//! Bytes are the same for the same drawing.
//!
//! Imports: base, outline, read::job, write::ink.

use crate::base::frame::{Page, Point};
use crate::base::units::Mm;
use crate::outline::{Bounds, Region};
use crate::read::job::{FilmId, Lie, Paper, PrintSpec, PrinterBars};
use crate::write::ink::drawing::{
    Dash, Drawing, Group, INK, QUIET, Stroke, TINT, Text, rectangle, segment, size_bar,
};
use crate::write::ink::letters::Anchor;
use crate::write::ink::pdf::{Book, POINTS, Picture, Shared, packed, push_group};
use pdf_writer::{Content, Name};

/// White edge that printers need.
const EDGE: f64 = 7.0;
/// Strip at the left for the upright bar, and at the foot for the level bar and the words.
const STRIP: f64 = 7.0;
const FOOT: f64 = 15.0;
/// What neighbouring pages both show.
pub const OVERLAP: f64 = 10.0;
/// Length of a cross's arms, and the radius of the ring that tells it from lines of the drawing.
const CROSS: f64 = 3.5;
const RING: f64 = 2.0;
/// Length of the bars.
pub const BAR: f64 = 100.0;

/// A paper as it lies in the printer, and the maker's printer's correction: all lengths but `paper` are
/// millimetres as they come out.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PrintedPage {
    /// Width and height of the paper itself.
    pub paper: (f64, f64),
    /// What is printed true on it: a printer that shrinks leaves more room.
    pub page: (f64, f64),
    /// Points for a millimetre, across and up.
    pub scale: (f64, f64),
    /// Does the paper lie level?
    pub level: bool,
    bars: PrinterBars,
}

impl PrintedPage {
    /// A paper upright or level.
    pub fn new(paper: Paper, level: bool, bars: PrinterBars) -> PrintedPage {
        let (short, long) = paper.sides();
        let turned = |a: f64, b: f64| if level { (b, a) } else { (a, b) };
        let paper = turned(short.0, long.0);
        let part = turned(bars.short.0 / BAR, bars.long.0 / BAR);
        PrintedPage {
            paper,
            page: (paper.0 * part.0, paper.1 * part.1),
            scale: (POINTS / part.0, POINTS / part.1),
            level,
            bars,
        }
    }
    /// Lower left corner of the room within bars and words.
    pub fn corner(&self) -> (f64, f64) {
        (EDGE + STRIP, EDGE + FOOT)
    }
    /// Width and height of that room.
    pub fn window(&self) -> (f64, f64) {
        (self.page.0 - 2.0 * EDGE - STRIP, self.page.1 - 2.0 * EDGE - FOOT)
    }
    /// Content in which one unit is a millimetre as it comes out.
    pub fn content(&self) -> Content {
        let mut c = Content::new();
        c.transform([self.scale.0 as f32, 0.0, 0.0, self.scale.1 as f32, 0.0, 0.0]);
        c
    }
    /// The bars of 100 mm with their words, and a line of title no wider than `room`.
    pub fn bars(&self, title: &str, room: f64) -> Group {
        let mut g = Group::new("bars", "Bars of 100 mm in both directions");
        let (left, low) = self.corner();
        let bar = Stroke::solid(INK, 0.25);
        g.stroke(size_bar((left, EDGE + 2.0), BAR, false, 3.0), bar);
        g.stroke(size_bar((EDGE + 2.0, low), BAR, true, 3.0), bar);
        let (across, up) = if self.level { ("long", "short") } else { ("short", "long") };
        let told = |side: &str| {
            let was = if side == "short" { self.bars.short } else { self.bars.long };
            match was.0 {
                v if v == BAR => String::new(),
                _ => format!(", corrected from {was}"),
            }
        };
        let words = format!(
            "measure this bar: 100 mm, {across} side of the paper{}. Print at 100 %; \"fit to page\" spoils \
                it",
            told(across)
        );
        g.text(&Text::new(&words, 2.6), (left + 2.0, EDGE + 3.4));
        let words = format!("measure this bar: 100 mm, {up} side of the paper{}", told(up));
        g.text_turned(&Text::new(&words, 2.6), (EDGE + 5.4, low + 2.0), (0.0, 1.0));
        let line =
            crate::write::ink::letters::broken(crate::write::ink::letters::Face::Bold, 3.4, title, room);
        g.text(&Text::new(line.first().map_or("", String::as_str), 3.4).bold(), (left, low - 4.2));
        g
    }
}

/// How a drawing is laid over pages.
#[derive(Clone, Debug, PartialEq)]
pub struct Tiling {
    /// The paper.
    pub form: PrintedPage,
    /// Pages in a row and rows.
    pub count: (usize, usize),
    /// Lower left corner of the whole, in the drawing.
    pub start: (f64, f64),
    ink: Bounds<Page>,
}

impl Tiling {
    /// As the maker wants the paper to lie; if either will do, as takes fewer pages, upright when both take
    /// the same.
    pub fn new(paper: Paper, ink: Bounds<Page>, lie: Lie, bars: PrinterBars) -> Tiling {
        let upright = Tiling::on(PrintedPage::new(paper, false, bars), ink);
        let level = Tiling::on(PrintedPage::new(paper, true, bars), ink);
        match lie {
            Lie::Portrait => upright,
            Lie::Landscape => level,
            Lie::Either if level.pages() < upright.pages() => level,
            Lie::Either => upright,
        }
    }
    fn on(form: PrintedPage, ink: Bounds<Page>) -> Tiling {
        let window = form.window();
        let along = |ink: f64, window: f64| ((ink - OVERLAP) / (window - OVERLAP)).ceil().max(1.0);
        let (w, h) = (ink.width().0, ink.height().0);
        let count = (along(w, window.0), along(h, window.1));
        let whole = (count.0 * (window.0 - OVERLAP) + OVERLAP, count.1 * (window.1 - OVERLAP) + OVERLAP);
        let start = (ink.min.x - (whole.0 - w) / 2.0, ink.min.y - (whole.1 - h) / 2.0);
        Tiling { form, count: (count.0 as usize, count.1 as usize), start, ink }
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
        let (up, window) = ((self.count.1 - 1 - row) as f64, self.form.window());
        (self.start.0 + column as f64 * (window.0 - OVERLAP), self.start.1 + up * (window.1 - OVERLAP))
    }
    /// Where the crosses stand, in the drawing: two on every joint, in the middle of the overlap, seen on
    /// both pages. They keep off the drawing where the window leaves room beside it.
    pub fn crosses(&self) -> Vec<(f64, f64)> {
        let (mut out, window) = (Vec::new(), self.form.window());
        let (low, high) = (self.ink.min, self.ink.max);
        for cell in self.cells() {
            let (x, y) = self.corner(cell);
            if cell.0 + 1 < self.count.0 {
                let at = x + window.0 - OVERLAP / 2.0;
                out.extend(along_joint(y, window.1, low.y, high.y).map(|v| (at, v)));
            }
            if cell.1 > 0 {
                let at = y + window.1 - OVERLAP / 2.0;
                out.extend(along_joint(x, window.0, low.x, high.x).map(|u| (u, at)));
            }
        }
        out
    }
}

/// Places of a joint's two crosses along it: in the free strips before and after the ink, if they are wide
/// enough.
fn along_joint(from: f64, length: f64, low: f64, high: f64) -> [f64; 2] {
    let to = from + length;
    let first = if low - from >= 2.0 * CROSS + 2.0 { (from + low) / 2.0 } else { from + length * 0.15 };
    let last = if to - high >= 2.0 * CROSS + 2.0 { (to + high) / 2.0 } else { from + length * 0.85 };
    [first, last]
}

/// A drawing made ready once for all papers.
pub struct Body {
    /// What it is called.
    pub title: String,
    ink: Bounds<Page>,
    packed: Vec<u8>,
    images: Vec<Picture>,
}

impl Body {
    /// Of a drawing.
    pub fn new(d: &Drawing) -> Body {
        let mut shared = Content::new();
        for g in &d.groups {
            push_group(&mut shared, g);
        }
        let (packed, images) = (packed(&shared.finish()), Picture::all(&d.groups));
        Body { title: d.title.clone(), ink: d.ink(), packed, images }
    }
    /// As something to show on pages, cut off at a box.
    pub fn shared(&self, book: &mut Book, bounds: Bounds<Page>) -> Shared {
        book.shared_with(&self.packed, bounds, &self.images)
    }
}

/// The PDF of a drawing on a paper.
pub fn pdf(d: &Body, paper: Paper, print: &PrintSpec) -> Vec<u8> {
    let mut book = Book::new(&d.title);
    tiled(&mut book, d, paper, print);
    book.finish()
}

/// Adds the pages of a drawing at true size.
pub fn tiled(book: &mut Book, d: &Body, paper: Paper, print: &PrintSpec) {
    let tiling = Tiling::new(paper, d.ink, print.lie, print.bars);
    let shared = d.shared(book, d.ink.grown(Mm(OVERLAP * 2.0)));
    for (i, cell) in tiling.cells().enumerate() {
        let content = page_content(d, &tiling, cell, i);
        book.page(tiling.form.paper, content, &[("T", shared)]);
    }
}

fn page_content(d: &Body, t: &Tiling, cell: (usize, usize), i: usize) -> Content {
    let mut c = t.form.content();
    let ((left, low), window, corner) = (t.form.corner(), t.form.window(), t.corner(cell));
    c.save_state();
    c.rect(left as f32, low as f32, window.0 as f32, window.1 as f32).clip_nonzero().end_path();
    c.transform([1.0, 0.0, 0.0, 1.0, (left - corner.0) as f32, (low - corner.1) as f32]);
    c.x_object(Name(b"T"));
    push_group(&mut c, &crosses(t));
    c.restore_state();
    push_group(&mut c, &plan_of_pages(t, cell));
    let title = format!("page {} of {} \u{2013} {}", letter(i), letter(t.pages() - 1), d.title);
    let room = window.0 - plan_cell(t) * t.count.0 as f64 - 3.0;
    push_group(&mut c, &t.form.bars(&title, room));
    c
}

/// Letter of a page: A, B, ...
fn letter(i: usize) -> String {
    crate::write::ink::film_mark::letter(FilmId(i))
}

fn crosses(t: &Tiling) -> Group {
    let mut g = Group::new("crosses", "Crosses to put pages together by");
    for (x, y) in t.crosses() {
        let stroke = Stroke::solid(INK, 0.15);
        g.stroke(segment((x - CROSS, y), (x + CROSS, y)), stroke);
        g.stroke(segment((x, y - CROSS), (x, y + CROSS)), stroke);
        for ring in Region::<Page>::disc(Point::mm(x, y), Mm(RING)).into_contours() {
            g.stroke(ring, stroke);
        }
    }
    g
}

/// Side of a page in the plan of the pages.
fn plan_cell(t: &Tiling) -> f64 {
    (9.0f64).min((FOOT - 2.0) / t.count.1 as f64)
}

/// The window's frame and the plan of the pages: the page's own place filled, letters in all.
fn plan_of_pages(t: &Tiling, cell: (usize, usize)) -> Group {
    let mut g = Group::new("page", "Frame, page letter and plan of the pages");
    let ((left, low), window) = (t.form.corner(), t.form.window());
    let frame = Stroke { colour: QUIET, width: 0.1, dash: Dash::Dotted };
    g.stroke(rectangle(left, low, left + window.0, low + window.1), frame);
    let (size, right) = (plan_cell(t), left + window.0);
    for (j, (column, row)) in t.cells().enumerate() {
        let x = right - size * (t.count.0 - column) as f64;
        let y = EDGE + size * (t.count.1 - 1 - row) as f64;
        let own = (column, row) == cell;
        g.mark(rectangle(x, y, x + size, y + size), own.then_some(TINT), Some(Stroke::solid(INK, 0.2)));
        let (name, em) = (letter(j), size * 0.5);
        let t = Text::new(&name, em).anchor(Anchor::Middle);
        g.text(&if own { t.bold() } else { t }, (x + size / 2.0, y + size / 2.0 - em * 0.357));
    }
    g
}

/// A page without bars or title, for what is cut apart and handed on.
pub fn bare_page(book: &mut Book, form: &PrintedPage, groups: &[Group], shown: &[(&str, Shared)]) {
    let mut c = form.content();
    for g in groups {
        push_group(&mut c, g);
    }
    book.page(form.paper, c, shown);
}

/// A page of its own with bars and a title: whatever stands in its window is in millimetres as they come out.
pub fn page(book: &mut Book, form: &PrintedPage, title: &str, groups: &[Group], shown: &[(&str, Shared)]) {
    let mut c = form.content();
    for g in groups {
        push_group(&mut c, g);
    }
    push_group(&mut c, &form.bars(title, form.window().0));
    book.page(form.paper, c, shown);
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        /// Windows overlap by what is said, cover the drawing, and every cross is seen on exactly the pages
        /// that share it.
        #[test]
        fn pages_cover_the_drawing_and_share_their_crosses(
            w in 20.0..700.0f64, h in 20.0..400.0f64, paper in 0usize..5, lie in 0usize..3,
            short in 96.0..104.0f64, long in 96.0..104.0f64,
        ) {
            let ink = Bounds { min: Point::mm(-3.0, 5.0), max: Point::mm(w - 3.0, h + 5.0) };
            let lie = [Lie::Either, Lie::Portrait, Lie::Landscape][lie];
            let t = Tiling::new(Paper::ALL[paper], ink, lie, PrinterBars { short: Mm(short), long: Mm(long) });
            prop_assert!(lie == Lie::Either || t.form.level == (lie == Lie::Landscape));
            let (first, last) = (t.corner((0, t.count.1 - 1)), t.corner((t.count.0 - 1, 0)));
            let window = t.form.window();
            prop_assert!(first.0 <= ink.min.x + 1e-9 && first.1 <= ink.min.y + 1e-9);
            prop_assert!(last.0 + window.0 >= ink.max.x - 1e-9 && last.1 + window.1 >= ink.max.y - 1e-9);
            for (x, y) in t.crosses() {
                let seen = t.cells().filter(|&c| {
                    let (a, b) = t.corner(c);
                    x > a && x < a + window.0 && y > b && y < b + window.1
                });
                prop_assert!(seen.count() >= 2);
            }
        }
        /// A printer that makes `part` of every length prints the corrected page true: points x part = points
        /// of a true print.
        #[test]
        fn the_correction_undoes_the_printer(short in 90.0..110.0f64, long in 90.0..110.0f64, level: bool) {
            let bars = PrinterBars { short: Mm(short), long: Mm(long) };
            let f = PrintedPage::new(Paper::Letter, level, bars);
            let printer = if level { (long, short) } else { (short, long) };
            prop_assert!((f.scale.0 * printer.0 / 100.0 - POINTS).abs() < 1e-12);
            prop_assert!((f.scale.1 * printer.1 / 100.0 - POINTS).abs() < 1e-12);
            // And the paper stays the paper.
            prop_assert!((f.page.0 * f.scale.0 / POINTS - f.paper.0).abs() < 1e-9);
        }
    }

    /// A typical wrap takes one page, level; two on Letter, which is too short by a few millimetres.
    #[test]
    fn a_typical_wrap_takes_few_pages() {
        let ink = Bounds { min: Point::mm(0.0, 0.0), max: Point::mm(270.0, 177.0) };
        let pages = |p: Paper| Tiling::new(p, ink, Lie::Either, PrinterBars::TRUE).pages();
        assert_eq!(Paper::ALL.map(pages), [1, 1, 2, 1, 1]);
    }
}
