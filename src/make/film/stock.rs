//! [`Blank`]: one kind of film to lay pieces on, as the maker has it.
//!
//! Imports: base, read::job.

use crate::base::frame::Sheet;
use crate::base::shape::Region;
use crate::base::units::Mm;
use crate::read::job::{FilmSpec, Stock};

/// A sheet, a roll or a leftover.
#[derive(Clone, Debug, PartialEq)]
pub struct Blank {
    /// Left to right on the cutter.
    pub width: Mm,
    /// Along the feed; of a roll, the longest cut.
    pub height: Mm,
    /// Only the length used is taken.
    pub roll: bool,
    /// What is there of a leftover, inside width x height; a whole rectangle if `None`.
    pub shape: Option<Region<Sheet>>,
    /// How many there are; as many as needed if `None`.
    pub count: Option<usize>,
    /// What the maker calls it, if it has a name.
    pub name: Option<String>,
}

impl Blank {
    /// What a film comes as.
    pub fn of(film: &FilmSpec) -> Blank {
        let (width, height, roll) = match film.stock {
            Stock::Sheet { width, height } => (width, height, false),
            Stock::Roll { width, longest } => (width, longest, true),
        };
        Blank { width, height, roll, shape: None, count: None, name: None }
    }
    /// Width and height inside the margin.
    pub fn usable(&self, margin: Mm) -> [f64; 2] {
        [self.width.0 - 2.0 * margin.0, self.height.0 - 2.0 * margin.0]
    }
    /// For messages.
    pub fn says(&self) -> String {
        if self.roll {
            format!("a roll {} wide, at most {} cut at once", self.width, self.height)
        } else {
            format!("{} x {}", self.width, self.height)
        }
    }
}
