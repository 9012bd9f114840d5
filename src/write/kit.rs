//! One table of what a kit holds, and the run that follows it.
//!
//! A [`Row`] names a file, says when it is there and what it is, and points to its writer; the writer reads
//! back what it wrote, by a parser that had no part in writing. Order, progress, the list of the manifest,
//! `.frusta-kit` and README's table follow from [`TABLE`]. A new writer is a file of its own in its room, and
//! one row here.
//!
//! Past 600 lines: one table, a row and a function a kind of file.
//!
//! Imports: base, read::job, make::verify, write, write::{ink, cut, papers, template, map, view, sheets, proof,
//! manifest, read_back}.

use super::cut::offcut::{self, OffcutFile};
use super::cut::{sheet as cut_sheet, weeding};
use super::ink::drawing::Drawing;
use super::ink::label::{self, Roomiest};
use super::ink::pdf::Book;
use super::ink::png::Trouble;
use super::ink::svg;
use super::map::rows::{self, Row as PieceRow};
use super::map::zones::Window;
use super::map::{page as map_page, printed, wall as map_wall, zones};
use super::papers::{self, tiles};
use super::sheets::{cards, cups, decal, finish, job_sheet};
use super::template::band::{Band, bands};
use super::template::{base as base_template, wrap};
use super::{KitFile, Prepared, manifest, proof, read_back, view};
use crate::base::diag::Diagnostic;
use crate::base::frame::{Art, Point};
use crate::make::verify::Verified;
use crate::read::job::Paper;
use rayon::prelude::*;

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
        writer: Writer::Plain(cut_files),
        group: 0,
    },
    Row {
        file: "weeding/<film>-<n>.svg",
        when: When::Each("film sheet"),
        holds: "a picture of each sheet: each piece with its number, weeding aids, lengths and times; not \
            to be cut",
        writer: Writer::Plain(weeding_files),
        group: 0,
    },
    Row {
        file: "template/wrap.svg",
        when: When::Always,
        holds: "the developed wall at 1:1: seam, front, quarter lines, height rings, keep-clear bands",
        writer: Writer::Plain(wrap_file),
        group: 1,
    },
    Row {
        file: "template/base.svg",
        when: When::If("a disc for the base"),
        holds: "the disc for the base at 1:1",
        writer: Writer::Plain(base_file),
        group: 2,
    },
    Row {
        file: "leftovers/<film>-<n><letter>.svg",
        when: When::Each("usable rest of a sheet"),
        holds: "what is left over of a sheet, at its own size: the next job names it and it is used first",
        writer: Writer::Plain(offcut_files),
        group: 3,
    },
    Row {
        file: "sheet/<sheet>.svg",
        when: When::Each("printed sheet"),
        holds: "a printed sheet at 1:1: its picture in grey, the cut outlines with the pieces' numbers, the \
            order of the cuts; what stays is hatched",
        writer: Writer::Plain(sheet_maps),
        group: 4,
    },
    Row {
        file: "sheet/<sheet>-<paper>.pdf",
        when: When::Each("printed sheet and paper"),
        holds: "the same in tiles, the list on a page of its own",
        writer: Writer::Plain(sheet_tiles),
        group: 5,
    },
    Row {
        file: "leftovers/<sheet>.toml",
        when: When::Each("printed sheet"),
        holds: "the motifs of a printed sheet that are gone after this job: the next one names it",
        writer: Writer::Plain(sheet_leftovers),
        group: 5,
    },
    Row {
        file: "template/wrap-<paper>.pdf",
        when: When::Each("paper"),
        holds: "the template in tiles, with crosses to join them and bars of 100 mm",
        writer: Writer::Plain(wrap_tiles),
        group: 6,
    },
    Row {
        file: "map/map.svg",
        when: When::Always,
        holds: "where each numbered piece goes, at 1:1, with a table: sheet, mm and inch round from the \
            front line at that height, up from the base, turn",
        writer: Writer::Plain(map_svg),
        group: 7,
    },
    Row {
        file: "map/map.html",
        when: When::Always,
        holds: "the map zone by zone, to search and to tick",
        writer: Writer::Plain(map_html),
        group: 8,
    },
    Row {
        file: "map/map-<paper>.pdf",
        when: When::Each("paper"),
        holds: "the map in tiles and zone by zone, with its table",
        writer: Writer::Plain(map_pdfs),
        group: 9,
    },
    Row {
        file: "view/decal-<n>.svg",
        when: When::Each("decal"),
        holds: "each decal at true size: its layers with registration keys and hinge line, and how they go \
            on",
        writer: Writer::Plain(decal_files),
        group: 10,
    },
    Row {
        file: "cups/cups.html",
        when: When::If("a list of names"),
        holds: "what each cup says, as lettered and in plain words, its size, and the sheets that its pieces lie on",
        writer: Writer::Plain(cups_page),
        group: 11,
    },
    Row {
        file: "cups/cup-<n>.svg",
        when: When::Each("row of a list of names"),
        holds: "the name of that cup, the first of its row, at true size: layers, registration keys, how they go on",
        writer: Writer::Plain(cup_decals),
        group: 12,
    },
    Row {
        file: "proof/proof.html",
        when: When::If("an order"),
        holds: "the customer's proof: pictures, every cup's words in a plain face and as lettered, a code, a place to \
            sign",
        writer: Writer::Shown(proof_page),
        group: 13,
    },
    Row {
        file: "proof/proof-<paper>.pdf",
        when: When::Each("paper of an order"),
        holds: "the same in print",
        writer: Writer::Shown(proof_pdfs),
        group: 14,
    },
    Row {
        file: "proof/seen.txt",
        when: When::If("an order"),
        holds: "what the proof's code stands for, line by line: any program that knows SHA-256 checks it",
        writer: Writer::Plain(proof_text),
        group: 15,
    },
    Row {
        file: "job-sheet.html",
        when: When::Always,
        holds: "readings and what they mean, films and sheets with pictures and weeding notes, what to buy, \
            findings with places, steps to tick with their cautions, all settings",
        writer: Writer::Shown(job_sheet_page),
        group: 16,
    },
    Row {
        file: "job-sheet-<paper>.pdf",
        when: When::Each("paper"),
        holds: "the same in print",
        writer: Writer::Shown(job_sheet_pdfs),
        group: 17,
    },
    Row {
        file: "cards/care-and-label-<paper>.pdf",
        when: When::Each("paper"),
        holds: "care cards and batch labels to cut apart",
        writer: Writer::Shown(card_files),
        group: 18,
    },
    Row {
        file: "view/<side>.png",
        when: When::Each("side"),
        holds: "the finished cup in its films' colours: five stills",
        writer: Writer::Shown(stills),
        group: 19,
    },
    Row {
        file: "view/turn.png",
        when: When::Always,
        holds: "an animated turn",
        writer: Writer::Shown(turn),
        group: 20,
    },
    Row {
        file: "view/turn.html",
        when: When::Always,
        holds: "a page on which the cup is turned by hand (one file, no network)",
        writer: Writer::Shown(turn_page),
        group: 21,
    },
    Row {
        file: "finish/calendar.ics",
        when: When::If("a start"),
        holds: "the steps as calendar events",
        writer: Writer::Shown(calendar_file),
        group: 22,
    },
    Row {
        file: "finish/quote.html",
        when: When::If("prices"),
        holds: "the customer's quote with a place to approve the spelling",
        writer: Writer::Shown(quote_file),
        group: 23,
    },
    Row {
        file: "finish/maker-sheet.html",
        when: When::Always,
        holds: "what to buy, each coat with its mixing amounts, times and cautions, the calendar, the \
            account, and what every rate stands on",
        writer: Writer::Shown(maker_sheet_file),
        group: 24,
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
        group: 25,
    },
    Row {
        file: manifest::FILE,
        when: When::Always,
        holds: "every number, with its unit in its key",
        writer: Writer::Last,
        group: 26,
    },
];

