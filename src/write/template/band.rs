//! The developed band on paper: parallels, generators and the true outline as cubics, without the apex.
//!
//! Imports: base, outline, make::cup, write::ink.

use crate::base::frame::{Page, Plane, Point, Rigid};
use crate::base::units::{Angle, Mm};
use crate::make::cup::{Cup, Development, WallPoint, WallZone, Window};
use crate::outline::{BezPath, Bounds, Region};

/// A zone of a cup's wall laid on a page: the seam at both ends, the line opposite the seam upright in the
/// middle.
#[derive(Clone, Debug)]
pub struct Band {
    development: Development,
    /// Azimuth of the line opposite the seam, in the middle of the page.
    pub middle: Angle,
    /// Lower edge of the zone.
    pub low: Mm,
    /// Upper edge of the zone: on a wall of one cone its length.
    pub wall: Mm,
    /// Film lap beyond the seam.
    pub lap: Mm,
    /// From the developed plane to the page.
    pub to_page: Rigid<Plane, Page>,
}

/// Between two bands on a page: room for the words of the one below.
const BETWEEN: f64 = 12.0;

/// The bands of all zones, lowest first, one above the other with their middles in line, the lower left corner
/// of all at a place of the page.
pub fn bands(cup: &Cup, lap: Mm, at: Point<Page>) -> Vec<Band> {
    let mut y = at.y;
    let mut out: Vec<Band> = Vec::new();
    for zone in &cup.zones {
        let band = Band::new(zone, lap, Point::mm(at.x, y));
        y = band.bounds().max.y + BETWEEN;
        out.push(band);
    }
    let middle = |b: &Band| b.at(b.middle, b.low).x;
    let right = out.iter().map(middle).fold(f64::NEG_INFINITY, f64::max);
    if out.len() > 1 {
        out.iter_mut().for_each(|b| b.shift(right - middle(b), 0.0));
    }
    out
}

/// Letter of a zone: A at the base.
pub fn letter(zone: usize) -> String {
    let own = char::from(b'A' + (zone % 26) as u8);
    if zone < 26 { own.to_string() } else { format!("{own}{}", zone / 26) }
}

