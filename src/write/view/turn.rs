//! The cup turning once round, as an animated PNG to send to a customer.
//!
//! The ray of a pixel meets the wall at the same height and the same azimuth from the camera in every frame:
//! that is worked out once, and a frame only looks up the grid of films at another azimuth.
//!
//! Imports: base, read::job, write::ink, write::view::{camera, light, texture, scene, still}.

use super::camera::Camera;
use super::light::{Shade, Shades};
use super::scene::Scene;
use super::still::still;
use super::texture::UnwrappedTexture;
use crate::base::units::Angle;
use crate::read::job::Ground;
use crate::write::ink::png::{self, Trouble};
use rayon::prelude::*;

pub use super::texture::COLUMNS;

/// Frames of a turn: every fifteen degrees.
pub const FRAMES: usize = 24;
/// Size of a frame, pixels.
pub const SIZE: (usize, usize) = (210, 280);
pub(super) const THOUSANDTHS: u16 = 120;
pub(super) const ELEVATION: f64 = 12.0;
/// Left free round the cup.
pub(super) const EDGE: f64 = 10.0;
/// Cells of the grid that are taken together, each way: about as large as a pixel then.
const GATHER: usize = 3;

/// The animation.
///
/// # Errors
/// What the PNG encoder says.
pub fn animated(scene: &Scene, texture: &UnwrappedTexture, bare_turn: &BareTurn) -> Result<Vec<u8>, Trouble> {
    let turn = Turn::new(scene, texture, bare_turn);
    let part = turn.part();
    let later: Vec<Vec<u8>> = (1..FRAMES)
        .into_par_iter()
        .map_init(Vec::new, |whole, i| {
            turn.frame(i, whole);
            part.of(whole, SIZE.0)
        })
        .collect();
    let mut first = Vec::new();
    turn.frame(0, &mut first);
    png::animated(SIZE, &first, part, &later, THOUSANDTHS)
}

/// Where a pixel that shows wall looks in the coarse grid: all that is asked of most of them.
struct Look {
    /// Columns from the one that the camera faces.
    column: f32,
    /// First cells of the two rows that it lies between.
    rows: [u32; 2],
}

/// What else is known of it.
struct Seen {
    place: usize,
    /// How much of it is the second row's.
    down: f32,
    /// The bare wall's colour.
    under: [f32; 3],
    /// Shade of each sheen.
    shade: usize,
    /// How much of the pixel is wall, of 255; the rest stays as it is on the bare cup.
    part: f32,
}

/// The bare cup, as every frame shows it.
pub struct BareTurn {
    /// The picture.
    bare: Vec<u8>,
    /// Its pixels that show wall.
    wall: Vec<Wall>,
}

/// Where a pixel's ray meets the wall.
struct Wall {
    place: usize,
    /// How much of the pixel is wall, of 255.
    part: u8,
    /// Rounds from the azimuth that the camera faces, and the sine of that azimuth.
    round: f64,
    sine: f64,
    /// Height over the base.
    y: f64,
}

impl BareTurn {
    /// Of a scene, whatever is worn in it.
    pub fn new(scene: &Scene) -> BareTurn {
        let camera = Camera::fitted(&scene.body, Angle::ZERO, Angle::degrees(ELEVATION), SIZE, EDGE);
        let undecorated = scene.undecorated();
        let eye = camera.view();
        let parts = super::still::wall_cover(&undecorated, &camera, SIZE);
        let seen = |(place, &part): (usize, &u8)| {
            let (px, py) = ((place % SIZE.0) as f64 + 0.5, (place / SIZE.0) as f64 + 0.5);
            let (sine, cos, y) = eye.meet(&scene.body, px, py, false);
            Wall { place, part, round: libm::atan2(sine, cos) / std::f64::consts::TAU, sine, y }
        };
        let wall = parts.iter().enumerate().filter(|(_, part)| **part > 0).map(seen).collect();
        BareTurn { bare: still(&undecorated, &camera, SIZE).rgba, wall }
    }
}

struct Turn<'a> {
    scene: &'a Scene,
    /// The bare cup.
    bare: &'a [u8],
    looks: Vec<Look>,
    seen: Vec<Seen>,
    shades: Vec<Vec<Shade>>,
    coat: Coat,
}

/// The grid of films, gathered.
struct Coat {
    width: usize,
    height: usize,
    /// Of the cells taken together: sums of red, green and blue where there is film, and how many have film.
    /// Sums rather than means: whole numbers of half the size.
    cells: Vec<[u16; 4]>,
    /// The sheen of the last of them that has film.
    sheens: Vec<u8>,
    /// Has any of a cell, its neighbour to the right and the two below film? Most pixels show none. A bit a
    /// cell: all of them stay in the fastest memory.
    near: Vec<u64>,
    /// The mean of each sum: sixteen divisions a pixel took longer than all the rest.
    means: Vec<f32>,
}

/// Cells taken together.
const GATHERED: f32 = (GATHER * GATHER) as f32;

