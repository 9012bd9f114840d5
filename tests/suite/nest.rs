//! Laying out film: promises held on the reference instance and on small made-up jobs.

use frusta::base::diag::Diagnostics;
use frusta::base::frame::{Art, Point, Rigid, Sheet};
use frusta::base::tolerance::{FLATTEN, MEASURE};
use frusta::base::units::{Angle, Mm};
use frusta::make::film::stock::Source;
use frusta::make::film::{Effort, Offcut, Placed, SheetLayout, lay_out, lay_out_on, order, tour};
use frusta::make::piece::{Kind, Piece};
use frusta::outline::{FillRule, Flat, Region, distance_by_all_pairs};
use frusta::read::job::{FilmId, FilmSpec, Grain, InStock, Rgb, Sheen, Stock, WallPose};
use std::ops::ControlFlow;

pub fn film(stock: Stock, spacing: f64, margin: f64, grain: Grain) -> FilmSpec {
    FilmSpec {
        name: "gold".into(),
        colour: Rgb([200, 160, 40]),
        stock,
        margin: Mm(margin),
        spacing: Mm(spacing),
        weed: Mm(1.0),
        thickness: Mm(0.08),
        take_up: 0.01,
        mirrored: false,
        grain,
        sheen: Sheen::Gloss,
        cut: Default::default(),
    }
}

pub fn piece(number: u32, outline: Region<Art>) -> Piece {
    Piece {
        zone: 0,
        number,
        kind: Kind::Base,
        name: format!("piece-{number}"),
        film: FilmId(0),
        outline,
        wall: WallPose { azimuth: Angle::ZERO, slant: Mm(0.0), turn: Angle::ZERO },
        pose: Rigid::identity(),
        clearance: Mm(0.0),
        keys: Region::empty(),
    }
}

/// The 195-piece instance: made up for measuring nesting, 300 mm strip, 2 mm spacing
/// (fixtures/nest/strip-mix.json, from the project's reference collection).
pub fn strip_mix() -> Vec<Piece> {
    let text = include_str!("../../fixtures/nest/strip-mix.json");
    let all: serde_json::Value = serde_json::from_str(text).unwrap();
    let ring = |v: &serde_json::Value| -> Vec<[f64; 2]> { serde_json::from_value(v.clone()).unwrap() };
    let path = |r: Vec<[f64; 2]>| frusta::outline::polyline_path(&r);
    let list = all["pieces"].as_array().unwrap();
    let pieces = list.iter().enumerate().map(|(i, p)| {
        let mut paths = vec![path(ring(&p["outer"]))];
        paths.extend(p["holes"].as_array().unwrap().iter().map(|h| path(ring(h))));
        piece(i as u32 + 1, Region::filled(paths, FillRule::EvenOdd))
    });
    pieces.collect()
}

pub fn laid(pieces: &[Piece], film: &FilmSpec, effort: Effort) -> Vec<SheetLayout> {
    let mut diagnostics = Diagnostics::new();
    let sheets = lay_out(pieces, std::slice::from_ref(film), effort, &mut diagnostics, &mut |_| {
        ControlFlow::Continue(())
    });
    sheets.unwrap_or_else(|_| panic!("{:?}", diagnostics.iter().collect::<Vec<_>>()))
}

