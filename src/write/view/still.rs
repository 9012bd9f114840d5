//! One view of the cup: outlines projected point by point and filled smoothly, shade by shade.
//!
//! Imports: read::job, write::view::{camera, light, texture, scene}.

use super::camera::{Body, Camera, Eye};
use super::light::{Shade, Shades, floats};
use super::scene::Scene;
use super::texture::SurfacePoint;
use crate::read::job::Ground;
use resvg::tiny_skia::{BlendMode, FillRule, Mask, Paint, Path, PathBuilder, Pixmap, Transform};
use std::f64::consts::TAU;

/// Width of the lip as drawn, mm: the rim of a cup has some.
pub(super) const LIP: f64 = 1.6;

/// A picture: four bytes a pixel, alpha not multiplied in.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Picture {
    /// Pixels from left to right.
    pub width: usize,
    /// Pixels from top to bottom.
    pub height: usize,
    /// Red, green, blue, alpha.
    pub rgba: Vec<u8>,
}

/// The picture that a camera takes.
pub fn still(scene: &Scene, camera: &Camera, size: (usize, usize)) -> Picture {
    BareRender::new(scene, camera, size).dressed(scene, camera)
}

/// Render cache of the undecorated cup for one camera elevation; shading depends only on azimuth relative to
/// the camera.
pub struct BareRender {
    size: (usize, usize),
    /// The picture of it.
    bare: Vec<u8>,
    /// Rows that show cup, from the top.
    rows: Vec<Row>,
    cup: Vec<Spot>,
    edges: Vec<Edge>,
}

/// The part of a row from the first to the last pixel that shows cup.
struct Row {
    /// Place of the first pixel in the picture.
    place: usize,
    /// Its pixels.
    spots: std::ops::Range<usize>,
}

/// What a pixel shows that film may change.
#[derive(Clone, Copy)]
struct Spot {
    /// Sine of the wall's azimuth from the camera's.
    sine: f32,
    /// Place of its edge and one, if it has one: what lies wholly on the wall has none.
    edge: u32,
    /// Shade of the bare wall, and the ring that gives its colour.
    shade: u16,
    ring: u16,
}

/// Stands for the edge of a pixel that shows no cup.
const NO_CUP: u32 = u32::MAX;

/// What a pixel shows beside the wall.
struct Edge {
    /// How much of what the wall shows is left beside lip and hollow, and their colour.
    kept: f32,
    other: [f32; 3],
    /// How much of the pixel is cup.
    part: f32,
    /// What stands behind: its colour and how solid it is.
    behind: ([f32; 3], f32),
}

impl Edge {
    /// The pixel, where the wall shows a colour.
    fn seen(&self, c: [f32; 3]) -> [u8; 4] {
        let (behind, solid) = self.behind;
        let over = solid * (1.0 - self.part);
        let sum = self.part + over;
        let seen = |k: usize| {
            let c = c[k] * self.kept + self.other[k];
            (c * self.part + behind[k] * over) / sum
        };
        bytes([0, 1, 2].map(seen), sum)
    }
}

/// What stands behind the cup: its colour where no shadow falls, how solid it is, and the shadow.
pub(super) struct Behind {
    lit: ([f32; 3], f32),
    shadow: Option<Shadow>,
}

impl Behind {
    pub(super) fn new(scene: &Scene, eye: &Eye) -> Behind {
        match scene.ground {
            Ground::Transparent => Behind { lit: ([0.0; 3], 0.0), shadow: None },
            Ground::Plain(c) => Behind { lit: (floats(c), 1.0), shadow: Some(Shadow::new(&scene.body, eye)) },
        }
    }
    /// How dark the shadow is at a pixel's middle.
    pub(super) fn dark(&self, px: f64, py: f64) -> f32 {
        self.shadow.as_ref().map_or(0.0, |s| s.at(px, py))
    }
    pub(super) fn in_shade(&self, dark: f32) -> ([f32; 3], f32) {
        if dark > 0.0 { (self.lit.0.map(|v| v * (1.0 - dark)), self.lit.1) } else { self.lit }
    }
    /// The picture without a cup.
    fn picture(&self, (width, height): (usize, usize)) -> Vec<u8> {
        let mut out = bytes(self.lit.0, self.lit.1).repeat(width * height);
        let Some(shadow) = &self.shadow else { return out };
        let (columns, rows) = (shadow.columns(width), shadow.rows(height));
        for y in rows {
            for x in columns.clone() {
                let dark = shadow.at(x as f64 + 0.5, y as f64 + 0.5);
                if dark > 0.0 {
                    let (c, solid) = self.in_shade(dark);
                    out[4 * (y * width + x)..][..4].copy_from_slice(&bytes(c, solid));
                }
            }
        }
        out
    }
}

