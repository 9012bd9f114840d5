//! The map on paper: the whole over pages at true size, then a page for each zone, drawn larger, with its table.
//!
//! Imports: base, outline, read::job, make::verify, write::{ink, papers}, write::map::{rows, passes, zones, wall}.

use super::passes::{self, Pass, by_zone};
use super::rows::Row;
use super::wall::{COLUMN, Entry, ROW, all_entries, base_entries, column, entries, legend, note};
use super::zones;
use crate::base::frame::Point;
use crate::make::verify::Verified;
use crate::outline::Bounds;
use crate::read::job::{Lie, Paper};
use crate::write::ink::drawing::Group;
use crate::write::ink::pdf::Book;
use crate::write::papers::tiles::{self, PrintedPage};
use rayon::prelude::*;

/// A zone drawn once for all papers.
pub struct Leaf<'a> {
    window: &'a zones::Window<'a>,
    size: (f64, f64),
    body: tiles::Body,
}

/// The zones as they are printed; none if every number can be read on the whole map.
pub fn leaves<'a>(plan: &Verified, windows: &'a [zones::Window<'a>]) -> Vec<Leaf<'a>> {
    if !zones::crowded(windows) {
        return Vec::new();
    }
    let leaf = |window: &'a zones::Window<'a>| {
        let d = window.drawing(plan);
        Leaf { window, size: (d.width, d.height), body: tiles::Body::new(&d) }
    };
    windows.par_iter().map(leaf).collect()
}

/// A pass's own map.
pub type OfPass = (Pass, tiles::Body);

/// The maps of the passes; none where all film goes on in one.
pub fn of_passes(plan: &Verified) -> Vec<OfPass> {
    let one = |pass: Pass| {
        let body = tiles::Body::new(&super::wall::body_of(plan, Some(&pass)).0);
        (pass, body)
    };
    passes::all(plan).into_par_iter().map(one).collect()
}

/// The map on a paper: the whole at true size over as few pages as it takes; then, if numbers are crowded, a
/// page for each zone, drawn larger, with its table; else the table alone. Where film goes on in several passes,
/// the whole is followed by each pass: its own map, and its zones or table.
pub fn pdf(
    plan: &Verified,
    rows: &[Row],
    leaves: &[Leaf<'_>],
    (body, passes): (&tiles::Body, &[OfPass]),
    paper: Paper,
) -> Vec<u8> {
    let mut book = Book::new(&body.title);
    tiles::tiled(&mut book, body, paper, &plan.job().print);
    let form = PrintedPage::new(paper, false, plan.job().print.bars);
    let zone = |book: &mut Book, of: Option<&Pass>| {
        for (i, l) in leaves.iter().enumerate().filter(|(_, l)| l.window.pass.as_ref() == of) {
            let title =
                format!("zone {} of {}: {} \u{2013} {}", i + 1, leaves.len(), l.window.name(), body.title);
            zone_page(book, plan, l, paper, &title);
        }
    };
    for (pass, own) in passes {
        tiles::tiled(&mut book, own, paper, &plan.job().print);
        zone(&mut book, Some(pass));
        if leaves.is_empty() {
            let zones = by_zone(plan, rows, Some(pass));
            let all: Vec<Entry> = zones.iter().flat_map(|(z, list)| entries(*z, list)).collect();
            table_pages(
                &mut book,
                &form,
                &all,
                &format!("table: {} \u{2013} {}", pass.heading(), body.title),
            );
        }
    }
    if !leaves.is_empty() || !passes.is_empty() {
        zone(&mut book, None);
        let base = base_entries(rows);
        if !base.is_empty() {
            table_pages(&mut book, &form, &base, &format!("base \u{2013} {}", body.title));
        }
    } else {
        table_pages(&mut book, &form, &all_entries(rows), &format!("table \u{2013} {}", body.title));
    }
    book.finish()
}

/// How many columns of the table stand side by side, and how many lines fit into a height.
fn room(form: &PrintedPage, height: f64) -> (usize, usize) {
    let columns = ((form.window().0 + 2.5) / COLUMN).floor().max(1.0) as usize;
    (columns, ((height / ROW) - 3.0).floor().max(0.0) as usize)
}

/// Columns of the table from a height downwards; takes as many lines as fit.
fn lines<'e>(g: &mut Group, form: &PrintedPage, all: &'e [Entry], top: f64, rows: usize) -> &'e [Entry] {
    let left = form.corner().0;
    note(g, (left, top), form.window().0);
    let (columns, _) = room(form, 0.0);
    let tall = all.len().div_ceil(columns).min(rows).max(1);
    let (now, later) = all.split_at((tall * columns).min(all.len()));
    for (i, part) in now.chunks(tall).enumerate() {
        column(g, part, (left + COLUMN * i as f64, top - ROW * 2.0));
    }
    later
}

