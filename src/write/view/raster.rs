//! A drawing as pixels, for pictures on the job sheet.
//!
//! Imports: outline, read::job, write::ink, write::view::still.

use crate::outline::{BezPath, PathEl};
use crate::read::job::Rgb;
use crate::write::ink::drawing::{Drawing, Mark};
use crate::write::view::still::Picture;
use resvg::tiny_skia::{self, FillRule, LineJoin, Paint, Path, PathBuilder, Pixmap, StrokeDash, Transform};

/// On white, so many pixels a millimetre; nothing for a drawing without a size.
pub fn picture(d: &Drawing, per_mm: f64) -> Option<Picture> {
    let (width, height) = ((d.width * per_mm).ceil() as u32, (d.height * per_mm).ceil() as u32);
    let mut map = Pixmap::new(width, height)?;
    map.fill(tiny_skia::Color::WHITE);
    let s = per_mm as f32;
    let t = Transform::from_row(s, 0.0, 0.0, -s, 0.0, (d.height * per_mm) as f32);
    for g in &d.groups {
        g.marks.iter().for_each(|m| mark(&mut map, m, t));
        for w in &g.words {
            let m = Mark { path: w.outlines(), fill: Some(w.colour), stroke: None, id: None };
            mark(&mut map, &m, t);
        }
    }
    // White lies under all: nothing is translucent.
    Some(Picture { width: width as usize, height: height as usize, rgba: map.take() })
}

fn paint(Rgb([r, g, b]): Rgb) -> Paint<'static> {
    let mut p = Paint { anti_alias: true, ..Paint::default() };
    p.set_color_rgba8(r, g, b, 255);
    p
}

fn mark(map: &mut Pixmap, m: &Mark, t: Transform) {
    let Some(path) = path(&m.path) else { return };
    if let Some(c) = m.fill {
        map.fill_path(&path, &paint(c), FillRule::Winding, t, None);
    }
    if let Some(s) = m.stroke {
        let dash = s.dash.lengths().iter().map(|&l| l as f32).collect();
        let stroke = tiny_skia::Stroke {
            width: s.width as f32,
            line_join: LineJoin::Round,
            dash: StrokeDash::new(dash, 0.0),
            ..tiny_skia::Stroke::default()
        };
        map.stroke_path(&path, &paint(s.colour), &stroke, t, None);
    }
}

fn path(p: &BezPath) -> Option<Path> {
    let mut out = PathBuilder::new();
    let f = |v: f64| v as f32;
    for el in p.elements() {
        match *el {
            PathEl::MoveTo(p) => out.move_to(f(p.x), f(p.y)),
            PathEl::LineTo(p) => out.line_to(f(p.x), f(p.y)),
            PathEl::QuadTo(a, p) => out.quad_to(f(a.x), f(a.y), f(p.x), f(p.y)),
            PathEl::CurveTo(a, b, p) => out.cubic_to(f(a.x), f(a.y), f(b.x), f(b.y), f(p.x), f(p.y)),
            PathEl::ClosePath => out.close(),
        }
    }
    out.finish()
}
