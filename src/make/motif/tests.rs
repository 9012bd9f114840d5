//! Truths: distances re-measured by all pairs over the seam; bands by the wall's own coordinates; faults name
//! millimetres.

use super::*;
use crate::base::frame::{Plane, Point};
use crate::make::cup::{Development, Frustum, Zone};
use crate::outline::{Flat, distance_by_all_pairs};
use crate::read::job::Turning;
use proptest::prelude::*;

pub(super) fn room(upper: f64, lower: f64, slant: f64) -> FreeArea {
    let development = Development::new(Frustum { upper: Mm(upper), lower: Mm(lower), slant: Mm(slant) });
    let zone = Zone {
        low: Mm(6.0),
        high: Mm(slant - 20.0),
        seam: Angle::degrees(180.0),
        seam_open: false,
        handles: Vec::new(),
        edges: [false; 2],
        smooth: false,
    };
    FreeArea { development, zone, zone_number: 0, obstacles: Vec::new() }
}

fn blob(r: f64) -> Region<Art> {
    let corners: Vec<[f64; 2]> = (0..40)
        .map(|i| {
            let a = f64::from(i) / 40.0 * std::f64::consts::TAU;
            let r = r * (1.0 + 0.25 * libm::cos(3.0 * a));
            [r * libm::cos(a), r * libm::sin(a)]
        })
        .collect();
    Region::polygon(&corners)
}

fn spread_motif(r: f64, copies: usize, turning: Turning) -> Motif {
    Motif {
        name: "blob".into(),
        outline: blob(r),
        clearance: Mm(2.0),
        placing: Placing::Spread { copies, turning },
        copies: (0..copies).collect(),
        at: KeyPath::root().key("motif").index(0),
        look: None,
        film: crate::read::job::FilmId(0),
    }
}

fn on_plane(motifs: &[Motif], room: &FreeArea, laying: &PlacementResult) -> Vec<Flat<Plane>> {
    laying
        .laid
        .iter()
        .map(|l| motifs[l.motif].outline.moved(&room.development.pose(l.pose)).flat(Mm(1e-3)))
        .collect()
}

fn assert_clear(motifs: &[Motif], room: &FreeArea, laying: &PlacementResult) {
    let flats = on_plane(motifs, room, laying);
    for (i, a) in flats.iter().enumerate() {
        for p in a.rings.iter().flatten() {
            let s = room.development.wrap(Point::mm(p[0], p[1])).slant;
            assert!(s > room.zone.low && s < room.zone.high, "{s}");
        }
        for (j, b) in flats.iter().enumerate().skip(i) {
            for n in [-1, 0, 1] {
                if i == j && n == 0 {
                    continue;
                }
                let d = distance_by_all_pairs(a, &b.moved(&room.development.turned(n)));
                assert!(d.0 >= 2.0, "{i} {j} {n}: {d}");
            }
        }
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(12))]
    #[test]
    fn spread_motifs_keep_clear_over_the_seam(lower in 150.0..260.0f64, taper in -0.25..0.35f64, slant in 110.0..190.0f64, seed in 0u64..1000) {
        let room = room(lower + taper * slant, lower, slant);
        let motifs = [spread_motif(9.0, 6, Turning::Free), spread_motif(6.0, 6, Turning::Upright)];
        let mut diagnostics = Diagnostics::new();
        let laying = lay(&motifs, &room, Seed(seed), &mut diagnostics).expect("they fit");
        prop_assert_eq!(laying.laid.len(), 12);
        assert_clear(&motifs, &room, &laying);
        let again = lay(&motifs, &room, Seed(seed), &mut Diagnostics::new()).unwrap();
        prop_assert_eq!(again, laying);
    }
}

#[test]
fn pinned_motifs_are_exactly_where_told() {
    let room = room(270.0, 207.0, 165.0);
    let pose = WallPose { azimuth: Angle::degrees(175.0), slant: Mm(80.0), turn: Angle::degrees(30.0) };
    let mut motif = spread_motif(8.0, 1, Turning::Free);
    motif.placing = Placing::Pinned(vec![pose]);
    let motifs = [motif, spread_motif(8.0, 5, Turning::Within(Angle::degrees(20.0)))];
    let laying = lay(&motifs, &room, Seed(3), &mut Diagnostics::new()).unwrap();
    assert_eq!(laying.laid[0].pose, pose);
    assert!(laying.laid[1..].iter().all(|l| l.pose.turn.abs() <= Angle::degrees(20.0)));
    assert_clear(&motifs, &room, &laying);
}

