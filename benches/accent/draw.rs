//! Pictures of fills, for looking at.

use frusta::base::frame::{Frame, Plane, Point};
use frusta::base::units::{Angle, Mm, Seed};
use frusta::make::accent::{Fill, sample};
use frusta::make::cup::WallPoint;
use frusta::make::free_area::FreeArea;
use frusta::outline::Region;
use frusta::read::job::Family;
use std::fmt::Write;

/// One fill on the developed wall, a strip beyond the seam repeated paler on both sides.
pub fn write(folder: &str, name: &str, room: &FreeArea, fill: &Fill) {
    let d = &room.development;
    let mut body = String::new();
    let mut wall = String::new();
    let edge = |slant: f64, wall: &mut String, back: bool| {
        for i in 0..=200 {
            let i = if back { 200 - i } else { i };
            let a = (f64::from(i) / 100.0 - 1.0) * std::f64::consts::PI * 1.08;
            let p = d.develop(WallPoint { azimuth: Angle::radians(a), slant: Mm(slant) });
            let _ = write!(wall, "{}{:.2} {:.2}", if wall.is_empty() { "M" } else { "L" }, p.x, p.y);
        }
    };
    edge(room.zone.low.0, &mut wall, false);
    edge(room.zone.high.0, &mut wall, true);
    let _ = write!(
        body,
        r##"<clipPath id="w"><path d="{wall}Z"/></clipPath><path d="{wall}Z" fill="#fbf7ef"/>"##
    );
    for n in -1..=1 {
        let fade = if n == 0 { 1.0 } else { 0.45 };
        let _ = write!(body, r##"<g clip-path="url(#w)" opacity="{fade}">"##);
        for o in &room.obstacles {
            shape(&mut body, &o.region.moved(&d.turned(n)), "#c9b79a");
        }
        for s in &fill.spots {
            let pose = s.pose.then(&d.turned(n));
            shape(&mut body, &s.outline.moved::<Plane>(&pose), ["#2f6f73", "#d0743c"][s.film.0 % 2]);
            for (f, r) in &s.tint {
                shape(&mut body, &r.moved::<Plane>(&pose), ["#2f6f73", "#d0743c"][f.0 % 2]);
            }
        }
        body.push_str("</g>");
    }
    let reach = |a: f64, s: f64| d.develop(WallPoint { azimuth: Angle::radians(a), slant: Mm(s) });
    let (mut lo, mut hi) = ([f64::INFINITY; 2], [f64::NEG_INFINITY; 2]);
    for i in -100..=100 {
        for s in [0.0, d.frustum().slant.0] {
            let p: Point<Plane> = reach(f64::from(i) / 100.0 * std::f64::consts::PI * 1.08, s);
            lo = [lo[0].min(p.x), lo[1].min(p.y)];
            hi = [hi[0].max(p.x), hi[1].max(p.y)];
        }
    }
    save(folder, name, lo, hi, &body);
}

/// A sheet of shapes of each family, at its smallest size and at twice that.
pub fn contact_sheets(folder: &str) {
    let mut body = String::new();
    for (row, family) in Family::all().enumerate() {
        let y = -24.0 * row as f64;
        for k in 0..8u64 {
            let (region, tint, smallest) = sample(family, Seed(1), k);
            for (scale, x, y) in [(18.0, 24.0 * k as f64, y), (smallest.0, 204.0 + 12.0 * k as f64, y)] {
                let at = frusta::base::frame::Rigid::new(Angle::ZERO, Point::mm(x, y));
                shape(&mut body, &region.scaled(scale).moved::<Plane>(&at), "#2f6f73");
                shape(&mut body, &tint.scaled(scale).moved::<Plane>(&at), "#d0743c");
            }
        }
    }
    save(folder, "families", [-14.0, -24.0 * 9.0 + 8.0], [304.0, 14.0], &body);
}

fn shape<F: Frame>(body: &mut String, region: &Region<F>, colour: &str) {
    let d: String = region.contours().iter().map(|c| c.to_svg()).collect();
    let _ = write!(body, r#"<path fill-rule="evenodd" fill="{colour}" d="{d}"/>"#);
}

fn save(folder: &str, name: &str, lo: [f64; 2], hi: [f64; 2], body: &str) {
    let (w, h) = (hi[0] - lo[0], hi[1] - lo[1]);
    let text = format!(
        r#"<svg xmlns="http://www.w3.org/2000/svg" width="{w:.1}mm" height="{h:.1}mm" viewBox="{:.2} {:.2} {w:.2} {h:.2}"><rect x="{:.2}" y="{:.2}" width="100%" height="100%" fill="white"/><g transform="scale(1 -1)">{body}</g></svg>"#,
        lo[0], -hi[1], lo[0], -hi[1]
    );
    std::fs::create_dir_all(folder).expect("folder");
    let file = format!("{folder}/{}.svg", name.replace([' ', '%'], "-"));
    std::fs::write(file, text).expect("picture");
}
