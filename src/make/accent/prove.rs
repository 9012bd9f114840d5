//! [`saturate`]: proof that no shape of the library fits anywhere any more, by branch and bound over place
//! and turn.
//!
//! A box of poses (a square of places, an interval of turns) is refuted when some disc inside the shape stays
//! too near to an outline for every pose of the box: a disc of radius r round the point m of the shape moves
//! by at most h sqrt 2 + |m| w within the box (h and w its half-widths), and needs the distance asked for
//! plus r. Discs of radius 0 on the outline make the refutation exact in the limit. The distance asked for is
//! taken [`ACCENT_SLACK`] larger here than what is accepted, so that a box on the border is decided one way
//! or the other at a finite size (exact saturation by subdividing place and turn: Zhang, arXiv 1803.08348;
//! Ciesla et al., arXiv 1911.12626). A pose that does fit is settled and placed.
//!
//! Imports: base, outline, read::job, make::accent::{template, obstacle_grid, distance_field, near, contact, greedy,
//! discs}.

use super::discs::{Discs, discs};
use super::greedy::{FillParams, SpotCandidate, home, place};
use super::near::{Near, STEP, distance};
use super::outline::{V, add};
use super::template::Template;
use crate::base::tolerance::ACCENT_SLACK;
use crate::make::accent::contact::{Pose, grow_to_contact};
use crate::make::accent::distance_field::DistanceField;
use crate::make::accent::obstacle_grid::ObstacleGrid;
use crate::read::job::SpotTurn;
use rayon::prelude::*;
use serde::Serialize;
use std::f64::consts::{PI, SQRT_2};

/// What a proof of saturation came to.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize)]
pub struct Saturation {
    /// Shapes of the library that were asked about, each at its smallest size.
    pub shapes: usize,
    /// Boxes of poses looked at.
    pub boxes: u64,
    /// Spots that still found a place and were added.
    pub added: usize,
    /// Boxes that could be neither refuted nor filled: 0 is a proof.
    pub undecided: u64,
}

impl Saturation {
    /// Of two fills of the same shapes.
    pub(super) fn and(&self, other: &Saturation) -> Saturation {
        Saturation {
            shapes: self.shapes.max(other.shapes),
            boxes: self.boxes + other.boxes,
            added: self.added + other.added,
            undecided: self.undecided + other.undecided,
        }
    }
}

struct ProofShape<'a> {
    template: &'a Template,
    index: usize,
    least: f64,
    discs: Discs,
    /// Farthest of their middles from the origin.
    far: f64,
}

/// Half of a square's side, as a part of the distance asked for, at which turns are asked about: discs move
/// little then.
const SQUARE: f64 = 0.1;
/// Squares whose middles lie no farther than this from the first of them, in x and y, share what was asked of
/// the world, mm.
const TOGETHER: f64 = 4.0;
/// Boxes below this half-width, mm, that are still open are undecided: a tenth of the slack.
const FINEST: f64 = 0.1;

/// Discs that a whole proof may ask about, some seconds of one processor: drawings of the maker's that
/// are large beside the voids and of many nodes ask for more.
const QUESTIONS: u64 = 40_000_000;
/// What a run of squares may ask at least, however many there are.
const LEAST: u64 = 600;
/// Runs of squares that questions are dealt out to at a time.
const AT_ONCE: usize = 64;

