//! Spots woven into the bays of the large pieces in the order in which they are placed on the wall, so that the
//! next one lies near the last.
//!
//! Large pieces are laid first, as ever. Then each spot goes where it costs least: the film that the sheet grows
//! by, and `beta` square millimetres for every millimetre from the spot before it. What is greedy is not smooth in
//! beta: several are run, each from both ends of the order, and of those within the film allowed the one with the
//! shortest hops is taken.
//!
//! Imports: base, make::film::{fill, hops}.

use super::fill::{BinLayout, Filler, steps};
use super::hops::Hops;
use crate::base::diag::Code;
use crate::base::units::Mm;
use rayon::prelude::*;

pub(super) const NOT_WOVEN: Code = Code {
    id: "film/not-woven",
    title: "Spots could not be laid out in the order of placing",
    explain: "A woven film has each spot near the one placed before it, for a few percent more film \
        (`more-film`). No such layout was within that: the sheets are those of `lay = \"singly\"`.",
};

/// Film that a millimetre of hop is worth, mm2.
const BETAS: [f64; 4] = [10.0, 20.0, 40.0, 80.0];
/// What a millimetre up the sheet costs, mm2: between places alike the lower one, or low places first.
const RISES: [f64; 3] = [0.02, 1.0, 4.0];

/// What is laid on some sheets.
#[derive(Clone, Debug)]
pub(super) struct Threads {
    /// Large pieces, largest first.
    pub large: Vec<usize>,
    /// Spots in the order of placing.
    pub spots: Vec<usize>,
    /// Spares, after all.
    pub spares: Vec<usize>,
    /// Blanks to begin with; others are taken as they are needed where there are none.
    pub blanks: Vec<usize>,
    /// Length, from the margin, beyond which no spot is laid.
    pub longest: f64,
}

/// One layout, with the hops of its spots.
#[derive(Clone, Debug)]
pub(super) struct Woven {
    pub sheets: Vec<BinLayout>,
    pub hops: Hops,
}

/// All layouts that were woven of these threads; `items` holds the solid of each. Layouts in which something found no
/// place are left out.
pub(super) fn woven(filler: Filler<'_>, items: &[usize], threads: &Threads) -> Vec<Woven> {
    let mut begun = filler;
    let fixed = !threads.blanks.is_empty();
    threads.blanks.iter().for_each(|b| begun.take(*b));
    for &item in &threads.large {
        let sheets = begun.sheets.len();
        if !begun.place(item, items[item]) || (fixed && begun.sheets.len() > sheets) {
            return Vec::new();
        }
    }
    for item in threads.spots.iter().chain(&threads.spares) {
        for turn in 0..begun.solids[items[*item]].turns.len() {
            begun.need_masks(items[*item], turn);
        }
    }
    let of_beta = |b: &f64| [(*b, false), (*b, true)];
    let of_rise = |r: &f64| BETAS.iter().flat_map(of_beta).map(|(b, back)| (b, *r, back)).collect::<Vec<_>>();
    let ways: Vec<(f64, f64, bool)> = RISES.iter().flat_map(of_rise).collect();
    let one = |(beta, rise, back): &(f64, f64, bool)| {
        let mut loom = Loom {
            filler: begun.clone(),
            beta: *beta,
            rise: *rise,
            tops: Vec::new(),
            last: None,
            fixed,
            longest: threads.longest,
        };
        loom.tops = (0..begun.sheets.len()).map(|s| loom.top_of_large(s, items)).collect();
        let mut order = threads.spots.clone();
        if *back {
            order.reverse();
        }
        let all = order.iter().chain(&threads.spares).all(|item| loom.lay(*item, items[*item]));
        all.then(|| {
            let hops = loom.hops(&threads.spots);
            Woven { sheets: loom.filler.laid(), hops }
        })
    };
    ways.par_iter().filter_map(one).collect()
}

