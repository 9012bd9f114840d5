//! What every fill keeps, measured by another method: all pairs of flattened curves over the seam copies.

use super::work::{FillStage, Work, work};
use super::*;
use crate::base::diag::KeyPath;
use crate::base::frame::Point;
use crate::base::random::Random;
use crate::base::tolerance::{FLATTEN, MEASURE};
use crate::base::units::Angle;
use crate::make::accent::outline::V;
use crate::make::cup::{Development, Frustum, WallPoint, Zone};
use crate::make::free_area::{FreeArea, Obstacle};
use crate::outline::plane::{nearest_on_segment, ring_contains};
use crate::outline::{Clearance, Op};
use crate::read::job::{AccentSpec, Adapt};
use crate::read::job::{Edge, Pass, ShareBy, SpotShape, SpotTurn};
use std::f64::consts::TAU;

/// A cup with a few discs on it, one of them over the seam.
pub(super) fn room(upper: f64, lower: f64, slant: f64, discs: usize, seed: u64) -> FreeArea {
    let f = Frustum { upper: Mm(upper * TAU), lower: Mm(lower * TAU), slant: Mm(slant) };
    let development = Development::new(f);
    let zone = Zone {
        low: Mm(5.0),
        high: Mm(slant - 8.0),
        seam: Angle::degrees(180.0),
        seam_open: false,
        handles: Vec::new(),
        edges: [false; 2],
        smooth: false,
    };
    let mut random = Random::new(Seed(seed), "discs", 0);
    let obstacles = (0..discs)
        .map(|i| {
            let azimuth = if i == 0 { 3.1 } else { random.between(-3.1, 3.1) };
            let slant = Mm(random.between(15.0, slant - 18.0));
            let at = development.develop(WallPoint { azimuth: Angle::radians(azimuth), slant });
            let clearance = Mm(if i % 3 == 0 { 3.5 } else { 1.0 });
            Obstacle { region: Region::disc(at, Mm(random.between(4.0, 9.0))), clearance, pass: 0 }
        })
        .collect();
    FreeArea { development, zone, zone_number: 0, obstacles }
}

pub(super) fn wishes(families: &[&str], gap: f64) -> AccentSpec {
    adapting(families, gap, Adapt::AsDrawn)
}

/// A fill without outlines of the maker's own.
pub(super) fn task<'a>(room: &'a FreeArea, spec: &'a AccentSpec, seed: u64, at: &'a KeyPath) -> FillTask<'a> {
    FillTask { room, spec, own: &[], weed: Mm(0.8), seed: Seed(seed), accent: 0, at }
}

fn adapting(families: &[&str], gap: f64, adapt: Adapt) -> AccentSpec {
    AccentSpec {
        shapes: families.iter().map(|f| SpotShape::Family(Family::named(f).expect("a family"))).collect(),
        shares: vec![1.0 / families.len().max(1) as f64; families.len()],
        smallest: Mm(4.0),
        largest: Mm(14.0),
        gap: Mm(gap),
        films: vec![(FilmId(0), 0.6), (FilmId(1), 0.4)],
        adapt,
        turn: SpotTurn::Free,
        polish: false,
        share_by: ShareBy::Count,
        edge: Edge::Straight,
        pass: Pass::default(),
    }
}

fn run(room: &FreeArea, spec: &AccentSpec, seed: u64) -> (Fill, Diagnostics) {
    let mut diagnostics = Diagnostics::new();
    let f = fill(&task(room, spec, seed, &KeyPath::of("accent")), &mut diagnostics);
    (f, diagnostics)
}

/// Worst of (distance - distance asked for) over all pairs and the bands.
fn worst(room: &FreeArea, spec: &AccentSpec, fill: &Fill) -> f64 {
    let d = &room.development;
    let whole = |s: &Spot| {
        let tint = s.tint.iter().map(|t| &t.1);
        Region::gathered(std::iter::once(&s.outline).chain(tint)).moved(&s.pose).flat(FLATTEN)
    };
    let spots: Vec<_> = fill.spots.iter().map(whole).collect();
    let mut margin = f64::INFINITY;
    for (i, a) in spots.iter().enumerate() {
        for p in a.rings.iter().flatten() {
            let s = d.wrap(Point::mm(p[0], p[1])).slant;
            margin = margin.min((s - room.zone.low).min(room.zone.high - s).get() - spec.gap.get());
        }
        let others = spots[..i].iter().map(|b| (b.clone(), spec.gap));
        let still = room.obstacles.iter().map(|o| (o.region.flat(FLATTEN), o.clearance.max(spec.gap)));
        let me = Clearance::new(a.clone());
        for (other, asked) in others.chain(still) {
            for n in -1..=1 {
                let copy = Clearance::new(other.moved(&d.turned(n)));
                if let Some(near) = me.distance(&copy, asked + Mm(1.0)) {
                    margin = margin.min((near - asked).get());
                }
            }
        }
    }
    margin
}

