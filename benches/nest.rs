//! Laying out film: lengths, sheets, cut order and times. Counts first; `tests/outside/nest_peer.py` runs the published
//! search on the same instance in the same run.
//!
//! Run: `cargo bench --bench nest`; one of `table`, `anytime [SECONDS]`, `random [JOBS]`, `order` after `--`.

#[path = "../tests/suite/nest.rs"]
#[allow(dead_code, unused_imports, reason = "only its fixtures are used here")]
mod suite;

use frusta::base::diag::Faults;
use frusta::base::units::Mm;
use frusta::make::film::{Effort, lay_out, order};
use frusta::make::piece::Piece;
use frusta::read::job::{FilmSpec, Grain, Stock};
use std::ops::ControlFlow;
use std::time::Instant;

fn main() {
    let words: Vec<String> = std::env::args().skip(1).filter(|a| !a.starts_with("--")).collect();
    let number: Option<u64> = words.get(1).and_then(|n| n.parse().ok());
    match words.first().map(String::as_str) {
        Some("anytime") => anytime(number.unwrap_or(30)),
        Some("random") => random(number.map_or(1000, |n| n as usize)),
        Some("order") => cut_order(),
        _ => table(),
    }
}

fn roll(grain: Grain) -> FilmSpec {
    suite::film(Stock::Roll { width: Mm(300.0), longest: Mm(5000.0) }, 2.0, 2.0, grain)
}

fn many() -> Vec<Piece> {
    let again =
        |i: u32| suite::strip_mix().into_iter().map(move |p| Piece { number: p.number + i * 195, ..p });
    (0..6).flat_map(again).collect()
}

fn table() {
    let pieces = suite::strip_mix();
    timed("strip-mix fixed, quick", &pieces, &roll(Grain::Fixed), Effort::Quick);
    timed("strip-mix free, quick", &pieces, &roll(Grain::Free), Effort::Quick);
    timed("strip-mix free, normal", &pieces, &roll(Grain::Free), Effort::Normal);
    let many = many();
    let sheet = |grain| suite::film(Stock::Sheet { width: Mm(300.0), height: Mm(300.0) }, 2.0, 2.0, grain);
    timed("1170 pieces, sheets, fixed", &many, &sheet(Grain::Fixed), Effort::Quick);
    timed("1170 pieces, sheets, free", &many, &sheet(Grain::Free), Effort::Quick);
}

fn timed(name: &str, pieces: &[Piece], film: &FilmSpec, effort: Effort) {
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

/// Length of the reference strip against time, as the search tells it.
fn anytime(seconds: u64) {
    let (pieces, film) = (suite::strip_mix(), roll(Grain::Free));
    let start = Instant::now();
    let (mut next, mut last) = (0.0, 0.0);
    let mut found = Faults::new();
    let sheets = lay_out(&pieces, &[film], Effort::Thorough, &mut found, &mut |p| {
        let now = start.elapsed().as_secs_f64();
        last = p.used.0;
        if now >= next {
            println!("{now:7.2} s  {last:8.2} mm  step {} of {}", p.step, p.steps);
            next = if now < 2.0 { now + 0.25 } else { (now * 1.2).floor() + 1.0 };
        }
        if now > seconds as f64 { ControlFlow::Break(()) } else { ControlFlow::Continue(()) }
    });
    let sheets = sheets.expect("the instance can be laid");
    println!("{:7.2} s  {:8.2} mm", start.elapsed().as_secs_f64(), sheets[0].height.0);
}

/// Random jobs, each checked by the second method; panics at the first that breaks a promise.
fn random(jobs: usize) {
    let start = Instant::now();
    let pieces: usize = (0..jobs as u64).map(suite::check_random_job).sum();
    println!("{jobs} random jobs, {pieces} pieces: all sound; {:.1} s", start.elapsed().as_secs_f64());
}

/// Cut order alone: travel against nearest neighbour's start, the bound, and the time.
fn cut_order() {
    for (name, pieces) in [("strip-mix", suite::strip_mix()), ("650 outlines", many()[..620].to_vec())] {
        let sheets = suite::laid(&pieces, &roll(Grain::Free), Effort::Quick);
        let mut best = f64::INFINITY;
        let mut placed = Vec::new();
        for _ in 0..3 {
            placed = sheets[0].placed.clone();
            let start = Instant::now();
            order::sort(&mut placed);
            best = best.min(start.elapsed().as_secs_f64());
        }
        let (travel, starts) = (order::travel(&placed).0, order::starts(&placed));
        let bound = suite::held_karp(&starts, travel);
        println!(
            "{name:14} {:4} outlines  {travel:8.1} mm, {:.3} of the bound  {:8.1} ms",
            starts.len(),
            travel / bound,
            best * 1e3
        );
    }
}