/// Second method: every pair, every edge against every edge, no index, from the cuts themselves.
pub fn assert_sound(pieces: &[Piece], film: &FilmSpec, sheets: &[SheetLayout]) {
    let mut seen = vec![0; pieces.len()];
    for sheet in sheets {
        let flats: Vec<_> = sheet.placed.iter().map(|p| p.cuts.flat(FLATTEN)).collect();
        let m = film.margin.0 + film.cut.weeding.frame.map_or(0.0, |f| f.0) - MEASURE.0;
        for (i, p) in sheet.placed.iter().enumerate() {
            seen[p.number as usize - 1] += usize::from(!p.spare);
            let b = p.cuts.bounds();
            let (w, h) = (sheet.width.0 - m, sheet.height.0 - m);
            assert!(
                b.min.x >= m && b.min.y >= m && b.max.x <= w && b.max.y <= h,
                "{} outside: {b:?}",
                p.number
            );
            if let Some(shape) = &sheet.stock.shape {
                assert_on_leftover(&flats[i], &shape.flat(FLATTEN), m, p.number);
            }
            assert_turned_as_allowed(&pieces[p.number as usize - 1], film, p, &flats[i]);
            let own = sheet.outline(&pieces[p.number as usize - 1], &p.pose);
            approx::assert_abs_diff_eq!(own.area().0, p.cuts.area().0, epsilon = 1e-6);
            for j in 0..i {
                if flats[i].bounds().distance(&flats[j].bounds()).0 < film.spacing.0 {
                    let d = distance_by_all_pairs(&flats[i], &flats[j]);
                    assert!(d.0 >= film.spacing.0, "{} and {}: {d}", p.number, sheet.placed[j].number);
                    let on = |a: usize, b: usize| {
                        let p = flats[a].rings[0][0];
                        flats[b].contains(p[0], p[1])
                    };
                    assert!(!on(i, j) && !on(j, i), "{} lies on {}", p.number, sheet.placed[j].number);
                }
            }
        }
    }
    assert!(seen.iter().all(|n| *n == 1), "pieces laid: {seen:?}");
}

/// The plane as far as it matters, less what the rings enclose.
fn around(rings: Vec<Vec<[f64; 2]>>) -> Flat<Sheet> {
    let far = 1e4;
    let all = vec![[-far, -far], [far, -far], [far, far], [-far, far]];
    Flat::new(std::iter::once(all).chain(rings).collect(), Mm(0.0))
}

/// A piece lies on what is there of a leftover, its margin off every edge of it, and over none of its holes.
fn assert_on_leftover(piece: &Flat<Sheet>, shape: &Flat<Sheet>, margin: f64, number: u32) {
    // What lies inside has no distance to what it lies in: so the sheet is asked for what is missing of it.
    let d = distance_by_all_pairs(piece, &around(shape.rings.clone()));
    assert!(d.0 >= margin - FLATTEN.0, "{number} is {d} from the edge of the leftover");
    for ring in &piece.rings {
        assert!(shape.contains(ring[0][0], ring[0][1]), "{number} is off the leftover");
    }
    for ring in &shape.rings {
        assert!(!piece.contains(ring[0][0], ring[0][1]), "{number} lies over a hole of the leftover");
    }
}

/// The cut is the piece turned over if the film is mirrored, turned as the grain allows, and moved: worked
/// out here from its polylines.
fn assert_turned_as_allowed(piece: &Piece, film: &FilmSpec, placed: &Placed, flat: &Flat<Sheet>) {
    let (c, s, x, y) = placed.pose.parts();
    match film.grain {
        Grain::Fixed => assert!(c == 1.0 && s == 0.0, "{} is turned: {c} {s}", placed.number),
        Grain::Half => assert!(c.abs() == 1.0 && s.abs() < 1e-12, "{} is turned: {c} {s}", placed.number),
        Grain::Free => {}
    }
    let flip = if film.mirrored { -1.0 } else { 1.0 };
    let (mut lo, mut hi) = ([f64::INFINITY; 2], [f64::NEG_INFINITY; 2]);
    for p in piece.outline.flat(FLATTEN).rings.iter().flatten() {
        let (u, v) = (flip * p[0], p[1]);
        let q = [c * u - s * v + x, s * u + c * v + y];
        for k in 0..2 {
            (lo[k], hi[k]) = (lo[k].min(q[k]), hi[k].max(q[k]));
        }
    }
    let b = flat.bounds();
    for (a, b) in [(lo[0], b.min.x), (lo[1], b.min.y), (hi[0], b.max.x), (hi[1], b.max.y)] {
        approx::assert_abs_diff_eq!(a, b, epsilon = 2.0 * FLATTEN.0);
    }
}