#[test]
fn distances_hold_on_the_curves_over_the_seam_and_on_every_kind_of_cup() {
    for (i, (upper, lower)) in
        [(40.0, 30.0), (35.0, 35.0), (30.0, 40.0), (60.0, 25.0)].into_iter().enumerate()
    {
        let seed = i as u64 + 1;
        let room = room(upper, lower, 90.0, 6, seed);
        for adapt in [Adapt::AsDrawn, Adapt::Flex(0.15), Adapt::Mosaic] {
            let spec = adapting(&["pebble", "ring", "drop"], 1.0 + 0.75 * i as f64, adapt);
            let (fill, diagnostics) = run(&room, &spec, seed);
            let told = diagnostics
                .iter()
                .all(|d| ["accent/smallest-raised", "accent/shares-missed"].contains(&d.code.id));
            assert!(fill.spots.len() > 20 && told, "{} {diagnostics:?}", fill.spots.len());
            let margin = worst(&room, &spec, &fill);
            assert!(margin >= -MEASURE.get(), "cup {i}: {margin}");
            for s in &fill.spots {
                let whole = std::iter::once(&s.outline).chain(s.tint.iter().map(|t| &t.1));
                for path in whole.flat_map(|r| r.contours()) {
                    let ring = outline::CubicLoop::from_path(path).ring(24);
                    let wide = outline::width(&ring);
                    assert!(wide >= 0.8, "{} is {wide} wide somewhere", s.name);
                    // Families have 6 to 14 nodes; a cell has one about every 1.5 mm.
                    let most =
                        if adapt == Adapt::Mosaic && s.tint.is_empty() { mosaic::NODES[1] } else { 14 };
                    let nodes = path.elements().len() - 2;
                    assert!((6..=most).contains(&nodes), "{} has {nodes} nodes", s.name);
                }
            }
        }
    }
}

/// Where the template's seam runs is the maker's choice: no distance on the cup depends on it.
#[test]
fn another_seam_leaves_all_distances_the_same() {
    let mut room = room(42.0, 30.0, 80.0, 5, 3);
    let spec = adapting(&["pebble", "ring"], 2.0, Adapt::Flex(0.15));
    let (mut fill, _) = run(&room, &spec, 3);
    let before = worst(&room, &spec, &fill);
    // The cup turned by 70 degrees under its seam; what leaves the turn on one side comes back on the other.
    let d = room.development;
    let by = Angle::degrees(70.0);
    for o in &mut room.obstacles {
        let middle = d.rotated(by).apply(o.region.bounds().centre());
        let back = if d.wrap(middle).azimuth.rad() >= std::f64::consts::PI { -1 } else { 0 };
        o.region = o.region.moved(&d.rotated(by)).moved(&d.turned(back));
    }
    for s in &mut fill.spots {
        s.wall.azimuth = (s.wall.azimuth + by).wrapped();
        s.pose = d.pose(s.wall);
    }
    assert!((worst(&room, &spec, &fill) - before).abs() < MEASURE.get());
}

/// On the way every distance holds; what stays on release is the fill from scratch.
#[test]
fn a_fill_follows_a_drag() {
    let room = room(40.0, 30.0, 80.0, 4, 5);
    let spec = adapting(&["pebble", "blob"], 2.0, Adapt::Flex(0.15));
    let mut diagnostics = Diagnostics::new();
    let at = KeyPath::of("accent");
    let mut follow = MovingFill::new(&task(&room, &spec, 5, &at), 1, &mut diagnostics).expect("no faults");
    assert_eq!(follow.fill().spots.len(), run(&room, &spec, 5).0.spots.len());
    let start = room.obstacles[1].region.clone();
    let mut changed = 0;
    for step in 1..=8 {
        let to: Rigid<Plane, Plane> = Rigid::new(Angle::ZERO, Point::mm(f64::from(step), 0.2));
        let (out, new) = follow.to(start.moved(&to));
        changed += out + new;
    }
    assert!(changed > 0);
    // Obstacles may lie on each other meanwhile; spots keep clear of all of them.
    let margin = worst(follow.room(), &spec, &follow.fill());
    assert!(margin >= -MEASURE.get(), "{margin}");
}

