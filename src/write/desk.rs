//! The writers of a kit's files, a function a kind of file, and what they have before them.
//!
//! Each reads back what it wrote, by a parser that had no part in writing; [`super::kit::TABLE`] names them.
//!
//! Imports: base, read::{job, kept}, make::{panel, verify}, write, write::{ink, cut, papers, template, map, view,
//! sheets, proof, pieces, read_back}.

use super::cut::offcut::{self, OffcutFile};
use super::cut::{own_print, sheet as cut_sheet, weeding};
use super::ink::drawing::Drawing;
use super::ink::inches::said_on_page;
use super::ink::pdf::Book;
use super::ink::png::Trouble;
use super::ink::svg;
use super::map::rows::Row as PieceRow;
use super::map::zones::Window;
use super::map::{page as map_page, printed, wall as map_wall, zone_pages, zones};
use super::papers::{self, tiles};
use super::sheets::{cards, cups, decal, finish, job_sheet};
use super::template::band::{Band, bands};
use super::template::{base as base_template, panel as panel_paper, wrap};
use super::{KitFile, ListedFile, Prepared, proof, read_back, view};
use crate::base::diag::Diagnostic;
use crate::base::frame::Point;
use crate::make::panel::Panel;
use crate::make::verify::Verified;
use crate::read::job::{Paper, SheetSpec};
use rayon::prelude::*;

/// A file that was handed out, its place among those of its row, and what reading it back gave. Its bytes are gone:
/// a kit of a long list is larger than what a machine should hold.
pub(super) struct Made {
    pub(super) item: usize,
    pub(super) file: ListedFile,
    pub(super) check: Result<(), Diagnostic>,
}

/// What every writer has before it.
pub(super) struct Desk<'a> {
    pub(super) plan: &'a Verified,
    pub(super) rows: Vec<PieceRow>,
    pub(super) emit: &'a (dyn Fn(KitFile) + Sync),
}

impl Desk<'_> {
    /// A file that was read back, or that nothing reads back; handed out if it is right.
    pub(super) fn made(
        &self,
        item: usize,
        path: impl Into<String>,
        bytes: Vec<u8>,
        check: Result<(), Diagnostic>,
    ) -> Made {
        let path = path.into();
        let file = ListedFile { path: path.clone(), bytes: bytes.len() };
        if check.is_ok() {
            (self.emit)(KitFile { path, bytes });
        }
        Made { item, file, check }
    }
    pub(super) fn file(&self, item: usize, path: impl Into<String>, bytes: Vec<u8>) -> Made {
        self.made(item, path, bytes, Ok(()))
    }
    /// One file for each paper of the job.
    pub(super) fn each_paper(&self, file: impl Fn(Paper) -> (String, Vec<u8>) + Sync) -> Vec<Made> {
        let one = |(i, paper): (usize, &Paper)| {
            let (path, bytes) = file(*paper);
            self.file(i, path, bytes)
        };
        self.plan.job().print.papers.par_iter().enumerate().map(one).collect()
    }
}

/// What several plain writers share.
pub(super) struct Parts<'a> {
    pub(super) map: (Drawing, Vec<Band>),
    pub(super) windows: Vec<Window<'a>>,
    pub(super) offcuts: Vec<OffcutFile<'a>>,
}

impl<'a> Parts<'a> {
    pub(super) fn of(desk: &'a Desk<'a>) -> Parts<'a> {
        let map = || map_wall::body(desk.plan);
        let windows = || zones::windows(desk.plan, &desk.rows);
        let (map, (windows, offcuts)) = rayon::join(map, || rayon::join(windows, || offcut::all(desk.plan)));
        Parts { map, windows, offcuts }
    }
}

/// Pictures of the finished cup, and the job sheet, which shows some of them.
pub(super) struct Shown {
    pub(super) pictures: view::Pictures,
    pub(super) job_sheet: papers::Paper,
    /// The proof of an order: page and print show the same pictures, one of every name.
    proof: Option<Result<papers::Paper, Trouble>>,
}

impl Shown {
    pub(super) fn of(desk: &Desk<'_>, prepared: Option<&Prepared>) -> Result<Shown, view::Trouble> {
        let bare = prepared.map(Prepared::bare);
        let (pictures, drawn) =
            rayon::join(|| view::pictures(desk.plan, bare), || job_sheet::Drawn::new(desk.plan));
        let pictures = pictures?;
        let job_sheet =
            job_sheet::paper(desk.plan, &desk.rows, drawn?, &pictures.views).in_unit(desk.plan.job().unit);
        let seen = desk.plan.job().order.as_ref().map(|_| proof::seen(desk.plan));
        let proof = seen.map(|seen| proof::paper(desk.plan, &seen, &pictures.views, &job_sheet::view));
        Ok(Shown { pictures, job_sheet, proof })
    }