struct Loom<'a> {
    filler: Filler<'a>,
    beta: f64,
    rise: f64,
    /// Upper edge of what lies on each sheet, from its margin.
    tops: Vec<f64>,
    /// Sheet and place of the last spot.
    last: Option<(usize, [f64; 2])>,
    /// No sheets are taken beyond those begun with.
    fixed: bool,
    longest: f64,
}

/// A place for a spot.
#[derive(Clone, Copy)]
struct Choice {
    cost: f64,
    turn: usize,
    x: i32,
    y: i32,
    /// Upper edge of the spot there, from the margin.
    top: f64,
}

impl Loom<'_> {
    fn top_of_large(&self, sheet: usize, items: &[usize]) -> f64 {
        let f = &self.filler;
        let top = |s: &super::fill::Spot| f.solids[items[s.item]].fine.moved(&s.pose).bounds().max.y;
        f.sheets[sheet].spots.iter().map(top).fold(f.demand.margin.0, f64::max) - f.demand.margin.0
    }
    /// Puts a spot where it costs least, on the sheet where the hand is if it has a place.
    fn lay(&mut self, item: usize, solid: usize) -> bool {
        let here = self.last.map_or(0, |l| l.0);
        let mut sheets: Vec<usize> = (here..self.filler.sheets.len()).collect();
        sheets.extend((0..here.min(self.filler.sheets.len())).rev());
        for sheet in sheets {
            if let Some(choice) = self.best_on(sheet, solid) {
                self.put(sheet, item, solid, choice);
                return true;
            }
        }
        while !self.fixed && self.filler.take_sheet(solid) {
            let sheet = self.filler.sheets.len() - 1;
            self.tops.push(0.0);
            if let Some(choice) = self.best_on(sheet, solid) {
                self.put(sheet, item, solid, choice);
                return true;
            }
        }
        false
    }
    fn put(&mut self, sheet: usize, item: usize, solid: usize, choice: Choice) {
        self.filler.put(sheet, item, solid, (choice.turn, choice.x, choice.y));
        self.tops[sheet] = self.tops[sheet].max(choice.top);
        let pose = self.filler.sheets[sheet].spots.last().map(|s| s.pose.parts());
        self.last = pose.map(|(_, _, x, y)| (sheet, [x, y]));
    }
    fn best_on(&mut self, sheet: usize, solid: usize) -> Option<Choice> {
        let mut best: Option<Choice> = None;
        for turn in 0..self.filler.solids[solid].turns.len() {
            self.best_at(sheet, solid, turn, &mut best);
        }
        best
    }
    /// The cheapest place at one turn, if it is cheaper than the best so far. Rows are gone through from the one
    /// that can be cheapest; in each, the free columns nearest to the last spot are asked.
    fn best_at(&mut self, sheet: usize, solid: usize, turn: usize, best: &mut Option<Choice>) {
        let filler = &mut self.filler;
        let t = filler.solids[solid].turns[turn];
        let step = filler.step;
        let lattice = &filler.sheets[sheet];
        let last_x = steps(lattice.span[0] - t.size[0], step);
        let (Some(last_x), Some(last_y)) =
            (last_x, steps(lattice.span[1].min(self.longest) - t.size[1], step))
        else {
            return;
        };
        let (width, height, up) = (lattice.span[0], self.tops[sheet], self.rise);
        // Where the last spot is, as a corner of this one would be there.
        let m = filler.demand.margin.0;
        let from = self.last.filter(|l| l.0 == sheet).map(|l| [l.1[0] - m + t.min[0], l.1[1] - m + t.min[1]]);
        let row = |y: i32| {
            let (low, top) = (f64::from(y) * step, f64::from(y) * step + t.size[1]);
            let rise = from.map_or(0.0, |f| (low - f[1]).abs());
            (width * (top - height).max(0.0) + up * top, rise, top)
        };
        let mut rows: Vec<(f64, i32)> = (0..=last_y).map(|y| (row(y).0 + self.beta * row(y).1, y)).collect();
        rows.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
        let key = filler.at[solid] + turn;
        for (least, y) in rows {
            if best.is_some_and(|b| least >= b.cost) {
                break;
            }
            let masks = filler.masks[key].as_ref().expect("made before weaving");
            let (film, rise, top) = row(y);
            let wanted = from.map_or(0.0, |f| f[0] / step);
            // Beyond these columns the hop alone costs more than the best place.
            let reach =
                best.filter(|_| from.is_some()).map_or(f64::INFINITY, |b| (b.cost - film) / self.beta / step);
            let columns = (wanted - reach).floor().max(0.0) as i32
                ..=(wanted + reach).ceil().min(f64::from(last_x)) as i32;
            if !filler.sheets[sheet].grid.free_columns_from(&masks.asks, y, columns, &mut filler.free) {
                continue;
            }
            for x in nearest_set(&filler.free, wanted).into_iter().flatten() {
                let along = from.map_or(0.0, |f| f64::from(x) * step - f[0]);
                let cost = film + self.beta * libm::hypot(along, rise);
                if best.is_none_or(|b| cost < b.cost) {
                    *best = Some(Choice { cost, turn, x, y, top });
                }
            }
        }
    }
    /// Hops of the spots in the order of placing, sheet by sheet.
    fn hops(&self, order: &[usize]) -> Hops {
        let mut all = Hops::default();
        for sheet in &self.filler.sheets {
            let place = |item: &usize| {
                let spot = sheet.spots.iter().find(|s| s.item == *item)?;
                let (_, _, x, y) = spot.pose.parts();
                Some([x, y])
            };
            all = all.and(Hops::of(&order.iter().filter_map(place).collect::<Vec<_>>()));
        }
        all
    }
}

