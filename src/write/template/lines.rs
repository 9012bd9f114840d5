//! The lines of a wrap template and what they are called: strips that film keeps off, rings, lines up the wall,
//! marks that meet over an edge.
//!
//! Imports: base, read::job, make::{cup, finish, verify}, write::ink, write::template::band.

use super::band::Band;
use crate::base::units::{Angle, LengthUnit, Mm};
use crate::make::cup::{Cup, WallZone};
use crate::make::finish::GuideRing;
use crate::make::verify::Verified;
use crate::read::job::Rgb;
use crate::write::ink::decimal::table_inch;
use crate::write::ink::drawing::{Dash, INK, Stroke};

/// What stands in a handle's window.
pub const HANDLE: &str = "handle";
/// Blue of the front line, green of the start line: told apart by every eye, and by their dashes and words.
const FRONT: Rgb = Rgb([0x0a, 0x00, 0x5e]);
const START: Rgb = Rgb([0x26, 0x7b, 0x69]);
/// Brown of guide rings; their dashes and words tell them apart without it.
pub const RING: Rgb = Rgb([0x8a, 0x4b, 0x08]);

/// Between marks that meet over an edge: an eighth of a turn.
const EIGHTHS: u32 = 8;

/// A mark that meets one of the neighbour's over an edge.
pub struct Join {
    /// The line up the wall that it stands on.
    pub azimuth: Angle,
    /// The edge.
    pub at: Mm,
    /// Where the mark ends.
    pub tip: Mm,
    /// The same letter on both sides.
    pub name: String,
}

/// The marks over a ring piece's edges.
pub fn join_marks(cup: &Cup, zone: usize, band: &Band) -> Vec<Join> {
    let z = &cup.zones[zone];
    let several = cup.zones.len() > 2;
    let size = ((z.high - z.low).0 * 0.2).min(3.0);
    let mut out = Vec::new();
    // Edge n lies below zone n.
    for (edge, at, way) in [(zone, z.low, 1.0), (zone + 1, z.high, -1.0)] {
        if edge == 0 || edge == cup.zones.len() {
            continue;
        }
        for eighth in 0..EIGHTHS {
            let azimuth = band.nearest_turn(Angle::TURN * (f64::from(eighth) / f64::from(EIGHTHS)));
            if (azimuth - band.ends().0).wrapped().abs().deg() < 0.5 {
                continue;
            }
            let own = char::from(b'a' + eighth as u8);
            let name = if several { format!("{edge}{own}") } else { own.to_string() };
            out.push(Join { azimuth, at, tip: at + Mm(way * (size * 1.5)), name });
        }
    }
    out
}

/// A strip of a zone that film keeps off, and the height of the side where film begins.
pub struct Strip {
    /// Lowest slant.
    pub low: Mm,
    /// Highest slant.
    pub high: Mm,
    /// Where film begins.
    pub inner: Mm,
    /// The edge of the wall that it lies at, if it is a keep-clear band's.
    pub what: Option<&'static str>,
}

/// Strips that film keeps off, the lower first: bands as far as they reach onto a zone, and what is kept off
/// its edges.
pub fn strips(plan: &Verified, wall: &WallZone) -> Vec<Strip> {
    let z = &wall.zone;
    let bands = plan.job().cup.keep_clear;
    let (base, rim) = (bands.base, plan.cup().wall() - bands.rim);
    let of_edge = |edge: bool, what| if edge { None } else { Some(what) };
    let mut out = vec![
        Strip { low: wall.low, high: z.low, inner: z.low, what: of_edge(z.edges[0], "base") },
        Strip { low: z.high, high: wall.high, inner: z.high, what: of_edge(z.edges[1], "rim") },
    ];
    if z.low >= z.high {
        // Nothing of it is free: one band, or the edges' strips, take it all.
        let what = if base >= wall.high { Some("base") } else { (rim <= wall.low).then_some("rim") };
        out = vec![Strip { low: wall.low, high: wall.high, inner: wall.high, what }];
    }
    out.retain(|s| s.high.0 - s.low.0 > 0.0);
    out
}

/// The height rings of a job: every 10 mm, or every half inch.
#[derive(Clone, Copy, Debug)]
pub struct RingScale(LengthUnit);

