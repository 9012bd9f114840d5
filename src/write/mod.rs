//! A verified plan to bytes; y flips and decimals live here.
//!
//! Every file of a kit is made in memory, read back if it is an SVG, and handed out; [`kit()`] holds them all,
//! [`kit_with_progress`] none. Papers are
//! [`ink::drawing::Drawing`]s first (millimetres, y up), so that SVG, PDF and pictures show the same marks.
//! This is the home of the crates svg, resvg, png, base64 and pdf-writer.
//!
//! Imports: base, read::job, make::{sheet, plan, verify}.

pub mod ink;
pub mod cut;
pub mod papers;
pub mod template;
pub mod map;
pub mod view;
pub mod sheets;
pub mod proof;
mod laying;
pub mod manifest;
pub mod pieces;
pub mod read_back;
mod desk;
pub mod kit;
pub mod again;
#[cfg(test)]
pub(crate) mod sample;
#[cfg(test)]
mod tests;

use crate::base::diag::{Code, Diagnostic, KeyPath};
use crate::make::sheet::stock::Stocked;
use crate::make::verify::Verified;
use crate::read::job::{Job, Paper};
use ink::{letters, pdf};
use std::sync::Arc;

/// The faces lack letters of a text.
pub const LETTERS: Code = Code {
    id: "write/unknown-letters",
    title: "a text has letters that the printed papers cannot show",
    explain: "Templates, maps and pictures draw text as outlines from a face that is part of the program \
        and holds Latin letters. Other letters are drawn as a lozenge with a question mark. The job sheet \
        and the manifest carry the text as it is.",
};

/// All codes of this module.
pub const CODES: &[&Code] = &[&read_back::DIFFERS, &LETTERS, &proof::record::NOT_APPROVED];

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
    pub diagnostics: Vec<Diagnostic>,
}

/// What is known of a file that was handed out.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ListedFile {
    /// Path within the kit, with `/`.
    pub path: String,
    /// How many bytes it has.
    pub bytes: usize,
}

/// A whole kit, its files handed out.
#[derive(Clone, Debug)]
pub struct ListedKit {
    /// In order of writing; no two share a path.
    pub files: Vec<ListedFile>,
    /// Notes and warnings of the writers.
    pub diagnostics: Vec<Diagnostic>,
}

/// All files of a plan.
///
/// # Errors
/// Faults with code `write/read-back-differs` when a written SVG, read back by an independent parser, is not
/// the plan.
pub fn kit(plan: &Verified) -> Result<Kit, Vec<Diagnostic>> {
    let files = kit::gathered(&|take| kit::run(plan, None, take))?;
    Ok(Kit { files, diagnostics: texts(plan) })
}

/// What a kit shows of the cup whatever it wears, made ahead: by itself a part of what [`kit_with_progress`]
/// makes.
pub struct Prepared(view::bare::Bare);

impl Prepared {
    /// For a job's kit; none where its cup is at fault.
    pub fn of(job: &Job) -> Option<Prepared> {
        let (job, cup) = crate::make::plan::cup(job).filter(|(_, cup)| cup.is_cone())?;
        pdf::ready();
        Some(Prepared(view::bare::Bare::of(&job, &cup)))
    }
    fn bare(&self) -> &view::bare::Bare {
        &self.0
    }
}

/// Like [`kit()`], but hands each file to `take` once it is verified (any thread, any order) and keeps none: of a
/// long list of names only the files in the making are in memory. The files are valid only if the call returns
/// `Ok`. What was prepared is taken if it is this plan's.
///
/// # Errors
/// Those of [`kit()`].
pub fn kit_with_progress(
    plan: &Verified,
    prepared: Option<&Prepared>,
    take: &(dyn Fn(KitFile) + Sync),
) -> Result<ListedKit, Vec<Diagnostic>> {
    kit::run(plan, prepared, take).map(|files| ListedKit { files, diagnostics: texts(plan) })
}

/// The wrap template alone, as SVG and as PDF for each paper of the job.
///
/// # Errors
/// Those of [`kit()`].
pub fn template(plan: &Verified) -> Result<Vec<KitFile>, Vec<Diagnostic>> {
    kit::template(plan)
}

/// Pictures of the film sheets, in the order of the plan's sheets: what a kit holds under `weeding/`.
///
/// # Errors
/// Those of [`kit()`].
pub fn sheet_pictures(plan: &Verified) -> Result<Vec<KitFile>, Vec<Diagnostic>> {
    kit::some(plan, &|row| row.file.starts_with("weeding/"))
}

/// Path of the numbered picture of a printed sheet.
pub fn survey_file(name: &str) -> String {
    format!("{name}.svg")
}

/// The page of eight discs of a paper, to photograph film on.
pub fn frame_page(paper: Paper) -> KitFile {
    KitFile { path: format!("frame-{}.pdf", paper.name()), bytes: cut::own_print::frame(paper) }
}

/// What tells how much a film takes up: discs to cut, and a page for each paper.
pub fn film_test() -> Vec<KitFile> {
    let page = |paper: Paper| KitFile {
        path: format!("film-test-{}.pdf", paper.name()),
        bytes: cut::film_test::page(paper),
    };
    let discs = KitFile { path: "film-test.svg".to_owned(), bytes: cut::film_test::cut() };
    vec![discs, page(Paper::A4), page(Paper::Letter)]
}

/// Numbered pictures of printed sheets, to choose by.
///
/// # Errors
/// What the PNG encoder says.
pub fn surveys(sheets: &[(String, Arc<Stocked>)]) -> Result<Vec<KitFile>, Vec<Diagnostic>> {
    let one = |(name, stock): &(String, Arc<Stocked>)| {
        let path = survey_file(name);
        match map::printed::survey(name, stock) {
            Ok(d) => Ok(KitFile { path, bytes: ink::svg::drawing(&d) }),
            Err(e) => Err(vec![read_back::differs(&path, format!("cannot be written: {e}"))]),
        }
    };
    let prints = sheets.iter().filter_map(|(name, s)| Some((name, s, s.own.as_ref()?)));
    let print = |(name, stock, own): (&String, &Arc<Stocked>, &_)| KitFile {
        path: format!("{name}-print.pdf"),
        bytes: cut::own_print::pdf(name, stock, own),
    };
    let mut files = sheets.iter().map(one).collect::<Result<Vec<KitFile>, _>>()?;
    files.extend(prints.map(print));
    Ok(files)
}

/// Texts of the job that the faces cannot show in full.
fn texts(plan: &Verified) -> Vec<Diagnostic> {
    let title = [("title", KeyPath::of("title"), plan.job().title.as_str())];
    let mut out = Vec::new();
    for (what, at, text) in title {
        let lacking: String = letters::unknown(text).into_iter().collect();
        if !lacking.is_empty() {
            let message = format!("the {what} has letters that papers and pictures cannot show: {lacking}");
            out.push(Diagnostic::note(&LETTERS, at, message).help("use Latin letters, or leave it as it is"));
        }
    }
    out
}
