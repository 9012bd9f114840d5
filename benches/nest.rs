//! Laying out film: lengths, sheets and times. Counts first; `tests/outside/nest_peer.py` runs the published search
//! on the same instances in the same run.
//!
//! Run: `cargo bench --bench nest [-- NAME]`.

#[path = "../tests/suite/nest.rs"]
#[allow(dead_code, unused_imports, reason = "only its fixtures are used here")]
mod suite;

use frusta::base::units::Mm;
use frusta::make::film::Effort;
use frusta::read::job::{Grain, Stock};
use std::time::Instant;

fn main() {
    let pieces = suite::strip_mix();
    let roll = |grain| suite::film(Stock::Roll { width: Mm(300.0), longest: Mm(5000.0) }, 2.0, 2.0, grain);
    for (name, grain, effort) in [
        ("strip-mix fixed", Grain::Fixed, Effort::Normal),
        ("strip-mix free, quick", Grain::Free, Effort::Quick),
        ("strip-mix free, normal", Grain::Free, Effort::Normal),
        ("strip-mix free, thorough", Grain::Free, Effort::Thorough),
    ] {
        timed(name, &pieces, &roll(grain), effort);
    }
    let mut many = Vec::new();
    for i in 0..6 {
        many.extend(pieces.iter().cloned().map(|mut p| {
            p.number += i * 195;
            p
        }));
    }
    let sheet = |grain| suite::film(Stock::Sheet { width: Mm(300.0), height: Mm(300.0) }, 2.0, 2.0, grain);
    timed("1170 pieces, sheets, fixed", &many, &sheet(Grain::Fixed), Effort::Normal);
    timed("1170 pieces, sheets, free", &many, &sheet(Grain::Free), Effort::Normal);
    timed("350 pieces, sheets, free", &many[..350], &sheet(Grain::Free), Effort::Normal);
}

fn timed(
    name: &str,
    pieces: &[frusta::make::piece::Piece],
    film: &frusta::read::job::FilmSpec,
    effort: Effort,
) {
    let mut best = f64::INFINITY;
    let mut sheets = Vec::new();
    for _ in 0..3 {
        let start = Instant::now();
        sheets = suite::laid(pieces, film, effort);
        best = best.min(start.elapsed().as_secs_f64());
    }
    let last = sheets.last().map_or(0.0, |s| s.height.0);
    println!(
        "{name:32} {:4} pieces {:2} sheets, last {last:8.2} mm  {:8.1} ms",
        pieces.len(),
        sheets.len(),
        best * 1e3
    );
}