/// Every box of poses is decided, for every shape of the library.
#[test]
fn every_fill_is_proven_full() {
    for adapt in [Adapt::AsDrawn, Adapt::Flex(0.15), Adapt::Mosaic] {
        let room = room(40.0, 30.0, 80.0, 4, 6);
        let (fill, _) = run(&room, &adapting(&["pebble", "crescent"], 2.0, adapt), 6);
        assert_eq!(fill.saturation.undecided, 0, "{adapt:?}");
        assert_eq!(fill.saturation.shapes, 32);
        // From the outlines alone, in a grid of its own.
        let mut diagnostics = Diagnostics::new();
        let spec = adapting(&["pebble", "crescent"], 2.0, adapt);
        let again = prove(&task(&room, &spec, 6, &KeyPath::of("accent")), &fill, &mut diagnostics);
        assert_eq!((again.shapes, again.added, again.undecided), (32, 0, 0), "{adapt:?}");
        // It finds what a spot leaves that is taken out.
        let mut less = fill.clone();
        less.spots.remove(5);
        let again = prove(&task(&room, &spec, 6, &KeyPath::of("accent")), &less, &mut diagnostics);
        assert!(again.added > 0 && again.undecided == 0, "{adapt:?}");
    }
}

/// Bends even out the gaps: held against the same scene as drawn.
#[test]
fn bends_even_the_gaps() {
    let room = room(40.0, 30.0, 80.0, 5, 5);
    let rigid = wishes(&["pebble", "blob"], 2.0);
    let supple = AccentSpec { adapt: Adapt::Flex(0.15), ..rigid.clone() };
    let of = |spec: &AccentSpec| measure(&room, spec, &run(&room, spec, 5).0);
    let (before, after) = (of(&rigid), of(&supple));
    assert!(after.band > before.band + 0.08, "{before:?} {after:?}");
    assert!(after.gap_sd < before.gap_sd * 0.7 && after.gap_p95 < before.gap_p95, "{before:?} {after:?}");
}

#[test]
fn sizes_stay_within_what_was_asked() {
    let room = room(40.0, 30.0, 80.0, 3, 5);
    let (fill, _) = run(&room, &wishes(&["pebble"], 2.0), 5);
    for s in &fill.spots {
        let rings = s.outline.flat(FLATTEN).rings;
        let size = outline::extent(&rings[0]);
        assert!((3.98..=14.02).contains(&size), "{size}");
        assert!(outline::width(&rings[0]) >= template::NARROWEST - 0.02);
    }
}

#[test]
fn the_same_seed_gives_the_same_fill_and_another_seed_another() {
    let room = room(40.0, 30.0, 70.0, 3, 2);
    let spec = wishes(&["blob", "ring"], 2.0);
    assert_eq!(run(&room, &spec, 3).0, run(&room, &spec, 3).0);
    assert_ne!(run(&room, &spec, 3).0.spots, run(&room, &spec, 4).0.spots);
}

#[test]
fn films_get_their_shares_by_count() {
    let (fill, _) = run(&room(40.0, 30.0, 80.0, 3, 5), &wishes(&["pebble"], 2.0), 5);
    let first = fill.spots.iter().filter(|s| s.film == FilmId(0)).count() as f64;
    assert!((first - 0.6 * fill.spots.len() as f64).abs() <= 1.0);
}

/// Shares of area hold within half of a large spot, for unequal shares too.
#[test]
fn films_get_their_shares_by_area() {
    let room = room(40.0, 30.0, 80.0, 3, 5);
    for shares in [[0.6, 0.4], [0.9, 0.1]] {
        let films = vec![(FilmId(0), shares[0]), (FilmId(1), shares[1])];
        let spec = AccentSpec { films, share_by: ShareBy::Area, ..wishes(&["pebble"], 2.0) };
        let (fill, _) = run(&room, &spec, 5);
        let area = |s: &Spot| s.outline.area().get();
        let all: f64 = fill.spots.iter().map(area).sum();
        let first: f64 = fill.spots.iter().filter(|s| s.film == FilmId(0)).map(area).sum();
        let large = fill.spots.iter().map(area).fold(0.0, f64::max);
        assert!((first - shares[0] * all).abs() <= 0.5 * large, "{first} of {all}, {shares:?}");
        // By count it is another choice.
        assert_ne!(fill, run(&room, &AccentSpec { share_by: ShareBy::Count, ..spec }, 5).0);
    }
}

