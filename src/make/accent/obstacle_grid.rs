//! [`ObstacleGrid`]: all outlines that a spot must stay clear of, over the seam, in a grid of segments.
//!
//! The wall is periodic: each outline is entered with its exact rotations by -1, 0 and 1 turns as far as they
//! come near the half-open turn of azimuths [-180, 180) degrees. Copies farther away are left out, because on
//! a steep cone the plane folds onto itself there. The bands are not entered: the distance to them is the
//! slant left.
//!
//! Imports: base, outline, make::cup, make::accent::cell.

pub(super) use super::cell::Owner;
use super::cell::{Cell, Segment};
use super::outline::{V, add, dot, len, mul, sub};
use crate::base::frame::{Plane, Point};
use crate::base::tolerance::{HAIR, LEAST_DIVISOR};
use crate::make::cup::{Development, Zone};
use crate::outline::plane::{nearest_on_segment, points_box, ring_contains, segments_cross};
use std::f64::consts::{PI, TAU};

/// The nearest place of any outline: `d` is the distance less what that outline wants beyond the gap.
#[derive(Clone, Copy, Debug)]
pub(super) struct Hit {
    pub d: f64,
    pub at: V,
    pub owner: Owner,
}

impl Hit {
    /// Is it an obstacle, one of the first owners?
    pub fn still(&self, first: usize) -> bool {
        self.owner.id() < first
    }
}

/// See the module.
#[derive(Clone, Debug)]
pub(super) struct ObstacleGrid {
    pub development: Development,
    pub low: f64,
    pub high: f64,
    k: f64,
    base: f64,
    /// Slant of the development's lower edge.
    foot: f64,
    /// Azimuth, either way from the front, up to which copies are kept.
    pub window: f64,
    /// tan(k a) / k for the window's and the turn's half-angles a, unless the cone is too steep for tangents.
    sectors: Option<(f64, f64)>,
    turns: [(f64, f64, f64, f64); 3],
    /// Corner of the box round all copies and its size, mm.
    bounds: (V, V),
    /// Side of a cell, mm.
    cell: f64,
    origin: V,
    nx: usize,
    ny: usize,
    cells: Vec<Cell>,
    touched: Vec<Vec<u32>>,
    /// Largest `more` of any outline.
    most: f64,
}

/// Side of a cell, mm, for a gap: about the gap, so that a query looks at a few cells.
fn cell_for(gap: f64) -> f64 {
    gap.clamp(2.5, 6.0)
}

