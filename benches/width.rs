//! Widths, gaps, bends, mends and clearances: how good, how long, over words, flower-like motifs and nasty
//! shapes.
//!
//! `cargo bench --bench width` prints counts and times (`-- bend [FILE]` those of bends alone, and writes the
//! artworks with more segments than before for tests/outside/bend_bound.py; `-- round` corners rounded and
//! starts of contours); `cargo bench --bench width -- peer FILE` writes outlines, questions, answers and
//! times for tests/outside/width_peer.py, which puts shapely beside them in the same run.
#[path = "../tests/suite/kernel_corpus.rs"]
mod corpus;
#[path = "../tests/suite/kernel_round.rs"]
mod kernel_round;

use corpus::{Artwork, Dice};
use frusta::base::frame::{Art, Plane, Point, Rigid};
use frusta::base::units::{Angle, Mm};
use frusta::outline::{Clearance, Flat, Join, Mend, PeriodicIndex, Region, Widths, along_arc};
use std::fmt::Write as _;
use std::time::Instant;

const LIMIT: Mm = Mm(0.8);

/// Least time of some rounds, ms, and the last answer.
fn best<T>(rounds: usize, mut f: impl FnMut() -> T) -> (f64, T) {
    let mut round = || {
        let t = Instant::now();
        let got = f();
        (t.elapsed().as_secs_f64() * 1e3, got)
    };
    let (mut least, mut got) = round();
    for _ in 1..rounds {
        let (ms, again) = round();
        least = least.min(ms);
        got = again;
    }
    (least, got)
}

fn both(r: &Region<Art>) -> usize {
    let w = Widths::new(r);
    w.narrow(LIMIT).len() + w.gaps(LIMIT).len()
}

fn main() {
    let args: Vec<String> = std::env::args().skip(1).filter(|a| a != "--bench").collect();
    if args.first().is_some_and(|a| a == "peer") {
        let file = args.get(1).expect("a file to write");
        std::fs::write(file, peer()).expect("written");
        return;
    }
    let all = corpus::corpus();
    if args.first().is_some_and(|a| a == "bend") {
        let more = bends(&all);
        if let Some(file) = args.get(1) {
            std::fs::write(file, more).expect("written");
        }
        return;
    }
    if args.first().is_some_and(|a| a == "round") {
        return rounds(&all);
    }
    words(&all);
    bends(&all);
    rounds(&all);
    mends(&all);
    crowd(&all);
}

fn words(all: &[Artwork]) {
    println!("film and gaps narrower than {LIMIT} in a word of 12 letters and two offsets of it:");
    for word in all.iter().filter(|w| w.name.contains("Harvest")) {
        let layers: Vec<Region<Art>> =
            [0.0, 1.5, 3.0].iter().map(|d| word.region.offset(Mm(*d), Join::Round)).collect();
        let (ms, diagnostics) = best(15, || layers.iter().map(both).sum::<usize>());
        let nodes: usize = layers.iter().map(Region::nodes).sum();
        println!("  {:30} nodes {nodes:5} found {diagnostics:3} in {ms:6.2} ms", word.name);
    }
    let outlines: usize = all.iter().map(|a| a.region.contours().len()).sum();
    let (ms, diagnostics) = best(5, || all.iter().map(|a| both(&a.region)).sum::<usize>());
    println!(
        "whole corpus: {outlines} outlines, found {diagnostics} in {ms:.1} ms ({:.1} ms for 300 outlines)",
        ms * 300.0 / outlines as f64
    );
}

