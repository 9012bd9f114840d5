//! Pictures painted here from the closed form of the outline (own arithmetic, not the program's drawing code).

use super::*;
use crate::read::picture::Picture;
use approx::assert_abs_diff_eq;
use std::f64::consts::TAU;

/// A cup in front of a lens that looks level: grey before white, its sides where cos th = (r - (z - lens) r') / D,
/// its ends the near halves of two circles; edges covered in part, and blurred over three pixels.
struct Painted {
    r: fn(f64) -> f64,
    slope: fn(f64) -> f64,
    high: f64,
    lens: f64,
    distance: f64,
    focal: f64,
    side: (usize, usize),
    /// Light of ground and cup.
    lights: [f64; 2],
    /// Of the right side, pixels from the middle up: a handle's lower and upper end.
    handle: Option<(f64, f64)>,
}

impl Painted {
    /// Girths along the wall, in small steps: length along it, girth.
    fn profile(&self) -> Vec<(f64, f64)> {
        let n = 4000;
        let mut s = 0.0;
        let mut all = vec![(0.0, TAU * (self.r)(0.0))];
        for i in 1..=n {
            let (a, b) =
                (self.high * f64::from(i - 1) / f64::from(n), self.high * f64::from(i) / f64::from(n));
            s += libm::hypot(b - a, (self.r)(b) - (self.r)(a));
            all.push((s, TAU * (self.r)(b)));
        }
        all
    }
    fn girth(&self, s: f64) -> f64 {
        let all = self.profile();
        let i = all.partition_point(|p| p.0 < s).clamp(1, all.len() - 1);
        let ((a, g), (b, h)) = (all[i - 1], all[i]);
        g + (h - g) * (s - a) / (b - a)
    }
    fn wall(&self) -> f64 {
        self.profile().last().expect("points").0
    }
    fn seen(&self, p: [f64; 3]) -> (f64, f64) {
        let depth = self.distance - p[0];
        (self.focal * p[1] / depth, self.focal * (p[2] - self.lens) / depth)
    }
    /// The right half of the silhouette, upwards, from the middle of the base to that of the rim.
    fn outline(&self) -> Vec<(f64, f64)> {
        let circle = |z: f64, th: f64| self.seen([(self.r)(z) * th.cos(), (self.r)(z) * th.sin(), z]);
        let at = |z: f64| (((self.r)(z) - (z - self.lens) * (self.slope)(z)) / self.distance).acos();
        let mut all: Vec<(f64, f64)> =
            (0..400).map(|i| circle(0.0, at(0.0) * f64::from(i) / 400.0)).collect();
        all.extend((0..=2000).map(|i| self.high * f64::from(i) / 2000.0).map(|z| circle(z, at(z))));
        all.extend((1..=400).map(|i| circle(self.high, at(self.high) * (1.0 - f64::from(i) / 400.0))));
        all
    }
    /// How far the right side stands out.
    fn out(&self, y: f64) -> f64 {
        let Some((low, high)) = self.handle else { return 0.0 };
        let half = (high - low) / 2.0;
        let up = (y - low - half) / half;
        if up.abs() < 1.0 { 0.5 * half * (1.0 - up * up).sqrt() } else { 0.0 }
    }
    fn picture(&self) -> Picture {
        let (w, h) = self.side;
        let outline = self.outline();
        let half = |y: f64| {
            let cross = outline.windows(2).filter(|p| (p[0].1 <= y) != (p[1].1 <= y));
            cross.map(|p| p[0].0 + (p[1].0 - p[0].0) * (y - p[0].1) / (p[1].1 - p[0].1)).fold(-1.0, f64::max)
        };
        let mut light = vec![0.0f64; w * h];
        for row in 0..h {
            for part in 0..8 {
                let y = h as f64 / 2.0 - row as f64 - (f64::from(part) + 0.5) / 8.0;
                let reach = half(y);
                for x in 0..w {
                    let from = x as f64 - w as f64 / 2.0;
                    let right = reach + self.out(y);
                    let covered = if reach < 0.0 {
                        0.0
                    } else {
                        (right.min(from + 1.0) - (-reach).max(from)).clamp(0.0, 1.0)
                    };
                    let [ground, cup] = self.lights;
                    light[row * w + x] += (ground + (cup - ground) * covered) / 8.0;
                }
            }
        }
        let at = |x: usize, y: usize| light[y.min(h - 1) * w + x.min(w - 1)];
        let mut rgb = Vec::with_capacity(w * h * 3);
        for y in 0..h {
            for x in 0..w {
                let near = (0..3).flat_map(|i| (0..3).map(move |j| (i, j)));
                let mean: f64 =
                    near.map(|(i, j)| at((x + i).saturating_sub(1), (y + j).saturating_sub(1)) / 9.0).sum();
                let code = crate::base::colour::encoded(mean as f32);
                rgb.extend([code; 3]);
            }
        }
        Picture::opaque(w, h, rgb)
    }
    fn read(&self, stand: Stand) -> (Result<Contour, ErrorGuaranteed>, Diagnostics) {
        let wall = self.wall();
        let ring = |part: f64| Ring::once(Mm(wall * part), Mm(self.girth(wall * part)));
        let mut diagnostics = Diagnostics::new();
        let read = contour(
            ("side.png", &self.picture()),
            (&[ring(0.05), ring(0.95)], Mm(wall)),
            &stand,
            &KeyPath::of("cup"),
            &mut diagnostics,
        );
        (read, diagnostics)
    }
}

