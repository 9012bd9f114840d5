//! Walls with edges: what the reader says of them, and what a kit of one promises.
//!
//! Sources: closed forms of a frustum (circumferences, developed ring piece, area), least squares, the triangle
//! inequality; each named beside its check.

use crate::planned::leaf;
use frusta::base::diag::Diagnostics;
use frusta::base::units::Mm;
use frusta::make::cup::{Cup, fit};
use frusta::{Plan, kit_of, read_job};
use std::f64::consts::TAU;

const FOOT: &str = "rings = [{ up = 0, girth = 176 }, { up = 22, girth = 206, edge = true }, { up = 125, \
                    girth = 238 }]\nwall = 125\nkeep-clear = { rim = 20, base = 3 }";

fn job(cup: &str, rest: &str) -> String {
    format!("[cup]\n{cup}\n[[film]]\nname = \"blue\"\nsheet = [200, 150]\n{rest}")
}

fn planned(job: &str) -> Result<Plan, Vec<String>> {
    crate::planned::planned(job, &leaf())
}

fn cup(text: &str) -> Cup {
    let read = read_job(&job(text, ""));
    let spec = read.cup.unwrap_or_else(|| panic!("{:#?}", read.diagnostics)).0;
    fit(&spec, &mut Diagnostics::new()).expect("fits")
}

/// Closed forms: girths as read, sweeps (C1 - C2) / s, areas (C1 + C2) s / 2, heights sqrt(s^2 - dr^2), all of
/// each cone.
#[test]
fn each_zone_is_its_own_cone() {
    let cup = cup(FOOT);
    assert_eq!(cup.zones.len(), 2);
    let mut height = 0.0;
    for (z, (lower, upper, slant)) in cup.zones.iter().zip([(176.0, 206.0, 22.0), (206.0, 238.0, 103.0)]) {
        approx::assert_abs_diff_eq!(z.measured.lower.0, lower, epsilon = 1e-9);
        approx::assert_abs_diff_eq!(z.measured.upper.0, upper, epsilon = 1e-9);
        approx::assert_abs_diff_eq!(z.surface.sweep().rad(), (upper - lower) / slant, epsilon = 1e-9);
        approx::assert_abs_diff_eq!(
            z.measured.lateral_area().0,
            (lower + upper) * slant / 2.0,
            epsilon = 1e-6
        );
        let rise = (slant * slant - ((upper - lower) / TAU).powi(2)).sqrt();
        height += rise;
        assert!(!z.zone.edges.iter().all(|e| *e) && z.zone.edges.iter().any(|e| *e));
    }
    approx::assert_abs_diff_eq!(cup.height().0, height, epsilon = 1e-9);
    approx::assert_abs_diff_eq!(cup.wall().0, 125.0, epsilon = 1e-12);
    assert_eq!([Mm(0.0), Mm(21.9), Mm(22.1), Mm(125.0)].map(|s| cup.zone_at(s)), [0, 0, 1, 1]);
}

/// Check case 6 of the notes: developed ring pieces of sines 0.10 and 0 share a parallel of 240 mm and, laid
/// tangent in its middle, part at their ends by L (1 - cos(phi/2))/phi = 18.695 mm.
#[test]
fn case_6_zones_part_at_their_ends() {
    let (length, sine) = (240.0, 0.10);
    let cup = cup(&format!(
        "rings = [{{ up = 0, girth = {} }}, {{ up = 60, girth = {length}, edge = true }}, {{ up = 120, girth = \
         {length} }}]\nwall = 120",
        length - TAU * sine * 60.0
    ));
    let end = |zone: usize| {
        let azimuth = frusta::base::units::Angle::degrees(180.0);
        let d = &cup.zones[zone].development;
        let at = |azimuth| d.develop(frusta::make::cup::WallPoint { azimuth, slant: Mm(60.0) });
        let (middle, end) = (at(frusta::base::units::Angle::ZERO), at(azimuth));
        [end.x - middle.x, end.y - middle.y]
    };
    let (low, high) = (end(0), end(1));
    let apart = ((low[0] - high[0]).powi(2) + (low[1] - high[1]).powi(2)).sqrt();
    let phi = TAU * sine;
    approx::assert_abs_diff_eq!(
        (low[1] - high[1]).abs(),
        length * (1.0 - (phi / 2.0).cos()) / phi,
        epsilon = 1e-6
    );
    assert!((apart - 18.695).abs() < 0.6, "{apart}");
    approx::assert_abs_diff_eq!((low[1] - high[1]).abs(), 18.695, epsilon = 1e-3);
}

