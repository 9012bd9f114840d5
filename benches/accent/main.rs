//! Accent fills measured: evenness and time on the scene of the notes.
//!
//! `cargo bench --bench accent` prints the tables; `cargo bench --bench accent -- draw FOLDER` writes pictures.

#[path = "../../tests/suite/accent_scene.rs"]
mod accent_scene;
mod check;
mod draw;
mod plain;

use accent_scene::{HARVEST, wishes};
use frusta::base::diag::{Faults, KeyPath};
use frusta::base::frame::{Plane, Point, Rigid};
use frusta::base::units::{Angle, Mm, Seed};
use frusta::make::accent::{Fill, Follow, fill, measure};
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
    if args.iter().any(|a| a == "curve") {
        return curve();
    }
    if args.iter().any(|a| a == "drag") {
        return drag();
    }
    println!("scene: {} motifs, {area:.0} mm2", room.obstacles.len());
    for (name, equal) in [("darts", false), ("discs", true)] {
        let spec = wishes(&["pebble"], Adapt::AsDrawn);
        let t = cpu();
        let fill = plain::darts(&room, &spec, equal);
        print_row(name, &room, &spec, &fill, cpu() - t);
    }
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

/// Time a spot from 100 to 10,000 spots: the same wall, larger and larger.
fn curve() {
    for grown in [0.9, 1.6, 2.8, 5.0, 8.6] {
        let f = 8.0 * grown * grown;
        let scene = accent_scene::Scene {
            rim: 86.0 * grown,
            base: 66.0 * grown,
            tall: 165.0 * grown,
            motifs: (f as usize).min(400),
            ..HARVEST
        };
        let room = scene.room();
        for (name, adapt) in
            [("as drawn", Adapt::AsDrawn), ("flex", Adapt::Flex(0.15)), ("mosaic", Adapt::Mosaic)]
        {
            let spec = wishes(&["pebble", "blob"], adapt);
            let (fill, ms) = timed(&room, &spec, 1);
            let n = fill.spots.len();
            println!(
                "{name:10} {n:6} spots {ms:8.0} ms {:6.2} ms a spot  undecided {}",
                ms / n as f64,
                fill.saturation.undecided
            );
        }
    }
}

/// One motif dragged in steps of 1 mm, on the scene and on one with about 1,000 spots.
fn drag() {
    for (grown, motifs, adapt) in
        [(1.0, 30, Adapt::Flex(0.15)), (1.0, 30, Adapt::AsDrawn), (2.7, 60, Adapt::Flex(0.15))]
    {
        let scene = accent_scene::Scene {
            rim: 86.0 * grown,
            base: 66.0 * grown,
            tall: 165.0 * grown,
            motifs,
            ..HARVEST
        };
        let room = scene.room();
        let spec = wishes(&["pebble", "blob"], adapt);
        let mut found = Faults::new();
        let which = 12;
        let start = room.obstacles[which].region.clone();
        let Some(mut follow) =
            Follow::new(&room, &spec, &[], Seed(1), 0, which, &KeyPath::of("accent"), &mut found)
        else {
            return;
        };
        let mut times = Vec::new();
        let mut least = f64::INFINITY;
        for step in 1..=60 {
            let by: Rigid<Plane, Plane> =
                Rigid::new(Angle::ZERO, Point::mm(0.9 * f64::from(step), 0.43 * f64::from(step)));
            let t = cpu();
            follow.to(start.moved(&by));
            times.push(cpu() - t);
            if step % 20 == 0 {
                // Only spots are judged: the motif is dragged over other motifs.
                least = least.min(check::worst(follow.room(), &spec, &follow.fill()).0);
            }
        }
        times.sort_by(f64::total_cmp);
        let released = fill(follow.room(), &spec, &[], Seed(1), 0, &KeyPath::of("accent"), &mut found);
        let fresh = fill(follow.room(), &spec, &[], Seed(1), 0, &KeyPath::of("accent"), &mut found);
        println!(
            "drag, {adapt:?}: {} spots, median {:.1} ms, p95 {:.1} ms, least spare {:.4} mm, release equals fresh: {}",
            released.spots.len(),
            times[30],
            times[56],
            Mm(least).get(),
            released == fresh
        );
    }
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
