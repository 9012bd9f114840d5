//! Care cards and batch labels on one page to cut apart.
//!
//! Imports: read::job, make::verify, write::{ink, papers}, write::sheets::job_sheet.

use super::job_sheet::words;
use crate::make::verify::Verified;
use crate::read::job::Paper;
use crate::write::ink::drawing::{Dash, Group, INK, QUIET, Stroke, Text, rectangle};
use crate::write::ink::letters::{self, Face};
use crate::write::ink::pdf::Book;
use crate::write::papers::tiles::{self, PrintedPage};

/// Cards and labels, mm: both fit twice across every paper.
const CARD: (f64, f64) = (86.0, 64.0);
const LABEL: (f64, f64) = (86.0, 26.0);

/// Path within the kit.
pub fn file_name(paper: Paper) -> String {
    format!("cards/care-and-label-{}.pdf", paper.name())
}

/// Pages of pairs of cards and labels at true size: as many as fit on one, or one for each cup of an order.
pub fn pdf(plan: &Verified, paper: Paper) -> Vec<u8> {
    let form = PrintedPage::new(paper, false, plan.job().print.bars);
    let ((left, low), (width, height)) = (form.corner(), form.window());
    let title = format!("{}: care cards and labels", plan.job().title);
    let mut pages = Vec::new();
    let of_cups = labels(plan);
    let mut next = of_cups.iter();
    let mut g = Group::new("cards", "");
    let across = (width / (CARD.0 + 2.0)).floor().max(1.0) as usize;
    let pair = CARD.1 + LABEL.1;
    let up = ((height + 2.0) / (pair + 2.0)).floor().max(1.0) as usize;
    // One page as full as it gets; of an order a pair for each cup.
    let count = if of_cups.is_empty() { up * across } else { of_cups.len() };
    let plain = words::label(plan);
    for n in 0..count {
        let (row, column) = (n % (up * across) / across, n % across);
        if n > 0 && row == 0 && column == 0 {
            pages.push(std::mem::replace(&mut g, Group::new("cards", "")));
        }
        let x = left + (CARD.0 + 2.0) * column as f64;
        let y = low + height - pair - (pair + 2.0) * row as f64;
        card(&mut g, (x, y + LABEL.1));
        label(&mut g, next.next().unwrap_or(&plain), (x, y));
    }
    pages.push(g);
    let mut book = Book::new(&title);
    for g in pages {
        tiles::bare_page(&mut book, &form, &[g], &[]);
    }
    book.finish()
}

/// What the label of each cup of an order says; none where there is one cup.
fn labels(plan: &Verified) -> Vec<Vec<String>> {
    let cups = plan.cups();
    if cups == 1 {
        return Vec::new();
    }
    let of = |cup: u32| {
        let mut lines = words::label(plan);
        for line in &mut lines {
            *line = line.replace(words::WHICH_CUP, &format!("cup {cup} of {cups}"));
        }
        if let Some(named) = plan.named() {
            lines.insert(1, named.rows[named.cups[cup as usize - 1]].text.clone());
        }
        lines
    };
    (1..=cups).map(of).collect()
}

fn frame(g: &mut Group, (x, y): (f64, f64), (w, h): (f64, f64)) {
    let line = Stroke { colour: QUIET, width: 0.15, dash: Dash::Dotted };
    g.stroke(rectangle(x, y, x + w, y + h), line);
}

fn card(g: &mut Group, at: (f64, f64)) {
    frame(g, at, CARD);
    let (x, mut y) = (at.0 + 4.0, at.1 + CARD.1 - 7.0);
    g.text(&Text::new("How to care for your cup", 4.0).bold(), (x, y));
    y -= 1.4;
    for line in words::CARE {
        y -= 1.0;
        for l in letters::broken(Face::Regular, 2.75, line, CARD.0 - 8.0) {
            y -= 3.5;
            g.text(&Text::new(&l, 2.75).colour(INK), (x, y));
        }
    }
}

/// Largest and usual size of a label's title, and the size of its other lines (the em, mm); most lines of a title
/// at the larger size.
const TITLE: [f64; 2] = [3.2, 2.7];
const LINES: f64 = 2.7;
const TWO: usize = 2;

fn label(g: &mut Group, lines: &[String], at: (f64, f64)) {
    frame(g, at, LABEL);
    let (x, mut y) = (at.0 + 4.0, at.1 + LABEL.1 - 5.6);
    let wide = LABEL.0 - 8.0;
    let Some((title, rest)) = lines.split_first() else { return };
    // A long title is broken, not made small: what cannot be read names nothing.
    let broken = TITLE.map(|em| (em, letters::broken(Face::Bold, em, title, wide)));
    let [large, small] = broken;
    let (em, title) = if large.1.len() <= TWO { large } else { small };
    let all = title.iter().map(|l| (Face::Bold, em, l)).chain(rest.iter().map(|l| (Face::Regular, LINES, l)));
    let count = title.len() + rest.len();
    // Five lines fit; more of them move closer.
    let step = match count {
        0..=5 => 4.5,
        6 => 3.9,
        n => (LABEL.1 - 7.6) / (n - 1) as f64,
    };
    for (face, em, l) in all {
        let there = letters::width(face, em, l);
        let em = if there > wide { em * wide / there } else { em };
        g.text(&Text { face, ..Text::new(l, em) }, (x, y));
        y -= step;
    }
}
