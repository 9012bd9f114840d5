//! The map as a page for the bench: a zone at a time with its table, readable on a telephone and in print.
//!
//! Imports: base, make, read::job, write::{film_mark, html, map, paper, rows, svg, zones}.

use super::drawing::{Dash, QUIET, Stroke};
use super::film_mark;
use super::html::escaped;
use super::paper::{Grid, page};
use super::rows::Row;
use super::svg::{Flip, data, elements};
use super::zones::{Window, windows};
use crate::base::frame::Art;
use crate::base::units::Mm;
use crate::make::plan::Plan;
use crate::read::job::FilmId;
use crate::write::label::Roomiest;
use rayon::prelude::*;
use std::fmt::Write as _;

/// Path within the kit.
pub const FILE: &str = "map/map.html";
/// Sizes of numbers, mm: a zone fills a narrow screen at about 3.4 pixels a millimetre.
const SIZES: (f64, f64) = (3.0, 4.4);
/// Chords of what only stands beside.
const COARSE: Mm = Mm(0.15);

/// The page.
pub fn html(plan: &Plan, rows: &[Row], places: &[Roomiest<Art>]) -> Vec<u8> {
    let title = format!("{}: where each piece goes", plan.job.title);
    let mut out = page::head(&title);
    let _ =
        write!(out, "<header><h1>{}</h1>\n<p>{}</p></header>\n", escaped(&title), escaped(super::map::NOTE));
    let zones = windows(plan, rows, places);
    out.push_str("<nav aria-label=\"Zones\">\n<ul>\n");
    for w in &zones {
        let _ = writeln!(out, "<li><a href=\"#{}\">{}</a></li>", id(w), w.zone.name());
    }
    out.push_str("</ul>\n</nav>\n<main>\n");
    out.push_str(&films(plan));
    for part in zones.par_iter().map(|w| zone(plan, w)).collect::<Vec<_>>() {
        out.push_str(&part);
    }
    out.push_str("</main>\n</body>\n</html>\n");
    out.into_bytes()
}

fn id(w: &Window<'_>) -> String {
    w.zone.name().replace(", ", "-")
}

/// The films with their letters and hatches; the hatches are defined here for the whole page.
fn films(plan: &Plan) -> String {
    let mut out = String::from("<section aria-label=\"Films\" class=\"zone\">\n");
    let tall = plan.job.films.len() as f64 * 8.0;
    let _ = write!(
        out,
        "<svg class=\"key\" viewBox=\"0 0 100 {tall}\" role=\"img\" aria-label=\"Letter and hatch of each film\">\n<defs>\n"
    );
    for i in 0..plan.job.films.len() {
        out.push_str(&pattern(FilmId(i)));
    }
    out.push_str("</defs>\n");
    for (i, f) in plan.job.films.iter().enumerate() {
        let id = FilmId(i);
        let y = 8.0 * i as f64;
        let _ = writeln!(
            out,
            "<rect x=\"0.5\" y=\"{:.1}\" width=\"12\" height=\"6\" fill=\"url(#film-{i})\" stroke=\"{}\" stroke-width=\"0.3\"/>\n\
             <text x=\"15\" y=\"{:.1}\" font-size=\"4.4\">{}: {}</text>",
            y + 1.0,
            film_mark::colour(id),
            y + 5.6,
            film_mark::letter(id),
            escaped(&f.name)
        );
    }
    out.push_str("</svg>\n</section>\n");
    out
}

/// A film's hatch as a tile that repeats: the same lines as on the printed map.
fn pattern(film: FilmId) -> String {
    let (directions, distance, _) = film_mark::pattern(film);
    let stroke = film_mark::hatch_stroke(film);
    let mut lines = String::new();
    for d in directions {
        // The tile is turned by the first direction; a second lies across it.
        let across = (d - directions[0]).abs() > 1.0;
        let (x, y) = if across { (0.0, distance) } else { (distance, 0.0) };
        let _ = write!(
            lines,
            "<path d=\"M 0 0 L {x} {y}\" stroke=\"{}\" stroke-width=\"{}\"{}/>",
            stroke.colour,
            stroke.width * 2.4,
            dashes(&stroke)
        );
    }
    format!(
        "<pattern id=\"film-{}\" width=\"{distance}\" height=\"{distance}\" patternUnits=\"userSpaceOnUse\" patternTransform=\"rotate({})\">{lines}</pattern>\n",
        film.0, -directions[0]
    )
}

fn dashes(s: &Stroke) -> String {
    if s.dash == Dash::Solid { String::new() } else { " stroke-dasharray=\"0.4 0.25\"".to_owned() }
}

fn zone(plan: &Plan, w: &Window<'_>) -> String {
    let flip = Flip::of(w.size.1);
    let count = if w.rows.len() == 1 { "1 piece".to_owned() } else { format!("{} pieces", w.rows.len()) };
    let mut out = format!(
        "<section class=\"zone\" aria-labelledby=\"{0}\">\n<h2 id=\"{0}\">{1}: {count}</h2>\n\
         <svg viewBox=\"0 0 {2:.2} {3:.2}\" role=\"img\" aria-label=\"Map of the zone {1}\" font-family=\"Noto Sans, sans-serif\">\n",
        id(w),
        w.zone.name(),
        w.size.0,
        w.size.1
    );
    out.push_str(&elements(&w.ground(plan), flip));
    for r in &w.near {
        let flat = r.flat(COARSE).to_region();
        let _ = writeln!(
            out,
            "<path d=\"{}\" fill=\"none\" stroke=\"{QUIET}\" stroke-width=\"0.2\"/>",
            data(flat.contours(), flip)
        );
    }
    for s in &w.own {
        let film = s.piece.film;
        let _ = writeln!(
            out,
            "<path d=\"{}\" fill=\"url(#film-{})\" fill-rule=\"nonzero\" stroke=\"{}\" stroke-width=\"0.35\"/>",
            data(s.outline.contours(), flip),
            film.0,
            film_mark::colour(film)
        );
    }
    for s in &w.own {
        let (x, y, size) = s.label(SIZES).place();
        let _ = writeln!(
            out,
            "<text x=\"{x:.2}\" y=\"{:.2}\" font-size=\"{size:.2}\" font-weight=\"bold\" text-anchor=\"middle\" fill=\"#291915\" stroke=\"#fff\" stroke-width=\"{:.2}\" paint-order=\"stroke\">{}</text>",
            w.size.1 - y,
            size * 0.28,
            s.piece.number
        );
    }
    out.push_str("</svg>\n");
    let mut grid = Grid::new(
        &format!("{}: measures", w.zone.name()),
        &[">no.", "film", "name", "sheet", ">up, mm", ">up, in", ">round, mm", ">round, in", ">turn"],
    );
    for r in &w.rows {
        let [no, film, sheet, up, up_in, round, round_in, turn] = super::map::cells(r);
        grid.row([no, film, r.name.clone(), sheet, up, up_in, round, round_in, format!("{turn}\u{b0}")]);
    }
    page::table(&mut out, &grid);
    out.push_str("</section>\n");
    out
}
