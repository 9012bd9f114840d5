//! [`PlacementIndex`]: what stands on the wall so far, and how much room a pose has there.
//!
//! Imports: base, outline, read::job, make::{cup, free_area}.

use crate::base::frame::{Art, Plane, Point, Rigid};
use crate::base::tolerance::{CLEAR_GUARD, FLATTEN, MEASURE};
use crate::base::units::{Angle, Mm, Mm2};
use crate::make::cup::{Development, WallPoint, Zone};
use crate::make::free_area::FreeArea;
use crate::outline::plane::ring_area;
use crate::outline::{Bounds, Clearance, Flat, Region, Witness, thinned};
use crate::read::job::WallPose;
use std::cell::{Cell, RefCell};

/// Chords of the outlines that guide the search; the accepted layout is measured with `FLATTEN`.
const COARSE: Mm = Mm(0.15);

/// A motif's outline, fine and coarse.
pub(super) struct Body {
    pub(super) fine: Clearance<Art>,
    pub(super) coarse: Clearance<Art>,
    pub(super) bounds: Bounds<Art>,
    pub(super) clearance: Mm,
    /// Radius of the disc of the same area.
    pub(super) disc: f64,
    /// How far the coarse outline reaches from its anchor.
    reach: f64,
}

impl Body {
    pub(super) fn new(outline: &Region<Art>, clearance: Mm) -> Body {
        let disc = (outline.area().0.max(0.0) / std::f64::consts::PI).sqrt();
        let coarse = guide(&outline.flat(COARSE));
        let far = |m: f64, p: &[f64; 2]| m.max(libm::hypot(p[0], p[1]));
        Body {
            reach: coarse.rings.iter().flatten().fold(0.0, far),
            fine: Clearance::new(outline.flat(FLATTEN)),
            coarse: Clearance::new(coarse),
            bounds: outline.bounds(),
            clearance,
            disc,
        }
    }
}

/// The outer rings with no more corners than the search needs: art that was flattened before it came here has
/// a hundred times as many, and every pose that is tried would pay for them.
fn guide(flat: &Flat<Art>) -> Flat<Art> {
    let outer = flat.rings.iter().filter(|r| ring_area(r) > 0.0);
    Flat::new(outer.map(|r| thinned(r, COARSE.0)).collect(), flat.error + COARSE)
}

/// What a pose clashes with.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum With {
    /// What stands there already, by its place in the order of standing.
    Standing(usize),
    /// An obstacle of the room.
    Obstacle,
    /// The handle's window.
    Handle,
    /// The keep-clear band at the rim.
    Rim,
    /// The keep-clear band at the base.
    Base,
    /// Itself, round the cup.
    Itself,
}

impl With {
    /// In words, within a zone of the wall.
    pub(super) fn words(self, zone: &Zone) -> &'static str {
        match self {
            With::Standing(_) => "another motif",
            With::Obstacle => "what is laid there already",
            With::Handle => "the handle's window",
            With::Rim => zone.above(),
            With::Base => zone.below(),
            With::Itself => "itself, round the cup",
        }
    }
}

/// A clash.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Violation {
    pub(super) with: With,
    pub(super) shortfall: Mm,
}

struct Stand {
    motif: usize,
    clearance: Mm,
    disc: f64,
    reach: f64,
    centre: Point<Plane>,
    azimuth: Angle,
    coarse: [Clearance<Plane>; 3],
    fine: Option<[Clearance<Plane>; 3]>,
}

/// What does not move.
struct Fixed {
    clearance: Mm,
    middle: Angle,
    copies: [Clearance<Plane>; 3],
}

pub(super) struct PlacementIndex<'a> {
    development: Development,
    /// Once round to the left, nothing, once round to the right.
    turns: [Rigid<Plane, Plane>; 3],
    room: &'a FreeArea,
    /// The handles' windows, asking for nothing of their own, then all obstacles.
    fixed: Vec<Fixed>,
    stands: Vec<Stand>,
    tried: Cell<u64>,
    nearest: RefCell<Nearest>,
}

