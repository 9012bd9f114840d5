//! A paper as PDF pages: text broken into lines, tables with columns as wide as they need, boxes to tick.
//!
//! Imports: base, outline, read::job, write::{ink, papers}.

use super::{Block, Figure, Grid, Ink, Paper, Tick};
use crate::base::frame::Point;
use crate::outline::Bounds;
use crate::read::job::Rgb;
use crate::write::ink::drawing::{Group, INK, PAPER, QUIET, Stroke, TINT, Text, rectangle, segment};
use crate::write::ink::letters::{self, Anchor, Face};
use crate::write::ink::pdf::{Book, POINTS, Shared, push_group};
use pdf_writer::{Content, Name};

const EDGE: f64 = 15.0;
/// Em of running text and the distance of its lines, mm.
const EM: f64 = 3.4;
const LINE: f64 = 4.7;
const SMALL: f64 = 2.8;
const WARM: Rgb = Rgb([0x8a, 0x3b, 0x00]);

struct Flow<'b> {
    book: &'b mut Book,
    size: (f64, f64),
    title: String,
    page: usize,
    y: f64,
    g: Group,
    shown: Vec<(String, Shared)>,
    /// Pictures on the page: name, corner, width, height (of the unit square), or scale of marks.
    placed: Vec<(String, [f64; 4])>,
}

/// The PDF of a paper on pages of a size, mm.
pub fn pdf(p: &Paper, size: (f64, f64)) -> Vec<u8> {
    let mut book = Book::new(&p.title);
    let mut f = Flow {
        book: &mut book,
        size,
        title: p.title.clone(),
        page: 0,
        y: size.1 - EDGE,
        g: Group::new("page", ""),
        shown: Vec::new(),
        placed: Vec::new(),
    };
    f.lines((Face::Bold, 6.2, 7.6), &p.title, 0.0, INK);
    f.lines((Face::Regular, EM, LINE), &p.line, 0.0, INK);
    for b in &p.blocks {
        f.block(b);
    }
    f.turn_page();
    book.finish()
}