/// A file, its place among those of its row, and what reading it back gave.
struct Made {
    item: usize,
    file: KitFile,
    check: Result<(), Diagnostic>,
}

/// What every writer has before it.
struct Desk<'a> {
    plan: &'a Verified,
    rows: Vec<PieceRow>,
    places: Vec<Roomiest<Art>>,
    emit: &'a (dyn Fn(&KitFile) + Sync),
}

impl Desk<'_> {
    /// A file that was read back, or that nothing reads back; told of if it is right.
    fn made(
        &self,
        item: usize,
        path: impl Into<String>,
        bytes: Vec<u8>,
        check: Result<(), Diagnostic>,
    ) -> Made {
        let file = KitFile { path: path.into(), bytes };
        if check.is_ok() {
            (self.emit)(&file);
        }
        Made { item, file, check }
    }
    fn file(&self, item: usize, path: impl Into<String>, bytes: Vec<u8>) -> Made {
        self.made(item, path, bytes, Ok(()))
    }
    /// One file for each paper of the job.
    fn each_paper(&self, file: impl Fn(Paper) -> (String, Vec<u8>) + Sync) -> Vec<Made> {
        let one = |(i, paper): (usize, &Paper)| {
            let (path, bytes) = file(*paper);
            self.file(i, path, bytes)
        };
        self.plan.job().print.papers.par_iter().enumerate().map(one).collect()
    }
}

