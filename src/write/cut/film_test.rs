//! Discs that tell what a film takes up: a sheet to cut, and the page by which it is done.
//!
//! Flat film on a ball of curvature K must stretch and shorten by K d^2 / 21.3 of itself under a disc of d across
//! (least energy: 1.5 K b^2 / (3 + 2 q^2 + 3 q^4) with q = 1, b = d / 2). The largest disc that lies flat so tells
//! what the film takes up, and that holds on every other wall. A ball is the one curved thing whose curvature a
//! tape tells: K = (2 pi / girth)^2.
//!
//! Imports: base, read::job, write::ink, write::cut::{own_print, sheet}.

use crate::base::units::Mm;
use crate::read::job::{Paper, taken_up};
use crate::write::cut::own_print::circle;
use crate::write::cut::sheet::{NOT_TO_CUT, hairline};
use crate::write::ink::drawing::{Group, INK, QUIET, Stroke, TINT, Text, rectangle, segment, size_bar};
use crate::write::ink::letters::{self, Anchor, Face, broken};
use crate::write::ink::pdf::{Book, POINTS, push_group};
use crate::write::ink::svg::{self, Flip};
use pdf_writer::Content;
use svg_crate::node::Node;

use ::svg as svg_crate;

/// Discs, largest first, mm across: neighbours differ by 5, that is by a fifth to two thirds of what is taken up.
pub const DISCS: [f64; 10] = [60.0, 55.0, 50.0, 45.0, 40.0, 35.0, 30.0, 25.0, 20.0, 15.0];
/// The sheet they are cut of, mm: any film of that size will do.
pub const SHEET: (f64, f64) = (200.0, 150.0);
/// From the sheet's edge, and between discs.
const MARGIN: f64 = 6.0;
const APART: f64 = 3.0;
/// Girths of balls in the page's table: what a tape reads round a ball for children's hands up to one for baskets.
const BALLS: [f64; 5] = [400.0, 500.0, 600.0, 700.0, 800.0];
/// Room at the page's edge.
const EDGE: f64 = 12.0;

/// Middles of the discs on the sheet, y up: rows, each disc in the first that has room.
fn places() -> Vec<[f64; 2]> {
    let mut rows: Vec<(f64, f64, f64)> = Vec::new();
    let mut top = SHEET.1 - MARGIN;
    let put = |d: &f64| {
        let fits = |r: &&mut (f64, f64, f64)| r.2 + d <= SHEET.0 - MARGIN;
        let (row_top, high, left) = match rows.iter_mut().find(fits) {
            Some(row) => {
                let at = *row;
                row.2 += d + APART;
                at
            }
            None => {
                rows.push((top, *d, MARGIN + d + APART));
                let at = (top, *d, MARGIN);
                top -= d + APART;
                at
            }
        };
        [left + d / 2.0, row_top - high / 2.0]
    };
    DISCS.iter().map(put).collect()
}

/// The sheet: a group a disc, the largest first, and a bar that shows the size.
pub fn cut() -> Vec<u8> {
    let flip = Flip::of(SHEET.1);
    let message =
        "Ten discs, 15 to 60 mm across. Cut all groups but the last; its bar shows whether the size is true.";
    let mut root = svg::page(SHEET.0, SHEET.1, "Film test: discs to lay on a ball", message);
    for (at, across) in places().into_iter().zip(DISCS) {
        let mut g = svg::group(&format!("disc-{across}"), &format!("{across} mm across"));
        g.append(hairline(svg::data([&circle(at, across)], flip), "#000000"));
        root.append(g);
    }
    let mut aside = svg::group(NOT_TO_CUT, "50 mm: not to cut");
    let bar = size_bar((SHEET.0 - MARGIN - 50.0, MARGIN), 50.0, false, 1.5);
    aside.append(hairline(svg::data([&bar], flip), "#2060ff"));
    root.append(aside);
    svg::bytes(&root)
}

/// The page: what to do, the discs at 1:1 with their sizes, and what each says on balls of several girths.
pub fn page(paper: Paper) -> Vec<u8> {
    let sides = paper.sides();
    let (w, h) = (sides.0.0.min(sides.1.0), sides.0.0.max(sides.1.0));
    let mut g = Group::new("page", "Film test");
    let low = words(&mut g, (w, h));
    let low = table(&mut g, (w, low - 4.0));
    layout(&mut g, (w, low - 5.0));
    let mut book = Book::new("Film test: what a film takes up");
    let mut c = Content::new();
    c.transform([POINTS as f32, 0.0, 0.0, POINTS as f32, 0.0, 0.0]);
    push_group(&mut c, &g);
    book.page((w, h), c, &[]);
    book.finish()
}

