//! Bottom-left fill: each piece in turn to the lowest free place, on the first sheet that has one.
//!
//! Imports: base, outline, make::film::{stock, solid, raster}.

use super::raster::{Grid, Mask, Run};
use super::solid::{Solid, Turn};
use super::stock::Bin;
use crate::base::frame::{Art, Rigid, Sheet};
use crate::base::tolerance::{CLEAR_GUARD, HAIR, NEST_FLATTEN};
use crate::base::units::Mm;
use crate::outline::{Flat, Ring};
use std::f64::consts::FRAC_1_SQRT_2;

/// What the film asks of a layout.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Demand {
    /// Between pieces.
    pub spacing: Mm,
    /// To the edge of the sheet.
    pub margin: Mm,
}

impl Demand {
    /// What makers work with.
    pub fn guarded(&self) -> f64 {
        self.spacing.0 + CLEAR_GUARD.0
    }
}

/// Where a piece lies.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Spot {
    /// Place in the list of items.
    pub item: usize,
    /// Its pose.
    pub pose: Rigid<Art, Sheet>,
}

/// One sheet in the making.
#[derive(Clone, Debug, PartialEq)]
pub struct BinLayout {
    /// Place in the list of blanks.
    pub blank: usize,
    /// What lies on it, in the order it was laid.
    pub spots: Vec<Spot>,
}

/// Masks of a solid at one of its turns.
#[derive(Clone, Debug)]
pub(super) struct Masks {
    pub(super) asks: Mask,
    takes: Mask,
}

/// One sheet's lattice.
#[derive(Clone)]
pub(super) struct Lattice {
    blank: usize,
    pub(super) grid: Grid,
    /// Highest row and column a corner can be at, before the piece's own size is taken off.
    pub(super) span: [f64; 2],
    pub(super) spots: Vec<Spot>,
    /// First row that a solid at a turn may still find free; rows below were refused, and film is never taken
    /// up.
    first: Vec<i32>,
}

/// The fill of one film at one lattice step.
#[derive(Clone)]
pub struct Filler<'a> {
    pub(super) solids: &'a [Solid],
    blanks: &'a [Bin],
    pub(super) demand: Demand,
    pub(super) step: f64,
    /// Masks of each (solid, turn), made when first asked for.
    pub(super) masks: Vec<Option<Masks>>,
    /// Where each solid's turns start in the list of masks.
    pub(super) at: Vec<usize>,
    pub(super) sheets: Vec<Lattice>,
    /// Sheets that nothing more goes on.
    closed: Vec<bool>,
    pub(super) free: Vec<u64>,
}

/// How far back sheets stay open.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Flow {
    /// Pieces may go on so many of the last sheets begun; on all if `None`. Leftovers stay open.
    pub open: Option<usize>,
    /// Each block of pieces on sheets of its own.
    pub apart: bool,
}

