//! [`Row`]: where one piece goes, in words and numbers: the one source of map, table, job sheet and manifest.
//!
//! Imports: base, read::job, make::{piece, verify}, write::cut.

use crate::base::units::{Angle, Mm};
use crate::make::piece::Kind;
use crate::make::verify::Verified;
use crate::read::job::FilmId;
use crate::write::cut::sheet;

/// Where one piece goes.
#[derive(Clone, Debug, PartialEq)]
pub struct Row {
    /// The piece's number.
    pub number: u32,
    /// Zone of the map.
    pub zone: MapZone,
    /// What it is called.
    pub name: String,
    /// Film.
    pub film: FilmId,
    /// Sheet it is on, `gold-1`; none if it is on no sheet.
    pub sheet: Option<String>,
    /// Height of its anchor up the wall from the base edge.
    pub up: Mm,
    /// Distance of its anchor round from the front line at that height, positive to the right.
    pub round: Mm,
    /// Counter-clockwise from upright.
    pub turn: Angle,
    /// It goes on the base, not on the wall: height, distance and turn say nothing.
    pub on_base: bool,
}

/// A quarter of the wall, and whether it is its upper or lower half.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct MapZone {
    /// 0 front, 1 right, 2 back, 3 left; each an eighth of a turn to both sides of its quarter line.
    pub quarter: u8,
    /// Above the middle of the wall?
    pub upper: bool,
}

impl MapZone {
    /// All zones in reading order.
    pub fn all() -> impl Iterator<Item = MapZone> {
        (0..4).flat_map(|quarter| [true, false].map(|upper| MapZone { quarter, upper }))
    }
    /// The zone of a place.
    pub fn of(azimuth: Angle, slant: Mm, wall: Mm) -> MapZone {
        let eighths = (azimuth.wrapped().deg() + 45.0).rem_euclid(360.0);
        MapZone { quarter: (eighths / 90.0).floor().min(3.0) as u8, upper: slant.0 >= wall.0 / 2.0 }
    }
    /// Name for headings.
    pub fn name(self) -> &'static str {
        match (self.quarter, self.upper) {
            (0, true) => "front, upper",
            (0, false) => "front, lower",
            (1, true) => "right, upper",
            (1, false) => "right, lower",
            (2, true) => "back, upper",
            (2, false) => "back, lower",
            (_, true) => "left, upper",
            (_, false) => "left, lower",
        }
    }
    /// Azimuth of its quarter line.
    pub fn line(self) -> Angle {
        Angle::degrees(90.0 * f64::from(self.quarter))
    }
}

/// One row a piece, in order of their numbers.
pub fn rows(plan: &Verified) -> Vec<Row> {
    let mut sheets: Vec<Option<String>> = vec![None; plan.pieces().len()];
    for s in plan.sheets() {
        for p in s.placed.iter().filter(|p| !p.spare) {
            sheets[p.number as usize - 1].get_or_insert_with(|| sheet::sheet_name(plan, s));
        }
    }
    let surface = plan.cup().surface;
    plan.pieces()
        .iter()
        .zip(sheets)
        .map(|(p, sheet)| Row {
            number: p.number,
            zone: MapZone::of(p.wall.azimuth, p.wall.slant, surface.slant),
            name: p.name.clone(),
            film: p.film,
            sheet,
            up: p.wall.slant,
            round: surface.radius(p.wall.slant) * p.wall.azimuth.wrapped().rad(),
            turn: p.wall.turn.wrapped(),
            on_base: p.kind == Kind::Base,
        })
        .collect()
}

/// Rows of the wall zone by zone in reading order, numbers rising within each; zones without pieces are left
/// out.
pub fn by_zone(rows: &[Row]) -> Vec<(MapZone, Vec<&Row>)> {
    MapZone::all()
        .map(|z| (z, rows.iter().filter(|r| r.zone == z && !r.on_base).collect::<Vec<_>>()))
        .filter(|(_, r)| !r.is_empty())
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn zones_change_half_way_between_the_quarter_lines() {
        for (azimuth, want) in [
            (0.0, 0),
            (44.9, 0),
            (45.1, 1),
            (134.9, 1),
            (135.1, 2),
            (180.0, 2),
            (-135.1, 2),
            (-134.9, 3),
            (-45.1, 3),
            (-44.9, 0),
        ] {
            assert_eq!(MapZone::of(Angle::degrees(azimuth), Mm(1.0), Mm(10.0)).quarter, want, "{azimuth}");
        }
        assert!(MapZone::of(Angle::ZERO, Mm(5.0), Mm(10.0)).upper);
        assert!(!MapZone::of(Angle::ZERO, Mm(4.9), Mm(10.0)).upper);
    }
}
