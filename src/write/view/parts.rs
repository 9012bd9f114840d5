//! What the turning page's script says otherwise where the wall is several cones.
//!
//! The page of one cone keeps its bytes: this is a list of its passages and what stands in their place. A
//! cone is two vectors: `low` holds the part of the wall below it, its foot's height and radius, `high` the
//! same of its upper edge. Pieces are painted with the number of their cone beside that of their film, and
//! with a depth by how far their cone is from the one at the eye's height: rays that go down from the eye meet
//! the higher cone first, rays that go up the lower, so that of two cones the nearer to the eye's height hides
//! the other. Where the ray through a pixel meets another cone than the piece's, the piece is hidden.
//!
//! Imports: write::ink, write::view::{camera, scene}.

use super::camera::Section;
use super::scene::Scene;

/// The cones as the page takes them: the lower and the upper vectors.
pub fn cones(scene: &Scene) -> (Vec<[f64; 4]>, Vec<[f64; 4]>) {
    let all = scene.body.slant;
    let four = |v: [f64; 3]| [v[0], v[1], v[2], 0.0].map(|v| crate::write::ink::decimal::rounded(v, 6));
    let low = |s: &Section| four([s.up / all, s.foot, s.body.base]);
    let high = |s: &Section| four([(s.up + s.body.slant) / all, s.foot + s.body.height, s.body.rim]);
    (scene.sections.iter().map(low).collect(), scene.sections.iter().map(high).collect())
}

/// Passages of the page, and what stands in their place.
const PASSAGES: [(&str, &str); 13] = [
    (
        "// order, the lowest first, into a picture of film numbers that has a dot for each sample: nothing asks for \
         depth, for the\n// outside of a cone hides none of itself but what is turned away.",
        "// order, the lowest first, into a picture of film numbers that has a dot for each sample. The outside of a \
         cone hides none\n// of itself but what is turned away; of two cones the one nearer to the eye's height hides \
         the other.",
    ),
    ("uniform float azimuth, scale, distance;", "uniform float azimuth, scale, distance;\nuniform vec4 low[${cup.low.length}], high[${cup.low.length}];"),
    ("out float faces;", "out float up, facing;"),
    (
        "  float up = corner.y / steps.y, a = corner.x / steps.x * 6.283185307179586 - azimuth;
  float r = mix(body.x, body.y, up), y = body.z * (up - .5);",
        "  float a = corner.x / steps.x * 6.283185307179586 - azimuth;
  up = corner.y / steps.y;
  int n = 0;
  for (int i = 1; i < ${cup.low.length}; i++) if (up >= low[i].x) n = i;
  float part = (up - low[n].x) / (high[n].x - low[n].x);
  float r = mix(low[n].z, high[n].z, part), y = mix(low[n].y, high[n].y, part) - body.z * .5;",
    ),
    (
        "  // The cosine at which the wall turns away is the same at every height.
  faces = cos(a) - (body.x + (body.y - body.x) / body.z * (body.z * .5 + distance * tip.x)) / (distance * tip.y);",
        "  facing = cos(a);",
    ),
    (
        "precision highp float;
flat in float number;
in float faces;",
        "precision highp float;
uniform vec2 tip;
uniform vec3 body;
uniform float distance;
uniform vec4 low[${cup.low.length}], high[${cup.low.length}];
flat in float number;
in float up, facing;",
    ),
    (
        "  if (faces < 0.) discard;
  colour = vec4(number / 255., 0., 0., 1.);",
        "  float eye = body.z * .5 + distance * tip.x;
  int n = 0, at = 0;
  for (int i = 1; i < ${cup.low.length}; i++) { if (up >= low[i].x) n = i; if (eye >= low[i].y) at = i; }
  // The cosine at which a cone turns away is the same at every height.
  float flare = (high[n].z - low[n].z) / (high[n].y - low[n].y);
  if (facing < (low[n].z + flare * (eye - low[n].y)) / (distance * tip.y)) discard;
  gl_FragDepth = (float(abs(n - at)) + .5) / float(${cup.low.length});
  colour = vec4(number / 255., float(n + 1) / 255., 0., 1.);",
    ),
    (
        "uniform sampler2D pieces, shades, wall;",
        "uniform sampler2D pieces, shades, wall;\nuniform vec4 low[${cup.low.length}], high[${cup.low.length}];",
    ),
    ("float base = body.x, rim = body.y, high = body.z, flare = (rim - base) / high;", "float rim = body.y, top = body.z;"),
    ("@SEEN@", SEEN),
    (
        "for (const [r, y] of [[base, 0], [rim, high]]) for (let i = 0; i < 360; i++) {",
        "for (const [, y, r] of cup.low.concat(cup.top)) for (let i = 0; i < 360; i++) {",
    ),
    (
        "far = away * Math.max(high, 2 * Math.max(base, rim)),",
        "far = away * Math.max(high, 2 * Math.max(...cup.low.concat(cup.top).map(c => c[2]))),",
    ),
    ("@SCRIPT@", ""),
];

