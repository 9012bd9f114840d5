//! A bound on what booleans may cost, counted in steps before each is begun: never in seconds.
//!
//! i_overlay cuts space into columns, sorts what lies in a column upwards, and looks at every two pieces of
//! edges at one height; where edges meet, both are cut, and everything is looked at again until nothing
//! moves. The same columns are gone through here once, and what is found is charged:
//!
//! | for each | steps |
//! |---|---|
//! | element of an outline, looked at whether a clip reaches it | 1 |
//! | piece of an edge in a column | 150 |
//! | two pieces at one height | 1 |
//! | two pieces whose boxes meet | 10 |
//! | two edges that cross, or come within two steps of the grid | 100 |
//! | the same where the rule is even-odd: each crossing stays a corner, and two of them are an outline | 8000 |
//! | two outlines of the result (even-odd scribbles fall into hundreds of thousands) | 1/8 |
//!
//! Imports: base, outline::trace.

use super::trace::Track;
use crate::base::tolerance::GRID;

/// Steps for a piece of an edge.
const PIECE: u64 = 150;
/// Steps for two boxes that meet.
const BOXES: u64 = 10;
/// Steps for two edges that meet.
const MEETING: u64 = 100;
/// Steps for two edges that meet where the rule is even-odd: 50,000 meetings leave more outlines than art may
/// have.
const MEETING_KEPT: u64 = 8000;
/// Pairs of outlines of the result to a step.
const LOOPS: u64 = 8;

/// The number of steps that booleans given this budget may still take.
#[derive(Clone, Copy, Debug)]
pub struct WorkBudget {
    left: Option<u64>,
    spent: u64,
}

/// A boolean would have cost more steps than its budget had left; nothing was computed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct TooHard;

impl WorkBudget {
    /// A budget of `most` steps, shared by all booleans that it is given to.
    pub fn steps(most: u64) -> WorkBudget {
        WorkBudget { left: Some(most), spent: 0 }
    }
    /// A budget without a bound; steps are not counted.
    pub fn boundless() -> WorkBudget {
        WorkBudget { left: None, spent: 0 }
    }
    /// Number of steps charged so far.
    pub fn spent(&self) -> u64 {
        self.spent
    }
    fn pay(&mut self, steps: u64) -> Result<(), TooHard> {
        self.spent = self.spent.saturating_add(steps);
        match &mut self.left {
            Some(left) if *left < steps => Err(TooHard),
            Some(left) => {
                *left -= steps;
                Ok(())
            }
            None => Ok(()),
        }
    }
    /// Pays for a look at so many elements of outlines.
    pub(super) fn look(&mut self, elements: usize) -> Result<(), TooHard> {
        self.pay(elements as u64)
    }
    /// Pays for so many outlines of a result: each may have to be held to all others.
    pub(super) fn loops(&mut self, loops: usize) -> Result<(), TooHard> {
        self.pay((loops as u64).saturating_mul(loops as u64) / LOOPS)
    }
    /// Pays for a boolean of tracks.
    pub(super) fn charge<'a>(
        &mut self,
        tracks: impl Iterator<Item = &'a Track> + Clone,
        even_odd: bool,
    ) -> Result<(), TooHard> {
        if self.left.is_none() {
            return Ok(());
        }
        let edges: Vec<[f64; 4]> = tracks.flat_map(edges).collect();
        self.columns(&edges, if even_odd { MEETING_KEPT } else { MEETING })
    }
    fn columns(&mut self, edges: &[[f64; 4]], meeting: u64) -> Result<(), TooHard> {
        let low = edges.iter().fold(f64::INFINITY, |m, e| m.min(e[0]));
        let high = edges.iter().fold(f64::NEG_INFINITY, |m, e| m.max(e[2]));
        let n = 1usize << (edges.len().max(1).ilog2() / 2);
        let width = ((high - low) / n as f64).max(2.0 * GRID.0);
        let column = |x: f64| (((x - low) / width) as usize).min(n - 1);
        let pieces: u64 = edges.iter().map(|e| 1 + (column(e[2]) - column(e[0])) as u64).sum();
        self.pay(PIECE * pieces)?;
        let mut columns: Vec<Vec<([f64; 4], u32)>> = vec![Vec::new(); n];
        for (i, e) in edges.iter().enumerate() {
            let first = column(e[0]);
            for (k, column) in columns[first..=column(e[2])].iter_mut().enumerate() {
                let x0 = low + (first + k) as f64 * width;
                column.push((piece(e, x0, x0 + width), i as u32));
            }
        }
        columns.iter_mut().try_for_each(|c| self.column(c, edges, meeting))
    }
    fn column(
        &mut self,
        pieces: &mut [([f64; 4], u32)],
        edges: &[[f64; 4]],
        meeting: u64,
    ) -> Result<(), TooHard> {
        pieces.sort_unstable_by(|a, b| a.0[1].total_cmp(&b.0[1]).then(a.1.cmp(&b.1)));
        for (k, (a, i)) in pieces.iter().enumerate() {
            let mut steps = 0;
            for (b, j) in pieces[k + 1..].iter().take_while(|(b, _)| b[1] <= a[3]) {
                steps += 1;
                if a[0] <= b[2] && b[0] <= a[2] {
                    let meets = meet(&edges[*i as usize], &edges[*j as usize]);
                    steps += BOXES + if meets { meeting } else { 0 };
                }
            }
            self.pay(steps)?;
        }
        Ok(())
    }
}