fn table_pages(book: &mut Book, form: &PrintedPage, mut all: &[Entry], title: &str) {
    while !all.is_empty() {
        let (low, height) = (form.corner().1, form.window().1);
        let mut g = Group::new("table", "");
        all = lines(&mut g, form, all, low + height, room(form, height).1.max(1));
        tiles::page(book, form, title, &[g], &[]);
    }
}

/// Most that a zone is drawn larger.
const LARGER: f64 = 2.0;

/// How a zone lies on a page: the picture's scale, and whether its table stands under it.
struct Fit {
    form: PrintedPage,
    scale: f64,
    table_under: bool,
}

impl Fit {
    /// On a form: the table follows on the next page where it would leave the picture less than true size.
    fn on(form: PrintedPage, size: (f64, f64), entries: usize, legend: f64) -> Fit {
        let (columns, _) = room(&form, 0.0);
        let table = (entries.div_ceil(columns) as f64 + 3.0) * ROW;
        let (width, height) = form.window();
        let fit = |h: f64| (h / size.1).min(width / size.0).min(LARGER);
        let (under, alone) = (fit(height - legend - table - 4.0), fit(height - legend));
        let table_under = under >= 1.1;
        Fit { form, scale: if table_under { under } else { alone }, table_under }
    }
    /// The better of upright and level, unless the maker says which: with its table on the page before
    /// without, then as large as can be, upright when both are alike.
    fn best(plan: &Verified, paper: Paper, size: (f64, f64), entries: usize) -> Fit {
        let print = &plan.job().print;
        let on = |level| {
            let form = PrintedPage::new(paper, level, print.bars);
            let (left, width) = (form.corner().0, form.window().0);
            let foot = legend(&mut Group::new("films", ""), plan, (left, 0.0), left + width);
            Fit::on(form, size, entries, 7.0 - foot)
        };
        match print.lie {
            Lie::Portrait => on(false),
            Lie::Landscape => on(true),
            Lie::Either => {
                let (upright, level) = (on(false), on(true));
                let worth = |f: &Fit| (f.table_under, f.scale);
                if worth(&level) > worth(&upright) { level } else { upright }
            }
        }
    }
}

fn zone_page(book: &mut Book, plan: &Verified, l: &Leaf<'_>, paper: Paper, title: &str) {
    let all = entries(l.window.zone, &l.window.rows);
    let Fit { form, scale, table_under } = Fit::best(plan, paper, l.size, all.len());
    let ((left, low), (width, height)) = (form.corner(), form.window());
    let mut head = Group::new("films", "");
    let legend_foot = legend(&mut head, plan, (left, low + height - 4.0), left + width) - 3.0;
    let (columns, _) = room(&form, 0.0);
    let box_of = Bounds { min: Point::mm(0.0, 0.0), max: Point::mm(l.size.0, l.size.1) };
    let shared = l.body.shared(book, box_of);
    let mut c = form.content();
    crate::write::ink::pdf::push_group(&mut c, &head);
    let (s, x, y) = (scale, left + (width - scale * l.size.0) / 2.0, legend_foot - scale * l.size.1);
    c.save_state();
    c.transform([s as f32, 0.0, 0.0, s as f32, x as f32, y as f32]);
    c.x_object(pdf_writer::Name(b"Z"));
    c.restore_state();
    if table_under {
        let mut g = Group::new("table", "");
        lines(&mut g, &form, &all, y - 4.0, usize::MAX / columns.max(1));
        crate::write::ink::pdf::push_group(&mut c, &g);
    }
    let said = format!("{title}, {scale:.2} times as large");
    crate::write::ink::pdf::push_group(&mut c, &form.bars(&said, width));
    book.page(form.paper, c, &[("Z", shared)]);
    if !table_under {
        table_pages(book, &form, &all, title);
    }
}