impl Coat {
    fn new(scene: &Scene, texture: &UnwrappedTexture) -> Coat {
        let (width, height) = (texture.width / GATHER, (texture.height / GATHER).max(1));
        // What a cell of the grid adds to sums, by its number.
        let films: Vec<([u16; 4], u8)> = std::iter::once(([0; 4], 0))
            .chain(scene.films.iter().map(|&([r, g, b], own)| ([r as u16, g as u16, b as u16, 1], own as u8)))
            .collect();
        let mut cells = vec![[0u16; 4]; width * height];
        let mut sheens = vec![0u8; width * height];
        let fill = |(y, (cells, sheens)): (usize, (&mut [[u16; 4]], &mut [u8]))| {
            for row in 0..GATHER.min(texture.height) {
                let line = &texture.cells[(y * GATHER + row) * texture.width..][..width * GATHER];
                let seen = scene.print.as_ref().map(|p| &p.seen[(y * GATHER + row) * p.width..]);
                let seen =
                    |x: usize, c: u8| seen.filter(|_| usize::from(c) > scene.printed_from).map(|s| s[x]);
                for (x, ((of, cell), sheen)) in
                    line.chunks_exact(GATHER).zip(cells.iter_mut()).zip(sheens.iter_mut()).enumerate()
                {
                    if of.iter().any(|c| seen(0, *c).is_some()) {
                        for (i, &c) in of.iter().enumerate().filter(|(_, c)| **c > 0) {
                            let (colour, own) = films[usize::from(c)];
                            let shown = seen(x * GATHER + i, c)
                                .map_or(colour, |[r, g, b]| [r, g, b, 1].map(u16::from));
                            (0..4).for_each(|k| cell[k] += shown[k]);
                            *sheen = own;
                        }
                        continue;
                    }
                    // Most lie all in one film, or in none.
                    let (cells, times) =
                        if of.iter().all(|c| *c == of[0]) { (&of[..1], GATHER as u16) } else { (of, 1) };
                    for &c in cells.iter().filter(|c| **c > 0) {
                        let (colour, own) = films[usize::from(c)];
                        (0..4).for_each(|k| cell[k] += times * colour[k]);
                        *sheen = own;
                    }
                }
            }
        };
        cells.par_chunks_mut(width).zip(sheens.par_chunks_mut(width)).enumerate().for_each(fill);
        let means = (0..=255 * (GATHER * GATHER) as u16).map(|v| f32::from(v) / GATHERED).collect();
        let near = near(&cells, width, height);
        Coat { width, height, cells, sheens, near, means }
    }
    /// The two rows that a height lies between, by their first cells, and the part of the second.
    fn rows(&self, row: f32) -> ([u32; 2], f32) {
        let y = (row - 0.5).clamp(0.0, (self.height - 1) as f32);
        let top = y.floor();
        let foot = (top as usize + 1).min(self.height - 1);
        ([(top as usize * self.width) as u32, (foot * self.width) as u32], y - top)
    }
    /// Between the four cells about a place: colour times cover, cover, and the sheen of the last that has
    /// film; nothing where none has. `column` is half a column or more, and less than two rounds.
    #[inline]
    fn at(&self, column: f32, rows: [u32; 2], ty: f32) -> Option<([f32; 4], u8)> {
        let x = column - 0.5;
        // No column is below half a one, and none takes more than 31 bits: the cast that need not look is the
        // fastest.
        let x0 = x as i32 as usize;
        let tx = x - x0 as i32 as f32;
        let left = if x0 >= self.width { x0 - self.width } else { x0 };
        let right = if left + 1 == self.width { 0 } else { left + 1 };
        let [top, foot] = rows.map(|r| r as usize);
        if !bit(&self.near, top + left) {
            return None;
        }
        let four = [top + left, top + right, foot + left, foot + right];
        let cells = four.map(|i| self.cells[i]);
        let parts = [(1.0 - tx) * (1.0 - ty), tx * (1.0 - ty), (1.0 - tx) * ty, tx * ty];
        let [a, b, c, d] = cells;
        let one = |k: usize| {
            let of = |v: u16, part: f32| self.means[usize::from(v)] * part;
            of(a[k], parts[0]) + of(b[k], parts[1]) + of(c[k], parts[2]) + of(d[k], parts[3])
        };
        let sum = [one(0), one(1), one(2), one(3)];
        let last = (0..4).rev().find(|&i| cells[i][3] > 0)?;
        Some((sum, self.sheens[four[last]]))
    }
}

/// Where any of a cell, its neighbour to the right (round the seam) and the two below (none below the last
/// row) has film.
fn near(cells: &[[u16; 4]], width: usize, height: usize) -> Vec<u64> {
    let mut out = vec![0u64; cells.len().div_ceil(64)];
    let mut set = |i: usize, any: bool| out[i / 64] |= u64::from(any) << (i % 64);
    for y in 0..height {
        let (top, foot) = (&cells[y * width..][..width], &cells[(y + 1).min(height - 1) * width..][..width]);
        let own = |x: usize| top[x][3] + foot[x][3] > 0;
        let Some(last) = width.checked_sub(1) else { continue };
        let mut here = own(0);
        for x in 0..last {
            let next = own(x + 1);
            set(y * width + x, here || next);
            here = next;
        }
        set(y * width + last, here || own(0));
    }
    out
}