impl ObstacleGrid {
    /// An empty wall for a gap; `reach` is the farthest that any question looks from a point of the turn.
    pub fn new(development: &Development, zone: &Zone, gap: f64, reach: f64) -> ObstacleGrid {
        let cell = cell_for(gap);
        let f = development.frustum();
        let radius = |slant| development.radius(slant).get();
        let narrow = radius(zone.low).min(radius(zone.high)).max(1.0);
        let k = f.sine();
        // Never so far round that the plane folds onto itself.
        let fold = if k == 0.0 { f64::INFINITY } else { PI / k.abs() };
        let window = (PI + reach / narrow).min(fold * 0.999);
        let (low, high) = (zone.low.get(), zone.high.get());
        let edges = (0..=400).flat_map(|i| {
            let azimuth = window * (f64::from(i) / 200.0 - 1.0);
            [low, high].map(|slant| plane(development, azimuth, slant))
        });
        let [x0, y0, x1, y1] = points_box(edges);
        let origin = [x0 - cell, y0 - cell];
        let count = |length: f64| libm::ceil(length / cell) as usize + 2;
        let (nx, ny) = (count(x1 - x0), count(y1 - y0));
        let tangent = |a: f64| if k == 0.0 { a } else { libm::tan(k * a) / k };
        let sectors = (k.abs() * window < 1.4).then(|| (tangent(window), tangent(PI)));
        let turns = [-1, 0, 1].map(|n| development.turned(n).parts());
        ObstacleGrid {
            development: *development,
            low,
            high,
            k,
            base: f.lower.get() / TAU,
            foot: development.span().0.get(),
            window,
            sectors,
            turns,
            bounds: (sub([x0, y0], [2.5; 2]), add(sub([x1, y1], [x0, y0]), [5.0; 2])),
            cell,
            origin,
            nx,
            ny,
            cells: vec![Cell::default(); nx * ny],
            touched: Vec::new(),
            most: 0.0,
        }
    }
    /// Corner of the box round all copies and its size, mm.
    pub fn bounds(&self) -> (V, V) {
        self.bounds
    }
    /// Does a point lie within the window of copies, and on the turn itself?
    pub fn inside(&self, p: V) -> (bool, bool) {
        match self.sectors {
            // azimuth = atan(k x / q) / k: comparing tangents saves the arc.
            Some((window, turn)) => {
                let q = self.base + self.k * p[1];
                if q <= 0.0 {
                    return (false, false);
                }
                (p[0].abs() <= window * q, p[0] >= -turn * q && p[0] < turn * q)
            }
            None => {
                let a = self.azimuth(p);
                (a.abs() <= self.window, (-PI..PI).contains(&a))
            }
        }
    }
    /// Azimuth of a point, from -180 to 180 degrees (in radians) on the turn itself and beyond it next to the
    /// seam.
    pub fn azimuth(&self, p: V) -> f64 {
        self.development.wrap(Point::mm(p[0], p[1])).azimuth.rad()
    }
    /// Slant of a point: up along the wall from the base edge.
    #[inline]
    pub fn slant(&self, p: V) -> f64 {
        let q = self.base + self.k * p[1];
        let r = (q * q + self.k * self.k * p[0] * p[0]).sqrt();
        self.foot + (2.0 * self.base * p[1] + self.k * dot(p, p)) / (r + self.base)
    }
    /// Distance from the apex of the developed cone; infinite for a cylinder.
    pub fn apex(&self, p: V) -> f64 {
        libm::hypot(self.base + self.k * p[1], self.k * p[0]) / self.k.abs()
    }
    /// Up along the generator of a point.
    #[inline]
    pub fn up(&self, p: V) -> V {
        let (q, t) = (self.base + self.k * p[1], self.k * p[0]);
        let r = (q * q + t * t).sqrt();
        [t / r, q / r]
    }
    /// The point n turns further.
    #[inline]
    pub fn turned(&self, p: V, n: i32) -> V {
        let (c, s, dx, dy) = self.turns[(n + 1) as usize];
        [c * p[0] - s * p[1] + dx, s * p[0] + c * p[1] + dy]
    }
    /// Turns by which a point has a copy: 0, and those after which it lies less than half round the apex. On a wall
    /// that sweeps over more than half of the plane the others would come down on what is elsewhere on the cup.
    pub fn turns_of(&self, p: V) -> impl Iterator<Item = i32> {
        let azimuth = self.azimuth(p);
        let fold = if self.k == 0.0 { f64::INFINITY } else { PI / self.k.abs() };
        (-1..=1).filter(move |n| *n == 0 || (azimuth + TAU * f64::from(*n)).abs() < fold)
    }
    /// A point and its copies.
    pub fn copies_of(&self, p: V) -> impl Iterator<Item = V> + '_ {
        self.turns_of(p).map(move |n| self.turned(p, n))
    }
    /// Turn of the plane that goes with n turns of the cup: cosine and sine.
    pub fn turned_by(&self, n: i32) -> V {
        let (c, s, _, _) = self.turns[(n + 1) as usize];
        [c, s]
    }
    /// Turns to add so that a point comes to lie in [-180, 180) degrees.
    pub fn home(&self, p: V) -> i32 {
        let a = self.azimuth(p);
        if a >= PI {
            -1
        } else if a < -PI {
            1
        } else {
            0
        }
    }
    /// Enters closed outlines of one owner with their copies; `more` is the distance wanted beyond the gap.
    /// Gives the copies (turns) of which anything was entered.
    pub fn enter(&mut self, id: usize, rings: &[Vec<V>], more: f64) -> Vec<i32> {
        self.most = self.most.max(more);
        let mut entered = Vec::new();
        for n in -1..=1 {
            if n == 0 || rings.iter().flatten().any(|p| self.lands(*p, n)) {
                let touched = self.enter_copy(id, rings, more, n);
                if touched {
                    entered.push(n);
                }
            }
        }
        entered
    }
    /// Whether `p` rotated by `n` full turns falls inside the copy window; may say yes for a point just
    /// outside it.
    pub fn lands(&self, p: V, n: i32) -> bool {
        match self.sectors {
            // From the front's far side a turn goes past the window.
            Some(_) if f64::from(n) * p[0] > 0.0 && self.window < TAU => false,
            Some(_) => self.inside(self.turned(p, n)).0,
            None => (self.azimuth(p) + TAU * f64::from(n)).abs() <= self.window,
        }
    }
    /// Enters one copy of an owner's outlines; says whether any of it lies in the window.
    fn enter_copy(&mut self, id: usize, rings: &[Vec<V>], more: f64, n: i32) -> bool {
        let owner = Owner::new(id, n);
        let at = owner.0 as usize;
        if self.touched.len() <= at {
            self.touched.resize(at + 1, Vec::new());
        }
        let mut touched = std::mem::take(&mut self.touched[at]);
        let mut moved: Vec<(V, bool)> = Vec::new();
        for ring in rings {
            moved.clear();
            moved.extend(ring.iter().map(|p| (self.turned(*p, n), n == 0 || self.lands(*p, n))));
            for i in 0..moved.len() {
                let (a, b) = (moved[i], moved[(i + 1) % moved.len()]);
                if a.1 || b.1 {
                    let s = (a.0, b.0, more as f32, owner);
                    put(&mut self.cells, (self.nx, self.ny), (self.origin, self.cell), s, &mut touched);
                }
            }
        }
        touched.sort_unstable();
        touched.dedup();
        let any = !touched.is_empty();
        self.touched[at] = touched;
        any
    }
    /// Takes an owner's own outline out, but none of its copies beyond the seam.
    pub fn hide(&mut self, id: usize) {
        self.leave_copy(Owner::new(id, 0));
    }
    /// Puts back what was hidden.
    pub fn show(&mut self, id: usize, ring: &[V]) {
        let rings = [ring.to_vec()];
        self.enter_copy(id, &rings, 0.0, 0);
    }
    /// Lower left corner of a cell.
    fn corner(&self, x: usize, y: usize) -> V {
        corner(self.origin, self.cell, x, y)
    }
    /// Takes an owner's outlines out again, with all copies.
    pub fn leave(&mut self, id: usize) {
        (-1..=1).for_each(|n| self.leave_copy(Owner::new(id, n)));
    }
    fn leave_copy(&mut self, owner: Owner) {
        let Some(touched) = self.touched.get_mut(owner.0 as usize) else { return };
        for c in std::mem::take(touched) {
            let corner = self.corner(c as usize % self.nx, c as usize / self.nx);
            self.cells[c as usize].leave(owner, corner);
        }
    }
    /// Nearest outline to a point that is nearer than `reach` (its own wish taken off), `but` one owner's
    /// copy.
    pub fn nearest(&self, p: V, reach: f64, but: Option<Owner>) -> Option<Hit> {
        let but = but.unwrap_or(Owner(u32::MAX));
        let side = self.cell;
        let g = [(p[0] - self.origin[0]) / side, (p[1] - self.origin[1]) / side];
        let floor = |v: f64| v as i64 - i64::from(v < 0.0);
        let (cx, cy) = (floor(g[0]), floor(g[1]));
        let f = [g[0] - cx as f64, g[1] - cy as f64];
        // Distance from the point to the nearest edge of a column or row of cells, in cells.
        let away = |k: i64, f: f64| if k > 0 { k as f64 - f } else { (f - (k + 1) as f64).max(0.0) };
        let inner = f[0].min(1.0 - f[0]).min(f[1]).min(1.0 - f[1]) * side;
        let (mut best, mut found) = (reach, None);
        let mut limit2 = (reach + self.most) * (reach + self.most);
        let mut k = 0i64;
        loop {
            let border = if k == 0 { 0.0 } else { inner + (k - 1) as f64 * side };
            if border - self.most > best {
                break;
            }
            for y in (cy - k).max(0)..=(cy + k).min(self.ny as i64 - 1) {
                let ay = away(y - cy, f[1]) * side;
                let edge = y == cy - k || y == cy + k;
                let step = if edge || k == 0 { 1 } else { 2 * k };
                let mut x = cx - k;
                while x <= cx + k {
                    if x >= 0 && x < self.nx as i64 {
                        let ax = away(x - cx, f[0]) * side;
                        if ax * ax + ay * ay <= limit2 {
                            let local =
                                [((g[0] - x as f64) * side) as f32, ((g[1] - y as f64) * side) as f32];
                            let cell = &self.cells[y as usize * self.nx + x as usize];
                            if let Some((d, i)) = cell.nearest(local, best, self.most, but) {
                                (best, found) = (d, Some(&cell.segments[i]));
                                limit2 = (d + self.most).max(0.0) * (d + self.most).max(0.0);
                            }
                        }
                    }
                    x += step;
                }
            }
            k += 1;
        }
        // Measured again in full: blocks are good to a millionth of a millimetre only.
        let s = found?;
        let (d, off) = s.nearest(p);
        let d = d - f64::from(s.more);
        (d < reach).then(|| Hit { d, at: sub(p, off), owner: s.owner })
    }
    /// Least distance of a closed polyline to everything (bands among it), each outline's own wish taken off,
    /// if below `reach`; 0 or less where they cross. `d` holds what [`Self::nearest`] gave for each corner.
    pub fn clear(&self, ring: &[V], d: &[f64], reach: f64, but: Option<Owner>) -> f64 {
        let but = but.unwrap_or(Owner(u32::MAX));
        let mut best = reach;
        for i in 0..ring.len() {
            best = best.min(d[i]);
            let j = (i + 1) % ring.len();
            let (a, b) = (ring[i], ring[j]);
            let e = sub(b, a);
            let long = dot(e, e).sqrt();
            if d[i].min(d[j]) - long / 2.0 >= best {
                continue;
            }
            let r = best + self.most;
            let lo = [a[0].min(b[0]) - r, a[1].min(b[1]) - r];
            let hi = [a[0].max(b[0]) + r, a[1].max(b[1]) + r];
            self.visit(lo, hi, |s| {
                if s.owner != but {
                    let end = s.b();
                    let d2 = nearest_on_segment(s.a, a, b).0.min(nearest_on_segment(end, a, b).0);
                    let more = f64::from(s.more);
                    let lim = (best + more).max(0.0);
                    if d2 < lim * lim {
                        best = d2.sqrt() - more;
                    }
                    if long > 1.0 && segments_cross(a, b, s.a, end) {
                        best = -more;
                    }
                }
            });
        }
        best
    }
    /// Is a closed polyline at least `need` away from everything (bands among it), each outline's own wish
    /// added?
    pub fn holds(&self, ring: &[V], need: f64, but: Option<Owner>) -> bool {
        let mut good = true;
        self.short_of(ring, need, but, &mut |_| {
            good = false;
            false
        });
        good
    }
    /// Does a closed polyline hold a corner of anything within? Distances between outlines do not show it.
    pub fn surrounds(&self, ring: &[V]) -> bool {
        let [x0, y0, x1, y1] = points_box(ring);
        let mut held = false;
        self.visit([x0, y0], [x1, y1], |s| held = held || ring_contains(ring, s.a));
        held
    }
    /// Tells where a closed polyline is nearer than `need` to anything (bands among it), each outline's own
    /// wish added: corner number and part of the edge after it. Stops when told so.
    ///
    /// Distances between polylines are distances from a corner to an edge. Corners of the ring are asked for
    /// their nearest edge, as far as what is known of their neighbours does not settle it; corners of others
    /// matter only to edges (of length L) whose ends are nearer than sqrt(need^2 + L^2/4).
    pub fn short_of(&self, ring: &[V], need: f64, but: Option<Owner>, tell: &mut dyn FnMut(f64) -> bool) {
        let n = ring.len();
        for (i, p) in ring.iter().enumerate() {
            if self.band(*p) < need && !tell(i as f64) {
                return;
            }
        }
        let step = |i: usize| len(sub(ring[(i + 1) % n], ring[i]));
        let far = need + 1.0;
        let (mut known, mut from) = (0.0f64, far);
        let mut d = vec![0.0; n];
        for i in 0..n {
            let long = step(i).max(step((i + n - 1) % n));
            let enough = (need * need + long * long / 4.0).sqrt();
            if known < enough {
                // The nearest is no farther than from the corner before, plus the way from there.
                known = self.nearest(ring[i], far.min(from), but).map_or(far.min(from), |h| h.d);
                if known < need && !tell(i as f64) {
                    return;
                }
                from = if known < far { known } else { far };
            }
            d[i] = known;
            known -= step(i);
            from = if from < far { from + step(i) + HAIR } else { far };
        }
        let me = but.unwrap_or(Owner(u32::MAX));
        let r = need + self.most;
        for i in 0..n {
            let (j, long) = ((i + 1) % n, step(i));
            if d[i].min(d[j]) >= (need * need + long * long / 4.0).sqrt() || d[i].min(d[j]) < need {
                continue;
            }
            let (a, b) = (ring[i], ring[j]);
            let lo = [a[0].min(b[0]) - r, a[1].min(b[1]) - r];
            let hi = [a[0].max(b[0]) + r, a[1].max(b[1]) + r];
            let mut worst: Option<(f64, f64)> = None;
            self.visit(lo, hi, |s| {
                if s.owner != me {
                    for q in [s.a, s.b()] {
                        let (d2, at) = nearest_on_segment(q, a, b);
                        let short = need + f64::from(s.more) - d2.sqrt();
                        if short > worst.map_or(0.0, |w| w.0) {
                            worst = Some((short, len(sub(at, a)) / long.max(LEAST_DIVISOR)));
                        }
                    }
                    if long > need && segments_cross(a, b, s.a, s.b()) {
                        worst = Some((need, 0.5));
                    }
                }
            });
            if let Some((_, part)) = worst
                && !tell(i as f64 + part)
            {
                return;
            }
        }
    }
    fn visit(&self, lo: V, hi: V, mut f: impl FnMut(&Segment)) {
        let (x0, x1) = span(lo[0], hi[0], self.origin[0], self.cell, self.nx);
        let (y0, y1) = span(lo[1], hi[1], self.origin[1], self.cell, self.ny);
        for y in y0..y1 {
            for cell in &self.cells[y * self.nx + x0..(y * self.nx + x1).max(y * self.nx + x0)] {
                cell.segments.iter().for_each(&mut f);
            }
        }
    }
    /// Distance to the nearer band: negative beyond it.
    #[inline]
    pub fn band(&self, p: V) -> f64 {
        let s = self.slant(p);
        (s - self.low).min(self.high - s)
    }
}