#[test]
fn the_reference_instance_is_laid_soundly_on_a_strip() {
    let pieces = strip_mix();
    for grain in [Grain::Fixed, Grain::Free] {
        let film = film(Stock::Roll { width: Mm(300.0), longest: Mm(1000.0) }, 2.0, 2.0, grain);
        let sheets = laid(&pieces, &film, Effort::Quick);
        assert_sound(&pieces, &film, &sheets);
        assert_eq!(sheets.len(), 1);
        // 152.5 mm at a fixed angle and 149 at eight angles were measured for this method elsewhere.
        assert!(sheets[0].height.0 < 155.0, "{}", sheets[0].height);
    }
}

/// Truth: the published search's own binary (spyrrow 0.9.0) needs 154.1 mm after 11.5 s and 139.5 mm after
/// 162 s.
#[test]
fn the_improving_search_beats_the_first_layout_and_is_the_same_on_one_thread() {
    let pieces = strip_mix();
    let film = film(Stock::Roll { width: Mm(300.0), longest: Mm(1000.0) }, 2.0, 2.0, Grain::Free);
    let one = rayon::ThreadPoolBuilder::new().num_threads(1).build().unwrap();
    let sheets = one.install(|| laid(&pieces, &film, Effort::Normal));
    assert_sound(&pieces, &film, &sheets);
    assert!(sheets[0].height.0 < 139.0, "{}", sheets[0].height);
    let small = &pieces[100..130];
    let narrow = FilmSpec { stock: Stock::Roll { width: Mm(80.0), longest: Mm(1000.0) }, ..film };
    let alone = one.install(|| {
        let numbered: Vec<Piece> =
            small.iter().enumerate().map(|(i, p)| Piece { number: i as u32 + 1, ..p.clone() }).collect();
        laid(&numbered, &narrow, Effort::Normal)
    });
    let numbered: Vec<Piece> =
        small.iter().enumerate().map(|(i, p)| Piece { number: i as u32 + 1, ..p.clone() }).collect();
    let two = rayon::ThreadPoolBuilder::new().num_threads(2).build().unwrap();
    assert_eq!(alone, two.install(|| laid(&numbered, &narrow, Effort::Normal)));
}

/// A made-up job.
pub struct RandomJob {
    pieces: Vec<Piece>,
    film: FilmSpec,
    left: Vec<Offcut>,
    effort: Effort,
}

/// A made-up job: pieces of several kinds, any spacing, margin, turning, sheet or roll and effort, some
/// mirrored, with spares, sheets of other sizes in stock and leftovers with holes.
pub fn random_job(seed: u64) -> RandomJob {
    use frusta::base::random::Random;
    use frusta::outline::Op;
    let r = &mut Random::new(frusta::base::units::Seed(seed), "random job", 0);
    let mut outlines = Vec::new();
    for _ in 0..2 + r.below(24) {
        let size = r.between(2.0, 22.0);
        let corners = |r: &mut Random, n: usize, least: f64| -> Vec<[f64; 2]> {
            let at = |r: &mut Random, k: usize| {
                let (turn, far) = (
                    (k as f64 + r.between(0.1, 0.9)) / n as f64 * std::f64::consts::TAU,
                    r.between(least, 1.0),
                );
                [size * far * turn.cos(), size * far * turn.sin()]
            };
            (0..n).map(|k| at(r, k)).collect()
        };
        let disc = |part: f64| Region::disc(Point::ORIGIN, Mm(size * part));
        outlines.push(match r.below(5) {
            0 => disc(1.0),
            1 => disc(1.0).op(&disc(0.75), Op::Difference),
            2 => Region::polygon(&corners(r, 3, 0.5)),
            3 => Region::polygon(&corners(r, 12, 0.3)),
            _ => Region::polygon(&[[0.0, 0.0], [size * 1.8, 0.0], [size * 1.8, 2.0], [0.0, 2.0]]),
        });
    }
    let copies = 1 + r.below(3);
    let all = outlines.iter().flat_map(|o| std::iter::repeat_n(o, copies));
    let pieces = all.enumerate().map(|(i, o)| piece(i as u32 + 1, o.clone())).collect();
    let (width, height) = (Mm(r.between(70.0, 300.0)), Mm(r.between(70.0, 300.0)));
    let stock =
        if r.below(2) == 0 { Stock::Sheet { width, height } } else { Stock::Roll { width, longest: height } };
    let grain = [Grain::Free, Grain::Half, Grain::Fixed][r.below(3)];
    let mut film = film(stock, r.between(0.3, 4.0), r.between(0.0, 10.0), grain);
    film.mirrored = r.below(2) == 0;
    film.cut.spares = [0.0, 0.1, 0.5][r.below(3)];
    film.cut.weeding.frame = (r.below(3) == 0).then(|| Mm(r.between(0.5, 4.0)));
    film.cut.weeding.lines = (r.below(3) == 0).then(|| Mm(r.between(10.0, 60.0)));
    let effort = if r.below(4) == 0 { Effort::Normal } else { Effort::Quick };
    for _ in 0..r.below(3) {
        let (width, height) = (Mm(r.between(40.0, 200.0)), Mm(r.between(40.0, 200.0)));
        film.cut.in_stock.push(InStock { width, height, count: 1 + r.below(2) });
    }
    let left = (0..r.below(3)).map(|k| random_leftover(r, k)).collect();
    RandomJob { pieces, film, left, effort }
}

