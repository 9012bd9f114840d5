//! [`run`]: the stages one after another, from a checked job and its materials to a plan.
//!
//! Imports: base, outline, read::{job, materials}, make::{cup, piece, sheet, free_area, weed, decal, motif, accent,
//! panel, film, finish, look, plan}, make::plan::{finishing, lie, passes, printed, seam, orders}.

use super::{Kept, Plan, StageReport, finishing, lie, orders, passes, printed, seam};
use crate::base::diag::{Diagnostics, ErrorGuaranteed};
use crate::base::frame::Art;
use crate::base::units::Mm;
use crate::make::accent::{self, Fill};
use crate::make::cup::{self, Cup, WallZone};
use crate::make::decal::{self, Decal};
use crate::make::film::{self, SheetLayout};
use crate::make::finish;
use crate::make::free_area::{FreeArea, Obstacle};
use crate::make::look;
use crate::make::motif::{self, Motif, PlacementResult};
use crate::make::panel;
use crate::make::piece::Piece;
use crate::make::sheet::stock::Stocked;
use crate::make::weed;
use crate::outline::Region;
use crate::read::job::{Effort, Job, Placing};
use crate::read::materials::Materials;
use std::ops::ControlFlow;
use std::sync::Arc;

/// Where a run is: for a progress line and for timing, which are the edge's business.
#[derive(Clone, Debug, PartialEq)]
pub enum Stage {
    /// A stage begins.
    Begins(&'static str),
    /// Rows of a list of names that are made, and how many there are.
    Rows(usize, usize),
    /// The film search takes a step.
    Film(film::Progress),
}

/// Runs all stages: the same job and materials give the same plan. `progress` is told where the run is; a
/// `Break` while film is searched keeps the best so far.
///
/// # Errors
/// Faults of any stage, gathered as far as the stages can go on without each other.
pub fn run(
    job: &Job,
    materials: &Materials,
    effort: Effort,
    diagnostics: &mut Diagnostics,
    progress: &mut dyn FnMut(Stage) -> ControlFlow<()>,
) -> Result<Plan, ErrorGuaranteed> {
    let mut emit = |stage| {
        let _ = progress(stage);
    };
    emit(Stage::Begins("cup"));
    let job = &finishing::with_build_up(&finishing::with_log(job, materials));
    let cup = cup::fit(&job.cup, diagnostics);
    diagnostics.extend(materials.diagnostics.iter().cloned());
    if !job.sheets.is_empty() {
        emit(Stage::Begins("sheets"));
    }
    let (job, stock) = &printed::stocked(job, materials, cup.as_ref().ok(), diagnostics)?;
    let (ref asked, mut named) = orders::named(job, materials, cup.as_ref().ok(), diagnostics)?;
    // On a smooth wall the layout is made for wider distances.
    let wide = cup.as_ref().ok().and_then(|c| lie::widened(asked, materials, stock, c));
    let job = wide.as_ref().map_or(asked, |w| &w.0);
    let cup = wide.as_ref().map_or(cup, |w| Ok(w.1.clone()));
    emit(Stage::Begins("decals"));
    let (motifs, decals) = shapes(job, materials, stock, &cup, diagnostics);
    let base = cup.as_ref().map_err(|r| *r).and_then(|cup| finish::base(job, materials, cup, diagnostics));
    let (mut cup, motifs, mut decals, mut base) = (cup?, motifs?, decals?, base?);
    let mut pieces = decal::pieces(&decals, &job.films);
    let mut rooms = rooms(&cup, &decals);
    emit(Stage::Begins("motifs"));
    // Laying keeps one thread busy, and where a motif goes changes nothing of its outline: widths are
    // measured meanwhile.
    let outlines: Vec<(&Region<Art>, Mm)> =
        motifs.iter().zip(&job.motifs).map(|(m, spec)| (&m.outline, job.films[spec.film.0].weed)).collect();
    let (placed, widths) = rayon::join(
        || passes::lay(job, &motifs, &cup, &rooms, diagnostics),
        || weed::WidthReport::at(&outlines),
    );
    let placed = placed?;
    let of_motifs = motif::pieces(job, &cup, &motifs, &placed, pieces.len() as u32 + 1);
    stand(job, &of_motifs, &mut rooms);
    pieces.extend(of_motifs);
    seam::lay(&mut cup, &pieces, diagnostics);
    emit(Stage::Begins("accents"));
    let fills = accent::fills(job, materials, &mut rooms, diagnostics)?;
    pieces.extend(accent::pieces(job, &cup, &fills, pieces.len() as u32 + 1));
    passes::number(job, &mut pieces, &mut decals);
    let job = lie::settled(asked, &cup, (&mut pieces, &mut decals), diagnostics);
    let rows = &mut |done, of| emit(Stage::Rows(done, of));
    orders::make_rows((job, materials, &cup), &decals, named.as_mut(), diagnostics, rows)?;
    let own = named.as_ref().map_or(&[][..], |n| n.own.as_slice());
    let first = pieces.len() as u32 + 1;
    pieces.extend(base.iter_mut().flat_map(|base| base.pieces(&cup, first)));
    let panels = panel::lay(job, &cup, &mut pieces, diagnostics);
    diagnostics.check()?;
    emit(Stage::Begins("weed"));
    accent::shares::tell(job, &pieces, diagnostics);
    let narrow = widths.check(&pieces, &job.films, diagnostics);
    emit(Stage::Begins("film"));
    let offcuts = film::offcuts(job, materials)?;
    let hear = &mut |p| progress(Stage::Film(p));
    let alike = orders::Alike::of(job, &cup, &pieces, own, panels);
    let film = orders::OnFilm { job, pieces: &pieces, alike: &alike, own, offcuts: &offcuts };
    let mut sheets = film.laid(effort, diagnostics, hear)?;
    sheets.extend(printed::layouts(job, stock, &pieces));
    let made = Made { decals: &decals, placed: &placed, fills: &fills, pieces: &pieces, sheets: &sheets };
    let mut stages = made.reports(job, materials, narrow.len());
    let _ = progress(Stage::Begins("finish"));
    let finish = film.finished(&cup, &sheets, base, diagnostics);
    look::look(job, &cup, &pieces, &decals, diagnostics);
    diagnostics.check()?;
    stages.push(finishing::report(&finish));
    let diagnostics = diagnostics.iter().cloned().collect();
    let (job, stock, weak, panels) = (job.clone(), stock.clone(), narrow, alike.panels);
    let kept = Kept::default();
    #[rustfmt::skip]
    let plan = Plan { job, cup, decals, pieces, sheets, panels, stock, named, weak, finish, diagnostics, stages, kept };
    Ok(plan)
}

/// Motifs that are laid are obstacles for what comes after them.
fn stand(job: &Job, motifs: &[Piece], rooms: &mut [FreeArea]) {
    for p in motifs {
        let pass = p.pass(job);
        rooms[p.zone].obstacles.push(Obstacle { region: p.on_plane(), clearance: p.clearance, pass });
    }
}

pub(super) type Shapes = (Result<Vec<Motif>, ErrorGuaranteed>, Result<Vec<Decal>, ErrorGuaranteed>);

/// Outlines of motifs and decals. They do not depend on each other: threads change the time, not what is found
/// nor its order.
pub(super) fn shapes(
    job: &Job,
    materials: &Materials,
    stock: &[Arc<Stocked>],
    cup: &Result<Cup, ErrorGuaranteed>,
    diagnostics: &mut Diagnostics,
) -> Shapes {
    let (mut of_motifs, mut of_decals) = (Diagnostics::new(), Diagnostics::new());
    let made = rayon::join(
        || motif::motifs(job, materials, stock, &mut of_motifs),
        || decal::make(job, materials, cup.as_ref().map_err(|r| *r)?, &mut of_decals),
    );
    diagnostics.extend(of_motifs.into_vec());
    diagnostics.extend(of_decals.into_vec());
    made
}

/// Each zone of the wall with the decals on it.
pub(super) fn rooms(cup: &Cup, decals: &[Decal]) -> Vec<FreeArea> {
    let room = |(i, z): (usize, &WallZone)| FreeArea {
        development: z.development,
        zone: z.zone.clone(),
        zone_number: i,
        obstacles: decals.iter().filter(|d| d.zone == i).flat_map(Decal::obstacles).collect(),
    };
    cup.zones.iter().enumerate().map(room).collect()
}

/// What the stages made, for their reports.
pub(super) struct Made<'a> {
    pub(super) decals: &'a [Decal],
    pub(super) placed: &'a PlacementResult,
    pub(super) fills: &'a [Fill],
    pub(super) pieces: &'a [Piece],
    pub(super) sheets: &'a [SheetLayout],
}