/// The set bits nearest to a place: the last one before it and the first one from it on.
fn nearest_set(bits: &[u64], at: f64) -> [Option<i32>; 2] {
    let n = bits.len() as i32 * 64;
    let at = (at.ceil() as i32).clamp(0, n);
    let (word, bit) = ((at / 64) as usize, at % 64);
    let after = |w: usize| if w == word { bits[w] & (u64::MAX << bit) } else { bits[w] };
    let next = (word..bits.len()).find(|w| after(*w) != 0);
    let next = next.map(|w| w as i32 * 64 + after(w).trailing_zeros() as i32);
    let before = |w: usize| if w == word { bits[w] & !(u64::MAX << bit) } else { bits[w] };
    let last = (0..bits.len().min(word + 1)).rev().find(|w| before(*w) != 0);
    let last = last.map(|w| w as i32 * 64 + 63 - before(w).leading_zeros() as i32);
    [last, next]
}

/// Of layouts, the one with the shortest hops among those that `fits` allows.
pub(super) fn shortest(all: Vec<Woven>, fits: impl Fn(&[BinLayout]) -> bool) -> Option<Woven> {
    let kept = all.into_iter().filter(|w| fits(&w.sheets));
    kept.reduce(|a, b| if b.hops.mean() < a.hops.mean() { b } else { a })
}

/// Lattice of woven layouts.
pub(super) const STEP: Mm = Mm(0.25);

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        /// Bit by bit.
        #[test]
        fn the_nearest_bits_are_found(words in prop::collection::vec(prop_oneof![any::<u64>(), Just(0), Just(1 << 63)], 1..4), at in -10.0..300.0f64) {
            let set: Vec<i32> = (0..words.len() as i32 * 64).filter(|i| words[*i as usize / 64] >> (i % 64) & 1 == 1).collect();
            let k = (at.ceil() as i32).clamp(0, words.len() as i32 * 64);
            let last = set.iter().copied().filter(|x| *x < k).max();
            let next = set.iter().copied().find(|x| *x >= k);
            prop_assert_eq!(nearest_set(&words, at), [last, next]);
        }
    }
}
