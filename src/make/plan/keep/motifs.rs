//! Which motifs stay: those that the job pins go where it says, those that were placed by search stay where they are
//! as long as they are clear, and what lacks a place after that is searched for among them.
//!
//! Imports: base, read::job, make::{cup, piece, free_area, motif}, make::plan::passes, make::plan::keep::old.

use super::old::{Old, here};
use crate::base::diag::{Diagnostics, ErrorGuaranteed};
use crate::make::cup::Cup;
use crate::make::free_area::FreeArea;
use crate::make::motif::{Crowd, Motif, PlacementResult};
use crate::make::piece::Kind;
use crate::make::plan::passes;
use crate::read::job::{Job, Placing, Turning, WallPose};
use std::collections::BTreeMap;

/// Which motif, which copy.
type Copy = (usize, usize);

/// What becomes of the motifs.
pub(super) struct Chosen {
    /// The earlier piece that each copy is.
    pub(super) old: BTreeMap<Copy, usize>,
    /// Copies placed by search that stay.
    stays: BTreeMap<Copy, WallPose>,
}

/// The crowds of a wall, by zone and pass.
struct Crowds<'a> {
    cup: &'a Cup,
    rooms: &'a [FreeArea],
    by: BTreeMap<(usize, usize), Crowd>,
}

impl Crowds<'_> {
    /// The crowd at a height in a pass.
    fn at(&mut self, pose: WallPose, pass: usize) -> &mut Crowd {
        let zone = self.cup.zone_at(pose.slant);
        let room = &self.rooms[zone];
        self.by.entry((zone, pass)).or_insert_with(|| Crowd::new(&room.of_pass(pass)))
    }
    /// Puts a copy up if it is clear there.
    fn try_at(&mut self, copy: Copy, m: &Motif, pose: WallPose, pass: usize) -> bool {
        let crowd = self.at(pose, pass);
        crowd.add(copy, &m.outline, m.clearance, pose);
        let clear = crowd.too_near(copy, pose).is_empty();
        if !clear {
            crowd.remove(copy);
        }
        clear
    }
}

/// Finds each copy's earlier piece, and which of those that were placed by search may stay.
pub(super) fn chosen(job: &Job, motifs: &[Motif], cup: &Cup, rooms: &[FreeArea], old: &mut Old) -> Chosen {
    let mut out = Chosen { old: BTreeMap::new(), stays: BTreeMap::new() };
    pinned(job, motifs, cup, old, &mut out);
    let mut crowds = Crowds { cup, rooms, by: BTreeMap::new() };
    for (m, motif) in motifs.iter().enumerate() {
        if let Placing::Pinned(poses) = &motif.placing {
            for (copy, pose) in poses.iter().enumerate() {
                let crowd = crowds.at(*pose, job.motifs[m].pass.order);
                crowd.add((m, copy), &motif.outline, motif.clearance, *pose);
            }
        }
    }
    spread(job, motifs, old, &mut out, &mut crowds);
    grown(job, motifs, old, &mut out, &mut crowds);
    out
}

/// Pinned copies: first those that have not moved, then those that have, the same copy before others.
fn pinned(job: &Job, motifs: &[Motif], cup: &Cup, old: &mut Old, out: &mut Chosen) {
    for round in 0..3 {
        for (m, motif) in motifs.iter().enumerate() {
            let Placing::Pinned(poses) = &motif.placing else { continue };
            for (copy, pose) in poses.iter().enumerate() {
                if out.old.contains_key(&(m, copy)) {
                    continue;
                }
                let zone = cup.zone_at(pose.slant);
                let at = cup.zones[zone].development.pose(*pose);
                let wanted = |p: &crate::make::piece::Piece| match (round, &p.kind) {
                    (0, Kind::Motif { .. }) => {
                        let mut there = p.clone();
                        (there.wall, there.pose, there.zone) = (*pose, at, zone);
                        here(&there, p)
                    }
                    (1, kind) => *kind == Kind::Motif { motif: m, copy },
                    (_, Kind::Motif { .. }) => true,
                    _ => false,
                };
                if let Some(i) = old.find(job.motifs[m].film, &motif.outline, wanted) {
                    old.pieces[i].taken = true;
                    out.old.insert((m, copy), i);
                }
            }
        }
    }
}

