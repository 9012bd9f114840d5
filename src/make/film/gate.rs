//! The exact check that a layout passes before it replaces the last good one: f64 distances between
//! polylines.
//!
//! Imports: base, outline, make::film::{stock, solid, fill}.

use super::fill::{BinLayout, Demand, Spot};
use super::solid::Solid;
use super::stock::Bin;
use crate::base::frame::Sheet;
use crate::base::tolerance::{FLATTEN, MEASURE};
use crate::base::units::Mm;
use crate::outline::{Bounds, Clearance, Flat};

/// What is wrong with a layout.
#[derive(Clone, Debug, PartialEq)]
pub enum Flaw {
    /// Two items are nearer than the spacing.
    Near {
        /// The two, as places in the list of items.
        items: [usize; 2],
        /// Their distance.
        distance: Mm,
    },
    /// An item reaches outside the margin.
    Outside {
        /// Which.
        item: usize,
    },
}

/// Checks one sheet; `spacing` is what the polylines must keep.
pub fn flaws(solids: &[Solid], items: &[usize], sheet: &BinLayout, blank: &Bin, demand: Demand) -> Vec<Flaw> {
    let flats: Vec<Flat<Sheet>> =
        sheet.spots.iter().map(|s| solids[items[s.item]].fine.moved(&s.pose)).collect();
    let boxes: Vec<Bounds<Sheet>> = flats.iter().map(Flat::bounds).collect();
    let mut found = outside(&sheet.spots, &flats, &boxes, blank, demand);
    let index: Vec<Clearance<Sheet>> = flats.into_iter().map(Clearance::new).collect();
    let least = Mm(demand.guarded() - MEASURE.0);
    let mut order: Vec<usize> = (0..boxes.len()).collect();
    order.sort_by(|&a, &b| boxes[a].min.y.total_cmp(&boxes[b].min.y));
    for (k, &i) in order.iter().enumerate() {
        for &j in &order[k + 1..] {
            if boxes[j].min.y > boxes[i].max.y + least.0 {
                break;
            }
            if boxes[i].distance(&boxes[j]).0 >= least.0 {
                continue;
            }
            if let Some(distance) = index[i].distance(&index[j], least) {
                found.push(Flaw::Near { items: [sheet.spots[i].item, sheet.spots[j].item], distance });
            }
        }
    }
    found
}

fn outside(
    spots: &[Spot],
    flats: &[Flat<Sheet>],
    boxes: &[Bounds<Sheet>],
    blank: &Bin,
    demand: Demand,
) -> Vec<Flaw> {
    let m = demand.margin.0 + FLATTEN.0 - MEASURE.0;
    let shape = blank.shape.as_ref().map(|s| Clearance::new(s.flat(FLATTEN)));
    let mut found = Vec::new();
    for (k, b) in boxes.iter().enumerate() {
        let in_box =
            b.min.x >= m && b.min.y >= m && b.max.x <= blank.width.0 - m && b.max.y <= blank.height.0 - m;
        let in_shape = shape.as_ref().is_none_or(|s| {
            let inside = flats[k].rings.iter().all(|r| s.flat().contains(r[0][0], r[0][1]));
            inside && edges_clear(s, &flats[k], Mm(m))
        });
        if !in_box || !in_shape {
            found.push(Flaw::Outside { item: spots[k].item });
        }
    }
    found
}

/// Are all edges of a leftover at least `m` from those of a piece inside it, which holds none of the
/// leftover's holes?
fn edges_clear(shape: &Clearance<Sheet>, piece: &Flat<Sheet>, m: Mm) -> bool {
    // The leftover's complement as a region: then a piece inside is apart from it, or has the distance zero.
    let b = shape.flat().bounds().grown(Mm(m.0 + 1.0)).joined(&piece.bounds().grown(Mm(m.0 + 1.0)));
    let mut rings =
        vec![vec![[b.min.x, b.min.y], [b.max.x, b.min.y], [b.max.x, b.max.y], [b.min.x, b.max.y]]];
    rings.extend(shape.flat().rings.iter().cloned());
    let around: Clearance<Sheet> = Clearance::new(Flat::new(rings, shape.flat().error));
    around.distance(&Clearance::new(piece.clone()), m).is_none()
}