/// The edges of a track, each from left to right.
fn edges(track: &Track) -> impl Iterator<Item = [f64; 4]> + '_ {
    (0..track.edges.len() as i64).map(|i| {
        let (a, b) = (track.corner(i), track.corner(i + 1));
        if a.x <= b.x { [a.x, a.y, b.x, b.y] } else { [b.x, b.y, a.x, a.y] }
    })
}

/// The box of what of an edge lies between two verticals.
fn piece(e: &[f64; 4], x0: f64, x1: f64) -> [f64; 4] {
    let y = |x: f64| {
        if e[2] > e[0] { e[1] + (e[3] - e[1]) * ((x - e[0]) / (e[2] - e[0])).clamp(0.0, 1.0) } else { e[1] }
    };
    let (from, to) = if e[2] > e[0] { (y(x0), y(x1)) } else { (e[1], e[3]) };
    [e[0].max(x0), from.min(to), e[2].min(x1), from.max(to)]
}

/// Do edges cross or run within two steps of the grid of each other, other than at a common end?
fn meet(e: &[f64; 4], f: &[f64; 4]) -> bool {
    let near = 2.0 * GRID.0;
    let side = |l: &[f64; 4], x: f64, y: f64| {
        let (dx, dy) = (l[2] - l[0], l[3] - l[1]);
        (dx * (y - l[1]) - dy * (x - l[0])) / libm::hypot(dx, dy).max(GRID.0)
    };
    let apart = |l: &[f64; 4], m: &[f64; 4]| {
        let (a, b) = (side(l, m[0], m[1]), side(l, m[2], m[3]));
        // On one side; an end that touches is no meeting, two are.
        a.max(b) > near && a.min(b) > -near || a.min(b) < -near && a.max(b) < near
    };
    !apart(e, f) && !apart(f, e)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        /// Truth: all pairs of edges. Every two that meet are paid for at least once, so the bound holds for
        /// what costs most.
        #[test]
        fn all_meetings_are_paid_for(p in prop::collection::vec((0.0..90.0f64, 0.0..90.0f64), 4..60)) {
            let edges: Vec<[f64; 4]> = p.windows(2).map(|w| {
                let (a, b) = (w[0], w[1]);
                if a.0 <= b.0 { [a.0, a.1, b.0, b.1] } else { [b.0, b.1, a.0, a.1] }
            }).collect();
            let pairs = (0..edges.len()).flat_map(|i| (i + 1..edges.len()).map(move |j| (i, j)));
            let meetings = pairs.filter(|&(i, j)| meet(&edges[i], &edges[j])).count() as u64;
            let mut effort = WorkBudget::steps(u64::MAX);
            effort.columns(&edges, MEETING).expect("enough");
            prop_assert!(effort.spent() >= MEETING * meetings + PIECE * edges.len() as u64);
            // One step less than it takes is too hard, just as much is not.
            prop_assert_eq!(WorkBudget::steps(effort.spent()).columns(&edges, MEETING), Ok(()));
            prop_assert_eq!(WorkBudget::steps(effort.spent() - 1).columns(&edges, MEETING), Err(TooHard));
        }
    }
}