/// Property: an edge said in the middle of a wall that is one cone changes nothing of it: girths, height, area,
/// volume and sweeps are those of the one.
#[test]
fn an_edge_on_a_cone_leaves_it_the_cone_that_it_is() {
    for (low, high) in [(188.0, 235.0), (240.0, 190.0), (200.0, 200.0)] {
        let said = |edge: &str| {
            let middle = low + (high - low) * 0.4;
            cup(&format!(
                "rings = [{{ up = 0, girth = {low} }}, {{ up = 44, girth = {middle}{edge} }}, {{ up = 110, girth = \
                 {high} }}]\nwall = 110"
            ))
        };
        let (one, two) = (said(""), said(", edge = true"));
        assert_eq!((one.zones.len(), two.zones.len()), (1, 2));
        for s in [0.0, 10.0, 43.9, 44.1, 80.0, 110.0] {
            approx::assert_abs_diff_eq!(one.girth(Mm(s)).0, two.girth(Mm(s)).0, epsilon = 1e-9);
        }
        for z in &two.zones {
            approx::assert_abs_diff_eq!(z.surface.sine(), one.zones[0].surface.sine(), epsilon = 1e-12);
        }
        approx::assert_abs_diff_eq!(one.height().0, two.height().0, epsilon = 1e-9);
        approx::assert_relative_eq!(one.lateral_area().0, two.lateral_area().0, max_relative = 1e-12);
        approx::assert_relative_eq!(one.volume().0, two.volume().0, max_relative = 1e-12);
    }
}

/// What has lain open since the notes: the foot of section 0 is refused as one cone and taken with its edge, and
/// then the readings are met.
#[test]
fn a_foot_is_refused_without_its_edge_and_taken_with_it() {
    let rings = |edge| {
        format!(
            "rings = [{{ up = 0, girth = 188 }}, {{ up = 20, girth = 212{edge} }}, {{ up = 110, girth = 220 }}]\nwall \
             = 110"
        )
    };
    let rest = "[[motif]]\nart = \"leaf.svg\"\nwidth = 20\nposes = [{ azimuth = 0, up = 60 }]\n";
    let plain = planned(&job(&rings(""), rest)).expect_err("no cone fits");
    assert!(plain.iter().any(|d| d.contains("cup/no-cone-fits")), "{plain:#?}");
    let plan = planned(&job(&rings(", edge = true"), rest)).expect("two cones");
    assert!(plan.cup.readings.rings.iter().all(|r| r.off.abs() < Mm(1e-9)));
    assert_eq!(plan.cup.readings.edges.len(), 1);
}

/// Edges that cannot be: each is said where it stands.
#[test]
fn edges_that_cannot_be_are_told() {
    for (rings, at, what) in [
        ("{ up = 0, girth = 188, edge = true }, { up = 110, girth = 220 }", "cup.rings[0].edge", "too near"),
        ("{ up = 0, girth = 188 }, { up = 110, girth = 220, edge = true }", "cup.rings[1].edge", "too near"),
        (
            "{ up = 20, girth = 188, edge = true }, { up = 110, girth = 220 }",
            "cup.rings[0].edge",
            "below this edge",
        ),
        (
            "{ up = 0, girth = 188 }, { up = 60, girth = 220, edge = true }",
            "cup.rings[1].edge",
            "above this edge",
        ),
        (
            "{ up = 0, girth = 188 }, { up = 60, girth = 220, edge = true }, { up = 62, girth = 221, edge = true }, { \
             up = 110, girth = 230 }",
            "cup.rings[2].edge",
            "too near",
        ),
        (
            "{ up = 0, girth = 188 }, { up = 20, girth = 320, edge = true }, { up = 110, girth = 340 }",
            "cup.rings",
            "cup/slant-too-short",
        ),
    ] {
        let found = planned(&job(&format!("rings = [{rings}]\nwall = 110"), "")).expect_err(rings);
        assert!(found.iter().any(|d| d.contains(at) && d.contains(what)), "{rings}: {found:#?}");
    }
    let trial = format!("{FOOT}\n[[cup.trial]]\nbars = 100\ngap = {{ rim = 0.5 }}");
    let found = planned(&job(&trial, "")).expect_err("a trial wrap");
    assert!(found.iter().any(|d| d.contains("cup/edge") && d.contains("cup.trial")), "{found:#?}");
}

