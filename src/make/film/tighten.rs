//! The improving search on a film's sheets: the last one made shorter, or done without.
//!
//! A layout replaces the one before only when the gate has measured it in 64-bit floats. Work is counted in
//! places weighed; leftovers with shapes of their own keep the layout that the fill gave them.
//!
//! Imports: base, outline, read::job, make::film::{stock, solid, fill, gate, grown, clash, overlap, shrink}.

use super::clash::{CollisionShape, ShapePose};
use super::fill::{BinLayout, Demand, Spot};
use super::gate::flaws;
use super::grown::{Grown, reach};
use super::shrink::{Judge, shrink};
use super::solid::Solid;
use super::stock::Bin;
use crate::base::frame::{Point, Rigid};
use crate::base::random::Random;
use crate::base::tolerance::{FLATTEN, HAIR};
use crate::base::units::{Mm, Seed};
use crate::make::film::overlap::{Layout, OverlapResolver, Patience, Task};
use crate::outline::plane::ring_area;
use crate::read::job::Grain;
use std::collections::BTreeMap;
use std::ops::ControlFlow;

/// What the search needs to know of a film.
pub struct Tighten<'a> {
    /// Shapes.
    pub solids: &'a [Solid],
    /// Shape of each item.
    pub items: &'a [usize],
    /// Film to lay them on.
    pub blanks: &'a [Bin],
    /// What the film asks of a layout.
    pub demand: Demand,
    /// How pieces may turn.
    pub grain: Grain,
    /// Items in the order of placing that are to lie near each other; none if any place will do.
    pub order: Vec<usize>,
    /// May those of the order turn as the others do?
    pub spots_turn: bool,
}

/// Hears how many places were weighed and the length used so far; a `Break` ends the search.
pub type Hear<'a> = dyn FnMut(u64, Mm) -> ControlFlow<()> + 'a;

/// Fullest part of the room (pieces grown by half the spacing) that is tried without a sheet.
const FULLEST: f64 = 0.95;
/// Hops may become longer by this part while the sheet becomes shorter: at most what the next beta would save.
const LONGER_HOPS: f64 = 1.05;
/// Pieces on one sheet beyond which pairs are too many to be kept.
const MOST_PIECES: usize = 3000;

