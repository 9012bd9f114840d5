//! [`Row`]: where one piece goes, in words and numbers: the one source of map, table, job sheet and manifest.
//!
//! Imports: base, read::job, make::{cup, piece, verify}, write::{ink, cut, template}.

use crate::base::frame::Point;
use crate::base::tolerance::MEASURE;
use crate::base::units::{Angle, Mm};
use crate::make::cup::{Cup, WallPoint};
use crate::make::piece::{Kind, Piece};
use crate::make::verify::Verified;
use crate::read::job::FilmId;
use crate::write::cut::sheet;
use crate::write::ink::decimal::inch_parts;
use crate::write::template::band::letter;
use std::cmp::Reverse;
use std::collections::BTreeSet;

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
    /// Height of its middle, that of the box round its outline, up the wall from the base edge.
    pub up: Mm,
    /// Distance of its middle round from the front line at that height, positive to the right.
    pub round: Mm,
    /// Parts of an inch in which its place is told, fine enough for the least gap on the wall.
    pub inch_parts: u64,
    /// Counter-clockwise from upright.
    pub turn: Angle,
    /// It goes on the base, not on the wall: height, distance and turn say nothing.
    pub on_base: bool,
}

/// A quarter of the wall, and its upper or lower half, or the zone of a wall with edges.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct MapZone {
    /// 0 front, 1 right, 2 back, 3 left; each an eighth of a turn to both sides of its quarter line.
    pub quarter: u8,
    /// How high.
    pub part: Part,
}

/// How high on the wall, in reading order.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Part {
    /// Above the middle of a wall of one cone.
    Upper,
    /// Below it.
    Lower,
    /// A zone between edges, counted from 0 at the base; the highest comes first.
    Zone(Reverse<usize>),
}

impl MapZone {
    /// The zone of a place on a wall of one cone.
    pub fn of(azimuth: Angle, slant: Mm, wall: Mm) -> MapZone {
        let part = if slant.0 >= wall.0 / 2.0 { Part::Upper } else { Part::Lower };
        MapZone { quarter: MapZone::quarter(azimuth), part }
    }
    /// The zone of a piece.
    fn of_piece(p: &Piece, cup: &Cup) -> MapZone {
        match cup.is_cone() {
            true => MapZone::of(p.wall.azimuth, p.wall.slant, cup.wall()),
            false => MapZone { quarter: MapZone::quarter(p.wall.azimuth), part: Part::Zone(Reverse(p.zone)) },
        }
    }
    fn quarter(azimuth: Angle) -> u8 {
        let eighths = (azimuth.wrapped().deg() + 45.0).rem_euclid(360.0);
        (eighths / 90.0).floor().min(3.0) as u8
    }
    /// Name for headings.
    pub fn name(self) -> String {
        let quarter = ["front", "right", "back", "left"][usize::from(self.quarter.min(3))];
        match self.part {
            Part::Upper => format!("{quarter}, upper"),
            Part::Lower => format!("{quarter}, lower"),
            Part::Zone(Reverse(i)) => format!("{quarter}, part {}", letter(i)),
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
    // Cups of an order find the same piece on several sheets.
    let mut last: Vec<Option<(usize, usize)>> = vec![None; plan.pieces().len()];
    for s in plan.sheets() {
        for p in s.placed.iter().filter(|p| !p.spare) {
            let Some(i) = plan.place_of(p.number) else { continue };
            if last[i].replace((s.film.0, s.index)) == Some((s.film.0, s.index)) {
                continue;
            }
            let name = sheet::sheet_name(plan, s);
            match &mut sheets[i] {
                Some(all) => all.push_str(&format!(", {name}")),
                none => *none = Some(name),
            }
        }
    }
    let cup = plan.cup();
    let least = plan.on_wall().map(|p| p.clearance).reduce(Mm::min);
    let inch_parts = inch_parts(least.unwrap_or(Mm::INCH));
    plan.pieces()
        .iter()
        .zip(sheets)
        .map(|(p, sheet)| (middle(p, cup), p, sheet))
        .map(|(middle, p, sheet)| Row {
            number: p.number,
            zone: MapZone::of_piece(p, cup),
            name: p.name.clone(),
            film: p.film,
            sheet,
            up: middle.slant,
            round: cup.zones[p.zone].development.radius(middle.slant) * middle.azimuth.wrapped().rad(),
            inch_parts,
            turn: p.wall.turn.wrapped(),
            on_base: p.kind == Kind::Base,
        })
        .collect()
}

/// Where the middle of a piece lies on the wall: that of the box round its outline, which a border or a mend may
/// have moved off its anchor. Layers of a decal are laid by the middle that they share.
fn middle(p: &Piece, cup: &Cup) -> WallPoint {
    let b = p.outline.bounds();
    let (x, y) = (f64::midpoint(b.min.x, b.max.x), f64::midpoint(b.min.y, b.max.y));
    if matches!(p.kind, Kind::Base | Kind::Layer { .. }) || libm::hypot(x, y) < MEASURE.0 {
        return WallPoint { azimuth: p.wall.azimuth, slant: p.wall.slant };
    }
    cup.zones[p.zone].development.wrap(p.pose.apply(Point::mm(x, y)))
}

/// Rows of the wall zone by zone in reading order, numbers rising within each; zones without pieces are left
/// out.
pub fn by_zone(rows: &[Row]) -> Vec<(MapZone, Vec<&Row>)> {
    let zones: BTreeSet<MapZone> = rows.iter().filter(|r| !r.on_base).map(|r| r.zone).collect();
    zones
        .into_iter()
        .map(|z| (z, rows.iter().filter(|r| r.zone == z && !r.on_base).collect::<Vec<_>>()))
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
        assert_eq!(MapZone::of(Angle::ZERO, Mm(5.0), Mm(10.0)).part, Part::Upper);
        assert_eq!(MapZone::of(Angle::ZERO, Mm(4.9), Mm(10.0)).part, Part::Lower);
    }
}