/// Two discs of radius 5 (corners of a 40-gon) pinned 9 mm apart over the seam with 2 mm clearance lack 3 mm.
#[test]
fn a_clash_over_the_seam_names_the_lacking_millimetres() {
    let room = room(270.0, 207.0, 165.0);
    let disc: Region<Art> = Region::disc(Point::ORIGIN, Mm(5.0));
    let slant = Mm(80.0);
    let half = Angle::radians(4.5 / room.development.radius(slant).0);
    let at = |azimuth| WallPose { azimuth, slant, turn: Angle::ZERO };
    let motif = Motif {
        name: "disc".into(),
        outline: disc,
        clearance: Mm(2.0),
        placing: Placing::Pinned(vec![at(Angle::degrees(180.0) - half), at(Angle::degrees(-180.0) + half)]),
        copies: vec![0, 1],
        at: KeyPath::root().key("motif").index(0),
        look: None,
        film: crate::read::job::FilmId(0),
    };
    let mut diagnostics = Diagnostics::new();
    assert!(lay(&[motif], &room, Seed(0), &mut diagnostics).is_err());
    let d = diagnostics.iter().next().unwrap();
    assert_eq!((d.code, d.at.to_string().as_str()), (&PINNED_CLASH, "motif[0].poses[1]"));
    assert!(d.message.contains("lacks 3.0") || d.message.contains("lacks 3 "), "{}", d.message);
}

#[test]
fn too_many_motifs_name_the_piece_and_the_lack() {
    let room = room(270.0, 207.0, 165.0);
    let mut diagnostics = Diagnostics::new();
    // By area alone forty of them cannot lie there; some twenty could, and do not.
    assert!(lay(&[spread_motif(20.0, 40, Turning::Free)], &room, Seed(0), &mut diagnostics).is_err());
    let d = diagnostics.iter().next().unwrap();
    assert!(
        d.code == &NO_FIT && d.message.contains("more area") && d.at.to_string() == "motif[0].copies",
        "{d:?}"
    );
    let mut diagnostics = Diagnostics::new();
    assert!(lay(&[spread_motif(20.0, 22, Turning::Free)], &room, Seed(0), &mut diagnostics).is_err());
    let d = diagnostics.iter().next().unwrap();
    assert!(
        d.code == &NO_FIT && d.message.contains("lacks") && d.at.to_string() == "motif[0].copies",
        "{d:?}"
    );
}

#[test]
fn a_motif_higher_than_the_wall_is_refused() {
    let mut diagnostics = Diagnostics::new();
    assert!(
        lay(
            &[spread_motif(90.0, 1, Turning::Upright)],
            &room(900.0, 880.0, 165.0),
            Seed(0),
            &mut diagnostics
        )
        .is_err()
    );
    assert_eq!(diagnostics.iter().next().unwrap().code, &TOO_LARGE);
}

/// Property: every corner that was taken out lies within the tolerance of the ring that is left.
#[test]
fn a_thinned_ring_stays_within_its_tolerance() {
    let wavy = |i: usize| {
        let a = i as f64 / 2000.0 * std::f64::consts::TAU;
        let r = 20.0 + 3.0 * libm::sin(7.0 * a);
        [r * libm::cos(a), r * libm::sin(a)]
    };
    let ring: Vec<[f64; 2]> = (0..2000).map(wavy).collect();
    let thin = crate::outline::thinned(&ring, 0.15);
    assert!(thin.len() > 20 && thin.len() < 150, "{} corners", thin.len());
    let off = |p: &[f64; 2]| {
        (0..thin.len())
            .map(|i| {
                let (a, b) = (thin[i], thin[(i + 1) % thin.len()]);
                let (dx, dy) = (b[0] - a[0], b[1] - a[1]);
                let t = (((p[0] - a[0]) * dx + (p[1] - a[1]) * dy) / (dx * dx + dy * dy)).clamp(0.0, 1.0);
                libm::hypot(p[0] - a[0] - t * dx, p[1] - a[1] - t * dy)
            })
            .fold(f64::INFINITY, f64::min)
    };
    assert!(ring.iter().map(off).fold(0.0, f64::max) <= 0.15);
}

