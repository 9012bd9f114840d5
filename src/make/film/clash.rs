//! Do two grown outlines overlap, and how deep: the question that the improving search asks millions of
//! times.
//!
//! Edges stand in blocks of eight, each with its box: blocks whose boxes meet are asked edge against eight
//! edges in 32-bit floats (a layout counts only once the gate has measured it in 64). Depth is told by the
//! discs of both.
//!
//! Imports: make::film::grown.

use super::grown::Grown;

/// Edges that are asked together.
const BLOCK: usize = 8;

/// An outline ready to be put anywhere, about its own origin.
#[derive(Clone, Debug)]
pub struct CollisionShape {
    from: Vec<[f32; 2]>,
    to: Vec<[f32; 2]>,
    discs: Vec<[f32; 3]>,
    /// Lengths by which the depth of an overlap counts: the side of a square as large as its hull, and its
    /// extent.
    pub bulk: f32,
    /// Longest extent.
    pub extent: f32,
}

/// Where a form lies.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ShapePose {
    /// Its origin.
    pub x: f64,
    /// Its origin.
    pub y: f64,
    /// Counter-clockwise, radians.
    pub turn: f64,
    /// Cosine and sine of the turn.
    pub cs: [f64; 2],
}

impl ShapePose {
    /// At a turn whose cosine and sine are worked out here.
    pub fn new(x: f64, y: f64, turn: f64) -> ShapePose {
        ShapePose { x, y, turn, cs: [libm::cos(turn), libm::sin(turn)] }
    }
    /// The same turn elsewhere.
    #[must_use]
    pub fn at(self, x: f64, y: f64) -> ShapePose {
        ShapePose { x, y, ..self }
    }
}

/// A box: lowest and highest corner.
pub type Box4 = [f32; 4];

/// Do two boxes share more than an edge?
pub fn meet(a: &Box4, b: &Box4) -> bool {
    a[0] < b[2] && b[0] < a[2] && a[1] < b[3] && b[1] < a[3]
}

fn holds(a: &Box4, b: &Box4) -> bool {
    a[0] <= b[0] && a[1] <= b[1] && a[2] >= b[2] && a[3] >= b[3]
}

/// A form at its place.
#[derive(Clone, Debug, Default)]
pub struct EdgeBlocks {
    ax: Vec<f32>,
    ay: Vec<f32>,
    bx: Vec<f32>,
    by: Vec<f32>,
    boxes: Vec<Box4>,
    px: Vec<f32>,
    py: Vec<f32>,
    pr: Vec<f32>,
    /// The box of all.
    pub bounds: Box4,
}

impl CollisionShape {
    /// From a grown outline.
    pub fn new(g: &Grown) -> CollisionShape {
        let narrow = |p: [f64; 2]| [p[0] as f32, p[1] as f32];
        let (mut from, mut to) = (Vec::new(), Vec::new());
        for ring in &g.rings {
            for i in 0..ring.len() {
                from.push(narrow(ring[i]));
                to.push(narrow(ring[(i + 1) % ring.len()]));
            }
            while from.len() % BLOCK != 0 {
                // Edges without length meet nothing.
                from.push(narrow(ring[0]));
                to.push(narrow(ring[0]));
            }
        }
        CollisionShape {
            from,
            to,
            discs: g.discs.iter().map(|d| [d[0] as f32, d[1] as f32, d[2] as f32]).collect(),
            bulk: g.hull_area.sqrt() as f32,
            extent: g.extent as f32,
        }
    }
    /// The form turned about its origin, into `set`.
    pub fn turned_into(&self, cs: [f64; 2], set: &mut EdgeBlocks) {
        let (c, s) = (cs[0] as f32, cs[1] as f32);
        let x = |p: &[f32; 2]| c * p[0] - s * p[1];
        let y = |p: &[f32; 2]| s * p[0] + c * p[1];
        refill(&mut set.ax, self.from.iter().map(x));
        refill(&mut set.ay, self.from.iter().map(y));
        refill(&mut set.bx, self.to.iter().map(x));
        refill(&mut set.by, self.to.iter().map(y));
        refill(&mut set.px, self.discs.iter().map(|d| c * d[0] - s * d[1]));
        refill(&mut set.py, self.discs.iter().map(|d| s * d[0] + c * d[1]));
        refill(&mut set.pr, self.discs.iter().map(|d| d[2]));
        set.boxes.clear();
        for k in (0..self.from.len()).step_by(BLOCK) {
            let (xs, ys) = (&set.ax[k..k + BLOCK], &set.ay[k..k + BLOCK]);
            let (us, vs) = (&set.bx[k..k + BLOCK], &set.by[k..k + BLOCK]);
            let mut b = [f32::INFINITY, f32::INFINITY, f32::NEG_INFINITY, f32::NEG_INFINITY];
            for i in 0..BLOCK {
                b[0] = b[0].min(xs[i]).min(us[i]);
                b[1] = b[1].min(ys[i]).min(vs[i]);
                b[2] = b[2].max(xs[i]).max(us[i]);
                b[3] = b[3].max(ys[i]).max(vs[i]);
            }
            set.boxes.push(b);
        }
        let all = [f32::INFINITY, f32::INFINITY, f32::NEG_INFINITY, f32::NEG_INFINITY];
        set.bounds = set
            .boxes
            .iter()
            .fold(all, |a, b| [a[0].min(b[0]), a[1].min(b[1]), a[2].max(b[2]), a[3].max(b[3])]);
    }
}

