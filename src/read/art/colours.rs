//! The area that shows of each colour: what is painted later covers what is painted before.
//!
//! Imports: base, outline, read::{job, art}, read::art::walk.

use super::Artwork;
use super::walk::without_specks;
use crate::base::diag::{Diagnostics, ErrorGuaranteed, KeyPath};
use crate::base::frame::Art;
use crate::outline::{Op, Region};
use crate::read::job::{ArtSize, Rgb};

/// A colour and the area that shows of it; `None` is what has no colour of its own.
pub type Seen = (Option<Rgb>, Region<Art>);

impl Artwork {
    /// The area that shows of each colour, in mm as [`Self::sized`] gives the outline, in the order in which
    /// the colours are first painted; `None` is the areas without a colour of their own. The areas do not
    /// overlap, and together they are the outline.
    ///
    /// # Errors
    /// As [`Self::sized`].
    pub fn by_colour(
        &self,
        size: ArtSize,
        at: &KeyPath,
        diagnostics: &mut Diagnostics,
    ) -> Result<Vec<Seen>, ErrorGuaranteed> {
        let factor = self.factor(size, at, diagnostics)?;
        let mut order: Vec<Option<Rgb>> = Vec::new();
        for shape in &self.shapes {
            if !order.contains(&shape.colour) {
                order.push(shape.colour);
            }
        }
        // From the top down: what shows is what nothing later covers.
        let mut covered: Region<Art> = Region::empty();
        let mut seen: Vec<(Option<Rgb>, Vec<Region<Art>>)> =
            order.into_iter().map(|c| (c, Vec::new())).collect();
        for shape in self.shapes.iter().rev() {
            let shows = shape.region.op(&covered, Op::Difference);
            covered = Region::union_of([&covered, &shape.region]);
            if let Some((_, list)) = seen.iter_mut().find(|(c, _)| *c == shape.colour) {
                list.push(shows);
            }
        }
        let areas = seen.into_iter().map(|(colour, list)| {
            let region = self.placed(&Region::union_of(&list), factor);
            (colour, without_specks(&region).0)
        });
        Ok(areas.filter(|(_, r)| !r.is_empty()).collect())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::units::Mm;

    /// A red square with a blue disc on it, and a red bar over the disc: areas by hand.
    #[test]
    fn later_paint_covers_earlier_and_the_areas_add_up() {
        let svg = r##"<svg xmlns="http://www.w3.org/2000/svg" width="40mm" height="40mm" viewBox="0 0 40 40">
            <rect width="40" height="40" fill="#c00000"/><rect x="10" y="10" width="20" height="20" fill="#0000c0"/>
            <rect x="15" y="0" width="10" height="40" fill="#c00000"/></svg>"##;
        let mut diagnostics = Diagnostics::new();
        let at = KeyPath::root();
        let art = super::super::read_art("a.svg", svg.as_bytes(), &at, &mut diagnostics).expect("reads");
        let seen = art.by_colour(ArtSize::Width(Mm(40.0)), &at, &mut diagnostics).expect("sized");
        let area = |c: [u8; 3]| seen.iter().find(|(s, _)| *s == Some(Rgb(c))).expect("seen").1.area().0;
        approx::assert_abs_diff_eq!(area([0xc0, 0, 0]), 1600.0 - 200.0, epsilon = 0.05);
        approx::assert_abs_diff_eq!(area([0, 0, 0xc0]), 200.0, epsilon = 0.05);
    }
}
