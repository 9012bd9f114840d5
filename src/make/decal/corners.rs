//! Corners too sharp for a blade and parts too small to handle, on the finished outlines of every layer.
//!
//! Imports: base, outline, read::job, make::decal::{codes, stack}.

use super::codes::{SHARP, SMALL};
use super::stack::Layer;
use crate::base::diag::{Diagnostic, Diagnostics, KeyPath};
use crate::base::frame::{Art, Point};
use crate::base::units::{Angle, Mm};
use crate::outline::CornerKind;
use crate::read::job::FilmSpec;
use crate::read::job::decals::DecalSpec;

/// What was found.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Hard {
    /// A corner of this angle, of the film or of what is cut away.
    Corner(Angle, CornerKind),
    /// A part of the film, or a hole in it, of this greatest extent.
    Island(Mm, CornerKind),
}

/// One place.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct CornerPlace {
    /// Layer, from 0, the base.
    pub layer: usize,
    /// Which film of the layer, from 0.
    pub film: usize,
    /// What is there.
    pub what: Hard,
    /// Where, in the decal's frame.
    pub at: Point<Art>,
}

/// Looks at every film of every layer; each kind of place is told once a film, with the worst.
pub fn look(
    spec: &DecalSpec,
    layers: &[Layer],
    films: &[FilmSpec],
    at: &KeyPath,
    diagnostics: &mut Diagnostics,
) -> Vec<CornerPlace> {
    let mut all = Vec::new();
    for (layer, l) in layers.iter().enumerate() {
        for (n, (film, region)) in l.films.iter().enumerate() {
            let film = &films[film.0];
            let place = |what, at| CornerPlace { layer, film: n, what, at };
            let mut corners = region.sharp_corners(spec.sharpest);
            corners.sort_by(|a, b| a.angle.rad().total_cmp(&b.angle.rad()));
            let at = at.key("layers").index(layer);
            if let Some(worst) = corners.first() {
                let message = format!(
                    "layer {}, film {}: {} corners are sharper than a blade turns well, the sharpest {}",
                    layer + 1,
                    film.name,
                    corners.len(),
                    from_middle(worst.at)
                );
                diagnostics.push(
                    Diagnostic::note(&SHARP, at.clone(), message)
                        .measured(format!("{:.0} degrees", worst.angle.deg()))
                        .allowed(format!("{:.0} degrees or more (`sharpest`)", spec.sharpest.deg()))
                        .help("cut slowly there, take a rounder font, or round the drawing"),
                );
            }
            all.extend(corners.iter().map(|c| place(Hard::Corner(c.angle, c.points), c.at)));
            let least = spec.island.unwrap_or(film.weed * 2.0);
            let mut islands = region.small_islands(least);
            islands.sort_by(|a, b| a.extent.0.total_cmp(&b.extent.0));
            if let Some(worst) = islands.first() {
                let message = format!(
                    "layer {}, film {}: {} parts or holes are too small to handle, the smallest {}",
                    layer + 1,
                    film.name,
                    islands.len(),
                    from_middle(worst.at)
                );
                diagnostics.push(
                    Diagnostic::warning(&SMALL, at.clone(), message)
                        .measured(format!("{:.2} across", worst.extent))
                        .allowed(format!("{least} across or more (`island`)"))
                        .help("make the decal larger, or leave such parts out of the drawing"),
                );
            }
            let side = |hole: bool| if hole { CornerKind::In } else { CornerKind::Out };
            all.extend(islands.iter().map(|i| place(Hard::Island(i.extent, side(i.hole)), i.at)));
        }
    }
    all
}

/// A place in words, from the decal's middle.
fn from_middle(p: Point<Art>) -> String {
    let side = if p.x < 0.0 { "left" } else { "right" };
    let way = if p.y < 0.0 { "below" } else { "above" };
    format!("{:.1} mm {side} and {:.1} mm {way} of its middle", p.x.abs(), p.y.abs())
}
