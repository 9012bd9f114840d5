//! Reads SVG files (one path a line on standard input) and prints one JSON line for each: the part of the
//! page that its outline covers, how many outlines and nodes it has, what is not cut, or the fault with its
//! words, and the seconds that its thread computed. The outside check `tests/outside/art_areas.py` holds
//! these areas against another renderer.
//!
//! ```sh
//! ls art/*.svg | cargo run --release --example art_areas
//! ```

#[path = "../benches/clock.rs"]
mod clock;

use frusta::base::diag::{Diagnostics, KeyPath, Severity};
use frusta::read::art::read_art;
use std::io::BufRead;

fn main() {
    for path in std::io::stdin().lock().lines().map_while(Result::ok) {
        println!("{}", line(&path));
    }
}

fn line(path: &str) -> serde_json::Value {
    let bytes = match std::fs::read(path) {
        Ok(b) => b,
        Err(e) => return serde_json::json!({ "path": path, "fault": e.to_string() }),
    };
    let mut diagnostics = Diagnostics::new();
    let start = clock::seconds(clock::Of::Thread);
    let art = read_art(path, &bytes, &KeyPath::root(), &mut diagnostics);
    let seconds = clock::seconds(clock::Of::Thread) - start;
    match art {
        Ok(art) => {
            let page = art.page.map(|(w, h)| (w * h).get());
            serde_json::json!({
                "path": path,
                "part": page.map(|p| art.outline().area().get() / p),
                "outlines": art.outline().contours().len(),
                "nodes": art.outline().nodes(),
                "not_cut": art.not_cut.iter().map(|l| &l.what).collect::<Vec<_>>(),
                "seconds": seconds,
            })
        }
        Err(_) => {
            let faults = || diagnostics.iter().filter(|d| d.severity == Severity::Fault);
            let codes: Vec<_> = faults().map(|d| d.code.id).collect();
            let message: Vec<_> = faults()
                .map(|d| format!("{}: {}", d.message, d.measured.as_deref().unwrap_or_default()))
                .collect();
            serde_json::json!({
                "path": path,
                "fault": codes.join(" "),
                "says": message.join("; "),
                "seconds": seconds,
            })
        }
    }
}
