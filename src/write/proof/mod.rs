//! The proof for the customer: what she will see, as a page to sign and as a text whose fingerprint stands on it.
//!
//! What is hashed is `proof/seen.txt` as it is written, SHA-256 (FIPS 180-4): films with their colours, every piece
//! with its place and size, every cup with its words. Sheets, numbers, seeds, prices and stock are not in it: what is
//! not seen never voids an approval.
//!
//! Imports: base, read::job, make::{piece, verify}, write::{ink, papers, sheets, view}.

pub mod changes;
pub mod code;
pub mod record;

use crate::base::frame::{Art, Page, Point, Rigid};
use crate::make::decal::Decal;
use crate::make::piece::{Kind, Piece};
use crate::make::verify::Verified;
use crate::outline::BezPath;
use crate::read::job::Sheen;
use crate::read::job::decals::{FontName, Shows};
use crate::write::ink::drawing::{Drawing, Group};
use crate::write::ink::png::Trouble;
use crate::write::papers::{Block, Figure, Grid, Paper};
use crate::write::sheets::job_sheet::pictures;
use crate::write::view::View;
use sha2::{Digest, Sha256};

/// Path of the page within the kit.
pub const FILE: &str = "proof/proof.html";
/// Path of the text that is hashed.
pub const SEEN: &str = "proof/seen.txt";
/// First line of that text.
const HEAD: &str = "what is seen, 1";
/// Between the fields of a line.
pub(super) const FIELD: &str = " | ";

/// SHA-256 of a text.
pub fn fingerprint(text: &str) -> [u8; 32] {
    Sha256::digest(text.as_bytes()).into()
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

/// A name as it is lettered, in the colours of its films.
fn lettered(plan: &Verified, decal: &Decal, caption: String) -> Result<Option<Figure>, Trouble> {
    let b = decal.silhouette().bounds();
    let home: Rigid<Art, Page> = Rigid::from_parts(1.0, 0.0, Point::mm(1.0 - b.min.x, 1.0 - b.min.y));
    let mut g = Group::new("name", "");
    for (film, region) in decal.layers.iter().flat_map(|l| &l.films) {
        let path: BezPath = region.moved(&home).contours().iter().flat_map(BezPath::iter).collect();
        g.mark(path, Some(plan.job().films[film.0].colour), None);
    }
    let d = Drawing {
        title: decal.title.clone(),
        message: String::new(),
        width: b.width().0 + 2.0,
        height: b.height().0 + 2.0,
        groups: vec![g],
    };
    let wide = (b.width().0 + 2.0).min(84.0);
    pictures::figure(d, PER_MM, format!("{} as it is lettered", decal.title), caption, wide)
}

/// Pixels of a millimetre of a name.
const PER_MM: f64 = 6.0;

/// The page.
///
/// # Errors
/// What the PNG encoder says.
pub fn paper(
    plan: &Verified,
    seen: &str,
    views: &[View],
    view: &dyn Fn(&View) -> Figure,
) -> Result<Paper, Trouble> {
    let code = code::of(&fingerprint(seen));
    let mut blocks = vec![Block::Figures(
        views.iter().filter(|v| matches!(v.name, "front" | "right" | "back" | "left")).map(view).collect(),
    )];
    blocks.push(Block::Text(
        "Colours on a screen or in print are no promise: the films named below are what is cut.".to_owned(),
    ));
    if let Some(named) = plan.named() {
        blocks.push(Block::Section("words".to_owned(), "What each cup says".to_owned()));
        let mut grid = Grid::new(
            "Letter for letter, in a plain face: please read every name",
            &[">cup", ">line of the list", "says", ">capitals, mm"],
        );
        for (cup, row) in (1u32..).zip(&named.cups) {
            let sizes: Vec<String> =
                named.sizes.iter().map(|(_, s)| format!("{:.1}", s.rows[*row].0)).collect();
            grid.row([
                cup.to_string(),
                named.rows[*row].line.to_string(),
                named.rows[*row].text.clone(),
                sizes.join(", "),
            ]);
        }
        blocks.push(Block::Table(grid));
        let mut figures = Vec::new();
        for (row, decals) in named.rows.iter().zip(&named.decals) {
            for (_, decal) in decals {
                figures.extend(lettered(plan, decal, format!("line {}: {}", row.line, row.text))?);
            }
        }
        blocks
            .push(Block::Heading("As they are lettered, at true size where the paper allows it".to_owned()));
        blocks.push(Block::Figures(figures));
    }
    blocks.push(Block::Section("films".to_owned(), "Films and colours".to_owned()));
    let mut grid = Grid::new("Films", &["film", "colour in the pictures", ">pieces on a cup"]);
    for (i, film) in plan.job().films.iter().enumerate() {
        let count = plan.pieces().iter().filter(|p| p.film.0 == i).count();
        if count > 0 {
            grid.row([film.name.clone(), film.colour.to_string(), count.to_string()]);
        }
    }
    blocks.push(Block::Table(grid));
    blocks.push(Block::Section("approval".to_owned(), "Approval".to_owned()));
    blocks.push(Block::Text(format!("{} cups. Code of this proof: {code}", plan.cups())));
    blocks.push(Block::Text(
        "Whoever approves has read every name letter by letter and agrees to what is shown here. Each change that can \
            be seen gives another code and asks for another approval. The code checks typing; it is no signature."
            .to_owned(),
    ));
    blocks.push(Block::Text("Approved: ______________________________    Date: ______________".to_owned()));
    Ok(Paper {
        title: format!("{}: proof", plan.job().title),
        line: format!("{}. Code {code}.", plan.job().date.as_deref().unwrap_or("no date given")),
        blocks,
    })
}