fn refill(to: &mut Vec<f32>, from: impl Iterator<Item = f32>) {
    to.clear();
    to.extend(from);
}

impl EdgeBlocks {
    /// Takes the turned form `home` (about its origin) to its place.
    pub fn moved_from(&mut self, home: &EdgeBlocks, x: f64, y: f64) {
        let (x, y) = (x as f32, y as f32);
        refill(&mut self.ax, home.ax.iter().map(|v| v + x));
        refill(&mut self.ay, home.ay.iter().map(|v| v + y));
        refill(&mut self.bx, home.bx.iter().map(|v| v + x));
        refill(&mut self.by, home.by.iter().map(|v| v + y));
        refill(&mut self.px, home.px.iter().map(|v| v + x));
        refill(&mut self.py, home.py.iter().map(|v| v + y));
        self.pr.clone_from(&home.pr);
        self.boxes.clear();
        self.boxes.extend(home.boxes.iter().map(|b| [b[0] + x, b[1] + y, b[2] + x, b[3] + y]));
        let b = home.bounds;
        self.bounds = [b[0] + x, b[1] + y, b[2] + x, b[3] + y];
    }
    /// Do the two overlap?
    pub fn clashes(&self, o: &EdgeBlocks) -> bool {
        meet(&self.bounds, &o.bounds)
            && (self.edges_cross(o)
                || (holds(&o.bounds, &self.bounds) && o.encloses(self.ax[0], self.ay[0]))
                || (holds(&self.bounds, &o.bounds) && self.encloses(o.ax[0], o.ay[0])))
    }
    fn edges_cross(&self, o: &EdgeBlocks) -> bool {
        for (k, own) in self.boxes.iter().enumerate() {
            if !meet_or_touch(own, &o.bounds) {
                continue;
            }
            for (m, theirs) in o.boxes.iter().enumerate() {
                if meet_or_touch(own, theirs) && self.block_crosses(k * BLOCK, o, m * BLOCK, theirs) {
                    return true;
                }
            }
        }
        false
    }
    fn block_crosses(&self, k: usize, o: &EdgeBlocks, m: usize, theirs: &Box4) -> bool {
        let (cx, cy) = (block(&o.ax, m), block(&o.ay, m));
        let (dx, dy) = (block(&o.bx, m), block(&o.by, m));
        for i in k..k + BLOCK {
            let (ax, ay, bx, by) = (self.ax[i], self.ay[i], self.bx[i], self.by[i]);
            let edge = [ax.min(bx), ay.min(by), ax.max(bx), ay.max(by)];
            if !meet_or_touch(&edge, theirs) {
                continue;
            }
            let (ux, uy) = (bx - ax, by - ay);
            let mut hit = false;
            for j in 0..BLOCK {
                let (px, py, qx, qy) = (cx[j] - ax, cy[j] - ay, dx[j] - ax, dy[j] - ay);
                let one = ux * py - uy * px;
                let two = ux * qy - uy * qx;
                let (vx, vy) = (qx - px, qy - py);
                // Sides of a and of b about the other edge.
                let three = vy * px - vx * py;
                let four = vx * (uy - py) - vy * (ux - px);
                hit |= (one * two < 0.0) & (three * four < 0.0);
            }
            if hit {
                return true;
            }
        }
        false
    }
    /// Is the point inside (even-odd)?
    fn encloses(&self, x: f32, y: f32) -> bool {
        let mut inside = false;
        for i in 0..self.ax.len() {
            let (ax, ay, bx, by) = (self.ax[i], self.ay[i], self.bx[i], self.by[i]);
            if (ay > y) != (by > y) && x < (bx - ax) * (y - ay) / (by - ay) + ax {
                inside = !inside;
            }
        }
        inside
    }
    /// How deep two overlapping forms lie in each other, mm: above zero, and falling smoothly as they part
    /// (the overlap proxy of Gardeyn and Wauters).
    pub fn depth(&self, o: &EdgeBlocks, soft: f32) -> f32 {
        let mut sum = 0.0f32;
        for i in 0..self.px.len() {
            let (x, y, r) = (self.px[i], self.py[i], self.pr[i]);
            let mut part = 0.0f32;
            for j in 0..o.px.len() {
                let (dx, dy) = (o.px[j] - x, o.py[j] - y);
                let d = r + o.pr[j] - (dx * dx + dy * dy).sqrt();
                let soft = if d >= soft { d } else { soft * soft / (2.0 * soft - d) };
                part += soft * r.min(o.pr[j]);
            }
            sum += part;
        }
        (sum + soft * soft).sqrt()
    }
}

