//! Cups and jobs for the tests of this stage.
//!
//! Imports: base, read::job, make::{cup, piece, film}.

use crate::base::diag::Diagnostics;
use crate::base::frame::Point;
use crate::base::units::{Angle, LengthUnit, Mm, Seed};
use crate::make::cup::{Cup, Frustum, fit::fit};
use crate::make::film::SheetLayout;
use crate::make::piece::{Kind, Piece};
use crate::outline::Region;
use crate::read::job::finish::FinishSpec;
use crate::read::job::*;

/// A cup of the shape of a pint glass.
pub fn pint() -> Frustum {
    Frustum { upper: Mm(279.3), lower: Mm(189.4), slant: Mm(149.9) }
}

/// What the tape says of a frustum.
pub fn cup_spec(f: Frustum) -> CupSpec {
    CupSpec {
        rings: vec![Ring::once(Mm::ZERO, f.lower), Ring::once(f.slant, f.upper)],
        wall: f.slant,
        tape: Mm(0.5),
        marks: Mm::ZERO,
        common: Mm::ZERO,
        keep_clear: KeepClear { rim: Mm(20.0), base: Mm(3.0) },
        seam: Angle::degrees(180.0),
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

/// A fitted cup.
pub fn cup(f: Frustum) -> Cup {
    fit(&cup_spec(f), &mut Diagnostics::new()).expect("a cup")
}

/// A job with one film, gold, 0.1 mm thick.
pub fn job(f: Frustum, finish: Option<FinishSpec>) -> Job {
    Job {
        title: "Harvest fair".into(),
        date: Some("2026-08-20".into()),
        unit: LengthUnit::Mm,
        seed: Seed(7),
        cup: cup_spec(f),
        films: vec![FilmSpec {
            name: "gold".into(),
            colour: Rgb([0xc4, 0x83, 0x09]),
            stock: Stock::Sheet { width: Mm(300.0), height: Mm(200.0) },
            margin: Mm(5.0),
            spacing: Mm(2.0),
            weed: Mm(0.8),
            thickness: Mm(0.1),
            take_up: 0.01,
            mirrored: false,
            grain: Grain::Free,
            sheen: Sheen::Gloss,
            cut: Default::default(),
        }],
        decals: Vec::new(),
        sheets: Vec::new(),
        motifs: Vec::new(),
        picks: Vec::new(),
        accents: Vec::new(),
        finish,
        order: None,
        print: PrintSpec::default(),
        look: Default::default(),
        written: Default::default(),
    }
}

/// So many round spots of 10 mm on one ring, and the sheet they are cut from.
pub fn spots(cup: &Cup, n: u32) -> (Vec<Piece>, Vec<SheetLayout>) {
    let piece = |i: u32| {
        let azimuth = Angle::degrees(360.0 * f64::from(i) / f64::from(n)).wrapped();
        let wall = WallPose { azimuth, slant: Mm(60.0), turn: Angle::ZERO };
        Piece {
            number: i + 1,
            kind: Kind::Spot { accent: 0 },
            name: "round".into(),
            film: FilmId(0),
            outline: Region::disc(Point::ORIGIN, Mm(5.0)),
            zone: 0,
            wall,
            pose: cup.zones[0].development.pose(wall),
            clearance: Mm(1.0),
            keys: Region::empty(),
        }
    };
    let sheet = SheetLayout {
        repeat: Default::default(),
        film: FilmId(0),
        index: 1,
        width: Mm(300.0),
        height: Mm(200.0),
        mirrored: false,
        placed: Vec::new(),
        stock: Default::default(),
        aids: Default::default(),
    };
    ((0..n).map(piece).collect(), vec![sheet])
}