    /// The stills that a customer is shown, each with what it shows.
    pub(super) fn for_the_customer(&self) -> Vec<(&'static str, &[u8])> {
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

pub(super) fn pieces_file(desk: &Desk<'_>, _: &Parts<'_>) -> Vec<Made> {
    let path = super::pieces::FILE;
    match super::pieces::file(desk.plan) {
        Ok(bytes) => {
            let check = read_back::pieces_file(desk.plan, &bytes);
            vec![desk.made(0, path, bytes, check)]
        }
        Err(e) => {
            let broken = read_back::differs(path, format!("cannot be written: {e}"));
            vec![desk.made(0, path, Vec::new(), Err(broken))]
        }
    }
}

pub(super) fn cut_files(desk: &Desk<'_>, _: &Parts<'_>) -> Vec<Made> {
    let plan = desk.plan;
    let one = |(i, sheet)| {
        let (path, bytes) = (cut_sheet::file_name(plan, sheet), cut_sheet::file(plan, sheet));
        let check = read_back::cut_file(plan, sheet, &path, &bytes);
        desk.made(i, path, bytes, check)
    };
    plan.sheets().par_iter().enumerate().map(one).collect()
}

pub(super) fn weeding_files(desk: &Desk<'_>, _: &Parts<'_>) -> Vec<Made> {
    let plan = desk.plan;
    let one = |(i, sheet)| {
        let picture = weeding::drawing(plan, sheet);
        let (path, bytes) = (weeding::file_name(plan, sheet), svg::picture(&picture));
        let check = read_back::weeding_file(plan, sheet, &path, &picture, &bytes);
        desk.made(i, path, bytes, check)
    };
    plan.sheets().par_iter().enumerate().map(one).collect()
}

/// Printed sheets that something is cut from.
pub(super) fn begun<'a>(desk: &'a Desk<'_>) -> impl Iterator<Item = usize> + 'a {
    let job = desk.plan.job();
    (0..job.sheets.len()).filter(|i| desk.plan.sheets().iter().any(|s| s.film == job.film_of_sheet(*i)))
}

pub(super) fn sheet_maps(desk: &Desk<'_>, _: &Parts<'_>) -> Vec<Made> {
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

pub(super) fn sheet_tiles(desk: &Desk<'_>, _: &Parts<'_>) -> Vec<Made> {
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

pub(super) fn own_prints(desk: &Desk<'_>, _: &Parts<'_>) -> Vec<Made> {
    let one = |(i, spec): (usize, &SheetSpec)| {
        let stock = &desk.plan.stock()[i];
        let own = stock.own.as_ref()?;
        Some(desk.file(i, own_print::file_name(&spec.name), own_print::pdf(&spec.name, stock, own)))
    };
    desk.plan.job().sheets.iter().enumerate().filter_map(one).collect()
}

pub(super) fn sheet_leftovers(desk: &Desk<'_>, _: &Parts<'_>) -> Vec<Made> {
    let one = |i: usize| {
        desk.file(i, printed::leftover_name(desk.plan, i), printed::leftover(desk.plan, i).into_bytes())
    };
    begun(desk).map(one).collect()
}

pub(super) fn wrap_file(desk: &Desk<'_>, _: &Parts<'_>) -> Vec<Made> {
    let template = wrap::drawing(desk.plan);
    let bytes = svg::drawing(&template);
    let check = read_back::wrap_file(desk.plan, template.width, template.height, &bytes);
    vec![desk.made(0, wrap::FILE, bytes, check)]
}

pub(super) fn panel_files(desk: &Desk<'_>, _: &Parts<'_>) -> Vec<Made> {
    let plan = desk.plan;
    let one = |(i, panel)| {
        let drawing = panel_paper::drawing(plan, panel);
        let (path, bytes) = (panel_paper::file_name(plan, panel), svg::drawing(&drawing));
        let check = read_back::panel_file(plan, panel, &drawing, &path, &bytes);
        desk.made(i, path, bytes, check)
    };
    let layings: Vec<&Panel> = plan.panels().layings().collect();
    layings.into_par_iter().enumerate().map(one).collect()
}

pub(super) fn panel_tiles(desk: &Desk<'_>, _: &Parts<'_>) -> Vec<Made> {
    let (plan, print) = (desk.plan, &desk.plan.job().print);
    let list: Vec<&Panel> = plan.panels().layings().collect();
    if list.is_empty() {
        return Vec::new();
    }
    let bodies: Vec<tiles::Body> =
        list.par_iter().map(|p| tiles::Body::new(&panel_paper::drawing(plan, p))).collect();
    desk.each_paper(|paper| {
        let mut book = Book::new(&format!("{}: panels", plan.job().title));
        bodies.iter().for_each(|b| tiles::tiled(&mut book, b, paper, print));
        (panel_paper::tiles_name(paper), book.finish())
    })
}

pub(super) fn base_file(desk: &Desk<'_>, _: &Parts<'_>) -> Vec<Made> {
    let Some(disc) = desk.plan.finish().base.as_ref() else { return Vec::new() };
    let (template, at) = base_template::drawing(desk.plan, disc);
    let bytes = svg::drawing(&template);
    let check = read_back::base_file(disc, at, template.width, template.height, &bytes);
    vec![desk.made(0, base_template::FILE, bytes, check)]
}

pub(super) fn offcut_files(desk: &Desk<'_>, parts: &Parts<'_>) -> Vec<Made> {
    let one = |(i, l): (usize, &OffcutFile<'_>)| {
        let bytes = l.bytes(desk.plan);
        let check = read_back::leftover_file(l, &bytes);
        desk.made(i, l.file.clone(), bytes, check)
    };
    parts.offcuts.iter().enumerate().map(one).collect()
}

pub(super) fn wrap_tiles(desk: &Desk<'_>, _: &Parts<'_>) -> Vec<Made> {
    let plan = desk.plan;
    let bands = bands(plan.cup(), plan.job().cup.lap, Point::ORIGIN);
    let body = tiles::Body::new(&wrap::body(plan, &bands));
    desk.each_paper(|paper| {
        (format!("template/wrap-{}.pdf", paper.name()), tiles::pdf(&body, paper, &plan.job().print))
    })
}

pub(super) fn map_svg(desk: &Desk<'_>, parts: &Parts<'_>) -> Vec<Made> {
    let (map, bands) = map_wall::drawing(desk.plan, &desk.rows, &parts.map);
    let bytes = svg::drawing(&map);
    let check = read_back::map_file(desk.plan, &bands, map.width, map.height, &bytes);
    vec![desk.made(0, map_wall::FILE, bytes, check)]
}

pub(super) fn map_html(desk: &Desk<'_>, parts: &Parts<'_>) -> Vec<Made> {
    vec![desk.file(0, map_page::FILE, map_page::html(desk.plan, &parts.windows))]
}

pub(super) fn map_pdfs(desk: &Desk<'_>, parts: &Parts<'_>) -> Vec<Made> {
    let (tiled, leaves) =
        rayon::join(|| tiles::Body::new(&parts.map.0), || zone_pages::leaves(desk.plan, &parts.windows));
    let passes = zone_pages::of_passes(desk.plan);
    desk.each_paper(|paper| {
        let bytes = zone_pages::pdf(desk.plan, &desk.rows, &leaves, (&tiled, &passes), paper);
        (format!("map/map-{}.pdf", paper.name()), bytes)
    })
}

pub(super) fn decal_files(desk: &Desk<'_>, _: &Parts<'_>) -> Vec<Made> {
    let one = |i: usize| {
        let paper = decal::drawing(desk.plan, i, &desk.rows);
        let (path, bytes) = (decal::file_name(i), svg::picture(&paper));
        let check = read_back::decal_file(desk.plan, i, &path, &paper, &bytes);
        desk.made(i, path, bytes, check)
    };
    (0..desk.plan.decals().len()).map(one).collect()
}

pub(super) fn cups_page(desk: &Desk<'_>, _: &Parts<'_>) -> Vec<Made> {
    match desk.plan.named() {
        Some(_) => vec![desk.file(0, cups::FILE, cups::html(desk.plan))],
        None => Vec::new(),
    }
}

pub(super) fn cup_decals(desk: &Desk<'_>, _: &Parts<'_>) -> Vec<Made> {
    let Some(named) = desk.plan.named() else { return Vec::new() };
    let several = named.sizes.len() > 1;
    let one = |(k, cup): (usize, u32)| {
        let plan = desk.plan.of_cup(cup);
        let of_decal = |(i, _): &(usize, _)| {
            let paper = decal::drawing(&plan, *i, &desk.rows);
            let (path, bytes) = (cups::decal_file(cup, *i, several), svg::picture(&paper));
            let check = read_back::decal_file(&plan, *i, &path, &paper, &bytes);
            desk.made(k, path, bytes, check)
        };
        named.sizes.iter().map(of_decal).collect::<Vec<_>>()
    };
    cups::firsts(desk.plan).into_par_iter().enumerate().flat_map_iter(one).collect()
}

pub(super) fn proof_page(desk: &Desk<'_>, shown: &Shown) -> Vec<Made> {
    let made = |paper: &Result<papers::Paper, Trouble>| match paper {
        Ok(paper) => desk.file(0, proof::FILE, papers::page::html(paper, "")),
        Err(e) => {
            let broken = read_back::differs(proof::FILE, format!("cannot be written: {e}"));
            desk.made(0, proof::FILE, Vec::new(), Err(broken))
        }
    };
    shown.proof.iter().map(made).collect()
}

pub(super) fn proof_pdfs(desk: &Desk<'_>, shown: &Shown) -> Vec<Made> {
    // What went wrong is told by the page.
    let Some(Ok(made)) = &shown.proof else { return Vec::new() };
    desk.each_paper(|paper| {
        let (w, h) = paper.sides();
        (format!("proof/proof-{}.pdf", paper.name()), papers::print::pdf(made, (w.0, h.0)))
    })
}

pub(super) fn proof_text(desk: &Desk<'_>, _: &Parts<'_>) -> Vec<Made> {
    let order = desk.plan.job().order.as_ref();
    order.map(|_| desk.file(0, proof::SEEN, proof::seen(desk.plan).into_bytes())).into_iter().collect()
}

pub(super) fn job_sheet_page(desk: &Desk<'_>, shown: &Shown) -> Vec<Made> {
    vec![desk.file(0, job_sheet::FILE, papers::page::html(&shown.job_sheet, ""))]
}

pub(super) fn job_sheet_pdfs(desk: &Desk<'_>, shown: &Shown) -> Vec<Made> {
    desk.each_paper(|paper| {
        let (w, h) = paper.sides();
        (format!("job-sheet-{}.pdf", paper.name()), papers::print::pdf(&shown.job_sheet, (w.0, h.0)))
    })
}

pub(super) fn card_files(desk: &Desk<'_>, _: &Shown) -> Vec<Made> {
    desk.each_paper(|paper| (cards::file_name(paper), cards::pdf(desk.plan, paper)))
}

pub(super) fn stills(desk: &Desk<'_>, shown: &Shown) -> Vec<Made> {
    let views = shown.pictures.views.iter().enumerate();
    views.map(|(i, v)| desk.file(i, v.file(), v.png.clone())).collect()
}

pub(super) fn turn(desk: &Desk<'_>, shown: &Shown) -> Vec<Made> {
    vec![desk.file(0, view::TURN, shown.pictures.turn.clone())]
}

pub(super) fn turn_page(desk: &Desk<'_>, shown: &Shown) -> Vec<Made> {
    vec![desk.file(0, view::PAGE, shown.pictures.page.clone())]
}

pub(super) fn calendar_file(desk: &Desk<'_>, _: &Shown) -> Vec<Made> {
    let calendar = desk.plan.finish().calendar.as_ref();
    let file = |c| desk.file(0, finish::calendar::FILE, finish::calendar::text(desk.plan, c).into_bytes());
    calendar.map(file).into_iter().collect()
}

pub(super) fn quote_file(desk: &Desk<'_>, shown: &Shown) -> Vec<Made> {
    let costing = desk.plan.finish().costing.as_ref();
    let pictures = shown.for_the_customer();
    let text =
        |c| said_on_page(desk.plan.job().unit, &finish::quote::text(desk.plan, c, &pictures)).into_bytes();
    costing.map(|c| desk.file(0, finish::quote::FILE, text(c))).into_iter().collect()
}

pub(super) fn maker_sheet_file(desk: &Desk<'_>, _: &Shown) -> Vec<Made> {
    let text = said_on_page(desk.plan.job().unit, &finish::maker_sheet::text(desk.plan));
    vec![desk.file(0, finish::maker_sheet::FILE, text.into_bytes())]
}
