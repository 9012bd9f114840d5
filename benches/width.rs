//! Narrow places and gaps: how long they take over words of lettering and over hundreds of outlines.
//!
//! `cargo bench --bench width`
#[path = "../tests/suite/kernel_corpus.rs"]
mod corpus;

use frusta::base::frame::Art;
use frusta::base::shape::{Join, Region, Widths};
use frusta::base::units::Mm;
use std::time::Instant;

fn best<T>(rounds: usize, mut f: impl FnMut() -> T) -> (f64, T) {
    let mut out = None;
    let mut least = f64::INFINITY;
    for _ in 0..rounds {
        let t = Instant::now();
        let got = f();
        least = least.min(t.elapsed().as_secs_f64());
        out = Some(got);
    }
    (least * 1e3, out.expect("a round"))
}

fn main() {
    let words = corpus::words();
    println!("a word of 12 letters in 3 layers: outlines, edges, places found, ms");
    for word in words.iter().filter(|w| w.name.contains("Harvest")) {
        let layers: Vec<Region<Art>> =
            [0.0, 1.5, 3.0].iter().map(|d| word.region.offset(Mm(*d), Join::Round)).collect();
        let (ms, found) = best(9, || {
            layers
                .iter()
                .map(|l| {
                    let w = Widths::new(l);
                    w.narrow(Mm(0.8)).len() + w.gaps(Mm(0.8)).len()
                })
                .sum::<usize>()
        });
        println!(
            "{:32} outlines {:3} nodes {:4} found {found:3} in {ms:.2} ms",
            word.name,
            layers.iter().map(|l| l.contours().len()).sum::<usize>(),
            layers.iter().map(Region::nodes).sum::<usize>()
        );
    }
    let all: Vec<Region<Art>> = corpus::corpus().into_iter().map(|a| a.region).collect();
    let outlines: usize = all.iter().map(|r| r.contours().len()).sum();
    let (ms, found) = best(5, || {
        all.iter()
            .map(|r| {
                let w = Widths::new(r);
                w.narrow(Mm(0.8)).len() + w.gaps(Mm(0.8)).len()
            })
            .sum::<usize>()
    });
    println!("whole corpus: {outlines} outlines, found {found} in {ms:.1} ms");
}