impl BareRender {
    /// Of a scene, by any of the cameras.
    pub fn new(scene: &Scene, camera: &Camera, (width, height): (usize, usize)) -> BareRender {
        let eye = camera.view();
        let shapes = Shapes::new(scene, camera, &eye);
        let cover = |path: &Option<Path>| mask(path.as_ref(), width, height);
        let (whole, mouth, inner) = (cover(&shapes.whole), cover(&shapes.mouth), cover(&shapes.inner));
        let row = |m, y| row_of(m, y, width);
        let behind = Behind::new(scene, &eye);
        let mut out = BareRender {
            size: (width, height),
            bare: behind.picture((width, height)),
            rows: Vec::new(),
            cup: Vec::new(),
            edges: Vec::new(),
        };
        let (mut sines, mut heights) = (vec![0.0f64; width], vec![0.0f64; width]);
        for y in 0..height {
            let whole = row(&whole, y);
            let Some(first) = whole.iter().position(|v| *v > 0) else { continue };
            let end = whole.iter().rposition(|v| *v > 0).map_or(first, |last| last + 1);
            let (mouth, inner) = (row(&mouth, y), row(&inner, y));
            let (from, py) = (out.cup.len(), y as f64 + 0.5);
            let (sines, heights) = (&mut sines[..end - first], &mut heights[..end - first]);
            eye.meet_row(&scene.body, first as f64 + 0.5, py, sines, heights);
            for (x, &covered) in whole.iter().enumerate().take(end).skip(first) {
                let at = |row: &[u8]| row.get(x).copied().unwrap_or(0);
                let (lip, hollow, px) = (at(mouth), at(inner), x as f64 + 0.5);
                let (mut sine, mut shade, mut ring, mut wall) = (0.0, 0, 0, [0.0f32; 3]);
                if lip < 255 && covered > 0 {
                    sine = sines[x - first];
                    (shade, ring) = (Shades::place(sine), scene.ring_at(heights[x - first]));
                    wall = scene.bare.of_place(shade).of(scene.wall[ring]);
                }
                let plain = covered == 255 && lip == 0 && hollow == 0;
                let mut edge = if covered > 0 { 0 } else { NO_CUP };
                if plain {
                    out.bare[4 * (y * width + x)..][..4].copy_from_slice(&bytes(wall, 1.0));
                } else if covered > 0 {
                    let one = edged(scene, &eye, (px, py), (covered, lip, hollow), &behind);
                    out.bare[4 * (y * width + x)..][..4].copy_from_slice(&one.seen(wall));
                    out.edges.push(one);
                    edge = out.edges.len() as u32;
                }
                out.cup.push(Spot { sine: sine as f32, edge, shade: shade as u16, ring: ring as u16 });
            }
            out.rows.push(Row { place: y * width + first, spots: from..out.cup.len() });
        }
        out
    }
    /// With all that the cup wears, as one camera sees it.
    pub fn dressed(&self, scene: &Scene, camera: &Camera) -> Picture {
        let (width, height) = self.size;
        let eye = camera.view();
        let coats = coats(scene, camera, &eye, width, height);
        let plain = scene.shades.len();
        let mut out = self.bare.clone();
        for row in &self.rows {
            let at = 4 * row.place..4 * (row.place + row.spots.len());
            let films: Vec<(&Shades, &[u8])> = (scene.shades.iter().cycle().zip(&coats))
                .filter_map(|(shades, coat)| Some((shades, &coat.as_ref()?.data()[at.clone()])))
                .collect();
            let spots = self.cup[row.spots.clone()].iter();
            for (i, (s, pixel)) in spots.zip(out[at.clone()].chunks_exact_mut(4)).enumerate() {
                let film = |coat: &[u8]| [coat[4 * i], coat[4 * i + 1], coat[4 * i + 2], coat[4 * i + 3]];
                // Film that strays beyond the cup's cover shows nowhere.
                if films.iter().all(|(_, coat)| coat[4 * i + 3] == 0) || s.edge == NO_CUP {
                    continue;
                }
                let mut c = scene.bare.of_place(usize::from(s.shade)).of(scene.wall[usize::from(s.ring)]);
                for (layer, (shades, coat)) in films.iter().enumerate() {
                    let mut film = film(coat);
                    if layer >= plain && film[3] > 0 {
                        film = scene.printed(&eye, camera, row.place + i, width, film[3]);
                    }
                    c = coated(c, &film, shades.at(f64::from(s.sine)));
                }
                match (s.edge as usize).checked_sub(1) {
                    Some(edge) => pixel.copy_from_slice(&self.edges[edge].seen(c)),
                    None => pixel.copy_from_slice(&bytes(c, 1.0)),
                }
            }
        }
        Picture { width, height, rgba: out }
    }
}