impl Flow<'_> {
    fn width(&self) -> f64 {
        self.size.0 - 2.0 * EDGE
    }
    fn turn_page(&mut self) {
        self.page += 1;
        let words = format!("{} \u{2013} page {}", self.title, self.page);
        self.g.text(&Text::new(&words, 2.5).colour(QUIET), (EDGE, 7.0));
        let mut c = Content::new();
        c.transform([POINTS as f32, 0.0, 0.0, POINTS as f32, 0.0, 0.0]);
        for (name, [x, y, w, h]) in &self.placed {
            c.save_state();
            c.transform([*w as f32, 0.0, 0.0, *h as f32, *x as f32, *y as f32]);
            c.x_object(Name(name.as_bytes())).restore_state();
        }
        push_group(&mut c, &self.g);
        let shown: Vec<(&str, Shared)> = self.shown.iter().map(|(n, s)| (n.as_str(), *s)).collect();
        self.book.page(self.size, c, &shown);
        self.g = Group::new("page", "");
        self.shown.clear();
        self.placed.clear();
        self.y = self.size.1 - EDGE;
    }
    /// Makes sure of so much height.
    fn room(&mut self, height: f64) {
        if self.y - height < EDGE && self.y < self.size.1 - EDGE {
            self.turn_page();
        }
    }
    fn lines(&mut self, (face, em, step): (Face, f64, f64), message: &str, indent: f64, colour: Rgb) {
        for l in letters::broken(face, em, message, self.width() - indent) {
            self.room(step);
            self.y -= step;
            let t = Text { face, ..Text::new(&l, em).colour(colour) };
            self.g.text(&t, (EDGE + indent, self.y + step - em));
        }
    }
    fn block(&mut self, b: &Block) {
        match b {
            Block::Section(_, message) => {
                self.room(24.0);
                self.y -= 4.0;
                self.lines((Face::Bold, 4.8, 6.4), message, 0.0, INK);
                let y = self.y + 0.4;
                self.g.stroke(segment((EDGE, y), (self.size.0 - EDGE, y)), Stroke::solid(INK, 0.4));
                self.y -= 1.6;
            }
            Block::Heading(message) => {
                self.room(16.0);
                self.y -= 1.6;
                self.lines((Face::Bold, EM, LINE), message, 0.0, INK);
            }
            Block::Text(message) => {
                self.lines((Face::Regular, EM, LINE), message, 0.0, INK);
                self.y -= 1.2;
            }
            Block::Caution(title, message) => self.caution(title, message, 0.0),
            Block::Points(points) => {
                for p in points {
                    self.room(LINE);
                    self.g.text(&Text::new("\u{2022}", EM), (EDGE + 1.0, self.y - EM));
                    self.lines((Face::Regular, EM, LINE), p, 5.0, INK);
                }
                self.y -= 1.2;
            }
            Block::Ticks(list) => list.iter().for_each(|t| self.tick(t)),
            Block::Table(grid) => self.table(grid),
            Block::File(name, text) => self.file(name, text),
            Block::Figures(figures) => self.figures(figures),
        }
    }
    fn caution(&mut self, title: &str, message: &str, indent: f64) {
        let text = format!("{title}. {message}");
        let lines = letters::broken(Face::Regular, 3.1, &text, self.width() - indent - 4.0);
        self.room(lines.len() as f64 * 4.2 + 1.0);
        let top = self.y - 0.6;
        for l in &lines {
            self.y -= 4.2;
            self.g.text(&Text::new(l, 3.1), (EDGE + indent + 3.0, self.y + 1.1));
        }
        let x = EDGE + indent + 0.8;
        self.g.stroke(segment((x, self.y), (x, top)), Stroke::solid(WARM, 1.0));
        self.y -= 1.0;
    }
    fn tick(&mut self, t: &Tick) {
        self.room(12.0);
        self.y -= 0.8;
        let (y, side) = (self.y - 4.4, 4.0);
        self.g.mark(rectangle(EDGE, y, EDGE + side, y + side), Some(PAPER), Some(Stroke::solid(INK, 0.35)));
        self.lines((Face::Bold, EM, LINE), &t.message, 7.0, INK);
        for m in &t.more {
            self.lines((Face::Regular, 3.1, 4.3), m, 7.0, INK);
        }
        for (title, message) in &t.cautions {
            self.caution(title, message, 7.0);
        }
        self.y -= 0.6;
    }
    /// Lines as they are; one too long for the page goes on with a deeper indent.
    fn file(&mut self, name: &str, text: &str) {
        self.room(16.0);
        self.lines((Face::Bold, EM, LINE), name, 0.0, INK);
        for line in text.lines() {
            let indent = line.chars().take_while(|c| *c == ' ').count() as f64 * 1.4;
            self.lines(
                (Face::Regular, 2.6, 3.5),
                if line.trim().is_empty() { "\u{a0}" } else { line },
                indent,
                INK,
            );
        }
        self.y -= 2.0;
    }
    fn table(&mut self, grid: &Grid) {
        let face = |head: bool| if head { Face::Bold } else { Face::Regular };
        let wide = |s: &str, head: bool| letters::width(face(head), SMALL, s);
        let mut columns: Vec<f64> = grid.heads.iter().map(|h| wide(&h.0, true)).collect();
        for row in &grid.rows {
            for (i, c) in row.iter().enumerate().take(columns.len()) {
                columns[i] = columns[i].max(wide(c, i == 0));
            }
        }
        let gap = 3.2;
        let room = self.width() - gap * columns.len() as f64;
        let all: f64 = columns.iter().sum();
        if all > room {
            // The widest columns give way; their cells are broken into lines.
            let mut limit = room;
            for _ in 0..40 {
                let taken: f64 = columns.iter().map(|c| c.min(limit)).sum();
                limit *= if taken > room { 0.93 } else { 1.02 };
            }
            columns.iter_mut().for_each(|c| *c = c.min(limit));
        }
        self.room(20.0);
        self.lines((Face::Bold, SMALL + 0.2, 4.6), &grid.caption, 0.0, INK);
        let heads: Vec<String> = grid.heads.iter().map(|h| h.0.clone()).collect();
        self.table_row(grid, &columns, gap, &heads, true);
        for (i, row) in grid.rows.iter().enumerate() {
            if self.y < EDGE + 9.0 {
                self.turn_page();
                self.table_row(grid, &columns, gap, &heads, true);
            }
            let top = self.y;
            let mark = self.g.marks.len();
            self.table_row(grid, &columns, gap, row, false);
            if i % 2 == 1 && self.y < top {
                let tint = rectangle(EDGE - 1.0, self.y, self.size.0 - EDGE + 1.0, top);
                self.g.fill(tint, TINT);
                let last = self.g.marks.len() - 1;
                self.g.marks[mark..=last].rotate_right(1);
            }
        }
        self.y -= 3.0;
    }
    fn table_row(&mut self, grid: &Grid, columns: &[f64], gap: f64, row: &[String], head: bool) {
        let face = |i: usize| if head || i == 0 { Face::Bold } else { Face::Regular };
        let cells: Vec<Vec<String>> = row
            .iter()
            .zip(columns)
            .enumerate()
            .map(|(i, (c, w))| letters::broken(face(i), SMALL, c, w + 0.01))
            .collect();
        let tall = cells.iter().map(Vec::len).max().unwrap_or(1).max(1);
        self.room(tall as f64 * 3.9);
        let mut x = EDGE;
        for (i, (lines, w)) in cells.iter().zip(columns).enumerate() {
            let right = grid.heads[i].1;
            for (j, l) in lines.iter().enumerate() {
                let t = Text { face: face(i), ..Text::new(l, SMALL) };
                let t = if right { t.anchor(Anchor::End) } else { t };
                let at = (if right { x + w } else { x }, self.y - 3.9 * j as f64 - 2.9);
                self.g.text(&t, at);
            }
            x += w + gap;
        }
        self.y -= 3.9 * tall as f64;
        if head {
            let y = self.y + 0.2;
            self.g.stroke(segment((EDGE, y), (self.size.0 - EDGE, y)), Stroke::solid(INK, 0.2));
            self.y -= 0.4;
        }
    }
    fn figures(&mut self, figures: &[Figure]) {
        let mut rest = figures;
        while !rest.is_empty() {
            let (mut x, mut n) = (0.0, 0);
            while n < rest.len() && (n == 0 || x + rest[n].wide <= self.width()) {
                x += rest[n].wide + 6.0;
                n += 1;
            }
            let (now, later) = rest.split_at(n);
            self.figure_row(now);
            rest = later;
        }
    }
    fn figure_row(&mut self, row: &[Figure]) {
        let wide = |f: &Figure| f.wide.min(self.width());
        let tall = |f: &Figure| wide(f) * f.size.1 as f64 / f.size.0 as f64;
        let most = self.size.1 - 2.0 * EDGE - 14.0;
        let part = row.iter().map(|f| most / tall(f)).fold(1.0, f64::min);
        let high = row.iter().map(tall).fold(0.0, f64::max) * part;
        let caption = |f: &Figure| letters::broken(Face::Regular, SMALL, &f.caption, wide(f) * part);
        let words: Vec<Vec<String>> = row.iter().map(caption).collect();
        let sizes: Vec<(f64, f64)> = row.iter().map(|f| (wide(f) * part, tall(f) * part)).collect();
        let foot = words.iter().map(Vec::len).max().unwrap_or(0) as f64 * 3.9 + 2.0;
        self.room(high + foot);
        let mut x = EDGE;
        let top = self.y;
        for ((f, lines), (w, h)) in row.iter().zip(&words).zip(sizes) {
            let name = format!("P{}", self.placed.len());
            let (what, at) = match &f.ink {
                Ink::Pixels(rgb) => (self.book.picture(f.size.0, f.size.1, rgb), [x, top - h, w, h]),
                Ink::Marks((wide, tall), content) => {
                    let bounds = Bounds { min: Point::mm(0.0, 0.0), max: Point::mm(*wide, *tall) };
                    let s = w / wide;
                    (self.book.shared(content, bounds), [x, top - tall * s, s, s])
                }
            };
            self.shown.push((name.clone(), what));
            self.placed.push((name, at));
            for (j, l) in lines.iter().enumerate() {
                self.g.text(&Text::new(l, SMALL), (x, top - h - 3.4 - 3.9 * j as f64));
            }
            x += w + 6.0;
        }
        self.y = top - high - foot;
    }
}