/// A sheet with a bite out of a corner and a few holes, some of them open to the edge.
fn random_leftover(r: &mut frusta::base::random::Random, k: usize) -> Offcut {
    use frusta::outline::Op;
    let (w, h) = (r.between(60.0, 200.0), r.between(60.0, 200.0));
    let (x, y) = (r.between(0.3, 0.9) * w, r.between(0.3, 0.9) * h);
    let mut shape: Region<Art> = Region::polygon(&[[0.0, 0.0], [w, 0.0], [w, y], [x, y], [x, h], [0.0, h]]);
    for _ in 0..r.below(4) {
        let middle = Point::mm(r.between(0.0, w), r.between(0.0, h));
        shape = shape.op(&Region::disc(middle, Mm(r.between(2.0, 18.0))), Op::Difference);
    }
    Offcut::new(&format!("left-{k}.svg"), &shape)
}

/// Lays a random job out and checks it by the second method; how many pieces it has, and how many lie on
/// leftovers.
pub fn check_random_job(seed: u64) -> [usize; 2] {
    let RandomJob { pieces, film, left, effort } = random_job(seed);
    let mut diagnostics = Diagnostics::new();
    let (films, hear) = (std::slice::from_ref(&film), &mut |_| ControlFlow::Continue(()));
    let sheets = lay_out_on(&pieces, films, &[left], effort, &mut diagnostics, hear);
    let sheets =
        sheets.unwrap_or_else(|_| panic!("job {seed}: {:?}", diagnostics.iter().collect::<Vec<_>>()));
    assert_sound(&pieces, &film, &sheets);
    assert!(sheets.iter().all(|s| s.mirrored == film.mirrored));
    let size = |s: &SheetLayout| [s.width, s.height];
    for s in &film.cut.in_stock {
        let taken =
            sheets.iter().filter(|t| t.stock.source == Source::InStock && size(t) == [s.width, s.height]);
        assert!(taken.count() <= s.count, "job {seed} takes more than is in stock");
    }
    let on_left = |s: &&SheetLayout| matches!(s.stock.source, Source::Offcut(_));
    let on_leftovers = sheets.iter().filter(on_left).map(|s| s.placed.len()).sum();
    let small = |p: &Piece| p.outline.bounds().width().max(p.outline.bounds().height()) <= film.cut.small;
    let asked = (film.cut.spares * pieces.iter().filter(|p| small(p)).count() as f64 - 1e-6).ceil() as usize;
    let spares = sheets.iter().flat_map(|s| &s.placed).filter(|p| p.spare).count();
    assert_eq!(spares, asked);
    for sheet in &sheets {
        let clear = film.cut.weeding.clear;
        for p in &sheet.placed {
            let flat = p.cuts.flat(FLATTEN);
            if let (Some(f), Some(far)) = (sheet.aids.frame, film.cut.weeding.frame) {
                let b = flat.bounds();
                let gaps = [b.min.x - f.min.x, b.min.y - f.min.y, f.max.x - b.max.x, f.max.y - b.max.y];
                assert!(gaps.iter().all(|g| *g >= far.0 - 1e-9), "frame nearer than {far}: {gaps:?}");
                let (lo, hi) = ([f.min.x, f.min.y], [f.max.x, f.max.y]);
                let frame = around(vec![vec![lo, [hi[0], lo[1]], hi, [lo[0], hi[1]]]]);
                let d = distance_by_all_pairs(&frame, &flat);
                assert!(d.0 >= far.0 - 1e-9, "frame {d} from piece {}", p.number);
                let sheet = [f.min.x, f.min.y, sheet.width.0 - f.max.x, sheet.height.0 - f.max.y];
                assert!(sheet.iter().all(|g| *g >= film.margin.0 - 1e-9), "frame in the margin: {sheet:?}");
            }
            for [a, b] in &sheet.aids.lines {
                let line = frusta::outline::Flat::new(vec![vec![*a, *b, *a]], Mm(0.0));
                assert!(distance_by_all_pairs(&line, &flat).0 >= clear.0, "line at piece {}", p.number);
                assert!(!flat.contains(a[0], a[1]));
            }
        }
    }
    [pieces.len(), on_leftovers]
}