/// What a pixel shows beside the wall: lip over wall, hollow over both; how much of it each covers, of 255.
fn edged(
    scene: &Scene,
    eye: &Eye,
    (px, py): (f64, f64),
    (covered, lip, hollow): (u8, u8, u8),
    behind: &Behind,
) -> Edge {
    let (mut other, mut kept) = ([0.0f32; 3], 1.0f32);
    if lip > 0 {
        let t = f32::from(lip) / 255.0;
        (other, kept) = (scene.cup.map(|v| v * 1.04 * t), 1.0 - t);
    }
    if hollow > 0 {
        let (far, _, up) = eye.meet(&scene.body, px, py, true);
        let (t, deep) = (f32::from(hollow) / 255.0, depth(far, up, &scene.body).of(scene.cup));
        other = [0, 1, 2].map(|k| other[k] * (1.0 - t) + deep[k] * t);
        kept *= 1.0 - t;
    }
    let part = f32::from(covered) / 255.0;
    Edge { kept, other, part, behind: behind.in_shade(behind.dark(px, py)) }
}

/// A colour of 0 to 255 and its alpha of 0 to 1.
pub(super) fn bytes(c: [f32; 3], alpha: f32) -> [u8; 4] {
    let [r, g, b] = c.map(|v| (v + 0.5).clamp(0.0, 255.0) as u8);
    [r, g, b, (alpha * 255.0 + 0.5) as u8]
}

/// A colour under film whose flat colour and cover (premultiplied) are four bytes.
#[inline]
fn coated(under: [f32; 3], film: &[u8], shade: Shade) -> [f32; 3] {
    if film[3] == 0 {
        return under;
    }
    let part = f32::from(film[3]) / 255.0;
    [0, 1, 2].map(|k| under[k] * (1.0 - part) + f32::from(film[k]) * shade.mul + shade.add * 255.0 * part)
}

/// The hollow of the cup: dimmer with depth, lit on the side across from the light.
pub fn depth(sine: f64, up: f64, body: &Body) -> Shade {
    let deep = (1.0 - up / body.height).clamp(0.0, 1.0).sqrt();
    let lit = 0.14 * (1.0 - deep) * (sine * 0.8 + 0.2);
    Shade { mul: (0.74 - 0.46 * deep + lit) as f32, add: 0.0 }
}

/// Outlines of the cup itself on the picture.
struct Shapes {
    /// Wall and mouth in one, so that no line shows between them.
    whole: Option<Path>,
    /// The rim's ellipse, if the camera looks into the cup.
    mouth: Option<Path>,
    /// The lip's inner edge.
    inner: Option<Path>,
}

impl Shapes {
    fn new(scene: &Scene, camera: &Camera, eye: &Eye) -> Shapes {
        let b = &scene.body;
        let horizon = libm::acos(eye.horizon(b));
        let at = |r: f64, y: f64, a: f64| {
            let (sin, cos) = libm::sincos(a);
            let (x, y) = camera.pixel(r, y, sin, cos);
            (x as f32, y as f32)
        };
        let arc = |p: &mut PathBuilder, r: f64, y: f64, from: f64, to: f64, start: bool| {
            for i in 0..=180 {
                let (x, y) = at(r, y, from + (to - from) * f64::from(i) / 180.0);
                if start && i == 0 { p.move_to(x, y) } else { p.line_to(x, y) }
            }
        };
        let ring = |p: &mut PathBuilder, r: f64| {
            arc(p, r, b.height, 0.0, -TAU, true);
            p.close();
        };
        let mut whole = PathBuilder::new();
        arc(&mut whole, b.rim, b.height, horizon, -horizon, true);
        arc(&mut whole, b.base, 0.0, -horizon, horizon, false);
        whole.close();
        let (mut mouth, mut inner) = (PathBuilder::new(), PathBuilder::new());
        if eye.sees_inside(b) {
            ring(&mut whole, b.rim);
            ring(&mut mouth, b.rim);
            ring(&mut inner, (b.rim - LIP).max(b.rim * 0.5));
        }
        Shapes { whole: whole.finish(), mouth: mouth.finish(), inner: inner.finish() }
    }
}

