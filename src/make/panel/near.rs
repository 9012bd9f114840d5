//! Distances between the outlines of a film on the wall, round the cup.
//!
//! Imports: base, outline, read::job, make::{cup, piece}.

use crate::base::frame::{Plane, Point};
use crate::base::tolerance::PASSING;
use crate::base::units::{Angle, Mm};
use crate::make::cup::Development;
use crate::make::piece::Piece;
use crate::outline::{Bounds, Clearance, Flat};
use crate::read::job::FilmId;
use std::f64::consts::TAU;

/// How far chords may be off: no more than borders are let pass by when they are measured again.
pub const CHORDS: Mm = PASSING;

/// A piece on the wall, ready to be measured.
#[derive(Clone, Debug)]
pub struct Lying {
    /// Its number.
    pub number: u32,
    /// Its film.
    pub film: FilmId,
    /// Its outline at its own place.
    pub outline: Clearance<Plane>,
    /// Azimuths that it takes, rad, not wrapped: `[left, right]`.
    pub round: [f64; 2],
    /// Slants that it takes, mm: `[low, high]`.
    pub up: [f64; 2],
}

impl Lying {
    /// Of a piece on the wall.
    pub fn new(piece: &Piece, d: &Development) -> Lying {
        Lying { film: piece.film, ..Lying::of(piece.number, piece.on_plane().flat(CHORDS), d) }
    }
    /// Of an outline on the plane, of the first film.
    pub fn of(number: u32, flat: Flat<Plane>, d: &Development) -> Lying {
        let (mut round, mut up) = ([f64::INFINITY, f64::NEG_INFINITY], [f64::INFINITY, f64::NEG_INFINITY]);
        for p in flat.rings.iter().flatten() {
            let w = d.wrap(Point::mm(p[0], p[1]));
            round = [round[0].min(w.azimuth.rad()), round[1].max(w.azimuth.rad())];
            up = [up[0].min(w.slant.0), up[1].max(w.slant.0)];
        }
        Lying { number, film: FilmId(0), outline: Clearance::new(flat), round, up }
    }
    fn middle(&self) -> Angle {
        Angle::radians(f64::midpoint(self.round[0], self.round[1]))
    }
}

/// Two pieces that lie near each other.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Near {
    /// The two, as places in the list; the first is less, or both are one.
    pub pair: [usize; 2],
    /// Turns of the cup that the second one is lifted by.
    pub turn: i32,
    /// Their distance, mm.
    pub gap: f64,
}

/// All pairs nearer than `within`, copies a turn further included; pairs of one piece with its own copy are left
/// out, for a film that goes all the way round is a clump that goes round by the pieces between.
pub fn near(all: &[Lying], d: &Development, within: Mm) -> Vec<Near> {
    let turned: Vec<(i32, Vec<Clearance<Plane>>)> = [-1, 1]
        .into_iter()
        .map(|n| (n, all.iter().map(|l| l.outline.moved(&d.turned(n))).collect()))
        .collect();
    let own: Vec<&Clearance<Plane>> = all.iter().map(|l| &l.outline).collect();
    let boxes: Vec<Bounds<Plane>> = own.iter().map(|c| c.flat().bounds()).collect();
    let mut out = Vec::new();
    let mut look = |i: usize, j: usize, n: i32, other: &Clearance<Plane>, bounds: &Bounds<Plane>| {
        if boxes[i].distance(bounds) >= within || !d.can_meet(all[i].middle(), all[j].middle(), n) {
            return;
        }
        if let Some(gap) = own[i].distance(other, within) {
            out.push(Near { pair: [i, j], turn: n, gap: gap.0 });
        }
    };
    for i in 0..all.len() {
        for j in i + 1..all.len() {
            look(i, j, 0, own[j], &boxes[j]);
        }
    }
    for (n, copies) in &turned {
        let bounds: Vec<Bounds<Plane>> = copies.iter().map(|c| c.flat().bounds()).collect();
        for i in 0..all.len() {
            for j in i + 1..all.len() {
                look(i, j, *n, &copies[j], &bounds[j]);
            }
        }
    }
    out
}

/// Azimuths wrapped so that the left end lies in `[-pi, pi)`, with the turns taken off.
pub fn home(round: [f64; 2]) -> ([f64; 2], i32) {
    let turns = ((round[0] + TAU / 2.0) / TAU).floor();
    ([round[0] - turns * TAU, round[1] - turns * TAU], turns as i32)
}
