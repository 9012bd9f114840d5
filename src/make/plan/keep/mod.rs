//! [`run`]: the stages once more, from an earlier kit: what need not change stays, number, place and sheet.
//!
//! Motifs that the job pins go where it says; those placed by search, spots, decals and the base stay as the earlier
//! kit has them, as long as they keep their distance from what changed (`motifs`, `spots`); holes are filled
//! again; new pieces have numbers that none ever had, and lie on film of their own (`sheets`). Nothing hangs on
//! random streams that an earlier stage moves. Identity is told by outlines in their own frame (`old`).
//!
//! Imports: base, outline, read::{job, materials, kept}, make::{cup, piece, free_area, weed, decal, motif, accent,
//! panel, film, finish, look, plan}, make::plan::{finishing, lie, printed, seam, orders, run}.

mod old;
mod motifs;
mod spots;
mod sheets;
mod told;

pub use sheets::own_leftover;
pub(crate) use spots::wishes;
pub(crate) use told::surface;
pub use told::{CODES, runs};

use super::run::{Made, Stage, rooms, shapes};
use super::{Kept, Plan, finishing, lie, orders, printed, seam};
use crate::base::diag::{Diagnostics, ErrorGuaranteed};
use crate::base::frame::Art;
use crate::base::random::fnv1a;
use crate::base::units::Mm;
use crate::make::accent;
use crate::make::cup::{self, Cup};
use crate::make::decal::Decal;
use crate::make::finish;
use crate::make::free_area::{FreeArea, Obstacle};
use crate::make::look;
use crate::make::motif::{self, Motif, PlacementResult};
use crate::make::panel::Panels;
use crate::make::piece::{Kind, Piece};
use crate::make::weed;
use crate::outline::Region;
use crate::read::job::{Effort, FilmSpec, Job};
use crate::read::kept::KeptKit;
use crate::read::materials::Materials;
use old::{Old, here};
use spots::Changes;
use std::collections::BTreeSet;
use std::ops::ControlFlow;

/// The free wall of a zone as a number: another one has other bounds or windows.
pub(crate) fn bounds(zone: &cup::Zone) -> u64 {
    fnv1a(format!("{:?} {:?} {:?}", zone.low, zone.high, zone.handles).bytes())
}

/// Runs the stages from an earlier kit: the same job, materials and kit give the same plan.
///
/// # Errors
/// Those of [`super::run()`], and what cannot be kept.
pub fn run(
    job: &Job,
    materials: &Materials,
    effort: Effort,
    record: &KeptKit,
    diagnostics: &mut Diagnostics,
    progress: &mut dyn FnMut(Stage) -> ControlFlow<()>,
) -> Result<Plan, ErrorGuaranteed> {
    let mut emit = |stage| {
        let _ = progress(Stage::Begins(stage));
    };
    emit("cup");
    let job = &finishing::with_build_up(&finishing::with_log(job, materials));
    let cup = cup::fit(&job.cup, diagnostics);
    diagnostics.extend(materials.diagnostics.iter().cloned());
    let (job, stock) = &printed::stocked(job, materials, cup.as_ref().ok(), diagnostics)?;
    told::refuse(job, materials, cup.as_ref().ok(), record, diagnostics)?;
    let asked = job;
    let wide = cup.as_ref().ok().and_then(|c| lie::widened(asked, materials, stock, c));
    let job = wide.as_ref().map_or(asked, |w| &w.0);
    let cup = wide.as_ref().map_or(cup, |w| Ok(w.1.clone()));
    emit("decals");
    let (motifs, decals) = shapes(job, materials, stock, &cup, diagnostics);
    let base = cup.as_ref().map_err(|r| *r).and_then(|cup| finish::base(job, materials, cup, diagnostics));
    let (mut cup, motifs, decals, base) = (cup?, motifs?, decals?, base?);
    let mut desk = Desk::new((job, materials, &cup), record, motifs, decals, base);
    desk.decals();
    emit("motifs");
    let outlines: Vec<(&Region<Art>, Mm)> =
        desk.motifs.iter().zip(&job.motifs).map(|(m, s)| (&m.outline, job.films[s.film.0].weed)).collect();
    let widths = weed::WidthReport::at(&outlines);
    let placed = desk.motifs(diagnostics)?;
    seam::lay(&mut cup, &desk.pieces, diagnostics);
    emit("accents");
    let fills = desk.spots(diagnostics)?;
    desk.base(&cup);
    let Desk { mut pieces, mut decals, base, old, mut kept, .. } = desk;
    pieces.sort_by_key(|p| (p.pass(job), p.number));
    let job = lie::settled(asked, &cup, (&mut pieces, &mut decals), diagnostics);
    told::of_all(job, &old, &pieces, diagnostics);
    diagnostics.check()?;
    emit("weed");
    let narrow = widths.check(&pieces, &job.films, diagnostics);
    emit("film");
    let mut sheets = sheets::frozen(record, job, &old, &mut kept);
    kept.gone = sheets::gone(record, job, &old, (&cup, &sheets));
    let hear = &mut |p| progress(Stage::Film(p));
    sheets.extend(sheets::more((job, materials, effort), &pieces, &sheets, &mut kept, diagnostics, hear)?);
    sheets.sort_by_key(|s| (s.film, s.index));
    sheets.extend(printed::layouts(job, stock, &pieces));
    kept.changed = told::changed(&old, &pieces, record);
    told::tell(&kept, diagnostics);
    let made = Made { decals: &decals, placed: &placed, fills: &fills, pieces: &pieces, sheets: &sheets };
    let mut stages = told::stages(made.reports(job, materials, narrow.len()), &old, &pieces, record);
    let _ = progress(Stage::Begins("finish"));
    let alike = orders::Alike::of(job, &cup, &pieces, &[], Panels::default());
    let offcuts = crate::make::film::offcuts(job, materials)?;
    let film = orders::OnFilm { job, pieces: &pieces, alike: &alike, own: &[], offcuts: &offcuts };
    let finish = film.finished(&cup, &sheets, base, diagnostics);
    look::look(job, &cup, &pieces, &decals, diagnostics);
    diagnostics.check()?;
    stages.push(finishing::report(&finish));
    let diagnostics = diagnostics.iter().cloned().collect();
    let (job, stock, weak, panels, named) = (job.clone(), stock.clone(), narrow, alike.panels, None);
    Ok(Plan {
        job,
        cup,
        decals,
        pieces,
        sheets,
        panels,
        stock,
        named,
        weak,
        finish,
        diagnostics,
        stages,
        kept,
    })
}

