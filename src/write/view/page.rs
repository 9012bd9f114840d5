//! `turn.html`: the cup to turn by hand, in one file that asks no network: the pieces as triangles on the
//! wall, a hand-written WebGL 2 program that shows them by the stills' camera and light, and the stills
//! themselves for where there is no WebGL.
//!
//! Imports: read::job, make::verify, write::{ink, view}, write::view::{light, scene, parts, mesh, pack}.

use super::View;
use super::light::Shade;
use super::mesh::{Lattice, Mesh};
use super::scene::Scene;
use crate::make::verify::Verified;
use crate::read::job::{Ground, Rgb};
use crate::write::ink::html::{data_uri, escaped};
use crate::write::ink::png;
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
    /// What printed pieces show, a PNG of the wall, and the number of the first film that is a printed sheet.
    #[serde(skip_serializing_if = "Option::is_none")]
    print: Option<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    printed: Option<usize>,
}

/// What the page asks besides where printed pieces are worn: lines of the template, and those that take their
/// place.
const PRINTED: [(&str, &str); 4] = [
    (
        "uniform sampler2D pieces, shades, wall;",
        "uniform sampler2D pieces, shades, wall, print;\nuniform float facing, printed;",
    ),
    (
        "if (i > 0) { vec4 f = film[i - 1]; c = f.rgb; s = shade(at.x, f.a); }",
        "if (i > 0) {\n    vec4 f = film[i - 1];\n    c = f.rgb;\n    s = shade(at.x, f.a);\n    if (float(i) > printed) c = \
            textureLod(print, vec2((atan(at.x, at.y) + facing) / 6.283185307179586 + .5, 1. - y / high), \
            0.).rgb;\n  }",
    ),
    (
        "gl.uniform1f(part.at(\"samples\"), samples);",
        "gl.uniform1f(part.at(\"samples\"), samples);\n      gl.uniform1f(part.at(\"facing\"), azimuth * Math.PI / 180);",
    ),
    (
        "gl.uniform1i(lit.at(\"pieces\"), 0);",
        "gl.uniform1i(lit.at(\"pieces\"), 0);\n  const shown = new Image();\n  shown.src = \
            `data:image/png;base64,${cup.print}`;\n  await shown.decode();\n  picture(3);\n  \
            gl.texImage2D(gl.TEXTURE_2D, 0, gl.RGBA8, gl.RGBA, gl.UNSIGNED_BYTE, shown);\n  for (const k of \
            [gl.TEXTURE_MIN_FILTER, gl.TEXTURE_MAG_FILTER]) gl.texParameteri(gl.TEXTURE_2D, k, gl.LINEAR);\n  \
            gl.texParameteri(gl.TEXTURE_2D, gl.TEXTURE_WRAP_S, gl.REPEAT);\n  \
            gl.uniform1i(lit.at(\"print\"), 3);\n  gl.uniform1f(lit.at(\"printed\"), cup.printed);",
    ),
];

/// Columns of the picture of what printed pieces show: what every WebGL 2 takes.
const WIDE: usize = 2048;

/// What the page's script shows, as JSON; and whether a printed sheet is among it.
fn data(plan: &Verified, scene: &Scene, meshes: &[Mesh]) -> (String, bool) {
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
    let print = scene.print.as_ref().map(|p| p.coarser(WIDE)).and_then(|p| {
        // A picture that cannot be packed is not shown: films have a colour beside it.
        let rgb: Vec<u8> = p.seen.concat();
        png::rgb(p.width, p.height, &rgb).ok()
    });
    let printed = print.as_ref().map(|_| scene.printed_from);
    let (low, tops) = super::parts::cones(scene);
    let data = Data {
        print: print.as_deref().map(base64),
        printed,
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
    // Serialising numbers and plain text cannot fail.
    (serde_json::to_string(&data).unwrap_or_default(), printed.is_some())
}

/// The template with the passages that this scene's script says otherwise.
fn template(scene: &Scene, printed: bool) -> String {
    let mut template = match scene.sections.as_slice() {
        [] => TEMPLATE.to_owned(),
        _ => super::parts::page(TEMPLATE),
    };
    if printed {
        for (line, instead) in PRINTED {
            template = template.replace(line, instead);
        }
    }
    template
}

/// The cup to turn within another page: the same script as a module, and what it shows.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Turning {
    /// An ES module. `mount(data, page)` takes the data below and what stands for the document: where the
    /// script finds its elements. It gives `show({ parts, pieces })` for other pieces on the same cup.
    pub script: String,
    /// JSON.
    pub data: String,
}

/// Where the script of the template begins and where it starts itself.
const BEGINS: &str = "const cup = @DATA@;\n";
const STARTS: &str = "start().catch(";

/// What a module says instead of starting itself: the script's own names are at hand.
const MODULE: &str = "  await start();
  if (!gl) return null;
  return {
    canvas,
    turn, nearer,
    async show(next) {
      Object.assign(cup, next);
      const pieces = await unpacked();
      gl.bindVertexArray(worn.lines);
      for (const of of [gl.getVertexAttrib(0, gl.VERTEX_ATTRIB_ARRAY_BUFFER_BINDING), gl.getParameter(gl.ELEMENT_ARRAY_BUFFER_BINDING)]) gl.deleteBuffer(of);
      attribute(worn, gl.FLOAT, pieces.points, 3);
      gl.bindBuffer(gl.ELEMENT_ARRAY_BUFFER, gl.createBuffer());
      gl.bufferData(gl.ELEMENT_ARRAY_BUFFER, pieces.triangles, gl.STATIC_DRAW);
      corners = pieces.triangles.length;
      draw();
    },
  };
}
";

/// The cup to turn within another page.
pub fn turning(plan: &Verified, scene: &Scene, meshes: &[Mesh]) -> Turning {
    let (data, printed) = data(plan, scene, meshes);
    let template = template(scene, printed);
    let script = template.split_once(BEGINS).map_or("", |t| t.1);
    let script = script.split_once(STARTS).map_or("", |t| t.0);
    let script = format!("export async function mount(cup, document) {{\n{script}{MODULE}");
    Turning { script, data }
}

/// Other pieces on the same cup: what `show` takes, as JSON.
pub fn pieces(meshes: &[Mesh]) -> String {
    let packed = super::pack::packed(meshes);
    let base64 = base64::engine::general_purpose::STANDARD.encode(&packed.bytes);
    format!("{{\"parts\":{:?},\"pieces\":\"{base64}\"}}", packed.parts)
}

/// The page.
pub fn html(plan: &Verified, scene: &Scene, meshes: &[Mesh], views: &[View]) -> Vec<u8> {
    let (data, printed) = data(plan, scene, meshes);
    let stills: String = views.iter().map(figure).collect();
    let ground = match scene.ground {
        Ground::Plain(c) => c,
        Ground::Transparent => Rgb([0xfb, 0xfa, 0xf6]),
    };
    let page = template(scene, printed)
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
