//! Panels of several films on one carrier. Truths: the note's least number of panels of the demonstration, the same
//! wall laid singly, exhaustive search on tiny walls, plans that are damaged in known ways.

use frusta::base::random::Random;
use frusta::base::units::{Mm, Seed};
use frusta::make::cup::{Development, Frustum};
use frusta::make::panel::near::{Lying, near};
use frusta::make::panel::split::{Seconds, Split, Terms, at_border};
use frusta::make::piece::Kind;
use frusta::make::plan::Plan;
use frusta::make::verify::verify;
use frusta::outline::Flat;
use frusta::read::job::FilmId;
use frusta::read_job;
use std::collections::BTreeSet;

fn job(lay: [&str; 2], more: &str) -> String {
    let film =
        |name: &str, lay: &str| format!("[[film]]\nname = \"{name}\"\nsheet = [300, 200]\nlay = \"{lay}\"\n");
    format!(
        "[cup]\nrings = [{{ up = 0, girth = 200 }}, {{ up = 100, girth = 240 }}]\nwall = 100\n{}{}\
        [[motif]]\nart = \"leaf.svg\"\nwidth = 25\nfilm = \"red\"\ncopies = 3\n\
        [[accent]]\nfamily = \"pebble\"\nsmallest = 6\nlargest = 9\ngap = 1.8\nfilms = {{ blue = 1, red = 1 }}\n{more}",
        film("blue", lay[0]),
        film("red", lay[1]),
    )
}

const TRUE_MARKS: &str = "[gathered]\nread = 0.2\non-carrier = 0.1\n";

fn planned(text: &str) -> Plan {
    super::planned::planned(text, &super::planned::leaf()).expect("a sound job")
}

/// Truth: the same wall laid singly. Every piece is where it was, in one laying at most; parts of a panel lie on one
/// carrier; what is told of layings, films taken up and gaps is counted anew.
#[test]
fn the_wall_is_the_same_and_every_piece_is_laid_once() {
    let plan = planned(&job(["gathered"; 2], TRUE_MARKS));
    let singly = planned(&job(["singly"; 2], ""));
    let wall = |p: &Plan| p.pieces.iter().map(|p| (p.number, p.film, p.wall)).collect::<Vec<_>>();
    assert_eq!(wall(&plan), wall(&singly));
    let panels = &plan.panels;
    let members: Vec<u32> = panels.list.iter().flat_map(|p| &p.members).map(|m| m.number).collect();
    assert_eq!(members.iter().collect::<BTreeSet<_>>().len(), members.len());
    assert!(members.len() * 10 > plan.pieces.len() * 7, "{} of {}", members.len(), plan.pieces.len());
    let layings: Vec<_> = panels.layings().collect();
    assert!(layings.len() >= 4 && panels.list.len() > layings.len());
    for laid in &layings {
        let parts = panels.parts(laid);
        assert!(
            parts.iter().all(|p| p.pose == laid.pose && p.marks == laid.marks && p.carrier == laid.carrier)
        );
        let order: Vec<usize> = parts.iter().filter_map(|p| p.part).map(|p| p.nth).collect();
        assert_eq!(order, (1..=parts.len()).collect::<Vec<_>>());
        assert_eq!(parts.iter().map(|p| p.film).collect::<BTreeSet<_>>().len(), parts.len());
    }
    let taken = layings.iter().map(|p| panels.parts(p).len()).filter(|n| *n > 1).sum::<usize>();
    assert_eq!(panels.gatherings(), taken);
    let (all, carried) = (panels.narrowest.expect("told"), panels.on_carrier.expect("told"));
    assert!(all.left >= Mm(0.4) && carried.left >= all.left && carried.left < carried.gap);
    verify(plan).expect("kept");
}