/// What the stages work on.
struct Desk<'a> {
    job: &'a Job,
    materials: &'a Materials,
    cup: Cup,
    motifs: Vec<Motif>,
    decals: Vec<Decal>,
    base: Option<finish::BaseDisc>,
    rooms: Vec<FreeArea>,
    old: Old,
    /// The pieces so far.
    pieces: Vec<Piece>,
    changes: Changes,
    kept: Kept,
}

impl<'a> Desk<'a> {
    fn new(
        (job, materials, cup): (&'a Job, &'a Materials, &Cup),
        record: &KeptKit,
        motifs: Vec<Motif>,
        decals: Vec<Decal>,
        base: Option<finish::BaseDisc>,
    ) -> Desk<'a> {
        let wishes = wishes(job);
        let other = |i: &usize| record.accents.get(*i) != wishes.get(*i);
        let moved = |i: &usize| {
            let (zone, was) = (&cup.zones[*i], &record.zones[*i]);
            bounds(&zone.zone) != was.free
                || told::surface(&zone.surface) != [was.upper, was.lower, was.slant]
        };
        let changes = Changes {
            obstacles: Vec::new(),
            moved: BTreeSet::new(),
            left: BTreeSet::new(),
            bounds: (0..cup.zones.len()).filter(moved).collect(),
            wishes: (0..wishes.len()).filter(other).collect(),
            salt: u64::from(record.next),
        };
        let old = Old::of(record, &job.films, cup);
        let next_sheet = |f: &FilmSpec| {
            record.films.iter().filter(|k| k.name == f.name).map(|k| k.next_sheet).max().unwrap_or(1)
        };
        let kept = Kept {
            next: record.next,
            next_sheet: job.films.iter().map(next_sheet).collect(),
            applied: record.pieces.iter().filter(|p| p.applied).map(|p| p.number).collect(),
            ..Kept::default()
        };
        let (cup, rooms) = (cup.clone(), Vec::new());
        Desk { job, materials, cup, motifs, decals, base, rooms, old, pieces: Vec::new(), changes, kept }
    }

    fn fresh(&mut self, count: usize) -> u32 {
        let first = self.kept.next;
        self.kept.next += count as u32;
        first
    }

    /// Decals keep their numbers if all their layers are the same: layers are laid by keys that must match.
    fn decals(&mut self) {
        for i in 0..self.decals.len() {
            let made = self.decals[i].pieces(i, 1, &self.job.films);
            let same = self.same_layers(&made);
            let first = match &same {
                Some(of) => self.old.pieces[of[0]].piece.number,
                None => self.fresh(made.len()),
            };
            self.decals[i].first_piece = first as usize - 1;
            let mut pieces = self.decals[i].pieces(i, first, &self.job.films);
            let mut stands = same.is_some();
            for (p, o) in pieces.iter_mut().zip(same.iter().flatten()) {
                let was = &mut self.old.pieces[*o];
                was.taken = true;
                (p.outline, p.keys) = (was.piece.outline.clone(), was.piece.keys.clone());
                stands &= here(p, &was.piece) && p.clearance <= was.piece.clearance;
            }
            if !stands {
                let zone = self.decals[i].zone;
                self.changes.obstacles.extend(self.decals[i].obstacles().into_iter().map(|o| (zone, o)));
            }
            self.pieces.extend(pieces);
        }
        self.rooms = rooms(&self.cup, &self.decals);
    }

    /// The earlier layers that these are, all of one decal and in order.
    fn same_layers(&self, made: &[Piece]) -> Option<Vec<usize>> {
        let layer = |p: &Piece| matches!(p.kind, Kind::Layer { .. });
        let first = |wanted: Option<usize>| {
            self.old.find(made[0].film, &made[0].outline, |p| {
                layer(p)
                    && wanted.is_none_or(|d| matches!(p.kind, Kind::Layer { decal, layer: 0 } if decal == d))
            })
        };
        let Kind::Layer { decal, .. } = made.first()?.kind else { return None };
        let first = first(Some(decal)).or_else(|| first(None))?;
        let number = self.old.pieces[first].piece.number;
        let Kind::Layer { decal: was, .. } = self.old.pieces[first].piece.kind else { return None };
        let of = |(k, p): (usize, &Piece)| {
            self.old.find(p.film, &p.outline, |o| {
                o.number == number + k as u32
                    && matches!(o.kind, Kind::Layer { decal, .. } if decal == was)
                    && old::same(&o.keys, &p.keys)
            })
        };
        let all: Option<Vec<usize>> = made.iter().enumerate().map(of).collect();
        // A decal that had more layers is another one.
        let layers = self.old.pieces.iter();
        let had =
            layers.filter(|o| matches!(o.piece.kind, Kind::Layer { decal, .. } if decal == was)).count();
        all.filter(|_| had == made.len())
    }

    /// Motifs laid, each copy with the number of the piece that it is.
    fn motifs(&mut self, diagnostics: &mut Diagnostics) -> Result<PlacementResult, ErrorGuaranteed> {
        let (job, cup) = (self.job, &self.cup);
        let chosen = motifs::chosen(job, &self.motifs, cup, &self.rooms, &mut self.old);
        let placed = chosen.lay(job, &self.motifs, cup, &self.rooms, diagnostics)?;
        let mut made = motif::pieces(job, cup, &self.motifs, &placed, 1);
        for p in &mut made {
            let Kind::Motif { motif, copy } = p.kind else { continue };
            let mut stands = false;
            p.number = match chosen.old.get(&(motif, copy)) {
                Some(i) => {
                    let was = &self.old.pieces[*i].piece;
                    p.outline = was.outline.clone();
                    stands = here(p, was) && p.clearance <= was.clearance;
                    was.number
                }
                None => self.fresh(1),
            };
            let pass = p.pass(job);
            let obstacle = Obstacle { region: p.on_plane(), clearance: p.clearance, pass };
            if !stands {
                self.changes.obstacles.push((p.zone, obstacle.clone()));
            }
            self.rooms[p.zone].obstacles.push(obstacle);
        }
        self.pieces.extend(made);
        self.leave();
        Ok(placed)
    }

    /// Where something stood that is gone or went elsewhere.
    fn leave(&mut self) {
        for o in
            self.old.pieces.iter().filter(|o| matches!(o.piece.kind, Kind::Motif { .. } | Kind::Layer { .. }))
        {
            let now = self.pieces.iter().find(|p| p.number == o.piece.number);
            if now.is_none_or(|p| !here(p, &o.piece)) {
                // Of a pass that the job may not have any more: all of its zone.
                let passes = self.job.accents.iter().map(|a| (o.piece.zone, a.pass.order));
                self.changes.left.extend(passes);
                self.changes.moved.insert(o.piece.number);
            }
        }
    }

    /// Spots that stay, and new ones for the holes.
    fn spots(&mut self, diagnostics: &mut Diagnostics) -> Result<Vec<accent::Fill>, ErrorGuaranteed> {
        let of = (self.job, self.materials, &self.cup);
        let (stay, fills) = spots::kept(of, &mut self.rooms, &mut self.old, &self.changes, diagnostics)?;
        self.pieces.extend(stay.into_iter().map(|i| {
            let mut p = self.old.pieces[i].piece.clone();
            if let Kind::Spot { accent } | Kind::Tint { accent, .. } = p.kind {
                p.clearance = self.job.accents[accent].gap;
            }
            p
        }));
        let new = accent::pieces(self.job, &self.cup, &fills, self.kept.next);
        self.fresh(new.len());
        self.pieces.extend(new);
        Ok(fills)
    }

    /// The parts for the base keep their numbers if all are the same.
    fn base(&mut self, cup: &Cup) {
        let Some(mut base) = self.base.take() else { return };
        let made = base.pieces(cup, 1);
        let of = |p: &Piece| self.old.find(p.film, &p.outline, |o| o.kind == Kind::Base && o.name == p.name);
        let same: Option<Vec<usize>> = made.iter().map(of).collect();
        let in_a_row = |all: &Vec<usize>| {
            let first = self.old.pieces[all[0]].piece.number;
            (first..).zip(all).all(|(n, i)| self.old.pieces[*i].piece.number == n)
        };
        let same = same.filter(|all| !all.is_empty() && in_a_row(all));
        let first = match &same {
            Some(of) => self.old.pieces[of[0]].piece.number,
            None => self.fresh(made.len()),
        };
        let mut made = base.pieces(cup, first);
        for (p, i) in made.iter_mut().zip(same.iter().flatten()) {
            self.old.pieces[*i].taken = true;
            p.outline = self.old.pieces[*i].piece.outline.clone();
        }
        self.pieces.extend(made);
        self.base = Some(base);
    }
}
