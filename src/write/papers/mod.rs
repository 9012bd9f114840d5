//! Papers to read and to tick: one [`Block`] after another, written as a self-contained HTML page and as PDF
//! pages.
//!
//! Imports: base, write::ink.

pub mod page;
pub mod print;
pub mod tiles;

use crate::base::units::LengthUnit;
use crate::write::ink::drawing::Drawing;
use crate::write::ink::inches;
use crate::write::ink::pdf::{packed, push_group};

/// A picture: a PNG for the page; for print the same pixels, or marks that stay sharp.
#[derive(Clone, Debug)]
pub struct Figure {
    /// PNG file.
    pub png: Vec<u8>,
    /// Its width and height, pixels.
    pub size: (usize, usize),
    /// What it shows, for people who do not see it.
    pub alt: String,
    /// Words under it.
    pub caption: String,
    /// Width in print, mm.
    pub wide: f64,
    /// What is printed.
    pub ink: Ink,
}

/// A picture in print.
#[derive(Clone, Debug)]
pub enum Ink {
    /// Three bytes a pixel, on white; packed.
    Pixels(Vec<u8>),
    /// Marks: width and height, mm, and their content; packed.
    Marks((f64, f64), Vec<u8>),
}

impl Ink {
    /// Of pixels, three bytes each.
    pub fn pixels(rgb: &[u8]) -> Ink {
        Ink::Pixels(packed(rgb))
    }
    /// Of a drawing.
    pub fn marks(d: &Drawing) -> Ink {
        let mut c = pdf_writer::Content::new();
        d.groups.iter().for_each(|g| push_group(&mut c, g));
        Ink::Marks((d.width, d.height), packed(&c.finish()))
    }
}

/// A step to tick.
#[derive(Clone, Debug, Default)]
pub struct Tick {
    /// What to do.
    pub message: String,
    /// More about it.
    pub more: Vec<String>,
    /// Cautions where the step is: heading and words.
    pub cautions: Vec<(String, String)>,
}

/// A table.
#[derive(Clone, Debug, Default)]
pub struct Grid {
    /// What it holds.
    pub caption: String,
    /// Heads of its columns; a column of numbers is set to the right.
    pub heads: Vec<(String, bool)>,
    /// Rows of cells.
    pub rows: Vec<Vec<String>>,
}

impl Grid {
    /// An empty table; heads that begin with `>` are columns of numbers.
    pub fn new(caption: &str, heads: &[&str]) -> Grid {
        let head = |h: &&str| match h.strip_prefix('>') {
            Some(h) => (h.to_owned(), true),
            None => ((*h).to_owned(), false),
        };
        Grid { caption: caption.to_owned(), heads: heads.iter().map(head).collect(), rows: Vec::new() }
    }
    /// One row more.
    pub fn row(&mut self, cells: impl IntoIterator<Item = String>) {
        self.rows.push(cells.into_iter().collect());
    }
}

/// One thing on a paper.
#[derive(Clone, Debug)]
pub enum Block {
    /// A heading of a section; its id on the page.
    Section(String, String),
    /// A heading within a section.
    Heading(String),
    /// Running text.
    Text(String),
    /// A caution: heading and words.
    Caution(String, String),
    /// A list of points.
    Points(Vec<String>),
    /// Steps with boxes to tick.
    Ticks(Vec<Tick>),
    /// A table.
    Table(Grid),
    /// A file, line by line as it is: what it is called, and its text.
    File(String, String),
    /// Pictures side by side.
    Figures(Vec<Figure>),
}

impl Block {
    /// With every text said anew, but for files.
    fn said(&mut self, say: &dyn Fn(&str) -> String) {
        let all = |list: &mut [String]| list.iter_mut().for_each(|t| *t = say(t));
        match self {
            Block::Section(_, t) | Block::Heading(t) | Block::Text(t) => *t = say(t),
            Block::Caution(t, u) => (*t, *u) = (say(t), say(u)),
            Block::Points(list) => all(list),
            Block::Ticks(list) => {
                for t in list {
                    t.message = say(&t.message);
                    all(&mut t.more);
                    t.cautions.iter_mut().for_each(|(a, b)| (*a, *b) = (say(a), say(b)));
                }
            }
            Block::Table(grid) => grid.rows.iter_mut().for_each(|row| all(row)),
            Block::Figures(list) => list.iter_mut().for_each(|f| f.caption = say(&f.caption)),
            Block::File(..) => {}
        }
    }
}

/// A paper.
#[derive(Clone, Debug)]
pub struct Paper {
    /// Heading of the whole.
    pub title: String,
    /// The line under it.
    pub line: String,
    /// What follows.
    pub blocks: Vec<Block>,
}

impl Paper {
    /// In a job's unit.
    #[must_use]
    pub fn in_unit(mut self, unit: LengthUnit) -> Paper {
        if unit != LengthUnit::Mm {
            self.blocks.iter_mut().for_each(|b| b.said(&|t| inches::said(unit, t)));
        }
        self
    }
}
