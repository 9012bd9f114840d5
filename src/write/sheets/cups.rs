//! The cups of a list of names: what each says, as lettered and in plain words, how large, and from which sheets.
//!
//! Imports: base, outline, make::{decal, verify}, write::ink, write::sheets::finish.

use super::finish::page::{Column, page};
use crate::base::frame::{Art, Page, Point, Rigid};
use crate::make::decal::Decal;
use crate::make::verify::{CutPlan, Verified};
use crate::outline::Bounds;
use crate::write::ink::decimal::mm;
use crate::write::ink::html::escaped;
use crate::write::ink::svg::{self, Flip};

/// Path of the page within the kit.
pub const FILE: &str = "cups/cups.html";

/// The first cup of each row of the list, from 1.
pub fn firsts(plan: &Verified) -> Vec<u32> {
    let Some(named) = plan.named() else { return Vec::new() };
    let first = |row: usize| named.cups.iter().position(|r| *r == row).map(|i| i as u32 + 1);
    (0..named.rows.len()).filter_map(first).collect()
}

/// Path of the paper of a decal of the row that a cup is the first of.
pub fn decal_file(cup: u32, decal: usize, several: bool) -> String {
    if several { format!("cups/cup-{cup}-decal-{}.svg", decal + 1) } else { format!("cups/cup-{cup}.svg") }
}

/// The page.
pub fn html(plan: &Verified) -> Vec<u8> {
    let Some(named) = plan.named() else { return Vec::new() };
    let mut body = format!(
        "<h1>{}: what each cup says</h1>\n<p>{} cups from {} rows of the list. The wall round the names is the same on \
            all of them: its map is the kit's. Numbers of the name's pieces are the same on every cup; on sheets the \
            cup stands before them, 7/2 is piece 2 of cup 7.</p>\n",
        escaped(plan.title()),
        named.cups.len(),
        named.rows.len()
    );
    for (i, size) in &named.sizes {
        body += &format!(
            "<p>Decal {}: capitals {:.1} mm high, the same baseline on every cup. <code>cap-height = {:.1}</code> in the \
                job makes later cups match.</p>\n",
            i + 1,
            size.cap.0,
            size.cap.0
        );
    }
    body += "<div class=\"wide\" role=\"group\" aria-label=\"Cups\" tabindex=\"0\">\n<table>\n<thead><tr>";
    let heads = [
        ("cup", Column::Number),
        ("line", Column::Number),
        ("says", Column::Words),
        ("as lettered, at half its size", Column::Words),
        ("capitals, mm", Column::Number),
        ("name from", Column::Words),
        ("all sheets", Column::Words),
        ("done", Column::Words),
    ];
    for (head, column) in heads {
        let class = if column == Column::Number { " class=\"n\"" } else { "" };
        body += &format!("<th scope=\"col\"{class}>{head}</th>");
    }
    body += "</tr></thead>\n<tbody>\n";
    for (cup, row) in (1u32..).zip(&named.cups) {
        let of_row = &named.rows[*row];
        let pictures: String = named.decals[*row].iter().map(|(_, d)| picture(plan, d, 0.5)).collect();
        let sizes: Vec<String> = named.sizes.iter().map(|(_, s)| format!("{:.1}", s.rows[*row].0)).collect();
        let (own, all) = sheets(plan, cup);
        body += &format!(
            "<tr><th scope=\"row\" class=\"n\">{cup}</th><td class=\"n\">{}</td><td class=\"word\" style=\"white-space:nowrap\">{}</td><td>{pictures}</td>\
                <td class=\"n\">{}</td><td>{}</td><td>{}</td><td><span class=\"tick\"></span></td></tr>\n",
            of_row.line,
            escaped(&of_row.text),
            sizes.join(", "),
            escaped(&own.join(", ")),
            escaped(&all.join(", "))
        );
    }
    body += "</tbody>\n</table>\n</div>\n";
    page(&format!("{}: cups", plan.title()), &body).into_bytes()
}

/// Sheets that hold what is a cup's own, and all that hold something for it.
fn sheets(plan: &Verified, cup: u32) -> (Vec<String>, Vec<String>) {
    let (mut own, mut all) = (Vec::new(), Vec::new());
    let numbers: Vec<u32> = plan
        .named()
        .and_then(|n| n.own.get(cup as usize - 1))
        .map_or_else(Vec::new, |o| o.iter().map(|p| p.number).collect());
    for s in plan.sheets() {
        let here: Vec<u32> = s
            .placed
            .iter()
            .filter(|p| !p.spare && (p.cup == 0 || s.cups_of(p).any(|c| c == cup)))
            .map(|p| p.number)
            .collect();
        let name = plan.sheet_name(s);
        if here.iter().any(|n| numbers.contains(n)) {
            own.push(name.clone());
        }
        if !here.is_empty() {
            all.push(name);
        }
    }
    (own, all)
}

/// A decal in the colours of its films, base first.
pub fn picture(plan: &Verified, decal: &Decal, scale: f64) -> String {
    let b: Bounds<Art> = decal.silhouette().bounds();
    let home: Rigid<Art, Page> = Rigid::from_parts(1.0, 0.0, Point::mm(-b.min.x, -b.min.y));
    let (w, h) = (b.width().0, b.height().0);
    let mut out = format!(
        "<svg viewBox=\"0 0 {} {}\" style=\"width:{}mm;height:{}mm;max-height:none\" role=\"img\" aria-label=\"{}\">",
        mm(w),
        mm(h),
        mm(w * scale),
        mm(h * scale),
        escaped(&decal.title)
    );
    for (film, region) in decal.layers.iter().flat_map(|l| &l.films) {
        let d = svg::data(region.moved(&home).contours(), Flip::of(h));
        out += &format!("<path d=\"{d}\" fill=\"{}\"/>", plan.films()[film.0].colour);
    }
    out + "</svg>"
}
