//! A plan built by hand for the tests of the writers: three films (one mirrored), motifs with holes, spots, a
//! piece over the seam, a spare.
//!
//! Imports: base, read::job, make.

use crate::base::frame::{Art, Point};
use crate::base::units::{Angle, LengthUnit, Mm, Seed};
use crate::make::cup::{self, Cup, Frustum};
use crate::make::film::{Placed, SheetLayout};
use crate::make::piece::{Kind, Piece};
use crate::make::plan::{Plan, StageReport};
use crate::make::verify::Verified;
use crate::outline::{BezPath, Bounds, Op, Region};
use crate::read::job::{
    CupSpec, FilmId, FilmSpec, Grain, Job, KeepClear, PrintSpec, Rgb, Ring, Sheen, Stock, WallPose,
};

fn spec(upper: f64, lower: f64, slant: f64, seam: f64) -> CupSpec {
    CupSpec {
        rings: vec![Ring::once(Mm::ZERO, Mm(lower)), Ring::once(Mm(slant), Mm(upper))],
        wall: Mm(slant),
        tape: Mm(0.5),
        marks: Mm::ZERO,
        common: Mm::ZERO,
        keep_clear: KeepClear { rim: Mm(slant * 0.12), base: Mm(slant * 0.04) },
        seam: Angle::degrees(seam),
        seam_best: false,
        handles: Vec::new(),
        lap: Mm::ZERO,
        build_up: Mm::ZERO,
        capacity: None,
        trials: Vec::new(),
        curved: false,
        alike: None,
        outlines: Vec::new(),
        whole: Default::default(),
        beside_edges: Mm::ZERO,
    }
}

/// A cup of given circumferences.
pub fn cup(upper: f64, lower: f64, slant: f64, seam: f64) -> Cup {
    let f = Frustum { upper: Mm(upper), lower: Mm(lower), slant: Mm(slant) };
    let spec = spec(upper, lower, slant, seam);
    let mut faults = crate::base::diag::Diagnostics::new();
    let mut cup = cup::fit(&spec, &mut faults).expect("a plain cup");
    cup.zones[0].measured = f;
    cup.zones[0].surface = f;
    cup.zones[0].development = cup::Development::new(f);
    cup
}

fn film(name: &str, colour: [u8; 3], mirrored: bool) -> FilmSpec {
    FilmSpec {
        name: name.to_owned(),
        colour: Rgb(colour),
        stock: Stock::Sheet { width: Mm(200.0), height: Mm(150.0) },
        margin: Mm(6.0),
        spacing: Mm(2.0),
        weed: Mm(0.8),
        thickness: Mm(0.08),
        take_up: 0.01,
        mirrored,
        grain: Grain::Free,
        sheen: Sheen::Gloss,
        cut: Default::default(),
    }
}

/// A leaf with a slit along its middle and a round hole.
fn leaf(length: f64) -> Region<Art> {
    let mut p = BezPath::new();
    let (l, w) = (length / 2.0, length * 0.28);
    p.move_to((0.0, -l));
    p.curve_to((w * 1.4, -l * 0.5), (w, l * 0.5), (0.0, l));
    p.curve_to((-w, l * 0.5), (-w * 1.4, -l * 0.5), (0.0, -l));
    p.close_path();
    let whole = Region::trusted([p]);
    let hole = Region::disc(Point::mm(0.0, -l * 0.35), Mm(length * 0.08));
    let slit = Region::rectangle(Bounds {
        min: Point::mm(-length * 0.02, -l * 0.05),
        max: Point::mm(length * 0.02, l * 0.6),
    });
    whole.op(&hole, Op::Difference).op(&slit, Op::Difference)
}

/// An egg-like spot.
fn spot(length: f64) -> Region<Art> {
    let mut p = BezPath::new();
    let (l, w) = (length / 2.0, length * 0.34);
    p.move_to((0.0, -l));
    p.curve_to((w * 1.3, -l), (w * 1.2, l), (0.0, l));
    p.curve_to((-w * 1.2, l), (-w * 1.3, -l), (0.0, -l));
    p.close_path();
    Region::trusted([p])
}

fn centred(r: Region<Art>) -> Region<Art> {
    let c = r.bounds().centre();
    r.moved(&crate::base::frame::Rigid::new(Angle::ZERO, Point::mm(-c.x, -c.y)))
}

/// Pieces laid on shelves of sheets.
fn sheets(pieces: &[Piece], films: &[FilmSpec]) -> Vec<SheetLayout> {
    let mut out = Vec::new();
    for (i, f) in films.iter().enumerate() {
        let Stock::Sheet { width, height } = f.stock else { continue };
        let fresh = |index| SheetLayout {
            repeat: Default::default(),
            film: FilmId(i),
            index,
            width,
            height,
            mirrored: f.mirrored,
            placed: Vec::new(),
            stock: Default::default(),
            aids: Default::default(),
        };
        let (mut x, mut y, mut shelf) = (8.0, 8.0, 0.0f64);
        let mut sheet = fresh(1);
        let own = pieces.iter().filter(|p| p.film == FilmId(i));
        let first = own.clone().take(1).map(|p| (p, true));
        for (p, spare) in own.map(|p| (p, false)).chain(first) {
            let b = p.outline.bounds();
            if x + b.width().0 > width.0 - 8.0 {
                (x, y, shelf) = (8.0, y + shelf + 2.5, 0.0);
            }
            if y + b.height().0 > height.0 - 8.0 {
                out.push(std::mem::replace(&mut sheet, fresh(out.len() + 1)));
                (x, y, shelf) = (8.0, 8.0, 0.0);
            }
            let at = Point::mm(x + b.width().0 / 2.0, y + b.height().0 / 2.0);
            let pose = crate::base::frame::Rigid::new(Angle::ZERO, at);
            let mut placed = Placed { number: p.number, cup: 0, pose, spare, cuts: Region::empty() };
            placed.cuts = holes_first(sheet.outline(p, &pose));
            x += b.width().0 + 2.5;
            shelf = shelf.max(b.height().0);
            sheet.placed.push(placed);
        }
        out.push(sheet);
        let of_film = out.iter_mut().filter(|s| s.film == FilmId(i));
        of_film.enumerate().for_each(|(n, s)| s.index = n + 1);
    }
    out
}

