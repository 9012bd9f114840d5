//! A verified plan to bytes; y flips and decimals live here.
//!
//! [`kit`] makes all files of a kit in memory and reads every SVG back before it hands them out. Papers are
//! [`drawing::Drawing`]s first (millimetres, y up), so that SVG, PDF and pictures show the same marks.
//! This is the home of the crates svg, resvg, png, base64 and pdf-writer.
//!
//! Imports: base, read, make.

pub mod decimal;
pub mod letters;
pub mod drawing;
pub mod svg;
pub mod png;
pub mod html;
pub mod pdf;
pub mod film_mark;
pub mod cut;
pub mod leftover;
pub mod weeding;
pub mod band;
pub mod wrap;
pub mod base_template;
pub mod tiles;
pub mod rows;
pub mod label;
pub mod zones;
pub mod map;
pub mod decal;
pub mod paper;
pub mod map_page;
pub mod view;
pub mod raster;
pub mod job_sheet;
pub mod cards;
pub mod finish;
pub mod manifest;
pub mod read_back;
#[cfg(test)]
pub(crate) mod sample;
#[cfg(test)]
mod tests;

use crate::base::diag::{Code, Diagnostic, KeyPath};
use crate::base::frame::Art;
use crate::make::film::SheetLayout;
use crate::make::verify::Verified;
use crate::read::job::{Job, Paper};
use label::Roomiest;
use rayon::prelude::*;

/// The faces lack letters of a text.
pub const LETTERS: Code = Code {
    id: "write/unknown-letters",
    title: "a text has letters that the printed papers cannot show",
    explain: "Templates, maps and pictures draw text as outlines from a face that is part of the program and holds \
              Latin letters. Other letters are drawn as a lozenge with a question mark. The job sheet and the \
              manifest carry the text as it is.",
};

/// All codes of this module.
pub const CODES: &[&Code] = &[&read_back::DIFFERS, &LETTERS];

/// One file of a kit.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct KitFile {
    /// Path within the kit, with `/`.
    pub path: String,
    /// Content.
    pub bytes: Vec<u8>,
}

/// A whole kit.
#[derive(Clone, Debug)]
pub struct Kit {
    /// In order of writing; no two share a path.
    pub files: Vec<KitFile>,
    /// Notes and warnings of the writers.
    pub found: Vec<Diagnostic>,
}

/// All files of a plan.
///
/// # Errors
/// Faults with code `write/read-back-differs` when a written SVG, read back by an independent parser, is not the plan.
pub fn kit(plan: &Verified) -> Result<Kit, Vec<Diagnostic>> {
    kit_told(plan, None, &|_| {})
}

/// What a kit shows of the cup whatever it wears, made ahead: by itself a part of what [`kit_told`] makes.
pub struct Prepared(view::bare::Bare);

impl Prepared {
    /// For a job's kit; none where its cup is at fault.
    pub fn of(job: &Job) -> Option<Prepared> {
        let (job, cup) = crate::make::plan::cup(job)?;
        pdf::ready();
        Some(Prepared(view::bare::Bare::of(&job, &cup.surface)))
    }
}

/// The same, and tells of each file as soon as it is made and read back: from any thread and in any order. The files told
/// of are a kit only if all goes well. What was prepared is taken if it is this plan's.
///
/// # Errors
/// Those of [`kit`].
pub fn kit_told(
    plan: &Verified,
    prepared: Option<&Prepared>,
    tell: &(dyn Fn(&KitFile) + Sync),
) -> Result<Kit, Vec<Diagnostic>> {
    let press = Press { plan, prepared, tell };
    let rows = rows::rows(plan);
    let places = label::places(plan);
    // Papers do not depend on each other: threads change the time, not the bytes. Pictures come first: what they make
    // hangs on each other longest, and the rest fills the gaps.
    let (shown, ((map, decals), (sheets, (tiles, (left, left_files))))) = rayon::join(
        || press.shown(&rows, &places),
        || {
            rayon::join(
                || rayon::join(|| press.map_files(&rows, &places), || press.decal_files(&rows)),
                || {
                    let rest = || rayon::join(|| press.template_tiles(), || press.leftovers());
                    rayon::join(|| press.sheets_and_template(&places), rest)
                },
            )
        },
    );
    let mut faults = Vec::new();
    let mut files = Vec::new();
    let papers = tiles.into_iter().chain(map).chain(decals).chain(shown.pictures);
    for (file, check) in sheets.into_iter().chain(left_files).chain(papers) {
        faults.extend(check.err());
        files.push(file);
    }
    files.extend(shown.finish);
    let paths: Vec<&str> = files.iter().map(|f| f.path.as_str()).collect();
    match manifest::file(plan, &rows, &shown.views, &left, &paths) {
        Ok(bytes) => {
            let file = KitFile { path: manifest::FILE.to_owned(), bytes };
            tell(&file);
            files.push(file);
        }
        Err(e) => faults.push(read_back::differs(manifest::FILE, format!("cannot be written: {e}"))),
    }
    if faults.is_empty() { Ok(Kit { files, found: texts(plan) }) } else { Err(faults) }
}

