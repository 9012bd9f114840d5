//! [`gather`]: lines of the coverage to motifs: holes or not, specks or not, what belongs together, what the
//! sheet's edge cuts off, and numbers by place.
//!
//! Imports: base, outline, read::job.

use crate::base::frame::Sheet;
use crate::base::units::Mm;
use crate::outline::plane::{points_box, ring_area, ring_contains};
use crate::outline::{Flat, Join, PeriodicIndex, Ring};
use crate::read::job::{Holes, SheetSpec};

/// Rings smaller than this, mm2, are looked at no further: a pixel at 150 dpi is as large.
const NOTHING: f64 = 0.03;
/// Dots smaller than this part of a speck are dirt even beside a motif: a true one stays on the film of its border
/// all the same.
const DOT: f64 = 0.25;
/// A straight line is longer than this part of a side of the sheet and narrower than so many mm: a frame, the
/// film's own edge, the shade of a lid.
const LINE: (f64, f64) = (0.6, 1.0);
/// What lies this near to the sheet's edge, mm, reaches it; so long a run of it is cut off; its points stray
/// by no more than that from a straight line.
const EDGE: (f64, f64, f64) = (0.15, 2.5, 0.12);
/// Motifs whose middles lie within so many mm of height of the highest of them are one row.
const ROW: f64 = 12.0;
/// How near motifs are told of as near, beside what is put together.
const NEARLY: f64 = 1.5;

/// A motif as rings, before curves are laid through them.
#[derive(Clone, Debug, Default)]
pub struct Gathered {
    /// Outer rings counter-clockwise, holes clockwise; y upward.
    pub rings: Vec<Ring>,
    /// How many outer rings.
    pub parts: usize,
    /// Length of the sheet's edge that cuts it off, mm; 0 if none does.
    pub cut_off: f64,
}

/// What was gathered.
#[derive(Clone, Debug, Default)]
pub struct Harvest {
    /// By number.
    pub motifs: Vec<Gathered>,
    /// Specks left out.
    pub specks: usize,
    /// Straight lines left out.
    pub lines: usize,
    /// Pairs of motifs (by number) that are almost near enough to be one, and how far apart they are, mm.
    pub near: Vec<(u32, u32, f64)>,
}

/// A part: its outer ring and holes.
struct Part {
    outer: Ring,
    holes: Vec<Ring>,
}

/// Gathers rings (y upward, outer ones counter-clockwise) on a sheet of a size.
pub fn gather(rings: Vec<Ring>, spec: &SheetSpec, (width, height): (f64, f64)) -> Harvest {
    let mut harvest = Harvest::default();
    let mut parts = parts(rings, &spec.holes, spec.speck * DOT);
    parts.retain(|p| {
        let line = is_line(&p.outer, (width, height));
        harvest.lines += usize::from(line);
        !line
    });
    let flats: Vec<Flat<Sheet>> = parts.iter().map(|p| Flat::new(vec![p.outer.clone()], Mm::ZERO)).collect();
    let reach = Mm(spec.together.0 * NEARLY);
    let pairs: Vec<(usize, usize, f64)> = PeriodicIndex::new(&flats, &[], reach)
        .pairs(reach)
        .into_iter()
        .map(|(a, n)| (a, n.region, n.distance.0))
        .collect();
    let mut leader: Vec<usize> = (0..parts.len()).collect();
    for &(a, b, d) in &pairs {
        if d < spec.together.0 {
            let (a, b) = (root(&leader, a), root(&leader, b));
            leader[a.max(b)] = a.min(b);
        }
    }
    let mut groups: std::collections::BTreeMap<usize, Gathered> = Default::default();
    for (i, part) in parts.into_iter().enumerate() {
        let group = groups.entry(root(&leader, i)).or_default();
        group.parts += 1;
        group.rings.push(part.outer);
        group.rings.extend(part.holes);
    }
    let area = |g: &Gathered| g.rings.iter().map(|r| ring_area(r)).sum::<f64>();
    groups.retain(|_, g| {
        let speck = area(g) < spec.speck;
        harvest.specks += usize::from(speck);
        !speck
    });
    let order = numbered(&groups.values().map(|g| points_box(g.rings.iter().flatten())).collect::<Vec<_>>());
    let keys: Vec<usize> = groups.keys().copied().collect();
    let mut number = std::collections::BTreeMap::new();
    for (n, &i) in order.iter().enumerate() {
        number.insert(keys[i], n as u32 + 1);
        let mut motif = groups[&keys[i]].clone();
        motif.cut_off = cut_off(&motif.rings, (width, height));
        harvest.motifs.push(motif);
    }
    for (a, b, d) in pairs {
        let (a, b) = (number.get(&root(&leader, a)), number.get(&root(&leader, b)));
        if let (Some(&a), Some(&b)) = (a, b)
            && a != b
        {
            harvest.near.push((a.min(b), a.max(b), d));
        }
    }
    harvest.near.sort_by(|p, q| (p.0, p.1).cmp(&(q.0, q.1)).then(p.2.total_cmp(&q.2)));
    harvest.near.dedup_by_key(|p| (p.0, p.1));
    harvest
}

