//! Pictures of a cup whose wall is several cones: a ray through each part of a pixel meets the nearest of them.
//!
//! A still of one cone projects outlines and knows that the wall hides nothing of itself but what is turned
//! away. A shoulder or a foot does: here each ray is met with every cone, and the nearest point shows what the
//! grid of film numbers has there, in the light of its azimuth.
//!
//! Imports: base, write::{ink, view}, write::view::{camera, light, texture, scene, still, turn, sides}.

use super::camera::{Camera, Eye};
use super::light::Shades;
use super::scene::Scene;
use super::still::{Behind, LIP, Picture, bytes, depth};
use super::texture::UnwrappedTexture;
use super::turn::{ELEVATION, FRAMES, SIZE, THOUSANDTHS};
use super::{View, sides};
use crate::base::units::Angle;
use crate::write::ink::png::{self, Trouble};
use rayon::prelude::*;
use std::f64::consts::TAU;

/// Parts of a pixel each way that are asked by themselves.
const PARTS: usize = 4;
/// Those in its corners.
const CORNERS: [usize; 4] = [0, PARTS - 1, PARTS * (PARTS - 1), PARTS * PARTS - 1];
/// Distances of a ray from the eye, in its own length, below which it has met nothing.
const BEFORE: f64 = 1e-9;

/// Numbers of what is no wall, beyond those of films.
const IS_LIP: u16 = 256;
const IS_HOLLOW: u16 = 257;

/// What a ray meets.
enum Met {
    /// The wall: sine of its azimuth from the camera's, that azimuth, height over the base, slant.
    Wall {
        sine: f64,
        azimuth: f64,
        y: f64,
        slant: f64,
    },
    Lip,
    /// The hollow: sine of the azimuth across, height there.
    Hollow {
        sine: f64,
        y: f64,
    },
}

fn meet(scene: &Scene, eye: &Eye, px: f64, py: f64) -> Option<Met> {
    let (dx, dy, dz) = eye.ray(px, py);
    let at = |m: f64| (m * dx, eye.y + m * dy, eye.z + m * dz);
    let mut best: Option<(f64, Met)> = None;
    for s in &scene.sections {
        let t = s.body.flare();
        // The section's cone, carried on, has the radius r at the eye's height.
        let r = s.body.base + t * (eye.y - s.foot);
        let a = dx * dx + dz * dz - t * t * dy * dy;
        let b = eye.z * dz - t * r * dy;
        let c = eye.z * eye.z - r * r;
        let root = b * b - a * c;
        if root < 0.0 || a == 0.0 {
            continue;
        }
        for m in [(-b - root.sqrt()) / a, (-b + root.sqrt()) / a] {
            let (x, y, z) = at(m);
            let on = y >= s.foot && y <= s.foot + s.body.height;
            if m > BEFORE && on && best.as_ref().is_none_or(|n| m < n.0) {
                let azimuth = libm::atan2(x, z);
                let slant = s.slant(y);
                best = Some((m, Met::Wall { sine: libm::sin(azimuth), azimuth, y, slant }));
            }
        }
    }
    // Into the cup, if the ray comes through the mouth before it meets the wall.
    let m = (scene.body.height - eye.y) / dy;
    let (x, _, z) = at(m);
    let from = libm::hypot(x, z);
    let rim = scene.body.rim;
    if eye.y > scene.body.height && m > BEFORE && from < rim && best.as_ref().is_none_or(|n| m <= n.0) {
        if from > (rim - LIP).max(rim * 0.5) {
            return Some(Met::Lip);
        }
        // The far side from within: the farthest point of any cone beyond the mouth.
        let mut far = (0.0, scene.body.height);
        for s in &scene.sections {
            let t = s.body.flare();
            let r = s.body.base + t * (eye.y - s.foot);
            let a = dx * dx + dz * dz - t * t * dy * dy;
            let b = eye.z * dz - t * r * dy;
            let root = (b * b - a * (eye.z * eye.z - r * r)).max(0.0).sqrt();
            for n in [(-b - root) / a, (-b + root) / a] {
                let (x, y, z) = at(n);
                if n > m && y >= s.foot && y <= s.foot + s.body.height && z < 0.0 && y < far.1 {
                    far = (x / libm::hypot(x, z), y);
                }
            }
        }
        return Some(Met::Hollow { sine: far.0, y: far.1 });
    }
    best.map(|b| b.1)
}