/// A file and what reading it back gave.
type Checked = (KitFile, Result<(), Diagnostic>);

/// What shows the finished cup.
#[derive(Default)]
struct Shown {
    pictures: Vec<Checked>,
    /// The finishing plan's files.
    finish: Vec<KitFile>,
    views: Vec<view::ViewPart>,
}

/// The stills that a customer is shown, each with what it shows.
fn finished(views: &[view::View]) -> Vec<(&'static str, &[u8])> {
    let shown = [
        ("front", "The finished cup from the front"),
        ("right", "from its right side"),
        ("back", "from the back"),
        ("left", "from its left side"),
    ];
    let still = |(name, says)| views.iter().find(|v| v.name == name).map(|v| (says, v.png.as_slice()));
    shown.into_iter().filter_map(still).collect()
}

/// Makes files and tells of them.
struct Press<'a> {
    plan: &'a Verified,
    prepared: Option<&'a Prepared>,
    tell: &'a (dyn Fn(&KitFile) + Sync),
}

impl Press<'_> {
    fn checked(&self, path: impl Into<String>, bytes: Vec<u8>, check: Result<(), Diagnostic>) -> Checked {
        let file = KitFile { path: path.into(), bytes };
        if check.is_ok() {
            (self.tell)(&file);
        }
        (file, check)
    }
    fn file(&self, path: impl Into<String>, bytes: Vec<u8>) -> Checked {
        self.checked(path, bytes, Ok(()))
    }
    /// What is left over, and its files.
    fn leftovers(&self) -> (Vec<leftover::Leftover<'_>>, Vec<Checked>) {
        let left = leftover::all(self.plan);
        let file = |l: &leftover::Leftover<'_>| {
            let bytes = l.bytes(self.plan);
            let check = read_back::leftover_file(l, &bytes);
            self.checked(l.file.clone(), bytes, check)
        };
        let files = left.iter().map(file).collect();
        (left, files)
    }

    fn sheets_and_template(&self, places: &[Roomiest<Art>]) -> Vec<Checked> {
        let plan = self.plan;
        let sheet = |sheet: &SheetLayout| {
            let cut = || {
                let (path, bytes) = (cut::file_name(plan, sheet), cut::file(plan, sheet));
                let check = read_back::cut_file(plan, sheet, &path, &bytes);
                self.checked(path, bytes, check)
            };
            let shown = || {
                let picture = weeding::drawing(plan, sheet, places);
                let (path, bytes) = (weeding::file_name(plan, sheet), svg::drawing(&picture));
                let check = read_back::weeding_file(plan, sheet, &path, &picture, &bytes);
                self.checked(path, bytes, check)
            };
            <[Checked; 2]>::from(rayon::join(cut, shown))
        };
        let wrap = || {
            let template = wrap::drawing(plan);
            let bytes = svg::drawing(&template);
            let check = read_back::wrap_file(plan, template.width, template.height, &bytes);
            self.checked(wrap::FILE, bytes, check)
        };
        let base = || {
            let disc = plan.finish.base.as_ref()?;
            let (template, at) = base_template::drawing(plan, disc);
            let bytes = svg::drawing(&template);
            let check = read_back::base_file(disc, at, template.width, template.height, &bytes);
            Some(self.checked(base_template::FILE, bytes, check))
        };
        let sheets = || plan.sheets.par_iter().map(sheet).collect::<Vec<_>>();
        let (sheets, (wrap, base)) = rayon::join(sheets, || rayon::join(wrap, base));
        sheets.into_iter().flatten().chain([wrap]).chain(base).collect()
    }

    fn template_tiles(&self) -> Vec<Checked> {
        let plan = self.plan;
        let band = band::Band::new(&plan.cup, plan.job.cup.lap, crate::base::frame::Point::ORIGIN);
        let body = tiles::Body::new(&wrap::body(plan, &band));
        let print = &plan.job.print;
        let tile = |paper: &Paper| {
            let path = format!("template/wrap-{}.pdf", paper.name());
            self.file(path, tiles::pdf(&body, *paper, print))
        };
        print.papers.iter().map(tile).collect()
    }

    fn map_files(&self, rows: &[rows::Row], places: &[Roomiest<Art>]) -> Vec<Checked> {
        let plan = self.plan;
        let body = map::body(plan, places);
        let svg = || self.map_svg(rows, &body);
        let zones = zones::windows(plan, rows, places);
        let pdfs = || {
            let (tiled, leaves) =
                rayon::join(|| tiles::Body::new(&body.0), || map::leaves(plan, places, &zones));
            let page = |paper: &Paper| {
                let path = format!("map/map-{}.pdf", paper.name());
                self.file(path, map::pdf(plan, rows, &leaves, &tiled, *paper))
            };
            plan.job.print.papers.par_iter().map(page).collect::<Vec<_>>()
        };
        let page = || self.file(map_page::FILE, map_page::html(plan, &zones));
        let (svg, (page, pdfs)) = rayon::join(svg, || rayon::join(page, pdfs));
        [svg, page].into_iter().chain(pdfs).collect()
    }

    fn map_svg(&self, rows: &[rows::Row], body: &(drawing::Drawing, band::Band)) -> Checked {
        let plan = self.plan;
        let (map, band) = map::drawing(plan, rows, body);
        let bytes = svg::drawing(&map);
        let check = read_back::map_file(plan, &band, map.width, map.height, &bytes);
        self.checked(map::FILE, bytes, check)
    }

    /// Pictures, job sheet, cards and what shows the finished cup, and what the manifest says of the views.
    fn shown(&self, rows: &[rows::Row], places: &[Roomiest<Art>]) -> Shown {
        self.try_shown(rows, places).unwrap_or_else(|e| {
            let fault = read_back::differs("view", format!("cannot be written: {e}"));
            let file = KitFile { path: "view".to_owned(), bytes: Vec::new() };
            Shown { pictures: vec![(file, Err(fault))], ..Shown::default() }
        })
    }
    fn try_shown(&self, rows: &[rows::Row], places: &[Roomiest<Art>]) -> Result<Shown, view::Trouble> {
        let plan = self.plan;
        let bare = self.prepared.map(|p| &p.0);
        let (p, drawn) = rayon::join(|| view::pictures(plan, bare), || job_sheet::Drawn::new(plan, places));
        let (view::Pictures { views, turn, page: turning }, drawn) = (p?, drawn?);
        let papers = &plan.job.print.papers;
        let sheet = job_sheet::paper(plan, rows, drawn, &views);
        let page = || self.file(job_sheet::FILE, paper::page::html(&sheet, ""));
        let pdf = |paper: &Paper| {
            let (w, h) = paper.sides();
            self.file(format!("job-sheet-{}.pdf", paper.name()), paper::print::pdf(&sheet, (w.0, h.0)))
        };
        let cards = |paper: &Paper| self.file(cards::file_name(*paper), cards::pdf(plan, *paper));
        let finish = || {
            let own = finish::files(plan, &finished(&views));
            own.iter().for_each(self.tell);
            own
        };
        let pdfs = || papers.par_iter().map(pdf).collect::<Vec<Checked>>();
        let cards = || papers.iter().map(cards).collect::<Vec<Checked>>();
        // The largest files go to the disk while others are made.
        let turned = || [self.file(view::TURN, turn), self.file(view::PAGE, turning)];
        let ((page, pdfs), ((cards, finish), turned)) =
            rayon::join(|| rayon::join(page, pdfs), || rayon::join(|| rayon::join(cards, finish), turned));
        let parts = views.iter().map(view::View::part).collect();
        let mut pictures = vec![page];
        pictures.extend(pdfs);
        pictures.extend(cards);
        pictures.extend(views.into_iter().map(|v| self.file(v.file(), v.png)));
        pictures.extend(turned);
        Ok(Shown { pictures, finish, views: parts })
    }

    fn decal_files(&self, rows: &[rows::Row]) -> Vec<Checked> {
        let plan = self.plan;
        let one = |i: usize| {
            let paper = decal::drawing(plan, i, rows);
            let (path, bytes) = (decal::file_name(i), svg::drawing(&paper));
            let check = read_back::decal_file(plan, i, &path, &paper, &bytes);
            self.checked(path, bytes, check)
        };
        (0..plan.decals.len()).map(one).collect()
    }
}

/// Texts of the job that the faces cannot show in full.
fn texts(plan: &Verified) -> Vec<Diagnostic> {
    let title = [("title", KeyPath::of("title"), plan.job.title.as_str())];
    let mut out = Vec::new();
    for (what, at, text) in title {
        let lacking: String = letters::unknown(text).into_iter().collect();
        if !lacking.is_empty() {
            let says = format!("the {what} has letters that papers and pictures cannot show: {lacking}");
            out.push(Diagnostic::note(&LETTERS, at, says).mend("use Latin letters, or leave it as it is"));
        }
    }
    out
}
