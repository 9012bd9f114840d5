//! The cup turning once round, as an animated PNG to send to a customer.
//!
//! The ray of a pixel meets the wall at the same height and the same azimuth from the camera in every frame: that is
//! worked out once, and a frame only looks up the grid of films at another azimuth.
//!
//! Imports: write::png, write::view::{camera, light, skin, still}.

use super::camera::Camera;
use super::light::Shade;
use super::skin::Skin;
use super::still::{Scene, still};
use crate::base::units::Angle;
use crate::read::job::Ground;
use crate::write::png::{self, Trouble};
use rayon::prelude::*;

/// Frames of a turn: every fifteen degrees.
pub const FRAMES: usize = 24;
/// Size of a frame, pixels.
pub const SIZE: (usize, usize) = (210, 280);
const THOUSANDTHS: u16 = 120;
const ELEVATION: f64 = 12.0;
/// Cells of the grid that are taken together, each way: about as large as a pixel then.
const GATHER: usize = 3;

/// The animation.
///
/// # Errors
/// What the PNG encoder says.
pub fn animated(scene: &Scene, skin: &Skin) -> Result<Vec<u8>, Trouble> {
    let turn = Turn::new(scene, skin);
    let part = turn.part();
    let later: Vec<Vec<u8>> = (1..FRAMES).into_par_iter().map(|i| part.of(&turn.frame(i), SIZE.0)).collect();
    png::animated(SIZE, &turn.frame(0), part, &later, THOUSANDTHS)
}

/// A pixel that shows wall.
struct Seen {
    place: usize,
    /// Columns of the coarse grid from the one that the camera faces, and row.
    column: f32,
    row: f32,
    /// The bare wall's colour.
    under: [f32; 3],
    /// Shade of each sheen.
    shade: usize,
    /// How much of the pixel is wall, of 255; the rest stays as it is on the bare cup.
    part: f32,
}

struct Turn<'a> {
    scene: &'a Scene,
    /// The bare cup.
    bare: Vec<u8>,
    seen: Vec<Seen>,
    shades: Vec<Vec<Shade>>,
    coat: Coat,
}

/// The grid of films, gathered: colour times cover, cover, and the sheen that is most of it.
struct Coat {
    width: usize,
    height: usize,
    cells: Vec<([f32; 4], u8)>,
}

impl Coat {
    fn new(scene: &Scene, skin: &Skin) -> Coat {
        let (width, height) = (skin.width / GATHER, (skin.height / GATHER).max(1));
        let cell = |i: usize| {
            let (x, y) = (i % width * GATHER, i / width * GATHER);
            let (mut sum, mut sheen) = ([0.0f32; 4], 0u8);
            for row in 0..GATHER.min(skin.height) {
                for &c in &skin.cells[(y + row) * skin.width + x..][..GATHER] {
                    if c > 0 {
                        let (colour, own) = scene.films[usize::from(c) - 1];
                        (0..3).for_each(|k| sum[k] += colour[k]);
                        sum[3] += 1.0;
                        sheen = own as u8;
                    }
                }
            }
            (sum.map(|v| v / (GATHER * GATHER) as f32), sheen)
        };
        Coat { width, height, cells: (0..width * height).into_par_iter().map(cell).collect() }
    }
    /// Between the four cells about a place; columns go round.
    #[inline]
    fn at(&self, column: f32, row: f32) -> ([f32; 4], u8) {
        let (x, y) = (column - 0.5, (row - 0.5).clamp(0.0, (self.height - 1) as f32));
        let (x0, y0) = (x.floor(), y.floor());
        let (tx, ty) = (x - x0, y - y0);
        let left = (x0 as i64).rem_euclid(self.width as i64) as usize;
        let right = if left + 1 == self.width { 0 } else { left + 1 };
        let (top, foot) = (y0 as usize * self.width, (y0 as usize + 1).min(self.height - 1) * self.width);
        let four = [top + left, top + right, foot + left, foot + right].map(|i| &self.cells[i]);
        let parts = [(1.0 - tx) * (1.0 - ty), tx * (1.0 - ty), (1.0 - tx) * ty, tx * ty];
        let mut sum = [0.0; 4];
        let mut sheen = 0;
        for (cell, part) in four.into_iter().zip(parts) {
            (0..4).for_each(|k| sum[k] += cell.0[k] * part);
            if cell.0[3] > 0.0 {
                sheen = cell.1;
            }
        }
        (sum, sheen)
    }
}

