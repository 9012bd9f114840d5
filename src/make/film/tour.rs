//! The shortest way over stops with some that must come before others: of few stops the very shortest, of
//! many nearest neighbour with free start, then 2-opt and Or-opt over neighbour lists, then kicks (a swap of
//! two neighbouring stretches, improved where it cut and taken back if the way got longer). The way is open:
//! it starts and ends where it likes.
//!
//! Sources: Held and Karp 1962 (the shortest way by subsets); Croes 1958 (2-opt); Or 1976 (Or-opt); Bentley
//! 1992 (neighbour lists, a queue of stops to look at); Martin, Otto and Felten 1991 (the double bridge as a
//! kick).
//!
//! Imports: base.

use crate::base::random::Random;

/// Where the blade comes down at a stop and where it lifts: the same point if it holds one outline.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Stop {
    /// Start of its first outline.
    pub enter: [f64; 2],
    /// Start of its last outline.
    pub leave: [f64; 2],
}

impl Stop {
    /// A stop that is left where it is entered.
    pub fn at(p: [f64; 2]) -> Stop {
        Stop { enter: p, leave: p }
    }
}

/// What must come before what, as pairs of places in the list of stops.
pub type Before = Vec<(usize, usize)>;

/// So many stops at most are put in their best order by trying all: a table of 2^10 x 10 lengths.
const FEW: usize = 10;
const NEIGHBOURS: usize = 8;
/// A gain below this, in millimetres, is rounding.
const GAIN: f64 = 1e-9;
/// Stops of which all travel is worked out before: a table of 2 MB, asked a hundred times for each kick.
const TABLED: usize = 512;
/// Longest stretch that a kick swaps.
const STRETCH: usize = 30;
/// Longest stretch that Or-opt moves.
const MOVED: usize = 3;

fn travel(s: &[Stop], a: usize, b: usize) -> f64 {
    let (p, q) = (s[a].leave, s[b].enter);
    ((p[0] - q[0]) * (p[0] - q[0]) + (p[1] - q[1]) * (p[1] - q[1])).sqrt()
}

/// Travel of an open way between its stops.
pub fn length(s: &[Stop], way: &[usize]) -> f64 {
    way.windows(2).map(|w| travel(s, w[0], w[1])).sum()
}

/// Does the way keep every pair in order?
pub fn keeps(way: &[usize], before: &Before) -> bool {
    let at = positions(way);
    before.iter().all(|&(a, b)| at[a] < at[b])
}

fn positions(way: &[usize]) -> Vec<usize> {
    let mut at = vec![0; way.len()];
    for (i, &v) in way.iter().enumerate() {
        at[v] = i;
    }
    at
}

/// Always to the nearest stop that may come next; the best of all starts (of at most 8, evenly picked).
pub fn nearest_neighbour(s: &[Stop], before: &Before) -> Vec<usize> {
    let n = s.len();
    let mut later: Vec<Vec<usize>> = vec![Vec::new(); n];
    let mut waiting = vec![0usize; n];
    for &(a, b) in before {
        later[a].push(b);
        waiting[b] += 1;
    }
    let from = |start: usize| -> Option<Vec<usize>> {
        let mut waits = waiting.clone();
        let mut rest: Vec<usize> = (0..n).filter(|&j| j != start).collect();
        let mut way = Vec::with_capacity(n);
        let mut here = start;
        loop {
            way.push(here);
            for &b in &later[here] {
                waits[b] -= 1;
            }
            let open = rest.iter().enumerate().filter(|&(_, &j)| waits[j] == 0);
            let far = open.map(|(k, &j)| (travel(s, here, j), j, k));
            match far.min_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1))) {
                Some((_, next, k)) => {
                    rest.swap_remove(k);
                    here = next;
                }
                None => return (way.len() == n).then_some(way),
            }
        }
    };
    let starts: Vec<usize> = (0..n).filter(|&v| waiting[v] == 0).collect();
    let ways = starts.iter().step_by(starts.len().div_ceil(8).max(1)).filter_map(|&v| from(v));
    ways.min_by(|a, b| length(s, a).total_cmp(&length(s, b))).unwrap_or_default()
}