impl<'a> Filler<'a> {
    /// A filler with no sheet taken yet.
    pub fn new(solids: &'a [Solid], blanks: &'a [Bin], demand: Demand, step: Mm) -> Self {
        let mut at = vec![0];
        for s in solids {
            at.push(at[at.len() - 1] + s.turns.len());
        }
        let masks = vec![None; at[at.len() - 1]];
        Self {
            solids,
            blanks,
            demand,
            step: step.0,
            masks,
            at,
            sheets: Vec::new(),
            closed: Vec::new(),
            free: Vec::new(),
        }
    }
    /// Lays the items (places in `solids`) in the order given; items that fit on no sheet are returned too.
    pub fn run(self, items: &[usize], order: &[usize]) -> (Vec<BinLayout>, Vec<usize>) {
        self.run_blocks(items, &[order.to_vec()], Flow::default())
    }
    /// The same, block after block, closing sheets as the flow says.
    pub fn run_blocks(
        mut self,
        items: &[usize],
        blocks: &[Vec<usize>],
        flow: Flow,
    ) -> (Vec<BinLayout>, Vec<usize>) {
        let mut left = Vec::new();
        for block in blocks {
            if flow.apart {
                self.closed.fill(true);
            }
            for &item in block {
                let begun = self.sheets.len();
                if !self.place(item, items[item]) {
                    left.push(item);
                }
                if self.sheets.len() > begun {
                    self.close(flow.open);
                }
            }
        }
        (self.laid(), left)
    }
    /// The sheets as they are, without those that hold nothing.
    pub(super) fn laid(self) -> Vec<BinLayout> {
        let sheets = self.sheets.into_iter().map(|l| BinLayout { blank: l.blank, spots: l.spots });
        sheets.filter(|f| !f.spots.is_empty()).collect()
    }
    pub(super) fn place(&mut self, item: usize, solid: usize) -> bool {
        for sheet in 0.. {
            if sheet == self.sheets.len() && !self.take_sheet(solid) {
                return false;
            }
            if self.closed[sheet] {
                continue;
            }
            if let Some((turn, x, y)) = self.best_on(sheet, solid) {
                self.put(sheet, item, solid, (turn, x, y));
                return true;
            }
        }
        unreachable!("the loop ends when no sheet can be taken")
    }
    /// Closes all rectangles but the last ones begun.
    fn close(&mut self, open: Option<usize>) {
        let Some(open) = open else { return };
        let plain = |l: &&Lattice| self.blanks[l.blank].shape.is_none();
        let mut later = self.sheets.iter().filter(plain).count();
        for (lattice, closed) in self.sheets.iter().zip(&mut self.closed) {
            if self.blanks[lattice.blank].shape.is_none() {
                *closed |= later > open;
                later -= 1;
            }
        }
    }
    /// The turn whose top edge comes lowest, the lower left corner deciding between equals.
    fn best_on(&mut self, sheet: usize, solid: usize) -> Option<(usize, i32, i32)> {
        let mut best: Option<(i64, usize, i32, i32)> = None;
        for turn in 0..self.solids[solid].turns.len() {
            let t = self.solids[solid].turns[turn];
            let lattice = &self.sheets[sheet];
            let (Some(last_x), Some(last_y)) = (
                steps(lattice.span[0] - t.size[0], self.step),
                steps(lattice.span[1] - t.size[1], self.step),
            ) else {
                continue;
            };
            let tall = (t.size[1] / self.step) as i64;
            let limit = best.map_or(last_y, |b| last_y.min((b.0 - tall) as i32));
            let key = self.at[solid] + turn;
            let from = lattice.first[key];
            if from > limit {
                continue;
            }
            self.need_masks(solid, turn);
            let masks = self.masks[key].as_ref().expect("made above");
            let lattice = &mut self.sheets[sheet];
            match lattice.grid.lowest(&masks.asks, from..=limit, last_x, &mut self.free) {
                Some((y, x)) => {
                    lattice.first[key] = y;
                    let score = i64::from(y) + tall;
                    if best.is_none_or(|b| (score, y, x) < (b.0, b.3, b.2)) {
                        best = Some((score, turn, x, y));
                    }
                }
                None => lattice.first[key] = limit + 1,
            }
        }
        best.map(|(_, turn, x, y)| (turn, x, y))
    }
    pub(super) fn put(&mut self, sheet: usize, item: usize, solid: usize, (turn, x, y): (usize, i32, i32)) {
        let masks = self.masks[self.at[solid] + turn].as_ref().expect("asked before put");
        let lattice = &mut self.sheets[sheet];
        lattice.grid.occupy(&masks.takes, x, y);
        let m = self.demand.margin.0;
        let corner = [m + f64::from(x) * self.step, m + f64::from(y) * self.step];
        let pose = self.solids[solid].turns[turn].pose(corner);
        lattice.spots.push(Spot { item, pose });
    }
    pub(super) fn need_masks(&mut self, solid: usize, turn: usize) {
        let key = self.at[solid] + turn;
        if self.masks[key].is_some() {
            return;
        }
        let rings = corner_rings(&self.solids[solid], &self.solids[solid].turns[turn]);
        let reach = self.step * FRAC_1_SQRT_2 + NEST_FLATTEN.0;
        let asks = Mask::of(&rings, self.demand.guarded() + reach, self.step).longest_first();
        self.masks[key] = Some(Masks { asks, takes: Mask::of(&rings, reach, self.step) });
    }
    /// Takes the next blank that a solid can fit on at all; false if there is none left.
    pub(super) fn take_sheet(&mut self, solid: usize) -> bool {
        let used = |b: usize| self.sheets.iter().filter(|l| l.blank == b).count();
        let next = (0..self.blanks.len()).find(|&b| {
            let room = self.blanks[b].usable(self.demand.margin);
            self.blanks[b].count.is_none_or(|c| used(b) < c)
                // A shaped blank is tried once, whatever comes of it; a rectangle only if the piece fits in.
                && (self.blanks[b].shape.is_some() || self.solids[solid].turns.iter().any(|t| fits(t, room)))
        });
        let Some(blank) = next else { return false };
        self.take(blank);
        true
    }
    pub(super) fn take(&mut self, blank: usize) {
        let span = self.blanks[blank].usable(self.demand.margin);
        let pad = ((self.demand.guarded() + NEST_FLATTEN.0) / self.step).ceil() as i32 + 2;
        let columns = steps(span[0], self.step).unwrap_or(0) + 1;
        let mut grid = Grid::new(columns, pad, columns + 2 * pad);
        if let Some(shape) = &self.blanks[blank].shape {
            self.block_outside(&mut grid, &shape.flat(NEST_FLATTEN), span, pad);
        }
        let first = vec![0; self.masks.len()];
        self.sheets.push(Lattice { blank, grid, span, spots: Vec::new(), first });
        self.closed.push(false);
    }
    /// Marks what is missing of a leftover: the complement within its box, grown so that the margin holds.
    fn block_outside(&self, grid: &mut Grid, shape: &Flat<Sheet>, span: [f64; 2], pad: i32) {
        let m = self.demand.margin.0;
        let far = 2.0 * f64::from(pad) * self.step;
        let (x1, y1) = (span[0] + far, span[1] + far);
        let mut rings: Vec<Ring> = vec![vec![[-far, -far], [x1, -far], [x1, y1], [-far, y1]]];
        rings.extend(shape.rings.iter().map(|r| r.iter().map(|p| [p[0] - m, p[1] - m]).collect()));
        let d = self.step * FRAC_1_SQRT_2 + 2.0 * NEST_FLATTEN.0 + (m - self.demand.spacing.0).max(0.0);
        let mut mask = Mask::of(&rings, d, self.step);
        let (lo, rows) = (-pad, steps(span[1], self.step).unwrap_or(0) + pad);
        mask.runs.retain(|r: &Run| r.row >= lo && r.row <= rows);
        grid.occupy(&mask, 0, 0);
    }
}

/// Whole steps in a length, a hair allowed; none if it is negative.
pub(super) fn steps(length: f64, step: f64) -> Option<i32> {
    (length >= -HAIR).then(|| ((length + HAIR) / step).floor() as i32)
}

/// Does the turned box fit into the room?
pub fn fits(t: &Turn, room: [f64; 2]) -> bool {
    t.size[0] <= room[0] + HAIR && t.size[1] <= room[1] + HAIR
}

/// Turned rings with the lower left corner of their box at the origin.
pub fn corner_rings(solid: &Solid, t: &Turn) -> Vec<Ring> {
    let at = |p: &[f64; 2]| [t.cos * p[0] - t.sin * p[1] - t.min[0], t.sin * p[0] + t.cos * p[1] - t.min[1]];
    solid.coarse.rings.iter().map(|r| r.iter().map(at).collect()).collect()
}
