//! Sheets that the maker prints herself: the page to print, and what is cut out of it, led where the printer put it.
//!
//! Imports: base, outline, read::job, make::sheet, write::ink.

use crate::base::frame::{Page, Point};
use crate::base::units::Mm;
use crate::make::sheet::marks::{AsPrinted, DISC, INSET, Marks, SMALL};
use crate::make::sheet::own::OwnPrint;
use crate::make::sheet::stock::Stocked;
use crate::outline::{BezPath, Region};
use crate::read::job::{Paper, Rgb};
use crate::write::ink::drawing::{Group, INK, PAPER, QUIET, Stroke, Text, segment, size_bar};
use crate::write::ink::letters::{self, Anchor, Face, mapped};
use crate::write::ink::pdf::{Book, POINTS, Picture, packed, push_group};
use pdf_writer::Content;

/// Arms of the white cross within a disc, and how wide its lines are, mm: within the disc, so that it stays one spot.
const CROSS: (f64, f64) = (1.5, 0.2);

/// Where marks go, and how outlines do.
pub type Printed = Option<AsPrinted>;

/// A circle of so much across.
pub fn circle([x, y]: [f64; 2], across: f64) -> BezPath {
    Region::<Page>::disc(Point::mm(x, y), Mm(across / 2.0)).into_contours().into_iter().flatten().collect()
}

/// Outlines as they are cut out of the printed film.
pub fn as_printed(printed: &Printed, paths: Vec<BezPath>) -> Vec<BezPath> {
    let Some((map, _)) = printed else { return paths };
    let to = |x: f64, y: f64| {
        let p = map.apply([x, y]);
        (p[0], p[1])
    };
    paths.iter().map(|p| mapped(p, &to)).collect()
}

/// Read outlines led back to what was drawn; none where nothing was led.
pub fn as_drawn(printed: &Printed, paths: &[BezPath]) -> Option<Vec<BezPath>> {
    let back = printed.as_ref()?.0.inverse();
    let to = |x: f64, y: f64| {
        let p = back.apply([x, y]);
        (p[0], p[1])
    };
    Some(paths.iter().map(|p| mapped(p, &to)).collect())
}

/// The marks as a machine or an eye finds them: circles with crosses.
pub fn marks(printed: &Printed) -> Vec<BezPath> {
    let all = printed.iter().flat_map(|p| &p.1);
    let one = |&(at, across): &([f64; 2], f64)| {
        let mut path = circle(at, across);
        for (dx, dy) in [(across / 2.0, 0.0), (0.0, across / 2.0)] {
            path.extend(segment((at[0] - dx, at[1] - dy), (at[0] + dx, at[1] + dy)));
        }
        path
    };
    all.map(one).collect()
}

/// Path of the page to print within a kit.
pub fn file_name(sheet: &str) -> String {
    format!("print/{sheet}.pdf")
}

/// The page to print, at its own size.
pub fn pdf(name: &str, stock: &Stocked, own: &OwnPrint) -> Vec<u8> {
    let [w, h] = own.marks.page;
    let mut book = Book::new(&format!("{}: to be printed", name));
    let pictures: Vec<Picture> = own
        .pictures
        .iter()
        .enumerate()
        .map(|(i, b)| Picture { name: format!("m{i}"), pixels: b.pixels, rgb: packed(&b.rgb) })
        .collect();
    let ids: Vec<_> = pictures.iter().map(|p| book.picture(p.pixels.0, p.pixels.1, &p.rgb)).collect();
    let shown: Vec<(&str, _)> = pictures.iter().map(|p| p.name.as_str()).zip(ids).collect();
    let scale = POINTS as f32;
    let mut c = Content::new();
    c.save_state();
    if own.mirrored {
        c.transform([-scale, 0.0, 0.0, scale, (w * POINTS) as f32, 0.0]);
    } else {
        c.transform([scale, 0.0, 0.0, scale, 0.0, 0.0]);
    }
    for ([x, y, wide, high], i) in &own.placed {
        c.save_state();
        c.transform([*wide as f32, 0.0, 0.0, *high as f32, *x as f32, *y as f32]);
        c.x_object(pdf_writer::Name(pictures[*i].name.as_bytes()));
        c.restore_state();
    }
    push_group(&mut c, &discs(&own.marks.places(), own.marks.small()));
    c.restore_state();
    c.save_state();
    c.transform([scale, 0.0, 0.0, scale, 0.0, 0.0]);
    push_group(&mut c, &words(name, stock.sheet.motifs.len(), own));
    c.restore_state();
    book.page((w, h), c, &shown);
    book.finish()
}