const LEVEL: Stand = Stand { distance: Mm(500.0), lens: None, above: Mm::ZERO, below: Mm::ZERO };

fn cone() -> Painted {
    let (focal, side) = (1500.0, (700, 800));
    Painted {
        r: |z| 33.0 + 0.07 * z,
        slope: |_| 0.07,
        high: 150.0,
        lens: 75.0,
        distance: 500.0,
        focal,
        side,
        lights: [0.9, 0.3],
        handle: None,
    }
}
fn barrel() -> Painted {
    Painted {
        r: |z| 40.0 + 300.0 * (libm::cos((z - 75.0) / 300.0) - 1.0),
        slope: |z| -libm::sin((z - 75.0) / 300.0),
        ..cone()
    }
}

/// Two walls at 3 pixels a millimetre: radii between two exact girths within .1 mm (the notes' figure, at 6 pixels).
#[test]
fn walls_are_read_from_pictures() {
    for (painted, name) in [(cone(), "cone"), (barrel(), "barrel")] {
        let (read, diagnostics) = painted.read(LEVEL);
        let read = read.unwrap_or_else(|_| panic!("{name}: {diagnostics:?}"));
        assert_abs_diff_eq!(read.fineness, 3.0, epsilon = 0.01);
        assert!((read.wall.0 / painted.wall() - 1.0).abs() < 0.005, "{name} {}", read.wall);
        for (up, girth) in &read.points {
            let off = (girth.0 - painted.girth(up.0)) / TAU;
            assert!(off.abs() < 0.1, "{name} at {up}: {off}");
        }
        assert!(
            read.turns.is_empty() && read.one_side.is_none(),
            "{name} {:?} {:?}",
            read.turns,
            read.one_side
        );
    }
}

/// A handle over half of the wall: the other side is taken, and the wall is read as without it.
#[test]
fn a_handle_is_left_out() {
    let painted = Painted { handle: Some((-130.0, 120.0)), ..barrel() };
    let (read, diagnostics) = painted.read(LEVEL);
    let read = read.unwrap_or_else(|_| panic!("{diagnostics:?}"));
    let (low, high) = read.one_side.expect("told");
    assert!((low.0 - 31.0).abs() < 4.0 && (high.0 - 115.0).abs() < 4.0, "{low} {high}");
    for (up, girth) in &read.points {
        assert_abs_diff_eq!(girth.0, painted.girth(up.0), epsilon = 0.1 * TAU);
    }
}