/// With a turn that follows the nearest outline or the generator, too, nothing is left undecided, and what is
/// there holds.
#[test]
fn fills_with_a_turn_of_their_own_are_proven_too() {
    for turn in [SpotTurn::Along, SpotTurn::Upright] {
        let room = room(40.0, 30.0, 80.0, 4, 7);
        let spec = AccentSpec { turn, ..wishes(&["petal", "pebble"], 2.0) };
        let (fill, _) = run(&room, &spec, 7);
        assert_eq!((fill.saturation.undecided, fill.saturation.shapes), (0, 32), "{turn:?}");
        assert!(fill.spots.len() > 20 && worst(&room, &spec, &fill) >= -MEASURE.get());
    }
}

#[test]
fn every_family_is_wide_enough_at_its_smallest_size_and_known_to_the_job() {
    for family in Family::all() {
        for item in 0..16 {
            let t =
                Template::of_family(family, Asked { smallest: 1.0, largest: 16.0, weed: 0.8 }, Seed(1), item);
            assert!(t.smallest < 12.0, "{family:?} {item}: {} at width {}", t.smallest, t.width);
            assert!((6..=14).contains(&t.hull.nodes.len()));
        }
    }
}

/// Pebbles of 3 mm are wider than any film needs; of seeds that small only the plump ones are, and what is done
/// instead is said, with the width that it is about (closed form: widths scale with sizes).
#[test]
fn small_sizes_that_are_sound_are_cut_and_raised_ones_are_told() {
    let room = room(40.0, 30.0, 50.0, 2, 5);
    let spec = AccentSpec { smallest: Mm(3.0), largest: Mm(6.0), ..wishes(&["pebble"], 1.5) };
    let (fill, diagnostics) = run(&room, &spec, 5);
    let size = |s: &Spot| outline::extent(&s.outline.flat(FLATTEN).rings[0]);
    assert!(diagnostics.is_empty(), "{diagnostics:?}");
    assert!(fill.spots.iter().any(|s| size(s) < 3.5));
    let spec = AccentSpec { smallest: Mm(2.0), ..wishes(&["seed"], 1.5) };
    let (fill, diagnostics) = run(&room, &spec, 5);
    let codes: Vec<_> = diagnostics.iter().map(|d| d.code.id).collect();
    assert_eq!(codes, ["accent/smallest-raised"]);
    let wide = |s: &Spot| outline::width(&outline::CubicLoop::from_path(&s.outline.contours()[0]).ring(24));
    let least = fill.spots.iter().map(wide).fold(f64::INFINITY, f64::min);
    assert!(least >= template::SPARE * 0.8 - 0.02, "{least}");
    assert!(fill.spots.iter().any(|s| wide(s) < 1.0));
    // A film that weeds down to .4 mm lets the same seeds through.
    let mut diagnostics = Diagnostics::new();
    let at = KeyPath::of("accent");
    let fine = FillTask { weed: Mm(0.4), ..task(&room, &spec, 5, &at) };
    let before = fill.spots.iter().map(size).fold(f64::INFINITY, f64::min);
    let after = super::fill(&fine, &mut diagnostics).spots.iter().map(size).fold(f64::INFINITY, f64::min);
    assert!(after < before, "{after} {before}");
}