fn root(leader: &[usize], mut i: usize) -> usize {
    while leader[i] != i {
        i = leader[i];
    }
    i
}

/// Outer rings with the holes that count; what lies in a hole that does not count is part of what it lies in.
fn parts(rings: Vec<Ring>, holes: &Holes, least: f64) -> Vec<Part> {
    let (mut outer, inner): (Vec<Ring>, Vec<Ring>) =
        rings.into_iter().filter(|r| ring_area(r).abs() >= NOTHING).partition(|r| ring_area(r) > 0.0);
    outer.retain(|r| ring_area(r) >= least);
    let boxes: Vec<[f64; 4]> = outer.iter().map(points_box).collect();
    let areas: Vec<f64> = outer.iter().map(|r| ring_area(r)).collect();
    let holder = |p: [f64; 2], least: f64| {
        let may = (0..outer.len()).filter(|&i| {
            let b = boxes[i];
            areas[i] > least && p[0] >= b[0] && p[1] >= b[1] && p[0] <= b[2] && p[1] <= b[3]
        });
        may.filter(|&i| ring_contains(&outer[i], p)).min_by(|&a, &b| areas[a].total_cmp(&areas[b]))
    };
    let mut own: Vec<Vec<Ring>> = outer.iter().map(|_| Vec::new()).collect();
    for hole in inner {
        if counts(&hole, holes)
            && let Some(i) = holder(hole[0], -ring_area(&hole))
        {
            own[i].push(hole);
        }
    }
    // An island in what is filled is gone with it.
    let covered = |i: usize| {
        let p = outer[i][0];
        holder(p, areas[i]).is_some_and(|j| own[j].iter().all(|h| !ring_contains(h, p)))
    };
    let covered: Vec<bool> = (0..outer.len()).map(covered).collect();
    let all = outer.into_iter().zip(own).zip(covered);
    all.filter(|(_, covered)| !covered).map(|((outer, holes), _)| Part { outer, holes }).collect()
}

/// Is a hole large and wide enough to be one?
fn counts(hole: &Ring, how: &Holes) -> bool {
    let Holes::Kept { least, wide } = *how else { return false };
    if -ring_area(hole) < least {
        return false;
    }
    let filled: Ring = hole.iter().rev().copied().collect();
    Flat::<Sheet>::new(vec![filled], Mm::ZERO).offset(wide * -0.5, Join::Round).area() > 0.0
}

fn is_line(ring: &Ring, (width, height): (f64, f64)) -> bool {
    let [x0, y0, x1, y1] = points_box(ring);
    let long = (x1 - x0).max(y1 - y0);
    let of = if x1 - x0 > y1 - y0 { width } else { height };
    // A closed frame is two rings: the outer one is as large as the sheet, and mostly hole.
    long > LINE.0 * of && ring_area(ring) / long < LINE.1
}

/// Places in the order of their numbers: rows from the top, each from the left.
fn numbered(boxes: &[[f64; 4]]) -> Vec<usize> {
    let middle = |i: usize| {
        let b = boxes[i];
        ((b[0] + b[2]) / 2.0, (b[1] + b[3]) / 2.0)
    };
    let mut order: Vec<usize> = (0..boxes.len()).collect();
    order.sort_by(|&a, &b| middle(b).1.total_cmp(&middle(a).1).then(a.cmp(&b)));
    let mut from = 0;
    while from < order.len() {
        let top = middle(order[from]).1;
        let row = order[from..].iter().take_while(|&&i| top - middle(i).1 < ROW).count();
        order[from..from + row].sort_by(|&a, &b| middle(a).0.total_cmp(&middle(b).0).then(a.cmp(&b)));
        from += row;
    }
    order
}

/// How much of the sheet's edge cuts a motif off: the longest straight run of its points along a side.
fn cut_off(rings: &[Ring], (width, height): (f64, f64)) -> f64 {
    type Off = fn([f64; 2], f64, f64) -> (f64, f64);
    // How far off the side, and how far along it.
    let sides: [Off; 4] = [
        |p, _, _| (p[0], p[1]),
        |p, w, _| (w - p[0], p[1]),
        |p, _, _| (p[1], p[0]),
        |p, _, h| (h - p[1], p[0]),
    ];
    let one = |off: &Off| {
        let near: Vec<(f64, f64)> =
            rings.iter().flatten().map(|&p| off(p, width, height)).filter(|o| o.0 < EDGE.0).collect();
        let (low, high) =
            near.iter().fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), o| (l.min(o.1), h.max(o.1)));
        let n = near.len() as f64;
        let mean = near.iter().map(|o| o.0).sum::<f64>() / n;
        let strays = (near.iter().map(|o| (o.0 - mean) * (o.0 - mean)).sum::<f64>() / n).sqrt();
        if high - low >= EDGE.1 && strays < EDGE.2 { high - low } else { 0.0 }
    };
    sides.iter().map(one).fold(0.0, f64::max)
}