/// How a ray meets the cones, from the eye's height on.
const SEEN: &str = "  float ey = top * .5 + distance * tip.x, ez = distance * tip.y;
  float near = 1e9, y = 0.;
  int hit = -1;
  for (int i = 0; i < ${cup.low.length}; i++) {
    float flare = (high[i].z - low[i].z) / (high[i].y - low[i].y), r = low[i].z + flare * (ey - low[i].y);
    float a = d.x * d.x + d.z * d.z - flare * flare * d.y * d.y, b = ez * d.z - flare * r * d.y;
    float root = b * b - a * (ez * ez - r * r);
    if (root < 0. || a == 0.) continue;
    for (int k = 0; k < 2; k++) {
      float m = (-b + (k == 0 ? -1. : 1.) * sqrt(root)) / a, at = ey + m * d.y;
      if (m > 0. && m < near && at >= low[i].y && at <= high[i].y) { near = m; y = at; hit = i; }
    }
  }
  if (ey > top) {
    float m = (top - ey) / d.y;
    vec2 at = vec2(m * d.x, ez + m * d.z);
    float from = length(at);
    if (m > 0. && from < rim && m <= near) {
      if (from > max(rim - 1.6, rim * .5)) return vec4(bare * 1.04, 1.);
      float s = 0., foot = top;
      for (int i = 0; i < ${cup.low.length}; i++) {
        float flare = (high[i].z - low[i].z) / (high[i].y - low[i].y), r = low[i].z + flare * (ey - low[i].y);
        float a = d.x * d.x + d.z * d.z - flare * flare * d.y * d.y, b = ez * d.z - flare * r * d.y;
        float root = sqrt(max(b * b - a * (ez * ez - r * r), 0.));
        for (int k = 0; k < 2; k++) {
          float n = (-b + (k == 0 ? -1. : 1.) * root) / a;
          vec3 p = vec3(n * d.x, ey + n * d.y, ez + n * d.z);
          if (n > m && p.y >= low[i].y && p.y <= high[i].y && p.z < 0. && p.y < foot) { foot = p.y; s = p.x / length(p.xz); }
        }
      }
      float deep = sqrt(clamp(1. - foot / top, 0., 1.));
      return vec4(bare * (.74 - .46 * deep + .14 * (1. - deep) * (s * .8 + .2)), 1.);
    }
  }
  if (hit < 0) return vec4(0.);
  vec2 at = normalize(vec2(near * d.x, ez + near * d.z));
  vec4 dot = texelFetch(pieces, ivec2(vec2(px.x, size.y - px.y) * samples), 0) * 255. + .5;
  int i = int(dot.g) == hit + 1 ? int(dot.r) : 0;
  vec2 s = shade(at.x, 0.);
  int rings = textureSize(wall, 0).x;
  float up = mix(low[hit].x, high[hit].x, (y - low[hit].y) / (high[hit].y - low[hit].y));
  vec3 c = texelFetch(wall, ivec2(min(int(up * float(rings)), rings - 1), 0), 0).rgb;