/// What the kit tells in hours: as much as its layings and films taken up at the rates say more than none would.
#[test]
fn the_account_counts_layings_and_films_taken_up() {
    let times = |panel: f64, gather: f64| {
        format!(
            "{TRUE_MARKS}[finish]\n[[finish.step]]\ndo = \"film\"\n[finish.times]\nplace = \"20 s\"\npanel = \"{panel} s\"\n\
             gather = \"{gather} s\"\n"
        )
    };
    let plan = planned(&job(["gathered"; 2], &times(90.0, 45.0)));
    let panels = &plan.panels;
    let laid: usize = panels.list.iter().map(|p| p.members.len()).sum();
    let singles = plan.on_wall().count() - laid;
    let by_hand = 20.0 * singles as f64
        + 90.0 * panels.layings().count() as f64
        + 45.0 * panels.gatherings() as f64
        + plan
            .sheets
            .iter()
            .map(|s| frusta::make::film::bill::tally(s, &plan.job.films[s.film.0]).weed_seconds)
            .sum::<f64>();
    let step = plan.finish.steps.iter().find(|s| s.kind.name() == "film").expect("a film step");
    // Cutting a sheet takes ten minutes.
    let told = f64::from(step.each.0) - 10.0 * plan.sheets.len() as f64;
    assert_eq!(told, (by_hand / 60.0).ceil(), "{by_hand} s");
}

/// Each damage of a sound plan is found.
#[test]
fn damaged_carriers_are_found() {
    let sound = planned(&job(["gathered"; 2], TRUE_MARKS));
    verify(sound.clone()).expect("sound");
    type Damage = fn(&mut Plan);
    let damages: [(&str, Damage); 4] = [
        ("marks in another order", |plan| {
            let i = plan.panels.list.iter().position(|p| p.part.is_some_and(|p| p.nth == 2)).unwrap();
            plan.panels.list[i].marks.swap(0, 1);
        }),
        ("taken up twice first", |plan| {
            let i = plan.panels.list.iter().position(|p| p.part.is_some_and(|p| p.nth == 2)).unwrap();
            plan.panels.list[i].part.as_mut().unwrap().nth = 1;
        }),
        ("a part of another panel", |plan| {
            let i = plan.panels.list.iter().position(|p| p.part.is_some_and(|p| p.nth == 2)).unwrap();
            let n = plan.panels.list[i].number;
            plan.panels.list[i].number = if n == 1 { 2 } else { 1 };
        }),
        ("a border that is not there", |plan| {
            plan.job.films.iter_mut().for_each(|f| f.cut.lay.panel.border = Mm(6.0));
        }),
    ];
    for (what, damage) in damages {
        let mut plan = sound.clone();
        damage(&mut plan);
        assert!(verify(plan).is_err(), "{what} went unnoticed");
    }
}

/// Marks that are missed by more than the gaps bear are refused, with the gap that would do; it does.
#[test]
fn gaps_that_could_close_are_refused_with_the_gap_that_would_do() {
    let text = job(["gathered"; 2], "[gathered]\nread = 0.3\non-carrier = 0.5\n");
    let (plan, told) = super::planned::run(&text, &super::planned::leaf(), frusta::Effort::Quick);
    assert!(plan.is_none());
    let d = told.iter().find(|d| d.code.id == "panel/gap-too-narrow").expect("refused");
    let wanted: f64 = d.help.split(' ').nth(3).and_then(|w| w.parse().ok()).expect("a gap");
    let wider = text
        .replace("gap = 1.8", &format!("gap = {:.2}", wanted + 0.8))
        .replace("copies = 3", "copies = 3\nclearance = 4");
    let (plan, told) = super::planned::run(&wider, &super::planned::leaf(), frusta::Effort::Quick);
    assert!(plan.is_some(), "{told:?}");
}

