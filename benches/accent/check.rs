//! Random scenes, filled and measured again by another method: all pairs of flattened curves over three seam
//! copies.

use crate::accent_scene::{Scene, task, wishes};
use frusta::base::diag::{Diagnostics, KeyPath};
use frusta::base::frame::{Plane, Point};
use frusta::base::random::Random;
use frusta::base::tolerance::{FLATTEN, MEASURE};
use frusta::base::units::{Mm, Seed};
use frusta::make::accent::{Fill, fill};
use frusta::make::free_area::FreeArea;
use frusta::outline::{Bounds, Clearance, Region};
use frusta::read::job::{AccentSpec, Adapt};

/// Fills this many scenes: steep and nearly straight cups, wider at the base too, crowded and sparse, gaps 1
/// to 4 mm.
pub fn scenes(count: u64) {
    let (mut spots, mut broken, mut least, mut narrow, mut undecided, mut added) =
        (0, 0, f64::INFINITY, f64::INFINITY, 0, 0);
    let all = ["pebble", "blob", "bean", "seed", "drop", "crescent", "ring", "star-flower", "petal"];
    for i in 0..count {
        let mut r = Random::new(Seed(i), "scenes", 0);
        let base = r.between(40.0, 80.0);
        let taper =
            [r.between(-0.02, 0.02), r.between(0.1, 0.35), r.between(-0.3, -0.05), r.between(0.4, 0.9)];
        let tall = r.between(50.0, 130.0);
        let rim = (base + tall * taper[r.below(4)]).max(35.0);
        let scene = Scene {
            rim,
            base,
            tall,
            bands: (r.between(2.0, 12.0), r.between(2.0, 12.0)),
            motifs: [0, 3, 8, 20][r.below(4)],
            sizes: (12.0, r.between(20.0, 45.0)),
            clearance: r.between(0.5, 5.0),
            seed: i,
        };
        let room = scene.room();
        let adapt = [Adapt::AsDrawn, Adapt::Flex(0.15), Adapt::Flex(0.3), Adapt::Mosaic][r.below(4)];
        let families = [all[r.below(9)], all[r.below(9)]];
        let largest = r.between(10.0, 18.0);
        let spec =
            AccentSpec { gap: Mm(r.between(1.0, 4.0)), largest: Mm(largest), ..wishes(&families, adapt) };
        let mut diagnostics = Diagnostics::new();
        let f = fill(&task(&room, &spec, i, &KeyPath::of("accent")), &mut diagnostics);
        let (margin, width) = worst(&room, &spec, &f);
        spots += f.spots.len();
        undecided += f.saturation.undecided;
        added += f.saturation.added;
        least = least.min(margin);
        narrow = narrow.min(width);
        if f.saturation.undecided > 0 {
            println!("scene {i}: {:?}, gap {:.2}, {families:?} {adapt:?}", f.saturation, spec.gap.get());
        }
        if margin < -MEASURE.get() || width < 1.2 {
            broken += 1;
            println!(
                "scene {i}: {margin:.4} mm short, narrowest {width:.3}, {families:?} {adapt:?} {scene:?}"
            );
        }
        if (i + 1) % 100 == 0 || i + 1 == count {
            let done = i + 1;
            println!(
                "{done} scenes, {spots} spots: {broken} broken; least spare {least:.4} mm, narrowest \
                    {narrow:.3} mm; proofs added {added}, undecided {undecided}"
            );
        }
    }
}

/// Worst of (distance - distance asked for) over all pairs and the bands; narrowest place of any outline.
pub fn worst(room: &FreeArea, spec: &AccentSpec, fill: &Fill) -> (f64, f64) {
    let d = &room.development;
    let mut margin = f64::INFINITY;
    let mut narrow = f64::INFINITY;
    let spots: Vec<Vec<(Bounds<Plane>, Clearance<Plane>)>> = fill
        .spots
        .iter()
        .map(|s| {
            let tint = s.tint.iter().map(|t| &t.1);
            let whole = Region::gathered(std::iter::once(&s.outline).chain(tint)).moved(&s.pose);
            narrow = narrow.min(frusta::make::accent::narrowest(&s.outline).get());
            // By the kernel's finder, which walks on the exact curves.
            if let Some(least) = s.outline.narrow(Mm(1.2)).iter().map(|n| n.width.get()).reduce(f64::min) {
                narrow = narrow.min(least);
            }
            let flat = whole.flat(FLATTEN);
            for p in flat.rings.iter().flatten() {
                let s = d.wrap(Point::mm(p[0], p[1])).slant;
                margin = margin.min((s - room.zone.low).min(room.zone.high - s).get() - spec.gap.get());
            }
            copies(room, &flat)
        })
        .collect();
    let still: Vec<_> = room
        .obstacles
        .iter()
        .map(|o| (copies(room, &o.region.flat(FLATTEN)), o.clearance.max(spec.gap)))
        .collect();
    for (i, me) in spots.iter().enumerate() {
        let others = spots[..i].iter().map(|b| (b, spec.gap)).chain(still.iter().map(|(o, c)| (o, *c)));
        for (other, asked) in others {
            for (bounds, copy) in other {
                if me[1].0.distance(bounds) < asked + Mm(0.5)
                    && let Some(near) = me[1].1.distance(copy, asked + Mm(0.5))
                {
                    margin = margin.min((near - asked).get());
                }
            }
        }
        // Its own copies too.
        for n in [0, 2] {
            if let Some(near) = me[1].1.distance(&me[n].1, spec.gap) {
                margin = margin.min((near - spec.gap).get());
            }
        }
    }
    (margin, narrow)
}

fn copies(room: &FreeArea, flat: &frusta::outline::Flat<Plane>) -> Vec<(Bounds<Plane>, Clearance<Plane>)> {
    (-1..=1)
        .map(|n| flat.moved(&room.development.turned(n)))
        .map(|f| (f.bounds(), Clearance::new(f)))
        .collect()
}