fn mask(path: Option<&Path>, width: usize, height: usize) -> Option<Mask> {
    let path = path?;
    let mut mask = Mask::new(width as u32, height as u32)?;
    mask.fill_path(path, FillRule::Winding, true, Transform::identity());
    Some(mask)
}

/// A row of a mask; empty where there is none.
fn row_of(mask: &Option<Mask>, y: usize, width: usize) -> &[u8] {
    mask.as_ref().map_or(&[], |m| &m.data()[y * width..][..width])
}

/// Film by sheen: flat colours, the cover as alpha. What lies on top is taken out of the sheens below. If
/// printed pieces are worn, as many again for them, which hold their cover alone.
fn coats(scene: &Scene, camera: &Camera, eye: &Eye, width: usize, height: usize) -> Vec<Option<Pixmap>> {
    let layers = scene.shades.len() * if scene.print.is_some() { 2 } else { 1 };
    let mut out: Vec<Option<Pixmap>> =
        (0..layers).map(|_| Pixmap::new(width as u32, height as u32)).collect();
    let window = Window::new(scene, camera, eye);
    let mut at = 0;
    while at < scene.patches.len() {
        let film = scene.patches[at].film;
        let mut path = PathBuilder::new();
        while at < scene.patches.len() && scene.patches[at].film == film {
            for ring in &scene.patches[at].rings {
                window.push(&mut path, ring);
            }
            at += 1;
        }
        let Some(path) = path.finish() else { continue };
        let (colour, own) = scene.films[film];
        let printed = scene.print.is_some() && film >= scene.printed_from;
        let own = if printed { own + scene.shades.len() } else { own };
        for (sheen, coat) in out.iter_mut().enumerate() {
            let Some(coat) = coat else { continue };
            let mut paint = Paint { anti_alias: true, ..Paint::default() };
            if sheen == own {
                paint.set_color_rgba8(colour[0] as u8, colour[1] as u8, colour[2] as u8, 255);
            } else {
                paint.blend_mode = BlendMode::DestinationOut;
            }
            coat.fill_path(&path, &paint, FillRule::Winding, Transform::identity(), None);
        }
    }
    out
}

/// The part of the wall that a camera sees, and where it lands.
struct Window<'a> {
    eye: &'a Eye,
    azimuth: f64,
    sin: f64,
    cos: f64,
    horizon: f64,
    least: f64,
}

