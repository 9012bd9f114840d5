//! A letter, a hatch and a line colour a film, so that the map reads in black and white and by every eye.
//!
//! Imports: base, outline, read::job, write::ink::drawing.

use super::drawing::{Dash, INK, PAPER, Stroke, segment};
use crate::base::colour::encoded;
use crate::base::colour::{contrast, difference, lab, light};
use crate::base::frame::{Frame, Page};
use crate::outline::{BezPath, Bounds, Flat};
use crate::read::job::{FilmId, Job, Rgb};

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

/// How strongly a film's own colour fills its pieces on paper: weaker ones are nearer to other films of a job than to
/// their own (measured on 20 sets of 80 films). Stronger where another film of the job is nearer all the same.
const STRONG: [f64; 3] = [0.85, 0.93, 1.0];
/// Least contrast of an outline to paper, and what a darkened one has.
const LINE: [f64; 2] = [3.0, 4.5];

/// How a film's pieces are painted on maps: in its own colour where the job gives one.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Paint {
    /// Filled with this.
    pub fill: Option<Rgb>,
    /// Their outlines.
    pub line: Rgb,
    /// Numbers and hatch on them.
    pub ink: Rgb,
}

/// The paint of a film of a job.
pub fn paint(job: &Job, film: FilmId) -> Paint {
    let plain = job.sheet_of(film).is_none();
    if !(plain && job.says(&format!("film[{}]", film.0), "colour")) {
        return Paint { fill: None, line: colour(film), ink: INK };
    }
    let own = job.films[film.0].colour;
    let mixed = |strong: f64| {
        let of = |k: usize| f64::from(PAPER.0[k]) + (f64::from(own.0[k]) - f64::from(PAPER.0[k])) * strong;
        Rgb([0, 1, 2].map(|k| of(k).round() as u8))
    };
    let apart = |a: Rgb, b: Rgb| difference(lab(light(a.0)), lab(light(b.0)));
    let nearest =
        |fill: Rgb| job.films.iter().all(|f| f.colour == own || apart(fill, own) < apart(fill, f.colour));
    let fill = STRONG.iter().map(|s| mixed(*s)).find(|f| nearest(*f)).unwrap_or(own);
    let to = |a: Rgb, b: Rgb| contrast(light(a.0), light(b.0));
    let ink = if to(INK, fill) >= to(PAPER, fill) { INK } else { PAPER };
    Paint { fill: Some(fill), line: line_of(own), ink }
}

/// The film's colour, darkened in linear light where paper would swallow it.
fn line_of(own: Rgb) -> Rgb {
    let (paper, l) = (light(PAPER.0), light(own.0));
    if contrast(l, paper) >= LINE[0] {
        return own;
    }
    let darker = |part: f64| l.map(|v| v * part);
    let (mut low, mut high) = (0.0, 1.0);
    for _ in 0..24 {
        let part = 0.5 * (low + high);
        if contrast(darker(part), paper) >= LINE[1] { low = part } else { high = part }
    }
    Rgb(darker(low).map(|v| encoded(v as f32)))
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

/// Stroke of a film's hatch in a paint.
pub fn hatch_in(paint: Paint, film: FilmId) -> Stroke {
    match paint.fill {
        Some(_) => Stroke { colour: paint.ink, width: 0.15, ..hatch_stroke(film) },
        None => hatch_stroke(film),
    }
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

    /// A pool of invented films: each filled piece is nearer to its own film than to any other, its outline stands 3 : 1 on paper, its number 4.1 : 1 on it (a rim of the other ink round it).
    #[test]
    fn pieces_are_painted_in_their_own_colour() {
        let pool = [
            "ffffff", "fefefe", "f7f1e3", "e2c98d", "f2954a", "c48309", "a3421c", "c0402c", "b5284a",
            "e0457b", "f3b6c9", "7c3bb6", "4a2255", "2c1430", "10294a", "0a005e", "2f6fd0", "9fc6ee",
            "11707a", "74d3a4", "1d6b50", "3f6b2f", "c2d1c6", "8d8680", "c0c0c4", "4b2a18", "291915",
            "000000",
        ];
        let rgb = |s: &str| Rgb([0, 2, 4].map(|i| u8::from_str_radix(&s[i..i + 2], 16).expect("digits")));
        let films: Vec<String> = pool
            .iter()
            .enumerate()
            .map(|(i, c)| format!("[[film]]\nname = \"f{i}\"\nsheet = [200, 150]\ncolour = \"#{c}\"\n"))
            .collect();
        let cup = "[cup]\nrings = [{ up = 0, girth = 200 }, { up = 100, girth = 240 }]\nwall = 100\n";
        let job = crate::read::job::read_job(&(cup.to_owned() + &films.concat())).job.expect("a job");
        let seen = |c: Rgb| lab(light(c.0));
        for (i, own) in pool.iter().enumerate() {
            let p = paint(&job, FilmId(i));
            let fill = p.fill.expect("a colour is given");
            for other in pool.iter().filter(|o| *o != own) {
                let (near, far) =
                    (difference(seen(fill), seen(rgb(own))), difference(seen(fill), seen(rgb(other))));
                assert!(near < far, "{own} is drawn as {fill}, nearer to {other}");
            }
            assert!(contrast(light(p.line.0), light(PAPER.0)) >= 2.99, "{own} {}", p.line);
            assert!(contrast(light(p.ink.0), light(fill.0)) >= 4.1, "{own} {fill} {}", p.ink);
        }
    }

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