/// Fills what is left for any shape at its smallest size, until it is proven that nothing is.
pub(super) fn saturate(
    kit: &FillParams,
    world: &mut ObstacleGrid,
    field: &mut DistanceField,
    drafts: &mut Vec<SpotCandidate>,
) -> Saturation {
    let shapes = shapes(kit);
    let mut out = Saturation { shapes: shapes.len(), ..Saturation::default() };
    let slimmest = shapes.iter().map(|s| s.discs.largest()).fold(f64::INFINITY, f64::min);
    let asking = Asking::new(kit, field, &shapes);
    // The raster's distances are never too small, and fall by at most the way.
    let middles = field.at_least(asking.need + slimmest - asking.half * SQRT_2);
    // What is refuted stays refuted when more stands on the wall: threads change the time, not the fill.
    let (first, mut left) = asking.all(world, field, &middles);
    for (middle, (mut draft, mut told)) in middles.into_iter().zip(first) {
        out.boxes += told.boxes;
        let mut again = out.added > 0 && (draft.is_some() || told.undecided > 0);
        loop {
            if again {
                for (found, asked) in asking.of(world, field, &[middle], left.max(LEAST)) {
                    (draft, told) = (found, asked);
                    out.boxes += told.boxes;
                    left = left.saturating_sub(told.questions);
                }
            }
            let Some(one) = draft.take() else { break };
            place(world, Some(field), kit.first + drafts.len(), &one.ring);
            drafts.push(one);
            out.added += 1;
            again = true;
        }
        out.undecided += told.undecided;
    }
    out
}

/// The library of a fill as the proof asks for it.
fn shapes<'a>(kit: &FillParams<'a>) -> Vec<ProofShape<'a>> {
    let shape = |(index, template): (usize, &'a Template)| {
        let least = kit.least(template);
        let discs = discs(template, least, kit.need);
        let far = discs.all.iter().map(|m| m.far).fold(0.0, f64::max);
        ProofShape { template, index, least, discs, far }
    };
    kit.library.iter().enumerate().map(shape).collect()
}

/// What is asked of every square of the raster.
struct Asking<'a, 'b> {
    kit: &'a FillParams<'b>,
    need: f64,
    shapes: &'a [ProofShape<'b>],
    /// Half of a square's side.
    half: f64,
}

impl<'a, 'b> Asking<'a, 'b> {
    fn new(kit: &'a FillParams<'b>, field: &DistanceField, shapes: &'a [ProofShape<'b>]) -> Self {
        Asking { kit, need: kit.need + ACCENT_SLACK.get(), shapes, half: field.pixel / 2.0 }
    }
    /// Of every square what [`Asking::of`] says, side by side, and the questions that are left. They are dealt out
    /// to so many runs of squares at a time, so that threads do not change who gets them.
    fn all(
        &self,
        world: &ObstacleGrid,
        field: &DistanceField,
        middles: &[V],
    ) -> (Vec<(Option<SpotCandidate>, SquareVerdict)>, u64) {
        let (mut out, mut left) = (Vec::with_capacity(middles.len()), QUESTIONS);
        for runs in together(middles).chunks(AT_ONCE) {
            let each = (2 * left / runs.len() as u64).max(LEAST);
            let told = runs.par_iter().with_max_len(1).map(|m| self.of(world, field, m, each));
            for (draft, told) in told.collect::<Vec<_>>().into_iter().flatten() {
                left = left.saturating_sub(told.questions);
                out.push((draft, told));
            }
        }
        (out, left)
    }
    /// Of each of some squares that lie near the first: a spot that fits, or none. Beyond so many questions what
    /// is still open is undecided.
    fn of(
        &self,
        world: &ObstacleGrid,
        field: &DistanceField,
        middles: &[V],
        questions: u64,
    ) -> Vec<(Option<SpotCandidate>, SquareVerdict)> {
        let most = |of: fn(&ProofShape) -> f64| self.shapes.iter().map(of).fold(0.0, f64::max);
        let reach = self.half + TOGETHER + most(|s| s.far);
        let Some(&first) = middles.first() else { return Vec::new() };
        let near = Near::new(first, reach, self.need + most(|s| s.discs.largest()) + STEP);
        let (kit, need, shapes) = (self.kit, self.need, self.shapes);
        let (told, open, asked) = (SquareVerdict::default(), Vec::new(), Vec::new());
        let left = questions;
        let mut prover = Prover { kit, need, world, field, shapes, near, told, left, open, asked };
        let all: Vec<usize> = (0..shapes.len()).collect();
        let mut one = |middle: &V| {
            let draft = prover.square(*middle, self.half, &all);
            (draft, std::mem::take(&mut prover.told))
        };
        middles.iter().map(&mut one).collect()
    }
}

