//! Laying out film: lengths, sheets, cut order and times. Counts first; `tests/outside/nest_peer.py` runs the
//! published search on the same instances in the same run.
//!
//! Run: `cargo bench --bench nest`; one of `table`, `order`, `anytime [SECONDS]`, `classic [SECONDS] [NAME
//! TURNS]`, `random [JOBS]` after `--`. Times are processor time of all threads, the least of several runs:
//! on a busy machine wall time says more about the others. Only `anytime` and `classic` are ended by the
//! clock on the wall.

#[path = "../tests/suite/nest.rs"]
#[allow(dead_code, unused_imports, reason = "only its fixtures are used here")]
mod suite;

use frusta::base::diag::Diagnostics;
use frusta::base::units::Mm;
use frusta::make::film::{Effort, SheetLayout, lay_out, order};
use frusta::make::piece::Piece;
use frusta::outline::Region;
use frusta::read::job::{FilmSpec, Grain, Stock};
use std::ops::ControlFlow;
use std::time::Instant;

fn main() {
    let words: Vec<String> = std::env::args().skip(1).filter(|a| !a.starts_with("--")).collect();
    let word = |k: usize| words.get(k).map(String::as_str);
    let number: Option<u64> = word(1).and_then(|n| n.parse().ok());
    match word(0) {
        Some("anytime") => anytime(number.unwrap_or(30)),
        Some("classic") => classic(number.unwrap_or(60), word(2), word(3)),
        Some("random") => random(number.map_or(1000, |n| n as usize)),
        Some("order") => cut_order(),
        Some("table") => table(),
        _ => {
            table();
            cut_order();
        }
    }
}

/// Processor time of all threads so far, seconds; wall time where the system does not say.
fn processor() -> f64 {
    let of = |task: std::fs::DirEntry| -> Option<f64> {
        let text = std::fs::read_to_string(task.path().join("schedstat")).ok()?;
        text.split(' ').next()?.parse::<f64>().ok()
    };
    let tasks = std::fs::read_dir("/proc/self/task").ok();
    let sum: f64 = tasks.into_iter().flatten().flatten().filter_map(of).sum();
    if sum > 0.0 { sum / 1e9 } else { WALL.with(|w| w.elapsed().as_secs_f64()) }
}

thread_local! {
    static WALL: Instant = Instant::now();
}

/// The last result of several runs and the least processor time of one, milliseconds.
fn least<T>(runs: usize, mut run: impl FnMut() -> T) -> (T, f64) {
    let mut best = f64::INFINITY;
    let mut last = None;
    for _ in 0..runs {
        let start = processor();
        last = Some(run());
        best = best.min(processor() - start);
    }
    (last.expect("at least one run"), best * 1e3)
}

fn roll(grain: Grain) -> FilmSpec {
    suite::film(Stock::Roll { width: Mm(300.0), longest: Mm(5000.0) }, 2.0, 2.0, grain)
}

fn many() -> Vec<Piece> {
    let again =
        |i: u32| suite::strip_mix().into_iter().map(move |p| Piece { number: p.number + i * 195, ..p });
    (0..6).flat_map(again).collect()
}

/// First layouts (checked exactly), then the whole of `lay_out` with cut order and aids, and the usual
/// search.
fn table() {
    println!(
        "layout                              pieces sheets  last sheet  first layout     all of it  \
            processor time"
    );
    let pieces = suite::strip_mix();
    timed("strip-mix, as drawn, quick", &pieces, &roll(Grain::Fixed), Effort::Quick, 5);
    timed("strip-mix, four angles, quick", &pieces, &roll(Grain::Free), Effort::Quick, 5);
    timed("strip-mix, eight angles, normal", &pieces, &roll(Grain::Free), Effort::Normal, 2);
    let many = many();
    let sheet = |grain| suite::film(Stock::Sheet { width: Mm(300.0), height: Mm(300.0) }, 2.0, 2.0, grain);
    timed("1170 pieces, as drawn, quick", &many, &sheet(Grain::Fixed), Effort::Quick, 3);
    timed("1170 pieces, four angles, quick", &many, &sheet(Grain::Free), Effort::Quick, 3);
}

fn timed(name: &str, pieces: &[Piece], film: &FilmSpec, effort: Effort, runs: usize) {
    let mut first = f64::INFINITY;
    let (sheets, ms) = least(runs, || {
        let (start, mut diagnostics, mut asked) = (processor(), Diagnostics::new(), false);
        let sheets = lay_out(pieces, std::slice::from_ref(film), effort, &mut diagnostics, &mut |_| {
            // The search first asks when the first layout is there.
            if !std::mem::replace(&mut asked, true) {
                first = first.min((processor() - start) * 1e3);
            }
            ControlFlow::Continue(())
        });
        sheets.expect("the instance can be laid")
    });
    suite::assert_sound(pieces, film, &sheets);
    let last = sheets.last().map_or(0.0, |s| s.height.0);
    println!("{name:34}{:8} {:6} {last:8.2} mm {first:10.1} ms  {ms:9.1} ms", pieces.len(), sheets.len());
}

