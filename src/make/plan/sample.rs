//! A small plan built by hand, for tests: discs on a tapered cup, each cut once.
//!
//! Imports: base, read::job, make.

use super::Plan;
use crate::base::frame::{Art, Point, Rigid, Sheet};
use crate::base::units::{Angle, LengthUnit, Mm, Seed};
use crate::make::cup::{Cup, fit};
use crate::make::film::{Placed, SheetLayout};
use crate::make::finish;
use crate::make::piece::{Kind, Piece};
use crate::outline::Region;
use crate::read::job::*;

pub(crate) fn film() -> FilmSpec {
    FilmSpec {
        name: "leaf".into(),
        colour: Rgb([10, 90, 60]),
        stock: Stock::Sheet { width: Mm(200.0), height: Mm(200.0) },
        margin: Mm(5.0),
        spacing: Mm(2.0),
        weed: Mm(1.0),
        thickness: Mm(0.08),
        take_up: 0.01,
        mirrored: false,
        grain: Grain::Free,
        sheen: Sheen::Gloss,
        cut: Default::default(),
    }
}

pub(crate) fn job() -> Job {
    let ring = |up, girth| Ring::once(Mm(up), Mm(girth));
    Job {
        title: "sample".into(),
        date: None,
        unit: LengthUnit::Mm,
        seed: Seed(1),
        cup: CupSpec {
            rings: vec![ring(0.0, 207.0), ring(165.0, 270.0)],
            wall: Mm(165.0),
            tape: Mm(0.5),
            marks: Mm::ZERO,
            common: Mm::ZERO,
            keep_clear: KeepClear { rim: Mm(20.0), base: Mm(6.0) },
            seam: Angle::degrees(180.0),
            seam_best: false,
            handles: vec![Handle {
                azimuth: Angle::degrees(90.0),
                width: Mm(20.0),
                from: Mm(40.0),
                to: Mm(100.0),
            }],
            lap: Mm::ZERO,
            build_up: Mm::ZERO,
            capacity: None,
            trials: Vec::new(),
            curved: false,
            alike: None,
            outlines: Vec::new(),
            whole: Default::default(),
            beside_edges: Mm::ZERO,
        },
        films: vec![film()],
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
    }
}

/// Discs of radius 6 mm at azimuths (degrees) and slants, each cut once, 20 mm apart on one sheet.
pub(crate) fn plan(at: &[(f64, f64)]) -> Plan {
    let job = job();
    let cup = fit(&job.cup, &mut crate::base::diag::Diagnostics::new()).expect("fits");
    let outline: Region<Art> = Region::disc(Point::ORIGIN, Mm(6.0));
    let (mut pieces, mut placed) = (Vec::new(), Vec::new());
    for (i, &(azimuth, slant)) in at.iter().enumerate() {
        let wall = WallPose { azimuth: Angle::degrees(azimuth), slant: Mm(slant), turn: Angle::ZERO };
        let number = i as u32 + 1;
        pieces.push(Piece {
            number,
            kind: Kind::Motif { motif: 0, copy: i },
            name: "disc".into(),
            film: FilmId(0),
            outline: outline.clone(),
            zone: 0,
            wall,
            pose: cup.zones[0].development.pose(wall),
            clearance: Mm(2.0),
            keys: Region::empty(),
        });
        let pose: Rigid<Art, Sheet> = Rigid::new(Angle::ZERO, Point::mm(20.0 + 20.0 * i as f64, 30.0));
        placed.push(Placed { number, cup: 0, pose, spare: false, cuts: outline.moved(&pose) });
    }
    let sheet = SheetLayout {
        repeat: Default::default(),
        film: FilmId(0),
        index: 1,
        width: Mm(200.0),
        height: Mm(200.0),
        mirrored: false,
        placed,
        stock: Default::default(),
        aids: Default::default(),
    };
    let sheets = vec![sheet];
    let finish = finished(&job, &cup, &pieces, &sheets);
    let (decals, weak, diagnostics, stages) = (Vec::new(), Vec::new(), Vec::new(), Vec::new());
    Plan {
        job,
        cup,
        decals,
        pieces,
        sheets,
        panels: Default::default(),
        stock: Vec::new(),
        named: None,
        weak,
        finish,
        diagnostics,
        stages,
        kept: Default::default(),
    }
}

/// The finish of one cup's plan.
pub fn finished(job: &Job, cup: &Cup, pieces: &[Piece], sheets: &[SheetLayout]) -> finish::Finish {
    let laid = finish::LaidFilm::of_one(pieces, sheets);
    finish::finish(job, cup, pieces, &laid, None, &mut crate::base::diag::Diagnostics::new())
}
