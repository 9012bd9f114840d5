//! Panels: many pieces of one film that are cut at their places of the wall, lifted on transfer tape and laid at once.
//!
//! [`lay`] is the way in. Pieces of a film nearer than the border are a [`clump`]; clumps that fit a size are a
//! [`window`]; the cheapest [`cover`] by windows, at what hands take for a panel and for a piece, is shared out
//! ([`split`]); each panel gets [`mark`]s; and how far one laid by its marks can be [`off`] says what becomes of the
//! gaps.
//!
//! Imports: base, outline, read::job.

pub mod near;
pub mod clump;
pub mod window;
pub mod cover;
pub mod split;
pub mod mark;
pub mod off;
pub mod web;
mod moves;
mod lots;
mod parts;
mod build;
#[cfg(test)]
mod tests;

pub use build::{CODES, lay};
pub use lots::lots;
pub use mark::Mark;
pub use web::Web;

use crate::base::frame::{Art, Plane, Rigid};
use crate::base::units::Mm;
use crate::outline::Region;
use crate::read::job::{FilmId, WallPose};

/// A piece of a panel.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Member {
    /// Its number.
    pub number: u32,
    /// Turns of the cup by which its place on the plane is lifted to lie beside the others'.
    pub turns: i32,
}

/// Pieces of one film that are laid at once.
#[derive(Clone, Debug, PartialEq)]
pub struct Panel {
    /// Its film.
    pub film: FilmId,
    /// From 1, within the film.
    pub number: usize,
    /// Zone of the wall that it lies on.
    pub zone: usize,
    /// Its pieces in the order of their numbers.
    pub members: Vec<Member>,
    /// Its middle.
    pub middle: WallPose,
    /// From its own frame, the middle at the origin and y up the wall, to the plane.
    pub pose: Rigid<Art, Plane>,
    /// Along the ring at its widest height, and up the wall.
    pub size: [Mm; 2],
    /// Least wall between it and another panel of its film; none if none is near.
    pub border: Option<Mm>,
    /// Its marks, each with the turns of the cup that it is lifted by; the first two are those to lay it by.
    pub marks: Vec<(Mark, i32)>,
    /// Its carrier in its own frame: pieces and marks with the film's carrier round them.
    pub carrier: Region<Art>,
    /// Farthest that one of its points can be off, its marks read as the job says; none without two marks.
    pub off: Option<Mm>,
    /// What is weeded off its film, or off a film's part of it.
    pub web: Web,
    /// What it is of a panel of several films; none if it is laid by itself.
    pub part: Option<Part>,
}

/// A film's part of a panel that is gathered on one carrier: parts of one panel have one number, one pose, one carrier
/// and the same marks.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Part {
    /// Which it is taken up onto the carrier, from 1.
    pub nth: usize,
    /// Parts of the panel.
    pub of: usize,
}

impl Panel {
    /// Is it laid with another, on one carrier? Any panel is with itself.
    pub fn laid_with(&self, other: &Panel) -> bool {
        self.number == other.number
            && match (self.part, other.part) {
                (Some(_), Some(_)) => true,
                (None, None) => self.film == other.film,
                _ => false,
            }
    }
}

/// All panels of a job.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Panels {
    /// Film by film.
    pub list: Vec<Panel>,
    /// The narrowest gap between films that can come of taking them up onto one carrier; none without such.
    pub on_carrier: Option<Narrowest>,
    /// The narrowest gap that can come of it, and the two pieces; none where nothing near is laid in two panels.
    pub narrowest: Option<Narrowest>,
}

/// What the narrowest gap may become.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Narrowest {
    /// The two pieces.
    pub pieces: [u32; 2],
    /// Their gap as laid out.
    pub gap: Mm,
    /// The least it can be when panels are laid by marks read as the job says.
    pub left: Mm,
}

impl Panels {
    /// The panel that a piece lies in.
    pub fn of(&self, number: u32) -> Option<&Panel> {
        self.list.iter().find(|p| p.members.iter().any(|m| m.number == number))
    }
    /// Those that are laid: of a gathered one its first part.
    pub fn layings(&self) -> impl Iterator<Item = &Panel> {
        self.list.iter().filter(|p| p.part.is_none_or(|p| p.nth == 1))
    }
    /// Films taken up onto carriers; a carrier of one film takes it up as it lifts it.
    pub fn gatherings(&self) -> usize {
        self.list.iter().filter(|p| p.part.is_some_and(|p| p.of > 1)).count()
    }
    /// What is laid with a panel, itself among it, in the order in which a carrier takes it up.
    pub fn parts(&self, panel: &Panel) -> Vec<&Panel> {
        let mut all: Vec<&Panel> = self.list.iter().filter(|p| p.laid_with(panel)).collect();
        all.sort_by_key(|p| p.part.map_or(1, |p| p.nth));
        all
    }
    /// All marks, each once.
    pub fn marks(&self, zone: usize) -> Vec<Mark> {
        let mut out: Vec<Mark> = Vec::new();
        for (m, _) in self.list.iter().filter(|p| p.zone == zone).flat_map(|p| &p.marks) {
            if !out.contains(m) {
                out.push(*m);
            }
        }
        out
    }
    /// Panels of a film.
    pub fn of_film(&self, film: FilmId) -> impl Iterator<Item = &Panel> {
        self.list.iter().filter(move |p| p.film == film)
    }
}
