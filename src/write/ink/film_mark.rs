//! A letter, a hatch and a line colour a film, so that the map reads in black and white and by every eye.
//!
//! Imports: base, outline, read::job, write::ink::drawing.

use super::drawing::{Dash, Stroke, segment};
use crate::base::frame::{Frame, Page};
use crate::outline::{BezPath, Bounds, Flat};
use crate::read::job::{FilmId, Rgb};

/// Colours told apart by normal and colour-blind eyes (smallest CIEDE2000 over normal vision and three
/// deficiencies 21.7), each with a contrast of at least 3:1 on paper; after them they come again with other
/// hatches.
const COLOURS: [Rgb; 7] = [
    Rgb([0x0a, 0x00, 0x5e]),
    Rgb([0xc4, 0x83, 0x09]),
    Rgb([0x26, 0x7b, 0x69]),
    Rgb([0x7c, 0x3b, 0xb6]),
    Rgb([0x47, 0x53, 0x00]),
    Rgb([0x29, 0x19, 0x15]),
    Rgb([0x94, 0x8a, 0xc1]),
];

/// Letter of a film: A, B, ... Z, AA, AB, ...
pub fn letter(film: FilmId) -> String {
    let (mut n, mut out) = (film.0, String::new());
    loop {
        out.insert(0, char::from(b'A' + (n % 26) as u8));
        if n < 26 {
            return out;
        }
        n = n / 26 - 1;
    }
}

/// Line colour of a film on map and sheets.
pub fn colour(film: FilmId) -> Rgb {
    COLOURS[film.0 % COLOURS.len()]
}

/// Stroke of the outlines of a film's pieces.
pub fn outline(film: FilmId) -> Stroke {
    Stroke::solid(colour(film), 0.25)
}

/// Directions of the hatch lines of a film in degrees, their distance in mm and how they are broken.
pub fn pattern(film: FilmId) -> (&'static [f64], f64, Dash) {
    match film.0 % 6 {
        0 => (&[45.0], 1.3, Dash::Solid),
        1 => (&[-45.0], 1.3, Dash::Dotted),
        2 => (&[0.0], 1.2, Dash::Solid),
        3 => (&[45.0, -45.0], 2.2, Dash::Solid),
        4 => (&[90.0], 1.2, Dash::Dashed),
        _ => (&[0.0, 90.0], 2.0, Dash::Dotted),
    }
}

/// Stroke of a film's hatch.
pub fn hatch_stroke(film: FilmId) -> Stroke {
    Stroke { colour: colour(film), width: 0.12, dash: pattern(film).2 }
}

/// Hatch lines of a film within a region, kept out of a box that a number stands in.
pub fn hatch<F: Frame>(film: FilmId, region: &Flat<F>, keep_out: Option<Bounds<Page>>) -> BezPath {
    let (directions, distance, _) = pattern(film);
    let mut out = BezPath::new();
    for &degrees in directions {
        let (s, c) = (libm::sin(degrees.to_radians()), libm::cos(degrees.to_radians()));
        push_lines(&mut out, region, (c, s), distance, keep_out.as_ref());
    }
    out
}

/// Scan lines along a direction: along = c x + s y, across = -s x + c y. They lie on one grid for the whole
/// page, so neighbouring pieces look like one ground.
fn push_lines<F: Frame>(
    out: &mut BezPath,
    region: &Flat<F>,
    (c, s): (f64, f64),
    distance: f64,
    keep_out: Option<&Bounds<Page>>,
) {
    let across = |p: [f64; 2]| -s * p[0] + c * p[1];
    let along = |p: [f64; 2]| c * p[0] + s * p[1];
    let all = region.rings.iter().flatten();
    let (low, high) =
        all.fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), &p| (l.min(across(p)), h.max(across(p))));
    if low > high {
        return;
    }
    for i in (low / distance).ceil() as i64..=(high / distance).floor() as i64 {
        let level = i as f64 * distance;
        let mut cuts: Vec<f64> = Vec::new();
        for ring in &region.rings {
            for j in 0..ring.len() {
                let (p, q) = (ring[j], ring[(j + 1) % ring.len()]);
                let (a, b) = (across(p) - level, across(q) - level);
                if (a < 0.0) != (b < 0.0) {
                    cuts.push(along(p) + (along(q) - along(p)) * a / (a - b));
                }
            }
        }
        cuts.sort_unstable_by(f64::total_cmp);
        for pair in cuts.chunks_exact(2) {
            let at = |t: f64| (c * t - s * level, s * t + c * level);
            push_outside(out, at(pair[0]), at(pair[1]), keep_out);
        }
    }
}

/// Appends the parts of a line that lie outside a box.
fn push_outside(out: &mut BezPath, from: (f64, f64), to: (f64, f64), keep_out: Option<&Bounds<Page>>) {
    let mut push = |a: f64, b: f64| {
        let at = |t: f64| (from.0 + (to.0 - from.0) * t, from.1 + (to.1 - from.1) * t);
        if (b - a) * libm::hypot(to.0 - from.0, to.1 - from.1) > 0.15 {
            out.extend(segment(at(a), at(b)));
        }
    };
    let Some(b) = keep_out else { return push(0.0, 1.0) };
    let (mut enter, mut leave) = (0.0f64, 1.0f64);
    for (p, d, low, high) in
        [(from.0, to.0 - from.0, b.min.x, b.max.x), (from.1, to.1 - from.1, b.min.y, b.max.y)]
    {
        if d == 0.0 {
            if p < low || p > high {
                return push(0.0, 1.0);
            }
            continue;
        }
        let (t, u) = ((low - p) / d, (high - p) / d);
        enter = enter.max(t.min(u));
        leave = leave.min(t.max(u));
    }
    if enter >= leave {
        return push(0.0, 1.0);
    }
    push(0.0, enter);
    push(leave, 1.0);
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::frame::Point;
    use crate::base::units::Mm;
    use crate::outline::{Op, Region};

    #[test]
    fn letters_go_on_after_z() {
        let names: Vec<String> = [0, 1, 25, 26, 27, 51, 52].into_iter().map(|n| letter(FilmId(n))).collect();
        assert_eq!(names, ["A", "B", "Z", "AA", "AB", "AZ", "BA"]);
    }

    /// Cavalieri: the lines' length times their distance is the area they cover, the box left out.
    #[test]
    fn hatch_covers_the_piece_less_its_hole_and_its_number() {
        let disc: Region<Page> = Region::disc(Point::mm(0.0, 0.0), Mm(60.0));
        let hole: Region<Page> = Region::disc(Point::mm(20.0, 0.0), Mm(15.0));
        let flat = disc.op(&hole, Op::Difference).flat(Mm(0.01));
        let number = Bounds { min: Point::mm(-40.0, -10.0), max: Point::mm(-10.0, 10.0) };
        for (film, distance) in [(0, 1.3), (1, 1.3), (2, 1.2), (4, 1.2)] {
            let lines = hatch(FilmId(film), &flat, Some(number));
            let length: f64 = lines.segments().map(|s| kurbo::ParamCurveArclen::arclen(&s, 1e-6)).sum();
            let want = std::f64::consts::PI * (3600.0 - 225.0) - 600.0;
            approx::assert_relative_eq!(length * distance, want, max_relative = 0.01);
        }
    }
}
