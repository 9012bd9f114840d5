//! One table of what a kit holds, and the run that follows it.
//!
//! A [`Row`] names a file, says when it is there and what it is, and points to its writer; the writer reads
//! back what it wrote, by a parser that had no part in writing. Order, progress, the list of the manifest,
//! `.frusta-kit` and README's table follow from [`TABLE`]. A new writer is a file of its own in its room, a
//! function of `write::desk` and one row here.
//!
//! Imports: base, make::verify, write, write::{map, view, sheets, manifest, read_back, desk}.

use super::desk::{self, Desk, Made, Parts, Shown};
use super::map::rows;
use super::sheets::index;
use super::{KitFile, ListedFile, Prepared, manifest, read_back, view};
use crate::base::diag::Diagnostic;
use crate::make::verify::Verified;
use rayon::prelude::*;
use std::collections::BTreeMap;
use std::sync::{Mutex, PoisonError};

/// One kind of file of a kit.
pub struct Row {
    /// Its path, with what changes in angle brackets.
    pub file: &'static str,
    /// When it is there.
    pub when: When,
    /// What it is, for README.
    pub holds: &'static str,
    writer: Writer,
    /// Rows of one group stand item by item beside each other: sheet 1 to cut, sheet 1 to weed, sheet 2 ...
    group: u8,
}

