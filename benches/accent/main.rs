//! Accent fills measured: evenness and time on the scene of the notes.
//!
//! `cargo bench --bench accent` prints the tables; `cargo bench --bench accent -- draw FOLDER` writes pictures.

#[path = "../../tests/suite/accent_scene.rs"]
mod accent_scene;
mod check;
mod draw;

use accent_scene::{HARVEST, wishes};
use frusta::base::diag::{Faults, KeyPath};
use frusta::base::units::Seed;
use frusta::make::accent::{Fill, fill, measure};
use frusta::make::room::Room;
use frusta::read::job::{AccentSpec, Adapt};
use std::time::Instant;

fn main() {
    let args: Vec<String> = std::env::args().skip(1).filter(|a| a != "--bench").collect();
    if let Some(i) = args.iter().position(|a| a == "scenes") {
        let count = args.get(i + 1).and_then(|n| n.parse().ok());
        return check::scenes(count.unwrap_or(1000));
    }
    let room = HARVEST.room();
    let area: f64 = room.obstacles.iter().map(|o| o.region.area().0).sum();
    println!("scene: {} motifs, {area:.0} mm2", room.obstacles.len());
    let fills = [
        ("as drawn", Adapt::AsDrawn),
        ("polished", Adapt::AsDrawn),
        ("flex", Adapt::Flex(0.15)),
        ("mosaic", Adapt::Mosaic),
    ];
    for (name, adapt) in fills {
        let spec = AccentSpec { polish: name == "polished", ..wishes(&["pebble", "blob"], adapt) };
        let (fill, ms) = timed(&room, &spec, 1);
        print_row(name, &room, &spec, &fill, ms);
        if let Some(folder) = args.iter().position(|a| a == "draw").and_then(|i| args.get(i + 1)) {
            draw::write(folder, name, &room, &fill);
        }
    }
    if let Some(folder) = args.iter().position(|a| a == "draw").and_then(|i| args.get(i + 1)) {
        draw::contact_sheets(folder);
    }
}

fn timed(room: &Room, spec: &AccentSpec, runs: usize) -> (Fill, f64) {
    let mut best = f64::INFINITY;
    let mut out = None;
    for _ in 0..runs {
        let t = cpu();
        let mut found = Faults::new();
        let f = fill(room, spec, &[], Seed(1), 0, &KeyPath::of("accent"), &mut found);
        best = best.min(cpu() - t);
        found.iter().for_each(|d| println!("{}: {}", d.severity, d.says));
        out = Some(f);
    }
    (out.expect("at least one run"), best)
}

/// Milliseconds that this thread has had of a core: other programs do not count. Where the system does not say, the clock.
fn cpu() -> f64 {
    static START: std::sync::LazyLock<Instant> = std::sync::LazyLock::new(Instant::now);
    let told = std::fs::read_to_string("/proc/thread-self/schedstat").ok();
    let told = told.and_then(|s| s.split(' ').next().and_then(|n| n.parse::<f64>().ok()));
    told.map_or_else(|| START.elapsed().as_secs_f64() * 1e3, |ns| ns / 1e6)
}

fn print_row(name: &str, room: &Room, spec: &AccentSpec, fill: &Fill, ms: f64) {
    let m = measure(room, spec, fill);
    println!(
        "{name:20} n {:4}  E {:6.0}  coverage {:.3}  band {:.3}  gap {:.2} sd {:.2} p95 {:.2}  void {:.2}  {ms:.0} ms  {:?}",
        m.spots,
        m.free.0,
        m.coverage,
        m.band,
        m.gap_mean.0,
        m.gap_sd.0,
        m.gap_p95.0,
        m.void.0,
        fill.saturation
    );
}
