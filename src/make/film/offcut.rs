//! What is left over of a sheet, as polygons with holes that the next job can use.
//!
//! Without a weeding frame that is all film outside the pieces: they are lifted out and the rest stays on its
//! backing until it is used. With a frame, what lies inside it is weeded away. Strips too narrow to be cut
//! from again (their margins would meet) are not counted, nor are scraps.
//!
//! Imports: base, outline, read::job, make::film::sheet.

use super::sheet::SheetLayout;
use crate::base::frame::{Point, Sheet};
use crate::base::tolerance::{LEFTOVER, NEST_FLATTEN};
use crate::base::units::Mm;
use crate::outline::plane::ring_area;
use crate::outline::{Bounds, Flat, Join, Op, Region, Ring, thinned};
use crate::read::job::FilmSpec;

/// Least width inside the margins for a leftover to be worth keeping (common practice, no source).
pub const LEAST: Mm = Mm(15.0);

/// The leftovers of a sheet worth keeping, the largest first.
pub fn leftovers(sheet: &SheetLayout, film: &FilmSpec) -> Vec<Region<Sheet>> {
    if sheet.placed.is_empty() {
        return Vec::new();
    }
    let corner = Point::mm(sheet.width.0, sheet.height.0);
    let whole = match &sheet.stock.shape {
        Some(shape) => shape.clone(),
        None => Region::rectangle(Bounds { min: Point::ORIGIN, max: corner }),
    };
    let taken = match &sheet.aids.frame {
        Some(frame) => Region::rectangle(*frame).flat(NEST_FLATTEN),
        None => filled(sheet, film.spacing),
    };
    let rest = whole.flat(NEST_FLATTEN).op(&taken, Op::Difference);
    let narrow = (film.margin * 2.0 + LEAST) * 0.5;
    let core = rest.offset_within(Mm(-narrow.0), Join::Round, LEFTOVER);
    let opened = core.offset_within(narrow, Join::Round, LEFTOVER).op(&rest, Op::Intersection);
    let mut parts = apart(&opened);
    parts.retain(|p| p.area().0 >= narrow.0 * narrow.0 * 4.0);
    parts.sort_by(|a, b| b.area().0.total_cmp(&a.area().0));
    parts
}

/// The pieces of a sheet with their openings filled, and the spacing round them; grown by all that was
/// thinned away.
fn filled(sheet: &SheetLayout, spacing: Mm) -> Flat<Sheet> {
    let outer = |r: &Ring| ring_area(r) > 0.0;
    let rings = sheet.placed.iter().flat_map(|p| p.cuts.flat(NEST_FLATTEN).rings).filter(outer);
    let carriers = sheet.aids.carriers.iter().flat_map(|c| c.outline.flat(NEST_FLATTEN).rings);
    let rings = rings.chain(carriers);
    let coarse = rings.map(|r| thinned(&r, LEFTOVER.0)).filter(|r| r.len() > 2).collect();
    let all = Flat::<Sheet>::new(coarse, NEST_FLATTEN + LEFTOVER);
    all.offset_within(spacing + all.error + LEFTOVER, Join::Round, LEFTOVER)
}

/// Each outer ring with the holes that lie in it.
fn apart(flat: &Flat<Sheet>) -> Vec<Region<Sheet>> {
    let (outer, holes): (Vec<&Ring>, Vec<&Ring>) = flat.rings.iter().partition(|r| ring_area(r) > 0.0);
    let part = |o: &&Ring| {
        let own = Flat::<Sheet>::new(vec![(*o).clone()], flat.error);
        let held = holes.iter().filter(|h| own.contains(h[0][0], h[0][1]));
        let rings = std::iter::once((*o).clone()).chain(held.map(|h| (*h).clone())).collect();
        Flat::<Sheet>::new(rings, flat.error).to_region()
    };
    outer.iter().map(part).collect()
}