/// When a file is part of a kit.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum When {
    /// In every kit.
    Always,
    /// One for each thing of a kind, perhaps none.
    Each(&'static str),
    /// If the job has it.
    If(&'static str),
}

/// How a kind of file is made.
enum Writer {
    /// From the plan.
    Plain(fn(&Desk<'_>, &Parts<'_>) -> Vec<Made>),
    /// From the pictures of the finished cup, too.
    Shown(fn(&Desk<'_>, &Shown) -> Vec<Made>),
    /// From the list of all other files.
    Last,
}

/// What a kit holds, in the order of its files.
pub const TABLE: &[Row] = &[
    Row {
        file: "cut/<film>-<n>.svg",
        when: When::Each("film sheet"),
        holds: "one film sheet each: closed paths in cut order, one group a piece with its number as id, \
            true millimetres; the check bars lie in a group marked *do-not-cut*",
        writer: Writer::Plain(desk::cut_files),
        group: 0,
    },
    Row {
        file: "weeding/<film>-<n>.svg",
        when: When::Each("film sheet"),
        holds: "a picture of each sheet: each piece with its number, weeding aids, lengths and times; not \
            to be cut",
        writer: Writer::Plain(desk::weeding_files),
        group: 0,
    },
    Row {
        file: "template/wrap.svg",
        when: When::Always,
        holds: "the developed wall at 1:1: seam, front, quarter lines, height rings, keep-clear bands",
        writer: Writer::Plain(desk::wrap_file),
        group: 1,
    },
    Row {
        file: "template/base.svg",
        when: When::If("a disc for the base"),
        holds: "the disc for the base at 1:1",
        writer: Writer::Plain(desk::base_file),
        group: 2,
    },
    Row {
        file: "leftovers/<film>-<n><letter>.svg",
        when: When::Each("usable rest of a sheet"),
        holds: "what is left over of a sheet, at its own size: the next job names it and it is used first",
        writer: Writer::Plain(desk::offcut_files),
        group: 3,
    },
    Row {
        file: "sheet/<sheet>.svg",
        when: When::Each("printed sheet"),
        holds: "a printed sheet at 1:1: its picture in grey, the cut outlines with the pieces' numbers, the \
            order of the cuts; what stays is hatched",
        writer: Writer::Plain(desk::sheet_maps),
        group: 4,
    },
    Row {
        file: "sheet/<sheet>-<paper>.pdf",
        when: When::Each("printed sheet and paper"),
        holds: "the same in tiles, the list on a page of its own",
        writer: Writer::Plain(desk::sheet_tiles),
        group: 5,
    },
    Row {
        file: "print/<sheet>.pdf",
        when: When::Each("sheet that the maker prints"),
        holds: "the page to print at 1:1: its motifs with their bleed, and the marks that correct the cut file",
        writer: Writer::Plain(desk::own_prints),
        group: 5,
    },
    Row {
        file: "leftovers/<sheet>.toml",
        when: When::Each("printed sheet"),
        holds: "the motifs of a printed sheet that are gone after this job: the next one names it",
        writer: Writer::Plain(desk::sheet_leftovers),
        group: 5,
    },
    Row {
        file: "template/wrap-<paper>.pdf",
        when: When::Each("paper"),
        holds: "the template in tiles, with crosses to join them and bars of 100 mm",
        writer: Writer::Plain(desk::wrap_tiles),
        group: 6,
    },
    Row {
        file: "panels/<film>-<n>.svg",
        when: When::Each("panel"),
        holds: "a panel at 1:1 as it lies on the wall: pieces with their numbers, marks to trace onto the carrier, \
            height rings, where it goes; of gathered films `gathered-<n>`, with which film lies where and when it is \
            taken up",
        writer: Writer::Plain(desk::panel_files),
        group: 6,
    },
    Row {
        file: "panels/panels-<paper>.pdf",
        when: When::If("panels"),
        holds: "the same in print",
        writer: Writer::Plain(desk::panel_tiles),
        group: 6,
    },
    Row {
        file: "map/map.svg",
        when: When::Always,
        holds: "where each numbered piece goes, at 1:1, with a table: sheet, mm and inch round from the \
            front line at that height, up from the base, turn",
        writer: Writer::Plain(desk::map_svg),
        group: 7,
    },
    Row {
        file: "map/map.html",
        when: When::Always,
        holds: "the map zone by zone, to search and to tick",
        writer: Writer::Plain(desk::map_html),
        group: 8,
    },
    Row {
        file: "map/map-<paper>.pdf",
        when: When::Each("paper"),
        holds: "the map in tiles and zone by zone, with its table",
        writer: Writer::Plain(desk::map_pdfs),
        group: 9,
    },
    Row {
        file: "view/decal-<n>.svg",
        when: When::Each("decal"),
        holds: "each decal at true size: its layers with registration keys and hinge line, and how they go \
            on",
        writer: Writer::Plain(desk::decal_files),
        group: 10,
    },
    Row {
        file: "cups/cups.html",
        when: When::If("a list of names"),
        holds: "what each cup says, as lettered and in plain words, its size, and the sheets that its pieces lie on",
        writer: Writer::Plain(desk::cups_page),
        group: 11,
    },
    Row {
        file: "cups/cup-<n>.svg",
        when: When::Each("row of a list of names"),
        holds: "the name of that cup, the first of its row, at true size: layers, registration keys, how they go on",
        writer: Writer::Plain(desk::cup_decals),
        group: 12,
    },
    Row {
        file: "proof/proof.html",
        when: When::If("an order"),
        holds: "the customer's proof: pictures, every cup's words in a plain face and as lettered, a code, a place to \
            sign",
        writer: Writer::Shown(desk::proof_page),
        group: 13,
    },
    Row {
        file: "proof/proof-<paper>.pdf",
        when: When::Each("paper of an order"),
        holds: "the same in print",
        writer: Writer::Shown(desk::proof_pdfs),
        group: 14,
    },
    Row {
        file: "proof/seen.txt",
        when: When::If("an order"),
        holds: "what the proof's code stands for, line by line: any program that knows SHA-256 checks it",
        writer: Writer::Plain(desk::proof_text),
        group: 15,
    },
    Row {
        file: "job-sheet.html",
        when: When::Always,
        holds: "readings and what they mean, films and sheets with pictures and weeding notes, what to buy, \
            findings with places, steps to tick with their cautions, all settings",
        writer: Writer::Shown(desk::job_sheet_page),
        group: 16,
    },
    Row {
        file: "job-sheet-<paper>.pdf",
        when: When::Each("paper"),
        holds: "the same in print",
        writer: Writer::Shown(desk::job_sheet_pdfs),
        group: 17,
    },
    Row {
        file: "cards/care-and-label-<paper>.pdf",
        when: When::Each("paper"),
        holds: "care cards and batch labels to cut apart",
        writer: Writer::Shown(desk::card_files),
        group: 18,
    },
    Row {
        file: "view/<side>.png",
        when: When::Each("side"),
        holds: "the finished cup in its films' colours: five stills",
        writer: Writer::Shown(desk::stills),
        group: 19,
    },
    Row {
        file: "view/turn.png",
        when: When::Always,
        holds: "an animated turn",
        writer: Writer::Shown(desk::turn),
        group: 20,
    },
    Row {
        file: "view/turn.html",
        when: When::Always,
        holds: "a page on which the cup is turned by hand (one file, no network)",
        writer: Writer::Shown(desk::turn_page),
        group: 21,
    },
    Row {
        file: "finish/calendar.ics",
        when: When::If("a start"),
        holds: "the steps as calendar events",
        writer: Writer::Shown(desk::calendar_file),
        group: 22,
    },
    Row {
        file: "finish/quote.html",
        when: When::If("prices"),
        holds: "the customer's quote with a place to approve the spelling",
        writer: Writer::Shown(desk::quote_file),
        group: 23,
    },
    Row {
        file: "finish/maker-sheet.html",
        when: When::Always,
        holds: "what to buy, each coat with its mixing amounts, times and cautions, the calendar, the \
            account, and what every rate stands on",
        writer: Writer::Shown(desk::maker_sheet_file),
        group: 24,
    },
    Row {
        file: "pieces.json",
        when: When::Always,
        holds: "pieces and sheets to the last digit: with `--keep` the next kit keeps what need not change",
        writer: Writer::Plain(desk::pieces_file),
        group: 25,
    },
    // What a new writer touches: a function (below, or in its room) and a row.
    #[cfg(test)]
    Row {
        file: "trial/pieces.txt",
        when: When::If("a test build"),
        holds: "how many pieces there are",
        writer: Writer::Plain(|desk, _| {
            vec![desk.file(0, "trial/pieces.txt", desk.plan.pieces().len().to_string().into_bytes())]
        }),
        group: 26,
    },
    Row {
        file: index::FILE,
        when: When::Always,
        holds: "what is in the kit, with pictures, in the order in which it is used: open this first",
        writer: Writer::Last,
        group: 26,
    },
    Row {
        file: manifest::FILE,
        when: When::Always,
        holds: "every number, with its unit in its key",
        writer: Writer::Last,
        group: 27,
    },
];

/// Hands out all files of a plan as they are made, and lists them in the order of [`TABLE`]; or says what is wrong
/// with them.
pub(super) fn run(
    plan: &Verified,
    prepared: Option<&Prepared>,
    emit: &(dyn Fn(KitFile) + Sync),
) -> Result<Vec<ListedFile>, Vec<Diagnostic>> {
    let desk = Desk { plan, rows: rows::rows(plan), emit };
    // Papers do not depend on each other: threads change the time, not the bytes. Pictures come first: what
    // they make hangs on each other longest, and the rest fills the gaps.
    let (shown, (plain, parts)) = rayon::join(
        || Shown::of(&desk, prepared).map(|shown| (made_by(|w| w.shown(&desk, &shown)), shown)),
        || {
            let parts = Parts::of(&desk);
            (made_by(|w| w.plain(&desk, &parts)), parts)
        },
    );
    let (of_pictures, views) = match shown {
        Ok((made, shown)) => (made, shown.pictures.views.iter().map(view::View::part).collect()),
        Err(e) => return Err(vec![read_back::differs("view", format!("cannot be written: {e}"))]),
    };
    let mut all: Vec<(u8, usize, usize, Made)> = plain.into_iter().chain(of_pictures).collect();
    all.sort_by_key(|(group, item, row, _)| (*group, *item, *row));
    let (mut files, mut faults) = (Vec::new(), Vec::new());
    for (.., made) in all {
        faults.extend(made.check.err());
        files.push(made.file);
    }
    let views: Vec<view::ViewPart> = views;
    let paths: Vec<&str> = files.iter().map(|f| f.path.as_str()).chain([manifest::FILE]).collect();
    let holds = |kind: &str| TABLE.iter().find(|row| row.file == kind).map_or("", |row| row.holds);
    let first = index::html(plan, &paths, &holds);
    files.push(desk.file(0, index::FILE, first).file);
    let paths: Vec<&str> = files.iter().map(|f| f.path.as_str()).collect();
    match manifest::file(plan, &desk.rows, &views, &parts.offcuts, &paths) {
        Ok(bytes) => files.push(desk.file(0, manifest::FILE, bytes).file),
        Err(e) => faults.push(read_back::differs(manifest::FILE, format!("cannot be written: {e}"))),
    }
    if faults.is_empty() { Ok(files) } else { Err(faults) }
}

/// The files of the wrap template alone.
pub(super) fn template(plan: &Verified) -> Result<Vec<KitFile>, Vec<Diagnostic>> {
    let mut files = some(plan, &|row| row.file.starts_with("template/wrap"))?;
    for f in &mut files {
        f.path = f.path.trim_start_matches("template/").to_owned();
    }
    Ok(files)
}

/// The files of some plain rows.
pub(super) fn some(plan: &Verified, of: &dyn Fn(&Row) -> bool) -> Result<Vec<KitFile>, Vec<Diagnostic>> {
    gathered(&|emit| {
        let desk = Desk { plan, rows: rows::rows(plan), emit };
        let parts = Parts::of(&desk);
        let made = TABLE.iter().filter(|row| of(row)).flat_map(|row| row.writer.plain(&desk, &parts));
        let (mut files, mut faults) = (Vec::new(), Vec::new());
        for m in made {
            faults.extend(m.check.err());
            files.push(m.file);
        }
        if faults.is_empty() { Ok(files) } else { Err(faults) }
    })
}

/// Who takes files, and what a run that hands them out gives back.
type Take<'a> = dyn Fn(KitFile) + Sync + 'a;
type Listed = Result<Vec<ListedFile>, Vec<Diagnostic>>;

/// The files that are handed out, in the order of the list that is given back.
pub(super) fn gathered(make: &dyn Fn(&Take<'_>) -> Listed) -> Result<Vec<KitFile>, Vec<Diagnostic>> {
    let all = Mutex::new(BTreeMap::new());
    let take = |f: KitFile| {
        all.lock().unwrap_or_else(PoisonError::into_inner).insert(f.path, f.bytes);
    };
    let listed = make(&take)?;
    let mut all = all.into_inner().unwrap_or_else(PoisonError::into_inner);
    let file = |f: ListedFile| all.remove(&f.path).map(|bytes| KitFile { path: f.path, bytes });
    Ok(listed.into_iter().filter_map(file).collect())
}

impl Writer {
    fn plain(&self, desk: &Desk<'_>, parts: &Parts<'_>) -> Vec<Made> {
        if let Writer::Plain(write) = self { write(desk, parts) } else { Vec::new() }
    }
    fn shown(&self, desk: &Desk<'_>, shown: &Shown) -> Vec<Made> {
        if let Writer::Shown(write) = self { write(desk, shown) } else { Vec::new() }
    }
}

/// Files of all rows, each with its group, its place in the group and its row.
fn made_by(write: impl Fn(&Writer) -> Vec<Made> + Sync) -> Vec<(u8, usize, usize, Made)> {
    let one = |(i, row): (usize, &Row)| {
        write(&row.writer).into_iter().map(|m| (row.group, m.item, i, m)).collect::<Vec<_>>()
    };
    TABLE.par_iter().enumerate().with_max_len(1).flat_map_iter(one).collect()
}

/// Is all that the plain writers write read back as planned? Without the pictures, which nothing reads back.
#[cfg(test)]
pub(super) fn reads_back(plan: &Verified) -> bool {
    let desk = Desk { plan, rows: rows::rows(plan), emit: &|_| {} };
    let parts = Parts::of(&desk);
    made_by(|w| w.plain(&desk, &parts)).iter().all(|(.., m)| m.check.is_ok())
}