#[inline]
fn bit(bits: &[u64], i: usize) -> bool {
    bits[i / 64] >> (i % 64) & 1 > 0
}

impl<'a> Turn<'a> {
    fn new(scene: &'a Scene, texture: &UnwrappedTexture, bare_turn: &'a BareTurn) -> Turn<'a> {
        let coat = Coat::new(scene, texture);
        let seen = |(shade, w): (usize, &Wall)| {
            let (rows, down) = coat.rows(((1.0 - w.y / scene.body.height) * coat.height as f64) as f32);
            let look = Look { column: (w.round * coat.width as f64) as f32, rows };
            let seen = Seen {
                place: w.place,
                down,
                under: scene.bare.at(w.sine).of(scene.wall_at(w.y)),
                shade,
                part: f32::from(w.part) / 255.0,
            };
            (look, seen)
        };
        let (looks, seen) = bare_turn.wall.iter().enumerate().map(seen).unzip();
        let table = |t: &Shades| bare_turn.wall.iter().map(|w| t.at(w.sine)).collect();
        let shades = scene.shades.iter().map(table).collect();
        Turn { scene, bare: &bare_turn.bare, looks, seen, shades, coat }
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
    fn frame(&self, i: usize, out: &mut Vec<u8>) {
        out.clear();
        out.extend_from_slice(self.bare);
        // The front faces the viewer first; then what lies to its right comes round.
        let facing = (i as f32 / FRAMES as f32 + 0.5) * self.coat.width as f32;
        // Under a partly covered edge the ground's part is already in the alpha.
        let whole = matches!(self.scene.ground, Ground::Transparent);
        for (look, s) in self.looks.iter().zip(&self.seen) {
            let Some((film, sheen)) = self.coat.at(look.column + facing, look.rows, s.down) else { continue };
            let shade = self.shades[usize::from(sheen)][s.shade];
            let pixel = &mut out[4 * s.place..4 * s.place + 4];
            // What film changes of the bare wall, in the part of the pixel that is wall.
            let opaque = if whole { 1.0 } else { s.part };
            for k in 0..3 {
                let c = s.under[k] * (1.0 - film[3]) + film[k] * shade.mul + shade.add * 255.0 * film[3];
                let v = f32::from(pixel[k]) + (c - s.under[k]) * opaque;
                // A cast to a byte stops at 0 and 255.
                pixel[k] = (v + 0.5) as u8;
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The twin of sums by threes: cell by cell.
    #[test]
    fn gathered_cells_are_the_sums_of_theirs() {
        let plan = crate::write::sample::plan(180.0, 0.0);
        let scene = Scene::new(&plan);
        let texture = UnwrappedTexture::new(&scene.patches, &scene.body, COLUMNS);
        let coat = Coat::new(&scene, &texture);
        let (mut mixed, mut full) = (0, 0);
        for (i, cell) in coat.cells.iter().enumerate() {
            let (x, y) = (i % coat.width * GATHER, i / coat.width * GATHER);
            let (mut sum, mut sheen) = ([0u16; 4], 0);
            for k in 0..GATHER * GATHER {
                let c = texture.cells[(y + k / GATHER) * texture.width + x + k % GATHER];
                if c > 0 {
                    let (colour, own) = scene.films[usize::from(c) - 1];
                    (0..3).for_each(|k| sum[k] += colour[k] as u16);
                    sum[3] += 1;
                    sheen = own as u8;
                }
            }
            assert_eq!((*cell, coat.sheens[i]), (sum, sheen));
            let right = if x / GATHER + 1 == coat.width { i + 1 - coat.width } else { i + 1 };
            let below = |i: usize| (i + coat.width).min(coat.cells.len() - coat.width + i % coat.width);
            let any = [i, right, below(i), below(right)].iter().any(|&i| coat.cells[i][3] > 0);
            assert_eq!(bit(&coat.near, i), any);
            mixed += usize::from(sum[3] > 0 && sum[3] < 9);
            full += usize::from(sum[3] == 9);
        }
        assert!(mixed > 100 && full > 100, "{mixed} {full}");
    }

    /// The animation and the still agree: the same camera, the same cup, two ways of getting there.
    #[test]
    fn a_frame_is_the_still_from_there() {
        let plan = crate::write::sample::plan(180.0, 0.0);
        let scene = Scene::new(&plan);
        let texture = UnwrappedTexture::new(&scene.patches, &scene.body, COLUMNS);
        let bare_turn = BareTurn::new(&scene);
        let turn = Turn::new(&scene, &texture, &bare_turn);
        for i in [0, 7, 12] {
            let azimuth = Angle::degrees(360.0 / FRAMES as f64 * i as f64);
            let camera = Camera::fitted(&scene.body, azimuth, Angle::degrees(ELEVATION), SIZE, 10.0);
            let (mut a, b) = (Vec::new(), still(&scene, &camera, SIZE).rgba);
            turn.frame(i, &mut a);
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
