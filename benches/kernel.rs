//! Offsets and booleans of the outline kernel over its corpus, beside i_overlay's own in the same run.
//!
//! ```sh
//! cargo bench --bench kernel -- offset [NAME-PART] [-v]     error, nodes, kinks, time
//! cargo bench --bench kernel -- boolean
//! cargo bench --bench kernel -- cases FILE                  what tests/outside/kernel_peers.py reads
//! ```
//! Truth is computed from the definition (see `Truth` in the corpus), not from a library's buffer.
mod clock;
#[path = "../tests/suite/kernel_corpus.rs"]
mod corpus;

use corpus::{Artwork, DISTANCES, Truth};
use frusta::base::frame::{Art, Point, Rigid};
use frusta::base::units::{Angle, Mm};
use frusta::outline::{Clearance, Flat, Join, KurboShape, Op, Region};
use i_overlay::core::fill_rule::FillRule;
use i_overlay::core::overlay_rule::OverlayRule;
use i_overlay::float::single::SingleFloatOverlay;
use i_overlay::mesh::float::outline::offset::OutlineOffset;
use i_overlay::mesh::float::style::{LineJoin, OutlineStyle};
use std::fmt::Write as _;

/// Chord error of the polylines that the peers get, mm.
const PEERS: Mm = Mm(0.005);

fn main() {
    let args: Vec<String> = std::env::args().skip(1).filter(|a| a != "--bench").collect();
    let word = |k: usize| args.get(k).filter(|a| !a.starts_with('-')).cloned().unwrap_or_default();
    match word(0).as_str() {
        "boolean" => booleans(),
        "cases" => cases(&word(1)),
        _ => offsets(&word(1), args.iter().any(|a| a == "-v")),
    }
}

/// Least time of several runs, s.
fn timed<T>(runs: usize, mut f: impl FnMut() -> T) -> (T, f64) {
    let mut best = f64::INFINITY;
    let mut out = None;
    for _ in 0..runs {
        let t = clock::seconds(clock::Of::Thread);
        out = Some(f());
        best = best.min(clock::seconds(clock::Of::Thread) - t);
    }
    (out.expect("at least one run"), best)
}

type Shape = Vec<Vec<[f64; 2]>>;

/// i_overlay's own offset of the polylines: nodes.
fn peer_offset(shape: &Shape, d: f64) -> usize {
    // Steps of the arcs with the same chord error.
    let step = 2.0 * (1.0 - PEERS.0 / d.abs()).acos();
    let style = OutlineStyle::new(d).line_join(LineJoin::Round(step));
    shape.outline(&style).iter().flatten().map(Vec::len).sum()
}

fn offsets(part: &str, verbose: bool) {
    let all = corpus::corpus();
    let (mut nodes, mut time, mut polys, mut poly_time) = (0, 0.0, 0, 0.0);
    let (mut peer_nodes, mut peer_time) = (0, 0.0);
    let (mut errors, mut lengths) = (Vec::new(), Vec::new());
    let (mut kinks, mut joints, mut rough) = (0, 0, 0);
    for art in all.iter().filter(|a| a.name.contains(part)) {
        let truth = Truth::of(&art.region);
        let flat = art.region.flat(PEERS);
        for d in DISTANCES {
            let (got, took) = timed(2, || art.region.offset(Mm(d), Join::Round));
            time += took;
            let (own, took_own) = timed(1, || flat.offset(Mm(d), Join::Round));
            poly_time += took_own;
            polys += own.rings.iter().map(Vec::len).sum::<usize>();
            let (peer, took_peer) = timed(2, || peer_offset(&flat.rings, d));
            peer_time += took_peer;
            peer_nodes += peer;
            nodes += got.nodes();
            rough += got.rough();
            let e = truth.error(&got.flat(Mm(2e-4)), d);
            let k = truth.kinks(&got, 1f64.to_radians());
            kinks += k.len();
            for c in got.contours() {
                joints += corpus::joints(c).len();
                lengths.extend(c.segments().map(|s| s.perimeter(1e-3)));
            }
            if verbose || took > 0.2 || e.worst() > 0.0105 || !k.is_empty() {
                println!(
                    "{:30} d {d:5} nodes {:4} off {:.4} at {:.3?} missed {:.4} at {:.3?} kinks {} {:.3?} \
                        rough {} in {:.1} ms, peer {:.1} ms",
                    art.name,
                    got.nodes(),
                    e.off,
                    e.off_at,
                    e.missed,
                    e.missed_at,
                    k.len(),
                    &k[..k.len().min(2)],
                    got.rough(),
                    took * 1e3,
                    took_peer * 1e3
                );
            }
            errors.push(e.worst());
        }
    }
    errors.sort_by(f64::total_cmp);
    lengths.sort_by(f64::total_cmp);
    let n = errors.len();
    let share = |a: usize, b: usize| 100.0 * a as f64 / b as f64;
    println!(
        "cases {n}: nodes {nodes}; own polyline {polys} ({:.1} %), i_overlay {peer_nodes} ({:.1} %)",
        share(nodes, polys),
        share(nodes, peer_nodes)
    );
    println!(
        "time {time:.2} s; own polyline {poly_time:.2} s, i_overlay {peer_time:.2} s: {:.2} times its time",
        time / peer_time
    );
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
        "median segment {:.3} mm, under 0.1 mm {:.1} %, kinks above 1 degree {kinks} of {joints} joints, \
            {rough} stretches stay polylines",
        lengths[lengths.len() / 2],
        share(lengths.iter().filter(|l| **l < 0.1).count(), lengths.len())
    );
}