impl RingScale {
    /// Of a job's unit.
    pub fn of(unit: LengthUnit) -> RingScale {
        RingScale(unit)
    }
    /// Between two rings, up the wall.
    pub fn step(self) -> Mm {
        match self.0 {
            LengthUnit::Mm => Mm(10.0),
            LengthUnit::In => Mm::INCH * 0.5,
        }
    }
    /// Height of a ring by its number.
    pub fn slant(self, n: usize) -> Mm {
        self.step() * n as f64
    }
    /// What stands on it.
    pub fn name(self, n: usize) -> String {
        match self.0 {
            LengthUnit::Mm => format!("{}", 10 * n),
            LengthUnit::In => table_inch(self.slant(n)),
        }
    }
    /// Is it drawn stronger? Every 50 mm, every inch.
    pub fn is_strong(self, n: usize) -> bool {
        n.is_multiple_of(match self.0 {
            LengthUnit::Mm => 5,
            LengthUnit::In => 2,
        })
    }
    /// How the rings are told in a group's title.
    pub fn title(self) -> &'static str {
        match self.0 {
            LengthUnit::Mm => "Rings every 10 mm up the wall from the base edge",
            LengthUnit::In => "Rings every half inch up the wall from the base edge",
        }
    }
    /// Numbers of the rings strictly within a band.
    pub fn within(self, band: &Band) -> std::ops::Range<usize> {
        let step = self.step();
        (band.low / step).floor() as usize + 1..(band.wall / step).ceil() as usize
    }
}

/// The widest stretch of the wall between two heights that no ring crosses; of equal ones the upper.
pub fn between_rings(scale: RingScale, low: Mm, high: Mm) -> (Mm, Mm) {
    let first = (low / scale.step()).floor() as usize + 1;
    let rings = (first..).map(|i| scale.slant(i)).take_while(|r| *r < high);
    let edges: Vec<Mm> = std::iter::once(low).chain(rings).chain([high]).collect();
    let widest = edges.windows(2).max_by(|a, b| (a[1] - a[0]).0.total_cmp(&(b[1] - b[0]).0));
    widest.map_or((low, high), |w| (w[0], w[1]))
}

/// The rings of bands that lie within a band of the template: an edge of the wall is an edge of the template.
pub fn rings_of<'a>(plan: &'a Verified, band: &Band) -> impl Iterator<Item = &'a GuideRing> + use<'a> {
    let (low, wall) = (band.low, band.wall);
    let all = plan.finish().bands.iter().flat_map(|b| &b.rings);
    all.filter(move |r| r.slant > low && r.slant < wall)
}

/// A line up the wall and what it is called, from long to short.
pub struct Named {
    /// Where it stands.
    pub azimuth: Angle,
    /// What it is called, from long to short.
    pub forms: &'static [&'static str],
    /// Colour of line and words.
    pub colour: Rgb,
    /// How it is drawn.
    pub stroke: Stroke,
}

/// Front line, quarter lines and the line opposite the seam, with their words; lines on the seam are left to
/// it. The line to start on first.
pub fn named_lines(band: &Band) -> Vec<Named> {
    let quiet = Stroke { colour: INK, width: 0.2, dash: Dash::Dashed };
    let front = Stroke { colour: FRONT, width: 0.4, dash: Dash::Solid };
    let start = Stroke { colour: START, width: 0.4, dash: Dash::Chain };
    let quarter = |deg: f64, forms| Named { azimuth: Angle::degrees(deg), forms, colour: INK, stroke: quiet };
    let mut all = vec![
        Named { azimuth: Angle::ZERO, forms: &["FRONT", "F"], colour: FRONT, stroke: front },
        quarter(90.0, &["right, a quarter round", "right", "R"]),
        quarter(-90.0, &["left, a quarter round", "left", "L"]),
        quarter(180.0, &["back", "B"]),
    ];
    all.retain(|l| (l.azimuth - band.ends().0).wrapped().abs().deg() > 0.5);
    let forms: &[&str] = if (band.middle - Angle::ZERO).wrapped().abs().deg() <= 0.5 {
        all.retain(|l| l.azimuth != Angle::ZERO);
        &["FRONT, opposite the seam: start here, work both ways", "FRONT: start here", "FRONT", "F"]
    } else {
        all.retain(|l| (l.azimuth - band.middle).wrapped().abs().deg() > 0.5);
        &["opposite the seam: start here, work both ways", "start here", "start"]
    };
    all.insert(0, Named { azimuth: band.middle, forms, colour: START, stroke: start });
    all
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_of_a_band_lie_between_rings() {
        let mm = RingScale::of(LengthUnit::Mm);
        let between_rings = |low, high| super::between_rings(mm, low, high);
        assert_eq!(between_rings(Mm(90.0), Mm(110.0)), (Mm(100.0), Mm(110.0)));
        assert_eq!(between_rings(Mm(145.0), Mm(165.0)), (Mm(150.0), Mm(160.0)));
        assert_eq!(between_rings(Mm(0.0), Mm(6.0)), (Mm(0.0), Mm(6.0)));
        assert_eq!(between_rings(Mm(101.0), Mm(111.5)), (Mm(101.0), Mm(110.0)));
    }
}
