//! What is seen, as a text: one line a thing, in a fixed order, with fixed decimals; and its fingerprint.
//!
//! Imports: base, read::job, make::{piece, verify}.

use crate::make::piece::{Kind, Piece};
use crate::make::verify::Verified;
use crate::read::job::Sheen;
use crate::read::job::decals::{FontName, Shows};
use sha2::{Digest, Sha256};

/// First line of the text.
const HEAD: &str = "what is seen, 1";
/// Between the fields of a line.
pub(super) const FIELD: &str = " | ";

/// SHA-256 of a text.
pub fn fingerprint(text: &str) -> [u8; 32] {
    Sha256::digest(text.as_bytes()).into()
}

/// SHA-256 of bytes in hexadecimal digits.
pub fn sum(bytes: &[u8]) -> String {
    hex(&Sha256::digest(bytes).into())
}

/// In hexadecimal digits.
pub fn hex(fingerprint: &[u8; 32]) -> String {
    fingerprint.iter().map(|b| format!("{b:02x}")).collect()
}

/// The text that is hashed: one line a thing, in a fixed order, with fixed decimals.
pub fn seen(plan: &Verified) -> String {
    let (job, cup) = (plan.job(), plan.cup());
    let mut out = format!("{HEAD}\ntitle{FIELD}{}\n", one_line(&job.title));
    out += &format!(
        "cup{FIELD}rim {:.1} mm round{FIELD}base {:.1} mm round{FIELD}wall {:.1} mm{FIELD}{}\n",
        plain(cup.measured_girth(cup.wall()).0),
        plain(cup.measured_girth(crate::base::units::Mm::ZERO).0),
        cup.wall().0,
        job.print.cup
    );
    out += &format!("no film below the rim for{FIELD}{:.1} mm\n", job.cup.keep_clear.rim.0);
    for band in job.finish.iter().flat_map(|f| &f.bands) {
        let colour = band.colour.map_or_else(|| "-".to_owned(), |c| c.to_string());
        out += &format!(
            "band{FIELD}{}{FIELD}from {:.1} mm{FIELD}to {:.1} mm{FIELD}{colour}\n",
            one_line(&band.name),
            band.from.0,
            band.to.0
        );
    }
    let used = |i: usize| plan.pieces().iter().any(|p| p.film.0 == i);
    for (_, film) in job.films.iter().enumerate().filter(|(i, _)| used(*i)) {
        let sheen = match film.sheen {
            Sheen::Gloss => "gloss",
            Sheen::Matt => "matt",
            Sheen::Metallic => "metallic",
            Sheen::Pearl => "pearl",
        };
        out += &format!("film{FIELD}{}{FIELD}{}{FIELD}{sheen}\n", film.name, film.colour);
    }
    let own = |p: &&Piece| !is_own(plan, p);
    let mut lines: Vec<String> = plan.pieces().iter().filter(own).map(|p| line(plan, p)).collect();
    // By kind, then by place: numbers are not seen.
    lines.sort();
    lines.iter().for_each(|l| out += l);
    let wall = hex(&fingerprint(&out));
    for cup in 1..=plan.cups() {
        out += &format!("cup {cup}{FIELD}{}{FIELD}wall {wall}\n", says(plan, cup));
    }
    out
}

/// Words of the job on one line.
fn one_line(text: &str) -> String {
    text.chars().map(|c| if c.is_control() || c == '|' { ' ' } else { c }).collect()
}

/// Without a minus before nothing.
fn plain(v: f64) -> f64 {
    let v = (v * 10.0).round() / 10.0;
    if v == 0.0 { 0.0 } else { v }
}

/// Does each cup have another one of it?
fn is_own(plan: &Verified, p: &Piece) -> bool {
    plan.named().and_then(|n| n.own.first()).is_some_and(|own| own.iter().any(|q| q.number == p.number))
}

fn line(plan: &Verified, p: &Piece) -> String {
    let kind = match p.kind {
        Kind::Motif { .. } => "motif",
        Kind::Spot { .. } | Kind::Tint { .. } => "spot",
        Kind::Layer { .. } => "layer",
        Kind::Base => "base",
        Kind::Lot { .. } => "panel",
    };
    let b = p.outline.bounds();
    let film = &plan.job().films[p.film.0].name;
    let place = match p.kind {
        Kind::Base => "on the base".to_owned(),
        _ => format!(
            "{:.1} mm up, {:.1} degrees round, turned {:.1}",
            plain(p.wall.slant.0),
            plain(p.wall.azimuth.wrapped().deg()),
            plain(p.wall.turn.wrapped().deg())
        ),
    };
    format!(
        "{kind}{FIELD}{}{FIELD}{film}{FIELD}{:.1} x {:.1} mm{FIELD}{place}\n",
        one_line(&p.name),
        b.width().0,
        b.height().0
    )
}

/// What a cup says of its own.
fn says(plan: &Verified, cup: u32) -> String {
    let Some(named) = plan.named() else { return "as the wall".to_owned() };
    let row = named.cups[cup as usize - 1];
    let mut out = format!("\"{}\"", one_line(&named.rows[row].text));
    for ((i, decal), (_, size)) in named.decals[row].iter().zip(&named.sizes) {
        let font = match &plan.job().decals[*i].shows {
            Shows::Words { font: FontName::Family(f) | FontName::File(f), .. } => one_line(f),
            Shows::Drawing { .. } => String::new(),
        };
        let b = decal.silhouette().bounds();
        let films: Vec<&str> = decal
            .layers
            .iter()
            .flat_map(|l| &l.films)
            .map(|(f, _)| plan.job().films[f.0].name.as_str())
            .collect();
        // Width and area hang on the outlines: another version of the font is another size.
        out += &format!(
            "{FIELD}in {font}, capitals {:.1} mm, {:.1} x {:.1} mm, {:.0} mm2, {}, {:.1} mm up, {:.1} degrees round",
            size.rows[row].0,
            b.width().0,
            b.height().0,
            decal.layers.last().map_or(0.0, |l| l.solid.area().0),
            films.join(" under "),
            decal.wall.slant.0,
            plain(decal.wall.azimuth.wrapped().deg())
        );
    }
    out
}