/// The twin of what a wall remembers of the last pose: a wall that remembers nothing gives the same energies,
/// and refuses the same poses whatever the limit.
#[test]
fn what_is_remembered_of_a_pose_changes_no_energy() {
    let room = room(270.0, 207.0, 165.0);
    let motifs = [spread_motif(9.0, 0, Turning::Free), spread_motif(14.0, 0, Turning::Free)];
    let bodies: Vec<Body> = motifs.iter().map(|m| Body::new(&m.outline, m.clearance)).collect();
    let pose = |k: u32| {
        let k = f64::from(k);
        let slant = Mm(40.0 + 70.0 * (k * 0.569).fract());
        WallPose { azimuth: Angle::TURN * (k * 0.7548 - 0.5).fract(), slant, turn: Angle::radians(k) }
    };
    let stood = || {
        let mut wall = PlacementIndex::new(&room);
        (0..12).for_each(|k| wall.place(k as usize % 2, &bodies[k as usize % 2], pose(k)));
        wall
    };
    let (wall, mut seen, mut refused) = (stood(), 0, 0);
    for k in 0..240u32 {
        // In runs of steps from one pose, as the search goes.
        let (own, from) = ((k / 20) as usize % 12, pose(k / 20));
        let step = f64::from(k % 20) * 0.4;
        let p =
            WallPose { slant: from.slant + Mm(step), turn: from.turn + Angle::radians(step * 0.05), ..from };
        let body = &bodies[own % 2];
        let want = stood().energy(own, body, p, f64::INFINITY).unwrap();
        for most in [want * 0.9, want, want * 1.1, f64::INFINITY] {
            let got = wall.energy(own, body, p, most);
            assert_eq!(got, (want < most).then_some(want), "{k} {most}");
            assert_eq!(stood().energy(own, body, p, most), got);
            if got.is_some() { seen += 1 } else { refused += 1 }
        }
    }
    assert!(seen > 400 && refused > 400, "{seen} {refused}");
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(40))]
    /// What is told while a piece is dragged is what the pinned are held to: the worst of it, to the last bit.
    #[test]
    fn a_crowd_tells_the_worst_that_the_placing_finds(
        lower in 150.0..260.0f64, taper in -0.3..0.4f64,
        poses in prop::collection::vec((-180.0..180.0f64, 0.0..150.0f64, -90.0..90.0f64, 4.0..16.0f64), 2..9),
    ) {
        let mut room = room(lower + taper * 160.0, lower, 160.0);
        let region = blob(12.0).moved(&room.development.pose(WallPose { azimuth: Angle::degrees(150.0), slant: Mm(70.0), turn: Angle::ZERO }));
        room.obstacles.push(crate::make::free_area::Obstacle { region, clearance: Mm(3.0), pass: 0 });
        let pose = |p: &(f64, f64, f64, f64)| WallPose { azimuth: Angle::degrees(p.0), slant: Mm(p.1), turn: Angle::degrees(p.2) };
        let bodies: Vec<Body> = poses.iter().map(|p| Body::new(&blob(p.3), Mm(2.0))).collect();
        let mut wall = PlacementIndex::new(&room);
        let mut crowd = Crowd::new(&room);
        for (i, p) in poses.iter().enumerate() {
            wall.place(i, &bodies[i], pose(p));
            // Put up elsewhere and moved, as a hand does.
            crowd.add((i, 0), &blob(p.3), Mm(2.0), WallPose { azimuth: Angle::degrees(p.0 + 33.0), ..pose(p) });
            prop_assert!(crowd.put((i, 0), pose(p)));
        }
        wall.refine(&bodies, poses.iter().map(pose));
        for (i, p) in poses.iter().enumerate() {
            let worst = wall.violation(i, i, &bodies[i], pose(p)).map(|v| v.shortfall.0);
            let told = crowd.too_near((i, 0), pose(p)).first().map(|t| t.lacks.0);
            prop_assert_eq!(worst, told, "copy {}", i);
        }
    }
}