/// What is asked in vain, or by one film alone, is told at its place.
#[test]
fn gathering_is_asked_for_by_two_films() {
    let faults = |lay: [&str; 2], more: &str| -> Vec<String> {
        let all = read_job(&job(lay, more)).diagnostics.into_vec();
        all.iter().map(|d| format!("{} {}", d.code.id, d.at)).collect()
    };
    assert_eq!(faults(["gathered", "gathered"], TRUE_MARKS), Vec::<String>::new());
    assert_eq!(faults(["gathered", "gathered"], ""), Vec::<String>::new());
    assert_eq!(faults(["panels", "gathered"], ""), ["job/one-of film[1].lay"]);
    assert_eq!(faults(["panels", "woven"], TRUE_MARKS), ["job/one-of gathered"]);
    assert_eq!(
        faults(["gathered", "gathered"], "[gathered]\nborder = 0.1\nlargest = [60, 500]\n"),
        ["job/out-of-range gathered.border", "job/out-of-range gathered.largest"]
    );
    let third = "[[film]]\nname = \"gathered\"\nsheet = [300, 200]\nlay = \"panels\"\n";
    assert_eq!(faults(["gathered", "gathered"], third), ["job/one-of film[2].name"]);
}

fn shared(all: &[Lying], d: &Development, seconds: Seconds, border: f64) -> (Split, f64) {
    let near = near(all, d, Mm(10.0));
    let terms = Terms { size: [Mm(60.0), Mm(80.0)], border: Mm(border), seconds };
    let got = at_border(all, &near, d, &terms, border, &mut Random::new(Seed(1912), "panels", 0));
    let of = |i: usize| got.panels.iter().position(|p| p.iter().any(|m| m.0 == i));
    let between = near.iter().filter(|n| of(n.pair[0]).zip(of(n.pair[1])).is_some_and(|(a, b)| a != b));
    let least = between.map(|n| n.gap).fold(f64::INFINITY, f64::min);
    (got, least)
}

/// All films of the demonstration in panels of 60 x 80 mm: 12 hold every piece, 36 films taken up (both as found with a
/// constraint solver); at 90 s a panel, 45 s a film and 22 s a piece no more than 46.5 minutes with the decal's layers;
/// borders as wide as the gap of the fill.
#[test]
fn the_demonstration_is_gathered_in_twelve_panels() {
    let plan = super::panels::demonstration();
    let d = &plan.cup.lowest().development;
    let own = plan.on_wall().filter(|p| !matches!(p.kind, Kind::Layer { .. }));
    let all: Vec<Lying> = own.map(|p| Lying::new(p, d)).collect();
    let films = |split: &Split| -> usize {
        let of = |p: &Vec<(usize, i32)>| p.iter().map(|m| all[m.0].film).collect::<BTreeSet<_>>().len();
        split.panels.iter().map(of).sum()
    };
    let (got, least) = shared(&all, d, Seconds { panel: 1.0, piece: 1e6, part: 0.0 }, 1.0);
    println!(
        "fewest: {} panels, {} films, {} singles, border {least:.2}",
        got.panels.len(),
        films(&got),
        got.singles.len()
    );
    assert!(got.panels.len() <= 12 && films(&got) <= 36 && got.singles.is_empty() && least >= 1.2);
    let (got, least) = shared(&all, d, Seconds { panel: 90.0, piece: 22.0, part: 45.0 }, 1.0);
    let minutes = (got.cost + 4.0 * 22.0) / 60.0;
    println!(
        "at the rates: {} panels, {} films, {} singles, {minutes:.1} min, border {least:.2}",
        got.panels.len(),
        films(&got),
        got.singles.len()
    );
    assert!(minutes <= 46.5 && least >= 1.2, "{minutes:.1} min, border {least:.2}");
}

