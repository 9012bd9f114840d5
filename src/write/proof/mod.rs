//! The proof for the customer: what she will see, as a page to sign and as a text whose fingerprint stands on it.
//!
//! What is hashed is `proof/seen.txt` as it is written, SHA-256 (FIPS 180-4): films with their colours, every piece
//! with its place and size, every cup with its words. Sheets, numbers, seeds, prices and stock are not in it: what is
//! not seen never voids an approval.
//!
//! Imports: base, outline, make::{decal, verify}, write::{ink, papers, view, sheets}.

pub mod seen;
pub mod changes;
pub mod code;
pub mod record;

pub use seen::{fingerprint, hex, seen};

use crate::base::frame::{Art, Page, Point, Rigid};
use crate::make::decal::Decal;
use crate::make::verify::Verified;
use crate::outline::BezPath;
use crate::write::ink::drawing::{Drawing, Group};
use crate::write::ink::png::Trouble;
use crate::write::papers::{Block, Figure, Grid, Paper};
use crate::write::sheets::job_sheet::pictures;
use crate::write::view::View;

/// Path of the page within the kit.
pub const FILE: &str = "proof/proof.html";
/// Path of the text that is hashed.
pub const SEEN: &str = "proof/seen.txt";

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
