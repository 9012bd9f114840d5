//! The edges of pieces that are seen, and what lies just outside of each.
//!
//! Imports: base, outline, read::job, make::{cup, piece}, make::look::seen.

use super::seen::Beneath;
use crate::base::frame::{Art, Point};
use crate::base::tolerance::FLATTEN;
use crate::base::units::{Angle, Mm};
use crate::make::cup::{Cup, WallPoint};
use crate::make::piece::{Kind, Piece};
use crate::outline::Flat;
use crate::read::job::Job;
use rayon::prelude::*;

/// Between two looks at an edge, mm.
const STEP: f64 = 1.0;
/// How far outside, mm: less than any gap that is asked for.
const OUTSIDE: f64 = 0.15;

struct Body<'a> {
    piece: &'a Piece,
    flat: Flat<Art>,
    /// Farthest from its anchor.
    reach: f64,
    pass: usize,
}

/// All pieces where they lie.
pub(super) struct Wall<'a> {
    cup: &'a Cup,
    bodies: Vec<Body<'a>>,
}

impl<'a> Wall<'a> {
    pub(super) fn new(job: &Job, cup: &'a Cup, pieces: &'a [Piece]) -> Wall<'a> {
        let body = |piece: &'a Piece| {
            let flat = piece.outline.flat(FLATTEN);
            let far = flat.rings.iter().flatten().map(|p| libm::hypot(p[0], p[1])).fold(0.0, f64::max);
            Body { piece, flat, reach: far, pass: piece.pass(job) }
        };
        Wall { cup, bodies: pieces.par_iter().map(body).collect() }
    }
    /// Is `a` laid over `b` where they meet?
    fn over(a: &Body<'_>, b: &Body<'_>) -> bool {
        match (&a.piece.kind, &b.piece.kind) {
            (Kind::Layer { decal, layer }, Kind::Layer { decal: other, layer: under }) if decal == other => {
                layer > under
            }
            (Kind::Base, _) | (_, Kind::Base) => false,
            _ => a.pass > b.pass,
        }
    }
    fn near(&self, a: &Body<'_>, b: &Body<'_>) -> bool {
        let q = self.met(b, a.piece.wall.azimuth, a.piece.wall.slant);
        a.piece.zone == b.piece.zone && libm::hypot(q[0], q[1]) <= a.reach + b.reach + OUTSIDE
    }
    /// A point of the wall in a piece's own frame, in the copy nearest to the piece.
    fn met(&self, b: &Body<'_>, azimuth: Angle, slant: Mm) -> [f64; 2] {
        let d = &self.cup.zones[b.piece.zone].development;
        let there = b.piece.wall.azimuth;
        let near = WallPoint { azimuth: there + (azimuth - there).wrapped(), slant };
        let p = b.piece.pose.inverse().apply(d.develop(near));
        [p.x, p.y]
    }
    /// The steps of a piece's edge that are seen: what lies beneath just outside, how high, and where round the
    /// cup.
    pub(super) fn edge(&self, i: usize) -> Vec<(Beneath, Mm, Angle)> {
        let own = &self.bodies[i];
        let zone = &self.cup.zones[own.piece.zone];
        let around = |above: bool| {
            let mut all: Vec<&Body<'_>> = self
                .bodies
                .iter()
                .filter(|b| if above { Wall::over(b, own) } else { Wall::over(own, b) } && self.near(own, b))
                .collect();
            // The highest first.
            let layer = |b: &Body<'_>| if let Kind::Layer { layer, .. } = b.piece.kind { layer } else { 0 };
            all.sort_by_key(|b| std::cmp::Reverse((b.pass, layer(b))));
            all
        };
        let (above, below) = (around(true), around(false));
        let holds = |b: &Body<'_>, at: &WallPoint| {
            let p = self.met(b, at.azimuth, at.slant);
            b.flat.contains(p[0], p[1])
        };
        let mut out = Vec::new();
        for ring in &own.flat.rings {
            let mut left = STEP * 0.5;
            for (k, p) in ring.iter().enumerate() {
                let q = ring[(k + 1) % ring.len()];
                let (dx, dy) = (q[0] - p[0], q[1] - p[1]);
                let l = libm::hypot(dx, dy);
                while l > 0.0 && left <= l {
                    let t = left / l;
                    // Film lies to the left of its outline.
                    let at = |off: f64| {
                        let x = [p[0] + dx * t + dy / l * off, p[1] + dy * t - dx / l * off];
                        let plane = own.piece.pose.apply(Point::mm(x[0], x[1]));
                        zone.development.wrap(plane)
                    };
                    let (inside, outside) = (at(-OUTSIDE), at(OUTSIDE));
                    if !above.iter().any(|b| holds(b, &inside)) {
                        let film = below.iter().find(|b| holds(b, &outside)).map(|b| b.piece.film);
                        let beneath = film.map_or(Beneath::Ground(outside.slant), Beneath::Film);
                        out.push((beneath, outside.slant, outside.azimuth.wrapped()));
                    }
                    left += STEP;
                }
                left -= l;
            }
        }
        out
    }
}
