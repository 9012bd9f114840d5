//! Two plain ways to fill a wall, to compare with: darts with a distance field, and maximal Poisson-disk
//! discs.

use frusta::base::frame::{Art, Plane, Point};
use frusta::base::random::Random;
use frusta::base::tolerance::FLATTEN;
use frusta::base::units::{Angle, Mm, Seed};
use frusta::make::accent::{Fill, Saturation, Spot};
use frusta::make::cup::WallPoint;
use frusta::make::free_area::FreeArea;
use frusta::outline::{Bounds, Clearance, Region};
use frusta::read::job::{AccentSpec, FilmId, WallPose};

/// Distance from places of the wall to motifs, bands and discs, over the seam.
struct Wall<'a> {
    room: &'a FreeArea,
    still: Vec<(Bounds<Plane>, Clearance<Plane>)>,
    discs: Vec<(Point<Plane>, f64)>,
}

impl<'a> Wall<'a> {
    fn new(room: &'a FreeArea) -> Wall<'a> {
        let copies = |r: &Region<Plane>| {
            let flat = r.flat(FLATTEN);
            (-1..=1)
                .map(|n| flat.moved(&room.development.turned(n)))
                .map(|f| (f.bounds(), Clearance::new(f)))
                .collect::<Vec<_>>()
        };
        Wall {
            room,
            still: room.obstacles.iter().flat_map(|o| copies(&o.region)).collect(),
            discs: Vec::new(),
        }
    }
    /// Distance to the nearest, at most `cap`; 0 inside.
    fn free(&self, at: WallPoint, cap: f64) -> f64 {
        let p = self.room.development.develop(at);
        let mut best =
            cap.min((at.slant - self.room.zone.low).get()).min((self.room.zone.high - at.slant).get());
        for (c, r) in &self.discs {
            best = best.min(c.distance(p).get() - r);
        }
        let spot = Bounds { min: p, max: p };
        for (bounds, c) in &self.still {
            if bounds.distance(&spot).get() < best {
                if c.contains(p) {
                    return 0.0;
                }
                best = c.nearest(p, Mm(best)).map_or(best, |n| n.distance.get());
            }
        }
        best
    }
    fn put(&mut self, at: WallPoint, radius: f64) -> Spot {
        let d = &self.room.development;
        for n in -1..=1 {
            self.discs.push((d.turned(n).apply(d.develop(at)), radius));
        }
        let wall = WallPose { azimuth: at.azimuth, slant: at.slant, turn: Angle::ZERO };
        let outline: Region<Art> = Region::disc(Point::mm(0.0, 0.0), Mm(radius));
        Spot {
            zone: 0,
            hull: outline.clone(),
            outline,
            wall,
            pose: d.pose(wall),
            film: FilmId(0),
            name: "disc".into(),
            tint: vec![],
        }
    }
}

/// Darts: random places; each takes the largest disc that the distance there allows.
/// With `equal`, all discs have the smallest size and darts go on until 20,000 in a row have missed: maximal
/// in practice.
pub fn darts(room: &FreeArea, spec: &AccentSpec, equal: bool) -> Fill {
    let (least, most) = (spec.smallest.get() / 2.0, spec.largest.get() / 2.0);
    let most = if equal { 1.25 * least } else { most };
    let mut random = Random::new(Seed(1), "darts", 0);
    let mut wall = Wall::new(room);
    let (mut spots, mut missed) = (Vec::new(), 0);
    while missed < 20_000 {
        let azimuth = Angle::radians(random.between(-std::f64::consts::PI, std::f64::consts::PI));
        let at = WallPoint { azimuth, slant: Mm(random.between(room.zone.low.get(), room.zone.high.get())) };
        let radius = wall.free(at, most + spec.gap.get()) - spec.gap.get();
        if radius >= least {
            spots.push(wall.put(at, if equal { least } else { radius }));
            missed = 0;
        } else {
            missed += 1;
        }
    }
    Fill { spots, saturation: Saturation::default() }
}