fn meet_or_touch(a: &Box4, b: &Box4) -> bool {
    a[0] <= b[2] && b[0] <= a[2] && a[1] <= b[3] && b[1] <= a[3]
}

fn block(of: &[f32], at: usize) -> &[f32; BLOCK] {
    of[at..at + BLOCK].try_into().expect("blocks are whole")
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::frame::{Art, Point, Rigid};
    use crate::base::units::Mm;
    use crate::outline::{Flat, Op};
    use proptest::prelude::*;

    fn set(rings: &[Vec<[f64; 2]>], p: ShapePose) -> EdgeBlocks {
        let form = CollisionShape::new(&Grown::of(rings.to_vec()));
        let (mut home, mut out) = (EdgeBlocks::default(), EdgeBlocks::default());
        form.turned_into(p.cs, &mut home);
        out.moved_from(&home, p.x, p.y);
        out
    }

    proptest! {
        /// Truth: the area that the two have in common, by the boolean kernel.
        #[test]
        fn clashes_are_those_with_common_area(x in -12.0..12.0f64, y in -12.0..12.0f64, turn in 0.0..6.3f64) {
            let frame = vec![
                vec![[-8.0, -8.0], [8.0, -8.0], [8.0, 8.0], [-8.0, 8.0]],
                vec![[-5.0, -5.0], [-5.0, 5.0], [5.0, 5.0], [5.0, -5.0]],
            ];
            let hook = vec![vec![[0.0, 0.0], [3.0, 0.0], [3.0, 1.0], [1.0, 1.0], [1.0, 2.5], [0.0, 2.5]]];
            let place = ShapePose::new(x, y, turn);
            let (a, b) = (set(&frame, ShapePose::new(0.0, 0.0, 0.0)), set(&hook, place));
            let region = |r: &[Vec<[f64; 2]>]| Flat::<Art>::new(r.to_vec(), Mm(0.0)).to_region();
            let pose: Rigid<Art, Art> = Rigid::from_parts(place.cs[0], place.cs[1], Point::mm(x, y));
            let common = region(&frame).op(&region(&hook).moved(&pose), Op::Intersection).area().0;
            if common > 1e-3 || common == 0.0 {
                prop_assert_eq!(a.clashes(&b), common > 0.0, "common area {}", common);
                prop_assert_eq!(b.clashes(&a), common > 0.0);
            }
        }

        /// Deeper is deeper.
        #[test]
        fn depth_falls_as_two_part(x in 0.5..9.0f64) {
            let square = vec![vec![[-5.0, -5.0], [5.0, -5.0], [5.0, 5.0], [-5.0, 5.0]]];
            let at = |x: f64| set(&square, ShapePose::new(x, 0.0, 0.0));
            prop_assert!(at(0.0).depth(&at(x), 0.1) > at(0.0).depth(&at(x + 0.2), 0.1));
        }
    }
}