/// A point of the wall on the plane.
pub(super) fn plane(d: &Development, azimuth: f64, slant: f64) -> V {
    let p: Point<Plane> = d.develop(crate::make::cup::WallPoint {
        azimuth: crate::base::units::Angle::radians(azimuth),
        slant: crate::base::units::Mm(slant),
    });
    [p.x, p.y]
}

fn corner(origin: V, cell: f64, x: usize, y: usize) -> V {
    [origin[0] + x as f64 * cell, origin[1] + y as f64 * cell]
}

fn span(lo: f64, hi: f64, origin: f64, cell: f64, n: usize) -> (usize, usize) {
    let at = |v: f64| (((v - origin) / cell).max(0.0) as usize).min(n);
    (at(lo), (at(hi) + 1).min(n))
}

fn put(
    cells: &mut [Cell],
    (nx, ny): (usize, usize),
    (origin, cell): (V, f64),
    (a, b, more, owner): (V, V, f32, Owner),
    touched: &mut Vec<u32>,
) {
    // Long segments are cut into pieces no longer than a cell: their boxes stay small.
    let long = sub(b, a);
    let pieces = libm::ceil(dot(long, long).sqrt() / cell).max(1.0);
    let e = mul(long, 1.0 / pieces);
    for i in 0..pieces as usize {
        let a = add(a, mul(e, i as f64));
        let b = add(a, e);
        let (x0, x1) = span(a[0].min(b[0]), a[0].max(b[0]), origin[0], cell, nx);
        let (y0, y1) = span(a[1].min(b[1]), a[1].max(b[1]), origin[1], cell, ny);
        for y in y0..y1 {
            for x in x0..x1 {
                cells[y * nx + x].push(Segment { a, e, more, owner }, corner(origin, cell, x, y));
                touched.push((y * nx + x) as u32);
            }
        }
    }
}
