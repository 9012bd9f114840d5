//! [`Live`]: a plan kept alive while pieces are moved by hand.
//!
//! What a move changes here is the piece itself and the spots round it; spread motifs and all other spots stay
//! where they are. Every distance between spots and what they keep clear of holds, but the plan that a kit is
//! made of is [`super::run()`]'s, from scratch: whoever shows a live plan that has moved says so.
//!
//! Imports: read::job, make::{cup, piece, free_area, motif, accent, plan}, make::plan::run.

use super::{Plan, run};
use crate::make::accent::{self, Following};
use crate::make::cup::Cup;
use crate::make::free_area::{FreeArea, Obstacle};
use crate::make::motif::{Crowd, TooNear};
use crate::make::piece::{Kind, Piece};
use crate::read::job::{Job, WallPose};
use std::collections::BTreeMap;

/// A copy of a motif that goes elsewhere.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Moved {
    /// Which motif of the job.
    pub motif: usize,
    /// Which copy.
    pub copy: usize,
    /// Where it goes.
    pub to: WallPose,
}

/// What a move did to the spots.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Refilled {
    /// Numbers of the pieces that are gone.
    pub gone: Vec<u32>,
    /// Pieces that are new, with numbers that no piece had before.
    pub new: Vec<Piece>,
}

/// A plan whose pieces can be moved.
pub struct Live {
    job: Job,
    cup: Cup,
    /// All pieces on the wall, by their numbers.
    pieces: BTreeMap<u32, Piece>,
    /// Zones with decals and motifs, no spots.
    rooms: Vec<FreeArea>,
    /// By zone and pass.
    crowds: BTreeMap<(usize, usize), Crowd>,
    /// Which decal an obstacle of a crowd is.
    decals: BTreeMap<(usize, usize), Vec<usize>>,
    /// Fills that follow, each with the numbers of its spots by their places; none before [`Live::follow`].
    fills: Vec<(Following, Vec<u32>)>,
    next: u32,
}