/// What to do, from the top; where it ends.
fn words(g: &mut Group, (w, h): (f64, f64)) -> f64 {
    let mut y = h - EDGE - 4.0;
    g.text(&Text::new("Film test: what a film takes up before it wrinkles", 5.0).bold(), (EDGE, y));
    y -= 7.0;
    let steps = [
        "1. Cut the discs of film-test.svg from the film, and weed them. Blades are sharp: cut away from the hand.",
        "2. Take a smooth, hard ball, clean and free of grease, and read its girth with the tape at its widest.",
        "3. Lay the discs on it as you lay film on a cup: middle first, rubbed down outwards, with as much heat and water as you will use there.",
        "4. Wait a day. Note the largest disc whose edge lies flat all round: no fold, no lifted place. Do it twice if you can; the smaller counts.",
        "5. Write both into the film of your job: flat-up-to = 45 and ball = 690, say. The table shows what they come to, in percent.",
    ];
    for step in steps {
        for line in broken(Face::Regular, 3.2, step, w - 2.0 * EDGE) {
            g.text(&Text::new(&line, 3.2), (EDGE, y));
            y -= 4.4;
        }
        y -= 0.8;
    }
    y
}

/// What a disc that lies flat says; where the table ends.
fn table(g: &mut Group, (w, top): (f64, f64)) -> f64 {
    const ROW: f64 = 4.3;
    let column = (w - 2.0 * EDGE) / (BALLS.len() + 1) as f64;
    let at = |i: usize| EDGE + column * (i as f64 + 0.5);
    let mut y = top - ROW;
    let head = |g: &mut Group, text: &str, i: usize, y: f64| {
        g.text(&Text::new(text, 3.0).bold().anchor(Anchor::Middle), (at(i), y));
    };
    head(g, "disc", 0, y);
    BALLS.iter().enumerate().for_each(|(i, b)| head(g, &format!("ball {b:.0} mm round"), i + 1, y));
    for (k, across) in DISCS.iter().rev().enumerate() {
        y -= ROW;
        if k % 2 == 0 {
            g.fill(rectangle(EDGE, y - 1.2, w - EDGE, y + ROW - 1.2), TINT);
        }
        g.text(&Text::new(&format!("{across:.0} mm"), 3.0).anchor(Anchor::Middle), (at(0), y));
        for (i, ball) in BALLS.iter().enumerate() {
            let percent = format!("{:.2} %", taken_up(Mm(*across), Mm(*ball)) * 100.0);
            g.text(&Text::new(&percent, 3.0).anchor(Anchor::Middle), (at(i + 1), y));
        }
    }
    g.stroke(segment((EDGE, top - ROW - 1.2), (w - EDGE, top - ROW - 1.2)), Stroke::solid(INK, 0.2));
    y - 1.2
}

/// The discs as they lie on the sheet, with their sizes.
fn layout(g: &mut Group, (w, top): (f64, f64)) {
    let places = places();
    let lowest = places.iter().zip(DISCS).map(|(p, d)| p[1] - d / 2.0).fold(SHEET.1, f64::min);
    let (left, down) = ((w - SHEET.0) / 2.0, top - (SHEET.1 - MARGIN));
    for ([x, y], across) in places.into_iter().zip(DISCS) {
        let at = [x + left, y + down];
        g.stroke(circle(at, across), Stroke::solid(INK, 0.2));
        let text = format!("{across:.0}");
        let size = 4.0;
        let high = letters::ink(Face::Bold, size, &text)[3];
        g.text(&Text::new(&text, size).bold().anchor(Anchor::Middle), (at[0], at[1] - high / 2.0));
    }
    let foot = (w / 2.0 - 25.0, lowest + down - 6.0);
    g.stroke(size_bar(foot, 50.0, false, 1.5), Stroke::solid(INK, 0.2));
    let note = "this bar is 50 mm: print at 100 %; the discs lie as on the sheet";
    g.text(&Text::new(note, 2.6).anchor(Anchor::Middle).colour(QUIET), (w / 2.0, foot.1 - 4.0));
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::write::ink::drawing::Drawing;

    /// All discs on the sheet, none nearer than said; and all of a page stands on the smallest paper.
    #[test]
    fn discs_lie_apart_on_the_sheet() {
        let all: Vec<_> = places().into_iter().zip(DISCS).collect();
        assert_eq!(all.len(), 10);
        for (i, ([x, y], d)) in all.iter().enumerate() {
            let r = d / 2.0;
            assert!(
                x - r >= MARGIN
                    && x + r <= SHEET.0 - MARGIN
                    && y - r >= MARGIN + 4.0
                    && y + r <= SHEET.1 - MARGIN
            );
            for ([u, v], e) in &all[i + 1..] {
                assert!(libm::hypot(x - u, y - v) >= r + e / 2.0 + APART - 1e-9);
            }
        }
        for paper in [Paper::A4, Paper::Letter] {
            let sides = paper.sides();
            let mut g = Group::new("page", "");
            let low = words(&mut g, (sides.0.0, sides.1.0));
            let low = table(&mut g, (sides.0.0, low - 4.0));
            layout(&mut g, (sides.0.0, low - 5.0));
            let (width, height) = (sides.0.0, sides.1.0);
            let drawn =
                Drawing { title: String::new(), message: String::new(), width, height, groups: vec![g] };
            let b = drawn.ink();
            assert!(b.min.x > 5.0 && b.min.y > 5.0, "{paper:?} {b:?}");
            assert!(b.max.x < width - 5.0 && b.max.y < height - 5.0, "{paper:?} {b:?}");
        }
    }
}