/// Tiny walls of three films at rates of a maker: what is found takes no less than the least of all ways to share the
/// pieces out, and on all walls together no more than a twentieth over it.
#[test]
fn tiny_walls_of_several_films_are_near_exhaustive_search() {
    let d = Development::new(Frustum { upper: Mm(600.0), lower: Mm(600.0), slant: Mm(200.0) });
    let cases: u64 = std::env::var("FRUSTA_CASES").ok().and_then(|c| c.parse().ok()).unwrap_or(40);
    let (size, seconds) = ([40.0, 40.0], Seconds { panel: 30.0, piece: 22.0, part: 10.0 });
    let (mut sum, mut sum_least, mut several) = (0.0, 0.0, 0);
    for seed in 0..cases {
        let mut random = Random::new(Seed(seed), "tiny films", 0);
        let n = 4 + random.below(4);
        let mut boxes: Vec<([f64; 2], [f64; 2], usize)> = Vec::new();
        while boxes.len() < n {
            let at = [random.between(0.0, 45.0), random.between(0.0, 45.0)];
            let side = [random.between(3.0, 12.0), random.between(3.0, 12.0)];
            if boxes.iter().all(|b| (0..2).any(|k| at[k] > b.0[k] + b.1[k] || b.0[k] > at[k] + side[k])) {
                boxes.push((at, side, random.below(3)));
            }
        }
        let lying = |(i, b): (usize, &([f64; 2], [f64; 2], usize))| {
            let ([x, y], [w, h]) = (b.0, b.1);
            let ring = vec![[x, y], [x + w, y], [x + w, y + h], [x, y + h]];
            Lying { film: FilmId(b.2), ..Lying::of(i as u32 + 1, Flat::new(vec![ring], Mm(0.0)), &d) }
        };
        let all: Vec<Lying> = boxes.iter().enumerate().map(lying).collect();
        let terms = Terms { size: size.map(Mm), border: Mm(0.0), seconds };
        let near = near(&all, &d, Mm(10.0));
        let got = at_border(&all, &near, &d, &terms, 0.0, &mut Random::new(Seed(3), "test", 0));
        let least = least_time(&boxes, size, seconds);
        assert!(got.cost >= least - 1e-9, "seed {seed}: {} s, {least} is the least", got.cost);
        sum += got.cost;
        sum_least += least;
        let of = |p: &Vec<(usize, i32)>| p.iter().map(|m| all[m.0].film).collect::<BTreeSet<_>>().len();
        several += got.panels.iter().filter(|p| of(p) > 1).count();
    }
    println!("{sum} s, {sum_least} s the least; {several} panels of several films");
    assert!(several > 10 && sum <= 1.05 * sum_least, "{sum} s of {sum_least}");
}

/// The least seconds of all set partitions: a part is a panel, if it fits, or its pieces are laid one by one.
fn least_time(boxes: &[([f64; 2], [f64; 2], usize)], size: [f64; 2], seconds: Seconds) -> f64 {
    fn go(
        boxes: &[([f64; 2], [f64; 2], usize)],
        of: &mut Vec<usize>,
        cost: &dyn Fn(&[usize]) -> f64,
        least: &mut f64,
    ) {
        if of.len() == boxes.len() {
            *least = least.min(cost(of));
            return;
        }
        for part in 0..=of.iter().max().map_or(0, |m| m + 1) {
            of.push(part);
            go(boxes, of, cost, least);
            of.pop();
        }
    }
    let cost = |of: &[usize]| -> f64 {
        let parts = of.iter().max().map_or(0, |m| m + 1);
        let one = |part: usize| {
            let own: Vec<_> = (0..boxes.len()).filter(|i| of[*i] == part).map(|i| &boxes[i]).collect();
            let fits = (0..2).all(|k| {
                let low = own.iter().map(|b| b.0[k]).fold(f64::INFINITY, f64::min);
                let high = own.iter().map(|b| b.0[k] + b.1[k]).fold(f64::NEG_INFINITY, f64::max);
                high - low <= size[k]
            });
            let films = own.iter().map(|b| b.2).collect::<BTreeSet<_>>().len();
            let taken = if films > 1 { seconds.part * films as f64 } else { 0.0 };
            let singly = seconds.piece * own.len() as f64;
            if fits { singly.min(seconds.panel + taken) } else { singly }
        };
        (0..parts).map(one).sum()
    };
    let mut least = f64::INFINITY;
    go(boxes, &mut Vec::new(), &cost, &mut least);
    least
}
