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

/// The page: as many pairs of cards and labels as fit, at true size.
pub fn pdf(plan: &Verified, paper: Paper) -> Vec<u8> {
    let form = PrintedPage::new(paper, false, plan.job().print.bars);
    let ((left, low), (width, height)) = (form.corner(), form.window());
    let title = format!("{}: care cards and labels", plan.job().title);
    let mut g = Group::new("cards", "");
    let across = (width / (CARD.0 + 2.0)).floor().max(1.0) as usize;
    let pair = CARD.1 + LABEL.1;
    let up = ((height + 2.0) / (pair + 2.0)).floor().max(1.0) as usize;
    for row in 0..up {
        for column in 0..across {
            let x = left + (CARD.0 + 2.0) * column as f64;
            let y = low + height - pair - (pair + 2.0) * row as f64;
            card(&mut g, (x, y + LABEL.1));
            label(&mut g, plan, (x, y));
        }
    }
    let mut book = Book::new(&title);
    tiles::page(&mut book, &form, &title, &[g], &[]);
    book.finish()
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

fn label(g: &mut Group, plan: &Verified, at: (f64, f64)) {
    frame(g, at, LABEL);
    let (x, mut y) = (at.0 + 4.0, at.1 + LABEL.1 - 5.6);
    for (i, l) in words::label(plan).iter().enumerate() {
        let (face, em) = if i == 0 { (Face::Bold, 3.2) } else { (Face::Regular, 2.7) };
        let wide = letters::width(face, em, l);
        let em = if wide > LABEL.0 - 8.0 { em * (LABEL.0 - 8.0) / wide } else { em };
        g.text(&Text { face, ..Text::new(l, em) }, (x, y));
        y -= 4.5;
    }
}
