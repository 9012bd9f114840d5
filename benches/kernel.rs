//! Offsets, booleans, distances of the outline kernel over its corpus, beside GEOS and Clipper2.
//!
//! `cargo bench --bench kernel -- offset [NAME-PART]`
#[path = "../tests/suite/kernel_corpus.rs"]
mod corpus;

use corpus::{DISTANCES, Truth};
use frusta::base::shape::Join;
use frusta::base::units::Mm;
use std::time::Instant;

fn main() {
    let args: Vec<String> = std::env::args().skip(1).filter(|a| a != "--bench").collect();
    let part = args.get(1).cloned().unwrap_or_default();
    offsets(&part, args.iter().any(|a| a == "-v"));
}

fn offsets(part: &str, verbose: bool) {
    let all = corpus::corpus();
    let mut nodes = 0;
    let mut time = 0.0;
    let mut polys = 0;
    let mut poly_time = 0.0;
    let mut errors = Vec::new();
    let mut lengths = Vec::new();
    let mut kinks = 0;
    let mut joints = 0;
    for art in all.iter().filter(|a| a.name.contains(part)) {
        let truth = Truth::of(&art.region);
        for d in DISTANCES {
            let t = Instant::now();
            let got = art.region.offset(Mm(d), Join::Round);
            let took = t.elapsed().as_secs_f64();
            time += took;
            let t = Instant::now();
            let flat = art.region.flat(Mm(0.005)).offset(Mm(d), Join::Round);
            poly_time += t.elapsed().as_secs_f64();
            polys += flat.rings.iter().map(Vec::len).sum::<usize>();
            nodes += got.nodes();
            let e = truth.error(&got.flat(Mm(2e-4)), d);
            let k = truth.kinks(&got, d, 1f64.to_radians());
            kinks += k;
            for c in got.contours() {
                joints += corpus::joints(c).len();
                for s in c.segments() {
                    use frusta::base::shape::KurboShape;
                    lengths.push(s.perimeter(1e-3));
                }
            }
            if verbose || took > 0.2 || e.worst() > 0.0105 || k > 0 {
                println!(
                    "{:30} d {:5} nodes {:4} off {:.4} at {:.3?} missed {:.4} at {:.3?} kinks {k} in {took:.3} s",
                    art.name,
                    d,
                    got.nodes(),
                    e.off,
                    e.off_at,
                    e.missed,
                    e.missed_at
                );
            }
            errors.push(e.worst());
        }
    }
    errors.sort_by(f64::total_cmp);
    lengths.sort_by(f64::total_cmp);
    let n = errors.len();
    println!(
        "cases {n} nodes {nodes} own polyline nodes {polys} ({:.1} %)",
        100.0 * nodes as f64 / polys as f64
    );
    println!("time {time:.2} s polyline {poly_time:.2} s");
    println!(
        "error median {:.4} p95 {:.4} p99 {:.4} worst {:.4}; above 0.0105: {}, above 0.02: {}",
        errors[n / 2],
        errors[n * 95 / 100],
        errors[n * 99 / 100],
        errors[n - 1],
        errors.iter().filter(|e| **e > 0.0105).count(),
        errors.iter().filter(|e| **e > 0.02).count()
    );
    println!(
        "median segment {:.3} mm, under 0.1 mm {:.1} %, kinks {kinks} of {joints}",
        lengths[lengths.len() / 2],
        100.0 * lengths.iter().filter(|l| **l < 0.1).count() as f64 / lengths.len() as f64
    );
}