/// Where the last pose that was tried was nearest to each outline: the next pose of the same body is mostly a
/// step away.
#[derive(Default)]
struct Nearest {
    of: usize,
    /// The highest and the lowest corner, by ring and place in it.
    ends: Option<[(usize, usize); 2]>,
    fixed: Vec<Witness>,
    stands: Vec<[Witness; 3]>,
}

/// Beyond this distance neighbours no longer push each other.
const REACH: f64 = 28.0;

impl<'a> PlacementIndex<'a> {
    pub(super) fn new(room: &'a FreeArea) -> PlacementIndex<'a> {
        let fixed = |clearance, r: &Region<Plane>| {
            let flat = r.flat(FLATTEN);
            let middle = room.development.middle(&flat);
            Fixed { clearance, middle, copies: seam_copies(&room.development, Clearance::new(flat)) }
        };
        let handle = room.zone.handles.iter().map(|h| fixed(Mm::ZERO, &h.region));
        PlacementIndex {
            development: room.development,
            turns: [-1, 0, 1].map(|n| room.development.turned(n)),
            room,
            fixed: handle.chain(room.obstacles.iter().map(|o| fixed(o.clearance, &o.region))).collect(),
            stands: Vec::new(),
            tried: Cell::new(0),
            nearest: RefCell::default(),
        }
    }
    pub(super) fn development(&self) -> &Development {
        &self.development
    }
    pub(super) fn tried(&self) -> u64 {
        self.tried.get()
    }
    pub(super) fn low_high(&self) -> (Mm, Mm) {
        (self.room.zone.low, self.room.zone.high)
    }
    pub(super) fn height(&self) -> Mm {
        self.room.zone.high - self.room.zone.low
    }
    pub(super) fn len(&self) -> usize {
        self.stands.len()
    }
    /// Puts a body up; it keeps its place in the order.
    pub(super) fn place(&mut self, motif: usize, body: &Body, pose: WallPose) {
        let s = self.stood(motif, body, pose);
        self.stands.push(s);
    }
    /// Moves what stands at a place of the order.
    pub(super) fn move_to(&mut self, i: usize, body: &Body, pose: WallPose) {
        self.stands[i] = self.stood(self.stands[i].motif, body, pose);
    }
    /// Indexes one for exact measuring, at its pose.
    pub(super) fn refine_one(&mut self, i: usize, body: &Body, pose: WallPose) {
        let at = self.development.pose(pose);
        self.stands[i].fine = Some(seam_copies(&self.development, body.fine.moved(&at)));
    }
    /// Takes everything from a place of the order on down again.
    pub(super) fn truncate(&mut self, n: usize) {
        self.stands.truncate(n);
    }
    fn stood(&self, motif: usize, body: &Body, pose: WallPose) -> Stand {
        let at = self.development.pose(pose);
        Stand {
            motif,
            clearance: body.clearance,
            disc: body.disc,
            reach: body.reach,
            centre: at.origin(),
            azimuth: pose.azimuth,
            coarse: seam_copies(&self.development, body.coarse.moved(&at)),
            fine: None,
        }
    }
    /// All that stands, once, and the distance that it wants: handles and obstacles, then bodies.
    pub(super) fn outlines(&self) -> impl Iterator<Item = (&Flat<Plane>, Mm)> {
        let fixed = self.fixed.iter().map(|f| (f.copies[1].flat(), f.clearance));
        fixed.chain(self.stands.iter().map(|s| (s.coarse[1].flat(), s.clearance)))
    }
    /// Area of the wall, grown by so much at rim and base, that nothing stands on.
    pub(super) fn free_area(&self, grown: Mm) -> Mm2 {
        let z = &self.room.zone;
        let whole = Zone { low: z.low - grown, high: z.high + grown, ..z.clone() };
        let disc = |s: &Stand| std::f64::consts::PI * s.disc * s.disc;
        let taken: f64 = self.room.obstacles.iter().map(|o| o.region.area().get()).sum();
        whole.area(&self.development) - Mm2(taken + self.stands.iter().map(disc).sum::<f64>())
    }
    /// Indexes everything for exact measuring.
    pub(super) fn refine(&mut self, bodies: &[Body], poses: impl Iterator<Item = WallPose>) {
        for (s, pose) in self.stands.iter_mut().zip(poses) {
            let at = self.development.pose(pose);
            s.fine = Some(seam_copies(&self.development, bodies[s.motif].fine.moved(&at)));
        }
    }

    /// How well discs of the same areas would stand here: the room to the nearest, cheap and rough.
    /// Copies of the same motif count as nearer than they are, so that they spread over the whole cup.
    pub(super) fn rough(&self, motif: usize, body: &Body, pose: WallPose) -> f64 {
        let here = self.development.develop(WallPoint { azimuth: pose.azimuth, slant: pose.slant });
        let (low, high) = self.low_high();
        let half = body.bounds.height().0 / 2.0;
        let mut room = (pose.slant.0 - half - low.0).min(high.0 - half - pose.slant.0) * 1.5 + 4.0;
        for s in &self.stands {
            let kin = if s.motif == motif { 0.55 } else { 1.0 };
            for (t, _) in self.turns.iter().zip(-1..).filter(|(_, n)| self.meets(pose, s.azimuth, *n)) {
                let d = t.apply(s.centre).distance(here).0 * kin;
                room = room.min(d - s.disc - body.disc);
            }
        }
        if !self.fixed.is_empty() {
            let far = Mm(body.disc + 20.0);
            for (_, c) in self.fixed(pose).flatten() {
                let d =
                    if c.contains(here) { Some(Mm::ZERO) } else { c.nearest(here, far).map(|n| n.distance) };
                if let Some(d) = d {
                    room = room.min(d.0 - body.disc);
                }
            }
        }
        room
    }

    /// Energy of a pose among the others: small where there is room on all sides. `skip` is its own place in
    /// the order. Returns `None` as soon as the energy reaches `most`.
    ///
    /// All terms are positive and fall with distance, and the edges that were nearest at the last pose are no
    /// nearer than the nearest: the terms that they give, added up in the same order, come to no more than
    /// the energy. Rounding keeps order, so no slack is needed. One after another they give way to the true
    /// ones until the sum is too large, or all are true.
    pub(super) fn energy(&self, skip: usize, body: &Body, pose: WallPose, most: f64) -> Option<f64> {
        self.tried.set(self.tried.get() + 1);
        let at = self.development.pose(pose);
        let order = self.near_first(skip, pose, at.origin(), body.reach);
        let mut nearest = self.nearest.borrow_mut();
        let nearest = nearest.of_body(skip, self);
        let mut terms = self.least_terms(body, pose, &order, nearest);
        let sum = |terms: &[f64]| terms.iter().fold(0.0, |sum, t| sum + t);
        if sum(&terms) >= most {
            return None;
        }
        let me = body.coarse.moved(&at);
        let (rim, base) = self.band_room(me.flat(), &mut nearest.ends);
        terms[0] = push(rim.0 * 2.0) + push(base.0 * 2.0);
        let mut place = 1;
        for (fixed, near) in self.fixed(pose).zip(&mut nearest.fixed) {
            place += 1;
            let Some((asked, copy)) = fixed else { continue };
            let inside = |d| if d == Mm::ZERO { -1.0 - body.disc } else { 0.0 };
            let d = me.distance_near(copy, Mm(REACH), near);
            terms[place - 1] = d.map_or(0.0, |d| push(d.0 - asked.max(body.clearance).0 + inside(d)));
        }
        for (middles, i, n) in order {
            if sum(&terms) >= most {
                return None;
            }
            let s = &self.stands[i];
            let d = me.distance_near(&s.coarse[n], Mm(REACH), &mut nearest.stands[i][n]);
            terms[place] = d.map_or(0.0, |d| {
                let mut gap = d.0 - s.clearance.max(body.clearance).0;
                if d == Mm::ZERO {
                    gap -= (s.disc + body.disc - middles).max(0.0) + 1.0;
                }
                push(gap)
            });
            place += 1;
        }
        let sum = sum(&terms);
        (sum < most).then_some(sum)
    }

    /// The terms of the energy, none larger than the true one: the bands', those of what is fixed, those of
    /// what stands.
    fn least_terms(
        &self,
        body: &Body,
        pose: WallPose,
        order: &[(f64, usize, usize)],
        nearest: &Nearest,
    ) -> Vec<f64> {
        let at = &self.development.pose(pose);
        let bands = nearest.ends.map_or(0.0, |ends| {
            let [most, least] = ends.map(|(r, k)| {
                let p = body.coarse.flat().rings[r][k];
                self.development.slant(at.apply(Point::mm(p[0], p[1]))).0
            });
            let (low, high) = self.low_high();
            push((high.0 - most) * 2.0) + push((least - low.0) * 2.0)
        });
        let term = |copy: &Clearance<Plane>, near: &Witness, asked: Mm| {
            let d = body.coarse.at_most(at, copy, near).filter(|d| d.0 < REACH);
            d.map_or(0.0, |d| push(d.0 - asked.max(body.clearance).0))
        };
        let fixed = self.fixed(pose).zip(&nearest.fixed);
        let fixed = fixed.map(|(f, near)| f.map_or(0.0, |(asked, copy)| term(copy, near, asked)));
        let stands = order.iter().map(|&(_, i, n)| {
            term(&self.stands[i].coarse[n], &nearest.stands[i][n], self.stands[i].clearance)
        });
        std::iter::once(bands).chain(fixed).chain(stands).collect()
    }

    /// Placed motifs and their seam copies whose outlines can come within [`REACH`] of one of radius `reach`
    /// at `here`, as `(centre distance, index, copy)`, nearest first; `skip` as it stands is left out.
    fn near_first(
        &self,
        skip: usize,
        pose: WallPose,
        here: Point<Plane>,
        reach: f64,
    ) -> Vec<(f64, usize, usize)> {
        let mut order: Vec<(f64, usize, usize)> = Vec::with_capacity(self.stands.len());
        for (n, turn) in self.turns.iter().enumerate() {
            for (i, s) in self.stands.iter().enumerate() {
                let middles = turn.apply(s.centre).distance(here).0;
                let can = self.meets(pose, s.azimuth, n as i32 - 1);
                if can && (i != skip || n != 1) && middles - reach - s.reach < REACH + MEASURE.0 {
                    order.push((middles, i, n));
                }
            }
        }
        order.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)).then(a.2.cmp(&b.2)));
        order
    }

    /// What does not move, copy by copy: clearance and outline, or nothing where a copy is on another winding
    /// of the plane than the pose.
    fn fixed(&self, pose: WallPose) -> impl Iterator<Item = Option<(Mm, &Clearance<Plane>)>> {
        self.fixed.iter().flat_map(move |f| {
            let one = move |(c, n)| self.meets(pose, f.middle, n).then_some((f.clearance, c));
            f.copies.iter().zip(-1..).map(one)
        })
    }
    /// Can a body at a pose meet what has its middle at an azimuth, turned `n` times?
    fn meets(&self, pose: WallPose, there: Angle, n: i32) -> bool {
        self.development.can_meet(pose.azimuth, there, n)
    }

    /// Room to the bands at the rim and at the base, and which corners have it.
    fn band_room(&self, flat: &Flat<Plane>, ends: &mut Option<[(usize, usize); 2]>) -> (Mm, Mm) {
        let (low, high) = self.low_high();
        let (mut least, mut most) = (f64::INFINITY, f64::NEG_INFINITY);
        let mut at = [(0, 0); 2];
        for (r, ring) in flat.rings.iter().enumerate() {
            for (k, p) in ring.iter().enumerate() {
                let s = self.development.slant(Point::mm(p[0], p[1])).0;
                if s < least {
                    (least, at[1]) = (s, (r, k));
                }
                if s > most {
                    (most, at[0]) = (s, (r, k));
                }
            }
        }
        *ends = (least <= most).then_some(at);
        (Mm(high.0 - most), Mm(least - low.0))
    }

    /// The worst clash of a pose, measured on the fine outlines with the guard that keeps it true when
    /// written. `skip` is its own place in the order of standing.
    pub(super) fn violation(
        &self,
        skip: usize,
        _motif: usize,
        body: &Body,
        pose: WallPose,
    ) -> Option<Violation> {
        let at = self.development.pose(pose);
        let me = body.fine.moved(&at);
        let mut worst: Option<Violation> = None;
        let mut lacks = |with, room: f64| {
            if room < 0.0 && worst.is_none_or(|w| -room > w.shortfall.0) {
                worst = Some(Violation { with, shortfall: Mm(-room) });
            }
        };
        let (rim, base) = self.band_room(me.flat(), &mut None);
        lacks(With::Rim, rim.0 - CLEAR_GUARD.0);
        lacks(With::Base, base.0 - CLEAR_GUARD.0);
        let mut measure = |with, asked: Mm, copy: &Clearance<Plane>| {
            let asked = asked.max(body.clearance) + CLEAR_GUARD;
            if let Some(d) = me.distance(copy, asked) {
                let deep = if d == Mm::ZERO { penetration(&me, copy, at.origin()) } else { 0.0 };
                lacks(with, d.0 - asked.0 - deep);
            }
        };
        for (i, s) in self.stands.iter().enumerate() {
            let copies = s.fine.as_ref().unwrap_or(&s.coarse);
            for (n, copy) in copies.iter().enumerate() {
                if !self.meets(pose, s.azimuth, n as i32 - 1) {
                    continue;
                }
                if i == skip {
                    if n != 1 {
                        measure(With::Itself, s.clearance, copy);
                    }
                } else {
                    measure(With::Standing(i), s.clearance, copy);
                }
            }
        }
        for (k, (asked, copy)) in self.fixed(pose).enumerate().filter_map(|(k, f)| Some((k, f?))) {
            let handle = k < 3 * self.room.zone.handles.len();
            measure(if handle { With::Handle } else { With::Obstacle }, asked, copy);
        }
        worst
    }
}