";

/// The page for a wall of several cones.
pub fn page(template: &str) -> String {
    let (from, to) = ("  float ey = high * .5", "  if (i > 0) { vec4 f = film[i - 1];");
    let mut out = template.to_owned();
    for (passage, instead) in PASSAGES {
        out = match passage {
            "@SEEN@" => between(&out, from, to, instead),
            "@SCRIPT@" => script(&out),
            _ => out.replacen(passage, instead, 1),
        };
    }
    out
}

/// With what stands from one passage up to another replaced.
fn between(text: &str, from: &str, to: &str, instead: &str) -> String {
    match (text.find(from), text.find(to)) {
        (Some(a), Some(b)) if a < b => format!("{}{instead}{}", &text[..a], &text[b..]),
        _ => text.to_owned(),
    }
}

/// What the script does otherwise: a second number a dot, depth, and the cones given to both programs.
const STEPS: [(&str, &str); 4] = [
    (
        "gl.texStorage2D(gl.TEXTURE_2D, 1, gl.R8, width, height);",
        "gl.texStorage2D(gl.TEXTURE_2D, 1, gl.RGBA8, width, height);",
    ),
    (
        "  gl.framebufferTexture2D(gl.FRAMEBUFFER, gl.COLOR_ATTACHMENT0, gl.TEXTURE_2D, seen.of, 0);",
        "  gl.framebufferTexture2D(gl.FRAMEBUFFER, gl.COLOR_ATTACHMENT0, gl.TEXTURE_2D, seen.of, 0);
  if (sized.depth) gl.deleteRenderbuffer(sized.depth);
  sized.depth = gl.createRenderbuffer();
  gl.bindRenderbuffer(gl.RENDERBUFFER, sized.depth);
  gl.renderbufferStorage(gl.RENDERBUFFER, gl.DEPTH_COMPONENT16, width, height);
  gl.framebufferRenderbuffer(gl.FRAMEBUFFER, gl.DEPTH_ATTACHMENT, gl.RENDERBUFFER, sized.depth);",
    ),
    (
        "      gl.clear(gl.COLOR_BUFFER_BIT);
      gl.drawElements(gl.TRIANGLES, corners, gl.UNSIGNED_INT, 0);",
        "      gl.enable(gl.DEPTH_TEST);
      gl.depthFunc(gl.LEQUAL);
      gl.clear(gl.COLOR_BUFFER_BIT | gl.DEPTH_BUFFER_BIT);
      gl.drawElements(gl.TRIANGLES, corners, gl.UNSIGNED_INT, 0);
      gl.disable(gl.DEPTH_TEST);",
    ),
    (
        "    gl.uniform2f(part.at(\"tip\"), k.s, k.c);",
        "    gl.uniform2f(part.at(\"tip\"), k.s, k.c);
    gl.uniform4fv(part.at(\"low\"), cup.low.flat());
    gl.uniform4fv(part.at(\"high\"), cup.top.flat());",
    ),
];

fn script(text: &str) -> String {
    STEPS.iter().fold(text.to_owned(), |text, (passage, instead)| text.replacen(passage, instead, 1))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Each passage is there once: the page of one cone and this list are changed together.
    #[test]
    fn every_passage_is_on_the_page() {
        let page = include_str!("turn.html");
        for (passage, _) in PASSAGES.iter().chain(&STEPS).filter(|p| !p.0.starts_with('@')) {
            assert_eq!(page.matches(passage).count(), 1, "{passage}");
        }
        let new = super::page(page);
        assert!(new.contains("int hit = -1;") && !new.contains("in float faces;"));
    }
}