/// The picture that a camera takes.
pub fn still(
    scene: &Scene,
    texture: &UnwrappedTexture,
    camera: &Camera,
    (width, height): (usize, usize),
) -> Picture {
    let eye = camera.view();
    let behind = Behind::new(scene, &eye);
    let step = 1.0 / PARTS as f64;
    let row = |y: usize| {
        let mut out = Vec::with_capacity(4 * width);
        for x in 0..width {
            let at = |part: usize| {
                let px = x as f64 + (0.5 + (part % PARTS) as f64) * step;
                let py = y as f64 + (0.5 + (part / PARTS) as f64) * step;
                meet(scene, &eye, px, py).map(|met| colour(scene, texture, camera, &met))
            };
            let corners = CORNERS.map(at);
            // Where the corners show one thing, so does what lies between them.
            let one = corners.iter().all(|c| c.map(|c| c.0) == corners[0].map(|c| c.0));
            let all: Vec<_> = if one { corners.to_vec() } else { (0..PARTS * PARTS).map(at).collect() };
            let (mut sum, mut count) = ([0.0f32; 3], 0u32);
            for (_, c) in all.iter().flatten() {
                (0..3).for_each(|k| sum[k] += c[k].clamp(0.0, 255.0));
                count += 1;
            }
            let part = count as f32 / all.len() as f32;
            let (ground, solid) = behind.in_shade(behind.dark(x as f64 + 0.5, y as f64 + 0.5));
            let over = solid * (1.0 - part);
            let whole = part + over;
            let seen = |k: usize| {
                let own = if count > 0 { sum[k] / count as f32 } else { 0.0 };
                if whole > 0.0 { (own * part + ground[k] * over) / whole } else { 0.0 }
            };
            out.extend(bytes([0, 1, 2].map(seen), whole));
        }
        out
    };
    let rows: Vec<Vec<u8>> = (0..height).into_par_iter().map(row).collect();
    Picture { width, height, rgba: rows.concat() }
}

/// What is met, by a number: a film's, 0 for the bare wall, or [`IS_LIP`], [`IS_HOLLOW`]; and its colour there.
fn colour(scene: &Scene, texture: &UnwrappedTexture, camera: &Camera, met: &Met) -> (u16, [f32; 3]) {
    let (sine, azimuth, y, slant) = match *met {
        Met::Lip => return (IS_LIP, scene.cup.map(|v| v * 1.04)),
        Met::Hollow { sine, y } => return (IS_HOLLOW, depth(sine, y, &scene.body).of(scene.cup)),
        Met::Wall { sine, azimuth, y, slant } => (sine, azimuth, y, slant),
    };
    let round = ((azimuth + camera.azimuth.to_radians()) / TAU + 0.5).rem_euclid(1.0);
    let column = ((round * texture.width as f64) as usize).min(texture.width - 1);
    let row = ((1.0 - y / scene.body.height) * texture.height as f64).max(0.0) as usize;
    match texture.cells[row.min(texture.height - 1) * texture.width + column] {
        0 => (0, scene.bare.at(sine).of(scene.wall_along(slant))),
        film => {
            let (colour, sheen) = scene.films[usize::from(film) - 1];
            let shades: &Shades = &scene.shades[sheen];
            (u16::from(film), shades.at(sine).of(colour))
        }
    }
}

/// The stills.
///
/// # Errors
/// What the PNG encoder says.
pub fn views(scene: &Scene, texture: &UnwrappedTexture) -> Result<Vec<View>, Trouble> {
    let view = |(camera, (name, message, _, _)): (Camera, (&'static str, &'static str, f64, f64))| {
        let picture = still(scene, texture, &camera, sides::SIZE);
        let png = png::rgba(picture.width, picture.height, &picture.rgba)?;
        Ok(View { name, message, camera, picture, png })
    };
    sides::cameras(scene, sides::SIZE).into_iter().zip(sides::VIEWS).map(view).collect()
}