/// Copies placed by search that are the same piece: they stay where they are clear, and are put elsewhere if not.
fn spread(job: &Job, motifs: &[Motif], old: &mut Old, out: &mut Chosen, crowds: &mut Crowds<'_>) {
    for (m, motif) in motifs.iter().enumerate() {
        let Placing::Spread { copies, turning } = &motif.placing else { continue };
        let mut free: Vec<usize> = (0..*copies).collect();
        // The copies of the same number first, so that numbers stay with them.
        for own in [true, false] {
            let mut k = 0;
            while k < free.len() {
                let copy = free[k];
                let wanted = |p: &crate::make::piece::Piece| match p.kind {
                    Kind::Motif { motif: n, copy: c } => !own || (n, c) == (m, copy),
                    _ => false,
                };
                let Some(i) = old.find(job.motifs[m].film, &motif.outline, wanted) else {
                    k += 1;
                    continue;
                };
                old.pieces[i].taken = true;
                out.old.insert((m, copy), i);
                free.remove(k);
                let pose = old.pieces[i].piece.wall;
                if may_turn(*turning, pose) && crowds.try_at((m, copy), motif, pose, job.motifs[m].pass.order)
                {
                    out.stays.insert((m, copy), pose);
                }
            }
        }
    }
}

/// Copies placed by search whose drawing, size or film changed: they go where the piece was that they replace, if
/// they are clear there.
fn grown(job: &Job, motifs: &[Motif], old: &Old, out: &mut Chosen, crowds: &mut Crowds<'_>) {
    let mut used = Vec::new();
    for (m, motif) in motifs.iter().enumerate() {
        let Placing::Spread { copies, turning } = &motif.placing else { continue };
        for copy in (0..*copies).filter(|c| !out.old.contains_key(&(m, *c))).collect::<Vec<_>>() {
            let left = old.pieces.iter().enumerate().filter(|(i, o)| !o.taken && !used.contains(i));
            let mut left = left.filter(|(_, o)| o.piece.name == motif.name);
            let Some((i, o)) = left.find(|(_, o)| matches!(o.piece.kind, Kind::Motif { .. })) else { break };
            used.push(i);
            let pose = o.piece.wall;
            if may_turn(*turning, pose) && crowds.try_at((m, copy), motif, pose, job.motifs[m].pass.order) {
                out.stays.insert((m, copy), pose);
            }
        }
    }
}

fn may_turn(turning: Turning, pose: WallPose) -> bool {
    let turn = pose.turn.wrapped().rad().abs();
    match turning {
        Turning::Upright => turn <= crate::base::tolerance::MEASURE.0,
        Turning::Within(most) => turn <= most.rad().abs() + crate::base::tolerance::MEASURE.0,
        Turning::Free => true,
    }
}

impl Chosen {
    /// Lays the motifs pass by pass: what stays is pinned there, the rest is searched for.
    ///
    /// # Errors
    /// Those of [`passes::lay`].
    pub(super) fn lay(
        &self,
        job: &Job,
        motifs: &[Motif],
        cup: &Cup,
        rooms: &[FreeArea],
        diagnostics: &mut Diagnostics,
    ) -> Result<PlacementResult, ErrorGuaranteed> {
        passes::lay_split((job, motifs), cup, rooms, &|m, motif| self.split(m, motif), diagnostics)
    }

    /// A motif in two: the copies that stay, and those that are searched for.
    fn split(&self, m: usize, motif: &Motif) -> Vec<Motif> {
        let Placing::Spread { copies, turning } = motif.placing else { return vec![motif.clone()] };
        let (stay, rest): (Vec<usize>, Vec<usize>) =
            (0..copies).partition(|c| self.stays.contains_key(&(m, *c)));
        let poses: Vec<WallPose> = stay.iter().map(|c| self.stays[&(m, *c)]).collect();
        let stay = Motif { placing: Placing::Pinned(poses), copies: stay, ..motif.clone() };
        let search = Placing::Spread { copies: rest.len(), turning };
        let rest = Motif { placing: search, copies: rest, ..motif.clone() };
        [stay, rest].into_iter().filter(|m| m.placing.count() > 0).collect()
    }
}