/// Truth: the second method. FRUSTA_CASES asks for more than the usual 50.
#[test]
fn random_jobs_keep_spacing_sheet_and_every_piece() {
    let jobs = std::env::var("FRUSTA_CASES").ok().and_then(|n| n.parse().ok()).unwrap_or(50);
    let (mut pieces, mut on_leftovers) = (0, 0);
    for [n, left] in (0..jobs).map(check_random_job) {
        pieces += n;
        on_leftovers += left;
    }
    println!("{jobs} random jobs, {pieces} pieces, {on_leftovers} laid on leftovers: all sound");
    assert!(pieces > 12 * jobs as usize && on_leftovers > jobs as usize, "{pieces} {on_leftovers}");
}

/// A stop in the middle keeps the best so far, says so, and what is kept is sound.
#[test]
fn a_stop_keeps_the_best_layout_so_far() {
    let pieces = &strip_mix()[..60];
    let film = film(Stock::Roll { width: Mm(300.0), longest: Mm(1000.0) }, 2.0, 2.0, Grain::Free);
    let run = |stop_at: Option<u64>| {
        let (mut diagnostics, mut told) = (Diagnostics::new(), Vec::new());
        let films = std::slice::from_ref(&film);
        let sheets = lay_out(pieces, films, Effort::Thorough, &mut diagnostics, &mut |p| {
            told.push(p.clone());
            if stop_at.is_some_and(|at| p.step >= at) {
                ControlFlow::Break(())
            } else {
                ControlFlow::Continue(())
            }
        });
        let notes: Vec<&str> = diagnostics.iter().map(|d| d.code.id).collect();
        assert_eq!(notes, ["film/stopped-early"]);
        (sheets.unwrap(), told)
    };
    let (at_once, told) = run(Some(0));
    assert_eq!(told.len(), 1, "told once, before the search; who has stopped is not asked again");
    assert_sound(pieces, &film, &at_once);
    let (later, told) = run(Some(30));
    assert_sound(pieces, &film, &later);
    assert!(later[0].height < at_once[0].height, "{} {}", later[0].height, at_once[0].height);
    assert!(told.windows(2).all(|w| w[0].step <= w[1].step && w[1].used <= w[0].used) && told[0].steps > 100);
}

#[test]
fn same_job_same_sheets() {
    let pieces = strip_mix();
    let film = film(Stock::Sheet { width: Mm(200.0), height: Mm(100.0) }, 1.0, 4.0, Grain::Half);
    let a = laid(&pieces, &film, Effort::Quick);
    assert_eq!(a, laid(&pieces, &film, Effort::Quick));
    assert_sound(&pieces, &film, &a);
    assert!(a.len() > 1);
}

