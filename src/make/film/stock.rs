//! [`Bin`]: one kind of film to lay pieces on, as the maker has it; [`Offcut`]: what an earlier job left.
//!
//! Imports: base, outline, read::{job, materials}.

use crate::base::diag::ErrorGuaranteed;
use crate::base::frame::{Art, Point, Rigid, Sheet};
use crate::base::units::Mm;
use crate::outline::Region;
use crate::read::job::{FilmSpec, InStock, Job, Stock};
use crate::read::materials::Materials;

/// What an earlier job left of a sheet.
#[derive(Clone, Debug, PartialEq)]
pub struct Offcut {
    /// The file it was named by.
    pub name: String,
    /// What is there, lower left corner of its box at the origin.
    pub shape: Region<Sheet>,
}

impl Offcut {
    /// From the outline that a file holds, at its own size.
    pub fn new(name: &str, outline: &Region<Art>) -> Offcut {
        let b = outline.bounds();
        let home: Rigid<Art, Sheet> = Rigid::from_parts(1.0, 0.0, Point::mm(-b.min.x, -b.min.y));
        Offcut { name: name.to_owned(), shape: outline.moved(&home) }
    }
}

/// What earlier jobs left of each film.
///
/// # Errors
/// A file could not be read.
pub fn offcuts(job: &Job, materials: &Materials) -> Result<Vec<Vec<Offcut>>, ErrorGuaranteed> {
    let of = |film| Ok(materials.offcuts(film)?.iter().map(|(name, o)| Offcut::new(name, o)).collect());
    (0..job.films.len()).map(of).collect()
}

/// A sheet, a roll or a leftover.
#[derive(Clone, Debug, PartialEq)]
pub struct Bin {
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
    /// What it is taken from.
    pub source: Source,
}

/// What a sheet is taken from.
#[derive(Clone, Debug, Default, PartialEq)]
pub enum Source {
    /// As the film is bought.
    #[default]
    Bought,
    /// A sheet in stock.
    InStock,
    /// A leftover, by the name of its file.
    Offcut(String),
}

impl Bin {
    /// What a film comes as.
    pub fn of(film: &FilmSpec) -> Bin {
        let (width, height, roll) = match film.stock {
            Stock::Sheet { width, height } => (width, height, false),
            Stock::Roll { width, longest } => (width, longest, true),
        };
        Bin { width, height, roll, shape: None, count: None, source: Source::Bought }
    }
    /// A sheet that is there.
    pub fn in_stock(s: &InStock) -> Bin {
        let (width, height) = (s.width, s.height);
        Bin { width, height, roll: false, shape: None, count: Some(s.count), source: Source::InStock }
    }
    /// What an earlier job left.
    pub fn left(l: &Offcut) -> Bin {
        let b = l.shape.bounds();
        Bin {
            width: b.width(),
            height: b.height(),
            roll: false,
            shape: Some(l.shape.clone()),
            count: Some(1),
            source: Source::Offcut(l.name.clone()),
        }
    }
    /// All that there is of a film, in the order in which it is used: leftovers, stock, then what is bought.
    pub fn all(film: &FilmSpec, leftovers: &[Offcut]) -> Vec<Bin> {
        let left = leftovers.iter().map(Bin::left);
        left.chain(film.cut.in_stock.iter().map(Bin::in_stock)).chain([Bin::of(film)]).collect()
    }
    /// Width and height inside the margin.
    pub fn usable(&self, margin: Mm) -> [f64; 2] {
        [self.width.0 - 2.0 * margin.0, self.height.0 - 2.0 * margin.0]
    }
    /// For messages.
    pub fn message(&self) -> String {
        if self.roll {
            format!("a roll {} wide, at most {} cut at once", self.width, self.height)
        } else {
            format!("{} x {}", self.width, self.height)
        }
    }
}
