//! A live plan against the whole one and against distances measured anew on every pair.

use super::live::{Live, Moved};
use super::{Plan, run};
use crate::base::diag::Diagnostics;
use crate::base::tolerance::MEASURE;
use crate::base::units::{Angle, Mm};
use crate::make::accent;
use crate::make::piece::{Kind, Piece};
use crate::outline::Clearance;
use crate::read::job::{Effort, WallPose, read_job};
use crate::read::materials::Materials;
use crate::read::source::InMemory;
use proptest::prelude::*;
use std::ops::ControlFlow;

const JOB: &str = r#"
seed = 5
[cup]
rings = [{ up = 0, girth = 190 }, { up = 90, girth = 225 }]
wall = 90
keep-clear = { rim = 20, base = 6 }
[[film]]
name = "a"
sheet = [300, 200]
[[film]]
name = "b"
sheet = [300, 200]
[[motif]]
art = "leaf.svg"
width = 22
film = "a"
poses = [{ azimuth = 0, up = 38 }, { azimuth = 178, up = 40, turn = 20 }, { azimuth = -95, up = 36 }]
[[motif]]
art = "leaf.svg"
width = 15
film = "b"
copies = 3
[[accent]]
families = ["pebble", "ring"]
smallest = 5
largest = 9
gap = 1.5
films = { a = 1, b = 2 }
"#;
const LEAF: &str = r#"<svg xmlns="http://www.w3.org/2000/svg" width="30mm" height="20mm" viewBox="0 0 30 20"><path d="M0 10C8 -3 22 -3 30 10C22 23 8 23 0 10Z"/></svg>"#;

fn alive() -> (Plan, Live) {
    let job = read_job(JOB).job.expect("a job");
    let source = InMemory([("leaf.svg".to_owned(), LEAF.as_bytes().to_vec())].into());
    let materials = Materials::read(&job, &source);
    let go_on = &mut |_| ControlFlow::Continue(());
    let plan = run(&job, &materials, Effort::Quick, &mut Diagnostics::new(), go_on).expect("a plan");
    let mut live = Live::new(&plan);
    let fills = accent::following(live.job(), &materials, live.rooms()).expect("one fill");
    assert!(live.follow(fills), "the fills that follow are the plan's");
    (plan, live)
}

#[test]
fn before_a_move_it_is_the_plan_itself() {
    let (plan, live) = alive();
    assert!(live.pieces().eq(plan.pieces.iter()));
    assert!(live.follows() && live.clashes().is_empty(), "{:?}", live.clashes());
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(4))]
    /// After every move each spot keeps its gap from every other piece, over the seam, measured anew on every pair; what
    /// is not near keeps its number, its film and its place; numbers are never given twice.
    #[test]
    fn spots_give_way_and_nothing_else_moves(
        moves in prop::collection::vec((0usize..3, -180.0..180.0f64, 30.0..48.0f64, -60.0..60.0f64), 1..5),
    ) {
        let (_, mut live) = alive();
        let mut seen: std::collections::BTreeSet<u32> = live.pieces().map(|p| p.number).collect();
        for (copy, azimuth, up, turn) in moves {
            let to = WallPose { azimuth: Angle::degrees(azimuth), slant: Mm(up), turn: Angle::degrees(turn) };
            let before: Vec<Piece> = live.pieces().cloned().collect();
            let refilled = live.move_to(Moved { motif: 0, copy, to });
            let after: Vec<Piece> = live.pieces().cloned().collect();
            for p in &before {
                let moved = p.kind == (Kind::Motif { motif: 0, copy });
                let stays = after.iter().find(|q| q.number == p.number);
                prop_assert_eq!(stays.is_none(), refilled.gone.contains(&p.number));
                prop_assert!(stays.is_none_or(|q| q == p || moved));
            }
            for p in &refilled.new {
                prop_assert!(seen.insert(p.number), "{} was given before", p.number);
            }
            let d = live.cup().zones[0].development;
            let copies = |p: &Piece| [-1, 0, 1].map(|n| Clearance::new(p.on_plane().flat(Mm(0.005)).moved(&d.turned(n))));
            let flats: Vec<_> = after.iter().map(copies).collect();
            let spot = |p: &Piece| matches!(p.kind, Kind::Spot { .. });
            for (i, p) in after.iter().enumerate().filter(|(_, p)| spot(p)) {
                for (j, q) in after.iter().enumerate().filter(|(j, _)| *j != i) {
                    if q.kind == (Kind::Tint { accent: 0, of: p.number }) || matches!(q.kind, Kind::Tint { .. }) {
                        continue;
                    }
                    let asked = p.clearance.max(q.clearance) - MEASURE;
                    for copy in &flats[j] {
                        let apart = flats[i][1].distance(copy, asked);
                        prop_assert!(apart.is_none(), "{} and {}: {apart:?}", p.number, q.number);
                    }
                }
            }
        }
    }
}