fn holes_first<F: crate::base::frame::Frame>(r: Region<F>) -> Region<F> {
    let mut c = r.into_contours();
    c.reverse();
    Region::trusted(c)
}

/// Leaves in two rows, and seeds wherever they are clear of them.
fn pieces(cup: &Cup) -> Vec<Piece> {
    let mut pieces: Vec<Piece> = Vec::new();
    let mut add = |kind, name: &str, film, outline: Region<Art>, azimuth: f64, slant: f64, turn: f64| {
        let outline = centred(outline);
        let wall = WallPose {
            azimuth: Angle::degrees(azimuth).wrapped(),
            slant: Mm(slant),
            turn: Angle::degrees(turn),
        };
        let pose = cup.zones[0].development.pose(wall);
        let number = pieces.len() as u32 + 1;
        let name = name.to_owned();
        pieces.push(Piece {
            number,
            kind,
            name,
            film: FilmId(film),
            outline,
            zone: 0,
            wall,
            pose,
            clearance: Mm(0.8),
            keys: Region::empty(),
        });
    };
    for i in 0..12 {
        let (azimuth, slant) = (f64::from(i) * 30.0 + 1.0, if i % 2 == 0 { 50.0 } else { 105.0 });
        let kind = Kind::Motif { motif: 0, copy: i as usize };
        add(kind, "leaf", (i % 2) as usize, leaf(40.0), azimuth, slant, f64::from(i % 3) * 12.0 - 12.0);
    }
    for row in 0..12 {
        for i in 0..24 {
            let (azimuth, slant) = (f64::from(i) * 15.0 + 8.5, 14.0 + 11.0 * f64::from(row));
            let near = |j: i32| {
                let (a, s) = (f64::from(j) * 30.0 + 1.0, if j % 2 == 0 { 50.0 } else { 105.0 });
                let across = Angle::degrees(azimuth - a).wrapped().rad().abs()
                    * cup.zones[0].surface.radius(Mm(slant)).0;
                libm::hypot(across, (slant - s) * 0.62) < 17.0
            };
            if !(0..12).any(near) {
                let length = 4.0 + 0.35 * f64::from((i * 7 + row * 5) % 9);
                let turn = f64::from((i * 37 + row * 61) % 180);
                add(Kind::Spot { accent: 0 }, "seed", 2, spot(length), azimuth, slant, turn);
            }
        }
    }
    pieces
}

/// The plan: `seam` in degrees, `lap` in mm.
pub fn plan(seam: f64, lap: f64) -> Verified {
    let mut cup_spec = spec(270.177, 207.345, 165.3, seam);
    cup_spec.lap = Mm(lap);
    let cup = cup(270.177, 207.345, 165.3, seam);
    let films = vec![
        film("beet", [0x8e, 0x1c, 0x4a], false),
        film("leaf", [0x2f, 0x7d, 0x32], true),
        film("straw", [0xd9, 0xb4, 0x4a], false),
    ];
    let pieces = pieces(&cup);
    let sheets = sheets(&pieces, &films);
    let job = Job {
        title: "Prize cup of the harvest fair".to_owned(),
        date: Some("2026-09-12".to_owned()),
        unit: LengthUnit::Mm,
        seed: Seed(7),
        cup: cup_spec,
        films,
        decals: Vec::new(),
        sheets: Vec::new(),
        motifs: Vec::new(),
        picks: Vec::new(),
        accents: Vec::new(),
        finish: None,
        order: None,
        print: PrintSpec::default(),
        look: Default::default(),
        written: Default::default(),
    };
    let finish = crate::make::plan::sample::finished(&job, &cup, &pieces, &sheets);
    let stages = vec![StageReport { stage: "motif", counts: vec![("placed", 12)] }];
    Verified::unchecked(Plan {
        job,
        cup,
        decals: Vec::new(),
        pieces,
        sheets,
        panels: Default::default(),
        stock: Vec::new(),
        named: None,
        weak: Vec::new(),
        finish,
        diagnostics: Vec::new(),
        stages,
        kept: Default::default(),
    })
}

/// Writes the kit of the sample into the folder named by `FRUSTA_LOOK`, to be looked at.
#[test]
fn kit_to_look_at() {
    let Ok(folder) = std::env::var("FRUSTA_LOOK") else { return };
    let started = std::time::Instant::now();
    let kit = super::kit(&plan(180.0, 0.0)).expect("a kit");
    eprintln!("{:?}", started.elapsed());
    for f in kit.files {
        let path = std::path::Path::new(&folder).join(&f.path);
        std::fs::create_dir_all(path.parent().expect("a folder")).expect("made");
        std::fs::write(path, f.bytes).expect("written");
    }
}
