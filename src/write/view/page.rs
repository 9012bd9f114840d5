//! `turn.html`: the cup to turn by hand, in one file that asks no network: the pieces as triangles on the
//! wall, a hand-written WebGL 2 program that shows them by the stills' camera and light, and the stills
//! themselves for where there is no WebGL.
//!
//! Imports: read::job, make::verify, write::{ink, view}, write::view::{light, still, parts, mesh, pack}.

use super::View;
use super::light::Shade;
use super::mesh::{Lattice, Mesh};
use super::still::Scene;
use crate::make::verify::Verified;
use crate::read::job::{Ground, Rgb};
use crate::write::ink::html::{data_uri, escaped};
use base64::Engine;
use serde::Serialize;

const TEMPLATE: &str = include_str!("turn.html");

#[derive(Serialize)]
struct Data {
    base: f64,
    rim: f64,
    high: f64,
    away: f64,
    edge: f64,
    width: usize,
    bare: [f32; 3],
    wall: String,
    films: Vec<[f32; 4]>,
    sheens: usize,
    shades: String,
    /// Lower and upper edges of the cones of a wall of several; see [`super::parts`].
    #[serde(skip_serializing_if = "Vec::is_empty")]
    low: Vec<[f64; 4]>,
    #[serde(rename = "top", skip_serializing_if = "Vec::is_empty")]
    tops: Vec<[f64; 4]>,
    /// Steps of the lattice round and up.
    columns: i32,
    rows: i32,
    /// Lengths of the parts of `pieces`, as [`super::pack`] has them.
    parts: [usize; 4],
    pieces: String,
}

/// The page.
pub fn html(plan: &Verified, scene: &Scene, meshes: &[Mesh], views: &[View]) -> Vec<u8> {
    let lattice = Lattice::of_cup(plan.cup());
    let packed = super::pack::packed(meshes);
    let base64 = |bytes: &[u8]| base64::engine::general_purpose::STANDARD.encode(bytes);
    let tables = std::iter::once(&scene.bare).chain(&scene.shades);
    let table: Vec<u8> = tables.flat_map(|t| t.every(1)).flat_map(fixed).collect();
    let unit = |c: [f32; 3]| c.map(|v| v / 255.0);
    let film = |(c, sheen): &([f32; 3], usize)| {
        let [r, g, b] = unit(*c);
        [r, g, b, (sheen + 1) as f32]
    };
    let (low, tops) = super::parts::cones(scene);
    let data = Data {
        base: rounded(scene.body.base),
        rim: rounded(scene.body.rim),
        high: rounded(scene.body.height),
        away: super::camera::AWAY,
        edge: super::sides::EDGE,
        width: super::SIZE.0,
        bare: unit(scene.cup),
        wall: base64(&scene.wall.iter().flat_map(solid).collect::<Vec<u8>>()),
        films: scene.films.iter().map(film).collect(),
        sheens: scene.shades.len() + 1,
        shades: base64(&table),
        low,
        tops,
        columns: lattice.columns,
        rows: lattice.rows,
        parts: packed.parts,
        pieces: base64(&packed.bytes),
    };
    let stills: String = views.iter().map(figure).collect();
    let ground = match scene.ground {
        Ground::Plain(c) => c,
        Ground::Transparent => Rgb([0xfb, 0xfa, 0xf6]),
    };
    // Serialising numbers and plain text cannot fail.
    let data = serde_json::to_string(&data).unwrap_or_default();
    let template = match scene.sections.as_slice() {
        [] => TEMPLATE.to_owned(),
        _ => super::parts::page(TEMPLATE),
    };
    let page = template
        .replace("@GROUND@", &ground.to_string())
        .replace("@STILLS@", &stills)
        .replace("@DATA@", &data)
        .replace("@TITLE@", &escaped(&plan.job().title));
    page.into_bytes()
}

/// A colour as four bytes.
fn solid(c: &[f32; 3]) -> [u8; 4] {
    let [r, g, b] = c.map(|v| (v + 0.5).clamp(0.0, 255.0) as u8);
    [r, g, b, 255]
}

/// Factor and white, each as two bytes of a fixed point.
fn fixed(s: &Shade) -> [u8; 4] {
    let two = |v: f32| ((v * 32768.0 + 0.5) as u16).to_be_bytes();
    let ([a, b], [c, d]) = (two(s.mul), two(s.add));
    [a, b, c, d]
}

fn rounded(v: f64) -> f64 {
    crate::write::ink::decimal::rounded(v, 4)
}

fn figure(v: &View) -> String {
    format!(
        "<figure><img src=\"{}\" width=\"{}\" height=\"{}\" \
            alt=\"{}\"><figcaption>{}</figcaption></figure>\n",
        data_uri("image/png", &v.png),
        v.picture.width,
        v.picture.height,
        v.message,
        v.name,
    )
}