impl<'a> Turn<'a> {
    fn new(scene: &'a Scene, skin: &Skin) -> Turn<'a> {
        let camera = Camera::fitted(&scene.body, Angle::ZERO, Angle::degrees(ELEVATION), SIZE, 10.0);
        let naked = Scene {
            patches: Vec::new(),
            films: Vec::new(),
            shades: Vec::new(),
            bare: scene.bare.clone(),
            wall: scene.wall.clone(),
            ground: scene.ground,
            ..*scene
        };
        let bare = still(&naked, &camera, SIZE).rgba;
        let mouthless = wall_parts(&naked, &camera);
        let eye = camera.view();
        let coat = Coat::new(scene, skin);
        let mut seen = Vec::new();
        let mut shades: Vec<Vec<Shade>> = scene.shades.iter().map(|_| Vec::new()).collect();
        for (place, &part) in mouthless.iter().enumerate() {
            if part == 0 {
                continue;
            }
            let (px, py) = ((place % SIZE.0) as f64 + 0.5, (place / SIZE.0) as f64 + 0.5);
            let (sin, cos, y) = eye.meet(&scene.body, px, py, false);
            let round = libm::atan2(sin, cos) / std::f64::consts::TAU;
            seen.push(Seen {
                place,
                column: (round * coat.width as f64) as f32,
                row: ((1.0 - y / scene.body.height) * coat.height as f64) as f32,
                under: scene.bare.at(sin).of(scene.wall_at(y)),
                shade: seen.len(),
                part: f32::from(part) / 255.0,
            });
            for (of, table) in shades.iter_mut().zip(&scene.shades) {
                of.push(table.at(sin));
            }
        }
        Turn { scene, bare, seen, shades, coat }
    }
    /// The part of a frame that shows wall: nothing else changes.
    fn part(&self) -> png::Part {
        let (mut low, mut high) = ((SIZE.0, SIZE.1), (0, 0));
        for s in &self.seen {
            let (x, y) = (s.place % SIZE.0, s.place / SIZE.0);
            low = (low.0.min(x), low.1.min(y));
            high = (high.0.max(x + 1), high.1.max(y + 1));
        }
        let size = |a: usize, b: usize| b.saturating_sub(a).max(1);
        let (width, height) = (size(low.0, high.0), size(low.1, high.1));
        png::Part { x: low.0.min(SIZE.0 - 1), y: low.1.min(SIZE.1 - 1), width, height }
    }
    fn frame(&self, i: usize) -> Vec<u8> {
        let mut out = self.bare.clone();
        // The front faces the viewer first; then what lies to its right comes round.
        let facing = (i as f32 / FRAMES as f32 + 0.5) * self.coat.width as f32;
        for s in &self.seen {
            let (film, sheen) = self.coat.at(s.column + facing, s.row);
            if film[3] <= 0.0 {
                continue;
            }
            let shade = self.shades[usize::from(sheen)][s.shade];
            let pixel = &mut out[4 * s.place..4 * s.place + 4];
            // What film changes of the bare wall, in the part of the pixel that is wall; under a partly covered edge the
            // ground's part is already in the alpha.
            let opaque = if matches!(self.scene.ground, Ground::Transparent) { 1.0 } else { s.part };
            for k in 0..3 {
                let c = s.under[k] * (1.0 - film[3]) + film[k] * shade.mul + shade.add * 255.0 * film[3];
                let v = f32::from(pixel[k]) + (c - s.under[k]) * opaque;
                pixel[k] = (v + 0.5).clamp(0.0, 255.0) as u8;
            }
        }
        out
    }
}

/// How much of each pixel shows wall: the cup's cover less the mouth's.
fn wall_parts(naked: &Scene, camera: &Camera) -> Vec<u8> {
    super::still::wall_cover(naked, camera, SIZE)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The animation and the still agree: the same camera, the same cup, two ways of getting there.
    #[test]
    fn a_frame_is_the_still_from_there() {
        let plan = crate::write::sample::plan(180.0, 0.0);
        let scene = Scene::new(&plan);
        let skin = Skin::new(&scene.patches, &scene.body, super::super::page::COLUMNS);
        let turn = Turn::new(&scene, &skin);
        for i in [0, 7, 12] {
            let azimuth = Angle::degrees(360.0 / FRAMES as f64 * i as f64);
            let camera = Camera::fitted(&scene.body, azimuth, Angle::degrees(ELEVATION), SIZE, 10.0);
            let (a, b) = (turn.frame(i), still(&scene, &camera, SIZE).rgba);
            let (mut sum, mut far) = (0u64, 0u64);
            for (p, q) in a.chunks(4).zip(b.chunks(4)) {
                let off = (0..3).map(|k| u64::from(p[k].abs_diff(q[k]))).max().unwrap_or(0);
                sum += off;
                far += u64::from(off > 90);
                assert_eq!(p[3], q[3]);
            }
            let all = (SIZE.0 * SIZE.1) as u64;
            assert!(sum < all * 2, "mean difference {} of 255", sum as f64 / all as f64);
            assert!(far * 200 < all, "{far} pixels far off");
        }
    }
}