/// The shortest way over all of few stops that keeps every pair in order: for each set of stops visited and
/// the last of them the shortest way so far. None if no order keeps them.
fn shortest(s: &[Stop], before: &Before) -> Option<Vec<usize>> {
    let n = s.len();
    let mut needs = vec![0usize; n];
    before.iter().for_each(|&(a, b)| needs[b] |= 1 << a);
    let all = (1 << n) - 1;
    // Length so far and the stop before the last; a set and its last stop tell the place.
    let mut best = vec![(f64::INFINITY, n); (all + 1) * n];
    for v in (0..n).filter(|&v| needs[v] == 0) {
        best[(1 << v) * n + v].0 = 0.0;
    }
    for set in 1..=all {
        for last in (0..n).filter(|&v| set & (1 << v) != 0) {
            let (so_far, _) = best[set * n + last];
            if so_far.is_infinite() {
                continue;
            }
            for next in (0..n).filter(|&v| set & (1 << v) == 0 && needs[v] & !set == 0) {
                let there = &mut best[(set | 1 << next) * n + next];
                let far = so_far + travel(s, last, next);
                if far < there.0 {
                    *there = (far, last);
                }
            }
        }
    }
    let mut last = (0..n).min_by(|&a, &b| best[all * n + a].0.total_cmp(&best[all * n + b].0))?;
    let (mut set, mut way) = (all, Vec::with_capacity(n));
    while last < n {
        if best[set * n + last].0.is_infinite() {
            return None;
        }
        way.push(last);
        let before_last = best[set * n + last].1;
        set &= !(1 << last);
        last = before_last;
    }
    way.reverse();
    Some(way)
}

/// Puts few stops in their best order; improves a longer way by 2-opt and Or-opt until neither helps, then by
/// so many kicks. Pairs stay in order.
pub fn improve(s: &[Stop], before: &Before, way: &mut Vec<usize>, kicks: u64, random: &mut Random) {
    if way.len() < 3 {
        return;
    }
    if s.len() <= FEW
        && let Some(best) = shortest(s, before)
    {
        *way = best;
        return;
    }
    searched(s, before, way, kicks, random);
}

fn searched(s: &[Stop], before: &Before, way: &mut Vec<usize>, kicks: u64, random: &mut Random) {
    let mut search = TourSearch::new(s, before, std::mem::take(way));
    search.settle();
    search.kept.clone_from(&search.way);
    for _ in 0..kicks {
        search.perturb(random);
    }
    *way = search.way;
}

/// A way in the making.
struct TourSearch<'a> {
    s: &'a [Stop],
    /// Travel from each stop to each, row by row; none where they are many.
    travels: Vec<f64>,
    /// Nearest stops of each, nearest first.
    near: Vec<Vec<usize>>,
    before: &'a Before,
    way: Vec<usize>,
    at: Vec<usize>,
    /// Stops at which a gain may be found, and whether a stop is among them.
    queue: Vec<usize>,
    queued: Vec<bool>,
    /// Is a stop left elsewhere than it is entered? A stretch that holds such stops has another length turned
    /// round.
    lopsided: Vec<bool>,
    /// How much longer the way is from its start to each place when it is walked backwards, as far as it is
    /// summed up.
    back: Vec<f64>,
    /// The way before the kick, to go back to.
    kept: Vec<usize>,
    /// What the moves since then have changed of the length, and the places they reached.
    change: f64,
    touched: (usize, usize),
}

