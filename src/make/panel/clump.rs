//! Clumps: pieces so near each other that no border of a width runs between them. Joining whatever is nearer than
//! that width (single linkage) leaves the least distance between clumps as large as it can be.
//!
//! Imports: make::panel::near.

use super::near::{Lying, Near, home};
use std::f64::consts::TAU;

/// Pieces that stay together.
#[derive(Clone, Debug, PartialEq)]
pub struct Clump {
    /// Places in the list, each with the turns of the cup that it is lifted by.
    pub members: Vec<(usize, i32)>,
    /// Azimuths taken, rad, the left end in `[-pi, pi)`.
    pub round: [f64; 2],
    /// Slants taken, mm.
    pub up: [f64; 2],
    /// It closes on itself round the cup: nothing that is laid flat holds it.
    pub closed: bool,
}

/// Clumps of pieces with gaps below `border`, in the order of their first members.
pub fn clumps(all: &[Lying], near: &[Near], border: f64) -> Vec<Clump> {
    let mut sets =
        Sets { parent: (0..all.len()).collect(), turn: vec![0; all.len()], closed: vec![false; all.len()] };
    for n in near.iter().filter(|n| n.gap < border) {
        sets.join(n.pair[0], n.pair[1], n.turn);
    }
    let mut out: Vec<(usize, Clump)> = Vec::new();
    for (i, l) in all.iter().enumerate() {
        let (root, turn) = sets.find(i);
        let lifted = l.round.map(|a| a + TAU * f64::from(turn));
        if let Some((_, c)) = out.iter_mut().find(|c| c.0 == root) {
            c.members.push((i, turn));
            c.round = [c.round[0].min(lifted[0]), c.round[1].max(lifted[1])];
            c.up = [c.up[0].min(l.up[0]), c.up[1].max(l.up[1])];
        } else {
            let clump =
                Clump { members: vec![(i, turn)], round: lifted, up: l.up, closed: sets.closed[root] };
            out.push((root, clump));
        }
    }
    let settled = |(_, mut c): (usize, Clump)| {
        let (round, turns) = home(c.round);
        c.round = round;
        c.members.iter_mut().for_each(|m| m.1 -= turns);
        c
    };
    out.into_iter().map(settled).collect()
}

/// Sets that are joined, each member with its turns from that of the root.
struct Sets {
    parent: Vec<usize>,
    turn: Vec<i32>,
    closed: Vec<bool>,
}

impl Sets {
    /// The root of a set, and the turns that a member is lifted by from it.
    fn find(&mut self, i: usize) -> (usize, i32) {
        if self.parent[i] == i {
            return (i, 0);
        }
        let (root, turn) = self.find(self.parent[i]);
        self.turn[i] += turn;
        self.parent[i] = root;
        (root, self.turn[i])
    }
    /// `j`, lifted by some turns, stays with `i`.
    fn join(&mut self, i: usize, j: usize, turn: i32) {
        let ((a, ta), (b, tb)) = (self.find(i), self.find(j));
        if a == b {
            // Another way round to the same piece: round the cup.
            self.closed[a] |= ta + turn != tb;
            return;
        }
        self.parent[b] = a;
        self.turn[b] = ta + turn - tb;
        self.closed[a] |= self.closed[b];
    }
}