#[test]
fn a_piece_larger_than_every_sheet_is_named_with_its_size() {
    let pieces = vec![
        piece(1, Region::disc(Point::ORIGIN, Mm(10.0))),
        piece(2, Region::polygon(&[[0.0, 0.0], [320.0, 0.0], [320.0, 10.0], [0.0, 10.0]])),
    ];
    let film = film(Stock::Sheet { width: Mm(300.0), height: Mm(200.0) }, 2.0, 3.0, Grain::Fixed);
    let mut diagnostics = Diagnostics::new();
    let out = lay_out(&pieces, &[film], Effort::Normal, &mut diagnostics, &mut |_| ControlFlow::Continue(()));
    assert!(out.is_err());
    let d = diagnostics.iter().next().unwrap();
    assert_eq!(d.code.id, "film/piece-too-large");
    assert!(
        d.message.contains("piece 2 (piece-2)") && d.measured.as_deref() == Some("320 mm x 10 mm"),
        "{d:?}"
    );
    assert!(d.allowed.as_deref().unwrap().contains("300 mm x 200 mm"), "{d:?}");
}

/// What cannot be cut is refused with its reason, one fault each, and nothing is laid.
#[test]
fn outlines_that_cannot_be_cut_are_refused_with_the_reason() {
    let raw = |points: &[[f64; 2]]| Region::<Art>::trusted([frusta::outline::polyline_path(points)]);
    let cases = [
        (raw(&[[0.0, 0.0], [10.0, 0.0], [5.0, 0.0]]), "film/outline-cannot-be-cut", "encloses nothing"),
        (
            raw(&[[0.0, 0.0], [2e5, 0.0], [2e5, 10.0], [0.0, 10.0]]),
            "film/outline-cannot-be-cut",
            "lies too far out",
        ),
        (
            raw(&[[0.0, 0.0], [10.0, 6.0], [10.0, 0.0], [0.0, 9.0]]),
            "film/outline-crosses-itself",
            "crosses itself",
        ),
    ];
    let film = film(Stock::Sheet { width: Mm(300.0), height: Mm(200.0) }, 2.0, 3.0, Grain::Fixed);
    for (outline, code, message) in cases {
        // Whichever way it runs round, what is drawn is the same.
        let outline = if outline.area().0 < 0.0 { outline.mirrored() } else { outline };
        let pieces = [piece(1, Region::disc(Point::ORIGIN, Mm(10.0))), piece(2, outline)];
        let mut diagnostics = Diagnostics::new();
        let films = std::slice::from_ref(&film);
        let out =
            lay_out(&pieces, films, Effort::Quick, &mut diagnostics, &mut |_| ControlFlow::Continue(()));
        assert!(out.is_err(), "{message}");
        let told: Vec<_> = diagnostics.iter().collect();
        assert_eq!(told.len(), 1, "{told:?}");
        assert!(told[0].code.id == code && told[0].message.contains("piece 2 (piece-2)"), "{told:?}");
        assert!(told[0].message.contains(message) && told[0].measured.is_some(), "{told:?}");
    }
}

/// The largest of what there is decides, whatever it is: bought, in stock or left over.
#[test]
fn a_piece_larger_than_all_stock_names_the_largest_of_it() {
    let mut film = film(Stock::Sheet { width: Mm(100.0), height: Mm(80.0) }, 2.0, 3.0, Grain::Free);
    film.cut.in_stock = vec![InStock { width: Mm(250.0), height: Mm(120.0), count: 1 }];
    let left = Offcut::new("left.svg", &Region::disc(Point::ORIGIN, Mm(30.0)));
    let pieces = [piece(1, Region::disc(Point::ORIGIN, Mm(200.0)))];
    let mut diagnostics = Diagnostics::new();
    let (films, hear) = (std::slice::from_ref(&film), &mut |_| ControlFlow::Continue(()));
    let out = lay_out_on(&pieces, films, &[vec![left]], Effort::Quick, &mut diagnostics, hear);
    assert!(out.is_err());
    let d = diagnostics.iter().next().unwrap();
    assert_eq!(d.code.id, "film/piece-too-large");
    assert!(d.allowed.as_deref().unwrap().contains("250 mm x 120 mm"), "{d:?}");
}

