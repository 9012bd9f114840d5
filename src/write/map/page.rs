//! The map as a page for the bench: a zone at a time with its table, readable on a telephone and in print.
//!
//! Imports: base, outline, read::job, make::verify, write::{ink, papers}, write::map::{zones, wall}.

use super::zones::{Shown, Window};
use crate::base::frame::{Page, Point};
use crate::base::units::Mm;
use crate::make::verify::Verified;
use crate::outline::{BezPath, Bounds, Region};
use crate::read::job::FilmId;
use crate::write::ink::drawing::{Group, INK, PAPER, QUIET, Stroke, segment};
use crate::write::ink::film_mark;
use crate::write::ink::html::escaped;
use crate::write::ink::numbers::Placed;
use crate::write::ink::svg::{Flip, data, elements};
use crate::write::papers::{Grid, page};
use rayon::prelude::*;
use std::fmt::Write as _;

/// Path within the kit.
pub const FILE: &str = "map/map.html";
/// Chords of what only stands beside.
const COARSE: Mm = Mm(0.15);

/// The page.
pub fn html(plan: &Verified, zones: &[Window<'_>]) -> Vec<u8> {
    let title = format!("{}: where each piece goes", plan.job().title);
    let mut out = page::head(&title).replace("</head>", &(style(plan) + "</head>"));
    let _ = write!(
        out,
        "<header><h1>{}</h1>\n<p>{}</p></header>\n",
        escaped(&title),
        escaped(crate::write::map::wall::NOTE)
    );
    out.push_str("<nav aria-label=\"Zones\">\n<ul>\n");
    for w in zones {
        let _ = writeln!(out, "<li><a href=\"#{}\">{}</a></li>", id(w), escaped(&w.name()));
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
    let zone = w.zone.name().replace(", ", "-");
    match &w.pass {
        Some(pass) => format!("step-{}-{zone}", pass.order + 1),
        None => zone,
    }
}

/// The films with their letters and hatches; the hatches are defined here for the whole page.
fn films(plan: &Verified) -> String {
    let mut out = String::from("<section aria-label=\"Films\" class=\"zone\">\n");
    let tall = plan.job().films.len() as f64 * 8.0;
    let _ = writeln!(
        out,
        "<svg class=\"key\" viewBox=\"0 0 100 {tall}\" role=\"img\" aria-label=\"Letter and hatch of each \
            film\">"
    );
    for (i, f) in plan.job().films.iter().enumerate() {
        let id = FilmId(i);
        let y = 8.0 * i as f64;
        let corners = [Point::mm(0.5, tall - y - 7.0), Point::mm(12.5, tall - y - 1.0)];
        let swatch = Region::<Page>::rectangle(Bounds { min: corners[0], max: corners[1] });
        let _ = writeln!(
            out,
            "<rect x=\"0.5\" y=\"{:.1}\" width=\"12\" height=\"6\" class=\"edge film-{i}\"/>",
            y + 1.0
        );
        out.push_str(&hatch(id, &film_mark::hatch(id, &swatch.flat(COARSE), None), Flip::of(tall)));
        let _ = writeln!(
            out,
            "<text x=\"15\" y=\"{:.1}\" font-size=\"4.4\">{}: {}</text>",
            y + 5.6,
            film_mark::letter(id),
            escaped(&f.name)
        );
    }
    out.push_str("</svg>\n</section>\n");
    out
}

/// Lines of hatch as one path.
fn hatch(film: FilmId, lines: &BezPath, flip: Flip) -> String {
    format!("<path class=\"hatch film-{}\" d=\"{}\"/>\n", film.0, data([lines], flip))
}

/// How hatch and outline of each film are drawn.
fn style(plan: &Verified) -> String {
    let mut out =
        String::from("<style>\n.hatch { fill: none; }\n.edge { fill: none; stroke-width: 0.35; }\n");
    for i in 0..plan.job().films.len() {
        let paint = film_mark::paint(plan.job(), FilmId(i));
        let s = film_mark::hatch_in(paint, FilmId(i));
        let dash: Vec<String> = s.dash.lengths().iter().map(f64::to_string).collect();
        let dash = if dash.is_empty() { "none".to_owned() } else { dash.join(" ") };
        let _ = writeln!(
            out,
            ".edge.film-{i} {{ stroke: {}; fill: {}; }}\n\
             .hatch.film-{i} {{ stroke: {}; stroke-width: {}; stroke-dasharray: {dash}; }}",
            paint.line,
            paint.fill.map_or_else(|| "none".to_owned(), |f| f.to_string()),
            s.colour,
            s.width * 1.6
        );
    }
    out + "</style>\n"
}

/// The number of a piece, live text; or the line that leads to it, or a dot.
fn number(out: &mut String, s: &Shown<'_>, flip: Flip, height: f64) {
    let mut lines = Group::new("", "");
    let Some(label) = s.screen.label() else {
        s.screen.draw(&mut lines, false);
        out.push_str(&marks(&lines, flip));
        return;
    };
    if let Placed::Beside { line, .. } = &s.screen {
        lines.stroke(segment(line[0], line[1]), Stroke::solid(INK, 0.15));
        out.push_str(&marks(&lines, flip));
    }
    let ((x, y, size), (c, si)) = (label.place(), label.turn());
    let y = height - y;
    let turned = match si {
        0.0 => String::new(),
        _ => format!(" transform=\"rotate({:.0} {x:.2} {y:.2})\"", -libm::atan2(si, c).to_degrees()),
    };
    let _ = writeln!(
        out,
        "<text x=\"{x:.2}\" y=\"{y:.2}\"{turned} font-size=\"{size:.2}\" font-weight=\"bold\" \
            text-anchor=\"middle\" fill=\"{}\" stroke=\"{}\" stroke-width=\"{:.2}\" \
            paint-order=\"stroke\">{}</text>",
        label.ink(),
        if label.ink() == PAPER { INK } else { PAPER },
        size * 0.28,
        s.piece.number
    );
}

/// Marks without a group round them.
fn marks(g: &Group, flip: Flip) -> String {
    let all = g.marks.iter().map(|m| {
        let path = data(std::slice::from_ref(&m.path), flip);
        match m.stroke {
            Some(s) => format!(
                "<path d=\"{path}\" fill=\"none\" stroke=\"{}\" stroke-width=\"{}\"/>\n",
                s.colour, s.width
            ),
            None => format!("<path d=\"{path}\" fill=\"{}\"/>\n", m.fill.unwrap_or(INK)),
        }
    });
    all.collect()
}

fn zone(plan: &Verified, w: &Window<'_>) -> String {
    let flip = Flip::of(w.size.1);
    let count = if w.rows.len() == 1 { "1 piece".to_owned() } else { format!("{} pieces", w.rows.len()) };
    let mut out = format!(
        "<section class=\"zone\" aria-labelledby=\"{0}\">\n<h2 id=\"{0}\">{1}: {count}</h2>\n\
         <section class=\"look\" tabindex=\"0\" aria-label=\"Picture of the zone {1}\">\n\
         <svg viewBox=\"0 0 {2:.2} {3:.2}\" role=\"img\" aria-label=\"Map of the zone {1}\" \
         font-family=\"Noto Sans, sans-serif\">\n",
        id(w),
        escaped(&w.name()),
        w.size.0,
        w.size.1
    );
    out.push_str(&elements(&w.ground(plan), flip));
    w.before().iter().for_each(|g| out.push_str(&elements(g, flip)));
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
        // Film covers what lies under it; a style rule of its film says the same where it has a colour.
        let plain = film_mark::paint(plan.job(), film).fill.is_none();
        let covers = match w.fill(None).filter(|_| plain) {
            Some(paper) => format!(" style=\"fill:{paper}\""),
            None => String::new(),
        };
        let _ = writeln!(
            out,
            "<path class=\"edge film-{}\"{covers} d=\"{}\"/>",
            film.0,
            data(s.outline.contours(), flip)
        );
        out.push_str(&hatch(film, &s.hatch, flip));
    }
    for s in &w.own {
        number(&mut out, s, flip, w.size.1);
    }
    out.push_str("</svg>\n</section>\n");
    let mut grid = Grid::new(
        &format!("{}: measures", w.name()),
        &[">no.", "film", "name", "sheet", ">up, mm", ">up, in", ">round, mm", ">round, in", ">turn"],
    );
    for r in &w.rows {
        let [no, film, sheet, up, up_in, round, round_in, turn] = crate::write::map::wall::cells(r);
        grid.row([no, film, r.name.clone(), sheet, up, up_in, round, round_in, format!("{turn}\u{b0}")]);
    }
    page::table(&mut out, &grid);
    out.push_str("</section>\n");
    out
}