/// Lays out until the clock stops it, telling length against time; the sheets.
fn watched(pieces: &[Piece], film: &FilmSpec, seconds: u64, tell: bool) -> Vec<SheetLayout> {
    let start = Instant::now();
    let mut next = 0.0;
    let mut diagnostics = Diagnostics::new();
    let sheets = lay_out(pieces, std::slice::from_ref(film), Effort::Thorough, &mut diagnostics, &mut |p| {
        let now = start.elapsed().as_secs_f64();
        if tell && now >= next {
            println!(
                "{now:7.2} s, {:6.2} of processor  {:8.2} mm  step {} of {}",
                processor(),
                p.used.0,
                p.step,
                p.steps
            );
            next = if now < 2.0 { now + 0.25 } else { (now * 1.2).floor() + 1.0 };
        }
        if now > seconds as f64 { ControlFlow::Break(()) } else { ControlFlow::Continue(()) }
    });
    let sheets = sheets.expect("the instance can be laid");
    suite::assert_sound(pieces, film, &sheets);
    sheets
}

/// Length of the reference strip against time, as the search tells it.
fn anytime(seconds: u64) {
    let sheets = watched(&suite::strip_mix(), &roll(Grain::Free), seconds, true);
    println!("end  {:8.2} mm, {:.2} s of processor", sheets[0].height.0, processor());
}

/// Width of a classic strip here, mm: what is added to outlines is then a few parts in ten thousand of a
/// piece.
const CLASSIC: f64 = 500.0;

/// Density on classic strips (fixtures/nest/classic.json says where they are from) after so many seconds
/// each.
fn classic(seconds: u64, name: Option<&str>, turns: Option<&str>) {
    let all: serde_json::Value =
        serde_json::from_str(include_str!("../fixtures/nest/classic.json")).expect("JSON");
    for strip in all["strips"].as_array().expect("strips") {
        let title = strip["name"].as_str().expect("a name");
        if name.is_some_and(|n| n != title && n != "all") {
            continue;
        }
        let grain = match turns.or_else(|| (strip["turns"] != 2).then_some("free")) {
            Some("free") => Grain::Free,
            _ => Grain::Half,
        };
        let scale = CLASSIC / strip["width"].as_f64().expect("a width");
        let mut pieces: Vec<Piece> = Vec::new();
        for shape in strip["shapes"].as_array().expect("shapes") {
            let ring: Vec<[f64; 2]> = serde_json::from_value(shape["ring"].clone()).expect("a ring");
            let ring: Vec<[f64; 2]> = ring.iter().map(|p| [scale * p[0], scale * p[1]]).collect();
            for _ in 0..shape["count"].as_u64().expect("a count") {
                pieces.push(suite::piece(pieces.len() as u32 + 1, Region::polygon(&ring)));
            }
        }
        let area: f64 = pieces.iter().map(|p| p.outline.area().0).sum();
        let film = suite::film(Stock::Roll { width: Mm(CLASSIC), longest: Mm(5000.0) }, 0.0, 0.0, grain);
        let from = processor();
        let sheets = watched(&pieces, &film, seconds, false);
        println!(
            "{title:8} {grain:?}: density {:6.2} percent, {:.1} s of processor",
            100.0 * area / (CLASSIC * sheets[0].height.0),
            processor() - from
        );
    }
}

/// Random jobs, each checked by the second method; panics at the first that breaks a promise.
fn random(jobs: usize) {
    let start = processor();
    let all: Vec<[usize; 2]> = (0..jobs as u64).map(suite::check_random_job).collect();
    let sum = |k: usize| all.iter().map(|n| n[k]).sum::<usize>();
    println!(
        "{jobs} random jobs, {} pieces, {} laid on leftovers: all sound; {:.1} s of processor",
        sum(0),
        sum(1),
        processor() - start
    );
}

/// Cut order alone: travel against nearest neighbour over the outlines as drawn, the bound, and the time.
fn cut_order() {
    println!(
        "cut order       outlines     travel  of nearest neighbour  of the bound  before what holds it  \
            processor"
    );
    let (few, many) = (suite::strip_mix(), many()[..620].to_vec());
    for (name, pieces, grain) in [
        ("strip-mix", &few, Grain::Free),
        ("as drawn", &few, Grain::Fixed),
        ("620 pieces", &many, Grain::Free),
        ("as drawn", &many, Grain::Fixed),
    ] {
        let sheets = suite::laid(pieces, &roll(grain), Effort::Quick);
        let (placed, ms) = least(5, || {
            let mut placed = sheets[0].placed.clone();
            order::sort(&mut placed);
            placed
        });
        let (travel, starts) = (order::travel(&placed).0, order::starts(&placed));
        let plain = suite::travel_by_nearest_neighbour(pieces, &sheets[0]);
        let bound = suite::held_karp(&starts, travel);
        let held = suite::assert_inner_first(&placed);
        println!(
            "{name:14} {:9}  {travel:8.1} mm  {:19.3}  {:12.3}  {held:20}  {ms:6.1} ms",
            starts.len(),
            travel / plain,
            travel / bound,
        );
    }
}