impl Band {
    /// The band of a zone, its lower left corner (overhang included) at a place of the page.
    pub fn new(zone: &WallZone, lap: Mm, at: Point<Page>) -> Band {
        let middle = (zone.zone.seam - Angle::radians(std::f64::consts::PI)).wrapped();
        let mut band = Band::facing(zone, middle);
        band.lap = lap;
        let low = band.outline().bounds().min;
        band.shift(at.x - low.x, at.y - low.y);
        band
    }
    /// The band with the line of an azimuth upright in its middle, the foot of that line at the page's
    /// origin.
    pub fn facing(zone: &WallZone, middle: Angle) -> Band {
        let development = zone.development;
        let upright = development.rotated(-middle);
        let (c, s, dx, dy) = upright.parts();
        let to_page = Rigid::from_parts(c, s, Point::mm(dx, dy));
        Band { development, middle, low: zone.low, wall: zone.high, lap: Mm::ZERO, to_page }
    }
    /// Moves it on the page.
    pub fn shift(&mut self, x: f64, y: f64) {
        let by: Rigid<Page, Page> = Rigid::new(Angle::ZERO, Point::mm(x, y));
        self.to_page = self.to_page.then(&by);
    }
    /// The development.
    pub fn development(&self) -> &Development {
        &self.development
    }
    /// Azimuths of the two ends: the seam as seen from both sides.
    pub fn ends(&self) -> (Angle, Angle) {
        let half = Angle::radians(std::f64::consts::PI);
        (self.middle - half, self.middle + half)
    }
    /// A point of the wall on the page.
    pub fn at(&self, azimuth: Angle, slant: Mm) -> Point<Page> {
        self.to_page.apply(self.development.develop(WallPoint { azimuth, slant }))
    }
    /// The direction "right along the parallel" at an azimuth, as (cosine, sine): text set along it reads rim
    /// up.
    pub fn level(&self, azimuth: Angle) -> (f64, f64) {
        let turn = (self.middle - azimuth) * self.development.frustum().sine();
        (turn.cos(), turn.sin())
    }
    /// The azimuth nearest the middle that means the same line of the cup.
    pub fn nearest_turn(&self, azimuth: Angle) -> Angle {
        self.middle + (azimuth - self.middle).wrapped()
    }
    /// A parallel from one azimuth to another.
    pub fn parallel(&self, slant: Mm, from: Angle, to: Angle) -> BezPath {
        let start = self.development.develop(WallPoint { azimuth: from, slant });
        let mut path = BezPath::new();
        path.move_to((start.x, start.y));
        self.development.parallel_to(&mut path, from, to, slant);
        self.on_page(&path)
    }
    fn on_page(&self, path: &BezPath) -> BezPath {
        crate::write::ink::letters::mapped(path, &|x, y| {
            let p = self.to_page.apply(Point::mm(x, y));
            (p.x, p.y)
        })
    }
    /// A generator from one slant to another.
    pub fn generator(&self, azimuth: Angle, from: Mm, to: Mm) -> BezPath {
        let (p, q) = (self.at(azimuth, from), self.at(azimuth, to));
        crate::write::ink::drawing::segment((p.x, p.y), (q.x, q.y))
    }
    /// A strip of wall between two slants, all round.
    pub fn strip(&self, low: Mm, high: Mm) -> Region<Page> {
        let (left, right) = self.ends();
        self.development.band(left, right, low, high).moved(&self.to_page)
    }
    /// The true outline of the template: the whole wall, and the lap as a straight strip beyond the right
    /// end.
    pub fn outline(&self) -> Region<Page> {
        if self.lap.0 <= 0.0 {
            return self.strip(self.low, self.wall);
        }
        let (left, right) = self.ends();
        let mut path = self.parallel(self.low, left, right);
        let (c, s) = self.level(right);
        let beyond = |p: Point<Page>| (p.x + c * self.lap.0, p.y + s * self.lap.0);
        path.line_to(beyond(self.at(right, self.low)));
        path.line_to(beyond(self.at(right, self.wall)));
        let top = self.at(right, self.wall);
        path.line_to((top.x, top.y));
        path.extend(self.parallel(self.wall, right, left).into_iter().skip(1));
        path.close_path();
        Region::trusted([path])
    }
    /// The parts of a handle's window that lie between two azimuths of the band, and where their middles are.
    pub fn window(&self, w: &Window, from: Angle, to: Angle) -> Vec<(Region<Page>, Angle)> {
        let part = |(left, right): (Angle, Angle)| {
            let region = self.development.band(left, right, w.low, w.high).moved(&self.to_page);
            (region, (left + right) / 2.0)
        };
        w.between(from, to).into_iter().map(part).collect()
    }
    /// Where a motion of the plane puts something on the page, turned by whole turns so that its origin is
    /// nearest the middle.
    pub fn place<F: crate::base::frame::Frame>(&self, pose: &Rigid<F, Plane>) -> Rigid<F, Page> {
        let w = self.development.wrap(pose.origin());
        let turns = ((self.nearest_turn(w.azimuth) - w.azimuth).rad() / std::f64::consts::TAU).round() as i32;
        pose.then(&self.development.turned(turns)).then(&self.to_page)
    }
    /// The turn by which something shows at the other end: the only one, since on a wide sweep the copy a turn the
    /// other way comes round to where no wall is, or to the wrong place of it.
    pub fn other_end<F: crate::base::frame::Frame>(&self, pose: &Rigid<F, Plane>) -> i32 {
        let azimuth = self.nearest_turn(self.development.wrap(pose.origin()).azimuth);
        if azimuth > self.middle { -1 } else { 1 }
    }
    /// The same, whole turns on: how a piece that crosses the seam shows at the other end.
    pub fn place_turned<F: crate::base::frame::Frame>(
        &self,
        pose: &Rigid<F, Plane>,
        n: i32,
    ) -> Rigid<F, Page> {
        let there = self.place(pose);
        there.then(&self.to_page.inverse()).then(&self.development.turned(n)).then(&self.to_page)
    }
    /// Box of the outline.
    pub fn bounds(&self) -> Bounds<Page> {
        self.outline().bounds()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn cup(upper: f64, lower: f64, slant: f64, seam: f64) -> Cup {
        crate::write::sample::cup(upper, lower, slant, seam)
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(300))]
        /// Truth: (C1 + C2) s / 2, by Green's theorem on the curves as drawn. Near-cylinders, steep cones,
        /// inverted tapers.
        #[test]
        fn the_outline_has_the_lateral_area(
            lower in 90.0..500.0f64, slant in 30.0..250.0f64, seam in -180.0..180.0f64,
            k in prop_oneof![-0.6..0.6f64, -1e-4..1e-4f64, Just(0.0)], lap in prop_oneof![Just(0.0), 1.0..12.0f64],
        ) {
            let upper = lower + k * slant * std::f64::consts::TAU;
            prop_assume!(upper > 60.0);
            let cup = cup(upper, lower, slant, seam);
            let band = Band::new(&cup.zones[0], Mm(lap), Point::mm(10.0, 10.0));
            let want = (upper + lower) / 2.0 * slant + lap * slant;
            prop_assert!((band.outline().area().0 / want - 1.0).abs() < 1e-8, "{} {}", band.outline().area(), want);
        }
        /// Every point of a drawn parallel keeps its slant within the error that the step was chosen for.
        #[test]
        fn parallels_stay_on_their_slant(
            lower in 90.0..500.0f64, slant in 30.0..250.0f64, t in 0.0..1.0f64, seam in -180.0..180.0f64,
            k in prop_oneof![-0.6..0.6f64, -1e-4..1e-4f64, Just(0.0)],
        ) {
            let upper = lower + k * slant * std::f64::consts::TAU;
            prop_assume!(upper > 60.0);
            let cup = cup(upper, lower, slant, seam);
            let band = Band::new(&cup.zones[0], Mm::ZERO, Point::mm(0.0, 0.0));
            let (left, right) = band.ends();
            let back = band.to_page.inverse();
            for seg in band.parallel(Mm(slant * t), left, right).segments() {
                let kurbo::PathSeg::Cubic(c) = seg else { continue };
                for u in [0.25, 0.5, 0.75] {
                    let p = kurbo::ParamCurve::eval(&c, u);
                    let w = cup.zones[0].development.wrap(back.apply(Point::mm(p.x, p.y)));
                    prop_assert!((w.slant.0 - slant * t).abs() < 1e-6, "{}", w.slant.0 - slant * t);
                }
            }
        }
    }

    /// Truth: the parts of a window between the ends of a band have the window's area (Green's theorem on the
    /// curves as drawn), and none leaves the band, wherever the seam runs.
    #[test]
    fn a_window_over_the_seam_is_drawn_in_parts_on_the_band() {
        for (upper, at, seam) in
            [(235.0, 180.0, 180.0), (235.0, -170.0, 180.0), (150.0, 10.0, 20.0), (188.0, 90.0, -89.0)]
        {
            let cup = cup(upper, 188.0, 110.0, seam);
            let band = Band::new(&cup.zones[0], Mm::ZERO, Point::mm(10.0, 10.0));
            let (left, right) = (Angle::degrees(at - 31.0), Angle::degrees(at + 31.0));
            let w = Window::new(&cup.zones[0].development, left, right, Mm(20.0), Mm(95.0));
            let parts = band.window(&w, band.ends().0, band.ends().1);
            let sum: f64 = parts.iter().map(|p| p.0.area().0).sum();
            approx::assert_relative_eq!(sum, w.region.area().0, max_relative = 1e-9);
            let page = band.outline().flat(Mm(1e-4));
            for q in parts.iter().flat_map(|p| p.0.flat(Mm(1e-4)).rings).flatten() {
                let inwards = [q[0] + (110.0 - q[0]) * 1e-4, q[1]];
                assert!(page.contains(inwards[0], inwards[1]), "{at}: {q:?}");
            }
            let crosses = (Angle::degrees(at - seam)).wrapped().abs().deg() < 31.0;
            assert_eq!(parts.len(), if crosses { 2 } else { 1 }, "{at} {seam}");
        }
    }

    #[test]
    fn the_middle_is_opposite_the_seam_and_upright() {
        let cup = cup(270.0, 207.0, 165.0, 135.0);
        let band = Band::new(&cup.zones[0], Mm::ZERO, Point::mm(10.0, 10.0));
        approx::assert_abs_diff_eq!(band.middle.deg(), -45.0, epsilon = 1e-9);
        let (p, q) = (band.at(band.middle, Mm::ZERO), band.at(band.middle, Mm(165.0)));
        approx::assert_abs_diff_eq!(p.x, q.x, epsilon = 1e-9);
        approx::assert_abs_diff_eq!(q.y - p.y, 165.0, epsilon = 1e-9);
    }
}