/// A leftover that says nothing is refused by the name of its file.
#[test]
fn leftovers_that_cannot_be_used_are_refused_by_name() {
    let film = film(Stock::Sheet { width: Mm(300.0), height: Mm(200.0) }, 2.0, 3.0, Grain::Free);
    let line = frusta::outline::polyline_path(&[[0.0, 0.0], [90.0, 0.0], [40.0, 0.0]]);
    let huge = Region::polygon(&[[0.0, 0.0], [3e5, 0.0], [3e5, 3e5]]);
    for (shape, message) in [
        (Region::<Art>::trusted([line]), "encloses nothing"),
        (Region::empty(), "encloses nothing"),
        (huge, "lies too far out"),
    ] {
        let left = Offcut::new("old-3b.svg", &shape);
        let pieces = [piece(1, Region::disc(Point::ORIGIN, Mm(10.0)))];
        let mut diagnostics = Diagnostics::new();
        let (films, hear) = (std::slice::from_ref(&film), &mut |_| ControlFlow::Continue(()));
        let out = lay_out_on(&pieces, films, &[vec![left]], Effort::Quick, &mut diagnostics, hear);
        assert!(out.is_err(), "{message}");
        let d = diagnostics.iter().next().unwrap();
        assert!(d.code.id == "film/leftover-cannot-be-used" && d.message.contains("old-3b.svg"), "{d:?}");
        assert!(d.message.contains(message), "{d:?}");
    }
}

#[test]
fn a_long_piece_that_fits_only_askew_is_laid_askew() {
    let bar = piece(1, Region::polygon(&[[0.0, 0.0], [120.0, 0.0], [120.0, 4.0], [0.0, 4.0]]));
    let film = film(Stock::Sheet { width: Mm(100.0), height: Mm(100.0) }, 2.0, 2.0, Grain::Free);
    let sheets = laid(std::slice::from_ref(&bar), &film, Effort::Quick);
    assert_sound(std::slice::from_ref(&bar), &film, &sheets);
}

#[test]
fn what_lies_in_a_hole_is_cut_before_what_holds_it() {
    let ring = Region::disc(Point::ORIGIN, Mm(45.0))
        .op(&Region::disc(Point::ORIGIN, Mm(30.0)), frusta::outline::Op::Difference);
    let pieces = vec![piece(1, ring), piece(2, Region::disc(Point::ORIGIN, Mm(20.0)))];
    let film = film(Stock::Sheet { width: Mm(100.0), height: Mm(100.0) }, 2.0, 2.0, Grain::Free);
    let sheets = laid(&pieces, &film, Effort::Quick);
    assert_eq!(sheets.len(), 1, "the disc goes into the hole");
    assert_eq!(sheets[0].placed.iter().map(|p| p.number).collect::<Vec<_>>(), [2, 1]);
    let areas: Vec<f64> =
        sheets[0].placed[1].cuts.contours().iter().map(frusta::outline::KurboShape::area).collect();
    assert!(areas[0] < 0.0 && areas[1] > 0.0, "the hole comes first: {areas:?}");
    assert_sound(&pieces, &film, &sheets);
}

/// Nearest neighbour with free start over every outline as drawn, what lies inside first: the yardstick of
/// the trade literature (Rosenkrantz, Stearns and Lewis 1977 for the method).
pub fn travel_by_nearest_neighbour(pieces: &[Piece], sheet: &SheetLayout) -> f64 {
    let mut points = Vec::new();
    for p in &sheet.placed {
        for c in sheet.outline(&pieces[p.number as usize - 1], &p.pose).contours() {
            let b = Region::<Sheet>::trusted([c.clone()]).flat(FLATTEN);
            points.push(tour::Stop::at(b.rings[0][0]));
        }
    }
    tour::length(&points, &tour::nearest_neighbour(&points, &Vec::new()))
}

