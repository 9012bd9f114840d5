//! Panels on the demonstration: the figures of the issue, and what becomes of gaps when panels lie off.

use frusta::base::random::Random;
use frusta::base::units::{Mm, Seed};
use frusta::make::panel::near::{Lying, near};
use frusta::make::panel::split::{Seconds, Split, Terms, at_border, split};
use frusta::make::piece::Kind;
use frusta::{InMemory, Plan};
use std::sync::OnceLock;

pub fn demonstration() -> &'static Plan {
    static PLAN: OnceLock<Plan> = OnceLock::new();
    PLAN.get_or_init(|| {
        let folder = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("demo-data/harvest-fair");
        let text = std::fs::read_to_string(folder.join("job.toml")).unwrap().replace("lay = \"woven\"\n", "");
        let art = std::fs::read_dir(folder.join("art")).unwrap().map(|f| {
            let f = f.unwrap();
            (format!("art/{}", f.file_name().to_string_lossy()), std::fs::read(f.path()).unwrap())
        });
        super::planned::planned(&text, &InMemory(art.collect())).expect("a sound job")
    })
}

/// The pieces of a film of the demonstration that go in panels.
fn film(name: &str) -> Vec<Lying> {
    let plan = demonstration();
    let d = &plan.cup.lowest().development;
    let id = plan.job.films.iter().position(|f| f.name == name).expect("a film");
    let own = plan.on_wall().filter(|p| p.film.0 == id && !matches!(p.kind, Kind::Layer { .. }));
    own.map(|p| Lying::new(p, d)).collect()
}

fn shared(name: &str, size: [f64; 2], seconds: [f64; 2], border: f64, widest: bool) -> (Split, f64) {
    let d = &demonstration().cup.lowest().development;
    let all = film(name);
    let near = near(&all, d, Mm(10.0));
    let [panel, piece] = seconds;
    let seconds = Seconds { panel, piece, part: 0.0 };
    let terms = Terms { size: size.map(Mm), border: Mm(border), seconds };
    let mut random = Random::new(Seed(1912), "panels", 0);
    let got = if widest {
        split(&all, &near, d, &terms, &mut random)
    } else {
        at_border(&all, &near, d, &terms, border, &mut random)
    };
    let of = |i: usize| got.panels.iter().position(|p| p.iter().any(|m| m.0 == i));
    let between = |n: &&frusta::make::panel::near::Near| {
        let (a, b) = (of(n.pair[0]), of(n.pair[1]));
        a.is_some() && b.is_some() && a != b
    };
    let least = near.iter().filter(between).map(|n| n.gap).fold(f64::INFINITY, f64::min);
    (got, least)
}

/// Fewest panels of 60 x 80 mm at a border of 2 mm: 9, 11, 9; leaf-green in 80 x 60: 9 with a border of 4.4 mm.
#[test]
fn the_demonstration_needs_as_few_panels_as_the_issue_says() {
    let every = [1.0, 1e6];
    for (name, most) in [("damson", 9), ("straw", 11), ("leaf-green", 9)] {
        let (got, least) = shared(name, [60.0, 80.0], every, 2.0, false);
        println!("{name}: {} panels, {} singles, border {least:.2}", got.panels.len(), got.singles.len());
        assert!(got.panels.len() <= most && least >= 2.0, "{name}: {}", got.panels.len());
    }
    let (got, least) = shared("leaf-green", [80.0, 60.0], every, 4.0, false);
    println!("leaf-green 80 x 60: {} panels, border {least:.2}", got.panels.len());
    assert!(got.panels.len() <= 9 && least >= 4.4, "{} {least}", got.panels.len());
}

/// At 90 s a panel and 22 s a piece: at most 37 layings with the four layers of the decal, and 42 minutes.
#[test]
fn the_demonstration_is_laid_in_a_third_of_the_time() {
    let (mut layings, mut seconds) = (4, 4.0 * 22.0);
    for name in ["damson", "straw", "leaf-green"] {
        let (got, least) = shared(name, [60.0, 80.0], [90.0, 22.0], 2.0, true);
        println!("{name}: {} panels, {} singles, border {least:.2}", got.panels.len(), got.singles.len());
        assert!(least >= 2.0);
        layings += got.panels.len() + got.singles.len();
        seconds += got.cost;
    }
    println!("{layings} layings, {:.1} min", seconds / 60.0);
    assert!(seconds / 60.0 <= 42.05 && layings <= 37, "{layings} layings, {:.1} min", seconds / 60.0);
}
