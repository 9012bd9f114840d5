//! Letters a text in fonts and grows it, and prints what came of it as one JSON line a font: metrics,
//! advances, boxes, and the outlines as fine polylines. The outside check `tests/outside/decal_fonts.py`
//! holds the numbers against fontTools, HarfBuzz and GEOS.
//!
//! ```sh
//! cargo run --release --example lettering -- "Best in show" font.ttf other.otf "Kaushan Script"
//! ```

use frusta::base::diag::{Diagnostics, KeyPath};
use frusta::base::units::Mm;
use frusta::outline::{Join, Region};
use frusta::read::letter::{Align, Font, LetterSize, Words, letter};
use serde_json::json;

/// Chords this near to the curves: what is left over is the curves' own error.
const FINE: Mm = Mm(2e-4);
/// Grown by these, mm.
const OFFSETS: [f64; 5] = [0.6, 1.5, 3.0, -0.3, -0.8];

fn main() {
    let mut args = std::env::args().skip(1);
    let text = args.next().expect("a text, then fonts");
    for name in args {
        println!("{}", line(&text, &name));
    }
}

fn line(text: &str, name: &str) -> serde_json::Value {
    let (at, mut diagnostics) = (KeyPath::root(), Diagnostics::new());
    let font = match std::fs::read(name) {
        Ok(bytes) => Font::read(name, bytes, &at, &mut diagnostics),
        Err(_) => Font::embedded(name, &at, &mut diagnostics),
    };
    let words = Words {
        lines: vec![text.to_owned()],
        align: Align::Left,
        size: LetterSize::CapHeight(Mm(10.0)),
        letter_spacing: 0.0,
        line_spacing: 1.0,
    };
    let lettered = font.and_then(|f| letter(&words, &f, &at, &mut diagnostics).map(|l| (f, l)));
    let Ok((font, lettering)) = lettered else {
        let message: Vec<String> =
            diagnostics.iter().map(|d| format!("{}: {}", d.code.id, d.message)).collect();
        return json!({ "font": name, "faults": message });
    };
    let (metrics, line) = (font.metrics(), &lettering.lines[0]);
    let units = metrics.units_per_em / lettering.em.0;
    let start = line.glyphs.first().map_or(0.0, |g| g.origin.x);
    let glyphs: Vec<_> = line
        .glyphs
        .iter()
        .map(|g| {
            let b = g.region.bounds();
            json!({
                "cluster": g.cluster,
                "x": (g.origin.x - start) * units,
                "advance": g.advance.0 * units,
                "box": (!g.region.is_empty()).then_some([
                    (b.min.x - g.origin.x) * units, (b.min.y - g.origin.y) * units,
                    (b.max.x - g.origin.x) * units, (b.max.y - g.origin.y) * units,
                ]),
            })
        })
        .collect();
    let outline = lettering.outline();
    let grown: Vec<_> = OFFSETS
        .iter()
        .map(|&by| json!({ "by": by, "rings": rings(&outline.offset(Mm(by), Join::Round)) }))
        .collect();
    json!({
        "font": name,
        "units_per_em": metrics.units_per_em,
        "cap_height": metrics.cap_height * metrics.units_per_em,
        "line": metrics.line * metrics.units_per_em,
        "glyphs": glyphs,
        "rings": rings(&outline),
        "grown": grown,
    })
}

fn rings(region: &Region<frusta::base::frame::Art>) -> Vec<Vec<[f64; 2]>> {
    region.flat(FINE).rings
}