/// What several plain writers share.
struct Parts<'a> {
    map: (Drawing, Vec<Band>),
    windows: Vec<Window<'a>>,
    offcuts: Vec<OffcutFile<'a>>,
}

impl<'a> Parts<'a> {
    fn of(desk: &'a Desk<'a>) -> Parts<'a> {
        let map = || map_wall::body(desk.plan, &desk.places);
        let windows = || zones::windows(desk.plan, &desk.rows, &desk.places);
        let (map, (windows, offcuts)) = rayon::join(map, || rayon::join(windows, || offcut::all(desk.plan)));
        Parts { map, windows, offcuts }
    }
}

/// Pictures of the finished cup, and the job sheet, which shows some of them.
struct Shown {
    pictures: view::Pictures,
    job_sheet: papers::Paper,
}

impl Shown {
    fn of(desk: &Desk<'_>, prepared: Option<&Prepared>) -> Result<Shown, view::Trouble> {
        let bare = prepared.map(Prepared::bare);
        let (pictures, drawn) = rayon::join(
            || view::pictures(desk.plan, bare),
            || job_sheet::Drawn::new(desk.plan, &desk.places),
        );
        let pictures = pictures?;
        let job_sheet = job_sheet::paper(desk.plan, &desk.rows, drawn?, &pictures.views);
        Ok(Shown { pictures, job_sheet })
    }

    /// The stills that a customer is shown, each with what it shows.
    fn for_the_customer(&self) -> Vec<(&'static str, &[u8])> {
        let shown = [
            ("front", "The finished cup from the front"),
            ("right", "from its right side"),
            ("back", "from the back"),
            ("left", "from its left side"),
        ];
        let still = |(name, message)| {
            self.pictures.views.iter().find(|v| v.name == name).map(|v| (message, v.png.as_slice()))
        };
        shown.into_iter().filter_map(still).collect()
    }
}