impl Made<'_> {
    pub(super) fn reports(&self, job: &Job, materials: &Materials, narrow: usize) -> Vec<StageReport> {
        let nodes: usize = self.pieces.iter().map(|p| p.outline.nodes()).sum();
        let pinned = job.motifs.iter().map(|m| match &m.placing {
            Placing::Pinned(p) => p.len(),
            Placing::Spread { .. } | Placing::Many { .. } => 0,
        });
        let report = |stage, counts: &[(&'static str, u64)]| StageReport { stage, counts: counts.to_vec() };
        let sum = |of: &dyn Fn(&Fill) -> u64| self.fills.iter().map(of).sum();
        vec![
            report("cup", &[("rings", job.cup.rings.len() as u64)]),
            report("art", &[("drawings", materials.drawings() as u64)]),
            report(
                "decals",
                &[
                    ("decals", self.decals.len() as u64),
                    ("layers", self.decals.iter().map(|d| d.layers.len() as u64).sum()),
                    ("pieces", self.decals.iter().map(|d| d.piece_count() as u64).sum()),
                ],
            ),
            report(
                "motifs",
                &[
                    ("pinned", pinned.sum::<usize>() as u64),
                    ("pieces", self.placed.laid.len() as u64),
                    ("poses_tried", self.placed.tried),
                ],
            ),
            report(
                "accents",
                &[
                    ("fills", self.fills.len() as u64),
                    ("spots", sum(&|f| f.spots.len() as u64)),
                    ("added_by_the_proof", sum(&|f| f.saturation.added as u64)),
                    ("left_undecided", sum(&|f| f.saturation.undecided)),
                ],
            ),
            report(
                "film",
                &[
                    ("pieces", self.pieces.len() as u64),
                    ("nodes", nodes as u64),
                    ("sheets", self.sheets.len() as u64),
                ],
            ),
            report("weed", &[("pieces", self.pieces.len() as u64), ("narrow_places", narrow as u64)]),
        ]
    }
}
