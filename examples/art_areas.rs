//! Reads SVG files (one path a line on standard input) and prints one JSON line for each: the part of the page that
//! its outline covers, how many outlines and nodes it has, what is not cut, or the fault. The outside check
//! `tests/outside/art_areas.py` holds these areas against another renderer.
//!
//! ```sh
//! ls art/*.svg | cargo run --release --example art_areas
//! ```

use frusta::base::diag::{Faults, KeyPath, Severity};
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
    let mut found = Faults::new();
    let start = std::time::Instant::now();
    let art = read_art(path, &bytes, &KeyPath::root(), &mut found);
    let seconds = start.elapsed().as_secs_f64();
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
            let faults: Vec<_> =
                found.iter().filter(|d| d.severity == Severity::Fault).map(|d| d.code.id).collect();
            serde_json::json!({ "path": path, "fault": faults.join(" "), "seconds": seconds })
        }
    }
}