/// All files of a plan, in the order of [`TABLE`], and what is wrong with them.
pub(super) fn run(
    plan: &Verified,
    prepared: Option<&Prepared>,
    emit: &(dyn Fn(&KitFile) + Sync),
) -> Result<Vec<KitFile>, Vec<Diagnostic>> {
    let desk = Desk { plan, rows: rows::rows(plan), places: label::places(plan), emit };
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
    let desk = Desk { plan, rows: rows::rows(plan), places: label::places(plan), emit: &|_| {} };
    let parts = Parts::of(&desk);
    let made = TABLE.iter().filter(|row| of(row)).flat_map(|row| row.writer.plain(&desk, &parts));
    let (mut files, mut faults) = (Vec::new(), Vec::new());
    for m in made {
        faults.extend(m.check.err());
        files.push(m.file);
    }
    if faults.is_empty() { Ok(files) } else { Err(faults) }
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

fn cut_files(desk: &Desk<'_>, _: &Parts<'_>) -> Vec<Made> {
    let plan = desk.plan;
    let one = |(i, sheet)| {
        let (path, bytes) = (cut_sheet::file_name(plan, sheet), cut_sheet::file(plan, sheet));
        let check = read_back::cut_file(plan, sheet, &path, &bytes);
        desk.made(i, path, bytes, check)
    };
    plan.sheets().par_iter().enumerate().map(one).collect()
}

fn weeding_files(desk: &Desk<'_>, _: &Parts<'_>) -> Vec<Made> {
    let plan = desk.plan;
    let one = |(i, sheet)| {
        let picture = weeding::drawing(plan, sheet, &|p| label::place_at(plan, p, &desk.places));
        let (path, bytes) = (weeding::file_name(plan, sheet), svg::drawing(&picture));
        let check = read_back::weeding_file(plan, sheet, &path, &picture, &bytes);
        desk.made(i, path, bytes, check)
    };
    plan.sheets().par_iter().enumerate().map(one).collect()
}

/// Printed sheets that something is cut from.
fn begun<'a>(desk: &'a Desk<'_>) -> impl Iterator<Item = usize> + 'a {
    let job = desk.plan.job();
    (0..job.sheets.len()).filter(|i| desk.plan.sheets().iter().any(|s| s.film == job.film_of_sheet(*i)))
}

fn sheet_maps(desk: &Desk<'_>, _: &Parts<'_>) -> Vec<Made> {
    let one = |i: usize| {
        let path = printed::file_name(desk.plan, i);
        match printed::map(desk.plan, i) {
            Ok(map) => {
                let bytes = svg::drawing(&map);
                let check = read_back::sheet_map(desk.plan, i, &path, &map, &bytes);
                desk.made(i, path, bytes, check)
            }
            Err(e) => {
                let broken = read_back::differs(&path, format!("cannot be written: {e}"));
                desk.made(i, path, Vec::new(), Err(broken))
            }
        }
    };
    begun(desk).map(one).collect()
}

fn sheet_tiles(desk: &Desk<'_>, _: &Parts<'_>) -> Vec<Made> {
    let of = |i: usize| {
        // What went wrong is told by the map itself.
        let Ok(pages) = printed::pages(desk.plan, i) else { return Vec::new() };
        let (bodies, print) = (pages.each_ref().map(tiles::Body::new), &desk.plan.job().print);
        desk.each_paper(|paper| {
            let mut book = Book::new(&pages[0].title);
            bodies.iter().for_each(|b| tiles::tiled(&mut book, b, paper, print));
            (printed::tiles_name(desk.plan, i, paper), book.finish())
        })
    };
    begun(desk).flat_map(of).collect()
}

fn sheet_leftovers(desk: &Desk<'_>, _: &Parts<'_>) -> Vec<Made> {
    let one = |i: usize| {
        desk.file(i, printed::leftover_name(desk.plan, i), printed::leftover(desk.plan, i).into_bytes())
    };
    begun(desk).map(one).collect()
}

fn wrap_file(desk: &Desk<'_>, _: &Parts<'_>) -> Vec<Made> {
    let template = wrap::drawing(desk.plan);
    let bytes = svg::drawing(&template);
    let check = read_back::wrap_file(desk.plan, template.width, template.height, &bytes);
    vec![desk.made(0, wrap::FILE, bytes, check)]
}

fn base_file(desk: &Desk<'_>, _: &Parts<'_>) -> Vec<Made> {
    let Some(disc) = desk.plan.finish().base.as_ref() else { return Vec::new() };
    let (template, at) = base_template::drawing(desk.plan, disc);
    let bytes = svg::drawing(&template);
    let check = read_back::base_file(disc, at, template.width, template.height, &bytes);
    vec![desk.made(0, base_template::FILE, bytes, check)]
}

fn offcut_files(desk: &Desk<'_>, parts: &Parts<'_>) -> Vec<Made> {
    let one = |(i, l): (usize, &OffcutFile<'_>)| {
        let bytes = l.bytes(desk.plan);
        let check = read_back::leftover_file(l, &bytes);
        desk.made(i, l.file.clone(), bytes, check)
    };
    parts.offcuts.iter().enumerate().map(one).collect()
}

fn wrap_tiles(desk: &Desk<'_>, _: &Parts<'_>) -> Vec<Made> {
    let plan = desk.plan;
    let bands = bands(plan.cup(), plan.job().cup.lap, Point::ORIGIN);
    let body = tiles::Body::new(&wrap::body(plan, &bands));
    desk.each_paper(|paper| {
        (format!("template/wrap-{}.pdf", paper.name()), tiles::pdf(&body, paper, &plan.job().print))
    })
}

fn map_svg(desk: &Desk<'_>, parts: &Parts<'_>) -> Vec<Made> {
    let (map, bands) = map_wall::drawing(desk.plan, &desk.rows, &parts.map);
    let bytes = svg::drawing(&map);
    let check = read_back::map_file(desk.plan, &bands, map.width, map.height, &bytes);
    vec![desk.made(0, map_wall::FILE, bytes, check)]
}

fn map_html(desk: &Desk<'_>, parts: &Parts<'_>) -> Vec<Made> {
    vec![desk.file(0, map_page::FILE, map_page::html(desk.plan, &parts.windows))]
}

fn map_pdfs(desk: &Desk<'_>, parts: &Parts<'_>) -> Vec<Made> {
    let (tiled, leaves) = rayon::join(
        || tiles::Body::new(&parts.map.0),
        || map_wall::leaves(desk.plan, &desk.places, &parts.windows),
    );
    desk.each_paper(|paper| {
        let bytes = map_wall::pdf(desk.plan, &desk.rows, &leaves, &tiled, paper);
        (format!("map/map-{}.pdf", paper.name()), bytes)
    })
}

fn decal_files(desk: &Desk<'_>, _: &Parts<'_>) -> Vec<Made> {
    let one = |i: usize| {
        let paper = decal::drawing(desk.plan, i, &desk.rows);
        let (path, bytes) = (decal::file_name(i), svg::drawing(&paper));
        let check = read_back::decal_file(desk.plan, i, &path, &paper, &bytes);
        desk.made(i, path, bytes, check)
    };
    (0..desk.plan.decals().len()).map(one).collect()
}

fn cups_page(desk: &Desk<'_>, _: &Parts<'_>) -> Vec<Made> {
    match desk.plan.named() {
        Some(_) => vec![desk.file(0, cups::FILE, cups::html(desk.plan))],
        None => Vec::new(),
    }
}

fn cup_decals(desk: &Desk<'_>, _: &Parts<'_>) -> Vec<Made> {
    let Some(named) = desk.plan.named() else { return Vec::new() };
    let several = named.sizes.len() > 1;
    let one = |(k, cup): (usize, u32)| {
        let plan = desk.plan.of_cup(cup);
        let of_decal = |(i, _): &(usize, _)| {
            let paper = decal::drawing(&plan, *i, &desk.rows);
            let (path, bytes) = (cups::decal_file(cup, *i, several), svg::drawing(&paper));
            let check = read_back::decal_file(&plan, *i, &path, &paper, &bytes);
            desk.made(k, path, bytes, check)
        };
        named.sizes.iter().map(of_decal).collect::<Vec<_>>()
    };
    cups::firsts(desk.plan).into_par_iter().enumerate().flat_map_iter(one).collect()
}

/// The proof of an order; none where the job is no order.
fn proof_paper(desk: &Desk<'_>, shown: &Shown) -> Option<Result<papers::Paper, Trouble>> {
    desk.plan.job().order.as_ref()?;
    Some(proof::paper(desk.plan, &proof::seen(desk.plan), &shown.pictures.views, &job_sheet::view))
}

fn proof_page(desk: &Desk<'_>, shown: &Shown) -> Vec<Made> {
    let made = |paper: Result<papers::Paper, Trouble>| match paper {
        Ok(paper) => desk.file(0, proof::FILE, papers::page::html(&paper, "")),
        Err(e) => {
            let broken = read_back::differs(proof::FILE, format!("cannot be written: {e}"));
            desk.made(0, proof::FILE, Vec::new(), Err(broken))
        }
    };
    proof_paper(desk, shown).map(made).into_iter().collect()
}

fn proof_pdfs(desk: &Desk<'_>, shown: &Shown) -> Vec<Made> {
    // What went wrong is told by the page.
    let Some(Ok(made)) = proof_paper(desk, shown) else { return Vec::new() };
    desk.each_paper(|paper| {
        let (w, h) = paper.sides();
        (format!("proof/proof-{}.pdf", paper.name()), papers::print::pdf(&made, (w.0, h.0)))
    })
}

fn proof_text(desk: &Desk<'_>, _: &Parts<'_>) -> Vec<Made> {
    let order = desk.plan.job().order.as_ref();
    order.map(|_| desk.file(0, proof::SEEN, proof::seen(desk.plan).into_bytes())).into_iter().collect()
}

fn job_sheet_page(desk: &Desk<'_>, shown: &Shown) -> Vec<Made> {
    vec![desk.file(0, job_sheet::FILE, papers::page::html(&shown.job_sheet, ""))]
}

fn job_sheet_pdfs(desk: &Desk<'_>, shown: &Shown) -> Vec<Made> {
    desk.each_paper(|paper| {
        let (w, h) = paper.sides();
        (format!("job-sheet-{}.pdf", paper.name()), papers::print::pdf(&shown.job_sheet, (w.0, h.0)))
    })
}

fn card_files(desk: &Desk<'_>, _: &Shown) -> Vec<Made> {
    desk.each_paper(|paper| (cards::file_name(paper), cards::pdf(desk.plan, paper)))
}

fn stills(desk: &Desk<'_>, shown: &Shown) -> Vec<Made> {
    let views = shown.pictures.views.iter().enumerate();
    views.map(|(i, v)| desk.file(i, v.file(), v.png.clone())).collect()
}

fn turn(desk: &Desk<'_>, shown: &Shown) -> Vec<Made> {
    vec![desk.file(0, view::TURN, shown.pictures.turn.clone())]
}

fn turn_page(desk: &Desk<'_>, shown: &Shown) -> Vec<Made> {
    vec![desk.file(0, view::PAGE, shown.pictures.page.clone())]
}

fn calendar_file(desk: &Desk<'_>, _: &Shown) -> Vec<Made> {
    let calendar = desk.plan.finish().calendar.as_ref();
    let file = |c| desk.file(0, finish::calendar::FILE, finish::calendar::text(desk.plan, c).into_bytes());
    calendar.map(file).into_iter().collect()
}

fn quote_file(desk: &Desk<'_>, shown: &Shown) -> Vec<Made> {
    let costing = desk.plan.finish().costing.as_ref();
    let pictures = shown.for_the_customer();
    let text = |c| finish::quote::text(desk.plan, c, &pictures).into_bytes();
    costing.map(|c| desk.file(0, finish::quote::FILE, text(c))).into_iter().collect()
}

fn maker_sheet_file(desk: &Desk<'_>, _: &Shown) -> Vec<Made> {
    vec![desk.file(0, finish::maker_sheet::FILE, finish::maker_sheet::text(desk.plan).into_bytes())]
}

/// Is all that the plain writers write read back as planned? Without the pictures, which nothing reads back.
#[cfg(test)]
pub(super) fn reads_back(plan: &Verified) -> bool {
    let desk = Desk { plan, rows: rows::rows(plan), places: label::places(plan), emit: &|_| {} };
    let parts = Parts::of(&desk);
    made_by(|w| w.plain(&desk, &parts)).iter().all(|(.., m)| m.check.is_ok())
}
