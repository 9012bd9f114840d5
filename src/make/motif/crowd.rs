//! [`Crowd`]: what stands on a zone of the wall in one pass, asked which of it a piece would be too near to,
//! while that piece is moved by hand.
//!
//! The rule is the one that pinned motifs are held to (`placements`), and a test holds the two together; here
//! everything that is too near is told, not only the worst.
//!
//! Imports: base, outline, read::job, make::{cup, free_area}, make::motif::placements.

use super::placements::{penetration, seam_copies};
use crate::base::frame::{Art, Plane, Point};
use crate::base::tolerance::{CLEAR_GUARD, FLATTEN};
use crate::base::units::{Angle, Mm};
use crate::make::cup::Development;
use crate::make::free_area::FreeArea;
use crate::outline::{Clearance, Region};
use crate::read::job::WallPose;

/// What a piece is too near to.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Against {
    /// A copy of a motif.
    Copy {
        /// Which motif of the job.
        motif: usize,
        /// Which copy.
        copy: usize,
    },
    /// An obstacle of the room, by its place: lettering and other decals.
    Obstacle(usize),
    /// A handle's window.
    Handle,
    /// What bounds the free wall above.
    Above,
    /// What bounds the free wall below.
    Below,
    /// Itself, round the cup.
    Itself,
}

/// One thing that a piece is too near to.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TooNear {
    /// To what.
    pub against: Against,
    /// What is lacking.
    pub lacks: Mm,
}

struct Body {
    copy: (usize, usize),
    clearance: Mm,
    fine: Clearance<Art>,
    azimuth: Angle,
    copies: [Clearance<Plane>; 3],
}

struct Fixed {
    against: Against,
    clearance: Mm,
    middle: Angle,
    copies: [Clearance<Plane>; 3],
}

/// What stands on a zone in one pass.
pub struct Crowd {
    development: Development,
    low: Mm,
    high: Mm,
    fixed: Vec<Fixed>,
    bodies: Vec<Body>,
}

impl Crowd {
    /// A zone with what does not move: the obstacles of the room, and the handles' windows.
    pub fn new(room: &FreeArea) -> Crowd {
        let fixed = |against, clearance, region: &Region<Plane>| {
            let flat = region.flat(FLATTEN);
            let middle = room.development.middle(&flat);
            Fixed { against, clearance, middle, copies: seam_copies(&room.development, Clearance::new(flat)) }
        };
        let handles = room.zone.handles.iter().map(|h| fixed(Against::Handle, Mm::ZERO, &h.region));
        let obstacles = room.obstacles.iter().enumerate();
        let obstacles = obstacles.map(|(i, o)| fixed(Against::Obstacle(i), o.clearance, &o.region));
        Crowd {
            development: room.development,
            low: room.zone.low,
            high: room.zone.high,
            fixed: handles.chain(obstacles).collect(),
            bodies: Vec::new(),
        }
    }
    /// Puts a copy of a motif up.
    pub fn add(&mut self, copy: (usize, usize), outline: &Region<Art>, clearance: Mm, pose: WallPose) {
        self.bodies.push(self.body(copy, outline, clearance, pose));
    }
    fn body(&self, copy: (usize, usize), outline: &Region<Art>, clearance: Mm, pose: WallPose) -> Body {
        let fine = Clearance::new(outline.flat(FLATTEN));
        let copies = seam_copies(&self.development, fine.moved(&self.development.pose(pose)));
        Body { copy, clearance, fine, azimuth: pose.azimuth, copies }
    }
    /// Takes a copy down.
    pub fn remove(&mut self, copy: (usize, usize)) {
        self.bodies.retain(|b| b.copy != copy);
    }
    /// Is an outline at a pose clear of everything that does not move, of the bounds too?
    pub fn clear_of_fixed(&self, outline: &Region<Art>, clearance: Mm, pose: WallPose) -> bool {
        self.lacking(&self.body((0, 0), outline, clearance, pose), pose, &[]).is_empty()
    }
    /// Moves a copy that stands; false if there is none.
    pub fn put(&mut self, copy: (usize, usize), pose: WallPose) -> bool {
        let development = self.development;
        let Some(body) = self.bodies.iter_mut().find(|b| b.copy == copy) else { return false };
        body.azimuth = pose.azimuth;
        body.copies = seam_copies(&development, body.fine.moved(&development.pose(pose)));
        true
    }
    /// All that a copy would be too near to at a pose, the worst first; none for a copy that does not stand.
    pub fn too_near(&self, copy: (usize, usize), pose: WallPose) -> Vec<TooNear> {
        let Some(body) = self.bodies.iter().find(|b| b.copy == copy) else { return Vec::new() };
        self.lacking(body, pose, &self.bodies)
    }
    /// What a body lacks at a pose to what does not move and to others, itself perhaps among them.
    fn lacking(&self, body: &Body, pose: WallPose, others: &[Body]) -> Vec<TooNear> {
        let copy = body.copy;
        let at = self.development.pose(pose);
        let me = body.fine.moved(&at);
        let mut found: Vec<TooNear> = Vec::new();
        let mut lacks = |against: Against, room: f64| {
            if room >= 0.0 {
                return;
            }
            match found.iter_mut().find(|t| t.against == against) {
                Some(t) => t.lacks = t.lacks.max(Mm(-room)),
                None => found.push(TooNear { against, lacks: Mm(-room) }),
            }
        };
        let slants = me.flat().rings.iter().flatten();
        let slants = slants.map(|p| self.development.slant(Point::mm(p[0], p[1])).0);
        let (least, most) = slants.fold((f64::INFINITY, f64::NEG_INFINITY), |(l, m), s| (l.min(s), m.max(s)));
        if least <= most {
            lacks(Against::Above, self.high.0 - most - CLEAR_GUARD.0);
            lacks(Against::Below, least - self.low.0 - CLEAR_GUARD.0);
        }
        let mut measure = |against, asked: Mm, copies: &[Clearance<Plane>; 3], there: Angle| {
            for (other, n) in copies.iter().zip(-1..) {
                let itself = against == Against::Itself && n == 0;
                if itself || !self.development.can_meet(pose.azimuth, there, n) {
                    continue;
                }
                let asked = asked.max(body.clearance) + CLEAR_GUARD;
                if let Some(d) = me.distance(other, asked) {
                    let deep = if d == Mm::ZERO { penetration(&me, other, at.origin()) } else { 0.0 };
                    lacks(against, d.0 - asked.0 - deep);
                }
            }
        };
        for b in others {
            if b.copy == copy {
                let copies = seam_copies(&self.development, me.clone());
                measure(Against::Itself, b.clearance, &copies, pose.azimuth);
            } else {
                let against = Against::Copy { motif: b.copy.0, copy: b.copy.1 };
                measure(against, b.clearance, &b.copies, b.azimuth);
            }
        }
        for f in &self.fixed {
            measure(f.against, f.clearance, &f.copies, f.middle);
        }
        found.sort_by(|a, b| b.lacks.0.total_cmp(&a.lacks.0).then(a.against.cmp(&b.against)));
        found
    }
}