impl<'a> Window<'a> {
    fn new(scene: &Scene, camera: &Camera, eye: &'a Eye) -> Window<'a> {
        let least = eye.horizon(&scene.body);
        let azimuth = camera.azimuth.to_radians();
        let (sin, cos) = libm::sincos(azimuth);
        Window { eye, azimuth, sin, cos, horizon: libm::acos(least), least }
    }
    fn push(&self, path: &mut PathBuilder, ring: &[SurfacePoint]) {
        let turned =
            |w: &SurfacePoint| (w.sin * self.cos - w.cos * self.sin, w.cos * self.cos + w.sin * self.sin);
        let (mut some, mut all) = (false, true);
        for w in ring {
            let seen = turned(w).1 >= self.least;
            some |= seen;
            all &= seen;
        }
        if !some {
            return;
        }
        if all {
            let points = ring.iter().map(|w| {
                let (sin, cos) = turned(w);
                self.eye.pixel(w.r, w.y, sin, cos)
            });
            close(path, points);
            return;
        }
        let ring: Vec<[f64; 3]> = ring.iter().map(|w| [w.azimuth - self.azimuth, w.r, w.y]).collect();
        let (low, high) = ring.iter().fold((f64::MAX, f64::MIN), |(l, h), p| (l.min(p[0]), h.max(p[0])));
        let first = ((-self.horizon - high) / TAU).ceil() as i32;
        let last = ((self.horizon - low) / TAU).floor() as i32;
        for n in first..=last {
            let shifted: Vec<[f64; 3]> =
                ring.iter().map(|p| [p[0] + TAU * f64::from(n), p[1], p[2]]).collect();
            let part = cut(&cut(&shifted, self.horizon, 1.0), -self.horizon, -1.0);
            let points = part.iter().map(|p| {
                let (sin, cos) = libm::sincos(p[0]);
                self.eye.pixel(p[1], p[2], sin, cos)
            });
            close(path, points);
        }
    }
}

fn close(path: &mut PathBuilder, points: impl Iterator<Item = (f64, f64)>) {
    let mut begun = false;
    for (x, y) in points {
        if begun {
            path.line_to(x as f32, y as f32)
        } else {
            path.move_to(x as f32, y as f32)
        }
        begun = true;
    }
    if begun {
        path.close();
    }
}

/// A ring cut off at an azimuth: what lies on the side of smaller (1) or larger (-1) azimuths stays
/// (Sutherland and Hodgman 1974).
fn cut(ring: &[[f64; 3]], limit: f64, side: f64) -> Vec<[f64; 3]> {
    let mut out = Vec::with_capacity(ring.len() + 8);
    let within = |p: &[f64; 3]| (limit - p[0]) * side >= 0.0;
    let Some(mut a) = ring.last() else { return out };
    for b in ring {
        if within(a) != within(b) {
            let t = (limit - a[0]) / (b[0] - a[0]);
            out.push([limit, a[1] + (b[1] - a[1]) * t, a[2] + (b[2] - a[2]) * t]);
        }
        if within(b) {
            out.push(*b);
        }
        a = b;
    }
    out
}

/// Where the shadow ends, in half widths of the base.
const SHADOW: f64 = 1.28;

/// The soft shadow on the ground about the base.
struct Shadow {
    x: f64,
    y: f64,
    a: f64,
    b: f64,
}

impl Shadow {
    fn new(body: &Body, eye: &Eye) -> Shadow {
        let left = eye.pixel(body.base, 0.0, -1.0, 0.0);
        let right = eye.pixel(body.base, 0.0, 1.0, 0.0);
        let (near, far) = (eye.pixel(body.base, 0.0, 0.0, 1.0), eye.pixel(body.base, 0.0, 0.0, -1.0));
        let a = (right.0 - left.0) / 2.0;
        Shadow {
            x: (left.0 + right.0) / 2.0 + a * 0.06,
            y: (near.1 + far.1) / 2.0,
            a,
            b: ((near.1 - far.1) / 2.0).abs().max(a * 0.06),
        }
    }
    /// Columns and rows outside of which there is no shadow, a pixel to spare.
    fn columns(&self, width: usize) -> std::ops::Range<usize> {
        reach(self.x, self.a, width)
    }
    fn rows(&self, height: usize) -> std::ops::Range<usize> {
        reach(self.y, self.b, height)
    }
    fn at(&self, px: f64, py: f64) -> f32 {
        let (x, y) = ((px - self.x) / self.a, (py - self.y) / self.b);
        // Most of a picture is that far away without a root.
        if x.abs().max(y.abs()) >= SHADOW {
            return 0.0;
        }
        let t = ((SHADOW - libm::hypot(x, y)) / 0.5).clamp(0.0, 1.0);
        (0.34 * t * t * (3.0 - 2.0 * t)) as f32
    }
}

/// Pixels, of so many, that a shadow with this middle and half width may reach.
fn reach(middle: f64, half: f64, all: usize) -> std::ops::Range<usize> {
    // A cast of what lies below 0 gives 0.
    let from = (middle - SHADOW * half - 1.0) as usize;
    let end = ((middle + SHADOW * half + 2.0) as usize).min(all);
    from.min(end)..end
}

/// How much of each pixel shows the wall's outside, of 255: the cup's cover less its mouth's.
pub fn wall_cover(scene: &Scene, camera: &Camera, (width, height): (usize, usize)) -> Vec<u8> {
    let eye = camera.view();
    let shapes = Shapes::new(scene, camera, &eye);
    let whole = mask(shapes.whole.as_ref(), width, height);
    let mouth = mask(shapes.mouth.as_ref(), width, height);
    let at = |i: usize| {
        let lip = mouth.as_ref().map_or(0, |m| m.data()[i]);
        whole.as_ref().map_or(0, |m| m.data()[i]).saturating_sub(lip)
    };
    (0..width * height).map(at).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The twin of pixels that have no edge: as one that is all cup, all wall.
    #[test]
    fn a_pixel_without_an_edge_is_one_that_is_all_wall() {
        for (i, behind) in [([0.0; 3], 0.0), ([251.0, 250.0, 246.0], 1.0)].into_iter().enumerate() {
            let edge = Edge { kept: 1.0, other: [0.0; 3], part: 1.0, behind };
            for k in 0..2000 {
                let c = [k as f32 * 0.13, 260.0 - k as f32 * 0.2, k as f32 * 0.07 + i as f32];
                assert_eq!(edge.seen(c), bytes(c, 1.0), "{c:?}");
            }
        }
    }
}