/// Neighbours of the corpus, one turned and moved over the other.
fn pairs(all: &[Artwork]) -> Vec<(String, Region<Art>, Region<Art>)> {
    let pair = |k: usize| {
        let (a, b) = (&all[k], &all[(k + 1) % all.len()]);
        let (m, n) = (a.region.bounds().centre(), b.region.bounds().centre());
        let home: Rigid<Art, Art> = Rigid::new(Angle::degrees(0.0), Point::mm(-n.x, -n.y));
        let over: Rigid<Art, Art> = Rigid::new(Angle::degrees(17.0), Point::mm(m.x + 1.3, m.y + 0.7));
        let moved: Region<Art> = b.region.moved(&home).moved(&over);
        (format!("{} + {}", a.name, b.name), a.region.clone(), moved)
    };
    (0..all.len()).map(pair).collect()
}

const OPS: [(Op, OverlayRule); 4] = [
    (Op::Union, OverlayRule::Union),
    (Op::Intersection, OverlayRule::Intersect),
    (Op::Difference, OverlayRule::Difference),
    (Op::Xor, OverlayRule::Xor),
];

fn booleans() {
    let all = corpus::corpus();
    let (mut nodes, mut time, mut peer_nodes, mut peer_time) = (0, 0.0, 0, 0.0);
    let (mut errors, mut rough, mut count) = (Vec::new(), 0, 0);
    for (name, a, b) in pairs(&all) {
        let sources = Clearance::<Art>::new(Flat::new(
            a.flat(Mm(2e-5)).rings.into_iter().chain(b.flat(Mm(2e-5)).rings).collect(),
            Mm(2e-5),
        ));
        let (fa, fb) = (a.flat(PEERS).rings, b.flat(PEERS).rings);
        for (op, rule) in OPS {
            let (got, took) = timed(3, || a.op(&b, op));
            let (peer, took_peer) = timed(3, || fa.overlay(&fb, rule, FillRule::NonZero));
            time += took;
            peer_time += took_peer;
            nodes += got.nodes();
            peer_nodes += peer.iter().flatten().map(Vec::len).sum::<usize>();
            rough += got.rough();
            count += 1;
            let mut worst = 0f64;
            for p in got.flat(Mm(1e-4)).rings.iter().flatten() {
                let far =
                    sources.nearest(Point::mm(p[0], p[1]), Mm(1e9)).map_or(f64::INFINITY, |n| n.distance.0);
                worst = worst.max(far);
            }
            if worst > 0.001 || got.rough() > 0 {
                println!("{name:50} {op:?} off {worst:.5} rough {}", got.rough());
            }
            errors.push(worst);
        }
    }
    errors.sort_by(f64::total_cmp);
    println!(
        "{count} booleans: nodes {nodes}, {:.1} % of i_overlay's {peer_nodes}; time {:.0} ms, {:.2} times \
            its {:.0} ms",
        100.0 * nodes as f64 / peer_nodes as f64,
        time * 1e3,
        time / peer_time,
        peer_time * 1e3
    );
    println!(
        "off the source curves: median {:.6} p95 {:.6} worst {:.6}, above 0.001: {}; {rough} stretches stay \
            polylines",
        errors[errors.len() / 2],
        errors[errors.len() * 95 / 100],
        errors[errors.len() - 1],
        errors.iter().filter(|e| **e > 0.001).count()
    );
}

fn rings(out: &mut String, rings: &Shape) {
    for (k, r) in rings.iter().enumerate() {
        out.push_str(if k > 0 { "|" } else { "" });
        for (i, p) in r.iter().enumerate() {
            let _ = write!(out, "{}{:.4} {:.4}", if i > 0 { " " } else { "" }, p[0], p[1]);
        }
    }
}

/// Lines `art NAME RINGS`, `offset D NODES SECONDS RINGS`, `pair RINGS RINGS`, `boolean OP NODES SECONDS
/// AREA`, columns separated by tabs.
fn cases(file: &str) {
    let all = corpus::corpus();
    let mut out = String::new();
    for art in &all {
        let _ = write!(out, "art\t{}\t", art.name);
        rings(&mut out, &art.region.flat(PEERS).rings);
        out.push('\n');
        for d in DISTANCES {
            let (got, took) = timed(3, || art.region.offset(Mm(d), Join::Round));
            let _ = write!(out, "offset\t{d}\t{}\t{took}\t", got.nodes());
            rings(&mut out, &got.flat(Mm(1e-3)).rings);
            out.push('\n');
        }
    }
    for (_, a, b) in pairs(&all) {
        out.push_str("pair\t");
        rings(&mut out, &a.flat(PEERS).rings);
        out.push('\t');
        rings(&mut out, &b.flat(PEERS).rings);
        out.push('\n');
        for (op, _) in OPS {
            let (got, took) = timed(3, || a.op(&b, op));
            let _ = writeln!(out, "boolean\t{op:?}\t{}\t{took}\t{}", got.nodes(), got.area().0);
        }
    }
    if let Err(e) = std::fs::write(file, out) {
        eprintln!("{file}: {e}");
    }
}