/// Lines `NAME, RADIUS, SEGMENTS BEFORE, AFTER, CONTOURS` of the artworks that come out with more.
fn bends(all: &[Artwork]) -> String {
    let mut told = String::new();
    for radius in [90.0, 200.0, 415.0] {
        let map = along_arc(1.0 / radius);
        let (mut before, mut after, mut more, mut worst) = (0, 0, 0, 0f64);
        let t = Instant::now();
        let mut took = 0.0;
        for a in all {
            let b = a.region.bounds();
            let c = b.centre();
            let r: Region<Art> = a.region.moved(&Rigid::<Art, Art>::new(Angle::ZERO, Point::mm(-c.x, -c.y)));
            let from = Instant::now();
            let got: Region<Plane> = r.bent(&map, Mm(0.01)).expect("no fold");
            took += from.elapsed().as_secs_f64();
            before += r.nodes();
            after += got.nodes();
            if got.nodes() > r.nodes() {
                more += 1;
                println!("  {} along {radius} mm: {} -> {}", a.name, r.nodes(), got.nodes());
                let paths: Vec<String> = r.contours().iter().map(frusta::outline::BezPath::to_svg).collect();
                let (had, has) = (r.nodes(), got.nodes());
                let _ = writeln!(told, "{}\t{radius}\t{had}\t{has}\t{}", a.name, paths.join("|"));
            }
            worst = worst.max(bend_error(&r, &got, &map));
        }
        println!(
            "bend along {radius} mm: nodes {before} -> {after} ({:.1} %), artworks with more nodes {more} \
                of {}, worst error {worst:.5} mm, {:.0} ms ({:.1} s with the check)",
            100.0 * after as f64 / before as f64,
            all.len(),
            took * 1e3,
            t.elapsed().as_secs_f64()
        );
    }
    told
}

/// Against the outline flattened finely and mapped point by point, both ways.
fn bend_error(
    r: &Region<Art>,
    got: &Region<Plane>,
    map: &impl Fn(f64, f64) -> frusta::outline::Image,
) -> f64 {
    let rings = r.flat(Mm(2e-5)).rings.into_iter().map(|ring| {
        let n = ring.len();
        let mut out = Vec::new();
        for i in 0..n {
            let (a, b) = (ring[i], ring[(i + 1) % n]);
            let parts = ((b[0] - a[0]).hypot(b[1] - a[1]) / 0.2).ceil().max(1.0);
            for k in 0..parts as usize {
                let f = k as f64 / parts;
                out.push(map(a[0] + f * (b[0] - a[0]), a[1] + f * (b[1] - a[1])).at);
            }
        }
        out
    });
    let truth: Flat<Plane> = Flat::new(rings.collect(), Mm(4e-5));
    let result = got.flat(Mm(2e-5));
    let one = |a: &Flat<Plane>, b: &Flat<Plane>| {
        let index = Clearance::new(b.clone());
        let off = |p: &[f64; 2]| index.nearest(Point::mm(p[0], p[1]), Mm(1e6)).map_or(1e9, |n| n.distance.0);
        a.rings.iter().flatten().map(off).fold(0.0, f64::max)
    };
    one(&truth, &result).max(one(&result, &truth))
}

fn rounds(all: &[Artwork]) {
    let limit = (kernel_round::LIMIT, kernel_round::RADIUS);
    let (ms, _) = best(3, || all.iter().map(|a| a.region.rounded(limit.0, limit.1).1.len()).sum::<usize>());
    println!("{:#?}\nrounded in {ms:.1} ms", kernel_round::rounds(all));
    println!("{:#?}", kernel_round::starts(all));
}

fn mends(all: &[Artwork]) {
    for how in [Mend::Thicken, Mend::Merge, Mend::Open] {
        let (mut places, mut left) = (0, 0);
        let t = Instant::now();
        for a in all {
            let (new, report) = a.region.mended(how, LIMIT);
            places += report.len();
            left += if how == Mend::Thicken { new.narrow(LIMIT).len() } else { new.gaps(LIMIT).len() };
        }
        println!(
            "{how:?}: {places} bars, {left} places left narrow, {:.0} ms",
            t.elapsed().as_secs_f64() * 1e3
        );
    }
}

/// Three thousand small flowers on a rolled-out wall.
fn crowd(all: &[Artwork]) {
    let flowers: Vec<&Artwork> = all.iter().filter(|a| a.name.starts_with("flower")).collect();
    let mut dice = Dice(3000);
    let sweep = 0.9;
    let flats: Vec<Flat<Plane>> = (0..3000)
        .map(|k| {
            let (a, r) = (dice.range(0.0, sweep), dice.range(400.0, 900.0));
            let small = flowers[k % flowers.len()].region.scaled(0.15);
            let at = Point::mm(r * a.cos(), r * a.sin());
            small.moved(&Rigid::<Art, Plane>::new(Angle::radians(dice.range(0.0, 6.0)), at)).flat(Mm(0.002))
        })
        .collect();
    let turns = [0.0, sweep, -sweep].map(|a| Rigid::<Plane, Plane>::new(Angle::radians(a), Point::ORIGIN));
    let (build, index) = best(3, || PeriodicIndex::new(&flats, &turns, Mm(20.0)));
    let (ms, pairs) = best(3, || index.pairs(Mm(3.0)).len());
    let edges: usize = flats.iter().flat_map(|f| &f.rings).map(Vec::len).sum();
    println!(
        "3,000 regions of {edges} edges and {} copies over the seam: built in {build:.0} ms, all {pairs} \
            pairs within 3 mm in {ms:.0} ms",
        index.copies() - index.len()
    );
}