impl Nearest {
    /// As it was left by the last pose of the body that has this place in the order of standing.
    fn of_body(&mut self, place: usize, wall: &PlacementIndex) -> &mut Nearest {
        if self.of != place || self.stands.len() != wall.stands.len() {
            *self = Nearest { of: place, ..Nearest::default() };
            self.fixed.resize(3 * wall.fixed.len(), Witness::default());
            self.stands.resize(wall.stands.len(), Default::default());
        }
        self
    }
}

/// How far `me` must be moved away from `other`'s middle until they no longer overlap, within 0.05 mm.
pub(super) fn penetration(me: &Clearance<Plane>, other: &Clearance<Plane>, here: Point<Plane>) -> f64 {
    let there = other.flat().bounds().centre();
    let d = there.distance(here).0;
    let (ux, uy) = if d > 0.0 { ((here.x - there.x) / d, (here.y - there.y) / d) } else { (0.0, 1.0) };
    let overlaps = |by: f64| {
        let shift = Rigid::<Plane, Plane>::new(Angle::ZERO, Point::mm(ux * by, uy * by));
        me.moved(&shift).distance(other, Mm(1e-3)) == Some(Mm::ZERO)
    };
    let (mut near, mut far) = (0.0, 1.0);
    while overlaps(far) && far < 500.0 {
        near = far;
        far *= 2.0;
    }
    while far - near > 0.05 {
        let mid = (near + far) / 2.0;
        if overlaps(mid) { near = mid } else { far = mid }
    }
    far
}

/// Repulsion: 1/(1 + gap)^2 while clear, steep and linear once clearance is lacking.
fn push(gap: f64) -> f64 {
    if gap >= 0.0 { 1.0 / ((1.0 + gap) * (1.0 + gap)) } else { 4.0 - 6.0 * gap }
}

/// An outline entered at n = -1, 0 and 1 turns.
pub(super) fn seam_copies(d: &Development, own: Clearance<Plane>) -> [Clearance<Plane>; 3] {
    let (before, after) = (own.moved(&d.turned(-1)), own.moved(&d.turned(1)));
    [before, own, after]
}