/// The page of eight discs alone, to photograph film on.
pub fn frame(paper: Paper) -> Vec<u8> {
    let sides = paper.sides();
    let (w, h) = (sides.0.0, sides.1.0);
    let marks = Marks { page: [w, h] };
    let mut g = Group::new("words", "What it is");
    let quarter = |k: f64| INSET + (w - 2.0 * INSET) * k;
    let line = |g: &mut Group, message: &str, at: (f64, f64)| {
        let room = (w - 2.0 * INSET) / 2.0 - 30.0;
        let size = 2.8f64.min(2.8 * room / letters::width(Face::Regular, 2.8, message));
        g.text(&Text::new(message, size).anchor(Anchor::Middle).colour(QUIET), at);
    };
    line(&mut g, "lay film between the discs, flat", (quarter(0.3), h - INSET - 1.0));
    line(&mut g, &format!("scale = \"frame-{}\"", paper.name()), (quarter(0.75), h - INSET - 1.0));
    line(&mut g, "photograph all of it from straight above", (quarter(0.75), INSET - 1.0));
    let bar = size_bar((quarter(0.25) - 25.0, INSET + 1.0), 50.0, false, 1.5);
    g.stroke(bar, Stroke::solid(INK, 0.2));
    line(&mut g, "50 mm: print at 100 %", (quarter(0.25), INSET - 3.0));
    let mut book = Book::new("Page of eight discs");
    let mut c = Content::new();
    c.transform([POINTS as f32, 0.0, 0.0, POINTS as f32, 0.0, 0.0]);
    push_group(&mut c, &discs(&marks.places(), marks.small()));
    push_group(&mut c, &g);
    book.page((w, h), c, &[]);
    book.finish()
}

/// The discs of a page.
fn discs(places: &[[f64; 2]; 8], small: [f64; 2]) -> Group {
    let mut g = Group::new("marks", "Marks");
    let black = Rgb([0; 3]);
    for &at in places {
        g.fill(circle(at, DISC), black);
        let line = Stroke::solid(PAPER, CROSS.1);
        g.stroke(segment((at[0] - CROSS.0, at[1]), (at[0] + CROSS.0, at[1])), line);
        g.stroke(segment((at[0], at[1] - CROSS.0), (at[0], at[1] + CROSS.0)), line);
    }
    g.fill(circle(small, SMALL), black);
    g
}

/// What stands on the printed side, to be read there.
fn words(name: &str, motifs: usize, own: &OwnPrint) -> Group {
    let [w, h] = own.marks.page;
    let mut g = Group::new("words", "What it is");
    let quarter = |k: f64| INSET + (w - 2.0 * INSET) * k;
    let side = if own.mirrored { "mirrored, for the back of clear film" } else { "printed side up" };
    // The small disc stands over one of the upper quarters.
    let (left, right) = if own.mirrored { (0.23, 0.71) } else { (0.29, 0.77) };
    let name = format!("{}: {motifs} motifs", name);
    let size = |message: &str, most: f64| {
        let room = (w - 2.0 * INSET) / 2.0 - 30.0;
        most.min(most * room / letters::width(Face::Regular, most, message))
    };
    g.text(&Text::new(&name, size(&name, 3.4)).anchor(Anchor::Middle), (quarter(left), h - INSET - 1.2));
    g.text(&Text::new(side, size(side, 3.4)).anchor(Anchor::Middle), (quarter(right), h - INSET - 1.2));
    let low = "this bar is 50 mm: print at 100 %";
    g.stroke(size_bar((quarter(0.25) - 25.0, INSET + 1.0), 50.0, false, 1.5), Stroke::solid(INK, 0.2));
    g.text(&Text::new(low, 2.4).anchor(Anchor::Middle), (quarter(0.25), INSET - 3.0));
    let then = "scan it before it is cut, or measure between the discs";
    g.text(&Text::new(then, size(then, 2.6)).anchor(Anchor::Middle), (quarter(0.75), INSET - 1.0));
    g
}