/// Lower bound on every open way over the points (Held and Karp 1970, 1971: minimum 1-trees, node weights
/// moved by subgradient steps); the one more node of the 1-tree stands for the blade's rest, at no distance
/// from all.
pub fn held_karp(points: &[[f64; 2]], aim: f64) -> f64 {
    let n = points.len();
    let mut weight = vec![0.0; n];
    let (mut best, mut step) = (0.0f64, 1.0);
    for round in 0..1500 {
        let mut near = vec![(f64::INFINITY, 0usize); n];
        let (mut degree, mut bound, mut here) = (vec![0i32; n], 0.0, 0);
        let mut done = vec![false; n];
        done[0] = true;
        for _ in 1..n {
            for j in (0..n).filter(|&j| !done[j]) {
                let d = (points[here][0] - points[j][0]).hypot(points[here][1] - points[j][1])
                    + weight[here]
                    + weight[j];
                if d < near[j].0 {
                    near[j] = (d, here);
                }
            }
            let next = (0..n).filter(|&j| !done[j]).min_by(|&a, &b| near[a].0.total_cmp(&near[b].0)).unwrap();
            done[next] = true;
            degree[next] += 1;
            degree[near[next].1] += 1;
            bound += near[next].0;
            here = next;
        }
        let mut ends: Vec<usize> = (0..n).collect();
        ends.sort_by(|&a, &b| weight[a].total_cmp(&weight[b]));
        for &e in &ends[..2] {
            degree[e] += 1;
            bound += weight[e];
        }
        bound -= 2.0 * weight.iter().sum::<f64>();
        best = best.max(bound);
        let off: i32 = degree.iter().map(|d| (d - 2) * (d - 2)).sum();
        if off == 0 {
            break;
        }
        if round % 50 == 49 {
            step *= 0.85;
        }
        let size = step * (aim - bound).max(0.0) / f64::from(off);
        for (w, d) in weight.iter_mut().zip(&degree) {
            *w += size * f64::from(d - 2);
        }
    }
    best
}

/// Truth: the square of side 10 needs three sides; four points on a line need the line.
#[test]
fn the_bound_is_met_where_the_best_way_is_plain() {
    let square = [[0.0, 0.0], [10.0, 0.0], [10.0, 10.0], [0.0, 10.0]];
    approx::assert_abs_diff_eq!(held_karp(&square, 30.0), 30.0, epsilon = 0.3);
    let line = [[0.0, 0.0], [3.0, 0.0], [7.0, 0.0], [12.0, 0.0]];
    approx::assert_abs_diff_eq!(held_karp(&line, 12.0), 12.0, epsilon = 0.1);
}

/// What lies in a hole is cut before what holds it, and an opening before its outline; how many pieces lie in
/// holes.
pub fn assert_inner_first(placed: &[Placed]) -> usize {
    let flats: Vec<_> = placed.iter().map(|p| p.cuts.flat(FLATTEN)).collect();
    let held = order::held(&flats);
    for (outer, inner) in held.iter().enumerate() {
        assert!(inner.iter().all(|i| *i < outer), "{inner:?} are cut before {outer}");
    }
    for p in placed {
        let areas: Vec<f64> = p.cuts.contours().iter().map(frusta::outline::KurboShape::area).collect();
        assert!(areas.last().unwrap() > &0.0 && areas[..areas.len() - 1].iter().all(|a| *a < 0.0));
    }
    held.iter().map(Vec::len).sum()
}

#[test]
fn cut_order_saves_a_fifth_of_the_travel_and_keeps_what_is_inside_first() {
    let pieces = strip_mix();
    for (grain, share) in [(Grain::Fixed, 0.82), (Grain::Free, 0.82)] {
        let film = film(Stock::Roll { width: Mm(300.0), longest: Mm(1000.0) }, 2.0, 2.0, grain);
        let sheets = laid(&pieces, &film, Effort::Quick);
        for sheet in &sheets {
            let (ours, plain) = (order::travel(&sheet.placed).0, travel_by_nearest_neighbour(&pieces, sheet));
            assert!(ours <= share * plain, "{ours:.0} of {plain:.0} mm");
            let bound = held_karp(&order::starts(&sheet.placed), ours);
            println!(
                "cut order: {ours:.1} mm, nearest neighbour {plain:.1} mm ({:.3}), bound {bound:.1} ({:.3})",
                ours / plain,
                ours / bound
            );
            assert!(ours <= 1.07 * bound, "{ours:.0} mm, no way below {bound:.0} mm");
            assert!(assert_inner_first(&sheet.placed) > 0, "holes are used on this instance");
        }
    }
}
