//! Scenes for the accent fill: a cup and invented motifs, drawn from a seed.

use frusta::base::diag::KeyPath;
use frusta::base::frame::{Plane, Point, Rigid};
use frusta::base::random::Random;
use frusta::base::units::{Angle, Mm, Seed};
use frusta::make::accent::FillTask;
use frusta::make::cup::{Development, Frustum, WallPoint, Zone};
use frusta::make::free_area::{FreeArea, Obstacle};
use frusta::outline::{Clearance, FillRule, Region};
use frusta::read::job::{AccentSpec, Adapt, Edge, Family, FilmId, Pass, ShareBy, SpotShape, SpotTurn};
use std::f64::consts::TAU;

/// What a scene is made of.
#[derive(Clone, Copy, Debug)]
pub struct Scene {
    pub rim: f64,
    pub base: f64,
    pub tall: f64,
    pub bands: (f64, f64),
    /// Motifs asked for; fewer where they do not fit.
    pub motifs: usize,
    pub sizes: (f64, f64),
    pub clearance: f64,
    pub seed: u64,
}

/// The cup of the notes: 86 mm rim, 66 mm base, 165 mm tall; about 30 motifs of 16 to 50 mm, about 15,600
/// mm2.
pub const HARVEST: Scene = Scene {
    rim: 86.0,
    base: 66.0,
    tall: 165.0,
    bands: (10.0, 6.0),
    motifs: 30,
    sizes: (16.0, 50.0),
    clearance: 2.0,
    seed: 11,
};

impl Scene {
    /// The cup.
    pub fn development(&self) -> Development {
        let (dr, h) = ((self.rim - self.base) / 2.0, self.tall);
        let slant = Mm((dr * dr + h * h).sqrt());
        let girth = |d: f64| Mm(d * TAU / 2.0);
        Development::new(Frustum { upper: girth(self.rim), lower: girth(self.base), slant })
    }
    /// The room: motifs placed largest first at random places that are free.
    pub fn room(&self) -> FreeArea {
        let development = self.development();
        let f = *development.frustum();
        let zone = Zone {
            low: Mm(self.bands.1),
            high: f.slant - Mm(self.bands.0),
            seam: Angle::degrees(180.0),
            seam_open: false,
            handles: Vec::new(),
            edges: [false; 2],
            smooth: false,
        };
        let mut random = Random::new(Seed(self.seed), "scene", 0);
        let mut sizes: Vec<f64> = (0..self.motifs)
            .map(|i| {
                let t = i as f64 / (self.motifs.max(2) - 1) as f64;
                self.sizes.1 * (self.sizes.0 / self.sizes.1).powf(t)
            })
            .collect();
        sizes.sort_by(|a, b| b.total_cmp(a));
        let mut placed: Vec<(Region<Plane>, Vec<Clearance<Plane>>)> = Vec::new();
        for size in sizes {
            let shape = motif(&mut random, size);
            for _ in 0..4000 {
                let (a, s) = (random.between(-TAU / 2.0, TAU / 2.0), random.between(zone.low.0, zone.high.0));
                let at = development.develop(WallPoint { azimuth: Angle::radians(a), slant: Mm(s) });
                let pose: Rigid<Plane, Plane> = Rigid::new(Angle::radians(random.between(0.0, TAU)), at);
                let region = shape.moved(&pose);
                let flat = region.flat(Mm(0.02));
                let inside = flat.rings.iter().flatten().all(|p| {
                    let w = development.wrap(Point::mm(p[0], p[1]));
                    w.slant.0 > zone.low.0 + 1.0 && w.slant.0 < zone.high.0 - 1.0
                });
                if !inside {
                    continue;
                }
                let me = Clearance::new(flat.clone());
                let free = placed
                    .iter()
                    .all(|(_, copies)| copies.iter().all(|c| c.distance(&me, Mm(self.clearance)).is_none()));
                if free {
                    let copies =
                        (-1..=1).map(|n| Clearance::new(flat.moved(&development.turned(n)))).collect();
                    placed.push((region, copies));
                    break;
                }
            }
        }
        let obstacles = placed
            .into_iter()
            .map(|(region, _)| Obstacle { region, clearance: Mm(self.clearance), pass: 0 })
            .collect();
        FreeArea { development, zone, zone_number: 0, obstacles }
    }
}

/// An invented motif: a wavy outline, some like flowers, some like leaves and stones.
fn motif(random: &mut Random, size: f64) -> Region<Plane> {
    let petals = [0.0, 3.0, 5.0, 6.0, 8.0][random.below(5)];
    let depth = if petals == 0.0 { 0.0 } else { random.between(0.08, 0.22) };
    let (a2, a3) = (random.between(0.0, 0.12), random.between(0.0, 0.1));
    let aspect = random.between(0.6, 1.0);
    let lean = random.between(0.0, TAU);
    let corners: Vec<[f64; 2]> = (0..120)
        .map(|i| {
            let t = TAU * f64::from(i) / 120.0;
            let r = 1.0
                + depth * libm::cos(petals * t)
                + a2 * libm::cos(2.0 * t + lean)
                + a3 * libm::cos(3.0 * t + 2.0 * lean);
            [r * libm::cos(t), aspect * r * libm::sin(t)]
        })
        .collect();
    let raw: Region<Plane> = Region::polygon(&corners);
    let b = raw.bounds();
    let long = b.width().0.max(b.height().0);
    let centred: Rigid<Plane, Plane> = Rigid::new(Angle::ZERO, Point::mm(-b.centre().x, -b.centre().y));
    Region::filled(raw.moved(&centred).scaled(size / long).contours().iter().cloned(), FillRule::NonZero)
}

/// Wishes for a fill of families.
pub fn wishes(families: &[&str], adapt: Adapt) -> AccentSpec {
    AccentSpec {
        shapes: families.iter().map(|f| SpotShape::Family(Family::named(f).expect("a family"))).collect(),
        shares: vec![1.0 / families.len().max(1) as f64; families.len()],
        smallest: Mm(4.0),
        largest: Mm(16.0),
        gap: Mm(2.0),
        films: vec![(FilmId(0), 0.6), (FilmId(1), 0.4)],
        adapt,
        turn: SpotTurn::Free,
        polish: false,
        share_by: ShareBy::Count,
        edge: Edge::Straight,
        pass: Pass::default(),
    }
}

/// A fill without outlines of the maker's own.
pub fn task<'a>(room: &'a FreeArea, spec: &'a AccentSpec, seed: u64, at: &'a KeyPath) -> FillTask<'a> {
    FillTask { room, spec, own: &[], weed: Mm(0.8), seed: Seed(seed), accent: 0, at }
}