impl Tighten<'_> {
    /// Distance of the room for grown outlines from the edge of a sheet.
    fn edge(&self) -> f64 {
        self.demand.margin.0 + FLATTEN.0 - reach(self.demand.spacing)
    }
    fn task(&self, spots: &[Spot], blank: &Bin) -> Task {
        let mut place: BTreeMap<usize, usize> = BTreeMap::new();
        let mut forms = Vec::new();
        let items = spots.iter().map(|s| {
            let solid = self.items[s.item];
            *place.entry(solid).or_insert_with(|| {
                forms.push(CollisionShape::new(&Grown::new(&self.solids[solid], self.demand.spacing)));
                forms.len() - 1
            })
        });
        let items = items.collect();
        let edge = self.edge();
        let chain = self.chain(spots);
        let still = if self.spots_turn {
            Vec::new()
        } else {
            chain.iter().map(|c| c.iter().any(Option::is_some)).collect()
        };
        Task { forms, items, grain: self.grain, room: [edge, blank.width.0 - edge, edge], chain, still }
    }
    /// What stands before and after each spot of a sheet in the order of placing; empty if there is no order.
    fn chain(&self, spots: &[Spot]) -> Vec<[Option<usize>; 2]> {
        if self.order.is_empty() {
            return Vec::new();
        }
        let here: BTreeMap<usize, usize> = spots.iter().enumerate().map(|(k, s)| (s.item, k)).collect();
        let row: Vec<usize> = self.order.iter().filter_map(|i| here.get(i).copied()).collect();
        let mut chain = vec![[None, None]; spots.len()];
        for w in row.windows(2) {
            chain[w[0]][1] = Some(w[1]);
            chain[w[1]][0] = Some(w[0]);
        }
        chain
    }
    fn spots(spots: &[Spot], places: &[ShapePose]) -> Vec<Spot> {
        let spot = |(s, p): (&Spot, &ShapePose)| Spot {
            item: s.item,
            pose: Rigid::from_parts(p.cs[0], p.cs[1], Point::mm(p.x, p.y)),
        };
        spots.iter().zip(places).map(spot).collect()
    }
    /// The sheet with its pieces within a shorter length, and whether the search ran to its end.
    pub fn shorter(&self, sheet: &BinLayout, budget: u64, hear: &mut Hear) -> (BinLayout, bool) {
        let blank = &self.blanks[sheet.blank];
        let n = sheet.spots.len();
        if blank.shape.is_some() || !(2..=MOST_PIECES).contains(&n) {
            return (sheet.clone(), true);
        }
        let task = self.task(&sheet.spots, blank);
        let places = placed(&sheet.spots);
        let start = Layout::new(&task, &places, blank.height.0 - self.edge());
        let top = start.height();
        let most = task.hops(&places) * LONGER_HOPS;
        let mut judge = Gate { tighten: self, sheet, task: &task, most, top, hear, whole: true };
        let (places, _) = shrink(&task, &places, top, budget, Seed(n as u64), &mut judge);
        let whole = judge.whole;
        (BinLayout { blank: sheet.blank, spots: Self::spots(&sheet.spots, &places) }, whole)
    }
    /// All pieces on one sheet less, if the search finds room for those of the last one; and whether it ran
    /// to its end.
    pub fn fewer(
        &self,
        sheets: &[BinLayout],
        budget: u64,
        hear: &mut Hear,
    ) -> (Option<Vec<BinLayout>>, bool) {
        let Some((last, rest)) = sheets.split_last() else { return (None, true) };
        let Some(mut shared) = self.shared_out(last, rest) else { return (None, true) };
        let each = budget / shared.iter().filter(|s| !s.1.is_empty()).count().max(1) as u64;
        let mut spent = 0;
        for (sheet, more) in &mut shared {
            if more.is_empty() {
                continue;
            }
            match self.pressed_in(sheet, more, each, spent, hear) {
                Ok(filled) => *sheet = filled,
                Err(whole) => return (None, whole),
            }
            spent += each;
        }
        (Some(shared.into_iter().map(|s| s.0).collect()), true)
    }
    /// Which pieces of the last sheet go to which other, by the room that is left there; none if they are too
    /// full.
    fn shared_out(&self, last: &BinLayout, rest: &[BinLayout]) -> Option<Vec<(BinLayout, Vec<usize>)>> {
        let grown = |item: usize| {
            let g = Grown::new(&self.solids[self.items[item]], self.demand.spacing);
            g.rings.iter().map(|r| ring_area(r)).sum::<f64>()
        };
        let edge = self.edge();
        let mut room: Vec<f64> = Vec::new();
        for f in rest {
            let b = &self.blanks[f.blank];
            let whole = FULLEST * (b.width.0 - 2.0 * edge) * (b.height.0 - 2.0 * edge);
            let taken: f64 = f.spots.iter().map(|s| grown(s.item)).sum();
            room.push(if b.shape.is_some() { 0.0 } else { whole - taken });
        }
        let mut out: Vec<(BinLayout, Vec<usize>)> = rest.iter().map(|f| (f.clone(), Vec::new())).collect();
        let mut items: Vec<(f64, usize)> = last.spots.iter().map(|s| (grown(s.item), s.item)).collect();
        items.sort_by(|a, b| b.0.total_cmp(&a.0).then(a.1.cmp(&b.1)));
        for (area, item) in items {
            let at = (0..room.len()).max_by(|&a, &b| room[a].total_cmp(&room[b]).then(b.cmp(&a)))?;
            if room[at] < area || out[at].0.spots.len() + out[at].1.len() >= MOST_PIECES {
                return None;
            }
            room[at] -= area;
            out[at].1.push(item);
        }
        Some(out)
    }
    /// A sheet with more pieces pressed in among those it has, or whether the search ran to its end without
    /// finding one.
    fn pressed_in(
        &self,
        sheet: &BinLayout,
        more: &[usize],
        budget: u64,
        spent: u64,
        hear: &mut Hear,
    ) -> Result<BinLayout, bool> {
        let blank = &self.blanks[sheet.blank];
        let mut random = Random::new(Seed(more.len() as u64), "press in", sheet.spots.len() as u64);
        let mut spots = sheet.spots.clone();
        for &item in more {
            let turns = &self.solids[self.items[item]].turns;
            let t = turns[random.below(turns.len())];
            let m = self.demand.margin.0;
            let far = |side: f64, own: f64| m + (side - 2.0 * m - own).max(0.0);
            let corner = [
                random.between(m, far(blank.width.0, t.size[0]) + HAIR),
                random.between(m, far(blank.height.0, t.size[1]) + HAIR),
            ];
            spots.push(Spot { item, pose: t.pose(corner) });
        }
        let task = self.task(&spots, blank);
        let top = blank.height.0 - self.edge();
        let mut press =
            OverlapResolver::new(Layout::new(&task, &placed(&spots), top), Seed(spots.len() as u64));
        let mut whole = true;
        let mut go_on = |weighed: u64| {
            whole = hear(spent + weighed, blank.height).is_continue();
            whole && weighed < budget
        };
        let loss = press.separate(Patience { passes: 200, strikes: 3 }, &mut go_on);
        let filled = BinLayout { blank: sheet.blank, spots: Self::spots(&spots, &press.layout().places) };
        let kept = loss <= 0.0 && flaws(self.solids, self.items, &filled, blank, self.demand).is_empty();
        if kept { Ok(filled) } else { Err(whole) }
    }
}

fn placed(spots: &[Spot]) -> Vec<ShapePose> {
    let place = |s: &Spot| {
        let (c, sn, x, y) = s.pose.parts();
        ShapePose { x, y, turn: libm::atan2(sn, c), cs: [c, sn] }
    };
    spots.iter().map(place).collect()
}

struct Gate<'a, 'b, 'c> {
    tighten: &'a Tighten<'a>,
    sheet: &'a BinLayout,
    task: &'a Task,
    /// Longest that all hops together may be.
    most: f64,
    top: f64,
    hear: &'b mut Hear<'c>,
    whole: bool,
}

impl Judge for Gate<'_, '_, '_> {
    fn holds(&mut self, places: &[ShapePose], top: f64) -> bool {
        let t = self.tighten;
        let filled = BinLayout { blank: self.sheet.blank, spots: Tighten::spots(&self.sheet.spots, places) };
        let blank = &t.blanks[self.sheet.blank];
        let near = self.task.hops(places) <= self.most;
        let holds = near && flaws(t.solids, t.items, &filled, blank, t.demand).is_empty();
        if holds {
            self.top = top;
        }
        holds
    }
    fn go_on(&mut self, weighed: u64) -> ControlFlow<()> {
        let next = (self.hear)(weighed, Mm(self.top + self.tighten.edge()));
        self.whole = next.is_continue();
        next
    }
}