impl<'a> TourSearch<'a> {
    fn new(s: &'a [Stop], before: &'a Before, way: Vec<usize>) -> Self {
        let n = s.len();
        let queue: Vec<usize> = way.iter().rev().copied().collect();
        Self {
            s,
            near: neighbours(s),
            travels: if n <= TABLED {
                (0..n * n).map(|k| travel(s, k / n, k % n)).collect()
            } else {
                Vec::new()
            },
            before,
            at: positions(&way),
            kept: way.clone(),
            way,
            queue,
            queued: vec![true; n],
            lopsided: s.iter().map(|x| x.enter != x.leave).collect(),
            back: Vec::with_capacity(n),
            change: 0.0,
            touched: (n, 0),
        }
    }
    /// Travel from one stop to another.
    #[inline]
    fn travel(&self, a: usize, b: usize) -> f64 {
        // An empty table has no place for any pair.
        self.travels.get(a * self.s.len() + b).copied().unwrap_or_else(|| travel(self.s, a, b))
    }
    /// Looks at every stop in the queue until none gives a gain.
    fn settle(&mut self) {
        while let Some(v) = self.queue.pop() {
            self.queued[v] = false;
            while self.two_opt(v) || self.or_opt(v) {}
        }
    }
    /// Swaps two neighbouring stretches, settles, and goes back if the way is longer than before.
    fn perturb(&mut self, random: &mut Random) {
        let n = self.way.len();
        self.change = 0.0;
        self.touched = (n, 0);
        let most = STRETCH.min(n / 2);
        let (one, two) = (1 + random.below(most), 1 + random.below(most));
        if one + two > n {
            return;
        }
        let from = random.below(n - one - two + 1);
        let (mid, end) = (from + one, from + one + two);
        let old = self.edge(from.wrapping_sub(1), from) + self.edge(mid - 1, mid) + self.edge(end - 1, end);
        let new = self.edge(from.wrapping_sub(1), mid) + self.edge(end - 1, from) + self.edge(mid - 1, end);
        self.change = new - old;
        self.way[from..end].rotate_left(one);
        self.settled_in(from, end);
        if self.before.iter().all(|&(a, b)| self.at[a] < self.at[b]) {
            for k in [from.wrapping_sub(1), from, from + two - 1, from + two, end - 1, end] {
                self.wake(k);
            }
            self.settle();
        } else {
            self.change = f64::INFINITY;
        }
        let (lo, hi) = self.touched;
        if self.change > -GAIN {
            self.way[lo..hi].copy_from_slice(&self.kept[lo..hi]);
            for k in lo..hi {
                self.at[self.way[k]] = k;
            }
            self.back.truncate(lo);
        } else {
            self.kept[lo..hi].copy_from_slice(&self.way[lo..hi]);
        }
    }
    /// Travel from place `i` to place `j` of the way, none beyond its ends.
    fn edge(&self, i: usize, j: usize) -> f64 {
        if i >= self.way.len() || j >= self.way.len() { 0.0 } else { self.travel(self.way[i], self.way[j]) }
    }
    /// How much longer the travel inside a stretch is when it is turned round: sums are kept up to where the
    /// way was last changed.
    fn turned(&mut self, from: usize, to: usize) -> f64 {
        while self.back.len() <= to {
            let k = self.back.len();
            let odd = |k: usize| self.lopsided[self.way[k]];
            let more =
                if k > 0 && (odd(k - 1) || odd(k)) { self.edge(k, k - 1) - self.edge(k - 1, k) } else { 0.0 };
            let before = self.back.last().copied().unwrap_or(0.0);
            self.back.push(before + more);
        }
        self.back[to] - self.back[from]
    }
    /// Places from..to hold other stops than before.
    fn settled_in(&mut self, from: usize, to: usize) {
        for k in from..to {
            self.at[self.way[k]] = k;
        }
        self.back.truncate(from);
        self.touched = (self.touched.0.min(from), self.touched.1.max(to));
    }
    fn wake(&mut self, place: usize) {
        if let Some(&v) = self.way.get(place)
            && !self.queued[v]
        {
            self.queued[v] = true;
            self.queue.push(v);
        }
    }
    /// Reversals that put a neighbour next to `v`, and those of a whole end of the way at `v`.
    fn two_opt(&mut self, v: usize) -> bool {
        let (n, i) = (self.way.len(), self.at[v]);
        if (i > 0 && self.reverse_if_shorter(0, i)) || (i + 1 < n && self.reverse_if_shorter(i, n - 1)) {
            return true;
        }
        let (behind, ahead) = (self.edge(i.wrapping_sub(1), i), self.edge(i, i + 1));
        for k in 0..self.near[v].len() {
            let c = self.near[v][k];
            let (d, j) = (self.travel(v, c), self.at[c]);
            if d >= behind.max(ahead) {
                break;
            }
            // v and c end up next to each other: v .. c turned from v's successor, or c .. v to its
            // predecessor.
            let found = if i < j {
                self.reverse_if_shorter(i + 1, j) || (j > 0 && self.reverse_if_shorter(i, j - 1))
            } else {
                self.reverse_if_shorter(j + 1, i) || (i > 0 && self.reverse_if_shorter(j, i - 1))
            };
            if found {
                return true;
            }
        }
        false
    }
    fn reverse_if_shorter(&mut self, from: usize, to: usize) -> bool {
        if from >= to {
            return false;
        }
        let old = self.edge(from.wrapping_sub(1), from) + self.edge(to, to + 1);
        let ends = self.edge(from.wrapping_sub(1), to) + self.edge(from, to + 1);
        let new = ends + self.turned(from, to);
        if new >= old - GAIN || !self.reversal_keeps(from, to) {
            return false;
        }
        self.change += new - old;
        self.way[from..=to].reverse();
        self.settled_in(from, to + 1);
        for k in [from.wrapping_sub(1), from, to, to + 1] {
            self.wake(k);
        }
        true
    }
    fn reversal_keeps(&self, from: usize, to: usize) -> bool {
        let within = |v: usize| (from..=to).contains(&self.at[v]);
        self.before.iter().all(|&(a, b)| !(within(a) && within(b)))
    }
    /// Moves of a stretch of one to three stops that starts or ends at `v` next to a neighbour, either way
    /// round.
    fn or_opt(&mut self, v: usize) -> bool {
        let n = self.way.len();
        for len in 1..=MOVED.min(n - 1) {
            let i = self.at[v];
            for from in [i, (i + 1).wrapping_sub(len)] {
                if from < n && from + len <= n && self.move_if_shorter(v, from, len) {
                    return true;
                }
                if len == 1 {
                    break;
                }
            }
        }
        false
    }
    fn move_if_shorter(&mut self, v: usize, from: usize, len: usize) -> bool {
        let (prior, last, next) = (from.wrapping_sub(1), from + len - 1, from + len);
        let saved = self.edge(prior, from) + self.edge(last, next) - self.edge(prior, next);
        if saved <= GAIN {
            return false;
        }
        for k in 0..self.near[v].len() {
            let c = self.near[v][k];
            if self.travel(v, c) >= saved {
                break;
            }
            let j = self.at[c];
            if (from..next).contains(&j) {
                continue;
            }
            // Between c and its successor, or its predecessor and c; the stretch as it is or turned round.
            for (a, b) in [(j, j + 1), (j.wrapping_sub(1), j)] {
                if (from..next).contains(&b) || (from..next).contains(&a) {
                    continue;
                }
                for turned in [false, true] {
                    let (first, end) = if turned { (last, from) } else { (from, last) };
                    let mut cost = self.edge(a, first) + self.edge(end, b) - self.edge(a, b);
                    // What is turned round is short: summed up as it stands.
                    if turned {
                        cost += (from..last).map(|k| self.edge(k + 1, k) - self.edge(k, k + 1)).sum::<f64>();
                    }
                    if cost < saved - GAIN && self.shift(from, len, b.min(self.way.len()), turned) {
                        self.change += cost - saved;
                        return true;
                    }
                }
            }
        }
        false
    }
    /// Pairs in order after a shift: none from the stretch to what it passes over, none inside if it is
    /// turned.
    fn shift_keeps(&self, from: usize, len: usize, to: usize, turned: bool) -> bool {
        let moved = |v: usize| (from..from + len).contains(&self.at[v]);
        let passed = |v: usize| if to > from { from + len..to } else { to..from }.contains(&self.at[v]);
        self.before.iter().all(|&(a, b)| {
            let (ahead, behind) = if to > from { (a, b) } else { (b, a) };
            !(moved(ahead) && passed(behind) || turned && moved(a) && moved(b))
        })
    }
    /// Moves a stretch so that it stands before what is at place `to` now; false (and nothing changed) if
    /// that would break a pair.
    fn shift(&mut self, from: usize, len: usize, to: usize, turned: bool) -> bool {
        let (lo, hi) = if to > from { (from, to) } else { (to, from + len) };
        let place = if to > from { to - len } else { to };
        let apply = |way: &mut [usize]| {
            if to > from {
                way[lo..hi].rotate_left(len);
            } else {
                way[lo..hi].rotate_right(len);
            }
            if turned {
                way[place..place + len].reverse();
            }
        };
        if !self.shift_keeps(from, len, to, turned) {
            return false;
        }
        let ends = [from.wrapping_sub(1), from + len, to.wrapping_sub(1), to];
        let stops: Vec<usize> = ends.iter().filter_map(|&k| self.way.get(k).copied()).collect();
        apply(&mut self.way);
        self.settled_in(lo, hi);
        for v in stops {
            self.wake(self.at[v]);
        }
        for k in place..place + len {
            self.wake(k);
        }
        true
    }
}