/// Outlines, questions, answers and times, as JSON.
fn peer() -> String {
    let mut dice = Dice(7);
    let arts: Vec<Artwork> = corpus::words().into_iter().chain(corpus::flowers()).collect();
    let flats: Vec<Flat<Art>> = arts.iter().map(|a| a.region.flat(Mm(0.002))).collect();
    let mut out = String::from("{\"art\":[");
    let (mut point_ns, mut points, mut pair_ns, mut pairs) = (0.0, 0, 0.0, 0);
    let indices: Vec<Clearance<Art>> = flats.iter().map(|f| Clearance::new(f.clone())).collect();
    for (k, (art, flat)) in arts.iter().zip(&flats).enumerate() {
        let b = flat.bounds().grown(Mm(5.0));
        let asked: Vec<Point<Art>> =
            (0..400).map(|_| Point::mm(dice.range(b.min.x, b.max.x), dice.range(b.min.y, b.max.y))).collect();
        let (ms, answers) = best(3, || {
            asked
                .iter()
                .map(|p| indices[k].nearest(*p, Mm(1e6)).expect("an outline").distance.0)
                .collect::<Vec<_>>()
        });
        point_ns += ms * 1e6;
        points += asked.len();
        let inside: Vec<bool> = asked.iter().map(|p| indices[k].contains(*p)).collect();
        // The next artwork, set beside this one with a gap of some millimetres.
        let next = &flats[(k + 1) % flats.len()];
        let gap = dice.range(0.3, 6.0);
        let (mine, theirs) = (flat.bounds(), next.bounds());
        let by =
            Point::mm(mine.max.x + gap - theirs.min.x, mine.min.y - theirs.min.y + dice.range(-3.0, 3.0));
        let other = Clearance::new(next.moved(&Rigid::<Art, Art>::new(Angle::ZERO, by)));
        let (ms, distance) = best(9, || indices[k].distance(&other, Mm(1e6)).expect("two outlines").0);
        pair_ns += ms * 1e6;
        pairs += 1;
        let w = Widths::new(&art.region);
        let narrow: Vec<[f64; 5]> = w
            .narrow(LIMIT)
            .iter()
            .filter(|n| n.kind == frusta::outline::NarrowKind::Neck)
            .map(|n| [n.at[0].x, n.at[0].y, n.at[1].x, n.at[1].y, n.width.0])
            .collect();
        let gaps: Vec<[f64; 5]> = w
            .gaps(LIMIT)
            .iter()
            .filter(|n| n.kind == frusta::outline::NarrowKind::Neck)
            .map(|n| [n.at[0].x, n.at[0].y, n.at[1].x, n.at[1].y, n.width.0])
            .collect();
        if k > 0 {
            out.push(',');
        }
        let asked: Vec<[f64; 2]> = asked.iter().map(|p| [p.x, p.y]).collect();
        let _ = write!(
            out,
            "\n{{\"name\":{:?},\"rings\":{:?},\"points\":{asked:?},\"distances\":{answers:?},\"inside\":{inside:?},\"other\":{:?},\"pair\":{distance:?},\"narrow\":{narrow:?},\"gaps\":{gaps:?}}}",
            art.name,
            flat.rings,
            other.flat().rings
        );
    }
    let (ms, _) = best(3, || arts.iter().map(|a| both(&a.region)).sum::<usize>());
    let _ = write!(
        out,
        "],\n\"limit\":{},\"point_ns\":{},\"pair_ns\":{},\"width_ms\":{ms}}}\n",
        LIMIT.0,
        point_ns / points as f64,
        pair_ns / pairs as f64
    );
    out
}