impl Live {
    /// Of a plan.
    pub fn new(plan: &Plan) -> Live {
        let mut rooms = run::rooms(&plan.cup, &plan.decals);
        let last = plan.pieces.iter().map(|p| p.pass(&plan.job)).max().unwrap_or(0);
        let (mut crowds, mut decals) = (BTreeMap::new(), BTreeMap::new());
        for (zone, room) in rooms.iter().enumerate() {
            for pass in 0..=last {
                crowds.insert((zone, pass), Crowd::new(&room.of_pass(pass)));
                let here = plan.decals.iter().enumerate().filter(|(_, d)| d.zone == zone);
                let of_pass = here.flat_map(|(i, d)| d.obstacles().into_iter().map(move |o| (i, o.pass)));
                let of_pass = of_pass.filter(|(_, p)| *p == pass).map(|(i, _)| i).collect();
                decals.insert((zone, pass), of_pass);
            }
        }
        let pieces: BTreeMap<u32, Piece> = plan.on_wall().map(|p| (p.number, p.clone())).collect();
        for (copy, p) in copies(pieces.values()) {
            let pass = p.pass(&plan.job);
            rooms[p.zone].obstacles.push(Obstacle { region: p.on_plane(), clearance: p.clearance, pass });
            if let Some(crowd) = crowds.get_mut(&(p.zone, pass)) {
                crowd.add(copy, &p.outline, p.clearance, p.wall);
            }
        }
        let next = plan.pieces.len() as u32 + 1;
        Live {
            job: plan.job.clone(),
            cup: plan.cup.clone(),
            pieces,
            rooms,
            crowds,
            decals,
            fills: Vec::new(),
            next,
        }
    }
    /// The job that the plan was made from.
    pub fn job(&self) -> &Job {
        &self.job
    }
    /// Its cup.
    pub fn cup(&self) -> &Cup {
        &self.cup
    }
    /// All pieces on the wall, by their numbers.
    pub fn pieces(&self) -> impl Iterator<Item = &Piece> {
        self.pieces.values()
    }
    /// What its fills are made ready to follow from, by itself, so that others can go on meanwhile.
    pub fn rooms(&self) -> &[FreeArea] {
        &self.rooms
    }
    /// Takes fills that follow: those of [`accent::following`] for its job and rooms. False where they are not
    /// the plan's; then the whole plan has to be made anew after each move.
    pub fn follow(&mut self, fills: Vec<Following>) -> bool {
        let mut numbers: BTreeMap<[u64; 3], u32> = BTreeMap::new();
        for p in self.pieces.values().filter(|p| matches!(p.kind, Kind::Spot { .. })) {
            numbers.insert(bits(p.wall), p.number);
        }
        let mut out = Vec::new();
        for f in fills {
            let spots = f.fill.spots();
            let known: Option<Vec<u32>> =
                spots.iter().map(|(_, s)| numbers.get(&bits(s.wall)).copied()).collect();
            let Some(known) = known else { return false };
            out.push((f, known));
        }
        self.fills = out;
        true
    }
    /// The piece of a copy of a motif.
    pub fn copy(&self, motif: usize, copy: usize) -> Option<&Piece> {
        copies(self.pieces.values()).into_iter().find(|(c, _)| *c == (motif, copy)).map(|(_, p)| p)
    }
    /// What a copy would be too near to, the worst first.
    pub fn too_near(&self, motif: usize, copy: usize, to: WallPose) -> Vec<TooNear> {
        let Some(p) = self.copy(motif, copy) else { return Vec::new() };
        let crowd = self.crowds.get(&(p.zone, p.pass(&self.job)));
        crowd.map_or(Vec::new(), |c| c.too_near((motif, copy), to))
    }
    /// Which decal an obstacle is that a copy was found too near to.
    pub fn decal(&self, motif: usize, copy: usize, obstacle: usize) -> Option<usize> {
        let p = self.copy(motif, copy)?;
        self.decals.get(&(p.zone, p.pass(&self.job)))?.get(obstacle).copied()
    }
    /// Every copy of a motif that stands too near to something, with the worst of it.
    pub fn clashes(&self) -> Vec<(u32, TooNear)> {
        let all = copies(self.pieces.values());
        let worst = |(copy, p): &((usize, usize), &Piece)| {
            self.too_near(copy.0, copy.1, p.wall).first().map(|t| (p.number, *t))
        };
        all.iter().filter_map(worst).collect()
    }
    /// Moves a copy; spots give way and what it leaves free is filled.
    pub fn move_to(&mut self, moved: Moved) -> Refilled {
        let key = (moved.motif, moved.copy);
        let Some(number) = self.copy(key.0, key.1).map(|p| p.number) else { return Refilled::default() };
        let (zone, pass) = (self.pieces[&number].zone, self.pieces[&number].pass(&self.job));
        let before = copies(self.pieces.values()).into_iter();
        let of_room = |p: &Piece| p.zone == zone && p.pass(&self.job) == pass;
        let order = before.filter(|(_, p)| of_room(p)).position(|(c, _)| c == key).unwrap_or(0);
        let which = self.decals.get(&(zone, pass)).map_or(0, Vec::len) + order;
        let pose = self.cup.zones[zone].development.pose(moved.to);
        if let Some(p) = self.pieces.get_mut(&number) {
            (p.wall, p.pose) = (moved.to, pose);
        }
        if let Some(crowd) = self.crowds.get_mut(&(zone, pass)) {
            crowd.put(key, moved.to);
        }
        let region = self.pieces[&number].on_plane();
        let mut refilled = Refilled::default();
        for (f, numbers) in self.fills.iter_mut().filter(|(f, _)| f.zone == zone && f.pass == pass) {
            f.fill.grab(which);
            f.fill.to(region.clone());
            for (place, number) in numbers.iter().enumerate() {
                if !f.fill.stands(place) && self.pieces.remove(number).is_some() {
                    refilled.gone.push(*number);
                }
            }
            for place in numbers.len()..f.fill.places() {
                numbers.push(self.next);
                let made = f
                    .fill
                    .spot(place)
                    .map_or(Vec::new(), |s| accent::pieces_of(&self.job, f.accent, &s, self.next));
                self.next += made.len().max(1) as u32;
                refilled.new.extend(made);
            }
        }
        let gone = |p: &Piece| matches!(p.kind, Kind::Tint { of, .. } if refilled.gone.contains(&of));
        let centres: Vec<u32> = self.pieces.values().filter(|p| gone(p)).map(|p| p.number).collect();
        for number in centres {
            self.pieces.remove(&number);
            refilled.gone.push(number);
        }
        self.pieces.extend(refilled.new.iter().map(|p| (p.number, p.clone())));
        refilled
    }
    /// Do all spots follow moves?
    pub fn follows(&self) -> bool {
        !self.fills.is_empty() || self.job.accents.is_empty()
    }
}

/// Copies of motifs, motif by motif, copy by copy.
fn copies<'a>(pieces: impl Iterator<Item = &'a Piece>) -> Vec<((usize, usize), &'a Piece)> {
    let of = |p: &'a Piece| match p.kind {
        Kind::Motif { motif, copy } => Some(((motif, copy), p)),
        _ => None,
    };
    let mut all: Vec<_> = pieces.filter_map(of).collect();
    all.sort_by_key(|(c, _)| *c);
    all
}

fn bits(w: WallPose) -> [u64; 3] {
    [w.azimuth.rad(), w.slant.0, w.turn.rad()].map(f64::to_bits)
}