/// Areas in closed form: a disc of 14 mm with a hole of 6 is a ring, and a square is as wide as its side.
#[test]
fn case_2_own_drawings_keep_their_holes_and_may_have_corners() {
    let room = room(40.0, 30.0, 60.0, 0, 1);
    let at = KeyPath::of("accent");
    let disc = |r: f64| Region::<Art>::disc(Point::mm(0.0, 0.0), Mm(r));
    let ring = disc(7.0).op(&disc(3.0), Op::Difference);
    let square: Region<Art> = Region::polygon(&[[0.0, 0.0], [10.0, 0.0], [10.0, 10.0], [0.0, 10.0]]);
    for (own, share) in [(ring, (49.0 - 9.0) * std::f64::consts::PI / 196.0), (square, 0.5)] {
        let shapes = vec![SpotShape::Own(vec!["own.svg".into()])];
        let shares = vec![1.0];
        let spec = AccentSpec { shapes, shares, smallest: Mm(8.0), largest: Mm(12.0), ..wishes(&[], 2.0) };
        for adapt in [Adapt::AsDrawn, Adapt::Flex(0.15)] {
            let (spec, mut diagnostics) = (AccentSpec { adapt, ..spec.clone() }, Diagnostics::new());
            let own = std::slice::from_ref(&own);
            let fill = super::fill(&FillTask { own, ..task(&room, &spec, 1, &at) }, &mut diagnostics);
            assert!(fill.spots.len() > 20 && diagnostics.is_empty(), "{diagnostics:?}");
            for s in &fill.spots {
                let size = outline::extent(&s.outline.flat(FLATTEN).rings[0]);
                let area = s.outline.area().get();
                assert!((area - share * size * size).abs() < 0.01 * area, "{area} at {size}");
            }
        }
    }
}

#[test]
fn a_full_wall_gives_no_spots_and_says_how_much_is_missing() {
    let mut room = room(40.0, 30.0, 30.0, 0, 1);
    room.zone.high = Mm(9.0);
    let (fill, diagnostics) = run(&room, &wishes(&["pebble"], 1.0), 1);
    assert!(fill.spots.is_empty());
    assert_eq!(diagnostics.iter().map(|d| d.code.id).collect::<Vec<_>>(), ["accent/no-room"]);
}

#[test]
fn faults_are_all_named() {
    let room = room(40.0, 30.0, 60.0, 0, 1);
    let mut spec = wishes(&["pebble", "crescent"], 30.0);
    spec.largest = Mm(4.5);
    spec.shapes.push(SpotShape::Own(vec!["bow.svg".into()]));
    let bow: Region<Art> = Region::polygon(&[[0.0, 0.0], [9.0, 8.0], [9.0, 0.0], [0.0, 9.0]]);
    let mut diagnostics = Diagnostics::new();
    fill(&FillTask { own: &[bow], ..task(&room, &spec, 1, &KeyPath::of("accent")) }, &mut diagnostics);
    let codes: Vec<_> = diagnostics.iter().map(|d| d.code.id).collect();
    assert_eq!(codes, ["accent/gap-too-wide", "accent/family-too-large", "accent/outline-crosses"]);
}

/// A spot lifted out of the raster leaves what a raster painted without it shows: never more, and less only
/// by what the points that stand for outlines there miss.
#[test]
fn a_lifted_spot_leaves_the_raster_as_painted_without_it() {
    let room = room(40.0, 30.0, 80.0, 5, 5);
    let spec = wishes(&["pebble", "blob"], 2.0);
    let (at, mut diagnostics) = (KeyPath::of("accent"), Diagnostics::new());
    let library = check::library(&task(&room, &spec, 5, &at), &mut diagnostics).expect("no faults");
    let bare = FillStage::new(&room, &spec, &library).field;
    let Work { mut stage, drafts, .. } = work(&task(&room, &spec, 5, &at), &library, &mut diagnostics);
    let kit = stage.kit(&spec, &library);
    let (mut lowered, gone) = (0, [3, 8, 20]);
    for i in gone {
        stage.world.leave(kit.first + i);
    }
    for i in gone {
        greedy::lift(&stage.world, &mut stage.field, &bare, kit.first + i, &drafts[i].ring);
    }
    let mut fresh = bare.clone();
    for (i, d) in drafts.iter().enumerate().filter(|(i, _)| !gone.contains(i)) {
        greedy::paint(&stage.world, &mut fresh, kit.first + i, &d.ring);
    }
    let (corner, size) = stage.world.bounds();
    for k in 0..40_000 {
        let p = [
            corner[0] + size[0] * f64::from(k % 200) / 200.0,
            corner[1] + size[1] * f64::from(k / 200) / 200.0,
        ];
        if !stage.world.inside(p).1 || stage.world.band(p) < fresh.pixel {
            continue;
        }
        let (lifted, painted) = (stage.field.distance(p), fresh.distance(p));
        assert!(
            lifted <= painted + 1e-4 && painted - lifted <= 0.95 * fresh.pixel,
            "{p:?}: {lifted} {painted}"
        );
        lowered += usize::from(lifted < painted - 1e-4);
    }
    assert!(lowered > 0);
}

