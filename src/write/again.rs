//! The files of pieces cut anew: cut file and weeding picture of each sheet, what is left over, and the list of
//! where each piece goes.
//!
//! Imports: base, make::{film, verify}, write, write::{ink, cut, sheets, read_back}.

use super::KitFile;
use super::cut::offcut::{self, OffcutFile};
use super::cut::{sheet as cut_sheet, weeding};
use super::ink::decimal::rounded;
use super::ink::html::escaped;
use super::ink::svg;
use super::read_back;
use super::sheets::finish::page::{Column, Table, page};
use crate::base::diag::Diagnostic;
use crate::base::tolerance::FLATTEN;
use crate::make::film::Placed;
use crate::make::film::stock::Source;
use crate::make::verify::{CutPlan, VerifiedRecut};
use serde::Serialize;

/// Path of the list.
pub const LIST: &str = "again.html";
/// Path of the record: what was cut anew from what, for the next run.
pub const RECORD: &str = "again.json";

#[derive(Serialize)]
struct Record<'a> {
    title: &'a str,
    pieces: Vec<u32>,
    sheets: Vec<SheetPart<'a>>,
}

#[derive(Serialize)]
struct SheetPart<'a> {
    name: String,
    film: &'a str,
    taken_from: &'a str,
    leftovers: Vec<LeftPart<'a>>,
}

#[derive(Serialize)]
struct LeftPart<'a> {
    file: &'a str,
    rings_mm: Vec<Vec<[f64; 2]>>,
}

/// All files, each SVG read back.
///
/// # Errors
/// An SVG that, read back, is not what was laid out.
pub fn files(plan: &VerifiedRecut) -> Result<Vec<KitFile>, Vec<Diagnostic>> {
    let sheets = &plan.recut().sheets;
    let (mut files, mut faults) = (Vec::new(), Vec::new());
    let mut take = |path: String, bytes: Vec<u8>, check: Result<(), Diagnostic>| {
        faults.extend(check.err());
        files.push(KitFile { path, bytes });
    };
    for sheet in sheets {
        let (path, bytes) = (cut_sheet::file_name(plan, sheet), cut_sheet::file(plan, sheet));
        let check = read_back::cut_file(plan, sheet, &path, &bytes);
        take(path, bytes, check);
        let picture = weeding::drawing(plan, sheet);
        let (path, bytes) = (weeding::file_name(plan, sheet), svg::picture(&picture));
        let check = read_back::weeding_file(plan, sheet, &path, &picture, &bytes);
        take(path, bytes, check);
    }
    let left = offcut::of_sheets(plan, sheets, &|_| true);
    for l in &left {
        let bytes = l.bytes(plan);
        let check = read_back::leftover_file(l, &bytes);
        take(l.file.clone(), bytes, check);
    }
    take(LIST.to_owned(), list(plan).into_bytes(), Ok(()));
    match record(plan, &left) {
        Ok(bytes) => take(RECORD.to_owned(), bytes, Ok(())),
        Err(e) => faults.push(read_back::differs(RECORD, format!("cannot be written: {e}"))),
    }
    if faults.is_empty() { Ok(files) } else { Err(faults) }
}

fn record(plan: &VerifiedRecut, left: &[OffcutFile<'_>]) -> Result<Vec<u8>, serde_json::Error> {
    let ring = |r: &Vec<[f64; 2]>| r.iter().map(|p| p.map(|v| rounded(v, 3))).collect();
    let part = |l: &'_ OffcutFile<'_>| l.shape.flat(FLATTEN).rings.iter().map(ring).collect();
    let recut = plan.recut();
    let sheets = recut.sheets.iter().map(|s| SheetPart {
        name: plan.sheet_name(s),
        film: &plan.films()[s.film.0].name,
        taken_from: taken_from(&s.stock.source),
        leftovers: left
            .iter()
            .filter(|l| std::ptr::eq(l.sheet, s))
            .map(|l| LeftPart { file: &l.file, rings_mm: part(l) })
            .collect(),
    });
    let record = Record {
        title: plan.title(),
        pieces: recut.pieces.iter().map(|p| p.number).collect(),
        sheets: sheets.collect(),
    };
    let mut bytes = serde_json::to_vec_pretty(&record)?;
    bytes.push(b'\n');
    Ok(bytes)
}

fn taken_from(source: &Source) -> &str {
    match source {
        Source::Bought => "a fresh sheet",
        Source::InStock => "a sheet in stock",
        Source::Offcut(file) => file,
    }
}

/// Where each piece goes: the kit's own rows.
fn list(plan: &VerifiedRecut) -> String {
    let recut = plan.recut();
    let mut body = format!("<h1>{}: cut again</h1>\n", escaped(plan.title()));
    body += "<p>The outlines are those of the first cut, and so are numbers and places. The map of the kit \
        holds.</p>\n";
    let mut sheets = Table::new("Sheets", &[("sheet", Column::Words), ("taken from", Column::Words)]);
    for s in &recut.sheets {
        sheets.row(&[plan.sheet_name(s).as_str(), taken_from(&s.stock.source)]);
    }
    body += &sheets.done();
    let mut table = Table::new(
        "Pieces, and where they go",
        &[
            ("no.", Column::Number),
            ("name", Column::Words),
            ("film", Column::Words),
            ("first cut from", Column::Words),
            ("cut again from", Column::Words),
            ("zone", Column::Words),
            ("up, mm", Column::Number),
            ("round, mm", Column::Number),
            ("turn, deg", Column::Number),
        ],
    );
    for p in &recut.records {
        let here = |q: &Placed| (q.number, q.cup) == (p.number, p.cup);
        let now = recut.sheets.iter().find(|s| s.placed.iter().any(here));
        let place = |v: f64| if p.on_base { "-".to_owned() } else { format!("{v:.1}") };
        table.row(&[
            if p.cup > 0 { format!("{}/{}", p.cup, p.number) } else { p.number.to_string() },
            p.name.clone(),
            plan.films()[p.film.0].name.clone(),
            p.sheet.clone(),
            now.map(|s| plan.sheet_name(s)).unwrap_or_default(),
            p.zone.clone(),
            place(p.up.0),
            place(p.round.0),
            place(p.turn),
        ]);
    }
    body += &table.done();
    page(&format!("{}: cut again", plan.title()), &body)
}