/// The nearest stops of each, by the shorter of the two ways between them.
fn neighbours(s: &[Stop]) -> Vec<Vec<usize>> {
    let order = |x: &(f64, usize), y: &(f64, usize)| x.0.total_cmp(&y.0).then(x.1.cmp(&y.1));
    let of = |a: usize| {
        let mut others: Vec<(f64, usize)> =
            (0..s.len()).filter(|&b| b != a).map(|b| (travel(s, a, b).min(travel(s, b, a)), b)).collect();
        if others.len() > NEIGHBOURS {
            others.select_nth_unstable_by(NEIGHBOURS, order);
            others.truncate(NEIGHBOURS);
        }
        others.sort_by(order);
        others.into_iter().map(|(_, b)| b).collect()
    };
    (0..s.len()).map(of).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::units::Seed;
    use proptest::prelude::*;

    fn shortest_of_all(s: &[Stop], before: &Before) -> f64 {
        fn go(s: &[Stop], before: &Before, way: &mut Vec<usize>, best: &mut f64) {
            if way.len() == s.len() {
                if keeps(way, before) {
                    *best = best.min(length(s, way));
                }
                return;
            }
            for v in 0..s.len() {
                if !way.contains(&v) {
                    way.push(v);
                    go(s, before, way, best);
                    way.pop();
                }
            }
        }
        let mut best = f64::INFINITY;
        go(s, before, &mut Vec::new(), &mut best);
        best
    }

    proptest! {
        /// Truth: all orders of seven stops tried. (Case 1: kicks alone left one of some thousand ways more
        /// than a quarter too long.)
        #[test]
        fn ways_are_whole_in_order_and_few_stops_in_their_best(
            p in prop::collection::vec((0.0..99.0f64, 0.0..99.0f64, prop::bool::weighted(0.3)), 7)
        ) {
            let stop = |(x, y, two)| Stop { enter: [x, y], leave: if two { [y, x] } else { [x, y] } };
            let s: Vec<Stop> = p.into_iter().map(stop).collect();
            for before in [vec![], vec![(3, 0), (5, 3)]] {
                let first = nearest_neighbour(&s, &before);
                for search in [improve, searched] {
                    let mut way = first.clone();
                    search(&s, &before, &mut way, 60, &mut Random::new(Seed(1), "tour", 0));
                    let mut sorted = way.clone();
                    sorted.sort_unstable();
                    prop_assert_eq!(sorted, (0..7).collect::<Vec<_>>());
                    prop_assert!(keeps(&way, &before));
                    prop_assert!(length(&s, &way) <= length(&s, &first) + 1e-9);
                }
                let mut way = first.clone();
                improve(&s, &before, &mut way, 0, &mut Random::new(Seed(1), "tour", 0));
                prop_assert!(length(&s, &way) <= shortest_of_all(&s, &before) + 1e-9);
            }
        }

        /// Fast equals slow: the length kept up by the moves is the length of the way.
        #[test]
        fn changes_add_up(p in prop::collection::vec((0.0..99.0f64, 0.0..99.0f64, 0.0..9.0f64), 12..60)) {
            let s: Vec<Stop> = p.iter().map(|&(x, y, d)| Stop { enter: [x, y], leave: [x + d, y] }).collect();
            let before = vec![(1, 0), (5, 9), (4, 9)];
            let mut search = TourSearch::new(&s, &before, nearest_neighbour(&s, &before));
            let mut now = length(&s, &search.way);
            search.settle();
            search.kept.clone_from(&search.way);
            now += search.change;
            prop_assert!((now - length(&s, &search.way)).abs() < 1e-7);
            for (a, b) in (0..s.len()).flat_map(|a| (0..s.len()).map(move |b| (a, b))) {
                prop_assert_eq!(search.travel(a, b), travel(&s, a, b));
            }
            let mut random = Random::new(Seed(2), "tour", 0);
            for _ in 0..50 {
                search.perturb(&mut random);
                let then = length(&s, &search.way);
                prop_assert!(then <= now + 1e-7 && keeps(&search.way, &before));
                prop_assert!(search.change > -GAIN || (now + search.change - then).abs() < 1e-7);
                now = then;
                prop_assert_eq!(&search.at, &positions(&search.way));
                let (from, to) = (search.way.len() / 4, search.way.len() - 1);
                let walked = |w: &[usize]| length(&s, w);
                let round: Vec<usize> = search.way[from..=to].iter().rev().copied().collect();
                let longer = walked(&round) - walked(&search.way[from..=to]);
                prop_assert!((search.turned(from, to) - longer).abs() < 1e-7);
                prop_assert_eq!(&search.kept, &search.way);
            }
        }
    }
}