/// What the lattice of distances says lies on either side of what all edges say, one by one: on the wall,
/// within outlines, beyond the bands and over the seam.
#[test]
fn what_lies_near_is_what_all_edges_say() {
    let room = room(40.0, 30.0, 80.0, 5, 5);
    let spec = wishes(&["pebble", "blob"], 2.0);
    let (at, mut diagnostics) = (KeyPath::of("accent"), Diagnostics::new());
    let library = check::library(&task(&room, &spec, 5, &at), &mut diagnostics).expect("no faults");
    let Work { stage, drafts, .. } = work(&task(&room, &spec, 5, &at), &library, &mut diagnostics);
    let world = &stage.world;
    let spots = drafts.iter().map(|d| (vec![d.ring.clone()], 0.0));
    let all: Vec<(Vec<Vec<V>>, f64)> = stage.obstacles.iter().cloned().chain(spots).collect();
    // Less than nothing inside.
    let plain = |p: V| {
        let mut least = world.band(p);
        for (rings, more) in &all {
            for n in -1..=1 {
                for ring in rings {
                    let copy: Vec<V> = ring.iter().map(|q| world.turned(*q, n)).collect();
                    let edges =
                        (0..copy.len()).map(|i| nearest_on_segment(p, copy[i], copy[(i + 1) % copy.len()]).0);
                    let d = edges.fold(f64::INFINITY, f64::min).sqrt();
                    least = least.min(if ring_contains(&copy, p) { -d } else { d } - more);
                }
            }
        }
        least
    };
    let (reach, cap) = (9.0, 6.0);
    let mut random = Random::new(Seed(1), "near", 0);
    let (mut within, mut told) = (0, 0);
    for (azimuth, slant) in [(0.3, 30.0), (-1.4, 12.0), (3.1, 50.0)] {
        let middle = obstacle_grid::plane(&room.development, azimuth, slant);
        let mut near = near::Near::new(middle, reach, cap);
        for _ in 0..4000 {
            let p = [0, 1].map(|k| middle[k] + random.between(-reach, reach));
            let (most, least, _) = near.between(world, &stage.field, p);
            let d = plain(p);
            assert!(most >= d.min(cap) - 1e-9, "{p:?}: at most {most}, is {d}");
            within += usize::from(d < 0.0);
            if d > 0.0 {
                assert!(least <= d + 1e-9, "{p:?}: at least {least}, is {d}");
                told += usize::from(most - least < 2.0 * near::STEP);
            }
        }
    }
    assert!(within > 500 && told > 2000, "{within} {told}");
}

/// After bends the longest extent of each spot is what the maker calls `smallest` to `largest`, on the curve as it
/// is cut; 214 of the demonstration's 287 were longer once.
#[test]
fn case_3_bent_spots_stay_within_the_sizes_asked() {
    for (seed, families) in [(5, ["pebble", "blob"]), (6, ["bean", "petal"]), (7, ["dot", "crescent"])] {
        let room = room(40.0, 30.0, 70.0, 3, seed);
        let spec = AccentSpec { largest: Mm(10.0), ..adapting(&families, 1.5, Adapt::Flex(0.2)) };
        let (fill, _) = run(&room, &spec, seed);
        assert!(fill.spots.len() > 20);
        for s in &fill.spots {
            let long = outline::extent(&s.outline.flat(FLATTEN).rings[0]);
            assert!((3.98..=10.02).contains(&long), "{}: {long}", s.name);
        }
    }
}

/// A dot is a circle: its area is pi / 4 of its extent squared; a ring is one piece with one opening, with a
/// centre of the other film where there is one.
#[test]
fn case_4_dots_are_round_and_rings_are_one_piece() {
    let room = room(40.0, 30.0, 60.0, 2, 5);
    let (fill, _) = run(&room, &wishes(&["dot"], 2.0), 5);
    assert!(fill.spots.len() > 20);
    for s in &fill.spots {
        let long = outline::extent(&s.outline.flat(FLATTEN).rings[0]);
        let round = std::f64::consts::FRAC_PI_4 * long * long;
        assert!((s.outline.area().get() - round).abs() < 2e-3 * round, "{long}");
    }
    let one = AccentSpec { films: vec![(FilmId(0), 1.0)], ..wishes(&["ring"], 2.0) };
    for (spec, centres) in [(wishes(&["ring"], 2.0), 1), (one, 0)] {
        let (fill, _) = run(&room, &spec, 5);
        assert!(fill.spots.len() > 10);
        for s in &fill.spots {
            let loops = s.outline.contours();
            assert_eq!((loops.len(), s.tint.len()), (2, centres));
            // An outline and an opening in it: what is cut is the outer area less the inner.
            let area = |p: &kurbo::BezPath| Region::<Art>::trusted([p.clone()]).area().get();
            assert!(
                area(&loops[0]) > 0.0 && area(&loops[1]) < 0.0,
                "{} {}",
                area(&loops[0]),
                area(&loops[1])
            );
        }
    }
}