/// A foot that bends in by 20 degrees is told where it is; what a lip or a foot adds can be said.
#[test]
fn edges_and_what_stands_beyond_the_wall_are_told() {
    let foot = Painted {
        r: |z| 40.0 - 0.36 * (30.0 - z).max(0.0),
        slope: |z| if z < 30.0 { 0.36 } else { 0.0 },
        ..cone()
    };
    let (read, diagnostics) = foot.read(LEVEL);
    let read = read.unwrap_or_else(|_| panic!("{diagnostics:?}"));
    let along = 30.0 * libm::hypot(1.0, 0.36);
    let turn = read.turns.first().unwrap_or_else(|| panic!("{read:?}"));
    assert!(read.turns.len() == 1 && (turn.up.0 - along).abs() < 2.5, "{:?}", read.turns);
    assert_abs_diff_eq!(turn.by.deg(), -19.8, epsilon = 2.0);
    // The same cup, its foot no part of the wall.
    let wall = foot.wall() - along;
    let ring = |s: f64| Ring::once(Mm(s - along), Mm(foot.girth(s)));
    let rings = [ring(along + 0.1 * wall), ring(along + 0.9 * wall)];
    let mut diagnostics = Diagnostics::new();
    let at = KeyPath::of("cup");
    let stand = Stand { below: Mm(30.0), lens: Some(Mm(45.0)), ..LEVEL };
    let read = contour(("side.png", &foot.picture()), (&rings, Mm(wall)), &stand, &at, &mut diagnostics);
    let read = read.unwrap_or_else(|_| panic!("{diagnostics:?}"));
    assert!((read.wall.0 - wall).abs() < 0.8, "{} {wall}", read.wall);
    assert!(read.points.iter().all(|p| (p.1.0 - 80.0 * TAU / 2.0).abs() < 0.1 * TAU), "{:?}", read.points);
}

/// A white cup before grey is as good as a grey one before white.
#[test]
fn light_cups_stand_before_dark_grounds() {
    let painted = Painted { lights: [0.15, 0.8], ..barrel() };
    let (read, diagnostics) = painted.read(LEVEL);
    let read = read.unwrap_or_else(|_| panic!("{diagnostics:?}"));
    for (up, girth) in &read.points {
        assert_abs_diff_eq!(girth.0, painted.girth(up.0), epsilon = 0.1 * TAU);
    }
}

/// What cannot be read is refused, each with its own words.
#[test]
fn pictures_that_tell_nothing_are_refused() {
    let code = |painted: Painted, stand: Stand| {
        let (read, diagnostics) = painted.read(stand);
        assert!(read.is_err());
        let all: Vec<_> = diagnostics.iter().map(|d| d.code.id).collect();
        assert!(diagnostics.iter().all(|d| !d.help.is_empty()), "{diagnostics:?}");
        all.join(" ")
    };
    assert_eq!(code(Painted { lights: [0.9, 0.88], ..cone() }, LEVEL), "photo/no-cup");
    assert_eq!(code(Painted { side: (700, 430), ..cone() }, LEVEL), "photo/cut-off");
    assert_eq!(code(Painted { focal: 700.0, ..cone() }, LEVEL), "photo/coarse");
    // The lens was at 500 mm, and 200 are said: the near rim is told too high.
    assert_eq!(code(cone(), Stand { distance: Mm(200.0), ..LEVEL }), "photo/disagrees");
    assert_eq!(code(cone(), Stand { above: Mm(12.0), ..LEVEL }), "photo/disagrees");
}

/// A lens 30 mm over the middle shows in the arcs at rim and base; taken as level it would put the wall .2 mm off.
#[test]
fn a_lens_that_is_not_level_is_found() {
    for lens in [45.0, 105.0] {
        let painted = Painted { lens, ..barrel() };
        let (read, diagnostics) = painted.read(LEVEL);
        let read = read.unwrap_or_else(|_| panic!("{diagnostics:?}"));
        for (up, girth) in &read.points {
            assert_abs_diff_eq!(girth.0, painted.girth(up.0), epsilon = 0.06 * TAU);
        }
        assert!((read.lens.0 - lens).abs() < 4.0, "{} {lens}", read.lens);
    }
}
