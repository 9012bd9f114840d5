//! What printed sheets ask of a run before and among the other stages: motifs found and picked, and the sheets
//! as they are cut.
//!
//! Imports: base, outline, read::{job, materials}, make::{cup, piece, sheet, choose, film}.

use crate::base::colour::linear;
use crate::base::diag::{Diagnostic, Diagnostics, ErrorGuaranteed, KeyPath};
use crate::make::choose;
use crate::make::cup::Cup;
use crate::make::film::order::{inner_first, sort};
use crate::make::film::sheet::{Aids, Taken};
use crate::make::film::stock::Source;
use crate::make::film::{Placed, SheetLayout};
use crate::make::piece::{Kind, Piece};
use crate::make::sheet::colour::{Lab, apart};
use crate::make::sheet::stock::{Stocked, sized, stock};
use crate::make::sheet::{FAINT, border};
use crate::outline::Region;
use crate::read::job::{CutBy, Job};
use crate::read::materials::Materials;
use std::sync::Arc;

/// The job with the sizes of its printed sheets and the motifs that it picks, and the sheets.
pub(super) fn stocked(
    job: &Job,
    materials: &Materials,
    cup: Option<&Cup>,
    diagnostics: &mut Diagnostics,
) -> Result<(Job, Vec<Arc<Stocked>>), ErrorGuaranteed> {
    if job.sheets.is_empty() {
        return Ok((job.clone(), Vec::new()));
    }
    let stock = stock(job, materials, diagnostics)?;
    let mut job = sized(job, &stock);
    let wall = cup.map(|c| c.zones.iter().map(|z| z.zone.area(&z.development)).sum());
    let picked = choose::chosen(&job, &stock, wall, diagnostics)?;
    job.motifs.extend(picked);
    for (i, s) in stock.iter().enumerate() {
        let of = |m: &crate::read::job::MotifSpec| m.art.printed().filter(|o| o.sheet == i).map(|o| o.number);
        let used: Vec<u32> = job.motifs.iter().filter_map(of).collect();
        let at = KeyPath::root().key("sheet").index(i);
        border::tell(&job.sheets[i], &s.shared, &used, &at, diagnostics);
        faint(&job, i, s, &used, diagnostics);
    }
    Ok((job, stock))
}

/// Least mean difference, in CIELAB, of a print that is seen well and the cup under it.
const SEEN: f32 = 10.0;

/// Tells of prints that the cup's colour swallows: film and print let it shine through.
fn faint(job: &Job, sheet: usize, s: &Stocked, used: &[u32], diagnostics: &mut Diagnostics) {
    let (lab, cup) = (Lab::default(), job.print.cup.0.map(linear));
    let pale = |n: &&u32| {
        let through = s.sheet.motifs[**n as usize - 1].colour.0.map(linear);
        apart(lab.of(cup), lab.of([0, 1, 2].map(|k| cup[k] * through[k]))) < SEEN
    };
    let list: Vec<String> = used.iter().filter(pale).map(u32::to_string).collect();
    if list.is_empty() {
        return;
    }
    let spec = &job.sheets[sheet];
    let message = format!(
        "on a cup of this colour hardly anything is seen of motif {} of \"{}\"",
        list.join(", "),
        spec.name
    );
    let d = Diagnostic::warning(&FAINT, KeyPath::root().key("sheet").index(sheet).key("name"), message);
    let d = d
        .measured(format!("a cup of {}", job.print.cup))
        .allowed(format!("a mean difference of {SEEN} in CIELAB"));
    diagnostics.push(d.help("choose others, lay white film under them, or correct `print.cup-colour`"));
}

/// Is a piece cut from plain film?
pub(super) fn is_plain(job: &Job, piece: &Piece) -> bool {
    job.sheet_of(piece.film).is_none()
}

/// The printed sheets that something is cut from, in cut order.
pub(super) fn layouts(job: &Job, stock: &[Arc<Stocked>], pieces: &[Piece]) -> Vec<SheetLayout> {
    let one = |(i, s): (usize, &Arc<Stocked>)| {
        let film = job.film_of_sheet(i);
        let of = |p: &Piece| {
            let Kind::Motif { motif, .. } = p.kind else { return None };
            let on = job.motifs[motif].art.printed().filter(|on| on.sheet == i)?;
            let pose = s.pose(on.number);
            let cuts = inner_first(&p.outline.moved(&pose));
            Some(Placed { number: p.number, cup: 0, pose, spare: false, cuts })
        };
        let mut placed: Vec<Placed> = pieces.iter().filter_map(of).collect();
        match job.sheets[i].cut_by {
            CutBy::Machine => sort(&mut placed),
            CutBy::Scissors => from_the_edge(&mut placed, s),
        }
        let (width, height) = (s.sheet.width, s.sheet.height);
        let taken = Taken { source: Source::InStock, shape: None };
        let layout = SheetLayout {
            repeat: Default::default(),
            film,
            index: 1,
            width,
            height,
            mirrored: false,
            placed,
            stock: taken,
            aids: Aids::default(),
        };
        (!layout.placed.is_empty()).then_some(layout)
    };
    stock.iter().enumerate().filter_map(one).collect()
}

/// With scissors: the nearest to the sheet's edge first, so that each cut frees the next and none begins in
/// the middle.
fn from_the_edge(placed: &mut [Placed], s: &Stocked) {
    let deep = |p: &Placed| {
        let b = Region::bounds(&p.cuts);
        let off = [b.min.x, b.min.y, s.sheet.width.0 - b.max.x, s.sheet.height.0 - b.max.y];
        off.into_iter().fold(f64::INFINITY, f64::min)
    };
    placed.sort_by(|a, b| deep(a).total_cmp(&deep(b)).then(a.number.cmp(&b.number)));
}