/// Two families asked come in equal shares, and parts in theirs, within a twentieth or a note that says what came;
/// 369 to 4 came silently once.
#[test]
fn case_5_families_come_in_the_shares_asked() {
    let room = room(40.0, 30.0, 80.0, 4, 5);
    // Told of all pieces of a job, once they are numbered.
    let told = |spec: &AccentSpec, fill: &Fill| {
        let names: Vec<&str> = fill.spots.iter().map(|s| s.name.as_str()).collect();
        super::shares::missed(spec, &names, &KeyPath::root()).is_some()
    };
    for (shares, adapt) in
        [([0.5, 0.5], Adapt::AsDrawn), ([0.25, 0.75], Adapt::AsDrawn), ([0.5, 0.5], Adapt::Flex(0.15))]
    {
        let spec = AccentSpec { shares: shares.to_vec(), ..adapting(&["pebble", "petal"], 2.0, adapt) };
        let (fill, _) = run(&room, &spec, 5);
        let petals = fill.spots.iter().filter(|s| s.name == "petal").count() as f64 / fill.spots.len() as f64;
        let off = (petals - shares[1]).abs();
        assert!(off < 0.051 || told(&spec, &fill), "{petals} of {shares:?}");
        assert!(off < 0.15, "{petals} of {shares:?}");
        assert!(worst(&room, &spec, &fill) >= -MEASURE.get());
    }
    // What cannot be had is told: seeds that are cut from 9 mm up in a wall of narrow voids.
    let spec = AccentSpec { smallest: Mm(2.5), ..wishes(&["dot", "crescent"], 1.0) };
    let narrow = AccentSpec { largest: Mm(12.0), ..spec };
    let (fill, _) = run(&room, &narrow, 5);
    let dots = fill.spots.iter().filter(|s| s.name == "dot").count() as f64 / fill.spots.len() as f64;
    assert_eq!(
        told(&narrow, &fill),
        (dots - 0.5).abs() * fill.spots.len() as f64 > (0.05 * fill.spots.len() as f64).max(1.0),
        "{dots}"
    );
}

/// Over random bare walls a row along the limits is no stronger than what a fill has inside, and a ragged limit
/// leaves it next to nothing to kiss; the bounds of the issue over the mean. `FRUSTA_CASES` makes it long.
#[test]
fn no_row_runs_along_the_limits() {
    let walls = option_env!("FRUSTA_CASES").and_then(|n| n.parse().ok()).unwrap_or(3);
    let mean = |edge: Edge| -> [f64; 6] {
        let mut sum = [0.0; 6];
        for seed in 0..walls {
            let room = room(34.0, 28.0, 92.0, 0, 100 + seed);
            let spec = AccentSpec { largest: Mm(6.5), edge, ..wishes(&["pebble", "blob"], 1.2) };
            let filled = for_fill(&room, (&spec, 0), Seed(seed));
            let (fill, _) = run(&filled, &spec, seed);
            let k = kerb(&room, &spec, &fill).expect("a free wall");
            let own = [
                k.wave,
                k.wave_inside,
                k.kissed,
                k.void_near.get(),
                k.void_inside.get(),
                fill.spots.len() as f64,
            ];
            sum.iter_mut().zip(own).for_each(|(s, v)| *s += v / walls as f64);
        }
        sum
    };
    let (straight, ragged) = (mean(Edge::Straight), mean(Edge::Ragged(Mm(3.0))));
    for k in [straight, ragged] {
        assert!(k[0] <= k[1] + 0.10 && k[0] <= 0.25, "{k:?}");
        assert!(k[3] <= k[4] + 3.0, "{k:?}");
    }
    assert!(straight[2] <= 0.32 && ragged[2] <= 0.25, "{straight:?} {ragged:?}");
    // 1.5 of 79 mm at either limit, as the area goes.
    assert!(ragged[5] >= 0.94 * straight[5], "{straight:?} {ragged:?}");
}