/// Pieces keep half the largest clearance of the job off an edge: then any two across it are apart by the
/// clearance of either (triangle inequality). Motifs and spots stand in both zones, and nothing crosses.
#[test]
fn pieces_keep_off_an_edge_on_both_sides() {
    let rest = "[[motif]]\nart = \"leaf.svg\"\nwidth = 12\ncopies = 8\nturning = \"free\"\nclearance = \
                3\n[[accent]]\nfamilies = [\"pebble\"]\nsmallest = 5\nlargest = 8\ngap = 2\n";
    let plan = planned(&job(FOOT, rest)).expect("a plan");
    let (mut below, mut above) = (0, 0);
    for p in plan.on_wall() {
        let d = &plan.cup.zones[p.zone].development;
        let flat = p.on_plane().flat(Mm(1e-3));
        let up = flat.rings.iter().flatten().map(|q| d.slant(frusta::base::frame::Point::mm(q[0], q[1])).0);
        let (low, high) = up.fold((f64::MAX, f64::MIN), |(l, h), s| (l.min(s), h.max(s)));
        assert!(high <= 22.0 - 1.5 + 1e-6 || low >= 22.0 + 1.5 - 1e-6, "piece {}: {low} to {high}", p.number);
        if high < 22.0 { below += 1 } else { above += 1 }
    }
    assert!(below > 10 && above > 50, "{below} {above}");
    let motifs = |zone| plan.pieces.iter().filter(|p| p.name == "leaf" && p.zone == zone).count();
    assert_eq!((motifs(0) > 0, motifs(0) + motifs(1)), (true, 8));
    frusta::verify(plan).expect("promises kept");
}

/// A pinned motif that lies over the edge is told so, by the edge's name and not a band's.
#[test]
fn a_motif_over_an_edge_is_told() {
    let rest = "[[motif]]\nart = \"leaf.svg\"\nwidth = 20\nposes = [{ azimuth = 0, up = 60 }, { azimuth = 40, up = 27 \
                }]\n";
    let found = planned(&job(FOOT, rest)).expect_err("over the edge");
    assert!(
        found.iter().any(|d| d.contains("motif[0].poses[1]") && d.contains("the edge below it")),
        "{found:#?}"
    );
}

/// The kit of a wall with edges: a ring piece for each zone with its marks, and the same twice.
#[test]
fn a_kit_has_a_ring_piece_for_each_zone() {
    let rest = "[[motif]]\nart = \"leaf.svg\"\nwidth = 12\nposes = [{ azimuth = 0, up = 60 }, { azimuth = 180, up = 11 \
                }]\nclearance = 1\n";
    let text = job(FOOT, rest);
    let (a, b) = (kit_of(&text, &leaf()).expect("a kit"), kit_of(&text, &leaf()).expect("a kit"));
    assert!(a.files.iter().zip(&b.files).all(|(a, b)| a.path == b.path && a.bytes == b.bytes));
    let file = |path: &str| {
        let f = a.files.iter().find(|f| f.path == path).expect(path);
        String::from_utf8(f.bytes.clone()).expect("text")
    };
    let wrap = file("template/wrap.svg");
    assert!(
        ["outline-a", "outline-b", "joins-a", "joins-b"]
            .iter()
            .all(|id| wrap.contains(&format!("id=\"{id}\"")))
    );
    let map = file("map/map.svg");
    assert!(map.contains("front, part B") && map.contains("back, part A"));
    let manifest: serde_json::Value = serde_json::from_str(&file("manifest.json")).expect("JSON");
    let zones = manifest["cup"]["zones"].as_array().expect("zones");
    assert_eq!(zones.len(), 2);
    assert_eq!(zones[1]["from_mm"], 22.0);
}
