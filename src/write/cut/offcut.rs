//! What is left over of the sheets, as files that the next job can name: one outline each, at its own size.
//!
//! Imports: base, outline, make::{film, plan, verify}, write::ink, write::cut::sheet.

use crate::base::frame::{Page, Point, Rigid, Sheet};
use crate::make::film::SheetLayout;
use crate::make::film::offcut::leftovers;
use crate::make::film::stock::Source;
use crate::make::plan::keep::own_leftover;
use crate::make::verify::{CutPlan, Verified};
use crate::outline::Region;
use crate::write::cut::sheet;
use crate::write::ink::svg::{self, Flip};
use rayon::prelude::*;
use svg_crate::node::Node;
use svg_crate::node::element::Element;

use ::svg as svg_crate;

/// One leftover.
#[derive(Clone, Debug)]
pub struct OffcutFile<'a> {
    /// Path of its file within the kit.
    pub file: String,
    /// The sheet it is left of.
    pub sheet: &'a SheetLayout,
    /// Where it lies on that sheet.
    pub shape: Region<Sheet>,
}

/// All leftovers worth keeping, sheet by sheet, the largest of a sheet first.
pub fn all(plan: &Verified) -> Vec<OffcutFile<'_>> {
    // What is left of a printed sheet are motifs.
    let mut all = of_sheets(plan, plan.sheets(), &|sheet| plan.job().sheet_of(sheet.film).is_none());
    // A later sheet of a kit that kept its sheets may be cut from it.
    let used = |o: &OffcutFile<'_>| {
        let own = Source::Offcut(own_leftover(&o.file));
        plan.sheets().iter().any(|s| s.stock.source == own)
    };
    all.retain(|o| !used(o));
    all
}

/// The leftovers of those sheets that are plain film.
pub fn of_sheets<'a>(
    plan: &dyn CutPlan,
    sheets: &'a [SheetLayout],
    plain: &(dyn Fn(&SheetLayout) -> bool + Sync),
) -> Vec<OffcutFile<'a>> {
    let of = |sheet: &SheetLayout| match plain(sheet) {
        true => leftovers(sheet, &plan.films()[sheet.film.0]),
        false => Vec::new(),
    };
    let found: Vec<Vec<Region<Sheet>>> = sheets.par_iter().map(of).collect();
    let mut out = Vec::new();
    for (sheet, shapes) in sheets.iter().zip(found) {
        let name = sheet::sheet_name(plan, sheet);
        let letters = (b'a'..=b'z').map(char::from);
        for (shape, letter) in shapes.into_iter().zip(letters) {
            out.push(OffcutFile { file: format!("leftovers/{name}{letter}.svg"), sheet, shape });
        }
    }
    out
}

impl OffcutFile<'_> {
    /// Its outline with the lower left corner of its box at the origin.
    pub fn outline(&self) -> Region<Page> {
        let b = self.shape.bounds();
        let home: Rigid<Sheet, Page> = Rigid::from_parts(1.0, 0.0, Point::mm(-b.min.x, -b.min.y));
        self.shape.moved(&home)
    }
    /// The file.
    pub fn bytes(&self, plan: &dyn CutPlan) -> Vec<u8> {
        let b = self.shape.bounds();
        let sheet = sheet::sheet_name(plan, self.sheet);
        let film = &plan.films()[self.sheet.film.0];
        let title = format!("{}: left over of {sheet}", plan.title());
        let times = match self.sheet.repeat.times {
            1 => String::new(),
            n => format!("There are {n} of it, one of each cut. "),
        };
        let message = format!(
            "{times}Film {}, {:.0} mm2, from {:.1} mm right and {:.1} mm up of the corner of {sheet}. Keep it on \
                its backing. A job uses it first when its [[film]] says leftovers = [\"FILE\"].",
            film.name,
            self.shape.area().0,
            b.min.x,
            b.min.y
        );
        let mut root = svg::page(b.width().0, b.height().0, &title, &message);
        let mut p = Element::new("path");
        p.assign("id", ID);
        p.assign("d", svg::data(self.outline().contours(), Flip::of(b.height().0)));
        p.assign("fill", film.colour.to_string());
        p.assign("fill-rule", "evenodd");
        root.append(p);
        svg::bytes(&root)
    }
}

/// Id of the outline.
pub const ID: &str = "leftover";
