//! Each promise is broken on purpose, one at a time, and must be found.

use super::*;
use crate::base::frame::{Art, Point, Rigid, Sheet};
use crate::base::units::Angle;
use crate::make::plan::sample::plan;
use crate::outline::Region;

fn finds(plan: Plan, words: &str) {
    let broken = verify(plan).expect_err("a broken promise");
    assert!(broken.iter().any(|d| d.message.contains(words)), "{words:?} not among {broken:#?}");
}

#[test]
fn a_sound_plan_is_verified_with_its_least_room() {
    // 21.5 degrees at a girth of 237.5 mm are 14.2 mm between centres: a fifth of a millimetre of room.
    let v = verify(plan(&[(0.0, 80.0), (21.5, 80.0), (-100.0, 60.0)])).expect("sound");
    let chord = v.cup().zones[0]
        .development
        .pose(v.pieces()[0].wall)
        .origin()
        .distance(v.cup().zones[0].development.pose(v.pieces()[1].wall).origin());
    let spare = v.report().least_spare_on_wall.expect("near enough to be measured").0;
    assert!((spare - (chord.0 - 12.0 - 2.0)).abs() < 0.005, "{spare} {chord}");
    assert_eq!((v.report().pieces_on_wall, v.report().pieces_on_sheets), (3, 3));
}

#[test]
fn pieces_too_near_are_found_also_over_the_seam() {
    finds(plan(&[(0.0, 80.0), (20.0, 80.0)]), "pieces 1 and 2 are too near");
    finds(plan(&[(172.0, 80.0), (-172.0, 80.0)]), "pieces 1 and 2 are too near");
}

#[test]
fn a_piece_inside_another_is_found_though_no_edge_is_near() {
    let mut p = plan(&[(0.0, 80.0), (0.0, 80.0)]);
    p.pieces[1].outline = Region::disc(Point::ORIGIN, Mm(1.0));
    p.sheets[0].placed[1].cuts = p.pieces[1].outline.moved(&p.sheets[0].placed[1].pose);
    finds(p, "piece 2 lies on piece 1");
}

#[test]
fn bands_and_handle_are_kept_clear() {
    finds(plan(&[(0.0, 141.0)]), "reaches into a keep-clear band");
    finds(plan(&[(0.0, 11.0)]), "reaches into a keep-clear band");
    finds(plan(&[(104.0, 70.0)]), "too near the handle");
    // In the middle of the window no edge is near.
    let mut p = plan(&[(90.0, 70.0)]);
    p.pieces[0].outline = Region::disc(Point::ORIGIN, Mm(1.0));
    p.sheets[0].placed[0].cuts = p.pieces[0].outline.moved(&p.sheets[0].placed[0].pose);
    finds(p, "piece 1 lies in the handle's window");
}

#[test]
fn every_piece_is_cut_once_whole_in_place_and_clear_of_its_neighbours() {
    let sound = || plan(&[(0.0, 80.0), (40.0, 80.0)]);
    let mut p = sound();
    p.sheets[0].placed.pop();
    finds(p, "piece 2 is cut 0 times");
    let mut p = sound();
    let twice = p.sheets[0].placed[0].clone();
    p.sheets[0].placed.push(twice);
    finds(p, "piece 1 is cut 2 times");
    let mut p = sound();
    p.sheets[0].placed[0].cuts = Region::disc(Point::mm(20.0, 30.0), Mm(5.9));
    finds(p, "changes its area");
    let mut p = sound();
    let pose: Rigid<Art, Sheet> = Rigid::new(Angle::ZERO, Point::mm(27.0, 30.0));
    p.sheets[0].placed[0].pose = pose;
    p.sheets[0].placed[0].cuts = p.pieces[0].outline.moved(&pose);
    finds(p, "too near each other");
    let mut p = sound();
    let pose: Rigid<Art, Sheet> = Rigid::new(Angle::ZERO, Point::mm(10.0, 30.0));
    p.sheets[0].placed[0].pose = pose;
    p.sheets[0].placed[0].cuts = p.pieces[0].outline.moved(&pose);
    finds(p, "beyond the margin");
    let mut p = sound();
    p.sheets[0].placed[0].pose = Rigid::new(Angle::ZERO, Point::mm(100.0, 100.0));
    finds(p, "not where its pose says");
}

#[test]
fn numbers_run_from_one() {
    let mut p = plan(&[(0.0, 80.0)]);
    p.pieces[0].number = 2;
    finds(p, "stands at place 1");
}

#[test]
fn hairs_and_segments_too_short_for_a_blade_are_found() {
    let cut_to = |d: &str| {
        let mut p = plan(&[(0.0, 80.0), (40.0, 80.0)]);
        p.pieces[1].outline = Region::trusted([kurbo::BezPath::from_svg(d).expect("a path")]);
        p.sheets[0].placed[1].cuts = p.pieces[1].outline.moved(&p.sheets[0].placed[1].pose);
        p
    };
    finds(cut_to("M-4 -4H4V0L5 0.01L4 0.02V4H-4Z"), "piece 2 runs back in its own cut");
    finds(cut_to("M-4 -4H4V0L4.01 0.01L4 4H-4Z"), "piece 2 is cut with 1 segments too short");
    assert!(verify(cut_to("M-4 -4H4V0L5 0.1L4 0.2V4H-4Z")).is_ok());
}