/// The animated turn.
///
/// # Errors
/// What the PNG encoder says.
pub fn animated(scene: &Scene, texture: &UnwrappedTexture) -> Result<Vec<u8>, Trouble> {
    let frame = |i: usize| {
        let azimuth = Angle::TURN * (i as f64 / FRAMES as f64);
        let camera = scene.camera(azimuth, Angle::degrees(ELEVATION), SIZE, super::turn::EDGE);
        still(scene, texture, &camera, SIZE).rgba
    };
    let whole = png::Part { x: 0, y: 0, width: SIZE.0, height: SIZE.1 };
    let later: Vec<Vec<u8>> = (1..FRAMES).map(|i| whole.of(&frame(i), SIZE.0)).collect();
    png::animated(SIZE, &frame(0), whole, &later, THOUSANDTHS)
}

#[cfg(test)]
mod tests {
    use super::super::camera::{Body, Section, sections};
    use super::*;
    use crate::write::view::turn::COLUMNS;

    /// The twin: a cup of one cone shown as several (here: as the one that it is) looks as its still does,
    /// made by another method: outlines projected and filled.
    #[test]
    fn a_cup_of_one_cone_looks_as_its_still() {
        let plan = crate::write::sample::plan(180.0, 0.0);
        let mut scene = Scene::new(&plan);
        let texture = UnwrappedTexture::new(&scene.patches, &scene.body, COLUMNS);
        for elevation in [0.0, 20.0] {
            let size = (210, 280);
            let camera = scene.camera(Angle::degrees(35.0), Angle::degrees(elevation), size, 11.0);
            let want = super::super::still::still(&scene, &camera, size);
            scene.sections = sections(plan.cup());
            let got = still(&scene, &texture, &camera, size);
            scene.sections.clear();
            let (mut off, mut far) = (0u64, 0usize);
            for (p, q) in got.rgba.chunks(4).zip(want.rgba.chunks(4)) {
                let d = (0..4).map(|k| u64::from(p[k].abs_diff(q[k]))).max().unwrap_or(0);
                off += d;
                far += usize::from(d > 90);
            }
            let all = size.0 * size.1;
            assert!(off < 2 * all as u64, "mean difference {} of 255", off as f64 / all as f64);
            assert!(far * 200 < all, "{far} pixels far off");
        }
    }

    /// Closed form: a ray level with a shoulder's edge meets the wide part, and one just above it the slope.
    #[test]
    fn the_nearest_cone_is_seen() {
        let plan = crate::write::sample::plan(180.0, 0.0);
        let mut scene = Scene::new(&plan);
        let body = |base: f64, rim: f64, height: f64| Body {
            base,
            rim,
            height,
            slant: libm::hypot(height, rim - base),
        };
        // A wide foot, and a narrow neck behind and over it.
        let (low, high) = (body(40.0, 40.0, 50.0), body(20.0, 20.0, 50.0));
        let slope = body(40.0, 20.0, 1.0);
        scene.sections = vec![
            Section { up: 0.0, foot: 0.0, body: low },
            Section { up: 50.0, foot: 50.0, body: slope },
            Section { up: 50.0 + slope.slant, foot: 51.0, body: high },
        ];
        scene.body = Body { base: 40.0, rim: 20.0, height: 101.0, slant: 100.0 + slope.slant };
        let camera = scene.camera(Angle::ZERO, Angle::ZERO, (300, 400), 20.0);
        let eye = camera.view();
        for (r, y, seen) in [(40.0, 30.0, true), (20.0, 80.0, true), (20.0, 52.0, true)] {
            let (px, py) = camera.pixel(r, y, 0.0, 1.0);
            let Some(Met::Wall { y: got, .. }) = meet(&scene, &eye, px, py) else { panic!("{y}: nothing") };
            assert_eq!((got - y).abs() < 1e-6, seen, "{y}: {got}");
        }
        // The far side of the neck is hidden by the near one, and the foot's rim hides what lies behind it.
        let (px, py) = camera.pixel(20.0, 80.0, 0.0, -1.0);
        let Some(Met::Wall { azimuth, .. }) = meet(&scene, &eye, px, py) else { panic!("nothing") };
        assert!(azimuth.abs() < 0.1, "{azimuth}");
    }
}