/// Runs of places that lie near their first one.
fn together(middles: &[V]) -> Vec<&[V]> {
    let mut rest = middles;
    let mut out = Vec::new();
    while let Some(first) = rest.first() {
        let apart = |p: &V| (p[0] - first[0]).abs().max((p[1] - first[1]).abs()) > TOGETHER;
        let (run, after) = rest.split_at(rest.iter().position(apart).unwrap_or(rest.len()));
        out.push(run);
        rest = after;
    }
    out
}

/// What the search for poses in one square came to.
#[derive(Clone, Copy, Default)]
struct SquareVerdict {
    boxes: u64,
    undecided: u64,
    /// Discs asked about.
    questions: u64,
}

struct Prover<'a, 'b> {
    kit: &'a FillParams<'a>,
    need: f64,
    world: &'a ObstacleGrid,
    field: &'a DistanceField,
    shapes: &'a [ProofShape<'b>],
    near: Near,
    told: SquareVerdict,
    /// Questions that it may still ask.
    left: u64,
    /// Work space: where discs are, how far they move, what they ask, the most room they have, their numbers.
    open: Vec<(V, f64, f64, f64, u16)>,
    /// Which discs a box was asked with already.
    asked: Vec<bool>,
}

impl Prover<'_, '_> {
    /// Refutes all shapes with their origin in a square, or gives one that fits: by their largest discs
    /// alone, down to squares that are small beside the distance asked for, then by intervals of turns.
    fn square(&mut self, at: V, half: f64, open: &[usize]) -> Option<SpotCandidate> {
        let (world, field) = (self.world, self.field);
        self.told.boxes += 1;
        let most = open.iter().map(|&i| self.shapes[i].discs.largest()).fold(0.0, f64::max);
        let d = distance(world, field, at, self.need + most + half * SQRT_2);
        // The largest disc of a shape is round its origin: it does not care for the turn.
        let left: Vec<usize> = open
            .iter()
            .copied()
            .filter(|&i| d + half * SQRT_2 >= self.need + self.shapes[i].discs.largest())
            .collect();
        if left.is_empty() {
            return None;
        }
        if half > SQUARE * self.need {
            let q = half / 2.0;
            return [[-q, -q], [q, -q], [-q, q], [q, q]]
                .into_iter()
                .find_map(|o| self.square(add(at, o), q, &left));
        }
        let (turn, wide) = match self.kit.turn {
            // The generator turns by less than this within the square.
            SpotTurn::Upright => (self.kit.heading(world, at).unwrap_or(0.0), 4.0 * half / world.apex(at)),
            SpotTurn::Along | SpotTurn::Free => (0.0, PI),
        };
        for i in left {
            // Into so many parts that points of the outline can refute them at all.
            let mut parts = 1u32;
            while self.shapes[i].far * wide > self.need * f64::from(parts) {
                parts *= 2;
            }
            let w = wide / f64::from(parts);
            let middles = (0..parts).map(|k| turn - wide + w * f64::from(2 * k + 1));
            for turn in middles {
                if let Some(draft) = self.poses(i, (at, half), (turn, w), (&[], true)) {
                    return Some(draft);
                }
            }
        }
        None
    }
    /// The same for one shape and an interval of turns.
    ///
    /// `listed` are the discs that may refute the box. One that had room at the middle of the box around
    /// cannot: from there to here it moves by as much as its reach within the box has shrunk. So every second
    /// box is asked with the short list that the one around found, tightest first; the next ones ask these
    /// first, and then (`whole`) the others.
    fn poses(
        &mut self,
        i: usize,
        (at, half): (V, f64),
        (turn, wide): (f64, f64),
        (listed, whole): (&[u16], bool),
    ) -> Option<SpotCandidate> {
        self.told.boxes += 1;
        if self.left == 0 {
            self.told.undecided += 1;
            return None;
        }
        let shape = &self.shapes[i];
        let off = half * SQRT_2;
        let reach = off + shape.far * wide;
        let small = reach < 0.35;
        let turned = (libm::cos(turn), libm::sin(turn));
        let (mut tight, mut feasible) = self.tight_places(i, (at, off), (turned, wide), (listed, whole))?;
        tight.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
        let list: Vec<u16> = tight.iter().map(|t| t.1).collect();
        // Where nothing was tight a short list would refute nothing.
        let next = (list.as_slice(), !whole || list.is_empty());
        feasible &= small;
        let finest = reach < FINEST * ACCENT_SLACK.get();
        if (feasible || reach < 0.35)
            && let Some(found) = self.tried(i, Pose { at, turn, size: shape.least }, reach, feasible)
        {
            return Some(found);
        }
        if finest {
            self.told.undecided += 1;
            return None;
        }
        // The larger of the two uncertainties is halved.
        if off >= shape.template.radius * shape.least * wide {
            let q = half / 2.0;
            return [[-q, -q], [q, -q], [-q, q], [q, q]]
                .into_iter()
                .find_map(|o| self.poses(i, (add(at, o), q), (turn, wide), next));
        }
        let w = wide / 2.0;
        [turn - w, turn + w].into_iter().find_map(|t| self.poses(i, (at, half), (t, w), next))
    }
    /// The places of an outline that have too little room at the middle of a box of poses, by how much, and
    /// whether the middle itself may hold; `None` if no pose of the box can hold.
    #[allow(clippy::type_complexity, reason = "two halves of one inner loop")]
    fn tight_places(
        &mut self,
        i: usize,
        (at, off): (V, f64),
        ((c, s), wide): ((f64, f64), f64),
        (listed, whole): (&[u16], bool),
    ) -> Option<(Vec<(f64, u16)>, bool)> {
        let (world, field, shape) = (self.world, self.field, &self.shapes[i]);
        let reach = off + shape.far * wide;
        let small = reach < 0.35;
        let n = shape.discs.all.len() as u16;
        let mut feasible = true;
        // What has too little room at the middle, least first, then what was not asked.
        let mut tight: Vec<(f64, u16)> = Vec::new();
        // Coarse boxes ask few of the outline's points, small ones all of them.
        let some = if whole { shape.discs.enough(reach) } else { 0 };
        let mut known = std::mem::take(&mut self.asked);
        known.clear();
        known.resize(usize::from(n), false);
        listed.iter().for_each(|j| known[usize::from(*j)] = true);
        let all = (0..if small { n } else { some }).filter(|j| !known[usize::from(*j)]);
        // What the raster leaves open; what is most likely to refute goes first.
        let mut open = std::mem::take(&mut self.open);
        open.clear();
        let mut likely = (f64::INFINITY, 0);
        for j in listed.iter().copied().chain(all) {
            let m = &shape.discs.all[usize::from(j)];
            (self.told.questions, self.left) = (self.told.questions + 1, self.left.saturating_sub(1));
            let q = [c * m.at[0] - s * m.at[1] + at[0], s * m.at[0] + c * m.at[1] + at[1]];
            let (moved, asked) = (off + m.far * wide, self.need + m.radius);
            let (most, least, about) = self.near.between(world, field, q);
            if most + moved < asked {
                (self.open, self.asked) = (open, known);
                return None;
            }
            if least >= asked {
                continue;
            }
            // It cannot refute the box, and may stand in the way of a smaller one.
            if least + moved >= asked && (!small || most < asked) {
                feasible = false;
                tight.push((about - asked, j));
                continue;
            }
            if most + moved - asked < likely.0 {
                likely = (most + moved - asked, open.len());
            }
            open.push((q, moved, asked, most, j));
        }
        self.asked = known;
        if likely.1 > 0 {
            open.swap(0, likely.1);
        }
        for &(q, moved, asked, most, j) in &open {
            let d = distance(world, field, q, asked.min(most));
            if d + moved < asked {
                self.open = open;
                return None;
            }
            if d < asked {
                feasible = false;
                tight.push((d - asked, j));
            }
        }
        self.open = open;
        Some((tight, feasible))
    }
    /// A spot grown from the middle of a box of poses, if one holds there.
    fn tried(&self, i: usize, start: Pose, reach: f64, feasible: bool) -> Option<SpotCandidate> {
        let (world, shape) = (self.world, &self.shapes[i]);
        let finest = reach < FINEST * ACCENT_SLACK.get();
        if !(feasible || (0.17..0.35).contains(&reach) || finest) {
            return None;
        }
        let rules = crate::make::accent::contact::Rules {
            most: (1.3 * shape.least).min(self.kit.most(shape.template)),
            steps: if feasible { 6 } else { 3 },
            ..self.kit.rules(shape.template)
        };
        let spot = |(pose, ring)| {
            home(world, SpotCandidate { template: shape.index, pose, ring, bends: Vec::new() })
        };
        let ring = start.ring(shape.template);
        let grown = || grow_to_contact(world, None, shape.template, start, &rules, None);
        // What is asked here has the slack on top: at the finest size what nearly has it holds by itself.
        if (feasible || finest) && world.holds(&ring, self.kit.need, None) {
            return Some(spot(grown().unwrap_or((start, ring))));
        }
        grown()
            .filter(|(_, ring)| self.kit.turn == SpotTurn::Free || world.holds(ring, self.kit.need, None))
            .map(spot)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::diag::{Diagnostics, KeyPath};
    use crate::base::units::Mm;
    use crate::make::accent::tests::{room, task, wishes};
    use crate::make::accent::{FillStage, check};
    use crate::read::job::AccentSpec;

    /// The twin of squares that are asked side by side: one after another, each of the world as it then is.
    fn one_by_one(
        kit: &FillParams,
        world: &mut ObstacleGrid,
        field: &mut DistanceField,
        drafts: &mut Vec<SpotCandidate>,
    ) -> (usize, u64) {
        let shapes = shapes(kit);
        let asking = Asking::new(kit, field, &shapes);
        let (mut added, mut undecided) = (0, 0);
        for middle in field.at_least(kit.need) {
            while let Some((found, told)) = asking.of(world, field, &[middle], QUESTIONS).pop() {
                let Some(draft) = found else {
                    undecided += told.undecided;
                    break;
                };
                place(world, Some(field), kit.first + drafts.len(), &draft.ring);
                drafts.push(draft);
                added += 1;
            }
        }
        (added, undecided)
    }

    /// From a bare wall, where the first finds change what is asked of all others; on one thread and on four.
    #[test]
    fn squares_asked_side_by_side_give_what_they_give_one_by_one() {
        let room = room(36.0, 28.0, 60.0, 4, 3);
        let spec = AccentSpec { smallest: Mm(9.0), ..wishes(&["pebble", "crescent"], 3.0) };
        let (at, mut found) = (KeyPath::of("accent"), Diagnostics::new());
        let library = check::library(&task(&room, &spec, 3, &at), &mut found).expect("no faults");
        let library = &library[..6];
        let fresh = || FillStage::new(&room, &spec, library);
        let mut plain = fresh();
        let mut want = Vec::new();
        let kit = plain.kit(&spec, library);
        let (added, undecided) = one_by_one(&kit, &mut plain.world, &mut plain.field, &mut want);
        assert!(added > 8, "{added}");
        for threads in [1, 4] {
            let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().expect("threads");
            let (mut stage, mut drafts) = (fresh(), Vec::new());
            let came = pool.install(|| saturate(&kit, &mut stage.world, &mut stage.field, &mut drafts));
            assert_eq!((came.added, came.undecided), (added, undecided));
            assert!(drafts == want, "{threads}");
        }
    }
}
